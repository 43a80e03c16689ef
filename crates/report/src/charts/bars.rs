//! Named rows: bars, and dots with their intervals.

use super::axis::Axis;
use super::figure::{Figure, HALF_WIDTHS, Key, WIDTHS};
use super::scale::{Scale, extent, rounded_out, ticks, whole_ticks};
use super::svg::{Anchor, Svg, text_width};
use crate::format;

/// One row.
#[derive(Debug, Clone, Default)]
pub struct BarRow {
    /// Its name.
    pub name: String,
    /// One mark or bar each.
    pub values: Vec<BarValue>,
    /// Written at the end of the row.
    pub text: String,
}

/// A value of a row.
#[derive(Debug, Clone, Copy)]
pub struct BarValue {
    /// The value.
    pub value: f64,
    /// What it is drawn in: `s1` to `s6`, `muted`, `alert`.
    pub class: &'static str,
    /// Its interval, drawn where values are dots.
    pub interval: Option<(f64, f64)>,
}

impl BarValue {
    /// A value without an interval.
    #[must_use]
    pub fn plain(value: f64, class: &'static str) -> Self {
        Self { value, class, interval: None }
    }
}

/// A chart of rows before it is drawn.
#[derive(Debug, Clone)]
pub struct Bars {
    /// Unique on the page.
    pub id: String,
    /// What the chart shows.
    pub title: String,
    /// One sentence: what it says.
    pub reading: String,
    /// The axis along the rows.
    pub axis: Axis,
    /// The rows, from above.
    pub rows: Vec<BarRow>,
    /// The key to colours.
    pub keys: Vec<Key>,
    /// Dots with intervals in place of bars.
    pub dots: bool,
    /// Half as wide as the page.
    pub half: bool,
}

impl Bars {
    /// Draws it for both widths.
    #[must_use]
    pub fn figure(self) -> Figure {
        let widths = if self.half { HALF_WIDTHS } else { WIDTHS };
        let drawings = widths.iter().map(|(class, width)| self.draw(class, *width)).collect();
        Figure { title: self.title, reading: self.reading, drawings, keys: self.keys, half: self.half }
    }

    fn range(&self) -> (f64, f64) {
        self.axis.range.unwrap_or_else(|| {
            let all = self.rows.iter().flat_map(|r| &r.values).flat_map(|v| {
                let (low, high) = v.interval.unwrap_or((v.value, v.value));
                [v.value, low, high]
            });
            let (low, high) = extent(all).unwrap_or((0.0, 1.0));
            rounded_out((low.min(0.0), high), 5)
        })
    }

    fn draw(&self, size: &str, width: f64) -> String {
        let room = width * if width > 500.0 { 0.42 } else { 0.46 };
        let names: Vec<String> = self.rows.iter().map(|r| shortened(&r.name, room)).collect();
        let left = names.iter().map(|n| text_width(n)).fold(30.0, f64::max).min(room) + 12.0;
        let end = self.rows.iter().map(|r| text_width(&r.text)).fold(0.0, f64::max);
        let right = (width - end - 14.0).max(left + 60.0);
        let several = self.rows.iter().map(|r| r.values.len()).max().unwrap_or(1).max(1);
        let pitch = if self.dots { 14.0 * several as f64 + 12.0 } else { 26.0 };
        let bottom = 8.0 + pitch * self.rows.len() as f64;
        let height = bottom + 42.0;
        let range = self.range();
        let sx = Scale::new(range, (left, right));
        let mut svg = Svg::new(width, height);

        let wanted = if right - left > 300.0 { 6 } else { 3 };
        let marks = if self.axis.whole { whole_ticks(range, wanted) } else { ticks(range, wanted) };
        for &v in &marks.values {
            let x = sx.at(v);
            svg.line("grid", (x, 4.0), (x, bottom));
            let text = if self.axis.percent {
                format!("{}\u{202f}%", format::fixed(v * 100.0, marks.decimals.saturating_sub(2)))
            } else {
                format::fixed(v, marks.decimals)
            };
            svg.text("tick", (x, bottom + 17.0), Anchor::Middle, &text);
        }
        svg.text("axis-label", ((left + right) / 2.0, height - 5.0), Anchor::Middle, &self.axis.label);
        for (i, (row, name)) in self.rows.iter().zip(&names).enumerate() {
            let middle = 8.0 + pitch * (i as f64 + 0.5);
            svg.text("row-name", (left - 10.0, middle + 4.5), Anchor::End, name);
            for (k, &BarValue { value, class, interval }) in row.values.iter().enumerate() {
                if !value.is_finite() {
                    continue;
                }
                let y = middle + (k as f64 - (row.values.len() as f64 - 1.0) / 2.0) * 14.0;
                if self.dots {
                    if let Some((low, high)) = interval {
                        svg.line(&format!("whisker {class}"), (sx.at(low), y), (sx.at(high), y));
                    }
                    svg.circle(&format!("dot {class}"), (sx.at(value), y), 5.0);
                } else {
                    let half = 8.0;
                    svg.rect(&format!("column {class}"), (sx.at(0.0), y - half), (sx.at(value), y + half));
                }
            }
            svg.text("row-value", (width - 2.0, middle + 4.5), Anchor::End, &row.text);
        }
        svg.line("axis", (sx.at(range.0.max(0.0)), 4.0), (sx.at(range.0.max(0.0)), bottom));
        svg.close(&format!("{}-{size}", self.id), size, &self.title, &self.reading)
    }
}

/// A name cut to the room there is.
fn shortened(name: &str, room: f64) -> String {
    let most = (room / 7.0) as usize;
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let mut cut: String = name.chars().take(most.saturating_sub(1)).collect();
    cut.push('\u{2026}');
    cut
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_drawn_with_names_escaped_and_long_ones_cut() {
        let bars = Bars {
            id: "b".into(),
            title: "Share".into(),
            reading: String::new(),
            axis: Axis { label: "share".into(), percent: true, ..Axis::default() },
            rows: vec![
                BarRow { name: "<M>".into(), values: vec![BarValue::plain(0.4, "s1")], text: "40 %".into() },
                BarRow {
                    name: "x".repeat(90),
                    values: vec![BarValue::plain(f64::NAN, "s1")],
                    text: "–".into(),
                },
            ],
            keys: vec![],
            dots: false,
            half: false,
        };
        let f = bars.figure();
        assert!(f.drawings.contains("&lt;M&gt;") && f.drawings.contains('…'));
        assert!(!f.drawings.contains("NaN"));
        assert_eq!(f.drawings.matches("column s1").count(), 2);
    }
}
