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


def cohort(folder, captures, code=(0, 1), **regions):
    """Imports captures {name: (times, frames)} of one person on the tube with its regions."""
    folder.mkdir(exist_ok=True)
    bodies.ply(folder / "template.ply", bodies.body())
    listed = lambda vertices: ", ".join(map(str, vertices))
    (folder / "template.toml").write_text(
        'mesh = "template.ply"\nversion = "tube"\nunit = "mm"\nup = "z"\n\n[landmarks]\n'
        f'navel = {int(SOFT[3])}\n\n[regions]\n'
        + "".join(f'{name} = "{listed(vertices)}"\n' for name, vertices in {"trunk": TRUNK, "soft": SOFT, **regions}.items())
    )
    for name, (t, frames) in captures.items():
        np.save(folder / f"{name}.npy", frames.astype("<f4"))
        pandas.DataFrame({"frame": range(len(t)), "time_s": t}).to_csv(folder / f"{name}.times.csv", index=False)
    done = program.run(
        "import", *[folder / f"{n}.npy" for n in captures], "--into", folder / "c.cohort", "--template", folder / "template.toml",
        "--unit", "mm", "--up", "z", "--json",
    )
    assert done.code in code, str(done)
    return folder / "c.cohort"


@pytest.fixture(scope="module")
def bounce(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bounce")
    return cohort(folder, {"K01_bare": record(), "K01_suit": record(soft_mm=11.0)})


def test_an_end_of_an_axis_that_is_not_there_is_named_for_what_it_is(bounce):
    motion = ["motion", bounce, "--capture", "K01_bare", "--frame", "trunk", "--tissue"]
    said = program.refused(*motion, "soft", "--cycles", "frame", "--vertical", "navel:sternun", "--lateral", "navel:soft")
    assert "--vertical" in said and "sternun" in said and all(f"`{n}`" in said for n in ("navel", "soft", "trunk"))
    assert "soft tissue" not in said
    said = program.refused(*motion, "sofd", "--cycles", "frame")
    assert "soft tissue" in said and "sofd" in said and "did you mean `soft`?" in said and "area" not in said


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


def test_a_garment_that_takes_40_percent_off_one_region_is_mapped_there_and_nowhere_else(tmp_path):
    """Every vertex of the region that the garment holds lies in the interval of its reduction; what moves freely has 0 %, what does not move 0 mm."""
    belly = np.array([v for r in (9, 10) for v in RING(r) if np.sin(2 * np.pi * (v % bodies.AROUND) / bodies.AROUND) < -0.1])
    t = np.arange(450) / FPS

    def worn(part, seed):
        size = part * (1 + 0.05 * np.random.default_rng(seed).standard_normal(30))
        # a swing's size changes where it is in the middle
        swing = HZ * t - LATE / 360
        frames = np.repeat(bodies.body()[None], len(t), 0)
        share = np.linspace(0.5, 1.0, len(SOFT))  # vertices of a region differ in how far they go
        frames[:, SOFT, 2] += (15 * size[np.floor(swing).astype(int)] * np.sin(2 * np.pi * swing))[:, None] * share
        frames[:, belly, 2] += 6 * np.sin(2 * np.pi * swing)[:, None]
        frames[:, :, 2] += 60 + 40 * np.sin(2 * np.pi * HZ * t)[:, None]
        return t, frames

    path = cohort(tmp_path / "held", {"K01_bare": worn(1.0, 5), "K01_suit": worn(0.6, 6)}, belly=belly)
    told = program.ok(
        "motion", path, "--capture", "K01_suit", "--against", "K01_bare", "--frame", "trunk", "--tissue", "soft", "--tissue", "belly",
        "--cycles", "frame", "--into", tmp_path / "suit",
    )
    found = {c["measure"]: c["persons"][0] for c in told["comparisons"]}
    low, high = found["soft: vertical range, mm"]["interval_percent"]
    assert low < 40 < high and 1 < high - low < 10, (low, high)
    low_free, high_free = found["belly: vertical range, mm"]["interval_percent"]
    assert abs(low_free) < 0.5 and abs(high_free) < 0.5
    table = pandas.read_csv(tmp_path / "suit" / "reduction-map.csv").set_index("vertex")
    held = table.loc[SOFT]
    assert held.reference_mm.min() > 13 and held.reduction_percent.between(low, high).all(), held
    free = table.loc[belly]
    assert free.reference_mm.min() > 11 and free.reduction_percent.abs().max() < 0.5
    rest = table.drop(index=np.concatenate([SOFT, belly]))
    assert len(rest) > 300 and rest.reduction_mm.abs().max() < 1e-3 and rest.reduction_percent.isna().all()


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


def test_a_fading_swing_under_noise_has_its_frequency_and_damping(tmp_path):
    """2.00 Hz that dies away at 0.25 / s, 1 mm of noise on every coordinate of every vertex."""
    t = np.arange(360) / 90
    frames = np.repeat(bodies.body()[None], len(t), 0)
    frames[:, SOFT, 2] += (30 * np.exp(-0.25 * t) * np.cos(4 * np.pi * t))[:, None]
    frames += np.random.default_rng(4).normal(size=frames.shape)
    told = program.ok("motion", cohort(tmp_path / "fading", {"K12_rest": (t, frames)}), "--dynamics")
    first = told["deep"]["dynamics"]["modes"][0]
    assert first["hz"] == pytest.approx(2.0, abs=0.02) and first["growth_per_s"] == pytest.approx(-0.25, rel=0.05)


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


@pytest.mark.parametrize("hz", [50, 60, 1000])
def test_a_cutoff_that_the_rate_does_not_allow_is_refused_with_the_largest_sensible(bounce, hz):
    said = program.refused("motion", bounce, "--capture", "K01_bare", "--cutoff", hz)
    assert "K01_bare" in said and f"{hz} Hz" in said and "100.00 frames" in said and "40.00 Hz" in said, said


def test_a_cutoff_near_half_the_rate_is_noticed(bounce):
    told = program.ok("motion", bounce, "--capture", "K01_bare", "--cutoff", 45)
    assert any("45 Hz" in r and "40.00 Hz" in r for r in told["deep"]["remarks"])


def test_given_events_that_make_cycles_of_a_few_frames(bounce, tmp_path):
    """All of them: refused. One among whole ones: set aside with the reason."""
    ms = tmp_path / "ms.csv"
    pandas.DataFrame({"time_s": 1 + 0.001 * np.arange(20)}).to_csv(ms, index=False)
    said = program.refused("motion", bounce, "--capture", "K01_bare", "--frame", "trunk", "--tissue", "soft", "--events", ms)
    assert "K01_bare" in said and "10" in said and "seconds" in said, said
    some = tmp_path / "some.csv"
    pandas.DataFrame({"time_s": sorted([*(0.3 + np.arange(10) / HZ), 1.35])}).to_csv(some, index=False)
    told = program.ok(
        "motion", bounce, "--capture", "K01_bare", "--frame", "trunk", "--tissue", "soft", "--events", some, "--into", tmp_path / "m"
    )
    aside = [c["set_aside"] for c in told["deep"]["cycles"]["cycles"] if c["set_aside"]]
    assert aside[0] == {"reason": "short", "frames": 5, "needed": 10}
    assert told["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.01)
    written = pandas.read_csv(tmp_path / "m" / "events.csv").set_aside.dropna()
    assert any("5 frames" in w for w in written)


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


@pytest.mark.parametrize("kind", ["to a point", "to the floor", "inside out"])
def test_a_collapsed_frame_is_a_finding_and_the_rest_is_right(tmp_path, kind):
    t, frames = record(seconds=4.0)
    if kind == "to a point":
        frames[200] = [100, 100, 100]
    elif kind == "to the floor":
        frames[200, :, 2] = 0
    else:
        frames[200] = frames[200].mean(axis=0) * 2 - frames[200]
    path = cohort(tmp_path / "bad", {"K13_run": (t, frames)})
    checks = program.run("check", path, "--json")
    assert checks.code == 1 and any("0200" in f["item"] or "200" in f["message"] for f in checks.json["findings"]), str(checks)
    told = program.ok("motion", path, "--frame", "trunk", "--tissue", "soft", "--cycles", "frame", "--cycle-hz", HZ, "--strain")
    assert told["frames"] == 399
    if kind != "to a point":  # that one is set aside at import
        broken = [f for f in told["findings"] if f["kind"] == "broken-frame"]
        assert [f["frame"] for f in broken] == [200] and "left out" in broken[0]["message"] and broken[0]["advice"]
    assert [f["frames"] for f in told["findings"] if f["kind"] == "dropped-frames"] == [1]
    deep = told["deep"]
    assert deep["cycles"]["kept"] >= 10 and deep["frame"]["largest_fit_rms_mm"] < 0.01
    assert deep["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.01)
    assert deep["tissue"][0]["lag"]["degrees"] == pytest.approx(LATE, rel=0.01)
    if kind == "to the floor":
        assert "broken" in program.refused("motion", path, "--reference", 200)


def study(folder, captures, extra=""):
    """A study of captures {name: (times, frames)}: what it tells."""
    cohort(folder, captures)
    (folder / "study.toml").write_text(
        "title = 'Broken'\n[import]\nmeshes = ['*.npy']\ntemplate = 'template.toml'\nunit = 'mm'\nup = 'z'\n[motion]\n"
        "cycles = { from = 'frame' }\ntissue = { frame = 'trunk', regions = ['soft'] }\n" + extra + "[export]\nfolder = 'out'\n"
    )
    return program.run("study", folder / "study.toml", "--json")


def test_one_frame_is_no_movement_and_the_rest_is_right(tmp_path):
    t, frames = record(seconds=4.0)
    captures = {"K07_still": (t[:1], frames[:1]), "K07_run": (t, frames)}
    path = cohort(tmp_path / "one", captures)
    said = program.refused("motion", path, "--capture", "K07_still")
    assert "K07_still" in said and "at least 2 frames" in said and "1" in said and "record more" in said, said
    told = program.ok("motion", path, "--capture", "K07_run", "--frame", "trunk", "--tissue", "soft", "--cycles", "frame")
    assert told["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.01)
    # a study goes on with the rest, and says so
    done = study(tmp_path / "study", captures)
    assert done.code in (0, 1), str(done)
    movements = done.json["motion"]
    assert [m["capture"] for m in movements] == ["K07_run"]
    assert movements[0]["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.01)
    left = done.json["movements"]["sequences_left_out"]
    assert len(left) == 1 and "K07_still" in left[0] and "1 good frame" in left[0] and "Record it again" in left[0]
    assert "K07_still" in (tmp_path / "study" / "out" / "report.html").read_text()
    # what was asked for by name is refused by name
    done = study(tmp_path / "named", captures, "captures = ['K07_still']\n")
    assert done.code == 2 and "K07_still" in done.out + done.err


@pytest.mark.parametrize(
    "line, key",
    [
        ("modes = 0", "motion.modes"), ("cutoff = -6.0", "motion.cutoff"), ("cycles = { hz = 0.0 }", "motion.cycles.hz"),
        ("cycles = { at_s = [2.0, 1.0] }", "motion.cycles.at_s"), ("[movements]\nshared = { modes = 0 }", "movements.shared.modes"),
        ("dynamics = { delays = 0 }", "motion.dynamics.delays"), ("strain = { smoothing_mm = -1.0 }", "motion.strain.smoothing_mm"),
    ],
)
def test_a_setting_out_of_range_stops_a_study_before_any_work(tmp_path, line, key):
    t, frames = record(seconds=1.0)
    np.save(tmp_path / "K14_run.npy", frames.astype("<f4"))
    pandas.DataFrame({"frame": range(len(t)), "time_s": t}).to_csv(tmp_path / "K14_run.times.csv", index=False)
    bodies.ply(tmp_path / "template.ply", bodies.body())
    (tmp_path / "study.toml").write_text(
        f"title = 'A'\n[import]\nmeshes = ['*.npy']\ntemplate = 'template.ply'\n[motion]\n{line}\n[export]\nfolder = 'out'\n"
    )
    assert key in program.refused("study", tmp_path / "study.toml")
    assert not (tmp_path / "out").exists()


def test_frames_of_another_topology_are_set_aside_by_name_and_the_rest_is_right(tmp_path):
    """A whole sequence on other triangles; and one mesh of other triangles among the frames of a good one."""
    t, frames = record(seconds=4.0)
    folder = tmp_path / "other"
    path = cohort(folder, {"K08_run": (t, frames), "K08_odd": (t[:5], frames[:5, :-7])}, code=(1,))
    checks = program.run("check", path, "--json")
    odd = [f for f in checks.json["findings"] if f["kind"] == "quarantined"]
    assert checks.code == 1 and len(odd) == 5
    assert all("K08_odd.npy" in f["message"] and "595 vertices, the template has 602" in f["message"] and f["advice"] for f in odd), odd[0]
    options = ["--frame", "trunk", "--tissue", "soft", "--cycles", "frame"]
    told = program.ok("motion", path, *options)
    assert told["frames"] == 400 and told["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.01)
    assert "K08_run" in program.refused("motion", path, "--capture", "K08_odd")

    meshes = tmp_path / "meshes"
    meshes.mkdir()
    for k in range(150):
        bodies.ply(meshes / f"K09_run_{k:04d}.ply", frames[k])
    # one triangle fewer on the same vertices
    bodies.ply(meshes / "K09_run_0060.ply", frames[60], faces=bodies.triangles()[:-1])
    done = program.run(
        "import", meshes / "*.ply", "--into", tmp_path / "m.cohort", "--template", folder / "template.toml", "--unit", "mm", "--up", "z",
        "--fps", 100,
    )
    assert done.code == 1 and "K09_run_0060.ply" in done.out + done.err, str(done)
    told = program.ok("motion", tmp_path / "m.cohort", *options, "--cycle-hz", HZ)
    assert told["frames"] == 149 and [f["frames"] for f in told["findings"] if f["kind"] == "dropped-frames"] == [1]
    assert told["deep"]["tissue"][0]["summary"]["vertical_mm"]["mean"] == pytest.approx(SOFT_MM, rel=0.02)


def test_one_frame_two_cycles_and_stamps_out_of_order(tmp_path):
    t, frames = record(seconds=4.0)
    one = cohort(tmp_path / "one", {"K07_hop": (t[:1], frames[:1])})
    assert "K07_hop" in program.refused("motion", one, "--frame", "trunk", "--cycles", "frame")
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


def largest_stretch(path, frames):
    """The largest principal stretch less 1 of any triangle against the first frame, in numpy: of C = F^T F in the triangle's plane."""
    import trimesh

    triangles = trimesh.load(next(path.glob("*.ply")), process=False).faces
    edges = lambda f: np.stack([f[triangles[:, 1]] - f[triangles[:, 0]], f[triangles[:, 2]] - f[triangles[:, 0]]], -1).astype(float)
    products = lambda e: np.einsum("tik,til->tkl", e, e)
    rest = np.linalg.inv(products(edges(frames[0])))
    most = 0.0
    for f in frames:
        m = rest @ products(edges(f))
        half, det = np.trace(m, axis1=1, axis2=2) / 2, np.linalg.det(m)
        most = max(most, np.sqrt(half + np.sqrt(np.maximum(half**2 - det, 0))).max() - 1)
    return most


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
    (tmp_path / "skin.toml").write_text('[[dimension]]\nname = "skin"\nkind = "area"\nunit = "m2"\n')
    told = program.ok(
        "motion", tmp_path / "walk.cohort", "--cycles", "mode-1", "--into", tmp_path / "m", "--dimensions", tmp_path / "skin.toml", *extra
    )
    stride = len(loop) / 24
    cycles = told["deep"]["cycles"]
    assert cycles["kept"] >= 4
    assert min(abs(cycles["mean_s"] - stride), abs(cycles["mean_s"] - stride / 2)) < 0.02 * stride, (cycles["mean_s"], stride)
    assert told["explained"][0] > 0.5 and len(pandas.read_csv(next((tmp_path / "m").glob("mode-errors.csv")))) > 3
    curve = pandas.read_csv(tmp_path / "m" / "cycles.csv")
    assert len(curve) == 101 and curve.filter(like="skin_mean").iloc[:, 0].between(1.5, 7.0).all()
    assert told["deep"]["dimensions"][0]["cycles"] >= 4 and told["deep"]["dimensions"][0]["range"] > 0
    if extra:
        # single triangles in the folds of a skinned animal stretch manifold
        assert 0.1 < told["deep"]["strain"]["largest"] < 10.0 and (tmp_path / "m" / "strain.glb").is_file()
        raw = program.ok("motion", tmp_path / "walk.cohort", "--strain", "--smoothing", 0)["deep"]["strain"]["largest"]
        assert raw == pytest.approx(largest_stretch(tmp_path / "walk.cohort", loop), rel=1e-5)
