"""What the tests share: the real sequences, the demo study, a browser."""

import fcntl
import json
import os
import shutil
from pathlib import Path

import pytest

import program


@pytest.fixture(scope="session")
def shared():
    """The folder of real sequences beside the checkout."""
    if not program.SHARED.is_dir():
        pytest.skip("the real sequences are not there: ../shared/data beside the checkout")
    return program.SHARED


def made_once(tmp_path_factory, name, make):
    """A folder that one process of the tests fills and what `make` told of it; every process has a copy of its own, so that none waits for or spoils another's."""
    base = tmp_path_factory.getbasetemp()
    shared = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "once" / name
    shared.parent.mkdir(parents=True, exist_ok=True)
    with open(shared.with_suffix(".lock"), "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        kept = shared.with_suffix(".json")
        if not kept.exists():
            shutil.rmtree(shared, ignore_errors=True)
            kept.write_text(json.dumps(make(shared)))
    own = tmp_path_factory.mktemp(name) / shared.name
    shutil.copytree(shared, own)
    return own, json.loads(kept.read_text().replace(json.dumps(str(shared))[1:-1], json.dumps(str(own))[1:-1]))


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """A small demo study: its folder and what the program said of it."""
    return made_once(
        tmp_path_factory, "crews", lambda into: program.ok("demo", "--into", into, "--participants", 40, "--vertices", 3000, "--seed", 20)
    )


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium with 3-D drawn in software."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium") or shutil.which("google-chrome")
    if path is None:
        pytest.skip("there is no Chromium to open the report with")
    with sync_playwright() as p:
        arguments = ["--no-sandbox", "--disable-quic", "--disable-sync", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
        found = p.chromium.launch(executable_path=path, args=arguments)
        yield found
        found.close()


@pytest.fixture(scope="session")
def screens():
    """Where screenshots are kept for a person to look at."""
    folder = Path(program.TARGET) / "screens"
    folder.mkdir(parents=True, exist_ok=True)
    return folder
