//! A chart as a file of its own.

use std::fmt::Write as _;

use super::plot::Plot;

/// The style sheet of the page.
const PAGE: &str = include_str!("../../assets/page.css");

/// What a file has and a page leaves to its own rules: the family and size of letters, and both drawings shown.
const STYLE: &str = "text{font:13px \"Segoe UI\",\"Noto Sans\",\"Liberation Sans\",Arial,system-ui,sans-serif;fill:#53646e}\
.axis-label,.row-name,.row-value,.strong,.box-name{fill:#18242c}.strong,.box-name{font-weight:600}.box-name{font-size:12px}\
.note,.box-name{paint-order:stroke;stroke:#fff;stroke-width:3px;stroke-linejoin:round}";

/// The rules of the page's style sheet that draw marks, with the light colours in place of their names: a file does not know the page's.
fn marks() -> String {
    let mut colours: Vec<(&str, &str)> = Vec::new();
    // the first block is that of the light page
    if let Some(block) = PAGE.split_once(":root {").and_then(|(_, rest)| rest.split_once('}')).map(|(b, _)| b)
    {
        for line in block.lines() {
            if let Some((name, value)) = line.trim().trim_end_matches(';').split_once(':') {
                colours.push((name.trim(), value.trim()));
            }
        }
    }
    const DRAWN: [&str; 21] = [
        ".grid", ".axis", ".line", ".band", ".dot", ".ring", ".pick", ".level", ".dots", ".crosses", ".box",
        ".column", ".whisker", ".s1", ".s2", ".s3", ".s4", ".s5", ".s6", ".muted", ".alert",
    ];
    let mut out = String::new();
    for rule in PAGE.lines().flat_map(|l| l.split_inclusive('}')) {
        let Some((selector, _)) = rule.trim().split_once(" {") else { continue };
        let first = selector.split(['.', ' ']).nth(1).map(|n| format!(".{n}")).unwrap_or_default();
        if selector.starts_with('.') && !selector.contains([' ', ',', ':']) && DRAWN.contains(&first.as_str())
        {
            let _ = write!(out, "{}", rule.trim());
        }
    }
    for (name, value) in colours {
        // on a white sheet
        let value = if name == "--paper" { "#fff" } else { value };
        out = out.replace(&format!("var({name})"), value);
    }
    out
}

/// White around the drawing, in px.
const MARGIN: f64 = 10.0;

/// The wide drawing of a chart with everything it needs, as an SVG file.
#[must_use]
pub fn file(plot: &Plot) -> String {
    let svg = plot.alone();
    let (open, rest) = svg.split_once('>').unwrap_or((&svg, ""));
    let (width, height) = plot.size_alone();
    let wide = (width + 2.0 * MARGIN, height + 2.0 * MARGIN);
    // the drawing in a larger sheet
    let sheet = format!(
        "viewBox=\"-{MARGIN} -{MARGIN} {:.0} {:.0}\" width=\"{:.0}\" height=\"{:.0}\"",
        wide.0, wide.1, wide.0, wide.1
    );
    let (before, after) = open.split_once("viewBox=").unwrap_or((open, ""));
    let after = after.split_once(" role=").map_or("", |(_, a)| a);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\"{}{sheet} role={after}><rect x=\"-{MARGIN}\" y=\"-{MARGIN}\" width=\"{:.0}\" height=\"{:.0}\" fill=\"#fff\"/><style>{STYLE}{}</style>{rest}\n",
        before.trim_start_matches("<svg"),
        wide.0,
        wide.1,
        marks()
    )
}

#[cfg(test)]
mod tests {
    use super::super::axis::Axis;
    use super::super::layer::Layer;
    use super::*;

    #[test]
    fn every_series_of_a_file_has_its_colour_and_its_dashes() {
        let mut plot = Plot::new("a", "", Axis::new("x"), Axis::new("y"));
        for class in ["s1", "s2", "s3", "s4", "s5", "s6", "muted", "alert"] {
            plot.layers.push(Layer::Line { class, points: vec![(0.0, 0.0), (1.0, 1.0)], dots: true });
        }
        let svg = file(&plot);
        assert!(!svg.contains("var("), "{svg}");
        for class in ["s1", "s2", "s3", "s4", "s5", "s6", "muted", "alert"] {
            assert!(svg.contains(&format!(".{class} {{ color: #")), "no colour of {class}: {svg}");
        }
        assert!(
            svg.contains("viewBox=\"-10 -10 864 391\" width=\"864\" height=\"391\" role=\"img\""),
            "{svg}"
        );
        assert!(svg.contains(".line.s3 { stroke-dasharray") && svg.contains(".grid { stroke: #"));
    }
}
