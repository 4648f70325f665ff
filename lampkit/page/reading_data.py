"""Readings as plain data, for other programs: units in the keys, intervals as lower limit, median, upper limit."""

from typing import Any

import numpy as np

from lampkit import __version__
from lampkit.measurement.fair_ratio import Comparison, FairRatio
from lampkit.measurement.lens_identification import LEARNT, spread_left
from lampkit.measurement.shortfall import FACTORS
from lampkit.page.reading_charts import causes
from lampkit.plan.agreement import Confrontation, Finding, LensKnowledge
from lampkit.statements import as_data
from lampkit.uncertainty import sampling


def readings_as_dict(found: Comparison | Confrontation) -> dict[str, Any]:
    """Give readings, and what was made of them, as plain data that JSON can hold.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the log says by itself, or beside the prediction for its vehicle.

    Returns
    -------
    dict
        Numbers carry their unit at the end of the key ('1' for none); an interval is [lower limit, median, upper
        limit] of 95 %; what is unknown or without bound is null.

    Source: RFC 8259 for what JSON can hold.
    """
    comparison = found if isinstance(found, Comparison) else found.comparison
    data: dict[str, Any] = {
        "kit": {"name": "lampkit", "version": __version__},
        "seed": None if comparison is None else comparison.seed,
        "ratios": [_ratio(r) for r in comparison.ratios] if comparison is not None else [],
        "remarks": as_data(found.remarks),
    }
    if isinstance(found, Confrontation):
        data["predictions"] = [_finding(f) for f in found.findings]
        data["lenses"] = [_lens(known) for known in found.lenses]
    return data


def _ratio(r: FairRatio) -> dict[str, Any]:
    return {
        "lamp": r.lamp,
        "old": r.old,
        "new": r.new,
        "ratio_1": _numbers(r.ratio),
        "naive_ratio_1": _number(r.naive),
        "intensity_old_cd": _numbers(r.intensity_old),
        "intensity_new_cd": _numbers(r.intensity_new),
        "no_upper_limit": r.unbounded,
        "fieller_ratio_1": _numbers(r.fieller),
        "ratio_before_mismatch_correction_1": _numbers(r.uncorrected),
        "standard_uncertainty_1": _number(r.budget.standard_uncertainty),
        "contributions": [
            {"cause": cause, "relative_standard_uncertainty_1": _number(u), "share_of_variance_1": _number(part)}
            for cause, u, part in causes(r.budget)
        ],
        "sentence": as_data(r.sentence),
    }


def _finding(f: Finding) -> dict[str, Any]:
    return {
        "lamp": f.ratio.lamp,
        "new": f.ratio.new,
        "measured_ratio_1": _numbers(f.ratio.ratio),
        "predicted_ratio_1": _numbers(f.predicted),
        "normalised_error_1": _number(f.agreement.normalised_error),
        "verdict": f.agreement.verdict.value,
        "sentence": as_data(f.agreement.sentence),
        "blame": None
        if f.blame is None
        else {
            **{f"{name}_before_1": _numbers(limits) for name, limits in zip(FACTORS, f.blame.before, strict=True)},
            **{f"{name}_after_1": _numbers(limits) for name, limits in zip(FACTORS, f.blame.after, strict=True)},
            "product_1": _numbers(f.blame.product),
            "effective_draws_1": _number(f.blame.effective_draws),
            "sentence": as_data(f.blame.sentence),
        },
    }


def _lens(known: LensKnowledge) -> dict[str, Any]:
    knowledge = known.knowledge
    owner = knowledge.lens.name
    quantities = []
    for belief in knowledge.lens.beliefs:
        if belief.spread == 0 or belief.shape == "fixed":
            continue
        left = spread_left(knowledge, owner, belief.name)
        quantities.append(
            {
                "quantity": belief.name,
                "unit": belief.unit,
                "before": _numbers(sampling.interval(knowledge.before.values[owner, belief.name])),
                "after": _numbers(
                    sampling.interval(knowledge.garage.values[owner, belief.name], knowledge.garage.weights)
                ),
                "spread_left_1": _number(left),
                "learnt": left < LEARNT,
            }
        )
    return {
        "lamp": known.lamp,
        "lens": owner,
        "quantities": quantities,
        "effective_draws_1": _number(knowledge.effective),
        "misfit_1": _number(knowledge.misfit),
        "candidates": [
            {
                "light_source": r.source.name,
                "k_1": _numbers(r.k),
                "light_against_filament_1": _numbers(r.ratio),
                "probability_of_at_least_the_filament_1": _number(r.probability),
            }
            for r in known.assessment.results
        ],
        "remarks": as_data(knowledge.remarks),
    }


def _number(value: Any) -> float | None:
    """Round to six digits, more than anyone can know; what JSON cannot hold becomes null."""
    return float(f"{float(value):.6g}") if np.isfinite(value) else None


def _numbers(values: Any) -> list[float | None]:
    return [_number(v) for v in np.asarray(values, dtype=float)]
