"""Posture of a demo movement from the command line: poses, unposed bodies, and a shape space of them."""

import csv

import numpy as np
import pytest

import program

CAPTURE = "C007_line-haul"


@pytest.fixture(scope="module")
def hauled(demo, tmp_path_factory):
    folder, _ = demo
    into = tmp_path_factory.mktemp("posture") / "haul"
    told = program.ok("motion", folder / "study.cohort", "--capture", CAPTURE, "--posture", "--posture-unposed", "--into", into)
    return folder, into, told


def test_unposed_bodies_of_one_person_agree(hauled):
    _, into, told = hauled
    posture = told["deep"]["posture"]
    assert posture["unposed_rms_mm"] < 3.0
    bodies = np.load(into / "unposed.npy")
    assert bodies.dtype == np.float32 and bodies.shape == (told["frames"], 3000, 3)
    rms = np.sqrt(((bodies - bodies.mean(axis=0)) ** 2).sum(axis=2).mean())
    assert rms == pytest.approx(posture["unposed_rms_mm"], abs=0.01)


def test_joints_turn_through_time(hauled):
    _, into, _ = hauled
    rows = list(csv.DictReader((into / "angles.csv").open()))
    turns = {n: [float(r[n]) for r in rows] for n in rows[0] if n.endswith("_deg") and not n.endswith(("x_deg", "y_deg", "z_deg"))}
    # the arms haul, the feet stand
    assert max(max(v) - min(v) for n, v in turns.items() if "elbow" in n or "shoulder" in n) > 10.0
    assert all(np.isfinite(v).all() for v in turns.values())


def test_a_shape_space_of_unposed_bodies_holds_far_less_than_that_of_the_frames(hauled, tmp_path):
    folder, into, told = hauled
    cohort, space = tmp_path / "unposed.cohort", tmp_path / "unposed.safetensors"
    program.ok(
        "import", into / "unposed.npy", "--into", cohort, "--template", folder / "input" / "template.toml",
        "--unit", "mm", "--up", "z", "--fps", 60, code=(0, 1),
    )
    made = program.ok("space", cohort, "--into", space)
    assert made["total_variance_mm2"] < 0.2 * sum(told["variances_mm2"])


def test_unposed_bodies_need_a_folder(demo):
    folder, _ = demo
    assert "--into" in program.refused("motion", folder / "study.cohort", "--capture", CAPTURE, "--posture-unposed")
