"""What the tests share: the real sequences, the demo study, a browser."""

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


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """A small demo study: its folder and what the program said of it."""
    into = tmp_path_factory.mktemp("demo") / "crews"
    told = program.ok("demo", "--into", into, "--participants", 40, "--vertices", 3000, "--seed", 20)
    return into, told


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
