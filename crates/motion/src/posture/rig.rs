//! Joints and skin of a body at rest, poses, and where the skin goes.
//!
//! A joint's centre is the mean of its ring. Its motion is that of its parent after a turn about its centre: G_j = G_parent o turn(q_j, c_j). The skin blends
//! the motions by weight: as dual quaternions (volume is kept where a limb turns about its axis: Kavan et al. 2008, from memory) or linearly,
//! v' = sum_k w_k G_k v. At rest both give the body back exactly.

use formkin_geometry::turn::{NONE, rotate, then, unit};
pub use formkin_geometry::turn::{Rigid, Turn};
use formkin_geometry::vector::{add, cross, scale, sub};
use formkin_geometry::{Point, Template};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::MotionError;

/// How motions are blended.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Blend {
    /// As dual quaternions.
    #[default]
    DualQuaternion,
    /// Linearly.
    Linear,
}

/// A pose: a turn for each joint in the axes of the rest pose, and a shift of the whole.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pose {
    /// One turn a joint, (w, x, y, z).
    pub turns: Vec<Turn>,
    /// The shift of the root, in mm.
    pub shift_mm: Point,
}

/// Joints and skin of one body at rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    /// Names of the joints, parents before children.
    pub joints: Vec<String>,
    /// The parent of each; `None` for a root.
    pub parents: Vec<Option<usize>>,
    /// The centres at rest, in mm.
    pub centres: Vec<Point>,
    /// The body at rest, in mm.
    pub rest: Vec<Point>,
    /// How motions are blended.
    pub blend: Blend,
    rings: Vec<Vec<u32>>,
    /// For each vertex its joints with their weights, the largest first.
    pub(crate) skin: Vec<Vec<(usize, f64)>>,
}

impl Rig {
    /// The joints and skin of a template on a body at rest.
    ///
    /// # Errors
    /// [`MotionError::Template`] where the template has no joints or no skin; [`MotionError::VertexCount`] where the body is another
    /// template's.
    pub fn new(template: &Template, rest: &[Point], blend: Blend) -> Result<Self, MotionError> {
        let missing = |what: &str| MotionError::Template {
            what: what.to_owned(),
            advice: "posture needs joints and skin weights in the template",
        };
        if template.joints.is_empty() {
            return Err(missing("joints"));
        }
        let skin = template.skin.as_ref().ok_or_else(|| missing("skin weights"))?;
        let vertices = template.mesh.topology().vertices();
        if rest.len() != vertices {
            return Err(MotionError::VertexCount {
                frames_vertices: rest.len(),
                topology_vertices: vertices,
            });
        }
        let n = template.joints.len();
        let skin = skin
            .weights
            .chunks(n)
            .map(|row| {
                let sum: f64 = row.iter().map(|&w| f64::from(w)).sum();
                let mut parts: Vec<(usize, f64)> = row
                    .iter()
                    .enumerate()
                    .filter(|(_, w)| **w > 0.0)
                    .map(|(j, &w)| (j, f64::from(w) / sum))
                    .collect();
                parts.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
                parts
            })
            .collect();
        let parents = template
            .joints
            .iter()
            .map(|j| j.parent.as_ref().and_then(|p| template.joints.iter().position(|k| &k.name == p)))
            .collect();
        let mut rig = Self {
            joints: template.joints.iter().map(|j| j.name.clone()).collect(),
            parents,
            centres: Vec::new(),
            rest: Vec::new(),
            blend,
            rings: template.joints.iter().map(|j| j.ring.clone()).collect(),
            skin,
        };
        rig.set_rest(rest.to_vec());
        Ok(rig)
    }

    pub(crate) fn set_rest(&mut self, rest: Vec<Point>) {
        self.centres = self
            .rings
            .iter()
            .map(|ring| {
                let sum = ring.iter().fold([0.0; 3], |s, &v| add(s, rest[v as usize]));
                scale(sum, 1.0 / ring.len() as f64)
            })
            .collect();
        self.rest = rest;
    }

    /// The pose at rest.
    #[must_use]
    pub(crate) fn at_rest(&self) -> Pose {
        Pose { turns: vec![NONE; self.joints.len()], shift_mm: [0.0; 3] }
    }

    /// The motion of every joint.
    #[must_use]
    pub fn motions(&self, pose: &Pose) -> Vec<Rigid> {
        let mut motions: Vec<Rigid> = Vec::with_capacity(self.parents.len());
        for (j, parent) in self.parents.iter().enumerate() {
            let above = parent.map_or(Rigid { turn: NONE, shift: pose.shift_mm }, |p| motions[p]);
            let (q, c) = (pose.turns[j], self.centres[j]);
            let local = sub(c, rotate(q, c));
            motions.push(Rigid {
                turn: unit(then(above.turn, q)),
                shift: add(rotate(above.turn, local), above.shift),
            });
        }
        motions
    }

    /// The body in a pose.
    #[must_use]
    pub fn posed(&self, pose: &Pose) -> Vec<Point> {
        let blended = self.blended(pose);
        self.rest.par_iter().zip(&blended).map(|(&p, b)| b.apply(p)).collect()
    }

    /// A posed body brought back to rest: each vertex by the inverse of its blended motion.
    #[must_use]
    pub fn unposed(&self, frame: &[Point], pose: &Pose) -> Vec<Point> {
        let blended = self.blended(pose);
        frame.par_iter().zip(&blended).map(|(&p, b)| b.undo(p)).collect()
    }

    /// The blended motion of every vertex.
    fn blended(&self, pose: &Pose) -> Vec<Affine> {
        let motions = self.motions(pose);
        let duals = Self::duals(&motions);
        self.skin
            .par_iter()
            .map(|parts| match self.blend {
                Blend::DualQuaternion => Affine::of_duals(parts, &duals),
                Blend::Linear => Affine::of_motions(parts, &motions),
            })
            .collect()
    }

    /// Where one vertex goes.
    pub(crate) fn place(&self, v: usize, motions: &[Rigid], duals: &[(Turn, Turn)]) -> Point {
        match self.blend {
            Blend::DualQuaternion => Affine::of_duals(&self.skin[v], duals).apply(self.rest[v]),
            Blend::Linear => Affine::of_motions(&self.skin[v], motions).apply(self.rest[v]),
        }
    }

    pub(crate) fn duals(motions: &[Rigid]) -> Vec<(Turn, Turn)> {
        motions.iter().map(Rigid::dual).collect()
    }
}

/// x -> A x + t, A by its columns.
struct Affine {
    columns: [Point; 3],
    shift: Point,
}

impl Affine {
    fn of_motions(parts: &[(usize, f64)], motions: &[Rigid]) -> Self {
        let mut made = Self { columns: [[0.0; 3]; 3], shift: [0.0; 3] };
        for &(j, w) in parts {
            let m = &motions[j];
            for (c, column) in made.columns.iter_mut().enumerate() {
                let mut axis = [0.0; 3];
                axis[c] = w;
                *column = add(*column, rotate(m.turn, axis));
            }
            made.shift = add(made.shift, scale(m.shift, w));
        }
        made
    }

    fn of_duals(parts: &[(usize, f64)], duals: &[(Turn, Turn)]) -> Self {
        let blended = Rigid::blend(parts.iter().copied(), duals);
        let column = |c: usize| {
            let mut axis = [0.0; 3];
            axis[c] = 1.0;
            rotate(blended.turn, axis)
        };
        Self { columns: [column(0), column(1), column(2)], shift: blended.shift }
    }

    fn apply(&self, p: Point) -> Point {
        let [a, b, c] = self.columns;
        add(add(add(scale(a, p[0]), scale(b, p[1])), scale(c, p[2])), self.shift)
    }

    /// A^-1 (x - t) by Cramer's rule; the point itself where A has no inverse.
    fn undo(&self, x: Point) -> Point {
        let [a, b, c] = self.columns;
        let p = sub(x, self.shift);
        let (bc, ca, ab) = (cross(b, c), cross(c, a), cross(a, b));
        let det = formkin_geometry::vector::dot(a, bc);
        if det.abs() < 1e-12 {
            return x;
        }
        [bc, ca, ab].map(|n| formkin_geometry::vector::dot(n, p) / det)
    }
}
