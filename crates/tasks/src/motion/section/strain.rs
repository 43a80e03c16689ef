//! The apparent strain of the skin.

use formkin_motion::StrainMap;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{about, capital, count, fixed, percent, signed, title_words, words};

use crate::signals::section::curves::span;

/// Most regions of strain in the table.
const REGIONS: usize = 12;
/// Most points of a drawn line.
const POINTS: usize = 600;
const SERIES: [&str; 4] = ["s1", "s2", "s3", "s4"];

/// Adds the most stretched regions; `lined` says whether lines of non-extension can be switched on in the view.
pub(super) fn strain(body: &mut Body, index: &str, id: &str, map: &StrainMap, lined: bool, times_s: &[f64]) {
    if let Some(figure) = strain_chart(index, id, map, times_s) {
        body.figure(figure);
    }
    body.table(table(map));
    let floor =
        map.noise_floor.map_or_else(String::new, |n| format!(" The noise floor is {} or less.", percent(n)));
    body.note(&format!(
        "{} against {}. It is called {}.{floor}",
        capital(&map.name),
        map.reference_pose,
        map.caution
    ));
    if lined {
        body.note(
            "Lines of non-extension, the two directions in which skin that is stretched one way and narrowed the other keeps its length, can be switched on in the view: each pair is drawn as of the \
             frame in which that place is stretched most. A seam or a stiff tape along them follows the skin without pulling.",
        );
    }
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

fn table(map: &StrainMap) -> Table {
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
