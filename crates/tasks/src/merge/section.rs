//! What a reader is shown: who went in, what the files left out, and the variances of the merged space beside those of each laboratory.

use formkin_report::charts::{Axis, Key, Layer, Plot};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Front, Section};
use formkin_report::format::{about, count, counted, fixed, percent};
use formkin_shape::Space;
use formkin_shape::merge::{LOST, Merged};

use super::MergeInputs;

/// Modes shown at most.
const SHOWN: usize = 20;
/// What is less is shown as nothing.
const LITTLE_MM: f64 = 0.005;

/// The sections; the first one has the answer.
pub(super) fn sections(inputs: &MergeInputs, made: &Merged) -> Vec<Section> {
    let part = |id: &str, title: &str, body: Body| Section { body, ..Section::new(id, title) };
    let mut lost = Body::default();
    lost.paragraph("Whatever the spaces had that went in, the merged one is without:");
    lost.cautions(&LOST.map(str::to_owned));
    let mut cautions = Body::default();
    cautions.cautions(
        &[
            "The spaces say nothing of who is in them: a person in two of them counts twice.",
            "No error on people held out is known: there are no scans to hold out.",
            "The bound supposes that meshes correspond between the laboratories; it does not see where they do not.",
        ]
        .map(str::to_owned),
    );
    vec![
        Section { answer: answer(made), ..part("parts", "What went in", parts(inputs, made)) },
        part("variances", "Variances", variances(inputs, made)),
        part("lost", "What is lost", lost),
        part("cautions", "What not to conclude", cautions),
    ]
}

fn answer(made: &Merged) -> Vec<String> {
    let (space, bound) = (&made.space, &made.bound);
    let mut lines = vec![
        format!(
            "{}, {} items, {} modes; a surface point lies {:.1} mm (RMS) from the mean",
            counted(space.people, "person", "people"),
            space.items,
            space.modes.len(),
            space.total_variance_mm2.sqrt()
        ),
        format!(
            "the files left out {:.3} mm RMS; no variance is short by more than {:.3} mm2; means lie up to {:.1} mm from the common one",
            bound.truncated_rms_mm, bound.variance_mm2, bound.furthest_mean_mm
        ),
    ];
    lines.extend(LOST.map(|lost| format!("lost in merging: {lost}")));
    lines
}

fn parts(inputs: &MergeInputs, made: &Merged) -> Body {
    let mut body = Body::default();
    body.paragraph(&format!(
        "{}, {} in {}, from their model files alone.",
        counted(made.space.people, "person", "people"),
        counted(made.space.items, "shape", "shapes"),
        counted(inputs.spaces().len(), "space", "spaces")
    ));
    body.table(went_in(inputs, &made.space));
    body
}

fn variances(inputs: &MergeInputs, made: &Merged) -> Body {
    let (space, bound) = (&made.space, &made.bound);
    let mut body = Body::default();
    let shown = space.variances_mm2.len().min(SHOWN);
    body.paragraph("Where a laboratory differs from the others, its people do, or its alignment, clothes or stance: look before you merge.");
    body.figure(chart(inputs, space, shown).figure());
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
    body
}

/// How near it is to a fit of all scans together.
pub(super) fn front(made: &Merged) -> Front {
    let bound = &made.bound;
    let left_out = if bound.truncated_rms_mm < LITTLE_MM {
        "The files left nothing out: every mode is in them.".to_owned()
    } else {
        format!(
            "The files left out {} mm (root mean square over the skin).",
            about(bound.truncated_rms_mm, 2)
        )
    };
    Front {
        question: "How near is this to a fit of all scans together?".to_owned(),
        sentence: left_out,
        qualify: format!(
            "No variance of a fit of all scans together is larger than the merged one by more than {} mm². The means of the laboratories lie up to {} mm from the common one.",
            about(bound.variance_mm2, 2),
            about(bound.furthest_mean_mm, 1)
        ),
        ..Front::default()
    }
}

fn went_in(inputs: &MergeInputs, space: &Space) -> Table {
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
    for (name, s) in inputs.named() {
        table.row(cells(&name, s));
    }
    table.total(cells("together", space));
    table
}

fn chart(inputs: &MergeInputs, space: &Space, shown: usize) -> Plot {
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
    for ((name, part), class) in inputs.named().zip(["s2", "s3", "s4", "s5", "s6"].into_iter().cycle()) {
        plot.layers.push(Layer::Line { class, points: line(part), dots: false });
        plot.keys.push(Key::new(class, "line", name));
    }
    plot.layers.push(Layer::Line { class: "s1", points: line(space), dots: true });
    plot
}
