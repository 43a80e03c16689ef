//! The demo's size plan, cut down where there are few people.

/// The plan as it stands in the file for demos of usual size. Where the smaller sex has fewer people than the plan can be derived from, it asks
/// for fewer sizes and folds; where a sex has hardly anybody, for sizes of both together.
pub(crate) fn size_plan(women: usize, men: usize) -> String {
    let whole = include_str!("../size-plan.toml");
    let smaller = women.min(men);
    if smaller >= ENOUGH {
        return whole.to_owned();
    }
    let (apart, people) = if smaller >= FEW { (true, smaller) } else { (false, women + men) };
    // about three people a size
    let count = (people / 3).clamp(1, 8);
    let line = |line: &str| {
        let (key, _) = line.split_once('=')?;
        match key.trim() {
            "by" if !apart => {
                Some("# by = \"sex\": too few people of one sex for sizes of their own".to_owned())
            }
            "folds" => Some(format!("folds = {}", people.clamp(2, 10))),
            "count" => Some(format!("count = {count} # few people")),
            "curve" => Some(format!("# {line}: too few people for a curve")),
            _ => None,
        }
    };
    whole.lines().map(|l| line(l).unwrap_or_else(|| l.to_owned()) + "\n").collect()
}

/// With so many people of either sex the plan needs no change: eight sizes, ten folds, and more people than sizes in every fold.
const ENOUGH: usize = 14;
/// Fewer people of a sex than this get no sizes of their own.
const FEW: usize = 6;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_demos_have_the_plan_of_the_file() {
        assert_eq!(size_plan(70, 130), include_str!("../size-plan.toml"));
    }

    #[test]
    fn few_people_get_few_sizes_and_folds() {
        let plan = size_plan(8, 12);
        assert!(
            plan.contains("\nfolds = 8\n")
                && plan.contains("\ncount = 2 ")
                && plan.contains("\nby = \"sex\"\n")
        );
        assert!(!plan.contains("\ncurve"));
        let plan = size_plan(1, 9);
        assert!(!plan.contains("\nby =") && plan.contains("\nfolds = 10\n") && plan.contains("\ncount = 3 "));
    }
}
