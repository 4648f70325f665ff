"""What a flasher does with its load, and its rhythm: thermal series, hot wire, electronic, load-independent."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.circuits.loads import Load, positive, total_current
from lampkit.circuits.network import lamp_voltage, series_current
from lampkit.errors import InputError, nearest
from lampkit.sources import incandescence

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
    if lamp.kind != "filament":
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


RATE_LIMITS = 60.0, 120.0
"""Published limits of the flashes a minute [1/min]. Source: UN R48, 6.5.9, 90 +- 30, read in a secondary text."""

START_LIMIT = 1.5
"""Longest time from the control to the first dark of a thermal series flasher, or to its first light elsewhere [s].
Source: UN R48, 6.5.9, read in a secondary text: light within 1 s, first extinction within 1.5 s."""

COLD_RATIO = 14.3
"""Resistance of a hot filament over that of a cold one [1]. Source: own calculation, (2750/300)^1.2; texts read in
secondary form say 10 to 15."""


@dataclass(frozen=True)
class Flasher:
    """A flasher unit.

    Parameters
    ----------
    kind : {'thermal series', 'hot wire', 'electronic', 'load-independent'}
        How it works.
    rated_current : float [A]
        Current of the load that it is made for.
    voltage : float [V]
        Voltage at which that load draws it.
    time_constant : float [s]
        Warming and cooling of the strip or wire; zero for a timer.
    trip : float [1]
        Where it changes over when warming, as a share of its rated steady rise of temperature.
    reset : float [1]
        Where it changes back when cooling, as a share of the same.
    heater_resistance : float [ohm]
        In series with the lamps always (thermal series), or while they are dark (hot wire).
    threshold_current : float [A]
        Current below which an electronic flasher takes a lamp for failed, at `voltage`; it follows the supply as a
        filament's current does.
    rate : float [1/min]
        Rate of a timer with all lamps in order.
    lamp_out_factor : float [1]
        How much faster an electronic flasher goes with a lamp failed.

    Source: data/circuit/flashers.csv.
    """

    kind: str
    rated_current: float
    voltage: float
    time_constant: float = 0.0
    trip: float = 0.0
    reset: float = 0.0
    heater_resistance: float = 0.0
    threshold_current: float = 0.0
    rate: float = 0.0
    lamp_out_factor: float = 1.0

    def __post_init__(self) -> None:
        kinds = tables.load("circuit", "flashers")["kind"]
        if self.kind not in kinds:
            raise InputError(f"the flasher '{self.kind}' is unknown", key="kind", expected=nearest(self.kind, kinds))
        positive(self.rated_current, "rated_current", "A")
        positive(self.voltage, "voltage", "V")
        if self.kind in ("thermal series", "hot wire"):
            positive(self.time_constant, "time_constant", "s")
            positive(self.heater_resistance, "heater_resistance", "ohm")
            check_levels(self.trip, self.reset)
        else:
            positive(self.rate, "rate", "1/min")


def flasher(kind: str, *, supply_voltage: float = 12.0, pairs: float = 1.0) -> Flasher:
    """Give a typical flasher for two 21 W lamps on a 6 V, 12 V or 24 V vehicle.

    Parameters
    ----------
    kind : {'thermal series', 'hot wire', 'electronic', 'load-independent'}
        How it works.
    supply_voltage : float [V]
        6, 12 or 24, the name of the system.
    pairs : float [1]
        How many pairs of 21 W lamps it is made for.

    Returns
    -------
    Flasher
        The unit.

    Raises
    ------
    InputError
        The kind or the system is unknown.

    Source: data/circuit/flashers.csv for 12 V; other systems keep the watts.
    """
    table = tables.load("circuit", "flashers")
    if kind not in table["kind"]:
        raise InputError(f"the flasher '{kind}' is unknown", key="kind", expected=nearest(kind, table["kind"]))
    if supply_voltage not in (6, 12, 24):
        raise InputError(f"a system of {supply_voltage:g} V", key="supply_voltage", expected="6, 12 or 24 V")
    row = table.rows()[list(table["kind"]).index(kind)]
    size = supply_voltage / 12.0
    amperes = float(positive(pairs, "pairs", "1")) / size

    def number(column: str) -> float:
        return float(np.nan_to_num(row[column]))

    return Flasher(
        kind=kind,
        rated_current=3.6 * amperes,
        # The data sheets state their threshold at the name of the system, the flasher standards at 12.8 V.
        voltage=supply_voltage if kind == "electronic" else 12.8 * size,
        time_constant=number("time_constant_s"),
        trip=number("trip"),
        reset=number("reset"),
        heater_resistance=number("heater_ohm") * size / amperes,
        threshold_current=number("threshold_A") * amperes,
        rate=number("rate_per_min"),
        lamp_out_factor=number("lamp_out_factor") or 1.0,
    )


def least_current(unit: Flasher, supply_voltage: ArrayLike) -> NDArray[np.float64]:
    """Give the current that a flasher needs to work as it should.

    Parameters
    ----------
    unit : Flasher
        The flasher.
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply; only an electronic flasher's threshold follows it.

    Returns
    -------
    ndarray, shape (...) [A]
        Lamp current (thermal series, electronic), wire current (hot wire), nil for a load-independent timer.

    Raises
    ------
    InputError
        The supply is not above zero.

    Source: sqrt(trip) times the rated current; threshold of the data sheets.
    """
    v = positive(supply_voltage, "supply_voltage", "V")
    if unit.kind == "electronic":
        return np.asarray(unit.threshold_current * (v / unit.voltage) ** incandescence.exponent("current")[1])
    if unit.kind == "thermal series":
        return np.full(v.shape, np.sqrt(unit.trip) * unit.rated_current)
    if unit.kind == "hot wire":
        return np.full(v.shape, np.sqrt(unit.trip) * _rated_heater_current(unit))
    return np.zeros(v.shape)


def _rated_heater_current(unit: Flasher) -> float:
    return unit.voltage / (unit.heater_resistance + unit.voltage / unit.rated_current / COLD_RATIO)


def cold(load: Load) -> Load:
    """Replace a filament by the resistance that it has when it is dark; leave anything else alone.

    Source: ratio of hot to cold resistance, `COLD_RATIO`.
    """
    if load.kind != "filament":
        return load
    return Load(load.name, "resistor", COLD_RATIO * load.current, load.voltage)


class Dark(NamedTuple):
    """What flows through the lamps while a hot-wire flasher's contacts are open.

    Source: Kirchhoff's laws.
    """

    current: NDArray[np.float64]
    voltage: NDArray[np.float64]


def heater_path(unit: Flasher, loads: Sequence[Load], supply_voltage: ArrayLike) -> Dark:
    """Give current and lamp voltage of a hot-wire flasher with its contacts open.

    Source: Kirchhoff's laws with the filaments cold.
    """
    if unit.kind != "hot wire":
        raise InputError(f"a {unit.kind} flasher has no hot wire", key="kind", expected="'hot wire'")
    chain = series_current(supply_voltage, [[cold(load) for load in loads]], unit.heater_resistance)
    return Dark(chain.current, chain.voltages[0])


def flash(unit: Flasher, loads: Sequence[Load], supply_voltage: ArrayLike, *, resistance: ArrayLike = 0.0) -> Flash:
    """Give the rhythm of a flasher with the lamps that are really there.

    Parameters
    ----------
    unit : Flasher
        The flasher.
    loads : sequence of Load
        The lamps of one side, ballast resistors included; those of both sides for hazard flashing.
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply.
    resistance : array_like, shape (...) [ohm]
        Wiring and earth, without the flasher itself.

    Returns
    -------
    Flash
        The rhythm with settled filaments; `flash_rhythm.warming_flash` follows them as they warm.

    Raises
    ------
    InputError
        A number is out of range, or there is no lamp.

    Source: the model of each kind, see `thermal_series_flash`, `hot_wire_flash`, flasher circuit data sheets.
    """
    levels = {"trip": unit.trip, "reset": unit.reset, "time_constant": unit.time_constant}
    if unit.kind == "hot wire":
        ratio = heater_path(unit, loads, supply_voltage).current / _rated_heater_current(unit)
        return hot_wire_flash(ratio, **levels)
    current = load_of(unit, loads, supply_voltage, resistance=resistance)
    if unit.kind == "thermal series":
        return thermal_series_flash(current / unit.rated_current, **levels)
    failed = current < least_current(unit, supply_voltage)
    fast = failed & (unit.kind == "electronic")
    period = 60.0 / (unit.rate * np.where(fast, unit.lamp_out_factor, 1.0))
    on = period * np.where(fast, 0.4, 0.5)
    return rhythm(np.asarray(on), np.asarray(period - on), np.asarray(on))


def load_of(
    unit: Flasher, loads: Sequence[Load], supply_voltage: ArrayLike, *, resistance: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Give the settled lamp current through a flasher with its contacts closed.

    Source: Kirchhoff's laws; the rated current of a thermal unit already counts its own heater.
    """
    return total_current(loads, lamp_voltage(supply_voltage, resistance, loads))


def flasher_words(unit: Flasher, loads: Sequence[Load], supply_voltage: float, *, resistance: float = 0.0) -> str:
    """Say what a flasher does with the lamps that are there.

    Parameters
    ----------
    unit : Flasher
        The flasher.
    loads : sequence of Load
        The lamps of one side.
    supply_voltage : float [V]
        Voltage of the supply.
    resistance : float [ohm]
        Wiring and earth, without the flasher itself.

    Returns
    -------
    str
        One sentence.

    Raises
    ------
    InputError
        A number is out of range, or there is no lamp.

    Source: the model of each kind; 60 to 120 flashes a minute, UN R48, 6.5.9.
    """
    flashes = flash(unit, loads, supply_voltage, resistance=resistance)
    least = float(least_current(unit, supply_voltage))
    rate = float(flashes.rate)
    if unit.kind == "hot wire":
        dark = heater_path(unit, loads, supply_voltage)
        if rate == 0:
            leds = [load for load in loads if load.kind.endswith("LED")]
            full = float(total_current(leds, supply_voltage))
            share = float(total_current(leds, dark.voltage)) / full if full else 0.0
            return (
                f"the hot-wire flasher never closes: its wire gets {float(dark.current):.2f} A and needs more than "
                f"{least:.2f} A; LEDs glow steadily at about {100 * share:.0f} % of their current"
            )
        return f"the hot-wire flasher flashes {rate:.0f} times a minute{_limits(rate)}"
    current = float(load_of(unit, loads, supply_voltage, resistance=resistance))
    if rate == 0:
        return (
            f"the thermal flasher lights the lamps and does not flash: load {current:.2g} A, it needs more than "
            f"{least:.2f} A"
        )
    if unit.kind == "electronic" and current < least:
        return (
            f"the electronic flasher takes a lamp for failed and flashes {rate:.0f} times a minute: load "
            f"{current:.2f} A, it asks for {least:.2f} A"
        )
    if unit.kind == "load-independent":
        return (
            f"the load-independent flasher flashes {rate:.0f} times a minute whatever the load; "
            "it reports no lamp failure"
        )
    lit = f"lit {100 * float(flashes.duty):.0f} % of the time"
    return f"the {unit.kind} flasher flashes {rate:.0f} times a minute, {lit}{_limits(rate)}"


def _limits(rate: float) -> str:
    low, high = RATE_LIMITS
    if low <= rate <= high:
        return ""
    return f", {'slower' if rate < low else 'faster'} than the {low:g} to {high:g} of the published limits"
