//! For who trains models: shape coefficients as arrays, split by person, with the decoder.
//!
//! ```sh
//! cargo run --release -p formkin --example coefficients_for_learning
//! ```
#![allow(clippy::print_stdout, reason = "an example is there to show something")]

use formkin::{Bodies, SpaceParams, mean_array, modes_array};
use ndarray::{Array2, Array3, s};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // 24 invented boxes, two scans of each person: [shapes, vertices, 3] in mm, as f32
    let corner = |v: usize, k: usize| [v & 1, (v >> 1) & 1, (v >> 2) & 1][k] as f32;
    let boxes = Array3::from_shape_fn((24, 8, 3), |(i, v, k)| {
        let person = (i / 2) as f32;
        let size = [300.0 + 7.0 * (person % 5.0), 200.0 + 9.0 * (person % 3.0), 1600.0 + 25.0 * person][k];
        size * corner(v, k) + 0.1 * ((i * 7 + v * 3 + k) % 5) as f32
    });
    let triangles = vec![
        [0, 2, 1],
        [1, 2, 3],
        [4, 5, 6],
        [5, 7, 6],
        [0, 1, 4],
        [1, 5, 4],
        [2, 6, 3],
        [3, 6, 7],
        [0, 4, 2],
        [2, 4, 6],
        [1, 3, 5],
        [3, 7, 5],
    ];
    let names: Vec<String> = (0..24).map(|i| format!("P{:02}", i / 2)).collect();

    // people, not scans, are split: the first nine train, and the space knows nobody else
    let train = boxes.slice(s![..18, .., ..]);
    let bodies = Bodies::from_array(train, triangles.clone())?.of_people(&names[..18])?;
    let fitted = bodies.space(&SpaceParams::default())?;
    println!("{} scans of {} people, {} modes", bodies.shapes(), bodies.people(), fitted.space.modes.len());

    // a person who had no part in it: encoded, and decoded by x = mean + sum_k c_k mode_k
    let held_out = Bodies::from_array(boxes.slice(s![18.., .., ..]), triangles)?;
    let projection = fitted.space.project(&held_out.shape(0)?)?;
    let (mean, modes) = (mean_array(&fitted.space), modes_array(&fitted.space));
    let mut decoded: Array2<f64> = mean;
    for (k, c) in projection.coefficients.iter().enumerate() {
        decoded = decoded + &modes.slice(s![k, .., ..]) * *c;
    }
    println!(
        "{:?}: decoded to {:?} of the frame of the space, {:.2} mm left over",
        names[18],
        decoded.shape(),
        projection.residual_rms_mm
    );
    Ok(())
}
