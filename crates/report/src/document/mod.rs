//! What a reader is shown, as plain data: a document of sections, and what stands in them.
//!
//! Every text is kept as it was written; renderings escape it. Nothing is computed here.

mod body;
pub mod table;
pub mod view;

pub use body::{Block, Body, List};

/// A document: an answer at the top and sections below it.
#[derive(Debug, Clone, Default)]
pub struct Document {
    /// The program that made it, with its version.
    pub program: String,
    /// The heading.
    pub title: String,
    /// What it is about, in a sentence or two; may be empty.
    pub description: String,
    /// When and with what it was made; may be empty.
    pub byline: String,
    /// The answer at the top.
    pub front: Option<Front>,
    /// The sections, in the order in which they are shown.
    pub sections: Vec<Section>,
    /// The last line; may be empty.
    pub foot: String,
}

impl Document {
    /// A document with a heading and nothing else.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), ..Self::default() }
    }

    /// Begins a section and gives its body, to be filled.
    pub fn begin(&mut self, id: impl Into<String>, title: impl Into<String>) -> &mut Body {
        let at = self.sections.len();
        self.sections.push(Section::new(id, title));
        &mut self.sections[at].body
    }
}

/// The answer at the top of a document.
#[derive(Debug, Clone, Default)]
pub struct Front {
    /// The question that the document answers.
    pub question: String,
    /// The beginning of the answer, set apart; may be empty.
    pub lead: String,
    /// The answer, or the rest of it.
    pub sentence: String,
    /// What qualifies it; may be empty.
    pub qualify: String,
    /// The answer as people of a hundred.
    pub figure: Option<Hundred>,
    /// A few figures beside it.
    pub facts: Vec<Fact>,
}

/// A share of people and its interval, drawn as people of a hundred.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Hundred {
    /// What is shown.
    pub title: String,
    /// The same in a sentence, for those who do not see it.
    pub description: String,
    /// The share, 0 to 1.
    pub share: f64,
    /// Its interval, 0 to 1.
    pub interval: (f64, f64),
}

/// A name and a value.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fact {
    /// The name.
    pub name: String,
    /// The value, with its unit.
    pub value: String,
}

impl Fact {
    /// A name and a value.
    #[must_use]
    pub fn new(name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { name: name.into(), value: value.into() }
    }
}

/// A section of a document.
#[derive(Debug, Clone, Default)]
pub struct Section {
    /// Unique in the document; what links to the section name.
    pub id: String,
    /// The heading.
    pub title: String,
    /// The answer in a few plain lines: what a terminal shows.
    pub answer: Vec<String>,
    /// What stands in it.
    pub body: Body,
}

impl Section {
    /// A section without contents.
    #[must_use]
    pub fn new(id: impl Into<String>, title: impl Into<String>) -> Self {
        Self { id: id.into(), title: title.into(), ..Self::default() }
    }
}
