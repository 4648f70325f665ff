"""What goes with a change of lamps: each part, which way round, where and how large, and what the change saves."""

from collections.abc import Mapping, Sequence
from enum import Enum

from lampkit.circuits import charging, loads, network, tell_tale
from lampkit.circuits.charging import DYNAMOS, GeneratorKind
from lampkit.circuits.earth import Earth
from lampkit.circuits.fault_finding import LEAK
from lampkit.circuits.flasher_cures import rerate_shunt
from lampkit.circuits.flashers import FlasherKind
from lampkit.plan import socket_voltages
from lampkit.plan.socket_voltages import SIDES, TELL_TALE_POWER
from lampkit.plan.stages import CircuitNow, Lights, PartFitted, lights
from lampkit.rules import functions
from lampkit.sources import filament_lamps
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

SEMAPHORES = ("semaphore", "semaphores", "semaphore arm", "semaphore arms")
TRAILERS = ("trailer", "trailer socket", "trailer sockets")
"""What `also_feeds` may say of arms and sockets."""

SEMAPHORE_POWER = 36.0
"""What the coil of a raised semaphore arm takes [W]. Source: common practice, no source: 3 A at 12 V."""

MAKERS_RANGE = 9.0 / 12.0, 32.0 / 12.0
"""Range of supply, over the nominal one, that an LED for a vehicle with a dynamo should state [1]. Source: 9 V to 32 V
for 12 V, common practice, no source; for 6 V and 24 V in proportion, an assumption."""

TRANSIENT = 24.0 / 12.0, 30.0 / 12.0
"""Spikes of a dynamo with a loose battery lead, over the nominal supply [1]. Source: common practice, no source."""

BLEED_RESISTANCES = (1000.0, 470.0, 220.0, 100.0)
"""Bleed resistors in the order in which they are tried [ohm]. Source: preferred numbers, IEC 60063; 1 kilohm is usual,
common practice, no source."""

RESISTOR_POWERS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
"""Resistors that are sold [W]. Source: common practice, no source."""

COOL_SHARE = 2.0
"""Rated power of a resistor over its heat, so that it stays cool [1]. Source: common practice, no source."""


LIT_WHEN_PARKED = ("tail", "front position", "number plate", "side marker", "end-outline marker")
"""Functions that are lit on a vehicle that stands in the dark. Source: common practice, no source."""

USUAL_CAPACITY = 40.0
"""Charge of a battery of which the file tells nothing [A h]. Source: an assumption."""


class FlasherTerminal(Enum):
    """A terminal of a flasher."""

    SUPPLY = "supply"
    LAMPS = "lamps"
    TELL_TALE = "tell_tale"
    EARTH = "earth"


def parts_to_fit(
    vehicle: Vehicle,
    circuits: Sequence[CircuitNow],
    before: Sequence[CircuitNow],
    parts: Sequence[tuple[CircuitPart, int]] = (),
) -> tuple[Statement, ...]:
    """Tell of each part that applies to a vehicle how it is fitted; `circuits` are as chosen, `before` as filaments."""
    earth, found = Earth(vehicle.earth_after), list[Statement]()
    for now, old in zip(circuits, before, strict=True):
        found += _of_circuit(vehicle, now, old, earth)
    found += _ballasts(parts)
    converted = [(lamp, offer) for lamp in vehicle.lamps if (offer := _fitted(circuits, lamp)) is not None]
    if converted:
        found += _bleed(vehicle, converted)
        kind = GeneratorKind(vehicle.generator)
        if kind in DYNAMOS or (kind is GeneratorKind.UNKNOWN and not vehicle.towed):
            volts = vehicle.supply_voltage
            spikes = TRANSIENT[0] * volts, TRANSIENT[1] * volts
            low, high = (share * volts for share in MAKERS_RANGE)
            known = kind is not GeneratorKind.UNKNOWN
            found.append(say("to_fit.supply_range", low=low, high=high, spikes=spikes, known=known))
        dim = tuple(dict.fromkeys(offer.name for _, offer in converted if offer.dim_level_of is not None))
        if dim:
            found.append(say("to_fit.pulsed", sources=dim))
    return tuple(found)


def _fitted(circuits: Sequence[CircuitNow], lamp: Lamp) -> Offer | None:
    return circuits[0].state.fitted[lamp.name] if circuits else None


def _of_circuit(vehicle: Vehicle, now: CircuitNow, old: CircuitNow, earth: Earth) -> list[Statement]:
    found, wired, name = list[Statement](), now.circuit, now.circuit.name
    sides = [side for side in now.sides if side.side is not None]
    filaments = [side for side in old.sides if side.side is not None]
    if sides and filaments:
        turn = wired.flasher is not None
        heaviest = max(side.current for side in filaments)
        both = sum(side.current for side in filaments)
        if PartFitted.DIODES in now.state.parts and wired.tell_tale == "single between sides":
            amperes = (wired.tell_tale_power or TELL_TALE_POWER) / vehicle.running_voltage
            left = float(tell_tale.light_behind_diode(vehicle.running_voltage))
            diode = tell_tale.feed_diode(earth, amperes, duty=0.5)
            found.append(
                say(
                    "to_fit.diodes",
                    circuit=name,
                    earth=named(earth),
                    band=named(diode.band),
                    left=left,
                    drop=diode.drop,
                    rating=diode.rating,
                    reverse=diode.reverse,
                )
            )
            found.append(say("to_fit.insulated_holder", circuit=name))
        if PartFitted.FLASHER in now.state.parts and turn:
            found.append(_new_flasher(wired, earth, heaviest, both))
        if wired.flasher == FlasherKind.ELECTRONIC.value:
            found += _watched(vehicle, now)
        if len(sides) == len(SIDES):
            diode = tell_tale.feed_diode(earth, heaviest, duty=0.5)
            found.append(
                say(
                    "to_fit.hazards",
                    circuit=name,
                    earth=named(earth),
                    band=named(diode.band),
                    current=diode.current,
                    heat=diode.heat,
                    chosen=max(side.current for side in sides),
                    rating=diode.rating,
                    reverse=diode.reverse,
                    both=both,
                )
            )
    feeds = [one.casefold() for one in wired.also_feeds or ()]
    if any(one in SEMAPHORES for one in feeds):
        coil = tell_tale.across_coil(earth, SEMAPHORE_POWER / vehicle.supply_voltage)
        found.append(
            say(
                "to_fit.semaphore",
                circuit=name,
                earth=named(earth),
                band=named(coil.band),
                current=coil.current,
                rating=coil.rating,
                reverse=coil.reverse,
            )
        )
    if any(one in TRAILERS for one in feeds):
        lamp = filament_lamps.filament("P21W", vehicle.running_voltage, rated_voltage=vehicle.supply_voltage)
        adds = (lamp.electrical_power or 0.0) / vehicle.running_voltage
        most = max((side.current for side in now.sides), default=0.0)
        whole = sum(side.current for side in now.sides)
        found.append(
            say(
                "to_fit.trailer",
                circuit=name,
                adds=adds,
                side=most + adds,
                both=whole + 2.0 * adds,
                flasher=wired.flasher is not None,
            )
        )
    return found


def _new_flasher(wired: Circuit, earth: Earth, side: float, both: float) -> Statement:
    """Say how a load-independent flasher is connected in place of the old one, and what it switches."""
    old = [FlasherTerminal.SUPPLY, FlasherTerminal.LAMPS]
    if wired.tell_tale == "from the flasher":
        old.append(FlasherTerminal.TELL_TALE)
    return say(
        "to_fit.flasher",
        circuit=wired.name,
        earth=named(earth),
        old=[named(one) for one in old],
        new=[named(one) for one in (*old, FlasherTerminal.EARTH)],
        side=side,
        hazards=both,
    )


def _watched(vehicle: Vehicle, now: CircuitNow) -> list[Statement]:
    """Re-rate the shunt for the heavier side, where its main turn lamps are LEDs by now."""
    lamps = [
        lamp for lamp in vehicle.lamps if lamp.circuit is now.circuit and functions.function(lamp.function).flashes
    ]
    main = [lamp for lamp in lamps if functions.function(lamp.function).name in ("front turn", "rear turn")]
    sides = [socket_voltages.lamps_of_side(lamps, side) for side in SIDES]
    for members in sides:
        drawn = {lamp.name: socket_voltages.load_of(lamp, now.state.fitted[lamp.name]) for lamp in members}
        every = [drawn[lamp.name] for lamp in members for _ in range(lamp.quantity)]
        watched = [drawn[lamp.name] for lamp in members if lamp in main]
        unit = socket_voltages.fitted_flasher(now.circuit, lamps, vehicle.supply_voltage)
        if unit is not None and any(load.is_led for load in watched):
            shunt = rerate_shunt(unit, every, watched, vehicle.running_voltage)
            return [say("to_fit.shunt", circuit=now.circuit.name, tells=shunt.tells, **shunt._asdict())]
    return []


def _ballasts(parts: Sequence[tuple[CircuitPart, int]]) -> list[Statement]:
    return [
        say("to_fit.ballast", name=part.name, number=number, resistance=part.resistance, power=part.power)
        for part, number in parts
        if number > 0 and part.kind == PartFitted.BALLAST.value and part.resistance
    ]


def _bleed(vehicle: Vehicle, converted: Sequence[tuple[Lamp, Offer]]) -> list[Statement]:
    """Choose the resistor for the LED that begins to glow at the lowest voltage."""
    known = [(lamp, socket_voltages.load_of(lamp, offer)) for lamp, offer in converted]
    leds = [(lamp, load) for lamp, load in known if load.is_led]
    if not leds:
        return []
    lamp, load = min(leds, key=lambda pair: pair[1].threshold_voltage)
    begins, volts = max(load.threshold_voltage, network.DARK_VOLTAGE), vehicle.running_voltage
    for ohms in BLEED_RESISTANCES:
        left = float(network.shunted_voltage(volts, LEAK, ohms))
        heat = volts**2 / ohms
        if left < begins:
            power = next(watts for watts in RESISTOR_POWERS if watts >= COOL_SHARE * heat)
            return [
                say(
                    "to_fit.bleed",
                    lamp=lamp.name,
                    resistance=ohms,
                    heat=heat,
                    power=power,
                    voltage=left,
                    begins=begins,
                )
            ]
    return []


# --- what the change saves ------------------------------------------------------------------------------------------


def savings(
    vehicle: Vehicle,
    chosen: Mapping[str, Offer | None],
    before: Sequence[CircuitNow],
    after: Sequence[CircuitNow],
) -> tuple[Statement, ...]:
    """Say what the change from one state of the circuits to another saves, as far as anything is known of it."""
    was = {lamp.name: lamp.fitted for lamp in vehicle.lamps}
    at_night = [lamp for lamp in vehicle.lamps if lamp.function in LIT_WHEN_PARKED]
    found = _standing(vehicle, chosen, was, at_night), _idle(vehicle, chosen, was, at_night), _heat(before, after)
    return tuple(one for one in found if one is not None)


def _drawn(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], was: Mapping[str, Offer | None], lamps: Sequence[Lamp]
) -> tuple[float, float]:
    """Add what lamps draw as they are and as chosen, each with its earth [A]."""
    now, then = Earth(vehicle.earth), Earth(vehicle.earth_after)
    return _amperes(lamps, was, vehicle, now), _amperes(lamps, chosen, vehicle, then)


def _standing(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], was: Mapping[str, Offer | None], parked: Sequence[Lamp]
) -> Statement | None:
    """Say how long the battery stands with the lamps lit that are lit on a parked vehicle, before and after."""
    amperes, capacity = _drawn(vehicle, chosen, was, parked), vehicle.battery_capacity or USUAL_CAPACITY
    if amperes[0] == amperes[1] or not all(amperes) or vehicle.without_battery or vehicle.towed:
        return None
    hours = tuple(float(charging.standing_time(capacity, one)) for one in amperes)
    assumed = vehicle.battery_capacity is None
    return say("savings.standing", capacity=capacity, assumed=assumed, current=amperes, hours=hours)


def _amperes(lamps: Sequence[Lamp], fitted: Mapping[str, Offer | None], vehicle: Vehicle, earth: Earth) -> float:
    """Add what lamps draw at the nominal supply; those dark with this earth count for nothing."""
    lit = [lamp for lamp in lamps if lights(fitted.get(lamp.name), earth) is not Lights.NO]
    drawn = [(lamp, socket_voltages.load_of(lamp, fitted.get(lamp.name))) for lamp in lit]
    return sum(lamp.quantity * float(loads.load_current(load, vehicle.supply_voltage)) for lamp, load in drawn)


def _idle(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], was: Mapping[str, Offer | None], at_night: Sequence[Lamp]
) -> Statement | None:
    """Say what the generator gives at idle, and what is left of it at night with the brakes on, before and after."""
    gives = vehicle.idle_current
    if gives is None:
        if GeneratorKind(vehicle.generator) not in DYNAMOS:
            return None
        gives = charging.IDLE_CURRENT_OF_DYNAMO
    braking = [lamp for lamp in vehicle.lamps if functions.function(lamp.function).brakes]
    drawn = _drawn(vehicle, chosen, was, [*at_night, *braking])
    if drawn[0] == drawn[1]:
        return None
    balance = gives - drawn[0], gives - drawn[1]
    return say("savings.idle", gives=gives, assumed=vehicle.idle_current is None, balance=balance)


def _heat(before: Sequence[CircuitNow], after: Sequence[CircuitNow]) -> Statement | None:
    """Say how hot the lamp that is relieved most was, and switch, fuse and joints of the circuit relieved most [W]."""
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
    return say("savings.heat", lamp=lamp, in_lamp=relieved[lamp], circuit=circuit, in_contacts=circuits[circuit])
