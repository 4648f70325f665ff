"""The file of a log as it was written, cell by cell, and the numbers in it, with what had to be mended to read them."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lampkit import written_files
from lampkit.errors import Fault, InputError, nearest, refuse, unseen
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
        what = "the first line names no column of a log"
        raise InputError(what, file=place, line=line, expected=f"headings between commas: {nearest('', known)}")
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
    if re.fullmatch(r"(ol|o\.l\.?|over|overload|err|>.*|\d.*\+|1\s*\.?_+)", plain, flags=re.IGNORECASE):
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
    if not re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?", plain, flags=re.IGNORECASE):
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
    told = re.fullmatch(r"(.*\d[.,]?)\s*(\u00b0|[mv]|[a-z]{2,})\.?", text.strip(), flags=re.IGNORECASE)
    if told is None or re.fullmatch(r"ol|over|overload|err", told[2], flags=re.IGNORECASE):
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


def add_remark(log: LogFile, remark: Statement, *, once: bool = False) -> None:
    """Note what was mended, each thing once; `once` if the first of its kind stands for all."""
    told = remark.key if once else repr(remark)
    if told not in log.told:
        log.told.add(told)
        log.remarks.append(remark)
