"""Invented bodies for the end-to-end tests: a closed tube with a head, a waist and feet, the same triangles for everyone."""

from pathlib import Path

import numpy as np

RINGS, AROUND = 30, 20
# Half breadth (x) and half depth (y) in mm at fractions of stature, of an average figure; invented.
FIGURE = np.array([
    [0.00, 95, 130], [0.04, 90, 110], [0.08, 80, 75], [0.26, 105, 80], [0.48, 170, 115],
    [0.53, 178, 122], [0.62, 150, 108], [0.72, 165, 122], [0.80, 190, 105], [0.85, 70, 70],
    [0.88, 68, 85], [0.94, 76, 98], [1.00, 45, 60],
])


def triangles():
    """The triangles of every body, outward."""
    t = []
    for r in range(RINGS - 1):
        for a in range(AROUND):
            b = (a + 1) % AROUND
            p, q, u, v = r * AROUND + a, r * AROUND + b, (r + 1) * AROUND + a, (r + 1) * AROUND + b
            t += [[p, q, v], [p, v, u]]
    low, high = RINGS * AROUND, RINGS * AROUND + 1
    for a in range(AROUND):
        b = (a + 1) % AROUND
        top = (RINGS - 1) * AROUND
        t += [[low, b, a], [high, top + a, top + b]]
    return np.array(t)


def body(stature=1750.0, build=1.0, waist=1.0, chest=1.0, lean=0.0):
    """Positions of one body in mm, z up, floor at 0, [vertices, 3]."""
    f = np.linspace(0.0, 1.0, RINGS)
    half = [np.interp(f, FIGURE[:, 0], FIGURE[:, k]) * build for k in (1, 2)]
    bump = lambda at, width: np.exp(-(((f - at) / width) ** 2))
    more = 1 + (waist - 1) * bump(0.62, 0.07) + (chest - 1) * bump(0.73, 0.06)
    angle = 2 * np.pi * np.arange(AROUND) / AROUND
    x = (half[0] * more)[:, None] * np.cos(angle)
    # Feet and face point to -y: front and back differ.
    y = (half[1] * more)[:, None] * np.sin(angle) - 30 * (bump(0.0, 0.05) + bump(0.93, 0.05))[:, None]
    y = y + lean * f[:, None] ** 2
    z = np.broadcast_to((f * stature)[:, None], x.shape)
    ring = np.stack([x, y, z], -1).reshape(-1, 3)
    poles = [[0, ring[:AROUND, 1].mean(), 0], [0, ring[-AROUND:, 1].mean(), stature + 8]]
    return np.vstack([ring, poles])


def people(count, seed=1):
    """So many different bodies."""
    r = np.random.default_rng(seed)
    return [
        body(*(m + s * g for m, s, g in zip((1720, 1.0, 1.0, 1.0, 0.0), (80, 0.09, 0.07, 0.05, 15), row)))
        for row in r.standard_normal((count, 5)).clip(-2.5, 2.5)
    ]


def obj(path, positions, faces=None, unit=1.0):
    """Writes an OBJ; `unit` turns mm into the file's unit."""
    faces = triangles() if faces is None else faces
    lines = [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in np.asarray(positions) * unit]
    lines += [f"f {a} {b} {c}" for a, b, c in np.asarray(faces) + 1]
    Path(path).write_text("\n".join(lines) + "\n")
    return Path(path)


def ply(path, positions, faces=None, unit=1.0):
    """Writes a binary little-endian PLY."""
    faces = triangles() if faces is None else faces
    p = (np.asarray(positions) * unit).astype("<f4")
    head = (
        f"ply\nformat binary_little_endian 1.0\nelement vertex {len(p)}\nproperty float x\nproperty float y\n"
        f"property float z\nelement face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = np.empty(len(faces), dtype=[("n", "u1"), ("v", "<i4", 3)])
    rows["n"], rows["v"] = 3, faces
    Path(path).write_bytes(head.encode() + p.tobytes() + rows.tobytes())
    return Path(path)


def folder(into, count=8, seed=1, write=obj, unit=1.0, suffix=".obj"):
    """A folder of so many people, p01 .. , and their positions."""
    into = Path(into)
    into.mkdir(parents=True, exist_ok=True)
    everyone = people(count, seed)
    for i, positions in enumerate(everyone, 1):
        write(into / f"p{i:02}{suffix}", positions, unit=unit)
    return everyone


def table(path, ids, columns=None):
    """A table of people: the column `participant` and whatever else."""
    columns = columns or {}
    rows = [",".join(["participant", *columns])]
    rows += [",".join([p, *(str(columns[c][i]) for c in columns)]) for i, p in enumerate(ids)]
    Path(path).write_text("\n".join(rows) + "\n")
    return Path(path)
