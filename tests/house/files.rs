//! What must not stand in a tracked file.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

/// The tracked files that exist, relative to the checkout; none where this is no git checkout.
fn tracked() -> Vec<PathBuf> {
    let told = Command::new("git").args(["ls-files", "-z"]).current_dir(formkin_tests::checkout()).output();
    let Ok(told) = told else { return Vec::new() };
    let names = String::from_utf8_lossy(&told.stdout).into_owned();
    names
        .split('\0')
        .filter(|n| !n.is_empty())
        .map(PathBuf::from)
        .filter(|n| formkin_tests::checkout().join(n).is_file())
        .collect()
}

fn text(name: &PathBuf) -> Option<String> {
    fs::read_to_string(formkin_tests::checkout().join(name)).ok()
}

fn rust() -> impl Iterator<Item = (PathBuf, String)> {
    let named = tracked().into_iter().filter(|n| n.extension().is_some_and(|e| e == "rs"));
    named.filter_map(|n| text(&n).map(|t| (n, t)))
}

#[test]
fn no_rust_file_is_over_450_lines() {
    let long: Vec<_> =
        rust().map(|(name, text)| (name, text.lines().count())).filter(|(_, lines)| *lines > 450).collect();
    assert!(long.is_empty(), "split these: {long:?}");
}

#[test]
fn unsafe_code_is_the_memory_map_alone() {
    // In two parts, so that this file does not find itself.
    let word = ["un", "safe "].concat();
    let found: Vec<_> = rust()
        .filter(|(name, _)| !name.starts_with("crates/cohort"))
        .filter(|(_, text)| {
            text.lines().map(str::trim_start).any(|l| !l.starts_with("//") && l.contains(&word))
        })
        .map(|(name, _)| name)
        .collect();
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn nothing_is_left_open() {
    let words = [["todo", "!("].concat(), ["unimplemented", "!("].concat(), ["#[ig", "nore"].concat()];
    let found: Vec<_> = rust()
        .filter(|(_, text)| words.iter().any(|w| text.contains(w.as_str())))
        .map(|(name, _)| name)
        .collect();
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn no_tracked_file_knows_a_machine() {
    let top = formkin_tests::checkout();
    let top = top.to_string_lossy();
    let home = std::env::var("HOME").unwrap_or_default();
    let paths =
        [["/ho", "me/"].concat(), ["/ro", "ot/"].concat(), ["/Us", "ers/"].concat(), ["/wo", "rk/"].concat()];
    let found: Vec<_> = tracked()
        .into_iter()
        .filter(|name| {
            text(name).is_some_and(|t| {
                paths.iter().any(|p| t.contains(p.as_str()))
                    || t.contains(&format!("{top}/"))
                    || (home.len() > 1 && t.contains(&format!("{home}/")))
            })
        })
        .collect();
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn only_the_agreed_names_stand_at_the_top() {
    const NAMES: &[&str] = &[
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "clippy.toml",
        "rustfmt.toml",
        "rust-toolchain.toml",
        "crates",
        "benches",
        "tests",
        "datasets-demo",
        "docs",
    ];
    for name in tracked() {
        let first = name.iter().next().unwrap_or_default().to_string_lossy().into_owned();
        assert!(first.starts_with('.') || NAMES.contains(&first.as_str()), "{}", name.display());
    }
}

#[test]
fn no_tracked_file_is_over_a_megabyte() {
    let heavy: Vec<_> = tracked()
        .into_iter()
        .filter(|n| fs::metadata(formkin_tests::checkout().join(n)).is_ok_and(|m| m.len() > 1_048_576))
        .collect();
    assert!(heavy.is_empty(), "{heavy:?}");
}
