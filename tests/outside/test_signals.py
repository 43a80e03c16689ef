"""Filters, dynamic modes and components of curves against scipy, numpy and scikit-learn, through the helper that prints what
formkin-motion makes of a table."""

import json
import subprocess

import numpy as np
import pytest

import program


@pytest.fixture
def helper(tmp_path):
    def call(table, *arguments):
        path = tmp_path / "table.csv"
        np.savetxt(path, np.asarray(table, float), delimiter=",", fmt="%.17g")
        done = subprocess.run(
            [program.binary("examples/signals"), *map(str, arguments), path], capture_output=True, text=True, timeout=120
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return call


def walk(n=400, columns=3, seed=5):
    rng = np.random.default_rng(seed)
    return np.cumsum(rng.normal(size=(n, columns)), axis=0) + 900


@pytest.mark.parametrize("cutoff, fps, pad", [(6.0, 100.0, 9), (12.0, 60.0, 60), (4.0, 120.0, 120)])
def test_forward_back_equals_scipy(helper, cutoff, fps, pad):
    from scipy.signal import butter, filtfilt

    table = walk()
    found = helper(table, "forward-back", cutoff, fps, pad)
    b, a = butter(2, cutoff, fs=fps)
    assert found["b"] == pytest.approx(b, rel=1e-12) and found["a"] == pytest.approx(a, rel=1e-12)
    referee = filtfilt(b, a, table, axis=0, padtype="odd", padlen=pad)
    assert np.abs(np.array(found["columns"]).T - referee).max() < 1e-9


def test_the_cutoff_of_two_passes_is_the_nominal_one(helper):
    from scipy.signal import butter, filtfilt, freqz

    fps, cutoff = 100.0, 6.0
    # the corrected design: the analogue frequency over (sqrt 2 - 1)^(1/4)
    single = np.arctan(np.tan(np.pi * cutoff / fps) / (np.sqrt(2) - 1) ** 0.25) * fps / np.pi
    b, a = butter(2, single, fs=fps)
    at_cutoff = np.abs(freqz(b, a, worN=[cutoff], fs=fps)[1]) ** 2
    assert at_cutoff == pytest.approx(1 / np.sqrt(2), abs=1e-12)
    table = walk(300, 1)
    found = np.array(helper(table, "low-pass", cutoff, fps)["columns"]).T
    assert np.abs(found - filtfilt(b, a, table, axis=0, padtype="odd", padlen=100)).max() < 1e-9


@pytest.mark.parametrize("delays, rank", [(1, 3), (20, 5), (120, 5)])
def test_dynamic_modes_equal_numpy(helper, delays, rank):
    rng = np.random.default_rng(3)
    t = np.arange(360) / 90
    fade = 30 * np.exp(-0.25 * t)
    rows = np.stack([fade * np.cos(4 * np.pi * t), 0.4 * fade * np.sin(4 * np.pi * t), 5 * np.sin(7 * t)], axis=1)
    rows += rng.normal(size=rows.shape)
    found = helper(rows, "dynamic", delays, rank, 90.0)

    centred = rows - rows.mean(axis=0)
    columns = len(rows) - delays + 1
    stacked = np.concatenate([centred[d : d + columns].T for d in range(delays)])
    x, y = stacked[:, :-1], stacked[:, 1:]
    u, s, vt = np.linalg.svd(x, full_matrices=False)
    u, s, vt = u[:, :rank], s[:rank], vt[:rank]
    mu = np.linalg.eigvals(u.T @ y @ vt.T / s)
    want = sorted((complex(m.real, abs(m.imag)) for m in mu if m.imag >= 0), key=lambda m: (m.imag, m.real))
    got = sorted((complex(*m["eigenvalue"]) for m in found["modes"]), key=lambda m: (m.imag, m.real))
    assert len(want) == len(got) and np.abs(np.array(want) - np.array(got)).max() < 1e-8
    assert found["singular_values"][: len(s)] == pytest.approx(s, rel=1e-9)
    for m in found["modes"]:
        log = np.log(complex(*m["eigenvalue"]))
        assert m["hz"] == pytest.approx(abs(log.imag) * 90 / (2 * np.pi), abs=1e-9)
        assert m["growth_per_s"] == pytest.approx(log.real * 90, abs=1e-9)
    if delays == 120:
        first = found["modes"][0]
        assert abs(first["hz"] - 2.0) < 0.02 and abs(first["growth_per_s"] + 0.25) < 0.05 * 0.25


def test_components_of_curves_equal_weighted_pca(helper):
    from sklearn.decomposition import PCA

    rng = np.random.default_rng(9)
    p = np.linspace(0, 1, 101)
    scores = rng.normal(size=(30, 3)) * [9, 4, 1]
    curves = 500 + scores @ np.stack([np.sin(2 * np.pi * p), np.cos(2 * np.pi * p), p**2])
    found = helper(curves, "curves")
    weights = np.full(101, 0.01)
    weights[[0, -1]] = 0.005
    referee = PCA().fit(curves * np.sqrt(weights))
    assert found["variances"] == pytest.approx(referee.explained_variance_[:3], rel=1e-9)
    functions = np.array(found["functions"]) * np.sqrt(weights)
    assert np.abs((functions * referee.components_[:3]).sum(axis=1)) == pytest.approx(np.ones(3), abs=1e-9)
