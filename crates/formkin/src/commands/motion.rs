//! `formkin motion`: what a movement does to a body.

use std::path::Path;

use formkin_cohort::Capture;
use formkin_motion::cycles::given::events_of;
use formkin_motion::dmd::DynamicParams;
use formkin_motion::{MotionParams, Reference};
use formkin_tasks::choose;
use formkin_tasks::job::condition_files::{component_files, condition_files};
use formkin_tasks::job::conditions::{Conditions, Pair};
use formkin_tasks::job::deep::{DeepSettings, PostureSettings, StrainSettings, TissueSettings};
use formkin_tasks::job::formats::movement_outputs;
use formkin_tasks::job::movement::{MovementJob, MovementOutcome, find_capture, movement, times};
use formkin_tasks::job::point_files::components_summary;
use formkin_tasks::job::signals::read_events;
use formkin_tasks::job::together::together;
use formkin_tasks::reading::read_dimensions;
use formkin_tasks::summaries::motion_summary;
use serde_json::json;

use crate::args::MotionArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{axis_settings, cutoff, cycle_settings, free, make_folder, open_cohort, ready, write};

pub(crate) fn run(args: &MotionArgs, output: &Output) -> anyhow::Result<Exit> {
    let cohort = open_cohort(&args.cohort)?;
    let capture = find_capture(&cohort, args.capture.as_deref())?;
    if let Some(into) = &args.into {
        ready(into, &["course.csv"], args.force)?;
    }
    let template = cohort.template();
    let region = args.region.as_ref().map(|r| choose::region("--region", r, template)).transpose()?;
    anyhow::ensure!(
        args.follow.is_empty() || args.dimensions.is_some(),
        "--follow needs --dimensions with the definitions"
    );
    let mut job = MovementJob {
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
        deep: deep(args)?,
    };
    let events = args.cycles.events.as_deref().map(read_events).transpose()?;
    let given = |job: &mut MovementJob, capture: &Capture| -> anyhow::Result<()> {
        if let Some(events) = &events {
            let at_s = events_of(&capture.id, events, &times(&cohort, capture)?)?;
            job.deep.cycles = job.deep.cycles.take().map(|c| c.given(at_s));
        }
        Ok(())
    };
    given(&mut job, &capture)?;
    let bars = Bars::new(output);
    let tick = |done, of| bars.tick("motion", done, of);
    let made = movement(&cohort, &capture, &job, &tick);
    let compared = match (&made, &args.against) {
        (Ok(_), Some(id)) => {
            let reference = find_capture(&cohort, Some(id))?;
            // what is compared is soft tissue alone
            let settings = DeepSettings { strain: None, dynamics: None, posture: None, ..job.deep.clone() };
            let mut job = MovementJob { deep: settings, ..job.clone() };
            given(&mut job, &reference)?;
            Some(movement(&cohort, &reference, &job, &tick))
        }
        _ => None,
    };
    bars.clear();
    let made = made?;
    let (movements, pairs) = match compared.transpose()? {
        Some(reference) => {
            let pair = Pair { reference: reference.capture.clone(), garment: made.capture.clone() };
            (vec![reference, made.clone()], vec![pair])
        }
        None => (vec![made.clone()], Vec::new()),
    };
    let together = together(&cohort, &movements, &pairs, None, args.seed, &|_, _| {})?;
    let conditions = together.conditions;
    let mut outputs = Vec::new();
    if let Some(folder) = &args.into {
        let topology = template.mesh.topology();
        let mut files = movement_outputs(topology, &made)?;
        files.extend(component_files(&together.components));
        if let Some(conditions) = &conditions {
            files.extend(condition_files(conditions, Some((topology, &made.motion.mean)))?);
        }
        let paths: Vec<_> = files.iter().map(|f| folder.join(&f.name)).collect();
        make_folder(folder)?;
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
    object["deep_settings"] = serde_json::to_value(&job.deep)?;
    object["outputs"] = json!(outputs);
    object["components"] = components_summary(&together.components);
    object["comparisons"] = json!(conditions.as_ref().map(|c| &c.comparisons));
    let mut lines = text(&made);
    for told in deep_lines(&made).into_iter().chain(conditions.iter().flat_map(comparison_lines)) {
        lines.push('\n');
        lines.push_str(&told);
    }
    output.result(&object, lines)?;
    Ok(Exit::Done)
}

fn deep(args: &MotionArgs) -> anyhow::Result<DeepSettings> {
    // soft tissue is described by its cycles: without a signal named, the height of its frame has them
    let cycles = cycle_settings(&args.cycles, args.frame.is_some())?;
    anyhow::ensure!(
        args.smoothing >= 0.0 && args.smoothing.is_finite(),
        "--smoothing is {}; it must be a number of mm, 0 or more",
        args.smoothing
    );
    Ok(DeepSettings {
        cycles,
        cutoff: cutoff(&args.cycles)?,
        landmarks: args.landmarks,
        tissue: args
            .frame
            .as_ref()
            .map(|frame| {
                Ok::<_, anyhow::Error>(TissueSettings {
                    frame: frame.clone(),
                    regions: args.tissue.clone(),
                    cutoff_hz: None,
                    axes: axis_settings(&args.axes)?,
                })
            })
            .transpose()?,
        strain: args
            .strain
            .then(|| StrainSettings { smoothing_mm: args.smoothing, ..StrainSettings::default() }),
        dynamics: args.dynamics.then(DynamicParams::default),
        posture: (args.posture || args.unposed)
            .then(|| PostureSettings { leave_out: args.tissue.clone(), unposed: args.unposed }),
    })
}

fn deep_lines(made: &MovementOutcome) -> Vec<String> {
    let deep = &made.deep;
    let mut lines = Vec::new();
    if let Some(c) = &deep.cycles {
        let aside = c.cycles.len() - c.kept;
        let length = c.mean_s.map_or_else(String::new, |s| format!(" of {s:.3} s"));
        lines.push(format!("{} cycles{length} in {}; {aside} set aside", c.kept, c.found_in));
    }
    if let Some(held) = &deep.cycles_left_out
        && let Some(e) = held.errors.last()
    {
        lines.push(format!(
            "{} cycles left out in turn: {:.2} mm (RMS) with {} modes of the others",
            held.cycles, e.rms_mm, e.modes
        ));
    }
    for t in &deep.tissue {
        if let Some(s) = &t.summary {
            let late =
                t.lag.and_then(|l| l.degrees).map_or_else(String::new, |d| format!(", {d:.0} degrees late"));
            lines.push(format!(
                "{} against the body: vertical {:.1} mm, lateral {:.1}, fore-aft {:.1} (mean of {} cycles){late}",
                t.name, s.vertical_mm.mean, s.lateral_mm.mean, s.fore_aft_mm.mean, s.vertical_mm.cycles
            ));
        }
    }
    if let Some(s) = &deep.strain {
        let floor = s.noise_floor.map_or_else(String::new, |n| format!("; noise floor {:.2} %", 100.0 * n));
        lines.push(format!("{}{floor}", s.name));
        let mut regions: Vec<_> = s.regions.iter().filter(|r| r.triangles > 0).collect();
        regions.sort_by(|a, b| b.peak.total_cmp(&a.peak));
        for r in regions.iter().take(5) {
            lines.push(format!(
                "  {}: mean stretch up to {:.1} % in frame {}",
                r.region,
                100.0 * r.peak,
                r.peak_frame
            ));
        }
    }
    if let Some(d) = &deep.dynamics {
        for m in d.modes.iter().take(4) {
            lines.push(format!(
                "dynamic mode: {:.2} Hz, growth {:+.3} 1/s, {:.1} mm",
                m.hz, m.growth_per_s, m.rms_mm
            ));
        }
    }
    if let Some(p) = &deep.posture {
        lines.push(format!(
            "posture from {}: unposed bodies agree within {:.1} mm (RMS)",
            p.rest, p.posture.unposed_rms_mm
        ));
    }
    lines.extend(deep.remarks.iter().map(|r| format!("noticed: {r}")));
    lines
}

pub(crate) fn comparison_lines(conditions: &Conditions) -> Vec<String> {
    conditions
        .comparisons
        .iter()
        .flat_map(|c| {
            c.persons.iter().map(|p| {
                let interval =
                    p.interval_percent.map_or_else(String::new, |(l, h)| format!(" ({l:.1} to {h:.1})"));
                let caution = p.caution.as_ref().map_or_else(String::new, |c| format!("; {c}"));
                format!(
                    "{}: {:.1} against {:.1} without, reduction {:.1} %{interval}{caution}",
                    c.measure, p.garment, p.reference, p.reduction_percent
                )
            })
        })
        .collect()
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
