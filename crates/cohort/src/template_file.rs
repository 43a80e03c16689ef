//! `template.toml` in and out. The format is described in `docs/formats.md`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use formkin_geometry::{Joint, Mesh, Skin, Template, Topology};
use serde::{Deserialize, Serialize};

use crate::npy::NpyFile;
use crate::params::{Unit, Up};
use crate::vertex_list::{self, VertexList};
use crate::write::write_whole;
use crate::write_mesh::{MeshWriting, ply_bytes};
use crate::{CohortError, frame, names, npy_header, read_mesh};

/// The file as it stands.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TemplateToml {
    mesh: PathBuf,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    version: String,
    /// Unit and height axis of the mesh file.
    #[serde(default = "millimetres")]
    unit: Unit,
    #[serde(default = "z_up")]
    up: Up,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    mirror: Option<MirrorToml>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    skin: Option<PathBuf>,
    #[serde(default)]
    landmarks: BTreeMap<String, u32>,
    #[serde(default)]
    regions: BTreeMap<String, VertexList>,
    #[serde(default)]
    paths: BTreeMap<String, Vec<Stop>>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    joints: Vec<JointToml>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct JointToml {
    name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    parent: Option<String>,
    ring: VertexList,
}

/// A stop of a path: a landmark or a vertex.
#[derive(Debug, Serialize, Deserialize)]
#[serde(untagged, expecting = "a stop of a path must be the number of a vertex or the name of a landmark")]
enum Stop {
    Vertex(u32),
    Landmark(String),
}

/// A file, or pairs in place.
#[derive(Debug, Serialize, Deserialize)]
#[serde(untagged, expecting = "it must be the name of a file, or a list of pairs of vertices")]
enum MirrorToml {
    File(PathBuf),
    Pairs(Vec<[u32; 2]>),
}

fn millimetres() -> Unit {
    Unit::Mm
}

fn z_up() -> Up {
    Up::Z
}

/// Reads a template from its `.toml` file; the mesh and other files are found beside it. Positions are converted to mm, z up.
///
/// # Errors
/// [`CohortError::Template`] names the entry and what is wrong with it, with the near names where one is not found; the
/// errors of [`read_mesh`] for the mesh; [`CohortError::Io`].
pub fn load_template(path: &Path) -> Result<Template, CohortError> {
    let fault = |entry: &str, reason: String| CohortError::Template {
        file: path.to_owned(),
        entry: entry.to_owned(),
        reason,
    };
    let text = fs::read_to_string(path).map_err(CohortError::io(path, "read"))?;
    let file: TemplateToml =
        toml::from_str(&text).map_err(|e| fault("the file", in_words(&e.to_string())))?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let raw = read_mesh(&folder.join(&file.mesh))?;
    let Some(conversion) = frame::Conversion::new(file.unit, file.up) else {
        return Err(fault("unit and up", "write the unit (mm, cm, m) and the axis (x, y, z)".to_owned()));
    };
    let positions = raw.positions.iter().map(|&p| conversion.apply(p)).collect::<Vec<_>>();
    let vertices = positions.len();
    let topology = Arc::new(Topology::new(vertices, raw.triangles)?);
    let mut template = Template::bare(Mesh::new(topology, positions)?);
    template.version = file.version;
    let entries = Entries { path, folder, vertices };
    for (name, v) in file.landmarks {
        entries.on_mesh(&|| format!("landmark `{name}`"), v)?;
        template.landmarks.insert(name, v);
    }
    for (name, region) in &file.regions {
        let mut vertices = entries.list(format!("region `{name}`"), region)?;
        vertices.sort_unstable();
        vertices.dedup();
        template.regions.insert(name.clone(), vertices);
    }
    for (name, stops) in file.paths {
        let vertices = entries.path(&name, stops, &template.landmarks)?;
        template.paths.insert(name, vertices);
    }
    for joint in &file.joints {
        let joint = entries.joint(joint, &template.joints, &file.joints)?;
        template.joints.push(joint);
    }
    if let Some(mirror) = &file.mirror {
        template.mirror = Some(read_mirror(folder, mirror, vertices).map_err(|e| match e {
            Ok(reason) => fault("mirror", reason),
            Err(error) => error,
        })?);
    }
    if let Some(skin) = &file.skin {
        template.skin = Some(entries.skin(skin, template.joints.len())?);
    }
    template.validate().map_err(|e| match e {
        formkin_geometry::GeometryError::Template { part, name, reason } => {
            fault(&format!("{part} `{name}`"), reason)
        }
        other => other.into(),
    })?;
    Ok(template)
}

/// What the entries of a template file are held against.
struct Entries<'a> {
    path: &'a Path,
    folder: &'a Path,
    vertices: usize,
}

impl Entries<'_> {
    fn fault(&self, entry: String, reason: String) -> CohortError {
        CohortError::Template { file: self.path.to_owned(), entry, reason }
    }

    /// The vertex, if the mesh has it.
    fn on_mesh(&self, entry: &dyn Fn() -> String, v: u32) -> Result<u32, CohortError> {
        if (v as usize) < self.vertices {
            Ok(v)
        } else {
            Err(self.fault(
                entry(),
                format!("vertex {v} is not on the mesh; vertices run from 0 to {}", self.vertices - 1),
            ))
        }
    }

    fn list(&self, entry: String, list: &VertexList) -> Result<Vec<u32>, CohortError> {
        let all = list.resolve(self.folder).map_err(|reason| self.fault(entry.clone(), reason))?;
        all.iter().try_for_each(|&v| self.on_mesh(&|| entry.clone(), v).map(|_| ()))?;
        Ok(all)
    }

    /// The vertices of a path, its landmarks looked up.
    fn path(
        &self,
        name: &str,
        stops: Vec<Stop>,
        landmarks: &BTreeMap<String, u32>,
    ) -> Result<Vec<u32>, CohortError> {
        let mut vertices = Vec::with_capacity(stops.len());
        for stop in stops {
            vertices.push(match stop {
                Stop::Vertex(v) => self.on_mesh(&|| format!("path `{name}`"), v)?,
                Stop::Landmark(landmark) => match landmarks.get(&landmark) {
                    Some(&v) => v,
                    None => {
                        let near = names::near(&landmark, landmarks.keys());
                        return Err(self.fault(
                            format!("path `{name}`"),
                            format!("there is no landmark `{landmark}`{near}"),
                        ));
                    }
                },
            });
        }
        Ok(vertices)
    }

    /// A joint after those listed `before` it, of all that the file lists.
    fn joint(&self, joint: &JointToml, before: &[Joint], all: &[JointToml]) -> Result<Joint, CohortError> {
        let ring = self.list(format!("joint `{}`", joint.name), &joint.ring)?;
        if let Some(parent) = &joint.parent
            && !before.iter().any(|j| &j.name == parent)
        {
            let near = names::near(parent, all.iter().map(|j| &j.name));
            return Err(self.fault(
                format!("joint `{}`", joint.name),
                format!("its parent `{parent}` is not listed before it{near}"),
            ));
        }
        Ok(Joint { name: joint.name.clone(), parent: joint.parent.clone(), ring })
    }

    fn skin(&self, file: &Path, joints: usize) -> Result<Skin, CohortError> {
        let npy = NpyFile::open(&self.folder.join(file))?;
        if npy.shape() != [self.vertices, joints] {
            return Err(self.fault(
                "skin".to_owned(),
                format!(
                    "the array has the shape {:?}; it must be [{}, {joints}], vertices x joints",
                    npy.shape(),
                    self.vertices
                ),
            ));
        }
        Ok(Skin { weights: npy.read_all()?.into_iter().map(|w| w as f32).collect() })
    }
}

/// What the reader of TOML says, with its types in words.
fn in_words(message: &str) -> String {
    let words = [
        (" as i128", ""),
        ("expected u32", "expected a whole number, 0 or more"),
        ("expected a map", "expected a table"),
    ];
    words.iter().fold(message.trim().to_owned(), |text, (of, by)| text.replace(of, by))
}

/// The files that make up a template, its own file included; a mesh file stands for itself.
pub(crate) fn files_of(path: &Path) -> Vec<PathBuf> {
    let mut files = vec![path.to_owned()];
    let toml = fs::read_to_string(path).ok().and_then(|text| toml::from_str::<TemplateToml>(&text).ok());
    if let Some(file) = toml {
        let folder = path.parent().unwrap_or(Path::new(""));
        files.push(folder.join(&file.mesh));
        files.extend(file.skin.map(|f| folder.join(f)));
        if let Some(MirrorToml::File(f)) = file.mirror {
            files.push(folder.join(f));
        }
    }
    files
}

/// An error is either words about the entry or an error of a file.
fn read_mirror(
    folder: &Path,
    mirror: &MirrorToml,
    vertices: usize,
) -> Result<Vec<u32>, Result<String, CohortError>> {
    let from_pairs = |pairs: &[[u32; 2]]| {
        let mut all: Vec<u32> = (0..vertices as u32).collect();
        for &[a, b] in pairs {
            for v in [a, b] {
                if v as usize >= vertices {
                    return Err(Ok(format!("vertex {v} of the pair {a}, {b} is not on the mesh")));
                }
                if all[v as usize] != v {
                    return Err(Ok(format!("vertex {v} is in two pairs")));
                }
            }
            all[a as usize] = b;
            all[b as usize] = a;
        }
        Ok(all)
    };
    match mirror {
        MirrorToml::Pairs(pairs) => from_pairs(pairs),
        MirrorToml::File(file) if file.extension().is_some_and(|e| e.eq_ignore_ascii_case("npy")) => {
            let npy = NpyFile::open(&folder.join(file)).map_err(Err)?;
            if npy.shape() != [vertices] {
                return Err(Ok(format!(
                    "the array has the shape {:?}; it must be [{vertices}]",
                    npy.shape()
                )));
            }
            let numbers = npy.read_all().map_err(Err)?;
            let is_vertex = |v: f64| v.fract() == 0.0 && v >= 0.0 && v < vertices as f64;
            match numbers.iter().position(|v| !is_vertex(*v)) {
                Some(at) => Err(Ok(format!(
                    "number {at} of {} is {}, and must be a vertex: a whole number from 0 to {}",
                    file.display(),
                    numbers[at],
                    vertices.saturating_sub(1)
                ))),
                None => Ok(numbers.into_iter().map(|v| v as u32).collect()),
            }
        }
        MirrorToml::File(file) => {
            let numbers = vertex_list::read_numbers(&folder.join(file)).map_err(Ok)?;
            if !numbers.len().is_multiple_of(2) {
                return Err(Ok(format!(
                    "{} holds {} numbers; pairs are needed",
                    file.display(),
                    numbers.len()
                )));
            }
            let pairs: Vec<[u32; 2]> = numbers.chunks_exact(2).map(|p| [p[0], p[1]]).collect();
            from_pairs(&pairs)
        }
    }
}

/// Writes a template into a folder that exists: `template.toml`, `template.ply`, and where it has them `mirror.npy` (32-bit
/// integers) and `skin.npy` (vertices x joints). Gives back the path of `template.toml`.
///
/// # Errors
/// [`CohortError::AlreadyExists`] where one of the files is there; [`CohortError::Io`].
pub fn save_template(template: &Template, folder: &Path) -> Result<PathBuf, CohortError> {
    save_template_over(template, folder, false)
}

/// As [`save_template`], over existing files where `force` is set.
///
/// # Errors
/// As [`save_template`].
pub fn save_template_over(template: &Template, folder: &Path, force: bool) -> Result<PathBuf, CohortError> {
    let target = folder.join("template.toml");
    let file = TemplateToml {
        mesh: PathBuf::from("template.ply"),
        version: template.version.clone(),
        unit: Unit::Mm,
        up: Up::Z,
        mirror: template.mirror.as_ref().map(|_| MirrorToml::File(PathBuf::from("mirror.npy"))),
        skin: template.skin.as_ref().map(|_| PathBuf::from("skin.npy")),
        landmarks: template.landmarks.clone(),
        regions: template.regions.iter().map(|(n, v)| (n.clone(), VertexList::compact(v))).collect(),
        paths: template
            .paths
            .iter()
            .map(|(n, v)| (n.clone(), v.iter().map(|&v| Stop::Vertex(v)).collect()))
            .collect(),
        joints: template
            .joints
            .iter()
            .map(|j| JointToml {
                name: j.name.clone(),
                parent: j.parent.clone(),
                ring: VertexList::compact(&j.ring),
            })
            .collect(),
    };
    let text = toml::to_string(&file).map_err(|e| CohortError::Template {
        file: target.clone(),
        entry: "the file".to_owned(),
        reason: e.to_string(),
    })?;
    crate::write::refuse_existing(&target, force)?;
    let writing = MeshWriting::default();
    let ply = ply_bytes(template.mesh.topology(), template.mesh.positions(), &writing)?;
    write_whole(&folder.join("template.ply"), &ply, force)?;
    if let Some(mirror) = &template.mirror {
        let mut bytes = npy_header::header("<i4", &[mirror.len()]);
        mirror.iter().for_each(|v| bytes.extend_from_slice(&v.to_le_bytes()));
        write_whole(&folder.join("mirror.npy"), &bytes, force)?;
    }
    if let Some(skin) = &template.skin {
        let joints = template.joints.len().max(1);
        let mut bytes = npy_header::header("<f4", &[skin.weights.len() / joints, joints]);
        skin.weights.iter().for_each(|w| bytes.extend_from_slice(&w.to_le_bytes()));
        write_whole(&folder.join("skin.npy"), &bytes, force)?;
    }
    write_whole(&target, text.as_bytes(), force)?;
    Ok(target)
}
