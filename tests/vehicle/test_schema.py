"""The schema of the vehicle file: sound, complete, and every fault held against it told at once and in one line."""

import copy
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from vehicle_text import loaded

from lampkit import tables
from lampkit.cli import main
from lampkit.errors import InputError
from lampkit.rules import functions, rule_sets
from lampkit.sources import leds
from lampkit.vehicle import file, schema, vehicle

SCHEMA = Path(schema.__file__).with_name("schema.json")
EXAMPLES = Path(__file__).parents[1] / "vehicles"
FILES = [tables.folder() / "library_van" / "vehicle.toml", *sorted(EXAMPLES.glob("*/vehicle.toml"))]


def properties() -> Iterator[tuple[str, str, dict[str, Any]]]:
    for section, held in schema.sections().items():
        for key, rules in held["properties"].items():
            yield section, key, rules


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.parent.name)
def test_any_program_that_knows_json_schema_can_use_it(path: Path) -> None:
    plain = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(plain)
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    for held in (plain, dict(schema.completed())):
        jsonschema.Draft202012Validator(held).validate(document)
    document["lamp"][0]["lense"] = "red"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(plain).validate(document)


def reference() -> jsonschema.protocols.Validator:
    """The reference library with the file's own formats; not-a-number passes every bound there."""
    rules = jsonschema.Draft202012Validator
    number = rules.TYPE_CHECKER.redefine("number", lambda _, value: schema.KINDS["number"](value))
    formats = jsonschema.FormatChecker(formats=())
    for name, keeps in schema.FORMATS.items():
        formats.checks(name)(keeps)
    validator = jsonschema.validators.extend(rules, type_checker=number)
    return validator(dict(schema.completed()), format_checker=formats)


NUMBERS = [True, False, 0, 1, -1, 6, 12.0, 2.5, 1e9, 10**400, float("nan"), float("inf")]
TEXTS = ["", " a", "red", "x" * 3000, "a\nb"]
LISTS = [[], [1, 2], [2, 1], [1, 1.0], [True, 1], ["red", "red"], [[1], [1]], [0.1] * 40, {}, {"name": "a"}]
ODD = st.sampled_from([*NUMBERS, *TEXTS, *LISTS])
CHANGES = st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 3), ODD), max_size=4)


@settings(max_examples=100)
@given(st.sampled_from(FILES), CHANGES)
def test_every_rule_is_held_as_the_reference_library_holds_it(path: Path, changes: list[tuple[int, int, Any]]) -> None:
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    for where, what, odd in changes:
        places = [(held, key) for held in tables_in(document) for key in held]
        held, key = places[where % len(places)]
        if what == 0:
            del held[key]
        else:
            held[key if what < 3 else f"{key}_x"] = copy.deepcopy(odd)
    theirs = {(tuple(e.absolute_path), e.validator) for e in reference().iter_errors(document)}
    assert {(found.path, found.rule) for found in schema.broken(document, schema.completed())} == theirs


def tables_in(held: Any) -> list[dict[str, Any]]:
    inside = held.values() if isinstance(held, dict) else held if isinstance(held, list) else []
    return [held] * isinstance(held, dict) + [one for value in inside for one in tables_in(value)]


def test_the_schema_asks_for_no_rule_that_is_not_held() -> None:
    said = {"title", "description", "examples", "default", "$schema", "$defs"}
    held = {*schema.KEPT, "properties", "items", "$ref", "if", "then"}

    def rules(inside: dict[str, Any]) -> Iterator[str]:
        for rule, bound in inside.items():
            yield rule
            within = (
                bound.values()
                if rule in ("properties", "$defs")
                else [bound]
                if rule in ("items", "if", "then")
                else []
            )
            for one in within:
                yield from rules(one)

    assert {rule for rule in rules(dict(schema.completed())) if not rule.startswith("x-")} <= said | held


def test_every_key_is_described_and_bounded() -> None:
    for section, key, rules in properties():
        assert rules["title"][0] not in "ABCDEFGH" and not rules["title"].endswith("."), key
        unit = rules.get("x-unit", "")
        assert not unit or key.endswith(f"_{unit}"), f"{section}.{key}"
        if rules.get("type") in ("number", "integer"):
            assert "enum" in rules or rules["minimum"] < rules["maximum"]
        if rules.get("type") == "string":
            assert "enum" in rules or rules["maxLength"] <= 2000
        told = (key in schema.sections()[section]["required"]) + ("default" in rules) + ("x-default" in rules)
        assert told == 1, f"{section}.{key}: needed, or what holds when it is left out"


def test_lists_of_the_kit_complete_it() -> None:
    lamp, light = (schema.sections()[name]["properties"] for name in ("lamp", "light_source"))
    assert lamp["function"]["examples"] == list(functions.names())
    assert light["colour"]["enum"] == list(leds.colours())
    assert schema.sections()["vehicle"]["properties"]["rules"]["examples"] == list(rule_sets.of_the_road())


# ------------------------------------------------------------------------------------------------- all at once

MANY = """\
[vehicle]
name = "van"
supply_voltage_V = 13
eart = "negative"

[[light_source]]
name = "LED"
claimed_lumens = 120
colour = "pink"
price = -1

[[light_source]]
name = "dim"
cct_K = 3000
claimed_lumens_lm = 20
dim_level_of = "LDE"

[[lens]]
name = "own"
colour = "red"
outside = "hold"

[[lamp]]
name = "Stop"
function = "stpo"
lens = "rod"
filament = "P21W"
candidates = ["LED", "LEDD", "dimm"]
circuit = "none"
quantity = "two"

[[lamp]]
name = "stop"
function = "tail"
lens = "own"
filament = "P21W"
candidates = ["dim"]
left = { quantity = 2 }
"""


def faults_of(folder: Path, text: str) -> list[tuple[int | None, str]]:
    folder.mkdir(exist_ok=True)
    (folder / "vehicle.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        vehicle.load(folder)
    assert len(str(caught.value).splitlines()) == min(len(caught.value.faults), 21)
    return [(fault.line, fault.what) for fault in caught.value.faults]


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    assert faults_of(tmp_path, MANY) == [
        (3, "13 is not among them"),
        (4, "there is no key 'eart' in this section"),
        (8, "the key 'claimed_lumens' does not carry the unit lm"),
        (9, "'pink' is unknown"),
        (10, "-1 is below 0"),
        (16, "there is no other light source 'LDE'"),
        (21, "'outside' stands there without 'curve'"),
        (25, "the lamp function 'stpo' is unknown"),
        (26, "there is no lens 'rod'"),
        (28, "there is no light source 'LEDD' on offer"),
        (29, "there is no circuit 'none'"),
        (30, "'two' is not a number"),
        (33, "the name 'stop' stands there twice, first on line 24"),
        (38, "'left' stands there without 'sides'"),
    ]


def test_what_only_follows_from_another_fault_is_not_told(tmp_path: Path) -> None:
    good = MANY.replace("13", "12").replace("eart =", "earth =").replace("claimed_lumens =", "claimed_lumens_lm =")
    good = good.replace("pink", "red").replace("-1", "1").replace("LDE", "LED").replace('outside = "hold"\n', "")
    good = good.replace("stpo", "stop").replace('"rod"', '"red"').replace(', "LEDD", "dimm"', "").replace('"two"', "2")
    good = good.replace('circuit = "none"\n', "").replace('name = "stop"', 'name = "tail"')
    good = good.replace("left = { quantity = 2 }\n", "")
    assert len(loaded(tmp_path, good).lamps) == 2
    for old, new, line, what in (
        # The name of a light source that is missing, misspelt or taken leaves those who mean it in peace.
        ('name = "LED"', 'nme = "LED"', 7, "there is no key 'nme' in this section"),
        ('name = "own"', 'name = "own\\u0000"', 19, "character 4 of the text cannot be seen or printed"),
        ('name = "LED"', 'name = "meter"', 7, "'meter' already names something else"),
        # A misspelt supply leaves whatever goes by the voltage in peace.
        ("supply_voltage_V = 12", "supply_volts = 12", 3, "there is no key 'supply_volts' in this section"),
        # A lens that cannot be made is known all the same.
        (
            'colour = "red"\n\n[[lamp]]',
            'colour = "red"\nedge_nm = 500\n\n[[lamp]]',
            21,
            "the typical value 500 is outside",
        ),
        # Three rules broken by one value are one fault.
        ("supply_voltage_V = 12", 'supply_voltage_V = "12 V"', 3, "'12 V' is not a number"),
    ):
        assert good.count(old) == 1, old
        ((told, words),) = faults_of(tmp_path, good.replace(old, new))
        assert told == line and words.startswith(what), words


def test_twenty_faults_are_written_out_and_the_rest_counted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    keys = "\n".join(f"key_{n} = 1" for n in range(23))
    (tmp_path / "vehicle.toml").write_text(MANY.replace("[[lens]]", f"{keys}\n[[lens]]"), encoding="utf-8")
    assert main(["report", str(tmp_path)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 21 and lines[-1] == f"lampkit: and {14 + 23 - 20} more."
    assert all(line.startswith(f"lampkit: {tmp_path}/vehicle.toml, line ") for line in lines[:-1])


# ------------------------------------------------------------------------------------------------- hostile values

HOSTILE = [
    *("1" + "0" * 400, "0x" + "F" * 4000, "1e400", "-1e308", "1e-320", "nan", "-inf", "-0.0", "0b1", "true"),
    *("1964-01-01", "1964-01-01T10:00:00Z", "10:00:00", "[]", "[[1, 2]]", "{}", "{ a = 1 }", "[1e400, 1]", '[""]'),
    *('""', '" "', '"\\u001b[31m"', '"a\\nb"', '"\\u200b"', '"\\u202eabc"', '"' + "x" * 100_000 + '"', '"<b>&\'{{x}}"'),
]


def every_key() -> str:
    """Write a file that holds every key of the schema, each with a value that the schema allows."""

    def value(rules: dict[str, Any]) -> str:
        if "enum" in rules:
            return json.dumps(rules["enum"][0])
        kind = rules.get("type")
        if kind in ("number", "integer"):
            return str(rules["maximum"])
        if kind == "boolean":
            return "true"
        if kind == "array" and "minimum" in rules["items"]:
            return f"[{rules['items']['minimum']}, {rules['items']['maximum']}]"
        return (
            {"array": '["left", "right"]', "string": '"some words"'}.get(str(kind), "{ quantity = 2 }")
            if not isinstance(kind, list)
            else str(rules["maximum"])
        )

    return "\n".join(
        line
        for section, held in schema.sections().items()
        for line in (schema.heading(section), *(f"{key} = {value(rules)}" for key, rules in held["properties"].items()))
    )


def test_every_key_with_a_sound_value_is_taken() -> None:
    text = every_key().replace('kind = "load-independent flasher"', 'kind = "ballast resistor"')
    assert schema.check(file.parsed(Path("v"), text))[1] == []


@pytest.mark.parametrize("hostile", HOSTILE, ids=lambda value: value[:20])
def test_a_hostile_value_is_taken_or_refused_in_one_line_that_says_what_to_do(hostile: str) -> None:
    lines = every_key().splitlines()
    for n, line in enumerate(lines, start=1):
        key, found, _ = line.partition(" = ")
        if not found:
            continue
        text = "\n".join([*lines[: n - 1], f"{key} = {hostile}", *lines[n:]])
        try:
            _, faults = schema.check(file.parsed(Path("v"), text))
        except InputError as error:
            faults = list(error.faults)
        for fault in faults:
            told = str(fault)
            assert fault.line == n, told
            assert told.isprintable() and len(told) < 500, told[:100]
            assert fault.expected and len(fault.expected) > 3, told


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("year = 1964-01-01", "a date is not a number; expected a whole number from 1880 to 2100."),
        (f"year = 1{'0' * 400}", "a number of 401 digits is above 2100; expected a whole number from 1880 to 2100."),
        (f"year = {'1' * 5000}", "a number has far too many digits; expected a number of a few digits."),
        ("budget = 1e400", "inf is not a finite number; expected a number from 0 to 1000000."),
        (
            "earth = false",
            "false is not text; expected one of 'negative', 'positive', 'unknown', between quotation marks.",
        ),
        ("earth = inf", "inf is not text; expected one of 'negative', 'positive', 'unknown', between quotation marks."),
        ('note = "a\\u200b"', "character 2 of the text cannot be seen or printed (U+200B, ZERO WIDTH SPACE); expected"),
        ('"a\\nb\\u001b[31m" = 1', "there is no key 'a\\nb\\x1b[31m' in this section; expected"),
        (
            "earth = {}",
            "a table is not text; expected one of 'negative', 'positive', 'unknown', between quotation marks.",
        ),
    ],
)
def test_what_is_said_of_a_hostile_value(tmp_path: Path, line: str, told: str) -> None:
    text = MANY.replace('eart = "negative"', line)
    (tmp_path / "vehicle.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        vehicle.load(tmp_path)
    (found,) = (str(fault) for fault in caught.value.faults if fault.line == 4)
    assert told in found
    assert re.match(rf"{re.escape(str(tmp_path))}/vehicle.toml, line 4[,:] ", found)


def test_ten_thousand_faults_and_names_take_no_long_time(tmp_path: Path) -> None:
    lamp = MANY[MANY.index('[[lamp]]\nname = "Stop"') : MANY.index('[[lamp]]\nname = "stop"')]
    names = ", ".join(f'"n{n}"' for n in range(10_000))
    for text in (MANY + lamp * 2000, MANY + "x = 1\n" + "\n".join(f"k{n} = 1" for n in range(10_000))):
        assert len(faults_of(tmp_path, text)) > 900
    assert (28, "the list holds 10000") in faults_of(tmp_path, MANY.replace('["LED", "LEDD", "dimm"]', f"[{names}]"))
