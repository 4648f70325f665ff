"""One circuit of the vehicle before and after: current, drop, light, switch, fuse, and the cautions."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import tables
from lampkit.circuits.loads import HIGHEST_SUPPLY_SHARE, Load, load_current, positive, relative_light, total_current
from lampkit.circuits.network import lamp_voltage
from lampkit.circuits.wiring import Wire, current_ratings, fuse_rating, fuse_sizes, wire_resistance
from lampkit.errors import InputError, nearest

INRUSH = 10.0, 14.0
"""Current of a cold filament at the first instant over its running current, from low to high [1]. Source: three texts
read in secondary form: 10; 10 to 12; about 14."""


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


class Change(NamedTuple):
    """A circuit with the old lamps (index 0) and with the new ones (index 1).

    Parameters
    ----------
    current : ndarray, shape (2,) [A]
        Current of the whole circuit, and so of wire and switch.
    lamp_current : ndarray, shape (2, n) [A]
        Current of each lamp.
    voltage : ndarray, shape (2,) [V]
        Voltage left at the lamps.
    drop : ndarray, shape (2,) [V]
        Voltage lost on the way: wire, contacts and earth.
    light : ndarray, shape (2, n) [1]
        Light of each lamp over that at its own rated voltage.
    light_lost : ndarray, shape (2, n) [1]
        Share of each lamp's light that the drop costs.
    inrush : ndarray, shape (2, 2) [A]
        Least and most current at the instant of switching on, as cold filaments draw it.
    fuse : ndarray, shape (2,) [A]
        Smallest blade fuse that carries the current.
    words : tuple of str
        What it means, in sentences.
    """

    current: NDArray[np.float64]
    lamp_current: NDArray[np.float64]
    voltage: NDArray[np.float64]
    drop: NDArray[np.float64]
    light: NDArray[np.float64]
    light_lost: NDArray[np.float64]
    inrush: NDArray[np.float64]
    fuse: NDArray[np.float64]
    words: tuple[str, ...]


def before_and_after(circuit: LampCircuit, old: Sequence[Load], new: Sequence[Load]) -> Change:
    """Compare a circuit with its old lamps and with its new ones.

    Parameters
    ----------
    circuit : Circuit
        The supply, wire, earth, fuse and switch.
    old : sequence of Load
        The lamps as they were.
    new : sequence of Load
        The lamps as they will be, in the same order; repeat the old one where nothing changes.

    Returns
    -------
    Change
        Currents, voltages, light, fuse and sentences.

    Raises
    ------
    InputError
        The circuit is impossible: no lamps, lists of different length, or a lamp for another supply voltage.

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
    cold = np.array([[lamp.kind == "filament" for lamp in lamps] for lamps in (old, new)])
    # The wire itself limits the rush; without any resistance the filaments alone would.
    rush = (lamp_current[..., np.newaxis] * np.where(cold[..., np.newaxis], INRUSH, 1.0)).sum(axis=1)
    if ohms > 0:
        rush = np.minimum(rush, supply / ohms)
    fuse = fuse_rating(current)
    words = _change_words(circuit, old, current, voltage, lost, fuse)
    return Change(current, lamp_current, voltage, supply - voltage, light, lost, rush, fuse, words)


def _fits_supply(lamp: Load, supply: float, key: str) -> None:
    if lamp.kind == "resistor":
        return
    if not 0.5 <= supply / lamp.voltage <= HIGHEST_SUPPLY_SHARE:
        raise InputError(
            f"{lamp.name} is rated at {lamp.voltage:g} V and the supply is {supply:g} V",
            key=key,
            expected=f"a lamp rated between {supply / HIGHEST_SUPPLY_SHARE:.3g} V and {supply / 0.5:.3g} V",
            remedy="check supply_voltage and the lamp's own voltage",
        )


def _change_words(
    circuit: LampCircuit,
    old: Sequence[Load],
    current: NDArray[np.float64],
    voltage: NDArray[np.float64],
    lost: NDArray[np.float64],
    fuse: NDArray[np.float64],
) -> tuple[str, ...]:
    before, after = (float(i) for i in current)
    words = [
        f"{circuit.name}: {before:.2f} A before, {after:.2f} A after at {circuit.supply_voltage:g} V, "
        f"{100 * after / before:.0f} % of the load on wire and switch."
    ]
    drop = circuit.supply_voltage - voltage
    filaments = [i for i, lamp in enumerate(old) if lamp.kind == "filament"]
    if filaments and drop[0] > 0.05:
        words.append(
            f"The old lamps had {voltage[0]:.2f} V and lost {100 * lost[0, filaments[0]]:.0f} % of their light to a "
            f"drop of {drop[0]:.2f} V; now {drop[1]:.2f} V are lost."
        )
    if drop[0] > 1.0:
        words.append(
            "More than 1 V is lost on the way, which a repair manual that quotes the SAE calls a fault: clean switch, "
            "joints and earth before blaming the lamps."
        )
    if circuit.switch_rating is not None and current.max() > circuit.switch_rating:
        when = (
            "before and after" if current.min() > circuit.switch_rating else ("before" if before > after else "after")
        )
        words.append(
            f"The switch may carry {circuit.switch_rating:g} A and carries {current.max():.2f} A {when}: use a relay."
        )
    words.append(fuse_words(after, circuit.wire.size, circuit.fuse))
    return tuple(words)


def fuse_words(current: float, size: str, fitted: float | None = None) -> str:
    """Say which fuse belongs into a circuit.

    Source: 1.25 times the current, next size up, never above the wire: common practice, no source.
    """
    needed, (lowest, highest) = float(fuse_rating(current)), current_ratings(size)
    # The sizes that the most cautious source for this wire still allows.
    allowed = fuse_sizes()[fuse_sizes() <= lowest]
    wire = f"the {size} wire, which the sources rate at {lowest:g} A to {highest:g} A"
    if needed > lowest:
        return (
            f"The load needs a {needed:g} A fuse, more than the lower rating of {wire}: use a thicker wire or split "
            "the circuit, not a larger fuse."
        )
    if fitted is None:
        return f"No fuse is fitted: a {needed:g} A fuse carries the load and protects {wire}."
    if fitted < needed:
        return (
            f"The {fitted:g} A fuse is too small for {current:.2f} A in the long run: {needed:g} A, and not more than "
            f"{allowed[-1]:g} A."
        )
    if fitted > highest:
        return f"The {fitted:g} A fuse does not protect {wire}: {needed:g} A carries the load."
    if fitted > lowest:
        return f"The {fitted:g} A fuse is above the lower rating of {wire}; {needed:g} A carries the load."
    if fitted > needed:
        return (
            f"The {fitted:g} A fuse may stay; {needed:g} A would carry the load and protect better. Never a larger one."
        )
    return f"The {fitted:g} A fuse is right."


def mixed_words(loads: Sequence[Load], supply_voltage: float) -> str:
    """Say what to expect where filaments and LEDs share one circuit.

    Source: laws of `loads`.
    """
    v = float(positive(supply_voltage, "supply_voltage", "V"))
    filaments = [load for load in loads if load.kind == "filament"]
    leds = [load for load in loads if load.kind.endswith("LED")]
    if not filaments or not leds:
        return f"All lamps of this circuit are {'filaments' if filaments else 'LEDs'}: they dim and light alike."
    sag = 0.9 * v
    shares = [float(relative_light(k, sag) / max(float(relative_light(k, v)), 1e-9)) for k in (filaments[0], leds[0])]
    return (
        f"Filaments and LEDs share this circuit: the filaments draw {float(total_current(filaments, v)):.2f} A, "
        f"the LEDs {float(total_current(leds, v)):.2f} A; at a tenth less voltage a filament keeps "
        f"{100 * shares[0]:.0f} % of its light and {leds[0].name} {100 * shares[1]:.0f} %, so a pair "
        "must be of one kind."
    )


def cautions(where: str) -> tuple[tuple[str, str], ...]:
    """List the cautions that belong to a piece of work.

    Source: data/circuit/cautions.csv, each row with its own source.
    """
    table = tables.load("circuit", "cautions")
    found = tuple((i, t) for i, t, w in zip(table["id"], table["text"], table["where"], strict=True) if w == where)
    if not found:
        raise InputError(f"there are no cautions for '{where}'", key="where", expected=nearest(where, table["where"]))
    return found
