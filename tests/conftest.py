"""Settings of every test, the browser of those that look at a page, and what runs beside them in other processes."""

import contextlib
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from lampkit.notebook import lab

# A busy machine is no fault of the kit: no test fails by time. tests/benchmarks measures speed and prints it.
settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")

# Scripts that are run by hand hold no examples.
collect_ignore_glob = ["benchmarks/*", "studies/*"]


def program(*names: str, package: str) -> str:
    """Find a program that is not Python; without it a test is skipped, but fails where CI asks."""
    found = next(filter(None, map(shutil.which, names)), None)
    if found is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(f"no {names[0]} here: apt-get install -y {package}")
    return found


@pytest.fixture(scope="session")
def pdftotext() -> str:
    """What reads a printed page."""
    return program("pdftotext", package="poppler-utils")


@pytest.fixture(scope="session")
def chromium() -> str:
    """The browser's program."""
    return program("chromium", "chromium-browser", package="chromium")


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Any]:
    """Chromium, one for all tests."""
    if os.environ.get("CI"):
        import playwright.sync_api as api
    else:
        api = pytest.importorskip("playwright.sync_api")
    options = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
    with api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=options)
        yield running
        running.close()


# --- beside the tests -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session", autouse=True)
def begun(request: pytest.FixtureRequest) -> None:
    """Begin with the first test what later ones wait for, since one core is idle; they tell what went wrong with it."""
    asked = {name for item in request.session.items for name in getattr(item, "fixturenames", ())}
    for name in asked & {"executed", "server"} if "PYTEST_XDIST_WORKER" not in os.environ else ():
        with contextlib.suppress(Exception, pytest.skip.Exception, pytest.fail.Exception):
            request.getfixturevalue(name)


@contextlib.contextmanager
def beside(command: list[str], log: Path, **surroundings: str) -> Iterator[Callable[[Callable[[], bool]], None]]:
    """Run a program beside the tests, and give what waits for its work, or tells what it said if it ended without."""
    with log.open("w") as said:
        running = subprocess.Popen(command, env={**os.environ, **surroundings}, stdout=said, stderr=subprocess.STDOUT)

    def wait(done: Callable[[], bool]) -> None:
        ended = False
        while not done():
            assert not ended, log.read_text(encoding="utf-8")
            ended = running.poll() is not None
            time.sleep(0.05)

    yield wait
    running.terminate()
    with contextlib.suppress(subprocess.TimeoutExpired):
        running.wait(20)
    running.kill()


@pytest.fixture(scope="session")
def executed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A notebook as it stands after it was run as a user gets it; all that are asked for run beside the tests."""
    import nbformat

    folder = lab.set_up(tmp_path_factory.mktemp("lab") / "mine").folder
    asked = [item for item in request.session.items if "executed" in getattr(item, "fixturenames", ())]
    names = sorted({item.callspec.params["name"] for item in asked})  # type: ignore[attr-defined]
    program = Path(__file__).parent / "notebook" / "run_notebooks.py"
    command = [sys.executable, str(program), *(str(folder / name) for name in names)]
    with beside(command, folder / "log", OPENBLAS_NUM_THREADS="1") as wait:

        def ran(name: str) -> Any:
            place = (folder / name).with_suffix(".ran")
            wait(place.exists)
            return nbformat.read(place, as_version=4)

        yield ran


@pytest.fixture(scope="session")
def server(chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Callable[[], str]]]:
    """JupyterLab as `lampkit lab` starts it, in a folder that its copying made, and what gives its address."""
    folder, home = lab.set_up(tmp_path_factory.mktemp("lab") / "mine").folder, tmp_path_factory.mktemp("home")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port, token = int(probe.getsockname()[1]), secrets.token_hex(16)
    options = [f"--IdentityProvider.token={token}", "--LabApp.expose_app_in_browser=True"]
    own = {**lab.surroundings(), "HOME": str(home), "JUPYTER_CONFIG_DIR": str(home / "config")}
    with beside([*lab.command(folder, browser=False, port=port), *options], home / "log", **own) as wait:

        def answers() -> bool:
            with socket.socket() as probe:
                return probe.connect_ex(("127.0.0.1", port)) == 0

        def address() -> str:
            wait(answers)
            return f"http://127.0.0.1:{port}/?token={token}"  # the address that lampkit lab prints

        yield folder, address
