//! The few SVG elements that the charts are drawn in.

use std::fmt::Write as _;

/// Where a text hangs on its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    /// It begins there.
    Start,
    /// It is centred there.
    Middle,
    /// It ends there.
    End,
}

/// A drawing: elements are added, then it is closed into one `<svg>`.
#[derive(Debug)]
pub(crate) struct Svg {
    width: f64,
    height: f64,
    body: String,
}

/// Text made safe inside markup and attributes.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() && c != '\n' && c != '\t' => {}
            c => out.push(c),
        }
    }
    out
}

/// A coordinate with at most one decimal: a tenth of a pixel is enough, and the page stays small.
pub(crate) fn c(value: f64) -> String {
    let tenth = (value * 10.0).round() / 10.0;
    // no "-0"
    format!("{}", if tenth == 0.0 { 0.0 } else { tenth })
}

/// About how wide a text is at the charts' text size of 13 px, in the widest of the usual fonts for screens where numbers are concerned.
pub(crate) fn text_width(text: &str) -> f64 {
    let width = |c: char| match c {
        '0'..='9' => 8.3,
        '\u{2212}' | '+' | '\u{b1}' => 11.0,
        _ => 7.0,
    };
    text.chars().map(width).sum()
}

impl Svg {
    /// An empty drawing of so many user units.
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self { width, height, body: String::new() }
    }

    /// A straight line.
    pub(crate) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        let _ = write!(
            self.body,
            r#"<line class="{class}" x1="{}" y1="{}" x2="{}" y2="{}"/>"#,
            c(from.0),
            c(from.1),
            c(to.0),
            c(to.1)
        );
    }

    /// A rectangle between two corners.
    pub(crate) fn rect(&mut self, class: &str, a: (f64, f64), b: (f64, f64)) {
        let _ = write!(
            self.body,
            r#"<rect class="{class}" x="{}" y="{}" width="{}" height="{}" rx="1.5"/>"#,
            c(a.0.min(b.0)),
            c(a.1.min(b.1)),
            c((b.0 - a.0).abs()),
            c((b.1 - a.1).abs())
        );
    }

    /// A circle.
    pub(crate) fn circle(&mut self, class: &str, at: (f64, f64), radius: f64) {
        let _ = write!(
            self.body,
            r#"<circle class="{class}" cx="{}" cy="{}" r="{}"/>"#,
            c(at.0),
            c(at.1),
            c(radius)
        );
    }

    /// A path of drawing commands.
    pub(crate) fn path(&mut self, class: &str, d: &str) {
        let _ = write!(self.body, r#"<path class="{class}" d="{d}"/>"#);
    }

    /// An upright line that the page's script moves between two positions as a movement plays.
    pub(crate) fn cursor(&mut self, id: &str, (left, right): (f64, f64), (top, bottom): (f64, f64)) {
        let _ = write!(
            self.body,
            r#"<path class="cursor" data-cursor="{}" data-left="{}" data-right="{}" d="M0 {}V{}"/>"#,
            escape(id),
            c(left),
            c(right),
            c(top),
            c(bottom)
        );
    }

    /// Text; escaped here.
    pub(crate) fn text(&mut self, class: &str, at: (f64, f64), anchor: Anchor, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = write!(
            self.body,
            r#"<text class="{class}" x="{}" y="{}" text-anchor="{anchor}">{}</text>"#,
            c(at.0),
            c(at.1),
            escape(text)
        );
    }

    /// Markup that was made safe by whoever made it.
    pub(crate) fn raw(&mut self, markup: &str) {
        self.body.push_str(markup);
    }

    /// Closes the drawing. `id` must be unique on the page; title and description are read out by screen readers.
    pub(crate) fn close(self, id: &str, class: &str, title: &str, description: &str) -> String {
        let id = escape(id);
        format!(
            r#"<svg class="chart {class}" viewBox="0 0 {w} {h}" width="{w}" height="{h}" role="img" aria-labelledby="{id}-t {id}-d"><title id="{id}-t">{}</title><desc id="{id}-d">{}</desc>{}</svg>"#,
            escape(title),
            escape(description),
            self.body,
            w = c(self.width),
            h = c(self.height),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_element() {
        let mut svg = Svg::new(10.0, 10.0);
        svg.text("t", (1.0, 2.0), Anchor::Start, "</text><script>alert('x')</script>");
        let out = svg.close("a", "", "<b>", "\"");
        assert!(!out.contains("<script>") && !out.contains("<b>"));
        assert!(out.contains("&lt;script&gt;") && out.contains("&quot;"));
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!(c(1.0), "1");
        assert_eq!(c(-0.04), "0");
        assert_eq!(c(12.345), "12.3");
    }
}
