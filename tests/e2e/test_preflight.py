"""A study is checked whole before its first stage: keys, ranges, names and files of every section, told at once."""

import json

import pytest

import bodies
import program

STUDY = """
title = "Trial"
[import]
meshes = ["scans/*.obj"]
participants = "people.csv"
"""


@pytest.fixture
def folder(tmp_path):
    """A dozen people with their table, and a study of them."""
    bodies.folder(tmp_path / "scans", 12)
    names = sorted(p.stem for p in (tmp_path / "scans").iterdir())
    rows = [f"{n},{'fm'[i % 2]},{20 + 3 * i}" for i, n in enumerate(names)]
    (tmp_path / "people.csv").write_text("participant,sex,age_years\n" + "\n".join(rows) + "\n")
    (tmp_path / "study.toml").write_text(STUDY)
    return tmp_path


def problems(folder, more, file="study.toml"):
    """What is wrong with the study and more in it: key -> words. Nothing was run."""
    (folder / file).write_text(STUDY + more)
    done = program.run("study", folder / file, "--json", timeout=60)
    assert done.code == 2, str(done)
    told = done.json
    assert told["kind"] == "request" and file in told["error"], str(done)
    assert not (folder / "study.cohort").exists() and not (folder / "report.html").exists()
    found = {}
    for p in told["problems"]:
        assert p["key"] in told["error"] and p["wrong"], p
        found.setdefault(p["key"], []).append(f"{p['wrong']}; {p['advice']}")
    return {key: " | ".join(words) for key, words in found.items()}


def test_everything_is_told_at_once_and_nothing_is_run(folder):
    (folder / "plan.toml").write_text(
        'by = "sexx"\n[sizes]\ncount = 2\n[[control]]\ndimension = "statur"\ntolerance = { below = 60, above = 40 }\n'
    )
    (folder / "dimensions.toml").write_text('[[dimension]]\nname = "stature"\nkind = "height"\nat = { furthest = "up" }\n')
    found = problems(folder, """
[space]
weights = "knee"
draws = 3
folde = 3
[measure]
dimensions = "dimensions.toml"
by = "sexx"
[predictions]
from = ["stature", "waist"]
[[compare]]
by = "station"
permutations = 0
[[regress]]
on = "sex"
[sample]
count = 5000000
[map]
method = "difusion"
colour = ["hair"]
[[complete]]
missing = ["hand"]
[motion]
captures = ["walk"]
follow = ["hip"]
region = "trunk"
[movements]
compare = [{ reference = "walk", garment = "run" }]
[points]
files = ["none.trc"]
[size]
plan = "plan.toml"
chart = "chart.csv"
allowances = "none.csv"
assign = "new.csv"
""")
    for key, words in {
        "space.weights": "knee", "measure.by": "did you mean `sex`", "predictions.from": "waist", "compare.by": "station",
        "regress.on": "holds words", "compare.permutations": "1 to 1000000", "sample.count": "1 to 1000000",
        "map.method": "did you mean `diffusion`", "map.colour": "hair", "complete.missing": "hand", "space.draws": "20 to 100000",
        "space.folde": "`folds`", "motion.captures": "walk", "motion.follow": "hip", "motion.region": "trunk",
        "movements.compare": "run", "points.files": "none.trc", "size.plan": "did you mean `stature`", "size.chart": "chart.csv",
        "size.allowances": "none.csv", "size.assign": "new.csv",
    }.items():
        assert words in found[key], (key, found)
    assert "did you mean `sex`" in found["size.plan"]


def test_people_read_the_same_words(folder):
    (folder / "study.toml").write_text(STUDY + "[[compare]]\nby = 'sexx'\npermutations = 0\n")
    said = program.refused("study", folder / "study.toml")
    assert "study.toml: 2 things are wrong" in said
    assert "compare.by: there is no column `sexx`; did you mean `sex`?" in said
    assert "compare.permutations: it is 0; it must be 1 to 1000000" in said


@pytest.mark.parametrize("more, key, words", [
    ("[motion]\nmodes = -1\n", "motion.modes", "1 or more"),
    ("[motion]\nmodes = 1.5\n", "motion.modes", "whole number"),
    ("[motion]\nmodes = 'many'\n", "motion.modes", "whole number"),
    ("[[compare]]\nby = 'sex'\npermutations = 99.5\n", "compare.permutations", "whole number"),
    ("[motion]\ncutoff = 'often'\n", "motion.cutoff", "residual"),
    ("[space]\nmodes = 99999999999999999999\n", None, "line"),
    ("[export]\nfolder = 'people.csv'\n", "export.folder", "is a file"),
    ("[size]\ntable = 'people.csv'\nplan = 'people.csv'\n", "size.plan", "people.csv"),
    ("[measure]\ndimensions = 'scans'\n", "measure.dimensions", "is a folder"),
    ("[[map]]\n[[map]]\nmethod = 'diffusion'\n", "map", "a study takes one"),
    ("[[compare]]\nlevel = 0.01\n", "compare.by", "is missing"),
])
def test_one_fault(folder, more, key, words):
    (folder / "study.toml").write_text(STUDY + more)
    done = program.run("study", folder / "study.toml", "--json", timeout=60)
    assert done.code == 2 and words in done.json["error"], str(done)
    assert key is None or any(p["key"] == key for p in done.json["problems"]), str(done)
    for inner in ("i128", "untagged", "variant", "usize"):
        assert inner not in done.json["error"], str(done)


def test_a_table_of_people_that_cannot_be_read_is_told_with_the_rest(folder):
    (folder / "people.csv").write_text("participant;mass_kg\np01;64,4\n")
    found = problems(folder, "[[compare]]\nby = 'sex'\nlevel = 7\n")
    assert "64,4" in found["import.participants"] and "point" in found["import.participants"]
    assert "under 1" in found["compare.level"]


def test_a_study_of_a_table_alone_counts_no_bodies(folder):
    rows = "".join(f"P{i},{1600 + 7 * i},{800 + 11 * (i * 7 % 40)}\n" for i in range(40))
    (folder / "table.csv").write_text("participant,stature_mm,chest_girth_mm\n" + rows)
    control = "".join(f"[[control]]\ndimension = '{d}'\ntolerance = {{ below = 60, above = 60 }}\n" for d in ("stature", "chest_girth"))
    (folder / "plan.toml").write_text("[sizes]\ncount = 4\n" + control)
    (folder / "study.toml").write_text("title = 'A table'\n[size]\ntable = 'table.csv'\nplan = 'plan.toml'\n[export]\nfolder = 'out'\n")
    done = program.run("study", folder / "study.toml", timeout=60)
    assert done.code in (0, 1) and "null" not in done.out and "4 sizes fit" in done.out, str(done)


def test_the_demo_has_nothing_wrong(demo):
    folder, _ = demo
    told = program.ok("study", folder / "study.toml")
    assert told["report"]
    # and names of its template, columns and captures are looked up
    text = (folder / "study.toml").read_text()
    bad = text.replace('"hand_left"', '"hand_lefft"').replace('"trunk_frame"', '"trunk_fram"').replace('"station"', '"staton"')
    assert bad != text
    (folder / "bad.toml").write_text(bad)
    done = program.run("study", folder / "bad.toml", "--json", timeout=60)
    (folder / "bad.toml").unlink()
    assert done.code == 2, str(done)
    told = json.dumps(done.json["problems"])
    for near in ("`hand_left`", "`trunk_frame`", "`station`"):
        assert f"did you mean {near}" in told, told
