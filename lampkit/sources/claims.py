"""The lumens that a light source is sold with, against the watts that it takes."""

from enum import Enum

from lampkit.light import photometry
from lampkit.sources import heat
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say

BELIEVABLE_POWER_SHARE = 0.6
"""Radiated over electrical power above which a claim for a small LED light source is doubted [1].
Source: an assumption; laboratory emitters reach more, a small light source in a closed lamp does not."""


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
    if source.kind is SourceKind.FILAMENT or not source.electrical_power:
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
