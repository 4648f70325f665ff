"""The answer for one lamp: one sentence, what to look for where nothing will do, and a table that a terminal holds."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lampkit import numbers
from lampkit.conversion import suggestion
from lampkit.conversion import wanted as what_is_wanted
from lampkit.conversion.assessment import ASSURANCE, Assessment, Ground, Result, is_tell_tale
from lampkit.conversion.wanted import Wanted
from lampkit.rules import colours
from lampkit.sources.light_source import Claim
from lampkit.statements import Statement, named, say

COLUMNS = 80
"""Letters in a line [1]. Source: what a terminal holds when it is opened."""

COLOUR_SHARE = 0.90
"""Wanted share of lenses and emitters with the colour inside its limit [1]."""


@dataclass(frozen=True, eq=False)
class Answer:
    """What to do with one lamp: the light source to fit or else to look for, and the same in one sentence or two."""

    result: Result | None
    nearest: Result | None
    wanted: Wanted | None
    sentence: Statement


def will_do(
    result: Result, assessment: Assessment, assurance: float = ASSURANCE, colour_share: float = COLOUR_SHARE
) -> bool:
    """Tell whether a light source is as bright and as sure of its colour as is asked for, to a percent as written."""
    able = _bright(result, assessment, assurance) and _right(result, colour_share)
    return result.claim is not Claim.IMPOSSIBLE and able


def _bright(result: Result, assessment: Assessment, assurance: float) -> bool:
    light = result.chance if is_tell_tale(assessment.function) else result.probability
    return round(100 * light) >= round(100 * assurance)


def _right(result: Result, colour_share: float) -> bool:
    return bool(np.isnan(result.share_inside)) or round(100 * result.share_inside) >= round(100 * colour_share)


def answer(assessment: Assessment, *, assurance: float = ASSURANCE, colour_share: float = COLOUR_SHARE) -> Answer:
    """Answer for one lamp what to fit, or else what comes nearest and what to look for.

    Source: as for `assess`.
    """
    able = [r for r in assessment.results if will_do(r, assessment, assurance, colour_share)]
    if able:
        first = suggestion.suggest(assessment).result
        chosen = first if first in able else max(able, key=lambda r: r.chance)
        return Answer(chosen, chosen, None, suggestion.suggest_fitting(assessment, chosen).statement)
    function, rules, lens = assessment.function, assessment.rules, assessment.lens
    shown = what_is_wanted.accepted(function, rules, lens.colour)
    if not shown:
        assert function is not None and rules is not None, "without either every colour may be shown"
        asked = list(colours.required_colour(function, rules).colours)
        return Answer(None, None, None, say("answer.other_lens", lens=lens.colour, function=function, colours=asked))
    needed = what_is_wanted.wanted(assessment, shown[0], assurance, colour_share)
    buy = say("answer.buy", kind=what_is_wanted.kind_words(needed, like=False), lumens=needed.lumens)
    nearest = max(assessment.results, key=lambda r: _nearness(r, colour_share), default=None)
    return Answer(None, nearest, needed, say("answer.none", why=_why(assessment, assurance, colour_share), buy=buy))


def _nearness(result: Result, colour_share: float) -> tuple[bool, float, bool, float]:
    right = not result.share_inside < colour_share  # one without a limit is right
    return result.claim is not Claim.IMPOSSIBLE, round(result.chance, 2), right, float(result.ratio[1])


def _why(assessment: Assessment, assurance: float, colour_share: float) -> Statement:
    """Say what all on offer lack: light, a colour, or one the one and one the other."""
    results, limit = assessment.results, assessment.colour_limit
    if not results:
        return say("answer.nothing")
    number = len(results)
    half = is_tell_tale(assessment.function)
    wrong = [r for r in results if not _right(r, colour_share)]
    weak = [r for r in results if not _bright(r, assessment, assurance)]
    name = None if limit is None else limit.name
    asked = {"number": number, "assurance": assurance, "half": half, "limit": name, "share": colour_share}
    if len(weak) == number or not wrong:
        return say("answer.too_weak" if weak else "answer.no_claim", **asked)
    return say("answer.wrong_colour" if len(wrong) == number else "answer.not_both", **asked)


LITTLE = 0.01
"""Times the filament's light below which nothing more is told [1]. Source: own choice."""

WIDTHS = 21, 9, 8, 20, 11, 11
"""Letters of each column [1]."""


def table_lines(assessment: Assessment) -> list[str]:
    """Write the filament and every light source on offer as lines that a terminal holds."""
    headings = (
        say("answer.heading.source"),
        say("answer.heading.box"),
        say("answer.heading.passes"),
        say("answer.heading.times"),
        say("answer.heading.sure"),
        say("answer.heading.inside"),
    )
    lines = [_line([str(heading) for heading in headings]), "-" * COLUMNS]
    for result in (assessment.old, *assessment.results):
        old = result is assessment.old
        light = result.chance if is_tell_tale(assessment.function) else result.probability
        about = "" if result.source.claimed else "~"
        cells = [
            result.source.name,
            f"{about}{numbers.fixed(result.source.luminous_flux)}",
            numbers.percent(float(result.luminous_transmittance[1])),
            "1" if old else _times(result),
            "" if old else how_sure(result, light),
            "" if np.isnan(result.share_inside) else numbers.chance(result.share_inside),
        ]
        name, *more = numbers.wrap(cells[0], WIDTHS[0] - 1) or [""]
        lines += [_line([name, *cells[1:]]), *(f"  {rest}" for rest in more)]
    return lines


def how_sure(result: Result, chance: float) -> str:
    """Write a chance; where it would follow from a claim that is impossible, and nothing was read, write that."""
    made_up = result.claim is Claim.IMPOSSIBLE and result.ground is Ground.PREDICTED
    return str(named(result.claim)) if made_up else numbers.chance(chance)


def _times(result: Result) -> str:
    return numbers.interval(result.ratio) if result.ratio[2] >= LITTLE else str(say("answer.little", most=LITTLE))


def _line(cells: Sequence[str]) -> str:
    first, *others = cells
    padded = [f"{cell:>{width}}" for cell, width in zip(others, WIDTHS[1:], strict=True)]
    return f"{first:<{WIDTHS[0]}}{''.join(padded)}".rstrip()


def text(assessment: Assessment, found: Answer | None = None) -> str:
    """Write the sentence and the table.

    Source: wording of the house.
    """
    told = found or answer(assessment)
    return "\n".join([*numbers.wrap(told.sentence, COLUMNS), "", *table_lines(assessment)])
