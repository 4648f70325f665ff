"""The job sheet: what to fit in each lamp and why, as a table of text, as a page for print and phone, as plain data."""

import os
from pathlib import Path
from textwrap import wrap

from lampkit import numbers
from lampkit.conversion import Assessment, Result, Suggestion, Verdict
from lampkit.errors import InputError
from lampkit.page import (
    after_fitting,
    job_sheet,
    job_sheet_basis,
    job_sheet_lamps,
    lamp_facts,
    sheet_page,
    vehicle_facts,
)
from lampkit.page.style import called, percent, tagged
from lampkit.plan.plan import Plan
from lampkit.vehicle.vehicle import Lamp

COLUMNS = 100
"""Width of the table in letters [1]."""


def report_text(plan: Plan) -> str:
    """Write the plan as a table of at most 100 columns.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    str
        A block for each lamp, lamps that are alike together, with what to do under its name; then the footer.
    """
    vehicle = plan.vehicle
    lines = [vehicle.name, *wrap(job_sheet.facts(plan), COLUMNS), ""]
    header = f"  {'':2}{'light source':27}{'claimed':>9}{'passes':>9}  {'light against':19}{'chance':>12}  colour"
    units = f"  {'':2}{'':27}{'[lm]':>9}{'':9}  {'filament [1]':19}{'':8}"
    lines += [header, units.rstrip(), "-" * COLUMNS]
    for lamp, assessment in job_sheet_basis.alike(plan):
        chosen = job_sheet_basis.decided(plan, lamp, assessment)
        lines.append(f"{assessment.name} ({assessment.lens.name})"[:COLUMNS])
        for tag, result in tagged(assessment):
            lines += _row(tag, assessment, result)
        lines += wrap(str(chosen.statement), COLUMNS, initial_indent="  > ", subsequent_indent="    ")
        if not lamp.road_rule:
            lines.append("    No road rule applies here, so no published limit was applied.")
        lines += [*_axis_lines(plan, lamp, chosen), ""]
    lines += [
        "To buy",
        *plan.choice.shopping_list().to_string(index=False, na_rep="", float_format="{:.2f}".format).splitlines(),
        "",
        *_vehicle_lines(plan),
    ]
    lines += wrap(job_sheet.HOW_TO_READ, COLUMNS)
    lines += wrap(f"Caution: {job_sheet.cautions.APPROVAL}", COLUMNS)
    return "\n".join([*lines, *wrap(job_sheet.footer(plan), COLUMNS)])


def _axis_lines(plan: Plan, lamp: Lamp, chosen: Suggestion) -> list[str]:
    """Candela of the light source that is fitted, against each published limit."""
    lines: dict[str, list[str]] = {}
    for one in lamp_facts.members(plan, lamp):
        if one.name not in plan.intensities:
            continue
        axis = lamp_facts.on_axis(plan.intensities[one.name])
        fitted = None if chosen.verdict is Verdict.KEEP else chosen.result
        name = "" if fitted is None else fitted.source.name
        picked = [i for i, offer in enumerate(one.candidates, start=1) if offer.name == name]
        place = picked[0] if picked else 0
        against = "; ".join(
            f"{lamp_facts.limit_size(members[0])}, {' and '.join(dict.fromkeys(v.known for v in members))}: {verdict}"
            for members, verdict in zip(axis.limits, axis.verdicts[place], strict=True)
        )
        words = (
            f"{one.name}: {lamp_facts.candela(axis.intervals[place])} cd on the axis, from {axis.basis}. Published, to "
            f"be checked before you rely on it: {against}."
        )
        lines.setdefault(str(axis.basis), wrap(words, COLUMNS, initial_indent="    ", subsequent_indent="    "))
    return [line for block in lines.values() for line in block]


def _vehicle_lines(plan: Plan) -> list[str]:
    """What to watch, the circuits, the timing and what to measure, as text."""
    lines = [*wrap(vehicle_facts.summary(plan), COLUMNS), "", "What to watch"]
    lines += [line for heading, words in vehicle_facts.to_watch(plan) for line in _item(f"{heading} {words}")]
    if plan.circuits:
        lines += [
            "",
            "Circuits before and after",
            f"  {'':20}{'current [A]':>16}{'at the lamps [V]':>20}{'fuse [A]':>12}",
        ]
    for c in plan.circuits:
        cells = dict(vehicle_facts.circuit_cells(c))
        values = (cells["current [A]"], cells["at the lamps [V]"], cells["fuse that carries it [A]"])
        lines.append(f"  {c.circuit.name[:20]:20}{values[0]:>16}{values[1]:>20}{values[2]:>12}".replace("→", "->"))
    for c in plan.circuits:
        lines += [line for words in vehicle_facts.circuit_words(c) for line in _item(f"{c.circuit.name}: {words}")]
    lines += [line for words in vehicle_facts.ballast_words(plan) for line in _item(words)]
    if timed := vehicle_facts.timings(plan):
        lines += ["", "How quickly it lights"]
        lines += [line for name, found in timed for line in _item(f"{name}: {found.statement}")]
    lines += ["", "What to measure after fitting"]
    for check in after_fitting.checklist(plan):
        lines += _item(f"{check.subject}: {check.what} Expect {check.expect}.")
    if plan.vehicle.earth == "positive":
        lines += ["", "Positive earth"]
        lines += [line for words in vehicle_facts.earth_words(plan) for line in _item(words)]
        lines += _item("The order of work if the earth is to be changed stands in the job sheet.")
    return [*lines, ""]


def _item(words: str) -> list[str]:
    return wrap(words, COLUMNS, initial_indent="- ", subsequent_indent="  ")


def _row(tag: str, assessment: Assessment, result: Result) -> list[str]:
    filament = result is assessment.old
    cells = (
        f"{called(result.source)[:26]:27}",
        f"{result.source.luminous_flux:>9.0f}",
        f"{percent(float(result.luminous_transmittance[1])):>9}",
        f"  {'1' if filament else numbers.interval(result.ratio):19}",
        f"{'' if filament else numbers.chance(result.chance):>12}",
    )
    start = f"  {tag:2}{''.join(cells)}  "
    colour = wrap(job_sheet_lamps.colour(result).split(" (")[0], COLUMNS - len(start)) or [""]
    return [start + colour[0], *(" " * len(start) + more for more in colour[1:])]


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
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("lampkit.page"),
        autoescape=lambda name: name is not None and name.endswith(".html"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    sections = [(template, content(plan)) for template, content in job_sheet.SECTIONS]
    page = environment.get_template("job_sheet.html")
    return page.render(vehicle=plan.vehicle, sections=sections, footer=job_sheet.footer(plan))


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
    """
    target = Path(path)
    if target.is_dir():
        raise InputError("this is a folder", file=target, expected="the name of a file for the job sheet")
    if not target.parent.is_dir():
        raise InputError(
            f"there is no folder '{target.parent}'", file=target, expected="a file in a folder that exists"
        )
    if not os.access(target.parent, os.W_OK) or (target.exists() and not os.access(target, os.W_OK)):
        raise InputError("the job sheet cannot be written there", file=target, remedy="choose another place with -o")
    sheet_page.save(job_sheet_html(plan), target)
