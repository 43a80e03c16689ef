//! The greatest permitted mean error of each type of dimension.

use formkin_table::near::advice;
use serde::{Deserialize, Serialize};

use crate::definition::Kind;
use crate::limit_type::LimitType;

/// From this mean value a girth counts as large where nobody has said so (common practice, no source: between the largest limb
/// girths and the least trunk girths of adults).
pub(crate) const LARGE_GIRTH_MM: f64 = 650.0;

/// Where the type of a dimension comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TypeSource {
    /// It was asked for by name.
    Given,
    /// The `limit_type` of its definition.
    Definition,
    /// The kind of its definition, a girth by its size.
    Kind,
    /// A word in its name, a girth by its size.
    Name,
}

impl LimitType {
    /// Every type.
    pub const ALL: [Self; 10] = [
        Self::SegmentLength,
        Self::Height,
        Self::LargeGirth,
        Self::SmallGirth,
        Self::Breadth,
        Self::Depth,
        Self::HeadWithHair,
        Self::HeadWithoutHair,
        Self::Hand,
        Self::Foot,
    ];

    /// The greatest permitted mean error in mm (ISO 20685-1 as printed by Kouchi, "Anthropometric methods for apparel design", 2019).
    #[must_use]
    pub fn limit_mm(self) -> f64 {
        match self {
            Self::Height | Self::SmallGirth | Self::Breadth => 4.0,
            Self::SegmentLength | Self::Depth => 5.0,
            Self::LargeGirth => 9.0,
            Self::Foot | Self::HeadWithHair => 2.0,
            Self::Hand | Self::HeadWithoutHair => 1.0,
        }
    }

    /// Its name in files and options.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::SegmentLength => "segment-length",
            Self::Height => "height",
            Self::LargeGirth => "large-girth",
            Self::SmallGirth => "small-girth",
            Self::Breadth => "breadth",
            Self::Depth => "depth",
            Self::HeadWithHair => "head-with-hair",
            Self::HeadWithoutHair => "head-without-hair",
            Self::Hand => "hand",
            Self::Foot => "foot",
        }
    }

    /// The type of this name.
    ///
    /// # Errors
    /// A sentence with the names near it.
    pub fn parse(name: &str) -> Result<Self, String> {
        Self::ALL.into_iter().find(|t| t.name() == name).ok_or_else(|| {
            format!("there is no type `{name}`; {}", advice(name, Self::ALL.iter().map(|t| t.name())))
        })
    }

    /// The type that a kind of definition suggests; `None` where the kind has no limit. `mean_mm` is the mean by hand, by which a girth
    /// is large or small.
    #[must_use]
    pub(crate) fn of_kind(kind: &Kind, mean_mm: f64) -> Option<Self> {
        match kind {
            Kind::Height { .. } => Some(Self::Height),
            Kind::Distance { .. } | Kind::Path { .. } => Some(Self::SegmentLength),
            Kind::Breadth { .. } => Some(Self::Breadth),
            Kind::Depth { .. } => Some(Self::Depth),
            Kind::Girth { .. } => Some(girth(mean_mm)),
            Kind::Area { .. } | Kind::Volume { .. } | Kind::Angle { .. } | Kind::Derived { .. } => None,
        }
    }

    /// The type that a word of the name suggests: head, hand and foot first, then what the last such word says. `None` where no word is known.
    #[must_use]
    pub fn of_name(name: &str, mean_mm: f64) -> Option<Self> {
        let words: Vec<&str> = name.split('_').collect();
        for (word, kind) in [("head", Self::HeadWithHair), ("hand", Self::Hand), ("foot", Self::Foot)] {
            if words.contains(&word) {
                return Some(kind);
            }
        }
        words.iter().rev().find_map(|word| match *word {
            "stature" | "height" => Some(Self::Height),
            "girth" | "circumference" => Some(girth(mean_mm)),
            "breadth" | "diameter" => Some(Self::Breadth),
            "depth" => Some(Self::Depth),
            "length" | "distance" | "width" => Some(Self::SegmentLength),
            _ => None,
        })
    }
}

fn girth(mean_mm: f64) -> LimitType {
    if mean_mm >= LARGE_GIRTH_MM { LimitType::LargeGirth } else { LimitType::SmallGirth }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_to_types_and_back() {
        for t in LimitType::ALL {
            assert_eq!(LimitType::parse(t.name()), Ok(t));
            assert_eq!(serde_json::to_string(&t).unwrap(), format!("\"{}\"", t.name()));
        }
        assert!(LimitType::parse("large_girth").unwrap_err().contains("`large-girth`"));
    }

    #[test]
    fn words_of_names_suggest_types() {
        for (name, mean, expected) in [
            ("stature", 1700.0, Some(LimitType::Height)),
            ("chest_girth", 950.0, Some(LimitType::LargeGirth)),
            ("calf_girth_left", 370.0, Some(LimitType::SmallGirth)),
            ("head_girth", 560.0, Some(LimitType::HeadWithHair)),
            ("foot_length_left", 260.0, Some(LimitType::Foot)),
            ("arm_length_right", 600.0, Some(LimitType::SegmentLength)),
            ("weight", 70.0, None),
        ] {
            assert_eq!(LimitType::of_name(name, mean), expected, "{name}");
        }
    }
}
