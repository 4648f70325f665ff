"""Curing a flasher that has lost its load: ballast resistors, their watts and heat, a timer, a shunt for LEDs."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import equations
from lampkit.circuits.flashers import Flasher, FlasherKind, least_current
from lampkit.circuits.loads import Load, LoadKind, positive, total_current
from lampkit.errors import InputError
from lampkit.statements import Statement, say

USUAL_RESISTANCE = 6.0
"""Resistor that is put across each 21 W lamp of a 12 V vehicle [ohm]. Source: common practice, no source."""

CASE_LIMIT = 200.0
"""Highest temperature of an aluminium-housed resistor of the 50 W size [degC]. Source: resistor data sheet, read."""

PLATE_RESISTANCE = 3.5
"""Thermal resistance of the 50 W size on the aluminium plate of its data sheet, 305 x 305 x 1.5 mm [K/W]. Source:
resistor data sheet, read."""

CASE_SIZE = 50.0, 28.0, 15.0
"""Length, width and height of the 50 W size [mm]. Source: trade lists, from memory."""

FIN_FACTOR = 1.3
"""How much its fins add to the surface that air cools [1]. Source: an assumption."""

USUAL_DUTY = 0.5
"""Share of the time a turn signal is lit [1]. Source: middle of the usual range, from memory."""


class CaseRise(NamedTuple):
    """How much hotter than the air the case of a ballast resistor becomes."""

    loose: NDArray[np.float64]
    on_plate: NDArray[np.float64]


def dissipation(resistance: ArrayLike, voltage: ArrayLike, *, duty: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Give the mean power that a resistor turns into heat.

    Source: P = V2/R.
    """
    share = positive(duty, "duty", "1", or_zero=True)
    if np.any(share > 1):
        raise InputError(f"a lamp lit {100 * np.max(share):.0f} % of the time", key="duty", expected="0 to 1")
    squared = positive(voltage, "voltage", "V") ** 2
    return np.asarray(share * squared / positive(resistance, "resistance", "ohm"))


def case_rise(power: ArrayLike, *, emissivity: ArrayLike = 0.8, air: float = 25.0) -> CaseRise:
    """Give how hot a ballast resistor of the 50 W size becomes, loose in air and on the plate it is made for.

    Source: heat balance P = A [F h dT + eps sigma (T4 - Ta4)] with free convection h = 1.32 (dT/d)^0.25 W/(m2 K),
    a handbook's simplified law for air (from memory), d the width of the case; plate: resistor data sheet.
    """
    watts = positive(power, "power", "W", or_zero=True)
    eps = positive(emissivity, "emissivity", "1", or_zero=True)
    if np.any(eps > 1):
        raise InputError("an emissivity above one", key="emissivity", expected="0 to 1")
    long, wide, high = (side / 1000.0 for side in CASE_SIZE)
    area = 2.0 * (long * wide + long * high + wide * high)
    around = air + 273.15
    watts, eps = np.broadcast_arrays(watts, eps)

    def too_warm(rise: NDArray[np.float64]) -> NDArray[np.float64]:
        convected = area * FIN_FACTOR * 1.32 * (rise / wide) ** 0.25 * rise
        radiated = area * eps * 5.670374419e-8 * ((around + rise) ** 4 - around**4)
        return np.asarray(convected + radiated - watts)

    loose = equations.rising_root(too_warm, np.zeros(watts.shape), np.full(watts.shape, 2000.0))
    return CaseRise(loose, np.asarray(PLATE_RESISTANCE * watts))


class Ballast(NamedTuple):
    """A ballast resistor across each converted lamp."""

    resistance: float
    power: float
    mean_power: float
    rise: CaseRise
    power_ratio: float


def ballast(old: Load, new: Load, supply_voltage: float, *, resistance: float | None = None) -> Ballast:
    """Work out a ballast resistor across a converted lamp.

    Parameters
    ----------
    old : Load
        The filament lamp that was there.
    new : Load
        What replaces it.
    supply_voltage : float [V]
        Highest voltage with the engine running: about 14.4 for a 12 V system.
    resistance : float, optional [ohm]
        The resistor; by default 6 ohm for a 21 W lamp at 12 V, and the same watts for others.

    Returns
    -------
    Ballast
        The resistor, its watts and its heat.

    Raises
    ------
    InputError
        A number is not above zero.

    Examples
    --------
    Six ohm beside an LED lamp in place of one of 25 W.

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(25, 13.5)
    >>> led = lk.circuits.led_load(2, 13.5)
    >>> round(lk.circuits.ballast(lamp, led, 13.5).resistance, 1)
    6.0

    Source: Ohm's law; 6 ohm per 21 W lamp: common practice, no source.
    """
    v = float(positive(supply_voltage, "supply_voltage", "V"))
    if resistance is None:
        # 6 ohm stands beside a lamp of 25 W at 13.5 V: keep its share of the lamp's own resistance.
        resistance = USUAL_RESISTANCE / (13.5**2 / 25.0) * old.voltage / old.current
    steady = float(dissipation(resistance, v))
    before = float(total_current([old], v)) * v
    after = float(total_current([new], v)) * v + steady
    return Ballast(float(resistance), steady, USUAL_DUTY * steady, case_rise(steady), after / before)


def cures(old: Sequence[Load], new: Sequence[Load], supply_voltage: float) -> tuple[Statement, ...]:
    """Say what makes a flasher work again after a conversion, the better cure first.

    Source: common practice, no source; watts and heat from `ballast`.
    """
    if not old or len(old) != len(new):
        raise InputError(
            f"{len(old)} old and {len(new)} new lamps", key="new", expected="one new lamp for each old one"
        )
    pairs = [(a, b) for a, b in zip(old, new, strict=True) if a.kind is LoadKind.FILAMENT and b.is_led]
    if not pairs:
        return (say("cure.not_needed"),)
    one = ballast(*pairs[0], supply_voltage)
    case = 25.0 + float(one.rise.loose)
    return (
        say("cure.load_independent_flasher"),
        say(
            "cure.ballast_resistors",
            resistance=one.resistance,
            number=len(pairs),
            power=one.power,
            mean_power=one.mean_power,
            case=case,
            too_hot=case > CASE_LIMIT,
            limit=CASE_LIMIT,
            held=25.0 + float(one.rise.on_plate),
            power_ratio=one.power_ratio,
        ),
    )


# --- a flasher that watches its lamps, so that a dead LED still shows ----------------------------------------------

SUPPLY_SPAN = 0.9, 1.1
"""Voltage, over that with the engine running, between which a flasher must tell a dead lamp [1]. Source: an
assumption: a resting battery and the limit of the regulator."""


class ShuntRerating(NamedTuple):
    """A shunt re-rated for LEDs.

    `threshold_before` and `threshold_after` are the currents below which the flasher calls a lamp dead [A], `sound` the
    least that the sound lamps draw, `failed` the most that is left when one is dead [A]; `factor` is the new resistance
    over the old one.
    """

    threshold_before: float
    threshold_after: float
    sound: float
    failed: float
    factor: float

    @property
    def tells(self) -> bool:
        """Whether one threshold parts sound lamps from a dead one over the whole span of the supply."""
        return self.sound > self.failed


def rerate_shunt(unit: Flasher, lamps: Sequence[Load], watched: Sequence[Load], supply_voltage: float) -> ShuntRerating:
    """Work out the shunt with which a flasher made for filaments sees a dead LED among the watched ones.

    Source: the flasher acts at one voltage across its shunt, so that resistance and threshold are in inverse ratio;
    the threshold is put half-way, as a ratio, between sound and failed.
    """
    if unit.kind is not FlasherKind.ELECTRONIC:
        raise InputError(f"a {unit.kind.value} flasher watches no lamp by a shunt", key="unit", expected="'electronic'")
    if not watched:
        raise InputError("no lamp is watched", key="watched", expected="at least one of the lamps")
    low, high = (share * supply_voltage for share in SUPPLY_SPAN)
    sound = float(total_current(lamps, low))
    failed = float(total_current(lamps, high)) - min(float(total_current([one], high)) for one in watched)
    before = float(least_current(unit, supply_voltage))
    after = float(np.sqrt(sound * failed)) if failed > 0 else 0.5 * sound
    return ShuntRerating(before, after, sound, failed, before / after)
