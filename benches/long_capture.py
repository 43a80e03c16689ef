"""A long capture at full size: 2,250 frames of 50,000 vertices (1.35 GB), from files to modes, 20 dimensions, the strain map and soft tissue.

    .venv/bin/python benches/long_capture.py [FRAMES VERTICES]

Makes the capture in a temporary folder (2.8 GB at full size, taken away at the end), imports it, runs `formkin motion`, and tells wall time,
time of processors, and greatest memory beside one pass of numpy over the same file, in the same run. It wants to be under 3 minutes and
1.5 GiB on two cores. The programs are those of `cargo build --release --workspace --bins --examples`.
"""

import os
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT / "tests"))

import capture  # noqa: E402

# At full size: the frames as made, as imported, and the frames that they are repeated from.
PARTS = 2.2
FPS = 90.0


def read_once(path):
    """The sum of one pass of numpy over a file of frames, ten at a time, in floats of 64 bits; seconds of wall and of processors."""
    began, busy = time.perf_counter(), time.process_time()
    frames = np.load(path, mmap_mode="r")
    total = sum(float(frames[k : k + 10].astype(float).sum()) for k in range(0, len(frames), 10))
    assert np.isfinite(total)
    return time.perf_counter() - began, time.process_time() - busy


def main(frames=2250, vertices=50_000):
    size = frames * vertices * 12
    needed = int(size * PARTS) + (200 << 20)
    free = shutil.disk_usage(tempfile.gettempdir()).free
    print(f"{frames} frames of {vertices} vertices: {size / 1e9:.2f} GB; needs {needed / 1e9:.1f} GB in {tempfile.gettempdir()}, {free / 1e9:.1f} GB are free")
    if free < needed:
        sys.exit("not enough space: free some, or name another folder with TMPDIR")
    # a plain kill takes the folder away as well
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("ended"))
    with tempfile.TemporaryDirectory(prefix="formkin-capture-") as folder:
        folder = Path(folder)
        made = capture.make(folder, vertices, [frames], fps=FPS)
        began = time.perf_counter()
        cohort = capture.imported(made, frames)
        print(f"import and checks of the file: {time.perf_counter() - began:.1f} s")
        stored = next((cohort / "positions").glob("*.npy"))
        read_once(stored)  # so that both find the file in memory
        wall, busy = read_once(stored)
        cost = capture.motion(made, cohort, folder / "out")
        print(f"{'':36}{'formkin':>10}{'one pass':>10}{'ratio':>8}")
        print(f"{'wall, s':36}{cost.wall_s:10.1f}{wall:10.2f}{cost.wall_s / wall:8.0f}")
        print(f"{'processors, s':36}{cost.cpu_s:10.1f}{busy:10.2f}{cost.cpu_s / busy:8.0f}")
        print(f"{'greatest memory, MiB':36}{cost.peak_mib:10.0f}   of {size / 2**20:.0f} MiB of frames, {cost.peak_mib * 2**20 / size:.2f} of them")
        print(f"on {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; wanted: under 180 s and 1,536 MiB on two cores that do nothing else")


if __name__ == "__main__":
    given = [int(a) for a in sys.argv[1:]]
    if len(given) not in (0, 2):
        sys.exit(__doc__)
    try:
        main(*given)
    except KeyboardInterrupt:
        sys.exit("interrupted; the folder is taken away")
