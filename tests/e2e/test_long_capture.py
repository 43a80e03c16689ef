"""Memory does not grow with the length of a capture: frames are read in blocks, of which two are held at a time."""

import shutil

import capture

VERTICES = 50_000
# The first fills the blocks (two of 160 MB in floats of 64 bits, 139 frames of so many vertices each); the second has 42 MB more of frames.
SHORT, LONG = 280, 350


def test_a_longer_capture_takes_no_more_memory(tmp_path):
    made = capture.make(tmp_path, VERTICES, [SHORT, LONG])
    costs = {}
    for frames in (SHORT, LONG):
        cohort = capture.imported(made, frames)
        costs[frames] = capture.motion(made, cohort, tmp_path / f"out-{frames}")
        assert costs[frames].told["frames"] == frames
        shutil.rmtree(cohort)
    more_mib = (LONG - SHORT) * VERTICES * 12 / 2**20
    grown = costs[LONG].peak_mib - costs[SHORT].peak_mib
    print(f"{costs[SHORT].peak_mib:.0f} and {costs[LONG].peak_mib:.0f} MiB; {costs[SHORT].cpu_s:.1f} and {costs[LONG].cpu_s:.1f} s")
    assert grown < more_mib / 4, f"{grown:.0f} MiB more for {more_mib:.0f} MiB of frames: {costs[SHORT].peak_mib:.0f}, {costs[LONG].peak_mib:.0f}"
