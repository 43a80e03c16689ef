//! A helper of the outside checks: sections, ways over the skin, and dimensions of demo people, as JSON. Surfaces go in and out as plain
//! little-endian numbers: triangles as u32, positions in mm as f64.
//!
//! ```text
//! surfaces demo VERTICES FIRST COUNT FOLDER              demo people: triangles.u32, body-N.f64, names.json
//! surfaces sections TRIANGLES POSITIONS PLANES           one plane a row: a point, a direction across it
//! surfaces paths TRIANGLES POSITIONS ROWS                vertices of one way a row
//! surfaces dimensions VERTICES FIRST COUNT NOISE TOML    every dimension of demo people, one row each
//! surfaces segments VERTICES FIRST COUNT                 joint centres and segments of demo people
//! ```

#![allow(clippy::print_stdout)] // what it prints is its result

use std::error::Error;
use std::path::Path;

use formkin_datasets_demo::{DemoTemplate, Latents, template};
use formkin_geometry::hull::hull_perimeter;
use formkin_geometry::path::{polyline_length, surface_path};
use formkin_geometry::section::{Plane, section};
use formkin_geometry::{Point, Topology};
use formkin_measure::{Dimensions, SegmentParams, Taker, basic, joint_centres};
use rayon::prelude::*;
use serde_json::{Value, json};

/// The seed that the demo has where none is given.
const SEED: u64 = 20;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let asked: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let told = match asked.as_slice() {
        ["demo", vertices, first, count, into] => {
            demo(vertices.parse()?, first.parse()?, count.parse()?, into.as_ref())
        }
        ["sections", triangles, positions, planes] => sections(triangles, positions, planes),
        ["paths", triangles, positions, rows] => paths(triangles, positions, rows),
        ["dimensions", vertices, first, count, noise, toml] => {
            dimensions(vertices.parse()?, (first.parse()?, count.parse()?), noise.parse()?, toml)
        }
        ["segments", vertices, first, count] => segments(vertices.parse()?, (first.parse()?, count.parse()?)),
        _ => Err(format!("unknown function: {}", asked.join(" ")).into()),
    };
    println!("{}", told?);
    Ok(())
}

/// A person as scanned: in their own stance, with so much noise.
fn scanned(demo: &DemoTemplate, i: usize, noise_mm: f64) -> (Latents, Vec<Point>) {
    let latents = demo.draw(i);
    let scan = demo.scan(&demo.person(&latents), &latents, (i, 0), true, noise_mm);
    (latents, scan)
}

fn demo(vertices: usize, first: usize, count: usize, into: &Path) -> Result<Value, Box<dyn Error>> {
    let demo = template(vertices, SEED)?;
    let template = demo.template();
    let triangles = template.mesh.topology().triangles();
    let bytes: Vec<u8> = triangles.iter().flatten().flat_map(|v| v.to_le_bytes()).collect();
    std::fs::write(into.join("triangles.u32"), bytes)?;
    for i in first..first + count {
        let (_, scan) = scanned(&demo, i, 1.0);
        let bytes: Vec<u8> = scan.iter().flatten().flat_map(|c| c.to_le_bytes()).collect();
        std::fs::write(into.join(format!("body-{i}.f64")), bytes)?;
    }
    Ok(json!({ "landmarks": template.landmarks, "paths": template.paths }))
}

fn surface(triangles: &str, positions: &str) -> Result<(Topology, Vec<Point>), Box<dyn Error>> {
    let numbers = std::fs::read(positions)?;
    let numbers: Vec<f64> = numbers
        .chunks_exact(8)
        .map(|b| Ok(f64::from_le_bytes(b.try_into()?)))
        .collect::<Result<_, Box<dyn Error>>>()?;
    let positions: Vec<Point> = numbers.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect();
    let corners = std::fs::read(triangles)?;
    let corners: Vec<u32> = corners
        .chunks_exact(4)
        .map(|b| Ok(u32::from_le_bytes(b.try_into()?)))
        .collect::<Result<_, Box<dyn Error>>>()?;
    let triangles = corners.chunks_exact(3).map(|t| [t[0], t[1], t[2]]).collect();
    Ok((Topology::new(positions.len(), triangles)?, positions))
}

fn rows<T: std::str::FromStr>(path: &str) -> Result<Vec<Vec<T>>, Box<dyn Error>>
where
    T::Err: Error + 'static,
{
    let row = |line: &str| line.split(',').map(|c| Ok(c.trim().parse()?)).collect();
    std::fs::read_to_string(path)?.lines().map(row).collect()
}

fn sections(triangles: &str, positions: &str, planes: &str) -> Result<Value, Box<dyn Error>> {
    let (topology, positions) = surface(triangles, positions)?;
    let mut found = Vec::new();
    for row in rows::<f64>(planes)? {
        let [x, y, z, u, v, w] = row[..] else { return Err("a plane has six numbers".into()) };
        let plane = Plane::new([x, y, z], [u, v, w])?;
        let loops = section(&topology, &positions, &plane);
        let mut lines: Vec<[f64; 2]> =
            loops.iter().map(|l| [l.length(), hull_perimeter(&l.points, plane.normal)]).collect();
        lines.sort_by(|a, b| a[0].total_cmp(&b[0]));
        found.push(json!({
            "lengths_mm": lines.iter().map(|l| l[0]).collect::<Vec<_>>(),
            "tapes_mm": lines.iter().map(|l| l[1]).collect::<Vec<_>>(),
            "closed": loops.iter().all(|l| l.closed),
        }));
    }
    Ok(json!(found))
}

fn paths(triangles: &str, positions: &str, ways: &str) -> Result<Value, Box<dyn Error>> {
    let (topology, positions) = surface(triangles, positions)?;
    let mut found = Vec::new();
    for row in rows::<u32>(ways)? {
        let way = surface_path(&topology, &positions, &row);
        found.push(json!({ "length_mm": way.as_ref().map(|w| polyline_length(w)), "points": way }));
    }
    Ok(json!(found))
}

fn dimensions(
    vertices: usize,
    (first, count): (usize, usize),
    noise_mm: f64,
    toml: &str,
) -> Result<Value, Box<dyn Error>> {
    let demo = template(vertices, SEED)?;
    let dimensions = Dimensions::from_toml(&std::fs::read_to_string(toml)?)?;
    dimensions.check(demo.template())?;
    let taker = Taker::new(&dimensions, demo.template());
    let people: Vec<Value> = (first..first + count)
        .into_par_iter()
        .map(|i| {
            let (latents, scan) = scanned(&demo, i, noise_mm);
            let taken = taker.take(&scan);
            json!({
                "sex": latents.sex,
                "values": taken.iter().map(|m| m.value).collect::<Vec<_>>(),
                "missing": taken.iter().map(|m| &m.reason_missing).collect::<Vec<_>>(),
                "flags": taken.iter().map(|m| &m.flags).collect::<Vec<_>>(),
                "levels_mm": taken.iter().map(|m| m.level_mm).collect::<Vec<_>>(),
            })
        })
        .collect();
    Ok(json!({ "definitions": dimensions.definitions, "people": people }))
}

fn segments(vertices: usize, (first, count): (usize, usize)) -> Result<Value, Box<dyn Error>> {
    let demo = template(vertices, SEED)?;
    let template = demo.template();
    let laid = SegmentParams::default().on(template)?;
    let people: Vec<Value> = (first..first + count)
        .into_par_iter()
        .map(|i| {
            let (latents, scan) = scanned(&demo, i, 1.0);
            json!({
                "sex": latents.sex,
                "basic": basic(template.mesh.topology(), &scan),
                "joints": joint_centres(template, &scan),
                "segments": laid.take(&scan).map_err(|e| e.to_string()),
            })
        })
        .collect();
    Ok(json!({ "joints": template.joints.iter().map(|j| &j.name).collect::<Vec<_>>(), "people": people }))
}
