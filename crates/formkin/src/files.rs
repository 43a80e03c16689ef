//! Where results go: what is in the way is refused before any work is done.

use std::path::Path;

use anyhow::{Context, bail};

/// Writes a file whole; an existing one only with `--force`.
pub(crate) fn write(path: &Path, bytes: &[u8], force: bool) -> anyhow::Result<()> {
    Ok(formkin_cohort::write_whole(path, bytes, force)?)
}

/// Makes a folder for results, with those above it.
pub(crate) fn make_folder(path: &Path) -> anyhow::Result<()> {
    std::fs::create_dir_all(path).with_context(|| format!("the folder {} cannot be made", path.display()))
}

/// Refuses before any work is done where a folder for results cannot be written, or holds one of these files already.
pub(crate) fn ready(folder: &Path, names: &[&str], force: bool) -> anyhow::Result<()> {
    writable(folder)?;
    let there: Vec<_> = names.iter().map(|n| folder.join(n)).filter(|p| p.exists()).collect();
    free(there.iter().map(AsRef::as_ref), force)
}

/// Refuses a folder that cannot be written, by a file that is made and taken away where it, or what is there of it, lies.
fn writable(folder: &Path) -> anyhow::Result<()> {
    let there = folder.ancestors().find(|p| p.exists()).unwrap_or(Path::new("."));
    anyhow::ensure!(
        there.is_dir(),
        "the folder {} cannot be made: {} is a file",
        folder.display(),
        there.display()
    );
    let probe = there.join(format!(".formkin-{}", std::process::id()));
    match std::fs::OpenOptions::new().write(true).create_new(true).open(&probe) {
        Ok(_) => Ok(std::fs::remove_file(&probe)?),
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        Err(e) => bail!("the folder {} cannot be written: {e}", folder.display()),
    }
}

/// Refuses before any work is done where a file is in the way.
pub(crate) fn free<'p>(paths: impl IntoIterator<Item = &'p Path>, force: bool) -> anyhow::Result<()> {
    let mut before = std::collections::BTreeSet::new();
    for path in paths {
        if !before.insert(path) {
            bail!("{} is named for two results; give each a name of its own", path.display());
        }
        if !force && path.exists() {
            bail!("{} is there already; use --force to write over it, or another name", path.display());
        }
        if let Some(parent) = path.parent().filter(|p| !p.as_os_str().is_empty())
            && !parent.is_dir()
        {
            bail!("{} cannot be written: there is no folder {}", path.display(), parent.display());
        }
        writable(path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")))?;
    }
    Ok(())
}
