"""Why a new lamp gives less or more than the old one, and whether what was measured agrees with what was predicted."""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError, nearest
from lampkit.sources.light_source import BEAM_RATIO, LightSource
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import budget, sampling
from lampkit.uncertainty.sampling import Belief


class Factor(Enum):
    """What a ratio of light is made of: K, the lens for the new light over that for the old; lumens; where it goes."""

    LENS = "lens"
    LUMENS = "lumens"
    BEAM = "beam"


FACTORS = tuple(factor.value for factor in Factor)
"""The names of the three factors."""

EVEN = 0.05
"""Logarithm of a ratio, or of a factor, within which it counts as one [1]. Source: an assumption."""

NARROWED = 0.8
"""Width of the interval of a factor, with the reading over before it, below which the reading taught something [1].
Source: an assumption."""

FEW_DRAWS = 100.0
"""Effective number of draws below which few of the assumed garages explain a reading [1]. Source: an assumption."""

_TOWERS = "an assumption: a tower of emitters in a reflector made for a filament, none of them at its focus"
_BEAMS = {
    "all-round": Belief(BEAM_RATIO, 0.8, 0.30, "1", _TOWERS, "lognormal"),
    "forward": Belief(BEAM_RATIO, 0.7, 0.50, "1", _TOWERS, "lognormal"),
    "unknown": Belief(BEAM_RATIO, 0.75, 0.45, "1", _TOWERS, "lognormal"),
}


class Less(Enum):
    """What each factor does where the new lamp gives less."""

    LENS = "lens"
    LUMENS = "lumens"
    BEAM = "beam"


class More(Enum):
    """What each factor does where the new lamp gives more."""

    LENS = "lens"
    LUMENS = "lumens"
    BEAM = "beam"


@dataclass(frozen=True, eq=False)
class Blame:
    """How a measured ratio splits into lens, lumens and beam.

    Source: JCGM 101:2008 for the draws; Bayes' rule for the weights.
    """

    measured: NDArray[np.float64]
    product: NDArray[np.float64]
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    weights: NDArray[np.float64]
    effective_draws: float
    said_ratio: NDArray[np.float64]

    @property
    def main_cause(self) -> Factor | None:
        """The factor that does most to make the new lamp give more or less; None where it gives as much, or none."""
        logs, total = np.log(self.after[:, 1]), np.log(self.said_ratio[1])
        if abs(total) < EVEN:
            return None
        found = [i for i in np.argsort(-np.abs(logs)) if np.sign(logs[i]) == np.sign(total) and abs(logs[i]) > EVEN]
        return tuple(Factor)[int(found[0])] if found else None

    @property
    def learnt(self) -> tuple[Factor, ...]:
        """The factors of which the reading taught something."""
        before, after = (np.log(limits[:, 2] / limits[:, 0]) for limits in (self.before, self.after))
        return tuple(factor for factor, yes in zip(Factor, after < NARROWED * before, strict=True) if yes)

    @property
    def sentence(self) -> Statement:
        """The split: what the new lamp gives, mostly because of what, and what the reading taught."""
        ratio, after = _numbers(self.said_ratio), [_numbers(limits) for limits in self.after]
        cause, more = self.main_cause, ratio[1] > 1
        why: Statement | str = "" if abs(np.log(ratio[1])) >= EVEN else say("blame.nothing_to_explain")
        if cause is not None:
            effect = named((More if more else Less)[cause.name])
            why = say("blame.main_cause", more=more, effect=effect, factor=after[list(Factor).index(cause)])
        parts = [say("blame.factor", name=named(f), limits=limits) for f, limits in zip(Factor, after, strict=True)]
        learnt = [named(factor) for factor in self.learnt]
        taught = say("blame.taught", factors=learnt) if learnt else say("blame.taught_little")
        few = say("blame.few_draws") if self.effective_draws < FEW_DRAWS else ""
        return say("blame.split", ratio=ratio, why=why, parts=parts, taught=taught, few=few)


def beam_belief(layout: str | None) -> Belief:
    """Give what is believed of the beam ratio: candela towards the meter for each lumen, new over old.

    Source: an assumption.
    """
    key = "unknown" if layout is None else layout
    if key not in _BEAMS:
        raise InputError(f"the layout '{layout}' is unknown", key="layout", expected=nearest(key, _BEAMS))
    return _BEAMS[key]


def beam_of(source: LightSource) -> Belief:
    """Give what is believed of the beam ratio of a light source: what the user knows, or else by its layout.

    Source: an assumption, or the user.
    """
    return source.beam or beam_belief(source.layout)


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
    return Blame(ratio, product, before, after, weight, effective, said)


def _numbers(limits: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(limit) for limit in limits)


class AgreementVerdict(Enum):
    """Whether what was measured agrees with what was predicted."""

    AGREES = "agrees"
    DIFFERS = "differs"
    INCONCLUSIVE = "inconclusive"


@dataclass(frozen=True, eq=False)
class Agreement:
    """A measured ratio held against its prediction."""

    verdict: AgreementVerdict
    normalised_error: float
    measured: NDArray[np.float64]
    predicted: NDArray[np.float64]

    @property
    def sentence(self) -> Statement:
        """The verdict with its numbers, and what may be why."""
        verdict = named(self.verdict)
        if not np.isfinite(self.normalised_error):
            return say("agreement.no_upper_limit", verdict=verdict)
        shown = say(
            "agreement.numbers",
            measured=_numbers(self.measured),
            predicted=_numbers(self.predicted),
            normalised_error=self.normalised_error,
        )
        if self.verdict is AgreementVerdict.DIFFERS:
            return say("agreement.differs", verdict=verdict, shown=shown, more=self.normalised_error > 0)
        if self.verdict is AgreementVerdict.INCONCLUSIVE:
            return say("agreement.too_uncertain", verdict=verdict, shown=shown)
        return say("agreement.agrees", verdict=verdict, shown=shown)


def agreement(measured: ArrayLike, predicted: ArrayLike) -> Agreement:
    """Hold a measured ratio against its prediction: the E_n number, and whether they agree."""
    m, p = np.asarray(measured, dtype=float), np.asarray(predicted, dtype=float)
    if m.shape != (3,) or p.shape != (3,) or not (m[1] > 0 and p[1] > 0):
        raise InputError("a ratio is not an interval above zero", expected="lower limit, median, upper limit")
    above = m[1] >= p[1]
    side_m, side_p = (m[1] - m[0], p[2] - p[1]) if above else (m[2] - m[1], p[1] - p[0])
    if not np.isfinite(side_m):
        return Agreement(AgreementVerdict.INCONCLUSIVE, float("nan"), m, p)
    number = float(budget.normalised_error(m[1], p[1], side_m, max(side_p, 1e-12)))
    if abs(number) > 1:
        return Agreement(AgreementVerdict.DIFFERS, number, m, p)
    uncertain = np.hypot(side_m, side_p) > 0.5 * p[1]
    return Agreement(AgreementVerdict.INCONCLUSIVE if uncertain else AgreementVerdict.AGREES, number, m, p)
