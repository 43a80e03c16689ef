//! The people of the demo against what they are made to be.
#![allow(clippy::unwrap_used)] // helpers of tests may panic

use formkin_datasets_demo::{DIMENSION_NAMES, DemoTemplate, FACTORS, Latents, Sex, target, template};
use formkin_geometry::Point;
use formkin_geometry::areas::volume;
use formkin_geometry::hull::hull_perimeter;
use formkin_geometry::section::{Plane, section_of};
use formkin_stats::gram::add_gram;
use formkin_stats::moments;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;

fn landmark(demo: &DemoTemplate, body: &[Point], name: &str) -> Point {
    body[demo.template().landmarks[name] as usize]
}

/// The taut girth at a landmark of the template, over the triangles of some regions.
fn girth(demo: &DemoTemplate, body: &[Point], name: &str, regions: &[&str]) -> f64 {
    let template = demo.template();
    let mut inside = vec![false; body.len()];
    for region in regions {
        for &v in &template.regions[*region] {
            inside[v as usize] = true;
        }
    }
    let triangles: Vec<u32> = (0..template.mesh.topology().triangles().len() as u32)
        .filter(|&t| template.mesh.topology().triangles()[t as usize].iter().all(|&v| inside[v as usize]))
        .collect();
    let height = landmark(demo, body, name)[2];
    let plane = Plane::horizontal(height);
    let loops = section_of(template.mesh.topology(), body, &plane, &triangles);
    loops
        .iter()
        .filter(|l| l.closed)
        .map(|l| hull_perimeter(&l.points, [0.0, 0.0, 1.0]))
        .fold(f64::NAN, f64::max)
}

#[test]
fn bodies_measure_what_they_are_aimed_at() {
    let demo = template(6_000, 3).unwrap();
    for i in 0..40 {
        let latents = demo.draw(i);
        let body = demo.person(&latents);
        let legs = ["thigh_left", "thigh_right", "torso"];
        for (name, at, regions, tolerance) in [
            ("chest_girth", "sternum", &["torso"][..], 0.025),
            ("waist_girth", "navel", &["torso"], 0.02),
            ("hip_girth", "hip_front", &legs, 0.01),
            ("calf_girth", "calf_back_left", &["shank_left"], 0.02),
        ] {
            let (got, aim) = (girth(&demo, &body, at, regions), latents.aimed_at(name).unwrap());
            assert!((got / aim - 1.0).abs() < tolerance, "{i} {name}: {got} for {aim}");
        }
        let stature = body.iter().map(|p| p[2]).fold(f64::NEG_INFINITY, f64::max);
        assert!((stature - latents.aimed_at("stature").unwrap()).abs() < 4.0, "{stature}");
        let crotch = landmark(&demo, &body, "crotch")[2];
        assert!((crotch - latents.aimed_at("crotch_height").unwrap()).abs() < 14.0);
        let acromion = landmark(&demo, &body, "acromion_left")[2];
        assert!((acromion - latents.aimed_at("acromion_height").unwrap()).abs() < 12.0);
    }
}

#[test]
fn means_and_spreads_aimed_at_are_those_of_the_crews() {
    let demo = template(3_000, 11).unwrap();
    let crew: Vec<Latents> = (0..24_000).map(|i| demo.draw(i)).collect();
    let men = crew.iter().filter(|l| l.sex == Sex::Male).count() as f64 / crew.len() as f64;
    assert!((men - 0.6).abs() < 0.03);
    for sex in [Sex::Male, Sex::Female] {
        for name in DIMENSION_NAMES {
            let values: Vec<f64> =
                crew.iter().filter(|l| l.sex == sex).filter_map(|l| l.aimed_at(name)).collect();
            if values.is_empty() {
                continue;
            }
            let (mean, sd) = target(sex, name).unwrap();
            assert!((moments::mean(&values, None).unwrap() / mean - 1.0).abs() < 0.01, "{name}");
            let got = moments::sd(&values, None).unwrap();
            assert!((got / sd - 1.0).abs() < 0.03, "{name}: SD {got} for {sd}");
        }
        let ages: Vec<f64> = crew.iter().filter(|l| l.sex == sex).map(|l| l.age_years).collect();
        let (mean, _) = target(sex, "age").unwrap();
        assert!((moments::mean(&ages, None).unwrap() - mean).abs() < 1.0);
    }
}

#[test]
fn masses_and_proportions_are_those_of_people() {
    let demo = template(4_000, 5).unwrap();
    let mut masses: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
    let mut ratios: Vec<Vec<f64>> = vec![Vec::new(); 9];
    for i in 0..150 {
        let latents = demo.draw(i);
        let body = demo.person(&latents);
        let litres = volume(demo.template().mesh.topology(), &body) / 1e6;
        assert!((0.95..=1.10).contains(&latents.density_kg_per_l));
        masses[usize::from(latents.sex == Sex::Male)].push(litres * latents.density_kg_per_l);
        let stature = body.iter().map(|p| p[2]).fold(f64::NEG_INFINITY, f64::max);
        let at = |name: &str| landmark(&demo, &body, name);
        let between = |a: &str, b: &str| formkin_geometry::vector::distance(at(a), at(b));
        // fractions of stature: Drillis & Contini 1966 as printed by Winter 2009, second-hand
        let found = [
            (at("malleolus_lateral_left")[2] / 0.039, "ankle"),
            (at("mid_patella_left")[2] / 0.285, "knee"),
            (at("acromion_left")[2] / 0.818, "shoulder"),
            (at("chin")[2] / 0.870, "chin"),
            (at("eye_left")[2] / 0.936, "eye"),
            (between("acromion_left", "elbow_lateral_left") / 0.186, "upper arm"),
            (between("elbow_lateral_left", "wrist_left") / 0.146, "forearm"),
            (between("heel_left", "toe_left") / 0.152, "foot length"),
            // hips of women are broader than the handbook's one figure: for them that of the 2012 US Army survey (hip breadth over
            // stature, 353.8 / 1628.5; Gordon et al. 2014), which for men (.197) is near the handbook's
            (
                between("trochanter_left", "trochanter_right")
                    / if latents.sex == Sex::Male { 0.191 } else { 353.8 / 1628.5 },
                "hip width",
            ),
        ];
        for (k, (value, _)) in found.iter().enumerate() {
            ratios[k].push(value / stature);
        }
    }
    let names =
        ["ankle", "knee", "shoulder", "chin", "eye", "upper arm", "forearm", "foot length", "hip width"];
    for (name, values) in names.iter().zip(&ratios) {
        let mean = moments::mean(values, None).unwrap();
        assert!((mean - 1.0).abs() < 0.10, "{name}: {mean}");
    }
    for (sex, values) in [(Sex::Female, &masses[0]), (Sex::Male, &masses[1])] {
        let (mean, sd) = target(sex, "weight").unwrap();
        let (m, s) = (moments::mean(values, None).unwrap(), moments::sd(values, None).unwrap());
        assert!((m / mean - 1.0).abs() < 0.06, "{sex:?} mass {m} for {mean}");
        assert!((s / sd - 1.0).abs() < 0.30, "{sex:?} mass SD {s} for {sd}");
    }
}

/// Principal components of people without stance and almost without noise lie in the space of the factors.
#[test]
fn principal_components_find_the_factors() {
    const PEOPLE: usize = 240;
    const DIRECTIONS: usize = FACTORS + 1;
    let demo = template(3_000, 9).unwrap();
    let mut shapes = Array2::<f64>::zeros((PEOPLE, 9_000));
    let mut causes = Array2::<f64>::zeros((PEOPLE, DIRECTIONS));
    for i in 0..PEOPLE {
        let latents = demo.draw(i);
        let body = demo.scan(&demo.person(&latents), &latents, (i, 1), false, 0.2);
        for (k, x) in body.as_flattened().iter().enumerate() {
            shapes[[i, k]] = *x;
        }
        causes[[i, 0]] = f64::from(u8::from(latents.sex == Sex::Male));
        for f in 0..FACTORS {
            causes[[i, f + 1]] = latents.factors[f];
        }
    }
    for matrix in [&mut shapes, &mut causes] {
        let mean = matrix.mean_axis(ndarray::Axis(0)).unwrap();
        *matrix -= &mean;
    }
    let mut gram = Array2::<f64>::zeros((PEOPLE, PEOPLE));
    add_gram(&mut gram, shapes.view(), shapes.view()).unwrap();
    let eigen = symmetric_eigen(&gram).unwrap();
    // an orthonormal basis of the causes over the people (Gram-Schmidt)
    let mut basis: Vec<ndarray::Array1<f64>> = Vec::new();
    for c in 0..DIRECTIONS {
        let mut q = causes.column(c).to_owned();
        for b in &basis {
            let d = q.dot(b);
            q -= &(b * d);
        }
        let n = q.dot(&q).sqrt();
        basis.push(q / n);
    }
    // how much of each component's scores the causes explain, and how much of each cause the first components hold
    for k in 0..DIRECTIONS - 2 {
        let v = eigen.vectors.column(k);
        let held: f64 = basis.iter().map(|b| b.dot(&v).powi(2)).sum();
        assert!(held > 0.85, "component {k}: {held}");
    }
    let total: f64 = eigen.values.iter().sum();
    let kept: f64 = eigen.values[..DIRECTIONS].iter().sum::<f64>() / total;
    assert!(kept > 0.985, "{kept}");
    for c in 0..DIRECTIONS {
        let q = causes.column(c);
        let held: f64 = (0..16).map(|k| eigen.vectors.column(k).dot(&q).powi(2)).sum::<f64>() / q.dot(&q);
        assert!(held > 0.9, "cause {c}: {held}");
    }
    // the subspace angle: singular values of basis^T vectors, smallest cosine over the leading directions
    let m =
        Array2::from_shape_fn((DIRECTIONS, DIRECTIONS - 2), |(r, c)| basis[r].dot(&eigen.vectors.column(c)));
    let angles = symmetric_eigen(&m.t().dot(&m)).unwrap();
    let least = angles.values.last().copied().unwrap_or(0.0).sqrt();
    assert!(least > 0.9, "smallest cosine {least}");
}

#[test]
fn a_person_depends_on_the_seed_and_the_number_alone() {
    let a = template(3_000, 5).unwrap();
    let b = template(3_000, 5).unwrap();
    let c = template(3_000, 6).unwrap();
    assert_eq!(a.template(), b.template());
    assert_eq!(a.draw(7), b.draw(7));
    assert_ne!(a.draw(7).factors, c.draw(7).factors);
    let latents = a.draw(7);
    let body = a.person(&latents);
    assert_eq!(body, b.person(&latents));
    let scan = |t: &DemoTemplate, session| t.scan(&body, &latents, (7, session), true, 1.0);
    assert_eq!(scan(&a, 1), scan(&b, 1));
    assert_ne!(scan(&a, 1), scan(&a, 2));
    // exact mirror pairs before stance and noise
    let mirror = a.template().mirror.as_ref().unwrap();
    for (v, &m) in mirror.iter().enumerate() {
        assert_eq!([-body[v][0], body[v][1], body[v][2]], body[m as usize]);
    }
}
