//! What a reader is shown: what the checks found.

use std::collections::BTreeMap;
use std::path::Path;

use formkin_cohort::{Checks, Finding, FindingKind, Severity};
use formkin_report::document::table::{Flag, Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, title_words, unit};

use crate::sentence::sentence;

/// Findings of a kind that a terminal shows in full.
const IN_FULL: usize = 10;
/// More findings than this are shown by kind.
const FEW: usize = 12;
/// Most findings in the full list.
const LISTED: usize = 200;

/// The section, with its answer.
pub(super) fn section(cohort: &Path, checks: &Checks) -> Section {
    Section {
        id: "data".to_owned(),
        title: "What the checks found".to_owned(),
        answer: answer(cohort, checks),
        body: body(checks),
        ..Section::default()
    }
}

fn answer(cohort: &Path, checks: &Checks) -> Vec<String> {
    let mut lines = vec![format!(
        "{}: {}, {} items checked, {} set aside at import; {}",
        cohort.display(),
        counted(checks.people, "person", "people"),
        checks.items,
        checks.quarantined,
        if checks.topology.watertight { "watertight" } else { "not watertight" }
    )];
    lines.push(match checks.findings.len() {
        0 => "no findings".to_owned(),
        1 => "1 finding; nothing was repaired".to_owned(),
        n => format!("{n} findings; nothing was repaired"),
    });
    let mut counts = BTreeMap::new();
    for finding in &checks.findings {
        let count = counts.entry(finding.kind).or_insert(0usize);
        *count += 1;
        if *count <= IN_FULL {
            let about = if finding.item.is_empty() { "all items" } else { &finding.item };
            lines.push(format!("{}: {about}: {}", finding.kind, finding.message));
            lines.push(format!("    {}", finding.advice));
        }
    }
    for (kind, count) in counts.into_iter().filter(|(_, n)| *n > IN_FULL) {
        lines.push(format!("{kind}: {} more; all are in checks.json", count - IN_FULL));
    }
    lines
}

fn body(checks: &Checks) -> Body {
    let mut body = Body::default();
    let over = format!(
        "{} of {}",
        counted(checks.items, "item", "items"),
        counted(checks.people, "person", "people")
    );
    let findings = &checks.findings;
    if findings.is_empty() {
        body.paragraph(&format!("The checks looked at {over} and found nothing amiss."));
        return body;
    }
    let errors = findings.iter().filter(|f| f.severity == Severity::Error).count();
    body.paragraph(&format!(
        "The checks looked at {over} and made {}{}. Nothing was repaired or left out because of them: that is for a person to decide.",
        counted(findings.len(), "finding", "findings"),
        match errors {
            0 => String::new(),
            n => format!(", {} of them such that results which use the item are wrong", count(n)),
        }
    ));
    if findings.len() <= FEW {
        body.table(one_by_one(findings));
    } else {
        body.table(by_kind(findings));
        let mut inside = Body::default();
        inside.table(one_by_one(findings));
        if findings.len() > LISTED {
            inside.note(&format!("The first {LISTED}; checks.json beside this page has all."));
        }
        body.folded("Every finding", inside);
    }
    body
}

fn severity(s: Severity) -> (&'static str, Flag) {
    match s {
        Severity::Error => ("error", Flag::Error),
        Severity::Warning => ("warning", Flag::Warning),
        Severity::Note => ("note", Flag::Note),
    }
}

fn kind(k: FindingKind) -> String {
    title_words(&k.name(), None)
}

fn about_whom(f: &Finding) -> String {
    if f.item.is_empty() { "the whole".to_owned() } else { f.item.clone() }
}

fn amount(f: &Finding) -> String {
    let number = |a: f64| if a.fract() == 0.0 { fixed(a, 0) } else { about(a, 2) };
    match (f.amount, f.unit.as_deref()) {
        (Some(a), Some(u)) => format!("{} {}", number(a), unit(u)),
        (Some(a), None) => number(a),
        (None, _) => String::new(),
    }
}

fn one_by_one(findings: &[Finding]) -> Table {
    let mut table = Table::unnamed(
        "Findings",
        vec![text("About"), text("Finding"), text(""), text("In words"), text("What to do")],
    );
    for f in findings.iter().take(LISTED) {
        let (word, flag) = severity(f.severity);
        table.row(vec![
            cell(about_whom(f)),
            cell(kind(f.kind)),
            cell(word).flag(flag),
            cell(sentence(&f.message)).prose(),
            cell(sentence(&f.advice)).prose(),
        ]);
    }
    table
}

fn by_kind(findings: &[Finding]) -> Table {
    let mut kinds: BTreeMap<(std::cmp::Reverse<Severity>, FindingKind), Vec<&Finding>> = BTreeMap::new();
    for f in findings {
        kinds.entry((std::cmp::Reverse(f.severity), f.kind)).or_default().push(f);
    }
    let mut table = Table::unnamed(
        "Findings by kind",
        vec![
            text("Finding"),
            text(""),
            number("How many", ""),
            text("Such as"),
            number("Greatest", ""),
            text("What to do"),
        ],
    );
    for ((std::cmp::Reverse(how), what), of) in kinds {
        let (word, flag) = severity(how);
        let mut names: Vec<String> = of.iter().take(3).map(|f| about_whom(f)).collect();
        names.dedup();
        if of.len() > 3 {
            names.push("…".to_owned());
        }
        let sized = of.iter().filter(|f| f.amount.is_some());
        let greatest =
            sized.max_by(|a, b| a.amount.map_or(0.0, f64::abs).total_cmp(&b.amount.map_or(0.0, f64::abs)));
        table.row(vec![
            cell(kind(what)),
            cell(word).flag(flag),
            cell(count(of.len())),
            cell(names.join(", ")).prose(),
            cell(greatest.map_or_else(String::new, |f| amount(f))),
            cell(of.first().map_or_else(String::new, |f| sentence(&f.advice))).prose(),
        ]);
    }
    table
}
