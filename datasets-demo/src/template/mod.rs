//! The demo template: the mean adult on any number of vertices, with its names.

pub(crate) mod landmarks;
pub(crate) mod membership;
mod pin;
pub(crate) mod regions;
pub(crate) mod skin;

use std::collections::BTreeMap;
use std::sync::Arc;

use formkin_geometry::{Mesh, Template};

use crate::DemoError;
use crate::body::solid::Solid;
use crate::names::{PAIRED_PATHS, PATHS};
use crate::surface::half::Half;
use crate::surface::{mirror, polygonise, remesh};
use membership::Membership;
use regions::Soft;

/// The template with what the generator knows about each of its vertices.
#[derive(Debug, Clone)]
pub(crate) struct Base {
    pub(crate) template: Template,
    pub(crate) solid: Solid,
    pub(crate) membership: Membership,
    pub(crate) soft: Soft,
    pub(crate) mirror: Vec<u32>,
}

impl Base {
    pub(crate) fn new(vertices: usize) -> Result<Self, DemoError> {
        let solid = Solid::new();
        // about half the edge of the wanted surface, between bounds that keep the face and the time
        let step = (560.0 / (vertices as f64).sqrt()).clamp(5.5, 8.0);
        let (positions, triangles) = polygonise::polygonise(&solid, step);
        let mut half = Half::new(positions, triangles);
        remesh::remesh(&solid, &mut half, vertices);
        let (positions, triangles) = half.compact();
        let mut whole = mirror::whole(&positions, &triangles)?;
        let summary = whole.topology.summary();
        if !summary.watertight || summary.genus != Some(0) {
            return Err(DemoError::Template { vertices, reason: format!("it is not closed: {summary:?}") });
        }
        let neighbours = whole.topology.neighbours();
        let membership = Membership::new(&solid, &whole.topology, &whole.positions, &whole.mirror);
        let (_, places) =
            landmarks::landmarks(&solid, &whole.topology, &whole.positions, &whole.mirror, &membership);
        pin::pin(&solid, &neighbours, &whole.mirror, &mut whole.positions, &places);
        let (p, mirror) = (&whole.positions, &whole.mirror);
        let membership = Membership::new(&solid, &whole.topology, p, mirror);
        let soft = Soft::new(p, &membership);
        let edge = membership::mean_edge(p, &neighbours);
        let (landmarks, _) = landmarks::landmarks(&solid, &whole.topology, p, mirror, &membership);
        let paths = paths(&landmarks);
        let template = Template {
            version: format!("demo adult 1, {} vertices", p.len()),
            landmarks,
            regions: regions::regions(&solid, p, mirror, &membership, &soft),
            paths,
            joints: skin::joints(&solid, p, mirror, &membership, edge),
            mirror: Some(mirror.clone()),
            skin: Some(skin::skin(&solid, p, &membership)),
            mesh: Mesh::new(Arc::new(whole.topology), whole.positions.clone())?,
        };
        template.validate()?;
        Ok(Self { template, solid, membership, soft, mirror: whole.mirror })
    }
}

fn paths(landmarks: &BTreeMap<String, u32>) -> BTreeMap<String, Vec<u32>> {
    let mut paths = BTreeMap::new();
    for (name, over) in PATHS {
        paths.insert((*name).to_owned(), over.iter().filter_map(|n| landmarks.get(*n).copied()).collect());
    }
    for (name, over) in PAIRED_PATHS {
        for side in ["left", "right"] {
            let over = over
                .iter()
                .filter_map(|n| landmarks.get(&n.replace('*', &format!("_{side}"))).copied())
                .collect();
            paths.insert(format!("{name}_{side}"), over);
        }
    }
    paths
}

impl Base {
    /// Where a vertex goes under a person's maps; the map is symmetric.
    pub(crate) fn place(&self, shape: &crate::people::shape::Shape, v: usize) -> formkin_geometry::Point {
        let m = &self.membership;
        let memberships = (m.arm[v], m.leg[v], m.head[v], m.foot[v]);
        shape.place(&self.solid, self.template.mesh.positions()[v], memberships)
    }
}
