"""Effective intensity of a flash: the steady intensity that would be seen from as far, by each published law."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError

TIME_CONSTANT = 0.2
"""Visual time constant a in common use [s]. Source: IALA E-200-4 (from memory)."""


def modified_allard(
    time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT
) -> NDArray[np.float64]:
    """Give the effective intensity of a flash by the Modified Allard law, which suits any waveform.

    Parameters
    ----------
    time : array_like, shape (n,) [s]
        Instants, strictly increasing; a train of flashes may be given.
    intensity : array_like, shape (..., n) [cd]
        Intensity at those instants.
    time_constant : float [s]
        Visual time constant.

    Returns
    -------
    ndarray, shape (...) [cd]
        The greatest value of I convolved with a/(a + t)^2; for an on-off flash exactly that of Blondel and Rey.

    Raises
    ------
    InputError
        The waveform is not usable.

    Examples
    --------
    A flash of 0.3 s counts for t / (a + t) of its steady intensity, 0.3 / 0.5.

    >>> import lampkit as lk
    >>> import numpy as np
    >>> time = np.linspace(0.0, 2.0, 20001)
    >>> light = np.where(time < 0.3, 100.0, 0.0)
    >>> round(float(lk.visibility.modified_allard(time, light, time_constant=0.2)))
    60

    Source: IALA E-200-4 and CIE TC 2-49 (from memory).
    """
    a = float(_constant(time_constant))
    return remembered(time, intensity, lambda t: t - a * np.log1p(t / a))


def _constant(time_constant: ArrayLike) -> NDArray[np.float64]:
    a = np.asarray(time_constant, dtype=float)
    if not np.all(np.isfinite(a) & (a > 0)):
        raise InputError("a visual time constant is not positive", key="time_constant", expected="0.1 s to 0.3 s")
    return a


def _waveform(time: ArrayLike, intensity: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    t, i = np.asarray(time, dtype=float), np.asarray(intensity, dtype=float)
    if t.ndim != 1 or t.size < 2 or i.ndim == 0 or i.shape[-1] != t.size:
        raise InputError(
            f"instants of shape {t.shape} stand beside intensities of shape {i.shape}",
            key="time",
            expected="at least two instants, and one intensity for each along the last axis",
        )
    if not np.all(np.isfinite(t)) or np.any(np.diff(t) <= 0):
        raise InputError("the instants do not increase", key="time", expected="seconds, each later than the one before")
    if not np.all(np.isfinite(i) & (i >= 0)):
        raise InputError("an intensity is negative or not a number", key="intensity", expected="zero or more")
    return t, i


def remembered(
    time: ArrayLike, intensity: ArrayLike, twice_integrated: Callable[[NDArray[np.float64]], NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Give the greatest value of a waveform of straight pieces convolved with a memory, exact between equal steps."""
    t, i = _waveform(time, intensity)
    step = float(np.median(np.diff(t)))
    # Uneven instants may hold an edge between two equal steps: eight steps for one place it well enough.
    finer = 1 if np.allclose(np.diff(t), step, rtol=1e-3) else 8
    steps = int(np.clip(np.ceil(finer * (t[-1] - t[0]) / step - 1e-6), 1, 100_000))
    even = np.linspace(t[0], t[-1], steps + 1)
    after = np.clip(np.searchsorted(t, even, side="right"), 1, t.size - 1)
    share = (even - t[after - 1]) / (t[after] - t[after - 1])
    i = i[..., after - 1] * (1.0 - share) + i[..., after] * share
    h = (t[-1] - t[0]) / steps
    # The light begins at nil: the first step of all is a rise from nil within one step.
    i = np.concatenate([np.zeros((*i.shape[:-1], 1)), i], axis=-1)
    memory = np.diff(twice_integrated(h * np.arange(steps + 2)))
    # The convolution as a product of spectra, long enough that nothing comes round.
    size = 1 << int(2 * memory.size - 1).bit_length()
    seen = np.fft.irfft(np.fft.rfft(np.diff(i, axis=-1) / h, size) * np.fft.rfft(memory, size), size)
    return np.asarray(np.maximum(seen[..., : steps + 1].max(axis=-1), 0.0))
