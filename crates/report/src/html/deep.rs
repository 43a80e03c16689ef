//! What lies deeper in a movement: cycles, dimensions over the cycle, soft tissue, strain of the skin.

use formkin_motion::StrainMap;
use formkin_motion::changes::DimensionCourse;
use formkin_motion::soft::tissue::Tissue;

use super::body::Body;
use super::table::{Table, cell, number, text};
use crate::charts::{Axis, Figure, Key, Layer, Plot};
use crate::format::{about, capital, count, counted, fixed, percent, signed, title_words, unit, words};
use crate::{MovementDeep, ReportError};

/// Most dimensions drawn over the cycle.
const BANDS: usize = 4;
/// Most regions of strain in the table.
const REGIONS: usize = 12;

/// Adds what was asked for.
pub(crate) fn section(body: &mut Body, index: usize, deep: &MovementDeep<'_>) -> Result<(), ReportError> {
    if let Some(cycles) = deep.cycles {
        let aside = cycles.cycles.len() - cycles.kept;
        let length = cycles.mean_s.map_or_else(String::new, |s| format!(" of {} s", fixed(s, 2)));
        let caution = cycles.caution.as_ref().map_or_else(String::new, |c| format!(" {}.", capital(c)));
        body.paragraph(&format!(
            "{}{length} in {}; {} set aside.{caution}",
            counted(cycles.kept, "cycle", "cycles"),
            cycles.found_in,
            count(aside)
        ));
    }
    let figures: Vec<Figure> = deep.courses.iter().filter_map(|c| band(index, c)).take(BANDS).collect();
    if !figures.is_empty() {
        body.figures(&figures)?;
    }
    if !deep.tissue.is_empty() {
        body.table(&tissue(deep.tissue))?;
        body.note(&format!(
            "Soft tissue is seen from a frame fixed to {}. Ranges are largest less smallest place in a cycle, means over cycles (SD). A lag says how much later \
             the tissue goes up and down than the frame.",
            deep.frame.as_deref().map_or_else(|| "the body".to_owned(), |f| words(f, None))
        ));
    }
    if let Some(map) = deep.strain {
        body.table(&strain(map))?;
        let floor = map
            .noise_floor
            .map_or_else(String::new, |n| format!(" The noise floor is {} or less.", percent(n)));
        body.note(&format!(
            "{} against {}. It is called {}.{floor}",
            capital(&map.name),
            map.reference_pose,
            map.caution
        ));
    }
    body.list("cautions", &deep.remarks.iter().map(|r| format!("{}.", capital(r))).collect::<Vec<_>>());
    Ok(())
}

fn band(index: usize, course: &DimensionCourse) -> Option<Figure> {
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
    plot.reading = format!("{} changes{range}{most}.", capital(&name));
    Some(plot.figure())
}

fn tissue(found: &[Tissue]) -> Table {
    let columns = vec![
        text("Region"),
        number("Cycles", ""),
        number("Vertical", "mm"),
        number("Lateral", "mm"),
        number("Fore-aft", "mm"),
        number("Path", "mm"),
        number("Greatest speed", "m/s"),
        number("Lag", "degrees"),
    ];
    let mut table = Table::new("Soft tissue against the body", columns);
    for t in found {
        let Some(s) = &t.summary else { continue };
        let spread = |o: formkin_motion::cycles::band::OverCycles| {
            let sd = o.sd.map_or_else(String::new, |sd| format!(" ({})", about(sd, 1)));
            cell(format!("{}{sd}", about(o.mean, 1)))
        };
        let lag = t.lag.and_then(|l| l.degrees);
        table.row(vec![
            cell(title_words(&t.name, None)),
            cell(count(s.vertical_mm.cycles)),
            spread(s.vertical_mm),
            spread(s.lateral_mm),
            spread(s.fore_aft_mm),
            spread(s.path_mm),
            cell(fixed(s.speed_mm_s.mean / 1000.0, 2)),
            cell(lag.map_or_else(|| "–".to_owned(), |d| signed(d, 0))),
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
