"""What a flasher does with its load: thermal, hot wire, electronic or load-independent; its watch for dead lamps."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.circuits.loads import Load, LoadKind, positive, total_current
from lampkit.circuits.network import Series, lamp_voltage, series_current
from lampkit.errors import InputError, member
from lampkit.sources import incandescence
from lampkit.statements import Statement, named, say

RATE_LIMITS = 60.0, 120.0
"""Published limits of the flashes a minute [1/min]. Source: UN R48, 6.5.9, 90 +- 30, read in a secondary text."""


class FlashPace(Enum):
    """Where a rate lies beside the published limits, `RATE_LIMITS`."""

    SLOWER = "slower"
    WITHIN = "within"
    FASTER = "faster"


class Flash(NamedTuple):
    """The rhythm of a flasher."""

    on: NDArray[np.float64]
    off: NDArray[np.float64]
    start: NDArray[np.float64]
    rate: NDArray[np.float64]
    duty: NDArray[np.float64]


def check_levels(trip: float, reset: float) -> None:
    """Refuse levels at which no flasher could work."""
    if not 0 < reset < trip < 1:
        raise InputError(
            f"a flasher that trips at {trip:g} and resets at {reset:g} of its rated rise",
            key="trip",
            expected="0 < reset < trip < 1",
        )


def rhythm(on: NDArray[np.float64], off: NDArray[np.float64], start: NDArray[np.float64]) -> Flash:
    """Add rate and duty to the times of a flash."""
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


COLD_RATIO = 14.3
"""Resistance of a hot filament over that of a cold one [1]. Source: own calculation, (2750/300)^1.2; texts read in
secondary form say 10 to 15."""


class FlasherKind(Enum):
    """How a flasher works, by the name that the vehicle file and data/circuit/flashers.csv use."""

    THERMAL_SERIES = "thermal series"
    HOT_WIRE = "hot wire"
    ELECTRONIC = "electronic"
    LOAD_INDEPENDENT = "load-independent"


@dataclass(frozen=True)
class Flasher:
    """A flasher unit."""

    kind: FlasherKind
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
        if not isinstance(self.kind, FlasherKind):
            raise InputError(f"the flasher '{self.kind}' is unknown", key="kind", expected="a FlasherKind")
        positive(self.rated_current, "rated_current", "A")
        positive(self.voltage, "voltage", "V")
        if self.kind in (FlasherKind.THERMAL_SERIES, FlasherKind.HOT_WIRE):
            positive(self.time_constant, "time_constant", "s")
            positive(self.heater_resistance, "heater_resistance", "ohm")
            check_levels(self.trip, self.reset)
        else:
            positive(self.rate, "rate", "1/min")


def flasher(kind: FlasherKind | str, *, supply_voltage: float = 12.0, pairs: float = 1.0) -> Flasher:
    """Give a typical flasher for two 21 W lamps on a 6 V, 12 V or 24 V vehicle.

    Parameters
    ----------
    kind : FlasherKind or {'thermal series', 'hot wire', 'electronic', 'load-independent'}
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

    Examples
    --------
    On 24 V the same watts are half the current.

    >>> import lampkit as lk
    >>> lk.circuits.flasher("electronic", supply_voltage=24).rated_current
    1.8

    Source: data/circuit/flashers.csv for 12 V; other systems keep the watts.
    """
    known = member(FlasherKind, kind, "flasher", "kind")
    if supply_voltage not in (6, 12, 24):
        raise InputError(f"a system of {supply_voltage:g} V", key="supply_voltage", expected="6, 12 or 24 V")
    row = next(row for row in tables.load("circuit", "flashers").rows() if row["kind"] == known.value)
    size = supply_voltage / 12.0
    amperes = float(positive(pairs, "pairs", "1")) / size

    def number(column: str) -> float:
        return float(np.nan_to_num(row[column]))

    return Flasher(
        kind=known,
        rated_current=3.6 * amperes,
        # The data sheets state their threshold at the name of the system, the flasher standards at 12.8 V.
        voltage=supply_voltage if known is FlasherKind.ELECTRONIC else 12.8 * size,
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

    Source: sqrt(trip) times the rated current; threshold of the data sheets.
    """
    v = positive(supply_voltage, "supply_voltage", "V")
    if unit.kind is FlasherKind.ELECTRONIC:
        return np.asarray(unit.threshold_current * (v / unit.voltage) ** incandescence.exponent("current")[1])
    if unit.kind is FlasherKind.THERMAL_SERIES:
        return np.full(v.shape, np.sqrt(unit.trip) * unit.rated_current)
    if unit.kind is FlasherKind.HOT_WIRE:
        return np.full(v.shape, np.sqrt(unit.trip) * _rated_heater_current(unit))
    return np.zeros(v.shape)


def _rated_heater_current(unit: Flasher) -> float:
    return unit.voltage / (unit.heater_resistance + unit.voltage / unit.rated_current / COLD_RATIO)


def cold(load: Load) -> Load:
    """Replace a filament by the resistance that it has when it is dark; leave anything else alone."""
    if load.kind is not LoadKind.FILAMENT:
        return load
    return Load(load.name, LoadKind.RESISTOR, COLD_RATIO * load.current, load.voltage)


def heater_path(
    unit: Flasher, loads: Sequence[Load], supply_voltage: ArrayLike, *, resistance: ArrayLike = 0.0
) -> Series:
    """Give current and lamp voltage of a hot-wire flasher with its contacts open."""
    if unit.kind is not FlasherKind.HOT_WIRE:
        raise InputError(f"a {unit.kind.value} flasher has no hot wire", key="kind", expected="'hot wire'")
    on_the_way = unit.heater_resistance + positive(resistance, "resistance", "ohm", or_zero=True)
    return series_current(supply_voltage, [[cold(load) for load in loads]], on_the_way)


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
        The rhythm with settled filaments.

    Raises
    ------
    InputError
        A number is out of range, or there is no lamp.

    Examples
    --------
    A thermal flasher with the two lamps that it is made for, and with one of them failed [1/min].

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(25, 13.5)
    >>> unit = lk.circuits.flasher("thermal series")
    >>> [round(float(lk.circuits.flash(unit, [lamp] * n, 12.8).rate)) for n in (2, 1)]
    [85, 0]

    Source: the model of each kind, see `thermal_series_flash`, `hot_wire_flash`, flasher circuit data sheets.
    """
    levels = {"trip": unit.trip, "reset": unit.reset, "time_constant": unit.time_constant}
    if unit.kind is FlasherKind.HOT_WIRE:
        ratio = heater_path(unit, loads, supply_voltage, resistance=resistance).current / _rated_heater_current(unit)
        return hot_wire_flash(ratio, **levels)
    current = load_of(unit, loads, supply_voltage, resistance=resistance)
    if unit.kind is FlasherKind.THERMAL_SERIES:
        return thermal_series_flash(current / unit.rated_current, **levels)
    failed = current < least_current(unit, supply_voltage)
    fast = failed & (unit.kind is FlasherKind.ELECTRONIC)
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


class FlasherNeed(NamedTuple):
    """What a flasher needs of the lamps of one side: enough current at one voltage across them, no more at another.

    `cold` tells that the current flows through dark lamps, `met_before` whether the filament lamps give it.
    """

    current: float
    voltage: float
    most: float
    voltage_at_most: float
    cold: bool
    met_before: bool


def need(unit: Flasher, filaments: Sequence[Load], supply_voltage: float, *, resistance: float = 0.0) -> FlasherNeed:
    """Find the current with which a flasher flashes, neither slower nor faster than the rules allow.

    Behind a wire lamps draw at least a current just where they draw it at the voltage that the wire then leaves them.
    Less than the filament lamps give, or more than they take, is not asked of what replaces them.
    Source: the closed form of the period of each kind; Ohm's law; 60 to 120 flashes a minute, UN R48, 6.5.9.
    """
    least, most, hot = float(least_current(unit, supply_voltage)), np.inf, unit.kind is FlasherKind.HOT_WIRE
    if hot or unit.kind is FlasherKind.THERMAL_SERIES:
        rated = _rated_heater_current(unit) if hot else unit.rated_current
        slowest, fastest = (rated * _ratio_at(unit, rate) for rate in RATE_LIMITS)
        least = slowest if np.isfinite(slowest) else least
        # Even lamps without any resistance do not make a hot wire too fast.
        most = np.inf if hot else fastest
    if hot:
        before = float(heater_path(unit, filaments, supply_voltage, resistance=resistance).current)
    else:
        before = float(load_of(unit, filaments, supply_voltage, resistance=resistance))
    way = resistance + (unit.heater_resistance if hot else 0.0)
    low, high = min(least, before), max(most, before)
    left = supply_voltage - way * high if np.isfinite(high) else 0.0
    return FlasherNeed(low, supply_voltage - way * low, high, max(left, 0.0), hot, least <= before <= most)


def _ratio_at(unit: Flasher, rate: float) -> float:
    """Give the load over the rated one that makes so many flashes of a strip or wire that heats; infinite for none."""
    stretch = np.exp(60.0 / (rate * unit.time_constant)) * unit.reset / unit.trip
    return float(np.sqrt((stretch * unit.trip - unit.reset) / (stretch - 1.0))) if stretch > 1.0 else np.inf


class FlasherBehaviour(Enum):
    """What a flasher does with the lamps that are there."""

    FLASHES = "flashes"
    STAYS_LIT = "stays_lit"
    NEVER_CLOSES = "never_closes"
    REPORTS_A_FAILED_LAMP = "reports_a_failed_lamp"


@dataclass(frozen=True)
class FlasherState:
    """What a flasher does with the lamps that are there."""

    kind: FlasherKind
    behaviour: FlasherBehaviour
    rate: float
    duty: float
    current: float
    least_current: float
    glow: float

    @property
    def pace(self) -> FlashPace:
        """Where the rate lies beside the published limits."""
        low, high = RATE_LIMITS
        if self.rate < low:
            return FlashPace.SLOWER
        return FlashPace.FASTER if self.rate > high else FlashPace.WITHIN

    @property
    def works(self) -> bool:
        """Whether it flashes, and within the published limits."""
        return self.behaviour is FlasherBehaviour.FLASHES and self.pace is FlashPace.WITHIN

    @property
    def said(self) -> Statement:
        """The state in a clause without full stop."""
        if self.behaviour is FlasherBehaviour.NEVER_CLOSES:
            return say("flasher.never_closes", current=self.current, least=self.least_current, glow=self.glow)
        if self.behaviour is FlasherBehaviour.STAYS_LIT:
            return say("flasher.stays_lit", current=self.current, least=self.least_current)
        if self.behaviour is FlasherBehaviour.REPORTS_A_FAILED_LAMP:
            return say("flasher.reports_a_failed_lamp", rate=self.rate, current=self.current, least=self.least_current)
        if self.kind is FlasherKind.LOAD_INDEPENDENT:
            return say("flasher.flashes_whatever_the_load", rate=self.rate)
        low, high = RATE_LIMITS
        past = say("flasher.past_limits", pace=named(self.pace), low=low, high=high)
        limits = "" if self.pace is FlashPace.WITHIN else past
        if self.kind is FlasherKind.HOT_WIRE:
            return say("flasher.hot_wire_flashes", rate=self.rate, limits=limits)
        return say("flasher.flashes", kind=named(self.kind), rate=self.rate, duty=self.duty, limits=limits)

    def __str__(self) -> str:
        return str(self.said)


def flasher_state(
    unit: Flasher, loads: Sequence[Load], supply_voltage: float, *, resistance: float = 0.0
) -> FlasherState:
    """Judge what a flasher does with the lamps that are there.

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
    FlasherState
        What it does; printed, a clause.

    Raises
    ------
    InputError
        A number is out of range, or there is no lamp.

    Examples
    --------
    With LEDs a hot-wire flasher never closes, and they glow.

    >>> import lampkit as lk
    >>> led = lk.circuits.led_load(2, 13.5)
    >>> lk.circuits.flasher_state(lk.circuits.flasher("hot wire"), [led] * 2, 12.8).behaviour.value
    'never_closes'

    Source: the model of each kind; 60 to 120 flashes a minute, UN R48, 6.5.9.
    """
    flashes = flash(unit, loads, supply_voltage, resistance=resistance)
    least, rate = float(least_current(unit, supply_voltage)), float(flashes.rate)
    behaviour, glow = FlasherBehaviour.FLASHES, 0.0
    if unit.kind is FlasherKind.HOT_WIRE:
        dark = heater_path(unit, loads, supply_voltage, resistance=resistance)
        current = float(dark.current)
        if rate == 0:
            leds = [load for load in loads if load.is_led]
            full = float(total_current(leds, supply_voltage))
            behaviour = FlasherBehaviour.NEVER_CLOSES
            glow = float(total_current(leds, dark.voltages[0])) / full if full else 0.0
    else:
        current = float(load_of(unit, loads, supply_voltage, resistance=resistance))
        if rate == 0:
            behaviour = FlasherBehaviour.STAYS_LIT
        elif unit.kind is FlasherKind.ELECTRONIC and current < least:
            behaviour = FlasherBehaviour.REPORTS_A_FAILED_LAMP
    return FlasherState(unit.kind, behaviour, rate, float(flashes.duty), current, least, glow)


def looks_alike(one: FlasherState, other: FlasherState) -> bool:
    """Tell whether nobody who watches the lamps could tell two states of a flasher apart."""
    if one.behaviour is not other.behaviour or one.behaviour is not FlasherBehaviour.FLASHES:
        return one == other
    return (round(one.rate), round(100 * one.duty)) == (round(other.rate), round(100 * other.duty))
