"""A lamp function, an LED family and a rule set are rows of data: no code has to know of them."""

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import commands
import pytest
from vehicle_text import circuit, lamp, source

from lampkit import tables

INVENTED = {"source": "own", "clause": "invented for a test", "known": "invented", "edition": "invented"}
"""The cornering lamp shows white under UN R48, from memory; all numbers below are invented."""

ROWS: dict[str, list[dict[str, Any]]] = {
    "leds/coloured": [
        {
            "colour": "cyan",
            "phosphor": "no",
            "peak_nm": 500,
            "short_half_width_nm": 13,
            "long_half_width_nm": 18,
            "peak_spread_nm": 5,
            "width_spread_ln": 0.15,
            "dies": 0,
        }
    ],
    "rules/functions": [
        {
            **dict.fromkeys(("flashes", "brakes", "spacing", "tell_tale"), "no"),
            **dict.fromkeys(("seen", "road"), "yes"),
            "name": "cornering",
            "also_called": "lamp for corners",
            "lenses": "clear;amber",
            "words": "corner",
        }
    ],
    "rules/rule_sets": [
        {
            **dict.fromkeys(
                ("name", "colours", "functions", "intensities", "flash", "ratios"), "Harbour",
            ),
            **dict.fromkeys(("sections", "spacing"), "no"),
            "means": "rules for vehicles on the quays of an invented harbour",
            "also_called": "Quay rules",
            "stand_in": "UN",
        }
    ],
    "rules/colour_boundaries": [
        {"rules": "Harbour", "colour": "red", "boundary": "limit towards yellow", "inequality": "y <= 0.330", "a": 0,
         "b": 1, "c": 0.33},
        {"rules": "Harbour", "colour": "red", "boundary": "limit towards blue", "inequality": "x >= 0.5", "a": -1,
         "b": 0, "c": -0.5},
    ],
    "rules/required_colours": [
        {"function": "cornering", "rules": "UN", "colours": "white"},
        *(
            {"function": function, "rules": "Harbour", "colours": colour}
            for function, colour in (
                ("stop", "red"), ("tail", "red"), ("rear turn", "amber"), ("cornering", "white;amber"),
            )
        ),
    ],
    "rules/intensity_limits": [
        {
            "rules": "Harbour", "function": function, "category": category, "colour": colour, "quantity": quantity,
            "value": value, "unit": "cd", "where": "reference axis", "compartments": 1, "period": "present",
        }
        for function, category, colour, quantity, value in (
            ("stop", "H1", "red", "minimum", 55), ("stop", "H1", "red", "maximum", 255),
            ("cornering", "", "white", "minimum", 95), ("cornering", "", "white", "maximum", 905),
        )
    ],
    "rules/usual_categories": [{"rules": "Harbour", "function": "stop", "category": "H1"}],
    "rules/flash_limits": [
        {"rules": "Harbour", "quantity": "flash rate", "condition": "all", "low": 50, "high": 70, "unit": "1/min"}
    ],
    "rules/further_limits": [
        {"rules": "Harbour", "quantity": "stop to tail ratio", "where": "straight behind", "low": 7, "unit": "1"}
    ],
    "rules/ratio_directions": [
        {"rules": "Harbour", "level": "near the axis", "h_from_deg": 0, "h_to_deg": 0, "v_from_deg": 0, "v_to_deg": 0}
    ],
    "rules/grids": [{"rules": "Harbour", "function": "stop", "category": "H1", "grid": "Harbour cross"}],
    "rules/light_distribution": [
        {"grid": "Harbour cross", "h_deg": h, "v_deg": v, "percent": share}
        for h, v, share in ((0, 0, 100), (-10, 0, 40), (10, 0, 40))
    ],
    "rules/notes": [{"rules": "Harbour", "functions": "stop", "note": "read the sign at the gate"}],
}  # fmt: skip

VEHICLE = (
    """
[vehicle]
name = "Quay cart, invented"
supply_voltage_V = 12
rules = "{rules}"

"""
    + circuit("turn", flasher="electronic")
    + source("cyan bead", colour="cyan", claimed_lumens_lm=300)
    + source("red cluster", colour="red", claimed_lumens_lm=400, price=1)
    + source("amber cluster", colour="amber", claimed_lumens_lm=300, power_W=4, price=1)
    + lamp("Corner lamp", "lamp for corners", "clear", "P21W", ["cyan bead"])
    + lamp("Stop lamp", "stop", "red", "P21W", ["red cluster"], position="rear")
    + lamp("Tail lamp", "tail", "red", "R5W", ["red cluster"], position="rear")
    + lamp("Rear turn left", "rear turn", "amber", "P21W", ["amber cluster"], circuit="turn")
)

ASKED = """
import json, sys
from pathlib import Path
import numpy as np
from lampkit.errors import InputError
from lampkit.notebook import controls, lens_panel, readings_panel
from lampkit.rules import intensity_limits, light_distribution, limits, rule_sets
from lampkit.vehicle import lamps, schema, vehicle, vehicle_parts

def refused(work):
    try:
        work()
    except InputError as error:
        return str(error)
    return "not refused"

def load(old, new):
    file = Path(sys.argv[1]) / "changed" / "vehicle.toml"
    file.parent.mkdir(exist_ok=True)
    file.write_text((Path(sys.argv[1]) / "vehicle.toml").read_text().replace(old, new))
    return refused(lambda: vehicle.load(file.parent))

def values(box):
    return [option[1] if isinstance(option, tuple) else option for option in box.options]

bench = lens_panel.LensBench("clear")
desk = readings_panel.ReadingsDesk()
asked = intensity_limits.requirement("stop", "Quay rules")
told = light_distribution.against_grid(asked, asked.distribution.angles, [60.0, 20.0, 30.0])
print(json.dumps({
    "rules": values(bench.rules),
    "functions": values(bench.function),
    "colours": values(bench.first.colour),
    "schema": json.dumps(schema.sections()),
    "lens": desk._lens_choice("Corner lamp left").value,
    "sources": [words for words, _ in desk._source_choice("cyan LED").options],
    "source": desk._source_choice("cyan LED").value,
    "function": load("lamp for corners", "corner lmp"),
    "rule_set": load('rules = "Harbour"', 'rules = "Harbor"'),
    "colour": load('"cyan"', '"cyann"'),
    "note": [str(note) for note in asked.notes],
    "category": asked.category,
    "margins": told.margins.tolist(),
    "ratios": limits.required_ratio([[0, 0], [1, 0]], "stop to tail", "Harbour").tolist(),
}))
"""


def run(*arguments: str, data: Path) -> subprocess.CompletedProcess[str]:
    surroundings = {**os.environ, "LAMPKIT_DATA": str(data)}
    return subprocess.run([sys.executable, *arguments], capture_output=True, text=True, env=surroundings, check=False)


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of data/ with the rows, and nothing else, added."""
    folder = tmp_path_factory.mktemp("own") / "data"
    shutil.copytree(tables.folder(), folder)
    for table, rows in ROWS.items():
        file = folder / f"{table}.csv"
        with file.open(newline="", encoding="utf-8") as stream:
            heading = next(csv.reader(stream))
        with file.open("a", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, heading, restval="", lineterminator="\n")
            writer.writerows({**{key: word for key, word in INVENTED.items() if key in heading}, **row} for row in rows)
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("cart")
    (place / "vehicle.toml").write_text(VEHICLE.format(rules="Harbour"), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def report(data: Path, folder: Path) -> dict[str, Any]:
    done = run("-m", "lampkit", "report", str(folder), "--json", "--draws", "200", data=data)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def answers(data: Path, folder: Path) -> dict[str, Any]:
    done = run("-c", ASKED, str(folder), data=data)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def lamp(report: dict[str, Any], name: str) -> dict[str, Any]:
    return next(one for one in report["lamps"] if one["name"] == name)


def test_without_the_rows_the_same_vehicle_is_refused(folder: Path, tmp_path: Path) -> None:
    done = commands.here("report", folder, "--json", cwd=tmp_path)
    assert done.returncode == 2 and "'cyan'" in done.stderr
    for rules, refused in (("Harbour", "'Harbour'"), ("UN", "'lamp for corners'")):
        text = VEHICLE.format(rules=rules).replace("cyan", "blue")
        (tmp_path / "vehicle.toml").write_text(text, encoding="utf-8")
        done = commands.here("report", tmp_path, "--json", cwd=tmp_path)
        assert done.returncode == 2 and refused in done.stderr


def test_the_report_knows_function_family_and_rules(report: dict[str, Any]) -> None:
    corner, stop = lamp(report, "Corner lamp"), lamp(report, "Stop lamp")
    assert corner["function"] == "cornering" and corner["colour_limit"]["name"] == "UN white"
    assert corner["seen"] and [limit["value_cd"] for limit in corner["intensity"]["limits"]] == [95, 905]
    assert corner["candidates"][0]["light_source"] == "cyan bead"
    assert stop["colour_limit"]["name"] == "Harbour red"
    assert [b["inequality"] for b in stop["colour_limit"]["boundaries"]] == ["y <= 0.330", "x >= 0.5"]
    assert [limit["value_cd"] for limit in stop["intensity"]["limits"]] == [55, 255]


def test_the_checklist_asks_for_ratio_and_rate_of_the_rules(report: dict[str, Any]) -> None:
    said = json.dumps(report["after_fitting"])
    assert "published: at least 7 in candela (straight behind)" in said
    assert "published: 50 to 70 a minute" in said


def test_the_panels_offer_them(answers: dict[str, Any]) -> None:
    assert "Harbour" in answers["rules"] and {"UN", "US", "UN R50"} < set(answers["rules"])
    assert "COLREG" not in answers["rules"], "rules of the sea say nothing of road lamps"
    assert "cornering" in answers["functions"] and "reversing" in answers["functions"]
    assert "cyan" in answers["colours"]
    assert answers["lens"] == "clear" and answers["source"] == ["colour", "cyan"]
    assert "cyan LED" in answers["sources"]


def test_the_schema_of_the_vehicle_file_lists_them(answers: dict[str, Any]) -> None:
    for name in ("cornering", "Harbour", "cyan"):
        assert f'"{name}"' in answers["schema"]


def test_a_misspelling_in_the_vehicle_file_names_them(answers: dict[str, Any]) -> None:
    assert "'cornering'" in answers["function"]
    assert "'Harbour'" in answers["rule_set"]
    assert "'cyan'" in answers["colour"]


def test_test_points_notes_and_directions_come_along(answers: dict[str, Any]) -> None:
    assert answers["category"] == "H1" and "read the sign at the gate" in answers["note"]
    assert answers["margins"] == pytest.approx([60 - 55, 20 - 0.4 * 55, 30 - 0.4 * 55])
    assert answers["ratios"] == [7, 0]


def test_a_folder_without_tables_is_refused(tmp_path: Path) -> None:
    done = run("-c", "from lampkit import tables; tables.folder()", data=tmp_path)
    assert done.returncode != 0 and "holds no tables of the kit" in done.stderr and "LAMPKIT_DATA" in done.stderr
