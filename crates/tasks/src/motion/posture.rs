//! The pose of every frame.

use formkin_geometry::ShapeSource;
use formkin_motion::MotionError;
use formkin_motion::posture::rig::{Blend, Rig};
use formkin_motion::posture::sequence::{Explained, Posture, PostureParams};
use serde::{Deserialize, Serialize};

use super::settings::{PostureSettings, TissueSettings};
use super::taken::Taken;
use crate::{Progress, TaskError, choices};

/// Posture with what it explains.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PostureOutcome {
    /// Poses and fit.
    pub posture: Posture,
    /// What posture explains of each motion mode.
    pub explained: Vec<Explained>,
    /// Which body at rest was used.
    pub rest: String,
    /// Mean over the frames of the fit's root mean square, in mm.
    pub fit_rms_mm: f64,
    /// Frames whose pose settled.
    pub settled_frames: usize,
    /// Every frame brought back to the stance of the template, frame by frame, x, y, z in mm; empty unless asked for.
    pub unposed_mm: Vec<f32>,
}

pub(super) fn posture(
    taken: &Taken<'_>,
    asked: &PostureSettings,
    tissue: Option<&TissueSettings>,
    progress: Progress<'_>,
) -> Result<PostureOutcome, TaskError> {
    let template = taken.template();
    let mut leave_out = Vec::new();
    match &asked.leave_out {
        Some(names) => {
            for name in names {
                leave_out.extend(choices::region("a region left out of the posture", name, template)?);
            }
        }
        // of what is followed, landmarks are no soft tissue to leave out
        None => {
            let followed = tissue.iter().flat_map(|t| &t.regions);
            leave_out.extend(followed.filter_map(|name| template.regions.get(name)).flatten());
        }
    }
    // the person's own still body where there is one
    let items = taken.cohort.items();
    let still =
        taken.cohort.stills().into_iter().find(|&i| items[i].participant == taken.capture.participant);
    let (rest, words, rest_rounds) = match still {
        Some(i) => {
            let body = taken.cohort.select(vec![i]).read_shape(0).map_err(MotionError::from)?;
            (body, format!("the still body `{}` of the same person", items[i].item), 0)
        }
        None => {
            let words = "the template's, made the person's from unposed frames in four rounds".to_owned();
            (template.mesh.positions().to_vec(), words, 4)
        }
    };
    let mut rig = Rig::new(template, &rest, Blend::DualQuaternion)?;
    let params = PostureParams { leave_out, rest_rounds };
    let posture = params.fit(&mut rig, taken.frames, progress)?;
    let explained = posture.explains(&rig, taken.frames, taken.motion)?;
    let mut unposed_mm = Vec::new();
    if asked.unposed {
        let bodies = posture.unposed(&rig, taken.frames)?;
        for k in 0..posture.frames.len() {
            let body = bodies.read_shape(k).map_err(MotionError::from)?;
            unposed_mm.extend(body.iter().flatten().map(|x| *x as f32));
        }
    }
    let frames = &posture.frames;
    let fit_rms_mm = frames.iter().map(|f| f.rms_mm).sum::<f64>() / frames.len().max(1) as f64;
    let settled_frames = frames.iter().filter(|f| f.settled).count();
    Ok(PostureOutcome { posture, explained, rest: words, fit_rms_mm, settled_frames, unposed_mm })
}
