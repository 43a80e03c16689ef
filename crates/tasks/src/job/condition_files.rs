//! Comparisons of conditions, components of curves and the shared motion space -> the content of files.

use formkin_cohort::gltf::{MorphScene, morph_glb};
use formkin_geometry::{Point, Topology};
use formkin_motion::cycles::pooled::DimensionComponents;
use formkin_motion::shared::SharedMotion;
use formkin_motion::soft::compare::Comparison;
use serde_json::json;

use crate::TaskError;
use crate::job::conditions::Conditions;
use crate::job::formats::Made;
use crate::job::signals::csv_cell;
use formkin_table::parquet_table::{NumberColumn, TextColumn, parquet_table};

fn some(v: Option<f64>, digits: usize) -> String {
    v.map_or_else(String::new, |v| format!("{v:.digits$}"))
}

/// One row a measure: the reduction over people with its interval and the paired tests.
#[must_use]
pub fn conditions_csv(comparisons: &[Comparison]) -> String {
    let mut csv = String::from(
        "measure,people,reduction_percent,interval_low_percent,interval_high_percent,level,difference,t,p_t,p_signed_ranks,cautions\n",
    );
    for c in comparisons {
        let (low, high) = c.interval_percent.unzip();
        let test = c.test.as_ref();
        csv.push_str(&format!(
            "{},{},{:.3},{},{},{},{},{},{},{},{}\n",
            csv_cell(&c.measure),
            c.people,
            c.reduction_percent,
            some(low, 3),
            some(high, 3),
            c.level,
            some(test.map(|t| t.mean), 4),
            some(test.and_then(|t| t.t), 4),
            some(test.and_then(|t| t.p_t), 6),
            some(test.and_then(|t| t.p_signed_rank), 6),
            csv_cell(&c.cautions.join("; ")),
        ));
    }
    csv
}

/// One row a measure and person: both means, the reduction, and its interval over the person's cycles.
#[must_use]
pub fn persons_csv(comparisons: &[Comparison]) -> String {
    let mut csv = String::from(
        "measure,participant,reference,garment,reference_cycles,garment_cycles,reduction_percent,interval_low_percent,interval_high_percent,caution\n",
    );
    for c in comparisons {
        for p in &c.persons {
            let (low, high) = p.interval_percent.unzip();
            csv.push_str(&format!(
                "{},{},{:.4},{:.4},{},{},{:.3},{},{},{}\n",
                csv_cell(&c.measure),
                csv_cell(&p.participant),
                p.reference,
                p.garment,
                p.cycles.0,
                p.cycles.1,
                p.reduction_percent,
                some(low, 3),
                some(high, 3),
                csv_cell(p.caution.as_deref().unwrap_or("")),
            ));
        }
    }
    csv
}

/// The files of a comparison; `body` is the surface that the map is drawn on.
///
/// # Errors
/// Counts that do not fit.
pub fn condition_files(
    conditions: &Conditions,
    body: Option<(&Topology, &[Point])>,
) -> Result<Vec<Made>, TaskError> {
    let mut files = Vec::new();
    let mut add = |name: &str, what, bytes: Vec<u8>| files.push(Made { name: name.to_owned(), what, bytes });
    if !conditions.comparisons.is_empty() {
        let text = conditions_csv(&conditions.comparisons);
        add(
            "conditions.csv",
            "Conditions compared: reduction with interval and tests over people",
            text.into_bytes(),
        );
        let text = persons_csv(&conditions.comparisons);
        add("conditions-people.csv", "Conditions compared, person by person", text.into_bytes());
    }
    if conditions.reduction_mm.is_empty() {
        return Ok(files);
    }
    let mut csv = String::from("vertex,reference_mm,reduction_mm,reduction_percent\n");
    for (v, (r, d)) in conditions.reference_mm.iter().zip(&conditions.reduction_mm).enumerate() {
        // under a tenth of a millimetre of movement a share says nothing
        let share = (*r > 0.1).then(|| 100.0 * d / r);
        csv.push_str(&format!("{v},{r:.4},{d:.4},{}\n", some(share, 2)));
    }
    let what = "How much less every vertex moves vertically in the body frame with the garment";
    add("reduction-map.csv", what, csv.into_bytes());
    if let Some((topology, pose)) = body {
        let most = full(&conditions.reduction_mm);
        let floor = pose.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        let base: Vec<Point> = pose.iter().map(|p| [p[0], p[1], p[2] - floor]).collect();
        let scene = MorphScene {
            name: "reduction of vertical movement".into(),
            topology,
            base: &base,
            targets: Vec::new(),
            colors: Some(conditions.reduction_mm.iter().map(|d| diverging(d / most)).collect()),
            animation: None,
            extras: json!({
                "blue_is_less_movement_mm": most, "red_is_more_movement_mm": most, "people": conditions.map_people,
            }),
        };
        let what = "The map of the reduction as vertex colours, glTF";
        add("reduction-map.glb", what, morph_glb(&scene)?);
    }
    Ok(files)
}

/// What the ends of the map's colours stand for, in mm: the 99th percentile of the sizes.
#[must_use]
pub fn full(values: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = values.iter().map(|v| v.abs()).filter(|v| v.is_finite()).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.get(sizes.len() * 99 / 100).copied().unwrap_or(0.0).max(1e-6)
}

/// Red for -1 over pale grey to blue for 1.
fn diverging(part: f64) -> [u8; 3] {
    const ENDS: [[f64; 3]; 3] = [[178.0, 58.0, 46.0], [238.0, 238.0, 234.0], [28.0, 92.0, 142.0]];
    let place = part.clamp(-1.0, 1.0) + 1.0;
    let i = (place as usize).min(1);
    let u = place - i as f64;
    std::array::from_fn(|c| (ENDS[i][c] + u * (ENDS[i + 1][c] - ENDS[i][c])).round() as u8)
}

/// The components of curves: mean and functions over the cycle, and the scores of every cycle.
#[must_use]
pub fn component_files(components: &[DimensionComponents]) -> Vec<Made> {
    if components.is_empty() {
        return Vec::new();
    }
    let mut functions = String::from("dimension,unit,component,variance,share,percent,mean,function\n");
    let mut scores = String::from("dimension,participant,capture,cycle,component,score\n");
    for d in components {
        let c = &d.components;
        let last = (c.mean.len() - 1).max(1) as f64;
        for (k, (function, variance)) in c.functions.iter().zip(&c.variances).enumerate() {
            let share = variance / c.total_variance;
            for (p, (m, f)) in c.mean.iter().zip(function).enumerate() {
                functions.push_str(&format!(
                    "{},{},{},{variance:.6},{share:.6},{:.3},{m:.5},{f:.6}\n",
                    csv_cell(&d.dimension),
                    csv_cell(&d.unit),
                    k + 1,
                    100.0 * p as f64 / last,
                ));
            }
        }
        for (of, row) in d.curves.iter().zip(&c.scores) {
            for (k, score) in row.iter().enumerate() {
                scores.push_str(&format!(
                    "{},{},{},{},{},{score:.6}\n",
                    csv_cell(&d.dimension),
                    csv_cell(&of.participant),
                    csv_cell(&of.capture),
                    of.cycle,
                    k + 1,
                ));
            }
        }
    }
    let made =
        |name: &str, what, text: String| Made { name: name.to_owned(), what, bytes: text.into_bytes() };
    vec![
        made(
            "components.csv",
            "Functional components of curves over the cycle: mean and functions",
            functions,
        ),
        made("component-scores.csv", "Scores of every cycle on the functional components", scores),
    ]
}

/// The shared motion space: the courses as Parquet, its pose and modes as NPY.
///
/// # Errors
/// [`TaskError::Table`].
pub fn shared_files(shared: &SharedMotion) -> Result<Vec<Made>, TaskError> {
    let (mut participants, mut captures) = (Vec::new(), Vec::new());
    let (mut frames, mut times) = (Vec::new(), Vec::new());
    let mut columns: Vec<Vec<f64>> = vec![Vec::new(); shared.modes.len()];
    for c in &shared.courses {
        for ((frame, time), row) in c.frames.iter().zip(&c.times_s).zip(&c.coefficients) {
            participants.push(c.participant.as_str());
            captures.push(c.capture.as_str());
            frames.push(*frame as f64);
            times.push(*time);
            for (column, value) in columns.iter_mut().zip(row) {
                column.push(*value);
            }
        }
    }
    let texts = [
        TextColumn { name: "participant", values: participants },
        TextColumn { name: "capture", values: captures },
    ];
    let mut numbers = vec![
        NumberColumn { name: "frame".to_owned(), values: frames },
        NumberColumn { name: "time_s".to_owned(), values: times },
    ];
    for (k, values) in columns.into_iter().enumerate() {
        numbers.push(NumberColumn { name: format!("mode_{:03}_mm", k + 1), values });
    }
    let metadata = [
        (
            "decode",
            "shape = m[0] + sum_k mode_k_mm * m[k], in mm, m the array of motion/motion-space.npy: the pose, then the modes".to_owned(),
        ),
        ("people", shared.people.to_string()),
        ("captures", shared.captures.to_string()),
        ("unit", "mm".to_owned()),
    ];
    let mut arrays: Vec<f32> = shared.base.iter().flatten().map(|&x| x as f32).collect();
    arrays.extend(shared.modes.iter().flatten().flatten().map(|&x| x as f32));
    Ok(vec![
        Made {
            name: "motion-space.parquet".into(),
            what: "All movements as courses in one motion space, with how to decode them",
            bytes: parquet_table(&texts, &numbers, &metadata)?,
        },
        Made {
            name: "motion/motion-space.npy".into(),
            what: "The pose and the modes of the motion space: [1 + modes, vertices, 3], f32, mm",
            bytes: npy(&[1 + shared.modes.len(), shared.base.len(), 3], &arrays),
        },
    ])
}

/// An array of f32 in NumPy's format 1.0.
pub(super) fn npy(shape: &[usize], values: &[f32]) -> Vec<u8> {
    let shape: Vec<String> = shape.iter().map(usize::to_string).collect();
    let mut head = format!("{{'descr': '<f4', 'fortran_order': False, 'shape': ({}), }}", shape.join(", "));
    // the head ends with a line feed at a multiple of 64 bytes
    while !(10 + head.len() + 1).is_multiple_of(64) {
        head.push(' ');
    }
    head.push('\n');
    let mut bytes = b"\x93NUMPY\x01\x00".to_vec();
    bytes.extend_from_slice(&(head.len() as u16).to_le_bytes());
    bytes.extend_from_slice(head.as_bytes());
    bytes.extend(values.iter().flat_map(|v| v.to_le_bytes()));
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_run_from_red_over_grey_to_blue() {
        assert_eq!(diverging(-2.0), [178, 58, 46]);
        assert_eq!(diverging(0.0), [238, 238, 234]);
        assert_eq!(diverging(1.0), [28, 92, 142]);
    }

    #[test]
    fn an_array_has_a_head_of_64_bytes() {
        let bytes = npy(&[2, 1, 3], &[0.0; 6]);
        assert_eq!(bytes.len(), 128 + 24);
        assert_eq!(bytes[127], b'\n');
    }
}
