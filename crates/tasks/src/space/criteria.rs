//! How many modes by every criterion, which of them are stable, and errors of vertices of people held out.

use formkin_shape::{ModeCriteria, Space};

use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{about, capital, count, counted, fixed, list, percent};

/// Most modes in the chart of criteria.
const SHOWN: usize = 60;

/// The name of a criterion as it is printed.
fn named(name: &str) -> String {
    match name {
        "cross_validation" => "Cross-validation".to_owned(),
        "parallel_analysis" => "Parallel analysis".to_owned(),
        "marchenko_pastur" => "Marchenko and Pastur's edge".to_owned(),
        "gavish_donoho" => "Gavish and Donoho's threshold".to_owned(),
        "broken_stick" => "Broken stick".to_owned(),
        other => match other.strip_prefix("cumulative_") {
            Some(share) => format!("{share} % of the variance"),
            None => capital(&other.replace('_', " ")),
        },
    }
}

/// The table and the chart of criteria, the marks on unstable modes, and the errors by region.
pub(super) fn criteria(body: &mut Body, space: &Space, found: &ModeCriteria) {
    body.heading("By every criterion");
    let mut table = Table::unnamed(
        "How many modes, by every criterion",
        vec![
            text("Criterion"),
            number("Modes", ""),
            number("Held-out error", "mm"),
            number("Share of variance", ""),
            text("Keeps"),
        ],
    );
    let explained = space.explained();
    let errors = space.cross_validation.as_ref().map(|c| c.errors.as_slice()).unwrap_or_default();
    for c in &found.criteria {
        let error = c.modes.and_then(|k| errors.iter().find(|e| e.modes == k));
        let share = c.modes.and_then(|k| if k == 0 { Some(&0.0) } else { explained.get(k - 1) });
        let mark = if c.name == found.primary { "primary" } else { "" };
        table.row(vec![
            cell(named(&c.name)).quiet(mark),
            cell(c.modes.map_or_else(|| "none".to_owned(), count)),
            cell(error.map_or_else(|| "\u{2013}".to_owned(), |e| fixed(e.rms_mm, 2))),
            cell(share.map_or_else(String::new, |s| percent(*s))),
            cell(capital(&c.rule.replace("mm2", "mm²"))).prose(),
        ]);
    }
    body.table(table);
    body.figure(chart(space, found));
    body.note(&format!(
        "The primary criterion is {}: {}.",
        named(&found.primary).to_lowercase(),
        found.reason
    ));
    if let Some(caution) = space.criteria_caution() {
        body.note(&format!("{}.", capital(&caution)));
    }
    stability(body, space, found);
    variances(body, found);
    if let Some(errors) = &found.vertex_errors {
        let columns =
            vec![text("Region"), number("RMS", "mm"), number("95 % within", "mm"), number("Largest", "mm")];
        let what = format!("Vertices of people held out, {}", counted(errors.modes, "mode", "modes"));
        let mut table = Table::new(what, columns);
        let mut row = |name: &str, rms: f64, p95: f64, max: f64| {
            table.row(vec![cell(name), cell(fixed(rms, 2)), cell(fixed(p95, 2)), cell(fixed(max, 1))]);
        };
        row("whole body", errors.rms_mm, errors.p95_mm, errors.max_mm);
        for r in &errors.regions {
            row(&r.region.replace('_', " "), r.rms_mm, r.p95_mm, r.max_mm);
        }
        body.note(&format!(
            "With {}, vertices of people held out lie {} mm from where they are described (root mean square), 95 % of them within {} mm, the worst {} mm.",
            counted(errors.modes, "mode", "modes"),
            fixed(errors.rms_mm, 2),
            fixed(errors.p95_mm, 2),
            fixed(errors.max_mm, 1)
        ));
        let mut inside = Body::default();
        inside.table(table);
        body.folded("Errors of vertices by region", inside);
    }
}

/// The spectrum with every threshold, and where each criterion stops.
fn chart(space: &Space, found: &ModeCriteria) -> Figure {
    let last = found.criteria.iter().filter_map(|c| c.modes).max().unwrap_or(0);
    let shown = space.variances_mm2.len().min(SHOWN.max(last + 5)).max(1);
    let mut plot = Plot::new(
        "criteria",
        "Variances of the modes, the thresholds of the criteria, and where each criterion stops",
        Axis { whole: true, ..Axis::new("mode") },
        Axis { log10: true, ..Axis::new("variance, mm² (each step ten times)") },
    );
    plot.aspect = 0.5;
    let line = |values: &[f64]| -> Vec<(f64, f64)> {
        values.iter().take(shown).enumerate().map(|(k, v)| ((k + 1) as f64, log(*v))).collect()
    };
    let low = line(&space.variances_mm2)
        .iter()
        .map(|p| p.1)
        .filter(|y| y.is_finite())
        .fold(f64::INFINITY, f64::min);
    // broken sticks fall towards nothing at the end: no lower than the variances
    let above = |points: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        points.into_iter().map(|(x, y)| (x, if y < low - 0.5 { f64::NAN } else { y })).collect()
    };
    plot.layers.push(Layer::Line { class: "s2", points: above(line(&found.null_p95_mm2)), dots: false });
    plot.layers.push(Layer::Line { class: "s3", points: above(line(&found.broken_stick_mm2)), dots: false });
    plot.layers.push(Layer::Level {
        class: "s4",
        at: log(found.marchenko_pastur_edge_mm2),
        text: String::new(),
    });
    plot.layers.push(Layer::Level {
        class: "s5",
        at: log(found.gavish_donoho_edge_mm2),
        text: String::new(),
    });
    plot.layers.push(Layer::Line { class: "s1", points: line(&space.variances_mm2), dots: shown <= 70 });
    stops(&mut plot, space, found, shown);
    let kept: Vec<usize> = found.criteria.iter().filter_map(|c| c.modes).collect();
    if let (Some(least), Some(most)) = (kept.iter().min(), kept.iter().max()) {
        plot.reading = match found.modes(&found.primary) {
            Some(k) => format!(
                "Criteria keep {} to {}; cross-validation keeps {}.",
                count(*least),
                counted(*most, "mode", "modes"),
                count(k)
            ),
            None => format!("Criteria keep {} to {}.", count(*least), counted(*most, "mode", "modes")),
        };
    }
    plot.keys = keys(found);
    plot.figure()
}

/// A logarithm for a chart: nothing is drawn where there is none.
fn log(v: f64) -> f64 {
    if v > 0.0 { v.log10() } else { f64::NAN }
}

/// Marks where each criterion stops, among the modes `shown`.
fn stops(plot: &mut Plot, space: &Space, found: &ModeCriteria, shown: usize) {
    // criteria that stop at one mode share a mark
    let mut stops: Vec<(usize, Vec<String>)> = Vec::new();
    for c in &found.criteria {
        let Some(k) = c.modes.filter(|k| *k > 0 && *k <= shown) else { continue };
        match stops.iter_mut().find(|s| s.0 == k) {
            Some(stop) => stop.1.push(named(&c.name)),
            None => stops.push((k, vec![named(&c.name)])),
        }
    }
    let primary = found.modes(&found.primary);
    plot.layers.push(Layer::Spots {
        class: "muted",
        points: stops
            .iter()
            .filter(|s| Some(s.0) != primary)
            .filter_map(|s| space.variances_mm2.get(s.0 - 1).map(|v| (s.0 as f64, log(*v))))
            .collect(),
    });
    if let Some((k, v)) = primary.filter(|k| *k > 0).and_then(|k| Some((k, *space.variances_mm2.get(k - 1)?)))
    {
        plot.layers.push(Layer::Pick {
            class: "alert",
            at: (k as f64, log(v)),
            text: format!("{} by cross-validation", counted(k, "mode", "modes")),
        });
    }
}

fn keys(found: &ModeCriteria) -> Vec<Key> {
    vec![
        Key::new("s1", "line", "variances of the modes"),
        Key::new("s2", "line", format!("parallel analysis: 95th percentile of {} nulls", count(found.nulls))),
        Key::new("s3", "line", "broken stick"),
        Key::new(
            "s4",
            "level",
            format!("Marchenko and Pastur's edge, {} mm²", about(found.marchenko_pastur_edge_mm2, 4)),
        ),
        Key::new(
            "s5",
            "level",
            format!("Gavish and Donoho's threshold, {} mm²", about(found.gavish_donoho_edge_mm2, 4)),
        ),
        Key::new("muted", "dot", "the last mode that another criterion keeps"),
    ]
}

fn stability(body: &mut Body, space: &Space, found: &ModeCriteria) {
    if found.stability.is_empty() {
        body.note("The stability of modes was not asked: none may be taken for stable.");
        return;
    }
    let (asked, kept) = (space.stability_asked_modes(), space.modes.len());
    if asked < kept {
        body.note(&format!(
            "Stability was asked of the first {asked} of {}; of the others it is not known.",
            counted(kept, "mode", "modes")
        ));
    }
    let unstable: Vec<String> =
        found.stability.iter().filter(|s| !s.stable).map(|s| s.mode.to_string()).collect();
    let looked = found.stability.len();
    body.note(&if unstable.is_empty() {
        format!("All of the first {} are stable when people are drawn again.", counted(looked, "mode", "modes"))
    } else {
        format!(
            "Not stable when people are drawn again, and not to be named one by one: {} {} of the first {} (median |cos| under 0.9 over {} draws). They are marked with a dagger (\u{2020}) wherever they appear.",
            if unstable.len() == 1 { "mode" } else { "modes" },
            list(&unstable),
            looked,
            count(found.draws)
        )
    });
    let mut groups: Vec<&formkin_shape::criteria::ModeStability> = Vec::new();
    for s in &found.stability {
        if s.group.0 < s.group.1 && !groups.iter().any(|g| g.group == s.group) {
            groups.push(s);
        }
    }
    if !groups.is_empty() {
        let named: Vec<String> = groups
            .iter()
            .map(|s| format!("{} to {} ({})", s.group.0, s.group.1, fixed(s.group_cos, 2)))
            .collect();
        body.note(&format!(
            "Variances nearer than their sampling error, whose modes are fixed only as a space together: modes {}; in brackets the cosine of the largest angle between that space and the one of a draw (median).",
            list(&named)
        ));
    }
    let mut table = Table::new(
        "Stability of the modes under draws of people",
        vec![
            number("Mode", ""),
            text("May be named"),
            number("|cos|, median", ""),
            number("5 % below", ""),
            text("Near-equal variances"),
            number("|cos| of that space", ""),
        ],
    );
    for s in &found.stability {
        let group = if s.group.0 == s.group.1 {
            String::new()
        } else {
            format!("modes {} to {}", s.group.0, s.group.1)
        };
        table.row(vec![
            cell(format!("{}{}", s.mode, if s.stable { "" } else { "\u{2020}" })),
            cell(if s.stable { "yes" } else { "no" }),
            cell(fixed(s.cos, 2)),
            cell(fixed(s.cos_p5, 2)),
            cell(group),
            cell(fixed(s.group_cos, 2)),
        ]);
    }
    let mut inside = Body::default();
    inside.table(table);
    inside.note("|cos|: how alike a mode is to the one that other draws of the people give, from 0 (nothing in common) to 1 (the same). 5 % below: one draw in twenty is less alike than this.");
    body.folded("Stability of every mode", inside);
}

/// The variances of the leading modes without what noise lends them, with their intervals.
fn variances(body: &mut Body, found: &ModeCriteria) {
    if found.variances.is_empty() {
        return;
    }
    let apart = found.variances.iter().filter(|v| v.interval_95_mm2.is_some()).count();
    body.note(&format!(
        "Sample variances of leading modes are too large: they take in what noise and other modes lend them. {} of the first {} stand apart from the others, so that their own variance is given, with an interval.",
        capital(&count(apart)),
        counted(found.variances.len(), "mode", "modes")
    ));
    let mut table = Table::new(
        "Variances of the modes and their intervals",
        vec![
            number("Mode", ""),
            number("Sample variance", "mm²"),
            number("Own variance", "mm²"),
            number("95 % from", "mm²"),
            number("to", "mm²"),
            text("No interval because"),
        ],
    );
    for v in &found.variances {
        let given = |value: Option<f64>| value.map_or_else(|| "\u{2013}".to_owned(), |x| about(x, 2));
        table.row(vec![
            cell(v.mode.to_string()),
            cell(about(v.sample_mm2, 2)),
            cell(given(v.corrected_mm2)),
            cell(given(v.interval_95_mm2.map(|i| i.0))),
            cell(given(v.interval_95_mm2.map(|i| i.1))),
            cell(v.no_interval.clone().unwrap_or_default()),
        ]);
    }
    let mut inside = Body::default();
    inside.table(table);
    inside.note("Own variances: the spiked relation turned over on all sample variances; intervals: studentised bootstrap of people on the log scale.");
    body.folded("Variances of every mode", inside);
}
