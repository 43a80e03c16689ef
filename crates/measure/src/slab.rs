//! What lies between two parallel planes: area of skin, and volume of a closed surface.
//!
//! For a unit normal n the field (n . x - c) n has divergence 1 and is zero on the plane n . x = c. So the volume below that plane is the surface integral of
//! (n . x - c) n . dA over the surface below it, and the cap in the plane adds nothing (the divergence theorem); what lies between two planes is the difference of two such
//! volumes. No cap is ever built, and the answer is exact for a triangulated surface.

use formkin_geometry::vector::{cross, dot, norm, sub, unit};
use formkin_geometry::{Point, areas};

use crate::body::{Body, UP};
use crate::definition::Slab;

/// The space between two planes of one body.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Between {
    normal: Point,
    low: f64,
    high: f64,
}

impl Between {
    pub(crate) fn of(body: &Body, slab: &Slab) -> Result<Self, String> {
        let normal = match &slab.axis {
            None => UP,
            Some([a, b]) => {
                unit(sub(body.place(b)?, body.place(a)?)).ok_or("both ends of its axis are at one point")?
            }
        };
        let [a, b] = [body.place(&slab.ends[0])?, body.place(&slab.ends[1])?].map(|p| dot(normal, p));
        Ok(Self { normal, low: a.min(b), high: a.max(b) })
    }

    /// What a triangle adds to the volume between the planes, in mm3.
    pub(crate) fn volume(&self, t: [Point; 3]) -> f64 {
        let across = dot(self.normal, areas::vector_area(t[0], t[1], t[2]));
        let s = t.map(|p| dot(self.normal, p));
        across * (below(s.map(|s| s - self.high)).1 - below(s.map(|s| s - self.low)).1)
    }

    /// The area of a triangle between the planes, in mm2.
    pub(crate) fn area(&self, t: [Point; 3]) -> f64 {
        let s = t.map(|p| dot(self.normal, p));
        let share = below(s.map(|s| s - self.high)).0 - below(s.map(|s| s - self.low)).0;
        if share == 0.0 { 0.0 } else { 0.5 * norm(cross(sub(t[1], t[0]), sub(t[2], t[0]))) * share }
    }
}

/// Of a function that is linear on a triangle, by its values at the corners: the share of the triangle where it is negative, and the mean over the triangle of its negative part.
fn below(mut s: [f64; 3]) -> (f64, f64) {
    if s.iter().all(|s| *s <= 0.0) {
        return (1.0, (s[0] + s[1] + s[2]) / 3.0);
    }
    if s.iter().all(|s| *s >= 0.0) {
        return (0.0, 0.0);
    }
    s.sort_by(f64::total_cmp);
    let [a, b, c] = s;
    if b >= 0.0 {
        // the corner a alone is below: a triangle like the whole, with values a, 0, 0
        let share = a / (a - b) * (a / (a - c));
        (share, share * a / 3.0)
    } else {
        // the corner c alone is above
        let share = c / (c - a) * (c / (c - b));
        (1.0 - share, (a + b + c) / 3.0 - share * c / 3.0)
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::doll::{AROUND, FILE, doll};
    use crate::{Dimensions, Measured};

    #[test]
    fn the_part_below_a_level_is_that_of_a_fine_grid() {
        for s in [[-1.0, 2.0, 3.0], [-2.0, -1.0, 0.5], [1.0, 2.0, 3.0], [-1.0, -2.0, -3.0], [0.0, -1.0, 0.0]]
        {
            let n = 600;
            let (mut share, mut mean, mut all) = (0.0, 0.0, 0.0);
            for i in 0..n {
                for j in 0..n - i {
                    let (u, v) = ((f64::from(i) + 0.33) / f64::from(n), (f64::from(j) + 0.33) / f64::from(n));
                    let f = s[0] * (1.0 - u - v) + s[1] * u + s[2] * v;
                    all += 1.0;
                    share += f64::from(u8::from(f < 0.0));
                    mean += f.min(0.0);
                }
            }
            let (a, b) = below(s);
            assert!((a - share / all).abs() < 0.01 && (b - mean / all).abs() < 0.02, "{s:?}: {a} {b}");
        }
    }

    #[test]
    fn slices_of_a_doll_have_the_volumes_and_areas_of_cylinders() {
        let template = doll();
        let more = r#"
[[dimension]]
name = "legs"
kind = "volume"
between = ["knee_left", "joint:arm_low"]
[[dimension]]
name = "leg"
kind = "volume"
region = "leg_left"
between = [{ furthest = "down" }, "knee_left"]
[[dimension]]
name = "leg_across"
kind = "volume"
region = "leg_left"
between = ["knee_left", { furthest = "down", region = "leg_left" }]
axis = ["joint:arm_top", "joint:arm_low"]
[[dimension]]
name = "leg_skin"
kind = "area"
region = "leg_left"
between = [{ furthest = "down" }, "knee_left"]
[[dimension]]
name = "low"
kind = "volume"
between = [{ furthest = "down" }, "waist_front"]
[[dimension]]
name = "high"
kind = "volume"
between = ["waist_front", { furthest = "up" }]
[[dimension]]
name = "whole"
kind = "volume"
[[dimension]]
name = "tilted"
kind = "girth"
plane = ["waist_front", "chest_left", "chest_right"]
region = "torso"
"#;
        let dims = Dimensions::from_toml(&format!(
            "{FILE}{}",
            more.replace("\"volume\"", "\"volume\"\nunit = \"mm3\"")
                .replace("\"area\"", "\"area\"\nunit = \"mm2\"")
        ))
        .unwrap();
        dims.check(&template).unwrap();
        let row = dims.take(&template, template.mesh.positions());
        let of = |name: &str| -> Measured { row[dims.position(name).unwrap()].clone() };
        let value =
            |name: &str| of(name).value.unwrap_or_else(|| panic!("{name}: {:?}", of(name).reason_missing));
        // the area of a regular polygon in a circle of radius 1
        let polygon = AROUND as f64 / 2.0 * (2.0 * PI / AROUND as f64).sin();
        let knee = 400.0;
        for (name, expected) in [
            ("leg", polygon * 4900.0 * knee),
            ("leg_across", polygon * 4900.0 * knee),
            ("leg_skin", 2.0 * AROUND as f64 * (PI / AROUND as f64).sin() * 70.0 * knee),
        ] {
            assert!((value(name) / expected - 1.0).abs() < 1e-9, "{name}: {}, not {expected}", value(name));
        }
        assert!((value("low") + value("high") - value("whole")).abs() < 1e-6 * value("whole"));
        assert!(value("legs") > 2.0 * polygon * 4900.0 * 300.0);
        // longer than the level girth of the mean radius, shorter than around a cylinder of the largest
        let tilted = value("tilted");
        assert!(tilted > 2.0 * PI * 145.0 && tilted < 2.0 * PI * 170.0 * 1.7, "{tilted}");
        assert!(of("tilted").trace[0].len() > 20);
    }
}
