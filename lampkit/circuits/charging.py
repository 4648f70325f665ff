"""What charges the battery, the charge-warning lamp that begins it, and how long the battery stands with lamps lit."""

from collections.abc import Sequence
from enum import Enum
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits.loads import Load, load_current, positive
from lampkit.circuits.network import series_current
from lampkit.errors import InputError
from lampkit.statements import Statement, say


class GeneratorKind(Enum):
    """What charges the battery, by the name that the vehicle file uses.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.circuits.GeneratorKind("third brush").name
    'THIRD_BRUSH'
    """

    FIELD_EARTHED_INSIDE = "field earthed inside"
    FIELD_EARTHED_AT_REGULATOR = "field earthed at the regulator"
    THIRD_BRUSH = "third brush"
    ALTERNATOR = "alternator"
    MAGNETO = "magneto"
    UNKNOWN = "unknown"


GeneratorName = Literal[
    "field earthed inside", "field earthed at the regulator", "third brush", "alternator", "magneto", "unknown"
]

DYNAMOS = (GeneratorKind.FIELD_EARTHED_INSIDE, GeneratorKind.FIELD_EARTHED_AT_REGULATOR, GeneratorKind.THIRD_BRUSH)
"""The generators that are dynamos. Source: their names."""

USABLE_SHARE = 0.5
"""Share of its rated charge that a starter battery may give before it no longer starts the engine [1]. Source: common
practice, no source."""

IDLE_CURRENT_OF_DYNAMO = 0.0
"""What a dynamo gives at idle, its cut-out open [A]. Source: common practice, no source."""


def standing_time(capacity: ArrayLike, current: ArrayLike) -> NDArray[np.float64]:
    """Give how long a battery stands with lamps lit and still starts the engine.

    Parameters
    ----------
    capacity : array_like, shape (...) [A h]
        Rated charge of the battery.
    current : array_like, shape (...) [A]
        What the lamps draw.

    Returns
    -------
    ndarray, shape (...) [h]
        Half of the charge over the current.

    Raises
    ------
    InputError
        A number is not above zero.

    Examples
    --------
    >>> import lampkit as lk
    >>> round(float(lk.circuits.standing_time(40, 3.17)), 1)
    6.3

    Source: definition; half of the charge: common practice, no source.
    """
    return np.asarray(USABLE_SHARE * positive(capacity, "capacity", "A h") / positive(current, "current", "A"))


REGULATOR_DROP = 1.0
"""What the regulator takes of the voltage that excites a resting alternator [V]. Source: an assumption."""


ROTOR_RESISTANCE = 4.0
"""Resistance of the rotor of a 12 V alternator [ohm]. Source: an assumption; from memory 3 to 5."""


def excitation_current(
    charge_lamp: Sequence[Load],
    battery_voltage: ArrayLike = 12.4,
    *,
    regulator_drop: ArrayLike = REGULATOR_DROP,
    rotor_resistance: ArrayLike = ROTOR_RESISTANCE,
) -> NDArray[np.float64]:
    """Give the current that a charge-warning lamp lets into the rotor of a resting alternator.

    Source: V - Vreg = I Rrotor + V0 (I/I0)^(1/0.55) for a filament lamp.
    """
    left = positive(
        np.asarray(battery_voltage) - np.asarray(regulator_drop), "battery_voltage", "V above the regulator's"
    )
    return series_current(left, [list(charge_lamp)], rotor_resistance).current


def parallel_resistor(
    wanted_current: ArrayLike,
    lamp_current: ArrayLike,
    battery_voltage: ArrayLike = 12.4,
    *,
    regulator_drop: ArrayLike = REGULATOR_DROP,
    rotor_resistance: ArrayLike = ROTOR_RESISTANCE,
) -> NDArray[np.float64]:
    """Give the resistor beside an LED charge-warning lamp that lets the alternator begin.

    Source: R = (V - Vreg)/(Iwanted - Iled) - Rrotor, which leaves out the small drop of the LED's share in the rotor.
    """
    missing = positive(
        np.asarray(wanted_current) - np.asarray(lamp_current), "wanted_current", "A more than the lamp itself carries"
    )
    ohms = (np.asarray(battery_voltage) - np.asarray(regulator_drop)) / missing - np.asarray(rotor_resistance)
    return positive(ohms, "wanted_current", "A, little enough for the rotor: the resistor comes out at ohms")


class ChargeLampVerdict(Enum):
    """What comes of another light source in place of a charge-warning lamp."""

    FILAMENT = "filament"
    KEEP_FOR_DYNAMO = "keep_for_dynamo"
    ENOUGH = "enough"
    MAY_NOT_CHARGE = "may_not_charge"


class ChargeLampSwap(NamedTuple):
    """What another light source does in place of a charge-warning lamp.

    The currents are those that excite an alternator, with the old lamp and with the new one; the resistance is the one
    that restores the old current beside an LED, the power its heat with the engine at rest, and the last current that
    of the LED alone. What does not matter to the verdict is not a number.
    """

    verdict: ChargeLampVerdict
    current_before: float
    current_after: float
    resistance: float
    power: float
    led_current: float

    @property
    def said(self) -> Statement:
        """What it does, and what to do, in sentences."""
        if self.verdict is ChargeLampVerdict.FILAMENT:
            return say("charge_lamp.filament")
        if self.verdict is ChargeLampVerdict.KEEP_FOR_DYNAMO:
            return say("charge_lamp.keep_for_dynamo")
        if self.verdict is ChargeLampVerdict.ENOUGH:
            return say("charge_lamp.enough", before=self.current_before, after=self.current_after)
        return say(
            "charge_lamp.may_not_charge",
            before=self.current_before,
            after=self.current_after,
            resistance=self.resistance,
            power=self.power,
            led=self.led_current,
        )


def charge_lamp_swap(
    charger: Literal["alternator", "dynamo"], old: Load, new: Load, battery_voltage: float = 12.4
) -> ChargeLampSwap:
    """Judge what an LED does in place of a charge-warning lamp.

    Source: `excitation_current`; vehicle maker service information 1998 (the 2 W lamp must not change), read.
    """
    if charger not in ("alternator", "dynamo"):
        raise InputError(f"the charger '{charger}' is unknown", key="charger", expected="'alternator' or 'dynamo'")
    if not new.is_led or charger == "dynamo":
        verdict = ChargeLampVerdict.KEEP_FOR_DYNAMO if new.is_led else ChargeLampVerdict.FILAMENT
        return ChargeLampSwap(verdict, np.nan, np.nan, np.nan, np.nan, np.nan)
    before, after = (float(excitation_current([lamp], battery_voltage)) for lamp in (old, new))
    alone = float(load_current(new, battery_voltage))
    if after >= before:
        return ChargeLampSwap(ChargeLampVerdict.ENOUGH, before, after, np.nan, np.nan, alone)
    ohms = float(parallel_resistor(before, after, battery_voltage))
    return ChargeLampSwap(ChargeLampVerdict.MAY_NOT_CHARGE, before, after, ohms, battery_voltage**2 / ohms, alone)
