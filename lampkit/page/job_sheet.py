"""The sections of the job sheet: for each, what its template shows. A new section is a function and a template."""

from collections.abc import Callable
from typing import Any

from lampkit import __version__, numbers
from lampkit.conversion import Verdict
from lampkit.page import (
    after_fitting,
    cautions,
    circuit_chart,
    job_sheet_basis,
    job_sheet_lamps,
    light_charts,
    reading_sheet,
    vehicle_facts,
)
from lampkit.page.job_sheet_basis import alike, decided
from lampkit.page.style import called
from lampkit.plan.plan import Plan
from lampkit.statements import Statement, named

HOW_TO_READ = (
    "Read 0.8 (0.5 to 1.3) as: most likely 0.8 times the light that the filament gave through the same lens, and with "
    "95 % probability between 0.5 and 1.3 times. This is all the light together; where a lamp throws it is for a "
    "measurement to say. The chance is that of at "
    "least the filament's light, in a colour inside the limit where one applies."
)
"""What stands under the table."""


def facts(plan: Plan) -> str:
    """Say in a line what is known of the vehicle."""
    v = plan.vehicle
    year = f"{v.year}; " if v.year is not None else ""
    return (
        f"{year}{v.supply_voltage:g} V, {v.running_voltage:g} V at the lamps with the engine running; {v.earth} earth; "
        f"held against the published limits named {v.rules}."
    )


def footer(plan: Plan) -> str:
    """Say how the numbers came about, and what of them is invented."""
    draws = len(plan.assessments[0].garage) if plan.assessments else 0
    words = f"Computed by lampkit {__version__} from {draws} draws with seed {plan.seed}; the same seed gives the same."
    if "invented" in plan.vehicle.note.lower():
        words += " The vehicle and its data are invented, as its file says."
    return words + " This sheet approves nothing: it is a calculation to be checked by measuring."


def vehicle(plan: Plan) -> dict[str, Any]:
    """Fill the first page: the vehicle, and the verdict on each lamp."""
    rows = []
    for lamp, assessment in alike(plan):
        s = decided(plan, lamp, assessment)
        stays = s.verdict is Verdict.KEEP
        result = assessment.old if stays or s.result is None else s.result
        rows.append(
            {
                "name": assessment.name,
                "anchor": job_sheet_lamps.anchor(assessment.name),
                "verdict": "keep" if stays else str(named(s.verdict)),
                "source": called(result.source),
                "light": "1" if stays else numbers.interval(result.ratio),
                "colour": job_sheet_lamps.colour(result).split(" (")[0],
            }
        )
    return {
        "name": plan.vehicle.name,
        "facts": facts(plan),
        "note": plan.vehicle.note,
        "caution": cautions.APPROVAL,
        "summary": vehicle_facts.summary(plan),
        "rows": rows,
        "buy": _shopping(plan),
        "watch": vehicle_facts.to_watch(plan),
    }


def glance(plan: Plan) -> dict[str, Any]:
    """Fill the picture of the whole vehicle."""
    shown = [(lamp, a) for lamp, a in alike(plan) if a.results]
    explained = f"On the page of each lamp, {job_sheet_lamps.EXPLAINED}"
    words = {"reading": HOW_TO_READ, "explained": explained, "told": _told(plan)}
    if not shown:
        return {"chart": None, **words}
    decisions = {a.name: decided(plan, lamp, a) for lamp, a in shown}
    fitted = {name: None if s.verdict is Verdict.KEEP else s.result for name, s in decisions.items()}
    lamps_shown = [a for _, a in shown]
    described = light_charts.describe_ratio(lamps_shown, suggested=fitted)
    return {
        "chart": job_sheet_lamps.picture(light_charts.ratio_chart(lamps_shown, suggested=fitted), described),
        **words,
    }


def _shopping(plan: Plan) -> dict[str, Any]:
    table = plan.choice.shopping_list()
    rows = [["" if cell != cell else _written(cell) for cell in row] for row in table.itertuples(index=False)]
    bought = any(offer is not None for offer in plan.choice.chosen.values())
    return {
        "headings": list(table.columns),
        "rows": rows,
        "fitting": plan.must_all_be if bought else (),
    }


def _told(plan: Plan) -> list[Statement]:
    """What the choice of parts turned on; what is fitted where stands on the first page."""
    return [said for said in (*plan.choice.binding, plan.choice.runner_up, *plan.choice.notes) if said]


def _written(cell: object) -> str:
    return f"{cell:.2f}" if isinstance(cell, float) else str(cell)


def circuits(plan: Plan) -> dict[str, Any]:
    """Fill the circuits before and after, with flasher and tell-tale, and what the quicker light is worth.

    Source: as for lampkit.electrics.report and lampkit.timing.assess.
    """
    chart = None
    if any(c.change is not None for c in plan.circuits):
        described = circuit_chart.describe_currents(plan.circuits)
        chart = job_sheet_lamps.picture(circuit_chart.currents(plan.circuits), described)
    timed = vehicle_facts.timings(plan)
    return {
        "rows": [{"name": c.circuit.name, "cells": vehicle_facts.circuit_cells(c)} for c in plan.circuits],
        "chart": chart,
        "words": [(c.circuit.name, vehicle_facts.circuit_words(c)) for c in plan.circuits],
        "ballast": vehicle_facts.ballast_words(plan),
        "timing": [{"name": name, "cells": vehicle_facts.timing_cells(t)} for name, t in timed],
        "timing_words": TIMING if timed else "",
    }


TIMING = (
    "Times of filaments are good to half of themselves. What a driver behind gains holds for equal light: a dim LED "
    "gives part of it back (UMTRI-93-37). The flash is effective over steady intensity by the Modified Allard method "
    "(IALA E-200-4, from memory), at 90 flashes a minute, lit half of the time."
)


def earth(plan: Plan) -> dict[str, Any]:
    """Fill what a positive earth means, and the order of work where it is to be changed.

    Source: as for lampkit.polarity.
    """
    return {
        "words": vehicle_facts.earth_words(plan),
        "steps": vehicle_facts.earth_order(plan),
        "cautions": vehicle_facts.earth_cautions(plan),
    }


def checklist(plan: Plan) -> dict[str, Any]:
    """Fill the list of what to measure after fitting.

    Source: as for lampkit.after_fitting.checklist.
    """
    return {"checks": after_fitting.checklist(plan)}


def readings(plan: Plan) -> dict[str, Any]:
    """Fill the section of the readings.

    Source: as for lampkit.reading_sheet.content.
    """
    return reading_sheet.content(plan.readings)


def caution_list(plan: Plan) -> dict[str, Any]:
    """Fill the cautions for the whole vehicle."""
    return {"cautions": cautions.general(plan.vehicle)}


SECTIONS: tuple[tuple[str, Callable[[Plan], dict[str, Any]]], ...] = (
    ("vehicle.html", vehicle),
    ("glance.html", glance),
    ("circuits.html", circuits),
    ("checklist.html", checklist),
    ("cautions.html", caution_list),
    ("earth.html", earth),
    ("lamps.html", job_sheet_lamps.lamps),
    ("readings.html", readings),
    ("limits.html", job_sheet_basis.limits),
    ("assumptions.html", job_sheet_basis.assumptions),
)
"""The sections in their order, each a template and the function that fills it."""
