"""Plane sections, taut tapes and ways over the skin against trimesh, scipy and potpourri3d, on demo people and on solids whose answers
are known. All through the helper that prints what formkin-geometry makes of a surface."""

import json
import subprocess

import numpy as np
import pytest

import program

PEOPLE = 4
# Paths of the demo template that dimensions run over.
PATHS = (
    "arm_length_left", "shoulder_length_right", "back_shoulder_width", "back_neck_to_waist", "front_neck_to_waist", "across_back",
    "outside_leg_left", "outside_leg_right", "crotch_length", "neck_base", "neck_to_bust_point_left",
)


def call(*arguments):
    done = subprocess.run(
        [program.binary("examples/surfaces"), *map(str, arguments)], capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


class Surface:
    """A surface on disk, as the helper reads it, and in memory, as the referees do."""

    def __init__(self, folder, positions, triangles):
        self.positions, self.triangles = np.asarray(positions, float), np.asarray(triangles)
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self.positions.astype("<f8").tofile(folder / "positions.f64")
        self.triangles.astype("<u4").tofile(folder / "triangles.u32")

    def ask(self, what, rows, form):
        path = self.folder / f"{what}.csv"
        path.write_text("".join(",".join(format(x, form) for x in row) + "\n" for row in rows))
        return call(what, self.folder / "triangles.u32", self.folder / "positions.f64", path)

    def sections(self, planes):
        return self.ask("sections", planes, ".17g")

    def paths(self, rows):
        return self.ask("paths", rows, "d")

    def referee_section(self, plane):
        """Length and tape of each piece of the section, by trimesh's segments, joined where they meet, and scipy's hull."""
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import connected_components
        from scipy.spatial import ConvexHull
        from trimesh import Trimesh
        from trimesh.intersections import mesh_plane

        origin, normal = np.array(plane[:3]), np.array(plane[3:]) / np.linalg.norm(plane[3:])
        mesh = Trimesh(self.positions, self.triangles, process=False)
        lines = mesh_plane(mesh, normal, origin)
        points, index = np.unique(np.round(lines.reshape(-1, 3), 6), axis=0, return_inverse=True)
        index = index.reshape(-1, 2)
        graph = coo_array((np.ones(len(index)), (index[:, 0], index[:, 1])), shape=(len(points), len(points)))
        label = connected_components(graph, directed=False)[1][index[:, 0]]
        across = np.linalg.svd(normal[None])[2][1:]
        pieces = []
        for k in np.unique(label):
            of = lines[label == k]
            length = np.linalg.norm(of[:, 0] - of[:, 1], axis=1).sum()
            pieces.append((length, ConvexHull((of.reshape(-1, 3) - origin) @ across.T).area))
        return sorted(pieces)

    def referee_path(self, row):
        """The exact local geodesic by edge flips (Sharp & Crane 2020), leg by leg, through the same vertices."""
        from potpourri3d import EdgeFlipGeodesicSolver

        if not hasattr(self, "solver"):
            self.solver = EdgeFlipGeodesicSolver(self.positions, self.triangles)
        legs = [self.solver.find_geodesic_path(a, b) for a, b in zip(row, row[1:])]
        return [np.linalg.norm(np.diff(leg, axis=0), axis=1).sum() for leg in legs]


@pytest.fixture(scope="module")
def people(tmp_path_factory):
    """Scanned demo people at the demo's 12,000 vertices, and the names on them."""
    folder = tmp_path_factory.mktemp("people")
    names = call("demo", 12_000, 0, PEOPLE, folder)
    triangles = np.fromfile(folder / "triangles.u32", "<u4").reshape(-1, 3)
    bodies = [np.fromfile(folder / f"body-{i}.f64", "<f8").reshape(-1, 3) for i in range(PEOPLE)]
    return names, [Surface(folder / f"{i}", body, triangles) for i, body in enumerate(bodies)]


def test_sections_and_tapes_equal_trimesh_and_scipy(people):
    """Level and tilted planes through the whole body: every piece, its length and its hull, to 0.1 % (and far below)."""
    rng = np.random.default_rng(4)
    for body in people[1]:
        low, high = body.positions.min(axis=0), body.positions.max(axis=0)
        level = [[0, 0, z, 0, 0, 1] for z in np.linspace(low[2] + 3.3, high[2] - 3.3, 30)]
        tilted = [[*rng.uniform(low * 0.5 + high * 0.5 - 200, low * 0.5 + high * 0.5 + 200), *rng.normal(size=3)] for _ in range(20)]
        planes = level + tilted
        for plane, found in zip(planes, body.sections(planes)):
            referee = np.array(body.referee_section(plane))
            assert found["closed"]
            assert len(found["lengths_mm"]) == len(referee), (plane, found, referee)
            assert found["lengths_mm"] == pytest.approx(referee[:, 0], rel=1e-3), plane
            assert found["tapes_mm"] == pytest.approx(referee[:, 1], rel=1e-3), plane
            # points are joined at 1e-6 mm: nothing else parts the two
            assert sum(found["lengths_mm"]) == pytest.approx(referee[:, 0].sum(), abs=1e-5)


def test_ways_over_the_skin_equal_potpourri3d(people):
    """The surface lengths of the demo's dimensions, leg by leg through the same landmarks. Both are straightest ways on the triangles, from
    different starts: ours from a plane section, the referee's from edges. To 0.1 %; ours may be shorter, never longer."""
    names, bodies = people
    worst = 0.0
    for body in bodies:
        rows = [names["paths"][name] for name in PATHS]
        legs = [leg for row in rows for leg in zip(row, row[1:])]
        found = body.paths(legs)
        for leg, ours in zip(legs, found):
            (referee,) = body.referee_path(leg)
            off = ours["length_mm"] / referee - 1
            worst = max(worst, abs(off))
            assert off < 1e-3, (leg, ours["length_mm"], referee)
            assert off > -1e-3, (leg, ours["length_mm"], referee)
        for row, ours in zip(rows, body.paths(rows)):
            assert ours["length_mm"] == pytest.approx(sum(body.referee_path(row)), rel=1e-3)
    print(f"largest difference of a leg {worst:.2e}")


def test_ways_between_any_places_are_no_longer_than_the_referees(people):
    """Ways between vertices drawn within one limb or over the trunk. Where two local geodesics run on different sides of a limb, either may
    be found; nearly all agree."""
    rng = np.random.default_rng(11)
    body = people[1][0]
    pairs = []
    while len(pairs) < 60:
        a, b = rng.integers(len(body.positions), size=2)
        if 60 < np.linalg.norm(body.positions[a] - body.positions[b]) < 250:
            pairs.append((a, b))
    found = np.array([p["length_mm"] for p in body.paths(pairs)])
    referee = np.array([body.referee_path(p)[0] for p in pairs])
    straight = np.array([np.linalg.norm(body.positions[a] - body.positions[b]) for a, b in pairs])
    assert (found >= straight - 1e-6).all()
    equal = np.abs(found / referee - 1) < 1e-3
    assert equal.mean() >= 0.9, list(zip(pairs, found, referee))


def grid(across, along):
    """Triangles of a sheet that closes around: `along` rows of `across` vertices, diagonals in turn."""
    t = []
    for r in range(along - 1):
        for a in range(across):
            b = (a + 1) % across
            p, q, u, v = r * across + a, r * across + b, (r + 1) * across + a, (r + 1) * across + b
            t += [[p, q, v], [p, v, u]] if (r + a) % 2 else [[p, q, u], [q, v, u]]
    return np.array(t)


def test_great_circles(tmp_path):
    from trimesh.creation import icosphere

    sphere = icosphere(subdivisions=5, radius=150.0)
    surface = Surface(tmp_path / "sphere", sphere.vertices, sphere.faces)
    rng = np.random.default_rng(2)
    pairs = [tuple(rng.integers(len(sphere.vertices), size=2)) for _ in range(25)]
    unit = sphere.vertices / 150.0
    pairs = [(a, b) for a, b in pairs if 0.2 < np.arccos(np.clip(unit[a] @ unit[b], -1, 1)) < 2.8]
    for (a, b), ours in zip(pairs, surface.paths(pairs)):
        arc = 150.0 * np.arccos(unit[a] @ unit[b])
        assert ours["length_mm"] == pytest.approx(arc, rel=1e-3)
        assert ours["length_mm"] == pytest.approx(surface.referee_path((a, b))[0], rel=1e-3)
    # the equator is a section: 2 pi r
    (equator,) = surface.sections([[0, 0, 0.01, 0, 0, 1]])
    assert equator["lengths_mm"] == pytest.approx([2 * np.pi * 150], rel=1e-3)


def test_helices_on_a_cylinder(tmp_path):
    across, along, r = 180, 120, 100.0
    angle = 2 * np.pi * np.arange(across) / across
    z = np.linspace(0, 400, along)
    points = np.stack(
        [np.tile(r * np.cos(angle), along), np.tile(r * np.sin(angle), along), np.repeat(z, across)], axis=1
    )
    surface = Surface(tmp_path / "cylinder", points, grid(across, along))
    pairs = [(row * across + a, other * across + b) for row, a, other, b in
             [(10, 0, 10, 60), (10, 5, 100, 5), (20, 10, 90, 75), (30, 170, 80, 60), (5, 20, 115, 100), (60, 3, 61, 88)]]
    for (a, b), ours in zip(pairs, surface.paths(pairs)):
        turn = abs(angle[a % across] - angle[b % across])
        turn = min(turn, 2 * np.pi - turn)
        smooth = np.hypot(r * turn, z[a // across] - z[b // across])
        assert ours["length_mm"] == pytest.approx(smooth, rel=1e-3), (a, b)
        assert ours["length_mm"] == pytest.approx(surface.referee_path((a, b))[0], rel=1e-3), (a, b)
    tilted = [0, 0, 200, 0, np.sin(0.5), np.cos(0.5)]
    (ellipse,) = surface.sections([tilted])
    from scipy.special import ellipe

    a, b = r / np.cos(0.5), r
    assert ellipse["lengths_mm"] == pytest.approx([4 * a * ellipe(1 - (b / a) ** 2)], rel=1e-3)


def test_straight_lines_on_an_unrolled_cone(tmp_path):
    across, along, half = 240, 100, 0.35  # half the angle at the apex
    angle = 2 * np.pi * np.arange(across) / across
    slant = np.linspace(80, 500, along)
    points = np.stack(
        [np.outer(slant * np.sin(half), np.cos(angle)).ravel(), np.outer(slant * np.sin(half), np.sin(angle)).ravel(),
         np.repeat(-slant * np.cos(half), across)], axis=1
    )
    surface = Surface(tmp_path / "cone", points, grid(across, along)[:, ::-1])
    pairs = [(row * across + a, other * across + b) for row, a, other, b in
             [(50, 0, 50, 60), (30, 5, 95, 5), (40, 10, 90, 95), (60, 200, 80, 60), (45, 20, 85, 120)]]
    for (a, b), ours in zip(pairs, surface.paths(pairs)):
        turn = abs(angle[a % across] - angle[b % across])
        turn = min(turn, 2 * np.pi - turn) * np.sin(half)
        p, q = slant[a // across], slant[b // across]
        flat = np.sqrt(p * p + q * q - 2 * p * q * np.cos(turn))
        assert ours["length_mm"] == pytest.approx(flat, rel=1e-3), (a, b)
        assert ours["length_mm"] == pytest.approx(surface.referee_path((a, b))[0], rel=1e-3), (a, b)
