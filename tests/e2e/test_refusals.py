"""Requests that cannot be met: numbers without measure, settings that contradict each other, words that are none. They are refused at once, in words and as one object."""

import csv
import json

import pytest

import program

PEOPLE = ["participant,sex,chest_girth_mm,stature_mm"] + [
    f"P{i:02},{'fm'[i % 2]},{850 + 13 * (i * 7 % 20)},{1600 + 9 * (i * 11 % 20)}" for i in range(24)
]
PLAN = """
by = "sex"
folds = 3
repeats = 1
[sizes]
count = 2
[[control]]
dimension = "chest_girth"
tolerance = { below = %s, above = %s }
[[control]]
dimension = "stature"
tolerance = { below = 60, above = 40 }
"""


def table(path, rows):
    path.write_text("\n".join(rows) + "\n")
    return path


def plan(path, below=70, above=50):
    path.write_text(PLAN % (below, above))
    return path


def refused(*args):
    """Refused with one object that holds the words; the words."""
    done = program.run(*args, "--json", timeout=60)
    assert done.code == 2, f"formkin {' '.join(map(str, args))}\n{done}"
    assert "panicked" not in done.err and "internal fault" not in done.err, str(done)
    return done.json["error"]


def test_values_and_tolerances_beyond_all_measure(tmp_path):
    people = table(tmp_path / "people.csv", PEOPLE)
    program.ok("size", people, "--plan", plan(tmp_path / "plan.toml"))
    said = refused("size", people, "--plan", plan(tmp_path / "thin.toml", "1e-300", "1e-300"))
    assert "chest_girth" in said and "thin.toml" in said and "people.csv" in said
    broken = table(tmp_path / "broken.csv", [r.replace("P03,m,", "P03,m,9999999999999") if r.startswith("P03") else r for r in PEOPLE])
    said = refused("size", broken, "--plan", tmp_path / "plan.toml")
    assert "P03" in said and "broken.csv" in said


def test_a_movement_does_not_grow_by_less_than_nothing(tmp_path):
    people = table(tmp_path / "people.csv", PEOPLE)
    allowances = table(tmp_path / "allowances.csv", ["dimension,grows_mm,shrinks_mm", "chest_girth,-5,2"])
    said = refused("size", people, "--plan", plan(tmp_path / "plan.toml"), "--allowances", allowances)
    assert "allowances.csv" in said and "-5" in said and "chest_girth" in said


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    people = table(tmp_path / "people.csv", PEOPLE)
    for args in (("size", people, "--plan", plan(tmp_path / "plan.toml")), ("percentiles", people)):
        assert "people.csv" in refused(*args, "--into", people)
    assert people.read_text().startswith("participant")


@pytest.mark.parametrize("resamples", ["100001", "100000000000000"])
def test_too_many_resamples(tmp_path, resamples):
    assert resamples in refused("percentiles", table(tmp_path / "people.csv", PEOPLE), "--resamples", resamples)


def test_a_table_of_words_has_no_percentiles(tmp_path):
    words = table(tmp_path / "words.csv", ["participant,station", "P1,north", "P2,south"])
    assert "words.csv" in refused("percentiles", words)


@pytest.fixture(scope="module")
def space(demo):
    """The space and the coefficients of the demo."""
    into, _ = demo
    return into / "space.safetensors", into / "coefficients.parquet", into / "study.cohort"


def test_counts_that_no_memory_holds(space, tmp_path):
    made, coefficients, cohort = space
    of = (made, "--coefficients", coefficients)
    many = "100000000000000"
    assert "permutations" in refused("compare", *of, "--by", "sex", "--permutations", many)
    assert "permutations" in refused("regress", *of, "--on", "age_years", "--permutations", many)
    assert "permutations" in refused("symmetry", cohort, "--permutations", many)
    assert "draws" in refused("symmetry", cohort, "--permutations", "9", "--draws", many)
    assert "count" in refused("sample", *of, "--count", many, "--into", tmp_path / "drawn")
    assert not (tmp_path / "drawn").exists()


def test_a_bandwidth_is_above_nothing(space):
    made, coefficients, _ = space
    assert "bandwidth" in refused("map", made, "--coefficients", coefficients, "--bandwidth-mm=-3")


def test_two_results_need_two_names(space, tmp_path):
    body = tmp_path / "body.ply"
    said = refused("predict", space[0], "--dimension", "stature=1700", "--into", body, "--intervals", body)
    assert "body.ply" in said and not body.exists()


def test_tests_of_few_people_say_so(space, tmp_path):
    made, coefficients, _ = space
    people = program.ok("inspect", made)["people"]
    names = [f"C{i:03}" for i in range(1, people + 1)]
    few = table(tmp_path / "few.csv", ["participant,hours"] + [f"{n},{i * i % 7}" for i, n in enumerate(names[:5])])
    told = program.ok("regress", made, "--coefficients", coefficients, "--on", "hours", "--table", few, "--permutations", 99)
    assert any("only 5 people" in n for n in told["notes"]), told["notes"]


@pytest.mark.parametrize("args", [["size"], ["frobnicate"], [], ["predict", "a", "--pls=-1"]])
def test_words_that_are_no_request_are_one_object_too(args):
    done = program.run(*args, "--json")
    assert done.code == 2 and done.json["error"], str(done)
    assert done.err.strip() and json.dumps(done.json)


def test_help_is_no_error():
    done = program.run("size", "--help", "--json")
    assert done.code == 0 and "error" not in done.out[:20], str(done)


def test_a_reference_frame_beyond_the_record(tmp_path):
    rows = ["time_s,heel_x_mm,heel_y_mm,heel_z_mm"] + [f"{i / 50},{i},{2 * i},{900 + i % 7}" for i in range(50)]
    said = refused("points", table(tmp_path / "A01.csv", rows), "--reference", 50)
    assert "frame 50" in said and "49" in said


def test_a_cohort_is_not_filled_over_itself(demo, tmp_path):
    folder, _ = demo
    said = program.refused(
        "complete", folder / "space.safetensors", "--cohort", folder / "study.cohort", "--into", folder / "study.cohort", "--force"
    )
    assert "--into" in said and "study.cohort" in said
    assert (folder / "study.cohort" / "cohort.json").is_file()


def test_more_values_than_people_allow_are_counted(demo, tmp_path):
    small = tmp_path / "few"
    program.ok("demo", "--into", small, "--participants", 3, "--vertices", 3000)
    asked = [f"--dimension={name}=900" for name in ("chest_girth", "waist_girth", "hip_girth")]
    said = program.refused("predict", small / "space.safetensors", *asked, "--into", tmp_path / "b.ply")
    assert "few" in said or "at least 5 people" in said


def test_a_chart_for_one_group_says_that_it_was_tried_on_everyone(tmp_path):
    people = table(tmp_path / "people.csv", PEOPLE)
    chart = table(tmp_path / "chart.csv", [
        "size,group,chest_girth_low_mm,chest_girth_high_mm,stature_low_mm,stature_high_mm", "s,f,800,1000,1500,1700", "m,f,1000,1200,1600,1800",
    ])
    told = program.ok("size", people, "--chart", chart)
    assert any("`f`" in note and "everyone" in note for note in told["notes"])


def test_a_splits_file_names_the_items_of_the_cohort_and_no_others(demo, tmp_path):
    folder, _ = demo
    cohort = folder / "study.cohort"
    with (cohort / "items.csv").open() as file:
        rows = [r for r in csv.DictReader(file) if not r["frame"] and r["status"] == "accepted"]
    items = [r["item"] for r in rows]
    people = sorted({r["participant"] for r in rows})
    part = {p: "test" if i % 4 == 0 else "validation" if i % 4 == 1 else "train" for i, p in enumerate(people)}
    parts = [f"{r['item']},{part[r['participant']]}" for r in rows]
    into = tmp_path / "set"
    for name, rows, words in (
        ("stranger", parts + ["C0O1_1,train"], ("C0O1_1", "did you mean", "study.cohort")),
        ("missing", parts[:-2], ("2 of", "have no part", items[-2])),
        ("nobody", [r.split(",")[0] + ",test" for r in parts], ("train",)),
        ("word", parts[:-1] + [items[-1] + ",trian"], ("trian", "train")),
    ):
        splits = table(tmp_path / f"{name}.csv", ["item,split", *rows])
        said = refused("export", "ml", cohort, "--splits", splits, "--into", into)
        assert all(w in said for w in words), (name, said)
        assert not into.exists() or not list(into.iterdir()), name
    assert "words.csv" in refused("export", "ml", cohort, "--splits", table(tmp_path / "words.csv", ["item,part", "a,train"]), "--into", into)


def test_a_part_that_would_be_empty_says_how_many_people_it_needs(tmp_path):
    import bodies

    bodies.folder(tmp_path / "scans", 4)
    program.ok("import", tmp_path / "scans", "--into", tmp_path / "few.cohort", code=(0, 1))
    said = refused("export", "ml", tmp_path / "few.cohort", "--validation", 0.1, "--test", 0.1, "--into", tmp_path / "set")
    assert "a share of 0.1 needs " in said and "there are 4" in said, said
    assert not (tmp_path / "set").exists()


def test_types_of_dimensions_that_are_not_there(tmp_path):
    scan = table(tmp_path / "scan.csv", ["participant,neck_girth_mm", "P1,380", "P2,400"])
    hand = table(tmp_path / "hand.csv", ["participant,neck_girth_mm", "P1,381", "P2,399"])
    program.ok("agree", scan, hand, "--type", "neck_girth=small-girth")
    said = refused("agree", scan, hand, "--type", "nek_girth=small-girth")
    assert "nek_girth" in said and "did you mean `neck_girth`" in said and "scan.csv" in said


def test_columns_that_say_nothing_are_named(space, tmp_path):
    made, coefficients, _ = space
    names = [f"C{i:03}" for i in range(1, program.ok("inspect", made)["people"] + 1)]
    rows = [f"{n},7,{20 + i},{2 * (20 + i)},{'ab'[i % 2]}" for i, n in enumerate(names)]
    own = table(tmp_path / "own.csv", ["participant,same,hours,twice,crew", *rows])
    of = (made, "--coefficients", coefficients, "--table", own, "--permutations", 99)
    for args, words in (
        (("regress", *of, "--on", "same"), ("`same` is the same for all",)),
        (("regress", *of, "--on", "twice", "--covariate", "hours"), ("`twice`", "follows from `hours`")),
        (("compare", *of, "--by", "crew", "--covariate", "same"), ("`same`",)),
        (("compare", *of, "--by", "crew", "--covariate", "hours", "--covariate", "twice"), ("`twice`", "`hours`")),
    ):
        said = refused(*args)
        assert "predictor" not in said and all(w in said for w in words), said


@pytest.mark.parametrize("args, words", [
    (("regress", "s", "--on", "a", "--permutations", "-5"), "1 to 1000000"),
    (("regress", "s", "--on", "a", "--permutations", "99.5"), "whole number"),
    (("regress", "s", "--on", "a", "--permutations", "many"), "whole number"),
    (("regress", "s", "--on", "a", "--permutations", "9" * 30), "too large"),
    (("regress", "s", "--on", "a", "--level", "low"), "decimal point"),
])
def test_counts_say_what_is_allowed(args, words):
    done = program.run(*args, "--json")
    assert done.code == 2 and done.json["kind"] == "usage", str(done)
    assert "digit" not in done.err and "literal" not in done.err, str(done)
    assert words in done.json["error"] or "unexpected argument" in done.json["error"], str(done)


@pytest.mark.parametrize("given", ["0", "00", "-1", "1.5", "many", "9" * 30])
@pytest.mark.parametrize("command", [
    "space c --into s", "project s m", "complete s m --into b", "sample s --coefficients c --into d", "compare s --by sex",
    "merge a b --into s", "symmetry c", "map s", "motion c --capture w --into m", "export ml c --into d", "export glb s --into g",
])
def test_a_number_of_modes_is_one_or_more(tmp_path, command, given):
    into = [tmp_path / w if i and command.split()[i - 1] == "--into" else w for i, w in enumerate(command.split())]
    done = program.run(*into, f"--modes={given}", "--json")
    assert done.code == 2 and done.json["kind"] == "usage", str(done)
    assert "--modes" in done.json["error"] and given in done.json["error"], str(done)
    assert ("too large" if len(given) > 9 else "1 or more") in done.json["error"], str(done)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("given", ["0", "00", "-1", "1.5", "many", "9" * 30, "5"])
def test_a_regression_is_of_all_coefficients_and_takes_no_number_of_modes(tmp_path, given):
    done = program.run("regress", tmp_path / "s", "--on", "age_years", f"--modes={given}", "--json")
    assert done.code == 2 and done.json["kind"] == "usage", str(done)
    assert "--modes" in done.json["error"], str(done)
    assert not list(tmp_path.iterdir())


def test_a_study_of_no_modes_is_refused(tmp_path):
    study = tmp_path / "study.toml"
    sections = ("space", "motion", "compare", "symmetry", "map", "sample", "complete", "movements.shared")
    keys = [f"{section}.modes" for section in sections] + ["space.glb_modes"]
    text = "".join(f"[{section}]\nmodes = 0\n" for section in sections).replace("[space]\n", "[space]\nglb_modes = 0\n")
    study.write_text("title = 'x'\n[data]\ncohort = 'c.cohort'\n" + text)
    done = program.run("study", study, "--json")
    said = json.dumps(done.json)
    assert done.code == 2, str(done)
    assert all(f"{key}: it is 0; it must be 1 or more" in said for key in keys), said


def test_the_group_of_new_people_is_named_with_an_option_that_there_is(tmp_path):
    chart = table(tmp_path / "chart.csv", [
        "size,group,chest_girth_low_mm,chest_girth_high_mm", "fs,f,800,1000", "ms,m,900,1100",
    ])
    new = table(tmp_path / "new.csv", ["participant,sex,chest_girth_mm", "A,f,900", "B,x,950"])
    said = refused("size", "--chart", chart, "--assign", new)
    assert "--by COLUMN" in said and "f, m" in said
    told = program.ok("size", "--chart", chart, "--assign", new, "--by", "sex")
    assert told["new_people"][0]["size"] == "fs" and "group `x`" in told["new_people"][1]["missing"]
    assert "sexx" in refused("size", "--chart", chart, "--assign", new, "--by", "sexx")


def test_what_no_body_measures_is_cautioned_of(tmp_path):
    broken = table(tmp_path / "people.csv", [r.replace(",850,", ",-900,") for r in PEOPLE])
    told = program.ok("size", broken, "--plan", plan(tmp_path / "plan.toml"))
    assert any("-900 mm" in c and "chest_girth" in c for c in told["cautions"]), told["cautions"]
    done = program.run("size", broken, "--plan", tmp_path / "plan.toml")
    assert "caution: `chest_girth` holds what no body measures" in done.out, str(done)
    chart = table(tmp_path / "chart.csv", ["size,chest_girth_low_mm,chest_girth_high_mm", "s,8,9", "m,9,10"])
    told = program.run("size", table(tmp_path / "good.csv", PEOPLE), "--chart", chart, "--json")
    assert any("(0 %)" in c for c in told.json["cautions"]) and "-0.0" not in told.out, str(told)


@pytest.mark.parametrize("shares, words", [("{ f = 0.5, m = 0.6 }", "sum to 1.1"), ("{ f = 50, m = 50 }", "per cent")])
def test_shares_of_a_population_sum_to_one(tmp_path, shares, words):
    people = table(tmp_path / "people.csv", PEOPLE)
    path = plan(tmp_path / "plan.toml")
    text = path.read_text()
    path.write_text(f'{text}\n[[margin]]\ncolumn = "sex"\nshares = {shares}\n')
    said = refused("size", people, "--plan", path)
    assert words in said and "sex" in said and "plan.toml" in said
    path.write_text(f'{text}\n[[margin]]\ncolumn = "sex"\nshares = {{ f = 0.499, m = 0.499 }}\n')
    assert any("scaled to sum to 1" in n for n in program.ok("size", people, "--plan", path)["notes"])


def test_tables_of_people_with_other_marks(tmp_path):
    import bodies

    bodies.folder(tmp_path / "scans", 2)
    names = sorted(p.stem for p in (tmp_path / "scans").iterdir())
    into = tmp_path / "c.cohort"
    for mark in (";", "\t"):
        rows = [mark.join(("participant", "mass_kg"))] + [mark.join((n, "64.4")) for n in names]
        people = table(tmp_path / "people.csv", rows)
        program.ok("import", tmp_path / "scans", "--into", into, "--participants", people, "--force", code=(0, 1))
        assert "64.4" in (into / "items.csv").read_text()
        people.write_text(people.read_text().replace("64.4", "64,4"))
        said = refused("import", tmp_path / "scans", "--into", into, "--participants", people, "--force")
        assert "64,4" in said and "mass_kg" in said and "point" in said and "people.csv" in said
    assert "no row" in refused("import", tmp_path / "scans", "--into", into, "--participants", table(tmp_path / "head.csv", ["participant,sex"]), "--force")


def test_a_map_of_few_or_like_people_says_what_happened(tmp_path):
    import bodies

    for name, count in (("two", 2), ("same", 6)):
        scans = tmp_path / name
        scans.mkdir()
        for i in range(count):
            stature = 1750 if name == "same" else 1650 + 70 * i
            bodies.obj(scans / f"p{i + 10}.obj", bodies.body(stature=stature))
        cohort, made = tmp_path / f"{name}.cohort", tmp_path / f"{name}.safetensors"
        program.ok("import", scans, "--into", cohort, code=(0, 1))
        done = program.run("space", cohort, "--into", made, "--json")
        if done.code == 0:
            said = refused("map", made, "--cohort", cohort)
            assert ("there are 2, and a map needs 5" if name == "two" else "all 6 have the same shape") in said, said
        else:
            assert done.json["error"], str(done)


@pytest.mark.parametrize("option", ["landmarks", "missing-vertices", "holes"])
def test_what_is_completed_from_is_named(space, tmp_path, option):
    made, _, cohort = space
    bad = tmp_path / "bad.csv"
    bad.write_text("participant,x_mm\nA,1\n" if option != "missing-vertices" else "\n")
    own = {"landmarks": (made,), "missing-vertices": (made, made), "holes": (made, "--cohort", cohort)}[option]
    if option == "missing-vertices":
        scan = next((cohort.parent / "input" / "scans").glob("*.ply"))
        own = (made, scan)
    into = tmp_path / ("f.cohort" if option == "holes" else "b.ply")
    assert "bad.csv" in refused("complete", *own, f"--{option}", bad, "--into", into)
    assert not into.exists()


def test_a_folder_that_cannot_be_written_is_told_before_the_work(space, tmp_path):
    made, coefficients, cohort = space
    people = table(tmp_path / "people.csv", PEOPLE)
    of = (made, "--coefficients", coefficients)
    under = people / "results"
    for args in (
        ("export", "ml", cohort), ("sample", *of, "--count", 2), ("compare", *of, "--by", "sex"), ("symmetry", cohort),
        ("motion", cohort, "--capture", captures(cohort)[0]), ("size", people, "--plan", plan(tmp_path / "plan.toml")),
    ):
        said = refused(*args, "--into", under)
        assert "people.csv is a file" in said and "results" in said, (args, said)
    assert "no folder" in refused("space", cohort, "--into", under / "s.safetensors")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["people.csv", "plan.toml"]


def captures(cohort):
    """The captures of several frames."""
    with (cohort / "items.csv").open() as file:
        return sorted({r["capture"] for r in csv.DictReader(file) if r["frame"]})


def test_results_in_the_way_are_told_before_the_work(space, tmp_path):
    cohort = space[2]
    (tmp_path / "course.csv").write_text("mine")
    assert "course.csv" in refused("motion", cohort, "--capture", captures(cohort)[0], "--into", tmp_path)
    (tmp_path / "size-chart.csv").write_text("mine")
    # not even the plan was read
    assert "size-chart.csv" in refused("size", "none.csv", "--plan", "none.toml", "--into", tmp_path)


@pytest.mark.parametrize("option", ["--cycle-hz=-1", "--cycle-hz=nan", "--cycle-hz=2", "--smoothing=-1", "--smoothing=inf"])
def test_settings_of_what_is_not_asked_for_are_looked_at_all_the_same(space, option):
    cohort = space[2]
    said = refused("motion", cohort, "--capture", captures(cohort)[0], option)
    assert option.split("=")[0] in said


HOSTILE = {
    "empty.csv": b"", "zeros.bin": bytes(64), "bom.csv": "\ufeff\r\n\r\n".encode(), "<script>alert(1)<script>.toml": b"[x\n",
    "new\nline.csv": b"a,b\nx\n", "big.toml": b"a=" + b"9" * 400, "wide.csv": "participant,x\nA,1\n".encode("utf-16"),
    "face\U0001f600.ply": b"ply\nformat ascii 1.0\nelement vertex 99999999999\nproperty float x\nend_header\n0\n",
}


@pytest.mark.parametrize("form", [
    "study @", "import @ --into OUT/c.cohort", "import SCAN --into OUT/c.cohort --participants @ --template @", "check @", "inspect @",
    "space COHORT --into OUT/s.safetensors --dimensions @", "project SPACE @ --into OUT/p.csv", "predict @ --dimension stature=1700 --into OUT/b.ply",
    "complete SPACE @ --missing hand_left --into OUT/b.ply", "complete SPACE SCAN --missing-vertices @ --into OUT/b.ply",
    "complete SPACE --landmarks @ --into OUT/b.ply", "complete SPACE --cohort COHORT --holes @ --into OUT/f.cohort",
    "compare SPACE --by sex --coefficients @ --into OUT/c", "map SPACE --coefficients PARQUET --table @ --into OUT/m.csv",
    "sample SPACE --coefficients PARQUET --target @ --into OUT/d", "merge SPACE @ --into OUT/m.safetensors",
    "measure COHORT --dimensions @ --into OUT/t.csv", "agree TABLE @ --into OUT/a", "agree --repeats @ --into OUT/a", "percentiles @ --into OUT/p",
    "points @ --into OUT/p", "size @ --plan PLAN --into OUT/s", "size TABLE --plan @ --into OUT/s", "size TABLE --chart @ --into OUT/s",
    "size TABLE --plan PLAN --allowances @ --into OUT/s", "export ml COHORT --splits @ --into OUT/ml",
])
def test_files_of_no_use_are_named_and_nothing_is_left(demo, tmp_path, form):
    folder, _ = demo
    out = tmp_path / "out"
    out.mkdir()
    words = {
        "COHORT": folder / "study.cohort", "SPACE": folder / "space.safetensors", "PARQUET": folder / "coefficients.parquet",
        "SCAN": next((folder / "input" / "scans").glob("*.ply")), "PLAN": plan(tmp_path / "plan.toml"),
        "TABLE": table(tmp_path / "people.csv", PEOPLE),
    }
    for name, content in HOSTILE.items():
        bad = tmp_path / name
        bad.write_bytes(content)
        args = [bad if w == "@" else words.get(w, w.replace("OUT", str(out))) for w in form.split()]
        said = refused(*args)
        assert bad.name in said or repr(bad.name)[1:-1] in said, (args, said)
        assert not [p for p in out.rglob("*") if p.is_file()], args
