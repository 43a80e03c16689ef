//! The answer on a terminal.

use formkin_measure::{Definition, DimensionSummary, HandbookKind, HandbookRow, how};

use super::run::{Explained, MeasureOutcome};

/// A definition in words, and what it gives on the template.
pub(super) fn explained(one: &Explained) -> Vec<String> {
    let Explained { definition, on_template } = one;
    let mut lines = words_of(definition);
    let unit = definition.unit.as_deref().unwrap_or("");
    lines.push(match (on_template.value, &on_template.reason_missing) {
        (Some(v), _) => format!("on the template: {v:.1} {unit}"),
        (None, reason) => format!("not on the template: {}", reason.as_deref().unwrap_or("no value")),
    });
    lines.extend(on_template.flags.iter().map(|f| format!("flag: {f}")));
    lines
}

/// A definition in words; the first line says what it is.
pub(super) fn words_of(definition: &Definition) -> Vec<String> {
    let mut lines = vec![format!("{}: {}", definition.name, definition.definition)];
    if let Some(s) = &definition.standard {
        let rest: Vec<&str> = [&s.edition, &s.item].into_iter().flatten().map(String::as_str).collect();
        lines.push(format!(
            "follows {} {} (from memory: check the edition you work to)",
            s.standard,
            rest.join(", ")
        ));
    }
    lines.push(format!("how it is taken: {}", how(&definition.kind)));
    if !definition.note.is_empty() {
        lines.push(format!("note: {}", definition.note));
    }
    lines
}

/// People, items, and a line a dimension and group.
pub(super) fn answer(made: &MeasureOutcome) -> Vec<String> {
    let missing = made.remarks.iter().filter(|r| r.missing).count();
    let mut lines = vec![format!(
        "{} people, {} items, {} dimensions; {missing} values missing, {} to look at",
        made.people.rows(),
        made.table.rows(),
        made.summaries.iter().filter(|s| s.group.is_none()).count(),
        made.remarks.len() - missing
    )];
    let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.1}"));
    lines.push(format!("{:<28} {:<10} {:>5} {:>9} {:>8}", "dimension", "group", "n", "mean", "SD"));
    for DimensionSummary { name, unit, group, n, mean, sd, .. } in &made.summaries {
        let header = unit.as_ref().map_or_else(|| name.clone(), |u| format!("{name} [{u}]"));
        let group = group.as_deref().unwrap_or("all");
        lines.push(format!("{header:<28} {group:<10} {n:>5} {:>9} {:>8}", number(*mean), number(*sd)));
    }
    lines.extend(handbook_lines(&made.handbook));
    lines
}

/// Proportions beside handbooks, as lines of a table; none for none.
pub fn handbook_lines(rows: &[HandbookRow]) -> Vec<String> {
    if rows.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![format!(
        "{:<34} {:>5} {:>8} {:>8} {:>9} {:>11}",
        "beside handbooks", "n", "mean", "SD", "handbook", "difference"
    )];
    let mut sources: Vec<&str> = Vec::new();
    for r in rows {
        let name = format!("{} {}", r.name, kind_words(r.kind));
        let sd = r.sd.map_or_else(|| "-".to_owned(), |s| format!("{s:.4}"));
        lines.push(format!(
            "{name:<34} {:>5} {:>8.4} {sd:>8} {:>9.4} {:>+9.1} %",
            r.n, r.mean, r.handbook, r.difference_percent
        ));
        if !sources.contains(&r.source.as_str()) {
            sources.push(&r.source);
        }
    }
    lines.extend(sources.iter().map(|s| format!("  after {s}")));
    lines.push("  joints are means of rings on the skin, not joints of bone: differences of some percent are expected".to_owned());
    lines
}

fn kind_words(kind: HandbookKind) -> &'static str {
    match kind {
        HandbookKind::HeightOverStature => "height / stature",
        HandbookKind::LengthOverStature => "length / stature",
        HandbookKind::ShareOfMass => "share of mass",
        HandbookKind::AreaOverFormula => "area / formula",
    }
}
