//! The tables of a movement, and the bodies that move.

use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_cohort::npy_bytes;
use formkin_geometry::Topology;
use formkin_motion::cycles::left_out::CyclesLeftOut;
use formkin_motion::{Animation, Motion, StrainMap};
use formkin_table::NumberFormat::{Fixed, Shortest};
use formkin_table::Sheet;
use serde_json::json;

use super::posture::PostureOutcome;
use super::run::MotionOutcome;
use crate::bodies::on_the_floor;
use crate::signals::condition_files::{component_files, condition_files};
use crate::signals::files::{signal_files, track_files};
use crate::{Delivery, TaskError};

/// How many modes of a movement are animated.
const ANIMATED_MODES: usize = 3;
/// How many modes the movement is rebuilt from.
const REPLAY_MODES: usize = 5;

pub(super) fn files<'a>(topology: &'a Topology, made: &'a MotionOutcome) -> Delivery<'a> {
    let motion = &made.motion;
    let mut delivery = Delivery::new().sheet(
        "course.csv",
        "Coefficients of the motion modes, one row a frame",
        course(motion),
    );
    if !made.curves.is_empty() {
        delivery = delivery.sheet("curves.csv", "Dimensions through time, one row a frame", curves(made));
    }
    for mode in 0..motion.modes.len().min(ANIMATED_MODES) {
        let what = "A motion mode, 2 SD to either side, as animated glTF";
        delivery = delivery.made(format!("mode-{}.glb", mode + 1), what, move || {
            animation_glb(topology, motion.mode_animation(mode, 2.0, 2.0, 32)?)
        });
    }
    if !motion.modes.is_empty() {
        let what = "The movement rebuilt from its first modes, as animated glTF";
        delivery =
            delivery.made("replay.glb", what, move || animation_glb(topology, motion.replay(REPLAY_MODES)));
    }
    delivery = deep_files(topology, made, delivery);
    delivery = component_files(&made.components, delivery);
    if let Some(conditions) = &made.conditions {
        delivery = condition_files(conditions, Some((topology, &motion.mean)), delivery);
    }
    delivery
}

fn deep_files<'a>(
    topology: &'a Topology,
    made: &'a MotionOutcome,
    mut delivery: Delivery<'a>,
) -> Delivery<'a> {
    let (deep, times_s) = (&made.deep, &made.motion.times_s);
    delivery = signal_files(&deep.signals, delivery);
    if let Some((laboratory, body)) = &deep.landmarks {
        delivery = track_files("landmarks", laboratory, body.as_ref(), delivery);
    }
    if let Some(held) = &deep.cycles_left_out {
        let what = "Error of cycles left out over the number of modes";
        delivery = delivery.sheet("mode-errors.csv", what, mode_errors(held));
    }
    if let Some(strain) = &deep.strain {
        let what = "Apparent surface strain of regions through time";
        delivery = delivery.sheet("strain-regions.csv", what, strain_regions(strain, times_s)).made(
            "strain.glb",
            "Peak apparent surface strain as vertex colours",
            move || strain_glb(topology, &made.motion, strain),
        );
    }
    if let Some(posture) = &deep.posture {
        delivery = delivery.sheet("angles.csv", "Joint turns through time", angles(posture, times_s));
        if !posture.unposed_mm.is_empty() {
            let what = "Every frame in the stance of the template: [frames, vertices, 3], f32, mm";
            delivery = delivery.made("unposed.npy", what, move || {
                Ok(npy_bytes(
                    &[posture.posture.frames.len(), topology.vertices(), 3],
                    posture.unposed_mm.iter().copied(),
                ))
            });
        }
    }
    delivery
}

/// Number and time of every frame.
fn frames(times_s: &[f64]) -> Sheet {
    Sheet::new().whole("frame", None, "Number of the frame, from 0", 0..times_s.len()).number(
        "time",
        Some("s"),
        "Time of the frame",
        Shortest,
        times_s.iter().copied(),
    )
}

/// The coefficients: one row a frame, one column a mode.
fn course(motion: &Motion) -> Sheet {
    (0..motion.modes.len()).fold(frames(&motion.times_s), |sheet, k| {
        let values = motion.coefficients.iter().map(|row| row[k]);
        sheet.number(
            &format!("mode_{:02}", k + 1),
            Some("mm"),
            "Coefficient of a motion mode",
            Fixed(4),
            values,
        )
    })
}

/// The dimensions: one row a frame.
fn curves(made: &MotionOutcome) -> Sheet {
    let times_s = &made.motion.times_s;
    made.curves.iter().fold(frames(times_s), |sheet, curve| {
        let unit = Some(curve.unit.as_str()).filter(|u| !u.is_empty());
        let values = (0..times_s.len()).map(|k| curve.values.get(k).copied().flatten());
        sheet.optional_number(&curve.dimension, unit, "The dimension in this frame", Fixed(3), values)
    })
}

fn mode_errors(held: &CyclesLeftOut) -> Sheet {
    let (all, mm) = (|| held.errors.iter(), Some("mm"));
    Sheet::new()
        .whole("modes", None, "Modes of the other cycles", all().map(|e| e.modes))
        .number("rms", mm, "Error of the cycle that was left out", Fixed(5), all().map(|e| e.rms_mm))
        .number("se", mm, "Its standard error over cycles", Fixed(5), all().map(|e| e.se_mm))
}

fn strain_regions(strain: &StrainMap, times_s: &[f64]) -> Sheet {
    let n = strain.frames.min(times_s.len());
    strain.regions.iter().fold(frames(&times_s[..n]), |sheet, r| {
        let column = |sheet: Sheet, what: &str, meaning: &str, values: &[f64]| {
            let values = values.iter().copied().take(n);
            sheet.number(&format!("{}_{what}", r.region), None, meaning, Fixed(5), values)
        };
        let sheet = column(sheet, "largest", "Mean of the larger stretch, less 1", &r.largest);
        let sheet = column(sheet, "smallest", "Mean of the smaller stretch, less 1", &r.smallest);
        column(sheet, "area", "Area over that of the reference pose, less 1", &r.area)
    })
}

/// For each joint the size of its turn and the rotation vector.
fn angles(made: &PostureOutcome, times_s: &[f64]) -> Sheet {
    let (posture, deg) = (&made.posture, Some("deg"));
    let n = posture.frames.len();
    let times = (0..n).map(|k| times_s.get(k).copied());
    let sheet = Sheet::new()
        .whole("frame", None, "Number of the frame, from 0", 0..n)
        .optional_number("time", Some("s"), "Time of the frame", Shortest, times)
        .number(
            "fit_rms",
            Some("mm"),
            "Distance of the posed body from the frame",
            Fixed(3),
            posture.frames.iter().map(|f| f.rms_mm),
        );
    posture.joints.iter().fold(sheet, |sheet, joint| {
        let turns = posture.angles_deg(joint).unwrap_or_default();
        let size = |w: &[f64; 3]| (w[0] * w[0] + w[1] * w[1] + w[2] * w[2]).sqrt();
        let sheet = sheet.number(joint, deg, "Size of the joint's turn", Fixed(3), turns.iter().map(size));
        ["x", "y", "z"].into_iter().enumerate().fold(sheet, |sheet, (axis, word)| {
            let values = turns.iter().map(|w| w[axis]);
            sheet.number(&format!("{joint}_{word}"), deg, "Part of its rotation vector", Fixed(3), values)
        })
    })
}

/// An animation of a movement as a binary glTF.
fn animation_glb(topology: &Topology, animation: Animation) -> Result<Vec<u8>, TaskError> {
    let base = on_the_floor(animation.base.clone());
    let scene = MorphScene {
        name: animation.name,
        topology,
        base: &base,
        targets: animation.targets,
        colors: None,
        animation: Some(MorphAnimation { times_s: animation.times_s, weights: animation.weights }),
        extras: json!({}),
    };
    Ok(morph_glb(&scene)?)
}

/// Values of triangles at the vertices: the mean of the triangles around, as they are.
pub(super) fn at_vertices(topology: &Topology, triangles: &[f64]) -> Vec<f64> {
    let fans = topology.fans();
    (0..topology.vertices() as u32)
        .map(|v| {
            let around = fans.around(v);
            around.iter().map(|&t| triangles[t as usize]).sum::<f64>() / around.len().max(1) as f64
        })
        .collect()
}

/// The movement from its modes, coloured by peak strain.
fn strain_glb(topology: &Topology, motion: &Motion, strain: &StrainMap) -> Result<Vec<u8>, TaskError> {
    let peaks = at_vertices(topology, &strain.peak);
    let most = peaks.iter().copied().fold(1e-6, f64::max);
    let colors: Vec<[u8; 3]> = peaks.iter().map(|p| colour(p / most)).collect();
    let replay = motion.replay(REPLAY_MODES);
    let base = on_the_floor(replay.base.clone());
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
