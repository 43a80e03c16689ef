//! `formkin import`: mesh files into a cohort.

use std::path::{Path, PathBuf};

use clap::{Arg, ArgAction, ArgMatches, Command};
use formkin_cohort::{ImportParams, ImportReport, import};
use formkin_report::format::counted;
use formkin_tasks::fields::fields;
use formkin_tasks::import::{ImportSettings, ImportSources};
use serde_json::json;

use crate::options::{args, given};
use crate::output::{Exit, Output};
use crate::progress::Bars;

/// The name of the command.
pub(crate) const NAME: &str = "import";

/// The command: the fields of the section `[import]` of a study file, and where the cohort goes.
pub(crate) fn command() -> Command {
    let path = |name: &'static str| Arg::new(name).long(name).value_parser(clap::value_parser!(PathBuf));
    let flag = |name: &'static str| Arg::new(name).long(name).action(ArgAction::SetTrue);
    Command::new(NAME)
        .about("Mesh files into a cohort: one folder that every other command reads")
        .args(args(&fields::<ImportSources>()))
        .args(args(&fields::<ImportSettings>()))
        .arg(path("into").value_name("C.cohort").required(true).help("The cohort folder to make"))
        .arg(flag("resume").help("Go on with an import that was stopped"))
        .arg(flag("force").help("Replace a cohort of that name"))
        .after_help(
            "Examples:
  formkin import 'scans/**/*.obj' --into crew.cohort --participants people.csv
  formkin import walk/ --into walk.cohort --fps 90 --unit m --up y
  formkin import 'scans/*.ply' --into crew.cohort --resume       after an import that was stopped",
        )
}

pub(crate) fn run(matches: &ArgMatches, output: &Output) -> anyhow::Result<Exit> {
    let sources: ImportSources = given(&fields::<ImportSources>(), matches)?;
    let settings: ImportSettings = given(&fields::<ImportSettings>(), matches)?;
    let into = matches.get_one::<PathBuf>("into").cloned().unwrap_or_default();
    let here = Path::new("");
    let params = ImportParams {
        resume: matches.get_flag("resume"),
        force: matches.get_flag("force"),
        ..settings.params(&sources, here)
    };
    let bars = Bars::new(output);
    let report = import(&sources.patterns(here), &into, &params, &|done, of| bars.tick(NAME, done, of));
    bars.clear();
    let report = report?;
    let info = &report.info;
    let object = json!({
        "cohort": into,
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
        "outputs": [into],
    });
    output.result(&object, lines(&into, &report).join("\n"))?;
    Ok(if report.quarantined.is_empty() { Exit::Done } else { Exit::Findings })
}

fn lines(into: &Path, report: &ImportReport) -> Vec<String> {
    let info = &report.info;
    let mut lines = vec![format!(
        "{}: {}, {}, {} of {} in all; {} vertices, {} triangles",
        into.display(),
        counted(info.people, "person", "people"),
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
    lines
}
