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
    /// The heading over this part where several parts of one section are joined; may be empty.
    pub subtitle: String,
    /// The answer in a few plain lines: what a terminal shows.
    pub answer: Vec<String>,
    /// What stands in it.
    pub body: Body,
    /// Notes at its end, each once where several parts are joined.
    pub closing: Vec<String>,
}

impl Section {
    /// A section without contents.
    #[must_use]
    pub fn new(id: impl Into<String>, title: impl Into<String>) -> Self {
        Self { id: id.into(), title: title.into(), ..Self::default() }
    }

    /// The same section with this body.
    #[must_use]
    pub fn with(self, body: Body) -> Self {
        Self { body, ..self }
    }
}

/// Sections of one id joined into one, at the place of the first: each part under its subtitle where there are several, closing notes once.
/// Sections in which nothing stands are left out.
#[must_use]
pub fn joined(parts: impl IntoIterator<Item = Section>) -> Vec<Section> {
    let mut groups: Vec<Vec<Section>> = Vec::new();
    for part in parts.into_iter().filter(|p| !p.body.is_empty()) {
        match groups.iter_mut().find(|g| g[0].id == part.id) {
            Some(group) => group.push(part),
            None => groups.push(vec![part]),
        }
    }
    groups.into_iter().map(join).collect()
}

fn join(parts: Vec<Section>) -> Section {
    let several = parts.iter().filter(|p| !p.subtitle.is_empty()).count() > 1;
    let mut whole = Section::default();
    for part in parts {
        if whole.id.is_empty() {
            (whole.id, whole.title) = (part.id, part.title);
        }
        if several {
            whole.body.heading(&part.subtitle);
        }
        whole.answer.extend(part.answer);
        whole.body.append(part.body);
        for note in part.closing {
            if !whole.closing.contains(&note) {
                whole.closing.push(note);
            }
        }
    }
    for note in std::mem::take(&mut whole.closing) {
        whole.body.note(&note);
    }
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_of_one_section_stand_together_under_their_subtitles() {
        let part = |id: &str, subtitle: &str| {
            let mut body = Body::default();
            body.paragraph("words");
            let closing = vec!["once".to_owned()];
            Section { subtitle: subtitle.to_owned(), closing, ..Section::new(id, "Title").with(body) }
        };
        let parts = [part("groups", "By sex"), part("other", "Alone"), part("groups", "By station")];
        let all = joined(parts.into_iter().chain([Section::new("empty", "Nothing")]));
        assert_eq!(all.iter().map(|s| s.id.as_str()).collect::<Vec<_>>(), ["groups", "other"]);
        let kinds = |s: &Section| -> String {
            s.body
                .blocks()
                .iter()
                .map(|b| match b {
                    Block::Heading(_) => 'h',
                    Block::Paragraph(_) => 'p',
                    Block::Note(_) => 'n',
                    _ => '?',
                })
                .collect()
        };
        assert_eq!((kinds(&all[0]).as_str(), kinds(&all[1]).as_str()), ("hphpn", "pn"));
    }
}
