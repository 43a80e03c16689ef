"""Requests that cannot be met: numbers without measure, settings that contradict each other, words that are none. They are refused at once, in words and as one object."""

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
