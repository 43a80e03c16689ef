//! A helper of the outside checks: reads a table (CSV without headers, the first column the group from 0), and prints what the comparisons of formkin-shape make of it.
//!
//! ```text
//! groups one M,M,.. FILE      Hotelling's T2 against a given mean
//! groups two FILE             Hotelling's T2 between groups 0 and 1
//! groups classify FILE        the error of telling the groups apart
//! groups anova PERMUTATIONS FILE
//! groups pairs COVARIATES FILE   every two groups, the last so many columns held fixed
//! ```

#![allow(clippy::print_stdout)] // what it prints is its result

use std::error::Error;

use formkin_shape::compare::{anova, classify, design, hotelling_one, hotelling_two, pairs};
use ndarray::{Array2, Axis, s};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (path, asked) = arguments.split_last().ok_or("name a function and a file")?;
    let text = std::fs::read_to_string(path)?;
    let numbers = |line: &str| line.split(',').map(|c| c.trim().parse()).collect::<Result<Vec<f64>, _>>();
    let rows = text.lines().map(numbers).collect::<Result<Vec<_>, _>>()?;
    let groups: Vec<usize> = rows.iter().map(|r| r[0] as usize).collect();
    let width = rows.first().map_or(0, Vec::len) - 1;
    let y = Array2::from_shape_vec((rows.len(), width), rows.iter().flat_map(|r| r[1..].to_vec()).collect())?;
    println!("{}", answer(&asked.iter().map(String::as_str).collect::<Vec<_>>(), &y, &groups)?);
    Ok(())
}

fn answer(asked: &[&str], y: &Array2<f64>, groups: &[usize]) -> Result<Value, Box<dyn Error>> {
    let count = groups.iter().max().map_or(0, |m| m + 1);
    let of = |g: usize| -> Array2<f64> {
        let members: Vec<usize> = (0..groups.len()).filter(|i| groups[*i] == g).collect();
        y.select(Axis(0), &members)
    };
    Ok(match asked {
        ["one", mean] => {
            let mean = mean.split(',').map(str::parse).collect::<Result<Vec<f64>, _>>()?;
            json!(hotelling_one(y.view(), &mean)?)
        }
        ["two"] => json!(hotelling_two(of(0).view(), of(1).view())?),
        ["classify"] => {
            let names: Vec<String> = (0..count).map(|g| g.to_string()).collect();
            json!(classify(y.view(), groups, &names, 10, 1)?)
        }
        ["anova", permutations] => {
            let (reduced, added) =
                (design::with_intercept(groups.len(), None), design::indicators(groups, count));
            json!(anova(y.view(), reduced.view(), added.view(), permutations.parse()?, 1)?)
        }
        ["pairs", covariates] => {
            let k = y.ncols() - covariates.parse::<usize>()?;
            let names: Vec<String> = (0..count).map(|g| g.to_string()).collect();
            let given = (k < y.ncols()).then(|| y.slice(s![.., k..]));
            json!(pairs(y.slice(s![.., ..k]), k, groups, &names, given)?)
        }
        _ => return Err(format!("unknown function: {}", asked.join(" ")).into()),
    })
}
