//! What a reader is shown: the tests, where on the body, the error of classification.

use std::sync::Arc;

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::view::Painted;
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, list, percent, words};
use formkin_shape::Space;
use formkin_shape::compare::{Comparison, Pair};

use super::CompareSettings;
use crate::figures::chance;
use crate::groups::{self, ANOVA, Among, anova_table, coloured, moved, painted, tail, tested};

/// The section, with its answer: the one of so many.
pub(super) fn section(
    settings: &CompareSettings,
    space: &Space,
    made: &Among<Comparison>,
    (at, of): (usize, usize),
) -> Section {
    let mut body = Body::default();
    if of > 1 {
        body.heading(&format!("By {}", words(&settings.by, None)));
    }
    comparison(&mut body, settings, space, made, at);
    Section {
        id: "groups".to_owned(),
        title: "How groups differ".to_owned(),
        answer: answer(settings, space, made),
        body,
        ..Section::default()
    }
}

fn answer(settings: &CompareSettings, space: &Space, made: &Among<Comparison>) -> Vec<String> {
    let found = &made.result;
    let sizes: Vec<String> =
        found.groups.iter().zip(&found.people).map(|(g, n)| format!("{g} {n}")).collect();
    let mut lines = vec![format!("{} people by {}: {}", made.people, settings.by, sizes.join(", "))];
    if !found.covariates.is_empty() {
        lines.push(format!("held fixed, but not in the classification: {}", found.covariates.join(", ")));
    }
    lines.push(tested("groups", &found.anova));
    lines.extend(found.pairs.iter().map(|p| pair(p, found.pairs.len() > 1)));
    if found.pairs.len() > 1 {
        lines.push(format!(
            "p of pairs is of each alone; Holm's holds the chance of any false one among all {}",
            found.pairs.len()
        ));
    }
    let c = &found.classification;
    lines.push(format!(
        "classified by shape with {:.1} % error ({:.1} to {:.1}, 95 %), people held out; naming the largest group: {:.1} %",
        100.0 * c.error,
        100.0 * c.interval.0,
        100.0 * c.interval.1,
        100.0 * c.error_of_the_largest_group
    ));
    tail(space, &found.place, &found.effect, made, &mut lines);
    lines
}

/// Two groups in a line.
fn pair(pair: &Pair, several: bool) -> String {
    let h = &pair.hotelling;
    let few = if h.enough_people { "" } else { " (few people for so many modes)" };
    let all = if several { format!(" ({} by Holm)", exact(pair.p_holm)) } else { String::new() };
    format!(
        "{} and {}: {:.1} mm RMS apart; T2 {:.2}, F({}, {}) {:.2}, p {}{all}{few}",
        pair.first,
        pair.second,
        pair.distance_mm,
        h.t2,
        h.df1,
        h.df2,
        h.f,
        exact(h.p)
    )
}

/// A probability of a distribution, which may be very small.
fn exact(p: f64) -> String {
    if p < 1e-4 { format!("{p:.2e}") } else { format!("{p:.4}") }
}

fn comparison(
    body: &mut Body,
    settings: &CompareSettings,
    space: &Space,
    made: &Among<Comparison>,
    which: usize,
) {
    let found = &made.result;
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
        groups::people(made),
        words(&settings.by, None),
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
            triangles: Arc::from(space.triangles.as_slice()),
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
        "Classified by shape with {} error on people held out ({} to {}, 95 %); naming the largest group always errs in {}. {} coefficients, {} folds; modes are of everyone.",
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

#[cfg(test)]
mod tests {
    use super::*;
    use formkin_report::document::Document;
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
        formkin_report::html::render(&page).unwrap()
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
