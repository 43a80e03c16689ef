//! What a reader is shown: the errors of every dimension and their charts, or how well one way of measuring repeats.

use formkin_measure::agreement::{Agreement, Comparison, LimitType, Repeatability, Verdict};
use formkin_report::charts::{Axis, Layer, Mark, Plot};
use formkin_report::document::table::{Flag, Table, cell, number, text};
use formkin_report::document::{Body, Front, Section};
use formkin_report::format::{about, capital, count, counted, fixed, title_words};

use super::AgreeOutcome;
use super::answer::{of_errors, of_repeats};
use crate::sentence::sentence;

/// The sections, with their answers.
pub(super) fn sections(made: &AgreeOutcome) -> Vec<Section> {
    match made {
        AgreeOutcome::Compared(made) => vec![
            Section { answer: of_errors(made), body: errors(made), ..Section::new("errors", "Errors") },
            Section { body: by_size(made), ..Section::new("by-size", "Errors by size") },
        ],
        AgreeOutcome::Repeated(made) => vec![Section {
            answer: of_repeats(made),
            body: repeats(made),
            ..Section::new("repeatability", "How well measuring repeats")
        }],
    }
}

/// Who was compared in what.
pub(super) fn whom(made: &Comparison) -> String {
    let people = counted(made.people, "person", "people");
    format!("{people}, {}.", counted(made.dimensions.len(), "dimension", "dimensions"))
}

/// The answer at the top; none for repeats.
pub(super) fn front(made: &AgreeOutcome) -> Option<Front> {
    let AgreeOutcome::Compared(made) = made else { return None };
    let judged: Vec<_> = made.dimensions.iter().filter(|a| a.limit_mm.is_some()).collect();
    let within = judged.iter().filter(|a| a.verdict == Verdict::Within).count();
    let few = judged.iter().filter(|a| a.verdict == Verdict::TooFew).count();
    Some(Front {
        question: "Do the scans agree with measuring by hand?".to_owned(),
        sentence: if few == judged.len() {
            format!("No verdict: {} are too few to judge by.", counted(made.people, "person", "people"))
        } else {
            format!("{within} of {} dimensions are within the limit of their mean error.", judged.len())
        },
        qualify: format!("{}.", capital(&made.caution)),
        ..Front::default()
    })
}

fn errors(made: &Comparison) -> Body {
    let mut body = Body::default();
    body.table(errors_table(made));
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
    body
}

fn by_size(made: &Comparison) -> Body {
    let mut body = Body::default();
    body.paragraph("Each dot is a person. Lines are the mean error, with its 95 % interval as a band, the limits of agreement, and the limit of the standard, which the mean alone must keep.");
    for (i, a) in made.dimensions.iter().enumerate() {
        body.figure(plot(&format!("agreement-{i}"), a).figure());
    }
    body
}

fn errors_table(made: &Comparison) -> Table {
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

/// The error of every person against the mean of both ways, with the mean error, the limits of agreement and the limit of the standard (Bland & Altman 1986).
pub(super) fn plot(id: &str, a: &Agreement) -> Plot {
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

fn repeats(made: &[Repeatability]) -> Body {
    let mut body = Body::default();
    let mut table = Table::unnamed(
        "How well every dimension repeats",
        vec![
            text("Dimension"),
            number("People", ""),
            number("Values", ""),
            number("Mean", ""),
            number("TEM", ""),
            number("95 % interval", ""),
            number("TEM", "% of the mean"),
            number("Reliability", ""),
            number("Intraclass correlation", ""),
            number("Least detectable change", ""),
        ],
    );
    let given = |x: Option<f64>, decimals: usize| match x {
        Some(x) => cell(fixed(x, decimals)),
        None => cell("–").suppressed(),
    };
    for r in made {
        let name = title_words(&r.dimension, None);
        table.row(vec![
            cell(r.unit.as_ref().map_or_else(|| name.clone(), |u| format!("{name}, {u}"))).keep(),
            cell(count(r.people)),
            cell(count(r.values)),
            cell(fixed(r.mean, 1)),
            cell(about(r.tem, 3)),
            cell(format!("{} to {}", about(r.tem_interval.0, 3), about(r.tem_interval.1, 3))),
            given(r.tem_percent, 2),
            given(r.reliability, 3),
            given(r.icc_agreement.or(r.icc_one_way.map(|i| i.value)), 3),
            cell(about(r.least_detectable_change, 3)),
        ]);
    }
    body.table(table);
    body.note(
        "TEM: technical error of measurement. The intraclass correlation is that for absolute agreement, ICC(2,1); the one-way one where sessions are missing. A smaller change of a person than the \
         least detectable one, 2.77 TEM, cannot be distinguished from error.",
    );
    let notes: Vec<String> = made
        .iter()
        .flat_map(|r| r.notes.iter().map(|n| sentence(&format!("{}: {n}", title_words(&r.dimension, None)))))
        .collect();
    body.cautions(&notes);
    body
}
