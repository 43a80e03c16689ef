//! A cloud of people, one mark each, that the page's script recolours.

use std::fmt::Write as _;

use super::figure::WIDTHS;
use super::scale::{Scale, extent, ticks};
use super::svg::{Anchor, Svg, c, escape, text_width};
use crate::format;

/// Marks by group: round, square, triangle, diamond, triangle down, cross. The script knows the same.
const MARKS: [&str; 6] = [
    "M-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0",
    "M-3.6-3.6h7.2v7.2h-7.2z",
    "M0-5L4.6 3.4h-9.2z",
    "M0-5.2L5.2 0L0 5.2L-5.2 0z",
    "M0 5L4.6-3.4h-9.2z",
    "M-4.6-1.6h3v-3h3.2v3h3v3.2h-3v3h-3.2v-3h-3z",
];

/// A cloud before it is drawn.
pub(crate) struct Cloud<'a> {
    /// Unique on the page.
    pub(crate) id: &'a str,
    pub(crate) title: &'a str,
    pub(crate) description: &'a str,
    pub(crate) x: &'a str,
    pub(crate) y: &'a str,
    pub(crate) points: &'a [[f64; 2]],
    /// The group of each, of which there are few, before the script colours anything.
    pub(crate) groups: Vec<Option<usize>>,
    /// Who each is.
    pub(crate) names: &'a [String],
    /// Whether both axes have the same scale: distances mean something.
    pub(crate) even: bool,
    /// Whether the numbers of the axes are shown.
    pub(crate) numbers: bool,
}

impl Cloud<'_> {
    /// Both drawings.
    pub(crate) fn drawings(&self) -> String {
        WIDTHS.iter().map(|(size, width)| self.draw(size, *width)).collect()
    }

    fn draw(&self, size: &str, width: f64) -> String {
        let height = if width > 500.0 { width * 0.6 } else { width * 0.95 };
        let (left, right, top, bottom) = (52.0, width - 12.0, 30.0, height - 44.0);
        let range = |a: usize| {
            let (low, high) = extent(self.points.iter().map(|p| p[a])).unwrap_or((0.0, 1.0));
            let room = 0.04 * (high - low);
            (low - room, high + room)
        };
        let (mut xs, mut ys) = (range(0), range(1));
        if self.even {
            // millimetres are as long across as upwards
            let by = ((xs.1 - xs.0) / (right - left)).max((ys.1 - ys.0) / (bottom - top));
            let widen = |r: (f64, f64), pixels: f64| {
                let spare = (by * pixels - (r.1 - r.0)) / 2.0;
                (r.0 - spare, r.1 + spare)
            };
            xs = widen(xs, right - left);
            ys = widen(ys, bottom - top);
        }
        let (sx, sy) = (Scale::new(xs, (left, right)), Scale::new(ys, (bottom, top)));
        let mut svg = Svg::new(width, height);
        svg.text("axis-label", (0.0, 14.0), Anchor::Start, self.y);
        for (range, upright) in [(xs, false), (ys, true)] {
            let marks = ticks(range, if upright { 5 } else { 6 });
            for &v in &marks.values {
                let text = format::fixed(v, marks.decimals);
                let text = if self.numbers { text.as_str() } else { "" };
                if upright {
                    svg.line("grid", (left, sy.at(v)), (right, sy.at(v)));
                    svg.text("tick", (left - 8.0, sy.at(v) + 4.5), Anchor::End, text);
                } else {
                    svg.line("grid", (sx.at(v), top), (sx.at(v), bottom));
                    if text_width(text) < 60.0 {
                        svg.text("tick", (sx.at(v), bottom + 19.0), Anchor::Middle, text);
                    }
                }
            }
        }
        svg.line("axis", (left, bottom), (right, bottom));
        svg.text("axis-label", ((left + right) / 2.0, height - 5.0), Anchor::Middle, self.x);
        let mut people = String::new();
        for (i, p) in self.points.iter().enumerate().filter(|(_, p)| p.iter().all(|x| x.is_finite())) {
            let group = self.groups.get(i).copied().flatten();
            let class = group.map_or_else(|| "missing".to_owned(), |g| format!("s{}", g % 6 + 1));
            let _ = write!(
                people,
                r#"<path class="person {class}" data-person="{i}" transform="translate({} {})" d="{}"><title>{}</title></path>"#,
                c(sx.at(p[0])),
                c(sy.at(p[1])),
                MARKS[group.unwrap_or(0) % MARKS.len()],
                escape(self.names.get(i).map_or("", String::as_str))
            );
        }
        svg.raw(&people);
        svg.close(&format!("{}-{size}", self.id), size, self.title, self.description)
    }
}
