//! The space as safetensors bytes.

/// What the metadata entry `format` says.
pub const FORMAT: &str = "formkin shape space";

/// The version that this program writes, and the newest it reads.
pub const VERSION: u64 = 1;
