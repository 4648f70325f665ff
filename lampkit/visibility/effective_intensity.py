"""Effective intensity of a flash: the steady intensity that would be seen from as far, by each published law."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError

TIME_CONSTANT = 0.2
"""Visual time constant a in common use [s]. Source: IALA E-200-4 (from memory)."""

TIME_CONSTANTS = {"Blondel and Rey 1911": 0.21, "in common use": 0.2, "night, longest": 0.3, "day, shortest": 0.1}
"""Visual time constants by name [s]. Source: Blondel and Rey, J. Phys. Theor. Appl. 1 (1911) 530, whose law has a
probable error of 12 % to 25 %; 0.2 s and the range 0.1 s to 0.3 s of national practice (from memory; conflicting)."""


def blondel_rey(duration: ArrayLike, time_constant: ArrayLike = TIME_CONSTANT) -> NDArray[np.float64]:
    """Give the effective intensity of an on-off flash, relative to its steady intensity.

    Parameters
    ----------
    duration : array_like, shape (...) [s]
        How long the flash lasts.
    time_constant : array_like, shape (...) [s]
        Visual time constant, 0.1 s to 0.3 s by source.

    Returns
    -------
    ndarray, shape (...) [1]
        The ratio t/(a + t).

    Raises
    ------
    InputError
        A time is not positive.

    Source: Blondel and Rey, J. Phys. Theor. Appl. 1 (1911) 530.
    """
    t = np.asarray(duration, dtype=float)
    if not np.all(np.isfinite(t) & (t > 0)):
        raise InputError("a flash has no length", key="duration", expected="seconds above zero")
    return np.asarray(t / (_constant(time_constant) + t))


def blondel_rey_douglas(
    time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT
) -> NDArray[np.float64]:
    """Give the effective intensity of a flash of any shape by the law of Blondel, Rey and Douglas.

    Parameters
    ----------
    time : array_like, shape (n,) [s]
        Instants, strictly increasing, equal steps or not.
    intensity : array_like, shape (..., n) [cd]
        Intensity at those instants; relative intensity gives a relative result.
    time_constant : float [s]
        Visual time constant.

    Returns
    -------
    ndarray, shape (...) [cd]
        The greatest value of the integral of I from t1 to t2 over a + t2 - t1.

    Raises
    ------
    InputError
        The waveform is not usable.

    Source: C. A. Douglas, Illum. Eng. 52 (1957) 641 (reference from memory); the limits t1 and t2 are found exactly
    among the instants by repeated maximising of the integral less lambda times the span.
    """
    t, i = _waveform(time, intensity)
    a = float(_constant(time_constant))
    area = np.concatenate(
        [np.zeros((*i.shape[:-1], 1)), np.cumsum(0.5 * (i[..., 1:] + i[..., :-1]) * np.diff(t), -1)], -1
    )
    best = area[..., -1] / (a + t[-1] - t[0])
    for _ in range(100):
        # The ratio's maximum lambda makes max of (area - lambda (a + span)) nil; each pass raises lambda towards it.
        gain = area - best[..., np.newaxis] * t
        lowest = np.minimum.accumulate(gain, axis=-1)
        end = np.argmax(gain - lowest, axis=-1)[..., np.newaxis]
        before = np.arange(t.size) <= end
        start = np.argmin(np.where(before, gain, np.inf), axis=-1)[..., np.newaxis]
        span = t[end] - t[start]
        found = ((np.take_along_axis(area, end, -1) - np.take_along_axis(area, start, -1)) / (a + span))[..., 0]
        if np.all(found <= best * (1.0 + 1e-13)):
            break
        best = np.maximum(best, found)
    return np.asarray(best)


def form_factor(time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT) -> NDArray[np.float64]:
    """Give the effective intensity of one flash by the form-factor law of Schmidt-Clausen.

    Parameters
    ----------
    time : array_like, shape (n,) [s]
        Instants of one flash, strictly increasing.
    intensity : array_like, shape (..., n) [cd]
        Intensity at those instants.
    time_constant : float [s]
        Visual time constant.

    Returns
    -------
    ndarray, shape (...) [cd]
        Peak/(1 + a/(F T)), where F T is the integral of I over the peak. Only one flash may be given: the law adds
        what it sees.

    Raises
    ------
    InputError
        The waveform is not usable.

    Source: Schmidt-Clausen, as in IALA E-200-4 (from memory).
    """
    t, i = _waveform(time, intensity)
    area = np.sum(0.5 * (i[..., 1:] + i[..., :-1]) * np.diff(t), axis=-1)
    peak = i.max(axis=-1)
    total = area + float(_constant(time_constant)) * peak
    return np.asarray(np.where(total > 0, peak * area / np.where(total > 0, total, 1.0), 0.0))


def allard(time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT) -> NDArray[np.float64]:
    """Give the effective intensity of a flash by the old law of Allard, an exponential memory.

    Parameters
    ----------
    time : array_like, shape (n,) [s]
        Instants, strictly increasing.
    intensity : array_like, shape (..., n) [cd]
        Intensity at those instants.
    time_constant : float [s]
        Visual time constant.

    Returns
    -------
    ndarray, shape (...) [cd]
        The greatest value of I convolved with exp(-t/a)/a.

    Raises
    ------
    InputError
        The waveform is not usable.

    Source: Allard 1876, as in IALA E-200-4 (from memory).
    """
    a = float(_constant(time_constant))
    # The first and second integrals of the memory, which rise from nil.
    return _remembered(time, intensity, lambda t: t - a * (1.0 - np.exp(-t / a)))


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

    Source: IALA E-200-4 and CIE TC 2-49 (from memory).
    """
    a = float(_constant(time_constant))
    return _remembered(time, intensity, lambda t: t - a * np.log1p(t / a))


def effective_intensities(
    time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT
) -> dict[str, NDArray[np.float64]]:
    """Give the effective intensity of one flash by every law, for they agree on an on-off flash only.

    Parameters
    ----------
    time : array_like, shape (n,) [s]
        Instants of one flash, strictly increasing.
    intensity : array_like, shape (..., n) [cd]
        Intensity at those instants.
    time_constant : float [s]
        Visual time constant.

    Returns
    -------
    dict of str to ndarray, shape (...) [cd]
        'Blondel-Rey-Douglas', 'Schmidt-Clausen' and 'Modified Allard'; the old law of Allard stands apart in `allard`.

    Raises
    ------
    InputError
        The waveform is not usable.

    Source: the functions of this module.
    """
    return {
        "Blondel-Rey-Douglas": blondel_rey_douglas(time, intensity, time_constant=time_constant),
        "Schmidt-Clausen": form_factor(time, intensity, time_constant=time_constant),
        "Modified Allard": modified_allard(time, intensity, time_constant=time_constant),
    }


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


def _remembered(
    time: ArrayLike, intensity: ArrayLike, twice_integrated: Callable[[NDArray[np.float64]], NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Greatest value of a waveform of straight pieces convolved with a memory, exact between equal steps."""
    from scipy.signal import fftconvolve

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
    seen = fftconvolve(np.diff(i, axis=-1) / h, memory.reshape((1,) * (i.ndim - 1) + (-1,)), axes=-1)
    return np.asarray(np.maximum(seen[..., : steps + 1].max(axis=-1), 0.0))
