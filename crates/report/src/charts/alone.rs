//! A chart as a file of its own.

use super::Plot;

/// The few rules of the page's style sheet that a chart by itself needs, with its colours in place.
const STYLE: &str = "text{font:13px system-ui,sans-serif;fill:#4d5b63}.axis-label,.strong{fill:#17232b}.strong{font-weight:600}.note{paint-order:stroke;stroke:#fff;stroke-width:3px}\
.grid{stroke:#d9e0e3}.axis{stroke:#84939b}.line{fill:none;stroke:currentColor;stroke-width:2}.level{stroke:currentColor;stroke-width:1.2;stroke-dasharray:5 4}\
.dots{fill:none;stroke:currentColor;stroke-width:5;stroke-linecap:round;opacity:.62}.band{fill:currentColor;opacity:.16;stroke:none}.dot{fill:currentColor}\
.s1{color:#14668a}.s2{color:#c77f14}.muted{color:#84939b}.alert{color:#b23c20}";

/// One drawing with everything it needs, as a file.
pub(crate) fn file(plot: &Plot) -> String {
    let svg = plot.alone();
    let head = r#"<svg xmlns="http://www.w3.org/2000/svg""#;
    let (open, rest) = svg.split_once('>').unwrap_or((&svg, ""));
    format!(
        "{head}{}><rect width=\"100%\" height=\"100%\" fill=\"#fff\"/><style>{STYLE}</style>{rest}\n",
        open.trim_start_matches("<svg")
    )
}
