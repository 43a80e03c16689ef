//! Files out and in again: meshes, templates, glTF.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::path::Path;

use crate::common::{body, mesh, topology};
use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_cohort::{
    CohortError, MeshWriting, Mismatch, load_template, ply_bytes, read_mesh, read_positions, save_template,
    write_obj, write_ply,
};
use formkin_geometry::vector::distance;
use formkin_geometry::{Joint, Skin, Template, Topology};
use proptest::prelude::*;

#[test]
fn meshes_come_back_in_their_order() {
    let f = tempfile::tempdir().unwrap();
    let colors = vec![[200, 10, 0]; 386];
    let m = mesh(1700.0, 1.0);
    for (name, ascii, colors) in [
        ("a.ply", false, None),
        ("b.ply", true, None),
        ("c.ply", false, Some(colors.as_slice())),
        ("d.ply", true, Some(colors.as_slice())),
        ("e.obj", false, None),
        ("f.obj", false, Some(colors.as_slice())),
    ] {
        let path = f.path().join(name);
        let writing = MeshWriting { force: false, ascii, colors };
        let write = || {
            if name.ends_with("ply") {
                write_ply(&path, &m, &writing)
            } else {
                write_obj(&path, &m, &writing)
            }
        };
        write().unwrap();
        assert!(matches!(write(), Err(CohortError::AlreadyExists { .. })));
        let raw = read_mesh(&path).unwrap();
        assert_eq!(raw.triangles, m.topology().triangles(), "{name}");
        // the precision of a 32-bit float at 1700 mm
        assert!(raw.positions.iter().zip(m.positions()).all(|(a, b)| distance(*a, *b) < 2e-4), "{name}");
        assert_eq!(read_positions(&path, m.topology()).unwrap(), raw.positions);
        let other = Topology::new(386, m.topology().triangles()[1..].to_vec()).unwrap();
        assert!(matches!(
            read_positions(&path, &other),
            Err(CohortError::OtherTopology {
                mismatch: Mismatch::Triangles { expected: 767, found: 768 },
                ..
            })
        ));
    }
    let wrong = MeshWriting { colors: Some(&colors[1..]), ..MeshWriting::default() };
    assert!(matches!(write_ply(&f.path().join("g.ply"), &m, &wrong), Err(CohortError::Setting { .. })));
    assert!(matches!(read_mesh(Path::new("a.stl")), Err(CohortError::UnknownFormat { .. })));
    assert!(matches!(read_mesh(Path::new("none.ply")), Err(CohortError::Io { .. })));
}

/// Big-endian, properties in another order and of other types, a list among the vertices, a camera in between, quads.
#[test]
fn odd_ply_files_are_read() {
    let f = tempfile::tempdir().unwrap();
    let path = f.path().join("odd.ply");
    let header = "ply\r\nformat FORMAT 1.0\ncomment any\nobj_info any\nelement face 1\nproperty uchar flags\nproperty list ushort \
                  short vertex_index\nelement camera 1\nproperty list int double matrix\nproperty char c\nelement vertex \
                  4\nproperty double z\nproperty list uchar float uv\nproperty short x\nproperty uchar red\nproperty float \
                  y\nend_header\n";
    let mut big = header.replace("FORMAT", "binary_big_endian").into_bytes();
    let mut little = header.replace("FORMAT", "binary_little_endian").into_bytes();
    let mut ascii = header.replace("FORMAT", "ascii") + "7 4 0 1 2 3\n2 0.5 0.25 -3\n";
    for (bytes, big) in [(&mut big, true), (&mut little, false)] {
        let put = |bytes: &mut Vec<u8>, le: &[u8]| {
            let mut le = le.to_vec();
            if big {
                le.reverse();
            }
            bytes.extend(le);
        };
        put(bytes, &[7]);
        put(bytes, &4u16.to_le_bytes());
        for i in 0..4i16 {
            put(bytes, &i.to_le_bytes());
        }
        put(bytes, &2i32.to_le_bytes());
        put(bytes, &0.5f64.to_le_bytes());
        put(bytes, &0.25f64.to_le_bytes());
        put(bytes, &[253]);
        for i in 0..4i16 {
            put(bytes, &(0.125 * f64::from(i)).to_le_bytes());
            put(bytes, &[i as u8]);
            for _ in 0..i {
                put(bytes, &1f32.to_le_bytes());
            }
            put(bytes, &(-i).to_le_bytes());
            put(bytes, &[9]);
            put(bytes, &(1.5f32 * f32::from(i)).to_le_bytes());
        }
    }
    for i in 0..4 {
        let uv = " 1".repeat(i);
        ascii += &format!("{} {i}{uv} -{i} 9 {}\r\n", 0.125 * i as f64, 1.5 * i as f64);
    }
    for bytes in [big, little, ascii.into_bytes()] {
        std::fs::write(&path, &bytes).unwrap();
        let mesh = read_mesh(&path).unwrap();
        assert_eq!(mesh.triangles, [[0, 1, 2], [0, 2, 3]]);
        assert_eq!(mesh.positions[3], [-3.0, 4.5, 0.375]);
        // every cut is an error with the name of the file
        // (text that ends within its last number may still be a number)
        for cut in 0..bytes.len() - 6 {
            std::fs::write(&path, &bytes[..cut]).unwrap();
            assert!(read_mesh(&path).unwrap_err().to_string().contains("odd.ply"));
        }
    }
}

#[test]
fn wrong_ply_files_say_what_is_wrong() {
    let f = tempfile::tempdir().unwrap();
    let path = f.path().join("w.ply");
    let good = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face \
                1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n";
    let error = |text: String| {
        std::fs::write(&path, text).unwrap();
        read_mesh(&path).unwrap_err().to_string()
    };
    std::fs::write(&path, good).unwrap();
    assert_eq!(read_mesh(&path).unwrap().triangles, [[0, 1, 2]]);
    for (from, to, words) in [
        ("ply\n", "plx\n", "line 1: the file does not begin with `ply`"),
        ("ascii", "binary", "line 2: `format binary 1.0` is not a known format"),
        ("float x", "real x", "line 4: `property real x` is not a property"),
        ("float z", "float w", "no property `z`"),
        ("vertex_indices", "strips", "no list `vertex_indices`"),
        ("vertex 3", "vertex three", "line 3"),
        ("3 0 1 2", "3 0 1 7", "line 13: a face names vertex 7, but the file has 3"),
        ("3 0 1 2", "3 0 1 -1", "line 13: a face names vertex -1"),
        ("3 0 1 2", "2 0 1", "line 13: a face with 2 corners"),
        ("3 0 1 2", "3 0 1", "1 faces are promised, 0 are there"),
        ("face 1", "face 9999999999999", "9999999999999 faces are promised, 1 are there"),
        ("0 1 0\n3 0 1 2\n", "", "3 vertices are promised, 2 are there"),
        ("1 0 0", "1 x 0", "line 11: `x` is not a number"),
        ("face 1", "face 0", "3 vertices and 0 triangles"),
        ("end_header\n", "", "is not part of a PLY header"),
    ] {
        assert!(good.contains(from), "{from}");
        let said = error(good.replacen(from, to, 1));
        assert!(said.contains("w.ply") && said.contains(words), "{said}");
    }
    // a header that promises more than any memory holds
    let huge = good.replace("ascii", "binary_little_endian").replace("vertex 3", "vertex 99999999999999");
    assert!(error(huge).contains("promised"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]
    #[test]
    fn no_ply_panics(at in 0usize..700, to: u8, cut in 0usize..700, ascii: bool, noise in proptest::collection::vec(any::<u8>(), 0..60)) {
        let t = Topology::new(8, (0..6).map(|i| [i, i + 1, i + 2]).collect()).unwrap();
        let p: Vec<_> = (0..8).map(|i| [f64::from(i), 2.5, -1.0]).collect();
        let good = ply_bytes(&t, &p, &MeshWriting { ascii, ..MeshWriting::default() }).unwrap();
        let f = tempfile::tempdir().unwrap();
        let path = f.path().join("p.ply");
        let (at, cut) = (at % good.len(), cut % good.len());
        let mut changed = good.clone();
        changed[at] = to;
        let mut longer = good.clone();
        longer.splice(cut..cut, noise);
        for bytes in [changed.as_slice(), &good[..cut], &longer, &changed[..cut]] {
            std::fs::write(&path, bytes).unwrap();
            let _ = read_mesh(&path);
            let _ = read_positions(&path, &t);
        }
    }
}

fn full_template() -> Template {
    let mut t = Template::bare(mesh(1700.0, 1.0));
    t.version = "3".into();
    t.landmarks = [("crown".to_owned(), 385), ("sole".to_owned(), 0)].into();
    t.regions = [("ring".to_owned(), (1..17).collect()), ("both".to_owned(), vec![0, 5, 6, 385])].into();
    t.paths = [("front".to_owned(), vec![385, 13, 0])].into();
    t.joints = vec![
        Joint { name: "root".into(), parent: None, ring: (161..177).collect() },
        Joint { name: "neck".into(), parent: Some("root".into()), ring: vec![330, 321] },
    ];
    let mirror = |v: u32| match v {
        0 | 385 => v,
        v => {
            let (r, a) = ((v - 1) / 16, (v - 1) % 16);
            1 + 16 * r + (24 - a) % 16
        }
    };
    t.mirror = Some((0..386).map(mirror).collect());
    t.skin =
        Some(Skin { weights: (0..386).flat_map(|v| [v as f32 / 385.0, 1.0 - v as f32 / 385.0]).collect() });
    t
}

#[test]
fn templates_come_back() {
    let f = tempfile::tempdir().unwrap();
    let full = full_template();
    full.validate().unwrap();
    for (name, template) in [("bare", Template::bare(mesh(1700.0, 1.0))), ("full", full)] {
        let folder = f.path().join(name);
        std::fs::create_dir(&folder).unwrap();
        let path = save_template(&template, &folder).unwrap();
        assert!(matches!(save_template(&template, &folder), Err(CohortError::AlreadyExists { .. })));
        let mut back = load_template(&path).unwrap();
        assert!(
            back.mesh.positions().iter().zip(template.mesh.positions()).all(|(a, b)| distance(*a, *b) < 2e-4)
        );
        back.mesh = template.mesh.clone();
        assert_eq!(back, template);
    }
}

#[test]
fn template_files_say_which_entry_is_wrong() {
    let f = tempfile::tempdir().unwrap();
    write_ply(&f.path().join("body.ply"), &mesh(1.7, 0.001), &MeshWriting::default()).unwrap();
    std::fs::write(f.path().join("ring.csv"), "vertex\n3\n4\n").unwrap();
    std::fs::write(f.path().join("pairs.csv"), "left,right\n1,2\n3,4\n").unwrap();
    let path = f.path().join("template.toml");
    let good = "mesh = \"body.ply\"\nunit = \"m\"\nmirror = \"pairs.csv\"\n[landmarks]\ncrown = 385\nchin = \
                300\n[regions]\ntop = \"300-320, 330\"\nring = \"ring.csv\"\nlist = [9, 8, 9]\nfile = { file = \"ring.csv\" }\n\
                [paths]\nup = [\"chin\", 370, \"crown\"]\n[[joints]]\nname = \"root\"\nring = \"1-3\"\n[[joints]]\nname = \
                \"neck\"\nparent = \"root\"\nring = [5]\n";
    std::fs::write(&path, good).unwrap();
    let t = load_template(&path).unwrap();
    assert_eq!(t.regions["top"].len(), 22);
    assert_eq!(
        (t.regions["list"].as_slice(), t.regions["ring"].as_slice()),
        ([8, 9].as_slice(), [3, 4].as_slice())
    );
    assert_eq!(t.paths["up"], [300, 370, 385]);
    assert_eq!((t.mirror.as_ref().unwrap()[1], t.mirror.as_ref().unwrap()[5]), (2, 5));
    assert!((t.mesh.positions()[385][2] - 1700.0).abs() < 1e-3);
    for (from, to, words) in [
        ("crown = 385", "crown = 386", "landmark `crown`: vertex 386 is not on the mesh"),
        ("\"chin\", 370", "\"chim\", 370", "path `up`: there is no landmark `chim`; near names are `chin`"),
        ("300-320", "320-300", "region `top`"),
        ("300-320", "300-999", "region `top`: vertex 386"),
        ("ring.csv\"\nlist", "no.csv\"\nlist", "region `ring`"),
        (
            "parent = \"root\"",
            "parent = \"rot\"",
            "joint `neck`: its parent `rot` is not listed before it; near names are `root`",
        ),
        ("mesh = \"body.ply\"", "", "missing field `mesh`"),
        ("[landmarks]", "[landmark]", "unknown field `landmark`"),
        ("body.ply", "none.ply", "none.ply"),
        ("unit = \"m\"", "unit = \"ell\"", "ell"),
        ("unit = \"m\"", "unit = \"auto\"", "unit and up"),
        ("mirror = \"pairs.csv\"", "mirror = [[1, 2], [2, 3]]", "vertex 2 is in two pairs"),
        ("mirror = \"pairs.csv\"", "skin = \"no.npy\"", "no.npy"),
    ] {
        assert!(good.contains(from), "{from}");
        std::fs::write(&path, good.replacen(from, to, 1)).unwrap();
        let said = load_template(&path).unwrap_err().to_string();
        assert!(said.contains(words), "{said}");
    }
}

#[test]
fn gltf_is_read_back_by_a_general_reader() {
    let t = topology();
    let base = body(1700.0, 1.0);
    let deltas = |f: f64| base.iter().map(|p| [f * p[0], 0.0, 0.5 * f * p[2]]).collect::<Vec<_>>();
    let scene = MorphScene {
        name: "mean".into(),
        topology: &t,
        base: &base,
        targets: vec![("mode 1 (+1 SD)".into(), deltas(0.1)), ("mode 2 (+1 SD)".into(), deltas(-0.2))],
        colors: Some((0..386).map(|v| [v as u8, 128, 255]).collect()),
        animation: Some(MorphAnimation {
            times_s: vec![0.0, 0.5, 1.0],
            weights: vec![vec![0.0, 0.0], vec![1.0, -1.0], vec![0.5, 0.25]],
        }),
        extras: serde_json::json!({"people": 12}),
    };
    let glb = morph_glb(&scene).unwrap();
    let ::gltf::Gltf { document, blob } = ::gltf::Gltf::from_slice(&glb).unwrap();
    let blob = blob.unwrap();
    let mesh = document.meshes().next().unwrap();
    let extras: serde_json::Value = serde_json::from_str(mesh.extras().as_ref().unwrap().get()).unwrap();
    assert_eq!(extras["targetNames"], serde_json::json!(["mode 1 (+1 SD)", "mode 2 (+1 SD)"]));
    assert_eq!(extras["people"], 12);
    assert_eq!(mesh.weights().unwrap(), [0.0, 0.0]);
    let primitive = mesh.primitives().next().unwrap();
    let reader = primitive.reader(|_| Some(blob.as_slice()));
    let positions: Vec<[f32; 3]> = reader.read_positions().unwrap().collect();
    let indices: Vec<u32> = reader.read_indices().unwrap().into_u32().collect();
    assert_eq!(indices, t.triangles().as_flattened());
    // metres, y up, right-handed
    for (q, p) in positions.iter().zip(&base) {
        let back = [f64::from(q[0]) * 1e3, -f64::from(q[2]) * 1e3, f64::from(q[1]) * 1e3];
        assert!(distance(back, *p) < 2e-4);
    }
    let bounds = primitive.bounding_box();
    assert!((bounds.max[1] - 1.7).abs() < 1e-6 && bounds.min[1].abs() < 1e-6);
    let targets: Vec<_> = reader.read_morph_targets().collect();
    assert_eq!(targets.len(), 2);
    let first: Vec<[f32; 3]> = targets.into_iter().next().unwrap().0.unwrap().collect();
    assert!((first[385][1] - 0.085).abs() < 1e-6);
    for target in primitive.morph_targets() {
        let accessor = target.positions().unwrap();
        assert!(accessor.min().is_some() && accessor.max().is_some());
    }
    let colors: Vec<[u16; 4]> = reader.read_colors(0).unwrap().into_rgba_u16().collect();
    assert_eq!((colors[255][0], colors[0][2], colors[0][3]), (65535, 65535, 65535));
    assert_eq!(colors[0][1], 14146); // sRGB 128 is linear 0.2158605
    assert_eq!(reader.read_normals().unwrap().count(), 386);
    let animation = document.animations().next().unwrap();
    let channel = animation.channels().next().unwrap();
    let reader = channel.reader(|_| Some(blob.as_slice()));
    assert_eq!(reader.read_inputs().unwrap().collect::<Vec<_>>(), [0.0, 0.5, 1.0]);
    let ::gltf::animation::util::ReadOutputs::MorphTargetWeights(weights) = reader.read_outputs().unwrap()
    else {
        panic!("not weights")
    };
    assert_eq!(weights.into_f32().collect::<Vec<_>>(), [0.0, 0.0, 1.0, -1.0, 0.5, 0.25]);

    // a body alone
    let alone = MorphScene {
        targets: vec![],
        colors: None,
        animation: None,
        extras: serde_json::Value::Null,
        ..scene.clone()
    };
    let document = ::gltf::Gltf::from_slice(&morph_glb(&alone).unwrap()).unwrap().document;
    assert!(document.meshes().next().unwrap().weights().is_none());
    // what cannot be written
    let short = MorphScene { targets: vec![("a".into(), vec![[0.0; 3]])], animation: None, ..scene.clone() };
    assert!(morph_glb(&short).unwrap_err().to_string().contains("1 points"));
    let mut animation = scene.animation.clone().unwrap();
    animation.times_s[1] = 2.0;
    assert!(morph_glb(&MorphScene { animation: Some(animation), ..scene.clone() }).is_err());
    let mut broken = base.clone();
    broken[3][1] = f64::NAN;
    assert!(morph_glb(&MorphScene { base: &broken, ..scene }).unwrap_err().to_string().contains("vertex 3"));
}

#[test]
fn a_mirror_of_floats_that_are_no_vertices_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = save_template(&full_template(), folder.path()).unwrap();
    let mirror: Vec<u32> = load_template(&path).unwrap().mirror.unwrap();
    let mut bytes = b"\x93NUMPY\x01\x00\x76\x00".to_vec();
    let header = "{'descr': '<f8', 'fortran_order': False, 'shape': (386,), }";
    bytes.extend(format!("{header:<117}\n").bytes());
    let write = |at: usize, value: f64| {
        let mut all = bytes.clone();
        for (i, v) in mirror.iter().enumerate() {
            all.extend(if i == at { value } else { f64::from(*v) }.to_le_bytes());
        }
        std::fs::write(folder.path().join("mirror.npy"), all).unwrap();
        load_template(&path)
    };
    assert_eq!(write(0, 0.0).unwrap().mirror, Some(mirror.clone()));
    // each would become a vertex that mirrors well if it were cut to one
    for (at, value) in [(0, -3.0), (0, f64::NAN), (385, 385.7), (385, 1e12)] {
        let said = write(at, value).unwrap_err().to_string();
        assert!(said.contains("mirror") && said.contains("whole number from 0 to 385"), "{said}");
    }
}
