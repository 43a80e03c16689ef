//! What is known of the data before anything runs. What could not be found out is `None`, and nothing is held against it.

use std::collections::{BTreeMap, BTreeSet};

use formkin_geometry::Template;
use formkin_measure::Dimensions;
use formkin_table::Table;

/// What is known of the data before anything runs.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// The template; none where it has no names or could not be read.
    pub template: Option<Template>,
    /// Whether it is known that there is no template with names, so that nothing can be named.
    pub nameless: bool,
    /// The columns that people can be told apart by.
    pub columns: Option<Vec<Column>>,
    /// The groups that each column of words makes.
    pub groups: BTreeMap<String, BTreeSet<String>>,
    /// The sequences.
    pub captures: Option<Vec<Sequence>>,
    /// The definitions of dimensions.
    pub dimensions: Option<Dimensions>,
    /// Whether dimensions are taken.
    pub measured: bool,
    /// The dimensions that are followed through movements.
    pub followed: Vec<String>,
    /// Number of people.
    pub people: Option<usize>,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// Whether it holds numbers.
    pub numbers: bool,
}

/// A capture of several frames.
#[derive(Debug, Clone, PartialEq)]
pub struct Sequence {
    /// Its identifier.
    pub id: String,
    /// The person.
    pub participant: String,
    /// Number of frames.
    pub frames: usize,
    /// Whether every frame has a time.
    pub timed: bool,
    /// First and last time, in s.
    pub times_s: Option<(f64, f64)>,
}

impl Sequence {
    /// Frames a second on the whole.
    #[must_use]
    pub fn fps(&self) -> Option<f64> {
        let (low, high) = self.times_s.filter(|(low, high)| self.timed && self.frames > 1 && high > low)?;
        Some((self.frames - 1) as f64 / (high - low))
    }
}

impl Facts {
    /// The names of the regions of the template.
    #[must_use]
    pub fn regions(&self) -> Option<Vec<&str>> {
        match &self.template {
            Some(template) => Some(template.regions.keys().map(String::as_str).collect()),
            None => self.nameless.then(Vec::new),
        }
    }

    /// The names of its landmarks and regions.
    #[must_use]
    pub fn places(&self) -> Option<Vec<&str>> {
        let mut names = self.regions()?;
        names.extend(self.template.iter().flat_map(|t| t.landmarks.keys()).map(String::as_str));
        Some(names)
    }
}

/// The columns of a table, numbers with and without their units.
#[must_use]
pub fn columns_of(table: &Table) -> Vec<Column> {
    let mut columns = vec![Column { name: table.id.clone(), numbers: false }];
    let mut push = |name: &str, numbers: bool| {
        if !columns.iter().any(|c| c.name == name) {
            columns.push(Column { name: name.to_owned(), numbers });
        }
    };
    for text in &table.texts {
        push(&text.name, false);
    }
    for number in &table.numbers {
        push(&number.name, true);
        push(&number.header(), true);
    }
    columns
}
