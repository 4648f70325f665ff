"""The rhythm of a flasher: in closed form, and followed step by step with filaments that warm and cool."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits.loads import Load, LoadKind, positive
from lampkit.errors import InputError

HOT, AMBIENT = 2750.0, 300.0
"""Temperature of a signal lamp's filament, lit and cold [K]. Source: own estimate."""

HEAT_CAPACITY = 3.1e-3 / 25.0
"""Heat capacity of a filament over the watts of its lamp [J/K for each W]. Source: own estimate, 19 mg of tungsten in
a 25 W lamp; no measured mass was found."""


class Flash(NamedTuple):
    """The rhythm of a flasher.

    Parameters
    ----------
    on : ndarray, shape (...) [s]
        Time lit in each flash; infinite when it stays lit, nil when it stays dark.
    off : ndarray, shape (...) [s]
        Time dark in each flash; infinite when it stays dark, nil when it stays lit.
    start : ndarray, shape (...) [s]
        Time from the control to the first change: to the first dark where the lamps light at once (thermal series,
        electronic), to the first light otherwise; infinite when there is none. For a hot wire the closing of the
        contacts.
    rate : ndarray, shape (...) [1/min]
        Flashes a minute, nil when it does not flash.
    duty : ndarray, shape (...) [1]
        Share of the time that the lamps are lit.
    """

    on: NDArray[np.float64]
    off: NDArray[np.float64]
    start: NDArray[np.float64]
    rate: NDArray[np.float64]
    duty: NDArray[np.float64]


def check_levels(trip: float, reset: float) -> None:
    """Refuse levels at which no flasher could work.

    Source: own model.
    """
    if not 0 < reset < trip < 1:
        raise InputError(
            f"a flasher that trips at {trip:g} and resets at {reset:g} of its rated rise",
            key="trip",
            expected="0 < reset < trip < 1",
        )


def rhythm(on: NDArray[np.float64], off: NDArray[np.float64], start: NDArray[np.float64]) -> Flash:
    """Add rate and duty to the times of a flash.

    Source: definition.
    """
    period = on + off
    rate = np.where(np.isfinite(period), 60.0 / period, 0.0)
    duty = np.where(np.isinf(on), 1.0, np.where(np.isinf(off), 0.0, on / np.where(np.isinf(period), 1.0, period)))
    return Flash(on, off, np.asarray(start), np.asarray(rate), np.asarray(duty))


def _log_ratio(above: NDArray[np.float64], below: NDArray[np.float64]) -> NDArray[np.float64]:
    """ln(above/below), infinite where the lower one is not above zero: the temperature is never reached."""
    reached = below > 0
    return np.asarray(np.where(reached, np.log(np.where(reached, above / np.where(reached, below, 1.0), 1.0)), np.inf))


def thermal_series_flash(
    load_ratio: ArrayLike, *, trip: float = 0.6, reset: float = 0.4, time_constant: float = 0.87
) -> Flash:
    """Give the rhythm of a thermal series flasher: the lamps' own current heats the strip that interrupts it.

    Source: own model, one heat capacity: t_on = tau ln[(m2 - x2)/(m2 - x1)], t_off = tau ln(x1/x2), start = tau
    ln[m2/(m2 - x1)], with m2 the square of the ratio. Principle: US Army TM 9-8000, 16-20, read.
    """
    check_levels(trip, reset)
    heat = positive(load_ratio, "load_ratio", "1", or_zero=True) ** 2
    on = time_constant * _log_ratio(heat - reset, heat - trip)
    off = np.where(np.isinf(on), 0.0, time_constant * np.log(trip / reset))
    return rhythm(np.asarray(on), off, time_constant * _log_ratio(heat, heat - trip))


def hot_wire_flash(
    heater_ratio: ArrayLike, *, trip: float = 0.6, reset: float = 0.4, time_constant: float = 0.87
) -> Flash:
    """Give the rhythm of a hot-wire flasher: a wire heats through the dark lamps, closes the contacts and cools.

    Source: own model, one heat capacity: t_on = tau ln(x1/x2), t_off = tau ln[(u2 - x2)/(u2 - x1)], first light at tau
    ln[u2/(u2 - x1)], with u2 the square of the ratio. Principle: a period article, read in reprint.
    """
    check_levels(trip, reset)
    heat = positive(heater_ratio, "heater_ratio", "1", or_zero=True) ** 2
    off = time_constant * _log_ratio(heat - reset, heat - trip)
    on = np.where(np.isinf(off), 0.0, time_constant * np.log(trip / reset))
    return rhythm(on, np.asarray(off), time_constant * _log_ratio(heat, heat - trip))


def timer_rate(time_constant: ArrayLike) -> NDArray[np.float64]:
    """Give the rate that a resistor and a capacitor set in a common electronic flasher, f = 1/(1.5 R C).

    Source: flasher circuit data sheet, read in a secondary text.
    """
    return np.asarray(60.0 / (1.5 * positive(time_constant, "time_constant", "s")))


def warming_flash(
    lamp: Load,
    count: int,
    supply_voltage: ArrayLike,
    *,
    rated_current: float = 3.6,
    heater_resistance: float = 0.111,
    resistance: ArrayLike = 0.0,
    trip: float = 0.6,
    reset: float = 0.4,
    coil_time_constant: float = 0.0,
    strip_time_constant: float = 1.15,
    duration: float = 12.0,
) -> Flash:
    """Follow a thermal series flasher and filaments that warm and cool in each flash.

    Source: own model: C dT/dt = I2 R - k (T4 - Ta4) for the filaments with R as T^1.2, and one or two heat capacities
    for the flasher; classical fourth-order Runge-Kutta steps of 1 ms. Heat capacity and temperature of the filament are
    those of a 25 W lamp (19 mg of tungsten at 2750 K, own estimate): rates are good to some per cent, the first flash
    to a factor of 1.5.
    """
    if lamp.kind is not LoadKind.FILAMENT:
        raise InputError(f"{lamp.name} does not warm up like a filament", key="lamp", expected="a filament lamp")
    check_levels(trip, reset)
    supply = positive(supply_voltage, "supply_voltage", "V")
    shared = positive(resistance, "resistance", "ohm", or_zero=True) + heater_resistance
    supply, shared = (np.asarray(a, dtype=float) for a in np.broadcast_arrays(supply, shared))
    power = lamp.current * lamp.voltage
    capacity = HEAT_CAPACITY * power
    loss = power / (HOT**4 - AMBIENT**4)
    rated_heat = float(positive(rated_current, "rated_current", "A")) ** 2

    def change(state: NDArray[np.float64], closed: NDArray[np.bool_]) -> NDArray[np.float64]:
        wire, coil, strip = state
        ohms = lamp.voltage / lamp.current * (wire / HOT) ** 1.2
        each = np.where(closed, supply / (ohms + count * shared), 0.0)
        heat = (count * each) ** 2 / rated_heat
        passed = coil if coil_time_constant > 0 else heat
        return np.array(
            [
                (each**2 * ohms - loss * (wire**4 - AMBIENT**4)) / capacity,
                (heat - coil) / coil_time_constant if coil_time_constant > 0 else np.zeros_like(coil),
                (passed - strip) / strip_time_constant,
            ]
        )

    state = np.array([np.full(supply.shape, AMBIENT), np.zeros(supply.shape), np.zeros(supply.shape)])
    closed = np.ones(supply.shape, dtype=bool)
    # Instants of the last opening and of the last two closings; an infinite one has not come yet.
    opened, first = np.full(supply.shape, np.inf), np.full(supply.shape, np.inf)
    shut = np.full(supply.shape, np.inf)
    on, off = np.full(supply.shape, np.inf), np.zeros(supply.shape)
    step = 1e-3
    for i in range(round(duration / step)):
        a = change(state, closed)
        b = change(state + 0.5 * step * a, closed)
        c = change(state + 0.5 * step * b, closed)
        d = change(state + step * c, closed)
        before = state[2]
        state = state + step / 6.0 * (a + 2.0 * (b + c) + d)
        level = np.where(closed, trip, reset)
        over = np.where(closed, state[2] >= trip, state[2] <= reset)
        if not np.any(over):
            continue
        # The instant of crossing lies inside the step.
        share = np.clip((level - before) / np.where(state[2] == before, 1.0, state[2] - before), 0.0, 1.0)
        now = (i + share) * step
        opens, closes = over & closed, over & ~closed
        on = np.where(opens & np.isfinite(shut), now - shut, on)
        first = np.where(opens & np.isinf(first), now, first)
        off = np.where(closes, now - opened, off)
        opened = np.where(opens, now, opened)
        shut = np.where(closes, now, shut)
        closed = closed ^ over
    return rhythm(on, off, first)
