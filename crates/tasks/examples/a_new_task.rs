//! A capability from beginning to end, in one file: which of the captured bodies stands tallest?
//!
//! In the workspace this is a folder of `crates/tasks/src` (`settings.rs`, `run.rs`, `deliver.rs`, `section.rs`) and one line in
//! `registry.rs`; then `formkin tallest`, the section `[tallest]` of a study file, its lines in the reference and its part of the report are there.
//!
//! ```sh
//! cargo run --release -p formkin-tasks --example a_new_task
//! ```

use std::path::PathBuf;
use std::sync::Arc;

use formkin_cohort::{Cohort, ImportParams, import};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::text as plain_text;
use formkin_table::{NumberFormat, Sheet};
use formkin_tasks::choices::Which;
use formkin_tasks::fields::{Kind, fields};
use formkin_tasks::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct TallestSources {
    /// The cohort
    #[schemars(extend("position" = 1))]
    cohort: PathBuf,
}

/// What is asked for. Each field is an option of the command, a key of `[tallest]`, and a line of the reference.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
struct TallestSettings {
    /// How many bodies to name
    #[schemars(range(min = 1, max = 100))]
    count: usize,
}

impl Default for TallestSettings {
    fn default() -> Self {
        Self { count: 3 }
    }
}

/// The tallest bodies: item and height in mm, the tallest first.
#[derive(Debug, Serialize, Deserialize)]
struct TallestOutcome {
    bodies: Vec<(String, f64)>,
}

/// Which of the captured bodies stands tallest?
struct Tallest;

impl Task for Tallest {
    const NAME: &'static str = "tallest";
    const ABOUT: &'static str = "The tallest of the captured bodies";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "CSV",
        about: "The table to write",
        required: false,
        name: "tallest.csv",
    }];
    const IN_STUDY: InStudy = InStudy::Asked;

    type Sources = TallestSources;
    type Settings = TallestSettings;
    type Inputs = Arc<Cohort>;
    type Outcome = TallestOutcome;

    fn open(sources: &TallestSources, _: &TallestSettings) -> Result<Arc<Cohort>, TaskError> {
        Ok(Arc::new(Cohort::open(&sources.cohort)?))
    }

    fn gather(
        _: &TallestSources,
        _: &TallestSettings,
        store: &Store,
    ) -> Result<Option<Arc<Cohort>>, TaskError> {
        Ok(store.cohort())
    }

    fn run(
        settings: &TallestSettings,
        cohort: &Arc<Cohort>,
        progress: Progress<'_>,
    ) -> Result<TallestOutcome, TaskError> {
        let items = Which::Stills.of(cohort)?;
        let source = cohort.source();
        let mut bodies = Vec::new();
        for (done, &i) in items.iter().enumerate() {
            let shape = source.read_shape(i)?;
            let (low, high) = shape.iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[2]), h.max(p[2])));
            bodies.push((cohort.items()[i].item.clone(), high - low));
            progress(done + 1, items.len());
        }
        bodies.sort_by(|a, b| b.1.total_cmp(&a.1));
        bodies.truncate(settings.count);
        Ok(TallestOutcome { bodies })
    }

    fn object(_: &TallestSettings, _: &Arc<Cohort>, outcome: &TallestOutcome) -> Result<Value, TaskError> {
        let body = |(item, height): &(String, f64)| json!({ "item": item, "height_mm": height });
        Ok(json!({ "bodies": outcome.bodies.iter().map(body).collect::<Vec<_>>() }))
    }

    fn deliver<'a>(
        _: &'a TallestSettings,
        _: &'a Arc<Cohort>,
        outcome: &'a TallestOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        let heights = outcome.bodies.iter().map(|b| b.1);
        let sheet = Sheet::new()
            .text("item", "The captured body", outcome.bodies.iter().map(|b| b.0.as_str()))
            .number(
                "height",
                Some("mm"),
                "From the lowest vertex to the highest",
                NumberFormat::Fixed(1),
                heights,
            );
        Ok(Delivery::new().sheet("tallest.csv", "The tallest bodies", sheet))
    }

    fn section(
        _: &TallestSettings,
        _: &Arc<Cohort>,
        outcome: &TallestOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let mut table = Table::new("The tallest bodies", vec![text("Item"), number("Height", "mm")]);
        for (item, height) in &outcome.bodies {
            table.row(vec![cell(item.clone()), cell(format!("{height:.1}"))]);
        }
        let mut body = Body::default();
        body.table(table);
        let answer =
            outcome.bodies.first().map(|(item, height)| format!("{item} stands {height:.0} mm tall"));
        Ok(vec![Section {
            answer: answer.into_iter().collect(),
            ..Section::new("tallest", "The tallest bodies").with(body)
        }])
    }
}

#[allow(clippy::print_stdout, reason = "an example is there to show something")]
fn main() -> Result<(), Box<dyn std::error::Error>> {
    // three bodies of one triangle, so that the example needs no data
    let folder = std::env::temp_dir().join(format!("formkin-tallest-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    for (name, height) in [("P1", 1650.0), ("P2", 1820.0), ("P3", 1740.0)] {
        let mesh =
            format!("v 0 0 0\nv 300 0 0\nv 0 200 {height}\nv 0 0 {height}\nf 1 2 3\nf 1 3 4\nf 2 4 3\n");
        std::fs::write(folder.join(format!("{name}.obj")), mesh)?;
    }
    let cohort = folder.join("three.cohort");
    let params =
        ImportParams { unit: formkin_cohort::Unit::Mm, up: formkin_cohort::Up::Z, ..ImportParams::default() };
    import(&[folder.join("*.obj").display().to_string()], &cohort, &params, &|_, _| ())?;

    // what the command and the study file know of it
    let known = fields::<TallestSettings>();
    assert!(matches!(known[0].kind, Kind::Whole(range) if range.most == Some(100.0)));

    // what a command does
    let settings = TallestSettings { count: 2 };
    let inputs = Tallest::open(&TallestSources { cohort }, &settings)?;
    let outcome = Tallest::run(&settings, &inputs, &|_, _| ())?;
    let sections = Tallest::section(&settings, &inputs, &outcome, &Store::new(PathBuf::new()))?;
    let delivery = Tallest::deliver(&settings, &inputs, &outcome)?;
    let csv = delivery.files[0].to_bytes("tallest.csv")?;
    println!("{}", plain_text::section(&sections[0]));
    println!("{}", Tallest::object(&settings, &inputs, &outcome)?);
    println!("{}", String::from_utf8_lossy(&csv));
    assert_eq!(outcome.bodies[0], ("P2".to_owned(), 1820.0));
    std::fs::remove_dir_all(&folder)?;
    Ok(())
}
