"""Effective intensity of a flash by the other published laws; the kit computes with the Modified Allard law alone."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit.visibility import sight
from lampkit.visibility.sight import TIME_CONSTANT


def blondel_rey(duration: ArrayLike, time_constant: ArrayLike = TIME_CONSTANT) -> np.ndarray:
    """An on-off flash relative to its steady intensity. Source: Blondel and Rey, J. Phys. Theor. Appl. 1 (1911) 530."""
    t = np.asarray(duration, dtype=float)
    return t / (np.asarray(time_constant, dtype=float) + t)


def _area(t: np.ndarray, i: np.ndarray) -> np.ndarray:
    return np.cumsum(0.5 * (i[..., 1:] + i[..., :-1]) * np.diff(t), -1)


def blondel_rey_douglas(time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT) -> np.ndarray:
    """The greatest integral of I from t1 to t2 over a + t2 - t1, for a flash of any shape.

    Source: C. A. Douglas, Illum. Eng. 52 (1957) 641 (reference from memory); t1 and t2 are found exactly among the
    instants by repeated maximising of the integral less lambda times the span.
    """
    t, i = np.asarray(time, dtype=float), np.asarray(intensity, dtype=float)
    area = np.concatenate([np.zeros((*i.shape[:-1], 1)), _area(t, i)], -1)
    best = area[..., -1] / (time_constant + t[-1] - t[0])
    for _ in range(100):
        # The ratio's maximum lambda makes max of (area - lambda (a + span)) nil; each pass raises lambda towards it.
        gain = area - best[..., np.newaxis] * t
        end = np.argmax(gain - np.minimum.accumulate(gain, axis=-1), axis=-1)[..., np.newaxis]
        start = np.argmin(np.where(np.arange(t.size) <= end, gain, np.inf), axis=-1)[..., np.newaxis]
        step = np.take_along_axis(area, end, -1) - np.take_along_axis(area, start, -1)
        found = (step / (time_constant + t[end] - t[start]))[..., 0]
        if np.all(found <= best * (1.0 + 1e-13)):
            break
        best = np.maximum(best, found)
    return np.asarray(best)


def form_factor(time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT) -> np.ndarray:
    """Peak/(1 + a/(F T)), with F T the integral of one flash over its peak. Source: IALA E-200-4 (from memory)."""
    t, i = np.asarray(time, dtype=float), np.asarray(intensity, dtype=float)
    area, peak = _area(t, i)[..., -1], i.max(axis=-1)
    total = area + time_constant * peak
    return np.where(total > 0, peak * area / np.where(total > 0, total, 1.0), 0.0)


def allard(time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT) -> np.ndarray:
    """The greatest value of I convolved with exp(-t/a)/a. Source: Allard 1876, as in IALA E-200-4 (from memory)."""
    a = time_constant
    # The memory integrated twice, which rises from nil.
    return sight.remembered(time, intensity, lambda t: t - a * (1.0 - np.exp(-t / a)))


def effective_intensities(
    time: ArrayLike, intensity: ArrayLike, *, time_constant: float = TIME_CONSTANT
) -> dict[str, np.ndarray]:
    """One flash by every law that agrees with Blondel and Rey on an on-off flash."""
    return {
        "Blondel-Rey-Douglas": blondel_rey_douglas(time, intensity, time_constant=time_constant),
        "Schmidt-Clausen": form_factor(time, intensity, time_constant=time_constant),
        "Modified Allard": sight.modified_allard(time, intensity, time_constant=time_constant),
    }
