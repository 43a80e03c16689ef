//! Names: near ones for messages, safe ones for files, and the order in which people number things.

use std::cmp::Ordering;

/// `; near names are "..."` for a message, or what there is where nothing is near, or nothing at all.
pub(crate) fn near<'a>(wanted: &str, there: impl IntoIterator<Item = &'a String>) -> String {
    let lower = wanted.to_lowercase();
    let mut ranked: Vec<(usize, &String)> =
        there.into_iter().map(|name| (edits(&lower, &name.to_lowercase()), name)).collect();
    ranked.sort();
    let limit = (wanted.chars().count() / 2).max(2);
    let list = |names: &[(usize, &String)]| {
        names.iter().map(|(_, n)| format!("`{n}`")).collect::<Vec<_>>().join(", ")
    };
    let close: Vec<_> = ranked.iter().copied().filter(|(d, _)| *d <= limit).take(3).collect();
    if !close.is_empty() {
        format!("; near names are {}", list(&close))
    } else if ranked.is_empty() {
        "; there are none".to_owned()
    } else {
        format!(
            "; there are {}{}",
            list(&ranked[..ranked.len().min(5)]),
            if ranked.len() > 5 { " .." } else { "" }
        )
    }
}

/// The least number of letters to insert, delete or replace (Levenshtein).
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for j in 0..b.len() {
            let next = (corner + usize::from(x != b[j])).min(row[j] + 1).min(row[j + 1] + 1);
            corner = row[j + 1];
            row[j + 1] = next;
        }
    }
    row[b.len()]
}

/// A name that every file system takes: letters, digits, `-`, `_` and dots inside.
pub(crate) fn file_safe(name: &str) -> String {
    let safe = formkin_table::file_name(name);
    let safe = safe.trim_matches('.');
    if safe.is_empty() { "unnamed".to_owned() } else { safe.to_owned() }
}

/// The order in which people number things: `walk_9` before `walk_10`.
pub(crate) fn natural_order(a: &str, b: &str) -> Ordering {
    let (mut x, mut y) = (a.as_bytes(), b.as_bytes());
    loop {
        match (x.first(), y.first()) {
            (None, None) => return a.cmp(b),
            (None, _) => return Ordering::Less,
            (_, None) => return Ordering::Greater,
            (Some(c), Some(d)) if c.is_ascii_digit() && d.is_ascii_digit() => {
                let (m, after_x) = digits(x);
                let (n, after_y) = digits(y);
                let order = m.len().cmp(&n.len()).then(m.cmp(n));
                if order != Ordering::Equal {
                    return order;
                }
                (x, y) = (after_x, after_y);
            }
            (Some(c), Some(d)) if c == d => (x, y) = (&x[1..], &y[1..]),
            (Some(c), Some(d)) => return c.cmp(d),
        }
    }
}

/// The leading digits without leading zeros, and the rest.
fn digits(text: &[u8]) -> (&[u8], &[u8]) {
    let end = text.iter().position(|c| !c.is_ascii_digit()).unwrap_or(text.len());
    let (number, rest) = text.split_at(end);
    let start = number.iter().position(|&c| c != b'0').unwrap_or(number.len());
    (&number[start..], rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_names_are_named() {
        let names = ["crown", "chin", "acromion"].map(String::from);
        assert_eq!(near("crwon", &names), "; near names are `crown`");
        assert!(near("xxxxxxxx", &names).contains("there are"));
        assert_eq!(near("crown", &[]), "; there are none");
    }

    #[test]
    fn numbers_sort_as_numbers() {
        let mut names = ["w_10", "w_9", "w_09", "w", "v_100", "w_9a"];
        names.sort_by(|a, b| natural_order(a, b));
        assert_eq!(names, ["v_100", "w", "w_09", "w_9", "w_9a", "w_10"]);
        assert_eq!(file_safe("../a b/c"), "_a_b_c");
    }
}
