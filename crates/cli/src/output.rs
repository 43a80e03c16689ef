//! What a person and a program are told, in one place.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the one place that writes to the terminal")]

use std::io::{self, IsTerminal, Write};

use serde_json::Value;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub(crate) enum Exit {
    /// The work is done.
    Done = 0,
    /// The work is done and there are findings.
    Findings = 1,
    /// The request or the data is wrong.
    Wrong = 2,
    /// The program is wrong.
    Fault = 3,
}

/// Where messages and results go.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Output {
    json: bool,
    quiet: bool,
}

impl Output {
    pub(crate) fn new(json: bool, quiet: bool) -> Self {
        Self { json, quiet }
    }

    /// Whether progress bars are drawn: a person watches and did not ask for silence.
    pub(crate) fn bars(&self) -> bool {
        !self.quiet && io::stderr().is_terminal()
    }

    /// A line for people, on standard error.
    pub(crate) fn say(&self, line: impl AsRef<str>) {
        if !self.quiet {
            let _ = writeln!(io::stderr().lock(), "{}", line.as_ref());
        }
    }

    /// The result: with `--json` the object, otherwise the text. A reader that went away is no error.
    pub(crate) fn result(&self, object: &Value, text: impl AsRef<str>) -> anyhow::Result<()> {
        let line = if self.json { serde_json::to_string(object)? } else { text.as_ref().to_owned() };
        match writeln!(io::stdout().lock(), "{}", line.trim_end()) {
            Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(e.into()),
            _ => Ok(()),
        }
    }

    /// An error with its chain of causes; with `--json` also as an object, so that a program reads one object whatever happens.
    pub(crate) fn error(&self, error: &anyhow::Error) {
        let mut message = String::new();
        for cause in error.chain() {
            let cause = cause.to_string();
            if !message.contains(&cause) {
                if !message.is_empty() {
                    message.push_str("\n  because ");
                }
                message.push_str(&cause);
            }
        }
        let message = message.lines().map(shortened).collect::<Vec<_>>().join("\n");
        let _ = writeln!(io::stderr().lock(), "formkin: {message}");
        if self.json {
            let _ = writeln!(io::stdout().lock(), "{}", serde_json::json!({ "error": message }));
        }
    }
}

/// The object of a request that cannot be understood; the words for people are written where they were read.
pub(crate) fn usage_error(message: &str) {
    let first = message.split("\n\n").next().unwrap_or_default();
    let words = first.split_whitespace().collect::<Vec<_>>().join(" ");
    let words = words.strip_prefix("error: ").unwrap_or(&words);
    let _ = writeln!(io::stdout().lock(), "{}", serde_json::json!({ "error": words }));
}

/// The longest line of a message, in characters: a list of a hundred names, or a quoted line of a wrong file, says no more whole.
const LONGEST: usize = 600;

fn shortened(line: &str) -> String {
    if line.chars().count() <= LONGEST {
        return line.to_owned();
    }
    line.chars().take(LONGEST).chain(" ...".chars()).collect()
}

/// Says that the program itself is at fault.
pub(crate) fn internal_fault(place: &str, message: &str) {
    let _ = writeln!(
        io::stderr().lock(),
        "formkin: an internal fault at {place}: {message}\n  This is a mistake in the program, not in your data; nothing half-written was left under its final name."
    );
}

/// Bytes on standard output as they are. A reader that went away is no error.
pub(crate) fn write_stdout(bytes: &[u8]) -> anyhow::Result<()> {
    match io::stdout().lock().write_all(bytes) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(e.into()),
        _ => Ok(()),
    }
}

/// A number of people in words: "1 person", "12 people".
pub(crate) fn people(n: usize) -> String {
    if n == 1 { "1 person".to_owned() } else { format!("{n} people") }
}
