//! A document as plain text for a terminal: headings, answers, tables in columns. No markup and no escape codes.

use crate::document::table::{Cell, RowKind, Table};
use crate::document::{Block, Body, Document, Section};
use crate::format;

/// Lines of sentences are broken where they would be longer than this.
const LINE: usize = 100;
/// Cells are broken into lines of at most so many letters.
const CELL: usize = 48;
/// What stands between two columns.
const BETWEEN: &str = "  ";

/// The whole document. Views, which need a page to be moved on, are left out.
#[must_use]
pub fn render(document: &Document) -> String {
    let mut out = String::new();
    heading(&mut out, &document.title, '=');
    sentences(&mut out, &document.description);
    if let Some(front) = &document.front {
        sentences(&mut out, &front.question);
        sentences(&mut out, format!("{} {}", front.lead, front.sentence).trim());
        sentences(&mut out, &front.qualify);
        for fact in &front.facts {
            out.push_str(&format!("{}: {}\n", plain(&fact.name), plain(&fact.value)));
        }
    }
    for part in &document.sections {
        gap(&mut out);
        out.push_str(&section(part));
    }
    if !document.foot.is_empty() {
        gap(&mut out);
        sentences(&mut out, &document.foot);
    }
    out
}

/// A section: its title, its answer, and what stands in it.
#[must_use]
pub fn section(section: &Section) -> String {
    let mut out = String::new();
    heading(&mut out, &section.title, '-');
    out.push_str(&answer(section));
    body(&mut out, &section.body);
    for note in &section.closing {
        gap(&mut out);
        sentences(&mut out, note);
    }
    out
}

/// The answer of a section alone, a line each.
#[must_use]
pub fn answer(section: &Section) -> String {
    section.answer.iter().map(|line| format!("{}\n", plain(line))).collect()
}

/// Without control characters: what a user wrote must not steer a terminal.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c == '\n' || c == '\t' { ' ' } else { c }).filter(|c| !c.is_control()).collect()
}

fn width(text: &str) -> usize {
    text.chars().count()
}

fn gap(out: &mut String) {
    if !out.is_empty() && !out.ends_with("\n\n") {
        out.push('\n');
    }
}

fn heading(out: &mut String, title: &str, under: char) {
    let title = plain(title);
    if !title.is_empty() {
        let line: String = std::iter::repeat_n(under, width(&title)).collect();
        out.push_str(&format!("{title}\n{line}\n"));
    }
}

fn sentences(out: &mut String, text: &str) {
    if !text.is_empty() {
        indented(out, "", "", text);
    }
}

/// A text in lines, the first after `first`, the others after `others`.
fn indented(out: &mut String, first: &str, others: &str, text: &str) {
    let text = plain(&format::glued(text));
    for (i, line) in wrapped(&text, LINE).into_iter().enumerate() {
        out.push_str(if i == 0 { first } else { others });
        out.push_str(&line);
        out.push('\n');
    }
}

/// Lines of at most so many letters, broken between words; a longer word has a line of its own.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    // spaces that do not break hold a number and its unit together
    for word in text.split([' ', '\t']).filter(|w| !w.is_empty()) {
        match lines.last_mut() {
            Some(line) if width(line) + 1 + width(word) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn body(out: &mut String, body: &Body) {
    for block in body.blocks() {
        one(out, block);
    }
}

fn one(out: &mut String, block: &Block) {
    match block {
        Block::Paragraph(text) | Block::Note(text) => {
            gap(out);
            sentences(out, text);
        }
        Block::Heading(text) => {
            gap(out);
            sentences(out, text);
        }
        Block::Code(text) => {
            gap(out);
            for line in text.lines() {
                out.push_str(&format!("    {}\n", plain(line)));
            }
        }
        Block::List { items, .. } => {
            gap(out);
            for item in items {
                indented(out, "- ", "  ", item);
            }
        }
        Block::Table(of) => {
            gap(out);
            table(out, of);
        }
        Block::Figure(figure) => {
            gap(out);
            sentences(out, &figure.reading);
        }
        Block::Figures(figures) => {
            gap(out);
            for figure in figures {
                sentences(out, &figure.reading);
            }
        }
        Block::Folded { summary, body: inside } => {
            gap(out);
            sentences(out, summary);
            body(out, inside);
        }
        // a view needs a page
        Block::View(_) => {}
    }
}

/// What a cell says in one text.
fn said(cell: &Cell) -> String {
    let text = plain(&cell.text);
    match plain(&cell.quiet) {
        quiet if quiet.is_empty() => text,
        quiet => format!("{text} {quiet}"),
    }
}

/// A row in columns: a cell may take several lines.
fn row(out: &mut String, cells: &[Vec<String>], widths: &[usize], right: &[bool]) {
    let tall = cells.iter().map(Vec::len).max().unwrap_or(0);
    for i in 0..tall {
        let mut line = String::new();
        for (k, (&wide, &right)) in widths.iter().zip(right).enumerate() {
            let text = cells.get(k).and_then(|c| c.get(i)).map_or("", String::as_str);
            let room: String = std::iter::repeat_n(' ', wide.saturating_sub(width(text))).collect();
            if k > 0 {
                line.push_str(BETWEEN);
            }
            line.push_str(&if right { format!("{room}{text}") } else { format!("{text}{room}") });
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

fn table(out: &mut String, table: &Table) {
    sentences(out, if table.caption.is_empty() { &table.label } else { &table.caption });
    let heads: Vec<Vec<String>> = table
        .columns
        .iter()
        .map(|c| match plain(&c.unit) {
            unit if unit.is_empty() => wrapped(&plain(&c.title), CELL),
            unit => wrapped(&format!("{}, {unit}", plain(&c.title)), CELL),
        })
        .collect();
    let cells: Vec<Vec<Vec<String>>> =
        table.rows.iter().map(|r| r.cells.iter().map(|c| wrapped(&said(c), CELL)).collect()).collect();
    let right: Vec<bool> = table.columns.iter().map(|c| c.numeric).collect();
    let in_columns = table.rows.iter().zip(&cells).filter(|(r, _)| r.kind != RowKind::Group).map(|(_, c)| c);
    let all: Vec<&Vec<Vec<String>>> = std::iter::once(&heads).chain(in_columns).collect();
    let widths: Vec<usize> = (0..heads.len())
        .map(|k| all.iter().filter_map(|r| r.get(k)).flatten().map(|t| width(t)).max().unwrap_or(0))
        .collect();
    row(out, &heads, &widths, &right);
    for (of, cells) in table.rows.iter().zip(&cells) {
        if of.kind == RowKind::Group {
            out.push_str(&format!("{}\n", cells.iter().flatten().cloned().collect::<Vec<_>>().join(" ")));
        } else {
            row(out, cells, &widths, &right);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::table::{cell, number, text};

    #[test]
    fn tables_stand_in_columns_with_numbers_to_the_right() {
        let mut made = Table::new("Lengths", vec![text("Item"), number("Length", "mm"), text("Why")]);
        made.group("Crew one");
        made.row(vec![cell("oar"), cell("2900.5"), cell("")]);
        made.row(vec![cell("boat hook"), cell("31").quiet("± 2"), cell("short")]);
        let mut out = String::new();
        table(&mut out, &made);
        let wanted = "Lengths\n\
                      Item       Length, mm  Why\n\
                      Crew one\n\
                      oar            2900.5\n\
                      boat hook      31 ± 2  short\n";
        assert_eq!(out, wanted);
    }

    #[test]
    fn long_cells_take_lines_and_a_row_without_cells_takes_none() {
        let mut made = Table::unnamed("Remarks", vec![text("Item"), text("In words")]);
        made.row(vec![cell("a"), cell("word ".repeat(20))]);
        made.row(Vec::new());
        made.row(vec![cell("b"), cell("end"), cell("more than there are columns")]);
        let mut out = String::new();
        table(&mut out, &made);
        let lines: Vec<&str> = out.lines().collect();
        assert!(lines.iter().all(|l| width(l) <= "Item  ".len() + CELL), "{out}");
        assert_eq!(
            (lines[2], lines[3]),
            (&*format!("a     {}", ["word"; 9].join(" ")), &*format!("      {}", ["word"; 9].join(" ")))
        );
        assert!(lines.last().is_some_and(|l| *l == "b     end"));
    }

    #[test]
    fn sentences_are_broken_between_words_and_numbers_keep_their_units() {
        let lines = wrapped(&format::glued(&format!("{} 12 mm", "x".repeat(95))), LINE);
        assert_eq!(lines, ["x".repeat(95), "12\u{a0}mm".to_owned()]);
        assert!(wrapped("", LINE).is_empty());
    }
}
