//! For who studies movement: from frames to motion modes and their frequency.
//!
//! ```sh
//! cargo run --release -p formkin --example a_movement
//! ```
#![allow(clippy::print_stdout, reason = "an example is there to show something")]

use std::f64::consts::TAU;

use formkin::{Bodies, MotionParams};
use ndarray::Array3;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // a flap that swings twice a second, 60 frames a second for 3 s: [frames, vertices, 3] in mm
    let times_s: Vec<f64> = (0..180).map(|i| f64::from(i) / 60.0).collect();
    let rest =
        [[0.0, 0.0, 0.0], [300.0, 0.0, 0.0], [300.0, 300.0, 0.0], [0.0, 300.0, 0.0], [150.0, 600.0, 0.0]];
    let frames = Array3::from_shape_fn((times_s.len(), rest.len(), 3), |(i, v, k)| {
        let swing = if (v, k) == (4, 2) { 40.0 * (TAU * 2.0 * times_s[i]).sin() } else { 0.0 };
        rest[v][k] + swing
    });
    let frames = Bodies::from_array(frames.view(), vec![[0, 1, 2], [0, 2, 3], [3, 2, 4]])?;
    // all frames are of one person: say so, frames are not people
    let frames = frames.of_people(&vec!["R7"; times_s.len()])?;

    let motion = frames.motion(&MotionParams::default(), &times_s)?;
    println!("{} frames of {} person", motion.frames, frames.people());
    for (k, frequency) in motion.frequencies.iter().enumerate() {
        println!("mode {}: {:.1} mm SD, {frequency:?}", k + 1, motion.variances_mm2[k].sqrt());
    }
    Ok(())
}
