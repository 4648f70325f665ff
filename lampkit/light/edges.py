"""The exponential absorption edge of a coloured glass or plastic, and what thickness or fading does to it."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit import grid
from lampkit.errors import InputError
from lampkit.grid import Floats


def absorption_edge(
    wavelength_edge: ArrayLike, width: ArrayLike, plateau: ArrayLike = 1.0, *, part: slice = grid.WHOLE
) -> Floats:
    """Give the transmittance of a filter whose absorption falls exponentially with wavelength: dark below, clear above.

    The Napierian absorbance is ln 2 times exp(-(wavelength - edge) / width): half the plateau at the edge; the curve
    climbs from 10 % to 90 % of the plateau within 3.084 widths.

    Parameters
    ----------
    wavelength_edge : array_like, shape (...) [nm]
        Wavelength at which half the plateau is let through.
    width : array_like, shape (...) [nm]
        Wavelength over which the absorbance falls by the factor e.
    plateau : array_like, shape (...) [1]
        Transmittance far above the edge, zero to one.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The transmittance on the grid. The three arguments broadcast.

    Raises
    ------
    InputError
        A width is not positive, a plateau is outside zero to one, or a number is not finite.

    Examples
    --------
    At the edge half of the plateau is let through.

    >>> import lampkit as lk
    >>> tau = lk.light.absorption_edge(600, width=8, plateau=0.9)
    >>> tau[[200, 240, 280]].round(2)
    array([0.  , 0.45, 0.9 ])

    Source: the exponential absorption edge of F. Urbach, Phys. Rev. 92 (1953) 1324 (from memory), in wavelength.
    """
    edge, w, top = (np.asarray(v, dtype=float) for v in (wavelength_edge, width, plateau))
    check(edge, w, top)
    return edge_curves(edge, w, top, np.zeros(()), part)


def check(edge: Floats, width: Floats, top: Floats) -> None:
    """Refuse what is no edge."""
    if not np.all(np.isfinite(edge)):
        raise InputError("an edge wavelength is not a number", key="wavelength_edge", expected="nanometres")
    if not np.all((width >= 1e-6) & np.isfinite(width)):
        raise InputError("an edge width is not positive", key="width", expected="nanometres above zero")
    if not np.all((top >= 0) & (top <= 1)):
        raise InputError("a plateau is outside 0 to 1", key="plateau", expected="a transmittance, not a percentage")


def edge_curves(edge: Floats, width: Floats, top: Floats, floor: Floats, part: slice = grid.WHOLE) -> Floats:
    """Give edges that climb from a floor by a height, without a check of the numbers.

    Source: as for absorption_edge.
    """
    kind, nanometres = grid.precision(part), grid.WAVELENGTHS[part]
    # exp(-exp(most)) is nothing; less would leave the range of fast arithmetic.
    most = 6.5 if kind is np.float64 else 3.6
    # Below the first wavelength at which any of them lets a part of that through there is nothing to work out.
    dark = int(np.searchsorted(nanometres, np.min(edge - (most + 0.4) * np.minimum(width, 1e6), initial=np.inf)))
    shape = np.broadcast_shapes(edge.shape, width.shape, top.shape, floor.shape)
    slope = np.broadcast_to(-1.0 / width, shape)
    exponent = grid.straight(nanometres[dark:], slope, edge / width + np.log(np.log(2.0)), kind)
    # In place and in few sweeps: they and new memory cost more than the exponentials.
    np.minimum(exponent, most, out=exponent)
    np.exp(exponent, out=exponent)
    np.negative(exponent, out=exponent)
    np.exp(exponent, out=exponent)
    exponent *= top.astype(kind)
    tau = np.empty((len(nanometres), *shape), kind)
    tau[:dark] = floor
    np.add(exponent, floor.astype(kind), out=tau[dark:])
    return grid.last(tau)


def edge_at_strength(wavelength_edge: ArrayLike, width: ArrayLike, strength: ArrayLike) -> Floats:
    """Move an absorption edge to another thickness or another amount of dye.

    Parameters
    ----------
    wavelength_edge : array_like, shape (...) [nm]
        Edge at strength one.
    width : array_like, shape (...) [nm]
        Width of the edge, which does not change.
    strength : array_like, shape (...) [1]
        Thickness over the first thickness, or the share of the dye that fading has left.

    Returns
    -------
    ndarray, shape (...) [nm]
        The edge at that strength: it moves by the width times the logarithm of the strength.

    Raises
    ------
    InputError
        A width or a strength is not positive.

    Examples
    --------
    Twice the dye moves the edge by ln 2 times its width.

    >>> import lampkit as lk
    >>> round(float(lk.light.edge_at_strength(600, 8, 2)), 2)
    605.55

    Source: Bouguer-Lambert-Beer law applied to the exponential edge; an identity.
    """
    w, c = np.asarray(width, dtype=float), np.asarray(strength, dtype=float)
    if not np.all(w > 0):
        raise InputError("an edge width is not positive", key="width", expected="nanometres above zero")
    if not np.all((c > 0) & np.isfinite(c)):
        raise InputError("a strength is not positive", key="strength", expected="a ratio above zero, one for as it was")
    return np.asarray(np.asarray(wavelength_edge, dtype=float) + w * np.log(c))
