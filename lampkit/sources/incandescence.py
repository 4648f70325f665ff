"""The hot tungsten wire at rest: emissivity, spectrum, efficacy, temperature from a rating, and the voltage laws."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, nearest
from lampkit.grid import Floats
from lampkit.light import colorimetry
from lampkit.light.colorimetry import SECOND_RADIATION_CONSTANT

FIRST_RADIATION_CONSTANT = 3.741771852e-16
"""First radiation constant c1 = 2 pi h c^2 [W m2]. Source: CODATA 2018."""

COOLEST, HOTTEST = 1200.0, 3400.0
"""The true temperatures for which a tungsten spectrum is given [K]. Source: the kit's own convention; the emissivity
is tabulated from 1600 K to 2800 K and goes on along its last slope to these limits."""


def _temperature(temperature: ArrayLike, low: float, high: float) -> NDArray[np.float64]:
    t = np.asarray(temperature)
    t = t if t.dtype == np.float32 else t.astype(float)
    if not np.all((t >= low) & (t <= high)):
        raise InputError(
            "a temperature is outside the range of the law", key="temperature", expected=f"{low:g} K to {high:g} K"
        )
    return t


def planck(
    temperature: ArrayLike,
    second_radiation_constant: float = SECOND_RADIATION_CONSTANT,
    *,
    part: slice = grid.WHOLE,
) -> NDArray[np.float64]:
    """Give the spectrum of one square metre of blackbody.

    Parameters
    ----------
    temperature : array_like, shape (...) [K]
        Temperature, 500 K to 100000 K.
    second_radiation_constant : float [m K]
        The constant c2; some standards are written with an older value.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [W/nm]
        Spectral radiant exitance times one square metre, in air taken as vacuum.

    Raises
    ------
    InputError
        A temperature is outside the range.

    Examples
    --------
    A blackbody of 2856 K has the chromaticity of illuminant A.

    >>> import lampkit as lk
    >>> lk.light.chromaticity(lk.sources.planck(2856)).round(3)
    array([0.448, 0.407])

    Source: Planck's law with the constants of CODATA 2018.
    """
    t = _temperature(temperature, 500.0, 100000.0)
    found = _exponentials(t, part, second_radiation_constant)
    np.divide(_first(part)[:, np.newaxis], found, out=found)
    return grid.last(found.reshape(-1, *t.shape))


def _first(part: slice) -> Floats:
    """Give what Planck's law has over its exponential."""
    return np.asarray(FIRST_RADIATION_CONSTANT * 1e-9 / (grid.WAVELENGTHS[part] * 1e-9) ** 5)


def _exponentials(temperature: Floats, part: slice, constant: float = SECOND_RADIATION_CONSTANT) -> Floats:
    """Give what Planck's law divides by: a row for each wavelength."""
    found = grid.straight(grid.line(constant * 1e9 / temperature, 0.0, np.reciprocal), part, of=np.reciprocal)
    np.exp(found, out=found)
    found -= 1.0
    return found


@cache
def _de_vos() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give where De Vos's emissivity bends; its first row, its first slope in temperature, and the changes of slope."""
    table = tables.load("filament", "emissivity_de_vos")
    kelvin = np.arange(1600.0, 2801.0, 200.0)
    rows = np.array([grid.resample(table["wavelength_nm"], table[f"emissivity_at_{k:.0f}_K"]) for k in kelvin])
    bends = np.diff(np.diff(rows, axis=0) / 200.0, axis=0, prepend=0.0)
    return kelvin[:-1], np.concatenate([rows[:1], bends])


def emissivity(temperature: ArrayLike, *, part: slice = grid.WHOLE) -> NDArray[np.float64]:
    """Give the normal spectral emissivity of tungsten.

    Parameters
    ----------
    temperature : array_like, shape (...) [K]
        True temperature, 1200 K to 3400 K. De Vos is interpolated linearly between his 1600 K and 2800 K and goes on
        along the last slope outside.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The emissivity on the grid, linear between the wavelengths of the table.

    Raises
    ------
    InputError
        A temperature is outside the range.

    Examples
    --------
    Tungsten radiates better in the blue than in the red, and so looks hotter than it is.

    >>> import lampkit as lk
    >>> lk.sources.emissivity(2800)[[100, 300]].round(2)
    array([0.45, 0.42])

    Source: J. C. De Vos, Physica 20 (1954) 690.
    """
    t = _temperature(temperature, COOLEST, HOTTEST)
    return grid.last((_de_vos()[1][:, part].T @ _weights(t)).reshape(-1, *t.shape))


def _weights(temperature: Floats) -> Floats:
    """Give what each row of De Vos's table counts for each temperature: one product then weighs all of them."""
    corners, bends = _de_vos()
    above = np.ones((len(bends), temperature.size), temperature.dtype)
    np.subtract(temperature.ravel(), corners[:, np.newaxis].astype(above.dtype), out=above[1:])
    np.maximum(above[2:], 0.0, out=above[2:])
    return above


@cache
def _radiating(start: int | None, stop: int | None, step: int | None) -> Floats:
    """Give De Vos's table times what Planck's law has over its exponential: a row for each wavelength of a part."""
    part = slice(start, stop, step)
    return np.asarray((_de_vos()[1][:, part] * _first(part)).T, grid.precision(part), order="C")


def tungsten(temperature: ArrayLike, *, part: slice = grid.WHOLE) -> NDArray[np.float64]:
    """Give the spectrum of one square metre of bare tungsten.

    Parameters
    ----------
    temperature : array_like, shape (...) [K]
        True temperature, 1200 K to 3400 K.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [W/nm]
        Planck's law times the normal spectral emissivity, times one square metre.

    Raises
    ------
    InputError
        A temperature is outside the range.

    Examples
    --------
    One spectrum for each temperature.

    >>> import lampkit as lk
    >>> lk.sources.tungsten([2400, 2800]).shape
    (2, 471)

    Source: Planck's law, CODATA 2018; J. C. De Vos, Physica 20 (1954) 690.
    """
    t = _temperature(temperature, COOLEST, HOTTEST)
    found, rows = _exponentials(t, part), _radiating(part.start, part.stop, part.step)
    np.divide(rows @ _weights(t.astype(rows.dtype, copy=False)), found, out=found)
    return grid.last(found.reshape(-1, *t.shape))


def tungsten_efficacy(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the published luminous efficacy of bare tungsten, counting the watts at all wavelengths.

    Source: W. E. Forsythe and A. G. Worthing, Astrophys. J. 61 (1925) 146 (from memory).
    """
    t = _temperature(temperature, 1800.0, 3655.0)
    known, value = _efficacy_table()
    return np.asarray(np.exp(np.interp(np.log(t), known, value)))


@cache
def _efficacy_table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    table = tables.load("filament", "efficacy")
    known, value = np.log(table["temperature_K"]), np.log(table["efficacy_lm_per_W"])
    slope = (value[1] - value[0]) / (known[1] - known[0])
    first = np.log(1800.0)
    return np.r_[first, known], np.r_[value[0] + slope * (first - known[0]), value]


def temperature_from_efficacy(efficacy: ArrayLike, loss: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Find the true temperature of a filament from lumens over electrical watts.

    Parameters
    ----------
    efficacy : array_like, shape (...) [lm/W]
        Luminous flux over electrical power.
    loss : array_like, shape (...) [1]
        Share of the electrical power that leaves through gas, lead wires and supports and is not radiated.

    Returns
    -------
    ndarray, shape (...) [K]
        The true temperature.

    Raises
    ------
    InputError
        No filament has that efficacy, or the loss is outside 0 to 0.6.

    Examples
    --------
    460 lm from 25 W: a filament of some 2700 K.

    >>> import lampkit as lk
    >>> round(float(lk.sources.temperature_from_efficacy(460 / 25)), -2)
    2700.0

    Source: the table of tungsten_efficacy, read backwards.
    """
    share = np.asarray(loss, dtype=float)
    if not np.all((share >= 0) & (share <= 0.6)):
        raise InputError("a loss is outside 0 to 0.6", key="loss", expected="the share of the power not radiated")
    bare = np.asarray(efficacy, dtype=float) / (1.0 - share)
    known, value = _efficacy_table()
    if not np.all((bare >= np.exp(value[0])) & (bare <= 43.2)):
        raise InputError(
            f"no tungsten filament gives {np.asarray(efficacy).min():.3g} to {np.asarray(efficacy).max():.3g} lm/W",
            expected=f"{np.exp(value[0]):.2g} lm/W to 43 lm/W of radiated power",
            remedy="compare the lumens and the watts with the sheet of the lamp",
        )
    return np.asarray(np.exp(np.interp(np.log(bare), value, known)))


@cache
def _colour_table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    true = np.arange(COOLEST, HOTTEST + 1.0, 20.0)
    return true, np.asarray(colorimetry.cct_duv(colorimetry.chromaticity(tungsten(true))).cct)


def colour_temperature(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the correlated colour temperature of bare tungsten.

    Parameters
    ----------
    temperature : array_like, shape (...) [K]
        True temperature, 1200 K to 3400 K.

    Returns
    -------
    ndarray, shape (...) [K]
        The correlated colour temperature, 1 % to 2.5 % above the true one.

    Raises
    ------
    InputError
        A temperature is outside the range.

    Examples
    --------
    Tungsten of 2800 K looks like a blackbody some 60 K hotter.

    >>> import lampkit as lk
    >>> round(float(lk.sources.colour_temperature(2800)), -1)
    2860.0

    Source: De Vos 1954 and the correlated colour temperature of CIE 015:2018; steps of 20 K interpolated.
    """
    true, colour = _colour_table()
    return np.asarray(np.interp(_temperature(temperature, COOLEST, HOTTEST), true, colour))


def temperature_at_voltage(
    temperature: ArrayLike, voltage_ratio: ArrayLike, exponent: ArrayLike = 0.385
) -> NDArray[np.float64]:
    """Move the temperature of a filament to another voltage.

    Source: Fink and Beaty 1978, p. 22-8 (0.42, read in a secondary text); own radiation model (0.35 to 0.40).
    """
    true, colour = _colour_table()
    moved = colour_temperature(temperature) * _ratio(voltage_ratio) ** np.asarray(exponent, dtype=float)
    return np.asarray(np.interp(moved, colour, true))


def _ratio(voltage_ratio: ArrayLike) -> NDArray[np.float64]:
    ratio = np.asarray(voltage_ratio, dtype=float)
    if not np.all((ratio >= 0.5) & (ratio <= 1.3)):
        raise InputError(
            "a voltage is too far from the rated one for the voltage laws",
            key="voltage",
            expected="0.5 to 1.3 times the voltage of the rating",
        )
    return ratio


def exponent(quantity: str, law: str = "general") -> NDArray[np.float64]:
    """Look up a published exponent of the voltage laws with its range.

    Parameters
    ----------
    quantity : str
        'flux', 'power', 'current', 'life', 'efficacy' or 'colour temperature'.
    law : str
        'general', 'gas-filled' or 'vacuum'.

    Returns
    -------
    ndarray, shape (3,) [1]
        Low end, value used, high end; all equal where one value was published.

    Raises
    ------
    InputError
        The quantity or the law is unknown.

    Examples
    --------
    Lowest, used and highest exponent of the luminous flux.

    >>> import lampkit as lk
    >>> lk.sources.exponent("flux")
    array([3.4, 3.4, 3.5])

    Source: data/filament/voltage_exponents.csv, each row with its own source.
    """
    table = tables.load("filament", "voltage_exponents")
    of_law = table["law"] == law
    if not np.any(of_law):
        raise InputError(f"the voltage law '{law}' is unknown", expected=nearest(law, table["law"]))
    row = of_law & (table["quantity"] == quantity)
    if not np.any(row):
        known = table["quantity"][of_law]
        raise InputError(f"the law '{law}' says nothing of '{quantity}'", expected=nearest(quantity, known))
    i = int(np.argmax(row))
    return np.array([table["low"][i], table["exponent"][i], table["high"][i]])


def voltage_law(voltage_ratio: ArrayLike, quantity: str, law: str = "general") -> NDArray[np.float64]:
    """Give the factor by which a quantity of a filament lamp changes with voltage.

    Parameters
    ----------
    voltage_ratio : array_like, shape (...) [1]
        Voltage at the lamp over the voltage of the rating, 0.5 to 1.3.
    quantity : str
        'flux', 'power', 'current', 'life', 'efficacy' or 'colour temperature'.
    law : str
        'general', 'gas-filled' or 'vacuum'.

    Returns
    -------
    ndarray, shape (...) [1]
        The factor on the rated quantity.

    Raises
    ------
    InputError
        The quantity or the law is unknown, or a ratio is outside the range.

    Examples
    --------
    At 90 % of its voltage a lamp gives about 70 % of its light.

    >>> import lampkit as lk
    >>> round(float(lk.sources.voltage_law(0.9, "flux")), 2)
    0.7

    Source: Fink and Beaty 1978, p. 22-8 ('general', read in a secondary text); IES Lighting Handbook ('gas-filled'
    and 'vacuum', from memory).
    """
    return np.asarray(_ratio(voltage_ratio) ** exponent(quantity, law)[1])
