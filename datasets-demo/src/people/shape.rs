//! A person's shape as smooth maps of the template: heights, breadths and depths of the trunk, scales of limbs, soft forms.

use formkin_geometry::Point;

use super::factors::{FACTORS, Latents, aims};
use super::figures::Sex;
use crate::body::curve::Table;
use crate::body::figure::{ANKLE_ON_FLOOR, SHOULDER, STATURE};
use crate::body::loft::bell;
use crate::body::solid::Solid;

/// The girths that are solved for.
pub(crate) const GIRTHS: usize = 11;
pub(crate) const CHEST: usize = 0;
pub(crate) const WAIST: usize = 1;
pub(crate) const HIP: usize = 2;
pub(crate) const THIGH: usize = 3;
pub(crate) const CALF: usize = 4;
pub(crate) const NECK: usize = 5;
pub(crate) const UPPER_ARM: usize = 6;
pub(crate) const FOREARM: usize = 7;
pub(crate) const WRIST: usize = 8;
pub(crate) const ANKLE: usize = 9;
pub(crate) const HEAD: usize = 10;

/// What a person's mesh has to measure, in mm.
#[derive(Debug, Clone)]
pub(crate) struct Aims {
    pub(crate) sex: Sex,
    factors: [f64; FACTORS],
    pub(crate) stature: f64,
    crotch: f64,
    acromion: f64,
    biacromial: f64,
    foot: f64,
    pub(crate) girths: [f64; GIRTHS],
}

impl Aims {
    pub(crate) fn new(latents: &Latents) -> Self {
        let a = aims(latents);
        let male = latents.sex == Sex::Male;
        let mean = |men: f64, women: f64| if male { men } else { women };
        // without a column of their own: ankle, forearm and head follow their neighbours; means from the same survey, the
        // forearm (published flexed) at 0.95
        let calf = a[9] / mean(392.3, 373.3);
        let wrist = a[12] / mean(175.9, 154.8);
        let arm = a[11] / mean(333.0, 284.2);
        let mut girths = [0.0; GIRTHS];
        girths[CHEST] = a[5];
        girths[WAIST] = a[6];
        girths[HIP] = a[7];
        girths[THIGH] = a[8];
        girths[CALF] = a[9];
        girths[NECK] = a[10];
        girths[UPPER_ARM] = a[11];
        girths[FOREARM] = mean(310.1, 264.1) * 0.95 * wrist.powf(0.7) * arm.powf(0.4);
        girths[WRIST] = a[12];
        girths[ANKLE] = mean(229.3, 215.7) * calf.powf(0.4) * wrist.powf(0.6);
        girths[HEAD] = mean(574.4, 561.1) * (1.0 + 0.012 * latents.factors[0] + 0.012 * latents.factors[1]);
        Self {
            sex: latents.sex,
            factors: latents.factors,
            stature: a[0],
            crotch: a[2],
            acromion: a[3],
            biacromial: a[4],
            foot: a[13],
            girths,
        }
    }
}

/// Levels of the template that heights are given at.
const CROTCH: f64 = 794.0;
const ACROMION: f64 = 1400.0;
const C7: f64 = 1463.0;
const EYES: f64 = 1590.0;
/// Length of the template's foot.
const FOOT: f64 = 268.0;

/// A person's maps.
#[derive(Debug)]
pub(crate) struct Shape {
    height: Table<1>,
    /// Breadth, front, back: scales about the centre of the section.
    trunk: Table<3>,
    centre: Table<1>,
    /// Breadth, depth.
    leg: Table<2>,
    /// Radius, place along.
    arm: Table<2>,
    size: f64,
    head: f64,
    jaw: f64,
    foot: [f64; 3],
    reach: f64,
    shoulder: Point,
    bust: f64,
    belly: f64,
    seat: f64,
    trapezius: f64,
}

impl Shape {
    /// From what is aimed at and the scale of each girth.
    #[expect(clippy::too_many_lines, reason = "the girths of a body from head to foot, one formula each")]
    pub(crate) fn new(aims: &Aims, g: &[f64; GIRTHS]) -> Self {
        let male = aims.sex == Sex::Male;
        let by = |men: f64, women: f64| if male { men } else { women };
        let [_, build, legs, _, belly, seat, chest, arms] = aims.factors;
        let size = aims.stature / STATURE;
        let head = g[HEAD];
        let eyes = aims.stature - (STATURE - EYES) * head;
        let c7 = aims.acromion * by(1.053, 1.046);
        let foot = aims.foot / FOOT;
        let height = Table::new(
            &[
                (-20.0, [-20.0 * foot]),
                (0.0, [0.0]),
                (68.0, [72.0 * foot]),
                (471.0, [aims.crotch * 0.576]),
                (CROTCH, [aims.crotch]),
                (ACROMION, [aims.acromion]),
                (C7, [c7]),
                (1530.0, [eyes - 60.0 * head]),
                (EYES, [eyes]),
                (1720.0, [eyes + 130.0 * head]),
            ],
            4.0,
            26.0,
        );
        let shoulder_scale = aims.biacromial / 390.0;
        let mix = |a: f64, b: f64, t: f64| a * (1.0 - t) + b * t;
        let (gc, gw, gh, gn) = (g[CHEST], g[WAIST], g[HIP], g[NECK]);
        // breadth and depth take up a girth unequally: exponents from the published SDs of breadth, depth and girth
        let hip = [gh.powf(0.85), gh.powf(1.10), gh.powf(1.15)];
        let hip = [hip[0] * by(0.985, 1.015), hip[1], hip[2] * by(1.01, 0.99)];
        let waist = [gw.powf(0.85) * by(0.995, 1.01), gw.powf(1.45), gw.powf(0.85)];
        let thorax = [gc.powf(0.88) * by(1.005, 0.985), gc.powf(1.12), gc.powf(1.08)];
        let between =
            |a: [f64; 3], b: [f64; 3], t: f64| -> [f64; 3] { std::array::from_fn(|c| mix(a[c], b[c], t)) };
        let times = |a: [f64; 3], b: [f64; 3]| -> [f64; 3] { std::array::from_fn(|c| a[c] * b[c]) };
        let top = [shoulder_scale, gc.powf(0.8), gc.powf(0.8)];
        let neck = [gn, gn, gn];
        let trunk = Table::new(
            &[
                (780.0, hip),
                (872.0, hip),
                (905.0, between(hip, waist, 0.16)),
                (945.0, between(hip, waist, 0.52)),
                (985.0, between(hip, waist, 0.86)),
                (1023.0, waist),
                (
                    1075.0,
                    times(between(waist, thorax, 0.22), [by(1.02, 0.945), by(1.0, 0.955), by(1.0, 0.97)]),
                ),
                (
                    1165.0,
                    times(between(waist, thorax, 0.70), [by(1.01, 0.955), by(1.0, 0.94), by(1.0, 0.97)]),
                ),
                (1235.0, thorax),
                (1300.0, between(thorax, top, 0.55)),
                (1360.0, top),
                (1405.0, top),
                (1432.0, between(top, neck, 0.45)),
                (1462.0, neck),
                (1490.0, neck),
                (1530.0, [mix(gn, head, 0.4), mix(gn, head, 0.6), mix(gn, head, 0.4)]),
                (1560.0, [mix(gn, head, 0.7); 3]),
            ],
            4.0,
            20.0,
        );
        let centre = Table::new(
            &[
                (780.0, [10.0]),
                (872.0, [8.0]),
                (980.0, [0.0]),
                (1050.0, [-4.0]),
                (1170.0, [4.0]),
                (1280.0, [14.0]),
                (1400.0, [25.0]),
                (1455.0, [32.0]),
                (1500.0, [20.0]),
                (1540.0, [10.0]),
                (1700.0, [0.0]),
            ],
            4.0,
            14.0,
        );
        let (gt, gk, ga) = (g[THIGH], g[CALF], g[ANKLE]);
        let leg = Table::new(
            &[
                (50.0, [ga; 2]),
                (130.0, [ga; 2]),
                (215.0, [mix(ga, gk, 0.55); 2]),
                (300.0, [gk; 2]),
                (380.0, [gk; 2]),
                (471.0, [mix(gk, gt, 0.35) * by(1.0, 0.985); 2]),
                (540.0, [mix(gk, gt, 0.62); 2]),
                (660.0, [mix(gk, gt, 0.92); 2]),
                (790.0, [gt; 2]),
                (870.0, [mix(gt, hip[0], 0.6), mix(gt, hip[1], 0.6)]),
                (930.0, [hip[0], hip[1]]),
            ],
            4.0,
            18.0,
        );
        // longer legs go with longer arms
        let reach = size * (1.0 + 0.004 * legs);
        let hand = mix(g[WRIST], foot, 0.5);
        let (gu, gf, gr) = (g[UPPER_ARM], g[FOREARM], g[WRIST]);
        let fist = 527.0 * reach;
        let arm = Table::new(
            &[
                (-60.0, [mix(gu, size, 0.4), -60.0 * mix(gu, size, 0.5)]),
                (0.0, [mix(gu, size, 0.3), 0.0]),
                (70.0, [mix(gu, size, 0.12), 69.0 * reach]),
                (130.0, [gu, 128.0 * reach]),
                (190.0, [gu, 186.0 * reach]),
                (260.0, [mix(gu, gf, 0.45), 253.0 * reach]),
                (300.0, [mix(gu, gf, 0.7), 292.0 * reach]),
                (350.0, [gf, 342.0 * reach]),
                (450.0, [mix(gf, gr, 0.5), 442.0 * reach]),
                (525.0, [gr, 517.0 * reach]),
                (545.0, [gr, fist + 10.0 * hand]),
                (590.0, [hand, fist + 55.0 * hand]),
                (660.0, [hand, fist + 125.0 * hand]),
            ],
            4.0,
            10.0,
        );
        let bust = by(4.0 + 1.5 * build - 1.0 * arms, 37.0 + 6.0 * chest + 5.0 * build).max(0.0);
        let mut shape = Self {
            height,
            trunk,
            centre,
            leg,
            arm,
            size,
            head,
            jaw: by(1.02, 0.96),
            foot: [foot.powf(0.7) * ga.powf(0.3), foot, foot],
            reach,
            shoulder: SHOULDER,
            bust,
            belly: by(4.0, 2.0) + 6.0 * belly + 4.0 * build,
            seat: by(-4.0, 7.0) + 4.0 * seat + 2.0 * build,
            trapezius: by(5.0, -4.0) + 2.0 * arms,
        };
        shape.shoulder = shape.trunk_map(SHOULDER);
        shape
    }

    fn height(&self, z: f64) -> f64 {
        self.height.at(z).0[0]
    }

    fn trunk_map(&self, p: Point) -> Point {
        let ([breadth, front, back], _) = self.trunk.at(p[2]);
        let centre = self.centre.at(p[2]).0[0];
        let dy = p[1] - centre;
        // front and back scales meet smoothly over 60 mm
        let t = 0.5 * (1.0 + (dy / 30.0).tanh());
        let depth = front + (back - front) * t;
        [p[0] * breadth, centre * self.size + dy * depth, self.height(p[2])]
    }

    fn head_map(&self, p: Point) -> Point {
        let jaw = 1.0 + (self.jaw - 1.0) * (1.0 - crate::template::membership::step((p[2] - 1500.0) / 60.0));
        [p[0] * self.head * jaw, p[1] * self.head, self.height(EYES) + (p[2] - EYES) * self.head]
    }

    fn leg_map(&self, solid: &Solid, p: Point, foot: f64) -> Point {
        let k = solid.figure.leg.section(p[2]);
        let ([breadth, depth], _) = self.leg.at(p[2]);
        // the inner side stays where it is, so that heavy thighs do not grow into each other
        let inner = k[0] - k[3];
        let leg = [
            inner * self.size + (p[0] - inner) * breadth,
            k[1] * self.size + (p[1] - k[1]) * depth,
            self.height(p[2]),
        ];
        if foot == 0.0 {
            return leg;
        }
        let (ankle_x, ankle_y) = (ANKLE_ON_FLOOR[0], ANKLE_ON_FLOOR[1]);
        let at = self.leg_map(solid, [ankle_x, ankle_y, 85.0], 0.0);
        let sole = [
            at[0] + (p[0] - ankle_x) * self.foot[0],
            at[1] + (p[1] - ankle_y) * self.foot[1],
            self.height(p[2]),
        ];
        std::array::from_fn(|c| leg[c] + foot * (sole[c] - leg[c]))
    }

    fn arm_map(&self, solid: &Solid, p: Point) -> Point {
        let arm = &solid.figure.arm;
        let [u, v, s] = arm.coordinates(p);
        let k = arm.section(s);
        let ([radius, along], _) = self.arm.at(s);
        let place = arm.point(
            k[0] * self.reach + (u - k[0]) * radius,
            k[1] * self.reach + (v - k[1]) * radius,
            along,
        );
        std::array::from_fn(|c| place[c] - SHOULDER[c] + self.shoulder[c])
    }

    /// Moves of the soft forms, in mm, at a point of the template's left half.
    fn soft(&self, p: Point) -> Point {
        let mut move_by = [0.0; 3];
        let mut push = |amount: f64, direction: Point| {
            for c in 0..3 {
                move_by[c] += amount * direction[c];
            }
        };
        if p[2] > 1120.0 && p[2] < 1400.0 && p[1] < 40.0 {
            // fuller above than below the bust point
            let low = if p[2] < 1230.0 { 34.0 } else { 52.0 };
            let side =
                [(p[0] - 82.0).hypot(0.0) / if p[0] > 82.0 { 44.0 } else { 38.0 }, (p[2] - 1230.0) / low];
            let b = (-0.5 * (side[0] * side[0] + side[1] * side[1])).exp()
                * crate::template::membership::step((20.0 - p[1]) / 90.0);
            push(self.bust * b, [0.16, -0.97, -0.16]);
        }
        if p[2] > 780.0 && p[2] < 1260.0 {
            push(self.belly * bell(p, [0.0, -115.0, 1010.0], [92.0, 75.0, 95.0]), [0.0, -1.0, -0.1]);
            push(self.seat * bell(p, [74.0, 120.0, 876.0], [52.0, 60.0, 62.0]), [0.1, 1.0, 0.0]);
        }
        if p[2] > 1300.0 {
            push(self.trapezius * bell(p, [88.0, 40.0, 1440.0], [38.0, 60.0, 40.0]), [0.3, 0.0, 0.95]);
        }
        move_by
    }

    /// Where a vertex of the template goes. `x` may be negative: the map is symmetric.
    pub(crate) fn place(
        &self,
        solid: &Solid,
        p: Point,
        (arm, leg, head, foot): (f64, f64, f64, f64),
    ) -> Point {
        let sign = if p[0] < 0.0 { -1.0 } else { 1.0 };
        let q = [p[0].abs(), p[1], p[2]];
        let mut to = [0.0; 3];
        let rest = 1.0 - arm - leg;
        if rest > 0.0 {
            let mut trunk = self.trunk_map(q);
            if head > 0.0 {
                let h = self.head_map(q);
                for c in 0..3 {
                    trunk[c] += head * (h[c] - trunk[c]);
                }
            }
            for c in 0..3 {
                to[c] += rest * trunk[c];
            }
        }
        if leg > 0.0 {
            let l = self.leg_map(solid, q, foot);
            for c in 0..3 {
                to[c] += leg * l[c];
            }
        }
        if arm > 0.0 {
            let a = self.arm_map(solid, q);
            for c in 0..3 {
                to[c] += arm * a[c];
            }
        }
        let soft = self.soft(q);
        let keep = 1.0 - arm;
        for c in 0..3 {
            to[c] += keep * soft[c];
        }
        if p[0] == 0.0 {
            to[0] = 0.0;
        }
        [sign * to[0], to[1], to[2]]
    }
}
