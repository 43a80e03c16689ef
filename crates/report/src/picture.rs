//! A picture of one dimension on the body: outlines from the front, the side and above, with the line along which it is taken.

use formkin_geometry::{Point, Topology, areas};

use crate::charts::escape;

/// Height of a body in the picture, in pixels.
const TALL: f64 = 560.0;
const GAP: f64 = 40.0;

/// A picture as an SVG file. `traces` are the polylines of a measured dimension, in mm, the first being what gave the value; `words` stand under it,
/// one line each.
#[must_use]
pub fn dimension_picture(
    topology: &Topology,
    positions: &[Point],
    traces: &[Vec<Point>],
    title: &str,
    words: &[String],
) -> String {
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
    // where the eye is, and how a point falls on the page
    let (front, side) = (GAP, 2.0 * GAP + size[0]);
    let above = side + size[1] + GAP;
    type View<'a> = (&'a str, Point, Box<dyn Fn(Point) -> (f64, f64) + 'a>);
    let top = 64.0;
    let views: [View<'_>; 3] = [
        (
            "from the front",
            [0.0, -1.0, 0.0],
            Box::new(move |p| (front + scale * (p[0] - low[0]), top + scale * (high[2] - p[2]))),
        ),
        (
            "from its left",
            [1.0, 0.0, 0.0],
            Box::new(move |p| (side + scale * (p[1] - low[1]), top + scale * (high[2] - p[2]))),
        ),
        (
            "from above",
            [0.0, 0.0, 1.0],
            Box::new(move |p| (above + scale * (p[0] - low[0]), top + scale * (high[1] - p[1]))),
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
    let height = top + TALL + 50.0 + 20.0 * words.len() as f64;
    let mut body = format!("<text class=\"title\" x=\"{GAP}\" y=\"28\">{}</text>", escape(title));
    for (name, eye, place) in &views {
        let faces = |t: u32| (0..3).map(|k| normals[t as usize][k] * eye[k]).sum::<f64>() > 0.0;
        let mut d = String::new();
        for edge in topology.edges() {
            let all = || edge.forward.iter().chain(&edge.backward);
            let seen = all().filter(|t| faces(**t)).count();
            if seen > 0 && (seen < all().count() || all().count() == 1) {
                let [a, b] = edge.ends.map(|v| place(positions[v as usize]));
                if [a.0, a.1, b.0, b.1].iter().all(|x| x.is_finite()) {
                    d.push_str(&format!("M{:.1} {:.1}L{:.1} {:.1}", a.0, a.1, b.0, b.1));
                }
            }
        }
        body.push_str(&format!("<path class=\"outline\" d=\"{d}\"/>"));
        for (i, trace) in traces.iter().enumerate().rev() {
            let mut d = String::new();
            for p in trace.iter().map(|&p| place(p)).filter(|p| p.0.is_finite() && p.1.is_finite()) {
                d.push_str(&format!("{}{:.1} {:.1}", if d.is_empty() { 'M' } else { 'L' }, p.0, p.1));
            }
            let class = if i == 0 { "taken" } else { "beside" };
            body.push_str(&format!("<path class=\"{class}\" d=\"{d}\"/>"));
        }
        let left = place(low).0;
        body.push_str(&format!("<text x=\"{left:.1}\" y=\"{:.1}\">{name}</text>", top - 10.0));
    }
    for (i, line) in words.iter().enumerate() {
        body.push_str(&format!(
            "<text x=\"{GAP}\" y=\"{:.1}\">{}</text>",
            top + TALL + 34.0 + 20.0 * i as f64,
            escape(line)
        ));
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" width=\"{width:.0}\" height=\"{height:.0}\" role=\"img\"><title>{}</title>\
         <style>text{{font:13px system-ui,sans-serif;fill:#4d5b63}}.title{{font-size:17px;font-weight:600;fill:#17232b}}path{{fill:none;stroke-linejoin:round;stroke-linecap:round}}\
         .outline{{stroke:#84939b;stroke-width:1}}.taken{{stroke:#b23c20;stroke-width:2.4}}.beside{{stroke:#14668a;stroke-width:1.4}}</style>\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>{body}</svg>\n",
        escape(title)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_has_three_outlines_and_the_trace_and_survives_anything() {
        let topology = Topology::new(4, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]).unwrap();
        let p = vec![[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [0.0, 100.0, 0.0], [20.0, 20.0, 300.0]];
        let svg = dimension_picture(&topology, &p, &[vec![p[0], p[3]]], "a <b>", &["one & two".to_owned()]);
        assert_eq!(
            (svg.matches("class=\"outline\"").count(), svg.matches("class=\"taken\"").count()),
            (3, 3)
        );
        assert!(svg.contains("a &lt;b&gt;") && svg.contains("one &amp; two") && !svg.contains("NaN"));
        let broken = vec![[f64::NAN; 3]; 4];
        assert!(
            !dimension_picture(&topology, &broken, std::slice::from_ref(&broken), "", &[]).contains("NaN")
        );
    }
}
