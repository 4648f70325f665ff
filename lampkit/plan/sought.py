"""What article to look for where nothing on offer will do: its colour, its lumens, its levels, its base."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from lampkit.conversion import wanted
from lampkit.conversion.assessment import Assessment
from lampkit.conversion.wanted import Wanted
from lampkit.plan import suitability
from lampkit.plan.advice import Wishes
from lampkit.plan.suitability import Refusals
from lampkit.rules import colours, functions
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle

CLAIM_ROOM = 1.6
"""How much more the bright level must claim over the dim one than their light must differ [1].
Source: own judgement: claims of two levels of one article err by as much."""


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


def look_for(
    vehicle: Vehicle, assessments: Sequence[Assessment], place: int, asked: Wishes, known: dict[Hashable, Wanted]
) -> Statement:
    """Say what to look for where nothing on offer will do: one article for all that shares the holder.

    Source: the lumens as `conversion` predicts them; the colours of the rules in force.
    """
    lamps, rules = vehicle.lamps, vehicle.held_to.name
    article = article_of(lamps, place)
    by_member = {i: accepted(lamps[i], rules) for i in article.members}
    for i, found in by_member.items():
        if not found:
            shown = list(colours.required_colour(lamps[i].function, rules).colours)
            return say("look_for.other_lens", lamp=lamps[i].name, lens=lamps[i].lens.colour, colours=shown)
    if place != article.members[0]:
        return say("look_for.same_article", lamp=lamps[article.members[0]].name)
    shared = [c for c in by_member[place] if all(c in by_member[i] for i in article.members)]
    colour_of = {i: shared[0] if shared else found[0] for i, found in by_member.items()}
    apart = [i for i in article.members if i in sharing.through_two_lenses(lamps)]
    if apart:
        colour_of = dict.fromkeys(article.members, "white")
        by_member = dict.fromkeys(article.members, ("white",))
        need = {i: wanted.warm_white(assessments[i], asked.assurance) for i in article.members}
    else:
        need = {i: _wanted(assessments[i], colour_of[i], asked, known) for i in article.members}
    return say(
        "look_for.article",
        what=_what(lamps, article, colour_of, by_member, need),
        lumens=_lumens(lamps, article, need, rules, asked),
        features=[*_features(vehicle, place), *([say("look_for.two_lenses")] if apart else [])],
        bulb=_bulb(lamps, by_member, assessments),
    )


def accepted(lamp: Lamp, rules: str) -> tuple[str, ...]:
    """List the colours of light that a lamp may show through its own lens, the usual one first; none for no such."""
    return wanted.accepted(lamp.function, rules if lamp.road_rule else None, lamp.lens.colour)


def _wanted(assessment: Assessment, colour: str, asked: Wishes, known: dict[Hashable, Wanted]) -> Wanted:
    """Find what one function asks of a light source, once for lamps that are alike."""
    key = id(assessment.old), id(assessment.results), colour
    if key not in known:
        known[key] = wanted.wanted(assessment, colour, asked.assurance, asked.colour_share)
    return known[key]


def _what(
    lamps: Sequence[Lamp],
    article: Article,
    colour_of: dict[int, str],
    accepted_by: dict[int, tuple[str, ...]],
    need: dict[int, Wanted],
) -> Statement:
    first = article.members[0]
    if len(set(colour_of.values())) > 1:
        shown = [say("look_for.shows", colour=colour_of[i], lamp=lamps[i].name) for i in article.members]
        return say("look_for.switching", shown=shown)
    asked, colour = need[first], colour_of[first]
    # Where a function usually shows another colour, it is told that this one will do.
    may = [lamps[i].name for i in article.members if accepted_by[i][0] != colour]
    both = bool(article.bright and article.dim)
    return say("look_for.one_colour", kind=wanted.kind_words(asked), colour=colour, levels=both, may=may)


def _lumens(
    lamps: Sequence[Lamp],
    article: Article,
    need: dict[int, Wanted],
    rules: str,
    asked: Wishes,
) -> Statement:
    assurance, times = asked.assurance, asked.stop_over_tail
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
    for i, shown in accepted_by.items():
        old = assessments[i].old.colour
        if lamps[i].lens.colour == "clear" and "white" not in shown and old is not None and not old.inside:
            return say("look_for.coloured_bulb", lamp=lamps[i].name, colour=shown[0])
    return None


# --- a tail lamp that its stop lamp does not outshine -----------------------------------------------------------------


def dimmer_tail(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    refused: Sequence[Sequence[Refusals]],
    place: int,
    asked: Wishes,
) -> Statement | None:
    """Say what the filaments give, and which tail lamp would leave the stop lamp plainly brighter."""
    assurance, times = asked.assurance, asked.stop_over_tail
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
            least = wanted.claim_needed(tail.results[dim], tail, assurance)
            return say(
                "look_for.dimmer_tail",
                lumens=(stop.old.source.luminous_flux, tail.old.source.luminous_flux),
                times=times,
                tail=vehicle.lamps[pair.dim].name,
                stop=light.name,
                most=spare * claimed,
                least=least,
                brighter=None if bright is None else light.luminous_flux * max(least / (spare * claimed), 1.0),
            )
    return None


def _best(assessment: Assessment, refused: Sequence[Refusals]) -> int | None:
    able = [c for c, against in enumerate(refused) if not against]
    return max(able, key=lambda c: assessment.results[c].probability, default=None)
