"""The filament as a hot wire at rest: its size from its rating, its watts, inrush, and light behind a poor earth."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import equations, grid
from lampkit.errors import InputError
from lampkit.light import photometry
from lampkit.sources import incandescence, tungsten_properties

AMBIENT = 300.0
"""Temperature of the cold filament and of what it radiates to [K]. Source: an assumption."""

SHADE = 0.7
"""Share of the coil's wire surface that radiates outwards, its turns shading one another [1]. Source: an assumption,
tuned so that a 21 W lamp rises to 90 % in about the quarter second of UMTRI-93-37; no measurement was found."""

GAS_LOSS = 0.10
"""Share of the watts that gas and leads carry away in a 21 W signal lamp [1]. Source: an assumption; the IES Lighting
Handbook 1947 gives 6 % to 20 % for mains lamps, and small lamps lose more."""


@dataclass(frozen=True, eq=False)
class HotWire:
    """A filament as a straight wire with the surface, the resistance and the mass that its rating asks for.

    Source: own model; radiated power, resistivity, heat capacity and density as in lampkit.sources.tungsten_properties.
    """

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
    surface = (
        (1.0 - gas)
        * p
        / (shaded * (tungsten_properties.radiated_power(t) - tungsten_properties.radiated_power(AMBIENT)))
    )
    radius = (tungsten_properties.resistivity(t) * surface * p / (2.0 * np.pi**2 * v**2)) ** (1.0 / 3.0)
    length = surface / (2.0 * np.pi * radius)
    mass = tungsten_properties.density(t) * np.pi * radius**2 * length
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
    return np.asarray(tungsten_properties.resistivity(temperature) * wire.length / (np.pi * wire.radius**2))


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
    low, high = np.full(shape, AMBIENT), np.full(shape, tungsten_properties.HOTTEST)
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


def inrush_ratio(
    wire: HotWire, supply_voltage: ArrayLike | None = None, *, series_resistance: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Give the current at the instant of switching on over the current when settled.

    Parameters
    ----------
    wire : HotWire
        The filament.
    supply_voltage : array_like, shape (...) [V]
        Voltage of the supply; that of the rating when left out.
    series_resistance : array_like, shape (...) [ohm]
        Resistance in series with the filament; a few tenths of an ohm bring the ratio from 15 to the 10 that is seen
        on a vehicle.

    Returns
    -------
    ndarray, shape (...) [1]
        The inrush ratio from cold, 300 K.

    Raises
    ------
    InputError
        A value is out of range, or the filament would melt.

    Examples
    --------
    A cold filament takes many times the current of a hot one.

    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(13.5, 25, 2800)
    >>> round(float(lk.sources.inrush_ratio(wire)))
    16

    Source: Ohm's law with the resistivity of White and Minges 1997.
    """
    v, rs = _supply(wire.voltage if supply_voltage is None else supply_voltage, series_resistance)
    if np.any(v <= 0):
        raise InputError("a supply voltage is nil", key="supply_voltage", expected="volts above zero")
    settled = steady_temperature(wire, v, series_resistance=rs)
    return np.asarray((hot_wire_resistance(wire, settled) + rs) / (hot_wire_resistance(wire, AMBIENT) + rs))


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
    table = tungsten_properties.lookup()
    place = np.clip(t - tungsten_properties.COLDEST, 0.0, table.shape[-1] - 1.001)
    i = place.astype(int)
    rho, capacity, radiated = table[:, i] + (place - i) * (table[:, i + 1] - table[:, i])
    ohms = rho * wire.length / (np.pi * wire.radius**2)
    electrical = (np.asarray(supply_voltage) / (ohms + np.asarray(series_resistance))) ** 2 * ohms
    surface = wire.shade * 2.0 * np.pi * wire.radius * wire.length
    radiation = surface * (radiated - table[2, int(AMBIENT - tungsten_properties.COLDEST)])
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
