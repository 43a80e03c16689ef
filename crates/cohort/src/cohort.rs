//! An open cohort: items, captures, and their positions read from disk as they are needed.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use formkin_geometry::{Point, ShapeSource, SourceError, Template};
use formkin_stats::quantile::median_of;

use crate::item::{Capture, Item};
use crate::items_csv;
use crate::npy::NpyFile;
use crate::params::CohortInfo;
use crate::{CohortError, load_template};

/// Version of the cohort format that is written and read.
pub(crate) const FORMAT_VERSION: u32 = 1;

/// All items of a study on disk. Positions are not loaded: [`Cohort::source`] reads blocks of them, from several threads at
/// once where wanted.
#[derive(Debug, Clone)]
pub struct Cohort {
    path: PathBuf,
    info: CohortInfo,
    template: Arc<Template>,
    items: Arc<Vec<Item>>,
    positions: Arc<Positions>,
}

impl Cohort {
    /// Opens a cohort folder and checks that its parts fit together.
    ///
    /// # Errors
    /// [`CohortError::NotACohort`] with what is missing or wrong; the errors of [`load_template`].
    pub fn open(path: &Path) -> Result<Self, CohortError> {
        let damaged = |reason: String| CohortError::NotACohort { path: path.to_owned(), reason };
        let description = path.join("cohort.json");
        if !description.is_file() {
            let advice = "there is no cohort.json in it; make a cohort with an import";
            return Err(damaged(if path.exists() { advice } else { "there is no such folder" }.to_owned()));
        }
        let text = fs::read_to_string(&description).map_err(CohortError::io(&description, "read"))?;
        let version: Option<u64> = serde_json::from_str::<serde_json::Value>(&text)
            .map_err(|e| damaged(format!("cohort.json: {e}")))?
            .get("format_version")
            .and_then(serde_json::Value::as_u64);
        if version != Some(u64::from(FORMAT_VERSION)) {
            let found = version.map_or("none".to_owned(), |v| v.to_string());
            return Err(damaged(format!(
                "its format version is {found}; {FORMAT_VERSION} is read; import it again"
            )));
        }
        let info: CohortInfo =
            serde_json::from_str(&text).map_err(|e| damaged(format!("cohort.json: {e}")))?;
        let template = load_template(&path.join("template.toml"))?;
        let topology = template.mesh.topology();
        if topology.hash() != info.template_hash {
            return Err(damaged("the triangles of template.ply are not those of the import".to_owned()));
        }
        let mut items = Vec::new();
        let mut places = Vec::new();
        let mut aside = Vec::new();
        for (item, stored) in items_csv::read(&path.join("items.csv"))? {
            match stored {
                Some(stored) => {
                    items.push(item);
                    places.push(stored);
                }
                None => aside.push(item),
            }
        }
        let positions = Positions::open(&path.join("positions"), topology.vertices(), &places)?;
        items.append(&mut aside);
        Ok(Self {
            path: path.to_owned(),
            info,
            template: Arc::new(template),
            items: Arc::new(items),
            positions: Arc::new(positions),
        })
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What the cohort is.
    #[must_use]
    pub fn info(&self) -> &CohortInfo {
        &self.info
    }

    /// The shared triangles and their names.
    #[must_use]
    pub fn template(&self) -> &Template {
        &self.template
    }

    /// All items: the accepted ones first, in the order of [`Cohort::source`], so that item i is shape i; then those that
    /// were set aside.
    #[must_use]
    pub fn items(&self) -> &[Item] {
        &self.items
    }

    /// The accepted items: item i is shape i of [`Cohort::source`].
    #[must_use]
    pub fn accepted(&self) -> &[Item] {
        &self.items[..self.positions.places.len()]
    }

    /// The items that were set aside.
    #[must_use]
    pub fn quarantined(&self) -> &[Item] {
        &self.items[self.positions.places.len()..]
    }

    /// The accepted still poses: indices into [`Cohort::items`] and shapes of [`Cohort::source`].
    #[must_use]
    pub fn stills(&self) -> Vec<usize> {
        (0..self.accepted().len()).filter(|&i| self.items[i].frame.is_none()).collect()
    }

    /// The sequences, each with its accepted frames in order of time.
    #[must_use]
    pub fn captures(&self) -> Vec<Capture> {
        let mut order: Vec<&str> = Vec::new();
        let mut frames: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (i, item) in self.accepted().iter().enumerate() {
            if item.frame.is_some() {
                let list = frames.entry(&item.capture).or_insert_with(|| {
                    order.push(&item.capture);
                    Vec::new()
                });
                list.push(i);
            }
        }
        order
            .into_iter()
            .map(|id| {
                let mut items = frames.remove(id).unwrap_or_default();
                items.sort_by_key(|&i| self.items[i].frame);
                let first = items.first().map(|&i| &self.items[i]);
                let times: Option<Vec<f64>> = items.iter().map(|&i| self.items[i].time_s).collect();
                Capture {
                    id: id.to_owned(),
                    participant: first.map(|i| i.participant.clone()).unwrap_or_default(),
                    session: first.map(|i| i.session.clone()).unwrap_or_default(),
                    fps: times.and_then(|t| median_step(&t)).map(|step| 1.0 / step),
                    items,
                }
            })
            .collect()
    }

    /// The number of each accepted item's participant: participants count from 0 in the order of their names.
    #[must_use]
    pub fn people(&self) -> Vec<usize> {
        let names: BTreeSet<&str> = self.accepted().iter().map(|i| i.participant.as_str()).collect();
        let number: BTreeMap<&str, usize> =
            names.into_iter().enumerate().map(|(n, name)| (name, n)).collect();
        self.accepted().iter().map(|i| number.get(i.participant.as_str()).copied().unwrap_or(0)).collect()
    }

    /// All accepted items as shapes.
    #[must_use]
    pub fn source(&self) -> &dyn ShapeSource {
        self.positions.as_ref()
    }

    /// Some accepted items as shapes, in the order given. An index out of range is an error when it is read.
    #[must_use]
    pub fn select(&self, items: Vec<usize>) -> CohortSubset {
        CohortSubset { positions: Arc::clone(&self.positions), items }
    }
}

/// The median of the positive steps between times, in seconds.
pub(crate) fn median_step(times: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).filter(|s| *s > 0.0).collect();
    median_of(&mut steps)
}

/// Some items of a cohort as shapes.
#[derive(Debug, Clone)]
pub struct CohortSubset {
    positions: Arc<Positions>,
    items: Vec<usize>,
}

impl CohortSubset {
    /// The items, in order: indices into [`Cohort::items`].
    #[must_use]
    pub fn items(&self) -> &[usize] {
        &self.items
    }
}

impl ShapeSource for CohortSubset {
    fn shapes(&self) -> usize {
        self.items.len()
    }

    fn vertices(&self) -> usize {
        self.positions.vertices
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        let wanted = out.len() / self.positions.vertices;
        match self.items.get(first..first + wanted) {
            Some(items) => self
                .positions
                .read(items, out)
                .map_err(|(i, reason)| SourceError { shape: first + i, reason }),
            None => Err(SourceError {
                shape: first,
                reason: format!("the selection has only {} shapes", self.items.len()),
            }),
        }
    }
}

/// The positions of the accepted items on disk.
#[derive(Debug)]
struct Positions {
    vertices: usize,
    files: Vec<NpyFile>,
    /// For each item its file and its row.
    places: Vec<(usize, usize)>,
}

impl Positions {
    fn open(folder: &Path, vertices: usize, places: &[items_csv::Stored]) -> Result<Self, CohortError> {
        let mut files: Vec<NpyFile> = Vec::new();
        let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
        let mut all = Vec::with_capacity(places.len());
        for place in places {
            let number = match numbers.get(place.file.as_str()) {
                Some(&n) => n,
                None => {
                    let path = folder.join(&place.file);
                    let file = NpyFile::open_positions(&path)?;
                    if file.shape()[1] != vertices {
                        let reason =
                            format!("{} vertices an item; the template has {vertices}", file.shape()[1]);
                        return Err(CohortError::NotACohort { path, reason });
                    }
                    numbers.insert(&place.file, files.len());
                    files.push(file);
                    files.len() - 1
                }
            };
            let items = files[number].shape()[0];
            if place.row >= items {
                let reason = format!("items.csv names row {}, but there are {items}", place.row);
                return Err(CohortError::NotACohort { path: folder.join(&place.file), reason });
            }
            all.push((number, place.row));
        }
        Ok(Self { vertices, files, places: all })
    }

    /// Reads items in any order; those that lie one after the other on disk are read at once. An error has the position in
    /// `items`.
    fn read(&self, items: &[usize], out: &mut [Point]) -> Result<(), (usize, String)> {
        let place = |i: usize| {
            let found = items.get(i).and_then(|&item| self.places.get(item)).copied();
            found.ok_or_else(|| (i, format!("there are only {} shapes", self.places.len())))
        };
        let mut start = 0;
        while start < items.len() {
            let (file, row) = place(start)?;
            let mut end = start + 1;
            while end < items.len() && place(end)? == (file, row + end - start) {
                end += 1;
            }
            self.files[file]
                .read_positions(row, &mut out[start * self.vertices..end * self.vertices])
                .map_err(|e| (start, e.to_string()))?;
            start = end;
        }
        Ok(())
    }
}

impl ShapeSource for Positions {
    fn shapes(&self) -> usize {
        self.places.len()
    }

    fn vertices(&self) -> usize {
        self.vertices
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        let items: Vec<usize> = (first..first + out.len() / self.vertices).collect();
        self.read(&items, out).map_err(|(i, reason)| SourceError { shape: first + i, reason })
    }
}
