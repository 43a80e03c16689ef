//! The markup of a small page, as it was reviewed.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::{Body, Document, Fact, Front, html};

/// A page of three people: an answer, settings, cautions and files.
fn page() -> Document {
    let mut page = Document {
        program: "formkin".into(),
        description: "A sentence about them.".into(),
        byline: "Made 2026-01-31, with formkin, seed 1".into(),
        front: Some(Front {
            question: "What is in this study?".into(),
            lead: "3 people".into(),
            sentence: "in 12 captured shapes.".into(),
            facts: [
                ("people", "3"),
                ("still poses", "3"),
                ("frames, in 1 sequence", "9"),
                ("vertices of every shape", "12\u{202f}000"),
            ]
            .map(|(name, value)| Fact::new(name, value))
            .to_vec(),
            ..Front::default()
        }),
        foot: "People appear under pseudonyms. Body data are personal data: keep this page as you keep the scans."
            .into(),
        ..Document::new("Three people")
    };
    let study = page.begin("study", "What was done, and to whom");
    study.paragraph(
        "3 people took part, captured in 3 still poses and 1 sequence of 9 frames in all. Frames are never counted as people: wherever this page says people, it means people.",
    );
    study.paragraph(
        "Every shape has the same 12\u{202f}000 vertices and 23\u{202f}996 triangles, so that a vertex is the same place on everyone. The surface is open, so volumes are not given.",
    );
    study.paragraph("1 item was set aside at import and not used.");
    let mut settings = Table::unnamed("Settings", vec![text("Setting"), text("Value"), text("Chosen by")]);
    settings.group("Align");
    settings.row(vec![cell("Removes"), cell("rigid"), cell("default").faint()]);
    settings.group("Space");
    settings.row(vec![cell("Target"), cell("5 mm"), cell("the study")]);
    let mut inside = Body::default();
    inside.table(settings);
    study.folded("2 settings, 1 of them at the default", inside);

    page.begin("cautions", "What not to conclude").cautions(&["Wearer trials decide.".into()]);

    let files = page.begin("files", "Files, and where they came from");
    let mut beside =
        Table::new("Written beside this page", vec![text("File"), text("What is in it"), number("Size", "")]);
    beside.row(vec![cell("a.csv"), cell("A table").prose(), cell("2.0 kB")]);
    files.table(beside);
    let mut provenance = Table::unnamed("Provenance", vec![text("What"), text("Value")]);
    provenance.row(vec![cell("Hash"), cell("abc").value()]);
    let mut inside = Body::default();
    inside.table(provenance);
    files.folded("Provenance: versions, seeds and hashes", inside);
    page
}

/// Without style and program, which have tests of their own.
#[test]
fn a_small_page_is_as_reviewed() {
    let page = html::render(&page()).unwrap();
    let (start, rest) = page.split_once("<style>").unwrap();
    let (_, rest) = rest.split_once("</style>").unwrap();
    let (body, _) = rest.split_once("<script>").unwrap();
    insta::assert_snapshot!(format!("{start}{body}"));
}

#[test]
fn the_page_stands_alone() {
    let page = html::render(&page()).unwrap();
    for outside in ["http://", "https://", " src=\"", "<img", "@import", "url("] {
        assert!(!page.contains(outside), "the page refers to {outside}");
    }
}
