//! Numbers, units and names as a reader sees them. Rounding and wording only; nothing is computed here.

/// A true minus sign, as wide as a figure.
const MINUS: char = '\u{2212}';
/// A narrow space that does not break, between thousands and before units.
const THIN: char = '\u{202f}';

/// A number with so many decimals, a true minus sign and thin spaces between thousands.
/// What is not finite becomes a dash.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "\u{2013}".to_owned();
    }
    let plain = format!("{:.decimals$}", value.abs());
    let (whole, fraction) = plain.split_once('.').map_or((plain.as_str(), None), |(w, f)| (w, Some(f)));
    let mut out = String::with_capacity(plain.len() + 4);
    // no "minus zero"
    if value < 0.0 && plain.bytes().any(|b| b.is_ascii_digit() && b != b'0') {
        out.push(MINUS);
    }
    for (i, digit) in whole.chars().enumerate() {
        // four figures stay together: 1840, but 12 000
        if i > 0 && whole.len() > 4 && (whole.len() - i) % 3 == 0 {
            out.push(THIN);
        }
        out.push(digit);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

/// A number with its sign written always: `+1.5`, `−1.5`, and `0.0` without one.
#[must_use]
pub fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if value > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) { format!("+{text}") } else { text }
}

/// A number with about three significant figures and at most `decimals` decimals.
#[must_use]
pub fn about(value: f64, decimals: usize) -> String {
    let size = value.abs();
    let wanted = if size >= 100.0 {
        0
    } else if size >= 10.0 {
        1
    } else if size >= 1.0 || size == 0.0 {
        2
    } else {
        // leading zeros do not count
        2 + (-size.log10()).ceil().clamp(0.0, 6.0) as usize
    };
    fixed(value, wanted.min(decimals))
}

/// A share (0 to 1) as whole per cent, with one decimal where it is under 10 % or over 99 %.
#[must_use]
pub fn percent(share: f64) -> String {
    if !share.is_finite() {
        return "\u{2013}".to_owned();
    }
    let hundred = share * 100.0;
    // what is not nothing and not all does not become so by rounding
    if hundred > 0.0 && hundred < 0.05 {
        return format!("<0.1{THIN}%");
    }
    if (99.95..100.0).contains(&hundred) {
        return format!(">99.9{THIN}%");
    }
    let fine = (hundred > 0.0 && hundred < 10.0) || (hundred > 99.0 && hundred < 100.0);
    format!("{}{THIN}%", fixed(hundred, usize::from(fine)))
}

/// The same text with spaces that do not break between a number and its unit (`11.2 mm` stays in one line), and true minus signs.
#[must_use]
pub fn glued(text: &str) -> String {
    const UNITS: [&str; 17] = [
        "mm", "mm²", "cm", "cm²", "m", "m²", "L", "kg", "%", "s", "ms", "Hz", "SD", "°", "degrees", "MB",
        "kB",
    ];
    let mut out = String::with_capacity(text.len() + 8);
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        match word.strip_prefix('-') {
            // a true minus
            Some(rest) if rest.starts_with(|c: char| c.is_ascii_digit()) => {
                out.push(MINUS);
                out.push_str(rest);
            }
            _ => out.push_str(word),
        }
        let Some(next) = words.peek() else { break };
        let bare = next.trim_end_matches(['.', ',', ';', ':', ')', '?']);
        let number = word.ends_with(|c: char| c.is_ascii_digit());
        out.push(match bare {
            "%" if number => THIN,
            unit if number && UNITS.contains(&unit) => '\u{a0}',
            _ => ' ',
        });
    }
    out
}

/// An interval of shares: `72–84 %`.
#[must_use]
pub fn percent_interval((low, high): (f64, f64)) -> String {
    if !low.is_finite() || !high.is_finite() {
        return "\u{2013}".to_owned();
    }
    let fine = usize::from((high - low) * 100.0 < 3.0);
    format!("{}\u{2013}{}{THIN}%", fixed(low * 100.0, fine), fixed(high * 100.0, fine))
}

/// A whole number.
#[must_use]
pub fn count(n: usize) -> String {
    fixed(n as f64, 0)
}

/// A whole number and its noun: `1 person`, `200 people`.
#[must_use]
pub fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(n), if n == 1 { one } else { many })
}

/// A unit as it is printed: `mm2` becomes `mm²`.
#[must_use]
pub fn unit(code: &str) -> String {
    match code {
        "mm2" => "mm²".to_owned(),
        "mm3" => "mm³".to_owned(),
        "cm2" => "cm²".to_owned(),
        "cm3" => "cm³".to_owned(),
        "m2" => "m²".to_owned(),
        "m3" => "m³".to_owned(),
        "percent" => "%".to_owned(),
        "deg" => "°".to_owned(),
        other => other.to_owned(),
    }
}

/// The name of a column or a dimension in words: `chest_girth_mm` with unit `mm` becomes `chest girth`.
#[must_use]
pub fn words(name: &str, unit: Option<&str>) -> String {
    let bare = unit
        .filter(|u| !u.is_empty())
        .and_then(|u| name.strip_suffix(u))
        .and_then(|n| n.strip_suffix('_'))
        .unwrap_or(name);
    bare.replace(['_', '-'], " ").trim().to_owned()
}

/// The same with a capital first letter.
#[must_use]
pub fn title_words(name: &str, unit: Option<&str>) -> String {
    capital(&words(name, unit))
}

/// A sentence's first letter in capitals.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A list in words: `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn list<S: AsRef<str>>(items: &[S]) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [rest @ .., last] => {
            let rest: Vec<&str> = rest.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", rest.join(", "), last.as_ref())
        }
    }
}

/// A value in its own unit turned into the unit it is shown in: lengths of a size chart are read in centimetres.
/// Gives the factor, the printed unit and the decimals.
#[must_use]
pub fn chart_unit(code: Option<&str>) -> (f64, String, usize) {
    match code {
        Some("mm") => (0.1, "cm".to_owned(), 1),
        Some("mm2") => (1e-2, "cm²".to_owned(), 0),
        Some("mm3") => (1e-6, "L".to_owned(), 1),
        Some(other) => (1.0, unit(other), 1),
        None => (1.0, String::new(), 2),
    }
}

/// A size of a file: `1.4 MB`.
#[must_use]
pub fn bytes(n: u64) -> String {
    let n = n as f64;
    if n < 1e3 {
        format!("{n:.0} B")
    } else if n < 1e6 {
        format!("{} kB", about(n / 1e3, 1))
    } else {
        format!("{} MB", about(n / 1e6, 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_true_minus_signs_and_thin_spaces() {
        assert_eq!(fixed(-12345.678, 1), "\u{2212}12\u{202f}345.7");
        assert_eq!(fixed(1840.0, 0), "1840");
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(f64::NAN, 2), "–");
        assert_eq!(signed(1.5, 1), "+1.5");
        assert_eq!(signed(0.01, 1), "0.0");
        assert_eq!(signed(-2.0, 0), "\u{2212}2");
    }

    #[test]
    fn about_keeps_three_figures() {
        assert_eq!(about(123.4, 2), "123");
        assert_eq!(about(12.34, 2), "12.3");
        assert_eq!(about(1.234, 2), "1.23");
        assert_eq!(about(0.01234, 6), "0.0123");
        assert_eq!(about(0.0, 3), "0.00");
    }

    #[test]
    fn shares_become_per_cent_and_nothing_is_rounded_to_certainty() {
        assert_eq!(percent(0.784), "78\u{202f}%");
        assert_eq!(percent(0.042), "4.2\u{202f}%");
        assert_eq!(percent(0.996), "99.6\u{202f}%");
        assert_eq!(percent(0.0001), "<0.1\u{202f}%");
        assert_eq!(percent(0.999_99), ">99.9\u{202f}%");
        assert_eq!(percent(1.0), "100\u{202f}%");
        assert_eq!(percent(0.0), "0\u{202f}%");
        assert_eq!(percent_interval((0.72, 0.841)), "72–84\u{202f}%");
        assert_eq!(percent_interval((0.98, 0.995)), "98.0–99.5\u{202f}%");
    }

    #[test]
    fn a_number_keeps_its_unit() {
        assert_eq!(
            glued("to 11.2 mm (95 % of 4 people), 2 s."),
            "to 11.2\u{a0}mm (95\u{202f}% of 4 people), 2\u{a0}s."
        );
        assert_eq!(glued(" in mm, 3 sizes "), " in mm, 3 sizes ");
        assert_eq!(glued("-5.1 to -2 mm, x-1, --modes"), "−5.1 to −2\u{a0}mm, x-1, --modes");
    }

    #[test]
    fn names_become_words() {
        assert_eq!(words("chest_girth_mm", Some("mm")), "chest girth");
        assert_eq!(words("chest_girth", Some("mm")), "chest girth");
        assert_eq!(words("mm", Some("mm")), "mm");
        assert_eq!(title_words("inside-leg", None), "Inside leg");
        assert_eq!(counted(1, "person", "people"), "1 person");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
        assert_eq!(chart_unit(Some("mm")), (0.1, "cm".to_owned(), 1));
        assert_eq!(bytes(1_400_000), "1.4 MB");
    }
}
