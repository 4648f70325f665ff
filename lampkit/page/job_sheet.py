"""The job sheet: what to fit in each lamp and why, as a page for print and phone."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from lampkit.conversion.assessment import Result
from lampkit.conversion.suggestion import Verdict
from lampkit.page import (
    circuit_chart,
    circuit_sketch,
    colour_chart,
    findings,
    frame,
    lamp_faces,
    lamp_findings,
    light_charts,
    readings,
    sheet_tables,
)
from lampkit.page.findings import AlikeFindings, Findings
from lampkit.page.lamp_findings import Told
from lampkit.page.style import anchor, called, svg
from lampkit.plan.plan import Plan
from lampkit.progress import Phase, steps
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from markupsafe import Markup
    from matplotlib.figure import Figure

CROWDED = 2
"""Candidates above which a lamp's page has no room for its last picture on paper [1]. Source: own judgement."""


def job_sheet_html(plan: Plan) -> str:
    """Write the plan as one page that needs nothing else: pictures, style and all.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    str
        The page, in HTML.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> page = lk.page.job_sheet_html(lk.plan.make(van, draws=100))
    >>> page.splitlines()[0]
    '<!DOCTYPE html>'
    """
    found = findings.findings_of(plan)
    shown = frame.filled(
        "job_sheet.html",
        found=found,
        tables=sheet_tables,
        lamps=[_lamp(found, group) for group in steps(found.groups, Phase.PAGE)],
        glance=_glance(found),
        currents=_currents(found),
        sketches=_sketches(found.plan),
        readings=None if found.readings is None else readings.section_content(found.readings),
    )
    return frame.page(say("page.title", vehicle=plan.vehicle.name), shown, found.footer)


def save_job_sheet(plan: Plan, path: str | Path) -> None:
    """Write the job sheet to a file, whole or not at all.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.
    path : str or Path
        The file, ending in .html; an older one is replaced.

    Raises
    ------
    InputError
        The folder does not exist, or the file cannot be written.

    Examples
    --------
    >>> import os, tempfile
    >>> import lampkit as lk
    >>> plan = lk.plan.make(lk.vehicle.load(lk.tables.folder() / "library_van"), draws=100)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     lk.page.save_job_sheet(plan, f"{folder}/van.html")
    ...     os.listdir(folder)
    ['van.html']
    """
    frame.check_place(path)
    frame.save(job_sheet_html(plan), path)


def picture(figure: "Figure", description: object) -> "Markup":
    """Write a chart into the page."""
    from markupsafe import Markup

    return Markup(svg(figure, description))


def _glance(found: Findings) -> "Markup | None":
    """Draw the whole vehicle; nothing where no lamp has a candidate."""
    shown = [group for group in found.groups if group.assessment.results]
    if not shown:
        return None
    lamps = [group.assessment for group in shown]
    fitted = {group.name: group.first.fitted for group in shown}
    described = light_charts.describe_ratio(lamps, suggested=fitted)
    return picture(light_charts.ratio_chart(lamps, suggested=fitted), described)


def _currents(found: Findings) -> "Markup | None":
    reports = found.plan.circuits
    if all(report.change is None for report in reports):
        return None
    return picture(circuit_chart.currents(reports), circuit_chart.describe_currents(reports))


def _sketches(plan: Plan) -> "list[list[Markup]]":
    """Draw each circuit that changes, as it is and as chosen."""
    first, last = plan.work.circuits[0], plan.work.circuits[-1]
    return [
        [picture(circuit_sketch.wiring_sketch(plan.vehicle, now), circuit_sketch.describe_wiring(plan.vehicle, now))
         for now in pair]
        for pair in zip(first, last, strict=True)
        if circuit_sketch.differ(*pair)
    ]  # fmt: skip


def _lamp(found: Findings, group: AlikeFindings) -> dict[str, Any]:
    """Fill the page of a lamp."""
    first, assessment = group.first, group.assessment
    decision = first.decision
    headline: object = decision.statement
    why: list[object] = [] if decision.result is None else [decision.result.why]
    if decision.verdict is Verdict.KEEP:
        headline, why = say("page.lamp.keep", name=called(group.lamp.filament)), [decision.statement, *why]
    charts = [picture(colour_chart.chromaticity_chart(assessment), colour_chart.describe_chromaticity(assessment))]
    if assessment.results:
        charts.append(picture(light_charts.ratio_chart(assessment), light_charts.describe_ratio(assessment)))
    through = light_charts.through_lens_chart(assessment)
    return {
        "group": group,
        "anchor": anchor(group.name),
        "crowded": len(assessment.results) > CROWDED,
        "facts": findings.known_of(group),
        "faces": lamp_faces.lit_faces(assessment, _drawn(group), low=True),
        "headline": headline,
        "why": why,
        "basis": _basis(group),
        "said": _said(found, group),
        "claims": [
            say("page.lamp.claim", name=r.source.name, claim=r.claim_statement) for r in assessment.results if r.claim
        ],
        "left": [picture(through, light_charts.describe_through_lens(assessment))],
        "right": charts,
    }


def _drawn(group: AlikeFindings) -> list[Result]:
    """Give what is fitted or, where the filament stays, the light source that comes nearest to it."""
    first = group.first
    nearest = max(group.assessment.results, key=lambda r: r.chance, default=None)
    shown = first.fitted or first.decision.result or nearest
    return [] if shown is None else [shown]


def _basis(group: AlikeFindings) -> Statement | None:
    """Say what the lamps need on their axis and, where it was read, what they give."""
    told = findings.candela_of(group)
    return say("page.lamp.basis", axes=told) if told else None


def _said(found: Findings, group: AlikeFindings) -> list[Told]:
    """Fitting, range, brightness and readings, each with its heading."""
    first = group.first
    fitting = [words for words in first.replacement if words not in found.common_replacement]
    seen = next((one for one in group.members if one.seen), first)
    pairs = (
        (say("page.lamp.replacement"), fitting),
        (say("page.lamp.voltages"), [lamp_findings.voltage_words(first)]),
        (say("page.lamp.range"), [lamp_findings.seen_words(seen)]),
        (say("page.lamp.brightness"), [lamp_findings.brightness_words(first.sources[first.place])]),
        (say("page.lamp.readings"), list(group.measured)),
    )
    return [Told(heading, [w for w in words if w]) for heading, words in pairs if any(words)]
