//! What is wrong before anything runs.

use super::read::{PointFile, read_points};
use super::settings::{FRAME, PointsSettings, PointsSources};
use crate::Problems;
use crate::signals::Cutoff;
use crate::signals::check as signals;
use crate::signals::check::given;

pub(super) fn check(sources: &PointsSources, settings: &PointsSettings, problems: &mut Problems) {
    signals::cutoff("cutoff", settings.cutoff, problems);
    problems.positive(given(problems, "tissue_cutoff_hz", "tissue_cutoff"), settings.tissue_cutoff_hz, "Hz");
    if sources.files.is_empty() {
        let advice = if problems.in_study() {
            "name at least one TRC or CSV file, or leave [points] out"
        } else {
            "name at least one TRC or CSV file"
        };
        problems.wrong("files", "it is empty", advice);
    }
    one_for_each(sources, problems);
    if matches!(settings.frame.len(), 1 | 2) {
        let count = settings.frame.len();
        problems.within("frame", false, format!("{count} points"), "3 or more, or none");
    }
    if settings.frame.is_empty() && !settings.tissue.is_empty() {
        let key = given(problems, "tissue", "follow_point");
        let advice = if problems.in_study() { "add `frame`" } else { "add --frame" };
        problems.wrong(key, "there are no points that the body frame is fixed to", advice);
    }
    if !problems.in_study() {
        signals::axes("axes", settings.axes.as_ref(), None, problems);
        let framed = !settings.frame.is_empty();
        signals::cycles(settings.cycles.as_ref(), sources.events.as_deref(), framed, None, problems);
        return;
    }
    let (files, all_read) = read(sources, problems);
    for file in &files {
        point_names(file, settings, problems);
    }
    cycles(sources, settings, &files, all_read, problems);
    if all_read {
        let people: Vec<(&str, &str)> =
            files.iter().map(|f| (f.capture.as_str(), f.participant.as_str())).collect();
        signals::pairs("compare", &settings.compare, &people, problems);
    }
}

/// One file with the garment and one person for each file.
fn one_for_each(sources: &PointsSources, problems: &mut Problems) {
    let n = sources.files.len();
    for (field, given) in [("against", sources.against.len()), ("person", sources.person.len())] {
        if given > 0 && given != n {
            let wrong = format!("{given} are given for {n} files");
            problems.wrong(field, wrong, "give one for each, in their order");
        }
    }
    if sources.person.iter().any(|p| p.trim().is_empty()) {
        problems.wrong("person", "it is blank", "name who moves");
    }
}

/// The files that can be read, and whether all can.
fn read(sources: &PointsSources, problems: &mut Problems) -> (Vec<PointFile>, bool) {
    let mut files: Vec<PointFile> = Vec::new();
    let mut all_read = true;
    for path in &sources.files {
        let there = problems.file("files", path);
        let Some(file) = there.then(|| problems.refused("files", read_points(path))).flatten() else {
            all_read = false;
            continue;
        };
        if files.iter().any(|f| f.capture == file.capture) {
            let wrong = format!("{} bears the name `{}` of a file before it", path.display(), file.capture);
            problems.wrong("files", wrong, "files are known by their names: rename one");
            continue;
        }
        files.push(file);
    }
    (files, all_read)
}

fn cycles(
    sources: &PointsSources,
    settings: &PointsSettings,
    files: &[PointFile],
    all_read: bool,
    problems: &mut Problems,
) {
    let captures: Vec<&str> = files.iter().map(|f| f.capture.as_str()).collect();
    let known = all_read.then_some(captures.as_slice());
    let framed = !settings.frame.is_empty();
    let asked = settings.cycles.as_ref();
    let by_events = signals::cycles(asked, sources.events.as_deref(), framed, known, problems);
    let Some(from) = asked.and_then(|c| c.from.as_ref()).filter(|_| !by_events) else { return };
    for file in files {
        let mut names = signal_names(file, settings);
        if framed {
            names.push(FRAME.to_owned());
        }
        problems.name("cycles.from", "signal", from, names.iter().map(String::as_str));
    }
}

fn point_names(file: &PointFile, settings: &PointsSettings, problems: &mut Problems) {
    let places: Vec<&str> = file.tracks.names.iter().map(String::as_str).collect();
    let what = format!("point in `{}`", file.capture);
    let named = settings
        .frame
        .iter()
        .map(|n| ("frame", n))
        .chain(settings.tissue.iter().map(|n| ("tissue", n)))
        .chain(settings.distances.iter().flatten().map(|n| ("distances", n)))
        .chain(settings.angles.iter().flatten().map(|n| ("angles", n)));
    for (key, name) in named {
        problems.name(key, &what, name, places.iter().copied());
    }
    signals::axes("axes", settings.axes.as_ref(), Some(&places), problems);
    let signals = signal_names(file, settings);
    for name in &settings.follow {
        let what = format!("signal of `{}`", file.capture);
        problems.name("follow", &what, name, signals.iter().map(String::as_str));
    }
    let times = &file.tracks.times_s;
    let frames = times.len();
    let fps =
        times.first().zip(times.last()).filter(|(a, b)| b > a).map(|(a, b)| (frames - 1) as f64 / (b - a));
    problems.in_record("cutoff", settings.cutoff.and_then(Cutoff::hz), &file.capture, fps);
    problems.in_record("tissue_cutoff_hz", settings.tissue_cutoff_hz, &file.capture, fps);
    problems.in_record("cycles.hz", settings.cycles.as_ref().and_then(|c| c.hz), &file.capture, fps);
    problems.within(
        "reference",
        settings.reference < frames,
        settings.reference,
        &format!("0 to {}, the last frame of `{}`", frames.saturating_sub(1), file.capture),
    );
}

/// The names that signals of points have.
fn signal_names(file: &PointFile, settings: &PointsSettings) -> Vec<String> {
    let mut names: Vec<String> = settings.distances.iter().map(|[a, b]| format!("{a}_to_{b}")).collect();
    names.extend(settings.angles.iter().map(|[a, b, c]| format!("{a}_{b}_{c}")));
    let in_frame: &[&str] =
        if settings.frame.is_empty() { &[] } else { &["lateral", "fore_aft", "vertical"] };
    for axis in in_frame.iter().chain(&["x", "y", "z"]) {
        names.extend(file.tracks.names.iter().map(|p| format!("{p}_{axis}")));
    }
    names
}
