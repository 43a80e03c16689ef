//! The body of a section, put together from paragraphs, tables and charts. Every text is escaped here.

use askama::Template;

use super::table::Table;
use crate::ReportError;
use crate::charts::{Figure, Key, escape};
use crate::format;

/// The markup of a section as it grows.
#[derive(Debug, Default)]
pub(crate) struct Body {
    markup: String,
}

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
pub(crate) fn worded(text: &str) -> String {
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

impl Body {
    /// A paragraph.
    pub(crate) fn paragraph(&mut self, text: &str) {
        self.element("p", "", text);
    }

    /// A paragraph in a quieter voice.
    pub(crate) fn note(&mut self, text: &str) {
        self.element("p", "note-text", text);
    }

    /// Lines to be copied as they are.
    pub(crate) fn code(&mut self, text: &str) {
        self.markup.push_str(&format!("<pre><code>{}</code></pre>\n", escape(text)));
    }

    /// A heading inside the section.
    pub(crate) fn heading(&mut self, text: &str) {
        self.element("h3", "", text);
    }

    /// Begins a section of a page that has no contents beside it.
    pub(crate) fn section(&mut self, id: &str, title: &str) {
        let (id, title) = (escape(id), escape(title));
        let before = if self.markup.is_empty() { "" } else { "</section>\n" };
        self.markup.push_str(&format!(
            "{before}<section id=\"{id}\" aria-labelledby=\"{id}-title\"><h2 id=\"{id}-title\">{title}</h2>\n"
        ));
    }

    /// The markup of a page whose body begins with a section.
    pub(crate) fn into_sections(self) -> String {
        if self.markup.is_empty() { self.markup } else { format!("{}</section>\n", self.markup) }
    }

    fn element(&mut self, name: &str, class: &str, text: &str) {
        if text.is_empty() {
            return;
        }
        let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
        self.markup.push_str(&format!("<{name}{class}>{}</{name}>\n", worded(text)));
    }

    /// A table; nothing where it has no rows.
    pub(crate) fn table(&mut self, table: &Table) -> Result<(), ReportError> {
        self.markup.push_str(&table.markup()?);
        Ok(())
    }

    /// A chart.
    pub(crate) fn figure(&mut self, figure: &Figure) -> Result<(), ReportError> {
        let Figure { title, reading, drawings, keys, half } = figure;
        let (title, reading) = (worded(title), worded(reading));
        self.markup.push_str(&FigureTemplate { title, reading, keys, drawings, half: *half }.render()?);
        Ok(())
    }

    /// Charts side by side where there is room.
    pub(crate) fn figures(&mut self, figures: &[Figure]) -> Result<(), ReportError> {
        if figures.is_empty() {
            return Ok(());
        }
        self.markup.push_str("<div class=\"figure-row\">");
        for figure in figures {
            self.figure(figure)?;
        }
        self.markup.push_str("</div>\n");
        Ok(())
    }

    /// A list of sentences.
    pub(crate) fn list(&mut self, class: &str, items: &[String]) {
        if items.is_empty() {
            return;
        }
        let items: String = items.iter().map(|i| format!("<li>{}</li>", worded(i))).collect();
        self.markup.push_str(&format!("<ul class=\"{class}\">{items}</ul>\n"));
    }

    /// Something folded away behind a line of text.
    pub(crate) fn folded(&mut self, summary: &str, inside: Body) {
        if inside.markup.is_empty() {
            return;
        }
        self.markup.push_str(&format!(
            "<details><summary>{}</summary>{}</details>\n",
            escape(summary),
            inside.markup
        ));
    }

    /// Markup that a template of this crate made.
    pub(crate) fn rendered(&mut self, template: &impl Template) -> Result<(), ReportError> {
        self.markup.push_str(&template.render()?);
        Ok(())
    }

    /// Markup whose texts are escaped already.
    pub(crate) fn markup(&mut self, markup: &str) {
        self.markup.push_str(markup);
    }

    /// The markup.
    pub(crate) fn into_markup(self) -> String {
        self.markup
    }
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
