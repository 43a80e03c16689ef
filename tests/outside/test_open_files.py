"""What is handed over opens in other people's programs: numpy, safetensors, pandas with Arrow, trimesh."""

import json
import struct

import numpy as np
import pandas
import pytest

from pathlib import Path


@pytest.fixture(scope="module")
def results(demo):
    into, told = demo
    return next(Path(p).parent for p in told["outputs"] if p.endswith("report.html"))


def test_positions_open_in_numpy(demo):
    into, _ = demo
    cohort = next(p for p in into.rglob("*.cohort") if p.is_dir())
    files = sorted((cohort / "positions").glob("*.npy"))
    told = json.loads((cohort / "cohort.json").read_text())
    vertices = 0
    for path in files:
        a = np.load(path, mmap_mode="r")
        assert a.dtype == np.dtype("<f4") and a.ndim == 3 and a.shape[2] == 3, (path, a.dtype, a.shape)
        vertices = a.shape[1]
        assert np.isfinite(a).all()
        # A standing person is 1.3 to 2.2 m tall in mm along z.
        assert 1200 < np.ptp(a[0, :, 2]) < 2300
    assert str(vertices) in json.dumps(told)
    items = pandas.read_csv(cohort / "items.csv")
    assert {"item", "participant", "session", "capture", "frame", "time_s", "status"} <= set(items.columns)
    assert len(items) == sum(np.load(p, mmap_mode="r").shape[0] for p in files)


def test_the_space_opens_with_safetensors(results):
    from safetensors import safe_open

    with safe_open(results / "space.safetensors", "numpy") as f:
        data = f.metadata()
        mean, modes, variances = (f.get_tensor(k) for k in ("mean", "modes", "variances"))
        names = set(f.keys())
    assert {"mean", "modes", "variances", "weights", "triangles"} <= {n.replace("vertex_", "") for n in names}, names
    text = json.dumps(data)
    for word in ("people", "mm", "mode"):
        assert word in text, word
    vertices = mean.reshape(-1, 3).shape[0]
    modes = modes.reshape(len(modes), vertices, 3).astype(float)
    with safe_open(results / "space.safetensors", "numpy") as f:
        weights = f.get_tensor(next(n for n in names if "weights" in n)).astype(float)
    assert weights.sum() == pytest.approx(1, abs=1e-5)
    gram = np.einsum("v,kvc,lvc->kl", weights, modes, modes)
    # P^T W P = I, on the leading modes in f32.
    assert np.abs(gram[:5, :5] - np.eye(5)).max() < 1e-3
    assert (np.diff(variances) <= 1e-9).all()


def test_coefficients_open_in_pandas(results):
    table = pandas.read_parquet(results / "coefficients.parquet")
    assert len(table) >= 40 and "participant" in table.columns
    from safetensors.numpy import load_file

    variances = load_file(results / "space.safetensors")["variances"].astype(float)
    numbers = table.select_dtypes("floating")
    spread = sorted(numbers.var(ddof=1), reverse=True)[0]
    assert spread == pytest.approx(variances[0], rel=0.02)


def test_the_glb_opens_in_trimesh_and_carries_the_modes(results):
    import trimesh

    path = results / "space.glb"
    scene = trimesh.load(path)
    mesh = next(iter(scene.geometry.values()))
    assert len(mesh.vertices) >= 2500 and mesh.is_watertight
    # glTF is in metres with y up.
    assert 1.3 < np.ptp(mesh.vertices[:, 1]) < 2.2
    raw = path.read_bytes()
    magic, version, length = struct.unpack("<III", raw[:12])
    assert (magic, version, length) == (0x46546C67, 2, len(raw))
    size, kind = struct.unpack("<II", raw[12:20])
    told = json.loads(raw[20 : 20 + size])
    primitive = told["meshes"][0]["primitives"][0]
    assert len(primitive["targets"]) >= 3
    for target in primitive["targets"]:
        accessor = told["accessors"][target["POSITION"]]
        assert accessor["count"] == told["accessors"][primitive["attributes"]["POSITION"]]["count"]
        assert "min" in accessor and "max" in accessor


def test_the_fit_meshes_open_in_trimesh(results):
    import trimesh

    meshes = sorted((results / "sizes").glob("*.ply"))
    assert meshes
    for path in meshes:
        mesh = trimesh.load(path, process=False)
        assert mesh.is_watertight and 1200 < np.ptp(mesh.vertices[:, 2]) < 2300
        assert mesh.volume > 0


def test_sizes_of_bodies_agree_with_trimesh(demo):
    """Area and volume of every still pose, against another implementation."""
    import trimesh

    import program

    into, _ = demo
    cohort = next(p for p in into.rglob("*.cohort") if p.is_dir())
    told = program.ok("measure", cohort, "--items", "stills")
    items = (told["measurements"])[:5]
    template = trimesh.load(cohort / "template.ply", process=False)
    stills = np.load(next((cohort / "positions").glob("*still*.npy")))
    for item, positions in zip(items, stills):
        mesh = trimesh.Trimesh(positions.astype(float), template.faces, process=False)
        assert item["area_mm2"] == pytest.approx(mesh.area, rel=1e-6)
        assert item["volume_mm3"] == pytest.approx(mesh.volume, rel=1e-6)
