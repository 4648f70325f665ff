"""Five bands of colour in place of 471 wavelengths: shares of watts and of lumens, and what a lens passes of each."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.light import photometry

EDGES = (500.0, 570.0, 590.0, 610.0)
"""Where one band ends and the next begins [nm]. Source: own judgement: blue, green, yellow, orange and red."""

SEEN = (400.0, 760.0)
"""Between these wavelengths watts are counted [nm]. Source: CIE 018:2019, beyond them V(lambda) is below 0.0005."""


def _parts(low: float, high: float) -> NDArray[np.float64]:
    """Give the weight of each wavelength in each band; a wavelength on an edge belongs half to either side."""
    edges = np.array([low, *EDGES, high])[:, np.newaxis]
    begun = np.clip(grid.WAVELENGTHS - edges + 0.5, 0.0, 1.0)
    return np.asarray(begun[:-1] - begun[1:])


def watt_shares(spectrum: ArrayLike) -> NDArray[np.float64]:
    """Share out the visible watts of a light over the five bands.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        The light.

    Returns
    -------
    ndarray, shape (..., 5) [1]
        The share of each band in the watts from 400 nm to 760 nm, from the shortest wavelengths to the longest.

    Raises
    ------
    InputError
        The last axis is not the grid.

    Examples
    --------
    >>> from lampkit.sources import white_led
    >>> watt_shares(white_led(6000, luminous_flux=460).spectrum).round(2).tolist()
    [0.32, 0.32, 0.1, 0.09, 0.17]
    """
    watts = grid.on_grid(spectrum) @ _parts(*SEEN).T
    return np.asarray(watts / watts.sum(axis=-1, keepdims=True))


def lumen_shares(spectrum: ArrayLike) -> NDArray[np.float64]:
    """Share out the lumens of a light over the five bands.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        The light.

    Returns
    -------
    ndarray, shape (..., 5) [1]
        The share of each band in the luminous flux, from the shortest wavelengths to the longest.

    Raises
    ------
    InputError
        The last axis is not the grid.

    Examples
    --------
    >>> from lampkit.sources import white_led
    >>> lumen_shares(white_led(6000, luminous_flux=460).spectrum).round(2).tolist()
    [0.05, 0.57, 0.19, 0.12, 0.08]

    Source: CIE 018:2019 for the weights.
    """
    light = (grid.on_grid(spectrum) * photometry.luminous_efficiency()) @ _parts(359.5, 830.5).T
    return np.asarray(light / light.sum(axis=-1, keepdims=True))


def passed_shares(transmittance: ArrayLike) -> NDArray[np.float64]:
    """Give what a lens passes of the light in each of the five bands, as the eye weighs it.

    Parameters
    ----------
    transmittance : array_like, shape (..., 471) [1]
        Of the lens.

    Returns
    -------
    ndarray, shape (..., 5) [1]
        The share that passes, for light of equal watts at all wavelengths of a band: within so narrow a band it
        matters little which light it is.

    Raises
    ------
    InputError
        The last axis is not the grid.

    Examples
    --------
    >>> from lampkit.lenses import load
    >>> passed_shares(load("red").transmittance).round(2).tolist()
    [0.0, 0.0, 0.02, 0.47, 0.85]

    Source: CIE 018:2019 for the weights.
    """
    weights = _parts(359.5, 830.5) * photometry.luminous_efficiency()
    return np.asarray(grid.on_grid(transmittance) @ weights.T / weights.sum(axis=-1))


def coins(shares: ArrayLike) -> NDArray[np.int64]:
    """Share out a hundred coins; what is lost by rounding goes to the largest remainders, so that a hundred stay.

    Parameters
    ----------
    shares : array_like, shape (n,) [1]
        Shares that add up to one.

    Returns
    -------
    ndarray, shape (n,) [1]
        Whole coins that add up to a hundred.

    Examples
    --------
    >>> coins([0.083, 0.140, 0.055, 0.062, 0.660]).tolist()
    [8, 14, 6, 6, 66]
    """
    exact = 100.0 * np.asarray(shares, dtype=float)
    whole = np.floor(exact).astype(int)
    left = 100 - int(whole.sum())
    whole[np.argsort(whole - exact, kind="stable")[:left]] += 1
    return np.asarray(whole)


def coins_left(whole: NDArray[np.int64], passed: NDArray[np.float64], total: int) -> NDArray[np.int64]:
    """Say of which coins a lens leaves how many, so that the total is right."""
    exact = whole * passed
    left = np.floor(exact).astype(int)
    left[np.argsort(left - exact, kind="stable")[: max(total - int(left.sum()), 0)]] += 1
    return np.asarray(left)
