//! `formkin demo`: makes the demo people and runs the whole study on them.

use std::time::Instant;

use formkin_datasets_demo::{DemoParams, generate};
use formkin_study::StudyOptions;
use serde_json::json;

use super::study;
use crate::args::DemoArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;

pub(crate) fn run(args: &DemoArgs, output: &Output) -> anyhow::Result<Exit> {
    let began = Instant::now();
    anyhow::ensure!(
        args.participants >= 3,
        "--participants must be at least 3: fewer people have no sizes to be fitted by"
    );
    let params = DemoParams {
        participants: args.participants,
        vertices: args.vertices,
        seed: args.seed,
        repeats: DemoParams::default().repeats.min(args.participants),
        force: args.force,
        ..DemoParams::default()
    };
    output.say(format!(
        "making {} invented people of {} vertices in {}",
        args.participants,
        args.vertices,
        args.into.display()
    ));
    let bars = Bars::new(output);
    let made = generate(&args.into, &params, &|done, of| bars.tick("people", done, of));
    bars.clear();
    let made = made?;
    output.say(format!("  {:<12} {:.1} s", "people", began.elapsed().as_secs_f64()));
    let options = StudyOptions { force: args.force, afresh: false };
    let result = study::run_study(&args.into.join("study.toml"), options, output)?;
    let mut object = study::object(&result);
    object["demo"] = serde_json::to_value(&made)?;
    object["seconds"] = json!(began.elapsed().as_secs_f64());
    let text = format!(
        "{}\nmade and studied in {:.0} s; all people are invented (seed {})",
        study::text(&result),
        began.elapsed().as_secs_f64(),
        args.seed
    );
    output.result(&object, text)?;
    Ok(Exit::Done)
}
