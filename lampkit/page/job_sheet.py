"""The job sheet, four sheets at most to take to a shop and to the garage, and beside it the page with their basis."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lampkit.circuits import charging
from lampkit.conversion.assessment import Result
from lampkit.conversion.suggestion import SURE, Verdict
from lampkit.page import (
    circuit_pictures,
    colour_chart,
    findings,
    frame,
    lamp_faces,
    lamp_findings,
    light_charts,
    readings,
    sheet_tables,
    time_pictures,
)
from lampkit.page.findings import Findings, LimitFindings
from lampkit.page.frame import drawn, picture
from lampkit.page.lamp_findings import AlikeFindings, Told
from lampkit.page.style import Drawing, anchor, called
from lampkit.plan.plan import Plan
from lampkit.progress import Phase, steps
from lampkit.sources.light_source import DOUBTED
from lampkit.statements import Statement, named, say

if TYPE_CHECKING:
    from markupsafe import Markup

CROWDED = 2
"""Candidates above which a lamp's page has no room for its last picture on paper [1]. Source: own judgement."""

TOLD_ELSEWHERE = (
    "page.caution.approval",
    "page.caution.flasher",
    "page.caution.wrong_colour",
    "page.caution.claim",
    "page.caution.much_light",
)
"""Cautions of a lamp that stand on the job sheet, in its tables, among the claims or once for all lamps."""

ON_SHEET = ("to_fit.diodes", "to_fit.insulated_holder", "to_fit.flasher", "to_fit.ballast")
"""What is told of the parts that are bought: it stands on the job sheet, beside the sketch of their circuit."""

IN_THE_ORDER = ("page.cautions.battery", "page.cautions.bench", "page.cautions.holders", "page.cautions.road")
"""Cautions that stand in the order of work, where their hazard is."""


def basis_html(plan: Plan, sheet: str = "") -> str:
    """Write what a job sheet rests on as one page that needs nothing else: pictures, style and all.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.
    sheet : str
        The name of the job sheet's file beside it; without one nothing leads back.

    Returns
    -------
    str
        The page, in HTML.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> page = lk.page.basis_html(lk.plan.make(van, draws=100), sheet="van.html")
    >>> 'href="van.html' in page
    True
    """
    return basis_of(findings.findings_of(plan), sheet)


def basis_of(found: Findings, sheet: str, lead: object = "") -> str:
    """Write the basis of findings that were gathered before; a page that stands alone leads with its answer."""
    name = found.plan.vehicle.name
    title = name if lead else say("page.basis.title", vehicle=name)
    short = {group.name: sheet_tables.numbered(group, short=True) for group in found.groups}
    shown = frame.filled(
        "basis.html",
        found=found,
        name=title,
        lead=lead,
        sheet=frame.address(sheet),
        tables=sheet_tables,
        lamps=[_lamp(found, group) for group in steps(found.groups, Phase.PAGE)],
        glance=_glance(found),
        in_time=_in_time(found.plan),
        currents=_currents(found),
        sketches=_sketches(found.plan),
        earth=None if found.earth is None else say("page.earth.heading", now=found.earth.now, after=found.earth.after),
        earth_words=_of_the_earth(found),
        seen=sheet_tables.seen(found.groups),
        limits=[(_limit(limit, short), limit.region) for limit in found.limits],
        without=say("page.limits.without", lamps=[short[name] for name in found.without_limit]),
        clauses=sheet_tables.clauses(found.clauses, short),
        claims=_claims(found),
        notes=_notes(found),
        replacements=_replacements(found),
        told=[words for words in found.told if not isinstance(words, Statement) or words.key != "notes.claim"],
        hazards=_hazards(found),
        parts=[words for words in found.plan.parts_to_fit if words.key not in ON_SHEET] if found.work else [],
        cautions=[*_of_lamps(found), *_of_the_vehicle(found)],
        readings=None if found.readings is None else readings.section_content(found.readings),
    )
    return frame.page(title, shown, found.footer)


def _glance(found: Findings) -> "Markup | None":
    """Draw the whole vehicle; nothing where no lamp has a candidate."""
    shown = [group for group in found.groups if group.assessment.results]
    if not shown:
        return None
    lamps = [group.assessment for group in shown]
    fitted = {group.name: group.first.fitted for group in shown}
    return picture(light_charts.ratio_chart(lamps, suggested=fitted))


def _in_time(plan: Plan) -> list[Drawing]:
    """Draw what the first stop lamp gains on the road and how the first turn lamp flashes, still, as for paper."""
    lamps = {lamp.name: lamp for lamp in plan.vehicle.lamps}
    shown = []
    braking = [found for found in plan.timings.values() if np.isnan(found.flash_share)]
    flashing = [lamps[name] for name, found in plan.timings.items() if name in lamps and np.isfinite(found.flash_share)]
    if braking:
        shown.append(time_pictures.road_picture(braking[0]))
    for lamp in flashing[:1]:
        offer = plan.fitted(lamp.name) or next(iter(lamp.candidates), None)
        if offer is not None:
            shown.append(time_pictures.flash_picture(lamp, offer.source, moving=False))
    return shown


def _currents(found: Findings) -> "Markup | None":
    return picture(circuit_pictures.currents(found.plan.circuits)) if found.plan.circuits else None


def _sketches(plan: Plan) -> "list[list[Markup]]":
    """Draw each circuit that changes, as it is and as chosen."""
    first, last = plan.work.circuits[0], plan.work.circuits[-1]
    return [
        [drawn(circuit_pictures.wiring_sketch(plan.vehicle, now)) for now in pair]
        for pair in zip(first, last, strict=True)
        if circuit_pictures.differ(*pair)
    ]


def _lamp(found: Findings, group: AlikeFindings) -> dict[str, Any]:
    """Fill the page of a lamp."""
    first, assessment = group.first, group.assessment
    decision = first.decision
    headline: object = decision.statement
    why: list[object] = [] if decision.result is None else [decision.result.why]
    if decision.verdict is Verdict.KEEP:
        headline, why = say("page.lamp.keep", name=called(group.lamp.filament)), [decision.statement, *why]
    charts = [picture(colour_chart.chromaticity_chart(assessment))]
    if assessment.results:
        charts.append(picture(light_charts.ratio_chart(assessment)))
    if decision.verdict is Verdict.FIT:
        headline = say("page.lamp.fit", task=found.fit[group.number - 1].task)
    # What was read stands in the table.
    told = lamp_findings.candela_of(group)
    asked = dict.fromkeys(str(w.values["asked"] if w.key == "page.text.axis_read" else w) for w in told)
    said = [*asked, *group.measured, lamp_findings.voltage_words(first)]
    return {
        "group": group,
        "anchor": anchor(group.name),
        "crowded": len(assessment.results) > CROWDED,
        "facts": lamp_findings.known_of(group),
        "faces": lamp_faces.lit_faces(assessment, _drawn(group), low=True),
        "headline": headline,
        "why": why,
        "cautions": [told for told in group.cautions if told.heading.key not in TOLD_ELSEWHERE],
        "light": sheet_tables.light(group, found.plan.vehicle.currency),
        "colour": sheet_tables.colour_and_candela(group),
        "said": [words for words in said if words],
        "left": [picture(light_charts.through_lens_chart(assessment))],
        "right": charts,
    }


def _of_the_earth(found: Findings) -> list[object]:
    """List what is said of the earth; for which generator the order holds, only where there is an order."""
    if found.earth is None:
        return []
    vehicle = found.plan.vehicle
    order = say("page.earth.generator", generator=named(charging.GeneratorKind(vehicle.generator)))
    return [words for words in found.earth.words if vehicle.earth_changes or words != order]


def _replacements(found: Findings) -> list[tuple[list[int], Statement]]:
    """Say once what a replacement must be, with the numbers of the lamps for which it holds."""
    told: dict[str, tuple[list[int], Statement]] = {}
    for group in found.groups:
        for words in group.first.replacement:
            if words not in found.common_replacement:
                told.setdefault(str(words), ([], words))[0].append(group.number)
    return list(told.values())


def _drawn(group: AlikeFindings) -> list[Result]:
    """Give what is fitted or, where the filament stays, the light source that comes nearest to it."""
    first = group.first
    nearest = max(group.assessment.results, key=lambda r: r.chance, default=None)
    shown = first.fitted or first.decision.result or nearest
    return [] if shown is None else [shown]


def _hazards(found: Findings) -> list[Statement]:
    """Say once of all circuits which hazards are on them, but for those that stand in the order of work."""
    steps = () if found.work is None else found.work.steps
    told = {str(words) for step in steps for words in step.cautions}
    listed = {str(words): words for circuit in found.circuits for words in circuit.cautions}
    return [words for text, words in listed.items() if text not in told]


def _limit(limit: LimitFindings, short: Mapping[str, object]) -> Statement:
    """Head a published colour with its source and the lamps that were held against it."""
    source = sheet_tables.one_source(limit.region.boundaries)
    return say("page.limits.of", name=limit.region.name, source=source, lamps=[short[name] for name in limit.lamps])


def _of_lamps(found: Findings) -> list[Told]:
    """Say once which lamps get much light."""
    told: dict[str, tuple[Told, list[object]]] = {}
    for group in found.groups:
        for caution in group.cautions:
            if caution.heading.key == "page.caution.much_light":
                named_ = sheet_tables.numbered(group, short=True)
                told.setdefault(str(caution.words), (caution, []))[1].append(named_)
    return [Told(one.heading, say("page.caution.of_lamps", lamps=of, words=one.words)) for one, of in told.values()]


def _of_the_vehicle(found: Findings) -> list[Told]:
    """List the cautions of the vehicle that stand not yet in the order of work."""
    return [told for told in found.cautions if not found.work or told.heading.key not in IN_THE_ORDER]


def _notes(found: Findings) -> list[tuple[object, object]]:
    """List the notes after what they are told of; one of every lens names none."""
    lenses = {assessment.lens.name for assessment in found.plan.assessments}
    every = say("page.assumption.every_lens")
    told: list[tuple[object, object]] = []
    for note in found.notes:
        of_all = len(lenses) > 1 and set(note.owners) == lenses
        told.append((every if of_all else ", ".join(note.owners), note.words))
    return told


def _claims(found: Findings) -> list[Statement]:
    """Say once of each light source whose claim is doubted why."""
    told = {
        result.source.name: say("page.lamp.claim", name=result.source.name, claim=result.claim_statement)
        for group in found.groups
        for result in group.assessment.results
        if result.claim in DOUBTED
    }
    return list(told.values())


def job_sheet_html(plan: Plan, beside: str = "") -> str:
    """Write the plan as a page to take along: what to fit and buy, where, in which order, and what to measure.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.
    beside : str
        The name of the file with the basis beside it; without one nothing leads there.

    Returns
    -------
    str
        The page, in HTML; it needs nothing else.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> page = lk.page.job_sheet_html(lk.plan.make(van, draws=100))
    >>> page.splitlines()[0]
    '<!DOCTYPE html>'
    """
    return sheet_of(findings.findings_of(plan), beside)


def sheet_of(found: Findings, beside: str) -> str:
    """Write the job sheet of findings that were gathered before."""
    vehicle, checks = found.plan.vehicle, found.checks
    shown = frame.filled(
        "job_sheet.html",
        found=found,
        short=findings.short_facts(found),
        basis=frame.address(beside) or None,
        basis_name=beside,
        fit=sheet_tables.what_to_fit(found),
        asked=SURE,
        shop=sheet_tables.what_to_buy(found) if found.shopping else None,
        map=drawn(lamp_faces.vehicle_map(found.groups)),
        wiring=_wiring(found.plan),
        parts=[note for note in found.plan.parts_to_fit if note.key in ON_SHEET],
        measured=bool(checks.all),
        light=sheet_tables.light_to_read(found),
        others=[check for check in (checks.tail, checks.flasher) if check is not None],
        circuits=sheet_tables.circuits_to_read(found),
    )
    return frame.page(say("page.title", vehicle=vehicle.name), shown, found.footer)


def _wiring(plan: Plan) -> "list[Markup]":
    """Draw each circuit that gets new parts, as chosen."""
    first, last = plan.work.circuits[0], plan.work.circuits[-1]
    return [
        drawn(circuit_pictures.wiring_sketch(plan.vehicle, now))
        for was, now in zip(first, last, strict=True)
        if circuit_pictures.rewired(was, now)
    ]


def basis_beside(path: str | Path) -> Path:
    """Name the file of the basis that is written beside a job sheet."""
    target = Path(path)
    return target.with_name(f"{target.stem}_basis{target.suffix}")


def save_job_sheet(plan: Plan, path: str | Path) -> None:
    """Write the job sheet to a file, and its basis to another one beside it, each whole or not at all.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.
    path : str or Path
        The file, ending in .html; an older one is replaced. The basis gets the same name with _basis.

    Raises
    ------
    InputError
        The folder does not exist, or a file cannot be written.

    Examples
    --------
    >>> import os, tempfile
    >>> import lampkit as lk
    >>> plan = lk.plan.make(lk.vehicle.load(lk.tables.folder() / "library_van"), draws=100)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     lk.page.save_job_sheet(plan, f"{folder}/van.html")
    ...     sorted(os.listdir(folder))
    ['van.html', 'van_basis.html']
    """
    save(findings.findings_of(plan), path)


def save(found: Findings, path: str | Path) -> None:
    """Write the job sheet of findings that were gathered before to a file, and its basis beside it."""
    target, beside = Path(path), basis_beside(path)
    frame.check_place(target)
    frame.check_place(beside, "the basis of the job sheet")
    sheet, rest = sheet_of(found, beside.name), basis_of(found, target.name)
    frame.save(rest, beside)
    frame.save(sheet, target)
