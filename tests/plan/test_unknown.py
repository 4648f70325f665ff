"""What nobody tells never refuses a lamp: each unknown alone, and each beside every other."""

import itertools
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from vehicle_text import circuit, lamp, loaded, source

from lampkit.conversion.suggestion import Verdict
from lampkit.page import job_sheet_text
from lampkit.plan import plan, suitability
from lampkit.plan.plan import Plan
from lampkit.plan.suitability import Family
from lampkit.statements import Statement

TOLD = (
    """
[vehicle]
name = "invented cart"
supply_voltage_V = 12
earth = "negative"
"""
    + source(
        "red pair",
        colour="red",
        claimed_lumens_lm=400,
        power_W=3.5,
        base="BAY15d",
        layout="all-round",
        feed="regulated",
        either_polarity=True,
        beam_ratio=[0.8, 1.2],
        price=7,
    )
    + source("red pair dim", dim_level_of="red pair", colour="red", claimed_lumens_lm=40, power_W=0.4)
    + source(
        "small white",
        cct_K=4000,
        claimed_lumens_lm=150,
        power_W=1.4,
        base="BA9s",
        layout="all-round",
        feed="regulated",
        either_polarity=True,
        beam_ratio=[0.8, 1.2],
        price=3,
    )
    + circuit("lights", fuse_A=8, wire_length_m=6, wire_area_mm2=1)
    + lamp("Stop lamp", "stop", "red", "P21/5W", ["red pair"], filament_part="major", holder="rear", circuit="lights")
    + lamp(
        "Tail lamp", "tail", "red", "P21/5W", ["red pair dim"], filament_part="minor", holder="rear", circuit="lights"
    )
    + lamp("Side lamp", "front position", "clear", "T4W", ["small white"], circuit="lights")
)

UNKNOWN = {
    "price": "light_source",
    "claimed_lumens_lm": "light_source",
    "power_W": "light_source",
    "base": "light_source",
    "layout": "light_source",
    "feed": "light_source",
    "either_polarity": "light_source",
    "beam_ratio": "light_source",
    "earth": "vehicle",
    "fuse_A": "circuit",
    "wire_length_m": "circuit",
    "wire_area_mm2": "circuit",
}
"""What a file may leave out, and in which section."""

WEAKER = {Family.LIGHT, Family.STOP_OVER_TAIL, Family.HOLDER}
"""What an unknown may do: make the light less sure. Whether a lamp is then fitted is for the wishes to say."""


def without(*keys: str) -> str:
    told: dict[str, Any] = tomllib.loads(TOLD)
    for key in keys:
        sections = told[UNKNOWN[key]]
        for section in sections if isinstance(sections, list) else [sections]:
            section.pop(key, None)
    return tomlkit.dumps(told)


@cache
def planned(*keys: str, folder: Path) -> Plan:
    place = folder / ("_".join(keys) or "told")
    place.mkdir(exist_ok=True)
    return plan.make(loaded(place, without(*keys)), draws=200)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("carts")


def keys_of(said: object) -> set[str]:
    """The keys of a statement and of all inside it."""
    if isinstance(said, Statement):
        return {said.key}.union(*(keys_of(value) for value in said.values.values()))
    if isinstance(said, list | tuple):
        return set().union(*(keys_of(one) for one in said))
    return set()


def test_all_is_fitted_where_all_is_told(folder: Path) -> None:
    assert all(offer is not None for offer in planned(folder=folder).choice.chosen.values())


@pytest.mark.parametrize("keys", [*((k,) for k in UNKNOWN), *itertools.combinations(UNKNOWN, 2)], ids="+".join)
def test_what_is_not_told_refuses_nothing(keys: tuple[str, ...], folder: Path) -> None:
    made = planned(*keys, folder=folder)
    for name, refused in made.choice.refused.items():
        for against in refused.values():
            assert set(against) <= WEAKER, name
    for name, said in made.choice.kept.items():
        assert keys_of(said) & {"kept.nearest", "kept.family"}, "the best on offer is named"
        assert made.decision(name).verdict is Verdict.KEEP
    if not {"claimed_lumens_lm", "beam_ratio"} & set(keys):
        assert all(offer is not None for offer in made.choice.chosen.values()), "only the light is less sure"


TELLS = {
    "price": "notes.no_price",
    "base": "notes.no_base",
    "power_W": "notes.no_watts",
    "either_polarity": "notes.polarity",
    "earth": "notes.earth_unknown",
}


@pytest.mark.parametrize("key", TELLS)
def test_the_answer_says_what_it_would_change(key: str, folder: Path) -> None:
    assert TELLS[key] in {said.key for said in planned(key, folder=folder).choice.notes}
    assert TELLS[key] not in {said.key for said in planned(folder=folder).choice.notes}


def test_lumens_follow_from_the_watts_within_a_wide_interval(folder: Path) -> None:
    told, guessed = planned(folder=folder), planned("claimed_lumens_lm", folder=folder)
    for sure, unsure in zip(told.assessments, guessed.assessments, strict=True):
        one, other = sure.results[0], unsure.results[0]
        assert other.ratio[2] / other.ratio[0] > 1.5 * one.ratio[2] / one.ratio[0]
        # What to look for on a box does not get dearer because nobody told the lumens of this one.
        assert other.lumens_to_buy == pytest.approx(one.lumens_to_buy, rel=0.1)
        assert not other.source.claimed and other.claim_statement is None
    # 28 % of 3.5 W at about 200 lm/W of a red near 629 nm, an efficacy of radiation: 196 lm.
    assert 120 < guessed.assessments[0].results[0].source.luminous_flux < 300


def test_nothing_is_ever_refused_by_the_percent_that_is_asked_for() -> None:
    assert not suitability.short_of(0.896, 0.9)
    assert suitability.short_of(0.894, 0.9)
    assert not suitability.short_of(0.923, 0.925)


def test_pages_are_written_where_nothing_is_told(folder: Path) -> None:
    made = planned(*UNKNOWN, folder=folder)
    text = " ".join(job_sheet_text.report_text(made, full=True).split())
    assert "nan" not in text.split() and "None" not in text.split()
    sought = {str(words) for words in made.choice.look_for.values() if "Look for:" in str(words)}
    assert text.count("look for a") == len(sought), "what to look for is printed once"
