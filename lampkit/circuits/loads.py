"""What one lamp, LED or resistor draws at a voltage, and what light it gives."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError, within
from lampkit.sources import incandescence

BRIDGE_DROP = 1.4
"""What a silicon bridge rectifier takes, two diodes in series [V]. Source: from memory; 0.6 V to 0.8 V for Schottky."""

STRING_SHARE = 6.5 / 13.5
"""Voltage at which a resistor-fed LED of unknown make-up begins to conduct, over that of its rating [1]. Source: an
assumption, two white dies of 3.25 V in series for 13.5 V; long white strings begin at 0.7 and more."""

REGULATED_FROM = 9.0 / 13.5
"""Voltage from which a regulated LED holds its current, over that of its rating [1]. Source: 9 V to 16 V for 12 V
LED substitutes, GRE-81-04 (GTB CE-5549) on UN R128, read in a secondary text."""

HIGHEST_SUPPLY_SHARE = 1.3
"""Supply voltage over that of a lamp's rating beyond which the lamp is one for another supply [1]. Source: the limit
of the voltage laws; a charging system stays below 1.25."""


class LoadKind(Enum):
    """How the current of a load follows the voltage.

    Examples
    --------
    The lamp that was there.

    >>> import lampkit as lk
    >>> lk.circuits.filament_load(25, 13.5).kind.name
    'FILAMENT'
    """

    FILAMENT = "filament"
    REGULATED_LED = "regulated_led"
    RESISTOR_FED_LED = "resistor_fed_led"
    RESISTOR = "resistor"


@dataclass(frozen=True)
class Load:
    """A lamp, LED or resistor as its circuit sees it.

    Parameters
    ----------
    name : str
        What it is.
    kind : LoadKind
        How its current follows the voltage.
    current : float [A]
        Current at `voltage`.
    voltage : float [V]
        Voltage of the rating: 6.75, 13.5 or 28 for lamps rated to UN rules; 6.4, 12.8 or 14 for American ones.
    threshold_voltage : float [V]
        Voltage below which an LED draws nothing, its bridge rectifier included; zero for the others.
    either_way : bool
        True if it works with its leads exchanged: filaments, resistors, LEDs behind a bridge rectifier.

    Examples
    --------
    A lamp of 24 W at 12 V draws 2 A.

    >>> import lampkit as lk
    >>> lk.circuits.Load("lamp", lk.circuits.LoadKind.FILAMENT, 2.0, 12.0).is_led
    False
    """

    name: str
    kind: LoadKind
    current: float
    voltage: float
    threshold_voltage: float = 0.0
    either_way: bool = True

    def __post_init__(self) -> None:
        if not isinstance(self.kind, LoadKind):
            raise InputError(f"the kind '{self.kind}' is unknown", key="kind", expected="a LoadKind")
        positive(self.current, "current", "A")
        positive(self.voltage, "voltage", "V")
        if not 0 <= self.threshold_voltage < self.voltage:
            raise InputError(
                f"{self.name} begins to conduct at {self.threshold_voltage:g} V",
                key="threshold_voltage",
                expected=f"from 0 V to below its rated {self.voltage:g} V",
                remedy="an LED that begins above its own voltage never lights",
            )

    @property
    def is_led(self) -> bool:
        """Whether it is an LED, however it is fed."""
        return self.kind in (LoadKind.REGULATED_LED, LoadKind.RESISTOR_FED_LED)


@cache
def _exponent(quantity: str) -> float:
    return float(incandescence.exponent(quantity)[1])


LARGEST = 1e12
"""Beyond any quantity of a circuit, in any unit; one over it is as good as nothing [1]. Source: own judgement."""


def positive(value: ArrayLike, key: str, unit: str, *, or_zero: bool = False) -> NDArray[np.float64]:
    """Pass finite numbers above zero, and refuse anything else in plain words."""
    wanted = f"{unit}, zero or more" if or_zero else f"{unit}, above zero"
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise InputError(f"{value!r} is not a number", key=key, expected=wanted) from None
    good = (array <= LARGEST) & ((array >= 0) if or_zero else (array >= 1.0 / LARGEST))
    if not good.all():
        if np.any((array > LARGEST) | ((array > 0) & (array < 1.0 / LARGEST))):
            wanted = f"{unit}, {1.0 / LARGEST:g} to {LARGEST:g}"
        raise InputError(f"{np.atleast_1d(array)[~np.atleast_1d(good)][0]:g} cannot be", key=key, expected=wanted)
    return array


def filament_load(power: float, voltage: float, *, name: str = "filament lamp") -> Load:
    """Describe a filament lamp by the watts it really takes, not by its name.

    Parameters
    ----------
    power : float [W]
        Power at `voltage`: about 25 W for a 12 V '21 W' lamp at 13.5 V, 5 W for a '5 W' lamp.
    voltage : float [V]
        Voltage at which that power holds.
    name : str
        What it is.

    Returns
    -------
    Load
        The lamp.

    Raises
    ------
    InputError
        A number is not above zero.

    Examples
    --------
    A lamp of 24 W at 12 V draws 2 A.

    >>> import lampkit as lk
    >>> lk.circuits.filament_load(24, 12).current
    2.0

    Source: definition, I = P/V.
    """
    current = positive(power, "power", "W") / positive(voltage, "voltage", "V")
    return Load(name, LoadKind.FILAMENT, float(current), float(voltage))


def led_load(
    power: float,
    voltage: float,
    *,
    feed: Literal["regulated", "resistor"] = "resistor",
    bridge: bool = False,
    string_voltage: float | None = None,
    name: str = "LED",
) -> Load:
    """Describe an LED lamp.

    Parameters
    ----------
    power : float [W]
        Power at `voltage`.
    voltage : float [V]
        Voltage at which that power holds.
    feed : {'regulated', 'resistor'}
        What limits its current. Two readings on the bench, at 12 V and 13.5 V, tell which.
    bridge : bool
        True if it works with its leads exchanged, through a bridge rectifier.
    string_voltage : float, optional [V]
        Forward voltage of the dies in series, without the bridge; a share of `voltage` by default.
    name : str
        What it is.

    Returns
    -------
    Load
        The LED lamp.

    Raises
    ------
    InputError
        A number is not above zero, the feed is unknown, or the string begins to conduct above `voltage`.

    Examples
    --------
    Behind a bridge rectifier it works either way.

    >>> import lampkit as lk
    >>> lk.circuits.led_load(2.4, 12, bridge=True).either_way
    True

    Source: definition, I = P/V; the default string is an assumption.
    """
    if feed not in ("regulated", "resistor"):
        raise InputError(f"the feed '{feed}' is unknown", key="feed", expected="'regulated' or 'resistor'")
    current = float(positive(power, "power", "W") / positive(voltage, "voltage", "V"))
    string = (
        STRING_SHARE * voltage if string_voltage is None else float(positive(string_voltage, "string_voltage", "V"))
    )
    threshold = string + (BRIDGE_DROP if bridge else 0.0)
    kind = LoadKind.REGULATED_LED if feed == "regulated" else LoadKind.RESISTOR_FED_LED
    return Load(name, kind, current, float(voltage), threshold, either_way=bridge)


def resistor_load(resistance: float, *, name: str = "resistor") -> Load:
    """Describe a resistor across a lamp: a ballast, or a shunt.

    Parameters
    ----------
    resistance : float [ohm]
        Its resistance.
    name : str
        What it is.

    Returns
    -------
    Load
        The resistor.

    Raises
    ------
    InputError
        The resistance is not above zero.

    Examples
    --------
    Six ohm draw 2 A at 12 V.

    >>> import lampkit as lk
    >>> float(lk.circuits.load_current(lk.circuits.resistor_load(6), 12))
    2.0

    Source: Ohm's law.
    """
    return Load(name, LoadKind.RESISTOR, 1.0 / float(positive(resistance, "resistance", "ohm")), 1.0)


def full_voltage(load: Load) -> float:
    """Give the voltage from which an LED draws its rated current."""
    full = REGULATED_FROM * load.voltage
    return full if load.kind is LoadKind.REGULATED_LED and load.threshold_voltage < full else load.voltage


def load_current(load: Load, voltage: ArrayLike) -> NDArray[np.float64]:
    """Give the current that a load draws.

    Parameters
    ----------
    load : Load
        The lamp, LED or resistor.
    voltage : array_like, shape (...) [V]
        Voltage across it; below zero it is reversed, and a polarised LED then blocks.

    Returns
    -------
    ndarray, shape (...) [A]
        The current, below zero when it flows backwards. A regulated LED holds its current from 9/13.5 of its rated
        voltage up; below that it is taken to fall on a straight line to its threshold.

    Examples
    --------
    A regulated LED holds its current down to two thirds of its voltage [A].

    >>> import lampkit as lk
    >>> led = lk.circuits.led_load(2.7, 13.5, feed="regulated")
    >>> lk.circuits.load_current(led, [13.5, 9.0]).round(3)
    array([0.2, 0.2])

    Source: exponent 0.55 of a hot filament, Fink and Beaty 1978, read in a secondary text; 0.526 follows from the
    exponents of current in SPIE FG11, p. 21; 0.541 (gas-filled) and 0.580 (vacuum) stand in the IES Lighting Handbook,
    from memory. Dies in series with a resistor by Ohm's law with a constant forward voltage; that a regulated LED falls
    on a straight line is an assumption.
    """
    return _drawn(load, within(voltage, -LARGEST, LARGEST, key="voltage", unit="V"))


def _drawn(load: Load, v: NDArray[np.float64]) -> NDArray[np.float64]:
    size = np.abs(v)
    if load.kind is LoadKind.FILAMENT:
        drawn = load.current * (size / load.voltage) ** _exponent("current")
    elif load.kind is LoadKind.RESISTOR:
        drawn = load.current * size / load.voltage
    else:
        share = np.maximum((size - load.threshold_voltage) / (full_voltage(load) - load.threshold_voltage), 0.0)
        drawn = load.current * (np.minimum(share, 1.0) if load.kind is LoadKind.REGULATED_LED else share)
    return np.asarray(np.where((v >= 0) | load.either_way, np.sign(v) * drawn, 0.0))


def relative_light(load: Load, voltage: ArrayLike) -> NDArray[np.float64]:
    """Give the light of a lamp at a voltage over that at its rated voltage.

    Parameters
    ----------
    load : Load
        The lamp.
    voltage : array_like, shape (...) [V]
        Voltage across it.

    Returns
    -------
    ndarray, shape (...) [1]
        V^3.4 for a filament, the share of the current for an LED, nil for a resistor.

    Examples
    --------
    A tenth less voltage leaves 0.9^3.4 of a filament lamp's light.

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(25, 13.5)
    >>> round(float(lk.circuits.relative_light(lamp, 0.9 * 13.5)), 2)
    0.7

    Source: exponent 3.4, Fink and Beaty 1978, read in a secondary text; that an LED's light follows its current is an
    approximation, good to some per cent.
    """
    v = within(voltage, -LARGEST, LARGEST, key="voltage", unit="V")
    if load.kind is LoadKind.RESISTOR:
        return np.zeros(v.shape)
    if load.kind is LoadKind.FILAMENT:
        return np.asarray((np.abs(v) / load.voltage) ** _exponent("flux"))
    return np.asarray(np.abs(load_current(load, v)) / load.current)


def total_current(loads: Sequence[Load], voltage: ArrayLike) -> NDArray[np.float64]:
    """Add the currents of loads side by side.

    Parameters
    ----------
    loads : sequence of Load
        What is switched on together.
    voltage : array_like, shape (...) [V]
        Voltage across all of them.

    Returns
    -------
    ndarray, shape (...) [A]
        The sum; nil when nothing is switched on.

    Examples
    --------
    Two lamps of 24 W at 12 V.

    >>> import lampkit as lk
    >>> float(lk.circuits.total_current([lk.circuits.filament_load(24, 12)] * 2, 12))
    4.0

    Source: Kirchhoff's current law.
    """
    return drawing(loads)(within(voltage, -LARGEST, LARGEST, key="voltage", unit="V"))


def drawing(loads: Sequence[Load]) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Give the current of loads side by side as a function of their voltage, for a search that asks often."""
    # Equal lamps draw the same: each kind is asked once.
    kinds = Counter(loads).items()
    return lambda v: np.asarray(sum((n * _drawn(load, v) for load, n in kinds), np.zeros(v.shape)))
