//! The reference of commands, keys and options as Markdown, made from the definitions themselves: `docs/reference.md`.

use clap::{Arg, Command};
use formkin_study::sections::section_fields;
use formkin_tasks::fields::{Field, Kind, fields};
use formkin_tasks::import::{ImportSettings, ImportSources};
use formkin_tasks::registry::{Visitor, visit_all};
use formkin_tasks::values::wanted;
use formkin_tasks::{InStudy, Task};

/// The whole reference; `program` is the program with all its commands.
pub(crate) fn markdown(program: &Command) -> String {
    let mut out = String::from(
        "# Reference\n\nMade from the program's own definitions (`formkin reference`); a test holds it current. Every command also takes `--json`, `--quiet` and\n\
         `--threads N`; `formkin COMMAND --help` says the same with examples.\n\n## Commands\n",
    );
    let mut commands = Vec::new();
    gather(program, "", &mut commands);
    for (name, command) in &commands {
        out.push_str(&format!("\n### formkin {name}\n\n{}\n", about(command)));
        let mut args: Vec<&Arg> =
            command.get_arguments().filter(|a| !a.is_global_set() && !a.is_hide_set()).collect();
        args.retain(|a| a.get_id() != "help");
        if !args.is_empty() {
            out.push_str("\n| option | meaning |\n| --- | --- |\n");
            out.extend(args.iter().map(|a| option_row(a)));
        }
        let examples = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        if !examples.trim().is_empty() {
            out.push_str(&format!("\n```text\n{}\n```\n", examples.trim_end()));
        }
    }
    out.push_str(
        "\n## The study file\n\nTOML. `title` is needed, `description` may be given. Where it is said, a section may be there several\n\
         times as an array of tables, each of which is a run of its own. Paths start from the folder of the study file.\n",
    );
    let mut import = fields::<ImportSources>();
    import.extend(fields::<ImportSettings>());
    section(&mut out, "import", "Where the data are.", &import);
    section(&mut out, "export", "Where results go.", &fields::<formkin_study::sections::ExportSettings>());
    struct Sections<'a>(&'a mut String);
    impl Visitor for Sections<'_> {
        fn visit<T: Task>(&mut self) {
            let when = match T::IN_STUDY {
                InStudy::Never => return,
                InStudy::Always => "Runs in every study.",
                InStudy::Asked => "Runs where the section is there.",
                InStudy::Tried => {
                    "Runs where the section is there; what the data cannot answer is said in the report."
                }
            };
            let several = match T::SEVERAL {
                true => format!(" May be there several times, as `[[{}]]`.", T::NAME),
                false => String::new(),
            };
            section(self.0, T::NAME, &format!("{}. {when}{several}", T::ABOUT), &section_fields::<T>());
        }
    }
    visit_all(&mut Sections(&mut out));
    out
}

fn gather<'c>(command: &'c Command, before: &str, found: &mut Vec<(String, &'c Command)>) {
    for inner in command.get_subcommands().filter(|c| !c.is_hide_set() && c.get_name() != "help") {
        let name = format!("{before}{}", inner.get_name());
        if inner.has_subcommands() {
            gather(inner, &format!("{name} "), found);
        } else {
            found.push((name, inner));
        }
    }
}

fn about(command: &Command) -> String {
    command.get_long_about().or(command.get_about()).map(ToString::to_string).unwrap_or_default()
}

/// A text for a cell of a table.
fn cell(text: &str) -> String {
    text.replace('|', "\\|").replace('\n', " ")
}

fn option_row(arg: &Arg) -> String {
    let values: Vec<String> = arg.get_value_names().into_iter().flatten().map(|v| format!("<{v}>")).collect();
    let takes = arg.get_action().takes_values();
    let name = match arg.get_long() {
        Some(long) if takes => format!("--{long} {}", values.join(" ")),
        Some(long) => format!("--{long}"),
        None => values.join(" "),
    };
    let mut help = arg.get_help().map(ToString::to_string).unwrap_or_default();
    let words: Vec<String> =
        arg.get_possible_values().iter().filter(|_| takes).map(|v| format!("`{}`", v.get_name())).collect();
    if !words.is_empty() {
        help.push_str(&format!(" ({})", words.join(", ")));
    }
    let defaults: Vec<String> =
        arg.get_default_values().iter().filter(|_| takes).map(|d| d.to_string_lossy().into_owned()).collect();
    if !defaults.is_empty() {
        help.push_str(&format!(" [default: {}]", defaults.join(" ")));
    }
    if arg.is_required_set() {
        help.push_str(" (needed)");
    }
    format!("| `{}` | {} |\n", cell(name.trim()), cell(&help))
}

fn section(out: &mut String, name: &str, about: &str, fields: &[Field]) {
    out.push_str(&format!("\n### [{name}]\n\n{about}\n"));
    if !fields.is_empty() {
        out.push_str("\n| key | meaning | value | default |\n| --- | --- | --- | --- |\n");
        rows(out, "", fields);
    }
}

/// The meaning of an option as that of a key: a list says by itself that several may be given, and keys have no dashes.
fn in_study(about: &str) -> String {
    let about = about.replace("; may be given again", "");
    let words = about.split(' ').map(|word| match word.strip_prefix("--") {
        Some(option) => {
            let end = option.find(|c: char| !c.is_alphanumeric() && c != '-').unwrap_or(option.len());
            format!("`{}`{}", option[..end].replace('-', "_"), &option[end..])
        }
        None => word.to_owned(),
    });
    words.collect::<Vec<_>>().join(" ")
}

fn rows(out: &mut String, before: &str, fields: &[Field]) {
    for field in fields {
        let key = format!("{before}{}", field.name);
        let default = match &field.default {
            serde_json::Value::Null if field.optional => String::new(),
            _ if !field.optional => "needed".to_owned(),
            value => format!("`{value}`"),
        };
        let value = match &field.kind {
            Kind::Table(_) => "a table".to_owned(),
            kind => wanted(kind, field.unit.as_deref()),
        };
        let default = if matches!(field.kind, Kind::Table(_)) { String::new() } else { default };
        out.push_str(&format!(
            "| `{key}` | {} | {} | {} |\n",
            cell(&in_study(&field.about)),
            cell(&value),
            cell(&default)
        ));
        if let Kind::Table(inner) = &field.kind {
            rows(out, &format!("{key}."), inner);
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    /// `docs/reference.md` is what the program would print; `formkin reference > docs/reference.md` renews it.
    #[test]
    fn the_reference_is_current() {
        let made = super::markdown(&crate::capability::commands(crate::args::Cli::command()));
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/reference.md");
        let there = std::fs::read_to_string(path).unwrap_or_default();
        assert!(there == made, "docs/reference.md is not current: formkin reference > docs/reference.md");
        for word in ["### [symmetry]", "### formkin symmetry", "--permutations", "| `level` |"] {
            assert!(made.contains(word), "{word}");
        }
    }
}
