//! How a person stands in front of the scanner: small differences of arms, feet, heading and place.

use formkin_geometry::Point;
use formkin_geometry::turn::about;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

use super::factors::Latents;
use crate::movement::skeleton::{Pose, Skeleton, Skinning};
use crate::template::Base;

/// A stance: angles in degrees, place in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stance {
    arms: [f64; 2],
    feet: f64,
    heading: f64,
    place: [f64; 2],
}

impl Stance {
    /// Arms as in the template, turned a little; heavier people hold them further away.
    pub(crate) fn draw(latents: &Latents, rng: &mut impl Rng) -> Self {
        let mut normal = || -> f64 { StandardNormal.sample(rng) };
        let clear = 2.5 * latents.factors[1].max(0.0);
        let both = 2.0 * normal();
        Self {
            arms: [clear + both + 0.8 * normal(), clear + both + 0.8 * normal()],
            feet: 0.7 * normal() + 0.3 * latents.factors[1],
            heading: 3.0 * normal(),
            place: [25.0 * normal(), 25.0 * normal()],
        }
    }

    /// The body in this stance, soles on the floor.
    pub(crate) fn take(&self, base: &Base, skinning: &Skinning, rest: &[Point]) -> Vec<Point> {
        const Y: Point = [0.0, 1.0, 0.0];
        let skeleton = Skeleton::new(base, rest);
        let mut pose = Pose::rest();
        for (side, s, arm) in [("left", 1.0, self.arms[0]), ("right", -1.0, self.arms[1])] {
            pose.set(&format!("shoulder_{side}"), about(Y, -s * arm));
            pose.set(&format!("hip_{side}"), about(Y, -s * self.feet));
            pose.set(&format!("ankle_{side}"), about(Y, s * self.feet));
        }
        pose.heading = about([0.0, 0.0, 1.0], self.heading);
        let mut body = skinning.pose(rest, &skeleton.motions(&pose));
        let lowest = body.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        for p in &mut body {
            p[0] += self.place[0];
            p[1] += self.place[1];
            p[2] -= lowest;
        }
        body
    }
}
