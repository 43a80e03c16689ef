//! A dimension drawn on the template.

use formkin_geometry::Template;
use formkin_measure::{Definition, Kind, Measured};
use formkin_report::{Drawn, dimension_picture};

/// The picture of a dimension as it was taken on the template, as an SVG: its lines, or the part of the body whose area or volume it is.
#[must_use]
pub(super) fn draw(
    definition: &Definition,
    measured: &Measured,
    template: &Template,
    title: &str,
    words: &[String],
) -> String {
    let mesh = &template.mesh;
    let part = match &definition.kind {
        Kind::Area { region, .. } | Kind::Volume { region, .. } => {
            let mut part = vec![region.is_empty(); mesh.positions().len()];
            for &v in region.iter().filter_map(|r| template.regions.get(r)).flatten() {
                part[v as usize] = true;
            }
            part
        }
        _ => Vec::new(),
    };
    let label =
        format!("{} on the template, from the front, the left and above", definition.name.replace('_', " "));
    let drawn = Drawn { traces: &measured.trace, part: &part, title, label: &label, words };
    dimension_picture(mesh.topology(), mesh.positions(), &drawn)
}
