//! The page of `formkin merge`: who went in, what the files left out, and the variances of the merged space beside those of each laboratory.

use std::fmt::Write as _;

use formkin_shape::Space;
use formkin_shape::merge::Merged;

use crate::charts::{Axis, Layer, Plot, alone, escape};
use crate::format::{about, counted, fixed, percent};
use crate::single::{encoded, page};

/// Modes shown at most.
const SHOWN: usize = 20;

/// A merged space as one page of HTML that needs nothing else; every space that went in with its name.
#[must_use]
pub fn merge_page(parts: &[(String, &Space)], made: &Merged) -> String {
    let (space, bound) = (&made.space, &made.bound);
    let mut body = String::new();
    let left_out = if bound.truncated_rms_mm < 0.005 {
        "The files left nothing out: every mode is in them.".to_owned()
    } else {
        format!(
            "The files left out {} mm (root mean square over the skin).",
            about(bound.truncated_rms_mm, 2)
        )
    };
    let _ = write!(
        body,
        "<header class=\"masthead\"><h1>Merged shape spaces</h1><p class=\"lead\">{}, {} in {}, from their model files alone.</p></header>\n\
         <div class=\"answer\" role=\"region\"><p class=\"sentence\"><b>{}</b></p>\
         <p class=\"qualify\">No variance of a fit of all scans together is larger than the merged one by more than {} mm². The means of the laboratories lie up to {} mm from the common one.</p></div>\n",
        counted(space.people, "person", "people"),
        counted(space.items, "shape", "shapes"),
        counted(parts.len(), "space", "spaces"),
        left_out,
        about(bound.variance_mm2, 2),
        about(bound.furthest_mean_mm, 1),
    );
    table(&mut body, "What went in", &["Space", "People", "Shapes", "Modes", "A point from the mean, mm"], {
        let row = |name: &str, s: &Space| {
            let spread = fixed(s.total_variance_mm2.sqrt(), 1);
            vec![
                name.to_owned(),
                s.people.to_string(),
                s.items.to_string(),
                s.modes.len().to_string(),
                spread,
            ]
        };
        let mut rows: Vec<Vec<String>> = parts.iter().map(|(name, s)| row(name, s)).collect();
        rows.push(row("together", space));
        rows
    });
    let shown = space.variances_mm2.len().min(SHOWN);
    let _ = writeln!(
        body,
        "<section><h2>Variances</h2><p>The first {shown} variances of the merged space (line with dots) and of each laboratory (lines). Where a laboratory differs, its people do, or its \
         alignment, clothes or stance: look before you merge.</p><figure><img alt=\"Variances of the modes\" style=\"max-width:100%\" src=\"data:image/svg+xml,{}\"></figure></section>",
        encoded(&chart(parts, space, shown))
    );
    table(&mut body, "Modes in numbers", &["Mode", "Variance, mm²", "At most, mm²", "Share"], {
        let row = |k: usize| {
            let v = space.variances_mm2[k];
            vec![
                (k + 1).to_string(),
                about(v, 3),
                about(v + bound.variance_mm2, 3),
                percent(v / space.total_variance_mm2),
            ]
        };
        (0..shown).map(row).collect()
    });
    body.push_str(
        "<section><h2>What not to conclude</h2><ul><li>The spaces say nothing of who is in them: a person in two of them counts twice.</li>\
         <li>No error on people held out is known: there are no scans to hold out.</li>\
         <li>The bound supposes that meshes correspond between the laboratories; it does not see where they do not.</li></ul></section>\n",
    );
    page("Merged shape spaces", &body)
}

fn table(body: &mut String, title: &str, heads: &[&str], rows: Vec<Vec<String>>) {
    let _ = write!(
        body,
        "<section><h2>{title}</h2><div class=\"scroll\" style=\"overflow-x:auto\"><table><thead><tr>"
    );
    for head in heads {
        let _ = write!(body, "<th>{head}</th>");
    }
    body.push_str("</tr></thead><tbody>\n");
    for row in rows {
        body.push_str("<tr>");
        for (i, cell) in row.iter().enumerate() {
            let cell = escape(cell);
            let _ = if i == 0 {
                write!(body, "<th scope=\"row\">{cell}</th>")
            } else {
                write!(body, "<td>{cell}</td>")
            };
        }
        body.push_str("</tr>\n");
    }
    body.push_str("</tbody></table></div></section>\n");
}

fn chart(parts: &[(String, &Space)], space: &Space, shown: usize) -> String {
    let line = |s: &Space| -> Vec<(f64, f64)> {
        let log = |v: f64| if v > 0.0 { v.log10() } else { f64::NAN };
        s.variances_mm2.iter().take(shown).enumerate().map(|(k, v)| ((k + 1) as f64, log(*v))).collect()
    };
    let mut plot = Plot::new(
        "merged",
        "Variances of the modes",
        Axis { whole: true, ..Axis::new("mode") },
        Axis { log10: true, ..Axis::new("variance, mm² (each step ten times)") },
    );
    for ((_, part), class) in parts.iter().zip(["s2", "s3", "s4", "s5", "s6"].into_iter().cycle()) {
        plot.layers.push(Layer::Line { class, points: line(part), dots: false });
    }
    plot.layers.push(Layer::Line { class: "s1", points: line(space), dots: true });
    alone::file(&plot)
}
