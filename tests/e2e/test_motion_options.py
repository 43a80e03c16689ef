"""Every option of `motion`, on a body whose movement is known, on broken records, and on the real walks."""

import numpy as np
import pandas
import pytest

import bodies
import program

FPS, HZ, SOFT_MM, LATE = 100.0, 3.0, 22.0, 35.0
RING = lambda r: np.arange(r * bodies.AROUND, (r + 1) * bodies.AROUND)
TRUNK = np.concatenate([RING(r) for r in range(20, 25)])
# the front half of three rings
SOFT = np.array([v for r in (16, 17, 18) for v in RING(r) if np.sin(2 * np.pi * (v % bodies.AROUND) / bodies.AROUND) < -0.1])


def record(seconds=4.0, soft_mm=SOFT_MM, lean=0.0, fps=FPS, turn=0.4):
    """Times and frames of a body that bounces, turns about the vertical and travels, with soft tissue that lags behind."""
    t = np.arange(int(seconds * fps)) / fps
    frames = []
    for s in t:
        p = bodies.body(lean=lean * np.sin(2 * np.pi * HZ / 2 * s))
        p[SOFT, 2] += soft_mm / 2 * np.sin(2 * np.pi * HZ * s - np.radians(LATE))
        c, d = np.cos(turn * s), np.sin(turn * s)
        p = p @ np.array([[c, -d, 0], [d, c, 0], [0, 0, 1]]).T
        frames.append(p + [300 * s, -100 * s, 60 + 40 * np.sin(2 * np.pi * HZ * s)])
    return t, np.array(frames)


def cohort(folder, captures):
    """Imports captures {name: (times, frames)} of one person on the tube with its regions."""
    folder.mkdir(exist_ok=True)
    bodies.ply(folder / "template.ply", bodies.body())
    listed = lambda vertices: ", ".join(map(str, vertices))
    (folder / "template.toml").write_text(
        'mesh = "template.ply"\nversion = "tube"\nunit = "mm"\nup = "z"\n\n[landmarks]\n'
        f'navel = {int(SOFT[3])}\n\n[regions]\ntrunk = "{listed(TRUNK)}"\nsoft = "{listed(SOFT)}"\n'
    )
    for name, (t, frames) in captures.items():
        np.save(folder / f"{name}.npy", frames.astype("<f4"))
        pandas.DataFrame({"frame": range(len(t)), "time_s": t}).to_csv(folder / f"{name}.times.csv", index=False)
    done = program.run(
        "import", *[folder / f"{n}.npy" for n in captures], "--into", folder / "c.cohort", "--template", folder / "template.toml",
        "--unit", "mm", "--up", "z", "--json",
    )
    assert done.code in (0, 1), str(done)
    return folder / "c.cohort"


@pytest.fixture(scope="module")
def bounce(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bounce")
    return cohort(folder, {"K01_bare": record(), "K01_suit": record(soft_mm=11.0)})


def test_planted_soft_tissue_is_found_on_a_turning_travelling_body(bounce):
    told = program.ok("motion", bounce, "--capture", "K01_bare", "--frame", "trunk", "--tissue", "soft", "--cycles", "frame")
    deep = told["deep"]
    assert deep["cycles"]["kept"] >= 10 and deep["cycles"]["mean_s"] == pytest.approx(1 / HZ, rel=0.01)
    soft = deep["tissue"][0]
    assert soft["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.01)
    assert soft["summary"]["lateral_mm"]["mean"] < 0.05 and soft["summary"]["fore_aft_mm"]["mean"] < 0.05
    assert soft["lag"]["degrees"] == pytest.approx(LATE, rel=0.01)
    assert deep["frame"]["largest_fit_rms_mm"] < 0.01


def test_a_garment_that_halves_the_swing_reduces_it_by_half(bounce):
    told = program.ok(
        "motion", bounce, "--capture", "K01_suit", "--against", "K01_bare", "--frame", "trunk", "--tissue", "soft", "--cycles", "frame"
    )
    vertical = next(c for c in told["comparisons"] if "vertical" in c["measure"])
    assert vertical["persons"][0]["reduction_percent"] == pytest.approx(50, abs=1)


def test_modes_are_cross_validated_by_cycle_into_a_file(bounce, tmp_path):
    told = program.ok(
        "motion", bounce, "--capture", "K01_bare", "--frame", "trunk", "--cycles", "frame", "--modes", 3, "--into", tmp_path / "m"
    )
    held = told["deep"]["cycles_left_out"]
    assert held["cycles"] >= 10 and held["folds"] == 5
    errors = [e["rms_mm"] for e in held["errors"]]
    # one oscillation is one mode
    assert errors[0] > 10 * errors[1]
    table = pandas.read_csv(tmp_path / "m" / "mode-errors.csv")
    assert table["rms_mm"].to_numpy() == pytest.approx(errors, abs=1e-4)


def test_a_rigid_body_has_no_strain_and_no_displacement(tmp_path):
    path = cohort(tmp_path / "rigid", {"K02_ride": record(soft_mm=0.0)})
    told = program.ok("motion", path, "--frame", "trunk", "--tissue", "soft", "--cycles", "frame", "--strain", "--smoothing", 0)
    # positions are stored as 32-bit floats: 0.06 micrometres in a metre, on edges of 40 mm
    assert told["deep"]["strain"]["largest"] < 2e-5
    assert told["deep"]["tissue"][0]["summary"]["resultant_mm"]["mean"] < 1e-3
    assert any(f["kind"] == "no-variation" for f in told["findings"])


def test_dynamic_modes_have_the_planted_frequency(bounce):
    told = program.ok("motion", bounce, "--capture", "K01_bare", "--dynamics")
    modes = told["deep"]["dynamics"]["modes"]
    strongest = max((m for m in modes if m["hz"] > 0.1), key=lambda m: m["rms_mm"])
    assert strongest["hz"] == pytest.approx(HZ, abs=0.02) and abs(strongest["growth_per_s"]) < 0.05


def test_strain_is_smoothed_over_the_length_asked_for(bounce):
    largest = [
        program.ok("motion", bounce, "--capture", "K01_bare", "--strain", "--smoothing", mm)["deep"]["strain"]["largest"] for mm in (0, 60)
    ]
    assert largest[0] > largest[1] > 0.0


def test_posture_needs_joints_and_says_so(bounce):
    assert "joint" in program.refused("motion", bounce, "--capture", "K01_bare", "--posture")


@pytest.mark.parametrize(
    "wrong",
    [
        ["--cycles", "mode-99"], ["--frame", "nowhere"], ["--frame", "trunk", "--tissue", "nothing"], ["--reference", "9999"], ["--modes", "0"],
        ["--frame", "trunk", "--cycles", "frame", "--cycle-hz", "-1"], ["--event", "never", "--cycles", "mode-1"],
    ],
)
def test_what_is_asked_wrongly_is_refused_with_its_value(bounce, wrong):
    said = program.refused("motion", bounce, "--capture", "K01_bare", *wrong)
    assert wrong[-1] in said or wrong[1] in said, said


def test_variances_of_modes_are_those_of_scikit_learn(tmp_path):
    from sklearn.decomposition import PCA

    t, frames = record(seconds=0.5, lean=50)
    path = cohort(tmp_path / "few", {"K10_hop": (t, frames)})
    x = frames.astype("<f4").astype(float)
    x -= x.mean(axis=1, keepdims=True)
    mean = x[0]
    for _ in range(30):
        u, _, vt = np.linalg.svd(np.einsum("fvi,vj->fij", x, mean))
        u[:, :, 2] *= np.sign(np.linalg.det(u @ vt))[:, None]
        x = x @ (u @ vt)
        mean = x.mean(axis=0)
    expected = PCA().fit(x.reshape(len(x), -1)).explained_variance_ / x.shape[1]
    told = program.ok("motion", path, "--weights", "plain", "--modes", 2)
    assert told["variances_mm2"][:2] == pytest.approx(expected[:2], rel=1e-5)
    assert told["total_variance_mm2"] == pytest.approx(expected.sum(), rel=1e-5)


# Broken records: clear findings, right results on the rest.


def test_a_long_gap_is_split_a_short_one_bridged(tmp_path):
    t, frames = record(seconds=6.0)
    keep = np.ones(len(t), bool)
    keep[100:104] = False  # 50 ms
    keep[300:340] = False  # 0.4 s
    path = cohort(tmp_path / "gaps", {"K03_run": (t[keep], frames[keep])})
    told = program.ok("motion", path, "--frame", "trunk", "--tissue", "soft", "--cycles", "frame", "--cycle-hz", HZ)
    dropped = [f for f in told["findings"] if f["kind"] == "dropped-frames"]
    assert [f["frames"] for f in dropped] == [4, 40]
    cycles = told["deep"]["cycles"]["cycles"]
    aside = [c for c in cycles if c["set_aside"]]
    assert len(aside) == 1 and aside[0]["set_aside"]["reason"] == "gap"
    assert aside[0]["start_s"] < 3.0 + 1 / HZ and aside[0]["end_s"] > 3.4 - 1 / HZ
    assert told["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.02)
    assert told["deep"]["tissue"][0]["missing_share"] > 0.05


def test_doubled_frames_are_findings(tmp_path):
    """30 frames/s written as 60: every second frame repeats the one before."""
    t, frames = record(seconds=4.0, fps=30.0)
    path = cohort(tmp_path / "doubled", {"K04_run": (np.arange(2 * len(t)) / 60, np.repeat(frames, 2, axis=0))})
    told = program.ok("motion", path)
    assert told["frozen_frames"] == len(t)
    assert sum(f["frames"] for f in told["findings"] if f["kind"] == "frozen-frames") == len(t)


def test_a_clock_that_runs_unevenly_has_no_frequencies_but_cycles(tmp_path):
    t, frames = record(seconds=4.0)
    at = (np.arange(400) / 100) + 0.002 * np.sin(np.arange(400))
    _, f = record(seconds=4.0)
    path = cohort(tmp_path / "uneven", {"K05_run": (at, f)})
    told = program.ok("motion", path, "--frame", "trunk", "--cycles", "frame", "--dynamics")
    assert not told["uniform"] and any(x["kind"] == "uneven-times" for x in told["findings"])
    assert told["deep"]["dynamics"] is None and any("dynamic" in r for r in told["deep"]["remarks"])
    assert told["deep"]["cycles"]["kept"] >= 9


def test_frames_that_are_not_numbers_are_set_aside_and_the_rest_is_right(tmp_path):
    t, frames = record(seconds=4.0)
    frames[50:52] = np.nan
    path = cohort(tmp_path / "nan", {"K06_run": (t, frames)})
    told = program.ok("motion", path, "--frame", "trunk", "--tissue", "soft", "--cycles", "frame", "--cycle-hz", HZ)
    assert told["frames"] == 398
    assert told["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.02)


def test_one_frame_two_cycles_and_stamps_out_of_order(tmp_path):
    t, frames = record(seconds=4.0)
    two = cohort(tmp_path / "two", {"K07_hop": (t[:75], frames[:75])})
    told = program.ok("motion", two, "--frame", "trunk", "--cycles", "frame")
    kept = told["deep"]["cycles"]
    assert kept is None or (kept["kept"] <= 2 and kept["caution"])
    assert told["deep"]["cycles_left_out"] is None
    t2 = t.copy()
    t2[200], t2[201] = t2[201], t2[200]
    folder = tmp_path / "order"
    folder.mkdir()
    bodies.ply(folder / "template.ply", bodies.body())
    np.save(folder / "K08_run.npy", frames.astype("<f4"))
    pandas.DataFrame({"frame": range(len(t2)), "time_s": t2}).to_csv(folder / "K08_run.times.csv", index=False)
    done = program.run("import", folder / "K08_run.npy", "--into", folder / "c.cohort", "--template", folder / "template.ply", "--unit", "mm", "--up", "z")
    said = done.out + done.err
    if done.code in (0, 1):
        said = program.refused("motion", folder / "c.cohort")
    assert "201" in said or "time" in said.lower(), said


# The real walks.


@pytest.mark.parametrize("name", ["mannequin-walk", "horse-walk"])
def test_a_real_walk_from_its_files_to_its_gait_cycle(name, tmp_path):
    folder = program.SHARED / name
    if not folder.is_dir():
        pytest.skip("the real sequences are not beside this checkout")
    program.run("import", folder / "*.obj", "--into", tmp_path / "once.cohort", "--fps", 24)
    frames = np.concatenate([np.load(p) for p in sorted((tmp_path / "once.cohort" / "positions").glob("*.npy"))])
    # the loop, walked six times; its last frame is its first
    loop = frames[:-1]
    np.save(tmp_path / "K09_walk.npy", np.concatenate([loop] * 6).astype("<f4"))
    template = next((tmp_path / "once.cohort").glob("template.toml"), tmp_path / "once.cohort" / "template.ply")
    made = program.run(
        "import", tmp_path / "K09_walk.npy", "--into", tmp_path / "walk.cohort", "--template", template, "--fps", 24, "--unit", "mm", "--up", "z"
    )
    assert made.code in (0, 1), str(made)
    extra = ["--strain"] if name == "horse-walk" else []
    told = program.ok("motion", tmp_path / "walk.cohort", "--cycles", "mode-1", "--into", tmp_path / "m", *extra)
    stride = len(loop) / 24
    cycles = told["deep"]["cycles"]
    assert cycles["kept"] >= 4
    assert min(abs(cycles["mean_s"] - stride), abs(cycles["mean_s"] - stride / 2)) < 0.02 * stride, (cycles["mean_s"], stride)
    assert told["explained"][0] > 0.5 and len(pandas.read_csv(next((tmp_path / "m").glob("mode-errors.csv")))) > 3
    if extra:
        # single triangles in the folds of a skinned animal stretch manifold
        assert 0.1 < told["deep"]["strain"]["largest"] < 10.0 and (tmp_path / "m" / "strain.glb").is_file()
