"""The circuits of a vehicle before and after the conversion: current, wire, fuse, flasher and tell-tale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lampkit.circuits import ballast_resistor, circuit_change, flashers, meter_readings, tell_tale
from lampkit.circuits.circuit_change import CircuitChange
from lampkit.circuits.flashers import Flasher
from lampkit.circuits.loads import Load, LoadKind, filament_load, resistor_load
from lampkit.circuits.meter_readings import JudgedCurrent, JudgedVoltage
from lampkit.errors import InputError
from lampkit.plan import circuit_needs, socket_voltages
from lampkit.plan.circuit_needs import SIDES, TELL_TALE_POWER, fitted_flasher, load_of, side_of
from lampkit.plan.socket_voltages import CONTACTS, EARTH, feed_of, lit_together
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
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: tuple[tuple[CircuitPart, int], ...] = ()
) -> tuple[CircuitReport, ...]:
    """Work out every circuit before and after."""
    found = []
    for wired in vehicle.circuits:
        here = sharing.once_each([lamp for lamp in vehicle.lamps if lamp.circuit is wired])
        lamps = [lamp for lamp in here for _ in range(lamp.quantity)]
        if lamps:
            found.append(_one(vehicle, wired, lamps, chosen, [(part, number) for part, number in parts if number > 0]))
    return tuple(found)


def _one(
    vehicle: Vehicle,
    wired: Circuit,
    lamps: list[Lamp],
    chosen: Mapping[str, Offer | None],
    parts: list[tuple[CircuitPart, int]],
) -> CircuitReport:
    names = tuple(lamp.name for lamp in lamps)
    old, new = [load_of(lamp, None) for lamp in lamps], [load_of(lamp, chosen.get(lamp.name)) for lamp in lamps]
    flashing = [i for i, lamp in enumerate(lamps) if functions.function(lamp.function).flashes]
    counted = lit_together(lamps, old, flashing)
    lit_old, lit_new = [old[i] for i in counted], [new[i] for i in counted]
    rest = [i for i in range(len(lamps)) if i not in counted]  # brakes and hazard flashers, through the same fuse
    also_lit = ([old[i] for i in rest], [new[i] for i in rest])
    if (trailer := trailer_load(wired, vehicle.running_voltage)) is not None:
        behind = [trailer] * (len(SIDES) if any(i in flashing for i in rest) else 1)
        also_lit = ([*also_lit[0], *behind], [*also_lit[1], *behind])
    change = circuit_change.before_and_after(feed_of(vehicle, wired), lit_old, lit_new, also_lit=also_lit)
    words, cures = list(change.said), list[Statement]()
    words += measured(vehicle, wired, [lamps[i] for i in counted])
    if len({load.kind is LoadKind.FILAMENT for load in lit_new}) == 2:
        words.append(circuit_change.mixed_circuit(lit_new, vehicle.running_voltage).said)
    if wired.flasher is not None and flashing:
        said, cured = _flasher(vehicle, wired, lamps, lit_old, lit_new, parts)
        words += said
        cures += cured
        words += braking_while_turning(vehicle, wired, chosen)
    elif wired.trailer_power is not None:
        words += with_trailer(vehicle, wired, None, lit_old, lit_new, CONTACTS + EARTH)
    if wired.tell_tale == "single between sides" and flashing:
        far = [new[i] for i in flashing if side_of(lamps[i]) == "left"] or [new[i] for i in flashing]
        said, cured = _tell_tale(vehicle, wired, lamps, far, chosen, parts)
        words += said
        cures += cured
    return CircuitReport(wired, tuple(names[i] for i in counted), change, tuple(words), tuple(cures))


def _flasher(
    vehicle: Vehicle,
    wired: Circuit,
    lamps: list[Lamp],
    old: list[Load],
    new: list[Load],
    parts: list[tuple[CircuitPart, int]],
) -> tuple[list[Statement], list[Statement]]:
    volts, ohms = vehicle.running_voltage, CONTACTS + EARTH
    unit = fitted_flasher(wired, lamps, vehicle.supply_voltage)
    assert unit is not None, "called for a circuit with a flasher"
    before = flashers.flasher_state(unit, old, volts, resistance=ohms)
    after = flashers.flasher_state(unit, new, volts, resistance=ohms)
    said = [say("circuit_report.with_filaments", state=before.said)]
    if after != before:
        said.append(say("circuit_report.with_chosen", state=after.said))
    if any(part.kind == "load-independent flasher" for part, _ in parts):
        other = flashers.flasher("load-independent", supply_voltage=vehicle.supply_voltage)
        cured = flashers.flasher_state(other, new, volts, resistance=ohms)
        said.append(say("circuit_report.with_new_flasher", state=cured.said))
        said += with_trailer(vehicle, wired, other, old, new, ohms)
        return [*said, *dead_lamp(vehicle)], []
    # Both sides get the same, half of the resistors each.
    resistors = [
        resistor_load(float(part.resistance or 0.0), name=part.name)
        for part, number in parts
        if part.kind == "ballast resistor"
        for _ in range(number // len(SIDES))
    ]
    if resistors:
        cured = flashers.flasher_state(unit, [*new, *resistors], volts, resistance=ohms)
        said.append(say("circuit_report.with_ballast", number=len(resistors), state=cured.said))
        return [*said, *with_trailer(vehicle, wired, unit, old, [*new, *resistors], ohms)], []
    said += with_trailer(vehicle, wired, unit, old, new, ohms)
    if flashers.looks_alike(before, after):
        return said, []
    return said, list(ballast_resistor.cures(old, new, volts))


def _tell_tale(
    vehicle: Vehicle,
    wired: Circuit,
    lamps: list[Lamp],
    far: list[Load],
    chosen: Mapping[str, Offer | None],
    parts: list[tuple[CircuitPart, int]],
) -> tuple[list[Statement], list[Statement]]:
    if any(part.kind == "pair of diodes" for part, _ in parts):
        return [], []  # what they are told to do stands among the parts
    own = [lamp for lamp in lamps if functions.function(lamp.function).tell_tale]
    watts = wired.tell_tale_power or TELL_TALE_POWER
    bulb = filament_load(watts, vehicle.running_voltage, name="tell-tale")
    fitted = load_of(own[0], chosen.get(own[0].name)) if own else bulb
    state = tell_tale.tell_tale_state(vehicle.running_voltage, fitted, far)
    return [state.said], [say("circuit_report.tell_tale", cure=state.cure)] if state.cure else []


# --- what a circuit shares: a filament that another circuit feeds too, and its load with the lamps of a trailer ----


def trailer_load(circuit: Circuit, voltage: float) -> Load | None:
    """Describe the lamps of a trailer on a circuit as one filament; None where there is none."""
    if circuit.trailer_power is None:
        return None
    return filament_load(circuit.trailer_power, voltage, name="trailer")


def braking_while_turning(
    vehicle: Vehicle, wired: Circuit, chosen: Mapping[str, Offer | None]
) -> tuple[Statement, ...]:
    """Say what flows while a filament that brakes and turns is used for both: one side flashes, the other stays lit.

    Source: the turn switch gives the filament of its side to the flasher, common practice, no source.
    """
    lamps, said = vehicle.lamps, dict[str, Statement]()
    for group in sharing.one_source(lamps):
        turns = [lamps[i] for i in group if functions.function(lamps[i].function).flashes and lamps[i].circuit is wired]
        brakes = [lamps[i] for i in group if functions.function(lamps[i].function).brakes]
        feed = brakes[0].circuit if turns and brakes else None
        if feed is None or feed is wired:
            continue
        left = [lamp for lamp in _on(vehicle, feed) if circuit_needs.side_of(lamp) != circuit_needs.side_of(turns[0])]
        by_flasher = circuit_needs.lamps_of_side(_on(vehicle, wired), circuit_needs.side_of(turns[0]) or "left")
        said.setdefault(
            feed.name,
            say(
                "circuit_report.braking_while_turning",
                stop=brakes[0].function,
                turn=turns[0].function,
                feed=feed.name,
                by_flasher=_amperes(vehicle, by_flasher, chosen),
                by_feed=_amperes(vehicle, left, chosen),
            ),
        )
    return tuple(said.values())


def _on(vehicle: Vehicle, circuit: Circuit) -> list[Lamp]:
    return sharing.once_each([lamp for lamp in vehicle.lamps if lamp.circuit is circuit])


def _amperes(vehicle: Vehicle, lamps: Sequence[Lamp], chosen: Mapping[str, Offer | None]) -> tuple[float, float]:
    """Give what some lamps draw with their filaments and with what is chosen [A]."""
    volts = vehicle.running_voltage
    old = sum(circuit_needs.current_of(lamp, None, volts) for lamp in lamps)
    return old, sum(circuit_needs.current_of(lamp, chosen.get(lamp.name), volts) for lamp in lamps)


def with_trailer(
    vehicle: Vehicle, wired: Circuit, unit: Flasher | None, old: Sequence[Load], new: Sequence[Load], ohms: float
) -> tuple[Statement, ...]:
    """Say what the lamps of a trailer add to a circuit, and what its flasher does with them."""
    volts = vehicle.running_voltage
    trailer = trailer_load(wired, volts)
    if trailer is None:
        return ()
    amperes = tuple(sum(load.current for load in (*loads, trailer)) for loads in (old, new))
    most, which = circuit_needs.limit_of_current(wired)
    over = which if amperes[1] > most else ""
    said = [say("circuit_report.trailer", watts=wired.trailer_power, added=trailer.current, amperes=amperes, over=over)]
    if unit is not None:
        states = [flashers.flasher_state(unit, [*loads, trailer], volts, resistance=ohms) for loads in (old, new)]
        after = None if flashers.looks_alike(*states) else states[1].said
        said.append(say("circuit_report.trailer_flasher", before=states[0].said, after=after))
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
    """Hold the voltage that the file states for the holder of a lamp, its filament lit, against sound wiring."""
    loads = [load for one in together for load in [load_of(one, None)] * one.quantity]
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
