//! Bodies side by side on one floor and to one scale, with lines of height: the mannequins of a size system.

use std::fmt::Write as _;

use formkin_geometry::Point;

use crate::charts::{Figure, WIDTHS, escape};
use crate::outline::{FRONT, LEFT, Outline, outline};

/// One body of the picture.
#[derive(Debug, Clone)]
pub struct Stander<'a> {
    /// What stands under it, such as the size's name.
    pub name: String,
    /// A second line under it; may be empty.
    pub words: String,
    /// The bodies of one group stand in rows of their own.
    pub group: String,
    /// Vertices in mm, z up, the lowest at 0, looking towards -y.
    pub positions: &'a [Point],
}

/// Room between bodies, in mm.
const APART_MM: f64 = 70.0;
/// Room for the heights' numbers, in pixels.
const MARGIN: f64 = 44.0;
/// Heights that have a number, and those that have a line, in mm.
const NUMBERED_MM: usize = 500;
const LINED_MM: usize = 100;
/// A line of text, in pixels.
const LINE: f64 = 17.0;
/// Letters of these pages are about so wide, in pixels.
const LETTER: f64 = 7.0;
/// Width of the picture as a file, in pixels.
const FILE_WIDTH: f64 = 1600.0;

/// A stander's areas.
struct Drawn<'a> {
    of: &'a Stander<'a>,
    front: Outline,
    left: Outline,
}

/// A row of bodies.
struct Row<'a, 'b> {
    bodies: &'b [Drawn<'a>],
}

/// How a picture is laid out.
struct Layout {
    width: f64,
    /// Pixels a mm.
    scale: f64,
    /// Pixels from a body to the next.
    pitch: f64,
    /// Bodies in a row at most.
    columns: usize,
    /// The tallest height line, in mm.
    top_mm: f64,
}

impl Layout {
    /// The most bodies in a row that leave every body at least `least` pixels a metre, and letters room.
    fn of(bodies: &[Drawn<'_>], width: f64, least: f64) -> Self {
        let reach =
            |d: &Drawn<'_>| d.front.reach.0.max(d.front.reach.1).max(d.left.reach.0.max(d.left.reach.1));
        let wide_mm = 2.0 * bodies.iter().map(reach).fold(1.0, f64::max) + APART_MM;
        let tall_mm = bodies.iter().map(|d| d.front.height).fold(1.0, f64::max);
        let letters = bodies.iter().flat_map(|d| [&d.of.name, &d.of.words]).map(|t| t.chars().count()).max();
        let text = letters.unwrap_or(0) as f64 * LETTER + 8.0;
        let room = width - MARGIN;
        let most = (room / (least * wide_mm / 1000.0).max(text)).floor().max(1.0) as usize;
        let longest = groups(bodies).into_iter().map(<[_]>::len).max().unwrap_or(1);
        // as many rows as are needed, filled evenly
        let rows = longest.div_ceil(most).max(1);
        let columns = longest.div_ceil(rows).max(1);
        let pitch = room / columns as f64;
        // one or two bodies need not fill the page
        let scale = (pitch / wide_mm).min(0.22 * width / 844.0);
        let pitch = (scale * wide_mm).max(text.min(pitch));
        let top_mm = (tall_mm / LINED_MM as f64 - 1e-6).ceil() * LINED_MM as f64;
        Self { width, scale, pitch, columns, top_mm }
    }
}

/// Bodies of one group that follow each other.
fn groups<'a, 'b>(bodies: &'b [Drawn<'a>]) -> Vec<&'b [Drawn<'a>]> {
    bodies.chunk_by(|a, b| a.of.group == b.of.group).collect()
}

fn drawn<'a>(bodies: &'a [Stander<'a>], triangles: &[[u32; 3]]) -> Vec<Drawn<'a>> {
    let all = bodies.iter().filter_map(|of| {
        let front = outline(of.positions, triangles, &FRONT)?;
        let left = outline(of.positions, triangles, &LEFT)?;
        Some(Drawn { of, front, left })
    });
    all.collect()
}

/// Every body's areas once, to be used by drawings.
fn definitions(bodies: &[Drawn<'_>], id: &str) -> String {
    let mut out = String::from("<defs>");
    for (b, body) in bodies.iter().enumerate() {
        for (view, areas) in [("f", &body.front), ("l", &body.left)] {
            let _ = write!(out, "<g id=\"{id}-{view}{b}\">");
            for (k, d) in areas.paths.iter().enumerate() {
                let class = if k == 0 { "skin" } else { "shade" };
                let _ = write!(out, "<path class=\"{class}\" d=\"{d}\"/>");
            }
            out.push_str("</g>");
        }
    }
    out.push_str("</defs>");
    out
}

/// Rows of bodies from the front and from the side: markup and its height in pixels.
fn rows(bodies: &[Drawn<'_>], id: &str, layout: &Layout, top: f64) -> (String, f64) {
    let mut out = String::new();
    let mut y = top;
    let mut first = 0;
    let groups = groups(bodies);
    let named = groups.len() > 1;
    for group in &groups {
        if named {
            y += LINE + 4.0;
            let _ = write!(
                out,
                "<text class=\"strong\" x=\"0\" y=\"{y:.1}\">{}</text>",
                escape(&group[0].of.group)
            );
            y += 6.0;
        }
        for row in group.chunks(layout.columns) {
            let row = Row { bodies: row };
            y = row.draw(&mut out, id, first, layout, y);
            first += row.bodies.len();
        }
    }
    (out, y)
}

impl Row<'_, '_> {
    fn draw(&self, out: &mut String, id: &str, first: usize, layout: &Layout, top: f64) -> f64 {
        let tall = layout.top_mm * layout.scale;
        let right = MARGIN + layout.pitch * self.bodies.len() as f64;
        let mut y = top;
        for view in ["f", "l"] {
            let floor = y + 14.0 + tall;
            for mm in (0..=layout.top_mm as usize).step_by(LINED_MM) {
                let at = floor - mm as f64 * layout.scale;
                let numbered = mm % NUMBERED_MM == 0;
                let class = match (mm, numbered) {
                    (0, _) => "axis",
                    (_, true) => "grid",
                    _ => "grid fine",
                };
                let _ = write!(
                    out,
                    "<line class=\"{class}\" x1=\"{MARGIN}\" y1=\"{at:.1}\" x2=\"{right:.1}\" y2=\"{at:.1}\"/>"
                );
                if numbered {
                    let cm = mm / 10;
                    let unit = if mm == 0 { " cm" } else { "" };
                    let _ = write!(
                        out,
                        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{cm}{unit}</text>",
                        MARGIN - 6.0,
                        at + 4.0
                    );
                }
            }
            for (k, body) in self.bodies.iter().enumerate() {
                let x = MARGIN + layout.pitch * (k as f64 + 0.5);
                let _ = write!(
                    out,
                    "<use href=\"#{id}-{view}{}\" transform=\"translate({x:.1} {floor:.1}) scale({:.5})\"/>",
                    first + k,
                    layout.scale
                );
                if view == "f" {
                    for (line, text) in [&body.of.name, &body.of.words].into_iter().enumerate() {
                        let class = if line == 0 { "strong" } else { "words" };
                        let _ = write!(
                            out,
                            "<text class=\"{class}\" x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
                            floor + LINE * (line as f64 + 1.0),
                            escape(text)
                        );
                    }
                }
            }
            let lines = if view == "l" {
                0
            } else if self.bodies.iter().all(|b| b.of.words.is_empty()) {
                1
            } else {
                2
            };
            y = floor + LINE * f64::from(lines) + 6.0;
        }
        y + 8.0
    }
}

const STYLE: &str = "text{font:13px system-ui,sans-serif;fill:#4d5b63}.title{font-size:17px}.title,.strong{font-weight:600;fill:#17232b}.grid{stroke:#c5ced2}.fine{stroke:#e6ebed}.axis{stroke:#84939b}\
                     .skin{fill:#c9c3ba;fill-rule:evenodd}.shade{fill:#241c14;fill-opacity:.13;fill-rule:evenodd}";

/// All bodies side by side as an SVG file, from the front and from their left, to one scale; `words` stand under the title. Bodies without extent are left out.
#[must_use]
pub fn lineup_picture(triangles: &[[u32; 3]], bodies: &[Stander<'_>], title: &str, words: &str) -> String {
    let bodies = drawn(bodies, triangles);
    let layout = Layout::of(&bodies, FILE_WIDTH, 130.0);
    let (markup, height) = rows(&bodies, "b", &layout, 62.0);
    let (width, height) = (layout.width, height + 10.0);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"-16 0 {:.0} {height:.0}\" width=\"{:.0}\" height=\"{height:.0}\" role=\"img\"><title>{title}</title><style>{STYLE}</style>\
         <rect x=\"-16\" width=\"100%\" height=\"100%\" fill=\"#fff\"/>{}<text class=\"title\" x=\"0\" y=\"30\">{title}</text><text x=\"0\" y=\"52\">{}</text>{markup}</svg>\n",
        width + 32.0,
        width + 32.0,
        definitions(&bodies, "b"),
        escape(words),
        title = escape(title),
    )
}

/// The same for the page, drawn for a wide and for a narrow one. `id` must be unique on the page.
#[must_use]
pub fn figure(
    id: &str,
    triangles: &[[u32; 3]],
    bodies: &[Stander<'_>],
    title: &str,
    reading: &str,
) -> Option<Figure> {
    let bodies = drawn(bodies, triangles);
    if bodies.is_empty() {
        return None;
    }
    let id = &escape(id);
    // the areas stand in a drawing of no size, for both drawings to use
    let mut drawings = format!(
        "<svg class=\"areas\" width=\"0\" height=\"0\" aria-hidden=\"true\">{}</svg>",
        definitions(&bodies, id)
    );
    for (class, width) in WIDTHS {
        let layout = Layout::of(&bodies, width, 88.0);
        let (markup, height) = rows(&bodies, id, &layout, 0.0);
        let _ = write!(
            drawings,
            "<svg class=\"chart {class}\" viewBox=\"0 0 {width} {height:.0}\" width=\"{width}\" height=\"{height:.0}\" role=\"img\" aria-label=\"{}\">{markup}</svg>",
            escape(title)
        );
    }
    Some(Figure {
        title: title.to_owned(),
        reading: reading.to_owned(),
        drawings,
        keys: Vec::new(),
        half: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bodies_stand_on_one_floor_to_one_scale() {
        let tall: Vec<Point> =
            vec![[0.0, 0.0, 0.0], [300.0, 0.0, 0.0], [150.0, 200.0, 0.0], [150.0, 70.0, 1800.0]];
        let short: Vec<Point> = tall.iter().map(|p| [p[0], p[1], p[2] / 1.5]).collect();
        let triangles = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
        let stander = |name: &str, group: &str, positions| Stander {
            name: name.to_owned(),
            words: "92 · 176".to_owned(),
            group: group.to_owned(),
            positions,
        };
        let bodies = [stander("a<1>", "m", &tall), stander("a2", "m", &short), stander("b1", "w", &short)];
        let svg = lineup_picture(&triangles, &bodies, "Sizes", "all");
        assert_eq!(svg.matches("<use ").count(), 6);
        assert!(svg.contains("a&lt;1&gt;") && !svg.contains("NaN") && svg.contains(">150</text>"));
        let scales: std::collections::BTreeSet<&str> =
            svg.split("scale(").skip(1).filter_map(|s| s.split(')').next()).collect();
        assert_eq!(scales.len(), 1, "one scale for all");
        let page = figure("x", &triangles, &bodies, "t", "r").unwrap();
        assert_eq!(page.drawings.matches("<use ").count(), 12);
        assert!(figure("x", &triangles, &[], "t", "r").is_none());
    }
}
