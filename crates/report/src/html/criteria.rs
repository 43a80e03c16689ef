//! How many modes by every criterion, which of them are stable, and errors of vertices of people held out.

use formkin_shape::ModeCriteria;

use super::body::Body;
use super::table::{Table, cell, number, text};
use crate::ReportError;
use crate::format::{count, counted, fixed};

/// The table of criteria, the marks on unstable modes, and the errors by region.
pub(crate) fn criteria(body: &mut Body, found: &ModeCriteria) -> Result<(), ReportError> {
    let mut table = Table::new(
        "How many modes, by every criterion",
        vec![text("Criterion"), number("Modes", ""), text("Keeps")],
    );
    for c in &found.criteria {
        let name = c.name.replace('_', " ");
        let name = if c.name == found.primary { format!("{name} (primary)") } else { name };
        table.row(vec![
            cell(name),
            cell(c.modes.map_or_else(|| "none".to_owned(), count)),
            cell(c.rule.clone()),
        ]);
    }
    body.table(&table)?;
    body.note(&format!("The primary criterion is {}: {}.", found.primary.replace('_', " "), found.reason));
    let unstable: Vec<String> =
        found.stability.iter().filter(|s| !s.stable).map(|s| s.mode.to_string()).collect();
    if !found.stability.is_empty() {
        body.note(&if unstable.is_empty() {
            format!("All of the first {} are stable when people are drawn anew.", counted(found.stability.len(), "mode", "modes"))
        } else {
            format!(
                "Not stable when people are drawn anew, and not to be named one by one: modes {} of the first {} (median |cos| under 0.9 over {} draws).",
                unstable.join(", "),
                found.stability.len(),
                count(found.draws)
            )
        });
    }
    if let Some(errors) = &found.vertex_errors {
        let columns =
            vec![text("Region"), number("RMS", "mm"), number("95 % within", "mm"), number("Largest", "mm")];
        let what = format!("Vertices of people held out, {}", counted(errors.modes, "mode", "modes"));
        let mut table = Table::new(what, columns);
        let mut row = |name: &str, rms: f64, p95: f64, max: f64| {
            table.row(vec![cell(name), cell(fixed(rms, 2)), cell(fixed(p95, 2)), cell(fixed(max, 1))]);
        };
        row("whole body", errors.rms_mm, errors.p95_mm, errors.max_mm);
        for r in &errors.regions {
            row(&r.region.replace('_', " "), r.rms_mm, r.p95_mm, r.max_mm);
        }
        let mut inside = Body::default();
        inside.table(&table)?;
        body.folded("Errors of vertices by region", inside);
    }
    Ok(())
}
