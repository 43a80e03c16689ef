//! What the page carries for its views, and how much that may be.

use serde::Serialize;

use super::packing::{self, Playback};
use crate::document::view::{Deforming, MODES, Painted, PlayedPoints, Triangles, View};
use crate::document::{Block, Body, Document};
use crate::{ReportError, format};

/// Bytes of base64 that all deforming bodies together may take: the page should open at once and go by post.
const BUDGET: usize = 16_000_000;
/// The same for painted bodies.
const PAINTED: usize = 8_000_000;
/// Most movements with a view: browsers keep only so many drawings alive.
const MOVEMENTS: usize = 8;
/// Most records of points with a view.
const POINTS: usize = 8;

/// Data of the page: JSON under an id.
pub(super) struct Payload {
    pub(super) id: String,
    pub(super) json: String,
}

/// A mode beside its slider.
pub(super) struct ModeLabel {
    pub(super) share: String,
    pub(super) sd: String,
    /// What a reader must know of it; mostly nothing.
    pub(super) mark: String,
}

/// Hands out what the page may carry and gathers it.
pub(super) struct Carrier {
    modes: usize,
    movements_left: usize,
    painted_left: usize,
    points_left: usize,
    /// The triangles that are carried already, for how many vertices, and their id.
    surfaces: Vec<(Triangles, usize, String)>,
    payloads: Vec<Payload>,
}

/// The deforming bodies of a document.
#[derive(Default)]
struct Bodies {
    vertices: usize,
    with_sliders: usize,
    movements: usize,
}

impl Bodies {
    fn count(&mut self, body: &Body) {
        for block in body.blocks() {
            match block {
                Block::Folded { body, .. } => self.count(body),
                Block::View(view) => {
                    if let View::Deforming(d) = &**view {
                        self.vertices = self.vertices.max(d.mean.len());
                        match d.course {
                            None => self.with_sliders += 1,
                            Some(_) => self.movements += 1,
                        }
                    }
                }
                _ => {}
            }
        }
    }
}

impl Carrier {
    /// Decides how many modes a view may have, so that all views together keep within the budget.
    pub(super) fn plan(document: &Document) -> Self {
        let mut found = Bodies::default();
        for section in &document.sections {
            found.count(&section.body);
        }
        let block = found.vertices.max(1) * 8; // three 16-bit integers in base64
        let blocks = (BUDGET / block).max(4);
        let movements = found.movements.min(MOVEMENTS);
        let bodies = (found.with_sliders + movements).max(1);
        // each body carries its mean and its modes
        let modes = (blocks / bodies).saturating_sub(1).clamp(2, MODES);
        let affordable = (blocks / (modes + 1)).saturating_sub(found.with_sliders).max(1);
        Self {
            modes,
            movements_left: movements.min(affordable),
            painted_left: PAINTED,
            points_left: POINTS,
            surfaces: Vec::new(),
            payloads: Vec::new(),
        }
    }

    /// Packs a body and gives the id of its surface and the labels of its modes; nothing where it has no modes or triangles, or where the
    /// page has enough movements.
    pub(super) fn deforming(
        &mut self,
        what: &Deforming,
    ) -> Result<Option<(String, Vec<ModeLabel>)>, ReportError> {
        let kept = what.modes.len().min(what.variances_mm2.len()).min(self.modes);
        if kept == 0 || what.triangles.is_empty() || (what.course.is_some() && self.movements_left == 0) {
            return Ok(None);
        }
        let vertices = what.mean.len();
        check_corners(&what.id, &what.triangles, vertices)?;
        if let Some((k, mode)) = what.modes.iter().take(kept).enumerate().find(|(_, m)| m.len() != vertices) {
            let (k, of) = (k + 1, mode.len());
            return Err(fault(&what.id, format!("mode {k} has {of} vertices, the mean {vertices}")));
        }
        let (mut modes, mut labels) = (Vec::with_capacity(kept), Vec::with_capacity(kept));
        for (k, (mode, &variance)) in what.modes.iter().zip(&what.variances_mm2).take(kept).enumerate() {
            let share = if what.total_variance_mm2 > 0.0 { variance / what.total_variance_mm2 } else { 0.0 };
            let packed = packing::displacements(mode, variance, share);
            labels.push(ModeLabel {
                share: format::percent(share),
                sd: format::about(packed.sd_mm, 1),
                mark: what.marks.get(k).cloned().unwrap_or_default(),
            });
            modes.push(packed);
        }
        let playback = playback(what, &modes)?;
        let (mut strain, mut lines) = (None, None);
        if let Some(course) = &what.course {
            if let Some((frame, values)) = course.strain.iter().find(|(_, v)| v.len() != vertices) {
                let n = values.len();
                return Err(fault(&what.id, format!("the strain of frame {frame} has {n} values")));
            }
            strain = packing::strain(&course.strain);
            lines = packing::lines(&course.lines, what.triangles.len());
            self.movements_left -= 1;
        }
        let surface = self.surface(vertices, &what.triangles)?;
        let positions = packing::positions(&what.mean);
        let body = packing::Body {
            surface: surface.clone(),
            positions,
            modes,
            playback,
            strain,
            lines,
            paint: None,
        };
        self.add(&what.id, &body)?;
        Ok(Some((surface, labels)))
    }

    /// Packs a painted body and gives the id of its surface; nothing where it would make the page too heavy.
    pub(super) fn painted(&mut self, what: &Painted) -> Result<Option<String>, ReportError> {
        let vertices = what.mean.len();
        let bytes = (8 * (what.morphs.len() + 1) + 2) * vertices;
        if what.triangles.is_empty() || bytes > self.painted_left {
            return Ok(None);
        }
        check_corners(&what.id, &what.triangles, vertices)?;
        if what.values.len() != vertices {
            let n = what.values.len();
            return Err(fault(&what.id, format!("it has {n} values and {vertices} vertices")));
        }
        if let Some((name, moved)) = what.morphs.iter().find(|m| m.1.len() != vertices) {
            let n = moved.len();
            return Err(fault(&what.id, format!("`{name}` moves {n} of {vertices} vertices")));
        }
        self.painted_left -= bytes;
        let surface = self.surface(vertices, &what.triangles)?;
        let body = packing::Body {
            surface: surface.clone(),
            positions: packing::positions(&what.mean),
            modes: what.morphs.iter().map(|m| packing::displacements(&m.1, 1.0, 0.0)).collect(),
            playback: None,
            strain: None,
            lines: None,
            paint: Some(packing::paint(&what.values)),
        };
        self.add(&what.id, &body)?;
        Ok(Some(surface))
    }

    /// Packs points; whether the page carries them: not where nothing was seen, or where the page has enough of them.
    pub(super) fn points(&mut self, what: &PlayedPoints) -> Result<bool, ReportError> {
        let (frames, names) = (what.times_s.len(), what.names.len());
        if what.positions_mm.len() != frames || what.positions_mm.iter().any(|row| row.len() != names) {
            let rows = what.positions_mm.len();
            let reason = format!("{rows} rows of places for {frames} times, or not {names} places in each");
            return Err(fault(&what.id, reason));
        }
        if let Some(link) = what.links.iter().find(|l| l.iter().any(|&i| i >= names)) {
            return Err(fault(&what.id, format!("points {} and {} of {names} are joined", link[0], link[1])));
        }
        if self.points_left == 0 {
            return Ok(false);
        }
        let Some(packed) = packing::points(what) else { return Ok(false) };
        self.points_left -= 1;
        self.add(&what.id, &packed)?;
        Ok(true)
    }

    /// The triangles, once for all bodies that are on the same.
    fn surface(&mut self, vertices: usize, triangles: &Triangles) -> Result<String, ReportError> {
        let same = |s: &&(Triangles, usize, String)| {
            s.1 == vertices && (Triangles::ptr_eq(&s.0, triangles) || s.0 == *triangles)
        };
        if let Some((_, _, id)) = self.surfaces.iter().find(same) {
            return Ok(id.clone());
        }
        let id = match self.surfaces.len() {
            0 => "formkin-surface".to_owned(),
            n => format!("formkin-surface-{}", n + 1),
        };
        self.add(&id, &packing::triangles(vertices, triangles))?;
        self.surfaces.push((triangles.clone(), vertices, id.clone()));
        Ok(id)
    }

    /// Data under an id of its own.
    pub(super) fn add(&mut self, id: &str, value: &impl Serialize) -> Result<(), ReportError> {
        let json = packing::script_json(value)
            .map_err(|source| ReportError::Json { part: id.to_owned(), source })?;
        self.payloads.push(Payload { id: id.to_owned(), json });
        Ok(())
    }

    /// All that was packed.
    pub(super) fn payloads(&self) -> &[Payload] {
        &self.payloads
    }
}

fn fault(id: &str, reason: String) -> ReportError {
    ReportError::Mismatch { part: format!("the view `{id}`"), reason }
}

fn check_corners(id: &str, triangles: &Triangles, vertices: usize) -> Result<(), ReportError> {
    match triangles.iter().flatten().find(|&&v| v as usize >= vertices) {
        Some(corner) => Err(fault(id, format!("a triangle names vertex {corner} of {vertices}"))),
        None => Ok(()),
    }
}

/// The coefficients of the modes that are carried, in standard deviations.
fn playback(what: &Deforming, modes: &[packing::Displacements]) -> Result<Option<Playback>, ReportError> {
    let Some(course) = &what.course else { return Ok(None) };
    let (times_s, coefficients) = (&course.times_s, &course.coefficients_mm);
    let kept = modes.len();
    if times_s.len() != coefficients.len() || coefficients.iter().any(|row| row.len() < kept) {
        let (times, rows) = (times_s.len(), coefficients.len());
        return Err(fault(&what.id, format!("{times} times, {rows} rows of coefficients, {kept} modes")));
    }
    let sds: Vec<f64> = modes.iter().map(|m| m.sd_mm.max(1e-12)).collect();
    let rows = coefficients.iter().flat_map(|row| row.iter().zip(&sds).map(|(c, sd)| c / sd));
    Ok(Some(Playback {
        frames: times_s.len(),
        times_s: packing::floats(times_s.iter().copied()),
        coefficients: packing::floats(rows),
    }))
}
