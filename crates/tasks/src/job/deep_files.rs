//! Results of a deepened movement -> the content of files.

use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_geometry::{Point, Topology};
use formkin_motion::StrainMap;
use formkin_motion::changes::{allowance_csv, people_csv};
use serde_json::{Value, json};

use crate::TaskError;
use crate::job::condition_files::{component_files, condition_files, npy, shared_files};
use crate::job::curve_files::{changes_csv, curve_files};
use crate::job::deep::Deep;
use crate::job::formats::Made;
use crate::job::movement::MovementOutcome;
use crate::job::point_files::{components_summary, track_files};
use crate::job::together::Together;

/// The files of a movement's cycles, tissue, strain and posture.
///
/// # Errors
/// Counts that do not fit.
pub fn deep_outputs(topology: &Topology, movement: &MovementOutcome) -> Result<Vec<Made>, TaskError> {
    let deep = &movement.deep;
    let mut files = curve_files(deep);
    if let Some((laboratory, body)) = &deep.landmarks {
        files.extend(track_files("landmarks", laboratory, body.as_ref()));
    }
    let mut add = |name: &str, what, bytes: Vec<u8>| files.push(Made { name: name.to_owned(), what, bytes });
    if let Some(held) = &deep.cycles_left_out {
        let mut csv = String::from("modes,rms_mm,se_mm\n");
        for e in &held.errors {
            csv.push_str(&format!("{},{:.5},{:.5}\n", e.modes, e.rms_mm, e.se_mm));
        }
        add("mode-errors.csv", "Error of cycles left out over the number of modes", csv.into_bytes());
    }
    if let Some(strain) = &deep.strain {
        add(
            "strain-regions.csv",
            "Apparent surface strain of regions through time",
            regions_csv(strain, &movement.motion.times_s).into_bytes(),
        );
        add(
            "strain.glb",
            "Peak apparent surface strain as vertex colours",
            strain_glb(topology, movement, strain)?,
        );
    }
    if let Some(posture) = &deep.posture {
        let text = posture.posture.angles_csv(&movement.motion.times_s);
        add("angles.csv", "Joint turns through time", text.into_bytes());
        if !posture.unposed_mm.is_empty() {
            let shape = [posture.posture.frames.len(), topology.vertices(), 3];
            let bytes = npy(&shape, &posture.unposed_mm);
            add(
                "unposed.npy",
                "Every frame in the stance of the template: [frames, vertices, 3], f32, mm",
                bytes,
            );
        }
    }
    Ok(files)
}

/// The files of all movements together; `body` is the surface that maps are drawn on.
///
/// # Errors
/// Counts that do not fit.
pub fn together_outputs(
    together: &Together,
    body: Option<(&Topology, &[Point])>,
) -> Result<Vec<Made>, TaskError> {
    let mut files = Vec::new();
    let mut add = |name: &str, what, text: String| {
        files.push(Made { name: name.to_owned(), what, bytes: text.into_bytes() });
    };
    if !together.changes.is_empty() {
        add(
            "motion-changes.csv",
            "Dimensions through movements, the largest range first",
            changes_csv(&together.changes),
        );
    }
    if !together.allowances.is_empty() {
        add(
            "dynamic-allowance.csv",
            "The greatest change of each dimension over people",
            allowance_csv(&together.allowances),
        );
        add(
            "dynamic-people.csv",
            "The greatest changes of every person, one row a person",
            people_csv(&together.allowances),
        );
    }
    if let Some(shared) = &together.shared {
        add("motion-space.csv", "All movements as courses in one motion space", shared.courses_csv());
        if let Some(held) = &shared.left_out {
            let rows = held.rms_mm.iter().enumerate().map(|(k, rms)| format!("{k},{rms:.5},{}\n", held.by));
            let csv = String::from("modes,rms_mm,left_out\n") + &rows.collect::<String>();
            add(
                "motion-space-errors.csv",
                "Error of people or captures left out over the number of modes",
                csv,
            );
        }
        files.extend(shared_files(shared)?);
    }
    files.extend(component_files(&together.components));
    if let Some(conditions) = &together.conditions {
        files.extend(condition_files(conditions, body)?);
    }
    Ok(files)
}

/// The dynamic allowances of a study's movements as the table that a size plan takes.
///
/// # Errors
/// [`TaskError::Nothing`] where no dimension was followed through a movement.
pub fn allowance_table(together: &Together) -> Result<formkin_table::Table, TaskError> {
    if together.allowances.is_empty() {
        return Err(TaskError::Nothing {
            what: "[sizing] allowances = \"movements\", and no dimension was followed through a movement"
                .into(),
            advice: "name the control dimensions in [motion] dimensions, or give a table of allowances"
                .into(),
        });
    }
    Ok(formkin_table::Table::parse_csv(&allowance_csv(&together.allowances), "dynamic-allowance.csv", None)?)
}

fn regions_csv(strain: &StrainMap, times_s: &[f64]) -> String {
    let mut csv = String::from("frame,time_s");
    for r in &strain.regions {
        csv.push_str(&format!(",{0}_largest,{0}_smallest,{0}_area", r.region));
    }
    csv.push('\n');
    for (k, time) in times_s.iter().enumerate().take(strain.frames) {
        csv.push_str(&format!("{k},{time}"));
        for r in &strain.regions {
            csv.push_str(&format!(",{:.5},{:.5},{:.5}", r.largest[k], r.smallest[k], r.area[k]));
        }
        csv.push('\n');
    }
    csv
}

/// Values of triangles at the vertices: the mean of the triangles around, as they are.
#[must_use]
pub fn at_vertices(topology: &Topology, triangles: &[f64]) -> Vec<f64> {
    let fans = topology.fans();
    (0..topology.vertices() as u32)
        .map(|v| {
            let around = fans.around(v);
            around.iter().map(|&t| triangles[t as usize]).sum::<f64>() / around.len().max(1) as f64
        })
        .collect()
}

/// The movement from its modes, coloured by peak strain.
fn strain_glb(
    topology: &Topology,
    movement: &MovementOutcome,
    strain: &StrainMap,
) -> Result<Vec<u8>, TaskError> {
    let peaks = at_vertices(topology, &strain.peak);
    let most = peaks.iter().copied().fold(1e-6, f64::max);
    let colors: Vec<[u8; 3]> = peaks.iter().map(|p| colour(p / most)).collect();
    let replay = movement.motion.replay(5);
    let floor = replay.base.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    let base: Vec<_> = replay.base.iter().map(|p| [p[0], p[1], p[2] - floor]).collect();
    let animated = !replay.targets.is_empty();
    let scene = MorphScene {
        name: strain.name.clone(),
        topology,
        base: &base,
        targets: replay.targets,
        colors: Some(colors),
        animation: animated.then_some(MorphAnimation { times_s: replay.times_s, weights: replay.weights }),
        extras: json!({ "name": strain.name, "lightest_is": 0.0, "darkest_is": most, "caution": strain.caution }),
    };
    Ok(morph_glb(&scene)?)
}

/// Light to dark: pale yellow over orange to deep purple.
fn colour(part: f64) -> [u8; 3] {
    const STOPS: [[f64; 3]; 4] =
        [[250.0, 243.0, 214.0], [244.0, 178.0, 96.0], [196.0, 74.0, 92.0], [72.0, 24.0, 84.0]];
    let place = part.clamp(0.0, 1.0) * (STOPS.len() - 1) as f64;
    let i = (place as usize).min(STOPS.len() - 2);
    let u = place - i as f64;
    std::array::from_fn(|c| (STOPS[i][c] + u * (STOPS[i + 1][c] - STOPS[i][c])).round() as u8)
}

/// The figures of a deepened movement for programs: no series.
#[must_use]
pub fn deep_summary(deep: &Deep) -> Value {
    let tissue: Vec<Value> = deep
        .tissue
        .iter()
        .map(|t| {
            json!({
                "region": t.name, "vertices": t.vertices, "people": t.people, "cycles": t.cycles.len(),
                "summary": t.summary, "lag": t.lag, "noise_mm": t.noise_mm, "cutoff_hz": t.cutoff_hz,
                "missing_share": t.missing_share,
            })
        })
        .collect();
    let courses: Vec<Value> = deep
        .courses
        .iter()
        .map(|c| {
            json!({
                "dimension": c.dimension, "unit": c.unit, "reference": c.reference, "min": c.min, "max": c.max,
                "range": c.range(), "noise_floor": c.noise_floor, "cutoff_hz": c.cutoff_hz,
                "cycles": c.band.as_ref().map(|b| b.curves.len()),
                "set_aside": c.band.as_ref().map(|b| b.set_aside.clone()),
                "range_over_cycles": c.band.as_ref().and_then(|b| b.range),
                "phase_of_min_percent": c.band.as_ref().and_then(|b| b.phase_of_min_percent),
                "phase_of_max_percent": c.band.as_ref().and_then(|b| b.phase_of_max_percent),
                "no_cycles": c.no_band,
            })
        })
        .collect();
    let strain = deep.strain.as_ref().map(|s| {
        let largest = s.peak.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let regions: Vec<Value> = s
            .regions
            .iter()
            .map(|r| {
                json!({ "region": r.region, "triangles": r.triangles, "peak": r.peak, "peak_frame": r.peak_frame })
            })
            .collect();
        json!({
            "name": s.name, "reference_pose": s.reference_pose, "frames": s.frames, "largest": largest,
            "noise_floor": s.noise_floor, "smoothed_mm": s.smoothed_mm, "regions": regions, "caution": s.caution,
        })
    });
    let posture = deep.posture.as_ref().map(|p| {
        let frames = &p.posture.frames;
        let n = frames.len().max(1) as f64;
        json!({
            "rest": p.rest, "joints": p.posture.joints,
            "fit_rms_mm": frames.iter().map(|f| f.rms_mm).sum::<f64>() / n,
            "settled_frames": frames.iter().filter(|f| f.settled).count(),
            "unposed_rms_mm": p.posture.unposed_rms_mm, "explained": p.explained,
        })
    });
    let dynamics = deep.dynamics.as_ref().map(|d| {
        let modes: Vec<Value> = d
            .modes
            .iter()
            .map(|m| {
                json!({ "hz": m.hz, "growth_per_s": m.growth_per_s, "damping_ratio": m.damping_ratio, "rms_mm": m.rms_mm })
            })
            .collect();
        json!({ "delays": d.delays, "rank": d.rank, "error_mm": d.error_mm, "modes": modes })
    });
    json!({
        "cycles": deep.cycles, "cycles_left_out": deep.cycles_left_out, "dimensions": courses, "frame": deep.frame, "tissue": tissue, "strain": strain,
        "dynamics": dynamics, "posture": posture, "residual_cutoffs": deep.residuals, "remarks": deep.remarks,
    })
}

/// The figures of all movements together.
#[must_use]
pub fn together_summary(together: &Together) -> Value {
    let shared = together.shared.as_ref().map(|s| {
        let courses: Vec<Value> = s
            .courses
            .iter()
            .map(|c| {
                json!({ "capture": c.capture, "participant": c.participant, "frames": c.frames.len(), "rms_mm": c.rms_mm, "explained": c.explained })
            })
            .collect();
        json!({
            "people": s.people, "captures": s.captures, "frames": s.frames, "variances_mm2": s.variances_mm2,
            "total_variance_mm2": s.total_variance_mm2, "left_out": s.left_out, "courses": courses,
        })
    });
    json!({
        "changes": together.changes,
        "allowances": together.allowances,
        "comparisons": together.conditions.as_ref().map(|c| &c.comparisons),
        "components": components_summary(&together.components),
        "shared": shared,
    })
}
