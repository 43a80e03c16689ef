//! File names from people's words.

/// A file name from a user's word: letters, digits, `.`, `-` and `_` stay, anything else becomes `_`.
#[must_use]
pub fn file_name(word: &str) -> String {
    let name: String = word
        .chars()
        .map(|c| if c.is_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '_' })
        .collect();
    if name.trim_matches('.').is_empty() { "_".to_owned() } else { name }
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn words_of_users_make_harmless_file_names() {
        assert_eq!(file_name("C001_jump"), "C001_jump");
        assert_eq!(file_name("../../etc"), ".._.._etc");
        assert_eq!(file_name("<b>M 1/2</b>"), "_b_M_1_2__b_");
        assert_eq!(file_name(".."), "_");
    }
}
