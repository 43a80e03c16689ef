"""The demo's invented people against what is published of real ones."""

import numpy as np
import pandas
import pytest

import program

# Drillis & Contini 1966 as printed by Winter 2009: fractions of stature (R, second-hand).
HEIGHTS = {"ankle": 0.039, "knee": 0.285, "hip": 0.530, "shoulder": 0.818, "chin": 0.870, "eye": 0.936}
LENGTHS = {"upper_arm": 0.186, "forearm": 0.146}


@pytest.fixture(scope="module")
def people(demo):
    """The demo's bodies: their table, landmarks, areas and volumes."""
    into, told = demo
    cohort = next(p for p in into.rglob("*.cohort") if p.is_dir())
    items = program.ok("measure", cohort, "--items", "stills")
    return into, cohort, items["measurements"]


def table(into):
    return pandas.read_csv(into / "input" / "participants.csv").set_index("participant")


def column(frame, word):
    """The one numeric column whose name has the word in it."""
    named = [c for c in frame.columns if word in c and pandas.api.types.is_numeric_dtype(frame[c])]
    assert named, (word, list(frame.columns))
    return frame[named[0]]


def dimensions(into):
    path = next(p for p in into.rglob("dimensions.csv"))
    frame = pandas.read_csv(path)
    return frame


def test_du_bois_formula():
    # R: 1.809708 m2 at 170 cm and 70 kg.
    assert 0.007184 * 70**0.425 * 170**0.725 == pytest.approx(1.809708, abs=1e-6)


def test_skin_areas_are_du_bois(people):
    """Area of the mesh against DuBois & DuBois 1916 from stature and weight: the formula is good to some 10 %."""
    into, _, items = people
    frame = table(into)
    weight = column(frame, "weight") if any("weight" in c for c in frame) else column(frame, "mass")
    stature = dimensions(into).set_index("item")["stature_mm"] / 10
    ratio = []
    for item in items:
        formula = 0.007184 * weight[item["participant"]] ** 0.425 * stature[item["item"]] ** 0.725
        ratio.append(item["area_mm2"] / 1e6 / formula)
    assert 0.9 < np.mean(ratio) < 1.1, np.mean(ratio)


def test_bodies_have_the_density_of_bodies(people):
    # Whole bodies are about 1.01-1.07 kg/L (M: Siri 1961 and later); the invented weights follow the invented volumes roughly.
    into, _, items = people
    frame = table(into)
    weight = column(frame, "weight") if any("weight" in c for c in frame) else column(frame, "mass")
    density = [weight[i["participant"]] / (i["volume_mm3"] / 1e6) for i in items]
    assert 0.95 < np.mean(density) < 1.10, np.mean(density)
    assert 0.85 < min(density) and max(density) < 1.2, (min(density), max(density))


def test_segments_are_the_published_fractions_of_stature(people):
    into, cohort, _ = people
    frame = dimensions(into)
    stature = frame["stature_mm"]
    found = {}
    for name, fraction in HEIGHTS.items():
        named = [c for c in frame.columns if c.startswith(name) and "height" in c]
        if named:
            found[name] = (frame[named[0]] / stature).mean() / fraction
    for name, fraction in LENGTHS.items():
        named = [c for c in frame.columns if c.startswith(name) and "length" in c]
        if named:
            found[name] = (frame[named[0]] / stature).mean() / fraction
    assert len(found) >= 3, list(frame.columns)
    assert all(0.9 < f < 1.1 for f in found.values()), found


def test_the_space_agrees_with_scikit_learn(people, tmp_path):
    """Principal components of the same positions, aligned by the transforms' own model: variances to 1e-4, directions to 0.999."""
    from safetensors.numpy import load_file
    from sklearn.decomposition import PCA

    into, cohort, _ = people
    space = tmp_path / "s.safetensors"
    told = program.ok("space", cohort, "--into", space, "--weights", "plain", "--items", "stills")
    items = pandas.read_csv(cohort / "items.csv")
    stills = np.load(next(p for p in (cohort / "positions").glob("*still*.npy"))).astype(float)
    model = load_file(space)
    mean = model["mean"].reshape(-1, 3).astype(float)
    centre = mean.mean(axis=0)
    aligned = []
    for body in stills:
        b = body - body.mean(axis=0)
        u, _, vt = np.linalg.svd(b.T @ (mean - centre))
        u[:, 2] *= np.sign(np.linalg.det(u @ vt))
        aligned.append((b @ u @ vt).ravel())
    referee = PCA().fit(np.array(aligned))
    vertices = len(mean)
    assert told["variances_mm2"][:8] == pytest.approx(referee.explained_variance_[:8] / vertices, rel=1e-4)
    modes = model["modes"].reshape(len(model["modes"]), -1).astype(float)
    for k in range(3):
        cosine = abs(modes[k] @ referee.components_[k]) / np.linalg.norm(modes[k])
        assert cosine > 0.999, (k, cosine)
    assert len(items) >= len(stills)


# Means of the 2012 US Army survey, men and women, in mm: Gordon et al. 2014, NATICK/TR-15/007 (R, from the public release). Soldiers are
# fitter and younger than the invented crews, so the means need only be near.
SURVEY = {
    "stature": (1756.2, 1628.5), "head_girth": (574.4, 561.1), "neck_girth": (397.6, 329.8), "chest_girth": (1058.7, 946.9),
    "waist_girth": (940.6, 860.9), "hip_girth": (1019.5, 1021.2), "thigh_girth_left": (625.1, 616.1), "calf_girth_left": (392.3, 373.3),
    "ankle_girth_left": (229.3, 215.7), "ankle_girth_right": (229.3, 215.7), "wrist_girth_left": (175.9, 154.8),
    "biacromial_breadth": (415.7, 365.3), "foot_length_left": (271.2, 246.3),
}


@pytest.mark.parametrize("name", SURVEY)
def test_dimensions_are_near_the_published_means(people, name):
    frame = dimensions(people[0])
    found = [frame[frame["sex"] == sex][f"{name}_mm"].mean() for sex in ("male", "female")]
    assert np.array(found) == pytest.approx(SURVEY[name], rel=0.15)
