//! Writes everything a study hands over.

use std::time::Instant;

use formkin_cohort::{Checks, Cohort, MeshWriting};
use formkin_geometry::Topology;
use formkin_report::{DimensionRemark, DimensionsPart, Movement, Output, ReportInput, SizingPart};
use formkin_table::{Table, file_name};
use serde_json::Value;

use crate::StudyError;
use crate::cache::Key;
use crate::facts;
use crate::job::deep_files::together_outputs;
use crate::job::formats::{coefficients_parquet, movement_outputs, space_glb};
use crate::job::mannequin::{Mannequins, fit_model_meshes, mannequin_files, report_part};
use crate::job::measure::MeasureOutcome;
use crate::job::movement::MovementOutcome;
use crate::job::point_files::{PointsTogether, points_outputs, points_together_outputs};
use crate::job::points::PointsOutcome;
use crate::job::questions::Answers;
use crate::job::size::{Sizing, size_tables};
use crate::job::space::SpaceOutcome;
use crate::job::together::Together;
use crate::outputs::{PROVENANCE, Provenance};
use crate::report_parts::{deep_part, lines, pictures, points_part, together_part};
use crate::run::{Run, StudyResult, read_dimensions};
use crate::summary::summary;

/// The results of all stages.
pub(crate) struct Results<'a> {
    pub(crate) cohort: &'a Cohort,
    pub(crate) checks: Checks,
    pub(crate) space: Option<SpaceOutcome>,
    pub(crate) answers: Answers,
    pub(crate) measured: Option<MeasureOutcome>,
    pub(crate) movements: Vec<MovementOutcome>,
    pub(crate) together: Together,
    pub(crate) points: (Vec<PointsOutcome>, PointsTogether),
    pub(crate) sizing: Option<(Table, Sizing)>,
    pub(crate) mannequins: Mannequins,
}

/// Writes every file, the report last but for the provenance.
pub(crate) fn all(
    mut run: Run<'_>,
    results: &Results<'_>,
    space_key: &Key,
) -> Result<StudyResult, StudyError> {
    let topology = results.cohort.template().mesh.topology();
    space_files(&mut run, results, space_key)?;
    run.answer_files(results)?;
    if let Some(measured) = &results.measured {
        let stage = "dimensions";
        run.outputs.write(
            stage,
            "dimensions.csv",
            "Body dimensions, one row an item",
            measured.table.to_csv()?.as_bytes(),
        )?;
        if !measured.contours.numbers.is_empty() {
            let what = "Contours of the skin beside the taut tapes";
            run.outputs.write(stage, "contours.csv", what, measured.contours.to_csv()?.as_bytes())?;
        }
    }
    for movement in &results.movements {
        movement_files(&mut run, topology, movement)?;
    }
    let pose = results.movements.first().map(|m| (&**topology, m.motion.mean.as_slice()));
    for file in together_outputs(&results.together, pose)? {
        run.outputs.write("movements", &file.name, file.what, &file.bytes)?;
    }
    point_files(&mut run, results)?;
    if let Some((_, sizing)) = &results.sizing {
        size_files(&mut run, results, sizing)?;
    }
    let summary = summary(&run, results);
    let text = serde_json::to_vec_pretty(&summary).map_err(json_fault)?;
    run.outputs.write("report", "summary.json", "The figures of this study for programs", &text)?;
    report(&mut run, results)?;
    finish(run, summary)
}

fn json_fault(e: serde_json::Error) -> StudyError {
    StudyError::Cache { stage: "summary".into(), reason: e.to_string() }
}

fn space_files(run: &mut Run<'_>, results: &Results<'_>, key: &Key) -> Result<(), StudyError> {
    let Some(space) = &results.space else { return Ok(()) };
    let glb_modes = run.study.file().export.glb_modes;
    let stage = "space files";
    let key = Key::of(stage, &glb_modes, &[key])?;
    let began = Instant::now();
    if run.outputs.kept(stage, key.as_str()) {
        run.record(stage, &key, true, began);
        return Ok(());
    }
    let fitted = &space.fitted;
    let bytes = fitted.space.to_safetensors();
    run.outputs.write(stage, "space.safetensors", "Shape space: mean, modes, variances, weights", &bytes)?;
    let bytes = space_glb(&fitted.space, glb_modes)?;
    run.outputs.write(stage, "space.glb", "Mean and first modes as glTF morph targets", &bytes)?;
    let bytes = coefficients_parquet(results.cohort, &space.items, &fitted.coefficients, &fitted.space)?;
    run.outputs.write(stage, "coefficients.parquet", "Shape coefficients of every item", &bytes)?;
    run.record(stage, &key, false, began);
    Ok(())
}

fn movement_files(
    run: &mut Run<'_>,
    topology: &Topology,
    movement: &MovementOutcome,
) -> Result<(), StudyError> {
    let stage = format!("motion files {}", movement.capture);
    let made_from = run
        .stages
        .iter()
        .find(|s| s.stage == format!("motion-{}", movement.capture))
        .map(|s| s.key.clone())
        .unwrap_or_default();
    let key = Key::of(&stage, &made_from, &[])?;
    let began = Instant::now();
    if run.outputs.kept(&stage, key.as_str()) {
        run.record(&stage, &key, true, began);
        return Ok(());
    }
    for file in movement_outputs(topology, movement)? {
        let path = format!("motion/{}/{}", file_name(&movement.capture), file.name);
        run.outputs.write(&stage, &path, file.what, &file.bytes)?;
    }
    run.record(&stage, &key, false, began);
    Ok(())
}

fn point_files(run: &mut Run<'_>, results: &Results<'_>) -> Result<(), StudyError> {
    let (captures, together) = &results.points;
    for points in captures {
        for file in points_outputs(points) {
            let path = format!("points/{}/{}", file_name(&points.capture), file.name);
            run.outputs.write("points", &path, file.what, &file.bytes)?;
        }
    }
    if !captures.is_empty() {
        for file in points_together_outputs(together)? {
            run.outputs.write("points", &format!("points/{}", file.name), file.what, &file.bytes)?;
        }
    }
    Ok(())
}

fn size_files(run: &mut Run<'_>, results: &Results<'_>, sizing: &Sizing) -> Result<(), StudyError> {
    let stage = "size files";
    let system = &sizing.system;
    for (name, what, text) in size_tables(system)? {
        run.outputs.write(stage, name, what, text.as_bytes())?;
    }
    if let Some(existing) = &sizing.existing {
        for (name, what, text) in size_tables(existing)? {
            let what = format!("The existing chart on these people. {what}");
            run.outputs.write(stage, &format!("existing/{name}"), &what, text.as_bytes())?;
        }
    }
    if !sizing.advice.is_empty() {
        let text = formkin_sizing::advice_csv(&sizing.advice)?;
        run.outputs.write(stage, "new-people.csv", "The sizes of new people", text.as_bytes())?;
    }
    let Some(space) = &results.space else { return Ok(()) };
    let began = Instant::now();
    let stage = "size meshes";
    let keys: Vec<&str> = run
        .stages
        .iter()
        .filter(|s| matches!(s.stage.as_str(), "space" | "sizing" | "mannequins"))
        .map(|s| s.key.as_str())
        .collect();
    let key = Key::of(stage, &keys, &[])?;
    if run.outputs.kept(stage, key.as_str()) {
        run.record(stage, &key, true, began);
        return Ok(());
    }
    for file in mannequin_files(&space.fitted.space, system, &results.mannequins)? {
        run.outputs.write(stage, &file.name, file.what, &file.bytes)?;
    }
    let topology = results.cohort.template().mesh.topology();
    for (size, mesh) in fit_model_meshes(results.cohort, system)? {
        let bytes = formkin_cohort::ply_bytes(topology, &mesh, &MeshWriting::default())?;
        let path = format!("sizes/{}.fit-model.ply", file_name(&size));
        run.outputs.write(stage, &path, "The fit model of a size as captured, mm, z up", &bytes)?;
    }
    run.record(stage, &key, false, began);
    Ok(())
}

fn report(run: &mut Run<'_>, results: &Results<'_>) -> Result<(), StudyError> {
    let began = Instant::now();
    let topology = results.cohort.template().mesh.topology();
    let file = run.study.file();
    let mut outputs: Vec<Output> = run
        .outputs
        .written()
        .iter()
        .map(|w| Output { path: w.path.clone(), what: w.what.clone(), bytes: Some(w.bytes) })
        .collect();
    outputs.push(Output {
        path: PROVENANCE.into(),
        what: "What was made from what: settings, inputs and outputs with their hashes".into(),
        bytes: None,
    });
    let lines = lines(results.cohort, &results.movements)?;
    let mut given: Vec<String> = Vec::new();
    let drawn = match &file.dimensions {
        None => Vec::new(),
        Some(section) => {
            let dimensions = read_dimensions(&run.study.at(&section.definitions))?;
            let plan = results.sizing.as_ref().map(|(_, s)| &s.system.plan);
            let named: Vec<String> = plan
                .iter()
                .flat_map(|p| {
                    p.control.iter().map(|c| c.dimension.clone()).chain(p.secondary.iter().cloned())
                })
                .collect();
            for s in results.measured.iter().flat_map(|m| &m.summaries) {
                if !given.contains(&s.name) && dimensions.definitions.iter().all(|d| d.name != s.name) {
                    given.push(s.name.clone());
                }
            }
            pictures(&dimensions, results.cohort.template(), &named)
        }
    };
    let input = ReportInput {
        title: file.title.clone(),
        description: file.description.clone(),
        facts: facts::facts(file, results),
        checks: Some(&results.checks),
        space: results.space.as_ref().map(|s| &s.fitted.space),
        shape: crate::questions::report_part(results),
        triangles: Some(results.cohort.template().mesh.topology().triangles()),
        dimensions: results.measured.as_ref().map(|m| DimensionsPart {
            summaries: &m.summaries,
            given,
            by: file.dimensions.as_ref().and_then(|d| d.by.clone()),
            people: m.people.rows(),
            remarks: m
                .remarks
                .iter()
                .map(|r| DimensionRemark {
                    item: r.item.clone(),
                    dimension: r.dimension.clone(),
                    remark: r.remark.clone(),
                    missing: r.missing,
                })
                .collect(),
            handbook: &m.handbook,
            pictures: drawn,
        }),
        movements: results
            .movements
            .iter()
            .map(|m| Movement {
                name: m.capture.clone(),
                participant: m.participant.clone(),
                motion: &m.motion,
                curves: &m.curves,
                deep: Some(deep_part(topology, m, &lines)),
            })
            .collect(),
        together: together_part(&results.together, &results.movements),
        points: points_part(&results.points.0, &results.points.1),
        sizing: results.sizing.as_ref().map(|(table, sizing)| SizingPart {
            system: &sizing.system,
            existing: sizing.existing.as_ref(),
            table,
            mannequins: report_part(&results.mannequins),
            triangles: topology.triangles(),
            mannequin_notes: &results.mannequins.notes,
        }),
        cautions: facts::cautions(results),
        outputs,
        provenance: facts::provenance(results),
    };
    let page = formkin_report::html(&input)?;
    run.outputs.write("report", "report.html", "The report", page.as_bytes())?;
    run.record("report", &Key::of("report", &page.len(), &[])?, false, began);
    Ok(())
}

fn finish(mut run: Run<'_>, summary: Value) -> Result<StudyResult, StudyError> {
    let provenance = Provenance {
        program: facts::program(),
        made: facts::now(),
        settings: serde_json::to_value(run.study.file()).map_err(json_fault)?,
        inputs: std::mem::take(&mut run.read),
        stages: run.stages.clone(),
        outputs: run.outputs.written().to_vec(),
    };
    let bytes = serde_json::to_vec_pretty(&provenance).map_err(json_fault)?;
    run.outputs.write("provenance", PROVENANCE, "What was made from what", &bytes)?;
    run.outputs.remove_stale();
    let root = run.outputs.root().to_owned();
    Ok(StudyResult {
        summary,
        report: root.join("report.html"),
        outputs: run.outputs.written().iter().map(|w| root.join(&w.path)).collect(),
        stages: run.stages,
    })
}
