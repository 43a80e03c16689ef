//! A straight scale from values to positions, and round numbers for its ticks.

/// A straight map of values to positions on the page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Scale {
    /// Maps `low` to `from` and `high` to `to`. An empty range is widened, so that a single value sits in the middle.
    pub(crate) fn new((low, high): (f64, f64), (from, to): (f64, f64)) -> Self {
        let (low, high) = widened(low, high);
        Self { low, high, from, to }
    }

    /// The position of a value.
    pub(crate) fn at(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }
}

/// Round values along an axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ticks {
    /// The values, ascending.
    pub(crate) values: Vec<f64>,
    /// Decimals that tell them apart.
    pub(crate) decimals: usize,
}

fn widened(low: f64, high: f64) -> (f64, f64) {
    if !low.is_finite() || !high.is_finite() {
        return (0.0, 1.0);
    }
    if high > low {
        return (low, high);
    }
    let half = if low == 0.0 { 1.0 } else { low.abs() * 0.05 };
    (low - half, low + half)
}

/// A step of 1, 2 or 5 times a power of ten that divides the range into about `wanted` parts.
fn step(low: f64, high: f64, wanted: usize) -> f64 {
    let raw = (high - low) / wanted.max(1) as f64;
    let power = 10f64.powf(raw.log10().floor());
    let times = [1.0, 2.0, 5.0].into_iter().find(|t| t * power >= raw * 0.999_999).unwrap_or(10.0);
    times * power
}

fn decimals(step: f64) -> usize {
    (-step.log10() - 1e-9).ceil().clamp(0.0, 9.0) as usize
}

/// Ticks inside a range, about `wanted` of them, at multiples of 1, 2 or 5 times a power of ten.
pub(crate) fn ticks((low, high): (f64, f64), wanted: usize) -> Ticks {
    let (low, high) = widened(low, high);
    let step = step(low, high, wanted);
    let first = (low / step - 1e-9).ceil();
    let last = (high / step + 1e-9).floor();
    let values = (0..=(last - first).max(0.0) as usize)
        // multiples, not sums: sums drift
        .map(|i| (first + i as f64) * step)
        .collect();
    Ticks { values, decimals: decimals(step) }
}

/// Ticks at whole numbers only: modes and sizes are counted.
pub(crate) fn whole_ticks((low, high): (f64, f64), wanted: usize) -> Ticks {
    let (low, high) = widened(low, high);
    let step = step(low, high, wanted).max(1.0).round();
    let first = (low / step).ceil();
    let last = (high / step).floor();
    let mut values: Vec<f64> =
        (0..=(last - first).max(0.0) as usize).map(|i| (first + i as f64) * step).collect();
    // counting starts at one, not at nought
    if low > 0.0 && low <= 1.0 && step > 1.0 {
        values.retain(|v| *v >= 1.0 + 0.75 * step);
        values.insert(0, 1.0);
    }
    Ticks { values, decimals: 0 }
}

/// Ticks whose texts have room beside each other: fewer are taken until they fit.
pub(crate) fn text_ticks(
    ticks: impl Fn(usize) -> Ticks,
    width: impl Fn(f64, usize) -> f64,
    wanted: usize,
    room: f64,
) -> Ticks {
    let mut wanted = wanted;
    loop {
        let found = ticks(wanted);
        let widest = found.values.iter().map(|&v| width(v, found.decimals)).fold(0.0, f64::max);
        if wanted <= 2 || (widest + 14.0) * found.values.len() as f64 <= room {
            return found;
        }
        wanted -= 1;
    }
}

/// The range widened to whole ticks on both sides.
#[must_use]
pub fn rounded_out((low, high): (f64, f64), wanted: usize) -> (f64, f64) {
    let (low, high) = widened(low, high);
    let step = step(low, high, wanted);
    ((low / step + 1e-9).floor() * step, (high / step - 1e-9).ceil() * step)
}

/// The lowest and highest finite value, or `None` where there is none.
pub(crate) fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values.into_iter().filter(|v| v.is_finite()).fold(None, |range, v| match range {
        None => Some((v, v)),
        Some((low, high)) => Some((f64::min(low, v), f64::max(high, v))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_maps_both_ends_and_survives_an_empty_range() {
        let s = Scale::new((10.0, 20.0), (100.0, 0.0));
        assert_eq!((s.at(10.0), s.at(15.0), s.at(20.0)), (100.0, 50.0, 0.0));
        let s = Scale::new((5.0, 5.0), (0.0, 100.0));
        assert!((s.at(5.0) - 50.0).abs() < 1e-9);
        let s = Scale::new((f64::NAN, 1.0), (0.0, 1.0));
        assert!(s.at(0.5).is_finite());
    }

    #[test]
    fn ticks_are_round_and_inside() {
        let t = ticks((0.0, 97.0), 5);
        assert_eq!(t.values, [0.0, 20.0, 40.0, 60.0, 80.0]);
        assert_eq!(t.decimals, 0);
        let t = ticks((0.12, 0.31), 4);
        assert_eq!(t.decimals, 2);
        assert!(t.values.iter().all(|v| (0.12..=0.31).contains(v)));
        assert_eq!(ticks((-1.0, 1.0), 4).values, [-1.0, -0.5, 0.0, 0.5, 1.0]);
        assert_eq!(whole_ticks((1.0, 40.0), 5).values, [1.0, 10.0, 20.0, 30.0, 40.0]);
        assert_eq!(whole_ticks((0.3, 9.7), 5).values, [1.0, 4.0, 6.0, 8.0]);
        assert_eq!(whole_ticks((1.0, 3.0), 8).values, [1.0, 2.0, 3.0]);
    }

    #[test]
    fn ranges_round_outwards() {
        assert_eq!(rounded_out((3.0, 97.0), 5), (0.0, 100.0));
        assert_eq!(rounded_out((0.0, 100.0), 5), (0.0, 100.0));
        assert_eq!(extent([2.0, f64::NAN, -1.0]), Some((-1.0, 2.0)));
        assert_eq!(extent([f64::NAN]), None);
    }
}
