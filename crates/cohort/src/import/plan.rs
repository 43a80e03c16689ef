//! Which files become which items, and where their positions go.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::discover::{Found, Kind};
use super::participants::Participants;
use super::same_body::same_body;
use super::times::Times;
use crate::CohortError;
use crate::finding::{Finding, FindingKind, Severity};
use crate::item::{Item, Status};
use crate::names::file_safe;
use crate::naming;
use crate::npy::NpyFile;
use crate::params::{ImportParams, Sequences};

/// An item to be, and where it comes from.
#[derive(Debug)]
pub(crate) struct Member {
    pub(crate) item: Item,
    pub(crate) source: Source,
}

#[derive(Debug, Clone)]
pub(crate) enum Source {
    /// A mesh file.
    Mesh(PathBuf),
    /// A row of an NPY file.
    Row(NpyFile, usize),
    /// Nothing can be read, and why.
    Unreadable(PathBuf, String),
}

impl Source {
    pub(crate) fn path(&self) -> &Path {
        match self {
            Self::Mesh(path) | Self::Unreadable(path, _) => path,
            Self::Row(file, _) => file.path(),
        }
    }
}

/// A file of positions to be, with its items in order.
#[derive(Debug)]
pub(crate) struct Target {
    pub(crate) file: String,
    pub(crate) members: Vec<Member>,
}

/// The whole import.
#[derive(Debug)]
pub(crate) struct Plan {
    pub(crate) targets: Vec<Target>,
    pub(crate) findings: Vec<Finding>,
}

/// A still pose or a sequence before it has its final name.
struct Draft {
    /// What the files call it.
    name: String,
    folder: String,
    still: bool,
    /// Frame number, item name, source.
    frames: Vec<(u32, String, Source)>,
    /// The files it consists of, as the table may name them.
    known_as: Vec<String>,
    /// Where a file of times would lie.
    times: PathBuf,
}

pub(crate) fn plan(
    found: &[Found],
    table: Option<&Participants>,
    params: &ImportParams,
) -> Result<Plan, CohortError> {
    let mut drafts = drafts(found, table, params.sequences);
    let times = params.times.as_deref().map(Times::read).transpose()?;
    let captures = unique(drafts.iter().map(|d| (d.name.as_str(), d.folder.as_str())));
    let mut findings = Vec::new();
    let mut used_rows = BTreeSet::new();
    let mut unlisted: BTreeMap<String, usize> = BTreeMap::new();
    let mut stills = Target { file: "stills.npy".to_owned(), members: Vec::new() };
    let mut sequences = Vec::new();
    let mut files = BTreeSet::from(["stills.npy".to_owned()]);
    for (draft, capture) in drafts.iter_mut().zip(captures) {
        let owner = owner(draft, &capture, table, &mut used_rows);
        if table.is_some() && !owner.listed {
            *unlisted.entry(owner.participant.clone()).or_default() += draft.frames.len();
        }
        let numbers: Vec<u32> = draft.frames.iter().map(|f| f.0).collect();
        let seconds =
            if draft.still { None } else { seconds(draft, &capture, &numbers, times.as_ref(), params.fps)? };
        if !draft.still {
            findings.extend(missing_frames(&capture, &numbers));
        }
        let still = draft.still;
        let members = draft.frames.drain(..).enumerate().map(|(i, (frame, item, source))| Member {
            item: Item {
                item: if still { capture.clone() } else { item },
                participant: owner.participant.clone(),
                session: owner.session.clone(),
                capture: capture.clone(),
                frame: (!still).then_some(frame),
                time_s: seconds.as_ref().map(|s| s[i]),
                groups: owner.groups.clone(),
                source: match &source {
                    Source::Row(file, row) => format!("{}#{row}", file.path().display()),
                    other => other.path().display().to_string(),
                },
                status: Status::Accepted,
            },
            source,
        });
        if still {
            stills.members.extend(members);
        } else {
            let members = members.collect();
            let mut file = format!("{}.npy", file_safe(&capture));
            let mut n = 2;
            while !files.insert(file.to_lowercase()) {
                file = format!("{}-{n}.npy", file_safe(&capture));
                n += 1;
            }
            sequences.push(Target { file, members });
        }
    }
    if let Some(table) = table {
        findings.extend(beside_table(table, unlisted, &used_rows));
    }
    let mut targets = Vec::new();
    if !stills.members.is_empty() {
        targets.push(stills);
    }
    targets.append(&mut sequences);
    // item names must be unique too
    let names = unique(
        targets.iter().flat_map(|t| &t.members).map(|m| (m.item.item.as_str(), m.item.capture.as_str())),
    );
    for (member, name) in targets.iter_mut().flat_map(|t| &mut t.members).zip(names) {
        member.item.item = name;
    }
    Ok(Plan { targets, findings })
}

/// What the files and the table of participants lack of each other: participants that are not listed, and rows without a scan.
fn beside_table(
    table: &Participants,
    unlisted: BTreeMap<String, usize>,
    used_rows: &BTreeSet<usize>,
) -> Vec<Finding> {
    let mut findings: Vec<Finding> = unlisted
        .into_iter()
        .map(|(participant, items)| Finding {
            message: format!(
                "{items} {} of a participant that {} does not list",
                if items == 1 { "item" } else { "items" },
                table.file.display()
            ),
            item: participant,
            kind: FindingKind::ParticipantNotInTable,
            severity: Severity::Warning,
            amount: Some(items as f64),
            unit: Some("items".to_owned()),
            advice: "add a row for this participant, or correct the name of the files".to_owned(),
        })
        .collect();
    findings.extend(table.rows.iter().enumerate().filter(|(i, _)| !used_rows.contains(i)).map(|(_, row)| {
        Finding {
            item: if row.item.is_empty() { row.participant.clone() } else { row.item.clone() },
            kind: FindingKind::ParticipantWithoutScans,
            severity: Severity::Note,
            message: format!("line {} of {} has no scan", row.line, table.file.display()),
            amount: None,
            unit: None,
            advice: "look for the missing files, or remove the row".to_owned(),
        }
    }));
    findings
}

/// Sorts the files into still poses and sequences, in the order of the files.
fn drafts(found: &[Found], table: Option<&Participants>, sequences: Sequences) -> Vec<Draft> {
    /// Number, digits of it, position in `found`.
    type Numbered = (u32, usize, usize);
    let mut groups: BTreeMap<(PathBuf, String), Vec<Numbered>> = BTreeMap::new();
    for (i, file) in found.iter().enumerate().filter(|(_, f)| f.kind == Kind::Mesh) {
        if let Some(n) = naming::numbered(&file.stem()) {
            let folder = file.path.parent().unwrap_or(Path::new("")).to_owned();
            groups.entry((folder, n.base)).or_default().push((n.number, n.digits, i));
        }
    }
    // file -> its sequence, named by the first file
    let mut sequence_of: BTreeMap<usize, usize> = BTreeMap::new();
    let mut members: BTreeMap<usize, (String, Vec<(u32, usize)>)> = BTreeMap::new();
    for ((_, base), mut group) in groups {
        group.sort_unstable();
        let distinct = group.windows(2).all(|w| w[0].0 != w[1].0);
        let numbers: Vec<(u32, usize)> = group.iter().map(|g| (g.0, g.1)).collect();
        let files: Vec<(u32, &Path)> = group.iter().map(|g| (g.0, found[g.2].path.as_path())).collect();
        let individually = || {
            group
                .iter()
                .any(|g| table.is_some_and(|t| t.names_individually(&found[g.2].stem(), &found[g.2].name())))
        };
        let sequence = match sequences {
            Sequences::Never => false,
            Sequences::Always => group.len() >= 2 && distinct,
            Sequences::Auto => naming::looks_running(&numbers) && !individually() && same_body(&files),
        };
        if sequence {
            let first = group.iter().map(|g| g.2).min().unwrap_or_default();
            sequence_of.extend(group.iter().map(|g| (g.2, first)));
            members.insert(first, (base, group.iter().map(|g| (g.0, g.2)).collect()));
        }
    }
    let mut drafts = Vec::new();
    for (i, file) in found.iter().enumerate() {
        let beside = |name: &str| file.path.with_file_name(format!("{name}.times.csv"));
        if let Some((base, frames)) = members.get(&i) {
            let name = match naming::trimmed(base) {
                "" => file.folder(),
                name => name.to_owned(),
            };
            drafts.push(Draft {
                times: beside(&name),
                known_as: vec![name.clone()],
                name,
                folder: file.folder(),
                still: false,
                frames: frames
                    .iter()
                    .map(|&(n, f)| (n, found[f].stem(), Source::Mesh(found[f].path.clone())))
                    .collect(),
            });
        } else if file.kind == Kind::Npy {
            drafts.push(npy_draft(file, beside(&file.stem())));
        } else if !sequence_of.contains_key(&i) {
            drafts.push(Draft {
                name: file.stem(),
                folder: file.folder(),
                still: true,
                frames: vec![(0, file.stem(), Source::Mesh(file.path.clone()))],
                known_as: known_as(file),
                times: PathBuf::new(),
            });
        }
    }
    drafts
}

/// How a table may name a file.
fn known_as(file: &Found) -> Vec<String> {
    let (stem, name, folder) = (file.stem(), file.name(), file.folder());
    let path = file.path.to_string_lossy().into_owned();
    vec![format!("{folder}/{stem}"), format!("{folder}/{name}"), path, stem, name]
}

fn npy_draft(file: &Found, times: PathBuf) -> Draft {
    // names that say what is in the file, not whose it is
    const GENERIC: [&str; 5] = ["positions", "vertices", "points", "frames", "movement"];
    let stem = file.stem();
    let generic = GENERIC.contains(&stem.to_lowercase().as_str()) && !file.folder().is_empty();
    let name = if generic { file.folder() } else { stem };
    let mut known_as = known_as(file);
    known_as.push(name.clone());
    let (still, frames) = match NpyFile::open_positions(&file.path) {
        Ok(npy) if npy.shape()[0] == 0 => {
            let reason = format!("{}: the array holds no items", file.path.display());
            (true, vec![(0, name.clone(), Source::Unreadable(file.path.clone(), reason))])
        }
        Ok(npy) => {
            let count = npy.shape()[0];
            let digits = count.saturating_sub(1).to_string().len().max(4);
            let item = |row: usize| format!("{name}_{row:0digits$}");
            (false, (0..count).map(|row| (row as u32, item(row), Source::Row(npy.clone(), row))).collect())
        }
        Err(e) => (true, vec![(0, name.clone(), Source::Unreadable(file.path.clone(), e.to_string()))]),
    };
    Draft { name, folder: file.folder(), still, frames, known_as, times }
}

struct Owner {
    participant: String,
    session: String,
    groups: BTreeMap<String, String>,
    listed: bool,
}

fn owner(draft: &Draft, capture: &str, table: Option<&Participants>, used: &mut BTreeSet<usize>) -> Owner {
    let (name, folder, still) = (draft.name.as_str(), draft.folder.as_str(), draft.still);
    let from_name = |participant: &str| {
        let session = naming::session(name, participant, still);
        if session.is_empty() && !name.starts_with(participant) {
            naming::session(folder, participant, false)
        } else {
            session
        }
    };
    if let Some(table) = table {
        let mut names: Vec<&str> = vec![capture];
        names.extend(draft.known_as.iter().map(String::as_str));
        let named = table.item(&names);
        let participant = named
            .map(|i| table.rows[i].participant.as_str())
            .filter(|p| !p.is_empty())
            .or_else(|| table.participant_of(name))
            .or_else(|| table.participant_of(folder));
        let participant = participant.map_or_else(|| naming::participant(name, folder, still), str::to_owned);
        let session = match named.map(|i| table.rows[i].session.as_str()) {
            Some(s) if !s.is_empty() => s.to_owned(),
            _ => from_name(&participant),
        };
        if let Some(i) = named.or_else(|| table.row(&participant, &session)) {
            used.insert(i);
            return Owner { participant, session, groups: table.rows[i].groups.clone(), listed: true };
        }
        return Owner { participant, session, groups: BTreeMap::new(), listed: false };
    }
    let participant = naming::participant(name, folder, still);
    Owner { session: from_name(&participant), participant, groups: BTreeMap::new(), listed: false }
}

/// Times from the file given, else from the one beside the frames, else from the frame rate.
fn seconds(
    draft: &Draft,
    capture: &str,
    numbers: &[u32],
    times: Option<&Times>,
    fps: Option<f64>,
) -> Result<Option<Vec<f64>>, CohortError> {
    if let Some(found) = times.map(|t| t.of(capture, numbers)).transpose()?.flatten() {
        return Ok(Some(found));
    }
    if draft.times.is_file() {
        return Times::read(&draft.times)?.of(&draft.name, numbers);
    }
    let first = numbers.first().copied().unwrap_or(0);
    Ok(fps.map(|fps| numbers.iter().map(|&n| f64::from(n - first) / fps).collect()))
}

fn missing_frames(capture: &str, numbers: &[u32]) -> Option<Finding> {
    let gaps: Vec<(u32, u32)> =
        numbers.windows(2).filter(|w| w[1] > w[0] + 1).map(|w| (w[0] + 1, w[1] - 1)).collect();
    let missing: u32 = gaps.iter().map(|(a, b)| b - a + 1).sum();
    let list: Vec<String> = gaps
        .iter()
        .take(5)
        .map(|(a, b)| if a == b { a.to_string() } else { format!("{a} to {b}") })
        .collect();
    (missing > 0).then(|| Finding {
        item: capture.to_owned(),
        kind: FindingKind::MissingFrames,
        severity: Severity::Warning,
        message: format!(
            "{missing} frame numbers are missing: {}{}",
            list.join(", "),
            if gaps.len() > 5 { " .." } else { "" }
        ),
        amount: Some(f64::from(missing)),
        unit: Some("frames".to_owned()),
        advice: "import the missing frames, or split the sequence at the gap".to_owned(),
    })
}

/// Names that occur once stay; others get what is given beside them in front, and a number where that is not enough.
fn unique<'a>(names: impl Iterator<Item = (&'a str, &'a str)> + Clone) -> Vec<String> {
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    for (name, _) in names.clone() {
        *count.entry(name).or_default() += 1;
    }
    let mut taken = BTreeSet::new();
    names
        .map(|(name, before)| {
            let alone = count.get(name) == Some(&1);
            let wanted =
                if alone || before.is_empty() { name.to_owned() } else { format!("{before}_{name}") };
            let mut free = wanted.clone();
            let mut n = 2;
            while !taken.insert(free.clone()) {
                free = format!("{wanted}-{n}");
                n += 1;
            }
            free
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_made_unique() {
        let names = [("a", "x"), ("b", "x"), ("b", "y"), ("b", "y"), ("c", ""), ("c", "")];
        assert_eq!(unique(names.into_iter()), ["a", "x_b", "y_b", "y_b-2", "c", "c-2"]);
    }

    #[test]
    fn gaps_are_named() {
        assert_eq!(missing_frames("walk", &[3, 4, 5]), None);
        let finding = missing_frames("walk", &[3, 5, 9]).unwrap();
        assert!(finding.message.contains("4 frame numbers are missing: 4, 6 to 8"), "{}", finding.message);
    }
}
