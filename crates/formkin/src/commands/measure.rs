//! `formkin measure`: body dimensions, or area, volume and centroid size where no definitions are given.

use formkin_geometry::Template;
use formkin_measure::{DimensionSummary, Dimensions, HandbookKind, HandbookRow, basic, explained, how};
use formkin_table::Table;
use formkin_tasks::choose::Items;
use formkin_tasks::drawing::draw;
use formkin_tasks::job::measure::{MeasureJob, MeasureOutcome, measure};
use formkin_tasks::reading::read_dimensions;
use rayon::prelude::*;
use serde_json::{Value, json};

use crate::args::{ItemsArg, MeasureArgs, PerArg};
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{free, open_cohort, write};

pub(crate) fn run(args: &MeasureArgs, output: &Output) -> anyhow::Result<Exit> {
    free(args.into.iter().map(AsRef::as_ref), args.force)?;
    let Some(definitions) = &args.dimensions else { return plain(args, output) };
    let dimensions = read_dimensions(definitions)?;
    let cohort = open_cohort(&args.cohort)?;
    if let Some(name) = &args.explain {
        return explain(args, &dimensions, name, cohort.template(), output);
    }
    // a person is stood for by a still pose, never by a frame where there is a still pose
    let items = if args.per == PerArg::Person { ItemsArg::Stills } else { args.items };
    let job = MeasureJob { dimensions, items: items.into(), by: args.by.clone() };
    let bars = Bars::new(output);
    let made = measure(&cohort, &job, &|done, of| bars.tick("measure", done, of));
    bars.clear();
    let made = made?;
    let table = match args.per {
        PerArg::Item => &made.table,
        PerArg::Person => &made.people,
    };
    let csv = table.to_csv()?;
    let object = json!({
        "people": made.people.rows(),
        "items": made.table.rows(),
        "measurements": rows(table),
        "dimensions": made.summaries,
        "remarks": made.remarks,
        "handbook": made.handbook,
        "outputs": args.into.iter().collect::<Vec<_>>(),
    });
    match &args.into {
        Some(path) => {
            write(path, csv.as_bytes(), args.force)?;
            output.result(&object, text(&made) + &format!("\nwritten: {}", path.display()))?;
        }
        None => output.result(&object, csv)?,
    }
    Ok(Exit::Done)
}

/// The definition in words, and its picture on the template.
fn explain(
    args: &MeasureArgs,
    dimensions: &Dimensions,
    name: &str,
    template: &Template,
    output: &Output,
) -> anyhow::Result<Exit> {
    dimensions.check(template)?;
    let (definition, measured) = explained(dimensions, name, template)?;
    let mut lines = vec![format!("{name}: {}", definition.definition)];
    if let Some(s) = &definition.standard {
        let rest: Vec<&str> = [&s.edition, &s.item].into_iter().flatten().map(String::as_str).collect();
        lines.push(format!(
            "follows {} {} (from memory: check the edition you work to)",
            s.standard,
            rest.join(", ")
        ));
    }
    lines.push(format!("how it is taken: {}", how(&definition.kind)));
    if !definition.note.is_empty() {
        lines.push(format!("note: {}", definition.note));
    }
    let unit = definition.unit.as_deref().unwrap_or("");
    match (measured.value, &measured.reason_missing) {
        (Some(v), _) => lines.push(format!("on the template: {v:.1} {unit}")),
        (None, reason) => {
            lines.push(format!("not on the template: {}", reason.as_deref().unwrap_or("no value")))
        }
    }
    lines.extend(measured.flags.iter().map(|f| format!("flag: {f}")));
    let object = json!({ "definition": definition, "on_template": measured, "outputs": args.into.iter().collect::<Vec<_>>() });
    if let Some(path) = &args.into {
        let svg = draw(definition, &measured, template, name, &lines[..1]);
        write(path, svg.as_bytes(), args.force)?;
        lines.push(format!("written: {}", path.display()));
    }
    output.result(&object, lines.join("\n"))?;
    Ok(Exit::Done)
}

/// One object a row: its name, then the numbers under their headers.
fn rows(table: &Table) -> Vec<Value> {
    (0..table.rows())
        .map(|row| {
            let mut object = json!({ &table.id: table.ids[row] });
            for column in &table.texts {
                object[&column.name] = json!(column.values[row]);
            }
            for column in &table.numbers {
                object[column.header()] = json!(column.values[row]);
            }
            object
        })
        .collect()
}

fn text(made: &MeasureOutcome) -> String {
    let missing = made.remarks.iter().filter(|r| r.missing).count();
    let mut lines = vec![format!(
        "{} people, {} items, {} dimensions; {missing} values missing, {} to look at",
        made.people.rows(),
        made.table.rows(),
        made.summaries.iter().filter(|s| s.group.is_none()).count(),
        made.remarks.len() - missing
    )];
    let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.1}"));
    lines.push(format!("{:<28} {:<10} {:>5} {:>9} {:>8}", "dimension", "group", "n", "mean", "SD"));
    for DimensionSummary { name, unit, group, n, mean, sd, .. } in &made.summaries {
        let header = unit.as_ref().map_or_else(|| name.clone(), |u| format!("{name} [{u}]"));
        let group = group.as_deref().unwrap_or("all");
        lines.push(format!("{header:<28} {group:<10} {n:>5} {:>9} {:>8}", number(*mean), number(*sd)));
    }
    lines.extend(handbook_lines(&made.handbook));
    lines.join("\n")
}

/// Proportions beside handbooks, as lines of a table; none for none.
pub(crate) fn handbook_lines(rows: &[HandbookRow]) -> Vec<String> {
    if rows.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![format!(
        "{:<34} {:>5} {:>8} {:>8} {:>9} {:>11}",
        "beside handbooks", "n", "mean", "SD", "handbook", "difference"
    )];
    let mut sources: Vec<&str> = Vec::new();
    for r in rows {
        let name = format!("{} {}", r.name, kind_words(r.kind));
        let sd = r.sd.map_or_else(|| "-".to_owned(), |s| format!("{s:.4}"));
        lines.push(format!(
            "{name:<34} {:>5} {:>8.4} {sd:>8} {:>9.4} {:>+9.1} %",
            r.n, r.mean, r.handbook, r.difference_percent
        ));
        if !sources.contains(&r.source.as_str()) {
            sources.push(&r.source);
        }
    }
    lines.extend(sources.iter().map(|s| format!("  after {s}")));
    lines.push("  joints are means of rings on the skin, not joints of bone: differences of some percent are expected".to_owned());
    lines
}

fn kind_words(kind: HandbookKind) -> &'static str {
    match kind {
        HandbookKind::HeightOverStature => "height / stature",
        HandbookKind::LengthOverStature => "length / stature",
        HandbookKind::ShareOfMass => "share of mass",
        HandbookKind::AreaOverFormula => "area / formula",
    }
}

/// Area, volume and centroid size of every item: what a surface has without any definition.
fn plain(args: &MeasureArgs, output: &Output) -> anyhow::Result<Exit> {
    let cohort = open_cohort(&args.cohort)?;
    let topology = cohort.template().mesh.topology();
    let items = Items::from(args.items).of(&cohort)?;
    let source = cohort.source();
    let measured: Vec<_> = items
        .par_iter()
        .map(|&i| source.read_shape(i).map(|shape| basic(topology, &shape)))
        .collect::<Result<_, _>>()?;
    let mut csv = String::from("item,participant,area_mm2,volume_mm3,centroid_size_mm\n");
    let mut rows = Vec::new();
    for (&i, b) in items.iter().zip(&measured) {
        let item = &cohort.items()[i];
        rows.push(json!({
            "item": item.item,
            "participant": item.participant,
            "area_mm2": b.area_mm2,
            "volume_mm3": b.volume_mm3,
            "centroid_size_mm": b.centroid_size_mm,
        }));
        let number = |x: Option<f64>| x.map_or_else(String::new, |x| x.to_string());
        let quoted = |s: &str| format!("\"{}\"", s.replace('"', "\"\""));
        csv.push_str(&format!(
            "{},{},{},{},{}\n",
            quoted(&item.item),
            quoted(&item.participant),
            number(b.area_mm2),
            number(b.volume_mm3),
            number(b.centroid_size_mm)
        ));
    }
    let summary = topology.summary();
    let object = json!({
        "people": cohort.info().people,
        "items": items.len(),
        "measurements": rows,
        "vertices": summary.vertices,
        "triangles": summary.triangles,
        "watertight": summary.watertight,
        "outputs": args.into.iter().collect::<Vec<_>>(),
    });
    match &args.into {
        Some(path) => {
            write(path, csv.as_bytes(), args.force)?;
            output.result(&object, format!("{} items: {}", items.len(), path.display()))?;
        }
        None => output.result(&object, csv)?,
    }
    Ok(Exit::Done)
}
