"""How the program behaves towards people and scripts: exit codes, one JSON object, nothing written over, the same again."""

import hashlib

import numpy as np
import pytest

import bodies
import program


@pytest.fixture(scope="module")
def people(tmp_path_factory):
    """A folder with a cohort of a dozen people, built once."""
    folder = tmp_path_factory.mktemp("people")
    bodies.folder(folder / "scans", 12)
    program.ok("import", folder / "scans", "--into", folder / "people.cohort", "--sequences", "never")
    return folder


def digest(path):
    """One hash of everything in a file or folder."""
    found = hashlib.sha256()
    for p in sorted(path.rglob("*")) if path.is_dir() else [path]:
        if p.is_file():
            found.update(str(p.relative_to(path)).encode() + p.read_bytes())
    return found.hexdigest()


def test_version_and_help():
    assert program.run("--version").out.startswith("formkin ")
    assert program.run("--help").code == 0
    for command in ("demo", "study", "import", "check", "space", "inspect", "project", "measure", "motion", "size", "export"):
        done = program.run(command, "--help")
        assert done.code == 0 and done.out.strip(), command


@pytest.mark.parametrize("arguments", [
    [], ["no-such-command"], ["space"], ["import", "a.obj"], ["check", "a", "--no-such-flag"],
])
def test_a_wrong_request_is_exit_2(arguments):
    done = program.run(*arguments)
    assert done.code == 2 and "Usage" in done.err and done.out == "", str(done)


@pytest.mark.parametrize("arguments, missing", [
    ("check", "COHORT"), ("measure", "COHORT"), ("motion", "COHORT"), ("symmetry", "COHORT"), ("joints", "COHORT"), ("inspect", "PATH"),
    ("space --into OUT", "COHORT"), ("project", "SPACE"), ("project s", "MESHES"), ("predict", "SPACE"), ("complete", "SPACE"),
    ("compare --by sex", "SPACE"), ("regress --on age", "SPACE"), ("map", "SPACE"), ("sample --into OUT", "SPACE"), ("points", "FILES"),
    ("merge --into OUT", "S.safetensors"), ("export glb --into OUT", "SPACE"), ("export meshes --into OUT", "COHORT"),
    ("export coefficients --into OUT", "SPACE"), ("export coefficients s --into OUT", "COHORT"), ("export ml --into OUT", "COHORT"),
    ("percentiles", "CSV"), ("import --into OUT", "FILES"), ("study", "STUDY"),
])
def test_what_a_command_needs_is_named(tmp_path, arguments, missing):
    """A file that is not named is asked for by its name in the usage, not looked for under no name."""
    done = program.run(*(tmp_path / "out" if a == "OUT" else a for a in arguments.split()))
    assert done.code == 2 and "Usage" in done.err and f"<{missing}>" in done.err and done.out == "", str(done)
    assert not list(tmp_path.iterdir())


def test_what_may_be_named_in_several_ways_is_told_with_all_of_them():
    for arguments, words in (
        (["size", "t.csv"], ("--plan", "--chart")), (["size", "--plan", "p.toml"], ("table", "--assign")), (["agree"], ("two", "--repeats")),
        (["complete", "s"], ("mesh", "--landmarks")), (["sample", "s", "--into", "x"], ("--coefficients", "--cohort")),
        (["compare", "s", "--by", "sex"], ("--coefficients", "--cohort")), (["map", "s"], ("--coefficients", "--cohort")),
    ):
        done = program.run(*arguments)
        assert done.code == 2 and done.out == "" and all(w in done.err for w in words), str(done)


def test_a_clean_cohort_is_exit_0(people):
    done = program.run("check", people / "people.cohort", "--json")
    assert done.code == 0, str(done)
    assert done.json["findings"] == [] and done.json["people"] == 12


def test_without_json_nothing_but_the_answer_is_on_standard_output(people):
    done = program.run("inspect", people / "people.cohort")
    assert done.code == 0 and "12" in done.out + done.err, str(done)


def test_json_is_one_object_with_the_agreed_keys(people, tmp_path):
    cohort = people / "people.cohort"
    told = program.ok("inspect", cohort)
    assert {"people", "items", "vertices", "triangles", "watertight"} <= set(told), told.keys()
    assert (told["people"], told["items"]) == (12, 12)
    assert (told["vertices"], told["triangles"]) == (len(bodies.body()), len(bodies.triangles()))
    assert told["watertight"] is True
    told = program.ok("check", cohort)
    assert {"people", "items", "findings"} <= set(told)
    told = program.ok("space", cohort, "--into", tmp_path / "s.safetensors")
    assert {"people", "items", "variances_mm2", "total_variance_mm2", "explained", "outputs"} <= set(told)
    variances = told["variances_mm2"]
    assert variances == sorted(variances, reverse=True)
    assert sum(variances) == pytest.approx(told["total_variance_mm2"], rel=1e-9)
    assert [str(tmp_path / "s.safetensors")] == told["outputs"]
    told = program.ok("measure", cohort)
    item = (told["measurements"])[0]
    assert {"item", "area_mm2", "volume_mm3", "centroid_size_mm"} <= set(item)


def test_an_error_leaves_standard_output_to_scripts(tmp_path):
    done = program.run("check", tmp_path / "no.cohort", "--json")
    assert done.code == 2
    # Either nothing or one JSON object: a script must never meet half a sentence.
    assert done.out.strip() == "" or "error" in done.json


def test_nothing_is_written_over_without_force(people, tmp_path):
    cohort, scans = people / "people.cohort", people / "scans"
    before = digest(cohort)
    assert "--force" in program.refused("import", scans, "--into", cohort, "--sequences", "never")
    assert digest(cohort) == before
    kept = tmp_path / "kept"
    kept.write_text("mine")
    for command in (["space", cohort], ["measure", cohort], ["space", cohort, "--glb", kept]):
        into = kept if "--glb" not in command else tmp_path / "new.safetensors"
        assert "--force" in program.refused(*command, "--into", into)
        assert kept.read_text() == "mine"
        assert not (tmp_path / "new.safetensors").exists(), "one of two outputs was written"
    program.ok("space", cohort, "--into", kept, "--force")
    assert kept.read_bytes() != b"mine"


def test_the_same_again_is_the_same_to_the_byte(people, tmp_path):
    cohort = people / "people.cohort"
    for name, threads in (("a", 1), ("b", 2), ("c", 2)):
        program.ok("space", cohort, "--into", tmp_path / f"{name}.safetensors", "--threads", threads,
                   "--coefficients", tmp_path / f"{name}.parquet")
    spaces = {digest(tmp_path / f"{n}.safetensors") for n in "abc"}
    assert len(spaces) == 1
    assert len({digest(tmp_path / f"{n}.parquet") for n in "abc"}) == 1


def test_an_import_is_the_same_to_the_byte(people, tmp_path):
    for name in "ab":
        program.ok("import", people / "scans", "--into", tmp_path / f"{name}.cohort", "--sequences", "never")
    a, b = tmp_path / "a.cohort", tmp_path / "b.cohort"
    assert {p.relative_to(a) for p in a.rglob("*")} == {p.relative_to(b) for p in b.rglob("*")}
    for p in sorted(a.rglob("*.npy")) + [a / "items.csv", a / "template.ply", a / "template.toml"]:
        assert digest(p) == digest(b / p.relative_to(a)), p.name


def test_units_and_axes_are_found(people, tmp_path):
    """The same people in metres with y up come to the same positions."""
    folder = tmp_path / "scans"
    folder.mkdir()
    for i, p in enumerate(bodies.people(12), 1):
        bodies.ply(folder / f"p{i:02}.ply", p[:, [0, 2, 1]] * [1, 1, -1], unit=0.001)
    program.ok("import", folder, "--into", tmp_path / "b.cohort", "--sequences", "never")
    read = lambda c: np.concatenate([np.load(p) for p in sorted((c / "positions").glob("*.npy"))])
    a, b = read(people / "people.cohort"), read(tmp_path / "b.cohort")
    assert a.dtype == np.dtype("<f4") and a.shape == (12, len(bodies.body()), 3)
    assert np.abs(a - b).max() < 0.01


def test_a_closed_pipe_is_no_error(people):
    import subprocess

    command = f"'{program.binary()}' measure '{people / 'people.cohort'}' --json | head -c 1; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True)
    assert "panicked" not in done.stderr and done.returncode in (0, 141), done


def test_projecting_a_member_gives_its_coefficients(people, tmp_path):
    import pandas

    cohort, space = people / "people.cohort", tmp_path / "s.safetensors"
    program.ok("space", cohort, "--into", space, "--coefficients", tmp_path / "c.parquet")
    told = program.ok("project", space, people / "scans" / "p05.obj", "--into", tmp_path / "p.csv")
    table = pandas.read_parquet(tmp_path / "c.parquet")
    row = table[(table.astype(str) == "p05").any(axis=1)].select_dtypes("number").to_numpy(float)[0]
    given = pandas.read_csv(tmp_path / "p.csv").select_dtypes("number").to_numpy(float)[0]
    shared = [x for x in row if np.abs(given - x).min() < 1e-2 * max(1, abs(x))]
    assert len(shared) >= 8, (row, given, told)
