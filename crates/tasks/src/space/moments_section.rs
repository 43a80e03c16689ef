//! What a reader is shown: how well bodies are predicted from dimensions.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, counted, fixed, list, percent, unit, words};
use formkin_shape::DimensionMoments;
use formkin_shape::predict::PredictionErrors;

use super::moments::known;

/// Dimensions that are named on a terminal.
const NAMED: usize = 6;

/// The section, with its answer; its body is empty where no people were held out.
pub(crate) fn section(moments: &DimensionMoments) -> Section {
    let mut body = Body::default();
    if let Some(errors) = &moments.errors {
        predictions(&mut body, errors);
    }
    Section {
        answer: lines(moments),
        ..Section::new("predicted", "Bodies from dimensions and from parts").with(body)
    }
}

/// What the space can predict bodies from, and how well, for a terminal.
pub(super) fn lines(moments: &DimensionMoments) -> Vec<String> {
    let names = known(moments);
    let names: Vec<&str> = names.split(", ").collect();
    let first = names[..NAMED.min(names.len())].join(", ");
    let more = if names.len() > NAMED { format!(" and {} more", names.len() - NAMED) } else { String::new() };
    let mut lines = vec![format!("can predict bodies, from {} people, by {first}{more}", moments.people)];
    lines.extend(moments.errors.iter().flat_map(error_lines));
    lines
}

fn error_lines(errors: &PredictionErrors) -> Vec<String> {
    let mut lines = vec![format!("predicted from {}, people held out:", errors.given.join(", "))];
    for m in &errors.methods {
        let parts = m.components.map_or_else(String::new, |c| format!(", {c} components"));
        lines.push(format!(
            "  {}{parts}: {:.2} mm RMS (standard error {:.2})",
            m.method.replace('_', " "),
            m.rms_mm,
            m.se_mm
        ));
    }
    lines
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
    let given: Vec<String> =
        errors.given.iter().map(|g| words(g.rsplit_once('=').map_or(g, |(_, group)| group), None)).collect();
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
    for (title, table) in [
        ("Errors by region", by_region(errors, &named)),
        ("Errors by dimension", by_dimension(errors, &named)),
    ] {
        let mut inside = Body::default();
        inside.table(table);
        body.folded(title, inside);
    }
}

fn by_region(errors: &PredictionErrors, named: &[String]) -> Table {
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
    regions
}

fn by_dimension(errors: &PredictionErrors, named: &[String]) -> Table {
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
    dimensions
}
