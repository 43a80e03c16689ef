"""The data sheet of a data set for machine learning: complete, true to the files, a page that stands alone."""

import hashlib
import json
import re

import numpy as np
import pyarrow.parquet as pq
import pytest
from safetensors.numpy import load_file

import bodies
import program

EVIL = "<img src=x onerror=document.title='owned'>"


@pytest.fixture(scope="module")
def made(demo, tmp_path_factory):
    """A set of the demo's people with its sequences, and what the program said."""
    into = tmp_path_factory.mktemp("sheet") / "set"
    told = program.ok(
        "export", "ml", demo[0] / "study.cohort", "--into", into, "--stratify", "sex", "--test", 0.3, "--sequences",
        "--dimensions", demo[0] / "input" / "dimensions.toml", "--seed", 7,
    )
    return into, told


@pytest.fixture(scope="module")
def page(browser, made):
    shown = browser.new_page(viewport={"width": 1200, "height": 900})
    shown.said, shown.asked = [], []
    shown.on("console", lambda m: shown.said.append(m.text))
    shown.on("pageerror", lambda e: shown.said.append(str(e)))
    shown.on("request", lambda r: shown.asked.append(r.url))
    shown.goto((made[0] / "datasheet.html").as_uri())
    yield shown
    shown.close()


def test_it_stands_alone_and_fits(page, made, screens, browser):
    assert page.said == [] and len(page.asked) == 1
    page.screenshot(path=screens / "datasheet.png", full_page=True)
    for width, scheme in ((420, "light"), (1200, "dark")):
        other = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
        other.goto((made[0] / "datasheet.html").as_uri())
        assert other.evaluate("document.documentElement.scrollWidth") <= width
        other.screenshot(path=screens / f"datasheet-{width}-{scheme}.png", full_page=True)
        other.close()


def test_every_part_is_told_with_its_error_as_the_table_has_it(page, made):
    rows = pq.read_table(made[0] / "coefficients.parquet").to_pandas()
    lines = page.locator("section#parts table").first.locator("tbody tr")
    told = {}
    for i in range(lines.count()):
        cells = [c.strip() for c in lines.nth(i).locator("th, td").all_inner_texts()]
        told[cells[0].lower()] = cells[1:]
    for part, of in rows.groupby("split"):
        error = np.sqrt((of["residual_rms_mm"] ** 2).mean())
        assert told[part][:2] == [str(of["participant"].nunique()), str(len(of))]
        assert float(told[part][2]) == pytest.approx(error, abs=6e-4)
    low, high = map(float, told["test"][3].split(" to "))
    assert low < float(told["test"][2]) < high
    assert any(name.startswith("frames of movements") for name in told)
    assert all(v == "too few people" for k, v in ((k, v[3]) for k, v in told.items()) if k.startswith("frames"))
    # the interval over people: a bootstrap of numpy's own gives nearly the same
    of = rows[rows["split"] == "test"]
    people = [np.asarray(g["residual_rms_mm"]) ** 2 for _, g in of.groupby("participant")]
    rng = np.random.default_rng(1)
    drawn = [np.sqrt(np.concatenate([people[k] for k in rng.integers(0, len(people), len(people))]).mean()) for _ in range(4000)]
    assert [low, high] == pytest.approx(np.quantile(drawn, [0.025, 0.975]), rel=0.03)


def test_the_error_is_told_by_modes_kept_as_numpy_finds_it(page, made):
    manifest = json.loads((made[0] / "manifest.json").read_text())
    table = pq.read_table(made[0] / "coefficients.parquet").to_pandas()
    names = sorted(c for c in table if re.fullmatch(r"mode_\d+_mm", c))
    told = manifest["residual_by_modes"]
    assert [k["modes"] for k in told] == [k for k in (1, 2, 5, 10, 20, 50) if k < len(names)] + [len(names)]
    for k in told:
        for part, of in table.groupby("split"):
            left = of["residual_rms_mm"] ** 2 + (of[names[k["modes"]:]] ** 2).sum(axis=1)
            assert k["rms_mm"][part] == pytest.approx(np.sqrt(left.mean()), rel=1e-4, abs=1e-3)
    # on the mesh: a test body decoded from its first five modes lies so far from the whole of it
    arrays, rows = load_file(made[0] / "space.safetensors"), load_file(made[0] / "coefficients.safetensors")["test"]
    square = lambda k: (arrays["weights"] * (np.einsum("k,kvi->vi", rows[0, k:], arrays["modes"][k:]) ** 2).sum(axis=1)).sum()
    assert square(5) == pytest.approx((rows[0, 5:].astype(float) ** 2).sum(), rel=1e-3)
    # the page and the plain text say the same
    lines = page.locator("table", has_text="The error by modes kept").locator("tbody tr")
    markdown = (made[0] / "DATASHEET.md").read_text()
    for i, k in enumerate(told):
        cells = lines.nth(i).locator("th, td").all_inner_texts()
        assert cells[0] == str(k["modes"])
        for cell, part in zip(cells[1:], ("train", "validation", "test")):
            assert float(cell) == pytest.approx(k["rms_mm"][part], abs=0.051)
        numbers = " | ".join(f"{k['rms_mm'][p]:.3f}" for p in ("train", "validation", "test"))
        assert f"| {k['modes']} | {numbers} |" in markdown


def test_the_files_are_told_with_their_true_shapes_and_hashes(page, made):
    text = page.content()
    manifest = json.loads((made[0] / "manifest.json").read_text())
    markdown = (made[0] / "DATASHEET.md").read_text()
    for name, entry in manifest["files"].items():
        assert hashlib.sha256((made[0] / name).read_bytes()).hexdigest() == entry["sha256"]
        assert name in text and f"`{name}`" in markdown
        if name not in ("DATASHEET.md", "datasheet.html"):
            assert entry["sha256"] in text and entry["sha256"] in markdown
    for file in ("space.safetensors", "coefficients.safetensors"):
        for name, array in load_file(made[0] / file).items():
            if name in ("mean", "sd") and file.startswith("coeff"):
                continue
            shape = " \u00d7 ".join(map(str, array.shape))
            assert re.search(rf">{name}</th>\s*<td[^>]*>{shape}</td>", text), (file, name, shape)


def test_strata_leak_check_and_coefficients_are_told(page, made):
    rows = pq.read_table(made[0] / "covariates.parquet").to_pandas()
    counts = rows.drop_duplicates("participant").groupby(["sex", "split"]).size()
    line = page.locator("table", has_text="People by stratum").locator("tbody tr", has=page.locator("th", has_text=re.compile("^female$")))
    found = [int(x) for x in line.locator("td").all_inner_texts()]
    assert found == [int(counts.get(("female", p), 0)) for p in ("train", "validation", "test")]
    parts = page.locator("section#parts").inner_text()
    assert "Passed" in parts and made[1]["leak_check"].startswith("passed")
    coefficients = page.locator("section#coefficients")
    assert coefficients.locator("svg.chart.wide").count() == 4
    table = pq.read_table(made[0] / "coefficients.parquet").to_pandas()
    mean = table[table["split"] == "test"]["mode_001_unit"].mean()
    cells = coefficients.locator("tbody tr").first.locator("th, td").all_inner_texts()
    assert float(cells[5].replace("\u2212", "-")) == pytest.approx(mean, abs=6e-3)
    for words in ("Intended use", "Limits", "Decoding", "personal data"):
        assert words in page.inner_text("main")


def test_what_people_type_stays_text(tmp_path, browser):
    bodies.folder(tmp_path / "scans", 12)
    ids = [f"p{i:02}" for i in range(1, 13)]
    bodies.table(tmp_path / "people.csv", ids, {"station": [f'"{EVIL}"', "south|east"] * 6})
    program.ok("import", tmp_path / "scans" / "*.obj", "--into", tmp_path / "c.cohort", "--participants", tmp_path / "people.csv")
    program.ok("export", "ml", tmp_path / "c.cohort", "--into", tmp_path / "set", "--stratify", "station", "--test", 0.3)
    html = (tmp_path / "set" / "datasheet.html").read_text()
    assert "<img" not in html and ("&lt;img" in html or "&#60;img" in html)
    page = browser.new_page()
    page.goto((tmp_path / "set" / "datasheet.html").as_uri())
    page.wait_for_timeout(300)
    assert page.title() == "Data sheet"
    page.close()
    # a bar in a name would end a cell
    assert "south\\|east" in (tmp_path / "set" / "DATASHEET.md").read_text()
