//! `formkin points`: what a movement does to points.

use std::path::{Path, PathBuf};

use formkin_motion::soft::compare::CompareParams;
use formkin_report::{Facts, ReportInput};
use formkin_study::job::conditions::Pair;
use formkin_study::job::point_files::{
    PointsTogether, points_outputs, points_summary, points_together, points_together_outputs,
    points_together_summary,
};
use formkin_study::job::points::{PointFile, PointSettings, PointsOutcome, measurable, points, read_points};
use formkin_study::job::signals::read_events;
use formkin_study::report_parts::points_part;
use serde_json::json;

use super::motion::comparison_lines;
use crate::args::PointsArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{axis_settings, cutoff, cycle_settings, free, make_folder, parts, write};

pub(crate) fn run(args: &PointsArgs, output: &Output) -> anyhow::Result<Exit> {
    let (files, pairs) = read(args)?;
    let events = args.cycles.events.as_deref().map(read_events).transpose()?;
    let settings = settings(args)?;
    let bars = Bars::new(output);
    let mut made = Vec::new();
    for (i, file) in files.iter().enumerate() {
        made.push(points(file, &settings, events.as_deref()));
        bars.tick("points", i + 1, files.len());
    }
    bars.clear();
    let made = made.into_iter().collect::<Result<Vec<_>, _>>()?;
    measurable(&made)?;
    let params = CompareParams { seed: args.seed, ..CompareParams::default() };
    let together = points_together(&made, &pairs, &params)?;
    let mut outputs = hand_over(args, &made, &together)?;
    if let Some(path) = &args.report {
        let page = page(&made, &together)?;
        write(path, page.as_bytes(), args.force)?;
        outputs.push(path.clone());
    }
    let mut object = points_together_summary(&together);
    object["people"] = json!(people(&made));
    object["captures"] = made.iter().map(points_summary).collect();
    object["settings"] = serde_json::to_value(&settings)?;
    object["outputs"] = json!(outputs);
    output.result(&object, text(&made, &together))?;
    Ok(Exit::Done)
}

fn people(made: &[PointsOutcome]) -> usize {
    made.iter().map(|m| m.participant.as_str()).collect::<std::collections::BTreeSet<_>>().len()
}

/// Reads the files and pairs those that are compared.
fn read(args: &PointsArgs) -> anyhow::Result<(Vec<PointFile>, Vec<Pair>)> {
    let n = args.files.len();
    anyhow::ensure!(
        args.against.is_empty() || args.against.len() == n,
        "{} files and {} with --against: give one for each, in their order",
        n,
        args.against.len()
    );
    anyhow::ensure!(args.person.iter().all(|p| !p.trim().is_empty()), "--person is blank; name who moves");
    anyhow::ensure!(
        args.person.is_empty() || args.person.len() == n,
        "{} files and {} with --person: give one for each, in their order",
        n,
        args.person.len()
    );
    let mut files: Vec<PointFile> = Vec::new();
    for (i, path) in args.files.iter().chain(&args.against).enumerate() {
        let mut file = read_points(path)?;
        if let Some(person) = args.person.get(i % n) {
            file.participant.clone_from(person);
        }
        anyhow::ensure!(
            files.iter().all(|f| f.capture != file.capture),
            "{}: another file is called `{}` too; files are told apart by their names",
            path.display(),
            file.capture
        );
        files.push(file);
    }
    let pairs = (0..args.against.len())
        .map(|i| Pair { reference: files[i].capture.clone(), garment: files[n + i].capture.clone() })
        .collect();
    Ok((files, pairs))
}

fn settings(args: &PointsArgs) -> anyhow::Result<PointSettings> {
    Ok(PointSettings {
        up: args.up.clone(),
        origin_is_missing: args.origin_is_missing,
        frame: args.frame.clone(),
        axes: axis_settings(&args.axes)?,
        tissue: args.follow_point.clone(),
        distances: args.distance.iter().map(|d| parts("--distance", d)).collect::<Result<_, _>>()?,
        angles: args.angle.iter().map(|a| parts("--angle", a)).collect::<Result<_, _>>()?,
        follow: args.follow.clone(),
        cycles: cycle_settings(&args.cycles, !args.frame.is_empty())?,
        cutoff: cutoff(&args.cycles)?,
        tissue_cutoff_hz: None,
        reference_frame: args.reference,
    })
}

/// Writes the files; those of one capture straight into the folder, of several into a folder each.
fn hand_over(
    args: &PointsArgs,
    made: &[PointsOutcome],
    together: &PointsTogether,
) -> anyhow::Result<Vec<PathBuf>> {
    let mut files: Vec<(PathBuf, Vec<u8>)> = Vec::new();
    if let Some(folder) = &args.into {
        for m in made {
            let into = if made.len() == 1 {
                folder.clone()
            } else {
                folder.join(formkin_table::file_name(&m.capture))
            };
            make_folder(&into)?;
            files.extend(points_outputs(m).into_iter().map(|f| (into.join(&f.name), f.bytes)));
        }
        let all = points_together_outputs(together)?;
        files.extend(all.into_iter().map(|f| (folder.join(&f.name), f.bytes)));
    }
    free(files.iter().map(|f| f.0.as_path()).chain(args.report.iter().map(|p| p as &Path)), args.force)?;
    for (path, bytes) in &files {
        write(path, bytes, args.force)?;
    }
    Ok(files.into_iter().map(|f| f.0).collect())
}

fn page(made: &[PointsOutcome], together: &PointsTogether) -> anyhow::Result<String> {
    let title = match made {
        [one] => one.capture.replace('_', " "),
        several => format!("{} records of points", several.len()),
    };
    Ok(formkin_report::html(&ReportInput {
        title,
        facts: Facts {
            people: people(made),
            sequences: made.len(),
            frames: made.iter().map(|m| m.timing.frames).sum(),
            program: formkin_study::facts::program(),
            made: formkin_study::facts::now(),
            ..Facts::default()
        },
        points: points_part(made, together),
        cautions: vec![
            "A movement is that of one person: its frames and cycles say nothing about how other people move."
                .to_owned(),
        ],
        ..ReportInput::default()
    })?)
}

fn text(made: &[PointsOutcome], together: &PointsTogether) -> String {
    let mut lines = Vec::new();
    for m in made {
        let rate =
            m.timing.fps.map_or_else(|| " on an uneven clock".to_owned(), |f| format!(" at {f:.1} Hz"));
        lines.push(format!(
            "{}: {} points of one person ({}), {} frames{rate} over {:.2} s, {:.1} % of places not seen; up is {}",
            m.capture,
            m.tracks.names.len(),
            m.participant,
            m.timing.frames,
            m.timing.duration_s,
            100.0 * m.missing_share,
            m.up
        ));
        if let Some(c) = &m.deep.cycles {
            let length = c.mean_s.map_or_else(String::new, |s| format!(" of {s:.3} s"));
            lines.push(format!(
                "  {} cycles{length} in {}; {} set aside",
                c.kept,
                c.found_in,
                c.cycles.len() - c.kept
            ));
        }
        for t in &m.deep.tissue {
            let Some(s) = &t.summary else { continue };
            let late =
                t.lag.and_then(|l| l.degrees).map_or_else(String::new, |d| format!(", {d:.0} degrees late"));
            lines.push(format!(
                "  {} against the body: vertical {:.1} mm, lateral {:.1}, fore-aft {:.1} (mean of {} cycles){late}",
                t.name, s.vertical_mm.mean, s.lateral_mm.mean, s.fore_aft_mm.mean, s.vertical_mm.cycles
            ));
        }
        lines.extend(m.deep.remarks.iter().map(|r| format!("  noticed: {r}")));
    }
    lines.push("signal                             range   cycles  largest at".to_owned());
    for c in together.changes.iter().take(12) {
        let at = c.phase_of_max_percent.map_or_else(|| "-".to_owned(), |p| format!("{p:.0} %"));
        lines.push(format!("{:<30} {:>9.1} {:<3} {:>4} {at:>10}", c.dimension, c.range, c.unit, c.cycles));
    }
    if together.changes.len() > 12 {
        lines.push(format!("and {} more (--into writes all)", together.changes.len() - 12));
    }
    if let Some(conditions) = &together.conditions {
        lines.extend(comparison_lines(conditions));
    }
    lines.join("\n")
}
