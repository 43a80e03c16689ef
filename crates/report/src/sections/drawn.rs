//! Bodies that were not captured: predicted from dimensions, completed from a part, drawn.

use formkin_shape::Space;
use formkin_shape::predict::PredictionErrors;

use crate::document::Body;
use crate::document::table::{Table, cell, number, text};
use crate::format::{about, count, counted, fixed, list, percent, percent_interval, unit, words};
use crate::{SamplePart, ShapePart};

/// Bodies predicted and completed; nothing where neither was tried.
pub(crate) fn predicted(space: &Space, part: &ShapePart<'_>) -> Option<Body> {
    let errors = space.regression.as_ref().and_then(|r| r.errors.as_ref());
    if errors.is_none() && part.completions.is_empty() {
        return None;
    }
    let mut body = Body::default();
    if let Some(errors) = errors {
        predictions(&mut body, errors);
    }
    if !part.completions.is_empty() {
        completions(&mut body, part);
    }
    Some(body)
}

fn method(name: &str, components: Option<usize>) -> String {
    match (name, components) {
        ("conditional_normal", _) => "conditional normal".to_owned(),
        ("partial_least_squares", Some(k)) => {
            format!("partial least squares, {}", counted(k, "component", "components"))
        }
        ("mean", _) => "the mean body".to_owned(),
        (other, _) => other.replace('_', " "),
    }
}

fn predictions(body: &mut Body, errors: &PredictionErrors) {
    let given: Vec<String> = errors.given.iter().map(|g| words(&g.replace('=', " "), None)).collect();
    let best =
        errors.methods.iter().filter(|m| m.method != "mean").min_by(|a, b| a.rms_mm.total_cmp(&b.rms_mm));
    let mean = errors.methods.iter().find(|m| m.method == "mean");
    if let (Some(best), Some(mean)) = (best, mean) {
        body.paragraph(&format!(
            "From {} a body can be predicted to {} mm (root mean square over the skin, standard error {} mm) for people who had no part in it; the mean body alone errs by {} mm. {} were held out in {} folds, in which alignment, modes and regression were \
             refitted; what the modes leave is in these errors.",
            list(&given),
            fixed(best.rms_mm, 1),
            fixed(best.se_mm, 1),
            fixed(mean.rms_mm, 1),
            counted(errors.people, "person", "people"),
            errors.folds
        ));
    }
    if let Some(check) = &errors.intervals {
        body.note(&format!(
            "Nominal 95 % intervals of vertices hold {} of the coordinates of people held out; standard deviations times {} would hold 95 %.",
            percent(check.coverage_95),
            fixed(check.factor, 2)
        ));
    }
    let mut table = Table::new(
        "Bodies predicted, people held out",
        vec![text("Method"), number("Error", "mm"), number("Standard error", "mm")],
    );
    for m in &errors.methods {
        table.row(vec![
            cell(method(&m.method, m.components)),
            cell(fixed(m.rms_mm, 2)),
            cell(fixed(m.se_mm, 2)),
        ]);
    }
    body.table(table);
    if errors.methods.iter().any(|m| m.components.is_some_and(|c| c >= errors.given.len())) {
        body.note("With as many components as there are given values, partial least squares is the regression itself: then both methods give the same.");
    }
    let named: Vec<String> = errors.methods.iter().map(|m| method(&m.method, m.components)).collect();
    let mut columns = vec![text("Region")];
    columns.extend(named.iter().map(|n| number(n.clone(), "mm")));
    let mut regions = Table::new("Error by region", columns);
    if let Some(first) = errors.methods.first() {
        for (i, r) in first.regions.iter().enumerate() {
            let mut row = vec![cell(words(&r.region, None))];
            row.extend(
                errors
                    .methods
                    .iter()
                    .map(|m| cell(m.regions.get(i).map_or_else(String::new, |r| fixed(r.rms_mm, 2)))),
            );
            regions.row(row);
        }
    }
    let mut columns = vec![text("Dimension")];
    columns.extend(named.iter().filter(|n| *n != "the mean body").map(|n| number(n.clone(), "")));
    columns.push(number("SD of people", ""));
    columns.push(text("Unit"));
    let mut dimensions = Table::new("Error of the other dimensions (root mean square)", columns);
    let methods: Vec<_> = errors.methods.iter().filter(|m| m.method != "mean").collect();
    if let Some(first) = methods.first() {
        for (i, d) in first.dimensions.iter().enumerate() {
            let mut row = vec![cell(words(&d.variable, None))];
            row.extend(
                methods
                    .iter()
                    .map(|m| cell(m.dimensions.get(i).map_or_else(String::new, |d| about(d.rms, 2)))),
            );
            row.push(cell(about(d.sd, 2)));
            row.push(cell(d.unit.as_deref().map_or_else(String::new, unit)));
            dimensions.row(row);
        }
    }
    for (title, table) in [("Errors by region", regions), ("Errors by dimension", dimensions)] {
        let mut inside = Body::default();
        inside.table(table);
        body.folded(title, inside);
    }
}

fn completions(body: &mut Body, part: &ShapePart<'_>) {
    body.heading("Bodies completed from a part");
    body.paragraph(
        "A region was hidden on people held out, in poses of their own, and put back from what was seen; alignment and modes were refitted without them. Nominal 95 % intervals should hold 95 % of the hidden \
         coordinates; where they do not, the factor is what standard deviations must be multiplied by.",
    );
    let mut table = Table::new(
        "Hidden regions, completed",
        vec![
            text("Hidden"),
            number("Error", "mm"),
            number("The mean body laid on", "mm"),
            number("Within nominal 95 %", ""),
            number("Standard error", ""),
            number("Factor", ""),
            number("People held out", ""),
        ],
    );
    for (region, c) in &part.completions {
        table.row(vec![
            cell(words(region, None)),
            cell(fixed(c.rms_mm, 2)),
            cell(fixed(c.mean_rms_mm, 2)),
            cell(percent(c.coverage_95)),
            cell(percent(c.coverage_se)),
            cell(fixed(c.factor, 2)),
            cell(count(c.people)),
        ]);
    }
    body.table(table);
}

/// Bodies drawn; nothing where none were.
pub(crate) fn drawn(part: &ShapePart<'_>) -> Option<Body> {
    let Some(drawn) = part.sample else { return None };
    let mut body = Body::default();
    let SamplePart { report, samples, modes, marginals, correlations, notes } = drawn;
    let refused: usize = samples.refused.values().sum();
    body.paragraph(&format!(
        "{} were drawn from the first {} of {}, truncated jointly to the region that holds {} of people; {} of {} draws were refused. Drawn bodies are no people, but they are made from people.",
        counted(report.bodies, "body", "bodies"),
        counted(modes, "mode", "modes"),
        counted(report.people, "person", "people"),
        percent(samples.params.confidence),
        count(refused),
        count(samples.tries)
    ));
    let reasons: Vec<String> =
        samples.refused.iter().map(|(why, n)| format!("{}: {}", count(*n), why)).collect();
    body.remarks(&reasons);
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
    if let Some(c) = correlations {
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
    if !marginals.is_empty() {
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
    body.remarks(notes);
    Some(body)
}
