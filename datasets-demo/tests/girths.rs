//! Prints for now.
use formkin_datasets_demo::*;
use formkin_geometry::areas::volume;
#[test]
fn look() {
    let demo = template(12_000, 20).unwrap();
    let t = demo.template();
    for z in
        [1300.0, 1290.0, 1280.0, 1270.0, 1262.0, 1255.0, 1250.0, 1240.0, 1235.0, 1023.0, 872.0, 782.0, 345.0]
    {
        let plane = formkin_geometry::section::Plane { point: [0.0, 0.0, z], normal: [0.0, 0.0, 1.0] };
        let l = formkin_geometry::section::section(t.mesh.topology(), t.mesh.positions(), &plane);
        let s: Vec<String> = l
            .iter()
            .map(|l| {
                let x = l.points.iter().map(|p| p[0]).fold(f64::MIN, f64::max);
                let n = l.points.iter().map(|p| p[0]).fold(f64::MAX, f64::min);
                format!(
                    "{:.0}..{:.0} hull {:.0}",
                    n,
                    x,
                    formkin_geometry::hull::hull_perimeter(&l.points, [0.0, 0.0, 1.0])
                )
            })
            .collect();
        println!("{z} {s:?}");
    }
    let v = |p: &[[f64; 3]]| volume(t.mesh.topology(), p) / 1e6;
    println!("template {:.1} l", v(t.mesh.positions()));
    for sex in [Sex::Male, Sex::Female] {
        let l = Latents::mean(sex);
        let p = demo.person(&l);
        println!(
            "{sex:?} {:.1} l -> {:.1} kg, target {:?}",
            v(&p),
            v(&p) * l.density_kg_per_l,
            target(sex, "weight")
        );
    }
    println!("landmarks {} regions {} joints {}", t.landmarks.len(), t.regions.len(), t.joints.len());
    for (n, &i) in &t.landmarks {
        if !n.ends_with("_right") {
            let p = t.mesh.positions()[i as usize];
            println!("{n} {:.0} {:.0} {:.0}", p[0], p[1], p[2]);
        }
    }
    for j in &t.joints {
        let n = j.ring.len();
        let c: Vec<f64> = (0..3)
            .map(|c| j.ring.iter().map(|&v| t.mesh.positions()[v as usize][c]).sum::<f64>() / n as f64)
            .collect();
        println!("{} {} {:.0?}", j.name, n, c);
    }
    for (n, r) in &t.regions {
        println!("region {n} {}", r.len());
    }
}
