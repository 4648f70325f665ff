"""Settings of every test, and the browser of those that look at a page."""

import os
import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

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
def browser() -> Iterator[Any]:
    """Chromium, one for all tests."""
    chromium = program("chromium", "chromium-browser", package="chromium")
    if os.environ.get("CI"):
        import playwright.sync_api as api
    else:
        api = pytest.importorskip("playwright.sync_api")
    options = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
    with api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=options)
        yield running
        running.close()
