"""Pages read by keyboard, by ear, in the dark and on paper."""

from pathlib import Path

import pytest

import program

LOOK = r"""
() => {
  const lum = (c) => { const f = (x) => { x /= 255; return x <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4; }; return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]); };
  const numbers = (s) => (s.match(/[\d.]+/g) || []).map(Number);
  const ground = (e) => { for (; e; e = e.parentElement) { const c = numbers(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] > 0.5) return c; } return [255, 255, 255]; };
  document.querySelectorAll("details").forEach((d) => { d.open = true; });
  const pale = new Set();
  for (const e of document.querySelectorAll("body *")) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    // pictures of dimensions have a white sheet of their own
    if (!own || !e.getClientRects().length || e.closest("svg.body-picture")) continue;
    const style = getComputedStyle(e);
    const ink = numbers(e instanceof SVGElement ? style.fill : style.color);
    if (ink.length < 3) continue;
    const [a, b] = [lum(ink), lum(ground(e))];
    const size = parseFloat(style.fontSize);
    const needed = size >= 24 || (size >= 18.66 && style.fontWeight >= 700) ? 3 : 4.5;
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < needed) pale.add(`${e.tagName} ${ratio.toFixed(2)}: ${e.textContent.trim().slice(0, 40)}`);
  }
  const levels = [...document.querySelectorAll("h1, h2, h3, h4")].map((h) => Number(h.tagName[1]));
  const named = (c) => c.textContent.trim() || c.getAttribute("aria-label") || (c.labels && c.labels.length);
  const drawn = [...document.querySelectorAll("svg")].filter((s) => s.getAttribute("aria-hidden") !== "true");
  return {
    first: levels[0], tops: levels.filter((l) => l === 1).length, jumps: levels.filter((l, i) => i && l - levels[i - 1] > 1).length,
    nameless: [...document.querySelectorAll("button, input, select, canvas, a, summary")].filter((c) => !named(c)).map((c) => c.outerHTML.slice(0, 100)),
    silent: drawn.filter((s) => s.getAttribute("role") !== "img" || !(s.getAttribute("aria-label") || s.querySelector("title")?.textContent.trim())).map((s) => s.outerHTML.slice(0, 100)),
    headless: [...document.querySelectorAll("table")].filter((t) => !t.querySelector("thead th[scope]") || !t.querySelector("tbody th[scope]")).length,
    mains: document.querySelectorAll("main").length, language: document.documentElement.lang, pale: [...pale].slice(0, 10),
  };
}
"""


@pytest.fixture(scope="module")
def pages(demo, tmp_path_factory):
    """A page of every kind."""
    folder = tmp_path_factory.mktemp("pages")
    told = program.ok("export", "ml", demo[0] / "study.cohort", "--into", folder / "set", "--stratify", "sex")
    table = demo[0] / "dimensions.csv"
    lines = table.read_text().splitlines()
    header = lines[0].split(",")
    person = header.index("participant")
    wanted = [person] + [header.index(n) for n in ("stature_mm", "chest_girth_mm", "foot_length_right_mm")]
    rows = {}
    for line in lines[1:]:
        cells = line.split(",")
        rows.setdefault(cells[person], [cells[i] for i in wanted])
    names = ",".join(header[i] for i in wanted)
    (folder / "hand.csv").write_text("\n".join([names, *(",".join(r) for r in rows.values())]) + "\n")
    moved = [[r[0], *(f"{float(x) + 0.1 * (i % 7):.2f}" for x in r[1:])] for i, r in enumerate(rows.values())]
    (folder / "scan.csv").write_text("\n".join([names, *(",".join(r) for r in moved)]) + "\n")
    program.ok("agree", folder / "scan.csv", folder / "hand.csv", "--into", folder / "agreement")
    return {
        "report": Path(next(p for p in demo[1]["outputs"] if p.endswith("report.html"))),
        "datasheet": Path(next(p for p in told["outputs"] if p.endswith("datasheet.html"))),
        "agreement": folder / "agreement" / "agreement.html",
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("kind", ["report", "datasheet", "agreement"])
def test_headings_names_and_contrast(browser, pages, kind, scheme):
    page = browser.new_page(viewport={"width": 1200, "height": 900}, color_scheme=scheme)
    page.goto(pages[kind].as_uri())
    page.wait_for_timeout(500)
    found = page.evaluate(LOOK)
    page.close()
    assert (found["first"], found["tops"], found["jumps"], found["mains"], found["language"]) == (1, 1, 0, 1, "en")
    assert found["nameless"] == [] and found["silent"] == [] and found["headless"] == 0
    assert found["pale"] == []


def test_the_keyboard_reaches_the_sections_and_stops_only_where_there_is_something_to_do(browser, pages):
    page = browser.new_page(viewport={"width": 1200, "height": 900})
    page.goto(pages["report"].as_uri())
    page.wait_for_timeout(500)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "sections"
    idle = page.evaluate("[...document.querySelectorAll('.scroll[tabindex]')].filter((b) => b.scrollWidth <= b.clientWidth + 1).length")
    assert idle == 0
    page.set_viewport_size({"width": 400, "height": 900})
    page.wait_for_timeout(300)
    assert page.evaluate("[...document.querySelectorAll('.scroll[tabindex]')].length") > 3
    page.close()


def test_on_paper_there_is_nothing_to_press_and_nothing_cut(browser, pages):
    page = browser.new_page(viewport={"width": 720, "height": 1000})
    page.emulate_media(media="print")
    page.goto(pages["report"].as_uri())
    page.wait_for_timeout(500)
    shown = page.evaluate("[...document.querySelectorAll('button, input, select, nav')].filter((c) => c.getClientRects().length).length")
    assert shown == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= 721
    folded = page.evaluate("[...document.querySelectorAll('details:not([open]) > summary')].map((s) => getComputedStyle(s, '::after').content)")
    assert folded and all("open it" in f for f in folded)
    page.close()
