//! The tables of all movements together, and the motion space.

use std::collections::BTreeSet;

use formkin_cohort::npy_bytes;
use formkin_geometry::{Point, Topology};
use formkin_motion::changes::{Allowance, Spread};
use formkin_motion::shared::{LeftOut, SharedCourse, SharedMotion};
use formkin_table::NumberFormat::{Fixed, Shortest};
use formkin_table::{Sheet, Table};

use super::run::MovementsOutcome;
use crate::signals::condition_files::{component_files, condition_files};
use crate::signals::files::changes;
use crate::{Delivery, TaskError};

/// The name of the table of allowances.
const ALLOWANCE: &str = "dynamic-allowance.csv";

/// Every table; `body` is the surface that maps are drawn on.
pub(super) fn files<'a>(
    body: Option<(&'a Topology, &'a [Point])>,
    made: &'a MovementsOutcome,
) -> Result<Delivery<'a>, TaskError> {
    let mut delivery = Delivery::new();
    if !made.changes.is_empty() {
        let what = "Dimensions through movements, the largest range first";
        delivery = delivery.sheet("motion-changes.csv", what, changes(&made.changes));
    }
    if !made.allowances.is_empty() {
        let what = "The greatest change of each dimension over people";
        delivery = delivery.sheet(ALLOWANCE, what, allowance(&made.allowances));
        let what = "The greatest changes of every person, one row a person";
        delivery = delivery.sheet("dynamic-people.csv", what, people(&made.allowances));
    }
    if let Some(shared) = &made.shared {
        delivery = shared_files(shared, delivery)?;
    }
    delivery = component_files(&made.components, delivery);
    Ok(match &made.conditions {
        Some(conditions) => condition_files(conditions, body, delivery),
        None => delivery,
    })
}

/// The dynamic allowances of a study's movements as the table that a size plan takes.
///
/// # Errors
/// [`TaskError::Nothing`] where no dimension was followed through a movement.
pub fn allowance_table(made: &MovementsOutcome) -> Result<Table, TaskError> {
    if made.allowances.is_empty() {
        return Err(TaskError::Nothing {
            what: "size.allowances = \"movements\", and no dimension was followed through a movement".into(),
            advice: "name the control dimensions in `motion.follow`, or give a table of allowances".into(),
        });
    }
    let csv = allowance(&made.allowances).to_csv()?;
    Ok(Table::parse_csv(&String::from_utf8_lossy(&csv), ALLOWANCE, None)?)
}

fn allowance(allowances: &[Allowance]) -> Sheet {
    let all = || allowances.iter();
    let sheet = Sheet::new()
        .text("dimension", "The dimension", all().map(|a| &a.dimension))
        .text("unit", "The unit of its values", all().map(|a| &a.unit))
        .whole("people", None, "People it is over", all().map(|a| a.people));
    let spread = |sheet: Sheet, of: &str, value: fn(&Allowance) -> &Spread| {
        let name = |what: &str| format!("{of}_{what}");
        let each = |what: fn(&Spread) -> Option<f64>| all().map(move |a| what(value(a)));
        let two = Fixed(2);
        sheet
            .optional_number(&name("mean"), None, "Mean over people", two, each(|s| Some(s.mean)))
            .optional_number(&name("sd"), None, "SD over people", two, each(|s| s.sd))
            .optional_number(&name("p50"), None, "Median over people", two, each(|s| Some(s.p50)))
            .optional_number(&name("p95"), None, "95th percentile, from 60 people on", two, each(|s| s.p95))
            .optional_number(&name("max"), None, "Most of any person", two, each(|s| Some(s.max)))
    };
    let sheet = spread(sheet, "increase", |a| &a.increase);
    spread(sheet, "decrease", |a| &a.decrease)
}

/// The changes of every person in the form that tables of dimensions have: a column `DIMENSION_increase_UNIT` and one
/// `DIMENSION_decrease_UNIT` for every dimension.
fn people(allowances: &[Allowance]) -> Sheet {
    let people: BTreeSet<&str> =
        allowances.iter().flat_map(|a| a.persons.iter().map(|p| p.0.as_str())).collect();
    let sheet = Sheet::new().text("participant", "Pseudonym of the person", people.iter().copied());
    allowances.iter().fold(sheet, |sheet, a| {
        let unit = Some(a.unit.as_str()).filter(|u| !u.is_empty());
        let of = |who: &str| a.persons.iter().find(|p| p.0 == who);
        let up = people.iter().map(|who| of(who).map(|p| p.1));
        let down = people.iter().map(|who| of(who).map(|p| p.2));
        let (increase, decrease) = (format!("{}_increase", a.dimension), format!("{}_decrease", a.dimension));
        sheet.optional_number(&increase, unit, "Greatest increase in movement", Fixed(2), up).optional_number(
            &decrease,
            unit,
            "Greatest decrease in movement",
            Fixed(2),
            down,
        )
    })
}

/// The courses as CSV and Parquet, the errors, the pose and the modes as NPY.
fn shared_files<'a>(shared: &'a SharedMotion, mut delivery: Delivery<'a>) -> Result<Delivery<'a>, TaskError> {
    let what = "All movements as courses in one motion space";
    delivery = delivery.sheet("motion-space.csv", what, courses(shared, false));
    if let Some(held) = &shared.left_out {
        let what = "Error of people or captures left out over the number of modes";
        delivery = delivery.sheet("motion-space-errors.csv", what, errors(held));
    }
    let metadata = [
        (
            "decode".to_owned(),
            "shape = m[0] + sum_k mode_k_mm * m[k], in mm, m the array of motion/motion-space.npy: the pose, then the modes".to_owned(),
        ),
        ("people".to_owned(), shared.people.to_string()),
        ("captures".to_owned(), shared.captures.to_string()),
        ("unit".to_owned(), "mm".to_owned()),
    ];
    let what = "All movements as courses in one motion space, with how to decode them";
    delivery = delivery.bytes("motion-space.parquet", what, courses(shared, true).to_parquet(&metadata)?);
    let what = "The pose and the modes of the motion space: [1 + modes, vertices, 3], f32, mm";
    Ok(delivery.made("motion/motion-space.npy", what, || {
        let values = shared.base.iter().chain(shared.modes.iter().flatten()).flatten().map(|&x| x as f32);
        Ok(npy_bytes(&[1 + shared.modes.len(), shared.base.len(), 3], values))
    }))
}

/// One row a frame of every capture. Columns of Parquet have three figures in the number of the mode and begin with the person.
fn courses(shared: &SharedMotion, parquet: bool) -> Sheet {
    let rows: Vec<(&SharedCourse, usize)> =
        shared.courses.iter().flat_map(|c| (0..c.coefficients.len()).map(move |i| (c, i))).collect();
    let all = || rows.iter();
    let captures = |sheet: Sheet| sheet.text("capture", "The capture", all().map(|r| &r.0.capture));
    let participants =
        |sheet: Sheet| sheet.text("participant", "Pseudonym of the person", all().map(|r| &r.0.participant));
    let sheet = match parquet {
        true => captures(participants(Sheet::new())),
        false => participants(captures(Sheet::new())),
    };
    let sheet = sheet
        .whole("frame", None, "Number of the frame, from 0", all().map(|r| r.0.frames[r.1]))
        .number("time", Some("s"), "Time of the frame", Shortest, all().map(|r| r.0.times_s[r.1]));
    (0..shared.modes.len()).fold(sheet, |sheet, k| {
        let name = if parquet { format!("mode_{:03}", k + 1) } else { format!("mode_{:02}", k + 1) };
        let values = all().map(|r| r.0.coefficients[r.1][k]);
        sheet.number(&name, Some("mm"), "Coefficient of a mode of the motion space", Fixed(4), values)
    })
}

fn errors(held: &LeftOut) -> Sheet {
    Sheet::new()
        .whole("modes", None, "Modes of the others", 0..held.rms_mm.len())
        .number("rms", Some("mm"), "Error of those left out", Fixed(5), held.rms_mm.iter().copied())
        .text("left_out", "What was left out at a time", held.rms_mm.iter().map(|_| &held.by))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(dimension: &str, unit: &str, persons: &[(&str, f64, f64)]) -> Allowance {
        let spread = |v: f64| Spread { mean: v, sd: None, p50: v, p95: None, max: v };
        Allowance {
            dimension: dimension.into(),
            unit: unit.into(),
            people: persons.len(),
            increase: spread(persons[0].1),
            decrease: spread(persons[0].2),
            persons: persons.iter().map(|(who, up, down)| ((*who).to_owned(), *up, *down)).collect(),
        }
    }

    #[test]
    fn allowances_are_a_table_that_a_size_plan_can_read() {
        let allowances =
            vec![of("chest, full", "mm", &[("A", 27.125, 0.0)]), of("waist_to_hip", "", &[("B", 0.5, 0.25)])];
        let people = String::from_utf8(people(&allowances).to_csv().unwrap()).unwrap();
        assert_eq!(
            people,
            "participant,\"chest, full_increase_mm\",\"chest, full_decrease_mm\",waist_to_hip_increase,waist_to_hip_decrease\n\
             A,27.12,0.00,,\nB,,,0.50,0.25\n"
        );
        let made = MovementsOutcome { allowances, ..MovementsOutcome::default() };
        let table = allowance_table(&made).unwrap();
        assert_eq!(table.ids, ["chest, full", "waist_to_hip"]);
    }

    #[test]
    fn without_a_dimension_there_is_no_allowance() {
        let said = allowance_table(&MovementsOutcome::default()).unwrap_err().to_string();
        assert!(said.contains("size.allowances") && said.contains("motion.follow"), "{said}");
    }
}
