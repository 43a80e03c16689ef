//! A size system: the result of a plan on a table.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::{Assignment, Method, Plan, Size};

/// Sizes, who takes which, and how many people they fit. Values are in the units of the table's columns, which every entry carries.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SizeSystem {
    /// The plan, defaults filled in.
    pub plan: Plan,
    /// Whether the sizes were given by a chart and tried on the people: then nothing was derived, and coverage held out is that of the people as they are.
    #[serde(default)]
    pub given: bool,
    /// People the sizes were made from.
    pub people: usize,
    /// People of the table who were left out, and why.
    pub dropped: Vec<Dropped>,
    /// Sizes over all groups.
    pub size_count: usize,
    /// The control dimensions with their tolerances in the columns' units.
    pub controls: Vec<ControlInfo>,
    /// One system a group, in the order of the groups' names; one group called `all` without a group column.
    pub groups: Vec<GroupSystem>,
    /// Share of the people, over all groups, whom a size covers: the very people the sizes were made from. Optimistic.
    pub coverage_in_sample: f64,
    /// Interval of it.
    pub coverage_in_sample_interval: (f64, f64),
    /// Share of people whom the sizes cover when derived without them: the figure to rely on.
    pub coverage_held_out: f64,
    /// Interval of it.
    pub held_out_interval: (f64, f64),
    /// Level of the intervals (Wilson, at the effective number of people).
    pub interval_level: f64,
    /// (sum w)^2 / sum w^2: the people, where all weights are equal.
    pub effective_people: f64,
    /// 1 + CV^2 of the weights: the price of weighting.
    pub design_effect: f64,
    /// The people without a size: how many, who, and why.
    pub left_out: LeftOut,
    /// Coverage against the number of sizes a group, over all groups, where the plan asks for it.
    pub curve: Vec<CurvePoint>,
    /// The knee of the curve.
    pub knee: Option<Knee>,
    /// Coverage by the methods that the plan compares, at the numbers of sizes of the curve, else at the plan's.
    pub compared: Vec<MethodCurve>,
    /// The coverage to expect where the method or the number of sizes is chosen by these figures.
    #[serde(default)]
    pub chosen: Vec<Chosen>,
    /// Share of people whom any system of so many sizes in each group with the plan's tolerances could cover at most: a true bound for these people. None beyond three control dimensions.
    pub ceiling: Option<f64>,
    /// The resamples of the whole derivation, over all groups.
    pub resampled: Option<Resampled>,
    /// People who suit their size also in the plan's further limits, in sample; None without limits.
    pub coverage_all_dimensions: Option<f64>,
    /// People needed for an interval of coverage no wider than the plan's precision on either side.
    pub people_needed: usize,
    /// How the weights were raked.
    pub raking: Option<Raking>,
    /// Coverage in movement, where the plan has allowances.
    pub movement: Option<InMovement>,
    /// What a reader must know about these figures.
    pub notes: Vec<String>,
    /// What these sizes do not say.
    pub cautions: Vec<String>,
}

/// A person of the table who was left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dropped {
    /// The row.
    pub id: String,
    /// The first column it lacks.
    pub column: String,
}

/// A control dimension as used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ControlInfo {
    /// Its name.
    pub dimension: String,
    /// Its unit in the table, if it has one.
    pub unit: Option<String>,
    /// The wearer may be so much smaller, in `unit`.
    pub below: f64,
    /// The wearer may be so much larger, in `unit`.
    pub above: f64,
    /// Step to which sizes' values are rounded, in `unit`.
    pub step: Option<f64>,
    /// Difference that counts as one in clustering, in `unit`.
    pub scale: f64,
}

/// The sizes of one group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroupSystem {
    /// Value of the group column; `all` without one.
    pub group: String,
    /// Its people.
    pub people: usize,
    /// Its people after weighting: (sum w)^2 / sum w^2.
    pub effective_people: f64,
    /// Its sizes, ascending by the first control dimension, then the next.
    pub sizes: Vec<Size>,
    /// One entry a person, in the order of the table.
    pub assignments: Vec<Assignment>,
    /// Share of the people the sizes were made from whom a size covers. Optimistic.
    pub coverage_in_sample: f64,
    /// Interval of it.
    pub coverage_in_sample_interval: (f64, f64),
    /// Share of people whom the sizes cover when derived without them.
    pub coverage_held_out: f64,
    /// Interval of it.
    pub held_out_interval: (f64, f64),
    /// Mean distance of a person from the value of their nearest size, over the control dimensions that are lengths, in mm: the
    /// aggregate loss of fit (1/N) sum_i sqrt(sum_j (x_ij - s_j)^2). None where no control dimension is a length of a known unit.
    pub aggregate_loss_mm: Option<f64>,
    /// Coverage against the number of sizes, where the plan asks for it.
    pub curve: Vec<CurvePoint>,
    /// Share whom any system of so many sizes could cover at most; None beyond three control dimensions.
    pub ceiling: Option<f64>,
    /// For greatest coverage: no sizes at the same candidates cover a greater share than this, by branch and bound.
    pub method_bound: Option<f64>,
    /// Nodes of that search.
    pub search_nodes: usize,
    /// What a decision tree asked, for sizes found by one.
    pub rules: Vec<String>,
    /// The resamples of the whole derivation.
    pub resampled: Option<Resampled>,
    /// How the secondary dimensions go with the control dimensions, from size to size.
    pub grading: Vec<GradeRule>,
    /// What a further size could add.
    pub one_more: Option<OneMore>,
    /// Median signed distance of the people from the middles of their nearest sizes' ranges, in every control dimension: by how much the sizes would have to shift to lie about these people.
    pub shift: BTreeMap<String, f64>,
    /// Share of these people whom the sizes would cover if all shifted by so much.
    pub coverage_shifted: f64,
    /// Where people without a size are.
    pub gaps: Gaps,
}

/// Where people without a size are: between sizes, or beyond the outermost.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Gaps {
    /// Share of the group's people who have no size although they are within the outermost limits of the sizes in every control dimension.
    pub between: f64,
    /// Share of the group's people who are beyond the outermost limits in some control dimension.
    pub beyond: f64,
    /// Values of one control dimension, between the outermost limits, that are in no size's range at all.
    pub intervals: Vec<GapInterval>,
}

/// An interval of a control dimension that no size reaches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GapInterval {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// The upper limit below it.
    pub from: f64,
    /// The lower limit above it.
    pub to: f64,
    /// Share of the group's people in it.
    pub share: f64,
}

/// The knee of a curve of coverage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Knee {
    /// Number of sizes (a group) at which more sizes begin to add less: greatest height over the line between the curve's ends.
    pub sizes: usize,
    /// Coverage held out there.
    pub coverage_held_out: f64,
    /// The fewest sizes whose coverage is within one standard error of the curve's highest.
    pub enough: usize,
}

/// The curve of a method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MethodCurve {
    /// The method.
    pub method: Method,
    /// Its coverage by number of sizes.
    pub points: Vec<CurvePoint>,
}

/// What a choice by held-out coverage is worth, by nested cross-validation: the choice repeated without the people it is judged on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Chosen {
    /// What is chosen.
    pub by: ChosenBy,
    /// Outer folds, and as many inner ones in each.
    pub folds: usize,
    /// What there is to choose from.
    pub options: Vec<ChosenOption>,
    /// Held-out coverage of the option that wins among all people: what a reader sees who chooses by it. Optimistic.
    pub coverage_shown: f64,
    /// Coverage of people who had no part in the choice: the figure to rely on where the choice was made by looking.
    pub coverage_nested: f64,
    /// Interval of it (Wilson).
    pub nested_interval: (f64, f64),
}

/// What is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ChosenBy {
    /// The method with the highest held-out coverage at the plan's number of sizes.
    Method,
    /// The fewest sizes (in every group) whose held-out coverage is within one standard error of the highest.
    Number,
}

/// An option of a choice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChosenOption {
    /// The method.
    pub method: Method,
    /// Sizes in every group; None for the plan's number.
    pub sizes: Option<usize>,
    /// Its held-out coverage within the outer folds, on average.
    pub coverage_held_out: f64,
    /// Outer folds in which it wins.
    pub times: usize,
}

/// What resamples of the people say of the derivation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Resampled {
    /// Resamples.
    pub resamples: usize,
    /// Interval of the held-out coverage that allows for the sizes' own dependence on the sample: the quantiles of the coverage of each resample by its own sizes, less their mean,
    /// about the held-out coverage.
    pub coverage_interval: (f64, f64),
    /// Standard deviation of the coverage of a resample by its own sizes.
    pub standard_error: f64,
    /// Mean coverage of people who were not in the resample that the sizes were made from.
    pub coverage_out_of_bag: f64,
    /// Mean of (coverage of the resample by its sizes - coverage of all people by them): how much the in-sample figure flatters.
    pub optimism: f64,
    /// Resamples, the first of them, in which the sizes were derived anew, without the sizes as a start: those that say whether sizes come back.
    pub anew: usize,
    /// Mean adjusted Rand index between the wearers by the sizes and by those derived anew in a resample: 1 where the same people go together.
    pub agreement: f64,
}

/// How a secondary dimension goes with the control dimensions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GradeRule {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// People behind it.
    pub people: usize,
    /// Change for a change of 1 in every control dimension, in the units of the columns; never negative for the first one.
    pub slopes: Vec<f64>,
    /// Where the slope of the first control dimension changes, if it does.
    pub break_at: Option<f64>,
    /// The first slope beyond the break.
    pub slope_above: f64,
    /// Share of variance explained.
    pub r2: f64,
    /// Residual standard deviation: how far people of the same control dimensions differ.
    pub residual_sd: f64,
    /// The value of every size, in the order of the sizes, monotone in the first control dimension.
    pub values: Vec<f64>,
    /// The increment from the size before; none for the first.
    pub increments: Vec<Option<f64>>,
}

/// A further size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OneMore {
    /// Its value in every control dimension.
    pub centre: BTreeMap<String, f64>,
    /// Share of the group's people whom no other size covers and it would.
    pub gain: f64,
}

/// How weights were raked to known margins.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Raking {
    /// Rounds.
    pub rounds: usize,
    /// Largest distance of a class's share from its target after capping.
    pub largest_gap: f64,
    /// Weights at a limit.
    pub capped: usize,
    /// Classes under ten people, whose weights say little.
    pub few: Vec<String>,
}

/// Coverage where every dimension may grow and shrink by the plan's allowances.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InMovement {
    /// Share of people whom the sizes cover in movement as well, in sample.
    pub coverage_in_sample: f64,
    /// The same held out, the sizes derived for movement: with the tolerances less the allowances.
    pub coverage_held_out: f64,
    /// Interval of it.
    pub held_out_interval: (f64, f64),
    /// Sizes in each group that cover as many people in movement as the plan's number does standing, held out: the price of mobility. None where three times as many do not.
    pub sizes_needed: Option<usize>,
}

/// The people without a size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// How many.
    pub people: usize,
    /// Weighted share of all people.
    pub share: f64,
    /// By control dimension: whom it excludes, and by how much.
    pub by_dimension: Vec<LeftOutDimension>,
    /// By group column and age band: how many of whom.
    pub by_column: Vec<LeftOutGroup>,
}

/// Whom a control dimension excludes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOutDimension {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// People without a size who are smaller than the nearest size's lower limit.
    pub too_small: usize,
    /// People without a size who are larger than the nearest size's upper limit.
    pub too_large: usize,
    /// Those of both whom no other dimension excludes.
    pub alone: usize,
    /// Median distance beyond the limit, in `unit`; None where it excludes nobody.
    pub median_miss: Option<f64>,
    /// Greatest distance beyond the limit, in `unit`.
    pub largest_miss: Option<f64>,
}

/// People without a size in one class of a column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOutGroup {
    /// The column.
    pub column: String,
    /// The class.
    pub value: String,
    /// People in it.
    pub people: usize,
    /// Those without a size.
    pub left_out: usize,
    /// Weighted share of the class without a size.
    pub share: f64,
    /// Share of the class whom sizes cover that were derived without them.
    pub coverage_held_out: f64,
    /// Interval of it.
    pub held_out_interval: (f64, f64),
    /// Whether the class has fewer than ten people, so that its share says little.
    pub few: bool,
}

/// Coverage at one number of sizes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Sizes a group.
    pub sizes: usize,
    /// Coverage of the people the sizes were made from. Optimistic.
    pub coverage_in_sample: f64,
    /// Coverage of people held out.
    pub coverage_held_out: f64,
    /// Interval of the held-out coverage.
    pub held_out_interval: (f64, f64),
    /// Coverage that no system of so many sizes with the plan's tolerances can go beyond on these people.
    pub ceiling: Option<f64>,
}

impl SizeSystem {
    /// Mean distance of a person from the value of their nearest size over all groups, by the people's weights, in mm; None where a group has none.
    #[must_use]
    pub fn aggregate_loss_mm(&self) -> Option<f64> {
        let (mut sum, mut total) = (0.0, 0.0);
        for group in &self.groups {
            let weight: f64 = group.assignments.iter().map(|a| a.weight).sum();
            sum += group.aggregate_loss_mm? * weight;
            total += weight;
        }
        (total > 0.0).then(|| sum / total)
    }
}
