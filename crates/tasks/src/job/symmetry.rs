//! Cohort -> symmetric and asymmetric parts of bodies, and their files.

use formkin_align::{AlignParams, Alignment};
use formkin_cohort::Cohort;
use formkin_cohort::gltf::{MorphScene, morph_glb};
use formkin_geometry::vector::scale;
use formkin_geometry::{Point, Topology};
use formkin_shape::compare::Place;
use formkin_shape::{Symmetry, SymmetryParams};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::TaskError;
use crate::choose::{Items, people_of};
use crate::job::groups::colors;
use crate::job::size::on_the_floor;

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SymmetryJob {
    /// The alignment.
    pub align: AlignParams,
    /// Which items.
    pub items: Items,
    /// Tests, draws, modes.
    pub params: SymmetryParams,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SymmetryOutcome {
    /// Both parts, the tests, the map.
    pub result: Symmetry,
    /// The participant of each score.
    pub participants: Vec<String>,
}

/// Aligns the chosen items and parts them into what is symmetric and what is not.
///
/// # Errors
/// [`TaskError::Nothing`] where the template has no mirror pairs, and what alignment and the search refuse.
pub fn symmetry(
    cohort: &Cohort,
    job: &SymmetryJob,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<SymmetryOutcome, TaskError> {
    let items = job.items.of(cohort)?;
    mirror_of(cohort)?;
    let source = cohort.select(items.clone());
    let topology = cohort.template().mesh.topology();
    let alignment = job.align.fit(&source, topology, None, &|_, _| ())?;
    of_aligned(cohort, &items, &alignment, &job.params, progress)
}

/// The same for items that were aligned before.
///
/// # Errors
/// As [`symmetry()`].
pub fn of_aligned(
    cohort: &Cohort,
    items: &[usize],
    alignment: &Alignment,
    params: &SymmetryParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<SymmetryOutcome, TaskError> {
    let people = people_of(cohort, items);
    let source = cohort.select(items.to_vec());
    let topology = cohort.template().mesh.topology();
    let result = params.find(&source, topology, alignment, mirror_of(cohort)?, &people, progress)?;
    let name = |person: usize| {
        let at = people.iter().position(|p| *p == person).and_then(|i| items.get(i));
        at.map_or_else(String::new, |i| cohort.items()[*i].participant.clone())
    };
    let participants = result.scores.iter().map(|s| name(s.person)).collect();
    Ok(SymmetryOutcome { result, participants })
}

fn mirror_of(cohort: &Cohort) -> Result<&[u32], TaskError> {
    cohort.template().mirror.as_deref().ok_or_else(|| TaskError::Nothing {
        what: format!("the template of {} has no mirror pairs", cohort.path().display()),
        advice: "name them in template.toml (`mirror = ..`, the vertex on the other side of each) and import again".into(),
    })
}

/// One file of a result.
pub struct SymmetryFile {
    /// Its name.
    pub name: &'static str,
    /// What is in it.
    pub what: &'static str,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// The files of a result: scores, the two-way table, the map, the body with both parts' modes as morph targets.
///
/// # Errors
/// Triangles that do not fit.
pub fn files(topology: &Topology, made: &SymmetryOutcome) -> Result<Vec<SymmetryFile>, TaskError> {
    let file = |name, what, text: String| SymmetryFile { name, what, bytes: text.into_bytes() };
    Ok(vec![
        file("asymmetry.csv", "How asymmetric each person is, mm", scores_csv(made)),
        file("asymmetry-table.csv", "Individuals, sides, what they share, error", table_csv(&made.result)),
        file("asymmetry-map.csv", "Lean and spread of asymmetry at every vertex", map_csv(&made.result)),
        SymmetryFile {
            name: "asymmetry.glb",
            what: "The symmetric mean coloured by the lean; lean and modes as glTF morph targets",
            bytes: glb(topology, &made.result)?,
        },
    ])
}

/// A table needs quotes where a name holds a comma.
fn quoted(word: &str) -> String {
    if word.contains([',', '"', '\n']) {
        format!("\"{}\"", word.replace('"', "\"\""))
    } else {
        word.to_owned()
    }
}

fn scores_csv(made: &SymmetryOutcome) -> String {
    let kept = made.result.asymmetric.modes.len();
    let mut csv = String::from("participant,items,asymmetry_mm,own_asymmetry_mm");
    for k in 0..kept {
        csv.push_str(&format!(",asymmetric_mode_{:03}_mm", k + 1));
    }
    csv.push('\n');
    for ((name, s), row) in
        made.participants.iter().zip(&made.result.scores).zip(&made.result.asymmetric.coefficients_mm)
    {
        csv.push_str(&format!("{},{},{:.4},{:.4}", quoted(name), s.items, s.asymmetry_mm, s.own_mm));
        for c in row {
            csv.push_str(&format!(",{c:.4}"));
        }
        csv.push('\n');
    }
    csv
}

fn table_csv(found: &Symmetry) -> String {
    let mut csv = String::from("source,ss_mm2,df,ms_mm2,f\n");
    for l in &found.table {
        let f = l.f.map_or_else(String::new, |f| format!("{f:.6}"));
        csv.push_str(&format!("{},{:.6},{},{:.9},{f}\n", l.source, l.ss_mm2, l.df, l.ms_mm2));
    }
    csv
}

fn map_csv(found: &Symmetry) -> String {
    let mut csv = String::from("vertex,x_mm,y_mm,z_mm,lean_mm,p,q,own_sd_mm\n");
    for (v, m) in found.mean.iter().enumerate() {
        let place = &found.place;
        csv.push_str(&format!(
            "{v},{:.2},{:.2},{:.2},{:.5},{:.3e},{:.3e},{:.5}\n",
            m[0], m[1], m[2], place.lean_mm[v], place.p[v], place.q[v], place.own_sd_mm[v]
        ));
    }
    csv
}

/// The lean as a place of findings, for colours.
#[must_use]
pub fn as_place(found: &Symmetry) -> Place {
    Place {
        effect_mm: found.place.lean_mm.clone(),
        signed: true,
        p: found.place.p.clone(),
        q: found.place.q.clone(),
        level: found.place.level,
        share: found.place.share,
        df: (1, found.people.saturating_sub(1)),
    }
}

fn glb(topology: &Topology, found: &Symmetry) -> Result<Vec<u8>, TaskError> {
    let times = |field: &[Point], by: f64| field.iter().map(|p| scale(*p, by)).collect::<Vec<_>>();
    let mut targets = vec![("mean asymmetry, 10 times".to_owned(), times(&found.lean, 10.0))];
    for (name, part) in [("symmetric", &found.symmetric), ("asymmetric", &found.asymmetric)] {
        for (k, (mode, variance)) in part.modes.iter().zip(&part.variances_mm2).take(3).enumerate() {
            let sd = variance.sqrt();
            targets.push((format!("{name} mode {} (1 SD, {sd:.1} mm)", k + 1), times(mode, sd)));
        }
    }
    let base = on_the_floor(found.mean.clone());
    let place = as_place(found);
    let most = place.effect_mm.iter().fold(0.0f64, |m, e| m.max(e.abs()));
    Ok(morph_glb(&MorphScene {
        name: "asymmetry".into(),
        topology,
        base: &base,
        targets,
        colors: Some(colors(&place, most)),
        animation: None,
        extras: json!({
            "colour": "orange where the mean body stands out beyond its symmetric place, blue where it stands in, grey no finding",
            "strongest_mm": most,
            "level_of_q": place.level,
            "people": found.people,
            "items": found.items,
        }),
    })?)
}

/// The figures for programs: all but what has one value a vertex.
#[must_use]
pub fn summary(made: &SymmetryOutcome) -> Value {
    let found = &made.result;
    let part = |p: &formkin_shape::symmetry::PartModes| {
        json!({
            "variances_mm2": p.variances_mm2,
            "total_variance_mm2": p.total_variance_mm2,
            "sd_mm": p.total_variance_mm2.max(0.0).sqrt(),
            "share": p.share,
        })
    };
    let (low, high) = found.place.lean_mm.iter().fold((0.0f64, 0.0f64), |(l, h), e| (l.min(*e), h.max(*e)));
    json!({
        "people": found.people,
        "items": found.items,
        "repeated_people": found.repeated,
        "mirror_pairs": found.pairs,
        "vertices_on_the_plane": found.middle,
        "removes": found.removes,
        "symmetric": part(&found.symmetric),
        "asymmetric": part(&found.asymmetric),
        "directional": found.directional,
        "fluctuating": found.fluctuating,
        "table": found.table,
        "place": {
            "level": found.place.level,
            "share": found.place.share,
            "least_lean_mm": low,
            "greatest_lean_mm": high,
        },
        "scores": made.participants.iter().zip(&found.scores).map(|(name, s)| json!({
            "participant": name, "items": s.items, "asymmetry_mm": s.asymmetry_mm, "own_asymmetry_mm": s.own_mm,
        })).collect::<Vec<_>>(),
        "settings": found.params,
    })
}
