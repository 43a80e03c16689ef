//! The object for programs, the tables, the page, and a chart of every dimension.

use formkin_measure::repeatability_sheet;
use formkin_report::document::Document;
use formkin_report::{charts, html};
use formkin_table::FileNames;
use serde_json::{Value, json};

use super::AgreeOutcome;
use super::section::{front, plot, sections};
use crate::{Delivery, TaskError};

pub(super) fn object(made: &AgreeOutcome) -> Value {
    match made {
        AgreeOutcome::Compared(made) => json!(made),
        AgreeOutcome::Repeated(made) => json!({ "dimensions": made }),
    }
}

pub(super) fn files(made: &AgreeOutcome) -> Delivery<'_> {
    let compared = match made {
        AgreeOutcome::Repeated(made) => {
            let what = "Technical error, reliability and intraclass correlations";
            return Delivery::new().sheet("repeatability.csv", what, repeatability_sheet(made));
        }
        AgreeOutcome::Compared(compared) => compared,
    };
    let mut delivery = Delivery::new()
        .sheet("agreement.csv", "Errors of every dimension, scan less hand", compared.sheet())
        .made("agreement.html", "The same as a page, with charts", move || page(made));
    let mut names = FileNames::default();
    for agreement in &compared.dimensions {
        let name = format!("{}.svg", names.of(&agreement.dimension));
        let what = format!("Errors of {} by size", agreement.dimension);
        delivery = delivery.made(name, what, move || {
            let mut plot = plot("agreement", agreement);
            // a file has no page to say it
            plot.y.label.push_str("; the band is the 95 % interval of the mean");
            Ok(charts::file(&plot).into_bytes())
        });
    }
    delivery
}

/// Scan against hand as one page that needs nothing else.
fn page(made: &AgreeOutcome) -> Result<Vec<u8>, TaskError> {
    let mut page = Document::new("Scan against hand");
    page.sections = sections(made);
    page.front = front(made);
    if let AgreeOutcome::Compared(compared) = made {
        page.description = super::section::whom(compared);
    }
    Ok(html::render(&page)?.into_bytes())
}
