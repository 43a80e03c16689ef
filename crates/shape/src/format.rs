//! What files of spaces say of themselves.

/// What the metadata entry `format` says.
pub(crate) const FORMAT: &str = "formkin shape space";

/// The version that this program writes, and the newest it reads.
pub(crate) const VERSION: u64 = 1;

/// What the metadata entry `formula` says.
pub(crate) const FORMULA: &str = "x = mean + sum_k c_k mode_k; c_k = sum_v w_v mode_kv . (x_v - mean_v) after alignment; var(c_k) = variances[k], divisor items - 1; \
                           sum_v w_v mode_kv . mode_lv = 1 if k = l else 0; sum_v w_v = 1";

/// Why a merged space has no cross-validation; by this a file says that it was merged.
pub(crate) const REFUSED: &str = "the space was merged from model files, without shapes to hold out";
