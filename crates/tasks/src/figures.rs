//! Words and views that several sections have in common.

use formkin_geometry::Point;
use formkin_report::document::view::{Painted, View};
use formkin_report::format::fixed;

/// A probability as it is printed.
pub fn chance(p: f64) -> String {
    if p < 0.0001 { "<0.0001".to_owned() } else { fixed(p, if p < 0.1 { 4 } else { 2 }) }
}

/// A body painted with a result.
pub fn painted_on(mean: &[Point], values: Vec<f64>, what: Painted) -> View {
    View::Painted(Painted {
        label: format!("The mean body, coloured: {}.", what.colour),
        mean: mean.to_vec(),
        values,
        instead: "The body of this result is in effect.glb beside the report: this page has no room for it."
            .to_owned(),
        ..what
    })
}
