"""The circuits of a vehicle before and after the conversion: current, wire, fuse, flasher and tell-tale."""

from collections.abc import Mapping
from dataclasses import dataclass

from lampkit.circuits import ballast_resistor, circuit_change, flashers, tell_tale
from lampkit.circuits.circuit_change import CircuitChange
from lampkit.circuits.loads import Load, LoadKind, filament_load, resistor_load
from lampkit.plan import meter_readings, shared_feeds
from lampkit.plan.circuit_needs import SIDES, TELL_TALE_POWER, fitted_flasher, load_of, side_of
from lampkit.plan.socket_voltages import CONTACTS, EARTH, feed_of, lit_together
from lampkit.rules import functions
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer


@dataclass(frozen=True, eq=False)
class CircuitReport:
    """One circuit with the old lamps and with the new ones."""

    circuit: Circuit
    lamps: tuple[str, ...]
    change: CircuitChange | None
    words: tuple[Statement, ...]
    cures: tuple[Statement, ...]


def report(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: tuple[tuple[CircuitPart, int], ...] = ()
) -> tuple[CircuitReport, ...]:
    """Work out every circuit before and after.

    Source: Kirchhoff's laws; the models of `circuit`, `flasher`, `ballast` and `telltale`.
    """
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
    loads = [(load_of(lamp, None), load_of(lamp, chosen.get(lamp.name))) for lamp in lamps]
    for lamp, (before, after) in zip(lamps, loads, strict=True):
        if before is None or after is None:
            offer = chosen.get(lamp.name)
            unknown = lamp.filament.name if before is None or offer is None else offer.name
            return CircuitReport(wired, names, None, (say("circuit_report.no_watts", name=unknown),), ())
    old, new = [before for before, _ in loads if before], [after for _, after in loads if after]
    flashing = [i for i, lamp in enumerate(lamps) if functions.function(lamp.function).flashes]
    counted = lit_together(wired, lamps, old, flashing)
    lit_old, lit_new = [old[i] for i in counted], [new[i] for i in counted]
    rest = [i for i in flashing if i not in counted]  # hazard flashers light both sides through the same fuse
    also_lit = ([old[i] for i in rest], [new[i] for i in rest])
    if (trailer := shared_feeds.trailer_load(wired, vehicle.running_voltage)) is not None:
        behind = [trailer] * (len(SIDES) if rest else 1)
        also_lit = ([*also_lit[0], *behind], [*also_lit[1], *behind])
    change = circuit_change.before_and_after(feed_of(vehicle, wired), lit_old, lit_new, also_lit=also_lit)
    words, cures = list(change.said), list[Statement]()
    words += meter_readings.said(vehicle, wired, [lamps[i] for i in counted])
    if len({load.kind is LoadKind.FILAMENT for load in lit_new}) == 2:
        words.append(circuit_change.mixed_circuit(lit_new, vehicle.running_voltage).said)
    if wired.flasher is not None and flashing:
        said, cured = _flasher(vehicle, wired, lamps, lit_old, lit_new, parts)
        words += said
        cures += cured
        words += shared_feeds.braking_while_turning(vehicle, wired, chosen)
    elif wired.trailer_power is not None:
        words += shared_feeds.with_trailer(vehicle, wired, None, lit_old, lit_new, CONTACTS + EARTH)
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
    said = [
        say("circuit_report.with_filaments", state=before.said),
        say("circuit_report.with_chosen", state=after.said),
    ]
    if any(part.kind == "load-independent flasher" for part, _ in parts):
        other = flashers.flasher("load-independent", supply_voltage=vehicle.supply_voltage)
        cured = flashers.flasher_state(other, new, volts, resistance=ohms)
        said.append(say("circuit_report.with_new_flasher", state=cured.said))
        said += shared_feeds.with_trailer(vehicle, wired, other, old, new, ohms)
        return [*said, *shared_feeds.dead_lamp(vehicle)], []
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
        return [*said, *shared_feeds.with_trailer(vehicle, wired, unit, old, [*new, *resistors], ohms)], []
    said += shared_feeds.with_trailer(vehicle, wired, unit, old, new, ohms)
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
    fitted = load_of(own[0], chosen.get(own[0].name)) if own else None
    if fitted is None:
        watts = wired.tell_tale_power or TELL_TALE_POWER
        fitted = filament_load(watts, vehicle.running_voltage, name="tell-tale")
    state = tell_tale.tell_tale_state(vehicle.running_voltage, fitted, far)
    return [state.said], [say("circuit_report.tell_tale", cure=state.cure)] if state.cure else []
