"""Reads a hand-kept table: its encoding, its separators, its headings and its numbers, saying what was mended."""

import csv
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lampkit.errors import InputError, nearest


@dataclass(frozen=True, eq=False)
class LogFile:
    """A table as it was written, cell by cell, with what had to be mended to read it.

    Parameters
    ----------
    file : Path
        The file.
    columns : tuple of str
        The headings, in lower case.
    rows : tuple of (int, dict)
        Line number in the file, and the cells by heading, empty ones left out.
    remarks : list of str
        What was mended or skipped, in sentences.

    Source: the kit's own convention.
    """

    file: Path
    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]
    remarks: list[str] = field(default_factory=list)


def read(path: str | Path, known: dict[str, str]) -> LogFile:
    """Read a table of known columns.

    Parameters
    ----------
    path : str or Path
        The file: text, separated by commas, semicolons or tabs.
    known : dict of str to str
        The columns that may stand in it, with a word on each.

    Returns
    -------
    LogFile
        The table.

    Raises
    ------
    InputError
        The file cannot be read as a table, or a column is unknown or stands twice, said with the line.

    Source: the kit's own convention.
    """
    place = Path(path)
    if not place.is_file():
        raise InputError("there is no such file", file=place, expected="a CSV log of readings")
    text, remarks = _text(place)
    lines = text.splitlines()
    body = [(i, line) for i, line in enumerate(lines, start=1) if line.strip() and not line.lstrip().startswith("#")]
    if not body:
        raise InputError("the file is empty", file=place, expected="a heading line and one line for each reading")
    separator = max(",;\t", key=body[0][1].count)
    if separator != ",":
        remarks.append(f"The columns are separated by {'semicolons' if separator == ';' else 'tabs'}: accepted.")
    line, heading = body[0]
    columns = _headings(place, line, next(csv.reader([heading], delimiter=separator)), known)
    if len(body) == 1:
        raise InputError("there are headings but no readings", file=place, line=line, expected="a line a reading")
    rows = []
    for line, content in body[1:]:
        if content.count('"') % 2:
            raise InputError("a quotation mark is not closed", file=place, line=line, expected="marks in pairs")
        cells = [cell.strip() for cell in next(csv.reader([content], delimiter=separator, skipinitialspace=True))]
        if len(cells) > len(columns) and not any(cells[len(columns) :]):
            cells = cells[: len(columns)]
        if len(cells) > len(columns):
            raise InputError(
                f"the line has {len(cells)} cells for {len(columns)} columns",
                file=place,
                line=line,
                expected="one cell a column",
                remedy='put a cell that holds a comma, such as "13,5", in quotation marks',
            )
        if any(cells):
            rows.append((line, {c: v for c, v in zip(columns, cells, strict=False) if v and c}))
    return LogFile(place, columns, tuple(rows), remarks)


def _text(place: Path) -> tuple[str, list[str]]:
    raw = place.read_bytes()
    if raw[:2] == b"PK" or raw[:4] == b"\xd0\xcf\x11\xe0" or b"\x00" in raw[:400].replace(b"\xff\xfe", b"")[:1]:
        raise InputError("this is not a text file", file=place, remedy="save the sheet as CSV and load that")
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16"), ["The file is written in UTF-16: accepted."]
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace"), ["The file is not in UTF-8; it was read as Windows text."]


def _headings(place: Path, line: int, cells: list[str], known: dict[str, str]) -> tuple[str, ...]:
    columns = tuple(cell.strip().lower().replace(" ", "_") for cell in cells)
    for name in columns:
        if name and name not in known:
            what = f"the column '{name}' is unknown"
            if name in ("illuminance_fc", "illuminance_footcandle", "illuminance_footcandles", "footcandles"):
                raise InputError(what, file=place, line=line, remedy="multiply foot-candles by 10.764 to get lux")
            raise InputError(what, file=place, line=line, expected=nearest(name, known))
        if name and columns.count(name) > 1:
            raise InputError(f"the column '{name}' stands twice", file=place, line=line, expected="each heading once")
    return columns


def number(log: LogFile, line: int, key: str, text: str) -> tuple[float, float]:
    """Read a number and the step of its last digit.

    Parameters
    ----------
    log : LogFile
        The table; what was mended is added to its remarks.
    line : int [1]
        The line, counted from one.
    key : str
        The column.
    text : str
        The cell.

    Returns
    -------
    tuple of float [1]
        The number and one step of the last digit that was written.

    Raises
    ------
    InputError
        The cell is not a number, or it can be read in two ways.

    Source: the kit's own convention.
    """
    where: dict[str, Any] = {"file": log.file, "line": line, "key": key}
    unit = key.rsplit("_", 1)[-1]
    plain = re.sub(rf"\s*({re.escape(unit)}|lux)$", "", text.strip(), flags=re.IGNORECASE).replace("\u2212", "-")
    plain = plain.replace("\u00a0", "").replace(" ", "")
    if plain != text.strip():
        _say(log, f"Line {line}: '{text}' was read as {plain}.")
    if re.fullmatch(r"(ol|o\.l\.?|over|overload|err|>.*|1\s*\.?_+)", plain, flags=re.IGNORECASE):
        raise InputError(
            f"the meter was over its range ('{text}')", **where, remedy="use a higher range or a greater distance"
        )
    if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+\.\d+", plain):
        _say(log, f"Line {line}: the commas in '{text}' were read as thousands separators.")
        plain = plain.replace(",", "")
    elif re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", plain):
        raise InputError(
            f"'{text}' may mean {plain.replace(',', '')} or {plain.replace(',', '.')}",
            **where,
            remedy="write it without a thousands separator and with a decimal point",
        )
    elif re.fullmatch(r"[-+]?\d+,\d+", plain):
        _say(log, "Decimal commas were read as decimal points.")
        plain = plain.replace(",", ".")
    if not re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?", plain, flags=re.IGNORECASE):
        raise InputError(f"'{text}' is not a number", **where, expected="digits with a decimal point, such as 118.5")
    mantissa, _, power = plain.lower().partition("e")
    step = 10.0 ** (int(power or 0) - len(mantissa.partition(".")[2]))
    return float(plain), step


def _say(log: LogFile, remark: str) -> None:
    if remark not in log.remarks:
        log.remarks.append(remark)
