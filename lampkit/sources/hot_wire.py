"""The filament as a hot wire at rest: properties of tungsten, its size from its rating, its watts and its light."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import equations, grid, tables
from lampkit.errors import InputError
from lampkit.light import photometry
from lampkit.sources import incandescence

AMBIENT = 300.0
"""Temperature of the cold filament and of what it radiates to [K]. Source: an assumption."""

SHADE = 0.7
"""Share of the coil's wire surface that radiates outwards, its turns shading one another [1]. Source: an assumption,
tuned so that a 21 W lamp rises to 90 % in about the quarter second of UMTRI-93-37; no measurement was found."""

GAS_LOSS = 0.10
"""Share of the watts that gas and leads carry away in a 21 W signal lamp [1]. Source: an assumption; the IES Lighting
Handbook 1947 gives 6 % to 20 % for mains lamps, and small lamps lose more."""

COLDEST, HOTTEST = 250.0, 3695.0
"""Limits between which the properties are given; the upper one is the melting point [K]. Source: Tolias 2017."""

MOLAR_MASS = 183.84
"""Molar mass of tungsten [g/mol]. Source: IUPAC standard atomic weight (from memory)."""


def _checked(temperature: ArrayLike) -> NDArray[np.float64]:
    t = np.asarray(temperature, dtype=float)
    if not np.all((t >= COLDEST) & (t <= HOTTEST)):
        raise InputError(
            "a tungsten temperature is out of range",
            key="temperature",
            expected=f"kelvin from {COLDEST:g} to the melting point {HOTTEST:g}",
        )
    return t


def resistivity(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the electrical resistivity of tungsten.

    Source: White and Minges, Int. J. Thermophys. 18 (1997) 1269, as printed in Tolias, Nucl. Mater. Energy 13 (2017)
    42.
    """
    return np.asarray(np.polyval([2.0790e-13, -1.8517e-9, 7.8260e-6, 1.9274e-2, -0.9680], _checked(temperature)) * 1e-8)


def heat_capacity(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the specific heat capacity of tungsten at constant pressure.

    Source: White and Minges 1997, as printed with a line above 3080 K in Tolias 2017.
    """
    t = _checked(temperature)
    solid = np.polyval([1.075862e-9, -3.756196e-6, 8.068661e-3, 21.868372], t) + 1.406637e4 / t**2
    return np.asarray(np.where(t <= 3080.0, solid, 2.022 + 1.315e-2 * t) * (1000.0 / MOLAR_MASS))


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


@dataclass(frozen=True, eq=False)
class HotWire:
    """A filament as a straight wire with the surface, the resistance and the mass that its rating asks for."""

    voltage: NDArray[np.float64]
    power: NDArray[np.float64]
    temperature: NDArray[np.float64]
    gas_loss: NDArray[np.float64]
    shade: NDArray[np.float64]
    radius: NDArray[np.float64]
    length: NDArray[np.float64]
    mass: NDArray[np.float64]


def hot_wire_of_rating(
    voltage: ArrayLike,
    power: ArrayLike,
    temperature: ArrayLike,
    *,
    gas_loss: ArrayLike = GAS_LOSS,
    shade: ArrayLike = SHADE,
) -> HotWire:
    """Find the wire that has the rated power and temperature at the rated voltage.

    Parameters
    ----------
    voltage : array_like, shape (...) [V]
        Voltage of the rating, for example 13.5 V.
    power : array_like, shape (...) [W]
        Power at that voltage: about 25 W for what is called a 21 W lamp.
    temperature : array_like, shape (...) [K]
        True temperature at that voltage: about 2800 K for 21 W, 2500 K to 2600 K for 5 W.
    gas_loss : array_like, shape (...) [1]
        Share of the power that gas and leads carry away.
    shade : array_like, shape (...) [1]
        Share of the wire's surface that radiates outwards.

    Returns
    -------
    HotWire
        The wire, or as many wires as the arguments broadcast to.

    Raises
    ------
    InputError
        A value is not positive or out of range.

    Examples
    --------
    At its rating the wire takes its power: 25 W at 13.5 V are 1.85 A.

    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(13.5, 25, 2800)
    >>> round(float(lk.sources.hot_wire_current(wire, 13.5, 2800)), 2)
    1.85

    Source: own model: rho L/(pi r^2) = V^2/P and (1 - gas loss) P = shade 2 pi r L W(T).
    """
    v = _positive(voltage, "voltage", "volts above zero")
    p = _positive(power, "power", "watts above zero")
    t = _positive(temperature, "temperature", "kelvin")
    gas = np.asarray(gas_loss, dtype=float)
    shaded = _positive(shade, "shade", "a share above 0 and up to 1")
    if not np.all((gas >= 0) & (gas < 1)):
        raise InputError("a gas loss is out of range", key="gas_loss", expected="a share from 0 to below 1")
    if np.any(shaded > 1):
        raise InputError("a shade factor is above one", key="shade", expected="a share above 0 and up to 1")
    if np.any((t < 1000.0) | (t > 3400.0)):
        raise InputError(
            "a filament does not run at that temperature",
            key="temperature",
            expected="the true temperature at the rated voltage, 1000 K to 3400 K",
        )
    surface = (1.0 - gas) * p / (shaded * (radiated_power(t) - radiated_power(AMBIENT)))
    radius = (resistivity(t) * surface * p / (2.0 * np.pi**2 * v**2)) ** (1.0 / 3.0)
    length = surface / (2.0 * np.pi * radius)
    mass = density(t) * np.pi * radius**2 * length
    return HotWire(*np.broadcast_arrays(v, p, t, gas, shaded, radius, length, mass))


def hot_wire_resistance(wire: HotWire, temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the resistance of a filament at a temperature; at 300 K, what an ohmmeter reads.

    Parameters
    ----------
    wire : HotWire
        The filament.
    temperature : array_like, shape (...) [K]
        True temperature.

    Returns
    -------
    ndarray, shape (...) [ohm]
        The resistance.

    Raises
    ------
    InputError
        A temperature is out of range.

    Examples
    --------
    Hot, 13.5 V over 1.85 A; cold, an ohmmeter reads a fraction of that.

    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(13.5, 25, 2800)
    >>> lk.sources.hot_wire_resistance(wire, [300, 2800]).round(1)
    array([0.5, 7.3])

    Source: White and Minges 1997 for the resistivity; the wire does not expand.
    """
    return np.asarray(resistivity(temperature) * wire.length / (np.pi * wire.radius**2))


def steady_temperature(
    wire: HotWire, supply_voltage: ArrayLike, *, series_resistance: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Find the temperature at which a filament settles.

    Parameters
    ----------
    wire : HotWire
        The filament.
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply.
    series_resistance : array_like, shape (...) [ohm]
        Resistance of wire, switch and earth in series with the filament.

    Returns
    -------
    ndarray, shape (...) [K]
        The steady temperature.

    Raises
    ------
    InputError
        A voltage or resistance is negative, or the filament would melt.

    Examples
    --------
    It settles at its rated temperature on its rated voltage, and cooler on less.

    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(13.5, 25, 2800)
    >>> lk.sources.steady_temperature(wire, [12.0, 13.5]).round(-1)
    array([2680., 2800.])

    Source: own model: power taken equals power lost, found by Ridders' method to 1e-9 K.
    """
    v, rs = _supply(supply_voltage, series_resistance)
    shape = np.broadcast_shapes(wire.voltage.shape, v.shape, rs.shape)
    low, high = np.full(shape, AMBIENT), np.full(shape, HOTTEST)
    if np.any(rates(wire, v, high, series_resistance=rs)[0] > 0):
        raise InputError(
            f"at {np.max(v):g} V the filament would melt",
            key="supply_voltage",
            expected="a voltage near the rating of the lamp",
        )
    return equations.rising_root(lambda t: -rates(wire, v, t, series_resistance=rs)[0], low, high)


def hot_wire_light(
    wire: HotWire, temperature: ArrayLike, *, transmittance: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Give the luminous flux of a filament at a temperature, relative to that at its rating.

    Parameters
    ----------
    wire : HotWire
        The filament.
    temperature : array_like, shape (...) [K]
        True temperature, broadcast against the wire.
    transmittance : array_like, shape (471,) [1]
        Spectral transmittance of a lens, through which both are taken; none when left out. Behind a red lens the
        light rises a little sooner than bare, for the red comes first.

    Returns
    -------
    ndarray, shape (...) [1]
        The relative luminous flux; nil below 1200 K, where it is less than one part in a hundred thousand.

    Raises
    ------
    InputError
        A temperature is out of range, or the lens is not on the grid or passes no light.

    Examples
    --------
    200 K cooler, a filament gives half of its light.

    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(13.5, 25, 2800)
    >>> lk.sources.hot_wire_light(wire, [2600, 2800]).round(2)
    array([0.5, 1. ])

    Source: tungsten spectrum of lampkit.filament, interpolated in its logarithm every 20 K.
    """
    logarithm = _light_table(None if transmittance is None else grid.on_grid(transmittance).tobytes())
    t, rated = _positive(temperature, "temperature", "kelvin"), wire.temperature
    if np.any(t > incandescence.HOTTEST):
        raise InputError(
            "a filament is hotter than its light is known",
            key="temperature",
            expected=f"up to {incandescence.HOTTEST:g} K",
            remedy="check the supply voltage against the rating of the lamp",
        )
    relative = np.exp(np.interp(t, _LIGHT_STEPS, logarithm) - np.interp(rated, _LIGHT_STEPS, logarithm))
    return np.asarray(np.where(t < _LIGHT_STEPS[0], 0.0, relative))


def hot_wire_current(
    wire: HotWire, supply_voltage: ArrayLike, temperature: ArrayLike, *, series_resistance: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Give the current through a filament at a temperature.

    Parameters
    ----------
    wire : HotWire
        The filament.
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply.
    temperature : array_like, shape (...) [K]
        True temperature.
    series_resistance : array_like, shape (...) [ohm]
        Resistance in series with the filament.

    Returns
    -------
    ndarray, shape (...) [A]
        The current.

    Raises
    ------
    InputError
        A value is out of range.

    Examples
    --------
    25 W at 13.5 V are 1.85 A.

    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(13.5, 25, 2800)
    >>> round(float(lk.sources.hot_wire_current(wire, 13.5, 2800)), 2)
    1.85

    Source: Ohm's law.
    """
    v, rs = _supply(supply_voltage, series_resistance)
    return np.asarray(v / (hot_wire_resistance(wire, temperature) + rs))


def rates(
    wire: HotWire, supply_voltage: ArrayLike, temperature: ArrayLike, *, series_resistance: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Give how fast a filament warms at a temperature, and the watts that it takes and loses.

    Source: own model: m cp dT/dt = I^2 R - shade 2 pi r L (W(T) - W(300 K)) - gas loss, I = V/(R + Rs).
    """
    t = np.asarray(temperature, dtype=float)
    table = lookup()
    place = np.clip(t - COLDEST, 0.0, table.shape[-1] - 1.001)
    i = place.astype(int)
    rho, capacity, radiated = table[:, i] + (place - i) * (table[:, i + 1] - table[:, i])
    ohms = rho * wire.length / (np.pi * wire.radius**2)
    electrical = (np.asarray(supply_voltage) / (ohms + np.asarray(series_resistance))) ** 2 * ohms
    surface = wire.shade * 2.0 * np.pi * wire.radius * wire.length
    radiation = surface * (radiated - table[2, int(AMBIENT - COLDEST)])
    gas = wire.gas_loss * wire.power * (t - AMBIENT) / (wire.temperature - AMBIENT)
    warming = (electrical - radiation - gas) / (wire.mass * capacity)
    return np.stack(np.broadcast_arrays(warming, electrical, radiation, gas))


_LIGHT_STEPS = np.arange(incandescence.COOLEST, incandescence.HOTTEST + 1.0, 20.0)


@cache
def _light_table(lens: bytes | None) -> NDArray[np.float64]:
    """Logarithm of the luminous flux of tungsten, bare or through a lens, every 20 K."""
    spectra = incandescence.tungsten(_LIGHT_STEPS)
    if lens is not None:
        spectra = spectra * np.frombuffer(lens)
    flux = photometry.luminous_flux(spectra)
    if not np.all(flux > 0):
        raise InputError("the lens passes no light", key="transmittance", expected="a transmittance above zero")
    return np.asarray(np.log(flux))


def _positive(value: ArrayLike, key: str, expected: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array > 0)):
        raise InputError("a value is not positive", key=key, expected=expected)
    return array


def _supply(voltage: ArrayLike, series_resistance: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    v, rs = np.asarray(voltage, dtype=float), np.asarray(series_resistance, dtype=float)
    if not np.all((v >= 0) & (v <= 1e4)):
        raise InputError("a supply voltage is negative", key="supply_voltage", expected="volts, zero or more, to 1e4 V")
    if not np.all((rs >= 0) & (rs <= 1e9)):
        raise InputError("a series resistance is negative", key="series_resistance", expected="ohms, zero or more")
    return v, rs
