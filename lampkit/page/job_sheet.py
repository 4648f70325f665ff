"""The job sheet: four sheets at most to take to a shop and to the garage, and beside it the page with their basis."""

from pathlib import Path
from typing import TYPE_CHECKING

from lampkit.conversion.suggestion import SURE
from lampkit.page import basis, circuit_pictures, findings, frame, lamp_faces, sheet_tables
from lampkit.page.findings import Findings
from lampkit.page.frame import drawn
from lampkit.plan.plan import Plan
from lampkit.statements import say

if TYPE_CHECKING:
    from markupsafe import Markup


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
    return written(findings.findings_of(plan), beside)


def written(found: Findings, beside: str) -> str:
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
        parts=[note for note in found.plan.parts_to_fit if note.key in basis.ON_SHEET],
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
    sheet, rest = written(found, beside.name), basis.written(found, target.name)
    frame.save(rest, beside)
    frame.save(sheet, target)
