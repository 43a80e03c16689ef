//! One person's movement, frame by frame.

use formkin_geometry::Point;

use super::clip::Movement;
use super::skeleton::{Skeleton, Skinning, duals};
use super::soft::{Spring, Swing};
use crate::people::factors::Latents;
use crate::people::figures::Sex;
use crate::template::Base;

/// How long the springs swing in before the first frame, in seconds.
const BEFORE_S: f64 = 1.5;

/// How much wider the trunk is when it bends and braces at a landing: its girths change by 2 to 6 cm in a jump (common practice, no source).
const WIDENING: f64 = 0.03;

/// The springs of a person: the chest, the belly, the seat.
pub(crate) fn springs(latents: &Latents) -> [Spring; 3] {
    let female = latents.sex == Sex::Female;
    let [_, build, _, _, belly, seat, chest, _] = latents.factors;
    let spring = |region: &str, frequency_hz: f64, damping: f64, gain: f64| Spring {
        region: region.to_owned(),
        frequency_hz,
        damping,
        gain: gain.clamp(0.05, 0.9),
    };
    [
        spring("chest_soft", 3.4, 0.22, if female { 0.80 + 0.08 * chest } else { 0.34 + 0.05 * build }),
        spring("abdomen_soft", 3.8, 0.24, 0.55 + 0.10 * build + 0.08 * belly),
        spring("seat_soft", 4.2, 0.26, if female { 0.62 } else { 0.50 } + 0.06 * seat),
    ]
}

/// A sequence that gives its frames one after the other.
pub(crate) struct Sequence<'a> {
    base: &'a Base,
    skinning: &'a Skinning,
    rest: &'a [Point],
    skeleton: Skeleton,
    movement: Movement,
    springs: [Spring; 3],
    /// Soft vertices: which, whose spring, how soft, and their state.
    soft: Vec<(u32, usize, f64, Swing)>,
    dt: f64,
    next: usize,
}

impl<'a> Sequence<'a> {
    pub(crate) fn new(
        base: &'a Base,
        skinning: &'a Skinning,
        rest: &'a [Point],
        latents: &Latents,
        movement: Movement,
        frames_per_second: f64,
    ) -> Self {
        let springs = springs(latents);
        let fields = [&base.soft.chest, &base.soft.belly, &base.soft.seat];
        let mut soft = Vec::new();
        for v in 0..rest.len() {
            for (k, field) in fields.iter().enumerate() {
                if field[v] > 0.0 {
                    soft.push((v as u32, k, field[v] * springs[k].gain, Swing::default()));
                }
            }
        }
        let mut sequence = Self {
            base,
            skinning,
            rest,
            skeleton: Skeleton::new(base, rest),
            movement,
            springs,
            soft,
            dt: 1.0 / frames_per_second,
            next: 0,
        };
        let before = (BEFORE_S * frames_per_second).ceil() as usize;
        for i in (1..=before).rev() {
            sequence.swing(-(i as f64) * sequence.dt);
        }
        sequence
    }

    /// Moves the springs on by one frame; gives each soft vertex's offset.
    fn swing(&mut self, time: f64) -> Vec<(u32, Point)> {
        let at = |t: f64| duals(&self.skeleton.motions(&self.movement.pose(&self.skeleton, t)));
        let (a, b, c) = (at(time - self.dt), at(time), at(time + self.dt));
        let dt = self.dt;
        let mut offsets = Vec::with_capacity(self.soft.len());
        for (v, k, share, state) in &mut self.soft {
            let p = self.rest[*v as usize];
            let place = |m: &[_]| self.skinning.place(*v as usize, p, m);
            let (x0, x1, x2) = (place(&a), place(&b), place(&c));
            let acceleration: Point = std::array::from_fn(|i| (x0[i] - 2.0 * x1[i] + x2[i]) / (dt * dt));
            let o = state.step(&self.springs[*k], acceleration, dt);
            // tissue stretches ever less: half of 60 mm at a swing of 60 mm
            let size = (o[0] * o[0] + o[1] * o[1] + o[2] * o[2]).sqrt();
            let scale = *share * 60.0 / (60.0 + size);
            offsets.push((*v, o.map(|x| scale * x)));
        }
        offsets
    }

    /// The body at rest with the trunk widened about its own axis.
    fn braced(&self, brace: f64) -> Vec<Point> {
        let middle = self.skeleton.centres[0][1];
        let widened = |(p, share): (&Point, &f64)| {
            let grow = 1.0 + WIDENING * brace * share;
            [p[0] * grow, middle + (p[1] - middle) * grow, p[2]]
        };
        self.rest.iter().zip(&self.base.soft.trunk).map(widened).collect()
    }

    /// The next frame.
    pub(crate) fn frame(&mut self) -> Vec<Point> {
        let time = self.next as f64 * self.dt;
        self.next += 1;
        let pose = self.movement.pose(&self.skeleton, time);
        let motions = self.skeleton.motions(&pose);
        let mut placed = self.skinning.pose(&self.braced(pose.brace), &motions);
        for (v, o) in self.swing(time) {
            for c in 0..3 {
                placed[v as usize][c] += o[c];
            }
        }
        debug_assert_eq!(placed.len(), self.base.mirror.len());
        placed
    }
}
