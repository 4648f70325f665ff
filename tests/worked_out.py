"""Vehicles, plans and pages that many tests look at, each worked out once a run; nobody changes them."""

import functools
from collections.abc import Callable
from pathlib import Path

from lampkit import tables
from lampkit.page import job_sheet
from lampkit.plan import plan
from lampkit.plan.plan import Plan
from lampkit.vehicle import vehicle

VAN = tables.folder() / "library_van"
VEHICLES = Path(__file__).resolve().parent / "vehicles"
SMALL = VEHICLES / "post_motorcycle"
"""Six lamps, a circuit and no readings: for what one page shows as well as forty."""
EVERY = (VAN, *sorted(one for place in (VAN.parent / "starters", VEHICLES) for one in place.iterdir() if one.is_dir()))


@functools.cache
def _plan(place: Path, draws: int) -> Plan:
    return plan.make(vehicle.load(place), draws=draws)


@functools.cache
def _page(write: Callable[[Plan, str], str], place: Path, beside: str) -> str:
    return write(plan_of(place), beside)


def plan_of(place: Path = VAN, draws: int = 400) -> Plan:
    """The plan of a vehicle with the usual seed."""
    return _plan(place, draws)


def sheet_of(place: Path = VAN) -> str:
    """Its job sheet, which leads to van_basis.html."""
    return _page(job_sheet.job_sheet_html, place, "van_basis.html")


def basis_of(place: Path = VAN) -> str:
    """The basis beside it, which leads back to van.html."""
    return _page(job_sheet.basis_html, place, "van.html")
