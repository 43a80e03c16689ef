//! Cycles, why some are set aside, and dimensions or signals over them.

use formkin_motion::Cycles;
use formkin_motion::changes::DimensionCourse;
use formkin_motion::cycles::cycle::SetAside;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::format::{about, capital, count, counted, fixed, unit, words};

use crate::signals::{ResidualCutoff, Signals};

/// Most dimensions drawn over the cycle.
const BANDS: usize = 4;
/// A range of so many noise floors is what noise alone gives.
const NOISE: f64 = 5.0;
/// Cycles set aside that are listed open.
const ASIDE: usize = 6;

/// Adds the cycles, the cutoffs, and the widest curves over the cycle.
pub(super) fn cycles(body: &mut Body, index: &str, signals: &Signals) {
    if let Some(cycles) = &signals.cycles {
        found(body, cycles);
        set_aside(body, cycles, &signals.courses);
    }
    residuals(body, &signals.residuals);
    let mut widest: Vec<&DimensionCourse> = signals.courses.iter().collect();
    widest.sort_by(|a, b| b.range().total_cmp(&a.range()));
    let figures: Vec<Figure> = widest.into_iter().filter_map(|c| band(index, c)).take(BANDS).collect();
    body.figures(figures);
}

fn found(body: &mut Body, cycles: &Cycles) {
    let aside = cycles.cycles.len() - cycles.kept;
    let length = cycles.mean_s.map_or_else(String::new, |s| format!(" of {} s", fixed(s, 2)));
    let caution = cycles.caution.as_ref().map_or_else(String::new, |c| format!(" {}.", capital(c)));
    body.paragraph(&format!(
        "{}{length} {} {}; {} set aside.{caution}",
        counted(cycles.kept, "cycle", "cycles"),
        if cycles.event.is_some() { "in" } else { "between the" },
        cycles.found_in,
        count(aside)
    ));
}

fn set_aside(body: &mut Body, cycles: &Cycles, courses: &[DimensionCourse]) {
    let reasons = cycles.cycles.iter().enumerate();
    let reasons = reasons.filter_map(|(i, c)| c.set_aside.as_ref().map(|why| (i, why, None)));
    let own = courses.iter().filter_map(|c| c.band.as_ref().map(|b| (c, b)));
    let own = own.flat_map(|(c, b)| b.set_aside.iter().map(move |(i, why)| (*i, why, Some(c))));
    let said: Vec<String> = reasons.chain(own).map(|(i, why, of)| aside(i, why, of)).collect();
    if said.len() <= ASIDE {
        body.remarks(&said);
    } else {
        let mut inside = Body::default();
        inside.remarks(&said);
        body.folded(&format!("{} times a cycle was set aside, and why", count(said.len())), inside);
    }
}

fn residuals(body: &mut Body, residuals: &[ResidualCutoff]) {
    let said: Vec<String> = residuals
        .iter()
        .map(|r| {
            let (hz, noise) = (about(r.cutoff_hz, 1), about(r.noise, 2));
            format!("{} {hz} Hz (noise {noise})", words(&r.signal, None))
        })
        .collect();
    if !said.is_empty() {
        body.note(&format!("Cutoffs by residual analysis: {}.", said.join(", ")));
    }
}

/// Why a cycle was set aside; of one dimension where it is its curve.
fn aside(cycle: usize, why: &SetAside, of: Option<&DimensionCourse>) -> String {
    let reason = match why {
        SetAside::Gap => "frames are missing in it".to_owned(),
        SetAside::Short { frames, needed } => {
            format!("it holds {}, and {needed} are needed", counted(*frames, "frame", "frames"))
        }
        SetAside::Length { seconds, median_s, allowed_s } => format!(
            "it takes {} s, where the median is {} s and {} s off are allowed",
            fixed(*seconds, 2),
            fixed(*median_s, 2),
            fixed(*allowed_s, 2)
        ),
        SetAside::Curve { distance, allowed } => format!(
            "its curve is {} (root mean square) from the median curve, and {} is allowed",
            about(*distance, 1),
            about(*allowed, 1)
        ),
    };
    let of = of.map_or_else(String::new, |c| format!(" for {}", words(&c.dimension, Some(&c.unit))));
    format!("Cycle {} is set aside{of}: {reason}.", cycle + 1)
}

fn band(index: &str, course: &DimensionCourse) -> Option<Figure> {
    let band = course.band.as_ref()?;
    let (name, of) = (words(&course.dimension, Some(&course.unit)), unit(&course.unit));
    let mut plot = Plot::new(
        format!("band-{index}-{}", course.dimension),
        format!("{} over the cycle", capital(&name)),
        Axis { range: Some((0.0, 100.0)), ..Axis::new("part of the cycle, %") },
        Axis::new(if of.is_empty() { name.clone() } else { format!("{name}, {of}") }),
    );
    plot.half = true;
    plot.aspect = 0.62;
    let at = |p: usize| p as f64;
    let around = band.mean.iter().zip(&band.sd).enumerate().map(|(p, (m, s))| (at(p), m - s, m + s));
    plot.layers.push(Layer::Band { class: "s1", points: around.collect() });
    let mean = band.mean.iter().enumerate().map(|(p, m)| (at(p), *m));
    plot.layers.push(Layer::Line { class: "s1", points: mean.collect(), dots: false });
    plot.keys.push(Key::new(
        "s1",
        "line",
        format!("mean of {}", counted(band.curves.len(), "cycle", "cycles")),
    ));
    plot.keys.push(Key::new("s1", "band", "one SD to either side".to_owned()));
    let range =
        band.range.map_or_else(String::new, |r| format!(" by {} {of} within a cycle", about(r.mean, 1)));
    let most = band
        .phase_of_max_percent
        .map_or_else(String::new, |p| format!("; it is largest at {} %", fixed(p.mean, 0)));
    let still = course.noise_floor.is_some_and(|n| course.range() <= NOISE * n);
    plot.reading = if still {
        format!("{} does not change beyond its noise.", capital(&name))
    } else {
        format!("{} changes{range}{most}.", capital(&name))
    };
    Some(plot.figure())
}
