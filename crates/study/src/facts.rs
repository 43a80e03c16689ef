//! What the report says of the study as a whole.

use formkin_report::{Fact, Facts, Setting};
use serde_json::Value;

use crate::StudyFile;
use crate::deliver::Results;
use crate::job::movement::no_movement;

/// Program and version.
#[must_use]
pub fn program() -> String {
    concat!("formkin ", env!("CARGO_PKG_VERSION")).to_owned()
}

/// Now, in UTC, as `2026-01-31 09:30 UTC`.
#[must_use]
pub fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string()
}

pub(crate) fn facts(file: &StudyFile, results: &Results<'_>) -> Facts {
    let info = results.cohort.info();
    Facts {
        people: info.people,
        items: info.items,
        stills: info.stills,
        sequences: info.sequences,
        frames: info.frames,
        quarantined: info.quarantined,
        vertices: info.vertices,
        triangles: info.triangles,
        watertight: Some(results.checks.topology.watertight),
        seed: Some(file.space.seed),
        program: program(),
        made: now(),
        settings: settings(file),
    }
}

/// Every setting of the study file, section by section, with a mark on those at their default.
fn settings(file: &StudyFile) -> Vec<Setting> {
    let bare = StudyFile {
        title: String::new(),
        description: String::new(),
        input: crate::file::Input {
            meshes: Vec::new(),
            participants: None,
            template: None,
            unit: "auto".into(),
            up: "auto".into(),
            fps: None,
        },
        align: Default::default(),
        space: Default::default(),
        dimensions: None,
        predict: None,
        shape: Default::default(),
        motion: Default::default(),
        points: None,
        sizing: None,
        export: Default::default(),
    };
    let as_value = |f: &StudyFile| serde_json::to_value(f).unwrap_or_default();
    let (given, defaults) = (as_value(file), as_value(&bare));
    let mut settings = Vec::new();
    for (stage, section) in given.as_object().into_iter().flatten() {
        for (name, value) in section.as_object().into_iter().flatten() {
            settings.push(Setting {
                stage: stage.clone(),
                name: name.clone(),
                value: shown(value),
                default: defaults[stage].get(name) == Some(value),
            });
        }
    }
    settings
}

fn shown(value: &Value) -> String {
    match value {
        Value::Null => "none".into(),
        Value::String(s) => s.clone(),
        Value::Array(list) if list.is_empty() => "none".into(),
        Value::Array(list) => list.iter().map(shown).collect::<Vec<_>>().join(", "),
        other => other.to_string(),
    }
}

/// Why a study has no shape space.
pub(crate) const NO_SPACE: &str =
    "There is no shape space: it needs two shapes or more, and there is only one.";

/// What a reader must not conclude.
pub(crate) fn cautions(results: &Results<'_>) -> Vec<String> {
    let mut cautions = vec![
        "Body scans and shape coefficients are personal data, also under pseudonyms; keep and share them as the law on data protection says.".to_owned(),
    ];
    match &results.space {
        Some(space) => cautions.extend(space.notes.iter().cloned()),
        None => cautions.push(NO_SPACE.to_owned()),
    }
    if results.movements.len() < results.cohort.captures().len() {
        cautions.extend(results.cohort.captures().iter().filter_map(no_movement));
    }
    if !results.movements.is_empty() {
        cautions.push(
            "A movement is that of one person: its frames say nothing about how other people move."
                .to_owned(),
        );
    }
    cautions
}

/// Where everything came from.
pub(crate) fn provenance(results: &Results<'_>) -> Vec<Fact> {
    let info = results.cohort.info();
    vec![
        Fact::new("Program", program()),
        Fact::new("Triangles of the template (SHA-256)", info.template_hash.clone()),
        Fact::new("Unit of the files", format!("{} ({})", info.source_unit.name(), info.source_unit_reason)),
        Fact::new(
            "Height axis of the files",
            format!("{} ({})", info.source_up.name(), info.source_up_reason),
        ),
    ]
}
