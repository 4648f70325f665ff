"""The illuminance log: loading what was written down in the garage, pairing on with dark, refusing what is no use."""

import difflib
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lampkit import show
from lampkit.errors import Fault, InputError, each_once, named_lines, refuse
from lampkit.measurement.log_file import (
    BOUNDS,
    COLUMNS,
    DISTANCES,
    LogFile,
    LogLine,
    add_remark,
    facts_of,
    lens_was_fitted,
    lines_of,
    number_of,
    table_of,
    text_of,
    tried,
    value_of,
)
from lampkit.measurement.meters import NOTHING_TOLD, MeterFacts
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class DarkReading:
    """The background: what the meter showed with the lamp off."""

    illuminance: float
    resolution: float
    line: int


@dataclass(frozen=True, slots=True)
class Reading:
    """One line of the log: what the meter showed with the lamp lit, and the background that belongs to it.

    `illuminance` has the background in it, and `resolution` is one step of the last digit [lx]; `dark` holds the
    background before, after, or both, and `position` where the reading lies between them, from zero to one. `distance`
    is that of the meter from the face of the lamp, and `face` the diameter of that [m]; `tilt` tells how far the meter
    was turned away [deg], `supply` the voltage while it was read [V]. None stands for what was not written down.
    """

    lamp: str
    source: str
    illuminance: float
    resolution: float
    dark: tuple[DarkReading, ...]
    position: float
    distance: float
    tilt: float = 0.0
    meter: str = ""
    claimed_lumens: float | None = None
    note: str = ""
    line: int = 0
    lens_fitted: bool = True
    supply: float | None = None
    face: float | None = None

    @property
    def place(self) -> str:
        """The lamp; one whose lens was taken off is another lamp."""
        return self.lamp if self.lens_fitted else f"{self.lamp} without lens"

    @property
    def dark_weights(self) -> tuple[float, ...]:
        """Weights of the backgrounds in the one that is taken off: linear drift from one to the next."""
        return (1.0,) if len(self.dark) == 1 else (1.0 - self.position, self.position)

    @property
    def background(self) -> float:
        """The background at the time of the reading."""
        return sum(w * d.illuminance for w, d in zip(self.dark_weights, self.dark, strict=True))

    @property
    def net(self) -> float:
        """The illuminance from the lamp alone."""
        return self.illuminance - self.background


FULL_SCALES = (1999.0, 3999.0, 19999.0, 32767.0, 32768.0, 39999.0, 65535.0, 65536.0, 199999.0, 200000.0)
"""Where displays and converters commonly end [lx]. Source: common practice, no source."""

FALLEN = 0.1
"""Share by which two backgrounds must differ before it matters which of them counts [1]. Source: an assumption."""


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


def load_log(path: str | Path) -> IlluminanceLog:
    """Read a log of lux readings, pair each lit reading with its background, and refuse what cannot be used.

    Parameters
    ----------
    path : str or Path
        A CSV file with the columns of COLUMNS: either on and off lines in the order in which they were taken, or one
        line a reading with its background in dark_lx.

    Returns
    -------
    IlluminanceLog
        The readings, with remarks on what was mended.

    Raises
    ------
    InputError
        Something cannot be used: all faults at once, each one sentence with the file, the line and what to do.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = lk.measurement.load_log(lk.tables.folder() / "library_van" / "readings.csv")
    >>> log.readings[0].lamp
    'Stop lamp left'
    """
    place = Path(path)
    text, remarks = text_of(place)
    return _log(table_of(text, COLUMNS, place), remarks)


def read_log(text: str) -> IlluminanceLog:
    """Read a log of lux readings that was typed or pasted, by the rules of `load_log`.

    Parameters
    ----------
    text : str
        The lines, as they would stand in a file.

    Returns
    -------
    IlluminanceLog
        The readings, with remarks on what was mended.

    Raises
    ------
    InputError
        Something cannot be used: all faults at once, each one sentence with the line and what to do.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = lk.measurement.read_log("lamp,source,illuminance_lx,dark_lx,distance_m\\nStop lamp,filament,92,17,0.75")
    >>> log.readings[0].net
    75.0
    """
    return _log(table_of(text, COLUMNS, None), [])


def _log(log: LogFile, remarks: list[Statement]) -> IlluminanceLog:
    unit = _check_columns(log)
    facts = tried(log, facts_of, log)
    lines = lines_of(_one_spelling(log), unit)
    readings = (_wide if "dark_lx" in log.columns else _paired)(log, lines)
    for reading in readings:
        tried(log, _check, log, reading)
    log.faults.extend(_meters_mixed(log, readings))
    refuse(each_once(log.faults))
    assert facts is not None, "what cannot be used was refused"
    _watch_display(log, readings)
    return IlluminanceLog(log.file, tuple(readings), (*remarks, *log.remarks), facts)


def _one_spelling(log: LogFile) -> LogFile:
    """Take names that differ in capitals and spaces only as one, by the spelling that stands most often."""
    for key in ("lamp", "source"):
        written = Counter(cells[key] for _, cells in log.rows if key in cells)
        usual: dict[str, str] = {}
        for name, _ in written.most_common():
            usual.setdefault(" ".join(name.split()).casefold(), name)
        for _, cells in log.rows:
            if key not in cells:
                continue
            name = usual[" ".join(cells[key].split()).casefold()]
            if name != cells[key]:
                add_remark(log, say("illuminance_log.one_spelling", text=cells[key], read=name))
                cells[key] = name
    return log


def _check_columns(log: LogFile) -> str:
    """Tell the unit of the distance, once every column is there that is needed."""
    at, has = (log.file, log.heading), set(log.columns)
    missing = [name for name in ("lamp", "source", "illuminance_lx") if name not in has]
    faults = [Fault(f"there is no column '{name}'", *at, expected=COLUMNS[name]) for name in missing]
    units = [name for name in DISTANCES if name in has]
    if len(units) != 1:
        found = f"two distance columns, {' and '.join(units)}" if units else "no distance column"
        faults.append(Fault(f"there is {found}", *at, expected=f"one of {', '.join(DISTANCES)}"))
    if has.isdisjoint({"dark_lx", "state"}):
        either = "a column 'state' with on and off lines, or a column 'dark_lx' beside the readings"
        off_too = "read with the lamp off too; where the meter shows nothing then, that is 0"
        faults.append(Fault("nothing tells the background from the lamp", *at, expected=either, remedy=off_too))
    if {"dark_lx", "state"} <= has:
        either = "on and off lines, or a dark_lx column, not both"
        faults.append(Fault("the log has both 'state' and 'dark_lx'", *at, expected=either))
    if "dark_after_lx" in has and "dark_lx" not in has:
        faults.append(Fault("'dark_after_lx' stands without 'dark_lx'", *at, expected="both"))
    refuse(faults)
    return units[0]


def _reading(log: LogFile, entry: LogLine, dark: tuple[DarkReading, ...], position: float) -> Reading | None:
    """Make the reading of a line; None where a cell of it cannot be used, and that is noted."""
    cells, before = entry.cells, len(log.faults)
    for key in ("lamp", "source"):
        if key not in cells:
            log.faults.append(Fault(f"the {key} is missing", log.file, entry.line, key, COLUMNS[key]))
    read = tried(log, value_of, log, entry, "illuminance_lx")
    tilt, claimed, supply, face = (tried(log, number_of, log, entry, key) for key in BOUNDS)
    fitted = tried(log, lens_was_fitted, log, entry)
    if len(log.faults) > before or read is None or fitted is None:
        return None
    value, step = read
    return Reading(
        lamp=cells["lamp"],
        source=cells["source"],
        illuminance=value,
        resolution=step,
        dark=dark,
        position=position,
        distance=entry.distance,
        tilt=abs(tilt or 0.0),
        face=None if face is None else 0.001 * face,
        meter=cells.get("meter", ""),
        claimed_lumens=claimed,
        note=cells.get("note", ""),
        line=entry.line,
        lens_fitted=fitted,
        supply=supply,
    )


def _wide(log: LogFile, lines: list[LogLine]) -> list[Reading]:
    readings = []
    for entry in lines:
        keys = ["dark_lx", *(["dark_after_lx"] if "dark_after_lx" in entry.cells else [])]
        read = [tried(log, value_of, log, entry, key) for key in keys]
        # the two backgrounds of one line are two readings: the second gets the line's negative number
        dark = tuple(
            DarkReading(*found, line=sign * entry.line)
            for found, sign in zip(read, (1, -1), strict=False)
            if found is not None
        )
        reading = _reading(log, entry, dark, 0.5)
        if reading is None or len(dark) < len(keys):
            continue
        readings.append(reading)
        if len(dark) == 2 and _differ(*dark):
            told = {"before": dark[0].illuminance, "after": dark[1].illuminance, "taken": reading.background}
            add_remark(log, say("illuminance_log.moved", line=entry.line, **told))
    return readings


def _differ(first: DarkReading, second: DarkReading) -> bool:
    steps = first.resolution + second.resolution
    gap = abs(second.illuminance - first.illuminance)
    return gap > steps and gap > FALLEN * max(first.illuminance, second.illuminance)


def _paired(log: LogFile, lines: list[LogLine]) -> list[Reading]:
    if lines and not any(entry.lit for entry in lines) and not log.faults:
        raise InputError("every line is off", file=log.file, expected="lines with the lamp on between the off lines")
    read = {i: tried(log, value_of, log, e, "illuminance_lx") for i, e in enumerate(lines) if not e.lit}
    dark = {i: DarkReading(*found, line=lines[i].line) for i, found in read.items() if found is not None}
    _say_what_counts(log, lines, dark)
    places = _off_lines(lines, dark)
    readings, alone = [], []
    for i, entry in enumerate(lines):
        if not entry.lit:
            continue
        chosen = _backgrounds(places, entry, i)
        position = 0.5
        if len(chosen) == 2:
            clocks = [lines[chosen[0]].minutes, entry.minutes, lines[chosen[1]].minutes]
            start, now, end = (
                [float(c) for c in clocks if c is not None] if None not in clocks else [float(chosen[0]), i, chosen[1]]
            )
            position = (now - start) / (end - start) if end > start else 0.5
        reading = _reading(log, entry, tuple(dark[j] for j in chosen), position)
        if reading is not None and chosen:
            readings.append(reading)
        elif reading is not None:
            alone.append(_no_background(log, lines, list(dark), entry))
    # A line that could not be read may be the background that is missing.
    if not log.faults:
        log.faults.extend(alone)
    return readings


Place = tuple[str | None, str | None, float | None]
"""Lamp, meter and distance of an off line [m]; None for what it leaves open."""


def _off_lines(lines: list[LogLine], dark: Iterable[int]) -> dict[Place, dict[str | None, list[int]]]:
    """Sort the off lines by place and by the source that they name, and those of any source under None."""
    places: dict[Place, dict[str | None, list[int]]] = {}
    for j in dark:
        cells, distance = lines[j].cells, lines[j].distance
        place = (cells.get("lamp"), cells.get("meter"), None if np.isnan(distance) else round(distance, 8))
        by_source = places.setdefault(place, {})
        by_source.setdefault(cells.get("source", ""), []).append(j)
        by_source.setdefault(None, []).append(j)
    return places


def _backgrounds(places: Mapping[Place, Mapping[str | None, list[int]]], entry: LogLine, i: int) -> list[int]:
    """Find the off lines of a reading, the nearest before and after it.

    The background belongs to where the meter stands and, as it may move while the lamp is changed, to what is fitted:
    an off line that names another source serves only where the reading has none of its own.
    """
    cells = entry.cells
    wanted = product((cells.get("lamp", ""), None), (cells.get("meter", ""), None), (round(entry.distance, 8), None))
    fits = [places[place] for place in wanted if place in places]
    own = [found for one in fits for source in {"", cells.get("source", "")} if (found := one.get(source))]
    either = own or [one[None] for one in fits]
    before = [found[at - 1] for found in either if (at := bisect_left(found, i)) > 0]
    after = [found[at] for found in either if (at := bisect_left(found, i)) < len(found)]
    return [*([max(before)] if before else []), *([min(after)] if after else [])]


def _no_background(log: LogFile, lines: list[LogLine], dark: list[int], entry: LogLine) -> Fault:
    lamp = entry.cells.get("lamp", "")
    by_lamp: dict[str, list[int]] = {}
    for j in dark:
        by_lamp.setdefault(lines[j].cells.get("lamp", ""), []).append(lines[j].line)
    close = [] if lamp in by_lamp else difflib.get_close_matches(lamp, by_lamp, n=1, cutoff=0.8)
    meant = [f"{named_lines(by_lamp[name])} may be meant, of '{name}'" for name in close]
    remedy = meant[0] if meant else "switch the lamp off and read again"
    what, expected = f"there is no background for '{lamp}' at this distance", "for the same lamp, distance and meter"
    return Fault(what, log.file, entry.line, expected=f"a line with state off {expected}", remedy=remedy)


def _say_what_counts(log: LogFile, lines: list[LogLine], dark: dict[int, DarkReading]) -> None:
    """Where the background fell between two off lines in a row, say which of them a lit line beside them gets."""
    for j in dark:
        if j + 1 not in dark or not _same_place(lines[j], lines[j + 1]):
            continue
        one_source = lines[j].cells.get("source", "") == lines[j + 1].cells.get("source", "")
        if one_source and _differ(dark[j], dark[j + 1]):
            told = {"first": dark[j].illuminance, "second": dark[j + 1].illuminance}
            add_remark(log, say("illuminance_log.two_in_a_row", lines=[lines[j].line, lines[j + 1].line], **told))


def _same_place(dark: LogLine, lit: LogLine) -> bool:
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
            remedy="darken the room or come nearer, and check that on and off are not swapped",
        )


def _meters_mixed(log: LogFile, readings: Sequence[Reading]) -> Iterator[Fault]:
    """Find the lamps that were read with two meters: what each is off does not drop out of their ratio."""
    first: dict[str, Reading] = {}
    for reading in readings:
        before = first.setdefault(reading.lamp, reading)
        if reading.meter != before.meter:
            names = [one or "one that is not named" for one in (before.meter, reading.meter)]
            what = f"'{reading.lamp}' was read with two meters, {names[0]} and {names[1]}"
            expected = "old and new light source read with one meter, as two differ by a tenth and more"
            remedy = "read both with one of them, and give each meter a log of its own"
            yield Fault(what, log.file, reading.line, "meter", expected, remedy)


def _watch_display(log: LogFile, readings: Sequence[Reading]) -> None:
    """Remark on a display at the end of its range, on one that shows one long number twice, and on changing digits."""
    seen: dict[tuple[str, float], Reading] = {}
    for reading in readings:
        digits = reading.illuminance / reading.resolution
        if reading.resolution < 1.0 and any(abs(digits - scale) < 0.1 for scale in FULL_SCALES):
            add_remark(log, say("illuminance_log.full_scale", illuminance=reading.illuminance, line=reading.line))
        if digits < 500:
            continue  # few digits fall on the same number by chance
        before = seen.setdefault((reading.meter, reading.illuminance), reading)
        same = (before.lamp, before.source, before.distance) == (reading.lamp, reading.source, reading.distance)
        if not same:
            told = {"illuminance": reading.illuminance, "lines": [before.line, reading.line]}
            add_remark(log, say("illuminance_log.repeats", **told))
    by_meter: dict[str, dict[float, int]] = {}
    for r in readings:
        for step, line in ((r.resolution, r.line), *((d.resolution, abs(d.line)) for d in r.dark)):
            by_meter.setdefault(r.meter, {}).setdefault(step, line)
    for steps in by_meter.values():
        if len(steps) > 1:
            fine, coarse = min(steps), max(steps)
            told = {"fine": fine, "fine_line": steps[fine], "coarse": coarse, "coarse_line": steps[coarse]}
            add_remark(log, say("illuminance_log.digits_change", **told))
