"""Several loads on one supply: the voltage that a wire or a tired earth leaves, and groups of lamps in series."""

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import equations
from lampkit.circuits.loads import Load, LoadKind, drawing, full_voltage, positive, total_current
from lampkit.errors import InputError
from lampkit.sources import incandescence


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
    return np.reshape(_left(supply.tobytes(), ohms.tobytes(), tuple(loads)), supply.shape).copy()


@lru_cache(maxsize=512)
def _left(supplies: bytes, resistances: bytes, loads: tuple[Load, ...]) -> NDArray[np.float64]:
    """Solve for the voltage once: left and right are mostly alike, and a plan asks for each of them again and again."""
    supply, ohms, drawn = np.frombuffer(supplies), np.frombuffer(resistances), drawing(loads)
    found = equations.rising_root(lambda v: v + ohms * drawn(v) - supply, np.zeros(supply.shape), supply.copy())
    # Without resistance the supply itself is the answer, to the last digit.
    return np.where(ohms == 0, supply, found)


class JointVoltages(NamedTuple):
    """What a meter reads along one circuit [V]: behind each joint of the feed, across the lamps, at their shell [A, V].

    Source: Kirchhoff's laws.
    """

    current: NDArray[np.float64]
    feed: NDArray[np.float64]
    lamp: NDArray[np.float64]
    shell: NDArray[np.float64]


def joint_voltages(supply_voltage: float, feed: Sequence[float], earth: float, loads: Sequence[Load]) -> JointVoltages:
    """Give what a meter reads at every joint, its other lead on the earth post of the battery.

    Parameters
    ----------
    supply_voltage : float [V]
        Voltage at the battery.
    feed : sequence of float [ohm]
        Resistance of each piece from the battery to the lamps, as fuse, switch, wire.
    earth : float [ohm]
        Resistance from the shells back to the battery.
    loads : sequence of Load
        What is lit.

    Returns
    -------
    JointVoltages
        Current, volts behind each piece of the feed, across the lamps, and at their shells.

    Raises
    ------
    InputError
        A number is out of range, or nothing is lit.

    Examples
    --------
    A lamp of 2 A behind 0.1 ohm of wire, with 0.2 ohm of earth.

    >>> import lampkit as lk
    >>> read = lk.circuits.joint_voltages(12.6, [0.1], 0.2, [lk.circuits.filament_load(24, 12)])
    >>> [round(float(volts), 1) for volts in (read.feed[0], read.lamp, read.shell)]
    [12.4, 12.0, 0.4]

    Source: Kirchhoff's laws, solved by Ridders' method.
    """
    pieces = positive(list(feed), "feed", "ohm", or_zero=True)
    back = positive(earth, "earth", "ohm", or_zero=True)
    left = lamp_voltage(supply_voltage, float(pieces.sum() + back), loads)
    current = total_current(loads, left)
    return JointVoltages(current, supply_voltage - current * np.cumsum(pieces), left, current * back)


class Series(NamedTuple):
    """The current of groups of loads in series, and the voltage that falls to each group.

    Source: Kirchhoff's laws.
    """

    current: NDArray[np.float64]
    voltages: NDArray[np.float64]


def series_current(supply_voltage: ArrayLike, groups: Sequence[Sequence[Load]], resistance: ArrayLike = 0.0) -> Series:
    """Find the current when one group of lamps returns to earth through another.

    Source: Kirchhoff's laws, solved by Ridders' method.
    """
    supply = positive(supply_voltage, "supply_voltage", "V")
    ohms = positive(resistance, "resistance", "ohm", or_zero=True)
    if not groups or not all(groups):
        raise InputError("a chain needs at least one load in each of its groups", key="groups")
    supply, ohms = (np.asarray(a, dtype=float) for a in np.broadcast_arrays(supply, ohms))
    most = np.min([total_current(group, supply) for group in groups], axis=0)
    current = equations.rising_root(
        lambda i: ohms * i + sum(_group_voltage(group, i, supply) for group in groups) - supply,
        np.zeros(supply.shape),
        most,
    )
    voltages = np.array([_group_voltage(group, current, supply) for group in groups])
    left = supply - ohms * current
    # Where nothing flows, the thresholds together exceed the supply: leaks then share it out.
    voltages = voltages * np.minimum(1.0, left / np.maximum(voltages.sum(axis=0), 1e-12))
    # A regulator that holds the current takes all the voltage that the others leave.
    holds = np.array([total_current(group, supply) <= current * (1.0 + 1e-9) for group in groups])
    spare = left - voltages.sum(axis=0)
    voltages = voltages + np.where(holds, spare / np.maximum(holds.sum(axis=0), 1), 0.0)
    return Series(np.asarray(current), voltages)


def _group_voltage(
    group: Sequence[Load], current: NDArray[np.float64], top: NDArray[np.float64]
) -> NDArray[np.float64]:
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
