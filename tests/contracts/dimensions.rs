//! The catalogue of the demo, taken fast and by full search on varied bodies.

use formkin_datasets_demo::template;
use formkin_geometry::Point;
use formkin_measure::{Definition, Dimensions, Measured, Taker, how};

const CATALOGUE: &str = include_str!("../../datasets-demo/dimensions.toml");

#[test]
fn the_catalogue_has_a_hundred_dimensions_and_the_template_has_their_names() {
    let dims = Dimensions::from_toml(CATALOGUE).unwrap();
    assert!(dims.definitions.len() >= 100, "{}", dims.definitions.len());
    assert!(dims.definitions.iter().all(|d| !d.definition.is_empty()));
    dims.check(template(4000, 1).unwrap().template()).unwrap();
}

#[test]
fn fifty_varied_bodies_have_the_dimensions_of_the_full_search() {
    let demo = template(4000, 7).unwrap();
    let dims = Dimensions::from_toml(CATALOGUE).unwrap();
    let fast = Taker::new(&dims, demo.template());
    let full = Taker::new(&dims, demo.template()).with_full_search();
    for i in 0..50 {
        let latents = demo.draw(i);
        let body = demo.scan(&demo.person(&latents), &latents, (i, 0), true, 0.5);
        // far from the template that the groups were made on, too: turned, moved, stretched, in floats as stored
        let f = i as f64 / 50.0;
        let (s, c) = (6.0 * f).sin_cos();
        let body: Vec<Point> = body
            .iter()
            .map(|p| {
                [
                    c * p[0] - s * p[1] + 900.0 * f,
                    (s * p[0] + c * p[1]) * (1.0 + 0.3 * f),
                    p[2] * (1.0 - 0.2 * f) + 70.0,
                ]
            })
            .map(|p| p.map(|x| f64::from(x as f32)))
            .collect();
        let (a, b): (Vec<Measured>, Vec<Measured>) = (fast.take(&body), full.take(&body));
        for ((d, a), b) in dims.definitions.iter().zip(&a).zip(&b) {
            assert_eq!(a, b, "body {i}, {}", d.name);
        }
    }
}

#[test]
fn people_have_every_dimension_and_left_and_right_agree() {
    let demo = template(4000, 20).unwrap();
    let dims = Dimensions::from_toml(CATALOGUE).unwrap();
    let taker = Taker::new(&dims, demo.template());
    for i in 0..40 {
        let latents = demo.draw(i);
        let row = taker.take(&demo.person(&latents));
        for (d, m) in dims.definitions.iter().zip(&row) {
            let v = m.value.unwrap_or_else(|| panic!("person {i}: {}: {:?}", d.name, m.reason_missing));
            assert!(v > 0.0 || d.name == "chest_less_waist", "person {i}: {} is {v}", d.name);
            if let Some(other) =
                d.name.strip_suffix("_left").and_then(|n| dims.position(&format!("{n}_right")))
            {
                // the demo's bodies are mirrored exactly; ways over the skin may run on other triangles
                let w = row[other].value.unwrap();
                assert!((v - w).abs() < 1e-3 * v.abs() + 0.2, "person {i}: {}: {v} and {w}", d.name);
            }
        }
    }
}

#[test]
fn segments_divide_the_body_and_lie_near_the_handbook() {
    let demo = template(4000, 20).unwrap();
    let params = formkin_measure::SegmentParams::default();
    let laid = params.on(demo.template()).unwrap();
    let mut sums = vec![0.0; params.segments.len()];
    for i in 0..20 {
        let body = demo.person(&demo.draw(i));
        let made = laid.take(&body).unwrap();
        let litres: f64 = made.iter().map(|s| s.volume_litres).sum();
        let whole = 1e-6 * formkin_geometry::areas::volume(demo.template().mesh.topology(), &body);
        // wedges between the fans where trunk and thighs meet
        assert!((litres / whole - 1.0).abs() < 0.03, "{litres} {whole}");
        for (sum, s) in sums.iter_mut().zip(&made) {
            *sum += s.share / 20.0;
        }
    }
    // Dempster after Winter: other people, other cuts between segments, so a wide margin
    for (s, share) in params.segments.iter().zip(sums) {
        let handbook = s.handbook_share.unwrap();
        assert!((share / handbook - 1.0).abs() < 0.5, "{}: {share:.4}, handbook {handbook}", s.name);
    }
}

/// A line of the list in the documentation.
fn line(d: &Definition) -> String {
    let standard = d.standard.as_ref().map_or_else(String::new, |s| {
        let parts = [Some(&s.standard), s.edition.as_ref(), s.item.as_ref()];
        let words: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
        format!(" *{}, from memory.*", words.join(", "))
    });
    let note = if d.note.is_empty() { String::new() } else { format!(" {}", d.note) };
    let unit = d.unit.as_deref().unwrap_or("1");
    format!("| `{}` | {unit} | {}{note}{standard} | {} |\n", d.name, d.definition, how(&d.kind))
}

/// `docs/dimensions.md` lists the catalogue. With `FORMKIN_WRITE=1` in the environment this writes the list; otherwise it holds the file to it.
#[test]
fn the_documentation_lists_every_dimension() {
    let dims = Dimensions::from_toml(CATALOGUE).unwrap();
    let path = formkin_tests::checkout().join("docs/dimensions.md");
    let old = std::fs::read_to_string(&path).unwrap();
    let mark = "<!-- the list: written by tests/contracts/dimensions.rs -->\n";
    let (head, _) = old.split_once(mark).unwrap();
    let mut new =
        format!("{head}{mark}\n| name | unit | what it is | how it is taken |\n|---|---|---|---|\n");
    dims.definitions.iter().for_each(|d| new.push_str(&line(d)));
    if std::env::var_os("FORMKIN_WRITE").is_some() {
        std::fs::write(&path, &new).unwrap();
    }
    assert!(
        new == old || std::env::var_os("FORMKIN_WRITE").is_some(),
        "docs/dimensions.md is behind: run this test with FORMKIN_WRITE=1"
    );
    let followed = dims.definitions.iter().filter(|d| d.standard.is_some()).count();
    assert!(followed > 60, "{followed}");
}
