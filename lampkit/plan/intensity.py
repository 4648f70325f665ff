"""From lumens to candela: what a converted lamp sends along its axis, against the published minimum and maximum."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from lampkit.conversion.assessment import Assessment, Ground, Result
from lampkit.measurement.shortfall import beam_of
from lampkit.plan import suitability
from lampkit.plan.agreement import ReadIntensity
from lampkit.plan.suitability import READING_SPREAD as READING_SPREAD
from lampkit.rules import rule_sets
from lampkit.rules.intensity_limits import Requirement
from lampkit.rules.limits import Limit
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief, Draws
from lampkit.vehicle.vehicle import Lamp

TWIN_SPREAD = 0.35
"""Standard deviation of the logarithm of an intensity that was read on the lamp of the other side [1].
Source: an assumption: a second lens and a second reflector of the same age, and the reading itself."""
NO_MAXIMUM = 10.0
"""Greatest intensity over the published minimum that is believed where no maximum is published [1].
Source: an assumption."""


class Against(Enum):
    """Where an interval of candela lies against a published limit."""

    INSIDE = "inside"
    BELOW = "below"
    ABOVE = "above"
    NOT_SETTLED = "not_settled"


@dataclass(frozen=True, eq=False)
class LampIntensity:
    """Intensity of one lamp along its axis [cd], with the filament and with every candidate."""

    lamp: str
    basis: Statement
    measured: bool
    twin: str
    requirement: Requirement
    also: tuple[Requirement, ...]
    today: Requirement | None
    filament: NDArray[np.float64]
    draws: tuple[NDArray[np.float64], ...]
    intervals: tuple[NDArray[np.float64], ...]

    @property
    def every(self) -> tuple[NDArray[np.float64], ...]:
        """List the intervals, that of the filament first."""
        return (self.filament, *self.intervals)

    @property
    def limits(self) -> tuple[tuple[Limit, ...], ...]:
        """List the published limits on the axis, those of the same numbers together."""
        grouped: dict[tuple[float, float], list[Limit]] = {}
        for limit in self.requirement.on_axis:
            grouped.setdefault((limit.low, limit.high), []).append(limit)
        return tuple(tuple(members) for members in grouped.values())

    @property
    def against(self) -> tuple[tuple[Against, ...], ...]:
        """Hold each interval against each of the published limits."""
        return tuple(tuple(_against(limits[0], interval) for limits in self.limits) for interval in self.every)


def _against(limit: Limit, interval: NDArray[np.float64]) -> Against:
    if interval[0] >= limit.low and interval[2] <= limit.high:
        return Against.INSIDE
    if interval[2] < limit.low:
        return Against.BELOW
    return Against.ABOVE if interval[0] > limit.high else Against.NOT_SETTLED


def predict_intensity(
    lamp: Lamp,
    assessment: Assessment,
    rules: str,
    year: int | None = None,
    twin: Lamp | None = None,
    read: Mapping[str, ReadIntensity] = MappingProxyType({}),
    also: Sequence[Lamp] = (),
) -> LampIntensity | None:
    """Predict the intensity of a lamp along its axis with every candidate.

    The filament lamp's own intensity, as read or else as believed of a lamp that kept its published limits when new,
    is multiplied by the ratio of light behind the lens and by the beam ratio: candela for each lumen, LED over
    filament, which depends on where its emitters face and is a belief until a reading replaces it.

    Parameters
    ----------
    lamp : Lamp
        The lamp.
    assessment : Assessment
        Its assessment.
    rules : str
        Whose published limits.
    year : int, optional [1]
        The year of the vehicle, which picks the rule set of a family.
    twin : Lamp, optional
        Its like on the other side: what was read there is the best that is known of it.
    read : mapping of str to ReadIntensity, optional
        By lamp what a log says of its candela with the filament; it wins over the vehicle file.
    also : sequence of Lamp
        The other functions of the same light source: of all their limits the strictest holds.

    Returns
    -------
    LampIntensity or None
        The prediction; None for a lamp that no road rule covers or whose limits the kit does not hold.

    Examples
    --------
    A stop lamp of which the vehicle file states 62 cd with its filament: that is known to 15 %.

    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> found = lk.plan.predict_intensity(van.lamps[0], made.assessments[0], van.rules)
    >>> found.measured, bool(found.filament[0] < 62 < found.filament[2])
    (True, True)

    Source: definition of intensity; the limits as each names its own source.
    """
    held_to = rule_sets.in_force(rules, year).name
    required = suitability.limits_of_intensity(lamp, held_to)
    if required is None:
        return None
    known = lamp.name in read or lamp.intensity is not None
    n, seed, weights = len(assessment.garage), assessment.garage.seed, assessment.garage.weights
    basis, filament = _filament(lamp, required, twin, read, n, seed)
    drawn = tuple(filament * _gain(result, lamp, assessment.garage) for result in assessment.results)
    return LampIntensity(
        lamp=lamp.name,
        basis=basis,
        measured=known,
        twin="" if known or twin is None or not (twin.name in read or twin.intensity is not None) else twin.name,
        requirement=required,
        also=tuple(found for one in also if (found := suitability.limits_of_intensity(one, held_to)) is not None),
        today=None if held_to == rules else suitability.limits_of_intensity(lamp, rules),
        filament=sampling.interval(filament, weights),
        draws=drawn,
        intervals=tuple(sampling.interval(values, weights) for values in drawn),
    )


def _gain(result: Result, lamp: Lamp, garage: Draws) -> NDArray[np.float64]:
    if result.ground is not Ground.PREDICTED:
        return result.draws["ratio"]  # towards the meter, the beam included
    owner, beam = f"{result.source.name} in {lamp.name}", beam_of(result.source)
    # What readings taught of the beam stands in the garages.
    drawn = garage.values.get((owner, beam.name))
    if drawn is None:
        # One article in one holder has one beam, whichever of its levels is lit.
        offer = next((o for o in lamp.candidates if o.name == result.source.name), None)
        article = result.source.name if offer is None else offer.dim_level_of or offer.name
        shared = f"{article} in {lamp.holder or lamp.name}"
        drawn = beam.value(sampling.standard_normal(garage.seed, shared, beam.name, len(garage)))
    return result.draws["ratio"] * drawn


def _filament(
    lamp: Lamp, required: Requirement, twin: Lamp | None, read: Mapping[str, ReadIntensity], n: int, seed: int
) -> tuple[Statement, NDArray[np.float64]]:
    """Give what is known of the candela with the filament, and the draws of it."""
    if lamp.name in read:
        low, middle, high = (float(limit) for limit in read[lamp.name].intensity)
        return say("basis.log", low=low, middle=middle, high=high), read[lamp.name].draws
    if lamp.intensity is None and twin is not None and twin.name in read:
        known = read[twin.name]
        # Two lamps of one holder share lens and reflector, and so what sets them apart from those of the other side.
        z = sampling.standard_normal(seed, f"lamp {lamp.holder or lamp.name}", "twin", n)
        low, middle, high = (float(limit) for limit in known.intensity)
        said = say("basis.log_of_twin", low=low, middle=middle, high=high, twin=twin.name)
        return said, known.draws * np.exp(TWIN_SPREAD * z)
    basis, belief = _filament_belief(lamp, required, twin)
    return basis, belief.value(sampling.standard_normal(seed, f"lamp {lamp.name}", belief.name, n))


def _filament_belief(lamp: Lamp, required: Requirement, twin: Lamp | None) -> tuple[Statement, Belief]:
    if lamp.intensity is not None:
        return say("basis.read", intensity=lamp.intensity), suitability.stated_intensity(lamp.intensity)
    if twin is not None and twin.intensity is not None:
        believed = suitability.stated_intensity(twin.intensity, TWIN_SPREAD)
        return say("basis.twin", intensity=twin.intensity, twin=twin.name), believed
    low = required.minimum.low
    high = max((limit.high for limit in required.on_axis if limit.quantity == "maximum"), default=np.inf)
    high = high if np.isfinite(high) else NO_MAXIMUM * low
    belief = Belief(
        "intensity with the filament",
        float(np.sqrt(low * high)),
        float(np.log(high / low) / 3.92),
        "cd",
        "an assumption: a lamp that kept its published limits when new",
        "lognormal",
    )
    return say("basis.assumed", span=say("basis.span", low=low, high=high)), belief
