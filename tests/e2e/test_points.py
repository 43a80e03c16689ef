"""Trajectories of points, given events, axes of landmarks, conditions compared, components of curves: planted and found again."""

import json
import struct

import numpy as np
import pandas
import pytest

import bodies
import program

NAMES = ["sternum", "clavicle_left", "clavicle_right", "navel", "soft", "heel"]


def record(soft_mm=22.0, hz=3.0, late=35.0, seconds=6.0, fps=100.0, seed=1, noise=0.0, wobble=0.0):
    """A trunk that bounces, turns and travels, with a soft point that swings against it and a heel that steps. Times and [frames, points, 3] in mm, z up."""
    r = np.random.default_rng(seed)
    t = np.arange(int(seconds * fps)) / fps
    size = 1 + wobble * r.standard_normal(int(seconds * hz) + 2)[(t * hz).astype(int)]
    fixed = np.array([[0, 120, 1300], [150, 20, 1350], [-150, 20, 1350], [0, 0, 1000]], float)
    soft = np.stack([60 + 0 * t, -100 + 0 * t, 1250 + soft_mm / 2 * size * np.sin(2 * np.pi * hz * t - np.radians(late))], 1)
    trunk = np.concatenate([np.broadcast_to(fixed, (len(t), 4, 3)), soft[:, None]], 1)
    c, s = np.cos(0.3 * t), np.sin(0.3 * t)
    turn = np.zeros((len(t), 3, 3))
    turn[:, 0, 0], turn[:, 0, 1], turn[:, 1, 0], turn[:, 1, 1], turn[:, 2, 2] = c, -s, s, c, 1
    trunk = np.einsum("tij,tpj->tpi", turn, trunk)
    trunk[:, :, 2] += 30 * np.sin(2 * np.pi * hz * t)[:, None]
    trunk[:, :, 0] += 900 * t[:, None]
    heel = np.stack([900 * t, 0 * t + 60, 60 + 50 * np.cos(2 * np.pi * hz / 2 * t)], 1)
    points = np.concatenate([trunk, heel[:, None]], 1)
    return t, points + noise * r.standard_normal(points.shape)


def trc(path, t, points, unit="mm", y_up=True, names=NAMES, rate=100):
    """Writes a TRC file; y up as is common."""
    factor = {"mm": 1.0, "m": 0.001}[unit]
    p = points[:, :, [0, 2, 1]] * [1, 1, -1] if y_up else points
    head = [
        f"PathFileType\t4\t(X/Y/Z)\t{path.name}",
        "DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames",
        f"{rate}\t{rate}\t{len(t)}\t{len(names)}\t{unit}\t{rate}\t1\t{len(t)}",
        "Frame#\tTime\t" + "\t\t\t".join(names) + "\t\t",
        "\t\t" + "\t".join(f"{a}{i + 1}" for i in range(len(names)) for a in "XYZ"),
        "",
    ]
    rows = []
    for k in range(len(t)):
        cells = ["" if np.isnan(v) else f"{v * factor:.6f}" for v in p[k].ravel()]
        rows.append(f"{k + 1}\t{t[k]:.5f}\t" + "\t".join(cells))
    path.write_text("\n".join(head + rows) + "\n")
    return path


FRAME = ["--frame", "sternum", "--frame", "clavicle_left", "--frame", "clavicle_right"]
AXES = ["--vertical", "navel:clavicle_left+clavicle_right", "--lateral", "clavicle_right:clavicle_left"]


@pytest.fixture(scope="module")
def run_file(tmp_path_factory):
    folder = tmp_path_factory.mktemp("points")
    t, points = record()
    events = pandas.DataFrame({"time_s": 0.25 + np.arange(17) / 3})
    events.to_csv(folder / "events.csv", index=False)
    return folder, trc(folder / "A01_run.trc", t, points)


def test_a_planted_swing_is_found_in_the_body_frame(run_file):
    folder, path = run_file
    told = program.ok(
        "points", path, *FRAME, "--vertical", "navel:navel+sternum", "--lateral", "clavicle_right:clavicle_left",
        "--follow-point", "soft", "--events", folder / "events.csv", "--into", folder / "run", "--force",
    )
    capture = told["captures"][0]
    assert (told["people"], capture["frames"], capture["participant"]) == (1, 600, "A01")
    assert capture["up"].startswith("y") and capture["fps"] == pytest.approx(100)
    assert capture["cycles"]["kept"] == 16 and "given" in capture["cycles"]["found_in"]
    soft = capture["tissue"][0]
    # The filter at 12 Hz leaves 99.2 % of 3 Hz.
    axis = np.array([0, 60, 150]) / np.hypot(60, 150)
    assert soft["summary"]["vertical_mm"]["mean"] == pytest.approx(22.0 * axis[2], rel=0.02)
    assert soft["summary"]["fore_aft_mm"]["mean"] == pytest.approx(22.0 * axis[1], rel=0.05)
    assert soft["lag"]["degrees"] == pytest.approx(35, abs=1)


def test_what_is_written_reads_back_and_into_pandas(run_file):
    folder, path = run_file
    told = program.ok(
        "points", path, *FRAME, "--events", folder / "events.csv", "--distance", "sternum:soft", "--angle", "sternum:navel:soft",
        "--into", folder / "open", "--force",
    )
    names = {p.rsplit("/", 1)[1] for p in told["outputs"]}
    assert {
        "points-laboratory.trc", "points-laboratory.csv", "points-body.trc", "points-body.csv", "signals.csv", "events.csv",
        "cycles.csv", "cycle-curves.csv", "tissue.csv", "tissue-course.csv", "changes.csv", "components.csv", "component-scores.csv",
    } <= names, names
    signals = pandas.read_csv(folder / "open/signals.csv")
    _, points = record()
    p = {n: points[:, i] for i, n in enumerate(NAMES)}
    assert np.allclose(signals["sternum_to_soft_mm"], np.linalg.norm(p["sternum"] - p["soft"], axis=1), atol=1e-3)
    u, v = p["sternum"] - p["navel"], p["soft"] - p["navel"]
    cosine = (u * v).sum(1) / np.linalg.norm(u, axis=1) / np.linalg.norm(v, axis=1)
    assert np.allclose(signals["sternum_navel_soft_deg"], np.degrees(np.arccos(cosine)), atol=1e-3)
    again = program.ok("points", folder / "open/points-laboratory.csv", "--follow", "soft_z")
    first = program.ok("points", folder / "open/points-laboratory.trc", "--up", "z", "--follow", "soft_z")
    assert again["changes"][0]["range"] == pytest.approx(first["changes"][0]["range"], abs=1e-3)
    # The frame's own points stand still in the body frame.
    body = pandas.read_csv(folder / "open/points-body.csv")
    assert body["sternum_x_mm"].std() < 1e-3 and body["clavicle_left_z_mm"].std() < 1e-3


def test_components_of_curves_equal_scikit_learn(run_file, tmp_path):
    """Functional components under the trapezoid rule are those of the curves weighed by its roots."""
    from sklearn.decomposition import PCA

    t, points = record(wobble=0.2, noise=0.3)
    path = trc(tmp_path / "B02_run.trc", t, points)
    told = program.ok("points", path, *FRAME, "--events", run_file[0] / "events.csv", "--follow", "soft_vertical", "--into", tmp_path / "b")
    curves = pandas.read_csv(tmp_path / "b/cycle-curves.csv").drop(columns="percent").to_numpy().T
    w = np.full(101, 0.01)
    w[[0, -1]] = 0.005
    referee = PCA(5).fit(curves * np.sqrt(w))
    own = told["components"][0]
    assert own["cycles"] == len(curves)
    assert np.allclose(own["variances"], referee.explained_variance_, rtol=1e-4)
    functions = pandas.read_csv(tmp_path / "b/components.csv")
    first = functions[functions.component == 1].function.to_numpy()
    assert abs((first * np.sqrt(w)) @ referee.components_[0]) == pytest.approx(1, abs=1e-5)
    scores = pandas.read_csv(tmp_path / "b/component-scores.csv")
    mine = scores[scores.component == 1].score.to_numpy()
    theirs = referee.transform(curves * np.sqrt(w))[:, 0]
    assert np.abs(np.abs(mine) - np.abs(theirs)).max() < 1e-2


def test_bands_equal_numpy_and_scipy(tmp_path):
    """Filter, cut, 101 points, mean and SD, in a few lines of scipy."""
    from scipy.interpolate import CubicSpline
    from scipy.signal import butter, filtfilt

    t, points = record(noise=0.5, wobble=0.1)
    path = trc(tmp_path / "C03_run.trc", t, points, y_up=False)
    events = 0.25 + np.arange(17) / 3
    pandas.DataFrame({"time_s": events}).to_csv(tmp_path / "events.csv", index=False)
    program.ok("points", path, "--up", "z", "--follow", "heel_z", "--cutoff", "6", "--events", tmp_path / "events.csv", "--into", tmp_path / "c")
    single = np.arctan(np.tan(np.pi * 6 / 100) / (np.sqrt(2) - 1) ** 0.25) * 100 / np.pi
    smooth = filtfilt(*butter(2, single, fs=100), points[:, 5, 2], padtype="odd", padlen=100)
    curve = CubicSpline(t, smooth)
    all_ = np.array([curve(np.linspace(a, b, 101)) for a, b in zip(events, events[1:])])
    found = pandas.read_csv(tmp_path / "c/cycle-curves.csv").drop(columns="percent")
    kept = [int(c.split("_cycle_")[1].split("_")[0]) - 1 for c in found]
    assert np.abs(found.to_numpy().T - all_[kept]).max() < 0.05
    band = pandas.read_csv(tmp_path / "c/cycles.csv")
    assert np.abs(band["heel_z_mean_mm"] - all_[kept].mean(0)).max() < 0.05
    assert np.abs(band["heel_z_sd_mm"] - all_[kept].std(0, ddof=1)).max() < 0.05


def test_residual_analysis_chooses_a_cutoff(tmp_path):
    t, points = record(noise=0.8)
    told = program.ok("points", trc(tmp_path / "D_x.trc", t, points), "--follow", "soft_z", "--cutoff", "residual")
    found = told["captures"][0]["residual_cutoffs"][0]
    assert found["signal"] == "soft_z" and found["noise"] == pytest.approx(0.8, rel=0.1) and 4 < found["cutoff_hz"] < 20


def test_gaps_are_never_filtered_across(tmp_path):
    t, points = record()
    points[200:260, NAMES.index("soft")] = np.nan
    points[400:404, NAMES.index("soft")] = np.nan
    pandas.DataFrame({"time_s": 0.25 + np.arange(17) / 3}).to_csv(tmp_path / "events.csv", index=False)
    told = program.ok("points", trc(tmp_path / "E_gap.trc", t, points), "--follow", "soft_z", "--events", tmp_path / "events.csv")
    row = told["changes"][0]
    capture = told["captures"][0]
    assert row["cycles"] < 16 and capture["missing_share"] == pytest.approx(64 / 600 / len(NAMES))
    aside = capture["dimensions"][0]["set_aside"]
    assert any(a[1]["reason"] == "gap" for a in aside), aside


@pytest.fixture(scope="module")
def conditions(tmp_path_factory):
    """Six people without and with a garment that takes 40 % off the swing."""
    folder = tmp_path_factory.mktemp("conditions")
    bare, suit = [], []
    for i in range(6):
        size = 20 + 2 * i
        bare.append(trc(folder / f"P{i}_bare.trc", *record(size, seed=i, wobble=0.05)))
        suit.append(trc(folder / f"P{i}_suit.trc", *record(0.6 * size, seed=50 + i, wobble=0.05)))
    pandas.DataFrame({"time_s": 0.25 + np.arange(17) / 3}).to_csv(folder / "events.csv", index=False)
    return folder, bare, suit


def test_a_planted_reduction_is_inside_its_interval(conditions):
    folder, bare, suit = conditions
    against = [a for s in suit for a in ("--against", s)]
    told = program.ok(
        "points", *bare, *against, *FRAME, "--follow-point", "soft", "--follow", "soft_vertical", "--events", folder / "events.csv",
        "--into", folder / "out", "--report", folder / "page.html",
    )
    assert told["people"] == 6
    found = {c["measure"]: c for c in told["comparisons"]}
    vertical = found["soft: vertical range, mm"]
    assert vertical["people"] == 6 and vertical["reduction_percent"] == pytest.approx(40, abs=3)
    low, high = vertical["interval_percent"]
    assert low < 40 < high and high - low < 8
    assert vertical["test"]["p_t"] < 0.001 and vertical["test"]["p_signed_rank"] < 0.05
    for person in vertical["persons"]:
        assert person["interval_percent"][0] < person["reduction_percent"] < person["interval_percent"][1]
    table = pandas.read_csv(folder / "out/conditions.csv")
    assert table.loc[0, "people"] == 6
    people = pandas.read_csv(folder / "out/conditions-people.csv")
    assert set(people.participant) == {f"P{i}" for i in range(6)}
    # The paired test is scipy's.
    from scipy.stats import ttest_rel, wilcoxon

    own = people[people.measure == "soft: vertical range, mm"]
    assert vertical["test"]["p_t"] == pytest.approx(ttest_rel(own.reference, own.garment).pvalue, rel=1e-2)
    assert vertical["test"]["p_signed_rank"] == pytest.approx(wilcoxon(own.reference, own.garment).pvalue, rel=1e-6)
    # Mean of the persons' reductions, by hand.
    assert vertical["reduction_percent"] == pytest.approx((100 * (1 - own.garment / own.reference)).mean(), abs=1e-3)


def test_the_page_of_points_plays(conditions, browser, screens):
    folder, bare, suit = conditions
    if not (folder / "page.html").exists():
        pytest.skip("the page was not made")
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    said = []
    page.on("pageerror", lambda e: said.append(str(e)))
    page.goto((folder / "page.html").as_uri())
    page.wait_for_timeout(800)
    assert said == [] and page.evaluate("formkinReport.faults") == []
    assert page.evaluate("formkinReport.views") >= 6
    text = page.inner_text("body").lower()
    for word in ("reduction", "signed ranks", "over people", "noise floor", "component", "cycles"):
        assert word in text, word
    slider = page.locator(".points input[type=range]").first
    slider.evaluate("s => { s.value = 300; s.dispatchEvent(new Event('input')); }")
    assert "3.00 s" in page.locator(".points output").first.inner_text()
    page.screenshot(path=screens / "points.png", full_page=False)
    page.close()


HOSTILE = {
    "empty": ("", "PathFileType"),
    "cut off": ("PathFileType\t4\n", "cut off"),
    "unit": ("PathFileType\t4\na\tUnits\nb\tfathom\nFrame#\tTime\tp\t\t\n\n\n1\t0\t1\t2\t3\n", "fathom"),
    "word": ("PathFileType\t4\na\tUnits\nb\tmm\nFrame#\tTime\tp\t\t\n\n\n1\t0\t1\ttwo\t3\n", "two"),
    "two of three": ("PathFileType\t4\na\tUnits\nb\tmm\nFrame#\tTime\tp\t\t\n\n\n1\t0\t1\t\t3\n", "three coordinates"),
    "twice": ("PathFileType\t4\na\tUnits\nb\tmm\nFrame#\tTime\tp\t\t\tp\t\t\n\n\n1\t0\t1\t2\t3\t1\t2\t3\n", "twice"),
    "time runs back": ("PathFileType\t4\na\tUnits\nb\tmm\nFrame#\tTime\tp\t\t\n\n\n1\t1\t1\t2\t3\n2\t0.5\t1\t2\t3\n", "order"),
    "infinite": ("PathFileType\t4\na\tUnits\nb\tmm\nFrame#\tTime\tp\t\t\n\n\n1\t0\t1\t2\tinf\n", "inf"),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_broken_files_are_refused_with_a_reason(tmp_path, kind):
    text, word = HOSTILE[kind]
    (tmp_path / "a.trc").write_text(text)
    said = program.refused("points", tmp_path / "a.trc")
    assert word in said and "a.trc" in said


def test_bytes_that_are_no_text_are_refused(tmp_path):
    (tmp_path / "a.trc").write_bytes(bytes(range(256)) * 40)
    assert "PathFileType" in program.refused("points", tmp_path / "a.trc")
    (tmp_path / "a.csv").write_bytes(b"time_s,a_x_mm\n0,\xff\n")
    program.refused("points", tmp_path / "a.csv")


@pytest.mark.parametrize("hz", [50, 80])
def test_a_cutoff_that_the_rate_does_not_allow_is_refused(run_file, hz):
    said = program.refused("points", run_file[1], "--follow", "heel_z", "--cutoff", hz)
    assert "A01_run" in said and f"{hz} Hz" in said and "100.00 frames" in said and "40.00 Hz" in said, said


def test_events_of_a_millisecond_are_refused(run_file, tmp_path):
    pandas.DataFrame({"time_s": 1 + 0.001 * np.arange(30)}).to_csv(tmp_path / "ms.csv", index=False)
    said = program.refused("points", run_file[1], *FRAME, "--events", tmp_path / "ms.csv")
    assert "A01_run" in said and "29 cycles" in said and "seconds" in said, said


@pytest.mark.parametrize("kind", ["one frame", "nothing seen"])
def test_a_file_in_which_nothing_can_be_measured_is_an_error(tmp_path, kind):
    t, points = record(seconds=1)
    if kind == "one frame":
        t, points = t[:1], points[:1]
    else:
        points[:] = np.nan
    path = trc(tmp_path / "G07_lost.trc", t, points)
    said = program.refused("points", path, "--into", tmp_path / "out")
    assert "nothing can be measured" in said and "G07_lost" in said and "samples" in said, said
    assert not (tmp_path / "out").exists()
    (tmp_path / "study.toml").write_text(
        "title = 'Lost'\n[import]\nmeshes = ['scans/*.obj']\n[points]\nfiles = ['G07_lost.trc']\n"
    )
    bodies.folder(tmp_path / "scans", 3)
    assert "G07_lost" in program.refused("study", tmp_path / "study.toml")


def test_requests_that_make_no_sense_name_what_there_is(run_file, tmp_path):
    _, path = run_file
    assert "soft" in program.refused("points", path, *FRAME, "--follow-point", "elbow")
    assert "heel_z" in program.refused("points", path, "--cycles", "toe_z")
    assert "three" not in program.refused("points", path, "--frame", "sternum")
    assert "A:B" in program.run("points", "--help").out
    program.refused("points", path, "--distance", "sternum")
    program.refused("points", path, "--cutoff", "high")
    (tmp_path / "events.csv").write_text("time_s\n1\n99\n")
    assert "outside" in program.refused("points", path, "--events", tmp_path / "events.csv")
    program.refused("points", path, "--against", path)


def test_rates_that_disagree_and_points_at_the_origin_are_noticed(tmp_path):
    t, points = record(seconds=2)
    points[20:30, 4] = 0
    path = trc(tmp_path / "F_x.trc", t, points, rate=50)
    told = program.ok("points", path, "--follow", "soft_z")
    said = " ".join(told["captures"][0]["remarks"])
    assert "50" in said and "origin" in said
    told = program.ok("points", path, "--follow", "soft_z", "--origin-is-missing")
    assert told["captures"][0]["missing_share"] == pytest.approx(10 / 200 / len(NAMES))


# Meshes: events as given, axes of landmarks, landmarks written, conditions mapped.


def mesh_study(folder, people=3, frames=121, fps=60.0):
    """People whose waist band swings against the trunk, without and with a garment that halves it, as NPY sequences with a template."""
    rest = bodies.body()
    n = len(rest)
    ring = lambda low, high: [i for i in range(bodies.RINGS * bodies.AROUND) if low <= i // bodies.AROUND < high]
    soft = [i for i in ring(16, 20) if rest[i, 1] < 0]
    trunk = ring(20, 25)
    bodies.ply(folder / "template.ply", rest)
    front = lambda r: r * bodies.AROUND + 15
    (folder / "template.toml").write_text(
        'mesh = "template.ply"\nversion = "1"\n[landmarks]\n'
        f"top = {front(25)}\nbottom = {front(18)}\nleft = {22 * bodies.AROUND}\nright = {22 * bodies.AROUND + 10}\n"
        f"[regions]\ntrunk = {trunk}\nsoft = {soft}\n"
    )
    t = np.arange(frames) / fps
    for i in range(people):
        for word, size in (("bare", 20 + 2 * i), ("suit", 10 + i)):
            shapes = np.repeat(rest[None], frames, 0)
            swing = size / 2 * np.sin(2 * np.pi * 2 * t - 0.6)
            shapes[:, soft, 2] += swing[:, None]
            shapes[:, :, 2] += 25 * np.sin(2 * np.pi * 2 * t)[:, None]
            np.save(folder / f"K{i}_{word}.npy", shapes.astype("<f4"))
            pandas.DataFrame({"frame": range(frames), "time_s": t}).to_csv(folder / f"K{i}_{word}.times.csv", index=False)
    return n


@pytest.fixture(scope="module")
def garments(tmp_path_factory):
    folder = tmp_path_factory.mktemp("garments")
    vertices = mesh_study(folder)
    pandas.DataFrame({"time_s": [0.1, 0.6, 1.1, 1.6]}).to_csv(folder / "events.csv", index=False)
    pairs = ", ".join(f'{{ reference = "K{i}_bare", garment = "K{i}_suit" }}' for i in range(3))
    (folder / "study.toml").write_text(
        "title = 'Two garments'\n[import]\nmeshes = ['*.npy']\ntemplate = 'template.toml'\n"
        "[motion]\nlandmarks = true\nevents = 'events.csv'\n"
        "tissue = { frame = 'trunk', regions = ['soft'], axes = { vertical = ['bottom', 'top'], lateral = ['right', 'left'] } }\n"
        f"strain = {{ smoothing_mm = 0.0 }}\ndynamics = {{}}\n[movements]\nshared = {{}}\ncompare = [{pairs}]\n"
        "[points]\nfiles = ['P0_run.trc']\nframe = ['sternum', 'clavicle_left', 'clavicle_right']\n"
        "follow = ['soft_vertical']\ncycles = { at_s = [0.25, 0.5833, 0.9167, 1.25, 1.5833] }\n"
    )
    trc(folder / "P0_run.trc", *record(seconds=2))
    return folder, vertices, program.ok("study", folder / "study.toml")


def left_out_error(folder, names, modes):
    """The error of people left out of one motion space, in numpy: every capture without its rigid part and its mean, area weights, SVD."""
    import trimesh

    mesh = trimesh.load(folder / "template.ply", process=False)
    captures = [np.load(folder / f"{n}.npy").astype(float) for n in names]

    def fitted(x, y, w):
        """x laid on y by the best turn."""
        cx, cy = w @ x, w @ y
        u, _, vt = np.linalg.svd((w[:, None] * (x - cx)).T @ (y - cy))
        d = np.diag([1, 1, np.sign(np.linalg.det(u @ vt))])
        return (x - cx) @ (u @ d @ vt) + cy

    def weights(points):
        a = trimesh.Trimesh(points, mesh.faces, process=False).area_faces
        return np.bincount(mesh.faces.ravel(), np.repeat(a / 3, 3), minlength=len(points)) / a.sum()

    base = weight = None
    parts = []
    for x in captures:
        mean, w = x[0], weights(x[0])
        for _ in range(12):
            y = np.array([fitted(f, mean, w) for f in x])
            mean = y.mean(axis=0)
            w = weights(mean)
        if base is None:
            base, weight = mean, w
        turned = fitted(mean, base, weight)
        y = np.array([fitted(f, turned, w) for f in x])
        parts.append(((y - y.mean(axis=0)) * np.sqrt(weight)[None, :, None]).reshape(len(x), -1))
    people = [n.split("_")[0] for n in names]
    squares = np.zeros(modes + 1)
    for who in sorted(set(people)):
        train = np.concatenate([p / np.sqrt(len(p)) for p, o in zip(parts, people) if o != who])
        _, s, vt = np.linalg.svd(train, full_matrices=False)
        own = [p for p, o in zip(parts, people) if o == who]
        for k in range(modes + 1):
            v = vt[: min(k, (s > 1e-6 * s[0]).sum())]
            squares[k] += np.mean([((p - p @ v.T @ v) ** 2).sum(axis=1).mean() for p in own])
    return np.sqrt(squares / len(set(people)))


def test_the_error_of_people_left_out_of_the_motion_space(garments):
    """The file has the library's values, and numpy's."""
    folder, _, told = garments
    shared = told["movements"]["shared"]
    left = shared["left_out"]
    table = pandas.read_csv(folder / "motion-space-errors.csv")
    assert list(table) == ["modes", "rms_mm", "left_out"]
    assert list(table.modes) == list(range(11)) and set(table.left_out) == {"participant"}
    assert (left["by"], left["groups"]) == ("participant", 3)
    assert table.rms_mm.to_numpy() == pytest.approx(left["rms_mm"], abs=1e-5)
    names = [c["capture"] for c in shared["courses"]]
    want = left_out_error(folder, names, 10)
    assert want[0] > 1.0 and table.rms_mm[0] == pytest.approx(want[0], rel=1e-3)
    # one swing is one mode: what is left is rounding
    assert np.abs(table.rms_mm - want).max() < 2e-3, (table.rms_mm.to_numpy(), want)
    # with none the error is the size of the movement
    assert table.rms_mm[0] == pytest.approx(np.sqrt(np.mean([c["rms_mm"] ** 2 for c in shared["courses"]])), rel=1e-3)
    assert (np.diff(table.rms_mm) <= 1e-9).all()


def test_conditions_over_people_and_over_the_surface(garments):
    folder, vertices, told = garments
    found = {c["measure"]: c for c in told["movements"]["comparisons"]}
    vertical = found["soft: vertical range, mm"]
    assert vertical["people"] == 3 and vertical["reduction_percent"] == pytest.approx(50, abs=1.5)
    table = pandas.read_csv(folder / "reduction-map.csv")
    assert len(table) == vertices
    soft = table.reduction_mm > 5
    assert soft.sum() > 30 and table.reduction_percent[soft].mean() == pytest.approx(50, abs=3)
    assert table.reduction_mm[~soft].abs().max() < 0.01
    raw = (folder / "reduction-map.glb").read_bytes()
    size = struct.unpack("<I", raw[12:16])[0]
    head = json.loads(raw[20 : 20 + size])
    assert "COLOR_0" in head["meshes"][0]["primitives"][0]["attributes"]


def test_events_axes_and_landmarks_of_meshes(garments):
    folder, _, told = garments
    movement = next(m for m in told["motion"] if m["capture"] == "K0_bare")
    deep = movement["deep"] if "deep" in movement else movement
    assert deep["cycles"]["kept"] == 3 and "given" in deep["cycles"]["found_in"]
    assert "landmarks" in deep["frame"]["axes"]
    lab = pandas.read_csv(folder / "motion/K0_bare/landmarks-laboratory.csv")
    body = pandas.read_csv(folder / "motion/K0_bare/landmarks-body.csv")
    assert lab["top_z_mm"].max() - lab["top_z_mm"].min() == pytest.approx(50, abs=0.5)
    assert body["top_z_mm"].std() < 0.01
    again = program.ok("points", folder / "motion/K0_bare/landmarks-laboratory.trc", "--up", "z", "--follow", "top_z")
    assert again["changes"][0]["range"] == pytest.approx(50, abs=0.5)


def test_the_shared_motion_space_decodes(garments):
    """Pose and modes of the NPY with the coefficients of the Parquet table give a frame back."""
    folder, vertices, _ = garments
    arrays = np.load(folder / "motion/motion-space.npy")
    table = pandas.read_parquet(folder / "motion-space.parquet")
    csv = pandas.read_csv(folder / "motion-space.csv")
    assert arrays.shape[1:] == (vertices, 3) and len(table) == len(csv) and table.capture.nunique() == 6
    modes = [c for c in table if c.startswith("mode_")]
    assert len(modes) == len(arrays) - 1
    row = table[(table.capture == "K2_bare")].iloc[10]
    shape = arrays[0] + np.einsum("k,kvc->vc", row[modes].to_numpy(float), arrays[1:])
    frame = np.load(folder / "K2_bare.npy")[int(row.frame)]
    a, b = shape - shape.mean(0), frame - frame.mean(0)
    u, _, v = np.linalg.svd(b.T @ a)
    assert np.sqrt(((b @ (u @ v) - a) ** 2).sum(1).mean()) < 0.5


def test_modes_and_strain_as_gltf(garments):
    import trimesh

    folder, vertices, _ = garments
    head = lambda p: json.loads(p.read_bytes()[20 : 20 + struct.unpack("<I", p.read_bytes()[12:16])[0]])
    mode, strain = folder / "motion/K0_bare/mode-1.glb", folder / "motion/K0_bare/strain.glb"
    for path in (mode, strain):
        assert len(next(iter(trimesh.load(path).geometry.values())).vertices) == vertices
    assert head(mode)["animations"] and head(mode)["meshes"][0]["primitives"][0]["targets"]
    assert "COLOR_0" in head(strain)["meshes"][0]["primitives"][0]["attributes"]


def test_the_page_shows_all_of_a_movement(garments, browser, screens):
    folder, _, told = garments
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    said = []
    page.on("pageerror", lambda e: said.append(str(e)))
    page.goto((folder / "report.html").as_uri())
    page.wait_for_timeout(1500)
    assert said == [] and page.evaluate("formkinReport.faults") == []
    text = page.inner_text("body").lower()
    for word in (
        "apparent", "lines of non-extension", "growth", "spectr", "in one motion space", "reduction", "noise floor", "against the body",
        "acceleration", "rebuilt", "what movement does to points", "segments left out", "cycles left out", "participant left out",
    ):
        assert word in text, word
    # the errors of every movement side by side: in sample, by segment, by cycle
    rebuilt = page.locator("figure").filter(has_text="rebuilt from its first modes")
    assert rebuilt.count() == 6
    for i in range(6):
        keys = rebuilt.nth(i).text_content().lower()
        assert all(k in keys for k in ("in sample", "segments left out", "cycles left out")), keys
    assert (folder / "report.html").stat().st_size < 8_000_000
    box = page.locator("[data-lines]").first
    if box.count():
        box.check()
    page.evaluate("formkinReport.seek(0, 40)")
    page.wait_for_timeout(300)
    page.close()


def test_a_study_of_points_hands_over_its_files(garments):
    folder, _, told = garments
    assert (folder / "points/signals.csv").exists() and (folder / "points/changes.csv").exists()
    assert [p["capture"] for p in told["points"]["captures"]] == ["P0_run"] and told["points"]["captures"][0]["cycles"]["kept"] == 4
    # one record has no folder of its own
    assert not (folder / "points/P0_run").exists()
    said = (folder / "study.toml").read_text().replace("follow = ['soft_vertical']", "follow = ['elbow_x']")
    (folder / "wrong.toml").write_text(said + "[export]\nfolder = 'wrong'\n")
    said = program.refused("study", folder / "wrong.toml")
    assert "points.follow" in said and "elbow_x" in said and "soft_x" in said


def test_several_records_of_points_in_a_study_have_a_folder_each(conditions):
    folder, bare, suit = conditions
    pairs = ", ".join(f'{{ reference = "{a.stem}", garment = "{b.stem}" }}' for a, b in zip(bare, suit))
    (folder / "study.toml").write_text(
        f"title = 'Points'\n[points]\nfiles = {[p.name for p in bare + suit]}\nevents = 'events.csv'\ncompare = [{pairs}]\n"
        "frame = ['sternum', 'clavicle_left', 'clavicle_right']\ntissue = ['soft']\nfollow = ['soft_vertical']\n[export]\nfolder = 'study'\n"
    )
    told = program.ok("study", folder / "study.toml")
    assert {p["capture"] for p in told["points"]["captures"]} == {p.stem for p in bare + suit} and told["points"]["people"] == 6
    for path in bare + suit:
        assert (folder / "study/points" / path.stem / "signals.csv").exists(), path
    table = pandas.read_csv(folder / "study/points/conditions-people.csv")
    assert set(table.participant) == {f"P{i}" for i in range(6)}
    found = {c["measure"]: c for c in told["points"]["comparisons"]}
    assert found["soft: vertical range, mm"]["reduction_percent"] == pytest.approx(40, abs=3)
