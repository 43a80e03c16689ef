//! SHA-256 of files and bytes.

use std::fs;
use std::path::Path;

use sha2::{Digest, Sha256};

use crate::TaskError;

/// SHA-256 of a file's content, in hexadecimal.
///
/// # Errors
/// [`TaskError::Read`] where it cannot be read.
pub fn file_hash(path: &Path) -> Result<String, TaskError> {
    let fault = |source| TaskError::Read { path: path.to_owned(), source };
    let mut file = fs::File::open(path).map_err(fault)?;
    let mut hasher = Sha256::new();
    std::io::copy(&mut file, &mut hasher).map_err(fault)?;
    Ok(hex(&hasher.finalize()))
}

/// SHA-256 of bytes, in hexadecimal.
#[must_use]
pub fn hash(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Bytes in hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut s, byte| {
        let _ = write!(s, "{byte:02x}");
        s
    })
}
