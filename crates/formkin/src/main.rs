//! The program `formkin`: reads what a person typed, runs one command, says what came of it.
//!
//! Results go to standard output, everything else to standard error. Exit codes: 0 done, 1 findings, 2 the request or the
//! data is wrong, 3 an internal fault.

mod args;
mod capability;
mod commands;
mod fault;
mod files;
mod options;
mod output;
mod progress;
mod reference;

use std::process::ExitCode;

use clap::{ArgMatches, CommandFactory, FromArgMatches};

use crate::args::{Cli, Command};
use crate::fault::{guarded, watch};
use crate::output::Output;

fn main() -> ExitCode {
    let matches = match capability::commands(Cli::command()).try_get_matches() {
        Ok(matches) => matches,
        Err(error) if error.use_stderr() => {
            // with --json a program reads one object whatever happens
            let json = std::env::args_os().any(|a| a == "--json");
            output::usage_error(&error.to_string(), json);
            return ExitCode::from(error.exit_code() as u8);
        }
        // help and versions are no errors
        Err(error) => error.exit(),
    };
    let output = Output::new(matches.get_flag("json"), matches.get_flag("quiet"));
    watch();
    ExitCode::from(guarded(&output, &mut std::io::stdout(), || run(&matches, &output)) as u8)
}

/// The name of the command, and what was given for it; a command under another one has both names.
fn chosen(matches: &ArgMatches) -> Option<(String, &ArgMatches)> {
    let (name, own) = matches.subcommand()?;
    Some(match chosen(own) {
        Some((inner, own)) => (format!("{name} {inner}"), own),
        None => (name.to_owned(), own),
    })
}

fn run(matches: &ArgMatches, output: &Output) -> anyhow::Result<output::Exit> {
    if let Some(threads) = matches.get_one::<usize>("threads") {
        anyhow::ensure!(*threads > 0, "--threads must be at least 1");
        rayon::ThreadPoolBuilder::new().num_threads(*threads).build_global()?;
    }
    if let Some((commands::import::NAME, own)) = matches.subcommand() {
        return commands::import::run(own, output);
    }
    if let Some((name, own)) = chosen(matches)
        && let Some(done) = capability::run(&name, own, output)
    {
        return done;
    }
    let cli = Cli::from_arg_matches(matches)?;
    match &cli.command {
        Command::Demo(args) => commands::demo::run(args, output),
        Command::Study(args) => commands::study::run(args, output),
        Command::Inspect(args) => commands::inspect::run(args, output),
        Command::Reference => {
            let text = reference::markdown(&capability::commands(Cli::command()));
            output::write_stdout(text.as_bytes())?;
            Ok(output::Exit::Done)
        }
        Command::Completions { shell } => commands::completions::run(*shell),
    }
}
