//! The space as bytes: it comes back the same, and no bytes make it panic.
#![allow(clippy::unwrap_used)] // helpers of tests are tests

use crate::common::{body, quiet, shapes};
use formkin_shape::{ShapeError, Space, SpaceParams};
use formkin_stats::random::stream;
use rand::Rng;

fn space() -> Space {
    let (topology, base) = body(6, 8);
    let source = shapes(9, &base, 20.0, 0.3, 1);
    let people: Vec<usize> = (0..9).collect();
    SpaceParams::default().fit(&source, &topology, &people, None, &quiet).unwrap().space
}

/// The header as text and the bytes behind it.
fn split(bytes: &[u8]) -> (serde_json::Value, Vec<u8>) {
    let n = u64::from_le_bytes(bytes[..8].try_into().unwrap()) as usize;
    (serde_json::from_slice(&bytes[8..8 + n]).unwrap(), bytes[8 + n..].to_vec())
}

fn join(header: &serde_json::Value, data: &[u8]) -> Vec<u8> {
    let text = header.to_string();
    [&(text.len() as u64).to_le_bytes(), text.as_bytes(), data].concat()
}

#[test]
fn a_space_comes_back_to_the_bit() {
    let space = space();
    let bytes = space.to_safetensors();
    let again = Space::from_safetensors(&bytes).unwrap();
    assert_eq!(space, again);
    assert_eq!(bytes, again.to_safetensors());
    assert!(again.cross_validation.is_some());
    // a reader that knows nothing of us
    let tensors = safetensors::SafeTensors::deserialize(&bytes).unwrap();
    let modes = tensors.tensor("modes").unwrap();
    assert_eq!(modes.shape(), [space.modes.len(), space.mean.len(), 3]);
    let (_, header) = safetensors::SafeTensors::read_metadata(&bytes).unwrap();
    let entries = header.metadata().clone().unwrap();
    for key in [
        "format",
        "format_version",
        "formula",
        "unit",
        "people",
        "items",
        "align",
        "template_hash",
        "cross_validation",
    ] {
        assert!(entries.contains_key(key), "{key}");
    }
}

#[test]
fn every_flaw_has_its_own_error() {
    let bytes = space().to_safetensors();
    let with = |change: &dyn Fn(&mut serde_json::Value)| {
        let (mut header, data) = split(&bytes);
        change(&mut header);
        Space::from_safetensors(&join(&header, &data)).unwrap_err()
    };
    assert!(matches!(with(&|h| h["__metadata__"]["format"] = "other".into()), ShapeError::NotASpace));
    let newer = with(&|h| h["__metadata__"]["format_version"] = "2".into());
    assert_eq!(newer, ShapeError::NewerVersion { found: 2, known: 1 });
    let metadata = with(&|h| h["__metadata__"]["people"] = "many".into());
    assert!(matches!(metadata, ShapeError::Metadata { key: "people", .. }));
    for array in ["mean", "modes", "variances", "weights", "triangles"] {
        let missing = with(&|h| {
            let map = h.as_object_mut().unwrap();
            let found = map.remove(array).unwrap();
            map.insert("elsewhere".to_owned(), found);
        });
        assert!(matches!(&missing, ShapeError::MissingArray { array: a } if *a == array), "{missing}");
        let shape = with(&|h| {
            let sizes = h[array]["shape"].as_array().unwrap();
            let n: u64 = sizes.iter().map(|s| s.as_u64().unwrap()).product();
            h[array]["shape"] = serde_json::json!([n, 1, 1, 1]);
        });
        assert!(matches!(&shape, ShapeError::WrongArray { array: a, .. } if *a == array), "{shape}");
    }
    assert!(matches!(
        with(&|h| h["mean"]["shape"] = serde_json::json!([u64::MAX, 3])),
        ShapeError::NotSafetensors { .. }
    ));
    let (header, mut data) = split(&bytes);
    data[0..8].copy_from_slice(&f64::NAN.to_le_bytes());
    let nan = Space::from_safetensors(&join(&header, &data)).unwrap_err();
    assert!(matches!(nan, ShapeError::BadValue { array: "variances", .. }));
    let end = data.len();
    data[0..8].copy_from_slice(&1e9f64.to_le_bytes());
    data[end - 4..].copy_from_slice(&u32::MAX.to_le_bytes());
    let range = Space::from_safetensors(&join(&header, &data)).unwrap_err();
    assert!(matches!(range, ShapeError::BadValue { array: "triangles", .. }));
}

#[test]
fn no_bytes_make_it_panic() {
    let bytes = space().to_safetensors();
    for cut in 0..600 {
        assert!(Space::from_safetensors(&bytes[..bytes.len() * cut / 600]).is_err());
    }
    let mut rng = stream(1, "bytes");
    for _ in 0..2000 {
        let mut other = bytes.clone();
        for _ in 0..rng.gen_range(1..4) {
            // the header is where harm can be done
            let at = if rng.r#gen() { rng.gen_range(0..2500) } else { rng.gen_range(0..other.len()) };
            other[at] = rng.r#gen();
        }
        let _ = Space::from_safetensors(&other);
    }
    assert!(Space::from_safetensors(&[]).is_err());
    assert!(Space::from_safetensors(&[255; 64]).is_err());
}
