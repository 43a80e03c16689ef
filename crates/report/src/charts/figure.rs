//! A chart as it goes into a document.

/// Widths in pixels of the two drawings.
pub(crate) const WIDTHS: [(&str, f64); 2] = [("wide", 844.0), ("narrow", 344.0)];
/// Widths where two charts stand side by side on a wide page.
pub(crate) const HALF_WIDTHS: [(&str, f64); 2] = [("wide", 404.0), ("narrow", 344.0)];

/// One line of the key.
#[derive(Debug, Clone)]
pub struct Key {
    /// `s1` .. `s6`, `muted`, `alert`.
    pub class: &'static str,
    /// `line`, `dot`, `cross`, `band`, `column`, `level`, `box`.
    pub kind: &'static str,
    /// In words.
    pub text: String,
}

impl Key {
    /// A line of the key.
    #[must_use]
    pub fn new(class: &'static str, kind: &'static str, text: impl Into<String>) -> Self {
        Self { class, kind, text: text.into() }
    }
}

/// A chart as it goes into a document.
#[derive(Debug, Clone)]
pub struct Figure {
    /// What the chart shows.
    pub title: String,
    /// One sentence: what it says.
    pub reading: String,
    /// The drawings, as SVG whose texts are escaped.
    pub(crate) drawings: String,
    /// The key to colours and marks.
    pub keys: Vec<Key>,
    /// Half as wide as the page on a wide page.
    pub half: bool,
}

impl Figure {
    /// A drawing that this crate made as a file, such as the picture of a dimension. It is put into the page as it is, so its texts must be
    /// escaped already.
    #[must_use]
    pub fn drawn(title: impl Into<String>, reading: impl Into<String>, svg: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            reading: reading.into(),
            drawings: svg.into(),
            keys: Vec::new(),
            half: false,
        }
    }
}
