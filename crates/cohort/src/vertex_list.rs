//! Lists of vertices as templates write them: `"100-250, 300"`, `[100, 101]`, or a file of numbers.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::npy::NpyFile;

/// A list of vertices.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(
    untagged,
    expecting = "it must be ranges of vertices such as \"100-250, 300\", a list of whole numbers, or { file = \"NAME\" }"
)]
pub(crate) enum VertexList {
    /// Ranges, both ends included, and single vertices; or the name of a `.csv`, `.txt` or `.npy` file.
    Text(String),
    /// One by one.
    Numbers(Vec<u32>),
    /// A file by name.
    File {
        /// Beside the template.
        file: String,
    },
}

impl VertexList {
    /// The shortest way to write these vertices in this order.
    pub(crate) fn compact(vertices: &[u32]) -> Self {
        let mut text = String::new();
        let mut i = 0;
        while i < vertices.len() {
            let mut j = i;
            while j + 1 < vertices.len() && vertices[j].checked_add(1) == Some(vertices[j + 1]) {
                j += 1;
            }
            let comma = if text.is_empty() { "" } else { ", " };
            let _ = if j > i {
                write!(text, "{comma}{}-{}", vertices[i], vertices[j])
            } else {
                write!(text, "{comma}{}", vertices[i])
            };
            i = j + 1;
        }
        Self::Text(text)
    }

    /// The vertices, in order; an error is in words.
    pub(crate) fn resolve(&self, folder: &Path) -> Result<Vec<u32>, String> {
        match self {
            Self::Numbers(all) => Ok(all.clone()),
            Self::File { file } => read_numbers(&folder.join(file)),
            Self::Text(text) => {
                let lower = text.to_ascii_lowercase();
                if [".csv", ".txt", ".npy"].iter().any(|e| lower.ends_with(e)) {
                    read_numbers(&folder.join(text))
                } else {
                    ranges(text)
                }
            }
        }
    }
}

pub(crate) fn ranges(text: &str) -> Result<Vec<u32>, String> {
    // the same limit as for vertices of a mesh that a laptop can hold: a typing error must not fill the memory
    const MOST: u32 = 100_000_000;
    let mut all = Vec::new();
    for part in text.split(',').map(str::trim).filter(|p| !p.is_empty()) {
        let number = |s: &str| {
            s.trim()
                .parse::<u32>()
                .map_err(|_| format!("`{part}` is neither a vertex nor a range such as 100-250"))
        };
        match part.split_once('-') {
            None => all.push(number(part)?),
            Some((first, last)) => {
                let (first, last) = (number(first)?, number(last)?);
                if last < first || last > MOST {
                    return Err(format!("the range `{part}` must run from a lower to a higher vertex"));
                }
                all.extend(first..=last);
            }
        }
    }
    Ok(all)
}

/// All whole numbers of a text file, separated by commas, semicolons or blanks, after an optional header line; or of an NPY
/// file.
pub(crate) fn read_numbers(path: &Path) -> Result<Vec<u32>, String> {
    let name = path.display();
    if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("npy")) {
        let numbers = NpyFile::open(path).and_then(|f| f.read_all()).map_err(|e| e.to_string())?;
        return numbers
            .into_iter()
            .map(|x| {
                let v = x as u32;
                if f64::from(v) == x { Ok(v) } else { Err(format!("{name} holds {x}, which is no vertex")) }
            })
            .collect();
    }
    let text = fs::read_to_string(path).map_err(|e| format!("{name} cannot be read: {e}"))?;
    let mut all = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or("");
        let parts: Vec<&str> =
            line.split([',', ';', ' ', '\t']).map(str::trim).filter(|p| !p.is_empty()).collect();
        let numbers: Result<Vec<u32>, _> = parts.iter().map(|p| p.parse()).collect();
        match numbers {
            Ok(numbers) => all.extend(numbers),
            Err(_) if i == 0 => {}
            Err(_) => return Err(format!("{name}, line {}: `{line}` is not a list of vertices", i + 1)),
        }
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_come_back_in_their_order() {
        for all in [vec![], vec![7], vec![1, 2, 3, 9, 11, 12], vec![5, 4, 3, 4]] {
            let list = VertexList::compact(&all);
            assert_eq!(list.resolve(Path::new("")).unwrap(), all);
        }
        assert_eq!(VertexList::compact(&[1, 2, 3, 9]), VertexList::Text("1-3, 9".into()));
        for bad in ["9-3", "a", "1-", "1-2-3", "0-4294967295"] {
            assert!(ranges(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn files_of_numbers() {
        let folder = tempfile::tempdir().unwrap();
        let list = VertexList::Text("ring.csv".into());
        assert!(list.resolve(folder.path()).unwrap_err().contains("ring.csv"));
        fs::write(folder.path().join("ring.csv"), "vertex\n3\n4, 5\n# a note\n").unwrap();
        assert_eq!(list.resolve(folder.path()).unwrap(), [3, 4, 5]);
        fs::write(folder.path().join("ring.csv"), "3\nx\n").unwrap();
        assert!(list.resolve(folder.path()).unwrap_err().contains("line 2"));
    }
}
