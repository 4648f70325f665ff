"""Several loads on one supply: what a wire, a leak, a tired or a lost earth leaves to each, and groups in series."""

from collections.abc import Sequence
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import equations
from lampkit.circuits.loads import Load, LoadKind, drawing, full_voltage, positive, relative_light, total_current
from lampkit.errors import InputError
from lampkit.sources import incandescence
from lampkit.statements import Statement, say


def lamp_voltage(supply_voltage: ArrayLike, resistance: ArrayLike, loads: Sequence[Load]) -> NDArray[np.float64]:
    """Find the voltage that is left at loads which share one wire, or one tired earth.

    Parameters
    ----------
    supply_voltage : array_like, shape (...) [V]
        Voltage at the start of the wire.
    resistance : array_like, shape (...) [ohm]
        Everything that all the current passes: wire, contacts, earth.
    loads : sequence of Load
        What is switched on together.

    Returns
    -------
    ndarray, shape (...) [V]
        The voltage at the lamps, from v = Vs - R I(v).

    Raises
    ------
    InputError
        The supply or the resistance is out of range, or no load is given.

    Examples
    --------
    Six ohm of lamp behind 6 ohm of rust share 12 V evenly.

    >>> import lampkit as lk
    >>> round(float(lk.circuits.lamp_voltage(12, 6, [lk.circuits.resistor_load(6)])), 6)
    6.0

    Source: Kirchhoff's laws, solved by Ridders' method to 1e-12 of the supply.
    """
    supply = positive(supply_voltage, "supply_voltage", "V")
    ohms = positive(resistance, "resistance", "ohm", or_zero=True)
    if not loads:
        raise InputError("a circuit needs at least one load", key="loads")
    supply, ohms = np.broadcast_arrays(supply, ohms)
    if supply.size > FEW:
        return _left(supply, ohms, loads)
    return _left_to_few(supply.shape, supply.tobytes(), ohms.tobytes(), tuple(loads)).copy()


FEW = 8
"""Voltages up to which what is left of them is remembered: a plan asks the same of a circuit five times over [1]."""


@lru_cache(maxsize=1024)
def _left_to_few(shape: tuple[int, ...], supply: bytes, ohms: bytes, loads: tuple[Load, ...]) -> NDArray[np.float64]:
    return _left(np.frombuffer(supply).reshape(shape), np.frombuffer(ohms).reshape(shape), loads)


def _left(supply: NDArray[np.float64], ohms: NDArray[np.float64], loads: Sequence[Load]) -> NDArray[np.float64]:
    drawn = drawing(loads)
    found = equations.rising_root(lambda v: v + ohms * drawn(v) - supply, np.zeros(supply.shape), supply)
    # Without resistance the supply itself is the answer, to the last digit.
    return np.asarray(np.where(ohms == 0, supply, found))


class JointVoltages(NamedTuple):
    """What a meter reads along one circuit: amperes, and volts behind each joint of the feed, at lamps and shell."""

    current: NDArray[np.float64]
    feed: NDArray[np.float64]
    lamp: NDArray[np.float64]
    shell: NDArray[np.float64]


def joint_voltages(supply_voltage: float, feed: Sequence[float], earth: float, loads: Sequence[Load]) -> JointVoltages:
    """Give what a meter reads at every joint, its other lead on the earth post of the battery."""
    pieces = positive(list(feed), "feed", "ohm", or_zero=True)
    back = positive(earth, "earth", "ohm", or_zero=True)
    left = lamp_voltage(supply_voltage, float(pieces.sum() + back), loads)
    current = total_current(loads, left)
    return JointVoltages(current, supply_voltage - current * np.cumsum(pieces), left, current * back)


class Series(NamedTuple):
    """The current of groups of loads in series, and the voltage that falls to each group."""

    current: NDArray[np.float64]
    voltages: NDArray[np.float64]


def series_current(supply_voltage: ArrayLike, groups: Sequence[Sequence[Load]], resistance: ArrayLike = 0.0) -> Series:
    """Find the current when one group of lamps returns to earth through another."""
    supply = positive(supply_voltage, "supply_voltage", "V")
    ohms = positive(resistance, "resistance", "ohm", or_zero=True)
    if not groups or not all(groups):
        raise InputError("a chain needs at least one load in each of its groups", key="groups")
    supply, ohms = (np.asarray(a, dtype=float) for a in np.broadcast_arrays(supply, ohms))
    most = np.min([total_current(group, supply) for group in groups], axis=0)
    current = equations.rising_root(
        lambda i: ohms * i + sum(group_voltage(group, i, supply) for group in groups) - supply,
        np.zeros(supply.shape),
        most,
    )
    voltages = np.array([group_voltage(group, current, supply) for group in groups])
    left = supply - ohms * current
    # Where nothing flows, the thresholds together exceed the supply: leaks then share it out.
    voltages = voltages * np.minimum(1.0, left / np.maximum(voltages.sum(axis=0), 1e-12))
    # A regulator that holds the current takes all the voltage that the others leave.
    holds = np.array([total_current(group, supply) <= current * (1.0 + 1e-9) for group in groups])
    spare = left - voltages.sum(axis=0)
    voltages = voltages + np.where(holds, spare / np.maximum(holds.sum(axis=0), 1), 0.0)
    return Series(np.asarray(current), voltages)


def group_voltage(group: Sequence[Load], current: NDArray[np.float64], top: NDArray[np.float64]) -> NDArray[np.float64]:
    """The least voltage at which loads side by side draw a current."""
    if all(load == group[0] for load in group):
        return np.minimum(_own_voltage(group[0], current / len(group)), top)
    if any(load.kind is LoadKind.FILAMENT for load in group):
        drawn_at = drawing(group)
        return equations.rising_root(lambda v: drawn_at(v) - current, np.zeros(top.shape), top)
    # Without a filament the currents add up to straight lines between knees; of a level one its start counts.
    turns = {volts for load in group for volts in (load.threshold_voltage, full_voltage(load))}
    knees = np.array(sorted({0.0, *turns, 10.0 * max(turns)}))
    drawn = total_current(group, knees)
    after = np.clip(np.searchsorted(drawn, current, side="left"), 1, knees.size - 1)
    rise = drawn[after] - drawn[after - 1]
    share = np.clip((current - drawn[after - 1]) / np.where(rise > 0, rise, 1.0), 0.0, 1.0)
    return np.asarray(np.minimum(knees[after - 1] + share * (knees[after] - knees[after - 1]), top))


def _own_voltage(load: Load, current: NDArray[np.float64]) -> NDArray[np.float64]:
    share = current / load.current
    if load.kind is LoadKind.FILAMENT:
        return np.asarray(load.voltage * share ** (1.0 / incandescence.exponent("current")[1]))
    return np.asarray(load.threshold_voltage + share * (full_voltage(load) - load.threshold_voltage))


DARK_VOLTAGE = 1.5
"""Voltage below which no LED die lights, whatever its colour [V]. Source: common practice, no source; red dice begin
at about 1.6 V."""


def shunted_voltage(
    supply_voltage: ArrayLike, leak_resistance: ArrayLike, shunt_resistance: ArrayLike
) -> NDArray[np.float64]:
    """Give the voltage that a leak leaves at an LED lamp with a resistor across it."""
    leak = positive(leak_resistance, "leak_resistance", "ohm")
    shunt = positive(shunt_resistance, "shunt_resistance", "ohm")
    return np.asarray(positive(supply_voltage, "supply_voltage", "V") * shunt / (shunt + leak))


class LeakVerdict(Enum):
    """Whether a leak lights a lamp that is off, and whether a resistor across it helps."""

    STAYS_DARK = "stays_dark"
    RESISTOR_CURES = "resistor_cures"
    RESISTOR_TOO_LARGE = "resistor_too_large"


class Leak(NamedTuple):
    """What a leak does to a lamp that is off, and what a resistor across the lamp changes."""

    verdict: LeakVerdict
    lamp: str
    current: float
    resistance: float
    voltage: float
    power: float

    @property
    def said(self) -> Statement:
        """What it does, and what cures it, in a sentence."""
        if self.verdict is LeakVerdict.STAYS_DARK:
            return say("leak.stays_dark", lamp=self.lamp, current=self.current)
        given = {"lamp": self.lamp, "current": self.current, "resistance": self.resistance, "voltage": self.voltage}
        if self.verdict is LeakVerdict.RESISTOR_CURES:
            return say("leak.resistor_cures", power=self.power, **given)
        return say("leak.resistor_too_large", **given)


def leak(supply_voltage: float, leak_resistance: float, lamp: Load, shunt_resistance: float = 1000.0) -> Leak:
    """Judge whether a leak lights a lamp that is off, and whether a resistor across it cures that.

    Source: common practice, no source; an LED glows visibly from well below a milliampere.
    """
    left = float(shunted_voltage(supply_voltage, leak_resistance, shunt_resistance))
    verdict = LeakVerdict.STAYS_DARK
    if lamp.is_led:
        dark = left < max(lamp.threshold_voltage, DARK_VOLTAGE)
        verdict = LeakVerdict.RESISTOR_CURES if dark else LeakVerdict.RESISTOR_TOO_LARGE
    return Leak(
        verdict,
        lamp.name,
        supply_voltage / leak_resistance,
        shunt_resistance,
        left,
        supply_voltage**2 / shunt_resistance,
    )


def shared_earth(
    supply_voltage: ArrayLike, earth_resistance: ArrayLike, watched: Load, joining: Sequence[Load]
) -> NDArray[np.float64]:
    """Give what is left of one lamp's light when others join it on a tired earth.

    Parameters
    ----------
    supply_voltage : array_like, shape (...) [V]
        Voltage at the lamps' feeds.
    earth_resistance : array_like, shape (...) [ohm]
        Resistance of the earth that they share.
    watched : Load
        The lamp that was lit before, such as the tail lamp.
    joining : sequence of Load
        What is switched on beside it, such as the stop lamp.

    Returns
    -------
    ndarray, shape (...) [1]
        Its light with the others over its light alone.

    Raises
    ------
    InputError
        A number is out of range.

    Examples
    --------
    A tail lamp dims when the stop lamp joins it on half an ohm.

    >>> import lampkit as lk
    >>> tail, stop = lk.circuits.filament_load(5, 13.5), lk.circuits.filament_load(25, 13.5)
    >>> lk.circuits.shared_earth(12.8, [0.0, 0.5], tail, [stop]).round(2)
    array([1.  , 0.79])

    Source: Kirchhoff's laws, exponent 3.4 for a filament.
    """
    alone = relative_light(watched, lamp_voltage(supply_voltage, earth_resistance, [watched]))
    joined = relative_light(watched, lamp_voltage(supply_voltage, earth_resistance, [watched, *joining]))
    return np.asarray(np.divide(joined, alone, out=np.zeros(np.shape(alone)), where=alone > 0))
