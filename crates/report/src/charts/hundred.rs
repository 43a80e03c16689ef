//! A hundred dots for a hundred people: a share and its interval as something one can count.

use super::svg::Svg;

/// Distance of two dots.
const PITCH: f64 = 19.0;

/// Ten rows of ten: full up to the lower end of the interval, paler up to the share, rings up to the upper end, faint beyond.
/// The first dot is at the lower left; dots are filled upwards, row by row.
pub(crate) fn hundred(id: &str, title: &str, description: &str, share: f64, interval: (f64, f64)) -> String {
    let side = 10.0 * PITCH;
    let mut svg = Svg::new(side, side);
    let to = |s: f64| (s.clamp(0.0, 1.0) * 100.0).round() as usize;
    let (low, middle, high) = (to(interval.0), to(share), to(interval.1));
    for i in 0..100 {
        let at = ((i % 10) as f64 * PITCH + PITCH / 2.0, side - (i / 10) as f64 * PITCH - PITCH / 2.0);
        let (class, radius) = match i {
            i if i < low.min(middle) => ("sure", 6.5),
            i if i < middle => ("likely", 6.5),
            i if i < high => ("perhaps", 5.5),
            _ => ("none", 6.5),
        };
        svg.circle(class, at, radius);
    }
    svg.close(id, "hundred", title, description)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_dot_is_of_one_kind() {
        let svg = hundred("h", "", "", 0.79, (0.73, 0.84));
        let n = |class: &str| svg.matches(&format!("circle class=\"{class}\"")).count();
        assert_eq!((n("sure"), n("likely"), n("perhaps"), n("none")), (73, 6, 5, 16));
    }
}
