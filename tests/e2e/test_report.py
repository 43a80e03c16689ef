"""The report as a person sees it: opened in a browser, without an error, with a body that turns and changes."""

import io
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

import program


def report(told):
    return Path(next(p for p in told["outputs"] if p.endswith("report.html")))


@pytest.fixture(scope="module")
def page(browser, demo):
    """The report at 1280 pixels, and what its console said."""
    shown = browser.new_page(viewport={"width": 1280, "height": 900})
    shown.said, shown.asked = [], []
    shown.on("console", lambda m: shown.said.append(f"{m.type}: {m.text}") if m.type in ("error", "warning") else None)
    shown.on("pageerror", lambda e: shown.said.append(f"error: {e}"))
    shown.on("request", lambda r: shown.asked.append(r.url))
    shown.goto(report(demo[1]).as_uri())
    shown.wait_for_timeout(1500)
    yield shown
    shown.close()


def picture(canvas):
    """A canvas as an array, as it is on the screen."""
    shot = canvas.screenshot()
    from PIL import Image

    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(int)


def body_view(page):
    canvas = page.locator("canvas").first
    canvas.scroll_into_view_if_needed()
    page.wait_for_timeout(700)
    return canvas


def test_the_console_is_silent_and_nothing_is_fetched(page):
    errors = [s for s in page.said if s.startswith("error")]
    assert errors == []
    outside = [u for u in page.asked if not u.startswith(("file:", "data:", "blob:"))]
    assert outside == [], "the report must be self-contained"
    others = [u for u in page.asked if u.startswith("file:")]
    assert len(others) == 1, others


def test_the_body_is_drawn(page):
    seen = picture(body_view(page))
    ground = seen[2, 2]
    share = (np.abs(seen - ground).max(axis=2) > 12).mean()
    assert 0.02 < share < 0.98, f"{share:.1%} of the view is not background"
    assert len(np.unique(seen.reshape(-1, 3), axis=0)) > 50, "a shaded body has many tones"


def test_a_slider_moves_the_body(page):
    canvas = body_view(page)
    before = picture(canvas)
    slider = page.locator("input[type=range]").first
    assert slider.count() == 1
    highest = slider.get_attribute("max")
    slider.evaluate("(s, v) => { s.value = v; s.dispatchEvent(new Event('input', {bubbles: true})); s.dispatchEvent(new Event('change', {bubbles: true})); }", highest)
    page.wait_for_timeout(700)
    after = picture(canvas)
    changed = (np.abs(after - before).max(axis=2) > 12).mean()
    assert changed > 0.003, f"{changed:.2%} of the view changed"


def test_the_body_turns_under_the_pointer(page):
    canvas = body_view(page)
    before = picture(canvas)
    box = canvas.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 120, y, steps=5)
    page.mouse.up()
    page.wait_for_timeout(500)
    assert (np.abs(picture(canvas) - before).max(axis=2) > 12).mean() > 0.003


def test_the_numbers_that_matter_are_said(page):
    text = page.inner_text("body").lower()
    for word in ("people", "frames", "held out", "coverage", "mm"):
        assert word in text or word.replace(" ", "-") in text, word
    for never in ("nan", "undefined", "null", "inf%"):
        assert f" {never} " not in f" {text} ".replace("\n", " "), never


# The sections of the demo's page, in their order; those in between are looked at by test_shape_report.
SECTIONS = ["study", "data", "space", "modes", "dimensions", "movement", "sizes", "left-out", "cautions", "files"]


@pytest.fixture(scope="module")
def source(demo):
    """The page as it is written."""
    return report(demo[1]).read_text(encoding="utf-8")


def test_the_page_refers_to_nothing_outside(source):
    # the name of a namespace is no address
    page = source.replace(' xmlns="http://www.w3.org/2000/svg"', "")
    for outside in ("http://", "https://", ' src="', "<img", "@import", "url("):
        assert outside not in page, f"the page refers to {outside}: {page[max(0, page.find(outside) - 100):][:200]}"


def test_ids_are_unique_and_every_link_has_its_end(source):
    ids = re.findall(r'\sid="([^"]*)"', source)
    assert len(ids) > 100 and sorted(i for i, n in Counter(ids).items() if n > 1) == []
    assert set(re.findall(r'href="#([^"]*)"', source)) <= set(ids)
    for attribute in ("aria-labelledby", "aria-describedby", "aria-controls", "for"):
        named = {i for value in re.findall(rf'\s{attribute}="([^"]*)"', source) for i in value.split()}
        assert named <= set(ids), (attribute, named - set(ids))


def test_no_number_is_missing_outside_of_scripts(source):
    assert source.count("<script") == source.count("</script>") > 3
    # data for scripts may spell the word, and scripts may know it
    shown = re.sub(r"<script\b.*?</script>", "", source, flags=re.S)
    assert "<script" not in shown and "NaN" not in shown and len(shown) > 100_000


def test_every_section_has_a_link_in_the_contents(source):
    contents = source[source.index('<nav class="contents"') :]
    links = re.findall(r'href="#([^"]*)"', contents[: contents.index("</nav>")])
    assert links == re.findall(r'<section id="([^"]*)"', source)
    assert [section for section in links if section in SECTIONS] == SECTIONS


def test_what_is_held_out_stands_before_what_was_fitted(source):
    assert "who had no part in making these" in source
    assert 0 < source.index("Fitted, held out") < source.index("Fitted, in sample")


@pytest.mark.parametrize("width", [1280, 390])
def test_it_fits_the_screen(browser, demo, screens, width):
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.goto(report(demo[1]).as_uri())
    page.wait_for_timeout(1500)
    # In parts: a picture of the whole page would be taller than Chromium can draw.
    tall = page.evaluate("document.documentElement.scrollHeight")
    for part, top in enumerate(range(0, min(tall, 24_000), 4000), 1):
        clip = {"x": 0, "y": top, "width": width, "height": min(4000, tall - top)}
        page.screenshot(path=screens / f"report-{width}-{part}.png", full_page=True, clip=clip)
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert wide <= width + 1, f"the page is {wide} pixels wide on a screen of {width}"


def test_it_holds_without_3d(browser, demo):
    """A browser without WebGL still shows the rest, and says so."""
    context = browser.new_context()
    context.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page = context.new_page()
    said = []
    page.on("pageerror", lambda e: said.append(str(e)))
    page.goto(report(demo[1]).as_uri())
    page.wait_for_timeout(800)
    assert said == [] and "coverage" in page.inner_text("body").lower()
    context.close()


def test_a_script_in_a_name_stays_text(tmp_path, browser):
    """What people type into their tables is shown, never run."""
    import bodies

    evil = "<img src=x onerror=document.title='owned'>"
    bodies.folder(tmp_path / "scans", 12)
    # A file may carry it too; without a row in the table it is told about among the findings.
    bodies.obj(tmp_path / "scans" / f"{evil}.obj", bodies.body(stature=1690))
    ids = [f"p{i:02}" for i in range(1, 13)]
    # The station is a column of the table of people; the dimensions are one of the sizing's.
    bodies.table(tmp_path / "people.csv", ids, {"station": [f'"{evil}"', "south"] * 6})
    heights = [p[:, 2].max() for p in bodies.people(12)]
    bodies.table(tmp_path / "table.csv", ids, {"stature_mm": heights, "station": [f'"{evil}"', "south"] * 6})
    (tmp_path / "plan.toml").write_text(
        'fit = []\nby = "station"\nmethod = "k-means"\nfolds = 3\nseed = 1\nmissing = "refuse"\n'
        '[[control]]\ndimension = "stature"\ntolerance = { below = 60.0, above = 60.0 }\n[sizes]\ncount = 2\n'
    )
    (tmp_path / "study.toml").write_text(
        f"title = '''{evil}'''\ndescription = '''{evil}</script><script>document.title=\"owned\"</script>'''\n"
        "[import]\nmeshes = ['scans/*.obj']\nparticipants = 'people.csv'\n"
        "[size]\nplan = 'plan.toml'\ntable = 'table.csv'\n"
    )
    told = program.ok("study", tmp_path / "study.toml")
    html = report(told).read_text()
    assert "<img src=x" not in html and "</script><script>document" not in html
    page = browser.new_page()
    page.goto(report(told).as_uri())
    page.wait_for_timeout(800)
    assert page.title() != "owned"
    page.close()
