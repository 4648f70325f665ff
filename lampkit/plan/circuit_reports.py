"""The circuits of a vehicle before and after the conversion: current, wire, fuse, flasher and tell-tale."""

from collections.abc import Mapping
from dataclasses import dataclass

from lampkit.circuits import ballast_resistor, circuit_change, flashers, tell_tale
from lampkit.circuits.circuit_change import CircuitChange
from lampkit.circuits.loads import Load, LoadKind, filament_load, resistor_load
from lampkit.circuits.wiring import Wire
from lampkit.plan.circuit_needs import SIDES, TELL_TALE_POWER, fitted_flasher, lamps_of_side, load_of, side_of
from lampkit.rules import functions
from lampkit.statements import Statement
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

CONTACTS, EARTH = 0.05, 0.05
"""Resistance of switch, fuse and joints together, and of a sound earth [ohm]. Source: an assumption."""

WIRE_LENGTH, WIRE_AREA = 6.0, 1.0
"""Length [m] and section [mm2] taken where the file states none. Source: an assumption."""


@dataclass(frozen=True, eq=False)
class CircuitReport:
    """One circuit with the old lamps and with the new ones."""

    circuit: Circuit
    lamps: tuple[str, ...]
    change: CircuitChange | None
    words: tuple[Statement | str, ...]
    cures: tuple[Statement | str, ...]


def report(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: tuple[tuple[CircuitPart, int], ...] = ()
) -> tuple[CircuitReport, ...]:
    """Work out every circuit before and after.

    Source: Kirchhoff's laws; the models of `circuit`, `flasher`, `ballast` and `telltale`.
    """
    found = []
    for wired in vehicle.circuits:
        lamps = [lamp for lamp in vehicle.lamps if lamp.circuit is wired for _ in range(lamp.quantity)]
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
    old: list[Load] = []
    new: list[Load] = []
    for lamp in lamps:
        before, after = load_of(lamp, None), load_of(lamp, chosen.get(lamp.name))
        if before is None or after is None:
            unknown = lamp.filament.name if before is None else chosen[lamp.name].name  # type: ignore[union-attr]
            missing = f"The watts of '{unknown}' are not known, so this circuit was not worked out."
            return CircuitReport(wired, names, None, (missing,), ())
        old.append(before)
        new.append(after)
    flashing = [i for i, lamp in enumerate(lamps) if functions.function(lamp.function).flashes]
    counted = list(range(len(lamps)))
    if wired.flasher is not None and flashing:
        # The turn switch lights one side at a time: the heavier one is what the wire carries.
        by_side = [lamps_of_side(lamps, which) for which in SIDES]
        sides = [[i for i in flashing if lamps[i] in members] for members in by_side]
        counted = max(sides, key=lambda which: sum(old[i].current for i in which))
    feed = circuit_change.LampCircuit(
        name=wired.name,
        supply_voltage=vehicle.running_voltage,
        wire=Wire(f"{wired.wire_area or WIRE_AREA:g} mm2", wired.wire_length or WIRE_LENGTH),
        contact_resistance=CONTACTS,
        earth_resistance=EARTH,
        fuse=wired.fuse,
        switch_rating=wired.switch_rating,
    )
    change = circuit_change.before_and_after(feed, [old[i] for i in counted], [new[i] for i in counted])
    words: list[Statement | str] = list(change.said)
    cures: list[Statement | str] = []
    if len({new[i].kind is LoadKind.FILAMENT for i in counted}) == 2:
        words.append(circuit_change.mixed_circuit([new[i] for i in counted], vehicle.running_voltage).said)
    if wired.flasher is not None and flashing:
        said, cured = _flasher(vehicle, wired, lamps, [old[i] for i in counted], [new[i] for i in counted], parts)
        words += said
        cures += cured
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
) -> tuple[list[str], list[Statement | str]]:
    volts = vehicle.running_voltage
    unit = fitted_flasher(wired, lamps, vehicle.supply_voltage)
    assert unit is not None, "called for a circuit with a flasher"
    before = flashers.flasher_state(unit, old, volts, resistance=CONTACTS + EARTH)
    after = flashers.flasher_state(unit, new, volts, resistance=CONTACTS + EARTH)
    said = [f"With the filaments {before}.", f"With what is chosen {after}."]
    if any(part.kind == "load-independent flasher" for part, _ in parts):
        other = flashers.flasher("load-independent", supply_voltage=vehicle.supply_voltage)
        said.append(f"With the new unit {flashers.flasher_state(other, new, volts, resistance=CONTACTS + EARTH)}.")
        return said, []
    # Both sides get the same, half of the resistors each.
    resistors = [
        resistor_load(float(part.resistance or 0.0), name=part.name)
        for part, number in parts
        if part.kind == "ballast resistor"
        for _ in range(number // len(SIDES))
    ]
    if resistors:
        cured = flashers.flasher_state(unit, [*new, *resistors], volts, resistance=CONTACTS + EARTH)
        said.append(f"With {len(resistors)} ballast resistors a side {cured}.")
        return said, []
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
) -> tuple[list[str], list[Statement | str]]:
    if any(part.kind == "pair of diodes" for part, _ in parts):
        return ["The pair of diodes feeds the tell-tale from each side; its other side goes to earth."], []
    own = [lamp for lamp in lamps if functions.function(lamp.function).tell_tale]
    fitted = load_of(own[0], chosen.get(own[0].name)) if own else None
    if fitted is None:
        watts = wired.tell_tale_power or TELL_TALE_POWER
        fitted = filament_load(watts, vehicle.running_voltage, name="tell-tale")
    state = tell_tale.tell_tale_state(vehicle.running_voltage, fitted, far)
    return [str(state.said)], [f"Tell-tale: {state.cure}"] if state.cure else []
