//! Groups compared, and shape on a number: people with what they lack left out, the tests, and the files of a result.

use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_geometry::{Topology, vector::scale};
use formkin_shape::Space;
use formkin_shape::compare::design::basis;
use formkin_shape::compare::{CompareParams, Comparison, Place, ShapeRegression, regress};
use formkin_stats::StatsError;
use ndarray::{Array2, Axis};
use serde::{Deserialize, Serialize};
use serde_json::json;

use crate::TaskError;
use crate::job::rows::People;
use crate::job::size::on_the_floor;

/// A result, and who could not take part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Told<T> {
    /// The result.
    pub result: T,
    /// People who take part.
    pub people: usize,
    /// People left out because a value is missing.
    pub left_out: Vec<String>,
}

/// Who has everything.
struct Chosen {
    kept: Vec<usize>,
    left_out: Vec<String>,
    y: Array2<f64>,
    covariates: Option<Array2<f64>>,
    headers: Vec<String>,
}

fn choose(people: &People, has: &dyn Fn(usize) -> bool, covariates: &[String]) -> Result<Chosen, TaskError> {
    let (headers, columns) = people.covariates(covariates)?;
    let whole = |i: usize| has(i) && columns.iter().all(|c| c[i].is_some());
    let (kept, lost): (Vec<usize>, Vec<usize>) = (0..people.names.len()).partition(|i| whole(*i));
    if kept.is_empty() {
        return Err(TaskError::Nothing {
            what: format!(
                "none of {} has a value in every column that is used",
                match people.names.len() {
                    1 => "1 person".to_owned(),
                    n => format!("{n} people"),
                }
            ),
            advice: "look into the columns, or name others".into(),
        });
    }
    let values = (!columns.is_empty()).then(|| {
        Array2::from_shape_fn((kept.len(), columns.len()), |(i, j)| columns[j][kept[i]].unwrap_or(0.0))
    });
    Ok(Chosen {
        y: people.coefficients.select(Axis(0), &kept),
        left_out: lost.into_iter().map(|i| people.names[i].clone()).collect(),
        kept,
        covariates: values,
        headers,
    })
}

/// Refuses columns of a model that say nothing, by their names. `columns` are named, in the order in which they are taken in.
fn telling(columns: &[(String, Vec<f64>)], whose: &str) -> Result<(), TaskError> {
    let n = columns.first().map_or(0, |c| c.1.len());
    let model = Array2::from_shape_fn(
        (n, columns.len() + 1),
        |(i, j)| if j == 0 { 1.0 } else { columns[j - 1].1[i] },
    );
    let nothing = Array2::zeros((n, 0));
    match basis(model.view(), nothing.view()) {
        Err(StatsError::Collinear { predictor }) if predictor > 0 => {
            let name = &columns[predictor - 1].0;
            let before: Vec<String> = columns[..predictor - 1].iter().map(|c| format!("`{}`", c.0)).collect();
            let follows = if before.is_empty() {
                String::new()
            } else {
                format!(", or follows from {}", before.join(", "))
            };
            Err(TaskError::Nothing {
                what: format!("`{name}` is the same for all {n} people{whose}{follows}"),
                advice: "leave it out".to_owned(),
            })
        }
        _ => Ok(()),
    }
}

/// The covariates by name.
fn named(chosen: &Chosen) -> Vec<(String, Vec<f64>)> {
    let columns =
        chosen.covariates.iter().flat_map(|c| c.axis_iter(Axis(1)).map(|v| v.to_vec()).collect::<Vec<_>>());
    chosen.headers.iter().cloned().zip(columns).collect()
}

fn numbered(words: &[String]) -> (Vec<usize>, Vec<String>) {
    let mut names = words.to_vec();
    names.sort_unstable();
    names.dedup();
    (words.iter().map(|w| names.iter().position(|n| n == w).unwrap_or(0)).collect(), names)
}

/// Compares the groups that a column makes.
///
/// # Errors
/// Unknown columns, and what [`CompareParams::compare`] refuses.
pub fn compare(
    space: &Space,
    people: &People,
    by: &str,
    covariates: &[String],
    params: &CompareParams,
) -> Result<Told<Comparison>, TaskError> {
    let words = people.groups("--by", by)?;
    let chosen = choose(people, &|i| words[i].is_some(), covariates)?;
    let own: Vec<String> = chosen.kept.iter().filter_map(|&i| words[i].clone()).collect();
    let (groups, names) = numbered(&own);
    let mut columns = named(&chosen);
    columns.extend(members(by, &groups, &names));
    telling(&columns, "")?;
    let given = chosen.covariates.as_ref().map(|c| (c.view(), chosen.headers.as_slice()));
    let result = params.compare(space, chosen.y.view(), &groups, &names, given)?;
    Ok(Told { result, people: own.len(), left_out: chosen.left_out })
}

/// Regresses shape on a column of numbers.
///
/// # Errors
/// Unknown columns, and what [`regress()`] refuses.
pub fn regress_on(
    space: &Space,
    people: &People,
    on: &str,
    by: Option<&str>,
    covariates: &[String],
    params: &CompareParams,
) -> Result<Told<ShapeRegression>, TaskError> {
    let numbers = people.numbers("--on", on)?;
    let words = by.map(|b| people.groups("--by", b)).transpose()?;
    let has = |i: usize| numbers[i].is_some() && words.as_ref().is_none_or(|w| w[i].is_some());
    let chosen = choose(people, &has, covariates)?;
    let x: Vec<f64> = chosen.kept.iter().filter_map(|&i| numbers[i]).collect();
    let own: Option<(Vec<usize>, Vec<String>)> =
        words.map(|w| numbered(&chosen.kept.iter().filter_map(|&i| w[i].clone()).collect::<Vec<_>>()));
    let groups = own.as_ref().map(|(g, n)| (g.as_slice(), n.as_slice()));
    let mut columns = named(&chosen);
    columns.extend(groups.iter().flat_map(|(g, n)| members(by.unwrap_or_default(), g, n)));
    columns.push((on.to_owned(), x.clone()));
    telling(&columns, "")?;
    for (group, name) in groups.iter().flat_map(|(_, n)| n.iter().enumerate()) {
        let rows: Vec<usize> = (0..x.len()).filter(|i| groups.is_some_and(|g| g.0[*i] == group)).collect();
        let mut own = named(&chosen);
        own.push((on.to_owned(), x.clone()));
        for column in &mut own {
            column.1 = rows.iter().map(|i| column.1[*i]).collect();
        }
        // groups of fewer people are refused for that
        if rows.len() > own.len() {
            telling(&own, &format!(" in `{name}`"))?;
        }
    }
    let given = chosen.covariates.as_ref().map(|c| (c.view(), chosen.headers.as_slice()));
    let result = regress(params, space, chosen.y.view(), (on, &x), groups, given)?;
    Ok(Told { result, people: x.len(), left_out: chosen.left_out })
}

/// One column a group but the first: 1 for its members.
fn members(by: &str, groups: &[usize], names: &[String]) -> Vec<(String, Vec<f64>)> {
    let one = |g: usize| groups.iter().map(|of| f64::from(u8::from(*of == g))).collect();
    names.iter().enumerate().skip(1).map(|(g, name)| (format!("{by} = {name}"), one(g))).collect()
}

/// A map over the vertices as CSV: effect in mm, p, q.
#[must_use]
pub fn place_csv(space: &Space, place: &Place) -> String {
    let mut csv = String::from("vertex,x_mm,y_mm,z_mm,effect_mm,p,q\n");
    for (v, m) in space.mean.iter().enumerate() {
        csv.push_str(&format!(
            "{v},{:.2},{:.2},{:.2},{:.6},{:.3e},{:.3e}\n",
            m[0], m[1], m[2], place.effect_mm[v], place.p[v], place.q[v]
        ));
    }
    csv
}

/// Blue where the effect goes inwards, orange where it goes outwards, as strong as `most_mm` allows; grey where it is no finding.
pub fn colors(place: &Place, most_mm: f64) -> Vec<[u8; 3]> {
    let blend = |to: [f64; 3], t: f64| -> [u8; 3] {
        std::array::from_fn(|k| (225.0 + (to[k] - 225.0) * t).round().clamp(0.0, 255.0) as u8)
    };
    place
        .effect_mm
        .iter()
        .zip(&place.q)
        .map(|(effect, q)| {
            if *q > place.level || most_mm <= 0.0 {
                return [190, 190, 190];
            }
            let t = (effect.abs() / most_mm).min(1.0);
            if *effect < 0.0 { blend([20.0, 80.0, 170.0], t) } else { blend([215.0, 95.0, 10.0], t) }
        })
        .collect()
}

/// The mean with one morph target a displacement, coloured by the map: glTF binary.
///
/// # Errors
/// Triangles that do not fit the mean.
pub fn effect_glb(
    space: &Space,
    place: &Place,
    targets: Vec<(String, Vec<formkin_geometry::Point>)>,
) -> Result<Vec<u8>, TaskError> {
    scene(space, place, targets, None)
}

/// The mean that moves along a slope: from the mean to 3 SD more of the number, to 3 SD less and back, coloured by where it is a finding: glTF binary with an animation.
///
/// # Errors
/// Triangles that do not fit the mean.
pub fn slope_glb(space: &Space, found: &ShapeRegression) -> Result<Vec<u8>, TaskError> {
    // 0, more, 0, less, 0 at even steps, in SDs of the two targets
    let weights = [(0.0, 0.0), (3.0, 0.0), (0.0, 0.0), (0.0, 3.0), (0.0, 0.0)];
    let animation = MorphAnimation {
        times_s: (0..weights.len()).map(|i| 1.5 * i as f64).collect(),
        weights: weights.iter().map(|(more, less)| vec![*more, *less]).collect(),
    };
    scene(space, &found.place, slope_targets(space, found), Some(animation))
}

fn scene(
    space: &Space,
    place: &Place,
    targets: Vec<(String, Vec<formkin_geometry::Point>)>,
    animation: Option<MorphAnimation>,
) -> Result<Vec<u8>, TaskError> {
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let base = on_the_floor(space.mean.clone());
    let most = place.effect_mm.iter().fold(0.0f64, |m, e| m.max(e.abs()));
    let scene = MorphScene {
        name: "effect".into(),
        topology: &topology,
        base: &base,
        targets,
        colors: Some(colors(place, most)),
        animation,
        extras: json!({
            "colour": if place.signed {
                "orange outwards, blue inwards, grey no finding"
            } else {
                "the stronger the orange the more groups differ, outwards or inwards; grey no finding"
            },
            "strongest_mm": most,
            "level_of_q": place.level,
        }),
    };
    Ok(morph_glb(&scene)?)
}

/// The body of each group as a morph target from the mean of the space.
#[must_use]
pub fn group_targets(space: &Space, comparison: &Comparison) -> Vec<(String, Vec<formkin_geometry::Point>)> {
    comparison
        .groups
        .iter()
        .zip(&comparison.means_mm)
        .map(|(name, c)| {
            let moved = space.reconstruct(c);
            let by = moved.iter().zip(&space.mean).map(|(a, b)| std::array::from_fn(|k| a[k] - b[k]));
            (name.clone(), by.collect())
        })
        .collect()
}

/// One SD more of the number, and one less, as morph targets.
#[must_use]
pub fn slope_targets(space: &Space, found: &ShapeRegression) -> Vec<(String, Vec<formkin_geometry::Point>)> {
    let more = found.displacement(space, found.sd);
    let less = more.iter().map(|p| scale(*p, -1.0)).collect();
    vec![
        (format!("{} + 1 SD ({:.3})", found.on, found.sd), more),
        (format!("{} - 1 SD ({:.3})", found.on, found.sd), less),
    ]
}
