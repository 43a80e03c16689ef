//! What was typed, turned into the words and settings that the jobs understand.

use std::path::Path;

use anyhow::{Context, bail};
use formkin_align::Removes;
use formkin_cohort::{Cohort, Sequences, Unit, Up, read_positions, to_mm_z_up};
use formkin_geometry::{Point, Topology};
use formkin_shape::Space;
use formkin_study::choose::Items;

use crate::args::{FrameArgs, ItemsArg, RemovesArg, SequencesArg, UnitArg, UpArg};

impl From<UnitArg> for Unit {
    fn from(arg: UnitArg) -> Self {
        match arg {
            UnitArg::Auto => Self::Auto,
            UnitArg::Mm => Self::Mm,
            UnitArg::Cm => Self::Cm,
            UnitArg::M => Self::M,
        }
    }
}

impl From<UpArg> for Up {
    fn from(arg: UpArg) -> Self {
        match arg {
            UpArg::Auto => Self::Auto,
            UpArg::X => Self::X,
            UpArg::Y => Self::Y,
            UpArg::Z => Self::Z,
        }
    }
}

impl From<SequencesArg> for Sequences {
    fn from(arg: SequencesArg) -> Self {
        match arg {
            SequencesArg::Auto => Self::Auto,
            SequencesArg::Always => Self::Always,
            SequencesArg::Never => Self::Never,
        }
    }
}

impl From<RemovesArg> for Removes {
    fn from(arg: RemovesArg) -> Self {
        match arg {
            RemovesArg::Rigid => Self::Rigid,
            RemovesArg::Similarity => Self::Similarity,
            RemovesArg::Standing => Self::Standing,
        }
    }
}

impl From<ItemsArg> for Items {
    fn from(arg: ItemsArg) -> Self {
        match arg {
            ItemsArg::Stills => Self::Stills,
            ItemsArg::All => Self::All,
        }
    }
}

/// Opens a cohort.
pub(crate) fn open_cohort(path: &Path) -> anyhow::Result<Cohort> {
    Ok(Cohort::open(path)?)
}

/// Reads a space.
pub(crate) fn open_space(path: &Path) -> anyhow::Result<Space> {
    let bytes = std::fs::read(path).with_context(|| format!("{} cannot be read", path.display()))?;
    Space::from_safetensors(&bytes)
        .with_context(|| format!("{} is not a shape space of this program", path.display()))
}

/// The positions of a mesh file on these triangles, in mm with z up.
pub(crate) fn read_shape(path: &Path, topology: &Topology, frame: FrameArgs) -> anyhow::Result<Vec<Point>> {
    let positions = read_positions(path, topology)?;
    to_mm_z_up(&positions, frame.unit.into(), frame.up.into())
        .map_err(|reason| anyhow::anyhow!("{}: {reason} (--unit, --up)", path.display()))
}

/// Writes a file whole; an existing one only with `--force`.
pub(crate) fn write(path: &Path, bytes: &[u8], force: bool) -> anyhow::Result<()> {
    Ok(formkin_cohort::write_whole(path, bytes, force)?)
}

/// Refuses before any work is done where a file is in the way.
pub(crate) fn free<'p>(paths: impl IntoIterator<Item = &'p Path>, force: bool) -> anyhow::Result<()> {
    for path in paths {
        if !force && path.exists() {
            bail!("{} is there already; use --force to write over it, or another name", path.display());
        }
        if let Some(parent) = path.parent().filter(|p| !p.as_os_str().is_empty())
            && !parent.is_dir()
        {
            bail!("{} cannot be written: there is no folder {}", path.display(), parent.display());
        }
    }
    Ok(())
}
