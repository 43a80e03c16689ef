//! What a reader is shown: how drawn bodies stand beside people.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, percent, percent_interval, unit, words};

use formkin_shape::sample::{DimensionMarginal, SampleReport};

use super::{SampleOutcome, SampleSettings};

/// The section, with its answer.
pub(super) fn section(settings: &SampleSettings, found: &SampleOutcome) -> Section {
    Section {
        id: "drawn".to_owned(),
        title: "Drawn bodies".to_owned(),
        answer: answer(settings, found),
        body: body(found),
        ..Section::default()
    }
}

fn answer(settings: &SampleSettings, found: &SampleOutcome) -> Vec<String> {
    let report = &found.report;
    let privacy = &report.privacy;
    let mut lines = vec![format!(
        "{} bodies from {} draws, like {} people in {} modes, seed {}",
        found.samples.coefficients.len(),
        found.samples.tries,
        report.people,
        found.modes,
        settings.seed
    )];
    for (reason, n) in &found.samples.refused {
        lines.push(format!("  drawn again {n} times because {reason}"));
    }
    if found.density.components.len() > 1 || !found.density.scores.is_empty() {
        for c in &found.density.components {
            let own = found.origins.iter().filter(|o| **o == c.name).count();
            lines.push(format!("  {}: {:.0} % of people, {own} bodies", c.name, 100.0 * c.share));
        }
    }
    for s in &found.density.scores {
        lines.push(format!(
            "  {} components: BIC {:.0}, log density of people held out {:.2} (SE {:.2})",
            s.components, s.bic, s.held_out, s.held_out_se
        ));
    }
    lines.push(format!(
        "nearest person: median {:.1} mm RMS; between people {:.1} mm; {:.1} % of bodies are nearer than 99 % of people are to each other ({:.1} to {:.1})",
        privacy.nearest_mm[3],
        privacy.nearest_between_people_mm[3],
        100.0 * privacy.closer_than_people,
        100.0 * privacy.closer_than_people_95.0,
        100.0 * privacy.closer_than_people_95.1
    ));
    if let Some((like, mm)) = privacy.like_a_repeat.zip(privacy.repeat_mm) {
        lines.push(format!(
            "{} as near to a person as a repeated scan of that person is ({mm:.1} mm)",
            if like == 1 { "1 body is".to_owned() } else { format!("{like} bodies are") }
        ));
    }
    lines.push(format!(
        "specificity {:.2} mm (SE {:.2}); correlations of coefficients differ by at most {:.2} (chance alone: {:.2})",
        report.specificity_mm,
        report.specificity_se_mm,
        report.largest_correlation_difference,
        report.largest_correlation_by_chance
    ));
    beside(found, &mut lines);
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines
}

/// Dimensions, crossings and the target beside what was wanted.
fn beside(found: &SampleOutcome, lines: &mut Vec<String>) {
    if let Some(c) = &found.correlations {
        let off = found.marginals.iter().filter(|m| m.ks > m.ks_limit).count();
        lines.push(format!(
            "dimensions: {off} of {} differ in distribution from the people's (5 %); correlations differ by {:.2} RMS (chance alone: {:.2})",
            found.marginals.len(),
            c.rms_difference,
            c.se
        ));
    }
    if let Some(c) = &found.crossings {
        lines.push(format!(
            "triangles that cross others: median {:.0} on bodies, {:.0} on people; more than {:.0} are refused",
            c.bodies[0], c.people[0], c.limit
        ));
    }
    if let Some(t) = &found.target {
        lines.push(format!("target: a pool of {} bodies, worth {:.0} equal ones", t.pool, t.n_eff));
        for m in &t.margins {
            let unit = found.marginals.iter().find(|d| d.name == m.dimension).and_then(|d| d.unit.as_ref());
            lines.push(format!(
                "  {} {}{}: asked {:.1}, pool {:.1}, bodies {:.1}",
                m.dimension,
                m.what,
                unit.map_or_else(String::new, |u| format!(" ({u})")),
                m.target,
                m.pool,
                m.picked.unwrap_or(f64::NAN)
            ));
        }
    }
}

fn body(found: &SampleOutcome) -> Body {
    let mut body = Body::default();
    let SampleOutcome { report, samples, modes, .. } = found;
    let refused: usize = samples.refused.values().sum();
    body.paragraph(&format!(
        "{} were drawn from the first {} of {}, truncated jointly to the region that holds {} of people; {} of {} draws were refused. Drawn bodies are no people, but they are made from people.",
        counted(report.bodies, "body", "bodies"),
        counted(*modes, "mode", "modes"),
        counted(report.people, "person", "people"),
        percent(samples.params.confidence),
        count(refused),
        count(samples.tries)
    ));
    let reasons: Vec<String> =
        samples.refused.iter().map(|(why, n)| format!("{}: {}", count(*n), why)).collect();
    body.remarks(&reasons);
    privacy(&mut body, report);
    coefficients(&mut body, found);
    dimensions(&mut body, &found.marginals);
    body.remarks(&found.notes);
    body
}

/// Whether bodies give anybody away.
fn privacy(body: &mut Body, report: &SampleReport) {
    let p = &report.privacy;
    body.paragraph(&format!(
        "Do they give anybody away? {} of the bodies ({}, 95 %) lie nearer to a person than 99 % of people lie to any other; bodies that know of nobody would give about 1 %. A body lies {} mm from the nearest person (median), \
         a person {} mm from the nearest other.{}",
        percent(p.closer_than_people),
        percent_interval(p.closer_than_people_95),
        fixed(p.nearest_mm[3], 1),
        fixed(p.nearest_between_people_mm[3], 1),
        match (p.repeat_mm, p.like_a_repeat) {
            (Some(mm), Some(n)) => format!(
                " A repeated scan lies {} mm from its person's mean body (median), and {} drawn so near to anybody.",
                fixed(mm, 1),
                if n == 1 { "1 body was".to_owned() } else { format!("{} bodies were", count(n)) }
            ),
            _ => String::new(),
        }
    ));
    let mut table = Table::new(
        "Distance to the nearest person, mm",
        vec![
            text("Of"),
            number("Least", ""),
            number("1st percentile", ""),
            number("5th percentile", ""),
            number("Median", ""),
        ],
    );
    for (of, values) in [("drawn bodies", &p.nearest_mm), ("people, held out", &p.nearest_between_people_mm)]
    {
        let mut row = vec![cell(of)];
        row.extend(values.iter().map(|v| cell(fixed(*v, 1))));
        table.row(row);
    }
    body.table(table);
}

/// How coefficients, and correlations of dimensions, stand beside those of people.
fn coefficients(body: &mut Body, found: &SampleOutcome) {
    let report = &found.report;
    let (low, high) =
        report.sd_ratios.iter().fold((f64::INFINITY, 0.0f64), |(l, h), r| (l.min(*r), h.max(*r)));
    body.note(&format!(
        "Specificity {} mm (standard error {}). Standard deviations of coefficients are {} to {} times those of people (truncation makes them smaller); correlations of two coefficients differ by at most {}, where chance alone gives at most {} (95 %).",
        fixed(report.specificity_mm, 2),
        fixed(report.specificity_se_mm, 2),
        fixed(low, 2),
        fixed(high, 2),
        fixed(report.largest_correlation_difference, 2),
        fixed(report.largest_correlation_by_chance, 2)
    ));
    if let Some(c) = &found.correlations {
        let pair = c.pair.as_ref().map_or_else(String::new, |(a, b)| {
            format!(
                " ({} and {}: {} among people, {} among bodies)",
                words(a, None),
                words(b, None),
                fixed(c.values[0], 2),
                fixed(c.values[1], 2)
            )
        });
        body.note(&format!(
            "Correlations between {} dimensions differ by {} (root mean square) and at most by {}{pair}; a correlation of 0 has a standard error of {} among so few.",
            count(c.dimensions),
            fixed(c.rms_difference, 2),
            fixed(c.largest_difference, 2),
            fixed(c.se, 2)
        ));
    }
}

/// How dimensions stand beside those of people; nothing where none were taken.
fn dimensions(body: &mut Body, marginals: &[DimensionMarginal]) {
    if marginals.is_empty() {
        return;
    }
    let mut table = Table::new(
        "Dimensions of people and of drawn bodies",
        vec![
            text("Dimension"),
            text("Unit"),
            number("Mean, people", ""),
            number("bodies", ""),
            number("SD, people", ""),
            number("bodies", ""),
            number("5 %, people", ""),
            number("bodies", ""),
            number("95 %, people", ""),
            number("bodies", ""),
            number("Greatest distance of distributions", ""),
        ],
    );
    let mut apart = 0;
    for m in marginals {
        let beyond = m.ks > m.ks_limit;
        apart += usize::from(beyond);
        let mut row = vec![
            cell(words(&m.name, m.unit.as_deref())),
            cell(m.unit.as_deref().map_or_else(String::new, unit)),
        ];
        for pair in [m.mean, m.sd, m.p5, m.p95] {
            row.extend(pair.iter().map(|v| cell(about(*v, 1))));
        }
        row.push(cell(fixed(m.ks, 2)).quiet(if beyond { "beyond 5 % chance" } else { "" }));
        table.row(row);
    }
    body.note(&format!(
        "{} of {} dimensions are distributed otherwise among drawn bodies than among people, by more than 5 % of pairs of like samples are (Kolmogorov and Smirnov); about {} would be by chance.",
        count(apart),
        count(marginals.len()),
        fixed(0.05 * marginals.len() as f64, 0)
    ));
    let mut inside = Body::default();
    inside.table(table);
    body.folded("Dimensions side by side", inside);
}
