//! What lies deeper in a movement: cycles, dimensions over the cycle, soft tissue, strain of the skin.

use formkin_motion::StrainMap;
use formkin_motion::changes::DimensionCourse;
use formkin_motion::cycles::band::OverCycles;
use formkin_motion::cycles::cycle::SetAside;
use formkin_motion::soft::tissue::Tissue;

use super::movement::span;
use crate::MovementDeep;
use crate::charts::{Axis, Figure, Key, Layer, Plot};
use crate::document::Body;
use crate::document::table::{Cell, Table, cell, number, text};
use crate::format::{about, capital, count, counted, fixed, percent, signed, title_words, unit, words};

/// Most dimensions drawn over the cycle.
const BANDS: usize = 4;
/// Most regions of strain in the table.
const REGIONS: usize = 12;
/// A range of so many noise floors is what noise alone gives.
const NOISE: f64 = 5.0;
/// A lag is shown from this correlation on.
const ALIKE: f64 = 0.5;
/// Cycles set aside that are listed open.
const ASIDE: usize = 6;
/// Most points of a drawn line.
const POINTS: usize = 600;
const SERIES: [&str; 4] = ["s1", "s2", "s3", "s4"];

/// Adds what was asked for.
///
/// `index` keeps charts apart, `id` is the view that a line in the charts runs along with.
pub(crate) fn section(body: &mut Body, index: &str, id: &str, deep: &MovementDeep<'_>, times_s: &[f64]) {
    if let Some(cycles) = deep.cycles {
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
    if let Some(cycles) = deep.cycles {
        let reasons = cycles.cycles.iter().enumerate();
        let reasons = reasons.filter_map(|(i, c)| c.set_aside.as_ref().map(|why| (i, why, None)));
        let own = deep.courses.iter().filter_map(|c| c.band.as_ref().map(|b| (c, b)));
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
    if !deep.residuals.is_empty() {
        let said: Vec<String> = deep
            .residuals
            .iter()
            .map(|(s, hz, noise)| {
                format!("{} {} Hz (noise {})", words(s, None), about(*hz, 1), about(*noise, 2))
            })
            .collect();
        body.note(&format!("Cutoffs by residual analysis: {}.", said.join(", ")));
    }
    let mut widest: Vec<&DimensionCourse> = deep.courses.iter().collect();
    widest.sort_by(|a, b| b.range().total_cmp(&a.range()));
    let figures: Vec<Figure> = widest.into_iter().filter_map(|c| band(index, c)).take(BANDS).collect();
    if !figures.is_empty() {
        body.figures(figures);
    }
    if !deep.tissue.is_empty() {
        if let Some(figure) = tissue_chart(index, id, deep.tissue, times_s) {
            body.figure(figure);
        }
        body.table(tissue(deep.tissue));
        body.table(tissue_course(deep.tissue));
        body.note(&format!(
            "Soft tissue is seen from a frame fixed to {}. Ranges are largest less smallest place in a cycle, means over cycles (SD). A lag says how much later \
             the tissue goes up and down than the frame; none is given where the two hardly go alike (correlation under 0.5).",
            deep.frame.as_deref().map_or_else(|| "the body".to_owned(), |f| words(f, None))
        ));
    }
    if let Some(map) = deep.strain {
        if let Some(figure) = strain_chart(index, id, map, times_s) {
            body.figure(figure);
        }
        body.table(strain(map));
        let floor = map
            .noise_floor
            .map_or_else(String::new, |n| format!(" The noise floor is {} or less.", percent(n)));
        body.note(&format!(
            "{} against {}. It is called {}.{floor}",
            capital(&map.name),
            map.reference_pose,
            map.caution
        ));
        if !deep.skin_lines.is_empty() {
            body.note(
                "Lines of non-extension, the two directions in which skin that is stretched one way and narrowed the other keeps its length, can be switched on in the view: each pair is drawn as of the \
                 frame in which that place is stretched most. A seam or a stiff tape along them follows the skin without pulling.",
            );
        }
    }
    if let Some(found) = deep.dynamics {
        super::dynamics::dynamics(body, found);
    }
    if let Some((posture, explained, rest)) = deep.posture {
        super::dynamics::posture(body, index, id, posture, explained, rest, times_s);
    }
    body.cautions(&deep.remarks.iter().map(|r| format!("{}.", capital(r))).collect::<Vec<_>>());
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

/// The vertical way of soft tissue against the body.
fn tissue_chart(index: &str, id: &str, found: &[Tissue], times_s: &[f64]) -> Option<Figure> {
    let mut plot = Plot::new(
        format!("tissue-{index}"),
        "Vertical displacement against the body, from the mean place",
        Axis { range: span(times_s), ..Axis::new("time, s") },
        Axis::new("up, mm"),
    );
    plot.aspect = 0.32;
    let mut most: Vec<&Tissue> = found.iter().filter(|t| t.summary.is_some()).collect();
    let range = |t: &Tissue| t.summary.as_ref().map_or(0.0, |s| s.vertical_mm.mean);
    most.sort_by(|a, b| range(b).total_cmp(&range(a)));
    for (class, t) in SERIES.into_iter().zip(&most) {
        let step = t.times_s.len().div_ceil(POINTS).max(1);
        // a line is broken where the record is
        let rate = t.times_s.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
        let mut points: Vec<(f64, f64)> = Vec::new();
        for (i, (time, d)) in t.times_s.iter().zip(&t.displacement_mm).enumerate() {
            if i > 0 && time - t.times_s[i - 1] > 1.5 * rate {
                points.push((f64::NAN, f64::NAN));
            }
            if i % step == 0 {
                points.push((*time, d[2]));
            }
        }
        plot.layers.push(Layer::Line { class, points, dots: false });
        plot.keys.push(Key::new(class, "line", words(&t.name, None)));
    }
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    let first = most.first()?;
    plot.reading = format!(
        "{} goes up and down by {} mm in a cycle.",
        title_words(&first.name, None),
        about(range(first), 1)
    );
    Some(plot.figure())
}

/// The stretch of the most stretched regions through time.
fn strain_chart(index: &str, id: &str, map: &StrainMap, times_s: &[f64]) -> Option<Figure> {
    let mut plot = Plot::new(
        format!("strain-{index}"),
        "Mean apparent stretch of the most stretched regions",
        Axis { range: span(times_s), ..Axis::new("time, s") },
        Axis::new("apparent stretch, %"),
    );
    plot.aspect = 0.32;
    let mut regions: Vec<_> = map.regions.iter().filter(|r| r.triangles > 0).collect();
    regions.sort_by(|a, b| b.peak.total_cmp(&a.peak).then(a.region.cmp(&b.region)));
    let step = times_s.len().div_ceil(POINTS).max(1);
    for (class, r) in SERIES.into_iter().zip(&regions) {
        let points = times_s.iter().zip(&r.largest).step_by(step).map(|(t, v)| (*t, 100.0 * v));
        plot.layers.push(Layer::Line { class, points: points.collect(), dots: false });
        plot.keys.push(Key::new(class, "line", words(&r.region, None)));
    }
    if let Some(floor) = map.noise_floor {
        plot.layers.push(Layer::Level { class: "muted", at: 100.0 * floor, text: "noise floor".to_owned() });
    }
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    let first = regions.first()?;
    let when = times_s.get(first.peak_frame)?;
    if first.peak <= map.noise_floor.unwrap_or(0.0).max(0.001) {
        plot.reading = "No region appears stretched as a whole.".to_owned();
        return Some(plot.figure());
    }
    plot.reading = format!(
        "{} appears stretched most: by {} % on average at {} s.",
        title_words(&first.region, None),
        about(100.0 * first.peak, 1),
        fixed(*when, 2)
    );
    Some(plot.figure())
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

fn spread(o: OverCycles, digits: usize) -> Cell {
    let sd = o.sd.map_or_else(String::new, |sd| format!(" ({})", about(sd, digits)));
    cell(format!("{}{sd}", about(o.mean, digits)))
}

/// How far.
fn tissue(found: &[Tissue]) -> Table {
    let columns = vec![
        text("Region"),
        number("Cycles", ""),
        number("Vertical", "mm"),
        number("Lateral", "mm"),
        number("Fore-aft", "mm"),
        number("Resultant", "mm"),
        number("Along the normal", "mm"),
        number("Across it", "mm"),
        number("Noise floor", "mm"),
    ];
    let mut table = Table::new("Soft tissue against the body: how far", columns);
    for t in found {
        let Some(s) = &t.summary else { continue };
        let none = || cell("–").suppressed();
        table.row(vec![
            cell(title_words(&t.name, None)),
            cell(count(s.vertical_mm.cycles)),
            spread(s.vertical_mm, 1),
            spread(s.lateral_mm, 1),
            spread(s.fore_aft_mm, 1),
            spread(s.resultant_mm, 1),
            s.normal_mm.map_or_else(none, |o| spread(o, 1)),
            s.tangential_mm.map_or_else(none, |o| spread(o, 1)),
            t.noise_mm.map_or_else(none, |n| cell(about(n.into_iter().fold(0.0, f64::max), 2))),
        ]);
    }
    table
}

/// How fast and how late.
fn tissue_course(found: &[Tissue]) -> Table {
    let columns = vec![
        text("Region"),
        number("Path", "mm"),
        number("Greatest speed", "m/s"),
        number("Greatest acceleration", "m/s²"),
        number("Lag", "degrees"),
        number("Lag", "ms"),
        number("Correlation", ""),
    ];
    let mut table = Table::new("Soft tissue against the body: how fast, and how late", columns);
    for t in found {
        let Some(s) = &t.summary else { continue };
        let none = || cell("–").suppressed();
        // what does not move alike has no lag
        let clear = t.lag.filter(|l| l.correlation >= ALIKE);
        let metres = |o: OverCycles| OverCycles { mean: o.mean / 1000.0, sd: o.sd.map(|s| s / 1000.0), ..o };
        table.row(vec![
            cell(title_words(&t.name, None)),
            spread(s.path_mm, 1),
            spread(metres(s.speed_mm_s), 2),
            spread(metres(s.acceleration_mm_s2), 1),
            clear.and_then(|l| l.degrees).map_or_else(none, |d| cell(signed(d, 0))),
            clear.map_or_else(none, |l| cell(signed(1000.0 * l.seconds, 0))),
            t.lag.map_or_else(none, |l| cell(fixed(l.correlation, 2))),
        ]);
    }
    table
}

fn strain(map: &StrainMap) -> Table {
    let columns = vec![
        text("Region"),
        number("Greatest mean stretch", "%"),
        number("In frame", ""),
        number("Across it", "%"),
        number("Area", "%"),
    ];
    let mut table = Table::new("Apparent strain of the skin, the most stretched regions", columns);
    let mut regions: Vec<_> = map.regions.iter().filter(|r| r.triangles > 0).collect();
    regions.sort_by(|a, b| b.peak.total_cmp(&a.peak).then(a.region.cmp(&b.region)));
    for r in regions.into_iter().take(REGIONS) {
        let at = |v: &[f64]| v.get(r.peak_frame).copied().unwrap_or(0.0);
        table.row(vec![
            cell(title_words(&r.region, None)),
            cell(signed(100.0 * r.peak, 1)),
            cell(count(r.peak_frame)),
            cell(signed(100.0 * at(&r.smallest), 1)),
            cell(signed(100.0 * at(&r.area), 1)),
        ]);
    }
    table
}
