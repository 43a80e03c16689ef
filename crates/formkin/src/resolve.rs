//! What was typed, turned into the words and settings that the jobs understand.

use std::path::Path;

use anyhow::{Context, bail};
use formkin_align::Removes;
use formkin_cohort::{Cohort, Unit, Up, read_positions, to_mm_z_up};
use formkin_geometry::{Point, Topology};
use formkin_motion::Event;
use formkin_shape::Space;
use formkin_tasks::choose::Items;
use formkin_tasks::job::signals::{AxisSettings, Cutoff, CycleSettings};

use crate::args::{AxisArgs, CycleArgs, FrameArgs, ItemsArg, RemovesArg, UnitArg, UpArg};

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

/// Where cycles come from; the height of the body frame where nothing is said and there is one.
pub(crate) fn cycle_settings(args: &CycleArgs, framed: bool) -> anyhow::Result<Option<CycleSettings>> {
    let event = match args.event.as_str() {
        "minimum" => Event::Minimum,
        "maximum" => Event::Maximum,
        "rising" => Event::Rising,
        other => bail!("--event `{other}`: minimum, maximum or rising"),
    };
    if let Some(hz) = args.cycle_hz.filter(|hz| !(*hz > 0.0 && hz.is_finite())) {
        bail!("--cycle-hz is {hz}; it must be a number of Hz above 0");
    }
    let from = args.cycles.clone().or_else(|| (framed || args.events.is_some()).then(|| "frame".to_owned()));
    if from.is_none() && args.cycle_hz.is_some() {
        bail!("--cycle-hz says how often cycles come, and no signal is named to find them in: add --cycles");
    }
    Ok(from.map(|from| CycleSettings { from, event, hz: args.cycle_hz, ..CycleSettings::default() }))
}

/// The cutoff of the filter of curves.
pub(crate) fn cutoff(args: &CycleArgs) -> anyhow::Result<Option<Cutoff>> {
    Ok(args.cutoff.as_deref().map(|word| Cutoff::parse("--cutoff", word)).transpose()?)
}

/// The axes of a body frame.
pub(crate) fn axis_settings(args: &AxisArgs) -> anyhow::Result<Option<AxisSettings>> {
    let (Some(vertical), Some(lateral)) = (&args.vertical, &args.lateral) else { return Ok(None) };
    Ok(Some(AxisSettings {
        vertical: parts("--vertical", vertical)?,
        lateral: parts("--lateral", lateral)?,
        fore_aft: args.fore_aft.as_deref().map(|a| parts("--fore-aft", a)).transpose()?,
    }))
}

/// Names joined by colons, so many of them.
pub(crate) fn parts<const N: usize>(option: &str, word: &str) -> anyhow::Result<[String; N]> {
    let names: Vec<String> = word.split(':').map(|n| n.trim().to_owned()).collect();
    let found = names.len();
    let whole = names.iter().all(|n| !n.is_empty());
    match <[String; N]>::try_from(names) {
        Ok(names) if whole => Ok(names),
        _ => bail!("{option} `{word}`: {found} names in place of {N} joined by colons"),
    }
}
