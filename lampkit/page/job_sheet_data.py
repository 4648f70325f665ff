"""The plan as plain data, for other programs: units in the keys, intervals as lower limit, median, upper limit."""

from collections.abc import Iterable
from typing import Any

import numpy as np

from lampkit import __version__
from lampkit.conversion import Assessment, Claim, Result
from lampkit.page import after_fitting, lamp_facts, reading_data, vehicle_facts
from lampkit.page.job_sheet_basis import decided
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.plan import Plan
from lampkit.plan.timing import SPEEDS, LampTiming
from lampkit.rules import functions
from lampkit.statements import as_data, named
from lampkit.vehicle.vehicle import Lamp
from lampkit.vehicle.vehicle_parts import Offer
from lampkit.visibility import brightness


def plan_as_dict(plan: Plan) -> dict[str, Any]:
    """Give the plan as plain data that JSON can hold.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    dict
        Numbers carry their unit at the end of the key ('1' for none); an interval is [lower limit, median, upper
        limit] of 95 %; what is unknown or without bound is null.

    Source: RFC 8259 for what JSON can hold.
    """
    v = plan.vehicle
    return {
        "kit": {"name": "lampkit", "version": __version__},
        "seed": plan.seed,
        "draws": len(plan.assessments[0].garage) if plan.assessments else 0,
        "vehicle": {
            "name": v.name,
            "year": v.year,
            "supply_voltage_V": v.supply_voltage,
            "running_voltage_V": v.running_voltage,
            "earth": v.earth,
            "rules": v.rules,
            "currency": v.currency,
            "note": v.note,
        },
        "lamps": [_lamp(plan, lamp, a) for lamp, a in zip(v.lamps, plan.assessments, strict=True)],
        "choice": _choice(plan),
        "circuits": [_circuit(c) for c in plan.circuits],
        "ballast": list(vehicle_facts.ballast_words(plan)),
        "to_watch": [{"about": heading, "sentence": words} for heading, words in vehicle_facts.to_watch(plan)],
        "after_fitting": [check._asdict() for check in after_fitting.checklist(plan)],
        "positive_earth": _earth(plan),
        "readings": _readings(plan),
        "assumptions": _assumptions(plan.assessments),
    }


def _lamp(plan: Plan, lamp: Lamp, assessment: Assessment) -> dict[str, Any]:
    suggestion, limit = decided(plan, lamp, assessment), assessment.colour_limit
    return {
        "name": lamp.name,
        "position": lamp.position,
        "function": lamp.function,
        "quantity": lamp.quantity,
        "road_rule": lamp.road_rule,
        "lens": assessment.lens.name,
        "colour_limit": None
        if limit is None
        else {
            "name": limit.name,
            "boundaries": [
                {"name": b.name, "inequality": b.inequality, "source": b.source, "known": b.known}
                for b in limit.boundaries
            ],
        },
        "suggestion": {
            "verdict": str(named(suggestion.verdict)),
            "light_source": None if suggestion.result is None else suggestion.result.source.name,
            "chance_1": _number(suggestion.chance),
            "sentence": as_data(suggestion.statement),
        },
        "filament": _result(assessment.old, None),
        "candidates": [
            _result(result, offer) for result, offer in zip(assessment.results, lamp.candidates, strict=True)
        ],
        "replacement": as_data(plan.must_be(lamp.name)),
        "intensity": None if lamp.name not in plan.intensities else _intensity(plan.intensities[lamp.name], assessment),
        "timing": None if lamp.name not in plan.timings else _timing(plan.timings[lamp.name]),
        "seen": _seen(plan, lamp, assessment),
        "brightness_to_luminance": _brightness(lamp, assessment),
    }


def _intensity(found: LampIntensity, assessment: Assessment) -> dict[str, Any]:
    axis = lamp_facts.on_axis(found)
    names = [r.source.name for r in (assessment.old, *assessment.results)]
    return {
        "basis": as_data(axis.basis),
        "measured": found.measured,
        "limits": [
            {
                "limit": letter,
                "quantity": limit.quantity,
                "value_cd": _number(limit.low if np.isfinite(limit.low) else limit.high),
                "where": limit.where,
                "edition": limit.edition,
                "source": limit.source,
                "known": limit.known,
            }
            for letter, members in zip(lamp_facts.LETTERS, axis.limits, strict=False)
            for limit in members
        ],
        "on_axis": [
            {
                "light_source": name,
                "intensity_cd": _numbers(interval),
                "against": dict(zip(lamp_facts.LETTERS, verdicts, strict=False)),
            }
            for name, interval, verdicts in zip(names, axis.intervals, axis.verdicts, strict=True)
        ],
    }


def _timing(found: LampTiming) -> dict[str, Any]:
    return {
        "filament_rise_s": _numbers(found.rise),
        "reaction_sooner_s": _numbers(found.gained),
        "distance": [
            {"speed_km_per_h": speed, "gained_m": _numbers(span)}
            for speed, span in zip(SPEEDS, found.distance, strict=True)
        ],
        "flash_share_filament_1": _number(found.flash_share),
        "flash_share_led_1": _number(found.led_flash_share),
        "sentence": as_data(found.statement),
    }


def _seen(plan: Plan, lamp: Lamp, assessment: Assessment) -> list[dict[str, Any]]:
    """Luminous ranges with the filament and every candidate; those of a flash where the lamp flashes."""
    if lamp.name not in plan.intensities or not functions.function(lamp.function).seen:
        return []
    found, timing = plan.intensities[lamp.name], plan.timings.get(lamp.name)
    flashes = timing is not None and np.isfinite(timing.flash_share)
    told = []
    for i, (result, interval) in enumerate(
        zip((assessment.old, *assessment.results), (found.filament, *found.intervals), strict=True)
    ):
        share = 1.0
        if flashes and timing is not None:
            share = timing.led_flash_share if i else timing.flash_share
        day, night = lamp_facts.seen_from(interval, share)
        told.append(
            {
                "light_source": result.source.name,
                "by_day_shortest_m": _number(day[0]),
                "by_day_longest_m": _number(day[1]),
                "by_night_shortest_m": _number(night[0]),
                "by_night_longest_m": _number(night[1]),
            }
        )
    return told


def _brightness(lamp: Lamp, assessment: Assessment) -> list[dict[str, Any]]:
    if lamp.lens.colour != "red" or not lamp.road_rule:
        return []
    return [
        {
            "light_source": r.source.name,
            "by_model": {
                f"{name}_1": _number(value)
                for name, value in brightness.brightness_to_luminance(r.chromaticity).items()
            },
        }
        for r in (assessment.old, *assessment.results)
    ]


def _circuit(report: CircuitReport) -> dict[str, Any]:
    wired, change = report.circuit, report.change
    data: dict[str, Any] = {
        "name": wired.name,
        "lamps": list(report.lamps),
        "fuse_fitted_A": _number(wired.fuse),
        "change": None,
        "words": as_data(report.words),
        "cures": as_data(report.cures),
    }
    if change is not None:
        data["change"] = {
            f"{quantity}_{when}_{unit}": _number(values[i])
            for i, when in enumerate(("before", "after"))
            for quantity, unit, values in (
                ("current", "A", change.current),
                ("voltage_at_lamps", "V", change.voltage),
                ("drop", "V", change.drop),
                ("smallest_fuse", "A", change.fuse),
                ("inrush_least", "A", change.inrush[:, 0]),
                ("inrush_most", "A", change.inrush[:, 1]),
            )
        }
    return data


def _earth(plan: Plan) -> dict[str, Any] | None:
    if plan.vehicle.earth != "positive":
        return None
    return {
        "sentences": list(vehicle_facts.earth_words(plan)),
        "order_of_work": [{"what": what, "why": why} for what, why in vehicle_facts.earth_order(plan)],
        "cautions": list(vehicle_facts.earth_cautions(plan)),
    }


def _readings(plan: Plan) -> dict[str, Any] | None:
    if plan.readings is None:
        return None
    return {
        key: value for key, value in reading_data.readings_as_dict(plan.readings).items() if key not in ("kit", "seed")
    }


def _choice(plan: Plan) -> dict[str, Any]:
    made = plan.choice
    articles = [offer for offer in made.chosen.values() if offer is not None]
    return {
        "fitted": {lamp: None if offer is None else offer.name for lamp, offer in made.chosen.items()},
        "light_sources": sorted({offer.name for offer in articles}),
        "parts": [{"name": part.name, "number_1": number} for part, number in made.parts],
        "price": _number(made.cost),
        "kept": as_data(made.kept),
        "look_for": as_data(made.look_for),
        "told": [as_data(said) for said in (*made.fitted, *made.binding, made.runner_up, *made.notes) if said],
    }


def _result(result: Result, offer: Offer | None) -> dict[str, Any]:
    x, y = result.chromaticity
    return {
        "light_source": result.source.name,
        "kind": str(named(result.source.kind)),
        "claimed_lumens_lm": _number(result.source.luminous_flux),
        "power_W": _number(result.source.electrical_power),
        "price": None if offer is None else _number(offer.price),
        "luminous_transmittance_1": _numbers(result.luminous_transmittance),
        "flux_through_lens_lm": _numbers(result.flux_through),
        "k_1": _numbers(result.k),
        "light_against_filament_1": _numbers(result.ratio),
        "probability_of_at_least_the_filament_1": _number(result.probability),
        "lumens_to_buy_lm": _number(result.lumens_to_buy),
        "x_1": _number(x),
        "y_1": _number(y),
        "colour_verdict": None if result.colour is None else as_data(result.colour.statement),
        "share_inside_1": _number(result.share_inside),
        "colour_margin_1": None if result.colour is None else _number(result.colour.margin),
        "colour_boundary": None if result.colour is None else result.colour.boundary,
        "why": as_data(result.why),
        "claim": as_data(result.claim_statement),
        "claim_verdict": None if result.claim is Claim.UNCHECKED else str(named(result.claim)),
    }


def _assumptions(assessments: Iterable[Assessment]) -> list[dict[str, Any]]:
    beliefs = {key: belief for a in assessments for key, belief in a.garage.beliefs.items()}
    return [
        {
            "owner": owner,
            "quantity": name,
            "unit": b.unit,
            "typical": _number(b.typical),
            "interval": _numbers(b.value([-1.96, 0.0, 1.96])),
            "shape": b.shape,
            "source": b.source,
        }
        for (owner, name), b in beliefs.items()
    ]


def _number(value: Any) -> float | None:
    """Round to six digits, more than anyone can know; what JSON cannot hold becomes null."""
    if value is None or not np.isfinite(value):
        return None
    return float(f"{float(value):.6g}")


def _numbers(values: Any) -> list[float | None]:
    return [_number(v) for v in np.asarray(values, dtype=float)]
