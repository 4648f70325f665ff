"""The one wavelength grid of the kit, its integration weights, and the way onto it from any table."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError

Outside = Literal["error", "zero", "hold"]

Kind = type[np.float64]
"""Double precision, or single where `precision` says so, which to the type checker is double as every array is."""

WAVELENGTHS: NDArray[np.float64] = np.arange(360.0, 831.0)
"""The grid: 360 nm to 830 nm in steps of 1 nm, 471 points [nm]. Source: CIE 018:2019, the range of its tables."""

WEIGHTS: NDArray[np.float64] = np.ones_like(WAVELENGTHS)
"""Integration weights on the grid [nm]. Source: CIE 015:2018, 7.1: summation at 1 nm intervals."""

WHOLE, FIFTHS = slice(None), slice(None, None, 5)
"""Every wavelength of the grid, and every fifth: for a meter, which may see what lies beyond the ends. Source: CIE
015:2018, 7.2.2 allows steps of up to 5 nm for smooth spectra (from memory); tests bound what that misses."""

SEEN = (*(slice(24, 24 + 378 // step * step + 1, step) for step in (4, 3, 2)), WHOLE)
"""Wavelengths at which many curves that the eye sees are added up: every fourth, third or second from 384 nm to
about 762 nm, or all. Source: as for FIFTHS; `light.behind_lens` tries which are enough."""

FIFTHS_WEIGHTS: NDArray[np.float64] = np.array([3.0, *[5.0] * (WAVELENGTHS[FIFTHS].size - 2), 3.0])
"""Integration weights on every fifth wavelength [nm]. Source: own sum of five terms on straight lines between the
points, so that a light which does not end with the grid is added up as at every wavelength."""

WAVELENGTHS.setflags(write=False)
WEIGHTS.setflags(write=False)
FIFTHS_WEIGHTS.setflags(write=False)


def weights(part: slice = WHOLE) -> NDArray[np.float64]:
    """Give the integration weights of a part of the grid: every fourth wavelength counts four times."""
    return FIFTHS_WEIGHTS if part == FIFTHS else (part.step or 1) * WEIGHTS[part]


def precision(part: slice = WHOLE) -> Kind:
    """Give the kind of number in which curves on a part of the grid are worked out.

    Single precision is good to a few millionths, where sums over SEEN may miss by up to 1 in 10 000, and takes half the
    time; a meter's readings are fitted by small differences, which need double. Source: IEEE 754.
    """
    return np.float64 if part in (WHOLE, FIFTHS) or part.step == 1 else np.float32  # type: ignore[return-value]


MIDDLE = 595.0
"""Wavelength from which straight lines are reckoned, so that no digits are lost in a difference of large numbers: the
middle of the grid [nm]."""


def line(slope: ArrayLike, offset: ArrayLike, of: np.ufunc = np.positive) -> NDArray[np.float64]:
    """Give the two numbers of straight lines in wavelength, or in a function of it, counted from MIDDLE.

    Source: identity.
    """
    height = np.multiply(slope, float(of(MIDDLE))) + offset
    found = np.empty((2, *np.shape(height)), height.dtype)
    found[0], found[1] = slope, height
    return found


def straight(
    lines: NDArray[np.float64],
    part: slice = WHOLE,
    rows: slice = WHOLE,
    of: np.ufunc = np.positive,
    out: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Give what `line` tells at some rows of a part of the grid: a row for each wavelength, with all draws in it.

    One matrix product takes a third of the time of sweeps over the rows, and sweeps along them half of those across;
    `last` turns the result. Source: identity.
    """
    steps = _steps(part.start, part.stop, part.step, of)[rows]
    return np.matmul(steps, lines.reshape(2, -1).astype(steps.dtype, copy=False), out=out)


@cache
def _steps(start: int | None, stop: int | None, step: int | None, of: np.ufunc) -> NDArray[np.float64]:
    part = slice(start, stop, step)
    away = of(WAVELENGTHS[part]) - of(MIDDLE)
    return np.stack([away, np.ones_like(away)], axis=-1).astype(precision(part))


def last(curves: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn curves whose first axis is wavelength: it is the last one wherever they are handed on."""
    return curves.transpose(*range(1, curves.ndim), 0)


Floats = NDArray[np.float64]

Values = Mapping[str, Floats]
"""What was drawn or chosen of named parameters, each of shape (...)."""

Numbers = tuple[Floats, ...]

Garages = slice | NDArray[np.intp]
"""Some of the garages that were drawn."""

Curves = Callable[[Garages, slice], NDArray[np.float64]]
"""From some garages and a part of the grid to a curve for each of them."""


@dataclass(frozen=True, eq=False)
class CurveModel:
    """From values of named parameters to curves: first the few numbers that each curve hangs on, then the curves.

    `numbers` checks the values and reckons from them what is reckoned once for a curve, the curves along the last axis;
    `curves` takes these numbers, and which wavelengths of the grid.
    """

    numbers: Callable[[Values], Numbers]
    curves: Callable[..., NDArray[np.float64]]

    def __call__(self, values: Values, part: slice = WHOLE) -> NDArray[np.float64]:
        return self.curves(*self.numbers(values), part=part)


def drawn(model: CurveModel, values: Values) -> Curves:
    """Give the curves of a model for drawn values, ready to be worked out for some of the draws at a time."""
    numbers, ready = model.numbers(values), dict[Kind, Numbers]()

    def some(garages: Garages, part: slice) -> Floats:
        kind = precision(part)
        if kind not in ready:
            ready[kind] = tuple(one.astype(kind, copy=False) for one in numbers)
        return model.curves(*(one[..., garages] if one.ndim else one for one in ready[kind]), part=part)

    return some


def part_of(values: NDArray[np.float64]) -> slice:
    """Tell by their number which wavelengths of the grid some values stand for: all, or every fifth."""
    return FIFTHS if values.shape[-1:] == WAVELENGTHS[FIFTHS].shape else WHOLE


def integrate(values: ArrayLike) -> NDArray[np.float64]:
    """Integrate over wavelength along the last axis.

    Parameters
    ----------
    values : array_like, shape (..., 471) [1]
        Any quantity on the grid; its integral carries its unit times nm.

    Returns
    -------
    ndarray, shape (...) [nm]
        The integral.

    Raises
    ------
    InputError
        The last axis is not the grid.

    Examples
    --------
    The luminous efficiency function encloses 106.857 nm (CIE 018:2019).

    >>> import lampkit as lk
    >>> round(float(lk.grid.integrate(lk.light.luminous_efficiency())), 3)
    106.857

    Source: CIE 015:2018, 7.1: summation at 1 nm intervals.
    """
    return np.asarray(on_grid(values) @ WEIGHTS)


def on_grid(values: ArrayLike, part: slice = WHOLE) -> NDArray[np.float64]:
    """Return the values as an array whose last axis is the grid, or say that it is not.

    Parameters
    ----------
    values : array_like, shape (..., 471) [1]
        Any quantity on the grid.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The same values.

    Raises
    ------
    InputError
        The last axis is not the grid.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.grid.on_grid(lk.light.illuminant("A")).shape
    (471,)
    """
    array = np.asarray(values, dtype=float)
    if array.ndim == 0 or array.shape[-1] != WAVELENGTHS[part].size:
        raise InputError(
            f"an array of shape {array.shape} is not on the wavelength grid",
            expected="the last axis to hold 471 values, 360 nm to 830 nm at 1 nm",
            remedy="bring a table onto the grid with lampkit.grid.resample",
        )
    return array


def resample(
    wavelength: ArrayLike,
    values: ArrayLike,
    *,
    outside: Outside = "error",
) -> NDArray[np.float64]:
    """Bring a table onto the grid by linear interpolation, with a stated rule where the table does not reach.

    Parameters
    ----------
    wavelength : array_like, shape (m,) [nm]
        Wavelengths of the table, strictly increasing.
    values : array_like, shape (..., m) [1]
        Values of the table, any quantity.
    outside : {'error', 'zero', 'hold'}
        What to do on the part of the grid that the table does not cover: refuse, take zero, or hold the end value.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The values on the grid.

    Raises
    ------
    InputError
        The wavelengths are fewer than two, not finite or not strictly increasing; the shapes differ; the table
        does not cover the grid and no rule was given; the rule is unknown.

    Examples
    --------
    Half way between two rows of a table stands half of their sum.

    >>> import lampkit as lk
    >>> curve = lk.grid.resample([360, 595, 605, 830], [0.0, 0.0, 0.8, 0.8])
    >>> curve[lk.grid.WAVELENGTHS == 600].round(3)
    array([0.4])

    Source: CIE 015:2018, 7.2.2 allows linear interpolation at steps of up to 5 nm for smooth spectra (from memory).
    """
    x = np.asarray(wavelength, dtype=float)
    y = np.asarray(values, dtype=float)
    if x.ndim != 1 or x.size < 2:
        raise InputError("a spectral table needs at least two wavelengths", expected="a column of wavelengths in nm")
    if y.ndim == 0 or y.shape[-1] != x.size:
        raise InputError(f"{x.size} wavelengths stand beside values of shape {y.shape}", expected="one value each")
    if not np.all(np.isfinite(x)) or np.any(np.diff(x) <= 0):
        raise InputError("the wavelengths are not strictly increasing", expected="each one above the one before")
    if outside not in ("error", "zero", "hold"):
        raise InputError(f"the rule '{outside}' outside the table is unknown", expected="'error', 'zero' or 'hold'")
    if outside == "error" and (x[0] > WAVELENGTHS[0] or x[-1] < WAVELENGTHS[-1]):
        raise InputError(
            f"the table covers {x[0]:g} nm to {x[-1]:g} nm only",
            expected="360 nm to 830 nm, or a rule for the rest",
            remedy='say outside = "zero" (no light there) or outside = "hold" (the end value goes on)',
        )
    position = np.clip(np.searchsorted(x, WAVELENGTHS, side="right") - 1, 0, x.size - 2)
    fraction = np.clip((WAVELENGTHS - x[position]) / (x[position + 1] - x[position]), 0.0, 1.0)
    result = np.asarray(y[..., position] * (1.0 - fraction) + y[..., position + 1] * fraction)
    if outside == "zero":
        result = np.where((x[0] > WAVELENGTHS) | (x[-1] < WAVELENGTHS), 0.0, result)
    return result
