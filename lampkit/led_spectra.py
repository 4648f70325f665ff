"""Shapes of light-emitting diode spectra: one narrow band, or a blue pump with two phosphors."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import colorimetry, grid, tables
from lampkit.errors import InputError

OHNO_HALF_WIDTH = 0.460911560
"""Half width at half maximum over the width parameter w of Ohno's shape [1]; the full width is 0.921823 w, not w.
Source: Y. Ohno, Opt. Eng. 44 (2005) 111302, solved for half maximum."""

LOWEST_CCT, HIGHEST_CCT = 2200.0, 8000.0
"""Correlated colour temperatures for which a white LED is given [K]. Source: the range of the fitted illuminants,
2733 K to 6598 K, widened to the classes of retail lamps."""


def narrow_band(peak: ArrayLike, short_half_width: ArrayLike, long_half_width: ArrayLike) -> NDArray[np.float64]:
    """Give the spectrum of a single-colour LED from its peak and the half-width on each side.

    Parameters
    ----------
    peak : array_like, shape (...) [nm]
        Wavelength of the maximum.
    short_half_width : array_like, shape (...) [nm]
        Half width at half maximum on the side of shorter wavelengths.
    long_half_width : array_like, shape (...) [nm]
        The same on the side of longer wavelengths.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The spectrum, one at its maximum. The three arguments broadcast.

    Raises
    ------
    InputError
        A peak is not on the grid, or a half-width is not positive.

    Source: Y. Ohno, Opt. Eng. 44 (2005) 111302, with a width of its own on each side.
    """
    p, short, long = (np.asarray(v, dtype=float)[..., np.newaxis] for v in (peak, short_half_width, long_half_width))
    if not np.all((p >= grid.WAVELENGTHS[0]) & (p <= grid.WAVELENGTHS[-1])):
        raise InputError("a peak is not on the grid", key="peak", expected="360 nm to 830 nm")
    if not np.all((short > 0) & (long > 0) & np.isfinite(short) & np.isfinite(long)):
        raise InputError("a half-width is not positive", key="half_width", expected="nanometres above zero")
    # In place and by products: new memory, divisions and a power take longer than the exponential.
    squared = grid.WAVELENGTHS - p
    squared = squared * np.where(squared < 0, OHNO_HALF_WIDTH / short, OHNO_HALF_WIDTH / long)
    squared *= squared
    # exp(-100) is nothing beside one; the fifth power of less would leave the range of fast arithmetic.
    np.minimum(squared, 100.0, out=squared)
    g = np.exp(np.negative(squared, out=squared), out=squared)
    shape = g * g
    shape *= shape
    shape *= 2.0
    shape += 1.0
    shape *= g
    shape /= 3.0
    return np.asarray(shape)


@cache
def white_shape() -> dict[str, tuple[float, float]]:
    """Give the shape of the white LED, each parameter with the spread between makes.

    Returns
    -------
    dict of str to tuple of float [nm]
        Typical value and standard deviation of each parameter.

    Source: data/leds/white_shape.csv: own fit to the CIE illuminants LED-B1 to LED-B5.
    """
    return {row["parameter"]: (row["value_nm"], row["spread_nm"]) for row in tables.load("leds", "white_shape").rows()}


def phosphor_white(
    cct: ArrayLike,
    duv: ArrayLike = 0.0,
    *,
    pump_peak: ArrayLike | None = None,
    green_peak: ArrayLike | None = None,
    red_peak: ArrayLike | None = None,
    width_factor: ArrayLike = 1.0,
) -> NDArray[np.float64]:
    """Give the spectrum of a phosphor-white LED that has a correlated colour temperature and Duv.

    A blue pump, a green and a red phosphor keep their shapes; their powers follow from the chromaticity, in which they
    are linear, so the chromaticity comes back exactly. Where that would need a negative power the spectrum is cut off
    at zero.

    Parameters
    ----------
    cct : array_like, shape (...) [K]
        Correlated colour temperature.
    duv : array_like, shape (...) [1]
        Distance from the Planckian locus in CIE 1960 u, v; positive on the green side.
    pump_peak : array_like, shape (...) [nm]
        Peak of the blue pump; typical when left out, as the next two.
    green_peak : array_like, shape (...) [nm]
        Peak of the green phosphor.
    red_peak : array_like, shape (...) [nm]
        Peak of the red phosphor.
    width_factor : array_like, shape (...) [1]
        Factor on the widths of the phosphors.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The relative spectrum. The arguments broadcast.

    Raises
    ------
    InputError
        The correlated colour temperature is outside 1000 K to 40000 K, or Duv beyond 0.05.

    Source: shape fitted to the CIE illuminants LED-B1 to LED-B5 of CIE 015:2018; Duv by Ohno 2014.
    """
    shape = {name: value for name, (value, _) in white_shape().items()}
    pump = _pump(shape["pump peak"] if pump_peak is None else pump_peak, shape)
    green = _phosphor(shape["green phosphor peak"] if green_peak is None else green_peak, "green", shape, width_factor)
    red = _phosphor(shape["red phosphor peak"] if red_peak is None else red_peak, "red", shape, width_factor)
    xy = colorimetry.chromaticity_from_cct(cct, duv)
    target = np.concatenate([xy, 1.0 - xy.sum(axis=-1, keepdims=True)], axis=-1) / xy[..., 1:]
    tristimulus = (part @ colorimetry.colour_matching_functions() for part in (pump, green, red))
    power = np.linalg.solve(np.stack(np.broadcast_arrays(*tristimulus), axis=-1), target[..., np.newaxis])
    mixed = power[..., 0, :] * pump + power[..., 1, :] * green + power[..., 2, :] * red
    return np.asarray(np.maximum(mixed, 0.0))


def _pump(peak: ArrayLike, shape: dict[str, float]) -> NDArray[np.float64]:
    distance = grid.WAVELENGTHS - np.asarray(peak, dtype=float)[..., np.newaxis]
    width = np.where(distance < 0, shape["pump short half-width"], shape["pump long half-width"])
    ratio = np.abs(distance) / width
    # The exponent 1.5 lies between the straight flanks of an exponential, 1, and a Gaussian, 2; it was fitted.
    return np.asarray(np.exp(-np.log(2.0) * ratio * np.sqrt(ratio)))


def _phosphor(peak: ArrayLike, which: str, shape: dict[str, float], factor: ArrayLike) -> NDArray[np.float64]:
    p = np.asarray(peak, dtype=float)[..., np.newaxis]
    f = np.asarray(factor, dtype=float)[..., np.newaxis]
    distance = np.log(grid.WAVELENGTHS) - np.log(p)
    short, long = shape[f"{which} phosphor short half-width"], shape[f"{which} phosphor long half-width"]
    return np.asarray(np.exp(-np.log(2.0) * (distance * (p / f) / np.where(distance < 0, short, long)) ** 2))
