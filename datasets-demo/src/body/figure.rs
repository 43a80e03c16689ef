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
pub(crate) const ARM_ABDUCTION_DEG: f64 = 25.0;
/// Centre of the left shoulder joint.
pub(crate) const SHOULDER: Point = [174.0, 16.0, 1360.0];
/// Where the elbow, the wrist and the knuckles are along the arm from the shoulder joint.
pub(crate) const ELBOW_AT: f64 = 300.0;
pub(crate) const WRIST_AT: f64 = 535.0;
pub(crate) const FIST_END_AT: f64 = 645.0;
/// Turn of the feet outward, in degrees.
const TOE_OUT_DEG: f64 = 8.0;
/// Below the ankle, on the floor.
pub(crate) const ANKLE_ON_FLOOR: Point = [119.0, 26.0, 0.0];

/// Trunk: height, half breadth, y of the greatest breadth, front, back, exponent.
const TRUNK: &[(f64, [f64; 5])] = &[
    (818.0, [108.0, 10.0, -62.0, 70.0, 2.0]),
    (840.0, [146.0, 10.0, -84.0, 96.0, 2.2]),
    (872.0, [168.0, 8.0, -99.0, 112.0, 2.4]),
    (930.0, [170.0, 4.0, -108.0, 108.0, 2.5]),
    (980.0, [163.0, 0.0, -113.0, 97.0, 2.5]),
    (1023.0, [154.0, -4.0, -114.0, 90.0, 2.45]),
    (1070.0, [147.0, -4.0, -109.0, 90.0, 2.35]),
    (1110.0, [149.0, 0.0, -107.0, 97.0, 2.3]),
    (1170.0, [158.0, 4.0, -110.0, 111.0, 2.35]),
    (1238.0, [165.0, 10.0, -116.0, 124.0, 2.45]),
    (1280.0, [166.0, 14.0, -114.0, 129.0, 2.45]),
    (1320.0, [170.0, 18.0, -104.0, 129.0, 2.4]),
    (1355.0, [175.0, 20.0, -90.0, 125.0, 2.35]),
    (1380.0, [172.0, 22.0, -77.0, 120.0, 2.3]),
    (1400.0, [154.0, 25.0, -65.0, 114.0, 2.2]),
    (1420.0, [122.0, 29.0, -53.0, 107.0, 2.1]),
    (1440.0, [92.0, 32.0, -40.0, 99.0, 2.0]),
    (1462.0, [70.0, 34.0, -24.0, 90.0, 2.0]),
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
    (60.0, [119.0, 26.0, 33.0, 33.0, 40.0, 34.0, 2.1]),
    (110.0, [119.0, 23.0, 33.0, 33.0, 40.0, 35.0, 2.0]),
    (150.0, [118.0, 21.0, 35.0, 35.0, 41.0, 36.0, 2.0]),
    (215.0, [117.0, 17.0, 43.0, 43.0, 50.0, 41.0, 2.0]),
    (285.0, [115.0, 13.0, 54.0, 51.0, 67.0, 46.0, 2.0]),
    (345.0, [113.0, 10.0, 59.0, 56.0, 75.0, 50.0, 2.0]),
    (395.0, [112.0, 6.0, 57.0, 54.0, 68.0, 53.0, 2.0]),
    (435.0, [111.0, 3.0, 54.0, 53.0, 60.0, 57.0, 2.1]),
    (471.0, [110.0, 0.0, 55.0, 55.0, 58.0, 62.0, 2.2]),
    (510.0, [109.0, 0.0, 58.0, 59.0, 63.0, 66.0, 2.1]),
    (580.0, [106.0, -1.0, 66.0, 67.0, 76.0, 79.0, 2.05]),
    (650.0, [103.0, 0.0, 73.0, 77.0, 87.0, 91.0, 2.05]),
    (720.0, [100.0, 2.0, 77.0, 86.0, 96.0, 97.0, 2.1]),
    (780.0, [97.0, 5.0, 80.0, 91.0, 101.0, 99.0, 2.15]),
    (840.0, [96.0, 8.0, 80.0, 91.0, 100.0, 98.0, 2.2]),
    (900.0, [92.0, 8.0, 78.0, 86.0, 92.0, 92.0, 2.2]),
];

/// Arm along its axis from the shoulder joint: centre (outward, backward), radii outward, inward, backward, forward, exponent.
const ARM: &[(f64, Section)] = &[
    (-8.0, [-4.0, 2.0, 46.0, 44.0, 55.0, 55.0, 2.1]),
    (30.0, [0.0, 2.0, 54.0, 46.0, 59.0, 58.0, 2.1]),
    (70.0, [0.0, 1.0, 55.0, 46.0, 57.0, 56.0, 2.05]),
    (115.0, [0.0, 0.0, 50.0, 46.0, 54.0, 52.0, 2.0]),
    (165.0, [0.0, 0.0, 46.0, 45.0, 52.0, 50.0, 2.0]),
    (215.0, [0.0, 0.0, 44.0, 44.0, 48.0, 46.0, 2.0]),
    (260.0, [0.0, 0.0, 43.0, 42.0, 44.0, 42.0, 2.05]),
    (300.0, [0.0, 0.0, 43.0, 41.0, 44.0, 40.0, 2.15]),
    (345.0, [0.0, -5.0, 44.0, 42.0, 43.0, 44.0, 2.1]),
    (385.0, [0.0, -14.0, 41.0, 40.0, 41.0, 43.0, 2.05]),
    (430.0, [0.0, -24.0, 35.0, 34.0, 37.0, 38.0, 2.0]),
    (485.0, [0.0, -36.0, 26.0, 25.0, 32.0, 32.0, 2.0]),
    (535.0, [0.0, -46.0, 21.5, 21.0, 30.0, 30.0, 2.1]),
    (560.0, [-1.0, -50.0, 23.0, 23.0, 35.0, 35.0, 2.3]),
    (585.0, [-4.0, -53.0, 26.0, 29.0, 40.0, 40.0, 2.6]),
    (612.0, [-6.0, -56.0, 28.0, 32.0, 41.0, 41.0, 2.7]),
];

/// Foot along its length from below the ankle: centre (outward, up), radii outward, inward, down, up, exponent.
const FOOT: &[(f64, Section)] = &[
    (-38.0, [0.0, 8.0, 26.0, 26.0, 30.0, 48.0, 2.2]),
    (-15.0, [0.0, 8.0, 33.0, 33.0, 30.0, 62.0, 2.2]),
    (15.0, [0.0, 8.0, 35.0, 35.0, 30.0, 68.0, 2.1]),
    (45.0, [0.0, 8.0, 35.0, 35.0, 30.0, 60.0, 2.0]),
    (80.0, [1.0, 8.0, 38.0, 37.0, 30.0, 46.0, 2.1]),
    (115.0, [1.0, 8.0, 44.0, 42.0, 30.0, 34.0, 2.2]),
    (145.0, [0.0, 8.0, 47.0, 46.0, 30.0, 25.0, 2.4]),
    (172.0, [-4.0, 8.0, 43.0, 43.0, 28.0, 19.0, 2.5]),
    (192.0, [-8.0, 8.0, 33.0, 35.0, 26.0, 15.0, 2.5]),
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
            trunk: Loft::new(origin, (back, up), &upright(TRUNK), (15.0, 30.0), 8.0),
            neck: Loft::new([0.0, 40.0, 1425.0], (back, [0.0, -0.26, 1.0]), neck, (20.0, 20.0), 8.0),
            head: Loft::new(origin, (back, up), &upright(HEAD), (8.0, 70.0), 5.0),
            arm: Loft::new(SHOULDER, (back, [sin, -0.05, -cos]), ARM, (42.0, 33.0), 8.0),
            leg: Loft::new(origin, (back, up), LEG, (30.0, 40.0), 10.0),
            foot: Loft::new(ANKLE_ON_FLOOR, (up, [tsin, -tcos, 0.0]), &foot, (16.0, 18.0), 6.0),
        }
    }
}
