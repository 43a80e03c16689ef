//! People and a column to the tests.

use formkin_shape::Space;
use formkin_shape::compare::Comparison;

use super::CompareSettings;
use crate::TaskError;
use crate::groups::{Among, choose, members, named, numbered, telling};
use crate::people::People;

/// Compares the groups that a column makes.
///
/// # Errors
/// Unknown columns, and what [`CompareParams::compare`](formkin_shape::compare::CompareParams::compare) refuses.
pub fn compare(
    space: &Space,
    people: &People,
    settings: &CompareSettings,
) -> Result<Among<Comparison>, TaskError> {
    let words = people.groups("by", &settings.by)?;
    let chosen = choose(people, &|i| words[i].is_some(), &settings.covariate)?;
    let own: Vec<String> = chosen.kept.iter().filter_map(|&i| words[i].clone()).collect();
    let (groups, names) = numbered(&own);
    let mut columns = named(&chosen);
    columns.extend(members(&settings.by, &groups, &names));
    telling(&columns, "")?;
    let given = chosen.covariates.as_ref().map(|c| (c.view(), chosen.headers.as_slice()));
    let result = settings.params().compare(space, chosen.y.view(), &groups, &names, given)?;
    Ok(Among::new(result, own.len(), chosen.left_out, settings.permutations))
}
