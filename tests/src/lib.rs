//! What the tests of the whole house share: where the checkout is, and bodies to try things on.

pub mod bodies;

use std::path::{Path, PathBuf};

/// The top folder of the checkout.
#[must_use]
pub fn checkout() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}
