"""Budgets, Fieller's interval, intervals of draws and E_n: properties and bad input; printed values stand elsewhere."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference import intervals

from lampkit.errors import InputError
from lampkit.measurement import lamp_face
from lampkit.uncertainty import budget

positive = st.floats(0.5, 500.0)
relative = st.floats(0.01, 0.4)


@given(positive, positive, relative, relative, st.floats(-0.9, 0.9))
def test_fieller_interval_holds_the_ratio_and_agrees_with_draws(
    a: float, b: float, ra: float, rb: float, r: float
) -> None:
    ua, ub = a * ra, b * rb
    low, ratio, high = budget.fieller(a, b, ua**2, ub**2, r * ua * ub)
    assert low <= ratio * (1 + 1e-9)
    assert high >= ratio * (1 - 1e-9)
    # by definition the limits are where the difference from the ratio is just significant
    for limit in (low, high):
        variance = ua**2 + limit**2 * ub**2 - 2 * limit * r * ua * ub
        assert abs(a - limit * b) == pytest.approx(budget.K_95 * np.sqrt(variance), rel=1e-6)


@given(positive, positive, st.floats(0.52, 3.0))
def test_fieller_says_when_there_are_no_limits(a: float, b: float, rb: float) -> None:
    low, _, high = budget.fieller(a, b, 0.01 * a**2, (b * rb) ** 2)
    assert (low, high) == (-np.inf, np.inf)
    assert intervals.fieller_weakness(b, (b * rb) ** 2) > 1


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.01, 3.0), st.integers(-4, 4)), min_size=1, max_size=6))
def test_a_linear_function_propagates_exactly(inputs: list[tuple[float, float, float]]) -> None:
    x, u, c = np.array(inputs).T
    table = budget.propagate(lambda v: v @ c, x, u)
    assert table.standard_uncertainty == pytest.approx(np.sqrt(np.sum((c * u) ** 2)), rel=1e-9, abs=1e-12)
    assert table.table()["share of variance"].sum() == pytest.approx(1.0 if np.any(c) else 0.0, abs=1e-9)


def test_full_correlation_adds_contributions() -> None:
    table = budget.propagate(lambda v: v.sum(axis=-1), [1, 2], [0.3, 0.4], correlation=[[1, 1], [1, 1]])
    assert table.standard_uncertainty == pytest.approx(0.7)
    table = budget.propagate(lambda v: v[..., 0] - v[..., 1], [1, 2], [0.3, 0.3], correlation=np.ones((2, 2)))
    assert table.standard_uncertainty == pytest.approx(0.0, abs=1e-9)


def test_coverage_factor_is_students() -> None:
    from scipy.stats import t

    assert budget.coverage_factor([3, 16, np.inf], 0.99) == pytest.approx(t.ppf(0.995, [3, 16, 1e12]), rel=1e-6)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: budget.propagate(lambda v: v[..., 0], [1, 2], [1]), "uncertainties"),
        (lambda: budget.propagate(lambda v: v[..., 0], [1], [-1]), "negative"),
        (lambda: budget.propagate(lambda v: v[..., 0], [1], [np.nan]), "not a number"),
        (lambda: budget.propagate(lambda v: v[..., 0], [1, 1], [1, 1], correlation=[[1, 2], [2, 1]]), "correlation"),
        (lambda: budget.coverage_factor(3, 1.0), "coverage"),
        (lambda: budget.normalised_error(1, 1, 0, 0), "E_n"),
        (lambda: lamp_face.beam_exponent(95), "half angle"),
        (lambda: lamp_face.near_field_factor(0, 0.1), "distance"),
    ],
)
def test_bad_input_is_told(call: object, word: str) -> None:
    with pytest.raises(InputError, match=word):
        call()  # type: ignore[operator]


@given(st.floats(0.2, 5.0), st.floats(0.01, 0.3), st.floats(0.5, 60.0))
def test_near_field_factor_agrees_with_adding_up_the_patches(distance: float, size: float, exponent: float) -> None:
    edges = np.linspace(0.0, 0.5 * size, 4001)
    radius = 0.5 * (edges[1:] + edges[:-1])
    area = np.diff(edges**2) / (0.5 * size) ** 2
    path = np.hypot(radius, distance)
    summed = np.sum(area * (distance / path) ** (exponent + 1) / path**2) * distance**2
    assert lamp_face.near_field_factor(distance, size, exponent) == pytest.approx(summed, rel=1e-5)


@given(st.floats(0.3, 60.0), st.floats(0.02, 0.3))
def test_where_the_rule_is_kept_inverse_square_is_good(exponent: float, size: float) -> None:
    needed = float(lamp_face.diameters_needed(exponent)) * size
    assert lamp_face.far_enough(needed, size, exponent)
    error = 1.0 / float(lamp_face.near_field_factor(needed, size, exponent)) - 1.0
    assert error < (0.0115 if exponent <= 1.5 else 0.02)
