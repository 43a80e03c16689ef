//! `formkin motion`: what a movement does to a body.

use std::path::Path;

use formkin_motion::{MotionParams, Reference};
use formkin_study::choose;
use formkin_study::job::formats::movement_outputs;
use formkin_study::job::movement::{MovementJob, MovementOutcome, find_capture, movement};
use formkin_study::run::read_dimensions;
use formkin_study::summary::motion_summary;
use serde_json::json;

use crate::args::MotionArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{free, open_cohort, write};

pub(crate) fn run(args: &MotionArgs, output: &Output) -> anyhow::Result<Exit> {
    let cohort = open_cohort(&args.cohort)?;
    let capture = find_capture(&cohort, args.capture.as_deref())?;
    let template = cohort.template();
    let region = args.region.as_ref().map(|r| choose::region("--region", r, template)).transpose()?;
    anyhow::ensure!(
        args.follow.is_empty() || args.dimensions.is_some(),
        "--follow needs --dimensions with the definitions"
    );
    let job = MovementJob {
        params: MotionParams {
            removes: args.align.into(),
            region,
            weighting: choose::mode_weighting("--weights", &args.weights)?,
            modes: args.modes,
            reference_frame: Reference::Frame(args.reference),
            ..MotionParams::default()
        },
        dimensions: args.dimensions.as_deref().map(read_dimensions).transpose()?,
        follow: args.follow.clone(),
    };
    let bars = Bars::new(output);
    let made = movement(&cohort, &capture, &job, &|done, of| bars.tick("motion", done, of));
    bars.clear();
    let made = made?;
    let mut outputs = Vec::new();
    if let Some(folder) = &args.into {
        let files = movement_outputs(template.mesh.topology(), &made)?;
        let paths: Vec<_> = files.iter().map(|f| folder.join(&f.name)).collect();
        std::fs::create_dir_all(folder)?;
        free(paths.iter().map(|p| p as &Path), args.force)?;
        for (file, path) in files.iter().zip(&paths) {
            write(path, &file.bytes, args.force)?;
        }
        outputs = paths;
    }
    let mut object = motion_summary(&made);
    let topology = template.mesh.topology();
    object["items"] = json!(made.motion.frames);
    object["vertices"] = json!(topology.vertices());
    object["triangles"] = json!(topology.triangles().len());
    object["settings"] = serde_json::to_value(&job.params)?;
    object["outputs"] = json!(outputs);
    output.result(&object, text(&made))?;
    Ok(Exit::Done)
}

fn text(made: &MovementOutcome) -> String {
    let motion = &made.motion;
    let mut lines = vec![format!(
        "{}: {} frames of one person ({}) over {:.2} s; the skin moves {:.1} mm (RMS) about its mean",
        made.capture,
        motion.frames,
        made.participant,
        motion.timing.duration_s,
        motion.total_variance_mm2.sqrt()
    )];
    lines.push("mode    SD mm   explained   frequency Hz   error mm (in sample)".to_owned());
    let explained = motion.explained();
    for (k, variance) in motion.variances_mm2.iter().take(motion.modes.len()).enumerate() {
        let hz = motion.frequencies[k].as_ref().map_or_else(|| "-".to_owned(), |f| format!("{:.2}", f.hz));
        let error = motion.errors.iter().find(|e| e.modes == k + 1);
        let error = error.map_or_else(|| "-".to_owned(), |e| format!("{:.2}", e.rms_mm));
        let share = 100.0 * explained[k];
        lines.push(format!("{:>4} {:>8.2} {share:>9.1} % {hz:>14} {error:>10}", k + 1, variance.sqrt()));
    }
    for c in &made.curves {
        let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.1}"));
        lines.push(format!(
            "{} [{}]: {} to {}, range {}; {} at {}; smallest at {} %, largest at {} % of the cycle or record",
            c.dimension,
            c.unit,
            number(c.min),
            number(c.max),
            number(c.range),
            number(c.reference),
            c.reference_pose,
            number(c.phase_at_min_percent),
            number(c.phase_at_max_percent)
        ));
    }
    for finding in &motion.findings {
        lines.push(format!("noticed: {}", finding.message));
    }
    lines.join("\n")
}
