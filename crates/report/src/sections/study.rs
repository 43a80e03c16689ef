//! What was done, and to whom.

use crate::ReportInput;
use crate::document::Body;
use crate::document::table::{Table, cell, text};
use crate::format::{count, counted, list};

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Body {
    let facts = &input.facts;
    let mut body = Body::default();
    let mut captured = Vec::new();
    if facts.stills > 0 {
        captured.push(counted(facts.stills, "still pose", "still poses"));
    }
    if facts.sequences > 0 {
        captured.push(format!(
            "{} of {}",
            counted(facts.sequences, "sequence", "sequences"),
            counted(facts.frames, "frame in all", "frames in all")
        ));
    }
    let mut lead = format!("{} took part", counted(facts.people, "person", "people"));
    if captured.is_empty() {
        lead.push('.');
    } else {
        lead.push_str(&format!(", captured in {}.", list(&captured)));
    }
    if facts.frames > 0 {
        lead.push_str(
            " Frames are never counted as people: wherever this page says people, it means people.",
        );
    }
    body.paragraph(&lead);
    if facts.vertices > 0 {
        let mut shape = format!(
            "Every shape has the same {} vertices and {} triangles, so that a vertex is the same place on everyone.",
            count(facts.vertices),
            count(facts.triangles)
        );
        match facts.watertight {
            Some(true) => shape.push_str(" The surface is closed."),
            Some(false) => {
                shape.push_str(" The surface is open, so volumes are not given.");
            }
            None => {}
        }
        body.paragraph(&shape);
    }
    if facts.quarantined > 0 {
        body.paragraph(&format!(
            "{} set aside at import and not used{}.",
            counted(facts.quarantined, "item was", "items were"),
            if input.checks.is_some() { "; the checks below say why" } else { "" }
        ));
    }
    if !facts.settings.is_empty() {
        let mut table = Table::unnamed("Settings", vec![text("Setting"), text("Value"), text("Chosen by")]);
        let mut stage = "";
        for s in &facts.settings {
            if s.stage != stage {
                stage = &s.stage;
                table.group(crate::format::title_words(stage, None));
            }
            let by = if s.default { cell("default").faint() } else { cell("the study") };
            table.row(vec![cell(crate::format::title_words(&s.name, None)), cell(s.value.clone()), by]);
        }
        let mut inside = Body::default();
        inside.table(table);
        let defaults = facts.settings.iter().filter(|s| s.default).count();
        body.folded(
            &format!(
                "{}, {} of them at the default",
                counted(facts.settings.len(), "setting", "settings"),
                defaults
            ),
            inside,
        );
    }
    body
}
