//! Texts as markup. Every text is escaped here or in a template.

use crate::charts::escape;
use crate::format;

/// A text as markup: escaped, numbers kept with their units, and what stands between backticks set as code.
pub(super) fn worded(text: &str) -> String {
    let safe = escape(&format::glued(text));
    if safe.matches('`').count() % 2 == 1 {
        return safe;
    }
    let mut out = String::with_capacity(safe.len());
    for (i, part) in safe.split('`').enumerate() {
        match i % 2 {
            0 => out.push_str(part),
            _ => out.push_str(&format!("<code>{part}</code>")),
        }
    }
    out
}

/// An element with a text; nothing for an empty text.
pub(super) fn element(name: &str, class: &str, text: &str) -> String {
    if text.is_empty() {
        return String::new();
    }
    let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
    format!("<{name}{class}>{}</{name}>\n", worded(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_between_backticks_are_code_and_nothing_else_is_markup() {
        assert_eq!(worded("by `<b>` and `y`"), "by <code>&lt;b&gt;</code> and <code>y</code>");
        assert_eq!(worded("one ` alone"), "one ` alone");
    }
}
