//! What a study hands over: the files of every task, the figures for programs, the report, and where everything came from.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::time::Instant;

use formkin_report::document::{Body, Document, Front, Section, joined};
use formkin_report::html;
use formkin_tasks::digest::hash;
use formkin_tasks::names::{now, program};
use formkin_tasks::registry::{Visitor, visit_all};
use formkin_tasks::{InStudy, Task};
use serde_json::{Map, Value, json};

use crate::StudyError;
use crate::cache::Key;
use crate::graph::{Run, stage_name};
use crate::outputs::{PROVENANCE, Provenance, StageRecord};
use crate::pages;

/// What a study gave.
#[derive(Debug, Clone)]
pub struct StudyResult {
    /// The content of `summary.json`.
    pub summary: Value,
    /// The report.
    pub report: PathBuf,
    /// Every file written.
    pub outputs: Vec<PathBuf>,
    /// The stages as they ran.
    pub stages: Vec<StageRecord>,
}

/// What all tasks hand to the summary and the report.
#[derive(Default)]
struct Gathered {
    figures: Map<String, Value>,
    top: Map<String, Value>,
    sections: Vec<Section>,
    cautions: Vec<String>,
    front: Option<Front>,
}

fn json_bytes(stage: &str, value: &impl serde::Serialize) -> Result<Vec<u8>, StudyError> {
    serde_json::to_vec_pretty(value).map_err(|source| StudyError::Json { stage: stage.to_owned(), source })
}

impl Run<'_> {
    /// Writes every file, the report last but for the provenance.
    pub(crate) fn finish(mut self) -> Result<StudyResult, StudyError> {
        let mut gathered = Gathered::default();
        self.mentions();
        struct Each<'r, 'a> {
            run: &'r mut Run<'a>,
            gathered: &'r mut Gathered,
            done: Result<(), StudyError>,
        }
        impl Visitor for Each<'_, '_> {
            fn visit<T: Task>(&mut self) {
                if self.done.is_ok() && T::IN_STUDY != InStudy::Never {
                    self.done = self.run.deliver::<T>(self.gathered);
                }
            }
        }
        let mut each = Each { run: &mut self, gathered: &mut gathered, done: Ok(()) };
        visit_all(&mut each);
        each.done?;

        let summary = self.summary(&mut gathered);
        let text = json_bytes("summary", &summary)?;
        self.outputs.write("report", "summary.json", "The figures of this study for programs", &text)?;
        self.report(gathered)?;
        self.provenance(summary)
    }

    /// Has the dimensions noted that results use.
    fn mentions(&mut self) {
        struct Each<'r, 'a>(&'r mut Run<'a>);
        impl Visitor for Each<'_, '_> {
            fn visit<T: Task>(&mut self) {
                let names = self
                    .0
                    .store
                    .all::<T>()
                    .iter()
                    .flat_map(|r| T::mentions(&r.settings, &r.outcome))
                    .collect();
                self.0.store.mention(names);
            }
        }
        visit_all(&mut Each(self));
    }

    fn deliver<T: Task>(&mut self, gathered: &mut Gathered) -> Result<(), StudyError> {
        let runs = self.store.all::<T>();
        let (mut objects, mut folders) = (Vec::new(), BTreeSet::new());
        for ran in &runs {
            let (settings, inputs, outcome) = (&ran.settings, &ran.inputs, &ran.outcome);
            objects.push(T::object(settings, inputs, outcome)?);
            let stage = stage_name::<T>(settings);
            let made_from = self.stages.iter().find(|s| s.stage == stage).map(|s| s.key.clone());
            let key = Key::from_hash(made_from.unwrap_or_default());
            let (stage, began) = (format!("{stage} files"), Instant::now());
            let kept = self.outputs.kept(&stage, key.as_str());
            let folder = apart(T::folder(settings), &mut folders);
            if !kept {
                let within = |name: &str| folder.join(name).to_string_lossy().replace('\\', "/");
                for file in T::deliver(settings, inputs, outcome)?.files {
                    let path = within(&file.name);
                    self.outputs.write(&stage, &path, &file.what, &file.to_bytes(&path)?)?;
                }
                if let (Some(name), Some(object)) = (T::OBJECT, objects.last()) {
                    let text = json_bytes(&stage, object)?;
                    self.outputs.write(&stage, &within(name), "The figures for programs", &text)?;
                }
            }
            self.record(&stage, &key, kept, began);
            gathered.sections.extend(T::section(settings, inputs, outcome, &self.store)?);
            for caution in T::cautions(inputs, outcome) {
                if !gathered.cautions.contains(&caution) {
                    gathered.cautions.push(caution);
                }
            }
            if let Some(front) = T::front(settings, inputs, outcome)? {
                gathered.front = Some(front);
            }
        }
        if T::AT_TOP {
            for object in objects {
                if let Value::Object(object) = object {
                    gathered.top.extend(object);
                }
            }
        } else if T::SEVERAL {
            gathered.figures.insert(T::NAME.to_owned(), Value::Array(objects));
        } else if let Some(object) = objects.into_iter().next() {
            gathered.figures.insert(T::NAME.to_owned(), object);
        }
        Ok(())
    }

    fn summary(&self, gathered: &mut Gathered) -> Value {
        let mut summary = Map::new();
        summary.insert("title".into(), json!(self.file.title));
        summary.insert("program".into(), json!(program()));
        if let Some(cohort) = self.store.cohort() {
            let info = cohort.info();
            for (key, value) in [
                ("people", info.people),
                ("items", info.items),
                ("stills", info.stills),
                ("sequences", info.sequences),
                ("frames", info.frames),
                ("quarantined", info.quarantined),
                ("vertices", info.vertices),
                ("triangles", info.triangles),
            ] {
                summary.insert(key.into(), json!(value));
            }
        }
        for (key, value) in std::mem::take(&mut gathered.top) {
            summary.entry(key).or_insert(value);
        }
        summary.extend(std::mem::take(&mut gathered.figures));
        summary.insert("refusals".into(), json!(self.refusals));
        summary.insert("settings".into(), Value::Object(self.file.settings().clone()));
        let outputs: Vec<&String> = self.outputs.written().iter().map(|w| &w.path).collect();
        summary.insert("outputs".into(), json!(outputs));
        Value::Object(summary)
    }

    fn report(&mut self, gathered: Gathered) -> Result<(), StudyError> {
        let began = Instant::now();
        let Gathered { sections, cautions, front, .. } = gathered;
        let mut all = vec![pages::study(self)];
        let (before, after): (Vec<Section>, Vec<Section>) =
            sections.into_iter().partition(|s| pages::BEFORE_UNANSWERED.contains(&s.id.as_str()));
        all.extend(before);
        let mut unanswered = Body::default();
        unanswered.remarks(&self.refusals);
        all.push(Section::new("unanswered", "What could not be answered").with(unanswered));
        all.extend(after);
        all.push(pages::cautions(&cautions));
        all.push(pages::files(self));
        let document = Document {
            program: program(),
            title: self.file.title.clone(),
            description: self.file.description.clone(),
            byline: format!("Made {}, with {}", now(), program()),
            front: Some(pages::front(self, front)),
            sections: joined(all),
            foot: "People appear under pseudonyms. Body data are personal data: keep this page as you keep the scans.".to_owned(),
        };
        let page = html::render(&document)?;
        self.outputs.write("report", "report.html", "The report", page.as_bytes())?;
        self.record("report", &Key::from_hash(hash(page.as_bytes())), false, began);
        Ok(())
    }

    fn provenance(mut self, summary: Value) -> Result<StudyResult, StudyError> {
        let provenance = Provenance {
            program: program(),
            made: now(),
            settings: Value::Object(self.file.settings().clone()),
            inputs: std::mem::take(&mut self.read),
            stages: self.stages.clone(),
            outputs: self.outputs.written().to_vec(),
        };
        let bytes = json_bytes("provenance", &provenance)?;
        self.outputs.write("provenance", PROVENANCE, "What was made from what", &bytes)?;
        self.outputs.remove_stale();
        let root = self.outputs.root().to_owned();
        Ok(StudyResult {
            summary,
            report: root.join("report.html"),
            outputs: self.outputs.written().iter().map(|w| root.join(&w.path)).collect(),
            stages: self.stages,
        })
    }
}

/// The folder, or the same with a number where another run of the task has it: two labels may make one file name.
fn apart(folder: PathBuf, taken: &mut BTreeSet<String>) -> PathBuf {
    let mut name = folder.clone();
    let mut n = 1;
    // file systems may not tell capitals
    while !folder.as_os_str().is_empty() && !taken.insert(name.to_string_lossy().to_lowercase()) {
        n += 1;
        name.clone_from(&folder);
        name.as_mut_os_string().push(format!("-{n}"));
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_whose_labels_make_one_file_name_have_folders_of_their_own() {
        let mut taken = BTreeSet::new();
        let folders = ["motion/a_b", "motion/A_b", "motion/a_b", "", ""].map(|f| apart(f.into(), &mut taken));
        assert_eq!(folders, ["motion/a_b", "motion/A_b-2", "motion/a_b-3", "", ""].map(PathBuf::from));
    }
}
