"""Intervals and numbers of published examples that the kit does not compute with."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit.uncertainty.budget import K_95


def fieller_weakness(denominator: ArrayLike, variance_denominator: ArrayLike) -> np.ndarray:
    """The g of Fieller's interval: above 0.05 linear propagation misleads, from 1 on there are no limits.

    Source: E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175, read in a statistics reference text.
    """
    return K_95**2 * np.asarray(variance_denominator, dtype=float) / np.asarray(denominator, dtype=float) ** 2


def shortest_interval(values: ArrayLike, coverage: float = 0.95) -> np.ndarray:
    """Shortest interval that holds the stated share of the draws. Source: JCGM 101:2008, 7.7.4."""
    ordered = np.sort(np.asarray(values, dtype=float))
    held = round(coverage * ordered.size)
    start = int(np.argmin(ordered[held:] - ordered[:-held]))
    return ordered[[start, start + held]]
