//! Every file that an import depends on.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use super::discover::discover;
use crate::CohortError;
use crate::params::ImportParams;

/// Every file that an import of these patterns reads, each once: the mesh files, files of times beside them, the template with the files
/// it names, the table of participants. Whoever keeps results by content hashes these.
///
/// # Errors
/// [`CohortError`] where a pattern is wrong or leads to no file.
pub fn input_files(patterns: &[String], params: &ImportParams) -> Result<Vec<PathBuf>, CohortError> {
    let mut files = BTreeSet::new();
    let mut folders = BTreeSet::new();
    let except: Vec<PathBuf> = params.template.iter().cloned().collect();
    for found in discover(patterns, &except)? {
        folders.extend(found.path.parent().map(Path::to_owned));
        files.insert(found.path);
    }
    for folder in folders {
        files.extend(times_files(&folder)?);
    }
    files.extend(params.times.iter().chain(&params.participants).cloned());
    if let Some(template) = &params.template {
        files.extend(named_files(template)?);
        files.insert(template.clone());
    }
    Ok(files.into_iter().collect())
}

fn times_files(folder: &Path) -> Result<Vec<PathBuf>, CohortError> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let fault = || CohortError::io(folder, "read");
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).map_err(fault())? {
        let path = entry.map_err(fault())?.path();
        if path.to_string_lossy().ends_with(".times.csv") {
            files.push(path);
        }
    }
    Ok(files)
}

/// The files that a `template.toml` names: every text in it that leads to a file. A template that cannot be read is left to the import to refuse.
fn named_files(template: &Path) -> Result<Vec<PathBuf>, CohortError> {
    fn texts<'v>(value: &'v toml::Value, found: &mut Vec<&'v str>) {
        match value {
            toml::Value::String(text) => found.push(text),
            toml::Value::Array(list) => list.iter().for_each(|v| texts(v, found)),
            toml::Value::Table(table) => table.values().for_each(|v| texts(v, found)),
            _ => {}
        }
    }
    if !template.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
        return Ok(Vec::new());
    }
    let text = fs::read_to_string(template).map_err(CohortError::io(template, "read"))?;
    let Ok(value) = toml::from_str::<toml::Value>(&text) else { return Ok(Vec::new()) };
    let mut found = Vec::new();
    texts(&value, &mut found);
    let folder = template.parent().unwrap_or(Path::new(""));
    Ok(found.into_iter().map(|name| folder.join(name)).filter(|path| path.is_file()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_an_import_reads_is_listed_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        for name in ["C001.ply", "jump.npy", "jump.times.csv", "template.ply", "report.html", "skin.npy"] {
            fs::write(at(name), "").unwrap();
        }
        fs::write(at("template.toml"), "mesh = \"template.ply\"\n[skin]\nfile = \"skin.npy\"\n").unwrap();
        let params = ImportParams { template: Some(at("template.toml")), ..ImportParams::default() };
        let patterns = [at("C*.ply"), at("j*.npy")].map(|p| p.display().to_string());
        let files = input_files(&patterns, &params).unwrap();
        let names: Vec<_> = files.iter().filter_map(|f| f.file_name()?.to_str()).collect();
        assert_eq!(
            names,
            ["C001.ply", "jump.npy", "jump.times.csv", "skin.npy", "template.ply", "template.toml"]
        );
    }
}
