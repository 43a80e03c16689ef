//! Views: bodies, points and people that the reader can move, with all that is drawn.
//!
//! Lengths are in mm, z up, bodies looking towards -y; times are in seconds. How much of a view a page can carry (how many modes, which
//! bodies) is for the rendering to decide: a view holds what there is, the most important first.

use std::sync::Arc;

use formkin_geometry::Point;

/// Most modes that any rendering shows of a body: a view needs to hold no more.
pub const MODES: usize = 6;

/// Triangles of a body, shared by the views that are on the same.
pub type Triangles = Arc<[[u32; 3]]>;

/// Something that the reader can move.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum View {
    /// A mean body, moved along modes by sliders, or played.
    Deforming(Deforming),
    /// A body painted with a result.
    Painted(Painted),
    /// Points played back.
    Points(PlayedPoints),
    /// A map of people, coloured by a column that the reader picks.
    People(PeopleMap),
}

/// A mean body and its modes.
#[derive(Debug, Clone, Default)]
pub struct Deforming {
    /// Unique in the document; charts whose cursor runs along name it.
    pub id: String,
    /// What it shows, in a sentence.
    pub label: String,
    /// The triangles.
    pub triangles: Triangles,
    /// Its vertices, in mm.
    pub mean: Vec<Point>,
    /// Modes, the strongest first: one direction a vertex. A view shows the first few.
    pub modes: Vec<Vec<Point>>,
    /// Variance along each mode, in mm².
    pub variances_mm2: Vec<f64>,
    /// The whole variance, in mm², of which the modes have shares.
    pub total_variance_mm2: f64,
    /// What a reader must know of each mode; empty texts for nothing, and none where there are fewer.
    pub marks: Vec<String>,
    /// What is said under the view: the first text where one mode is shown, the second where two are, and so on; the last beyond.
    pub hints: Vec<String>,
    /// The course of a movement; none for a body that is moved by sliders.
    pub course: Option<Course>,
}

/// The course of a movement through time.
#[derive(Debug, Clone, Default)]
pub struct Course {
    /// Times in s, one a frame.
    pub times_s: Vec<f64>,
    /// Coefficients in mm: one row a frame, one number a mode.
    pub coefficients_mm: Vec<Vec<f64>>,
    /// How long it is, in words.
    pub span: String,
    /// Lines drawn on the skin, those to be drawn first at the front.
    pub lines: Vec<SkinLine>,
    /// Strain (stretch less 1) at the vertices of some frames: the frame, from 0 and ascending, and one value a vertex.
    pub strain: Vec<(usize, Vec<f64>)>,
}

/// A pair of lines on a triangle of the skin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkinLine {
    /// The triangle.
    pub triangle: usize,
    /// Two directions of 1 mm, in the two edges that leave the triangle's first vertex.
    pub directions: [[f64; 2]; 2],
}

/// A body painted with a signed result.
#[derive(Debug, Clone, Default)]
pub struct Painted {
    /// Unique in the document.
    pub id: String,
    /// What it shows, in a sentence.
    pub label: String,
    /// The triangles.
    pub triangles: Triangles,
    /// Its vertices, in mm.
    pub mean: Vec<Point>,
    /// The result at every vertex, in mm; 0 where there is no finding.
    pub values: Vec<f64>,
    /// What sliders move it by: a name, and a displacement in mm at every vertex for 1.
    pub morphs: Vec<(String, Vec<Point>)>,
    /// What the sliders are for.
    pub legend: String,
    /// What a slider counts in.
    pub unit: String,
    /// The lower end of the sliders.
    pub low: f64,
    /// The upper end of the sliders.
    pub high: f64,
    /// What the colours mean.
    pub colour: String,
    /// What is said under the view.
    pub hint: String,
    /// What is said in its place where there is no room for it; may be empty.
    pub instead: String,
}

/// Points played back.
#[derive(Debug, Clone, Default)]
pub struct PlayedPoints {
    /// Unique in the document; charts whose cursor runs along name it.
    pub id: String,
    /// What it shows, in a sentence.
    pub label: String,
    /// The points' names.
    pub names: Vec<String>,
    /// Pairs of points that are joined.
    pub links: Vec<[usize; 2]>,
    /// Times in s, one a frame.
    pub times_s: Vec<f64>,
    /// Places in mm: one row a frame, one place a point, none where it was not seen.
    pub positions_mm: Vec<Vec<Option<Point>>>,
    /// How long it is, in words.
    pub span: String,
    /// What is said under the view.
    pub hint: String,
}

/// A map of people.
#[derive(Debug, Clone, Default)]
pub struct PeopleMap {
    /// Unique in the document.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// The same in a sentence, for those who do not see it.
    pub description: String,
    /// What lies along the map, with its unit.
    pub x: String,
    /// What lies up the map, with its unit.
    pub y: String,
    /// One place a person.
    pub places: Vec<[f64; 2]>,
    /// Who they are, as pseudonyms.
    pub names: Vec<String>,
    /// What the map can be coloured by.
    pub columns: Vec<Colouring>,
    /// Whether both axes have the same scale: distances mean something.
    pub even: bool,
    /// Whether the numbers of the axes are shown.
    pub numbers: bool,
}

/// A column that a map can be coloured by: one value a person.
#[derive(Debug, Clone)]
pub enum Colouring {
    /// Groups.
    Words {
        /// The column, as it is shown.
        name: String,
        /// A value a person.
        values: Vec<Option<String>>,
    },
    /// Numbers.
    Numbers {
        /// The column, as it is shown, with its unit.
        name: String,
        /// A value a person.
        values: Vec<Option<f64>>,
    },
}
