"""Long captures of the demo's people, and what a run over them costs."""

import json
import os
import re
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import program

# A second of a movement that longer captures repeat to and fro, three times as fast and each time a little elsewhere: no two frames are the same, and no frame jumps.
CYCLE, CYCLE_FPS = 30, 30
# A process of its own, small before it starts the program: the greatest memory is that of the program alone.
MEASURE = """
import json, resource, subprocess, sys, time
began = time.perf_counter()
with open(sys.argv[1], "w") as out:
    code = subprocess.run(sys.argv[2:], stdout=out).returncode
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([code, time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""


@dataclass
class Cost:
    """What a run took, and what it told."""

    wall_s: float
    cpu_s: float
    peak_mib: float
    told: dict


def make(folder, vertices, lengths, fps=90.0):
    """Captures of so many frames of one movement of one person, `FRAMES/C001_climb.npy` in the folder made, beside the demo's template."""
    folder = Path(folder)
    subprocess.run(
        [program.binary("examples/generate"), folder / "demo", "3", str(vertices), "1", str(CYCLE), str(CYCLE_FPS)],
        check=True, capture_output=True,
    )
    source = folder / "demo" / "input"
    cycle = np.load(next((source / "movements").glob("*.npy")))
    for frames in lengths:
        (folder / str(frames)).mkdir()
        shape = (frames, *cycle.shape[1:])
        out = np.lib.format.open_memmap(folder / str(frames) / "C001_climb.npy", "w+", np.float32, shape)
        for k in range(frames):
            there = k % (2 * CYCLE)
            out[k] = cycle[min(there, 2 * CYCLE - 1 - there)] + np.float32(0.02 * k)
        out.flush()
        del out
        rows = "".join(f"{k},{k / fps:.6f}\n" for k in range(frames))
        (folder / str(frames) / "C001_climb.times.csv").write_text("frame,time_s\n" + rows)
    return folder


def imported(made, frames):
    """The cohort of the capture of so many frames; the file that was made is taken away."""
    file = made / str(frames) / "C001_climb.npy"
    cohort = made / f"{frames}.cohort"
    program.ok("import", file, "--into", cohort, "--template", made / "demo" / "input" / "template.toml")
    file.unlink()
    return cohort


def motion(made, cohort, into):
    """Runs `motion` with modes, 20 dimensions, the strain map and soft tissue."""
    definitions = made / "demo" / "input" / "dimensions.toml"
    names = re.findall(r'^name = "(.*)"', definitions.read_text(), re.M)[:20]
    asked = [
        "motion", cohort, "--into", into, "--modes", 8, "--dimensions", definitions, "--cycles", "mode-1", "--strain",
        "--frame", "trunk_frame", "--tissue", "chest_soft_left", "--tissue", "chest_soft_right", "--quiet", "--json",
    ]
    asked += [word for name in names for word in ("--follow", name)]
    out = made / "told.json"
    measured = subprocess.Popen(
        [sys.executable, "-c", MEASURE, out, program.binary(), *map(str, asked)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )
    try:
        said, err = measured.communicate()
    except BaseException:
        # whoever stops the script stops the program under it too
        os.killpg(measured.pid, signal.SIGKILL)
        raise
    assert measured.returncode == 0, err
    code, wall, cpu, peak = json.loads(said)
    assert code == 0, err
    told = json.loads(out.read_text())
    assert len(told["curves"]) == 20 and len(told["deep"]["tissue"]) == 2 and told["deep"]["strain"], told["deep"]["remarks"]
    return Cost(wall, cpu, peak, told)
