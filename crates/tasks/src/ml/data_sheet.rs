//! What a data sheet of a data set for machine learning is made from.

use formkin_report::document::Fact;

/// A data sheet: what the set is, for whom, how it was parted, and what each file holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DataSheet {
    /// What it is, in a sentence or two.
    pub what: String,
    /// What it is meant for.
    pub intended: Vec<String>,
    /// What it is not, and what to mind.
    pub limits: Vec<String>,
    /// What to mind of the people in it.
    pub privacy: Vec<String>,
    /// What the export noticed.
    pub notes: Vec<String>,
    /// How people were parted, in words.
    pub split: String,
    /// The leak check and its result, in words.
    pub leak_check: String,
    /// The parts; frames of movements as lines of their own.
    pub parts: Vec<SheetPart>,
    /// What is left of each part by the number of modes kept, in the order of [`Self::split_names`].
    pub modes_kept: Vec<SheetModesKept>,
    /// People of each stratum in each part, in the order of [`Self::split_names`].
    pub strata: Option<SheetStrata>,
    /// Names of the parts.
    pub split_names: Vec<String>,
    /// The leading modes.
    pub modes: Vec<SheetMode>,
    /// How to decode, as a formula.
    pub formula: String,
    /// How exactly bodies come back, in words.
    pub round_trip: String,
    /// The files.
    pub files: Vec<SheetFile>,
    /// Means and SDs of the training rows: of columns beside the coefficients.
    pub scalers: Vec<SheetScaler>,
    /// Settings, seed, hashes.
    pub facts: Vec<Fact>,
}

/// A part, or the frames of one.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetPart {
    /// Its name.
    pub name: String,
    /// People in it.
    pub people: usize,
    /// Rows.
    pub rows: usize,
    /// What the modes leave: root mean square in mm.
    pub rms_mm: Option<f64>,
    /// Its 95 % interval over people.
    pub interval_mm: Option<(f64, f64)>,
}

/// How the table of errors by the number of modes kept is to be read.
pub(crate) const MODES_KEPT: &str = "What is left of the rows where only the first modes are kept, root mean square over the skin and the rows, mirrored copies included. Modes do not overlap: the square of what the first k leave is that of what all of them leave plus the \
                              squares of the coefficients beyond k.";

/// What is left where only the first modes are kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetModesKept {
    /// How many modes.
    pub modes: usize,
    /// Root mean square of each part in mm; none where it is empty.
    pub rms_mm: Vec<Option<f64>>,
}

/// People by stratum and part.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetStrata {
    /// The column.
    pub column: String,
    /// A value of it and the people in each part.
    pub rows: Vec<(String, Vec<usize>)>,
}

/// A mode and how its coefficient is spread in the parts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetMode {
    /// Counted from 1.
    pub mode: usize,
    /// Share of the variance of the training people.
    pub share: f64,
    /// SD of the training rows, in mm.
    pub sd_mm: f64,
    /// Parts with people enough.
    pub spreads: Vec<SheetSpread>,
}

/// How a coefficient is spread in a part, in SDs of the training rows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetSpread {
    /// The part.
    pub part: String,
    /// People in it.
    pub people: usize,
    /// Mean.
    pub mean: f64,
    /// SD.
    pub sd: f64,
    /// Shares of the rows in bins half an SD wide; the first is all under -2.5, the last all from there on upwards.
    pub shares: Vec<f64>,
}

/// A file of the set.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetFile {
    /// Its name.
    pub name: String,
    /// What is in it.
    pub what: String,
    /// Its size; none where it is written after the sheet.
    pub bytes: Option<u64>,
    /// Its SHA-256; empty likewise.
    pub sha256: String,
    /// Its arrays or columns.
    pub arrays: Vec<SheetArray>,
}

/// An array of a file, or a run of columns.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetArray {
    /// Its name.
    pub name: String,
    /// Its shape, such as `50 x 4000 x 3`.
    pub shape: String,
    /// What its numbers are stored as.
    pub stored: String,
    /// Unit; empty for pure numbers and words.
    pub unit: String,
    /// What it is.
    pub what: String,
}

/// Mean and SD of a column over the training rows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetScaler {
    /// The column.
    pub column: String,
    /// Mean.
    pub mean: f64,
    /// SD.
    pub sd: f64,
    /// Rows that have it.
    pub n: usize,
}
