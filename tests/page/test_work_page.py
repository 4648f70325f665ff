"""The order of work and the wiring sketches as they are shown: every step, every number, nothing off the paper."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape

import pytest
from page import boxes
from worked_out import SMALL, VEHICLES, basis_of, plan_of, sheet_of

from lampkit import cli
from lampkit.circuits import charging, earth, tasks
from lampkit.circuits.earth import Earth
from lampkit.circuits.tasks import Caution, LampTask
from lampkit.page import circuit_pictures, job_sheet, job_sheet_text, vehicle_findings
from lampkit.page.findings import findings_of
from lampkit.plan import plan, stages
from lampkit.plan.plan import Plan
from lampkit.plan.stages import CircuitNow, PartFitted
from lampkit.statements import named
from lampkit.vehicle import vehicle


@pytest.fixture(scope="module")
def made() -> Plan:
    return plan_of()


def circuit(found: Plan, name: str, place: int) -> CircuitNow:
    return next(now for now in found.work.circuits[place] if now.circuit.name == name)


# --- the order ----------------------------------------------------------------------------------------------------


def test_every_task_and_lamp_stands_on_the_sheet_and_in_the_text(made: Plan) -> None:
    page, text = sheet_of(), job_sheet_text.report_text(made, full=True)
    shown = findings_of(made).work
    assert shown is not None
    flat = " ".join(text.split())
    for step in made.work.steps:
        if step.step.task not in vehicle_findings.CHANGES:
            assert str(step.step.what) in " ".join(page.replace("&#39;", "'").split())
            assert str(step.step.what) in flat
    rows = [row for step in shown.steps for row in step.lamps]
    assert sum(row.names.count(" and ") + 1 for row in rows) >= 7
    for row in rows:
        assert row.names in flat


def test_the_three_states_of_a_circuit_are_those_of_the_plan(made: Plan) -> None:
    """Stop lamps, by hand elsewhere: 3.58 A at 12.7 V with filaments; one of each; two of 4 W."""
    shown = findings_of(made).work
    assert shown is not None
    stop = next(one for one in shown.circuits if str(one.name) == "stop")
    assert str(stop.as_found) == "3.58 A, 12.7 V"
    mixed = [circuit(made, "stop", i).sides[0] for i in range(len(made.work.states))]
    between = next(side for side in mixed if side.mix is not None and side.mix.name == "BOTH")
    assert str(stop.on_the_way).startswith(f"{between.current:.2f} A")
    assert str(stop.as_chosen).startswith(f"{mixed[-1].current:.2f} A")


def test_each_caution_of_the_order_is_told_once(made: Plan) -> None:
    shown = findings_of(made).work
    assert shown is not None
    told = [caution.key for step in shown.steps for caution in step.cautions]
    wanted = {named(caution).key for step in made.work.steps for caution in step.step.cautions}
    assert sorted(told) == sorted(wanted)


def test_no_change_is_no_order(made: Plan) -> None:
    kept = plan.pick(made, {lamp.name: None for lamp in made.vehicle.lamps})
    assert findings_of(kept).work is None
    for page, sketched in ((basis_of(), True), (job_sheet.basis_html(kept), False)):
        assert ('id="wiring"' in page) is sketched


def test_the_earth_comes_first_where_it_is_changed(made: Plan) -> None:
    turned = replace(made, vehicle=replace(made.vehicle, earth="positive", earth_after="negative"))
    shown = vehicle_findings.work(turned)
    assert shown is not None and shown.earth_first is not None
    assert len(shown.bench) == len(turned.work.bench) > 0
    assert LampTask.MEASURE_AS_FOUND not in {step.step.task for step in turned.work.steps}, "the earth's order has it"
    assert turned.work.every[-1].task is LampTask.TRY_ALL
    stays = vehicle_findings.work(made)
    assert stays is not None and stays.earth_first is None


# --- sketches -----------------------------------------------------------------------------------------------------


def words_of(drawing: str) -> list[str]:
    root = ET.fromstring(drawing)
    return ["".join(node.itertext()).strip() for node in root.iter() if node.tag.endswith("text")]


def drawn(found: Plan, now: CircuitNow) -> str:
    return circuit_pictures.wiring_sketch(found.vehicle, now).html


def test_volts_amperes_wire_and_fuse_stand_on_it(made: Plan) -> None:
    told = " ".join(words_of(drawn(made, circuit(made, "turn", 0)))).replace("\N{NO-BREAK SPACE}", " ")
    for words in ("13.5 V", "positive pole to earth", "fuse: 10 A", "1 mm², 7 m", "3.85 A, 0.91 V", "thermal series"):
        assert words in told, words
    assert told.count("P21W: 1.78 A at 12.6 V") == 4
    told = " ".join(words_of(drawn(made, circuit(made, "turn", -1)))).replace("\N{NO-BREAK SPACE}", " ")
    for words in ("load-independent", "own earth wire", "banded ends towards the feeds", "1.12 A, 0.26 V"):
        assert words in told, words


def test_two_renders_are_the_same_letters(made: Plan) -> None:
    for name in ("turn", "side and tail"):
        assert drawn(made, circuit(made, name, -1)) == drawn(made, circuit(made, name, -1))


def test_no_word_leaves_the_paper_or_meets_another(made: Plan) -> None:
    for place in (0, len(made.work.states) // 2, -1):
        for now in made.work.circuits[place]:
            (sketch,) = boxes.drawings(drawn(made, now))
            boxes.check(sketch)


def test_a_name_is_a_name_and_no_mathematics(made: Plan) -> None:
    now = circuit(made, "stop", 0)
    side = replace(now.sides[0], lamps=tuple(replace(one, lamp=r"$\frac{a}{b}$ <b>&") for one in now.sides[0].lamps))
    told = words_of(drawn(made, replace(now, sides=(side,))))
    assert any(r"$\frac{a}{b}$ <b>&" in one for one in told)


@pytest.mark.parametrize("name", sorted(folder.name for folder in VEHICLES.iterdir() if folder.is_dir()))
def test_every_vehicle_can_be_drawn(name: str) -> None:
    held = vehicle.load(VEHICLES / name)
    earth, nothing = Earth(held.earth), {lamp.name: None for lamp in held.lamps}
    first = {lamp.name: next(iter(lamp.candidates), None) for lamp in held.lamps}
    for fitted, parts in ((nothing, frozenset()), (first, frozenset(PartFitted))):
        state = stages.Fittings(stages.Stage.AS_FOUND, earth, fitted, parts)
        for now in stages.circuits_in(held, state):
            (sketch,) = boxes.drawings(circuit_pictures.wiring_sketch(held, now).html)
            boxes.check(sketch)
            assert boxes.of(sketch) and boxes.smallest(sketch) >= 12


def test_only_what_changes_is_drawn() -> None:
    page = unescape(basis_of())
    assert "Circuit 'turn', as it is" in page and "Circuit 'turn', as chosen" in page
    assert "Circuit 'reversing', as it is" not in page


def test_json_carries_states_order_parts_and_savings(capsys: pytest.CaptureFixture[str]) -> None:
    import json

    assert cli.main(["report", str(VEHICLES / "fire_pump"), "--json", "--draws", "100"]) == 0
    told = json.loads(capsys.readouterr().out)["work"]
    assert told["states"][0]["stage"]["key"] == "Stage.AS_FOUND"
    assert told["states"][-1]["stage"]["key"] == "Stage.AS_CHOSEN"
    assert [one["task"]["key"] for one in told["order"]][-1] == "LampTask.TRY_ALL"
    assert {one["light_source"] for one in told["bench"]} <= set(told["states"][-1]["fitted"].values())


def test_each_bound_part_stands_on_the_sheet_with_what_to_do() -> None:
    made = plan_of(SMALL)
    turned = replace(made, vehicle=replace(made.vehicle, earth="positive", earth_after="negative"))
    told = findings_of(turned).earth
    assert told is not None
    bound = [part for part in earth.parts() if part.polarity_bound is not earth.PolarityBound.NO]
    assert [(part.part, part.what) for part in told.parts] == [(part.part, part.what_to_do) for part in bound]
    page = unescape(job_sheet.basis_html(turned))
    assert all(str(part.what) in page for part in told.parts)


def test_the_first_start_is_watched(made: Plan) -> None:
    for kind in charging.GeneratorKind:
        (start,) = [one for one in tasks.order_of_work(kind) if one.task is tasks.EarthTask.START]
        assert {Caution.CHARGE_LAMP, Caution.CHARGING_OPEN} <= set(start.cautions)
        told = str(start.what).casefold()
        assert all(word in told for word in ("charge-warning lamp", "ammeter", "voltage"))
