"""Every command of the shape space through the program, on the demo crews and on bad requests."""

import csv
import json

import numpy as np
import pyarrow.parquet as pq
import pytest
from safetensors.numpy import load_file

import bodies
import program


@pytest.fixture(scope="module")
def crews(demo):
    return demo[0]


@pytest.fixture(scope="module")
def space(crews):
    return crews / "space.safetensors"


def positions(path):
    """Vertices of a binary PLY."""
    data = path.read_bytes()
    end = data.index(b"end_header\n") + len(b"end_header\n")
    head = data[:end].decode().splitlines()
    count = next(int(line.split()[2]) for line in head if line.startswith("element vertex"))
    kinds = {"float": "<f4", "double": "<f8", "uchar": "u1"}
    body = "\n".join(head).split("element face")[0].splitlines()
    fields = np.dtype([(line.split()[2], kinds[line.split()[1]]) for line in body if line.startswith("property")])
    rows = np.frombuffer(data[end : end + count * fields.itemsize], fields)
    return np.stack([rows[k] for k in "xyz"], 1).astype(float)


# predict


def test_a_predicted_body_has_the_dimensions_given(space, tmp_path):
    told = program.ok(
        "predict", space, "--dimension", "stature=1800", "--dimension", "chest_girth=1010", "--level", "sex=male",
        "--into", tmp_path / "b.ply", "--intervals", tmp_path / "b.csv",
    )
    by = {d["name"]: d for d in told["dimensions"]}
    assert abs(by["stature"]["measured"] - 1800) <= 1 and abs(by["chest_girth"]["measured"] - 1010) <= 1
    assert np.ptp(positions(tmp_path / "b.ply")[:, 2]) == pytest.approx(1800, abs=12)
    low, high = by["waist_girth"]["interval_95"]
    assert low < by["waist_girth"]["expected"] < high
    rows = list(csv.DictReader((tmp_path / "b.csv").open()))
    assert len(rows) == told["vertices"] and all(float(r["half_width_95_x_mm"]) > 0 for r in rows)


def test_a_giant_is_an_extrapolation(space):
    assert program.ok("predict", space, "--dimension", "stature=2300", code=1)["outside_99"]


@pytest.mark.parametrize(
    "given, word",
    [
        (["--dimension", "stature=-5"], "no length"), (["--dimension", "stature=1e300"], "units"), (["--dimension", "stature=nan"], "no number"),
        (["--dimension", "stature=1.8"], "units"), (["--dimension", "nose=3"], "nose"), (["--level", "sex=robot"], "robot"), ([], "no value"),
        (["--dimension", "stature=1700", "--error", "waist_girth=3"], "no value"), (["--dimension", "stature=1700", "--pls", "0"], "components"),
    ],
)
def test_predictions_that_are_refused(space, given, word):
    assert word in program.refused("predict", space, *given)


# complete


def test_a_hidden_hand_comes_back(crews, space, tmp_path):
    scan = crews / "input" / "scans" / "C002.ply"
    scan = scan if scan.exists() else sorted((crews / "input" / "scans").glob("C002*.ply"))[0]
    told = program.ok(
        "complete", space, scan, "--missing", "hand_left", "--calibrate", crews / "study.cohort", "--into", tmp_path / "w.ply",
        "--intervals", tmp_path / "w.csv", "--keep-seen",
    )
    known, found = positions(scan), positions(tmp_path / "w.ply")
    off = np.linalg.norm(known - found, axis=1)
    assert (off > 1e-3).sum() == told["missing"] > 10 and off.max() < 25
    assert told["calibration"]["people"] == 40 and 0.5 < told["calibration"]["factor"] < 2
    assert told["calibration"]["rms_mm"] < told["calibration"]["mean_rms_mm"]


def test_landmarks_alone(space, tmp_path):
    file = load_file(space)
    rows = ["landmark,x_mm,y_mm,z_mm"] + [f"{v},{x},{y},{z}" for v, (x, y, z) in list(enumerate(file["mean"]))[::250]]
    (tmp_path / "l.csv").write_text("\n".join(rows) + "\n")
    told = program.ok("complete", space, "--landmarks", tmp_path / "l.csv")
    # points that were measured with an error hold less
    rough = program.ok("complete", space, "--landmarks", tmp_path / "l.csv", "--error-mm", "5")
    assert rough["error_mm"] == 5 and told["error_mm"] == 0
    assert rough["missing_half_width_95_mm"] > 1.2 * told["missing_half_width_95_mm"]
    assert told["seen"] == len(rows) - 1 and np.abs(told["coefficients_mm"]).max() < 5


def test_completions_that_are_refused(crews, space, tmp_path):
    scan = sorted((crews / "input" / "scans").glob("*.ply"))[0]
    assert "nose" in program.refused("complete", space, scan, "--missing", "nose")
    assert "missing" in program.refused("complete", space, scan)
    (tmp_path / "v.txt").write_text("3 999999")
    assert "999999" in program.refused("complete", space, scan, "--missing-vertices", tmp_path / "v.txt")
    (tmp_path / "l.csv").write_text("landmark,x_mm,y_mm,z_mm\n3,0,0,0\n4,nan,1,2\n")
    program.refused("complete", space, "--landmarks", tmp_path / "l.csv")
    assert "--into" in program.refused("complete", space, "--cohort", crews / "study.cohort")
    assert "hole" in program.refused("complete", space, "--cohort", crews / "study.cohort", "--into", tmp_path / "n.cohort")
    assert not (tmp_path / "n.cohort").exists()


def test_holes_of_a_cohort_are_filled(crews, space, tmp_path):
    # two scans lose a hand and a foot on disk, one is marked in a table
    scans = sorted((crews / "input" / "scans").glob("*.ply"))[:25]
    folder = tmp_path / "scans"
    folder.mkdir()
    known = {p.stem: positions(p) for p in scans}
    faces = load_file(space)["triangles"] + 1
    for n, (name, points) in enumerate(known.items()):
        points = points.copy()
        if n in (2, 5):
            points[points[:, 2] < 60] = np.nan
        lines = [f"v {x:.4f} {y:.4f} {z:.4f}" for x, y, z in points] + [f"f {a} {b} {c}" for a, b, c in faces]
        (folder / f"{name}.obj").write_text("\n".join(lines) + "\n")
    template = crews / "input" / "template.toml"
    imported = program.ok(
        "import", folder, "--into", tmp_path / "holed.cohort", "--template", template, "--unit", "mm", "--up", "z", "--sequences", "never", code=1
    )
    assert len(imported["quarantined"]) == 2
    names = list(known)
    (tmp_path / "holes.csv").write_text(f"item,regions,vertices\n{names[8]},hand_left;hand_right,\n{names[9]},,0-4; 9\n")
    told = program.ok(
        "complete", space, "--cohort", tmp_path / "holed.cohort", "--holes", tmp_path / "holes.csv", "--into", tmp_path / "whole.cohort",
        "--intervals", tmp_path / "filled.csv",
    )
    assert (told["filled"], told["refused"], told["items"], told["quarantined"]) == (4, 0, 25, 0)
    whole = program.ok("inspect", tmp_path / "whole.cohort")
    assert whole["items"] == 25
    items = {r["item"]: r for r in csv.DictReader((tmp_path / "whole.cohort" / "items.csv").open())}
    rows = {h["item"]: h for h in told["holes"]}
    filled = list(csv.DictReader((tmp_path / "filled.csv").open()))
    for name, points in known.items():
        place = items[name]
        stored = np.load(tmp_path / "whole.cohort" / place["positions"])[int(place["row"])]
        off = np.linalg.norm(stored - points, axis=1)
        missing = rows[name]["missing"] if name in rows else []
        assert np.delete(off, missing).max() < 1e-3, name  # what was seen stays
        if missing:
            assert 0 < off[missing].max() < 40, name
            assert sum(r["item"] == name for r in filled) == len(missing)
    assert len(told["calibrations"]) == 3 or "not calibrated" in " ".join(told["notes"])
    done = {r["item"]: r for r in csv.DictReader((tmp_path / "whole.cohort" / "filled.csv").open())}
    assert done[names[9]]["vertices"] == "0-4, 9" and done[names[9]]["filled"] == "yes"
    for bad, word in [("item,regions\nnobody,hand_left\n", "nobody"), (f"item,regions\n{names[0]},nose\n", "nose"), (f"item\n{names[0]}\n", "vertices")]:
        (tmp_path / "bad.csv").write_text(bad)
        assert word in program.refused("complete", space, "--cohort", tmp_path / "holed.cohort", "--holes", tmp_path / "bad.csv", "--into", tmp_path / "x.cohort")


# compare and regress


def test_groups_are_compared_and_shape_regressed(crews, space, tmp_path):
    coefficients = crews / "coefficients.parquet"
    told = program.ok("compare", space, "--by", "sex", "--coefficients", coefficients, "--permutations", 499, "--into", tmp_path / "sex")
    assert told["anova"]["p"] == pytest.approx(1 / 500) and told["classification"]["error"] < 0.2
    again = program.ok("compare", space, "--by", "sex", "--cohort", crews / "study.cohort", "--permutations", 499)
    assert again["pairs"][0]["hotelling"]["t2"] == pytest.approx(told["pairs"][0]["hotelling"]["t2"], rel=1e-3)
    mapped = np.genfromtxt(tmp_path / "sex" / "map.csv", delimiter=",", names=True)
    assert len(mapped) == 3000 and (mapped["q"] >= mapped["p"] * 0.999).all()
    # the sign of the map is said, and so it is: at the crown, whose normal points upwards
    assert told["groups"] == ["female", "male"] and "male less female" in told["effect"]
    arrays = load_file(space)
    apart = np.tensordot(np.subtract(told["means_mm"][1], told["means_mm"][0]), arrays["modes"], axes=1)
    crown = arrays["mean"][:, 2].argmax()
    assert abs(apart[crown, 2]) > 5 and mapped["effect_mm"][crown] == pytest.approx(apart[crown, 2], rel=0.2)
    aged = program.ok("compare", space, "--by", "sex", "--covariate", "age_years", "--coefficients", coefficients, "--permutations", 499)
    assert aged["covariates"] == ["age_years"] and aged["pairs"][0]["hotelling"]["df2"] == told["pairs"][0]["hotelling"]["df2"] - 1
    assert aged["pairs"][0]["p_holm"] == aged["pairs"][0]["hotelling"]["p"]
    # a table of items names people in a column of its own
    tall = program.ok("regress", space, "--on", "stature_mm", "--coefficients", coefficients, "--table", crews / "dimensions.csv", "--permutations", 499)
    assert tall["anova"]["r2"] > 0.3 and tall["people"] == 40
    held = program.ok("regress", space, "--on", "age_years", "--by", "sex", "--coefficients", coefficients, "--permutations", 499)
    assert held["equal_slopes"]["p"] > 0 and "1 more of age_years" in held["effect"]
    # coefficients at another scale are no columns of people
    assert "mode_" not in program.refused("regress", space, "--on", "mode_001_sd", "--coefficients", coefficients).replace("`mode_001_sd`", "").replace('"mode_001_sd"', "")


@pytest.mark.parametrize(
    "more, word",
    [
        (["--by", "shoe"], "shoe"), (["--by", "sex", "--modes", "0"], "modes"), (["--by", "sex", "--level", "3"], "level"),
        (["--by", "sex", "--permutations", "0"], "permutations"), (["--by", "sex", "--covariate", "shoe"], "shoe"), (["--by", "age_years"], "has 1 person, and at least 2"),
    ],
)
def test_comparisons_that_are_refused(crews, space, more, word):
    assert word in program.refused("compare", space, "--coefficients", crews / "coefficients.parquet", *more)


def test_tables_of_other_people_are_refused(crews, space, tmp_path):
    (tmp_path / "t.csv").write_text("participant,height_mm\nX1,1700\nX2,1800\n")
    said = program.refused("regress", space, "--on", "height_mm", "--coefficients", crews / "coefficients.parquet", "--table", tmp_path / "t.csv")
    assert "none of the 40 people" in said
    said = program.refused("compare", space, "--by", "sex", "--coefficients", crews / "dimensions.csv")
    assert "dimensions.csv" in said and "Parquet" in said


# sample


def test_drawn_bodies_are_counted_told_and_the_same_again(crews, space, tmp_path):
    coefficients = crews / "coefficients.parquet"
    ask = ["sample", space, "--coefficients", coefficients, "--count", 12, "--modes", 8, "--seed", 4]
    told = program.ok(*ask, "--into", tmp_path / "a")
    assert len(list((tmp_path / "a").glob("body_*.ply"))) == 12
    assert told["tries"] == 12 + sum(told["refused"].values())
    assert {"ks", "mean", "sd"} <= set(told["dimensions"][0]) and told["crossings"]["limit"] >= 0
    privacy = told["report"]["privacy"]
    assert len(privacy["nearest_mm"]) == 4 and 0 <= privacy["closer_than_people"] <= 1
    program.ok(*ask, "--into", tmp_path / "b")
    assert (tmp_path / "a" / "samples.csv").read_bytes() == (tmp_path / "b" / "samples.csv").read_bytes()
    drawn = list(csv.DictReader((tmp_path / "a" / "dimensions.csv").open()))
    heights = [np.ptp(positions(tmp_path / "a" / f"{r['body']}.ply")[:, 2]) for r in drawn]
    assert np.abs(np.array([float(r["stature_mm"]) for r in drawn]) - heights).max() < 15
    assert json.loads((tmp_path / "a" / "report.json").read_text())["modes"] == 8
    said = program.refused(*ask, "--into", tmp_path / "a")
    assert "--force" in said


def test_groups_and_mixtures(crews, space, tmp_path):
    coefficients = crews / "coefficients.parquet"
    told = program.ok("sample", space, "--coefficients", coefficients, "--by", "sex", "--modes", 6, "--count", 20, "--into", tmp_path / "g")
    rows = list(csv.DictReader((tmp_path / "g" / "samples.csv").open()))
    shares = {c["name"]: c["share"] for c in told["density"]["components"]}
    for name, share in shares.items():
        assert abs(sum(r["from"] == name for r in rows) - 20 * share) <= 1
    told = program.ok("sample", space, "--coefficients", coefficients, "--components", "auto", "--modes", 3, "--count", 5, "--into", tmp_path / "m")
    assert [s["components"] for s in told["density"]["scores"]][:2] == [1, 2]


def test_a_target_population(crews, space, tmp_path):
    (tmp_path / "t.csv").write_text("dimension,mean,sd,p10,p90,unit\nstature,172,6.5,,,cm\nwaist_girth,,,760,1040,mm\n")
    ask = ["sample", space, "--coefficients", crews / "coefficients.parquet", "--modes", 8, "--count", 60]
    told = program.ok(*ask, "--target", tmp_path / "t.csv", "--into", tmp_path / "t", "--no-crossings")
    target = told["target"]
    assert target["pool"] == 2000 and 60 < target["n_eff"] <= 2000
    for m in target["margins"]:
        assert m["weighted"] == pytest.approx(m["target"], abs=3)
        assert m["picked"] == pytest.approx(m["target"], abs=45)
    stature = [float(r["stature_mm"]) for r in csv.DictReader((tmp_path / "t" / "dimensions.csv").open())]
    assert len(stature) == 60 and np.mean(stature) == pytest.approx(1720, abs=20)
    (tmp_path / "far.csv").write_text("dimension,mean\nstature,2500\n")
    assert "stature" in program.refused(*ask, "--target", tmp_path / "far.csv", "--into", tmp_path / "f")
    (tmp_path / "bad.toml").write_text("[[margin]]\ndimension = 'nose'\nmean = 3\n")
    assert "nose" in program.refused(*ask, "--target", tmp_path / "bad.toml", "--into", tmp_path / "f")
    assert not (tmp_path / "f").exists()
    # nobody may be so narrow: every draw is refused
    (tmp_path / "l.toml").write_text("[[limit]]\ndimension = 'waist_girth'\nmost = 300\n")
    assert "waist_girth" in program.refused(*ask, "--limits", tmp_path / "l.toml", "--into", tmp_path / "f")


@pytest.mark.parametrize(
    "more, word",
    [
        (["--count", "0"], "count"), (["--modes", "0"], "modes"), (["--modes", "39"], "people"), (["--confidence", "2"], "confidence"),
        (["--by", "sex", "--group", "robot"], "robot"), (["--components", "0"], "components"), (["--components", "9"], "people"),
    ],
)
def test_samples_that_are_refused(crews, space, tmp_path, more, word):
    said = program.refused("sample", space, "--coefficients", crews / "coefficients.parquet", "--into", tmp_path / "x", *more)
    assert word in said and not (tmp_path / "x").exists()


# what a space file tells of itself


def test_inspect_tells_quality_seed_and_what_was_not_asked(tmp_path):
    bodies.folder(tmp_path / "scans", 12)
    program.ok("import", tmp_path / "scans" / "*.obj", "--into", tmp_path / "c.cohort")
    path = tmp_path / "s.safetensors"
    made = program.ok("space", tmp_path / "c.cohort", "--into", path, "--quality", "--seed", 7, "--glb", tmp_path / "s.glb")
    told, text = program.ok("inspect", path), program.run("inspect", path).out
    assert made["quality"] and told["quality"] == made["quality"] and told["criteria_caution"] is None
    assert "nulls; stability is of 200 draws" in text and "seed 7" in text and "a median |cos| of 0.9 on" in text
    assert "quality: 1000 shapes drawn, seed 7" in text and "caution" not in text
    assert b"stability not asked" not in (tmp_path / "s.glb").read_bytes()
    # without criteria no mode reads as stable
    told = program.ok("space", tmp_path / "c.cohort", "--into", tmp_path / "n.safetensors", "--no-criteria", "--glb", tmp_path / "n.glb")
    assert told["stability_asked_modes"] == 0 and told["quality"] is None
    assert "not asked" in program.run("inspect", tmp_path / "n.safetensors").out and b"stability not asked" in (tmp_path / "n.glb").read_bytes()


def test_shapes_of_one_person_are_not_counted_as_people_without_a_word(tmp_path):
    bodies.folder(tmp_path / "scans", 8)
    # every scan twice over: two sessions of a person
    bodies.folder(tmp_path / "again", 8)
    for scan in (tmp_path / "again").glob("*.obj"):
        (tmp_path / "scans" / f"{scan.stem}_second.obj").write_bytes(scan.read_bytes())
    (tmp_path / "people.csv").write_text(
        "item,participant\n" + "".join(f"{p.stem},{p.stem.removesuffix('_second')}\n" for p in sorted((tmp_path / "scans").glob("*.obj")))
    )
    program.ok("import", tmp_path / "scans" / "*.obj", "--into", tmp_path / "c.cohort", "--participants", tmp_path / "people.csv")
    told = program.ok("space", tmp_path / "c.cohort", "--into", tmp_path / "s.safetensors")
    assert told["people"] == 8 and told["items"] == 16 and "16 shapes of 8 people" in told["criteria_caution"]
    assert "caution: criteria other than cross-validation count 16 shapes" in program.run("inspect", tmp_path / "s.safetensors").out


# merge


@pytest.mark.parametrize("removes", ["rigid", "similarity", "standing"])
def test_two_laboratories_without_scans(crews, tmp_path, removes):
    scans = sorted((crews / "input" / "scans").glob("*.ply"))
    template = crews / "input" / "template.toml"
    halves = {"all": scans, "north": scans[:20], "south": scans[20:]}
    for name, files in halves.items():
        program.ok("import", *files, "--into", tmp_path / f"{name}.cohort", "--template", template, "--sequences", "never")
        program.ok("space", tmp_path / f"{name}.cohort", "--align", removes, "--weights", "plain", "--into", tmp_path / f"{name}.safetensors", "--no-cross-validation")
    page = tmp_path / "both.html"
    told = program.ok(
        "merge", tmp_path / "north.safetensors", tmp_path / "south.safetensors", "--into", tmp_path / "both.safetensors", "--report", page
    )
    assert told["outputs"][-1] == str(page) and "north.safetensors" in page.read_text() and "<svg class=\"chart" in page.read_text()
    pooled = load_file(tmp_path / "all.safetensors")["variances"]
    merged = load_file(tmp_path / "both.safetensors")["variances"]
    assert told["items"] == len(scans)
    assert len(told["lost"]) == 3 and "What is lost" in page.read_text()
    if removes == "rigid":
        said = program.refused("predict", tmp_path / "both.safetensors", "--dimension", "stature=1700", "--into", tmp_path / "p.ply")
        assert "merged spaces hold no dimensions: run predict in a space built from scans with --dimensions" in said
        assert "lost in merging: dimensions" in program.run("inspect", tmp_path / "both.safetensors").out
    # a share of what files left out, and the second order of deviations over size
    np.testing.assert_allclose(merged[:10], pooled[:10], rtol=2e-3, atol=told["bound"]["variance_mm2"])
    assert merged.sum() == pytest.approx(pooled.sum() - told["bound"]["truncated_total_mm2"], rel=1e-3)


def test_merges_that_are_refused(crews, space, tmp_path):
    assert "twice" in program.refused("merge", space, space, "--into", tmp_path / "m.safetensors")
    program.ok("space", crews / "study.cohort", "--align", "similarity", "--into", tmp_path / "s.safetensors", "--no-cross-validation")
    assert "alignment" in program.refused("merge", space, tmp_path / "s.safetensors", "--into", tmp_path / "m.safetensors")
    (tmp_path / "junk.safetensors").write_bytes(b"junk")
    assert "junk" in program.refused("merge", space, tmp_path / "junk.safetensors", "--into", tmp_path / "m.safetensors")
    assert not (tmp_path / "m.safetensors").exists()


# export ml


def test_sequences_through_time(crews, tmp_path):
    told = program.ok(
        "export", "ml", crews / "study.cohort", "--into", tmp_path / "ml", "--stratify", "sex", "--mirrored", "--sequences",
        "--dimensions", crews / "input" / "dimensions.toml",
    )
    frames = pq.read_table(tmp_path / "ml" / "sequences.parquet").to_pandas()
    assert told["frames"] == len(frames) > 0
    for _, one in frames.groupby("capture"):
        assert one["participant"].nunique() == one["split"].nunique() == 1
        assert (np.diff(one["time_s"]) > 0).all() and (np.diff(one["frame"]) > 0).all()
    rows = pq.read_table(tmp_path / "ml" / "coefficients.parquet").to_pandas()
    assert (rows.groupby("participant")["split"].nunique() == 1).all()
    assert set(rows["mirrored"]) == {"yes", "no"}
    part = rows.drop_duplicates("participant").set_index("participant")["split"]
    assert all(part[p] == s for p, s in frames[["participant", "split"]].drop_duplicates().itertuples(index=False))
    # every frame is decoded into the body that was captured, up to what the modes leave
    arrays = load_file(tmp_path / "ml" / "space.safetensors")
    items = {r["item"]: r for r in csv.DictReader((crews / "study.cohort" / "items.csv").open())}
    modes = [c for c in frames if c.startswith("mode_") and c.endswith("_mm")]
    for _, row in frames.iloc[:: len(frames) // 5].iterrows():
        body = arrays["mean"] + np.tensordot(row[modes].to_numpy(float), arrays["modes"], axes=1)
        rotation = row[[f"pose_r{a}{b}" for a in (1, 2, 3) for b in (1, 2, 3)]].to_numpy(float).reshape(3, 3)
        captured = (body - row[["pose_tx_mm", "pose_ty_mm", "pose_tz_mm"]].to_numpy(float)) @ rotation / row["pose_scale"]
        place = items[row["item"]]
        stored = np.load(crews / "study.cohort" / place["positions"], mmap_mode="r")[int(place["row"])]
        off = np.sqrt((arrays["weights"] * ((captured - stored) ** 2).sum(1)).sum())
        assert off == pytest.approx(row["residual_rms_mm"], abs=0.01)
    assert "`sequences.parquet`" in (tmp_path / "ml" / "DATASHEET.md").read_text()
    rms = np.sqrt((frames["residual_rms_mm"] ** 2).mean())
    sheet = (tmp_path / "ml" / "DATASHEET.md").read_text()
    assert f"leave {rms:.1f} mm RMS" in sheet and "mirrored copies have none" in sheet


def test_a_planted_leak_fails_the_export(crews, tmp_path):
    items = [r for r in csv.DictReader((crews / "study.cohort" / "items.csv").open()) if not r["frame"]]
    people = [r["participant"] for r in items]
    twice = next(p for p in people if people.count(p) > 1)
    parts = ["item,split"]
    first = True
    for n, r in enumerate(items):
        part = ["train", "train", "train", "test"][n % 4]
        if r["participant"] == twice:
            part, first = ("train" if first else "test"), False
        parts.append(f"{r['item']},{part}")
    (tmp_path / "s.csv").write_text("\n".join(parts) + "\n")
    said = program.refused("export", "ml", crews / "study.cohort", "--into", tmp_path / "ml", "--splits", tmp_path / "s.csv")
    assert twice in said and "leaks" in said and not (tmp_path / "ml").exists()
