//! The chart of agreement of two ways of measuring: error against size (Bland & Altman 1986).

use formkin_measure::agreement::Agreement;

use crate::charts::{self, Axis, Layer, Mark, Plot};
use crate::format::{counted, fixed, title_words};

/// The error of every person against the mean of both ways, with the mean error, the limits of agreement and the limit of the standard, as an
/// SVG file.
#[must_use]
pub fn agreement_chart(agreement: &Agreement) -> String {
    let mut plot = agreement_plot("agreement", agreement);
    // a file has no page to say it
    plot.y.label.push_str("; the band is the 95 % interval of the mean");
    charts::file(&plot)
}

/// The same before it is drawn.
pub(crate) fn agreement_plot(id: &str, agreement: &Agreement) -> Plot {
    let a = agreement;
    let name = title_words(&a.dimension, None);
    let mut plot = Plot::new(
        id,
        format!("{name}: scan less hand, against the mean of both"),
        Axis::new(format!("{name}, mean of scan and hand, mm")),
        Axis::new(format!("scan less hand, mm ({})", counted(a.n, "person", "people"))),
    );
    plot.reading = format!(
        "{name}: mean error {} mm; 95 % of single errors between {} and {} mm.",
        fixed(a.mean_error_mm, 1),
        fixed(a.limits_of_agreement_mm.0, 1),
        fixed(a.limits_of_agreement_mm.1, 1)
    );
    let (low, high) = a
        .pairs
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p.mean_mm), h.max(p.mean_mm)));
    let (ci_low, ci_high) = a.interval_mm;
    plot.layers
        .push(Layer::Band { class: "s1", points: vec![(low, ci_low, ci_high), (high, ci_low, ci_high)] });
    plot.layers.push(Layer::Marks {
        class: "s1",
        mark: Mark::Dot,
        points: a.pairs.iter().map(|p| (p.mean_mm, p.error_mm)).collect(),
    });
    let mut level =
        |class: &'static str, at: f64, text: String| plot.layers.push(Layer::Level { class, at, text });
    level("s1", a.mean_error_mm, format!("mean {} mm", fixed(a.mean_error_mm, 1)));
    level(
        "muted",
        a.limits_of_agreement_mm.0,
        format!("mean − 1.96 SD: {} mm", fixed(a.limits_of_agreement_mm.0, 1)),
    );
    level(
        "muted",
        a.limits_of_agreement_mm.1,
        format!("mean + 1.96 SD: {} mm", fixed(a.limits_of_agreement_mm.1, 1)),
    );
    if let Some(limit) = a.limit_mm {
        level("alert", limit, String::new());
        level("alert", -limit, format!("limit of the mean: ±{} mm", fixed(limit, 0)));
    }
    plot
}

#[cfg(test)]
mod tests {
    use formkin_measure::agreement::{CompareParams, compare};
    use formkin_table::Table;

    use super::*;

    #[test]
    fn the_chart_is_a_file_of_its_own() {
        let table = |shift: f64| {
            let rows: String = (0..50)
                .map(|i| format!("P{i},{}\n", 900.0 + f64::from(i) + shift * f64::from(i % 5)))
                .collect();
            Table::parse_csv(&format!("id,chest_girth_mm\n{rows}"), "t", None).unwrap()
        };
        let made = compare(&table(2.0), &table(0.0), &CompareParams::default()).unwrap();
        let svg = agreement_chart(&made.dimensions[0]);
        assert!(
            svg.starts_with("<svg xmlns=") && svg.trim_end().ends_with("</svg>") && svg.contains("<style>")
        );
        assert_eq!(svg.matches("<svg").count(), 1);
        assert!(!svg.contains("NaN") && svg.contains("limit of the mean: ±9 mm"));
    }
}
