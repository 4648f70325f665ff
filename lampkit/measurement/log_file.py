"""The file of a log as it was written: its cells and lines, what they tell of the meter, and what had to be mended."""

import csv
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time
from itertools import pairwise, starmap
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import numpy as np

from lampkit import written_files
from lampkit.errors import Fault, InputError, nearest, refuse, unseen
from lampkit.measurement.meters import Infrared, MeterFacts, MeterKind, class_limit
from lampkit.statements import Statement, say


@dataclass(frozen=True, eq=False)
class LogFile:
    """A table as it was written, cell by cell, with what had to be mended to read it."""

    file: Path | None
    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]
    remarks: list[Statement] = field(default_factory=list)
    told: set[str] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)
    decimal_commas: bool = False
    heading: int = 1


def table_of(text: str, known: dict[str, str], place: Path | None) -> LogFile:
    """Take a text apart into a table of known columns."""
    remarks: list[Statement] = []
    lines = text.translate(SPACES).splitlines()
    body = [(i, line) for i, line in enumerate(lines, start=1) if line.strip() and not line.lstrip().startswith("#")]
    if not body:
        what = f"the {'text' if place is None else 'file'} is empty"
        raise InputError(what, file=place, expected="a heading line and one line for each reading")
    top = heading_of([one for _, one in body[:MOST_ABOVE]], known)
    if top:
        remarks.append(say("illuminance_log.above", lines=[str(line) for line, _ in body[:top]]))
    separator = separator_of(body[top][1])
    if separator != ",":
        remarks.append(say("illuminance_log.separator", semicolons=separator == ";"))
    line, heading = body[top]
    columns = _headings(place, line, names_in(heading, known), known)
    if len(body) == top + 1:
        raise InputError("there are headings but no readings", file=place, line=line, expected="a line a reading")
    rows, faults = [], list[Fault]()
    for line, content in body[top + 1 :]:
        if len(content) > LONGEST_LINE:
            what = f"the line has {len(content)} characters"
            raise InputError(what, file=place, line=line, expected=f"one reading, of at most {LONGEST_LINE}")
        if content.count('"') % 2:
            faults.append(Fault("a quotation mark is not closed", place, line, expected="marks in pairs"))
            continue
        cells = [cell.strip() for cell in next(csv.reader([content], delimiter=separator, skipinitialspace=True))]
        if len(cells) > len(columns) and not any(cells[len(columns) :]):
            cells = cells[: len(columns)]
        if len(cells) > len(columns):
            what = f"the line has {len(cells)} cells for {len(columns)} columns"
            remedy = 'put a cell that holds a comma, such as "13,5", in quotation marks'
            faults.append(Fault(what, place, line, expected="one cell a column", remedy=remedy))
            continue
        hidden = [(name, told) for name, cell in zip(columns, cells, strict=False) if (told := unseen(cell))]
        if hidden:
            # Two names that look alike would be two lamps.
            faults += [Fault(told, place, line, name, remedy="type the cell again") for name, told in hidden]
            continue
        filled = {c: v for c, v in zip(columns, cells, strict=False) if v and c}
        units_alone = bool(filled) and all(_is_unit(cell.strip("[]()")) for cell in filled.values())
        if units_alone or content.strip().casefold() == heading.strip().casefold():
            remarks.append(say("illuminance_log.heading_again", line=line))
        elif filled:
            rows.append((line, filled))
    return LogFile(place, columns, tuple(rows), remarks, set(), faults, _decimal_commas(rows), body[top][0])


MOST_ABOVE = 8
"""Lines in which the headings are looked for, below a title or a date [1]. Source: own judgement."""

SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f"), " ")
"""Spaces that a spreadsheet sets between digits, or before a unit; no two names differ by them."""

LENGTHS = {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "in": 0.0254, "ft": 0.3048}
"""Metres for one of each unit [m]. Source: definition of the inch, 25.4 mm."""

UNITS: tuple[dict[str, float], ...] = (
    {"lx": 1.0, "lux": 1.0, "klx": 1e3, "fc": 10.764},
    {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": 1e-3},
    {"deg": 1.0, "\N{DEGREE SIGN}": 1.0},
    {"lm": 1.0},
    LENGTHS,
)
"""What numbers are given in, kind by kind. Source: definitions; 1 lm/ft2 is 10.764 lx."""

ALSO_NOTES = ("notes", "remark", "remarks", "comment", "comments")
"""What a column of notes is called as well. Source: common practice, no source."""

LARGEST_FILE = 10_000_000
"""Largest log that is read [byte]; a hundred readings take about 5 kB, so that some hundred thousand find room."""

LONGEST_LINE = 4000
"""Longest line that is one reading, with its note [1]. Source: own judgement."""

LONGEST_NUMBER, LARGEST_NUMBER = 20, 1e7
"""Digits of a number, and where no quantity of a log goes on: the sun gives 1.3e5 lx [1]. Source: own judgement."""


def text_of(place: Path) -> tuple[str, list[Statement]]:
    """Read the text of a log, whatever program wrote it, with what is to be said of that."""
    raw = written_files.raw_of(place, largest=LARGEST_FILE, for_one="log", expected="a CSV log of readings")
    text, encoding = written_files.text_of(place, raw, remedy="save the sheet as CSV and load that", foreign=True)
    remarks = {"UTF-16": say("illuminance_log.utf_16"), "Windows text": say("illuminance_log.windows_text")}
    return text, [remarks[encoding]] if encoding in remarks else []


def separator_of(line: str) -> str:
    """Tell what stands between the cells of a line of headings."""
    return max(",;\t", key=line.count)


def heading_of(lines: Sequence[str], known: dict[str, str]) -> int:
    """Find the line of headings, which a title may stand above; the first where none has two of them."""
    return next((i for i, line in enumerate(lines) if len(known.keys() & names_in(line, known)) > 1), 0)


def names_in(line: str, known: dict[str, str]) -> tuple[str, ...]:
    """Read a line as headings: in small letters, with a unit in brackets behind its name or after a stroke."""
    spelled = {name.lower(): name for name in known} | dict.fromkeys(ALSO_NOTES, "note")
    cells = next(csv.reader([line[:LONGEST_LINE]], delimiter=separator_of(line)))
    plain = (re.sub(r"[\s_]*[\[(/]\s*(\w+)\s*[\])]?$", r"_\1", cell.strip()).lower() for cell in cells)
    return tuple(spelled.get(name, name) for name in (re.sub(r"\s+", "_", cell) for cell in plain))


def _is_unit(word: str) -> bool:
    return any(word.lower() in kind for kind in UNITS)


def _decimal_commas(rows: list[tuple[int, dict[str, str]]]) -> bool:
    """Tell whether numbers have a decimal comma throughout, so that what may be read in two ways is read so too."""
    numbers = [v for _, cells in rows for key, v in cells.items() if _is_unit(key.rpartition("_")[2])]
    commas, points = (
        any(re.search(rf"\d{mark}(\d{{1,2}}|\d{{4,}})(?![\d.,'])", v) for v in numbers) for mark in (",", r"\.")
    )
    return commas and not points


def _headings(place: Path | None, line: int, columns: tuple[str, ...], known: dict[str, str]) -> tuple[str, ...]:
    faults = []
    if not any(name in known for name in columns):
        needed = "headings between commas: lamp, source, illuminance_lx, distance_m (or _cm, _ft), dark_lx or state"
        there = ", ".join(f"'{one[:40]}'" for one in columns[:MOST_ABOVE] if one)
        remedy = f"rename what stands there: {there}" if len(columns) > 1 else None
        what = "the first line names no column of a log"
        raise InputError(what, file=place, line=line, expected=needed, remedy=remedy)
    for name in columns:
        if name and name not in known:
            what, found = f"the column '{name}' is unknown", re.search(r"fc$|foot.?candles?$|cd$|candelas?$", name)
            if found is None:
                faults.append(Fault(what, place, line, expected=nearest(name, known)))
            elif found[0][0] == "f":
                faults.append(Fault(what, place, line, remedy="multiply foot-candles by 10.764 to get lux"))
            else:
                remedy = "write the lux as read; candela belong into the vehicle file, as intensity_cd of a [[lamp]]"
                faults.append(Fault(what, place, line, remedy=remedy))
        elif name and columns.count(name) > 1:
            faults.append(Fault(f"the column '{name}' stands twice", place, line, expected="each heading once"))
    refuse(faults)
    return columns


def logged_number(log: LogFile, line: int, key: str, text: str) -> tuple[float, float]:
    """Read a number and the step of its last digit."""
    where: dict[str, Any] = {"file": log.file, "line": line, "key": key}
    plain, times = _without_unit(log, where, text.replace("\u2212", "-"))
    if re.fullmatch(r"(?i)(ol|o\.l\.?|over|overload|err|>.*|\d.*\+|1\s*\.?_+)", plain):
        raise InputError(
            f"the meter was over its range ('{text}')", **where, remedy="use a higher range or a greater distance"
        )
    grouped = re.fullmatch(r"[-+]?\d{1,3}(?:([ '\u2019,.])\d{3})(?:\1\d{3})*(?:([.,])\d+)?", plain)
    mark, point = (None, None) if grouped is None else grouped.groups()
    if mark is not None and (mark in " '\u2019" or (point is not None and mark != point)):
        plain = plain.replace(mark, "").replace(",", ".")
        add_remark(log, say("illuminance_log.thousands", line=line, text=text, read=plain), once=True)
    elif re.fullmatch(r"[-+]?[1-9]\d{0,2}[,.]\d{3}", plain) and (plain[-4] == ".") == log.decimal_commas:
        raise InputError(
            f"'{text}' may mean {plain.replace(plain[-4], '')} or {plain.replace(',', '.')}",
            **where,
            remedy="write it without a thousands separator and with a decimal point",
        )
    plain = plain.replace(" ", "")
    if re.fullmatch(r"[-+]?\d+,\d+", plain):
        add_remark(log, say("illuminance_log.decimal_commas"))
        plain = plain.replace(",", ".")
    if not re.fullmatch(r"(?i)[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?", plain):
        raise InputError(f"'{text}' is not a number", **where, expected="digits with a decimal point, such as 118.5")
    if len(plain) > LONGEST_NUMBER or not float(plain) < LARGEST_NUMBER:
        raise InputError(
            f"'{text[:LONGEST_NUMBER]}' is no number that a meter shows",
            **where,
            expected=f"at most {LONGEST_NUMBER} digits, below {LARGEST_NUMBER:,.0f}",
        )
    mantissa, _, power = plain.lower().partition("e")
    step = 10.0 ** (int(power or 0) - len(mantissa.partition(".")[2]))
    return float(plain) * times, step * times


def _without_unit(log: LogFile, where: dict[str, Any], text: str) -> tuple[str, float]:
    """Take the unit off a number, and tell how many of the unit of its column one of it is."""
    told = re.fullmatch(r"(?i)(.*\d[.,]?)\s*(\u00b0|[mv]|[a-z]{2,})\.?", text.strip())
    if told is None or told[2].lower() in ("ol", "over", "overload", "err"):
        return text.strip(), 1.0
    column = where["key"].rpartition("_")[2]
    alike = next((kind for kind in UNITS if column.lower() in kind), {})
    if told[2].lower() not in alike:
        raise InputError(f"'{text}' is given in {told[2]}", **where, expected=f"a number in {column}")
    times = alike[told[2].lower()] / alike[column.lower()]
    if abs(times - 1.0) > 1e-9:
        add_remark(log, say("illuminance_log.converted", line=where["line"], text=text, unit=column, times=times))
    else:
        add_remark(log, say("illuminance_log.units", line=where["line"], text=text), once=True)
    return told[1], times


def usual_spelling(name: str, known: Iterable[str]) -> str:
    """Give the known name that differs in capitals and spaces only; the name as it stands where none does."""
    usual = {" ".join(one.split()).casefold(): one for one in known}
    return name if name in usual.values() else usual.get(" ".join(name.split()).casefold(), name)


def add_remark(log: LogFile, remark: Statement, *, once: bool = False) -> None:
    """Note what was mended, each thing once; `once` if the first of its kind stands for all."""
    told = remark.key if once else repr(remark)
    if told not in log.told:
        log.told.add(told)
        log.remarks.append(remark)


P = ParamSpec("P")
T = TypeVar("T")

DISTANCES = {f"distance_{unit}": metres for unit, metres in LENGTHS.items()}
"""Metres for one of each unit [m]."""

COLUMNS = {
    "lamp": "which lamp of the vehicle, such as 'Stop lamp left'",
    "source": "what is fitted in it, such as 'filament' or 'red LED A'",
    "state": "on or off; an off line is the background and may leave out lamp and source",
    "illuminance_lx": "what the meter shows, with the digits that it shows",
    "dark_lx": "instead of off lines: the background, lamp off, before the reading",
    "dark_after_lx": "the background after it",
    **dict.fromkeys(DISTANCES, "from the lamp's face to the meter"),
    "time": "clock time, such as 21:40",
    "date": "the date, such as 2026-11-25, when the readings pass midnight",
    "repeat": "number of the repeat",
    "meter": "which meter, when there are several",
    "meter_kind": "phone or lux meter",
    "meter_class": "the class of a lux meter, L, A, B or C, as its manual states",
    "infrared": "what the meter shows of an infrared remote control in the dark: none, some or not tried",
    "meter_range": "one when all was read in one range, auto when the meter chose its range",
    "supply_V": "the voltage at the battery, or at the supply on a bench, while it was read",
    "tilt_deg": "how far the meter was turned away from the lamp",
    "face_mm": "the diameter of the lit face of the lamp",
    "claimed_lumens_lm": "what the box says",
    "lens": "fitted (as when left out) or removed",
    "note": "anything",
}
"""The columns of the log, with a word on each."""

ON = ("on", "1", "yes", "lit", "true")
LENS = {"fitted": True, "on": True, "with": True, "removed": False, "off": False, "without": False, "bare": False}
"""Words for a lens that is fitted or removed."""

OFF = ("off", "0", "no", "dark", "background", "false")


def tried(log: LogFile, make: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T | None:
    """Make something of a line, and note what is wrong with it; the other lines are read all the same."""
    try:
        return make(*args, **kwargs)
    except InputError as error:
        log.faults.extend(error.faults)
        return None


@dataclass(frozen=True, slots=True)
class LogLine:
    """A line whose distance, time and state are known."""

    line: int
    cells: dict[str, str]
    lit: bool
    distance: float
    minutes: float | None


def lines_of(log: LogFile, unit: str) -> list[LogLine]:
    """Read distance, time and state of each line, in the order in which they were taken."""
    read = {line: tried(log, logged_number, log, line, unit, c[unit]) for line, c in log.rows if unit in c}
    given = {line: np.nan if found is None else found[0] for line, found in read.items()}
    if not given:
        raise InputError("no distance was written down", file=log.file, key=unit, expected="the distance on each line")
    values = set(given.values())
    if len(given) < len(log.rows) and len(values) == 1:
        add_remark(log, say("illuminance_log.distance_missing", distance=values.pop()))
        given = {line: given.get(line, next(iter(given.values()))) for line, _ in log.rows}
    lines, before, day = [], None, ""
    moments: dict[str, list[tuple[str, float | None]]] = {}
    for line, cells in log.rows:
        lit = True if "state" not in log.columns else tried(log, _lit, log, line, cells)
        day = cells.get("date", day)  # it often stands on the first line only
        minutes = tried(log, _minutes, log, line, f"{day} {cells['time']}".strip()) if "time" in cells else None
        if minutes is not None and before is not None and minutes < before:
            in_order = "the lines in the order in which they were taken, with the date when they pass midnight"
            what = f"the time {cells['time']} is earlier than on the line before"
            log.faults.append(Fault(what, log.file, line, "time", in_order))
        before = minutes if minutes is not None else before
        tried(log, _check_distance, log, line, unit, given.get(line), bool(lit))
        if lit and "lamp" in cells:
            moments.setdefault(cells["lamp"], []).append((day, minutes))
        if lit is not None:
            lines.append(LogLine(line, cells, lit, given.get(line, np.nan) * DISTANCES[unit], minutes))
    apart = [lamp for lamp, read in moments.items() if any(starmap(_days_apart, pairwise(read)))]
    if apart:
        add_remark(log, say("illuminance_log.days", lamps=apart))
    return lines


ONE_EVENING = 720.0
"""Time between two readings beyond which they are of different days [min]. Source: own judgement."""


def _days_apart(one: tuple[str, float | None], other: tuple[str, float | None]) -> bool:
    """Tell whether two readings are of different days; one evening may pass midnight."""
    if one[1] is not None and other[1] is not None:
        return other[1] - one[1] > ONE_EVENING
    return one[0] != other[0]


def _check_distance(log: LogFile, line: int, unit: str, given: float | None, lit: bool) -> None:
    where: dict[str, Any] = {"file": log.file, "line": line, "key": unit}
    if given is None and lit:
        what = "the distance is missing, and the other lines have different ones"
        raise InputError(what, **where, expected="the distance of this reading")
    metres = np.nan if given is None else given * DISTANCES[unit]
    if np.isfinite(metres) and not 0.02 <= metres <= 50.0:
        raise InputError(
            f"a distance of {given:g} under '{unit}' is {metres:g} m",
            **where,
            expected="0.02 m to 50 m",
            remedy="check the unit in the heading",
        )


def _lit(log: LogFile, line: int, cells: dict[str, str]) -> bool:
    word = cells.get("state", "").lower()
    if word in ON:
        return True
    if word in OFF:
        return False
    said = f"the state '{cells['state']}' is unknown" if word else "the state is missing"
    raise InputError(said, file=log.file, line=line, key="state", expected="on or off")


def _minutes(log: LogFile, line: int, text: str) -> float:
    where: dict[str, Any] = {"file": log.file, "line": line, "key": "time"}
    read = re.sub(r"(?i)(?<=\d)\s*(uhr|hrs?|h)\.?$", "", text)
    if (half := re.fullmatch(r"(?i)(.*?)(1[0-2]|0?[1-9])([:.]\d\d\S*?)\s*([ap])\.?\s*m\.?", read)) is not None:
        read = f"{half[1]}{int(half[2]) % 12 + 12 * (half[4] in 'pP'):02d}{half[3]}"
    if (pointed := re.fullmatch(r"(.*[ T])?(\d{1,2})([.:h])(\d{2}\b.*)", read)) is not None:
        read = f"{pointed[1] or ''}{pointed[2]:0>2}:{pointed[4]}"
    if (dotted := re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4}),?\s+(.*)", read)) is not None:
        read = f"{dotted[3]}-{dotted[2]:0>2}-{dotted[1]:0>2} {dotted[4]}"
    if read not in (text, f"0{text}"):
        add_remark(log, say("illuminance_log.times", text=text, read=read), once=True)
    if (cut := re.fullmatch(r"(\d{1,2})\.(\d)", text)) is not None:
        # A spreadsheet that takes 20.50 for a number drops its zero.
        what = f"'{text}' may mean {cut[1]}:{cut[2]}0 or {cut[1]}:0{cut[2]}"
        raise InputError(what, **where, remedy="write the time with a colon")
    try:
        moment = datetime.fromisoformat(read) if len(read) > 8 else time.fromisoformat(read.rjust(5, "0"))
    except ValueError:
        raise InputError(f"'{text}' is not a time", **where, expected="21:40, 9:40 pm or 2026-11-25 21:40") from None
    days = moment.toordinal() if isinstance(moment, datetime) else 0
    return 1440.0 * days + 60.0 * moment.hour + moment.minute + moment.second / 60.0


def value_of(log: LogFile, entry: LogLine, key: str) -> tuple[float, float]:
    """Read the lux of a cell and the step of its last digit."""
    where: dict[str, Any] = {"file": log.file, "line": entry.line, "key": key}
    if key not in entry.cells:
        raise InputError("the value is missing", **where, expected=COLUMNS[key])
    value, step = logged_number(log, entry.line, key, entry.cells[key])
    if value < 0:
        raise InputError(f"an illuminance of {value:g} lx cannot be", **where, expected="zero or more")
    return value, step


BOUNDS = {
    "tilt_deg": (-60.0, 60.0, "a tilt", "deg", "60 deg or less"),
    "claimed_lumens_lm": (1e-9, np.inf, "a claim", "lm", "lumens above zero"),
    "supply_V": (3.0, 60.0, "a supply", "V", "3 V to 60 V"),
    "face_mm": (1.0, 2000.0, "a face", "mm", "1 mm to 2000 mm"),
}
"""Of cells that may be left out the least and the most, what it is, its unit, and the bounds in words. Source: own
judgement."""


def number_of(log: LogFile, entry: LogLine, key: str) -> float | None:
    """Read the number of a cell that may be left out."""
    if key not in entry.cells:
        return None
    number, (least, most, what, unit, expected) = logged_number(log, entry.line, key, entry.cells[key])[0], BOUNDS[key]
    if not least <= number <= most:
        told = f"{what} of {number:g} {unit} cannot be"
        raise InputError(told, file=log.file, line=entry.line, key=key, expected=expected)
    return number


def lens_was_fitted(log: LogFile, entry: LogLine) -> bool:
    """Tell whether the lens was fitted."""
    lens = entry.cells.get("lens", "fitted").lower()
    if lens not in LENS:
        what = f"'{lens}' does not say where the lens was"
        raise InputError(what, file=log.file, line=entry.line, key="lens", expected=COLUMNS["lens"])
    return LENS[lens]


def facts_of(log: LogFile) -> MeterFacts:
    """What the log tells of its meter; one answer on any line stands for the whole log."""
    kind = _one_of(log, "meter_kind", {k.value: k for k in MeterKind} | {"lux": MeterKind.LUX_METER})
    answers = {"none": Infrared.NONE, "some": Infrared.SOME, "not tried": Infrared.NOT_TRIED}
    found = {
        "kind": kind,
        "infrared": _one_of(log, "infrared", answers) or Infrared.NOT_TRIED,
        "one_range": _one_of(log, "meter_range", {"one": True, "auto": False}),
        "meter_class": _one_of(log, "meter_class", {c: c.upper() for c in "labc"}),
    }
    if found["meter_class"] is not None:
        class_limit(found["meter_class"])
        if kind is not MeterKind.LUX_METER:
            line, expected = next(n for n, cells in log.rows if "meter_class" in cells), "'lux meter' under meter_kind"
            raise InputError("a class belongs to a lux meter", file=log.file, line=line, expected=expected)
    return MeterFacts(**found)


def _one_of(log: LogFile, key: str, words: dict[str, Any]) -> Any:
    """Take the one answer that a column gives, on whatever line it stands."""
    given = [(line, cells[key]) for line, cells in log.rows if key in cells]
    for line, word in given:
        where: dict[str, Any] = {"file": log.file, "line": line, "key": key}
        if word.lower() not in words:
            raise InputError(f"'{word}' is unknown", **where, expected=" or ".join(words))
        if words[word.lower()] != words[given[0][1].lower()]:
            what = f"'{word}' stands here and '{given[0][1]}' on a line before"
            raise InputError(what, **where, remedy="give each meter a log of its own")
    return words[given[0][1].lower()] if given else None
