//! File names from people's words.

use std::collections::{BTreeMap, BTreeSet};

/// Longest file name in bytes: file systems take 255, and an ending follows.
const LONGEST: usize = 120;
/// What is kept of a longer one, before the mark that tells it from others.
const KEPT: usize = 100;

/// A file name from a user's word: letters, digits, `.`, `-` and `_` stay, anything else becomes `_`. A word of more than 120
/// bytes is cut, and a number made from the whole of it follows.
#[must_use]
pub fn file_name(word: &str) -> String {
    let mut name: String = word
        .chars()
        .map(|c| if c.is_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '_' })
        .collect();
    if name.len() > LONGEST {
        let end = (0..=KEPT).rev().find(|&i| name.is_char_boundary(i)).unwrap_or(0);
        name.truncate(end);
        name.push_str(&format!("-{:08x}", mark(word)));
    }
    if name.trim_matches('.').is_empty() { "_".to_owned() } else { name }
}

/// File names of several words in one folder: no two words the same one, whatever the case of their letters. `-2`, `-3` .. follows where
/// two words would give the same.
///
/// ```
/// use formkin_table::FileNames;
/// let mut names = FileNames::default();
/// assert_eq!((names.of("a/b"), names.of("A b"), names.of("a/b")), ("a_b".into(), "A_b-2".into(), "a_b".into()));
/// ```
#[derive(Debug, Clone, Default)]
pub struct FileNames {
    given: BTreeMap<String, String>,
    taken: BTreeSet<String>,
}

impl FileNames {
    /// The file name of a word: the same whenever it is asked for.
    pub fn of(&mut self, word: &str) -> String {
        if let Some(name) = self.given.get(word) {
            return name.clone();
        }
        let first = file_name(word);
        let mut name = first.clone();
        let mut n = 1;
        while !self.taken.insert(name.to_lowercase()) {
            n += 1;
            name = format!("{first}-{n}");
        }
        self.given.insert(word.to_owned(), name.clone());
        name
    }
}

/// A number made from a word, the same on every machine (FNV-1a, folded to 32 bits).
fn mark(word: &str) -> u32 {
    let hash = word
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3));
    (hash ^ (hash >> 32)) as u32
}

#[cfg(test)]
mod tests {
    use super::{FileNames, file_name};

    #[test]
    fn words_of_users_make_harmless_file_names() {
        assert_eq!(file_name("C001_jump"), "C001_jump");
        assert_eq!(file_name("../../etc"), ".._.._etc");
        assert_eq!(file_name("<b>M 1/2</b>"), "_b_M_1_2__b_");
        assert_eq!(file_name(".."), "_");
        assert_eq!(file_name("Größe, גובה\n"), "Größe__גובה_");
    }

    #[test]
    fn long_words_are_cut_and_stay_apart() {
        let (a, b) = (file_name(&"x".repeat(300)), file_name(&"x".repeat(301)));
        assert!(a.starts_with("xxx") && a.len() < 120 && a != b, "{a} {b}");
        let umlauts = file_name(&"ü".repeat(300));
        assert!(umlauts.len() < 120 && umlauts.starts_with('ü'), "{umlauts}");
        assert_eq!(file_name(&"x".repeat(120)).len(), 120);
    }

    #[test]
    fn no_two_files_have_one_name() {
        let mut names = FileNames::default();
        let made = ["a,b", "a;b", "A b", "c", "a_b-2", "a,b"].map(|word| names.of(word));
        assert_eq!(made, ["a_b", "a_b-2", "A_b-3", "c", "a_b-2-2", "a_b"]);
    }
}
