//! What a person and a program are told, in one place.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the one place that writes to the terminal")]

use std::io::{self, IsTerminal, Write};

use formkin_study::StudyError;
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

    pub(crate) fn json(&self) -> bool {
        self.json
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
        let line = if self.json {
            let mut object = object.clone();
            without_negative_zeros(&mut object);
            serde_json::to_string(&object)?
        } else {
            text.as_ref().to_owned()
        };
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
            let mut told = serde_json::json!({ "error": message, "kind": "request" });
            if let Some(StudyError::Wrong { problems, .. }) =
                error.chain().find_map(|e| e.downcast_ref::<StudyError>())
            {
                told["problems"] = serde_json::json!(problems);
            }
            let _ = writeln!(io::stdout().lock(), "{told}");
        }
    }
}

/// A request that cannot be understood: the words for people, and with `--json` the object.
pub(crate) fn usage_error(message: &str, json: bool) {
    let message = in_words(message);
    let _ = writeln!(io::stderr().lock(), "{}", message.trim_end());
    if json {
        let first = message.split("\n\n").next().unwrap_or_default();
        let words = first.split_whitespace().collect::<Vec<_>>().join(" ");
        let words = words.strip_prefix("error: ").unwrap_or(&words);
        let _ = writeln!(io::stdout().lock(), "{}", serde_json::json!({ "error": words, "kind": "usage" }));
    }
}

/// What the reader of arguments says of numbers, in words that say what is allowed.
fn in_words(message: &str) -> String {
    const WORDS: [(&str, &str); 6] = [
        ("invalid digit found in string", "it must be a whole number, 0 or more"),
        ("cannot parse integer from empty string", "it must be a whole number, 0 or more"),
        ("number too large to fit in target type", "the number is too large"),
        ("number too small to fit in target type", "the number is too small"),
        ("invalid float literal", "it must be a number, with a decimal point"),
        ("cannot parse float from empty string", "it must be a number, with a decimal point"),
    ];
    WORDS.iter().fold(message.to_owned(), |text, (of, by)| text.replace(of, by))
}

/// -0 is 0 to everyone but the machine.
fn without_negative_zeros(value: &mut Value) {
    match value {
        Value::Number(n) if n.as_f64() == Some(0.0) && n.is_f64() => *value = Value::from(0.0),
        Value::Array(list) => list.iter_mut().for_each(without_negative_zeros),
        Value::Object(map) => map.values_mut().for_each(without_negative_zeros),
        _ => {}
    }
}

/// The longest line of a message, in characters: a list of a hundred names, or a quoted line of a wrong file, says no more whole.
const LONGEST: usize = 600;

fn shortened(line: &str) -> String {
    if line.chars().count() <= LONGEST {
        return line.to_owned();
    }
    line.chars().take(LONGEST).chain(" ...".chars()).collect()
}

/// Says that the program itself is at fault; what was said first of it.
pub(crate) fn internal_fault(place: &str, message: &str) -> String {
    let told = format!("an internal fault at {place}: {message}");
    let _ = writeln!(
        io::stderr().lock(),
        "formkin: {told}\n  This is a mistake in the program, not in your data; nothing half-written was left under its final name."
    );
    told
}

/// Bytes on standard output as they are. A reader that went away is no error.
pub(crate) fn write_stdout(bytes: &[u8]) -> anyhow::Result<()> {
    match io::stdout().lock().write_all(bytes) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(e.into()),
        _ => Ok(()),
    }
}

/// A number with the word for one or for several: "1 finding", "3 findings".
pub(crate) fn counted(n: usize, one: &str, several: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { several })
}

/// A number of people in words: "1 person", "12 people".
pub(crate) fn people(n: usize) -> String {
    counted(n, "person", "people")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_arguments_are_spoken_of_in_words() {
        let said = in_words("error: invalid value 'x' for '--modes <N>': invalid digit found in string");
        assert!(said.ends_with("it must be a whole number, 0 or more"), "{said}");
        assert!(in_words("'--fps <N>': invalid float literal").contains("decimal point"));
    }

    #[test]
    fn nothing_is_minus_nothing() {
        let mut value =
            serde_json::json!({ "share": -0.0, "list": [-0.0, 1.5, -2.0], "n": 0, "big": u64::MAX });
        without_negative_zeros(&mut value);
        assert_eq!(
            value.to_string(),
            r#"{"share":0.0,"list":[0.0,1.5,-2.0],"n":0,"big":18446744073709551615}"#
        );
    }
}
