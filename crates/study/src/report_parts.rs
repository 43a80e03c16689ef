//! Movements and points as the report takes them.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_geometry::{ShapeSource, Template, Topology};
use formkin_measure::{Definition, Dimensions, Kind, Taker, how};
use formkin_motion::skin_lines::{SkinLines, skin_lines};
use formkin_motion::spectrum::spectrum;
use formkin_motion::strain_map::StrainFrame;
use formkin_motion::{Motion, MotionError, Reference};
use formkin_report::{DimensionPicture, MovementDeep, MovementsTogether, PointsMovement, PointsPart};

use crate::StudyError;
use crate::drawing::draw;
use crate::job::deep::Deep;
use crate::job::deep_files::at_vertices;
use crate::job::movement::{MovementOutcome, find_capture};
use crate::job::point_files::PointsTogether;
use crate::job::points::PointsOutcome;
use crate::job::together::Together;

/// Modes whose spectrum is shown.
const SPECTRA: usize = 3;
/// Two places with lines of non-extension are so far apart, in mm.
const APART_MM: f64 = 28.0;

/// The lines of non-extension of every movement with a strain map, by the name of its capture.
///
/// # Errors
/// Shapes that cannot be read.
pub(crate) fn lines(
    cohort: &Cohort,
    movements: &[MovementOutcome],
) -> Result<BTreeMap<String, Vec<SkinLines>>, StudyError> {
    let mut found = BTreeMap::new();
    for movement in movements {
        let Some(map) = &movement.deep.strain else { continue };
        let pose = match map.params.reference {
            Reference::Mean => movement.motion.mean.clone(),
            Reference::Frame(frame) => {
                let capture = find_capture(cohort, Some(&movement.capture))?;
                cohort.select(capture.items).read_shape(frame).map_err(MotionError::from)?
            }
        };
        let topology = cohort.template().mesh.topology();
        found.insert(movement.capture.clone(), skin_lines(map, topology, &pose, APART_MM));
    }
    Ok(found)
}

/// What the report shows of a deepened movement.
pub(crate) fn deep_part<'a>(
    topology: &Topology,
    movement: &'a MovementOutcome,
    lines: &BTreeMap<String, Vec<SkinLines>>,
) -> MovementDeep<'a> {
    let deep = &movement.deep;
    let strain_frames = deep.strain.as_ref().map_or_else(Vec::new, |s| {
        let at = |f: &StrainFrame| {
            let values: Vec<f64> = f.largest.iter().map(|&x| f64::from(x)).collect();
            (f.frame, at_vertices(topology, &values))
        };
        s.kept.iter().map(at).collect()
    });
    MovementDeep {
        strain_frames,
        skin_lines: lines.get(&movement.capture).cloned().unwrap_or_default(),
        spectra: spectra(&movement.motion),
        ..part(deep)
    }
}

fn part(deep: &Deep) -> MovementDeep<'_> {
    MovementDeep {
        cycles: deep.cycles.as_ref(),
        cycles_left_out: deep.cycles_left_out.as_ref(),
        courses: &deep.courses,
        frame: deep.frame.as_ref().map(|f| f.region.clone()),
        tissue: &deep.tissue,
        strain: deep.strain.as_ref(),
        dynamics: deep.dynamics.as_ref(),
        posture: deep.posture.as_ref().map(|p| (&p.posture, p.explained.as_slice(), p.rest.as_str())),
        residuals: deep.residuals.iter().map(|r| (r.signal.clone(), r.cutoff_hz, r.noise)).collect(),
        remarks: deep.remarks.clone(),
        ..MovementDeep::default()
    }
}

fn spectra(motion: &Motion) -> Vec<Option<Vec<formkin_motion::spectrum::SpectrumPoint>>> {
    let Some(fps) = motion.timing.fps else { return Vec::new() };
    (0..motion.modes.len().min(SPECTRA))
        .map(|k| spectrum(&motion.coefficients.iter().map(|row| row[k]).collect::<Vec<_>>(), fps))
        .collect()
}

/// All movements together; maps are drawn on the first one's mean.
pub(crate) fn together_part<'a>(
    together: &'a Together,
    movements: &'a [MovementOutcome],
) -> MovementsTogether<'a> {
    let conditions = together.conditions.as_ref();
    MovementsTogether {
        changes: &together.changes,
        allowances: &together.allowances,
        components: &together.components,
        comparisons: conditions.map_or(&[], |c| c.comparisons.as_slice()),
        reduction_mm: conditions.map_or(&[], |c| c.reduction_mm.as_slice()),
        map_people: conditions.map_or(0, |c| c.map_people),
        pose: movements.first().map_or(&[], |m| m.motion.mean.as_slice()),
        shared: together.shared.as_ref(),
    }
}

/// Trajectories of points.
#[must_use]
pub fn points_part<'a>(captures: &'a [PointsOutcome], together: &'a PointsTogether) -> PointsPart<'a> {
    PointsPart {
        captures: captures
            .iter()
            .map(|c| PointsMovement {
                name: c.capture.clone(),
                participant: c.participant.clone(),
                timing: &c.timing,
                up: c.up.clone(),
                missing_share: c.missing_share,
                tracks: &c.tracks,
                curves: &c.curves,
                deep: part(&c.deep),
            })
            .collect(),
        together: MovementsTogether {
            changes: &together.changes,
            components: &together.components,
            comparisons: together.conditions.as_ref().map_or(&[], |c| c.comparisons.as_slice()),
            ..MovementsTogether::default()
        },
    }
}

/// Most dimensions drawn in the report.
const DRAWN: usize = 8;

/// How dimensions are taken, drawn on the template: those named, then one of each kind that is not among them.
pub(crate) fn pictures(
    dimensions: &Dimensions,
    template: &Template,
    named: &[String],
) -> Vec<DimensionPicture> {
    let definitions = &dimensions.definitions;
    let mut chosen: Vec<&Definition> = Vec::new();
    for name in named {
        let of = |d: &&Definition| d.name == *name || d.header() == *name;
        chosen.extend(definitions.iter().find(of).filter(|d| !chosen.iter().any(|c| c.name == d.name)));
    }
    chosen.truncate(DRAWN / 2);
    for d in definitions {
        let alike = chosen.iter().any(|c| std::mem::discriminant(&c.kind) == std::mem::discriminant(&d.kind));
        if !alike && !matches!(d.kind, Kind::Derived { .. }) {
            chosen.push(d);
        }
    }
    chosen.truncate(DRAWN);
    let taken = Taker::new(dimensions, template).take(template.mesh.positions());
    chosen
        .into_iter()
        .filter_map(|d| {
            let measured = taken.get(dimensions.position(&d.name)?)?;
            let words = format!("{} How it is taken: {}.", d.definition, how(&d.kind));
            let svg = draw(d, measured, template, "", &[]);
            Some(DimensionPicture { name: d.name.clone(), words, svg })
        })
        .collect()
}
