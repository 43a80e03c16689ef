"""Partial least squares and shrinkage against scikit-learn, through the helper that reads a CSV and prints what formkin-shape makes of it."""

import json
import subprocess

import numpy as np
import pytest
from sklearn.covariance import LedoitWolf
from sklearn.cross_decomposition import PLSRegression

import bodies
import program


@pytest.fixture
def helper(tmp_path):
    def run(table, *arguments):
        path = tmp_path / "table.csv"
        np.savetxt(path, np.asarray(table, float), delimiter=",", fmt="%.17g")
        done = subprocess.run(
            [program.binary("examples/spaces"), *map(str, arguments), path], capture_output=True, text=True, timeout=120
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return run


def related(people=60, given=5, responses=4, seed=1):
    """Given columns that say the same twice, responses of unlike sizes."""
    rng = np.random.default_rng(seed)
    hidden = rng.normal(size=(people, 3))
    x = hidden @ rng.normal(size=(3, given)) + 0.3 * rng.normal(size=(people, given))
    y = (hidden @ rng.normal(size=(3, responses)) + 0.5 * rng.normal(size=(people, responses))) * [1, 10, 100, 0.1]
    return x * [1, 20, 3, 400, 5] + 7, y


@pytest.mark.parametrize("components", [1, 2, 3, 5])
@pytest.mark.parametrize("scale", ["true", "false"])
def test_partial_least_squares(helper, components, scale):
    x, y = related()
    found = np.array(helper(np.hstack([x, y]), "pls", x.shape[1], components, scale)["coefficients"])
    sx, sy = x.std(axis=0, ddof=1), y.std(axis=0, ddof=1)
    reference = PLSRegression(components, scale=False, tol=1e-14, max_iter=100_000)
    reference.fit((x - x.mean(axis=0)) / sx, (y - y.mean(axis=0)) / (sy if scale == "true" else 1))
    slopes = reference.coef_.T / sx[:, None] * (sy if scale == "true" else 1)
    np.testing.assert_allclose(found, slopes, rtol=1e-6, atol=1e-6 * np.abs(slopes).max())


@pytest.mark.parametrize("people, coordinates", [(40, 300), (300, 40), (30, 30)])
def test_shrinkage(helper, people, coordinates):
    rng = np.random.default_rng(3)
    x = rng.normal(size=(people, coordinates)) * np.linspace(4, 0.5, coordinates)
    found = helper(x, "ledoit-wolf")
    reference = LedoitWolf().fit(x)
    assert found["shrinkage"] == pytest.approx(reference.shrinkage_, rel=1e-9)
    values = np.sort(np.linalg.eigvalsh(reference.covariance_))[::-1]
    np.testing.assert_allclose(found["variances"], values[: len(found["variances"])], rtol=1e-8)


def test_modes_and_variances_are_those_of_scikit_learn(tmp_path):
    import pyarrow.parquet as pq
    from safetensors.numpy import load_file
    from sklearn.decomposition import PCA

    everyone = bodies.folder(tmp_path / "scans", 30, unit=0.001)
    program.ok("import", tmp_path / "scans", "--into", tmp_path / "b.cohort", "--sequences", "never")
    told = program.ok("export", "ml", tmp_path / "b.cohort", "--into", tmp_path / "ml", "--validation", 0, "--test", 0, "--weights", "plain")
    rows = pq.read_table(tmp_path / "ml" / "coefficients.parquet").to_pandas()
    space = load_file(tmp_path / "ml" / "space.safetensors")
    positions = np.load(tmp_path / "b.cohort" / "positions" / "stills.npy").astype(float)
    assert len(rows) == len(positions) == len(everyone)
    aligned = []
    for i, row in rows.sort_values("item").reset_index(drop=True).iterrows():
        rotation = row[[f"pose_r{a}{b}" for a in (1, 2, 3) for b in (1, 2, 3)]].to_numpy(float).reshape(3, 3)
        aligned.append(positions[i] @ rotation.T + row[["pose_tx_mm", "pose_ty_mm", "pose_tz_mm"]].to_numpy(float))
    vertices = positions.shape[1]
    referee = PCA().fit(np.reshape(aligned, (len(aligned), -1)) / np.sqrt(vertices))
    k = len(space["variances"])
    np.testing.assert_allclose(space["variances"], referee.explained_variance_[:k], rtol=1e-3, atol=1e-6)
    for own, theirs in zip(space["modes"][:4], referee.components_):
        assert abs(own.ravel() @ theirs) / np.sqrt(vertices) == pytest.approx(1, abs=1e-4)
    assert told["modes_that_vary"] == k
