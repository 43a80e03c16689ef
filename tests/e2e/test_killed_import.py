"""An import that is killed leaves the old cohort or none, and can be gone on with."""

import signal
import subprocess
import time

import numpy as np
import pytest

import bodies
import program

COUNT = 60


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """Scans with enough triangles that an import takes a moment: every body twelve times on top of itself."""
    folder = tmp_path_factory.mktemp("many")
    (folder / "scans").mkdir()
    faces, vertices, copies = bodies.triangles(), len(bodies.body()), 24
    faces = np.concatenate([faces + k * vertices for k in range(copies)])
    for i, p in enumerate(bodies.people(COUNT), 1):
        shells = np.concatenate([p * [1 - 0.01 * k, 1 - 0.01 * k, 1] for k in range(copies)])
        bodies.obj(folder / "scans" / f"p{i:02}.obj", shells, faces)
    return folder


def positions(cohort):
    return {p.name: np.load(p) for p in sorted((cohort / "positions").glob("*.npy"))}


def command(folder, cohort, *more):
    return ["import", folder / "scans", "--into", cohort, "--sequences", "never", "--threads", "1", *more]


def kill_in_the_middle(arguments, cohort):
    """Starts an import and kills it as soon as it has written something; whether it was still at work."""
    before = set(cohort.parent.iterdir())
    run = subprocess.Popen([program.binary(), *map(str, arguments)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    end = time.monotonic() + 20
    while run.poll() is None and time.monotonic() < end:
        if set(cohort.parent.iterdir()) - before:
            time.sleep(0.02)
            break
        time.sleep(0.001)
    run.send_signal(signal.SIGKILL)
    return run.wait() == -signal.SIGKILL


def test_a_killed_import_leaves_nothing_that_looks_whole_and_resumes(many, tmp_path):
    undisturbed = tmp_path / "whole.cohort"
    program.ok(*command(many, undisturbed))
    cohort = tmp_path / "killed.cohort"
    assert kill_in_the_middle(command(many, cohort), cohort), "it was too fast to be killed"
    assert not cohort.exists()
    told = program.ok(*command(many, cohort, "--resume"))
    assert told["items"] == COUNT
    assert (cohort / "items.csv").read_bytes() == (undisturbed / "items.csv").read_bytes()
    a, b = positions(cohort), positions(undisturbed)
    assert a.keys() == b.keys() and all(np.array_equal(a[k], b[k]) for k in a)
    assert [p.name for p in tmp_path.iterdir() if p.name not in ("whole.cohort", "killed.cohort")] == []


def test_the_old_cohort_outlives_a_killed_import(many, tmp_path):
    cohort = tmp_path / "people.cohort"
    bodies.folder(tmp_path / "few", 3)
    program.ok("import", tmp_path / "few", "--into", cohort, "--sequences", "never")
    before = {p.name: p.read_bytes() for p in cohort.rglob("*") if p.is_file()}
    assert kill_in_the_middle(command(many, cohort, "--force"), cohort), "it was too fast to be killed"
    assert {p.name: p.read_bytes() for p in cohort.rglob("*") if p.is_file()} == before
    assert program.ok("inspect", cohort)["items"] == 3
    # And the next whole import takes its place.
    program.ok(*command(many, cohort, "--force"))
    assert program.ok("inspect", cohort)["items"] == COUNT
