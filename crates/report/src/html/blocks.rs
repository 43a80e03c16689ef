//! The blocks of a body as markup. Every text is escaped here or in a template.

use askama::Template;

use super::carrier::Carrier;
use super::{table, views};
use crate::charts::{Figure, Key, escape};
use crate::document::{Block, Body, List};
use crate::{ReportError, format};

#[derive(Template)]
#[template(path = "figure.html")]
struct FigureTemplate<'a> {
    title: String,
    reading: String,
    keys: &'a [Key],
    drawings: &'a str,
    half: bool,
}

/// A text as markup: escaped, numbers kept with their units, and what stands between backticks set as code.
pub(super) fn worded(text: &str) -> String {
    let safe = escape(&format::glued(text));
    if safe.matches('`').count() % 2 == 1 {
        return safe;
    }
    let mut out = String::with_capacity(safe.len());
    for (i, part) in safe.split('`').enumerate() {
        match i % 2 {
            0 => out.push_str(part),
            _ => out.push_str(&format!("<code>{part}</code>")),
        }
    }
    out
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

/// An element with a text; nothing for an empty text.
pub(super) fn element(name: &str, class: &str, text: &str) -> String {
    if text.is_empty() {
        return String::new();
    }
    let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
    format!("<{name}{class}>{}</{name}>\n", worded(text))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_between_backticks_are_code_and_nothing_else_is_markup() {
        assert_eq!(worded("by `<b>` and `y`"), "by <code>&lt;b&gt;</code> and <code>y</code>");
        assert_eq!(worded("one ` alone"), "one ` alone");
    }
}
