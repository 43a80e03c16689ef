//! The demo: a volunteer lifeboat service chooses immersion suits for its crews. Nobody in it exists.
//!
//! | module | what it holds |
//! |---|---|
//! | [`names`] | landmarks, regions, paths, joints of the template |
//! | [`params`] | what to make, what was made |

pub mod error;
pub mod names;
pub mod params;

mod body;
mod demo_template;
mod generate;
mod movement;
mod people;
mod plan;
#[cfg(test)]
mod soundness;
mod surface;
mod template;

pub use demo_template::{DemoTemplate, template};
pub use error::DemoError;
pub use generate::generate;
pub use movement::clip::Movement;
pub use movement::soft::Spring;
pub use params::{DemoParams, DemoReport};
pub use people::factors::{FACTORS, Latents};
pub use people::figures::{NAMES as DIMENSION_NAMES, Sex, target};
