//! Values out of the usual under weights.
#![allow(clippy::unwrap_used)] // tests

use formkin_measure::population::PopulationParams;
use formkin_table::Table;

/// Who is named, and the median each is held against.
fn named(rows: &str, weight: Option<&str>) -> Vec<(String, f64)> {
    let table = Table::parse_csv(&format!("id,x_mm,w\n{rows}"), "t", None).unwrap();
    let params =
        PopulationParams { weight: weight.map(str::to_owned), resamples: 0, ..PopulationParams::default() };
    let found = params.take(&table).unwrap().out_of_range;
    found.into_iter().filter(|o| o.dimension == "x").map(|o| (o.id, o.median)).collect()
}

#[test]
fn out_of_the_usual_is_judged_by_weighted_medians() {
    // five near 10 and one of 30; then five at 28 to 32 that stand for many more
    let near = "a,9,1\nb,10,1\nc,11,1\nd,10.5,1\ne,9.5,1\nf,30,1\n";
    let many: String = (0..5).map(|i| format!("m{i},{},20\n", 28 + i)).collect();
    let alone = named(near, Some("w"));
    assert_eq!((alone.len(), alone[0].0.as_str()), (1, "f"));
    // of people counted alike nobody stands out; of those that the weights speak for, 30 is the middle and everyone near 10 does
    assert!(named(&format!("{near}{many}"), None).is_empty());
    let weighted = named(&format!("{near}{many}"), Some("w"));
    let mut who: Vec<&str> = weighted.iter().map(|(id, _)| id.as_str()).collect();
    who.sort_unstable();
    assert_eq!(who, ["a", "b", "c", "d", "e"]);
    assert!(weighted.iter().all(|(_, middle)| (middle - 30.0).abs() < 0.6), "{weighted:?}");
    // weights of one size change nothing, and nobody of weight 0 is judged
    assert_eq!(named(&near.replace(",1\n", ",7\n"), Some("w")), named(near, None));
    assert_eq!(named(&format!("{near}z,90,0\n"), Some("w")), alone);
}
