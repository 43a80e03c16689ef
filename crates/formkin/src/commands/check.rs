//! `formkin check`: what is wrong with the data.

use formkin_cohort::{CheckParams, Finding, check};
use serde_json::json;

use crate::args::CheckArgs;
use crate::output::{Exit, Output, people};
use crate::progress::Bars;
use crate::resolve::open_cohort;

/// How many findings of a kind are told in full.
const IN_FULL: usize = 10;

pub(crate) fn run(args: &CheckArgs, output: &Output) -> anyhow::Result<Exit> {
    let cohort = open_cohort(&args.cohort)?;
    let bars = Bars::new(output);
    let checks = check(&cohort, &CheckParams::default(), &|done, of| bars.tick("check", done, of));
    bars.clear();
    let checks = checks?;
    let topology = &checks.topology;
    let mut lines = vec![format!(
        "{}: {}, {} items checked, {} set aside at import; {}",
        args.cohort.display(),
        people(checks.people),
        checks.items,
        checks.quarantined,
        if topology.watertight { "watertight" } else { "not watertight" }
    )];
    lines.push(match checks.findings.len() {
        0 => "no findings".to_owned(),
        1 => "1 finding; nothing was repaired".to_owned(),
        n => format!("{n} findings; nothing was repaired"),
    });
    lines.extend(told(&checks.findings));
    let object = json!({
        "people": checks.people,
        "items": checks.items,
        "quarantined": checks.quarantined,
        "vertices": topology.vertices,
        "triangles": topology.triangles,
        "watertight": topology.watertight,
        "topology": topology,
        "findings": checks.findings,
        "settings": checks.params,
        "outputs": [args.cohort.join("checks.json")],
    });
    output.result(&object, lines.join("\n"))?;
    Ok(if checks.findings.is_empty() { Exit::Done } else { Exit::Findings })
}

fn told(findings: &[Finding]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut counts = std::collections::BTreeMap::new();
    for finding in findings {
        let count = counts.entry(finding.kind).or_insert(0usize);
        *count += 1;
        if *count <= IN_FULL {
            let about = if finding.item.is_empty() { "all items" } else { &finding.item };
            lines.push(format!("{}: {about}: {}\n    {}", finding.kind, finding.message, finding.advice));
        }
    }
    for (kind, count) in counts.into_iter().filter(|(_, n)| *n > IN_FULL) {
        lines.push(format!("{kind}: {} more; all are in checks.json", count - IN_FULL));
    }
    lines
}
