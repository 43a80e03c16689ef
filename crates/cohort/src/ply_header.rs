//! The header of a PLY file.

use std::path::Path;

use crate::CohortError;
use crate::error::Place;
use crate::number::words;

const EXPORT_AGAIN: &str = "export the file again";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Encoding {
    Ascii,
    LittleEndian,
    BigEndian,
}

/// The number types of PLY.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Kind {
    fn of(name: &[u8]) -> Option<Self> {
        Some(match name {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }

    pub(crate) fn bytes(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// Decodes a number of `self.bytes()` bytes; NaN where the bytes are fewer, which the callers exclude.
    #[inline]
    pub(crate) fn decode(self, raw: &[u8], big: bool) -> f64 {
        fn order<const N: usize>(raw: &[u8], big: bool) -> Option<[u8; N]> {
            let mut bytes: [u8; N] = raw.try_into().ok()?;
            if big {
                bytes.reverse();
            }
            Some(bytes)
        }
        match self {
            Self::I8 => order(raw, big).map(|b| f64::from(i8::from_le_bytes(b))),
            Self::U8 => order(raw, big).map(|b| f64::from(u8::from_le_bytes(b))),
            Self::I16 => order(raw, big).map(|b| f64::from(i16::from_le_bytes(b))),
            Self::U16 => order(raw, big).map(|b| f64::from(u16::from_le_bytes(b))),
            Self::I32 => order(raw, big).map(|b| f64::from(i32::from_le_bytes(b))),
            Self::U32 => order(raw, big).map(|b| f64::from(u32::from_le_bytes(b))),
            Self::F32 => order(raw, big).map(|b| f64::from(f32::from_le_bytes(b))),
            Self::F64 => order(raw, big).map(f64::from_le_bytes),
        }
        .unwrap_or(f64::NAN)
    }
}

/// A property of an element; a list has the type of its length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Property {
    pub(crate) name: String,
    pub(crate) kind: Kind,
    pub(crate) list: Option<Kind>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Element {
    pub(crate) name: String,
    pub(crate) count: usize,
    pub(crate) properties: Vec<Property>,
}

#[derive(Debug)]
pub(crate) struct Header {
    pub(crate) encoding: Encoding,
    pub(crate) elements: Vec<Element>,
    /// First byte after the header.
    pub(crate) offset: usize,
}

pub(crate) fn parse(file: &Path, bytes: &[u8]) -> Result<Header, CohortError> {
    let mut offset = 0;
    let mut lines = 0;
    let mut encoding = None;
    let mut elements: Vec<Element> = Vec::new();
    loop {
        let rest = &bytes[offset..];
        let Some(end) = rest.iter().position(|&c| c == b'\n') else {
            let advice = if lines == 0 { "check that it is a PLY file" } else { EXPORT_AGAIN };
            return Err(CohortError::syntax(file, Place::Line(lines + 1), "the header has no end", advice));
        };
        let line = rest[..end].trim_ascii();
        offset += end + 1;
        lines += 1;
        let wrong = |problem: String| CohortError::syntax(file, Place::Line(lines), problem, EXPORT_AGAIN);
        if lines == 1 {
            if line != b"ply" {
                return Err(CohortError::syntax(
                    file,
                    Place::Line(1),
                    "the file does not begin with `ply`",
                    "check that it is a PLY file",
                ));
            }
            continue;
        }
        let text = || String::from_utf8_lossy(line).chars().take(60).collect::<String>();
        let parts: Vec<&[u8]> = words(line).collect();
        match parts.as_slice() {
            [b"end_header"] => break,
            [] | [b"comment" | b"obj_info", ..] => {}
            [b"format", name, ..] => {
                encoding = Some(match *name {
                    b"ascii" => Encoding::Ascii,
                    b"binary_little_endian" => Encoding::LittleEndian,
                    b"binary_big_endian" => Encoding::BigEndian,
                    _ => return Err(wrong(format!("`{}` is not a known format", text()))),
                });
            }
            [b"element", name, count] => {
                let count = std::str::from_utf8(count).ok().and_then(|c| c.parse().ok());
                let count = count.ok_or_else(|| wrong(format!("`{}` gives no count", text())))?;
                let name = String::from_utf8_lossy(name).into_owned();
                if elements.iter().any(|e| e.name == name) {
                    return Err(wrong(format!("the element `{name}` comes twice")));
                }
                elements.push(Element { name, count, properties: Vec::new() });
            }
            [b"property", rest @ ..] => {
                let property = match rest {
                    [b"list", length, kind, name] => {
                        Kind::of(kind).zip(Kind::of(length)).map(|(kind, length)| Property {
                            name: String::from_utf8_lossy(name).into_owned(),
                            kind,
                            list: Some(length),
                        })
                    }
                    [kind, name] => Kind::of(kind).map(|kind| Property {
                        name: String::from_utf8_lossy(name).into_owned(),
                        kind,
                        list: None,
                    }),
                    _ => None,
                };
                let property = property.ok_or_else(|| wrong(format!("`{}` is not a property", text())))?;
                elements
                    .last_mut()
                    .ok_or_else(|| wrong("a property before any element".to_owned()))?
                    .properties
                    .push(property);
            }
            _ => return Err(wrong(format!("`{}` is not part of a PLY header", text()))),
        }
    }
    let encoding = encoding.ok_or_else(|| {
        CohortError::syntax(file, Place::Line(lines), "the header has no format", EXPORT_AGAIN)
    })?;
    Ok(Header { encoding, elements, offset })
}
