//! The plan of a size system: what a person writes in a TOML file, and the check of it.

use std::collections::BTreeMap;

use formkin_table::wording::at_line;
use serde::{Deserialize, Serialize};

use crate::SizingError;
use crate::{Allowance, Candidates, Intervals, Limit, Loss, MarginPlan, Method, Objective, Tolerance, Types};

/// The plan of a size system. Every key but `control` and `sizes` has a default; unknown keys are refused.
///
/// The defaults of the tolerances' neighbours are common practice without a source: ten folds, five repeats, sizes under 2 % of the people
/// flagged, people within 5 mm of a limit flagged.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// What the sizes are for, in the reader's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Text or number column whose values split the people into groups with sizes of their own, such as sex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,

    /// How the sizes are found.
    #[serde(default)]
    pub method: Method,
    /// Dimensions whose mean and spread the chart gives for every size, beside the control dimensions.
    #[serde(default)]
    pub secondary: Vec<String>,
    /// Dimensions over which the fit model of a size is chosen. Empty: the control and the secondary dimensions.
    #[serde(default)]
    pub fit: Vec<String>,
    /// Column that names the person of a row. Left out: a column called `participant` if there is one, else the table's identifiers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub participant: Option<String>,
    /// Column with the number of people of the population that a row stands for. Left out: everyone counts the same.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weights: Option<String>,
    /// Columns by which the people without a size are counted. Empty: `by`, other text columns of 2 to 12 values, and age in bands.
    #[serde(default)]
    pub describe: Vec<String>,
    /// Folds of the held-out coverage, 2 or more and not more than the people of any group.
    #[serde(default = "ten")]
    pub folds: usize,
    /// How often the folds are dealt anew and the whole is repeated, to reduce the chance of one dealing.
    #[serde(default = "five")]
    pub repeats: usize,
    /// Starts of the k-means, the best of which is kept.
    #[serde(default = "twenty")]
    pub starts: usize,
    /// Seed of every random step.
    #[serde(default = "one")]
    pub seed: u64,
    /// What to do with people who lack a control dimension.
    #[serde(default)]
    pub missing: Missing,
    /// Within how many millimetres of a limit a person is flagged as borderline (lengths alone).
    #[serde(default = "five_mm")]
    pub borderline_mm: f64,
    /// Level of the intervals of coverage, between 0 and 1.
    #[serde(default = "level")]
    pub level: f64,
    /// Least and greatest number of sizes a group for the curve of coverage against the number of sizes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curve: Option<[usize; 2]>,
    /// Whether the sizes are for protective wear: the result then carries the cautions that belong to it.
    #[serde(default)]
    pub protective: bool,
    /// Methods whose coverage is shown beside the chosen one's.
    #[serde(default)]
    pub compare: Vec<Method>,
    /// Resamples of people on which the whole derivation is done again, for intervals and for the stability of the sizes; 0 for none.
    #[serde(default)]
    pub bootstrap: usize,
    /// Share of people, those farthest from every size, that k-medoids may leave aside, 0 to below 0.5.
    #[serde(default)]
    pub trim: f64,
    /// What exact one-dimensional sizes make best.
    #[serde(default)]
    pub objective: Objective,
    /// Columns that `shape-clusters` groups people by, such as shape coefficients.
    #[serde(default)]
    pub shape: Vec<String>,
    /// Where sizes of greatest coverage may lie.
    #[serde(default)]
    pub candidates: Candidates,
    /// Nodes of the search that improves the greatest coverage.
    #[serde(default = "nodes")]
    pub search_nodes: usize,
    /// Half width of the interval of coverage for which the number of people needed is told.
    #[serde(default = "three_percent")]
    pub precision: f64,
    /// Known shares of the population, to which the people are weighted.
    #[serde(default)]
    pub margin: Vec<MarginPlan>,
    /// Most times its mean that a raked weight may be.
    #[serde(default = "five_times")]
    pub weight_cap: f64,
    /// Further limits of fit, which do not decide the size: whether the wearer also suits the size in other dimensions.
    #[serde(default)]
    pub limit: Vec<Limit>,
    /// How many sizes.
    pub sizes: SizesPlan,
    /// The control dimensions: those that decide which size a person takes.
    pub control: Vec<Control>,
}

/// How many sizes, and from when a size is too rare.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizesPlan {
    /// The number of sizes.
    pub count: Count,
    /// A size that fewer than this share of its group's people wear is flagged (0.02 by default; cells under 2-3 % are commonly dropped).
    #[serde(default = "two_percent")]
    pub min_share: f64,
    /// A size that fewer than this many people of the table wear is flagged.
    #[serde(default)]
    pub min_people: usize,
    /// Whether sizes under these bounds are left out instead of flagged: the sizes are derived again with fewer.
    #[serde(default)]
    pub enforce: bool,
}

/// The number of sizes: the same in every group, or one number a group.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(
    untagged,
    expecting = "it must be a whole number, 1 or more, or one a group: { female = 4, male = 5 }"
)]
pub enum Count {
    /// So many in every group.
    Each(usize),
    /// By value of the group column; every group must be named.
    PerGroup(BTreeMap<String, usize>),
}

/// A control dimension and how far a wearer may be from a size's value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Control {
    /// Column of the table, with or without its unit suffix.
    pub dimension: String,
    /// How much smaller and larger the wearer may be.
    pub tolerance: Tolerance,
    /// Unit of `tolerance`, `step` and `scale`: mm, cm or m for lengths. Left out: the column's. For a column without a unit: the unit of both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Sizes' values are rounded to a multiple of this. Left out: not rounded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<f64>,
    /// The difference that counts as one when people are clustered. Left out: half of `below + above`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<f64>,
    /// Intervals of a grid, in `unit`. Left out: as wide as the tolerance, one about the mean.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub intervals: Option<Intervals>,
    /// What too small and too large garments cost, for least loss.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss: Option<Loss>,
    /// How much the dimension changes in movement, in `unit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub allowance: Option<Allowance>,
    /// For nested sizes: how many types of every size this dimension gives.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub types: Option<Types>,
}

impl Control {
    /// A control dimension with its tolerance, all else left out.
    #[must_use]
    pub fn new(dimension: impl Into<String>, below: f64, above: f64) -> Self {
        Self {
            dimension: dimension.into(),
            tolerance: Tolerance { below, above },
            unit: None,
            step: None,
            scale: None,
            intervals: None,
            loss: None,
            allowance: None,
            types: None,
        }
    }

    /// Checks the dimension by itself.
    fn check(&self) -> Result<(), SizingError> {
        let dimension = &self.dimension;
        self.tolerance.check(dimension)?;
        if let Some(loss) = self.loss {
            for (name, value, ok) in [
                ("loose", loss.loose, loss.loose > 0.0),
                ("tight", loss.tight, loss.tight > 0.0),
                ("free_below", loss.free_below, loss.free_below >= 0.0),
                ("free_above", loss.free_above, loss.free_above >= 0.0),
            ] {
                if !(ok && value.is_finite()) {
                    let name = format!("loss.{name} of control dimension `{dimension}`");
                    return Err(SizingError::Setting {
                        name,
                        value,
                        range: "above 0 (free zones: 0 or more)",
                    });
                }
            }
        }
        if let Some(allowance) = self.allowance {
            for (name, value, tolerance) in [
                ("grows", allowance.grows, self.tolerance.above),
                ("shrinks", allowance.shrinks, self.tolerance.below),
            ] {
                if !(value >= 0.0 && value < tolerance) {
                    let name = format!("allowance.{name} of control dimension `{dimension}`");
                    let range = "0 or more, and less than the tolerance on that side: else the size fits nobody in movement";
                    return Err(SizingError::Setting { name, value, range });
                }
            }
        }
        if let Some(types) = self.types.filter(|t| t.count == 0) {
            let name = format!("types.count of control dimension `{dimension}`");
            return Err(SizingError::Setting { name, value: types.count as f64, range: "1 or more" });
        }
        for (name, value) in [("step", self.step), ("scale", self.scale)] {
            if let Some(value) = value.filter(|v| !(v.is_finite() && *v > 0.0)) {
                let name = format!("{name} of control dimension `{dimension}`");
                return Err(SizingError::Setting { name, value, range: "above 0" });
            }
        }
        Ok(())
    }
}

/// What to do with people who lack a control dimension, their group or their weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Missing {
    /// Leave them out, and list them.
    #[default]
    Drop,
    /// Stop with an error.
    Refuse,
}

fn one() -> u64 {
    1
}
fn five() -> usize {
    5
}
fn ten() -> usize {
    10
}
fn twenty() -> usize {
    20
}
fn five_mm() -> f64 {
    5.0
}
fn level() -> f64 {
    0.95
}
fn nodes() -> usize {
    200
}
fn three_percent() -> f64 {
    0.03
}
fn five_times() -> f64 {
    5.0
}
fn two_percent() -> f64 {
    0.02
}

impl Plan {
    /// A plan with the defaults.
    #[must_use]
    pub fn new(control: Vec<Control>, count: Count) -> Self {
        Self {
            title: None,
            by: None,
            method: Method::default(),
            secondary: Vec::new(),
            fit: Vec::new(),
            participant: None,
            weights: None,
            describe: Vec::new(),
            folds: ten(),
            repeats: five(),
            starts: twenty(),
            seed: one(),
            missing: Missing::default(),
            borderline_mm: five_mm(),
            level: level(),
            curve: None,
            protective: false,
            compare: Vec::new(),
            bootstrap: 0,
            trim: 0.0,
            objective: Objective::default(),
            shape: Vec::new(),
            candidates: Candidates::default(),
            search_nodes: nodes(),
            precision: three_percent(),
            margin: Vec::new(),
            weight_cap: five_times(),
            limit: Vec::new(),
            sizes: SizesPlan { count, min_share: two_percent(), min_people: 0, enforce: false },
            control,
        }
    }

    /// Reads a plan.
    ///
    /// # Errors
    /// [`SizingError::Toml`] for what is not a plan (an unknown key, a missing one, a wrong type), with the place; and all of
    /// [`check`](Self::check).
    pub fn from_toml(text: &str) -> Result<Self, SizingError> {
        let plan: Self = toml::from_str(text).map_err(|e: toml::de::Error| SizingError::Toml {
            message: at_line(text, e.span().map(|s| s.start), e.message()),
        })?;
        plan.check()?;
        Ok(plan)
    }

    /// The plan as TOML.
    ///
    /// # Errors
    /// [`SizingError::Toml`] where a value has no place in TOML.
    pub fn to_toml(&self) -> Result<String, SizingError> {
        toml::to_string_pretty(self).map_err(|e| SizingError::Toml { message: e.to_string() })
    }

    /// What a method needs of the plan.
    fn check_method(&self, method: Method) -> Result<(), SizingError> {
        let unfit = |reason: &'static str| Err(SizingError::Method { method: method.name(), reason });
        match method {
            Method::DynamicProgramming if self.control.len() != 1 => {
                unfit("it is exact for one control dimension only; name one, or use greatest-coverage")
            }
            Method::Intervals if self.control.len() > 3 => {
                unfit("a grid has at most three control dimensions; name fewer, or use another method")
            }
            Method::GreatestCoverage if self.candidates == Candidates::Grid && self.control.len() > 3 => {
                unfit("a grid of candidates has at most three control dimensions; take candidates at people")
            }
            Method::ShapeClusters if self.shape.is_empty() => {
                unfit("it needs the columns to group people by; add shape = [\"COLUMN\", ...]")
            }
            Method::Nested
                if self.control.len() < 2 || self.control[1..].iter().any(|c| c.types.is_none()) =>
            {
                unfit("every control dimension after the first needs `types = { count = N }`")
            }
            _ => Ok(()),
        }
    }

    /// Checks what can be checked without a table.
    ///
    /// # Errors
    /// [`SizingError::NoControl`], [`SizingError::RepeatedControl`], [`SizingError::Tolerance`] and [`SizingError::Setting`].
    pub fn check(&self) -> Result<(), SizingError> {
        if self.control.is_empty() {
            return Err(SizingError::NoControl);
        }
        for (at, control) in self.control.iter().enumerate() {
            if self.control[..at].iter().any(|c| c.dimension == control.dimension) {
                return Err(SizingError::RepeatedControl { dimension: control.dimension.clone() });
            }
            control.check()?;
        }
        let counts: Vec<usize> = match &self.sizes.count {
            Count::Each(count) => vec![*count],
            Count::PerGroup(counts) => counts.values().copied().collect(),
        };
        let setting = |ok: bool, name: &str, value: f64, range: &'static str| {
            if ok { Ok(()) } else { Err(SizingError::Setting { name: name.to_owned(), value, range }) }
        };
        for count in counts {
            setting(count > 0, "sizes.count", count as f64, "1 or more")?;
        }
        if let Some([least, most]) = self.curve {
            setting(
                least > 0 && least <= most,
                "curve",
                least as f64,
                "[least, most] with 1 <= least <= most",
            )?;
        }
        let share = self.sizes.min_share;
        setting((0.0..1.0).contains(&share), "sizes.min_share", share, "from 0 to below 1")?;
        setting(self.folds >= 2, "folds", self.folds as f64, "2 or more")?;
        setting((1..=1000).contains(&self.repeats), "repeats", self.repeats as f64, "1 to 1000")?;
        setting((1..=10_000).contains(&self.starts), "starts", self.starts as f64, "1 to 10000")?;
        setting((0.0..0.5).contains(&self.trim), "trim", self.trim, "from 0 to below 0.5")?;
        setting(
            self.bootstrap != 1 && self.bootstrap <= 100_000,
            "bootstrap",
            self.bootstrap as f64,
            "0, or 2 to 100000",
        )?;
        setting(
            self.precision > 0.0 && self.precision < 0.5,
            "precision",
            self.precision,
            "between 0 and 0.5",
        )?;
        setting(
            self.weight_cap > 1.0 && self.weight_cap.is_finite(),
            "weight_cap",
            self.weight_cap,
            "above 1",
        )?;
        self.limit.iter().try_for_each(|l| l.tolerance.check(&l.dimension))?;
        self.margin.iter().try_for_each(MarginPlan::check)?;
        for method in self.compare.iter().chain([&self.method]) {
            self.check_method(*method)?;
        }
        setting(self.level > 0.0 && self.level < 1.0, "level", self.level, "between 0 and 1")?;
        setting(
            self.borderline_mm >= 0.0 && self.borderline_mm.is_finite(),
            "borderline_mm",
            self.borderline_mm,
            "0 or more",
        )
    }
}
