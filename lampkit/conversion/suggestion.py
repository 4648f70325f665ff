"""What to do with one lamp: which light source to fit, how sure that is, or that the filament stays."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from lampkit.conversion.assessment import Assessment, Ground, Result, is_tell_tale
from lampkit.light import colorimetry
from lampkit.rules import colours
from lampkit.sources.light_source import Claim, SourceKind
from lampkit.statements import Statement, say

SURE, LIKELY = 0.90, 0.50
"""Chance from which a light source is suggested without more ado, and below which the filament stays [1]."""

CLEARLY = 0.25
"""By how much its chance must be less before a source that has the lamp's own colour gives way to one that gets its
colour from the lens [1]. Source: an assumption; a lens fades, and may be replaced by a clear one."""

TELL_TALE_AIM, TELL_TALE_MOST = 1.2, 1.5
"""Times the filament's light that a tell-tale should have at most, and beyond which it is doubted, as it dazzles at
night [1]. Source: an assumption."""

DEEP_BLUE = 480.0
"""Dominant wavelength below which a light source is deep blue, which the eye at night sees many times brighter than its
lumens say [nm]. Source: CIE 191:2010 for the kind of effect, S/P far above two; the limit is an assumption."""


class Verdict(Enum):
    """What to do with one lamp."""

    FIT = "fit"
    FIT_THEN_MEASURE = "fit_then_measure"
    KEEP = "keep"


@dataclass(frozen=True, eq=False)
class Suggestion:
    """What to do with one lamp, and how sure that is.

    Parameters
    ----------
    verdict : Verdict
        Fit it, fit it and measure, or keep the filament.
    result : Result or None
        The best light source on offer; None where none is fit to be suggested.
    chance : float [1]
        Probability that it gives at least the filament's light, with its colour inside the limit where there is one.
    statement : Statement
        The same with its numbers.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=200)
    >>> found = lk.conversion.suggest(job)
    >>> found.result is job.results[0]
    True
    """

    verdict: Verdict
    result: Result | None
    chance: float
    statement: Statement


def suggest(assessment: Assessment) -> Suggestion:
    """Choose among the candidates of one lamp.

    A candidate is passed over when its typical colour is outside the limit, or when its claim is impossible. Of those
    left, the one with the greatest chance wins; between equal chances, to a percent, the one that gives less light,
    because more than is needed dazzles. A source that has the lamp's own colour before the lens wins over one that gets
    its colour from the lens, unless its chance is clearly less. A tell-tale is to give half of the filament's light to
    1.2 times it, is doubted above one and a half, and is no deep blue where another fits.

    Parameters
    ----------
    assessment : Assessment
        The lamp.

    Returns
    -------
    Suggestion
        The choice.

    Examples
    --------
    A white LED of too little light behind a red lens leaves the filament in its place.

    >>> import lampkit as lk
    >>> old, white = lk.sources.filament("P21W"), lk.sources.white_led(cct=6000, luminous_flux=80)
    >>> job = lk.conversion.assess(old, [white], lk.lenses.load("red"), function="stop", draws=200)
    >>> lk.conversion.suggest(job).verdict
    <Verdict.KEEP: 'keep'>
    """
    if not assessment.results:
        return Suggestion(Verdict.KEEP, None, 0.0, say("suggestion.nothing"))
    limit = assessment.colour_limit
    possible = [r for r in assessment.results if r.claim is not Claim.IMPOSSIBLE]
    inside = [r for r in possible if limit is None or bool(colours.inside(r.other_limit or limit, r.chromaticity))]
    if not inside:
        if limit is None or not possible:
            return Suggestion(Verdict.KEEP, None, 0.0, say("suggestion.no_claim"))
        return Suggestion(Verdict.KEEP, None, 0.0, say("suggestion.no_colour", limit=limit.name))
    if is_tell_tale(assessment.function):
        chosen = best_tell_tale(inside)
    else:
        chosen = _for_the_road(assessment, inside)
    found = suggest_fitting(assessment, chosen)
    passed_over = [r.source.name for r in assessment.results if r not in possible]
    if passed_over:
        found = replace(found, statement=say("suggestion.passed_over", rest=found.statement, names=passed_over))
    return found


def _for_the_road(assessment: Assessment, inside: Sequence[Result]) -> Result:
    best = max(round(r.chance, 2) for r in inside)
    own = [r for r in inside if has_own_colour(assessment, r) and r.chance >= max(LIKELY, best - CLEARLY)]
    best = max((round(r.chance, 2) for r in own), default=best)
    # Where all are sure the dimmest is enough; where none has a chance the brightest comes nearest.
    equal = sorted((r for r in own or inside if round(r.chance, 2) == best), key=lambda r: float(r.ratio[1]))
    return equal[0] if best > 0 else equal[-1]


def best_tell_tale(inside: Sequence[Result]) -> Result:
    """Choose for a tell-tale: no deep blue where another fits, and the light nearest to what is aimed at.

    Source: TELL_TALE_AIM and DEEP_BLUE.
    """
    likely = [r for r in inside if r.chance >= LIKELY] or list(inside)
    plain = [r for r in likely if not _is_deep_blue(r)] or likely
    best = max(r.chance for r in plain)
    near = [r for r in plain if r.chance >= best - 0.1]
    return min(near, key=lambda r: (max(float(r.ratio[1]) - TELL_TALE_AIM, 0.0), -r.chance))


def has_own_colour(assessment: Assessment, result: Result) -> bool:
    """Tell whether a source is inside the colour limit before the lens, by a colour of its own.

    Source: the colour limit of the lamp.
    """
    limit = assessment.colour_limit
    if limit is None or assessment.lens.colour == "clear" or result.source.kind is not SourceKind.COLOURED_LED:
        return False
    return bool(colours.inside(limit, colorimetry.chromaticity(result.source.spectrum)))


def _is_deep_blue(result: Result) -> bool:
    if result.source.kind is not SourceKind.COLOURED_LED:
        return False
    bare = colorimetry.chromaticity(result.source.spectrum)
    return float(colorimetry.dominant_wavelength(bare).wavelength) < DEEP_BLUE


def suggest_fitting(assessment: Assessment, result: Result) -> Suggestion:
    """Say of one candidate whether to fit it."""
    # To a percent, as it is written: 90 % is what 90 % asks for.
    chance = round(result.chance, 2)
    name, ratio, limit = result.source.name, result.ratio.tolist(), result.other_limit or assessment.colour_limit
    colour = None if limit is None or not np.isfinite(result.share_inside) else result.share_inside
    tell_tale = is_tell_tale(assessment.function)
    likely = say(
        "suggestion.likely",
        light=chance if tell_tale else result.probability,
        colour=colour,
        limit=None if limit is None else limit.name,
        tell_tale=tell_tale,
    )
    if tell_tale and chance >= LIKELY and result.ratio[1] > TELL_TALE_MOST:
        bright = say("suggestion.bright_tell_tale", name=name, ratio=ratio, lumens=_aimed_at(result))
        return Suggestion(Verdict.FIT_THEN_MEASURE, result, result.chance, bright)
    if chance >= SURE:
        return Suggestion(
            Verdict.FIT, result, result.chance, say("suggestion.fit", name=name, ratio=ratio, likely=likely)
        )
    if chance >= LIKELY and result.ground is Ground.READ and (colour is None or colour >= SURE):
        read = say("suggestion.fit_as_read", name=name, ratio=ratio, likely=likely)
        return Suggestion(Verdict.FIT, result, result.chance, read)
    if chance >= LIKELY:
        # A reading in lux settles the light and never the colour.
        look = colour is not None and colour < SURE and colour < result.probability
        measure = result.ground is not Ground.READ and (not look or result.probability < SURE)
        unsure = say("suggestion.fit_then_check", name=name, ratio=ratio, likely=likely, look=look, measure=measure)
        return Suggestion(Verdict.FIT_THEN_MEASURE, result, result.chance, unsure)
    more = np.isfinite(result.lumens_to_buy) and result.lumens_to_buy > result.source.luminous_flux
    lumens = result.lumens_to_buy if more else None
    keep = say("suggestion.keep", name=name, ratio=ratio, likely=likely, lumens=lumens)
    return Suggestion(Verdict.KEEP, result, result.chance, keep)


def _aimed_at(result: Result) -> float:
    """Lumens on the box at which a light source gives a tell-tale the most that is aimed at."""
    return TELL_TALE_AIM * result.source.luminous_flux / float(result.ratio[1])
