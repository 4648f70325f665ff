"""Properties of tungsten against temperature: resistivity, heat capacity, density, radiated power."""

from collections.abc import Callable
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError, nearest

COLDEST, HOTTEST = 250.0, 3695.0
"""Limits between which the properties are given; the upper one is the melting point [K]. Source: Tolias 2017."""

MOLAR_MASS = 183.84
"""Molar mass of tungsten [g/mol]. Source: IUPAC standard atomic weight (from memory)."""

ResistivitySource = Literal["White and Minges", "Jones and Langmuir"]
HeatCapacitySource = Literal["White and Minges", "Milner"]


def _checked(temperature: ArrayLike) -> NDArray[np.float64]:
    t = np.asarray(temperature, dtype=float)
    if not np.all((t >= COLDEST) & (t <= HOTTEST)):
        raise InputError(
            "a tungsten temperature is out of range",
            key="temperature",
            expected=f"kelvin from {COLDEST:g} to the melting point {HOTTEST:g}",
        )
    return t


def resistivity(temperature: ArrayLike, source: ResistivitySource = "White and Minges") -> NDArray[np.float64]:
    """Give the electrical resistivity of tungsten.

    Source: White and Minges, Int. J. Thermophys. 18 (1997) 1269, as printed in Tolias, Nucl. Mater. Energy 13 (2017)
    42; Jones and Langmuir, General Electric Review 30 (1927) 310 (table from memory, linear between its rows).
    """
    t = _checked(temperature)
    if source == "White and Minges":
        return np.asarray(np.polyval([2.0790e-13, -1.8517e-9, 7.8260e-6, 1.9274e-2, -0.9680], t) * 1e-8)
    if source == "Jones and Langmuir":
        table = tables.load("tungsten", "resistivity")
        return _line(table["temperature_K"], table["resistivity_uohm_cm"] * 1e-8)(t)
    raise InputError(
        f"the source '{source}' of resistivity is unknown",
        expected=nearest(source, ["White and Minges", "Jones and Langmuir"]),
    )


def heat_capacity(temperature: ArrayLike, source: HeatCapacitySource = "White and Minges") -> NDArray[np.float64]:
    """Give the specific heat capacity of tungsten at constant pressure.

    Source: White and Minges 1997, as printed with a line above 3080 K in Tolias 2017; Milner (formula read in a
    secondary text).
    """
    t = _checked(temperature)
    if source == "White and Minges":
        solid = np.polyval([1.075862e-9, -3.756196e-6, 8.068661e-3, 21.868372], t) + 1.406637e4 / t**2
        return np.asarray(np.where(t <= 3080.0, solid, 2.022 + 1.315e-2 * t) * (1000.0 / MOLAR_MASS))
    if source == "Milner":
        x = t / 1000.0
        return np.asarray(1000.0 * (np.polyval([0.003539, -0.007224, 0.02225, 0.1301], x) - 3.061e-4 / x**2))
    raise InputError(
        f"the source '{source}' of heat capacity is unknown",
        expected=nearest(source, ["White and Minges", "Milner"]),
    )


def density(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the density of tungsten.

    Source: Tolias, Nucl. Mater. Energy 13 (2017) 42.
    """
    d = _checked(temperature) - 293.15
    return np.asarray(1000.0 * np.polyval([-9.5185e-12, -3.0595e-9, -2.66207e-4, 19.25], d))


def radiated_power(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the power that a tungsten surface radiates in all directions and at all wavelengths, for its area.

    Source: Jones and Langmuir, General Electric Review 30 (1927) 310 (table from memory), a power law between rows.
    """
    t = _checked(temperature)
    table = tables.load("tungsten", "radiation")
    curve = _line(np.log(table["temperature_K"]), np.log(table["radiated_power_W_per_cm2"] * 1e4))
    return np.exp(curve(np.log(t)))


def _line(x: NDArray[np.float64], y: NDArray[np.float64]) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
    """Straight lines between the rows of a table, the end ones going on beyond it."""

    def at(wanted: NDArray[np.float64]) -> NDArray[np.float64]:
        i = np.clip(np.searchsorted(x, wanted, side="right") - 1, 0, x.size - 2)
        return np.asarray(y[i] + (wanted - x[i]) * (y[i + 1] - y[i]) / (x[i + 1] - x[i]))

    return at


@cache
def lookup() -> NDArray[np.float64]:
    """Tabulate what the hot wire needs every kelvin, so that one index serves all three."""
    t = np.arange(COLDEST, HOTTEST + 0.5)
    table = np.stack([resistivity(t), heat_capacity(t), radiated_power(t)])
    table.setflags(write=False)
    return table
