//! The object for programs, the tables, and the body with both parts' modes.

use formkin_cohort::gltf::{MorphScene, morph_glb};
use formkin_geometry::vector::scale;
use formkin_geometry::{Point, Topology};
use formkin_shape::Symmetry;
use formkin_shape::compare::Place;
use formkin_shape::symmetry::PartModes;
use formkin_table::NumberFormat::{Fixed, Scientific};
use formkin_table::Sheet;
use serde_json::{Value, json};

use super::SymmetryOutcome;
use crate::bodies::on_the_floor;
use crate::figures::colors;
use crate::{Delivery, TaskError};

/// Modes of each part in the glTF file.
const GLB_MODES: usize = 3;

/// All but what has one value a vertex.
pub(super) fn object(made: &SymmetryOutcome) -> Value {
    let found = &made.result;
    let part = |p: &PartModes| {
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
    })
}

/// Scores, the two-way table, the map, the body.
pub(super) fn files<'a>(topology: &'a Topology, made: &'a SymmetryOutcome) -> Delivery<'a> {
    Delivery::new()
        .sheet("asymmetry.csv", "How asymmetric each person is, mm", scores(made))
        .sheet("asymmetry-table.csv", "Individuals, sides, what they share, error", two_way(&made.result))
        .sheet("asymmetry-map.csv", "Lean and spread of asymmetry at every vertex", map(&made.result))
        .made(
            "asymmetry.glb",
            "The symmetric mean coloured by the lean; lean and modes as glTF morph targets",
            || glb(topology, &made.result),
        )
}

fn scores(made: &SymmetryOutcome) -> Sheet {
    let (found, mm) = (&made.result, Some("mm"));
    let of_people = |value: fn(&formkin_shape::symmetry::Score) -> f64| found.scores.iter().map(value);
    let mut sheet = Sheet::new()
        .text("participant", "Pseudonym of the person", made.participants.iter().cloned())
        .whole("items", None, "Captures of the person", found.scores.iter().map(|s| s.items))
        .number(
            "asymmetry",
            mm,
            "Root mean square over the skin of the distance to the symmetric place",
            Fixed(4),
            of_people(|s| s.asymmetry_mm),
        )
        .number(
            "own_asymmetry",
            mm,
            "The same about the mean lean of all people",
            Fixed(4),
            of_people(|s| s.own_mm),
        );
    for k in 0..found.asymmetric.modes.len() {
        let name = format!("asymmetric_mode_{:03}", k + 1);
        let column = found.asymmetric.coefficients_mm.iter().map(|row| row[k]);
        sheet = sheet.number(&name, mm, "Coefficient of an asymmetric mode", Fixed(4), column);
    }
    sheet
}

fn two_way(found: &Symmetry) -> Sheet {
    let lines = &found.table;
    Sheet::new()
        .text("source", "What varies", lines.iter().map(|l| l.source.to_string()))
        .number("ss", Some("mm2"), "Sum of squares", Fixed(6), lines.iter().map(|l| l.ss_mm2))
        .whole("df", None, "Degrees of freedom", lines.iter().map(|l| l.df))
        .number("ms", Some("mm2"), "Mean square", Fixed(9), lines.iter().map(|l| l.ms_mm2))
        .optional_number("f", None, "Ratio of mean squares", Fixed(6), lines.iter().map(|l| l.f))
}

fn map(found: &Symmetry) -> Sheet {
    let (place, mean, mm) = (&found.place, &found.mean, Some("mm"));
    let axis = |k: usize| mean.iter().map(move |p| p[k]);
    Sheet::new()
        .whole("vertex", None, "Number of the vertex, from 0", 0..mean.len())
        .number("x", mm, "Place on the symmetric mean", Fixed(2), axis(0))
        .number("y", mm, "Place on the symmetric mean", Fixed(2), axis(1))
        .number("z", mm, "Place on the symmetric mean", Fixed(2), axis(2))
        .number(
            "lean",
            mm,
            "How far the mean body stands out (positive) or in beyond its symmetric place",
            Fixed(5),
            place.lean_mm.iter().copied(),
        )
        .number("p", None, "Student's t of the lean", Scientific(3), place.p.iter().copied())
        .number("q", None, "p corrected for the number of places", Scientific(3), place.q.iter().copied())
        .number("own_sd", mm, "SD of people about the lean", Fixed(5), place.own_sd_mm.iter().copied())
}

/// The lean as a place of findings, for colours.
fn as_place(found: &Symmetry) -> Place {
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
        for (k, (mode, variance)) in part.modes.iter().zip(&part.variances_mm2).take(GLB_MODES).enumerate() {
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
