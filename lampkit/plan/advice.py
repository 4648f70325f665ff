"""What to know before buying and fitting: what to look for, where each part goes, which cure is better."""

from collections.abc import Sequence

import numpy as np

from lampkit.circuits.loads import load_current, resistor_load
from lampkit.conversion import Assessment, Claim, Result
from lampkit.plan import circuit_needs, suitability
from lampkit.plan.reasons import dearer
from lampkit.plan.selection import LIGHT_CAP, Solution
from lampkit.plan.wishes import Wishes
from lampkit.rules import functions
from lampkit.sources.light_source import SourceKind
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import sampling
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart

SURE_LEVELS = 8.0
"""Bright over dim claimed lumens of an article to look for [1]. Source: own judgement, five with room for claims."""


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
            said.append(say("fitting.flasher", circuit=circuit, part=part.name, earth=vehicle.earth))
    for (circuit, part), counted in across.items():
        sides = [say("fitting.side", number=number, side=side) for side, number in counted.items()]
        heat = vehicle.running_voltage**2 / (part.resistance or np.inf)
        said.append(say("fitting.ballast", circuit=circuit, part=part.name, sides=sides, heat=heat))
    return tuple(said)


def look_for(vehicle: Vehicle, place: int, assessment: Assessment, wishes: Wishes) -> Statement:
    """Say what to look for where nothing on offer will do."""
    features = _features(vehicle, place)
    if not assessment.results:
        return say("look_for.any", features=features)

    def worth(result: Result) -> tuple[float, bool, float]:
        share = 1.0 if np.isnan(result.share_inside) else result.share_inside
        return (min(share, wishes.colour_share), result.claim is not Claim.IMPOSSIBLE, -result.lumens_to_buy)

    best = max(assessment.results, key=worth)
    ratio, weights = best.draws["ratio"], assessment.garage.weights
    return say(
        "look_for.like",
        kind=None if best.source.kind is SourceKind.MEASURED else named(best.source.kind),
        name=best.source.name,
        lumens=float(sampling.quantile(best.source.luminous_flux / ratio, wishes.assurance, weights)),
        assurance=wishes.assurance,
        features=features,
        colour=None if best.colour is None or best.share_inside >= wishes.colour_share else best.colour.statement,
    )


def _features(vehicle: Vehicle, place: int) -> list[Statement]:
    lamp = vehicle.lamps[place]
    base = suitability.base_of(lamp)
    found = [say("look_for.base", base=base) if base else say("look_for.same_base")]
    for major, minor in suitability.holders(vehicle.lamps):
        if place in (major, minor):
            other = vehicle.lamps[minor if place == major else major].name
            found.append(say("look_for.two_levels", other=other, times=SURE_LEVELS))
    if vehicle.earth == "positive":
        found.append(say("look_for.either_way"))
    if not functions.function(lamp.function).tell_tale:
        found.append(say("look_for.all_sides"))
    return found


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
    doubted: dict[str, Statement | None] = {}
    no_base, no_watts = [], []
    for lamp, found, pick in zip(vehicle.lamps, assessments, best.picks, strict=True):
        if pick is None:
            continue
        offer, result = lamp.candidates[pick], found.results[pick]
        if result.claim in (Claim.TOO_WARM, Claim.NOT_BELIEVABLE):
            doubted[offer.name] = result.claim_statement
        if not offer.base:
            no_base.append(offer.name)
        if not offer.source.electrical_power:
            no_watts.append(offer.name)
    said += [say("notes.claim", name=name, claim=claim) for name, claim in doubted.items()]
    if no_base:
        said.append(say("notes.no_base", names=no_base))
    if no_watts:
        said.append(say("notes.no_watts", names=no_watts))
    for circuit in vehicle.circuits:
        said += _of_circuit(vehicle, circuit)
    return tuple(said)


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
    here = [lamp for lamp in vehicle.lamps if lamp.circuit is circuit]
    voltage, said = vehicle.running_voltage, []
    sides = {side: circuit_needs.lamps_of_side(here, side) for side in circuit_needs.SIDES}
    poor = _poor_sides(vehicle, circuit, here)
    if poor:
        said.append(say("notes.poor_flasher", circuit=circuit.name, sides=poor))
    most, which = circuit_needs.limit_of_current(circuit)
    groups = list(sides.values()) if circuit.flasher else [here]
    before = max(
        (sum(circuit_needs.current_of(lamp, None, voltage) for lamp in group) for group in groups), default=0.0
    )
    if before > most:
        said.append(say("notes.overloaded", circuit=circuit.name, current=before, most=most, which=which))
    for part in vehicle.parts:
        if circuit.flasher and part.kind == "ballast resistor" and part.resistance and part.power:
            heat = float(load_current(resistor_load(part.resistance), voltage)) * voltage
            if heat > part.power:
                said.append(say("notes.too_hot", part=part.name, heat=heat, power=part.power))
    return said


def _poor_sides(vehicle: Vehicle, circuit: Circuit, here: Sequence[Lamp]) -> list[str]:
    """List the sides of which the filament lamps do not make the flasher flash as it should."""
    unit = circuit_needs.fitted_flasher(circuit, here, vehicle.supply_voltage) if here else None
    if unit is None:
        return []
    sides = {side: circuit_needs.lamps_of_side(here, side) for side in circuit_needs.SIDES}
    return [
        side
        for side, lamps in sides.items()
        if lamps and not circuit_needs.need_of_flasher(unit, lamps, vehicle.running_voltage).met_before
    ]
