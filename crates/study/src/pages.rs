//! The parts of a report that no single task has: the answer at the top, what was done to whom, cautions, files.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Fact, Front, Section};
use formkin_report::format::{bytes, capital, count, counted, list, title_words};
use formkin_tasks::names::program;
use formkin_tasks::sentence::sentence;
use serde_json::Value;

use crate::graph::Run;
use crate::outputs::PROVENANCE;

/// The sections that stand before what could not be answered.
pub(crate) const BEFORE_UNANSWERED: [&str; 11] = [
    "data",
    "space",
    "modes",
    "quality",
    "predicted",
    "groups",
    "slopes",
    "sides",
    "people-map",
    "drawn",
    "covariance",
];

/// The answer at the top: that of a task, or what was recorded; with a few figures.
pub(crate) fn front(run: &Run<'_>, of_task: Option<Front>) -> Front {
    let mut facts = Vec::new();
    let mut recorded = Front { question: "What is in this study?".to_owned(), ..Front::default() };
    if let Some(cohort) = run.store.cohort() {
        let info = cohort.info();
        facts.push(Fact::new(if info.people == 1 { "person" } else { "people" }, count(info.people)));
        if info.stills > 0 {
            facts.push(Fact::new("still poses", count(info.stills)));
        }
        if info.frames > 0 {
            let name = format!("frames, in {}", counted(info.sequences, "sequence", "sequences"));
            facts.push(Fact::new(name, count(info.frames)));
        }
        facts.push(Fact::new("vertices of every shape", count(info.vertices)));
        let people = counted(info.people, "person", "people");
        if info.sequences == 0 {
            recorded.lead = people;
            recorded.sentence = format!("in {}.", counted(info.items, "captured shape", "captured shapes"));
        } else {
            recorded.question = "What was recorded?".to_owned();
            recorded.lead = counted(info.sequences, "movement", "movements");
            recorded.sentence = format!("of {people}, in {}.", counted(info.frames, "frame", "frames"));
            recorded.qualify = "Frames of one person say nothing about how people differ.".to_owned();
        }
    }
    let mut front = of_task.unwrap_or(recorded);
    facts.append(&mut front.facts);
    front.facts = facts;
    front
}

/// What was done, and to whom.
pub(crate) fn study(run: &Run<'_>) -> Section {
    let mut body = Body::default();
    if let Some(cohort) = run.store.cohort() {
        let info = cohort.info();
        let mut captured = Vec::new();
        if info.stills > 0 {
            captured.push(counted(info.stills, "still pose", "still poses"));
        }
        if info.sequences > 0 {
            captured.push(format!(
                "{} of {}",
                counted(info.sequences, "sequence", "sequences"),
                counted(info.frames, "frame in all", "frames in all")
            ));
        }
        let mut lead = format!("{} took part", counted(info.people, "person", "people"));
        match captured.is_empty() {
            true => lead.push('.'),
            false => lead.push_str(&format!(", captured in {}.", list(&captured))),
        }
        if info.frames > 0 {
            lead.push_str(
                " Frames are never counted as people: wherever this page says people, it means people.",
            );
        }
        body.paragraph(&lead);
        let closed = cohort.template().mesh.topology().summary().watertight;
        body.paragraph(&format!(
            "Every shape has the same {} vertices and {} triangles, so that a vertex is the same place on everyone. {}",
            count(info.vertices),
            count(info.triangles),
            if closed { "The surface is closed." } else { "The surface is open, so volumes are not given." }
        ));
        if info.quarantined > 0 {
            body.paragraph(&format!(
                "{} set aside at import and not used; the checks below say why.",
                counted(info.quarantined, "item was", "items were")
            ));
        }
    }
    settings(run, &mut body);
    Section::new("study", "What was done, and to whom").with(body)
}

fn settings(run: &Run<'_>, body: &mut Body) {
    let all = run.file.each_setting();
    let mut table = Table::unnamed("Settings", vec![text("Setting"), text("Value"), text("Chosen by")]);
    let mut section = "";
    for (of, key, value, default) in &all {
        if of != section {
            section = of;
            table.group(title_words(section, None));
        }
        let by = || if *default { cell("default").faint() } else { cell("the study") };
        for (key, value) in flat(key, value) {
            table.row(vec![cell(label(&key)), cell(shown(&value)), by()]);
        }
    }
    let mut inside = Body::default();
    inside.table(table);
    let defaults = all.iter().filter(|s| s.3).count();
    let settings = counted(all.len(), "setting", "settings");
    body.folded(&format!("{settings}, {defaults} of them at the default"), inside);
}

/// The settings of a table inside a section one by one, each under the name of its table.
fn flat(key: &str, value: &Value) -> Vec<(String, Value)> {
    match value {
        Value::Object(inner) if !inner.is_empty() => {
            inner.iter().flat_map(|(k, v)| flat(k, v)).map(|(k, v)| (format!("{key}, {k}"), v)).collect()
        }
        other => vec![(key.to_owned(), other.clone())],
    }
}

/// The name of a key in words, its unit in brackets.
fn label(key: &str) -> String {
    const UNITS: [(&str, &str); 6] = [
        ("_mm", "mm"),
        ("_deg", "degrees"),
        ("_hz", "Hz"),
        ("_m", "m"),
        ("_s", "s"),
        ("fps", "frames a second"),
    ];
    let bare = key.replace("glb", "glTF");
    match UNITS.iter().find(|(end, _)| key.ends_with(end)) {
        Some((end, unit)) if key != *end => {
            format!("{} ({unit})", title_words(&bare[..bare.len() - end.len()], None))
        }
        Some((_, unit)) => title_words(unit, None),
        None => title_words(&bare, None),
    }
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

/// What not to conclude, each caution once.
pub(crate) fn cautions(of_tasks: &[String]) -> Section {
    let mut all = vec![
        "Body scans and shape coefficients are personal data, also under pseudonyms; keep and share them as the law on data protection says.".to_owned(),
    ];
    for caution in of_tasks {
        let caution = sentence(caution);
        if !all.contains(&caution) {
            all.push(caution);
        }
    }
    let mut body = Body::default();
    body.cautions(&all);
    Section::new("cautions", "What not to conclude").with(body)
}

/// The files beside the report and where everything came from.
pub(crate) fn files(run: &Run<'_>) -> Section {
    let mut body = Body::default();
    let mut all: Vec<(String, String, Option<u64>)> =
        run.outputs.written().iter().map(|w| (w.path.clone(), w.what.clone(), Some(w.bytes))).collect();
    let what = "What was made from what: settings, inputs and outputs with their hashes";
    all.push((PROVENANCE.into(), what.into(), None));
    let (deeper, beside): (Vec<_>, Vec<_>) = all.iter().partition(|(path, ..)| path.contains('/'));
    body.table(file_table("Written beside this page", &beside));
    let mut folders: Vec<&str> = deeper.iter().filter_map(|(path, ..)| path.split('/').next()).collect();
    folders.sort_unstable();
    folders.dedup();
    for folder in folders {
        let inside: Vec<_> =
            deeper.iter().copied().filter(|(path, ..)| path.split('/').next() == Some(folder)).collect();
        let mut list = Body::default();
        list.table(file_table("", &inside));
        body.folded(&format!("{} in the folder {folder}", counted(inside.len(), "file", "files")), list);
    }
    let mut table = Table::unnamed("Provenance", vec![text("What"), text("Value")]);
    let mut fact = |name: &str, value: String| {
        table.row(vec![cell(title_words(name, None)), cell(value).value()]);
    };
    fact("Program", program());
    if let Some(cohort) = run.store.cohort() {
        let info = cohort.info();
        fact("Triangles of the template (SHA-256)", info.template_hash.clone());
        fact("Unit of the files", format!("{} ({})", info.source_unit.name(), info.source_unit_reason));
        fact("Height axis of the files", format!("{} ({})", info.source_up.name(), info.source_up_reason));
    }
    let mut inside = Body::default();
    inside.table(table);
    body.folded("Provenance: versions, seeds and hashes", inside);
    Section::new("files", "Files, and where they came from").with(body)
}

type File = (String, String, Option<u64>);

fn file_table(caption: &str, files: &[&File]) -> Table {
    let mut columns = vec![text("File"), text("What is in it")];
    let sizes = files.iter().any(|f| f.2.is_some());
    if sizes {
        columns.push(number("Size", ""));
    }
    let mut table =
        if caption.is_empty() { Table::unnamed("Files", columns) } else { Table::new(caption, columns) };
    for (path, what, size) in files {
        let mut row = vec![cell(path.clone()), cell(capital(what)).prose()];
        if sizes {
            row.push(cell(size.map_or_else(String::new, bytes)));
        }
        table.row(row);
    }
    table
}
