//! The body of a section, put together block by block.

use super::table::Table;
use super::view::View;
use crate::charts::Figure;

/// What stands in a section, in order.
#[derive(Debug, Clone, Default)]
pub struct Body {
    blocks: Vec<Block>,
}

/// One thing in a section.
///
/// In paragraphs, notes, headings and lists, what stands between backticks is set as code.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Block {
    /// A paragraph.
    Paragraph(String),
    /// A paragraph in a quieter voice.
    Note(String),
    /// Lines to be copied as they are.
    Code(String),
    /// A heading inside the section.
    Heading(String),
    /// A list of sentences.
    List {
        /// What they are.
        kind: List,
        /// The sentences.
        items: Vec<String>,
    },
    /// A table.
    Table(Table),
    /// A chart.
    Figure(Figure),
    /// Charts side by side where there is room.
    Figures(Vec<Figure>),
    /// Something folded away behind a line of text.
    Folded {
        /// The line.
        summary: String,
        /// What is behind it.
        body: Body,
    },
    /// A body, points or people that the reader can move.
    View(Box<View>),
}

/// What the sentences of a list are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum List {
    /// Remarks by the way.
    Remarks,
    /// What a reader must mind.
    Cautions,
}

impl Body {
    /// The blocks, in order.
    #[must_use]
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// Whether there is nothing in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.blocks.is_empty()
    }

    /// What stands in another body, at the end.
    pub fn append(&mut self, other: Body) {
        self.blocks.extend(other.blocks);
    }

    /// A paragraph; nothing for an empty text.
    pub fn paragraph(&mut self, text: &str) {
        self.text(text, Block::Paragraph);
    }

    /// A paragraph in a quieter voice; nothing for an empty text.
    pub fn note(&mut self, text: &str) {
        self.text(text, Block::Note);
    }

    /// Lines to be copied as they are.
    pub fn code(&mut self, text: &str) {
        self.blocks.push(Block::Code(text.to_owned()));
    }

    /// A heading inside the section; nothing for an empty text.
    pub fn heading(&mut self, text: &str) {
        self.text(text, Block::Heading);
    }

    fn text(&mut self, text: &str, block: fn(String) -> Block) {
        if !text.is_empty() {
            self.blocks.push(block(text.to_owned()));
        }
    }

    /// A table; nothing where it has no rows.
    pub fn table(&mut self, table: Table) {
        if !table.rows.is_empty() {
            self.blocks.push(Block::Table(table));
        }
    }

    /// A chart.
    pub fn figure(&mut self, figure: Figure) {
        self.blocks.push(Block::Figure(figure));
    }

    /// Charts side by side where there is room; nothing where there are none.
    pub fn figures(&mut self, figures: impl IntoIterator<Item = Figure>) {
        let figures: Vec<Figure> = figures.into_iter().collect();
        if !figures.is_empty() {
            self.blocks.push(Block::Figures(figures));
        }
    }

    /// A list of remarks; nothing where there are none.
    pub fn remarks(&mut self, items: &[String]) {
        self.list(List::Remarks, items);
    }

    /// A list of what a reader must mind; nothing where there is nothing.
    pub fn cautions(&mut self, items: &[String]) {
        self.list(List::Cautions, items);
    }

    /// A list of sentences; nothing where there are none.
    pub fn list(&mut self, kind: List, items: &[String]) {
        if !items.is_empty() {
            self.blocks.push(Block::List { kind, items: items.to_vec() });
        }
    }

    /// Something folded away behind a line of text; nothing where nothing is inside.
    pub fn folded(&mut self, summary: &str, inside: Body) {
        if !inside.is_empty() {
            self.blocks.push(Block::Folded { summary: summary.to_owned(), body: inside });
        }
    }

    /// Something that the reader can move.
    pub fn view(&mut self, view: View) {
        self.blocks.push(Block::View(Box::new(view)));
    }
}
