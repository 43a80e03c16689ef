//! A cohort to tables of dimensions.

use std::collections::BTreeSet;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_geometry::{Point, ShapeSource};
use formkin_measure::{
    Definition, DimensionSummary, Dimensions, HandbookRow, Measured, Proportions, SegmentParams, basic,
    beside_handbooks, explained, summarise, take_all,
};
use formkin_table::{NumberColumn, Table, TextColumn};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::MeasureSettings;
use crate::{Progress, TaskError};

/// The bodies, and the definitions; without those, area, volume and centroid size are taken.
#[derive(Debug)]
pub struct MeasureInputs {
    /// The bodies.
    pub cohort: Arc<Cohort>,
    /// The definitions.
    pub dimensions: Option<Dimensions>,
    /// The dimension that is explained, in place of everything else.
    pub explain: Option<String>,
}

/// A dimension of an item that a reader must look at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remark {
    /// The item.
    pub item: String,
    /// The dimension.
    pub dimension: String,
    /// What is to be known of it, or why it is missing.
    pub remark: String,
    /// Whether the value is missing.
    pub missing: bool,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeasureOutcome {
    /// One row an item: participant, session, the columns of the table of people, then the dimensions.
    pub table: Table,
    /// The contours beside the taut tapes, for the dimensions that have one: same rows.
    pub contours: Table,
    /// One row a person: the first still pose of each, with the participant as identifier.
    pub people: Table,
    /// Summaries over people, all together and by group.
    pub summaries: Vec<DimensionSummary>,
    /// Values that are missing or need a look.
    pub remarks: Vec<Remark>,
    /// Proportions of the people beside those of handbooks; none where the template has none of their joints and segments.
    pub handbook: Vec<HandbookRow>,
    /// Whether the template's surface is closed.
    pub watertight: bool,
    /// One definition explained, in place of everything else.
    pub explained: Option<Explained>,
}

/// A definition, and what it gives on the template.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Explained {
    /// The definition.
    pub definition: Definition,
    /// The dimension of the template.
    pub on_template: Measured,
}

/// Takes what is asked for.
pub(super) fn run(
    settings: &MeasureSettings,
    inputs: &MeasureInputs,
    progress: Progress<'_>,
) -> Result<MeasureOutcome, TaskError> {
    match (&inputs.dimensions, &inputs.explain) {
        (None, _) => basics(settings, &inputs.cohort),
        (Some(dimensions), None) => measure(settings, &inputs.cohort, dimensions, progress),
        (Some(dimensions), Some(name)) => explain(&inputs.cohort, dimensions, name),
    }
}

fn watertight(cohort: &Cohort) -> bool {
    cohort.template().mesh.topology().summary().watertight
}

/// Takes every dimension of every chosen item in the captured gravity frame.
///
/// # Errors
/// An unknown name in the definitions, an unknown column to group by, or shapes that cannot be read.
pub fn measure(
    settings: &MeasureSettings,
    cohort: &Cohort,
    dimensions: &Dimensions,
    progress: Progress<'_>,
) -> Result<MeasureOutcome, TaskError> {
    dimensions.check(cohort.template())?;
    let items = settings.which().of(cohort)?;
    let source = cohort.select(items.clone());
    let taken = take_all(dimensions, cohort.template(), &source, progress)?;

    let mut table = facts(cohort, &items);
    let mut contours = Table { id: table.id.clone(), ids: table.ids.clone(), ..Table::default() };
    let mut remarks = Vec::new();
    for (d, definition) in dimensions.definitions.iter().enumerate() {
        let column = |values: Vec<Option<f64>>| NumberColumn {
            name: definition.name.clone(),
            unit: definition.unit.clone(),
            values,
        };
        table.numbers.push(column(taken.iter().map(|row| row[d].value).collect()));
        if taken.iter().any(|row| row[d].contour.is_some()) {
            contours.numbers.push(column(taken.iter().map(|row| row[d].contour).collect()));
        }
        for (row, item) in taken.iter().zip(&table.ids) {
            let remark = |remark: &String, missing| Remark {
                item: item.clone(),
                dimension: definition.name.clone(),
                remark: remark.clone(),
                missing,
            };
            remarks.extend(row[d].reason_missing.iter().map(|r| remark(r, true)));
            remarks.extend(row[d].flags.iter().map(|f| remark(f, false)));
        }
    }
    let participants: Vec<String> = items.iter().map(|&i| cohort.items()[i].participant.clone()).collect();
    let summaries = summarise(&table, Some(&participants), settings.by.as_deref())?;
    let people = first_rows(&table, &participants);
    let mut seen = BTreeSet::new();
    let first: Vec<usize> =
        (0..items.len()).filter(|&i| seen.insert(&participants[i])).map(|i| items[i]).collect();
    let handbook = handbook(cohort, &first)?;
    Ok(MeasureOutcome {
        table,
        contours,
        people,
        summaries,
        remarks,
        handbook,
        watertight: watertight(cohort),
        explained: None,
    })
}

/// Area, volume and centroid size of every item: what a surface has without any definition.
fn basics(settings: &MeasureSettings, cohort: &Cohort) -> Result<MeasureOutcome, TaskError> {
    let topology = cohort.template().mesh.topology();
    let items = settings.which().of(cohort)?;
    let source = cohort.source();
    let measured: Vec<_> = items
        .par_iter()
        .map(|&i| source.read_shape(i).map(|shape| basic(topology, &shape)))
        .collect::<Result<_, _>>()?;
    let all = cohort.items();
    let participants: Vec<String> = items.iter().map(|&i| all[i].participant.clone()).collect();
    let column = |name: &str, unit: &str, values| NumberColumn {
        name: name.to_owned(),
        unit: Some(unit.to_owned()),
        values,
    };
    let table = Table {
        id: "item".into(),
        ids: items.iter().map(|&i| all[i].item.clone()).collect(),
        texts: vec![TextColumn { name: "participant".into(), values: participants.clone() }],
        numbers: vec![
            column("area", "mm2", measured.iter().map(|b| b.area_mm2).collect()),
            column("volume", "mm3", measured.iter().map(|b| b.volume_mm3).collect()),
            column("centroid_size", "mm", measured.iter().map(|b| b.centroid_size_mm).collect()),
        ],
    };
    Ok(MeasureOutcome {
        people: first_rows(&table, &participants),
        contours: Table::default(),
        summaries: Vec::new(),
        remarks: Vec::new(),
        handbook: Vec::new(),
        watertight: watertight(cohort),
        explained: None,
        table,
    })
}

/// One definition, on the template.
fn explain(cohort: &Cohort, dimensions: &Dimensions, name: &str) -> Result<MeasureOutcome, TaskError> {
    let template = cohort.template();
    dimensions.check(template)?;
    let (definition, on_template) = explained(dimensions, name, template)?;
    let explained = Explained { definition: definition.clone(), on_template };
    Ok(MeasureOutcome {
        table: Table::default(),
        contours: Table::default(),
        people: Table::default(),
        summaries: Vec::new(),
        remarks: Vec::new(),
        handbook: Vec::new(),
        watertight: watertight(cohort),
        explained: Some(explained),
    })
}

/// The proportions of items beside those of handbooks.
pub fn handbook(cohort: &Cohort, items: &[usize]) -> Result<Vec<HandbookRow>, TaskError> {
    let template = cohort.template();
    let source = cohort.select(items.to_vec());
    let params = SegmentParams::default();
    let segments = params.on(template).ok();
    let bodies: Vec<Proportions> = (0..items.len())
        .into_par_iter()
        .map(|i| {
            let shape: Vec<Point> = source.read_shape(i)?;
            Ok::<_, TaskError>(Proportions::of(template, segments.as_ref(), &shape))
        })
        .collect::<Result<_, _>>()?;
    Ok(beside_handbooks(template, &params, &bodies))
}

/// What is known of the items beside their shape.
pub fn facts(cohort: &Cohort, items: &[usize]) -> Table {
    let all = cohort.items();
    let of = |get: &dyn Fn(usize) -> String| items.iter().map(|&i| get(i)).collect::<Vec<_>>();
    let text = |name: &str, values| TextColumn { name: name.to_owned(), values };
    let mut texts = vec![
        text("participant", of(&|i| all[i].participant.clone())),
        text("session", of(&|i| all[i].session.clone())),
        text("capture", of(&|i| all[i].capture.clone())),
    ];
    let columns: BTreeSet<&String> = items.iter().flat_map(|&i| all[i].groups.keys()).collect();
    let mut numbers = Vec::new();
    for column in columns {
        let values = of(&|i| all[i].groups.get(column).cloned().unwrap_or_default());
        match as_numbers(&values) {
            Some(values) => numbers.push(NumberColumn::under(column, values)),
            None => texts.push(text(column, values)),
        }
    }
    Table { id: "item".into(), ids: of(&|i| all[i].item.clone()), numbers, texts }
}

/// The values as numbers, where every one that is there is one.
fn as_numbers(values: &[String]) -> Option<Vec<Option<f64>>> {
    let parsed: Option<Vec<Option<f64>>> = values
        .iter()
        .map(|v| if v.trim().is_empty() { Some(None) } else { v.trim().parse().ok().map(Some) })
        .collect();
    parsed.filter(|p| p.iter().any(Option::is_some))
}

/// The first row of every person, under the person's name.
fn first_rows(table: &Table, participants: &[String]) -> Table {
    let mut seen = BTreeSet::new();
    let rows: Vec<usize> = (0..participants.len()).filter(|&i| seen.insert(&participants[i])).collect();
    Table {
        id: "participant".into(),
        ids: rows.iter().map(|&i| participants[i].clone()).collect(),
        numbers: table
            .numbers
            .iter()
            .map(|c| NumberColumn { values: rows.iter().map(|&i| c.values[i]).collect(), ..c.clone() })
            .collect(),
        texts: table
            .texts
            .iter()
            .filter(|c| c.name != "participant")
            .map(|c| TextColumn {
                name: c.name.clone(),
                values: rows.iter().map(|&i| c.values[i].clone()).collect(),
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_are_missing_and_words_are_no_numbers() {
        let words = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>();
        assert_eq!(as_numbers(&words(&["1.5", "", "2"])), Some(vec![Some(1.5), None, Some(2.0)]));
        assert_eq!(as_numbers(&words(&["1.5", "tall"])), None);
        assert_eq!(as_numbers(&words(&["", ""])), None);
    }

    #[test]
    fn the_first_row_of_a_person_is_kept_under_the_persons_name() {
        let table = Table {
            id: "item".into(),
            ids: vec!["C002_1".into(), "C001_1".into(), "C002_2".into()],
            numbers: vec![NumberColumn {
                name: "stature".into(),
                unit: Some("mm".into()),
                values: vec![Some(1.0), Some(2.0), Some(3.0)],
            }],
            texts: vec![],
        };
        let people = first_rows(&table, &["C002".into(), "C001".into(), "C002".into()]);
        assert_eq!(people.ids, ["C002", "C001"]);
        assert_eq!(people.numbers[0].values, [Some(1.0), Some(2.0)]);
    }
}
