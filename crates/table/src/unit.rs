//! Units at the edges: what a value is written in, and what a header ends with.

/// Endings of headers that are units whatever the column holds.
const CLEAR: [&str; 20] = [
    "mm", "cm", "kg", "years", "months", "days", "ms", "hz", "deg", "rad", "mm2", "cm2", "m2", "mm3", "cm3",
    "m3", "percent", "mps", "litres", "bpm",
];
/// Endings that are units where the column holds numbers and may be part of a name where it does not.
const SHORT: [&str; 5] = ["m", "s", "g", "l", "in"];

/// Name and unit of a header such as `chest_girth_mm`. The flag tells that the ending leaves no doubt.
#[must_use]
pub fn split(header: &str) -> (&str, Option<(&str, bool)>) {
    if let Some((name, ending)) = header.rsplit_once('_')
        && !name.is_empty()
    {
        if CLEAR.contains(&ending) {
            return (name, Some((ending, true)));
        }
        if SHORT.contains(&ending) {
            return (name, Some((ending, false)));
        }
    }
    (header, None)
}

/// The header of a column.
#[must_use]
pub fn join(name: &str, unit: Option<&str>) -> String {
    match unit {
        Some(unit) => format!("{name}_{unit}"),
        None => name.to_owned(),
    }
}

/// What a value measures, by which its units are bounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// A length, in mm.
    Length,
    /// An area, in mm2.
    Area,
    /// A volume, in mm3.
    Volume,
    /// An angle, in degrees.
    Angle,
}

/// How many of a unit go into one mm, mm2, mm3 or degree; `None` for a unit of something else.
#[must_use]
pub fn per_base(quantity: Quantity, unit: &str) -> Option<f64> {
    Some(match (quantity, unit) {
        (Quantity::Length, "mm")
        | (Quantity::Area, "mm2")
        | (Quantity::Volume, "mm3")
        | (Quantity::Angle, "deg") => 1.0,
        (Quantity::Length, "cm") => 1e-1,
        (Quantity::Length, "m") => 1e-3,
        (Quantity::Area, "cm2") => 1e-2,
        (Quantity::Area, "m2") => 1e-6,
        (Quantity::Volume, "cm3") => 1e-3,
        (Quantity::Volume, "litres") => 1e-6,
        (Quantity::Volume, "m3") => 1e-9,
        (Quantity::Angle, "rad") => std::f64::consts::PI / 180.0,
        _ => return None,
    })
}

/// Every unit of a quantity, the base unit first.
#[must_use]
pub fn units(quantity: Quantity) -> &'static [&'static str] {
    match quantity {
        Quantity::Length => &["mm", "cm", "m"],
        Quantity::Area => &["mm2", "cm2", "m2"],
        Quantity::Volume => &["mm3", "cm3", "litres", "m3"],
        Quantity::Angle => &["deg", "rad"],
    }
}

/// Whether a derived dimension may carry this unit.
#[must_use]
pub fn is_known(unit: &str) -> bool {
    CLEAR.contains(&unit) || SHORT.contains(&unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_split_into_name_and_unit_and_join_again() {
        assert_eq!(split("chest_girth_mm"), ("chest_girth", Some(("mm", true))));
        assert_eq!(split("run_s"), ("run", Some(("s", false))));
        assert_eq!(split("waist_to_hip"), ("waist_to_hip", None));
        assert_eq!(split("_mm"), ("_mm", None));
        assert_eq!(split("mm"), ("mm", None));
        for header in ["chest_girth_mm", "age_years", "x"] {
            let (name, unit) = split(header);
            assert_eq!(join(name, unit.map(|u| u.0)), header);
        }
    }

    #[test]
    fn every_listed_unit_converts() {
        for q in [Quantity::Length, Quantity::Area, Quantity::Volume, Quantity::Angle] {
            assert!(units(q).iter().all(|u| per_base(q, u).is_some() && is_known(u)));
            assert_eq!(per_base(q, units(q)[0]), Some(1.0));
        }
        assert_eq!(per_base(Quantity::Length, "kg"), None);
    }
}
