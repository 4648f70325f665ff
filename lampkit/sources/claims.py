"""The lumens that a light source is sold with, against the watts that it takes."""

from collections.abc import Iterable
from dataclasses import replace
from enum import Enum

import numpy as np

from lampkit.light import photometry
from lampkit.sources import heat
from lampkit.sources.light_source import TRUE_OVER_CLAIMED, LightSource, SourceKind
from lampkit.statements import Statement, say
from lampkit.uncertainty.sampling import Belief

BELIEVABLE_POWER_SHARE = 0.6
"""Radiated over electrical power above which a claim for a small LED light source is doubted [1].
Source: an assumption; laboratory emitters reach more, a small light source in a closed lamp does not."""


RADIATED_SHARE, RADIATED_SPREAD = 0.28, 0.35
"""Radiated over electrical power of an LED light source, and the standard deviation of its logarithm [1]: half to twice
in 95 of 100 cases. Source: an assumption; the electronics of a small light source waste about a fifth."""

SHARE_OF_MOST, UNTOLD_SPREAD = 0.3, 0.6
"""Watts over the most that the base sheds where nobody tells them, and the standard deviation of their logarithm [1].
Source: an assumption; a cluster of 24 emitters of 20 mA and 2.1 V takes 1 W, good ones of one base take five times."""

UNTOLD_POWER = 1.5
"""Watts of a light source of which neither watts nor base are told [W]. Source: an assumption."""

DIM_SHARE = 0.15
"""Watts of a dim level over those of its bright one where nobody tells them [1]. Source: an assumption; two filaments
of 21 W and 5 W differ by about as much in light."""


class Claim(Enum):
    """What the claimed lumens mean against the electrical watts."""

    UNCHECKED = "unchecked"
    BELIEVED = "believed"
    TOO_WARM = "too_warm"
    NOT_BELIEVABLE = "not_believable"
    IMPOSSIBLE = "impossible"


DOUBTED = Claim.TOO_WARM, Claim.NOT_BELIEVABLE, Claim.IMPOSSIBLE
"""Claims of which a page must speak."""


def check(source: LightSource) -> tuple[Claim, Statement | None]:
    """Hold claimed lumens against the efficacy of radiation of the spectrum, and watts against what the base sheds."""
    if source.kind is SourceKind.FILAMENT or not source.electrical_power or not source.claimed:
        return Claim.UNCHECKED, None
    lumens, watts = source.luminous_flux, source.electrical_power
    efficacy, radiation = lumens / watts, float(photometry.efficacy_of_radiation(source.spectrum))
    share = efficacy / radiation
    stated = say("claim.stated", lumens=lumens, watts=watts, efficacy=efficacy, radiation=radiation)
    if share > 1.0:
        return Claim.IMPOSSIBLE, say("claim.impossible", stated=stated, most=radiation * watts)
    if share > BELIEVABLE_POWER_SHARE:
        return Claim.NOT_BELIEVABLE, say("claim.not_believable", stated=stated, share=share)
    most = heat.shedding(source.base).most_power
    if most is not None and watts > most:
        return Claim.TOO_WARM, say("claim.too_warm", watts=watts, base=source.base, most=most)
    return Claim.BELIEVED, say("claim.believed", stated=stated, share=share)


def usual_power(source: LightSource, *, dim: bool = False) -> float:
    """Give the watts that a light source usually takes of which nobody tells them: by its lumens, or else by its base.

    Source: RADIATED_SHARE of the watts by the efficacy of radiation of its spectrum, or what the base sheds.
    """
    if source.claimed:
        return source.luminous_flux / (RADIATED_SHARE * float(photometry.efficacy_of_radiation(source.spectrum)))
    most = heat.shedding(source.base).most_power
    return (SHARE_OF_MOST * most if most else UNTOLD_POWER) * (DIM_SHARE if dim else 1.0)


def no_lumens(sources: Iterable[LightSource]) -> Statement:
    """Say of light sources without a claim what was taken in its place, and from what it follows."""
    by_watts, by_base = (
        [
            say("notes.lumens_of", name=source.name, lumens=source.luminous_flux)
            for source in sources
            if bool(source.electrical_power) is told
        ]
        for told in (True, False)
    )
    return say("notes.no_lumens", by_watts=by_watts, by_base=by_base)


def unclaimed(source: LightSource, *, dim: bool = False) -> LightSource:
    """Give a light source of which nobody tells the lumens those that its watts lead to expect, widely spread.

    Source: RADIATED_SHARE of the watts, told or as the base sheds them, by the efficacy of radiation of its spectrum.
    """
    told = source.electrical_power
    watts = told or usual_power(replace(source, claimed=False), dim=dim)
    spread = RADIATED_SPREAD if told else float(np.hypot(RADIATED_SPREAD, UNTOLD_SPREAD))
    lumens = float(f"{RADIATED_SHARE * watts * float(photometry.efficacy_of_radiation(source.spectrum)):.2g}")
    ground = f"nobody tells the lumens: {lumens:g} lm follow from {'its' if told else 'usual'} watts, an assumption"
    belief = Belief(TRUE_OVER_CLAIMED, 1.0, spread, "1", ground, "lognormal")
    return replace(
        source,
        luminous_flux=lumens,
        spectrum=source.spectrum * (lumens / source.luminous_flux),
        beliefs=tuple(belief if old.name == TRUE_OVER_CLAIMED else old for old in source.beliefs),
        claimed=False,
    )
