//! What is known of the data before they are imported: people and their columns, captures, the names of the template, definitions.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use formkin_cohort::{Item, load_template, preview};
use formkin_measure::Dimensions;
use formkin_table::NumberColumn;

use super::{ImportSettings, ImportSources};
use crate::facts::{Column, Facts, Sequence};
use crate::problem::Problems;

/// Looks at the files of an import without reading bodies, and adds what it finds to what is known; what cannot be read is a problem. Paths
/// start from `folder`.
pub fn look(
    sources: &ImportSources,
    settings: &ImportSettings,
    folder: &Path,
    facts: &mut Facts,
    problems: &mut Problems,
) {
    let params = settings.params(sources, folder);
    let mut readable = true;
    for (field, path) in
        [("template", &params.template), ("participants", &params.participants), ("times", &params.times)]
    {
        if let Some(path) = path {
            readable &= problems.file(field, path);
        }
    }
    let items = if sources.meshes.is_empty() {
        problems.wrong("meshes", "it is empty", "name at least one file or pattern, such as \"scans/*.ply\"");
        None
    } else if !readable {
        None
    } else {
        let looked = preview(&sources.patterns(folder), &params);
        let of_people = |e: &dyn std::fmt::Display| {
            params.participants.as_ref().is_some_and(|p| e.to_string().contains(&*p.to_string_lossy()))
        };
        let field = match &looked {
            Err(e) if of_people(e) => "participants",
            _ => "meshes",
        };
        problems.refused(field, looked).map(|p| p.items)
    };
    let named =
        params.template.as_ref().filter(|t| t.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")));
    let template = match named {
        Some(path) if path.is_file() => problems.refused("template", load_template(path)),
        _ => None,
    };
    facts.nameless = named.is_none();
    facts.template = template;
    let Some(items) = items else { return };
    facts.columns = Some(columns(&items, facts.dimensions.as_ref()));
    facts.groups = groups(&items);
    facts.captures = Some(captures(&items));
    facts.people = Some(items.iter().map(|i| &i.participant).collect::<BTreeSet<_>>().len());
}

/// The columns that people can be told apart by: those of the table of people and, with and without units, the dimensions.
fn columns(items: &[Item], dimensions: Option<&Dimensions>) -> Vec<Column> {
    let mut columns = vec![
        Column { name: "session".into(), numbers: false },
        Column { name: "capture".into(), numbers: false },
    ];
    for d in dimensions.iter().flat_map(|d| &d.definitions) {
        push(&mut columns, &d.name, true);
        push(&mut columns, &d.header(), true);
    }
    let names: BTreeSet<&String> = items.iter().flat_map(|i| i.groups.keys()).collect();
    for name in names {
        let values =
            || items.iter().filter_map(|i| i.groups.get(name)).map(|v| v.trim()).filter(|v| !v.is_empty());
        let numbers = values().next().is_some() && values().all(|v| v.parse::<f64>().is_ok());
        push(&mut columns, name, numbers);
        if numbers {
            push(&mut columns, &NumberColumn::under(name, Vec::new()).name, true);
        }
    }
    columns
}

fn push(columns: &mut Vec<Column>, name: &str, numbers: bool) {
    if !columns.iter().any(|c| c.name == name) {
        columns.push(Column { name: name.to_owned(), numbers });
    }
}

fn groups(items: &[Item]) -> BTreeMap<String, BTreeSet<String>> {
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (name, value) in items.iter().flat_map(|i| &i.groups) {
        if !value.trim().is_empty() {
            found.entry(name.clone()).or_default().insert(value.trim().to_owned());
        }
    }
    found
}

fn captures(items: &[Item]) -> Vec<Sequence> {
    let mut captures: BTreeMap<&str, Sequence> = BTreeMap::new();
    for item in items.iter().filter(|i| i.frame.is_some()) {
        let seen = captures.entry(&item.capture).or_insert_with(|| Sequence {
            id: item.capture.clone(),
            participant: item.participant.clone(),
            frames: 0,
            timed: true,
            times_s: None,
        });
        seen.frames += 1;
        seen.timed &= item.time_s.is_some();
        if let Some(t) = item.time_s {
            let (low, high) = seen.times_s.unwrap_or((t, t));
            seen.times_s = Some((low.min(t), high.max(t)));
        }
    }
    captures.into_values().collect()
}
