use super::*;

fn table(name: &str, header: &str, values: &[f64]) -> Table {
    let rows: String = values.iter().enumerate().map(|(i, v)| format!("P{i:03},{v}\n")).collect();
    Table::parse_csv(&format!("id,{header}\n{rows}"), name, None).unwrap()
}

/// Alternating errors of mean `bias` and SD `sd` (divisor n - 1) for an even number of people.
fn errors(n: usize, bias: f64, sd: f64) -> Vec<f64> {
    let half = sd * ((n as f64 - 1.0) / n as f64).sqrt();
    (0..n).map(|i| bias + if i % 2 == 0 { half } else { -half }).collect()
}

fn verdict(n: usize, bias: f64, sd: f64, kind: LimitType) -> Agreement {
    let hand: Vec<f64> = (0..n).map(|i| 900.0 + (i / 2) as f64).collect();
    let scan: Vec<f64> = hand.iter().zip(errors(n, bias, sd)).map(|(h, e)| h + e).collect();
    let params = CompareParams { types: BTreeMap::from([("x".to_owned(), kind)]), ..Default::default() };
    let made = compare(&table("s", "x_mm", &scan), &table("h", "x_mm", &hand), &params).unwrap();
    made.dimensions[0].clone()
}

#[test]
fn peak_flow_of_bland_and_altman() {
    // Bland & Altman 1986 (Lancet i: 307), peak flow of 17 people by two meters, from memory; the paper prints a mean difference of -2.1, SD 38.8,
    // limits -79.7 and 75.5 (l/min; any unit serves)
    let large = [
        494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423., 427.,
    ];
    let mini = [
        512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350., 451.,
    ];
    let made = compare(
        &table("s", "flow_length_mm", &large),
        &table("h", "flow_length_mm", &mini),
        &CompareParams::default(),
    )
    .unwrap();
    let a = &made.dimensions[0];
    assert!((a.mean_error_mm - -2.1).abs() < 0.05 && (a.sd_error_mm - 38.8).abs() < 0.05);
    // the paper takes 2 SD; 1.96 SD is 76.0
    assert!((a.mean_error_mm - 2.0 * a.sd_error_mm - -79.7).abs() < 0.1);
    assert!((a.limits_of_agreement_mm.1 - (a.mean_error_mm + 1.96 * 38.765)).abs() < 0.05);
    assert_eq!((a.n, a.verdict), (17, Verdict::TooFew));
}

#[test]
fn the_largest_spread_that_passes_without_bias_is_the_derived_one() {
    // n = 40, no bias: an SD below 12.9 passes at 4 mm, 16.1 at 5, 29.0 at 9 (limit sqrt(40) / 1.96)
    for (kind, passes, fails) in [
        (LimitType::Height, 12.90, 12.91),
        (LimitType::Depth, 16.13, 16.14),
        (LimitType::LargeGirth, 29.04, 29.05),
    ] {
        assert_eq!(verdict(40, 0.0, passes, kind).verdict, Verdict::Within, "{kind:?}");
        assert_eq!(verdict(40, 0.0, fails, kind).verdict, Verdict::NotWithin, "{kind:?}");
    }
    let passed = verdict(40, 0.0, 12.9, LimitType::Height);
    assert!(passed.notes.iter().any(|n| n.contains("both signs cancel")), "{:?}", passed.notes);
}

#[test]
fn few_people_have_no_verdict_and_a_bias_fails() {
    assert_eq!(verdict(38, 0.0, 1.0, LimitType::Height).verdict, Verdict::TooFew);
    assert_eq!(verdict(40, 4.1, 1.0, LimitType::Height).verdict, Verdict::NotWithin);
    // exactly on the limit is not inside it
    assert_eq!(verdict(40, 4.0, 0.0, LimitType::Height).verdict, Verdict::NotWithin);
    let a = verdict(40, 3.0, 1.0, LimitType::Height);
    assert_eq!(a.verdict, Verdict::Within);
    assert!((a.mean_absolute_error_mm - 3.0).abs() < 1e-9 && (a.mean_error_mm - 3.0).abs() < 1e-9);
    assert!(a.t_interval_mm.1 > a.interval_mm.1);
    // d = 3 -+ 0.987: mean square 9.975
    assert!((a.tem_mm - (9.975f64 / 2.0).sqrt()).abs() < 1e-9);
}

#[test]
fn units_are_converted_and_people_are_matched_by_name() {
    let scan =
        Table::parse_csv("id,chest_girth_mm,age_years\nB,1010,30\nA,905,31\nC,800,2\n", "s", None).unwrap();
    let hand =
        Table::parse_csv("id,chest_girth_cm,age_years,hat_mm\nA,90,31,1\nB,100,30,2\nD,70,1,3\n", "h", None)
            .unwrap();
    let made = compare(&scan, &hand, &CompareParams::default()).unwrap();
    assert_eq!(
        (made.people, made.only_scan, made.only_hand),
        (2, vec!["C".to_owned()], vec!["D".to_owned()])
    );
    assert_eq!(made.not_scanned, ["hat"]);
    assert_eq!(made.dimensions.len(), 1);
    let a = &made.dimensions[0];
    assert!((a.mean_error_mm - 7.5).abs() < 1e-9);
    assert_eq!((a.limit_type, a.type_from), (Some(LimitType::LargeGirth), Some(TypeSource::Name)));
    assert_eq!(a.pairs[0].id, "A");
}

#[test]
fn tables_that_do_not_fit_are_refused() {
    let scan = table("s", "x_mm", &[1.0, 2.0]);
    let other = Table::parse_csv("id,x_mm\nQ1,1\nQ2,2\n", "h", None).unwrap();
    assert!(
        compare(&scan, &other, &CompareParams::default())
            .unwrap_err()
            .to_string()
            .contains("share no person")
    );
    let other = table("h", "y_mm", &[1.0, 2.0]);
    assert!(
        compare(&scan, &other, &CompareParams::default())
            .unwrap_err()
            .to_string()
            .contains("share no dimension")
    );
    let params = CompareParams { only: vec!["x".to_owned()], ..Default::default() };
    assert!(compare(&scan, &other, &params).is_err());
}

#[test]
fn a_type_for_a_dimension_that_is_not_there_is_refused_with_near_names() {
    let (scan, hand) =
        (table("s", "neck_girth_mm", &[380.0, 400.0]), table("h", "neck_girth_mm", &[381.0, 399.0]));
    let typed = |name: &str| CompareParams {
        types: [(name.to_owned(), LimitType::SmallGirth)].into(),
        ..CompareParams::default()
    };
    let said = compare(&scan, &hand, &typed("nek_girth")).unwrap_err().to_string();
    assert!(said.contains("nek_girth") && said.contains("did you mean `neck_girth`"), "{said}");
    for name in ["neck_girth", "neck_girth_mm"] {
        let made = compare(&scan, &hand, &typed(name)).unwrap();
        assert_eq!(made.dimensions[0].type_from, Some(TypeSource::Given), "{name}");
    }
}

#[test]
fn several_items_of_one_person_are_refused() {
    let items = |v: [f64; 3]| {
        let text = format!("item,participant,y_mm\na,P1,{}\nb,P1,{}\nc,P2,{}\n", v[0], v[1], v[2]);
        Table::parse_csv(&text, "t", None).unwrap()
    };
    let said = compare(&items([1.0, 2.0, 3.0]), &items([2.0, 2.0, 4.0]), &CompareParams::default());
    assert!(said.unwrap_err().to_string().contains("`P1` has several rows"));
}
