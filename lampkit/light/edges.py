"""The exponential absorption edge of a coloured glass or plastic, and what thickness or fading does to it."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit import grid
from lampkit.errors import InputError
from lampkit.grid import Floats, Numbers


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
    return edge_curves(*edge_numbers(edge, w, top, np.zeros(())), part=part)


def edge_numbers(edge: Floats, width: Floats, top: Floats, floor: Floats) -> Numbers:
    """Refuse what is no edge; give below what of it nothing passes, the logarithm of a height, a floor, an exponent.

    Source: as for absorption_edge.
    """
    if not np.all(np.isfinite(edge)):
        raise InputError("an edge wavelength is not a number", key="wavelength_edge", expected="nanometres")
    if not np.all((width >= 1e-6) & np.isfinite(width)):
        raise InputError("an edge width is not positive", key="width", expected="nanometres above zero")
    if not np.all((top >= 0) & (top <= 1)):
        raise InputError("a plateau is outside 0 to 1", key="plateau", expected="a transmittance, not a percentage")
    edge, width, top, floor = np.broadcast_arrays(edge, width, top, floor)
    line = grid.line(-1.0 / width, edge / width + np.log(np.log(2.0)))
    # exp(-exp(MOST)) is nothing.
    dark = {kind: edge - (most + 0.4) * np.minimum(width, 1e6) for kind, most in MOST.items()}
    return dark[np.float64], dark[np.float32], np.log(np.maximum(top, 1e-30)), floor, line


MOST: dict[type, float] = {np.float64: 6.5, np.float32: 3.6}
"""Logarithm of the absorbance at which nothing passes; more would leave the range of fast arithmetic [1]."""


def edge_curves(dark: Floats, nearly: Floats, height: Floats, floor: Floats, line: Floats, *, part: slice) -> Floats:
    """Give edges that climb from a floor to a height above it, from what `edge_numbers` gives.

    Source: as for absorption_edge.
    """
    kind, nanometres = grid.precision(part), grid.WAVELENGTHS[part]
    # Below the first wavelength at which any of them lets something through there is nothing to work out.
    first = int(np.searchsorted(nanometres, np.min(dark if kind is np.float64 else nearly, initial=np.inf)))
    tau = np.empty((len(nanometres), height.size), kind)
    base = floor.ravel().astype(kind, copy=False)
    tau[:first] = base
    # In place and in few sweeps: they and new memory cost more than the exponentials.
    above = grid.straight(line, part, slice(first, None), out=tau[first:])
    np.minimum(above, MOST[kind], out=above)
    np.exp(above, out=above)
    np.subtract(height.ravel().astype(kind, copy=False), above, out=above)
    np.exp(above, out=above)
    above += base
    return grid.last(tau.reshape(-1, *height.shape))


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
