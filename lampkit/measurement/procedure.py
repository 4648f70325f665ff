"""Before measuring: where to put the meter, how often to read, how dark it must be, on one page to take along."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError
from lampkit.measurement import colour_response, lamp_face, meters
from lampkit.measurement.measurement_model import Measurement
from lampkit.measurement.meters import Infrared, MeterFacts, MeterKind
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import budget

if TYPE_CHECKING:
    from lampkit.measurement.fair_ratio import FairRatio

DARK = 0.05
"""Background over the light of the lamp that a reading should have at most [1]. Source: common practice, no source."""


@cache
def _mismatch(kind: MeterKind | None = None, **told: Any) -> float:
    """Give the spread that the colour response of a meter adds to a ratio behind a red or amber lens."""
    return colour_response.generic_mismatch(meters.meter_of(MeterFacts(kind, **told))).spread


class MeasuringHazard(Enum):
    """What can hurt someone while measuring. Source: common practice, no source."""

    TRAFFIC = "traffic"
    BATTERY = "battery"
    BRIGHT_LIGHT = "bright_light"
    HOT_LAMPS = "hot_lamps"
    FUMES = "fumes"


@dataclass(frozen=True)
class MeasurementPlan:
    """How to take a pair of readings that shows the difference one wants to see."""

    distance: float
    repeats: int
    background: float
    expected_reading: float
    expected_uncertainty: float
    difference: float
    possible: bool
    far_enough: bool
    with_phone: float
    with_lux_meter: float
    with_class_b: float

    @property
    def verdict(self) -> Statement:
        """Whether the difference shows, and how well the ratio will be known, the meter's colour response included."""
        told = {"difference": self.difference, "uncertainty": self.expected_uncertainty}
        if not self.possible:
            return say("procedure.cannot_show", **told)
        return say(
            "procedure.shows",
            phone=self.with_phone,
            lux_meter=self.with_lux_meter,
            class_b=self.with_class_b,
            shows_phone=self.with_phone <= self.difference,
            shows_lux_meter=self.with_lux_meter <= self.difference,
            **told,
        )

    @property
    def steps(self) -> tuple[Statement, ...]:
        """What to do, one after the other."""
        most = min(self.background, DARK * self.expected_reading)
        return (
            say("procedure.place", distance=self.distance, far_enough=self.far_enough),
            say("procedure.darken", most=most),
            say("procedure.supply"),
            say("procedure.wait"),
            say("procedure.read", reading=self.expected_reading),
            say("procedure.repeat", repeats=self.repeats),
            say("procedure.change_lamp"),
            say("procedure.same_lens"),
            say("procedure.infrared"),
        )

    @property
    def cautions(self) -> tuple[Statement, ...]:
        """What can hurt someone while measuring."""
        return tuple(named(hazard) for hazard in MeasuringHazard)

    def __str__(self) -> str:
        return "\n".join(f"{sign} {line}".strip() for sign, line in card_lines(self))


BOUNDS = {
    "intensity": (0.001, 1e6, " cd"),
    "background": (0.0, 1e5, " lx"),
    "resolution": (1e-6, 1e4, " lx"),
    "face_diameter": (0.001, 10.0, " m"),
    "difference": (0.001, 10.0, ""),
    "half_angle": (1.0, 89.0, " deg"),
    "position": (1e-6, 1.0, " m"),
    "background_step": (0.0, 10.0, ""),
    "repeatability": (1e-6, 1.0, ""),
}
"""Between what a lamp, a meter and a garage lie. Source: own judgement."""


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
        The plan; printed, a card to take along.

    Raises
    ------
    InputError
        A value is beyond what a lamp, a meter or a garage can have.

    Examples
    --------
    To see 15 % at 20 cd.

    >>> import lampkit as lk
    >>> plan = lk.measurement.plan_measurement(20, face_diameter=0.08, difference=0.15)
    >>> plan.possible, plan.repeats
    (True, 2)
    >>> print(plan.steps[0])
    Put the meter 0.8 m from the lamp's face, on its axis, facing it. Mark the spot.

    Source: JCGM 100:2008, 5; the defaults are assumptions.
    """
    for key, value in locals().copy().items():
        least, most, unit = BOUNDS[key]
        if not least <= value <= most:
            raise InputError(f"{value:g} cannot be", key=key, expected=f"{least:g} to {most:g}{unit}")
    exponent = float(lamp_face.beam_exponent(half_angle))
    needed = float(lamp_face.diameters_needed(exponent)) * face_diameter
    # from three diameters on, where the correction for the face is still small, to as far as the last digit allows
    distances = np.geomspace(max(3.0 * face_diameter, 0.2), max(20.0 * face_diameter, 5.0), 200)
    counts = np.arange(2, 11)  # one reading alone cannot show that it repeats

    def net(d: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(intensity / np.square(d) * lamp_face.near_field_factor(d, face_diameter, exponent))

    def spread(d: ArrayLike, repeats: ArrayLike, level: ArrayLike = background) -> NDArray[np.float64]:
        """Half-width of 95 % of the ratio of two lamps, the meter's colour response left out."""
        digit = 2.0 * budget.resolution_uncertainty(resolution) ** 2
        drift = np.square(0.5 * background_step * np.asarray(level))
        one = (digit + drift) / net(d) ** 2 + repeatability**2 + np.square(2.0 * position / np.asarray(d))
        # two lamps; the offset of face and sensor and the beam's shape near the face stay however often one reads
        steady = (1.0 - lamp_face.near_field_factor(d, face_diameter, exponent)) ** 2 / 4.0 + 2.0 * 0.02**2
        return np.asarray(budget.K_95 * np.sqrt(2.0 * one / np.asarray(repeats) + steady))

    each = spread(distances[:, np.newaxis], counts)
    reached = each <= difference
    far = distances >= needed
    if np.any(reached & far[:, np.newaxis]):
        reached &= far[:, np.newaxis]
    if np.any(reached):
        column = int(np.argmax(reached.any(axis=0)))
        row = int(np.argmin(np.where(reached[:, column], each[:, column], np.inf)))
    else:
        row, column = (int(i) for i in np.unravel_index(np.argmin(each), each.shape))
    distance = float(np.floor(distances[row] * 100.0) / 100.0)
    repeats = int(counts[column])
    levels = np.geomspace(1e-2, 1e4, 400)
    fine = levels[spread(distance, repeats, levels) <= difference]
    expected = float(spread(distance, repeats))
    colour = [_mismatch(), _mismatch(MeterKind.LUX_METER), _mismatch(MeterKind.LUX_METER, meter_class="B")]
    phone, lux_meter, class_b = np.hypot(expected, budget.K_95 * np.array(colour))
    return MeasurementPlan(
        distance=distance,
        repeats=repeats,
        background=float(fine.max()) if fine.size else 0.0,
        expected_reading=float(net(distance)),
        expected_uncertainty=expected,
        difference=difference,
        possible=expected <= difference * 1.02,
        far_enough=bool(lamp_face.far_enough(distance + 0.01, face_diameter, exponent)),
        with_phone=float(phone),
        with_lux_meter=float(lux_meter),
        with_class_b=float(class_b),
    )


NextStep = Enum("NextStep", "CLOSER REPEAT SUPPLY INFRARED LUX_METER", module=__name__)
"""What may make a ratio surer the next time."""


WORTH, MOST_STEPS = 0.93, 2
"""Share of its width that an interval keeps below which a step is worth telling, and how many are told [1]. Source: own
judgement."""


def next_steps(model: Measurement, ratios: Sequence["FairRatio"], facts: MeterFacts | None) -> list[Statement]:
    """Say what to do next for the ratio that is nearest to being decided, and which interval each step would leave.

    Source: JCGM 100:2008, 5.1.2: each cause of the budget is scaled by what the step leaves of its variance.
    """

    def room(one: "FairRatio") -> float:
        return float(abs(np.log(one.ratio[1])) / np.log(one.ratio[2] / one.ratio[0]))

    bounded = [one for one in ratios if not one.unbounded and one.ratio[0] > 0]
    if not bounded:
        return []
    undecided = [one for one in bounded if one.ratio[0] < 1 < one.ratio[2]]
    found = max(undecided, key=room) if undecided else min(bounded, key=room)
    lamp, limits = found.lamp, found.ratio
    read = [model.groups[lamp, found.old], model.groups[lamp, found.new]]
    distance, repeats = min(r.distance for group in read for r in group), min(len(group) for group in read)
    better = _mismatch(infrared=Infrared.NONE), _mismatch(MeterKind.LUX_METER, meter_class="B")
    phone, lux_meter = np.square(better) / max(colour_response.generic_mismatch(model.meter).spread, 1e-9) ** 2
    told_of = facts or MeterFacts(MeterKind.LUX_METER, meter_class="L")
    # Half as far there is four times the light; where the face is near, its form would count instead.
    closer = dict.fromkeys(("last digit", "background drift", "shared drift"), 1 / 16) | {"position": 4.0}
    steady = (0.03 / 0.12) ** 2  # what a multimeter leaves of a battery's drift
    steps = {
        NextStep.CLOSER: (distance >= max(0.4, 6.0 * model.faces[lamp].typical), closer),
        NextStep.REPEAT: (repeats < 3, dict.fromkeys(("repeatability", "background drift"), repeats / 3)),
        NextStep.SUPPLY: (True, dict.fromkeys(("supply drift", "voltage exponent"), steady)),
        NextStep.INFRARED: (
            told_of.kind is not MeterKind.LUX_METER and told_of.infrared is Infrared.NOT_TRIED,
            {"spectral mismatch": phone},
        ),
        NextStep.LUX_METER: (told_of.meter_class is None, {"spectral mismatch": lux_meter}),
    }
    squares = found.budget.by_cause()
    said = []
    for step, (open_to, scale) in steps.items():
        left = float(np.sqrt(sum(v * scale.get(cause, 1.0) for cause, v in squares.items()) / sum(squares.values())))
        if open_to and left < WORTH:
            then = limits[1] * (limits / limits[1]) ** left
            decides = bool(limits[0] < 1 < limits[2] and not then[0] < 1 < then[2])
            which = say("next_step.of_pair", lamp=lamp, new=found.new) if len(ratios) > 1 else ""
            told = {"now": limits, "then": then, "decides": decides}
            said.append((left, say("next_step.told", step=named(step), which=which, **told)))
    return [statement for _, statement in sorted(said, key=lambda one: one[0])[:MOST_STEPS]]


def card_lines(plan: MeasurementPlan) -> list[tuple[str, str]]:
    """List the lines of one page to take along, each behind its number or sign, and empty ones between its parts."""
    steps = [(f"{i}.", str(step)) for i, step in enumerate(plan.steps, start=1)]
    cautions = [("-", str(caution)) for caution in plan.cautions]
    gap = [("", "")]
    head = [("", str(say("procedure.title")).upper()), *gap, ("", str(plan.verdict)), *gap]
    care = [*gap, ("", str(say("procedure.take_care")).upper()), *cautions, *gap]
    return [*head, *steps, *care, ("", str(say("procedure.no_approval")))]
