//! The tests in a table and in lines, and the painted body.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::view::{Painted, View};
use formkin_report::format::{about, counted, fixed, percent};
use formkin_shape::Space;
use formkin_shape::compare::{Anova, Place};

use super::Among;
use crate::figures::{chance, painted_on};

/// What the columns of [`anova_table`] are.
pub(crate) const ANOVA: &str = "R² is the share of the variation of shape that goes with the effect, F that share against what is left, each over its degrees of freedom (df: effect, rest). p is the share of permutations of people with \
                                an F as large, and Z how many SD the F lies above those of the permutations.";

/// The table of the tests.
pub(crate) fn anova_table(rows: &[(String, &Anova)]) -> Table {
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

/// A test in a line.
pub(crate) fn tested(name: &str, a: &Anova) -> String {
    let z = a.z.map_or_else(|| "-".to_owned(), |z| format!("{z:.2}"));
    format!(
        "{name}: R2 {:.3}, F({}, {}) {:.2}, Z {z}, p {:.4} ({} permutations of people, seed {})",
        a.r2, a.df_effect, a.df_residual, a.f, a.p, a.permutations, a.seed
    )
}

/// The last lines of an answer: where on the body, what limits the result.
pub(crate) fn tail<T>(space: &Space, place: &Place, effect: &str, made: &Among<T>, lines: &mut Vec<String>) {
    lines.push(format!(
        "on {:.0} % of the surface the effect is a finding (share of false ones held to {:.0} %)",
        100.0 * place.share,
        100.0 * place.level
    ));
    lines.push(format!("the effect is {effect}"));
    let unstable: Vec<String> = space.unstable_modes().iter().map(usize::to_string).collect();
    if !unstable.is_empty() {
        let list = unstable.join(", ");
        lines.push(format!("coefficients of unstable modes, not to be read one by one: {list}"));
    }
    if !made.left_out.is_empty() {
        lines.push(format!("left out for want of a value: {}", made.left_out.join(", ")));
    }
    lines.extend(made.notes.iter().map(|n| format!("note: {n}")));
}

/// How many people took part.
pub(crate) fn people<T>(made: &Among<T>) -> String {
    let people = counted(made.people, "person", "people");
    match made.left_out.len() {
        0 => people,
        n => format!("{people} ({} left out for want of a value)", counted(n, "person", "people")),
    }
}

/// What is said under a painted body of how it is coloured.
pub(crate) fn coloured(place: &Place) -> String {
    format!(
        "Coloured on the {} of the skin where the effect is a finding (F test at every vertex; the share of false findings is held to {}); grey elsewhere. Tangential differences are not in the colour.",
        percent(place.share),
        percent(place.level)
    )
}

/// The mean of the space, painted with what is a finding of a result.
pub(crate) fn painted(space: &Space, place: &Place, what: Painted) -> View {
    let finding = |(effect, q): (&f64, &f64)| if *q <= place.level { *effect } else { 0.0 };
    painted_on(&space.mean, place.effect_mm.iter().zip(&place.q).map(finding).collect(), what)
}
