//! No circle of modules inside a package.
//!
//! A file is a module. It depends on those whose definitions it names, by `use` or by a path; a name that a file only passes on (`pub use`) leads to the
//! file that defines it, so that a parent which only lists its children does not depend on them. Tests do not count.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The files of a package by the path of their module: `` is the root, `posture::rig` a file in a folder.
type Sources = BTreeMap<String, String>;

/// What a file names: `use` of paths with the name they get here and whether they are passed on, and its code without them.
struct File {
    uses: Vec<Use>,
    code: Vec<String>,
}

struct Use {
    path: Vec<String>,
    name: String,
    passed_on: bool,
}

/// Source without comments, strings and tests, cut into words and signs.
fn words(source: &str) -> Vec<String> {
    let s: Vec<char> = source.chars().collect();
    let mut out: Vec<String> = Vec::new();
    let mut i = 0;
    let word = |c: char| c.is_alphanumeric() || c == '_';
    while i < s.len() {
        let next = s.get(i + 1).copied().unwrap_or(' ');
        let raw = s[i] == 'r' && (next == '"' || next == '#') && (i == 0 || !word(s[i - 1]));
        if s[i] == '/' && next == '/' {
            i += s[i..].iter().take_while(|c| **c != '\n').count();
        } else if s[i] == '/' && next == '*' {
            i += 2;
            while i < s.len() && !(s[i] == '*' && s.get(i + 1) == Some(&'/')) {
                i += 1;
            }
            i += 2;
        } else if raw && s[i + 1..].iter().find(|c| **c != '#') == Some(&'"') {
            let marks = s[i + 1..].iter().take_while(|c| **c == '#').count();
            i += marks + 2;
            while i < s.len()
                && !(s[i] == '"' && s[i + 1..].iter().take(marks).filter(|c| **c == '#').count() == marks)
            {
                i += 1;
            }
            i += marks + 1;
        } else if s[i] == '"' {
            i += 1;
            while i < s.len() && s[i] != '"' {
                i += if s[i] == '\\' { 2 } else { 1 };
            }
            i += 1;
        } else if s[i] == '\'' && (next == '\\' || s.get(i + 2) == Some(&'\'')) {
            i += if next == '\\' { 3 } else { 2 };
            while i < s.len() && s[i] != '\'' {
                i += 1;
            }
            i += 1;
        } else if word(s[i]) {
            let length = s[i..].iter().take_while(|c| word(**c)).count();
            out.push(s[i..i + length].iter().collect());
            i += length;
        } else if s[i] == ':' && next == ':' {
            out.push("::".to_owned());
            i += 2;
        } else {
            if !s[i].is_whitespace() {
                out.push(s[i].to_string());
            }
            i += 1;
        }
    }
    without_tests(&out)
}

/// Where the brackets that open at `from` are closed.
fn closed(words: &[String], from: usize) -> usize {
    let mut deep = 0usize;
    for (i, w) in words.iter().enumerate().skip(from) {
        match w.as_str() {
            "{" | "(" | "[" => deep += 1,
            "}" | ")" | "]" => {
                deep -= 1;
                if deep == 0 {
                    return i;
                }
            }
            _ => {}
        }
    }
    words.len() - 1
}

/// Without what is marked `#[cfg(test)]`.
fn without_tests(words: &[String]) -> Vec<String> {
    let mark = ["#", "[", "cfg", "(", "test", ")", "]"];
    let mut out = Vec::with_capacity(words.len());
    let mut i = 0;
    while i < words.len() {
        if words[i..].iter().take(mark.len()).eq(mark.iter()) {
            i += mark.len();
            // to the end of the item: its block, or a semicolon before one
            while i < words.len() && words[i] != "{" && words[i] != ";" {
                i = if words[i] == "(" || words[i] == "[" { closed(words, i) + 1 } else { i + 1 };
            }
            i = if words.get(i).is_some_and(|w| w == "{") { closed(words, i) + 1 } else { i + 1 };
        } else {
            out.push(words[i].clone());
            i += 1;
        }
    }
    out
}

/// The paths of the tree of a `use`, each with the name that it gets.
fn tree(words: &[String], mut stem: Vec<String>, out: &mut Vec<(Vec<String>, String)>) {
    let mut i = 0;
    while i < words.len() {
        match words[i].as_str() {
            "{" => {
                let end = closed(words, i);
                let mut from = i + 1;
                for k in i + 1..=end {
                    let deep = words[i + 1..k].iter().filter(|w| *w == "{").count()
                        - words[i + 1..k].iter().filter(|w| *w == "}").count();
                    if k == end || (deep == 0 && words[k] == ",") {
                        if from < k {
                            tree(&words[from..k], stem.clone(), out);
                        }
                        from = k + 1;
                    }
                }
                return;
            }
            "::" => {}
            "as" => {
                out.push((stem, words[i + 1].clone()));
                return;
            }
            "self" if !stem.is_empty() => {}
            w => stem.push(w.to_owned()),
        }
        i += 1;
    }
    let name = stem.last().cloned().unwrap_or_default();
    out.push((stem, name));
}

fn parsed(source: &str) -> File {
    let words = words(source);
    let (mut uses, mut code) = (Vec::new(), Vec::new());
    let mut i = 0;
    while i < words.len() {
        let starts = i == 0 || ["}", ";", "]", ")", "pub", "{"].contains(&words[i - 1].as_str());
        if words[i] == "use" && starts {
            let end = i + words[i..].iter().take_while(|w| *w != ";").count();
            let passed_on = i > 0
                && (words[i - 1] == "pub" || (words[i - 1] == ")" && words[i.saturating_sub(4)] == "pub"));
            let mut found = Vec::new();
            tree(&words[i + 1..end], Vec::new(), &mut found);
            uses.extend(found.into_iter().map(|(path, name)| Use { path, name, passed_on }));
            i = end + 1;
        } else if words[i] == "mod" && words.get(i + 2).is_some_and(|w| w == ";") {
            i += 3;
        } else {
            code.push(words[i].clone());
            i += 1;
        }
    }
    File { uses, code }
}

/// Which file of the package the path, read in the file `from`, leads to; none where it leads out of the package.
fn leads(files: &BTreeMap<String, File>, from: &str, path: &[String], deep: usize) -> Option<String> {
    let child = |at: &str, name: &str| {
        let whole = if at.is_empty() { name.to_owned() } else { format!("{at}::{name}") };
        files.contains_key(&whole).then_some(whole)
    };
    let parent = |at: &str| at.rsplit_once("::").map_or(String::new(), |(p, _)| p.to_owned());
    let mut at = from.to_owned();
    let mut started = false;
    for (i, name) in path.iter().enumerate() {
        match name.as_str() {
            "crate" => at = String::new(),
            "super" => at = parent(&at),
            "self" => {}
            "*" => return started.then_some(at),
            name => {
                if let Some(inner) = child(&at, name) {
                    at = inner;
                } else {
                    // a name that the file itself has from elsewhere
                    let own =
                        files[&at].uses.iter().find(|u| u.name == name && (started || u.path.len() > 1));
                    return match own {
                        Some(own) if deep < 20 && own.path != path[i..] => {
                            let rest: Vec<String> = own.path.iter().chain(&path[i + 1..]).cloned().collect();
                            leads(files, &at, &rest, deep + 1)
                        }
                        _ => started.then_some(at),
                    };
                }
            }
        }
        started = true;
    }
    started.then_some(at)
}

/// The files that each file depends on.
fn edges(sources: &Sources) -> BTreeMap<String, BTreeSet<String>> {
    let files: BTreeMap<String, File> = sources.iter().map(|(m, s)| (m.clone(), parsed(s))).collect();
    let mut found = BTreeMap::new();
    for (module, file) in &files {
        let mut on = BTreeSet::new();
        let own = |name: &str| file.code.iter().any(|w| w == name);
        for u in file.uses.iter().filter(|u| !u.passed_on || own(&u.name)) {
            on.extend(leads(&files, module, &u.path, 0));
        }
        let mut i = 0;
        while i < file.code.len() {
            let mut path = vec![file.code[i].clone()];
            let mut next = i + 1;
            while file.code.get(next).is_some_and(|w| w == "::") && next + 1 < file.code.len() {
                path.push(file.code[next + 1].clone());
                next += 2;
            }
            let first = i == 0 || file.code[i - 1] != "::";
            if first && path.len() > 1 {
                on.extend(leads(&files, module, &path, 0));
            }
            i = next;
        }
        on.remove(module);
        found.insert(module.clone(), on);
    }
    found
}

/// A circle through each module that is in one, as short as possible: `a -> b -> a`.
fn circles(edges: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let shown = |m: &str| if m.is_empty() { "(root)".to_owned() } else { m.to_owned() };
    for start in edges.keys() {
        let mut way: BTreeMap<&str, &str> = BTreeMap::new();
        let mut open: Vec<&str> = vec![start];
        let mut k = 0;
        while k < open.len() && !way.contains_key(start.as_str()) {
            for next in &edges[open[k]] {
                if !way.contains_key(next.as_str()) {
                    way.insert(next, open[k]);
                    open.push(next);
                }
            }
            k += 1;
        }
        if way.contains_key(start.as_str()) {
            let mut circle = vec![start.as_str()];
            let mut at = way[start.as_str()];
            while at != start {
                circle.push(at);
                at = way[at];
            }
            circle.reverse();
            // the same circle from wherever it is met
            let first = circle.iter().enumerate().min_by_key(|(_, m)| **m).map_or(0, |(i, _)| i);
            circle.rotate_left(first);
            circle.push(circle[0]);
            found.insert(circle.into_iter().map(shown).collect::<Vec<_>>().join(" -> "));
        }
    }
    found
}

/// The files of a package but those of tests.
fn sources(folder: &Path) -> Sources {
    fn walk(folder: &Path, path: &str, out: &mut Sources) {
        let Ok(entries) = fs::read_dir(folder) else { return };
        for entry in entries.flatten() {
            let (file, name) = (entry.path(), entry.file_name().to_string_lossy().into_owned());
            let inner =
                |stem: &str| if path.is_empty() { stem.to_owned() } else { format!("{path}::{stem}") };
            if file.is_dir() {
                walk(&file, &inner(&name), out);
            } else if let Some(stem) = name.strip_suffix(".rs") {
                let module =
                    if ["lib", "main", "mod"].contains(&stem) { path.to_owned() } else { inner(stem) };
                out.insert(module, fs::read_to_string(&file).expect("a source file can be read"));
            }
        }
    }
    let mut out = Sources::new();
    walk(folder, "", &mut out);
    let marked: Vec<String> = out
        .iter()
        .flat_map(|(module, text)| {
            let mut lines = text.lines().map(str::trim).peekable();
            let mut names = Vec::new();
            while let Some(line) = lines.next() {
                let next =
                    lines.peek().and_then(|l| l.strip_prefix("mod ")).and_then(|l| l.strip_suffix(';'));
                if let (true, Some(name)) = (line == "#[cfg(test)]", next) {
                    names.push(if module.is_empty() { name.to_owned() } else { format!("{module}::{name}") });
                }
            }
            names
        })
        .collect();
    out.retain(|module, _| !marked.contains(module));
    out
}

#[test]
fn no_circle_of_modules() {
    let top = formkin_tests::checkout();
    let mut packages: Vec<_> = fs::read_dir(top.join("crates"))
        .expect("the packages")
        .flatten()
        .map(|e| format!("crates/{}", e.file_name().to_string_lossy()))
        .chain(["datasets-demo".to_owned()])
        .collect();
    packages.sort();
    let mut wrong = Vec::new();
    for package in &packages {
        let sources = sources(&top.join(package).join("src"));
        assert!(sources.contains_key(""), "{package} has no root");
        wrong.extend(circles(&edges(&sources)).into_iter().map(|c| format!("{package}: {c}")));
    }
    assert!(wrong.is_empty(), "{} circles:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn the_check_finds_circles_and_nothing_else() {
    let of = |files: &[(&str, &str)]| {
        circles(&edges(&files.iter().map(|(m, s)| ((*m).to_owned(), (*s).to_owned())).collect()))
    };
    let a = ("a", "use crate::b::f; pub struct A; fn g() { f() }");
    assert_eq!(
        of(&[("", "mod a; mod b;"), a, ("b", "pub fn f() { let _ = crate::a::A; }")]),
        ["a -> b -> a".to_owned()].into()
    );
    // by a name that the root passes on, and by a path in a group
    assert_eq!(
        of(&[("", "mod a; mod b; pub use a::A;"), a, ("b", "use crate::{A, x as y}; pub fn f(_: A) {}")]),
        ["a -> b -> a".to_owned()].into()
    );
    // a child that needs its parent's own definitions while the parent calls the child
    let child = ("p::c", "use super::P; pub fn f(_: P) {}");
    assert_eq!(
        of(&[("", "mod p;"), ("p", "mod c; pub struct P; pub fn g() { c::f(P) }"), child]),
        ["p -> p::c -> p".to_owned()].into()
    );
    // a parent that only passes on, a comment, a string, tests
    let clean = [
        ("", "pub mod p; pub use p::{P, f};"),
        (
            "p",
            "mod c; mod d; pub use c::f; pub use d::P; // c::f()\nconst S: &str = \"c::f()\"; #[cfg(test)] mod tests { use super::c::f; }",
        ),
        ("p::c", "use super::P; pub fn f(_: P) {}"),
        ("p::d", "pub struct P; #[cfg(test)] mod tests { use crate::f; }"),
    ];
    assert_eq!(of(&clean), BTreeSet::new());
}
