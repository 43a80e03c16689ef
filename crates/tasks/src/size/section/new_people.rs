//! The sizes of new people.

use formkin_report::document::Body;
use formkin_report::document::table::{Flag, Table, cell, text};
use formkin_report::format::{counted, list, words};
use formkin_sizing::{Advice, Choice};

/// Most people in the table.
const LISTED: usize = 200;

pub(super) fn body(advice: &[Advice]) -> Body {
    let mut body = Body::default();
    let none = advice.iter().filter(|a| a.size.is_none()).count();
    body.paragraph(&match none {
        0 => format!("Every one of {} has a size.", counted(advice.len(), "new person", "new people")),
        none => format!(
            "Of {}, {} without a size: the nearest is named.",
            counted(advice.len(), "new person", "new people"),
            counted(none, "is", "are")
        ),
    });
    let mut table = Table::unnamed(
        "The sizes of new people",
        vec![
            text("Person"),
            text("Size"),
            text("Nearest size"),
            text("How it sits"),
            text("Second choice"),
            text("Remarks"),
        ],
    );
    for a in advice.iter().take(LISTED) {
        let remark = match &a.missing {
            Some(missing) => cell(format!("{} is missing", words(missing, None))),
            None if a.borderline => cell("borderline").flag(Flag::Warning),
            None => cell(""),
        };
        let given = a.missing.is_none();
        let nearest = if given { a.nearest.size.clone() } else { String::new() };
        table.row(vec![
            cell(a.id.clone()).keep(),
            a.size.as_ref().map_or_else(|| cell("–").suppressed(), cell),
            cell(nearest),
            cell(if given { sits(&a.nearest) } else { String::new() }).prose(),
            cell(a.second.as_ref().map_or_else(String::new, |s| s.size.clone())),
            remark,
        ]);
    }
    body.table(table);
    if advice.len() > LISTED {
        body.note(&format!("The first {LISTED}; new-people.csv has all."));
    }
    body
}

/// Where a size is tight and where it is loose.
fn sits(choice: &Choice) -> String {
    let of = |what: &str| {
        let named = choice.feel.iter().filter(|f| f.what == what).map(|f| {
            format!("{}{}", words(&f.dimension, None), if f.beyond { " (beyond the limit)" } else { "" })
        });
        let named: Vec<String> = named.collect();
        (!named.is_empty()).then(|| format!("{what} on {}", list(&named)))
    };
    ["tight", "loose"].into_iter().filter_map(of).collect::<Vec<_>>().join("; ")
}
