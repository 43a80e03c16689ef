//! `formkin joints`: joint centres, segment lengths, joint angles, segment masses.

use formkin_tasks::choose::Items;
use formkin_tasks::job::joints::joints;
use formkin_tasks::job::movement::find_capture;
use serde_json::json;

use crate::args::JointsArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{free, make_folder, open_cohort, write};

pub(crate) fn run(args: &JointsArgs, output: &Output) -> anyhow::Result<Exit> {
    let cohort = open_cohort(&args.cohort)?;
    let capture = match &args.capture {
        Some(id) => Some(find_capture(&cohort, Some(id))?),
        None => None,
    };
    let items = Items::Stills.of(&cohort)?;
    let bars = Bars::new(output);
    let made = joints(&cohort, &items, capture.as_ref(), &|done, of| bars.tick("joints", done, of));
    bars.clear();
    let made = made?;
    let mut files = vec![("joints.csv", made.joints.to_csv()?)];
    if let Ok(segments) = &made.segments {
        files.push(("segments.csv", segments.to_csv()?));
    }
    if let Some(tracks) = &made.tracks {
        files.push(("joints.trc", tracks.to_trc("joints.trc")));
    }
    let mut outputs = Vec::new();
    if let Some(folder) = &args.into {
        outputs = files.iter().map(|(name, _)| folder.join(name)).collect();
        make_folder(folder)?;
        free(outputs.iter().map(|p| p.as_path()), args.force)?;
        for (path, (_, text)) in outputs.iter().zip(&files) {
            write(path, text.as_bytes(), args.force)?;
        }
    }
    let mut lines =
        vec![format!("{} items, {} columns of joints", made.joints.rows(), made.joints.numbers.len())];
    match &made.segments {
        Err(reason) => lines.push(format!("no segments: {reason}")),
        Ok(_) if made.handbook.is_empty() => {
            lines.push(format!("{:<22} {:>9} {:>9}", "share of mass", "mean", "handbook"));
            for s in &made.shares {
                let handbook = s.handbook_share.map_or_else(|| "-".to_owned(), |h| format!("{h:.4}"));
                lines.push(format!("{:<22} {:>9.4} {handbook:>9}", s.segment, s.mean_share));
            }
            lines.push(format!("handbook: {}", made.source));
        }
        Ok(_) => {}
    }
    lines.extend(super::measure::handbook_lines(&made.handbook));
    let object = json!({
        "items": made.joints.rows(),
        "frames": made.tracks.as_ref().map(|t| t.times_s.len()),
        "shares": made.shares,
        "source": made.source,
        "handbook": made.handbook,
        "no_segments": made.segments.as_ref().err(),
        "outputs": outputs,
    });
    output.result(&object, lines.join("\n"))?;
    Ok(Exit::Done)
}
