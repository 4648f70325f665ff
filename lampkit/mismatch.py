"""What a sensor that is not photopic makes of light: spectral mismatch, its index, and the near infrared."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, photometry
from lampkit.errors import InputError

LEAK_BAND = (700.0, 1000.0)
"""Where the modelled near-infrared leak of a sensor lies [nm]. Source: an assumption."""

_BEYOND = np.arange(831.0, LEAK_BAND[1] + 0.5)
_C2 = 1.4388e-2


@cache
def illuminant_a() -> NDArray[np.float64]:
    """Give illuminant A, the tungsten light on which meters are calibrated.

    Returns
    -------
    ndarray, shape (471,) [W/nm]
        Relative spectrum, read-only.

    Source: CIE 015:2018, 4.1.1: Planck at 2848 K with c2 = 1.435e-2 m K.
    """
    values = _planck(grid.WAVELENGTHS, np.asarray(2848.0 * _C2 / 1.435e-2))
    values /= values[200]
    values.setflags(write=False)
    return values


def _planck(wavelength: NDArray[np.float64], temperature: NDArray[np.float64]) -> NDArray[np.float64]:
    x = _C2 / (wavelength * 1e-9 * temperature[..., np.newaxis])
    return np.asarray((wavelength / 560.0) ** -5.0 / np.expm1(x))


@cache
def _continuation() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    temperature = np.geomspace(12000.0, 400.0, 400)  # the slope rises along it, as interpolation needs
    ends = _planck(np.array([770.0, 830.0]), temperature)
    beyond = _planck(_BEYOND, temperature).sum(axis=-1) / ends[:, 1]
    return np.log(ends[:, 1] / ends[:, 0]), beyond


def infrared_beyond_grid(spectrum: ArrayLike) -> NDArray[np.float64]:
    """Estimate the radiation between the end of the grid and 1000 nm, going on as a hot body would.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        Light at the meter. A filament behind a lens that is flat in the infrared goes on as Planck's law does at the
        temperature that its slope from 770 nm to 830 nm shows; an LED has nothing there to go on with.

    Returns
    -------
    ndarray, shape (...) [W]
        The integral from 831 nm to 1000 nm, in the unit of the spectrum times nm.

    Raises
    ------
    InputError
        The spectrum is not on the grid.

    Source: own calculation from Planck's law.
    """
    values = grid.on_grid(spectrum)
    last, before = values[..., -1], values[..., int(770 - grid.WAVELENGTHS[0])]
    slopes, beyond = _continuation()
    lit = (last > 0) & (before > 0)
    slope = np.log(np.where(lit, last, 1.0) / np.where(lit, before, 1.0))
    return np.asarray(np.where(lit, last * np.interp(slope, slopes, beyond), 0.0))


def signal(responsivity: ArrayLike, spectrum: ArrayLike, *, leak: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Give what a sensor makes of light, before it is calibrated in lux.

    Parameters
    ----------
    responsivity : array_like, shape (..., 471) [1]
        Relative responsivities on the grid, with any leak up to its end.
    spectrum : array_like, shape (..., 471) [W/nm]
        Light at the meter; the leading axes broadcast.
    leak : array_like, shape (...) [1]
        Responsivity from the end of the grid to 1000 nm.

    Returns
    -------
    ndarray, shape (...) [1]
        The signal.

    Raises
    ------
    InputError
        An array is not on the grid.

    Source: definition.
    """
    s, light = grid.on_grid(responsivity), grid.on_grid(spectrum)
    on_grid = np.einsum("...i,...i->...", s * grid.WEIGHTS, light) if s.ndim == 1 else _product(s, light)
    return np.asarray(on_grid + np.asarray(leak, dtype=float) * infrared_beyond_grid(light))


def _product(s: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    if light.ndim == 1:
        return np.asarray(s @ (light * grid.WEIGHTS))
    return np.asarray(np.einsum("...i,...i,i->...", s, light, grid.WEIGHTS, optimize=["einsum_path", (0, 1), (0, 1)]))


def mismatch_correction(
    responsivity: ArrayLike, spectrum: ArrayLike, *, leak: ArrayLike = 0.0, calibration: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Give the spectral mismatch correction factor: true illuminance over the illuminance read.

    Parameters
    ----------
    responsivity : array_like, shape (..., 471) [1]
        Relative responsivities.
    spectrum : array_like, shape (..., 471) [W/nm]
        Light at the meter, after the lens; its scale cancels. The leading axes broadcast.
    leak : array_like, shape (...) [1]
        Responsivity from the end of the grid to 1000 nm.
    calibration : array_like, shape (471,), optional [W/nm]
        Relative spectrum on which the meter reads right; illuminant A when left out.

    Returns
    -------
    ndarray, shape (...) [1]
        The factor F*; the meter's error is 1/F* - 1.

    Raises
    ------
    InputError
        An array is not on the grid, or the meter sees nothing of the light.

    Source: ISO/CIE 19476 and CIE S 017:2020, 17-25-115 (form from memory).
    """
    lit = illuminant_a() if calibration is None else grid.on_grid(calibration)
    light = grid.on_grid(spectrum)
    seen, seen_calibration = signal(responsivity, light, leak=leak), signal(responsivity, lit, leak=leak)
    if np.any(seen <= 0) or np.any(seen_calibration <= 0):
        raise InputError("the meter sees nothing of the light", expected="a spectrum within the meter's range")
    v = photometry.efficiency() * grid.WEIGHTS
    return np.asarray((light @ v) * seen_calibration / (seen * (lit @ v)))


def mismatch_index(responsivity: ArrayLike, *, leak: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Give the general V(lambda) mismatch index f1' of a responsivity.

    Parameters
    ----------
    responsivity : array_like, shape (..., 471) [1]
        Relative responsivities.
    leak : array_like, shape (...) [1]
        Responsivity from the end of the grid to 1000 nm.

    Returns
    -------
    ndarray, shape (...) [1]
        The index; 0.03 is 3 %. It is meant for white light: a coloured LED can be read much worse than it says.

    Raises
    ------
    InputError
        The responsivity is not on the grid.

    Source: ISO/CIE 19476:2014.
    """
    s, v, lit = grid.on_grid(responsivity), photometry.efficiency(), illuminant_a()
    scale = (lit @ (v * grid.WEIGHTS)) / signal(s, lit, leak=leak)
    outside = np.asarray(leak, dtype=float) * scale * _BEYOND.size
    return np.asarray((np.abs(s * scale[..., np.newaxis] - v) @ grid.WEIGHTS + outside) / (v @ grid.WEIGHTS))
