"""Plan and readings as plain data, for other programs: units in the keys, every sentence with key, values and text."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from lampkit import __version__
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.shortfall import FACTORS
from lampkit.page.findings import Findings, findings_of
from lampkit.page.lamp_findings import LETTERS, LampFindings, SourceFindings
from lampkit.page.reading_findings import (
    LensFindings,
    RatioFindings,
    ReadingFindings,
    findings_of_readings,
)
from lampkit.page.vehicle_findings import CHANGES, CircuitFindings
from lampkit.plan.agreement import Confrontation
from lampkit.plan.causes import Causes
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.plan import Plan
from lampkit.plan.socket_voltages import EngineState
from lampkit.plan.stages import CircuitNow, Fittings, PartFitted
from lampkit.plan.timing import SPEEDS, LampTiming
from lampkit.plan.work_order import WorkStep
from lampkit.sources.light_source import Claim
from lampkit.statements import as_data, named


def plan_as_dict(plan: Plan, *, causes: Sequence[Causes] = ()) -> dict[str, Any]:
    """Give the plan as plain data that JSON can hold.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.
    causes : sequence of Causes
        What makes the ratios uncertain, where that was worked out.

    Returns
    -------
    dict
        Numbers carry their unit at the end of the key ('1' for none); an interval is [lower limit, median, upper
        limit] of 95 %; a sentence is its key, its values and its text; what is unknown or without bound is null. The
        form is written down in references/report.schema.json.

    Source: RFC 8259 for what JSON can hold.

    Examples
    --------
    >>> import lampkit as lk
    >>> data = lk.page.plan_as_dict(lk.plan.make(lk.vehicle.load(lk.tables.folder() / "library_van"), draws=100))
    >>> sorted(data["lamps"][0]["suggestion"]["verdict"])
    ['key', 'text', 'values']
    """
    found = findings_of(plan)
    v = plan.vehicle
    data: dict[str, Any] = as_data(
        {
            "kit": {"name": "lampkit", "version": __version__},
            "seed": plan.seed,
            "draws": found.draws,
            "vehicle": {
                "name": v.name,
                "year": v.year,
                "supply_voltage_V": v.supply_voltage,
                "running_voltage_V": v.supplies[EngineState.RUNNING],
                "idle_voltage_V": v.supplies[EngineState.IDLING],
                "off_voltage_V": v.supplies[EngineState.OFF],
                "earth": v.earth,
                "rules": v.rules,
                "rules_in_force": v.held_to.name,
                "currency": v.currency,
                "note": v.note,
            },
            "lamps": [_lamp(one) for one in found.lamps],
            "choice": _choice(found),
            "circuits": [_circuit(one) for one in found.circuits],
            "causes": [_cause(one) for one in causes],
            "over_tail": [
                {
                    "stop": one.stop,
                    "tail": one.tail,
                    "stop_over_tail_1": one.ratio,
                    "wanted_1": one.wanted,
                    "chance_1": one.chance,
                    "too_bright": one.too_bright,
                }
                for one in found.over_tail
            ],
            "ballast": found.ballast,
            "to_watch": [{"about": told.heading, "sentence": told.words} for told in found.watch],
            "after_fitting": [
                {"subject": check.subject, "what": check.what, "expect": check.expect} for check in found.checks.all
            ],
            "earth": None
            if found.earth is None
            else {
                "now": v.earth,
                "after": v.earth_after,
                "generator": v.generator,
                "sentences": found.earth.words,
                "parts": [part._asdict() for part in found.earth.parts],
                "order_of_work": [
                    {"what": step.what, "why": step.why, "battery_on": step.battery_on, "cautions": step.cautions}
                    for step in found.earth.steps
                ],
            },
            "work": _work(found),
            "readings": None if found.readings is None else _readings(found.readings),
            "assumptions": [
                {
                    "owner": owner,
                    "quantity": b.name,
                    "unit": b.unit,
                    "typical": b.typical,
                    "interval": np.asarray(b.value([-1.96, 0.0, 1.96])),
                    "shape": b.shape,
                    "source": b.source,
                }
                for owner, b in found.beliefs
            ],
        }
    )
    return data


def _cause(found: Causes) -> dict[str, Any]:
    return {
        "lamp": found.lamp,
        "light_source": found.source,
        "relative_standard_uncertainty_1": found.spread,
        "shares": [
            {"cause": cause.value, "share_of_variance_1": share}
            for cause, share in sorted(found.shares.items(), key=lambda item: -item[1])
        ],
        "measure": found.best.value,
        "then_left_1": found.left,
        "sentence": found.sentence,
    }


def _lamp(found: LampFindings) -> dict[str, Any]:
    lamp, limit, decision = found.lamp, found.assessment.colour_limit, found.decision
    return {
        "name": lamp.name,
        "position": lamp.position,
        "function": lamp.function,
        "quantity": lamp.quantity,
        "road_rule": lamp.road_rule,
        "lens": found.assessment.lens.name,
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
            "verdict": named(decision.verdict),
            "light_source": None if decision.result is None else decision.result.source.name,
            "chance_1": decision.chance,
            "sentence": decision.statement,
        },
        "socket": {
            "measured": found.socket.measured,
            **{f"with_filament_{state.name.lower()}_V": found.socket.before[state] for state in EngineState},
        },
        "filament": _source(found, found.sources[0]),
        "candidates": [_source(found, source) for source in found.sources[1:]],
        "replacement": found.replacement,
        "intensity": None if found.axis is None else _intensity(found, found.axis),
        "timing": None if found.timing is None else _timing(found.timing),
        "seen": [
            {
                "light_source": source.result.source.name,
                "by_day_shortest_m": ranges[0, 0],
                "by_day_longest_m": ranges[0, 1],
                "by_night_shortest_m": ranges[1, 0],
                "by_night_longest_m": ranges[1, 1],
            }
            for source, ranges in zip(found.sources, found.seen, strict=False)
        ],
        "brightness_to_luminance": [
            {
                "light_source": source.result.source.name,
                "by_model": {f"{name}_1": value for name, value in source.brightness.items()},
            }
            for source in found.sources
            if source.brightness
        ],
    }


def _source(found: LampFindings, source: SourceFindings) -> dict[str, Any]:
    result, colour = source.result, source.result.colour
    name, at = result.source.name, found.socket
    other = next((one for one in found.at_other_voltages if one.light_source == name), None)
    volts = at.before if source.is_filament else at.after[name]
    x, y = result.chromaticity
    return {
        "light_source": result.source.name,
        "kind": named(result.source.kind),
        "claimed_lumens_lm": result.source.luminous_flux,
        "power_W": result.source.electrical_power,
        "price": None if source.offer is None else source.offer.price,
        "luminous_transmittance_1": result.luminous_transmittance,
        "flux_through_lens_lm": result.flux_through,
        "k_1": result.k,
        "light_against_filament_1": result.ratio,
        "socket_running_V": volts[EngineState.RUNNING],
        "light_against_filament_idling_1": None if other is None else other.idling,
        "light_against_filament_sound_wiring_1": None if other is None else other.sound_wiring,
        "probability_of_at_least_the_filament_1": result.probability,
        "lumens_to_buy_lm": result.lumens_to_buy,
        "x_1": x,
        "y_1": y,
        "colour_verdict": None if colour is None else colour.statement,
        "colour_boundary": None if colour is None else colour.boundary,
        "colour_margin_1": None if colour is None else colour.margin,
        "share_inside_1": result.share_inside,
        "why": result.why,
        "claim": result.claim_statement,
        "claim_verdict": None if result.claim is Claim.UNCHECKED else named(result.claim),
    }


def _intensity(found: LampFindings, axis: LampIntensity) -> dict[str, Any]:
    return {
        "basis": axis.basis,
        "measured": axis.measured,
        "limits": [
            {
                "limit": letter,
                "quantity": limit.quantity,
                "value_cd": limit.low if np.isfinite(limit.low) else limit.high,
                "where": limit.where,
                "edition": limit.edition,
                "source": limit.source,
                "known": limit.known,
            }
            for letter, members in zip(LETTERS, axis.limits, strict=False)
            for limit in members
        ],
        "on_axis": [
            {
                "light_source": source.result.source.name,
                "intensity_cd": interval,
                "against": {letter: named(one) for letter, one in zip(LETTERS, against, strict=False)},
            }
            for source, interval, against in zip(found.sources, axis.every, axis.against, strict=True)
        ],
    }


def _timing(found: LampTiming) -> dict[str, Any]:
    return {
        "filament_rise_s": found.rise,
        "reaction_sooner_s": found.gained,
        "distance": [
            {"speed_km_per_h": speed, "gained_m": span} for speed, span in zip(SPEEDS, found.distance, strict=True)
        ],
        "flash_share_filament_1": found.flash_share,
        "flash_share_led_1": found.led_flash_share,
        "sentence": found.statement,
    }


def _choice(found: Findings) -> dict[str, Any]:
    made = found.plan.choice
    articles = [offer for offer in made.chosen.values() if offer is not None]
    return {
        "fitted": {lamp: None if offer is None else offer.name for lamp, offer in made.chosen.items()},
        "light_sources": sorted({offer.name for offer in articles}),
        "parts": [{"name": part.name, "number_1": number} for part, number in made.parts],
        "price": made.cost,
        "kept": made.kept,
        "look_for": made.look_for,
        "told": [*(words for words in made.fitted if words), *found.told],
    }


def _circuit(found: CircuitFindings) -> dict[str, Any]:
    report, change = found.report, found.report.change
    changes = (
        ("current", "A", change.current),
        ("voltage_at_lamps", "V", change.voltage),
        ("drop", "V", change.drop),
        ("inrush_least", "A", change.inrush[:, 0]),
        ("inrush_most", "A", change.inrush[:, 1]),
    )  # fmt: skip
    return {
        "name": report.circuit.name,
        "lamps": report.lamps,
        "fuse_fitted_A": report.circuit.fuse,
        "fuse_for_wire_A": change.fuse_state.most,
        "fuse_advice": change.fuse_state.said,
        "change": {
            f"{quantity}_{when}_{unit}": values[i]
            for i, when in enumerate(("before", "after"))
            for quantity, unit, values in changes
        }
        or None,
        "words": report.words,
        "cures": report.cures,
    }


def _work(found: Findings) -> dict[str, Any]:
    made = found.plan.work
    return {
        "states": [_state(state, now) for state, now in zip(made.states, made.circuits, strict=True)],
        "order": [
            {
                "task": step.what,
                "why": step.why,
                "before": [{"state": named(one.state), "holds": one.holds} for one in step.before],
                "after": [{"state": named(one.state), "holds": one.holds} for one in step.after],
                "cautions": [named(one) for one in step.cautions],
                "lamps": lamps,
            }
            for step, lamps in zip(
                made.every,
                [*([] for _ in made.earth), *(_changed(one) for one in made.steps)],
                strict=True,
            )
        ],
        "bench": [
            {
                "light_source": test.source,
                "voltage_V": test.voltage,
                "current_A": test.current,
                "lights": named(test.lights),
            }
            for test in made.bench
        ],
        "parts": found.plan.parts_to_fit,
        "savings": found.plan.savings,
    }


def _changed(one: WorkStep) -> list[str]:
    return list(one.state.changed) if one.step.task in CHANGES else []


def _state(state: Fittings, circuits: Sequence[CircuitNow]) -> dict[str, Any]:
    return {
        "stage": named(state.stage),
        "earth": state.earth.value,
        "changed": state.changed,
        "fitted": {lamp: None if offer is None else offer.name for lamp, offer in state.fitted.items()},
        "parts": [named(part) for part in PartFitted if part in state.parts],
        "circuits": [
            {
                "name": now.circuit.name,
                "side": side.side,
                "mix": None if side.mix is None else named(side.mix),
                "current_A": side.current,
                "voltage_at_lamps_V": side.voltage,
                "drop_V": side.drop,
                "flasher": None
                if side.flasher is None
                else {
                    "behaviour": named(side.flasher.behaviour),
                    "flashes_in_minute_1": side.flasher.rate,
                    "current_A": side.flasher.current,
                    "least_current_A": side.flasher.least_current,
                },
                "tell_tale": None if side.tell_tale is None else named(side.tell_tale.verdict),
                "lamps": [
                    {
                        "lamp": one.lamp,
                        "light_source": one.source,
                        "lights": named(one.lights),
                        "current_A": one.current,
                    }
                    for one in side.lamps
                ],
            }
            for now in circuits
            for side in now.sides
        ],
    }


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
        limit] of 95 %; a sentence is its key, its values and its text; what is unknown or without bound is null. The
        form is written down in references/readings.schema.json.

    Source: RFC 8259 for what JSON can hold.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> data = lk.page.readings_as_dict(lk.measurement.compare_readings(log, draws=200))
    >>> sorted(data["ratios"][0]["sentence"])
    ['key', 'text', 'values']
    """
    shown = findings_of_readings(found)
    data: dict[str, Any] = as_data(
        {"kit": {"name": "lampkit", "version": __version__}, "seed": shown.seed, **_readings(shown)}
    )
    return data


def _readings(shown: ReadingFindings) -> dict[str, Any]:
    data: dict[str, Any] = {"ratios": [_ratio(one) for one in shown.ratios], "remarks": shown.remarks}
    if shown.beside:
        data["predictions"] = [_prediction(one) for one in shown.ratios if one.finding is not None]
        data["lenses"] = [_lens(lens) for lens in shown.lenses]
    return data


def _ratio(one: RatioFindings) -> dict[str, Any]:
    r = one.ratio
    return {
        "lamp": r.lamp,
        "old": r.old,
        "new": r.new,
        "ratio_1": r.ratio,
        "answer": named(r.answer),
        "chance_1": r.chance,
        "naive_ratio_1": r.naive,
        "intensity_old_cd": r.intensity_old,
        "intensity_new_cd": r.intensity_new,
        "no_upper_limit": r.unbounded,
        "fieller_ratio_1": r.fieller,
        "ratio_before_mismatch_correction_1": r.uncorrected,
        "standard_uncertainty_1": r.budget.standard_uncertainty,
        "contributions": [
            {
                "cause": cause.name,
                "relative_standard_uncertainty_1": cause.uncertainty,
                "share_of_variance_1": cause.share,
            }
            for cause in one.causes
        ],
        "sentence": r.sentence,
    }


def _prediction(one: RatioFindings) -> dict[str, Any]:
    f = one.finding
    assert f is not None, "called for a ratio with a prediction"
    return {
        "lamp": f.ratio.lamp,
        "new": f.ratio.new,
        "measured_ratio_1": f.ratio.ratio,
        "predicted_ratio_1": f.predicted,
        "normalised_error_1": f.agreement.normalised_error,
        "verdict": named(f.agreement.verdict),
        "sentence": f.agreement.sentence,
        "blame": {
            "outcome": named(f.blame.outcome),
            **{f"{name}_before_1": limits for name, limits in zip(FACTORS, f.blame.before, strict=True)},
            **{
                f"{name}_after_1": limits if f.blame.split else None
                for name, limits in zip(FACTORS, f.blame.after, strict=True)
            },
            "product_1": f.blame.product,
            "strain_1": f.blame.strain,
            "short_on_the_box_lm": f.blame.short,
            "sentence": f.blame.sentence,
        },
    }


def _lens(found: LensFindings) -> dict[str, Any]:
    knowledge = found.known.knowledge
    return {
        "lamp": found.known.lamp,
        "lens": found.name,
        "quantities": [
            {
                "quantity": q.quantity,
                "unit": q.unit,
                "before": q.before,
                "after": q.after,
                "spread_left_1": q.spread_left,
                "learnt": q.learnt,
            }
            for q in found.quantities
        ],
        "effective_draws_1": knowledge.effective,
        "misfit_1": knowledge.misfit,
        "candidates": [
            {
                "light_source": r.source.name,
                "k_1": r.k,
                "light_against_filament_1": r.ratio,
                "probability_of_at_least_the_filament_1": r.probability,
            }
            for r in found.known.assessment.results
        ],
        "remarks": knowledge.remarks,
    }
