//! Charts as inline SVG: axes with round ticks, units in the labels, legends, no script. Every chart is drawn twice, for
//! a wide and for a narrow page, so that its letters keep their size; the style sheet shows one of them.

mod alone;
mod bars;
mod hundred;
mod levels;
mod people;
mod plot;
mod scale;
mod svg;

pub use alone::file;
pub use bars::{BarRow, BarValue, Bars};
pub(crate) use hundred::hundred;
pub(crate) use people::Cloud;
pub use plot::{Axis, Frame, Key, Layer, Mark, Plot};
pub use scale::rounded_out;
pub(crate) use svg::{escape, text_width};

/// Widths in pixels of the two drawings.
pub(crate) const WIDTHS: [(&str, f64); 2] = [("wide", 844.0), ("narrow", 344.0)];
/// Widths where two charts stand side by side on a wide page.
pub(crate) const HALF_WIDTHS: [(&str, f64); 2] = [("wide", 404.0), ("narrow", 344.0)];

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
