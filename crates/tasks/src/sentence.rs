//! Messages as sentences.

use formkin_report::format::capital;

/// A text with a capital letter and a full stop; names between backticks, as messages for terminals write them, between quotation marks.
#[must_use]
pub fn sentence(text: &str) -> String {
    let text = capital(&quoted(text.trim()));
    if text.is_empty() || text.ends_with(['.', '!', '?']) { text } else { format!("{text}.") }
}

fn quoted(text: &str) -> String {
    if text.matches('`').count() % 2 == 1 {
        return text.to_owned();
    }
    let mut open = false;
    text.chars()
        .map(|c| match (c, open) {
            ('`', false) => {
                open = true;
                '“'
            }
            ('`', true) => {
                open = false;
                '”'
            }
            (other, _) => other,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_become_sentences() {
        assert_eq!(sentence("vertex 7 of `P004` is far off"), "Vertex 7 of “P004” is far off.");
        assert_eq!(sentence("one ` stays"), "One ` stays.");
        assert_eq!(sentence(" "), "");
    }
}
