//! The mean adult as lofted solids: the tables of its sections.
//!
//! Millimetres at a stature of 1,700, floor at z = 0, facing -y, the left side (+x). Breadths, depths, girths and heights
//! are between the means of men and women in Gordon et al. 2014 (NATICK/TR-15/007); where a profile runs between them is
//! drawn by hand.

use formkin_geometry::Point;

use super::loft::{Loft, Section};

/// Stature of the mean adult.
pub(crate) const STATURE: f64 = 1700.0;
/// Abduction of the arms of the template from the vertical, in degrees.
pub(crate) const ARM_ABDUCTION_DEG: f64 = 30.0;
/// Centre of the left shoulder joint.
pub(crate) const SHOULDER: Point = [176.0, 16.0, 1355.0];
/// Where the elbow, the wrist and the knuckles are along the arm from the shoulder joint.
pub(crate) const ELBOW_AT: f64 = 300.0;
pub(crate) const WRIST_AT: f64 = 535.0;
pub(crate) const FIST_END_AT: f64 = 645.0;
/// Turn of the feet outward, in degrees.
const TOE_OUT_DEG: f64 = 8.0;
/// Below the ankle, on the floor.
pub(crate) const ANKLE_ON_FLOOR: Point = [98.0, 26.0, 0.0];

/// Trunk: height, half breadth, y of the greatest breadth, front, back, exponent.
const TRUNK: &[(f64, [f64; 5])] = &[
    (818.0, [104.0, 10.0, -62.0, 70.0, 2.0]),
    (840.0, [142.0, 10.0, -84.0, 92.0, 2.2]),
    (872.0, [166.0, 8.0, -99.0, 106.0, 2.4]),
    (930.0, [171.0, 4.0, -108.0, 108.0, 2.5]),
    (980.0, [164.0, 0.0, -113.0, 101.0, 2.5]),
    (1023.0, [153.0, -4.0, -113.0, 93.0, 2.45]),
    (1070.0, [145.0, -4.0, -107.0, 90.0, 2.35]),
    (1110.0, [146.0, 0.0, -105.0, 96.0, 2.3]),
    (1170.0, [154.0, 4.0, -109.0, 111.0, 2.3]),
    (1235.0, [158.0, 10.0, -117.0, 127.0, 2.5]),
    (1280.0, [159.0, 14.0, -114.0, 131.0, 2.5]),
    (1320.0, [166.0, 18.0, -103.0, 131.0, 2.4]),
    (1355.0, [176.0, 20.0, -89.0, 127.0, 2.4]),
    (1380.0, [179.0, 22.0, -77.0, 121.0, 2.4]),
    (1398.0, [164.0, 25.0, -65.0, 115.0, 2.3]),
    (1416.0, [134.0, 28.0, -55.0, 109.0, 2.15]),
    (1435.0, [104.0, 31.0, -43.0, 102.0, 2.0]),
    (1460.0, [74.0, 34.0, -25.0, 91.0, 2.0]),
    (1490.0, [54.0, 34.0, -8.0, 78.0, 2.0]),
];

/// Head: as the trunk.
const HEAD: &[(f64, [f64; 5])] = &[
    (1487.0, [22.0, -66.0, -92.0, -42.0, 2.0]),
    (1497.0, [36.0, -48.0, -97.0, -8.0, 2.1]),
    (1512.0, [50.0, -22.0, -98.0, 36.0, 2.2]),
    (1532.0, [59.0, 0.0, -98.0, 66.0, 2.2]),
    (1555.0, [65.0, 8.0, -99.0, 80.0, 2.2]),
    (1580.0, [69.5, 12.0, -100.0, 88.0, 2.2]),
    (1605.0, [73.0, 14.0, -103.0, 92.0, 2.2]),
    (1630.0, [75.0, 15.0, -101.0, 92.0, 2.2]),
];

/// Leg: height, centre (x, y), radii outward, inward, backward, forward, exponent.
const LEG: &[(f64, Section)] = &[
    (60.0, [98.0, 26.0, 32.0, 32.0, 40.0, 34.0, 2.1]),
    (110.0, [98.0, 23.0, 33.0, 33.0, 40.0, 35.0, 2.0]),
    (150.0, [99.0, 21.0, 35.0, 35.0, 41.0, 36.0, 2.0]),
    (215.0, [100.0, 17.0, 44.0, 43.0, 51.0, 41.0, 2.0]),
    (285.0, [101.0, 13.0, 55.0, 52.0, 68.0, 46.0, 2.0]),
    (345.0, [101.0, 10.0, 60.0, 56.0, 75.0, 50.0, 2.0]),
    (395.0, [100.0, 6.0, 57.0, 54.0, 67.0, 52.0, 2.0]),
    (435.0, [100.0, 2.0, 53.0, 53.0, 58.0, 55.0, 2.1]),
    (471.0, [100.0, 0.0, 53.0, 55.0, 56.0, 59.0, 2.2]),
    (510.0, [100.0, 0.0, 56.0, 60.0, 62.0, 65.0, 2.1]),
    (580.0, [100.0, -1.0, 65.0, 68.0, 76.0, 79.0, 2.05]),
    (650.0, [99.0, 0.0, 73.0, 77.0, 87.0, 91.0, 2.05]),
    (720.0, [98.0, 2.0, 77.0, 86.0, 96.0, 97.0, 2.1]),
    (780.0, [97.0, 5.0, 79.0, 91.0, 101.0, 98.0, 2.15]),
    (840.0, [95.0, 8.0, 78.0, 90.0, 100.0, 96.0, 2.2]),
    (885.0, [90.0, 8.0, 72.0, 80.0, 90.0, 88.0, 2.2]),
    (925.0, [80.0, 8.0, 60.0, 70.0, 74.0, 76.0, 2.1]),
];

/// Arm along its axis from the shoulder joint: centre (outward, backward), radii outward, inward, backward, forward, exponent.
const ARM: &[(f64, Section)] = &[
    (-8.0, [-2.0, 2.0, 44.0, 44.0, 52.0, 52.0, 2.05]),
    (30.0, [0.0, 2.0, 54.0, 46.0, 58.0, 57.0, 2.05]),
    (72.0, [0.0, 1.0, 56.0, 45.0, 57.0, 56.0, 2.0]),
    (115.0, [-1.0, 0.0, 50.0, 44.0, 54.0, 52.0, 2.0]),
    (165.0, [-1.0, 0.0, 46.0, 44.0, 52.0, 50.0, 2.0]),
    (215.0, [-1.0, 0.0, 44.0, 43.0, 48.0, 46.0, 2.0]),
    (260.0, [-1.0, 0.0, 42.0, 41.0, 43.0, 41.0, 2.05]),
    (300.0, [-2.0, 0.0, 42.0, 40.0, 42.0, 39.0, 2.1]),
    (345.0, [-5.0, -5.0, 44.0, 41.0, 42.0, 43.0, 2.1]),
    (385.0, [-9.0, -13.0, 41.0, 39.0, 41.0, 42.0, 2.05]),
    (430.0, [-14.0, -23.0, 35.0, 33.0, 37.0, 37.0, 2.0]),
    (485.0, [-20.0, -35.0, 26.0, 25.0, 32.0, 31.0, 2.0]),
    (535.0, [-26.0, -45.0, 21.0, 21.0, 29.5, 29.5, 2.1]),
    (560.0, [-29.0, -49.0, 23.0, 24.0, 36.0, 35.0, 2.3]),
    (585.0, [-33.0, -52.0, 26.0, 30.0, 41.0, 41.0, 2.6]),
    (612.0, [-37.0, -55.0, 27.0, 34.0, 42.0, 42.0, 2.7]),
];

/// Foot along its length from below the ankle: centre (outward, up), radii outward, inward, down, up, exponent.
const FOOT: &[(f64, Section)] = &[
    (-38.0, [0.0, 8.0, 28.0, 28.0, 30.0, 50.0, 2.2]),
    (-15.0, [0.0, 8.0, 33.0, 33.0, 30.0, 64.0, 2.2]),
    (15.0, [0.0, 8.0, 35.0, 34.0, 30.0, 70.0, 2.0]),
    (45.0, [0.0, 8.0, 36.0, 35.0, 30.0, 64.0, 1.9]),
    (80.0, [1.0, 8.0, 40.0, 37.0, 30.0, 50.0, 2.0]),
    (115.0, [1.0, 8.0, 45.0, 41.0, 30.0, 38.0, 2.1]),
    (145.0, [0.0, 8.0, 48.0, 45.0, 30.0, 29.0, 2.2]),
    (170.0, [-3.0, 8.0, 44.0, 43.0, 28.0, 23.0, 2.3]),
    (190.0, [-8.0, 8.0, 36.0, 37.0, 26.0, 20.0, 2.3]),
];

fn upright(keys: &[(f64, [f64; 5])]) -> Vec<(f64, Section)> {
    keys.iter().map(|&(z, [a, yw, yf, yb, n])| (z, [0.0, yw, a, a, yb - yw, yw - yf, n])).collect()
}

/// The solids of the left half.
#[derive(Debug, Clone)]
pub(crate) struct Figure {
    pub(crate) trunk: Loft,
    pub(crate) neck: Loft,
    pub(crate) head: Loft,
    pub(crate) arm: Loft,
    pub(crate) leg: Loft,
    pub(crate) foot: Loft,
}

impl Figure {
    pub(crate) fn new() -> Self {
        let origin = [0.0; 3];
        let (back, up) = ([0.0, 1.0, 0.0], [0.0, 0.0, 1.0]);
        let (sin, cos) = ARM_ABDUCTION_DEG.to_radians().sin_cos();
        let (tsin, tcos) = TOE_OUT_DEG.to_radians().sin_cos();
        let neck: &[(f64, Section)] = &[
            (-20.0, [0.0, 0.0, 60.0, 60.0, 58.0, 64.0, 2.0]),
            (30.0, [0.0, 0.0, 57.0, 57.0, 56.0, 60.0, 2.0]),
            (75.0, [0.0, 0.0, 56.0, 56.0, 56.0, 58.0, 2.0]),
            (120.0, [0.0, 0.0, 56.0, 56.0, 58.0, 57.0, 2.0]),
            (150.0, [0.0, 0.0, 55.0, 55.0, 56.0, 50.0, 2.0]),
        ];
        let foot: Vec<(f64, Section)> = FOOT
            .iter()
            .map(|&(s, [cu, cv, out, inward, down, high, n])| (s, [cu, cv, out, inward, high, down, n]))
            .collect();
        Self {
            trunk: Loft::new(origin, (back, up), &upright(TRUNK), (15.0, 30.0), 13.0),
            neck: Loft::new([0.0, 40.0, 1425.0], (back, [0.0, -0.26, 1.0]), neck, (20.0, 20.0), 8.0),
            head: Loft::new(origin, (back, up), &upright(HEAD), (8.0, 70.0), 5.0),
            arm: Loft::new(SHOULDER, (back, [sin, -0.05, -cos]), ARM, (38.0, 33.0), 10.0),
            leg: Loft::new(origin, (back, up), LEG, (30.0, 40.0), 10.0),
            foot: Loft::new(ANKLE_ON_FLOOR, (up, [tsin, -tcos, 0.0]), &foot, (18.0, 20.0), 6.0),
        }
    }
}
