//! Charts as inline SVG: axes with round ticks, units in the labels, legends, no script. Every chart is drawn twice, for
//! a wide and for a narrow page, so that its letters keep their size; the style sheet shows one of them.

pub(crate) mod alone;
mod bars;
mod hundred;
mod levels;
mod people;
mod plot;
mod scale;
mod svg;

pub(crate) use bars::{BarRow, BarValue, Bars};
pub(crate) use hundred::hundred;
pub(crate) use people::Cloud;
pub(crate) use plot::{Axis, Frame, Key, Layer, Mark, Plot};
pub(crate) use scale::rounded_out;
pub(crate) use svg::{escape, text_width};

/// Widths in pixels of the two drawings.
pub(crate) const WIDTHS: [(&str, f64); 2] = [("wide", 844.0), ("narrow", 344.0)];
/// Widths where two charts stand side by side on a wide page.
pub(crate) const HALF_WIDTHS: [(&str, f64); 2] = [("wide", 404.0), ("narrow", 344.0)];

/// A chart as it goes into the page.
#[derive(Debug, Clone)]
pub(crate) struct Figure {
    /// What the chart shows.
    pub(crate) title: String,
    /// One sentence: what it says.
    pub(crate) reading: String,
    /// Both drawings, as SVG.
    pub(crate) drawings: String,
    /// The key to colours and marks.
    pub(crate) keys: Vec<Key>,
    /// Half as wide as the page on a wide page.
    pub(crate) half: bool,
}
