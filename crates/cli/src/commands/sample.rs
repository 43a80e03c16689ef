//! `formkin sample`: new bodies like those of given people, and how they compare with them.

use anyhow::Context;
use formkin_cohort::{MeshWriting, ply_bytes};
use formkin_geometry::Topology;
use formkin_shape::sample::{SampleParams, judge, sample};
use formkin_study::job::size::on_the_floor;
use ndarray::{Axis, s};
use serde_json::json;

use super::groups::rows;
use crate::args::SampleArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, open_space, write};

pub(crate) fn run(args: &SampleArgs, output: &Output) -> anyhow::Result<Exit> {
    let space = open_space(&args.space)?;
    let people = rows(&space, args.coefficients.as_deref(), args.cohort.as_deref())?.people(None)?;
    let mut kept: Vec<usize> = (0..people.names.len()).collect();
    if let (Some(by), Some(group)) = (&args.by, &args.group) {
        let groups = people.groups("--by", by)?;
        kept.retain(|i| groups[*i].as_ref() == Some(group));
        anyhow::ensure!(!kept.is_empty(), "nobody is `{group}` in `{by}`");
    }
    let modes = args.modes.min(people.coefficients.ncols());
    let own = people.coefficients.select(Axis(0), &kept);
    let own = own.slice(s![.., ..modes]);
    let params = SampleParams {
        count: args.count,
        confidence: args.confidence,
        seed: args.seed,
        ..SampleParams::default()
    };
    let made = sample(own, &params, &mut |_| None)?;
    let report = judge(&made, own)?;

    std::fs::create_dir_all(&args.into)
        .with_context(|| format!("the folder {} cannot be made", args.into.display()))?;
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let mut paths: Vec<_> = (1..=args.count).map(|i| args.into.join(format!("body_{i:04}.ply"))).collect();
    paths.push(args.into.join("samples.csv"));
    paths.push(args.into.join("report.json"));
    free(paths.iter().map(AsRef::as_ref), args.force)?;
    let header: Vec<String> = (1..=modes).map(|k| format!("mode_{k:03}_mm")).collect();
    let mut csv = format!("body,{}\n", header.join(","));
    for (i, (c, path)) in made.coefficients.iter().zip(&paths).enumerate() {
        let body = on_the_floor(space.reconstruct(c));
        write(path, &ply_bytes(&topology, &body, &MeshWriting::default())?, args.force)?;
        let values: Vec<String> = c.iter().map(f64::to_string).collect();
        csv.push_str(&format!("body_{:04},{}\n", i + 1, values.join(",")));
    }
    let object = json!({
        "bodies": args.count,
        "tries": made.tries,
        "refused": made.refused,
        "modes": modes,
        "settings": made.params,
        "by": args.by,
        "group": args.group,
        "report": report,
        "outputs": paths,
    });
    write(&paths[args.count], csv.as_bytes(), args.force)?;
    write(&paths[args.count + 1], &serde_json::to_vec_pretty(&object)?, args.force)?;
    let text = format!(
        "{} bodies from {} draws, like {} people in {modes} modes, seed {}\n\
         nearest person: median {:.1} mm RMS; between people {:.1} mm; {:.1} % of bodies are nearer than 99 % of people are to each other\n\
         specificity {:.2} mm (SE {:.2}); correlations differ by at most {:.2}\nwritten: {}",
        args.count,
        made.tries,
        report.people,
        args.seed,
        report.nearest_mm[2],
        report.nearest_between_people_mm[2],
        100.0 * report.closer_than_people,
        report.specificity_mm,
        report.specificity_se_mm,
        report.largest_correlation_difference,
        args.into.display()
    );
    output.result(&object, text)?;
    Ok(Exit::Done)
}
