//! A document as one page of HTML that needs nothing else, neither network nor fonts nor files.

mod blocks;
mod carrier;
mod packing;
mod people;
mod table;
mod views;
mod words;

use askama::Template;

use self::carrier::{Carrier, Payload};
use self::words::{element, worded};
use crate::charts::hundred;
use crate::document::{Document, Fact, Front};
use crate::error::ReportError;

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

/// A section as it goes into the page.
struct SectionMarkup<'a> {
    id: &'a str,
    title: &'a str,
    body: String,
}

/// The answer at the top as it goes into the page.
struct FrontMarkup<'a> {
    question: String,
    lead: String,
    sentence: String,
    qualify: String,
    drawing: String,
    facts: &'a [Fact],
}

#[derive(Template)]
#[template(path = "page.html")]
struct Page<'a> {
    program: &'a str,
    title: &'a str,
    description: String,
    byline: &'a str,
    front: Option<FrontMarkup<'a>>,
    sections: Vec<SectionMarkup<'a>>,
    foot: &'a str,
    payloads: &'a [Payload],
    css: &'static str,
    js: String,
}

/// The document as one file of HTML. It refers to nothing outside itself.
///
/// Sections without contents are left out. Views are packed in the order in which they stand, with as many modes and bodies as the page
/// can carry.
///
/// # Errors
/// [`ReportError::Mismatch`] where two parts of a view do not belong together, such as a mode with another number of vertices than its
/// mean.
pub fn render(document: &Document) -> Result<String, ReportError> {
    let mut carrier = Carrier::plan(document);
    let mut sections = Vec::new();
    for section in &document.sections {
        let mut body = blocks::markup(&section.body, &mut carrier)?;
        for note in &section.closing {
            body.push_str(&element("p", "note-text", note));
        }
        if !body.is_empty() {
            sections.push(SectionMarkup { id: &section.id, title: &section.title, body });
        }
    }
    let page = Page {
        program: &document.program,
        title: &document.title,
        description: worded(&document.description),
        byline: &document.byline,
        front: document.front.as_ref().map(front),
        sections,
        foot: &document.foot,
        payloads: carrier.payloads(),
        css: CSS,
        js: JS.join("\n"),
    };
    Ok(page.render()?)
}

fn front(front: &Front) -> FrontMarkup<'_> {
    let drawing = front
        .figure
        .as_ref()
        .map_or_else(String::new, |h| hundred("hundred", &h.title, &h.description, h.share, h.interval));
    FrontMarkup {
        question: worded(&front.question),
        lead: worded(&front.lead),
        sentence: worded(&front.sentence),
        qualify: worded(&front.qualify),
        drawing,
        facts: &front.facts,
    }
}
