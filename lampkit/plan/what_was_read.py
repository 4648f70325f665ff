"""What was read replaces what was assumed: ratio, lens and candela of a lamp, of its twin, and of lamps of one lens."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lampkit import conversion
from lampkit.conversion.assessment import Assessment, Ground, Result
from lampkit.plan.agreement import Confrontation, Finding
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.vehicle.vehicle import Lamp, Vehicle

TWIN_RATIO_SPREAD = 0.15
"""Standard deviation of the logarithm of a ratio that was read in the lamp of the other side [1].
Source: an assumption: two light sources of one make, and a second reflector of the same age."""


@dataclass(frozen=True, eq=False)
class ReadIntensity:
    """What a log says of the candela of a lamp with its filament, or of its like on the other side."""

    lamp: str
    intensity: NDArray[np.float64]
    draws: NDArray[np.float64]


def intensities_read(found: Confrontation | None) -> dict[str, ReadIntensity]:
    """Give by lamp the candela with the filament that its log says."""
    if found is None:
        return {}
    read: dict[str, ReadIntensity] = {}
    for finding in found.findings:
        ratio = finding.ratio
        if ratio.intensity_old[0] > 0 and np.isfinite(ratio.intensity_old[2]):
            read.setdefault(ratio.lamp, ReadIntensity(ratio.lamp, ratio.intensity_old, ratio.old_draws))
    for name, candela in found.old_alone.items():
        interval = sampling.interval_by_order(candela)
        if interval[0] > 0:
            read.setdefault(name, ReadIntensity(name, interval, candela))
    return read


def file_and_log(vehicle: Vehicle, read: Mapping[str, ReadIntensity]) -> tuple[Statement, ...]:
    """Say where the vehicle file and the log both tell the candela of a lamp, and whether they agree."""
    said = []
    for lamp in vehicle.lamps:
        if lamp.intensity is None or lamp.name not in read:
            continue
        low, middle, high = (float(limit) for limit in read[lamp.name].intensity)
        told = {"lamp": lamp.name, "file": lamp.intensity, "low": low, "middle": middle, "high": high}
        said.append(say("readings.file_and_log", agree=low <= lamp.intensity <= high, **told))
    return tuple(said)


def replaced(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    found: Confrontation | None,
    twins: Mapping[str, Lamp],
    seed: int,
) -> tuple[Assessment, ...]:
    """Give the assessments with what was read in place of what was assumed.

    A lens that was read fitted and removed is known in every lamp that has it. A ratio that was read stands in its lamp
    as it was read, and in its twin with the spread between twins.
    """
    if found is None:
        return tuple(assessments)
    learnt = {lamp.name: known for lamp in vehicle.lamps for known in found.lenses if known.lens is lamp.lens}
    by_pair = {(f.ratio.lamp, f.ratio.new): f for f in found.findings if not f.ratio.unbounded}
    predicted = {before.name: before for before in assessments}
    done = {id(predicted[known.lamp].old): known.assessment for known in found.lenses}
    made = []
    lamps = {lamp.name: lamp for lamp in vehicle.lamps}
    for before in assessments:
        now, lamp = before, lamps[before.name]
        if lamp.name in learnt:
            key = id(before.old)
            if key not in done:
                done[key] = learnt[lamp.name].again(before)
            now = replace(done[key], name=lamp.name)
        results = []
        for result in now.results:
            own = by_pair.get((lamp.name, result.source.name))
            other = by_pair.get((twins[lamp.name].name, result.source.name)) if lamp.name in twins else None
            if own is not None:
                result = _as_read(now, result, own, 0.0, Ground.READ, seed)
            elif other is not None:
                result = _as_read(now, result, other, TWIN_RATIO_SPREAD, Ground.READ_ON_TWIN, seed)
            results.append(result)
        unchanged = all(a is b for a, b in zip(results, now.results, strict=True))
        made.append(now if unchanged else replace(now, results=tuple(results)))
    return tuple(made)


def _as_read(
    assessment: Assessment, result: Result, finding: Finding, spread: float, ground: Ground, seed: int
) -> Result:
    """Put a ratio that was read in place of the predicted one; what flashes in use is cooler than when it was read."""
    draws = finding.ratio.draws
    told = draws[np.isfinite(draws) & (draws > 0)]
    ratio = np.clip(draws, told.min(), told.max()) / result.draws["read over used"]
    if spread:
        owner = f"{result.source.name} in {assessment.name}"
        ratio = ratio * np.exp(spread * sampling.standard_normal(seed, owner, "ratio of twins", len(ratio)))
    k = finding.blame.draws[0] if finding.blame.split else None
    return conversion.assessment.with_ratio(assessment, result, ratio, ground, k=k)
