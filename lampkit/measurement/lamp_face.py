"""A lamp is not a point: the light near an extended face, and how far is far enough."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError


def beam_exponent(half_angle: ArrayLike) -> NDArray[np.float64]:
    """Give the exponent m of a beam cos^m from the angle at which it falls to half.

    Source: definition, cos(half angle)^m = 1/2.
    """
    angle = np.asarray(half_angle, dtype=float)
    if np.any(~((angle > 0) & (angle < 90))):
        raise InputError("a half angle is outside 0 to 90 deg", key="half_angle", expected="degrees above 0, below 90")
    return np.asarray(np.log(0.5) / np.log(np.cos(np.radians(angle))))


def near_field_factor(distance: ArrayLike, face_diameter: ArrayLike, exponent: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Give the illuminance on the axis of a round face over what the inverse square law says.

    Source: own calculation, the integral of cos^m over a disc; for m = 1 it is the textbook I/(d^2 + R^2).
    """
    d, size, m = (np.asarray(v, dtype=float) for v in (distance, face_diameter, exponent))
    if np.any(~(d > 0)) or np.any(~(size >= 0)):
        raise InputError("a distance or a face size cannot be used", expected="a distance above 0 m, a size of 0 m up")
    if not np.all((m >= 0) & (m <= 1e6)):
        raise InputError("a beam cannot be used", key="exponent", expected="0 for an even one, to 1e6")
    power = 0.5 * (m + 1.0)
    with np.errstate(over="ignore"):  # on the face itself the illuminance stays finite, and the law does not
        square = (0.5 * size / d) ** 2
        near = -np.expm1(-power * np.log1p(square)) / np.where(square > 0, power * square, 1.0)
    return np.asarray(np.where(square > 0, near, 1.0))


def diameters_needed(exponent: ArrayLike) -> NDArray[np.float64]:
    """Give how many face diameters away the inverse square law is good for a beam.

    Source: EN 13032-1:2004 and CIE S 025:2015 (from memory): 5 near a cosine, 10 to a beam of 60 deg, 15 narrower.
    """
    m = np.asarray(exponent, dtype=float)
    return np.asarray(np.where(m <= 1.5, 5.0, np.where(m <= beam_exponent(30.0), 10.0, 15.0)))


def far_enough(distance: ArrayLike, face_diameter: ArrayLike, exponent: ArrayLike = 1.0) -> NDArray[np.bool_]:
    """Tell whether the inverse square law may be used.

    Source: EN 13032-1:2004 and CIE S 025:2015 (from memory).
    """
    d, size = np.asarray(distance, dtype=float), np.asarray(face_diameter, dtype=float)
    return np.asarray(d * (1.0 + 1e-12) >= diameters_needed(exponent) * size)
