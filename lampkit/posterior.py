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

WIDENING = 1.1
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
        Weighted squared misfit of the best garage, about the number of readings when the model suits them.

    Source: Kong, Liu and Wong 1994, doi 10.1080/01621459.1994.10476469, for the effective number.
    """

    garage: Draws
    effective: float
    misfit: float


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
    are beliefs. A few Gauss-Newton steps find the most probable garage and the linearised spread round it; draws made
    there from the named streams are weighted by prior times likelihood over sampling density, so that the result does
    not rest on the linearisation. Without observations the draws are the prior's own, of equal weight.

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

    Source: Tierney and Kadane 1986, doi 10.1080/01621459.1986.10478240 (Laplace); JCGM 101:2008 for the draws.
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
        return Posterior(Draws(values(z0), np.full(draws, 1.0 / draws), known, seed), float(draws), 0.0)
    try:
        root = np.linalg.cholesky(np.asarray(covariance, dtype=float))
    except np.linalg.LinAlgError:
        raise InputError("the errors of the readings do not make a covariance", expected="positive errors") from None

    def whitened(z: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.linalg.solve(root, (y - predict(values(z))).T).T

    centre, jacobian, misfit = _best(whitened, len(free), steps)
    precision = np.eye(len(free)) + jacobian.T @ jacobian
    spread = np.linalg.cholesky(np.linalg.inv(precision)) * WIDENING
    # The first draws stay where the prior put them; the stream is the same for all.
    from_prior = np.arange(draws) < round(PRIOR_SHARE * draws)
    z = np.where(from_prior[:, np.newaxis], z0, centre + z0 @ spread.T)
    offset = np.linalg.solve(spread, (z - centre).T).T
    log_prior = -0.5 * (z**2).sum(axis=1)
    log_near = -0.5 * (offset**2).sum(axis=1) - np.log(np.diag(spread)).sum()
    log_sampling = np.logaddexp(np.log(PRIOR_SHARE) + log_prior, np.log1p(-PRIOR_SHARE) + log_near)
    log_weight = log_prior - 0.5 * (whitened(z) ** 2).sum(axis=1) - log_sampling
    if not np.any(np.isfinite(log_weight)):
        raise InputError(
            "no possible garage explains these readings",
            remedy="look for a slip in the readings, or widen the beliefs",
        )
    weights = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    return Posterior(Draws(values(z), weights, known, seed), float(1.0 / (weights**2).sum()), misfit)


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
    return centre, jacobian, float((whitened(centre[np.newaxis])[0] ** 2).sum())
