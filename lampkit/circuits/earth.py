"""Positive and negative earth: what depends on it, the order of work, the spark, and the charge-warning lamp."""

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.circuits.loads import Load, load_current, positive
from lampkit.circuits.network import series_current
from lampkit.errors import InputError, nearest

Earth = Literal["negative", "positive"]

REGULATOR_DROP = 1.0
"""What the regulator takes of the voltage that excites a resting alternator [V]. Source: an assumption."""

ROTOR_RESISTANCE = 4.0
"""Resistance of the rotor of a 12 V alternator [ohm]. Source: an assumption; from memory 3 to 5."""

EXCITATION_CURRENT = 0.15, 0.25
"""Current that an alternator needs through its charge-warning lamp to begin [A]. Source: common practice, no source."""

SPARK_PENALTY = 0.10, 0.40
"""How much more voltage a spark of the wrong polarity asks for [1]. Source: sources differ: about 10 % in a maker's
training text read in reprint, 15 % to 40 % often quoted, no text seen."""


class EarthPart(NamedTuple):
    """What the polarity of the earth means to one part.

    Source: data/circuit/polarity.csv.
    """

    part: str
    polarity_bound: str
    what_to_do: str
    caution: str
    source: str
    known: str


class Step(NamedTuple):
    """One step of the work when the earth is changed.

    Source: data/circuit/conversion_order.csv and data/circuit/cautions.csv.
    """

    number: int
    what: str
    why: str
    cautions: tuple[str, ...]


def parts() -> tuple[EarthPart, ...]:
    """List the parts of an older vehicle and whether they depend on the polarity of its earth.

    Source: data/circuit/polarity.csv, each row with its own source.
    """
    table = tables.load("circuit", "polarity")
    return tuple(EarthPart(**row) for row in table.rows())


def part(name: str) -> EarthPart:
    """Look up what the polarity of the earth means to one part.

    Source: data/circuit/polarity.csv.
    """
    known = {one.part: one for one in parts()}
    if name not in known:
        raise InputError(f"the part '{name}' is not in the table", key="part", expected=nearest(name, known))
    return known[name]


def order_of_work() -> tuple[Step, ...]:
    """Give the order in which an earth is changed, each step with its cautions.

    Returns
    -------
    tuple of Step
        The steps.

    Source: data/circuit/conversion_order.csv: owners' technical articles, read in a secondary
    text, and common practice.
    """
    texts = tables.load("circuit", "cautions")
    by_id = dict(zip(texts["id"], texts["text"], strict=True))
    return tuple(
        Step(int(row["step"]), row["what"], row["why"], tuple(by_id[i] for i in row["cautions"].split()))
        for row in tables.load("circuit", "conversion_order").rows()
    )


def works_with(load: Load, earth: Earth, *, made_for: Earth = "negative") -> bool:
    """Tell whether a lamp lights in a holder whose body is earth.

    Parameters
    ----------
    load : Load
        The lamp.
    earth : {'negative', 'positive'}
        The earth of the vehicle.
    made_for : {'negative', 'positive'}
        What a polarised LED was made for: nearly always negative earth, the body of its base negative.

    Returns
    -------
    bool
        True if it lights.

    Raises
    ------
    InputError
        An earth is neither negative nor positive.

    Source: a polarised LED blocks when reversed; a bridge rectifier or a filament does not care.
    """
    for key, value in (("earth", earth), ("made_for", made_for)):
        if value not in ("negative", "positive"):
            raise InputError(f"the earth '{value}' is unknown", key=key, expected="'negative' or 'positive'")
    return load.either_way or earth == made_for


def coil_leads(earth: Earth) -> str:
    """Say which low-tension terminal of the coil goes to the contact breaker.

    Source: a maker's training text, read in reprint; spread of the gain, `SPARK_PENALTY`.
    """
    if earth not in ("negative", "positive"):
        raise InputError(f"the earth '{earth}' is unknown", key="earth", expected="'negative' or 'positive'")
    # The breaker connects to earth, so its terminal carries the sign of the earth.
    breaker, feed = ("-", "+") if earth == "negative" else ("+", "-")
    low, high = SPARK_PENALTY
    return (
        f"With {earth} earth the coil's terminal marked {breaker} goes to the contact breaker and {feed} to the "
        "ignition switch: the spark is then negative at the hot centre electrode. The wrong way round it asks for "
        f"{100 * low:.0f} % to {100 * high:.0f} % more voltage (sources differ); "
        "coils marked SW and CB must be read for the earth they were made for."
    )


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

    Source: R = (V - Vreg)/(Iwanted - Iled) - Rrotor, which leaves out the small drop of the LED's share in the rotor.
    """
    missing = positive(
        np.asarray(wanted_current) - np.asarray(lamp_current), "wanted_current", "A more than the lamp itself carries"
    )
    ohms = (np.asarray(battery_voltage) - np.asarray(regulator_drop)) / missing - np.asarray(rotor_resistance)
    return positive(ohms, "wanted_current", "A, little enough for the rotor: the resistor comes out at ohms")


def series_resistor(supply_voltage: ArrayLike, lamp_voltage: ArrayLike, current: ArrayLike) -> NDArray[np.float64]:
    """Give the resistor in series with a warning lamp of low voltage.

    Parameters
    ----------
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply.
    lamp_voltage : array_like, shape (...) [V]
        Voltage of the lamp.
    current : array_like, shape (...) [A]
        Current of the lamp.

    Returns
    -------
    ndarray, shape (...) [ohm]
        The resistor; its heat is (Vs - Vl) I.

    Raises
    ------
    InputError
        The supply is not above the lamp's voltage, or the current not above zero.

    Source: Ohm's law.
    """
    left = np.asarray(supply_voltage, dtype=float) - np.asarray(lamp_voltage, dtype=float)
    return np.asarray(positive(left, "supply_voltage", "V above the lamp's") / positive(current, "current", "A"))


def charge_lamp_words(
    charger: Literal["alternator", "dynamo"], old: Load, new: Load, battery_voltage: float = 12.4
) -> str:
    """Say what an LED does in place of a charge-warning lamp.

    Source: `excitation_current`; vehicle maker service information 1998 (the 2 W lamp must not change), read.
    """
    if charger not in ("alternator", "dynamo"):
        raise InputError(f"the charger '{charger}' is unknown", key="charger", expected="'alternator' or 'dynamo'")
    if not new.kind.endswith("LED"):
        return "A filament lamp of the same volts and watts may replace the charge-warning lamp."
    if charger == "dynamo":
        return (
            "A dynamo needs no current through its charge-warning lamp, so an LED does not stop it charging; but the "
            "LED sees the voltage reversed when the dynamo runs ahead of the battery, and does not show the dim glow "
            "at 1 V to 2 V that warns of dirty contacts: keep the filament lamp."
        )
    before = float(excitation_current([old], battery_voltage))
    after = float(excitation_current([new], battery_voltage))
    words = (
        f"The charge-warning lamp excites the alternator: {1000 * before:.0f} mA with the filament lamp, "
        f"{1000 * after:.0f} mA with the LED, which may not be enough for it to begin to charge."
    )
    if after >= before:
        return f"The LED passes {1000 * after:.0f} mA, no less than the filament's {1000 * before:.0f} mA."
    ohms = float(parallel_resistor(before, after, battery_voltage))
    seen = float(load_current(new, battery_voltage))
    return (
        f"{words} Keep the filament lamp (some makers forbid any change); if not, {ohms:.0f} ohm beside the LED "
        f"({battery_voltage**2 / ohms:.1f} W with the engine at rest; the LED itself takes {1000 * seen:.0f} mA)."
    )
