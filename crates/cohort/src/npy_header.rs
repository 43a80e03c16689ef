//! The header of an NPY file: magic bytes, version, length, and a Python dictionary with `descr`, `fortran_order`, `shape`.

pub(crate) struct Header {
    pub(crate) number: Number,
    pub(crate) shape: Vec<usize>,
    pub(crate) offset: usize,
}

/// A header of exactly 128 bytes for every shape of up to three lengths, so that the number of items can be rewritten.
pub(crate) fn header(descr: &str, shape: &[usize]) -> Vec<u8> {
    let lengths: Vec<String> = shape.iter().map(ToString::to_string).collect();
    let comma = if shape.len() == 1 { "," } else { "" };
    let text =
        format!("{{'descr': '{descr}', 'fortran_order': False, 'shape': ({}{comma}), }}", lengths.join(", "));
    let mut bytes = b"\x93NUMPY\x01\x00\x76\x00".to_vec();
    bytes.extend_from_slice(text.as_bytes());
    bytes.resize(127, b' ');
    bytes.push(b'\n');
    bytes
}

/// Reads a header; an error is the byte and what is wrong there.
pub(crate) fn parse(head: &[u8]) -> Result<Header, (usize, String)> {
    if !head.starts_with(b"\x93NUMPY") {
        return Err((0, "not an NPY file".to_owned()));
    }
    let (start, length) = match head.get(6..12) {
        Some(&[1, _, a, b, ..]) => (10usize, usize::from(a) | usize::from(b) << 8),
        Some(&[2 | 3, _, a, b, c, d]) => (12, u32::from_le_bytes([a, b, c, d]) as usize),
        Some(&[version, ..]) => return Err((6, format!("version {version} of the NPY format is not known"))),
        _ => return Err((head.len(), "the header is cut off".to_owned())),
    };
    let text = start
        .checked_add(length)
        .and_then(|end| head.get(start..end))
        .ok_or((head.len(), "the header is cut off".to_owned()))?;
    let text = std::str::from_utf8(text).map_err(|_| (start, "the header is no text".to_owned()))?;
    let after = |key: &str| {
        let at = text.find(key)? + key.len();
        let rest = text[at..].trim_start_matches(['\'', '"']).trim_start();
        rest.strip_prefix(':').map(str::trim_start)
    };
    let missing = |key: &str| (start, format!("the header does not give `{key}`"));
    let descr = after("descr").ok_or_else(|| missing("descr"))?;
    let descr = descr.trim_start_matches(['\'', '"']);
    let descr = &descr[..descr.find(['\'', '"']).unwrap_or(0)];
    let number = match descr {
        "<f4" => Number::F32,
        "<f8" => Number::F64,
        "<i4" => Number::I32,
        "<i8" => Number::I64,
        "<u4" => Number::U32,
        "<u8" => Number::U64,
        _ => return Err((start, format!("the number type `{descr}` is not read"))),
    };
    match after("fortran_order") {
        Some(rest) if rest.starts_with("False") => {}
        Some(_) => return Err((start, "the array is in Fortran order".to_owned())),
        None => return Err(missing("fortran_order")),
    }
    let shape = after("shape").ok_or_else(|| missing("shape"))?;
    let shape = shape.strip_prefix('(').and_then(|s| s.split_once(')')).ok_or_else(|| missing("shape"))?.0;
    let shape = shape
        .split(',')
        .map(str::trim)
        .filter(|s| !s.is_empty())
        .map(|s| s.parse().map_err(|_| (start, format!("`{s}` is no length"))))
        .collect::<Result<Vec<usize>, _>>()?;
    Ok(Header { number, shape, offset: start + length })
}

/// The number type of an array.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Number {
    /// 32-bit float.
    F32,
    /// 64-bit float.
    F64,
    /// 32-bit integer with sign.
    I32,
    /// 64-bit integer with sign.
    I64,
    /// 32-bit integer without sign.
    U32,
    /// 64-bit integer without sign.
    U64,
}

impl Number {
    pub(crate) fn bytes(self) -> usize {
        match self {
            Self::F32 | Self::I32 | Self::U32 => 4,
            Self::F64 | Self::I64 | Self::U64 => 8,
        }
    }

    /// Decodes little-endian numbers as `f64`; 64-bit integers above 2^53 lose digits.
    pub(crate) fn decode(self, bytes: &[u8], out: &mut [f64]) {
        fn each<const N: usize>(bytes: &[u8], out: &mut [f64], number: impl Fn([u8; N]) -> f64) {
            for (o, b) in out.iter_mut().zip(bytes.chunks_exact(N)) {
                let mut array = [0; N];
                array.copy_from_slice(b);
                *o = number(array);
            }
        }
        match self {
            Self::F32 => each(bytes, out, |b| f64::from(f32::from_le_bytes(b))),
            Self::F64 => each(bytes, out, f64::from_le_bytes),
            Self::I32 => each(bytes, out, |b| f64::from(i32::from_le_bytes(b))),
            Self::I64 => each(bytes, out, |b| i64::from_le_bytes(b) as f64),
            Self::U32 => each(bytes, out, |b| f64::from(u32::from_le_bytes(b))),
            Self::U64 => each(bytes, out, |b| u64::from_le_bytes(b) as f64),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn headers_come_back() {
        let bytes = header("<f4", &[2, 50_000, 3]);
        assert_eq!(bytes.len(), 128);
        let h = parse(&bytes).unwrap();
        assert_eq!((h.number, h.shape, h.offset), (Number::F32, vec![2, 50_000, 3], 128));
        assert_eq!(parse(&header("<i8", &[7])).unwrap().shape, [7]);
    }

    #[test]
    fn what_is_not_read_is_named() {
        for (text, word) in [
            ("{'descr': '>f4', 'fortran_order': False, 'shape': (1,)}", ">f4"),
            ("{'descr': '<f4', 'fortran_order': True, 'shape': (1,)}", "Fortran"),
            ("{'descr': '<f4', 'fortran_order': False}", "shape"),
            ("{'descr': '<f4', 'fortran_order': False, 'shape': (a,)}", "`a`"),
        ] {
            let mut bytes = vec![0x93, b'N', b'U', b'M', b'P', b'Y', 1, 0, text.len() as u8, 0];
            bytes.extend_from_slice(text.as_bytes());
            assert!(parse(&bytes).err().unwrap().1.contains(word));
        }
    }

    proptest! {
        #[test]
        fn no_bytes_panic(mut bytes in proptest::collection::vec(any::<u8>(), 0..200), at in 0usize..128, to: u8) {
            let _ = parse(&bytes);
            let mut mutated = header("<f8", &[2, 3]);
            mutated[at] = to;
            let _ = parse(&mutated);
            mutated.truncate(at);
            bytes.splice(0..0, mutated);
            let _ = parse(&bytes);
        }
    }
}
