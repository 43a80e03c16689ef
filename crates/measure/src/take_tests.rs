use std::f64::consts::PI;

use formkin_geometry::{Mesh, ShapeArray};

use super::*;
use crate::doll::{AROUND, FILE, doll};
use crate::{MeasureError, tabulate, take_all};

fn named(dims: &Dimensions, row: &[Measured], name: &str) -> Measured {
    row[dims.position(name).unwrap()].clone()
}

fn value(dims: &Dimensions, row: &[Measured], name: &str) -> f64 {
    let m = named(dims, row, name);
    m.value.unwrap_or_else(|| panic!("{name}: {:?}", m.reason_missing))
}

#[test]
fn a_doll_has_the_dimensions_it_was_made_with() {
    let template = doll();
    let dims = Dimensions::from_toml(FILE).unwrap();
    dims.check(&template).unwrap();
    let row = dims.take(&template, template.mesh.positions());
    let polygon = AROUND as f64 * 2.0 * (PI / AROUND as f64).sin();
    for (name, expected, within) in [
        ("stature", 1400.0, 1e-9),
        ("knee_over_elbow", 600.0, 1e-9),
        ("chest_girth", polygon * 170.0, 1e-9),
        ("waist_girth", polygon * 130.0, 1e-3),
        ("largest_girth", polygon * 17.0, 1e-3),
        ("arm_girth", polygon * 40.0, 1e-9),
        ("chest_breadth", 340.0, 1e-9),
        ("chest_depth", 340.0, 1e-9),
        ("shoulder_breadth", 540.0, 1e-9),
        ("leg_depth", 140.0, 1e-9),
        ("elbows", 540.0, 1e-9),
        ("half_around", polygon * 85.0, 1e-2),
        ("corner", 90.0, 1e-9),
        ("ratio", 130.0 / 170.0, 1e-5),
    ] {
        let v = value(&dims, &row, name);
        assert!((v - expected).abs() < within, "{name}: {v}, not {expected}");
    }
    // the profile of the torso by quadrature
    let radius = |z: f64| 150.0 - 20.0 * ((z - 1000.0) / 300.0 * PI).cos();
    let profile = |low: f64, high: f64| -> f64 {
        let n = 10_000;
        (0..n)
            .map(|i| {
                let at = |i: f64| low + (high - low) * i / f64::from(n);
                (at(f64::from(i) + 1.0) - at(f64::from(i)))
                    .hypot(radius(at(f64::from(i) + 1.0)) - radius(at(f64::from(i))))
            })
            .sum()
    };
    assert!((value(&dims, &row, "front") - profile(1000.0, 1400.0)).abs() < 0.05);
    // the string from the collar (radius 160) past the belly of the chest to the hip (radius 160 at 820)
    let bridged = named(&dims, &row, "front_bridged");
    assert!((bridged.contour.unwrap() - profile(820.0, 1400.0)).abs() < 0.1);
    assert!(bridged.value.unwrap() < bridged.contour.unwrap() && bridged.value.unwrap() > 580.0);
    assert!((value(&dims, &row, "arm_area") - (polygon * 40.0 * 650.0 + 2.0 * PI * 1600.0)).abs() < 3.0);
    assert!(named(&dims, &row, "waist_girth").level_mm.is_some_and(|l| (l - 1000.0).abs() < 1.0));
    for m in &row {
        assert!(m.flags.is_empty() || m.trace.len() == 2, "{:?}", m.flags);
    }
    assert!(!named(&dims, &row, "chest_girth").trace.is_empty());
}

#[test]
fn a_cylinder_of_radius_150_has_a_girth_of_942_48() {
    let mut template = doll();
    let torso = template.regions["torso"].clone();
    let mut p = template.mesh.positions().to_vec();
    for v in torso {
        let q = &mut p[v as usize];
        let r = q[0].hypot(q[1]);
        if r > 0.0 {
            (q[0], q[1]) = (q[0] * 150.0 / r, q[1] * 150.0 / r);
        }
    }
    template.mesh = template.mesh.with_positions(p).unwrap();
    let dims = Dimensions::from_toml(FILE).unwrap();
    let row = dims.take(&template, template.mesh.positions());
    assert!((value(&dims, &row, "chest_girth") - 942.48).abs() < 0.05);
}

/// Every value after moving the body, beside the value before.
fn moved(file: &str, change: impl Fn(Point) -> Point) -> Vec<(String, f64, f64)> {
    let template = doll();
    let dims = Dimensions::from_toml(file).unwrap();
    let before = dims.take(&template, template.mesh.positions());
    let p: Vec<Point> = template.mesh.positions().iter().map(|&p| change(p)).collect();
    let after = dims.take(&template, &p);
    dims.definitions
        .iter()
        .zip(before.iter().zip(&after))
        .map(|(d, (a, b))| {
            let of = |m: &Measured| m.value.unwrap_or_else(|| panic!("{}: {:?}", d.name, m.reason_missing));
            (d.name.clone(), of(a), of(b))
        })
        .collect()
}

#[test]
fn turning_and_moving_the_body_change_nothing() {
    for degrees in [17.0f64, 90.0, 200.0] {
        let (s, c) = degrees.to_radians().sin_cos();
        for (name, a, b) in
            moved(FILE, |p| [c * p[0] - s * p[1] + 3000.0, s * p[0] + c * p[1] - 700.0, p[2] + 55.0])
        {
            assert!((a - b).abs() < 1e-3, "{name} at {degrees}: {a} {b}");
        }
    }
}

#[test]
fn a_larger_body_has_larger_dimensions_in_proportion() {
    for (name, a, b) in moved(FILE, |p| p.map(|c| 1.1 * c)) {
        let power = match name.as_str() {
            "corner" | "ratio" => 0,
            "arm_area" => 2,
            "volume" => 3,
            _ => 1,
        };
        let expected = a * 1.1f64.powi(power);
        assert!((b / expected - 1.0).abs() < 1e-6, "{name}: {b}, not {expected}");
    }
}

#[test]
fn a_mirrored_body_has_the_same_dimensions() {
    // mirrored in place: the left landmarks come to lie on the right, and the triangles turn inside out, as a
    // mirrored scan would have it before its triangles are turned back
    let template = doll();
    let dims = Dimensions::from_toml(FILE).unwrap();
    let before = dims.take(&template, template.mesh.positions());
    let turned = formkin_geometry::Topology::new(
        template.mesh.positions().len(),
        template.mesh.topology().triangles().iter().map(|&[a, b, c]| [a, c, b]).collect(),
    )
    .unwrap();
    let mirrored = template.mesh.positions().iter().map(|p| [-p[0], p[1], p[2]]).collect();
    let mut other = template.clone();
    other.mesh = Mesh::new(std::sync::Arc::new(turned), mirrored).unwrap();
    let after = dims.take(&other, other.mesh.positions());
    for (d, (a, b)) in dims.definitions.iter().zip(before.iter().zip(&after)) {
        let (a, b) = (a.value.unwrap(), b.value.unwrap());
        assert!((a - b).abs() < 0.02, "{}: {a} {b}", d.name);
    }
}

#[test]
fn broken_bodies_give_reasons_and_no_panic() {
    let template = doll();
    let dims = Dimensions::from_toml(FILE).unwrap();
    let n = template.mesh.positions().len();
    for body in [
        vec![[0.0; 3]; n],
        vec![[f64::NAN; 3]; n],
        vec![[f64::INFINITY; 3]; n],
        Vec::new(),
        vec![[1e300; 3]; n],
    ] {
        for (d, m) in dims.definitions.iter().zip(dims.take(&template, &body)) {
            assert!(m.value.is_some() != m.reason_missing.is_some(), "{}", d.name);
            assert!(m.value.is_none_or(f64::is_finite));
        }
    }
    let mut half = template.mesh.positions().to_vec();
    for p in half.iter_mut().step_by(7) {
        p[1] = f64::NAN;
    }
    let row = dims.take(&template, &half);
    assert!(row.iter().all(|m| m.flags.iter().any(|f| f.contains("not finite"))));
    let huge: Vec<Point> = template.mesh.positions().iter().map(|p| p.map(|c| c * 1000.0)).collect();
    let m = named(&dims, &dims.take(&template, &huge), "waist_girth");
    assert!(m.reason_missing.unwrap().contains("units"));
}

#[test]
fn hollows_and_ends_of_searches_are_flagged() {
    let template = doll();
    let file = r#"
[[dimension]]
name = "largest"
kind = "girth"
between = ["waist_front", "chest_front"]
search = "largest"
region = "torso"
[[dimension]]
name = "hollow"
kind = "girth"
at = "waist_front"
region = "torso"
[[dimension]]
name = "hollow_contour"
kind = "girth"
at = "waist_front"
region = "torso"
line = "contour"
[[dimension]]
name = "nowhere"
kind = "girth"
at = "elbow_left"
offset_mm = 9000
[[dimension]]
name = "not_there"
kind = "girth"
at = "knee_left"
region = "arm_left"
"#;
    let dims = Dimensions::from_toml(file).unwrap();
    let mut p = template.mesh.positions().to_vec();
    for v in &template.regions["torso"] {
        let q = &mut p[*v as usize];
        let dent = 1.0 - 0.5 * (-(q[0] / 50.0).powi(2)).exp();
        q[1] *= dent;
    }
    let row = dims.take(&template, &p);
    assert!(row[0].flags.iter().any(|f| f.contains("at an end")), "{:?}", row[0].flags);
    assert!(row[1].flags.iter().any(|f| f.contains("bridges a hollow")));
    assert!(row[1].contour.unwrap() > 1.03 * row[1].value.unwrap());
    assert_eq!(row[2].value, row[1].contour);
    assert!(row[3].reason_missing.as_ref().unwrap().contains("does not meet"));
    assert!(row[4].reason_missing.as_ref().unwrap().contains("arm_left"));
}

#[test]
fn a_girth_followed_through_a_movement_keeps_its_ring() {
    let template = doll();
    let dims = Dimensions::from_toml(FILE).unwrap();
    let taker = Taker::new(&dims, &template);
    let rest = template.mesh.positions();
    let follower = taker.follow(rest);
    for (d, (a, b)) in dims.definitions.iter().zip(taker.take(rest).iter().zip(follower.take(rest))) {
        assert!((a.value.unwrap() - b.value.unwrap()).abs() < 1e-9, "{}", d.name);
    }
    // lifted arms and a swelling chest, the whole body lying down: rings go along
    let frame: Vec<Point> = rest
        .iter()
        .map(|p| {
            let f = if p[2] > 1200.0 { 1.2 } else { 1.0 };
            [f * p[0], -p[2], f * p[1] + 500.0]
        })
        .collect();
    let row = follower.take(&frame);
    let before = taker.take(rest);
    let of = |row: &[Measured], name: &str| value(&dims, row, name);
    assert!((of(&row, "chest_girth") / of(&before, "chest_girth") - 1.2).abs() < 1e-9);
    assert!((of(&row, "waist_girth") / of(&before, "waist_girth") - 1.0).abs() < 1e-9);
}

#[test]
fn cohorts_are_measured_in_order_and_tabulated() {
    let template = doll();
    let dims = Dimensions::from_toml(FILE).unwrap();
    let mut source = ShapeArray::new(template.mesh.positions().len());
    for i in 0..35 {
        let f = 1.0 + 0.01 * f64::from(i);
        let p: Vec<Point> = template.mesh.positions().iter().map(|p| p.map(|c| f * c)).collect();
        source.push(&p).unwrap();
    }
    let steps = std::sync::Mutex::new(Vec::new());
    let rows =
        take_all(&dims, &template, &source, &|done, of| steps.lock().unwrap().push((done, of))).unwrap();
    assert_eq!(*steps.lock().unwrap(), [(32, 35), (35, 35)]);
    for (i, row) in rows.iter().enumerate() {
        assert!((value(&dims, row, "stature") - 1400.0 * (1.0 + 0.01 * i as f64)).abs() < 1e-9);
    }
    let ids: Vec<String> = (0..35).map(|i| format!("P{i}")).collect();
    let table = tabulate(&dims, "item", ids, &rows).unwrap();
    assert_eq!(table.number("volume").unwrap().header(), "volume_litres");
    assert_eq!(formkin_table::Table::parse_csv(&table.to_csv().unwrap(), "t", None).unwrap(), table);
    assert!(tabulate(&dims, "item", vec![], &rows).is_err());
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(one.install(|| take_all(&dims, &template, &source, &|_, _| ()).unwrap()), rows);
    let wrong = ShapeArray::new(3);
    assert!(matches!(
        take_all(&dims, &template, &wrong, &|_, _| ()),
        Err(MeasureError::VertexCount { shapes: 3, .. })
    ));
}

#[test]
fn basic_needs_no_definitions() {
    let template = doll();
    let b = crate::basic(template.mesh.topology(), template.mesh.positions());
    assert!(b.volume_mm3.is_some_and(|v| v > 6e7) && b.area_mm2.is_some() && b.centroid_size_mm.is_some());
    let nan = vec![[f64::NAN; 3]; template.mesh.positions().len()];
    assert_eq!(crate::basic(template.mesh.topology(), &nan).area_mm2, None);
}
