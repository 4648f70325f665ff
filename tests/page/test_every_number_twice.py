"""Every number of the van that stands in two places is the same number: by its meaning, not by its digits."""

import json
import re
from collections import defaultdict
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from worked_out import EVERY, VAN, basis_of, plan_of, sheet_of

import lampkit as lk
from lampkit import numbers
from lampkit.page import data
from lampkit.plan.plan import Plan, assess_lamps, with_readings

DRAWS = 400


@pytest.fixture(scope="module")
def made() -> Plan:
    return plan_of(VAN, DRAWS)


@pytest.fixture(scope="module")
def report(made: Plan) -> dict[str, Any]:
    return dict(json.loads(json.dumps(data.plan_as_dict(made))))


@pytest.fixture(scope="module")
def alone() -> dict[str, Any]:
    """What `lampkit readings` makes of the same log: only the lamps that were read are worked out."""
    van = lk.vehicle.load(VAN)
    named = {r.lamp for r in lk.measurement.load_log(VAN / "readings.csv").readings}
    lamps = tuple(lamp for lamp in van.lamps if lamp.name in named)
    _, found = with_readings(van, assess_lamps(van, lamps=lamps, draws=DRAWS))
    assert found is not None
    return dict(json.loads(json.dumps(data.readings_as_dict(found))))


def plain(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


Meaning = tuple[str, ...]


def meanings_of_readings(told: dict[str, Any], place: str) -> Iterator[tuple[Meaning, str, Any]]:
    for one in told["ratios"]:
        pair = (one["lamp"], one["new"])
        yield ("ratio as read", *pair), f"{place}, ratio", one["ratio_1"]
        yield ("candela with the filament", one["lamp"]), f"{place}, ratio", one["intensity_old_cd"]
        yield ("chance of the answer", *pair), f"{place}, ratio", one["chance_1"]
    for one in told["predictions"]:
        pair = (one["lamp"], one["new"])
        yield ("ratio as read", *pair), f"{place}, beside the prediction", one["measured_ratio_1"]
        yield ("ratio as read", *pair), f"{place}, product of the split", one["blame"]["product_1"]
        yield ("ratio predicted", *pair), f"{place}, beside the prediction", one["predicted_ratio_1"]
        if one["blame"]["lens_after_1"] is not None:
            yield ("K", *pair), f"{place}, split", one["blame"]["lens_after_1"]
    for lens in told["lenses"]:
        for one in lens["candidates"]:
            pair = (lens["lamp"], one["light_source"])
            yield ("light against the filament", *pair), f"{place}, lens", one["light_against_filament_1"]
            chance = one["probability_of_at_least_the_filament_1"]
            yield ("chance of the light", *pair), f"{place}, lens", chance
            yield ("K", *pair), f"{place}, lens", one["k_1"]


def meanings_of_report(told: dict[str, Any]) -> Iterator[tuple[Meaning, str, Any]]:
    vehicle = told["vehicle"]
    read = {(one["lamp"], one["new"]) for one in told["readings"]["ratios"]}
    circuits = {lamp: c["change"] for c in told["circuits"] for lamp in c["lamps"] if c["change"]}
    for lamp in told["lamps"]:
        name = lamp["name"]
        sources = {one["light_source"]: one for one in (lamp["filament"], *lamp["candidates"])}
        for source, one in sources.items():
            pair = (name, source)
            yield ("light against the filament", *pair), "report, lamp", one["light_against_filament_1"]
            if pair in read and lamp["function"] in ("stop", "tail"):  # what flashes is cooler in use than when read
                yield ("ratio as read", *pair), "report, lamp", one["light_against_filament_1"]
            yield ("chance of the light", *pair), "report, lamp", one["probability_of_at_least_the_filament_1"]
            yield ("K", *pair), "report, lamp", one["k_1"]
        volts = lamp["socket"]["with_filament_running_V"]
        yield ("volts at the socket", name), "report, socket", volts
        yield ("volts at the socket", name), "report, filament", lamp["filament"]["socket_running_V"]
        if name in circuits:
            yield ("volts at the socket", name), "report, circuit", circuits[name]["voltage_at_lamps_before_V"]
            loss = vehicle["running_voltage_V"] - circuits[name]["drop_before_V"]
            yield ("volts at the socket", name), "report, loss of the circuit", loss
        if lamp["intensity"] is not None and lamp["intensity"]["basis"]["key"] == "basis.log":
            yield ("candela with the filament", name), "report, axis", lamp["intensity"]["on_axis"][0]["intensity_cd"]
    yield from meanings_of_circuits(told)
    yield from meanings_of_readings(told["readings"], "report")


FLASHER_WORDS = {"with_filaments": 0, "with_new_flasher": -1, "with_ballast": -1}
"""Which state of the work each sentence about a flasher is about, where nothing but filaments is found."""


def meanings_of_circuits(told: dict[str, Any]) -> Iterator[tuple[Meaning, str, Any]]:
    """What each circuit draws, how it flashes and what its tell-tale does: in its own report, and in the work."""
    turning = {"by_flasher": "amperes", "rate": "flashes", "current": "flasher amperes", "least": "least amperes"}
    for one in told["circuits"]:
        name, lit = one["name"], one["change"]
        in_series = any(key in json.dumps(one["words"]) for key in ("flasher.hot_wire_flashes", "flasher.never_closes"))
        for at, when in ((0, "before"), (-1, "after")):
            yield ("amperes", name, str(at)), "circuit", lit[f"current_{when}_A"]
            yield ("volts", name, str(at)), "circuit", lit[f"voltage_at_lamps_{when}_V"]
            sides = [side for side in told["work"]["states"][at]["circuits"] if side["name"] == name]
            for side in sides:
                if one["lamps"][0] not in [lamp["lamp"] for lamp in side["lamps"]]:
                    continue
                yield ("amperes", name, str(at)), "work", side["current_A"]
                yield ("volts", name, str(at)), "work", side["voltage_at_lamps_V"]
                if side["flasher"] is not None:
                    yield ("flashes", name, str(at)), "work", side["flasher"]["flashes_in_minute_1"]
                    yield ("flasher amperes", name, str(at)), "work", side["flasher"]["current_A"]
                    yield ("least amperes", name, str(at)), "work", side["flasher"]["least_current_A"]
                    if not in_series:  # what a hot wire gets, it gets through the dark lamps
                        yield ("amperes", name, str(at)), "flasher", side["flasher"]["current_A"]
                if side["tell_tale"] is not None and at == -1:
                    yield ("tell-tale", name), "work", side["tell_tale"]
        for words in one["words"]:
            key = words["key"].split(".")
            if key[0] == "circuit_report" and key[1] in FLASHER_WORDS:
                state = words["values"]["state"]["values"]
                for of in turning.keys() & state.keys():
                    yield (turning[of], name, str(FLASHER_WORDS[key[1]])), key[1], state[of]
            if key[1] == "braking_while_turning":
                for at, amperes in zip((0, -1), words["values"]["by_flasher"], strict=True):
                    yield ("amperes", name, str(at)), key[1], amperes
            if key[0] == "tell_tale":
                yield ("tell-tale", name), "circuit", key[1]


@pytest.mark.parametrize("place", EVERY, ids=lambda place: place.name)
def test_circuit_and_work_tell_one_current_rate_and_tell_tale(place: Path) -> None:
    """Kirchhoff: what the flasher passes is what its lamps draw at the end of their wire, wherever it is told."""
    made = plan_of(place)
    if made.vehicle.lamps and any(lamp.fitted is not None for lamp in made.vehicle.lamps):
        pytest.skip("found with LEDs: its first state is not the filaments")
    places: dict[Meaning, list[tuple[str, Any]]] = defaultdict(list)
    for meaning, where, value in meanings_of_circuits(json.loads(json.dumps(data.plan_as_dict(made)))):
        places[meaning].append((where, value))
    if any(circuit.flasher is not None for circuit in made.vehicle.circuits):
        assert {"amperes", "flashes"} <= {meaning[0] for meaning, found in places.items() if len(found) > 1}
    for meaning, found in places.items():
        assert all(
            value == (pytest.approx(found[0][1], rel=1e-5) if meaning[0] != "tell-tale" else found[0][1])
            for _, value in found
        ), (meaning, found)


def test_what_stands_twice_in_the_json_is_one_number(report: dict[str, Any], alone: dict[str, Any]) -> None:
    places: dict[Meaning, list[tuple[str, Any]]] = defaultdict(list)
    for meaning, place, value in (*meanings_of_report(report), *meanings_of_readings(alone, "readings")):
        places[meaning].append((place, value))
    twice = {meaning: found for meaning, found in places.items() if len(found) > 1}
    kinds = {meaning[0] for meaning in twice}
    assert {"ratio as read", "ratio predicted", "light against the filament", "volts at the socket", "K"} <= kinds
    assert "candela with the filament" in kinds and len(twice) > 40
    for meaning, found in twice.items():
        first = found[0][1]
        # Quantiles by order and between draws differ a little.
        near = 0.02 if meaning[0] == "candela with the filament" else 1e-5
        for place, value in found[1:]:
            assert value == pytest.approx(first, rel=near), f"{meaning}: {found[0][0]} and {place}"


def test_text_page_and_notebook_say_what_the_json_says(made: Plan, report: dict[str, Any]) -> None:
    assert made.readings is not None and made.readings.comparison is not None
    text = re.sub(r"\s+", " ", lk.page.report_text(made, full=True))
    page = plain(sheet_of() + basis_of())
    readings = re.sub(r"\s+", " ", lk.page.readings_text(made.readings))
    readings_page = plain(lk.page.readings_html(made.readings, "Readings"))
    notebook = plain(lk.notebook.show_three_ways(made.readings.comparison).data)
    for one in report["readings"]["ratios"]:
        said = numbers.interval(one["ratio_1"])
        for place in (page, readings, readings_page):
            assert said in place, (one["lamp"], one["new"])
        for limit in one["ratio_1"]:
            assert numbers.fixed(limit, 2) in notebook or f"{limit:.3f}" in notebook, (one["lamp"], limit)
    for prediction in report["readings"]["predictions"]:
        product = numbers.interval(prediction["blame"]["product_1"])
        assert product in readings and product in readings_page and product in page
        lens = numbers.interval(prediction["blame"]["lens_after_1"])
        assert lens in readings and lens in readings_page
    for lamp in report["lamps"]:
        for one in lamp["candidates"]:
            said = numbers.interval(one["light_against_filament_1"])
            result = next(
                r
                for a in made.assessments
                if a.name == lamp["name"]
                for r in a.results
                if r.source.name == one["light_source"]
            )
            if result.ground is not lk.conversion.assessment.Ground.READ_ON_TWIN:
                assert said in text, (lamp["name"], one["light_source"])
            assert said in page, (lamp["name"], one["light_source"])
        volts = numbers.fixed(lamp["socket"]["with_filament_running_V"], 1)
        if lamp["candidates"]:
            assert f"At the holder {volts} V" in text
            assert f"At the holder {volts} V" in page
    running, idling = (report["vehicle"][f"{state}_voltage_V"] for state in ("running", "idle"))
    for place in (text, page):
        assert f"{running:g} V at the battery with the engine running, {idling:.1f} V idling" in place


def test_a_number_that_is_changed_in_one_place_is_found(report: dict[str, Any]) -> None:
    """The comparison above can fail: with one ratio replaced, its places no longer agree."""
    wrong = json.loads(json.dumps(report))
    wrong["readings"]["predictions"][0]["blame"]["product_1"][1] *= 1.01
    places: dict[Meaning, list[Any]] = defaultdict(list)
    for meaning, _, value in meanings_of_report(wrong):
        places[meaning].append(value)
    pair = ("ratio as read", wrong["readings"]["ratios"][0]["lamp"], wrong["readings"]["ratios"][0]["new"])
    assert any(value != pytest.approx(places[pair][0], rel=1e-5) for value in places[pair][1:])
