"""Amperes and volts read in a circuit, beside what its lamps and its wiring lead to expect, and what may be behind."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations
from typing import NamedTuple

import numpy as np

from lampkit import tables
from lampkit.circuits.loads import Load, positive, total_current
from lampkit.circuits.network import group_voltage, lamp_voltage
from lampkit.errors import InputError
from lampkit.statements import Statement, named, say

FILAMENT_SHARE, LED_SHARE, METER_SHARE = 0.10, 0.30, 0.03
"""Share by which the current of a filament lamp, of an LED and of an ammeter may differ from what is told [1]. Source:
6 % to 10 % for the watts of filament lamps, UN R37, from memory; for LEDs and meters an assumption."""

ALIKE = 0.06
"""Share within which two currents count as the same, one standard deviation [1]. Source: an assumption."""

ANYTHING = 0.35
"""How well a suspect fits that could explain any current, over one that gives just this one [1]. Source: an
assumption: what explains all explains little."""

OF_SOME_SIZE = 0.25
"""How well lamps of other watts fit whose watts are those of some listed lamp [1]. Source: an assumption: so many are
made that most currents come near to one."""

MOST_DARK = 4
"""Dark lamps up to which every choice of them is tried [1]. Source: own judgement."""


FUSE_TIMES = 3.0
"""How many times its mark a fuse does not carry for as long as a reading takes [1]. Source: an assumption."""

NAMED = 0.04
"""Weight of a suspect over that of the first below which it is not named [1]. Source: own judgement."""


class CurrentSuspect(Enum):
    """What may be behind a current that is not as expected."""

    BRIGHT_BESIDE = "bright_beside"
    BRIGHT_IN_PLACE = "bright_in_place"
    OTHER_LOADS = "other_loads"
    WRONG_LAMPS = "wrong_lamps"
    LAMPS_DARK = "lamps_dark"
    BAD_CONTACT = "bad_contact"
    METER_RANGE = "meter_range"
    NO_FEED = "no_feed"
    METER_FUSE = "meter_fuse"


class SuspectedCurrent(NamedTuple):
    """A suspect, the current that it would give [A], and its size: so many lamps, amperes, watts, ohms or times.

    `chance` is its weight among the suspects [1].
    """

    suspect: CurrentSuspect
    current: float
    size: float
    chance: float

    @property
    def said(self) -> Statement:
        """What it is and how much of it, in a clause."""
        if self.suspect is CurrentSuspect.OTHER_LOADS:
            size = say("current_suspect.amperes", amperes=self.size)
        elif self.suspect is CurrentSuspect.WRONG_LAMPS:
            size = say("current_suspect.watts", watts=self.size)
        elif self.suspect is CurrentSuspect.BAD_CONTACT:
            size = say("current_suspect.ohms", ohms=self.size)
        elif self.suspect in (CurrentSuspect.NO_FEED, CurrentSuspect.METER_FUSE):
            return named(self.suspect)
        elif self.suspect is CurrentSuspect.METER_RANGE:
            size = say("current_suspect.times", times=self.size)
        else:
            size = say("current_suspect.lamps", number=self.size, current=self.current)
        return say("current_suspect.told", name=named(self.suspect), size=size)


@dataclass(frozen=True)
class JudgedCurrent:
    """A current as read and as expected [A], with suspects, the most likely first, where it is not as expected.

    `expected` holds least, typical and most; `each` is what one of the lamps takes, `bright` what one bright filament
    beside them would take, nil where there is none; `beyond_fuse` the fuse that carries no such current.
    """

    measured: float
    expected: tuple[float, float, float]
    supply_voltage: float
    lamps: int
    each: float
    bright: float
    suspects: tuple[SuspectedCurrent, ...]
    beyond_fuse: float | None = None

    @property
    def said(self) -> Statement:
        """What was read and expected, what to suspect, and what to do next, in sentences."""
        given = {"measured": self.measured, "limits": self.expected, "supply": self.supply_voltage, "lamps": self.lamps}
        if not self.suspects:
            return say("measured_current.agrees", **given)
        more = self.measured > self.expected[1]
        following = say("measured_current.pull_lamps", each=self.each, bright=self.bright)
        if self.beyond_fuse is not None:
            following = say("measured_current.beyond_fuse", fuse=self.beyond_fuse)
        elif self.measured == 0.0:
            following = say("measured_current.nothing_flows")
        elif not more:
            following = say("measured_current.look_for_dark", each=self.each)
        return say("measured_current.differs", suspects=[one.said for one in self.suspects], next=following, **given)


def judge_current(
    measured: float,
    supply_voltage: float,
    lit: Sequence[Load],
    *,
    bright: Sequence[Load] = (),
    resistance: float = 0.0,
    others: bool | None = None,
    fuse: float | None = None,
    fed: bool = False,
) -> JudgedCurrent:
    """Hold a current against what the lamps that were lit should draw, and rank what explains the difference.

    Parameters
    ----------
    measured : float [A]
        The current as read.
    supply_voltage : float [V]
        The supply while it was read.
    lit : sequence of Load
        The lamps that were lit.
    bright : sequence of Load
        Bright filaments in the holders of these lamps, which should have been dark.
    resistance : float [ohm]
        Wire, contacts and earth that all the current passes.
    others : bool or None
        Whether other loads are known to hang on the same fuse; None where nobody knows.
    fuse : float, optional [A]
        What the fuse of the circuit is marked with.
    fed : bool
        Whether volts were read at a holder of the circuit, so that its feed is sound that far.

    Returns
    -------
    JudgedCurrent
        The current beside the expected one, and the suspects.

    Raises
    ------
    InputError
        A number is out of range, or no lamp was lit.

    Examples
    --------
    Two lamps draw what three would: something else hangs on their wire.

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(5, 13.5)
    >>> lk.circuits.judge_current(1.11, 13.5, [lamp] * 2).suspects[0].suspect.value
    'other_loads'

    Source: Kirchhoff's laws with the laws of `loads`; the ranking is own reasoning.
    """
    read = float(positive(measured, "current_A", "A", or_zero=True))
    if not lit:
        raise InputError("a current needs at least one lamp that was lit", key="lit")
    expected = _current(lit, supply_voltage, resistance)
    shares = [LED_SHARE if lamp.is_led else FILAMENT_SHARE for lamp in lit]
    drawn = [_current([lamp], supply_voltage, 0.0) for lamp in lit]
    spread = METER_SHARE + sum(s * i for s, i in zip(shares, drawn, strict=True)) / max(sum(drawn), 1e-9)
    limits = (expected * (1.0 - spread), expected, expected * (1.0 + spread))
    each, extra = expected / len(lit), _current(bright, supply_voltage, 0.0) / max(len(bright), 1)
    suspects: tuple[SuspectedCurrent, ...] = ()
    beyond = fuse if fuse is not None and read > FUSE_TIMES * max(fuse, expected) else None
    if read == 0.0:
        nil = (CurrentSuspect.METER_FUSE, CurrentSuspect.LAMPS_DARK if fed else CurrentSuspect.NO_FEED)
        suspects = tuple(SuspectedCurrent(one, 0.0, float(len(lit)), 0.5) for one in (nil if fed else nil[::-1]))
    elif beyond is not None:
        decade = 10.0 ** round(float(np.log10(read / expected)))
        suspects = (SuspectedCurrent(CurrentSuspect.METER_RANGE, expected * decade, decade, 1.0),)
    elif not limits[0] <= read <= limits[2]:
        found = _more(read, expected, supply_voltage, lit, bright, others) if read > expected else []
        found += _less(read, expected, supply_voltage, resistance, lit) if read < expected else []
        found += _of_either(read, expected, lit)
        found = [one for one in found if one.chance > NAMED * max(other.chance for other in found)]
        total = sum(one.chance for one in found)
        ranked = sorted(found, key=lambda one: -one.chance)
        suspects = tuple(one._replace(chance=one.chance / total) for one in ranked)
    return JudgedCurrent(read, limits, float(supply_voltage), len(lit), each, extra, suspects, beyond)


def _current(lamps: Sequence[Load], supply: float, ohms: float) -> float:
    return float(total_current(lamps, lamp_voltage(supply, ohms, lamps))) if lamps else 0.0


def _fit(read: float, would_be: float) -> float:
    """How well a suspect explains what was read."""
    return float(np.exp(-0.5 * (np.log(read / max(would_be, 1e-9)) / ALIKE) ** 2))


def _more(
    read: float, expected: float, supply: float, lit: Sequence[Load], bright: Sequence[Load], others: bool | None
) -> list[SuspectedCurrent]:
    chance = ANYTHING * {None: 1.0, True: 2.0, False: 0.2}[others]
    found = [SuspectedCurrent(CurrentSuspect.OTHER_LOADS, read, read - expected, chance)]
    if bright:
        one, own = _current(bright, supply, 0.0) / len(bright), expected / len(lit)
        for suspect, step in ((CurrentSuspect.BRIGHT_BESIDE, one), (CurrentSuspect.BRIGHT_IN_PLACE, one - own)):
            totals = {n: expected + n * step for n in range(1, len(bright) + 1)}
            number = min(totals, key=lambda n: abs(totals[n] - read))
            # Where any number of lamps comes near, coming near says less.
            chance = max(_fit(read, totals[number]), 0.02)
            found.append(SuspectedCurrent(suspect, totals[number], float(number), chance))
    return found


def _less(read: float, expected: float, supply: float, ohms: float, lit: Sequence[Load]) -> list[SuspectedCurrent]:
    left = {
        dark: _current([lamp for i, lamp in enumerate(lit) if i not in dark], supply, ohms)
        for number in range(1, min(len(lit), MOST_DARK + 1))
        for dark in combinations(range(len(lit)), number)
    }
    found = []
    if left:
        dark = min(left, key=lambda one: (abs(left[one] - read), len(one)))
        chance = max(_fit(read, left[dark]), 0.02)
        found.append(SuspectedCurrent(CurrentSuspect.LAMPS_DARK, left[dark], float(len(dark)), chance))
    # What leaves the lamps this current takes all the volts that they do not need for it.
    rust = (supply - float(group_voltage(lit, np.asarray(read), np.asarray(supply)))) / read
    found.append(SuspectedCurrent(CurrentSuspect.BAD_CONTACT, read, rust - ohms, ANYTHING))
    return found


def _of_either(read: float, expected: float, lit: Sequence[Load]) -> list[SuspectedCurrent]:
    """Lamps of other watts, of a size that is made, and a decade of the meter."""
    watts = sum(lamp.current * lamp.voltage for lamp in lit) / len(lit) * read / expected
    made = tables.load("lamps", "ratings")
    near = np.abs(made["test_V"] / lit[0].voltage - 1.0) < 0.1
    like = min((_fit(watts, float(power)) for power in made["power_W"][near]), key=lambda fit: -fit, default=0.0)
    found = [SuspectedCurrent(CurrentSuspect.WRONG_LAMPS, read, watts, max(OF_SOME_SIZE * like, 0.05))]
    decade = round(float(np.log10(read / expected)))
    if decade:
        would_be = expected * 10.0**decade
        chance = 2.0 * _fit(read, would_be)
        found.append(SuspectedCurrent(CurrentSuspect.METER_RANGE, would_be, 10.0**decade, chance))
    return found


# --- volts at a holder --------------------------------------------------------------------------------------------

VOLTS_TOLD = 0.2
"""Volts by which a reading at a holder may differ from what is expected [V]. Source: an assumption: meter, and joints
that take 0.1 V, a vehicle repair manual that quotes the SAE, read in a secondary text."""

DROP_SHARE = 0.5
"""Share by which the drop in sound wiring may differ from what is expected [1]. Source: an assumption."""

DEAD_VOLTAGE = 0.5
"""Volts below which nothing feeds a holder [V]. Source: an assumption."""


class VoltageSuspect(Enum):
    """What may be behind a voltage at a holder that is not as expected."""

    NO_FEED = "no_feed"
    NOTHING_FLOWS = "nothing_flows"
    SUPPLY_HIGHER = "supply_higher"
    BAD_EARTH = "bad_earth"
    BAD_CONTACT = "bad_contact"
    THIN_WIRE = "thin_wire"
    OTHER_LOADS = "other_loads"


@dataclass(frozen=True)
class JudgedVoltage:
    """A voltage at a holder as read and as expected [V], and suspects, the most likely first, where they differ.

    `lost` is what is lost beyond sound wiring [V], and `resistance` the resistance that loses it [ohm].
    """

    measured: float
    expected: float
    supply_voltage: float
    current: float
    lost: float
    resistance: float
    suspects: tuple[VoltageSuspect, ...]

    @property
    def said(self) -> Statement:
        """What was read and expected, what to suspect, and what to read next, in sentences."""
        given = {"measured": self.measured, "expected": self.expected, "supply": self.supply_voltage}
        if not self.suspects:
            return say("measured_voltage.agrees", **given)
        return say(
            "measured_voltage.differs",
            suspects=[named(one) for one in self.suspects],
            lost=self.lost,
            current=self.current,
            resistance=self.resistance,
            shell=VoltageSuspect.BAD_EARTH in self.suspects,
            **given,
        )


def judge_voltage(
    measured: float,
    supply_voltage: float,
    lit: Sequence[Load],
    *,
    resistance: float,
    wire_known: bool = True,
    current: float | None = None,
) -> JudgedVoltage:
    """Hold the volts at a holder against what the wiring should leave, and rank what explains the difference.

    Parameters
    ----------
    measured : float [V]
        The volts at the holder, from its contact to its shell, as read while the lamps were lit.
    supply_voltage : float [V]
        The supply while it was read.
    lit : sequence of Load
        The lamps that were lit on the same wire.
    resistance : float [ohm]
        Sound wire, contacts and earth together.
    wire_known : bool
        Whether length and section of the wire are told, and not assumed.
    current : float [A]
        The current as read at the same time; None where it was not.

    Returns
    -------
    JudgedVoltage
        The voltage beside the expected one, and the suspects.

    Raises
    ------
    InputError
        A number is out of range, or no lamp was lit.

    Examples
    --------
    A lamp of 25 W behind a tenth of an ohm should have 13.3 V; two volts less is rust.

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(25, 13.5)
    >>> found = lk.circuits.judge_voltage(11.3, 13.5, [lamp], resistance=0.1)
    >>> found.suspects[0].value, round(found.expected, 1), round(found.resistance, 1)
    ('bad_earth', 13.3, 1.2)

    Source: Kirchhoff's laws with the laws of `loads`; the ranking is own reasoning.
    """
    read = float(positive(measured, "socket_V", "V", or_zero=True))
    supply = float(positive(supply_voltage, "supply_V", "V"))
    if not lit:
        raise InputError("a voltage needs at least one lamp that was lit", key="lit")
    expected = float(lamp_voltage(supply, resistance, lit))
    told, drop = VOLTS_TOLD * supply / 12.0, supply - expected
    flows = float(total_current(lit, read)) if current is None else current
    lost = expected - read
    rust_ohms = lost / flows if flows > 0 and read >= DEAD_VOLTAGE else np.inf
    suspects: tuple[VoltageSuspect, ...] = ()
    if read < DEAD_VOLTAGE:
        suspects = (VoltageSuspect.NO_FEED, VoltageSuspect.BAD_CONTACT)
    elif read > supply + told:
        suspects = (VoltageSuspect.SUPPLY_HIGHER,)
    elif drop > told and read > supply - 0.3 * drop:
        suspects = (VoltageSuspect.NOTHING_FLOWS, VoltageSuspect.SUPPLY_HIGHER)
    elif lost > told + DROP_SHARE * drop:
        others = current is not None and current > 1.2 * float(total_current(lit, expected))
        rust = (VoltageSuspect.BAD_EARTH, VoltageSuspect.BAD_CONTACT)
        wire = () if wire_known else (VoltageSuspect.THIN_WIRE,)
        load = () if current is not None and not others else (VoltageSuspect.OTHER_LOADS,)
        suspects = (*load, *rust, *wire) if others else (*rust, *wire, *load)
    return JudgedVoltage(read, expected, supply, flows, lost, rust_ohms, suspects)
