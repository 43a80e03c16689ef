//! The page of `formkin merge`: who went in, what the files left out, and the variances of the merged space beside those of each laboratory.

use formkin_shape::Space;
use formkin_shape::merge::{LOST, Merged};

use crate::ReportError;
use crate::charts::{Axis, Key, Layer, Plot};
use crate::document::table::{Table, cell, number, text};
use crate::document::{Document, Front};
use crate::format::{about, count, counted, fixed, percent};

/// Modes shown at most.
const SHOWN: usize = 20;

/// A merged space as one page of HTML that needs nothing else; every space that went in with its name.
///
/// # Errors
/// [`ReportError`] where the page cannot be written.
pub fn merge_page(parts: &[(String, &Space)], made: &Merged) -> Result<String, ReportError> {
    let (space, bound) = (&made.space, &made.bound);
    let left_out = if bound.truncated_rms_mm < 0.005 {
        "The files left nothing out: every mode is in them.".to_owned()
    } else {
        format!(
            "The files left out {} mm (root mean square over the skin).",
            about(bound.truncated_rms_mm, 2)
        )
    };
    let mut page = Document::new("Merged shape spaces");
    let body = page.begin("parts", "What went in");
    body.table(went_in(parts, space));
    let body = page.begin("variances", "Variances");
    let shown = space.variances_mm2.len().min(SHOWN);
    body.paragraph("Where a laboratory differs from the others, its people do, or its alignment, clothes or stance: look before you merge.");
    body.figure(chart(parts, space, shown).figure());
    let mut table = Table::new(
        "Modes in numbers",
        vec![number("Mode", ""), number("Variance", "mm²"), number("At most", "mm²"), number("Share", "")],
    );
    for (k, &v) in space.variances_mm2.iter().take(shown).enumerate() {
        table.row(vec![
            cell(count(k + 1)),
            cell(about(v, 3)),
            cell(about(v + bound.variance_mm2, 3)),
            cell(percent(v / space.total_variance_mm2)),
        ]);
    }
    body.table(table);
    body.note("At most: no variance of a fit of all scans together can be larger.");
    let body = page.begin("lost", "What is lost");
    body.paragraph("Whatever the spaces had that went in, the merged one is without:");
    body.cautions(&LOST.map(str::to_owned));
    let body = page.begin("cautions", "What not to conclude");
    body.cautions(
        &[
            "The spaces say nothing of who is in them: a person in two of them counts twice.",
            "No error on people held out is known: there are no scans to hold out.",
            "The bound supposes that meshes correspond between the laboratories; it does not see where they do not.",
        ]
        .map(str::to_owned),
    );
    page.description = format!(
        "{}, {} in {}, from their model files alone.",
        counted(space.people, "person", "people"),
        counted(space.items, "shape", "shapes"),
        counted(parts.len(), "space", "spaces")
    );
    page.front = Some(Front {
        question: "How near is this to a fit of all scans together?".to_owned(),
        sentence: left_out,
        qualify: format!(
            "No variance of a fit of all scans together is larger than the merged one by more than {} mm². The means of the laboratories lie up to {} mm from the common one.",
            about(bound.variance_mm2, 2),
            about(bound.furthest_mean_mm, 1)
        ),
        ..Front::default()
    });
    crate::html::render(&page)
}

fn went_in(parts: &[(String, &Space)], space: &Space) -> Table {
    let mut table = Table::unnamed(
        "The spaces that went in",
        vec![
            text("Space"),
            number("People", ""),
            number("Shapes", ""),
            number("Modes", ""),
            number("A point from the mean, root mean square", "mm"),
        ],
    );
    let cells = |name: &str, s: &Space| {
        vec![
            cell(name).keep(),
            cell(count(s.people)),
            cell(count(s.items)),
            cell(count(s.modes.len())),
            cell(fixed(s.total_variance_mm2.sqrt(), 1)),
        ]
    };
    for (name, s) in parts {
        table.row(cells(name, s));
    }
    table.total(cells("together", space));
    table
}

fn chart(parts: &[(String, &Space)], space: &Space, shown: usize) -> Plot {
    let line = |s: &Space| -> Vec<(f64, f64)> {
        let log = |v: f64| if v > 0.0 { v.log10() } else { f64::NAN };
        s.variances_mm2.iter().take(shown).enumerate().map(|(k, v)| ((k + 1) as f64, log(*v))).collect()
    };
    let mut plot = Plot::new(
        "merged",
        format!("The first {shown} variances, together and of every laboratory"),
        Axis { whole: true, ..Axis::new("mode") },
        Axis { log10: true, ..Axis::new("variance, mm² (each step ten times)") },
    );
    plot.keys.push(Key::new("s1", "line", "together"));
    for ((name, part), class) in parts.iter().zip(["s2", "s3", "s4", "s5", "s6"].into_iter().cycle()) {
        plot.layers.push(Layer::Line { class, points: line(part), dots: false });
        plot.keys.push(Key::new(class, "line", name.clone()));
    }
    plot.layers.push(Layer::Line { class: "s1", points: line(space), dots: true });
    plot
}
