//! `formkin sample`: new bodies like those of given people, and how they compare with them.

use std::path::Path;

use anyhow::{Context, ensure};
use formkin_cohort::{MeshWriting, ply_bytes};
use formkin_geometry::Topology;
use formkin_shape::sample::SampleParams;
use formkin_tasks::job::population::{Limits, Population};
use formkin_tasks::job::predict::upright;
use formkin_tasks::job::sample::{SampleJob, SampleOutcome, body_name, sample_bodies};
use serde_json::{Value, json};

use super::groups::rows;
use crate::args::SampleArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, open_space, ready, write};

pub(crate) fn run(args: &SampleArgs, output: &Output) -> anyhow::Result<Exit> {
    // the names of the files are made before anything is drawn
    ensure!(args.count <= 1_000_000, "--count {}: at most 1000000 bodies are drawn at a time", args.count);
    let mut paths: Vec<_> =
        (0..args.count).map(|i| args.into.join(format!("{}.ply", body_name(i)))).collect();
    let tables = ["samples.csv", "report.json", "dimensions.csv"].map(|f| args.into.join(f));
    ready(&args.into, &[], args.force)?;
    if args.into.exists() {
        free(paths.iter().chain(&tables).map(AsRef::as_ref), args.force)?;
    }
    let job = job(args)?;
    let space = open_space(&args.space)?;
    let found =
        sample_bodies(&space, &rows(&space, args.coefficients.as_deref(), args.cohort.as_deref())?, &job)?;

    std::fs::create_dir_all(&args.into)
        .with_context(|| format!("the folder {} cannot be made", args.into.display()))?;
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let up = space.regression.as_ref().map_or([0.0, 0.0, 1.0], |m| m.up);
    let header: Vec<String> = (1..=found.modes).map(|k| format!("mode_{k:03}_mm")).collect();
    let mut csv = format!("body,from,{}\n", header.join(","));
    for ((i, c), (path, from)) in
        found.samples.coefficients.iter().enumerate().zip(paths.iter().zip(&found.origins))
    {
        let body = upright(&space, c, up);
        write(path, &ply_bytes(&topology, &body, &MeshWriting::default())?, args.force)?;
        let values: Vec<String> = c.iter().map(f64::to_string).collect();
        let from = if from.contains([',', '"']) { format!("{from:?}") } else { from.clone() };
        csv.push_str(&format!("{},{from},{}\n", body_name(i), values.join(",")));
    }
    let [samples, report, dimensions] = tables;
    write(&samples, csv.as_bytes(), args.force)?;
    paths.extend([samples, report.clone()]);
    if let Some(table) = &found.table {
        write(&dimensions, table.to_csv()?.as_bytes(), args.force)?;
        paths.push(dimensions);
    }
    let object = object(args, &job, &found, &paths);
    write(&report, &serde_json::to_vec_pretty(&object)?, args.force)?;
    output.result(&object, text(args, &found))?;
    Ok(Exit::Done)
}

fn job(args: &SampleArgs) -> anyhow::Result<SampleJob> {
    let text = |path: &Path| {
        std::fs::read_to_string(path).with_context(|| format!("{} cannot be read", path.display()))
    };
    let named = |path: &Path| path.display().to_string();
    let components = match args.components.as_deref() {
        None => None,
        Some("auto") => Some(0),
        Some(word) => {
            let n: usize = word
                .parse()
                .with_context(|| format!("--components {word}: give `auto` or a number of components"))?;
            ensure!(n > 0, "--components {word}: give `auto`, or 1 or more");
            Some(n)
        }
    };
    let target =
        args.target.as_deref().map(|p| Ok::<_, anyhow::Error>(Population::parse(&text(p)?, &named(p))?));
    let limits = args.limits.as_deref().map(|p| Ok::<_, anyhow::Error>(Limits::parse(&text(p)?, &named(p))?));
    Ok(SampleJob {
        params: SampleParams {
            count: args.count,
            confidence: args.confidence,
            seed: args.seed,
            ..SampleParams::default()
        },
        modes: args.modes,
        by: args.by.clone(),
        group: args.group.clone(),
        components,
        target: target.transpose()?,
        pool: args.pool.unwrap_or_else(|| args.count.saturating_mul(20).max(2000)),
        limits: limits.transpose()?,
        dimensions: !args.no_dimensions,
        crossings: !args.no_crossings,
    })
}

fn object(args: &SampleArgs, job: &SampleJob, found: &SampleOutcome, paths: &[std::path::PathBuf]) -> Value {
    json!({
        "bodies": args.count,
        "people": found.report.people,
        "tries": found.samples.tries,
        "refused": found.samples.refused,
        "modes": found.modes,
        "settings": found.samples.params,
        "by": args.by,
        "group": args.group,
        "density": found.density,
        "report": found.report,
        "closest": found.closest,
        "dimensions": found.marginals,
        "correlations": found.correlations,
        "crossings": found.crossings,
        "target": found.target,
        "pool": job.target.as_ref().map(|_| job.pool),
        "limits": job.limits,
        "notes": found.notes,
        "outputs": paths,
    })
}

fn text(args: &SampleArgs, found: &SampleOutcome) -> String {
    let report = &found.report;
    let told = &report.privacy;
    let mut lines = vec![format!(
        "{} bodies from {} draws, like {} people in {} modes, seed {}",
        args.count, found.samples.tries, report.people, found.modes, args.seed
    )];
    for (reason, n) in &found.samples.refused {
        lines.push(format!("  drawn again {n} times because {reason}"));
    }
    if found.density.components.len() > 1 || !found.density.scores.is_empty() {
        for c in &found.density.components {
            let own = found.origins.iter().filter(|o| **o == c.name).count();
            lines.push(format!("  {}: {:.0} % of people, {own} bodies", c.name, 100.0 * c.share));
        }
    }
    for s in &found.density.scores {
        lines.push(format!(
            "  {} components: BIC {:.0}, log density of people held out {:.2} (SE {:.2})",
            s.components, s.bic, s.held_out, s.held_out_se
        ));
    }
    lines.push(format!(
        "nearest person: median {:.1} mm RMS; between people {:.1} mm; {:.1} % of bodies are nearer than 99 % of people are to each other ({:.1} to {:.1})",
        told.nearest_mm[3],
        told.nearest_between_people_mm[3],
        100.0 * told.closer_than_people,
        100.0 * told.closer_than_people_95.0,
        100.0 * told.closer_than_people_95.1
    ));
    if let Some((like, mm)) = told.like_a_repeat.zip(told.repeat_mm) {
        lines.push(format!(
            "{} as near to a person as a repeated scan of that person is ({mm:.1} mm)",
            if like == 1 { "1 body is".to_owned() } else { format!("{like} bodies are") }
        ));
    }
    lines.push(format!(
        "specificity {:.2} mm (SE {:.2}); correlations of coefficients differ by at most {:.2} (chance alone: {:.2})",
        report.specificity_mm,
        report.specificity_se_mm,
        report.largest_correlation_difference,
        report.largest_correlation_by_chance
    ));
    if let Some(c) = &found.correlations {
        let off = found.marginals.iter().filter(|m| m.ks > m.ks_limit).count();
        lines.push(format!(
            "dimensions: {off} of {} differ in distribution from the people's (5 %); correlations differ by {:.2} RMS (chance alone: {:.2})",
            found.marginals.len(),
            c.rms_difference,
            c.se
        ));
    }
    if let Some(c) = &found.crossings {
        lines.push(format!(
            "triangles that cross others: median {:.0} on bodies, {:.0} on people; more than {:.0} are refused",
            c.bodies[0], c.people[0], c.limit
        ));
    }
    if let Some(t) = &found.target {
        lines.push(format!("target: a pool of {} bodies, worth {:.0} equal ones", t.pool, t.n_eff));
        for m in &t.margins {
            let unit = found.marginals.iter().find(|d| d.name == m.dimension).and_then(|d| d.unit.as_ref());
            lines.push(format!(
                "  {} {}{}: asked {:.1}, pool {:.1}, bodies {:.1}",
                m.dimension,
                m.what,
                unit.map_or_else(String::new, |u| format!(" ({u})")),
                m.target,
                m.pool,
                m.picked.unwrap_or(f64::NAN)
            ));
        }
    }
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines.push(format!("written: {}", args.into.display()));
    lines.join("\n")
}
