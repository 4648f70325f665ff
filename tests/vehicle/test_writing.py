"""Changing a vehicle file: what was not touched stays, byte for byte, and nothing is ever half written."""

import shutil
import stat
import tomllib
from pathlib import Path

import pytest

from lampkit import tables, vehicle, written_files
from lampkit.errors import InputError

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
