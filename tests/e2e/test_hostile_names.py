"""Names as people write them, with commas, quotation marks, line breaks, signs of formulas and markup, letters of other alphabets and 300 characters:
every command hands them over as they came, and every table it writes has as many cells in each row as in its header."""

import csv
import io
import json
import re

import numpy as np
import pandas
import pyarrow.parquet
import pytest

import bodies
import program

COMMA, QUOTE, LINES, FORMULA = "chest, relaxed", 'crew "A", north', "two\nlines", "=1+1"
MARKUP, UMLAUT, HEBREW, LONG = "<b>bold</b>", "Größe ß", "מידה, \"א\"", "x" * 300
NAMES = [COMMA, QUOTE, LINES, FORMULA, MARKUP, UMLAUT, HEBREW, LONG]
# the names of files have no line break everywhere and fewer than 255 bytes
STEMS = [COMMA, QUOTE, FORMULA, "<b>bold<b>", UMLAUT, HEBREW, "y" * 200]
WATCH, GROUPS = 'watch, "by night"', ['crew "A", north', "=<i>ü\n2"]
TRUNK, SOFT, NAVEL = 'trunk, "upper"', "=soft, left", "<navel>, ü"
JOINTS = ['hips, "=1"', "neck, ü"]
# a column of numbers; an option that takes NAME=VALUE must find where the name ends
WORN = 'mass, "a=b"\nworn'
COUNT = 26
DIMENSIONS = """
[[dimension]]
name = "stature"
kind = "height"
at = { furthest = "up" }

[[dimension]]
name = "depth"
kind = "distance"
between = [{ furthest = "front" }, { furthest = "back" }]
"""


def write(path, rows):
    """A CSV table as Python's own writer makes it."""
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path


def read(path):
    """A CSV table as words, read twice: by Python with the fields of every row counted, and by pandas, which must find the same."""
    text = path.read_bytes().decode("utf-8")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    counts = {len(r) for r in rows}
    assert len(counts) == 1, f"{path.name}: rows of {sorted(counts)} fields\n{text[:600]}"
    assert len(set(rows[0])) == len(rows[0]), f"{path.name}: {rows[0]}"
    table = pandas.read_csv(path, dtype=str, keep_default_na=False, skip_blank_lines=False)
    assert list(table.columns) == rows[0] and len(table) == len(rows) - 1, path.name
    for at, column in enumerate(rows[0]):
        found = [v.replace("\r\n", "\n") for v in table[column]]
        assert found == [r[at] for r in rows[1:]], f"{path.name}: {column}"
    return table


def tables(*places):
    """Every table in the folders and files, each read with constant numbers of fields."""
    found = {}
    for place in places:
        for path in [place] if place.is_file() else sorted(p for p in place.rglob("*") if p.is_file()):
            if path.suffix == ".csv":
                found[str(path)] = read(path)
            elif path.suffix == ".parquet":
                arrow = pyarrow.parquet.read_table(path)
                assert len(set(arrow.column_names)) == len(arrow.column_names), path
                found[str(path)] = arrow.to_pandas()
    assert found, f"no table in {places}"
    return found


def held(found, words, what):
    """That a column of a table holds all these words, or its header has them as its columns."""
    words = set(words)
    for table in found.values():
        if words <= set(map(str, table.columns)) or any(words <= set(map(str, table[c])) for c in table):
            return
    seen = {name.rsplit("/", 1)[1]: list(map(str, t.columns))[:8] for name, t in found.items()}
    raise AssertionError(f"{what}: no table holds {words}: {seen}")


def headed(found, parts, what):
    """That for each of these names a table has a header that begins with it."""
    for part in parts:
        heads = [str(c) for t in found.values() for c in t.columns]
        assert any(h.startswith(part) for h in heads), f"{what}: no header begins with {part!r}: {heads[:30]}"


def shown(path):
    """The page of a command: no markup of a name is taken as markup, and its tables have rows of as many cells as their header."""
    page = path.read_text(encoding="utf-8")
    assert MARKUP not in page and "<i>ü" not in page and "NaN" not in re.sub(r"<script\b.*?</script>", "", page, flags=re.S), path
    for table in re.findall(r"<table.*?</table>", page, re.S):
        widths = set()
        for row in re.findall(r"<tr.*?</tr>", table, re.S):
            spans = [int(w) for w in re.findall(r'colspan="(\d+)"', row)]
            widths.add(len(re.findall(r"<t[hd][ >]", row)) + sum(spans) - len(spans))
        assert len(widths) == 1, f"{path.name}: rows of {sorted(widths)} cells\n{table[:600]}"
    return page


def people():
    """Names of so many people: the hostile ones first."""
    return NAMES + [f"P{i:02}" for i in range(len(NAMES), COUNT)]


def ring(r):
    """The vertices of a ring of the body."""
    return range(r * bodies.AROUND, (r + 1) * bodies.AROUND)


def template(folder):
    """The tube with regions, a landmark, joints and sides under hostile names."""
    bodies.ply(folder / "template.ply", bodies.body())
    mirror = [(v // bodies.AROUND) * bodies.AROUND + (bodies.AROUND // 2 - v) % bodies.AROUND for v in range(bodies.RINGS * bodies.AROUND)]
    mirror += [bodies.RINGS * bodies.AROUND, bodies.RINGS * bodies.AROUND + 1]
    np.save(folder / "mirror.npy", np.array(mirror, "<i4"))
    listed = lambda vertices: '"' + ", ".join(map(str, vertices)) + '"'
    soft = [v for r in (16, 17, 18) for v in ring(r) if np.sin(2 * np.pi * (v % bodies.AROUND) / bodies.AROUND) < -0.1]
    trunk = [v for r in range(20, 25) for v in ring(r)]
    key = json.dumps
    (folder / "template.toml").write_text(
        'mesh = "template.ply"\nversion = "tube"\nunit = "mm"\nup = "z"\nmirror = "mirror.npy"\n\n'
        f"[landmarks]\n{key(NAVEL)} = {soft[3]}\n\n[regions]\n{key(TRUNK)} = {listed(trunk)}\n{key(SOFT)} = {listed(soft)}\n\n"
        f"[[joints]]\nname = {key(JOINTS[0])}\nring = {listed(ring(14))}\n\n"
        f"[[joints]]\nname = {key(JOINTS[1])}\nparent = {key(JOINTS[0])}\nring = {listed(ring(25))}\n",
        encoding="utf-8",
    )
    return folder / "template.toml"


@pytest.fixture(scope="module")
def crews(tmp_path_factory):
    """A folder with the scans of the crews, their table, a template and a cohort."""
    folder = tmp_path_factory.mktemp("crews")
    (folder / "scans").mkdir()
    rows = [["file", "participant", WATCH, "age_years", WORN + "_kg"]]
    stems = STEMS + [f"s{i:02}" for i in range(len(STEMS), COUNT)]
    for i, (stem, person, positions) in enumerate(zip(stems, people(), bodies.people(COUNT))):
        bodies.ply(folder / "scans" / f"{stem}.ply", positions)
        rows.append([stem, person, GROUPS[i % 2], 20 + i, 60 + 7 * i % 13])
    write(folder / "people.csv", rows)
    (folder / "dimensions.toml").write_text(DIMENSIONS)
    program.ok(
        "import", folder / "scans", "--into", folder / "c.cohort", "--participants", folder / "people.csv", "--template", template(folder),
        "--unit", "mm", "--up", "z", "--sequences", "never", code=(0, 1),
    )
    program.ok(
        "space", folder / "c.cohort", "--into", folder / "s.safetensors", "--coefficients", folder / "c.parquet", "--modes", 6, "--no-criteria",
        "--dimensions", folder / "dimensions.toml", "--predict-from", "stature", "--predict-from", WATCH, "--predict-from", WORN, "--folds", 4,
        "--report", folder / "s.html", code=(0, 1),
    )
    return folder


def test_import_space_and_export(crews, tmp_path):
    found = tables(crews / "c.cohort")
    held(found, people(), "items")
    held(found, GROUPS, "items")
    assert any(WATCH in t.columns for t in found.values())
    shown(crews / "s.html")
    program.ok("export", "coefficients", crews / "s.safetensors", crews / "c.cohort", "--into", tmp_path / "c.parquet")
    for table in (tables(crews / "c.parquet"), tables(tmp_path / "c.parquet")):
        held(table, people(), "coefficients")
        held(table, STEMS, "coefficients")
        held(table, GROUPS, "coefficients")
        headed(table, [WATCH, WORN], "coefficients")
    program.ok("export", "meshes", crews / "c.cohort", "--into", tmp_path / "meshes")
    assert len(list((tmp_path / "meshes").iterdir())) == COUNT
    program.ok("check", crews / "c.cohort", "--report", tmp_path / "check.html", code=(0, 1))
    shown(tmp_path / "check.html")
    said = program.ok("inspect", crews / "c.cohort")
    assert said["people"] == COUNT


def test_a_set_for_learning(crews, tmp_path):
    program.ok(
        "export", "ml", crews / "c.cohort", "--into", tmp_path / "ml", "--stratify", WATCH, "--dimensions", crews / "dimensions.toml",
        "--modes", 5, "--mirrored", code=(0, 1),
    )
    found = tables(tmp_path / "ml")
    for name, table in found.items():
        if "participant" in table:
            known = set(people())
            assert set(table["participant"]) <= known, name
    held(found, people(), "set")
    held(found, [WATCH], "set")
    held(found, GROUPS, "set")
    # the parts again as a table of one's own, items under their names
    items = next(t for t in tables(crews / "c.cohort").values() if "item" in t.columns)
    part = dict(zip(people(), ["test", "validation", *["train"] * (COUNT - 2)]))
    splits = write(tmp_path / "splits.csv", [["item", "split"], *([r["item"], part[r["participant"]]] for _, r in items.iterrows())])
    program.ok("export", "ml", crews / "c.cohort", "--splits", splits, "--modes", 5, "--into", tmp_path / "own", code=(0, 1))
    for table in tables(tmp_path / "own").values():
        if {"participant", "split"} <= set(table.columns):
            assert {p: s for p, s in zip(table["participant"], table["split"])} == part
            break
    else:
        raise AssertionError("no table tells the parts of people")


def test_spaces_of_two_laboratories(crews, tmp_path):
    """Joined spaces know the columns of both, and project and predict under them."""
    scans = sorted((crews / "scans").iterdir())
    table = read(crews / "people.csv")
    for name, own in (("north", scans[::2]), ("south", scans[1::2])):
        rows = table[table["file"].isin([p.stem for p in own])]
        write(tmp_path / f"{name}.csv", [list(table.columns), *rows.values.tolist()])
        program.ok(
            "import", *own, "--into", tmp_path / f"{name}.cohort", "--participants", tmp_path / f"{name}.csv", "--template", crews / "template.toml",
            "--unit", "mm", "--up", "z", "--sequences", "never", code=(0, 1),
        )
        program.ok(
            "space", tmp_path / f"{name}.cohort", "--into", tmp_path / f"{name}.safetensors", "--modes", 6, "--no-criteria", "--folds", 4,
            "--dimensions", crews / "dimensions.toml", code=(0, 1),
        )
    both = tmp_path / "both.safetensors"
    told = program.ok("merge", tmp_path / "north.safetensors", tmp_path / "south.safetensors", "--into", both, "--report", tmp_path / "m.html", code=(0, 1))
    assert told["people"] == COUNT
    shown(tmp_path / "m.html")
    program.ok("project", both, scans[0], "--unit", "mm", "--up", "z", "--into", tmp_path / "p.csv", code=(0, 1))
    assert scans[0].name in next(iter(tables(tmp_path / "p.csv").values())).iloc[0, 0]
    program.ok("export", "coefficients", both, crews / "c.cohort", "--into", tmp_path / "c.parquet")
    held(tables(tmp_path / "c.parquet"), people(), "coefficients")
    told = program.run("compare", both, "--cohort", crews / "c.cohort", "--by", WATCH, "--permutations", 99, "--json")
    assert told.code == 0 and told.json["groups"] == sorted(GROUPS), str(told)


def test_new_bodies_and_parts(crews, tmp_path):
    new = tmp_path / "new"
    new.mkdir()
    for stem, positions in zip(STEMS, bodies.people(len(STEMS), seed=5)):
        bodies.ply(new / f"{stem}.ply", positions)
    space = crews / "s.safetensors"
    program.ok(
        "project", space, *sorted(new.iterdir()), "--unit", "mm", "--up", "z", "--into", tmp_path / "new.csv", "--report", tmp_path / "new.html", code=(0, 1)
    )
    shown(tmp_path / "new.html")
    first = next(iter(tables(tmp_path / "new.csv").values())).iloc[:, 0]
    assert all(any(stem in file for file in first) for stem in STEMS), list(first)
    told = program.ok(
        "predict", space, "--dimension", "stature=1750", "--level", f"{WATCH}={GROUPS[0]}", "--into", tmp_path / "p.ply",
        "--intervals", tmp_path / "p.csv", code=(0, 1),
    )
    assert len(next(iter(tables(tmp_path / "p.csv").values()))) == told["vertices"]
    told = program.ok(
        "predict", space, "--dimension", f"{WORN}=66", "--error", f"{WORN}=2", "--into", tmp_path / "worn.ply", "--report", tmp_path / "worn.html",
        code=(0, 1),
    )
    assert json.dumps(WORN) in json.dumps(told)
    shown(tmp_path / "worn.html")
    program.ok(
        "complete", space, new / f"{COMMA}.ply", "--missing", SOFT, "--unit", "mm", "--up", "z", "--into", tmp_path / "w.ply",
        "--calibrate", crews / "c.cohort", "--intervals", tmp_path / "w.csv", "--report", tmp_path / "w.html", code=(0, 1),
    )
    tables(tmp_path / "w.csv")
    shown(tmp_path / "w.html")
    # a body from landmarks, one of them under its name
    places = bodies.people(1, seed=5)[0]
    marks = [(str(v), places[v]) for v in (5, 105, 210, 455)]
    landmark = int(re.search(r"\[landmarks\]\n.* = (\d+)", (crews / "template.toml").read_text(encoding="utf-8"))[1])
    marks.append((NAVEL, places[landmark]))
    write(tmp_path / "marks.csv", [["name", "x_mm", "y_mm", "z_mm"], *([n, *np.round(p, 2)] for n, p in marks)])
    program.ok(
        "complete", space, "--landmarks", tmp_path / "marks.csv", "--error-mm", 3, "--into", tmp_path / "l.ply", "--intervals", tmp_path / "l.csv",
        "--report", tmp_path / "l.html", code=(0, 1),
    )
    tables(tmp_path / "l.csv")
    shown(tmp_path / "l.html")
    # a hole at a place that the table names by its item
    write(tmp_path / "holes.csv", [["item", "regions"], *([s, SOFT] for s in STEMS)])
    program.ok(
        "complete", space, "--cohort", crews / "c.cohort", "--holes", tmp_path / "holes.csv", "--into", tmp_path / "whole.cohort", code=(0, 1)
    )
    found = tables(tmp_path / "whole.cohort")
    held({n: t for n, t in found.items() if "filled" in n}, STEMS, "complete")
    held(found, people(), "complete")


@pytest.mark.parametrize("level", GROUPS)
def test_a_level_that_begins_with_a_sign(crews, tmp_path, level):
    told = program.ok(
        "predict", crews / "s.safetensors", "--dimension", "stature=1750", "--level", f"{WATCH}={level}", "--into", tmp_path / "p.ply", code=(0, 1)
    )
    assert json.dumps(level)[1:-1] in json.dumps(told)


def test_groups_slopes_sides_and_a_map(crews, tmp_path):
    of = [crews / "s.safetensors", "--coefficients", crews / "c.parquet"]
    told = program.ok("compare", *of, "--by", WATCH, "--covariate", WORN + "_kg", "--permutations", 99, "--into", tmp_path / "compared", "--report", tmp_path / "c.html")
    assert told["groups"] == sorted(GROUPS) and told["covariates"] == [WORN + "_kg"]
    shown(tmp_path / "c.html")
    assert all(json.dumps(g)[1:-1] in json.dumps(told) for g in GROUPS)
    tables(tmp_path / "compared")
    for k, on in enumerate(("age_years", WORN + "_kg")):
        told = program.ok("regress", *of, "--on", on, "--by", WATCH, "--permutations", 99, "--into", tmp_path / f"slope{k}", "--report", tmp_path / f"s{k}.html")
        assert told["on"] == on and told["by"] == WATCH and told["groups"] == sorted(GROUPS)
        tables(tmp_path / f"slope{k}")
        shown(tmp_path / f"s{k}.html")
    program.ok(
        "symmetry", crews / "c.cohort", "--permutations", 99, "--draws", 50, "--into", tmp_path / "sides", "--report", tmp_path / "sides.html"
    )
    held(tables(tmp_path / "sides"), people(), "symmetry")
    shown(tmp_path / "sides.html")
    table = write(tmp_path / "more.csv", [["participant", COMMA + "_mm", QUOTE], *([p, i, GROUPS[i % 2]] for i, p in enumerate(people()))])
    told = program.ok("map", *of, "--table", table, "--into", tmp_path / "map.csv", "--report", tmp_path / "map.html")
    found = tables(tmp_path / "map.csv")
    held(found, people(), "map")
    headed(found, [COMMA, QUOTE, WATCH, WORN], "map")
    assert sorted(told["participants"]) == sorted(people())
    shown(tmp_path / "map.html")
    program.ok("map", *of, "--table", table, "--colour", WATCH, "--colour", COMMA + "_mm", "--into", tmp_path / "two.csv")
    headed(tables(tmp_path / "two.csv"), [WATCH, COMMA], "map")


def test_samples_of_groups_with_quotation_marks(crews, tmp_path):
    program.ok(
        "sample", crews / "s.safetensors", "--coefficients", crews / "c.parquet", "--by", WATCH, "--count", 8, "--modes", 3, "--no-crossings",
        "--into", tmp_path / "drawn", code=(0, 1),
    )
    found = tables(tmp_path / "drawn")
    drawn = next(t for n, t in found.items() if n.endswith("samples.csv"))
    held({"samples": drawn}, GROUPS, "sample")
    assert len(drawn) == 8
    program.ok(
        "sample", crews / "s.safetensors", "--cohort", crews / "c.cohort", "--by", WATCH, "--group", GROUPS[1], "--count", 4, "--modes", 3,
        "--no-crossings", "--into", tmp_path / "one", "--report", tmp_path / "one.html", code=(0, 1),
    )
    one = next(t for n, t in tables(tmp_path / "one").items() if n.endswith("samples.csv"))
    assert len(one) == 4 and any(set(one[c]) == {GROUPS[1]} for c in one), list(one.columns)
    shown(tmp_path / "one.html")


def test_measuring_and_joints(crews, tmp_path):
    program.ok("measure", crews / "c.cohort", "--into", tmp_path / "plain.csv")
    held(tables(tmp_path / "plain.csv"), people(), "measure")
    held(tables(tmp_path / "plain.csv"), STEMS, "measure")
    for per in ("item", "person"):
        program.ok(
            "measure", crews / "c.cohort", "--dimensions", crews / "dimensions.toml", "--by", WATCH, "--per", per, "--into", tmp_path / f"{per}.csv"
        )
        found = tables(tmp_path / f"{per}.csv")
        held(found, people(), "measure")
        held(found, GROUPS, "measure")
        headed(found, [WATCH, WORN], "measure")
    program.ok(
        "measure", crews / "c.cohort", "--dimensions", crews / "dimensions.toml", "--by", WATCH, "--into", tmp_path / "m.csv", "--report", tmp_path / "m.html"
    )
    shown(tmp_path / "m.html")
    program.ok("joints", crews / "c.cohort", "--into", tmp_path / "joints", "--report", tmp_path / "joints.html")
    shown(tmp_path / "joints.html")
    found = tables(tmp_path / "joints")
    held(found, STEMS, "joints")
    headed(found, [f"{JOINTS[0]}_x", f"{JOINTS[0]}_to_{JOINTS[1]}"], "joints")


def population(path, header, count=COUNT, per_person=1, who=("participant", "session", "crew")):
    """A table of people with dimensions under hostile headers."""
    r = np.random.default_rng(2)
    rows = [[*who, header, QUOTE + "_mm", HEBREW + "_mm", LONG + "_mm"]]
    for i, person in enumerate((NAMES + [f"P{i:02}" for i in range(count)])[:count]):
        own = r.normal([1000, 900, 400, 300], [60, 50, 20, 15])
        rows += [[person, FORMULA + str(k), GROUPS[i % 2], *np.round(own + r.normal(0, 2, 4), 2)] for k in range(per_person)]
    return write(path, rows)


def test_percentiles_of_a_dimension_with_a_comma(tmp_path):
    table = population(tmp_path / "people.csv", "chest, relaxed_mm")
    program.ok("percentiles", table, "--by", "crew", "--resamples", 20, "--into", tmp_path / "p")
    found = tables(tmp_path / "p")
    names = [COMMA, QUOTE, HEBREW, LONG]
    by = {n.rsplit("/", 1)[1]: t for n, t in found.items()}
    assert len(by["percentiles.csv"].columns) == 34
    held({"p": by["percentiles.csv"]}, names, "percentiles")
    held({"p": by["percentiles.csv"]}, GROUPS, "percentiles")
    for name in ("correlations.csv", "correlations-n.csv"):
        assert list(by[name].columns) == ["dimension", *names] and list(by[name]["dimension"]) == names
    assert set(by["percentiles.csv"]["unit"]) == {"mm"}
    # groups and weights in columns under such names
    whole = read(table)
    rows = whole.rename(columns={"crew": WATCH}).assign(**{MARKUP: [str(1 + i % 3) for i in range(len(whole))]})
    again = write(tmp_path / "again.csv", [list(rows.columns), *rows.values.tolist()])
    program.ok("percentiles", again, "--by", WATCH, "--weight", MARKUP, "--resamples", 20, "--into", tmp_path / "w", "--report", tmp_path / "w.html")
    found = {n.rsplit("/", 1)[1]: t for n, t in tables(tmp_path / "w").items()}
    held({"p": found["percentiles.csv"]}, names, "percentiles")
    held({"p": found["percentiles.csv"]}, GROUPS, "percentiles")
    shown(tmp_path / "w.html")


def test_repeats_of_a_dimension_with_a_comma(tmp_path):
    table = population(tmp_path / "repeats.csv", "chest, relaxed_mm", per_person=2)
    told = program.ok("agree", "--repeats", table, "--into", tmp_path / "a")
    rows = next(iter(tables(tmp_path / "a").values()))
    assert len(rows.columns) == 17 and set(rows["unit"]) == {"mm"}
    assert list(rows["dimension"]) == [COMMA, QUOTE, HEBREW, LONG] == [d["dimension"] for d in told["dimensions"]]
    # people and sessions in columns under such names
    other = population(tmp_path / "other.csv", "chest, relaxed_mm", per_person=2, who=(WATCH, FORMULA, "crew"))
    program.ok("agree", "--repeats", other, "--participant", WATCH, "--session", FORMULA, "--into", tmp_path / "b")
    assert list(next(iter(tables(tmp_path / "b").values()))["dimension"]) == [COMMA, QUOTE, HEBREW, LONG]


def test_scan_against_hand(tmp_path):
    scan = population(tmp_path / "scan.csv", "chest, relaxed_mm", count=30)
    hand = population(tmp_path / "hand.csv", "chest, relaxed_mm", count=30)
    program.ok("agree", scan, hand, "--into", tmp_path / "a", "--report", tmp_path / "a.html")
    shown(tmp_path / "a.html")
    rows = next(iter(tables(tmp_path / "a").values()))
    assert list(rows["dimension"]) == [COMMA, QUOTE, HEBREW, LONG]
    # a chart of every dimension, and none of them elsewhere
    assert len(list((tmp_path / "a").glob("*.svg"))) == 4


def test_sizes_from_tables_with_hostile_names(tmp_path):
    table = population(tmp_path / "people.csv", "chest, relaxed_mm", count=60)
    key = json.dumps
    (tmp_path / "plan.toml").write_text(
        f'by = "crew"\nfolds = 3\nrepeats = 1\nsecondary = [{key(HEBREW)}]\n[sizes]\ncount = 2\n'
        + "".join(f"[[control]]\ndimension = {key(d)}\ntolerance = {{ below = 60, above = 60 }}\n" for d in (COMMA, QUOTE)),
        encoding="utf-8",
    )
    program.ok("size", table, "--plan", tmp_path / "plan.toml", "--into", tmp_path / "sizes", "--report", tmp_path / "sizes.html")
    shown(tmp_path / "sizes.html")
    grows = write(tmp_path / "grows.csv", [["dimension", "grows_mm", "shrinks_mm"], [COMMA, 20, 5], [QUOTE, 10, 10]])
    told = program.ok("size", table, "--plan", tmp_path / "plan.toml", "--allowances", grows, "--into", tmp_path / "moving")
    assert told["movement"]["coverage_in_sample"] < told["coverage_in_sample"]
    held(tables(tmp_path / "moving"), NAMES, "assignments")
    found = tables(tmp_path / "sizes")
    held(found, NAMES, "assignments")
    held(found, GROUPS, "groups")
    held(found, [COMMA, QUOTE], "left out")
    headed(found, [f"{COMMA}_low_mm", f"{QUOTE}_high_mm", f"{HEBREW}_mean_mm"], "chart")
    new = population(tmp_path / "new.csv", "chest, relaxed_mm", count=12)
    chart = next(p for p in (tmp_path / "sizes").rglob("*chart*.csv"))
    program.ok("size", "--chart", chart, "--assign", new, "--by", "crew", "--into", tmp_path / "advice", code=(0, 1))
    held(tables(tmp_path / "advice"), NAMES, "advice")
    told = program.ok("size", table, "--chart", chart, "--into", tmp_path / "tried", code=(0, 1))
    held(tables(tmp_path / "tried"), NAMES, "a chart that is there")
    assert told["people"] == 60


CAPTURES = ['walk, "bare"', "=jump <b>ü"]


@pytest.fixture(scope="module")
def moved(tmp_path_factory):
    """A cohort of two people in two captures each, under hostile names."""
    folder = tmp_path_factory.mktemp("moved")
    hz, fps, seconds = 2.0, 40.0, 3.0
    t = np.arange(int(seconds * fps)) / fps
    rows = [["capture", "participant", WATCH]]
    soft = [v for r in (16, 17, 18) for v in ring(r) if np.sin(2 * np.pi * (v % bodies.AROUND) / bodies.AROUND) < -0.1]
    stems = []
    for i, person in enumerate((QUOTE, HEBREW)):
        for k, capture in enumerate(CAPTURES):
            stem = f"{capture} {i}"
            frames = []
            for s in t:
                p = bodies.body(stature=1700 + 60 * i, lean=20 * np.sin(2 * np.pi * hz * s))
                p[soft, 2] += (11 - 4 * k) * np.sin(2 * np.pi * hz * s - 0.6)
                frames.append(p + [200 * s, 0, 50 + 30 * np.sin(2 * np.pi * hz * s)])
            np.save(folder / f"{stem}.npy", np.array(frames, "<f4"))
            pandas.DataFrame({"frame": range(len(t)), "time_s": t}).to_csv(folder / f"{stem}.times.csv", index=False)
            rows.append([stem, person, GROUPS[k]])
            stems.append(stem)
    write(folder / "people.csv", rows)
    (folder / "dimensions.toml").write_text(DIMENSIONS)
    program.ok(
        "import", *[folder / f"{s}.npy" for s in stems], "--into", folder / "m.cohort", "--participants", folder / "people.csv",
        "--template", template(folder), "--unit", "mm", "--up", "z", code=(0, 1),
    )
    return folder, stems


def test_a_movement_with_hostile_regions(moved, tmp_path):
    folder, stems = moved
    held(tables(folder / "m.cohort"), stems, "captures")
    held(tables(folder / "m.cohort"), [QUOTE, HEBREW], "people")
    events = write(folder / "events.csv", [["capture", "time_s"], *([s, 0.25 + 0.5 * k] for s in stems for k in range(5))])
    program.ok(
        "motion", folder / "m.cohort", "--capture", stems[1], "--against", stems[0], "--frame", TRUNK, "--tissue", SOFT, "--landmarks", "--strain",
        "--events", events, "--dimensions", folder / "dimensions.toml", "--follow", "stature", "--into", tmp_path / "motion",
        "--report", tmp_path / "motion.html", code=(0, 1),
    )
    shown(tmp_path / "motion.html")
    found = tables(tmp_path / "motion")
    headed(found, [f"{NAVEL}_x_mm", f"{SOFT}_largest", f"{TRUNK}_largest"], "motion")
    held(found, [SOFT], "tissue")
    program.ok("joints", folder / "m.cohort", "--capture", stems[0], "--into", tmp_path / "joints")
    headed(tables(tmp_path / "joints"), [f"{JOINTS[1]}_x_mm"], "joints")


def test_frames_and_sets_of_movements(moved, tmp_path):
    """Times from a table of all captures, frames as meshes, coefficients and sets for learning through time."""
    folder, stems = moved
    scans = tmp_path / "scans"
    scans.mkdir()
    rows = [["capture", "frame", "time_s"]]
    for k, stem in enumerate(stems):
        np.save(scans / f"{stem}.npy", np.load(folder / f"{stem}.npy"))
        rows += [[stem, i, round(i / (20 + 10 * k), 6)] for i in range(120)]
    write(tmp_path / "times.csv", rows)
    program.ok(
        "import", *sorted(scans.iterdir()), "--into", tmp_path / "m.cohort", "--participants", folder / "people.csv", "--times", tmp_path / "times.csv",
        "--template", folder / "template.toml", "--unit", "mm", "--up", "z", code=(0, 1),
    )
    told = program.ok("inspect", tmp_path / "m.cohort")
    assert {c["capture"]: round(c["fps"]) for c in told["captures"]} == {stem: 20 + 10 * k for k, stem in enumerate(stems)}
    cohort = tmp_path / "m.cohort"
    rows = read(cohort / "items.csv")
    items = list(rows["item"])
    assert set(rows["capture"]) == set(stems) and len(items) == 120 * len(stems)
    program.ok("export", "meshes", cohort, "--items", "all", "--into", tmp_path / "frames")
    assert len([p for p in (tmp_path / "frames").iterdir() if p.suffix == ".ply"]) == 120 * len(stems)
    program.ok("space", cohort, "--items", "all", "--modes", 4, "--no-criteria", "--no-cross-validation", "--into", tmp_path / "s.safetensors", code=(0, 1))
    program.ok("export", "coefficients", tmp_path / "s.safetensors", cohort, "--items", "all", "--into", tmp_path / "c.parquet")
    found = tables(tmp_path / "c.parquet")
    held(found, items, "coefficients")
    held(found, [QUOTE, HEBREW], "coefficients")
    own = ["train" if p == QUOTE else "test" for p in rows["participant"]]
    parts = write(tmp_path / "parts.csv", [["item", "split"], *zip(items, own)])
    program.ok(
        "export", "ml", cohort, "--items", "all", "--sequences", "--splits", parts, "--modes", 4, "--into", tmp_path / "ml", code=(0, 1)
    )
    found = tables(tmp_path / "ml")
    held(found, stems, "set")
    held(found, [QUOTE, HEBREW], "set")


POINTS = ["sternum, \"up\"", "=left", "<right>", "ü נ"]


def test_points_with_hostile_names(tmp_path):
    t = np.arange(400) / 100
    paths = []
    for person in range(2):
        for soft in (20.0, 8.0):
            trunk = np.array([[0, 120, 1300], [150, 20, 1350], [-150, 20, 1350]], float)
            beat = np.sin(2 * np.pi * 2 * t)
            points = np.repeat(trunk[None], len(t), 0)
            points[:, :, 2] += 25 * beat[:, None]
            tissue = np.stack([60 + 0 * t, -100 + 0 * t, 1250 + 25 * beat + soft * np.sin(2 * np.pi * 2 * t - 0.6 - 0.1 * person)], 1)
            points = np.concatenate([points, tissue[:, None]], 1)
            path = tmp_path / f"{person}{COMMA}_{soft}.csv"
            head = ["time_s", *(f"{n}_{a}_mm" for n in POINTS for a in "xyz")]
            paths.append(write(path, [head, *([s, *np.round(row, 4)] for s, row in zip(t, points.reshape(len(t), -1)))]))
    events = write(tmp_path / "events.csv", [["capture", "time_s"], *([p.stem, 0.375 + 0.5 * k] for p in paths for k in range(7))])
    program.ok(
        "points", paths[0], paths[2], "--against", paths[1], "--against", paths[3], "--person", QUOTE, "--person", HEBREW,
        *(w for p in POINTS[:3] for w in ("--frame", p)), "--events", events, "--into", tmp_path / "points",
        "--report", tmp_path / "points.html", code=(0, 1),
    )
    shown(tmp_path / "points.html")
    found = tables(tmp_path / "points")
    headed(found, [f"{p}_x_mm" for p in POINTS], "points")
    held(found, [POINTS[3]], "tissue")
    held(found, [QUOTE, HEBREW], "people")
    again = next(p for p in (tmp_path / "points").rglob("points-laboratory.csv"))
    told = program.ok("points", again, "--follow", f"{POINTS[3]}_z", code=(0, 1))
    assert told["captures"][0]["frames"] == len(t)
    # in a study: a folder for each record, and the people of the files' names
    (tmp_path / "study.toml").write_text(
        f"title = {json.dumps(QUOTE + MARKUP)}\n[points]\nfiles = {json.dumps([p.name for p in paths])}\nevents = \"events.csv\"\n"
        f"frame = {json.dumps(POINTS[:3])}\ncompare = ["
        + ", ".join(f"{{ reference = {json.dumps(a.stem)}, garment = {json.dumps(b.stem)} }}" for a, b in (paths[:2], paths[2:]))
        + ']\n[export]\nfolder = "out"\n',
        encoding="utf-8",
    )
    told = program.ok("study", tmp_path / "study.toml", code=(0, 1))
    assert [p["capture"] for p in told["points"]["captures"]] == [p.stem for p in paths]
    found = tables(tmp_path / "out")
    assert len([n for n in found if n.endswith("signals.csv")]) == len(paths)
    held(found, [p.stem for p in paths], "captures")
    held(found, [p.stem.split("_")[0] for p in paths], "people")
    headed(found, [f"{p}_x_mm" for p in POINTS], "points")
    shown(tmp_path / "out" / "report.html")


def test_a_study_of_crews(crews, tmp_path):
    (tmp_path / "plan.toml").write_text(
        f"by = {json.dumps(WATCH)}\nfolds = 3\nrepeats = 1\n[sizes]\ncount = 1\n"
        '[[control]]\ndimension = "stature"\ntolerance = { below = 90, above = 90 }\n',
        encoding="utf-8",
    )
    at = lambda name: json.dumps(str(crews / name))
    watch = json.dumps(WATCH)
    (tmp_path / "study.toml").write_text(
        f'title = {json.dumps(QUOTE + MARKUP)}\n[import]\nmeshes = [{at("scans")}]\nparticipants = {at("people.csv")}\ntemplate = {at("template.toml")}\n'
        f'unit = "mm"\nup = "z"\nsequences = "never"\n[space]\nmodes = 5\nfolds = 3\n[measure]\ndimensions = {at("dimensions.toml")}\nby = {watch}\n'
        f"[predictions]\nfrom = [\"stature\", {watch}, {json.dumps(WORN)}]\n[[regress]]\non = {json.dumps(WORN + '_kg')}\nby = {watch}\npermutations = 99\n"
        f"[[compare]]\nby = {watch}\npermutations = 99\n[symmetry]\npermutations = 99\n[map]\n[sample]\ncount = 6\nby = {watch}\n"
        f'[[complete]]\nmissing = [{json.dumps(SOFT)}]\n[size]\nplan = "plan.toml"\n',
        encoding="utf-8",
    )
    told = program.ok("study", tmp_path / "study.toml", code=(0, 1))
    assert told["refusals"] == []
    given = told["predictions"]["prediction_errors"]["given"]
    assert len(given) == 3 and all(g.startswith(name) for g, name in zip(given, ("stature", WATCH, WORN))), given
    assert told["compare"][0]["groups"] == told["regress"][0]["groups"] == sorted(GROUPS) and told["regress"][0]["on"] == WORN + "_kg"
    found = {n: t for n, t in tables(tmp_path).items()}
    held(found, people(), "study")
    held({n: t for n, t in found.items() if n.endswith("dimensions.csv")}, people(), "dimensions")
    held({n: t for n, t in found.items() if n.endswith("map.csv")}, people(), "map")
    held({n: t for n, t in found.items() if n.endswith("assignments.csv")}, people(), "assignments")
    held({n: t for n, t in found.items() if n.endswith(".parquet")}, people(), "coefficients")
    held(found, GROUPS, "groups")
    shown(tmp_path / "report.html")


def test_a_study_of_movements(moved, tmp_path):
    folder, stems = moved
    at = lambda name: json.dumps(str(folder / name))
    meshes = ", ".join(at(f"{s}.npy") for s in stems)
    (tmp_path / "study.toml").write_text(
        f'title = {json.dumps(QUOTE + MARKUP)}\n[import]\nmeshes = [{meshes}]\nparticipants = {at("people.csv")}\ntemplate = {at("template.toml")}\nunit = "mm"\nup = "z"\n'
        f'[measure]\ndimensions = {at("dimensions.toml")}\n'
        f'[motion]\nmodes = 3\nfollow = ["stature", "depth"]\ncycles = {{ from = "mode-1" }}\n'
        f"tissue = {{ frame = {json.dumps(TRUNK)}, regions = [{json.dumps(SOFT)}] }}\nlandmarks = true\nstrain = {{ smoothing_mm = 25.0 }}\n"
        f"[movements]\nshared = {{ modes = 3 }}\n"
        f"compare = [{{ reference = {json.dumps(stems[0])}, garment = {json.dumps(stems[1])} }}]\n",
        encoding="utf-8",
    )
    program.ok("study", tmp_path / "study.toml", code=(0, 1))
    found = tables(tmp_path)
    by = {}
    for name, table in found.items():
        by.setdefault(name.rsplit("/", 1)[1], table)
    assert set(by["dynamic-people.csv"]["participant"]) == {QUOTE, HEBREW}
    assert set(by["motion-space.csv"]["capture"]) == set(stems)
    assert set(by["motion-space.csv"]["participant"]) == {QUOTE, HEBREW}
    assert set(by["motion-space.parquet"]["capture"]) == set(stems)
    held(found, stems, "captures")
