"""Runs the built program as a person or a script would."""

import json
import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
TARGET = Path(os.environ.get("CARGO_TARGET_DIR", CHECKOUT / "target"))
SHARED = CHECKOUT.parent / "shared" / "data"


@dataclass
class Run:
    """What a run came to."""

    code: int
    out: str
    err: str

    @property
    def json(self):
        """The one JSON object on standard output; anything else there is a fault."""
        told, end = json.JSONDecoder().raw_decode(self.out.lstrip())
        assert isinstance(told, dict), self.out[:500]
        assert self.out.lstrip()[end:].strip() == "", f"more than one value on standard output: {self.out[-500:]}"
        return told

    def __str__(self):
        return f"exit {self.code}\n--- out\n{self.out[-3000:]}\n--- err\n{self.err[-3000:]}"


def binary(name="formkin"):
    """The path of a built program or example."""
    path = TARGET / "release" / name
    assert path.is_file(), f"{path} is not built: cargo build --release --workspace --bins --examples"
    return path


def run(*args, cwd=None, env=None, timeout=600, program="formkin", stdin=""):
    """Runs the program to its end, without a terminal."""
    done = subprocess.run(
        [binary(program), *map(str, args)], cwd=cwd, env={**os.environ, **(env or {})}, input=stdin,
        capture_output=True, text=True, timeout=timeout,
    )
    return Run(done.returncode, done.stdout, done.stderr)


def ok(*args, code=0, **how):
    """Runs the program with --json, insists on the exit code (or one of several), and returns the JSON object."""
    done = run(*args, "--json", **how)
    codes = code if isinstance(code, tuple) else (code,)
    assert done.code in codes, f"formkin {' '.join(map(str, args))}\n{done}"
    return done.json


def refused(*args, code=2, **how):
    """Runs the program, insists that it refuses, and returns what it tells people."""
    done = run(*args, **how)
    assert done.code == code, f"formkin {' '.join(map(str, args))}\n{done}"
    assert "panicked" not in done.err and "RUST_BACKTRACE" not in done.err, str(done)
    assert done.err.strip(), f"refused without a word: formkin {' '.join(map(str, args))}"
    return done.err
