"""The illuminance log: loading what was written down in the garage, pairing on with dark, refusing what is no use."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lampkit import show
from lampkit.errors import InputError
from lampkit.measurement.log_file import LogFile, add_remark, logged_number, table_of, text_of
from lampkit.measurement.meters import NOTHING_TOLD, Infrared, MeterFacts, MeterKind, class_limit
from lampkit.measurement.reading import DarkReading, Reading
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    import pandas as pd


DISTANCES = {"distance_m": 1.0, "distance_mm": 1e-3, "distance_in": 0.0254, "distance_ft": 0.3048}
"""Metres for one of each unit [m]. Source: definition of the inch, 25.4 mm."""

COLUMNS = {
    "lamp": "which lamp of the vehicle, such as 'Stop lamp left'",
    "source": "what is fitted in it, such as 'filament' or 'red LED A'",
    "state": "on or off; an off line is the background and may leave out lamp and source",
    "illuminance_lx": "what the meter shows, with the digits that it shows",
    "dark_lx": "instead of off lines: the background, lamp off, before the reading",
    "dark_after_lx": "the background after it",
    **dict.fromkeys(DISTANCES, "from the lamp's face to the meter"),
    "time": "clock time, such as 21:40",
    "repeat": "number of the repeat",
    "meter": "which meter, when there are several",
    "meter_kind": "phone or lux meter",
    "meter_class": "the class of a lux meter, L, A, B or C, as its manual states",
    "infrared": "what the meter shows of an infrared remote control in the dark: none, some or not tried",
    "meter_range": "one when all was read in one range, auto when the meter chose its range",
    "supply_V": "the voltage at the lamp, or else at the battery, while it was read",
    "tilt_deg": "how far the meter was turned away from the lamp",
    "claimed_lumens_lm": "what the box says",
    "lens": "fitted (as when left out) or removed",
    "note": "anything",
}
"""The columns of the log, with a word on each."""

FULL_SCALES = (1999.0, 3999.0, 19999.0, 32767.0, 32768.0, 39999.0, 65535.0, 65536.0, 199999.0, 200000.0)
"""Where displays and converters commonly end [lx]. Source: common practice, no source."""

ON = ("on", "1", "yes", "lit", "true")
LENS = {"fitted": True, "on": True, "with": True, "removed": False, "off": False, "without": False, "bare": False}
"""Words for a lens that is fitted or removed."""

OFF = ("off", "0", "no", "dark", "background", "false")


@dataclass(frozen=True, eq=False)
class IlluminanceLog:
    """A log of readings that can be used.

    Parameters
    ----------
    file : Path or None
        The file that it was read from, if any.
    readings : tuple of Reading
        The readings with a lamp lit, in the order of the file.
    remarks : tuple of Statement
        What was mended, filled in or skipped, in sentences.
    facts : MeterFacts
        What the log tells of the meter.

    Examples
    --------
    The invented log of the library van needs no mending.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> lk.measurement.load_log(path).remarks
    ()
    """

    file: Path | None
    readings: tuple[Reading, ...]
    remarks: tuple[Statement, ...]
    facts: MeterFacts = NOTHING_TOLD

    def table(self) -> "pd.DataFrame":
        """List the readings with a lamp lit, each less its background."""
        import pandas as pd

        return pd.DataFrame(
            {
                "lamp": r.lamp,
                "source": r.source,
                "lens": "fitted" if r.lens_fitted else "removed",
                "reading [lx]": r.illuminance,
                "background [lx]": round(r.background, 3),
                "net [lx]": round(r.net, 3),
                "distance [m]": r.distance,
            }
            for r in self.readings
        )

    def __repr__(self) -> str:
        count = say("illuminance_log.count", number=len(self.readings))
        return "\n".join([str(count), self.table().to_string(index=False), *map(str, self.remarks)])

    def _repr_html_(self) -> str:
        return show.written(self.table())


def load_log(path: str | Path, *, resolution: float | None = None) -> IlluminanceLog:
    """Read a log of lux readings, pair each lit reading with its background, and refuse what cannot be used.

    Parameters
    ----------
    path : str or Path
        A CSV file with the columns of COLUMNS: either on and off lines in the order in which they were taken, or one
        line a reading with its background in dark_lx.
    resolution : float, optional [lx]
        One step of the meter's last digit; taken from the digits written when left out.

    Returns
    -------
    IlluminanceLog
        The readings, with remarks on what was mended.

    Raises
    ------
    InputError
        Something cannot be used; the sentence names the file, the line, the reason and what to do.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = lk.measurement.load_log(lk.tables.folder() / "library_van" / "readings.csv")
    >>> log.readings[0].lamp
    'Stop lamp left'
    """
    place = Path(path)
    text, remarks = text_of(place)
    return _log(table_of(text, COLUMNS, place), remarks, resolution)


def read_log(text: str, *, resolution: float | None = None) -> IlluminanceLog:
    """Read a log of lux readings that was typed or pasted, by the rules of `load_log`.

    Parameters
    ----------
    text : str
        The lines, as they would stand in a file.
    resolution : float, optional [lx]
        One step of the meter's last digit; taken from the digits written when left out.

    Returns
    -------
    IlluminanceLog
        The readings, with remarks on what was mended.

    Raises
    ------
    InputError
        Something cannot be used; the sentence names the line, the reason and what to do.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = lk.measurement.read_log("lamp,source,illuminance_lx,dark_lx,distance_m\\nStop lamp,filament,92,17,0.75")
    >>> log.readings[0].net
    75.0
    """
    return _log(table_of(text, COLUMNS, None), [], resolution)


def _log(log: LogFile, remarks: list[Statement], resolution: float | None) -> IlluminanceLog:
    if resolution is not None and not (np.isfinite(resolution) and resolution > 0):
        raise InputError(f"a resolution of {resolution:g} lx cannot be", key="resolution", expected="lux above zero")
    unit = _check_columns(log)
    lines = _fill(log, unit)
    wide = "dark_lx" in log.columns
    readings = _wide(log, lines, resolution) if wide else _paired(log, lines, resolution)
    for reading in readings:
        _check(log, reading)
    _check_frozen(log, readings)
    return IlluminanceLog(log.file, tuple(readings), (*remarks, *log.remarks), _facts(log))


def _facts(log: LogFile) -> MeterFacts:
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
            line = next(line for line, cells in log.rows if "meter_class" in cells)
            raise InputError(
                "a class belongs to a lux meter",
                file=log.file,
                line=line,
                key="meter_class",
                expected="'lux meter' under meter_kind",
            )
    return MeterFacts(**found)


def _one_of(log: LogFile, key: str, words: dict[str, Any]) -> Any:
    """Take the one answer that a column gives, on whatever line it stands."""
    answer, before = None, None
    for line, cells in log.rows:
        if key not in cells:
            continue
        word = cells[key].lower()
        if word not in words:
            raise InputError(
                f"'{cells[key]}' is unknown", file=log.file, line=line, key=key, expected=" or ".join(words)
            )
        if before is not None and words[word] != answer:
            raise InputError(
                f"'{cells[key]}' stands here and '{before}' on a line before",
                file=log.file,
                line=line,
                key=key,
                remedy="give each meter a log of its own",
            )
        answer, before = words[word], cells[key]
    return answer


def _check_columns(log: LogFile) -> str:
    for name in ("lamp", "source", "illuminance_lx"):
        if name not in log.columns:
            raise InputError(f"there is no column '{name}'", file=log.file, line=1, expected=COLUMNS[name])
    units = [name for name in DISTANCES if name in log.columns]
    if len(units) != 1:
        found = f"two distance columns, {' and '.join(units)}" if units else "no distance column"
        raise InputError(f"there is {found}", file=log.file, line=1, expected=f"one of {', '.join(DISTANCES)}")
    if "dark_lx" not in log.columns and "state" not in log.columns:
        raise InputError(
            "nothing tells the background from the lamp",
            file=log.file,
            line=1,
            expected="a column 'state' with on and off lines, or a column 'dark_lx' beside the readings",
        )
    if "dark_lx" in log.columns and "state" in log.columns:
        raise InputError(
            "the log has both 'state' and 'dark_lx'",
            file=log.file,
            line=1,
            expected="on and off lines, or a dark_lx column, not both",
        )
    if "dark_after_lx" in log.columns and "dark_lx" not in log.columns:
        raise InputError("'dark_after_lx' stands without 'dark_lx'", file=log.file, line=1, expected="both")
    return units[0]


@dataclass(frozen=True)
class _Line:
    line: int
    cells: dict[str, str]
    lit: bool
    distance: float
    minutes: float | None


def _fill(log: LogFile, unit: str) -> list[_Line]:
    given = {line: logged_number(log, line, unit, c[unit])[0] for line, c in log.rows if unit in c}
    if not given:
        raise InputError("no distance was written down", file=log.file, key=unit, expected="the distance on each line")
    values = set(given.values())
    if len(given) < len(log.rows) and len(values) == 1:
        add_remark(log, say("illuminance_log.distance_missing", distance=values.pop()))
        given = {line: given.get(line, next(iter(given.values()))) for line, _ in log.rows}
    lines, before = [], None
    for line, cells in log.rows:
        lit = "state" not in log.columns or _lit(log, line, cells)
        if lit and line not in given:
            raise InputError(
                "the distance is missing, and the other lines have different ones",
                file=log.file,
                line=line,
                key=unit,
                expected="the distance of this reading",
            )
        distance = given.get(line, np.nan) * DISTANCES[unit]
        if line in given and not 0.02 <= distance <= 50.0:
            raise InputError(
                f"a distance of {given[line]:g} under '{unit}' is {distance:g} m",
                file=log.file,
                line=line,
                key=unit,
                expected="0.02 m to 50 m",
                remedy="check the unit in the heading",
            )
        minutes = _minutes(log, line, cells["time"]) if "time" in cells else None
        if minutes is not None and before is not None and minutes < before:
            raise InputError(
                f"the time {cells['time']} is earlier than on the line before",
                file=log.file,
                line=line,
                key="time",
                expected="the lines in the order in which they were taken, with the date when they pass midnight",
            )
        before = minutes if minutes is not None else before
        lines.append(_Line(line, cells, lit, distance, minutes))
    return lines


def _lit(log: LogFile, line: int, cells: dict[str, str]) -> bool:
    word = cells.get("state", "").lower()
    if word in ON:
        return True
    if word in OFF:
        return False
    said = f"the state '{cells['state']}' is unknown" if word else "the state is missing"
    raise InputError(said, file=log.file, line=line, key="state", expected="on or off")


def _minutes(log: LogFile, line: int, text: str) -> float:
    try:
        moment = datetime.fromisoformat(text) if len(text) > 8 else time.fromisoformat(text.rjust(5, "0"))
    except ValueError:
        raise InputError(
            f"'{text}' is not a time", file=log.file, line=line, key="time", expected="21:40 or 2026-11-25 21:40"
        ) from None
    days = moment.toordinal() if isinstance(moment, datetime) else 0
    return 1440.0 * days + 60.0 * moment.hour + moment.minute + moment.second / 60.0


def _value(log: LogFile, entry: _Line, key: str, resolution: float | None) -> tuple[float, float]:
    if key not in entry.cells:
        raise InputError("the value is missing", file=log.file, line=entry.line, key=key, expected=COLUMNS[key])
    value, step = logged_number(log, entry.line, key, entry.cells[key])
    if value < 0:
        raise InputError(
            f"an illuminance of {value:g} lx cannot be",
            file=log.file,
            line=entry.line,
            key=key,
            expected="zero or more",
        )
    return value, step if resolution is None else resolution


def _reading(
    log: LogFile, entry: _Line, dark: tuple[DarkReading, ...], position: float, resolution: float | None
) -> Reading:
    cells = entry.cells
    where: dict[str, Any] = {"file": log.file, "line": entry.line}
    _check_names(log, entry)
    value, step = _value(log, entry, "illuminance_lx", resolution)
    tilt = logged_number(log, entry.line, "tilt_deg", cells["tilt_deg"])[0] if "tilt_deg" in cells else 0.0
    if not abs(tilt) <= 60.0:
        raise InputError(f"a tilt of {tilt:g} deg is too much", **where, key="tilt_deg", expected="60 deg or less")
    claimed = None
    if "claimed_lumens_lm" in cells:
        claimed = logged_number(log, entry.line, "claimed_lumens_lm", cells["claimed_lumens_lm"])[0]
        if not claimed > 0:
            raise InputError(
                f"a claim of {claimed:g} lm cannot be", **where, key="claimed_lumens_lm", expected="lumens above zero"
            )
    supply = logged_number(log, entry.line, "supply_V", cells["supply_V"])[0] if "supply_V" in cells else None
    if supply is not None and not 3.0 <= supply <= 60.0:
        raise InputError(f"a supply of {supply:g} V cannot be", **where, key="supply_V", expected="3 V to 60 V")
    lens = cells.get("lens", "fitted").lower()
    if lens not in LENS:
        raise InputError(f"'{lens}' does not say where the lens was", **where, key="lens", expected=COLUMNS["lens"])
    return Reading(
        lamp=cells["lamp"],
        source=cells["source"],
        illuminance=value,
        resolution=step,
        dark=dark,
        position=position,
        distance=entry.distance,
        tilt=abs(tilt),
        meter=cells.get("meter", ""),
        claimed_lumens=claimed,
        note=cells.get("note", ""),
        line=entry.line,
        lens_fitted=LENS[lens],
        supply=supply,
    )


def _check_names(log: LogFile, entry: _Line) -> None:
    for key in ("lamp", "source"):
        if key not in entry.cells:
            raise InputError(f"the {key} is missing", file=log.file, line=entry.line, key=key, expected=COLUMNS[key])


def _wide(log: LogFile, lines: list[_Line], resolution: float | None) -> list[Reading]:
    readings = []
    for entry in lines:
        keys = ["dark_lx", *(["dark_after_lx"] if "dark_after_lx" in entry.cells else [])]
        # the two backgrounds of one line are two readings: the second gets the line's negative number
        dark = tuple(
            DarkReading(*_value(log, entry, key, resolution), line=sign * entry.line)
            for key, sign in zip(keys, (1, -1), strict=False)
        )
        readings.append(_reading(log, entry, dark, 0.5, resolution))
    return readings


def _paired(log: LogFile, lines: list[_Line], resolution: float | None) -> list[Reading]:
    if not any(entry.lit for entry in lines):
        raise InputError("every line is off", file=log.file, expected="lines with the lamp on between the off lines")
    dark = {
        i: DarkReading(*_value(log, entry, "illuminance_lx", resolution), line=entry.line)
        for i, entry in enumerate(lines)
        if not entry.lit
    }
    readings = []
    for i, entry in enumerate(lines):
        if not entry.lit:
            continue
        _check_names(log, entry)
        # the background belongs to where the meter stands: the same lamp, distance and meter, unless left open
        fits = [j for j in dark if _same_place(lines[j], entry)]
        if not fits:
            raise InputError(
                f"there is no background for '{entry.cells.get('lamp', '')}' at this distance",
                file=log.file,
                line=entry.line,
                expected="a line with state off for the same lamp, distance and meter",
                remedy="switch the lamp off and read again",
            )
        chosen = [
            j
            for j in (max((j for j in fits if j < i), default=None), min((j for j in fits if j > i), default=None))
            if j is not None
        ]
        position = 0.5
        if len(chosen) == 2:
            clocks = [lines[chosen[0]].minutes, entry.minutes, lines[chosen[1]].minutes]
            start, now, end = (
                [float(c) for c in clocks if c is not None] if None not in clocks else [float(chosen[0]), i, chosen[1]]
            )
            position = (now - start) / (end - start) if end > start else 0.5
        readings.append(_reading(log, entry, tuple(dark[j] for j in chosen), position, resolution))
    return readings


def _same_place(dark: _Line, lit: _Line) -> bool:
    same = all(key not in dark.cells or dark.cells[key] == lit.cells.get(key, "") for key in ("lamp", "meter"))
    return same and (np.isnan(dark.distance) or abs(dark.distance - lit.distance) < 1e-9)


def _check(log: LogFile, reading: Reading) -> None:
    where: dict[str, Any] = {"file": log.file, "line": reading.line, "key": "illuminance_lx"}
    if any(abs(reading.illuminance - scale) < 1e-9 for scale in FULL_SCALES):
        raise InputError(
            f"{reading.illuminance:g} lx is where displays end: the meter was saturated",
            **where,
            remedy="use a higher range or a greater distance",
        )
    if reading.net <= 0:
        raise InputError(
            f"the lamp reads {reading.illuminance:g} lx, no more than its background of {reading.background:g} lx",
            **where,
            expected="more light with the lamp on than off",
            remedy="darken the room or come nearer, and check that the lines are in order",
        )


def _check_frozen(log: LogFile, readings: Iterable[Reading]) -> None:
    seen: dict[tuple[str, float], Reading] = {}
    for reading in readings:
        if reading.illuminance / reading.resolution < 500:
            continue  # few digits fall on the same number by chance
        before = seen.setdefault((reading.meter, reading.illuminance), reading)
        same = (before.lamp, before.source, before.distance) == (reading.lamp, reading.source, reading.distance)
        if not same:
            raise InputError(
                f"{reading.illuminance:g} lx stands on line {before.line} too, for another lamp, source or distance",
                file=log.file,
                line=reading.line,
                key="illuminance_lx",
                remedy="the display was frozen or saturated, or a line was copied: read again",
            )
