"""The circuits of a vehicle before and after the conversion: current, wire, fuse, flasher and tell-tale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lampkit.circuits import circuit_change, flasher_cures, flashers, meter_readings
from lampkit.circuits.circuit_change import CircuitChange, LampCircuit
from lampkit.circuits.flashers import Flasher
from lampkit.circuits.loads import Load, LoadKind, filament_load, resistor_load, total_current
from lampkit.circuits.meter_readings import JudgedCurrent, JudgedVoltage
from lampkit.circuits.network import lamp_voltage
from lampkit.errors import InputError
from lampkit.plan import socket_voltages, stages
from lampkit.plan.socket_voltages import SIDES, load_of
from lampkit.plan.stages import CircuitNow, PartFitted
from lampkit.rules import functions, limits
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, MeterReading, Offer


@dataclass(frozen=True, eq=False)
class CircuitReport:
    """One circuit with the old lamps and with the new ones."""

    circuit: Circuit
    lamps: tuple[str, ...]
    change: CircuitChange
    words: tuple[Statement, ...]
    cures: tuple[Statement, ...]


def report(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: Sequence[tuple[CircuitPart, int]] = ()
) -> tuple[CircuitReport, ...]:
    """Tell of every circuit before and after, as `stages` works them out: with filaments, with LEDs, and with parts."""
    last = stages.as_chosen(vehicle, chosen, parts)
    states = stages.with_filaments(vehicle), replace(last, parts=frozenset[PartFitted]()), last
    return tuple(_one(vehicle, *each) for each in zip(*stages.circuits_along(vehicle, states, parts), strict=True))


def _one(vehicle: Vehicle, filaments: CircuitNow, unaided: CircuitNow, chosen: CircuitNow) -> CircuitReport:
    wired, fitted = filaments.circuit, chosen.state.fitted
    # The turn switch lights one side, and the heavier one loads the wire.
    which, was = max(enumerate(filaments.sides), key=lambda one: (one[1].side is not None, one[1].current))
    bare, now = unaided.sides[which], chosen.sides[which]
    here = _on(vehicle, wired)
    lit = [lamp for lamp in here if lamp.name in was.members]
    rest = [lamp for lamp in here if lamp.name not in was.members]  # brakes and hazard flashers, through the same fuse
    old, new = _loads(lit, {}), _loads(lit, fitted)
    beside, other = (
        [resistor_load(ohms) for side in chosen.sides if (side is now) is same for ohms in side.ballast]
        for same in (True, False)
    )
    also = _loads(rest, {}), [*_loads(rest, fitted), *other]
    if (trailer := trailer_load(wired, vehicle.running_voltage)) is not None:
        flashes = {one for side in filaments.sides if side.side is not None for one in side.members}
        behind = [trailer] * (len(SIDES) if any(lamp.name in flashes for lamp in rest) else 1)
        also = [*also[0], *behind], [*also[1], *behind]
    feed = socket_voltages.feed_of(vehicle, wired)
    change = circuit_change.before_and_after(feed, old, new, ballast=beside, also_lit=also)
    words, cures = list(change.said), list[Statement]()
    words += measured(vehicle, wired, lit)
    if len({load.kind is LoadKind.FILAMENT for load in new}) == 2:
        words.append(circuit_change.mixed_circuit(new, vehicle.running_voltage).said)
    if was.flasher is not None and bare.flasher is not None and now.flasher is not None:
        words.append(say("circuit_report.with_filaments", state=was.flasher.said))
        if bare.flasher != was.flasher:
            words.append(say("circuit_report.with_chosen", state=bare.flasher.said))
        if PartFitted.FLASHER in chosen.state.parts:
            words.append(say("circuit_report.with_new_flasher", state=now.flasher.said))
        elif now.ballast:
            words.append(say("circuit_report.with_ballast", number=len(now.ballast), state=now.flasher.said))
        unit = stages.flasher_in(vehicle, wired, chosen.state)
        words += with_trailer(feed, wired, unit, old, [*new, *beside])
        if PartFitted.FLASHER in chosen.state.parts:
            words += dead_lamp(vehicle)
        elif not now.ballast and not bare.flasher.works and not flashers.looks_alike(was.flasher, bare.flasher):
            cures += flasher_cures.cures(old, new, vehicle.running_voltage)
        words += braking_while_turning(vehicle, (filaments, chosen))
    elif wired.trailer_power is not None:
        words += with_trailer(feed, wired, None, old, new)
    names = tuple(lamp.name for lamp in lit for _ in range(lamp.quantity))
    told = [side.tell_tale for side in chosen.sides if side.tell_tale is not None]
    if told:
        state = next((one for one in told if one.cure is not None), told[0])
        words.append(state.said)
        cures += [say("circuit_report.tell_tale", cure=state.cure)] if state.cure else []
    return CircuitReport(wired, names, change, tuple(words), tuple(cures))


# --- what a circuit shares: a filament that another circuit feeds too, and its load with the lamps of a trailer ----


def trailer_load(circuit: Circuit, voltage: float) -> Load | None:
    """Describe the lamps of a trailer on a circuit as one filament; None where there is none."""
    if circuit.trailer_power is None:
        return None
    return filament_load(circuit.trailer_power, voltage, name="trailer")


def braking_while_turning(vehicle: Vehicle, states: Sequence[CircuitNow]) -> tuple[Statement, ...]:
    """Say what flows while a filament that brakes and turns is used for both: one side flashes, the other stays lit.

    Source: the turn switch gives the filament of its side to the flasher, common practice, no source.
    """
    lamps, wired, said = vehicle.lamps, states[0].circuit, dict[str, Statement]()
    for group in sharing.one_source(lamps):
        turns = [lamps[i] for i in group if functions.function(lamps[i].function).flashes and lamps[i].circuit is wired]
        brakes = [lamps[i] for i in group if functions.function(lamps[i].function).brakes]
        feed = brakes[0].circuit if turns and brakes else None
        if feed is None or feed is wired:
            continue
        side = socket_voltages.side_of(turns[0])
        left = [lamp for lamp in _on(vehicle, feed) if socket_voltages.side_of(lamp) != side]
        way = socket_voltages.feed_of(vehicle, feed)
        said.setdefault(
            feed.name,
            say(
                "circuit_report.braking_while_turning",
                stop=brakes[0].function,
                turn=turns[0].function,
                feed=feed.name,
                by_flasher=[next(one.current for one in now.sides if one.side == (side or SIDES[0])) for now in states],
                by_feed=[_drawn(way, _loads(left, now.state.fitted)) for now in states],
            ),
        )
    return tuple(said.values())


def _on(vehicle: Vehicle, circuit: Circuit) -> list[Lamp]:
    return sharing.once_each([lamp for lamp in vehicle.lamps if lamp.circuit is circuit])


def _drawn(feed: LampCircuit, together: Sequence[Load]) -> float:
    """Give what some lamps draw together at the end of their wire [A]."""
    volts = lamp_voltage(feed.supply_voltage, socket_voltages.resistance_of(feed), together) if together else 0.0
    return float(total_current(together, volts)) if together else 0.0


def with_trailer(
    feed: LampCircuit, wired: Circuit, unit: Flasher | None, old: Sequence[Load], new: Sequence[Load]
) -> tuple[Statement, ...]:
    """Say what the lamps of a trailer add to a circuit, and what its flasher does with them."""
    trailer = trailer_load(wired, feed.supply_voltage)
    if trailer is None:
        return ()
    both = [*old, trailer], [*new, trailer]
    amperes = [_drawn(feed, together) for together in both]
    added = amperes[0] - _drawn(feed, old)
    most, which = socket_voltages.limit_of_current(wired)
    over = which if amperes[1] > most else ""
    said = [say("circuit_report.trailer", watts=wired.trailer_power, added=added, amperes=amperes, over=over)]
    if unit is not None:
        ohms = socket_voltages.resistance_of(feed)
        before, after = (flashers.flasher_state(unit, one, feed.supply_voltage, resistance=ohms) for one in both)
        alike = flashers.looks_alike(before, after)
        said.append(say("circuit_report.trailer_flasher", before=before.said, after=None if alike else after.said))
    return tuple(said)


def dead_lamp(vehicle: Vehicle) -> tuple[Statement, ...]:
    """Say what the rules in force ask of the tell-tale when a turn lamp is dead, where a flasher would hide it.

    Source: the rules that each row of data/rules/flash_limits.csv names.
    """
    try:
        told = [v for v in limits.flash_limits(vehicle.held_to.name) if v.quantity == "lamp failure"]
    except InputError:
        return ()
    if not vehicle.held_to.binds:
        return ()
    tows = any(circuit.trailer_power is not None for circuit in vehicle.circuits)
    exempt = vehicle.held_to.wide_from is not None and (vehicle.wide or tows)
    return tuple(say("circuit_report.dead_lamp", asked=v.where, citation=v.citation, exempt=exempt) for v in told)


# --- what was read with a meter in a circuit, beside its lamps as they are fitted now ---------------------------------


def judged(
    vehicle: Vehicle, circuit: Circuit, reading: MeterReading, together: Sequence[Lamp]
) -> tuple[JudgedCurrent | JudgedVoltage, ...]:
    """Hold the amperes and volts of one reading against what is expected; `together` is lit where it does not say."""
    feed = socket_voltages.sound_feed(vehicle, circuit)
    lit = [lamp for lamp in vehicle.lamps if lamp.name in reading.lit] if reading.lit else list(together)
    filaments = {(lamp.holder, sharing.filament_in(lamp)) for lamp in lit if lamp.holder is not None}
    holders = {holder for holder, _ in filaments}
    beside = [lamp for lamp in vehicle.lamps if lamp.holder in holders]
    dark = [lamp for lamp in beside if (lamp.holder, sharing.filament_in(lamp)) not in filaments]
    loads, supply = _now(lit), reading.supply or vehicle.supply_voltage
    ohms = socket_voltages.resistance_of(feed)
    if not loads:
        return ()
    found = list[JudgedCurrent | JudgedVoltage]()
    if reading.current is not None:
        others = None if feed.also_feeds is None else bool(feed.also_feeds)
        volts = [abs(one.socket_voltage or 0.0) for one in vehicle.meter_readings if one.circuit == circuit.name]
        found.append(
            meter_readings.judge_current(
                reading.current,
                supply,
                loads,
                bright=_now(dark),
                resistance=ohms,
                others=others,
                fuse=circuit.fuse,
                fed=max(volts) >= meter_readings.DEAD_VOLTAGE,
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
    """Hold the voltage that the file states for the holder of a lamp, its filament lit, against sound wiring."""
    loads = _loads(together, {})
    if lamp.socket_voltage is None or lamp.circuit is None or not loads:
        return None
    feed, supply = socket_voltages.sound_feed(vehicle, lamp.circuit), vehicle.running_voltage
    ohms, known = socket_voltages.resistance_of(feed), feed.wire_known
    return meter_readings.judge_voltage(lamp.socket_voltage, supply, loads, resistance=ohms, wire_known=known)


def measured(vehicle: Vehicle, circuit: Circuit, together: Sequence[Lamp]) -> list[Statement]:
    """Say what the readings of one circuit mean, and what a voltage at a holder that is not as it should be."""
    told = list[Statement]()
    for reading in vehicle.meter_readings:
        if reading.circuit == circuit.name:
            for number, one in enumerate(judged(vehicle, circuit, reading, together)):
                at, note = reading.lamp if isinstance(one, JudgedVoltage) else None, "" if number else reading.note
                told.append(say("meter_reading.told", lit=reading.lit or (), lamp=at, words=one.said, note=note))
    lit = list(dict.fromkeys(together))
    for lamp in lit:
        found = judged_socket(vehicle, lamp, lit)
        if found is not None and found.suspects:
            told.append(say("meter_reading.told", lit=(), lamp=lamp.name, words=found.said, note=""))
    return told


def _loads(lamps: Sequence[Lamp], fitted: Mapping[str, Offer | None]) -> list[Load]:
    return [load_of(lamp, fitted.get(lamp.name)) for lamp in lamps for _ in range(lamp.quantity)]


def _now(lamps: Sequence[Lamp]) -> list[Load]:
    return _loads([*dict.fromkeys(lamps)], {lamp.name: lamp.fitted for lamp in lamps})
