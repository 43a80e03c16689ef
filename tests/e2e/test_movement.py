"""Sequences and still poses: what is a frame, what is a person, and what a movement hands over."""

import json
import struct

import numpy as np
import pandas
import pytest

import bodies
import program


def test_numbered_people_are_not_frames(tmp_path):
    """Files p01, p02 .. of different people stay still poses of as many people; frames counted as people are the worst error."""
    bodies.folder(tmp_path / "scans", 12)
    told = program.ok("import", tmp_path / "scans", "--into", tmp_path / "a.cohort")
    assert (told["people"], told["stills"], told["frames"]) == (12, 12, 0)


@pytest.fixture(scope="module")
def walk(tmp_path_factory):
    """One person who sways at 2.00 Hz for 3 s at 50 frames/s, as numbered files."""
    folder = tmp_path_factory.mktemp("walk")
    (folder / "frames").mkdir()
    for i in range(150):
        t = i / 50
        sway = bodies.body(lean=60 * np.sin(2 * np.pi * 2.0 * t))
        bodies.obj(folder / "frames" / f"K07_sway_{i:03}.obj", sway, unit=0.001)
    program.ok("import", folder / "frames", "--into", folder / "walk.cohort", "--fps", 50)
    return folder


def test_numbered_frames_are_one_person(walk):
    told = program.ok("inspect", walk / "walk.cohort")
    assert (told["people"], told["frames"], told["sequences"], told["stills"]) == (1, 150, 1, 0)
    assert told["captures"][0]["fps"] == pytest.approx(50)


def test_frames_are_never_counted_as_people(walk):
    told = program.ok("space", walk / "walk.cohort", "--into", walk / "s.safetensors")
    assert (told["people"], told["items"]) == (1, 150)
    assert told["cross_validation"] is None and told["cross_validation_refused"]


def test_a_sway_of_2_hz_comes_back_as_2_hz(walk):
    told = program.ok("motion", walk / "walk.cohort")
    assert told["people"] == 1 and told["frames"] == 150
    text = json.dumps(told)
    hertz = [m["hz"] for m in find(told, "hz")]
    assert hertz and abs(hertz[0] - 2.0) < 0.02, text[:2000]


def find(value, key):
    """Every object in a JSON value that has the key, outermost first."""
    found = []
    if isinstance(value, dict):
        found += [value] if isinstance(value.get(key), float) else []
        value = list(value.values())
    if isinstance(value, list):
        for v in value:
            found += find(v, key)
    return found


def test_what_a_movement_hands_over_opens_elsewhere(walk):
    import trimesh

    told = program.ok("motion", walk / "walk.cohort", "--into", walk / "sway")
    names = [p.rsplit("/", 1)[1] for p in told["outputs"]]
    tables = [p for p in told["outputs"] if p.endswith(".csv")]
    assert tables and all(len(pandas.read_csv(p)) for p in tables), names
    scenes = [p for p in told["outputs"] if p.endswith(".glb")]
    lengths = {}
    for path in scenes:
        assert len(next(iter(trimesh.load(path).geometry.values())).vertices) == len(bodies.body())
        raw = open(path, "rb").read()
        size = struct.unpack("<I", raw[12:16])[0]
        head = json.loads(raw[20 : 20 + size])
        animation = head["animations"][0]
        times = head["accessors"][animation["samplers"][0]["input"]]
        lengths[path.rsplit("/", 1)[1]] = (times["count"], times["max"][0])
    # One of them is the movement itself, frame by frame; others may show a mode to and fro.
    assert (150, pytest.approx(149 / 50, abs=1e-3)) in lengths.values(), lengths
    assert "--force" in program.refused("motion", walk / "walk.cohort", "--into", walk / "sway")


def test_a_movement_without_times_is_refused(walk, tmp_path):
    program.ok("import", walk / "frames", "--into", tmp_path / "no-times.cohort")
    said = program.refused("motion", tmp_path / "no-times.cohort")
    assert "--fps" in said


def test_a_capture_that_is_not_there_is_named_with_those_that_are(walk):
    said = program.refused("motion", walk / "walk.cohort", "--capture", "K09_jump")
    assert "K09_jump" in said and "K07_sway" in said


def test_dropped_and_frozen_frames_and_a_jump_are_findings(tmp_path):
    frames = [bodies.body(lean=60 * np.sin(2 * np.pi * 2.0 * i / 50)) for i in range(100)]
    frames[40] = frames[41] = frames[42] = frames[39]
    frames[70] = frames[70] * [1.2, 1.2, 1]
    np.save(tmp_path / "K07_sway.npy", np.array(frames, "<f4"))
    bodies.ply(tmp_path / "template.ply", frames[0])
    times = np.arange(100) / 50.0
    times[85:] += 0.3
    pandas.DataFrame({"frame": range(100), "time_s": times}).to_csv(tmp_path / "K07_sway.times.csv", index=False)
    program.ok("import", tmp_path / "K07_sway.npy", "--into", tmp_path / "k.cohort", "--template", tmp_path / "template.ply")
    kinds = {f["kind"] for f in program.ok("check", tmp_path / "k.cohort", code=1)["findings"]}
    assert {"frozen-frames", "area-or-volume-jump", "dropped-frames"} <= kinds, kinds


def test_exported_meshes_come_back_the_same(walk, tmp_path):
    for kind in ("ply", "obj"):
        program.ok("export", "meshes", walk / "walk.cohort", "--into", tmp_path / kind, "--format", kind, "--items", "all")
        assert len(list((tmp_path / kind).iterdir())) == 150
        program.ok("import", tmp_path / kind, "--into", tmp_path / f"{kind}.cohort", "--unit", "mm", "--up", "z", "--fps", 50)
        read = lambda c: np.load(next((c / "positions").glob("*.npy")))
        assert np.abs(read(tmp_path / f"{kind}.cohort") - read(walk / "walk.cohort")).max() < 1e-3


def test_exported_coefficients_are_those_of_the_fit(walk, tmp_path):
    program.ok("space", walk / "walk.cohort", "--into", tmp_path / "s.safetensors", "--coefficients", tmp_path / "a.parquet")
    program.ok("export", "coefficients", tmp_path / "s.safetensors", walk / "walk.cohort", "--into", tmp_path / "b.parquet", "--items", "all")
    a, b = (pandas.read_parquet(tmp_path / f"{n}.parquet").select_dtypes("floating") for n in "ab")
    common = [c for c in a.columns if c in b.columns and "mode" in c or c.startswith("c")]
    assert len(common) >= 1, (list(a.columns), list(b.columns))
    assert np.abs(a[common].to_numpy() - b[common].to_numpy()).max() < 0.01


def test_a_space_as_gltf(walk, tmp_path):
    program.ok("space", walk / "walk.cohort", "--into", tmp_path / "s.safetensors")
    program.ok("export", "glb", tmp_path / "s.safetensors", "--into", tmp_path / "s.glb", "--modes", 1)
    raw = (tmp_path / "s.glb").read_bytes()
    assert raw[:4] == b"glTF"
