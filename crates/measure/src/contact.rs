//! Whether something else of the body touches or runs into the piece of a section that is measured: arms at the trunk, thigh at thigh.
//!
//! On the shared triangles parts cannot grow together, but they can meet: where skin lies on skin, a registration slides, and a girth is that of a guess. So
//! every piece is looked at beside what else the plane meets.

use formkin_geometry::Point;
use formkin_geometry::section::{Loop, Plane, section_of};
use formkin_geometry::vector::{add, dot, norm, scale, sub};

use crate::body::Body;

/// Skin nearer than this to other skin of the same section is flagged (our choice; scanners resolve about so much).
pub(crate) const CONTACT_MM: f64 = 2.0;

/// Says which part of the body comes near the piece, or runs into it.
pub(crate) fn contact(body: &Body, loops: &[Loop], plane: &Plane) -> Option<String> {
    let topology = body.parts.template.mesh.topology();
    // where triangles are not two by two there is no telling what is another part
    topology.twins()?;
    let edges = loops.iter().filter_map(|l| l.edges.first());
    let seeds: Vec<u32> = edges
        .flat_map(|e| {
            topology
                .fans()
                .around(e.ends[0])
                .iter()
                .copied()
                .filter(|&t| topology.triangles()[t as usize].contains(&e.ends[1]))
        })
        .collect();
    let mut walk = body.walk.borrow_mut();
    let _whole = walk.section(topology, body.positions, plane, &seeds, None);
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for p in loops.iter().flat_map(|l| &l.points) {
        for k in 0..3 {
            low[k] = low[k].min(p[k] - CONTACT_MM);
            high[k] = high[k].max(p[k] + CONTACT_MM);
        }
    }
    let mut others = match &body.boxes {
        Some(boxes) => boxes.cut_among(plane, Some(&boxes.near(plane, [low, high])), |_| true),
        None => (0..topology.triangles().len() as u32).collect(),
    };
    others.retain(|&t| !walk.met(t));
    others.sort_unstable();
    let mut nearest: Option<(f64, u32)> = None;
    for other in section_of(topology, body.positions, plane, &others) {
        for (p, e) in other.points.iter().zip(&other.edges) {
            if (0..3).any(|k| p[k] < low[k] || p[k] > high[k]) {
                continue;
            }
            let inside = loops.iter().any(|l| l.closed && l.surrounds(*p, plane.normal));
            let gap =
                if inside { 0.0 } else { loops.iter().map(|l| gap(l, *p)).fold(f64::INFINITY, f64::min) };
            let (d, v) = (gap, e.nearest());
            if nearest.is_none_or(|(n, w)| d < n || (d == n && v < w)) {
                nearest = Some((d, v));
            }
        }
    }
    let (gap, vertex) = nearest.filter(|(gap, _)| *gap < CONTACT_MM)?;
    let regions = &body.parts.template.regions;
    // the largest region is the part of the body; smaller ones are details of it
    let named = regions
        .iter()
        .filter(|(_, list)| list.binary_search(&vertex).is_ok())
        .max_by_key(|(_, list)| list.len());
    let named = named.map_or("another part of the body", |(name, _)| name.as_str());
    Some(if gap == 0.0 {
        format!("{named} runs into the section: the skin touches there, and the value is not to be relied on")
    } else {
        format!("{named} comes within {CONTACT_MM} mm of the section: the skin may touch there")
    })
}

/// The distance of a point from a loop in mm.
fn gap(line: &Loop, p: Point) -> f64 {
    let n = line.points.len();
    (0..if line.closed { n } else { n - 1 })
        .map(|i| {
            let (a, b) = (line.points[i], line.points[(i + 1) % n]);
            let (along, to) = (sub(b, a), sub(p, a));
            let length2 = dot(along, along);
            let t = if length2 > 0.0 { (dot(to, along) / length2).clamp(0.0, 1.0) } else { 0.0 };
            norm(sub(p, add(a, scale(along, t))))
        })
        .fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use crate::doll::{FILE, doll};
    use crate::{Dimensions, Taker};

    /// The flags of the torso's and an arm's girths with the arms moved in by so much.
    fn flags(inward: f64) -> [Vec<String>; 3] {
        let template = doll();
        let dims = Dimensions::from_toml(FILE).unwrap();
        let mut p = template.mesh.positions().to_vec();
        for (name, sign) in [("arm_left", -1.0), ("arm_right", 1.0)] {
            template.regions[name].iter().for_each(|&v| p[v as usize][0] += sign * inward);
        }
        let fast = Taker::new(&dims, &template).take(&p);
        let full = Taker::new(&dims, &template).with_full_search().take(&p);
        assert_eq!(fast, full);
        ["chest_girth", "waist_girth", "arm_girth"].map(|n| fast[dims.position(n).unwrap()].flags.clone())
    }

    #[test]
    fn arms_at_the_trunk_are_found_where_they_touch() {
        // the chest has a radius of 170, and arms of 40 are 230 from the middle: 20 apart
        assert!(flags(0.0).iter().all(Vec::is_empty));
        assert!(flags(17.0).iter().all(Vec::is_empty));
        let [chest, waist, _] = flags(18.7);
        assert!(chest.iter().any(|f| f.contains("arm_") && f.contains("within 2 mm")), "{chest:?}");
        assert!(waist.is_empty());
        let [chest, waist, arm] = flags(40.0);
        assert!(chest.iter().any(|f| f.contains("arm_") && f.contains("runs into")), "{chest:?}");
        assert!(waist.is_empty(), "{waist:?}");
        assert!(arm.is_empty(), "{arm:?}");
        // the arm at the height of the waist, whose radius is 130
        let [_, waist, arm] = flags(70.0);
        assert!(waist.iter().any(|f| f.contains("arm_")), "{waist:?}");
        assert!(arm.iter().any(|f| f.contains("torso")), "{arm:?}");
    }
}
