//! The page of `formkin agree`: a table of the errors of every dimension, and the charts, in one file.

use std::fmt::Write as _;

use formkin_measure::agreement::{Comparison, LimitType, Verdict};

use crate::agreement::agreement_chart;
use crate::charts::escape;
use crate::format::{fixed, title_words};
use crate::single::{encoded, page};

/// Scan against hand as one page of HTML that needs nothing else.
#[must_use]
pub fn agreement_page(made: &Comparison) -> String {
    let mut body = String::new();
    let judged: Vec<_> = made.dimensions.iter().filter(|a| a.limit_mm.is_some()).collect();
    let within = judged.iter().filter(|a| a.verdict == Verdict::Within).count();
    let few = judged.iter().filter(|a| a.verdict == Verdict::TooFew).count();
    let people = if made.people == 1 { "1 person".to_owned() } else { format!("{} people", made.people) };
    let lead = if few == judged.len() {
        format!("No verdict: {people} are too few to judge by.")
    } else {
        format!("{within} of {} dimensions are within the limit of their mean error.", judged.len())
    };
    let _ = write!(
        body,
        "<header class=\"masthead\"><h1>Scan against hand</h1><p class=\"lead\">{people}, {} dimensions; errors are scan less hand, in mm.</p></header>\n\
         <div class=\"answer\" role=\"region\"><p class=\"sentence\"><b>{}</b></p><p class=\"qualify\">{}.</p></div>\n",
        made.dimensions.len(),
        escape(&lead),
        escape(&capital(&made.caution))
    );
    body.push_str(
        "<section><h2>Errors</h2><div class=\"scroll\" style=\"overflow-x:auto\"><table><thead><tr>",
    );
    for head in [
        "Dimension",
        "Type",
        "People",
        "Limit of the mean",
        "Mean error",
        "95 % interval of it",
        "SD",
        "Limits of agreement",
        "Mean absolute error",
        "TEM",
        "Verdict",
    ] {
        let _ = write!(body, "<th>{head}</th>");
    }
    body.push_str("</tr></thead><tbody>\n");
    let range = |(low, high): (f64, f64)| format!("{} to {}", fixed(low, 1), fixed(high, 1));
    for a in &made.dimensions {
        let verdict = match a.verdict {
            Verdict::Within => "within",
            Verdict::NotWithin => "not within",
            Verdict::TooFew => "too few people",
            Verdict::NoLimit => "no limit",
        };
        let cells = [
            a.limit_type.map_or("-", LimitType::name).to_owned(),
            a.n.to_string(),
            a.limit_mm.map_or_else(|| "-".to_owned(), |l| fixed(l, 0)),
            fixed(a.mean_error_mm, 1),
            range(a.interval_mm),
            fixed(a.sd_error_mm, 1),
            range(a.limits_of_agreement_mm),
            fixed(a.mean_absolute_error_mm, 1),
            fixed(a.tem_mm, 1),
            verdict.to_owned(),
        ];
        let _ = write!(body, "<tr><th scope=\"row\">{}</th>", escape(&title_words(&a.dimension, None)));
        for cell in cells {
            let _ = write!(body, "<td>{}</td>", escape(&cell));
        }
        body.push_str("</tr>\n");
    }
    body.push_str("</tbody></table></div>\n");
    let mut notes: Vec<String> = made
        .dimensions
        .iter()
        .flat_map(|a| a.notes.iter().map(|n| format!("{}: {n}", title_words(&a.dimension, None))))
        .collect();
    for (list, whose) in [(&made.only_scan, "the scans"), (&made.only_hand, "the table by hand")] {
        if !list.is_empty() {
            notes.push(format!(
                "{} in {whose} alone: {}",
                list.len(),
                list.iter().take(5).cloned().collect::<Vec<_>>().join(", ")
            ));
        }
    }
    if !made.not_scanned.is_empty() {
        notes.push(format!("not in the scans' table: {}", made.not_scanned.join(", ")));
    }
    if !notes.is_empty() {
        body.push_str("<h3>Notes</h3><ul>");
        for note in notes {
            let _ = write!(body, "<li>{}</li>", escape(&note));
        }
        body.push_str("</ul>");
    }
    body.push_str("</section>\n<section><h2>Errors by size</h2><p>Each dot is a person; lines are the mean error, its limits of agreement (mean less and plus 1.96 SD) and the limit of the standard, which the mean alone must keep.</p>\n");
    for a in &made.dimensions {
        let name = escape(&title_words(&a.dimension, None));
        let _ = writeln!(
            body,
            "<figure><img alt=\"{name}: scan less hand against their mean\" style=\"max-width:100%\" src=\"data:image/svg+xml,{}\"></figure>",
            encoded(&agreement_chart(a))
        );
    }
    body.push_str("</section>\n");
    page("Scan against hand", &body)
}

/// A sentence that begins with a capital.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use formkin_measure::Table;
    use formkin_measure::agreement::{CompareParams, compare};

    use super::*;

    #[test]
    fn the_page_holds_every_dimension_and_no_markup_of_others() {
        let rows = |off: f64| {
            let line = |i: i32| format!("p{i},{},{}\n", 1700.0 + 9.0 * f64::from(i) + off, 800 + i);
            format!("participant,stature_mm,<b>_mm\n{}", (0..45).map(line).collect::<String>())
        };
        let table = |off: f64| Table::parse_csv(&rows(off), "t", None).unwrap();
        let page = agreement_page(&compare(&table(2.0), &table(0.0), &CompareParams::default()).unwrap());
        assert!(page.contains("Scan against hand") && page.contains(">within<"), "{page}");
        assert!(!page.contains("<b>_mm") && !page.to_lowercase().contains("<b></th>"));
        assert_eq!(page.matches("<img ").count(), 2);
        assert_eq!(encoded("<a b>%"), "%3Ca b%3E%25");
    }
}
