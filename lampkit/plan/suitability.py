"""What may speak against a light source on offer: whether it can be fitted at all, and beside its neighbours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from itertools import permutations, product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit import conversion
from lampkit.conversion.assessment import Assessment
from lampkit.errors import InputError
from lampkit.plan import socket_voltages
from lampkit.plan.socket_voltages import side_of
from lampkit.rules import colours, functions, intensity_limits, rule_sets
from lampkit.rules.intensity_limits import Requirement
from lampkit.rules.limits import Limit
from lampkit.sources.light_source import Claim, SourceKind
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Offer

if TYPE_CHECKING:
    from lampkit.plan.plan import Plan

READING_SPREAD = 0.15
"""Standard deviation of the logarithm of an intensity that the vehicle file states [1].
Source: an assumption: a phone or a lux meter, distance and aim together."""


class Family(Enum):
    """A family of requirements: what may speak against a light source on offer."""

    BUDGET = "budget"
    LIGHT = "light"
    COLOUR = "colour"
    INTENSITY = "intensity"
    STOP_OVER_TAIL = "stop_over_tail"
    ALIKE = "alike"
    FLASHER = "flasher"
    TELL_TALE = "tell_tale"
    CIRCUIT_CURRENT = "circuit_current"
    CHARGING = "charging"
    CLAIM = "claim"
    BASE = "base"
    POLARITY = "polarity"
    HOLDER = "holder"


Refusals = dict[Family, Statement]
"""What speaks against a candidate: the family of the requirement, and the reason as a clause."""


def short_of(chance: float, asked: float) -> bool:
    """Tell whether a chance is less than was asked for, to a percent as both are written."""
    return round(100 * chance) < round(100 * asked)


def base_of(lamp: Lamp) -> str:
    """Tell the base of the filament lamp that is fitted."""
    return str(lamp.filament.rating["base"]) if lamp.filament.rating else ""


def article_price(offer: Offer, offers: Sequence[Offer]) -> float | None:
    """Give the price of the article that a light source is a level of."""
    if offer.dim_level_of is None:
        return offer.price
    return next((other.price for other in offers if other.name == offer.dim_level_of), None)


def limits_of_intensity(lamp: Lamp, rules: str, *, wide: bool = False) -> Requirement | None:
    """Find what the rules ask of the intensity of a lamp on its axis, on a wide vehicle or on another."""
    if not lamp.road_rule:
        return None
    held_to = rule_sets.rule_set(rules)
    colour = colours.standard_colour(lamp.lens.colour)
    gap = lamp.spacing if held_to.spacing else None
    return _limits_on_axis(lamp.function, colour, lamp.compartments if held_to.sections else 1, gap, rules, wide)


@lru_cache(maxsize=512)
def _limits_on_axis(
    function: str, colour: str, compartments: int, gap: float | None, rules: str, wide: bool
) -> Requirement | None:
    # Where lighted sections count, some limits hold for any number of them all the same.
    for wanted, count in product((colour, None), dict.fromkeys((compartments, 1))):
        try:
            found = intensity_limits.requirement(
                function, rules, colour=wanted, compartments=count, spacing=gap, wide=wide
            )
        except InputError:
            continue
        in_candela = all(limit.unit == "cd" for limit in found.on_axis)
        return found if in_candela and any(np.isfinite(limit.low) for limit in found.on_axis) else None
    return None


def least_lit_area(lamp: Lamp, rules: str, *, wide: bool = False) -> Limit | None:
    """Find how much of its lens a lamp must light; None where the rules say nothing of it."""
    required = limits_of_intensity(lamp, rules, wide=wide)
    areas = [] if required is None else [v for v in required.further if v.quantity.startswith("least lens area")]
    # The larger one is that of a single compartment.
    areas.sort(key=lambda limit: limit.low, reverse=lamp.compartments == 1)
    return areas[0] if areas else None


def stated_intensity(intensity: float, spread: float = READING_SPREAD) -> Belief:
    """Give what is believed of an intensity with the filament that the vehicle file states."""
    ground = "the vehicle file; its spread is an assumption"
    return Belief("intensity with the filament", intensity, spread, "cd", ground, "lognormal")


def single(
    vehicle: Vehicle,
    lamp: Lamp,
    assessment: Assessment,
    intensities: Sequence[NDArray[np.float64]] | None,
    assurance: float,
    colour_share: float,
) -> tuple[Refusals, ...]:
    """Hold every candidate of a lamp against what it must do alone."""
    base, tell_tale = base_of(lamp), functions.function(lamp.function).tell_tale
    # A rule that bound no maker is a yardstick for the old lamp, and no reason to refuse a new one.
    required = limits_of_intensity(lamp, vehicle.held_to.name) if assurance > 0 and vehicle.held_to.binds else None
    found = []
    for index, (offer, result) in enumerate(zip(lamp.candidates, assessment.results, strict=True)):
        against: Refusals = {}
        if socket_voltages.excites(lamp):
            against[Family.CHARGING] = say("refused.charging")
        if result.claim is Claim.IMPOSSIBLE:
            lumens, watts = result.source.luminous_flux, result.source.electrical_power
            against[Family.CLAIM] = say("refused.claim", lumens=lumens, watts=watts)
        if offer.base and base and offer.base.casefold() != base.casefold():
            against[Family.BASE] = say("refused.base", base=offer.base, wanted=base)
        if not offer.made_for(vehicle.supply_voltage):
            against[Family.BASE] = say("refused.supply", made_for=offer.supply, supply=vehicle.supply_voltage)
        if vehicle.earth_after == "positive" and offer.either_polarity is False:
            against[Family.POLARITY] = say("refused.polarity")
        if np.isfinite(result.share_inside) and short_of(result.share_inside, colour_share):
            against[Family.COLOUR] = say("refused.colour", share=result.share_inside, wanted=colour_share)
        ratio = float(result.ratio[1])
        if tell_tale:
            if short_of(result.chance, assurance):
                against[Family.LIGHT] = say("refused.half", ratio=ratio, probability=result.chance)
        elif short_of(result.probability, assurance):
            against[Family.LIGHT] = say("refused.light", ratio=ratio, probability=result.probability)
        if required is not None and intensities is not None:
            middle = float(sampling.quantile(intensities[index], 0.5, assessment.garage.weights))
            if (past := past_limits(required, middle)) is not None:
                against[Family.INTENSITY] = past
        elif required is not None:
            # Of a lamp that nobody read only what holds for all that kept the rules when new is a reason.
            past_by = _passed(required, float(result.ratio[0]) * required.minimum.low)
            if past_by is not None and past_by is not required.minimum:
                told = {"ratio": ratio, "limit": past_by.words, "citation": past_by.citation}
                against[Family.INTENSITY] = say("refused.too_bright", **told)
        found.append(against)
    if assurance > 0:
        white = any(vehicle.lamps[i] is lamp for i in sharing.through_two_lenses(vehicle.lamps))
        _prefer(assessment, found, tell_tale, white)
    return tuple(found)


def _prefer(assessment: Assessment, found: Sequence[Refusals], tell_tale: bool, white: bool) -> None:
    """Pass over what would do, where another does that dazzles less or has the lamp's own colour."""
    able = [i for i, against in enumerate(found) if not against]
    results = assessment.results
    if tell_tale and able:
        best = conversion.suggestion.best_tell_tale([results[i] for i in able])
        for i in able:
            if results[i] is not best:
                found[i][Family.LIGHT] = say(
                    "refused.tell_tale",
                    other=best.source.name,
                    ratio=float(results[i].ratio[1]),
                    other_ratio=float(best.ratio[1]),
                )
        return
    # What lights a number plate too must be white.
    own = [] if white else [i for i in able if conversion.suggestion.has_own_colour(assessment, results[i])]
    for i in able:
        if own and i not in own and results[i].source.kind is SourceKind.WHITE_LED:
            found[i][Family.COLOUR] = say("refused.own_colour", other=results[own[0]].source.name)


def past_limits(required: Requirement, intensity: float) -> Statement | None:
    """Say which published limit an intensity on the axis is past; None for none.

    Source: the rules that each limit names.
    """
    limit = _passed(required, intensity)
    if limit is None:
        return None
    return say("refused.intensity", intensity=intensity, limit=limit.words, citation=limit.citation)


def _passed(required: Requirement, intensity: float) -> Limit | None:
    low = required.minimum
    high = max(
        (limit for limit in required.maxima if limit.v_from <= 0 < limit.v_to), key=lambda x: x.high, default=None
    )
    if intensity < low.low:
        return low
    return high if high is not None and intensity > high.high else None


OfCandidate = Mapping[int | None, NDArray[np.float64]]
"""The candela of each candidate that is known, draw by draw; None stands for the filament."""


def candela(lamp: Lamp, assessment: Assessment, draws: Sequence[NDArray[np.float64]] | None) -> OfCandidate:
    """Give the candela of each candidate of a lamp, and of the filament where it is known; nothing without a reading.

    Source: the same draws of the stated intensity from which those of the candidates were made.
    """
    known: dict[int | None, NDArray[np.float64]] = dict(enumerate(() if draws is None else draws))
    if draws is None or lamp.intensity is None:
        return known
    belief, garage = stated_intensity(lamp.intensity), assessment.garage
    own = sampling.standard_normal(garage.seed, f"lamp {lamp.name}", belief.name, len(garage))
    return {**known, None: belief.value(own)}


def chance_over_tail(
    stop: Assessment,
    tail: Assessment,
    pick: int | None,
    other: int | None,
    ratio: float,
    intensities: tuple[OfCandidate, OfCandidate] = ({}, {}),
) -> float:
    """Give the probability that the stop lamp has its multiple of the tail lamp's light.

    In candela it must be the wanted multiple. In lumens the filaments' own multiple is enough where that is less: the
    optics made the rest and still do.

    Source: JCGM 101:2008, 7. UN R148, 4.8.11, and FMVSS 108, table IX, print the multiple at test points; lumens
    differ by the optics.
    """
    if pick is None and other is None:
        return 1.0  # that is how the vehicle was built
    found, weights = over_tail(stop, tail, pick, other, intensities)
    in_candela = pick in intensities[0] and other in intensities[1]
    needed = ratio if in_candela else needed_over_tail(stop, tail, ratio)
    return float(sampling.share(found >= needed, weights))


def needed_over_tail(stop: Assessment, tail: Assessment, ratio: float) -> NDArray[np.float64]:
    """Give the multiple needed in lumens, draw by draw: the wanted one, or the filaments' own where it is less."""
    return np.asarray(np.minimum(ratio, stop.old.draws["flux"] / tail.old.draws["flux"]))


def filaments_multiple(stop: Assessment, tail: Assessment, ratio: float) -> float | None:
    """Give the filaments' own multiple of light where that is less than the wanted one, and so the measure."""
    needed = float(sampling.quantile(needed_over_tail(stop, tail, ratio), 0.5, stop.garage.weights))
    return needed if needed < 0.98 * ratio else None


HARD = frozenset({Family.CHARGING, Family.CLAIM, Family.BASE, Family.POLARITY, Family.HOLDER})
"""What no weaker wish cures: the light source cannot be fitted, or is not what it says."""

OTHER_COLOUR = 0.01
"""Share of lenses with a right colour below which a light source is of another colour altogether [1]. Source: own
judgement."""


def by_nearness(assessment: Assessment, refused: Sequence[Refusals], colour_share: float) -> list[int]:
    """Order the candidates of a lamp by how near they come: fit to be fitted, then sure, of the colour, and bright."""

    def nearness(place: int) -> tuple[bool, bool, float, bool, float]:
        result = assessment.results[place]
        colour = not result.share_inside < colour_share  # one without a limit is right
        other = result.share_inside < OTHER_COLOUR
        able, fits = not refused[place], not other and not HARD & set(refused[place])
        return able, fits, round(result.chance, 2), colour, float(result.ratio[1])

    return sorted(range(len(refused)), key=nearness, reverse=True)


def weights_of_both(stop: Assessment, tail: Assessment) -> NDArray[np.float64]:
    """Give what each draw counts: garages that different readings weighted know nothing of each other."""
    same = np.array_equal(stop.garage.weights, tail.garage.weights)
    return stop.garage.weights if same else stop.garage.weights * tail.garage.weights


def over_tail(
    stop: Assessment,
    tail: Assessment,
    pick: int | None,
    other: int | None,
    intensities: tuple[OfCandidate, OfCandidate] = ({}, {}),
) -> tuple[NDArray[np.float64], NDArray[np.float64] | None]:
    """Give the stop lamp's light over the tail lamp's, draw by draw, and what each draw counts."""
    if len(stop.garage) != len(tail.garage):
        raise InputError(
            f"'{stop.name}' was assessed with {len(stop.garage)} draws and '{tail.name}' with {len(tail.garage)}",
            expected="the same number",
        )
    weights = weights_of_both(stop, tail)
    first, second = intensities
    if pick in first and other in second:
        return np.asarray(first[pick] / second[other]), weights
    bright = (stop.old if pick is None else stop.results[pick]).draws["flux"]
    dim = (tail.old if other is None else tail.results[other]).draws["flux"]
    return np.asarray(bright / dim), weights


def derived(vehicle: Vehicle, refused: Sequence[Sequence[Refusals]]) -> tuple[tuple[Refusals, ...], ...]:
    """Carry refusals over to neighbours: the other level of an article, and the lamp on the other side."""
    lamps = vehicle.lamps
    grown = [[dict(against) for against in candidates] for candidates in refused]
    places = [{offer.name: c for c, offer in enumerate(lamp.candidates)} for lamp in lamps]
    changed = True
    while changed:
        changed = False
        beside = _by_side(lamps, grown, places) if vehicle.asked.alike else []
        for i, c, family, reason in [*_by_holder(lamps, grown, places), *beside]:
            if not grown[i][c]:
                grown[i][c][family] = reason
                changed = True
    return tuple(tuple(candidates) for candidates in grown)


def _first(against: Refusals) -> Statement:
    return next(iter(against.values()))


def _by_holder(
    lamps: Sequence[Lamp], grown: Sequence[Sequence[Refusals]], places: Sequence[Mapping[str, int]]
) -> list[tuple[int, int, Family, Statement]]:
    found = []
    for group in sharing.one_source(lamps):
        for i, other in permutations(group, 2):
            for c, offer in enumerate(lamps[i].candidates):
                mate = places[other].get(offer.name)
                if mate is not None and (against := grown[other][mate]):
                    told = say("refused.one_source", lamp=lamps[other].name, reason=_first(against))
                    found.append((i, c, Family.HOLDER, told))
    for major, minor in sharing.holders(lamps):
        for c, offer in enumerate(lamps[major].candidates):
            dims = [d for d, dim in enumerate(lamps[minor].candidates) if dim.dim_level_of == offer.name]
            if not dims:
                found.append((major, c, Family.HOLDER, say("refused.no_dim_level", lamp=lamps[minor].name)))
            elif all(grown[minor][d] for d in dims):
                level = say("refused.dim_level", lamp=lamps[minor].name, reason=_first(grown[minor][dims[0]]))
                found.append((major, c, Family.HOLDER, level))
        for d, dim in enumerate(lamps[minor].candidates):
            bright = places[major].get(dim.dim_level_of or "")
            if bright is None:
                found.append((minor, d, Family.HOLDER, say("refused.no_bright_level", lamp=lamps[major].name)))
            elif grown[major][bright]:
                level = say("refused.bright_level", lamp=lamps[major].name, reason=_first(grown[major][bright]))
                found.append((minor, d, Family.HOLDER, level))
    return found


def _by_side(
    lamps: Sequence[Lamp], grown: Sequence[Sequence[Refusals]], places: Sequence[Mapping[str, int]]
) -> list[tuple[int, int, Family, Statement]]:
    found = []
    for group in left_and_right(lamps):
        for i in group:
            for c, offer in enumerate(lamps[i].candidates):
                for other in group:
                    mate = places[other].get(offer.name)
                    if mate is None:
                        found.append((i, c, Family.ALIKE, say("refused.not_on_both_sides", lamp=lamps[other].name)))
                    elif grown[other][mate]:
                        side = say("refused.other_side", lamp=lamps[other].name, reason=_first(grown[other][mate]))
                        found.append((i, c, Family.ALIKE, side))
    return found


def left_and_right(lamps: Sequence[Lamp]) -> tuple[tuple[int, ...], ...]:
    """Find the lamps of one function that are left and right of each other and are to look alike."""
    groups: dict[tuple[str, ...], list[int]] = {}
    for i, lamp in enumerate(lamps):
        if side_of(lamp) is not None:
            place = _sideless(lamp.position) if lamp.position else _sideless(lamp.name)
            groups.setdefault((lamp.function, place), []).append(i)
    found: list[tuple[int, ...]] = []
    for members in groups.values():
        sides = [side_of(lamps[i]) for i in members]
        if sides.count("left") > 1 or sides.count("right") > 1:
            # Two lamps of one function at one corner: their names tell which belongs to which.
            by_name: dict[str, list[int]] = {}
            for i in members:
                by_name.setdefault(_sideless(lamps[i].name), []).append(i)
            found += [tuple(group) for group in by_name.values() if len(group) > 1]
        elif len(members) > 1:
            found.append(tuple(members))
    return tuple(found)


def _sideless(words: str) -> str:
    return " ".join(word for word in words.casefold().split() if word not in ("left", "right"))


# --- whether a stop lamp still stands out from the tail lamp beside it, once light sources were chosen -------------


@dataclass(frozen=True, eq=False)
class OverTail:
    """One stop lamp and the tail lamp beside it: how many times its light, and whether that is enough."""

    stop: str
    tail: str
    ratio: NDArray[np.float64]
    wanted: float
    chance: float
    assurance: float

    @property
    def too_bright(self) -> bool:
        """Whether the tail lamp is too bright for its stop lamp to be told from it, as far as is known."""
        return short_of(self.chance, self.assurance)


def over_tails(made: "Plan") -> tuple[OverTail, ...]:
    """Hold every stop lamp against the tail lamp beside it, where either gets a light source.

    Source: JCGM 101:2008, 7; as wanted of the choice.
    """
    found, wishes, lamps = [], made.choice.wishes, made.vehicle.lamps
    for *pair, _ in sharing.outshining(lamps, made.vehicle.held_to.name):
        picks = [_place(made, i) for i in pair]
        if picks == [None, None]:
            continue  # that is how the vehicle was built
        stop, tail = (made.assessments[i] for i in pair)
        both = (_candela(made, pair[0]), _candela(made, pair[1]))
        ratios, weights = over_tail(stop, tail, picks[0], picks[1], both)
        chance = chance_over_tail(stop, tail, picks[0], picks[1], wishes.stop_over_tail, both)
        found.append(
            OverTail(
                stop=lamps[pair[0]].name,
                tail=lamps[pair[1]].name,
                ratio=sampling.interval(ratios, weights),
                wanted=wishes.stop_over_tail,
                chance=chance,
                assurance=wishes.assurance,
            )
        )
    return tuple(found)


def _place(made: "Plan", lamp: int) -> int | None:
    """Tell which candidate a lamp gets; None where its filament stays."""
    offer = made.fitted(made.vehicle.lamps[lamp].name)
    names = [one.source.name for one in made.assessments[lamp].results]
    return None if offer is None else names.index(offer.name)


def _candela(made: "Plan", lamp: int) -> Mapping[int | None, NDArray[np.float64]]:
    """Give the candela of each candidate, draw by draw, for a lamp that was read."""
    one = made.vehicle.lamps[lamp]
    known = made.intensities.get(one.name)
    return candela(one, made.assessments[lamp], known.draws if known is not None and known.measured else None)
