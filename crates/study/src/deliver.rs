//! Writes everything a study hands over.

use std::time::Instant;

use formkin_cohort::{Checks, Cohort, MeshWriting};
use formkin_geometry::Topology;
use formkin_measure::Table;
use formkin_report::{DimensionsPart, Movement, Output, ReportInput, SizingPart};
use formkin_sizing::SizeSystem;
use serde_json::{Value, json};

use crate::cache::Key;
use crate::facts;
use crate::job::formats::{animation_glb, coefficients_parquet, curves_csv, mode_course_csv, space_glb};
use crate::job::measure::MeasureOutcome;
use crate::job::movement::MovementOutcome;
use crate::job::size::mean_meshes;
use crate::job::space::SpaceOutcome;
use crate::outputs::{PROVENANCE, Provenance};
use crate::run::{Run, StudyResult};
use crate::{StudyError, StudyFile};

/// The results of all stages.
pub(crate) struct Results<'a> {
    pub(crate) cohort: &'a Cohort,
    pub(crate) checks: Checks,
    pub(crate) space: Option<SpaceOutcome>,
    pub(crate) measured: Option<MeasureOutcome>,
    pub(crate) movements: Vec<MovementOutcome>,
    pub(crate) sizing: Option<(Table, SizeSystem)>,
}

/// A file name from a user's word: letters, digits, `.`, `-` and `_` stay, anything else becomes `_`.
#[must_use]
pub fn file_name(word: &str) -> String {
    let name: String = word
        .chars()
        .map(|c| if c.is_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '_' })
        .collect();
    if name.trim_matches('.').is_empty() { "_".to_owned() } else { name }
}

/// Writes every file, the report last but for the provenance.
pub(crate) fn all(
    mut run: Run<'_>,
    results: &Results<'_>,
    space_key: &Key,
) -> Result<StudyResult, StudyError> {
    let topology = results.cohort.template().mesh.topology();
    space_files(&mut run, results, space_key)?;
    if let Some(measured) = &results.measured {
        let stage = "dimensions";
        run.outputs.write(
            stage,
            "dimensions.csv",
            "Body dimensions, one row an item",
            measured.table.to_csv().as_bytes(),
        )?;
        if !measured.contours.numbers.is_empty() {
            let what = "Contours of the skin beside the taut tapes";
            run.outputs.write(stage, "contours.csv", what, measured.contours.to_csv().as_bytes())?;
        }
    }
    for movement in &results.movements {
        movement_files(&mut run, topology, movement)?;
    }
    if let Some((_, system)) = &results.sizing {
        size_files(&mut run, results, system)?;
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
    let folder = format!("motion/{}", file_name(&movement.capture));
    let motion = &movement.motion;
    let mut write = |name: &str, what: &str, bytes: &[u8]| {
        run.outputs.write(&stage, &format!("{folder}/{name}"), what, bytes)
    };
    write(
        "course.csv",
        "Coefficients of the motion modes, one row a frame",
        mode_course_csv(movement).as_bytes(),
    )?;
    if !movement.curves.is_empty() {
        write("curves.csv", "Dimensions through time, one row a frame", curves_csv(movement).as_bytes())?;
    }
    for mode in 0..motion.modes.len().min(3) {
        let bytes = animation_glb(topology, motion.mode_animation(mode, 2.0, 2.0, 32)?)?;
        write(
            &format!("mode-{}.glb", mode + 1),
            "A motion mode, 2 SD to either side, as animated glTF",
            &bytes,
        )?;
    }
    if !motion.modes.is_empty() {
        let bytes = animation_glb(topology, motion.replay(5))?;
        write("replay.glb", "The movement rebuilt from its first modes, as animated glTF", &bytes)?;
    }
    let text = serde_json::to_vec_pretty(&motion_summary(movement)).map_err(json_fault)?;
    write("motion.json", "Modes, frequencies, errors and curves for programs", &text)?;
    run.record(&stage, &key, false, began);
    Ok(())
}

/// The figures of a movement for programs.
#[must_use]
pub fn motion_summary(movement: &MovementOutcome) -> Value {
    let motion = &movement.motion;
    json!({
        "capture": movement.capture,
        "participant": movement.participant,
        "people": motion.people,
        "frames": motion.frames,
        "uniform": motion.uniform,
        "fps": motion.timing.fps,
        "duration_s": motion.timing.duration_s,
        "frozen_frames": motion.frozen_frames,
        "variances_mm2": motion.variances_mm2,
        "total_variance_mm2": motion.total_variance_mm2,
        "explained": motion.explained(),
        "errors": motion.errors,
        "frequencies": motion.frequencies,
        "no_frequency": motion.no_frequency,
        "curves": movement.curves.iter().map(curve_summary).collect::<Vec<_>>(),
        "findings": motion.findings,
    })
}

fn curve_summary(curve: &formkin_motion::Curve) -> Value {
    let mut value = serde_json::to_value(curve).unwrap_or_default();
    if let Some(object) = value.as_object_mut() {
        object.remove("values");
        object.remove("times_s");
    }
    value
}

fn size_files(run: &mut Run<'_>, results: &Results<'_>, system: &SizeSystem) -> Result<(), StudyError> {
    let stage = "size files";
    for (name, what, text) in [
        ("size-chart.csv", "The size chart", formkin_sizing::chart_csv(system)?),
        ("coverage.csv", "Coverage, held out first", formkin_sizing::coverage_csv(system)?),
        ("assignments.csv", "The size of every person", formkin_sizing::assignments_csv(system)?),
        ("left-out.csv", "Who is left out, and by which dimension", formkin_sizing::left_out_csv(system)?),
    ] {
        run.outputs.write(stage, name, what, text.as_bytes())?;
    }
    let Some(space) = &results.space else { return Ok(()) };
    let began = Instant::now();
    let stage = "size meshes";
    let keys: Vec<&str> = run
        .stages
        .iter()
        .filter(|s| matches!(s.stage.as_str(), "space" | "sizing"))
        .map(|s| s.key.as_str())
        .collect();
    let key = Key::of(stage, &keys, &[])?;
    if run.outputs.kept(stage, key.as_str()) {
        run.record(stage, &key, true, began);
        return Ok(());
    }
    let topology = results.cohort.template().mesh.topology();
    for (size, mesh) in mean_meshes(results.cohort, space, system)? {
        let bytes = formkin_cohort::ply_bytes(topology, &mesh, &MeshWriting::default())?;
        let path = format!("sizes/{}.ply", file_name(&size));
        run.outputs.write(stage, &path, "The mean body of a size, mm, z up", &bytes)?;
    }
    run.record(stage, &key, false, began);
    Ok(())
}

fn summary(run: &Run<'_>, results: &Results<'_>) -> Value {
    let file: &StudyFile = run.study.file();
    let info = results.cohort.info();
    let space = results.space.as_ref().map(|s| {
        let space = &s.fitted.space;
        json!({
            "people": space.people,
            "items": space.items,
            "modes": space.modes.len(),
            "variances_mm2": space.variances_mm2,
            "total_variance_mm2": space.total_variance_mm2,
            "explained": space.explained(),
            "cross_validation": space.cross_validation,
            "cross_validation_refused": space.cross_validation_refused,
            "alignment_rounds": s.fitted.alignment.rounds,
            "notes": s.notes,
        })
    });
    let sizing = results.sizing.as_ref().map(|(_, s)| size_summary(s));
    let mut summary = json!({
        "title": file.title,
        "program": facts::program(),
        "people": info.people,
        "items": info.items,
        "stills": info.stills,
        "sequences": info.sequences,
        "frames": info.frames,
        "quarantined": info.quarantined,
        "vertices": info.vertices,
        "triangles": info.triangles,
        "watertight": results.checks.topology.watertight,
        "findings": results.checks.findings,
        "space": space,
        "dimensions": results.measured.as_ref().map(|m| &m.summaries),
        "dimension_remarks": results.measured.as_ref().map(|m| &m.remarks),
        "movements": results.movements.iter().map(motion_summary).collect::<Vec<_>>(),
        "settings": file,
        "outputs": run.outputs.written().iter().map(|w| &w.path).collect::<Vec<_>>(),
    });
    if let (Some(object), Some(Value::Object(sizing))) = (summary.as_object_mut(), sizing) {
        object.extend(sizing);
    }
    summary
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
        })).collect::<Vec<_>>(),
        "left_out": system.left_out,
        "curve": system.curve,
        "plan": system.plan,
        "notes": system.notes,
        "cautions": system.cautions,
    })
}

fn report(run: &mut Run<'_>, results: &Results<'_>) -> Result<(), StudyError> {
    let began = Instant::now();
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
    let input = ReportInput {
        title: file.title.clone(),
        description: file.description.clone(),
        facts: facts::facts(file, results),
        checks: Some(&results.checks),
        space: results.space.as_ref().map(|s| &s.fitted.space),
        triangles: Some(results.cohort.template().mesh.topology().triangles()),
        dimensions: results.measured.as_ref().map(|m| DimensionsPart {
            summaries: &m.summaries,
            by: file.dimensions.as_ref().and_then(|d| d.by.clone()),
            people: m.people.rows(),
        }),
        movements: results
            .movements
            .iter()
            .map(|m| Movement {
                name: m.capture.clone(),
                participant: m.participant.clone(),
                motion: &m.motion,
                curves: &m.curves,
            })
            .collect(),
        sizing: results.sizing.as_ref().map(|(table, system)| SizingPart { system, table }),
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
