"""Reads vehicle.toml: which keys it may hold, in which unit and range, and on which line each of them stands."""

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from lampkit.errors import InputError, nearest
from lampkit.sources import leds

Kind = Literal["text", "long text", "texts", "number", "whole number", "range", "number or range", "yes or no"]


@dataclass(frozen=True)
class Key:
    """One key that may stand in a section."""

    name: str
    kind: Kind
    means: str
    required: bool = False
    unit: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    choices: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()

    def wanted(self) -> str:
        """Word what the key expects."""
        unit = f" {self.unit}" if self.unit else ""
        if self.kind in ("text", "long text", "texts"):
            return self.means
        if self.kind == "yes or no":
            return "true or false"
        if self.numbers:
            return " or ".join(f"{n:g}" for n in self.numbers) + unit
        if self.kind == "range":
            return f"[lower, upper] between {self.low:g} and {self.high:g}{unit}"
        what = "a whole number" if self.kind == "whole number" else "a number"
        or_range = ", or [lower, upper]" if self.kind == "number or range" else ""
        return f"{what} from {self.low:g} to {self.high:g}{unit}{or_range}"


COLOURS = ("red", "amber", "clear", "green", "blue")
MATERIALS = ("plastic", "old glass")
POSITIONS = (
    *("front left", "front right", "front", "side left", "side right"),
    *("rear left", "rear right", "rear", "roof", "dashboard"),
)
FLASHERS = ("thermal series", "hot wire", "electronic", "load-independent")
TELL_TALES = ("single between sides", "one each side", "from the flasher")
OUTSIDE = ("zero", "hold")

LISTS = ("light_source", "lens", "circuit", "part", "lamp")
"""The sections of which there may be several, in double brackets."""

KEYS: dict[str, tuple[Key, ...]] = {
    "vehicle": (
        Key("name", "text", "the vehicle's name", required=True),
        Key("year", "whole number", "the year of first use", low=1880, high=2100),
        Key("supply_voltage_V", "number", "the nominal supply", required=True, unit="V", numbers=(6, 12, 24)),
        Key(
            "running_voltage_V", "number", "the voltage at the lamps with the engine running", unit="V", low=5, high=32
        ),
        Key("earth", "text", "'negative' or 'positive'", choices=("negative", "positive")),
        Key("rules", "text", "whose published limits the lamps are held against"),
        Key("currency", "text", "the currency of the prices"),
        Key("budget", "number", "the most that the light sources and parts may cost", low=0, high=1e6),
        Key("note", "long text", "anything worth keeping"),
    ),
    "light_source": (
        Key("name", "text", "a name of its own", required=True),
        Key(
            "claimed_lumens_lm",
            "number",
            "the lumens that the seller claims",
            required=True,
            unit="lm",
            low=0.1,
            high=20000,
        ),
        Key("colour", "text", "the colour of a coloured LED", choices=leds.colours()),
        Key("peak_nm", "number", "the wavelength of the peak of a coloured LED", unit="nm", low=400, high=720),
        Key("fwhm_nm", "number", "the width at half of the peak", unit="nm", low=5, high=150),
        Key("cct_K", "number", "the correlated colour temperature of a white LED", unit="K", low=2200, high=8000),
        Key("duv", "number", "how far a white LED lies off the Planckian locus", low=-0.01, high=0.01),
        Key("spectrum", "text", "a CSV file with the measured spectrum, in the same folder"),
        Key("outside", "text", "what to do beyond the ends of that table: 'zero' or 'hold'", choices=OUTSIDE),
        Key("power_W", "number", "the electrical power", unit="W", low=0.01, high=200),
        Key("voltage_V", "number or range", "the supply that it is made for", unit="V", low=4, high=60),
        Key("true_over_claimed", "range", "true over claimed lumens, 95 % range", low=0.01, high=3),
        Key("layout", "text", "where its emitters look", choices=("all-round", "forward")),
        Key("feed", "text", "what limits its current", choices=("regulated", "resistor")),
        Key("either_polarity", "yes or no", "whether it lights either way round"),
        Key("dim_level_of", "text", "the light source of which this is the dim level"),
        Key("base", "text", "its base, as in 'BA15s'"),
        Key("price", "number", "the price of one", low=0, high=1e5),
        Key("note", "long text", "anything worth keeping"),
    ),
    "lens": (
        Key("name", "text", "a name of its own", required=True),
        Key("colour", "text", "the colour seen with a filament lamp behind it", required=True, choices=COLOURS),
        Key("material", "text", "'plastic' or 'old glass'", choices=MATERIALS),
        Key("curve", "text", "a CSV file with the measured transmittance, in the same folder"),
        Key("outside", "text", "what to do beyond the ends of that table: 'zero' or 'hold'", choices=OUTSIDE),
        Key("edge_nm", "number", "the wavelength at half of the plateau", unit="nm", low=400, high=700),
        Key("width_nm", "number", "the width of the edge", unit="nm", low=2, high=40),
        Key("edge_uncertainty_nm", "number", "the standard uncertainty of the edge", unit="nm", low=0.1, high=20),
        Key("luminous_transmittance", "number", "that under illuminant A", low=0.001, high=0.95),
        Key("x", "number", "chromaticity x behind the lens under illuminant A", low=0, high=0.8),
        Key("y", "number", "chromaticity y behind the lens under illuminant A", low=0, high=0.9),
        Key("thickness_ratio", "number", "thickness over that of the lens so described", low=0.1, high=10),
        Key("dye_left", "number", "share of the dye that fading has left", low=0.01, high=3),
        Key("note", "long text", "anything worth keeping"),
    ),
    "circuit": (
        Key("name", "text", "a name of its own", required=True),
        Key("fuse_A", "number", "the continuous rating of the fuse", unit="A", low=0.5, high=100),
        Key("wire_length_m", "number", "the length from the supply to the lamps, one way", unit="m", low=0.1, high=60),
        Key("wire_area_mm2", "number", "the section of the conductor", unit="mm2", low=0.2, high=50),
        Key("switch_rating_A", "number", "what the switch may carry", unit="A", low=0.1, high=100),
        Key("flasher", "text", "the kind of flasher", choices=FLASHERS),
        Key("flasher_rated_load_W", "number", "the lamp load printed on the flasher", unit="W", low=1, high=500),
        Key("tell_tale", "text", "how the tell-tale of the turn lamps is connected", choices=TELL_TALES),
        Key("tell_tale_W", "number", "the power of its lamp", unit="W", low=0.05, high=10),
        Key("note", "long text", "anything worth keeping"),
    ),
    "part": (
        Key("name", "text", "a name of its own", required=True),
        Key(
            "kind",
            "text",
            "what it is",
            required=True,
            choices=("load-independent flasher", "ballast resistor", "pair of diodes"),
        ),
        Key("price", "number", "the price of one", required=True, low=0, high=1e5),
        Key("resistance_ohm", "number", "the resistance of a ballast resistor", unit="ohm", low=0.1, high=10000),
        Key("power_W", "number", "the rated power of a ballast resistor", unit="W", low=0.1, high=500),
        Key("note", "long text", "anything worth keeping"),
    ),
    "lamp": (
        Key("name", "text", "a name of its own", required=True),
        Key("function", "text", "the lamp function, as in 'stop'", required=True),
        Key("lens", "text", "the colour of the lens, or the name of a [[lens]]", required=True),
        Key("filament", "text", "the designation of the filament lamp, as in 'P21W'", required=True),
        Key("candidates", "texts", "a list of names of light sources on offer", required=True),
        Key("position", "text", "where it sits", choices=POSITIONS),
        Key("lens_material", "text", "'plastic' or 'old glass'", choices=MATERIALS),
        Key("filament_part", "text", "which filament of a double-filament lamp", choices=("major", "minor")),
        Key("holder", "text", "the lamp holder, where two lamps share a double-filament one"),
        Key("quantity", "whole number", "how many light sources the lamp takes", low=1, high=20),
        Key("road_rule", "yes or no", "whether a road rule sets limits for it"),
        Key("circuit", "text", "the name of a [[circuit]]"),
        Key(
            "intensity_cd",
            "number",
            "the intensity on the axis with the filament, as measured",
            unit="cd",
            low=0.01,
            high=1e5,
        ),
        Key("compartments", "whole number", "how many lighted compartments it has", low=1, high=3),
        Key(
            "headlamp_spacing_mm",
            "number",
            "the gap between the lit edge of a front turn lamp and that of the headlamp",
            unit="mm",
            low=0,
            high=2000,
        ),
        Key("note", "long text", "anything worth keeping"),
    ),
}
"""The keys of each section, the required ones among them."""

NAME = "vehicle.toml"

LARGEST_FILE = 1_000_000
"""Largest vehicle file that is read [byte]; a vehicle of twenty lamps takes about 10 kB."""

UNIT_WORDS = (
    *(
        "lm",
        "lumen",
        "lumens",
        "klm",
        "mlm",
        "nm",
        "um",
        "mm",
        "cm",
        "m",
        "ft",
        "angstrom",
        "K",
        "kelvin",
        "C",
        "W",
        "mW",
    ),
    *(
        "kW",
        "watt",
        "watts",
        "V",
        "mV",
        "volt",
        "volts",
        "A",
        "mA",
        "amp",
        "amps",
        "ohm",
        "kohm",
        "cd",
        "mcd",
        "candela",
    ),
    *("lx", "lux", "mm2", "cm2", "awg", "mil", "percent", "pct"),
)


@dataclass(frozen=True)
class Entry:
    """One section of the file, such as one lamp, with the line of each key."""

    section: str
    values: Mapping[str, Any]
    file: Path
    lines: Mapping[str, int]

    def refusal(self, key: str, what: str, *, expected: str | None = None, remedy: str | None = None) -> InputError:
        """Word what is wrong with one key, with the file and the line."""
        name = self.values.get("name")
        owner = f"'{name}'" if isinstance(name, str) and len(name) < 60 and key != "name" else ""
        named = " of ".join(part for part in (key, owner or f"[{self.section}]" if self.section else "") if part)
        line = self.lines.get(key, self.lines.get(""))
        return InputError(what, file=self.file, line=line, key=named or None, expected=expected, remedy=remedy)


def read(place: str | Path) -> dict[str, tuple[Entry, ...]]:
    """Read the vehicle file of a folder and check every key by itself."""
    try:
        file = _find(Path(place))
    except OSError as error:
        raise InputError(f"it cannot be read ({error.strerror})", file=place, expected="a folder") from None
    text = _text(file)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(file, text, str(error)) from None
    except RecursionError:
        raise InputError("the brackets are nested too deeply", file=file, expected="plain keys and lists") from None
    lines = _lines_of_keys(text)
    if not document:
        raise InputError("the file is empty", file=file, expected="a [vehicle] section and [[lamp]] sections")
    for section in document:
        if section not in KEYS:
            raise InputError(
                f"there is no section '{section[:40]}'",
                file=file,
                line=lines.get((section, 0, "")) or lines.get(("", 0, section)),
                expected=nearest(section, [f"[[{s}]]" if s in LISTS else f"[{s}]" for s in KEYS]),
            )
    for section in ("vehicle", "lamp"):
        if section not in document:
            heading = f"[[{section}]]" if section in LISTS else f"[{section}]"
            raise InputError(f"there is no section {heading}", file=file, expected="one in every vehicle file")
    return {section: _entries(file, section, document.get(section), lines) for section in KEYS}


def _find(place: Path) -> Path:
    if place.is_dir():
        file = place / NAME
        if not file.exists():
            raise InputError(f"there is no {NAME} in this folder", file=place, expected=f"a folder that holds {NAME}")
    else:
        file = place
        if not file.exists():
            raise InputError("there is no such folder", file=place, expected=f"a folder that holds {NAME}")
        if file.suffix != ".toml":
            raise InputError("this is not a vehicle", file=place, expected=f"a folder that holds {NAME}")
    if not file.is_file():
        raise InputError("this is not a file", file=file, expected="a text file")
    return file


def _text(file: Path) -> str:
    try:
        size = file.stat().st_size
        if size > LARGEST_FILE:
            raise InputError(
                f"the file holds {size / 1e6:.1f} MB, too much for one vehicle",
                file=file,
                expected=f"at most {LARGEST_FILE / 1e6:g} MB",
            )
        raw = file.read_bytes()
    except OSError as error:
        raise InputError(f"the file cannot be read ({error.strerror})", file=file) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            "the file is not plain text in UTF-8",
            file=file,
            line=raw[: error.start].count(b"\n") + 1,
            remedy="save it again with the encoding UTF-8",
        ) from None
    if "\x00" in text:
        line = text[: text.index("\x00")].count("\n") + 1
        raise InputError(
            "the file holds binary data", file=file, line=line, remedy="save it again as plain text, UTF-8"
        )
    return text.replace("\r\n", "\n")


def _not_toml(file: Path, text: str, message: str) -> InputError:
    found = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    line = int(found.group(1)) if found and found.group(1) else text.rstrip("\n").count("\n") + 1
    said = message[: found.start()] if found else message
    remedy = "text stands between quotation marks, numbers without, and every opened bracket is closed"
    if said.startswith("Cannot overwrite"):
        said, remedy = "the key stands there twice", "keep one of them"
    elif said.startswith("Cannot declare"):
        said, remedy = "the section stands there twice", "write [[lamp]], in double brackets, for what there is more of"
    else:
        said = f"this is not TOML ({said[:1].lower()}{said[1:]})"
    return InputError(said, file=file, line=line, remedy=remedy)


def _lines_of_keys(text: str) -> dict[tuple[str, int, str], int]:
    """Find the line of each key as (section, number of the section, key); text that tomllib accepted is assumed."""
    found: dict[tuple[str, int, str], int] = {}
    counts: dict[str, int] = {}
    section, number = "", 0
    inside: Literal["", '"""', "'''"] = ""
    depth = 0
    for n, line in enumerate(text.split("\n"), start=1):
        rest = line
        if not inside and depth == 0:
            heading = re.match(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]", line)
            key = re.match(r"""\s*("[^"]*"|'[^']*'|[\w-]+)\s*([.=].*)$""", line)
            if heading:
                section = heading.group(2).strip("\"'")
                counts[section] = number = counts.get(section, -1) + 1
                found[(section, number, "")] = n
                continue
            if key:
                found.setdefault((section, number, key.group(1).strip("\"'")), n)
                rest = key.group(2)
        inside, depth = _after(rest, inside, depth)
    return found


def _after(rest: str, inside: Literal["", '"""', "'''"], depth: int) -> tuple[Literal["", '"""', "'''"], int]:
    """Walk along a line: whether a text in triple quotes or a bracket is still open at its end."""
    i = 0
    while i < len(rest):
        three = rest[i : i + 3]
        if inside:
            if inside == '"""' and rest[i] == "\\":
                i += 1
            elif three == inside:
                inside = ""
                i += 2
        elif three == '"""':
            inside = '"""'
            i += 2
        elif three == "'''":
            inside = "'''"
            i += 2
        elif rest[i] in "\"'":
            closed = re.match(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', rest[i:])
            i += len(closed.group(0)) - 1 if closed else 0
        elif rest[i] == "#":
            break
        else:
            depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(rest[i], 0)
        i += 1
    return inside, depth


def _entries(file: Path, section: str, held: Any, lines: Mapping[tuple[str, int, str], int]) -> tuple[Entry, ...]:
    if held is None:
        return ()
    double = section in LISTS
    first = lines.get((section, 0, "")) or lines.get(("", 0, section))
    if double != isinstance(held, list) or not (double or isinstance(held, dict)):
        there, wanted = (f"[{section}]", f"[[{section}]]") if double else (f"[[{section}]]", f"[{section}]")
        raise InputError(
            f"the section {section} has the wrong brackets or none",
            file=file,
            line=first,
            expected=f"{wanted}, not {there}" if isinstance(held, dict | list) else wanted,
        )
    tables = held if double else [held]
    if any(not isinstance(table, dict) for table in tables) or not tables:
        raise InputError(f"the section {section} holds no keys", file=file, line=first, expected=f"[[{section}]]")
    entries = []
    for number, table in enumerate(tables):
        own = {key: line for (s, n, key), line in lines.items() if s == section and n == number}
        own.setdefault("", first or 1)
        entry = Entry(section, MappingProxyType(table), file, MappingProxyType(own))
        _refuse_unknown_keys(entry)
        for key in KEYS[section]:
            _check(entry, key)
        entries.append(entry)
    return tuple(entries)


def _refuse_unknown_keys(entry: Entry) -> None:
    known = {key.name: key for key in KEYS[entry.section]}
    for given in entry.values:
        if given in known:
            continue
        words = {given.lower(), _stem(given).lower()}
        same = [key for key in known.values() if _stem(key.name).lower() in words]
        if same and same[0].unit:
            raise entry.refusal(
                given,
                f"the key '{given}' does not carry the unit {same[0].unit}",
                expected=f"'{same[0].name}', a value in {same[0].unit}",
            )
        raise entry.refusal(
            given[:40], f"there is no key '{given[:40]}' in this section", expected=nearest(given, known)
        )


def _stem(key: str) -> str:
    head, _, tail = key.rpartition("_")
    return head if head and tail.lower() in {word.lower() for word in UNIT_WORDS} else key


def _check(entry: Entry, key: Key) -> None:
    if key.name not in entry.values:
        if key.required:
            raise entry.refusal("", f"the key '{key.name}' is missing", expected=key.means)
        return
    value = entry.values[key.name]
    wanted = key.wanted()
    if key.kind in ("text", "long text"):
        _check_text(entry, key, value)
    elif key.kind == "texts":
        if not isinstance(value, list) or any(not isinstance(item, str) for item in value):
            raise entry.refusal(key.name, f"{_shown(value)} is no list of names", expected=wanted)
        if not value:
            raise entry.refusal(key.name, "the list is empty", expected=wanted, remedy="name one or leave the lamp out")
        twice = [item for item in value if value.count(item) > 1]
        if twice:
            raise entry.refusal(key.name, f"'{twice[0][:40]}' stands there twice", expected="each name once")
    elif key.kind == "yes or no":
        if not isinstance(value, bool):
            raise entry.refusal(key.name, f"{_shown(value)} is neither true nor false", expected=wanted)
    elif key.kind == "range" or (key.kind == "number or range" and isinstance(value, list)):
        if not isinstance(value, list) or len(value) != 2:
            raise entry.refusal(key.name, f"{_shown(value)} is no lower and upper limit", expected=wanted)
        for item in value:
            _check_number(entry, key, item)
        if value[0] >= value[1]:
            raise entry.refusal(key.name, f"the lower limit {value[0]:g} is not below the upper limit {value[1]:g}")
    else:
        _check_number(entry, key, value)


def _check_text(entry: Entry, key: Key, value: Any) -> None:
    wanted = key.wanted()
    if not isinstance(value, str):
        raise entry.refusal(key.name, f"{_shown(value)} is not text", expected=f"{wanted}, between quotation marks")
    if not value.strip() or (key.kind == "text" and value != value.strip()):
        what = "the text is empty" if not value.strip() else "the text begins or ends with a space"
        raise entry.refusal(key.name, what, expected=wanted)
    longest = 2000 if key.kind == "long text" else 80
    if len(value) > longest:
        raise entry.refusal(key.name, f"the text has {len(value)} characters", expected=f"at most {longest}")
    lines = [value] if key.kind == "text" else value.replace("\t", " ").split("\n")
    if not all(line.isprintable() for line in lines):
        raise entry.refusal(key.name, "the text holds a line break or a control character", expected="plain words")
    if key.choices and value not in key.choices:
        raise entry.refusal(key.name, f"'{value[:40]}' is unknown", expected=nearest(value, key.choices))


def _check_number(entry: Entry, key: Key, value: Any) -> None:
    wanted = key.wanted()
    if isinstance(value, bool) or not isinstance(value, int | float):
        remedy = "write it without quotation marks and without its unit" if isinstance(value, str) else None
        raise entry.refusal(key.name, f"{_shown(value)} is not a number", expected=wanted, remedy=remedy)
    if key.kind == "whole number" and not isinstance(value, int):
        raise entry.refusal(key.name, f"{value:g} is not a whole number", expected=wanted)
    if not math.isfinite(value):
        raise entry.refusal(key.name, f"{value} is not a finite number", expected=wanted)
    if key.numbers and value not in key.numbers:
        raise entry.refusal(key.name, f"{value:g} is not among them", expected=wanted)
    if not key.low <= value <= key.high:
        side = f"below {key.low:g}" if value < key.low else f"above {key.high:g}"
        raise entry.refusal(key.name, f"{value:g}{' ' + key.unit if key.unit else ''} is {side}", expected=wanted)


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return f"'{value[:40]}'"
    if isinstance(value, bool):
        return str(value).lower()
    return str(value)[:40] if isinstance(value, int | float) else "a list" if isinstance(value, list) else "a table"
