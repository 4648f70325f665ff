"""What is shown of the whole vehicle: circuits, ballast, a change of the earth, what to measure after fitting."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from lampkit.circuits import ballast_resistor, caution, earth, earth_change
from lampkit.circuits.caution import Caution
from lampkit.circuits.earth import Earth, PolarityBound
from lampkit.circuits.earth_change import Step, WorkState
from lampkit.errors import InputError
from lampkit.page import lamp_findings
from lampkit.page.lamp_findings import LampFindings, Told
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.plan import Plan
from lampkit.rules import limits
from lampkit.rules.limits import Limit
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import sampling
from lampkit.vehicle import sharing

if TYPE_CHECKING:
    from lampkit.page.findings import AlikeFindings

READING_DISTANCES = (3.0, 1.0)
"""Distances for which an expected reading is told: the second for lamps too dim for the first [m]."""

ENOUGH = 5.0
"""Illuminance below which a lamp is read from the shorter distance [lx]. Source: own judgement: a phone shows 1 lx
steps."""

IN_TABLE = ("circuit.load", "circuit.drop")
"""What is said of a circuit and stands in the table of the circuits."""


@dataclass(frozen=True, eq=False)
class CircuitFindings:
    """One circuit before and after, and what its numbers mean without those that stand in the table."""

    report: CircuitReport
    words: tuple[object, ...]
    cautions: tuple[Statement, ...]


class EarthStep(NamedTuple):
    """One step of changing the earth: what, why, whether the battery is on by then, and the cautions not yet told."""

    what: Statement
    why: Statement
    battery_on: bool
    cautions: tuple[Statement, ...]


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
    steps: tuple[EarthStep, ...]


class CheckAfterFitting(NamedTuple):
    """One thing to measure or watch after fitting."""

    subject: Statement
    what: Statement
    expect: Statement


def cautions(plan: Plan) -> tuple[Told, ...]:
    """List the cautions for work on a vehicle's lamps, each kind of work with its own.

    Source: data/circuit/cautions.csv; common practice, no source, for the rest.
    """
    found = [
        Told(say("page.cautions.glare"), say("page.cautions.glare_words")),
        Told(say("page.cautions.eyes"), say("page.cautions.eyes_words")),
    ]
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
    words = [named(one) for one in caution.cautions(where) if one not in leave]
    return [Told(heading, say("page.cautions.together", words=words))]


def hazards_of(plan: Plan, report: CircuitReport) -> tuple[Caution, ...]:
    """List the cautions whose hazard is on a circuit: its fuse, its flasher, the ballast resistors on it."""
    found = [] if report.change is None else list(report.change.fuse_state.cautions)
    if report.circuit.flasher is not None:
        found.append(Caution.HAZARDS)
        kinds = {part.kind for part, number in plan.choice.parts if number > 0}
        if report.circuit.flasher == "load-independent" or "load-independent flasher" in kinds:
            found.append(Caution.OUTAGE)
        if "ballast resistor" in kinds:
            found += caution.cautions("ballast")
    return tuple(found)


def circuits(plan: Plan) -> tuple[CircuitFindings, ...]:
    """List the circuits, each with what is said of it."""
    found, told_before = [], set[Caution]()
    for report in plan.circuits:
        told = [words for words in report.words if not (isinstance(words, Statement) and words.key in IN_TABLE)]
        cures = [say("page.circuits.cure", words=words) for words in report.cures]
        hazards = [one for one in hazards_of(plan, report) if one not in told_before]
        told_before.update(hazards)
        found.append(CircuitFindings(report, (*told, *cures), tuple(named(one) for one in hazards)))
    return tuple(found)


def ballast(plan: Plan) -> tuple[Statement, ...]:
    """Say how hot the ballast resistors become that are to be fitted."""
    said = []
    for part, number in plan.choice.parts:
        if part.kind != "ballast resistor" or not part.resistance or number <= 0:
            continue
        lit, flashing = (
            float(ballast_resistor.dissipation(part.resistance, plan.vehicle.running_voltage, duty=d))
            for d in (1.0, ballast_resistor.USUAL_DUTY)
        )
        rises = ballast_resistor.case_rise(np.array([flashing, lit]))
        said.append(
            say(
                "page.ballast.heat",
                name=part.name,
                lit=lit,
                flashing=flashing,
                loose=float(rises.loose[0]),
                plate=float(rises.on_plate[0]),
                loose_locked=float(rises.loose[1]),
                plate_locked=float(rises.on_plate[1]),
            )
        )
    return tuple(said)


def change_of_earth(plan: Plan) -> EarthFindings | None:
    """Gather what depends on the earth, where it is positive or is to be changed; None where it stays negative."""
    vehicle = plan.vehicle
    if vehicle.earth == vehicle.earth_after == "negative":
        return None
    free = [part.part for part in earth.parts() if part.polarity_bound is PolarityBound.NO]
    told = tuple(
        BoundPart(part.part, named(part.polarity_bound), part.what_to_do)
        for part in earth.parts()
        if part.polarity_bound is not PolarityBound.NO
    )
    words: list[object] = [say("page.earth.not_bound", parts=free)]
    kind = earth_change.generator_kind(vehicle.generator)
    words.append(earth.coil_leads(Earth(vehicle.earth_after)).said)
    words.append(say("page.earth.generator", generator=named(kind)))
    now, after = named(Earth(vehicle.earth)), named(Earth(vehicle.earth_after))
    steps = earth_steps(earth_change.order_of_work(kind))
    order = say("page.earth.order") if vehicle.earth != vehicle.earth_after else say("page.earth.order_if")
    return EarthFindings(now, after, tuple(words), told, order, steps)


def earth_steps(order: Sequence[Step]) -> tuple[EarthStep, ...]:
    """Tell each step with the cautions that no step before it has told, and whether the battery is on while it is done.

    Source: data/circuit/conversion_order.csv.
    """
    told: set[Caution] = set()
    found, battery_on = [], True
    for step in order:
        found.append(
            EarthStep(step.what, step.why, battery_on, tuple(named(one) for one in step.cautions if one not in told))
        )
        told.update(step.cautions)
        battery_on = next((one.holds for one in step.after if one.state is WorkState.BATTERY_CONNECTED), battery_on)
    return tuple(found)


def checklist(plan: Plan, lamps: Sequence[LampFindings], groups: "Sequence[AlikeFindings]") -> list[CheckAfterFitting]:
    """List what to measure and watch after fitting: what settles most of each lamp, ratio, rate and voltage."""
    grouped: dict[str, list[Statement]] = {}
    headed: dict[str, tuple[Statement, Statement]] = {}
    for group in groups:
        if group.first.fitted is not None:
            subject, what, expect = _reading(plan, group)
            headed.setdefault(subject.key, (subject, what))
            grouped.setdefault(subject.key, []).append(say("page.check.of_lamp", name=group.name, expect=expect))
    found = [
        CheckAfterFitting(*headed[key], say("page.check.expected", lamps=expected)) for key, expected in grouped.items()
    ]
    return [*found, *_stop_and_tail(plan, lamps), *_flashes(plan), *_voltages(plan)]


def _reading(plan: Plan, group: "AlikeFindings") -> tuple[Statement, Statement, Statement]:
    result = group.first.fitted
    assert result is not None, "called for lamps that are converted"
    believed = [plan.intensities[m.lamp.name] for m in group.members if m.lamp.name in plan.intensities]
    if not believed:
        expect = say("page.check.ratio", ratio=result.ratio)
        return say("page.check.any"), say("page.check.any_what"), expect
    pick = group.first.place - 1
    # The lamp of which least is known decides what is read.
    one = max(believed, key=lambda b: float(np.log(b.filament[2] / b.filament[0])))
    own, whole, light = (float(np.log(v[2] / v[0])) / 3.92 for v in (one.filament, one.intervals[pick], result.ratio))
    beam = float(np.sqrt(max(whole**2 - own**2 - light**2, 0.0)))
    low = min(float(b.intervals[pick][0]) for b in believed)
    high = max(float(b.intervals[pick][2]) for b in believed)
    far, near = READING_DISTANCES
    distance = far if float(np.sqrt(low * high)) / far**2 >= ENOUGH else near
    expect = say("page.check.lux", low=low / distance**2, high=high / distance**2, distance=distance)
    if own >= max(beam, light):
        return say("page.check.old_first"), say("page.check.old_first_what"), expect
    if beam >= light:
        return say("page.check.beam_first"), say("page.check.beam_first_what"), expect
    return say("page.check.lumens_first"), say("page.check.lumens_first_what"), expect


def _stop_and_tail(plan: Plan, lamps: Sequence[LampFindings]) -> list[CheckAfterFitting]:
    beside = sharing.outshining(plan.vehicle.lamps, plan.vehicle.held_to.name)
    pairs = [(lamps[pair.bright], lamps[pair.dim]) for pair in beside]
    pairs = [pair for pair in pairs if any(lamp.fitted is not None for lamp in pair)]
    if not pairs:
        return []
    expected = []
    for stop, tail in pairs:
        bright = (stop.fitted or stop.assessment.old).draws["flux"]
        dim = (tail.fitted or tail.assessment.old).draws["flux"]
        if len(bright) == len(dim):
            expected.append(sampling.interval(bright / dim, stop.assessment.garage.weights))
    spans = [say("page.check.stop_ratio", ratio=expected[0])] if expected else []
    try:
        (limit, *_) = limits.ratio_limits("stop to tail", plan.vehicle.held_to.name)
        cited = lamp_findings.citation(limit)
        spans.append(say("page.check.stop_limit", low=limit.low, where=limit.where, citation=cited))
    except InputError:
        spans.append(say("page.check.no_stop_limit", rules=plan.vehicle.held_to.name))
    names = [stop.lamp.position or stop.lamp.name for stop, _ in pairs]
    return [
        CheckAfterFitting(
            say("page.check.stop", names=names), say("page.check.stop_what"), say("page.check.expected", lamps=spans)
        )
    ]


def _flashes(plan: Plan) -> list[CheckAfterFitting]:
    wired = [c.name for c in plan.vehicle.circuits if c.flasher is not None]
    if not wired:
        return []
    subject = say("page.check.flasher", circuits=[say("page.check.flasher_of", circuit=name) for name in wired])
    rate = _flash_rate(plan.vehicle.held_to.name)
    if rate is None:
        expect = say("page.check.no_flasher_limit", rules=plan.vehicle.held_to.name)
        return [CheckAfterFitting(subject, say("page.check.flasher_what"), expect)]
    expect = say("page.check.flasher_limit", low=rate.low, high=rate.high, citation=lamp_findings.citation(rate))
    return [CheckAfterFitting(subject, say("page.check.flasher_what"), expect)]


def _flash_rate(rules: str) -> Limit | None:
    try:
        return next((v for v in limits.flash_limits(rules) if v.quantity == "flash rate"), None)
    except InputError:
        return None


def _voltages(plan: Plan) -> list[CheckAfterFitting]:
    known = [(c.circuit.name, c.change) for c in plan.circuits if c.change is not None]
    if not known:
        return []
    told = [say("page.check.volts", circuit=name, voltage=float(change.voltage[1])) for name, change in known]
    states = zip(plan.work.circuits[0], plan.work.circuits[-1], strict=True)
    sides = [
        (now.circuit.name, side, other)
        for was, now in states
        for side, other in zip(was.sides, now.sides, strict=False)
    ]
    amperes = [
        say(
            "page.check.amperes_expected",
            circuit=say("page.work.circuit", circuit=name, side=now.side),
            now=now.current,
            before=was.current,
        )
        for name, was, now in sides
    ]
    return [
        CheckAfterFitting(
            say("page.check.amperes"), say("page.check.amperes_what"), say("page.check.expected", lamps=amperes)
        ),
        CheckAfterFitting(
            say("page.check.voltage"),
            say("page.check.voltage_what", voltage=plan.vehicle.running_voltage),
            say("page.check.expected", lamps=told),
        ),
    ]
