"""A study from one file: the least that works, what is refused, and what is never written over."""

import pytest

import bodies
import program

LEAST = "title = 'Trial'\n[import]\nmeshes = ['scans/*.obj']\n"


@pytest.fixture
def folder(tmp_path):
    """A folder with a dozen people and the least study of them."""
    bodies.folder(tmp_path / "scans", 12)
    (tmp_path / "study.toml").write_text(LEAST)
    return tmp_path


def test_the_least_study(folder):
    told = program.ok("study", folder / "study.toml")
    assert told["people"] == 12
    for name in ("report.html", "summary.json", "space.safetensors", "space.glb", "coefficients.parquet", "provenance.json"):
        assert (folder / name).is_file(), name
    assert "sizes" not in told or not told["sizes"]


def test_it_can_be_run_from_anywhere(folder, tmp_path_factory):
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    program.ok("study", folder / "study.toml", cwd=elsewhere)
    assert (folder / "report.html").is_file() and not list(elsewhere.iterdir())


def test_a_later_scan_is_taken_in(folder):
    program.ok("study", folder / "study.toml")
    bodies.obj(folder / "scans" / "p13.obj", bodies.body(stature=1850))
    assert program.ok("study", folder / "study.toml")["people"] == 13


def test_a_scan_that_changed_in_place_is_taken_in(folder):
    program.ok("study", folder / "study.toml")
    before = (folder / "space.safetensors").read_bytes()
    bodies.obj(folder / "scans" / "p05.obj", bodies.body(stature=1900, build=1.2))
    program.ok("study", folder / "study.toml")
    assert (folder / "space.safetensors").read_bytes() != before


@pytest.mark.parametrize("change, word", [
    ("colour = 'red'\n" + LEAST, "colour"),
    (LEAST + "[space]\nalign = 'everything'\n", "everything"),
    (LEAST + "[space]\nweights = 'left_knee'\n", "left_knee"),
    (LEAST + "[measure]\ndimensions = 'none.toml'\n", "none.toml"),
    (LEAST + "[size]\nplan = 'plan.toml'\n", "dimensions"),
    (LEAST.replace("scans", "elsewhere"), "elsewhere"),
    (LEAST + "[space]\ntarget_mm = -1\n", "target_mm"),
    ("title = \n", "study.toml"),
])
def test_a_study_that_cannot_be_run(folder, change, word):
    (folder / "study.toml").write_text(change)
    assert word in program.refused("study", folder / "study.toml")
    assert not (folder / "report.html").exists()


def test_files_of_others_are_not_written_over(folder):
    (folder / "report.html").write_text("mine")
    assert "report.html" in program.refused("study", folder / "study.toml")
    assert (folder / "report.html").read_text() == "mine"
    program.ok("study", folder / "study.toml", "--force")
    assert (folder / "report.html").read_text() != "mine"


def test_torn_results_that_were_kept_are_made_again(folder):
    program.ok("study", folder / "study.toml")
    whole = (folder / "space.safetensors").read_bytes()
    for path in (folder / "cache").rglob("*"):
        if path.is_file():
            path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    program.ok("study", folder / "study.toml")
    assert (folder / "space.safetensors").read_bytes() == whole


def test_a_study_of_one_person_has_no_space_and_says_why(tmp_path):
    bodies.folder(tmp_path / "scans", 1)
    (tmp_path / "study.toml").write_text(LEAST)
    told = program.ok("study", tmp_path / "study.toml")
    assert told.get("space") is None and any("only one" in r for r in told["refusals"]), told["refusals"]
    assert "only one" in (tmp_path / "report.html").read_text()
    assert not (tmp_path / "space.safetensors").exists()
