"""Every kind of bad input that people bring: it is named, with its file, and nothing half-written is left."""

import numpy as np
import pytest

import bodies
import program

GOOD = 6


@pytest.fixture
def scans(tmp_path):
    """A folder of good scans, to be spoilt by the test."""
    folder = tmp_path / "scans"
    everyone = bodies.folder(folder, GOOD, unit=0.001)
    return folder, everyone


def into(folder, *more):
    """Imports a folder of still poses; the cohort and the run."""
    cohort = folder.parent / "people.cohort"
    return cohort, program.run("import", folder, "--into", cohort, "--sequences", "never", "--json", *more)


def found(folder, *more):
    """Imports and checks; the findings of the check, which must be there."""
    cohort, done = into(folder, *more)
    assert done.code in (0, 1), str(done)
    return program.ok("check", cohort, code=1)["findings"]


def names(findings, word):
    """The findings about one item or file."""
    return [f for f in findings if word in f"{f['item']} {f['message']}"]


def nothing_left(folder):
    """Neither a cohort nor a part of one is left beside the folder."""
    left = [p.name for p in folder.parent.iterdir() if p != folder and "cohort" in p.name]
    assert left == [], left


def test_an_empty_folder(tmp_path):
    (tmp_path / "scans").mkdir()
    cohort, done = into(tmp_path / "scans")
    assert done.code == 2, str(done)
    assert "scans" in done.err and "panicked" not in done.err
    nothing_left(tmp_path / "scans")


def test_a_pattern_that_matches_nothing(tmp_path):
    said = program.refused("import", tmp_path / "no" / "*.obj", "--into", tmp_path / "a.cohort")
    assert "*.obj" in said
    nothing_left(tmp_path / "no")


def test_one_file(tmp_path):
    bodies.folder(tmp_path / "scans", 1)
    cohort, done = into(tmp_path / "scans")
    assert done.code in (0, 1), str(done)
    told = program.ok("inspect", cohort)
    assert (told["items"], told["people"]) == (1, 1)
    said = program.refused("space", cohort, "--into", tmp_path / "s.safetensors")
    assert "one" in said and not (tmp_path / "s.safetensors").exists()


@pytest.mark.parametrize("kind", ["obj", "ply"])
def test_a_truncated_file(scans, kind):
    folder, everyone = scans
    bad = folder / f"torn.{kind}"
    (bodies.obj if kind == "obj" else bodies.ply)(bad, everyone[0], unit=0.001)
    whole = bad.read_bytes()
    bad.write_bytes(whole[: len(whole) * 2 // 5])
    cohort, done = into(folder)
    assert done.code == 1, str(done)
    assert any("torn" in q["source"] for q in done.json["quarantined"]), str(done)
    assert names(program.ok("check", cohort, code=1)["findings"], "torn")
    assert program.ok("inspect", cohort)["people"] == GOOD


def test_every_file_truncated(scans):
    folder, _ = scans
    for path in folder.iterdir():
        path.write_bytes(path.read_bytes()[:200])
    _, done = into(folder)
    assert done.code == 2 and "panicked" not in done.err, str(done)
    nothing_left(folder)


def test_a_position_that_is_no_number(scans):
    folder, everyone = scans
    positions = everyone[0].copy()
    positions[7, 2] = np.nan
    bodies.obj(folder / "holed.obj", positions, unit=0.001)
    assert names(found(folder), "holed")


def test_a_triangle_of_a_vertex_that_is_not_there(scans):
    folder, everyone = scans
    faces = bodies.triangles()
    faces[11, 1] = 99_999
    bodies.obj(folder / "beyond.obj", everyone[0], faces, unit=0.001)
    assert names(found(folder), "beyond")


def test_another_topology(scans):
    folder, everyone = scans
    bodies.obj(folder / "other.obj", everyone[0], bodies.triangles()[:-3], unit=0.001)
    assert names(found(folder), "other")


def test_another_number_of_vertices(scans):
    folder, everyone = scans
    positions = np.vstack([everyone[0], [[0, 0, 900]]])
    bodies.obj(folder / "more.obj", positions, unit=0.001)
    assert names(found(folder), "more")


def test_permuted_vertices_under_permuted_triangles(scans):
    folder, everyone = scans
    order = np.random.default_rng(3).permutation(len(everyone[0]))
    place = np.argsort(order)
    bodies.obj(folder / "shuffled.obj", everyone[0][order], place[bodies.triangles()], unit=0.001)
    assert names(found(folder), "shuffled")


def test_permuted_vertices_under_the_same_triangles(scans):
    folder, everyone = scans
    order = np.random.default_rng(3).permutation(len(everyone[0]))
    bodies.obj(folder / "shuffled.obj", everyone[0][order], unit=0.001)
    assert names(found(folder), "shuffled")


def test_mixed_units(scans):
    folder, everyone = scans
    bodies.obj(folder / "centimetres.obj", everyone[0], unit=0.1)
    assert names(found(folder), "centimetres")


def test_a_unit_that_cannot_be(scans):
    folder, _ = scans
    cohort, done = into(folder, "--unit", "mm")
    assert done.code in (0, 1, 2), str(done)
    if done.code != 2:
        kinds = {f["kind"] for f in program.ok("check", cohort, code=1)["findings"]}
        assert "unit" in kinds


def test_a_lying_height_axis(scans):
    folder, everyone = scans
    cohort, done = into(folder, "--up", "x")
    assert done.code in (0, 1, 2), str(done)
    if done.code != 2:
        kinds = {f["kind"] for f in program.ok("check", cohort, code=1)["findings"]}
        assert "height-axis" in kinds


def test_a_mirrored_person(scans):
    folder, everyone = scans
    bodies.obj(folder / "mirrored.obj", everyone[0] * [1, -1, 1] + [0, 0, 3], unit=0.001)
    assert names(found(folder), "mirrored")


def test_a_collapsed_person(scans):
    folder, everyone = scans
    flat = everyone[0] * [1, 0.001, 1]
    bodies.obj(folder / "flat.obj", flat, unit=0.001)
    assert names(found(folder), "flat")


def test_the_same_person_twice(scans):
    folder, everyone = scans
    bodies.obj(folder / "again.obj", everyone[2], unit=0.001)
    findings = names(found(folder), "again")
    assert any("p03" in f"{f['item']} {f['message']}" for f in findings), findings


def test_a_scan_without_a_row_in_the_table(scans):
    folder, _ = scans
    people = bodies.table(folder.parent / "people.csv", ["p01", "p02", "p03", "p04", "p05"])
    findings = found(folder, "--participants", people)
    assert names(findings, "p06")


def test_a_row_in_the_table_without_a_scan(scans):
    folder, _ = scans
    people = bodies.table(folder.parent / "people.csv", [f"p{i:02}" for i in range(1, 8)])
    findings = found(folder, "--participants", people)
    assert names(findings, "p07")


def test_a_table_without_the_column_of_people(scans):
    folder, _ = scans
    people = folder.parent / "people.csv"
    people.write_text("sex,age_years\nf,41\n")
    _, done = into(folder, "--participants", people)
    assert done.code == 2 and "participant" in done.err and "people.csv" in done.err, str(done)
    nothing_left(folder)


def test_a_person_twice_in_the_table(scans):
    folder, _ = scans
    people = bodies.table(folder.parent / "people.csv", ["p01", "p02", "p02", "p03", "p04", "p05", "p06"])
    cohort, done = into(folder, "--participants", people)
    assert done.code in (1, 2) and "p02" in done.err + done.out, str(done)


def test_a_table_of_ragged_rows(scans):
    folder, _ = scans
    people = folder.parent / "people.csv"
    people.write_text("participant,sex\np01,f\np02\np03,m,extra\n")
    _, done = into(folder, "--participants", people)
    assert done.code == 2 and "people.csv" in done.err, str(done)


def test_extra_columns_become_groups(scans):
    folder, _ = scans
    ids = [f"p{i:02}" for i in range(1, GOOD + 1)]
    columns = {"station": ["north", "south"] * 3, "remark": ["none"] * 6}
    people = bodies.table(folder.parent / "people.csv", ids, columns)
    cohort, done = into(folder, "--participants", people)
    assert done.code == 0, str(done)
    rows = (cohort / "items.csv").read_text().splitlines()
    assert "station" in rows[0].split(",") and "remark" in rows[0].split(",")
    assert sum("north" in r for r in rows) == 3


def test_two_people(tmp_path):
    bodies.folder(tmp_path / "scans", 2)
    cohort, done = into(tmp_path / "scans")
    assert done.code in (0, 1), str(done)
    done = program.run("space", cohort, "--into", tmp_path / "s.safetensors", "--json")
    assert "panicked" not in done.err
    # Two people make one mode, or are refused as too few; never more modes than that.
    if done.code == 0:
        assert len(done.json["variances_mm2"]) == 1
    else:
        assert done.code == 2 and "2" in done.err, str(done)


def test_everyone_identical(tmp_path):
    folder = tmp_path / "scans"
    folder.mkdir()
    for i in range(5):
        bodies.obj(folder / f"p{i}.obj", bodies.body())
    cohort, done = into(folder)
    assert done.code in (0, 1), str(done)
    assert len(program.ok("check", cohort, code=1)["findings"]) >= 1
    said = program.refused("space", cohort, "--into", tmp_path / "s.safetensors")
    assert "the same shape" in said
    assert not (tmp_path / "s.safetensors").exists()


def test_an_unwritable_target(scans):
    folder, _ = scans
    # Root may write anywhere, but nobody can make a folder inside a file.
    (folder.parent / "file").write_text("not a folder")
    said = program.refused("import", folder, "--into", folder.parent / "file" / "a.cohort", "--sequences", "never")
    assert "file" in said
    cohort, _ = into(folder)
    program.refused("space", cohort, "--into", folder.parent / "file" / "s.safetensors")
    program.refused("measure", cohort, "--into", folder.parent / "file" / "d.csv")
    assert (folder.parent / "file").read_text() == "not a folder"


def test_a_template_that_is_not_there(scans):
    folder, _ = scans
    said = program.refused(
        "import", folder, "--into", folder.parent / "a.cohort", "--template", folder.parent / "template.toml"
    )
    assert "template.toml" in said
    nothing_left(folder)


def test_a_template_of_other_triangles(scans):
    folder, everyone = scans
    template = bodies.obj(folder.parent / "template.obj", everyone[0], bodies.triangles()[:-1], unit=0.001)
    _, done = into(folder, "--template", template)
    assert done.code == 2, str(done)
    nothing_left(folder)


def test_a_cohort_that_is_none(tmp_path):
    for command in (["check"], ["inspect"], ["measure"], ["space", "--into", tmp_path / "s.safetensors"]):
        said = program.refused(command[0], tmp_path, *command[1:])
        assert tmp_path.name in said


def test_a_cohort_whose_positions_are_torn(scans):
    folder, _ = scans
    cohort, _ = into(folder)
    for path in (cohort / "positions").glob("*.npy"):
        whole = path.read_bytes()
        path.write_bytes(whole[: len(whole) // 2])
    said = program.refused("space", cohort, "--into", folder.parent / "s.safetensors")
    assert ".npy" in said or "positions" in said
    program.refused("measure", cohort)


def test_a_space_file_that_is_torn(scans):
    folder, _ = scans
    cohort, _ = into(folder)
    space = folder.parent / "s.safetensors"
    program.ok("space", cohort, "--into", space)
    whole = space.read_bytes()
    space.write_bytes(whole[: len(whole) // 2])
    said = program.refused("inspect", space)
    assert "s.safetensors" in said
    space.write_bytes(b"\xff" * 64)
    program.refused("inspect", space)


def test_a_shape_of_other_triangles_is_not_projected(scans):
    folder, everyone = scans
    cohort, _ = into(folder)
    space = folder.parent / "s.safetensors"
    program.ok("space", cohort, "--into", space)
    other = bodies.obj(folder.parent / "other.obj", everyone[0], bodies.triangles()[:-1])
    said = program.refused("project", space, other)
    assert "other.obj" in said
