//! Broken frames: a frame far from both its neighbours, while those hardly move.
//!
//! The change between two frames is the plain root mean square distance of their vertices, as captured ([`crate::frozen::changes_mm`]). A frame whose
//! changes from the frame before and to the frame after are both over 20 mm, and over five times the changes before and after those, is broken (chosen,
//! no source): a body that moves that far in a frame does not come back in the next. Runs of broken frames, and the first and last frame, are not found so.

use crate::{Finding, FindingKind};

/// A change below this, in mm, breaks no frame.
const FAR_MM: f64 = 20.0;
/// How many times the changes around it a broken frame's are.
const TIMES: f64 = 5.0;

/// The broken frames of a row of changes, as findings, one a frame.
#[must_use]
pub fn broken(changes_mm: &[f64]) -> Vec<Finding> {
    let change = |i: Option<usize>| i.and_then(|i| changes_mm.get(i)).copied();
    let mut findings = Vec::new();
    for k in 1..changes_mm.len() {
        // change i leads from frame i to frame i + 1
        let far = changes_mm[k - 1].min(changes_mm[k]);
        let around = [change(k.checked_sub(2)), change(Some(k + 1))];
        let Some(usual) = around.into_iter().flatten().max_by(f64::total_cmp) else { continue };
        if far > FAR_MM && far > TIMES * usual {
            findings.push(Finding {
                kind: FindingKind::BrokenFrame,
                frame: Some(k),
                frames: 1,
                message: format!(
                    "frame {k} is {far:.1} mm (root mean square) from both its neighbours, which are {usual:.1} mm from theirs: it is left out"
                ),
                amount: Some(far),
                unit: Some("mm".to_owned()),
                advice: "look at the frame, and register it again".to_owned(),
            });
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_far_from_both_neighbours_is_broken_and_a_fast_movement_is_not() {
        let mut changes: Vec<f64> = (0..60).map(|i| 12.0 * (0.2 * f64::from(i)).sin().abs()).collect();
        assert!(broken(&changes).is_empty());
        (changes[30], changes[31]) = (640.0, 655.0);
        let found = broken(&changes);
        assert_eq!(found.len(), 1);
        assert_eq!(
            (found[0].kind, found[0].frame, found[0].amount),
            (FindingKind::BrokenFrame, Some(31), Some(640.0))
        );
        // a body that is put down elsewhere and stays there
        (changes[30], changes[31]) = (640.0, 3.0);
        assert!(broken(&changes).is_empty());
        // a still body that begins to jump
        let start: Vec<f64> = (0..40).map(|i| if i < 20 { 0.2 } else { 45.0 - f64::from(i - 20) }).collect();
        assert!(broken(&start).is_empty());
        // a small slip
        assert!(broken(&[0.1, 0.1, 9.0, 9.0, 0.1]).is_empty() && broken(&[50.0, 50.0]).is_empty());
    }
}
