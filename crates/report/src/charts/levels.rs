//! The words of levels: each stands above or below its line, to the right or to the left, where it covers no other words.

use super::layer::Layer;
use super::scale::Scale;
use super::svg::{Anchor, Svg, text_width};

/// How high letters stand over their line and hang under it, in px.
const OVER: f64 = 11.0;
const UNDER: f64 = 4.0;

/// Where words could stand: their anchor, the line they stand on, and their ends.
#[derive(Clone, Copy)]
struct Place {
    anchor: Anchor,
    line: f64,
    ends: (f64, f64),
}

/// Writes the words of all levels; `frame` is left, right, top and bottom of the chart.
pub(crate) fn words(svg: &mut Svg, layers: &[Layer], sy: &Scale, frame: (f64, f64, f64, f64)) {
    let (left, right, top, bottom) = frame;
    let lines: Vec<f64> = layers
        .iter()
        .filter_map(|l| if let Layer::Level { at, .. } = l { Some(sy.at(*at)) } else { None })
        .collect();
    let mut taken: Vec<Place> = Vec::new();
    for layer in layers {
        let Layer::Level { at, text, .. } = layer else { continue };
        if text.is_empty() {
            continue;
        }
        let (y, wide) = (sy.at(*at), text_width(text));
        let places = [
            (Anchor::End, y - 5.0),
            (Anchor::End, y + 15.0),
            (Anchor::Start, y - 5.0),
            (Anchor::Start, y + 15.0),
        ]
        .map(|(anchor, line)| {
            let ends = match anchor {
                Anchor::End => (right - 2.0 - wide, right - 2.0),
                _ => (left + 4.0, left + 4.0 + wide),
            };
            Place { anchor, line, ends }
        });
        let cost = |p: &Place| {
            let covered = taken.iter().filter(|t| {
                t.ends.0 < p.ends.1 && p.ends.0 < t.ends.1 && (t.line - p.line).abs() < OVER + UNDER
            });
            let struck = lines.iter().filter(|l| (p.line - OVER..p.line + UNDER).contains(*l));
            let outside = p.line - OVER < top || p.line + UNDER > bottom;
            100 * covered.count() + 10 * usize::from(outside) + struck.count()
        };
        let Some(best) = places.into_iter().min_by_key(cost) else { continue };
        let x = if best.anchor == Anchor::End { best.ends.1 } else { best.ends.0 };
        svg.text("note", (x, best.line), best.anchor, text);
        taken.push(best);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_levels_close_together_do_not_cover_each_other() {
        let level = |at: f64, text: &str| Layer::Level { class: "s1", at, text: text.into() };
        let layers = [
            level(-3.3, "mean -3.3 mm, shaded"),
            level(-4.0, "limit of the mean, 4 mm"),
            level(-4.1, "another"),
        ];
        let mut svg = Svg::new(800.0, 300.0);
        words(&mut svg, &layers, &Scale::new((-20.0, 20.0), (260.0, 30.0)), (30.0, 790.0, 30.0, 260.0));
        let out = svg.close("a", "", "", "");
        let places: Vec<(String, String)> = out
            .split("class=\"note\" x=\"")
            .skip(1)
            .map(|t| {
                let mut parts = t.split('"');
                let x = parts.next().unwrap().to_owned();
                (x, parts.nth(1).unwrap().to_owned())
            })
            .collect();
        assert_eq!(places.len(), 3);
        for (i, a) in places.iter().enumerate() {
            for b in &places[i + 1..] {
                let apart = (a.1.parse::<f64>().unwrap() - b.1.parse::<f64>().unwrap()).abs();
                assert!(a.0 != b.0 || apart >= 15.0, "{places:?}");
            }
        }
    }
}
