//! What is wrong before anything runs.

use formkin_geometry::Template;

use super::settings::{FRAME, MotionSettings, MotionSources, TissueSettings};
use crate::facts::Sequence;
use crate::reading::read_dimensions;
use crate::signals::check as signals;
use crate::signals::check::given;
use crate::signals::{Cutoff, CycleSettings};
use crate::{Facts, Problems};

pub(super) fn check(
    sources: &MotionSources,
    settings: &MotionSettings,
    facts: &Facts,
    problems: &mut Problems,
) {
    signals::cutoff("cutoff", settings.cutoff, problems);
    dimensions(sources, settings, facts, problems);
    if let Some(known) = &facts.captures {
        captures(settings, known, problems);
    }
    if let Some(tissue) = &settings.tissue {
        body_frame(tissue, facts, problems);
    }
    if sources.against.is_some() && settings.tissue.as_ref().is_none_or(|t| t.regions.is_empty()) {
        problems.wrong(
            "against",
            "what is compared is soft tissue",
            "name it with --tissue, and its frame with --frame",
        );
    }
    if let Some(strain) = &settings.strain {
        let ok = strain.smoothing_mm >= 0.0 && strain.smoothing_mm.is_finite();
        let key = given(problems, "strain.smoothing_mm", "smoothing");
        problems.within(key, ok, strain.smoothing_mm, "a number of mm, 0 or more");
    }
    template(settings, facts, problems);
    cycles(sources, settings, facts, problems);
}

/// The dimensions that are followed are defined.
fn dimensions(sources: &MotionSources, settings: &MotionSettings, facts: &Facts, problems: &mut Problems) {
    if !problems.in_study() {
        if sources.dimensions.is_none() && !settings.follow.is_empty() {
            problems.wrong("follow", "it needs definitions", "add --dimensions with the definitions");
        }
        return;
    }
    let own = match &sources.dimensions {
        Some(path) if problems.file("dimensions", path) => {
            problems.refused("dimensions", read_dimensions(path))
        }
        _ => None,
    };
    if sources.dimensions.is_none() && facts.dimensions.is_none() && !settings.follow.is_empty() {
        let advice =
            "add [measure] with `dimensions`, or name the file of definitions as `dimensions` here too";
        problems.wrong("follow", "it needs definitions", advice);
    }
    if let Some(dimensions) = own.as_ref().or(facts.dimensions.as_ref()) {
        for name in &settings.follow {
            problems.name(
                "follow",
                "dimension",
                name,
                dimensions.definitions.iter().map(|d| d.name.as_str()),
            );
        }
    }
}

fn captures(settings: &MotionSettings, known: &[Sequence], problems: &mut Problems) {
    for id in settings.captures.iter().flatten() {
        problems.name("captures", "capture", id, known.iter().map(|c| c.id.as_str()));
    }
    let taken: Vec<&Sequence> =
        known.iter().filter(|c| settings.captures.as_ref().is_none_or(|w| w.contains(&c.id))).collect();
    if let Some(short) = taken.iter().find(|c| settings.reference >= c.frames) {
        let range = format!("0 to {}, the last frame of `{}`", short.frames.saturating_sub(1), short.id);
        problems.within("reference", false, settings.reference, &range);
    }
    let slowest =
        taken.iter().filter_map(|c| Some((c.fps()?, c.id.as_str()))).min_by(|a, b| a.0.total_cmp(&b.0));
    for (key, hz) in [
        ("cutoff", settings.cutoff.and_then(Cutoff::hz)),
        ("tissue.cutoff_hz", settings.tissue.as_ref().and_then(|t| t.cutoff_hz)),
        ("cycles.hz", settings.cycles.as_ref().and_then(|c| c.hz)),
    ] {
        if let Some((fps, id)) = slowest {
            problems.in_record(key, hz, id, Some(fps));
        }
    }
    if let Some(without) = taken.iter().find(|c| !c.timed) {
        problems.wrong(
            "",
            format!("the frames of `{}` have no times", without.id),
            "give the frames a second (`import.fps`), or lay a times file beside the frames",
        );
    }
}

/// The region of the frame and its axes.
fn body_frame(tissue: &TissueSettings, facts: &Facts, problems: &mut Problems) {
    if tissue.frame.is_empty() {
        let asked = match (&tissue.axes, &tissue.regions[..]) {
            (_, [_, ..]) => "tissue",
            (Some(_), _) => "vertical",
            _ => "tissue_cutoff",
        };
        let key = given(problems, "tissue.frame", asked);
        let wrong = "there is no region that the body frame is fixed to";
        let advice = if problems.in_study() { "add `frame`" } else { "add --frame" };
        problems.wrong(key, wrong, advice);
    }
    problems.positive(given(problems, "tissue.cutoff_hz", "tissue_cutoff"), tissue.cutoff_hz, "Hz");
    let places = facts.places();
    signals::axes("tissue.axes", tissue.axes.as_ref(), places.as_deref(), problems);
}

/// Landmarks, joints, regions.
fn template(settings: &MotionSettings, facts: &Facts, problems: &mut Problems) {
    let lacks =
        |has: fn(&Template) -> bool| facts.nameless || facts.template.as_ref().is_some_and(|t| !has(t));
    if settings.landmarks && lacks(|t| !t.landmarks.is_empty()) {
        problems.wrong("landmarks", "the template has no landmarks to follow", "name them in template.toml");
    }
    if settings.posture.is_some() && lacks(|t| !t.joints.is_empty() && t.skin.is_some()) {
        problems.wrong(
            "posture",
            "the template has no joints and skinning weights",
            "add `joints` and `skin` to template.toml, or leave it out",
        );
    }
    let (Some(regions), Some(places)) = (facts.regions(), facts.places()) else { return };
    let tissue = settings.tissue.iter().filter(|t| !t.frame.is_empty());
    let strained = settings.strain.iter().flat_map(|s| &s.regions);
    let left_out = settings.posture.iter().flat_map(|p| &p.leave_out).flatten();
    let named = settings
        .region
        .iter()
        .map(|r| ("region", r))
        .chain(tissue.map(|t| ("tissue.frame", &t.frame)))
        .chain(strained.map(|r| ("strain.regions", r)))
        .chain(left_out.map(|r| ("posture.leave_out", r)));
    for (key, name) in named {
        problems.name(key, "region of the template", name, regions.iter().copied());
    }
    for name in settings.tissue.iter().flat_map(|t| &t.regions) {
        problems.name("tissue.regions", "region or landmark", name, places.iter().copied());
    }
}

fn cycles(sources: &MotionSources, settings: &MotionSettings, facts: &Facts, problems: &mut Problems) {
    let ids: Option<Vec<&str>> = facts.captures.as_ref().map(|c| c.iter().map(|c| c.id.as_str()).collect());
    let (asked, framed) = (settings.cycles.as_ref(), settings.tissue.is_some());
    let events = signals::cycles(asked, sources.events.as_deref(), framed, ids.as_deref(), problems);
    let Some(CycleSettings { from: Some(from), .. }) = asked.filter(|_| !events) else { return };
    if !problems.in_study() {
        return; // the run says which signals there are
    }
    let mut names: Vec<String> = (1..=settings.modes).map(|k| format!("mode-{k}")).collect();
    if framed {
        names.push(FRAME.to_owned());
    }
    names.extend(settings.follow.iter().cloned());
    if settings.follow.is_empty() && sources.dimensions.is_some() {
        return; // any dimension of the file may be meant
    }
    problems.name("cycles.from", "signal", from, names.iter().map(String::as_str));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{DynamicSettings, PostureSettings};
    use crate::problem::Given;

    fn sequence(id: &str, frames: usize) -> Sequence {
        Sequence {
            id: id.into(),
            participant: "K07".into(),
            frames,
            timed: true,
            times_s: Some((0.0, (frames - 1) as f64 / 50.0)),
        }
    }

    fn said(sources: &MotionSources, settings: &MotionSettings, facts: &Facts, given: Given) -> Vec<String> {
        let mut problems = Problems::new(given);
        check(sources, settings, facts, &mut problems);
        problems.found.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_study_is_told_all_that_its_captures_cannot_give() {
        let settings = MotionSettings {
            captures: Some(vec!["K07_sway".into(), "K07_swai".into()]),
            reference: 100,
            cutoff: Some(Cutoff::Hz(25.0)),
            cycles: Some(CycleSettings { from: Some("mode-9".into()), ..CycleSettings::default() }),
            landmarks: true,
            posture: Some(PostureSettings::default()),
            dynamics: Some(DynamicSettings::default()),
            ..MotionSettings::default()
        };
        let facts = Facts {
            captures: Some(vec![sequence("K07_sway", 100), sequence("K07_jump", 3)]),
            nameless: true,
            ..Facts::default()
        };
        let found = said(&MotionSources::default(), &settings, &facts, Given::Section("motion".into()));
        for (at, begins) in [
            "motion.captures: there is no capture `K07_swai`",
            "motion.reference: it is 100; it must be 0 to 99, the last frame of `K07_sway`",
            "motion.cutoff: it is 25; it must be below 25.0000 Hz, half the frames a second of `K07_sway`",
            "motion.landmarks: the template has no landmarks",
            "motion.posture: the template has no joints",
            "motion.cycles.from: there is no signal `mode-9`",
        ]
        .into_iter()
        .enumerate()
        {
            assert!(found[at].starts_with(begins), "{at}: {found:#?}");
        }
        assert_eq!(found.len(), 6);
    }

    #[test]
    fn a_command_names_its_options() {
        let settings = MotionSettings {
            follow: vec!["chest_girth".into()],
            tissue: Some(TissueSettings { regions: vec!["soft".into()], ..TissueSettings::default() }),
            ..MotionSettings::default()
        };
        let sources = MotionSources { against: Some("K07_bare".into()), ..MotionSources::default() };
        let found = said(&sources, &settings, &Facts::default(), Given::Command);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found[0].starts_with("--follow: ") && found[0].contains("--dimensions"));
        assert!(found[1].starts_with("--tissue: ") && found[1].contains("--frame"));
        let alone = said(&sources, &MotionSettings::default(), &Facts::default(), Given::Command);
        assert!(alone[0].starts_with("--against: ") && alone[0].contains("--tissue"));
    }
}
