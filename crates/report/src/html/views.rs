//! The 3-D views and the data that the page carries for them.

use askama::Template;
use formkin_geometry::Point;
use formkin_motion::skin_lines::SkinLines;
use serde::Serialize;

use crate::view::{self, Body, Playback};
use crate::{ReportError, ReportInput, format};

/// Bytes of base64 that all views together may take: the page should open at once and go by post.
const BUDGET: usize = 16_000_000;
/// The same for painted bodies.
const PAINTED: usize = 8_000_000;
/// Most modes of a view.
const MODES: usize = 6;
/// Most movements with a view: browsers keep only so many drawings alive.
const MOVEMENTS: usize = 8;

/// Data of the page: JSON under an id.
pub(crate) struct Payload {
    pub(crate) id: String,
    pub(crate) json: String,
}

/// A mode beside its slider.
pub(crate) struct ModeLabel {
    pub(crate) share: String,
    pub(crate) sd: String,
    /// What a reader must know of it; mostly nothing.
    pub(crate) mark: String,
}

/// The markup of a view.
#[derive(Template)]
#[template(path = "body.html")]
pub(crate) struct BodyTemplate {
    pub(crate) kind: &'static str,
    pub(crate) id: String,
    pub(crate) surface: String,
    pub(crate) label: String,
    pub(crate) modes: Vec<ModeLabel>,
    pub(crate) hint: String,
    pub(crate) span: String,
    pub(crate) last_frame: usize,
    pub(crate) strained: bool,
    pub(crate) lined: bool,
}

/// The markup of a painted body.
#[derive(Template)]
#[template(path = "painted.html")]
pub(crate) struct PaintedTemplate {
    pub(crate) id: String,
    pub(crate) surface: String,
    pub(crate) label: String,
    pub(crate) legend: String,
    pub(crate) morphs: Vec<String>,
    /// What a slider counts in.
    pub(crate) unit: String,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) colour: String,
    pub(crate) hint: String,
}

/// What a view shows: a mean, modes with their variances, and perhaps their course.
pub(crate) struct Deforming<'a> {
    pub(crate) mean: &'a [Point],
    pub(crate) modes: &'a [Vec<Point>],
    pub(crate) variances_mm2: &'a [f64],
    pub(crate) total_variance_mm2: f64,
    /// Times and coefficients in mm, frame by frame.
    pub(crate) course: Option<(&'a [f64], &'a [Vec<f64>])>,
    /// Lines of non-extension.
    pub(crate) lines: &'a [SkinLines],
    /// Strain at the vertices of some frames.
    pub(crate) strain: &'a [(usize, Vec<f64>)],
}

/// Hands out what the page may carry and gathers it.
pub(crate) struct Views<'a> {
    triangles: Option<&'a [[u32; 3]]>,
    modes: usize,
    movements_left: usize,
    painted_left: usize,
    payloads: Vec<Payload>,
}

impl<'a> Views<'a> {
    /// Decides how many modes a view may have, so that all views together keep within the budget. The triangles are those of the
    /// space, else those that the input names; where there are neither, there are no views.
    pub(crate) fn plan(input: &ReportInput<'a>) -> Self {
        let triangles = input.space.map(|s| s.triangles.as_slice()).or(input.triangles);
        let vertices = input.facts.vertices.max(1);
        let block = vertices * 8; // three 16-bit integers in base64
        let blocks = (BUDGET / block).max(4);
        let space = usize::from(input.space.is_some());
        let movements = input.movements.len().min(MOVEMENTS);
        let bodies = (space + movements).max(1);
        // each body carries its mean and its modes
        let modes = (blocks / bodies).saturating_sub(1).clamp(2, MODES);
        let affordable = (blocks / (modes + 1)).saturating_sub(space).max(1);
        Self {
            triangles,
            modes,
            movements_left: movements.min(affordable),
            painted_left: PAINTED,
            payloads: Vec::new(),
        }
    }

    /// Whether another movement may be drawn.
    pub(crate) fn take_movement(&mut self) -> bool {
        let some = self.movements_left > 0 && self.triangles.is_some();
        if some {
            self.movements_left -= 1;
        }
        some
    }

    /// Packs a body into the page and gives the labels of its modes.
    pub(crate) fn pack(
        &mut self,
        id: &str,
        what: &Deforming<'_>,
    ) -> Result<Option<(String, Vec<ModeLabel>)>, ReportError> {
        let Some(triangles) = self.triangles else { return Ok(None) };
        let vertices = what.mean.len();
        let fault = |reason: String| ReportError::Mismatch { part: format!("the body `{id}`"), reason };
        if let Some(corner) = triangles.iter().flatten().find(|&&v| v as usize >= vertices) {
            return Err(fault(format!("a triangle names vertex {corner} of {vertices}")));
        }
        let kept = what.modes.len().min(what.variances_mm2.len()).min(self.modes);
        let mut modes = Vec::with_capacity(kept);
        let mut labels = Vec::with_capacity(kept);
        for (k, mode) in what.modes.iter().take(kept).enumerate() {
            if mode.len() != vertices {
                return Err(fault(format!(
                    "mode {} has {} vertices, the mean {vertices}",
                    k + 1,
                    mode.len()
                )));
            }
            let variance = what.variances_mm2[k];
            let share = if what.total_variance_mm2 > 0.0 { variance / what.total_variance_mm2 } else { 0.0 };
            let packed = view::displacements(mode, variance, share);
            labels.push(ModeLabel {
                share: format::percent(share),
                sd: format::about(packed.sd_mm, 1),
                mark: String::new(),
            });
            modes.push(packed);
        }
        let playback = match what.course {
            None => None,
            Some((times_s, coefficients)) => {
                if times_s.len() != coefficients.len() || coefficients.iter().any(|row| row.len() < kept) {
                    return Err(fault(format!(
                        "{} times, {} rows of coefficients, {kept} modes",
                        times_s.len(),
                        coefficients.len()
                    )));
                }
                let sds: Vec<f64> = modes.iter().map(|m| m.sd_mm.max(1e-12)).collect();
                let rows = coefficients.iter().flat_map(|row| row.iter().zip(&sds).map(|(c, sd)| c / sd));
                Some(Playback {
                    frames: times_s.len(),
                    times_s: view::floats(times_s.iter().copied()),
                    coefficients: view::floats(rows),
                })
            }
        };
        if let Some((frame, values)) = what.strain.iter().find(|(_, v)| v.len() != vertices) {
            return Err(fault(format!("the strain of frame {frame} has {} values", values.len())));
        }
        let strain = view::strain(what.strain);
        let lines = view::lines(what.lines, triangles.len());
        let surface = self.surface(vertices, triangles)?;
        let positions = view::positions(what.mean);
        self.add(
            id,
            &Body { surface: surface.clone(), positions, modes, playback, strain, lines, paint: None },
        )?;
        Ok(Some((surface, labels)))
    }

    /// Packs a body painted with a signed result at every vertex, and displacements that sliders move it by; nothing where it would make the page too heavy.
    pub(crate) fn pack_painted(
        &mut self,
        id: &str,
        mean: &[Point],
        morphs: &[Vec<Point>],
        values: &[f64],
    ) -> Result<Option<String>, ReportError> {
        let Some(triangles) = self.triangles else { return Ok(None) };
        let bytes = (8 * (morphs.len() + 1) + 2) * mean.len();
        let corners = triangles.iter().flatten();
        if bytes > self.painted_left
            || values.len() != mean.len()
            || morphs.iter().any(|m| m.len() != mean.len())
            || corners.into_iter().any(|v| *v as usize >= mean.len())
        {
            return Ok(None);
        }
        self.painted_left -= bytes;
        let surface = self.surface(mean.len(), triangles)?;
        let body = Body {
            surface: surface.clone(),
            positions: view::positions(mean),
            modes: morphs.iter().map(|m| view::displacements(m, 1.0, 0.0)).collect(),
            playback: None,
            strain: None,
            lines: None,
            paint: Some(view::paint(values)),
        };
        self.add(id, &body)?;
        Ok(Some(surface))
    }

    /// Data under an id of its own.
    pub(crate) fn data(&mut self, id: &str, value: &impl Serialize) -> Result<(), ReportError> {
        self.add(id, value)
    }

    /// The triangles, once for all bodies.
    fn surface(&mut self, vertices: usize, triangles: &[[u32; 3]]) -> Result<String, ReportError> {
        let id = "formkin-surface";
        if !self.payloads.iter().any(|p| p.id == id) {
            self.add(id, &view::triangles(vertices, triangles))?;
        }
        Ok(id.to_owned())
    }

    fn add(&mut self, id: &str, value: &impl Serialize) -> Result<(), ReportError> {
        let json =
            view::script_json(value).map_err(|source| ReportError::Json { part: id.to_owned(), source })?;
        self.payloads.push(Payload { id: id.to_owned(), json });
        Ok(())
    }

    /// All that was packed.
    pub(crate) fn payloads(&self) -> &[Payload] {
        &self.payloads
    }
}
