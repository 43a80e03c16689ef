//! A table and a plan -> a size system; the mean mesh of each size.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_geometry::{Point, ShapeSource};
use formkin_measure::Table;
use formkin_sizing::{Plan, SizeSystem};

use crate::StudyError;
use crate::job::space::SpaceOutcome;

/// Derives the size system of a plan from a table.
///
/// # Errors
/// What the plan refuses.
pub fn size(table: &Table, plan: &Plan) -> Result<SizeSystem, StudyError> {
    Ok(plan.derive(table)?)
}

/// The tables of a size system: file name, what it is, and its text. The curve and the grading are there where the plan asks for them.
///
/// # Errors
/// What writing refuses.
pub fn size_tables(system: &SizeSystem) -> Result<Vec<(&'static str, &'static str, String)>, StudyError> {
    let mut tables = vec![
        ("size-chart.csv", "The size chart", formkin_sizing::chart_csv(system)?),
        ("coverage.csv", "Coverage, held out first", formkin_sizing::coverage_csv(system)?),
        ("assignments.csv", "The size of every person", formkin_sizing::assignments_csv(system)?),
        ("left-out.csv", "Who is left out, and by which dimension", formkin_sizing::left_out_csv(system)?),
    ];
    if !system.curve.is_empty() || !system.compared.is_empty() {
        let what = "Coverage against the number of sizes, by method";
        tables.push(("coverage-curve.csv", what, formkin_sizing::curve_csv(system)?));
    }
    if system.groups.iter().any(|g| !g.grading.is_empty()) {
        let what = "Grading: values, increments and residual spread of secondary dimensions";
        tables.push(("grading.csv", what, formkin_sizing::grading_csv(system)?));
    }
    Ok(tables)
}

/// The mean of the aligned bodies of the people of each size, standing on z = 0, in mm: a person's first item stands for the person.
/// Sizes that nobody of the space wears have none. It is smoother than any body; the fit model of the size is a person.
///
/// # Errors
/// Shapes that cannot be read.
pub fn mean_meshes(
    cohort: &Cohort,
    space: &SpaceOutcome,
    system: &SizeSystem,
) -> Result<BTreeMap<String, Vec<Point>>, StudyError> {
    let mut size_of: BTreeMap<&str, &str> = BTreeMap::new();
    for assignment in system.groups.iter().flat_map(|g| &g.assignments) {
        if let Some(size) = &assignment.size {
            size_of.insert(&assignment.id, size);
        }
    }
    let source = cohort.select(space.items.clone());
    let aligned = space.fitted.alignment.aligned(&source);
    let mut sums: BTreeMap<String, (usize, Vec<Point>)> = BTreeMap::new();
    for (row, &item) in space.items.iter().enumerate() {
        // removed once used: the first item of a person counts alone
        let Some(size) = size_of.remove(cohort.items()[item].participant.as_str()) else { continue };
        let shape = aligned.read_shape(row)?;
        let (n, sum) = sums.entry(size.to_owned()).or_insert_with(|| (0, vec![[0.0; 3]; shape.len()]));
        *n += 1;
        for (s, x) in sum.iter_mut().zip(&shape) {
            for k in 0..3 {
                s[k] += x[k];
            }
        }
    }
    Ok(sums
        .into_iter()
        .map(|(size, (n, sum))| {
            let mean = sum.into_iter().map(|s| s.map(|c| c / n as f64)).collect();
            (size, on_the_floor(mean))
        })
        .collect())
}

/// Moves a shape along z so that its lowest vertex is at 0.
#[must_use]
pub fn on_the_floor(mut shape: Vec<Point>) -> Vec<Point> {
    let floor = shape.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    for p in &mut shape {
        p[2] -= floor;
    }
    shape
}
