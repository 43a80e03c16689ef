//! Cautions, files and provenance.

use crate::document::Body;
use crate::document::table::{Table, cell, number, text};
use crate::{Output, ReportInput, format};

/// What not to conclude: the study's cautions and those of the size system, each once.
pub(crate) fn cautions(input: &ReportInput<'_>) -> Option<Body> {
    let mut all: Vec<String> = Vec::new();
    let of_sizes = input
        .sizing
        .iter()
        .flat_map(|s| std::iter::once(s.system).chain(s.existing))
        .flat_map(|s| &s.cautions);
    for text in input.cautions.iter().chain(of_sizes) {
        let text = sentence(text);
        if !all.contains(&text) {
            all.push(text);
        }
    }
    let mut body = Body::default();
    body.cautions(&all);
    (!all.is_empty()).then_some(body)
}

/// A text with a capital letter and a full stop.
pub(crate) fn sentence(text: &str) -> String {
    let text = format::capital(&quoted(text.trim()));
    if text.is_empty() || text.ends_with(['.', '!', '?']) { text } else { format!("{text}.") }
}

fn file_table(caption: &str, files: &[&Output]) -> Table {
    let mut columns = vec![text("File"), text("What is in it")];
    let sizes = files.iter().any(|o| o.bytes.is_some());
    if sizes {
        columns.push(number("Size", ""));
    }
    let mut table =
        if caption.is_empty() { Table::unnamed("Files", columns) } else { Table::new(caption, columns) };
    for o in files {
        let mut row = vec![cell(o.path.clone()), cell(format::capital(&o.what)).prose()];
        if sizes {
            row.push(cell(o.bytes.map_or_else(String::new, format::bytes)));
        }
        table.row(row);
    }
    table
}

/// Names between backticks, as messages for terminals write them, between quotation marks.
fn quoted(text: &str) -> String {
    if text.matches('`').count() % 2 == 1 {
        return text.to_owned();
    }
    let mut open = false;
    text.chars()
        .map(|c| match (c, open) {
            ('`', false) => {
                open = true;
                '“'
            }
            ('`', true) => {
                open = false;
                '”'
            }
            (other, _) => other,
        })
        .collect()
}

/// The files beside the report and where everything came from.
pub(crate) fn section(input: &ReportInput<'_>) -> Option<Body> {
    if input.outputs.is_empty() && input.provenance.is_empty() {
        return None;
    }
    let mut body = Body::default();
    let (deeper, beside): (Vec<&Output>, Vec<&Output>) =
        input.outputs.iter().partition(|o| o.path.contains('/'));
    body.table(file_table("Written beside this page", &beside));
    let mut folders: Vec<&str> = deeper.iter().filter_map(|o| o.path.split('/').next()).collect();
    folders.sort_unstable();
    folders.dedup();
    for folder in folders {
        let inside: Vec<&Output> =
            deeper.iter().copied().filter(|o| o.path.split('/').next() == Some(folder)).collect();
        let mut list = Body::default();
        list.table(file_table("", &inside));
        body.folded(
            &format!("{} in the folder {folder}", format::counted(inside.len(), "file", "files")),
            list,
        );
    }
    if !input.provenance.is_empty() {
        let mut table = Table::unnamed("Provenance", vec![text("What"), text("Value")]);
        for f in &input.provenance {
            table.row(vec![cell(format::title_words(&f.name, None)), cell(f.value.clone()).value()]);
        }
        let mut inside = Body::default();
        inside.table(table);
        body.folded("Provenance: versions, seeds and hashes", inside);
    }
    Some(body)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_become_sentences() {
        assert_eq!(sentence("vertex 7 of `P004` is far off"), "Vertex 7 of “P004” is far off.");
        assert_eq!(sentence("one ` stays"), "One ` stays.");
        assert_eq!(sentence(" "), "");
    }
}
