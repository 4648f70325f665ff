"""What the job sheet rests on: the published limits and the assumptions; and which lamps of a vehicle are alike."""

from typing import Any

import numpy as np

from lampkit.conversion import Assessment, Suggestion
from lampkit.plan.plan import Plan
from lampkit.rules import colours
from lampkit.uncertainty.sampling import Belief
from lampkit.vehicle.vehicle import Lamp

FROM_MEMORY = "from memory, check before you rely on it"


def alike(plan: Plan) -> tuple[tuple[Lamp, Assessment], ...]:
    """Put lamps together that have the same function, lens, filament and candidates, such as left and right."""
    return tuple((group.joint, group.assessment) for group in plan.alike)


def decided(plan: Plan, lamp: Lamp, assessment: Assessment) -> Suggestion:
    """Say what to do with a lamp, as the choice of parts for the whole vehicle has it."""
    return plan.decision(lamp.name)


def limits(plan: Plan) -> dict[str, Any]:
    """Fill the page of the published limits, each with its source and how it is known.

    Source: the rules that each limit names.
    """
    held: dict[str, tuple[colours.ColourRegion, list[str]]] = {}
    for _, assessment in alike(plan):
        if assessment.colour_limit is not None:
            held.setdefault(assessment.colour_limit.name, (assessment.colour_limit, []))[1].append(assessment.name)
    free = [assessment.name for _, assessment in alike(plan) if assessment.colour_limit is None]
    return {
        "regions": [
            {
                "name": region.name,
                "lamps": "; ".join(names),
                "boundaries": [
                    {
                        "name": b.name,
                        "inequality": b.inequality,
                        "source": b.source,
                        "known": FROM_MEMORY if b.known == "from memory" else b.known,
                    }
                    for b in region.boundaries
                ],
            }
            for region, names in held.values()
        ],
        "without": f"No published limit was applied to: {'; '.join(free)}." if free else "",
    }


def assumptions(plan: Plan) -> dict[str, Any]:
    """Fill the page of everything that was assumed, with its typical value, spread and source.

    Source: the source of each belief.
    """
    owners: dict[Belief, list[str]] = {}
    notes: dict[str, dict[str, None]] = {}
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        for (owner, _), belief in assessment.garage.beliefs.items():
            # What several lenses or light sources share is said once.
            if owner not in (listed := owners.setdefault(belief, [])):
                listed.append(owner)
        written = {assessment.lens.name: assessment.lens.notes, lamp.filament.name: lamp.filament.notes}
        written |= {o.source.name: (*o.source.notes, *([o.note] if o.note else [])) for o in lamp.candidates}
        for owner, sentences in written.items():
            for sentence in sentences:
                notes.setdefault(sentence, {})[owner] = None
    return {
        "introduction": "Every number on this sheet rests on these. Half of all lenses and light sources lie above the "
        "typical value and half below; 19 of 20 lie within the range. Whatever you know better, write into the "
        "vehicle's file.",
        "beliefs": [{"of": ", ".join(names), **_belief(belief)} for belief, names in owners.items()],
        "notes": [(", ".join(names), sentence) for sentence, names in notes.items()],
    }


def _belief(belief: Belief) -> dict[str, str]:
    low, high = (float(v) for v in belief.value([-1.96, 1.96]))
    unit = "" if belief.unit == "1" else f" {belief.unit}"
    if not high > low:
        return {
            "name": belief.name,
            "typical": f"{belief.typical:.4g}{unit}",
            "range": "taken as exact",
            "source": belief.source,
        }
    # Two digits of the width: more would claim to know the spread better than anyone does.
    decimals = max(0, 1 - int(np.floor(np.log10(high - low))))
    typical, below, above = (f"{round(v, decimals) + 0.0:.{decimals}f}" for v in (belief.typical, low, high))
    return {
        "name": belief.name,
        "typical": f"{typical}{unit}",
        "range": f"{below} to {above}{unit}",
        "source": belief.source,
    }
