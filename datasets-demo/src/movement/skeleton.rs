//! A person's joints, a pose of them, and the skin that follows.

use formkin_geometry::Point;
use formkin_geometry::turn::{NONE, Rigid, Turn, rotate};

use crate::names::JOINTS;
use crate::template::Base;

/// Where a person's joints are at rest.
#[derive(Debug, Clone)]
pub(crate) struct Skeleton {
    parents: Vec<Option<usize>>,
    pub(crate) centres: Vec<Point>,
}

/// The place of a joint in [`JOINTS`]; the root where the name is unknown.
pub(crate) fn joint(name: &str) -> usize {
    JOINTS.iter().position(|j| j.0 == name).unwrap_or(0)
}

/// A turn for each joint, in the axes of the rest pose, and a shift of the whole.
#[derive(Debug, Clone)]
pub(crate) struct Pose {
    pub(crate) turns: Vec<Turn>,
    pub(crate) shift: Point,
    /// Turn of the whole about the vertical through the origin, after everything.
    pub(crate) heading: Turn,
    /// How far the trunk widens as it bends and braces, 0 to 1.
    pub(crate) brace: f64,
}

impl Pose {
    pub(crate) fn rest() -> Self {
        Self { turns: vec![NONE; JOINTS.len()], shift: [0.0; 3], heading: NONE, brace: 0.0 }
    }

    pub(crate) fn set(&mut self, name: &str, turn: Turn) {
        self.turns[joint(name)] = turn;
    }
}

impl Skeleton {
    /// The joints of a body at rest: the means of their rings.
    pub(crate) fn new(base: &Base, rest: &[Point]) -> Self {
        let joints = &base.template.joints;
        let parents = joints
            .iter()
            .map(|j| j.parent.as_ref().and_then(|p| joints.iter().position(|k| &k.name == p)))
            .collect();
        let centres = joints
            .iter()
            .map(|j| {
                let n = j.ring.len() as f64;
                std::array::from_fn(|c| j.ring.iter().map(|&v| rest[v as usize][c]).sum::<f64>() / n)
            })
            .collect();
        Self { parents, centres }
    }

    /// The rigid motion of every joint.
    pub(crate) fn motions(&self, pose: &Pose) -> Vec<Rigid> {
        let mut motions: Vec<Rigid> = Vec::with_capacity(self.parents.len());
        for (j, parent) in self.parents.iter().enumerate() {
            let above = match parent {
                Some(p) => motions[*p],
                None => Rigid { turn: pose.heading, shift: rotate(pose.heading, pose.shift) },
            };
            motions.push(above.after_turn_about(pose.turns[j], self.centres[j]));
        }
        motions
    }
}

/// The skin's weights without the zeros, and the blend.
#[derive(Debug, Clone)]
pub(crate) struct Skinning {
    starts: Vec<u32>,
    parts: Vec<(u8, f32)>,
}

impl Skinning {
    pub(crate) fn new(base: &Base) -> Self {
        let n = JOINTS.len();
        let mut starts = vec![0];
        let mut parts = Vec::new();
        if let Some(skin) = &base.template.skin {
            for row in skin.weights.chunks(n) {
                // the largest first: the others are turned to its side
                let from = parts.len();
                parts.extend(row.iter().enumerate().filter(|(_, w)| **w > 0.0).map(|(j, w)| (j as u8, *w)));
                parts[from..].sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
                starts.push(parts.len() as u32);
            }
        }
        Self { starts, parts }
    }

    /// Where one vertex goes.
    pub(crate) fn place(&self, v: usize, rest: Point, duals: &[(Turn, Turn)]) -> Point {
        let parts = &self.parts[self.starts[v] as usize..self.starts[v + 1] as usize];
        Rigid::blend(parts.iter().map(|&(joint, weight)| (joint.into(), weight.into())), duals).apply(rest)
    }

    /// Where all go.
    pub(crate) fn pose(&self, rest: &[Point], motions: &[Rigid]) -> Vec<Point> {
        let duals = duals(motions);
        rest.iter().enumerate().map(|(v, &p)| self.place(v, p, &duals)).collect()
    }
}

/// Motions as dual quaternions.
pub(crate) fn duals(motions: &[Rigid]) -> Vec<(Turn, Turn)> {
    motions.iter().map(Rigid::dual).collect()
}
