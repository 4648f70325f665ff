"""A tail lamp that is too bright beside its stop lamp is told, and two levels of one article make the pair surer."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from vehicle_text import lamp, loaded, source

from lampkit import conversion, plan
from lampkit.lenses import coloured_lens
from lampkit.page import data, findings
from lampkit.plan import suitability
from lampkit.plan.plan import Plan
from lampkit.plan.suitability import Family, over_tail
from lampkit.sources import leds, light_source
from lampkit.sources.filament_lamps import filament

FILE = (
    """
[vehicle]
name = "van"
supply_voltage_V = 12

"""
    + source("modest", colour="red", claimed_lumens_lm=400, price=4)
    + source("little", colour="red", claimed_lumens_lm=40, price=3)
    + source("glaring", colour="red", claimed_lumens_lm=160, price=2)
    + lamp("Stop", "stop", "red", "P21W", ["modest"], position="rear left")
    + lamp("Tail", "tail", "red", "R5W", ["glaring", "little"], position="rear left")
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("pair")
    return plan.make(loaded(folder, FILE), draws=400)


def told(one: Plan) -> list[str]:
    return [watch.words.key for watch in findings.findings_of(one).watch if hasattr(watch.words, "key")]


def picked(one: Plan, **lamps: str) -> Plan:
    offers = {offer.name: offer for offer in one.vehicle.offers}
    return plan.pick(one, {name: offers[article] for name, article in lamps.items()})


def test_a_glaring_tail_lamp_is_not_chosen_though_it_is_cheaper_and_brighter(made: Plan) -> None:
    chosen = made.choice.chosen["Tail"]
    assert chosen is not None and chosen.name == "little"
    (pair,) = suitability.over_tails(made)
    assert not pair.too_bright and pair.chance >= 0.9
    assert "page.watch.tail_words" not in told(made)
    # The most light for money is no reason either.
    bright = plan.choose(made.vehicle, made.assessments, aim="most light").chosen["Tail"]
    assert bright is not None and bright.name == "little"


def test_one_that_is_picked_by_hand_is_told_as_an_error(made: Plan) -> None:
    glaring = picked(made, Tail="glaring", Stop="modest")
    (pair,) = suitability.over_tails(glaring)
    # Same lens, one colour, lumens of 400 and 160 on the boxes: 2.5 times, where five times is wanted.
    assert pair.ratio[1] == pytest.approx(400 / 160, rel=0.1)
    assert pair.too_bright and pair.chance < 0.05 and pair.wanted == 5.0
    assert "page.watch.tail_words" in told(glaring)
    (shown,) = data.plan_as_dict(glaring)["over_tail"]
    assert shown["too_bright"] is True and shown["tail"] == "Tail"
    words = next(w["sentence"] for w in data.plan_as_dict(glaring)["to_watch"] if "tail" in w["about"]["key"])
    assert words["values"]["tail"] == "Tail" and words["values"]["stop"] == "Stop"


def test_a_tail_lamp_beside_a_filament_that_stays_is_held_against_it(made: Plan) -> None:
    one = plan.pick(picked(made, Tail="glaring"), {"Stop": None})
    (pair,) = suitability.over_tails(one)
    old, tail = (found for found in made.assessments)
    expected = old.old.flux_through[1] / tail.results[0].flux_through[1]
    assert pair.ratio[1] == pytest.approx(expected, rel=0.1) and pair.too_bright


def test_two_filaments_are_how_the_vehicle_was_built(made: Plan) -> None:
    assert suitability.over_tails(plan.pick(made, {"Stop": None, "Tail": None})) == ()


def test_a_dim_level_that_is_too_bright_is_refused(tmp_path: Path) -> None:
    """Levels of 400 lm and 160 lm: two and a half times, whatever the box is worth."""
    text = FILE.replace('filament = "P21W"', 'filament = "P21/5W"\nfilament_part = "major"\nholder = "h"')
    text = text.replace('filament = "R5W"', 'filament = "P21/5W"\nfilament_part = "minor"\nholder = "h"')
    text = text.replace('name = "glaring"', 'name = "glaring"\ndim_level_of = "modest"')
    text = text.replace("price = 2\n", "").replace('candidates = ["glaring", "little"]', 'candidates = ["glaring"]')
    one = plan.make(loaded(tmp_path, text), draws=400)
    assert one.choice.chosen == {"Stop": None, "Tail": None}
    assert Family.STOP_OVER_TAIL in one.choice.refused["Tail"]["glaring"]


def test_two_levels_of_one_article_share_lens_emitter_and_claim() -> None:
    """The doubt of box, heat and lens cancels: what is left of stop over tail is heat of unequal watts."""
    lens = coloured_lens.load("red")
    bright = leds.coloured_led("red", luminous_flux=260, electrical_power=3.0, base="BAY15d", name="B")
    dim = leds.coloured_led("red", luminous_flux=22, electrical_power=0.3, base="BAY15d", name="B dim")
    old = filament("P21/5W", part="major"), filament("P21/5W", part="minor")
    spread, chance = {}, {}
    for case, low in (("apart", dim), ("one article", light_source.level_of(dim, "B"))):
        stop = conversion.assess(old[0], [bright], lens, function="stop", draws=4000)
        tail = conversion.assess(old[1], [low], lens, function="tail", draws=4000)
        ratios, _ = over_tail(stop, tail, 0, 0)
        spread[case], chance[case] = float(np.std(np.log(ratios))), float(np.mean(ratios >= 7.0))
    # Apart, each box is off by 0.2 and each LED warms by itself; the lens is one in both cases.
    heat = [next(b.spread for b in s.beliefs if b.name == "hot over cold light") for s in (bright, dim)]
    assert spread["apart"] == pytest.approx(np.sqrt(2 * 0.2**2 + heat[0] ** 2 + heat[1] ** 2), abs=0.03)
    assert spread["one article"] < 0.45 * spread["apart"]
    assert chance["one article"] > chance["apart"] + 0.1
    print(spread, chance)
    own = [replace(b, stream=None) for b in light_source.level_of(dim, "B").beliefs]
    assert tuple(own) == dim.beliefs
