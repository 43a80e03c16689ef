//! Clusters in shape, found again in the control dimensions by a small decision tree.

use formkin_stats::StatsError;
use formkin_stats::cluster::{k_means, tree};
use ndarray::Array2;

use super::problem::{Effort, Found, Problem};

impl Problem<'_> {
    /// k-means on the shape columns as they are (coefficients of a shape space carry their importance in their spread), a tree of `k` leaves that finds the clusters from the control
    /// dimensions over their scales, and a size about the mean of every leaf.
    pub(super) fn shape_clusters(
        &self,
        weights: &[f64],
        k: usize,
        effort: Effort,
    ) -> Result<Found, StatsError> {
        let columns = self.shape.first().map_or(0, |s| s.len());
        let shape = Array2::from_shape_fn((self.shape.len(), columns), |(i, j)| self.shape[i][j]);
        let used: Vec<usize> = (0..weights.len()).filter(|&i| weights[i] > 0.0).collect();
        let shape = shape.select(ndarray::Axis(0), &used);
        let own: Vec<f64> = used.iter().map(|&i| weights[i]).collect();
        let clusters = k_means(shape.view(), Some(&own), k, effort.starts, self.plan.seed)?;
        let values: Vec<Vec<f64>> = used.iter().map(|&i| self.scaled.row(i).to_vec()).collect();
        let total: f64 = own.iter().sum();
        let grown = tree(&values, &clusters.labels, Some(&own), k, total / (10.0 * k as f64))?;
        let mut places = Vec::new();
        let mut rules = vec![format!(
            "The tree finds the shape cluster of {:.0} % of the people.",
            100.0 * grown.accuracy
        )];
        for (node, leaf) in grown.nodes.iter().enumerate() {
            match &leaf.split {
                Some(split) => {
                    let axis = &self.axes[split.column].info;
                    let unit = axis.unit.as_deref().unwrap_or("");
                    rules.push(format!(
                        "{} at most {:.1} {unit}, or more",
                        axis.dimension,
                        split.threshold * axis.scale
                    ));
                }
                None => {
                    let members: Vec<usize> =
                        (0..values.len()).filter(|&i| grown.leaf(&values[i]) == node).collect();
                    let mass: f64 = members.iter().map(|&i| own[i]).sum();
                    if mass > 0.0 {
                        places.push(
                            self.about(
                                (0..self.axes.len()).map(|j| {
                                    members.iter().map(|&i| own[i] * values[i][j]).sum::<f64>() / mass
                                }),
                            ),
                        );
                    }
                }
            }
        }
        Ok(Found { places, rules, ..Found::default() })
    }
}
