"""What the change saves: how long the battery stands, what a dynamo at idle lacks, and heat in lamps and contacts."""

from collections.abc import Mapping
from typing import NamedTuple

from lampkit.circuits import charging, loads
from lampkit.circuits.charging import GeneratorKind
from lampkit.circuits.earth import Earth
from lampkit.plan import circuit_needs, socket_voltages
from lampkit.plan.stages import CircuitNow, Lights, lights
from lampkit.rules import functions
from lampkit.statements import Statement, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Offer

LIT_WHEN_PARKED = ("tail", "front position", "number plate", "side marker", "end-outline marker")
"""Functions that are lit on a vehicle that stands in the dark. Source: common practice, no source."""

USUAL_CAPACITY = 40.0
"""Charge of a battery of which the file tells nothing [A h]. Source: an assumption."""

DYNAMOS = (GeneratorKind.FIELD_EARTHED_INSIDE, GeneratorKind.FIELD_EARTHED_AT_REGULATOR, GeneratorKind.THIRD_BRUSH)


class Standing(NamedTuple):
    """How long the battery stands with the lamps lit that are lit on a parked vehicle, before and after [A h, A, h]."""

    capacity: float
    assumed: bool
    current: tuple[float, float]
    hours: tuple[float, float]

    @property
    def said(self) -> Statement:
        """How long, in a sentence."""
        return say("savings.standing", **self._asdict())


class Idle(NamedTuple):
    """What the generator gives at idle, and what is left of it at night with the brakes on, before and after [A]."""

    gives: float
    assumed: bool
    balance: tuple[float, float]

    @property
    def said(self) -> Statement:
        """What is left, in a sentence."""
        return say("savings.idle", **self._asdict())


class Heat(NamedTuple):
    """Heat in the lamp that is relieved most, and in switch, fuse and joints of the circuit relieved most [W]."""

    lamp: str
    in_lamp: tuple[float, float]
    circuit: str
    in_contacts: tuple[float, float]

    @property
    def said(self) -> Statement:
        """How hot before and after, in a sentence."""
        return say("savings.heat", **self._asdict())


class Savings(NamedTuple):
    """What the change saves; None where it changes nothing, or where too little is known."""

    standing: Standing | None
    idle: Idle | None
    heat: Heat | None

    @property
    def said(self) -> tuple[Statement, ...]:
        """What it saves, in sentences."""
        return tuple(one.said for one in self if one is not None)


def savings(
    vehicle: Vehicle,
    chosen: Mapping[str, Offer | None],
    before: tuple[CircuitNow, ...],
    after: tuple[CircuitNow, ...],
) -> Savings:
    """Work out what the change from one state of the circuits to another saves.

    Source: `standing_time`, Kirchhoff's laws with the laws of `loads`.
    """
    was = {lamp.name: lamp.fitted for lamp in vehicle.lamps}
    at_night = [lamp for lamp in vehicle.lamps if lamp.function in LIT_WHEN_PARKED]
    now, then = Earth(vehicle.earth), Earth(vehicle.earth_after)
    parked = _amperes(at_night, was, vehicle, now), _amperes(at_night, chosen, vehicle, then)
    capacity = vehicle.battery_capacity or USUAL_CAPACITY
    standing = None
    if parked[0] != parked[1] and all(parked):
        hours = tuple(float(charging.standing_time(capacity, amperes)) for amperes in parked)
        standing = Standing(capacity, vehicle.battery_capacity is None, parked, (hours[0], hours[1]))
    return Savings(standing, _idle(vehicle, chosen, was, at_night), _heat(before, after))


def _amperes(lamps: list[Lamp], fitted: Mapping[str, Offer | None], vehicle: Vehicle, earth: Earth) -> float:
    """Add what lamps draw at the nominal supply; those dark with this earth count for nothing."""
    lit = [lamp for lamp in lamps if lights(fitted.get(lamp.name), earth) is not Lights.NO]
    drawn = [(lamp, circuit_needs.load_of(lamp, fitted.get(lamp.name))) for lamp in lit]
    return sum(lamp.quantity * float(loads.load_current(load, vehicle.supply_voltage)) for lamp, load in drawn)


def _idle(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], was: Mapping[str, Offer | None], at_night: list[Lamp]
) -> Idle | None:
    gives = vehicle.idle_current
    if gives is None:
        if GeneratorKind(vehicle.generator) not in DYNAMOS:
            return None
        gives = charging.IDLE_CURRENT_OF_DYNAMO
    lit = [*at_night, *(lamp for lamp in vehicle.lamps if functions.function(lamp.function).brakes)]
    now, then = Earth(vehicle.earth), Earth(vehicle.earth_after)
    drawn = _amperes(lit, was, vehicle, now), _amperes(lit, chosen, vehicle, then)
    if drawn[0] == drawn[1]:
        return None
    return Idle(gives, vehicle.idle_current is None, (gives - drawn[0], gives - drawn[1]))


def _heat(before: tuple[CircuitNow, ...], after: tuple[CircuitNow, ...]) -> Heat | None:
    lamps: dict[str, tuple[float, float]] = {}
    circuits: dict[str, tuple[float, float]] = {}
    for old, new in zip(before, after, strict=True):
        for was, now in zip(old.sides, new.sides, strict=False):
            contacts = [socket_voltages.CONTACTS * side.current**2 for side in (was, now)]
            known = circuits.get(old.circuit.name, (0.0, 0.0))
            if contacts[0] - contacts[1] > known[0] - known[1]:
                circuits[old.circuit.name] = (contacts[0], contacts[1])
            for one, other in zip(was.lamps, now.lamps, strict=True):
                lamps[one.lamp] = one.current * one.voltage, other.current * other.voltage
    relieved = {name: watts for name, watts in lamps.items() if watts[0] > watts[1]}
    if not relieved or not circuits:
        return None
    lamp = max(relieved, key=lambda name: relieved[name][0] - relieved[name][1])
    circuit = max(circuits, key=lambda name: circuits[name][0] - circuits[name][1])
    return Heat(lamp, relieved[lamp], circuit, circuits[circuit])
