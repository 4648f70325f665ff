"""Why a new lamp gives less or more than the old one, and whether what was measured agrees with what was predicted."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError, nearest
from lampkit.uncertainty import budget, sampling
from lampkit.uncertainty.sampling import Belief

FACTORS = ("lens", "lumens", "beam")
"""The three factors: K, the lens for the new light over the lens for the old; the lumens; where the light goes."""

_BEAMS = {
    "all-round": Belief("beam ratio", 1.0, 0.15, "1", "an assumption", "lognormal"),
    "forward": Belief("beam ratio", 1.0, 0.50, "1", "an assumption", "lognormal"),
    "unknown": Belief("beam ratio", 1.0, 0.40, "1", "an assumption", "lognormal"),
}


@dataclass(frozen=True, eq=False)
class Blame:
    """How a measured ratio splits into lens, lumens and beam.

    Parameters
    ----------
    measured : ndarray, shape (3,) [1]
        Lower limit, median and upper limit of the ratio, as it was given.
    product : ndarray, shape (3,) [1]
        Lens times lumens times beam with the reading: the ratio for the eye.
    before : ndarray, shape (3, 3) [1]
        For lens, lumens and beam the interval that was believed before the reading.
    after : ndarray, shape (3, 3) [1]
        The same with the reading.
    weights : ndarray, shape (n,) [1]
        Weights that the reading gives to the draws; they sum to one.
    effective_draws : float [1]
        How many draws of one weight these are worth.
    sentence : str
        The split in plain words.

    Source: JCGM 101:2008 for the draws; Bayes' rule for the weights.
    """

    measured: NDArray[np.float64]
    product: NDArray[np.float64]
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    weights: NDArray[np.float64]
    effective_draws: float
    sentence: str


def beam_belief(layout: str | None) -> Belief:
    """Give what is believed of the beam ratio: candela towards the meter for each lumen, new over old.

    Source: an assumption.
    """
    key = "unknown" if layout is None else layout
    if key not in _BEAMS:
        raise InputError(f"the layout '{layout}' is unknown", key="layout", expected=nearest(key, _BEAMS))
    return _BEAMS[key]


def blame(
    measured: ArrayLike,
    k: ArrayLike,
    lumens: ArrayLike,
    beam: ArrayLike | Belief,
    *,
    mismatch: ArrayLike = 1.0,
    weights: ArrayLike | None = None,
    seed: int = 1,
    owner: str = "new lamp",
) -> Blame:
    """Split a measured ratio into lens, lumens and beam: each factor before and after the reading.

    Parameters
    ----------
    measured : array_like, shape (3,) [1]
        Lower limit, median and upper limit of the 95 % interval of the ratio. When `mismatch` is given draw by draw,
        this is the ratio before that correction, so that a garage is judged by what its meter would have shown.
    k : array_like, shape (n,) [1]
        Luminous transmittance for the new light over that for the old, draw by draw.
    lumens : array_like, shape (n,) [1]
        Luminous flux of the new source over the old, draw by draw.
    beam : array_like, shape (n,), or Belief [1]
        Candela for each lumen, new over old: draws, or what is believed.
    mismatch : array_like, shape (n,) or () [1]
        Spectral mismatch correction of the ratio in each draw.
    weights : array_like, shape (n,), optional [1]
        Weights that the draws have already.
    seed : int [1]
        The seed for a beam that is given as a belief.
    owner : str
        Whose beam it is; one owner, one stream of numbers.

    Returns
    -------
    Blame
        The split.

    Raises
    ------
    InputError
        The arrays do not match, a number is not positive, or no draw explains the reading.

    Source: Bayes' rule by importance weights; the likelihood is normal in the logarithm, with a half on each side.
    """
    ratio = np.asarray(measured, dtype=float)
    kd, ld = np.broadcast_arrays(np.asarray(k, dtype=float), np.asarray(lumens, dtype=float))
    n = kd.size
    bd = beam.value(sampling.standard_normal(seed, owner, beam.name, n)) if isinstance(beam, Belief) else beam
    bd = np.asarray(bd, dtype=float)
    md = np.asarray(mismatch, dtype=float)
    if kd.ndim != 1 or n < 100 or bd.shape != kd.shape or md.shape not in ((), kd.shape):
        raise InputError("the factors do not come from the same draws", expected="a hundred draws or more of each")
    if any(np.any(~(v > 0)) for v in (kd, ld, bd, md)):
        raise InputError("a factor is not positive in some draw", expected="ratios above zero")
    if ratio.shape != (3,) or not 0 < ratio[1] < np.inf or not ratio[0] <= ratio[1] <= ratio[2]:
        raise InputError("the measured ratio is not an interval", expected="lower limit, median, upper limit above 0")
    factors = np.stack([kd, ld, bd])
    prior = np.full(n, 1.0 / n) if weights is None else np.asarray(weights, dtype=float)
    log_ratio = np.log(np.maximum(ratio, 1e-12))
    sides = np.maximum(np.abs(np.diff(log_ratio)) / budget.K_95, 1e-3)
    off = np.log(factors).sum(axis=0) - np.log(md) - log_ratio[1]
    with np.errstate(invalid="ignore"):
        log_weight = -0.5 * (off / np.where(off < 0, sides[0], sides[1])) ** 2
    if not np.max(log_weight) > -12.5:
        raise InputError(
            f"no combination of lens, lumens and beam explains a ratio of {ratio[1]:.3g}",
            remedy="check which line is which lamp, the distances and the claimed lumens, or widen what is believed",
        )
    weight = prior * np.exp(log_weight - np.max(log_weight))
    weight /= weight.sum()
    before, after = sampling.interval(factors, prior), sampling.interval(factors, weight)
    effective = float(1.0 / np.sum(weight**2))
    product = sampling.interval(factors.prod(axis=0), weight)
    # what is said of the lamp holds for the eye; a ratio that only the meter saw would contradict the fair one
    said = ratio * md if md.ndim == 0 else product
    return Blame(ratio, product, before, after, weight, effective, _sentence(said, before, after, effective))


def _sentence(
    ratio: NDArray[np.float64], before: NDArray[np.float64], after: NDArray[np.float64], effective: float
) -> str:
    effects = {
        "lens": ("the lens passes less of the new light", "the lens passes more of the new light"),
        "lumens": ("the new lamp makes fewer lumens", "the new lamp makes more lumens"),
        "beam": ("less of its light goes towards the meter", "more of its light goes towards the meter"),
    }
    logs = np.log(after[:, 1])
    total = np.log(ratio[1])
    verb = "less" if total < 0 else "more"
    words = f"The new lamp gives {ratio[1]:.2f} times the old one's light ({ratio[0]:.2f} to {ratio[2]:.2f}). "
    if abs(total) < 0.05:
        words += "There is no shortfall to explain. "
    else:
        with_it = [i for i in np.argsort(-np.abs(logs)) if np.sign(logs[i]) == np.sign(total) and abs(logs[i]) > 0.05]
        if with_it:
            i = int(with_it[0])
            words += (
                f"That it is {verb} is mostly because {effects[FACTORS[i]][int(total > 0)]} (times {after[i, 1]:.2f}"
            )
            words += f", {after[i, 0]:.2f} to {after[i, 2]:.2f}). "
    parts = [f"{name} {after[i, 1]:.2f} ({after[i, 0]:.2f} to {after[i, 2]:.2f})" for i, name in enumerate(FACTORS)]
    words += "The split: " + ", ".join(parts) + ". "
    narrowed = np.log(after[:, 2] / after[:, 0]) < 0.8 * np.log(before[:, 2] / before[:, 0])
    learnt = [name for name, yes in zip(FACTORS, narrowed, strict=True) if yes]
    words += f"The reading taught something about: {', '.join(learnt)}." if learnt else "The reading taught little new."
    if effective < 100:
        words += " Few of the assumed garages explain this reading; take the split with caution and check the log."
    return words


def agreement(measured: ArrayLike, predicted: ArrayLike) -> tuple[float, str]:
    """Hold a measured ratio against its prediction: the E_n number, and whether they agree, in plain words.

    Parameters
    ----------
    measured, predicted : array_like, shape (3,) [1]
        Lower limit, median and upper limit of the 95 % intervals.

    Returns
    -------
    tuple of (float, str)
        E_n, taken with the sides of the intervals that face each other, and a sentence that begins with 'agrees',
        'differs' or 'inconclusive'.

    Raises
    ------
    InputError
        A median is not positive.

    Source: ISO/IEC 17043 (from memory) for E_n; when the two together are uncertain by half the prediction it is
    called inconclusive (an assumption).
    """
    m, p = np.asarray(measured, dtype=float), np.asarray(predicted, dtype=float)
    if m.shape != (3,) or p.shape != (3,) or not (m[1] > 0 and p[1] > 0):
        raise InputError("a ratio is not an interval above zero", expected="lower limit, median, upper limit")
    above = m[1] >= p[1]
    side_m, side_p = (m[1] - m[0], p[2] - p[1]) if above else (m[2] - m[1], p[1] - p[0])
    if not np.isfinite(side_m):
        return float("nan"), "inconclusive: the reading has no upper limit; take it in a darker room or nearer."
    number = float(budget.normalised_error(m[1], p[1], side_m, max(side_p, 1e-12)))
    shown = f"measured {m[1]:.2f} ({m[0]:.2f} to {m[2]:.2f}), predicted {p[1]:.2f} ({p[0]:.2f} to {p[2]:.2f})"
    shown += f", E_n {number:.2f}"
    if abs(number) > 1:
        which = "more" if above else "less"
        return number, (
            f"differs: {shown}. The lamp gives {which} than predicted; the claimed lumens, the beam, the lens or the "
            "meter's colour response may be why."
        )
    if np.hypot(side_m, side_p) > 0.5 * p[1]:
        return number, f"inconclusive: {shown}. The two are too uncertain for agreement to mean much."
    return number, f"agrees: {shown}."
