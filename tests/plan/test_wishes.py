"""What the owner asks: in the file, on the command line, and from a panel; and what it changes."""

import json
import tomllib
from pathlib import Path

import pytest
import tomlkit
from vehicle_text import BOTH, lamp, loaded, source

from lampkit import cli
from lampkit.errors import InputError
from lampkit.plan import plan
from lampkit.plan.suitability import Family
from lampkit.vehicle import vehicle

ROOT = Path(__file__).resolve().parent.parent

PAIR = (
    """
[vehicle]
name = "invented pair"
supply_voltage_V = 12
earth = "negative"
"""
    + source("strong red", colour="red", claimed_lumens_lm=400, power_W=4, price=9)
    + source("enough red", colour="red", claimed_lumens_lm=210, power_W=3, price=4)
    + lamp(
        "Stop lamp",
        "stop",
        "red",
        "P21W",
        ["strong red", "enough red"],
        'right = { candidates = ["strong red"] }',
        sides=BOTH,
        position="rear",
    )
)


def load(folder: Path, **wishes: object) -> vehicle.Vehicle:
    told = tomllib.loads(PAIR)
    told["vehicle"] |= wishes
    return loaded(folder, tomlkit.dumps(told))


def chosen(held: vehicle.Vehicle) -> list[str | None]:
    return [None if one is None else one.name for one in plan.make(held, draws=400).choice.chosen.values()]


def test_wishes_stand_in_the_file_and_a_panel_changes_them(tmp_path: Path) -> None:
    usual = load(tmp_path)
    assert (usual.asked.assurance, usual.asked.colour_share, usual.asked.alike) == (0.9, 0.9, True)
    told = load(
        tmp_path, assurance=0.6, colour_share=0.8, stop_over_tail=4, aim="most light", left_and_right_alike=False
    )
    asked = told.asked
    assert (asked.assurance, asked.colour_share, asked.stop_over_tail, asked.aim, asked.alike) == (
        0.6, 0.8, 4, "most light", False,
    )  # fmt: skip
    assert (
        vehicle.asking(usual, assurance=0.6, colour_share=0.8, stop_over_tail=4, aim="most light", alike=False).asked
        == asked
    )
    assert vehicle.asking(usual, budget=12.5).budget == 12.5


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        ({"assurance": 1.0}, "1 is above 0.99"),
        ({"assurance": float("nan")}, "not a finite number"),
        ({"colour_share": 0.2}, "0.2 is below 0.5"),
        ({"stop_over_tail": 0.5}, "0.5 is below 1"),
        ({"aim": "best"}, "'best' is unknown"),
        ({"budget": -1.0}, "-1 is below 0"),
    ],
)
def test_wishes_out_of_range_are_refused(wish: dict[str, object], told: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        vehicle.asking(load(tmp_path), **wish)  # type: ignore[arg-type]
    assert told in str(refused.value) and next(iter(wish)) in str(refused.value)


def test_left_and_right_alike_is_a_wish(tmp_path: Path) -> None:
    assert chosen(load(tmp_path)) == ["strong red", "strong red"]
    assert chosen(load(tmp_path, left_and_right_alike=False, assurance=0.8)) == ["enough red", "strong red"]


def test_less_assurance_fits_what_is_less_sure(tmp_path: Path) -> None:
    alone = {"left_and_right_alike": False, "budget": 20.0}
    sure = plan.make(load(tmp_path, assurance=0.99, **alone), draws=400)
    assert sure.choice.wishes.assurance == 0.99
    for made in (sure, plan.make(load(tmp_path, assurance=0.6, **alone), draws=400)):
        for one, found in zip(made.vehicle.lamps, made.assessments, strict=True):
            offer = made.fitted(one.name)
            if offer is not None:
                result = next(r for r in found.results if r.source.name == offer.name)
                assert round(100 * result.probability) >= round(100 * made.choice.wishes.assurance)
    # What is to be bought is told for the assurance that is asked for.
    low, high = (plan.make(load(tmp_path, assurance=a), draws=400).assessments[0].results[0] for a in (0.6, 0.95))
    assert low.lumens_to_buy < high.lumens_to_buy


def test_the_command_line_wins_over_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    load(tmp_path)
    told = []
    for more in ([], ["--assurance", "0.8", "--sides", "free"], ["--budget", "5"]):
        assert cli.main(["report", str(tmp_path), "--json", "--draws", "400", *more]) == 0
        shown = json.loads(capsys.readouterr().out)
        told.append(list(shown["choice"]["fitted"].values()))
    assert told[0] != told[1] and told[0] != told[2]
    assert cli.main(["report", str(tmp_path), "--assurance", "7"]) == 2
    assert "assurance: 7 is above 0.99" in capsys.readouterr().err


def test_the_filaments_multiple_is_told_where_it_is_the_measure() -> None:
    """R10W tail lamps beside P21W stop lamps: the filaments are 460/113 = 4.1 times as bright, and no five is asked."""
    made = plan.make(vehicle.load(ROOT / "vehicles" / "cheese_truck"), draws=200)
    said = made.choice.kept["Tail lamp left"]
    assert said.values["family"] is Family.STOP_OVER_TAIL
    assert said.values["against"].values["filaments"] == pytest.approx(460 / 113, rel=0.1)
    assert "5 times the tail light" not in str(said)
