//! The demo template: the mean adult on any number of vertices, with its names.

use std::sync::Arc;

use formkin_geometry::{Mesh, Template};

use crate::DemoError;
use crate::body::solid::Solid;
use crate::surface::half::Half;
use crate::surface::{mirror, polygonise, remesh};

/// Makes the template.
///
/// # Errors
/// [`DemoError::Parameter`] where the number of vertices is out of range; [`DemoError::Template`] where the surface is not closed.
pub fn template(vertices: usize) -> Result<Template, DemoError> {
    let solid = Solid::new();
    // about half the edge of the wanted surface, between bounds that keep the face and the time
    let step = (560.0 / (vertices as f64).sqrt()).clamp(5.5, 8.0);
    let (positions, triangles) = polygonise::polygonise(&solid, step);
    let mut half = Half::new(positions, triangles);
    remesh::remesh(&solid, &mut half, vertices);
    let (positions, triangles) = half.compact();
    let whole = mirror::whole(&positions, &triangles)?;
    let summary = whole.topology.summary();
    if !summary.watertight || summary.genus != Some(0) {
        return Err(DemoError::Template { vertices, reason: format!("{summary:?}") });
    }
    let mesh = Mesh::new(Arc::new(whole.topology), whole.positions)?;
    let mut template = Template::bare(mesh);
    template.mirror = Some(whole.mirror);
    Ok(template)
}
