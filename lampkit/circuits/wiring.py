"""The wires of a circuit: resistance by size and length, and the current that the sources rate each size for."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.circuits.loads import positive
from lampkit.errors import InputError, nearest, within

COPPER_RESISTIVITY = 1.7241e-8
"""Resistivity of annealed copper at 20 degrees C [ohm m]. Source: IACS, 58 MS/m."""

COPPER_COEFFICIENT = 0.00393
"""Rise of the resistance of copper for each kelvin above 20 degrees C, over that at 20 [1]. Source: IACS,
from memory."""


@dataclass(frozen=True)
class Wire:
    """A length of wire in the vehicle.

    Parameters
    ----------
    size : str
        Its size, as in '1.0 mm2' or 'AWG 18'.
    length : float [m]
        Length of the current's way along it; the way back too, if that is a wire and not the body.
    standard : str
        Whose resistance to take: 'IEC 60228 class 5', 'ISO 6722', 'IS 2465' or 'PVC, 0.30 mm strands'; an AWG size goes
        by the formula of the gauge.
    celsius : float [degC]
        Temperature of the copper.

    Examples
    --------
    Three metres and back.

    >>> import lampkit as lk
    >>> lk.circuits.Wire("1.0 mm2", 6).standard
    'IEC 60228 class 5'
    """

    size: str
    length: float
    standard: str = "IEC 60228 class 5"
    celsius: float = 20.0

    def __post_init__(self) -> None:
        positive(self.length, "length", "m")
        if not -60 <= self.celsius <= 200:
            raise InputError(
                f"copper at {self.celsius:g} degrees C", key="celsius", expected="-60 to 200; PVC ends at about 105"
            )
        resistance_per_length(self.size, self.standard)


def awg_diameter(gauge: ArrayLike) -> NDArray[np.float64]:
    """Give the diameter of a solid wire of an American wire gauge, d = 0.127 mm x 92^((36 - n)/39).

    Source: definition of the American wire gauge, ASTM B258.
    """
    number = within(gauge, -3.0, 60.0, key="gauge", unit="")  # 0000 is -3
    return np.asarray(0.127 * 92.0 ** ((36.0 - number) / 39.0))


def solid_resistance_per_length(area: ArrayLike) -> NDArray[np.float64]:
    """Give the resistance of solid copper by its cross-section, at 20 degrees C.

    Source: resistivity of annealed copper, IACS.
    """
    return np.asarray(COPPER_RESISTIVITY * 1e9 / positive(area, "area", "mm2"))


def resistance_per_length(size: str, standard: str = "IEC 60228 class 5") -> NDArray[np.float64]:
    """Look up the resistance of a conductor at 20 degrees C.

    Parameters
    ----------
    size : str
        Its size, as in '1.0 mm2', or 'AWG 18' for the formula of the American wire gauge; a size between those of the
        table is read between them.
    standard : str
        Whose table.

    Returns
    -------
    ndarray, shape () [mohm/m]
        Resistance by length: the largest that the standard allows.

    Raises
    ------
    InputError
        The size is not in that table.

    Examples
    --------
    The largest that the standard allows [mohm/m].

    >>> import lampkit as lk
    >>> float(lk.circuits.resistance_per_length("1.0 mm2"))
    19.5

    Source: data/circuit/conductors.csv, each row with its own source; ASTM B258 for AWG.
    """
    gauge = re.fullmatch(r"AWG\s*(\d+)", size.strip(), flags=re.IGNORECASE)
    if gauge:
        if not 4 <= int(gauge.group(1)) <= 36:
            raise InputError(f"the wire size '{size}' is unknown", key="size", expected="AWG 4 to AWG 36")
        return solid_resistance_per_length(0.25 * np.pi * awg_diameter(int(gauge.group(1))) ** 2)
    table = tables.load("circuit", "conductors")
    has_value = np.isfinite(table["resistance_mohm_per_m"])
    of_standard = has_value & (table["standard"] == standard)
    if not np.any(of_standard):
        known = table["standard"][has_value]
        raise InputError(f"the table '{standard}' is unknown", key="standard", expected=nearest(standard, known))
    row = of_standard & (table["size"] == _area_name(size))
    if not np.any(row) and (area := _area_of(size)) is not None:
        # Resistance times area hardly changes from size to size, so it is read between them.
        known, each = table["area_mm2"][of_standard], table["resistance_mohm_per_m"][of_standard]
        order = np.argsort(known)
        return np.asarray(np.interp(np.log(area), np.log(known[order]), (known * each)[order]) / area)
    if not np.any(row):
        raise InputError(
            f"the wire size '{size}' is not in the table '{standard}'",
            key="size",
            expected=nearest(size, table["size"][of_standard]) + ", or an AWG size as in 'AWG 18'",
        )
    return np.asarray(table["resistance_mohm_per_m"][row][0])


AREAS = 0.2, 50.0
"""Sections of a conductor that are taken where no table lists them [mm2]. Source: own judgement."""


def _area_of(size: str) -> float | None:
    """Read the section out of a size, where it is one that a vehicle may have."""
    match = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*mm(?:2|²|\^2)?", size.strip())
    area = float(match.group(1).replace(",", ".")) if match else 0.0
    return area if AREAS[0] <= area <= AREAS[1] else None


def _area_name(size: str) -> str:
    """Accept '1 mm2', '1.0mm2' and '1,0 mm²' for '1.0 mm2'."""
    wanted = _area_of(size)
    if wanted is None:
        return size
    names = tables.load("circuit", "conductors")["size"]
    return next((n for n in names if n.endswith("mm2") and float(n.split()[0]) == wanted), size)


def wire_resistance(wire: Wire) -> NDArray[np.float64]:
    """Give the resistance of a wire at its temperature.

    Source: R20 [1 + 0.00393 (T - 20)], IACS.
    """
    cold = resistance_per_length(wire.size, wire.standard) * wire.length / 1000.0
    return np.asarray(cold * (1.0 + COPPER_COEFFICIENT * (wire.celsius - 20.0)))


def current_ratings(size: str) -> NDArray[np.float64]:
    """Give the lowest and the highest current rating that the sources print for a size.

    Parameters
    ----------
    size : str
        The size, as in '1.0 mm2' or 'AWG 18'.

    Returns
    -------
    ndarray, shape (2,) [A]
        Lowest and highest, two to seven times as much: size a wire by its voltage drop, and fuse it by the lower.

    Raises
    ------
    InputError
        No source rates that size.

    Examples
    --------
    The sources differ [A].

    >>> import lampkit as lk
    >>> lk.circuits.current_ratings("1.0 mm2")
    array([ 8.75, 16.5 ])

    Source: data/circuit/conductors.csv, each row with its own source.
    """
    table = tables.load("circuit", "conductors")
    rated = np.isfinite(table["current_rating_A"])
    gauge = re.fullmatch(r"AWG\s*(\d+)", size.strip(), flags=re.IGNORECASE)
    row = rated & (table["size"] == (f"AWG {gauge.group(1)}" if gauge else _area_name(size)))
    if not np.any(row) and (area := _area_of(size)) is not None:
        # On the safe side: what the next smaller one of the tables carries, and less than the smallest in proportion.
        areas = np.where(rated, table["area_mm2"], np.inf)
        smaller = areas[areas <= area]
        nearest_one = smaller.max() if smaller.size else areas.min()
        found = table["current_rating_A"][areas == nearest_one] * min(area / nearest_one, 1.0)
        return np.array([found.min(), found.max()])
    if not np.any(row):
        raise InputError(
            f"no source rates the wire size '{size}'", key="size", expected=nearest(size, table["size"][rated])
        )
    return np.array([table["current_rating_A"][row].min(), table["current_rating_A"][row].max()])
