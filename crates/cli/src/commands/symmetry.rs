//! `formkin symmetry`: what is the same left and right, and what is not.

use anyhow::Context;
use formkin_align::AlignParams;
use formkin_shape::SymmetryParams;
use formkin_shape::symmetry::Symmetry;
use formkin_study::choose;
use formkin_study::job::symmetry::{SymmetryJob, files, summary, symmetry};
use serde_json::json;

use crate::args::SymmetryArgs;
use crate::output::{Exit, Output, people};
use crate::progress::Bars;
use crate::resolve::{open_cohort, ready, write};

/// The names of the files, before there is a result.
const NAMES: [&str; 5] =
    ["asymmetry.csv", "asymmetry-table.csv", "asymmetry-map.csv", "asymmetry.glb", "symmetry.json"];

pub(crate) fn run(args: &SymmetryArgs, output: &Output) -> anyhow::Result<Exit> {
    if let Some(into) = &args.into {
        ready(into, &NAMES, args.force)?;
    }
    let cohort = open_cohort(&args.cohort)?;
    let job = SymmetryJob {
        align: AlignParams {
            removes: args.align.into(),
            weighting: choose::weighting("--weights", &args.weights, cohort.template())?,
            ..AlignParams::default()
        },
        items: args.items.into(),
        params: SymmetryParams {
            permutations: args.permutations,
            draws: args.draws,
            modes: args.modes,
            level: args.level,
            seed: args.seed,
        },
    };
    let bars = Bars::new(output);
    let made = symmetry(&cohort, &job, &|done, of| bars.tick("symmetry", done, of))?;
    bars.clear();
    let mut object = summary(&made);
    let mut written = Vec::new();
    if let Some(into) = &args.into {
        std::fs::create_dir_all(into)
            .with_context(|| format!("the folder {} cannot be made", into.display()))?;
        for file in files(cohort.template().mesh.topology(), &made)? {
            let path = into.join(file.name);
            write(&path, &file.bytes, args.force)?;
            written.push(path);
        }
        let path = into.join(NAMES[4]);
        written.push(path.clone());
        object["outputs"] = json!(written);
        write(&path, &serde_json::to_vec_pretty(&object)?, args.force)?;
    } else {
        object["outputs"] = json!(written);
    }
    let mut text = told(&made.result);
    text.push(format!("{} permutations, {} draws, seed {}", args.permutations, args.draws, args.seed));
    if args.permutations < 9999 {
        text.push("note: take 9,999 permutations or more for what you report".into());
    }
    text.extend(written.iter().map(|p| format!("written: {}", p.display())));
    output.result(&object, text.join("\n"))?;
    Ok(Exit::Done)
}

fn told(found: &Symmetry) -> Vec<String> {
    let (d, f) = (&found.directional, &found.fluctuating);
    let mut lines = vec![
        format!(
            "{}, {} items ({} people captured more than once); {} mirror pairs, {} vertices on the plane",
            people(found.people),
            found.items,
            found.repeated,
            found.pairs,
            found.middle
        ),
        format!(
            "of the variance of bodies {:.1} % is symmetric ({:.1} mm SD) and {:.2} % asymmetric ({:.2} mm SD)",
            100.0 * found.symmetric.share,
            found.symmetric.total_variance_mm2.sqrt(),
            100.0 * found.asymmetric.share,
            found.asymmetric.total_variance_mm2.sqrt()
        ),
        format!(
            "directional asymmetry: {:.2} mm RMS ({:.2} to {:.2}, 95 %), p {:.4} ({} changes of sign of whole people)",
            d.unbiased_mm, d.interval_95_mm.0, d.interval_95_mm.1, d.p, d.permutations
        ),
    ];
    let error = if f.error_removed { "error of measuring removed" } else { "error of measuring included" };
    lines.push(format!(
        "fluctuating asymmetry: SD {:.2} mm RMS ({:.2} to {:.2}, 95 %), {error}",
        f.sd_mm, f.interval_95_mm.0, f.interval_95_mm.1
    ));
    if let (Some(e), Some(r), Some(p)) = (f.error_sd_mm, f.reliability, f.p) {
        lines.push(format!(
            "  error of one capture {e:.2} mm RMS; a person's asymmetry is reliable to {r:.2}; against error alone p {p:.4}"
        ));
    }
    lines.extend(f.why_not.iter().map(|w| format!("  {w}")));
    lines.push("source                       SS mm2         df      MS mm2         F".to_owned());
    for l in &found.table {
        let ratio = l.f.map_or_else(String::new, |f| format!("{f:.2}"));
        lines.push(format!("{:<20} {:>14.1} {:>10} {:>11.6} {ratio:>9}", l.source, l.ss_mm2, l.df, l.ms_mm2));
    }
    lines.push(format!(
        "on {:.0} % of the surface the mean leans (share of false findings held to {:.0} %)",
        100.0 * found.place.share,
        100.0 * found.place.level
    ));
    lines
}
