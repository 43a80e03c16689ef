//! The demo: a volunteer lifeboat service chooses immersion suits for its crews. Nobody in it exists.
//!
//! | module | what it holds |
//! |---|---|
//! | [`names`] | landmarks, regions, paths, joints of the template |
//! | [`params`] | what to make, what was made |

pub mod error;
pub mod names;
pub mod params;

pub use error::DemoError;
pub use params::{DemoParams, DemoReport};

mod body;
mod surface;
mod template;

pub use template::template;
