//! How dimensions are taken, carried by a space: definitions and the names on the shared triangles.

use std::collections::BTreeMap;

use formkin_geometry::{Joint, Mesh, Template, Topology};
use formkin_measure::Dimensions;
use formkin_shape::Space;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// Definitions and names, so that a body of a space can be measured with nothing but its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measuring {
    /// The definitions.
    pub dimensions: Dimensions,
    /// A named vertex each.
    pub landmarks: BTreeMap<String, u32>,
    /// A named set of vertices each.
    pub regions: BTreeMap<String, Vec<u32>>,
    /// A named row of vertices each.
    pub paths: BTreeMap<String, Vec<u32>>,
    /// Name, parent and ring of every joint.
    pub joints: Vec<(String, Option<String>, Vec<u32>)>,
}

impl Measuring {
    /// What measuring needs of a template.
    #[must_use]
    pub fn of(dimensions: &Dimensions, template: &Template) -> Self {
        Self {
            dimensions: dimensions.clone(),
            landmarks: template.landmarks.clone(),
            regions: template.regions.clone(),
            paths: template.paths.clone(),
            joints: template
                .joints
                .iter()
                .map(|j| (j.name.clone(), j.parent.clone(), j.ring.clone()))
                .collect(),
        }
    }

    /// As the text that a space keeps.
    ///
    /// # Errors
    /// [`TaskError::Space`] where it cannot be written.
    pub fn to_text(&self) -> Result<String, TaskError> {
        serde_json::to_string(self)
            .map_err(|e| TaskError::Space { reason: format!("its dimensions cannot be kept: {e}") })
    }

    /// What a space says of measuring; none where it was built without dimensions.
    ///
    /// # Errors
    /// [`TaskError::Space`] where it cannot be read or does not fit the triangles.
    pub fn read(space: &Space) -> Result<Option<(Self, Template)>, TaskError> {
        let Some(text) = &space.measuring else { return Ok(None) };
        let wrong = |reason: String| TaskError::Space { reason: format!("its way of measuring: {reason}") };
        let found: Self = serde_json::from_str(text).map_err(|e| wrong(e.to_string()))?;
        let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
        let mesh =
            Mesh::new(std::sync::Arc::new(topology), space.mean.clone()).map_err(|e| wrong(e.to_string()))?;
        let template = Template {
            landmarks: found.landmarks.clone(),
            regions: found.regions.clone(),
            paths: found.paths.clone(),
            joints: found
                .joints
                .iter()
                .map(|(name, parent, ring)| Joint {
                    name: name.clone(),
                    parent: parent.clone(),
                    ring: ring.clone(),
                })
                .collect(),
            ..Template::bare(mesh)
        };
        template.validate().map_err(|e| wrong(e.to_string()))?;
        found.dimensions.check(&template)?;
        Ok(Some((found, template)))
    }
}
