"""Counts what came of the inputs, and prints it where the long run was asked for."""

from collections import Counter

import pytest

COUNTS: dict[str, Counter[str]] = {}


@pytest.fixture
def counted(request: pytest.FixtureRequest) -> Counter[str]:
    return COUNTS.setdefault(request.node.name, Counter())


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if "fuzz" not in str(config.getoption("-m")).replace("not fuzz", ""):
        return
    terminalreporter.section("inputs tried")
    for name, counts in COUNTS.items():
        terminalreporter.write_line(f"{name}: {counts['taken']} taken, {counts['refused']} refused")
