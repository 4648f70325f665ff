"""The safe order of work from the vehicle as found to the vehicle as chosen, and what each circuit reads on the way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from lampkit.circuits import charging, loads, tasks
from lampkit.circuits.loads import LoadKind
from lampkit.circuits.tasks import LampTask, Need, Step, WorkState
from lampkit.plan import socket_voltages, stages
from lampkit.plan.stages import CircuitNow, Fittings, PartFitted, SideNow, Stage
from lampkit.vehicle.vehicle import Vehicle
from lampkit.vehicle.vehicle_parts import CircuitPart, Offer


@dataclass(frozen=True)
class BenchTest:
    """What a light source draws on a bench, its shell to the pole that lies on earth, through a fused lead."""

    source: str
    voltage: float
    current: float
    lights: stages.Lights


@dataclass(frozen=True, eq=False)
class WorkStep:
    """One step: the task, whether the battery is on while it is done, and the state of the vehicle once it is done.

    `circuits` are those whose lamps or parts the step changes, as they are then; `bench` is filled for the bench test,
    `too_early` for the fitting of a flasher: what its circuit would do if a lamp were changed before it.
    """

    step: Step
    battery_on: bool
    state: Fittings
    circuits: tuple[CircuitNow, ...] = ()
    bench: tuple[BenchTest, ...] = ()
    too_early: tuple[SideNow, ...] = ()


@dataclass(frozen=True, eq=False)
class Work:
    """The whole work: its states with their circuits, the steps of the earth and those of the lamps."""

    states: tuple[Fittings, ...]
    circuits: tuple[tuple[CircuitNow, ...], ...]
    earth: tuple[Step, ...]
    steps: tuple[WorkStep, ...]
    bench: tuple[BenchTest, ...]

    @property
    def every(self) -> tuple[Step, ...]:
        """List all steps in their order, numbered through."""
        told = [*self.earth, *(one.step for one in self.steps)]
        return tuple(step._replace(number=number) for number, step in enumerate(told, start=1))


def work(vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: Sequence[tuple[CircuitPart, int]] = ()) -> Work:
    """Order the work on a vehicle, and work out its circuits in every state.

    Source: data/circuit/conversion_order.csv and data/circuit/lamp_order.csv; the circuits as `stages` has them.
    """
    states = stages.states(vehicle, chosen, parts)
    circuits = stages.circuits_along(vehicle, states, parts)
    earth = tasks.order_of_work(charging.GeneratorKind(vehicle.generator))
    steps = _steps(vehicle, states, circuits, parts)
    return Work(states, circuits, earth if vehicle.earth_changes else (), steps, bench_tests(vehicle, states[-1]))


def needs_of(vehicle: Vehicle, states: Sequence[Fittings]) -> frozenset[Need]:
    """Tell which tasks a work needs."""
    last, found = states[-1], set[Need]()
    if not vehicle.earth_changes:
        found |= {Need.EARTH_STAYS, Need.NO_BATTERY if vehicle.without_battery else Need.POLES}
    if last.parts - {PartFitted.BALLAST}:
        found.add(Need.PARTS)
    for part, need in ((PartFitted.FLASHER, Need.FLASHER), (PartFitted.DIODES, Need.DIODES)):
        if part in last.parts:
            found.add(need)
    if any(state.changed for state in states if state.stage is not Stage.EARTH_CHANGED):
        found |= {Need.LAMPS, Need.BALLAST}
    return frozenset(found)


def _steps(
    vehicle: Vehicle,
    states: Sequence[Fittings],
    circuits: Sequence[tuple[CircuitNow, ...]],
    parts: Sequence[tuple[CircuitPart, int]],
) -> tuple[WorkStep, ...]:
    order = tasks.order_of_lamps(needs_of(vehicle, states))
    by_task = {step.task: step for step in order}
    found, battery_on = list[WorkStep](), True
    place = next((i for i, state in enumerate(states) if state.stage is Stage.EARTH_CHANGED), 0)
    for step in order:
        if step.task is LampTask.CHANGE_LAMP_WITH_BALLAST:
            continue  # told where a lamp gets one
        if step.task is LampTask.CHANGE_LAMP:
            for (_, before), (number, after) in pairwise(enumerate(circuits)):
                if states[number].stage in (Stage.ON_THE_WAY, Stage.AS_CHOSEN) and states[number].changed:
                    more = _resistors(after) > _resistors(before)
                    task = by_task[LampTask.CHANGE_LAMP_WITH_BALLAST] if more else step
                    touched = _touched(vehicle, states[number], after)
                    found.append(WorkStep(task, battery_on, states[number], touched))
                    place = number
            continue
        if step.task is LampTask.TRY_PARTS:
            place = next(i for i, state in enumerate(states) if state.stage is Stage.PARTS_FITTED)
        told = WorkStep(step, battery_on, states[place])
        if step.task in (LampTask.MEASURE_AS_FOUND, LampTask.TRY_ALL):
            told = replace(told, circuits=circuits[place])
        elif step.task is LampTask.BENCH_TEST_EACH:
            told = replace(told, bench=bench_tests(vehicle, states[-1]))
            if not told.bench:
                continue  # nothing new goes in
        elif step.task is LampTask.FIT_FLASHER:
            told = replace(told, too_early=_too_early(vehicle, states, parts))
        elif step.task is LampTask.TRY_PARTS:
            told = replace(told, circuits=_flashing(circuits[place]))
        found.append(told)
        battery_on = next((one.holds for one in step.after if one.state is WorkState.BATTERY_CONNECTED), battery_on)
    numbered = enumerate(found, start=1)
    return tuple(replace(told, step=told.step._replace(number=number)) for number, told in numbered)


def _resistors(circuits: Sequence[CircuitNow]) -> int:
    return sum(len(side.ballast) for circuit in circuits for side in circuit.sides)


def _touched(vehicle: Vehicle, state: Fittings, circuits: Sequence[CircuitNow]) -> tuple[CircuitNow, ...]:
    """Pick what a change of lamps alters: their circuits, and of a turn circuit the side on which they are."""
    changed = [lamp for lamp in vehicle.lamps if lamp.name in state.changed]
    found = []
    for circuit in circuits:
        own = [lamp for lamp in changed if lamp.circuit is circuit.circuit]
        sides = (
            tuple(side for side in circuit.sides if any({lamp.name for lamp in own} & {one.lamp for one in side.lamps}))
            if own
            else ()
        )
        if own:
            found.append(replace(circuit, sides=sides))
    return tuple(found)


def _flashing(circuits: Sequence[CircuitNow]) -> tuple[CircuitNow, ...]:
    return tuple(circuit for circuit in circuits if circuit.circuit.flasher is not None)


def _too_early(
    vehicle: Vehicle, states: Sequence[Fittings], parts: Sequence[tuple[CircuitPart, int]]
) -> tuple[SideNow, ...]:
    """Work out what the flasher that is there would do, were the first flashing lamp changed before it."""
    on_the_way = [state for state in states if state.stage in (Stage.ON_THE_WAY, Stage.AS_CHOSEN)]
    held = replace(vehicle, circuits=tuple(wired for wired in vehicle.circuits if wired.flasher is not None))
    flashing = {lamp.name for lamp in vehicle.lamps if lamp.circuit in held.circuits}
    for state in (one for one in on_the_way if flashing & set(one.changed)):
        early = replace(state, parts=frozenset[PartFitted]())
        touched = _touched(vehicle, state, stages.circuits_in(held, early, parts))
        sides = [
            side
            for circuit in touched
            for side in circuit.sides
            if side.flasher is not None and any(one.lamp in state.changed and not one.tell_tale for one in side.lamps)
        ]
        if sides:
            return tuple(sides)
    return ()


def bench_tests(vehicle: Vehicle, chosen: Fittings) -> tuple[BenchTest, ...]:
    """List each light source that is to be fitted with what it draws at the voltage of the supply."""
    found: dict[str, BenchTest] = {}
    for lamp in vehicle.lamps:
        offer = chosen.fitted[lamp.name]
        load = socket_voltages.load_of(lamp, offer)
        if offer is None or vehicle.has_already(lamp, offer) or load.kind is LoadKind.FILAMENT or offer.name in found:
            continue
        volts = vehicle.supply_voltage * BENCH_SHARE
        amperes = float(loads.load_current(load, volts))
        found[offer.name] = BenchTest(offer.name, volts, amperes, stages.lights(offer, chosen.earth))
    return tuple(found.values())


BENCH_SHARE = 1.05
"""Voltage of a rested battery over the nominal supply [1]. Source: common practice, no source: 12.6 V."""
