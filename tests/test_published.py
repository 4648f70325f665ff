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


def test_printed_values_and_cross_checks_are_counted_apart() -> None:
    counted = checks.counts().set_index("kind")
    assert counted["checks"].sum() == len(checks.checks()) and (counted["agree"] == counted["checks"]).all()
    assert counted["checks"]["printed"] >= 250


def test_a_tolerance_of_a_fifth_has_its_reason() -> None:
    for check in checks.checks():
        expected, tolerance = np.abs(check.expected), np.array(check.tolerance)
        assert check.reason or not np.any((expected > 0) & (tolerance >= 0.2 * expected)), check.name
