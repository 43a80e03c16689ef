//! Names near a misspelt one.

/// Number of single letters to insert, drop, change or swap with their neighbour to turn one word into the other
/// (the restricted Damerau-Levenshtein distance).
fn edits(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows = vec![vec![0; b.len() + 1]; a.len() + 1];
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            rows[i][j] = if i == 0 || j == 0 {
                i + j
            } else {
                let change = rows[i - 1][j - 1] + usize::from(a[i - 1] != b[j - 1]);
                let mut best = change.min(rows[i - 1][j] + 1).min(rows[i][j - 1] + 1);
                if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                    best = best.min(rows[i - 2][j - 2] + 1);
                }
                best
            };
        }
    }
    rows[a.len()][b.len()]
}

/// A sentence that offers the names nearest to a misspelt one, at most four, or all of a short list, or says that there are none.
#[must_use]
pub fn advice<'a>(name: &str, names: impl Iterator<Item = &'a str>) -> String {
    let name = name.to_lowercase();
    let mut all: Vec<(usize, &str)> = names.map(|n| (edits(&name, &n.to_lowercase()), n)).collect();
    all.sort_unstable();
    let quoted =
        |list: &[(usize, &str)]| list.iter().map(|(_, n)| format!("`{n}`")).collect::<Vec<_>>().join(", ");
    let limit = 2.max(name.chars().count() / 3);
    let near: Vec<(usize, &str)> = all.iter().copied().filter(|(d, _)| *d <= limit).take(4).collect();
    match (all.len(), near.len()) {
        (0, _) => "it has none at all".to_owned(),
        (_, 1..) => format!("did you mean {}?", quoted(&near)),
        (..=8, _) => format!("there are {}", quoted(&all)),
        (n, _) => format!("none of its {n} is near; the nearest are {}", quoted(&all[..4])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_names_are_offered() {
        let names = ["waist_front", "waist_back", "acromion_left", "acromion_right", "crotch"];
        assert_eq!(edits("waist_frnot", "waist_front"), 1);
        assert_eq!(edits("", "abc"), 3);
        assert!(advice("waist_frnot", names.into_iter()).starts_with("did you mean `waist_front`"));
        assert!(advice("Crotch", names.into_iter()).contains("`crotch`"));
        assert!(advice("zzz", names.into_iter()).starts_with("there are `"));
        assert_eq!(advice("zzz", [].into_iter()), "it has none at all");
    }
}
