//! What a report is made from: results of the other crates, by reference, and plain facts. Every section is optional.

use formkin_cohort::Checks;
use formkin_geometry::Point;
use formkin_measure::{DimensionSummary, HandbookRow};
use formkin_motion::changes::DimensionCourse;
use formkin_motion::cycles::left_out::CyclesLeftOut;
use formkin_motion::dmd::Dynamics;
use formkin_motion::posture::sequence::{Explained, Posture};
use formkin_motion::skin_lines::SkinLines;
use formkin_motion::soft::tissue::Tissue;
use formkin_motion::spectrum::SpectrumPoint;
use formkin_motion::{Curve, Cycles, Motion, StrainMap};
use formkin_shape::Space;
use formkin_sizing::SizeSystem;
use formkin_table::Table;

use crate::{Fact, MovementsTogether, PointsPart, ShapePart};

/// All that a report can show. Sections that are absent are left out of the page, and so are their headings.
#[derive(Debug, Clone, Default)]
pub struct ReportInput<'a> {
    /// The heading.
    pub title: String,
    /// What the study is about, in a sentence or two; may be empty.
    pub description: String,
    /// Who and what was measured, and how.
    pub facts: Facts,
    /// What the checks found in the data.
    pub checks: Option<&'a Checks>,
    /// The shape space.
    pub space: Option<&'a Space>,
    /// What the shape space was asked beyond its modes.
    pub shape: ShapePart<'a>,
    /// The triangles of every shape, for the view of movements where there is no shape space.
    pub triangles: Option<&'a [[u32; 3]]>,
    /// Summaries of the body dimensions.
    pub dimensions: Option<DimensionsPart<'a>>,
    /// Movements, one a sequence.
    pub movements: Vec<Movement<'a>>,
    /// All movements together.
    pub together: MovementsTogether<'a>,
    /// Trajectories of points.
    pub points: PointsPart<'a>,
    /// The size system.
    pub sizing: Option<SizingPart<'a>>,
    /// What a reader must not conclude; those of the size system are added by the page.
    pub cautions: Vec<String>,
    /// The files that were written beside the report.
    pub outputs: Vec<Output>,
    /// Where everything came from: names and values such as hashes and versions.
    pub provenance: Vec<Fact>,
}

/// Who and what was measured, and how.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    /// Number of people.
    pub people: usize,
    /// Number of accepted items: still poses and frames.
    pub items: usize,
    /// Number of still poses.
    pub stills: usize,
    /// Number of sequences.
    pub sequences: usize,
    /// Number of frames over all sequences. Frames are never people.
    pub frames: usize,
    /// Number of items that were set aside at import.
    pub quarantined: usize,
    /// Vertices of every shape.
    pub vertices: usize,
    /// Triangles of every shape.
    pub triangles: usize,
    /// Whether the template's surface is closed, where it is known.
    pub watertight: Option<bool>,
    /// The seed of everything random.
    pub seed: Option<u64>,
    /// Program and version.
    pub program: String,
    /// When the report was made, as text.
    pub made: String,
    /// Every setting, those left at their default included.
    pub settings: Vec<Setting>,
}

/// One setting as it was used.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Setting {
    /// The stage it belongs to, such as `align`.
    pub stage: String,
    /// Its name.
    pub name: String,
    /// Its value, with its unit.
    pub value: String,
    /// Whether the study left it at its default.
    pub default: bool,
}

/// Summaries of the body dimensions.
#[derive(Debug, Clone)]
pub struct DimensionsPart<'a> {
    /// One for each group and dimension.
    pub summaries: &'a [DimensionSummary],
    /// The names of those that nobody took: numbers of the table of people, such as age.
    pub given: Vec<String>,
    /// The column the groups come from; none where all people are one group.
    pub by: Option<String>,
    /// Number of people they were taken from.
    pub people: usize,
    /// Values that are missing or that a reader must look at.
    pub remarks: Vec<DimensionRemark>,
    /// Proportions of the people beside those of handbooks.
    pub handbook: &'a [HandbookRow],
    /// How some of them are taken.
    pub pictures: Vec<DimensionPicture>,
}

/// How a dimension is taken: in words, and drawn on the template.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DimensionPicture {
    /// Its name.
    pub name: String,
    /// What it is and how it is taken.
    pub words: String,
    /// The drawing, as an SVG.
    pub svg: String,
}

/// A dimension of one item that is missing or that a reader must look at.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DimensionRemark {
    /// The item.
    pub item: String,
    /// The dimension.
    pub dimension: String,
    /// What is to be known, or why there is no value.
    pub remark: String,
    /// Whether there is no value.
    pub missing: bool,
}

/// One movement of one person.
#[derive(Debug, Clone)]
pub struct Movement<'a> {
    /// Its name, such as `reach`.
    pub name: String,
    /// The person, as a pseudonym.
    pub participant: String,
    /// Modes and their course in time.
    pub motion: &'a Motion,
    /// Dimensions through time.
    pub curves: &'a [Curve],
    /// Cycles, soft tissue and strain, where they were asked for.
    pub deep: Option<MovementDeep<'a>>,
}

/// What lies deeper in a movement.
#[derive(Debug, Clone, Default)]
pub struct MovementDeep<'a> {
    /// Its cycles.
    pub cycles: Option<&'a Cycles>,
    /// The error of its modes with cycles left out.
    pub cycles_left_out: Option<&'a CyclesLeftOut>,
    /// Dimensions, smoothed and over the cycles.
    pub courses: &'a [DimensionCourse],
    /// The region that the body frame is fixed to.
    pub frame: Option<String>,
    /// Soft tissue.
    pub tissue: &'a [Tissue],
    /// Strain of the skin.
    pub strain: Option<&'a StrainMap>,
    /// The strain at the vertices (stretch less 1) of some frames: the frame, from 0, and one value a vertex.
    pub strain_frames: Vec<(usize, Vec<f64>)>,
    /// Lines of non-extension on the skin.
    pub skin_lines: Vec<SkinLines>,
    /// The spectra of the first modes; none for a mode without.
    pub spectra: Vec<Option<Vec<SpectrumPoint>>>,
    /// Dynamic modes.
    pub dynamics: Option<&'a Dynamics>,
    /// Poses, what they explain of each mode, and the body at rest in words.
    pub posture: Option<(&'a Posture, &'a [Explained], &'a str)>,
    /// The cutoffs that residual analyses found: signal, Hz, noise.
    pub residuals: Vec<(String, f64, f64)>,
    /// What could not be done, and why.
    pub remarks: Vec<String>,
}

/// A size system and the table that it was made from.
#[derive(Debug, Clone)]
pub struct SizingPart<'a> {
    /// The sizes and their coverage.
    pub system: &'a SizeSystem,
    /// The people's dimensions; its identifiers are those of the assignments.
    pub table: &'a Table,
    /// An existing chart, tried on the same people.
    pub existing: Option<&'a SizeSystem>,
    /// The mannequins of the sizes, where bodies are known.
    pub mannequins: Vec<SizeMannequin<'a>>,
    /// The triangles of the mannequins.
    pub triangles: &'a [[u32; 3]],
    /// Why sizes have no mannequin, and what else a reader must know of them.
    pub mannequin_notes: &'a [String],
}

/// The mannequin of a size: the mean body of people of its mid-point.
#[derive(Debug, Clone)]
pub struct SizeMannequin<'a> {
    /// The size.
    pub size: String,
    /// Vertices in mm, z up, the lowest at 0.
    pub positions: &'a [Point],
    /// Dimensions that were given: name, unit, target and what the mesh has.
    pub given: Vec<(String, Option<String>, f64, Option<f64>)>,
    /// Largest distance of a given length from its target on the mesh, in mm.
    pub largest_miss_mm: Option<f64>,
    /// The other dimensions: name, unit, what such people have on average and what the mesh has.
    pub others: Vec<(String, Option<String>, f64, Option<f64>)>,
    /// Whether the mid-point lies further out than 99 % of people.
    pub outside: bool,
}

/// A file beside the report.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Output {
    /// Its path relative to the report.
    pub path: String,
    /// What is in it.
    pub what: String,
    /// Its size.
    pub bytes: Option<u64>,
}
