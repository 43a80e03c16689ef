//! `formkin inspect`: what is in a space or a cohort.

use formkin_cohort::Cohort;
use formkin_report::format::counted;
use formkin_tasks::bodies::read_space;
use formkin_tasks::space::{facts, lines};
use serde_json::json;

use crate::args::InspectArgs;
use crate::output::{Exit, Output, people};

pub(crate) fn run(args: &InspectArgs, output: &Output) -> anyhow::Result<Exit> {
    if !args.path.is_dir() {
        let found = read_space(&args.path)?;
        output.result(&facts(&found), lines(&found).join("\n"))?;
        return Ok(Exit::Done);
    }
    let cohort = Cohort::open(&args.path)?;
    let info = cohort.info();
    let template = cohort.template();
    let topology = template.mesh.topology().summary();
    let captures = cohort.captures();
    let mut object = serde_json::to_value(info)?;
    object["watertight"] = json!(topology.watertight);
    object["topology"] = json!(topology);
    object["landmarks"] = json!(template.landmarks.keys().collect::<Vec<_>>());
    object["regions"] = json!(template.regions.keys().collect::<Vec<_>>());
    object["joints"] = json!(template.joints.iter().map(|j| &j.name).collect::<Vec<_>>());
    object["captures"] = json!(
        captures
            .iter()
            .map(|c| json!({
                "capture": c.id, "participant": c.participant, "frames": c.items.len(), "fps": c.fps
            }))
            .collect::<Vec<_>>()
    );
    let mut lines = vec![
        format!(
            "{}, {}, {} of {} in all, {} set aside",
            people(info.people),
            counted(info.stills, "still pose", "still poses"),
            counted(info.sequences, "sequence", "sequences"),
            counted(info.frames, "frame", "frames"),
            counted(info.quarantined, "item", "items")
        ),
        format!(
            "{} vertices, {} triangles, {}; {} landmarks, {} regions, {} joints",
            info.vertices,
            info.triangles,
            if topology.watertight { "watertight" } else { "not watertight" },
            template.landmarks.len(),
            template.regions.len(),
            template.joints.len()
        ),
        format!("read in {}, {} up; stored in mm, z up", info.source_unit.name(), info.source_up.name()),
    ];
    for c in &captures {
        let fps = c.fps.map_or_else(|| "no times".to_owned(), |f| format!("{f:.3} frames/s"));
        lines.push(format!("sequence {}: {} frames of {}, {fps}", c.id, c.items.len(), c.participant));
    }
    output.result(&object, lines.join("\n"))?;
    Ok(Exit::Done)
}
