//! OBJ files. Vertices (`v`) and faces (`f`) are read; every other statement is passed over. The usual readers renumber
//! vertices to make them agree with normals and texture coordinates; this one never does.

use std::borrow::Cow;
use std::path::Path;

use formkin_geometry::Point;

use crate::CohortError;
use crate::error::Place;
use crate::number::{float, integer, words};
use crate::polygon::Fan;

const EXPORT_AGAIN: &str = "export the file again or mend this line";

/// Reads the positions, and gives every triangle to `triangle`.
pub(crate) fn read(
    file: &Path,
    bytes: &[u8],
    triangle: &mut impl FnMut([u32; 3]),
) -> Result<Vec<Point>, CohortError> {
    let mut positions: Vec<Point> = Vec::with_capacity(bytes.len() / 64);
    // the highest vertex named so far (from 1) and its line: vertices may come after the faces that name them
    let mut highest = (0i64, 0usize);
    let mut lines = Lines { rest: bytes, number: 0 };
    while let Some((number, line)) = lines.next() {
        let line = line.trim_ascii_start();
        match line {
            [b'v', b' ' | b'\t', rest @ ..] => positions.push(position(file, number, rest)?),
            [b'f', b' ' | b'\t', rest @ ..] => {
                let top = face(file, number, rest, positions.len(), triangle)?;
                if top > highest.0 {
                    highest = (top, number);
                }
            }
            [b'v'] => positions.push(position(file, number, &[])?),
            [b'f'] => {
                face(file, number, &[], positions.len(), triangle)?;
            }
            _ => {}
        }
    }
    if highest.0 > positions.len() as i64 {
        return Err(CohortError::VertexOutOfRange {
            file: file.to_owned(),
            at: Place::Line(highest.1),
            index: highest.0,
            vertices: positions.len(),
        });
    }
    Ok(positions)
}

fn position(file: &Path, number: usize, rest: &[u8]) -> Result<Point, CohortError> {
    let mut p = [0.0; 3];
    let mut words = words(rest).take_while(|w| w[0] != b'#');
    for (k, c) in p.iter_mut().enumerate() {
        let Some(word) = words.next() else {
            return Err(CohortError::syntax(
                file,
                Place::Line(number),
                format!("a vertex with {k} coordinates instead of 3"),
                EXPORT_AGAIN,
            ));
        };
        *c = float(word).ok_or_else(|| not_a_number(file, number, word))?;
    }
    Ok(p)
}

/// Gives the triangles of one face away; the result is the highest vertex it names, from 1.
fn face(
    file: &Path,
    number: usize,
    rest: &[u8],
    vertices: usize,
    triangle: &mut impl FnMut([u32; 3]),
) -> Result<i64, CohortError> {
    let mut fan = Fan::default();
    let mut highest = 0;
    for word in words(rest).take_while(|w| w[0] != b'#') {
        let end = word.iter().position(|&c| c == b'/').unwrap_or(word.len());
        let index = integer(&word[..end]).ok_or_else(|| not_a_number(file, number, word))?;
        // from 1; negative ones count back from the vertex read last
        let absolute = if index < 0 { vertices as i64 + 1 + index } else { index };
        let vertex = u32::try_from(absolute - 1).map_err(|_| CohortError::VertexOutOfRange {
            file: file.to_owned(),
            at: Place::Line(number),
            index,
            vertices,
        })?;
        highest = highest.max(absolute);
        fan.corner(vertex, triangle);
    }
    if fan.corners() < 3 {
        return Err(CohortError::syntax(
            file,
            Place::Line(number),
            format!("a face with {} corners; it needs at least 3", fan.corners()),
            EXPORT_AGAIN,
        ));
    }
    Ok(highest)
}

fn not_a_number(file: &Path, number: usize, word: &[u8]) -> CohortError {
    let word: String = String::from_utf8_lossy(word).chars().take(24).collect();
    CohortError::syntax(file, Place::Line(number), format!("`{word}` is not a number"), EXPORT_AGAIN)
}

/// Lines with their numbers, from 1; a backslash at the end joins a line with the next.
struct Lines<'a> {
    rest: &'a [u8],
    number: usize,
}

impl<'a> Lines<'a> {
    fn next(&mut self) -> Option<(usize, Cow<'a, [u8]>)> {
        let line = self.physical()?;
        let number = self.number;
        let Some((b'\\', start)) = line.split_last() else {
            return Some((number, Cow::Borrowed(line)));
        };
        let mut joined = start.to_vec();
        while let Some(line) = self.physical() {
            joined.push(b' ');
            match line.split_last() {
                Some((b'\\', start)) => joined.extend_from_slice(start),
                _ => {
                    joined.extend_from_slice(line);
                    break;
                }
            }
        }
        Some((number, Cow::Owned(joined)))
    }

    fn physical(&mut self) -> Option<&'a [u8]> {
        if self.rest.is_empty() {
            return None;
        }
        self.number += 1;
        let end = self.rest.iter().position(|&c| c == b'\n');
        let (line, rest) = match end {
            Some(end) => (&self.rest[..end], &self.rest[end + 1..]),
            None => (self.rest, [].as_slice()),
        };
        self.rest = rest;
        Some(line.trim_ascii_end())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::read::{Format, RawMesh, parse_mesh};

    fn parse(text: &str) -> Result<RawMesh, CohortError> {
        parse_mesh(Path::new("a.obj"), Format::Obj, text.as_bytes())
    }

    const PLAIN: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0.5\nf 1 2 3\nf 1 3 4\n";

    #[test]
    fn every_way_of_writing_the_same_mesh_gives_the_same_mesh() {
        let plain = parse(PLAIN).unwrap();
        assert_eq!(plain.triangles, [[0, 1, 2], [0, 2, 3]]);
        assert_eq!(plain.positions[3], [0.0, 1.0, 0.5]);
        for text in [
            PLAIN.replace('\n', "\r\n"),
            PLAIN.trim_end().to_owned(),
            PLAIN.replace("f 1 2 3\nf 1 3 4", "f 1 2 3 4"),
            PLAIN.replace("f 1 2 3\nf 1 3 4", "f -4 -3 -2 -1"),
            PLAIN.replace("f 1 2 3\nf 1 3 4", "f 1/1 2/9 3/2 4/7"),
            PLAIN.replace("f 1 2 3\nf 1 3 4", "vn 0 0 1\nf 1//1 2//1 3//1 4//1"),
            PLAIN.replace("f 1 2 3\nf 1 3 4", "vt 0 0\nf 1/1/1 2/1/1 3/1/1 4/1/1"),
            PLAIN.replace("f 1 2 3\nf 1 3 4", "f 1 2 \\\n  3 \\\r\n 4 # a quad"),
            PLAIN.replace(" 0.5", " 0.5 0.1 0.2 0.3"),
            PLAIN.replace(" 0.5", " 5e-1 1.0"),
            format!("# a comment v 9 9 9\nmtllib a.mtl\no body\n\n  {PLAIN}g end\ns off\nusemtl m\nl 1 2\n"),
            PLAIN.replace("v ", "v\t ").replace(" 1", "\t 1"),
        ] {
            assert_eq!(parse(&text).unwrap(), plain, "{text}");
        }
        // vertices after the faces that name them
        assert_eq!(parse("f 1 2 3\nf 1 3 4\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0.5").unwrap(), plain);
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        for (text, words) in [
            (PLAIN.replace("v 1 1 0", "v 1 1"), "line 3: a vertex with 2 coordinates"),
            (PLAIN.replace("v 1 1 0", "v 1 one 0"), "line 3: `one` is not a number"),
            (PLAIN.replace("f 1 3 4", "f 1 3 5"), "line 6: a face names vertex 5, but the file has 4"),
            (PLAIN.replace("f 1 3 4", "f 1 3 0"), "line 6: a face names vertex 0"),
            (PLAIN.replace("f 1 3 4", "f 1 3 -5"), "line 6: a face names vertex -5"),
            (PLAIN.replace("f 1 3 4", "f 1 3"), "line 6: a face with 2 corners"),
            ("v 0 0 0\nv 1 1".to_owned(), "line 2"),
            ("v 0 0 0\nv 1 1 1\n".to_owned(), "2 vertices and 0 triangles"),
            (String::new(), "0 vertices and 0 triangles"),
        ] {
            let error = parse(&text).unwrap_err().to_string();
            assert!(error.contains("a.obj") && error.contains(words), "{error}");
        }
    }

    #[test]
    fn what_is_not_finite_is_read_as_it_stands() {
        for nan in ["nan", "NaN", "-nan(ind)", "-1.#IND"] {
            let mesh = parse(&PLAIN.replace("v 1 1 0", &format!("v 1 {nan} 0"))).unwrap();
            assert!(mesh.positions[2][1].is_nan());
        }
        assert!(parse(&PLAIN.replace("v 1 1 0", "v 1 inf 0")).unwrap().positions[2][1].is_infinite());
    }

    proptest! {
        #[test]
        fn no_bytes_panic(at in 0usize..PLAIN.len(), to: u8, cut in 0usize..PLAIN.len(), noise in proptest::collection::vec(any::<u8>(), 0..80)) {
            let mut bytes = PLAIN.as_bytes().to_vec();
            bytes[at] = to;
            let mut ignore = |_| {};
            let _ = read(Path::new("a.obj"), &bytes, &mut ignore);
            let _ = read(Path::new("a.obj"), &bytes[..cut], &mut ignore);
            bytes.splice(cut..cut, noise.iter().copied());
            let _ = read(Path::new("a.obj"), &bytes, &mut ignore);
            let _ = read(Path::new("a.obj"), &noise, &mut ignore);
        }
    }
}
