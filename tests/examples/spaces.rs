//! A helper of the outside checks: reads a table of numbers (CSV without headers), applies one function of formkin-shape to it, and prints the result as JSON.
//!
//! ```text
//! spaces pls GIVEN COMPONENTS SCALE FILE     the first GIVEN columns on the others; SCALE: responses at unit variance
//! spaces ledoit-wolf FILE
//! ```

#![allow(clippy::print_stdout)] // what it prints is its result

use std::error::Error;

use formkin_shape::ledoit_wolf;
use formkin_shape::predict::PlsParams;
use ndarray::{Array2, Axis, s};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (path, asked) = arguments.split_last().ok_or("name a function and a file")?;
    let asked: Vec<&str> = asked.iter().map(String::as_str).collect();
    println!("{}", answer(&asked, read(path)?)?);
    Ok(())
}

/// The table with the mean of every column taken out.
fn read(path: &str) -> Result<Array2<f64>, Box<dyn Error>> {
    let text = std::fs::read_to_string(path)?;
    let rows = text.lines().map(|l| l.split(',').map(|c| c.trim().parse()).collect::<Result<Vec<f64>, _>>());
    let rows = rows.collect::<Result<Vec<_>, _>>()?;
    let columns = rows.first().map_or(0, Vec::len);
    let mut table = Array2::from_shape_vec((rows.len(), columns), rows.concat())?;
    for mut column in table.axis_iter_mut(Axis(1)) {
        let mean = column.sum() / rows.len() as f64;
        column.mapv_inplace(|x| x - mean);
    }
    Ok(table)
}

fn answer(asked: &[&str], table: Array2<f64>) -> Result<Value, Box<dyn Error>> {
    let n = table.nrows() as f64 - 1.0;
    Ok(match asked {
        ["pls", given, components, scale] => {
            let q: usize = given.parse()?;
            let (x, y) = (table.slice(s![.., ..q]), table.slice(s![.., q..]));
            let (xx, xy) = (x.t().dot(&x) / n, x.t().dot(&y) / n);
            let yy: Vec<f64> = y.axis_iter(Axis(1)).map(|c| c.dot(&c) / n).collect();
            let params = PlsParams { components: components.parse()?, scale_responses: scale.parse()? };
            let found = params.fit(&xx, &xy, &yy)?;
            json!({ "components": found.components, "coefficients": found.coefficients })
        }
        ["ledoit-wolf"] => {
            let found = ledoit_wolf(&table.dot(&table.t()), table.ncols())?;
            json!({ "shrinkage": found.shrinkage, "variances": found.variances, "rest": found.rest })
        }
        _ => return Err(format!("unknown function: {}", asked.join(" ")).into()),
    })
}
