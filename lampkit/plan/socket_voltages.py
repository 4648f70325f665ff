"""What the lamps of a circuit draw and ask of it, what each gets at its socket, and what that does to its light."""

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits import flashers, loads
from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.flashers import Flasher, FlasherNeed
from lampkit.circuits.fuses import BLOWING_OVER_CONTINUOUS, FuseMark
from lampkit.circuits.loads import Load, total_current
from lampkit.circuits.network import lamp_voltage
from lampkit.circuits.wiring import Wire, wire_resistance
from lampkit.conversion.assessment import Assessment, Result, assess
from lampkit.lenses.coloured_lens import Lens
from lampkit.light import photometry
from lampkit.rules import functions
from lampkit.sources import filament_lamps, light_source
from lampkit.sources.light_source import BLACKENING, LightSource
from lampkit.uncertainty import sampling
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, Offer

CONTACTS, EARTH = 0.05, 0.05
"""Resistance of switch, fuse and joints together, and of a sound earth [ohm]. Source: an assumption."""

WIRE_LENGTH, WIRE_AREA = 6.0, 1.0
"""Length [m] and section [mm2] taken where the file states none. Source: an assumption."""

SUPPLY_SPREAD, DROP_SPREAD = 0.015, 0.4
"""Standard deviation of a voltage at the battery over it, and of the loss on the way over that [1]. Source: an
assumption, 0.2 V of 13.5 V; switches and joints of one age differ by a factor."""

METER_SPREAD = 0.005
"""Standard deviation of a voltage that was measured at a holder, over it [1]. Source: an assumption, a common
multimeter, and the engine never twice at the same speed."""

FUSE_SHARE = 1.25
"""Rating of a fuse over the current that it should carry for long [1]. Source: common practice, no source."""

PAIR_POWER = 42.0
"""Rated watts of the two 21 W lamps that a typical flasher is made for [W]. Source: definition."""

TELL_TALE_POWER = 4.0
"""Power of a tell-tale of which nothing is said [W]. Source: an assumption."""

TELL_TALE_LOSS = 0.1
"""Share of the voltage that the lamps of the far side may take from a single tell-tale [1]. Source: own judgement: a
filament tell-tale then keeps 70 % of its light."""

SIDES = ("left", "right")


class EngineState(IntEnum):
    """What the engine does, in the order of every row of voltages."""

    RUNNING = 0
    IDLING = 1
    OFF = 2


@dataclass(frozen=True, eq=False)
class SocketVoltage:
    """Voltage at the socket of a lamp by what the engine does, with the filaments and with each light source on offer.

    Source: Kirchhoff's laws, or the measured voltage.
    """

    lamp: str
    measured: bool
    supplies: NDArray[np.float64]
    before: NDArray[np.float64]
    after: Mapping[str, NDArray[np.float64]]
    spread: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LightAtVoltages:
    """Light of one light source over the filament's, at the sockets as they are with the engine idling, and with sound
    wiring, that is, with no loss on the way, with the engine running.
    """

    light_source: str
    idling: NDArray[np.float64]
    sound_wiring: NDArray[np.float64]


def side_of(lamp: Lamp) -> str | None:
    """Tell the side of a lamp from its position, or else from its name."""
    for words in (lamp.position, lamp.name):
        found = [side for side in SIDES if words and side in words.casefold().split()]
        if len(found) == 1:
            return found[0]
    return None


def lamps_of_side(lamps: Sequence[Lamp], side: str) -> list[Lamp]:
    """Pick the lamps that flash on one side; those of no side flash on both, a tell-tale on none.

    What burns steadily may hang on the same fuse: it is no load of the flasher.
    """
    does = ((lamp, functions.function(lamp.function)) for lamp in lamps)
    return [lamp for lamp, its in does if its.flashes and not its.tell_tale and side_of(lamp) in (side, None)]


def excites(lamp: Lamp) -> bool:
    """Tell whether a lamp may excite the generator, by its function or, for a tell-tale, by what it is called."""
    does = functions.function(lamp.function)
    suggested = functions.suggested_by(lamp.name) if does.tell_tale else None
    return does.keep or (suggested is not None and suggested.keep)


@lru_cache(maxsize=4096)
def load_of(lamp: Lamp, offer: Offer | None) -> Load:
    """Describe one light source as its circuit sees it.

    Source: `loads.filament_load`, `loads.led_load`; an LED of which nobody knows the feed counts as fed by a resistor,
    one of which nobody knows the watts takes those of `light_source.usual_power`.
    """
    old = lamp.filament
    assert old.electrical_power and old.voltage, "every filament lamp has a rating"
    if offer is None:
        return loads.filament_load(old.electrical_power, old.voltage, name=old.name)
    return loads.led_load(
        offer.source.electrical_power or light_source.usual_power(offer.source, dim=offer.dim_level_of is not None),
        offer.source.voltage or old.voltage,
        feed="regulated" if offer.feed == "regulated" else "resistor",
        bridge=bool(offer.either_polarity),
        name=offer.name,
    )


def current_of(
    lamp: Lamp, offer: Offer | None, voltage: float, *, cold: bool = False, unknown: float | None = None
) -> float:
    """Give what a lamp draws, all its light sources together; `unknown` stands for each LED of untold watts.

    Source: the laws of `loads`.
    """
    if unknown is not None and offer is not None and not offer.source.electrical_power:
        return lamp.quantity * unknown
    load = load_of(lamp, offer)
    return lamp.quantity * float(loads.load_current(flashers.cold(load) if cold else load, voltage))


def fitted_flasher(circuit: Circuit, lamps: Sequence[Lamp], supply_voltage: float) -> Flasher | None:
    """Give a typical flasher of the kind that is fitted, made for the load printed on it."""
    if circuit.flasher is None:
        return None
    pairs = circuit.flasher_rated_load
    if pairs is None:
        voltage = 12.8 * supply_voltage / 12.0
        amperes = max(sum(current_of(lamp, None, voltage) for lamp in lamps_of_side(lamps, side)) for side in SIDES)
        # A typical unit draws 3.6 A at 12 V from the pair that it is made for.
        return flashers.flasher(
            circuit.flasher, supply_voltage=supply_voltage, pairs=max(amperes * supply_voltage / 12.0 / 3.6, 0.1)
        )
    return flashers.flasher(circuit.flasher, supply_voltage=supply_voltage, pairs=pairs / PAIR_POWER)


def lit_from(lamps: Sequence[Lamp]) -> float | None:
    """Give the lowest voltage at which any LED on offer for some lamps begins to conduct."""
    found = [load_of(lamp, offer) for lamp in lamps for offer in lamp.candidates]
    return min((load.threshold_voltage for load in found), default=None)


def limit_of_current(circuit: Circuit) -> tuple[float, str]:
    """Give what the switch and the fuse of a circuit may carry for long, and which of them it is."""
    known = [(circuit.switch_rating, "switch")] if circuit.switch_rating else []
    if circuit.fuse:
        # A glass fuse may be marked by the current that blows it.
        carries = circuit.fuse / (BLOWING_OVER_CONTINUOUS if circuit.fuse_mark == "glass, blowing current" else 1.0)
        known.append((carries / FUSE_SHARE, "fuse"))
    return min(known, default=(float("inf"), ""))


@lru_cache(maxsize=256)
def feed_of(vehicle: Vehicle, wired: Circuit) -> LampCircuit:
    """Describe what lies between the battery and the lamps of a circuit.

    Source: the vehicle file, a voltage that was measured at a holder before all; CONTACTS, EARTH, WIRE_LENGTH and
    WIRE_AREA where it tells nothing.
    """
    wire = Wire(f"{wired.wire_area or WIRE_AREA:g} mm2", wired.wire_length or WIRE_LENGTH)
    contacts, earth = CONTACTS, EARTH
    measured = [lamp for lamp in vehicle.lamps if lamp.circuit is wired and lamp.socket_voltage is not None]
    known = [_measured_resistance(vehicle, lamp, _lit_with(vehicle, lamp)) for lamp in measured]
    if found := [ohms for ohms in known if ohms is not None]:
        ohms, own = float(np.mean(found)), float(wire_resistance(wire))
        if ohms < own:
            wire = Wire(wire.size, wire.length * max(ohms, 1e-6) / own)
        contacts, earth = max(ohms - own, 0.0), 0.0
    return LampCircuit(
        name=wired.name,
        supply_voltage=vehicle.running_voltage,
        wire=wire,
        contact_resistance=contacts,
        earth_resistance=earth,
        fuse=wired.fuse,
        switch_rating=wired.switch_rating,
        fuse_mark=FuseMark(wired.fuse_mark),
        wire_known=wired.wire_area is not None,
        also_feeds=wired.also_feeds,
    )


def sound_feed(vehicle: Vehicle, circuit: Circuit) -> LampCircuit:
    """Describe the wiring of a circuit as it would be if all of it were sound, whatever was measured of it.

    Source: the vehicle file for the wire; CONTACTS and EARTH, an assumption.
    """
    unread = [replace(lamp, socket_voltage=None, socket_voltage_idle=None) for lamp in vehicle.lamps]
    return feed_of(replace(vehicle, lamps=tuple(unread)), circuit)


def _measured_resistance(vehicle: Vehicle, lamp: Lamp, lit: Sequence[Lamp]) -> float | None:
    """Resistance on the way to a lamp that the voltage measured at its holder shows [ohm]."""
    if lamp.socket_voltage is None:
        return None
    old = [load_of(one, None) for one in lit]
    return max(vehicle.running_voltage - lamp.socket_voltage, 0.0) / float(total_current(old, lamp.socket_voltage))


def resistance_of(feed: LampCircuit) -> float:
    """Give what all the current of a circuit passes [ohm]."""
    return float(wire_resistance(feed.wire)) + feed.contact_resistance + feed.earth_resistance


def need_of_flasher(vehicle: Vehicle, circuit: Circuit, unit: Flasher, side: Sequence[Lamp]) -> FlasherNeed:
    """Find what a flasher needs of the lamps of one side, behind the wire of their circuit.

    Source: `flashers.need`.
    """
    filaments = [load_of(lamp, None) for lamp in side for _ in range(lamp.quantity)]
    return flashers.need(unit, filaments, vehicle.running_voltage, resistance=resistance_of(feed_of(vehicle, circuit)))


def at_socket(vehicle: Vehicle, lamp: Lamp) -> SocketVoltage:
    """Work out what a lamp gets at its socket; a voltage that was measured there wins.

    Source: Kirchhoff's laws.
    """
    lit = _lit_with(vehicle, lamp)
    old = [load_of(one, None) for one in lit]
    supplies = np.array(vehicle.supplies)
    ohms = _measured_resistance(vehicle, lamp, lit)
    if ohms is None:
        # Without a circuit nothing is told of the way there.
        ohms = 0.0 if lamp.circuit is None else resistance_of(feed_of(vehicle, lamp.circuit))
    before = lamp_voltage(supplies, ohms, old)
    if lamp.socket_voltage_idle is not None:
        before[EngineState.IDLING] = lamp.socket_voltage_idle
    after = {}
    for offer in lamp.candidates:
        after[offer.name] = lamp_voltage(supplies, ohms, [load_of(one, _same_or_other(one, offer)) for one in lit])
    measured = lamp.socket_voltage is not None
    drop = supplies - before
    reckoned = np.hypot(SUPPLY_SPREAD * supplies, DROP_SPREAD * drop)
    spread = np.where(_is_measured(lamp), METER_SPREAD * before, reckoned)
    return SocketVoltage(lamp.name, measured, supplies, before, after, spread)


def _is_measured(lamp: Lamp) -> list[bool]:
    return [lamp.socket_voltage is not None, lamp.socket_voltage_idle is not None, False]


def _lit_with(vehicle: Vehicle, lamp: Lamp) -> Sequence[Lamp]:
    """List the lamps that are lit with one, each as often as it has light sources, itself included."""
    if lamp.circuit is None:
        return [lamp] * lamp.quantity
    return _lit_on(vehicle, lamp.circuit, side_of(lamp) if functions.function(lamp.function).flashes else None)[0]


@lru_cache(maxsize=256)
def _lit_on(vehicle: Vehicle, wired: Circuit, side: str | None) -> tuple[list[Lamp], Hashable]:
    """List what is lit with the lamps of one side, or with those of none, and how many it is of each kind."""
    # A filament that serves stop and turn draws its current once.
    sources = sharing.once_each([one for one in vehicle.lamps if one.circuit is wired])
    every = [one for one in sources for _ in range(one.quantity)]
    # The turn switch lights one side, and the heavier one loads the wire for what burns beside it.
    flash = [lamps_of_side(every, one) for one in ([side] if side else SIDES)]
    lit = max(flash, key=lambda its: sum(load_of(one, None).current for one in its)) or every
    return lit, frozenset(Counter((id(one.filament), *map(id, one.candidates)) for one in lit).items())


def sort_of(vehicle: Vehicle, lamp: Lamp) -> Hashable:
    """Give what two lamps must share to be worked out as one: filament, lens, candidates, function and feed."""
    feed: tuple[Hashable, ...] = lamp.socket_voltage, lamp.socket_voltage_idle
    if lamp.circuit is not None:
        side = side_of(lamp) if functions.function(lamp.function).flashes else None
        # The other side of a turn circuit may have a lamp more.
        feed = *feed, id(lamp.circuit), _lit_on(vehicle, lamp.circuit, side)[1]
    return lamp.function, lamp.road_rule, id(lamp.lens), id(lamp.filament), tuple(map(id, lamp.candidates)), feed


def _same_or_other(lamp: Lamp, offer: Offer) -> Offer | None:
    """Pick what another lamp of the circuit is taken to hold when one holds an LED: the same, or the first on offer."""
    if offer in lamp.candidates:
        return offer
    return lamp.candidates[0] if lamp.candidates else None


@lru_cache(maxsize=64)
def filament_at(filament: LightSource, voltage: float) -> LightSource:
    """Give a filament lamp at another voltage: its light and its colour; as it is where its rating is not known."""
    rating = filament.rating
    if rating is None:
        return filament
    part = None if rating["filament"] == "single" else rating["filament"]
    made = filament_lamps.filament(
        rating["designation"], voltage, part=part, rated_voltage=rating["class_V"], name=filament.name
    )
    # What is known of this very bulb stays known of it.
    own = {belief.name: belief for belief in filament.beliefs if belief.name == BLACKENING}
    others = [belief for belief in made.beliefs if belief.name != BLACKENING]
    return replace(made, beliefs=(*others, *own.values()), beam=filament.beam)


def light_shares(
    lamp: Lamp, found: SocketVoltage, draws: int, seed: int, state: EngineState = EngineState.RUNNING
) -> dict[str, NDArray[np.float64]]:
    """Give by light source its light at the socket over that at the voltage of its claim, draw by draw.

    The filament is taken at its own socket's voltage, so that its share is what the doubt about that voltage leaves.
    """
    owner = lamp.name if lamp.circuit is None else lamp.circuit.name
    z = sampling.standard_normal(seed, f"socket of {owner}", "voltage", draws)
    off = found.spread[state] * z
    shares = {}
    old, at = load_of(lamp, None), found.before[state]
    shares[lamp.filament.name] = _light(old, at + off) / _light(old, at)
    for offer in lamp.candidates:
        # What the LED gets wanders with the battery, and hardly with the loss on the way.
        wander = np.minimum(found.spread[state], SUPPLY_SPREAD * found.supplies[state]) * z
        shares[offer.name] = _light(load_of(lamp, offer), found.after[offer.name][state] + wander)
    return shares


def assess_at_socket(vehicle: Vehicle, lamp: Lamp, draws: int, seed: int) -> Assessment:
    """Assess one lamp with what its socket gets, and the doubt about that.

    Source: as for `conversion.assess`.
    """
    at = at_socket(vehicle, lamp)
    return assess(
        filament_at(lamp.filament, round(float(at.before[EngineState.RUNNING]), 3)),
        [offer.source for offer in lamp.candidates],
        lamp.lens,
        function=lamp.function,
        rules=vehicle.held_to.name if lamp.road_rule else None,
        draws=draws,
        seed=seed,
        name=lamp.name,
        light_shares=light_shares(lamp, at, draws, seed),
        assurance=vehicle.asked.assurance,
    )


def _light(load: Load, voltage: ArrayLike) -> NDArray[np.float64]:
    """Light at a voltage over that at the rated one; an LED that is nearly dark keeps a trace, as a ratio needs one."""
    return np.maximum(loads.relative_light(load, voltage), 1e-6)


def at_other_voltages(lamp: Lamp, assessment: Assessment, found: SocketVoltage) -> tuple[LightAtVoltages, ...]:
    """Bring each ratio of light to the engine idling, and to wiring without a loss."""
    weights = assessment.garage.weights
    told = []
    for result in assessment.results:
        new = next((load_of(lamp, o) for o in lamp.candidates if o.name == result.source.name), None)
        at = found.after.get(result.source.name)
        if new is None or at is None:
            continue
        as_is = _share(lamp, result, new, at[EngineState.RUNNING], found.before[EngineState.RUNNING], assessment.lens)
        idle = _share(lamp, result, new, at[EngineState.IDLING], found.before[EngineState.IDLING], assessment.lens)
        full = found.supplies[EngineState.RUNNING]
        sound = _share(lamp, result, new, full, full, assessment.lens)
        told.append(
            LightAtVoltages(
                result.source.name,
                sampling.interval(result.draws["ratio"] * idle / as_is, weights),
                sampling.interval(result.draws["ratio"] * sound / as_is, weights),
            )
        )
    return tuple(told)


def _share(lamp: Lamp, result: Result, new: Load, at_new: float, at_old: float, lens: Lens) -> float:
    """Light of an LED over that of the filament through a lens, each at its voltage, by the typical laws."""
    old = filament_at(lamp.filament, round(float(at_old), 3))
    behind = float(photometry.luminous_flux(old.spectrum * lens.transmittance))
    return float(_light(new, at_new)) / behind
