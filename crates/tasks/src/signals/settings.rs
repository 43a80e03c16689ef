//! Where cycles come from, the cutoff of curves, the axes of a body frame.

use formkin_motion::{CycleParams, Event};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// What begins a cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Begins {
    /// The signal is smallest, such as the height of a heel at its contact
    Minimum,
    /// The signal is largest
    Maximum,
    /// The signal rises through its mean
    Rising,
}

impl Default for Begins {
    fn default() -> Self {
        match Event::default() {
            Event::Minimum => Self::Minimum,
            Event::Maximum => Self::Maximum,
            Event::Rising => Self::Rising,
        }
    }
}

impl From<Begins> for Event {
    fn from(begins: Begins) -> Self {
        match begins {
            Begins::Minimum => Self::Minimum,
            Begins::Maximum => Self::Maximum,
            Begins::Rising => Self::Rising,
        }
    }
}

/// Where cycles come from.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct CycleSettings {
    /// Find cycles in this signal: a followed dimension or signal, `frame` (the height of the body frame), `mode-1`, `mode-2`, .. of meshes
    #[schemars(extend("option" = "cycles", "value" = "SIGNAL"))]
    pub from: Option<String>,
    /// What begins a cycle
    #[schemars(extend("option" = "event"))]
    pub event: Begins,
    /// The frequency of the cycles; looked for where absent
    #[schemars(extend("option" = "cycle-hz", "unit" = "Hz", "exclusiveMinimum" = 0))]
    pub hz: Option<f64>,
    /// Events in s that cycles run between, in place of a signal
    #[schemars(extend("option" = "-", "unit" = "s"))]
    pub at_s: Vec<f64>,
}

impl CycleSettings {
    /// Settings of the search, with the domain's defaults for the rest.
    #[must_use]
    pub fn params(&self) -> CycleParams {
        CycleParams { event: self.event.into(), hz: self.hz, ..CycleParams::default() }
    }
}

/// The ends of the axes of a body frame: names of landmarks, regions or points, several joined by `+` (their mean).
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct AxisSettings {
    /// The vertical axis of the body frame, from below to above, kept exactly: landmarks, regions or points, several joined by `+`
    pub vertical: Option<[String; 2]>,
    /// The lateral axis, from the right to the left
    pub lateral: Option<[String; 2]>,
    /// The fore-aft axis, from the front to the back; it only tests that the body is not mirrored
    pub fore_aft: Option<[String; 2]>,
}

impl AxisSettings {
    /// The ends of the vertical and of the lateral axis.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] where one of them is not given.
    pub fn both(&self) -> Result<(&[String; 2], &[String; 2]), TaskError> {
        self.vertical.as_ref().zip(self.lateral.as_ref()).ok_or_else(|| TaskError::Nothing {
            what: "the axes of a body frame need a vertical and a lateral one".to_owned(),
            advice: "give both, each from where to where".to_owned(),
        })
    }
}

/// The names of an end of an axis.
#[must_use]
pub fn names_of(end: &str) -> Vec<String> {
    end.split('+').map(|n| n.trim().to_owned()).collect()
}

/// The cutoff of a low-pass: in Hz, or `residual` for that of a residual analysis of each signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(from = "WrittenCutoff", into = "WrittenCutoff")]
pub enum Cutoff {
    /// In Hz.
    Hz(f64),
    /// By residual analysis.
    Residual,
}

#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(untagged, expecting = "it must be a number of Hz, or \"residual\"")]
enum WrittenCutoff {
    Hz(#[schemars(extend("exclusiveMinimum" = 0))] f64),
    Word(CutoffWord),
}

#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum CutoffWord {
    Residual,
}

impl From<WrittenCutoff> for Cutoff {
    fn from(written: WrittenCutoff) -> Self {
        match written {
            WrittenCutoff::Hz(hz) => Self::Hz(hz),
            WrittenCutoff::Word(CutoffWord::Residual) => Self::Residual,
        }
    }
}

impl From<Cutoff> for WrittenCutoff {
    fn from(cutoff: Cutoff) -> Self {
        match cutoff {
            Cutoff::Hz(hz) => Self::Hz(hz),
            Cutoff::Residual => Self::Word(CutoffWord::Residual),
        }
    }
}

impl Cutoff {
    /// In Hz, where it is given so.
    #[must_use]
    pub fn hz(self) -> Option<f64> {
        match self {
            Self::Hz(hz) => Some(hz),
            Self::Residual => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fields::{Kind, fields};

    #[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
    #[serde(default)]
    struct Asked {
        /// Cycles
        cycles: Option<CycleSettings>,
        /// Cutoff
        cutoff: Option<Cutoff>,
        /// Axes
        axes: Option<AxisSettings>,
    }

    #[test]
    fn a_cutoff_is_a_number_above_0_or_a_word() {
        let fields = fields::<Asked>();
        let Kind::NumberOrWord(range, words) = &fields[1].kind else { panic!("{:?}", fields[1].kind) };
        assert!(!range.holds(0.0) && range.holds(6.5) && *words == ["residual"]);
        for (written, read) in [("6", Cutoff::Hz(6.0)), ("\"residual\"", Cutoff::Residual)] {
            assert_eq!(serde_json::from_str::<Cutoff>(written).unwrap(), read);
        }
        assert!(serde_json::from_str::<Cutoff>("\"often\"").is_err());
    }

    #[test]
    fn inner_tables_keep_the_names_of_their_options() {
        let fields = fields::<Asked>();
        let options = |at: usize| match &fields[at].kind {
            Kind::Table(inner) => {
                inner.iter().map(|f| f.option.clone().unwrap_or_default()).collect::<Vec<_>>()
            }
            other => panic!("{other:?}"),
        };
        assert_eq!(options(0), ["cycles", "event", "cycle-hz", ""]);
        assert_eq!(options(2), ["vertical", "lateral", "fore-aft"]);
    }

    #[test]
    fn an_end_of_an_axis_may_be_the_mean_of_several() {
        assert_eq!(names_of("hip left + hip right"), ["hip left", "hip right"]);
        let half = AxisSettings { vertical: Some(["a".into(), "b".into()]), ..AxisSettings::default() };
        assert!(half.both().unwrap_err().to_string().contains("lateral"));
    }
}
