//! NPY files: arrays of numbers with a small header, the format of numpy (version 1.0 to 3.0 of its specification).
//!
//! Movements and cohorts hold `[items, vertices, 3]`; templates hold skin weights `[vertices, joints]` and mirror lists
//! `[vertices]`.

use std::fs::File;
use std::io::{BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use formkin_geometry::Point;

use crate::CohortError;
use crate::error::Place;
use crate::npy_header::{self, Number};
use crate::write::{refuse_existing, write_whole};

/// The header of an NPY file whose data is as long as it says. The file is opened anew for every read, so that a cohort of
/// many files does not run out of file handles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NpyFile {
    path: PathBuf,
    number: Number,
    shape: Vec<usize>,
    offset: u64,
}

impl NpyFile {
    /// Reads the header and compares the length of the file with it.
    ///
    /// # Errors
    /// [`CohortError::Io`]; [`CohortError::Syntax`] where it is no NPY file or one of another number type, byte order or
    /// array order; [`CohortError::Truncated`].
    pub fn open(path: &Path) -> Result<Self, CohortError> {
        let mut file = File::open(path).map_err(CohortError::io(path, "read"))?;
        let length = file.metadata().map_err(CohortError::io(path, "read"))?.len();
        let mut head = Vec::new();
        (&mut file).take(1 << 16).read_to_end(&mut head).map_err(CohortError::io(path, "read"))?;
        let npy_header::Header { number, shape, offset } =
            npy_header::parse(&head).map_err(|(byte, problem)| {
                CohortError::syntax(
                    path,
                    Place::Byte(byte),
                    problem,
                    "save it with numpy.save as a C-ordered little-endian array of numbers",
                )
            })?;
        let count = shape.iter().try_fold(number.bytes(), |n, &s| n.checked_mul(s));
        let there = length.saturating_sub(offset as u64);
        match count {
            Some(count) if count as u64 <= there => {}
            _ => {
                return Err(CohortError::Truncated {
                    file: path.to_owned(),
                    at: Place::Byte(length as usize),
                    what: "bytes of numbers",
                    expected: count.unwrap_or(usize::MAX),
                    found: there as usize,
                });
            }
        }
        Ok(Self { path: path.to_owned(), number, shape, offset: offset as u64 })
    }

    /// Opens a file of positions, `[items, vertices, 3]`.
    ///
    /// # Errors
    /// As [`NpyFile::open`], and [`CohortError::Syntax`] where the shape is another or the numbers are integers.
    pub fn open_positions(path: &Path) -> Result<Self, CohortError> {
        let file = Self::open(path)?;
        let floats = matches!(file.number, Number::F32 | Number::F64);
        if file.shape.len() != 3 || file.shape[2] != 3 || !floats {
            return Err(CohortError::syntax(
                path,
                Place::Whole,
                format!("the array has the shape {:?} and the type {:?}", file.shape, file.number),
                "positions are an array [items, vertices, 3] of 32-bit or 64-bit floats",
            ));
        }
        Ok(file)
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The shape of the array.
    #[must_use]
    pub fn shape(&self) -> &[usize] {
        &self.shape
    }

    /// Reads `out.len()` numbers from the position `first` on, in C order.
    ///
    /// # Errors
    /// [`CohortError::Io`], also where the array is shorter.
    pub fn read_numbers(&self, first: usize, out: &mut [f64]) -> Result<(), CohortError> {
        const PIECE: usize = 1 << 16;
        let mut file = File::open(&self.path).map_err(CohortError::io(&self.path, "read"))?;
        let width = self.number.bytes();
        let start = self.offset + (first * width) as u64;
        file.seek(SeekFrom::Start(start)).map_err(CohortError::io(&self.path, "read"))?;
        let mut bytes = vec![0; width * PIECE.min(out.len())];
        for piece in out.chunks_mut(PIECE) {
            let bytes = &mut bytes[..width * piece.len()];
            file.read_exact(bytes).map_err(CohortError::io(&self.path, "read"))?;
            self.number.decode(bytes, piece);
        }
        Ok(())
    }

    /// All numbers, in C order.
    ///
    /// # Errors
    /// As [`NpyFile::read_numbers`].
    pub(crate) fn read_all(&self) -> Result<Vec<f64>, CohortError> {
        let mut out = vec![0.0; self.shape.iter().product()];
        self.read_numbers(0, &mut out)?;
        Ok(out)
    }

    /// Reads positions of a file `[items, vertices, 3]` from the item `first` on.
    ///
    /// # Errors
    /// As [`NpyFile::read_numbers`].
    pub fn read_positions(&self, first: usize, out: &mut [Point]) -> Result<(), CohortError> {
        let per_item: usize = self.shape.iter().skip(1).product();
        self.read_numbers(first * per_item, out.as_flattened_mut())
    }
}

/// Writes positions `[items, vertices, 3]` as 32-bit floats; `positions` holds the items one after the other.
///
/// # Errors
/// [`CohortError::Setting`] where the positions are no whole number of items; [`CohortError::AlreadyExists`];
/// [`CohortError::Io`].
pub fn write_npy(path: &Path, vertices: usize, positions: &[Point], force: bool) -> Result<(), CohortError> {
    if vertices == 0 || !positions.len().is_multiple_of(vertices) {
        return Err(CohortError::Setting {
            setting: "positions",
            reason: format!(
                "{} positions are no whole number of items of {vertices} vertices",
                positions.len()
            ),
        });
    }
    let shape = [positions.len() / vertices, vertices, 3];
    write_whole(path, &npy_bytes(&shape, positions.as_flattened().iter().map(|c| *c as f32)), force)
}

/// An array of 32-bit floats in C order as the bytes of an NPY file.
#[must_use]
pub fn npy_bytes(shape: &[usize], values: impl IntoIterator<Item = f32>) -> Vec<u8> {
    let mut bytes = npy_header::header("<f4", shape);
    bytes.reserve(4 * shape.iter().product::<usize>());
    bytes.extend(values.into_iter().flat_map(f32::to_le_bytes));
    bytes
}

/// Writes positions `[items, vertices, 3]` item by item, for movements that do not fit in memory. Until
/// [`NpyWriter::finish`] the file has the ending `.part`.
#[derive(Debug)]
pub struct NpyWriter {
    path: PathBuf,
    part: PathBuf,
    file: BufWriter<File>,
    vertices: usize,
    items: usize,
}

impl NpyWriter {
    /// Starts a file.
    ///
    /// # Errors
    /// [`CohortError::AlreadyExists`]; [`CohortError::Io`].
    pub fn create(path: &Path, vertices: usize, force: bool) -> Result<Self, CohortError> {
        refuse_existing(path, force)?;
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(".part");
        let part = path.with_file_name(name);
        let file = File::create(&part).map_err(CohortError::io(&part, "write"))?;
        let mut file = BufWriter::with_capacity(1 << 18, file);
        file.write_all(&npy_header::header("<f4", &[0, vertices, 3]))
            .map_err(CohortError::io(&part, "write"))?;
        Ok(Self { path: path.to_owned(), part, file, vertices, items: 0 })
    }

    /// Adds an item.
    ///
    /// # Errors
    /// [`CohortError::Setting`] where it has another number of vertices; [`CohortError::Io`].
    pub fn push(&mut self, shape: &[Point]) -> Result<(), CohortError> {
        if shape.len() != self.vertices {
            return Err(CohortError::Setting {
                setting: "shape",
                reason: format!("{} vertices in a file of {} vertices an item", shape.len(), self.vertices),
            });
        }
        for c in shape.as_flattened() {
            self.file.write_all(&(*c as f32).to_le_bytes()).map_err(CohortError::io(&self.part, "write"))?;
        }
        self.items += 1;
        Ok(())
    }

    /// Writes the number of items into the header, flushes to the disk and gives the file its name.
    ///
    /// # Errors
    /// [`CohortError::Io`].
    pub fn finish(self) -> Result<(), CohortError> {
        let Self { path, part, file, vertices, items } = self;
        let header = npy_header::header("<f4", &[items, vertices, 3]);
        file.into_inner()
            .map_err(std::io::IntoInnerError::into_error)
            .and_then(|mut file| {
                file.seek(SeekFrom::Start(0))?;
                file.write_all(&header)?;
                file.sync_all()
            })
            .and_then(|()| std::fs::rename(&part, &path))
            .map_err(CohortError::io(&path, "write"))?;
        crate::write::sync_folder(&path);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shapes(items: usize, vertices: usize) -> Vec<Point> {
        (0..items * vertices).map(|i| [i as f64, -0.5 * i as f64, 1700.25]).collect()
    }

    #[test]
    fn positions_come_back_from_both_writers() {
        let folder = tempfile::tempdir().unwrap();
        let (one, two) = (folder.path().join("one.npy"), folder.path().join("two.npy"));
        let all = shapes(3, 5);
        write_npy(&one, 5, &all, false).unwrap();
        let mut writer = NpyWriter::create(&two, 5, false).unwrap();
        for shape in all.chunks(5) {
            writer.push(shape).unwrap();
        }
        assert!(writer.push(&all[..4]).is_err());
        assert!(!two.exists());
        writer.finish().unwrap();
        assert_eq!(std::fs::read(&one).unwrap(), std::fs::read(&two).unwrap());
        let file = NpyFile::open_positions(&two).unwrap();
        assert_eq!(file.shape(), [3, 5, 3]);
        let mut out = vec![[0.0; 3]; 10];
        file.read_positions(1, &mut out).unwrap();
        assert_eq!(out, all[5..]);
        assert!(file.read_positions(2, &mut out).is_err());
    }

    #[test]
    fn cut_and_foreign_files_are_errors() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.npy");
        write_npy(&path, 5, &shapes(3, 5), false).unwrap();
        let bytes = std::fs::read(&path).unwrap();
        for cut in 0..bytes.len() {
            std::fs::write(&path, &bytes[..cut]).unwrap();
            assert!(NpyFile::open(&path).is_err(), "{cut}");
        }
        std::fs::write(&path, &bytes[..bytes.len() - 1]).unwrap();
        assert!(matches!(
            NpyFile::open(&path),
            Err(CohortError::Truncated { expected: 180, found: 179, .. })
        ));
        let mut flat = npy_header::header("<f4", &[45]);
        flat.extend_from_slice(&bytes[128..]);
        std::fs::write(&path, flat).unwrap();
        assert!(NpyFile::open(&path).is_ok());
        assert!(NpyFile::open_positions(&path).unwrap_err().to_string().contains("[45]"));
    }
}
