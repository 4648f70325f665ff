"""The vehicle file on disk: what was not touched stays byte for byte, nothing is half written, starters are copied."""

import shutil
import stat
import tomllib
from pathlib import Path

import pytest

from lampkit import cli, tables, vehicle, written_files
from lampkit.conversion.suggestion import Verdict
from lampkit.errors import InputError
from lampkit.page import job_sheet_text
from lampkit.plan import plan
from lampkit.vehicle import file

DEMO = tables.folder() / "library_van"
ODD = """\
# mine\t
lamp = [ { name="Stop", 'function' = "stop", lens = "red", filament = '''P21W''', candidates = [ # one
   "LED", ] } ]

[vehicle]   # the van
supply_voltage_V = 1_2
name    = 'Grüße "von" mir'
note = \"\"\"
  two \\
  lines
[[lamp]]
\"\"\"
[[light_source]]
colour="red"
claimed_lumens_lm = 1.20e2
  name="LED"
"""


@pytest.fixture
def van(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "van")) / "vehicle.toml"


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["Unix", "Windows"])
def test_what_was_not_changed_stays_byte_for_byte(van: Path, ends: str, mark: bytes) -> None:
    odd = ODD.replace("\n", ends)
    demo = van.read_text(encoding="utf-8").replace("\n", ends)
    for text in (odd, demo):
        raw = mark + text.encode()
        van.write_bytes(raw)
        vehicle.write(van.parent, vehicle.document(van.parent))
        assert van.read_bytes() == raw


def test_a_change_touches_its_own_line_only(van: Path) -> None:
    van.chmod(0o640)
    before = van.read_text(encoding="utf-8").splitlines()
    held = vehicle.document(van)
    held["vehicle"]["budget"] = 155.5
    next(one for one in held["light_source"] if one["name"] == "white LED F")["claimed_lumens_lm"] = 95
    held["lamp"][0]["left"]["intensity_cd"] = 70
    made = vehicle.write(van, held)
    assert made.budget == 155.5 and made.lamps[0].intensity == 70
    after = van.read_text(encoding="utf-8").splitlines()
    changed = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert [(old.split(" = ")[0], new.split(" = ")[0]) for old, new in changed] == [
        ("budget", "budget"),
        ("claimed_lumens_lm", "claimed_lumens_lm"),
        ("left", "left"),
    ]
    assert stat.S_IMODE(van.stat().st_mode) == 0o640
    assert vehicle.load(van).budget == 155.5


def test_a_document_that_cannot_be_used_is_refused_and_nothing_is_touched(van: Path) -> None:
    before = {path: path.read_bytes() for path in van.parent.iterdir()}
    held = vehicle.document(van)
    held["vehicle"]["supply_voltage_V"] = 13
    del held["lamp"][1]["filament"]
    with pytest.raises(InputError) as caught:
        vehicle.write(van, held)
    assert len(caught.value.faults) == 2
    assert {path: path.read_bytes() for path in van.parent.iterdir()} == before


def test_a_write_that_fails_half_way_leaves_the_old_file(van: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = van.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(written_files.os, "replace", full)
    with pytest.raises(InputError, match=r"the vehicle file cannot be written \(No space left on device\)"):
        vehicle.write(van, vehicle.document(van))
    assert van.read_bytes() == before
    assert not list(van.parent.glob(".*"))


def test_a_new_file_is_written_from_plain_values(tmp_path: Path) -> None:
    lamp = {"name": "Stop", "function": "stop", "lens": "red", "filament": "P21W", "candidates": ["LED"]}
    source = {"name": "LED", "colour": "red", "claimed_lumens_lm": 120}
    plain = {"vehicle": {"name": "x", "supply_voltage_V": 12}, "light_source": [source], "lamp": [lamp]}
    assert vehicle.write(tmp_path, plain).lamps[0].name == "Stop"
    assert tomllib.loads((tmp_path / "vehicle.toml").read_text(encoding="utf-8")) == plain


def test_only_a_vehicle_file_is_written(van: Path) -> None:
    held = vehicle.document(van)
    for place, words in (
        (van.parent / "readings.csv", "this is not a vehicle"),
        (van.parent / "new.csv", "the name of a vehicle file ends in .toml"),
        (van.parent / "nowhere" / "vehicle.toml", "nowhere: there is no such folder"),
    ):
        with pytest.raises(InputError, match=words):
            vehicle.write(place, held)


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
    assert cli.main(["new"]) == 0
    shown = capsys.readouterr().out
    assert all(f"  {like}: " in shown for like in ASKED_FOR)
    assert not (tmp_path / "mine").exists()
    assert cli.main(["new", str(tmp_path / "mine"), "--like", "trailer"]) == 0
    assert str(tmp_path / "mine" / "vehicle.toml") in capsys.readouterr().out
    assert cli.main(["new", str(tmp_path / "mine"), "--like", "trailer"]) == 2
    error = capsys.readouterr().err
    assert "stays as it is" in error and len(error.splitlines()) == 1
