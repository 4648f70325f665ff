"""One circuit of the vehicle before and after: current, drop, light, switch and fuse."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.circuits.fuses import FuseMark, FuseState, judge_fuse
from lampkit.circuits.loads import (
    HIGHEST_SUPPLY_SHARE,
    Load,
    LoadKind,
    load_current,
    positive,
    relative_light,
    total_current,
)
from lampkit.circuits.network import lamp_voltage
from lampkit.circuits.wiring import Wire, wire_resistance
from lampkit.errors import InputError
from lampkit.statements import Statement, named, say

INRUSH = 10.0, 14.0
"""Current of a cold filament at the first instant over its running current, from low to high [1]. Source: three texts
read in secondary form: 10; 10 to 12; about 14."""

FAULTY_DROP = 1.0
"""Voltage lost on the way above which a circuit is faulty [V]. Source: a repair manual that quotes the SAE, read in a
secondary text."""


@dataclass(frozen=True)
class LampCircuit:
    """What several lamps share: the supply, one wire, its contacts and earth, a fuse and a switch.

    Parameters
    ----------
    name : str
        What it is called on the job sheet, as in 'side lamps'.
    supply_voltage : float [V]
        Voltage at the battery or the control box with everything on.
    wire : Wire
        The wire that carries all of the current.
    contact_resistance : float [ohm]
        Switch, fuse and joints together.
    earth_resistance : float [ohm]
        From the lamp holders back to the battery; 0.05 is sound, 0.3 and more is tired.
    fuse : float, optional [A]
        The number on the fuse that is fitted; None when the circuit has none, or nobody told.
    switch_rating : float, optional [A]
        What the switch or its relay may carry.
    fuse_mark : FuseMark
        What the number on the fuse means, or that there is none.
    wire_known : bool
        Whether the section of the wire was told, and not assumed.
    also_feeds : tuple of str, optional
        What else hangs on the fuse; None where nobody knows.

    Examples
    --------
    Six metres of wire, a fuse, and a sound earth.

    >>> import lampkit as lk
    >>> wire = lk.circuits.Wire("1.0 mm2", 6)
    >>> lk.circuits.LampCircuit("side lamps", 13.5, wire, earth_resistance=0.05, fuse=5).fuse
    5
    """

    name: str
    supply_voltage: float
    wire: Wire
    contact_resistance: float = 0.0
    earth_resistance: float = 0.0
    fuse: float | None = None
    switch_rating: float | None = None
    fuse_mark: FuseMark = FuseMark.UNKNOWN
    wire_known: bool = True
    also_feeds: tuple[str, ...] | None = None

    def __post_init__(self) -> None:
        positive(self.supply_voltage, "supply_voltage", "V")
        positive(self.contact_resistance, "contact_resistance", "ohm", or_zero=True)
        positive(self.earth_resistance, "earth_resistance", "ohm", or_zero=True)
        if self.fuse is not None:
            positive(self.fuse, "fuse", "A")
        if self.switch_rating is not None:
            positive(self.switch_rating, "switch_rating", "A")


class SwitchOverload(Enum):
    """When a switch carries more than it may."""

    NEVER = "never"
    BEFORE = "before"
    AFTER = "after"
    BEFORE_AND_AFTER = "before_and_after"


class CircuitChange(NamedTuple):
    """A circuit with the old lamps (index 0) and with the new ones (index 1)."""

    current: NDArray[np.float64]
    voltage: NDArray[np.float64]
    drop: NDArray[np.float64]
    light: NDArray[np.float64]
    light_lost: NDArray[np.float64]
    inrush: NDArray[np.float64]
    fuse_state: FuseState
    switch: SwitchOverload
    said: tuple[Statement, ...]


def before_and_after(
    circuit: LampCircuit,
    old: Sequence[Load],
    new: Sequence[Load],
    *,
    ballast: Sequence[Load] = (),
    also_lit: tuple[Sequence[Load], Sequence[Load]] = ((), ()),
) -> CircuitChange:
    """Compare a circuit with its old lamps and with its new ones.

    Parameters
    ----------
    circuit : LampCircuit
        The supply, wire, earth, fuse and switch.
    old : sequence of Load
        The lamps as they were.
    new : sequence of Load
        The lamps as they will be, in the same order; repeat the old one where nothing changes.
    ballast : sequence of Load
        Resistors beside the new lamps.
    also_lit : tuple of two sequences of Load
        Old and new lamps that the same fuse feeds at times, as the other side with the hazard flashers.

    Returns
    -------
    CircuitChange
        Currents, voltages, light, fuse, switch and what they mean.

    Raises
    ------
    InputError
        The circuit is impossible: no lamps, lists of different length, or a lamp for another supply voltage.

    Examples
    --------
    Two lamps become LEDs.

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(25, 13.5)
    >>> led = lk.circuits.led_load(2, 13.5)
    >>> circuit = lk.circuits.LampCircuit("stop", 13.5, lk.circuits.Wire("1.0 mm2", 6))
    >>> change = lk.circuits.before_and_after(circuit, [lamp] * 2, [led] * 2)
    >>> change.current.round(2)
    array([3.64, 0.29])
    >>> print(change.said[0])
    stop: 3.64 A before, 0.29 A after at 13.5 V, 8 % of the load on wire and switch.

    Source: Kirchhoff's laws with the laws of `loads`; sentences by the rules that stand beside each constant.
    """
    if not old or len(old) != len(new):
        raise InputError(
            f"{len(old)} old and {len(new)} new lamps",
            key=f"{circuit.name}, new",
            expected="one new lamp for each old one",
        )
    supply = circuit.supply_voltage
    for which, lamps in (("old", old), ("new", new)):
        for lamp in lamps:
            _fits_supply(lamp, supply, f"{circuit.name}, {which}")
    ohms = float(wire_resistance(circuit.wire)) + circuit.contact_resistance + circuit.earth_resistance
    burning = old, [*new, *ballast]
    voltage = np.array([lamp_voltage(supply, ohms, together) for together in burning])
    pairs = list(zip((old, new), voltage, strict=True))
    current = np.array([total_current(together, v) for together, v in zip(burning, voltage, strict=True)])
    light = np.array([[relative_light(lamp, v) for lamp in lamps] for lamps, v in pairs])
    undimmed = np.array([[relative_light(lamp, supply) for lamp in lamps] for lamps in (old, new)])
    lost = 1.0 - np.divide(light, undimmed, out=np.ones_like(light), where=undimmed > 0)
    rush = np.array([_rush(together, (), supply, ohms) for together in burning])
    others = [float(total_current(lamps, v)) for lamps, v in zip(also_lit, voltage, strict=True)]
    state = judge_fuse(
        float(current[1]) + others[1],
        circuit.wire.size,
        circuit.fuse,
        filaments=float(current[0]) + others[0],
        mark=circuit.fuse_mark,
        wire_known=circuit.wire_known,
        also_feeds=circuit.also_feeds,
        rush=_rush(old, also_lit[0], supply, ohms),
        switched=float(
            sum(load_current(one, voltage[0]) for one in (*old, *also_lit[0]) if one.kind is LoadKind.FILAMENT)
        ),
    )
    switch = _switch_overload(circuit, current)
    filaments = [i for i, lamp in enumerate(old) if lamp.kind is LoadKind.FILAMENT]
    dimmed = float(lost[0, filaments[0]]) if filaments else None
    said = _said(circuit, current, voltage, dimmed, state, switch)
    drop = supply - voltage
    return CircuitChange(current, voltage, drop, light, lost, rush, state, switch, said)


def _rush(lamps: Sequence[Load], others: Sequence[Load], supply: float, ohms: float) -> tuple[float, float]:
    """Least and most current at the instant of switching on: cold filaments behind the wire, which limits them."""
    v = lamp_voltage(supply, ohms, [*lamps, *others])
    drawn = [(one.kind is LoadKind.FILAMENT, float(load_current(one, v))) for one in (*lamps, *others)]
    steady = sum(current for is_filament, current in drawn if not is_filament)
    warm = sum(current for is_filament, current in drawn if is_filament) / max(float(v), 1e-9)
    low, high = ((supply - ohms * steady) / (1.0 + ohms * times * warm) * times * warm for times in INRUSH)
    return low + steady, high + steady


def _fits_supply(lamp: Load, supply: float, key: str) -> None:
    if lamp.kind is LoadKind.RESISTOR:
        return
    if not 0.5 <= supply / lamp.voltage <= HIGHEST_SUPPLY_SHARE:
        raise InputError(
            f"{lamp.name} is rated at {lamp.voltage:g} V and the supply is {supply:g} V",
            key=key,
            expected=f"a lamp rated between {supply / HIGHEST_SUPPLY_SHARE:.3g} V and {supply / 0.5:.3g} V",
            remedy="check supply_voltage and the lamp's own voltage",
        )


def _switch_overload(circuit: LampCircuit, current: NDArray[np.float64]) -> SwitchOverload:
    most = np.inf if circuit.switch_rating is None else circuit.switch_rating
    before, after = (bool(i > most) for i in current)
    if before and after:
        return SwitchOverload.BEFORE_AND_AFTER
    if before:
        return SwitchOverload.BEFORE
    return SwitchOverload.AFTER if after else SwitchOverload.NEVER


def _said(
    circuit: LampCircuit,
    current: NDArray[np.float64],
    voltage: NDArray[np.float64],
    dimmed: float | None,
    fuse: FuseState,
    switch: SwitchOverload,
) -> tuple[Statement, ...]:
    before, after = (float(i) for i in current)
    supply = circuit.supply_voltage
    drop = [float(supply - v) for v in voltage]
    said = [say("circuit.load", name=circuit.name, before=before, after=after, supply=supply, share=after / before)]
    if dimmed is not None and drop[0] > 0.05:
        said.append(
            say("circuit.drop", voltage=float(voltage[0]), dimmed=dimmed, drop_before=drop[0], drop_after=drop[1])
        )
    if drop[0] > FAULTY_DROP and circuit.wire_known:
        said.append(say("circuit.faulty_drop", drop=FAULTY_DROP))
    if switch is not SwitchOverload.NEVER:
        most = float(current.max())
        said.append(say("circuit.switch", rating=circuit.switch_rating, current=most, when=named(switch)))
    return (*said, fuse.said)


class LampMix(Enum):
    """What kinds of lamp share a circuit."""

    FILAMENTS = "filaments"
    LEDS = "leds"
    BOTH = "both"


class MixedCircuit(NamedTuple):
    """What filaments and LEDs on one circuit draw, and what a tenth less voltage leaves of their light."""

    mix: LampMix
    filament_current: float
    led_current: float
    filament_light: float
    led_light: float
    led_name: str

    @property
    def said(self) -> Statement:
        """What to expect, in a sentence."""
        if self.mix is not LampMix.BOTH:
            return say("circuit.of_one_kind", kind=named(self.mix))
        return say(
            "circuit.mixed",
            filament_current=self.filament_current,
            led_current=self.led_current,
            filament_light=self.filament_light,
            led_light=self.led_light,
            led=self.led_name,
        )


def mixed_circuit(loads: Sequence[Load], supply_voltage: float) -> MixedCircuit:
    """Give what to expect where filaments and LEDs share one circuit."""
    v = float(positive(supply_voltage, "supply_voltage", "V"))
    filaments = [load for load in loads if load.kind is LoadKind.FILAMENT]
    leds = [load for load in loads if load.is_led]
    mix = LampMix.BOTH if filaments and leds else LampMix.FILAMENTS if filaments else LampMix.LEDS
    left = [
        float(relative_light(lamps[0], 0.9 * v) / max(float(relative_light(lamps[0], v)), 1e-9)) if lamps else np.nan
        for lamps in (filaments, leds)
    ]
    drawn = [float(total_current(lamps, v)) for lamps in (filaments, leds)]
    return MixedCircuit(mix, drawn[0], drawn[1], left[0], left[1], leds[0].name if leds else "")
