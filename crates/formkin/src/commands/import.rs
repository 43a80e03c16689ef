//! `formkin import`: mesh files into a cohort.

use formkin_cohort::{ImportParams, import};
use serde_json::json;

use crate::args::ImportArgs;
use crate::output::{Exit, Output, counted, people};
use crate::progress::Bars;

pub(crate) fn run(args: &ImportArgs, output: &Output) -> anyhow::Result<Exit> {
    let params = ImportParams {
        unit: args.frame.unit.into(),
        up: args.frame.up.into(),
        fps: args.fps,
        times: args.times.clone(),
        template: args.template.clone(),
        participants: args.participants.clone(),
        sequences: args.sequences.into(),
        resume: args.resume,
        force: args.force,
    };
    let bars = Bars::new(output);
    let report = import(&args.files, &args.into, &params, &|done, of| bars.tick("import", done, of));
    bars.clear();
    let report = report?;
    let info = &report.info;
    let mut lines = vec![format!(
        "{}: {}, {}, {} of {} in all; {} vertices, {} triangles",
        args.into.display(),
        people(info.people),
        counted(info.stills, "still pose", "still poses"),
        counted(info.sequences, "sequence", "sequences"),
        counted(info.frames, "frame", "frames"),
        info.vertices,
        info.triangles
    )];
    lines.push(format!("unit {}: {}", info.source_unit.name(), info.source_unit_reason));
    lines.push(format!("up {}: {}", info.source_up.name(), info.source_up_reason));
    if report.template_from_first_file {
        lines.push("no template was given: the first file set the triangles".to_owned());
    }
    if report.resumed_files > 0 {
        lines
            .push(format!("{} files were taken over from the import that was stopped", report.resumed_files));
    }
    for item in &report.quarantined {
        lines.push(format!("set aside: {} ({}): {}", item.item, item.source, item.reason));
    }
    for finding in &info.findings {
        lines.push(format!("{}: {}; {}", finding.kind, finding.message, finding.advice));
    }
    let object = json!({
        "cohort": args.into,
        "people": info.people,
        "items": info.items,
        "stills": info.stills,
        "sequences": info.sequences,
        "frames": info.frames,
        "quarantined": report.quarantined,
        "vertices": info.vertices,
        "triangles": info.triangles,
        "template_hash": info.template_hash,
        "template_from_first_file": report.template_from_first_file,
        "unit": info.source_unit.name(),
        "unit_reason": info.source_unit_reason,
        "up": info.source_up.name(),
        "up_reason": info.source_up_reason,
        "resumed_files": report.resumed_files,
        "findings": info.findings,
        "settings": params,
        "outputs": [args.into],
    });
    output.result(&object, lines.join("\n"))?;
    Ok(if report.quarantined.is_empty() { Exit::Done } else { Exit::Findings })
}
