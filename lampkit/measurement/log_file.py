"""The file of a log as it was written, cell by cell, and the numbers in it, with what had to be mended to read them."""

import csv
import re
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


def table_of(text: str, known: dict[str, str], place: Path | None) -> LogFile:
    """Take a text apart into a table of known columns."""
    remarks: list[Statement] = []
    lines = text.splitlines()
    body = [(i, line) for i, line in enumerate(lines, start=1) if line.strip() and not line.lstrip().startswith("#")]
    if not body:
        what = f"the {'text' if place is None else 'file'} is empty"
        raise InputError(what, file=place, expected="a heading line and one line for each reading")
    separator = max(",;\t", key=body[0][1].count)
    if separator != ",":
        remarks.append(say("illuminance_log.separator", semicolons=separator == ";"))
    line, heading = body[0]
    columns = _headings(place, line, next(csv.reader([heading], delimiter=separator)), known)
    if len(body) == 1:
        raise InputError("there are headings but no readings", file=place, line=line, expected="a line a reading")
    rows, faults = [], list[Fault]()
    for line, content in body[1:]:
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
        if any(cells):
            rows.append((line, {c: v for c, v in zip(columns, cells, strict=False) if v and c}))
    return LogFile(place, columns, tuple(rows), remarks, faults=faults)


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


def _headings(place: Path | None, line: int, cells: list[str], known: dict[str, str]) -> tuple[str, ...]:
    spelled = {name.lower(): name for name in known}
    columns = tuple(cell.strip().lower().replace(" ", "_") for cell in cells)
    columns = tuple(spelled.get(name, name) for name in columns)
    faults = []
    if not any(name in known for name in columns):
        what = "the first line names no column of a log"
        raise InputError(what, file=place, line=line, expected=f"headings between commas: {nearest('', known)}")
    for name in columns:
        if name and name not in known:
            what = f"the column '{name}' is unknown"
            if name in ("illuminance_fc", "illuminance_footcandle", "illuminance_footcandles", "footcandles"):
                faults.append(Fault(what, place, line, remedy="multiply foot-candles by 10.764 to get lux"))
            else:
                faults.append(Fault(what, place, line, expected=nearest(name, known)))
        elif name and columns.count(name) > 1:
            faults.append(Fault(f"the column '{name}' stands twice", place, line, expected="each heading once"))
    refuse(faults)
    return columns


def logged_number(log: LogFile, line: int, key: str, text: str) -> tuple[float, float]:
    """Read a number and the step of its last digit."""
    where: dict[str, Any] = {"file": log.file, "line": line, "key": key}
    unit = key.rsplit("_", 1)[-1]
    plain = re.sub(rf"\s*({re.escape(unit)}|lux)$", "", text.strip(), flags=re.IGNORECASE).replace("\u2212", "-")
    plain = plain.replace("\u00a0", "").replace(" ", "")
    if plain != text.strip():
        add_remark(log, say("illuminance_log.read_as", line=line, text=text, read=plain))
    if re.fullmatch(r"(ol|o\.l\.?|over|overload|err|>.*|1\s*\.?_+)", plain, flags=re.IGNORECASE):
        raise InputError(
            f"the meter was over its range ('{text}')", **where, remedy="use a higher range or a greater distance"
        )
    if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+\.\d+", plain):
        add_remark(log, say("illuminance_log.thousands", line=line, text=text))
        plain = plain.replace(",", "")
    elif re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", plain):
        raise InputError(
            f"'{text}' may mean {plain.replace(',', '')} or {plain.replace(',', '.')}",
            **where,
            remedy="write it without a thousands separator and with a decimal point",
        )
    elif re.fullmatch(r"[-+]?\d+,\d+", plain):
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
    return float(plain), step


def add_remark(log: LogFile, remark: Statement) -> None:
    """Note what was mended, once."""
    told = repr(remark)
    if told not in log.told:
        log.told.add(told)
        log.remarks.append(remark)
