"""Symmetric and asymmetric parts against numpy: bodies and mirrored copies laid on each other in the plain way, and the two-way table by its definition."""

import csv

import numpy as np
import pytest

import bodies
import program

PEOPLE, CAPTURES = 12, 2


def mirror_pairs():
    """The vertex on the other side of each: angle a becomes half a turn less a."""
    ring = np.arange(bodies.RINGS)[:, None] * bodies.AROUND
    a = np.arange(bodies.AROUND)[None, :]
    other = ring + (bodies.AROUND // 2 - a) % bodies.AROUND
    n = bodies.RINGS * bodies.AROUND
    return np.append(other.ravel(), [n, n + 1])


def captured(seed=4):
    """People with a common lean, a lean of their own and an error at every capture, standing anywhere."""
    r = np.random.default_rng(seed)
    mirror = mirror_pairs()

    def odd(height, width, amount, shape):
        z = shape[:, 2] / shape[:, 2].max()
        field = np.zeros_like(shape)
        field[:, 0] = amount * np.exp(-(((z - height) / width) ** 2))
        field[:, 1] = 0.5 * amount * np.exp(-(((z - height) / width) ** 2)) * np.sign(shape[:, 0])
        back = field[mirror] * [-1, 1, 1]
        return (field - back) / 2

    shapes = []
    for person, (s, b, w) in enumerate(r.standard_normal((PEOPLE, 3))):
        base = bodies.body(1720 + 60 * s, 1 + 0.06 * b, 1 + 0.05 * w)
        own = [r.normal(0, 4) for _ in range(3)]
        for _ in range(CAPTURES):
            shape = base + odd(0.5, 0.1, 6.0, base)
            for at, amount in zip((0.2, 0.6, 0.85), own):
                shape = shape + odd(at, 0.08, amount + r.normal(0, 1.0), base)
            turn = r.normal(0, 0.3)
            c, q = np.cos(turn), np.sin(turn)
            shapes.append(shape @ np.array([[c, q, 0], [-q, c, 0], [0, 0, 1]]) + [r.normal(0, 80), r.normal(0, 80), 0])
    return np.array(shapes)


def onto(x, mean):
    """The rotation and translation that lay x on the mean."""
    xc, mc = x.mean(0), mean.mean(0)
    u, _, vt = np.linalg.svd((x - xc).T @ (mean - mc))
    d = np.diag([1, 1, np.sign(np.linalg.det(u @ vt))])
    return (x - xc) @ (u @ d @ vt) + mc


def referee(shapes, mirror):
    """Sums of squares of the two-way table of bodies and mirrored copies, one weight for all vertices."""
    both = np.concatenate([shapes, shapes[:, mirror] * [-1, 1, 1]])
    mean = both[0]
    for _ in range(60):
        laid = np.array([onto(x, mean) for x in both])
        mean = laid.mean(0)
    laid = np.array([onto(x, mean) for x in both]) / np.sqrt(mean.shape[0])
    n, people = len(shapes), len(shapes) // CAPTURES
    even, odd = (laid[:n] + laid[n:]) / 2, (laid[:n] - laid[n:]) / 2
    by = lambda a: a.reshape(people, CAPTURES, *a.shape[1:])
    total = lambda a: float((a**2).sum())
    grand = even.mean(0)
    side = odd.mean(0)
    between = lambda a, m: 2 * CAPTURES * total(by(a).mean(1) - m)
    error = lambda a: 2 * total(by(a) - by(a).mean(1, keepdims=True))
    return {
        "individual": between(even, grand),
        "side": 2 * n * total(side),
        "individual x side": between(odd, side),
        "error": error(even) + error(odd),
        "scores": np.sqrt((by(odd).mean(1) ** 2).sum((1, 2))),
    }


@pytest.fixture(scope="module")
def cohort(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sides")
    bodies.ply(folder / "template.ply", bodies.body())
    pairs = ", ".join(f"[{v}, {m}]" for v, m in enumerate(mirror_pairs()) if v < m)
    (folder / "template.toml").write_text(f'mesh = "template.ply"\nmirror = [{pairs}]\n')
    shapes = captured()
    for i, shape in enumerate(shapes):
        bodies.ply(folder / f"C{i // CAPTURES + 1:03d}_{i % CAPTURES + 1}.ply", shape)
    program.ok("import", folder / "C*.ply", "--into", folder / "c.cohort", "--template", folder / "template.toml", "--unit", "mm", "--up", "z")
    return folder, shapes


def test_the_two_way_table_is_that_of_numpy(cohort):
    folder, shapes = cohort
    found = program.ok("symmetry", folder / "c.cohort", "--weights", "plain", "--into", folder / "sides", "--permutations", 999)
    want = referee(shapes, mirror_pairs())
    table = {line["source"]: line for line in found["table"]}
    for source in ("individual", "side", "individual x side", "error"):
        assert table[source]["ss_mm2"] == pytest.approx(want[source], rel=2e-3), source
    scores = [s["asymmetry_mm"] for s in found["scores"]]
    assert scores == pytest.approx(want["scores"], rel=2e-3)
    k, l = found["mirror_pairs"], found["vertices_on_the_plane"]
    assert (k, l) == (bodies.RINGS * (bodies.AROUND // 2 - 1), 2 * bodies.RINGS + 2)
    assert table["side"]["df"] == 3 * k + l - 3
    assert table["individual"]["df"] == (PEOPLE - 1) * (3 * k + 2 * l - 3)
    assert table["error"]["df"] == PEOPLE * (CAPTURES - 1) * (6 * k + 3 * l - 6)
    # what was planted is found
    assert found["directional"]["p"] < 0.01 and found["fluctuating"]["p"] < 0.01
    assert found["fluctuating"]["error_removed"] and 0.7 < found["fluctuating"]["reliability"] < 1


def test_files_are_open_and_agree(cohort):
    folder, _ = cohort
    found = program.ok("symmetry", folder / "c.cohort", "--into", folder / "open", "--permutations", 99)
    with open(folder / "open" / "asymmetry.csv") as f:
        rows = list(csv.DictReader(f))
    assert [r["participant"] for r in rows] == [s["participant"] for s in found["scores"]]
    at = np.loadtxt(folder / "open" / "asymmetry-map.csv", delimiter=",", skiprows=1)
    mirror = mirror_pairs()
    assert np.allclose(at[:, 4], -at[mirror, 4], atol=2e-5)
    height = at[:, 3] - at[:, 3].min()
    strongest = np.abs(at[:, 4]).argmax()
    assert 0.3 < height[strongest] / height.max() < 0.7
    assert (folder / "open" / "asymmetry.glb").read_bytes()[:4] == b"glTF"
    again = program.refused("symmetry", folder / "c.cohort", "--into", folder / "open")
    assert "--force" in again


def test_a_template_without_mirror_pairs_says_what_to_do(cohort, tmp_path):
    for i, shape in enumerate(captured()[:6]):
        bodies.ply(tmp_path / f"D{i:03d}.ply", shape)
    program.ok("import", tmp_path / "D*.ply", "--into", tmp_path / "d.cohort", "--unit", "mm", "--up", "z")
    assert "mirror" in program.refused("symmetry", tmp_path / "d.cohort")
