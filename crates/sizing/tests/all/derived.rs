//! Systems whose every figure is known beforehand.

use approx::assert_relative_eq;
use formkin_sizing::{
    Count, Method, Plan, SizeSystem, assignments_sheet, chart_sheet, coverage_sheet, curve_sheet,
    left_out_sheet,
};
use formkin_table::Table;

use super::{column, control, counted, crew, csv, plan, table, words};

/// Two heaps of ten, chest 900 and 1000 mm by stature 1600 and 1800 mm, every 2 mm about them, and one person far outside.
fn heaps() -> Table {
    let spread: Vec<f64> = (0..10).map(|i| 2.0 * f64::from(i) - 9.0).collect();
    let mut chest: Vec<f64> =
        spread.iter().map(|d| 900.0 + d).chain(spread.iter().map(|d| 1000.0 + d)).collect();
    let mut stature: Vec<f64> =
        spread.iter().map(|d| 1600.0 - d).chain(spread.iter().map(|d| 1800.0 - d)).collect();
    chest.push(1049.0);
    stature.push(1800.0);
    let mut people = table(vec![column("chest_girth", "mm", &chest), column("stature", "mm", &stature)]);
    people.numbers.push(column("hip_girth", "mm", &chest.iter().map(|c| c + 50.0).collect::<Vec<_>>()));
    people
}

fn of_heaps(method: Method) -> SizeSystem {
    let mut plan = plan(&[("chest_girth", 20.0), ("stature", 35.0)], 2);
    plan.method = method;
    plan.secondary = vec!["hip_girth_mm".to_owned()];
    plan.curve = Some([1, 3]);
    plan.protective = true;
    plan.derive(&heaps()).unwrap()
}

#[test]
fn two_heaps_and_one_outside() {
    let system = of_heaps(Method::KMedoids);
    let group = &system.groups[0];
    assert_eq!((system.people, system.size_count, group.group.as_str()), (21, 2, "all"));
    let names: Vec<&str> = group.sizes.iter().map(|s| s.name.as_str()).collect();
    assert_eq!(names, ["size-1", "size-2"]);
    assert!((group.sizes[0].centre["chest_girth"] - 900.0).abs() < 2.0);
    assert!((group.sizes[1].centre["chest_girth"] - 1000.0).abs() < 4.0);
    assert_eq!((group.sizes[0].n, group.sizes[1].n), (10, 10));
    assert_relative_eq!(system.coverage_in_sample, 20.0 / 21.0, max_relative = 1e-12);
    let range = &group.sizes[0].ranges[0];
    assert_relative_eq!(range.high - range.low, 40.0);
    // Hip girth is chest girth + 50 for everyone.
    let hip = &group.sizes[0].secondary[0];
    assert_eq!((hip.dimension.as_str(), hip.n), ("hip_girth", 10));
    assert_relative_eq!(hip.mean.unwrap(), 950.0, max_relative = 1e-12);
    assert_relative_eq!(hip.sd.unwrap(), (330.0_f64 * 4.0 / 4.0 / 9.0).sqrt(), max_relative = 1e-9);
    // The fit model is one of the two in the middle.
    assert!(["p00004", "p00005"].contains(&group.sizes[0].fit_model.as_deref().unwrap()));
    let deviation = &group.sizes[0].fit_deviations[0];
    assert_relative_eq!(deviation.deviation.abs(), 1.0, max_relative = 1e-9);

    let outside = group.assignments.last().unwrap();
    assert_eq!(
        (outside.id.as_str(), outside.size.as_deref(), outside.nearest.as_str()),
        ("p00020", None, "size-2")
    );
    assert_eq!(outside.misses.len(), 1);
    let by = 1049.0 - (group.sizes[1].centre["chest_girth"] + 20.0);
    assert_relative_eq!(outside.misses[0].by, by, max_relative = 1e-12);
    assert_relative_eq!(outside.loss, 1.0 + by / 20.0, max_relative = 1e-12);
    assert!(!outside.borderline);
    assert_eq!(system.left_out.people, 1);
    let chest = &system.left_out.by_dimension[0];
    assert_eq!((chest.too_small, chest.too_large, chest.alone), (0, 1, 1));
    assert_relative_eq!(chest.largest_miss.unwrap(), by, max_relative = 1e-12);
    assert_eq!(system.left_out.by_dimension[1].largest_miss, None);
    assert!(system.cautions.iter().any(|c| c.contains("Wearer trials in working postures")));
    assert!(system.notes.iter().any(|n| n.contains("only 21 people")));
}

#[test]
fn the_curve_starts_low_and_passes_through_the_plan() {
    for method in [Method::KMeans, Method::KMedoids, Method::GreatestCoverage] {
        let system = of_heaps(method);
        let counts: Vec<usize> = system.curve.iter().map(|p| p.sizes).collect();
        assert_eq!(counts, [1, 2, 3]);
        assert!(system.curve[0].coverage_in_sample < 0.55);
        assert_eq!(system.curve[1].coverage_in_sample, system.coverage_in_sample);
        assert_eq!(system.curve[1].coverage_held_out, system.coverage_held_out);
        // The one outside gets a size of their own, which nobody held out can have been in.
        assert_relative_eq!(system.curve[2].coverage_in_sample, 1.0, max_relative = 1e-12);
        assert!(system.curve[2].coverage_held_out < 1.0);
    }
}

#[test]
fn the_tables_say_the_same() {
    let system = of_heaps(Method::KMedoids);
    let chart = csv(&chart_sheet(&system));
    let header = chart.lines().next().unwrap();
    assert_eq!(
        header,
        "size,group,people,share,chest_girth_low_mm,chest_girth_centre_mm,chest_girth_high_mm,stature_low_mm,stature_centre_mm,\
         stature_high_mm,hip_girth_mean_mm,hip_girth_sd_mm,hip_girth_p5_mm,hip_girth_p50_mm,hip_girth_p95_mm,hip_girth_n,fit_model,flags,only,overlap,comes_back,designation"
    );
    assert_eq!(chart.lines().count(), 3);
    assert!(chart.lines().nth(1).unwrap().starts_with("size-1,all,10,0.4762,"));
    let people = csv(&assignments_sheet(&system));
    assert_eq!(people.lines().count(), 22);
    assert!(people.lines().last().unwrap().starts_with("p00020,all,none,size-2,false,"));
    assert_eq!(csv(&coverage_sheet(&system)).lines().count(), 2);
    assert_eq!(csv(&curve_sheet(&system)).lines().count(), 4);
    assert!(csv(&left_out_sheet(&system)).contains("dimension,chest_girth,,21,1,,0,1,1,"));
}

#[test]
fn groups_have_sizes_of_their_own() {
    let mut people = heaps();
    let sex: Vec<&str> = (0..21).map(|i| if i < 10 { "woman" } else { "man" }).collect();
    people.texts.push(words("sex", &sex));
    people.numbers.push(column("age", "years", &(0..21).map(|i| 18.0 + f64::from(i)).collect::<Vec<_>>()));
    let mut plan = plan(&[("chest_girth", 20.0), ("stature", 35.0)], 1);
    plan.by = Some("sex".to_owned());
    plan.sizes.count = Count::PerGroup([("man".to_owned(), 2), ("woman".to_owned(), 1)].into());
    plan.sizes.min_people = 2;
    plan.method = Method::GreatestCoverage;
    let system = plan.derive(&people).unwrap();
    let names: Vec<&str> = system.groups.iter().flat_map(|g| &g.sizes).map(|s| s.name.as_str()).collect();
    assert_eq!(names, ["man-1", "man-2", "woman-1"]);
    assert_eq!(system.groups[0].sizes[1].flags, ["few-people"]);
    assert_relative_eq!(system.coverage_in_sample, 1.0);
    assert_eq!(system.groups[1].assignments[0].id, "p00000");
    let classes: Vec<(&str, &str, usize)> =
        system.left_out.by_column.iter().map(|c| (c.column.as_str(), c.value.as_str(), c.people)).collect();
    assert_eq!(
        classes,
        [
            ("sex", "man", 11),
            ("sex", "woman", 10),
            ("age", "under 20", 2),
            ("age", "20-29", 10),
            ("age", "30-39", 9)
        ]
    );
    assert!(csv(&coverage_sheet(&system)).lines().last().unwrap().starts_with("all groups,21,21,3,"));
}

#[test]
fn borderline_is_within_five_millimetres_of_a_limit() {
    // One size at 1000 +- 40 from people even about it.
    let chest = [1000.0, 1000.0, 1000.0, 1000.0, 964.0, 1036.0, 967.0, 1033.0, 956.0, 1044.0, 950.0, 1050.0];
    let people = table(vec![column("chest_girth", "mm", &chest)]);
    let mut plan = plan(&[("chest_girth", 40.0)], 1);
    plan.folds = 3;
    let system = plan.derive(&people).unwrap();
    let told: Vec<(bool, bool)> =
        system.groups[0].assignments.iter().map(|a| (a.size.is_some(), a.borderline)).collect();
    let (inside, near, just_out, out) = ((true, false), (true, true), (false, true), (false, false));
    assert_eq!(
        told,
        [inside, inside, inside, inside, near, near, inside, inside, just_out, just_out, out, out]
    );
    // The same in centimetres, with the plan in millimetres.
    let in_cm = table(vec![column("chest_girth", "cm", &chest.map(|c| c / 10.0))]);
    plan.control[0].unit = Some("mm".to_owned());
    let same = plan.derive(&in_cm).unwrap();
    assert_relative_eq!(same.controls[0].below, 4.0);
    let told_cm: Vec<(bool, bool)> =
        same.groups[0].assignments.iter().map(|a| (a.size.is_some(), a.borderline)).collect();
    assert_eq!(told_cm, told);
    assert_relative_eq!(
        same.groups[0].aggregate_loss_mm.unwrap(),
        system.groups[0].aggregate_loss_mm.unwrap(),
        max_relative = 1e-9
    );
}

#[test]
fn uneven_tolerances_and_steps() {
    let people = crew(300, 5);
    let mut plan = plan(&[("chest_girth", 40.0), ("stature", 40.0)], 6);
    plan.control[0].tolerance.above = 20.0;
    plan.control[0].step = Some(10.0);
    plan.control[1].step = Some(5.0);
    for method in [Method::KMeans, Method::KMedoids, Method::GreatestCoverage] {
        plan.method = method;
        let system = plan.derive(&people).unwrap();
        for size in &system.groups[0].sizes {
            assert_eq!(size.centre["chest_girth"] % 10.0, 0.0);
            assert_eq!(size.centre["stature"] % 5.0, 0.0);
            assert_relative_eq!(size.ranges[0].high - size.ranges[0].centre, 20.0);
            assert_relative_eq!(size.ranges[0].centre - size.ranges[0].low, 40.0);
        }
        let worn: usize = system.groups[0].sizes.iter().map(|s| s.n).sum();
        assert_relative_eq!(worn as f64 / 300.0, system.coverage_in_sample, max_relative = 1e-12);
        assert!(system.coverage_in_sample > 0.5 && system.coverage_held_out > 0.4);
    }
}

#[test]
fn coverage_is_what_anyone_would_count() {
    let people = crew(400, 9);
    for method in [Method::KMeans, Method::KMedoids, Method::GreatestCoverage] {
        let mut plan = plan(&[("chest_girth", 40.0), ("stature", 40.0)], 8);
        plan.method = method;
        plan.repeats = 1;
        let system = plan.derive(&people).unwrap();
        let centres: Vec<(f64, f64)> =
            system.groups[0].sizes.iter().map(|s| (s.centre["chest_girth"], s.centre["stature"])).collect();
        assert_relative_eq!(
            counted(&people, &centres, 40.0),
            system.coverage_in_sample,
            max_relative = 1e-12
        );
        let held: f64 = system.groups[0].assignments.iter().map(|a| a.covered_held_out).sum::<f64>() / 400.0;
        assert_relative_eq!(held, system.coverage_held_out, max_relative = 1e-12);
        let (low, high) = system.held_out_interval;
        assert!(low < system.coverage_held_out && system.coverage_held_out < high);
    }
}

#[test]
fn weights_count_people() {
    let mut people = heaps();
    people.numbers.push(column("weight_of_row", "", &[1.0; 21]));
    people.numbers[3].unit = None;
    people.numbers[3].values[20] = Some(20.0);
    let mut plan = plan(&[("chest_girth", 20.0), ("stature", 35.0)], 2);
    plan.weights = Some("weight_of_row".to_owned());
    plan.method = Method::KMedoids;
    let system = plan.derive(&people).unwrap();
    // The one who stands for twenty is not left out now.
    assert!(system.groups[0].assignments[20].size.is_some());
    assert_relative_eq!(system.effective_people, 1600.0 / 420.0, max_relative = 1e-12);
    assert_relative_eq!(system.design_effect, 21.0 * 420.0 / 1600.0, max_relative = 1e-12);
    people.numbers[3].values[3] = Some(0.0);
    assert!(plan.derive(&people).is_err());
}

#[test]
fn stature_does_not_dominate() {
    // Chest girth decides fit (tolerance 20), stature hardly (tolerance 400): sizes must differ in chest girth.
    let people = crew(300, 3);
    let system = plan(&[("chest_girth", 20.0), ("stature", 400.0)], 6).derive(&people).unwrap();
    let chest: Vec<f64> = system.groups[0].sizes.iter().map(|s| s.centre["chest_girth"]).collect();
    assert!(chest.windows(2).all(|w| w[1] - w[0] > 20.0), "{chest:?}");
}

#[test]
fn a_plan_survives_toml() {
    let text = "method = \"greatest-coverage\"\nby = \"sex\"\nsecondary = [\"hip_girth\"]\nprotective = true\ncurve = [3, 12]\n\
                [sizes]\ncount = { man = 8, woman = 6 }\n[[control]]\ndimension = \"chest_girth\"\n\
                tolerance = { below = 40, above = 30.5 }\nstep = 10\nunit = \"mm\"\n";
    let plan = Plan::from_toml(text).unwrap();
    assert_eq!((plan.folds, plan.repeats, plan.seed, plan.borderline_mm), (10, 5, 1, 5.0));
    assert_eq!(plan.method, Method::GreatestCoverage);
    assert_eq!(plan.control[0].tolerance.below, 40.0);
    assert_eq!(Plan::from_toml(&plan.to_toml().unwrap()).unwrap(), plan);
    assert_eq!(control("chest_girth", 1.0).step, None);
}

#[test]
fn the_demo_s_plan_is_a_plan() {
    let plan = Plan::from_toml(include_str!("../../../../datasets-demo/size-plan.toml")).unwrap();
    assert!(plan.protective && plan.control.len() == 2);
}
