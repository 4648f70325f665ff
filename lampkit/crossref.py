"""Which filament lamp is which: designations with base, watts and flux, near equivalents, and what an LED must be."""

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import filament, tables
from lampkit.errors import InputError, nearest
from lampkit.lamp_ratings import rating

if TYPE_CHECKING:
    import pandas as pd


class Base(NamedTuple):
    """The base of a lamp and its holder.

    Parameters
    ----------
    base : str
        Its designation, as in 'BAY15d'.
    description : str
        Its shape.
    contacts : str
        'single' or 'double': how many live contacts.
    ways_in : str
        'one' or 'two': how many ways round the lamp goes into the holder.
    other_pole : str
        Where the other pole is.
    source, known : str
        Where it comes from and how it is known.

    Source: data/lamps/bases.csv.
    """

    base: str
    description: str
    contacts: str
    ways_in: str
    other_pole: str
    source: str
    known: str


def designations() -> tuple[str, ...]:
    """List the filament lamps whose ratings are known.

    Returns
    -------
    tuple of str
        Their designations, as the table has them.

    Source: data/lamps/ratings.csv.
    """
    return tuple(dict.fromkeys(tables.load("lamps", "ratings")["designation"]))


def base(designation: str) -> Base:
    """Look up the base of a filament lamp.

    Parameters
    ----------
    designation : str
        For example 'P21/5W' or '1157'.

    Returns
    -------
    Base
        The base.

    Raises
    ------
    InputError
        There is no such lamp, or nothing is known of its base.

    Source: data/lamps/ratings.csv and data/lamps/bases.csv.
    """
    name = next(row["base"] for row in _rows(designation))
    known = {row["base"]: row for row in tables.load("lamps", "bases").rows()}
    if name not in known:
        raise InputError(f"nothing is known of the base '{name}' of {designation}", key="base")
    return Base(**known[name])


def _rows(designation: str) -> list[dict[str, object]]:
    wanted = str(designation).strip().upper().replace(" ", "")
    rows = [row for row in tables.load("lamps", "ratings").rows() if row["designation"].upper() == wanted]
    if not rows:
        raise InputError(
            f"there is no filament lamp '{designation}'",
            key="designation",
            expected=nearest(str(designation), designations()),
        )
    return rows


def near_equivalents(designation: str, rated_voltage: float = 12.0) -> str:
    """Name the lamps of the other system that come nearest.

    Parameters
    ----------
    designation : str
        For example 'P21W' or '1156'.
    rated_voltage : float [V]
        6, 12 or 24.

    Returns
    -------
    str
        Their designations with remarks, or empty when none is known.

    Raises
    ------
    InputError
        There is no such lamp.

    Source: trade cross-reference lists, from memory.
    """
    name = _rows(designation)[0]["designation"]
    table = tables.load("lamps", "interchange")
    row = (table["designation"] == name) & (table["class_V"] == rated_voltage)
    return str(table["near_equivalent"][row][0]) if np.any(row) else ""


def flux_at(
    designation: str, voltage: ArrayLike, *, part: str | None = None, rated_voltage: float | None = None
) -> NDArray[np.float64]:
    """Give the rated flux of a filament lamp at another voltage, so that lamps of different systems can be compared.

    Parameters
    ----------
    designation : str
        For example 'P21W' or '1156'.
    voltage : array_like, shape (...) [V]
        The voltage at which to compare, for example 13.5 V.
    part : str, optional
        'major' or 'minor' for a lamp of two filaments.
    rated_voltage : float, optional [V]
        6, 12 or 24; 12 when left out, or the only one that the lamp is made for.

    Returns
    -------
    ndarray, shape (..., 2) [lm]
        With the flux exponents 3.4 and 3.6, between which the sources lie.

    Raises
    ------
    InputError
        There is no such lamp, or the voltage is outside 0.5 to 1.3 times that of the rating.

    Source: data/lamps/ratings.csv; 3.4 Fink and Beaty 1978, 3.5 there and in the IES handbook, 3.6 as upper end.
    """
    row = rating(designation, part, rated_voltage)
    ratio = np.asarray(voltage, dtype=float) / row["test_V"]
    filament.voltage_law(ratio, "flux")  # refuses a voltage that the law does not cover
    return np.asarray(row["flux_lm"] * ratio[..., np.newaxis] ** np.array([3.4, 3.6]))


def table() -> "pd.DataFrame":
    """List every filament of every lamp with base, volts, watts, flux and near equivalents.

    Returns
    -------
    DataFrame
        One row a filament; the columns carry their units.

    Source: data/lamps/ratings.csv, bases.csv and interchange.csv, each row with its own source.
    """
    import pandas as pd

    ratings = tables.load("lamps", "ratings")
    keep = ("system", "designation", "filament", "class_V", "rated_W", "test_V", "power_W", "flux_lm", "colour", "base")
    frame = pd.DataFrame({name: ratings[name] for name in keep})
    bases = {row["base"]: row for row in tables.load("lamps", "bases").rows()}
    frame["base_description"] = [bases[name]["description"] if name in bases else "" for name in frame["base"]]
    frame["near_equivalent"] = [
        near_equivalents(name, volts) for name, volts in zip(frame["designation"], frame["class_V"], strict=True)
    ]
    frame["source"] = ratings["source"]
    frame["known"] = ratings["known"]
    return frame


def led_must_be(
    designation: str, *, earth: Literal["negative", "positive"] = "negative", rated_voltage: float = 12.0
) -> tuple[str, ...]:
    """Say what an LED lamp must be to go in place of a filament lamp.

    Parameters
    ----------
    designation : str
        The filament lamp, for example 'P21/5W'.
    earth : {'negative', 'positive'}
        The earth of the vehicle.
    rated_voltage : float [V]
        6, 12 or 24.

    Returns
    -------
    tuple of str
        Sentences for the shopping list.

    Raises
    ------
    InputError
        There is no such lamp for that voltage, or the earth is unknown.

    Source: data/lamps/bases.csv; common practice, no source, for the rest.
    """
    if earth not in ("negative", "positive"):
        raise InputError(f"the earth '{earth}' is unknown", key="earth", expected="'negative' or 'positive'")
    rows = [row for row in _rows(designation) if row["class_V"] == rated_voltage]
    if not rows:
        classes = sorted({float(str(row["class_V"])) for row in _rows(designation)})
        raise InputError(
            f"{designation} has no rating for {rated_voltage:g} V",
            key="rated_voltage",
            expected=" or ".join(f"{v:g}" for v in classes),
        )
    socket = base(designation)
    two = len(rows) > 1
    says = [
        f"Base {socket.base}: {socket.description}; {socket.contacts} contact; the other pole is {socket.other_pole}.",
        f"Made for a {rated_voltage:g} V vehicle: "
        + {
            6.0: "it must light fully from about 5.5 V to 8 V; a bridge rectifier costs a fifth of the supply.",
            12.0: "it must light from 9 V and stand 16 V.",
            24.0: "it must stand 32 V.",
        }[rated_voltage],
    ]
    if two:
        says.append(
            "Two functions, bright and dim, each on its own contact: check on the bench that the bright one gives "
            "at least five times the light of the dim one, and that it follows the contact of your holder."
        )
    elif socket.contacts == "double":
        says.append(
            "Two contacts with one filament: find out with the meter whether the filament lies between the contacts or "
            "from one of them to the shell."
        )
    says.append(_polarity(socket, earth))
    says.append(
        "Measure length and width of the old lamp and the room behind the lens: an LED lamp is often longer and "
        "thicker, touches the lens or shadows the reflector, and its light starts elsewhere than the filament's."
    )
    colour = str(rows[0]["colour"])
    if colour != "white":
        says.append(f"The filament lamp is {colour} itself, behind a clear lens: the LED must give {colour} light.")
    return tuple(says)


def _polarity(socket: Base, earth: str) -> str:
    if socket.ways_in == "two":
        return "It goes in either way round: if it stays dark, turn it round before you blame it" + (
            "." if earth == "negative" else "; on positive earth too."
        )
    if earth == "negative":
        return "Its shell is the negative pole, as LED lamps are usually made; measure that the holder is earth."
    return "Positive earth: its shell must be the positive pole, or it must work either way; the usual kind stays dark."
