"""Equations solved for whole arrays at once: the root of a function that rises."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def rising_root(function: Callable[[Floats], Floats], low: Floats, high: Floats, *, tolerance: float = 1e-14) -> Floats:
    """Find where a continuous function that rises passes zero, between two limits; the limit nearest where it does not.

    SciPy's root finders take one number at a time, or need derivatives that loads with thresholds do not have.
    Ends when the last step is below a share of the span everywhere: some ten calls where halving takes fifty.
    Source: Ridders, IEEE Trans. Circuits Syst. 26 (1979) 979 (from memory).
    """
    low, high = (np.array(limit, dtype=float) for limit in np.broadcast_arrays(low, high))
    f_low, f_high = function(low), function(high)
    enough = tolerance * np.max(np.abs(high - low), initial=0.0)
    found = np.where(f_low >= 0.0, low, high)
    open_ = (f_low < 0.0) & (f_high > 0.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        f = function(middle)
        bend = np.sqrt(np.where(open_, f * f - f_low * f_high, 1.0))
        bend = np.where(bend > 0.0, bend, 1.0)  # the product of two tiny values is nothing: then the middle is as good
        at = np.where(open_, np.clip(middle - (middle - low) * f / bend, low, high), found)
        f_at = function(at)
        moved, found = np.max(np.abs(at - found), initial=0.0), at
        if moved <= enough:
            break
        # Of the two points the tighter pair of limits round the root.
        for x, y in ((middle, f), (at, f_at)):
            below, above = (y < 0.0) & (x > low), (y >= 0.0) & (x < high)
            low, f_low = np.where(below, x, low), np.where(below, y, f_low)
            high, f_high = np.where(above, x, high), np.where(above, y, f_high)
    return np.asarray(found)
