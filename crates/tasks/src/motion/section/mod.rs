//! What a reader is shown: the modes that play, their course in time, dimensions through time, and what lies deeper.

mod answer;
mod dynamics;
mod mode_errors;
mod strain;

use std::sync::Arc;

use formkin_align::Removes;
use formkin_geometry::Topology;
use formkin_motion::Motion;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::view::{Course, Deforming, MODES, SkinLine, View};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, percent, title_words, words};

use self::answer::answer;
pub(crate) use self::mode_errors::{errors_plot, line};
use super::deliver::at_vertices;
use super::run::MotionOutcome;
use crate::sentence::sentence;
use crate::signals::section as signals;
use crate::signals::section::curves::{span, thinned};

/// Series of a chart, in the order they are given out.
const SERIES: [&str; 3] = ["s1", "s2", "s3"];

/// The section, with its answer. `index` tells movements of one page apart.
pub(super) fn section(index: usize, topology: &Topology, made: &MotionOutcome) -> Section {
    let mut body = Body::default();
    one(&mut body, index, topology, made);
    Section {
        id: "movement".to_owned(),
        title: "What movement does".to_owned(),
        answer: answer(made),
        body,
        ..Section::default()
    }
}

fn one(body: &mut Body, index: usize, topology: &Topology, made: &MotionOutcome) {
    let motion = &made.motion;
    body.heading(&heading(&made.capture, &made.participant));
    let rate = motion.timing.fps.map_or_else(String::new, |f| format!(" at {} frames a second", about(f, 1)));
    let removed = match (motion.params.removes, &motion.params.region) {
        (_, Some(region)) => {
            format!("seen from a region of the body ({})", counted(region.len(), "vertex", "vertices"))
        }
        (Removes::Standing, None) => "with the place on the floor taken out of every frame".to_owned(),
        (Removes::Similarity, None) => "with place, turn and size taken out of every frame".to_owned(),
        (Removes::Rigid, None) => "with place and turn taken out of every frame".to_owned(),
    };
    body.paragraph(&format!(
        "{} over {} s{rate}, {removed}. A point of the skin is {} mm (root mean square) from its mean place.",
        counted(motion.frames, "frame", "frames"),
        fixed(motion.timing.duration_s, 2),
        about(motion.total_variance_mm2.max(0.0).sqrt(), 1)
    ));
    let findings: Vec<String> =
        motion.findings.iter().map(|f| format!("{} {}", sentence(&f.message), sentence(&f.advice))).collect();
    body.cautions(&findings);
    let id = format!("formkin-movement-{}", index + 1);
    body.view(View::Deforming(view(&id, topology, made)));
    if let Some(figure) = course_chart(index, &id, motion) {
        body.figure(figure);
    }
    let (deep, chart) = (&made.deep, index.to_string());
    let spectra = dynamics::spectra(index, &made.spectra);
    let by_cycle = deep.cycles_left_out.as_ref();
    let errors = mode_errors::chart(index, motion, by_cycle);
    body.figures(spectra.into_iter().chain(errors));
    body.folded("Modes of this movement in numbers", mode_errors::numbers(motion, by_cycle));
    signals::curves::curves(body, &chart, &id, &made.curves);
    signals::signals(body, &chart, &id, &deep.signals, &motion.times_s);
    if let Some(map) = &deep.strain {
        strain::strain(body, &chart, &id, map, !deep.skin_lines.is_empty(), &motion.times_s);
    }
    if let Some(found) = &deep.dynamics {
        dynamics::dynamics(body, found);
    }
    if let Some(found) = &deep.posture {
        dynamics::posture(body, &chart, &id, found, &motion.times_s);
    }
    signals::remarks(body, &deep.signals);
    if let Some(conditions) = &made.conditions {
        let triangles = Arc::from(topology.triangles());
        signals::compared::conditions(
            body,
            &format!("motion-{index}"),
            conditions,
            Some((&motion.mean, &triangles)),
        );
    }
}

/// The movement and the person; sequences are often named after both.
fn heading(capture: &str, participant: &str) -> String {
    let bare = capture.strip_prefix(participant);
    let bare = bare.map(|n| n.trim_start_matches(['_', '-', ' ', '/'])).filter(|n| !n.is_empty());
    format!("{}, person {}", title_words(bare.unwrap_or(capture), None), participant)
}

/// The body that plays the movement.
fn view(id: &str, topology: &Topology, made: &MotionOutcome) -> Deforming {
    let motion = &made.motion;
    let explained = motion.explained();
    let hint = |shown: usize| {
        let held = explained.get(shown - 1).map_or_else(String::new, |&e| percent(e));
        let kept_error = motion.errors.iter().find(|e| e.modes == shown).map_or_else(String::new, |e| {
            format!(" and are off by {} mm (root mean square)", about(e.rms_mm, 1))
        });
        format!(
            "The body is drawn from {}, which hold {held} of the movement{kept_error}. The line in the charts below runs along.",
            counted(shown, "mode", "modes")
        )
    };
    let shown = motion.modes.len().min(MODES);
    let strained = made.deep.strain.iter().flat_map(|s| &s.kept).map(|f| {
        let values: Vec<f64> = f.largest.iter().map(|&x| f64::from(x)).collect();
        (f.frame, at_vertices(topology, &values))
    });
    Deforming {
        id: id.to_owned(),
        label: format!("The body through the movement {}.", words(&made.capture, None)),
        triangles: Arc::from(topology.triangles()),
        mean: motion.mean.clone(),
        modes: motion.modes.iter().take(shown).cloned().collect(),
        variances_mm2: motion.variances_mm2.clone(),
        total_variance_mm2: motion.total_variance_mm2,
        marks: Vec::new(),
        hints: (1..=shown).map(hint).collect(),
        course: Some(Course {
            times_s: motion.times_s.clone(),
            coefficients_mm: motion.coefficients.clone(),
            span: format!("{} frames", count(motion.frames)),
            lines: made
                .deep
                .skin_lines
                .iter()
                .map(|l| SkinLine { triangle: l.triangle, directions: l.directions })
                .collect(),
            strain: strained.collect(),
        }),
    }
}

fn course_chart(index: usize, id: &str, motion: &Motion) -> Option<Figure> {
    let shown = motion.modes.len().min(SERIES.len());
    if shown == 0 || motion.frames < 2 {
        return None;
    }
    let mut plot = Plot::new(
        format!("course-{index}"),
        "Course of the first modes in time",
        Axis { range: span(&motion.times_s), ..Axis::new("time, s") },
        Axis::new("coefficient, mm"),
    );
    plot.aspect = 0.32;
    let kept = thinned(motion.frames);
    for (k, class) in SERIES.into_iter().enumerate().take(shown) {
        let points = kept.iter().filter_map(|&f| {
            let c = motion.coefficients.get(f)?.get(k)?;
            Some((*motion.times_s.get(f)?, *c))
        });
        plot.layers.push(Layer::Line { class, points: points.collect(), dots: false });
        plot.keys.push(Key::new(class, "line", format!("mode {}", k + 1)));
    }
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    let share = motion.explained().first().copied().unwrap_or(0.0);
    plot.reading = match motion.frequencies.first().copied().flatten() {
        Some(f) => format!(
            "The first mode holds {} of the movement and repeats every {} s ({} Hz, {} cycles in the record).",
            percent(share),
            fixed(1.0 / f.hz, 2),
            fixed(f.hz, 2),
            about(f.cycles, 1)
        ),
        None => format!(
            "The first mode holds {} of the movement{}.",
            percent(share),
            motion
                .no_frequency
                .first()
                .and_then(Option::as_ref)
                .map_or_else(String::new, |why| format!("; it has no frequency: {why}"))
        ),
    };
    Some(plot.figure())
}
