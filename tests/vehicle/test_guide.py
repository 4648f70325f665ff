"""The guide to the vehicle file: each of its examples is read, and every key of the schema has its row."""

import re
from pathlib import Path

from vehicle_text import loaded

from lampkit.vehicle import schema, vehicle

GUIDE = Path(__file__).parents[2] / "references" / "vehicle_file.md"


def examples() -> list[str]:
    return re.findall(r"```toml\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)


def test_the_smallest_example_is_enough(tmp_path: Path) -> None:
    read = loaded(tmp_path, examples()[0])
    assert [lamp.name for lamp in read.lamps] == ["Stop lamp left", "Stop lamp right"]
    # Not a line of it can go but the sides.
    lines = examples()[0].splitlines()
    for n, line in enumerate(lines):
        if " = " in line and not line.startswith(("sides", "colour", "claimed_lumens_lm")):
            less = "\n".join([*lines[:n], *lines[n + 1 :]])
            _, faults = schema.check(vehicle.file.parsed(tmp_path, less))
            assert [fault.what for fault in faults] == [f"the key '{line.split(' = ')[0]}' is missing"]


def test_all_other_examples_make_one_vehicle(tmp_path: Path) -> None:
    read = loaded(tmp_path, "\n".join(["[vehicle]", 'name = "x"', "supply_voltage_V = 12", *examples()[1:]]))
    assert read.lamps and read.offers and read.circuits and read.parts
    stop = read.lamps[:2]
    assert [(lamp.position, lamp.holder, lamp.intensity) for lamp in stop] == [
        ("rear left", "rear holder left", 62),
        ("rear right", "rear holder right", None),
    ]


def test_every_key_has_its_row_with_its_unit_and_its_range() -> None:
    chapters = dict(re.findall(r"^## \[+(\w+)\]+.*?\n(.*?)(?=^## |\Z)", GUIDE.read_text("utf-8"), re.M | re.S))
    assert list(chapters) == list(schema.sections())
    for section, held in schema.sections().items():
        rows = {
            cells[0].strip("` "): [cell.strip() for cell in cells[1:]]
            for line in chapters[section].splitlines()
            if line.startswith("| `") and (cells := line.strip("|").split(" | "))
        }
        assert set(rows) == set(held["properties"]) - {"note"}
        for key, (_, allowed, default) in rows.items():
            rules = held["properties"][key]
            assert (default == "**needed**") == (key in held["required"])
            assert allowed.endswith(f" {rules.get('x-unit', '')}".rstrip())
            for choice in rules.get("enum", ()):
                assert str(choice) in allowed
