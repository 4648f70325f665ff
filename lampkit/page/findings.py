"""What is shown of a plan, gathered once: text, page, plain data and panel read it and compute nothing."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lampkit.page import first_sheet, lamp_findings, reading_findings, vehicle_findings
from lampkit.page.first_sheet import FitFindings, ShopArticle
from lampkit.page.lamp_findings import AlikeFindings, ClauseFindings, LampFindings, Told
from lampkit.page.reading_findings import ChecksAfterFitting, ReadingFindings
from lampkit.page.vehicle_findings import CircuitFindings, EarthFindings, WorkFindings
from lampkit.plan import suitability
from lampkit.plan.plan import Plan
from lampkit.plan.socket_voltages import EngineState
from lampkit.plan.suitability import OverTail
from lampkit.plan.timing import LampTiming
from lampkit.rules import colours
from lampkit.statements import Statement, say
from lampkit.uncertainty.sampling import Belief
from lampkit.vehicle.vehicle import Vehicle


@dataclass(frozen=True, eq=False)
class LimitFindings:
    """A published colour and the lamps that were held against it."""

    region: colours.ColourRegion
    lamps: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Assumption:
    """Something assumed, and the things for which it holds."""

    belief: Belief
    owners: tuple[str, ...]


@dataclass(frozen=True)
class Note:
    """What the user should know about some of the numbers."""

    owners: tuple[str, ...]
    words: object


@dataclass(frozen=True, eq=False)
class Findings:
    """What text, page, plain data and panel show of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    draws : int [1]
        How many possible garages were drawn.
    facts : Statement
        What is known of the vehicle, in a line.
    summary : Statement
        How many lamps are converted.
    lamps : tuple of LampFindings
        Each lamp, in the order of the vehicle.
    groups : tuple of AlikeFindings
        The same, those that are alike together.
    fit : tuple of FitFindings
        The line of each group: what to do, how it compares, how sure, which colour.
    shopping : tuple of ShopArticle
        What to buy, then the total, then what to look for.
    dangers : tuple of Told
        The few things that can go wrong, the worst first.
    common_replacement : tuple
        What every replacement on the vehicle must be.
    told : tuple
        What the choice of parts turned on.
    watch : tuple of Told
        What must not be overlooked.
    over_tail : tuple of OverTail
        Each stop lamp against the tail lamp beside it, where either gets a light source.
    circuits : tuple of CircuitFindings
        Each circuit before and after.
    fuses : Statement or None
        Which fuses are right and stay.
    ballast : tuple of Statement
        How hot the ballast resistors become.
    timings : tuple of (str, LampTiming)
        How quickly it lights, lamps that are alike together.
    checks : ChecksAfterFitting
        What to measure and watch after fitting.
    cautions : tuple of Told
        The cautions for the whole vehicle.
    earth : EarthFindings or None
        What a positive earth means; None for a vehicle with negative earth.
    work : WorkFindings or None
        The order of work and the circuits on the way; None where nothing is changed.
    readings : ReadingFindings or None
        What the readings of the vehicle's folder say; None without a log.
    limits : tuple of LimitFindings
        The published colours that were used.
    clauses : tuple of ClauseFindings
        What is published of candela on the axis, with its clause.
    without_limit : tuple of str
        The lamps that were held against none.
    beliefs : tuple of (str, Belief)
        Everything assumed, each after what it is believed of.
    assumptions : tuple of Assumption
        The same, what several things share once.
    notes : tuple of Note
        What the user should know about the numbers.
    footer : Statement
        How the numbers came about.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> found = lk.page.findings_of(lk.plan.make(van, draws=100))
    >>> len(found.lamps) > len(found.groups) > 5
    True
    >>> found.summary.key
    'page.summary'
    """

    plan: Plan
    draws: int
    facts: Statement
    summary: Statement
    lamps: tuple[LampFindings, ...]
    groups: tuple[AlikeFindings, ...]
    fit: tuple[FitFindings, ...]
    shopping: tuple[ShopArticle, ...]
    dangers: tuple[Told, ...]
    common_replacement: tuple[object, ...]
    told: tuple[object, ...]
    watch: tuple[Told, ...]
    over_tail: tuple[OverTail, ...]
    circuits: tuple[CircuitFindings, ...]
    fuses: Statement | None
    ballast: tuple[Statement, ...]
    timings: tuple[tuple[str, LampTiming], ...]
    checks: ChecksAfterFitting
    cautions: tuple[Told, ...]
    earth: EarthFindings | None
    work: WorkFindings | None
    readings: ReadingFindings | None
    limits: tuple[LimitFindings, ...]
    clauses: tuple[ClauseFindings, ...]
    without_limit: tuple[str, ...]
    beliefs: tuple[tuple[str, Belief], ...]
    assumptions: tuple[Assumption, ...]
    notes: tuple[Note, ...]
    footer: Statement


def findings_of(plan: Plan) -> Findings:
    """Gather what is shown of a plan.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    Findings
        What is decided and what hangs on it, each asked once.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> found = lk.page.findings_of(lk.plan.make(van, draws=100))
    >>> [str(line.task) for line in found.fit][0]
    'fit red LED B'
    """
    readings = None if plan.readings is None else reading_findings.findings_of_readings(plan.readings)
    lamps = lamp_findings.lamps(plan)
    groups = lamp_findings.alike(plan, lamps)
    draws = len(plan.assessments[0].garage) if plan.assessments else 0
    bought = any(offer is not None for offer in plan.choice.chosen.values())
    choice = plan.choice
    over_tail = suitability.over_tails(plan)
    watch = tuple(first_sheet.watch(plan, groups, lamps, over_tail))
    # Two lamps of one designation may be blackened by different shares: each belief of an owner counts.
    drawn = ((owner, belief) for a in plan.assessments for (owner, _), belief in a.garage.beliefs.items())
    beliefs = tuple(dict.fromkeys(drawn))
    return Findings(
        plan=plan,
        draws=draws,
        facts=_facts(plan.vehicle),
        summary=first_sheet.summary(groups),
        lamps=lamps,
        groups=groups,
        fit=tuple(first_sheet.fit(plan, group) for group in groups),
        shopping=first_sheet.shopping(plan, groups),
        dangers=first_sheet.dangers(
            watch, bought or bool(vehicle_findings.changed(plan)), vehicle_findings.flashing_changes(plan)
        ),
        common_replacement=plan.must_all_be if bought else (),
        told=tuple(words for words in (*choice.binding, choice.runner_up, *choice.notes) if words),
        watch=watch,
        over_tail=over_tail,
        circuits=vehicle_findings.circuits(plan),
        fuses=vehicle_findings.fuses(plan),
        ballast=vehicle_findings.ballast(plan),
        timings=tuple((group.short, group.first.timing) for group in groups if group.first.timing is not None),
        checks=reading_findings.checks(plan, lamps, groups),
        cautions=vehicle_findings.cautions(plan),
        earth=vehicle_findings.change_of_earth(plan),
        work=vehicle_findings.work(plan),
        readings=readings,
        limits=_limits(groups),
        clauses=lamp_findings.clauses([(group.name, group.axes) for group in groups]),
        without_limit=tuple(group.name for group in groups if group.assessment.colour_limit is None),
        beliefs=beliefs,
        assumptions=_assumptions(beliefs, _not_used(plan)),
        notes=_notes(plan),
        footer=_footer(plan, draws),
    )


# --- the whole vehicle --------------------------------------------------------------------------------------------


def _facts(v: Vehicle) -> Statement:
    values = {
        "supply": v.supply_voltage,
        "running": v.supplies[EngineState.RUNNING],
        "idling": v.supplies[EngineState.IDLING],
        "idle_told": v.idle_voltage is not None,
        "earth": None if v.without_battery else v.earth,
        "earth_told": v.earth_told,
        "rules": v.held_to.name,
        "told": v.held_to.told,
    }
    return say("page.facts", year=v.year, **values)


def _footer(plan: Plan, draws: int) -> Statement:
    from lampkit import __version__

    invented = plan.vehicle.invented
    return say("page.footer", version=__version__, draws=draws, seed=plan.seed, invented=invented)


# --- what it rests on ---------------------------------------------------------------------------------------------


def _limits(groups: Sequence[AlikeFindings]) -> tuple[LimitFindings, ...]:
    held: dict[str, tuple[colours.ColourRegion, list[str]]] = {}
    for group in groups:
        limit = group.assessment.colour_limit
        if limit is not None:
            held.setdefault(limit.name, (limit, []))[1].append(group.name)
    return tuple(LimitFindings(region, tuple(names)) for region, names in held.values())


def _not_used(plan: Plan) -> frozenset[str]:
    """List the names of light sources that are fitted nowhere, alone and in a lamp: nobody acts on what is believed."""
    used = {offer.name for offer in plan.choice.chosen.values() if offer is not None}
    left = [offer.name for offer in plan.vehicle.offers if offer.name not in used]
    return frozenset([*left, *(f"{name} in {lamp.name}" for name in left for lamp in plan.vehicle.lamps)])


def _assumptions(beliefs: Iterable[tuple[str, Belief]], not_used: frozenset[str]) -> tuple[Assumption, ...]:
    owners: dict[Belief, dict[str, None]] = {}
    for owner, belief in beliefs:
        # Directions in which measured parameters move together are no assumption: the notes of the lens tell of them.
        if owner in not_used or belief.name.startswith("direction "):
            continue
        owners.setdefault(belief, {})[owner] = None
    return tuple(Assumption(belief, tuple(names)) for belief, names in owners.items())


def _notes(plan: Plan) -> tuple[Note, ...]:
    notes: dict[str, tuple[object, dict[str, None]]] = {}
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        written: dict[str, Sequence[object]] = {
            assessment.lens.name: assessment.lens.notes
            if lamp.material_told
            else (*assessment.lens.notes, say("page.assumption.plastic")),
        }
        offer = plan.choice.chosen.get(lamp.name)
        written |= {offer.name: (offer.note,)} if offer is not None and offer.note else {}
        for owner, sentences in written.items():
            for sentence in sentences:
                notes.setdefault(str(sentence), (sentence, {}))[1][owner] = None
    for part, number in plan.choice.parts:
        if number > 0 and part.note:
            notes.setdefault(part.note, (part.note, {}))[1][part.name] = None
    return tuple(Note(tuple(names), sentence) for sentence, names in notes.values())


def short_facts(found: Findings) -> Statement:
    """Say in a few words what is known of the vehicle."""
    v = found.plan.vehicle
    now, after = (None if v.without_battery else earth for earth in (v.earth, v.earth_after))
    values = {"supply": v.supply_voltage, "earth": now, "after": after, "rules": v.held_to.name}
    return say("page.sheet.facts", year=v.year, earth_told=v.earth_told, **values)
