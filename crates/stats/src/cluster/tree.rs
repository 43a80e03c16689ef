//! A small decision tree: classes from numbers by thresholds.

use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::moments::check_weights;

/// A decision tree (classification, Gini impurity).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tree {
    /// Its nodes, the root first.
    pub nodes: Vec<Node>,
    /// Weighted share of the points whose class is that of their leaf.
    pub accuracy: f64,
}

/// A node.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Node {
    /// The split; None for a leaf.
    pub split: Option<Split>,
    /// The class with the most weight here.
    pub class: usize,
    /// Weight of the points here.
    pub weight: f64,
}

/// A question of a node: points with value at most `threshold` in `column` go to node `low`, others to `high`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Split {
    /// Column, from 0.
    pub column: usize,
    /// Threshold, half way between two values.
    pub threshold: f64,
    /// Node of the low side.
    pub low: usize,
    /// Node of the high side.
    pub high: usize,
    /// Decrease of the weighted impurity.
    pub gain: f64,
}

impl Tree {
    /// The leaf, a place in `nodes`, of a point.
    #[must_use]
    pub fn leaf(&self, point: &[f64]) -> usize {
        let mut at = 0;
        while let Some(split) = self.nodes.get(at).and_then(|n| n.split.as_ref()) {
            at = if point.get(split.column).is_some_and(|v| *v <= split.threshold) {
                split.low
            } else {
                split.high
            };
        }
        at
    }

    /// Decrease of the impurity by column, as a share of all; zeros for a tree of one leaf.
    #[must_use]
    pub fn importance(&self, columns: usize) -> Vec<f64> {
        let mut gains = vec![0.0; columns];
        for split in self.nodes.iter().filter_map(|n| n.split.as_ref()) {
            gains[split.column] += split.gain;
        }
        let all: f64 = gains.iter().sum();
        if all > 0.0 { gains.iter().map(|g| g / all).collect() } else { gains }
    }
}

/// Grows a tree of at most `leaves` leaves, each with a weight of at least `least`, best split first (Breiman, Friedman, Olshen & Stone 1984): the split
/// that lowers the weighted Gini impurity most, the first column and the lowest threshold of equal ones.
///
/// # Errors
/// [`StatsError::Size`] where lengths differ, [`StatsError::TooFew`] without points, and bad weights.
pub fn tree(
    points: &[Vec<f64>],
    classes: &[usize],
    weights: Option<&[f64]>,
    leaves: usize,
    least: f64,
) -> Result<Tree, StatsError> {
    let n = points.len();
    if n == 0 {
        return Err(StatsError::TooFew { what: "points of a tree", least: 1, found: 0 });
    }
    if classes.len() != n {
        return Err(StatsError::Size { what: "classes", expected: n, found: classes.len() });
    }
    check_weights(n, weights)?;
    let weights: Vec<f64> = weights.map_or_else(|| vec![1.0; n], <[f64]>::to_vec);
    let grower = Grower {
        points,
        classes,
        weights: &weights,
        count: classes.iter().max().map_or(1, |m| m + 1),
        least,
    };
    let all: Vec<usize> = (0..n).collect();
    let mut nodes = vec![grower.node(&all)];
    // Open leaves: node, its points, its best split.
    let mut open = vec![(0, grower.best(&all), all)];
    let mut grown = 1;
    while grown < leaves {
        let Some(at) = (0..open.len()).filter(|&o| open[o].1.is_some()).max_by(|&a, &b| {
            let gain = |o: usize| open[o].1.as_ref().map_or(0.0, |s| s.2);
            gain(a).total_cmp(&gain(b)).then(b.cmp(&a))
        }) else {
            break;
        };
        let (node, best, members) = open.swap_remove(at);
        let Some((column, threshold, gain)) = best else { break };
        let (low, high): (Vec<usize>, Vec<usize>) =
            members.into_iter().partition(|&i| points[i][column] <= threshold);
        nodes[node].split = Some(Split { column, threshold, low: nodes.len(), high: nodes.len() + 1, gain });
        for side in [low, high] {
            open.push((nodes.len(), grower.best(&side), side.clone()));
            nodes.push(grower.node(&side));
        }
        open.sort_by_key(|o| o.0);
        grown += 1;
    }
    let mut tree = Tree { nodes, accuracy: 0.0 };
    let total: f64 = weights.iter().sum();
    let right: f64 =
        (0..n).filter(|&i| tree.nodes[tree.leaf(&points[i])].class == classes[i]).map(|i| weights[i]).sum();
    tree.accuracy = right / total;
    Ok(tree)
}

struct Grower<'a> {
    points: &'a [Vec<f64>],
    classes: &'a [usize],
    weights: &'a [f64],
    count: usize,
    least: f64,
}

impl Grower<'_> {
    fn masses(&self, members: &[usize]) -> Vec<f64> {
        let mut masses = vec![0.0; self.count];
        members.iter().for_each(|&i| masses[self.classes[i]] += self.weights[i]);
        masses
    }

    fn node(&self, members: &[usize]) -> Node {
        let masses = self.masses(members);
        let class =
            (0..self.count).max_by(|&a, &b| masses[a].total_cmp(&masses[b]).then(b.cmp(&a))).unwrap_or(0);
        Node { split: None, class, weight: masses.iter().sum() }
    }

    /// Column, threshold and gain of the best split; None where there is none.
    fn best(&self, members: &[usize]) -> Option<(usize, f64, f64)> {
        let masses = self.masses(members);
        let impurity = |m: &[f64]| {
            let all: f64 = m.iter().sum();
            if all > 0.0 { all - m.iter().map(|v| v * v).sum::<f64>() / all } else { 0.0 }
        };
        let whole = impurity(&masses);
        let mut best: Option<(usize, f64, f64)> = None;
        for column in 0..self.points[0].len() {
            let mut order = members.to_vec();
            order.sort_by(|&a, &b| self.points[a][column].total_cmp(&self.points[b][column]).then(a.cmp(&b)));
            let mut low = vec![0.0; self.count];
            let mut high = masses.clone();
            let (mut below, mut above) = (0.0, masses.iter().sum::<f64>());
            for pair in order.windows(2) {
                let (i, next) = (pair[0], pair[1]);
                low[self.classes[i]] += self.weights[i];
                high[self.classes[i]] -= self.weights[i];
                below += self.weights[i];
                above -= self.weights[i];
                let (a, b) = (self.points[i][column], self.points[next][column]);
                if a == b || below < self.least || above < self.least {
                    continue;
                }
                let gain = whole - impurity(&low) - impurity(&high);
                if gain > 1e-9 * whole.max(1e-300) && best.is_none_or(|(_, _, g)| gain > g) {
                    best = Some((column, (a + b) / 2.0, gain));
                }
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thresholds_are_found() {
        // Class by the second column alone, below 5, to 10, above.
        let points: Vec<Vec<f64>> =
            (0..30).map(|i| vec![f64::from(i * 7 % 11), f64::from(i) / 2.0]).collect();
        let classes: Vec<usize> =
            points.iter().map(|p| usize::from(p[1] > 5.0) + usize::from(p[1] > 10.0)).collect();
        let t = tree(&points, &classes, None, 3, 1.0).unwrap();
        assert_eq!(t.accuracy, 1.0);
        assert_eq!(t.importance(2), [0.0, 1.0]);
        let mut thresholds: Vec<f64> =
            t.nodes.iter().filter_map(|n| n.split.as_ref().map(|s| s.threshold)).collect();
        thresholds.sort_by(f64::total_cmp);
        assert_eq!(thresholds, [5.25, 10.25]);
        assert_eq!(tree(&points, &classes, None, 1, 1.0).unwrap().nodes.len(), 1);
        assert!(tree(&[], &[], None, 1, 1.0).is_err());
    }

    #[test]
    fn no_leaf_under_the_least_weight() {
        let points: Vec<Vec<f64>> = (0..20).map(|i| vec![f64::from(i)]).collect();
        let classes: Vec<usize> = (0..20).map(|i| usize::from(i == 0)).collect();
        let t = tree(&points, &classes, None, 4, 5.0).unwrap();
        assert!(t.nodes.iter().all(|n| n.weight >= 5.0));
    }
}
