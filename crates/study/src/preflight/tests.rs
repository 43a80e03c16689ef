use std::path::Path;

use super::{Problem, check};

const SMALL: &str = "title = 'A'\n[input]\nmeshes = ['scans/*.ply']\n";

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let scans = folder.path().join("scans");
    std::fs::create_dir(&scans).unwrap();
    for name in ["C001.ply", "C002.ply", "C003.ply"] {
        std::fs::write(scans.join(name), "").unwrap();
    }
    std::fs::write(
        folder.path().join("people.csv"),
        "participant,sex,age_years\nC001,female,30\nC002,male,40\nC003,female,50\n",
    )
    .unwrap();
    folder
}

fn problems(text: &str, folder: &Path) -> Vec<Problem> {
    check(text, folder).err().unwrap_or_default()
}

fn told(text: &str) -> Vec<Problem> {
    problems(text, folder().path())
}

#[test]
fn defaults_are_values() {
    let s = check(SMALL, folder().path()).unwrap();
    assert_eq!((s.align.removes.as_str(), s.align.weights.as_str()), ("rigid", "area"));
    assert_eq!((s.space.folds, s.input.unit.as_str()), (10, "auto"));
    assert!(check(&format!("\u{feff}{}", SMALL.replace('\n', "\r\n")), folder().path()).is_ok());
}

#[test]
fn misspelt_keys_are_named_all_of_them_with_near_ones() {
    let text = format!(
        "titel = 'x'\n{SMALL}participant = 'p.csv'\n[space]\nfold = 3\nmodes = 'many'\n[motion]\nmods = 2\ntissue = {{ frame = 'a', regins = ['b'] }}\n"
    );
    let found = told(&text);
    for (key, words) in [
        ("titel", "`title`"),
        ("input.participant", "`participants`"),
        ("space.fold", "`folds`"),
        ("space.modes", "whole number"),
        ("motion.mods", "`modes`"),
        ("motion.tissue.regins", "`regions`"),
    ] {
        assert!(found.iter().any(|p| p.key == key && p.to_string().contains(words)), "{key}: {found:#?}");
    }
}

#[test]
fn values_say_what_is_allowed_and_nothing_of_the_reader() {
    for (section, key) in [
        ("[space]\nmodes = -1", "space.modes"),
        ("[space]\nseed = -3", "space.seed"),
        ("[shape]\nsample = 1.5", "shape.sample"),
        ("[motion]\ncutoff = 'often'", "motion.cutoff"),
        ("[motion]\nlandmarks = 'yes'", "motion.landmarks"),
        ("[motion]\nmodes = -2", "motion.modes"),
        ("[shape]\ncompare = 'sex'", "shape.compare"),
    ] {
        let found = told(&format!("{SMALL}{section}\n"));
        assert!(found.iter().any(|p| p.key == key), "{section}: {found:#?}");
        let words = found.iter().map(ToString::to_string).collect::<String>();
        for inner in ["i128", "usize", "u64", "untagged", "variant", "expected"] {
            assert!(!words.contains(inner), "{words}");
        }
        assert!(words.contains("must be"), "{words}");
    }
    let huge = told(&format!("{SMALL}[space]\nmodes = 99999999999999999999\n"));
    assert!(huge.iter().any(|p| !p.to_string().contains("i128")), "{huge:#?}");
}

#[test]
fn ranges_are_told_together() {
    let text = format!(
        "{SMALL}fps = -1\nunit = 'inch'\n[align]\nremoves = 'all'\nweights = 'knee'\n[space]\nfolds = 1\ntarget_mm = -1\nnulls = 5\ndraws = 3\nitems = 'some'\n[shape]\nmodes = 0\npermutations = 0\nlevel = 2\nsample = 2000000\nmap = 'difusion'\nsymmetry = true\n[motion]\nmodes = 0\ncutoff = -1\nshared = {{ modes = 0 }}\ndynamics = {{ delays = 0 }}\nstrain = {{ smoothing_mm = nan }}\n"
    );
    let found = told(&text);
    for key in [
        "input.fps",
        "input.unit",
        "align.removes",
        "align.weights",
        "space.folds",
        "space.target_mm",
        "space.nulls",
        "space.draws",
        "space.items",
        "shape.modes",
        "shape.permutations",
        "shape.level",
        "shape.sample",
        "shape.map",
        "shape.symmetry",
        "motion.modes",
        "motion.cutoff",
        "motion.shared.modes",
        "motion.dynamics.delays",
        "motion.strain.smoothing_mm",
    ] {
        assert!(found.iter().any(|p| p.key == key), "{key}: {found:#?}");
    }
    assert!(found.iter().all(|p| !p.advice.is_empty()), "{found:#?}");
    assert!(found.iter().any(|p| p.key == "shape.map" && p.advice.contains("`diffusion`")), "{found:#?}");
}

#[test]
fn settings_of_movements_and_points_that_cannot_be_are_named() {
    for (line, key) in [
        ("removes = 'turns'", "removes"),
        ("cutoff = nan", "cutoff"),
        ("cycles = { hz = 0.0 }", "cycles.hz"),
        ("cycles = { at_s = [1.0] }", "cycles.at_s"),
        ("cycles = { at_s = [1.0, 0.5] }", "cycles.at_s"),
        ("cycles = { from = 'mode-9' }", "cycles.from"),
        ("cycles = { from = 'frame' }", "cycles.from"),
        ("cycles = { events = 'none.csv' }", "cycles.events"),
        ("tissue = { frame = 'a', regions = ['b'], cutoff_hz = -1.0 }", "tissue.cutoff_hz"),
        ("strain = { smoothing_mm = -25.0 }", "strain.smoothing_mm"),
        ("dynamics = { rank = 0 }", "dynamics.rank"),
        ("dynamics = { most = 0 }", "dynamics.most"),
        ("shared = { most_frames = 1 }", "shared.most_frames"),
        ("posture = {}", "posture"),
        ("landmarks = true", "landmarks"),
        ("compare = [{ reference = 'a', garment = 'a' }]", "compare"),
    ] {
        let found = told(&format!("{SMALL}[motion]\n{line}\n"));
        assert!(found.iter().any(|p| p.key == format!("motion.{key}")), "{line}: {found:#?}");
    }
    for (line, key) in [
        ("up = 'x'", "up"),
        ("frame = ['a', 'b']", "frame"),
        ("cutoff = 0.0", "cutoff"),
        ("tissue_cutoff_hz = inf", "tissue_cutoff_hz"),
        ("cycles = { hz = -2.0 }", "cycles.hz"),
        ("reference_frame = -1", "reference_frame"),
    ] {
        let found = told(&format!("{SMALL}[points]\nfiles = ['p.trc']\n[points.settings]\n{line}\n"));
        assert!(found.iter().any(|p| p.key == format!("points.settings.{key}")), "{line}: {found:#?}");
    }
}

#[test]
fn names_of_points_are_looked_up_in_their_files() {
    let folder = folder();
    let file = "time_s,heel_x_mm,heel_y_mm,heel_z_mm,toe_x_mm,toe_y_mm,toe_z_mm\n0,1,2,3,4,5,6\n0.02,1,2,3,4,5,6\n0.04,1,2,3,4,5,7\n";
    std::fs::write(folder.path().join("A_walk.csv"), file).unwrap();
    std::fs::write(folder.path().join("B_walk.csv"), file).unwrap();
    let text = format!(
        "{SMALL}[points]\nfiles = ['A_walk.csv', 'B_walk.csv']\ncompare = [{{ reference = 'A_walk', garment = 'B_walk' }}, {{ reference = 'A_walk', garment = 'A_run' }}]\n[points.settings]\ntissue = ['heal']\ndistances = [['heel', 'tow']]\nfollow = ['heel_x', 'heel_up']\nreference_frame = 3\ncycles = {{ from = 'hip_z' }}\n"
    );
    let found = problems(&text, folder.path());
    for (key, words) in [
        ("points.compare", "is of A and `B_walk` of B"),
        ("points.compare", "`A_run`"),
        ("points.settings.tissue", "`heel`"),
        ("points.settings.distances", "`toe`"),
        ("points.settings.follow", "`heel_up`"),
        ("points.settings.reference_frame", "0 to 2"),
        ("points.settings.cycles.from", "`hip_z`"),
    ] {
        assert!(
            found.iter().any(|p| p.key == key && p.to_string().contains(words)),
            "{key} {words}: {found:#?}"
        );
    }
}

#[test]
fn columns_and_groups_are_looked_up_in_the_table_of_people() {
    let folder = folder();
    std::fs::write(
        folder.path().join("plan.toml"),
        "by = 'sex'\nsecondary = ['waist']\n[sizes.count]\nfemal = 2\n[[control]]\ndimension = 'statur'\ntolerance = { below = 50, above = 50 }\n",
    )
    .unwrap();
    std::fs::write(
        folder.path().join("dimensions.toml"),
        "[[dimension]]\nname = 'stature'\nkind = 'height'\nat = { furthest = 'up' }\n",
    )
    .unwrap();
    let text = format!(
        "{SMALL}participants = 'people.csv'\n[dimensions]\ndefinitions = 'dimensions.toml'\nby = 'sexx'\n[predict]\nfrom = ['stature', 'waist']\n[shape]\ncompare = ['sex', 'station']\nregress = ['sex', 'age_years', 'age', 'stature_mm']\nsample_by = 'gender'\ncolours = ['stature']\ncomplete = ['hand_left']\n[motion]\ncaptures = ['walk']\ndimensions = ['hip']\ncycles = {{ from = 'mode-99' }}\n[sizing]\nplan = 'plan.toml'\nchart = 'none.csv'\nassign = 'people.csv'\nallowances = 'none.csv'\n"
    );
    let found = problems(&text, folder.path());
    for (key, words) in [
        ("dimensions.by", "`sex`"),
        ("predict.from", "`waist`"),
        ("shape.compare", "`station`"),
        ("shape.regress", "holds words"),
        ("shape.sample_by", "`gender`"),
        ("shape.complete", "`hand_left`"),
        ("motion.captures", "`walk`"),
        ("motion.dimensions", "`hip`"),
        ("motion.cycles.from", "mode-99"),
        ("sizing.plan", "did you mean `stature`"),
        ("sizing.plan", "`waist`"),
        ("sizing.plan", "did you mean `female`"),
        ("sizing.plan", "`male`"),
        ("sizing.chart", "none.csv"),
        ("sizing.assign", "`statur`"),
        ("sizing.allowances", "none.csv"),
    ] {
        assert!(
            found.iter().any(|p| p.key == key && p.to_string().contains(words)),
            "{key} {words}: {found:#?}"
        );
    }
    assert!(!found.iter().any(|p| p.key == "shape.colours"), "{found:#?}");
    assert!(
        !found.iter().any(|p| p.wrong.contains("`age`") || p.wrong.contains("`age_years`")),
        "{found:#?}"
    );
}

#[test]
fn lists_are_no_tables_and_frequencies_fit_the_record() {
    let found = told(&format!("align = []\n{SMALL}[motion]\ncycles = []\nshared = []\n"));
    for key in ["align", "motion.cycles", "motion.shared"] {
        assert!(found.iter().any(|p| p.key == key && p.wrong == "it is a list"), "{key}: {found:#?}");
    }
    assert!(told(&SMALL.replace("'A'", "' '")).iter().any(|p| p.key == "title"));
    let folder = folder();
    let rows: String = (0..50).map(|i| format!("{},1,2,{i}\n", f64::from(i) / 50.0)).collect();
    std::fs::write(folder.path().join("A_walk.csv"), format!("time_s,heel_x_mm,heel_y_mm,heel_z_mm\n{rows}"))
        .unwrap();
    for (line, key) in [
        ("cutoff = 1e308", "cutoff"),
        ("cutoff = 25.0", "cutoff"),
        ("tissue_cutoff_hz = 30.0", "tissue_cutoff_hz"),
        ("cycles = { from = 'heel_z', hz = 40.0 }", "cycles.hz"),
        ("cutoff = 12.0", ""),
    ] {
        let text = format!("{SMALL}[points]\nfiles = ['A_walk.csv']\n[points.settings]\n{line}\n");
        let found = problems(&text, folder.path());
        let key = format!("points.settings.{key}");
        if line.ends_with("12.0") {
            assert!(found.is_empty(), "{found:#?}");
        } else {
            let hit = found.iter().find(|p| p.key == key).unwrap();
            assert!(hit.advice.contains("below 25.0000 Hz") && hit.wrong.len() < 30, "{hit}");
        }
    }
}

#[test]
fn groups_of_a_chart_are_looked_for() {
    let folder = folder();
    let chart = "size,group,age_low_years,age_high_years\ns,f,20,40\nm,m,30,60\n";
    std::fs::write(folder.path().join("chart.csv"), chart).unwrap();
    let text =
        format!("{SMALL}participants = 'people.csv'\n[sizing]\ntable = 'people.csv'\nchart = 'chart.csv'\n");
    let found = problems(&text, folder.path());
    assert!(found.iter().any(|p| p.key == "sizing.chart" && p.wrong.contains("f, m")), "{found:#?}");
    std::fs::write(
        folder.path().join("chart.csv"),
        chart.replace(",f,", ",female,").replace(",m,", ",male,"),
    )
    .unwrap();
    let found = problems(&text, folder.path());
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn sections_that_need_each_other_say_so() {
    for (section, words) in [
        ("[sizing]\nplan = 'p.toml'", "[dimensions]"),
        ("[sizing]\ntable = 'people.csv'", "`plan`"),
        ("[motion]\ndimensions = ['chest_girth']", "[dimensions]"),
        ("[predict]\nfrom = ['stature']", "[dimensions]"),
        ("[motion]\ncompare = [{ reference = 'a', garment = 'b' }]", "cycles"),
        ("[points]\nfiles = []", "points.files"),
    ] {
        let found = told(&format!("{SMALL}{section}\n"));
        assert!(found.iter().any(|p| p.to_string().contains(words)), "{section}: {found:#?}");
    }
    let none = told("");
    assert!(none.iter().any(|p| p.key == "title") && none.iter().any(|p| p.key == "input"), "{none:#?}");
    let broken = told("title = \n");
    assert!(broken[0].wrong.starts_with("line 1"), "{broken:#?}");
}
