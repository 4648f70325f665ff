"""What a vehicle file may hold: schema.json, completed by the lists of the kit, and every fault held against it."""

import datetime
import difflib
import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any

from lampkit import tables
from lampkit.errors import Fault, nearest, refuse, unseen
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import COLOURS, SUBSTANCE
from lampkit.numbers import listed
from lampkit.rules import functions, rule_sets
from lampkit.sources import filament_lamps, leds
from lampkit.vehicle.file import WrittenVehicle

MOST_FAULTS = 1000
"""Faults after which a file is not looked at any further [1]. Source: own judgement."""

UNIT_WORDS = re.compile(
    "lm|lumens?|[km]lm|[nucm]?m|ft|angstrom|k|kelvin|c|[mk]?w|watts?|m?v|volts?|m?a|amps?|k?ohm|m?cd|candela|lx|lux|"
    "[cm]m2|awg|mil|percent|pct",
    re.IGNORECASE,
)
"""What people write behind the name of a key."""


TELLS_NO_LUMENS = {
    "mcd cd candela lux lx intensity": "candela and lux without the beam tell no lumens: note them, or leave them out",
    "leds led pcs chips smd emitters": "the number of emitters tells no lumens: note it, or leave it out",
}
"""What sellers tell in place of lumens, and what to do with it."""


@dataclass(frozen=True)
class Entry:
    """One section of the file, such as one lamp: what it says that can be used, and the line of each key."""

    section: str
    values: Mapping[str, Any]
    file: Path
    lines: Mapping[str, int]
    owner: str
    unusable: frozenset[str] = frozenset()

    def placed(self, fault: Fault) -> Fault:
        """Give a fault the file, the line and the owner of its key; that of another file has its own."""
        if fault.file is not None:
            return fault
        key = fault.key or ""
        named = " of ".join(part for part in (key, "" if key == "name" else self.owner) if part)
        return replace(fault, file=self.file, line=self.lines.get(key, self.lines.get("")), key=named or None)


@cache
def completed() -> Mapping[str, Any]:
    """Read schema.json and fill the lists of the kit in: closed ones as choices, open ones as examples."""
    lists = {
        "functions": list(functions.names()),
        "rule sets": list(rule_sets.of_the_road()),
        "LED colours": list(leds.colours()),
        "lens colours": list(coloured_lens.COLOURS),
        "lens materials": list(coloured_lens.SUBSTANCE),
        "flashers": [*tables.load("circuit", "flashers")["kind"], "unknown"],
        "filament lamps": list(filament_lamps.designations()),
    }

    def complete(held: dict[str, Any]) -> dict[str, Any]:
        if "x-choices" in held:
            held["enum"] = lists[held["x-choices"]]
        if "x-names" in held:
            held["examples"] = lists[held["x-names"]]
        return held

    text = Path(__file__).with_name("schema.json").read_text(encoding="utf-8")
    return MappingProxyType(json.loads(text, object_hook=complete))


@cache
def sections() -> Mapping[str, Mapping[str, Any]]:
    """List the sections of the file, each with the schema of one of them."""
    return {name: held.get("items", held) for name, held in completed()["properties"].items()}


def heading(section: str) -> str:
    """Write the heading of a section with the brackets that it takes."""
    double = completed()["properties"].get(section, {}).get("type") == "array"
    return f"[[{section}]]" if double else f"[{section}]"


def check(written: WrittenVehicle) -> tuple[dict[str, tuple[Entry, ...]], list[Fault]]:
    """Hold a file against the schema: its sections with what can be used of them, and every fault of form.

    A fault that only follows from another is left out: a key that is missing because its name is misspelt.
    """
    faults = list(written.slips)
    unusable: dict[tuple[str, int], set[str]] = {}
    entries = {section: _entries(written, section) for section in sections()}
    told = set()
    for place, keys, fault in islice(_told(written.document), MOST_FAULTS):
        section, number = place
        unusable.setdefault(place, set()).update(keys)
        if (place, fault.key or fault.what) in told:
            continue  # one fault a key: the first rule that it breaks
        told.add((place, fault.key or fault.what))
        if 0 <= number < len(entries.get(section, ())):
            faults.append(entries[section][number].placed(fault))
        else:
            line = written.lines.get((section, 0), {}).get("") or written.lines.get(("", 0), {}).get(section)
            faults.append(replace(fault, file=written.file, line=line, key=None))
    if not all(entries[section] for section in completed()["required"]):
        refuse(faults)
    return {
        section: tuple(_usable(entry, unusable.get((section, n), set())) for n, entry in enumerate(held))
        for section, held in entries.items()
    }, faults


def fault_of(section: str, key: str, value: object) -> Fault | None:
    """Hold one value against its key, and tell the first rule that it breaks."""
    held = sections()[section]["properties"][key]
    return next((_of_value(error, held) for error in broken(value, held)), None)


def _entries(written: WrittenVehicle, section: str) -> tuple[Entry, ...]:
    held = written.document.get(section)
    double = completed()["properties"][section]["type"] == "array"
    listed_there = held if double else [held]
    if not isinstance(listed_there, list) or not all(isinstance(table, dict) for table in listed_there):
        return ()
    first = written.lines.get((section, 0), {}).get("") or written.lines.get(("", 0), {}).get(section) or 1
    entries = []
    for number, table in enumerate(listed_there):
        name = table.get("name")
        named = isinstance(name, str) and 0 < len(name) < 60 and section != "vehicle"
        lines = {"": first, **written.lines.get((section, number), {})}
        owner = f"'{name}'" if named else f"[{section}]"
        entries.append(Entry(section, MappingProxyType(table), written.file, MappingProxyType(lines), owner))
    return tuple(entries)


def _usable(entry: Entry, keys: set[str]) -> Entry:
    values = {key: value for key, value in entry.values.items() if key not in keys}
    return replace(entry, values=MappingProxyType(values), unusable=frozenset(keys))


Told = tuple[tuple[str, int], set[str], Fault]
"""Section and number of the section, the keys that cannot be used, and the fault."""


def _told(document: Mapping[str, Any]) -> Iterator[Told]:
    for error in broken(document, completed()):
        path = list(error.path)
        if path and completed()["properties"][path[0]]["type"] == "object":
            path.insert(1, 0)  # a section of which there is one is the first of its kind
        names = [step for step in path[2:] if isinstance(step, str)]
        if len(path) < 2 or (len(path) == 2 and error.rule == "type"):
            yield from (((name, -1), set(), fault) for name, fault in _of_sections(error, *path[:1]))
        elif error.rule in ("additionalProperties", "required", "dependentRequired"):
            for keys, fault in _of_keys(error, path[0], names[:1]):
                yield (path[0], path[1]), keys, fault
        else:
            fault = _of_value(error, sections()[path[0]]["properties"][names[-1]])
            what = fault.what if len(names) == 1 else f"{names[-1]}: {fault.what}"
            yield (path[0], path[1]), {names[0]}, replace(fault, what=what, key=names[0])


@dataclass(frozen=True)
class Broken:
    """One rule of the schema that one value breaks: where, which, and what the schema says there."""

    path: tuple[Any, ...]
    value: Any
    rule: str
    bound: Any
    held: Mapping[str, Any]


def broken(value: Any, held: Mapping[str, Any], path: tuple[Any, ...] = ()) -> Iterator[Broken]:
    """Hold a value against a schema, rule by rule, and what it holds against the schemas inside.

    Of JSON Schema 2020-12 the rules that schema.json uses; not-a-number is no number here. A test holds every one
    against a reference library.
    """
    for rule, bound in held.items():
        if rule in KEPT and not KEPT[rule](value, bound, held):
            yield Broken(path, value, rule, bound, held)
        elif rule == "properties" and isinstance(value, dict):
            for name in (name for name in bound if name in value):
                yield from broken(value[name], bound[name], (*path, name))
        elif rule == "items" and isinstance(value, list):
            for number, one in enumerate(value):
                yield from broken(one, bound, (*path, number))
        elif rule == "$ref":
            yield from broken(value, _pointed_at(bound), path)
        elif rule == "if" and not any(broken(value, bound)):
            yield from broken(value, held["then"], path)


KINDS: Mapping[str, Callable[[Any], bool]] = {
    "string": lambda value: isinstance(value, str),
    "boolean": lambda value: isinstance(value, bool),
    "array": lambda value: isinstance(value, list),
    "object": lambda value: isinstance(value, dict),
    "number": lambda value: _is_number(value),
    "integer": lambda value: _is_number(value) and value == int(value),
}
"""The kinds of value that TOML and JSON Schema share."""

FORMATS: Mapping[str, Callable[[Any], bool]] = {
    "line": lambda value: not isinstance(value, str) or not _in_line(value),
    "lines": lambda value: not isinstance(value, str) or not _in_lines(value),
    "rising": lambda value: not isinstance(value, list) or _rises(value),
}
"""The formats of this file."""

KEPT: Mapping[str, Callable[[Any, Any, Mapping[str, Any]], bool]] = {
    "type": lambda value, kinds, _: any(KINDS[kind](value) for kind in ([kinds] if isinstance(kinds, str) else kinds)),
    "enum": lambda value, choices, _: any(_same(value, choice) for choice in choices),
    "const": lambda value, only, _: _same(value, only),
    "format": lambda value, name, _: FORMATS[name](value),
    "minimum": lambda value, least, _: not _is_number(value) or value >= least,
    "maximum": lambda value, most, _: not _is_number(value) or value <= most,
    "maxLength": lambda value, most, _: not isinstance(value, str) or len(value) <= most,
    "minItems": lambda value, least, _: not isinstance(value, list) or len(value) >= least,
    "maxItems": lambda value, most, _: not isinstance(value, list) or len(value) <= most,
    "minProperties": lambda value, least, _: not isinstance(value, dict) or len(value) >= least,
    "uniqueItems": lambda value, _, __: not isinstance(value, list) or len(set(map(_told_apart, value))) == len(value),
    "required": lambda value, names, _: not isinstance(value, dict) or all(name in value for name in names),
    "dependentRequired": lambda value, needs, _: (
        not isinstance(value, dict) or all(name in value for given in needs if given in value for name in needs[given])
    ),
    "additionalProperties": lambda value, allowed, held: (
        not isinstance(value, dict) or allowed or all(name in held["properties"] for name in value)
    ),
}
"""The rules of JSON Schema that one value keeps or breaks, by their names there."""


def _pointed_at(reference: str) -> Mapping[str, Any]:
    found: Any = completed()
    for step in reference.removeprefix("#/").split("/"):
        found = found[step]
    return found


def _told_apart(value: Any) -> tuple[bool, Any]:
    return isinstance(value, bool), repr(value) if isinstance(value, list | dict) else value


def _same(value: Any, other: Any) -> bool:
    return isinstance(value, bool) == isinstance(other, bool) and bool(value == other)


def _is_number(value: object) -> bool:
    # A whole number may be too large to be a float.
    return type(value) is int or (isinstance(value, float) and math.isfinite(value))


def _rises(value: list[Any]) -> bool:
    return len(value) != 2 or not all(map(_is_number, value)) or bool(value[0] < value[1])


def _in_line(text: str) -> str:
    if not text.strip():
        return "the text is empty"
    if text != text.strip():
        return "the text begins or ends with a space"
    return unseen(text)


def _in_lines(text: str) -> str:
    return unseen(text.replace("\t", " ").replace("\n", " ")) if text.strip() else "the text is empty"


# --- the words of a fault -----------------------------------------------------------------------------------------


def _of_sections(error: Broken, section: str = "") -> Iterator[tuple[str, Fault]]:
    """Word what is wrong with the sections of the file."""
    known = sections()
    if error.rule == "required":
        for missing in (name for name in error.bound if name not in error.value):
            yield missing, Fault(f"there is no section {heading(missing)}", expected="one in every vehicle file")
    elif error.rule == "additionalProperties":
        for name in (name for name in error.value if name not in known):
            yield name, Fault(f"there is no section '{name[:40]}'", expected=nearest(name, map(heading, known)))
    elif not error.value and isinstance(error.value, list):
        yield section, Fault(f"the section {section} holds no keys", expected=heading(section))
    else:
        there = f", not [{section}]" if isinstance(error.value, dict) else ""
        there = f", not [[{section}]]" if isinstance(error.value, list) else there
        what = f"the section {section} has the wrong brackets or none"
        yield section, Fault(what, expected=f"{heading(section)}{there}")


def _of_keys(error: Broken, section: str, inside: list[str]) -> Iterator[tuple[set[str], Fault]]:
    """Word which keys a section holds and should not, or should and does not; `inside` is the key of a table."""
    properties = error.held["properties"] if "properties" in error.held else sections()[section]["properties"]
    meant = {name: _meant(name, sections()[section]["properties"]) for name in error.value if name not in properties}
    if error.rule == "additionalProperties":
        for name in meant:
            yield _unknown(name, meant[name], properties, inside)
    elif error.rule == "required":
        for missing in (name for name in error.bound if name not in error.value):
            if missing not in meant.values():
                title = sections()[section]["properties"][missing]["title"]
                yield {missing}, Fault(f"the key '{missing}' is missing", expected=title)
    else:
        for given, needed in error.bound.items():
            lacking = [name for name in needed if name not in error.value and name not in meant.values()]
            if given in error.value and lacking:
                words = listed(f"'{name}'" for name in lacking)
                what = f"'{given}' stands there without {words}"
                yield {given}, Fault(what, key=given, expected=f"{words} beside it")


def _meant(name: str, properties: Mapping[str, Any]) -> str:
    """Guess which key is meant by one that is not known; nothing when none is near."""
    words = {name.lower(), stem(name).lower()}
    same = [key for key in properties if stem(key).lower() in words]
    same = same or [key for key in properties if len(name) > 3 and key.lower().startswith(name.lower())]
    close = difflib.get_close_matches(name[:80].lower(), [key.lower() for key in properties], n=1, cutoff=0.75)
    by_lower = {key.lower(): key for key in properties}
    return same[0] if same else by_lower[close[0]] if close else ""


def _unknown(name: str, meant: str, properties: Mapping[str, Any], inside: list[str]) -> tuple[set[str], Fault]:
    unusable = {*inside} or {name, meant} - {""}
    unit = properties.get(meant, {}).get("x-unit")
    shown, key = name[:40], inside[0] if inside else name
    if unit and stem(meant).lower() in (name.lower(), stem(name).lower()):
        what, expected = f"the key '{shown}' does not carry the unit {unit}", f"'{meant}', a value in {unit}"
        return unusable, Fault(what, key=key, expected=expected)
    words = set(re.split("[_ -]", name.casefold()))
    for told, remedy in TELLS_NO_LUMENS.items() if "claimed_lumens_lm" in properties else ():
        if words & {*told.split()}:
            return {name}, Fault(f"there is no key '{shown}' in this section", key=key, remedy=remedy)
    where = f"in '{inside[0]}'" if inside else "in this section"
    return unusable, Fault(f"there is no key '{shown}' {where}", key=key, expected=nearest(name[:80], properties))


def stem(key: str) -> str:
    """Give the name of a key without the unit behind it."""
    head, _, tail = key.rpartition("_")
    return head if head and UNIT_WORDS.fullmatch(tail) else key


def _of_value(error: Broken, held: Mapping[str, Any]) -> Fault:
    """Word what is wrong with the value of one key."""
    value, rule, bound = error.value, error.rule, error.bound
    expected, seen, unit = wanted(held), shown(value), held.get("x-unit", "")
    with_unit = f"{seen} {unit}".strip()
    if rule == "type":
        return _of_type(value, error.bound, expected, held.get("examples", []) if "x-names" in held else [])
    if rule == "enum":
        if isinstance(value, str) and held.get("type") != "number":
            return Fault(f"{seen} is unknown", expected=nearest(value, bound))
        return Fault(f"{seen} is not among them", expected=expected, remedy=held.get("x-remedy"))
    if rule == "format" and bound == "rising":
        what = f"the lower limit {shown(value[0])} is not below the upper limit {shown(value[1])}"
        return Fault(what, expected=expected)
    if rule == "format":
        return Fault(_in_line(value) if bound == "line" else _in_lines(value), expected=f"{expected}, in plain words")
    if rule in ("minimum", "maximum"):
        return Fault(f"{with_unit} is {'below' if rule == 'minimum' else 'above'} {bound:.8g}", expected=expected)
    if rule == "maxLength":
        return Fault(f"the text has {len(value)} characters", expected=f"at most {bound}")
    if rule == "uniqueItems":
        twice = next(name for name, count in Counter(map(str, value)).items() if count > 1)
        return Fault(f"'{twice[:40]}' stands there twice", expected="each name once")
    if held.get("format") == "rising":
        return Fault(f"{seen} is no lower and upper limit", expected=expected)
    if not value:
        what = "the list is empty" if rule == "minItems" else "nothing stands in it"
        return Fault(what, expected=expected, remedy="fill it or leave it out")
    return Fault(f"the list holds {len(value)}", expected=expected if rule == "minItems" else f"at most {bound}")


def _of_type(value: Any, kinds: str | list[str], expected: str, names: list[str]) -> Fault:
    remedy = None
    if kinds == "string":
        known = f": {nearest('', names)}" if names else ""
        what, expected = "is not text", f"{expected}, between quotation marks{known}"
    elif kinds == "boolean":
        what = "is neither true nor false"
    elif kinds == "array":
        what = "is no list"
    elif kinds == "object":
        what = "is no table of keys"
    elif isinstance(value, float) and not math.isfinite(value):
        what = "is not a finite number"
    elif kinds == "integer" and _is_number(value):
        what = "is not a whole number"
    else:
        what = "is not a number"
        remedy = "write it without quotation marks and without its unit" if isinstance(value, str) else None
    return Fault(f"{shown(value)} {what}", expected=expected, remedy=remedy)


def wanted(held: Mapping[str, Any]) -> str:
    """Word what a key expects."""
    kind, unit = held.get("type"), f" {held['x-unit']}" if "x-unit" in held else ""
    if kind == "boolean":
        return "true or false"
    if "enum" in held:
        return nearest("", held["enum"]) if kind == "string" else " or ".join(f"{n:g}" for n in held["enum"]) + unit
    if kind == "array" and "minimum" in held["items"]:
        return f"[lower, upper] between {held['items']['minimum']:.8g} and {held['items']['maximum']:.8g}{unit}"
    if kind in ("number", "integer") or isinstance(kind, list):
        what = "a whole number" if kind == "integer" else "a number"
        pair = ", or [lower, upper]" if isinstance(kind, list) else ""
        return f"{what} from {held['minimum']:.8g} to {held['maximum']:.8g}{unit}{pair}"
    return str(held["title"])


def shown(value: object) -> str:
    """Write a value as the file has it, shortened."""
    if isinstance(value, str):
        return f"'{value[:40]}'"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and value.bit_length() > 64:
        return f"a number of {len(str(abs(value)))} digits"
    if isinstance(value, int | float):
        return f"{value:g}"
    named = ((list, "a list"), (dict, "a table"), (datetime.date, "a date"), (datetime.time, "a time"))
    return next((word for kind, word in named if isinstance(value, kind)), "this")


# --- what the sections say of each other ----------------------------------------------------------------------------


Held = Mapping[str, Sequence[Entry]]
"""The entries of each section."""

RESERVED = ("meter", "afternoon")
"""Names that belong to other things that are drawn."""


def faults_of_names(held: Held) -> Iterator[tuple[Entry, Fault]]:
    """List every name that something else has, with the section that has to take another."""
    for section in ("light_source", "lens", "circuit", "part", "lamp"):
        yield from _twins(held[section])
    yield from _shared_names(held)


def names_in(entries: Sequence[Entry]) -> list[str]:
    """List the names of a section."""
    return [entry.values["name"] for entry in entries if "name" in entry.values]


def _twins(entries: Sequence[Entry]) -> Iterator[tuple[Entry, Fault]]:
    first: dict[str, Entry] = {}
    for entry in entries:
        name = entry.values.get("name")
        if name is None:
            continue
        twin = first.setdefault(name.casefold(), entry)
        if twin is not entry:
            line = twin.lines.get("name", twin.lines[""])
            what = f"the name '{name}' stands there twice, first on line {line}"
            yield entry, Fault(what, key="name", expected=f"a name of its own for each [[{entry.section}]]")


def _shared_names(held: Held) -> Iterator[tuple[Entry, Fault]]:
    """Draws are told apart by the names of their owners, so no two owners may share one."""
    designations = {entry.values["filament"].casefold() for entry in held["lamp"] if "filament" in entry.values}
    filaments = {f"{designation}{part}" for designation in designations for part in ("", " major", " minor")}
    plain = {*COLOURS, *(coloured_lens.usual_name(colour, material) for colour in COLOURS for material in SUBSTANCE)}
    lens_names = {name.casefold() for name in names_in(held["lens"])}
    for entry in (*held["light_source"], *held["lens"]):
        name = entry.values.get("name", "")
        word = name.casefold()
        what = ""
        if word in RESERVED or word in filaments:
            what = f"'{name}' already names something else"
        elif entry.section == "lens" and word in plain:
            what = f"'{name}' already means a lens of which only the colour is known"
        elif entry.section == "light_source" and word in lens_names:
            what = f"'{name}' also names a lens"
        if what:
            yield entry, Fault(what, key="name", expected="another name")
