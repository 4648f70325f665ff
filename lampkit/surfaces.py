"""Refractive index of lens materials and the light that their surfaces throw back."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, nearest

SODIUM_D = 589.3
"""Wavelength at which an index is quoted when no other is named [nm]. Source: mean of the sodium D lines."""


@cache
def _dispersion() -> dict[str, dict[str, float | str]]:
    return {row["substance"]: row for row in tables.load("lenses", "refractive_index").rows()}


def refractive_index(substance: str, wavelength: ArrayLike = grid.WAVELENGTHS) -> NDArray[np.float64]:
    """Give the refractive index of a clear lens material.

    Below and above the range in which its formula was measured the formula is carried on; the index is smooth there.

    Parameters
    ----------
    substance : str
        'acrylic' (PMMA), 'polycarbonate' or 'soda-lime glass'.
    wavelength : array_like, shape (...) [nm]
        Wavelengths, 300 nm to 2000 nm; the grid when left out.

    Returns
    -------
    ndarray, shape (...) [1]
        The index.

    Raises
    ------
    InputError
        The material is unknown, or a wavelength is outside 300 nm to 2000 nm.

    Source: Sultanova, Kasarova and Nikolov, Acta Phys. Pol. A 116 (2009) 585; Rubin, Sol. Energy Mater. 12 (1985) 275.
    """
    if substance not in _dispersion():
        raise InputError(f"the lens material '{substance}' is unknown", expected=nearest(substance, _dispersion()))
    nanometres = np.asarray(wavelength, dtype=float)
    if not np.all((nanometres >= 300.0) & (nanometres <= 2000.0)):
        raise InputError("a wavelength is outside 300 nm to 2000 nm", key="wavelength", expected="nanometres")
    row = _dispersion()[substance]
    a, b, c = float(row["a"]), float(row["b"]), float(row["c"])
    squared = (nanometres * 1e-3) ** 2
    if row["form"] == "sellmeier":
        return np.asarray(np.sqrt(1.0 + a * squared / (squared - b)))
    return np.asarray(a + b * squared + c / squared)


def surface_reflectance(index: ArrayLike) -> NDArray[np.float64]:
    """Give the share of light that one surface in air throws back at normal incidence.

    Parameters
    ----------
    index : array_like, shape (...) [1]
        Refractive index, one or more.

    Returns
    -------
    ndarray, shape (...) [1]
        The reflectance R = ((n - 1) / (n + 1))^2.

    Raises
    ------
    InputError
        An index is below one or not finite.

    Source: Fresnel's equations at normal incidence.
    """
    n = np.asarray(index, dtype=float)
    if not np.all((n >= 1.0) & np.isfinite(n)):
        raise InputError("a refractive index is below one", key="index", expected="1.49 for acrylic, 1.52 for glass")
    return np.asarray(((n - 1.0) / (n + 1.0)) ** 2)


def slab_transmittance(index: ArrayLike, internal_transmittance: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Give the transmittance of a plane sheet in air, light reflected to and fro inside it included.

    Without absorption it is 2 n / (n^2 + 1).

    Parameters
    ----------
    index : array_like, shape (...) [1]
        Refractive index.
    internal_transmittance : array_like, shape (...) [1]
        Transmittance from the inside of the first surface to the inside of the second.

    Returns
    -------
    ndarray, shape (...) [1]
        The transmittance T = (1 - R)^2 t / (1 - R^2 t^2).

    Raises
    ------
    InputError
        An index is below one, or an internal transmittance is outside zero to one.

    Source: geometric series of Fresnel reflections in a plane-parallel plate, incoherent, at normal incidence.
    """
    r = surface_reflectance(index)
    t = np.asarray(internal_transmittance, dtype=float)
    if not np.all((t >= 0.0) & (t <= 1.0)):
        raise InputError(
            "an internal transmittance is outside 0 to 1", key="internal_transmittance", expected="0 to 1, not percent"
        )
    return np.asarray((1.0 - r) ** 2 * t / (1.0 - (r * t) ** 2))


def internal_transmittance(absorption: ArrayLike, thickness: ArrayLike) -> NDArray[np.float64]:
    """Give the transmittance between the surfaces of a sheet.

    Parameters
    ----------
    absorption : array_like, shape (...) [1/mm]
        Absorption coefficient, natural logarithm.
    thickness : array_like, shape (...) [mm]
        Thickness.

    Returns
    -------
    ndarray, shape (...) [1]
        The internal transmittance, exp(-absorption x thickness).

    Raises
    ------
    InputError
        A thickness or an absorption is negative or not finite.

    Source: Bouguer-Lambert-Beer law.
    """
    a, d = np.asarray(absorption, dtype=float), np.asarray(thickness, dtype=float)
    for what, array in (("absorption", a), ("thickness", d)):
        if not np.all((array >= 0.0) & np.isfinite(array)):
            raise InputError(f"the {what} is negative or not a number", key=what, expected="zero or more")
    return np.asarray(np.exp(-a * d))
