//! The page.

pub(crate) mod body;
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
mod left_out;
mod mannequins;
mod mode_errors;
mod movement;
mod people_map;
mod points;
mod quality;
mod sides;
mod sizing;
mod space;
mod study;
mod summary;
pub(crate) mod table;
mod together;
mod views;

use askama::Template;

use self::summary::Summary;
use self::views::Views;
use crate::{ReportError, ReportInput, format};

const CSS: &str = include_str!("../../assets/page.css");
const JS: [&str; 12] = [
    include_str!("../../assets/payload.js"),
    include_str!("../../assets/surface.js"),
    include_str!("../../assets/camera.js"),
    include_str!("../../assets/view.js"),
    include_str!("../../assets/space.js"),
    include_str!("../../assets/playback.js"),
    include_str!("../../assets/lines.js"),
    include_str!("../../assets/movement.js"),
    include_str!("../../assets/points.js"),
    include_str!("../../assets/painted.js"),
    include_str!("../../assets/map.js"),
    include_str!("../../assets/page.js"),
];

/// A section of the page.
struct Section {
    id: &'static str,
    title: &'static str,
    body: String,
}

#[derive(Template)]
#[template(path = "page.html")]
struct Page<'a> {
    program: &'a str,
    title: &'a str,
    description: &'a str,
    byline: String,
    summary: Summary,
    sections: Vec<Section>,
    foot: &'static str,
    payloads: &'a [views::Payload],
    css: &'static str,
    js: String,
}

/// The report as one file of HTML. It refers to nothing outside itself.
///
/// # Errors
/// [`ReportError::Mismatch`] where two parts of a result do not belong together, such as a mode with another number of vertices
/// than its mean.
pub fn html(input: &ReportInput<'_>) -> Result<String, ReportError> {
    let mut views = Views::plan(input);
    let mut sections = Vec::new();
    let mut add = |id, title, body: Option<body::Body>| {
        let body = body.map(body::Body::into_markup).filter(|b| !b.is_empty());
        if let Some(body) = body {
            sections.push(Section { id, title, body });
        }
    };
    add("study", "What was done, and to whom", Some(study::section(input)?));
    add("data", "What the checks found", input.checks.map(checks::section).transpose()?);
    if let Some(space) = input.space {
        add("space", "How bodies differ", Some(space::bodies(space, &mut views)?));
        add("modes", "How many modes are enough", Some(space::modes(space)?));
    }
    if let Some(space) = input.space {
        let part = &input.shape;
        add("quality", "How good the space is", quality::section(part)?);
        add("predicted", "Bodies from dimensions and from parts", drawn::predicted(space, part)?);
        add("groups", "How groups differ", groups::compared(part, space, &mut views)?);
        add("slopes", "What shape goes with", groups::regressed(part, space, &mut views)?);
        add("sides", "Left and right", sides::section(part, &mut views)?);
        add("people-map", "A map of the people", people_map::section(part, &mut views)?);
        add("drawn", "Drawn bodies", drawn::drawn(part)?);
        add("unanswered", "What could not be answered", unanswered(part));
    }
    let first = in_use(input);
    let dimensions = input.dimensions.as_ref().map(|d| dimensions::section(d, &first)).transpose()?;
    add("dimensions", "Body dimensions", dimensions);
    add("movement", "What movement does", movement::section(&input.movements, &input.together, &mut views)?);
    add("points", "What movement does to points", points::section(&input.points, &mut views)?);
    if let Some(sizing) = &input.sizing {
        add("sizes", "The sizes, and whom they fit", Some(sizing::section(sizing)?));
        add("left-out", "Who is left out", Some(left_out::section(sizing)?));
    }
    add("cautions", "What not to conclude", files::cautions(input));
    add("files", "Files, and where they came from", files::section(input)?);

    let page = Page {
        program: &input.facts.program,
        title: if input.title.is_empty() { "Study" } else { &input.title },
        description: &input.description,
        byline: byline(input),
        summary: summary::summary(input),
        sections,
        foot: "People appear under pseudonyms. Body data are personal data: keep this page as you keep the scans.",
        payloads: views.payloads(),
        css: CSS,
        js: JS.join("\n"),
    };
    Ok(page.render()?)
}

/// Questions that the data could not answer.
fn unanswered(part: &crate::ShapePart<'_>) -> Option<body::Body> {
    let mut body = body::Body::default();
    body.list("remarks", part.refusals);
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
