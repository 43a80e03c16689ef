//! What is asked for.

use std::path::PathBuf;

use formkin_shape::complete::CalibrationParams;
use formkin_shape::{CompleteParams, Space};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::import::{FileUnit, FileUp};
use crate::{Facts, Problems};

/// The files of the command, and what is done with their vertices.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CompleteSources {
    /// The space
    #[schemars(extend("position" = 1))]
    pub space: PathBuf,
    /// A mesh on the triangles of the space, of which a part is wrong or missing
    #[serde(default)]
    #[schemars(extend("position" = 2))]
    pub mesh: Option<PathBuf>,
    /// A file of numbers of vertices, from 0, that are not to be trusted
    #[serde(default)]
    #[schemars(extend("value" = "FILE"))]
    pub missing_vertices: Option<PathBuf>,
    /// A CSV table of landmarks in place of a mesh: name or number of the vertex, x_mm, y_mm, z_mm
    #[serde(default)]
    #[schemars(extend("value" = "CSV"))]
    pub landmarks: Option<PathBuf>,
    /// A cohort whose holes are to be filled, in place of a mesh
    #[serde(default)]
    #[schemars(extend("value" = "C.cohort"))]
    pub cohort: Option<PathBuf>,
    /// With --cohort: a CSV table with item, regions and vertices (between semicolons) that are missing
    #[serde(default)]
    #[schemars(extend("value" = "CSV"))]
    pub holes: Option<PathBuf>,
    /// The cohort that the space was built from: the same vertices are hidden on its people, held out, and intervals brought to 95 %
    #[serde(default)]
    #[schemars(extend("value" = "C.cohort"))]
    pub calibrate: Option<PathBuf>,
    /// Unit of the files
    #[serde(default)]
    pub unit: FileUnit,
    /// Height axis of the files
    #[serde(default)]
    pub up: FileUp,
    /// Seen vertices keep their places in the mesh; with --cohort they always do
    #[serde(default)]
    pub keep_seen: bool,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CompleteSettings {
    /// A region whose vertices are not to be trusted; may be given again. In a study: a region that is hidden on people held out
    #[schemars(extend("value" = "REGION"))]
    pub missing: Vec<String>,
    /// A region whose vertices alone are to be trusted; may be given again
    #[schemars(extend("value" = "REGION"))]
    pub only: Vec<String>,
    /// How many modes; those that describe people held out best where absent
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: Option<usize>,
    /// SD of a coordinate of a vertex beyond the modes; from people held out where absent
    #[schemars(extend("unit" = "mm"))]
    pub noise_mm: Option<f64>,
    /// SD of the error with which a coordinate of a seen point was measured, as of landmarks that were felt or clicked; exact where absent
    #[schemars(extend("unit" = "mm"))]
    pub error_mm: Option<f64>,
    /// Seed of the folds of a calibration; that of the space where absent
    pub seed: Option<u64>,
}

impl CompleteSettings {
    pub(super) fn params(&self) -> CompleteParams {
        CompleteParams {
            modes: self.modes,
            noise_mm: self.noise_mm,
            error_mm: self.error_mm,
            ..CompleteParams::default()
        }
    }

    pub(super) fn calibration(&self, space: &Space) -> CalibrationParams {
        CalibrationParams { seed: self.seed.unwrap_or(space.seed), ..CalibrationParams::default() }
    }

    pub(super) fn check(&self, sources: &CompleteSources, facts: &Facts, problems: &mut Problems) {
        if problems.in_study() {
            return self.check_regions(facts, problems);
        }
        let given = [
            ("mesh", sources.mesh.is_some()),
            ("missing", !self.missing.is_empty()),
            ("missing_vertices", sources.missing_vertices.is_some()),
            ("only", !self.only.is_empty()),
            ("landmarks", sources.landmarks.is_some()),
            ("cohort", sources.cohort.is_some()),
            ("calibrate", sources.calibrate.is_some()),
        ];
        for (field, others) in [
            ("only", &["missing", "missing_vertices"][..]),
            ("landmarks", &["mesh", "missing", "missing_vertices", "only"]),
            ("cohort", &["mesh", "missing", "missing_vertices", "only", "landmarks", "calibrate"]),
        ] {
            let is_given = |name: &str| given.iter().any(|(n, g)| *n == name && *g);
            for other in others.iter().filter(|o| is_given(field) && is_given(o)) {
                problems.apart(field, other);
            }
        }
        if sources.holes.is_some() && sources.cohort.is_none() {
            problems.needs("holes", "cohort");
        }
        match (&sources.mesh, &sources.landmarks, &sources.cohort) {
            (None, None, None) => problems.wrong(
                "landmarks",
                "there is nothing to complete",
                "name a mesh of which a part is missing, or --landmarks",
            ),
            (Some(_), None, None)
                if self.missing.is_empty() && self.only.is_empty() && sources.missing_vertices.is_none() =>
            {
                problems.wrong(
                    "missing",
                    "nothing of the mesh is missing",
                    "say what is: --missing REGION, --missing-vertices FILE, or --only REGION",
                );
            }
            _ => {}
        }
    }

    /// In a study a region is hidden on people held out.
    fn check_regions(&self, facts: &Facts, problems: &mut Problems) {
        match (self.missing.is_empty(), self.only.is_empty()) {
            (true, true) => {
                problems.wrong("missing", "nothing is hidden", "name a region: missing = [\"..\"]");
            }
            (false, false) => problems.apart("only", "missing"),
            _ => {}
        }
        let Some(regions) = facts.regions() else { return };
        for (field, names) in [("missing", &self.missing), ("only", &self.only)] {
            for name in names {
                let known = problems.name(field, "region of the template", name, regions.iter().copied());
                let whole = facts.template.as_ref().is_some_and(|t| {
                    t.regions.get(name).is_some_and(|r| r.len() >= t.mesh.positions().len())
                });
                if known && whole {
                    problems.wrong(field, format!("`{name}` is the whole body"), "hide a part of it");
                }
            }
        }
    }

    /// What tells one completion from another.
    pub(super) fn label(&self) -> String {
        let of = |names: &[String]| names.join("-");
        if self.only.is_empty() { of(&self.missing) } else { format!("only-{}", of(&self.only)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::Given;

    fn said(sources: &CompleteSources, settings: &CompleteSettings, given: Given) -> Vec<String> {
        let mut problems = Problems::new(given);
        settings.check(sources, &Facts { nameless: true, ..Facts::default() }, &mut problems);
        problems.found.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn what_does_not_go_together_is_said() {
        let path = || Some(PathBuf::from("f"));
        let hands = CompleteSettings { missing: vec!["hand".into()], ..CompleteSettings::default() };
        let both =
            CompleteSources { mesh: path(), landmarks: path(), holes: path(), ..CompleteSources::default() };
        let found = said(&both, &hands, Given::Command);
        assert!(found.iter().any(|s| s.starts_with("--landmarks") && s.contains("--mesh")), "{found:?}");
        assert!(found.iter().any(|s| s.starts_with("--landmarks") && s.contains("--missing")), "{found:?}");
        assert!(found.iter().any(|s| s.starts_with("--holes") && s.contains("--cohort")), "{found:?}");
        let nothing = said(&CompleteSources::default(), &CompleteSettings::default(), Given::Command);
        assert!(nothing[0].contains("name a mesh"), "{nothing:?}");
        let mesh = CompleteSources { mesh: path(), ..CompleteSources::default() };
        assert_eq!(said(&mesh, &hands, Given::Command), Vec::<String>::new());
        assert!(said(&mesh, &CompleteSettings::default(), Given::Command)[0].contains("--missing REGION"));
    }

    #[test]
    fn a_study_hides_regions_that_there_are() {
        let hands = CompleteSettings { missing: vec!["hand".into()], ..CompleteSettings::default() };
        let of =
            |s: &CompleteSettings| said(&CompleteSources::default(), s, Given::Section("complete".into()));
        assert!(of(&hands)[0].starts_with("complete.missing: there is no region of the template `hand`"));
        assert!(of(&CompleteSettings::default())[0].starts_with("complete.missing: nothing is hidden"));
        assert_eq!(hands.label(), "hand");
    }
}
