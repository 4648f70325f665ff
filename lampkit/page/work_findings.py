"""What is shown of the work: each circuit as it is, on the way and as chosen, and the order that leads there."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from lampkit.circuits.flashers import FlasherBehaviour
from lampkit.circuits.tasks import Caution, LampTask
from lampkit.circuits.tell_tale import TellTaleVerdict
from lampkit.page.style import called
from lampkit.plan.plan import Plan, joint_name, short_name
from lampkit.plan.stages import CircuitNow, Fittings, Lights, SideNow, Stage
from lampkit.plan.work_order import BenchTest, WorkStep
from lampkit.statements import Statement, named, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp

CHANGES = (LampTask.CHANGE_LAMP, LampTask.CHANGE_LAMP_WITH_BALLAST)


class CircuitStates(NamedTuple):
    """What a circuit, or one side of it, reads as it is, on the way and as chosen."""

    name: Statement
    as_found: Statement
    on_the_way: Statement
    as_chosen: Statement


class LampChange(NamedTuple):
    """Lamps that are alike, changed one after the other: what goes in, and what their circuits read each time."""

    names: str
    short: Statement
    source: object
    back: bool
    reads: Statement


class WorkShown(NamedTuple):
    """One step as it is shown; the changes of single lamps stand together."""

    what: Statement
    why: Statement
    battery_on: bool
    expect: tuple[Statement, ...]
    lamps: tuple[LampChange, ...]
    cautions: tuple[Statement, ...]


@dataclass(frozen=True, eq=False)
class WorkFindings:
    """The whole work as it is shown."""

    found: Statement
    earth_first: Statement | None
    bench: tuple[Statement, ...]
    circuits: tuple[CircuitStates, ...]
    steps: tuple[WorkShown, ...]
    parts: tuple[Statement, ...]
    saves: tuple[Statement, ...]


def work(plan: Plan) -> WorkFindings | None:
    """Gather what is shown of the work; None where nothing is changed."""
    made = plan.work
    first, last = made.states[0], made.states[-1]
    if len(made.states) == 2 and first.fitted == last.fitted and first.earth is last.earth:
        return None
    return WorkFindings(
        found=_found(plan, first),
        earth_first=_earth_first(made.states) if made.earth else None,
        bench=_bench(made.bench) if made.earth else (),
        circuits=tuple(_circuits(made.circuits)),
        steps=tuple(_steps(plan)),
        parts=plan.parts_to_fit,
        saves=plan.savings,
    )


def _found(plan: Plan, first: Fittings) -> Statement:
    by_source: dict[str, list[str]] = {}
    for lamp in plan.vehicle.lamps:
        offer = first.fitted[lamp.name]
        if offer is not None:
            by_source.setdefault(offer.name, []).append(lamp.name)
    if not by_source:
        return say("page.work.found_filaments")
    told = [say("page.work.of_lamp", source=source, lamps=lamps) for source, lamps in by_source.items()]
    return say("page.work.found_fitted", fitted=told)


def _earth_first(states: Sequence[Fittings]) -> Statement:
    back = [name for state in states if state.stage is Stage.EARTH_CHANGED for name in state.changed]
    return say("page.work.earth_first", back=back)


# --- each circuit in three states -----------------------------------------------------------------------------------


def _circuits(by_state: Sequence[Sequence[CircuitNow]]) -> Iterable[CircuitStates]:
    for history in zip(*by_state, strict=True):
        name = history[0].circuit.name
        for sides in zip(*(now.sides for now in history), strict=True):
            between = [
                side
                for now, side in zip(history, sides, strict=True)
                if now.state.stage is Stage.ON_THE_WAY and _differs(side, sides[0]) and _differs(side, sides[-1])
            ]
            yield CircuitStates(
                circuit_name(name, sides[0]),
                reading((sides[0],)),
                reading(between) if between else say("page.work.never_mixed"),
                reading((sides[-1],)),
            )


def _differs(one: SideNow, other: SideNow) -> bool:
    return [lamp.source for lamp in one.lamps] != [lamp.source for lamp in other.lamps]


def circuit_name(circuit: str, side: SideNow) -> Statement:
    """Name a circuit, or one side of it."""
    return say("page.work.circuit", circuit=circuit, side=side.side)


def reading(sides: Sequence[SideNow]) -> Statement:
    """Say what a circuit reads and does in one state, or in several."""
    amperes, volts = [side.current for side in sides], [side.voltage for side in sides]
    more: dict[str, Statement] = {}
    for side in sides:
        for said in behaviour(side):
            more.setdefault(str(said), said)
    return say(
        "page.work.cell",
        amperes=say("page.work.amperes", low=min(amperes), high=max(amperes)),
        volts=say("page.work.volts", low=min(volts), high=max(volts)),
        more=list(more.values()),
    )


def behaviour(side: SideNow) -> list[Statement]:
    """List what is seen: first what the flasher does, then what its tell-tale and dark lamps do."""
    seen = []
    if side.flasher is not None:
        flashes = side.flasher.behaviour is FlasherBehaviour.FLASHES
        rate, other = say("page.work.flashes", rate=side.flasher.rate), named(side.flasher.behaviour)
        seen.append(rate if flashes else say("page.work.flasher", behaviour=other))
    if side.tell_tale is not None and side.tell_tale.verdict is not TellTaleVerdict.WORKS:
        seen.append(say("page.work.tell_tale", verdict=named(side.tell_tale.verdict)))
    if side.dark:
        seen.append(say("page.work.dark", lamps=side.dark))
    if side.unknown:
        seen.append(say("page.work.not_known", lamps=side.unknown))
    return seen


# --- the order ------------------------------------------------------------------------------------------------------


def _steps(plan: Plan) -> Iterable[WorkShown]:
    # What the change of the earth has told stands in the same order of work, before the lamps.
    told: set[Caution] = {caution for step in plan.work.earth for caution in step.cautions}
    if not sharing.holders(plan.vehicle.lamps):
        told.add(Caution.HOLDER_CONTACTS)  # no contacts to cross
    for changes, group in groupby(plan.work.steps, key=lambda one: one.step.task in CHANGES):
        steps = list(group)
        if changes:
            yield _one_by_one(plan, steps, told)
            continue
        for one in steps:
            off = not one.battery_on and one.step.task is not LampTask.BATTERY_ON
            yield WorkShown(one.step.what, one.step.why, not off, _expect(one), (), _new_cautions(one, told))


def _new_cautions(one: WorkStep, told: set[Caution]) -> tuple[Statement, ...]:
    new = [caution for caution in one.step.cautions if caution not in told]
    told.update(new)
    return tuple(named(caution) for caution in new)


def _bench(tests: Sequence[BenchTest]) -> tuple[Statement, ...]:
    return tuple(
        say(
            "page.work.bench",
            source=test.source,
            current=test.current,
            voltage=test.voltage,
            dark=test.lights is Lights.NO,
            unknown=test.lights is Lights.UNKNOWN,
        )
        for test in tests
    )


def _expect(one: WorkStep) -> tuple[Statement, ...]:
    said = [*_bench(one.bench)]
    said += [say("page.work.too_early", state=side.flasher.said) for side in one.too_early if side.flasher is not None]
    if one.step.task is LampTask.TRY_PARTS:
        said += [
            say("page.work.reads", name=circuit_name(now.circuit.name, side), cell=reading((side,)))
            for now in one.circuits
            for side in now.sides
        ]
    return tuple(said)


def _one_by_one(plan: Plan, steps: Sequence[WorkStep], told: set[Caution]) -> WorkShown:
    by_name = {lamp.name: lamp for lamp in plan.vehicle.lamps}

    def alike(one: WorkStep) -> tuple[object, ...]:
        lamps = [by_name[name] for name in one.state.changed]
        return tuple((lamp.function, id(one.state.fitted[lamp.name])) for lamp in lamps)

    rows = [_row(plan, [*group], by_name) for _, group in groupby(steps, key=alike)]
    cautions = [caution for one in steps for caution in _new_cautions(one, told)]
    return WorkShown(
        say("page.work.one_by_one"), steps[0].step.why, steps[0].battery_on, (), tuple(rows), tuple(cautions)
    )


def _row(plan: Plan, steps: Sequence[WorkStep], by_name: dict[str, Lamp]) -> LampChange:
    names = [name for one in steps for name in one.state.changed]
    levels: dict[str, list[str]] = {}
    for name in names:
        levels.setdefault(by_name[name].function, []).append(name)
    offers = [steps[0].state.fitted[name] for name in steps[0].state.changed]
    sources = [say("page.work.filament_back") if offer is None else called(offer.source) for offer in offers]
    readings: list[Statement] = []
    before: list[str] = []
    for one in steps:
        read = [(now, side) for now in one.circuits for side in now.sides if not _tell_tale_only(one, side)]
        circuits = [str(circuit_name(now.circuit.name, side)) for now, side in read]
        # The same circuits one step later need no name.
        named_ = [None] * len(read) if circuits == before else circuits
        told = [
            say("page.work.reading", circuit=circuit, current=side.current)
            for circuit, (_, side) in zip(named_, read, strict=True)
        ]
        readings += [say("page.work.together", readings=told)] if told else []
        before = circuits
    seen = say("page.work.look") if any(one.circuits for one in steps) else say("page.work.no_circuit")
    reads = say("page.work.then", readings=readings) if readings else seen
    joint = ", ".join(joint_name(alike) for alike in levels.values())
    return LampChange(joint, _by_number(plan, names), sources[0], offers[0] is None, reads)


def _by_number(plan: Plan, names: Sequence[str]) -> Statement:
    """Name lamps by the numbers of their kinds, where all of a kind are changed; else each by its own name."""
    told: list[object] = []
    for number, group in enumerate(plan.alike, start=1):
        members = [lamp.name for lamp in group.lamps]
        changed = [name for name in members if name in names]
        whole = short_name(members) or group.name
        if changed:
            name = whole if changed == members else joint_name(changed)
            told.append(say("page.fit.numbered", number=number, name=name))
    return say("page.work.changed", lamps=told)


def _tell_tale_only(one: WorkStep, side: SideNow) -> bool:
    """Tell whether of a flashing side only the tell-tale was changed, which its lamps do not feel."""
    changed = [lamp for lamp in side.lamps if lamp.lamp in one.state.changed]
    return side.side is not None and all(lamp.tell_tale for lamp in changed)
