"""Printed values that hold the references beside this file, and the kit's data in them, but no answer of the kit."""

from pathlib import Path

import pytest
from reference import filaments, flashes, intervals, lens_edges, radiation, seeing, thermal_flasher

from lampkit import checks

REFERENCES = {module.__name__.split(".")[-1]: module for module in (
    filaments, flashes, intervals, lens_edges, radiation, seeing, thermal_flasher,
)}  # fmt: skip
PRINTED = checks.read(Path(__file__).with_name("printed.toml"))


@pytest.mark.parametrize("check", PRINTED, ids=lambda c: c.name)
def test_printed_value(check: checks.PublishedCheck) -> None:
    found = check.obtained(**REFERENCES)
    assert check.agrees(found), f"{check.name}: expected {check.expected} {check.unit}, obtained {found}"
