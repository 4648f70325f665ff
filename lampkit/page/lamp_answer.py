"""The answer for one lamp on a terminal and as plain data: the sentence, the table, what is assumed, what is surer."""

from typing import Any

from lampkit import numbers, statements
from lampkit.conversion import answer as one_answer
from lampkit.conversion.assessment import Assessment, Result
from lampkit.plan.causes import Answered
from lampkit.sources import light_source
from lampkit.statements import Statement, named, say
from lampkit.vehicle.one_lamp import OneLamp


def taken(asked: OneLamp, assessment: Assessment) -> list[Statement]:
    """List what was taken for granted and would move the answer."""
    sources = [result.source for result in assessment.results]
    said = [*asked.assumed, say("one_lamp.old")]
    if any(source.claimed for source in sources):
        said.append(say("one_lamp.claims"))
    guessed = [source for source in sources if not source.claimed]
    if guessed:
        said.append(light_source.no_lumens(guessed))
    if assessment.rules is not None:
        said.append(say("one_lamp.rules", rules=assessment.rules))
    elif assessment.function is not None:
        said.append(say("one_lamp.no_rules", function=assessment.function))
    return said


def doubted(assessment: Assessment) -> list[Statement]:
    """List the claims on boxes that are not to be trusted, and why."""
    return [
        say("notes.claim", name=result.source.name, claim=result.claim_statement)
        for result in assessment.results
        if result.claim in light_source.DOUBTED
    ]


def answer_text(told: Answered) -> str:
    """Write the answer for a terminal of 80 columns."""
    asked, assessment, found, doubt = told.asked, told.assessment, told.answer, told.doubt
    lines = [one_answer.text(assessment, found)]
    for said in doubted(assessment):
        lines += ["", *numbers.wrap(said, one_answer.COLUMNS)]
    lines += ["", str(say("one_lamp.taken"))]
    for said in taken(asked, assessment):
        lines += numbers.wrap(said, one_answer.COLUMNS, first="- ", then="  ")
    if doubt is not None:
        parts = {"name": doubt.source, "spread": doubt.spread, "measure": named(doubt.best), "left": doubt.left}
        lines += ["", *numbers.wrap(str(say("one_lamp.surer", **parts)), one_answer.COLUMNS)]
    return "\n".join(
        [*lines, "", *numbers.wrap(str(say("page.caution_first", words=say("page.approval"))), one_answer.COLUMNS)]
    )


def answer_as_dict(told: Answered) -> dict[str, Any]:
    """Give the answer as plain data, in the form of references/lamp.schema.json."""
    asked, assessment, found, doubt = told.asked, told.assessment, told.answer, told.doubt
    from lampkit import __version__

    vehicle, lamp = asked.vehicle, asked.lamp
    needed = found.wanted
    data = {
        "kit": {"name": "lampkit", "version": __version__},
        "asked": {
            "function": lamp.function,
            "lens": lamp.lens.colour,
            "filament": lamp.filament.name,
            "supply_voltage_V": vehicle.supply_voltage,
            "voltage_V": vehicle.running_voltage,
            "rules": assessment.rules,
        },
        "answer": found.sentence,
        "fit": None if found.result is None else found.result.source.name,
        "nearest": None if found.nearest is None else found.nearest.source.name,
        "look_for": None
        if needed is None
        else {
            "colour": needed.colour,
            "cct_K": needed.cct,
            "peak_nm": needed.peak,
            "claimed_lumens_lm": needed.lumens,
        },
        "filament": _result(assessment.old),
        "light_sources": [
            {"price": offer.price, **_result(result)}
            for offer, result in zip(lamp.candidates, assessment.results, strict=True)
        ],
        "doubted_claims": doubted(assessment),
        "taken_for_granted": taken(asked, assessment),
        "surer": None
        if doubt is None
        else {
            "light_source": doubt.source,
            "spread_1": doubt.spread,
            "measure": doubt.best,
            "left_1": doubt.left,
            "shares_1": {cause.value: share for cause, share in doubt.shares.items()},
        },
        "draws": len(assessment.garage),
        "seed": assessment.garage.seed,
    }
    found_data: dict[str, Any] = statements.as_data(data)
    return found_data


def _result(result: Result) -> dict[str, Any]:
    return {
        "name": result.source.name,
        "claimed_lumens_lm": result.source.luminous_flux,
        "claimed": result.source.claimed,
        "power_W": result.source.electrical_power,
        "luminous_transmittance_1": result.luminous_transmittance,
        "light_against_filament_1": result.ratio,
        "probability_of_at_least_the_filament_1": result.probability,
        "chance_1": result.chance,
        "share_inside_1": result.share_inside,
        "claimed_lumens_to_buy_lm": result.lumens_to_buy,
        "claim": result.claim,
    }
