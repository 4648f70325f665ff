"""What article to look for where nothing on offer will do: its colour, its lumens, its levels, its base."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lampkit import conversion
from lampkit.conversion.assessment import Assessment, Result
from lampkit.plan import suitability
from lampkit.plan.suitability import Refusals
from lampkit.rules import colours, functions
from lampkit.sources import leds
from lampkit.sources.claims import Claim
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle

CLAIM_ROOM = 1.6
"""How much more the bright level must claim over the dim one than their light must differ [1].
Source: own judgement: claims of two levels of one article err by as much."""

WHITE_CCT = 4000
"""Correlated colour temperature of the white LED that is looked for where none is on offer [K]. Source: own choice."""


USUAL_EFFICACY = 90.0
"""Claimed lumens for each watt of an LED that is looked for, by which it gets warm [lm/W]. Source: own judgement."""

PEAK_STEPS = range(-6, 7)
"""Steps round the usual peak of a colour in which a better one is sought [nm]. Source: own choice."""

SWEEP_DRAWS = 400
"""Draws with which peaks are compared [1]. Source: own choice."""


@dataclass(frozen=True)
class Article:
    """One article that would serve all functions of a holder, or the one function of a lamp."""

    members: tuple[int, ...]
    bright: tuple[int, ...]
    dim: tuple[int, ...]


def article_of(lamps: Sequence[Lamp], place: int) -> Article:
    """Find all functions that the light source of a lamp would have to serve."""
    holder = lamps[place].holder
    members = tuple(i for i, lamp in enumerate(lamps) if i == place or (holder is not None and lamp.holder == holder))
    dim = tuple(i for i in members if sharing.filament_in(lamps[i]) == "minor")
    return Article(members, tuple(i for i in members if i not in dim), dim)


def accepted(lamp: Lamp, rules: str) -> tuple[str, ...]:
    """List the colours of light that a lamp may show through its own lens, the usual one first; none for no such."""
    own = colours.standard_colour(lamp.lens.colour)
    wanted = colours.required_colour(lamp.function, rules).colours if lamp.road_rule else ()
    if not wanted:
        return (own,)
    if own == "white":
        # A filament lamp shows white through a clear lens already.
        return tuple(sorted(wanted, key=lambda colour: colour != own))
    return tuple(colour for colour in wanted if colour == own)


def look_for(
    vehicle: Vehicle, assessments: Sequence[Assessment], place: int, assurance: float, colour_share: float, times: float
) -> Statement:
    """Say what to look for where nothing on offer will do: one article for all that shares the holder.

    Source: the lumens as `conversion` predicts them; the colours of the rules in force.
    """
    lamps, rules = vehicle.lamps, vehicle.held_to.name
    article = article_of(lamps, place)
    by_member = {i: accepted(lamps[i], rules) for i in article.members}
    for i, found in by_member.items():
        if not found:
            wanted = colours.required_colour(lamps[i].function, rules).colours
            return say("look_for.other_lens", lamp=lamps[i].name, lens=lamps[i].lens.colour, colours=list(wanted))
    if place != article.members[0]:
        return say("look_for.same_article", lamp=lamps[article.members[0]].name)
    shared = [c for c in by_member[place] if all(c in by_member[i] for i in article.members)]
    colour_of = {i: shared[0] if shared else found[0] for i, found in by_member.items()}
    need = {i: _need(lamps[i], assessments[i], colour_of[i], assurance, colour_share) for i in article.members}
    return say(
        "look_for.article",
        what=_what(lamps, article, colour_of, by_member, need),
        lumens=_lumens(lamps, article, need, assurance, rules, times),
        features=_features(vehicle, place),
        bulb=_bulb(lamps, by_member, assessments),
    )


@dataclass(frozen=True)
class Need:
    """What one function asks of a light source: lumens, what on offer is of the right colour, or else its peak."""

    lumens: float
    like: LightSource | None
    peak: float | None


def _need(lamp: Lamp, assessment: Assessment, colour: str, assurance: float, colour_share: float) -> Need:
    """Find the lumens to ask for, and what on offer has the right colour already."""
    able = [r for r in assessment.results if r.claim is not Claim.IMPOSSIBLE and _shows(r, assessment, colour)]
    good = [r for r in able if np.isnan(r.share_inside) or r.share_inside >= colour_share]
    if good:
        like = min(good, key=lambda r: r.lumens_to_buy)
        return Need(_lumens_like(like, assessment, assurance), like.source, None)
    found = _tried(lamp, assessment, _any_led(lamp, colour))
    peak = None
    if found.results[0].share_inside < colour_share and colour in leds.families():
        # A peak that is stated is surer than the name of a colour.
        typical = round(leds.families()[colour]["peak_nm"])
        peaks = [float(typical + step) for step in PEAK_STEPS]
        tried = [_tried(lamp, assessment, _any_led(lamp, colour, peak), SWEEP_DRAWS) for peak in peaks]
        peak = peaks[int(np.argmax([one.results[0].share_inside for one in tried]))]
        found = _tried(lamp, assessment, _any_led(lamp, colour, peak))
    return Need(_lumens_like(found.results[0], found, assurance), None, peak)


def _any_led(lamp: Lamp, colour: str, peak: float | None = None) -> LightSource:
    """Think of an LED of a colour with the filament's lumens."""
    lumens, volts = lamp.filament.luminous_flux, lamp.filament.voltage
    watts, base = lumens / USUAL_EFFICACY, suitability.base_of(lamp) or None
    name = f"any {colour} LED in {lamp.name}"
    if colour == "white":
        return leds.white_led(
            WHITE_CCT, luminous_flux=lumens, electrical_power=watts, voltage=volts, base=base, name=name
        )
    return leds.coloured_led(
        colour, peak=peak, luminous_flux=lumens, electrical_power=watts, voltage=volts, base=base, name=name
    )


def _tried(lamp: Lamp, assessment: Assessment, made: LightSource, draws: int | None = None) -> Assessment:
    return conversion.assess(
        lamp.filament,
        [made],
        lamp.lens,
        function=assessment.function,
        rules=assessment.rules,
        garage=assessment.garage if draws is None else None,
        draws=draws or 1,
        seed=assessment.garage.seed,
        name=assessment.name,
    )


def _shows(result: Result, assessment: Assessment, colour: str) -> bool:
    """Tell whether a light source on offer has a colour of its own, or needs none."""
    limit = result.other_limit or assessment.colour_limit
    if limit is None:
        return True
    if limit.colour != colour:
        return False
    plain = assessment.lens.colour == "clear" or result.source.kind is SourceKind.MEASURED
    return plain or conversion.suggestion.has_own_colour(assessment, result)


def _lumens_like(result: Result, assessment: Assessment, assurance: float) -> float:
    weights = assessment.garage.weights
    return float(sampling.quantile(result.source.luminous_flux / result.draws["ratio"], assurance, weights))


def _what(
    lamps: Sequence[Lamp],
    article: Article,
    colour_of: dict[int, str],
    accepted_by: dict[int, tuple[str, ...]],
    need: dict[int, Need],
) -> Statement:
    first = article.members[0]
    if len(set(colour_of.values())) > 1:
        shown = [say("look_for.shows", colour=colour_of[i], lamp=lamps[i].name) for i in article.members]
        return say("look_for.switching", shown=shown)
    asked, colour = need[first], colour_of[first]
    name = None if asked.like is None else asked.like.name
    # Where a function usually shows another colour, it is told that this one will do.
    may = [lamps[i].name for i in article.members if accepted_by[i][0] != colour]
    both = bool(article.bright and article.dim)
    return say("look_for.one_colour", colour=colour, like=name, peak=asked.peak, levels=both, may=may)


def _lumens(
    lamps: Sequence[Lamp],
    article: Article,
    need: dict[int, Need],
    assurance: float,
    rules: str,
    times: float,
) -> Statement:
    if not (article.bright and article.dim):
        return say("look_for.lumens", lumens=max(need[i].lumens for i in article.members), assurance=assurance)
    bright = max(need[i].lumens for i in article.bright)
    dim = max(need[i].lumens for i in article.dim)
    told = [pair for pair in sharing.outshining(lamps, rules) if pair.bright in article.bright]
    most = None
    if told:
        over = CLAIM_ROOM * times
        bright = max(bright, over * dim)
        most = bright / over
    names = {"bright_lamp": lamps[article.bright[0]].name, "dim_lamp": lamps[article.dim[0]].name}
    return say("look_for.levels", bright=bright, dim=dim, most=most, assurance=assurance, **names)


def _features(vehicle: Vehicle, place: int) -> list[Statement]:
    lamp = vehicle.lamps[place]
    base = suitability.base_of(lamp)
    found = [say("look_for.base", base=base) if base else say("look_for.same_base")]
    if vehicle.earth_after == "positive":
        found.append(say("look_for.either_way"))
    if functions.function(lamp.function).road:
        found.append(say("look_for.all_sides"))
    return found


def _bulb(
    lamps: Sequence[Lamp], accepted_by: dict[int, tuple[str, ...]], assessments: Sequence[Assessment]
) -> Statement | None:
    """Say where a filament lamp itself shows the wrong colour behind a clear lens: it must have had a coloured bulb."""
    for i, wanted in accepted_by.items():
        old = assessments[i].old.colour
        if lamps[i].lens.colour == "clear" and "white" not in wanted and old is not None and not old.inside:
            return say("look_for.coloured_bulb", lamp=lamps[i].name, colour=wanted[0])
    return None


# --- a tail lamp that its stop lamp does not outshine -----------------------------------------------------------------


def dimmer_tail(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    refused: Sequence[Sequence[Refusals]],
    place: int,
    assurance: float,
    times: float,
) -> Statement | None:
    """Say what the filaments give, and which tail lamp would leave the stop lamp plainly brighter."""
    for pair in sharing.outshining(vehicle.lamps, vehicle.held_to.name):
        if place in (pair.bright, pair.dim):
            stop, tail = assessments[pair.bright], assessments[pair.dim]
            bright, dim = _best(stop, refused[pair.bright]), _best(tail, refused[pair.dim])
            if dim is None:
                continue
            over, weights = suitability.over_tail(stop, tail, bright, dim)
            needed = suitability.needed_over_tail(stop, tail, times)
            spare = float(sampling.quantile(over / needed, 1.0 - assurance, weights))
            light = stop.old.source if bright is None else stop.results[bright].source
            claimed = tail.results[dim].source.luminous_flux
            least = _lumens_like(tail.results[dim], tail, assurance)
            return say(
                "look_for.dimmer_tail",
                lumens=(stop.old.source.luminous_flux, tail.old.source.luminous_flux),
                times=times,
                tail=vehicle.lamps[pair.dim].name,
                stop=light.name,
                most=spare * claimed,
                least=least,
                brighter=light.luminous_flux * max(least / (spare * claimed), 1.0),
            )
    return None


def _best(assessment: Assessment, refused: Sequence[Refusals]) -> int | None:
    able = [c for c, against in enumerate(refused) if not against]
    return max(able, key=lambda c: assessment.results[c].probability, default=None)
