"""The map of people against numpy, from the coefficients that the program writes."""

import csv

import numpy as np
import pyarrow.parquet as pq
import pytest

import bodies
import program


def diffusion(points, e, count=2):
    """Coordinates of a diffusion map with the density taken out (Coifman and Lafon 2006, a = 1), by the eigenvectors of the steps themselves."""
    square = ((points[:, None] - points[None]) ** 2).sum(-1)
    k = np.exp(-square / e)
    q = k.sum(1)
    k = k / np.outer(q, q)
    d = k.sum(1)
    values, vectors = np.linalg.eig(k / d[:, None])
    order = np.argsort(-values.real)[1 : count + 1]
    psi = vectors[:, order].real
    psi = psi / np.sqrt((psi**2 * (d / d.sum())[:, None]).sum(0))
    return psi * values[order].real, values[order].real


@pytest.fixture(scope="module")
def space(tmp_path_factory):
    folder = tmp_path_factory.mktemp("map")
    rows = ["participant,sex,age"]
    for i, body in enumerate(bodies.people(40, seed=6)):
        bodies.ply(folder / f"P{i:03d}.ply", body)
        rows.append(f"P{i:03d},{'female' if i % 2 else 'male'},{20 + i}")
    (folder / "people.csv").write_text("\n".join(rows) + "\n")
    program.ok("import", folder / "P*.ply", "--into", folder / "c.cohort", "--participants", folder / "people.csv", "--unit", "mm", "--up", "z")
    program.ok(
        "space", folder / "c.cohort", "--into", folder / "s.safetensors", "--coefficients", folder / "c.parquet", "--no-criteria", "--no-cross-validation",
    )
    return folder


def test_a_diffusion_map_is_that_of_numpy(space):
    found = program.ok("map", space / "s.safetensors", "--coefficients", space / "c.parquet", "--into", space / "map.csv")
    table = pq.read_table(space / "c.parquet").to_pandas().sort_values("participant")
    points = table[[c for c in table if c.startswith("mode_") and c.endswith("_mm")]].to_numpy()
    want, values = diffusion(points, found["bandwidth_mm"] ** 2, count=8)
    axes = [a - 1 for a in found["axes"]]
    want, values = want[:, axes], values[axes]
    assert axes[0] == 0 and found["eigenvalues"] == pytest.approx(values, rel=1e-6)
    mine = np.array(found["positions"])
    for a in range(2):
        sign = np.sign(mine[:, a] @ want[:, a])
        assert mine[:, a] == pytest.approx(sign * want[:, a], abs=1e-5)
    with open(space / "map.csv") as f:
        rows = list(csv.DictReader(f))
    assert [r["participant"] for r in rows] == found["participants"]
    assert {"map_1", "map_2", "sex", "age"} <= set(rows[0]) and not any(c.startswith("mode_") for c in rows[0])
    assert found["neighbours_kept"] > found["neighbours_by_chance"]


def test_two_coefficients_are_those_of_the_file(space):
    found = program.ok("map", space / "s.safetensors", "--cohort", space / "c.cohort", "--method", "coefficients")
    table = pq.read_table(space / "c.parquet").to_pandas().sort_values("participant")
    want = table[["mode_001_mm", "mode_002_mm"]].to_numpy()
    assert np.array(found["positions"]) == pytest.approx(want, abs=0.01)
    assert 0.5 < found["share"] <= 1
