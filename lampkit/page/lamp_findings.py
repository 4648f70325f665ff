"""What is shown of lamps: light, colour, candela, range and cautions of each, what to fit in it, and what to buy."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.circuits.tasks import Caution
from lampkit.conversion.assessment import Assessment, Ground, Result
from lampkit.conversion.suggestion import Suggestion, Verdict
from lampkit.page.style import called, tagged
from lampkit.plan import socket_voltages, suitability
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.plan import Plan, short_name
from lampkit.plan.socket_voltages import EngineState, LightAtVoltages, SocketVoltage
from lampkit.plan.timing import LampTiming
from lampkit.rules import functions, rule_sets
from lampkit.rules.intensity_limits import Requirement
from lampkit.rules.limits import Limit
from lampkit.sources.light_source import DOUBTED
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Offer
from lampkit.visibility import brightness, sight

LETTERS = "abcdefgh"
"""What stands for each limit of a lamp in a table."""

FAIR_WEATHER = 1e4
"""Meteorological optical range for which that is told [m]. Source: IALA E-200-2, fair weather (from memory)."""

DAZZLE = 2.0
"""Light against the filament's from which a lamp is called bright [1]. Source: own judgement."""


class Told(NamedTuple):
    """Something said under a short heading of its own."""

    heading: Statement
    words: object


@dataclass(frozen=True, eq=False)
class SourceFindings:
    """One light source in a lamp: the filament (tag F) or a candidate with its offer."""

    tag: str
    result: Result
    offer: Offer | None
    brightness: Mapping[str, float]

    @property
    def is_filament(self) -> bool:
        """Tell the filament from the candidates."""
        return self.offer is None


@dataclass(frozen=True, eq=False)
class LampFindings:
    """What is decided for one lamp of the vehicle, and what is predicted of it with each light source."""

    lamp: Lamp
    assessment: Assessment
    decision: Suggestion
    sources: tuple[SourceFindings, ...]
    axis: LampIntensity | None
    seen: tuple[NDArray[np.float64], ...]
    timing: LampTiming | None
    replacement: tuple[Statement, ...]
    socket: SocketVoltage
    at_other_voltages: tuple[LightAtVoltages, ...]

    @property
    def place(self) -> int:
        """Say where the fitted light source stands: 0 for the filament, then the candidates."""
        if self.decision.verdict is Verdict.KEEP or self.decision.result is None:
            return 0
        return 1 + next(i for i, r in enumerate(self.assessment.results) if r is self.decision.result)

    @property
    def fitted(self) -> Result | None:
        """Give the result of what is fitted; None where the filament stays."""
        return self.sources[self.place].result if self.place else None

    @property
    def flashes(self) -> bool:
        """Tell whether the lamp flashes and its flash was worked out."""
        return self.timing is not None and bool(np.isfinite(self.timing.flash_share))


@dataclass(frozen=True, eq=False)
class AlikeFindings:
    """Lamps that have the same function, lens, filament, candidates and choice, such as left and right."""

    number: int
    name: str
    lamp: Lamp
    assessment: Assessment
    members: tuple[LampFindings, ...]
    axes: tuple[LampIntensity, ...]
    measured: tuple[Statement, ...]
    cautions: tuple[Told, ...]

    @property
    def first(self) -> LampFindings:
        """Give the first of them: what is said of it holds for all."""
        return self.members[0]

    @property
    def short(self) -> str:
        """Name them without left and right, for where their number stands before it."""
        return short_name([one.lamp.name for one in self.members]) or self.name


def is_flashed(lamp: Lamp) -> bool:
    """Tell whether a lamp works by a flasher; a tell-tale of semaphore arms does not."""
    does = functions.function(lamp.function)
    return does.flashes and not does.tell_tale


def sources(lamp: Lamp, assessment: Assessment) -> tuple[SourceFindings, ...]:
    """Find the filament and each candidate of a lamp."""
    offers = (None, *lamp.candidates)
    saturated = lamp.lens.colour == "red" and lamp.road_rule
    found = []
    for (tag, result), offer in zip(tagged(assessment), offers, strict=True):
        by_model = brightness.brightness_to_luminance(result.chromaticity) if saturated else {}
        found.append(
            SourceFindings(
                tag=tag,
                result=result,
                offer=offer,
                brightness={name: float(value) for name, value in by_model.items()},
            )
        )
    return tuple(found)


def colour_words(source: SourceFindings) -> Statement:
    """Say in few words where a colour lies against its limit."""
    place = source.result.colour
    if place is None:
        return say("page.colour.none")
    return say("page.colour.inside", margin=place.margin) if place.inside else place.statement


def candela_words(axis: LampIntensity, place: int, name: str | None) -> Statement:
    """Say in one line what a lamp needs and, where its old candela are known, what it gives and will give."""
    own = _span_on_axis(axis.requirement)
    needed, of_functions = _strictest([axis.requirement, *axis.also])
    today = None
    if axis.today is not None:
        span = _span_on_axis(axis.today)
        today = say("page.text.axis_today", **span) if span != own else None
    known = axis.limits[0][0].known
    read = bool(axis.measured or axis.twin)
    binds = rule_sets.rule_set(axis.requirement.rules).binds
    asked = say("page.text.axis_asked", binds=binds, of=of_functions, today=today, known=known, **needed)
    if not read:
        return say("page.text.axis_unread", asked=asked)
    old, new = float(axis.every[0][1]), axis.every[place]
    return say("page.text.axis_read", lamp=axis.lamp, asked=asked, old=old, new=new, name=name if place else None)


class ClauseFindings(NamedTuple):
    """What is published of candela on the axis of lamps, and where: the clause and how it is known."""

    lamps: tuple[str, ...]
    span: Statement
    limit: Limit


def clauses(listed: Sequence[tuple[str, Sequence[LampIntensity]]]) -> tuple[ClauseFindings, ...]:
    """List what is published of candela on the axis, each once with the lamps that are held against it."""
    found: dict[tuple[str, str], tuple[list[str], Statement, Limit]] = {}
    for name, axes in listed:
        for requirement in (one for axis in axes[:1] if axis.limits for one in (axis.requirement, *axis.also)):
            limit = next((limit for limit in requirement.on_axis if np.isfinite(limit.low)), None)
            if limit is not None:
                span = say("page.limit.candela", function=requirement.function, **_span_on_axis(requirement))
                names, _, _ = found.setdefault((str(span), limit.source), ([], span, limit))
                names.append(name)
    return tuple(ClauseFindings(tuple(dict.fromkeys(names)), span, limit) for names, span, limit in found.values())


def _strictest(requirements: Sequence[Requirement]) -> tuple[dict[str, float | None], list[str]]:
    """Give the strictest span of several functions of one light source, with their names where they are several."""
    spans = [_span_on_axis(one) for one in requirements]
    lows = [span["low"] for span in spans if span["low"] is not None]
    highs = [span["high"] for span in spans if span["high"] is not None]
    of = [one.function for one in requirements] if len(requirements) > 1 else []
    return {"low": max(lows), "high": min(highs) if highs else None}, of


def _span_on_axis(requirement: Requirement) -> dict[str, float | None]:
    listed = requirement.on_axis
    highs = [limit.high for limit in listed if np.isfinite(limit.high)]
    return {
        "low": next(limit.low for limit in listed if np.isfinite(limit.low)),
        "high": max(highs) if highs else None,
    }


RULES_IN_PRINT = {"un-r": "UN R", "fmvss-": "FMVSS "}
"""How the rules are called in print, by the beginning of their key in the bibliography."""


def in_print(source: str) -> str:
    """Name the rules of a source as in print."""
    return re.sub(r"\b(un-r|fmvss-)(?=\d)", lambda key: RULES_IN_PRINT[key[1]], source)


def citation(limit: Limit) -> Statement:
    """Write where a limit is printed and how it is known, with the rules named as in print."""
    return replace(limit, source=in_print(limit.source)).citation


def seen_from(interval: NDArray[np.float64], share: float = 1.0) -> NDArray[np.float64]:
    """Give from how far a lamp is seen by day and by night, shortest and longest [m].

    Source: Allard's law, IALA E-200-2, with the thresholds of data/visibility/thresholds.csv.
    """
    ranges = sight.day_and_night_range(share * interval[[0, 2]], FAIR_WEATHER)
    return np.stack([ranges[0, :, 0], ranges[1, :, 1]], axis=-1)


def seen(lamp: Lamp, axis: LampIntensity | None, timing: LampTiming | None) -> tuple[NDArray[np.float64], ...]:
    """Give from how far a lamp is seen with each light source; nothing where that is not told of its function."""
    if axis is None or not functions.function(lamp.function).seen:
        return ()
    flashes = timing is not None and np.isfinite(timing.flash_share)
    found = []
    for i, interval in enumerate(axis.every):
        share = 1.0
        if flashes and timing is not None:
            share = timing.led_flash_share if i else timing.flash_share
        found.append(seen_from(interval, share))
    return tuple(found)


def voltage_words(found: LampFindings) -> Statement | None:
    """Say what the socket gets, and what part of the light of what is fitted, or else of the best, is the wiring's."""
    told = {one.light_source: one for one in found.at_other_voltages}
    shown = found.fitted or found.decision.result
    if shown is None:
        shown = max(found.assessment.results, key=lambda r: r.chance, default=None)
    if shown is None or shown.source.name not in told:
        return None
    other, at = told[shown.source.name], found.socket
    return say(
        "page.lamp.voltage",
        name=called(shown.source),
        measured=at.measured,
        running=float(at.before[EngineState.RUNNING]),
        idling=float(at.before[EngineState.IDLING]),
        at_idle=other.idling,
        sound=other.sound_wiring,
    )


def cautions(found: LampFindings, vehicle: Vehicle) -> tuple[Told, ...]:
    """List the cautions that one lamp calls for.

    Source: common practice, no source.
    """
    lamp, said = found.lamp, []
    if lamp.road_rule:
        said.append(Told(say("page.caution.approval"), say("page.caution.approval_words")))
    if past := [
        s.result.source.name for s in found.sources[1:] if s.result.colour is not None and not s.result.colour.inside
    ]:
        said.append(Told(say("page.caution.wrong_colour"), say("page.caution.wrong_colour_words", names=past)))
    chosen = found.decision.result
    if chosen is not None and chosen.ratio[1] >= DAZZLE and not functions.function(lamp.function).tell_tale:
        words = say("page.caution.much_light_road" if lamp.road_rule else "page.caution.much_light_words")
        said.append(Told(say("page.caution.much_light"), words))
    area = suitability.least_lit_area(lamp, vehicle.held_to.name, wide=vehicle.wide)
    if area is not None and (chosen is not None or lamp.fitted is not None):
        words = say("page.caution.lit_area_words", least=area.low, lit=lamp.lit_area, citation=citation(area))
        said.append(Told(say("page.caution.lit_area"), words))
    if functions.function(lamp.function).flashes:
        said.append(Told(say("page.caution.flasher"), say("page.caution.flasher_words")))
    if socket_voltages.excites(lamp):
        said.append(Told(say("page.caution.charging"), named(Caution.CHARGE_LAMP)))
    for result in found.assessment.results:
        if result.claim in DOUBTED:
            words = say("page.lamp.claim", name=result.source.name, claim=result.claim_statement)
            said.append(Told(say("page.caution.claim"), words))
    bound = [offer.name for offer in lamp.candidates if offer.either_polarity is False]
    if vehicle.earth_after == "positive" and bound:
        said.append(Told(say("page.caution.polarity"), say("page.caution.polarity_words", names=bound)))
    return tuple(said)


# --- gathered ---


def lamps(plan: Plan) -> tuple[LampFindings, ...]:
    """Gather each lamp; lamps that share their results share what is made of them."""
    shared: dict[tuple[int, int, int], tuple[SourceFindings, ...]] = {}
    found = []
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        which = (id(assessment.old), id(assessment.results), id(lamp.candidates))
        if which not in shared:
            shared[which] = sources(lamp, assessment)
        axis = plan.intensities.get(lamp.name)
        timing = plan.timings.get(lamp.name)
        found.append(
            LampFindings(
                lamp=lamp,
                assessment=assessment,
                decision=plan.decision(lamp.name),
                sources=shared[which],
                axis=axis,
                seen=seen(lamp, axis, timing),
                timing=timing,
                replacement=plan.must_be(lamp.name),
                socket=plan.sockets[lamp.name],
                at_other_voltages=plan.at_other_voltages[lamp.name],
            )
        )
    return tuple(found)


def alike(plan: Plan, lamps: Sequence[LampFindings]) -> tuple[AlikeFindings, ...]:
    """Gather lamps that are alike, such as left and right, each kind once."""
    by_name = {one.lamp.name: one for one in lamps}
    found = []
    for number, group in enumerate(plan.alike, start=1):
        members = tuple(by_name[lamp.name] for lamp in group.lamps)
        # Lamps of the same basis differ by chance only: their candela stand once.
        axes: dict[str, LampIntensity] = {}
        for axis in (one.axis for one in members):
            if axis is not None:
                axes.setdefault(str(axis.basis), axis)
        found.append(
            AlikeFindings(
                number=number,
                name=group.name,
                lamp=group.joint,
                assessment=group.assessment,
                members=members,
                axes=tuple(axes.values()),
                measured=_measured(plan, members),
                cautions=cautions(members[0], plan.vehicle),
            )
        )
    return tuple(found)


def _measured(plan: Plan, lamps: Sequence[LampFindings]) -> tuple[Statement, ...]:
    """Say which light sources were read in lamps, and what their likes were taken to give for it."""
    names = {one.lamp.name for one in lamps}
    listed = () if plan.readings is None else plan.readings.findings
    used = {
        (one.lamp.name, result.source.name): result.ratio
        for one in lamps
        if one.flashes
        for result in one.assessment.results
        if result.ground is Ground.READ
    }
    read: dict[str, list[Statement]] = {}
    for ratio in (f.ratio for f in listed if f.ratio.lamp in names):
        flashing = used.get((ratio.lamp, ratio.new))
        told = say("page.lamp.as_read", name=ratio.new, ratio=ratio.ratio, used=flashing)
        read.setdefault(ratio.lamp, []).append(told)
    said = [say("page.lamp.measured", lamp=lamp, told=told) for lamp, told in read.items()]
    for one in lamps:
        alike = [result for result in one.assessment.results if result.ground is Ground.READ_ON_TWIN]
        if alike:
            each = [say("page.chart.light.of", name=result.source.name, ratio=result.ratio) for result in alike]
            said.append(say("page.lamp.on_twin", lamp=one.lamp.name, told=each))
    return tuple(said)


def candela_of(group: AlikeFindings) -> list[Statement]:
    """Say what the lamps of a group need on their axis: of each that was read, else once for all."""
    place, fitted = group.first.place, group.first.fitted
    name = None if fitted is None else called(fitted.source)
    axes = [axis for axis in group.axes if axis.limits]
    told = [axis for axis in axes if axis.measured] or axes[:1]
    return [candela_words(axis, place, name) for axis in told]


def known_of(group: AlikeFindings) -> Statement:
    """Say in a line what a lamp is."""
    lamp, limit = group.lamp, group.assessment.colour_limit
    return say(
        "page.lamp.facts",
        position=lamp.position or "",
        function=lamp.function,
        lens=group.assessment.lens.name,
        filament=called(lamp.filament),
        quantity=lamp.quantity,
        holder=lamp.holder or "",
        circuit="" if lamp.circuit is None else lamp.circuit.name,
        limit="" if limit is None else limit.name,
        note=lamp.note,
    )
