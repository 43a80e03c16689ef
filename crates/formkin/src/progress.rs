//! Progress bars, drawn in one place and only when a person watches.

use std::sync::Mutex;
use std::time::Duration;

use formkin_study::Step;
use indicatif::{ProgressBar, ProgressStyle};

use crate::output::Output;

/// A bar for one piece of work at a time.
pub(crate) struct Bars {
    output: Output,
    bar: Mutex<Option<ProgressBar>>,
}

impl Bars {
    pub(crate) fn new(output: &Output) -> Self {
        Self { output: *output, bar: Mutex::new(None) }
    }

    /// Shows that `done` of `of` parts of the current work are done.
    pub(crate) fn tick(&self, what: &str, done: usize, of: usize) {
        if !self.output.bars() {
            return;
        }
        let Ok(mut bar) = self.bar.lock() else { return };
        let bar = bar.get_or_insert_with(|| {
            let style = ProgressStyle::with_template("{msg:<12} {bar:32} {pos}/{len}  {eta}")
                .unwrap_or_else(|_| ProgressStyle::default_bar());
            let bar = ProgressBar::new(of as u64).with_style(style);
            bar.enable_steady_tick(Duration::from_millis(200));
            bar
        });
        bar.set_message(what.to_owned());
        bar.set_length(of as u64);
        bar.set_position(done as u64);
    }

    /// Takes the bar away.
    pub(crate) fn clear(&self) {
        if let Ok(mut bar) = self.bar.lock()
            && let Some(bar) = bar.take()
        {
            bar.finish_and_clear();
        }
    }

    /// Shows the step of a study.
    pub(crate) fn step(&self, step: Step<'_>) {
        match step {
            Step::Progress { stage, done, of } => self.tick(stage, done, of),
            Step::Ends { stage, seconds, kept } => {
                self.clear();
                let how = if kept { "kept from before".to_owned() } else { format!("{seconds:.1} s") };
                self.output.say(format!("  {stage:<12} {how}"));
            }
        }
    }
}
