"""From how far and how soon a signal is seen: range by day and night, reaction distance, and the half-dark eye."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError
from lampkit.light import photometry

CONTRAST = 0.05
"""Contrast at which the meteorological optical range is defined [1]. Source: CIE S 017:2020, IALA E-200-2."""

NIGHT_THRESHOLD = 2e-7
"""Illuminance at the eye at which a point of light is taken to be seen on a dark night [lx]. Source: COLREG 1972,
Annex I, 8; a practical value, detection at the very limit being 50 %."""

NAUTICAL_MILE = 1852.0
"""Length of the international nautical mile [m]. Source: definition."""

REACTION_TIME, DECELERATION = 1.5, 7.0
"""Reaction time of a driver [s] and braking on a dry road [m/s2], for comparison only. Source: common practice, no
source."""


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

    Source: Allard's law E = I 0.05^(d/V)/d^2, IALA E-200-2; solved in closed form with Lambert's W function.
    """
    from scipy.special import lambertw

    i, e = _from_zero(intensity, "intensity", "cd"), _above_zero(threshold, "threshold", "lx")
    v = np.asarray(meteorological_range, dtype=float)
    if not np.all(v > 0):
        raise InputError("a visibility is not positive", key="meteorological_range", expected="metres above zero")
    clear = np.sqrt(i / e)
    # d^2 exp(2 d / s) = clear^2, with s the distance over which the clear range is damped.
    s = 2.0 * v / -np.log(CONTRAST)
    ratio = clear / s
    # For a ratio below 1e-9 the air does nothing that a float can show, and an infinite s must not meet a nil.
    damped = np.where(ratio > 1e-9, np.real(lambertw(ratio)) / np.where(ratio > 1e-9, ratio, 1.0), 1.0)
    return np.asarray(clear * damped)


def intensity_for_range(
    distance: ArrayLike, meteorological_range: ArrayLike, threshold: ArrayLike = NIGHT_THRESHOLD
) -> NDArray[np.float64]:
    """Give the intensity that is at the threshold of being seen from a distance, by Allard's law.

    Parameters
    ----------
    distance : array_like, shape (...) [m]
        Distance to the eye.
    meteorological_range : array_like, shape (...) [m]
        Meteorological optical range.
    threshold : array_like, shape (...) [lx]
        Illuminance at the eye at which it is seen.

    Returns
    -------
    ndarray, shape (...) [cd]
        The luminous intensity.

    Raises
    ------
    InputError
        A value is not positive.

    Source: Allard's law I = E d^2 0.05^(-d/V), IALA E-200-2.
    """
    d, e = _above_zero(distance, "distance", "m"), _above_zero(threshold, "threshold", "lx")
    v = np.asarray(meteorological_range, dtype=float)
    if not np.all(v > 0):
        raise InputError("a visibility is not positive", key="meteorological_range", expected="metres above zero")
    return np.asarray(e * d**2 * CONTRAST ** (-d / v))


def navigation_light_intensity(distance: ArrayLike) -> NDArray[np.float64]:
    """Give the intensity that the collision regulations ask of a ship's light, a published use of Allard's law.

    Parameters
    ----------
    distance : array_like, shape (...) [m]
        Luminous range asked for.

    Returns
    -------
    ndarray, shape (...) [cd]
        3.43e6 T D^2 K^(-D), with D in nautical miles, T = 2e-7 lx and K = 0.8 per nautical mile.

    Raises
    ------
    InputError
        A distance is not positive.

    Source: COLREG 1972, Annex I, 8.
    """
    d = _above_zero(distance, "distance", "m") / NAUTICAL_MILE
    return np.asarray(3.43e6 * NIGHT_THRESHOLD * d**2 * 0.8**-d)


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

    Source: data/visibility/thresholds.csv, each row with its own source.
    """
    table = tables.load("visibility", "thresholds")
    chosen = table["illuminance_lx"][table["time_of_day"] == time_of_day]
    if chosen.size == 0:
        raise InputError(f"'{time_of_day}' has no threshold", key="time_of_day", expected="'night' or 'day'")
    return np.array([chosen.min(), chosen.max()])


def threshold_illuminance(background_luminance: ArrayLike) -> NDArray[np.float64]:
    """Give the threshold illuminance against a background by the curve of the aviation rules.

    Parameters
    ----------
    background_luminance : array_like, shape (...) [cd/m2]
        Luminance of the background, 1 cd/m2 to 30000 cd/m2.

    Returns
    -------
    ndarray, shape (...) [lx]
        The threshold illuminance.

    Raises
    ------
    InputError
        A background is outside the curve.

    Source: ICAO Annex 3, log E = 0.57 log B + 0.05 (log B)^2 - 6.66 (from memory).
    """
    b = np.asarray(background_luminance, dtype=float)
    if not np.all((b >= 1.0) & (b <= 30000.0)):
        raise InputError("a background is outside the curve", key="background_luminance", expected="1 to 30000 cd/m2")
    logarithm = np.log10(b)
    return np.asarray(10.0 ** (0.57 * logarithm + 0.05 * logarithm**2 - 6.66))


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
        light; `reaction_time_lost` is what a dim LED gives back.

    Raises
    ------
    InputError
        A rise time is negative.

    Source: UMTRI-93-37 (Sivak et al. 1993); arXiv:2010.10584; a maker's note on UMTRI studies (read in a secondary
    text).
    """
    rise = _from_zero(rise_time, "rise_time", "s")
    published = tables.load("visibility", "reaction")
    gains = np.sort(published["time_ms"][published["use"] == "gain"])[[0, 1, -1]]
    (standard,) = published["time_ms"][published["use"] == "rise"]
    return np.asarray(rise[..., np.newaxis] / standard * gains)


def reaction_time_lost(intensity: ArrayLike) -> NDArray[np.float64]:
    """Give how much later a driver reacts to a dim stop lamp than to one of 42 cd.

    Parameters
    ----------
    intensity : array_like, shape (...) [cd]
        Intensity of the stop lamp towards the driver behind.

    Returns
    -------
    ndarray, shape (...) [s]
        84 ms at 5 cd and nil at 42 cd, as published; between them a line over the logarithm of intensity, which is an
        assumption. Below 5 cd the 84 ms is a lower limit, above 42 cd nothing is gained.

    Raises
    ------
    InputError
        An intensity is not positive.

    Source: UMTRI-93-37 (Sivak et al. 1993).
    """
    i = _above_zero(intensity, "intensity", "cd")
    published = tables.load("visibility", "reaction")
    (penalty,) = published["time_ms"][published["use"] == "penalty"]
    return np.asarray(np.interp(np.log(i), np.log([5.0, 42.0]), [penalty / 1000.0, 0.0]))


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

    Source: definition.
    """
    return np.asarray(_from_zero(speed, "speed", "km/h") / 3.6 * np.asarray(time, dtype=float))


def stopping_distance(
    speed: ArrayLike, reaction_time: ArrayLike = REACTION_TIME, deceleration: ArrayLike = DECELERATION
) -> NDArray[np.float64]:
    """Give the distance in which a vehicle stops, to hold a gain against.

    Parameters
    ----------
    speed : array_like, shape (...) [km/h]
        Speed of the vehicle.
    reaction_time : array_like, shape (...) [s]
        Time until the brakes act.
    deceleration : array_like, shape (...) [m/s2]
        Braking: about 7 m/s2 on a dry road, less on a wet one or on drum brakes of the period.

    Returns
    -------
    ndarray, shape (...) [m]
        Distance covered before and during braking.

    Raises
    ------
    InputError
        A speed or time is negative, or the braking is not positive.

    Source: uniform deceleration; its values are common practice, no source.
    """
    v = _from_zero(speed, "speed", "km/h") / 3.6
    b = _above_zero(deceleration, "deceleration", "m/s2")
    return np.asarray(v * _from_zero(reaction_time, "reaction_time", "s") + v**2 / (2.0 * b))


def speed_left(speed: ArrayLike, time: ArrayLike, deceleration: ArrayLike = DECELERATION) -> NDArray[np.float64]:
    """Give the speed that the later driver still has where the sooner one has stopped.

    Parameters
    ----------
    speed : array_like, shape (...) [km/h]
        Speed of both before braking.
    time : array_like, shape (...) [s]
        Time by which one reacts later.
    deceleration : array_like, shape (...) [m/s2]
        Braking of both.

    Returns
    -------
    ndarray, shape (...) [km/h]
        The speed left, at most the speed before.

    Raises
    ------
    InputError
        A speed or time is negative, or the braking is not positive.

    Source: uniform deceleration.
    """
    v = _from_zero(speed, "speed", "km/h") / 3.6
    b = _above_zero(deceleration, "deceleration", "m/s2")
    return np.asarray(3.6 * np.minimum(v, np.sqrt(2.0 * b * v * _from_zero(time, "time", "s"))))


def scotopic_to_photopic(spectrum: ArrayLike) -> NDArray[np.float64]:
    """Give the S/P ratio of a light, its scotopic over its photopic luminous flux.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        Spectral distribution after the lens; its scale cancels.

    Returns
    -------
    ndarray, shape (...) [1]
        The ratio.

    Raises
    ------
    InputError
        The spectrum is not on the grid or gives no light.

    Source: CIE 191:2010; CIE 018:2019 for both observers.
    """
    photopic = photometry.luminous_flux(spectrum)
    if not np.all(photopic > 0):
        raise InputError("a source gives no visible light", expected="a spectrum with power between 360 and 830 nm")
    return np.asarray(photometry.luminous_flux(spectrum, "scotopic") / photopic)


def mesopic_luminance(photopic_luminance: ArrayLike, ratio: ArrayLike) -> NDArray[np.float64]:
    """Give the luminance that counts for the half-dark eye, off the line of sight, by the system MES2.

    Signal limits stay photopic: none of this counts for them.

    Parameters
    ----------
    photopic_luminance : array_like, shape (...) [cd/m2]
        Photopic luminance to which the eye is adapted.
    ratio : array_like, shape (...) [1]
        S/P ratio of the light.

    Returns
    -------
    ndarray, shape (...) [cd/m2]
        The mesopic luminance: photopic from 5 cd/m2 up, scotopic to 0.005 cd/m2 down.

    Raises
    ------
    InputError
        A luminance is not positive or a ratio is negative.

    Source: CIE 191:2010 (read in a secondary text), V'(555 nm) = 683/1699, by its iteration from m = 0.5.
    """
    photopic = _above_zero(photopic_luminance, "photopic_luminance", "cd/m2")
    scotopic = photopic * _from_zero(ratio, "ratio", "as S/P")
    photopic, scotopic = np.broadcast_arrays(photopic, scotopic)
    m = np.full(photopic.shape, 0.5)
    for _ in range(500):
        found = _mesopic(photopic, scotopic, m)
        with np.errstate(divide="ignore"):
            after = np.clip(0.7670 + 0.3334 * np.log10(found), 0.0, 1.0)
        if np.all(np.abs(after - m) < 1e-13):
            break
        # Half a step at a time: with a very blue light whole steps swing about the solution for ever.
        m = 0.5 * (m + after)
    return np.asarray(np.where(photopic >= 5.0, photopic, _mesopic(photopic, scotopic, m)))


def _mesopic(
    photopic: NDArray[np.float64], scotopic: NDArray[np.float64], adaptation: NDArray[np.float64]
) -> NDArray[np.float64]:
    rod = (1.0 - adaptation) * (683.0 / 1699.0)
    return np.asarray((adaptation * photopic + rod * scotopic) / (adaptation + rod))


def _from_zero(value: ArrayLike, key: str, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array >= 0)):
        raise InputError("a value is negative or not a number", key=key, expected=f"zero or more, in {unit}")
    return array


def _above_zero(value: ArrayLike, key: str, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array > 0)):
        raise InputError("a value is not positive", key=key, expected=f"above zero, in {unit}")
    return array
