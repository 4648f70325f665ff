"""What was read with a meter in the circuits of a vehicle, held against its lamps as they are fitted now."""

from collections.abc import Sequence
from itertools import chain

from lampkit.circuits import meter_readings, wiring
from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.loads import Load
from lampkit.circuits.meter_readings import JudgedCurrent, JudgedVoltage
from lampkit.plan.circuit_needs import load_of
from lampkit.statements import Statement, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import MeterReading


def judged(
    vehicle: Vehicle, feed: LampCircuit, reading: MeterReading, together: Sequence[Lamp]
) -> tuple[JudgedCurrent | JudgedVoltage, ...]:
    """Hold the amperes and volts of one reading against what is expected; `together` is lit where it does not say.

    Source: `circuits.meter_readings`; a wire or an earth of which nothing is told is assumed to be sound.
    """
    lit = [lamp for lamp in vehicle.lamps if lamp.name in reading.lit] if reading.lit else list(together)
    holders = {lamp.holder for lamp in lit if lamp.holder is not None}
    dark = [lamp for lamp in vehicle.lamps if lamp.holder in holders and lamp not in lit]
    loads, supply = _loads(lit), reading.supply or vehicle.supply_voltage
    ohms = float(wiring.wire_resistance(feed.wire)) + feed.contact_resistance + feed.earth_resistance
    if not loads:
        return ()
    found = list[JudgedCurrent | JudgedVoltage]()
    if reading.current is not None:
        others = None if feed.also_feeds is None else bool(feed.also_feeds)
        found.append(
            meter_readings.judge_current(
                reading.current, supply, loads, bright=_loads(dark), resistance=ohms, others=others
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


def said(vehicle: Vehicle, feed: LampCircuit, together: Sequence[Lamp]) -> list[Statement]:
    """Say what the readings of one circuit mean.

    Source: as for `judged`.
    """
    return [
        say("meter_reading.told", lit=reading.lit or (), lamp=reading.lamp if at_holder else None, words=one.said)
        for reading in vehicle.meter_readings
        if reading.circuit == feed.name
        for one in judged(vehicle, feed, reading, together)
        for at_holder in [isinstance(one, JudgedVoltage)]
    ]


def _loads(lamps: Sequence[Lamp]) -> list[Load]:
    found = ([load_of(lamp, lamp.fitted)] * lamp.quantity for lamp in dict.fromkeys(lamps))
    return [load for load in chain.from_iterable(found) if load is not None]
