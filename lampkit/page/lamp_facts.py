"""What a page about one lamp says besides light and colour: candela against the limits, range, fitting, readings."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.conversion import Result
from lampkit.plan.agreement import Confrontation
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.plan import Plan
from lampkit.plan.timing import LampTiming
from lampkit.rules import functions
from lampkit.rules.limits import Limit
from lampkit.statements import Statement
from lampkit.vehicle.vehicle import Lamp
from lampkit.visibility import brightness, sight

LETTERS = "abcdefgh"
"""What stands for each limit of a lamp in a table."""

FAIR_WEATHER = 1e4
"""Meteorological optical range for which that is told [m]. Source: IALA E-200-2, fair weather (from memory)."""


@dataclass(frozen=True, eq=False)
class OnAxis:
    """Predicted intensities of one lamp along its axis, against each published limit."""

    lamp: str
    basis: Statement
    start: Statement
    limits: tuple[tuple[Limit, ...], ...]
    intervals: tuple[NDArray[np.float64], ...]
    verdicts: tuple[tuple[str, ...], ...]


def on_axis(found: LampIntensity) -> OnAxis:
    """Hold the intensities of a lamp against each published limit on its axis.

    Source: the rules that each limit names.
    """
    grouped: dict[tuple[float, float], list[Limit]] = {}
    for limit in found.requirement.limits:
        if limit.v_from <= 0 < limit.v_to:
            grouped.setdefault((limit.low, limit.high), []).append(limit)
    intervals = (found.filament, *found.intervals)
    return OnAxis(
        lamp=found.lamp,
        basis=found.basis,
        start=found.start,
        limits=tuple(tuple(members) for members in grouped.values()),
        intervals=intervals,
        verdicts=tuple(tuple(_verdict(low, high, limits) for low, high in grouped) for limits in intervals),
    )


def _verdict(low: float, high: float, interval: NDArray[np.float64]) -> str:
    if interval[0] >= low and interval[2] <= high:
        return "inside"
    if interval[2] < low:
        return "below"
    return "above" if interval[0] > high else "not settled"


def limit_size(limit: Limit) -> str:
    """Write the number of a limit and where it holds.

    Source: the rules that the limit names.
    """
    size = f"at least {limit.low:g}" if np.isfinite(limit.low) else f"at most {limit.high:g}"
    return f"{size} {limit.unit} ({limit.where})"


def limits_words(axis: OnAxis) -> tuple[str, ...]:
    """Write the limits of a lamp under their letters, those that are printed in one place together.

    Source: the rules that each limit names.
    """
    by_place: dict[str, list[str]] = {}
    for letter, listed in zip(LETTERS, axis.limits, strict=False):
        for limit in listed:
            words = f"{letter}: {limit_size(limit)}"
            by_place.setdefault(citation(limit), []).append(words)
    return tuple(f"{'; '.join(words)} [{cited}]" for cited, words in by_place.items())


def citation(limit: Limit) -> str:
    """Write where a limit is printed and how it is known, with the rules named as in print.

    Source: the rules that the limit names.
    """
    source = re.sub(r"\bun-r(\d+)", r"UN R\1", limit.source).replace("fmvss-108", "FMVSS 108")
    return str(replace(limit, source=source).citation)


def candela(interval: NDArray[np.float64]) -> str:
    """Write an interval of intensity.

    Source: JCGM 100:2008, 7.2.6.
    """
    low, middle, high = (numbers.figure(float(v)) for v in interval)
    return f"{middle} ({low} to {high})"


def seen_from(interval: NDArray[np.float64], share: float = 1.0) -> NDArray[np.float64]:
    """Give from how far a lamp is seen by day and by night.

    Source: Allard's law, IALA E-200-2, with the thresholds of data/visibility/thresholds.csv.
    """
    ranges = sight.day_and_night_range(share * interval[[0, 2]], FAIR_WEATHER)
    return np.stack([ranges[0, :, 0], ranges[1, :, 1]], axis=-1)


def seen_words(lamp: Lamp, found: LampIntensity, timing: LampTiming | None, pick: int | None) -> str:
    """Say from how far a lamp is seen with its filament and with what is fitted.

    Source: as for `seen_from`.
    """
    if not functions.function(lamp.function).seen:
        return ""
    shares = (1.0, 1.0)
    if timing is not None and np.isfinite(timing.flash_share):
        shares = (timing.flash_share, timing.led_flash_share)
    parts = [_range_words("its filament", seen_from(found.filament, shares[0]))]
    if pick is not None:
        parts.append(_range_words(lamp.candidates[pick].name, seen_from(found.intervals[pick], shares[1])))
    flashes = ", as effective intensity of its flash" if shares[0] != 1.0 else ""
    return f"Seen in fair weather{flashes} {'; '.join(parts)}."


def _range_words(name: str, ranges: NDArray[np.float64]) -> str:
    day, night = ranges
    return (
        f"with {name} {numbers.figure(float(day[0]))} to {numbers.figure(float(day[1]))} m by day and "
        f"{numbers.figure(float(night[0]) / 1000)} to {numbers.figure(float(night[1]) / 1000)} km by night"
    )


def brightness_words(lamp: Lamp, result: Result) -> str:
    """Say how much brighter than its luminance a saturated red looks, as a range with the models named.

    Source: as named in lampkit.brightness.MODELS.
    """
    if lamp.lens.colour != "red" or not lamp.road_rule:
        return ""
    by_model = brightness.brightness_to_luminance(result.chromaticity)
    named = ", ".join(f"{name} {float(value):.1f}" for name, value in by_model.items())
    low, high = (float(v) for v in brightness.brightness_range(result.chromaticity))
    return (
        f"As a patch, a red this deep looks {low:.1f} to {high:.1f} times as bright as its luminance says ({named}); "
        "candela limits count none of it."
    )


def measured_words(readings: Confrontation | None, names: Iterable[str]) -> tuple[str, ...]:
    """Put readings of lamps beside the prediction.

    Source: as for lampkit.garage_readings.confront.
    """
    if readings is None:
        return ()
    wanted = set(names)
    return tuple(
        f"{f.ratio.lamp}, {f.ratio.new}, read with a meter: {f.agreement.sentence}"
        for f in readings.findings
        if f.ratio.lamp in wanted
    )


def members(plan: Plan, joint: Lamp) -> tuple[Lamp, ...]:
    """List the lamps of a vehicle that a page for several alike ones stands for."""
    return next(group.lamps for group in plan.alike if joint.name in [lamp.name for lamp in group.lamps])
