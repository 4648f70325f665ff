"""What to measure and watch after fitting: the reading that settles most of each lamp, ratio, rate and voltage."""

from typing import NamedTuple

import numpy as np

from lampkit import numbers
from lampkit.conversion import Result
from lampkit.errors import InputError
from lampkit.page import lamp_facts
from lampkit.page.job_sheet_basis import alike
from lampkit.plan import suitability
from lampkit.plan.plan import Plan
from lampkit.rules import limits
from lampkit.uncertainty import sampling
from lampkit.vehicle.vehicle import Lamp

READING_DISTANCES = (3.0, 1.0)
"""Distances for which an expected reading is told: the second for lamps too dim for the first [m]."""

ENOUGH = 5.0
"""Illuminance below which a lamp is read from the shorter distance [lx]. Source: own judgement: a phone shows 1 lx
steps."""

OLD_FIRST = "Old lamp first", "Read it on its axis: its own candela are what is least known."
BEAM_FIRST = (
    "New against old",
    "Read both from one place on the axis: where the LED throws its light is what is least known.",
)
LUMENS_FIRST = (
    "Lumens",
    "Read new against old from one place on the axis: the true lumens behind the lens are what is least known.",
)
ANY = "Side by side", "Read new against old from one place straight in front, or compare them by eye."
"""What settles most of a lamp, in a word and in a sentence. Source: the kit's own wording."""


class CheckAfterFitting(NamedTuple):
    """One thing to measure or watch after fitting."""

    subject: str
    what: str
    expect: str


def checklist(plan: Plan) -> tuple[CheckAfterFitting, ...]:
    """List what to measure and watch after fitting.

    Source: the draws of the plan; published limits as each names its own source.
    """
    grouped: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for lamp, a in alike(plan):
        result = plan.result(lamp.name)
        if result is not None:
            what, expect = _reading(plan, lamp, result)
            grouped.setdefault(what, []).append((a.name, expect))
    found = [
        CheckAfterFitting(subject, what, "; ".join(f"{name} {words}" for name, words in lamps))
        for (subject, what), lamps in grouped.items()
    ]
    return (*found, *_stop_and_tail(plan), *_flashes(plan), *_voltages(plan))


def _reading(plan: Plan, lamp: Lamp, result: Result) -> tuple[tuple[str, str], str]:
    believed = [plan.intensities[one.name] for one in lamp_facts.members(plan, lamp) if one.name in plan.intensities]
    if not believed:
        return ANY, f"{numbers.interval(result.ratio)} times the old"
    pick = next(i for i, offer in enumerate(lamp.candidates) if offer.name == result.source.name)
    # The lamp of which least is known decides what is read.
    one = max(believed, key=lambda b: float(np.log(b.filament[2] / b.filament[0])))
    own, whole, light = (float(np.log(v[2] / v[0])) / 3.92 for v in (one.filament, one.intervals[pick], result.ratio))
    beam = float(np.sqrt(max(whole**2 - own**2 - light**2, 0.0)))
    low = min(float(b.intervals[pick][0]) for b in believed)
    high = max(float(b.intervals[pick][2]) for b in believed)
    far, near = READING_DISTANCES
    distance = far if float(np.sqrt(low * high)) / far**2 >= ENOUGH else near
    expect = f"new {numbers.figure(low / distance**2)} to {numbers.figure(high / distance**2)} lx at {distance:g} m"
    if own >= max(beam, light):
        return OLD_FIRST, expect
    return (BEAM_FIRST if beam >= light else LUMENS_FIRST), expect


def _stop_and_tail(plan: Plan) -> list[CheckAfterFitting]:
    lamps = plan.vehicle.lamps
    pairs = [(lamps[i], lamps[j]) for i, j in suitability.stop_and_tail(lamps)]
    pairs = [pair for pair in pairs if any(plan.result(lamp.name) for lamp in pair)]
    if not pairs:
        return []
    by_name = {a.name: a for a in plan.assessments}
    expected = []
    for stop, tail in pairs:
        bright = (plan.result(stop.name) or by_name[stop.name].old).draws["flux"]
        dim = (plan.result(tail.name) or by_name[tail.name].old).draws["flux"]
        if len(bright) == len(dim):
            expected.append(sampling.interval(bright / dim, by_name[stop.name].garage.weights))
    spans = [f"{numbers.interval(expected[0])} times, by the light through the lens"] if expected else []
    try:
        (limit, *_) = limits.ratio_limits("stop to tail", plan.vehicle.rules)
        spans.append(f"published: at least {limit.low:g} times ({limit.where}) [{lamp_facts.citation(limit)}]")
    except InputError:
        spans.append(f"the kit holds no published ratio under the rules '{plan.vehicle.rules}'")
    subject = numbers.listed([stop.position or stop.name for stop, _ in pairs])
    return [
        CheckAfterFitting(
            f"Stop against tail, {subject}",
            "Both from one place, one after the other: the stop lamp must be the bright one by far.",
            "; ".join(spans),
        )
    ]


def _flashes(plan: Plan) -> list[CheckAfterFitting]:
    wired = [c for c in plan.vehicle.circuits if c.flasher is not None]
    if not wired:
        return []
    try:
        rate = next(v for v in limits.flash_limits(plan.vehicle.rules) if v.quantity == "flash rate")
        published = f"published: {rate.low:g} to {rate.high:g} a minute [{lamp_facts.citation(rate)}]"
    except (InputError, StopIteration):
        published = f"the kit holds no published flash rate under the rules '{plan.vehicle.rules}'"
    return [
        CheckAfterFitting(
            numbers.listed([f"Flasher, circuit '{c.name}'" for c in wired]),
            "Count the flashes in 30 s and double, left and right, engine off and running; watch the tell-tale.",
            published,
        )
    ]


def _voltages(plan: Plan) -> list[CheckAfterFitting]:
    known = [c for c in plan.circuits if c.change is not None]
    if not known:
        return []
    said = "; ".join(f"{c.circuit.name} {c.change.voltage[1]:.1f} V" for c in known if c.change is not None)
    return [
        CheckAfterFitting(
            "Voltage at the holders",
            f"With the lamps of the circuit lit and {plan.vehicle.running_voltage:g} V at the supply; half a volt less "
            "calls for a look at switch, joints and earth.",
            said,
        )
    ]
