//! Groups compared, and shape on a number: the tests, where on the body, the error of telling groups apart.

use formkin_geometry::Point;
use formkin_shape::Space;
use formkin_shape::compare::{Anova, Comparison, Pair, Place, ShapeRegression};

use super::people_map::name_and_unit;
use crate::document::Body;
use crate::document::table::{Table, cell, number, text};
use crate::document::view::{Painted, Triangles, View};
use crate::format::{about, capital, count, counted, fixed, list, percent, words};
use crate::{NamedResult, ShapePart};

/// A probability as it is printed.
pub(crate) fn chance(p: f64) -> String {
    if p < 0.0001 { "<0.0001".to_owned() } else { fixed(p, if p < 0.1 { 4 } else { 2 }) }
}

/// The section on groups.
pub(crate) fn compared(part: &ShapePart<'_>, space: &Space, triangles: &Triangles) -> Option<Body> {
    if part.comparisons.is_empty() {
        return None;
    }
    let mut body = Body::default();
    for (i, c) in part.comparisons.iter().enumerate() {
        if part.comparisons.len() > 1 {
            body.heading(&format!("By {}", words(c.name, None)));
        }
        comparison(&mut body, c, space, triangles, i);
    }
    Some(body)
}

/// The section on numbers.
pub(crate) fn regressed(part: &ShapePart<'_>, space: &Space, triangles: &Triangles) -> Option<Body> {
    if part.regressions.is_empty() {
        return None;
    }
    let mut body = Body::default();
    for (i, r) in part.regressions.iter().enumerate() {
        if part.regressions.len() > 1 {
            body.heading(&capital(&name_and_unit(r.name).0));
        }
        regression(&mut body, r, space, triangles, i);
    }
    body.note("A slope is a tendency among these people, not a cause, and says little beyond the range that was measured.");
    Some(body)
}

/// What the columns of [`anova_table`] are.
const ANOVA: &str = "R² is the share of the variation of shape that goes with the effect, F that share against what is left, each over its degrees of freedom (df: effect, rest). p is the share of permutations of people with \
                     an F as large, and Z how many SD the F lies above those of the permutations.";

fn anova_table(rows: &[(String, &Anova)]) -> Table {
    let mut table = Table::new(
        "Procrustes analysis of variance",
        vec![
            text("Effect"),
            number("R²", ""),
            number("F", ""),
            number("df", ""),
            number("Z", ""),
            number("p", ""),
        ],
    );
    for (name, a) in rows {
        table.row(vec![
            cell(name.clone()),
            cell(fixed(a.r2, 3)),
            cell(about(a.f, 2)),
            cell(format!("{}, {}", a.df_effect, a.df_residual)),
            cell(a.z.map_or_else(|| "\u{2013}".to_owned(), |z| fixed(z, 2))),
            cell(chance(a.p)),
        ]);
    }
    table
}

/// The map, as far as it is a finding.
fn findings(place: &Place) -> Vec<f64> {
    place
        .effect_mm
        .iter()
        .zip(&place.q)
        .map(|(effect, q)| if *q <= place.level { *effect } else { 0.0 })
        .collect()
}

fn people(n: usize, left_out: usize) -> String {
    let people = counted(n, "person", "people");
    if left_out == 0 {
        people
    } else {
        format!("{people} ({} left out for want of a value)", counted(left_out, "person", "people"))
    }
}

fn comparison(
    body: &mut Body,
    named: &NamedResult<'_, Comparison>,
    space: &Space,
    triangles: &Triangles,
    which: usize,
) {
    let found = named.result;
    let sizes: Vec<String> =
        found.groups.iter().zip(&found.people).map(|(g, n)| format!("{g} ({})", count(*n))).collect();
    let fixed_columns = if found.covariates.is_empty() {
        "nothing held fixed".to_owned()
    } else {
        format!("{} held fixed", list(&found.covariates))
    };
    let a = &found.anova;
    body.paragraph(&format!(
        "{}, in groups by {}: {}; {fixed_columns}. Groups explain {} of the variation of shape; {} (p {}, {} permutations of people). The test is of the people measured here, and as good as they stand for others.",
        people(named.people, named.left_out),
        words(named.name, None),
        list(&sizes),
        percent(a.r2),
        if a.p <= 0.05 { "that is more than chance gives" } else { "chance may give as much" },
        chance(a.p),
        count(a.permutations)
    ));
    let effect = match found.groups.as_slice() {
        [first, second] => {
            format!("Colour: how far {second} stand out beyond {first}, along the skin's outward direction")
        }
        _ => "Colour: how far groups differ (root mean square)".to_owned(),
    };
    body.view(painted(
        space,
        &found.place,
        Painted {
            id: format!("formkin-groups-{which}"),
            triangles: triangles.clone(),
            morphs: found
                .groups
                .iter()
                .zip(&found.means_mm)
                .map(|(g, c)| (format!("Towards {g}"), moved(space, c)))
                .collect(),
            legend: "Move the mean towards a group".to_owned(),
            unit: "times".to_owned(),
            low: 0.0,
            high: 2.0,
            colour: effect,
            hint: format!(
                "1 is the mean body of the group, 2 twice as far from the mean of all. {}",
                coloured(&found.place)
            ),
            ..Painted::default()
        },
    ));
    body.table(anova_table(&[("groups".to_owned(), a)]));
    body.note(ANOVA);
    every_two(body, &found.pairs, found.params.modes, &found.covariates);
    let c = &found.classification;
    body.note(&format!(
        "Told apart by shape with {} error on people held out ({} to {}, 95 %); naming the largest group always errs in {}. {} coefficients, {} folds; modes are of everyone.",
        percent(c.error),
        percent(c.interval.0),
        percent(c.interval.1),
        percent(c.error_of_the_largest_group),
        c.modes,
        c.folds
    ));
    let mut inside = Body::default();
    let mut columns = vec![text("Group")];
    columns.extend(found.groups.iter().map(|g| number(format!("as {g}"), "")));
    let mut confusion = Table::new("People held out, by the group they were put into", columns);
    for (g, row) in found.groups.iter().zip(&c.confusion) {
        let mut cells = vec![cell(g.clone())];
        cells.extend(row.iter().map(|n| cell(count(*n))));
        confusion.row(cells);
    }
    inside.table(confusion);
    body.folded("Who is taken for whom", inside);
}

/// The table of pairs of groups; with several pairs each p stands beside Holm's.
fn every_two(body: &mut Body, found: &[Pair], modes: usize, covariates: &[String]) {
    let several = found.len() > 1;
    let mut columns = vec![
        text("Groups"),
        number("Means apart", "mm"),
        number("T²", ""),
        number("F", ""),
        number("df", ""),
        number("p", ""),
    ];
    if several {
        columns.push(number("p, Holm", ""));
    }
    let equal = if covariates.is_empty() {
        String::new()
    } else {
        format!(", at equal covariates ({})", list(covariates))
    };
    let mut pairs = Table::new(
        format!(
            "Every two groups, by Hotelling's T² on the first {}{equal}",
            counted(modes, "coefficient", "coefficients")
        ),
        columns,
    );
    for p in found {
        let h = &p.hotelling;
        let few = if h.enough_people { "" } else { "few people for so many coefficients" };
        let mut row = vec![
            cell(format!("{} and {}", p.first, p.second)).quiet(few),
            cell(fixed(p.distance_mm, 1)),
            cell(about(h.t2, 1)),
            cell(about(h.f, 2)),
            cell(format!("{}, {}", h.df1, h.df2)),
            cell(chance(h.p)),
        ];
        if several {
            row.push(cell(chance(p.p_holm)));
        }
        pairs.row(row);
    }
    body.table(pairs);
    if several {
        body.note("p is of the pair alone; Holm's is corrected for all pairs of this table, and the one to judge a pair by that was not chosen before.");
    }
    if !covariates.is_empty() {
        body.note("Means apart, T², F and p are of one linear model of all groups, at equal covariates, with the spread that it leaves.");
    }
}

fn regression(
    body: &mut Body,
    named: &NamedResult<'_, ShapeRegression>,
    space: &Space,
    triangles: &Triangles,
    which: usize,
) {
    let found = named.result;
    let (name, unit) = name_and_unit(named.name);
    let a = &found.anova;
    let mut held: Vec<String> = found.covariates.clone();
    if !found.groups.is_empty() {
        held.push(format!("groups ({})", found.groups.join(", ")));
    }
    body.paragraph(&format!(
        "{}; {name} {} {unit} on average (SD {} {unit}){}. One SD more of it moves the skin {} mm (root mean square). It explains {} of the variation of shape, and {} (p {}, {} permutations of people).",
        people(named.people, named.left_out),
        about(found.mean, 2),
        about(found.sd, 2),
        if held.is_empty() { String::new() } else { format!("; held fixed: {}", list(&held)) },
        about(found.effect_of_one_sd_mm, 2),
        percent(a.r2),
        if a.p <= 0.05 { "that is more than chance gives" } else { "chance may give as much" },
        chance(a.p),
        count(a.permutations)
    ));
    let one = found.displacement(space, found.sd);
    let place = Place {
        effect_mm: found.place.effect_mm.iter().map(|e| e * found.sd).collect(),
        ..found.place.clone()
    };
    body.view(painted(
        space,
        &place,
        Painted {
            id: format!("formkin-slope-{which}"),
            triangles: triangles.clone(),
            morphs: vec![(capital(&name), one)],
            legend: "Move the mean along the slope".to_owned(),
            unit: "SD".to_owned(),
            low: -3.0,
            high: 3.0,
            colour: format!("Colour: what one SD more of {name} does, along the skin's outward direction"),
            hint: format!("From 3 SD less to 3 SD more than the mean. {}", coloured(&place)),
            ..Painted::default()
        },
    ));
    let mut rows = vec![(name.clone(), a)];
    if let Some(slopes) = &found.equal_slopes {
        rows.push((format!("other slopes in other groups ({})", found.groups.join(", ")), slopes));
    }
    body.table(anova_table(&rows));
    body.note(ANOVA);
    if let Some(slopes) = &found.equal_slopes {
        body.note(&if slopes.p <= 0.05 {
            format!(
                "Slopes differ between groups (p {}): one slope for all does not tell the whole.",
                chance(slopes.p)
            )
        } else {
            format!("No sign that slopes differ between groups (p {}).", chance(slopes.p))
        });
    }
}

fn moved(space: &Space, coefficients: &[f64]) -> Vec<Point> {
    let moved = space.reconstruct(coefficients);
    moved.iter().zip(&space.mean).map(|(a, b)| std::array::from_fn(|k| a[k] - b[k])).collect()
}

fn coloured(place: &Place) -> String {
    format!(
        "Coloured on the {} of the skin where the effect is a finding (F test at every vertex; the share of false findings is held to {}); grey elsewhere. Tangential differences are not in the colour.",
        percent(place.share),
        percent(place.level)
    )
}

/// The mean of the space, painted with what is a finding of a result.
fn painted(space: &Space, place: &Place, what: Painted) -> View {
    painted_on(&space.mean, findings(place), what)
}

/// A body painted with a result.
pub(crate) fn painted_on(mean: &[Point], values: Vec<f64>, what: Painted) -> View {
    View::Painted(Painted {
        label: format!("The mean body, coloured: {}.", what.colour),
        mean: mean.to_vec(),
        values,
        instead: "The body of this result is in effect.glb beside the report: this page has no room for it."
            .to_owned(),
        ..what
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Document;
    use formkin_shape::compare::Hotelling;

    fn pair(first: &str, p: f64, p_holm: f64) -> Pair {
        let hotelling =
            Hotelling { t2: 9.0, f: 3.0, df1: 2, df2: 30, p, people: vec![20, 20], enough_people: true };
        Pair { first: first.to_owned(), second: "c".to_owned(), hotelling, p_holm, distance_mm: 4.0 }
    }

    fn page(pairs: &[Pair], covariates: &[String]) -> String {
        let mut body = Body::default();
        every_two(&mut body, pairs, 2, covariates);
        let mut page = Document::new("");
        *page.begin("pairs", "") = body;
        crate::html::render(&page).unwrap()
    }

    #[test]
    fn several_pairs_stand_with_the_corrected_p_and_the_covariates_held() {
        let two = [pair("a", 0.02, 0.0456), pair("b", 0.5, 0.5)];
        let page_of_two = page(&two, &["age_years".to_owned()]);
        assert!(page_of_two.contains("0.0456") && page_of_two.contains("Holm"), "{page_of_two}");
        assert!(page_of_two.contains("at equal covariates (age_years)"), "{page_of_two}");
        assert!(!page_of_two.contains("not corrected"));
        let one = page(&two[..1], &[]);
        assert!(!one.contains("Holm") && !one.contains("covariates"), "{one}");
    }
}
