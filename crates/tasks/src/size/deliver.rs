//! The object for programs, the tables of sizes and people, and the bodies of the sizes.

use std::collections::BTreeMap;
use std::sync::Arc;

use formkin_cohort::gltf::{MorphScene, morph_glb};
use formkin_cohort::{Cohort, MeshWriting, ply_bytes};
use formkin_geometry::{ShapeSource, Topology};
use formkin_report::lineup::{Stander, lineup_picture};
use formkin_shape::Space;
use formkin_sizing::{
    Size, SizeSystem, advice_sheet, assignments_sheet, chart_sheet, coverage_sheet, curve_sheet,
    fit_models_sheet, grading_sheet, left_out_sheet,
};
use formkin_table::{FileNames, NumberFormat, Sheet};
use serde_json::{Value, json};

use super::mannequin::{Mannequin, MannequinDimension, Mannequins, middle};
use super::{SizeInputs, SizeOutcome};
use crate::bodies::on_the_floor;
use crate::predict::millimetres;
use crate::{Delivery, TaskError};

/// The figures of sizes, of the existing chart, of new people and of mannequins. Without people there are new people alone.
pub(super) fn object(inputs: &SizeInputs, made: &SizeOutcome) -> Value {
    let Some(system) = &made.system else { return json!({ "new_people": made.advice }) };
    let mut object = size_summary(system);
    object["people"] = json!(inputs.table.as_ref().map(formkin_table::Table::rows));
    object["existing_chart"] = json!(made.existing.as_ref().map(size_summary));
    object["new_people"] = json!(made.advice);
    object["mannequins"] = mannequin_summary(&made.mannequins);
    object
}

/// The figures of a size system for programs: held-out coverage first.
#[must_use]
pub fn size_summary(system: &SizeSystem) -> Value {
    json!({
        "coverage_held_out": system.coverage_held_out,
        "coverage_held_out_interval": system.held_out_interval,
        "coverage_in_sample": system.coverage_in_sample,
        "coverage_in_sample_interval": system.coverage_in_sample_interval,
        "interval_level": system.interval_level,
        "given": system.given,
        "sized_people": system.people,
        "dropped": system.dropped,
        "sizes": system.groups.iter().flat_map(|g| &g.sizes).collect::<Vec<_>>(),
        "groups": system.groups.iter().map(|g| json!({
            "group": g.group,
            "people": g.people,
            "sizes": g.sizes.len(),
            "coverage_held_out": g.coverage_held_out,
            "coverage_held_out_interval": g.held_out_interval,
            "coverage_in_sample": g.coverage_in_sample,
            "coverage_in_sample_interval": g.coverage_in_sample_interval,
            "ceiling": g.ceiling,
            "method_bound": g.method_bound,
            "search_nodes": g.search_nodes,
            "rules": g.rules,
            "resampled": g.resampled,
            "grading": g.grading,
            "one_more": g.one_more,
            "shift": g.shift,
            "coverage_shifted": g.coverage_shifted,
            "gaps": g.gaps,
            "aggregate_loss_mm": g.aggregate_loss_mm,
            "effective_people": g.effective_people,
        })).collect::<Vec<_>>(),
        "left_out": system.left_out,
        "curve": system.curve,
        "knee": system.knee,
        "compared": system.compared,
        "chosen": system.chosen,
        "ceiling": system.ceiling,
        "resampled": system.resampled,
        "coverage_all_dimensions": system.coverage_all_dimensions,
        "people_needed": system.people_needed,
        "effective_people": system.effective_people,
        "design_effect": system.design_effect,
        "aggregate_loss_mm": system.aggregate_loss_mm(),
        "raking": system.raking,
        "movement": system.movement,
        "plan": system.plan,
        "notes": system.notes,
        "cautions": system.cautions,
    })
}

/// The figures of mannequins for programs: how near each is to its targets, not the bodies.
#[must_use]
pub fn mannequin_summary(mannequins: &Mannequins) -> Value {
    let of = |m: &Mannequin| {
        json!({
            "size": m.size,
            "group": m.group,
            "rounds": m.rounds,
            "largest_miss_mm": m.largest_miss_mm,
            "on_target": m.on_target,
            "mahalanobis": m.mahalanobis,
            "outside_99": m.outside,
            "dimensions": m.dimensions,
        })
    };
    json!({ "bodies": mannequins.bodies.iter().map(of).collect::<Vec<_>>(), "notes": mannequins.notes })
}

/// The tables of the sizes, of the existing chart, of new people; a mannequin and a fit model of every size.
pub(super) fn files<'a>(inputs: &'a SizeInputs, made: &'a SizeOutcome) -> Result<Delivery<'a>, TaskError> {
    let mut delivery = Delivery::new();
    if let Some(system) = &made.system {
        for (name, what, sheet) in size_tables(system) {
            delivery = delivery.sheet(name, what, sheet);
        }
    }
    if let Some(existing) = &made.existing {
        for (name, what, sheet) in size_tables(existing) {
            let what = format!("The existing chart on these people. {what}");
            delivery = delivery.sheet(format!("existing/{name}"), what, sheet);
        }
    }
    if !made.advice.is_empty() {
        delivery = delivery.sheet("new-people.csv", "The sizes of new people", advice_sheet(&made.advice));
    }
    let (Some(system), Some(space)) = (&made.system, inputs.space.as_deref()) else { return Ok(delivery) };
    let mut names = FileNames::default();
    if !made.mannequins.bodies.is_empty() {
        delivery = mannequin_files(delivery, space, system, &made.mannequins, &mut names)?;
    }
    Ok(match &inputs.cohort {
        Some(cohort) => fit_model_files(delivery, cohort, system, &mut names),
        None => delivery,
    })
}

/// The tables of a size system: file name, what it is, and the table. The curve, the grading and the fit models are there where the plan asks for
/// them.
#[must_use]
pub fn size_tables(system: &SizeSystem) -> Vec<(&'static str, &'static str, Sheet)> {
    let mut tables = vec![
        ("size-chart.csv", "The size chart", chart_sheet(system)),
        ("coverage.csv", "Coverage, held out first", coverage_sheet(system)),
        ("assignments.csv", "The size of every person", assignments_sheet(system)),
        ("left-out.csv", "Who is left out, and by which dimension", left_out_sheet(system)),
    ];
    if !system.curve.is_empty() || !system.compared.is_empty() {
        let what = "Coverage against the number of sizes, by method";
        tables.push(("coverage-curve.csv", what, curve_sheet(system)));
    }
    if system.groups.iter().any(|g| !g.grading.is_empty()) {
        let what = "Grading: values, increments and residual spread of secondary dimensions";
        tables.push(("grading.csv", what, grading_sheet(system)));
    }
    if system.groups.iter().flat_map(|g| &g.sizes).any(|s| s.fit_model.is_some()) {
        let what = "The fit model of every size, and how far it is from its wearers' mean";
        tables.push(("fit-models.csv", what, fit_models_sheet(system)));
    }
    tables
}

/// The files of the mannequins: a mesh of each as PLY and glTF, their dimensions, and all side by side.
fn mannequin_files<'a>(
    mut delivery: Delivery<'a>,
    space: &'a Space,
    system: &'a SizeSystem,
    mannequins: &'a Mannequins,
    names: &mut FileNames,
) -> Result<Delivery<'a>, TaskError> {
    let topology = Arc::new(Topology::new(space.mean.len(), space.triangles.clone())?);
    for body in &mannequins.bodies {
        let stem = format!("sizes/{}", names.of(&body.size));
        let of = Arc::clone(&topology);
        delivery = delivery.made(
            format!("{stem}.ply"),
            "The mannequin of a size: the mean body of its mid-point, mm, z up",
            move || Ok(ply_bytes(&of, &body.positions, &MeshWriting::default())?),
        );
        let of = Arc::clone(&topology);
        delivery = delivery
            .made(format!("{stem}.glb"), "The same as binary glTF, m, y up", move || glb(&of, space, body));
    }
    let what = "Every dimension of every mannequin, and how far it is from its target";
    delivery = delivery.sheet("sizes/mannequins.csv", what, mannequins_sheet(mannequins));
    let what = "All mannequins side by side, to one scale";
    Ok(delivery.made("sizes/sizes.svg", what, move || {
        let title = system.plan.title.clone().unwrap_or_else(|| "The sizes".to_owned());
        let standers = standers(system, mannequins);
        Ok(lineup_picture(&space.triangles, &standers, &title, &under(system)).into_bytes())
    }))
}

fn glb(topology: &Topology, space: &Space, body: &Mannequin) -> Result<Vec<u8>, TaskError> {
    Ok(morph_glb(&MorphScene {
        name: body.size.clone(),
        topology,
        base: &body.positions,
        targets: Vec::new(),
        colors: None,
        animation: None,
        extras: json!({
            "size": body.size,
            "group": body.group,
            "dimensions": body.dimensions,
            "largest_miss_mm": body.largest_miss_mm,
            "people": space.people,
        }),
    })?)
}

/// The bodies of the fit models as they were captured, standing on z = 0.
fn fit_model_files<'a>(
    mut delivery: Delivery<'a>,
    cohort: &'a Cohort,
    system: &SizeSystem,
    names: &mut FileNames,
) -> Delivery<'a> {
    let stills = cohort.stills();
    for size in system.groups.iter().flat_map(|g| &g.sizes) {
        let Some(person) = &size.fit_model else { continue };
        // a person's first still pose
        let Some(&item) = stills.iter().find(|&&i| cohort.items()[i].participant == *person) else {
            continue;
        };
        delivery = delivery.made(
            format!("sizes/{}.fit-model.ply", names.of(&size.name)),
            "The fit model of a size as captured, mm, z up",
            move || {
                let shape = on_the_floor(cohort.select(vec![item]).read_shape(0)?);
                Ok(ply_bytes(cohort.template().mesh.topology(), &shape, &MeshWriting::default())?)
            },
        );
    }
    delivery
}

/// What stands under the bodies, in words.
fn under(system: &SizeSystem) -> String {
    let names: Vec<String> = system
        .controls
        .iter()
        .map(|c| {
            let unit = c.unit.as_deref();
            let shown = if millimetres(unit).is_some() { Some("cm") } else { unit };
            let name = c.dimension.replace('_', " ");
            shown.map_or_else(|| name.clone(), |u| format!("{name} ({u})"))
        })
        .collect();
    format!("The mean body of people at the middle of each size's range. Under each: {}.", names.join(" · "))
}

/// The bodies of a picture of all sizes.
fn standers<'a>(system: &SizeSystem, mannequins: &'a Mannequins) -> Vec<Stander<'a>> {
    let sizes: BTreeMap<&str, &Size> =
        system.groups.iter().flat_map(|g| &g.sizes).map(|s| (s.name.as_str(), s)).collect();
    let of = |body: &'a Mannequin| {
        let words = sizes.get(body.size.as_str()).map_or_else(String::new, |s| {
            let shown = s.ranges.iter().map(|r| {
                let cm = millimetres(r.unit.as_deref()).map_or(1.0, |mm| mm / 10.0);
                format!("{}", (middle(r) * cm * 10.0).round() / 10.0)
            });
            shown.collect::<Vec<_>>().join(" · ")
        });
        Stander { name: body.size.clone(), words, group: body.group.clone(), positions: &body.positions }
    };
    mannequins.bodies.iter().map(of).collect()
}

/// A row a size and dimension.
fn mannequins_sheet(mannequins: &Mannequins) -> Sheet {
    let rows: Vec<(&Mannequin, &MannequinDimension)> =
        mannequins.bodies.iter().flat_map(|b| b.dimensions.iter().map(move |d| (b, d))).collect();
    let rounded = |x: f64| (x * 100.0).round() / 100.0 + 0.0;
    let shortest = NumberFormat::Shortest;
    Sheet::new()
        .text("size", "The size", rows.iter().map(|(b, _)| b.size.as_str()))
        .text("group", "Its group", rows.iter().map(|(b, _)| b.group.as_str()))
        .text("dimension", "The dimension", rows.iter().map(|(_, d)| d.name.as_str()))
        .text("unit", "Its unit", rows.iter().map(|(_, d)| d.unit.clone().unwrap_or_default()))
        .flag("given", "Whether the size gives it", rows.iter().map(|(_, d)| d.given))
        .number(
            "target",
            None,
            "What the size gives, else what such people have on average",
            shortest,
            rows.iter().map(|(_, d)| rounded(d.target)),
        )
        .optional_number(
            "measured",
            None,
            "What the mesh has",
            shortest,
            rows.iter().map(|(_, d)| d.measured.map(rounded)),
        )
        .optional_number(
            "deviation",
            None,
            "What the mesh has less the target",
            shortest,
            rows.iter().map(|(_, d)| d.measured.map(|m| rounded(m - d.target))),
        )
}
