"""From beliefs and readings to what is left: least squares with priors, and weighted draws round the best garage."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError
from lampkit.uncertainty.sampling import Belief, Draws, standard_normal

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

    Source: Tierney and Kadane 1986, doi 10.1080/01621459.1986.10478240 (Laplace); Oh and Berger 1992,
    doi 10.1080/00949659208810410 (adaptive importance sampling).
    """
    # Every belief is a function of one standard normal number: the prior is a ball in as many dimensions as there are
    # beliefs. A few Gauss-Newton steps find the most probable garage and the linearised spread round it; pilot draws
    # refit that spread; the draws made there are weighted by prior times likelihood over sampling density, so that the
    # result rests neither on the linearisation nor on the refit.
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
    found = _Weighted(np.zeros((0, len(free))), np.zeros(0), np.zeros(0))
    for _ in range(REFITS):
        found = _weighted(log_density, mixture, z0[:pilot], found)
        mixture = [prior, *_refitted(found.z, found.weights, mixture[1], linear)]
    z, _, weights = _weighted(log_density, mixture, z0, found)
    strained = free[int(np.argmax(np.abs(centre)))] if free else ("", "")
    return Posterior(Draws(values(z), weights, known, seed), float(1.0 / (weights**2).sum()), misfit, strained)


Normal = tuple[float, NDArray[np.float64], NDArray[np.float64]]
"""A share, a centre and the root of a covariance."""


class _Weighted(NamedTuple):
    """Draws, the logarithm of the density wanted at each, and their weights."""

    z: NDArray[np.float64]
    density: NDArray[np.float64]
    weights: NDArray[np.float64]


def _weighted(
    log_density: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    mixture: list[Normal],
    standard: NDArray[np.float64],
    before: _Weighted,
) -> _Weighted:
    """Draw from a mixture of normals, the same standard numbers in each, and weigh by the density wanted.

    What was drawn before in the same place is not asked for its density again.
    """
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
    both, fresh = min(len(z), len(before.z)), np.ones(len(z), dtype=bool)
    fresh[:both] = np.any(z[:both] != before.z[:both], axis=1)
    density = np.empty(len(z))
    density[:both][~fresh[:both]] = before.density[:both][~fresh[:both]]
    density[fresh] = log_density(z[fresh])
    log_weight = density - np.logaddexp.reduce(parts, axis=0)
    if not np.any(np.isfinite(log_weight)):
        raise InputError(
            "no possible garage explains these readings",
            remedy="look for a slip in the readings, or widen the beliefs",
        )
    weights = np.exp(log_weight - np.nanmax(log_weight))
    # Ionides 2008, doi 10.1198/106186008X320456: a weight beyond the mean times the root of their number is cut to it,
    # so that one stray draw cannot stand for all.
    weights = np.minimum(weights, weights.mean() * np.sqrt(len(weights)))
    return _Weighted(z, density, weights / weights.sum())


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


Quantities = Mapping[str, NDArray[np.float64]]

NARROWING = 50
"""Steps within which measured values are fitted; a handful is usual [1]."""

LARGEST_MISFIT = 4.0
"""How many standard uncertainties a measured value may lie from the best fit before the fit is refused [1]."""


@dataclass(frozen=True, eq=False)
class Narrowed:
    """Beliefs after something was measured.

    Source: JCGM 101:2008 for the drawing; least squares with prior knowledge, linearised at the best fit.
    """

    beliefs: tuple[Belief, ...]
    quantities: tuple[Belief, ...]
    directions: NDArray[np.float64]
    notes: tuple[str, ...]

    def parameters(self, values: Quantities) -> dict[str, NDArray[np.float64]]:
        """Turn values on the directions back into values of the quantities.

        Source: an orthogonal change of variables.
        """
        names = [belief.name for belief in self.beliefs[: len(self.directions)]]
        along = np.stack(np.broadcast_arrays(*(np.asarray(values[name], dtype=float) for name in names)), axis=-1)
        standard = along @ self.directions
        passed = {name: np.asarray(v) for name, v in values.items() if name not in names}
        return passed | {q.name: q.value(standard[..., i]) for i, q in enumerate(self.quantities)}


def narrow(
    predict: Callable[[Quantities], NDArray[np.float64]],
    beliefs: Iterable[Belief],
    measured: ArrayLike,
    uncertainty: ArrayLike,
) -> Narrowed:
    """Weigh measured values against what was believed before.

    Source: least squares with prior knowledge, linearised at its solution.
    """
    listed, aim, spread = tuple(beliefs), np.asarray(measured, dtype=float), np.asarray(uncertainty, dtype=float)
    if not np.all((spread > 0) & np.isfinite(spread)):
        raise InputError("an uncertainty is not positive", key="uncertainty", expected="a number above zero")
    typical = {b.name: np.asarray(b.typical) for b in listed}

    def scaled(standard: NDArray[np.float64], over: tuple[Belief, ...]) -> NDArray[np.float64]:
        values = {b.name: b.value(standard[..., i]) for i, b in enumerate(over)}
        return np.asarray((predict({**typical, **values}) - aim) / spread)

    # A quantity that moves the prediction by less than a hundredth of its uncertainty stays as it was.
    half = 0.5 * np.eye(len(listed))
    touched = np.linalg.norm(scaled(half, listed) - scaled(-half, listed), axis=1) > 0.01
    moved = tuple(b for b, hit in zip(listed, touched, strict=True) if hit)
    kept = tuple(b for b, hit in zip(listed, touched, strict=True) if not hit)
    if not moved:
        raise InputError("the measured values do not depend on anything that is uncertain")

    best, slope, _ = _best(lambda standard: -scaled(standard, moved), len(moved), NARROWING)
    misfit = scaled(best, moved)
    if np.max(np.abs(misfit)) > LARGEST_MISFIT:
        worst = int(np.argmax(np.abs(misfit)))
        raise InputError(
            f"the measured values do not fit: the nearest that could be found is {np.abs(misfit[worst]):.0f} standard "
            "uncertainties away",
            remedy="check the colour, the material, the light used and the uncertainties",
        )
    _, singular, directions = np.linalg.svd(slope, full_matrices=True)
    information = np.concatenate([singular, np.zeros(len(moved) - singular.size)])
    directions = directions * np.sign(directions[np.arange(len(moved)), np.argmax(np.abs(directions), axis=1)])[:, None]
    remaining = 1.0 / np.sqrt(1.0 + information**2)
    found: list[Belief] = []
    apart: dict[str, list[str]] = {}
    for i, (row, left) in enumerate(zip(directions, remaining, strict=True)):
        seen = "well seen" if left < 0.3 else "partly seen" if left < 0.9 else "not seen"
        words = f"{_words(moved, best, -left * row)} or {_words(moved, best, left * row)}"
        found.append(Belief(f"direction {i + 1} ({seen})", float(row @ best), float(left), "1", f"measured: {words}"))
        if seen != "well seen":
            how = "hardly" if seen == "not seen" else "only partly"
            names = ", ".join(q.name for q, plain in zip(moved, _plain(row), strict=True) if plain)
            apart.setdefault(how, []).append(names)
    notes = tuple(f"{'; '.join(names)}: {how} told apart by what was measured" for how, names in apart.items())
    return Narrowed((*found, *kept), moved, directions, notes)


def _words(quantities: tuple[Belief, ...], best: NDArray[np.float64], move: NDArray[np.float64]) -> str:
    return ", ".join(
        f"{q.name} {float(q.value(z + step)):.4g}" + (f" {q.unit}" if q.unit != "1" else "")
        for q, z, step, plain in zip(quantities, best, move, _plain(move), strict=True)
        if plain
    )


def _plain(move: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which quantities move plainly: less than a tenth of the most moved one would only hide the others."""
    return np.asarray(np.abs(move) >= 0.1 * np.max(np.abs(move)))
