"""What is asked of a choice of parts, why it is as it is, and what to know before buying: what to look for, too."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from lampkit.circuits import charging
from lampkit.circuits.loads import load_current, resistor_load
from lampkit.conversion import wanted
from lampkit.conversion.assessment import Assessment, Result, is_tell_tale
from lampkit.conversion.wanted import Wanted
from lampkit.plan import socket_voltages, suitability
from lampkit.plan.decisions import Solution
from lampkit.plan.selection import LIGHT_CAP, dearest
from lampkit.plan.suitability import Family, Refusals
from lampkit.rules import colours, functions
from lampkit.sources import light_source
from lampkit.sources.light_source import Claim
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

CENT = 0.005
"""Half a cent: prices that differ by less are the same [currency]."""

SAME_LIGHT = 0.005
"""Change of the light on average below which it is the same [1]."""


@dataclass(frozen=True)
class Wishes:
    """What was asked of a choice."""

    aim: str
    assurance: float
    colour_share: float
    stop_over_tail: float
    budget: float | None
    currency: str


WISHED: Mapping[Family, Callable[[Wishes], Statement]] = {
    Family.BUDGET: lambda w: say("wish.budget", budget=w.budget or 0.0, currency=w.currency),
    Family.LIGHT: lambda w: say("wish.light", assurance=w.assurance),
    Family.COLOUR: lambda w: say("wish.colour", share=w.colour_share),
    Family.INTENSITY: lambda w: say("wish.intensity"),
    Family.STOP_OVER_TAIL: lambda w: say("wish.stop_over_tail", times=w.stop_over_tail),
    Family.ALIKE: lambda w: say("wish.alike"),
    Family.FLASHER: lambda w: say("wish.flasher"),
    Family.TELL_TALE: lambda w: say("wish.tell_tale"),
    Family.CIRCUIT_CURRENT: lambda w: say("wish.circuit_current"),
}
"""What the families are called that may be left out for a trial."""

AGAINST: Mapping[Family, Callable[[Wishes], Statement]] = {
    Family.BUDGET: lambda w: say("against.budget", budget=w.budget or 0.0, currency=w.currency),
    Family.LIGHT: lambda w: say("against.light"),
    Family.COLOUR: lambda w: say("against.colour"),
    Family.INTENSITY: lambda w: say("against.intensity"),
    Family.ALIKE: lambda w: say("against.alike"),
    Family.FLASHER: lambda w: say("against.flasher"),
    Family.TELL_TALE: lambda w: say("against.tell_tale"),
    Family.CIRCUIT_CURRENT: lambda w: say("against.circuit_current"),
}
"""How they keep a filament that could go; a stop light beside its tail light is told by what is asked of the two."""


# --- why it is so -----------------------------------------------------------------------------------------------------


def kept(
    lamp: Lamp,
    assessment: Assessment,
    refused: Sequence[Refusals],
    family: Family | None,
    instead: Sequence[str],
    wishes: Wishes,
    filaments_multiple: float | None,
) -> Statement:
    """Say why a lamp keeps its filament, and what comes nearest."""
    if not lamp.candidates:
        return say("kept.nothing")
    back = lamp.fitted is not None
    if all(refused):
        first, *others = suitability.by_nearness(assessment, refused, wishes.colour_share)
        reasons = [
            say("kept.reason", name=lamp.candidates[i].name, reason=next(iter(refused[i].values()))) for i in others
        ]
        nearest = _nearest(assessment.results[first], refused[first], is_tell_tale(lamp.function), wishes)
        return say("kept.none_will_do", back=back, nearest=nearest, reasons=reasons)
    could = [offer.name for offer, against in zip(lamp.candidates, refused, strict=True) if not against]
    if family is not None:
        if family is Family.STOP_OVER_TAIL:
            asked = {"times": wishes.stop_over_tail, "assurance": wishes.assurance}
            against = say("against.stop_over_tail", filaments=filaments_multiple, **asked)
        else:
            against = AGAINST[family](wishes)
        return say("kept.family", back=back, family=family, could=could, against=against)
    if instead:
        return say("kept.instead", back=back, could=could, instead=list(instead))
    return say("kept.together", back=back, could=could)


def _nearest(result: Result, against: Refusals, tell_tale: bool, wishes: Wishes) -> Statement:
    """Say of the best on offer how far it is short."""
    return say(
        "kept.nearest",
        name=result.source.name,
        ratio=float(result.ratio[1]),
        probability=result.chance if tell_tale else result.probability,
        half=tell_tale,
        assurance=wishes.assurance if Family.LIGHT in against else None,
        reasons=[reason for family, reason in against.items() if family is not Family.LIGHT],
    )


def dearer(other: Solution, best: Solution) -> float | None:
    """Give how much more another solution costs; zero for less than a cent, None where a price is not known."""
    if other.unpriced != best.unpriced:
        return None
    difference = other.cost - best.cost
    return difference if abs(difference) > CENT else 0.0


def freed(lamps: Sequence[Lamp], before: Solution, after: Solution) -> list[str]:
    """Name the lamps that keep their filaments in one solution and not in another."""
    both = zip(lamps, before.picks, after.picks, strict=True)
    return [lamp.name for lamp, then, now in both if then is None and now is not None]


def binding(family: Family, vehicle: Vehicle, wishes: Wishes, best: Solution, other: Solution) -> Statement | None:
    """Say what one family of requirements costs, or which lamps it keeps; None for one that changes nothing."""
    wish, difference = WISHED[family](wishes), dearer(other, best)
    if other.kept < best.kept:
        lamps = freed(vehicle.lamps, best, other)
        return say("binding.keeps", wish=wish, lamps=lamps, difference=difference, currency=wishes.currency)
    if wishes.aim == "most light":
        gain = _average(vehicle, other.light - best.light)
        if gain - 1 < SAME_LIGHT:
            return None
        return say("binding.dims", wish=wish, gain=gain - 1, difference=difference, currency=wishes.currency)
    if difference is not None and difference < 0:
        return say("binding.costs", wish=wish, price=-difference, currency=wishes.currency)
    return None


def _average(vehicle: Vehicle, light: float) -> float:
    return float(2.0 ** (light / max(len(vehicle.lamps), 1)))


def runner_up(vehicle: Vehicle, wishes: Wishes, best: Solution, second: Solution) -> Statement:
    """Say what nearly won."""
    changes: dict[tuple[str | None, str | None], list[str]] = {}
    for lamp, now, then in zip(vehicle.lamps, best.picks, second.picks, strict=True):
        if now != then:
            pair = tuple(None if pick is None else lamp.candidates[pick].name for pick in (now, then))
            changes.setdefault((pair[0], pair[1]), []).append(lamp.name)
    change = _average(vehicle, second.light - best.light)
    before, after = ({part.name for _, _, part in solution.parts} for solution in (best, second))
    return say(
        "runner_up.nearly",
        changes=[say("runner_up.change", now=now, then=then, lamps=lamps) for (now, then), lamps in changes.items()],
        difference=dearer(second, best),
        currency=wishes.currency,
        light=_light(change) if wishes.aim == "most light" else None,
        spared=sorted(before - after),
        needed=sorted(after - before),
    )


def _light(change: float) -> Statement:
    if abs(change - 1) < SAME_LIGHT:
        return say("runner_up.same_light")
    if change > 1:
        return say("runner_up.more_light", change=change - 1)
    return say("runner_up.less_light", change=1 / change - 1)


# --- before buying and fitting ----------------------------------------------------------------------------------------


RESTING_VOLTAGE = 12.4
"""Voltage of a resting 12 V battery, with which a generator must begin [V]. Source: common practice, no source."""


def fitting(vehicle: Vehicle, best: Solution) -> tuple[Statement, ...]:
    """Say where each of the other parts goes."""
    said = []
    across: dict[tuple[str, CircuitPart], dict[str, int]] = {}
    for (circuit, side, part), number in best.parts.items():
        if part.kind == "ballast resistor":
            across.setdefault((circuit, part), {})[side] = number
        elif part.kind == "pair of diodes":
            said.append(say("fitting.diodes", circuit=circuit, part=part.name))
        else:
            said.append(say("fitting.flasher", circuit=circuit, part=part.name, earth=vehicle.earth_after))
    for (circuit, part), counted in across.items():
        sides = [say("fitting.side", number=number, side=side) for side, number in counted.items()]
        heat = vehicle.running_voltage**2 / (part.resistance or np.inf)
        said.append(say("fitting.ballast", circuit=circuit, part=part.name, sides=sides, heat=heat))
    return tuple(said)


def notes(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    wishes: Wishes,
    best: Solution,
    other_cure: Solution | None,
) -> tuple[Statement, ...]:
    """Say what else to know before buying."""
    said: list[Statement] = []
    if other_cure is not None and other_cure.picks == best.picks:
        said.append(_two_cures(best, other_cure, wishes.currency))
    if wishes.aim == "most light":
        said.append(say("notes.light_cap", times=LIGHT_CAP))
    if best.unpriced:
        known = max(dearest(vehicle.offers), dearest(vehicle.parts)) > 0
        said.append(say("notes.no_price", names=sorted(best.unpriced), known=known, budget=wishes.budget is not None))
    doubted: dict[str, Statement | None] = {}
    no_base, no_watts, no_lumens = [], [], {}
    for lamp, found, pick in zip(vehicle.lamps, assessments, best.picks, strict=True):
        if pick is None:
            continue
        offer, result = lamp.candidates[pick], found.results[pick]
        if result.claim in (Claim.TOO_WARM, Claim.NOT_BELIEVABLE):
            doubted[offer.name] = result.claim_statement
        article = _article(offer, vehicle)
        if not article.base and offer is not lamp.fitted:
            no_base.append(article.name)
        if not offer.source.electrical_power:
            no_watts.append(offer.name)
        if not offer.source.claimed:
            no_lumens[offer.name] = offer.source
    said += [say("notes.claim", name=name, claim=claim) for name, claim in doubted.items()]
    if no_lumens:
        said.append(light_source.no_lumens(no_lumens.values()))
    if no_base:
        said.append(say("notes.no_base", names=no_base))
    if no_watts:
        said.append(say("notes.no_watts", names=no_watts))
    untried = [article.name for article in _picked(vehicle, best) if article.either_polarity is None]
    if vehicle.without_battery:
        said += [say("notes.either_way", names=names)] if (names := _one_way(vehicle, best)) else []
    elif untried:
        said.append(say("notes.polarity", names=untried, earth=vehicle.earth_after))
    if not vehicle.earth_told and not vehicle.without_battery and any(pick is not None for pick in best.picks):
        said.append(say("notes.earth_unknown", names=_one_way(vehicle, best)))
    flashing = [
        lamp.name
        for lamp, pick in zip(vehicle.lamps, best.picks, strict=True)
        if pick is not None and (lamp.circuit is None or lamp.circuit.flasher is None)
        if (does := functions.function(lamp.function)).flashes and not does.tell_tale
    ]
    if flashing:
        said.append(say("notes.flasher_unknown", lamps=flashing, towed=vehicle.towed))
    if vehicle.towed and any(pick is not None for pick in best.picks):
        said.append(say("notes.towed"))
    said += [words for lamp in vehicle.lamps if socket_voltages.excites(lamp) for words in _charging(vehicle, lamp)]
    for circuit in vehicle.circuits:
        said += _of_circuit(vehicle, circuit)
    return tuple(said)


def _one_way(vehicle: Vehicle, best: Solution) -> list[str]:
    """List what is chosen and lights one way round only, or may do so."""
    return [article.name for article in _picked(vehicle, best) if article.either_polarity is not True]


def _picked(vehicle: Vehicle, best: Solution) -> list[Offer]:
    """List the articles that are chosen and to be fitted, each once."""
    picks = zip(vehicle.lamps, best.picks, strict=True)
    picked = [
        lamp.candidates[c] for lamp, c in picks if c is not None and not vehicle.has_already(lamp, lamp.candidates[c])
    ]
    return list({(article := _article(offer, vehicle)).name: article for offer in picked}.values())


def _article(offer: Offer, vehicle: Vehicle) -> Offer:
    """Give the article that a dim level is one of."""
    return next((other for other in vehicle.offers if other.name == offer.dim_level_of), offer)


def _charging(vehicle: Vehicle, lamp: Lamp) -> list[Statement]:
    """Say what each LED on offer would do in place of a charge-warning lamp, and what it would need beside it."""
    dynamo = charging.GeneratorKind(vehicle.generator) in charging.DYNAMOS
    charger: Literal["alternator", "dynamo"] = "dynamo" if dynamo else "alternator"
    old, said = socket_voltages.load_of(lamp, None), []
    for offer in lamp.candidates:
        new = socket_voltages.load_of(lamp, offer)
        at_rest = RESTING_VOLTAGE * vehicle.supply_voltage / 12.0
        swap = charging.charge_lamp_swap(charger, old, new, at_rest)
        said.append(say("notes.charging", lamp=lamp.name, name=offer.name, words=swap.said))
    return said


def _two_cures(best: Solution, other: Solution, currency: str) -> Statement:
    difference = dearer(other, best)
    timers = [part.name for _, _, part in other.parts if part.kind == "load-independent flasher"]
    if timers:
        return say("notes.flasher_instead", names=timers, difference=difference, currency=currency)
    ballasts = [(part.name, number) for (_, _, part), number in other.parts.items() if part.kind == "ballast resistor"]
    return say(
        "notes.ballast_instead",
        names=[name for name, _ in ballasts],
        number=sum(number for _, number in ballasts),
        difference=difference,
        currency=currency,
    )


def _of_circuit(vehicle: Vehicle, circuit: Circuit) -> list[Statement]:
    here = sharing.once_each([lamp for lamp in vehicle.lamps if lamp.circuit is circuit])
    voltage, said = vehicle.running_voltage, []
    sides = {side: socket_voltages.lamps_of_side(here, side) for side in socket_voltages.SIDES}
    unit = socket_voltages.fitted_flasher(circuit, here, vehicle.supply_voltage) if here else None
    needs = {
        side: socket_voltages.need_of_flasher(vehicle, circuit, unit, lamps)
        for side, lamps in sides.items()
        if lamps and unit is not None
    }
    if poor := [side for side, need in needs.items() if not need.met_before]:
        said.append(say("notes.poor_flasher", circuit=circuit.name, sides=poor))
    most, which = socket_voltages.limit_of_current(circuit)
    turning = [lamp for group in sides.values() for lamp in group]
    steady = [lamp for lamp in here if lamp not in turning and not functions.function(lamp.function).tell_tale]
    groups = [[*group, *steady] for group in sides.values()] if circuit.flasher and turning else [here]
    before = max(sum(socket_voltages.current_of(lamp, None, voltage) for lamp in group) for group in groups)
    if round(before, 1) > round(most, 1):
        said.append(say("notes.overloaded", circuit=circuit.name, current=before, most=most, which=which))
    for part in vehicle.parts:
        if circuit.flasher and part.kind == "ballast resistor" and part.resistance and part.power:
            heat = float(load_current(resistor_load(part.resistance), voltage)) * voltage
            if heat > part.power:
                said.append(say("notes.too_hot", part=part.name, heat=heat, power=part.power))
    return said


# --- what to look for where nothing on offer will do ------------------------------------------------------------------


CLAIM_ROOM = 1.6
"""How much more the bright level must claim over the dim one than their light must differ [1].
Source: own judgement: claims of two levels of one article err by as much."""


ROOM_TO_CHOOSE = 1.05
"""Times the fewest lumens that an upper limit must be for both to be named as limits [1]. Source: own judgement."""


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
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    refused: Sequence[Sequence[Refusals]],
    picks: Sequence[int | None],
    place: int,
    asked: Wishes,
    known: dict[Hashable, Wanted],
) -> Statement:
    """Say what to look for where nothing on offer will do: one article for all that shares the holder."""
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
    lumens: Statement
    if article.bright and article.dim:
        lumens = _two_levels(lamps, article, need, rules, asked)
    else:
        told = None
        least = max(need[i].lumens for i in article.members)
        for pair in sharing.outshining(lamps, rules):
            if pair.dim in article.members and pair.bright not in article.members:
                stop, colours_shown = assessments[pair.bright], accepted(lamps[pair.bright], rules)
                beside: Result | Wanted = stop.old
                if (pick := picks[pair.bright]) is not None:
                    beside = stop.results[pick]
                elif all(refused[pair.bright]) and colours_shown:
                    beside = _wanted(stop, colours_shown[0], asked, known)
                told = _beside(stop, assessments[pair.dim], beside, need[pair.dim].result, least, asked)
        lumens = say("look_for.lumens", lumens=least, beside=told, assurance=asked.assurance)
    return say(
        "look_for.article",
        what=_what(lamps, article, colour_of, by_member, need),
        lumens=lumens,
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


def _beside(
    stop: Assessment, tail: Assessment, beside: Result | Wanted, dim: Result, least: float, asked: Wishes
) -> Statement:
    """Say up to which claimed lumens a tail lamp is plainly outshone by its stop lamp, or what that lacks.

    Source: JCGM 101:2008, a quantile of the draws.
    """
    bright = beside.result if isinstance(beside, Wanted) else beside
    flux = bright.draws["flux"] * (beside.lumens / bright.draws["box"] if isinstance(beside, Wanted) else 1.0)
    needed = suitability.needed_over_tail(stop, tail, asked.stop_over_tail)
    spare = flux / (needed * dim.draws["flux"] / dim.draws["box"])
    most = float(sampling.quantile(spare, 1.0 - asked.assurance, suitability.weights_of_both(stop, tail)))
    if most >= ROOM_TO_CHOOSE * least:
        return say("look_for.at_most", most=most)
    claims = beside.lumens if isinstance(beside, Wanted) else bright.source.luminous_flux
    return say("look_for.brighter_stop", most=most, stop=None if bright is stop.old else claims * least / most)


def _two_levels(
    lamps: Sequence[Lamp],
    article: Article,
    need: dict[int, Wanted],
    rules: str,
    asked: Wishes,
) -> Statement:
    assurance, times = asked.assurance, asked.stop_over_tail
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
