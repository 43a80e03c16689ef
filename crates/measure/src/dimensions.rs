//! A set of definitions, checked against a template and taken on bodies.

use formkin_geometry::Template;
use formkin_table::near::advice;
use serde::{Deserialize, Serialize};

use crate::definition::{Cut, Definition, Extent, Kind, Level, Place, Slab};
use crate::{Frame, MeasureError, schema};

/// Definitions of dimensions, in order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Dimensions {
    /// How the body's left is found. Without it bodies stand along the axes: their left is +x and they face -y.
    pub frame: Option<Frame>,
    /// The definitions, in the order in which they are reported.
    pub definitions: Vec<Definition>,
}

impl Dimensions {
    /// Reads definitions from TOML; the schema is in `docs/formats.md`.
    ///
    /// # Errors
    /// [`MeasureError::Definitions`] or [`MeasureError::Definition`], which names the dimension, for anything unknown, missing, or at odds.
    pub fn from_toml(text: &str) -> Result<Self, MeasureError> {
        let (frame, definitions) = schema::read(text)?;
        Ok(Self { frame, definitions })
    }

    /// The definition of this name.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&Definition> {
        self.definitions.iter().find(|d| d.name == name)
    }

    /// Where the definition of this name stands.
    #[must_use]
    pub fn position(&self, name: &str) -> Option<usize> {
        self.definitions.iter().position(|d| d.name == name)
    }

    /// Checks that the template has every landmark, region, path and joint that the definitions name.
    ///
    /// # Errors
    /// [`MeasureError::UnknownName`] with names near it.
    pub fn check(&self, template: &Template) -> Result<(), MeasureError> {
        if let Some(frame) = &self.frame {
            let check = Check { template, dimension: "[frame]" };
            check.place(&frame.left)?;
            check.place(&frame.right)?;
        }
        for definition in &self.definitions {
            Check { template, dimension: &definition.name }.kind(&definition.kind)?;
        }
        Ok(())
    }
}

struct Check<'a> {
    template: &'a Template,
    dimension: &'a str,
}

impl Check<'_> {
    fn unknown<'n>(
        &self,
        part: &'static str,
        name: &str,
        names: impl Iterator<Item = &'n str>,
    ) -> MeasureError {
        MeasureError::UnknownName {
            dimension: self.dimension.to_owned(),
            part,
            name: name.to_owned(),
            advice: advice(name, names),
        }
    }

    fn place(&self, place: &Place) -> Result<(), MeasureError> {
        let t = self.template;
        match place {
            Place::Landmark(name) if !t.landmarks.contains_key(name) => {
                Err(self.unknown("landmark", name, t.landmarks.keys().map(String::as_str)))
            }
            Place::Joint(name) if !t.joints.iter().any(|j| &j.name == name) => {
                Err(self.unknown("joint", name, t.joints.iter().map(|j| j.name.as_str())))
            }
            Place::Middle(list) => self.places(list),
            Place::Furthest { region, .. } => self.regions(region),
            _ => Ok(()),
        }
    }

    fn places<'p>(&self, places: impl IntoIterator<Item = &'p Place>) -> Result<(), MeasureError> {
        places.into_iter().try_for_each(|p| self.place(p))
    }

    fn regions(&self, names: &[String]) -> Result<(), MeasureError> {
        match names.iter().find(|n| !self.template.regions.contains_key(*n)) {
            None => Ok(()),
            Some(name) => Err(self.unknown("region", name, self.template.regions.keys().map(String::as_str))),
        }
    }

    fn cut(&self, cut: &Cut) -> Result<(), MeasureError> {
        match &cut.level {
            Level::At { place, .. } => self.place(place)?,
            Level::Between { ends, .. } | Level::Search { ends, .. } => self.places(ends)?,
        }
        self.places(cut.axis.iter().flatten())?;
        self.places(cut.plane.as_deref().into_iter().flatten())?;
        self.places(&cut.around)?;
        self.regions(&cut.region)?;
        self.regions(&cut.without)
    }

    fn kind(&self, kind: &Kind) -> Result<(), MeasureError> {
        match kind {
            Kind::Height { at, from } => self.places(std::iter::once(at).chain(from)),
            Kind::Distance { between } => self.places(between),
            Kind::Breadth { extent } | Kind::Depth { extent } => match extent {
                Extent::Places(places) => self.places(places),
                Extent::Regions(names) => self.regions(names),
                Extent::Section(cut) => self.cut(cut),
            },
            Kind::Girth { cut, .. } => self.cut(cut),
            Kind::Path { through, path, .. } => {
                self.places(through)?;
                match path.as_ref().filter(|p| !self.template.paths.contains_key(*p)) {
                    None => Ok(()),
                    Some(name) => {
                        Err(self.unknown("path", name, self.template.paths.keys().map(String::as_str)))
                    }
                }
            }
            Kind::Area { region, slab } | Kind::Volume { region, slab } => {
                self.places(slab.iter().flat_map(Slab::places))?;
                self.regions(region)
            }
            Kind::Angle { at, between } => self.places(std::iter::once(at).chain(between)),
            Kind::Derived { .. } => Ok(()),
        }
    }
}
