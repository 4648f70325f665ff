"""One line of a log: where and when it was read, lit or dark, and what its cells say."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any, ParamSpec, TypeVar

import numpy as np

from lampkit.errors import Fault, InputError
from lampkit.measurement.log_file import LENGTHS, LogFile, add_remark, logged_number
from lampkit.statements import say

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


@dataclass(frozen=True)
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
        if lit is not None:
            lines.append(LogLine(line, cells, lit, given.get(line, np.nan) * DISTANCES[unit], minutes))
    return lines


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
    read = re.sub(r"(?<=\d)\s*(uhr|hrs?|h)\.?$", "", text, flags=re.IGNORECASE)
    if (
        half := re.fullmatch(r"(.*?)(1[0-2]|0?[1-9])([:.]\d\d\S*?)\s*([ap])\.?\s*m\.?", read, re.IGNORECASE)
    ) is not None:
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


def value_of(log: LogFile, entry: LogLine, key: str, resolution: float | None) -> tuple[float, float]:
    """Read the lux of a cell and the step of its last digit."""
    where: dict[str, Any] = {"file": log.file, "line": entry.line, "key": key}
    if key not in entry.cells:
        raise InputError("the value is missing", **where, expected=COLUMNS[key])
    value, step = logged_number(log, entry.line, key, entry.cells[key])
    if value < 0:
        raise InputError(f"an illuminance of {value:g} lx cannot be", **where, expected="zero or more")
    return value, step if resolution is None else resolution


def tilt_of(log: LogFile, entry: LogLine) -> float:
    """Read how far the meter was turned away [deg]."""
    key = "tilt_deg"
    tilt = logged_number(log, entry.line, key, entry.cells[key])[0] if key in entry.cells else 0.0
    if not abs(tilt) <= 60.0:
        what = f"a tilt of {tilt:g} deg is too much"
        raise InputError(what, file=log.file, line=entry.line, key=key, expected="60 deg or less")
    return abs(tilt)


def claim_of(log: LogFile, entry: LogLine) -> float | None:
    """Read what the box says [lm]."""
    key = "claimed_lumens_lm"
    claimed = logged_number(log, entry.line, key, entry.cells[key])[0] if key in entry.cells else None
    if claimed is not None and not claimed > 0:
        what = f"a claim of {claimed:g} lm cannot be"
        raise InputError(what, file=log.file, line=entry.line, key=key, expected="lumens above zero")
    return claimed


def supply_of(log: LogFile, entry: LogLine) -> float | None:
    """Read the voltage at which it was read [V]."""
    key = "supply_V"
    supply = logged_number(log, entry.line, key, entry.cells[key])[0] if key in entry.cells else None
    if supply is not None and not 3.0 <= supply <= 60.0:
        what = f"a supply of {supply:g} V cannot be"
        raise InputError(what, file=log.file, line=entry.line, key=key, expected="3 V to 60 V")
    return supply


def lens_was_fitted(log: LogFile, entry: LogLine) -> bool:
    """Tell whether the lens was fitted."""
    lens = entry.cells.get("lens", "fitted").lower()
    if lens not in LENS:
        what = f"'{lens}' does not say where the lens was"
        raise InputError(what, file=log.file, line=entry.line, key="lens", expected=COLUMNS["lens"])
    return LENS[lens]
