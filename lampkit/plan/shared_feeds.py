"""What a circuit shares: a filament that another circuit feeds too, and its load with the lamps of a trailer."""

from collections.abc import Mapping, Sequence

from lampkit.circuits import flashers
from lampkit.circuits.flashers import Flasher
from lampkit.circuits.loads import Load, filament_load
from lampkit.errors import InputError
from lampkit.plan import circuit_needs
from lampkit.rules import functions, limits
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, Offer


def trailer_load(circuit: Circuit, voltage: float) -> Load | None:
    """Describe the lamps of a trailer on a circuit as one filament; None where there is none.

    Source: `loads.filament_load`; its watts are those at the running voltage.
    """
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
    """Say what the lamps of a trailer add to a circuit, and what its flasher does with them.

    Source: Kirchhoff's laws; the models of `flashers`.
    """
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
