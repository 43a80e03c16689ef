//! Charts as inline SVG: axes with round ticks, units in the labels, legends, no script. Every chart is drawn twice, for
//! a wide and for a narrow page, so that its letters keep their size; the style sheet shows one of them.

mod alone;
mod axis;
mod bars;
mod figure;
mod hundred;
mod layer;
mod levels;
mod people;
mod plot;
mod scale;
mod svg;

pub use alone::file;
pub use axis::Axis;
pub use bars::{BarRow, BarValue, Bars};
pub(crate) use figure::WIDTHS;
pub use figure::{Figure, Key};
pub(crate) use hundred::hundred;
pub use layer::{Frame, Layer, Mark};
pub(crate) use people::Cloud;
pub use plot::Plot;
pub use scale::rounded_out;
pub(crate) use svg::{escape, text_width};
