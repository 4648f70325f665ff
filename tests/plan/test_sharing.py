"""Lamps that share: one filament for two functions, two filaments in one holder, a trailer; worked by hand."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
import vehicle_text
from vehicle_text import BOTH, circuit, loaded, source, table

from lampkit import rules as published
from lampkit.errors import InputError
from lampkit.page import findings_of, lamp_findings
from lampkit.page.lamp_findings import candela_of
from lampkit.plan import advice, circuit_reports, plan, socket_voltages, suitability
from lampkit.plan.plan import Plan
from lampkit.plan.suitability import Family
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Vehicle

HEAD = """
[vehicle]
name = "Invented"
supply_voltage_V = 12
rules = "{rules}"
year = {year}
{more}
"""

SOURCES = (
    """
"""
    + source(
        "red pair",
        "claimed_lumens_lm = {bright}",
        colour="red",
        power_W=4.6,
        base="BAY15d",
        layout="all-round",
        price=9.0,
    )
    + source(
        "red pair dim",
        "claimed_lumens_lm = {dim}",
        dim_level_of="red pair",
        colour="red",
        power_W=0.5,
        base="BAY15d",
        layout="all-round",
    )
    + source("white pair", cct_K=6000, claimed_lumens_lm=1200, power_W=11, base="BAY15d", price=5.0)
    + source("white pair dim", dim_level_of="white pair", cct_K=6000, claimed_lumens_lm=110, power_W=1.2, base="BAY15d")
    + source(
        "amber pair",
        peak_nm=593,
        claimed_lumens_lm=1300,
        power_W=5,
        hot_over_cold=[0.85, 0.95],
        base="BAY15d",
        price=12.0,
    )
    + source("amber pair dim", dim_level_of="amber pair", peak_nm=593, claimed_lumens_lm=90, power_W=0.9, base="BAY15d")
    + circuit("stop", fuse_A=10)
    + circuit("turn", "fuse_A = {fuse}", "{trailer}", flasher="{flasher}")
    + circuit("parking")
    + table("part", name="timer", kind="load-independent flasher", price=8)
)


def lamp(
    name: str,
    function: str,
    candidates: list[str],
    lens: str = "red",
    *lines: str,
    part: str = "major",
    place: str = "rear",
    circuit: str = "turn",
) -> str:
    held = {"sides": BOTH, "position": place, "filament_part": part, "holder": f"{place} holder", "circuit": circuit}
    return vehicle_text.lamp(name, function, lens, "1157", candidates, *lines, **held)


REAR = (
    lamp("Stop", "stop", ["red pair"], circuit="stop")
    + lamp("Rear turn", "rear turn", ["red pair"])
    + lamp("Tail", "tail", ["red pair dim"], part="minor", circuit="parking")
)


def front(bright: list[str], lens: str = "clear") -> str:
    dims = [f"{name} dim" for name in bright]
    return lamp("Front turn", "front turn", bright, lens, place="front") + lamp(
        "Parking", "front position", dims, lens, part="minor", place="front", circuit="parking"
    )


def write(folder: Path, lamps: str, **more: object) -> Vehicle:
    given: dict[str, object] = {
        "rules": "US",
        "year": 1972,
        "more": "",
        "bright": 350,
        "dim": 30,
        "fuse": 15,
        "trailer": "",
        "flasher": "thermal series",
        **more,
    }
    text = HEAD.format(**given) + SOURCES.format(**given) + lamps
    folder.mkdir(exist_ok=True)
    return loaded(folder, text)


@pytest.fixture(scope="module")
def saloon(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan.make(write(tmp_path_factory.mktemp("saloon"), REAR + front(["amber pair", "white pair"])), draws=400)


def report_of(made: Plan, circuit: str) -> Mapping[str, Statement]:
    found = next(one for one in made.circuits if one.circuit.name == circuit)
    return {words.key: words for words in found.words}


def test_one_filament_is_one_light_source_bought_once(saloon: Plan) -> None:
    lamps = saloon.vehicle.lamps
    groups = [{lamps[i].name for i in group} for group in sharing.one_source(lamps)]
    assert groups == [{"Stop left", "Rear turn left"}, {"Stop right", "Rear turn right"}]
    for name in ("Stop", "Rear turn"):
        assert all(saloon.fitted(f"{name} {side}").name == "red pair" for side in ("left", "right"))  # type: ignore[union-attr]
    bought = saloon.choice.shopping_list().set_index("article")["number"]
    # Two rear and two front articles: the tail, the parking lamp and the rear turn lamp come with them.
    assert (bought["red pair"], bought["amber pair"], bought["timer"]) == (2, 2, 1)
    assert saloon.decision("Rear turn left").statement.values["lamp"] == "Stop left"
    assert "lamp" not in saloon.decision("Stop left").statement.values


def test_the_flasher_carries_the_stop_filament_and_the_other_side_stays_lit(saloon: Plan) -> None:
    # 1157, bright filament: 2.1 A at 12.8 V (trade table, from memory), so 2.1 (13.5/12.8)^0.55 = 2.16 A at 13.5 V. The
    # flasher feeds one rear and one front filament, the brake switch the rear one of the other side. The way there is
    # 6 m of 1 mm2 at 19.5 mohm/m, contacts and earth 0.05 ohm each: 0.217 ohm. V = 13.5 - 0.217 * 4.32 (V/13.5)^0.55 is
    # 12.60 V, and 13.04 V with one.
    two, one = 2 * 2.1 * (12.60 / 12.8) ** 0.55, 2.1 * (13.04 / 12.8) ** 0.55
    said = report_of(saloon, "turn")["circuit_report.braking_while_turning"].values
    assert said["by_flasher"][0] == pytest.approx(two, rel=0.01)
    assert said["by_feed"][0] == pytest.approx(one, rel=0.01)
    # Of LEDs of 4.6 W and 5 W at 13.5 V: 9.6 W and 4.6 W, a little less at 13.35 V.
    assert said["by_flasher"][1] == pytest.approx(9.6 / 13.5, rel=0.03)
    assert said["by_feed"][1] == pytest.approx(4.6 / 13.5, rel=0.03) and said["feed"] == "stop"
    stop = next(found for found in saloon.circuits if found.circuit.name == "stop")
    assert stop.lamps == ("Stop left", "Stop right"), "both sides burn when one only brakes"


def test_stop_and_turn_on_one_circuit_count_once(tmp_path: Path) -> None:
    wired = write(tmp_path, REAR.replace('circuit = "stop"', 'circuit = "turn"'))
    (turn,) = (found for found in circuit_reports.report(wired, {}) if found.circuit.name == "turn")
    assert turn.lamps == ("Rear turn left",), "of one filament the function that flashes stands for it"
    assert turn.change is not None and turn.change.current[0] == pytest.approx(2.1, rel=0.05)


def test_the_strictest_limit_holds(tmp_path: Path) -> None:
    # UN of about 1978 (from memory): stop 40 to 100 cd, rear turn 50 to 200 cd. One light source: 50 to 100 cd.
    read = REAR.replace('function = "stop"', 'function = "stop"\nleft = { intensity_cd = 62 }')
    made = plan.make(write(tmp_path, read, rules="UN", year=1978, bright=350), draws=400)
    told = {name: made.intensities[name] for name in ("Stop left", "Rear turn left")}
    for found in told.values():
        words = lamp_findings.candela_words(found, 0, None)
        asked = words.values["asked"].values
        assert (asked["low"], asked["high"]) == (50, 100) and sorted(asked["of"]) == ["rear turn", "stop"]
        # What was read of it in one function is read in the other.
        assert words.key == "page.text.axis_read" and words.values["old"] == pytest.approx(62, rel=0.03)
    # Red is no colour of a rear turn lamp then, and so the light source serves neither function.
    against = made.choice.refused["Stop right"]["red pair"][Family.HOLDER]
    assert (against.key, against.values["lamp"]) == ("refused.one_source", "Rear turn right")
    assert made.choice.look_for["Stop right"] == say(
        "look_for.other_lens", lamp="Rear turn right", lens="red", colours=["amber"]
    )
    older = plan.make(write(tmp_path, REAR, rules="UN", year=1959), draws=400)
    assert older.fitted("Stop left") is not None, "in years that allowed red the same lamp can be converted"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('function = "rear turn"\nlens = "red"', 'function = "rear turn"\nlens = "amber"', "lens"),
        ('function = "rear turn"', 'function = "stop"', "function"),
        ('candidates = ["red pair"]', 'candidates = ["white pair"]', "candidates"),
        ('holder = "rear holder"\ncircuit = "stop"', 'holder = "rear"\ncircuit = "stop"', "holder"),
    ],
)
def test_one_filament_of_which_two_things_are_said(old: str, new: str, key: str, tmp_path: Path) -> None:
    assert REAR.count(old) >= 1
    with pytest.raises(InputError) as error:
        write(tmp_path, REAR.replace(old, new, 1))
    assert all(fault.line is not None for fault in error.value.faults)
    assert {key} == {words.split(" of ")[0] for words in (str(fault.key) for fault in error.value.faults)}


# --- two filaments, park and turn ------------------------------------------------------------


def test_american_park_and_turn_are_amber_together(saloon: Plan) -> None:
    # Tables I-a and XIV: the parking lamp may be white or amber, the front turn lamp is amber: one article does both.
    for name, article in (("Front turn left", "amber pair"), ("Parking left", "amber pair dim")):
        assert saloon.fitted(name).name == article  # type: ignore[union-attr]
        result = saloon.result(name)
        assert result is not None and result.colour is not None and result.colour.inside
    parking = saloon.result("Parking left")
    assert parking is not None and parking.other_limit is not None and parking.other_limit.colour == "amber"
    white = saloon.choice.refused["Front turn left"]["white pair"]
    assert next(iter(white)) is Family.COLOUR, "the colour is told before the light"


@pytest.mark.parametrize("rules", ["US", "UN"])
def test_white_behind_a_clear_lens_is_answered_with_amber(rules: str, tmp_path: Path) -> None:
    made = plan.make(write(tmp_path, front(["white pair"]), rules=rules, year=1985), draws=400)
    said = made.choice.look_for["Front turn left"].values
    levels = said["lumens"].values
    assert (levels["bright_lamp"], levels["dim_lamp"]) == ("Front turn left", "Parking left")
    if rules == "US":
        what = said["what"].values
        assert (what["colour"], what["kind"].values["like"], what["may"]) == ("amber", None, ["Parking left"]) and what[
            "levels"
        ]
        assert what["kind"].values["peak"] is None or 588 < what["kind"].values["peak"] < 595, (
            "of the amber LEDs few lie inside the limit for sure"
        )
        # S7.1.1.12: at least five times the parking lamp, with room for the two claims.
        assert levels["bright"] >= 5 * levels["most"] and levels["dim"] < levels["most"]
    else:
        shown = [(one.values["colour"], one.values["lamp"]) for one in said["what"].values["shown"]]
        assert shown == [("amber", "Front turn left"), ("white", "Parking left")] and levels["most"] is None
    assert said["bulb"] == say("look_for.coloured_bulb", lamp="Front turn left", colour="amber")
    assert made.choice.look_for["Parking left"] == say("look_for.same_article", lamp="Front turn left")
    # 482 lm of the filament (1157 at 13.5 V) through the same lens: an LED that kept its claim would need as many.
    assert levels["bright"] > made.vehicle.lamps[0].filament.luminous_flux


def test_the_lumens_that_are_asked_for_would_do(tmp_path: Path) -> None:
    def car(stop: int, tail: int) -> Plan:
        return plan.make(write(tmp_path, REAR, bright=stop, dim=tail, flasher="load-independent"), draws=400)

    weak = car(90, 9)
    assert weak.fitted("Stop left") is None and weak.fitted("Tail left") is None
    said = weak.choice.look_for["Stop left"].values
    assert said["what"].values["kind"].values["like"] == "red pair" and weak.choice.look_for[
        "Rear turn left"
    ].key.endswith("article")
    asked = said["lumens"].values
    enough = car(int(np.ceil(1.01 * asked["bright"])), int(np.ceil(1.01 * asked["dim"])))
    assert enough.fitted("Stop left") is not None and enough.fitted("Tail left") is not None
    less = car(int(0.9 * asked["bright"]), int(0.9 * asked["dim"]))
    assert less.fitted("Tail left") is None


# --- stop over tail ------------------------------------------------------------

LORRY = (
    """
[vehicle]
name = "Invented lorry"
supply_voltage_V = 24
year = 1985

"""
    + source("red bright", "claimed_lumens_lm = {bright}", colour="red", power_W=3, price=5)
    + source("red small", "claimed_lumens_lm = {small}", colour="red", power_W=1, price=3)
    + vehicle_text.lamp("Stop", "stop", "red", "P21W", ["red bright"], position="rear left")
    + vehicle_text.lamp("Tail", "tail", "red", "R10W", ["red small"], position="rear left")
)


def lorry(folder: Path, bright: float, small: float) -> Plan:
    return plan.make(loaded(folder, LORRY.format(bright=bright, small=small)), draws=2000)


def test_what_the_filaments_give_is_what_the_optics_were_built_for(tmp_path: Path) -> None:
    # R37: P21W 460 lm, R10W 125 lm, so 3.7: what makes it 5 at the test points is the optics, and they stay.
    made = lorry(tmp_path, 500, 70)
    own = made.assessments[0].old.draws["flux"] / made.assessments[1].old.draws["flux"]
    assert 3 < np.median(own) < 460 / 125, "the cooler filament of the tail lamp passes a red lens a little better"
    np.testing.assert_allclose(suitability.needed_over_tail(*made.assessments, 5.0), np.minimum(own, 5.0))
    assert made.fitted("Stop") is not None and made.fitted("Tail") is not None


def test_a_tail_lamp_that_is_too_bright_is_told_its_most(tmp_path: Path) -> None:
    made = lorry(tmp_path, 250, 120)
    (held,) = {name for name, offer in (("Stop", made.fitted("Stop")), ("Tail", made.fitted("Tail"))) if offer is None}
    said = made.choice.look_for[held]
    assert said.key == "look_for.dimmer_tail" and said.values["lumens"] == (460, 125)
    assert 0 < said.values["most"] < 120
    # A tail light source of that many lumens fits beside the stop light source, if it is bright enough itself.
    better = lorry(tmp_path, 250, 0.98 * said.values["most"])
    chance = suitability.chance_over_tail(*better.assessments, 0, 0, 5.0, ({}, {}))
    assert chance >= 0.9 > suitability.chance_over_tail(*made.assessments, 0, 0, 5.0, ({}, {}))


# --- a trailer, a wide vehicle, a spot ------------------------------------------------------------


def test_a_trailer_loads_flasher_and_fuse(tmp_path: Path) -> None:
    plain = plan.make(write(tmp_path / "a", REAR, flasher="load-independent", fuse=5), draws=200)
    towing = plan.make(
        write(tmp_path / "b", REAR, flasher="load-independent", fuse=5, trailer="trailer_W = 27"), draws=200
    )
    assert "circuit_report.trailer" not in report_of(plain, "turn")
    said = report_of(towing, "turn")["circuit_report.trailer"].values
    # 27 W at 13.5 V are 2.0 A beside the 2.16 A of one filament. Through 0.217 ohm 13.5 - 0.217 * 4.16 (V/13.5)^0.55 is
    # 12.63 V: 4.01 A, 1.89 A more than one alone at 13.04 V. An LED of 4.6 W, 0.34 A or a little less, and 1.96 A.
    assert said["added"] == pytest.approx(1.89, abs=0.01) and said["amperes"][0] == pytest.approx(4.01, rel=0.005)
    assert said["amperes"][1] == pytest.approx(2.30, rel=0.02) and said["over"] == ""
    loads = [next(one for one in made.circuits if one.circuit.name == "turn").change for made in (plain, towing)]
    assert all(change is not None for change in loads)
    small = plan.make(
        write(tmp_path / "c", REAR, flasher="load-independent", fuse=2, trailer="trailer_W = 27"), draws=200
    )
    assert report_of(small, "turn")["circuit_report.trailer"].values["over"] == "fuse"


def test_a_series_flasher_made_for_two_lamps_flashes_faster_with_a_trailer(tmp_path: Path) -> None:
    wired = write(tmp_path, REAR + front(["amber pair"]), trailer="trailer_W = 27\nflasher_rated_load_W = 54")
    (turn,) = (one for one in circuit_reports.report(wired, {}) if one.circuit.name == "turn")
    (told,) = (words for words in turn.words if words.key == "circuit_report.trailer_flasher")
    alone = next(words for words in turn.words if words.key == "circuit_report.with_filaments").values["state"]
    assert told.values["before"].values["rate"] > alone.values["rate"] and told.values["after"] is None


@pytest.mark.parametrize(
    ("more", "trailer", "exempt"),
    [("", "", False), ("width_m = 2.031", "", False), ("width_m = 2.032", "", True), ("", "trailer_W = 21", True)],
)
def test_who_may_hide_a_dead_lamp(more: str, trailer: str, exempt: bool, tmp_path: Path) -> None:
    """FMVSS 108, S9.3.6: vehicles of 80 in (2032 mm) and more, and those equipped to tow."""
    made = plan.make(write(tmp_path, REAR, more=more, trailer=trailer), draws=200)
    assert made.vehicle.wide is (more == "width_m = 2.032")
    assert report_of(made, "turn")["circuit_report.dead_lamp"].values["exempt"] is exempt


@pytest.mark.parametrize(("more", "width", "least"), [("", "", 5000), ("", "width_m = 2.4", 7500)])
@pytest.mark.parametrize("lit", [None, 1257.0, 8000.0])
def test_a_spot_may_miss_the_lit_area_whatever_its_candela(
    more: str, width: str, least: float, lit: float | None, tmp_path: Path
) -> None:
    """FMVSS 108, S6.4.1, table IV-a: stop and rear turn 5000 mm2, 7500 mm2 on a vehicle of 2032 mm or more."""
    lit_area = "" if lit is None else f"lit_area_mm2 = {lit}"
    lamps = REAR.replace('candidates = ["red pair"]', f'candidates = ["red pair"]\n{lit_area}', 1)
    found = findings_of(plan.make(write(tmp_path, lamps, more=width), draws=200))
    stop = next(group for group in found.groups if group.lamp.function == "stop")
    (told,) = (one.words for one in stop.cautions if one.heading.key == "page.caution.lit_area")
    assert isinstance(told, Statement) and (told.values["least"], told.values["lit"]) == (least, lit)
    assert ("fewer than" in str(told)) is (lit == 1257.0)
    tail = next(group for group in found.groups if group.lamp.function == "tail")
    assert all(one.heading.key != "page.caution.lit_area" for one in tail.cautions), "the table asks for none"
    assert candela_of(stop) and advice.article_of(found.plan.vehicle.lamps, 0).dim
    assert socket_voltages.side_of(stop.members[0].lamp) == "left"
    assert published.rule_set("US").wide_from == 2.032
