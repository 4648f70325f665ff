"""How far a light is seen, how late a driver stops and what the half-dark eye sees: published, not used by the kit."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit import tables
from lampkit.light import photometry
from lampkit.visibility import sight


def intensity_for_range(
    distance: ArrayLike, meteorological_range: ArrayLike, threshold: ArrayLike = sight.NIGHT_THRESHOLD
) -> np.ndarray:
    """Intensity that is at the threshold of being seen. Source: Allard's law I = E d^2 0.05^(-d/V), IALA E-200-2."""
    d = np.asarray(distance, dtype=float)
    return threshold * d**2 * sight.CONTRAST ** (-d / np.asarray(meteorological_range, dtype=float))


def stopping_distance(speed: float, reaction_time: float, deceleration: float = 7.0) -> float:
    """Distance before and during braking. Source: uniform deceleration; 7 m/s2: common practice, no source."""
    v = speed / 3.6
    return v * reaction_time + v**2 / (2.0 * deceleration)


def speed_left(speed: float, time: float, deceleration: float = 7.0) -> float:
    """Speed of the later driver where the sooner one has stopped [km/h]. Source: uniform deceleration."""
    v = speed / 3.6
    return 3.6 * min(v, float(np.sqrt(2.0 * deceleration * v * time)))


def reaction_time_lost(intensity: ArrayLike) -> np.ndarray:
    """How much later a dim stop lamp is reacted to than one of 42 cd. Source: UMTRI-93-37, Sivak et al. 1993."""
    published = tables.load("visibility", "reaction")
    (penalty,) = published["time_ms"][published["use"] == "penalty"]
    return np.interp(np.log(np.asarray(intensity, dtype=float)), np.log([5.0, 42.0]), [penalty / 1000.0, 0.0])


def scotopic_to_photopic(spectrum: ArrayLike) -> np.ndarray:
    """S/P ratio of a light. Source: CIE 191:2010; CIE 018:2019 for both observers."""
    return photometry.luminous_flux(spectrum, "scotopic") / photometry.luminous_flux(spectrum)


def mesopic_luminance(photopic_luminance: ArrayLike, ratio: ArrayLike) -> np.ndarray:
    """Luminance that counts for the half-dark eye, off the line of sight, by the system MES2.

    Source: CIE 191:2010 (read in a secondary text), V'(555 nm) = 683/1699, by its iteration from m = 0.5.
    """
    photopic = np.asarray(photopic_luminance, dtype=float)
    photopic, scotopic = np.broadcast_arrays(photopic, photopic * np.asarray(ratio, dtype=float))

    def mixed(m: np.ndarray) -> np.ndarray:
        rod = (1.0 - m) * (683.0 / 1699.0)
        return (m * photopic + rod * scotopic) / (m + rod)

    m = np.full(photopic.shape, 0.5)
    for _ in range(500):
        with np.errstate(divide="ignore"):
            after = np.clip(0.7670 + 0.3334 * np.log10(mixed(m)), 0.0, 1.0)
        if np.all(np.abs(after - m) < 1e-13):
            break
        # Half a step at a time: with a very blue light whole steps swing about the solution for ever.
        m = 0.5 * (m + after)
    return np.where(photopic >= 5.0, photopic, mixed(m))
