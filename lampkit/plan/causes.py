"""What makes the ratio of a light source to the filament uncertain, cause by cause, and what to measure first."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit.conversion import answer as one_answer
from lampkit.conversion.answer import Answer
from lampkit.conversion.assessment import Assessment, Result
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import transmittances
from lampkit.light import photometry
from lampkit.plan import socket_voltages
from lampkit.rules import functions
from lampkit.sources import heat, light_source
from lampkit.sources.light_source import BLACKENING, TRUE_OVER_CLAIMED, LightSource
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import sampling
from lampkit.vehicle.one_lamp import OneLamp

if TYPE_CHECKING:
    from lampkit.plan.plan import Plan

READING_SPREAD = 0.10
"""What a reading of both lamps in one place leaves, as the standard deviation of the logarithm of the ratio [1].
Source: own calculation, a phone behind a red lens; a lux meter leaves half of it."""

LENS_LEFT, SPECTRUM_LEFT = 0.3, 0.1
"""Share of its variance that reading a lens fitted and removed leaves, and a measured spectrum [1]. Source: an
assumption; the study of lens identification leaves less behind red."""


class SpreadCause(Enum):
    """What the doubt about a ratio comes from."""

    CLAIM = "claim"
    HEAT = "heat"
    EMITTER = "emitter"
    LENS = "lens"
    OLD_LUMENS = "old_lumens"
    OLD_TEMPERATURE = "old_temperature"


class Measure(Enum):
    """What can be measured, and makes the ratio surer."""

    READ_BOTH = "read_both"
    READ_LENS = "read_lens"
    SPECTRUM = "spectrum"


@dataclass(frozen=True, eq=False)
class Causes:
    """The doubt about one ratio: its spread as a logarithm, the share of each cause, and what to measure."""

    lamp: str
    source: str
    spread: float
    shares: Mapping[SpreadCause, float]
    best: Measure
    left: float

    @property
    def sentence(self) -> Statement:
        """The causes in the order of their share, and what to measure."""
        order = sorted(self.shares, key=lambda cause: -self.shares[cause])
        parts = [say("causes.share", cause=named(c), share=self.shares[c]) for c in order if self.shares[c] >= 0.01]
        return say(
            "causes.ratio",
            lamp=self.lamp,
            source=self.source,
            spread=self.spread,
            parts=parts,
            measure=named(self.best),
            left=self.left,
        )


def variance_by_cause(assessment: Assessment, result: Result, *, draws: int = 600, seed: int = 1) -> Causes:
    """Split the doubt about the ratio of one light source by what it comes from, one cause free at a time.

    Source: JCGM 101:2008, B: one input at a time, the others at their typical values.
    """
    if result is assessment.old:
        raise InputError("the filament has no ratio to itself", key=assessment.name)
    new, old, lens = result.source, assessment.old.source, assessment.lens
    flashes = assessment.function is not None and functions.function(assessment.function).flashes
    duty = heat.FLASHING if flashes else 1.0
    drawn = sampling.draw({s.name: s.beliefs for s in (new, old)} | {lens.name: lens.beliefs}, draws, seed)
    light = {TRUE_OVER_CLAIMED, BLACKENING}
    hot = {heat.HOT_OVER_COLD, heat.DRIFT}
    every = {b.name for b in (*new.beliefs, *old.beliefs, *lens.beliefs)}
    free = {
        SpreadCause.CLAIM: (new.name, {TRUE_OVER_CLAIMED}),
        SpreadCause.HEAT: (new.name, hot),
        SpreadCause.EMITTER: (new.name, every - hot - light),
        SpreadCause.LENS: (lens.name, every),
        SpreadCause.OLD_LUMENS: (old.name, light),
        SpreadCause.OLD_TEMPERATURE: (old.name, every - light),
    }

    def spread(freed: list[tuple[str, set[str]]]) -> float:
        def values(owner: str, beliefs: tuple[sampling.Belief, ...]) -> dict[str, NDArray[np.float64]]:
            names = {name for who, found in freed if who == owner for name in found}
            own = drawn.of(owner) if beliefs else {}
            return {b.name: own[b.name] if b.name in names else np.full(draws, b.typical) for b in beliefs}

        through = transmittances(lens, values(lens.name, lens.beliefs))

        def behind(source: LightSource) -> NDArray[np.float64]:
            its = values(source.name, source.beliefs)
            tau = photometry.luminous_transmittance(through, light_source.relative_spectra(source, its, duty=duty))
            return np.asarray(light_source.true_flux(source, its, duty=duty) * tau)

        return float(np.std(np.log(behind(new) / behind(old))))

    alone = {cause: spread([given]) ** 2 for cause, given in free.items()}
    total = sum(alone.values()) or 1.0
    left = {
        Measure.READ_BOTH: READING_SPREAD**2,
        Measure.READ_LENS: total - (1.0 - LENS_LEFT) * alone[SpreadCause.LENS],
        Measure.SPECTRUM: total - (1.0 - SPECTRUM_LEFT) * alone[SpreadCause.EMITTER],
    }
    best = min(left, key=lambda measure: left[measure])
    return Causes(
        lamp=assessment.name,
        source=new.name,
        spread=spread(list(free.values())),
        shares={cause: variance / total for cause, variance in alone.items()},
        best=best,
        left=float(np.sqrt(left[best])),
    )


def causes_of_plan(made: "Plan") -> tuple[Causes, ...]:
    """Split the doubt about what is fitted in each lamp, or else about the best on offer; lamps alike come once."""
    decided = ((group.assessment, made.decision(group.lamps[0].name).result) for group in made.alike)
    return tuple(
        variance_by_cause(assessment, result, seed=made.seed) for assessment, result in decided if result is not None
    )


# --- one lamp by itself: its answer, and what that is uncertain from ------------------------------------------------


@dataclass(frozen=True, eq=False)
class Answered:
    """One lamp as it was told, with what it gives, the answer, and what the answer is uncertain from."""

    asked: OneLamp
    assessment: Assessment
    answer: Answer
    doubt: Causes | None


def answered(asked: OneLamp, draws: int, seed: int) -> Answered:
    """Work one lamp out as it was told.

    Source: as for `conversion.assess`.
    """
    made = socket_voltages.assess_at_socket(asked.vehicle, asked.lamp, draws, seed)
    wishes = asked.vehicle.asked
    found = one_answer.answer(made, assurance=wishes.assurance, colour_share=wishes.colour_share)
    best = found.result or found.nearest
    doubt = None if best is None else variance_by_cause(made, best, seed=seed)
    return Answered(asked, made, found, doubt)
