//! Every method, the honest statistics, and charts, against answers known beforehand.

use formkin_sizing::{
    Candidates, Chart, Count, Intervals, Limit, MarginPlan, Method, Objective, Plan, Tolerance, Types,
    advice_sheet, chart_sheet,
};
use formkin_table::{NumberColumn, Table};

use super::{column, control, counted, crew, csv, plan, table, words};

fn two(count: usize, method: Method) -> Plan {
    let mut plan = plan(&[("chest_girth", 40.0), ("stature", 40.0)], count);
    plan.method = method;
    plan.repeats = 1;
    plan
}

const EVERY: [Method; 6] = [
    Method::KMeans,
    Method::KMedoids,
    Method::GreatestCoverage,
    Method::GaussianMixture,
    Method::LeastLoss,
    Method::Intervals,
];

#[test]
fn every_method_covers_what_anyone_would_count_and_nobody_passes_the_ceiling() {
    let people = crew(250, 9);
    let mut ceilings = Vec::new();
    for method in EVERY {
        let system = two(8, method).derive(&people).unwrap();
        let centres: Vec<(f64, f64)> =
            system.groups[0].sizes.iter().map(|s| (s.centre["chest_girth"], s.centre["stature"])).collect();
        let share = counted(&people, &centres, 40.0);
        assert!((share - system.coverage_in_sample).abs() < 0.005, "{method:?}");
        let ceiling = system.ceiling.unwrap();
        assert!(ceiling >= system.coverage_in_sample - 1e-9, "{method:?} {ceiling}");
        assert!(ceiling < 1.0);
        ceilings.push(ceiling);
        // What each size alone covers is what leaving it out costs.
        let first: Vec<(f64, f64)> = centres[1..].to_vec();
        let cost = share - counted(&people, &first, 40.0);
        assert!((system.groups[0].sizes[0].only - cost).abs() < 0.01, "{method:?}");
        let more = system.groups[0].one_more.as_ref().unwrap();
        let mut with = centres.clone();
        with.push((more.centre["chest_girth"], more.centre["stature"]));
        assert!((counted(&people, &with, 40.0) - share - more.gain).abs() < 0.01, "{method:?}");
    }
    // The ceiling is of the people and the number of sizes, whatever the method.
    assert!(ceilings.iter().all(|c| (c - ceilings[0]).abs() < 0.03), "{ceilings:?}");
}

#[test]
fn greatest_coverage_covers_most_and_says_how_near_it_is_to_the_best() {
    let people = crew(60, 2);
    let best = two(4, Method::GreatestCoverage).derive(&people).unwrap();
    let bound = best.groups[0].method_bound.unwrap();
    assert!(bound >= best.coverage_in_sample - 1e-9 && bound - best.coverage_in_sample < 0.05, "{bound}");
    for method in [Method::KMeans, Method::KMedoids, Method::LeastLoss] {
        assert!(two(4, method).derive(&people).unwrap().coverage_in_sample <= best.coverage_in_sample + 1e-9);
    }
}

#[test]
fn cells_of_a_grid_hold_what_a_direct_count_gives() {
    let people = crew(500, 4);
    let mut plan = two(200, Method::Intervals);
    plan.control[0].intervals = Some(Intervals::Steps { from: 800.0, to: 1200.0, step: 80.0 });
    plan.control[1].intervals = Some(Intervals::Bounds(vec![1560.0, 1680.0, 1740.0, 1900.0]));
    let system = plan.derive(&people).unwrap();
    let value = |c: usize, i: usize| people.numbers[c].values[i].unwrap();
    let within = |c: usize, i: usize, low: f64, high: f64| (low..high).contains(&value(c, i));
    for size in &system.groups[0].sizes {
        let [chest, stature] = &size.ranges[..] else { panic!("two ranges") };
        let direct = (0..500)
            .filter(|&i| within(0, i, chest.low, chest.high) && within(1, i, stature.low, stature.high))
            .count();
        assert_eq!(direct, size.n, "{}", size.name);
    }
    let inside = (0..500).filter(|&i| within(0, i, 800.0, 1200.0) && within(1, i, 1560.0, 1900.0)).count();
    assert_eq!(system.groups[0].sizes.iter().map(|s| s.n).sum::<usize>(), inside);
    assert!(system.groups[0].sizes[0].designation.starts_with("chest girth 80-88 cm, stature "));
    plan.control[0].intervals = Some(Intervals::Standard("EN 13402-3 men chest".to_owned()));
    assert!(plan.derive(&people).unwrap().notes.iter().any(|n| n.contains("check them against the edition")));
}

#[test]
fn one_dimension_is_exact() {
    let people = crew(150, 6);
    let mut plan = plan(&[("chest_girth", 25.0)], 5);
    plan.repeats = 1;
    plan.method = Method::DynamicProgramming;
    plan.objective = Objective::Coverage;
    let exact = plan.derive(&people).unwrap();
    for method in [Method::KMeans, Method::KMedoids, Method::GreatestCoverage] {
        plan.method = method;
        assert!(plan.derive(&people).unwrap().coverage_in_sample <= exact.coverage_in_sample + 1e-9);
    }
    assert!(exact.ceiling.unwrap() >= exact.coverage_in_sample - 1e-9);
    // On whole mm a grid of steps of 1 mm has every size that matters: the search over it finds the optimum too, and proves it.
    let mut whole = people.clone();
    whole.numbers[0].values.iter_mut().for_each(|v| *v = v.map(f64::round));
    plan.method = Method::DynamicProgramming;
    let exact = plan.derive(&whole).unwrap();
    plan.method = Method::GreatestCoverage;
    plan.candidates = Candidates::Grid;
    plan.control[0].step = Some(1.0);
    plan.search_nodes = 2000;
    let grid = plan.derive(&whole).unwrap();
    assert!((grid.coverage_in_sample - exact.coverage_in_sample).abs() < 1e-9);
    assert!(grid.groups[0].method_bound.unwrap() >= exact.coverage_in_sample - 1e-9);
    // In two dimensions sizes anywhere cover no fewer than sizes at people, up to the grid.
    let mut anywhere = two(6, Method::GreatestCoverage);
    anywhere.repeats = 1;
    let at_people = anywhere.derive(&people).unwrap().coverage_in_sample;
    anywhere.candidates = Candidates::Grid;
    let found = anywhere.derive(&people).unwrap();
    assert!(
        found.coverage_in_sample > at_people - 0.02
            && found.coverage_in_sample <= found.ceiling.unwrap() + 1e-9
    );
    let wrong = two(3, Method::DynamicProgramming).derive(&people).unwrap_err();
    assert!(wrong.to_string().contains("one control dimension"), "{wrong}");
}

#[test]
fn nested_sizes_share_their_values() {
    let people = crew(300, 8);
    let mut plan = two(8, Method::Nested);
    assert!(plan.check().is_err());
    plan.control[1].types = Some(Types { count: 2, drop: false });
    let system = plan.derive(&people).unwrap();
    let mut lengths: Vec<f64> = system.groups[0].sizes.iter().map(|s| s.centre["stature"]).collect();
    lengths.sort_by(f64::total_cmp);
    lengths.dedup();
    assert_eq!(lengths.len(), 2, "{lengths:?}");
    assert!(system.size_count <= 8);
}

#[test]
fn shape_clusters_are_found_in_the_control_dimensions() {
    let mut people = crew(300, 8);
    let chest: Vec<f64> = people.numbers[0].values.iter().map(|v| v.unwrap()).collect();
    people.numbers.push(NumberColumn {
        name: "mode_1".to_owned(),
        unit: None,
        values: chest.iter().map(|c| Some(if *c > 1000.0 { 50.0 } else { -50.0 })).collect(),
    });
    let mut plan = two(2, Method::ShapeClusters);
    assert!(plan.check().is_err());
    plan.shape = vec!["mode_1".to_owned()];
    let system = plan.derive(&people).unwrap();
    assert_eq!(system.size_count, 2);
    assert!(system.groups[0].rules[1].starts_with("chest_girth at most "), "{:?}", system.groups[0].rules);
}

#[test]
fn rare_sizes_are_left_out_where_the_plan_enforces_it() {
    let people = crew(200, 3);
    let mut plan = two(12, Method::KMeans);
    plan.sizes.min_people = 12;
    plan.sizes.min_share = 0.0;
    assert!(plan.derive(&people).unwrap().groups[0].sizes.iter().any(|s| s.n < 12));
    plan.sizes.enforce = true;
    let system = plan.derive(&people).unwrap();
    assert!(system.groups[0].sizes.iter().all(|s| s.n >= 12));
    assert!(system.size_count < 12);
}

#[test]
fn trimming_leaves_the_far_aside() {
    let mut people = crew(100, 3);
    for i in 0..4 {
        people.numbers[0].values[i] = Some(3000.0 + i as f64);
    }
    let mut plan = two(3, Method::KMedoids);
    let far = |p: &Plan| {
        p.derive(&people).unwrap().groups[0].sizes.iter().any(|s| s.centre["chest_girth"] > 2000.0)
    };
    assert!(far(&plan));
    plan.trim = 0.05;
    assert!(!far(&plan));
}

#[test]
fn margins_are_met_and_the_price_is_told() {
    let mut people = crew(200, 3);
    let station: Vec<&str> = (0..200).map(|i| if i < 150 { "north" } else { "south" }).collect();
    people.texts.push(words("station", &station));
    let mut plan = two(5, Method::KMeans);
    let shares = |n: f64, s: f64| [("north".to_owned(), n), ("south".to_owned(), s)].into();
    plan.margin = vec![MarginPlan { column: "station".to_owned(), shares: shares(0.5, 0.5) }];
    let system = plan.derive(&people).unwrap();
    // Weights 2/3 and 2: n_eff = 200^2 / (150 x 4/9 + 50 x 4) = 150.
    assert!((system.effective_people - 150.0).abs() < 1e-6, "{}", system.effective_people);
    assert!((system.design_effect - 4.0 / 3.0).abs() < 1e-6);
    assert!(system.raking.unwrap().largest_gap < 1e-6);
    plan.margin[0].shares = [("south".to_owned(), 1.0)].into();
    assert!(plan.derive(&people).unwrap_err().to_string().contains("`north`"));
    // what rounding leaves is scaled away and told; more is refused
    plan.margin[0].shares = shares(0.499, 0.498);
    let system = plan.derive(&people).unwrap();
    assert!(system.notes.iter().any(|n| n.contains("`station` sum to 0.9970")), "{:?}", system.notes);
    for (n, s, words) in
        [(0.5, 0.6, "sum to 1.1"), (50.0, 50.0, "not in per cent"), (0.5, 0.49, "sum to 0.99")]
    {
        plan.margin[0].shares = shares(n, s);
        let said = plan.derive(&people).unwrap_err().to_string();
        assert!(said.contains("`station`") && said.contains(words), "{said}");
    }
    plan.margin[0].shares = shares(0.4, 0.4);
    plan.margin[0].shares.insert("west".to_owned(), 0.2);
    assert!(plan.derive(&people).unwrap_err().to_string().contains("nobody in `west`"));
}

#[test]
fn resamples_know_what_is_stable_and_do_not_depend_on_threads() {
    // Four heaps far apart: four sizes come back always.
    let mut chest = Vec::new();
    let mut stature = Vec::new();
    for i in 0..80_i32 {
        chest.push(f64::from(900 + 200 * (i % 2)) + f64::from(i % 7));
        stature.push(f64::from(1600 + 250 * (i / 2 % 2)) + f64::from(i % 5));
    }
    let heaps = table(vec![column("chest_girth", "mm", &chest), column("stature", "mm", &stature)]);
    let mut plan = two(4, Method::KMeans);
    plan.bootstrap = 60;
    let system = plan.derive(&heaps).unwrap();
    assert!(system.groups[0].sizes.iter().all(|s| s.stability.as_ref().unwrap().comes_back > 0.99));
    assert!(system.resampled.as_ref().unwrap().agreement > 0.99);
    let people = crew(120, 5);
    plan = two(7, Method::KMedoids);
    plan.bootstrap = 60;
    let loose = plan.derive(&people).unwrap();
    let resampled = loose.resampled.as_ref().unwrap();
    assert!(resampled.optimism > 0.0 && resampled.agreement < 0.99);
    assert!(resampled.coverage_interval.0 < loose.coverage_held_out);
    assert!(loose.coverage_held_out < resampled.coverage_interval.1);
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        assert_eq!(pool.install(|| plan.derive(&people).unwrap()), loose, "{threads} threads");
    }
}

#[test]
fn intervals_hold_the_coverage_of_others_as_often_as_they_say() {
    // The coverage of the sizes of 150 people, of 4,000 others, in 60 draws: both intervals at 95 % miss it now and then.
    let fresh = crew(4000, 77_000);
    let mut plan = two(6, Method::KMeans);
    plan.starts = 3;
    plan.folds = 5;
    plan.bootstrap = 80;
    let (mut wilson, mut resampled) = (0, 0);
    for draw in 0..60 {
        let system = plan.derive(&crew(150, 500 + draw)).unwrap();
        let centres: Vec<(f64, f64)> =
            system.groups[0].sizes.iter().map(|s| (s.centre["chest_girth"], s.centre["stature"])).collect();
        let truth = counted(&fresh, &centres, 40.0);
        let holds = |i: (f64, f64)| usize::from(i.0 <= truth && truth <= i.1);
        wilson += holds(system.held_out_interval);
        resampled += holds(system.resampled.unwrap().coverage_interval);
    }
    assert!(wilson >= 54, "{wilson} of 60");
    assert!(resampled >= 52, "{resampled} of 60");
}

#[test]
fn a_chart_is_tried_on_people_as_it_stands() {
    let people = crew(300, 12);
    let mut plan = two(6, Method::KMedoids);
    plan.control[0].step = Some(10.0);
    plan.control[1].step = Some(10.0);
    plan.secondary = vec!["stature".to_owned()];
    let system = plan.derive(&people).unwrap();
    let chart = Chart::of(&Table::parse_csv(&csv(&chart_sheet(&system)), "chart", None).unwrap()).unwrap();
    let tried = chart.evaluate(&people, None).unwrap();
    assert!((tried.coverage_held_out - system.coverage_in_sample).abs() < 1e-12);
    let names = |s: &formkin_sizing::SizeSystem| {
        s.groups[0].assignments.iter().map(|a| a.size.clone()).collect::<Vec<_>>()
    };
    assert_eq!(names(&tried), names(&system));
    // Another population, 40 mm larger in the chest: fewer fit, and the shift is seen.
    let mut larger = crew(300, 13);
    larger.numbers[0].values.iter_mut().for_each(|v| *v = v.map(|v| v + 60.0));
    let other = chart.evaluate(&larger, None).unwrap();
    assert!(other.coverage_held_out < tried.coverage_held_out - 0.05);
    assert!(other.groups[0].shift["chest_girth"] > tried.groups[0].shift["chest_girth"] + 5.0);
    // New people: the same sizes as assigned before, a second choice, and centimetres for millimetres.
    let advice = chart.assign(&people, None, 5.0).unwrap();
    let advised: Vec<Option<String>> = advice.iter().map(|a| a.size.clone()).collect();
    assert_eq!(advised, names(&system));
    assert!(advice.iter().all(|a| a.second.as_ref().unwrap().loss >= a.nearest.loss - 1e-9));
    let outside = advice.iter().find(|a| a.size.is_none()).unwrap();
    assert!(outside.nearest.feel.iter().any(|f| f.beyond));
    let mut lacking = people.clone();
    lacking.numbers[0].values[0] = None;
    let some = chart.assign(&lacking, None, 5.0).unwrap();
    assert_eq!(some[0].missing.as_deref(), Some("chest_girth_mm"));
    assert_eq!(csv(&advice_sheet(&some)).lines().count(), 301);
    let broken = Table::parse_csv("size,chest_girth_low_mm\na,900\n", "chart", None).unwrap();
    assert!(Chart::of(&broken).unwrap_err().to_string().contains("chest_girth_high"));
}

#[test]
fn movement_costs_coverage_or_sizes() {
    let people = crew(200, 21);
    let plan = two(6, Method::KMeans);
    let allowances =
        Table::parse_csv("dimension,grows_mm\nchest_girth,10\nwaist_girth,50\n", "allowances", None).unwrap();
    let moving = plan.with_allowances(&allowances).unwrap().derive(&people).unwrap();
    let movement = moving.movement.unwrap();
    assert!(movement.coverage_in_sample < moving.coverage_in_sample);
    assert!(movement.sizes_needed.is_none_or(|n| n >= 6));
    let of_motion = Table::parse_csv(
        "dimension,unit,people,increase_p95,increase_max,decrease_max\nchest_girth,mm,3,,45,2\n",
        "a",
        None,
    );
    let too_much = plan.with_allowances(&of_motion.unwrap()).unwrap_err();
    assert!(too_much.to_string().contains("less than the tolerance"), "{too_much}");
    let unknown = Table::parse_csv("dimension,grows_mm\nwaist_girth,50\n", "allowances", None).unwrap();
    assert!(plan.with_allowances(&unknown).unwrap_err().to_string().contains("chest_girth"));
}

#[test]
fn grading_rises_and_limits_and_bands_are_counted() {
    let mut people = crew(300, 30);
    let chest: Vec<f64> = people.numbers[0].values.iter().map(|v| v.unwrap()).collect();
    let waist: Vec<f64> =
        chest.iter().enumerate().map(|(i, c)| 0.8 * c + 20.0 * ((i * 7 % 11) as f64 - 5.0) / 5.0).collect();
    people.numbers.push(column("waist_girth", "mm", &waist));
    people.numbers.push(NumberColumn {
        name: "mass".to_owned(),
        unit: Some("kg".to_owned()),
        values: chest.iter().map(|c| Some(c / 13.0)).collect(),
    });
    let mut plan = Plan {
        method: Method::KMeans,
        repeats: 1,
        ..Plan::new(vec![control("chest_girth", 40.0)], Count::Each(5))
    };
    plan.secondary = vec!["waist_girth".to_owned()];
    plan.limit = vec![Limit {
        dimension: "waist_girth".to_owned(),
        tolerance: Tolerance { below: 30.0, above: 30.0 },
    }];
    plan.curve = Some([1, 8]);
    plan.compare = vec![Method::KMeans, Method::DynamicProgramming];
    let system = plan.derive(&people).unwrap();
    let rule = &system.groups[0].grading[0];
    assert!((rule.slopes[0] - 0.8).abs() < 0.03 && rule.r2 > 0.9 && rule.residual_sd < 20.0);
    assert!(rule.increments[1..].iter().all(|i| i.unwrap() > 0.0));
    assert!(system.coverage_all_dimensions.unwrap() < system.coverage_in_sample);
    assert!(system.left_out.by_column.iter().any(|c| c.column == "body_mass_index"));
    let knee = system.knee.unwrap();
    assert!((2..8).contains(&knee.sizes) && knee.enough <= 8);
    assert_eq!(system.compared.len(), 2);
    assert!(system.curve.iter().all(|p| p.ceiling.unwrap() >= p.coverage_in_sample - 1e-9));
    // 1.96^2 p (1 - p) / 0.03^2.
    let p = system.coverage_held_out.clamp(0.03, 0.97);
    assert_eq!(system.people_needed, (3.841_458_820_694_124 * p * (1.0 - p) / 0.0009).ceil() as usize);
}
