//! The quality of a space with its known flaws, and its covariance beyond the modes.

use formkin_shape::Quality;

use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number};
use formkin_report::format::{about, capital, count, counted, fixed, percent};

use super::SpaceOutcome;

/// What stands in the section; empty where neither was asked for.
pub(super) fn body(made: &SpaceOutcome) -> Body {
    let mut body = Body::default();
    if let Some(quality) = &made.fitted.space.quality {
        measures(&mut body, quality);
    }
    covariance(&mut body, made);
    body
}

fn measures(body: &mut Body, quality: &Quality) {
    body.paragraph(&format!(
        "Three figures by number of modes, from {} ({} shapes), in millimetres of the skin (root mean square, weighted by area). Generalisation: how well a person is described by a space of all the \
         others. Specificity: how near {} bodies drawn from the space lie to a real one. Compactness: how much variance the modes hold. Bands are one standard error on each side; seed {}.",
        counted(quality.people, "person", "people"),
        count(quality.items),
        count(quality.samples),
        quality.seed
    ));
    body.figures([generalisation(quality), specificity(quality)]);
    body.figure(compactness(quality));
    let mut table = Table::new(
        "Quality by number of modes",
        vec![
            number("Modes", ""),
            number("Generalisation", "mm"),
            number("SE", "mm"),
            number("Specificity", "mm"),
            number("SE", "mm"),
            number("Compactness", "mm²"),
            number("SE", "mm²"),
        ],
    );
    let last = quality.specificity.len();
    for s in &quality.specificity {
        if !(s.modes <= 10 || s.modes % 10 == 0 || s.modes == last) {
            continue;
        }
        let g = quality.generalisation.iter().find(|e| e.modes == s.modes);
        let of = |values: &[f64]| values.get(s.modes - 1).map_or_else(String::new, |v| about(*v, 1));
        table.row(vec![
            cell(count(s.modes)),
            cell(g.map_or_else(String::new, |e| fixed(e.rms_mm, 2))),
            cell(g.map_or_else(String::new, |e| fixed(e.se_mm, 2))),
            cell(fixed(s.mean_mm, 2)),
            cell(fixed(s.se_mm, 2)),
            cell(of(&quality.compactness_mm2)),
            cell(of(&quality.compactness_se_mm2)),
        ]);
    }
    if !quality.surface.is_empty() {
        let mut surfaces = Table::new(
            "Between surfaces: distance to the nearest point, both ways",
            vec![
                number("Modes", ""),
                number("Generalisation", "mm"),
                number("SE", "mm"),
                number("Specificity", "mm"),
                number("SE", "mm"),
            ],
        );
        for s in &quality.surface {
            surfaces.row(vec![
                cell(count(s.modes)),
                cell(fixed(s.generalisation_mm, 2)),
                cell(fixed(s.generalisation_se_mm, 2)),
                cell(fixed(s.specificity_mm, 2)),
                cell(fixed(s.specificity_se_mm, 2)),
            ]);
        }
        body.table(surfaces);
    }
    let mut inside = Body::default();
    inside.table(table);
    body.folded("Quality in numbers", inside);
    body.note("What these figures do not say:");
    body.remarks(&quality.flaws);
}

fn plot(id: &str, title: &str, y: &str) -> Plot {
    let mut plot = Plot::new(
        id,
        title,
        Axis { whole: true, ..Axis::new("number of modes") },
        Axis { from_zero: true, ..Axis::new(y) },
    );
    plot.half = true;
    plot
}

fn generalisation(quality: &Quality) -> Figure {
    let mut plot =
        plot("generalisation", "Generalisation: people left out, one by one", "error, mm (root mean square)");
    let usable: Vec<_> = quality.generalisation.iter().filter(|e| e.rms_mm.is_finite()).collect();
    plot.layers.push(Layer::Band {
        class: "s1",
        points: usable.iter().map(|e| (e.modes as f64, e.rms_mm - e.se_mm, e.rms_mm + e.se_mm)).collect(),
    });
    plot.layers.push(Layer::Line {
        class: "s1",
        points: usable.iter().map(|e| (e.modes as f64, e.rms_mm)).collect(),
        dots: false,
    });
    if let Some(e) = usable.last() {
        plot.reading = format!(
            "{} describe people left out to {} mm.",
            capital(&counted(e.modes, "mode", "modes")),
            fixed(e.rms_mm, 1)
        );
    }
    plot.figure()
}

fn specificity(quality: &Quality) -> Figure {
    let mut plot = plot(
        "specificity",
        "Specificity: drawn bodies to the nearest real one",
        "distance, mm (root mean square)",
    );
    plot.layers.push(Layer::Band {
        class: "s3",
        points: quality
            .specificity
            .iter()
            .map(|s| (s.modes as f64, s.mean_mm - s.se_mm, s.mean_mm + s.se_mm))
            .collect(),
    });
    plot.layers.push(Layer::Line {
        class: "s3",
        points: quality.specificity.iter().map(|s| (s.modes as f64, s.mean_mm)).collect(),
        dots: false,
    });
    if let Some(s) = quality.specificity.last() {
        plot.reading = format!(
            "Bodies drawn from {} lie {} mm from a real one.",
            counted(s.modes, "mode", "modes"),
            fixed(s.mean_mm, 1)
        );
    }
    plot.figure()
}

fn compactness(quality: &Quality) -> Figure {
    let mut plot =
        plot("compactness", "Compactness: variance in the first modes, in sample", "sum of variances, mm²");
    plot.half = false;
    plot.aspect = 0.28;
    let shown = quality.specificity.len().max(10).min(quality.compactness_mm2.len());
    let points = || quality.compactness_mm2.iter().zip(&quality.compactness_se_mm2).take(shown).enumerate();
    plot.layers.push(Layer::Band {
        class: "s4",
        points: points().map(|(k, (c, e))| ((k + 1) as f64, c - e, c + e)).collect(),
    });
    plot.layers.push(Layer::Line {
        class: "s4",
        points: points().map(|(k, (c, _))| ((k + 1) as f64, *c)).collect(),
        dots: false,
    });
    if let Some(c) = quality.compactness_mm2.get(shown.saturating_sub(1)) {
        plot.reading = format!("{} hold {} mm².", capital(&counted(shown, "mode", "modes")), about(*c, 0));
    }
    plot.keys = vec![Key::new("s4", "band", "one standard error on each side, for normal data")];
    plot.figure()
}

fn covariance(body: &mut Body, made: &SpaceOutcome) {
    if made.probabilistic.is_none() && made.shrunk.is_none() {
        return;
    }
    body.heading("Covariance beyond the modes");
    if let Some(p) = &made.probabilistic {
        body.paragraph(&format!(
            "Probabilistic components: {} and, beyond them, noise of {} mm a coordinate (SD), {}. It is one number for the whole body: hands are worse, thighs better.{}",
            counted(p.modes, "mode", "modes"),
            fixed(p.noise_mm2.max(0.0).sqrt(), 2),
            if p.held_out { "from people held out" } else { "from the people of the space themselves, which is too little" },
            p.freedom.map_or_else(String::new, |f| format!(
                " What is beyond the modes is smooth: it counts as about {} independent directions.",
                about(f, 0)
            ))
        ));
    }
    if let Some(s) = &made.shrunk {
        body.paragraph(&format!(
            "Shrinkage (Ledoit and Wolf): the covariance of {} coordinates that errs least in mean square is {} of the sample's and {} of a multiple of the identity. A direction that the sample knows nothing of has a \
             variance of {} mm².",
            count(s.coordinates),
            percent(1.0 - s.shrinkage),
            percent(s.shrinkage),
            about(s.rest_mm2, 7)
        ));
        let mut table = Table::new(
            "Variances along the modes",
            vec![number("Mode", ""), number("As they are", "mm²"), number("Shrunk", "mm²")],
        );
        for (k, (a, b)) in s.sample_mm2.iter().zip(&s.shrunk_mm2).enumerate() {
            table.row(vec![cell(count(k + 1)), cell(about(*a, 2)), cell(about(*b, 2))]);
        }
        let mut inside = Body::default();
        inside.table(table);
        body.folded("Shrunk variances", inside);
    }
}
