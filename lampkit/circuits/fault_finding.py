"""What goes wrong between lamps: leakage glow, shared and lost earths, a double holder with its contacts exchanged."""

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits.loads import Load, positive, relative_light
from lampkit.circuits.network import lamp_voltage, series_current
from lampkit.statements import Statement, say

DARK_VOLTAGE = 1.5
"""Voltage below which no LED die lights, whatever its colour [V]. Source: common practice, no source; red dice begin
at about 1.6 V."""

DARK_LIGHT = 0.005
"""Share of its light below which a lamp counts as dark [1]. Source: an assumption, what rounds to nil per cent."""


def leakage_current(supply_voltage: ArrayLike, leak_resistance: ArrayLike) -> NDArray[np.float64]:
    """Give the current that damp or a tired switch lets through when the lamp is off.

    Parameters
    ----------
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply.
    leak_resistance : array_like, shape (...) [ohm]
        Resistance of the leak.

    Returns
    -------
    ndarray, shape (...) [A]
        The most that can flow. A few milliamperes light an LED; a filament stays dark.

    Raises
    ------
    InputError
        A number is not above zero.

    Examples
    --------
    Five kilohm of damp at 12 V let 2.4 mA through.

    >>> import lampkit as lk
    >>> round(1000 * float(lk.circuits.leakage_current(12, 5000)), 1)
    2.4

    Source: Ohm's law.
    """
    leak = positive(leak_resistance, "leak_resistance", "ohm")
    return np.asarray(positive(supply_voltage, "supply_voltage", "V") / leak)


def shunted_voltage(
    supply_voltage: ArrayLike, leak_resistance: ArrayLike, shunt_resistance: ArrayLike
) -> NDArray[np.float64]:
    """Give the voltage that a leak leaves at an LED lamp with a resistor across it.

    Parameters
    ----------
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply.
    leak_resistance : array_like, shape (...) [ohm]
        Resistance of the leak.
    shunt_resistance : array_like, shape (...) [ohm]
        The resistor across the lamp; 1 kilohm is usual at 12 V.

    Returns
    -------
    ndarray, shape (...) [V]
        The voltage; the LED stays dark when it is below that of its string, and below 1.5 V whatever it is.

    Raises
    ------
    InputError
        A number is not above zero.

    Examples
    --------
    Half of the supply falls to a resistor as large as the leak.

    >>> import lampkit as lk
    >>> float(lk.circuits.shunted_voltage(12, 1000, 1000))
    6.0

    Source: voltage divider.
    """
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
    current = float(leakage_current(supply_voltage, leak_resistance))
    return Leak(verdict, lamp.name, current, shunt_resistance, left, supply_voltage**2 / shunt_resistance)


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


class LostEarth(NamedTuple):
    """Current and light of a lamp that returns through others: its own, and that of the brightest of the others."""

    lamp: str
    way_back: tuple[str, ...]
    current: float
    light: float
    light_of_others: float

    @property
    def said(self) -> Statement:
        """What is seen, in a sentence."""
        seen = [
            say("lost_earth.dark") if light < DARK_LIGHT else say("lost_earth.lit", light=light)
            for light in (self.light, self.light_of_others)
        ]
        return say(
            "lost_earth.returns",
            lamp=self.lamp,
            others=self.way_back,
            current=self.current,
            seen=seen[0],
            seen_of_others=seen[1],
        )


def lost_earth(supply_voltage: float, lamp: Load, way_back: Sequence[Load]) -> LostEarth:
    """Give what happens when a lamp has lost its earth and returns through others that still have theirs.

    Source: Kirchhoff's laws.
    """
    chain = series_current(supply_voltage, [[lamp], way_back])
    own = float(relative_light(lamp, chain.voltages[0]))
    other = max(float(relative_light(one, chain.voltages[1])) for one in way_back)
    return LostEarth(lamp.name, tuple(one.name for one in way_back), float(chain.current), own, other)
