//! `formkin merge`: spaces of several laboratories joined from their files alone.

use formkin_shape::merge::merge;
use serde_json::json;

use crate::args::MergeArgs;
use crate::output::{Exit, Output, people};
use crate::resolve::{free, open_space, write};

pub(crate) fn run(args: &MergeArgs, output: &Output) -> anyhow::Result<Exit> {
    free([args.into.as_path()], args.force)?;
    let spaces = args.spaces.iter().map(|p| open_space(p)).collect::<anyhow::Result<Vec<_>>>()?;
    let made = merge(&spaces, args.modes)?;
    write(&args.into, &made.space.to_safetensors(), args.force)?;
    let (space, bound) = (&made.space, &made.bound);
    let object = json!({
        "spaces": args.spaces,
        "people": space.people,
        "items": space.items,
        "modes": space.modes.len(),
        "variances_mm2": space.variances_mm2,
        "total_variance_mm2": space.total_variance_mm2,
        "bound": bound,
        "outputs": [&args.into],
    });
    let text = format!(
        "{}, {} items, {} modes; a surface point lies {:.1} mm (RMS) from the mean\n\
         the files left out {:.3} mm RMS; no variance is short by more than {:.3} mm2; means lie up to {:.1} mm from the common one\nwritten: {}",
        people(space.people),
        space.items,
        space.modes.len(),
        space.total_variance_mm2.sqrt(),
        bound.truncated_rms_mm,
        bound.variance_mm2,
        bound.furthest_mean_mm,
        args.into.display()
    );
    output.result(&object, text)?;
    Ok(Exit::Done)
}
