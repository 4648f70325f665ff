"""What was read with a meter in the circuits of a vehicle, held against its lamps as they are fitted now."""

from collections.abc import Sequence
from dataclasses import replace

from lampkit.circuits import meter_readings
from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.loads import Load
from lampkit.circuits.meter_readings import JudgedCurrent, JudgedVoltage
from lampkit.plan import socket_voltages
from lampkit.plan.circuit_needs import load_of
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, MeterReading


def sound_feed(vehicle: Vehicle, circuit: Circuit) -> LampCircuit:
    """Describe the wiring of a circuit as it would be if all of it were sound, whatever was measured of it.

    Source: the vehicle file for the wire; CONTACTS and EARTH, an assumption.
    """
    unread = [replace(lamp, socket_voltage=None, socket_voltage_idle=None) for lamp in vehicle.lamps]
    return socket_voltages.feed_of(replace(vehicle, lamps=tuple(unread)), circuit)


def judged(
    vehicle: Vehicle, circuit: Circuit, reading: MeterReading, together: Sequence[Lamp]
) -> tuple[JudgedCurrent | JudgedVoltage, ...]:
    """Hold the amperes and volts of one reading against what is expected; `together` is lit where it does not say.

    Source: `circuits.meter_readings`; a wire or an earth of which nothing is told is assumed to be sound.
    """
    feed = sound_feed(vehicle, circuit)
    lit = [lamp for lamp in vehicle.lamps if lamp.name in reading.lit] if reading.lit else list(together)
    filaments = {(lamp.holder, sharing.filament_in(lamp)) for lamp in lit if lamp.holder is not None}
    holders = {holder for holder, _ in filaments}
    beside = [lamp for lamp in vehicle.lamps if lamp.holder in holders]
    dark = [lamp for lamp in beside if (lamp.holder, sharing.filament_in(lamp)) not in filaments]
    loads, supply = _loads(lit), reading.supply or vehicle.supply_voltage
    ohms = socket_voltages.resistance_of(feed)
    if not loads:
        return ()
    found = list[JudgedCurrent | JudgedVoltage]()
    if reading.current is not None:
        others = None if feed.also_feeds is None else bool(feed.also_feeds)
        found.append(
            meter_readings.judge_current(
                reading.current, supply, loads, bright=_loads(dark), resistance=ohms, others=others, fuse=circuit.fuse
            )
        )
    if reading.socket_voltage is not None:
        found.append(
            meter_readings.judge_voltage(
                reading.socket_voltage,
                supply,
                loads,
                resistance=ohms,
                wire_known=feed.wire_known,
                current=reading.current,
            )
        )
    return tuple(found)


def judged_socket(vehicle: Vehicle, lamp: Lamp, together: Sequence[Lamp]) -> JudgedVoltage | None:
    """Hold the voltage that the file states for the holder of a lamp, its filament lit, against sound wiring.

    Source: as for `judged`.
    """
    loads = [load for one in together for load in [load_of(one, None)] * one.quantity]
    if lamp.socket_voltage is None or lamp.circuit is None or not loads:
        return None
    feed, supply = sound_feed(vehicle, lamp.circuit), vehicle.running_voltage
    ohms, known = socket_voltages.resistance_of(feed), feed.wire_known
    return meter_readings.judge_voltage(lamp.socket_voltage, supply, loads, resistance=ohms, wire_known=known)


def said(vehicle: Vehicle, circuit: Circuit, together: Sequence[Lamp]) -> list[Statement]:
    """Say what the readings of one circuit mean, and what a voltage at a holder that is not as it should be.

    Source: as for `judged`.
    """
    told = list[Statement]()
    for reading in vehicle.meter_readings:
        if reading.circuit == circuit.name:
            for one in judged(vehicle, circuit, reading, together):
                at = reading.lamp if isinstance(one, JudgedVoltage) else None
                told.append(say("meter_reading.told", lit=reading.lit or (), lamp=at, words=one.said))
    lit = list(dict.fromkeys(together))
    for lamp in lit:
        found = judged_socket(vehicle, lamp, lit)
        if found is not None and found.suspects:
            told.append(say("meter_reading.told", lit=(), lamp=lamp.name, words=found.said))
    return told


def _loads(lamps: Sequence[Lamp]) -> list[Load]:
    return [load_of(lamp, lamp.fitted) for lamp in dict.fromkeys(lamps) for _ in range(lamp.quantity)]
