"""Sizes from the command line and in a study: mannequins, charts that exist, movement, shape clusters, new people, and plans that cannot be."""

import csv
import json
import shutil
from pathlib import Path

import numpy as np
import pandas
import pytest

import program

PLAN = """
by = "sex"
repeats = 1
starts = 3
folds = 5
secondary = ["waist_girth"]
{more}

[sizes]
count = 3

[[control]]
dimension = "chest_girth"
tolerance = {{ below = 70, above = 50 }}
unit = "mm"
{first}

[[control]]
dimension = "stature"
tolerance = {{ below = 80, above = 60 }}
unit = "mm"
{second}
"""


def plan(tmp_path, more="", first="", second="", name="plan.toml"):
    path = tmp_path / name
    path.write_text(PLAN.format(more=more, first=first, second=second))
    return path


@pytest.fixture(scope="module")
def study(demo):
    """The folder of the demo's results, its summary and a table with one row a person."""
    into, _ = demo
    return into, json.loads((into / "summary.json").read_text())


@pytest.fixture(scope="module")
def people(study, tmp_path_factory):
    """One row a person, from the dimensions of the study."""
    into, _ = study
    table = pandas.read_csv(into / "dimensions.csv").drop_duplicates("participant")
    path = tmp_path_factory.mktemp("people") / "people.csv"
    table[["participant", "sex", "age_years", "chest_girth_mm", "stature_mm", "waist_girth_mm", "hip_girth_mm"]].to_csv(path, index=False)
    return path


def middle(size, dimension):
    found = next(r for r in size["ranges"] if r["dimension"] == dimension)
    return (found["low"] + found["high"]) / 2


def test_every_size_has_a_mannequin_of_its_mid_point(study):
    """Measured again by anyone: the height of the mesh is the stature at the middle of the range within 2 mm, in PLY and in glTF."""
    import trimesh

    into, summary = study
    bodies = {b["size"]: b for b in summary["mannequins"]["bodies"]}
    assert set(bodies) == {s["name"] for s in summary["sizes"]}
    for size in summary["sizes"]:
        body = bodies[size["name"]]
        assert body["on_target"] and body["largest_miss_mm"] <= 2.0, body
        ply = trimesh.load(into / "sizes" / f"{size['name']}.ply", process=False)
        height = ply.vertices[:, 2].max() - ply.vertices[:, 2].min()
        assert abs(height - middle(size, "stature")) <= 2.0
        assert abs(ply.vertices[:, 2].min()) < 1e-3, "it stands on the floor"
        # upright and straight: the middle of the head over the middle of the feet, the left as far out as the right
        head = ply.vertices[ply.vertices[:, 2] > 0.93 * height].mean(axis=0)
        assert abs(head[0] - (ply.vertices[:, 0].max() + ply.vertices[:, 0].min()) / 2) < 0.03 * height
        glb = trimesh.load(into / "sizes" / f"{size['name']}.glb", force="mesh", process=False)
        low, high = glb.bounds
        assert abs(1000 * (high[1] - low[1]) - height) < 0.1, "metres, y up"
        given = {d["name"]: d for d in body["dimensions"] if d["given"]}
        assert set(given) >= {"chest_girth", "stature"}
        for d in given.values():
            if d["unit"] == "mm" and d["name"] in ("chest_girth", "stature"):
                assert abs(d["target"] - middle(size, d["name"])) < 1e-6 and abs(d["measured"] - d["target"]) <= 2.0
    table = pandas.read_csv(into / "sizes" / "mannequins.csv")
    assert (table[table["given"]]["deviation"].abs() <= 2.0).all()


def test_choices_by_held_out_figures_are_judged_on_others(study, people, tmp_path):
    """Nested cross-validation of the method and of the number of sizes; groups that are too small to be split twice have none."""
    assert study[1]["chosen"] == []
    path = plan(tmp_path, more='curve = [2, 6]\ncompare = ["k-means", "k-medoids", "least-loss"]')
    path.write_text(path.read_text().replace('by = "sex"\n', ""))
    told = program.ok("size", people, "--plan", path, "--into", tmp_path / "sizes")
    choices = {c["by"]: c for c in told["chosen"]}
    assert set(choices) == {"method", "number"}
    assert {o["method"] for o in choices["method"]["options"]} == {"k-means", "k-medoids", "least-loss"}
    assert [o["sizes"] for o in choices["number"]["options"]] == [p["sizes"] for p in told["curve"]] == [2, 3, 4, 5, 6]
    for choice in choices.values():
        low, high = choice["nested_interval"]
        assert 0 <= low < choice["coverage_nested"] < high <= 1
        assert sum(o["times"] for o in choice["options"]) == choice["folds"] == 5
    enough = next(p for p in told["curve"] if p["sizes"] == told["knee"]["enough"])
    assert choices["number"]["coverage_shown"] == enough["coverage_held_out"]


def test_fit_models_are_people_and_their_deviations_are_published(study):
    import trimesh

    into, summary = study
    deviations = pandas.read_csv(into / "fit-models.csv")
    for size in summary["sizes"]:
        if not size["fit_model"]:
            continue
        mesh = trimesh.load(into / "sizes" / f"{size['name']}.fit-model.ply", process=False)
        scan = next((into / "input" / "scans").glob(f"{size['fit_model']}*.ply"))
        scan = trimesh.load(scan, process=False)
        shift = scan.vertices - mesh.vertices
        assert np.ptp(shift, axis=0).max() < 0.01, "as captured, but for the floor"
        rows = deviations[deviations["size"] == size["name"]]
        assert len(rows) == 6 and np.allclose(rows["value"] - rows["mean"], rows["deviation"], atol=0.11)


def test_all_sizes_stand_side_by_side(study):
    import xml.etree.ElementTree as tree

    into, summary = study
    root = tree.parse(into / "sizes" / "sizes.svg").getroot()
    uses = [e for e in root.iter() if e.tag.endswith("use")]
    assert len(uses) == 2 * len(summary["sizes"]), "from the front and from the side"
    scales = {u.get("transform").split("scale(")[1] for u in uses}
    assert len(scales) == 1, "to one scale"
    texts = ["".join(e.itertext()) for e in root.iter() if e.tag.endswith("text")]
    assert all(s["name"] in texts for s in summary["sizes"]) and "150" in texts
    page = (into / "report.html").read_text()
    assert "Mannequins and fit models" in page and page.count('href="#mannequins-f') == 2 * len(summary["sizes"])


def test_mannequins_and_shape_clusters_from_the_command_line(study, people, tmp_path):
    into, _ = study
    out = tmp_path / "out"
    how = plan(tmp_path, 'method = "shape-clusters"\nshape = ["mode_001_sd", "mode_002_sd", "mode_003_mm"]')
    without = program.refused("size", people, "--plan", how)
    assert "mode_001_sd" in without
    told = program.ok("size", people, "--plan", how, "--space", into / "space.safetensors", "--coefficients", into / "coefficients.parquet", "--into", out)
    rules = [r for g in told["groups"] for r in g["rules"]]
    assert rules and any("chest_girth" in r or "stature" in r for r in rules), rules
    assert told["mannequins"]["bodies"] and (out / "sizes" / "sizes.svg").is_file()
    assert all(Path(p).exists() for p in told["outputs"])
    for body in told["mannequins"]["bodies"]:
        assert body["largest_miss_mm"] <= 2.0
    # a table in cm is no other person
    table = pandas.read_csv(people)
    for name in [c for c in table.columns if c.endswith("_mm")]:
        table[name.replace("_mm", "_cm")] = table.pop(name) / 10
    table.to_csv(tmp_path / "cm.csv", index=False)
    same = program.ok("size", tmp_path / "cm.csv", "--plan", how, "--space", into / "space.safetensors", "--coefficients", into / "coefficients.parquet")
    for a, b in zip(told["mannequins"]["bodies"], same["mannequins"]["bodies"]):
        assert a["dimensions"][0]["target"] == pytest.approx(b["dimensions"][0]["target"], abs=1e-6)


@pytest.fixture(scope="module")
def chart(people, tmp_path_factory):
    """A chart derived from the people, as a file."""
    folder = tmp_path_factory.mktemp("chart")
    told = program.ok("size", people, "--plan", plan(folder), "--into", folder / "sizes")
    return folder / "sizes" / "size-chart.csv", told


def test_a_chart_is_tried_on_another_population(people, chart, tmp_path):
    """People 60 mm larger in the chest: counted in Python, who is left between sizes and beyond them, and the shift that would help."""
    path, derived = chart
    table = pandas.read_csv(people)
    table["chest_girth_mm"] += 60
    table.to_csv(tmp_path / "others.csv", index=False)
    told = program.ok("size", tmp_path / "others.csv", "--chart", path)
    assert told["given"] and not derived["given"]
    assert told["coverage_held_out"] == told["coverage_in_sample"] < derived["coverage_in_sample"]
    sizes = pandas.read_csv(path)
    for group in told["groups"]:
        own, rows = table[table["sex"] == group["group"]], sizes[sizes["group"] == group["group"]]

        def covered(shift):
            hit = np.zeros(len(own), bool)
            for _, s in rows.iterrows():
                inside = np.ones(len(own), bool)
                for d in ("chest_girth", "stature"):
                    v = own[f"{d}_mm"] - shift[d]
                    inside &= (v >= s[f"{d}_low_mm"] - 1e-6) & (v <= s[f"{d}_high_mm"] + 1e-6)
                hit |= inside
            return hit

        still = covered({"chest_girth": 0, "stature": 0})
        assert group["coverage_in_sample"] == pytest.approx(still.mean(), abs=1e-9)
        assert group["coverage_shifted"] == pytest.approx(covered(group["shift"]).mean(), abs=0.03)
        assert group["shift"]["chest_girth"] > 0
        within = np.ones(len(own), bool)
        for d in ("chest_girth", "stature"):
            within &= (own[f"{d}_mm"] >= rows[f"{d}_low_mm"].min()) & (own[f"{d}_mm"] <= rows[f"{d}_high_mm"].max())
        assert group["gaps"]["between"] == pytest.approx((within & ~still).mean(), abs=1e-9)
        assert group["gaps"]["beyond"] == pytest.approx((~within & ~still).mean(), abs=1e-9)
        assert group["one_more"]["gain"] > 0
    fewer = [s["only"] for s in told["sizes"]]
    assert len(fewer) == 6 and all(0 <= x <= 1 for x in fewer)
    said = program.run("size", tmp_path / "others.csv", "--chart", path)
    for words in ("given sizes", "one size more", "shifted by", "between sizes", "without it"):
        assert words in said.out + said.err, words


def test_new_people_are_told_what_is_tight_and_loose(chart, tmp_path):
    path, derived = chart
    sizes = pandas.read_csv(path)
    size = sizes.iloc[0]
    rows = [
        ("on_the_mark", size["group"], size["chest_girth_centre_mm"], size["stature_centre_mm"]),
        ("broad", size["group"], size["chest_girth_high_mm"] - 1, size["stature_centre_mm"]),
        ("giant", size["group"], 1600, 2300),
        ("unknown", size["group"], "", size["stature_centre_mm"]),
    ]
    new = tmp_path / "new.csv"
    with open(new, "w", newline="") as f:
        csv.writer(f).writerows([("participant", "sex", "chest_girth_mm", "stature_mm"), *rows])
    told = program.ok("size", "--chart", path, "--assign", new, "--into", tmp_path / "out")
    by = {p["id"]: p for p in told["new_people"]}
    assert by["on_the_mark"]["size"] and not by["on_the_mark"]["nearest"]["feel"] and by["on_the_mark"]["second"]
    assert by["broad"]["borderline"] and by["broad"]["nearest"]["feel"][0]["what"] in ("tight", "loose")
    assert by["giant"]["size"] is None and any(f["beyond"] and f["what"] == "tight" for f in by["giant"]["nearest"]["feel"])
    assert by["unknown"]["size"] is None and "chest_girth" in by["unknown"]["missing"]
    table = pandas.read_csv(tmp_path / "out" / "new-people.csv").set_index("id")
    assert table.loc["giant", "size"] == "none" or pandas.isna(table.loc["giant", "size"])
    assert "chest_girth!" in table.loc["giant", "tight"]


def test_movement_takes_its_toll(people, chart, tmp_path):
    path, _ = chart
    allowances = tmp_path / "allowance.csv"
    allowances.write_text("dimension,grows_mm,shrinks_mm\nchest_girth,25,10\nstature,0,5\n")
    how = plan(tmp_path)
    still = program.ok("size", people, "--plan", how)
    moving = program.ok("size", people, "--plan", how, "--allowances", allowances)
    assert still["movement"] is None
    m = moving["movement"]
    assert moving["coverage_held_out"] == still["coverage_held_out"], "standing nothing changes"
    assert m["coverage_in_sample"] < moving["coverage_in_sample"] and m["coverage_held_out"] < moving["coverage_held_out"]
    assert m["sizes_needed"] is None or m["sizes_needed"] >= 3, "the price of mobility, in sizes"
    # counted by anyone: within the limits drawn in by what the body does
    table, covered = pandas.read_csv(people), 0
    for size in moving["sizes"]:
        size["in"] = {r["dimension"]: (r["low"], r["high"]) for r in size["ranges"]}
    for _, p in table.iterrows():
        def fits(s):
            (cl, ch), (sl, sh) = s["in"]["chest_girth"], s["in"]["stature"]
            return cl <= p["chest_girth_mm"] - 10 and p["chest_girth_mm"] + 25 <= ch and sl <= p["stature_mm"] - 5 and p["stature_mm"] <= sh
        covered += any(fits(s) for s in moving["sizes"] if s["group"] == p["sex"])
    assert m["coverage_in_sample"] == pytest.approx(covered / len(table), abs=1e-9)
    bare = tmp_path / "bare.csv"
    bare.write_text("dimension,note\nchest_girth,much\n")
    assert "bare.csv" in program.refused("size", people, "--plan", how, "--allowances", bare)


def test_a_study_tries_a_chart_moves_and_sizes_new_people(study, people, chart, tmp_path):
    """Keys of `[size]`: the same results as the commands give, in files, summary and report."""
    path, _ = chart
    into, _ = study
    folder = tmp_path / "study"
    shutil.copytree(into / "input", folder / "input")
    shutil.copy(path, folder / "chart.csv")
    pandas.read_csv(people).head(5).to_csv(folder / "new.csv", index=False)
    text = (into / "study.toml").read_text()
    head, _, rest = text.partition("[predictions]")
    head = head.replace('folds = 10\ntarget_mm', 'cross_validation = false\ncriteria = false\ntarget_mm')
    (folder / "plan.toml").write_text(plan(tmp_path, 'method = "shape-clusters"\nshape = ["mode_001_sd", "mode_002_sd"]').read_text())
    motion = '[motion]\nmodes = 2\nfollow = ["chest_girth"]\n'
    sizing = '[size]\nplan = "plan.toml"\nchart = "chart.csv"\nallowances = "movements"\nassign = "new.csv"\n'
    (folder / "study.toml").write_text(head + motion + sizing)
    told = program.ok("study", folder / "study.toml")
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["existing_chart"]["given"] and not summary["given"]
    tried = program.ok("size", people, "--chart", path)
    assert summary["existing_chart"]["coverage_held_out"] == pytest.approx(tried["coverage_held_out"], abs=0.06)
    assert summary["movement"] is not None and [r for g in summary["groups"] for r in g["rules"]]
    assert len(summary["new_people"]) == 5
    for name in ("existing/size-chart.csv", "new-people.csv", "size-chart.csv", "fit-models.csv"):
        assert (folder / name).is_file(), name
        assert any(p.endswith(name) for p in told["outputs"])
    assert "The existing chart on these people" in (folder / "report.html").read_text()
    # a chart alone, nothing derived
    (folder / "study.toml").write_text(head + '[size]\nchart = "chart.csv"\n')
    program.ok("study", folder / "study.toml")
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["given"] and summary["existing_chart"] is None
    assert "The sizes were given" in (folder / "report.html").read_text()
    (folder / "study.toml").write_text(head + '[size]\ntable = "new.csv"\n')
    assert "`plan`" in program.refused("study", folder / "study.toml")


DEGENERATE = {
    "more sizes than people": ("count = 3", "count = 900", "900"),
    "no tolerance": ("below = 70", "below = 0", "chest_girth"),
    "a tolerance upside down": ("below = 70", "below = -70", "chest_girth"),
    "a control dimension that is not in the table": ('"chest_girth"', '"shoulder_girth"', "shoulder_girth"),
    "bounds that contradict each other": ('unit = "mm"\n', 'unit = "mm"\nintervals = { from = 1200, to = 800, step = 40 }\n', "1200"),
    "bounds that do not ascend": ('unit = "mm"\n', 'unit = "mm"\nintervals = [800, 900, 850]\n', "ascending"),
    "a curve that ends before it begins": ("starts = 3", "starts = 3\ncurve = [9, 3]", "curve"),
    "a key that is not known": ("starts = 3", "start = 3", "start"),
    "a group column that is not there": ('by = "sex"', 'by = "team"', "team"),
    "a control dimension twice": ('"stature"', '"chest_girth"', "chest_girth"),
}


@pytest.mark.parametrize("case", DEGENERATE)
def test_plans_that_cannot_be_are_refused_with_the_reason(people, tmp_path, case):
    old, new, named = DEGENERATE[case]
    path = plan(tmp_path, 'method = "intervals"' if "intervals" in new else "")
    path.write_text(path.read_text().replace(old, new, 1))
    said = program.refused("size", people, "--plan", path)
    assert named in said, said


def test_tables_that_are_not_whole(people, tmp_path):
    table = pandas.read_csv(people)
    gaps = table.copy()
    gaps.loc[[3, 7], "chest_girth_mm"] = np.nan
    gaps.to_csv(tmp_path / "gaps.csv", index=False)
    told = program.ok("size", tmp_path / "gaps.csv", "--plan", plan(tmp_path))
    assert told["people"] == len(table) and told["sized_people"] == len(table) - 2
    assert [d["column"] for d in told["dropped"]] == ["chest_girth_mm"] * 2
    assert any("2 of 40" in n for n in told["notes"])
    strict = plan(tmp_path, 'missing = "refuse"', name="strict.toml")
    said = program.refused("size", tmp_path / "gaps.csv", "--plan", strict)
    assert "chest_girth_mm" in said and str(table.loc[3, "participant"]) in said
    same = table.copy()
    same["chest_girth_mm"] = 1000
    same.to_csv(tmp_path / "same.csv", index=False)
    assert "chest_girth" in program.refused("size", tmp_path / "same.csv", "--plan", plan(tmp_path))
    pandas.concat([table, table.head(1)]).to_csv(tmp_path / "twice.csv", index=False)
    assert str(table.loc[0, "participant"]) in program.refused("size", tmp_path / "twice.csv", "--plan", plan(tmp_path))
    only = table[table["sex"] == table["sex"].iloc[0]].head(4)
    only.to_csv(tmp_path / "four.csv", index=False)
    assert "4" in program.refused("size", tmp_path / "four.csv", "--plan", plan(tmp_path))
