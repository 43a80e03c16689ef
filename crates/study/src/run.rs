//! The stages of a study in order, each run only where its inputs changed.

use std::path::{Path, PathBuf};
use std::time::Instant;

use formkin_align::AlignParams;
use formkin_cohort::{CheckParams, Checks, Cohort, ImportParams, ImportReport, check, import};
use formkin_measure::Dimensions;
use formkin_shape::{CriteriaParams, QualityParams, ShapeError, SpaceParams};
use formkin_sizing::{Chart, Plan, SizeSystem};
use formkin_table::Table;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::cache::{Cache, Key, file_hash};
use crate::choose::{self, Items};
use crate::deliver::{self, Results};
use crate::file::SizingSection;
use crate::job::deep_files::allowance_table;
use crate::job::describe::describe;
use crate::job::mannequin::{Mannequins, mannequins};
use crate::job::measure::{MeasureJob, MeasureOutcome, measure};
use crate::job::size::{Sizing, SizingJob, with_coefficients};
use crate::job::space::{SpaceJob, SpaceOutcome, fit_space};
use crate::job::together::Together;
use crate::outputs::{Outputs, Read, StageRecord};
use crate::{StudyError, StudyFile, preflight};

mod movements;

/// The folder, beside the results, of the imported shapes.
pub const COHORT: &str = "study.cohort";

/// What happens while a study runs.
#[derive(Debug, Clone, Copy)]
pub enum Step<'a> {
    /// `done` of `of` parts of a stage are done.
    Progress {
        /// The stage.
        stage: &'a str,
        /// Parts done.
        done: usize,
        /// Parts in all.
        of: usize,
    },
    /// A stage has ended.
    Ends {
        /// The stage.
        stage: &'a str,
        /// How long it took, in s.
        seconds: f64,
        /// Whether an earlier result was kept.
        kept: bool,
    },
}

/// Who is told what happens.
pub type Watch<'a> = &'a (dyn Fn(Step<'_>) + Sync);

/// How a study is run.
#[derive(Debug, Clone, Copy, Default)]
pub struct StudyOptions {
    /// Write over files that no earlier run wrote.
    pub force: bool,
    /// Run every stage, whatever is kept.
    pub afresh: bool,
}

/// What a study gave.
#[derive(Debug, Clone)]
pub struct StudyResult {
    /// The content of `summary.json`.
    pub summary: serde_json::Value,
    /// The report.
    pub report: PathBuf,
    /// Every file written.
    pub outputs: Vec<PathBuf>,
    /// The stages as they ran.
    pub stages: Vec<Stage>,
}

/// A stage as it ran.
pub type Stage = StageRecord;

/// A study file and the folder its paths start from.
#[derive(Debug, Clone)]
pub struct Study {
    file: StudyFile,
    folder: PathBuf,
}

impl Study {
    /// Reads a study file and checks it, with the files it names, before anything is run.
    ///
    /// # Errors
    /// [`StudyError::Read`]; [`StudyError::Wrong`] with everything that is wrong with keys, ranges, names and files of all sections.
    pub fn load(path: &Path) -> Result<Self, StudyError> {
        let folder = path.parent().map_or_else(PathBuf::new, Path::to_owned);
        let text = read_text(path)?;
        let file = preflight::check(&text, &folder)
            .map_err(|problems| StudyError::Wrong { path: path.to_owned(), problems })?;
        Ok(Self { file, folder })
    }

    /// What the file says, defaults filled in.
    #[must_use]
    pub fn file(&self) -> &StudyFile {
        &self.file
    }

    pub(crate) fn at(&self, path: &Path) -> PathBuf {
        self.folder.join(path)
    }

    /// The folder of the results.
    #[must_use]
    pub fn results(&self) -> PathBuf {
        // `.` means the folder of the study file itself, and is not shown in paths
        self.at(&self.file.export.folder).components().collect()
    }

    /// Runs the stages whose inputs changed and writes the results.
    ///
    /// # Errors
    /// The first thing that is wrong with files, settings or data. Files written until then are whole.
    pub fn run(&self, options: StudyOptions, watch: Watch<'_>) -> Result<StudyResult, StudyError> {
        let root = self.results();
        let mut run = Run {
            study: self,
            outputs: Outputs::open(&root, options.force)?,
            cache: Cache::new(root.join("cache"), options.afresh),
            watch,
            stages: Vec::new(),
            read: Vec::new(),
        };
        let (cohort, import_key) = run.cohort(&root, options)?;
        let checks = run.checks(&cohort, &import_key)?;
        let (mut space, mut space_key) = run.space(&cohort, &import_key)?;
        let measured = run.measured(&cohort, &import_key)?;
        if let (Some(space), Some(measured)) = (&mut space, &measured) {
            space_key = run.describe(&cohort, space, measured, &space_key)?;
        }
        let answers = run.answers(&cohort, space.as_ref(), measured.as_ref(), &space_key)?;
        let movements = run.movements(&cohort, &import_key)?;
        let together = run.together(&cohort, &movements)?;
        let points = run.points()?;
        let sizing = run.sizing(&cohort, measured.as_ref(), space.as_ref(), &together)?;
        let mannequins = run.mannequins(space.as_ref(), sizing.as_ref().map(|s| &s.1.system), &space_key)?;
        let results = Results {
            cohort: &cohort,
            checks,
            space,
            answers,
            measured,
            movements,
            together,
            points,
            sizing,
            mannequins,
        };
        deliver::all(run, &results, &space_key)
    }
}

/// A run in progress.
pub(crate) struct Run<'a> {
    pub(crate) study: &'a Study,
    pub(crate) outputs: Outputs,
    pub(crate) stages: Vec<StageRecord>,
    pub(crate) read: Vec<Read>,
    cache: Cache,
    watch: Watch<'a>,
}

impl Run<'_> {
    /// One stage: kept from before or made now, told to whoever watches, and recorded.
    pub(crate) fn stage<T: Serialize + DeserializeOwned>(
        &mut self,
        stage: &str,
        key: &Key,
        make: impl FnOnce(&(dyn Fn(usize, usize) + Sync)) -> Result<T, StudyError>,
    ) -> Result<T, StudyError> {
        let began = Instant::now();
        let watch = self.watch;
        let progress = |done, of| watch(Step::Progress { stage, done, of });
        let (made, kept) = self.cache.stage(stage, key, || make(&progress))?;
        self.record(stage, key, kept, began);
        Ok(made)
    }

    pub(crate) fn record(&mut self, stage: &str, key: &Key, kept: bool, began: Instant) {
        let seconds = began.elapsed().as_secs_f64();
        (self.watch)(Step::Ends { stage, seconds, kept });
        let key = key.as_str().to_owned();
        self.stages.push(StageRecord { stage: stage.to_owned(), key, kept, seconds });
    }

    /// The key of a file of the study, which is noted as read.
    fn input(&mut self, path: &Path) -> Result<Key, StudyError> {
        let full = self.study.at(path);
        let sha256 = file_hash(&full)?;
        self.read.push(Read { path: path.display().to_string(), sha256: sha256.clone() });
        Ok(Key::from_hash(sha256))
    }

    fn cohort(&mut self, root: &Path, options: StudyOptions) -> Result<(Cohort, Key), StudyError> {
        let input = &self.study.file.input;
        let patterns: Vec<String> =
            input.meshes.iter().map(|m| self.study.at(Path::new(m)).display().to_string()).collect();
        let params = ImportParams {
            unit: choose::unit("[input] unit", &input.unit)?,
            up: choose::up("[input] up", &input.up)?,
            fps: input.fps,
            template: input.template.as_ref().map(|t| self.study.at(t)),
            participants: input.participants.as_ref().map(|t| self.study.at(t)),
            force: true,
            ..ImportParams::default()
        };
        let mut keys = Vec::new();
        for path in formkin_cohort::input_files(&patterns, &params)? {
            let sha256 = file_hash(&path)?;
            let shown = path.strip_prefix(&self.study.folder).unwrap_or(&path).display().to_string();
            self.read.push(Read { path: shown.clone(), sha256: sha256.clone() });
            keys.push((shown, sha256));
        }
        let key = Key::of("import", &(input, &keys), &[])?;
        let into = root.join(COHORT);
        let began = Instant::now();
        if !options.afresh
            && self.cache.has::<ImportReport>("import", &key)
            && let Ok(cohort) = Cohort::open(&into)
        {
            self.record("import", &key, true, began);
            return Ok((cohort, key));
        }
        self.cache.forget("import");
        self.stage("import", &key, |progress| Ok(import(&patterns, &into, &params, progress)?))?;
        Ok((Cohort::open(&into)?, key))
    }

    fn checks(&mut self, cohort: &Cohort, import_key: &Key) -> Result<Checks, StudyError> {
        let params = CheckParams::default();
        let key = Key::of("check", &params, &[import_key])?;
        self.stage("check", &key, |progress| Ok(check(cohort, &params, progress)?))
    }

    fn space(
        &mut self,
        cohort: &Cohort,
        import_key: &Key,
    ) -> Result<(Option<SpaceOutcome>, Key), StudyError> {
        let (align, space) = (&self.study.file.align, &self.study.file.space);
        let job = SpaceJob {
            params: SpaceParams {
                align: AlignParams {
                    removes: choose::removes("[align] removes", &align.removes)?,
                    weighting: choose::weighting("[align] weights", &align.weights, cohort.template())?,
                    ..AlignParams::default()
                },
                max_modes: space.modes,
                folds: space.folds,
                target_mm: space.target_mm,
                seed: space.seed,
                cross_validate: space.cross_validate,
            },
            items: Items::parse("[space] items", &space.items)?,
            criteria: space.criteria.then(|| CriteriaParams {
                nulls: space.nulls,
                draws: space.draws,
                seed: space.seed,
                ..CriteriaParams::default()
            }),
            quality: space.quality.then(|| QualityParams {
                seed: space.seed,
                surfaces: space.surfaces,
                ..QualityParams::default()
            }),
        };
        let key = Key::of("space", &job, &[import_key])?;
        if job.items.of(cohort)?.len() < 2 {
            return Ok((None, key));
        }
        let made = self.stage("space", &key, |progress| fit_space(cohort, &job, progress))?;
        Ok((Some(made), key))
    }

    fn dimensions(&mut self) -> Result<Option<(Dimensions, Key, Option<String>)>, StudyError> {
        let Some(section) = &self.study.file.dimensions else { return Ok(None) };
        let key = self.input(&section.definitions)?;
        let dimensions = read_dimensions(&self.study.at(&section.definitions))?;
        Ok(Some((dimensions, key, section.by.clone())))
    }

    fn measured(&mut self, cohort: &Cohort, import_key: &Key) -> Result<Option<MeasureOutcome>, StudyError> {
        let Some((dimensions, _, by)) = self.dimensions()? else { return Ok(None) };
        let job = MeasureJob { dimensions, items: Items::Stills, by };
        let key = Key::of("measure", &job, &[import_key])?;
        self.stage("measure", &key, |progress| measure(cohort, &job, progress)).map(Some)
    }

    /// Gives the space what predictions from the dimensions need.
    fn describe(
        &mut self,
        cohort: &Cohort,
        space: &mut SpaceOutcome,
        measured: &MeasureOutcome,
        space_key: &Key,
    ) -> Result<Key, StudyError> {
        let Some(section) = &self.study.file.dimensions else { return Ok(space_key.clone()) };
        let dimensions = read_dimensions(&self.study.at(&section.definitions))?;
        let began = Instant::now();
        let job = self.study.file.predict.clone().unwrap_or_default();
        let key = Key::of("predict", &(&job, &measured.table, &dimensions), &[space_key])?;
        match describe(cohort, space, &measured.table, &dimensions, &job) {
            Ok(notes) => space.notes.extend(notes),
            // a study of few people goes on without predictions, and says so
            Err(StudyError::Shape(ShapeError::TooFewPeople { .. })) => {
                let people = space.fitted.space.people;
                space
                    .notes
                    .push(format!("Nothing can be predicted from dimensions: {people} people are too few."));
            }
            Err(e) => return Err(e),
        }
        self.record("predict", &key, false, began);
        Ok(key)
    }

    fn sizing(
        &mut self,
        cohort: &Cohort,
        measured: Option<&MeasureOutcome>,
        space: Option<&SpaceOutcome>,
        together: &Together,
    ) -> Result<Option<(Table, Sizing)>, StudyError> {
        let Some(section) = self.study.file.sizing.clone() else { return Ok(None) };
        let mut job = SizingJob::default();
        if let Some(path) = &section.plan {
            self.input(path)?;
            job.plan = Some(read_plan(&self.study.at(path))?);
        }
        if let Some(path) = &section.chart {
            self.input(path)?;
            job.chart = Some(read_chart(&self.study.at(path))?);
        }
        if let Some(path) = &section.assign {
            job.new_people = Some(self.table(path)?);
        }
        job.allowances = match &section.allowances {
            Some(path) if path.as_os_str() == SizingSection::MOVEMENTS => Some(allowance_table(together)?),
            Some(path) => Some(self.table(path)?),
            None => None,
        };
        let mut table = match (&section.table, measured) {
            (Some(path), _) => self.table(path)?,
            (None, Some(measured)) => measured.people.clone(),
            (None, None) => return Ok(None),
        };
        if let (Some(plan), Some(space)) = (&job.plan, space) {
            let people = space.items.iter().map(|&i| cohort.items()[i].participant.as_str());
            let rows = people.zip(space.fitted.coefficients.iter().map(Vec::as_slice));
            table = with_coefficients(&table, plan, &space.fitted.space, rows);
        }
        let key = Key::of("sizing", &(&job, &table), &[])?;
        let made = self.stage("sizing", &key, |_| job.run(&table))?;
        Ok(Some((table, made)))
    }

    fn table(&mut self, path: &Path) -> Result<Table, StudyError> {
        self.input(path)?;
        read_table(&self.study.at(path))
    }

    /// The mannequins of the sizes, where there is a space to make them from.
    fn mannequins(
        &mut self,
        space: Option<&SpaceOutcome>,
        system: Option<&SizeSystem>,
        space_key: &Key,
    ) -> Result<Mannequins, StudyError> {
        let (Some(space), Some(system)) = (space, system) else { return Ok(Mannequins::default()) };
        let key = Key::of("mannequins", system, &[space_key])?;
        self.stage("mannequins", &key, |_| mannequins(&space.fitted.space, system))
    }
}

/// Reads a file of definitions of dimensions.
///
/// # Errors
/// [`StudyError::Read`], or what the definitions say wrong, with the file.
pub fn read_dimensions(path: &Path) -> Result<Dimensions, StudyError> {
    let text = read_text(path)?;
    Dimensions::from_toml(&text)
        .map_err(|e| StudyError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// Reads the plan of a size system.
///
/// # Errors
/// [`StudyError::Read`], or what the plan says wrong, with the file.
pub fn read_plan(path: &Path) -> Result<Plan, StudyError> {
    let text = read_text(path)?;
    Plan::from_toml(&text).map_err(|e| StudyError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// Reads a size chart.
///
/// # Errors
/// [`StudyError::Read`], or what is wrong with the chart, with the file.
pub fn read_chart(path: &Path) -> Result<Chart, StudyError> {
    Chart::of(&read_table(path)?)
        .map_err(|e| StudyError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// Reads a table of people.
///
/// # Errors
/// [`StudyError::Read`], or what is wrong with the table.
pub fn read_table(path: &Path) -> Result<Table, StudyError> {
    let text = read_text(path)?;
    Ok(Table::parse_csv(&text, &path.display().to_string(), None)?)
}

fn read_text(path: &Path) -> Result<String, StudyError> {
    std::fs::read_to_string(path).map_err(|source| StudyError::Read { path: path.to_owned(), source })
}
