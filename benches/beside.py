"""The program beside a plain numpy and scipy version of the same work, on the same files, in the same run.

The work: read mesh files of people, align them (generalised Procrustes, rigid, plain weights), and take their principal components. The
numpy version is what a practitioner would write in a notebook: text parsed by hand, everything in memory, SVD of the whole matrix.
Both must come to the same variances, or the times mean nothing.
"""

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT / "tests"))

import bodies  # noqa: E402
import program  # noqa: E402


def read(path):
    """The positions of an OBJ, in mm, z up."""
    with open(path) as lines:
        return np.array([line.split()[1:4] for line in lines if line.startswith("v ")], float)


def align(shapes):
    """Generalised Procrustes analysis without scale."""
    shapes = shapes - shapes.mean(axis=1, keepdims=True)
    mean = shapes[0]
    before = np.inf
    for _ in range(100):
        u, _, vt = np.linalg.svd(np.einsum("nvi,vj->nij", shapes, mean))
        u[:, :, 2] *= np.sign(np.linalg.det(u @ vt))[:, None]
        aligned = shapes @ u @ vt
        mean = aligned.mean(axis=0)
        left = ((aligned - mean) ** 2).sum()
        if abs(before - left) < 1e-8 * left:
            break
        before = left
    return aligned, mean


def beside(people, vertices):
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        bodies.AROUND = bodies.RINGS = int(np.sqrt(vertices))
        bodies.folder(folder / "scans", people)
        count = len(bodies.body())

        began = time.perf_counter()
        program.ok("import", folder / "scans", "--into", folder / "p.cohort", "--sequences", "never")
        imported = time.perf_counter() - began
        began = time.perf_counter()
        told = program.ok(
            "space", folder / "p.cohort", "--into", folder / "s.safetensors", "--weights", "plain", "--no-cross-validation"
        )
        fitted = time.perf_counter() - began
        ours = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024

        # A process of its own, so that the memory is its own.
        script = f"import sys; sys.path.insert(0, {str(CHECKOUT / 'benches')!r}); import beside; beside.plain({str(folder)!r})"
        out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
        plain_told = json.loads(out)

        mine, other = np.array(told["variances_mm2"][:5]), np.array(plain_told["variances"][:5])
        worst = np.abs(mine / other - 1).max()
        assert worst < 1e-5, (mine, other)
        print(f"{people} people of {count} vertices; the first five variances agree to {worst:.1e}")
        print(f"{'':28}{'formkin':>10}{'numpy':>10}")
        print(f"{'read the files, s':28}{imported:10.2f}{plain_told['read']:10.2f}")
        print(f"{'align and take modes, s':28}{fitted:10.2f}{plain_told['fit']:10.2f}")
        print(f"{'greatest memory, MB':28}{ours:10.0f}{plain_told['memory']:10.0f}")
        print("formkin checks every file against the template while reading, and writes the cohort to disk.")


def plain(folder):
    """The numpy version, timed; prints JSON."""
    began = time.perf_counter()
    shapes = np.array([read(p) for p in sorted((Path(folder) / "scans").iterdir())])
    done = time.perf_counter()
    aligned, mean = align(shapes)
    s = np.linalg.svd((aligned - mean).reshape(len(aligned), -1), full_matrices=False)[1]
    variances = s**2 / (len(aligned) - 1) / shapes.shape[1]
    fit = time.perf_counter() - done
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"read": done - began, "fit": fit, "memory": memory, "variances": list(variances[:8])}))


if __name__ == "__main__":
    sizes = [int(a) for a in sys.argv[1:]]
    beside(*(sizes if len(sizes) == 2 else (100, 10_000)))
