"""What is shown of readings, gathered once: ratios, predictions, lenses, and what to read after fitting."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError
from lampkit.measurement import lens_identification
from lampkit.measurement.fair_ratio import Comparison, FairRatio
from lampkit.measurement.lens_identification import LEARNT, spread_left
from lampkit.page import lamp_findings
from lampkit.page.lamp_findings import AlikeFindings, LampFindings
from lampkit.plan.agreement import Confrontation, Finding, LensKnowledge
from lampkit.plan.plan import Plan, joint_name
from lampkit.rules import functions, limits
from lampkit.rules.limits import Limit
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.budget import Budget
from lampkit.vehicle import sharing

MATTERS = 0.05
"""Share of the whole uncertainty from which a cause has a row of its own [1]. Source: own judgement."""


@dataclass(frozen=True)
class Cause:
    """What makes a ratio uncertain: its relative standard uncertainty and its share of the variance [1]."""

    name: str
    uncertainty: float
    share: float


@dataclass(frozen=True, eq=False)
class RatioFindings:
    """A measured ratio, what makes it uncertain, and its prediction where there is one."""

    ratio: FairRatio
    causes: tuple[Cause, ...]
    whole: float
    finding: Finding | None

    @property
    def words(self) -> Statement:
        """Write the ratio with its interval, and say so where it has no upper limit."""
        return ratio_words(self.ratio.ratio)


@dataclass(frozen=True)
class CauseRow:
    """One cause, and what it contributes to each of several ratios [1]."""

    name: Statement
    uncertainties: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Learnt:
    """What readings taught about one quantity of a lens: lower limit, median and upper limit before and after."""

    quantity: str
    unit: str
    before: NDArray[np.float64]
    after: NDArray[np.float64]
    spread_left: float

    @property
    def learnt(self) -> bool:
        """Tell whether enough of the spread went."""
        return self.spread_left < LEARNT


@dataclass(frozen=True, eq=False)
class LensFindings:
    """What was learnt of a lens, what it makes of the light sources, and what to read next."""

    known: LensKnowledge
    quantities: tuple[Learnt, ...]
    sentences: tuple[Statement, ...]

    @property
    def name(self) -> str:
        """Name the lens."""
        return self.known.knowledge.lens.name


@dataclass(frozen=True, eq=False)
class ReadingFindings:
    """What text, page and plain data show of readings.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the readings were made into.
    seed : int or None [1]
        The seed of the draws; None where nothing was compared.
    beside : bool
        Whether the readings stand beside a prediction.
    ratios : tuple of RatioFindings
        The ratios, with their predictions.
    lenses : tuple of LensFindings
        What was learnt of each lens.
    remarks : tuple
        What was mended, assumed or left out.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> found = lk.page.findings_of_readings(lk.measurement.compare_readings(log, draws=200))
    >>> found.ratios[0].ratio.new, found.beside
    ('red LED A', False)
    """

    found: Comparison | Confrontation
    seed: int | None
    beside: bool
    ratios: tuple[RatioFindings, ...]
    lenses: tuple[LensFindings, ...]
    remarks: tuple[object, ...]

    @property
    def how_to_read(self) -> Statement:
        """Say in words what the first ratio is."""
        limits = [one.ratio.ratio for one in self.ratios if not one.ratio.unbounded]
        return say("page.readings.how_to_read", ratio=[*limits, np.array([0.7, 0.8, 1.0])][0])

    @property
    def findings(self) -> tuple[Finding, ...]:
        """List the ratios that have a prediction."""
        return tuple(one.finding for one in self.ratios if one.finding is not None)


def findings_of_readings(found: Comparison | Confrontation) -> ReadingFindings:
    """Gather what is shown of readings.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the log says by itself, or beside the prediction for its vehicle.

    Returns
    -------
    ReadingFindings
        What the readings say, each asked once.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> found = lk.page.findings_of_readings(lk.measurement.compare_readings(log, draws=200))
    >>> sum(cause.share for cause in found.ratios[0].causes) > 0.999
    True
    """
    beside = found if isinstance(found, Confrontation) else None
    comparison = found.comparison if isinstance(found, Confrontation) else found
    ratios = () if comparison is None else comparison.ratios
    predicted = {id(f.ratio): f for f in (() if beside is None else beside.findings)}
    return ReadingFindings(
        found=found,
        seed=None if comparison is None else comparison.seed,
        beside=beside is not None,
        ratios=tuple(
            RatioFindings(r, causes(r.budget), whole_uncertainty(r.budget), predicted.get(id(r))) for r in ratios
        ),
        lenses=tuple(_lens(known) for known in (() if beside is None else beside.lenses)),
        remarks=tuple(found.remarks),
    )


def ratio_words(ratio: NDArray[np.float64]) -> Statement:
    """Write a ratio with its interval, and say so where it has no upper limit."""
    if np.isfinite(ratio[2]):
        return say("page.ratio.closed", ratio=ratio)
    return say("page.ratio.open", low=float(ratio[0]))


ROUNDING = 1e-20
"""Share of a variance that only rounding leaves [1]: the square of a part in 1e10."""


def causes(table: Budget) -> tuple[Cause, ...]:
    """Take the inputs of a budget together by what they are, the greatest contribution first."""
    squares = table.by_cause()
    total = sum(squares.values()) or 1.0
    scale = abs(table.value) or 1.0
    # A cause that cancels leaves what the arithmetic rounds, which is another number with every library.
    squares = {cause: square if square > ROUNDING * total else 0.0 for cause, square in squares.items()}
    ordered = sorted(squares.items(), key=lambda item: -item[1])
    return tuple(Cause(cause, float(np.sqrt(square)) / scale, square / total) for cause, square in ordered)


def whole_uncertainty(table: Budget) -> float:
    """Give the standard uncertainty of a ratio over the ratio [1]."""
    return abs(table.standard_uncertainty / (table.value or 1.0))


def cause_rows(ratios: Sequence[RatioFindings]) -> list[CauseRow]:
    """List causes that matter to a ratio in two digits, the others together."""
    found = [{cause.name: cause.uncertainty for cause in one.causes} for one in ratios]
    names = dict.fromkeys(cause for one in found for cause in one)
    matter = [
        n for n in names if any(one.get(n, 0.0) > MATTERS * r.whole for one, r in zip(found, ratios, strict=True))
    ]
    matter.sort(key=lambda n: -max(one.get(n, 0.0) for one in found))
    rest = [sum(v**2 for n, v in one.items() if n not in matter) ** 0.5 for one in found]
    rows = [CauseRow(say("page.cause.named", name=n), tuple(one.get(n, 0.0) for one in found)) for n in matter]
    rows.append(CauseRow(say("page.cause.smaller"), tuple(rest)))
    return [*rows, CauseRow(say("page.cause.together"), tuple(one.whole for one in ratios))]


def _lens(known: LensKnowledge) -> LensFindings:
    knowledge = known.knowledge
    owner = knowledge.lens.name
    quantities = tuple(
        Learnt(
            quantity=belief.name,
            unit=belief.unit,
            before=sampling.interval(knowledge.before.values[owner, belief.name]),
            after=sampling.interval(knowledge.garage.values[owner, belief.name], knowledge.garage.weights),
            spread_left=spread_left(knowledge, owner, belief.name),
        )
        for belief in knowledge.lens.beliefs
        if belief.spread > 0 and belief.shape != "fixed"
    )
    said: list[Statement] = [
        say("page.lens.learnt", quantity=q.quantity, unit=q.unit, before=q.before, after=q.after, left=q.spread_left)
        for q in quantities
        if q.learnt
    ]
    said += knowledge.remarks
    said += [say("page.lens.now", name=r.source.name, ratio=r.ratio) for r in known.assessment.results]
    if quantities:
        probes = {s.name: s for s in (*knowledge.sources, *(r.source for r in known.assessment.results))}
        best = max(
            lens_identification.ranked(knowledge, list(probes.values())),
            key=lambda row: float(row["information [bit]"]),
        )
        said.append(say("page.lens.next", name=best["probe"], information=float(best["information [bit]"])))
    return LensFindings(known, quantities, tuple(said))


# --- what to read after fitting ---


class ExpectedReading(NamedTuple):
    """What one lamp, circuit or side should read."""

    name: object
    expect: Statement


class CheckAfterFitting(NamedTuple):
    """One thing to measure or watch after fitting, and what each lamp, circuit or side should read."""

    subject: Statement
    what: Statement
    readings: tuple[ExpectedReading, ...]
    asked: Statement | None = None
    published: Statement | None = None

    @property
    def expect(self) -> Statement:
        """Say in one sentence what to expect, and what is published of it with its clause."""
        told = [say("page.check.of_lamp", name=one.name, expect=one.expect) for one in self.readings]
        return say("page.check.expected", lamps=told, published=self.published)


class CircuitCheck(NamedTuple):
    """What a circuit, or one side of it, draws before and after, and the voltage at its lamps after [A, A, V]."""

    name: Statement
    before: float
    after: float
    voltage: float


@dataclass(frozen=True)
class ChecksAfterFitting:
    """What to measure after fitting: light against the old, stop against tail, flashes, amperes and volts."""

    light: CheckAfterFitting | None
    tail: CheckAfterFitting | None
    flasher: CheckAfterFitting | None
    circuits: tuple[CircuitCheck, ...]
    supply: float

    @property
    def all(self) -> tuple[CheckAfterFitting, ...]:
        """List them as sentences."""
        found = [check for check in (self.light, self.tail, self.flasher) if check is not None]
        if self.circuits:
            amperes, volts = [], []
            for one in self.circuits:
                expected = say("page.check.amperes_expected", now=one.after, before=one.before)
                amperes.append(ExpectedReading(one.name, expected))
                volts.append(ExpectedReading(one.name, say("page.check.volts", voltage=one.voltage)))
            what = say("page.check.voltage_what", voltage=self.supply)
            found += [
                CheckAfterFitting(say("page.check.amperes"), say("page.check.amperes_what"), tuple(amperes)),
                CheckAfterFitting(say("page.check.voltage"), what, tuple(volts)),
            ]
        return tuple(found)


def checks(plan: Plan, lamps: Sequence[LampFindings], groups: Sequence[AlikeFindings]) -> ChecksAfterFitting:
    """List what to measure and watch after fitting."""
    # A tell-tale gives too little light for a meter of lux: it is looked at.
    measurable = [group for group in groups if not functions.function(group.lamp.function).tell_tale]
    light = tuple(_light(group) for group in measurable if group.first.fitted is not None)
    return ChecksAfterFitting(
        CheckAfterFitting(say("page.check.light"), say("page.check.light_what"), light) if light else None,
        _stop_and_tail(plan, lamps),
        _flashes(plan),
        tuple(_circuit_checks(plan)),
        plan.vehicle.running_voltage,
    )


def _light(group: AlikeFindings) -> ExpectedReading:
    """Tell what the new lamp should read as a multiple of the old one's own reading, both burning steadily."""
    result = group.first.fitted
    assert result is not None, "called for lamps that are converted"
    read = result.draws["ratio"] * result.draws["read over used"]
    low, _, high = sampling.interval(read, group.assessment.garage.weights)
    return ExpectedReading(group.name, say("page.check.times", low=float(low), high=float(high)))


def _stop_and_tail(plan: Plan, lamps: Sequence[LampFindings]) -> CheckAfterFitting | None:
    beside = sharing.outshining(plan.vehicle.lamps, plan.vehicle.held_to.name)
    pairs = [(lamps[pair.bright], lamps[pair.dim]) for pair in beside]
    pairs = [pair for pair in pairs if any(lamp.fitted is not None for lamp in pair)]
    if not pairs:
        return None
    try:
        (limit, *_) = limits.ratio_limits("stop to tail", plan.vehicle.held_to.name)
        cited = lamp_findings.citation(limit)
        asked = say("page.check.stop_asked", low=limit.low)
        published = say("page.check.stop_limit", low=limit.low, where=limit.where, citation=cited)
    except InputError:
        asked = published = say("page.check.no_stop_limit", rules=plan.vehicle.held_to.name)
    names: dict[str, tuple[Statement, dict[str, None]]] = {}
    for stop, tail in pairs:
        bright = (stop.fitted or stop.assessment.old).draws["flux"]
        dim = (tail.fitted or tail.assessment.old).draws["flux"]
        if len(bright) == len(dim):
            span = sampling.interval(bright / dim, stop.assessment.garage.weights)
            expect = say("page.check.stop_ratio", ratio=span)
            where = names.setdefault(str(expect), (expect, {}))[1]
            where[stop.lamp.name] = None
    found = [ExpectedReading(joint_name(list(where)), expect) for expect, where in names.values()]
    subject = say("page.check.stop", stop=all(stop.lamp.function == "stop" for stop, _ in pairs))
    return CheckAfterFitting(subject, say("page.check.stop_what"), tuple(found), asked=asked, published=published)


def _flashes(plan: Plan) -> CheckAfterFitting | None:
    wired = [c.name for c in plan.vehicle.circuits if c.flasher is not None]
    if not wired:
        return None
    rate = _flash_rate(plan.vehicle.held_to.name)
    if rate is None:
        asked = published = say("page.check.no_flasher_limit", rules=plan.vehicle.held_to.name)
    else:
        asked = say("page.check.flasher_asked", low=rate.low, high=rate.high)
        cited = lamp_findings.citation(rate)
        published = say("page.check.flasher_limit", low=rate.low, high=rate.high, citation=cited)
    subject = say("page.check.flasher", circuits=[say("page.check.flasher_of", circuit=name) for name in wired])
    return CheckAfterFitting(subject, say("page.check.flasher_what"), (), asked=asked, published=published)


def _flash_rate(rules: str) -> Limit | None:
    try:
        return next((v for v in limits.flash_limits(rules) if v.quantity == "flash rate"), None)
    except InputError:
        return None


def _circuit_checks(plan: Plan) -> Iterable[CircuitCheck]:
    for was, now in zip(plan.work.circuits[0], plan.work.circuits[-1], strict=True):
        for before, after in zip(was.sides, now.sides, strict=False):
            name = say("page.work.circuit", circuit=now.circuit.name, side=after.side)
            yield CircuitCheck(name, before.current, after.current, after.voltage)
