//! What holds for all files: the triangles, the unit, the height axis.

use std::path::PathBuf;
use std::sync::Arc;

use formkin_geometry::{Mesh, Point, Template, Topology};
use formkin_stats::quantile::median_of;

use super::plan::{Member, Plan, Source};
use crate::frame::{self, Conversion, Look};
use crate::params::{ImportParams, Unit, Up};
use crate::read::RawMesh;
use crate::{CohortError, load_template, read_mesh, read_positions};

/// Items that unit and height axis are told from.
const SAMPLE: usize = 15;

/// What holds for all files.
#[derive(Debug)]
pub(crate) struct Settled {
    /// In mm, z up.
    pub(crate) template: Template,
    pub(crate) unit: Unit,
    pub(crate) unit_reason: String,
    pub(crate) up: Up,
    pub(crate) up_reason: String,
    pub(crate) conversion: Conversion,
    /// Median diagonal of the box around a sampled item, in mm.
    pub(crate) reference_mm: f64,
    pub(crate) from_first_file: bool,
    /// The file that set the triangles, where no template was given.
    pub(crate) first_file: PathBuf,
}

enum Shared {
    Template(Box<Template>),
    Mesh(PathBuf, RawMesh, Arc<Topology>),
}

pub(crate) fn settle(plan: &Plan, params: &ImportParams) -> Result<Settled, CohortError> {
    let members: Vec<&Member> = plan.targets.iter().flat_map(|t| &t.members).collect();
    let from_first_file = params.template.is_none();
    let shared = shared(&members, params)?;
    let topology = match &shared {
        Shared::Template(template) => template.mesh.topology(),
        Shared::Mesh(_, _, topology) => topology,
    };
    let (looks, names) = sample(&members, topology)?;
    let blame = |i: usize| members_path(&names, i);
    let (up, up_reason) = match params.up {
        Up::Auto => {
            frame::tell_up(&looks).map_err(|reason| CohortError::UpUnknown { file: blame(0), reason })?
        }
        given => (given, "given".to_owned()),
    };
    let (unit, unit_reason) = match params.unit {
        Unit::Auto => frame::tell_unit(&looks, &names, up)
            .map_err(|(i, reason)| CohortError::UnitUnknown { file: blame(i), reason })?,
        given => (given, frame::doubt_of(&looks, up, given)),
    };
    let known = |unit, up| {
        Conversion::new(unit, up)
            .ok_or(CohortError::Setting { setting: "unit", reason: "the unit is not known".to_owned() })
    };
    let conversion = known(unit, up)?;
    let mm = unit.millimetres().unwrap_or(1.0);
    // items in another unit do not take part in what is usual
    let mut diagonals: Vec<f64> = looks
        .iter()
        .filter(|l| params.unit != Unit::Auto || frame::unit_of(l.height(up)) == Some(unit))
        .map(|l| mm * l.diagonal())
        .collect();
    let reference_mm = median_of(&mut diagonals).unwrap_or_default();
    let mut first_file = PathBuf::new();
    let template = match shared {
        Shared::Template(template) => *template,
        Shared::Mesh(path, raw, topology) => {
            let own =
                if from_first_file { conversion } else { own_conversion(&raw.positions, unit, up, params)? };
            first_file = path;
            let mesh = Mesh::new(topology, raw.positions.iter().map(|&p| own.apply(p)).collect())?;
            mesh.require_finite()?;
            Template::bare(mesh)
        }
    };
    Ok(Settled {
        template,
        unit,
        unit_reason,
        up,
        up_reason,
        conversion,
        reference_mm,
        from_first_file,
        first_file,
    })
}

fn members_path(names: &[String], i: usize) -> PathBuf {
    PathBuf::from(names.get(i).cloned().unwrap_or_default())
}

/// A mesh file given as template may be in another unit than the scans: it is told by itself where it can be.
fn own_conversion(
    positions: &[Point],
    unit: Unit,
    up: Up,
    params: &ImportParams,
) -> Result<Conversion, CohortError> {
    let looks: Vec<Look> = Look::at(positions).into_iter().collect();
    let up = match params.up {
        Up::Auto if !looks.is_empty() => frame::tell_up(&looks).map_or(up, |(up, _)| up),
        _ => up,
    };
    let unit = match params.unit {
        Unit::Auto => looks.first().and_then(|l| frame::unit_of(l.height(up))).unwrap_or(unit),
        given => given,
    };
    Conversion::new(unit, up).ok_or(CohortError::Setting {
        setting: "unit",
        reason: "the unit of the template is not known".to_owned(),
    })
}

/// The template that is given, or the first mesh file that can be read and is finite.
fn shared(members: &[&Member], params: &ImportParams) -> Result<Shared, CohortError> {
    let with_topology = |path: PathBuf, raw: RawMesh| -> Result<Shared, CohortError> {
        let topology = Arc::new(Topology::new(raw.positions.len(), raw.triangles.clone())?);
        Ok(Shared::Mesh(path, raw, topology))
    };
    if let Some(path) = &params.template {
        if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
            return Ok(Shared::Template(Box::new(load_template(path)?)));
        }
        return with_topology(path.clone(), read_mesh(path)?);
    }
    let mut first_error = None;
    let mut files = 0;
    for member in members {
        let Source::Mesh(path) = &member.source else { continue };
        files += 1;
        match read_mesh(path) {
            Ok(raw) if raw.positions.as_flattened().iter().all(|c| c.is_finite()) => {
                return with_topology(path.clone(), raw);
            }
            Ok(_) => {}
            Err(e) => first_error = first_error.or(Some(e)),
        }
    }
    Err(if files == 0 {
        CohortError::Setting {
            setting: "template",
            reason: "NPY files hold no triangles; give a template (a mesh file or template.toml)".to_owned(),
        }
    } else {
        let first = first_error.map_or("no file has finite positions".to_owned(), |e| e.to_string());
        CohortError::NothingAccepted { files, first }
    })
}

/// Looks at items spread evenly over all; where one cannot be read, at the next that can.
fn sample(members: &[&Member], topology: &Topology) -> Result<(Vec<Look>, Vec<String>), CohortError> {
    let (mut looks, mut names) = (Vec::new(), Vec::new());
    let mut first_error = None;
    let step = members.len().div_ceil(SAMPLE).max(1);
    let mut next = 0;
    while next < members.len() {
        let stop = (next + step).min(members.len());
        for member in &members[next..stop] {
            match positions(&member.source, topology) {
                Ok(positions) if positions.as_flattened().iter().all(|c| c.is_finite()) => {
                    if let Some(look) = Look::at(&positions) {
                        looks.push(look);
                        names.push(member.item.source.clone());
                        break;
                    }
                }
                Ok(_) => {}
                Err(e) => first_error = first_error.or(Some(e)),
            }
        }
        next = stop;
    }
    if looks.is_empty() {
        let first = first_error.map_or("no item has finite positions".to_owned(), |e| e.to_string());
        return Err(CohortError::NothingAccepted { files: members.len(), first });
    }
    Ok((looks, names))
}

/// The positions of an item as its file has them.
pub(crate) fn positions(source: &Source, topology: &Topology) -> Result<Vec<Point>, CohortError> {
    match source {
        Source::Mesh(path) => read_positions(path, topology),
        Source::Row(file, row) => {
            if file.shape()[1] != topology.vertices() {
                return Err(CohortError::OtherTopology {
                    file: file.path().to_owned(),
                    mismatch: crate::Mismatch::Vertices {
                        expected: topology.vertices(),
                        found: file.shape()[1],
                    },
                });
            }
            let mut out = vec![[0.0; 3]; topology.vertices()];
            file.read_positions(*row, &mut out)?;
            Ok(out)
        }
        Source::Unreadable(path, reason) => Err(CohortError::Setting {
            setting: "file",
            reason: if reason.is_empty() { path.display().to_string() } else { reason.clone() },
        }),
    }
}
