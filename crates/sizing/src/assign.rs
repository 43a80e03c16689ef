//! Which size of a chart a person takes, and how it sits.

use formkin_table::{NumberFormat, Sheet, Table};
use serde::{Deserialize, Serialize};

use crate::axes::{Misfit, Place, lexical};
use crate::chart::owned;
use crate::fault::ChartFault;
use crate::group::borderline;
use crate::people::{People, number, text};
use crate::{Chart, SizingError};

/// Which size a person takes, and how it sits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// The person.
    pub id: String,
    /// The size, or None where none covers the person.
    pub size: Option<String>,
    /// The nearest size.
    pub nearest: Choice,
    /// The next nearest.
    pub second: Option<Choice>,
    /// Whether a few millimetres would change the answer.
    pub borderline: bool,
    /// Why there is no answer, where a value is missing.
    pub missing: Option<String>,
}

/// A size as it sits on a person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// Its name.
    pub size: String,
    /// Largest deviation over its tolerance: 1 is the limit.
    pub loss: f64,
    /// Dimensions in which it is tight or loose.
    pub feel: Vec<Feel>,
}

/// A dimension in which a size does not sit in the middle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Feel {
    /// The dimension.
    pub dimension: String,
    /// `tight` (the person is larger), `loose` (smaller).
    pub what: String,
    /// Person less the size's value, in the chart's unit.
    pub by: f64,
    /// Whether the person is beyond the limit: outside the range of a control dimension, more than two standard deviations of the wearers off in another.
    pub beyond: bool,
}

/// A person in the inner part of a range, to this share of the tolerance, is neither tight nor loose.
const INNER: f64 = 0.5;

impl Chart {
    /// The size of every row of a table: the nearest and the next, with what is tight and what is loose. `by` names the group column where the chart has groups. People who lack a value get no
    /// advice, and the reason.
    ///
    /// # Errors
    /// Columns that are missing, units that differ, groups that the chart does not have.
    pub fn assign(
        &self,
        table: &Table,
        by: Option<&str>,
        borderline_mm: f64,
    ) -> Result<Vec<Advice>, SizingError> {
        let plan = self.plan(None);
        plan.check()?;
        let groups = self.groups();
        let group_of = match (groups.len() > 1, by) {
            (false, _) => None,
            (true, Some(by)) => Some(text(table, by, "group column")?),
            (true, None) => {
                return Err(ChartFault::NoGroupColumnOfNew { groups: owned(&groups) }.into());
            }
        };
        let axes =
            plan.control.iter().map(|c| crate::axes::Axis::of(c, table)).collect::<Result<Vec<_>, _>>()?;
        let columns = axes
            .iter()
            .map(|a| number(table, &a.info.dimension, "control dimension"))
            .collect::<Result<Vec<_>, _>>()?;
        let nobody = People {
            rows: Vec::new(),
            points: Vec::new(),
            weights: Vec::new(),
            group: Vec::new(),
            groups: Vec::new(),
            dropped: Vec::new(),
            axes,
            shape: Vec::new(),
            raking: None,
        };
        let mut advice = Vec::with_capacity(table.ids.len());
        for row in 0..table.ids.len() {
            let id = table.ids[row].clone();
            let group = group_of.as_ref().map(|g| g[row].trim());
            let places = self.places(group, &nobody);
            let lacking =
                columns.iter().find(|c| !c.values[row].is_some_and(f64::is_finite)).map(|c| c.header());
            let lacking = lacking.or_else(|| {
                places.is_empty().then(|| format!("a size for group `{}`", group.unwrap_or_default()))
            });
            if let Some(missing) = lacking {
                let none = Choice { size: String::new(), loss: f64::NAN, feel: Vec::new() };
                advice.push(Advice {
                    id,
                    size: None,
                    nearest: none,
                    second: None,
                    borderline: false,
                    missing: Some(missing),
                });
                continue;
            }
            let point: Vec<f64> = columns.iter().map(|c| c.values[row].unwrap_or(f64::NAN)).collect();
            let mut order: Vec<(usize, &Place, Misfit)> =
                places.iter().map(|(n, p)| (*n, p, Misfit::of(&point, p))).collect();
            // Ties to the larger size.
            order.sort_by(|a, b| a.2.compare(b.2).then_with(|| lexical(&b.1.centre, &a.1.centre)));
            let choice =
                |at: &(usize, &Place, Misfit)| self.choice(at.0, at.1, at.2, &point, table, row, &nobody);
            let first = &order[0];
            advice.push(Advice {
                id,
                size: first.2.covers().then(|| self.sizes[first.0].name.clone()),
                nearest: choice(first),
                second: order.get(1).map(choice),
                borderline: borderline(&point, first.1, &nobody.axes, borderline_mm),
                missing: None,
            });
        }
        Ok(advice)
    }

    #[allow(clippy::too_many_arguments, reason = "one person on one size, with all that is known")]
    fn choice(
        &self,
        size: usize,
        place: &Place,
        misfit: Misfit,
        point: &[f64],
        table: &Table,
        row: usize,
        people: &People,
    ) -> Choice {
        let mut feel = Vec::new();
        for (j, axis) in people.axes.iter().enumerate() {
            let by = point[j] - place.centre[j];
            let tolerance = if by < 0.0 { place.below[j] } else { place.above[j] };
            if by.abs() > INNER * tolerance {
                feel.push(Feel {
                    dimension: axis.info.dimension.clone(),
                    what: if by > 0.0 { "tight" } else { "loose" }.to_owned(),
                    by,
                    beyond: place.miss(j, point[j]).is_some(),
                });
            }
        }
        for ((dimension, unit), wearer) in self.secondary.iter().zip(&self.sizes[size].secondary) {
            let column = table.numbers.iter().find(|c| c.name == *dimension && c.unit == *unit);
            let value = column.and_then(|c| c.values[row]).filter(|v| v.is_finite());
            if let (Some(value), Some((mean, sd))) = (value, wearer)
                && *sd > 0.0
                && (value - mean).abs() > sd * 1.0
            {
                feel.push(Feel {
                    dimension: dimension.clone(),
                    what: if value > *mean { "tight" } else { "loose" }.to_owned(),
                    by: value - mean,
                    beyond: (value - mean).abs() > 2.0 * sd,
                });
            }
        }
        Choice { size: self.sizes[size].name.clone(), loss: misfit.largest, feel }
    }
}

/// A row a person: size or `none`, the nearest and the second choice, what is tight and what is loose (with `!` where beyond a limit).
#[must_use]
pub fn advice_sheet(advice: &[Advice]) -> Sheet {
    let felt = |choice: Option<&Choice>, what: &str| {
        let named = choice.into_iter().flat_map(|c| &c.feel).filter(|f| f.what == what);
        named
            .map(|f| format!("{}{}", f.dimension, if f.beyond { "!" } else { "" }))
            .collect::<Vec<_>>()
            .join(" ")
    };
    let nearest = |a: &Advice, what: &str| felt(Some(&a.nearest), what);
    let second = |a: &Advice, what: &str| felt(a.second.as_ref(), what);
    let three = NumberFormat::Fixed(3);
    Sheet::new()
        .text("id", "The person", advice.iter().map(|a| a.id.as_str()))
        .text("size", "Their size, or none", advice.iter().map(|a| a.size.as_deref().unwrap_or("none")))
        .text("nearest", "The nearest size", advice.iter().map(|a| a.nearest.size.as_str()))
        .number(
            "loss",
            None,
            "Largest deviation from it over its tolerance",
            three,
            advice.iter().map(|a| a.nearest.loss),
        )
        .flag(
            "borderline",
            "Whether a few millimetres would change the answer",
            advice.iter().map(|a| a.borderline),
        )
        .text("tight", "Where it is tight", advice.iter().map(|a| nearest(a, "tight")))
        .text("loose", "Where it is loose", advice.iter().map(|a| nearest(a, "loose")))
        .text(
            "second",
            "The second choice",
            advice.iter().map(|a| a.second.as_ref().map_or("", |s| s.size.as_str())),
        )
        .optional_number(
            "second_loss",
            None,
            "Largest deviation from it over its tolerance",
            three,
            advice.iter().map(|a| a.second.as_ref().map(|s| s.loss)),
        )
        .text("second_tight", "Where it is tight", advice.iter().map(|a| second(a, "tight")))
        .text("second_loose", "Where it is loose", advice.iter().map(|a| second(a, "loose")))
        .text(
            "missing",
            "What is missing for an advice",
            advice.iter().map(|a| a.missing.clone().unwrap_or_default()),
        )
}
