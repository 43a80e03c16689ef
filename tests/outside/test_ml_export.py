"""The data set for machine learning, read with numpy, pyarrow and safetensors alone."""

import hashlib
import json
import subprocess
import sys

import numpy as np
import pyarrow.parquet as pq
import pytest
from safetensors.numpy import load_file

import program


def plain_cohort(folder, people=12, sessions=2):
    """Closed boxes of a few sizes, each person in several sessions, as an imported cohort with the paths of its files."""
    rng = np.random.default_rng(3)
    corners = np.array([[x, y, z] for z in (0, 1) for y in (0, 1) for x in (0, 1)], float)
    triangles = [(0, 2, 1), (1, 2, 3), (4, 5, 6), (5, 7, 6), (0, 1, 4), (1, 5, 4), (2, 6, 3), (3, 6, 7), (0, 4, 2), (2, 4, 6), (1, 3, 5), (3, 7, 5)]
    meshes = folder / "meshes"
    meshes.mkdir()
    for p in range(people):
        size = np.array([450, 280, 1700]) * (1 + 0.05 * rng.standard_normal(3))
        for s in range(sessions):
            points = corners * size + 3 * rng.standard_normal(corners.shape)
            lines = [f"v {x:.4f} {y:.4f} {z:.4f}" for x, y, z in points] + ["f " + " ".join(str(i + 1) for i in t) for t in triangles]
            (meshes / f"P{p:02}_{s + 1}.obj").write_text("\n".join(lines) + "\n")
    people_csv = folder / "people.csv"
    people_csv.write_text("participant,sex,age_years\n" + "".join(f"P{p:02},{'fm'[p % 2]},{20 + p}\n" for p in range(people)))
    cohort = folder / "boxes.cohort"
    program.ok("import", meshes, "--into", cohort, "--participants", people_csv, "--unit", "mm", "--up", "z", "--sequences", "never")
    return cohort


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("ml")
    cohort = plain_cohort(folder)
    told = program.ok("export", "ml", cohort, "--into", folder / "set", "--validation", 0.2, "--test", 0.2, "--stratify", "sex", "--seed", 5)
    return folder, cohort, told


def test_parts_hold_whole_people(made):
    folder, _, told = made
    table = pq.read_table(folder / "set" / "coefficients.parquet").to_pandas()
    assert (table.groupby("participant")["split"].nunique() == 1).all()
    assert len(table) == told["rows"] == 24
    assert {p["part"]: p["people"] for p in told["parts"]} == table.groupby("split")["participant"].nunique().to_dict()
    covariates = pq.read_table(folder / "set" / "covariates.parquet").to_pandas()
    assert set(covariates[covariates["split"] == "test"]["sex"]) == {"f", "m"}


def test_scalers_are_of_the_training_rows(made):
    folder, _, _ = made
    table = pq.read_table(folder / "set" / "coefficients.parquet").to_pandas()
    train = table[table["split"] == "train"]
    units = train[[c for c in table if c.startswith("mode_") and c.endswith("_unit")]]
    assert np.abs(units.mean()).max() < 1e-9
    assert units.std(ddof=1).to_numpy() == pytest.approx(1, abs=1e-9)
    scalers = json.loads((folder / "set" / "scalers.json").read_text())
    age = next(c for c in scalers["columns"] if c["column"] == "age_years")
    covariates = pq.read_table(folder / "set" / "covariates.parquet").to_pandas()
    ages = covariates[covariates["split"] == "train"]["age_years"]
    assert [age["mean"], age["sd"]] == pytest.approx([ages.mean(), ages.std(ddof=1)])


def test_training_bodies_come_back(made):
    folder, _, told = made
    space = load_file(folder / "set" / "space.safetensors")
    arrays = load_file(folder / "set" / "coefficients.safetensors")
    table = pq.read_table(folder / "set" / "coefficients.parquet").to_pandas()
    assert told["storage_error_mm"] <= 0.01 and told["training_round_trip_mm"] <= 0.01
    train = table[table["split"] == "train"].reset_index(drop=True)
    assert len(train) == len(arrays["train"])
    for i, row in train.iterrows():
        body = space["mean"] + np.tensordot(arrays["train"][i], space["modes"], axes=1)
        rotation = row[[f"pose_r{a}{b}" for a in (1, 2, 3) for b in (1, 2, 3)]].to_numpy(float).reshape(3, 3)
        shift = row[["pose_tx_mm", "pose_ty_mm", "pose_tz_mm"]].to_numpy(float)
        captured = (body - shift) @ rotation / row["pose_scale"]  # R^T (x - t) / s
        lines = (folder / "meshes" / f"{row['item']}.obj").read_text().splitlines()
        original = np.array([[float(x) for x in line.split()[1:]] for line in lines if line.startswith("v ")])
        assert np.linalg.norm(captured - original, axis=1).max() <= 0.01


def test_the_space_never_saw_those_held_out(made):
    folder, _, told = made
    space = load_file(folder / "set" / "space.safetensors")
    train = next(p for p in told["parts"] if p["part"] == "train")
    assert len(space["variances"]) <= train["rows"] - 1
    assert next(p for p in told["parts"] if p["part"] == "test")["residual_rms_mm"] > 0


def test_the_example_program_decodes(made):
    folder, _, _ = made
    done = subprocess.run([sys.executable, "decode.py", "test", "1"], cwd=folder / "set", capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert np.load(folder / "set" / "decoded.npy").shape == (8, 3)
    assert "test 1: 8 vertices" in done.stdout


def test_hashes_and_data_sheet(made):
    folder, _, told = made
    for name, entry in told["files"].items():
        assert hashlib.sha256((folder / "set" / name).read_bytes()).hexdigest() == entry["sha256"]
    sheet = (folder / "set" / "DATASHEET.md").read_text()
    assert "## Intended use" in sheet and "## Limits" in sheet and "stratified by `sex`" in sheet


def test_a_person_in_two_parts_fails_the_export(made):
    folder, cohort, _ = made
    rows = ["item,split"]
    for p in range(12):
        part = "test" if p < 3 else "train"
        rows += [f"P{p:02}_1,{part}", f"P{p:02}_2,{'train' if p == 2 else part}"]
    (folder / "leak.csv").write_text("\n".join(rows) + "\n")
    message = program.refused("export", "ml", cohort, "--into", folder / "leaky", "--splits", folder / "leak.csv")
    assert "P02" in message and "leaks" in message
    assert not (folder / "leaky").exists()
    (folder / "good.csv").write_text("\n".join(rows).replace("P02_2,train", "P02_2,test") + "\n")
    program.ok("export", "ml", cohort, "--into", folder / "given", "--splits", folder / "good.csv")


def test_the_same_seed_is_the_same_set(made):
    folder, cohort, told = made
    again = program.ok("export", "ml", cohort, "--into", folder / "again", "--validation", 0.2, "--test", 0.2, "--stratify", "sex", "--seed", 5)
    assert again["files"] == told["files"]
