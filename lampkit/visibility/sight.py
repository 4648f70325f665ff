"""From how far and how soon a signal is seen: range by day and night, effective intensity of a flash, reaction."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError

CONTRAST = 0.05
"""Contrast at which the meteorological optical range is defined [1]. Source: CIE S 017:2020, IALA E-200-2."""

NIGHT_THRESHOLD = 2e-7
"""Illuminance at the eye at which a point of light is taken to be seen on a dark night [lx]. Source: COLREG 1972,
Annex I, 8; a practical value, detection at the very limit being 50 %."""


def luminous_range(
    intensity: ArrayLike, meteorological_range: ArrayLike, threshold: ArrayLike = NIGHT_THRESHOLD
) -> NDArray[np.float64]:
    """Give the distance at which a steady light is at the threshold of being seen, by Allard's law.

    Parameters
    ----------
    intensity : array_like, shape (...) [cd]
        Luminous intensity towards the eye; for a flash, its effective intensity.
    meteorological_range : array_like, shape (...) [m]
        Meteorological optical range: 500 m in fog, 10000 m in fair weather, infinite for clear space.
    threshold : array_like, shape (...) [lx]
        Illuminance at the eye at which it is seen; `thresholds` lists them.

    Returns
    -------
    ndarray, shape (...) [m]
        The luminous range; nil for no light.

    Raises
    ------
    InputError
        A value is negative, or not positive where it must be.

    Examples
    --------
    In clear space a candela makes 2e-7 lx at 2236 m, the root of 1 / 2e-7.

    >>> import lampkit as lk
    >>> round(float(lk.visibility.luminous_range(1, float("inf"), 2e-7)))
    2236

    Source: Allard's law E = I 0.05^(d/V)/d^2, IALA E-200-2; solved in closed form with Lambert's W function.
    """
    from scipy.special import lambertw

    i, e = _from_zero(intensity, "intensity", "cd"), _above_zero(threshold, "threshold", "lx")
    v = np.asarray(meteorological_range, dtype=float)
    if not np.all(v >= 1.0 / LARGEST):
        raise InputError("a visibility is not positive", key="meteorological_range", expected="metres above zero")
    clear = np.sqrt(i / e)
    # d^2 exp(2 d / s) = clear^2, with s the distance over which the clear range is damped.
    s = 2.0 * np.minimum(v, LARGEST**2) / -np.log(CONTRAST)
    ratio = clear / s
    # For a ratio below 1e-9 the air does nothing that a float can show, and an infinite s must not meet a nil.
    damped = np.where(ratio > 1e-9, np.real(lambertw(ratio)) / np.where(ratio > 1e-9, ratio, 1.0), 1.0)
    return np.asarray(clear * damped)


def thresholds(time_of_day: str = "day") -> NDArray[np.float64]:
    """Give the lowest and the highest published threshold illuminance for night or day.

    Parameters
    ----------
    time_of_day : {'night', 'day'}
        Night, from a dark background to a lit town; or day, where two sources differ by a factor of five.

    Returns
    -------
    ndarray, shape (2,) [lx]
        The lowest and the highest illuminance; the range of a light goes the other way round.

    Raises
    ------
    InputError
        The time of day is neither.

    Examples
    --------
    The night thresholds begin where COLREG 1972 puts a dark night.

    >>> import lampkit as lk
    >>> float(lk.visibility.thresholds("night")[0])
    2e-07

    Source: data/visibility/thresholds.csv, each row with its own source.
    """
    table = tables.load("visibility", "thresholds")
    chosen = table["illuminance_lx"][table["time_of_day"] == time_of_day]
    if chosen.size == 0:
        raise InputError(f"'{time_of_day}' has no threshold", key="time_of_day", expected="'night' or 'day'")
    return np.array([chosen.min(), chosen.max()])


def day_and_night_range(intensity: ArrayLike, meteorological_range: ArrayLike = 1e4) -> NDArray[np.float64]:
    """Give the range of a light by day and by night as ranges of what the sources say.

    Parameters
    ----------
    intensity : array_like, shape (...) [cd]
        Luminous intensity towards the eye; for a flash, its effective intensity.
    meteorological_range : array_like, shape (...) [m]
        Meteorological optical range.

    Returns
    -------
    ndarray, shape (..., 2, 2) [m]
        First row day, second row night; in each the shortest and the longest luminous range.

    Raises
    ------
    InputError
        A value is negative, or not positive where it must be.

    Examples
    --------
    Shortest and longest range of a stop lamp of 60 cd, by day and by night [m].

    >>> import lampkit as lk
    >>> lk.visibility.day_and_night_range(60).round(-2)
    array([[ 200.,  500.],
           [1400., 6500.]])

    Source: Allard's law with the thresholds of data/visibility/thresholds.csv.
    """
    i = np.asarray(intensity, dtype=float)[..., np.newaxis, np.newaxis]
    v = np.asarray(meteorological_range, dtype=float)[..., np.newaxis, np.newaxis]
    return luminous_range(i, v, np.stack([thresholds("day")[::-1], thresholds("night")[::-1]]))


def reaction_time_gained(rise_time: ArrayLike = 0.25) -> NDArray[np.float64]:
    """Give how much sooner a driver behind reacts to an LED stop lamp than to the filament that it replaces.

    Parameters
    ----------
    rise_time : array_like, shape (...) [s]
        Rise of the filament's light to 90 %. The published gains are for the quarter second of a standard stop lamp;
        for another filament they are scaled with its rise time, which is an assumption.

    Returns
    -------
    ndarray, shape (..., 3) [s]
        Lowest, typical and highest published gain: 166 ms, 170 ms, and 300 ms in bad viewing. They hold for equal
        light: a dimmer lamp gives some of it back.

    Raises
    ------
    InputError
        A rise time is negative.

    Examples
    --------
    Lowest, typical and highest published gain for a filament that needs a quarter second.

    >>> import lampkit as lk
    >>> lk.visibility.reaction_time_gained(0.25).round(2)
    array([0.17, 0.17, 0.3 ])

    Source: UMTRI-93-37 (Sivak et al. 1993); arXiv:2010.10584; a maker's note on UMTRI studies (read in a secondary
    text).
    """
    rise = _from_zero(rise_time, "rise_time", "s")
    published = tables.load("visibility", "reaction")
    gains = np.sort(published["time_ms"][published["use"] == "gain"])[[0, 1, -1]]
    (standard,) = published["time_ms"][published["use"] == "rise"]
    return np.asarray(rise[..., np.newaxis] / standard * gains)


def distance_gained(speed: ArrayLike, time: ArrayLike) -> NDArray[np.float64]:
    """Give the distance that a vehicle covers in a time at a speed.

    Parameters
    ----------
    speed : array_like, shape (...) [km/h]
        Speed of the vehicle behind.
    time : array_like, shape (...) [s]
        Time by which its driver reacts sooner.

    Returns
    -------
    ndarray, shape (...) [m]
        The distance.

    Raises
    ------
    InputError
        A speed is negative.

    Examples
    --------
    At 90 km/h a vehicle covers 25 m in a second.

    >>> import lampkit as lk
    >>> float(lk.visibility.distance_gained(90, 1))
    25.0
    """
    return np.asarray(_from_zero(speed, "speed", "km/h") / 3.6 * np.asarray(time, dtype=float))


LARGEST = 1e15
"""Beyond any light and any range; one over it is as good as nothing [1]. Source: own judgement."""


def _from_zero(value: ArrayLike, key: str, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=float)
    if not np.all((array >= 0) & (array <= LARGEST)):
        raise InputError("a value is negative or not a number", key=key, expected=f"zero to {LARGEST:g}, in {unit}")
    return array


def _above_zero(value: ArrayLike, key: str, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=float)
    if not np.all((array >= 1.0 / LARGEST) & (array <= LARGEST)):
        raise InputError("a value is not positive", key=key, expected=f"above zero, to {LARGEST:g}, in {unit}")
    return array


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
    a = float(_above_zero(time_constant, "time_constant", "s, as 0.1 to 0.3"))
    return remembered(time, intensity, lambda t: t - a * np.log1p(t / a))


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
