//! `formkin merge`: spaces of several laboratories joined from their files alone.

use formkin_report::merge_page;
use formkin_shape::merge::{LOST, merge};
use serde_json::json;

use crate::args::MergeArgs;
use crate::output::{Exit, Output, people};
use crate::resolve::{free, open_space, write};

pub(crate) fn run(args: &MergeArgs, output: &Output) -> anyhow::Result<Exit> {
    free([Some(&args.into), args.report.as_ref()].into_iter().flatten().map(|p| p.as_path()), args.force)?;
    let spaces = args.spaces.iter().map(|p| open_space(p)).collect::<anyhow::Result<Vec<_>>>()?;
    let made = merge(&spaces, args.modes)?;
    write(&args.into, &made.space.to_safetensors(), args.force)?;
    let mut outputs = vec![&args.into];
    if let Some(path) = &args.report {
        let names = args.spaces.iter().map(|p| p.display().to_string());
        let parts: Vec<_> = names.zip(&spaces).collect();
        write(path, merge_page(&parts, &made)?.as_bytes(), args.force)?;
        outputs.push(path);
    }
    let (space, bound) = (&made.space, &made.bound);
    let object = json!({
        "spaces": args.spaces,
        "people": space.people,
        "items": space.items,
        "modes": space.modes.len(),
        "variances_mm2": space.variances_mm2,
        "total_variance_mm2": space.total_variance_mm2,
        "bound": bound,
        "lost": LOST,
        "outputs": outputs,
    });
    let text = format!(
        "{}, {} items, {} modes; a surface point lies {:.1} mm (RMS) from the mean\n\
         the files left out {:.3} mm RMS; no variance is short by more than {:.3} mm2; means lie up to {:.1} mm from the common one\n{}\nwritten: {}",
        people(space.people),
        space.items,
        space.modes.len(),
        space.total_variance_mm2.sqrt(),
        bound.truncated_rms_mm,
        bound.variance_mm2,
        bound.furthest_mean_mm,
        LOST.map(|lost| format!("lost in merging: {lost}")).join("\n"),
        args.into.display()
    );
    output.result(&object, text)?;
    Ok(Exit::Done)
}
