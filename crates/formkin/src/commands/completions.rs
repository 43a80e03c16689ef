//! `formkin completions`: the completions of a shell.

use clap::CommandFactory;

use crate::args::Cli;
use crate::output::Exit;

pub(crate) fn run(shell: clap_complete::Shell) -> anyhow::Result<Exit> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "formkin", &mut script);
    crate::output::write_stdout(&script)?;
    Ok(Exit::Done)
}
