//! What file names say: frames of sequences, participants, sessions.
//!
//! **Sequences.** Files of one folder whose names differ only in a number at the end are *numbered alike*. Under
//! `Sequences::Auto` they are the frames of one sequence where all of this holds:
//!
//! 1. at least three of the numbers are consecutive;
//! 2. the numbers are written with equally many digits, at least two (`Walk_00`, `Walk_01`), or there are ten files or more;
//! 3. no row of the table of participants is about one of the files alone (its `item`, `file` or `capture` is that file,
//!    or a participant has exactly its name);
//! 4. neighbouring numbers show the same body: lengths along 32 patches of the surface differ by less than 2 % on average, in
//!    at least four of five sampled pairs. Different people differ more, so scans that happen to be numbered `P001`, `P002`
//!    stay still poses.
//!
//! `C001_1`, `C002_1` are not numbered alike (they differ before the number). An NPY file is always a sequence. A sequence is
//! called by the common part of its names, or by its folder where that is empty; the folder is put in front where two would
//! be called the same.
//!
//! **Participants.** In this order: the row of the table that names the item, file or capture; the longest participant of
//! the table that the name, or the name of the folder, begins with (before a mark that is neither letter nor digit); the part
//! of the name before the first `_` where a digit is in it or, for a still pose, where a session follows; the same of the
//! folder; else the whole name.
//!
//! **Sessions.** What follows the participant: a last part like `s2`; for a still pose any other rest (`C001_1` is session
//! `1` of `C001`), for a sequence only a rest that is a number. A column `session` of the row that names the item wins.

/// A name split before its number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Numbered {
    pub(crate) base: String,
    pub(crate) number: u32,
    pub(crate) digits: usize,
}

/// Splits `Walk_07` into `Walk_` and 7; numbers of more than nine digits are dates, not frames.
pub(crate) fn numbered(stem: &str) -> Option<Numbered> {
    let digits = stem.len() - stem.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    if digits == 0 || digits > 9 {
        return None;
    }
    let (base, number) = stem.split_at(stem.len() - digits);
    Some(Numbered { base: base.to_owned(), number: number.parse().ok()?, digits })
}

/// Conditions 1 and 2 of a sequence. The numbers are ascending.
pub(crate) fn looks_running(numbers: &[(u32, usize)]) -> bool {
    let three = numbers.windows(3).any(|w| w[1].0 == w[0].0 + 1 && w[2].0 == w[1].0 + 1);
    let alike = numbers.iter().all(|n| n.1 == numbers[0].1 && n.1 >= 2);
    let distinct = numbers.windows(2).all(|w| w[0].0 != w[1].0);
    three && distinct && (alike || numbers.len() >= 10)
}

/// What a name is called without the marks at its end.
pub(crate) fn trimmed(base: &str) -> &str {
    base.trim_end_matches(['_', '-', '.', ' '])
}

/// The participant that a name gives away without a table.
pub(crate) fn participant(name: &str, folder: &str, still: bool) -> String {
    let leading = |name: &str, still: bool| {
        let (first, rest) = name.split_once('_')?;
        let named = first.chars().any(|c| c.is_ascii_digit());
        let followed = still && rest.rsplit('_').next().is_some_and(is_session);
        (!first.is_empty() && (named || followed)).then(|| first.to_owned())
    };
    let in_folder = || {
        let digit = folder.chars().any(|c| c.is_ascii_digit());
        leading(folder, false).or_else(|| (digit && !still).then(|| folder.to_owned()))
    };
    leading(name, still).or_else(in_folder).unwrap_or_else(|| name.to_owned())
}

/// `s2`, `S02`, or a number.
fn is_session(part: &str) -> bool {
    let digits = part.strip_prefix(['s', 'S']).unwrap_or(part);
    !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit())
}

/// The session in a name that belongs to a participant.
pub(crate) fn session(name: &str, participant: &str, still: bool) -> String {
    let Some(rest) = name.strip_prefix(participant) else { return String::new() };
    let rest = rest.trim_matches(['_', '-', '.', ' ']);
    let last = rest.rsplit(['_', '-', '.', ' ']).next().unwrap_or(rest);
    if last.len() > 1 && last.starts_with(['s', 'S']) && is_session(last) {
        last.to_owned()
    } else if still || is_session(rest) {
        rest.to_owned()
    } else {
        String::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn running_numbers() {
        let n = numbered("Walk_07").unwrap();
        assert_eq!((n.base.as_str(), n.number, n.digits), ("Walk_", 7, 2));
        assert_eq!(numbered("0001").unwrap().base, "");
        assert_eq!(numbered("walk"), None);
        assert_eq!(numbered("scan20240131120000"), None);
        assert!(looks_running(&[(0, 2), (1, 2), (2, 2), (5, 2)]));
        assert!(!looks_running(&[(1, 1), (2, 1), (3, 1)]));
        assert!(!looks_running(&[(1, 3), (3, 3), (5, 3)]));
        assert!(!looks_running(&[(1, 2), (1, 2), (2, 2), (3, 2)]));
        assert!(looks_running(&(1..=12).map(|n| (n, if n < 10 { 1 } else { 2 })).collect::<Vec<_>>()));
    }

    #[test]
    fn participants_and_sessions() {
        assert_eq!(participant("C001_1", "scans", true), "C001");
        assert_eq!(participant("anna_s2", "scans", true), "anna");
        assert_eq!(participant("P001", "scans", true), "P001");
        assert_eq!(participant("Walk_Loop", "mannequin-walk", false), "Walk_Loop");
        assert_eq!(participant("C001_walk", "movements", false), "C001");
        assert_eq!(participant("walk", "C001", false), "C001");
        assert_eq!(participant("walk", "C001_s1", false), "C001");
        assert_eq!(session("C001_1", "C001", true), "1");
        assert_eq!(session("C001_relaxed_s2", "C001", true), "s2");
        assert_eq!(session("C001", "C001", true), "");
        assert_eq!(session("C001_walk", "C001", false), "");
        assert_eq!(session("C001_walk_s3", "C001", false), "s3");
        assert_eq!(session("walk", "C001", false), "");
    }
}
