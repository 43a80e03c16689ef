//! Mesh files into a cohort: what is asked for, and what is known of the data before.

mod facts;
mod settings;

pub use facts::look;
pub use settings::{FileUnit, FileUp, ImportSettings, ImportSources};
