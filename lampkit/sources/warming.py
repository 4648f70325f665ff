"""The filament in time: rise and decay of its light, the surge of its current, and the waveform of a flash."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError
from lampkit.sources import hot_wire
from lampkit.sources.hot_wire import AMBIENT, HotWire

TIME_UNCERTAINTY = 0.5
"""Relative uncertainty of every time and inrush that this model gives [1]. Source: own comparison: models that differ
only in the mass taken for the filament, which no source states, give times from half to one and a half."""


_PROGRESS = np.linspace(0.0, 18.0, 4001)
"""Logarithm of the way to the settled temperature over what is left of it: at the end less than a ten-thousandth of a
kelvin [1]."""

_STEP = _PROGRESS[1] - _PROGRESS[0]

_NEAR = 1e-6
"""Way left below which the temperature counts as settled: both it and the rate are lost in rounding [K]."""


@dataclass(frozen=True, eq=False)
class Waveform:
    """What a filament does in time after its supply is switched.

    Source: own model; every time is uncertain by half of itself.
    """

    time: NDArray[np.float64]
    temperature: NDArray[np.float64]
    current: NDArray[np.float64]
    light: NDArray[np.float64]
    settled_light: NDArray[np.float64]
    settled_current: NDArray[np.float64]


def drive(
    wire: HotWire,
    durations: Sequence[float],
    supply_voltages: Sequence[ArrayLike],
    *,
    series_resistance: ArrayLike = 0.0,
    start_temperature: ArrayLike = AMBIENT,
    transmittance: ArrayLike | None = None,
    step: float = 1e-3,
) -> Waveform:
    """Follow a filament through a series of supply voltages.

    Source: own model: m cp dT/dt = I^2 R - shade 2 pi r L W(T) - gas loss, I = V/(R + Rs). The rate hangs on the
    temperature alone, so that time is one integral over temperature; a test holds it against small steps in time.
    """
    if len(durations) != len(supply_voltages) or not len(durations):
        raise InputError("there is not one duration for each supply voltage", key="durations")
    spans = np.asarray(durations, dtype=float)
    if not (np.all(np.isfinite(spans) & (spans > 0)) and step > 0):
        raise InputError("a duration is not positive", key="durations or step", expected="seconds above zero")
    start, rs = np.asarray(start_temperature, dtype=float), np.asarray(series_resistance, dtype=float)
    rests = [hot_wire.steady_temperature(wire, v, series_resistance=rs) for v in supply_voltages]
    shape = np.broadcast_shapes(wire.voltage.shape, start.shape, rs.shape, *(np.shape(v) for v in supply_voltages))
    if not np.all((start >= AMBIENT) & (start <= hot_wire.HOTTEST)):
        raise InputError(
            "the filament cannot start at that temperature",
            key="start_temperature",
            expected="300 K up to the melting point",
        )
    if spans.sum() / step > 2e5:
        raise InputError("that is too many instants to keep", key="step", expected="at most 200000 steps in all")

    state = np.broadcast_to(start, shape)
    times, temperatures, voltages = [np.zeros(1)], [state[np.newaxis]], [supply_voltages[0]]
    for span, v, rest in zip(spans, supply_voltages, rests, strict=True):
        kept = int(np.ceil(span / step - 1e-9))
        instants = span / kept * np.arange(1, kept + 1)
        course = _course(wire, v, rs, state, np.broadcast_to(rest, shape), instants)
        voltages[-1] = v  # at an instant of switching, the voltage just after it
        times.append(times[-1][-1] + instants)
        temperatures.append(course)
        voltages += [v] * kept
        state = course[-1]
    course = np.concatenate(temperatures)
    supplied = np.stack([np.broadcast_to(np.asarray(v, dtype=float), shape) for v in voltages])
    amperes = hot_wire.hot_wire_current(wire, supplied, course, series_resistance=rs)
    # Instants go first against the wire and last in what is returned.
    light = hot_wire.hot_wire_light(wire, course, transmittance=transmittance)
    return Waveform(
        time=np.concatenate(times),
        temperature=np.moveaxis(course, 0, -1),
        current=np.moveaxis(amperes, 0, -1),
        light=np.moveaxis(light, 0, -1),
        settled_light=np.broadcast_to(hot_wire.hot_wire_light(wire, rests[0], transmittance=transmittance), shape),
        settled_current=np.broadcast_to(
            hot_wire.hot_wire_current(wire, supply_voltages[0], rests[0], series_resistance=rs), shape
        ),
    )


def _course(
    wire: HotWire,
    voltage: ArrayLike,
    series: NDArray[np.float64],
    start: NDArray[np.float64],
    settled: NDArray[np.float64],
    time: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Give temperatures at instants on one supply.

    Along u, of which the way left to the settled temperature is exp(-u), dt/du stays smooth to the end.
    """
    way = (start - settled) * np.exp(-_PROGRESS).reshape(-1, *(1,) * np.ndim(start))
    near = np.abs(way) < _NEAR
    way_or_near = np.where(near, -_NEAR, way)
    pace = -way_or_near / hot_wire.rates(wire, voltage, settled + way_or_near, series_resistance=series)[0]
    # By trapezia, from nil.
    steps = 0.5 * _STEP * (pace[1:] + pace[:-1])
    passed = np.concatenate([np.zeros((1, *start.shape)), np.cumsum(steps, axis=0)])
    temperatures = np.empty((time.size, *start.shape))
    for one in np.ndindex(start.shape):
        each = (slice(None), *one)
        i = np.clip(np.searchsorted(passed[each], time, side="right") - 1, 0, _PROGRESS.size - 2)
        since, at = time - passed[each][i], pace[each][i]
        # The pace is a straight line between two points, which the trapezia take it for; beyond the last it stays.
        change = np.where(time < passed[each][-1], (pace[each][i + 1] - at) / _STEP, 0.0)
        more = 2.0 * since / (at + np.sqrt(np.maximum(at**2 + 2.0 * change * since, 0.0)))
        temperatures[each] = settled[one] + (start - settled)[one] * np.exp(-_PROGRESS[i] - more)
    return temperatures


def switch_on(
    wire: HotWire,
    supply_voltage: ArrayLike | None = None,
    *,
    duration: float = 1.0,
    series_resistance: ArrayLike = 0.0,
    start_temperature: ArrayLike = AMBIENT,
    transmittance: ArrayLike | None = None,
    step: float = 1e-3,
) -> Waveform:
    """Follow a filament from switching on.

    Parameters
    ----------
    wire : HotWire
        The filament, or a batch of them.
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply; that of the rating when left out.
    duration : float [s]
        How long.
    series_resistance : array_like, shape (...) [ohm]
        Resistance in series with the filament.
    start_temperature : array_like, shape (...) [K]
        Temperature at the start, above 300 K when the lamp has just been out.
    transmittance : array_like, shape (471,) [1]
        Spectral transmittance of a lens, through which all light is taken; none when left out.
    step : float [s]
        Time between the instants that are kept.

    Returns
    -------
    Waveform
        The course of temperature, current and light.

    Raises
    ------
    InputError
        A value is out of range, or the filament would melt.

    Examples
    --------
    Share of the light after a tenth, two tenths and three tenths of a second.

    >>> import lampkit as lk
    >>> course = lk.sources.switch_on(lk.sources.hot_wire_of_rating(13.5, 25, 2800))
    >>> course.light[[100, 200, 300]].round(2)
    array([0.25, 0.79, 0.96])
    """
    v = wire.voltage if supply_voltage is None else supply_voltage
    return drive(
        wire,
        [duration],
        [v],
        series_resistance=series_resistance,
        start_temperature=start_temperature,
        transmittance=transmittance,
        step=step,
    )


def filament_flash(
    wire: HotWire,
    supply_voltage: ArrayLike | None = None,
    *,
    on_time: float = 1.0 / 3.0,
    off_time: float = 1.0 / 3.0,
    cycles: int = 4,
    series_resistance: ArrayLike = 0.0,
    transmittance: ArrayLike | None = None,
    step: float = 1e-3,
) -> Waveform:
    """Follow a filament on a flasher, from cold."""
    if int(cycles) != cycles or cycles < 1:
        raise InputError(f"{cycles} flashes cannot be followed", key="cycles", expected="a whole number of one or more")
    v = wire.voltage if supply_voltage is None else supply_voltage
    count = int(cycles)
    return drive(
        wire,
        [on_time, off_time] * count,
        [v, 0.0] * count,
        series_resistance=series_resistance,
        transmittance=transmittance,
        step=step,
    )


def rise_time(waveform: Waveform, fraction: float = 0.9) -> NDArray[np.float64]:
    """Give the time from switching on until the light has risen to a share of its settled value.

    Parameters
    ----------
    waveform : Waveform
        What `switch_on` gave.
    fraction : float [1]
        The share, for example 0.1, 0.5 or 0.9.

    Returns
    -------
    ndarray, shape (...) [s]
        The rise time, uncertain by half of itself.

    Raises
    ------
    InputError
        The share is not between zero and one, or the light does not reach it in the time that was followed.

    Examples
    --------
    To half of the light, and to nine tenths of it.

    >>> import lampkit as lk
    >>> course = lk.sources.switch_on(lk.sources.hot_wire_of_rating(13.5, 25, 2800))
    >>> [round(float(lk.sources.rise_time(course, part)), 2) for part in (0.5, 0.9)]
    [0.14, 0.25]
    """
    if not 0.0 < fraction < 1.0:
        raise InputError(f"{fraction:g} is no share of the light", key="fraction", expected="a number between 0 and 1")
    return _crossing(waveform.time, waveform.light - fraction * waveform.settled_light[..., np.newaxis], "light rise")


def settling_time(waveform: Waveform, ratio: float = 1.1) -> NDArray[np.float64]:
    """Give the time from switching on until the current has fallen to a multiple of its settled value.

    Parameters
    ----------
    waveform : Waveform
        What `switch_on` gave.
    ratio : float [1]
        The multiple, above one: 2 for the end of the surge, 1.1 for settled.

    Returns
    -------
    ndarray, shape (...) [s]
        The settling time, uncertain by half of itself; nil when the current never was that high.

    Raises
    ------
    InputError
        The ratio is not above one, or the current does not fall to it in the time that was followed.

    Examples
    --------
    Until the current is twice the settled one.

    >>> import lampkit as lk
    >>> course = lk.sources.switch_on(lk.sources.hot_wire_of_rating(13.5, 25, 2800))
    >>> round(float(lk.sources.settling_time(course, 2)), 2)
    0.03
    """
    if not ratio > 1:
        raise InputError(f"a current never settles to {ratio:g} of itself", key="ratio", expected="a number above 1")
    return _crossing(
        waveform.time, ratio * waveform.settled_current[..., np.newaxis] - waveform.current, "current fall"
    )


def _crossing(time: NDArray[np.float64], above: NDArray[np.float64], what: str) -> NDArray[np.float64]:
    """First instant at which a course reaches zero from below, on a straight line between instants."""
    reached = above >= 0
    if not np.all(np.any(reached, axis=-1)):
        raise InputError(
            f"the {what} is not complete within {time[-1]:g} s", key="duration", expected="a longer time to follow"
        )
    after = np.argmax(reached, axis=-1)
    before = np.maximum(after - 1, 0)
    y1 = np.take_along_axis(above, after[..., np.newaxis], -1)[..., 0]
    y0 = np.take_along_axis(above, before[..., np.newaxis], -1)[..., 0]
    step = np.where(after > 0, y1 - y0, 1.0)
    return np.asarray(time[after] - np.where(after > 0, y1 / step, 0.0) * (time[after] - time[before]))
