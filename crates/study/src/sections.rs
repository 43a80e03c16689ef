//! A study file read whole: every section held against the fields of its task, so that one fault does not hide the next.

use std::any::{Any, TypeId};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use formkin_table::near::advice;
use formkin_table::wording::at_line;
use formkin_tasks::fields::{Field, Settings, fields};
use formkin_tasks::import::{ImportSettings, ImportSources, look};
use formkin_tasks::problem::Given;
use formkin_tasks::registry::{Visitor, visit_all};
use formkin_tasks::values::check_values;
use formkin_tasks::{Facts, InStudy, Problem, Problems, Task};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// The section of the input.
const IMPORT: &str = "import";
/// The section of the results.
const EXPORT: &str = "export";

/// What is handed over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ExportSettings {
    /// The folder of the results, relative to the study file
    pub folder: PathBuf,
}

impl Default for ExportSettings {
    fn default() -> Self {
        Self { folder: PathBuf::from(".") }
    }
}

/// What one section of a study file asks of a task.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked<T: Task> {
    /// Files, as the study file names them.
    pub sources: T::Sources,
    /// Settings, defaults filled in.
    pub settings: T::Settings,
}

/// A study as its file says it, every default filled in.
#[derive(Debug)]
pub struct StudyFile {
    /// What the report is headed with.
    pub title: String,
    /// A sentence or two for the report.
    pub description: String,
    /// The files of the import; none in a study of tables or points alone.
    pub import: Option<(ImportSources, ImportSettings)>,
    /// What is handed over.
    pub export: ExportSettings,
    /// What is asked of each task.
    asked: BTreeMap<TypeId, Box<dyn Any + Send + Sync>>,
    /// Every section with its defaults, for provenance.
    settings: Map<String, Value>,
    /// The same of a file that names nothing.
    defaults: Map<String, Value>,
}

impl StudyFile {
    /// Reads a text and checks it, with the files that it names, which start from `folder`.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn read(text: &str, folder: &Path) -> Result<Self, Vec<Problem>> {
        let table: toml::Table = toml::from_str(text.trim_start_matches('\u{feff}')).map_err(|e| {
            let e: toml::de::Error = e;
            let wrong = at_line(text, e.span().map(|s| s.start), e.message());
            vec![problem("", wrong, "docs/reference.md describes the study file")]
        })?;
        let sections = match serde_json::to_value(table) {
            Ok(Value::Object(sections)) => sections,
            _ => return Err(vec![problem("", "it is no table of keys and values", "")]),
        };
        let mut reading = Reading { sections, folder, problems: Vec::new(), facts: Facts::default() };
        let file = reading.file();
        if reading.problems.is_empty() { Ok(file) } else { Err(reading.problems) }
    }

    /// What is asked of the task `T`, in the order of the file.
    #[must_use]
    pub fn asked<T: Task>(&self) -> Vec<Asked<T>> {
        let found = self.asked.get(&TypeId::of::<T>()).and_then(|a| a.downcast_ref::<Vec<Asked<T>>>());
        let copy = |a: &Asked<T>| Asked { sources: a.sources.clone(), settings: a.settings.clone() };
        found.into_iter().flatten().map(copy).collect()
    }

    /// Every section with its defaults.
    #[must_use]
    pub fn settings(&self) -> &Map<String, Value> {
        &self.settings
    }

    /// Every setting: section, key, value, and whether it is at its default.
    #[must_use]
    pub fn each_setting(&self) -> Vec<(String, String, Value, bool)> {
        let mut found = Vec::new();
        for (section, value) in &self.settings {
            let several = matches!(value, Value::Array(_));
            let tables = match value {
                Value::Array(list) => list.iter().collect(),
                one => vec![one],
            };
            for (i, table) in tables.into_iter().enumerate() {
                let name = if several { format!("{section} {}", i + 1) } else { section.clone() };
                for (key, value) in table.as_object().into_iter().flatten() {
                    let default = self.defaults.get(section).and_then(|d| d.get(key)) == Some(value);
                    found.push((name.clone(), key.clone(), value.clone(), default));
                }
            }
        }
        found
    }
}

fn problem(key: &str, wrong: impl ToString, advice: &str) -> Problem {
    Problem { key: key.to_owned(), wrong: wrong.to_string(), advice: advice.to_owned() }
}

/// The names of all sections.
fn names() -> Vec<&'static str> {
    struct Names(Vec<&'static str>);
    impl Visitor for Names {
        fn visit<T: Task>(&mut self) {
            if T::IN_STUDY != InStudy::Never {
                self.0.push(T::NAME);
            }
        }
    }
    let mut names = Names(vec!["title", "description", IMPORT, EXPORT]);
    visit_all(&mut names);
    names.0
}

/// The keys of a task's section: those of its settings, and those of its sources that a study names.
#[must_use]
pub fn section_fields<T: Task>() -> Vec<Field> {
    let mut all: Vec<Field> = fields::<T::Sources>().into_iter().filter(|f| f.study).collect();
    all.extend(fields::<T::Settings>());
    all
}

struct Reading<'a> {
    sections: Map<String, Value>,
    folder: &'a Path,
    problems: Vec<Problem>,
    facts: Facts,
}

impl Reading<'_> {
    fn file(&mut self) -> StudyFile {
        let names = names();
        let unknown: Vec<String> =
            self.sections.keys().filter(|k| !names.contains(&k.as_str())).cloned().collect();
        for key in unknown {
            let near = advice(&key, names.iter().copied());
            self.problems.push(problem(&key, "there is no such key or section in a study file", &near));
        }
        let title = self.text("title");
        match &title {
            Some(title) if title.trim().is_empty() => {
                self.problems.push(problem(
                    "title",
                    "it is empty",
                    "name the study: the report is headed with it",
                ));
            }
            None if !self.sections.contains_key("title") => {
                self.problems.push(problem("title", "it is missing", "name the study: title = \"...\""));
            }
            _ => {}
        }
        let description = self.text("description").unwrap_or_default();
        let import = self.import();
        let (export, _) = self.pair::<formkin_tasks::Nothing, ExportSettings>(EXPORT);
        let folder = self.folder.join(&export.folder);
        if folder.exists() && !folder.is_dir() {
            let wrong = format!("{} is a file", folder.display());
            self.problems.push(problem("export.folder", wrong, "name a folder for the results"));
        }
        let mut file = StudyFile {
            title: title.unwrap_or_default(),
            description,
            import,
            export,
            asked: BTreeMap::new(),
            settings: Map::new(),
            defaults: Map::new(),
        };
        file.settings.insert("title".into(), Value::String(file.title.clone()));
        file.settings.insert("description".into(), Value::String(file.description.clone()));
        if let Some((sources, settings)) = &file.import {
            file.settings.insert(IMPORT.into(), both(sources, settings));
            file.defaults.insert(IMPORT.into(), both(&ImportSources::default(), &ImportSettings::default()));
        }
        let export = serde_json::to_value(&file.export).unwrap_or(Value::Null);
        file.settings.insert(EXPORT.into(), export);
        let export = serde_json::to_value(ExportSettings::default()).unwrap_or(Value::Null);
        file.defaults.insert(EXPORT.into(), export);

        struct Parse<'r, 'a>(&'r mut Reading<'a>, &'r mut StudyFile);
        impl Visitor for Parse<'_, '_> {
            fn visit<T: Task>(&mut self) {
                if T::IN_STUDY != InStudy::Never {
                    self.0.task::<T>(self.1);
                }
            }
        }
        visit_all(&mut Parse(self, &mut file));
        if let Some((sources, settings)) = &file.import
            && self.problems.iter().all(|p| !p.key.starts_with("import.meshes"))
        {
            let mut problems = Problems::new(Given::Section(IMPORT.to_owned()));
            look(sources, settings, self.folder, &mut self.facts, &mut problems);
            self.problems.extend(problems.found);
        }
        struct Check<'r, 'a>(&'r mut Reading<'a>, &'r StudyFile);
        impl Visitor for Check<'_, '_> {
            fn visit<T: Task>(&mut self) {
                if T::IN_STUDY != InStudy::Never {
                    self.0.check::<T>(self.1);
                }
            }
        }
        visit_all(&mut Check(self, &file));
        file
    }

    /// The checks of a task on what the file asks of it.
    fn check<T: Task>(&mut self, file: &StudyFile) {
        let mut problems = Problems::new(Given::Section(T::NAME.to_owned()));
        let mut labels = BTreeSet::new();
        let sections = file.asked::<T>().len();
        if !T::SEVERAL && sections > 1 {
            problems.wrong(
                "",
                format!("there are {sections} such sections"),
                "a study takes one: leave the others out",
            );
        }
        for asked in file.asked::<T>() {
            T::check(&asked.sources, &asked.settings, &self.facts, &mut problems);
            let label = T::label(&asked.settings);
            if T::SEVERAL && !label.is_empty() && !labels.insert(label.clone()) {
                problems.wrong(
                    "",
                    format!("two of its sections are of `{label}`"),
                    "their results would have one name: leave one out",
                );
            }
        }
        self.add(problems.found);
    }

    /// Takes in what checks found, but for what follows from values that are wrong as they stand: those were left at their defaults.
    fn add(&mut self, found: Vec<Problem>) {
        let wrong: Vec<&str> = self.problems.iter().map(|p| p.key.as_str()).collect();
        let follows = |p: &Problem| {
            let says = |key: &str| p.wrong.contains(key) || p.advice.contains(key);
            wrong.iter().any(|key| p.key == *key || says(key))
        };
        let new: Vec<Problem> = found.into_iter().filter(|p| !follows(p)).collect();
        self.problems.extend(new);
    }

    fn text(&mut self, key: &str) -> Option<String> {
        match self.sections.get(key)? {
            Value::String(text) => Some(text.clone()),
            other => {
                let wrong = format!("it is {other}");
                self.problems.push(problem(key, wrong, "it must be words in quotation marks"));
                Some("?".to_owned())
            }
        }
    }

    /// The input.
    fn import(&mut self) -> Option<(ImportSources, ImportSettings)> {
        self.sections.contains_key(IMPORT).then(|| {
            let (settings, sources) = self.pair::<ImportSources, ImportSettings>(IMPORT);
            (sources, settings)
        })
    }

    /// A section that is one table.
    fn pair<A: Settings, B: Settings>(&mut self, name: &str) -> (B, A) {
        let mut all = fields::<A>();
        all.extend(fields::<B>());
        let value = self.sections.get(name).cloned().unwrap_or_else(|| Value::Object(Map::new()));
        self.split::<A, B>(name, &all, &value)
    }

    fn split<A: Settings, B: Settings>(&mut self, name: &str, all: &[Field], value: &Value) -> (B, A) {
        let mut problems = Problems::new(Given::Section(name.to_owned()));
        check_values(all, value, "", &mut problems);
        // what is wrong stays at its default, so that the rest of the section can be checked too
        let wrong = |key: &str| {
            let under = format!("{name}.{key}");
            problems.found.iter().any(|p| p.key == under || p.key.starts_with(&format!("{under}.")))
        };
        let of = |fields: Vec<Field>| {
            let mut names: Vec<String> = fields.into_iter().map(|f| f.name).collect();
            names.retain(|key| !wrong(key));
            let given = value.as_object().into_iter().flatten();
            Value::Object(
                given.filter(|(k, _)| names.contains(k)).map(|(k, v)| (k.clone(), v.clone())).collect(),
            )
        };
        let (own, files) = (of(fields::<B>()), of(fields::<A>()));
        let settings = over_defaults::<B>(own, &mut problems);
        let sources = over_defaults::<A>(files, &mut problems);
        self.problems.extend(problems.found);
        (settings, sources)
    }

    fn task<T: Task>(&mut self, file: &mut StudyFile) {
        let tables: Vec<Value> = match self.sections.get(T::NAME).cloned() {
            None if T::IN_STUDY == InStudy::Always => vec![Value::Object(Map::new())],
            None => Vec::new(),
            Some(Value::Array(list)) => list,
            Some(one) => vec![one],
        };
        let all = section_fields::<T>();
        let mut asked: Vec<Asked<T>> = Vec::new();
        let mut shown = Vec::new();
        for table in &tables {
            let (settings, sources) = self.split::<T::Sources, T::Settings>(T::NAME, &all, table);
            shown.push(study_view::<T>(&Asked { sources: sources.clone(), settings: settings.clone() }));
            let sources = from_folder::<T::Sources>(&sources, self.folder);
            T::foretell(&sources, &settings, &mut self.facts);
            asked.push(Asked { sources, settings });
        }
        match &shown[..] {
            [] => {}
            [one] => drop(file.settings.insert(T::NAME.into(), one.clone())),
            _ => drop(file.settings.insert(T::NAME.into(), Value::Array(shown))),
        }
        let default = Asked::<T> { sources: T::Sources::default(), settings: T::Settings::default() };
        file.defaults.insert(T::NAME.into(), study_view::<T>(&default));
        file.asked.insert(TypeId::of::<T>(), Box::new(asked));
    }
}

/// Values over the defaults; a value that passes its fields and not the struct is a problem too.
fn over_defaults<S: Settings>(given: Value, problems: &mut Problems) -> S {
    let mut whole = serde_json::to_value(S::default()).unwrap_or(Value::Null);
    if let (Value::Object(whole), Value::Object(given)) = (&mut whole, given) {
        whole.extend(given);
    }
    match serde_json::from_value(whole) {
        Ok(made) => made,
        Err(e) => {
            problems.wrong("", formkin_table::wording::plain(&e.to_string()), "");
            S::default()
        }
    }
}

fn both(a: &impl Serialize, b: &impl Serialize) -> Value {
    let object = |v: Result<Value, _>| match v {
        Ok(Value::Object(o)) => o,
        _ => Map::new(),
    };
    let mut all = object(serde_json::to_value(a));
    all.extend(object(serde_json::to_value(b)));
    Value::Object(all)
}

/// What a study file could say: the sources that a study names, and the settings.
fn study_view<T: Task>(asked: &Asked<T>) -> Value {
    let Value::Object(all) = both(&asked.sources, &asked.settings) else { return Value::Null };
    let keys = section_fields::<T>();
    Value::Object(all.into_iter().filter(|(k, _)| keys.iter().any(|f| f.name == *k)).collect())
}

/// Sources with their paths starting from a folder; words that are no paths stay.
fn from_folder<S: Settings>(sources: &S, folder: &Path) -> S {
    let Ok(Value::Object(mut object)) = serde_json::to_value(sources) else { return sources.clone() };
    for field in fields::<S>().iter().filter(|f| f.study) {
        let Some(value) = object.get_mut(&field.name) else { continue };
        let places = match value {
            Value::Array(list) => list.iter_mut().collect(),
            one => vec![one],
        };
        for place in places {
            if let Value::String(word) = place
                && !word.is_empty()
                && !field.words.contains(word)
            {
                *word = folder.join(&*word).display().to_string();
            }
        }
    }
    serde_json::from_value(Value::Object(object)).unwrap_or_else(|_| sources.clone())
}
