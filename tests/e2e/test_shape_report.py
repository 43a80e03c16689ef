"""What the report shows of the shape space: every section is there, its bodies are live, the map takes another column, and no number is missing."""

import json
import re
from pathlib import Path

import pytest

import program

SECTIONS = {
    "modes": "How many modes are enough",
    "quality": "How good the space is",
    "predicted": "Bodies from dimensions and from parts",
    "groups": "How groups differ",
    "slopes": "What shape goes with",
    "sides": "Left and right",
    "people-map": "A map of the people",
    "drawn": "Drawn bodies",
}


@pytest.fixture(scope="module")
def page(browser, demo):
    """The report, and what its console said."""
    path = Path(next(p for p in demo[1]["outputs"] if p.endswith("report.html")))
    shown = browser.new_page(viewport={"width": 1280, "height": 900})
    shown.said, shown.asked = [], []
    shown.on("console", lambda m: shown.said.append(f"{m.type}: {m.text}") if m.type in ("error", "warning") else None)
    shown.on("pageerror", lambda e: shown.said.append(f"error: {e}"))
    shown.on("request", lambda r: shown.asked.append(r.url))
    shown.goto(path.as_uri())
    shown.wait_for_timeout(1500)
    yield shown
    shown.close()


@pytest.mark.parametrize("section", SECTIONS)
def test_every_section_is_there_and_whole(page, screens, section):
    found = page.locator(f"section#{section}")
    assert found.locator("h2").inner_text() == SECTIONS[section]
    text = found.inner_text()
    assert "NaN" not in text and "inf" not in re.findall(r"\binf\b", text) and len(text) > 300
    found.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    found.screenshot(path=screens / f"shape-{section}.png")


def test_nothing_is_fetched_and_nothing_complains(page):
    assert [u for u in page.asked if not u.startswith("file:")] == []
    assert [s for s in page.said if s.startswith("error")] == []
    assert page.evaluate("window.formkinReport.faults") == []


def test_all_criteria_stand_side_by_side_with_the_primary_one_and_its_reason(page):
    # spaces that do not break stand before units
    modes = page.locator("section#modes").inner_text().replace("\u202f", " ").replace("\xa0", " ")
    for criterion in ("Cross-validation", "Parallel analysis", "Marchenko and Pastur", "Gavish and Donoho", "Broken stick", "95 % of the variance", "99 % of the variance"):
        assert criterion in modes, criterion
    assert "The primary criterion is" in modes and "95 % of them within" in modes
    # the chart has lines of the variances, the nulls and the stick, and both edges
    chart = page.locator("#criteria-wide-t").locator("xpath=..")
    assert chart.locator("path.line").count() >= 3 and chart.locator("line.level").count() == 2


def test_unstable_modes_carry_a_dagger(page, demo):
    summary = json.loads((demo[0] / "summary.json").read_text())
    unstable = [s["mode"] for s in summary["space"]["criteria"]["stability"] if not s["stable"]]
    assert unstable, "forty people have modes that are not stable"
    page.evaluate("document.querySelectorAll('section#modes details').forEach((d) => { d.open = true; })")
    text = page.locator("section#modes").inner_text()
    assert all(f"{mode}\u2020" in text for mode in unstable if mode <= 20)


def test_variances_have_an_interval_or_the_reason_why_not(page, demo):
    space = json.loads((demo[0] / "summary.json").read_text())["space"]
    variances = space["criteria"]["variances"]
    assert len(variances) == len(space["criteria"]["stability"])
    apart = [v for v in variances if v["interval_95_mm2"]]
    assert variances[0] in apart and len(apart) < len(variances)
    for v, sample in zip(variances, space["variances_mm2"]):
        assert v["sample_mm2"] == pytest.approx(sample)
        assert (v["interval_95_mm2"] is None) == bool(v["no_interval"])
        if v["interval_95_mm2"]:
            low, high = v["interval_95_mm2"]
            assert 0 < low < v["corrected_mm2"] < high
    page.evaluate("document.querySelectorAll('section#modes details').forEach((d) => { d.open = true; })")
    text = page.locator("section#modes").inner_text()
    assert "Sample variances of leading modes are too large" in text and all(v["no_interval"] in text for v in variances if v["no_interval"])
    inspected = program.run("inspect", demo[0] / "space.safetensors").out
    asked, kept = space["stability_asked_modes"], program.ok("inspect", demo[0] / "space.safetensors")["modes"]
    assert 0 < asked == len(space["criteria"]["stability"]) < kept
    assert f"for the first {asked} of {kept} modes (of the others it is not known): from a median |cos| of 0.9 on" in inspected
    assert "parallel analysis is of 200 nulls" in inspected and "seed" in inspected and "200 draws of people" in inspected
    assert f"Stability was asked of the first {asked} of {kept}" in text.replace("\u202f", " ").replace("\xa0", " ")
    assert "variances without what noise lends them, mm2, with 95 % intervals, by mode: 1:" in inspected


def test_correlations_of_drawn_bodies_stand_beside_chance(page):
    text = page.locator("section#drawn").inner_text().replace("\u202f", " ").replace("\xa0", " ")
    found = re.search(r"differ by at most (\d\.\d\d), where chance alone gives at most (\d\.\d\d) \(95 %\)", text)
    assert found and float(found[2]) > 0


def test_the_known_flaws_stand_beside_the_quality(page):
    text = page.locator("section#quality").inner_text()
    for word in ("collapses", "sliding along the surface", "falls as people are added", "says nothing of other meshes"):
        assert word in text


def test_painted_bodies_are_live_and_move(page):
    for section in ("groups", "slopes", "sides"):
        view = page.locator(f"section#{section} .body-view").first
        assert "is-live" in view.get_attribute("class")
    slider = page.locator("section#slopes input[type=range]").first
    slider.evaluate("(s) => { s.value = 2; s.dispatchEvent(new Event('input')); }")
    assert "+2.00 SD" in page.locator("section#slopes output").first.inner_text()
    button = page.locator("section#slopes [data-swing]")
    button.click()
    page.wait_for_timeout(700)
    assert button.get_attribute("aria-pressed") == "true"
    button.click()
    assert button.get_attribute("aria-pressed") == "false"


def test_the_map_takes_another_colour(page, demo):
    area = page.locator("section#people-map")
    people = json.loads((demo[0] / "summary.json").read_text())["people"]
    wide = area.locator("svg.wide path.person")
    assert wide.count() == people
    select = area.locator("select")
    assert select.is_enabled() and area.locator("label").first.inner_text() == "Colour by"
    before = wide.first.get_attribute("class")
    assert re.search(r"\bs[1-6]\b", before)
    names = select.locator("option").all_inner_texts()
    number = next(n for n in names if n.startswith("stature"))
    select.select_option(label=number)
    assert "ramped" in wide.first.get_attribute("class")
    assert area.locator("[data-map-keys] li").count() >= 3
    select.select_option(label="sex")
    assert wide.first.get_attribute("class") == before


def test_the_summary_and_the_files_say_the_same(demo):
    folder, _ = demo
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["refusals"] == []
    comparison = summary["compare"][0]
    assert comparison["by"] == "sex" and comparison["anova"]["p"] <= 0.001
    kept = json.loads((folder / "groups" / "compare-sex" / "result.json").read_text())
    assert kept["anova"] == comparison["anova"]
    assert summary["regress"][0]["anova"]["r2"] > 0.1
    sides = summary["symmetry"]
    assert abs(sides["symmetric"]["share"] + sides["asymmetric"]["share"] - 1) < 1e-12
    for name in ("asymmetry.csv", "asymmetry-map.csv", "asymmetry-table.csv", "asymmetry.glb"):
        assert (folder / "symmetry" / name).stat().st_size > 100
    assert len((folder / "people-map.csv").read_text().splitlines()) == len(summary["map"]["participants"]) + 1
    assert summary["sample"]["bodies"] == 100
    hidden = summary["complete"][0]
    assert hidden["hidden"] == "hand_left" and 0.8 < hidden["calibration"]["coverage_95"] <= 1


def test_a_misspelt_column_is_an_error_and_a_question_too_hard_a_note(demo, tmp_path):
    folder, _ = demo
    text = (folder / "study.toml").read_text().replace('"input/', f'"{folder}/input/')
    text = text[: text.index("[motion]")] + '[motion]\ncaptures = []\n\n[export]\nfolder = "out"\n'
    asked = '[[compare]]\nby = "sex"'
    assert asked in text
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(text.replace(asked, '[[compare]]\nby = "sexx"'))
    said = program.refused("study", wrong)
    assert "compare.by" in said and "sexx" in said and "did you mean `sex`" in said
    # every person a group of their own: nothing to compare, and the study says so and goes on
    hard = tmp_path / "hard.toml"
    hard.write_text(text.replace(asked, '[[compare]]\nby = "mass_kg"'))
    program.ok("study", hard)
    summary = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert any("mass_kg" in r for r in summary["refusals"])
