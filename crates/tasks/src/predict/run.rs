//! A space and given dimensions to the body that goes with them, measured again until it has them.

use std::collections::BTreeMap;

use formkin_geometry::Point;
use formkin_measure::Taker;
use formkin_shape::predict::{Conditional, Given, PlsParams, VariableKind, vertex_sd_mm};
use formkin_shape::{DimensionMoments, Space};
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::bodies::{to_up, upright};
use crate::measure::Measuring;
use crate::space::{known, levels, positions};

/// A body is measured again so often at most.
pub const MOST_ROUNDS: usize = 5;
/// How near to the target a length must come, in mm.
pub const NEAR_MM: f64 = 1.0;

/// Given values further out than this, in SDs, are mistakes: nobody is.
pub const MOST_DISTANCE: f64 = 15.0;

/// How the body is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// The conditional normal distribution.
    ConditionalNormal,
    /// Partial least squares with so many components.
    PartialLeastSquares {
        /// Components.
        components: usize,
    },
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PredictJob {
    /// Values of dimensions and numbers, each in the unit of the space.
    pub values: BTreeMap<String, f64>,
    /// Levels of columns of words.
    pub levels: BTreeMap<String, String>,
    /// Technical errors of measurement of some values, as SDs in their units; the others are exact.
    pub errors: BTreeMap<String, f64>,
    /// How.
    pub method: Method,
}

/// A dimension of the predicted body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionOutcome {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: Option<String>,
    /// The value that was given.
    pub target: Option<f64>,
    /// What people with the given values have on average.
    pub expected: f64,
    /// 95 % of such people lie within this; a given exact value has no width.
    pub interval_95: (f64, f64),
    /// What the predicted mesh has; none where it is not taken on meshes or could not be.
    pub measured: Option<f64>,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PredictOutcome {
    /// V positions in mm, upright, the lowest vertex at z = 0.
    pub positions: Vec<Point>,
    /// V SDs of the coordinates of such a person's vertices about them, in mm: what is beyond the modes included.
    pub sd_mm: Vec<Point>,
    /// Factor of the SD for intervals of 95 %.
    pub t_95: f64,
    /// Coefficients of the body, in mm.
    pub coefficients_mm: Vec<f64>,
    /// Dimensions and numbers.
    pub dimensions: Vec<DimensionOutcome>,
    /// How often the body was measured.
    pub rounds: usize,
    /// The largest distance of a given length from its target on the mesh, in mm; none where nothing was measured.
    pub largest_miss_mm: Option<f64>,
    /// Whether every given length is within 1 mm of its target.
    pub on_target: Option<bool>,
    /// Mahalanobis distance of the given values from the mean.
    pub mahalanobis: f64,
    /// The distance within which 99 % of people lie.
    pub limit: f64,
    /// Whether the given values are further out.
    pub outside: bool,
    /// The method.
    pub method: Method,
    /// Number of people that the prediction rests on.
    pub people: usize,
    /// What a reader must know.
    pub notes: Vec<String>,
}

fn no(reason: String) -> TaskError {
    TaskError::Space { reason }
}

/// Finds the body that goes with the given values.
///
/// # Errors
/// [`TaskError::Space`] where the space was built without dimensions or knows no such name or level; values that cannot be given.
pub fn predict(space: &Space, job: &PredictJob) -> Result<PredictOutcome, TaskError> {
    let moments = moments(space)?;
    let given = sensible(moments, job)?;
    let found = moments.condition(&given)?;
    if found.mahalanobis.is_nan() || found.mahalanobis > MOST_DISTANCE {
        return Err(no(format!(
            "the given values lie {:.0} SD from the mean of its {} people, further than any body: look at their units",
            found.mahalanobis, moments.people
        )));
    }
    let mut notes = Vec::new();
    if found.outside {
        notes.push(format!(
            "The given values lie {:.1} SD from the mean, further out than 99 % of people ({:.1}): the body is an extrapolation.",
            found.mahalanobis, found.limit
        ));
    }
    let body = Body::find(space, moments, job.method, &given, &found)?;
    if body.rounds == 0 {
        notes.push("The space carries no definitions of dimensions: the body was not measured.".to_owned());
    }
    let on_target = body.largest_miss_mm.map(|m| m <= NEAR_MM);
    if on_target == Some(false) {
        notes.push(format!(
            "After {} rounds a given dimension of the mesh is still {:.1} mm from its target.",
            body.rounds,
            body.largest_miss_mm.unwrap_or_default()
        ));
    }
    if job.method != Method::ConditionalNormal {
        notes.push("Intervals are those of the conditional normal distribution.".to_owned());
    }
    let noise = space.probabilistic(Some(moments.coefficient_means_mm.len()))?.noise_mm2;
    let mut sd_mm = vertex_sd_mm(&space.modes, &found.covariance_mm2, noise, &to_up(moments.up))?;
    widen(moments, &given, &mut sd_mm, &mut notes);
    Ok(PredictOutcome {
        dimensions: dimensions(moments, &given, &found, &body.measured),
        positions: body.positions,
        sd_mm,
        t_95: found.t_95,
        coefficients_mm: body.coefficients_mm,
        rounds: body.rounds,
        largest_miss_mm: body.largest_miss_mm,
        on_target,
        mahalanobis: found.mahalanobis,
        limit: found.limit,
        outside: found.outside,
        method: job.method,
        people: moments.people,
        notes,
    })
}

/// What the space knows of dimensions.
fn moments(space: &Space) -> Result<&DimensionMoments, TaskError> {
    space.regression.as_ref().ok_or_else(|| {
        no(if space.is_merged() {
            "merged spaces hold no dimensions: run predict in a space built from scans with --dimensions"
        } else {
            "it was built without dimensions, so that nothing can be predicted: build it with `formkin space --dimensions FILE`, or by a study with dimensions"
        }
        .to_owned())
    })
}

/// What is given, as far as a body can have it.
fn sensible(moments: &DimensionMoments, job: &PredictJob) -> Result<Vec<Given>, TaskError> {
    if job.values.is_empty() && job.levels.is_empty() {
        return Err(no(format!("no value is given; give some of {}", known(moments))));
    }
    let given = given(moments, job)?;
    for g in &given {
        let v = &moments.variables[g.variable];
        let length = v.kind == VariableKind::Dimension && millimetres(v.unit.as_deref()).is_some();
        if length && g.value <= 0.0 {
            return Err(no(format!("`{}` of {} is no length of a body", v.name, g.value)));
        }
    }
    Ok(given)
}

/// A body that is asked for again with other values until its mesh has those that were given.
struct Body {
    coefficients_mm: Vec<f64>,
    positions: Vec<Point>,
    /// How often it was measured; 0 where the space carries no definitions.
    rounds: usize,
    largest_miss_mm: Option<f64>,
    measured: BTreeMap<String, f64>,
}

impl Body {
    fn find(
        space: &Space,
        moments: &DimensionMoments,
        method: Method,
        given: &[Given],
        found: &Conditional,
    ) -> Result<Self, TaskError> {
        let shape = |values: &[Given]| -> Result<(Vec<f64>, Vec<Point>), TaskError> {
            let coefficients = match method {
                Method::ConditionalNormal => moments.condition(values)?.coefficients_mm,
                Method::PartialLeastSquares { components } => {
                    let params = PlsParams { components, ..PlsParams::default() };
                    moments.partial_least_squares(values, &params)?.0
                }
            };
            let positions = upright(space, &coefficients, moments.up);
            Ok((coefficients, positions))
        };
        let mut asked = given.to_vec();
        let (coefficients_mm, positions) = shape(&asked)?;
        let mut body =
            Self { coefficients_mm, positions, rounds: 0, largest_miss_mm: None, measured: BTreeMap::new() };
        let Some((measuring, template)) = Measuring::read(space)? else { return Ok(body) };
        let taker = Taker::new(&measuring.dimensions, &template);
        loop {
            body.rounds += 1;
            let taken = taker.take(&body.positions);
            let named = measuring.dimensions.definitions.iter().zip(&taken);
            body.measured = named.filter_map(|(d, m)| m.value.map(|v| (d.name.clone(), v))).collect();
            body.largest_miss_mm = body.correct(moments, given, found, &mut asked);
            if body.rounds == MOST_ROUNDS || body.largest_miss_mm.is_none_or(|m| m <= NEAR_MM) {
                return Ok(body);
            }
            (body.coefficients_mm, body.positions) = shape(&asked)?;
        }
    }

    /// Moves the values that are asked for by how far the mesh is from those given, and returns the largest distance in mm; none where no given
    /// length was measured.
    fn correct(
        &self,
        moments: &DimensionMoments,
        given: &[Given],
        found: &Conditional,
        asked: &mut [Given],
    ) -> Option<f64> {
        let mut miss: Option<f64> = None;
        for (g, next) in given.iter().zip(asked) {
            let variable = &moments.variables[g.variable];
            let Some(mm) = millimetres(variable.unit.as_deref()) else { continue };
            let Some(has) =
                self.measured.get(&variable.name).filter(|_| variable.kind == VariableKind::Dimension)
            else {
                continue;
            };
            let off = found.variables[g.variable].value - has;
            next.value += off;
            miss = Some(miss.unwrap_or(0.0).max((off * mm).abs()));
        }
        miss
    }
}

/// Multiplies SDs by what makes intervals hold 95 % of people held out, where that is known, and says how it is known.
fn widen(moments: &DimensionMoments, given: &[Given], sd_mm: &mut [Point], notes: &mut Vec<String>) {
    let Some((check, errors)) = moments.errors.as_ref().and_then(|e| e.intervals.map(|i| (i, e))) else {
        notes.push("Intervals are those of the model: no people held out were predicted (`--predict-from` of `formkin space`).".to_owned());
        return;
    };
    sd_mm.iter_mut().for_each(|sd| *sd = sd.map(|x| x * check.factor));
    notes.push(format!(
        "Of {} people held out, predicted from {}, intervals of 95 % held {:.1} % of the vertices' coordinates; they are multiplied by {:.2}, which makes that 95 %.",
        errors.people,
        errors.given.join(", "),
        100.0 * check.coverage_95,
        check.factor
    ));
    let mut own: Vec<&str> = given.iter().map(|g| moments.variables[g.variable].name.as_str()).collect();
    let mut checked: Vec<&str> = errors.given.iter().map(String::as_str).collect();
    own.sort_unstable();
    checked.sort_unstable();
    if own != checked {
        notes.push(format!(
            "That check is of other given values than these ({}): how their intervals hold is not known. Build the space with these named (`--predict-from`).",
            own.join(", ")
        ));
    }
}

/// What is given, by the variables of the space.
fn given(moments: &DimensionMoments, job: &PredictJob) -> Result<Vec<Given>, TaskError> {
    let mut given = Vec::new();
    for (name, &value) in &job.values {
        match positions(moments, name)?.as_slice() {
            [v] if !matches!(moments.variables[*v].kind, VariableKind::Level { .. }) => {
                let error = job.errors.get(name).copied().unwrap_or(0.0);
                given.push(Given { variable: *v, value, error });
            }
            _ => return Err(no(format!("`{name}` is a column of words: give one of its levels"))),
        }
    }
    if let Some(name) = job.errors.keys().find(|n| !job.values.contains_key(*n)) {
        return Err(no(format!("an error is given for `{name}`, but no value")));
    }
    for (name, level) in &job.levels {
        let levels = levels(moments, name);
        if levels.is_empty() {
            return Err(no(format!("it knows no column of words `{name}`; it knows {}", known(moments))));
        }
        if !levels.iter().any(|(_, l)| l == level) {
            let all: Vec<&str> = levels.iter().map(|(_, l)| *l).collect();
            return Err(no(format!("`{name}` has no level `{level}`; it has {}", all.join(", "))));
        }
        for (v, l) in &levels[1..] {
            given.push(Given { variable: *v, value: f64::from(u8::from(l == level)), error: 0.0 });
        }
    }
    Ok(given)
}

fn dimensions(
    moments: &DimensionMoments,
    given: &[Given],
    found: &Conditional,
    measured: &BTreeMap<String, f64>,
) -> Vec<DimensionOutcome> {
    let rows = moments.variables.iter().zip(&found.variables).enumerate();
    rows.filter(|(_, (v, _))| !matches!(v.kind, VariableKind::Level { .. }))
        .map(|(i, (v, p))| DimensionOutcome {
            name: v.name.clone(),
            unit: v.unit.clone(),
            target: given.iter().find(|g| g.variable == i).map(|g| g.value),
            expected: p.value,
            interval_95: (p.value - found.t_95 * p.sd, p.value + found.t_95 * p.sd),
            measured: measured.get(&v.name).copied(),
        })
        .collect()
}

/// How many mm a unit of length is; none for other units.
pub fn millimetres(unit: Option<&str>) -> Option<f64> {
    match unit {
        Some("mm") => Some(1.0),
        Some("cm") => Some(10.0),
        Some("m") => Some(1000.0),
        _ => None,
    }
}
