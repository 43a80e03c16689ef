//! What outputs say of where they come from: the program, the time.

/// Program and version.
#[must_use]
pub fn program() -> String {
    concat!("formkin ", env!("CARGO_PKG_VERSION")).to_owned()
}

/// Now, in UTC, as `2026-01-31 09:30 UTC`.
#[must_use]
pub fn now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string()
}
