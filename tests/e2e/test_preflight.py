"""A study is checked whole before its first stage: keys, ranges, names and files of every section, told at once."""

import json

import pytest

import bodies
import program

STUDY = """
title = "Trial"
[input]
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
[align]
weights = "knee"
[dimensions]
definitions = "dimensions.toml"
by = "sexx"
[predict]
from = ["stature", "waist"]
[shape]
compare = ["station"]
regress = ["sex"]
permutations = 0
sample = 5000000
map = "difusion"
colours = ["hair"]
complete = ["hand"]
[space]
draws = 3
folde = 3
[motion]
captures = ["walk"]
dimensions = ["hip"]
region = "trunk"
compare = [{ reference = "walk", garment = "run" }]
[points]
files = ["none.trc"]
[sizing]
plan = "plan.toml"
chart = "chart.csv"
allowances = "none.csv"
assign = "new.csv"
""")
    for key, words in {
        "align.weights": "knee", "dimensions.by": "did you mean `sex`", "predict.from": "waist", "shape.compare": "station",
        "shape.regress": "holds words", "shape.permutations": "1 to 1000000", "shape.sample": "1 to 1000000",
        "shape.map": "did you mean `diffusion`", "shape.colours": "hair", "shape.complete": "hand", "space.draws": "20 to 100000",
        "space.folde": "`folds`", "motion.captures": "walk", "motion.dimensions": "hip", "motion.region": "trunk",
        "motion.compare": "run", "points.files": "none.trc", "sizing.plan": "did you mean `stature`", "sizing.chart": "chart.csv",
        "sizing.allowances": "none.csv", "sizing.assign": "new.csv",
    }.items():
        assert words in found[key], (key, found)
    assert "did you mean `sex`" in found["sizing.plan"]


def test_people_read_the_same_words(folder):
    (folder / "study.toml").write_text(STUDY + "[shape]\ncompare = ['sexx']\npermutations = 0\n")
    said = program.refused("study", folder / "study.toml")
    assert "study.toml: 2 things are wrong" in said
    assert "shape.compare: there is no column `sexx`; did you mean `sex`?" in said
    assert "shape.permutations: it is 0; it must be 1 to 1000000" in said


@pytest.mark.parametrize("more, key, words", [
    ("[motion]\nmodes = -1\n", "motion.modes", "whole number"),
    ("[motion]\ncutoff = 'often'\n", "motion.cutoff", "residual"),
    ("[space]\nmodes = 99999999999999999999\n", None, "line"),
    ("[export]\nfolder = 'people.csv'\n", "export.folder", "is a file"),
    ("[sizing]\ntable = 'people.csv'\nplan = 'people.csv'\n", "sizing.plan", "people.csv"),
    ("[dimensions]\ndefinitions = 'scans'\n", "dimensions.definitions", "is a folder"),
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
    found = problems(folder, "[shape]\nlevel = 7\n")
    assert "64,4" in found["input.participants"] and "point" in found["input.participants"]
    assert "under 1" in found["shape.level"]


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
