"""Two real captured sequences by the whole program, against values computed from the same files with numpy and scipy.

The values are in m, m2, m3 of the OBJ files, plain vertex weights, eigenvalues as sums over all coordinates divided by n - 1
(C: numpy 2.4 / scipy 1.17, double precision). The sequences lie beside the checkout and are no part of it; where they are not
there, the tests are skipped and say so.
"""

import numpy as np
import pytest

import program

REAL = {
    "mannequin-walk": {
        "vertices": 7474, "triangles": 13721, "frames": 33, "watertight": False,
        "area": [2.2927496, 2.2921431, 2.2926303, 2.2938511],
        "volume": None,
        "size": [34.975072, 35.290277, 35.340135, 35.068755],
        "eigenvalues": [44.301394, 5.6476510, 2.9404041, 0.41411466],
        "total": 53.765857, "squares": 1720.5074,
    },
    "horse-walk": {
        "vertices": 1709, "triangles": 3414, "frames": 29, "watertight": True,
        "area": [5.9315149, 5.9459944, 5.9728772, 6.0017324],
        "volume": [0.50944663, 0.51027826, 0.51086986, 0.51106685],
        "size": [40.580064, 40.386989, 40.215733, 40.105718],
        "eigenvalues": [25.745958, 12.378252, 1.1011078, 0.78893604],
        "total": 40.350045, "squares": 1129.8013,
    },
}


@pytest.fixture(scope="module", params=REAL)
def sequence(request, shared, tmp_path_factory):
    """A sequence, imported with unit and height axis found by the program."""
    folder = tmp_path_factory.mktemp(request.param)
    cohort = folder / "walk.cohort"
    told = program.run("import", shared / request.param / "*.obj", "--into", cohort, "--fps", 24, "--json")
    assert told.code in (0, 1), str(told)
    return cohort, REAL[request.param]


def test_it_is_one_capture_of_one_participant(sequence):
    cohort, real = sequence
    told = program.ok("inspect", cohort)
    assert (told["people"], told["items"]) == (1, real["frames"])
    assert (told["vertices"], told["triangles"]) == (real["vertices"], real["triangles"])
    assert told["watertight"] is real["watertight"]


def test_a_surface_that_is_not_watertight_is_a_finding(sequence):
    cohort, real = sequence
    done = program.run("check", cohort, "--json")
    kinds = [f["kind"] for f in done.json["findings"]]
    if real["watertight"]:
        assert not any("watertight" in k for k in kinds)
    else:
        assert done.code == 1 and any("watertight" in k for k in kinds), kinds
    assert (done.code == 1) == bool(kinds)
    assert all({"item", "kind", "message"} <= set(f) for f in done.json["findings"])


def test_areas_volumes_and_centroid_sizes(sequence):
    cohort, real = sequence
    told = program.ok("measure", cohort)
    items = told["measurements"]
    assert len(items) == real["frames"]
    for i in range(4):
        assert items[i]["area_mm2"] == pytest.approx(real["area"][i] * 1e6, rel=1e-6)
        assert items[i]["centroid_size_mm"] == pytest.approx(real["size"][i] * 1e3, rel=1e-6)
        if real["volume"]:
            assert items[i]["volume_mm3"] == pytest.approx(real["volume"][i] * 1e9, rel=1e-6)


def test_the_space_has_the_eigenvalues(sequence, tmp_path):
    cohort, real = sequence
    told = program.ok("space", cohort, "--into", tmp_path / "s.safetensors", "--align", "rigid", "--weights", "plain")
    # The program's variances are means over vertices in mm2, the reference's are sums in m2.
    to_mm2 = 1e6 / real["vertices"]
    expected = [e * to_mm2 for e in real["eigenvalues"]]
    assert told["variances_mm2"][:4] == pytest.approx(expected, rel=1e-5)
    assert told["total_variance_mm2"] == pytest.approx(real["total"] * to_mm2, rel=1e-5)
    assert real["squares"] == pytest.approx(real["total"] * (real["frames"] - 1), rel=1e-6)
    assert (told["people"], told["items"]) == (1, real["frames"])


def test_the_motion_modes_are_the_same(sequence):
    cohort, real = sequence
    told = program.ok("motion", cohort, "--align", "rigid", "--weights", "plain")
    to_mm2 = 1e6 / real["vertices"]
    assert told["variances_mm2"][:3] == pytest.approx([e * to_mm2 for e in real["eigenvalues"][:3]], rel=1e-5)


def test_the_mean_and_modes_agree_with_numpy(sequence, tmp_path):
    """The model file, read in Python, spans the same subspace as a PCA of the aligned frames written in numpy."""
    from safetensors.numpy import load_file

    cohort, real = sequence
    space = tmp_path / "s.safetensors"
    program.ok("space", cohort, "--into", space, "--weights", "plain")
    frames = np.concatenate([np.load(p) for p in sorted((cohort / "positions").glob("*.npy"))]).astype(float)
    frames -= frames.mean(axis=1, keepdims=True)
    mean = frames[0]
    for _ in range(100):
        aligned = []
        for f in frames:
            u, _, vt = np.linalg.svd(f.T @ mean)
            u[:, 2] *= np.sign(np.linalg.det(u @ vt))
            aligned.append(f @ u @ vt)
        aligned = np.array(aligned)
        change, mean = np.abs(aligned.mean(axis=0) - mean).max(), aligned.mean(axis=0)
        if change < 1e-7:
            break
    flat = (aligned - mean).reshape(len(frames), -1)
    _, s, vt = np.linalg.svd(flat, full_matrices=False)
    model = load_file(space)
    modes = model["modes"].reshape(len(model["modes"]), -1).astype(float)
    assert model["mean"].reshape(-1, 3).shape == (real["vertices"], 3)
    # Compare in the model's own frame: its mean may be turned against numpy's.
    own = model["mean"].reshape(-1, 3).astype(float)
    own -= own.mean(axis=0)
    u, _, wt = np.linalg.svd(own.T @ mean)
    turned = (modes.reshape(len(modes), -1, 3) @ (u @ wt)).reshape(len(modes), -1)
    assert np.abs(own @ u @ wt - mean).max() < 0.05
    for k in range(3):
        cosine = abs(turned[k] @ vt[k]) / np.linalg.norm(turned[k])
        assert cosine > 0.99999, (k, cosine)
