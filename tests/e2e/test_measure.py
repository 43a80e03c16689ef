"""What a laboratory does with dimensions: explain one, take them, compare with hands and repeats, find joints, sum up a population."""

import csv
import xml.etree.ElementTree

import numpy as np
import pandas
import pytest

import program

CATALOGUE = program.CHECKOUT / "datasets-demo" / "dimensions.toml"


@pytest.fixture(scope="module")
def cohort(demo):
    return next(p for p in demo[0].rglob("*.cohort") if p.is_dir())


@pytest.fixture(scope="module")
def people(cohort, tmp_path_factory):
    """The demo's people in a table of dimensions."""
    path = tmp_path_factory.mktemp("table") / "people.csv"
    program.ok("measure", cohort, "--dimensions", CATALOGUE, "--per", "person", "--into", path)
    return path


@pytest.mark.parametrize("name", ["waist_girth", "natural_waist_girth", "across_back", "abdomen_volume", "knee_angle_left", "stature"])
def test_a_dimension_is_explained_and_drawn(cohort, tmp_path, name):
    picture = tmp_path / "picture.svg"
    told = program.ok("measure", cohort, "--dimensions", CATALOGUE, "--explain", name, "--into", picture)
    assert told["definition"]["name"] == name and told["definition"]["definition"]
    assert told["on_template"]["value"] > 0 and not told["on_template"]["flags"]
    root = xml.etree.ElementTree.parse(picture).getroot()
    assert root.tag.endswith("svg") and len(list(root.iter())) > 5
    said = program.run("measure", cohort, "--dimensions", CATALOGUE, "--explain", name)
    assert said.code == 0 and "how it is taken" in said.out
    assert ("from memory" in said.out) == (told["definition"]["standard"] is not None)


def test_a_name_that_is_not_there_is_answered_with_names_near(cohort):
    assert "`waist_girth`" in program.refused("measure", cohort, "--dimensions", CATALOGUE, "--explain", "waist_grith")


WRONG = {
    "landmark": ('kind = "height"\nat = "waist_frnot"', "`waist_front`"),
    "region": ('kind = "girth"\nat = "navel"\nregion = "torzo"', "`torso`"),
    "joint": ('kind = "distance"\nbetween = ["joint:knee_left", "joint:knee_rihgt"]', "`knee_right`"),
    "path": ('kind = "path"\npath = "arm_lenght_left"', "`arm_length_left`"),
    "plane": ('kind = "girth"\nplane = ["navel", "waist_back", "wasit_side_left"]', "`waist_side_left`"),
    "slab": ('kind = "volume"\nbetween = ["navel", "nawel"]', "`navel`"),
    "kind": ('kind = "grith"\nat = "navel"', "`girth`"),
    "key": ('kind = "girth"\nat = "navel"\nregoin = "torso"', "`region`"),
    "two": ('kind = "girth"\nplane = ["navel", "waist_back"]', "three places"),
    "both": ('kind = "girth"\nplane = ["navel", "waist_back", "waist_side_left"]\nat = "navel"', "leave"),
    "step": ('kind = "girth"\nbetween = ["navel", "crotch"]\nsearch = "largest"\nstep_mm = 5', "from 0.05 to 2"),
    "empty": ("", "kind"),
}


@pytest.mark.parametrize("case", WRONG)
def test_definitions_that_are_wrong_name_the_dimension_and_what_to_do(cohort, tmp_path, case):
    lines, word = WRONG[case]
    path = tmp_path / "mine.toml"
    path.write_text(f'[[dimension]]\nname = "mine"\n{lines}\n')
    said = program.refused("measure", cohort, "--dimensions", path)
    assert "mine" in said and word in said, said


def test_files_that_are_no_definitions(cohort, tmp_path):
    path = tmp_path / "d.toml"
    for text in (b"", b"\xff\xfe\x00", b"[[dimension]\n", b"[[dimension]]\nname = 3\nkind = \"height\"\n", b"[other]\n"):
        path.write_bytes(text)
        program.refused("measure", cohort, "--dimensions", path)
    program.refused("measure", cohort, "--dimensions", tmp_path / "nowhere.toml")


def agreement(tmp_path, people, off, spread, count=40):
    """A table by hand that differs from the scans by a known error."""
    scan = pandas.read_csv(people).head(count)
    r = np.random.default_rng(3)
    hand = scan.copy()
    for name in [c for c in scan if c.endswith("_mm")]:
        noise = r.standard_normal(len(scan))
        hand[name] = scan[name] - off - spread * (noise - noise.mean()) / noise.std(ddof=1)
    scan.to_csv(tmp_path / "scan.csv", index=False)
    hand.to_csv(tmp_path / "hand.csv", index=False)
    return tmp_path / "scan.csv", tmp_path / "hand.csv"


def test_agreement_gives_back_a_known_error(people, tmp_path):
    scan, hand = agreement(tmp_path, people, off=3.0, spread=6.0)
    into = tmp_path / "agreement"
    told = program.ok("agree", scan, hand, "--dimensions", CATALOGUE, "--into", into, "--only", "stature", "--only", "waist_girth", "--only", "wrist_girth_left")
    found = {d["dimension"]: d for d in told["dimensions"]}
    for d in found.values():
        assert d["mean_error_mm"] == pytest.approx(3.0, abs=1e-6) and d["sd_error_mm"] == pytest.approx(6.0, abs=1e-6)
        half = 1.96 * 6.0 / np.sqrt(40)
        assert d["interval_mm"] == pytest.approx([3 - half, 3 + half], abs=1e-6)
        assert d["limits_of_agreement_mm"] == pytest.approx([3 - 1.96 * 6, 3 + 1.96 * 6], abs=1e-6)
    # 3 + 1.86 exceeds the 4 mm of heights and small girths, not the 9 mm of large girths
    assert {n: d["verdict"] for n, d in found.items()} == {"stature": "not-within", "waist_girth": "within", "wrist_girth_left": "not-within"}
    assert "mean" in told["caution"]
    page = (into / "agreement.html").read_text()
    assert page.count('<svg class="chart wide"') == 3 and "http" not in page and "<img" not in page
    for name in found:
        xml.etree.ElementTree.parse(into / f"{name}.svg")
    assert len(pandas.read_csv(into / "agreement.csv")) == 3
    program.refused("agree", scan, hand, "--into", into)


def test_the_page_of_agreement_fits_and_is_silent(people, tmp_path, browser, screens):
    scan, hand = agreement(tmp_path, people, off=1.0, spread=4.0)
    program.ok("agree", scan, hand, "--dimensions", CATALOGUE, "--into", tmp_path / "a", "--only", "stature", "--only", "chest_girth")
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    said = []
    page.on("console", lambda m: said.append(m.text))
    page.on("pageerror", lambda e: said.append(str(e)))
    page.on("request", lambda r: said.append(r.url) if r.url.startswith("http") else None)
    page.goto((tmp_path / "a" / "agreement.html").as_uri())
    assert page.locator("svg.chart.wide").count() == 2
    # no word of a chart is cut off or covers another one
    cut = page.evaluate("""[...document.querySelectorAll('svg.chart.wide')].flatMap(s => {
      const frame = s.getBoundingClientRect();
      const boxes = [...s.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
      const outside = boxes.filter(([, b]) => b.left < frame.left - 1 || b.right > frame.right + 1).map(([t]) => t);
      const notes = [...s.querySelectorAll('text.note')].map(t => [t.textContent, t.getBoundingClientRect()]);
      const over = notes.filter(([t, a], i) => notes.some(([u, b], j) => j > i && a.left < b.right && b.left < a.right && a.top < b.bottom - 3 && b.top < a.bottom - 3)).map(([t]) => t);
      return outside.concat(over);
    })""")
    assert cut == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.screenshot(path=str(screens / "agreement.png"), full_page=True)
    page.close()
    assert not said, said


def test_few_people_get_no_verdict(people, tmp_path):
    scan, hand = agreement(tmp_path, people, off=0.0, spread=1.0, count=12)
    told = program.ok("agree", scan, hand, "--only", "stature")
    assert told["dimensions"][0]["verdict"] == "too-few"


def test_repeats_give_back_a_known_error(people, tmp_path):
    scan = pandas.read_csv(people)
    r = np.random.default_rng(4)
    rows = []
    for session in (1, 2, 3):
        row = scan[["participant", "stature_mm", "chest_girth_mm"]].copy()
        row["session"] = session
        for c in ("stature_mm", "chest_girth_mm"):
            row[c] += 3.0 * r.standard_normal(len(row))
        rows.append(row)
    path = tmp_path / "repeats.csv"
    table = pandas.concat(rows)
    table.to_csv(path, index=False)
    told = program.ok("agree", "--repeats", path, "--into", tmp_path / "r")
    found = {d["dimension"]: d for d in told["dimensions"]}
    assert set(found) == {"stature", "chest_girth"}
    for name, d in found.items():
        values = table.pivot(index="participant", columns="session", values=f"{name}_mm").to_numpy()
        tem = np.sqrt(((values - values.mean(axis=1, keepdims=True)) ** 2).sum() / (2 * len(values)))
        assert d["tem"] == pytest.approx(tem, rel=1e-9) and d["tem"] == pytest.approx(3.0, rel=0.2)
        assert d["least_detectable_change"] == pytest.approx(2.77 * tem, rel=0.01)
        assert d["reliability"] > 0.98 and d["icc_agreement"] > 0.98


@pytest.mark.parametrize("text", ["", "participant\n", "a,b\n1,2\n", "participant,stature_mm\nx,1\nx,2\n", "participant;stature_mm\nx;1\n", "participant,stature_mm\nx,tall\n"])
def test_tables_that_cannot_be_compared(people, tmp_path, text):
    path = tmp_path / "hand.csv"
    path.write_text(text)
    program.refused("agree", people, path)
    program.refused("agree", "--repeats", path)
    if text != "a,b\n1,2\n":
        program.refused("percentiles", path)


def test_joints_and_segments_of_everyone(cohort, tmp_path):
    into = tmp_path / "joints"
    told = program.ok("joints", cohort, "--into", into)
    joints, segments = pandas.read_csv(into / "joints.csv"), pandas.read_csv(into / "segments.csv")
    assert told["items"] == len(joints) == len(segments)
    centres = [c for c in joints if c.endswith("_z_mm")]
    assert len(centres) >= 18, centres
    assert joints[[c for c in joints if c.endswith("_mm")]].notna().all().all()
    angles = [c for c in joints if c.endswith("_angle_deg")]
    assert len(angles) >= 8 and joints[angles].min().min() > 20 and joints[angles].max().max() <= 180
    assert np.allclose(segments[[c for c in segments if c.endswith("_share")]].sum(axis=1), 1)
    assert len(told["shares"]) == 13 and all(s["handbook_share"] for s in told["shares"])
    # a length is the distance of two centres
    at = lambda n: joints[[f"{n}_{k}_mm" for k in "xyz"]].to_numpy()
    length = np.linalg.norm(at("knee_left") - at("ankle_left"), axis=1)
    assert np.allclose(length, joints["knee_left_to_ankle_left_mm"])


def test_joints_of_a_movement_are_point_trajectories(cohort, tmp_path):
    captures = program.ok("inspect", cohort)["captures"]
    capture = next(c for c in captures if c["frames"] > 1)
    into = tmp_path / "joints"
    told = program.ok("joints", cohort, "--capture", capture["capture"], "--into", into)
    assert told["frames"] == capture["frames"] == len(pandas.read_csv(into / "joints.csv"))
    lines = (into / "joints.trc").read_text().splitlines()
    assert lines[0].startswith("PathFileType") and "mm" in lines[2]
    assert capture["capture"] in program.refused("joints", cohort, "--capture", "nobody")


def test_a_population_in_percentiles(people, tmp_path):
    into = tmp_path / "summary"
    told = program.ok("percentiles", people, "--by", "sex", "--resamples", 200, "--into", into)
    everyone = {d["dimension"]: d for d in told["distributions"] if d["group"] is None}
    table = pandas.read_csv(people)
    assert not {"session", "capture", "participant", "item", "frame"} & set(everyone)
    at = {p["percent"]: p for p in everyone["stature"]["percentiles"]}
    assert at[50]["value"] == pytest.approx(table["stature_mm"].median(), abs=1e-9)
    assert at[50]["interval"][0] < at[50]["value"] < at[50]["interval"][1]
    # 40 people carry P10, not P5 or P1
    assert at[10]["value"] and at[5]["value"] is None and at[1]["value"] is None
    assert "do not add up" in told["caution"]
    correlations = pandas.read_csv(into / "correlations.csv", index_col=0)
    assert correlations.shape[0] == correlations.shape[1] >= 100
    pairs = pandas.read_csv(into / "correlations-n.csv", index_col=0)
    both = table[["stature_mm", "inside_leg_mm"]].notna().all(axis=1).sum()
    assert pairs.shape == correlations.shape and pairs.loc["stature", "inside_leg"] == both
    at = told["correlated"].index
    assert told["correlation_n"][at("stature")][at("inside_leg")] == both
    found = told["correlations"][told["correlated"].index("stature")][told["correlated"].index("inside_leg")]
    assert found == pytest.approx(np.corrcoef(table["stature_mm"], table["inside_leg_mm"])[0, 1], abs=1e-9)


def test_an_outlier_is_named_and_kept(people, tmp_path):
    table = pandas.read_csv(people)
    table.loc[7, "stature_mm"] = 2600.0
    path = tmp_path / "t.csv"
    table.to_csv(path, index=False)
    told = program.ok("percentiles", path, "--resamples", 0)
    assert any(o["id"] == str(table.iloc[7, 0]) and o["dimension"] == "stature" for o in told["out_of_range"]), told["out_of_range"][:3]
    stature = next(d for d in told["distributions"] if d["dimension"] == "stature" and d["group"] is None)
    assert stature["n"] == len(table)


def test_requests_for_percentiles_that_make_no_sense(people, tmp_path):
    assert "`sex`" in program.refused("percentiles", people, "--by", "sx")
    program.refused("percentiles", people, "--weight", "sex")
    table = pandas.read_csv(people)
    table.copy().assign(weight=-1.0).to_csv(tmp_path / "t.csv", index=False)
    assert "negative" in program.refused("percentiles", tmp_path / "t.csv", "--weight", "weight")
    program.refused("percentiles", tmp_path / "nowhere.csv")


def rows_of(path):
    """The cells of a CSV file, every row as long as its header."""
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    assert {len(r) for r in rows} == {len(rows[0])}, path.name
    return rows


@pytest.fixture(scope="module")
def quoted(people, tmp_path_factory):
    """A table whose headers need quotation marks: with a comma, and with quotation marks themselves."""
    table = pandas.read_csv(people)[["participant", "sex", "chest_girth_mm", "waist_girth_mm"]]
    table = table.rename(columns={"chest_girth_mm": "chest, relaxed_mm", "waist_girth_mm": 'waist "natural"_mm'})
    path = tmp_path_factory.mktemp("quoted") / "people.csv"
    table.to_csv(path, index=False)
    return path, ["chest, relaxed", 'waist "natural"']


def test_percentiles_of_dimensions_with_commas_and_quotation_marks(quoted, tmp_path):
    path, names = quoted
    told = program.ok("percentiles", path, "--by", "sex", "--resamples", 20, "--into", tmp_path / "p")
    assert told["correlated"] == names
    found = {name: rows_of(tmp_path / "p" / name) for name in ("percentiles.csv", "correlations.csv", "correlations-n.csv", "out-of-range.csv")}
    assert [r[0] for r in found["percentiles.csv"][1:]] == 3 * names
    for name in ("correlations.csv", "correlations-n.csv"):
        assert found[name][0] == ["dimension", *names] and [r[0] for r in found[name][1:]] == names


def test_agreement_of_dimensions_with_commas_and_quotation_marks(quoted, tmp_path):
    path, names = quoted
    scan = pandas.read_csv(path)
    hand = scan.copy()
    hand.iloc[:, 2:] = hand.iloc[:, 2:] + 1.5 * np.random.default_rng(5).standard_normal((len(scan), 2))
    hand.to_csv(tmp_path / "hand.csv", index=False)
    into = tmp_path / "a"
    told = program.ok("agree", path, tmp_path / "hand.csv", "--into", into)
    assert [d["dimension"] for d in told["dimensions"]] == names
    assert [r[0] for r in rows_of(into / "agreement.csv")[1:]] == names
    assert len(list(into.glob("*.svg"))) == 2
    first, second = scan.assign(session=1), hand.assign(session=2)
    pandas.concat([first, second]).to_csv(tmp_path / "repeats.csv", index=False)
    told = program.ok("agree", "--repeats", tmp_path / "repeats.csv", "--into", tmp_path / "r")
    assert [(d["dimension"], d["unit"]) for d in told["dimensions"]] == [(n, "mm") for n in names]
    rows = rows_of(tmp_path / "r" / "repeatability.csv")
    assert [r[:2] for r in rows[1:]] == [[n, "mm"] for n in names]
