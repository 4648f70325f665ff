"""The pages of the job sheet about one lamp each: for every kind of lamp, what its template shows."""

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from lampkit import numbers
from lampkit.conversion import Assessment, Result, Suggestion, Verdict
from lampkit.light import colorimetry
from lampkit.page import cautions, colour_chart, lamp_facts, light_charts
from lampkit.page.job_sheet_basis import alike, decided
from lampkit.page.style import called, percent, svg, tagged
from lampkit.plan.plan import Plan
from lampkit.vehicle.vehicle import Lamp

if TYPE_CHECKING:
    from markupsafe import Markup

EXPLAINED = (
    "K is what one lumen of it gives behind this lens, against one lumen of the filament; to buy, the lumens on the "
    "box that give at least the filament's light with an assurance of 90 %. The patch of colour is as near as a screen "
    "comes. Candela and ranges are spans of 95 %; a range spans the thresholds that sources name as well (from memory, "
    "but for that of COLREG). 'Not settled' means that the span lies across the published number."
)


def colour(result: Result) -> str:
    """Say where the colour lies against its limit, in few words.

    Source: the kit's own wording.
    """
    return "no limit applied" if result.colour is None else str(result.colour.statement)


def anchor(name: str) -> str:
    """Give the place of a lamp's page for links."""
    return re.sub(r"[^a-z0-9]+", "-", f"lamp {name}".lower()).strip("-")


def picture(figure: "light_charts.Figure", description: str) -> "Markup":
    """Write a chart into the page.

    Source: as for lampkit.chart_style.svg.
    """
    from markupsafe import Markup

    return Markup(svg(figure, description))


def lamps(plan: Plan) -> dict[str, Any]:
    """Fill one page for each kind of lamp."""
    return {"lamps": [_lamp(plan, lamp, assessment) for lamp, assessment in alike(plan)]}


def _lamp(plan: Plan, lamp: Lamp, assessment: Assessment) -> dict[str, Any]:
    suggestion = decided(plan, lamp, assessment)
    charts_right = [
        picture(colour_chart.chromaticity_chart(assessment), colour_chart.describe_chromaticity(assessment))
    ]
    if assessment.results:
        charts_right.append(picture(light_charts.ratio_chart(assessment), light_charts.describe_ratio(assessment)))
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
    stays = suggestion.verdict is Verdict.KEEP
    first, why = str(suggestion.statement), [] if suggestion.result is None else [suggestion.result.why]
    if stays:
        first, why = f"Keep the {called(lamp.filament)}.", [suggestion.statement, *why]
    axis = _on_axis(plan, lamp)
    main = axis[0] if axis else None
    rows = [_row(plan, lamp, assessment, place, suggestion, main) for place in range(len(assessment.results) + 1)]
    return {
        "anchor": anchor(assessment.name),
        "crowded": len(assessment.results) > 2,
        "name": assessment.name,
        "facts": f"{'; '.join(word for word in known if word)}. {lamp.note}".strip(),
        "first": first,
        "reading": EXPLAINED,
        "why": why,
        "cautions": cautions.of_lamp(lamp, assessment, suggestion, plan.vehicle),
        "rows": rows,
        "limits": () if main is None else lamp_facts.limits_words(main),
        "basis": "" if main is None else f"Candela on the axis of {main.lamp} start from {main.basis}.",
        "others": [_other(one, assessment, suggestion) for one in axis[1:]],
        "said": _said(plan, lamp, assessment, suggestion),
        "claims": [f"{r.source.name}. {r.claim_statement}" for r in assessment.results if r.claim_statement],
        "left": [picture(light_charts.through_lens_chart(assessment), light_charts.describe_through_lens(assessment))],
        "right": charts_right,
    }


def _on_axis(plan: Plan, lamp: Lamp) -> list[lamp_facts.OnAxis]:
    """Give the candela of the lamps of a page; lamps of the same basis differ by chance only and stand once."""
    found: dict[str, lamp_facts.OnAxis] = {}
    for one in lamp_facts.members(plan, lamp):
        if one.name in plan.intensities:
            axis = lamp_facts.on_axis(plan.intensities[one.name])
            found.setdefault(str(axis.basis), axis)
    return list(found.values())


def _other(axis: lamp_facts.OnAxis, assessment: Assessment, suggestion: Suggestion) -> str:
    """Say of a lamp that is alike but for its own reading what is predicted of it."""
    place = _place(assessment, suggestion)
    against = "; ".join(
        f"limit {letter}: {verdict}" for letter, verdict in zip(lamp_facts.LETTERS, axis.verdicts[place], strict=False)
    )
    name = called((assessment.old, *assessment.results)[place].source)
    span = lamp_facts.candela(axis.intervals[place])
    return f"{axis.lamp} starts from {axis.start}: {span} cd with {name} ({against})."


def _place(assessment: Assessment, suggestion: Suggestion) -> int:
    """Where the fitted light source stands: 0 for the filament, then the candidates."""
    if suggestion.verdict is Verdict.KEEP or suggestion.result is None:
        return 0
    return 1 + next(i for i, r in enumerate(assessment.results) if r is suggestion.result)


def _said(plan: Plan, lamp: Lamp, assessment: Assessment, suggestion: Suggestion) -> list[tuple[str, str]]:
    """Range, brightness, fitting and readings, each with its heading."""
    place = _place(assessment, suggestion)
    members = lamp_facts.members(plan, lamp)
    believed = next((plan.intensities[one.name] for one in members if one.name in plan.intensities), None)
    seen = ""
    if believed is not None:
        seen = lamp_facts.seen_words(lamp, believed, plan.timings.get(lamp.name), place - 1 if place else None)
    common = plan.must_all_be
    fitting = [str(said) for said in plan.must_be(lamp.name) if said not in common]
    read = lamp_facts.measured_words(plan.readings, [one.name for one in members])
    glow = lamp_facts.brightness_words(lamp, (assessment.old, *assessment.results)[place])
    pairs = [
        ("The replacement.", " ".join(fitting)),
        ("Range.", seen),
        ("Brightness.", glow),
        ("Readings.", " ".join(read)),
    ]
    return [(heading, words) for heading, words in pairs if words]


def _row(
    plan: Plan,
    lamp: Lamp,
    assessment: Assessment,
    place: int,
    suggestion: Suggestion,
    axis: lamp_facts.OnAxis | None,
) -> dict[str, Any]:
    tag, result = tagged(assessment)[place]
    filament = place == 0
    price = None if filament else lamp.candidates[place - 1].price
    cells = [
        ("claimed [lm]", f"{result.source.luminous_flux:.0f}"),
        ("passes", percent(float(result.luminous_transmittance[1]))),
        ("K [1]", "1" if filament else numbers.interval(result.k)),
        ("light against filament [1]", "1" if filament else numbers.interval(result.ratio)),
        ("chance", "" if filament else numbers.chance(result.chance)),
        ("to buy [lm]", "" if filament else numbers.figure(result.lumens_to_buy)),
    ]
    if any(offer.price is not None for offer in lamp.candidates):
        unit = f"price [{plan.vehicle.currency}]" if plan.vehicle.currency else "price"
        cells.append((unit, "" if price is None else f"{price:.2f}"))
    x, y = result.chromaticity
    if assessment.colour_limit is None:
        tints = [("chromaticity [1]", f"x {x:.3f}, y {y:.3f}")]
    else:
        tints = [
            ("colour", colour(result).split(" (")[0].replace("past the limit towards", "past, towards")),
            ("chance of inside", numbers.chance(result.share_inside)),
        ]
    if axis is not None:
        tints.append(("on the axis [cd]", lamp_facts.candela(axis.intervals[place])))
        tints += [
            (f"limit {letter}", verdict)
            for letter, verdict in zip(lamp_facts.LETTERS, axis.verdicts[place], strict=False)
        ]
    return {
        "tag": tag,
        "name": called(result.source),
        "chosen": result is suggestion.result and suggestion.verdict is not Verdict.KEEP,
        "light": cells,
        "colour": tints,
        "swatch": _css(result),
    }


def _css(result: Result) -> str:
    red, green, blue = np.round(255 * np.clip(colorimetry.srgb(result.chromaticity), 0, 1)).astype(int)
    return f"rgb({red}, {green}, {blue})"
