"""A vehicle file that is changed key by key: what was not changed stays, the old file stays beside, and it loads."""

import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lampkit import tables, vehicle
from lampkit.errors import InputError
from lampkit.vehicle import draft as drafts
from lampkit.vehicle import file
from lampkit.vehicle.draft import Change, Draft

ROOT = Path(__file__).resolve().parents[2]
DEMO = tables.folder() / "library_van"
WRITTEN = [DEMO, *sorted(path for path in (ROOT / "tests" / "vehicles").iterdir() if path.is_dir())]

COMMENT = st.sampled_from(
    ["", "", "", "# mine", "# [[lamp]] is a heading, # and this is none", "#", "   ", "\t# 'open"]
)
SPACE = st.sampled_from(["", " ", "  "])
REMARK = st.sampled_from(["", "", " # as found", '  # "not" sure = yes'])
WORDS = st.sampled_from(['"red LED"', "'red LED'", '"""red LED"""'])
LIST = st.sampled_from(['["red LED"]', "[ 'red LED', ]", '[ # what fits\n  "red LED", # the one\n]', '[\n\n"red LED"]'])
NOTE = st.sampled_from(['"plain"', '"""\ntwo # lines\n[[lamp]]\nname = 3\n"""', "'''\nit's\n'''"])
SIDE = st.sampled_from(["{ intensity_cd = 62 }", "{intensity_cd=62.0}"])


@st.composite
def hand_written(draw: st.DrawFn) -> str:
    """A whole vehicle file as people lay it out: any order of keys, any spaces, comments anywhere, either line end."""

    def section(heading: str, keys: list[tuple[str, Any]]) -> list[str]:
        lines = [draw(COMMENT), f"{heading}{draw(REMARK)}"]
        for key, value in draw(st.permutations(keys)):
            word = draw(value) if isinstance(value, st.SearchStrategy) else value
            lines += [f"{draw(SPACE)}{key}{draw(SPACE)}={draw(SPACE)}{word}{draw(REMARK)}", draw(COMMENT)]
        return lines

    head = [("name", '"My van"'), ("supply_voltage_V", "12"), ("year", "1_964"), ("note", NOTE)]
    source = [("name", WORDS), ("colour", "'red'"), ("claimed_lumens_lm", "1.20e2"), ("base", '"BAY15d"')]
    sides = [("sides", '["left","right"]'), ("left", SIDE)]
    lamp = [("name", '"Stop"'), ("function", '"stop"'), ("lens", '"red"'), ("filament", '"P21W"'), ("candidates", LIST)]
    other = [("name", '"Tail"'), ("function", '"tail"'), ("lens", '"red"'), ("filament", '"R5W"'), ("candidates", LIST)]
    parts = [
        section("[vehicle]", head),
        section("[[light_source]]", source),
        section("[[circuit]]", [("name", '"rear"'), ("fuse_A", "8")]),
        section("[[lamp]]", [*lamp, *sides]) + section(" [[ lamp ]]", other),
    ]
    lines = [line for part in draw(st.permutations(parts)) for line in part] + [draw(COMMENT)]
    end = draw(st.sampled_from(["\n", "\r\n"]))
    text = "\n".join(lines) + draw(st.sampled_from(["", "\n", "\n\n"]))
    return text.replace("\n", end)


def opened(folder: Path, text: str) -> Draft:
    folder.mkdir(exist_ok=True)
    (folder / file.NAME).write_bytes(text.encode())
    return Draft(folder)


def cut(old: str, new: str) -> tuple[list[str], list[str]]:
    """The lines that one text has and the other has not, all in one place: where both begin and end alike, they are."""
    assert len({text.count("\r\n") == text.count("\n") for text in (old, new)}) == 1, "other line ends"
    one, other = old.split("\n"), new.split("\n")
    begin = 0
    while begin < min(len(one), len(other)) and one[begin] == other[begin]:
        begin += 1
    end = 0
    while end < min(len(one), len(other)) - begin and one[-1 - end] == other[-1 - end]:
        end += 1
    return one[begin : len(one) - end], other[begin : len(other) - end]


FREE = settings(max_examples=75, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@FREE
@given(text=hand_written(), marked=st.booleans())
def test_three_saves_leave_a_file_as_it_was(text: str, marked: bool, tmp_path: Path) -> None:
    raw = (b"\xef\xbb\xbf" if marked else b"") + text.encode()
    (tmp_path / file.NAME).write_bytes(raw)
    for _ in range(3):
        draft = Draft(tmp_path)
        draft.put(Change("vehicle", 0, "name", "My van"), Change("lamp", 1, "filament", "R5W"))
        assert not draft.faults()
        assert not draft.save()
        assert (tmp_path / file.NAME).read_bytes() == raw
        assert not draft.kept.exists()


VALUES = st.sampled_from(
    [
        ("vehicle", 0, "name", 'Bea\'s "van"'), ("vehicle", 0, "year", 1971), ("vehicle", 0, "note", "one\ntwo"),
        ("light_source", 0, "claimed_lumens_lm", 130.5), ("light_source", 0, "base", "BA15s"),
        ("circuit", 0, "fuse_A", 16), ("lamp", 0, "filament", "P21/5W"), ("lamp", 1, "lens", "amber"),
        ("lamp", 0, "left", {"intensity_cd": 70}), ("lamp", 1, "candidates", ["red LED", "other"]),
    ]
)  # fmt: skip


@FREE
@given(text=hand_written(), change=VALUES)
def test_a_key_that_is_changed_changes_its_own_lines_only(
    text: str, change: tuple[str, int, str, Any], tmp_path: Path
) -> None:
    draft = opened(tmp_path, text)
    section, number, key, value = change
    lines = text.split("\n")
    first = file.lines_of_keys(text)[section, number][key]
    own = lines[first - 1 : file.last_line(lines, first)]
    draft.put(Change(*change))
    gone, new = cut(text, draft.text)
    assert len(gone) <= len(own) and set(gone) <= set(own)
    assert all(line.rstrip("\r") in {part.rstrip("\r") for part in own} for line in gone)
    assert not any(re.match(r"\s*\[\[?\s*\w+\s*\]", line) for line in new)
    entry = draft.entries(section)[number]
    assert entry[key] == value
    assert isinstance(value, str) or text.count("#") == draft.text.count("#"), "a remark is lost"
    assert draft.undo() and draft.text == text


@FREE
@given(
    text=hand_written(),
    where=st.sampled_from(
        [
            ("vehicle", 0, "earth", "positive"),
            ("light_source", 0, "price", 6.5),
            ("lamp", 0, "quantity", 2),
            ("lamp", 1, "note", 'a "b"'),
            ("circuit", 0, "also_feeds", ["horn"]),
            ("lamp", 0, "right", {"note": "x"}),
        ]
    ),
)
def test_a_key_that_is_new_is_one_line_more(text: str, where: tuple[str, int, str, Any], tmp_path: Path) -> None:
    draft = opened(tmp_path, text)
    before = draft.entries(where[0])[where[1]]
    draft.put(Change(*where))
    gone, new = cut(text, draft.text)
    assert not [line for line in gone if line.strip()]
    assert len([line for line in new if line.strip()]) == 1
    assert draft.entries(where[0])[where[1]] == {**before, where[2]: where[3]}
    draft.put(Change(*where[:3], None))
    assert draft.entries(where[0])[where[1]] == before
    assert draft.text.rstrip() == text.rstrip()


@FREE
@given(text=hand_written(), section=st.sampled_from(["light_source", "circuit", "lens", "part", "lamp"]))
def test_an_entry_that_is_new_is_a_block_and_goes_again(text: str, section: str, tmp_path: Path) -> None:
    draft = opened(tmp_path, text)
    before = tomllib.loads(text)
    number = draft.add(section, {"name": "new one", "note": "two\nlines"})
    gone, new = cut(text, draft.text)
    assert not [line for line in gone if line.strip()]
    assert any(line.strip() == f"[[{section}]]" for line in new)
    assert draft.entries(section)[number] == {"name": "new one", "note": "two\nlines"}
    draft.remove(section, number)
    assert tomllib.loads(draft.text) == before
    assert [line for line in draft.text.split("\n") if line.strip()] == [n for n in text.split("\n") if n.strip()]


@pytest.mark.parametrize("folder", WRITTEN, ids=lambda path: path.name)
def test_every_vehicle_is_opened_changed_and_saved(folder: Path, tmp_path: Path) -> None:
    place = Path(shutil.copytree(folder, tmp_path / folder.name))
    raw = (place / file.NAME).read_bytes()
    for _ in range(3):
        assert not Draft(place).save()
    assert (place / file.NAME).read_bytes() == raw
    draft = Draft(place)
    old = draft.names("light_source")[0]
    draft.rename("light_source", 0, "quite another name")
    assert not draft.faults()
    assert f'"{old}"' not in draft.text.replace(f'dim_level_of = "{old}', "")
    draft.put(Change("vehicle", 0, "year", 1955))
    assert draft.save() and draft.kept.read_bytes() == raw
    assert vehicle.load(place).year == 1955
    draft.restore()
    assert (place / file.NAME).read_bytes() == raw
    draft.restore()
    assert vehicle.load(place).year == 1955


HEAD = (Change("vehicle", 0, "name", "New"), Change("vehicle", 0, "supply_voltage_V", 12))


def test_a_vehicle_from_nothing(tmp_path: Path) -> None:
    draft = Draft(tmp_path / "new")
    assert draft.faults() and not draft.changed
    draft.put(*HEAD)
    draft.add_offer(
        {"name": "red A", "colour": "red", "claimed_lumens_lm": 120, "base": "BAY15d", "price": 6}, dim_lumens=12
    )
    draft.add_offer({"name": "white A", "cct_K": 4000, "claimed_lumens_lm": 80})
    draft.add_offer({"name": "amber A", "colour": "amber", "claimed_lumens_lm": 200, "base": "BA15s"})
    common = {"sides": ["left", "right"], "position": "rear", "filament": "P21/5W", "holder": "rear holder"}
    draft.add_lamp({"name": "Stop", "function": "stop", "lens": "red", "filament_part": "major", **common})
    draft.add_lamp({"name": "Tail", "function": "tail", "lens": "red", "filament_part": "minor", **common})
    draft.add_lamp({"name": "Plate", "function": "number plate", "lens": "clear", "filament": "R5W"})
    draft.add_lamp({"name": "Turn", "function": "front turn", "lens": "amber", "filament": "P21W"})
    offered = {lamp["name"]: lamp["candidates"] for lamp in draft.entries("lamp")}
    assert offered == {
        "Stop": ["red A", "white A"],
        "Tail": ["red A dim"],
        "Plate": ["white A"],
        "Turn": ["white A", "amber A"],
    }
    assert draft.save()
    made = vehicle.load(tmp_path / "new")
    assert [lamp.name for lamp in made.lamps][:2] == ["Stop left", "Stop right"]
    # One that comes later is offered to every lamp that it fits, and one that goes is offered nowhere.
    draft.add_offer({"name": "white B", "cct_K": 6000, "claimed_lumens_lm": 300, "base": "ba15s"})
    assert [lamp["name"] for lamp in draft.entries("lamp") if "white B" in lamp["candidates"]] == ["Plate", "Turn"]
    draft.remove("light_source", draft.names("light_source").index("white B"))
    assert "white B" not in draft.text
    assert not draft.faults()


def test_what_is_not_told_is_listed_with_what_is_assumed(tmp_path: Path) -> None:
    draft = Draft(tmp_path)
    draft.put(*HEAD)
    told = {one.key: one.assumed for one in draft.not_told("vehicle", 0)}
    assert told["earth"].startswith("unknown: taken as negative") and "year" in told and "name" not in told
    draft.put(Change("vehicle", 0, "earth", "positive"))
    assert "earth" not in {one.key for one in draft.not_told("vehicle", 0)}


def test_a_file_with_faults_is_opened_and_not_lost(tmp_path: Path) -> None:
    text = '# mine\n[vehicle]\nname = "x"\nsupply_voltage_V = 13\n\n[[lamp]]\nname = "a"\nfunction = "stpo"\n'
    draft = opened(tmp_path, text)
    assert str(draft.faults()[0].key).startswith("supply_voltage_V")
    assert len(draft.faults()) == len(draft.faults_of("vehicle", 0)) + len(draft.faults_of("lamp", 0))
    assert all(fault.line is None for fault in draft.faults_of("lamp", 0))
    draft.put(Change("vehicle", 0, "supply_voltage_V", 12))
    assert draft.save()
    assert (tmp_path / drafts.KEPT).read_text() == text
    assert (tmp_path / file.NAME).read_text() == text.replace("= 13", "= 12")


def test_what_is_no_toml_is_refused_and_not_touched(tmp_path: Path) -> None:
    text = "[vehicle\nname = 3\n"
    with pytest.raises(InputError, match="line 1"):
        opened(tmp_path, text)
    assert (tmp_path / file.NAME).read_text() == text


def test_a_file_that_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    draft = opened(tmp_path, (DEMO / file.NAME).read_text(encoding="utf-8"))
    draft.put(Change("vehicle", 0, "year", 1970))
    (tmp_path / file.NAME).write_text("# by another editor\n")
    with pytest.raises(InputError, match="changed by something else"):
        draft.save()
    assert (tmp_path / file.NAME).read_text() == "# by another editor\n"
    assert not draft.kept.exists()
    with pytest.raises(InputError, match="no older file"):
        draft.restore()


@pytest.mark.parametrize("folder", WRITTEN, ids=lambda path: path.name)
def test_the_two_sides_of_a_lamp_are_told_apart_and_say_what_they_said(folder: Path, tmp_path: Path) -> None:
    """The vehicle is the same lamp for lamp, all other lines of the file stay, and one step takes it back."""
    place = Path(shutil.copytree(folder, tmp_path / folder.name))
    draft = Draft(place)
    before, text = {lamp.name: lamp for lamp in draft.made().lamps}, draft.text
    for number, lamp in enumerate(draft.entries("lamp")):
        if "sides" not in lamp:
            with pytest.raises(InputError, match="both sides"):
                draft.tell_apart(number)
            continue
        names = draft.tell_apart(number)
        assert names == [f"{lamp['name']} {side}" for side in ("left", "right")]
        assert not draft.faults()
        after = {one.name: one for one in draft.made().lamps}
        assert after.keys() == before.keys()
        for name in names:
            for key in ("function", "holder", "position", "circuit", "intensity", "socket_voltage"):
                assert getattr(after[name], key) == getattr(before[name], key), (name, key)
            assert after[name].filament.name == before[name].filament.name
            assert [o.name for o in after[name].candidates] == [o.name for o in before[name].candidates]
        first = file.lines_of_keys(text)["lamp", number][""]
        assert draft.text.split("\n")[: first - 1] == text.split("\n")[: first - 1]
        assert draft.undo() and draft.text == text and not draft.undo()
