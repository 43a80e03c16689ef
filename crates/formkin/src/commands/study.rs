//! `formkin study`: a whole study from one file.

use std::path::Path;

use formkin_study::{Study, StudyOptions, StudyResult};
use serde_json::{Value, json};

use crate::args::StudyArgs;
use crate::output::{Exit, Output, counted};
use crate::progress::Bars;

pub(crate) fn run(args: &StudyArgs, output: &Output) -> anyhow::Result<Exit> {
    let options = StudyOptions { force: args.force, afresh: args.afresh };
    let result = run_study(&args.study, options, output)?;
    output.result(&object(&result), text(&result))?;
    Ok(Exit::Done)
}

/// Runs a study and tells what happens.
pub(crate) fn run_study(path: &Path, options: StudyOptions, output: &Output) -> anyhow::Result<StudyResult> {
    let study = Study::load(path)?;
    output.say(format!("{}: {}", path.display(), study.file().title));
    let bars = Bars::new(output);
    let result = study.run(options, &|step| bars.step(step));
    bars.clear();
    Ok(result?)
}

/// `summary.json` with the paths of all outputs and the stages.
pub(crate) fn object(result: &StudyResult) -> Value {
    let mut object = result.summary.clone();
    object["report"] = json!(result.report);
    object["outputs"] = json!(result.outputs);
    object["stages"] = json!(result.stages);
    object
}

/// The answer in a few lines, held-out coverage first.
pub(crate) fn text(result: &StudyResult) -> String {
    let s = &result.summary;
    let count = |key: &str, one: &str, several: &str| {
        s[key].as_u64().map(|n| if n == 1 { format!("1 {one}") } else { format!("{n} {several}") })
    };
    let mut captured: Vec<String> = [
        count("people", "person", "people"),
        count("stills", "still pose", "still poses"),
        count("sequences", "sequence", "sequences"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if let (Some(last), Some(frames)) = (captured.last_mut(), count("frames", "frame", "frames")) {
        last.push_str(&format!(" of {frames} in all"));
    }
    // a study of points or of a table alone has no bodies to count
    let mut lines: Vec<String> =
        Some(captured.join(", ")).filter(|line| !line.is_empty()).into_iter().collect();
    if let Some(findings) = s["findings"].as_array() {
        lines.push(match findings.len() {
            0 => "no findings in the data".to_owned(),
            n => counted(n, "finding in the data", "findings in the data"),
        });
    }
    if let (Some(held_out), Some(in_sample)) =
        (s["coverage_held_out"].as_f64(), s["coverage_in_sample"].as_f64())
    {
        let interval: Vec<f64> = s["coverage_held_out_interval"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_f64)
            .collect();
        let range = match interval[..] {
            [low, high] => format!(" (95 % interval {:.0} to {:.0} %)", 100.0 * low, 100.0 * high),
            _ => String::new(),
        };
        let sizes = s["sizes"].as_array().map_or(0, Vec::len);
        lines.push(if s["given"] == Value::Bool(true) {
            format!("{sizes} given sizes fit {:.0} % of these people{range}", 100.0 * held_out)
        } else {
            format!(
                "{sizes} sizes fit {:.0} % of people they were not made from{range}; {:.0} % of those they were made from",
                100.0 * held_out,
                100.0 * in_sample
            )
        });
    }
    lines.push(format!("report: {}", result.report.display()));
    lines.join("\n")
}
