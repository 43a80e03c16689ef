//! A helper of the outside checks: reads a table of numbers (CSV without headers), applies one function of formkin-motion to it, and
//! prints the result as JSON.
//!
//! ```text
//! signals forward-back CUTOFF FPS PAD FILE     each column filtered forward and back by a pass of that cutoff
//! signals low-pass CUTOFF FPS FILE             each column, cutoff corrected for two passes, usual ends
//! signals dynamic DELAYS RANK FPS FILE         one row a frame
//! signals curves FILE                          functional components, one row a curve
//! ```

#![allow(clippy::print_stdout)] // what it prints is its result

use std::error::Error;

use formkin_motion::cycles::components::curve_components;
use formkin_motion::dmd::{DynamicParams, dynamic_modes};
use formkin_motion::signal::filter::{Filter, low_pass};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (path, asked) = arguments.split_last().ok_or("name a function and a file")?;
    let asked: Vec<&str> = asked.iter().map(String::as_str).collect();
    let text = std::fs::read_to_string(path)?;
    let rows = text.lines().map(|l| l.split(',').map(|c| c.trim().parse()).collect::<Result<Vec<f64>, _>>());
    println!("{}", answer(&asked, &rows.collect::<Result<Vec<_>, _>>()?)?);
    Ok(())
}

fn answer(asked: &[&str], rows: &[Vec<f64>]) -> Result<Value, Box<dyn Error>> {
    let width = rows.first().map_or(0, Vec::len);
    let columns = || (0..width).map(|c| rows.iter().map(|r| r[c]).collect::<Vec<f64>>());
    Ok(match asked {
        ["forward-back", cutoff, fps, pad] => {
            let filter = Filter::butterworth(cutoff.parse()?, fps.parse()?)?;
            let pad = pad.parse()?;
            json!({
                "b": filter.b,
                "a": filter.a,
                "columns": columns().map(|c| filter.forward_back(&c, pad)).collect::<Vec<_>>(),
            })
        }
        ["low-pass", cutoff, fps] => {
            let (cutoff, fps) = (cutoff.parse()?, fps.parse()?);
            json!({ "columns": columns().map(|c| low_pass(&c, fps, cutoff)).collect::<Result<Vec<_>, _>>()? })
        }
        ["dynamic", delays, rank, fps] => {
            let fps: f64 = fps.parse()?;
            let times: Vec<f64> = (0..rows.len()).map(|i| i as f64 / fps).collect();
            let params =
                DynamicParams { delays: Some(delays.parse()?), rank: Some(rank.parse()?), most: 1000 };
            serde_json::to_value(dynamic_modes(rows, &times, &params)?)?
        }
        ["curves"] => serde_json::to_value(curve_components(rows, 10)?)?,
        _ => return Err(format!("unknown function: {}", asked.join(" ")).into()),
    })
}
