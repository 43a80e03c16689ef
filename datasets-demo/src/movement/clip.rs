//! Three movements as poses over time: climbing a boarding ladder, hauling a line hand over hand, jumping.

use std::f64::consts::TAU;

use formkin_geometry::Point;
use formkin_geometry::turn::{about, rotate, then};
use serde::{Deserialize, Serialize};

use super::skeleton::{Pose, Skeleton, joint};
use crate::body::figure::ARM_ABDUCTION_DEG;
use crate::template::membership::step;

const X: Point = [1.0, 0.0, 0.0];
const Y: Point = [0.0, 1.0, 0.0];
const Z: Point = [0.0, 0.0, 1.0];
const GRAVITY_MM: f64 = 9810.0;

/// A movement of the demo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Movement {
    /// Climbing a boarding ladder: a step of 145 mm a foot, both hands on the ladder.
    LadderClimb,
    /// Hauling a line hand over hand, feet on the deck.
    LineHaul,
    /// Jumping on the spot, again and again.
    Jump,
}

impl Movement {
    /// All, in the order in which sequences are made.
    pub const ALL: [Self; 3] = [Self::LadderClimb, Self::LineHaul, Self::Jump];

    /// The name in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LadderClimb => "ladder-climb",
            Self::LineHaul => "line-haul",
            Self::Jump => "jump",
        }
    }

    /// Length of a cycle in seconds.
    #[must_use]
    pub fn period_s(self) -> f64 {
        match self {
            Self::LadderClimb => 0.9,
            Self::LineHaul => 0.8,
            Self::Jump => 0.6,
        }
    }

    /// The pose at a time.
    pub(crate) fn pose(self, skeleton: &Skeleton, time_s: f64) -> Pose {
        let phase = time_s / self.period_s();
        match self {
            Self::LadderClimb => climb(skeleton, phase),
            Self::LineHaul => haul(skeleton, phase),
            Self::Jump => jump(skeleton, phase, self.period_s()),
        }
    }
}

/// 0 to 1 and back over a cycle, smoothly.
fn swing(phase: f64) -> f64 {
    0.5 - 0.5 * (TAU * phase).cos()
}

/// An arm raised forward by `flexion` from hanging and bent by `elbow` at the elbow, in degrees.
fn arm(pose: &mut Pose, side: &str, flexion: f64, elbow: f64, spread: f64) {
    let s = if side == "left" { 1.0 } else { -1.0 };
    let lift = (flexion - 60.0).max(0.0) * 0.12;
    pose.set(&format!("clavicle_{side}"), about(Y, -s * lift));
    let hang = about(Y, s * (ARM_ABDUCTION_DEG - spread));
    pose.set(&format!("shoulder_{side}"), then(about(X, -flexion), hang));
    let (sin, cos) = ARM_ABDUCTION_DEG.to_radians().sin_cos();
    pose.set(&format!("elbow_{side}"), about([cos, 0.0, s * sin], -elbow));
}

/// Bends hip, knee and ankle in the plane of walking so that the ankle comes to `target` (in the frame of the whole) and the
/// foot is flat, or points down by `pointed` degrees.
fn leg(pose: &mut Pose, skeleton: &Skeleton, side: &str, target: Point, pointed: f64) {
    let centre = |name: &str| skeleton.centres[joint(&format!("{name}_{side}"))];
    let (hip0, knee0, ankle0) = (centre("hip"), centre("knee"), centre("ankle"));
    // where the pelvis has taken the hip, and how far it leans forward
    let pelvis = skeleton.centres[0];
    let turn = pose.turns[0];
    let arm = rotate(turn, std::array::from_fn(|c| hip0[c] - pelvis[c]));
    let hip: Point = std::array::from_fn(|c| pelvis[c] + arm[c] + pose.shift[c]);
    let up = rotate(turn, Z);
    let lean = (-up[1]).atan2(up[2]).to_degrees();
    // forward angle of a line from its upper end, and its length, in the plane
    let angle = |from: Point, to: Point| (from[1] - to[1]).atan2(from[2] - to[2]);
    let length = |from: Point, to: Point| (from[1] - to[1]).hypot(from[2] - to[2]);
    let (thigh, shank) = (length(hip0, knee0), length(knee0, ankle0));
    let reach = length(hip, target).clamp((thigh - shank).abs() + 1.0, 0.998 * (thigh + shank));
    let cosine = |a: f64, b: f64, c: f64| ((a * a + b * b - c * c) / (2.0 * a * b)).clamp(-1.0, 1.0).acos();
    let thigh_now = angle(hip, target) + cosine(thigh, reach, shank);
    let shank_now = thigh_now - (std::f64::consts::PI - cosine(thigh, shank, reach));
    let raised = (thigh_now - angle(hip0, knee0)).to_degrees();
    let shank_raised = (shank_now - angle(knee0, ankle0)).to_degrees();
    pose.set(&format!("hip_{side}"), about(X, -raised - lean));
    pose.set(&format!("knee_{side}"), about(X, raised - shank_raised));
    pose.set(&format!("ankle_{side}"), about(X, shank_raised + pointed));
}

fn climb(skeleton: &Skeleton, phase: f64) -> Pose {
    const RISE: f64 = 290.0;
    let mut pose = Pose::rest();
    let ankle = |side: &str| skeleton.centres[joint(&format!("ankle_{side}"))];
    let turn = TAU * phase;
    pose.turns[0] = then(about(X, 1.0), then(about(Y, 3.0 * turn.sin()), about(Z, 4.0 * turn.cos())));
    pose.shift = [8.0 * turn.sin(), 0.0, RISE * phase - 30.0 + 8.0 * (2.0 * turn).cos()];
    pose.set("spine_lower", then(about(X, 7.0), about(Y, -2.5 * turn.sin())));
    pose.set(
        "spine_upper",
        then(about(X, 2.0), then(about(Y, -2.5 * turn.sin()), about(Z, -6.0 * turn.cos()))),
    );
    pose.set("neck", about(X, -10.0));
    pose.set("head", about(X, -8.0));
    for (side, offset) in [("left", 0.0), ("right", 0.5)] {
        // 0 to 0.6: the foot stays on its rung while the body rises; then it goes up two rungs
        let u = (phase + offset).rem_euclid(1.0);
        const STAND: f64 = 0.6;
        let top = 62.0 + STAND * RISE;
        let (up, back) = if u < STAND {
            (top - RISE * u, 0.0)
        } else {
            let t = (u - STAND) / (1.0 - STAND);
            // rises by RISE against the body: starts and ends with the body's speed
            let low = top - RISE * STAND;
            (
                low + (top - low) * step(t) - RISE * (1.0 - STAND) * 0.35 * (t * (1.0 - t) * (1.0 - 2.0 * t)),
                46.0 * (t * (1.0 - t) * 4.0).powi(2),
            )
        };
        let rest = ankle(side);
        let target = [rest[0], rest[1] - 160.0 + back, rest[2] + up + pose.shift[2] - 30.0];
        leg(&mut pose, skeleton, side, target, 6.0);
        // the opposite hand reaches up with this foot
        let hand = if side == "left" { "right" } else { "left" };
        let s = swing(u - 0.08);
        arm(&mut pose, hand, 60.0 + 32.0 * s, 90.0 - 60.0 * s, 8.0);
    }
    pose
}

fn haul(skeleton: &Skeleton, phase: f64) -> Pose {
    let mut pose = Pose::rest();
    let turn = TAU * phase;
    pose.turns[0] = then(about(X, 14.0 - 5.0 * (2.0 * turn).cos()), about(Z, 7.0 * turn.sin()));
    pose.shift = [5.0 * turn.sin(), 34.0 + 14.0 * (2.0 * turn).cos(), -62.0 - 10.0 * (2.0 * turn).sin()];
    pose.set("spine_lower", then(about(X, 6.0 - 2.0 * (2.0 * turn).cos()), about(Z, 6.0 * turn.sin())));
    pose.set("spine_upper", then(about(X, 5.0), about(Z, 9.0 * turn.sin())));
    pose.set("neck", then(about(X, -9.0), about(Z, -9.0 * turn.sin())));
    pose.set("head", then(about(X, -8.0), about(Z, -6.0 * turn.sin())));
    for (side, offset) in [("left", 0.0), ("right", 0.5)] {
        let ankle = skeleton.centres[joint(&format!("ankle_{side}"))];
        leg(&mut pose, skeleton, side, ankle, 0.0);
        let s = swing(phase + offset + 0.25);
        arm(&mut pose, side, 22.0 + 46.0 * s, 104.0 - 82.0 * s, 14.0);
    }
    pose
}

fn jump(skeleton: &Skeleton, phase: f64, period: f64) -> Pose {
    const FLIGHT: f64 = 0.4;
    let mut pose = Pose::rest();
    let u = phase.rem_euclid(1.0);
    let (flight, contact) = (FLIGHT * period, (1.0 - FLIGHT) * period);
    let speed = GRAVITY_MM * flight / 2.0;
    // the pelvis: a half sine on the floor, a parabola in the air, with one speed where they meet
    let (height, crouch, air) = if u < 1.0 - FLIGHT {
        let t = u / (1.0 - FLIGHT);
        let dip = (std::f64::consts::PI * t).sin();
        (-speed * contact / std::f64::consts::PI * dip, dip, 0.0)
    } else {
        let t = (u - 1.0 + FLIGHT) * period;
        (speed * t - GRAVITY_MM * t * t / 2.0, 0.0, (std::f64::consts::PI * t / flight).sin())
    };
    let soft = crouch * crouch;
    pose.brace = soft;
    pose.turns[0] = about(X, 4.0 + 12.0 * soft);
    pose.shift = [0.0, 8.0 + 46.0 * soft, -22.0 + height];
    pose.set("spine_lower", about(X, 2.0 + 13.0 * soft));
    pose.set("spine_upper", about(X, 1.0 + 11.0 * soft));
    pose.set("neck", about(X, -2.0 - 10.0 * soft));
    pose.set("head", about(X, -1.0 - 9.0 * soft));
    for side in ["left", "right"] {
        let ankle = skeleton.centres[joint(&format!("ankle_{side}"))];
        let point = air * air;
        let lifted = if air > 0.0 { height } else { 0.0 };
        let target = [ankle[0], ankle[1] + 12.0 * point, ankle[2] + lifted + 16.0 * point];
        leg(&mut pose, skeleton, side, target, 30.0 * point);
        arm(&mut pose, side, 26.0 - 46.0 * soft + 44.0 * air, 34.0 + 26.0 * soft, 10.0);
    }
    pose
}
