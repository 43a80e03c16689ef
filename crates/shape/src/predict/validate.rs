//! Cross-validated error of both ways of prediction, by region and by dimension.
//!
//! People are dealt into folds; the regression is refitted in each without the people held out. Alignment and modes are those of all people: what the kept
//! modes leave of a held-out person is not in these errors, and is told by the cross-validation of the space.

use std::collections::BTreeMap;

use formkin_geometry::Point;
use formkin_stats::folds::grouped_folds;
use formkin_stats::gram::add_gram;
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use crate::ShapeError;
use crate::predict::{DimensionMoments, Given, PlsParams, Variable};

/// Settings of the cross-validation of predictions.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PredictionParams {
    /// The variables that are given, as positions.
    pub given: Vec<usize>,
    /// Folds; with fewer people, each is left out in turn.
    pub folds: usize,
    /// The seed of the folds.
    pub seed: u64,
}

impl Default for PredictionParams {
    fn default() -> Self {
        Self { given: Vec::new(), folds: 10, seed: 1 }
    }
}

/// The error within a region.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegionRms {
    /// The region.
    pub region: String,
    /// Weighted RMS distance over people and vertices of the region, in mm.
    pub rms_mm: f64,
}

/// The error of a variable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionError {
    /// The variable.
    pub variable: String,
    /// Its unit.
    pub unit: Option<String>,
    /// Root mean square error over people, in its unit; none for given variables.
    pub rms: f64,
    /// Its SD over people, in its unit: the error of predicting the mean.
    pub sd: f64,
}

/// The errors of one method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MethodErrors {
    /// `conditional_normal`, `partial_least_squares` or `mean`.
    pub method: String,
    /// Components of partial least squares: those of the least error.
    pub components: Option<usize>,
    /// Root of the mean over people of the weighted mean square distance, in mm, within the kept modes.
    pub rms_mm: f64,
    /// Its standard error over people, in mm.
    pub se_mm: f64,
    /// By region.
    pub regions: Vec<RegionRms>,
    /// By variable that was not given.
    pub dimensions: Vec<DimensionError>,
}

/// Cross-validated errors of predictions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PredictionErrors {
    /// What was given.
    pub given: Vec<String>,
    /// Number of people held out, each once.
    pub people: usize,
    /// Number of folds.
    pub folds: usize,
    /// The seed of the folds.
    pub seed: u64,
    /// The methods; the mean body last, as the yardstick.
    pub methods: Vec<MethodErrors>,
}

/// What one method makes of the people held out: for each, the errors of coefficients and of variables.
type Errors = Vec<(Vec<f64>, Vec<f64>)>;

/// Cross-validates predictions from `params.given`. One row a person; rows with missing values are left out. `modes` and `weights` are those of the space, `regions`
/// lists of vertices.
///
/// # Errors
/// [`ShapeError`]: sizes that do not fit, too few people, given variables that cannot be used.
pub fn validate_prediction(
    coefficients: &[Vec<f64>],
    variables: &[Variable],
    values: &[Vec<Option<f64>>],
    modes: &[Vec<Point>],
    weights: &[f64],
    regions: &BTreeMap<String, Vec<u32>>,
    params: &PredictionParams,
) -> Result<PredictionErrors, ShapeError> {
    let complete: Vec<usize> = (0..values.len().min(coefficients.len()))
        .filter(|&i| values[i].iter().all(Option::is_some))
        .collect();
    let groups: Vec<usize> = (0..complete.len()).collect();
    if complete.len() < 3 {
        return Err(ShapeError::TooFewPeople { people: complete.len() });
    }
    if let Some(g) = params.given.iter().find(|g| **g >= variables.len()) {
        let reason = format!("there are only {} variables", variables.len());
        return Err(ShapeError::Given { variable: g.to_string(), reason });
    }
    let folds = grouped_folds(&groups, params.folds, params.seed)?;
    let most = params.given.len();
    // the mean, the conditional, then PLS with 1, 2, .. components
    let mut errors: Vec<Errors> = vec![Vec::new(); 2 + most];
    for fold in &folds {
        let pick = |rows: &[usize]| {
            let rows = rows.iter().map(|&i| complete[i]);
            rows.map(|i| (coefficients[i].clone(), values[i].clone())).unzip::<_, _, Vec<_>, Vec<_>>()
        };
        let (train_b, train_m) = pick(&fold.train);
        let (test_b, test_m) = pick(&fold.test);
        let moments = DimensionMoments::of(&train_b, variables.to_vec(), &train_m, [0.0, 0.0, 1.0])?;
        for (b, m) in test_b.iter().zip(&test_m) {
            let m: Vec<f64> = m.iter().flatten().copied().collect();
            let given: Vec<Given> =
                params.given.iter().map(|&v| Given { variable: v, value: m[v], error: 0.0 }).collect();
            let off = |b_hat: &[f64], m_hat: &[f64]| {
                let minus = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a - b).collect::<Vec<f64>>();
                (minus(b, b_hat), minus(&m, m_hat))
            };
            errors[0].push(off(&moments.coefficient_means_mm, &moments.means));
            let found = moments.condition(&given)?;
            let values: Vec<f64> = found.variables.iter().map(|p| p.value).collect();
            errors[1].push(off(&found.coefficients_mm, &values));
            for components in 1..=most {
                let pls = PlsParams { components, ..PlsParams::default() };
                let (b_hat, m_hat) = moments.partial_least_squares(&given, &pls)?;
                errors[1 + components].push(off(&b_hat, &m_hat));
            }
        }
    }
    let square =
        |errors: &Errors| errors.iter().map(|(b, _)| b.iter().map(|x| x * x).sum::<f64>()).sum::<f64>();
    let best = (2..2 + most).min_by(|&a, &b| square(&errors[a]).total_cmp(&square(&errors[b])));
    let grams: Vec<(String, Array2<f64>)> = regions
        .iter()
        .map(|(name, vertices)| Ok((name.clone(), region_gram(modes, weights, vertices)?)))
        .collect::<Result<_, ShapeError>>()?;
    let summarise = |method: &str, components, which: usize| {
        method_errors(method, components, &errors[which], &grams, variables, &params.given, &errors[0])
    };
    let mut methods = vec![summarise("conditional_normal", None, 1)];
    methods.extend(best.map(|b| summarise("partial_least_squares", Some(b - 1), b)));
    methods.push(summarise("mean", None, 0));
    Ok(PredictionErrors {
        given: params.given.iter().map(|&v| variables[v].name.clone()).collect(),
        people: complete.len(),
        folds: folds.len(),
        seed: params.seed,
        methods,
    })
}

/// K x K: the weighted mean over a region of mode_kv . mode_lv.
fn region_gram(modes: &[Vec<Point>], weights: &[f64], region: &[u32]) -> Result<Array2<f64>, ShapeError> {
    let used: Vec<(usize, f64)> = region
        .iter()
        .map(|&v| v as usize)
        .filter_map(|v| weights.get(v).filter(|w| **w > 0.0).map(|w| (v, *w)))
        .collect();
    let total: f64 = used.iter().map(|(_, w)| w).sum();
    let mut rows = Array2::zeros((modes.len(), 3 * used.len()));
    for (k, mode) in modes.iter().enumerate() {
        for (i, &(v, w)) in used.iter().enumerate() {
            for a in 0..3 {
                rows[[k, 3 * i + a]] = (w / total).sqrt() * mode[v][a];
            }
        }
    }
    let mut gram = Array2::zeros((modes.len(), modes.len()));
    add_gram(&mut gram, rows.view(), rows.view())?;
    Ok(gram)
}

fn method_errors(
    method: &str,
    components: Option<usize>,
    errors: &Errors,
    grams: &[(String, Array2<f64>)],
    variables: &[Variable],
    given: &[usize],
    of_mean: &Errors,
) -> MethodErrors {
    let n = errors.len() as f64;
    let squares: Vec<f64> = errors.iter().map(|(b, _)| b.iter().map(|x| x * x).sum()).collect();
    let mean = squares.iter().sum::<f64>() / n;
    let variance = squares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let rms_mm = mean.sqrt();
    let rms_of =
        |errors: &Errors, v: usize| (errors.iter().map(|(_, m)| m[v] * m[v]).sum::<f64>() / n).sqrt();
    MethodErrors {
        method: method.to_owned(),
        components,
        rms_mm,
        se_mm: if rms_mm > 0.0 { (variance / n).sqrt() / (2.0 * rms_mm) } else { 0.0 },
        regions: grams
            .iter()
            .map(|(region, gram)| {
                let sum: f64 = errors
                    .iter()
                    .map(|(b, _)| {
                        let k = b.len().min(gram.nrows());
                        (0..k).map(|i| (0..k).map(|j| b[i] * gram[[i, j]] * b[j]).sum::<f64>()).sum::<f64>()
                    })
                    .sum();
                RegionRms { region: region.clone(), rms_mm: (sum / n).max(0.0).sqrt() }
            })
            .collect(),
        dimensions: (0..variables.len())
            .filter(|v| !given.contains(v))
            .map(|v| DimensionError {
                variable: variables[v].name.clone(),
                unit: variables[v].unit.clone(),
                rms: rms_of(errors, v),
                sd: rms_of(of_mean, v),
            })
            .collect(),
    }
}
