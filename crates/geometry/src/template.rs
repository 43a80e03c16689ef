//! Names on the shared triangles: landmarks, regions, paths, joints, mirror pairs, skin.

use std::collections::BTreeMap;

use crate::{GeometryError, Mesh};

/// The shared triangles with the names that practitioners speak in. Every part but the mesh may be empty: a template
/// without landmarks still allows alignment, spaces, motion modes, and sizing on a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Template {
    /// The rest shape.
    pub mesh: Mesh,
    /// Which version of the template this is, as its maker writes it.
    pub version: String,
    /// A named vertex each.
    pub landmarks: BTreeMap<String, u32>,
    /// A named set of vertices each, ascending.
    pub regions: BTreeMap<String, Vec<u32>>,
    /// A named row of vertices each, in order along the surface.
    pub paths: BTreeMap<String, Vec<u32>>,
    /// Joints, parents before children.
    pub joints: Vec<Joint>,
    /// For each vertex the one on the other side of the body; a vertex of the mid-plane is its own mirror.
    pub mirror: Option<Vec<u32>>,
    /// How the vertices follow the joints.
    pub skin: Option<Skin>,
}

/// A joint: its centre is the mean of a ring of vertices.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Joint {
    /// Its name.
    pub name: String,
    /// The joint it hangs from; `None` for the root.
    pub parent: Option<String>,
    /// The vertices whose mean is its centre.
    pub ring: Vec<u32>,
}

/// Skinning weights: how much each vertex follows each joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Skin {
    /// One row a vertex, one column a joint in the order of [`Template::joints`]; every row is >= 0 and sums to 1 within 1e-6.
    pub weights: Vec<f32>,
}

impl Template {
    /// A template of a mesh alone.
    #[must_use]
    pub fn bare(mesh: Mesh) -> Self {
        Self {
            mesh,
            version: String::new(),
            landmarks: BTreeMap::new(),
            regions: BTreeMap::new(),
            paths: BTreeMap::new(),
            joints: Vec::new(),
            mirror: None,
            skin: None,
        }
    }

    /// Checks that every name leads to vertices that exist, that joints hang from earlier joints, that mirror pairs
    /// are mutual and that skin rows sum to 1.
    ///
    /// # Errors
    /// [`GeometryError::Template`] with the part, its name and what is wrong.
    pub fn validate(&self) -> Result<(), GeometryError> {
        let vertices = self.mesh.topology().vertices();
        let fault = |part, name: &str, reason: String| {
            Err(GeometryError::Template { part, name: name.to_owned(), reason })
        };
        let beyond = |list: &[u32]| list.iter().copied().find(|&v| v as usize >= vertices);
        let range = format!("vertices run from 0 to {}", vertices - 1);
        for (name, &v) in &self.landmarks {
            if v as usize >= vertices {
                return fault("landmark", name, format!("vertex {v} is not on the mesh; {range}"));
            }
        }
        for (part, named) in [("region", &self.regions), ("path", &self.paths)] {
            for (name, list) in named {
                if let Some(v) = beyond(list) {
                    return fault(part, name, format!("vertex {v} is not on the mesh; {range}"));
                }
                if list.is_empty() {
                    return fault(part, name, "it names no vertex".to_owned());
                }
            }
        }
        for (i, joint) in self.joints.iter().enumerate() {
            if let Some(v) = beyond(&joint.ring) {
                return fault("joint", &joint.name, format!("vertex {v} is not on the mesh; {range}"));
            }
            if joint.ring.is_empty() {
                return fault("joint", &joint.name, "its ring names no vertex".to_owned());
            }
            if let Some(parent) = &joint.parent
                && !self.joints[..i].iter().any(|j| &j.name == parent)
            {
                return fault("joint", &joint.name, format!("its parent `{parent}` is not listed before it"));
            }
        }
        if let Some(mirror) = &self.mirror {
            if mirror.len() != vertices {
                return fault("mirror", "pairs", format!("{} entries for {vertices} vertices", mirror.len()));
            }
            for (v, &m) in mirror.iter().enumerate() {
                if m as usize >= vertices || mirror[m as usize] as usize != v {
                    return fault("mirror", "pairs", format!("vertex {v} and its mirror {m} are not mutual"));
                }
            }
        }
        if let Some(skin) = &self.skin {
            let joints = self.joints.len();
            if joints == 0 || skin.weights.len() != vertices * joints {
                return fault(
                    "skin",
                    "weights",
                    format!("{} weights for {vertices} vertices x {joints} joints", skin.weights.len()),
                );
            }
            for (v, row) in skin.weights.chunks(joints).enumerate() {
                let sum: f64 = row.iter().map(|&w| f64::from(w)).sum();
                if row.iter().any(|w| w.is_nan() || *w < 0.0) || (sum - 1.0).abs() > 1e-6 {
                    return fault(
                        "skin",
                        "weights",
                        format!("the weights of vertex {v} must be >= 0 and sum to 1; they sum to {sum}"),
                    );
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::Topology;

    fn triangle() -> Template {
        let topology = Arc::new(Topology::new(3, vec![[0, 1, 2]]).unwrap());
        Template::bare(Mesh::new(topology, vec![[0.0; 3]; 3]).unwrap())
    }

    #[test]
    fn every_part_is_checked() {
        let good = triangle();
        assert!(good.validate().is_ok());
        let mut t = good.clone();
        t.landmarks.insert("crown".into(), 3);
        assert!(t.validate().unwrap_err().to_string().contains("crown"));
        let mut t = good.clone();
        t.mirror = Some(vec![1, 2, 0]);
        assert!(t.validate().is_err());
        t.mirror = Some(vec![1, 0, 2]);
        assert!(t.validate().is_ok());
        let mut t = good.clone();
        t.joints.push(Joint { name: "knee".into(), parent: Some("hip".into()), ring: vec![0] });
        assert!(t.validate().unwrap_err().to_string().contains("hip"));
        t.joints[0].parent = None;
        t.skin = Some(Skin { weights: vec![1.0, 1.0, 0.5] });
        assert!(t.validate().is_err());
    }
}
