"""The sections of the job sheet: for each, what its template shows. A new section is a function and a template."""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from lampkit import __version__, cautions, charts, colorimetry, job_sheet_basis
from lampkit.chart_style import called, percent, svg, tagged
from lampkit.conversion import Assessment, Result, figure, with_interval
from lampkit.job_sheet_basis import alike, decided
from lampkit.plan import Plan
from lampkit.suggestion import Suggestion, chance, odds
from lampkit.vehicle import Lamp

if TYPE_CHECKING:
    from markupsafe import Markup

HOW_TO_READ = (
    "Read 0.8 (0.5 to 1.3) as: most likely 0.8 times the light that the filament gave through the same lens, and with "
    "95 % probability between 0.5 and 1.3 times. This is all the light together; where a lamp throws it is for a "
    "measurement to say. The chance is that of at "
    "least the filament's light, in a colour inside the limit where one applies."
)
"""What stands under the table. Source: the kit's own convention."""


def facts(plan: Plan) -> str:
    """Say in a line what is known of the vehicle.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    str
        Year, supply, earth and rules.

    Source: the kit's own convention.
    """
    v = plan.vehicle
    year = f"{v.year}; " if v.year is not None else ""
    return (
        f"{year}{v.supply_voltage:g} V, {v.running_voltage:g} V at the lamps with the engine running; {v.earth} earth; "
        f"held against the rules '{v.rules}'."
    )


def footer(plan: Plan) -> str:
    """Say how the numbers came about, and what of them is invented.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    str
        Seed, draws and version of the kit.

    Source: the kit's own convention.
    """
    draws = len(plan.assessments[0].garage) if plan.assessments else 0
    words = f"Computed by lampkit {__version__} from {draws} draws with seed {plan.seed}; the same seed gives the same."
    if "invented" in plan.vehicle.note.lower():
        words += " The vehicle and its data are invented, as its file says."
    return words + " This sheet approves nothing: it is a calculation to be checked by measuring."


def colour(result: Result) -> str:
    """Say where the colour lies against its limit, in few words.

    Parameters
    ----------
    result : Result
        One light source behind the lens.

    Returns
    -------
    str
        The verdict, or that no limit was applied.

    Source: the kit's own wording.
    """
    return result.verdict or "no limit applied"


def _anchor(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", f"lamp {name}".lower()).strip("-")


def _picture(figure: "charts.Figure", description: str) -> "Markup":
    from markupsafe import Markup

    return Markup(svg(figure, description))


def vehicle(plan: Plan) -> dict[str, Any]:
    """Fill the first page: the vehicle, and the verdict on each lamp.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    dict
        For vehicle.html.

    Source: the kit's own convention.
    """
    groups = alike(plan)
    suggestions = {assessment.name: decided(plan, lamp, assessment) for lamp, assessment in groups}
    rows = []
    for _, assessment in groups:
        s = suggestions[assessment.name]
        rows.append(
            {
                "name": assessment.name,
                "anchor": _anchor(assessment.name),
                "verdict": s.verdict,
                "source": "" if s.result is None else s.result.source.name,
                "light": "" if s.result is None else with_interval(s.result.ratio),
                "colour": "" if s.result is None else colour(s.result),
            }
        )
    verdicts = [s.verdict for s in suggestions.values()]
    counts = [f"{word}: {verdicts.count(word)}" for word in VERDICTS if word in verdicts]
    return {
        "name": plan.vehicle.name,
        "facts": facts(plan),
        "note": plan.vehicle.note,
        "caution": cautions.APPROVAL,
        "summary": f"{len(groups)} kinds of lamp: {', '.join(counts)}." + (STAYS if VERDICTS[2] in verdicts else ""),
        "rows": rows,
        "reading": HOW_TO_READ,
        "explained": f"On the page of each lamp, {EXPLAINED}",
    }


EXPLAINED = (
    "K is what one lumen of it gives behind this lens, against one lumen of the filament; to buy, the lumens on the "
    "box that give at least the filament's light with an assurance of 90 %. The patch of colour is as near as a screen "
    "comes."
)

STAYS = " Where the filament stays, the light source named is the best on offer, and not good enough."

VERDICTS = ("fit", "fit, then measure", "keep the filament")


def glance(plan: Plan) -> dict[str, Any]:
    """Fill the picture of the whole vehicle.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    dict
        For glance.html.

    Source: the kit's own convention.
    """
    shown = [(lamp, a) for lamp, a in alike(plan) if a.results]
    if not shown:
        return {"chart": None}
    decisions = {a.name: decided(plan, lamp, a) for lamp, a in shown}
    fitted = {name: None if s.verdict == VERDICTS[2] else s.result for name, s in decisions.items()}
    lamps_shown = [a for _, a in shown]
    described = charts.describe_ratio(lamps_shown, suggested=fitted)
    return {"chart": _picture(charts.ratio(lamps_shown, suggested=fitted), described)}


def choice(plan: Plan) -> dict[str, Any]:
    """Fill the shopping list, with what the choice of parts turned on.

    Parameters
    ----------
    plan : Plan
        The vehicle with the parts chosen.

    Returns
    -------
    dict
        For choice.html.

    Source: the kit's own convention.
    """
    table = plan.choice.shopping_list()
    rows = [["" if cell != cell else _written(cell) for cell in row] for row in table.itertuples(index=False)]
    told = [*plan.choice.fitted, *plan.choice.binding, plan.choice.runner_up, *plan.choice.notes]
    return {"headings": list(table.columns), "rows": rows, "told": [words for words in told if words]}


def _written(cell: object) -> str:
    return f"{cell:.2f}" if isinstance(cell, float) else str(cell)


def caution_list(plan: Plan) -> dict[str, Any]:
    """Fill the cautions for the whole vehicle.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    dict
        For cautions.html.

    Source: the kit's own convention.
    """
    return {"cautions": cautions.general(plan.vehicle)}


def lamps(plan: Plan) -> dict[str, Any]:
    """Fill one page for each kind of lamp.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    dict
        For lamps.html.

    Source: the kit's own convention.
    """
    return {"lamps": [_lamp(plan, lamp, assessment) for lamp, assessment in alike(plan)]}


def _lamp(plan: Plan, lamp: Lamp, assessment: Assessment) -> dict[str, Any]:
    suggestion = decided(plan, lamp, assessment)
    charts_right = [_picture(charts.chromaticity(assessment), charts.describe_chromaticity(assessment))]
    if assessment.results:
        charts_right.append(_picture(charts.ratio(assessment), charts.describe_ratio(assessment)))
    limit = assessment.colour_limit
    known = [lamp.position, f"function: {lamp.function}", f"lens: {assessment.lens.name}", called(lamp.filament)]
    if lamp.quantity > 1:
        known.append(f"{lamp.quantity} light sources")
    if lamp.holder:
        known.append(f"shares the holder '{lamp.holder}' with another filament: one article must give both levels")
    if lamp.circuit is not None:
        known.append(f"circuit: {lamp.circuit.name}")
    none = "no road rule applies, so no published limit was applied"
    known.append(none if limit is None else f"held against {limit.name}")
    facts = "; ".join(word for word in known if word) + "."
    rows = [_row(plan, lamp, assessment, tag, r, suggestion) for tag, r in tagged(assessment)]
    return {
        "anchor": _anchor(assessment.name),
        "name": assessment.name,
        "facts": f"{facts} {lamp.note}".strip(),
        "first": suggestion.sentence,
        "reading": EXPLAINED,
        "why": [] if suggestion.result is None else [suggestion.result.why],
        "cautions": cautions.of_lamp(lamp, assessment, suggestion, plan.vehicle),
        "rows": rows,
        "claims": [f"{r.source.name}. {r.claim}" for r in assessment.results if r.claim],
        "left": [_picture(charts.through_lens(assessment), charts.describe_through_lens(assessment))],
        "right": charts_right,
    }


def _row(
    plan: Plan, lamp: Lamp, assessment: Assessment, tag: str, result: Result, suggestion: Suggestion
) -> dict[str, Any]:
    filament = tag == "F"
    price = None if filament else lamp.candidates[int(tag) - 1].price
    cells = [
        ("claimed [lm]", f"{result.source.luminous_flux:.0f}"),
        ("passes", percent(float(result.luminous_transmittance[1]))),
        ("K [1]", "1" if filament else with_interval(result.k)),
        ("light against filament [1]", "1" if filament else with_interval(result.ratio)),
        ("chance", "" if filament else odds(chance(assessment, result))),
        ("to buy [lm]", "" if filament else figure(result.lumens_to_buy)),
    ]
    if any(offer.price is not None for offer in lamp.candidates):
        unit = f"price [{plan.vehicle.currency}]" if plan.vehicle.currency else "price"
        cells.append((unit, "" if price is None else f"{price:.2f}"))
    x, y = result.chromaticity
    tints = [("chromaticity [1]", f"x {x:.3f}, y {y:.3f}")]
    if assessment.colour_limit is not None:
        tints.append(("against the limit", result.verdict))
        tints.append(("chance of inside", odds(result.share_inside)))
    return {
        "tag": tag,
        "name": called(result.source),
        "chosen": result is suggestion.result and suggestion.verdict != VERDICTS[2],
        "light": cells,
        "colour": tints,
        "swatch": _css(result),
    }


def _css(result: Result) -> str:
    red, green, blue = np.round(255 * np.clip(colorimetry.srgb(result.chromaticity), 0, 1)).astype(int)
    return f"rgb({red}, {green}, {blue})"


SECTIONS: tuple[tuple[str, Callable[[Plan], dict[str, Any]]], ...] = (
    ("vehicle.html", vehicle),
    ("choice.html", choice),
    ("glance.html", glance),
    ("cautions.html", caution_list),
    ("lamps.html", lamps),
    ("limits.html", job_sheet_basis.limits),
    ("assumptions.html", job_sheet_basis.assumptions),
)
"""The sections in their order, each a template and the function that fills it. Source: the kit's own convention."""
