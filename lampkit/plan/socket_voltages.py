"""What each lamp gets at its socket, with filaments and with LEDs, and what that does to their light."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits import flashers, loads
from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.flashers import Flasher, FlasherNeed
from lampkit.circuits.fuses import FuseMark
from lampkit.circuits.loads import Load, total_current
from lampkit.circuits.network import lamp_voltage
from lampkit.circuits.wiring import Wire, wire_resistance
from lampkit.conversion.assessment import Assessment, Result
from lampkit.lenses.coloured_lens import Lens
from lampkit.light import photometry
from lampkit.plan.circuit_needs import SIDES, lamps_of_side, load_of, side_of
from lampkit.rules import functions
from lampkit.sources import filament_lamps
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


def lit_together(lamps: Sequence[Lamp], old: Sequence[Load], flashing: Sequence[int]) -> list[int]:
    """Pick the lamps that draw at one time: the turn switch lights one side, and the heavier one loads the wire."""
    if not flashing:
        return list(range(len(lamps)))
    by_side = [lamps_of_side(lamps, which) for which in SIDES]
    sides = [[i for i in flashing if lamps[i] in members] for members in by_side]
    return max(sides, key=lambda which: sum(old[i].current for i in which))


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


def _lit_with(vehicle: Vehicle, lamp: Lamp) -> list[Lamp]:
    """List the lamps that are lit with one, each as often as it has light sources, itself included."""
    wired = lamp.circuit
    if wired is None:
        return [lamp] * lamp.quantity
    # A filament that serves stop and turn draws its current once.
    sources = sharing.once_each([one for one in vehicle.lamps if one.circuit is wired])
    every = [one for one in sources for _ in range(one.quantity)]
    flashing = [i for i, one in enumerate(every) if functions.function(one.function).flashes]
    if not flashing:
        return every
    if functions.function(lamp.function).flashes and side_of(lamp) is not None:
        mine = lamps_of_side(every, str(side_of(lamp)))
        return [every[i] for i in flashing if every[i] in mine]
    return [every[i] for i in lit_together(every, [load_of(one, None) for one in every], flashing)]


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
