"""What is shown of a plan, gathered once: text, page, plain data and panel read it and compute nothing."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lampkit import numbers
from lampkit.conversion.assessment import Ground
from lampkit.conversion.suggestion import TELL_TALE_MOST, Verdict
from lampkit.measurement.shortfall import AgreementVerdict
from lampkit.page import lamp_findings, reading_findings, vehicle_findings
from lampkit.page.lamp_findings import (
    AlikeFindings,
    ClauseFindings,
    FitFindings,
    LampFindings,
    ShopArticle,
    SourceFindings,
    Told,
)
from lampkit.page.reading_findings import ReadingFindings
from lampkit.page.style import called
from lampkit.page.vehicle_findings import ChecksAfterFitting, CircuitFindings, EarthFindings, WorkFindings
from lampkit.plan import suitability
from lampkit.plan.agreement import Finding
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.plan import Plan, joint_name
from lampkit.plan.socket_voltages import EngineState
from lampkit.plan.suitability import OverTail
from lampkit.plan.timing import LampTiming
from lampkit.rules import colours, functions
from lampkit.sources.claims import DOUBTED, Claim
from lampkit.statements import Statement, named, say
from lampkit.uncertainty.sampling import Belief
from lampkit.vehicle import sharing
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
    lamps = _lamps(plan)
    groups = _groups(plan, lamps)
    draws = len(plan.assessments[0].garage) if plan.assessments else 0
    bought = any(offer is not None for offer in plan.choice.chosen.values())
    choice = plan.choice
    over_tail = suitability.over_tails(plan)
    watch = tuple(_watch(plan, groups, lamps, over_tail))
    # Two lamps of one designation may be blackened by different shares: each belief of an owner counts.
    drawn = ((owner, belief) for a in plan.assessments for (owner, _), belief in a.garage.beliefs.items())
    beliefs = tuple(dict.fromkeys(drawn))
    return Findings(
        plan=plan,
        draws=draws,
        facts=_facts(plan.vehicle),
        summary=_summary(groups),
        lamps=lamps,
        groups=groups,
        fit=tuple(lamp_findings.fit(plan, group) for group in groups),
        shopping=lamp_findings.shopping(plan, groups),
        dangers=lamp_findings.dangers(watch, bought, any(map(lamp_findings.is_flashed, plan.vehicle.lamps))),
        common_replacement=plan.must_all_be if bought else (),
        told=tuple(words for words in (*choice.binding, choice.runner_up, *choice.notes) if words),
        watch=watch,
        over_tail=over_tail,
        circuits=vehicle_findings.circuits(plan),
        fuses=vehicle_findings.fuses(plan),
        ballast=vehicle_findings.ballast(plan),
        timings=tuple((group.short, group.first.timing) for group in groups if group.first.timing is not None),
        checks=vehicle_findings.checks(plan, lamps, groups),
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


# --- each lamp, and those that are alike ---------------------------------------------------------------------------


def _lamps(plan: Plan) -> tuple[LampFindings, ...]:
    """Gather each lamp; lamps that share their results share what is made of them."""
    sources: dict[tuple[int, int, int], tuple[SourceFindings, ...]] = {}
    found = []
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        which = (id(assessment.old), id(assessment.results), id(lamp.candidates))
        if which not in sources:
            sources[which] = lamp_findings.sources(lamp, assessment)
        axis = plan.intensities.get(lamp.name)
        timing = plan.timings.get(lamp.name)
        found.append(
            LampFindings(
                lamp=lamp,
                assessment=assessment,
                decision=plan.decision(lamp.name),
                sources=sources[which],
                axis=axis,
                seen=lamp_findings.seen(lamp, axis, timing),
                timing=timing,
                replacement=plan.must_be(lamp.name),
                socket=plan.sockets[lamp.name],
                at_other_voltages=plan.at_other_voltages[lamp.name],
            )
        )
    return tuple(found)


def _groups(plan: Plan, lamps: Sequence[LampFindings]) -> tuple[AlikeFindings, ...]:
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
                cautions=lamp_findings.cautions(members[0], plan.vehicle),
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
            each = [say("page.lamp.of_source", name=result.source.name, ratio=result.ratio) for result in alike]
            said.append(say("page.lamp.on_twin", lamp=one.lamp.name, told=each))
    return tuple(said)


def candela_of(group: AlikeFindings) -> list[Statement]:
    """Say what the lamps of a group need on their axis: of each that was read, else once for all."""
    place, fitted = group.first.place, group.first.fitted
    name = None if fitted is None else called(fitted.source)
    axes = [axis for axis in group.axes if axis.limits]
    told = [axis for axis in axes if axis.measured] or axes[:1]
    return [lamp_findings.candela_words(axis, place, name) for axis in told]


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


def _summary(groups: Sequence[AlikeFindings]) -> Statement:
    """Say in a sentence how many lamps are converted."""
    verdicts = [group.first.decision.verdict for group in groups]
    fit, measure, keep = (verdicts.count(v) for v in Verdict)
    return say("page.summary", kinds=len(verdicts), fit=fit, measure=measure, keep=keep)


def _may_dazzle(group: AlikeFindings) -> bool:
    """Tell whether a tell-tale gets so much light that its driver should look at it by night."""
    result = group.first.decision.result
    tell_tale = functions.function(group.lamp.function).tell_tale
    return tell_tale and result is not None and float(result.ratio[1]) > TELL_TALE_MOST


def _was_read_wrong(words: Statement) -> bool:
    """Tell whether a statement says that a meter reading is not as it should be."""
    return words.key == "meter_reading.told" and words.values["words"].key.endswith(".differs")


def _is_far_off(found: Finding) -> bool:
    """Tell whether a light ratio was read that what was assumed cannot explain, as after a slip by a factor of ten."""
    return found.agreement.verdict is AgreementVerdict.DIFFERS


GLARE = 4.0
"""Light against the filament's from which the first sheet warns of it [1]. Source: own judgement."""


def _may_glare(group: AlikeFindings) -> bool:
    """Tell whether a lamp that is no tell-tale gets so much light that it cannot go unsaid."""
    fitted = group.first.fitted
    return (
        fitted is not None and float(fitted.ratio[1]) >= GLARE and not functions.function(group.lamp.function).tell_tale
    )


def _watch(
    plan: Plan, groups: Sequence[AlikeFindings], lamps: Sequence[LampFindings], over_tail: Sequence[OverTail]
) -> Iterable[Told]:
    """List what must not be overlooked, in few words.

    Source: common practice, no source, for the dual holder.
    """
    stay = [group.name for group in groups if group.first.decision.verdict is Verdict.KEEP]
    if stay:
        yield Told(say("page.watch.stays"), say("page.watch.stays_words", names=stay))
    bare = plan.vehicle.without_battery
    if (bare or plan.vehicle.generator == "magneto") and any(group.first.fitted is not None for group in groups):
        yield Told(say("page.watch.magneto", bare=bare), say("page.watch.magneto_words", bare=bare))
    wrong_there = [report.circuit.name for report in plan.circuits if any(map(_was_read_wrong, report.words))]
    far = [] if plan.readings is None else [f for f in plan.readings.findings if _is_far_off(f)]
    if wrong_there or far:
        typical = [(f.ratio, {"ratio": f.ratio.ratio[1], "expected": f.predicted[1]}) for f in far]
        read = [say("page.watch.readings_of", lamp=one.lamp, name=one.new, **values) for one, values in typical]
        yield Told(say("page.watch.readings"), say("page.watch.readings_words", circuits=wrong_there, lamps=read))
    bright: dict[str, list[OverTail]] = {}
    for one in over_tail:
        if one.too_bright:
            bright.setdefault(numbers.interval(one.ratio), []).append(one)
    for alike in bright.values():
        stops, tails = joint_name([one.stop for one in alike]), joint_name([one.tail for one in alike])
        values = {"ratio": alike[0].ratio.tolist(), "wanted": alike[0].wanted, "chance": alike[0].chance}
        yield Told(say("page.watch.tail"), say("page.watch.tail_words", stop=stops, tail=tails, **values))
    tried = [group for group in groups if group.first.decision.verdict is Verdict.FIT_THEN_MEASURE]
    dazzling = [group.name for group in tried if _may_dazzle(group)]
    unsure = [group.name for group in tried if group.name not in dazzling]
    if dazzling:
        yield Told(say("page.watch.dazzling"), say("page.watch.dazzling_words", names=dazzling))
    glaring = [group for group in groups if _may_glare(group)]
    if glaring:
        held = {one.tail for one in over_tail}
        tail = any(group.lamp.function == "tail" and group.lamp.name not in held for group in glaring)
        names = [group.short for group in glaring]
        yield Told(say("page.watch.glare"), say("page.watch.glare_words", names=names, tail=tail))
    if unsure:
        yield Told(say("page.watch.measure"), say("page.watch.measure_words", names=unsure))
    for words in plan.choice.notes:
        if words.key == "notes.flasher_unknown":
            yield Told(say("page.watch.flasher"), words)
    if plan.choice.fitted:
        yield Told(say("page.watch.circuits"), say("page.watch.circuits_words", sentences=plan.choice.fitted))
    if plan.vehicle.earth_after == "positive":
        bound = [offer.name for offer in plan.vehicle.offers if offer.either_polarity is False]
        yield Told(say("page.watch.earth"), say("page.watch.earth_words", names=bound))
    wrong: dict[str, list[str]] = {}
    for group in groups:
        for source in group.first.sources[1:]:
            if source.result.colour is not None and not source.result.colour.inside:
                wrong.setdefault(source.result.source.name, []).append(group.short)
    if wrong:
        said = [say("page.watch.wrong_in", name=name, lamps=where) for name, where in wrong.items()]
        yield Told(say("page.watch.wrong_colour"), say("page.watch.wrong_colour_words", names=said))
    claims = _doubted_claims(groups)
    if claims is not None:
        yield Told(say("page.watch.claims"), claims)
    if any(lamps[i].fitted is not None for i, _ in sharing.holders(plan.vehicle.lamps)):
        yield Told(say("page.watch.holders"), say("page.watch.holders_words"))


def _doubted_claims(groups: Sequence[AlikeFindings]) -> Statement | None:
    """Say which claims are doubted: of what is fitted with what decides, of the rest what is past belief."""
    results = {s.result.source.name: s.result for group in groups for s in group.first.sources[1:]}
    fitted = {group.first.fitted.source.name for group in groups if group.first.fitted is not None}
    warm = [name for name in results if name in fitted and results[name].claim is Claim.TOO_WARM]
    past = [name for name, result in results.items() if result.claim in DOUBTED and result.claim is not Claim.TOO_WARM]
    others = [say("page.watch.claim_of", name=n, verdict=named(results[n].claim)) for n in past if n not in fitted]
    if not (warm or past):
        return None
    return say("page.watch.claims_words", warm=warm, fitted=[n for n in past if n in fitted], others=others)


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
    notes: dict[object, dict[str, None]] = {}
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        written: dict[str, Sequence[object]] = {
            assessment.lens.name: assessment.lens.notes,
        }
        offer = plan.choice.chosen.get(lamp.name)
        written |= {offer.name: (offer.note,)} if offer is not None and offer.note else {}
        for owner, sentences in written.items():
            for sentence in sentences:
                notes.setdefault(sentence, {})[owner] = None
    for part, number in plan.choice.parts:
        if number > 0 and part.note:
            notes.setdefault(part.note, {})[part.name] = None
    return tuple(Note(tuple(names), sentence) for sentence, names in notes.items())


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


def short_facts(found: Findings) -> Statement:
    """Say in a few words what is known of the vehicle."""
    v = found.plan.vehicle
    now, after = (None if v.without_battery else earth for earth in (v.earth, v.earth_after))
    values = {"supply": v.supply_voltage, "earth": now, "after": after, "rules": v.held_to.name}
    return say("page.sheet.facts", year=v.year, earth_told=v.earth_told, **values)
