//! The markup of views.

use askama::Template;

use super::carrier::{Carrier, ModeLabel};
use super::people;
use super::words::element;
use crate::document::view::{Deforming, Painted, PlayedPoints, View};
use crate::error::ReportError;

/// A mean body and its modes.
#[derive(Template)]
#[template(path = "body.html")]
struct BodyTemplate<'a> {
    kind: &'static str,
    id: &'a str,
    surface: String,
    label: &'a str,
    modes: Vec<ModeLabel>,
    hint: &'a str,
    span: &'a str,
    last_frame: usize,
    strained: bool,
    lined: bool,
}

/// A painted body.
#[derive(Template)]
#[template(path = "painted.html")]
struct PaintedTemplate<'a> {
    id: &'a str,
    surface: String,
    label: &'a str,
    legend: &'a str,
    morphs: Vec<&'a str>,
    unit: &'a str,
    low: f64,
    high: f64,
    colour: &'a str,
    hint: &'a str,
}

/// Points played back.
#[derive(Template)]
#[template(path = "points.html")]
struct PointsTemplate<'a> {
    id: &'a str,
    label: &'a str,
    span: &'a str,
    last_frame: usize,
    hint: &'a str,
}

/// A view as markup; nothing, or what stands in its place, where the page does not carry it.
pub(super) fn markup(view: &View, carrier: &mut Carrier) -> Result<String, ReportError> {
    match view {
        View::Deforming(what) => deforming(what, carrier),
        View::Painted(what) => painted(what, carrier),
        View::Points(what) => points(what, carrier),
        View::People(what) => people::markup(what, carrier),
    }
}

fn deforming(what: &Deforming, carrier: &mut Carrier) -> Result<String, ReportError> {
    let Some((surface, modes)) = carrier.deforming(what)? else { return Ok(String::new()) };
    let hint = what.hints.get(modes.len() - 1).or(what.hints.last());
    let course = what.course.as_ref();
    Ok(BodyTemplate {
        kind: if course.is_some() { "movement" } else { "space" },
        id: &what.id,
        surface,
        label: &what.label,
        modes,
        hint: hint.map_or("", String::as_str),
        span: course.map_or("", |c| &c.span),
        last_frame: course.map_or(0, |c| c.times_s.len().saturating_sub(1)),
        strained: course.is_some_and(|c| !c.strain.is_empty()),
        lined: course.is_some_and(|c| !c.lines.is_empty()),
    }
    .render()?)
}

fn painted(what: &Painted, carrier: &mut Carrier) -> Result<String, ReportError> {
    let Some(surface) = carrier.painted(what)? else {
        return Ok(element("p", "note-text", &what.instead));
    };
    Ok(PaintedTemplate {
        id: &what.id,
        surface,
        label: &what.label,
        legend: &what.legend,
        morphs: what.morphs.iter().map(|m| m.0.as_str()).collect(),
        unit: &what.unit,
        low: what.low,
        high: what.high,
        colour: &what.colour,
        hint: &what.hint,
    }
    .render()?)
}

fn points(what: &PlayedPoints, carrier: &mut Carrier) -> Result<String, ReportError> {
    if !carrier.points(what)? {
        return Ok(String::new());
    }
    Ok(PointsTemplate {
        id: &what.id,
        label: &what.label,
        span: &what.span,
        last_frame: what.times_s.len().saturating_sub(1),
        hint: &what.hint,
    }
    .render()?)
}
