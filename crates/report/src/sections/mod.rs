//! The sections of a study's report, each from the results it shows, and the pages of single commands.

pub mod agreement;
mod agreement_page;
mod checks;
mod committee;
mod compared;
mod coverage;
mod criteria;
mod deep;
mod dimensions;
mod drawn;
mod dynamics;
mod existing;
mod files;
mod groups;
pub mod input;
mod left_out;
mod mannequins;
mod merge_page;
mod mode_errors;
mod movement;
pub mod movements;
mod people_map;
mod points;
mod quality;
pub mod shape_input;
mod sides;
mod sizing;
mod space;
mod study;
mod summary;
mod together;

pub use agreement::agreement_chart;
pub use agreement_page::agreement_page;
pub use merge_page::merge_page;

use crate::document::view::Triangles;
use crate::document::{Body, Document, Section};
use crate::{ReportError, ReportInput, format};

/// The report as one file of HTML. It refers to nothing outside itself.
///
/// # Errors
/// [`ReportError::Mismatch`] where two parts of a result do not belong together, such as a mode with another number of vertices
/// than its mean.
pub fn html(input: &ReportInput<'_>) -> Result<String, ReportError> {
    crate::html::render(&document(input))
}

/// The report as a document.
#[must_use]
pub fn document(input: &ReportInput<'_>) -> Document {
    let triangles = input.space.map(|s| s.triangles.as_slice()).or(input.triangles);
    let triangles = &triangles.map(Triangles::from).unwrap_or_default();
    let mut sections = Vec::new();
    let mut add = |id: &str, title: &str, body: Option<Body>| {
        if let Some(body) = body.filter(|b| !b.is_empty()) {
            sections.push(Section { body, ..Section::new(id, title) });
        }
    };
    add("study", "What was done, and to whom", Some(study::section(input)));
    add("data", "What the checks found", input.checks.map(checks::section));
    if let Some(space) = input.space {
        let part = &input.shape;
        add("space", "How bodies differ", Some(space::bodies(space, triangles)));
        add("modes", "How many modes are enough", Some(space::modes(space)));
        add("quality", "How good the space is", quality::section(part));
        add("predicted", "Bodies from dimensions and from parts", drawn::predicted(space, part));
        add("groups", "How groups differ", groups::compared(part, space, triangles));
        add("slopes", "What shape goes with", groups::regressed(part, space, triangles));
        add("sides", "Left and right", sides::section(part, triangles));
        add("people-map", "A map of the people", people_map::section(part));
        add("drawn", "Drawn bodies", drawn::drawn(part));
        add("unanswered", "What could not be answered", unanswered(part));
    }
    let first = in_use(input);
    let dimensions = input.dimensions.as_ref().map(|d| dimensions::section(d, &first));
    add("dimensions", "Body dimensions", dimensions);
    let movement = movement::section(&input.movements, &input.together, triangles);
    add("movement", "What movement does", movement);
    add("points", "What movement does to points", points::section(&input.points, triangles));
    if let Some(sizing) = &input.sizing {
        add("sizes", "The sizes, and whom they fit", Some(sizing::section(sizing)));
        add("left-out", "Who is left out", Some(left_out::section(sizing)));
    }
    add("cautions", "What not to conclude", files::cautions(input));
    add("files", "Files, and where they came from", files::section(input));
    Document {
        program: input.facts.program.clone(),
        title: if input.title.is_empty() { "Study".to_owned() } else { input.title.clone() },
        description: input.description.clone(),
        byline: byline(input),
        front: Some(summary::front(input)),
        sections,
        foot: "People appear under pseudonyms. Body data are personal data: keep this page as you keep the scans.".to_owned(),
    }
}

/// Questions that the data could not answer.
fn unanswered(part: &crate::ShapePart<'_>) -> Option<Body> {
    let mut body = Body::default();
    body.remarks(part.refusals);
    (!part.refusals.is_empty()).then_some(body)
}

/// The dimensions that the sizes and the movements use.
fn in_use(input: &ReportInput<'_>) -> Vec<String> {
    let system = input.sizing.as_ref().map(|s| s.system);
    let controls = system.iter().flat_map(|s| &s.controls).map(|c| c.dimension.clone());
    let size = system.iter().flat_map(|s| &s.groups).flat_map(|g| &g.sizes).next();
    let secondary = size.iter().flat_map(|s| &s.secondary).map(|d| d.dimension.clone());
    let curves = input.movements.iter().flat_map(|m| m.curves).map(|c| c.dimension.clone());
    controls.chain(secondary).chain(curves).collect()
}

fn byline(input: &ReportInput<'_>) -> String {
    let facts = &input.facts;
    let mut parts = Vec::new();
    if !facts.made.is_empty() {
        parts.push(format!("Made {}", facts.made));
    }
    if !facts.program.is_empty() {
        parts.push(format!("with {}", facts.program));
    }
    if let Some(seed) = facts.seed {
        parts.push(format!("seed {seed}"));
    }
    format::capital(&parts.join(", "))
}
