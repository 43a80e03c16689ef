//! glTF 2.0 binary files: a body with named morph targets, colours and an animation of the weights.
//!
//! glTF works in metres, y up, right-handed, so a point (x, y, z) in mm with z up is written as (x, z, -y) / 1000: a
//! rotation, never a reflection. The names of the targets are in `mesh.extras.targetNames`, the usual place.

use formkin_geometry::{Point, Topology, areas};
use gltf_json as json;
use gltf_json::validation::Checked::Valid;
use serde_json::Value;
use serde_json::value::RawValue;

use crate::CohortError;
use crate::fault::SceneFault;

/// A body that changes shape.
#[derive(Debug, Clone)]
pub struct MorphScene<'a> {
    /// Name of the mesh and its node.
    pub name: String,
    /// The triangles.
    pub topology: &'a Topology,
    /// The body when all weights are 0, in mm, z up.
    pub base: &'a [Point],
    /// Morph targets: a name and what weight 1 adds to every vertex, in mm.
    pub targets: Vec<(String, Vec<Point>)>,
    /// A colour for every vertex: red, green, blue in sRGB.
    pub colors: Option<Vec<[u8; 3]>>,
    /// How the weights change over time.
    pub animation: Option<MorphAnimation>,
    /// Anything to say about the scene; an object goes into the `extras` of the mesh beside `targetNames`.
    pub extras: Value,
}

/// How the weights change over time, linear in between.
#[derive(Debug, Clone, PartialEq)]
pub struct MorphAnimation {
    /// Times in seconds, increasing.
    pub times_s: Vec<f64>,
    /// For each time one weight for each target.
    pub weights: Vec<Vec<f64>>,
}

/// Writes the scene as a `.glb` file in memory.
///
/// # Errors
/// [`CohortError::Scene`] where counts do not fit together, a number is not finite, times do not increase, or the file
/// would exceed the 4 GiB that the format allows.
pub fn morph_glb(scene: &MorphScene<'_>) -> Result<Vec<u8>, CohortError> {
    check(scene)?;
    let mut out = Builder::default();
    let positions: Vec<[f32; 3]> = scene.base.iter().map(|&p| to_gltf(p, 1e-3)).collect();
    let normals: Vec<[f32; 3]> = areas::vertex_normals(scene.topology, scene.base)
        .into_iter()
        .map(|n| if n == [0.0; 3] { [0.0, 1.0, 0.0] } else { to_gltf(n, 1.0) })
        .collect();
    let mut attributes = std::collections::BTreeMap::new();
    attributes.insert(Valid(json::mesh::Semantic::Positions), out.vectors(&positions, true));
    attributes.insert(Valid(json::mesh::Semantic::Normals), out.vectors(&normals, false));
    if let Some(colors) = &scene.colors {
        attributes.insert(Valid(json::mesh::Semantic::Colors(0)), out.colors(colors));
    }
    let indices = out.indices(scene.topology);
    let mut targets = Vec::with_capacity(scene.targets.len());
    for (_, deltas) in &scene.targets {
        let deltas: Vec<[f32; 3]> = deltas.iter().map(|&d| to_gltf(d, 1e-3)).collect();
        let positions = Some(out.vectors(&deltas, true));
        targets.push(json::mesh::MorphTarget { positions, normals: None, tangents: None });
    }
    let material = out.root.push(json::Material {
        double_sided: true,
        pbr_metallic_roughness: json::material::PbrMetallicRoughness {
            base_color_factor: json::material::PbrBaseColorFactor(if scene.colors.is_some() {
                [1.0; 4]
            } else {
                [0.62, 0.62, 0.6, 1.0]
            }),
            metallic_factor: json::material::StrengthFactor(0.0),
            roughness_factor: json::material::StrengthFactor(0.8),
            ..Default::default()
        },
        ..Default::default()
    });
    let mesh = out.root.push(json::Mesh {
        extensions: None,
        extras: extras(scene)?,
        name: Some(scene.name.clone()),
        weights: (!targets.is_empty()).then(|| vec![0.0; targets.len()]),
        primitives: vec![json::mesh::Primitive {
            attributes,
            extensions: None,
            extras: None,
            indices: Some(indices),
            material: Some(material),
            mode: Valid(json::mesh::Mode::Triangles),
            targets: (!targets.is_empty()).then_some(targets),
        }],
    });
    let node =
        out.root.push(json::Node { mesh: Some(mesh), name: Some(scene.name.clone()), ..Default::default() });
    let root_scene = out.root.push(json::Scene {
        extensions: None,
        extras: None,
        name: Some(scene.name.clone()),
        nodes: vec![node],
    });
    out.root.scene = Some(root_scene);
    if let Some(animation) = &scene.animation {
        out.animation(animation, node);
    }
    out.finish()
}

fn to_gltf([x, y, z]: Point, scale: f64) -> [f32; 3] {
    // adding 0 turns -0 into 0
    [(x * scale) as f32, (z * scale) as f32, (-y * scale + 0.0) as f32]
}

fn check(scene: &MorphScene<'_>) -> Result<(), SceneFault> {
    let vertices = scene.topology.vertices();
    let named = std::iter::once(("the base", scene.base))
        .chain(scene.targets.iter().map(|(name, deltas)| (name.as_str(), deltas.as_slice())));
    for (name, points) in named {
        if points.len() != vertices {
            return Err(SceneFault::Points { name: name.to_owned(), points: points.len(), vertices });
        }
        if let Some(v) = points.iter().position(|p| p.iter().any(|c| !c.is_finite())) {
            return Err(SceneFault::NotFinite { name: name.to_owned(), vertex: v });
        }
    }
    if let Some(colors) = &scene.colors
        && colors.len() != vertices
    {
        return Err(SceneFault::Colours { colours: colors.len(), vertices });
    }
    if let Some(MorphAnimation { times_s, weights }) = &scene.animation {
        let targets = scene.targets.len();
        if targets == 0 || times_s.is_empty() || times_s.len() != weights.len() {
            return Err(SceneFault::Animation { targets, times: times_s.len(), rows: weights.len() });
        }
        if let Some(row) = weights.iter().position(|w| w.len() != targets || w.iter().any(|x| !x.is_finite()))
        {
            return Err(SceneFault::Weights { row, targets });
        }
        if times_s.iter().any(|t| !t.is_finite() || *t < 0.0) || times_s.windows(2).any(|w| w[1] <= w[0]) {
            return Err(SceneFault::Times);
        }
    }
    Ok(())
}

fn extras(scene: &MorphScene<'_>) -> Result<Option<Box<RawValue>>, CohortError> {
    let mut all = match &scene.extras {
        Value::Object(map) => map.clone(),
        Value::Null => serde_json::Map::new(),
        other => serde_json::Map::from_iter([("note".to_owned(), other.clone())]),
    };
    if !scene.targets.is_empty() {
        let names = scene.targets.iter().map(|(name, _)| Value::from(name.as_str())).collect();
        all.insert("targetNames".to_owned(), Value::Array(names));
    }
    if all.is_empty() {
        return Ok(None);
    }
    serde_json::value::to_raw_value(&all)
        .map(Some)
        .map_err(|e| SceneFault::Json { message: e.to_string() }.into())
}

/// The document and its one buffer while they grow.
#[derive(Default)]
struct Builder {
    root: json::Root,
    buffer: Vec<u8>,
}

impl Builder {
    fn view(
        &mut self,
        start: usize,
        target: Option<json::buffer::Target>,
    ) -> json::Index<json::buffer::View> {
        self.root.push(json::buffer::View {
            buffer: json::Index::new(0),
            byte_length: (self.buffer.len() - start).into(),
            byte_offset: Some(start.into()),
            byte_stride: None,
            name: None,
            target: target.map(Valid),
            extensions: None,
            extras: None,
        })
    }

    fn accessor(
        &mut self,
        view: json::Index<json::buffer::View>,
        count: usize,
        component: json::accessor::ComponentType,
        kind: json::accessor::Type,
        range: Option<(Value, Value)>,
    ) -> json::Index<json::Accessor> {
        let (min, max) = range.unzip();
        self.root.push(json::Accessor {
            buffer_view: Some(view),
            byte_offset: None,
            count: count.into(),
            component_type: Valid(json::accessor::GenericComponentType(component)),
            extensions: None,
            extras: None,
            type_: Valid(kind),
            min,
            max,
            name: None,
            normalized: component == json::accessor::ComponentType::U16,
            sparse: None,
        })
    }

    fn vectors(&mut self, vectors: &[[f32; 3]], with_range: bool) -> json::Index<json::Accessor> {
        let start = self.buffer.len();
        let (mut min, mut max) = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
        for v in vectors {
            for k in 0..3 {
                min[k] = min[k].min(v[k]);
                max[k] = max[k].max(v[k]);
                self.buffer.extend_from_slice(&v[k].to_le_bytes());
            }
        }
        let view = self.view(start, Some(json::buffer::Target::ArrayBuffer));
        let range = with_range.then(|| (Value::from(min.to_vec()), Value::from(max.to_vec())));
        self.accessor(
            view,
            vectors.len(),
            json::accessor::ComponentType::F32,
            json::accessor::Type::Vec3,
            range,
        )
    }

    /// glTF multiplies with linear colours, so sRGB bytes are decoded into 16 bits.
    fn colors(&mut self, colors: &[[u8; 3]]) -> json::Index<json::Accessor> {
        let start = self.buffer.len();
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            // IEC 61966-2-1
            let l = if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
            (l * 65535.0).round() as u16
        };
        let table: Vec<u16> = (0..=255).map(linear).collect();
        for rgb in colors {
            for c in rgb {
                self.buffer.extend_from_slice(&table[usize::from(*c)].to_le_bytes());
            }
            self.buffer.extend_from_slice(&u16::MAX.to_le_bytes());
        }
        let view = self.view(start, Some(json::buffer::Target::ArrayBuffer));
        let u16_ = json::accessor::ComponentType::U16;
        self.accessor(view, colors.len(), u16_, json::accessor::Type::Vec4, None)
    }

    fn indices(&mut self, topology: &Topology) -> json::Index<json::Accessor> {
        let start = self.buffer.len();
        for v in topology.triangles().iter().flatten() {
            self.buffer.extend_from_slice(&v.to_le_bytes());
        }
        let view = self.view(start, Some(json::buffer::Target::ElementArrayBuffer));
        let count = 3 * topology.triangles().len();
        self.accessor(view, count, json::accessor::ComponentType::U32, json::accessor::Type::Scalar, None)
    }

    fn scalars(
        &mut self,
        numbers: impl Iterator<Item = f64>,
        with_range: bool,
    ) -> json::Index<json::Accessor> {
        let start = self.buffer.len();
        let (mut min, mut max, mut count) = (f32::INFINITY, f32::NEG_INFINITY, 0);
        for x in numbers.map(|x| x as f32) {
            (min, max, count) = (min.min(x), max.max(x), count + 1);
            self.buffer.extend_from_slice(&x.to_le_bytes());
        }
        let view = self.view(start, None);
        let range = with_range.then(|| (Value::from(vec![min]), Value::from(vec![max])));
        self.accessor(view, count, json::accessor::ComponentType::F32, json::accessor::Type::Scalar, range)
    }

    fn animation(&mut self, animation: &MorphAnimation, node: json::Index<json::Node>) {
        let input = self.scalars(animation.times_s.iter().copied(), true);
        let output = self.scalars(animation.weights.iter().flatten().copied(), false);
        self.root.push(json::Animation {
            extensions: None,
            extras: None,
            name: Some("movement".to_owned()),
            samplers: vec![json::animation::Sampler {
                extensions: None,
                extras: None,
                input,
                interpolation: Valid(json::animation::Interpolation::Linear),
                output,
            }],
            channels: vec![json::animation::Channel {
                sampler: json::Index::new(0),
                target: json::animation::Target {
                    extensions: None,
                    extras: None,
                    node,
                    path: Valid(json::animation::Property::MorphTargetWeights),
                },
                extensions: None,
                extras: None,
            }],
        });
    }

    fn finish(mut self) -> Result<Vec<u8>, CohortError> {
        self.buffer.resize(self.buffer.len().next_multiple_of(4), 0);
        self.root.asset.generator = Some(format!("formkin {}", env!("CARGO_PKG_VERSION")));
        self.root.push(json::Buffer {
            byte_length: self.buffer.len().into(),
            name: None,
            uri: None,
            extensions: None,
            extras: None,
        });
        let mut text =
            json::serialize::to_vec(&self.root).map_err(|e| SceneFault::Json { message: e.to_string() })?;
        text.resize(text.len().next_multiple_of(4), b' ');
        let total = 12 + 8 + text.len() + 8 + self.buffer.len();
        let length =
            |n: usize| u32::try_from(n).map(u32::to_le_bytes).map_err(|_| SceneFault::Length { bytes: n });
        let mut glb = Vec::with_capacity(total);
        glb.extend_from_slice(b"glTF");
        glb.extend_from_slice(&2u32.to_le_bytes());
        glb.extend_from_slice(&length(total)?);
        glb.extend_from_slice(&length(text.len())?);
        glb.extend_from_slice(b"JSON");
        glb.extend_from_slice(&text);
        glb.extend_from_slice(&length(self.buffer.len())?);
        glb.extend_from_slice(b"BIN\0");
        glb.extend_from_slice(&self.buffer);
        Ok(glb)
    }
}
