"""The demo: one command makes invented people, runs the whole study on them and says where the report is."""

import hashlib
import json
import time

import pandas
import pytest

import program

# What a study hands over.
OUTPUTS = [
    "report.html", "summary.json", "dimensions.csv", "coefficients.parquet", "space.safetensors", "space.glb", "size-chart.csv",
    "coverage.csv", "provenance.json",
]


def results(told):
    """The folder of the results, found from the paths that the program says it wrote."""
    from pathlib import Path

    return next(Path(p).parent for p in told["outputs"] if p.endswith("report.html"))


def test_every_output_is_there(demo):
    into, told = demo
    folder = results(told)
    for name in OUTPUTS:
        assert (folder / name).is_file() and (folder / name).stat().st_size > 0, name
    assert list((folder / "sizes").glob("*.ply")), "a mesh for each size"
    assert [p for p in (folder / "motion").rglob("*") if p.is_file()], "what the movements came to"
    from pathlib import Path
    for path in told["outputs"]:
        assert Path(path).exists(), path
    assert told["people"] == 40


def test_people_and_frames_are_told_apart(demo):
    _, told = demo
    summary = json.loads((results(told) / "summary.json").read_text())
    text = json.dumps(summary)
    assert '"people": 40' in text, text[:800]
    assert "frames" in text


def test_coverage_is_told_held_out_with_an_interval(demo):
    _, told = demo
    assert 0 < told["coverage_held_out"] <= 1
    assert told["coverage_held_out"] <= told["coverage_in_sample"] + 0.05
    table = pandas.read_csv(results(told) / "coverage.csv")
    assert any("held_out" in c for c in table.columns) or table.astype(str).apply(lambda c: c.str.contains("held")).any().any()


def test_tables_carry_units_in_their_headers(demo):
    _, told = demo
    dimensions = pandas.read_csv(results(told) / "dimensions.csv")
    numbers = dimensions.select_dtypes("number").columns
    units = ("_mm", "_mm2", "_mm3", "_cm", "_cm2", "_cm3", "_kg", "_deg", "_litres", "_m2", "_years", "_ratio", "_percent", "_s", "_n", "_kg_m2", "_count")
    # ratios of two lengths and indices are pure numbers
    pure = [c for c in numbers if c == "session" or "_to_" in c or c.endswith("_index")]
    wrong = [c for c in numbers if not c.endswith(units) and c not in pure]
    assert wrong == [], wrong
    assert len(dimensions) >= 40


def test_a_second_run_uses_what_it_kept(demo):
    into, told = demo
    folder = results(told)
    before = {n: (folder / n).read_bytes() for n in ("space.safetensors", "size-chart.csv", "dimensions.csv")}
    began = time.monotonic()
    done = program.run("study", into / "study.toml", "--json")
    took = time.monotonic() - began
    assert done.code == 0, str(done)
    assert before == {n: (folder / n).read_bytes() for n in before}
    text = json.dumps(done.json)
    assert "cached" in text or "kept" in text or "unchanged" in text, text[:2000]
    assert took < 10, f"a study of which nothing changed took {took:.1f} s"


def test_a_changed_study_runs_again_what_depends_on_it(demo, tmp_path):
    into, told = demo
    chart = (results(told) / "size-chart.csv").read_bytes()
    plan = into / "input" / "size-plan.toml"
    kept = plan.read_text()
    try:
        import re

        changed = re.sub(r"(?m)^(\s*count\s*=\s*)(\d+)", lambda m: f"{m[1]}{int(m[2]) - 1}", kept, count=1)
        assert changed != kept
        plan.write_text(changed)
        again = program.ok("study", into / "study.toml")
        assert (results(again) / "size-chart.csv").read_bytes() != chart
    finally:
        plan.write_text(kept)
        program.ok("study", into / "study.toml")
    assert (results(told) / "size-chart.csv").read_bytes() == chart


@pytest.mark.slow
def test_a_seed_makes_the_same_demo_and_another_seed_another(tmp_path):
    def make(name, seed):
        into = tmp_path / name
        told = program.ok("demo", "--into", into, "--participants", 30, "--vertices", 3000, "--seed", seed)
        folder = results(told)
        names = ["dimensions.csv", "size-chart.csv", "coverage.csv", "space.safetensors", "space.glb", "coefficients.parquet"]
        found = {n: hashlib.sha256((folder / n).read_bytes()).hexdigest() for n in names}
        found["people"] = hashlib.sha256((into / "input" / "participants.csv").read_bytes()).hexdigest()
        return found

    first = make("a", 5)
    assert make("b", 5) == first
    other = make("c", 6)
    assert all(other[n] != first[n] for n in ("people", "dimensions.csv", "space.safetensors"))


def test_a_demo_is_not_written_over(demo):
    into, _ = demo
    said = program.refused("demo", "--into", into, "--participants", 40, "--vertices", 3000)
    assert "--force" in said


@pytest.mark.parametrize("participants", [3, 12])
def test_a_demo_of_few_people(tmp_path, participants):
    """Someone who only wants to see it run asks for a handful: fewer sizes, but a whole study."""
    told = program.ok("demo", "--into", tmp_path / "d", "--participants", participants, "--vertices", 3000)
    assert told["people"] == participants
    assert all((results(told) / name).is_file() for name in OUTPUTS)


@pytest.mark.parametrize("wrong", [["--participants", 0], ["--participants", 2], ["--vertices", 10], ["--vertices", 10_000_000]])
def test_a_demo_that_cannot_be_made(tmp_path, wrong):
    program.refused("demo", "--into", tmp_path / "d", *wrong)
    assert not (tmp_path / "d" / "report.html").exists()


@pytest.mark.slow
def test_the_default_demo_has_nothing_wrong_with_it(tmp_path):
    """People and frames at the default density: no turned-over triangle, no spike, nothing that the checks find."""
    into = tmp_path / "demo"
    told = program.ok("demo", "--into", into, "--participants", 30)
    assert told["findings"] == []
    assert told["vertices"] == 12_000 and told["frames"] == 990
