//! A chart of two axes: lines, bands, dots, boxes and levels.

use std::fmt::Write as _;

use super::axis::Axis;
use super::figure::{Figure, HALF_WIDTHS, Key, WIDTHS};
use super::layer::{Frame, Layer, Mark};
use super::levels;
use super::scale::{Scale, Ticks, extent, rounded_out, text_ticks};
use super::svg::{Anchor, Svg, c, text_width};

/// A chart before it is drawn.
#[derive(Debug, Clone)]
pub struct Plot {
    /// Unique on the page.
    pub id: String,
    /// What the chart shows.
    pub title: String,
    /// One sentence: what the chart says.
    pub reading: String,
    /// The axis across.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// What is drawn, the first undermost.
    pub layers: Vec<Layer>,
    /// The key to colours and marks.
    pub keys: Vec<Key>,
    /// Half as wide as the page.
    pub half: bool,
    /// Height over width of the wide drawing.
    pub aspect: f64,
}

impl Plot {
    /// An empty chart.
    #[must_use]
    pub fn new(id: impl Into<String>, title: impl Into<String>, x: Axis, y: Axis) -> Self {
        Self {
            id: id.into(),
            title: title.into(),
            reading: String::new(),
            x,
            y,
            layers: Vec::new(),
            keys: Vec::new(),
            half: false,
            aspect: 0.44,
        }
    }

    /// The margin right of the frame: the last tick's text is whole.
    fn room_at_the_right(&self, ticks: &Ticks, range: (f64, f64), (left, right): (f64, f64)) -> f64 {
        const LEAST: f64 = 12.0;
        let Some(&last) = ticks.values.last() else { return LEAST };
        // letters of another font may be wider
        let half = 0.6 * text_width(&self.x.text(last, ticks.decimals)) + 1.0;
        let over = Scale::new(range, (left, right)).at(last) + half - (right + LEAST);
        LEAST + over.max(0.0)
    }

    /// Draws it for both widths.
    #[must_use]
    pub fn figure(self) -> Figure {
        let widths = if self.half { HALF_WIDTHS } else { WIDTHS };
        let drawings = widths.iter().map(|(class, width)| self.draw(class, *width)).collect();
        Figure { title: self.title, reading: self.reading, drawings, keys: self.keys, half: self.half }
    }

    /// Width and height of [`Self::alone`].
    pub(super) fn size_alone(&self) -> (f64, f64) {
        (WIDTHS[0].1, WIDTHS[0].1 * self.aspect)
    }

    /// The wide drawing by itself.
    pub(super) fn alone(&self) -> String {
        self.draw(WIDTHS[0].0, WIDTHS[0].1)
    }

    fn ranges(&self) -> ((f64, f64), (f64, f64)) {
        let mut xs = Vec::new();
        let mut ys = Vec::new();
        for layer in &self.layers {
            match layer {
                Layer::Line { points, .. } | Layer::Marks { points, .. } => {
                    let finite = points.iter().filter(|p| p.0.is_finite() && p.1.is_finite());
                    for p in finite {
                        xs.push(p.0);
                        ys.push(p.1);
                    }
                }
                Layer::Columns { points, width, .. } => {
                    for p in points {
                        xs.extend([p.0 - width * 0.7, p.0 + width * 0.7]);
                        ys.push(p.1);
                    }
                }
                Layer::Band { points, .. } => {
                    for p in points {
                        xs.push(p.0);
                        ys.extend([p.1, p.2]);
                    }
                }
                Layer::Boxes { boxes, .. } => {
                    for Frame { low, high, .. } in boxes {
                        xs.extend([low.0, high.0]);
                        ys.extend([low.1, high.1]);
                    }
                }
                Layer::Level { at, .. } => ys.push(*at),
                Layer::Pick { at, .. } => {
                    xs.push(at.0);
                    ys.push(at.1);
                }
                // on a line that is drawn
                Layer::Spots { .. } | Layer::Cursor { .. } => {}
            }
        }
        let of = |axis: &Axis, values: Vec<f64>, wanted: usize, round: bool| {
            axis.range.unwrap_or_else(|| {
                let (low, high) = extent(values).unwrap_or((0.0, 1.0));
                let low = if axis.from_zero { low.min(0.0) } else { low };
                if round { rounded_out((low, high), wanted) } else { (low, high) }
            })
        };
        // lines run from edge to edge; clouds of dots keep a margin
        let round_x = self.layers.iter().any(|l| matches!(l, Layer::Marks { .. } | Layer::Boxes { .. }));
        (of(&self.x, xs, 6, round_x), of(&self.y, ys, 5, true))
    }

    fn draw(&self, size: &str, width: f64) -> String {
        let wide = width > 500.0;
        let height = if wide { width * self.aspect } else { (width * self.aspect.max(0.7)).min(320.0) };
        let (x_range, y_range) = self.ranges();
        let y_ticks = self.y.ticks(y_range, 5);
        let y_text: Vec<String> = y_ticks.values.iter().map(|&v| self.y.text(v, y_ticks.decimals)).collect();
        let left = y_text.iter().map(|t| text_width(t)).fold(18.0, f64::max) + 10.0;
        let (top, bottom) = (30.0, height - 44.0);
        let wanted = if wide { 8 } else { 5 };
        let x_ticks_in = |right: f64| {
            let width = |v, d| text_width(&self.x.text(v, d));
            text_ticks(|wanted| self.x.ticks(x_range, wanted), width, wanted, right - left)
        };
        let right = width - self.room_at_the_right(&x_ticks_in(width - 12.0), x_range, (left, width - 12.0));
        let sx = Scale::new(x_range, (left, right));
        let sy = Scale::new(y_range, (bottom, top));
        let mut svg = Svg::new(width, height);

        svg.text("axis-label", (0.0, 14.0), Anchor::Start, &self.y.label);
        for (&v, text) in y_ticks.values.iter().zip(&y_text) {
            let y = sy.at(v);
            svg.line("grid", (left, y), (right, y));
            svg.text("tick", (left - 8.0, y + 4.5), Anchor::End, text);
        }
        let x_ticks = x_ticks_in(right);
        for &v in &x_ticks.values {
            let x = sx.at(v);
            svg.line("axis", (x, bottom), (x, bottom + 4.0));
            svg.text("tick", (x, bottom + 19.0), Anchor::Middle, &self.x.text(v, x_ticks.decimals));
        }
        svg.line("axis", (left, bottom), (right, bottom));
        svg.text("axis-label", ((left + right) / 2.0, height - 5.0), Anchor::Middle, &self.x.label);

        for layer in &self.layers {
            draw_layer(&mut svg, layer, &sx, &sy, (left, right, top, bottom));
        }
        levels::words(&mut svg, &self.layers, &sy, (left, right, top, bottom));
        // names of boxes stand over the dots inside them
        for layer in &self.layers {
            if let Layer::Boxes { boxes, .. } = layer {
                for Frame { low, high, name } in boxes {
                    let at = (sx.at(low.0) + 5.0, sy.at(high.1) + 14.0);
                    svg.text("box-name", at, Anchor::Start, name);
                }
            }
        }
        svg.close(&format!("{}-{size}", self.id), size, &self.title, &self.reading)
    }
}

/// The commands of a line through points, broken where one is not finite.
fn line_path(points: &[(f64, f64)], sx: &Scale, sy: &Scale) -> String {
    let mut d = String::new();
    let mut pen_down = false;
    for &(x, y) in points {
        if !x.is_finite() || !y.is_finite() {
            pen_down = false;
            continue;
        }
        let _ = write!(d, "{}{} {}", if pen_down { 'L' } else { 'M' }, c(sx.at(x)), c(sy.at(y)));
        pen_down = true;
    }
    d
}

fn draw_layer(svg: &mut Svg, layer: &Layer, sx: &Scale, sy: &Scale, frame: (f64, f64, f64, f64)) {
    let (left, right, top, bottom) = frame;
    match layer {
        Layer::Line { class, points, dots } => {
            svg.path(&format!("line {class}"), &line_path(points, sx, sy));
            if *dots {
                for &(x, y) in points.iter().filter(|p| p.1.is_finite()) {
                    svg.circle(&format!("dot {class}"), (sx.at(x), sy.at(y)), 3.2);
                }
            }
        }
        Layer::Band { class, points } => {
            let high: Vec<(f64, f64)> = points.iter().map(|p| (p.0, p.2)).collect();
            let mut d = line_path(&high, sx, sy);
            for p in points.iter().rev() {
                let _ = write!(d, "L{} {}", c(sx.at(p.0)), c(sy.at(p.1)));
            }
            d.push('Z');
            svg.path(&format!("band {class}"), &d);
        }
        Layer::Marks { class, mark, points } => {
            let mut d = String::new();
            for &(x, y) in points.iter().filter(|p| p.0.is_finite() && p.1.is_finite()) {
                let (x, y) = (sx.at(x), sy.at(y));
                let _ = match mark {
                    // a stroke of no length with round ends is a dot: one path for thousands
                    Mark::Dot => write!(d, "M{} {}h0", c(x), c(y)),
                    Mark::Cross => {
                        write!(d, "M{} {}l7 7m0-7l-7 7", c(x - 3.5), c(y - 3.5))
                    }
                };
            }
            let kind = if *mark == Mark::Dot { "dots" } else { "crosses" };
            svg.path(&format!("{kind} {class}"), &d);
        }
        Layer::Boxes { class, boxes } => {
            for Frame { low, high, .. } in boxes {
                svg.rect(
                    &format!("box {class}"),
                    (sx.at(low.0), sy.at(low.1)),
                    (sx.at(high.0), sy.at(high.1)),
                );
            }
        }
        // its words come after all layers
        Layer::Level { class, at, .. } => {
            let y = sy.at(*at);
            svg.line(&format!("level {class}"), (left, y), (right, y));
        }
        Layer::Pick { class, at, text } => {
            let (x, y) = (sx.at(at.0), sy.at(at.1));
            svg.line(&format!("pick {class}"), (x, y), (x, bottom));
            svg.circle(&format!("ring {class}"), (x, y), 6.0);
            let room = right - x > text_width(text) + 14.0;
            let (tx, anchor) = if room { (x + 11.0, Anchor::Start) } else { (x - 11.0, Anchor::End) };
            svg.text("note strong", (tx, (y - 10.0).max(top + 4.0)), anchor, text);
        }
        Layer::Spots { class, points } => {
            for &(x, y) in points {
                svg.circle(&format!("ring {class}"), (sx.at(x), sy.at(y)), 4.0);
            }
        }
        Layer::Columns { class, points, width } => {
            for &(x, y) in points.iter().filter(|p| p.1.is_finite()) {
                svg.rect(
                    &format!("column {class}"),
                    (sx.at(x - width / 2.0), sy.at(0.0)),
                    (sx.at(x + width / 2.0), sy.at(y)),
                );
            }
        }
        Layer::Cursor { id } => {
            svg.cursor(id, (left, right), (top, bottom));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plot() -> Plot {
        let mut p = Plot::new("p", "Error", Axis::new("modes"), Axis::new("error, mm"));
        p.x.whole = true;
        p.y.from_zero = true;
        p.layers.push(Layer::Band { class: "s1", points: vec![(1.0, 9.0, 11.0), (10.0, 2.0, 3.0)] });
        p.layers.push(Layer::Line {
            class: "s1",
            points: vec![(1.0, 10.0), (5.0, f64::NAN), (10.0, 2.5)],
            dots: true,
        });
        p.layers.push(Layer::Level { class: "muted", at: 5.0, text: "target 5 mm".into() });
        p
    }

    #[test]
    fn a_chart_is_drawn_for_wide_and_narrow_pages_with_its_own_ids() {
        let f = plot().figure();
        assert_eq!(f.drawings.matches("<svg").count(), 2);
        assert!(f.drawings.contains("id=\"p-wide-t\"") && f.drawings.contains("id=\"p-narrow-d\""));
        assert!(f.drawings.contains("error, mm"));
        assert!(!f.drawings.contains("NaN"));
    }

    #[test]
    fn the_last_tick_is_whole() {
        let mut p = Plot::new("w", "", Axis::new("mm"), Axis::new("mm"));
        p.layers.push(Layer::Marks {
            class: "s1",
            mark: Mark::Dot,
            points: vec![(15_000.0, 0.0), (19_950.0, 1.0)],
        });
        for width in [844.0, 404.0, 344.0] {
            let svg = p.draw("wide", width);
            let last = svg.rsplit("class=\"tick\" x=\"").next().unwrap();
            let x: f64 = last.split('"').next().unwrap().parse().unwrap();
            let text = last.split('>').nth(1).unwrap().split('<').next().unwrap();
            assert!(x + text_width(text) / 2.0 <= width, "{text} at {x} of {width}");
        }
    }

    #[test]
    fn a_line_breaks_where_a_value_is_missing() {
        let s = Scale::new((0.0, 3.0), (0.0, 3.0));
        let d = line_path(&[(0.0, 0.0), (1.0, 1.0), (2.0, f64::NAN), (3.0, 3.0)], &s, &s);
        assert_eq!(d, "M0 0L1 1M3 3");
    }

    #[test]
    fn an_empty_chart_is_drawn_without_a_panic() {
        let f = Plot::new("e", "", Axis::default(), Axis::default()).figure();
        assert!(!f.drawings.contains("NaN") && !f.drawings.contains("inf"));
    }
}
