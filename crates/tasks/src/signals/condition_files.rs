//! Comparisons of conditions and components of curves as tables; the map of the reduction as a body.

use formkin_cohort::gltf::{MorphScene, morph_glb};
use formkin_geometry::{Point, Topology};
use formkin_motion::cycles::pooled::DimensionComponents;
use formkin_motion::soft::compare::{Comparison, PersonReduction};
use formkin_stats::paired::PairedTest;
use formkin_table::NumberFormat::{Fixed, Shortest};
use formkin_table::Sheet;
use serde_json::json;

use super::conditions::Conditions;
use crate::bodies::on_the_floor;
use crate::{Delivery, TaskError};

/// Under a tenth of a millimetre of movement a share of it says nothing.
const STILL_MM: f64 = 0.1;

/// Adds the files of a comparison; `body` is the surface that the map is drawn on.
#[must_use]
pub fn condition_files<'a>(
    conditions: &'a Conditions,
    body: Option<(&'a Topology, &'a [Point])>,
    mut delivery: Delivery<'a>,
) -> Delivery<'a> {
    let comparisons = &conditions.comparisons;
    if !comparisons.is_empty() {
        let what = "Conditions compared: reduction with interval and tests over people";
        delivery = delivery.sheet("conditions.csv", what, over_people(comparisons));
        let what = "Conditions compared, person by person";
        delivery = delivery.sheet("conditions-people.csv", what, persons(comparisons));
    }
    if conditions.reduction_mm.is_empty() {
        return delivery;
    }
    let what = "How much less every vertex moves vertically in the body frame with the garment";
    delivery = delivery.sheet("reduction-map.csv", what, map(conditions));
    match body {
        Some((topology, pose)) => {
            let what = "The map of the reduction as vertex colours, glTF";
            delivery.made("reduction-map.glb", what, move || map_glb(conditions, topology, pose))
        }
        None => delivery,
    }
}

/// One row a measure: the reduction over people with its interval and the paired tests.
fn over_people(comparisons: &[Comparison]) -> Sheet {
    let all = || comparisons.iter();
    let (percent, three) = (Some("percent"), Fixed(3));
    let test = |value: fn(&PairedTest) -> Option<f64>| all().map(move |c| c.test.as_ref().and_then(value));
    Sheet::new()
        .text("measure", "What is compared, with its unit", all().map(|c| &c.measure))
        .whole("people", None, "People who have both conditions", all().map(|c| c.people))
        .number(
            "reduction",
            percent,
            "100 (1 - garment / reference)",
            three,
            all().map(|c| c.reduction_percent),
        )
        .optional_number(
            "interval_low",
            percent,
            "Lower end",
            three,
            all().map(|c| c.interval_percent.map(|i| i.0)),
        )
        .optional_number(
            "interval_high",
            percent,
            "Upper end",
            three,
            all().map(|c| c.interval_percent.map(|i| i.1)),
        )
        .number("level", None, "Level of the interval", Shortest, all().map(|c| c.level))
        .optional_number("difference", None, "Mean difference over people", Fixed(4), test(|t| Some(t.mean)))
        .optional_number("t", None, "Paired t", Fixed(4), test(|t| t.t))
        .optional_number("p_t", None, "Its p", Fixed(6), test(|t| t.p_t))
        .optional_number("p_signed_ranks", None, "p of signed ranks", Fixed(6), test(|t| t.p_signed_rank))
        .text("cautions", "What a reader must mind", all().map(|c| c.cautions.join("; ")))
}

/// One row a measure and person: both means, the reduction, and its interval over the person's cycles.
fn persons(comparisons: &[Comparison]) -> Sheet {
    let rows: Vec<(&str, &PersonReduction)> =
        comparisons.iter().flat_map(|c| c.persons.iter().map(|p| (c.measure.as_str(), p))).collect();
    let all = || rows.iter().map(|r| r.1);
    let (percent, three) = (Some("percent"), Fixed(3));
    Sheet::new()
        .text("measure", "What is compared, with its unit", rows.iter().map(|r| r.0))
        .text("participant", "Pseudonym of the person", all().map(|p| &p.participant))
        .number("reference", None, "Mean in the reference condition", Fixed(4), all().map(|p| p.reference))
        .number("garment", None, "Mean with the garment", Fixed(4), all().map(|p| p.garment))
        .whole("reference_cycles", None, "Cycles in the reference condition", all().map(|p| p.cycles.0))
        .whole("garment_cycles", None, "Cycles with the garment", all().map(|p| p.cycles.1))
        .number(
            "reduction",
            percent,
            "100 (1 - garment / reference)",
            three,
            all().map(|p| p.reduction_percent),
        )
        .optional_number(
            "interval_low",
            percent,
            "Lower end over cycles",
            three,
            all().map(|p| p.interval_percent.map(|i| i.0)),
        )
        .optional_number(
            "interval_high",
            percent,
            "Upper end over cycles",
            three,
            all().map(|p| p.interval_percent.map(|i| i.1)),
        )
        .text("caution", "What a reader must mind", all().map(|p| p.caution.clone().unwrap_or_default()))
}

fn map(conditions: &Conditions) -> Sheet {
    let (reference, reduction) = (&conditions.reference_mm, &conditions.reduction_mm);
    let share = |(r, d): (&f64, &f64)| (*r > STILL_MM).then(|| 100.0 * d / r);
    let mm = Some("mm");
    Sheet::new()
        .whole("vertex", None, "Number of the vertex, from 0", 0..reduction.len())
        .number(
            "reference",
            mm,
            "Vertical range in the reference condition",
            Fixed(4),
            reference.iter().copied(),
        )
        .number("reduction", mm, "How much less it is with the garment", Fixed(4), reduction.iter().copied())
        .optional_number(
            "reduction",
            Some("percent"),
            "The same as a share",
            Fixed(2),
            reference.iter().zip(reduction).map(share),
        )
}

fn map_glb(conditions: &Conditions, topology: &Topology, pose: &[Point]) -> Result<Vec<u8>, TaskError> {
    let most = full(&conditions.reduction_mm);
    let base = on_the_floor(pose.to_vec());
    let scene = MorphScene {
        name: "reduction of vertical movement".into(),
        topology,
        base: &base,
        targets: Vec::new(),
        colors: Some(conditions.reduction_mm.iter().map(|d| diverging(d / most)).collect()),
        animation: None,
        extras: json!({
            "blue_is_less_movement_mm": most, "red_is_more_movement_mm": most, "people": conditions.map_people,
        }),
    };
    Ok(morph_glb(&scene)?)
}

/// What the ends of the map's colours stand for, in mm: the 99th percentile of the sizes.
fn full(values: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = values.iter().map(|v| v.abs()).filter(|v| v.is_finite()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.get(sizes.len() * 99 / 100).copied().unwrap_or(0.0).max(1e-6)
}

/// Red for -1 over pale grey to blue for 1.
fn diverging(part: f64) -> [u8; 3] {
    const ENDS: [[f64; 3]; 3] = [[178.0, 58.0, 46.0], [238.0, 238.0, 234.0], [28.0, 92.0, 142.0]];
    let place = part.clamp(-1.0, 1.0) + 1.0;
    let i = (place as usize).min(1);
    let u = place - i as f64;
    std::array::from_fn(|c| (ENDS[i][c] + u * (ENDS[i + 1][c] - ENDS[i][c])).round() as u8)
}

/// Adds the components of curves: mean and functions over the cycle, and the scores of every cycle.
#[must_use]
pub fn component_files<'a>(components: &[DimensionComponents], delivery: Delivery<'a>) -> Delivery<'a> {
    if components.is_empty() {
        return delivery;
    }
    let what = "Functional components of curves over the cycle: mean and functions";
    delivery.sheet("components.csv", what, functions(components)).sheet(
        "component-scores.csv",
        "Scores of every cycle on the functional components",
        scores(components),
    )
}

fn functions(components: &[DimensionComponents]) -> Sheet {
    struct Row<'a> {
        of: &'a DimensionComponents,
        component: usize,
        at: usize,
    }
    let mut rows = Vec::new();
    for of in components {
        let counted = of.components.functions.len().min(of.components.variances.len());
        for component in 0..counted {
            rows.extend((0..of.components.mean.len()).map(|at| Row { of, component, at }));
        }
    }
    let all = || rows.iter();
    let variance = |r: &Row<'_>| r.of.components.variances[r.component];
    let percent = |r: &Row<'_>| 100.0 * r.at as f64 / (r.of.components.mean.len() - 1).max(1) as f64;
    Sheet::new()
        .text("dimension", "The dimension or signal", all().map(|r| &r.of.dimension))
        .text("unit", "Its unit", all().map(|r| &r.of.unit))
        .whole("component", None, "Number of the component, from 1", all().map(|r| r.component + 1))
        .number("variance", None, "Variance of the scores", Fixed(6), all().map(variance))
        .number(
            "share",
            None,
            "Its share of all",
            Fixed(6),
            all().map(|r| variance(r) / r.of.components.total_variance),
        )
        .number("percent", None, "Part of the cycle, in %", Fixed(3), all().map(percent))
        .number("mean", None, "Mean of all curves", Fixed(5), all().map(|r| r.of.components.mean[r.at]))
        .number(
            "function",
            None,
            "The component",
            Fixed(6),
            all().map(|r| r.of.components.functions[r.component][r.at]),
        )
}

fn scores(components: &[DimensionComponents]) -> Sheet {
    let rows: Vec<_> = components
        .iter()
        .flat_map(|d| d.curves.iter().zip(&d.components.scores).map(move |(of, row)| (d, of, row)))
        .flat_map(|(d, of, row)| row.iter().enumerate().map(move |(k, score)| (d, of, k + 1, *score)))
        .collect();
    let all = || rows.iter();
    Sheet::new()
        .text("dimension", "The dimension or signal", all().map(|r| &r.0.dimension))
        .text("participant", "Pseudonym of the person", all().map(|r| &r.1.participant))
        .text("capture", "The capture", all().map(|r| &r.1.capture))
        .whole("cycle", None, "The cycle in its capture", all().map(|r| r.1.cycle))
        .whole("component", None, "Number of the component, from 1", all().map(|r| r.2))
        .number("score", None, "Score of the cycle", Fixed(6), all().map(|r| r.3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_run_from_red_over_grey_to_blue() {
        assert_eq!(diverging(-2.0), [178, 58, 46]);
        assert_eq!(diverging(0.0), [238, 238, 234]);
        assert_eq!(diverging(1.0), [28, 92, 142]);
    }

    #[test]
    fn what_hardly_moves_has_no_share() {
        let conditions = Conditions {
            reference_mm: vec![10.0, 0.05],
            reduction_mm: vec![4.0, 0.05],
            map_people: 1,
            ..Conditions::default()
        };
        let text = String::from_utf8(map(&conditions).to_csv().unwrap()).unwrap();
        assert_eq!(
            text,
            "vertex,reference_mm,reduction_mm,reduction_percent\n0,10.0000,4.0000,40.00\n1,0.0500,0.0500,\n"
        );
    }
}
