//! Masses and centres of mass of body segments, from the volumes of regions and densities.

use formkin_geometry::{Point, Template};
use formkin_table::near;
use serde::{Deserialize, Serialize};

use crate::enclosed::Shell;

use crate::MeasureError;

/// A segment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SegmentDefinition {
    /// Its name.
    pub name: String,
    /// The regions of the template it is made of.
    pub regions: Vec<String>,
    /// Its density.
    pub density_kg_per_litre: f64,
    /// Its share of the body's mass in a handbook.
    pub handbook_share: Option<f64>,
}

/// The segments of a body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SegmentParams {
    /// The segments; together they should divide the surface.
    pub segments: Vec<SegmentDefinition>,
    /// Where densities and shares come from.
    pub source: String,
}

impl Default for SegmentParams {
    /// Trunk with head and neck, and the limbs in three parts each. Shares: Dempster as printed by Winter 2009. Densities: Dempster 1955
    /// after Winter, from memory; the trunk's is that of trunk, head and neck together.
    fn default() -> Self {
        let mut segments = vec![SegmentDefinition {
            name: "trunk_head_neck".to_owned(),
            regions: ["head", "neck", "torso"].map(str::to_owned).to_vec(),
            density_kg_per_litre: 1.04,
            handbook_share: Some(0.578),
        }];
        for (name, density, share) in [
            ("upper_arm", 1.07, 0.028),
            ("forearm", 1.13, 0.016),
            ("hand", 1.16, 0.006),
            ("thigh", 1.05, 0.100),
            ("shank", 1.09, 0.0465),
            ("foot", 1.10, 0.0145),
        ] {
            for side in ["left", "right"] {
                segments.push(SegmentDefinition {
                    name: format!("{name}_{side}"),
                    regions: vec![format!("{name}_{side}")],
                    density_kg_per_litre: density,
                    handbook_share: Some(share),
                });
            }
        }
        Self { segments, source: "Dempster 1955 after Winter 2009; densities from memory".to_owned() }
    }
}

/// One segment of one body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Segment {
    /// Its name.
    pub name: String,
    /// Its volume, its rims closed by fans from their middles. The segments add up to the body but for wedges where three of them meet.
    pub volume_litres: f64,
    /// Volume times density.
    pub mass_kg: f64,
    /// Its share of the mass of all segments.
    pub share: f64,
    /// The share in the handbook.
    pub handbook_share: Option<f64>,
    /// Centre of mass in mm, for even density in the segment.
    pub centre_mm: Point,
}

impl SegmentParams {
    /// The segments laid on a template: their triangles and rims are found once, for many bodies.
    ///
    /// # Errors
    /// [`MeasureError::UnknownName`] where the template lacks a region; [`MeasureError::Definition`] where the regions of a segment enclose nothing.
    pub fn on(&self, template: &Template) -> Result<Segments, MeasureError> {
        let topology = template.mesh.topology();
        let order: Vec<u32> = (0..topology.triangles().len() as u32).collect();
        let mut shells = Vec::with_capacity(self.segments.len());
        for s in &self.segments {
            if let Some(name) = s.regions.iter().find(|r| !template.regions.contains_key(*r)) {
                return Err(MeasureError::UnknownName {
                    dimension: s.name.clone(),
                    part: "region",
                    name: name.clone(),
                    advice: near::advice(name, template.regions.keys().map(String::as_str)),
                });
            }
            let mut mask = vec![false; topology.vertices()];
            for &v in s.regions.iter().filter_map(|r| template.regions.get(r)).flatten() {
                mask[v as usize] = true;
            }
            shells.push(Shell::new(topology, &order, &mask).map_err(|reason| fault(s, reason))?);
        }
        Ok(Segments { segments: self.segments.clone(), shells, vertices: topology.vertices() })
    }
}

/// Segments laid on a template, to be taken of many bodies.
#[derive(Debug, Clone)]
pub struct Segments {
    segments: Vec<SegmentDefinition>,
    shells: Vec<Shell>,
    vertices: usize,
}

fn fault(segment: &SegmentDefinition, reason: String) -> MeasureError {
    MeasureError::Definition { dimension: segment.name.clone(), reason }
}

impl Segments {
    /// Volume, mass and centre of every segment of one body.
    ///
    /// # Errors
    /// [`MeasureError::VertexCount`] for a body of another template; [`MeasureError::Definition`] where a segment has no volume.
    pub fn take(&self, positions: &[Point]) -> Result<Vec<Segment>, MeasureError> {
        if positions.len() != self.vertices {
            return Err(MeasureError::VertexCount { shapes: positions.len(), template: self.vertices });
        }
        let mut made = Vec::with_capacity(self.segments.len());
        for (s, shell) in self.segments.iter().zip(&self.shells) {
            let e = shell.on(positions).map_err(|reason| fault(s, reason))?;
            let volume_litres = e.volume * 1e-6;
            made.push(Segment {
                name: s.name.clone(),
                volume_litres,
                mass_kg: volume_litres * s.density_kg_per_litre,
                share: 0.0,
                handbook_share: s.handbook_share,
                centre_mm: e.centre,
            });
        }
        let all: f64 = made.iter().map(|s| s.mass_kg).sum();
        for s in &mut made {
            s.share = s.mass_kg / all;
        }
        Ok(made)
    }
}
