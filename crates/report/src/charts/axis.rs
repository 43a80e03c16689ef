//! One axis of a chart.

use super::scale::{Ticks, ticks, whole_ticks};
use crate::format;

/// One axis.
#[derive(Debug, Clone, Default)]
pub struct Axis {
    /// What is shown and in which unit, in words.
    pub label: String,
    /// The range; from the data where none is given.
    pub range: Option<(f64, f64)>,
    /// Whole numbers only.
    pub whole: bool,
    /// Begins at zero.
    pub from_zero: bool,
    /// Shares, shown as per cent.
    pub percent: bool,
    /// Values are logarithms to base 10 of what is shown; ticks are powers of ten.
    pub log10: bool,
}

impl Axis {
    /// An axis whose range comes from the data.
    #[must_use]
    pub fn new(label: impl Into<String>) -> Self {
        Self { label: label.into(), ..Self::default() }
    }

    pub(super) fn ticks(&self, range: (f64, f64), wanted: usize) -> Ticks {
        if self.whole || self.log10 { whole_ticks(range, wanted) } else { ticks(range, wanted) }
    }

    pub(super) fn text(&self, value: f64, decimals: usize) -> String {
        if self.percent {
            format!("{}\u{202f}%", format::fixed(value * 100.0, decimals.saturating_sub(2)))
        } else if self.log10 {
            format::fixed(10f64.powf(value), (-value).ceil().clamp(0.0, 6.0) as usize)
        } else {
            format::fixed(value, decimals)
        }
    }
}
