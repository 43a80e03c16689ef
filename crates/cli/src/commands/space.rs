//! `formkin space`: align the bodies of a cohort and build their shape space.

use formkin_align::AlignParams;
use formkin_shape::{Space, SpaceParams};
use formkin_study::choose;
use formkin_study::job::formats::{coefficients_parquet, space_glb};
use formkin_study::job::space::{SpaceJob, fit_space};
use serde_json::{Value, json};

use crate::args::SpaceArgs;
use crate::output::{Exit, Output, people};
use crate::progress::Bars;
use crate::resolve::{free, open_cohort, write};

pub(crate) fn run(args: &SpaceArgs, output: &Output) -> anyhow::Result<Exit> {
    let paths = [Some(&args.into), args.glb.as_ref(), args.coefficients.as_ref()];
    free(paths.into_iter().flatten().map(AsRef::as_ref), args.force)?;
    let cohort = open_cohort(&args.cohort)?;
    let job = SpaceJob {
        params: SpaceParams {
            align: AlignParams {
                removes: args.align.into(),
                weighting: choose::weighting("--weights", &args.weights, cohort.template())?,
                ..AlignParams::default()
            },
            max_modes: Some(args.modes),
            folds: args.folds,
            target_mm: args.target_mm,
            seed: args.seed,
            cross_validate: !args.no_cross_validation,
        },
        items: args.items.into(),
    };
    let bars = Bars::new(output);
    let made = fit_space(&cohort, &job, &|done, of| bars.tick("space", done, of));
    bars.clear();
    let made = made?;
    let space = &made.fitted.space;
    let mut outputs = vec![&args.into];
    write(&args.into, &space.to_safetensors(), args.force)?;
    if let Some(path) = &args.glb {
        write(path, &space_glb(space, 5)?, args.force)?;
        outputs.push(path);
    }
    if let Some(path) = &args.coefficients {
        let bytes = coefficients_parquet(&cohort, &made.items, &made.fitted.coefficients, space)?;
        write(path, &bytes, args.force)?;
        outputs.push(path);
    }
    let alignment = &made.fitted.alignment;
    let mut object = facts(space);
    object["sum_of_squares_mm2"] = json!(alignment.sum_of_squares_mm2);
    object["alignment_rounds"] = json!(alignment.rounds);
    object["notes"] = json!(made.notes);
    object["settings"] = settings(&job)?;
    object["outputs"] = json!(outputs);
    let mut text = told(space);
    text.extend(made.notes.iter().map(|n| format!("note: {n}")));
    text.push(format!("written: {}", args.into.display()));
    output.result(&object, text.join("\n"))?;
    Ok(Exit::Done)
}

/// The settings; a region is told by its number of vertices.
fn settings(job: &SpaceJob) -> anyhow::Result<Value> {
    let mut settings = serde_json::to_value(job)?;
    if let formkin_align::Weighting::Region { vertices } = &job.params.align.weighting {
        settings["params"]["align"]["weighting"] = json!({ "region_vertices": vertices.len() });
    }
    Ok(settings)
}

/// What is in a space, for programs.
pub(super) fn facts(space: &Space) -> Value {
    json!({
        "people": space.people,
        "items": space.items,
        "vertices": space.mean.len(),
        "triangles": space.triangles.len(),
        "modes": space.modes.len(),
        "removes": space.removes,
        "weighting": space.weighting,
        "variances_mm2": space.variances_mm2,
        "total_variance_mm2": space.total_variance_mm2,
        "explained": space.explained(),
        "cross_validation": space.cross_validation,
        "cross_validation_refused": space.cross_validation_refused,
        "template_hash": space.template_hash,
        "seed": space.seed,
    })
}

/// What is in a space, for people.
pub(super) fn told(space: &Space) -> Vec<String> {
    let mut lines = vec![
        format!(
            "{}, {} items; {} vertices, {} triangles; {} weights",
            people(space.people),
            space.items,
            space.mean.len(),
            space.triangles.len(),
            space.weighting
        ),
        format!(
            "a surface point lies {:.1} mm (RMS) from the mean; {} of {} modes kept",
            space.total_variance_mm2.sqrt(),
            space.modes.len(),
            space.variances_mm2.len()
        ),
    ];
    let explained = space.explained();
    let held_out = |modes: usize| {
        space.cross_validation.as_ref().and_then(|c| c.errors.iter().find(|e| e.modes == modes))
    };
    lines.push("mode    SD mm   explained   held-out error mm".to_owned());
    for (k, variance) in space.variances_mm2.iter().take(10.min(space.modes.len())).enumerate() {
        let error = held_out(k + 1).map_or_else(|| "-".to_owned(), |e| format!("{:.2}", e.rms_mm));
        lines.push(format!(
            "{:>4} {:>8.2} {:>9.1} % {error:>12}",
            k + 1,
            variance.sqrt(),
            100.0 * explained[k]
        ));
    }
    match (&space.cross_validation, &space.cross_validation_refused) {
        (Some(c), _) => lines.push(match c.chosen_modes {
            Some(modes) => format!("{modes} modes are enough: {}", c.rule),
            None => format!("no number of modes is enough: {}", c.rule),
        }),
        (None, Some(reason)) => lines.push(format!("no held-out error: {reason}")),
        (None, None) => {}
    }
    lines
}
