"""Your vehicle by clicking, without a browser: what is told stands in the file, and nothing half typed does."""

import re
import shutil
from pathlib import Path
from typing import Any

import pytest

import lampkit as lk
from lampkit.notebook import file_fields
from lampkit.notebook.lamp_form import lamp_at
from lampkit.notebook.vehicle_form import YourVehicle
from lampkit.vehicle import file, schema
from lampkit.vehicle.lamps import outlines, places


def place_of(outline: str, *does: str) -> Any:
    return next(one for one in places() if one.outline == outline and one.functions == does)


@pytest.fixture
def panel(tmp_path: Path) -> YourVehicle:
    made = YourVehicle(tmp_path / "mine")
    made.head["name"].control.value = "Club van"
    made.head["supply_voltage_V"].control.value = 12
    return made


def add_lamp(panel: YourVehicle, *does: str, **told: str) -> None:
    panel._begin_lamp(place_of("van or lorry", *does), "rear")
    if "filament" in told:
        panel.lamp.filament.search.value = told["filament"]
    panel.add_lamp.click()
    assert panel.lamp_message.value == ""


def add_offer(panel: YourVehicle, dim: str = "", **told: Any) -> None:
    panel.offer.kind.value = "coloured" if "colour" in told else "white"
    for key, value in told.items():
        panel.offer.fields[key].control.value = value
    panel.offer.dim.control.value = dim
    panel.entries["light_source"].add.click()
    assert panel.entries["light_source"].message.value == ""


def test_a_vehicle_from_nothing_loads_without_remark(panel: YourVehicle) -> None:
    add_lamp(panel, "stop", "tail")
    add_lamp(panel, "rear turn")
    add_lamp(panel, "number plate", filament="R5W")
    add_offer(panel, colour="red", claimed_lumens_lm="260", base="BAY15d", price="7,5", dim="24", either_polarity=True)
    add_offer(panel, cct_K="4000", claimed_lumens_lm="110 lm", power_W="1.2 W")
    assert not panel.faults.value
    assert "Not saved yet" in panel.status.value
    assert not panel.written.file.exists()
    panel.save.click()
    assert "As saved" in panel.status.value
    made = lk.vehicle.load(panel.written.file)
    assert [lamp.name for lamp in made.lamps] == [
        "Stop lamp left", "Stop lamp right", "Tail lamp left", "Tail lamp right", "Rear turn lamp left",
        "Rear turn lamp right", "Number plate lamp",
    ]  # fmt: skip
    assert [offer.name for offer in made.lamps[0].candidates] == ["red LED A", "white LED 4000 K A"]
    assert [offer.name for offer in made.lamps[2].candidates] == ["red LED A dim"]
    assert made.offers[0].price == 7.5 and made.offers[0].either_polarity is True
    assert made.offers[2].either_polarity is None


def test_labels_of_the_form_are_words_and_printed_units() -> None:
    fields = [
        file_fields.Field(section, key)
        for section, held in schema.sections().items()
        for key, rules in held["properties"].items()
        if rules.get("type") == "number" or key == "also_feeds"
    ]
    assert any("[mm²]" in one.label for one in fields) and any("a horn or a wiper" in one.label for one in fields)
    assert not [one.label for one in fields if re.search(r"mm2|[{}=]|\[\"", one.label)]
    area = next(one for one in fields if one.key == "wire_area_mm2")
    for typed in ("1.5", "1.5 mm2", "1,5 mm²"):
        area.control.value = typed
        assert area.value() == 1.5


def test_the_plan_is_that_of_the_command_and_is_made_anew_by_lamp(
    panel: YourVehicle, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_lamp(panel, "stop", "tail")
    add_lamp(panel, "number plate", filament="R5W")
    add_offer(panel, colour="red", claimed_lumens_lm="400", base="BAY15d", price="7", dim="60", either_polarity=True)
    panel.make.click()
    assert panel.plan_message.value == ""
    assert panel.planned is not None
    panel.save.click()
    straight = lk.plan.make(lk.vehicle.load(panel.written.file), draws=1000, seed=1)
    assert [str(a) for a in panel.planned.assessments] == [str(a) for a in straight.assessments]
    assert panel.planned.table().equals(straight.table())
    worked_out: list[str] = []
    real = lk.plan.plan.assess_lamps

    def counted(*given: Any, **told: Any) -> Any:
        worked_out.extend(lamp.name for lamp in told["lamps"])
        return real(*given, **told)

    monkeypatch.setattr("lampkit.notebook.vehicle_form.plan.assess_lamps", counted)
    panel.make.click()
    assert worked_out == []
    add_offer(panel, cct_K="4000", claimed_lumens_lm="110", base="BA15s", price="2")
    panel.make.click()
    assert worked_out == ["Number plate lamp"]
    assert "Number plate lamp" in panel.plan_rows.value


def test_nothing_half_typed_is_written(panel: YourVehicle) -> None:
    before = panel.written.text
    panel.offer.kind.value = "coloured"
    panel.offer.fields["claimed_lumens_lm"].control.value = "abc"
    panel.offer.fields["price"].control.value = "-3"
    panel.entries["light_source"].add.click()
    assert "is not a number" in panel.offer.fields["claimed_lumens_lm"].message.value
    assert "is below 0" in panel.offer.fields["price"].message.value
    assert panel.written.text == before
    panel.head["year"].control.value = "19x4"
    assert "is not a number" in panel.head["year"].message.value
    assert panel.written.text == before
    panel.head["year"].control.value = "1964"
    assert panel.head["year"].message.value == ""
    assert panel.written.entries("vehicle")[0]["year"] == 1964
    panel._begin_lamp(place_of("car", "stop", "tail"), "rear")
    panel.lamp.filament.search.value = "no such lamp"
    panel.add_lamp.click()
    assert "answers to" in panel.lamp.filament.message.value
    panel.lamp.filament.search.value = "P21W"
    panel.add_lamp.click()
    assert "has one filament" in panel.lamp.filament.message.value
    assert not panel.written.entries("lamp")


def test_a_lamp_is_found_by_watts_alone(panel: YourVehicle) -> None:
    picker = panel.lamp.filament
    picker.show("", 12.0, ("P21W",))
    assert picker.value() == "P21W"
    picker.search.value = "21/5"
    assert picker.value() == "P21/5W"
    picker.search.value = "3.7"
    assert picker.value() == "12V 3.7W"
    assert "not told" in picker.picture.value
    picker.search.value = "T4W"
    assert "BA9s" in picker.picture.value and "<svg" in picker.picture.value


def test_every_place_gives_a_lamp_that_loads(tmp_path: Path) -> None:
    for outline in outlines():
        panel = YourVehicle(tmp_path / outline)
        panel.head["name"].control.value = outline
        panel.head["supply_voltage_V"].control.value = 12
        panel.outline.kind.value = outline
        assert {place.outline for place, _, _ in panel.outline.buttons} == {outline}
        for place in (one for one in places() if one.outline == outline):
            panel._begin_lamp(place, place.view)
            if panel.lamp.number is None:
                if not place.often:
                    panel.add_lamp.click()
                    assert "no filament lamp is chosen" in panel.lamp.filament.message.value
                    panel.lamp.filament.search.value = "P21W"
                panel.add_lamp.click()
                assert panel.lamp_message.value == "", place
        assert panel.written.faults() == (), outline
        panel.save.click()
        assert YourVehicle(tmp_path / outline).outline.kind.value == outline
        made = panel.written.made()
        assert len({lamp.name for lamp in made.lamps}) == len(made.lamps)


def test_a_file_with_faults_opens_and_tells_them(tmp_path: Path) -> None:
    head = '# mine\n[vehicle]\nname = "x"\nsupply_voltage_V = 12\n'
    text = f'{head}[[lamp]]\nname = "Stop"\nfunction = "stpo"\nlens = "red"\n'
    (tmp_path / file.NAME).write_text(text)
    panel = YourVehicle(tmp_path)
    assert panel.open_message.value == ""
    assert "stpo" in panel.faults.value and "line 7" in panel.faults.value
    panel._edit_lamp(0)
    panel.lamp.function.value = "stop"
    panel.lamp.filament.search.value = "P21W"
    panel.add_lamp.click()
    assert panel.lamp_message.value == ""
    panel.save.click()
    assert (tmp_path / "vehicle.before.toml").read_text() == text
    assert "# mine" in (tmp_path / file.NAME).read_text()
    panel.restore.click()
    assert (tmp_path / file.NAME).read_text() == text
    (tmp_path / file.NAME).write_text("[vehicle\n")
    panel.open.click()
    assert "line 1" in panel.open_message.value
    assert panel.body.children == ()


def test_an_unchanged_lamp_changes_nothing_of_a_written_file(tmp_path: Path) -> None:
    written = sorted((Path(__file__).parents[1] / "vehicles").glob("*/"))
    for folder in (lk.tables.folder() / "library_van", *written[::3]):
        place = Path(shutil.copytree(folder, tmp_path / folder.name))
        panel = YourVehicle(place)
        assert panel.open_message.value == "" and not panel.faults.value
        before = panel.written.text
        if folder.name == "library_van":
            there = {place.names[0] for place in places() if lamp_at(panel.written, place) is not None}
            assert {"Main-beam tell-tale", "Oil warning", "Turn tell-tale"} <= there and "Charge warning" not in there
        for number in range(len(panel.written.entries("lamp"))):
            panel._edit_lamp(number)
            panel.add_lamp.click()
            assert panel.lamp_message.value == ""
        for number in range(len(panel.written.entries("light_source"))):
            panel.entries["light_source"].edit(number)
            panel.entries["light_source"].add.click()
            assert panel.entries["light_source"].message.value == ""
        for section, form in panel.entries.items():
            for number in range(len(panel.written.entries(section))):
                form.edit(number)
                form.add.click()
                assert form.message.value == "", (section, number)
        assert panel.written.text == before, folder.name


def test_names_follow_and_removal_leaves_no_trace(panel: YourVehicle) -> None:
    add_lamp(panel, "rear turn")
    add_offer(panel, colour="amber", claimed_lumens_lm="500", base="BA15s")
    circuit = panel.entries["circuit"]
    circuit.fields["name"].control.value = "turn"
    circuit.fields["fuse_A"].control.value = "8"
    circuit.add.click()
    panel._edit_lamp(0)
    panel.lamp.more["circuit"].control.value = "turn"
    panel.add_lamp.click()
    circuit.edit(0)
    circuit.fields["name"].control.value = "flashers"
    circuit.add.click()
    panel.entries["light_source"].edit(0)
    panel.offer.name.control.value = "the amber one"
    panel.entries["light_source"].add.click()
    lamp = panel.written.entries("lamp")[0]
    assert lamp["circuit"] == "flashers" and lamp["candidates"] == ["the amber one"]
    panel._remove("circuit", 0)
    panel._remove("light_source", 0)
    lamp = panel.written.entries("lamp")[0]
    assert "circuit" not in lamp and lamp["candidates"] == []
    for _ in range(2):
        panel.undo.click()
    assert "the amber one" in panel.written.text


def test_every_vehicle_to_start_from_opens_and_nothing_is_written_over(tmp_path: Path) -> None:
    panel = YourVehicle(tmp_path / "first")
    for name in file.starters():
        panel.place.value = str(tmp_path / name)
        panel.like.value = name
        panel.begin.click()
        assert panel.open_message.value == "" and not panel.faults.value, name
        assert panel.written.entries("lamp") and not panel.written.changed
        assert panel.head["name"].control.value == panel.written.made().name
    text = panel.written.text
    panel.begin.click()
    assert "stands there already" in panel.open_message.value
    assert panel.written.file.read_text(encoding="utf-8") == text


def test_lenses_parts_and_readings_are_changed_by_clicking(tmp_path: Path) -> None:
    """Each is added, changed and removed in the van's file; every line that says nothing of it stays as it was."""
    place = Path(shutil.copytree(lk.tables.folder() / "library_van", tmp_path / "van"))
    panel = YourVehicle(place)
    text = panel.written.text
    told = {
        "lens": ({"name": "new lens", "colour": "red", "edge_nm": "604,25"}, ("edge_nm", "606", 606)),
        "part": ({"name": "new flasher", "kind": "load-independent flasher", "price": "9"}, ("price", "8.5", 8.5)),
        "meter_reading": (
            {"circuit": "turn", "current_A": "3.9", "lamp": "Rear turn left", "socket_V": "12.1"},
            ("current_A", "3.8 A", 3.8),
        ),
    }
    for section, (values, (key, typed, meant)) in told.items():
        form = panel.entries[section]
        form.add.click()
        assert "nothing is told here" in "".join(field.message.value for field in form.fields.fields.values())
        for name, value in values.items():
            form.fields[name].control.value = value
        form.add.click()
        assert form.message.value == "" and not panel.faults.value, section
        number = len(panel.written.entries(section)) - 1
        assert values.keys() == panel.written.entries(section)[number].keys()
        form.edit(number)
        assert form.fields[key].control.value.replace(".", ",") == values[key].replace(".", ",")
        form.fields[key].control.value = typed
        form.add.click()
        assert panel.written.entries(section)[number][key] == meant
        new = iter(panel.written.text.split("\n"))
        assert all(line in new for line in text.split("\n")), "every line of before, in its order"
        panel._remove(section, number)
    assert [line for line in panel.written.text.split("\n") if line] == [line for line in text.split("\n") if line]


def test_a_lamp_of_both_sides_becomes_two(tmp_path: Path) -> None:
    place = Path(shutil.copytree(lk.tables.folder() / "library_van", tmp_path / "van"))
    panel = YourVehicle(place)
    before, text = [lamp.name for lamp in panel.written.made().lamps], panel.written.text
    panel._edit_lamp(panel.written.names("lamp").index("Rear turn"))
    panel.apart.click()
    assert panel.lamp_message.value == "" and not panel.faults.value
    assert {"Rear turn left", "Rear turn right"} <= set(panel.written.names("lamp"))
    assert sorted(lamp.name for lamp in panel.written.made().lamps) == sorted(before)
    panel._edit_lamp(panel.written.names("lamp").index("Rear turn left"))
    panel.lamp.filament.search.value = "P21W"
    panel.lamp.material.value = "old glass"
    panel.undo.click()
    assert panel.written.text == text
