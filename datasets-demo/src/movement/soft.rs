//! Soft tissue that lags behind the body: a damped spring for each vertex.
//!
//! The offset o of a soft vertex from its place on the skeleton follows o'' + 2 z w o' + w^2 o = -a, a the acceleration of that
//! place; it is drawn with the vertex's softness. Frequency w / 2 pi and damping z are kept as ground truth.

use formkin_geometry::Point;
use serde::{Deserialize, Serialize};

/// The spring of one region.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spring {
    /// The template's region.
    pub region: String,
    /// Natural frequency, Hz.
    pub frequency_hz: f64,
    /// Damping ratio.
    pub damping: f64,
    /// How much of the swing the softest vertex takes.
    pub gain: f64,
}

/// The state of one vertex.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Swing {
    offset: Point,
    speed: Point,
}

impl Swing {
    /// One step of `dt` under an even acceleration, exactly (constant coefficients, underdamped).
    pub(crate) fn step(&mut self, spring: &Spring, acceleration: Point, dt: f64) -> Point {
        let w = std::f64::consts::TAU * spring.frequency_hz;
        let z = spring.damping.clamp(0.0, 0.99);
        let wd = w * (1.0 - z * z).sqrt();
        let (sin, cos) = (wd * dt).sin_cos();
        let fade = (-z * w * dt).exp();
        for c in 0..3 {
            let rest = -acceleration[c] / (w * w);
            let (x, v) = (self.offset[c] - rest, self.speed[c]);
            let b = (v + z * w * x) / wd;
            self.offset[c] = rest + fade * (x * cos + b * sin);
            self.speed[c] = fade * (v * cos - (w * w * x + z * w * v) / wd * sin);
        }
        self.offset
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spring_swings_at_its_damped_frequency_and_settles_at_a_over_w2() {
        let spring = Spring { region: "r".into(), frequency_hz: 4.0, damping: 0.2, gain: 1.0 };
        let w = std::f64::consts::TAU * 4.0;
        let mut swing = Swing::default();
        let dt = 1e-3;
        let mut crossings = Vec::new();
        let mut last = 0.0;
        for i in 1..=3000 {
            let o = swing.step(&spring, [0.0, 0.0, 1000.0], dt)[2] + 1000.0 / (w * w);
            if last > 0.0 && o <= 0.0 {
                crossings.push(f64::from(i) * dt);
            }
            last = o;
        }
        assert!(last.abs() < 1e-6);
        let period = crossings[1] - crossings[0];
        let damped = 4.0 * (1.0f64 - 0.04).sqrt();
        assert!((1.0 / period - damped).abs() < 0.05, "{period}");
    }
}
