"""Equations solved for whole arrays at once: a crossing by halving, and a step in time by Runge and Kutta."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def crossing(
    too_low: Callable[[Floats], NDArray[np.bool_]], low: Floats, high: Floats, *, halvings: int = 50
) -> Floats:
    """Find where a condition that holds below ends, between two limits, by halving what lies between.

    Fifty halvings leave a part in 1e15 of the first span. SciPy's root finders take one number at a time, or need
    derivatives that loads with thresholds do not have.
    """
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        below = too_low(middle)
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))


def runge_kutta(slope: Callable[[Floats], Floats], state: Floats, step: float) -> Floats:
    """Take one step of the classical fourth-order method.

    Source: Kutta, Z. Math. Phys. 46 (1901) 435 (from memory).
    """
    a = slope(state)
    b = slope(state + 0.5 * step * a)
    c = slope(state + 0.5 * step * b)
    d = slope(state + step * c)
    return np.asarray(state + (step / 6.0) * (a + 2.0 * (b + c) + d))
