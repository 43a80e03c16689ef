//! New bodies: coefficients drawn from what is known of people, truncated jointly, and what can be said of them.
//!
//! | module | what it holds |
//! |---|---|
//! | [`density`] | the distribution drawn from: one normal, one a group, a mixture |
//! | [`draw`] | drawing: joint truncation, refusals, exact counts |
//! | [`target`] | weights towards a target population, and picking by weight |
//! | [`mod@judge`] | drawn bodies beside real people: spreads, correlations, specificity, privacy |
//! | [`marginals`] | dimensions of drawn bodies beside those of people |

pub mod density;
pub mod draw;
pub mod judge;
pub mod marginals;
pub mod target;

pub use density::{Component, Density};
pub use draw::{SampleParams, Samples, sample};
pub use judge::{Privacy, SampleReport, judge};
pub use marginals::{CorrelationReport, DimensionMarginal, compare_dimensions};
pub use target::{Margin, MarginFit, TargetFit, Wanted, pick, weigh};
