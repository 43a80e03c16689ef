//! The document model and its renderings: what is written stays text, nothing empty is shown, order is kept, and a page stays light.

use formkin_report::charts::{self, Axis, BarRow, BarValue, Bars, Frame, Key, Layer, Mark, Plot};
use formkin_report::document::table::{Flag, Table, cell, number, text};
use formkin_report::document::view::{
    Colouring, Course, Deforming, Painted, PeopleMap, PlayedPoints, SkinLine, Triangles, View,
};
use formkin_report::document::{Block, Hundred};
use formkin_report::lineup::{self, Stander};
use formkin_report::{Body, Document, Fact, Front, ReportError, Section, html, text as plain};

/// A text that ends an attribute, an element, a comment and a script, and steers a terminal.
const HOSTILE: &str = "x\"'><evil on=\"1\">&amp</script></style><!--\u{1b}[31m`";

type Point = [f64; 3];

fn evil() -> String {
    HOSTILE.to_owned()
}

/// A tetrahedron as tall as a person.
fn solid() -> (Vec<Point>, Triangles) {
    let points = vec![[0.0, 0.0, 0.0], [300.0, 0.0, 0.0], [150.0, 200.0, 0.0], [150.0, 70.0, 1800.0]];
    (points, Triangles::from([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]))
}

/// So many modes of a body.
fn modes(vertices: usize, count: usize) -> Vec<Vec<Point>> {
    (0..count).map(|k| vec![[1.0, 0.1 * k as f64, 0.0]; vertices]).collect()
}

fn sliders(id: &str) -> Deforming {
    let (mean, triangles) = solid();
    Deforming {
        id: id.to_owned(),
        label: "A body.".to_owned(),
        triangles,
        modes: modes(mean.len(), 2),
        mean,
        variances_mm2: vec![9.0, 4.0],
        total_variance_mm2: 13.0,
        marks: vec![String::new(), "not stable".to_owned()],
        hints: vec!["one mode".to_owned(), "two modes".to_owned()],
        course: None,
    }
}

fn movement(id: &str) -> Deforming {
    let course = Course {
        times_s: vec![0.0, 0.5],
        coefficients_mm: vec![vec![1.0, 2.0], vec![-1.0, 0.0]],
        span: "2 frames".to_owned(),
        lines: vec![SkinLine { triangle: 0, directions: [[1.0, 0.0], [0.0, 1.0]] }],
        strain: vec![(1, vec![0.1; 4])],
    };
    Deforming { course: Some(course), ..sliders(id) }
}

fn painted(id: &str) -> Painted {
    let (mean, triangles) = solid();
    Painted {
        id: id.to_owned(),
        label: "A painted body.".to_owned(),
        triangles,
        values: vec![1.0, -1.0, 0.0, 0.5],
        morphs: vec![("taller".to_owned(), vec![[0.0, 0.0, 1.0]; mean.len()])],
        mean,
        instead: "There is no room for it.".to_owned(),
        ..Painted::default()
    }
}

fn points(id: &str) -> PlayedPoints {
    PlayedPoints {
        id: id.to_owned(),
        names: vec!["knee".to_owned(), "ankle".to_owned()],
        links: vec![[0, 1]],
        times_s: vec![0.0, 0.1],
        positions_mm: vec![
            vec![Some([0.0, 0.0, 500.0]), None],
            vec![Some([1.0, 0.0, 500.0]), Some([0.0, 0.0, 90.0])],
        ],
        ..PlayedPoints::default()
    }
}

fn page_of(views: impl IntoIterator<Item = View>) -> Result<String, ReportError> {
    let mut page = Document::new("Views");
    let body = page.begin("views", "Views");
    views.into_iter().for_each(|v| body.view(v));
    html::render(&page)
}

fn hostile_plot() -> Plot {
    let mut plot = Plot::new(evil(), evil(), Axis::new(evil()), Axis::new(evil()));
    plot.reading = evil();
    plot.keys = vec![Key::new("s1", "line", evil())];
    plot.layers = vec![
        Layer::Line { class: "s1", points: vec![(0.0, 1.0), (2.0, 3.0)], dots: true },
        Layer::Marks { class: "s2", mark: Mark::Cross, points: vec![(1.0, 1.0)] },
        Layer::Level { class: "muted", at: 2.0, text: evil() },
        Layer::Pick { class: "s3", at: (1.0, 2.0), text: evil() },
        Layer::Boxes { class: "s6", boxes: vec![Frame { low: (0.0, 0.0), high: (1.0, 1.0), name: evil() }] },
        Layer::Cursor { id: evil() },
    ];
    plot
}

fn hostile_table() -> Table {
    let mut table = Table::new(evil(), vec![text(evil()), number(evil(), evil())]);
    table.group(evil());
    table.row(vec![cell(evil()).quiet(evil()), cell(evil()).quiet(evil()).reason(evil()).flag(Flag::Error)]);
    table.total(vec![cell(evil()), cell(evil()).held()]);
    table
}

fn hostile_body() -> Body {
    let mut body = Body::default();
    for write in [Body::paragraph, Body::note, Body::heading, Body::code] {
        write(&mut body, HOSTILE);
    }
    body.remarks(&[evil()]);
    body.cautions(&[evil()]);
    body.table(hostile_table());
    body.figures([hostile_plot().figure(), hostile_plot().figure()]);
    let row = BarRow { name: evil(), values: vec![BarValue::plain(0.4, "s1")], text: evil() };
    body.figure(
        Bars {
            id: evil(),
            title: evil(),
            reading: evil(),
            axis: Axis::new(evil()),
            rows: vec![row],
            keys: Vec::new(),
            dots: false,
            half: false,
        }
        .figure(),
    );
    let (solid, triangles) = solid();
    let stander =
        |name: &str| Stander { name: name.into(), words: evil(), group: name.into(), positions: &solid };
    let lined = lineup::figure(HOSTILE, &triangles, &[stander(HOSTILE), stander("b")], HOSTILE, HOSTILE);
    body.figures(lined);
    body
}

fn hostile_views() -> Vec<View> {
    let texts =
        |v: Deforming| Deforming { label: evil(), marks: vec![evil(), evil()], hints: vec![evil()], ..v };
    let mut played = texts(movement(&format!("m{HOSTILE}")));
    played.course.iter_mut().for_each(|c| c.span = evil());
    let mut body = painted(&format!("p{HOSTILE}"));
    body.morphs[0].0 = evil();
    let body = Painted { label: evil(), legend: evil(), unit: evil(), colour: evil(), hint: evil(), ..body };
    let dots = PlayedPoints {
        label: evil(),
        names: vec![evil(), evil()],
        span: evil(),
        hint: evil(),
        ..points(&format!("d{HOSTILE}"))
    };
    let map = PeopleMap {
        id: evil(),
        title: evil(),
        description: evil(),
        x: evil(),
        y: evil(),
        places: vec![[0.0, 1.0], [1.0, 0.0]],
        names: vec![evil(), evil()],
        columns: vec![
            Colouring::Numbers { name: evil(), values: vec![Some(1.0), None] },
            Colouring::Words { name: evil(), values: vec![Some(evil()), None] },
        ],
        ..PeopleMap::default()
    };
    vec![
        View::Deforming(texts(sliders(&format!("s{HOSTILE}")))),
        View::Deforming(played),
        View::Painted(body),
        View::Points(dots),
        View::People(map),
    ]
}

fn hostile_document() -> Document {
    let mut body = hostile_body();
    let mut inside = hostile_body();
    hostile_views().into_iter().for_each(|v| inside.view(v));
    body.folded(HOSTILE, inside);
    Document {
        program: evil(),
        title: evil(),
        description: evil(),
        byline: evil(),
        front: Some(Front {
            question: evil(),
            lead: evil(),
            sentence: evil(),
            qualify: evil(),
            figure: Some(Hundred { title: evil(), description: evil(), share: 0.8, interval: (0.7, 0.9) }),
            facts: vec![Fact::new(HOSTILE, HOSTILE)],
        }),
        sections: vec![Section {
            answer: vec![evil()],
            closing: vec![evil()],
            body,
            ..Section::new(HOSTILE, HOSTILE)
        }],
        foot: evil(),
    }
}

#[test]
fn no_text_becomes_markup() {
    let page = html::render(&hostile_document()).unwrap();
    assert!(!page.contains("<evil"), "an element");
    assert!(!page.contains("x\"'>"), "the end of an attribute");
    assert!(!page.contains("</style><!--") && page.matches("</style>").count() == 1);
    assert_eq!(page.matches("<script").count(), page.matches("</script>").count());
    // a surface, two bodies, a painted one, points, a map, and the program
    assert_eq!(page.matches("<script").count(), 7);
    assert!(page.matches("evil").count() > 100, "the words are there as words");
    let file = charts::file(&hostile_plot());
    assert!(!file.contains("<evil") && !file.contains("x\"'>") && file.contains("evil"));
}

#[test]
fn no_text_steers_a_terminal() {
    let shown = plain::render(&hostile_document());
    assert!(shown.contains("evil"));
    assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
    assert_eq!(plain::answer(&Section { answer: vec!["a\nb\u{7}".into()], ..Section::default() }), "a b\n");
}

#[test]
fn what_is_empty_is_not_there() {
    let mut page = Document::new("Empty");
    let body = page.begin("void-part", "Void part");
    body.paragraph("");
    body.heading("");
    body.table(Table::new("no rows", vec![text("a")]));
    body.remarks(&[]);
    body.figures([]);
    body.folded("nothing inside", Body::default());
    assert!(body.is_empty());
    page.begin("something", "Something").paragraph("words");
    // a body that cannot be drawn leaves no section either
    page.begin("undrawn-part", "Undrawn part").view(View::Deforming(Deforming::default()));
    let shown = html::render(&page).unwrap();
    assert!(!shown.contains("void-part") && !shown.contains("undrawn-part"));
    assert_eq!(shown.matches("<section").count(), 1);
    assert!(!shown.contains("class=\"answer\"") && !shown.contains("class=\"foot\""), "no front, no foot");
}

#[test]
fn everything_stands_in_the_order_in_which_it_was_written() {
    let mut page = Document::new("Order");
    let body = page.begin("first", "First section");
    body.paragraph("alpha");
    let mut table = Table::new("beta", vec![text("column")]);
    table.row(vec![cell("gamma")]);
    body.table(table);
    let mut inside = Body::default();
    inside.note("epsilon");
    body.folded("delta", inside);
    body.remarks(&["zeta".to_owned()]);
    page.begin("second", "Second section").code("eta");
    page.sections[1].answer = vec!["theta".to_owned()];
    let names = ["alpha", "beta", "gamma", "delta", "epsilon", "zeta", "Second section"];
    let shown = html::render(&page).unwrap();
    let main = shown.split_once("<main").unwrap().1;
    let text = plain::render(&page);
    for shown in [main, &text] {
        let places: Vec<usize> =
            names.iter().map(|n| shown.find(n).unwrap_or_else(|| panic!("no {n}"))).collect();
        assert!(places.windows(2).all(|w| w[0] < w[1]), "{places:?} in {shown}");
    }
    let links: Vec<&str> = shown.split("href=\"#").skip(2).filter_map(|t| t.split('"').next()).collect();
    assert_eq!(links, ["first", "second"]);
    assert!(text.contains("Second section\n--------------\ntheta\n\n    eta\n"), "{text}");
    assert!(matches!(page.sections[0].body.blocks()[0], Block::Paragraph(_)));
}

#[test]
fn many_large_bodies_keep_a_page_light() {
    let vertices = 50_000;
    let mean: Vec<Point> = (0..vertices).map(|i| [f64::from(i % 500), f64::from(i / 500), 0.0]).collect();
    let triangles = Triangles::from([[0, 1, 2]]);
    let hints: Vec<String> = (1..=6).map(|k| format!("shown: {k}")).collect();
    let body = |id: String, course| Deforming {
        id,
        triangles: triangles.clone(),
        mean: mean.clone(),
        modes: modes(vertices as usize, 6),
        variances_mm2: vec![1.0; 6],
        total_variance_mm2: 6.0,
        hints: hints.clone(),
        course,
        ..Deforming::default()
    };
    let course = || Course { times_s: vec![0.0], coefficients_mm: vec![vec![0.0; 6]], ..Course::default() };
    let one = page_of([View::Deforming(body("alone".into(), None))]).unwrap();
    assert!(one.contains("shown: 6") && one.matches("<input type=\"range\"").count() == 6);
    let movements = (0..10).map(|i| View::Deforming(body(format!("m{i}"), Some(course()))));
    let page =
        page_of(std::iter::once(View::Deforming(body("sliders".into(), None))).chain(movements)).unwrap();
    // nine bodies share the room of forty: three modes and the mean each
    assert_eq!(page.matches("shown: 3").count(), 9);
    assert_eq!(page.matches("data-kind=\"movement\"").count(), 8, "browsers keep so many drawings alive");
    assert!(page.contains("data-body=\"m7\"") && !page.contains("data-body=\"m8\""), "the first are shown");
    assert!(page.len() < 16_500_000, "{} bytes", page.len());
    assert_eq!(page.matches("\"formkin-surface").count(), 10 + 9, "one surface for all");
}

#[test]
fn painted_bodies_and_points_have_their_own_room() {
    let vertices = 200_000;
    let large = |id: &str| {
        let mean = vec![[1.0; 3]; vertices];
        let morphs = vec![("more".to_owned(), mean.clone()), ("less".to_owned(), mean.clone())];
        View::Painted(Painted { mean, morphs, values: vec![1.0; vertices], ..painted(id) })
    };
    let page = page_of([large("a"), large("b"), View::Painted(painted("small"))]).unwrap();
    assert_eq!(page.matches("data-kind=\"painted\"").count(), 2);
    assert_eq!(page.matches("There is no room for it.").count(), 1);
    assert!(!page.contains("data-body=\"b\"") && page.contains("data-body=\"small\""));
    let many = page_of((0..10).map(|i| View::Points(points(&format!("d{i}"))))).unwrap();
    assert_eq!(many.matches("data-kind=\"points\"").count(), 8);
}

#[test]
fn bodies_on_the_same_triangles_share_them_and_others_do_not() {
    let other = Deforming { triangles: Triangles::from([[0, 1, 2]]), ..sliders("other") };
    let page = page_of([View::Deforming(sliders("a")), View::Painted(painted("b")), View::Deforming(other)])
        .unwrap();
    assert_eq!(page.matches("id=\"formkin-surface\"").count(), 1);
    assert_eq!(page.matches("data-surface=\"formkin-surface\"").count(), 2);
    assert_eq!(page.matches("data-surface=\"formkin-surface-2\"").count(), 1);
    assert!(page.contains("two modes") && page.contains("not stable"));
}

#[test]
fn parts_that_do_not_belong_together_are_refused_with_their_names() {
    let refused = |view| page_of([view]).unwrap_err().to_string();
    let mut short = sliders("short");
    short.modes[1].pop();
    assert!(refused(View::Deforming(short)).contains("`short`: mode 2 has 3 vertices, the mean 4"));
    let corner = Deforming { triangles: Triangles::from([[0, 1, 9]]), ..sliders("corner") };
    assert!(refused(View::Deforming(corner)).contains("vertex 9 of 4"));
    let mut late = movement("late");
    late.course.iter_mut().for_each(|c| c.times_s.push(1.0));
    assert!(refused(View::Deforming(late)).contains("3 times, 2 rows"));
    let mut strained = movement("strained");
    strained.course.iter_mut().for_each(|c| c.strain[0].1.push(0.0));
    assert!(refused(View::Deforming(strained)).contains("the strain of frame 1 has 5 values"));
    let pale = Painted { values: vec![0.0; 3], ..painted("pale") };
    assert!(refused(View::Painted(pale)).contains("3 values and 4 vertices"));
    let lost = PlayedPoints { positions_mm: vec![vec![None]], ..points("lost") };
    assert!(refused(View::Points(lost)).contains("`lost`: 1 rows of places for 2 times"));
    let tied = PlayedPoints { links: vec![[0, 5]], ..points("tied") };
    assert!(refused(View::Points(tied)).contains("points 0 and 5 of 2"));
    let map = PeopleMap {
        id: "map".into(),
        places: vec![[0.0; 2]],
        columns: vec![Colouring::Words { name: "sex".into(), values: Vec::new() }],
        ..PeopleMap::default()
    };
    assert!(refused(View::People(map)).contains("`sex` has 0 values for 1 people"));
}
