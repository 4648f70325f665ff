"""Positive and negative earth: what depends on it, the spark, and the charge-warning lamp."""

from collections.abc import Sequence
from enum import Enum
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.circuits.loads import Load, load_current, positive
from lampkit.circuits.network import series_current
from lampkit.errors import InputError, nearest
from lampkit.statements import Statement, named, say


class Earth(Enum):
    """Which pole of the battery lies on the body of the vehicle, by the name that the vehicle file uses."""

    NEGATIVE = "negative"
    POSITIVE = "positive"


EarthName = Literal["negative", "positive"]

REGULATOR_DROP = 1.0
"""What the regulator takes of the voltage that excites a resting alternator [V]. Source: an assumption."""

ROTOR_RESISTANCE = 4.0
"""Resistance of the rotor of a 12 V alternator [ohm]. Source: an assumption; from memory 3 to 5."""

SPARK_PENALTY = 0.10, 0.40
"""How much more voltage a spark of the wrong polarity asks for [1]. Source: sources differ: about 10 % in a maker's
training text read in reprint, 15 % to 40 % often quoted, no text seen."""


class PolarityBound(Enum):
    """Whether a part depends on the polarity of the earth, by the words of data/circuit/polarity.csv."""

    YES = "yes"
    NO = "no"
    SOURCES_DIFFER = "sources differ"


class PolarPart(Enum):
    """A part of an older vehicle, by its id in data/circuit/polarity.csv; its words say what to do with it."""

    FILAMENT_LAMP = "filament_lamp"
    POLARISED_LED = "polarised_led"
    LED_BEHIND_RECTIFIER = "led_behind_rectifier"
    THERMAL_FLASHER = "thermal_flasher"
    ELECTRONIC_FLASHER = "electronic_flasher"
    DYNAMO = "dynamo"
    CONTROL_BOX_WITH_CONTACTS = "control_box_with_contacts"
    ALTERNATOR = "alternator"
    IGNITION_COIL = "ignition_coil"
    CONTACT_BREAKER_IGNITION = "contact_breaker_ignition"
    ELECTRONIC_IGNITION = "electronic_ignition"
    RADIO = "radio"
    AMMETER = "ammeter"
    CURRENT_SENSING_TACHOMETER = "current_sensing_tachometer"
    STARTER_MOTOR = "starter_motor"
    PERMANENT_MAGNET_MOTOR = "permanent_magnet_motor"
    WIPER_AND_BLOWER_MOTOR = "wiper_and_blower_motor"
    FUEL_PUMP_WITH_DIODE = "fuel_pump_with_diode"
    FUEL_PUMP_WITH_A_CAPACITOR = "fuel_pump_with_a_capacitor"
    HORN = "horn"
    CHARGE_WARNING_LAMP = "charge_warning_lamp"
    ACCESSORY_SOCKET = "accessory_socket"
    CLOCK = "clock"
    HEATER_MOTOR = "heater_motor"
    TRAILER_SOCKET = "trailer_socket"
    IGNITION_MAGNETO = "ignition_magneto"
    RECTIFIER_OF_MAGNETO = "rectifier_of_magneto"
    TACHOMETER_OF_DYNAMO_OR_COIL = "tachometer_of_dynamo_or_coil"
    FUEL_AND_TEMPERATURE_GAUGE = "fuel_and_temperature_gauge"


class EarthPart(NamedTuple):
    """What the polarity of the earth means to one part.

    Source: data/circuit/polarity.csv.
    """

    id: PolarPart
    part: str
    polarity_bound: PolarityBound
    caution: str
    source: str
    known: str

    @property
    def what_to_do(self) -> Statement:
        """What is done with it when the earth is changed."""
        return named(self.id)


def parts() -> tuple[EarthPart, ...]:
    """List the parts of an older vehicle and whether they depend on the polarity of its earth.

    Source: data/circuit/polarity.csv, each row with its own source.
    """
    table = tables.load("circuit", "polarity")
    return tuple(
        EarthPart(**{**row, "id": PolarPart(row["id"]), "polarity_bound": PolarityBound(row["polarity_bound"])})
        for row in table.rows()
    )


def part(name: str) -> EarthPart:
    """Look up what the polarity of the earth means to one part.

    Source: data/circuit/polarity.csv.
    """
    known = {one.part: one for one in parts()}
    if name not in known:
        raise InputError(f"the part '{name}' is not in the table", key="part", expected=nearest(name, known))
    return known[name]


def _known_earth(value: Earth | EarthName, key: str) -> Earth:
    try:
        return Earth(value)
    except ValueError:
        raise InputError(f"the earth '{value}' is unknown", key=key, expected="'negative' or 'positive'") from None


class CoilLeads(NamedTuple):
    """The marks of the coil's low-tension terminals that go to the contact breaker and to the ignition switch."""

    earth: Earth
    breaker: str
    feed: str

    @property
    def said(self) -> Statement:
        """Which terminal goes where, and what the wrong way round costs."""
        low, high = SPARK_PENALTY
        earth = named(self.earth)
        return say("earth.coil_leads", earth=earth, breaker=self.breaker, feed=self.feed, low=low, high=high)


def coil_leads(earth: Earth | EarthName) -> CoilLeads:
    """Give the low-tension terminal of the coil that goes to the contact breaker.

    Source: a maker's training text, read in reprint; spread of the gain, `SPARK_PENALTY`.
    """
    known = _known_earth(earth, "earth")
    # The breaker connects to earth, so its terminal carries the sign of the earth.
    return CoilLeads(known, *(("-", "+") if known is Earth.NEGATIVE else ("+", "-")))


def excitation_current(
    charge_lamp: Sequence[Load],
    battery_voltage: ArrayLike = 12.4,
    *,
    regulator_drop: ArrayLike = REGULATOR_DROP,
    rotor_resistance: ArrayLike = ROTOR_RESISTANCE,
) -> NDArray[np.float64]:
    """Give the current that a charge-warning lamp lets into the rotor of a resting alternator.

    Parameters
    ----------
    charge_lamp : sequence of Load
        The lamp, and any resistor beside it.
    battery_voltage : array_like, shape (...) [V]
        Voltage with the engine at rest.
    regulator_drop : array_like, shape (...) [V]
        What the regulator takes.
    rotor_resistance : array_like, shape (...) [ohm]
        The rotor.

    Returns
    -------
    ndarray, shape (...) [A]
        The excitation current.

    Raises
    ------
    InputError
        A number is out of range, or there is no lamp.

    Examples
    --------
    A charge-warning lamp of 2.2 W lets about a sixth of an ampere into the rotor [A].

    >>> import lampkit as lk
    >>> lamp = lk.circuits.filament_load(2.2, 12)
    >>> round(float(lk.circuits.excitation_current([lamp])), 2)
    0.17

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

    Parameters
    ----------
    wanted_current : array_like, shape (...) [A]
        Excitation current, what the filament lamp gave.
    lamp_current : array_like, shape (...) [A]
        Share of it that the LED carries.
    battery_voltage : array_like, shape (...) [V]
        Voltage with the engine at rest.
    regulator_drop : array_like, shape (...) [V]
        What the regulator takes.
    rotor_resistance : array_like, shape (...) [ohm]
        The rotor.

    Returns
    -------
    ndarray, shape (...) [ohm]
        The resistor; take the next smaller one that is sold, of 5 W.

    Raises
    ------
    InputError
        The LED already carries the wanted current, or no resistor lets that much through.

    Examples
    --------
    What restores 0.17 A beside an LED that carries 15 mA.

    >>> import lampkit as lk
    >>> round(float(lk.circuits.parallel_resistor(0.17, 0.015)))
    70

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
