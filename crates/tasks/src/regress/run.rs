//! People and a column of numbers to the slope.

use formkin_cohort::gltf::MorphAnimation;
use formkin_geometry::Point;
use formkin_geometry::vector::scale;
use formkin_shape::Space;
use formkin_shape::compare::{ShapeRegression, regress};

use super::RegressSettings;
use crate::TaskError;
use crate::groups::{Among, choose, members, named, numbered, scene, telling};
use crate::people::People;

/// Regresses shape on a column of numbers.
///
/// # Errors
/// Unknown columns, and what [`regress()`](formkin_shape::compare::regress()) refuses.
pub fn regress_on(
    space: &Space,
    people: &People,
    settings: &RegressSettings,
) -> Result<Among<ShapeRegression>, TaskError> {
    let (on, by) = (settings.on.as_str(), settings.by.as_deref());
    let numbers = people.numbers("on", on)?;
    let words = by.map(|b| people.groups("by", b)).transpose()?;
    let has = |i: usize| numbers[i].is_some() && words.as_ref().is_none_or(|w| w[i].is_some());
    let chosen = choose(people, &has, &settings.covariate)?;
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
    let result = regress(&settings.params(), space, chosen.y.view(), (on, &x), groups, given)?;
    Ok(Among::new(result, x.len(), chosen.left_out, settings.permutations))
}

/// The mean that moves along a slope: from the mean to 3 SD more of the number, to 3 SD less and back, coloured by where it is a finding: glTF binary with an animation.
///
/// # Errors
/// Triangles that do not fit the mean.
pub(super) fn glb(space: &Space, found: &ShapeRegression) -> Result<Vec<u8>, TaskError> {
    // 0, more, 0, less, 0 at even steps, in SDs of the two targets
    let weights = [(0.0, 0.0), (3.0, 0.0), (0.0, 0.0), (0.0, 3.0), (0.0, 0.0)];
    let animation = MorphAnimation {
        times_s: (0..weights.len()).map(|i| 1.5 * i as f64).collect(),
        weights: weights.iter().map(|(more, less)| vec![*more, *less]).collect(),
    };
    scene(space, &found.place, slope_targets(space, found), Some(animation))
}

/// One SD more of the number, and one less, as morph targets.
fn slope_targets(space: &Space, found: &ShapeRegression) -> Vec<(String, Vec<Point>)> {
    let more = found.displacement(space, found.sd);
    let less = more.iter().map(|p| scale(*p, -1.0)).collect();
    vec![
        (format!("{} + 1 SD ({:.3})", found.on, found.sd), more),
        (format!("{} - 1 SD ({:.3})", found.on, found.sd), less),
    ]
}
