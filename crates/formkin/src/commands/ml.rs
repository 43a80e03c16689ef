//! `formkin export ml`: a data set for machine learning, split by participant.

use std::collections::BTreeMap;

use anyhow::Context;
use formkin_align::AlignParams;
use formkin_table::Table;
use formkin_tasks::choose;
use formkin_tasks::job::ml::sheet::files;
use formkin_tasks::job::ml::split::Part;
use formkin_tasks::job::ml::{MlJob, ml_set};
use formkin_tasks::reading::read_dimensions;

use crate::args::MlArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{free, open_cohort, ready, write};

pub(crate) fn run(args: &MlArgs, output: &Output) -> anyhow::Result<Exit> {
    ready(&args.into, &["manifest.json"], args.force)?;
    let cohort = open_cohort(&args.cohort)?;
    let job = MlJob {
        align: AlignParams {
            removes: args.align.into(),
            weighting: choose::weighting("--weights", &args.weights, cohort.template())?,
            ..AlignParams::default()
        },
        max_modes: args.modes,
        items: args.items.into(),
        validation: args.validation,
        test: args.test,
        stratify: args.stratify.clone(),
        given: args.splits.as_deref().map(given).transpose()?,
        mirrored: args.mirrored,
        sequences: args.sequences,
        dimensions: args.dimensions.as_deref().map(read_dimensions).transpose()?,
        seed: args.seed,
    };
    let bars = Bars::new(output);
    let made = ml_set(&cohort, &job, &|done, of| bars.tick("space", done, of)).and_then(|made| {
        Ok((files(&cohort, &job, &made, &|done, of| bars.tick("measure", done, of))?, made))
    });
    bars.clear();
    let ((files, mut manifest), made) = made?;
    std::fs::create_dir_all(&args.into)
        .with_context(|| format!("the folder {} cannot be made", args.into.display()))?;
    let paths: Vec<_> = files.keys().map(|name| args.into.join(name)).collect();
    free(paths.iter().map(AsRef::as_ref), args.force)?;
    for (path, bytes) in paths.iter().zip(files.values()) {
        write(path, bytes, args.force)?;
    }
    manifest["outputs"] = serde_json::json!(paths);
    let mut text = vec!["part         people   rows   residual mm".to_owned()];
    for p in &made.parts {
        let residual = p.residual_rms_mm.map_or_else(|| "-".to_owned(), |x| format!("{x:.3}"));
        text.push(format!("{:<12} {:>6} {:>6} {residual:>13}", p.part.name(), p.people, p.rows));
    }
    text.push(format!(
        "{} modes of the training people; decoding within {:.5} mm",
        made.space.modes.len(),
        made.storage_error_mm
    ));
    text.extend(made.notes.iter().map(|n| format!("note: {n}")));
    text.push(format!("written: {}", args.into.display()));
    output.result(&manifest, text.join("\n"))?;
    Ok(Exit::Done)
}

/// Item -> part, from a table with the columns item and split.
fn given(path: &std::path::Path) -> anyhow::Result<BTreeMap<String, Part>> {
    let file = std::fs::File::open(path).with_context(|| format!("{} cannot be read", path.display()))?;
    let table = Table::read_csv(file, &path.display().to_string(), Some("item"))?;
    let words = table.text("split").with_context(|| path.display().to_string())?;
    let mut parts = BTreeMap::new();
    for (item, word) in table.ids.iter().zip(words) {
        let part = Part::named(&word).with_context(|| {
            format!("{}: item {item}: `{word}` is no part; it is train, validation or test", path.display())
        })?;
        parts.insert(item.clone(), part);
    }
    Ok(parts)
}
