//! PLY files: text and both binary byte orders, properties of any type and order, lists, and elements that are passed over.

use std::path::Path;

use formkin_geometry::Point;

use crate::CohortError;
use crate::error::Place;
use crate::number::float;
use crate::ply_header::{self, Element, Encoding, Kind, Property};
use crate::polygon::Fan;

const EXPORT_AGAIN: &str = "export the file again";

/// Reads the positions, and gives every triangle to `triangle`.
pub(crate) fn read(
    file: &Path,
    bytes: &[u8],
    triangle: &mut impl FnMut([u32; 3]),
) -> Result<Vec<Point>, CohortError> {
    let header = ply_header::parse(file, bytes)?;
    let mut body = Body { file, encoding: header.encoding, bytes, at: header.offset };
    let mut positions = Vec::new();
    // the highest vertex named and where: faces may come before the vertices
    let mut highest: Option<(u32, usize)> = None;
    for element in &header.elements {
        match element.name.as_str() {
            "vertex" => positions = body.vertices(element)?,
            "face" => body.faces(element, triangle, &mut highest)?,
            _ => body.pass_over(element)?,
        }
    }
    match highest {
        Some((index, at)) if index as usize >= positions.len() => Err(CohortError::VertexOutOfRange {
            file: file.to_owned(),
            at: body.place(at),
            index: i64::from(index),
            vertices: positions.len(),
        }),
        _ => Ok(positions),
    }
}

/// The data after the header, read from `at` on.
struct Body<'a> {
    file: &'a Path,
    encoding: Encoding,
    bytes: &'a [u8],
    at: usize,
}

impl Body<'_> {
    /// Line of a text file, byte of a binary one. Lines are counted only when an error needs them.
    fn place(&self, at: usize) -> Place {
        match self.encoding {
            Encoding::Ascii => {
                let at = at.min(self.bytes.len());
                let blank = self.bytes[at..].iter().take_while(|c| c.is_ascii_whitespace()).count();
                // an end of file is the end of its last line
                let at = if at + blank < self.bytes.len() { at + blank } else { at };
                Place::Line(1 + self.bytes[..at].iter().filter(|&&c| c == b'\n').count())
            }
            _ => Place::Byte(at),
        }
    }

    fn cut_off(&self, element: &Element, found: usize) -> CohortError {
        let what = match element.name.as_str() {
            "vertex" => "vertices",
            "face" => "faces",
            _ => "rows of another element",
        };
        CohortError::Truncated {
            file: self.file.to_owned(),
            at: self.place(self.bytes.len()),
            what,
            expected: element.count,
            found,
        }
    }

    /// One number; `None` where the file ends.
    #[inline]
    fn number(&mut self, kind: Kind) -> Result<Option<f64>, CohortError> {
        if self.encoding == Encoding::Ascii {
            let rest = &self.bytes[self.at..];
            let Some(start) = rest.iter().position(|c| !c.is_ascii_whitespace()) else {
                return Ok(None);
            };
            let rest = &rest[start..];
            let end = rest.iter().position(u8::is_ascii_whitespace).unwrap_or(rest.len());
            let (word, at) = (&rest[..end], self.at + start);
            self.at = at + end;
            return match float(word) {
                Some(x) => Ok(Some(x)),
                None => {
                    let word: String = String::from_utf8_lossy(word).chars().take(24).collect();
                    Err(CohortError::syntax(
                        self.file,
                        self.place(at),
                        format!("`{word}` is not a number"),
                        EXPORT_AGAIN,
                    ))
                }
            };
        }
        let Some(raw) = self.bytes.get(self.at..self.at + kind.bytes()) else {
            return Ok(None);
        };
        self.at += raw.len();
        Ok(Some(kind.decode(raw, self.encoding == Encoding::BigEndian)))
    }

    /// A length of a list; `None` where the file ends.
    fn length(&mut self, kind: Kind) -> Result<Option<usize>, CohortError> {
        let at = self.at;
        match self.number(kind)? {
            None => Ok(None),
            Some(n) if n >= 0.0 && n.fract() == 0.0 && n <= f64::from(u32::MAX) => Ok(Some(n as usize)),
            Some(n) => Err(CohortError::syntax(
                self.file,
                self.place(at),
                format!("a list of {n} entries"),
                EXPORT_AGAIN,
            )),
        }
    }

    /// Passes over one property of one row; `None` where the file ends.
    fn skip(&mut self, property: &Property) -> Result<Option<()>, CohortError> {
        let Some(length) = property.list else {
            return Ok(self.number(property.kind)?.map(|_| ()));
        };
        let Some(n) = self.length(length)? else { return Ok(None) };
        if self.encoding != Encoding::Ascii {
            let end = self.at + n * property.kind.bytes();
            if end > self.bytes.len() {
                return Ok(None);
            }
            self.at = end;
            return Ok(Some(()));
        }
        for _ in 0..n {
            if self.number(property.kind)?.is_none() {
                return Ok(None);
            }
        }
        Ok(Some(()))
    }

    fn pass_over(&mut self, element: &Element) -> Result<(), CohortError> {
        if element.properties.is_empty() {
            return Ok(());
        }
        for row in 0..element.count {
            for property in &element.properties {
                if self.skip(property)?.is_none() {
                    return Err(self.cut_off(element, row));
                }
            }
        }
        Ok(())
    }

    fn vertices(&mut self, element: &Element) -> Result<Vec<Point>, CohortError> {
        let mut place = [usize::MAX; 3];
        for (k, axis) in ["x", "y", "z"].iter().enumerate() {
            place[k] =
                element.properties.iter().position(|p| p.name == *axis && p.list.is_none()).ok_or_else(
                    || {
                        CohortError::syntax(
                            self.file,
                            Place::Whole,
                            format!("the vertices have no property `{axis}`"),
                            EXPORT_AGAIN,
                        )
                    },
                )?;
        }
        if self.encoding != Encoding::Ascii && element.properties.iter().all(|p| p.list.is_none()) {
            return self.rows_of_vertices(element, place);
        }
        // a row is at least two bytes a property
        let room = (self.bytes.len() - self.at) / (2 * element.properties.len());
        let mut positions = Vec::with_capacity(element.count.min(room + 1));
        for row in 0..element.count {
            let mut p = [0.0; 3];
            for (i, property) in element.properties.iter().enumerate() {
                let done = match place.iter().position(|&k| k == i) {
                    Some(k) => self.number(property.kind)?.map(|x| p[k] = x),
                    None => self.skip(property)?,
                };
                if done.is_none() {
                    return Err(self.cut_off(element, row));
                }
            }
            positions.push(p);
        }
        Ok(positions)
    }

    /// Binary vertices without lists: every row is equally long.
    fn rows_of_vertices(&mut self, element: &Element, place: [usize; 3]) -> Result<Vec<Point>, CohortError> {
        let start = |k: usize| element.properties[..k].iter().map(|p| p.kind.bytes()).sum::<usize>();
        let width = start(element.properties.len());
        let fields = place.map(|k| (start(k), element.properties[k].kind));
        let rest = &self.bytes[self.at..];
        let end = element.count.checked_mul(width).filter(|&end| end <= rest.len());
        let Some(end) = end else {
            return Err(self.cut_off(element, rest.len() / width));
        };
        self.at += end;
        let big = self.encoding == Encoding::BigEndian;
        Ok(rest[..end]
            .chunks_exact(width)
            .map(|row| fields.map(|(at, kind)| kind.decode(&row[at..at + kind.bytes()], big)))
            .collect())
    }

    fn faces(
        &mut self,
        element: &Element,
        triangle: &mut impl FnMut([u32; 3]),
        highest: &mut Option<(u32, usize)>,
    ) -> Result<(), CohortError> {
        let corners = element
            .properties
            .iter()
            .position(|p| p.list.is_some() && matches!(p.name.as_str(), "vertex_indices" | "vertex_index"))
            .ok_or_else(|| {
                CohortError::syntax(
                    self.file,
                    Place::Whole,
                    "the faces have no list `vertex_indices`",
                    "export the mesh as faces, not as triangle strips",
                )
            })?;
        for row in 0..element.count {
            for (i, property) in element.properties.iter().enumerate() {
                let done = match property.list {
                    Some(length) if i == corners => self.face(length, property.kind, triangle, highest)?,
                    _ => self.skip(property)?,
                };
                if done.is_none() {
                    return Err(self.cut_off(element, row));
                }
            }
        }
        Ok(())
    }

    /// One face; `None` where the file ends.
    fn face(
        &mut self,
        length: Kind,
        kind: Kind,
        triangle: &mut impl FnMut([u32; 3]),
        highest: &mut Option<(u32, usize)>,
    ) -> Result<Option<()>, CohortError> {
        let at = self.at;
        let Some(n) = self.length(length)? else { return Ok(None) };
        let mut fan = Fan::default();
        for _ in 0..n {
            let at = self.at;
            let Some(index) = self.number(kind)? else { return Ok(None) };
            let vertex = index as u32;
            if f64::from(vertex) != index {
                return Err(CohortError::syntax(
                    self.file,
                    self.place(at),
                    format!("a face names vertex {index}"),
                    EXPORT_AGAIN,
                ));
            }
            if highest.is_none_or(|(top, _)| vertex > top) {
                *highest = Some((vertex, at));
            }
            fan.corner(vertex, triangle);
        }
        if n < 3 {
            return Err(CohortError::syntax(
                self.file,
                self.place(at),
                format!("a face with {n} corners; it needs at least 3"),
                EXPORT_AGAIN,
            ));
        }
        Ok(Some(()))
    }
}
