//! For who builds a sizing system: from a table of dimensions to sizes, and whom they fit.
//!
//! ```sh
//! cargo run --release -p formkin --example sizes_from_a_table
//! ```
#![allow(clippy::print_stdout, reason = "an example is there to show something")]

use std::fmt::Write as _;

use formkin::{Plan, Table};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    // an invented crew: a table as any program writes it, units in the headers
    let mut csv = String::from("participant,chest_girth_mm,stature_mm\n");
    for i in 0..120u32 {
        let (a, b) = (f64::from(i % 12), f64::from(i % 10));
        writeln!(csv, "C{i:03},{:.0},{:.0}", 880.0 + 18.0 * a + 4.0 * b, 1620.0 + 17.0 * b + 5.0 * a)?;
    }
    let crew = Table::parse_csv(&csv, "crew.csv", None)?;

    let plan = Plan::from_toml(
        "[sizes]\ncount = 6\n\
         [[control]]\ndimension = \"chest_girth\"\ntolerance = { below = 40, above = 40 }\n\
         [[control]]\ndimension = \"stature\"\ntolerance = { below = 60, above = 60 }\n",
    )?;
    let system = plan.derive(&crew)?;
    for size in system.groups.iter().flat_map(|g| &g.sizes) {
        println!("{}: {:?}", size.name, size.centre);
    }
    let (low, high) = system.held_out_interval;
    println!(
        "{} sizes fit {:.0} % of people they were not made from ({:.0} to {:.0} %)",
        system.size_count,
        100.0 * system.coverage_held_out,
        100.0 * low,
        100.0 * high
    );
    Ok(())
}
