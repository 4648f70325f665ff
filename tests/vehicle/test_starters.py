"""Vehicles to start from: each is a good report as it stands, says what to change, and touches nothing of anybody's."""

from pathlib import Path

import pytest

from lampkit import cli
from lampkit.conversion.suggestion import Verdict
from lampkit.errors import InputError
from lampkit.page import job_sheet_text
from lampkit.plan import plan
from lampkit.vehicle import file, vehicle

ASKED_FOR = {"two-wheeler", "small-saloon", "large-saloon", "van", "bus-or-lorry", "tractor", "trailer"}


def test_the_usual_layouts_are_there() -> None:
    known = file.starters()
    assert set(known) == ASKED_FOR
    assert all(len(told) > 20 and told[0].isupper() for told in known.values())


@pytest.mark.parametrize("like", sorted(ASKED_FOR - {"van"}))
def test_a_starter_gives_a_good_report_as_it_stands(like: str, tmp_path: Path) -> None:
    (begun,) = file.begin(tmp_path / "mine", like)
    text = begun.read_text(encoding="utf-8")
    assert text.count("# change") >= 4 and "invented" in text.splitlines()[2]
    held = vehicle.load(tmp_path / "mine")
    assert held.invented
    made = plan.make(held, draws=400)
    kept = [lamp.name for lamp in held.lamps if made.fitted(lamp.name) is None]
    assert not kept, "what is offered does"
    assert all(made.decision(lamp.name).verdict is not Verdict.KEEP for lamp in held.lamps)
    shown = job_sheet_text.report_text(made)
    assert held.name in shown and "nan" not in shown


def test_the_van_comes_with_its_curve_and_its_readings(tmp_path: Path) -> None:
    made = {path.name for path in file.begin(tmp_path / "van", "van")}
    assert {"vehicle.toml", "cie_led_b3.csv", "readings.csv"} <= made
    assert vehicle.load(tmp_path / "van").name == "Library van"


@pytest.mark.parametrize("name", ["vehicle.toml", "readings.csv"])
def test_what_stands_there_is_never_touched(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="stands there already"):
        file.begin(tmp_path, "van")
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_a_file_in_place_of_the_folder_and_a_name_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="this is a file"):
        file.begin(tmp_path / "mine", "van")
    with pytest.raises(InputError, match="no vehicle 'tank'"):
        file.begin(tmp_path / "tank", "tank")
    assert not (tmp_path / "tank").exists()


def test_the_command_lists_and_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", str(tmp_path / "mine")]) == 0
    shown = capsys.readouterr().out
    assert all(f"  {like}: " in shown for like in ASKED_FOR)
    assert not (tmp_path / "mine").exists()
    assert cli.main(["new", str(tmp_path / "mine"), "--like", "trailer"]) == 0
    assert str(tmp_path / "mine" / "vehicle.toml") in capsys.readouterr().out
    assert cli.main(["new", str(tmp_path / "mine"), "--like", "trailer"]) == 2
    error = capsys.readouterr().err
    assert "stays as it is" in error and len(error.splitlines()) == 1
