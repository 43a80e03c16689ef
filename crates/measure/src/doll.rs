//! A doll of tubes for tests: its true dimensions are known in closed form.

use std::f64::consts::TAU;
use std::sync::Arc;

use formkin_geometry::{Joint, Mesh, Point, Template, Topology};

/// Points around a tube.
pub(crate) const AROUND: usize = 360;

/// A closed tube along z about (x, y), its radii a (to the side) and b (to the front) by height.
struct Tube {
    low: f64,
    high: f64,
    rings: usize,
    at: [f64; 2],
    radii: fn(f64) -> [f64; 2],
}

/// Round; the radius is least, 130, at 1000, and largest, 170, at 1300.
fn torso(z: f64) -> [f64; 2] {
    let r = 150.0 - 20.0 * ((z - 1000.0) / 300.0 * std::f64::consts::PI).cos();
    [r, r]
}

/// Torso 800-1400 (radius 130 at z = 1000, 170 at 1300), arms of radius 40 at x = +-230 from 700 to 1350, legs of radius 70 at x = +-90 from 0 to 780.
/// The parts do not touch: five closed surfaces.
pub(crate) fn doll() -> Template {
    let tubes = [
        Tube { low: 800.0, high: 1400.0, rings: 121, at: [0.0, 0.0], radii: torso },
        Tube { low: 700.0, high: 1350.0, rings: 66, at: [230.0, 10.0], radii: |_| [40.0, 40.0] },
        Tube { low: 700.0, high: 1350.0, rings: 66, at: [-230.0, 10.0], radii: |_| [40.0, 40.0] },
        Tube { low: 0.0, high: 780.0, rings: 40, at: [90.0, 5.0], radii: |_| [70.0, 70.0] },
        Tube { low: 0.0, high: 780.0, rings: 40, at: [-90.0, 5.0], radii: |_| [70.0, 70.0] },
    ];
    let names = ["torso", "arm_left", "arm_right", "leg_left", "leg_right"];
    let (mut p, mut t): (Vec<Point>, Vec<[u32; 3]>) = (Vec::new(), Vec::new());
    let mut starts = Vec::new();
    for tube in &tubes {
        let base = p.len();
        starts.push(base);
        let id = |r: usize, a: usize| (base + r * AROUND + a % AROUND) as u32;
        for r in 0..tube.rings {
            let z = tube.low + (tube.high - tube.low) * r as f64 / (tube.rings - 1) as f64;
            let [a, b] = (tube.radii)(z);
            for k in 0..AROUND {
                let w = TAU * k as f64 / AROUND as f64;
                p.push([tube.at[0] + a * w.cos(), tube.at[1] + b * w.sin(), z]);
            }
        }
        for r in 0..tube.rings - 1 {
            for k in 0..AROUND {
                t.push([id(r, k), id(r, k + 1), id(r + 1, k + 1)]);
                t.push([id(r, k), id(r + 1, k + 1), id(r + 1, k)]);
            }
        }
        let (low, high) = (p.len() as u32, p.len() as u32 + 1);
        p.push([tube.at[0], tube.at[1], tube.low]);
        p.push([tube.at[0], tube.at[1], tube.high]);
        for k in 0..AROUND {
            t.push([low, id(0, k + 1), id(0, k)]);
            t.push([high, id(tube.rings - 1, k), id(tube.rings - 1, k + 1)]);
        }
    }
    starts.push(p.len());
    let topology = Arc::new(Topology::new(p.len(), t).unwrap());
    let mut template = Template::bare(Mesh::new(topology, p).unwrap());
    for (i, name) in names.iter().enumerate() {
        template.regions.insert((*name).to_owned(), (starts[i] as u32..starts[i + 1] as u32).collect());
    }
    // (name, tube, ring, point around); the front is -y, at 270 of 360
    for (name, tube, ring, at) in [
        ("chest_front", 0, 100, 270),
        ("chest_left", 0, 100, 0),
        ("chest_right", 0, 100, 180),
        ("waist_front", 0, 40, 270),
        ("waist_back", 0, 40, 90),
        ("collar_front", 0, 120, 270),
        ("collar_back", 0, 120, 90),
        ("hip_front", 0, 4, 270),
        ("elbow_left", 1, 30, 0),
        ("shoulder_left", 1, 60, 0),
        ("elbow_right", 2, 30, 180),
        ("shoulder_right", 2, 60, 180),
        ("knee_left", 3, 20, 270),
        ("knee_right", 4, 20, 270),
    ] {
        template.landmarks.insert(name.to_owned(), (starts[tube] + ring * AROUND + at) as u32);
    }
    template.paths.insert(
        "down_the_front".to_owned(),
        vec![
            template.landmarks["collar_front"],
            template.landmarks["chest_front"],
            template.landmarks["waist_front"],
        ],
    );
    for (name, tube, ring) in [("arm_top", 1, 60), ("arm_low", 1, 5)] {
        let first = (starts[tube] + ring * AROUND) as u32;
        template.joints.push(Joint {
            name: name.to_owned(),
            parent: None,
            ring: (first..first + AROUND as u32).collect(),
        });
    }
    template.validate().unwrap();
    template
}

/// Dimensions of every kind on the doll.
pub(crate) const FILE: &str = r#"
[frame]
left = ["chest_left", "shoulder_left"]
right = ["chest_right", "shoulder_right"]

[[dimension]]
name = "stature"
kind = "height"
at = { furthest = "up" }
[[dimension]]
name = "knee_over_elbow"
kind = "height"
at = "elbow_left"
from = "knee_left"
[[dimension]]
name = "chest_girth"
kind = "girth"
at = "chest_front"
region = "torso"
[[dimension]]
name = "waist_girth"
kind = "girth"
between = ["hip_front", "chest_front"]
search = "least"
around = ["waist_front", "waist_back"]
[[dimension]]
name = "largest_girth"
kind = "girth"
between = ["waist_front", "collar_front"]
search = "largest"
region = "torso"
unit = "cm"
[[dimension]]
name = "arm_girth"
kind = "girth"
between = ["joint:arm_low", "joint:arm_top"]
fraction = 0.5
axis = ["joint:arm_low", "joint:arm_top"]
region = "arm_left"
[[dimension]]
name = "chest_breadth"
kind = "breadth"
at = "chest_front"
region = "torso"
[[dimension]]
name = "chest_depth"
kind = "depth"
at = "chest_front"
without = ["arm_left", "arm_right"]
[[dimension]]
name = "shoulder_breadth"
kind = "breadth"
between = ["shoulder_left", "shoulder_right"]
[[dimension]]
name = "leg_depth"
kind = "depth"
region = "leg_left"
[[dimension]]
name = "elbows"
kind = "distance"
between = ["elbow_left", "elbow_right"]
[[dimension]]
name = "half_around"
kind = "path"
through = ["chest_left", "chest_front", "chest_right"]
[[dimension]]
name = "front"
kind = "path"
path = "down_the_front"
[[dimension]]
name = "front_bridged"
kind = "path"
through = ["collar_front", "hip_front"]
bridged = true
[[dimension]]
name = "arm_area"
kind = "area"
region = "arm_left"
[[dimension]]
name = "volume"
kind = "volume"
unit = "litres"
[[dimension]]
name = "corner"
kind = "angle"
at = ["chest_left", "chest_right"]
between = ["chest_left", "chest_front"]
[[dimension]]
name = "ratio"
kind = "derived"
formula = "waist_girth / chest_girth"
unit = "1"
"#;
