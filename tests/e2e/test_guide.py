"""Every command of the guide runs on the demo's people as it stands, but those that are marked as needing data of one's own."""

import re
import shlex
import shutil

import program

GUIDE = program.CHECKOUT / "docs" / "guide.md"


def commands():
    """The commands of the guide in order, each a list of words; none that needs the reader's own data."""
    found = []
    for block in re.findall(r"```sh\n(.*?)```", GUIDE.read_text(), re.S):
        for line in block.replace("\\\n", " ").splitlines():
            if line.startswith("formkin ") and "# yours" not in line:
                found.append(shlex.split(line, comments=True)[1:])
    return found


def test_every_command_of_the_guide_runs(demo, tmp_path):
    here = tmp_path / "try" / "input"
    shutil.copytree(demo[0] / "input", here)
    shutil.copy(demo[0] / "study.toml", here.parent)
    told = commands()
    assert len(told) >= 16
    for words in told:
        # the study itself is run by other tests
        if words[0] == "study":
            assert words[1] == "study.toml" and (here.parent / "study.toml").is_file()
            continue
        # 1: findings, or a body far from the people
        done = program.run(*words, "--quiet", cwd=here)
        assert done.code in (0, 1), f"formkin {' '.join(words)}\n{done}"
    for made in ("crew.cohort/cohort.json", "crew.safetensors", "tall.ply", "whole.ply", "people.csv", "crew-ml/datasheet.html", "jump/motion.json", "out/size-chart.csv", "points.html"):
        assert (here / made).exists(), made
