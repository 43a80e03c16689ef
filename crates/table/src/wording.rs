//! Messages of the TOML reader in words for people: what is allowed, and where the fault is.

/// What a message of the reader says in plain words: `invalid type: string "a", expected usize` becomes `it is "a"; it must be a whole number, 0 or more`.
#[must_use]
pub fn plain(message: &str) -> String {
    let message = message.trim();
    let words = ["invalid type: ", "invalid value: "]
        .iter()
        .find_map(|start| message.strip_prefix(start))
        .and_then(|rest| rest.rsplit_once(", expected "));
    if let Some((found, wanted)) = words {
        return format!("it is {}; it must be {}", found_word(found), wanted_word(wanted));
    }
    if let Some(rest) = message.strip_prefix("invalid length ")
        && let Some((found, wanted)) = rest.split_once(", expected ")
    {
        return format!("it has {found} values; it must be {}", wanted_word(wanted));
    }
    if message.contains("untagged enum") || message.contains("did not match any variant") {
        return "it is none of the values that are allowed here; docs/reference.md describes them".to_owned();
    }
    if message.contains("out of range") || message.contains("number too large") {
        return "the number is too large or too small".to_owned();
    }
    message.strip_prefix("unknown variant ").map_or_else(
        || message.to_owned(),
        |rest| match rest.split_once(", ") {
            Some((found, wanted)) => {
                format!("it is {found}; it must be {}", wanted.trim_start_matches("expected "))
            }
            None => message.to_owned(),
        },
    )
}

/// `line 3: it is "a"; it must be a number`, of a fault at a byte of a text.
#[must_use]
pub fn at_line(text: &str, at: Option<usize>, message: &str) -> String {
    let Some(before) = at.and_then(|at| text.get(..at)) else { return plain(message) };
    let line = before.matches('\n').count();
    let key = text.lines().nth(line).and_then(|l| l.split_once('=')).map_or("", |l| l.0.trim());
    // a key that the message names itself is not named twice
    let key = if key.is_empty() || key.len() > 60 || message.contains(&format!("`{key}`")) {
        String::new()
    } else {
        format!("`{key}`: ")
    };
    format!("line {}: {key}{}", line + 1, plain(message))
}

/// A fault of a table without text: `key: it is "a"; it must be a number`.
#[must_use]
pub fn keyed(fault: &str) -> String {
    let (message, key) = parted(fault);
    let told = plain(message);
    match key {
        Some(key) if !told.contains(&format!("`{key}`")) => format!("`{key}`: {told}"),
        _ => told,
    }
}

/// What a fault of a table says, and the path of the key that it is about.
#[must_use]
pub fn parted(fault: &str) -> (&str, Option<&str>) {
    match fault.trim().rsplit_once("\nin `") {
        Some((message, key)) => (message.trim(), Some(key.trim_end_matches('`'))),
        None => (fault.trim(), None),
    }
}

fn found_word(found: &str) -> String {
    let found = found.trim_end_matches(" as i128").trim_end_matches(" as u128");
    for (kind, quote) in [("integer `", "`"), ("floating point `", "`"), ("boolean `", "`"), ("string ", "")]
    {
        if let Some(value) = found.strip_prefix(kind) {
            return value.trim_end_matches(quote).to_owned();
        }
    }
    match found {
        "sequence" => "a list".to_owned(),
        "map" => "a table".to_owned(),
        other => other.to_owned(),
    }
}

fn wanted_word(wanted: &str) -> String {
    match wanted {
        "u8" | "u16" | "u32" | "u64" | "u128" | "usize" => "a whole number, 0 or more".to_owned(),
        "i8" | "i16" | "i32" | "i64" | "i128" | "isize" => "a whole number".to_owned(),
        "f32" | "f64" => "a number".to_owned(),
        "a boolean" => "true or false".to_owned(),
        "a string" | "string" | "str" => "words in quotation marks".to_owned(),
        "path string" => "the name of a file in quotation marks".to_owned(),
        "a sequence" => "a list, [a, b, ..]".to_owned(),
        "a map" => "a table of keys and values".to_owned(),
        other if other.starts_with("struct ") || other.starts_with("internally tagged") => {
            "a table of keys and values".to_owned()
        }
        other => other
            .strip_prefix("an array of length ")
            .map_or_else(|| other.to_owned(), |n| format!("a list of {n}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_say_what_is_allowed() {
        for (message, told) in [
            (
                "invalid type: string \"a\", expected usize",
                "it is \"a\"; it must be a whole number, 0 or more",
            ),
            ("invalid value: integer `-1`, expected usize", "it is -1; it must be a whole number, 0 or more"),
            (
                "invalid value: integer `99999999999999999999` as i128, expected u64",
                "it is 99999999999999999999; it must be a whole number, 0 or more",
            ),
            ("invalid type: floating point `1.5`, expected a boolean", "it is 1.5; it must be true or false"),
            ("invalid type: map, expected a sequence", "it is a table; it must be a list, [a, b, ..]"),
            ("unknown variant `x`, expected one of `a`, `b`", "it is `x`; it must be one of `a`, `b`"),
            ("unknown field `x`, expected `a`", "unknown field `x`, expected `a`"),
        ] {
            assert_eq!(plain(message), told);
        }
        let untagged = plain("data did not match any variant of untagged enum Count");
        assert!(!untagged.contains("enum") && untagged.contains("reference.md"), "{untagged}");
    }

    #[test]
    fn the_line_and_its_key_are_named() {
        let text = "a = 1\nfolds = 'x'\n";
        let told = at_line(text, Some(14), "invalid type: string \"x\", expected usize");
        assert_eq!(told, "line 2: `folds`: it is \"x\"; it must be a whole number, 0 or more");
        assert_eq!(at_line(text, None, "plain"), "plain");
    }
}
