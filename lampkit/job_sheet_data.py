"""The plan as plain data, for other programs: units in the keys, intervals as lower limit, median, upper limit."""

from collections.abc import Iterable
from typing import Any

import numpy as np

from lampkit import __version__
from lampkit.conversion import Assessment, Result
from lampkit.job_sheet_basis import decided
from lampkit.plan import Plan
from lampkit.vehicle import Lamp, Offer


def as_dict(plan: Plan) -> dict[str, Any]:
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
            "verdict": suggestion.verdict,
            "light_source": None if suggestion.result is None else suggestion.result.source.name,
            "chance_1": _number(suggestion.chance),
            "sentence": suggestion.sentence,
        },
        "filament": _result(assessment.old, None),
        "candidates": [
            _result(result, offer) for result, offer in zip(assessment.results, lamp.candidates, strict=True)
        ],
    }


def _choice(plan: Plan) -> dict[str, Any]:
    made = plan.choice
    articles = [offer for offer in made.chosen.values() if offer is not None]
    return {
        "fitted": {lamp: None if offer is None else offer.name for lamp, offer in made.chosen.items()},
        "light_sources": sorted({offer.name for offer in articles}),
        "parts": [{"name": part.name, "number_1": number} for part, number in made.parts],
        "price": _number(made.cost),
        "kept": dict(made.kept),
        "look_for": dict(made.look_for),
        "told": [words for words in (*made.fitted, *made.binding, made.runner_up, *made.notes) if words],
    }


def _result(result: Result, offer: Offer | None) -> dict[str, Any]:
    x, y = result.chromaticity
    return {
        "light_source": result.source.name,
        "kind": result.source.kind,
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
        "colour_verdict": result.verdict or None,
        "share_inside_1": _number(result.share_inside),
        "why": result.why,
        "claim": result.claim or None,
        "claim_verdict": result.claim_verdict or None,
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
