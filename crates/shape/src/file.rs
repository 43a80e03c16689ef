//! The space as safetensors bytes.
//!
//! Arrays: `mean` (f32, V x 3), `modes` (f32, K x V x 3), `variances` (f64, all that are not zero), `weights` (f64, V), `triangles` (u32, T x 3). Metadata: text
//! entries in alphabetical order, so that the same space is the same bytes.

use std::collections::BTreeMap;

use formkin_align::AlignParams;
use formkin_geometry::{Point, Topology};
use safetensors::{Dtype, SafeTensors};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use crate::format::{FORMAT, FORMULA, VERSION};
use crate::{CrossValidation, DimensionMoments, ShapeError, Space};

impl Space {
    /// The space as the bytes of a safetensors file. The same space gives the same bytes.
    #[must_use]
    pub fn to_safetensors(&self) -> Vec<u8> {
        let (v, k, t) = (self.mean.len(), self.modes.len(), self.triangles.len());
        // arrays in this order, those of eight bytes first, so that all are aligned
        let arrays: [(&str, &str, Vec<usize>, usize); 5] = [
            ("variances", "F64", vec![self.variances_mm2.len()], 8 * self.variances_mm2.len()),
            ("weights", "F64", vec![v], 8 * v),
            ("mean", "F32", vec![v, 3], 12 * v),
            ("modes", "F32", vec![k, v, 3], 12 * k * v),
            ("triangles", "U32", vec![t, 3], 12 * t),
        ];
        let mut header = serde_json::Map::new();
        header.insert("__metadata__".to_owned(), json!(self.metadata()));
        let mut end = 0;
        for (name, kind, shape, bytes) in arrays {
            header.insert(
                name.to_owned(),
                json!({ "dtype": kind, "shape": shape, "data_offsets": [end, end + bytes] }),
            );
            end += bytes;
        }
        let mut text = Value::Object(header).to_string().into_bytes();
        text.resize(text.len().next_multiple_of(8), b' ');
        let mut out = Vec::with_capacity(8 + text.len() + end);
        out.extend((text.len() as u64).to_le_bytes());
        out.extend(text);
        for x in self.variances_mm2.iter().chain(&self.weights) {
            out.extend(x.to_le_bytes());
        }
        for x in self.mean.as_flattened().iter().chain(self.modes.iter().flat_map(|m| m.as_flattened())) {
            out.extend((*x as f32).to_le_bytes());
        }
        for x in self.triangles.as_flattened() {
            out.extend(x.to_le_bytes());
        }
        out
    }

    fn metadata(&self) -> BTreeMap<&'static str, String> {
        let mut entries = BTreeMap::from([
            ("format", FORMAT.to_owned()),
            ("format_version", self.version.to_string()),
            ("formula", FORMULA.to_owned()),
            ("unit", "mm".to_owned()),
            ("axes", "z up".to_owned()),
            ("people", self.people.to_string()),
            ("items", self.items.to_string()),
            ("weighting", self.weighting.clone()),
            ("align", json!(self.align).to_string()),
            ("template_hash", self.template_hash.clone()),
            ("seed", self.seed.to_string()),
            ("total_variance_mm2", json!(self.total_variance_mm2).to_string()),
        ]);
        if let Some(found) = &self.cross_validation {
            entries.insert("cross_validation", json!(found).to_string());
        }
        if let Some(reason) = &self.cross_validation_refused {
            entries.insert("cross_validation_refused", reason.clone());
        }
        if let Some(found) = &self.criteria {
            entries.insert("criteria", json!(found).to_string());
        }
        if let Some(found) = &self.quality {
            entries.insert("quality", json!(found).to_string());
        }
        if let Some(found) = &self.regression {
            entries.insert("regression", json!(found).to_string());
        }
        if let Some(text) = &self.measuring {
            entries.insert("measuring", text.clone());
        }
        entries
    }

    /// Reads a space from the bytes of a safetensors file. Whatever the bytes, the result is a space that holds together or an error.
    ///
    /// # Errors
    /// [`ShapeError::NotSafetensors`], [`ShapeError::NotASpace`], [`ShapeError::NewerVersion`], [`ShapeError::MissingArray`], [`ShapeError::WrongArray`],
    /// [`ShapeError::BadValue`], [`ShapeError::Metadata`].
    pub fn from_safetensors(bytes: &[u8]) -> Result<Self, ShapeError> {
        let no = |e: safetensors::SafeTensorError| ShapeError::NotSafetensors { reason: e.to_string() };
        let (_, header) = SafeTensors::read_metadata(bytes).map_err(no)?;
        let entries: BTreeMap<&str, &str> =
            header.metadata().iter().flatten().map(|(k, v)| (k.as_str(), v.as_str())).collect();
        if entries.get("format") != Some(&FORMAT) {
            return Err(ShapeError::NotASpace);
        }
        let version: u64 = entry(&entries, "format_version")?;
        if version > VERSION {
            return Err(ShapeError::NewerVersion { found: version, known: VERSION });
        }
        let tensors = SafeTensors::deserialize(bytes).map_err(no)?;

        let (data, shape) = array(&tensors, "mean", Dtype::F32, &[None, Some(3)])?;
        let vertices = shape[0];
        let mean = points("mean", data)?;
        let (data, shape) = array(&tensors, "modes", Dtype::F32, &[None, Some(vertices), Some(3)])?;
        let kept = shape[0];
        let modes = if vertices == 0 {
            Vec::new()
        } else {
            points("modes", data)?.chunks(vertices).map(<[Point]>::to_vec).collect()
        };
        let variances_mm2 = doubles("variances", array(&tensors, "variances", Dtype::F64, &[None])?.0)?;
        let weights = doubles("weights", array(&tensors, "weights", Dtype::F64, &[Some(vertices)])?.0)?;
        let triangles = corners(array(&tensors, "triangles", Dtype::U32, &[None, Some(3)])?.0);

        let bad = |array, reason: String| Err(ShapeError::BadValue { array, reason });
        let topology = match Topology::new(vertices, triangles) {
            Ok(topology) => topology,
            Err(e) => return bad("triangles", e.to_string()),
        };
        if kept > variances_mm2.len() {
            return bad("variances", format!("{kept} modes, and only {} variances", variances_mm2.len()));
        }
        if variances_mm2.iter().any(|v| *v <= 0.0) || variances_mm2.windows(2).any(|w| w[0] < w[1]) {
            return bad("variances", "they must be more than 0 and fall".to_owned());
        }
        let sum: f64 = weights.iter().sum();
        if weights.iter().any(|w| *w < 0.0) || (sum - 1.0).abs() > 1e-6 {
            return bad("weights", format!("they must be 0 or more and sum to 1; they sum to {sum}"));
        }
        let template_hash = text(&entries, "template_hash")?;
        if template_hash != topology.hash() {
            return bad(
                "triangles",
                format!("their hash is {}, and the metadata say {template_hash}", topology.hash()),
            );
        }
        let align: AlignParams = entry(&entries, "align")?;
        let cross_validation: Option<CrossValidation> = optional(&entries, "cross_validation")?;
        let regression = regression(&entries, kept)?;
        Ok(Self {
            mean,
            modes,
            total_variance_mm2: variances_mm2.iter().sum(),
            variances_mm2,
            weights,
            triangles: topology.triangles().to_vec(),
            people: entry(&entries, "people")?,
            items: entry(&entries, "items")?,
            removes: align.removes,
            weighting: text(&entries, "weighting")?,
            align,
            cross_validation,
            cross_validation_refused: entries.get("cross_validation_refused").map(|s| (*s).to_owned()),
            criteria: optional(&entries, "criteria")?,
            quality: optional(&entries, "quality")?,
            regression,
            measuring: entries.get("measuring").map(|s| (*s).to_owned()),
            template_hash,
            seed: entry(&entries, "seed")?,
            version,
        })
    }
}

fn text(entries: &BTreeMap<&str, &str>, key: &'static str) -> Result<String, ShapeError> {
    let missing = || ShapeError::Metadata { key, reason: "it is missing".to_owned() };
    entries.get(key).map(|s| (*s).to_owned()).ok_or_else(missing)
}

fn entry<T: DeserializeOwned>(entries: &BTreeMap<&str, &str>, key: &'static str) -> Result<T, ShapeError> {
    serde_json::from_str(&text(entries, key)?)
        .map_err(|e| ShapeError::Metadata { key, reason: e.to_string() })
}

fn optional<T: DeserializeOwned>(
    entries: &BTreeMap<&str, &str>,
    key: &'static str,
) -> Result<Option<T>, ShapeError> {
    if entries.contains_key(key) { entry(entries, key).map(Some) } else { Ok(None) }
}

/// The moments of dimensions and coefficients, which go with at most `kept` modes.
fn regression(entries: &BTreeMap<&str, &str>, kept: usize) -> Result<Option<DimensionMoments>, ShapeError> {
    let regression: Option<DimensionMoments> = optional(entries, "regression")?;
    if let Some(found) = &regression {
        let reason = |reason| ShapeError::Metadata { key: "regression", reason };
        found.check().map_err(reason)?;
        if found.coefficient_means_mm.len() > kept {
            let coefficients = found.coefficient_means_mm.len();
            return Err(reason(format!("{coefficients} coefficients, and only {kept} modes")));
        }
    }
    Ok(regression)
}

/// The bytes of an array and its shape, checked: `None` stands for any size.
fn array<'a>(
    tensors: &SafeTensors<'a>,
    name: &'static str,
    kind: Dtype,
    shape: &[Option<usize>],
) -> Result<(&'a [u8], Vec<usize>), ShapeError> {
    let Ok(found) = tensors.tensor(name) else { return Err(ShapeError::MissingArray { array: name }) };
    let fits = found.dtype() == kind
        && found.shape().len() == shape.len()
        && found.shape().iter().zip(shape).all(|(have, want)| want.is_none_or(|w| w == *have));
    if !fits {
        let sizes: Vec<String> =
            shape.iter().map(|s| s.map_or_else(|| "any".to_owned(), |n| n.to_string())).collect();
        return Err(ShapeError::WrongArray {
            array: name,
            expected: format!("{kind:?} [{}]", sizes.join(", ")),
            found: format!("{:?} {:?}", found.dtype(), found.shape()),
        });
    }
    Ok((found.data(), found.shape().to_vec()))
}

fn corners(data: &[u8]) -> Vec<[u32; 3]> {
    data.chunks_exact(12)
        .map(|t| {
            std::array::from_fn(|k| u32::from_le_bytes([t[4 * k], t[4 * k + 1], t[4 * k + 2], t[4 * k + 3]]))
        })
        .collect()
}

fn points(array: &'static str, data: &[u8]) -> Result<Vec<Point>, ShapeError> {
    let out: Vec<Point> = data
        .chunks_exact(12)
        .map(|p| {
            std::array::from_fn(|k| {
                f64::from(f32::from_le_bytes([p[4 * k], p[4 * k + 1], p[4 * k + 2], p[4 * k + 3]]))
            })
        })
        .collect();
    if out.as_flattened().iter().any(|x| !x.is_finite()) {
        return Err(ShapeError::BadValue { array, reason: "it holds a value that is not finite".to_owned() });
    }
    Ok(out)
}

fn doubles(array: &'static str, data: &[u8]) -> Result<Vec<f64>, ShapeError> {
    let out: Vec<f64> = data
        .chunks_exact(8)
        .map(|b| f64::from_le_bytes([b[0], b[1], b[2], b[3], b[4], b[5], b[6], b[7]]))
        .collect();
    if out.iter().any(|x| !x.is_finite()) {
        return Err(ShapeError::BadValue { array, reason: "it holds a value that is not finite".to_owned() });
    }
    Ok(out)
}
