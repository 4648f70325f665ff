"""Weighted draws against Bayes' rule where it has a closed form, and against brute force where it has none."""

import numpy as np
import pytest

from lampkit.errors import InputError
from lampkit.uncertainty.posterior import update
from lampkit.uncertainty.sampling import Belief, draw, interval

A = Belief("a", 2.0, 1.0, "1", "an assumption")
B = Belief("b", -1.0, 0.5, "1", "an assumption")
KEYS = [("x", "a"), ("x", "b")]


def test_linear_case_is_the_normal_posterior() -> None:
    matrix = np.array([[1.0, 1.0], [1.0, -2.0], [0.5, 0.0]])
    noise = np.diag([0.3, 0.2, 0.4]) ** 2 + 0.01
    y = np.array([1.8, 3.0, 1.4])
    found = update(
        {"x": [A, B]}, lambda v: np.stack([v[k] for k in KEYS], 1) @ matrix.T, y, noise, draws=40_000, seed=2
    )
    prior = np.diag([1.0, 0.25])
    gain = prior @ matrix.T @ np.linalg.inv(matrix @ prior @ matrix.T + noise)
    mean = np.array([2.0, -1.0]) + gain @ (y - matrix @ [2.0, -1.0])
    covariance = prior - gain @ matrix @ prior
    samples = np.stack([found.garage.values[k] for k in KEYS])
    np.testing.assert_allclose(np.average(samples, axis=1, weights=found.garage.weights), mean, atol=0.01)
    np.testing.assert_allclose(np.cov(samples, aweights=found.garage.weights), covariance, atol=0.01)
    assert found.effective > 0.5 * 40_000


def test_misfit_is_the_squared_distance_from_what_was_expected() -> None:
    """Where all is linear: Mahalanobis distance of the readings from their mean, reading and belief errors together."""
    matrix, noise, y = np.array([[1.0, 1.0], [1.0, -2.0]]), np.diag([0.04, 0.09]), np.array([4.5, 3.0])
    found = update({"x": [A, B]}, lambda v: np.stack([v[k] for k in KEYS], 1) @ matrix.T, y, noise, draws=100, seed=2)
    away = y - matrix @ [2.0, -1.0]
    expected = away @ np.linalg.inv(matrix @ np.diag([1.0, 0.25]) @ matrix.T + noise) @ away
    assert found.misfit == pytest.approx(expected, rel=1e-6)
    assert found.strained == ("x", "b")


def test_curved_case_against_brute_force() -> None:
    def predict(v: dict) -> np.ndarray:
        return np.exp(0.8 * v["x", "a"])[:, None]

    y, sigma = np.array([2.0]), 0.3
    found = update({"x": [A]}, predict, y, [[sigma**2]], draws=40_000, seed=3)
    a = np.linspace(-4, 8, 200_001)
    density = np.exp(-0.5 * (a - 2.0) ** 2 - 0.5 * ((y - np.exp(0.8 * a)) / sigma) ** 2)
    cumulative = np.cumsum(density) / density.sum()
    expected = np.interp([0.025, 0.5, 0.975], cumulative, a)
    np.testing.assert_allclose(interval(found.garage.values["x", "a"], found.garage.weights), expected, atol=0.03)


def test_without_readings_the_draws_are_the_prediction_s_own() -> None:
    found = update({"x": [A, B]}, lambda v: np.zeros((len(v["x", "a"]), 0)), [], np.zeros((0, 0)), draws=500, seed=4)
    prior = draw({"x": [A, B]}, 500, 4)
    for key in KEYS:
        assert found.garage.values[key].tobytes() == prior.values[key].tobytes()
    assert np.ptp(found.garage.weights) == 0.0


def test_same_seed_same_numbers_to_the_bit() -> None:
    def run() -> bytes:
        found = update({"x": [A]}, lambda v: v["x", "a"][:, None], [1.0], [[0.1]], draws=1000, seed=5)
        return found.garage.weights.tobytes() + found.garage.values["x", "a"].tobytes()

    assert run() == run()


def test_a_fixed_belief_stays_fixed() -> None:
    fixed = Belief("b", 3.0, 0.0, "1", "given", "fixed")
    found = update(
        {"x": [A, fixed]}, lambda v: (v["x", "a"] * v["x", "b"])[:, None], [3.0], [[0.01]], draws=800, seed=1
    )
    assert np.all(found.garage.values["x", "b"] == 3.0)


def test_impossible_covariance_is_refused() -> None:
    with pytest.raises(InputError, match="covariance"):
        update({"x": [A]}, lambda v: v["x", "a"][:, None], [1.0], [[-1.0]], draws=10, seed=1)
