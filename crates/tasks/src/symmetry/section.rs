//! What a reader is shown: how much of the variation of bodies is symmetric, whether bodies lean, and how far people differ.

use std::sync::Arc;

use formkin_geometry::vector::scale;
use formkin_geometry::{Point, Topology};
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::view::{Painted, Triangles, View};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, capital, count, counted, fixed, percent};
use formkin_shape::Symmetry;
use formkin_stats::quantile::median;

use super::{SymmetryOutcome, SymmetrySettings};
use crate::figures::{chance, painted_on};

/// Permutations from which on a p is fit to be reported.
const PERMUTATIONS: usize = 9999;

/// The section, with its answer.
pub(super) fn section(settings: &SymmetrySettings, topology: &Topology, made: &SymmetryOutcome) -> Section {
    Section {
        id: "sides".to_owned(),
        title: "Left and right".to_owned(),
        answer: answer(settings, &made.result),
        body: body(&made.result, &made.participants, &Arc::from(topology.triangles())),
        ..Section::default()
    }
}

fn answer(settings: &SymmetrySettings, found: &Symmetry) -> Vec<String> {
    let (d, f) = (&found.directional, &found.fluctuating);
    let mut lines = vec![
        format!(
            "{}, {} items ({} people captured more than once); {} mirror pairs, {} vertices on the plane",
            counted(found.people, "person", "people"),
            found.items,
            found.repeated,
            found.pairs,
            found.middle
        ),
        format!(
            "of the variance of bodies {:.1} % is symmetric ({:.1} mm SD) and {:.2} % asymmetric ({:.2} mm SD)",
            100.0 * found.symmetric.share,
            found.symmetric.total_variance_mm2.sqrt(),
            100.0 * found.asymmetric.share,
            found.asymmetric.total_variance_mm2.sqrt()
        ),
        format!(
            "directional asymmetry: {:.2} mm RMS ({:.2} to {:.2}, 95 %), p {:.4} ({} changes of sign of whole people)",
            d.unbiased_mm, d.interval_95_mm.0, d.interval_95_mm.1, d.p, d.permutations
        ),
    ];
    let error = if f.error_removed { "error of measuring removed" } else { "error of measuring included" };
    lines.push(format!(
        "fluctuating asymmetry: SD {:.2} mm RMS ({:.2} to {:.2}, 95 %), {error}",
        f.sd_mm, f.interval_95_mm.0, f.interval_95_mm.1
    ));
    if let (Some(e), Some(r), Some(p)) = (f.error_sd_mm, f.reliability, f.p) {
        lines.push(format!(
            "  error of one capture {e:.2} mm RMS; a person's asymmetry is reliable to {r:.2}; against error alone p {p:.4}"
        ));
    }
    lines.extend(f.why_not.iter().map(|w| format!("  {w}")));
    lines.push("source                       SS mm2         df      MS mm2         F".to_owned());
    for l in &found.table {
        let ratio = l.f.map_or_else(String::new, |f| format!("{f:.2}"));
        lines.push(format!("{:<20} {:>14.1} {:>10} {:>11.6} {ratio:>9}", l.source, l.ss_mm2, l.df, l.ms_mm2));
    }
    lines.push(format!(
        "on {:.0} % of the surface the mean leans (share of false findings held to {:.0} %)",
        100.0 * found.place.share,
        100.0 * found.place.level
    ));
    lines.push(format!(
        "{} permutations, {} draws, seed {}",
        settings.permutations, settings.draws, settings.seed
    ));
    if settings.permutations < PERMUTATIONS {
        lines.push("note: take 9,999 permutations or more for what you report".into());
    }
    lines
}

fn body(found: &Symmetry, names: &[String], triangles: &Triangles) -> Body {
    let mut body = Body::default();
    shares(&mut body, found);
    findings(&mut body, found);
    body.view(painted(found, triangles));
    body.table(table(found));
    body.note("Sums of squares count both copies of every body. Degrees of freedom are people times free coordinates, moves that alignment removed taken off; they take vertices for independent, which those of a skin are not, so F is shown without a p and the tests above permute whole people.");
    body.figure(scores(found));
    let mut inside = Body::default();
    inside.table(most_asymmetric(found, names));
    inside.note("A score holds the error of measuring and of stance (who leans on one leg is asymmetric here): it is no finding about a person's health.");
    body.folded("People by asymmetry", inside);
    body
}

fn root(x: f64) -> f64 {
    x.max(0.0).sqrt()
}

/// How much of the variance is symmetric.
fn shares(body: &mut Body, found: &Symmetry) {
    body.paragraph(&format!(
        "Every body and its mirrored copy were laid on a mean with two like sides ({} pairs of vertices, {} on the plane between). What a body shares with its mirrored copy is its symmetric part, the rest \
         is asymmetric. Of the variance of {}, {} is symmetric ({} mm SD) and {} asymmetric ({} mm SD).",
        count(found.pairs),
        count(found.middle),
        counted(found.people, "person", "people"),
        percent(found.symmetric.share),
        about(root(found.symmetric.total_variance_mm2), 1),
        percent(found.asymmetric.share),
        about(root(found.asymmetric.total_variance_mm2), 2)
    ));
}

/// Whether bodies lean, and how far people differ.
fn findings(body: &mut Body, found: &Symmetry) {
    let (d, f) = (&found.directional, &found.fluctuating);
    body.paragraph(&format!(
        "{} On average the skin lies {} mm (root mean square) off its symmetric place, without what chance adds ({} to {}, 95 %; p {}, {} changes of sign of whole people). Left and right differ by twice as much.",
        if d.p <= 0.05 { "Bodies lean to one side (directional asymmetry)." } else { "There is no sign that bodies lean to one side (directional asymmetry)." },
        fixed(d.unbiased_mm, 2),
        fixed(d.interval_95_mm.0, 2),
        fixed(d.interval_95_mm.1, 2),
        chance(d.p),
        count(d.permutations)
    ));
    body.paragraph(&match (f.error_sd_mm, f.reliability, f.p) {
        (Some(error), Some(reliability), Some(p)) => format!(
            "People differ from that by {} mm SD ({} to {}, 95 %), error of measuring taken out (fluctuating asymmetry; p {} against error alone). {} were captured more than once: one capture errs by {} mm, \
             stance and correspondence included, and a person's asymmetry is reliable to {}.",
            fixed(f.sd_mm, 2),
            fixed(f.interval_95_mm.0, 2),
            fixed(f.interval_95_mm.1, 2),
            chance(p),
            counted(found.repeated, "person", "people"),
            fixed(error, 2),
            fixed(reliability, 2)
        ),
        _ => format!(
            "People differ from that by {} mm SD ({} to {}, 95 %) (fluctuating asymmetry and error together). {}.",
            fixed(f.sd_mm, 2),
            fixed(f.interval_95_mm.0, 2),
            fixed(f.interval_95_mm.1, 2),
            capital(f.why_not.as_deref().unwrap_or_default())
        ),
    });
}

/// The mean body, coloured where it leans, with the modes to move it by.
fn painted(found: &Symmetry, triangles: &Triangles) -> View {
    let values: Vec<f64> = found
        .place
        .lean_mm
        .iter()
        .zip(&found.place.q)
        .map(|(m, q)| if *q <= found.place.level { *m } else { 0.0 })
        .collect();
    let mut morphs = vec![("Mean lean, times 10".to_owned(), scaled(&found.lean, 10.0))];
    for (name, part) in [("Symmetric", &found.symmetric), ("Asymmetric", &found.asymmetric)] {
        for (k, (mode, v)) in part.modes.iter().zip(&part.variances_mm2).take(2).enumerate() {
            let share = if part.total_variance_mm2 > 0.0 { v / part.total_variance_mm2 } else { 0.0 };
            morphs.push((
                format!("{name} mode {} ({} of its part)", k + 1, percent(share)),
                scaled(mode, root(*v)),
            ));
        }
    }
    painted_on(
        &found.mean,
        values,
        Painted {
            id: "formkin-sides".to_owned(),
            triangles: triangles.clone(),
            morphs,
            legend: "Move the symmetric mean".to_owned(),
            unit: "times".to_owned(),
            low: -3.0,
            high: 3.0,
            colour: "Colour: where the mean body stands out (orange) or in (blue) beyond its symmetric place"
                .to_owned(),
            hint: if found.place.share > 0.0 {
                format!(
                    "Modes move by 1 SD for 1. Coloured on the {} of the skin where the lean is a finding (Student's t at every pair of vertices; false findings held to {}); grey elsewhere.",
                    percent(found.place.share),
                    percent(found.place.level)
                )
            } else {
                format!(
                    "Modes move by 1 SD for 1. No place leans so far that it is a finding (Student's t at every pair of vertices; false findings held to {}): the skin is grey.",
                    percent(found.place.level)
                )
            },
            ..Painted::default()
        },
    )
}

fn most_asymmetric(found: &Symmetry, names: &[String]) -> Table {
    let mut ranked: Vec<usize> = (0..found.scores.len()).collect();
    ranked.sort_by(|a, b| found.scores[*b].own_mm.total_cmp(&found.scores[*a].own_mm));
    let mut most = Table::new(
        "The people with most asymmetry of their own",
        vec![
            text("Participant"),
            number("Captures", ""),
            number("Asymmetry", "mm"),
            number("Own asymmetry", "mm"),
        ],
    );
    for &i in ranked.iter().take(10) {
        let s = &found.scores[i];
        most.row(vec![
            cell(names.get(i).cloned().unwrap_or_default()),
            cell(count(s.items)),
            cell(fixed(s.asymmetry_mm, 2)),
            cell(fixed(s.own_mm, 2)),
        ]);
    }
    most
}

fn scaled(field: &[Point], by: f64) -> Vec<Point> {
    field.iter().map(|p| scale(*p, by)).collect()
}

fn table(found: &Symmetry) -> Table {
    let mut table = Table::new(
        "Individuals and sides",
        vec![
            text("Source"),
            number("Sum of squares", "mm²"),
            number("df", ""),
            number("Mean square", "mm²"),
            number("F", ""),
        ],
    );
    for l in &found.table {
        let name = match l.source.as_str() {
            "individual" => "individual (symmetric part)",
            "side" => "side (directional asymmetry)",
            "individual x side" => "individual × side (fluctuating asymmetry)",
            _ => "error (between captures)",
        };
        table.row(vec![
            cell(name),
            cell(about(l.ss_mm2, 1)),
            cell(count(l.df)),
            cell(about(l.ms_mm2, 7)),
            cell(l.f.map_or_else(String::new, |f| about(f, 2))),
        ]);
    }
    table
}

/// How many people have so much asymmetry of their own.
fn scores(found: &Symmetry) -> Figure {
    let values: Vec<f64> = found.scores.iter().map(|s| s.own_mm).collect();
    let most = values.iter().fold(0.0f64, |m, x| m.max(*x)).max(1e-6);
    const BINS: usize = 24;
    let width = most / BINS as f64;
    let mut bins = [0usize; BINS];
    for v in &values {
        bins[((v / width) as usize).min(BINS - 1)] += 1;
    }
    let mut plot = Plot::new(
        "asymmetry-scores",
        "Asymmetry of each person about the mean lean",
        Axis {
            range: Some((0.0, most * 1.02)),
            ..Axis::new("own asymmetry, mm (root mean square over the skin)")
        },
        Axis { from_zero: true, whole: true, ..Axis::new("people") },
    );
    plot.aspect = 0.3;
    plot.layers.push(Layer::Columns {
        class: "s1",
        points: bins.iter().enumerate().map(|(i, n)| ((i as f64 + 0.5) * width, *n as f64)).collect(),
        width: 0.86 * width,
    });
    let median = median(&values, None).unwrap_or(0.0);
    plot.reading = format!("Half of the people have {} mm or less.", fixed(median, 2));
    plot.keys = vec![Key::new("s1", "column", "people")];
    plot.figure()
}
