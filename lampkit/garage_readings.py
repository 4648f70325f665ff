"""The readings in a vehicle's folder beside the prediction: do they agree, and if not, what is to blame."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lampkit import conversion, illuminance_log, readings, shortfall, uncertainty
from lampkit.conversion import Assessment, Result
from lampkit.errors import InputError, nearest
from lampkit.readings import Comparison, FairRatio
from lampkit.shortfall import Blame
from lampkit.vehicle import Vehicle

FILE = "readings.csv"
"""The name of the log in a vehicle's folder. Source: the kit's own convention."""

FILAMENT_WORDS = ("filament", "bulb", "old")
"""What the log may call the lamp that the vehicle came with. Source: the kit's own convention."""


@dataclass(frozen=True, eq=False)
class Finding:
    """One measured ratio beside its prediction.

    Parameters
    ----------
    ratio : FairRatio
        What was measured.
    predicted : ndarray, shape (3,) [1]
        The predicted ratio of intensity: light behind the lens times the beam ratio.
    normalised_error : float [1]
        E_n, within one when the two agree.
    sentence : str
        Whether they agree, in plain words.
    blame : Blame or None
        How the measured ratio splits into lens, lumens and beam; None where no belief explains it.

    Source: ISO/IEC 17043 for E_n (from memory).
    """

    ratio: FairRatio
    predicted: NDArray[np.float64]
    normalised_error: float
    sentence: str
    blame: Blame | None


@dataclass(frozen=True, eq=False)
class Confrontation:
    """All readings of a vehicle's folder beside the prediction.

    Parameters
    ----------
    comparison : Comparison
        What the log says by itself.
    findings : tuple of Finding
        Each measured ratio with its prediction.
    remarks : tuple of str
        What was mended, assumed or left out.

    Source: the kit's own convention.
    """

    comparison: Comparison
    findings: tuple[Finding, ...]
    remarks: tuple[str, ...]


def confront(vehicle: Vehicle, assessments: Sequence[Assessment], *, seed: int = 1) -> Confrontation | None:
    """Hold the log of a vehicle's folder against what was predicted from the same draws.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    assessments : sequence of Assessment
        One for each lamp.
    seed : int [1]
        The seed.

    Returns
    -------
    Confrontation or None
        What came of it; None when the folder holds no log.

    Raises
    ------
    InputError
        The log cannot be used, or it names a lamp or a light source that the vehicle file does not know.

    Source: JCGM 101:2008; Bayes' rule by weights for the split.
    """
    path = vehicle.file.parent / FILE
    if not path.is_file():
        return None
    log = illuminance_log.load(path)
    by_lamp = {assessment.name: assessment for assessment in assessments}
    light = {}
    found: dict[tuple[str, str], tuple[Assessment, Result]] = {}
    for reading in log.readings:
        if reading.lamp not in by_lamp:
            raise InputError(
                f"the vehicle has no lamp '{reading.lamp}'",
                file=log.file,
                line=reading.line,
                key="lamp",
                expected=nearest(reading.lamp, by_lamp),
            )
        result = _result(by_lamp[reading.lamp], reading.source)
        if result is None:
            offered = [r.source.name for r in by_lamp[reading.lamp].results]
            raise InputError(
                f"'{reading.source}' is not among the light sources of {reading.lamp}",
                file=log.file,
                line=reading.line,
                key="source",
                expected=nearest(reading.source, ["filament", *offered]),
            )
        key = (reading.lamp, reading.source)
        light[key] = result.spectrum_through
        found[key] = by_lamp[reading.lamp], result
    draws = len(assessments[0].garage)
    comparison = readings.compare(log, light=light, draws=draws, seed=seed)
    findings = tuple(_finding(ratio, *found[ratio.lamp, ratio.new], seed) for ratio in comparison.ratios)
    return Confrontation(comparison, findings, comparison.remarks)


def _result(assessment: Assessment, source: str) -> Result | None:
    if source == assessment.old.source.name or any(word in source.lower().split() for word in FILAMENT_WORDS):
        return assessment.old
    return next((r for r in assessment.results if r.source.name == source), None)


def _finding(ratio: FairRatio, assessment: Assessment, result: Result, seed: int) -> Finding:
    garage = assessment.garage
    owner = f"{result.source.name} in {assessment.name}"
    belief = shortfall.beam_belief(result.source.layout)
    beam = belief.value(uncertainty.standard_normal(seed, owner, belief.name, len(garage)))
    predicted = uncertainty.interval(result.draws["ratio"] * beam, garage.weights)
    number, sentence = shortfall.agreement(ratio.ratio, predicted)
    lumens = [
        r.source.luminous_flux * garage.of(r.source.name)[conversion.TRUE_OVER_CLAIMED]
        for r in (result, assessment.old)
    ]
    try:
        split = shortfall.blame(
            ratio.uncorrected,
            result.draws["k"],
            lumens[0] / lumens[1],
            beam,
            mismatch=ratio.mismatch,
            weights=garage.weights,
            seed=seed,
            owner=owner,
        )
    except InputError:
        split = None
    return Finding(ratio, predicted, number, sentence, split)
