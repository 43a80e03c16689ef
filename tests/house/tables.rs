//! Tables are written and read in one place: cells that are joined by hand break at the first name with a comma in it.

use std::path::Path;

/// Crates that are not held to it yet: their tables are being moved to `Sheet`.
const NOT_YET: &[&str] = &["crates/study", "crates/report", "crates/formkin", "crates/tasks"];
/// The one home of tables.
const HOME: &str = "crates/table";

/// The code of a file without its tests and comments, line by line: tests may make tables as people do.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let end = text.find("#[cfg(test)]\nmod ").unwrap_or(text.len());
    text[..end].lines().enumerate().filter(|(_, l)| !l.trim_start().starts_with("//"))
}

/// What is wrong with a line; `None` where nothing is.
fn fault(line: &str) -> Option<&'static str> {
    let joined = [".join(\",\")", ".join(\";\")", ".push(',')", "push_str(\",", "\"{},\""];
    // in words for people a blank follows a comma; rustfmt sees to it in code
    let adjacent = line.match_indices(",{").any(|(at, _)| inside_quotes(line, at))
        || line.match_indices("},").any(|(at, _)| {
            inside_quotes(line, at) && line[at + 2..].starts_with(['"', '\\']) && !line[..at].ends_with('}')
        });
    let named = |library: &str| {
        line.match_indices(library)
            .any(|(at, _)| !line[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':'))
    };
    if named("csv::") || named("parquet::") {
        return Some(
            "uses a library of tables by itself: `records`, `Table` and `Sheet` read and write them",
        );
    }
    (adjacent || joined.iter().any(|j| line.contains(j)))
        .then_some("joins cells by commas: make a `Sheet` of them")
}

/// Whether a place of a line of code is within quotation marks.
fn inside_quotes(line: &str, at: usize) -> bool {
    let (mut inside, mut escaped) = (false, false);
    for c in line[..at].chars() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => inside = !inside,
            _ => {}
        }
    }
    inside
}

/// The Rust files below a folder.
fn files(folder: &Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn no_table_is_put_together_by_hand() {
    let top = formkin_tests::checkout();
    let crates = std::fs::read_dir(top.join("crates")).expect("crates").flatten();
    let mut names: Vec<String> =
        crates.map(|e| format!("crates/{}", e.file_name().to_string_lossy())).collect();
    names.push("datasets-demo".to_owned());
    for name in NOT_YET.iter().chain([&HOME]) {
        assert!(names.iter().any(|n| n == name), "{name} is not there");
    }
    let mut wrong = Vec::new();
    for name in names.iter().filter(|n| *n != HOME && !NOT_YET.contains(&n.as_str())) {
        let mut found = Vec::new();
        files(&top.join(name).join("src"), &mut found);
        assert!(!found.is_empty(), "{name} has no source");
        found.retain(|f| !f.to_string_lossy().ends_with("_tests.rs"));
        for file in found {
            let text = std::fs::read_to_string(&file).expect("a source file");
            let shown = file.strip_prefix(&top).unwrap_or(&file).display().to_string();
            let bad = code(&text).filter_map(|(i, l)| fault(l).map(|f| format!("{shown}:{}: {f}", i + 1)));
            wrong.extend(bad);
        }
    }
    assert_eq!(wrong, [""; 0]);
}

#[test]
fn the_check_finds_tables_by_hand() {
    for bad in [
        r#"out.push_str(&format!("{},{name}\n", a));"#,
        r#"writeln!(text, "{a:.2},{b}")?;"#,
        r#"let row = cells.join(",");"#,
        r#"text.push(',');"#,
        r#"csv.push_str(",a");"#,
        r#"let cell = format!("{x},");"#,
        r#"let w = csv::Writer::from_writer(Vec::new());"#,
        r#"use parquet::file::writer::SerializedFileWriter;"#,
    ] {
        assert!(fault(bad).is_some(), "{bad}");
    }
    for good in [
        r#"format!("{a}, {b}: {c}")"#,
        r#"let Point { x, .. } = p else { return };"#,
        r#"list.join(", ")"#,
        r#"sheet.to_csv()?;"#,
        r#"use crate::items_csv::{self, Placed};"#,
        r#"let v = (a, { b });"#,
        r#"let at = text.split(',').next();"#,
        r#"format!("[{{\"a\": {a}}}, {b}]")"#,
    ] {
        assert!(fault(good).is_none(), "{good}");
    }
    let text = "let a = 1;\n// x.join(\",\")\n#[cfg(test)]\nmod tests {\nlet x = y.join(\",\");\n}\n";
    assert_eq!(code(text).map(|(i, _)| i).collect::<Vec<_>>(), [0]);
}
