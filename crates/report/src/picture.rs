//! A picture of one dimension on the body: outlines from the front, the side and above, with the line along which it is taken.

use std::collections::BTreeMap;

use formkin_geometry::vector::dot;
use formkin_geometry::{Point, Topology, areas};

use crate::charts::{escape, text_width};

/// Height of a body in the picture, in pixels.
const TALL: f64 = 560.0;
const GAP: f64 = 40.0;
/// Where the views begin, in pixels from the top.
const TOP: f64 = 64.0;
/// What lies further behind the surface than this, in mm, is not seen.
const BEHIND_MM: f64 = 12.0;
/// How many pixels around a point are looked at.
const REACH: i64 = 2;
/// Traces of so few points are straight lines of callipers, seen through the body.
const CALLIPERS: usize = 3;

/// What is drawn on the body.
#[derive(Debug, Clone, Copy, Default)]
pub struct Drawn<'a> {
    /// The polylines of a measured dimension, in mm, the first being what gave the value.
    pub traces: &'a [Vec<Point>],
    /// For each vertex whether it is of the part whose area or volume is meant; empty for none.
    pub part: &'a [bool],
    /// Stands over the picture.
    pub title: &'a str,
    /// What the picture is called for those who do not see it; the title where it is empty.
    pub label: &'a str,
    /// Stand under it, one line each.
    pub words: &'a [String],
}

/// A view: where the eye is, and how a point falls on the page.
struct View {
    name: &'static str,
    eye: Point,
    across: (usize, f64, f64),
    down: (usize, f64, f64),
    /// The nearest depth along the eye's direction, pixel by pixel.
    depth: Vec<f32>,
    /// Whether what is seen there is of the part that is meant.
    meant: Vec<bool>,
    size: (usize, usize),
    at: (f64, f64),
    scale: f64,
}

impl View {
    fn place(&self, p: Point) -> (f64, f64) {
        let on = |(axis, sign, from): (usize, f64, f64)| self.scale * sign * (p[axis] - from);
        (self.at.0 + on(self.across), self.at.1 + on(self.down))
    }

    fn pixel(&self, p: Point) -> Option<usize> {
        let (x, y) = self.place(p);
        let (x, y) = (x - self.at.0, y - self.at.1);
        let inside = x >= 0.0 && y >= 0.0 && (x as usize) < self.size.0 && (y as usize) < self.size.1;
        inside.then(|| y as usize * self.size.0 + x as usize)
    }

    /// Fills the depths from the triangles that face the eye.
    fn look(&mut self, topology: &Topology, positions: &[Point], facing: &[bool], part: &[bool]) {
        self.depth = vec![f32::NEG_INFINITY; self.size.0 * self.size.1];
        self.meant = vec![false; self.depth.len()];
        for (t, corners) in topology.triangles().iter().enumerate() {
            let [a, b, c] = corners.map(|v| positions[v as usize]);
            if !facing[t] || [a, b, c].iter().flatten().any(|x| !x.is_finite()) {
                continue;
            }
            let meant = corners.iter().all(|&v| part.get(v as usize) == Some(&true));
            // fine enough that no pixel of the triangle is missed
            let spans = [[a, b], [b, c], [c, a]].map(|[p, q]| {
                let ((x, y), (u, v)) = (self.place(p), self.place(q));
                (x - u).abs().max((y - v).abs())
            });
            let n = (spans.iter().fold(0.0f64, |m, s| m.max(*s)) * 1.5).ceil().clamp(1.0, 400.0) as usize;
            for i in 0..=n {
                for j in 0..=n - i {
                    let (u, v) = (i as f64 / n as f64, j as f64 / n as f64);
                    let p: Point = std::array::from_fn(|k| a[k] + u * (b[k] - a[k]) + v * (c[k] - a[k]));
                    let depth = dot(p, self.eye) as f32;
                    if let Some(pixel) = self.pixel(p).filter(|&i| depth > self.depth[i]) {
                        (self.depth[pixel], self.meant[pixel]) = (depth, meant);
                    }
                }
            }
        }
    }

    /// Whether no surface lies before a point. The furthest of the pixels around it counts, so that what lies at an edge of the body is seen.
    fn sees(&self, p: Point) -> bool {
        let Some(pixel) = self.pixel(p) else { return true };
        let (x, y) = ((pixel % self.size.0) as i64, (pixel / self.size.0) as i64);
        let mut before = f64::INFINITY;
        for (dx, dy) in (-REACH..=REACH).flat_map(|dx| (-REACH..=REACH).map(move |dy| (dx, dy))) {
            let (u, v) = (x + dx, y + dy);
            if u < 0 || v < 0 || u >= self.size.0 as i64 || v >= self.size.1 as i64 {
                return true;
            }
            before = before.min(f64::from(self.depth[v as usize * self.size.0 + u as usize]));
        }
        dot(p, self.eye) + BEHIND_MM >= before
    }
}

/// A picture as an SVG file.
#[must_use]
pub fn dimension_picture(topology: &Topology, positions: &[Point], drawn: &Drawn<'_>) -> String {
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for p in positions.iter().filter(|p| p.iter().all(|c| c.is_finite())) {
        for k in 0..3 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    if !(0..3).all(|k| high[k] > low[k]) {
        (low, high) = ([0.0; 3], [1.0; 3]);
    }
    let scale = TALL / (high[2] - low[2]);
    let size: Point = std::array::from_fn(|k| scale * (high[k] - low[k]));
    let side = 2.0 * GAP + size[0];
    let above = side + size[1] + GAP;
    let view = |name, eye, across, down, at, (w, h): (f64, f64)| View {
        name,
        eye,
        across,
        down,
        depth: Vec::new(),
        meant: Vec::new(),
        size: (w.ceil() as usize + 1, h.ceil() as usize + 1),
        at,
        scale,
    };
    let down = (2, -1.0, high[2]);
    let views = [
        view("from the front", [0.0, -1.0, 0.0], (0, 1.0, low[0]), down, (GAP, TOP), (size[0], size[2])),
        view("from its left", [1.0, 0.0, 0.0], (1, 1.0, low[1]), down, (side, TOP), (size[1], size[2])),
        view(
            "from above",
            [0.0, 0.0, 1.0],
            (0, 1.0, low[0]),
            (1, -1.0, high[1]),
            (above, TOP),
            (size[0], size[1]),
        ),
    ];
    let normals: Vec<Point> = topology
        .triangles()
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| positions.get(v as usize).copied().unwrap_or_default());
            areas::vector_area(a, b, c)
        })
        .collect();
    let width = above + size[0] + GAP;
    let words: Vec<String> = drawn.words.iter().flat_map(|w| wrapped(w, width - 2.0 * GAP)).collect();
    let height = TOP + TALL + 30.0 + 20.0 * words.len() as f64;
    let mut body = format!("<text class=\"title\" x=\"{GAP}\" y=\"28\">{}</text>", escape(drawn.title));
    for mut view in views {
        let facing: Vec<bool> = normals.iter().map(|n| dot(*n, view.eye) > 0.0).collect();
        view.look(topology, positions, &facing, drawn.part);
        body.push_str(&part(&view));
        body.push_str(&outline(topology, positions, &view, &facing));
        for (i, trace) in drawn.traces.iter().enumerate().rev() {
            body.push_str(&line(&view, trace, if i == 0 { "taken" } else { "beside" }));
        }
        body.push_str(&format!("<text x=\"{:.1}\" y=\"{:.1}\">{}</text>", view.at.0, TOP - 10.0, view.name));
    }
    for (i, line) in words.iter().enumerate() {
        let y = TOP + TALL + 34.0 + 20.0 * i as f64;
        body.push_str(&format!("<text x=\"{GAP}\" y=\"{y:.1}\">{}</text>", escape(line)));
    }
    // named classes: in a page the rules would reach other drawings
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"body-picture\" viewBox=\"0 0 {width:.0} {height:.0}\" width=\"{width:.0}\" \
         height=\"{height:.0}\" role=\"img\"><title>{}</title>\
         <style>.body-picture{{max-width:100%;height:auto}}.body-picture text{{font:13px \"Segoe UI\",\"Noto Sans\",\"Liberation Sans\",Arial,system-ui,sans-serif;fill:#4d5b63}}\
         .body-picture .title{{font-size:17px;font-weight:600;fill:#17232b}}\
         .body-picture path{{fill:none;stroke-linejoin:round;stroke-linecap:round}}.body-picture .outline{{stroke:#84939b;stroke-width:1}}\
         .body-picture .part{{stroke:#eec9bd;stroke-width:1.1}}.body-picture .taken{{stroke:#b23c20;stroke-width:2.4}}\
         .body-picture .beside{{stroke:#14668a;stroke-width:1.4}}.body-picture .behind{{stroke-dasharray:2 4;stroke-width:1.6}}\
         .body-picture circle{{fill:#b23c20}}</style>\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>{body}</svg>\n",
        escape(if drawn.label.is_empty() { drawn.title } else { drawn.label })
    )
}

/// A text in lines that are at most so wide, broken between words.
fn wrapped(text: &str, width: f64) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let Some(line) = lines.last_mut() else { break };
        if line.is_empty() {
            line.push_str(word);
        } else if text_width(line) + text_width(word) + 7.0 > width {
            lines.push(word.to_owned());
        } else {
            line.push(' ');
            line.push_str(word);
        }
    }
    lines
}

/// The part whose area or volume is meant, where it is seen: a line for each run of pixels.
fn part(view: &View) -> String {
    let mut d = String::new();
    for y in 0..view.size.1 {
        let row = &view.meant[y * view.size.0..(y + 1) * view.size.0];
        let mut x = 0;
        for run in row.chunk_by(|a, b| a == b) {
            if run[0] {
                let (u, v) = (view.at.0 + x as f64 + 0.5, view.at.1 + y as f64 + 0.5);
                d.push_str(&format!("M{u:.1} {v:.1}h{}", run.len()));
            }
            x += run.len();
        }
    }
    if d.is_empty() { d } else { format!("<path class=\"part\" d=\"{d}\"/>") }
}

/// The edges at which the surface turns away from the eye, where they are seen, joined to lines.
fn outline(topology: &Topology, positions: &[Point], view: &View, facing: &[bool]) -> String {
    let mut around: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for edge in topology.edges() {
        let all = || edge.forward.iter().chain(&edge.backward);
        let seen = all().filter(|t| facing[**t as usize]).count();
        if seen > 0 && (seen < all().count() || all().count() == 1) {
            let [a, b] = edge.ends.map(|v| positions[v as usize]);
            let middle: Point = std::array::from_fn(|k| 0.5 * (a[k] + b[k]));
            if middle.iter().all(|c| c.is_finite()) && view.sees(middle) {
                around.entry(edge.ends[0]).or_default().push(edge.ends[1]);
                around.entry(edge.ends[1]).or_default().push(edge.ends[0]);
            }
        }
    }
    let mut d = String::new();
    // from the ends of lines first, then what is left: loops
    let ends = around.iter().filter(|(_, to)| to.len() != 2).map(|(v, _)| *v);
    let starts: Vec<u32> = ends.chain(around.keys().copied()).collect();
    for start in starts {
        loop {
            let mut at = start;
            let mut begun = false;
            while let Some(next) = around.get_mut(&at).and_then(Vec::pop) {
                if let Some(back) = around.get_mut(&next) {
                    back.retain(|&v| v != at);
                }
                if !begun {
                    let (x, y) = view.place(positions[at as usize]);
                    d.push_str(&format!("M{x:.1} {y:.1}"));
                    begun = true;
                }
                let (x, y) = view.place(positions[next as usize]);
                d.push_str(&format!("L{x:.1} {y:.1}"));
                at = next;
            }
            if !begun {
                break;
            }
        }
    }
    format!("<path class=\"outline\" d=\"{d}\"/>")
}

/// A trace: whole where it is seen or of callipers, dotted where the body hides it; the ends of callipers as dots.
fn line(view: &View, trace: &[Point], class: &str) -> String {
    let finite: Vec<Point> = trace.iter().copied().filter(|p| p.iter().all(|c| c.is_finite())).collect();
    let callipers = finite.len() <= CALLIPERS;
    let mut paths: [String; 2] = Default::default();
    let mut last = 2;
    for pair in finite.windows(2) {
        let middle: Point = std::array::from_fn(|k| 0.5 * (pair[0][k] + pair[1][k]));
        let which = usize::from(!callipers && !view.sees(middle));
        let [a, b] = [pair[0], pair[1]].map(|p| view.place(p));
        if which != last {
            paths[which].push_str(&format!("M{:.1} {:.1}", a.0, a.1));
        }
        paths[which].push_str(&format!("L{:.1} {:.1}", b.0, b.1));
        last = which;
    }
    let [seen, hidden] = &paths;
    let mut drawn = String::new();
    for (d, more) in [(hidden, " behind"), (seen, "")] {
        if !d.is_empty() {
            drawn.push_str(&format!("<path class=\"{class}{more}\" d=\"{d}\"/>"));
        }
    }
    if callipers && class == "taken" {
        for p in &finite {
            let (x, y) = view.place(*p);
            drawn.push_str(&format!("<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\"/>"));
        }
    }
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_has_three_outlines_and_the_trace_and_survives_anything() {
        let topology = Topology::new(4, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]).unwrap();
        let p = vec![[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [0.0, 100.0, 0.0], [20.0, 20.0, 300.0]];
        let words = ["one & two".to_owned()];
        let traces = [vec![p[0], p[3]]];
        let drawn = Drawn { traces: &traces, title: "a <b>", label: "", words: &words, part: &[true; 4] };
        let svg = dimension_picture(&topology, &p, &drawn);
        assert_eq!(
            (svg.matches("class=\"outline\"").count(), svg.matches("class=\"taken\"").count()),
            (3, 3)
        );
        assert!(svg.contains("a &lt;b&gt;") && svg.contains("one &amp; two") && !svg.contains("NaN"));
        let broken = vec![[f64::NAN; 3]; 4];
        let drawn = Drawn { traces: std::slice::from_ref(&broken), ..Drawn::default() };
        assert!(!dimension_picture(&topology, &broken, &drawn).contains("NaN"));
    }

    #[test]
    fn long_words_are_broken_into_lines_that_fit() {
        let text = "Girth of the trunk in the plane through the back of the waist, the navel and the left side of the waist";
        let lines = wrapped(text, 300.0);
        assert!(lines.len() > 1 && lines.iter().all(|l| text_width(l) <= 300.0), "{lines:?}");
        assert_eq!(lines.join(" "), text);
    }
}
