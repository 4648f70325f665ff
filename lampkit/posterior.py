"""From beliefs and readings to weighted draws: Gauss-Newton to the best garage, then importance sampling round it."""

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError
from lampkit.uncertainty import Belief, Draws, standard_normal

Values = Mapping[tuple[str, str], NDArray[np.float64]]
Predict = Callable[[Values], NDArray[np.float64]]

PRIOR_SHARE = 0.1
"""Share of the garages drawn from the prior itself, so that no weight can grow without bound [1].
Source: Hesterberg 1995, doi 10.1080/00401706.1995.10484303, defensive mixture."""

PILOT, REFITS = 4000, 2
"""Draws of a pilot run, and how many: each fits the sampling distribution to what the one before found [1]."""

WIDENING = 1.05
"""Standard deviations of the sampling distribution over those of the linearised posterior [1].
Source: common practice in importance sampling: tails wider than the target's."""


class Posterior(NamedTuple):
    """Weighted garages, and how well the sampling went.

    Parameters
    ----------
    garage : Draws
        The garages with their weights.
    effective : float [1]
        Effective number of garages, one over the sum of squared weights.
    misfit : float [1]
        Squared distance of the best garage from the readings and from the beliefs, in standard deviations; about the
        number of readings when both suit, by chi-square with as many degrees of freedom where all is linear.
    strained : tuple of (str, str)
        Owner and name of the belief that lies farthest from its typical value in the best garage; empty words where
        nothing was observed.

    Source: Kong, Liu and Wong 1994, doi 10.1080/01621459.1994.10476469, for the effective number.
    """

    garage: Draws
    effective: float
    misfit: float
    strained: tuple[str, str]


def update(
    beliefs: Mapping[str, Iterable[Belief]],
    predict: Predict,
    observed: ArrayLike,
    covariance: ArrayLike,
    *,
    draws: int,
    seed: int,
    steps: int = 6,
) -> Posterior:
    """Weigh garages by how well each explains what was observed.

    Every belief is a function of one standard normal number, so the prior is a ball in as many dimensions as there
    are beliefs. A few Gauss-Newton steps find the most probable garage and the linearised spread round it; pilot draws
    refit that spread; the draws, made there from the named streams, are weighted by prior times likelihood over
    sampling density, so that the result rests neither on the linearisation nor on the refit. Without observations the
    draws are the prior's own, of equal weight.

    Parameters
    ----------
    beliefs : mapping of str to iterable of Belief
        For each owner its beliefs.
    predict : callable
        Takes {(owner, name): values of shape (n,)} and gives predictions of shape (n, j).
    observed : array_like, shape (j,) [1]
        What was observed, on the scale of the predictions.
    covariance : array_like, shape (j, j) [1]
        Covariance of the errors of observation that `predict` does not hold.
    draws : int [1]
        How many garages.
    seed : int [1]
        The seed.
    steps : int [1]
        Gauss-Newton steps.

    Returns
    -------
    Posterior
        The garages.

    Raises
    ------
    InputError
        The covariance is not positive definite, or no garage explains what was observed.

    Source: Tierney and Kadane 1986, doi 10.1080/01621459.1986.10478240 (Laplace); Oh and Berger 1992,
    doi 10.1080/00949659208810410 (adaptive importance sampling).
    """
    known = {(owner, b.name): b for owner, listed in beliefs.items() for b in listed}
    # A fixed belief has nothing to learn and would only add a dimension.
    free = [key for key, b in known.items() if b.shape != "fixed" and b.spread > 0]
    y = np.atleast_1d(np.asarray(observed, dtype=float))
    z0 = np.stack([standard_normal(seed, *key, draws) for key in free], axis=1) if free else np.zeros((draws, 0))

    def values(z: NDArray[np.float64]) -> dict[tuple[str, str], NDArray[np.float64]]:
        columns = dict(zip(free, z.T, strict=True))
        return {key: b.value(columns.get(key, np.zeros(len(z)))) for key, b in known.items()}

    if y.size == 0:
        return Posterior(Draws(values(z0), np.full(draws, 1.0 / draws), known, seed), float(draws), 0.0, ("", ""))
    try:
        root = np.linalg.cholesky(np.asarray(covariance, dtype=float))
    except np.linalg.LinAlgError:
        raise InputError("the errors of the readings do not make a covariance", expected="positive errors") from None

    def whitened(z: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.linalg.solve(root, (y - predict(values(z))).T).T, dtype=np.float64)

    def log_density(z: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(-0.5 * (z**2).sum(axis=1) - 0.5 * (whitened(z) ** 2).sum(axis=1))

    centre, jacobian, misfit = _best(whitened, len(free), steps)
    linear = np.asarray(np.linalg.inv(np.eye(len(free)) + jacobian.T @ jacobian), dtype=np.float64)
    prior: Normal = (PRIOR_SHARE, np.zeros(len(free)), np.eye(len(free)))
    mixture: list[Normal] = [prior, (1.0 - PRIOR_SHARE, centre, _widened_root(linear))]
    pilot = min(draws, PILOT)
    for _ in range(REFITS):
        z, weights = _weighted(log_density, mixture, z0[:pilot])
        mixture = [prior, *_refitted(z, weights, mixture[1], linear)]
    z, weights = _weighted(log_density, mixture, z0)
    strained = free[int(np.argmax(np.abs(centre)))] if free else ("", "")
    return Posterior(Draws(values(z), weights, known, seed), float(1.0 / (weights**2).sum()), misfit, strained)


Normal = tuple[float, NDArray[np.float64], NDArray[np.float64]]
"""A share, a centre and the root of a covariance."""


def _weighted(
    log_density: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    mixture: list[Normal],
    standard: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Draw from a mixture of normals, the same standard numbers in each, and weigh by the density wanted."""
    bounds = np.round(np.cumsum([0.0, *(share for share, _, _ in mixture)]) * len(standard)).astype(int)
    z = np.vstack(
        [
            centre + standard[start:stop] @ root.T
            for (_, centre, root), start, stop in zip(mixture, bounds[:-1], bounds[1:], strict=True)
        ]
    )
    parts = [
        np.log(share) - 0.5 * (np.linalg.solve(root, (z - centre).T) ** 2).sum(axis=0) - np.log(np.diag(root)).sum()
        for share, centre, root in mixture
    ]
    log_weight = log_density(z) - np.logaddexp.reduce(parts, axis=0)
    if not np.any(np.isfinite(log_weight)):
        raise InputError(
            "no possible garage explains these readings",
            remedy="look for a slip in the readings, or widen the beliefs",
        )
    weights = np.exp(log_weight - np.nanmax(log_weight))
    # Ionides 2008, doi 10.1198/106186008X320456: a weight beyond the mean times the root of their number is cut to it,
    # so that one stray draw cannot stand for all.
    weights = np.minimum(weights, weights.mean() * np.sqrt(len(weights)))
    return z, weights / weights.sum()


def _widened_root(covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.cholesky(covariance) * WIDENING, dtype=np.float64)


def _refitted(
    z: NDArray[np.float64], weights: NDArray[np.float64], linearised: Normal, linear: NDArray[np.float64]
) -> list[Normal]:
    """Add a normal fitted to the weighted draws: a bent posterior is wider than its linearisation."""
    mean = weights @ z
    away = z - mean
    effective = 1.0 / (weights**2).sum()
    trust = effective / (effective + 2.0 * z.shape[1])
    covariance = trust * (away * weights[:, np.newaxis]).T @ away + (1.0 - trust) * linear
    rest = 1.0 - PRIOR_SHARE
    return [(0.35 * rest, *linearised[1:]), (0.65 * rest, mean, _widened_root(covariance))]


def _best(
    whitened: Callable[[NDArray[np.float64]], NDArray[np.float64]], size: int, steps: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Damped Gauss-Newton from the typical garage; all differences of one step are one batch."""
    step = 1e-3
    nudges = np.vstack([np.zeros((1, size)), step * np.eye(size), -step * np.eye(size)])
    # Half steps save an overshoot where a prediction saturates.
    lengths = np.array([1.0, 0.5, 0.25, 0.1, 0.0])
    centre = np.zeros(size)
    jacobian = np.zeros((1, size))
    for _ in range(steps):
        residual = whitened(centre + nudges)
        jacobian = (residual[1 + size :] - residual[1 : 1 + size]).T / (2.0 * step)
        gradient = jacobian.T @ residual[0] - centre
        move = np.linalg.solve(np.eye(size) + jacobian.T @ jacobian, gradient)
        trial = centre + lengths[:, np.newaxis] * move
        cost = (whitened(trial) ** 2).sum(axis=1) + (trial**2).sum(axis=1)
        chosen = int(np.nanargmin(np.where(np.isfinite(cost), cost, np.inf)))
        centre = trial[chosen]
        if lengths[chosen] == 0.0 or np.abs(lengths[chosen] * move).max() < 1e-4:
            break
    return centre, jacobian, float((whitened(centre[np.newaxis])[0] ** 2).sum() + (centre**2).sum())
