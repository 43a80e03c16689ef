//! Files of trajectories as they are read.

use std::path::Path;

use formkin_motion::cycles::given::GivenEvent;
use formkin_motion::points::{PointTracks, stated_rate};

use super::settings::PointsSources;
use crate::TaskError;
use crate::signals::{Pair, read_events};

/// A file of trajectories as read.
#[derive(Debug, Clone)]
pub struct PointFile {
    /// The capture: the name of the file without its ending.
    pub capture: String,
    /// Who moves: the capture's name up to the first `_`.
    pub participant: String,
    /// The points as they are in the file, in mm.
    pub tracks: PointTracks,
    /// The rate that the file states.
    pub stated_hz: Option<f64>,
    /// Whether y is the vertical where nothing else tells, as is common in TRC files.
    pub trc: bool,
}

/// Reads a TRC or CSV file of trajectories, whichever it is by its content.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with it, with the file.
pub fn read_points(path: &Path) -> Result<PointFile, TaskError> {
    let bytes = std::fs::read(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    let text = String::from_utf8_lossy(&bytes);
    let trc = text.trim_start_matches('\u{feff}').starts_with("PathFileType")
        || path.extension().is_some_and(|e| e.eq_ignore_ascii_case("trc"));
    let read = if trc { PointTracks::from_trc(&text) } else { PointTracks::from_csv(&text) };
    let tracks = read.map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })?;
    let capture = path.file_stem().map_or_else(|| "points".to_owned(), |s| s.to_string_lossy().into_owned());
    let participant = capture.split('_').next().filter(|p| !p.is_empty()).unwrap_or(&capture).to_owned();
    Ok(PointFile { stated_hz: stated_rate(&text).filter(|_| trc), capture, participant, tracks, trc })
}

/// Records of points.
#[derive(Debug)]
pub struct PointsInputs {
    /// The files, those with the garment last.
    pub files: Vec<PointFile>,
    /// Pairs of files that the command named.
    pub pairs: Vec<Pair>,
    /// Given events.
    pub events: Option<Vec<GivenEvent>>,
}

impl PointsInputs {
    /// Reads the files.
    ///
    /// # Errors
    /// Those of [`read_points`]; two files of one name.
    pub(super) fn open(sources: &PointsSources) -> Result<Self, TaskError> {
        let n = sources.files.len();
        let mut files: Vec<PointFile> = Vec::new();
        for (i, path) in sources.files.iter().chain(&sources.against).enumerate() {
            let mut file = read_points(path)?;
            if let Some(person) = sources.person.get(i % n) {
                file.participant.clone_from(person);
            }
            if files.iter().any(|f| f.capture == file.capture) {
                return Err(TaskError::Nothing {
                    what: format!("{}: another file is called `{}` too", path.display(), file.capture),
                    advice: "files are known by their names: rename one".to_owned(),
                });
            }
            files.push(file);
        }
        let pairs = (0..sources.against.len())
            .map(|i| Pair { reference: files[i].capture.clone(), garment: files[n + i].capture.clone() })
            .collect();
        let events = sources.events.as_deref().map(read_events).transpose()?;
        Ok(Self { files, pairs, events })
    }
}
