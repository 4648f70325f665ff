"""One circuit of the vehicle before and after: current, drop, light, switch, fuse, and the cautions."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import tables
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
from lampkit.circuits.wiring import Wire, current_ratings, fuse_rating, fuse_sizes, wire_resistance
from lampkit.errors import InputError, nearest
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
        What is fitted, as a continuous rating; None when the circuit has no fuse.
    switch_rating : float, optional [A]
        What the switch or its relay may carry.

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

    def __post_init__(self) -> None:
        positive(self.supply_voltage, "supply_voltage", "V")
        positive(self.contact_resistance, "contact_resistance", "ohm", or_zero=True)
        positive(self.earth_resistance, "earth_resistance", "ohm", or_zero=True)
        if self.fuse is not None:
            positive(self.fuse, "fuse", "A")
        if self.switch_rating is not None:
            positive(self.switch_rating, "switch_rating", "A")


class FuseVerdict(Enum):
    """What is to be said of the fuse of a circuit."""

    WIRE_TOO_THIN = "wire_too_thin"
    NONE_FITTED = "none_fitted"
    TOO_SMALL = "too_small"
    DOES_NOT_PROTECT = "does_not_protect"
    ABOVE_LOWER_RATING = "above_lower_rating"
    MAY_STAY = "may_stay"
    RIGHT = "right"


class FuseState(NamedTuple):
    """The fuse of a circuit, beside the load that it must carry and the wire that it must protect."""

    verdict: FuseVerdict
    fitted: float | None
    needed: float
    current: float
    size: str
    lowest: float
    highest: float

    @property
    def said(self) -> Statement:
        """Which fuse belongs into the circuit, in a sentence."""
        needed, fitted, verdict = self.needed, self.fitted, self.verdict
        wire = say("fuse.wire", size=self.size, low=self.lowest, high=self.highest)
        if verdict is FuseVerdict.WIRE_TOO_THIN:
            return say("fuse.wire_too_thin", needed=needed, wire=wire)
        if verdict is FuseVerdict.NONE_FITTED:
            return say("fuse.none_fitted", needed=needed, wire=wire)
        if verdict is FuseVerdict.TOO_SMALL:
            # The largest size that the most cautious source for this wire still allows.
            most = fuse_sizes()[fuse_sizes() <= self.lowest][-1]
            return say("fuse.too_small", fitted=fitted, current=self.current, needed=needed, most=most)
        if verdict is FuseVerdict.DOES_NOT_PROTECT:
            return say("fuse.does_not_protect", fitted=fitted, wire=wire, needed=needed)
        if verdict is FuseVerdict.ABOVE_LOWER_RATING:
            return say("fuse.above_lower_rating", fitted=fitted, wire=wire, needed=needed)
        if verdict is FuseVerdict.MAY_STAY:
            return say("fuse.may_stay", fitted=fitted, needed=needed)
        return say("fuse.right", fitted=fitted)


class SwitchOverload(Enum):
    """When a switch carries more than it may."""

    NEVER = "never"
    BEFORE = "before"
    AFTER = "after"
    BEFORE_AND_AFTER = "before_and_after"


class CircuitChange(NamedTuple):
    """A circuit with the old lamps (index 0) and with the new ones (index 1)."""

    current: NDArray[np.float64]
    lamp_current: NDArray[np.float64]
    voltage: NDArray[np.float64]
    drop: NDArray[np.float64]
    light: NDArray[np.float64]
    light_lost: NDArray[np.float64]
    inrush: NDArray[np.float64]
    fuse: NDArray[np.float64]
    fuse_state: FuseState
    switch: SwitchOverload
    said: tuple[Statement, ...]


def before_and_after(circuit: LampCircuit, old: Sequence[Load], new: Sequence[Load]) -> CircuitChange:
    """Compare a circuit with its old lamps and with its new ones.

    Parameters
    ----------
    circuit : LampCircuit
        The supply, wire, earth, fuse and switch.
    old : sequence of Load
        The lamps as they were.
    new : sequence of Load
        The lamps as they will be, in the same order; repeat the old one where nothing changes.

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
    voltage = np.array([lamp_voltage(supply, ohms, lamps) for lamps in (old, new)])
    pairs = list(zip((old, new), voltage, strict=True))
    lamp_current = np.array([[load_current(lamp, v) for lamp in lamps] for lamps, v in pairs])
    current = lamp_current.sum(axis=1)
    light = np.array([[relative_light(lamp, v) for lamp in lamps] for lamps, v in pairs])
    undimmed = np.array([[relative_light(lamp, supply) for lamp in lamps] for lamps in (old, new)])
    lost = 1.0 - np.divide(light, undimmed, out=np.ones_like(light), where=undimmed > 0)
    cold = np.array([[lamp.kind is LoadKind.FILAMENT for lamp in lamps] for lamps in (old, new)])
    # The wire itself limits the rush; without any resistance the filaments alone would.
    rush = (lamp_current[..., np.newaxis] * np.where(cold[..., np.newaxis], INRUSH, 1.0)).sum(axis=1)
    if ohms > 0:
        rush = np.minimum(rush, supply / ohms)
    fuse = fuse_rating(current)
    state = judge_fuse(float(current[1]), circuit.wire.size, circuit.fuse)
    switch = _switch_overload(circuit, current)
    filaments = [i for i, lamp in enumerate(old) if lamp.kind is LoadKind.FILAMENT]
    dimmed = float(lost[0, filaments[0]]) if filaments else None
    said = _said(circuit, current, voltage, dimmed, state, switch)
    drop = supply - voltage
    return CircuitChange(current, lamp_current, voltage, drop, light, lost, rush, fuse, state, switch, said)


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
    if drop[0] > FAULTY_DROP:
        said.append(say("circuit.faulty_drop", drop=FAULTY_DROP))
    if switch is not SwitchOverload.NEVER:
        most = float(current.max())
        said.append(say("circuit.switch", rating=circuit.switch_rating, current=most, when=named(switch)))
    return (*said, fuse.said)


def judge_fuse(current: float, size: str, fitted: float | None = None) -> FuseState:
    """Judge which fuse belongs into a circuit.

    Source: 1.25 times the current, next size up, never above the wire: common practice, no source.
    """
    needed, (lowest, highest) = float(fuse_rating(current)), (float(i) for i in current_ratings(size))
    if needed > lowest:
        verdict = FuseVerdict.WIRE_TOO_THIN
    elif fitted is None:
        verdict = FuseVerdict.NONE_FITTED
    elif fitted < needed:
        verdict = FuseVerdict.TOO_SMALL
    elif fitted > highest:
        verdict = FuseVerdict.DOES_NOT_PROTECT
    elif fitted > lowest:
        verdict = FuseVerdict.ABOVE_LOWER_RATING
    else:
        verdict = FuseVerdict.MAY_STAY if fitted > needed else FuseVerdict.RIGHT
    return FuseState(verdict, fitted, needed, current, size, lowest, highest)


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
    """Give what to expect where filaments and LEDs share one circuit.

    Source: laws of `loads`.
    """
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


def cautions(where: str) -> tuple[tuple[str, str], ...]:
    """List the cautions that belong to a piece of work.

    Source: data/circuit/cautions.csv, each row with its own source.
    """
    table = tables.load("circuit", "cautions")
    found = tuple((i, t) for i, t, w in zip(table["id"], table["text"], table["where"], strict=True) if w == where)
    if not found:
        raise InputError(f"there are no cautions for '{where}'", key="where", expected=nearest(where, table["where"]))
    return found
