//! Captures of meshes.

use std::path::Path;

use super::Check;
use super::known::{Known, Seen};
use crate::job::conditions::Pair;
use crate::job::signals::{AxisSettings, Cutoff, CycleSettings, names_of, read_events};

impl Check<'_> {
    pub(super) fn motion(&mut self, known: &Known) {
        let motion = &self.file.motion;
        self.word("motion.removes", &motion.removes, &["rigid", "similarity", "standing"]);
        self.within("motion.modes", motion.modes > 0, motion.modes, "1 or more");
        self.cutoff("motion.cutoff", motion.cutoff);
        if !motion.dimensions.is_empty() && self.file.dimensions.is_none() {
            self.wrong("motion.dimensions", "it needs definitions", "add [dimensions] with `definitions`");
        }
        if let Some(dimensions) = &known.dimensions {
            for name in &motion.dimensions {
                let names = dimensions.definitions.iter().map(|d| d.name.as_str());
                self.name("motion.dimensions", "dimension", name, names);
            }
        }
        if let Some(captures) = known.captures() {
            self.captures(&captures);
        }
        self.places(known);
        self.cycles(known);
        if let Some(strain) = &motion.strain {
            let ok = strain.smoothing_mm >= 0.0 && strain.smoothing_mm.is_finite();
            self.within("motion.strain.smoothing_mm", ok, strain.smoothing_mm, "a number of mm, 0 or more");
        }
        if let Some(dynamics) = &motion.dynamics {
            self.within("motion.dynamics.delays", dynamics.delays != Some(0), 0, "1 or more");
            self.within("motion.dynamics.rank", dynamics.rank != Some(0), 0, "1 or more");
            self.within("motion.dynamics.most", dynamics.most > 0, 0, "1 or more");
        }
        if let Some(shared) = &motion.shared {
            self.within("motion.shared.modes", shared.modes > 0, 0, "1 or more");
            self.within(
                "motion.shared.most_frames",
                shared.most_frames >= 2,
                shared.most_frames,
                "2 or more",
            );
        }
    }

    fn captures(&mut self, captures: &[Seen]) {
        let motion = &self.file.motion;
        let ids = || captures.iter().map(|c| c.id.as_str());
        for id in motion.captures.iter().flatten() {
            self.name("motion.captures", "capture", id, ids());
        }
        let taken: Vec<&Seen> =
            captures.iter().filter(|c| motion.captures.as_ref().is_none_or(|w| w.contains(&c.id))).collect();
        if let Some(short) = taken.iter().find(|c| motion.reference_frame >= c.frames) {
            self.within(
                "motion.reference_frame",
                false,
                motion.reference_frame,
                &format!("0 to {}, the last frame of `{}`", short.frames.saturating_sub(1), short.id),
            );
        }
        let hz = |c: Option<Cutoff>| c.and_then(|c| if let Cutoff::Hz(hz) = c { Some(hz) } else { None });
        for (key, hz) in [
            ("motion.cutoff", hz(motion.cutoff)),
            ("motion.tissue.cutoff_hz", motion.tissue.as_ref().and_then(|t| t.cutoff_hz)),
            ("motion.cycles.hz", motion.cycles.as_ref().and_then(|c| c.hz)),
        ] {
            let rates = taken.iter().filter_map(|c| Some((c.fps()?, c.id.as_str())));
            if let Some((fps, id)) = rates.min_by(|a, b| a.0.total_cmp(&b.0)) {
                self.in_record(key, hz, id, Some(fps));
            }
        }
        if let Some(without) = taken.iter().find(|c| !c.timed) {
            self.wrong(
                "input.fps",
                format!("the frames of `{}` have no times", without.id),
                "give the frames a second, or lay a times file beside the frames",
            );
        }
        let people: Vec<(&str, &str)> =
            taken.iter().map(|c| (c.id.as_str(), c.participant.as_str())).collect();
        self.pairs("motion.compare", &motion.compare, &people);
        if !motion.compare.is_empty() && motion.cycles.is_none() {
            self.wrong(
                "motion.compare",
                "conditions are compared over cycles",
                "add `cycles`, such as { from = \"mode-1\" }",
            );
        }
        if !motion.compare.is_empty() && motion.tissue.is_none() && motion.dimensions.is_empty() {
            self.wrong(
                "motion.compare",
                "there is nothing to compare",
                "add `tissue`, or `dimensions` to follow",
            );
        }
    }

    /// Pairs of captures, each with its participant.
    pub(super) fn pairs(&mut self, key: &str, pairs: &[Pair], captures: &[(&str, &str)]) {
        for pair in pairs {
            if pair.reference == pair.garment {
                self.wrong(key, format!("`{}` is named as both", pair.garment), "a pair is two captures");
            }
            let mut whose = Vec::new();
            for id in [&pair.reference, &pair.garment] {
                if self.name(key, "capture", id, captures.iter().map(|c| c.0)) {
                    whose.extend(captures.iter().find(|c| c.0 == id).map(|c| c.1));
                }
            }
            if let [a, b] = whose[..]
                && a != b
            {
                let wrong = format!("`{}` is of {a} and `{}` of {b}", pair.reference, pair.garment);
                self.wrong(key, wrong, "pair captures of one person");
            }
        }
    }

    pub(super) fn cutoff(&mut self, key: &str, cutoff: Option<Cutoff>) {
        if let Some(Cutoff::Hz(hz)) = cutoff {
            let ok = hz > 0.0 && hz.is_finite();
            self.within(key, ok, hz, "a number of Hz above 0, or \"residual\"");
        }
    }

    /// Regions and landmarks.
    fn places(&mut self, known: &Known) {
        let motion = &self.file.motion;
        if motion.landmarks
            && !known.template_unread
            && known.template.as_ref().is_none_or(|t| t.landmarks.is_empty())
        {
            self.wrong(
                "motion.landmarks",
                "the template has no landmarks to follow",
                "name them in template.toml",
            );
        }
        let rigged = |t: &formkin_geometry::Template| !t.joints.is_empty() && t.skin.is_some();
        if motion.posture.is_some() && !known.template_unread && !known.template.as_ref().is_some_and(rigged)
        {
            self.wrong(
                "motion.posture",
                "the template has no joints and skinning weights",
                "add `joints` and `skin` to template.toml, or leave it out",
            );
        }
        let (Some(regions), Some(places)) = (known.regions(), known.places()) else { return };
        let tissue = motion.tissue.iter();
        let of_regions = motion
            .region
            .iter()
            .map(|r| ("motion.region", r))
            .chain(tissue.clone().map(|t| ("motion.tissue.frame", &t.frame)))
            .chain(motion.strain.iter().flat_map(|s| &s.regions).map(|r| ("motion.strain.regions", r)))
            .chain(motion.posture.iter().flat_map(|p| &p.leave_out).map(|r| ("motion.posture.leave_out", r)));
        for (key, name) in of_regions {
            self.name(key, "region of the template", name, regions.iter().copied());
        }
        for tissue in tissue {
            for name in &tissue.regions {
                self.name("motion.tissue.regions", "region or landmark", name, places.iter().copied());
            }
            self.positive("motion.tissue.cutoff_hz", tissue.cutoff_hz, "Hz");
            self.axes("motion.tissue.axes", tissue.axes.as_ref(), &places);
        }
    }

    /// The ends of the axes of a body frame.
    pub(super) fn axes(&mut self, key: &str, axes: Option<&AxisSettings>, places: &[&str]) {
        let Some(axes) = axes else { return };
        for ends in [Some(&axes.vertical), Some(&axes.lateral), axes.fore_aft.as_ref()].into_iter().flatten()
        {
            for name in ends.iter().flat_map(|e| names_of(e)) {
                self.name(key, "landmark, region or point", &name, places.iter().copied());
            }
        }
    }

    fn cycles(&mut self, known: &Known) {
        let motion = &self.file.motion;
        let Some(cycles) = &motion.cycles else { return };
        let captures = known.captures();
        let ids: Option<Vec<&str>> = captures.as_ref().map(|c| c.iter().map(|c| c.id.as_str()).collect());
        if self.cycle_source("motion.cycles", cycles, ids.as_deref()) {
            return;
        }
        let mut names: Vec<String> = (1..=motion.modes).map(|k| format!("mode-{k}")).collect();
        if motion.tissue.is_some() {
            names.push("frame".to_owned());
        }
        names.extend(motion.dimensions.iter().cloned());
        self.name("motion.cycles.from", "signal", &cycles.from, names.iter().map(String::as_str));
    }

    /// Frequency, events; whether cycles come from events and no signal is looked for.
    pub(super) fn cycle_source(
        &mut self,
        section: &str,
        cycles: &CycleSettings,
        captures: Option<&[&str]>,
    ) -> bool {
        self.positive(&format!("{section}.hz"), cycles.hz, "Hz");
        if let Some(bad) = cycles.at_s.iter().find(|t| !t.is_finite()) {
            self.within(&format!("{section}.at_s"), false, bad, "times in seconds");
        }
        if let Some(w) = cycles.at_s.windows(2).find(|w| w[1] <= w[0]) {
            let value = format!("{} after {}", w[1], w[0]);
            self.within(&format!("{section}.at_s"), false, value, "times that ascend");
        }
        if cycles.at_s.len() == 1 {
            self.within(
                &format!("{section}.at_s"),
                false,
                "one event",
                "two or more, which begin and end a cycle",
            );
        }
        if let [alone] = cycles.at_s[..] {
            self.within(
                &format!("{section}.at_s"),
                false,
                format!("[{alone}]"),
                "two events or more: a cycle runs between two",
            );
        }
        if let Some(w) = cycles.at_s.windows(2).find(|w| w[1] <= w[0]) {
            self.wrong(
                &format!("{section}.at_s"),
                format!("{} comes after {}", w[1], w[0]),
                "events must ascend",
            );
        }
        if let Some(path) = &cycles.events {
            self.events(&format!("{section}.events"), path, captures);
        }
        cycles.events.is_some() || !cycles.at_s.is_empty()
    }

    fn events(&mut self, key: &str, path: &Path, captures: Option<&[&str]>) {
        let path = self.at(path);
        if !self.is_file(key, &path) {
            return;
        }
        let Some(events) = self.refused(key, read_events(&path)) else { return };
        let Some(captures) = captures else { return };
        let named: Vec<&str> = events.iter().filter_map(|e| e.capture.as_deref()).collect();
        if named.len() == events.len()
            && !named.iter().any(|n| captures.contains(n))
            && let Some(first) = named.first()
        {
            self.name(key, "capture", first, captures.iter().copied());
        }
    }
}
