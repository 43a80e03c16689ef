//! Trajectories of points.

use super::Check;
use crate::job::points::{PointFile, PointSettings, read_points};
use crate::job::signals::Cutoff;

impl Check<'_> {
    pub(super) fn points(&mut self) {
        let Some(section) = &self.file.points else { return };
        let settings = &section.settings;
        self.word("points.settings.up", &settings.up, &["auto", "y", "z"]);
        self.cutoff("points.settings.cutoff", settings.cutoff);
        self.positive("points.settings.tissue_cutoff_hz", settings.tissue_cutoff_hz, "Hz");
        if section.files.is_empty() {
            self.wrong(
                "points.files",
                "it is empty",
                "name at least one TRC or CSV file, or leave [points] out",
            );
        }
        if matches!(settings.frame.len(), 1 | 2) {
            let count = settings.frame.len();
            self.within("points.settings.frame", false, format!("{count} points"), "three or more, or none");
        }
        let mut files: Vec<PointFile> = Vec::new();
        let mut all_read = true;
        for path in &section.files {
            let at = self.at(path);
            let read = if self.is_file("points.files", &at) {
                self.refused("points.files", read_points(&at))
            } else {
                None
            };
            let Some(file) = read else {
                all_read = false;
                continue;
            };
            if files.iter().any(|f| f.capture == file.capture) {
                let wrong =
                    format!("{} bears the name `{}` of a file before it", path.display(), file.capture);
                self.wrong("points.files", wrong, "files are told apart by their names: rename one");
                continue;
            }
            files.push(file);
        }
        for file in &files {
            self.point_names(file, settings);
        }
        let captures: Vec<&str> = files.iter().map(|f| f.capture.as_str()).collect();
        if let Some(cycles) = &settings.cycles {
            let known = all_read.then_some(captures.as_slice());
            if !self.cycle_source("points.settings.cycles", cycles, known) {
                for file in &files {
                    let mut names = signals(file, settings);
                    if !settings.frame.is_empty() {
                        names.push("frame".to_owned());
                    }
                    self.name(
                        "points.settings.cycles.from",
                        "signal",
                        &cycles.from,
                        names.iter().map(String::as_str),
                    );
                }
            }
        }
        if all_read {
            let people: Vec<(&str, &str)> =
                files.iter().map(|f| (f.capture.as_str(), f.participant.as_str())).collect();
            self.pairs("points.compare", &section.compare, &people);
        }
    }

    fn point_names(&mut self, file: &PointFile, settings: &PointSettings) {
        let places: Vec<&str> = file.tracks.names.iter().map(String::as_str).collect();
        let what = format!("point in `{}`", file.capture);
        let named = settings
            .frame
            .iter()
            .map(|n| ("points.settings.frame", n))
            .chain(settings.tissue.iter().map(|n| ("points.settings.tissue", n)))
            .chain(settings.distances.iter().flatten().map(|n| ("points.settings.distances", n)))
            .chain(settings.angles.iter().flatten().map(|n| ("points.settings.angles", n)));
        for (key, name) in named {
            self.name(key, &what, name, places.iter().copied());
        }
        self.axes("points.settings.axes", settings.axes.as_ref(), &places);
        let signals = signals(file, settings);
        for name in &settings.follow {
            let what = format!("signal of `{}`", file.capture);
            self.name("points.settings.follow", &what, name, signals.iter().map(String::as_str));
        }
        let times = &file.tracks.times_s;
        let frames = times.len();
        let fps = times
            .first()
            .zip(times.last())
            .filter(|(a, b)| b > a)
            .map(|(a, b)| (frames - 1) as f64 / (b - a));
        let cutoff = settings.cutoff.and_then(|c| if let Cutoff::Hz(hz) = c { Some(hz) } else { None });
        self.in_record("points.settings.cutoff", cutoff, &file.capture, fps);
        self.in_record("points.settings.tissue_cutoff_hz", settings.tissue_cutoff_hz, &file.capture, fps);
        let cycle_hz = settings.cycles.as_ref().and_then(|c| c.hz);
        self.in_record("points.settings.cycles.hz", cycle_hz, &file.capture, fps);
        self.within(
            "points.settings.reference_frame",
            settings.reference_frame < frames,
            settings.reference_frame,
            &format!("0 to {}, the last frame of `{}`", frames.saturating_sub(1), file.capture),
        );
    }
}

/// The names that signals of points have.
fn signals(file: &PointFile, settings: &PointSettings) -> Vec<String> {
    let mut names: Vec<String> = settings.distances.iter().map(|[a, b]| format!("{a}_to_{b}")).collect();
    names.extend(settings.angles.iter().map(|[a, b, c]| format!("{a}_{b}_{c}")));
    let in_frame: &[&str] =
        if settings.frame.is_empty() { &[] } else { &["lateral", "fore_aft", "vertical"] };
    for axis in in_frame.iter().chain(&["x", "y", "z"]) {
        names.extend(file.tracks.names.iter().map(|p| format!("{p}_{axis}")));
    }
    names
}
