//! Independent named random streams.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// A random stream that depends on the seed and the label alone: streams of different labels are independent, and a new stream
/// leaves the others as they were.
///
/// The label chooses the stream (the nonce) of ChaCha8, through the 64-bit FNV-1a hash of its bytes (Fowler, Noll and Vo).
#[must_use]
pub fn stream(seed: u64, label: &str) -> ChaCha8Rng {
    let hash = label
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |h, byte| (h ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(hash);
    rng
}

#[cfg(test)]
mod tests {
    use rand::RngCore;

    use super::*;

    #[test]
    fn a_stream_is_repeatable_and_others_differ() {
        let first = |seed, label| stream(seed, label).next_u64();
        assert_eq!(first(7, "folds"), first(7, "folds"));
        assert_ne!(first(7, "folds"), first(7, "sample"));
        assert_ne!(first(7, "folds"), first(8, "folds"));
    }
}
