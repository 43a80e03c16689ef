//! The file of definitions: reads TOML strictly and says which dimension is wrong.

use std::collections::BTreeSet;

use formkin_table::near::advice;
use formkin_table::unit::{Quantity, is_known, per_base, units};
use formkin_table::wording::{at_line, keyed};
use serde::Deserialize;

use crate::agreement::LimitType;
use crate::definition::{
    Cut, Definition, Direction, Extent, Extreme, Kind, Level, Line, Place, Slab, Standard,
};
use crate::expression::Expression;
use crate::{Frame, MeasureError};

/// A file of definitions as it is written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawFile {
    #[serde(default)]
    frame: Option<RawFrame>,
    #[serde(default)]
    dimension: Vec<toml::Table>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFrame {
    left: RawPlaces,
    right: RawPlaces,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(
    untagged,
    expecting = "a place must be the name of a landmark, a list of them (their middle), or { furthest = \"up\", region = \"NAME\" }"
)]
enum RawPlace {
    Name(String),
    Middle(Vec<RawPlace>),
    Furthest(RawFurthest),
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFurthest {
    furthest: Direction,
    #[serde(default)]
    region: OneOrMore,
}

type RawPlaces = RawPlace;

/// One name or several.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(untagged, expecting = "it must be a name or a list of names")]
enum OneOrMore {
    #[default]
    None,
    One(String),
    More(Vec<String>),
}

impl OneOrMore {
    fn list(self) -> Vec<String> {
        match self {
            Self::None => Vec::new(),
            Self::One(name) => vec![name],
            Self::More(names) => names,
        }
    }
}

/// Every key that a dimension may have.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDimension {
    name: String,
    kind: String,
    unit: Option<String>,
    standard: Option<String>,
    edition: Option<String>,
    item: Option<String>,
    limit_type: Option<LimitType>,
    #[serde(default)]
    definition: String,
    #[serde(default)]
    note: String,
    at: Option<RawPlace>,
    from: Option<RawPlace>,
    between: Option<Vec<RawPlace>>,
    offset_mm: Option<f64>,
    fraction: Option<f64>,
    search: Option<Extreme>,
    step_mm: Option<f64>,
    axis: Option<Vec<RawPlace>>,
    plane: Option<Vec<RawPlace>>,
    region: Option<OneOrMore>,
    without: Option<OneOrMore>,
    around: Option<RawPlace>,
    line: Option<Line>,
    through: Option<Vec<RawPlace>>,
    path: Option<String>,
    bridged: Option<bool>,
    formula: Option<String>,
}

const KINDS: [&str; 10] =
    ["height", "distance", "breadth", "depth", "girth", "path", "area", "volume", "angle", "derived"];

const CUT_KEYS: [&str; 9] =
    ["at", "between", "offset_mm", "fraction", "search", "step_mm", "region", "without", "around"];

fn keys_of(kind: &str) -> Vec<&'static str> {
    let mut keys = match kind {
        "height" => vec!["at", "from"],
        "distance" => vec!["between"],
        "breadth" | "depth" => CUT_KEYS.to_vec(),
        "girth" => [&CUT_KEYS[..], &["axis", "plane", "line"]].concat(),
        "path" => vec!["through", "path", "bridged"],
        "area" | "volume" => vec!["region", "between", "axis"],
        "angle" => vec!["at", "between"],
        "derived" => vec!["formula"],
        _ => Vec::new(),
    };
    keys.extend(["name", "kind", "unit", "standard", "edition", "item", "limit_type", "definition", "note"]);
    keys
}

/// Reads a file of definitions.
pub(crate) fn read(text: &str) -> Result<(Option<Frame>, Vec<Definition>), MeasureError> {
    let reason = |e: toml::de::Error| MeasureError::Definitions {
        reason: at_line(text, e.span().map(|s| s.start), e.message()),
    };
    let file: RawFile = toml::from_str(text).map_err(reason)?;
    if file.dimension.is_empty() {
        return Err(MeasureError::Definitions { reason: "there is no [[dimension]] in it".to_owned() });
    }
    let frame = match file.frame {
        None => None,
        Some(f) => Some(Frame {
            left: place(f.left).map_err(|reason| MeasureError::Definitions { reason })?,
            right: place(f.right).map_err(|reason| MeasureError::Definitions { reason })?,
        }),
    };
    let mut seen = BTreeSet::new();
    let mut definitions: Vec<Definition> = Vec::new();
    for (i, table) in file.dimension.into_iter().enumerate() {
        let called = match table.get("name") {
            Some(toml::Value::String(name)) => name.clone(),
            _ => format!("number {}", i + 1),
        };
        let fault = |reason: String| MeasureError::Definition { dimension: called.clone(), reason };
        let definition = one(table, &definitions).map_err(fault)?;
        if !seen.insert(definition.name.clone()) {
            return Err(fault("this name is already taken; names must differ".to_owned()));
        }
        definitions.push(definition);
    }
    Ok((frame, definitions))
}

fn one(table: toml::Table, before: &[Definition]) -> Result<Definition, String> {
    if let Some(toml::Value::String(kind)) = table.get("kind") {
        if !KINDS.contains(&kind.as_str()) {
            return Err(format!("there is no kind `{kind}`; {}", advice(kind, KINDS.into_iter())));
        }
        let allowed = keys_of(kind);
        if let Some(key) = table.keys().find(|k| !allowed.contains(&k.as_str())) {
            let near = advice(key, allowed.into_iter());
            return Err(format!("a dimension of kind `{kind}` has no key `{key}`; {near}"));
        }
    }
    let raw: RawDimension = table.try_into().map_err(|e: toml::de::Error| keyed(&e.to_string()))?;
    check_name(&raw.name)?;
    if raw.standard.is_none() && (raw.edition.is_some() || raw.item.is_some()) {
        return Err("`edition` and `item` need a `standard`".to_owned());
    }
    let name = raw.name.clone();
    let unit = raw.unit.clone();
    let standard = raw.standard.clone().map(|standard| Standard {
        standard,
        edition: raw.edition.clone(),
        item: raw.item.clone(),
    });
    let limit_type = raw.limit_type;
    let (definition, note) = (raw.definition.clone(), raw.note.clone());
    let kind = kind(raw, before)?;
    let unit = check_unit(&kind, unit)?;
    Ok(Definition { name, kind, unit, standard, limit_type, definition, note })
}

fn check_name(name: &str) -> Result<(), String> {
    let letter = name.chars().next().is_some_and(|c| c.is_ascii_lowercase());
    if letter && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_') {
        Ok(())
    } else {
        Err("a name begins with a small letter and has small letters, digits and underscores only".to_owned())
    }
}

fn check_unit(kind: &Kind, unit: Option<String>) -> Result<Option<String>, String> {
    let Some(quantity) = quantity(kind) else {
        return match unit.as_deref() {
            None => Err("a derived dimension needs a `unit`; write \"1\" for a pure number".to_owned()),
            Some("1") => Ok(None),
            Some(u) if is_known(u) => Ok(unit),
            Some(u) => Err(format!("`{u}` is no unit of this program; write \"1\" for a pure number")),
        };
    };
    let unit = unit.unwrap_or_else(|| units(quantity)[0].to_owned());
    match per_base(quantity, &unit) {
        Some(_) => Ok(Some(unit)),
        None => Err(format!("`{unit}` is no unit for it; there are {}", units(quantity).join(", "))),
    }
}

/// What a kind measures; `None` for derived dimensions.
pub(crate) fn quantity(kind: &Kind) -> Option<Quantity> {
    match kind {
        Kind::Area { .. } => Some(Quantity::Area),
        Kind::Volume { .. } => Some(Quantity::Volume),
        Kind::Angle { .. } => Some(Quantity::Angle),
        Kind::Derived { .. } => None,
        _ => Some(Quantity::Length),
    }
}

fn place(raw: RawPlace) -> Result<Place, String> {
    match raw {
        RawPlace::Name(name) => Ok(match name.strip_prefix("joint:") {
            Some(joint) => Place::Joint(joint.trim().to_owned()),
            None => Place::Landmark(name),
        }),
        RawPlace::Middle(list) if list.is_empty() => Err("a list of places is empty".to_owned()),
        RawPlace::Middle(list) => Ok(Place::Middle(list.into_iter().map(place).collect::<Result<_, _>>()?)),
        RawPlace::Furthest(f) => Ok(Place::Furthest { direction: f.furthest, region: f.region.list() }),
    }
}

fn need<T>(value: Option<T>, key: &str) -> Result<T, String> {
    value.ok_or_else(|| format!("it needs `{key}`"))
}

fn two(list: Vec<RawPlace>, key: &str) -> Result<[Place; 2], String> {
    let places: Vec<Place> = list.into_iter().map(place).collect::<Result<_, _>>()?;
    let n = places.len();
    places.try_into().map_err(|_| format!("`{key}` needs two places, and has {n}"))
}

fn kind(raw: RawDimension, before: &[Definition]) -> Result<Kind, String> {
    Ok(match raw.kind.as_str() {
        "height" => Kind::Height { at: place(need(raw.at, "at")?)?, from: raw.from.map(place).transpose()? },
        "distance" => Kind::Distance { between: two(need(raw.between, "between")?, "between")? },
        "breadth" => Kind::Breadth { extent: extent(raw)? },
        "depth" => Kind::Depth { extent: extent(raw)? },
        "girth" => {
            let line = raw.line.unwrap_or_default();
            Kind::Girth { cut: cut(raw)?, line }
        }
        "path" => {
            let bridged = raw.bridged.unwrap_or(false);
            let through = raw.through.unwrap_or_default();
            let through: Vec<Place> = through.into_iter().map(place).collect::<Result<_, _>>()?;
            match (through.len(), &raw.path) {
                (0, None) => return Err("it needs `through` (places in order) or `path` (a name)".to_owned()),
                (0, Some(_)) | (2.., None) => {}
                (_, None) => return Err("`through` needs two places at least".to_owned()),
                _ => return Err("it has both `through` and `path`; give one of them".to_owned()),
            }
            if through.iter().any(|p| matches!(p, Place::Middle(_) | Place::Joint(_))) {
                return Err("a path runs over the surface: its places are landmarks or furthest vertices, \
                            not middles or joints"
                    .to_owned());
            }
            Kind::Path { through, path: raw.path, bridged }
        }
        "area" => {
            Kind::Area { slab: slab(raw.between, raw.axis)?, region: raw.region.unwrap_or_default().list() }
        }
        "volume" => {
            Kind::Volume { slab: slab(raw.between, raw.axis)?, region: raw.region.unwrap_or_default().list() }
        }
        "angle" => Kind::Angle {
            at: place(need(raw.at, "at")?)?,
            between: two(need(raw.between, "between")?, "between")?,
        },
        "derived" => {
            let formula = need(raw.formula, "formula")?;
            let expression = Expression::parse(&formula)?;
            let names = expression.names();
            if let Some(name) = names.iter().find(|n| !before.iter().any(|d| d.name == **n)) {
                let near = advice(name, before.iter().map(|d| d.name.as_str()));
                return Err(format!("its formula names `{name}`, which is not defined before it; {near}"));
            }
            if names.is_empty() {
                return Err("its formula names no dimension".to_owned());
            }
            Kind::Derived { formula }
        }
        other => return Err(format!("there is no kind `{other}`")),
    })
}

fn slab(between: Option<Vec<RawPlace>>, axis: Option<Vec<RawPlace>>) -> Result<Option<Slab>, String> {
    let axis = axis.map(|a| two(a, "axis")).transpose()?;
    match between {
        Some(ends) => Ok(Some(Slab { ends: two(ends, "between")?, axis })),
        None if axis.is_some() => Err("`axis` goes with `between`, which names the two planes".to_owned()),
        None => Ok(None),
    }
}

fn extent(raw: RawDimension) -> Result<Extent, String> {
    let level = raw.at.is_some() || raw.fraction.is_some() || raw.search.is_some();
    let part = raw.region.is_some() || raw.without.is_some() || raw.around.is_some();
    if level {
        return Ok(Extent::Section(cut(raw)?));
    }
    match (raw.between, part) {
        (Some(between), false) => Ok(Extent::Places(two(between, "between")?)),
        (Some(_), true) => {
            Err("`between` with a region needs `fraction` or `search`, to say at which level".to_owned())
        }
        (None, _) if raw.without.is_some() || raw.around.is_some() => {
            Err("`without` and `around` choose from a section: give its level with `at` or `between`"
                .to_owned())
        }
        (None, _) => Ok(Extent::Regions(raw.region.unwrap_or_default().list())),
    }
}

fn cut(raw: RawDimension) -> Result<Cut, String> {
    let finite = |v: f64, key: &str| {
        if v.is_finite() { Ok(v) } else { Err(format!("`{key}` must be a finite number")) }
    };
    if let Some(plane) = raw.plane {
        if raw.at.is_some() || raw.between.is_some() || raw.axis.is_some() {
            return Err(
                "`plane` says all about where the cut is: leave `at`, `between` and `axis` out".to_owned()
            );
        }
        let n = plane.len();
        let plane: Vec<Place> = plane.into_iter().map(place).collect::<Result<_, _>>()?;
        let plane: [Place; 3] =
            plane.try_into().map_err(|_| format!("`plane` needs three places, and has {n}"))?;
        let offset_mm = finite(raw.offset_mm.unwrap_or(0.0), "offset_mm")?;
        return Ok(Cut {
            level: Level::At { place: plane[0].clone(), offset_mm },
            axis: None,
            plane: Some(Box::new(plane)),
            region: raw.region.unwrap_or_default().list(),
            without: raw.without.unwrap_or_default().list(),
            around: raw.around.map(place).transpose()?,
        });
    }
    let level = match (raw.at, raw.between) {
        (Some(at), None) => {
            if raw.fraction.is_some() || raw.search.is_some() || raw.step_mm.is_some() {
                return Err("`fraction`, `search` and `step_mm` go with `between`, not with `at`".to_owned());
            }
            Level::At { place: place(at)?, offset_mm: finite(raw.offset_mm.unwrap_or(0.0), "offset_mm")? }
        }
        (None, Some(between)) => {
            if raw.offset_mm.is_some() {
                return Err("`offset_mm` goes with `at`, not with `between`".to_owned());
            }
            let ends = two(between, "between")?;
            match (raw.fraction, raw.search) {
                (Some(fraction), None) => Level::Between { ends, fraction: finite(fraction, "fraction")? },
                (None, Some(which)) => {
                    let step_mm = raw.step_mm.unwrap_or(2.0);
                    if !(0.05..=2.0).contains(&step_mm) {
                        return Err(format!("`step_mm` must be from 0.05 to 2, and is {step_mm}"));
                    }
                    Level::Search { ends, which, step_mm }
                }
                (None, None) => {
                    return Err(
                        "`between` needs `fraction`, or `search` (\"largest\" or \"least\")".to_owned()
                    );
                }
                _ => return Err("it has both `fraction` and `search`; give one of them".to_owned()),
            }
        }
        (None, None) => {
            return Err(
                "it needs a level: `at` a place, `between` two, or a `plane` through three".to_owned()
            );
        }
        _ => return Err("it has both `at` and `between`; give one of them".to_owned()),
    };
    Ok(Cut {
        level,
        axis: raw.axis.map(|a| two(a, "axis")).transpose()?,
        plane: None,
        region: raw.region.unwrap_or_default().list(),
        without: raw.without.unwrap_or_default().list(),
        around: raw.around.map(place).transpose()?,
    })
}

#[cfg(test)]
#[path = "schema_tests.rs"]
mod tests;
