//! What a reader must know of a size system, in words.

use crate::axes::Axis;
use crate::people::People;
use crate::{GroupSystem, Plan, SizeSystem};

/// Groups of fewer people give coverage of little use (common practice, no source).
const SMALL_GROUP: usize = 50;

pub(crate) fn notes(system: &SizeSystem, axes: &[Axis], counts: &[usize]) -> Vec<String> {
    let plan = &system.plan;
    let mut notes = vec![
        format!(
            "Coverage held out is the figure to rely on: {} folds of people, {} repeats, the whole derivation done again without the people it is tested on. \
             Coverage in the sample is of the people the sizes were made from, and is optimistic.",
            plan.folds, plan.repeats
        ),
        format!(
            "A person is covered where one size is within its tolerance of them in all {} control dimensions at once.",
            axes.len()
        ),
        "The intervals allow for the chance of who was measured, if these people are a random sample of the wearers; they do not allow for errors \
         of measurement, or for wearers unlike these people."
            .to_owned(),
    ];
    if !system.dropped.is_empty() {
        notes.push(format!(
            "{} of {} people were left out, as they lack a value that the sizes need.",
            system.dropped.len(),
            system.dropped.len() + system.people
        ));
    }
    for (group, &count) in system.groups.iter().zip(counts) {
        of_group(plan, group, count, &mut notes);
    }
    if plan.curve.is_some() {
        notes.push(
            "The curve is made with at most 8 starts and 2 repeats, except at the plan's own number of sizes.".to_owned(),
        );
    }
    if plan.weights.is_some() || system.raking.is_some() {
        notes.push(format!(
            "Shares are weighted; {} people count as {:.0} (design effect {:.2}).",
            system.people, system.effective_people, system.design_effect
        ));
    }
    notes.extend(plan.margin.iter().filter_map(crate::MarginPlan::note));
    for note in plan.control.iter().filter_map(|c| c.intervals.as_ref()?.note()) {
        notes.push(note);
    }
    if system.ceiling.is_some() {
        notes.push(
            "The greatest coverage any system could reach is a true bound for these people with the plan's tolerances and number of sizes (Lagrangian relaxation over a grid that \
             contains every place a size could have); intervals with widths of their own are not bound by it."
                .to_owned(),
        );
    }
    if let Some(resampled) = &system.resampled {
        notes.push(format!(
            "{} resamples of the people, drawn with replacement; the sizes were derived again in each, from these sizes as a start. Whether sizes come back is asked of {} of them, in which the \
             derivation began without the sizes as a start.",
            resampled.resamples, resampled.anew
        ));
    }
    if let Some(raking) = &system.raking {
        notes.push(format!(
            "Weights were raked to the plan's margins ({} rounds), none beyond {} times the mean ({} at a limit); the largest class is off by {:.1} points.",
            raking.rounds,
            plan.weight_cap,
            raking.capped,
            100.0 * raking.largest_gap
        ));
        if !raking.few.is_empty() {
            notes.push(format!(
                "Under ten people, so that their weights say little: {}.",
                raking.few.join(", ")
            ));
        }
    }
    let no_length: Vec<&str> =
        axes.iter().filter(|a| a.mm.is_none()).map(|a| a.info.dimension.as_str()).collect();
    if !no_length.is_empty() {
        notes.push(format!(
            "Not known to be lengths, and so left out of borderline cases and of the loss in mm: {}. Give the column or the plan a unit.",
            no_length.join(", ")
        ));
    }
    notes
}

/// What there is to say of one group, of which `count` sizes were asked.
fn of_group(plan: &Plan, group: &GroupSystem, count: usize, notes: &mut Vec<String>) {
    let of = if plan.by.is_some() { format!(" in `{}`", group.group) } else { String::new() };
    if group.sizes.len() < count {
        notes.push(format!(
            "{count} sizes were asked for{of} and {} are left: the others were the same after rounding, or covered nobody new.",
            group.sizes.len()
        ));
    }
    if group.people < SMALL_GROUP {
        notes.push(format!("There are only {} people{of}: the sizes there are a first guess.", group.people));
    }
    for (flag, what) in [
        ("rare", format!("fewer than {} % of their group", 100.0 * plan.sizes.min_share)),
        ("few-people", format!("fewer than {} people of the table", plan.sizes.min_people)),
    ] {
        let flagged: Vec<&str> = group
            .sizes
            .iter()
            .filter(|s| s.flags.iter().any(|f| f == flag))
            .map(|s| s.name.as_str())
            .collect();
        if !flagged.is_empty() {
            notes.push(format!("Worn by {what}: {}. Consider to leave such sizes out.", flagged.join(", ")));
        }
    }
    if let (Some([_, most]), Some(last)) = (plan.curve, group.curve.last())
        && last.sizes < most
    {
        notes.push(format!("The curve ends at {} sizes{of}: the people allow no more.", last.sizes));
    }
}

/// What a reader must not overlook. `covered` is the share of people in the sample that the sizes fit.
pub(crate) fn cautions(plan: &Plan, people: &People, covered: f64) -> Vec<String> {
    let mut cautions = people.implausible();
    if covered <= 0.0 {
        cautions.push(
            "The sizes fit none of these people (0 %): look at the tolerances, the values of the sizes and the units on both sides.".to_owned(),
        );
    }
    cautions.extend([
        "Coverage is of body dimensions within stated tolerances. It is not fit: the garment's ease, cut and cloth, and posture and movement decide \
         that, and wearer trials show it."
            .to_owned(),
        "Dimensions and tolerances are the plan's; no conformity with a standard's intervals is claimed.".to_owned(),
    ]);
    if plan.protective {
        cautions.push(
            "Protective wear: that a body is within a size's range says nothing about protection. Wearer trials in working postures, local codes and \
             licensed practice decide."
                .to_owned(),
        );
        cautions.push(
            "People without a size need one before they do the work: special cuts, adjustment, or other equipment. 90-95 % coverage or more is usual \
             for uniforms and protective wear (common practice, no source)."
                .to_owned(),
        );
    }
    cautions
}
