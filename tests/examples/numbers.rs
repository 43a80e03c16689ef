//! A helper of the outside checks: reads a table of numbers (CSV without headers), applies one function of formkin-stats to it,
//! and prints the result as JSON.
//!
//! ```text
//! numbers eigenvalues covariance|correlation|given FILE
//! numbers k-means CLUSTERS STARTS SEED FILE
//! numbers moments FILE
//! numbers quantiles P,P,.. FILE
//! numbers regression FILE           the first column on the others
//! numbers wilson LEVEL FILE         successes and trials in the first row
//! ```

#![allow(clippy::print_stdout)] // what it prints is its result

use std::error::Error;

use formkin_stats::cluster::k_means;
use formkin_stats::gram::add_gram;
use formkin_stats::interval::wilson;
use formkin_stats::moments::{mean, sd};
use formkin_stats::quantile::quantile;
use formkin_stats::regression::least_squares;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array2, Axis, s};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (path, asked) = arguments.split_last().ok_or("name a function and a file")?;
    let asked: Vec<&str> = asked.iter().map(String::as_str).collect();
    println!("{}", answer(&asked, &read(path)?)?);
    Ok(())
}

fn read(path: &str) -> Result<Array2<f64>, Box<dyn Error>> {
    let text = std::fs::read_to_string(path)?;
    let rows = text.lines().map(|l| l.split(',').map(|c| c.trim().parse()).collect::<Result<Vec<f64>, _>>());
    let rows = rows.collect::<Result<Vec<_>, _>>()?;
    let columns = rows.first().map_or(0, Vec::len);
    Ok(Array2::from_shape_vec((rows.len(), columns), rows.concat())?)
}

/// The covariance of the columns, divisor n - 1; of the standardised columns where `unit` is set.
fn covariance(table: &Array2<f64>, unit: bool) -> Result<Array2<f64>, Box<dyn Error>> {
    let mut centred = table.clone();
    for mut column in centred.axis_iter_mut(Axis(1)) {
        let values = column.to_vec();
        let (m, s) = (mean(&values, None)?, if unit { sd(&values, None)? } else { 1.0 });
        column.mapv_inplace(|x| (x - m) / s);
    }
    let mut gram = Array2::zeros((table.ncols(), table.ncols()));
    add_gram(&mut gram, centred.t(), centred.t())?;
    Ok(gram / (table.nrows() as f64 - 1.0))
}

fn rows(a: &Array2<f64>) -> Vec<Vec<f64>> {
    a.outer_iter().map(|r| r.to_vec()).collect()
}

fn answer(asked: &[&str], table: &Array2<f64>) -> Result<Value, Box<dyn Error>> {
    let columns = || table.axis_iter(Axis(1)).map(|c| c.to_vec());
    Ok(match asked {
        ["eigenvalues", of] => {
            let matrix = match *of {
                "covariance" => covariance(table, false)?,
                "correlation" => covariance(table, true)?,
                _ => table.clone(),
            };
            let found = symmetric_eigen(&matrix)?;
            json!({ "values": found.values, "vectors": rows(&found.vectors.t().to_owned()) })
        }
        ["k-means", k, starts, seed] => {
            let found = k_means(table.view(), None, k.parse()?, starts.parse()?, seed.parse()?)?;
            json!({ "inertia": found.inertia, "labels": found.labels, "centres": rows(&found.centres) })
        }
        ["moments"] => json!({
            "means": columns().map(|c| mean(&c, None)).collect::<Result<Vec<_>, _>>()?,
            "deviations": columns().map(|c| sd(&c, None)).collect::<Result<Vec<_>, _>>()?,
        }),
        ["quantiles", at] => {
            let at = at.split(',').map(str::parse::<f64>).collect::<Result<Vec<_>, _>>()?;
            let of = |c: Vec<f64>| at.iter().map(|&p| quantile(&c, None, p)).collect::<Result<Vec<_>, _>>();
            json!({ "quantiles": columns().map(of).collect::<Result<Vec<_>, _>>()? })
        }
        ["regression"] => {
            let y = table.column(0).to_vec();
            let found = least_squares(table.slice(s![.., 1..]), &y, None, true)?;
            let mut coefficients = vec![found.intercept];
            coefficients.extend(&found.coefficients);
            json!({ "coefficients": coefficients, "r2": found.r2, "residual_sd": found.residual_sd, "df": found.df })
        }
        ["wilson", level] => {
            let (low, high) = wilson(table[[0, 0]], table[[0, 1]], level.parse()?);
            json!({ "interval": [low, high] })
        }
        _ => return Err(format!("unknown function: {}", asked.join(" ")).into()),
    })
}
