"""What to fit in one lamp: the candidate that most surely gives the filament's light in a colour inside the limit."""

from dataclasses import dataclass

import numpy as np

from lampkit import signals, uncertainty
from lampkit.conversion import Assessment, Result, figure, with_interval

SURE = 0.90
"""Chance from which a light source is suggested without more ado [1]. Source: the kit's own convention."""

LIKELY = 0.50
"""Chance below which the filament stays [1]. Source: the kit's own convention."""


@dataclass(frozen=True, eq=False)
class Suggestion:
    """What to do with one lamp, and how sure that is.

    Parameters
    ----------
    result : Result or None
        The best light source on offer; None where none is fit to be suggested.
    chance : float [1]
        Probability that it gives at least the filament's light, with its colour inside the limit where there is one.
    verdict : str
        'fit', 'fit, then measure' or 'keep the filament'.
    sentence : str
        The same in a sentence, with the numbers.

    Source: the kit's own convention.
    """

    result: Result | None
    chance: float
    verdict: str
    sentence: str


def chance(assessment: Assessment, result: Result) -> float:
    """Give the probability of at least the filament's light and of a colour inside the limit, both at once.

    Parameters
    ----------
    assessment : Assessment
        The lamp.
    result : Result
        One of its candidates.

    Returns
    -------
    float
        The probability [1]; of the light alone where no colour limit applies.

    Source: JCGM 101:2008, 7.
    """
    good = result.draws["ratio"] >= 1.0
    if assessment.colour_limit is not None:
        xy = np.stack([result.draws["x"], result.draws["y"]], axis=-1)
        good = good & signals.inside(assessment.colour_limit, xy)
    return float(uncertainty.share(good, assessment.garage.weights))


def suggest(assessment: Assessment) -> Suggestion:
    """Choose among the candidates of one lamp.

    A candidate is passed over when its typical colour is outside the limit, or when its claim is impossible. Of those
    left, the one with the greatest chance wins; between equal chances, to a percent, the one that gives less light,
    because more than is needed dazzles.

    Parameters
    ----------
    assessment : Assessment
        The lamp.

    Returns
    -------
    Suggestion
        The choice.

    Source: the kit's own convention.
    """
    if not assessment.results:
        return Suggestion(None, 0.0, "keep the filament", "Keep the filament: nothing is on offer for this lamp.")
    limit = assessment.colour_limit
    possible = [r for r in assessment.results if r.claim_verdict != "impossible"]
    inside = [r for r in possible if limit is None or bool(signals.inside(limit, r.chromaticity))]
    if not inside:
        wrong = (
            f"has a colour inside {limit.name}" if limit is not None and possible else "has a claim that is possible"
        )
        return Suggestion(None, 0.0, "keep the filament", f"Keep the filament: nothing on offer {wrong}.")
    chances = [round(chance(assessment, r), 2) for r in inside]
    best = max(chances)
    # Where all are sure the dimmest is enough; where none has a chance the brightest comes nearest.
    equal = sorted((r for r, c in zip(inside, chances, strict=True) if c == best), key=lambda r: float(r.ratio[1]))
    result = equal[0] if best > 0 else equal[-1]
    verdict, sentence = in_words(assessment, result, best)
    passed_over = [r.source.name for r in assessment.results if r not in possible]
    if passed_over:
        sentence += f" Passed over, for a claim that is impossible: {', '.join(passed_over)}."
    return Suggestion(result, best, verdict, sentence)


def in_words(assessment: Assessment, result: Result, probability: float) -> tuple[str, str]:
    """Say what to do with a candidate of which it is known how sure it is.

    Parameters
    ----------
    assessment : Assessment
        The lamp.
    result : Result
        The candidate.
    probability : float [1]
        Its chance of at least the filament's light in a colour inside the limit.

    Returns
    -------
    tuple of str
        The verdict, and the sentence.

    Source: the kit's own wording.
    """
    name, limit = result.source.name, assessment.colour_limit
    light = f"{with_interval(result.ratio)} times the filament's light"
    wanted = "at least the filament's light"
    if limit is not None:
        wanted += f" in a colour inside {limit.name}"
    chances = f"the chance of {wanted} is {odds(probability)}"
    if probability >= SURE:
        return "fit", f"Fit {name}: {light}; {chances}."
    if probability >= LIKELY:
        return "fit, then measure", f"Fit {name}, then measure: the best on offer with {light}, but {chances}."
    sentence = f"Keep the filament: the best on offer, {name}, gives {light}, and {chances}."
    if np.isfinite(result.lumens_to_buy) and result.lumens_to_buy > result.source.luminous_flux:
        sentence += f" Look for one of its kind with at least {figure(result.lumens_to_buy)} lm on the box."
    return "keep the filament", sentence


def odds(probability: float) -> str:
    """Write a chance as percent, without claiming that anything is certain.

    Parameters
    ----------
    probability : float [1]
        The chance.

    Returns
    -------
    str
        For example '84 %', 'above 99 %', 'below 1 %'.

    Source: the kit's own convention.
    """
    if probability < 0.01:
        return "below 1 %"
    return "above 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"
