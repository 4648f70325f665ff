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

STRAINED = 2.0
"""Standard deviations of what is assumed beyond which a reading widens the lumens and the beam, until it lies so far
out and no further [1]. Source: an assumption: a claim or a beam may be worse than most."""

MOST_WIDENED = 4.0
"""How many times the spread of lumens and beam may be widened before a reading lies outside all that is assumed [1].
Source: an assumption."""

_TOWERS = "an assumption: a tower of emitters in a reflector made for a filament, none of them at its focus"
_BEAMS = {
    "all-round": Belief(BEAM_RATIO, 0.8, 0.30, "1", _TOWERS, "lognormal"),
    "forward": Belief(BEAM_RATIO, 0.7, 0.50, "1", _TOWERS, "lognormal"),
    "unknown": Belief(BEAM_RATIO, 0.75, 0.45, "1", _TOWERS, "lognormal"),
}


Less = Enum("Less", {factor.name: factor.value for factor in Factor}, module=__name__)  # type: ignore[misc]
"""What each factor does where the new lamp gives less."""

More = Enum("More", {factor.name: factor.value for factor in Factor}, module=__name__)  # type: ignore[misc]
"""What each factor does where the new lamp gives more."""


class SplitOutcome(Enum):
    """Whether a ratio could be split, and what had to be assumed for it."""

    AS_ASSUMED = "as_assumed"
    WIDENED = "widened"
    OUTSIDE = "outside"
    TOO_UNCERTAIN = "too_uncertain"


@dataclass(frozen=True, eq=False)
class Blame:
    """How a measured ratio splits into lens, lumens and beam; what could not be split has no numbers after the reading.

    Source: JCGM 101:2008 for the draws; conditioning of normal logarithms (kriging) for the split.
    """

    outcome: SplitOutcome
    product: NDArray[np.float64]
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    draws: NDArray[np.float64]
    strain: float
    widening: float
    claimed: float | None

    @property
    def split(self) -> bool:
        """Whether the ratio could be split."""
        return self.outcome in (SplitOutcome.AS_ASSUMED, SplitOutcome.WIDENED)

    @property
    def main_cause(self) -> Factor | None:
        """The factor that does most to make the new lamp give more or less; None where it gives as much, or none.

        What a lens gives more of the new light is set against the lumens: a coloured LED needs fewer of them.
        """
        if not self.split or abs(np.log(self.product[1])) < EVEN:
            return None
        sign = np.sign(np.log(self.product[1]))
        lens, lumens, beam = np.log(self.after[:, 1])
        if sign < 0 < lens:
            lens, lumens = 0.0, lens + lumens
        logs = np.array([lens, lumens, beam])
        found = [i for i in np.argsort(-np.abs(logs)) if np.sign(logs[i]) == sign and abs(logs[i]) > EVEN]
        return tuple(Factor)[int(found[0])] if found else None

    @property
    def short(self) -> float | None:
        """Lumens on the box that the new lamp is short of the old one's light, with this lens and this beam [lm]."""
        if self.claimed is None or not self.split or self.product[1] >= 1:
            return None
        return float(self.claimed * (1.0 / self.product[1] - 1.0))

    @property
    def learnt(self) -> tuple[Factor, ...]:
        """The factors of which the reading taught something."""
        if not self.split:
            return ()
        before, after = (np.log(limits[:, 2] / limits[:, 0]) for limits in (self.before, self.after))
        return tuple(factor for factor, yes in zip(Factor, after < NARROWED * before, strict=True) if yes)

    @property
    def sentence(self) -> Statement:
        """The split: what the new lamp gives, mostly because of what, and what the reading taught."""
        ratio, cause = _numbers(self.product), self.main_cause
        if self.outcome is SplitOutcome.OUTSIDE:
            return say("blame.outside", more=ratio[1] > 1)
        if self.outcome is SplitOutcome.TOO_UNCERTAIN:
            return say("blame.too_uncertain")
        why: Statement | str = "" if abs(np.log(ratio[1])) >= EVEN else say("blame.nothing_to_explain")
        if cause is not None:
            more = ratio[1] > 1
            effect = named((More if more else Less)[cause.name])
            why = say("blame.main_cause", more=more, effect=effect, short=self.short)
        after = [_numbers(limits) for limits in self.after]
        parts = [say("blame.factor", name=named(f), limits=limits) for f, limits in zip(Factor, after, strict=True)]
        learnt = [named(factor) for factor in self.learnt]
        taught = say("blame.taught", factors=learnt) if learnt else say("blame.taught_little")
        wide = say("blame.widened", times=self.widening) if self.outcome is SplitOutcome.WIDENED else ""
        return say("blame.split", ratio=ratio, why=why, parts=parts, taught=taught, wide=wide)


def beam_belief(layout: str | None) -> Belief:
    """Give what is believed of the beam ratio: candela towards the meter for each lumen, new over old.

    Source: an assumption.
    """
    key = "unknown" if layout is None else layout
    if key not in _BEAMS:
        raise InputError(f"the layout '{layout}' is unknown", key="layout", expected=nearest(key, _BEAMS))
    return _BEAMS[key]


def beam_of(source: LightSource) -> Belief:
    """Give what is believed of the beam ratio of a light source: what the user knows, or else by its layout."""
    return source.beam or beam_belief(source.layout)


FEWEST_DRAWS = 100
"""Draws below which a split among lens, lumens and beam says nothing [1]. Source: own judgement."""


def blame(
    measured: ArrayLike,
    k: ArrayLike,
    lumens: ArrayLike,
    beam: ArrayLike | Belief,
    *,
    claimed: float | None = None,
    seed: int = 1,
    owner: str = "new lamp",
) -> Blame:
    """Split the draws of a measured ratio into lens, lumens and beam: each factor before and after the reading.

    Each garage's factors are moved, in their logarithms, by what its ratio is off their product, each by its share of
    the variance. So the product is the measured ratio draw by draw, and no reading leaves a few draws to stand for all.
    A reading that lies far from what is assumed widens the lumens and the beam, of which least is known.

    Source: conditional draws of normal quantities, Journel and Huijbregts 1978 (from memory).
    """
    ratio = np.asarray(measured, dtype=float)
    kd, ld = np.broadcast_arrays(np.asarray(k, dtype=float), np.asarray(lumens, dtype=float))
    n = kd.size
    bd = beam.value(sampling.standard_normal(seed, owner, beam.name, n)) if isinstance(beam, Belief) else beam
    bd = np.asarray(bd, dtype=float)
    if kd.ndim != 1 or bd.shape != kd.shape or ratio.shape != kd.shape:
        raise InputError("the factors do not come from the same draws", expected="one value of each a draw")
    if n < FEWEST_DRAWS:
        told = f"{n} draws are too few to tell lens, lumens and beam apart"
        raise InputError(told, key="draws", expected=f"{FEWEST_DRAWS} or more", remedy="ask for more draws")
    if any(np.any(~(v > 0)) for v in (kd, ld, bd)):
        raise InputError("a factor is not positive in some draw", expected="ratios above zero")
    product = sampling.interval_by_order(ratio)
    logs = np.log(np.stack([kd, ld, bd]))
    middles = np.median(logs, axis=1)
    before = np.exp(sampling.interval(logs))
    spread = _spread(product)
    off = float(np.log(product[1]) - middles.sum()) if product[1] > 0 else -np.inf
    strain = float(abs(off) / np.hypot(spread, logs.sum(axis=0).std()))
    widening = _widening(logs, off, spread)
    if not spread < logs.sum(axis=0).std():
        outcome = SplitOutcome.TOO_UNCERTAIN
    elif widening > MOST_WIDENED:
        outcome = SplitOutcome.OUTSIDE
    else:
        outcome = SplitOutcome.WIDENED if widening > 1.0 else SplitOutcome.AS_ASSUMED
    if outcome in (SplitOutcome.TOO_UNCERTAIN, SplitOutcome.OUTSIDE):
        nothing = np.full_like(logs, np.nan)
        return Blame(outcome, product, before, nothing[:, :3], nothing, strain, widening, claimed)
    wide = middles[:, np.newaxis] + np.array([[1.0], [widening], [widening]]) * (logs - middles[:, np.newaxis])
    covariance = np.cov(wide)
    share = covariance.sum(axis=1) / covariance.sum()
    # A few draws in which one lamp cannot be told from the background would have no logarithm.
    told = ratio[np.isfinite(ratio) & (ratio > 0)]
    moved = np.log(np.clip(ratio, told.min(), told.max())) - wide.sum(axis=0)
    draws = np.exp(wide + share[:, np.newaxis] * moved)
    return Blame(outcome, product, before, sampling.interval(draws), draws, strain, widening, claimed)


def _spread(limits: NDArray[np.float64]) -> float:
    """Standard deviation of the logarithm of a ratio, from its interval."""
    if not (np.isfinite(limits[2]) and limits[0] > 0):
        return np.inf
    return float(np.log(limits[2] / limits[0]) / (2.0 * budget.K_95))


def _widening(logs: NDArray[np.float64], off: float, spread: float) -> float:
    """How many times wider lumens and beam must be for a reading to be no further out than STRAINED."""
    rest = logs[1:].sum(axis=0)
    fixed, crossed, scaled = logs[0].var(), np.cov(logs[0], rest)[0, 1], rest.var()
    wanted = (off / STRAINED) ** 2 - spread**2
    if not wanted > fixed + 2.0 * crossed + scaled:
        return 1.0
    if not (np.isfinite(wanted) and scaled > 0):
        return np.inf
    return float((np.sqrt(crossed**2 + scaled * (wanted - fixed)) - crossed) / scaled)


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
