//! Which sizes to make, and whom they fit; an existing chart on people; the sizes of new people; a mannequin of every size.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `check` | what is wrong before anything runs |
//! | `run` | a table and a plan to sizes, with all that is asked of them |
//! | `mannequin` | a size and a space to a body |
//! | `deliver` | the object, the tables, the bodies |
//! | `section` | what a reader is shown |

mod check;
mod deliver;
mod mannequin;
mod run;
mod section;
mod settings;
#[cfg(test)]
mod tests;

use formkin_report::document::{Front, Section};
use serde_json::Value;

pub use deliver::{mannequin_summary, size_summary, size_tables};
pub use mannequin::{Mannequin, MannequinDimension, Mannequins, mannequins};
pub use run::{BORDERLINE_MM, SizeInputs, SizeOutcome, with_coefficients};
pub use settings::{MOVEMENTS, SizeSettings, SizeSources};

use crate::measure::Measure;
use crate::movements::Movements;
use crate::predictions::Predictions;
use crate::space::Space;
use crate::{Delivery, Facts, Need, Problems, Progress, Store, Target, Task, TaskError};

/// Which sizes to make, and whom they fit.
#[derive(Debug, Clone, Copy)]
pub struct Size;

impl Task for Size {
    const NAME: &'static str = "size";
    const ABOUT: &'static str = "A size system from a table of dimensions, and whom it fits";
    const EXAMPLES: &'static str = "Examples:
  formkin size people.csv --plan plan.toml --into sizes
  formkin size people.csv --plan plan.toml --allowances allowance.csv   coverage in movement too
  formkin size others.csv --chart sizes/size-chart.csv                  whom an existing chart fits
  formkin size --chart sizes/size-chart.csv --assign new.csv            the sizes of new people
  formkin size people.csv --plan plan.toml --space crew.safetensors --into out   with a mannequin of every size

The plan and the chart are described in docs/formats.md.";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write chart, coverage and assignments into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = &["size-chart.csv", "size.json"];
    const AT_TOP: bool = true;

    type Sources = SizeSources;
    type Settings = SizeSettings;
    type Inputs = SizeInputs;
    type Outcome = SizeOutcome;

    fn check(sources: &SizeSources, settings: &SizeSettings, facts: &Facts, problems: &mut Problems) {
        check::check(sources, settings, facts, problems);
    }

    fn open(sources: &SizeSources, _: &SizeSettings) -> Result<SizeInputs, TaskError> {
        SizeInputs::open(sources)
    }

    fn needs() -> Vec<Need> {
        vec![Need::of::<Measure>(), Need::of::<Space>(), Need::of::<Predictions>(), Need::of::<Movements>()]
    }

    fn gather(
        sources: &SizeSources,
        _: &SizeSettings,
        store: &Store,
    ) -> Result<Option<SizeInputs>, TaskError> {
        SizeInputs::gather(sources, store)
    }

    fn run(settings: &SizeSettings, inputs: &SizeInputs, _: Progress<'_>) -> Result<SizeOutcome, TaskError> {
        run::run(settings, inputs)
    }

    fn object(_: &SizeSettings, inputs: &SizeInputs, outcome: &SizeOutcome) -> Result<Value, TaskError> {
        Ok(deliver::object(inputs, outcome))
    }

    fn deliver<'a>(
        _: &'a SizeSettings,
        inputs: &'a SizeInputs,
        outcome: &'a SizeOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        deliver::files(inputs, outcome)
    }

    fn section(
        _: &SizeSettings,
        inputs: &SizeInputs,
        outcome: &SizeOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(section::sections(inputs, outcome))
    }

    fn front(_: &SizeSettings, _: &SizeInputs, outcome: &SizeOutcome) -> Result<Option<Front>, TaskError> {
        Ok(section::front(outcome))
    }

    fn cautions(_: &SizeInputs, outcome: &SizeOutcome) -> Vec<String> {
        let systems = outcome.system.iter().chain(&outcome.existing);
        systems.flat_map(|s| &s.cautions).cloned().collect()
    }
}
