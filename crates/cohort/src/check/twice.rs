//! The same shape twice, or almost.

use std::collections::BTreeMap;

use super::fit::fit;
use super::look::Look;
use super::params::CheckParams;
use crate::CohortError;
use crate::cohort::Cohort;
use crate::finding::{Finding, FindingKind, Severity};

/// Pairs that are compared in full at most; more look alike only where something is badly wrong, and are said already.
const MOST_PAIRS: usize = 500;

pub(crate) fn findings(
    cohort: &Cohort,
    looks: &[Look],
    params: &CheckParams,
) -> Result<Vec<Finding>, CohortError> {
    let mut all = exact(cohort, looks, params);
    all.extend(near(cohort, looks, params)?);
    Ok(all)
}

/// Equal stored positions. Neighbouring frames that do not move are found elsewhere.
fn exact(cohort: &Cohort, looks: &[Look], params: &CheckParams) -> Vec<Finding> {
    let items = cohort.accepted();
    let mut first_of: BTreeMap<[u8; 32], usize> = BTreeMap::new();
    let mut all = Vec::new();
    for (i, look) in looks.iter().enumerate().filter(|(_, l)| l.not_finite.is_none()) {
        let first = *first_of.entry(look.hash).or_insert(i);
        let frozen = look.moved_mm.is_some_and(|m| m < params.frozen_mm);
        if first == i || frozen {
            continue;
        }
        let (a, b) = (&items[first], &items[i]);
        let (severity, advice) = if a.participant != b.participant {
            (
                Severity::Error,
                "one person under two names, or one file copied: correct the names or leave one out",
            )
        } else if a.frame.is_some() && a.capture == b.capture {
            (
                Severity::Note,
                "a sequence that ends where it began; leave one of the two out where frames are counted",
            )
        } else {
            (Severity::Warning, "leave one of the two out")
        };
        all.push(Finding {
            item: b.item.clone(),
            kind: FindingKind::Duplicate,
            severity,
            message: format!(
                "its positions are exactly those of `{}` (participants `{}` and `{}`)",
                a.item, b.participant, a.participant
            ),
            amount: Some(0.0),
            unit: Some("mm".to_owned()),
            advice: advice.to_owned(),
        });
    }
    all
}

/// Still poses of two participants that are closer than two scans of one person are likely to be. Distances of fixed pairs of
/// vertices sort out those worth a full comparison.
fn near(cohort: &Cohort, looks: &[Look], params: &CheckParams) -> Result<Vec<Finding>, CohortError> {
    let items = cohort.accepted();
    let mean =
        |l: &Look| l.signature.iter().map(|d| f64::from(*d)).sum::<f64>() / l.signature.len().max(1) as f64;
    let mut order: Vec<(f64, usize)> = cohort
        .stills()
        .into_iter()
        .filter(|&i| looks[i].not_finite.is_none())
        .map(|i| (mean(&looks[i]), i))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    // a distance between two vertices changes by twice the distance of each at most, on average less
    let limit = 2.0 * params.near_duplicate_mm;
    let mut close = Vec::new();
    for (k, &(m, i)) in order.iter().enumerate() {
        for &(_, j) in order[k + 1..].iter().take_while(|(n, _)| n - m <= limit) {
            let (a, b) = (&looks[i], &looks[j]);
            let different = items[i].participant != items[j].participant && a.hash != b.hash;
            if different && difference(&a.signature, &b.signature) <= limit {
                close.push((i.min(j), i.max(j)));
            }
        }
    }
    close.sort_unstable();
    let vertices = cohort.source().vertices();
    let weights = vec![1.0 / vertices as f64; vertices];
    let mut all = Vec::new();
    for &(i, j) in close.iter().take(MOST_PAIRS) {
        let (a, b) = (cohort.source().read_shape(i)?, cohort.source().read_shape(j)?);
        let rms = fit(&b, &a, &weights).rms_mm;
        if rms < params.near_duplicate_mm {
            all.push(Finding {
                item: items[j].item.clone(),
                kind: FindingKind::NearDuplicate,
                severity: Severity::Warning,
                message: format!(
                    "after alignment it is {rms:.2} mm from `{}`, though the participants are `{}` and `{}`",
                    items[i].item, items[j].participant, items[i].participant
                ),
                amount: Some(rms),
                unit: Some("mm".to_owned()),
                advice: "it may be one person under two names: look at both".to_owned(),
            });
        }
    }
    Ok(all)
}

fn difference(a: &[f32], b: &[f32]) -> f64 {
    let sum: f32 = a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).sum();
    (f64::from(sum) / a.len().max(1) as f64).sqrt()
}
