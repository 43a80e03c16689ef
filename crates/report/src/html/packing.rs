//! The bodies of the page's 3-D views: positions and displacements as 16-bit integers, triangles as indices, all in base64
//! inside JSON.
//!
//! A coordinate of the mean is `offset + scale * (q + 32768)` mm on each axis: for a body of 2 m the step is 0.03 mm and the
//! error at most half of it. A displacement is `scale * q` mm, with one scale a mode, and far finer.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use formkin_geometry::Point;
use serde::Serialize;

use crate::document::view::{PlayedPoints, SkinLine};

/// Half the range of a 16-bit integer.
const HALF: f64 = 32768.0;

/// Triangles, as little-endian unsigned integers of `bits` bits, three a triangle.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Triangles {
    pub(super) bits: u8,
    pub(super) count: usize,
    pub(super) data: String,
}

/// Positions of the mean: x, y, z of each vertex as little-endian 16-bit integers.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Positions {
    pub(super) vertices: usize,
    pub(super) offset_mm: [f64; 3],
    pub(super) scale_mm: [f64; 3],
    pub(super) data: String,
}

/// What one standard deviation of a mode does to each vertex, as little-endian 16-bit integers.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Displacements {
    pub(super) scale_mm: f64,
    /// The standard deviation of the coefficient: the root mean square of the displacements, in mm.
    pub(super) sd_mm: f64,
    /// Share of all variance, 0 to 1.
    pub(super) share: f64,
    pub(super) data: String,
}

/// One 3-D view: a mean and its modes.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Body {
    /// Which triangles it is on.
    pub(super) surface: String,
    pub(super) positions: Positions,
    pub(super) modes: Vec<Displacements>,
    /// Coefficients through time, for a movement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) playback: Option<Playback>,
    /// Strain of some frames, for a movement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) strain: Option<Strain>,
    /// Lines of non-extension, for a movement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) lines: Option<Lines>,
    /// A signed result at every vertex.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) paint: Option<Paint>,
}

/// A signed result at every vertex, one byte each: 127 stands for `full_mm` and more.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Paint {
    pub(super) full_mm: f64,
    pub(super) data: String,
}

/// Packs a signed result; what is no finding is 0 already.
pub(super) fn paint(values: &[f64]) -> Paint {
    let mut sizes: Vec<f64> = values.iter().map(|x| x.abs()).filter(|x| x.is_finite() && *x > 0.0).collect();
    sizes.sort_by(f64::total_cmp);
    // the crown and the soles move far: without them the rest has colours to itself
    let full_mm = sizes.get(sizes.len() * 98 / 100).copied().unwrap_or(0.0).max(1e-9);
    let bytes: Vec<u8> = values
        .iter()
        .map(|x| ((127.0 * x / full_mm).round().clamp(-127.0, 127.0) as i8).to_le_bytes()[0])
        .collect();
    Paint { full_mm, data: STANDARD.encode(bytes) }
}

/// Strain at the vertices of some frames, one byte each.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Strain {
    /// The frames, from 0, ascending.
    pub(super) frames: Vec<usize>,
    /// What 255 stands for, in %.
    pub(super) full_percent: f64,
    pub(super) data: String,
}

/// Packs strain (stretch less 1): 0 and below is 0, the 99th percentile of the most strained frame and above is 255.
pub(super) fn strain(frames: &[(usize, Vec<f64>)]) -> Option<Strain> {
    let mut full: f64 = 0.0;
    for (_, values) in frames {
        let mut sorted = values.clone();
        sorted.sort_by(f64::total_cmp);
        full = full.max(sorted.get(sorted.len() * 99 / 100).copied().unwrap_or(0.0));
    }
    // whole per cents read well at the end of the ramp
    let full = (100.0 * full).ceil().max(1.0) / 100.0;
    let bytes: Vec<u8> = frames
        .iter()
        .flat_map(|(_, v)| v.iter().map(move |x| (255.0 * (x / full).clamp(0.0, 1.0)).round() as u8))
        .collect();
    (!frames.is_empty()).then(|| Strain {
        frames: frames.iter().map(|f| f.0).collect(),
        full_percent: (100.0 * full).round(),
        data: STANDARD.encode(bytes),
    })
}

/// Most places with lines of non-extension on a body.
const LINES: usize = 1500;

/// Lines of non-extension: material directions on triangles.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Lines {
    pub(super) count: usize,
    /// The triangles, little-endian u32.
    pub(super) triangles: String,
    /// Four little-endian f32 a triangle: two directions of 1 mm in its two edges.
    pub(super) directions: String,
}

/// Packs lines of non-extension, the most stretched places first; those on triangles that are not there are left out.
pub(super) fn lines(lines: &[SkinLine], triangles: usize) -> Option<Lines> {
    let kept: Vec<&SkinLine> = lines.iter().filter(|l| l.triangle < triangles).take(LINES).collect();
    let numbers: Vec<u8> = kept.iter().flat_map(|l| (l.triangle as u32).to_le_bytes()).collect();
    (!kept.is_empty()).then(|| Lines {
        count: kept.len(),
        triangles: STANDARD.encode(numbers),
        directions: floats(kept.iter().flat_map(|l| l.directions).flatten()),
    })
}

/// Coefficients through time.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Playback {
    pub(super) frames: usize,
    /// Times in seconds, little-endian f32.
    pub(super) times_s: String,
    /// Coefficients in standard deviations, frame by frame, one a mode, little-endian f32.
    pub(super) coefficients: String,
}

/// Triangles as the page carries them.
pub(super) fn triangles(vertices: usize, triangles: &[[u32; 3]]) -> Triangles {
    let flat = triangles.iter().flatten();
    let (bits, bytes): (u8, Vec<u8>) = if vertices <= 1 << 16 {
        (16, flat.flat_map(|&v| (v as u16).to_le_bytes()).collect())
    } else {
        (32, flat.flat_map(|&v| v.to_le_bytes()).collect())
    };
    Triangles { bits, count: triangles.len(), data: STANDARD.encode(bytes) }
}

/// Positions as the page carries them. Coordinates that are not finite become the lowest corner of the box.
pub(super) fn positions(points: &[Point]) -> Positions {
    let (low, high) = formkin_geometry::mesh::bounds(points).unwrap_or(([0.0; 3], [1.0; 3]));
    let scale_mm = [0, 1, 2].map(|k| ((high[k] - low[k]) / (2.0 * HALF - 1.0)).max(1e-9));
    let mut bytes = Vec::with_capacity(points.len() * 6);
    for p in points {
        for k in 0..3 {
            // a cast of NaN gives 0
            let q = ((p[k] - low[k]) / scale_mm[k] - HALF).round() as i16;
            bytes.extend_from_slice(&q.to_le_bytes());
        }
    }
    Positions { vertices: points.len(), offset_mm: low, scale_mm, data: STANDARD.encode(bytes) }
}

/// A mode as the page carries it: its directions times the standard deviation of its coefficient.
pub(super) fn displacements(mode: &[Point], variance_mm2: f64, share: f64) -> Displacements {
    let sd_mm = variance_mm2.max(0.0).sqrt();
    let largest =
        mode.iter().flatten().map(|d| (d * sd_mm).abs()).filter(|d| d.is_finite()).fold(0.0, f64::max);
    let scale_mm = (largest / (HALF - 1.0)).max(1e-9);
    let bytes: Vec<u8> =
        mode.iter().flatten().flat_map(|d| ((d * sd_mm / scale_mm).round() as i16).to_le_bytes()).collect();
    Displacements { scale_mm, sd_mm, share, data: STANDARD.encode(bytes) }
}

/// Numbers as little-endian f32 in base64.
pub(super) fn floats(values: impl IntoIterator<Item = f64>) -> String {
    let bytes: Vec<u8> = values.into_iter().flat_map(|v| (v as f32).to_le_bytes()).collect();
    STANDARD.encode(bytes)
}

/// The points of a view as the page carries them: 16-bit integers, the lowest one for a place that was not seen.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Points<'a> {
    pub(super) frames: usize,
    pub(super) names: &'a [String],
    pub(super) links: &'a [[usize; 2]],
    pub(super) times_s: String,
    pub(super) offset_mm: [f64; 3],
    pub(super) scale_mm: [f64; 3],
    pub(super) positions: String,
}

/// Packs points played back; `None` where nothing was seen. Every row has a place for every name.
pub(super) fn points(view: &PlayedPoints) -> Option<Points<'_>> {
    let seen: Vec<Point> = view.positions_mm.iter().flatten().filter_map(|p| *p).collect();
    let (low, high) = formkin_geometry::mesh::bounds(&seen)?;
    let scale_mm = [0, 1, 2].map(|k| ((high[k] - low[k]) / 65534.0).max(1e-6));
    let mut bytes = Vec::with_capacity(6 * view.names.len() * view.times_s.len());
    for at in view.positions_mm.iter().flatten() {
        for axis in 0..3 {
            let steps = |p: Point| ((p[axis] - low[axis]) / scale_mm[axis] - 32767.0).round() as i16;
            bytes.extend_from_slice(&at.map_or(i16::MIN, steps).to_le_bytes());
        }
    }
    Some(Points {
        frames: view.times_s.len(),
        names: &view.names,
        links: &view.links,
        times_s: floats(view.times_s.iter().copied()),
        offset_mm: low,
        scale_mm,
        positions: STANDARD.encode(bytes),
    })
}

/// JSON that can stand inside a `<script>` element: no `<` is left in it, so no text can close the element.
pub(super) fn script_json<T: Serialize>(value: &T) -> Result<String, serde_json::Error> {
    Ok(serde_json::to_string(value)?.replace('<', "\\u003c"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn integers(data: &str) -> Vec<i16> {
        let bytes = STANDARD.decode(data).unwrap();
        bytes.chunks(2).map(|b| i16::from_le_bytes([b[0], b[1]])).collect()
    }

    /// An ellipsoid as tall as a person.
    fn ellipsoid() -> Vec<Point> {
        (0..5000)
            .map(|i| {
                let (u, v) = (f64::from(i) * 0.61, f64::from(i) / 5000.0 * 2.0 - 1.0);
                let r = (1.0 - v * v).sqrt();
                [300.0 * r * u.cos(), 200.0 * r * u.sin(), 950.0 + 950.0 * v]
            })
            .collect()
    }

    #[test]
    fn positions_come_back_within_a_twentieth_of_a_millimetre() {
        let body = ellipsoid();
        let sent = positions(&body);
        let back = integers(&sent.data);
        assert_eq!(back.len(), 3 * body.len());
        for (i, q) in back.iter().enumerate() {
            let k = i % 3;
            let x = sent.offset_mm[k] + sent.scale_mm[k] * (f64::from(*q) + HALF);
            assert!((x - body[i / 3][k]).abs() <= 0.05, "{x} for {}", body[i / 3][k]);
        }
    }

    #[test]
    fn three_standard_deviations_come_back_within_a_twentieth_of_a_millimetre() {
        let mode: Vec<Point> =
            ellipsoid().iter().map(|p| [p[0] / 300.0, 0.0, (p[2] - 950.0) / 700.0]).collect();
        let sent = displacements(&mode, 70.0 * 70.0, 0.6);
        assert_eq!(sent.sd_mm, 70.0);
        for (i, q) in integers(&sent.data).iter().enumerate() {
            let moved = 3.0 * sent.scale_mm * f64::from(*q);
            assert!((moved - 3.0 * 70.0 * mode[i / 3][i % 3]).abs() <= 0.05);
        }
    }

    #[test]
    fn a_flat_body_a_mode_of_nothing_and_a_broken_vertex_are_carried() {
        let flat = positions(&[[1.0, 2.0, 3.0], [f64::NAN, 2.0, 3.0]]);
        assert_eq!(integers(&flat.data).len(), 6);
        assert!(integers(&displacements(&[[0.0; 3]; 2], 0.0, 0.0).data).iter().all(|&q| q == 0));
    }

    #[test]
    fn triangles_take_16_bits_where_that_is_enough() {
        assert_eq!(triangles(3, &[[0, 1, 2]]).bits, 16);
        let many = triangles(70_000, &[[0, 1, 69_999]]);
        assert_eq!((many.bits, STANDARD.decode(many.data).unwrap().len()), (32, 12));
    }

    #[test]
    fn json_cannot_close_its_script() {
        let text = script_json(&"</script><!--").unwrap();
        assert!(!text.contains('<'));
        assert_eq!(serde_json::from_str::<String>(&text).unwrap(), "</script><!--");
    }
}
