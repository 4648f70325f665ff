"""Every printed value under tests/published, against the kit."""

import numpy as np
import pytest

from lampkit import checks


@pytest.mark.parametrize("check", checks.checks(), ids=lambda c: f"{c.topic}: {c.name}")
def test_published_value(check: checks.PublishedCheck) -> None:
    found = check.obtained()
    assert found.shape == (len(check.expected),), f"{check.compute} gave {found}"
    error = np.abs(found - check.expected)
    assert np.all(error <= np.array(check.tolerance) * (1 + 1e-9)), (
        f"{check.name}: expected {check.expected} {check.unit} ({check.source}), obtained {found}, "
        f"tolerance {check.tolerance}"
    )
