//! One group while it is worked on.

use crate::Plan;
use crate::people::People;

/// One group while it is worked on.
pub(crate) struct Job<'a> {
    pub(crate) group: usize,
    pub(crate) name: &'a str,
    pub(crate) count: usize,
    pub(crate) members: Vec<usize>,
    pub(crate) points: Vec<&'a [f64]>,
    pub(crate) shape: Vec<&'a [f64]>,
    pub(crate) weights: Vec<f64>,
}

impl<'a> Job<'a> {
    /// One a group.
    pub(crate) fn all(people: &'a People, counts: &[usize]) -> Vec<Self> {
        (0..people.groups.len())
            .map(|group| {
                let members = people.members(group);
                Self {
                    group,
                    name: &people.groups[group],
                    count: counts[group],
                    points: members.iter().map(|&i| people.points[i].as_slice()).collect(),
                    shape: members.iter().map(|&i| people.shape[i].as_slice()).collect(),
                    weights: members.iter().map(|&i| people.weights[i]).collect(),
                    members,
                }
            })
            .collect()
    }

    /// The group in words.
    pub(crate) fn label(&self, plan: &Plan) -> String {
        match &plan.by {
            Some(by) => format!("group `{}` of `{by}`", self.name),
            None => "the table".to_owned(),
        }
    }

    /// People left to fit on where the largest fold is held out.
    pub(crate) fn fitted(&self, plan: &Plan) -> usize {
        let people = self.points.len();
        people - people.div_ceil(plan.folds)
    }
}
