//! The page of `formkin agree`: a table of the errors of every dimension, and the charts, in one file.

use formkin_measure::agreement::{Comparison, LimitType, Verdict};

use super::agreement::agreement_plot;
use crate::ReportError;
use crate::document::table::{Flag, Table, cell, number, text};
use crate::document::{Document, Front};
use crate::format::{capital, counted, fixed, title_words};

/// Scan against hand as one page of HTML that needs nothing else.
///
/// # Errors
/// [`ReportError`] where the page cannot be written.
pub fn agreement_page(made: &Comparison) -> Result<String, ReportError> {
    let judged: Vec<_> = made.dimensions.iter().filter(|a| a.limit_mm.is_some()).collect();
    let within = judged.iter().filter(|a| a.verdict == Verdict::Within).count();
    let few = judged.iter().filter(|a| a.verdict == Verdict::TooFew).count();
    let people = counted(made.people, "person", "people");
    let answer = if few == judged.len() {
        format!("No verdict: {people} are too few to judge by.")
    } else {
        format!("{within} of {} dimensions are within the limit of their mean error.", judged.len())
    };
    let mut page = Document::new("Scan against hand");
    let body = page.begin("errors", "Errors");
    body.table(errors(made));
    body.note(
        "Errors are scan less hand, in mm. The limits are those of ISO 20685-1 for each type of dimension (from memory; look them up before a verdict counts): the 95 % interval of the mean must \
         lie within. Limits of agreement are the mean less and plus 1.96 SD (Bland & Altman 1986): about 95 of 100 single errors lie between them. The technical error of measurement (TEM) is the \
         root of the mean squared difference over 2.",
    );
    let mut notes: Vec<String> = made
        .dimensions
        .iter()
        .flat_map(|a| a.notes.iter().map(|n| format!("{}: {n}.", title_words(&a.dimension, None))))
        .collect();
    for (list, whose) in [(&made.only_scan, "the scans"), (&made.only_hand, "the table by hand")] {
        if !list.is_empty() {
            let first = list.iter().take(5).cloned().collect::<Vec<_>>().join(", ");
            notes.push(format!("{} in {whose} alone: {first}.", list.len()));
        }
    }
    if !made.not_scanned.is_empty() {
        notes.push(format!("Not in the scans' table: {}.", made.not_scanned.join(", ")));
    }
    if !notes.is_empty() {
        body.heading("Notes");
        body.cautions(&notes);
    }
    let body = page.begin("by-size", "Errors by size");
    body.paragraph("Each dot is a person. Lines are the mean error, with its 95 % interval as a band, the limits of agreement, and the limit of the standard, which the mean alone must keep.");
    for (i, a) in made.dimensions.iter().enumerate() {
        body.figure(agreement_plot(&format!("agreement-{i}"), a).figure());
    }
    page.description = format!("{people}, {}.", counted(made.dimensions.len(), "dimension", "dimensions"));
    page.front = Some(Front {
        question: "Do the scans agree with measuring by hand?".to_owned(),
        sentence: answer,
        qualify: format!("{}.", capital(&made.caution)),
        ..Front::default()
    });
    crate::html::render(&page)
}

fn errors(made: &Comparison) -> Table {
    let mut table = Table::unnamed(
        "Errors of every dimension",
        vec![
            text("Dimension"),
            text("Verdict"),
            text("Type"),
            number("People", ""),
            number("Limit of the mean", "mm"),
            number("Mean error", "mm"),
            number("95 % interval", "mm"),
            number("SD", "mm"),
            number("Limits of agreement", "mm"),
            number("Mean absolute error", "mm"),
            number("TEM", "mm"),
        ],
    );
    let range = |(low, high): (f64, f64)| format!("{} to {}", fixed(low, 1), fixed(high, 1));
    for a in &made.dimensions {
        let verdict = match a.verdict {
            Verdict::Within => cell("within").flag(Flag::Warning),
            Verdict::NotWithin => cell("not within").flag(Flag::Error),
            Verdict::TooFew => cell("too few people").flag(Flag::Note),
            Verdict::NoLimit => cell("no limit").flag(Flag::Note),
        };
        table.row(vec![
            cell(title_words(&a.dimension, None)),
            verdict,
            cell(a.limit_type.map_or_else(|| "–".to_owned(), |t| LimitType::name(t).replace('-', " "))),
            cell(a.n.to_string()),
            cell(a.limit_mm.map_or_else(|| "–".to_owned(), |l| fixed(l, 0))),
            cell(fixed(a.mean_error_mm, 1)),
            cell(range(a.interval_mm)),
            cell(fixed(a.sd_error_mm, 1)),
            cell(range(a.limits_of_agreement_mm)),
            cell(fixed(a.mean_absolute_error_mm, 1)),
            cell(fixed(a.tem_mm, 1)),
        ]);
    }
    table
}

#[cfg(test)]
mod tests {
    use formkin_measure::agreement::{CompareParams, compare};
    use formkin_table::Table;

    use super::*;

    #[test]
    fn the_page_holds_every_dimension_and_no_markup_of_others() {
        let rows = |off: f64| {
            let line = |i: i32| format!("p{i},{},{}\n", 1700.0 + 9.0 * f64::from(i) + off, 800 + i);
            format!("participant,stature_mm,<b>_mm\n{}", (0..45).map(line).collect::<String>())
        };
        let table = |off: f64| Table::parse_csv(&rows(off), "t", None).unwrap();
        let made = compare(&table(2.0), &table(0.0), &CompareParams::default()).unwrap();
        let page = agreement_page(&made).unwrap();
        assert!(page.contains("Scan against hand") && page.contains(">within<"), "{page}");
        assert!(!page.contains("<b>_mm") && !page.to_lowercase().contains("<b></th>"));
        // for wide and for narrow pages
        assert_eq!(page.matches("<svg class=\"chart").count(), 4);
        assert!(page.contains("<main ") && !page.contains("<img"));
    }
}
