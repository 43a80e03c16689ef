//! Spaces, bodies and coefficients in open formats, one task each.

mod coefficients;
mod glb;
mod meshes;

use formkin_report::document::{Body, Section};

pub use coefficients::{Coefficients, CoefficientsOutcome, CoefficientsSettings, CoefficientsSources};
pub use glb::{Glb, GlbSettings, GlbSources};
pub use meshes::{MeshFormat, Meshes, MeshesSettings, MeshesSources};

/// A section that says what was written in one line.
fn said(id: &str, title: &str, line: String) -> Vec<Section> {
    let mut body = Body::default();
    body.paragraph(&line);
    vec![Section {
        id: id.to_owned(),
        title: title.to_owned(),
        answer: vec![line],
        body,
        ..Section::default()
    }]
}
