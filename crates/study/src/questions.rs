//! The stages that answer what a study asks of its shape space, and the files of the answers.

use std::time::Instant;

use formkin_geometry::Topology;
use formkin_report::{MapColumn, NamedResult, ShapePart};
use formkin_shape::ShapeError;

use crate::StudyError;
use crate::cache::Key;
use formkin_table::file_name;

use crate::deliver::Results;
use crate::job::groups::{effect_glb, group_targets, place_csv, slope_glb};
use crate::job::map::{Colour, map_csv};
use crate::job::measure::MeasureOutcome;
use crate::job::questions::{Answers, Asked, without_vertices};
use crate::job::space::SpaceOutcome;
use crate::job::symmetry;
use crate::run::Run;

impl Run<'_> {
    /// Answers everything that `[shape]` asks. What the data cannot answer is told and left out; what is misspelt is an error.
    pub(crate) fn answers(
        &mut self,
        cohort: &formkin_cohort::Cohort,
        space: Option<&SpaceOutcome>,
        measured: Option<&MeasureOutcome>,
        space_key: &Key,
    ) -> Result<Answers, StudyError> {
        let mut answers = Answers::default();
        let section = self.study.file().shape.clone();
        let Some(space) = space else { return Ok(answers) };
        let seed = self.study.file().space.seed;
        let table = measured.map(|m| &m.people);
        let asked = Asked { cohort, space, table, section: &section, seed };
        let context = Key::of("questions", &(&table, seed), &[space_key])?;
        let tests = (
            section.modes,
            section.permutations,
            section.level,
            &section.covariates,
            section.compare.first(),
        );

        for by in &section.compare {
            let stage = format!("compare-{}", file_name(by));
            let key = Key::of(&stage, &tests, &[&context])?;
            let made = self.stage(&stage, &key, |_| asked.compared(by));
            if let Some(told) = kept(made, &format!("groups by {by}"), &mut answers.refusals)? {
                answers.comparisons.push((by.clone(), told));
            }
        }
        for on in &section.regress {
            let stage = format!("regress-{}", file_name(on));
            let key = Key::of(&stage, &tests, &[&context])?;
            let made = self.stage(&stage, &key, |_| asked.regressed(on));
            if let Some(told) = kept(made, &format!("shape on {on}"), &mut answers.refusals)? {
                answers.regressions.push((on.clone(), told));
            }
        }
        if section.symmetry {
            let key = Key::of("symmetry", &(section.permutations, section.level), &[&context])?;
            let made = self.stage("symmetry", &key, |progress| asked.symmetry(progress));
            answers.symmetry = kept(made, "symmetry", &mut answers.refusals)?;
        }
        if let Some(word) = &section.map {
            let key = Key::of("map", &(word, &section.colours), &[&context])?;
            let made = self.stage("map", &key, |_| asked.map(word));
            answers.map = kept(made, "a map of people", &mut answers.refusals)?;
        }
        if section.sample > 0 {
            let key = Key::of("sample", &(section.sample, &section.sample_by), &[&context])?;
            let made = self.stage("sample", &key, |_| asked.sample());
            answers.sample = kept(made, "drawn bodies", &mut answers.refusals)?;
        }
        for region in &section.complete {
            let stage = format!("complete-{}", file_name(region));
            let key = Key::of(&stage, region, &[&context])?;
            let made = self.stage(&stage, &key, |_| asked.completed(region));
            if let Some(c) = kept(made, &format!("{region} completed"), &mut answers.refusals)? {
                answers.completions.push((region.clone(), c));
            }
        }
        if self.study.file().space.quality {
            let key = Key::of("covariance", &(), &[&context])?;
            let made = self.stage("covariance", &key, |_| asked.shrunk());
            answers.shrunk = kept(made, "a shrunk covariance", &mut answers.refusals)?;
            answers.probabilistic = space.fitted.space.probabilistic(None).ok();
        }
        Ok(answers)
    }

    /// Writes the files of the answers.
    pub(crate) fn answer_files(&mut self, results: &Results<'_>) -> Result<(), StudyError> {
        let Some(space) = results.space.as_ref().map(|s| &s.fitted.space) else { return Ok(()) };
        let answers = &results.answers;
        for (by, told) in &answers.comparisons {
            let found = &told.result;
            let name = format!("compare-{}", file_name(by));
            self.result_files(&name, "groups", &|| {
                let json = without_vertices(serde_json::to_value(found).unwrap_or_default());
                let glb = effect_glb(space, &found.place, group_targets(space, found))?;
                Ok((place_csv(space, &found.place), glb, json))
            })?;
        }
        for (on, told) in &answers.regressions {
            let found = &told.result;
            let name = format!("regress-{}", file_name(on));
            self.result_files(&name, "slopes", &|| {
                let json = without_vertices(serde_json::to_value(found).unwrap_or_default());
                let glb = slope_glb(space, found)?;
                Ok((place_csv(space, &found.place), glb, json))
            })?;
        }
        if let Some(made) = &answers.symmetry {
            let key = self.made_from("symmetry");
            let (stage, began) = ("symmetry files", Instant::now());
            let kept = self.outputs.kept(stage, key.as_str());
            if !kept {
                let topology: &Topology = results.cohort.template().mesh.topology();
                for file in symmetry::files(topology, made)? {
                    self.outputs.write(stage, &format!("symmetry/{}", file.name), file.what, &file.bytes)?;
                }
            }
            self.record(stage, &key, kept, began);
        }
        if let Some(made) = &answers.map {
            let what = "A map of people: two numbers a person, and their columns";
            self.outputs.write("map", "people-map.csv", what, map_csv(made).as_bytes())?;
        }
        Ok(())
    }

    fn made_from(&self, stage: &str) -> Key {
        let key = self.stages.iter().find(|s| s.stage == stage).map(|s| s.key.clone());
        Key::from_hash(key.unwrap_or_default())
    }

    fn result_files(
        &mut self,
        name: &str,
        kind: &str,
        make: &dyn Fn() -> Result<(String, Vec<u8>, serde_json::Value), StudyError>,
    ) -> Result<(), StudyError> {
        let key = self.made_from(name);
        let (stage, began) = (format!("{name} files"), Instant::now());
        let kept = self.outputs.kept(&stage, key.as_str());
        if !kept {
            let (csv, glb, json) = make()?;
            let text = serde_json::to_vec_pretty(&json).unwrap_or_default();
            let at = |file: &str| format!("{kind}/{name}/{file}");
            self.outputs.write(&stage, &at("map.csv"), "Effect, p and q at every vertex", csv.as_bytes())?;
            self.outputs.write(
                &stage,
                &at("effect.glb"),
                "The mean coloured by the effect, with morph targets",
                &glb,
            )?;
            self.outputs.write(&stage, &at("result.json"), "The tests", &text)?;
        }
        self.record(&stage, &key, kept, began);
        Ok(())
    }
}

/// What was made; a refusal of the data is told and no error.
fn kept<T>(
    made: Result<T, StudyError>,
    what: &str,
    refusals: &mut Vec<String>,
) -> Result<Option<T>, StudyError> {
    match made {
        Ok(made) => Ok(Some(made)),
        // a setting is wrong, whatever the data are; modes may be more than the data have
        Err(e @ StudyError::Shape(ShapeError::Setting { name, .. })) if name != "modes" => Err(e),
        Err(e @ (StudyError::Shape(_) | StudyError::Nothing { .. })) => {
            refusals.push(format!("No answer on {what}: {e}."));
            Ok(None)
        }
        Err(e) => Err(e),
    }
}

/// What the report shows of the answers.
pub(crate) fn report_part<'a>(results: &'a Results<'_>) -> ShapePart<'a> {
    let answers = &results.answers;
    ShapePart {
        quality: results.space.as_ref().and_then(|s| s.quality.as_ref()),
        comparisons: answers
            .comparisons
            .iter()
            .map(|(name, t)| NamedResult {
                name,
                result: &t.result,
                people: t.people,
                left_out: t.left_out.len(),
            })
            .collect(),
        regressions: answers
            .regressions
            .iter()
            .map(|(name, t)| NamedResult {
                name,
                result: &t.result,
                people: t.people,
                left_out: t.left_out.len(),
            })
            .collect(),
        symmetry: answers.symmetry.as_ref().map(|s| (&s.result, s.participants.as_slice())),
        map: answers.map.as_ref().map(|m| (&m.map, m.participants.as_slice())),
        map_columns: answers
            .map
            .iter()
            .flat_map(|m| &m.columns)
            .map(|(name, colour)| match colour {
                Colour::Words(values) => MapColumn::Words { name, values },
                Colour::Numbers(values) => MapColumn::Numbers { name, values },
            })
            .collect(),
        sample: answers.sample.as_ref().map(|s| formkin_report::SamplePart {
            report: &s.report,
            samples: &s.samples,
            modes: s.modes,
            marginals: &s.marginals,
            correlations: s.correlations.as_ref(),
            notes: &s.notes,
        }),
        completions: answers.completions.iter().map(|(name, c)| (name.as_str(), c)).collect(),
        probabilistic: answers.probabilistic.as_ref(),
        shrinkage: answers.shrunk.as_ref().map(|s| formkin_report::Shrinkage {
            shrinkage: s.shrinkage,
            coordinates: s.coordinates,
            sample_mm2: &s.sample_mm2,
            shrunk_mm2: &s.shrunk_mm2,
            rest_mm2: s.rest_mm2,
        }),
        refusals: &answers.refusals,
    }
}
