"""Roots and steps in time against SciPy's."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.steps_in_time import runge_kutta
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from lampkit import equations


@given(st.lists(st.floats(0.0, 9.0), min_size=1, max_size=5), st.floats(0.0, 2.0))
def test_a_rising_root_agrees_with_a_root_finder(supply: list[float], threshold: float) -> None:
    level = np.array(supply)

    def rises(x: np.ndarray) -> np.ndarray:
        return x + np.abs(x) ** 0.55 + 3.0 * np.clip((x - threshold) / 0.3, 0.0, 1.0) - level

    found = equations.rising_root(rises, np.zeros(level.shape), level)
    for one, at in zip(supply, found, strict=True):
        kept = lambda x, one=one: x + x**0.55 + 3.0 * np.clip((x - threshold) / 0.3, 0.0, 1.0) - one  # noqa: E731
        assert at == pytest.approx(brentq(kept, 0.0, one, xtol=1e-13) if one else 0.0, abs=1e-9)


def test_a_root_beyond_the_limits_is_the_nearest_limit() -> None:
    found = equations.rising_root(lambda x: x - np.array([-1.0, 0.0, 0.5, 1.0, 2.0]), np.zeros(5), np.ones(5))
    assert found == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0], abs=1e-13)


def test_runge_kutta_follows_an_oscillation_to_fourth_order() -> None:
    def slope(state: np.ndarray) -> np.ndarray:
        return np.array([state[1], -state[0]])

    errors = []
    exact = solve_ivp(lambda _, y: slope(y), (0.0, 2.0), [1.0, 0.0], rtol=1e-12, atol=1e-13).y[:, -1]
    for steps in (20, 40):
        state = np.array([1.0, 0.0])
        for _ in range(steps):
            state = runge_kutta(slope, state, 2.0 / steps)
        errors.append(np.abs(state - exact).max())
    assert errors[1] < 1e-6
    assert errors[0] / errors[1] == pytest.approx(16.0, rel=0.1)
