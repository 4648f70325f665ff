"""What light source a lamp would need where none on offer will do: over all kinds and colours that it may show."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lampkit.conversion import assessment as one_lamp
from lampkit.conversion.assessment import Assessment, Result
from lampkit.conversion.suggestion import has_own_colour
from lampkit.rules import colours
from lampkit.sources import leds
from lampkit.sources.light_source import Claim, LightSource, SourceKind
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling

WHITES = (4000, 2900, 6000)
"""Correlated colour temperatures of the white LEDs that are looked for, the usual one first [K]. Source: own choice."""

USUAL_EFFICACY = 90.0
"""Claimed lumens for each watt of an LED that is looked for, by which it gets warm [lm/W]. Source: own judgement."""

PEAK_STEPS = range(-6, 7)
"""Steps round the usual peak of a colour in which a better one is sought [nm]. Source: own choice."""

SWEEP_DRAWS = 400
"""Draws with which kinds and peaks are compared [1]. Source: own choice."""

NEARLY = 1.25
"""Times the fewest lumens up to which what is on offer already, or plainly has the colour, is named all the same [1].
Source: own judgement."""


@dataclass(frozen=True)
class Wanted:
    """The light source that a lamp would need.

    Lumens as claimed, its kind by the name of a colour, a white's colour temperature, what on offer is like it, the
    peak where only one that is stated will do, and what one of its kind gives in the lamp.
    """

    lumens: float
    colour: str
    cct: int | None
    like: LightSource | None
    peak: float | None
    result: Result


def accepted(function: str | None, rules: str | None, lens_colour: str) -> tuple[str, ...]:
    """List the colours of light that a lamp may show through its own lens, the usual one first; none for no such."""
    own = colours.standard_colour(lens_colour)
    wanted = () if function is None or rules is None else colours.required_colour(function, rules).colours
    if not wanted:
        return (own,)
    if colours.limit_for(function, rules, lens_colour) is None:
        return wanted[:1]  # what the lens makes of the usual light is accepted, and bounded by nothing that is held
    if own == "white":
        # A filament lamp shows white through a clear lens already.
        return tuple(sorted(wanted, key=lambda colour: colour != own))
    return tuple(colour for colour in wanted if colour == own)


def wanted(assessment: Assessment, colour: str, assurance: float, colour_share: float) -> Wanted:
    """Find the light source to ask for, over all that are on offer and all kinds of LED that show a colour.

    Source: the lumens as `assess` predicts them, at the voltage of the filament.
    """
    on_offer = [
        (claim_needed(result, assessment, assurance), result)
        for result in assessment.results
        if result.claim not in (Claim.IMPOSSIBLE, Claim.NOT_BELIEVABLE)
        and _will_do(result, assessment, colour, colour_share)
    ]
    like = min(on_offer, key=lambda pair: pair[0], default=None)
    kinds = _kinds(assessment, colour)
    swept = _tried(assessment, [made for _, _, made in kinds], SWEEP_DRAWS)
    able = [
        (claim_needed(result, swept, assurance), place)
        for place, result in enumerate(swept.results)
        if _will_do(result, swept, colour, colour_share)
    ]
    own = [(lumens, place) for lumens, place in able if _own_or_clear(swept.results[place], swept)] or able
    least = min((lumens for lumens, _ in own), default=float("inf"))
    if like is not None and like[0] <= NEARLY * least:
        source = like[1].source
        return Wanted(like[0], _kind_of(source, colour), None, source, None, like[1])
    if own:
        place = next(place for lumens, place in own if lumens <= NEARLY * least)
        name, cct, made = kinds[place]
        return _of_kind(assessment, made, assurance, name, cct)
    return _with_peak(assessment, colour, assurance)


def warm_white(assessment: Assessment, assurance: float) -> Wanted:
    """Find the warm white LED to ask for, which comes nearest to a filament behind any lens.

    Source: the lumens as `assess` predicts them, at the voltage of the filament.
    """
    return _of_kind(assessment, _led(assessment, "white", min(WHITES)), assurance, "white", min(WHITES))


def _of_kind(
    assessment: Assessment, made: LightSource, assurance: float, colour: str, cct: int | None, peak: float | None = None
) -> Wanted:
    """Ask for as many lumens of a kind of LED as give the filament's light."""
    found = _tried(assessment, [made])
    result = found.results[0]
    return Wanted(claim_needed(result, found, assurance), colour, cct, None, peak, result)


def _with_peak(assessment: Assessment, colour: str, assurance: float) -> Wanted:
    """Ask for a peak that is stated, which is surer than the name of a colour."""
    if colour not in leds.families():
        return _of_kind(assessment, _led(assessment, "white", WHITES[0]), assurance, "white", WHITES[0])
    typical = round(leds.families()[colour]["peak_nm"])
    peaks = [float(typical + step) for step in PEAK_STEPS]
    tried = _tried(assessment, [_led(assessment, colour, peak=peak) for peak in peaks], SWEEP_DRAWS)
    peak = peaks[int(np.argmax([result.share_inside for result in tried.results]))]
    return _of_kind(assessment, _led(assessment, colour, peak=peak), assurance, colour, None, peak)


def _kinds(assessment: Assessment, colour: str) -> list[tuple[str, int | None, LightSource]]:
    """Think of every kind of LED, the one that has the name of the colour first; only that where no limit tells."""
    whites = [("white", cct) for cct in WHITES]
    coloured = [(name, None) for name in sorted(leds.families(), key=lambda name: name != colour)]
    if assessment.colour_limit is None:
        plain = [(name, None) for name, _ in coloured if name == colour] or whites[:1]
        return [(name, cct, _led(assessment, name, cct)) for name, cct in plain]
    both = [*whites, *coloured] if colour == "white" else [*coloured, *whites]
    return [(name, cct, _led(assessment, name, cct)) for name, cct in both]


def _led(assessment: Assessment, colour: str, cct: int | None = None, peak: float | None = None) -> LightSource:
    """Think of an LED of a colour with the filament's lumens; one name everywhere, so that left and right agree."""
    old = assessment.old.source
    lumens, base = old.luminous_flux, str(old.rating["base"]) if old.rating else ""
    common = {"luminous_flux": lumens, "electrical_power": lumens / USUAL_EFFICACY, "voltage": old.voltage}
    if cct is not None or colour == "white":
        name = f"any white LED of {cct or WHITES[0]} K"
        return leds.white_led(cct or WHITES[0], base=base or None, name=name, **common)  # type: ignore[arg-type]
    name = f"any {colour} LED" if peak is None else f"any {colour} LED of {peak:g} nm"
    return leds.coloured_led(colour, peak=peak, base=base or None, name=name, **common)  # type: ignore[arg-type]


def _tried(assessment: Assessment, made: Sequence[LightSource], draws: int | None = None) -> Assessment:
    return one_lamp.assess(
        assessment.old.source,
        made,
        assessment.lens,
        function=assessment.function,
        rules=assessment.rules,
        garage=assessment.garage if draws is None else None,
        draws=draws or 1,
        seed=assessment.garage.seed,
        name=assessment.name,
    )


def _will_do(result: Result, assessment: Assessment, colour: str, colour_share: float) -> bool:
    """Tell whether a light source shows a colour, and for how many lenses and emitters."""
    limit = result.other_limit or assessment.colour_limit
    if limit is None:
        return True
    return limit.colour == colour and round(result.share_inside, 2) >= round(colour_share, 2)


def _own_or_clear(result: Result, assessment: Assessment) -> bool:
    """Tell whether a light source has the colour of its own, which no lens that fades takes away."""
    plain = assessment.lens.colour == "clear" or result.source.kind is SourceKind.MEASURED
    return plain or has_own_colour(assessment, result)


def _kind_of(source: LightSource, colour: str) -> str:
    return "white" if source.kind is SourceKind.WHITE_LED else colour


def claim_needed(result: Result, assessment: Assessment, assurance: float) -> float:
    """Give the claimed lumens with which a kind of light source reaches the filament's light.

    Source: JCGM 101:2008, a quantile of the draws.
    """
    box = result.draws["box"] / result.draws["ratio"]
    return float(sampling.quantile(box, assurance, assessment.garage.weights))


def kind_words(asked: Wanted, *, like: bool = True) -> Statement:
    """Name the kind of light source that is wanted.

    Source: wording of the house.
    """
    known = None if asked.like is None or not like else asked.like.name
    return say("look_for.kind", colour=asked.colour, cct=asked.cct, like=known, peak=asked.peak)
