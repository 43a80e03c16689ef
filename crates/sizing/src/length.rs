//! Units of length.

/// Millimetres in a unit of length; None for a unit of something else.
pub(crate) fn mm_per(unit: &str) -> Option<f64> {
    match unit {
        "mm" => Some(1.0),
        "cm" => Some(10.0),
        "m" => Some(1000.0),
        _ => None,
    }
}
