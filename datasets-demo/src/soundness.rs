//! No triangle of any person or frame turns over or vanishes.

use formkin_geometry::Point;
use formkin_geometry::areas::{vector_area, vertex_normals};
use formkin_geometry::vector::{add, dot, norm, scale, sub};

use crate::movement::clip::Movement;
use crate::movement::skeleton::{Skeleton, Skinning, duals};
use crate::{DemoTemplate, Latents, template};

/// Triangles of a body that are turned over against given outward directions, or have almost no area.
fn turned(demo: &DemoTemplate, body: &[Point], outward: &[Point]) -> Vec<(usize, Point)> {
    let triangles = demo.template().mesh.topology().triangles();
    (0..triangles.len())
        .filter_map(|t| {
            let [a, b, c] = triangles[t].map(|v| body[v as usize]);
            let n = vector_area(a, b, c);
            (dot(n, outward[t]) <= 0.0 || norm(n) < 1e-3).then_some((t, a))
        })
        .collect()
}

fn normals(demo: &DemoTemplate, body: &[Point]) -> Vec<Point> {
    demo.template()
        .mesh
        .topology()
        .triangles()
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| body[v as usize]);
            vector_area(a, b, c)
        })
        .collect()
}

fn check_people(vertices: usize, people: usize) {
    let demo = template(vertices, 77).unwrap();
    let template_normals = normals(&demo, demo.template().mesh.positions());
    for i in 0..people {
        let latents = demo.draw(i);
        let body = demo.person(&latents);
        let bad = turned(&demo, &body, &template_normals);
        assert!(bad.is_empty(), "person {i} {latents:?}: {} turned, the first at {:?}", bad.len(), bad[0]);
        let scan = demo.scan(&body, &latents, (i, 1), true, 1.0);
        // headings are a few degrees: normals of the body still tell inside from outside
        let bad = turned(&demo, &scan, &normals(&demo, &body));
        assert!(bad.is_empty(), "scan {i}: {} turned, the first at {:?}", bad.len(), bad[0]);
    }
}

/// A triangle is turned over where its normal is against the rest normal carried along by the skin's own rotation.
fn check_frames(vertices: usize, people: usize, step: usize) {
    let demo = template(vertices, 78).unwrap();
    let triangles = demo.template().mesh.topology().triangles();
    for i in 0..people {
        let latents: Latents = demo.draw(i);
        let body = demo.person(&latents);
        let skeleton = Skeleton::new(demo.base(), &body);
        let skinning = Skinning::new(demo.base());
        let rest_normals = normals(&demo, &body);
        let vertex = vertex_normals(demo.template().mesh.topology(), &body);
        assert_eq!(vertex.len(), body.len());
        for movement in Movement::ALL {
            let frames = demo.frames(&body, &latents, movement, 60.0);
            for (k, frame) in frames.take(60).enumerate().step_by(step) {
                let motions = duals(&skeleton.motions(&movement.pose(&skeleton, k as f64 / 60.0)));
                let carried: Vec<Point> = triangles
                    .iter()
                    .zip(&rest_normals)
                    .map(|(t, n)| {
                        let ahead = scale(*n, 1.0 / norm(*n));
                        t.iter().fold([0.0; 3], |sum, &v| {
                            let p = body[v as usize];
                            let from = skinning.place(v as usize, p, &motions);
                            add(sum, sub(skinning.place(v as usize, add(p, ahead), &motions), from))
                        })
                    })
                    .collect();
                let bad = turned(&demo, &frame, &carried);
                assert!(
                    bad.is_empty(),
                    "{} of person {i} {latents:?}, frame {k}: {} turned, at {:?}",
                    movement.name(),
                    bad.len(),
                    bad.iter().map(|b| body[triangles[b.0][0] as usize].map(f64::round)).collect::<Vec<_>>()
                );
            }
        }
    }
}

#[test]
fn no_triangle_of_a_hundred_people_is_turned_over() {
    check_people(6_000, 100);
}

#[test]
fn no_triangle_of_a_fine_mesh_is_turned_over() {
    check_people(50_000, 6);
}

#[test]
fn no_triangle_of_frames_is_turned_over() {
    check_frames(6_000, 5, 5);
}

/// Takes about half a minute in release.
#[test]
fn no_triangle_of_a_thousand_people_is_turned_over() {
    check_people(12_000, 1_000);
    check_frames(12_000, 25, 7);
}
