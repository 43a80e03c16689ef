//! From the solid to the template's triangles: a first surface, even triangles, the mirrored whole.

pub(crate) mod half;
pub(crate) mod mirror;
pub(crate) mod polygonise;
pub(crate) mod remesh;
