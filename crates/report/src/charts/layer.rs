//! What can be drawn in a chart of two axes.

/// A mark of a cloud of points. (Classes of layers: `s1` to `s6` are the series of the page's palette, `muted` and
/// `alert` its grey and its warning.)
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A round dot.
    Dot,
    /// An upright cross, for what is left out: told apart by shape, not by colour alone.
    Cross,
}

/// One thing in the chart.
#[derive(Debug, Clone)]
pub enum Layer {
    /// A line through points; broken where a value is not finite.
    Line {
        /// Its class.
        class: &'static str,
        /// Its points: x and y.
        points: Vec<(f64, f64)>,
        /// Whether its points are dots too.
        dots: bool,
    },
    /// A band between a low and a high value.
    Band {
        /// Its class.
        class: &'static str,
        /// x, the low and the high value.
        points: Vec<(f64, f64, f64)>,
    },
    /// Many marks.
    Marks {
        /// Their class.
        class: &'static str,
        /// What they are.
        mark: Mark,
        /// Where they are: x and y.
        points: Vec<(f64, f64)>,
    },
    /// Boxes with a name.
    Boxes {
        /// Their class.
        class: &'static str,
        /// The boxes.
        boxes: Vec<Frame>,
    },
    /// A level across the chart.
    Level {
        /// Its class.
        class: &'static str,
        /// Its y.
        at: f64,
        /// What is written at it; may be empty.
        text: String,
    },
    /// One point picked out, with a word beside it.
    Pick {
        /// Its class.
        class: &'static str,
        /// Its x and y.
        at: (f64, f64),
        /// The word.
        text: String,
    },
    /// A few points picked out by rings.
    Spots {
        /// Their class.
        class: &'static str,
        /// Where they are: x and y.
        points: Vec<(f64, f64)>,
    },
    /// Upright bars of this width, in units of x.
    Columns {
        /// Their class.
        class: &'static str,
        /// The middle of each, and its height.
        points: Vec<(f64, f64)>,
        /// Their width.
        width: f64,
    },
    /// A line at an x that the movement's clock moves; hidden without script.
    Cursor {
        /// The view that moves it.
        id: String,
    },
}

/// A box with a name.
#[derive(Debug, Clone)]
pub struct Frame {
    /// The lower left corner.
    pub low: (f64, f64),
    /// The upper right corner.
    pub high: (f64, f64),
    /// Its name.
    pub name: String,
}
