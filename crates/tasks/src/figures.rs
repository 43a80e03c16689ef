//! Words and views that several sections have in common.

use formkin_geometry::Point;
use formkin_report::document::view::{Painted, View};
use formkin_report::format::{fixed, unit, words};
use formkin_shape::compare::Place;

/// A probability as it is printed.
pub fn chance(p: f64) -> String {
    if p < 0.0001 { "<0.0001".to_owned() } else { fixed(p, if p < 0.1 { 4 } else { 2 }) }
}

/// `chest_girth_mm` becomes `chest girth` and `mm`.
pub fn name_and_unit(name: &str) -> (String, String) {
    for code in ["mm2", "mm3", "mm", "cm", "kg", "deg", "years"] {
        if let Some(bare) = name.strip_suffix(code).and_then(|n| n.strip_suffix('_')) {
            return (bare.replace('_', " "), unit(code));
        }
    }
    (words(name, None), String::new())
}

/// Blue where the effect goes inwards, orange where it goes outwards, as strong as `most_mm` allows; grey where it is no finding.
pub fn colors(place: &Place, most_mm: f64) -> Vec<[u8; 3]> {
    let blend = |to: [f64; 3], t: f64| -> [u8; 3] {
        std::array::from_fn(|k| (225.0 + (to[k] - 225.0) * t).round().clamp(0.0, 255.0) as u8)
    };
    place
        .effect_mm
        .iter()
        .zip(&place.q)
        .map(|(effect, q)| {
            if *q > place.level || most_mm <= 0.0 {
                return [190, 190, 190];
            }
            let t = (effect.abs() / most_mm).min(1.0);
            if *effect < 0.0 { blend([20.0, 80.0, 170.0], t) } else { blend([215.0, 95.0, 10.0], t) }
        })
        .collect()
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
