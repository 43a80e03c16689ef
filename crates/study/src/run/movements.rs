//! The stages of movements: captures of meshes, trajectories of points, and what each kind says together.

use std::path::Path;

use formkin_cohort::Cohort;
use formkin_motion::cycles::given::{GivenEvent, events_of};
use formkin_motion::soft::compare::CompareParams;
use formkin_motion::{MotionParams, Reference};

use super::{Run, read_dimensions};
use crate::cache::Key;
use crate::job::movement::{MovementJob, MovementOutcome, movement, no_movement, times};
use crate::job::point_files::{PointsTogether, points_together};
use crate::job::points::{PointsOutcome, measurable, points, read_points};
use crate::job::signals::{CycleSettings, read_events};
use crate::job::together::{Together, together};
use crate::{StudyError, choose};

impl Run<'_> {
    pub(super) fn movements(
        &mut self,
        cohort: &Cohort,
        import_key: &Key,
    ) -> Result<Vec<MovementOutcome>, StudyError> {
        let section = &self.study.file.motion;
        let template = cohort.template();
        let region = section.region.as_ref().map(|r| choose::region("[motion] region", r, template));
        let dimensions = match &self.study.file.dimensions {
            Some(d) if !section.dimensions.is_empty() => {
                Some(read_dimensions(&self.study.at(&d.definitions))?)
            }
            _ => None,
        };
        let mut job = MovementJob {
            params: MotionParams {
                removes: choose::removes("[motion] removes", &section.removes)?,
                region: region.transpose()?,
                modes: section.modes,
                reference_frame: Reference::Frame(section.reference_frame),
                seed: self.study.file.space.seed,
                ..MotionParams::default()
            },
            dimensions,
            follow: section.dimensions.clone(),
            deep: section.deep(),
        };
        let captures = cohort.captures();
        if let Some(wanted) = &section.captures
            && let Some(missing) = wanted.iter().find(|w| !captures.iter().any(|c| &&c.id == w))
        {
            return Err(StudyError::Setting {
                setting: "[motion] captures",
                value: missing.clone(),
                known: captures.iter().map(|c| c.id.as_str()).collect::<Vec<_>>().join(", "),
            });
        }
        let events = self.events(section.cycles.as_ref())?.map(|e| e.0);
        let mut made = Vec::new();
        for capture in captures {
            let section = &self.study.file.motion;
            if section.captures.as_ref().is_some_and(|wanted| !wanted.contains(&capture.id)) {
                continue;
            }
            // what has no movement is told by the report; only what was named is an error
            if section.captures.is_none() && no_movement(&capture).is_some() {
                continue;
            }
            if let (Some(events), Some(cycles)) = (&events, &section.cycles) {
                let at_s = events_of(&capture.id, events, &times(cohort, &capture)?)
                    .map_err(|e| StudyError::from(e).of(&capture.id))?;
                job.deep.cycles = Some(cycles.clone().given(at_s));
            }
            let stage = format!("motion-{}", capture.id);
            let key = Key::of(&stage, &job, &[import_key])?;
            made.push(self.stage(&stage, &key, |progress| movement(cohort, &capture, &job, progress))?);
        }
        Ok(made)
    }

    /// The table of events that cycles run between, where one is named, with its key.
    fn events(
        &mut self,
        cycles: Option<&CycleSettings>,
    ) -> Result<Option<(Vec<GivenEvent>, Key)>, StudyError> {
        let Some(path) = cycles.and_then(|c| c.events.clone()) else { return Ok(None) };
        let key = self.input(&path)?;
        Ok(Some((read_events(&self.study.at(&path))?, key)))
    }

    pub(super) fn together(
        &mut self,
        cohort: &Cohort,
        movements: &[MovementOutcome],
    ) -> Result<Together, StudyError> {
        let section = &self.study.file.motion;
        let (pairs, shared) = (section.compare.clone(), section.shared.clone());
        let seed = self.study.file.space.seed;
        let keys: Vec<&str> =
            self.stages.iter().filter(|s| s.stage.starts_with("motion-")).map(|s| s.key.as_str()).collect();
        let key = Key::of("movements", &(&keys, &pairs, &shared, seed), &[])?;
        self.stage("movements", &key, |progress| {
            together(cohort, movements, &pairs, shared.as_ref(), seed, progress)
        })
    }

    /// Trajectories of points, file by file and together.
    pub(super) fn points(&mut self) -> Result<(Vec<PointsOutcome>, PointsTogether), StudyError> {
        let Some(section) = self.study.file.points.clone() else {
            return Ok((Vec::new(), PointsTogether::default()));
        };
        let events = self.events(section.settings.cycles.as_ref())?;
        let mut made: Vec<PointsOutcome> = Vec::new();
        for path in &section.files {
            let key = self.input(path)?;
            let file = read_points(&self.study.at(path))?;
            if made.iter().any(|m| m.capture == file.capture) {
                return Err(same_name(path, &file.capture));
            }
            let stage = format!("points-{}", file.capture);
            let mut keys = vec![&key];
            keys.extend(events.iter().map(|e| &e.1));
            let key = Key::of(&stage, &(&section.settings, &file.capture), &keys)?;
            let events = events.as_ref().map(|e| e.0.as_slice());
            made.push(self.stage(&stage, &key, |_| points(&file, &section.settings, events))?);
        }
        measurable(&made)?;
        let params = CompareParams { seed: self.study.file.space.seed, ..CompareParams::default() };
        let together = points_together(&made, &section.compare, &params)?;
        Ok((made, together))
    }
}

fn same_name(path: &Path, capture: &str) -> StudyError {
    StudyError::Nothing {
        what: format!("{} bears the name `{capture}` of a file before it", path.display()),
        advice: "files are told apart by their names: rename one".to_owned(),
    }
}
