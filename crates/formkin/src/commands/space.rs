//! `formkin space`: align the bodies of a cohort and build their shape space.

use formkin_align::AlignParams;
use formkin_shape::criteria::stability::STABLE;
use formkin_shape::merge::LOST;
use formkin_shape::predict::PredictionErrors;
use formkin_shape::{CriteriaParams, ModeCriteria, Quality, QualityParams, Space, SpaceParams};
use formkin_tasks::choices::Which;
use formkin_tasks::choose;
use formkin_tasks::job::describe::{DescribeJob, describe, known};
use formkin_tasks::job::formats::{coefficients_parquet, space_glb};
use formkin_tasks::job::space::{SpaceJob, fit_space};
use formkin_tasks::measure::{MeasureSettings, measure};
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
        criteria: (!args.no_criteria)
            .then(|| CriteriaParams { seed: args.seed, ..CriteriaParams::default() }),
        quality: args.quality.then(|| QualityParams { seed: args.seed, ..QualityParams::default() }),
    };
    let dimensions = args.dimensions.as_deref().map(formkin_tasks::reading::read_dimensions).transpose()?;
    let bars = Bars::new(output);
    let made = fit_space(&cohort, &job, &|done, of| bars.tick("space", done, of));
    let mut made = match made {
        Ok(made) => made,
        Err(e) => {
            bars.clear();
            return Err(e.into());
        }
    };
    if let Some(dimensions) = dimensions {
        let which = if job.items == formkin_tasks::choose::Items::All { Which::All } else { Which::Stills };
        let taking = MeasureSettings { items: Some(which), ..MeasureSettings::default() };
        let measured = measure(&taking, &cohort, &dimensions, &|done, of| bars.tick("measure", done, of));
        bars.clear();
        let from = DescribeJob { from: args.predict_from.clone() };
        let notes = describe(&cohort, &mut made, &measured?.table, &dimensions, &from)?;
        made.notes.extend(notes);
    }
    bars.clear();
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
        "criteria": space.criteria,
        "criteria_caution": space.criteria_caution(),
        "quality": space.quality,
        "unstable_modes": space.criteria.as_ref().map(unstable),
        "stability_asked_modes": space.stability_asked_modes(),
        "predicts_from": space.regression.as_ref().map(|r| r.variables.iter().map(|v| &v.name).collect::<Vec<_>>()),
        "prediction_people": space.regression.as_ref().map(|r| r.people),
        "prediction_errors": space.regression.as_ref().and_then(|r| r.errors.as_ref()),
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
    lines.push("mode    SD mm   explained   held-out error mm   stable".to_owned());
    for (k, variance) in space.variances_mm2.iter().take(10.min(space.modes.len())).enumerate() {
        let error = held_out(k + 1).map_or_else(|| "-".to_owned(), |e| format!("{:.2}", e.rms_mm));
        let found = space.criteria.as_ref().and_then(|c| c.stability.get(k));
        let stable = found.map_or_else(
            || "not asked".to_owned(),
            |s| {
                let group = if s.group.0 == s.group.1 {
                    String::new()
                } else {
                    format!(
                        " (modes {} to {} are near equal: {:.2} as a group)",
                        s.group.0, s.group.1, s.group_cos
                    )
                };
                format!("{} {:.2}{group}", if s.stable { "yes" } else { "NO " }, s.cos)
            },
        );
        let line = format!(
            "{:>4} {:>8.2} {:>9.1} % {error:>12}          {stable}",
            k + 1,
            variance.sqrt(),
            100.0 * explained[k]
        );
        lines.push(line.trim_end().to_owned());
    }
    match (&space.cross_validation, &space.cross_validation_refused) {
        (Some(c), _) => lines.push(match c.chosen_modes {
            Some(modes) => format!("{modes} modes are enough: {}", c.rule),
            None => format!("no number of modes is enough: {}", c.rule),
        }),
        (None, Some(reason)) => lines.push(format!("no held-out error: {reason}")),
        (None, None) => {}
    }
    lines.extend(space.criteria.iter().flat_map(criteria_told));
    lines.extend(space.criteria.as_ref().map(|c| drawn(space, c)));
    lines.extend(space.criteria_caution().map(|caution| format!("caution: {caution}")));
    lines.extend(space.quality.iter().flat_map(quality_told));
    if space.is_merged() {
        lines.extend(LOST.iter().map(|lost| format!("lost in merging: {lost}")));
    }
    if let Some(moments) = &space.regression {
        let names = known(moments);
        let count = names.split(", ").count();
        let first: Vec<&str> = names.split(", ").take(6).collect();
        let more =
            if count > first.len() { format!(" and {} more", count - first.len()) } else { String::new() };
        lines.push(format!(
            "can predict bodies, from {} people, by {}{more}",
            moments.people,
            first.join(", ")
        ));
        lines.extend(moments.errors.iter().flat_map(prediction_told));
    }
    lines
}

/// The modes, from 1, that must not be named.
fn unstable(criteria: &ModeCriteria) -> Vec<usize> {
    criteria.stability.iter().filter(|s| !s.stable).map(|s| s.mode).collect()
}

/// How nulls and draws were made, and of which modes stability is known.
fn drawn(space: &Space, criteria: &ModeCriteria) -> String {
    let (asked, kept) = (space.stability_asked_modes(), space.modes.len());
    let draws = if asked == 0 {
        format!("stability was asked of none of {kept} modes")
    } else {
        format!(
            "stability is of {} draws of people, for the first {asked} of {kept} modes{}: from a median |cos| of {STABLE} on a mode is stable",
            criteria.draws,
            if asked < kept { " (of the others it is not known)" } else { "" }
        )
    };
    format!("parallel analysis is of {} nulls; {draws}; seed {}", criteria.nulls, criteria.seed)
}

/// Variances of modes that stand apart, with their intervals.
fn own_variances(criteria: &ModeCriteria) -> Option<String> {
    let told: Vec<String> = criteria
        .variances
        .iter()
        .filter_map(|v| {
            let (low, high) = v.interval_95_mm2?;
            Some(format!("{}: {:.3} ({low:.3} to {high:.3})", v.mode, v.corrected_mm2?))
        })
        .take(5)
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "variances without what noise lends them, mm2, with 95 % intervals, by mode: {}",
            told.join("; ")
        )
    })
}

fn criteria_told(criteria: &ModeCriteria) -> Vec<String> {
    let mut lines = vec!["how many modes:".to_owned()];
    for c in &criteria.criteria {
        let modes = c.modes.map_or_else(|| "-".to_owned(), |m| m.to_string());
        let primary = if c.name == criteria.primary { "  <- primary" } else { "" };
        lines.push(format!("{:>5}  {}{primary}", modes, c.name.replace('_', " ")));
    }
    lines.push(format!("the primary one is {}: {}", criteria.primary.replace('_', " "), criteria.reason));
    if let Some(e) = &criteria.vertex_errors {
        lines.push(format!(
            "vertices of people held out, {} modes: RMS {:.2}, 95th percentile {:.2}, largest {:.1} mm",
            e.modes, e.rms_mm, e.p95_mm, e.max_mm
        ));
        let mut regions: Vec<_> = e.regions.iter().collect();
        regions.sort_by(|a, b| b.rms_mm.total_cmp(&a.rms_mm));
        for r in regions.iter().take(3) {
            lines.push(format!(
                "  {}: RMS {:.2}, 95th percentile {:.2}, largest {:.1} mm",
                r.region, r.rms_mm, r.p95_mm, r.max_mm
            ));
        }
    }
    lines.extend(own_variances(criteria));
    let unstable = unstable(criteria);
    if !unstable.is_empty() {
        let list: Vec<String> = unstable.iter().map(usize::to_string).collect();
        lines.push(format!(
            "not stable under resampling of people, and not to be named: modes {}",
            list.join(", ")
        ));
    }
    lines
}

fn prediction_told(errors: &PredictionErrors) -> Vec<String> {
    let mut lines = vec![format!("predicted from {}, people held out:", errors.given.join(", "))];
    for m in &errors.methods {
        let parts = m.components.map_or_else(String::new, |c| format!(", {c} components"));
        lines.push(format!(
            "  {}{parts}: {:.2} mm RMS (standard error {:.2})",
            m.method.replace('_', " "),
            m.rms_mm,
            m.se_mm
        ));
    }
    lines
}

fn quality_told(quality: &Quality) -> Vec<String> {
    let mut lines = vec![format!(
        "quality: {} shapes drawn, seed {}; generalisation leaves each of {} people out\nmodes   generalisation mm   specificity mm   compactness mm2",
        quality.samples, quality.seed, quality.people
    )];
    for s in quality.specificity.iter().take(10) {
        let g = quality.generalisation.iter().find(|e| e.modes == s.modes);
        let g = g.map_or_else(|| "-".to_owned(), |e| format!("{:.2} (SE {:.2})", e.rms_mm, e.se_mm));
        lines.push(format!(
            "{:>5} {g:>19} {:>9.2} (SE {:.2}) {:>12.1}",
            s.modes,
            s.mean_mm,
            s.se_mm,
            quality.compactness_mm2[s.modes - 1]
        ));
    }
    for s in &quality.surface {
        lines.push(format!(
            "between surfaces, {} modes: generalisation {:.2} mm (SE {:.2}), specificity {:.2} mm (SE {:.2})",
            s.modes, s.generalisation_mm, s.generalisation_se_mm, s.specificity_mm, s.specificity_se_mm
        ));
    }
    lines.extend(quality.flaws.iter().map(|f| format!("  {f}")));
    lines
}
