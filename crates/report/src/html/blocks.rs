//! The blocks of a body as markup.

use askama::Template;

use super::carrier::Carrier;
use super::words::{element, worded};
use super::{table, views};
use crate::charts::{Figure, Key, escape};
use crate::document::{Block, Body, List};
use crate::error::ReportError;

#[derive(Template)]
#[template(path = "figure.html")]
struct FigureTemplate<'a> {
    title: String,
    reading: String,
    keys: &'a [Key],
    drawings: &'a str,
    half: bool,
}

/// A body as markup; what its views need goes to the carrier.
pub(super) fn markup(body: &Body, carrier: &mut Carrier) -> Result<String, ReportError> {
    let mut out = String::new();
    for block in body.blocks() {
        out.push_str(&one(block, carrier)?);
    }
    Ok(out)
}

fn one(block: &Block, carrier: &mut Carrier) -> Result<String, ReportError> {
    Ok(match block {
        Block::Paragraph(text) => element("p", "", text),
        Block::Note(text) => element("p", "note-text", text),
        Block::Code(text) => format!("<pre><code>{}</code></pre>\n", escape(text)),
        Block::Heading(text) => element("h3", "", text),
        Block::List { kind, items } => list(*kind, items),
        Block::Table(table) => table::markup(table)?,
        Block::Figure(one) => figure(one)?,
        Block::Figures(several) => {
            let inside = several.iter().map(figure).collect::<Result<String, _>>()?;
            format!("<div class=\"figure-row\">{inside}</div>\n")
        }
        Block::Folded { summary, body } => {
            let inside = markup(body, carrier)?;
            if inside.is_empty() {
                return Ok(inside);
            }
            format!("<details><summary>{}</summary>{inside}</details>\n", escape(summary))
        }
        Block::View(view) => views::markup(view, carrier)?,
    })
}

fn list(kind: List, items: &[String]) -> String {
    if items.is_empty() {
        return String::new();
    }
    let class = match kind {
        List::Remarks => "remarks",
        List::Cautions => "cautions",
    };
    let items: String = items.iter().map(|i| format!("<li>{}</li>", worded(i))).collect();
    format!("<ul class=\"{class}\">{items}</ul>\n")
}

fn figure(figure: &Figure) -> Result<String, ReportError> {
    let Figure { title, reading, drawings, keys, half } = figure;
    let (title, reading) = (worded(title), worded(reading));
    Ok(FigureTemplate { title, reading, keys, drawings, half: *half }.render()?)
}
