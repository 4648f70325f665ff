"""The family of responsivities that starts from V(lambda): shifted, tilted, broadened, leaking, cut in the red."""

from functools import cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.errors import InputError
from lampkit.light import photometry

LEAK_BAND = (700.0, 1000.0)
"""Where the modelled near-infrared leak of a sensor lies [nm]. Source: an assumption."""

CUT_WIDTH = 10.0
"""How far a filter against infrared takes to close, as the scale of a logistic [nm]. Source: an assumption."""

_REACH = 60
_BLOCK = 128  # curves at a time: what is being worked on then stays in the processor's cache
_LEAKS = {
    part.step: np.where(grid.WAVELENGTHS[part] == LEAK_BAND[0], 0.5 * (1.0 + 1.0 / (part.step or 1)), 1.0)
    * (grid.WAVELENGTHS[part] >= LEAK_BAND[0])
    for part in (grid.WHOLE, grid.FIFTHS)
}
"""By the step of the grid the leak at each wavelength over its whole height [1]; where it begins, a point that stands
for five nanometres has it over three of them."""

_SHELF = 1.0 / (1.0 + np.exp((620.0 - grid.WAVELENGTHS) / 8.0)) / (1.0 + np.exp((grid.WAVELENGTHS - 760.0) / 8.0))


def responsivity(
    shift: ArrayLike = 0.0,
    tilt: ArrayLike = 0.0,
    breadth: ArrayLike = 1.0,
    leak: ArrayLike = 0.0,
    shelf: ArrayLike = 0.0,
    cut: ArrayLike = np.inf,
    *,
    part: slice = grid.WHOLE,
) -> NDArray[np.float64]:
    """Give relative responsivities of the family that starts from V(lambda).

    Source: own model; a Gaussian keeps its form when its breadth changes so.
    """
    given = (shift, tilt, breadth, leak, shelf, cut)
    d, t, b, r, f, c = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in given))
    if np.any(~(np.abs(d) < _REACH)) or np.any(~(b > 0)):
        raise InputError("a responsivity cannot be so far off", expected="a shift below 60 nm and a breadth above 0")
    wavelengths = grid.WAVELENGTHS[part]
    curves = np.empty((d.size, wavelengths.size))
    flat = [v.ravel() for v in (d, t, b, r, f, c)]
    for start in range(0, d.size, _BLOCK):
        _fill(curves[start : start + _BLOCK], part, *(v[start : start + _BLOCK] for v in flat))
    return curves.reshape(*d.shape, wavelengths.size)


def _fill(
    curve: NDArray[np.float64],
    part: slice,
    shift: NDArray[np.float64],
    tilt: NDArray[np.float64],
    breadth: NDArray[np.float64],
    leak: NDArray[np.float64],
    shelf: NDArray[np.float64],
    cut: NDArray[np.float64],
) -> None:
    # V is shifted by interpolating its logarithm: a shift by whole nanometres is then exact, and so is every zero tilt.
    whole = np.floor(shift).astype(int)
    windows = sliding_window_view(_log_v(), grid.WAVELENGTHS.size)[:, part]
    wavelengths, rest = grid.WAVELENGTHS[part], (shift - whole)[:, np.newaxis]
    np.multiply(windows[_REACH - whole], 1.0 - rest, out=curve)
    curve += windows[_REACH - whole - 1] * rest
    curve *= breadth[:, np.newaxis] ** -2.0
    curve += tilt[:, np.newaxis] * ((wavelengths - 560.0) / 100.0)
    np.exp(curve, out=curve)
    near = cut < 900.0
    if np.any(near):
        # The filter against infrared lies on the chip, before what leaks round it.
        away = np.clip((wavelengths - cut[near, np.newaxis]) / CUT_WIDTH, -50.0, 50.0)
        curve[near] /= 1.0 + np.exp(away)
    curve += leak[:, np.newaxis] * _LEAKS[part.step]
    if np.any(shelf > 0):
        curve += shelf[:, np.newaxis] * _SHELF[part]


@cache
def _log_v() -> NDArray[np.float64]:
    x = np.arange(grid.WAVELENGTHS[0] - _REACH, grid.WAVELENGTHS[-1] + _REACH + 0.5)
    log_v = np.log(photometry.luminous_efficiency())
    # beyond its table V goes on falling as it does over its last ten nanometres
    inside = np.clip(x, grid.WAVELENGTHS[0], grid.WAVELENGTHS[-1])
    slope = np.where(x < inside, (log_v[10] - log_v[0]) / 10.0, (log_v[-1] - log_v[-11]) / 10.0)
    values = np.interp(inside, grid.WAVELENGTHS, log_v) + slope * (x - inside)
    values.setflags(write=False)
    return values
