//! A command that is a task: its options, its run, what it writes and says. One for all tasks.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::{Arg, ArgAction, ArgMatches, Command};
use formkin_report::document::{Document, Front, Section, joined};
use formkin_report::{html, text};
use formkin_tasks::delivery::{Content, Deliverable, Delivery};
use formkin_tasks::fields::fields;
use formkin_tasks::names::{now, program};
use formkin_tasks::problem::Given;
use formkin_tasks::registry::{Visitor, visit_all};
use formkin_tasks::{Facts, Problems, Store, Target, Task};
use rayon::prelude::*;
use serde_json::json;

use crate::files::{free, make_folder, ready, write};
use crate::options::{args, given};
use crate::output::{Exit, Output};
use crate::progress::Bars;

/// The commands of all tasks, under those whose names they begin with.
pub(crate) fn commands(mut program: Command) -> Command {
    struct Commands(Vec<Command>);
    impl Visitor for Commands {
        fn visit<T: Task>(&mut self) {
            if T::IS_COMMAND {
                self.0.push(command::<T>());
            }
        }
    }
    let mut made = Commands(vec![crate::commands::import::command()]);
    visit_all(&mut made);
    for command in made.0 {
        let name = command.get_name().to_owned();
        program = match name.split_once(' ') {
            Some((parent, own)) => {
                let own = own.to_owned();
                if program.find_subcommand(parent).is_none() {
                    program = program.subcommand(family(parent));
                }
                program.mut_subcommand(parent, |p| p.subcommand(command.name(own)))
            }
            None => program.subcommand(command),
        };
    }
    program
}

/// A command that others stand under.
fn family(name: &str) -> Command {
    let about = match name {
        "export" => "Write spaces, bodies, coefficients and data sets in open formats",
        _ => "Several commands",
    };
    Command::new(name.to_owned()).about(about).subcommand_required(true).arg_required_else_help(true)
}

fn command<T: Task>() -> Command {
    let mut command = Command::new(T::NAME).about(T::ABOUT).after_help(T::EXAMPLES);
    command = command.args(args(&fields::<T::Sources>())).args(args(&fields::<T::Settings>()));
    for target in T::TARGETS {
        let Some(option) = target.option() else { continue };
        let arg = Arg::new(format!(">{option}")).long(option);
        let arg = match target {
            Target::Folder { about, required, .. } => arg
                .value_name("DIR")
                .help(*about)
                .required(*required)
                .value_parser(clap::value_parser!(PathBuf)),
            Target::File { value, about, required, .. } => arg
                .value_name(*value)
                .help(*about)
                .required(*required)
                .value_parser(clap::value_parser!(PathBuf)),
            Target::Inside { .. } => continue,
        };
        command = command.arg(arg);
    }
    if !T::TARGETS.iter().any(|t| t.option() == Some("report")) {
        command = command.arg(
            Arg::new(">report")
                .long("report")
                .value_name("FILE.html")
                .help("Also write the result as a page of HTML")
                .value_parser(clap::value_parser!(PathBuf)),
        );
    }
    command.arg(Arg::new("force").long("force").action(ArgAction::SetTrue).help("Write over existing files"))
}

/// Runs the task that was asked for; `None` where what was asked for is no task.
pub(crate) fn run(name: &str, matches: &ArgMatches, output: &Output) -> Option<anyhow::Result<Exit>> {
    struct Run<'a> {
        name: &'a str,
        matches: &'a ArgMatches,
        output: &'a Output,
        done: Option<anyhow::Result<Exit>>,
    }
    impl Visitor for Run<'_> {
        fn visit<T: Task>(&mut self) {
            if T::IS_COMMAND && T::NAME == self.name {
                self.done = Some(run_task::<T>(self.matches, self.output));
            }
        }
    }
    let mut run = Run { name, matches, output, done: None };
    visit_all(&mut run);
    run.done
}

fn run_task<T: Task>(matches: &ArgMatches, output: &Output) -> anyhow::Result<Exit> {
    let sources: T::Sources = given(&fields::<T::Sources>(), matches)?;
    let settings: T::Settings = given(&fields::<T::Settings>(), matches)?;
    let mut problems = Problems::new(Given::Command);
    T::check(&sources, &settings, &Facts::default(), &mut problems);
    refuse(&problems)?;
    let places = Places::of::<T>(matches, &sources)?;
    T::check_targets(&sources, &settings, &places.given, &mut problems);
    refuse(&problems)?;
    let inputs = T::open(&sources, &settings)?;
    let bars = Bars::new(output);
    let outcome = T::run(&settings, &inputs, &|done, of| bars.tick(T::NAME, done, of));
    bars.clear();
    let outcome = outcome?;

    let mut object = T::object(&settings, &inputs, &outcome)?;
    let sections = T::section(&settings, &inputs, &outcome, &Store::new(PathBuf::new()))?;
    let mut paths = Vec::new();
    let (mut printed, mut unwritten) = (None, Vec::new());
    if !places.any()
        && !output.json()
        && let Some(name) = T::PRINTED
    {
        let delivery = T::deliver(&settings, &inputs, &outcome)?;
        let table = |f: &&Deliverable<'_>| f.name == name && matches!(f.content, Content::Sheet(_));
        let file = delivery.files.iter().find(table);
        let bytes = file.map(|f| f.to_bytes(name)).transpose()?;
        printed = bytes.map(|b| String::from_utf8_lossy(&b).into_owned());
    }
    if places.any() {
        let delivery = T::deliver(&settings, &inputs, &outcome)?;
        paths = places.write(&delivery)?;
        for (path, name) in &places.inside {
            match place_inside(path, name, &delivery) {
                Ok(()) => paths.push(path.clone()),
                Err(e) => unwritten.push(format!("{e:#}")),
            }
        }
        if let Some(path) = &places.report {
            let page = page::<T>(T::front(&settings, &inputs, &outcome)?, &sections)?;
            write(path, &page, places.force)?;
            paths.push(path.clone());
        }
    }
    let name = T::OBJECT.map_or_else(|| format!("{}.json", T::NAME), str::to_owned);
    let summary = places.folder.as_ref().filter(|_| T::OBJECT_IN_FOLDER).map(|f| f.join(name));
    paths.extend(summary.clone());
    object["settings"] = serde_json::to_value(&settings)?;
    object["outputs"] = json!(paths);
    if !unwritten.is_empty() {
        object["not_written"] = json!(unwritten);
    }
    if let Some(path) = summary {
        write(&path, &serde_json::to_vec_pretty(&object)?, places.force)?;
    }
    let mut lines: Vec<String> =
        sections.iter().map(|s| text::answer(s).trim_end().to_owned()).filter(|t| !t.is_empty()).collect();
    lines.extend(paths.iter().map(|p| format!("written: {}", p.display())));
    lines.extend(unwritten.iter().map(|why| format!("not written: {why}")));
    output.result(&object, printed.unwrap_or_else(|| lines.join("\n")))?;
    Ok(if T::finds(&outcome) { Exit::Findings } else { Exit::Done })
}

/// Refuses what was found to be wrong.
fn refuse(problems: &Problems) -> anyhow::Result<()> {
    if problems.found.is_empty() {
        return Ok(());
    }
    let said: Vec<String> = problems.found.iter().map(ToString::to_string).collect();
    bail!("{}", said.join("\n"))
}

/// The result of one task as a page.
fn page<T: Task>(front: Option<Front>, sections: &[Section]) -> anyhow::Result<Vec<u8>> {
    let document = Document {
        program: program(),
        byline: format!("Made {}, with {}", now(), program()),
        title: T::ABOUT.to_owned(),
        front,
        sections: joined(sections.to_vec()),
        ..Document::default()
    };
    Ok(html::render(&document)?.into_bytes())
}

/// Puts a delivered file into the folder of a source, over an earlier one.
fn place_inside(path: &Path, name: &str, delivery: &Delivery<'_>) -> anyhow::Result<()> {
    let file = delivery.files.iter().find(|f| f.name == name);
    let file = file.with_context(|| format!("{}: there is no such result here", path.display()))?;
    write(path, &file.to_bytes(name)?, true)
}

/// Where results go.
struct Places {
    /// Every path that was given, by option.
    given: BTreeMap<&'static str, PathBuf>,
    folder: Option<PathBuf>,
    /// A path for a delivered file.
    files: Vec<(PathBuf, &'static str)>,
    /// A path inside a source for a delivered file.
    inside: Vec<(PathBuf, &'static str)>,
    report: Option<PathBuf>,
    force: bool,
}

impl Places {
    /// Reads the targets, and refuses before any work is done what cannot be written.
    fn of<T: Task>(matches: &ArgMatches, sources: &T::Sources) -> anyhow::Result<Self> {
        let force = matches.get_flag("force");
        let path = |option: &str| matches.get_one::<PathBuf>(&format!(">{option}")).cloned();
        let option = |t: &Target| t.option().and_then(|o| Some((o, path(o)?)));
        let given = T::TARGETS.iter().filter_map(option).collect();
        let (files, inside) = (Vec::new(), Vec::new());
        let mut places = Self { given, folder: None, files, inside, report: path("report"), force };
        let sources = serde_json::to_value(sources)?;
        for target in T::TARGETS {
            match target {
                Target::Folder { option, .. } => places.folder = path(option),
                Target::File { option, name, .. } => places.files.extend(path(option).map(|p| (p, *name))),
                Target::Inside { source, name } => {
                    let folder = sources[*source].as_str().map(Path::new);
                    places.inside.extend(folder.map(|f| (f.join(name), *name)));
                }
            }
        }
        if let Some(folder) = &places.folder {
            ready(folder, T::NAMES, force)?;
        }
        let files = places.files.iter().map(|(path, _)| path.as_path());
        free(files.chain(places.report.as_deref()), force)?;
        Ok(places)
    }

    fn any(&self) -> bool {
        self.folder.is_some() || !self.files.is_empty() || !self.inside.is_empty() || self.report.is_some()
    }

    /// Writes what was delivered, and says where. Nothing is written where anything is in the way.
    fn write(&self, delivery: &Delivery<'_>) -> anyhow::Result<Vec<PathBuf>> {
        let mut placed: Vec<(PathBuf, &Deliverable<'_>)> = Vec::new();
        for (path, name) in &self.files {
            let Some(file) = delivery.files.iter().find(|f| f.name == *name) else {
                bail!("{}: there is no such result here", path.display());
            };
            placed.push((path.clone(), file));
        }
        if let Some(folder) = &self.folder {
            let named = |name: &str| self.files.iter().any(|(_, n)| *n == name);
            let inside = delivery.files.iter().filter(|f| !named(&f.name));
            let inside: Vec<_> = inside.map(|f| (folder.join(&f.name), f)).collect();
            let there: Vec<&Path> = inside.iter().map(|(p, _)| p.as_path()).filter(|p| p.exists()).collect();
            free(there, self.force)?;
            make_folder(folder)?;
            placed.extend(inside);
        }
        let written: Vec<Vec<PathBuf>> =
            placed.into_par_iter().map(|(path, file)| self.put(path, file)).collect::<anyhow::Result<_>>()?;
        Ok(written.into_iter().flatten().collect())
    }

    /// Writes one file or folder that was delivered, and says where.
    fn put(&self, path: PathBuf, file: &Deliverable<'_>) -> anyhow::Result<Vec<PathBuf>> {
        if let Content::Folder(make) = &file.content {
            return Ok(make(&path, self.force)?);
        }
        if let Some(parent) = path.parent().filter(|p| self.folder.is_some() && !p.as_os_str().is_empty()) {
            make_folder(parent)?;
        }
        let shown = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        write(&path, &file.to_bytes(&shown)?, self.force)?;
        Ok(vec![path])
    }
}
