"""Before measuring: where to put the meter, how often to read, how dark it must be, on one page to take along."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError
from lampkit.measurement import lamp_face
from lampkit.uncertainty import budget

CAUTIONS = (
    "Never measure on a road: park on private ground, handbrake on, wheels chocked.",
    "No charging of the battery while you work beside it; rings and watches off; a fuse in the lead at the battery.",
    "Do not look into a bright emitter, lit or about to be lit; look at the display.",
    "Filament lamps are hot for minutes: let them cool before you change them, and do not touch the glass.",
    "Engine off or exhaust led outside; a garage full of fumes kills.",
)
"""What can hurt someone while measuring. Source: common practice, no source."""


@dataclass(frozen=True)
class MeasurementPlan:
    """How to take a pair of readings that shows the difference one wants to see.

    Parameters
    ----------
    distance : float [m]
        From the lamp's face to the meter.
    repeats : int [1]
        How often to read each lamp, putting the meter back in between.
    background : float [lx]
        The greatest background that leaves the goal within reach.
    expected_reading : float [lx]
        What the dimmer lamp will add to the background.
    expected_uncertainty : float [1]
        Relative half-width of the 95 % interval of the ratio that will come out, before the meter's colour response.
    difference : float [1]
        The relative difference that one wants to see.
    possible : bool
        False when the difference cannot be seen with this meter and lamp.
    far_enough : bool
        Whether the inverse square law may be used at that distance.
    card : str
        One page to print.
    """

    distance: float
    repeats: int
    background: float
    expected_reading: float
    expected_uncertainty: float
    difference: float
    possible: bool
    far_enough: bool
    card: str

    def __str__(self) -> str:
        return self.card


def plan_measurement(
    intensity: float,
    *,
    background: float = 1.0,
    resolution: float = 1.0,
    face_diameter: float = 0.1,
    difference: float = 0.2,
    half_angle: float = 30.0,
    position: float = 0.004,
    background_step: float = 0.05,
    repeatability: float = 0.01,
) -> MeasurementPlan:
    """Choose distance, repeats and darkness so that a stated difference between two lamps can be seen.

    Parameters
    ----------
    intensity : float [cd]
        Luminous intensity expected of the dimmer lamp towards the meter.
    background : float [lx]
        What the meter shows with the lamp off.
    resolution : float [lx]
        One step of the meter's last digit.
    face_diameter : float [m]
        Diameter of the lamp's lit face.
    difference : float [1]
        The relative difference that one wants to see: 0.2 is 20 %.
    half_angle : float [deg]
        Angle from the axis at which the beam falls to half.
    position : float [m]
        How well the meter is put back.
    background_step : float [1]
        How much the background moves between two looks at it, relative.
    repeatability : float [1]
        How well a reading repeats, relative.

    Returns
    -------
    MeasurementPlan
        The plan, with the card.

    Raises
    ------
    InputError
        A value is not positive.

    Source: JCGM 100:2008, 5; the defaults are assumptions.
    """
    given = {
        "intensity": intensity,
        "resolution": resolution,
        "face_diameter": face_diameter,
        "difference": difference,
        "half_angle": half_angle,
        "position": position,
        "repeatability": repeatability,
    }
    for key, value in given.items():
        if not (np.isfinite(value) and value > 0):
            raise InputError(f"{value:g} cannot be", key=key, expected="a number above zero")
    if not (np.isfinite(background) and background >= 0 and background_step >= 0):
        raise InputError("the background cannot be negative", key="background", expected="lux, zero or more")
    exponent = float(lamp_face.beam_exponent(half_angle))
    needed = float(lamp_face.diameters_needed(exponent)) * face_diameter
    # from three diameters on, where the correction for the face is still small, to as far as the last digit allows
    distances = np.geomspace(max(3.0 * face_diameter, 0.2), max(20.0 * face_diameter, 5.0), 200)
    counts = np.arange(2, 11)  # one reading alone cannot show that it repeats
    spread = _relative(
        distances[:, np.newaxis], counts, intensity, exponent, face_diameter, background, background_step, resolution,
        position, repeatability,
    )  # fmt: skip
    reached = spread <= difference
    far = distances >= needed
    if np.any(reached & far[:, np.newaxis]):
        reached &= far[:, np.newaxis]
    if np.any(reached):
        column = int(np.argmax(reached.any(axis=0)))
        row = int(np.argmin(np.where(reached[:, column], spread[:, column], np.inf)))
    else:
        row, column = (int(i) for i in np.unravel_index(np.argmin(spread), spread.shape))
    distance = float(np.floor(distances[row] * 100.0) / 100.0)
    repeats = int(counts[column])
    arguments = (distance, repeats, intensity, exponent, face_diameter)
    levels = np.geomspace(1e-2, 1e4, 400)
    with_level = _relative(*arguments, levels, background_step, resolution, position, repeatability)
    fine = levels[with_level <= difference]
    expected = float(_relative(*arguments, background, background_step, resolution, position, repeatability))
    reading = float(intensity / distance**2 * lamp_face.near_field_factor(distance, face_diameter, exponent))
    result = {
        "distance": distance,
        "repeats": repeats,
        "background": float(fine.max()) if fine.size else 0.0,
        "expected_reading": reading,
        "expected_uncertainty": expected,
        "difference": difference,
        "possible": expected <= difference * 1.02,
        "far_enough": bool(lamp_face.far_enough(distance + 0.01, face_diameter, exponent)),
    }
    return MeasurementPlan(**result, card=_card(**result))  # type: ignore[arg-type]


def _relative(
    distance: NDArray[np.float64] | float,
    repeats: NDArray[np.int_] | int,
    intensity: float,
    exponent: float,
    face_diameter: float,
    background: NDArray[np.float64] | float,
    background_step: float,
    resolution: float,
    position: float,
    repeatability: float,
) -> NDArray[np.float64]:
    d = np.asarray(distance, dtype=float)
    net = intensity / d**2 * lamp_face.near_field_factor(d, face_diameter, exponent)
    digit = 2.0 * budget.resolution_uncertainty(resolution) ** 2
    drift = (0.5 * background_step * np.asarray(background, dtype=float)) ** 2
    one = (digit + drift) / net**2 + repeatability**2 + (2.0 * position / d) ** 2
    # two lamps; the offset of face and sensor and the beam's shape near the face stay however often one reads
    steady = (1.0 - lamp_face.near_field_factor(d, face_diameter, exponent)) ** 2 / 4.0 + 2.0 * 0.02**2
    return np.asarray(budget.K_95 * np.sqrt(2.0 * one / np.asarray(repeats) + steady))


def _card(
    *,
    distance: float,
    repeats: int,
    background: float,
    expected_reading: float,
    expected_uncertainty: float,
    difference: float,
    possible: bool,
    far_enough: bool,
) -> str:
    verdict = (
        f"Expect the ratio within {100 * expected_uncertainty:.0f} % (95 %) besides what the meter's "
        f"colour response adds, so a difference of {100 * difference:.0f} % shows."
        if possible
        else f"A difference of {100 * difference:.0f} % CANNOT be seen with this meter and lamp: the ratio comes out "
        f"within {100 * expected_uncertainty:.0f} % at best. Darken the room, or use a meter with finer digits."
    )
    # However dark it need be for the figures, a background above half of the lamp's own light invites slips.
    limit = min(background, 0.5 * expected_reading)
    dark = f"below {limit:.0f} lx" if limit >= 10 else f"below {limit:.2g} lx" if limit > 0 else "as dark as you can"
    face = "" if far_enough else " This is near for the size of the face; write the face's diameter down as well."
    steps = (
        f"Put the meter {distance:.2f} m from the lamp's face, on its axis, facing it. Mark the spot.{face}",
        f"Darken the room until the meter, lamp off, shows {dark}. Keep yourself and your clothes out of the light.",
        "Hold the supply voltage the same for both lamps and write it down; no charging in between.",
        "Switch the lamp on and wait: a minute for a filament, ten for an LED, until the reading stands still.",
        "Read OFF, ON, OFF. Write every digit, the distance and the time. The lamp should add about "
        f"{expected_reading:.3g} lx.",
        f"Do so {repeats} times, putting the meter back each time.",
        "Change the lamp, leave the meter and the lens where they are, and do the same.",
        "Both lamps behind the same lens: a bare coloured LED against a bare filament cannot be compared with a phone.",
        "Dark check: point an infrared remote control at the meter. If it reads, say so in the note.",
    )
    lines = ["HOW TO COMPARE TWO LAMPS", "", verdict, ""]
    lines += [f"{i}. {step}" for i, step in enumerate(steps, start=1)]
    lines += ["", "TAKE CARE", *(f"- {caution}" for caution in CAUTIONS)]
    lines += [
        "",
        "A reading in a garage is no approval: that is for the rules where you drive, and for a licensed tester.",
    ]
    return "\n".join(lines)
