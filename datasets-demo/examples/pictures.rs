#![allow(clippy::print_stderr)] // a small program
//! Draws the demo bodies into docs/img: `cargo run --release -p formkin-datasets-demo --example pictures -- [FOLDER] [VERTICES] [details]`.
//!
//! A small software rasteriser: orthographic, smooth shading, three lights, four samples a pixel.

use std::path::{Path, PathBuf};

use formkin_datasets_demo::{DemoTemplate, Latents, Movement, Sex};
use formkin_geometry::areas::vertex_normals;
use formkin_geometry::vector::{dot, unit};
use formkin_geometry::{Point, Topology};

/// One body in a picture.
struct Figure<'a> {
    positions: &'a [Point],
    /// Turn about the vertical before drawing, in degrees: 0 shows the front, 90 the person's left.
    turn_deg: f64,
    /// Where its origin stands in the picture, in mm from the left.
    at: f64,
    colour: [f64; 3],
}

const CLAY: [f64; 3] = [0.80, 0.74, 0.68];

struct Canvas {
    width: usize,
    height: usize,
    depth: Vec<f64>,
    colour: Vec<[f64; 3]>,
}

/// Draws figures on a floor. `extent` is width and height in mm, `lowest` the height of the picture's lower edge.
fn draw(
    topology: &Topology,
    figures: &[Figure],
    extent: (f64, f64),
    lowest: f64,
    scale: f64,
) -> (usize, usize, Vec<u8>) {
    const FINE: usize = 2;
    let (width, height) = ((extent.0 * scale) as usize * FINE, (extent.1 * scale) as usize * FINE);
    let fine = scale * FINE as f64;
    let mut canvas = Canvas {
        width,
        height,
        depth: vec![f64::INFINITY; width * height],
        colour: vec![[0.965, 0.965, 0.955]; width * height],
    };
    for figure in figures {
        let normals = vertex_normals(topology, figure.positions);
        let (sin, cos) = figure.turn_deg.to_radians().sin_cos();
        let turn = |p: Point| [cos * p[0] - sin * p[1], sin * p[0] + cos * p[1], p[2]];
        let seen: Vec<Point> = figure
            .positions
            .iter()
            .map(|&p| {
                let q = turn(p);
                [(q[0] + figure.at) * fine, height as f64 - (q[2] - lowest) * fine, q[1]]
            })
            .collect();
        let shades: Vec<Point> = normals.iter().map(|&n| turn(n)).collect();
        for &t in topology.triangles() {
            triangle(&mut canvas, t.map(|v| seen[v as usize]), t.map(|v| shades[v as usize]), figure.colour);
        }
    }
    occlude(&mut canvas, fine);
    let (w, h) = (width / FINE, height / FINE);
    let mut bytes = Vec::with_capacity(w * h * 3);
    for y in 0..h {
        for x in 0..w {
            for c in 0..3 {
                let mut sum = 0.0;
                for i in 0..FINE * FINE {
                    sum += canvas.colour[(y * FINE + i / FINE) * width + x * FINE + i % FINE][c];
                }
                bytes.push(((sum / (FINE * FINE) as f64).clamp(0.0, 1.0).powf(1.0 / 1.1) * 255.0) as u8);
            }
        }
    }
    (w, h, bytes)
}

fn triangle(canvas: &mut Canvas, p: [Point; 3], n: [Point; 3], colour: [f64; 3]) {
    let area = (p[1][0] - p[0][0]) * (p[2][1] - p[0][1]) - (p[2][0] - p[0][0]) * (p[1][1] - p[0][1]);
    if area.abs() < 1e-12 {
        return;
    }
    let low = |c: usize| p.iter().map(|q| q[c]).fold(f64::INFINITY, f64::min).max(0.0) as usize;
    let high = |c: usize, n: usize| (p.iter().map(|q| q[c]).fold(0.0, f64::max).ceil() as usize + 1).min(n);
    for y in low(1)..high(1, canvas.height) {
        for x in low(0)..high(0, canvas.width) {
            let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
            let w: [f64; 3] = std::array::from_fn(|k| {
                let (a, b) = (p[(k + 1) % 3], p[(k + 2) % 3]);
                ((b[0] - a[0]) * (py - a[1]) - (b[1] - a[1]) * (px - a[0])) / area
            });
            if w.iter().any(|&x| x < -1e-9) {
                continue;
            }
            let depth: f64 = (0..3).map(|k| w[k] * p[k][2]).sum();
            let at = y * canvas.width + x;
            if depth >= canvas.depth[at] {
                continue;
            }
            canvas.depth[at] = depth;
            let normal: Point = std::array::from_fn(|c| (0..3).map(|k| w[k] * n[k][c]).sum());
            let normal = unit(normal).unwrap_or([0.0, -1.0, 0.0]);
            canvas.colour[at] = shade(normal, colour);
        }
    }
}

fn shade(n: Point, colour: [f64; 3]) -> [f64; 3] {
    let light = |d: Point, s: f64| s * dot(n, unit(d).unwrap_or(d)).max(0.0);
    let key = light([-0.55, -0.75, 0.75], 0.62);
    let fill = light([0.8, -0.6, 0.1], 0.20);
    let rim = light([0.6, 0.5, 0.6], 0.12);
    let sky = 0.20 + 0.10 * n[2];
    let gloss = {
        let half = unit([-0.55, -1.75, 0.75]).unwrap_or([0.0, -1.0, 0.0]);
        0.10 * dot(n, half).max(0.0).powi(24)
    };
    std::array::from_fn(|c| colour[c] * (sky + key + fill + rim) + gloss)
}

/// Darkens hollows: compares each depth with those around it.
fn occlude(canvas: &mut Canvas, fine: f64) {
    let reach = 22.0 * fine;
    let dirs: Vec<(f64, f64)> = (0..12).map(|i| (f64::from(30 * i).to_radians() + 0.2).sin_cos()).collect();
    let dark: Vec<f64> = (0..canvas.depth.len())
        .map(|at| {
            let d = canvas.depth[at];
            if !d.is_finite() {
                return 0.0;
            }
            let (x, y) = ((at % canvas.width) as f64, (at / canvas.width) as f64);
            let mut sum = 0.0;
            for (i, &(s, c)) in dirs.iter().enumerate() {
                let r = reach * (0.3 + 0.7 * ((i * 7) % 12) as f64 / 11.0);
                let (u, v) = (x + c * r, y + s * r);
                if u < 0.0 || v < 0.0 || u as usize >= canvas.width || v as usize >= canvas.height {
                    continue;
                }
                let e = canvas.depth[v as usize * canvas.width + u as usize];
                if e.is_finite() {
                    sum += ((d - e) / (r / fine) - 0.15).clamp(0.0, 1.0);
                }
            }
            sum / dirs.len() as f64
        })
        .collect();
    for (c, d) in canvas.colour.iter_mut().zip(dark) {
        *c = c.map(|x| x * (1.0 - 0.55 * d));
    }
}

fn save(
    path: &Path,
    (width, height, bytes): (usize, usize, Vec<u8>),
) -> Result<(), Box<dyn std::error::Error>> {
    let file = std::io::BufWriter::new(std::fs::File::create(path)?);
    let mut encoder = png::Encoder::new(file, width as u32, height as u32);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Best);
    encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
    encoder.write_header()?.write_image_data(&bytes)?;
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().unwrap_or_else(|| "docs/img".to_owned()));
    let vertices: usize = arguments.next().map_or(Ok(12_000), |a| a.parse())?;
    std::fs::create_dir_all(&folder)?;
    let started = std::time::Instant::now();
    let demo = formkin_datasets_demo::template(vertices, 20)?;
    let template = demo.template();
    eprintln!("template of {} vertices in {:.2?}", template.mesh.positions().len(), started.elapsed());
    let p = template.mesh.positions();
    let figures: Vec<Figure> = [0.0, 45.0, 90.0, 180.0]
        .iter()
        .zip([520.0, 1330.0, 1960.0, 2620.0])
        .map(|(&turn_deg, at)| Figure { positions: p, turn_deg, at, colour: CLAY })
        .collect();
    save(
        &folder.join("template.png"),
        draw(template.mesh.topology(), &figures, (3160.0, 1780.0), -30.0, 0.40),
    )?;
    if arguments.next().as_deref() != Some("details") {
        people(&demo, &folder)?;
        return movements(&demo, &folder);
    }
    let near = |at: f64, turn_deg: f64| Figure { positions: p, turn_deg, at, colour: CLAY };
    let t = template.mesh.topology();
    let details = [
        (
            "head",
            draw(t, &[near(150.0, 0.0), near(420.0, 60.0), near(700.0, 90.0)], (850.0, 300.0), 1420.0, 1.0),
        ),
        (
            "fist",
            draw(t, &[near(-280.0, 0.0), near(100.0, 45.0), near(480.0, 90.0)], (650.0, 300.0), 700.0, 1.0),
        ),
        ("feet", draw(t, &[near(200.0, 0.0), near(650.0, 90.0)], (850.0, 300.0), -10.0, 1.0)),
        (
            "shoulders",
            draw(
                t,
                &[near(320.0, 0.0), near(960.0, 180.0), near(1500.0, 40.0)],
                (1800.0, 500.0),
                1100.0,
                0.7,
            ),
        ),
    ];
    for (name, picture) in details {
        save(&folder.join(format!("detail-{name}.png")), picture)?;
    }
    Ok(())
}

/// Six people side by side: men and women, slim and heavy, tall and short.
fn people(demo: &DemoTemplate, folder: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let person = |sex, size: f64, build: f64, rest: [f64; 6]| {
        let mut latents = Latents::mean(sex);
        latents.factors = [size, build, rest[0], rest[1], rest[2], rest[3], rest[4], rest[5]];
        demo.person(&latents)
    };
    let bodies = [
        person(Sex::Male, 1.8, -1.2, [0.8, 0.0, -0.5, 0.0, 0.0, 0.0]),
        person(Sex::Female, 0.0, 0.0, [0.0; 6]),
        person(Sex::Male, -0.2, 2.0, [0.0, 0.0, 1.2, 0.0, 0.0, 0.0]),
        person(Sex::Female, -1.5, -1.3, [0.0; 6]),
        person(Sex::Female, 0.6, 1.9, [0.0, 0.0, 0.0, 0.6, 0.8, 0.3]),
        person(Sex::Male, 0.0, 0.0, [0.0; 6]),
    ];
    let colours = [
        [0.72, 0.78, 0.80],
        CLAY,
        [0.74, 0.78, 0.70],
        [0.82, 0.76, 0.66],
        [0.80, 0.70, 0.68],
        [0.72, 0.74, 0.82],
    ];
    let row = |turn_deg: f64| -> Vec<Figure> {
        bodies
            .iter()
            .zip(colours)
            .enumerate()
            .map(|(i, (b, colour))| Figure { positions: b, turn_deg, at: 480.0 + 880.0 * i as f64, colour })
            .collect()
    };
    let t = demo.template().mesh.topology();
    for (name, turn) in [("people", 25.0), ("people-side", 90.0), ("people-back", 180.0)] {
        save(&folder.join(format!("{name}.png")), draw(t, &row(turn), (5360.0, 1980.0), -30.0, 0.25))?;
    }
    Ok(())
}

/// Four frames of each movement.
fn movements(demo: &DemoTemplate, folder: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let t = demo.template().mesh.topology();
    for (movement, sex) in
        [(Movement::LadderClimb, Sex::Female), (Movement::LineHaul, Sex::Male), (Movement::Jump, Sex::Female)]
    {
        let latents = Latents::mean(sex);
        let body = demo.person(&latents);
        let quarter = (movement.period_s() * 60.0 / 4.0) as usize;
        let frames: Vec<_> = demo.frames(&body, &latents, movement, 60.0).step_by(quarter).take(4).collect();
        let floor = frames[0].iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        let figures: Vec<Figure> = frames
            .iter()
            .enumerate()
            .map(|(i, f)| Figure { positions: f, turn_deg: 60.0, at: 440.0 + 900.0 * i as f64, colour: CLAY })
            .collect();
        let top = frames.iter().flatten().map(|p| p[2]).fold(0.0, f64::max) + 60.0;
        let low = floor.min(0.0) - 30.0;
        let name = format!("{}.png", movement.name());
        save(&folder.join(name), draw(t, &figures, (3820.0, top - low), low, 0.33))?;
    }
    Ok(())
}
