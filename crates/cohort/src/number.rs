//! Numbers in text, read from bytes.

/// Powers of ten that a double holds exactly.
const EXACT: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

/// A decimal number, correctly rounded; `None` where the bytes are none. `nan` and `inf` are numbers.
///
/// Up to 19 digits with a small exponent are one integer and one exact power of ten, whose quotient or product is correctly
/// rounded (Clinger's fast path, 1990); the rest goes to the standard library.
pub(crate) fn float(text: &[u8]) -> Option<f64> {
    let (negative, digits) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, text),
    };
    let mut mantissa: u64 = 0;
    let mut decimals = 0usize;
    let mut seen = 0usize;
    let mut point = false;
    for &c in digits {
        match c {
            b'0'..=b'9' => {
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(c - b'0'));
                seen += 1;
                decimals += usize::from(point);
            }
            b'.' if !point => point = true,
            _ => return slow(text),
        }
    }
    if seen == 0 || seen > 19 || mantissa > 1 << 53 || decimals >= EXACT.len() {
        return slow(text);
    }
    let value = mantissa as f64 / EXACT[decimals];
    Some(if negative { -value } else { value })
}

#[cold]
fn slow(text: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(text).ok()?;
    text.parse().ok().or_else(|| {
        // the spellings of some C libraries
        let lower = text.to_ascii_lowercase();
        let lower = lower.trim_start_matches(['-', '+']);
        (lower.starts_with("nan(") || lower.starts_with("1.#ind") || lower.starts_with("1.#qnan"))
            .then_some(f64::NAN)
    })
}

/// A whole number; `None` where the bytes are none or it does not fit.
pub(crate) fn integer(text: &[u8]) -> Option<i64> {
    let (negative, digits) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, text),
    };
    if digits.is_empty() || digits.len() > 18 {
        return None;
    }
    let mut value = 0i64;
    for &c in digits {
        if !c.is_ascii_digit() {
            return None;
        }
        value = value * 10 + i64::from(c - b'0');
    }
    Some(if negative { -value } else { value })
}

/// The words of a line, split at blanks and tabs.
pub(crate) fn words(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = line;
    std::iter::from_fn(move || {
        let start = rest.iter().position(|c| !c.is_ascii_whitespace())?;
        rest = &rest[start..];
        let end = rest.iter().position(u8::is_ascii_whitespace).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        rest = after;
        Some(word)
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn odd_numbers() {
        for (text, value) in [
            ("1", 1.0),
            ("-0.25", -0.25),
            ("+3.", 3.0),
            (".5", 0.5),
            ("1e3", 1000.0),
            ("-1.5E-2", -0.015),
            ("0.1234567890123456789", 0.123_456_789_012_345_68),
            ("123456789012345678901", 123_456_789_012_345_680_000.0),
        ] {
            assert_eq!(float(text.as_bytes()), Some(value), "{text}");
        }
        assert!(float(b"nan").unwrap().is_nan());
        for text in ["", "-", ".", "1.2.3", "1,5", "0x1", "1e", "one"] {
            assert_eq!(float(text.as_bytes()), None, "{text}");
        }
        assert_eq!((integer(b"-12"), integer(b"1.0"), integer(b"")), (Some(-12), None, None));
        assert_eq!(words(b" a\tbc  d ").collect::<Vec<_>>(), [b"a".as_slice(), b"bc", b"d"]);
    }

    proptest! {
        #[test]
        fn floats_agree_with_the_standard_library(x in any::<f64>(), places in 0usize..12) {
            for text in [format!("{x:e}"), format!("{:.*}", places, x % 1e6), format!("{x}")] {
                let (ours, theirs) = (float(text.as_bytes()).unwrap(), text.parse::<f64>().unwrap());
                prop_assert_eq!(ours.to_bits(), theirs.to_bits());
            }
        }
    }
}
