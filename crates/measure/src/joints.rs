//! Joint centres, the lengths between them and the angles at them.
//!
//! The centre of a joint is the mean of its ring of vertices on the template (its own definition: a point of the surface's geometry, not of the bone).

use formkin_geometry::vector::{add, cross, distance, dot, norm, scale, sub, unit};
use formkin_geometry::{Point, Template};

use formkin_table::{NumberColumn, Table};

/// The joint centres of one body in mm, in the template's order; `None` where a vertex of the ring is not finite.
#[must_use]
pub fn joint_centres(template: &Template, positions: &[Point]) -> Vec<Option<Point>> {
    template
        .joints
        .iter()
        .map(|joint| {
            let mut sum = [0.0; 3];
            for &v in &joint.ring {
                sum = add(sum, *positions.get(v as usize)?);
            }
            let centre = scale(sum, 1.0 / joint.ring.len() as f64);
            centre.iter().all(|c| c.is_finite()).then_some(centre)
        })
        .collect()
}

/// Joint centres, segment lengths and joint angles as a table, one row a body: `NAME_x_mm` and so on; `PARENT_to_NAME_mm`; and
/// `NAME_angle_deg`, the angle at a joint between the directions to its parent and to its only child, 180 where straight
/// (`NAME_to_CHILD_angle_deg` where it has several children). `centres` holds one row of [`joint_centres`] a body.
#[must_use]
pub fn joint_table(template: &Template, id: &str, ids: Vec<String>, centres: &[Vec<Option<Point>>]) -> Table {
    let joints = &template.joints;
    let place = |name: &str| joints.iter().position(|j| j.name == name);
    let column = |name: String, unit: &str, value: &dyn Fn(&[Option<Point>]) -> Option<f64>| NumberColumn {
        name,
        unit: Some(unit.to_owned()),
        values: centres.iter().map(|row| value(row)).collect(),
    };
    let mut numbers = Vec::new();
    for (j, joint) in joints.iter().enumerate() {
        for (k, axis) in ["x", "y", "z"].into_iter().enumerate() {
            numbers.push(column(format!("{}_{axis}", joint.name), "mm", &|row| row[j].map(|p| p[k])));
        }
    }
    let parents: Vec<Option<usize>> = joints.iter().map(|j| j.parent.as_deref().and_then(place)).collect();
    for (j, parent) in parents.iter().enumerate() {
        if let Some(p) = *parent {
            let name = format!("{}_to_{}", joints[p].name, joints[j].name);
            numbers.push(column(name, "mm", &|row| Some(distance(row[p]?, row[j]?))));
        }
    }
    for (j, parent) in parents.iter().enumerate() {
        let Some(p) = *parent else { continue };
        let children: Vec<usize> = (0..joints.len()).filter(|&c| parents[c] == Some(j)).collect();
        for &c in &children {
            let name = match children.len() {
                1 => format!("{}_angle", joints[j].name),
                _ => format!("{}_to_{}_angle", joints[j].name, joints[c].name),
            };
            numbers.push(column(name, "deg", &|row| angle(row[p]?, row[j]?, row[c]?)));
        }
    }
    Table { id: id.to_owned(), ids, numbers, texts: Vec::new() }
}

fn angle(a: Point, at: Point, b: Point) -> Option<f64> {
    let (u, v) = (unit(sub(a, at))?, unit(sub(b, at))?);
    Some(norm(cross(u, v)).atan2(dot(u, v)).to_degrees())
}

#[cfg(test)]
mod tests {
    use formkin_geometry::template::Joint;

    use super::*;
    use crate::doll::doll;

    #[test]
    fn a_chain_of_known_joints_has_known_lengths_and_angles() {
        let mut template = doll();
        let joint = |name: &str, parent: Option<&str>, ring: Vec<u32>| Joint {
            name: name.to_owned(),
            parent: parent.map(str::to_owned),
            ring,
        };
        template.joints = vec![
            joint("hip", None, vec![0, 1]),
            joint("knee", Some("hip"), vec![2]),
            joint("ankle", Some("knee"), vec![3]),
        ];
        let mut p = template.mesh.positions().to_vec();
        (p[0], p[1], p[2], p[3]) =
            ([-5.0, 0.0, 900.0], [5.0, 0.0, 900.0], [0.0, 0.0, 500.0], [300.0, 0.0, 500.0]);
        let mut broken = p.clone();
        broken[3][1] = f64::NAN;
        let rows: Vec<_> = [&p, &broken].map(|p| joint_centres(&template, p)).into();
        let table = joint_table(&template, "item", vec!["a".into(), "b".into()], &rows);
        let value = |name: &str, row: usize| table.number(name).unwrap().values[row];
        assert_eq!((value("hip_x_mm", 0), value("hip_z_mm", 0)), (Some(0.0), Some(900.0)));
        assert_eq!((value("hip_to_knee_mm", 0), value("knee_to_ankle_mm", 0)), (Some(400.0), Some(300.0)));
        assert!((value("knee_angle_deg", 0).unwrap() - 90.0).abs() < 1e-9);
        assert_eq!((value("knee_angle_deg", 1), value("hip_to_knee_mm", 1)), (None, Some(400.0)));
    }
}
