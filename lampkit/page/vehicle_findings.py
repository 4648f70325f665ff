"""What is shown of the whole vehicle: circuits, ballast, a change of the earth, the work."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

import numpy as np

from lampkit.circuits import charging, earth, flasher_cures, tasks
from lampkit.circuits.earth import Earth, PolarityBound
from lampkit.circuits.flashers import FlasherBehaviour
from lampkit.circuits.fuses import FuseVerdict
from lampkit.circuits.tasks import Caution, LampTask, Step, WorkState
from lampkit.circuits.tell_tale import TellTaleVerdict
from lampkit.page.lamp_findings import Told
from lampkit.page.style import called
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.plan import Plan, joint_name, short_name
from lampkit.plan.stages import CircuitNow, Fittings, Lights, SideNow, Stage
from lampkit.plan.work_order import BenchTest, WorkStep
from lampkit.rules import functions
from lampkit.statements import Statement, named, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp

IN_TABLE = ("circuit.load", "circuit.drop")
"""What is said of a circuit and stands in the table of the circuits."""


@dataclass(frozen=True, eq=False)
class CircuitFindings:
    """One circuit before and after, and what its numbers mean without those that stand in the table."""

    report: CircuitReport
    words: tuple[object, ...]
    cautions: tuple[Statement, ...]


class LampChange(NamedTuple):
    """Lamps that are alike, changed one after the other: what goes in, and what their circuits read each time."""

    names: str
    short: Statement
    source: object
    back: bool
    reads: Statement


class WorkShown(NamedTuple):
    """One step of the work: whether the battery is on while it is done, and the cautions not yet told.

    The changes of single lamps stand together.
    """

    what: Statement
    why: Statement
    battery_on: bool
    cautions: tuple[Statement, ...] = ()
    expect: tuple[Statement, ...] = ()
    lamps: tuple[LampChange, ...] = ()


class BoundPart(NamedTuple):
    """A part that is bound to the polarity, or may be, and what is done with it."""

    part: str
    bound: Statement
    what: Statement


@dataclass(frozen=True)
class EarthFindings:
    """What the earth of today or of tomorrow means, and the order of work where it is to be changed."""

    now: Statement
    after: Statement
    words: tuple[object, ...]
    parts: tuple[BoundPart, ...]
    order: Statement
    steps: tuple[WorkShown, ...]


def cautions(plan: Plan) -> tuple[Told, ...]:
    """List the cautions for work on a vehicle's lamps, each kind of work with its own.

    Source: data/circuit/cautions.csv; common practice, no source, for the rest.
    """
    found = [
        Told(say("page.cautions.glare"), say("page.cautions.glare_words")),
        Told(say("page.cautions.eyes"), say("page.cautions.eyes_words")),
    ]
    if not plan.vehicle.without_battery:
        found += _of_work(say("page.cautions.battery"), "battery")
        found += _of_work(say("page.cautions.charging"), "charging", leave=(Caution.DYNAMO_TOUCH,))
    found.append(Told(say("page.cautions.measuring"), say("page.cautions.measuring_words")))
    found += _of_work(say("page.cautions.bench"), "bench")
    if sharing.holders(plan.vehicle.lamps):
        found += _of_work(say("page.cautions.holders"), "dual holder")
    found.append(Told(say("page.cautions.driving"), say("page.cautions.driving_words")))
    found += _of_work(say("page.cautions.road"), "road", leave=(Caution.SPARE_FILAMENTS,))
    return tuple(found)


def _of_work(heading: Statement, where: str, leave: Sequence[Caution] = ()) -> list[Told]:
    words = [named(one) for one in tasks.cautions(where) if one not in leave]
    return [Told(heading, say("page.cautions.together", words=words))]


def hazards_of(plan: Plan, report: CircuitReport) -> tuple[Caution, ...]:
    """List the cautions whose hazard is on a circuit: its fuse, its flasher, the ballast resistors on it."""
    found = list(report.change.fuse_state.cautions)
    if report.circuit.name not in {lamp.circuit.name for lamp in changed(plan) if lamp.circuit is not None}:
        found = [one for one in found if one is not Caution.SPARE_FILAMENTS]
    if report.circuit.flasher is not None:
        if flashing_changes(plan, report.circuit.name):
            found.append(Caution.HAZARDS)
        kinds = {part.kind for part, number in plan.choice.parts if number > 0}
        if report.circuit.flasher == "load-independent" or "load-independent flasher" in kinds:
            found.append(Caution.OUTAGE)
        if "ballast resistor" in kinds:
            found += tasks.cautions("ballast")
    return tuple(found)


def changed(plan: Plan) -> list[Lamp]:
    """List the lamps that get another light source than they have."""
    chosen = plan.choice.chosen
    return [lamp for lamp in plan.vehicle.lamps if chosen.get(lamp.name, lamp.fitted) is not lamp.fitted]


def flashing_changes(plan: Plan, circuit: str | None = None) -> bool:
    """Tell whether a lamp that flashes changes, a tell-tale too, or its flasher: of one circuit, or of any."""
    lamps = [lamp for lamp in changed(plan) if functions.function(lamp.function).flashes]
    names = {lamp.circuit.name for lamp in lamps if lamp.circuit is not None}
    names |= {words.values["circuit"] for words in plan.choice.fitted}
    return bool(lamps or names) if circuit is None else circuit in names


def circuits(plan: Plan) -> tuple[CircuitFindings, ...]:
    """List the circuits, each with what is said of it; fuses that are right are told of together, by `fuses`."""
    found, told_before = [], set[Caution]()
    for report in plan.circuits:
        leave = IN_TABLE + (("fuse.judged",) if _fuse_is_right(report) else ())
        told = [words for words in report.words if not (isinstance(words, Statement) and words.key in leave)]
        cures = [say("page.circuits.cure", words=words) for words in report.cures]
        hazards = [one for one in hazards_of(plan, report) if one not in told_before]
        told_before.update(hazards)
        note = [report.circuit.note] if report.circuit.note else []
        found.append(CircuitFindings(report, (*told, *cures, *note), tuple(named(one) for one in hazards)))
    return tuple(found)


def _fuse_is_right(report: CircuitReport) -> bool:
    return report.change.fuse_state.verdict is FuseVerdict.LEAVE


def fuses(plan: Plan) -> Statement | None:
    """Say once of all circuits whose fuse is right that it stays; None where there is no such circuit."""
    right = [report.circuit for report in plan.circuits if _fuse_is_right(report)]
    untold = [circuit.name for circuit in right if circuit.also_feeds is None]
    if not right:
        return None
    names, known = ([circuit.name for circuit in right if one or circuit.wire_area] for one in (True, False))
    return say(
        "page.circuits.fuses",
        circuits=names,
        known=known,
        unsized=[name for name in names if name not in known],
        untold=untold,
        all=len(known) == len(plan.circuits) > 1,
    )


def ballast(plan: Plan) -> tuple[Statement, ...]:
    """Say how hot the ballast resistors become that are to be fitted."""
    said, volts = [], plan.vehicle.running_voltage
    for part, number in plan.choice.parts:
        if part.kind != "ballast resistor" or not part.resistance or number <= 0:
            continue
        watts = flasher_cures.dissipation(part.resistance, volts, duty=np.array([flasher_cures.USUAL_DUTY, 1.0]))
        (loose, loose_locked), (plate, plate_locked) = (rise.tolist() for rise in flasher_cures.case_rise(watts)[:2])
        values = {"flashing": float(watts[0]), "lit": float(watts[1]), "loose": loose, "loose_locked": loose_locked}
        said.append(say("page.ballast.heat", name=part.name, plate=plate, plate_locked=plate_locked, **values))
    return tuple(said)


def change_of_earth(plan: Plan) -> EarthFindings | None:
    """Gather what depends on the earth; None where it stays negative, or no battery has a pole to lie on it."""
    vehicle = plan.vehicle
    if vehicle.earth == vehicle.earth_after == "negative" or vehicle.without_battery:
        return None
    free = [part.part for part in earth.parts() if part.polarity_bound is PolarityBound.NO]
    told = tuple(
        BoundPart(part.part, named(part.polarity_bound), part.what_to_do)
        for part in earth.parts()
        if part.polarity_bound is not PolarityBound.NO
    )
    words: list[object] = [say("page.earth.not_bound", parts=free)]
    kind = charging.GeneratorKind(vehicle.generator)
    words.append(earth.coil_leads(Earth(vehicle.earth_after)).said)
    words.append(say("page.earth.generator", generator=named(kind)))
    now, after = named(Earth(vehicle.earth)), named(Earth(vehicle.earth_after))
    steps = earth_steps(tasks.order_of_work(kind))
    order = say("page.earth.order") if vehicle.earth_changes else say("page.earth.order_if")
    return EarthFindings(now, after, tuple(words), told, order, steps)


def earth_steps(order: Sequence[Step]) -> tuple[WorkShown, ...]:
    """Tell each step with the cautions that no step before it has told, and whether the battery is on while it is done.

    Source: data/circuit/conversion_order.csv.
    """
    told: set[Caution] = set()
    found, battery_on = [], True
    for step in order:
        found.append(
            WorkShown(step.what, step.why, battery_on, tuple(named(one) for one in step.cautions if one not in told))
        )
        told.update(step.cautions)
        battery_on = next((one.holds for one in step.after if one.state is WorkState.BATTERY_CONNECTED), battery_on)
    return tuple(found)


CHANGES = (LampTask.CHANGE_LAMP, LampTask.CHANGE_LAMP_WITH_BALLAST)


class CircuitStates(NamedTuple):
    """What a circuit, or one side of it, reads as it is, on the way and as chosen."""

    name: Statement
    as_found: Statement
    on_the_way: Statement
    as_chosen: Statement


@dataclass(frozen=True, eq=False)
class WorkFindings:
    """The whole work as it is shown."""

    found: Statement
    earth_first: Statement | None
    bench: tuple[Statement, ...]
    circuits: tuple[CircuitStates, ...]
    steps: tuple[WorkShown, ...]


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
        circuits=tuple(_states(made.circuits)),
        steps=tuple(_steps(plan)),
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
    return say("page.work.found_fitted", fitted=told, others=None in first.fitted.values())


def _earth_first(states: Sequence[Fittings]) -> Statement:
    back = [name for state in states if state.stage is Stage.EARTH_CHANGED for name in state.changed]
    return say("page.work.earth_first", back=back)


# --- each circuit in three states -----------------------------------------------------------------------------------


def _states(by_state: Sequence[Sequence[CircuitNow]]) -> Iterable[CircuitStates]:
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
    if not flashing_changes(plan):
        told.add(Caution.HAZARDS)
    for changes, group in groupby(plan.work.steps, key=lambda one: one.step.task in CHANGES):
        steps = list(group)
        if changes:
            yield _one_by_one(plan, steps, told)
            continue
        for one in steps:
            off = not one.battery_on and one.step.task is not LampTask.BATTERY_ON
            yield WorkShown(one.step.what, one.step.why, not off, _new_cautions(one, told), _expect(one))


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
    what, first = say("page.work.one_by_one"), steps[0]
    return WorkShown(what, first.step.why, first.battery_on, tuple(cautions), lamps=tuple(rows))


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
