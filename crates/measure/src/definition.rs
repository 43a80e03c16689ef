//! What a dimension is: the definitions, as their file states them and as the rest of the crate uses them.

use serde::{Deserialize, Serialize};

use crate::limit_type::LimitType;

/// A point of the body.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// A landmark of the template.
    Landmark(String),
    /// The centre of a joint of the template: the mean of its ring.
    Joint(String),
    /// The mean of several places.
    Middle(Vec<Place>),
    /// The vertex furthest in a direction, of a region or of the whole body.
    Furthest {
        /// Which way.
        direction: Direction,
        /// Where to look; empty for everywhere.
        region: Vec<String>,
    },
}

/// Directions of the standing body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// Against gravity.
    Up,
    /// With gravity.
    Down,
    /// Where the body faces.
    Front,
    /// Away from where it faces.
    Back,
    /// To its left.
    Left,
    /// To its right.
    Right,
}

/// At which level a plane cuts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Through a place, moved along the normal.
    At {
        /// The place.
        place: Place,
        /// How far along the normal (upward for horizontal planes), in mm.
        offset_mm: f64,
    },
    /// Between two places, at a fraction of the way from the first.
    Between {
        /// The two places.
        ends: [Place; 2],
        /// 0 at the first, 1 at the second.
        fraction: f64,
    },
    /// Where the girth is largest or least between two places.
    Search {
        /// The two places.
        ends: [Place; 2],
        /// What is looked for.
        which: Extreme,
        /// Distance of the levels tried first, in mm, at most 2; the best is then refined between its neighbours.
        step_mm: f64,
    },
}

/// What a search looks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Extreme {
    /// The largest value.
    Largest,
    /// The least value.
    Least,
}

/// A section of one part of the body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cut {
    /// At which level.
    pub level: Level,
    /// Two places whose line the plane is across; `None` for a horizontal plane, or one through three places.
    pub axis: Option<[Place; 2]>,
    /// Three places that the plane runs through, its normal upward; `None` for the planes above.
    #[serde(default)]
    pub plane: Option<Box<[Place; 3]>>,
    /// The piece of the section that lies mostly in these regions; empty for no such demand.
    pub region: Vec<String>,
    /// Regions taken away before the cut, such as the arms.
    pub without: Vec<String>,
    /// The piece that runs around this place.
    pub around: Option<Place>,
}

/// The space between two parallel planes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Slab {
    /// A place of each plane.
    pub ends: [Place; 2],
    /// Two places whose line the planes are across; `None` for horizontal planes.
    pub axis: Option<[Place; 2]>,
}

impl Slab {
    /// Every place it names.
    pub fn places(&self) -> impl Iterator<Item = &Place> {
        self.ends.iter().chain(self.axis.iter().flatten())
    }
}

/// Tape or contour.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// A taut tape: the convex hull of the section.
    #[default]
    Tape,
    /// The section itself.
    Contour,
}

/// What an extent is taken of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Extent {
    /// From place to place.
    Places([Place; 2]),
    /// All vertices of regions; empty for the whole body.
    Regions(Vec<String>),
    /// A section.
    Section(Cut),
}

/// How a dimension is taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Kind {
    /// Vertical distance above the floor, or above another place.
    Height {
        /// The place.
        at: Place,
        /// The place below; `None` for the floor, which is the lowest vertex.
        from: Option<Place>,
    },
    /// Straight distance.
    Distance {
        /// From place to place.
        between: [Place; 2],
    },
    /// Extent from side to side.
    Breadth {
        /// Of what.
        extent: Extent,
    },
    /// Extent from front to back.
    Depth {
        /// Of what.
        extent: Extent,
    },
    /// Length around a part of the body.
    Girth {
        /// The section.
        cut: Cut,
        /// Tape or contour.
        line: Line,
    },
    /// Length over the skin.
    Path {
        /// The places in order (landmarks and furthest vertices: they must be vertices of the surface).
        through: Vec<Place>,
        /// A named path of the template, instead of places.
        path: Option<String>,
        /// A tape that bridges hollows.
        bridged: bool,
    },
    /// Area of the skin.
    Area {
        /// Of these regions; empty for all of it.
        region: Vec<String>,
        /// Of what lies between two planes.
        #[serde(default)]
        slab: Option<Slab>,
    },
    /// Volume of the body, or of regions whose rims are closed.
    Volume {
        /// Of these regions; empty for all of it.
        region: Vec<String>,
        /// Of what lies between two planes.
        #[serde(default)]
        slab: Option<Slab>,
    },
    /// The angle at a place between the directions to two others.
    Angle {
        /// The corner.
        at: Place,
        /// The two others.
        between: [Place; 2],
    },
    /// Arithmetic of dimensions defined before.
    Derived {
        /// The formula.
        formula: String,
    },
}

impl Kind {
    /// The section it is taken of, where it is taken of one.
    #[must_use]
    pub fn cut(&self) -> Option<&Cut> {
        match self {
            Self::Girth { cut, .. } => Some(cut),
            Self::Breadth { extent: Extent::Section(cut) } | Self::Depth { extent: Extent::Section(cut) } => {
                Some(cut)
            }
            _ => None,
        }
    }
}

/// Where a definition comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standard {
    /// The standard, such as `ISO 8559-1`.
    pub standard: String,
    /// Its edition, such as `2017`.
    pub edition: Option<String>,
    /// The item in it.
    pub item: Option<String>,
}

/// One dimension.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Definition {
    /// Its name: small letters, digits and underscores. Left and right have names of their own.
    pub name: String,
    /// How it is taken.
    #[serde(flatten)]
    pub kind: Kind,
    /// The unit of its values; `None` for a pure number.
    pub unit: Option<String>,
    /// The standard it follows, where it follows one.
    pub standard: Option<Standard>,
    /// The type by which ISO 20685-1 limits its error, where its kind does not say.
    #[serde(default)]
    pub limit_type: Option<LimitType>,
    /// What it is, in words.
    pub definition: String,
    /// What else a reader should know.
    pub note: String,
}

impl Definition {
    /// The header of its column: name and unit.
    #[must_use]
    pub fn header(&self) -> String {
        formkin_table::unit::join(&self.name, self.unit.as_deref())
    }
}
