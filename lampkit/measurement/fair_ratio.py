"""From a phone's lux numbers to a fair ratio of two lamps: candela, intervals, and what each cause contributes."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import show
from lampkit.errors import InputError
from lampkit.measurement import colour_response, measurement_model, meters, old_lamp, procedure, shortfall
from lampkit.measurement.colour_response import ColourResponse
from lampkit.measurement.illuminance_log import IlluminanceLog, Reading, load_log
from lampkit.measurement.measurement_model import AFTERNOON, Measurement
from lampkit.measurement.meters import Meter
from lampkit.measurement.old_lamp import OldLamp, OldLampGround
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import budget, sampling
from lampkit.uncertainty.budget import Budget
from lampkit.uncertainty.sampling import Belief

if TYPE_CHECKING:
    import pandas as pd


class LightAnswer(Enum):
    """Whether a new source gives less or more light than the old one, as measured."""

    LESS = "less"
    AS_MUCH = "as_much"
    MORE = "more"


MOST_REPEATS = 200
"""Readings of one light source in one lamp that a comparison takes [1]. Source: own judgement; the time goes with their
square, and what repeats do not tell, distance, meter and aim, is by then the most of what is unsure."""


@dataclass(frozen=True, eq=False)
class FairRatio:
    """How much light a new source gives for that of the old, in one lamp, as measured.

    Parameters
    ----------
    lamp, old, new : str
        The lamp and the two sources.
    ratio : ndarray, shape (3,) [1]
        Lower limit, median and upper limit of new over old; the upper limit may be infinite.
    naive : float [1]
        What dividing the raw readings would have said.
    intensity_old, intensity_new : ndarray, shape (3,) [cd]
        Luminous intensity towards the meter.
    fieller : ndarray, shape (3,) [1]
        The cross-check by Fieller's interval.
    budget : Budget
        The cross-check to first order, and what contributes.
    unbounded : bool
        True when the old lamp's light cannot be told from the background.
    uncorrected : ndarray, shape (3,) [1]
        The ratio before the correction for the meter's colour response.
    mismatch : ndarray, shape (n,) [1]
        That correction, draw by draw.
    draws : ndarray, shape (n,) [1]
        The ratio, draw by draw.
    colour_response : ColourResponse or None
        How far to trust the meter's colour response here; None where the light was not given.
    old_draws : ndarray, shape (n,) [cd]
        Luminous intensity of the old lamp, draw by draw; readings of one meter share its errors.

    Examples
    --------
    The invented readings of the library van: the first ratio, and what dividing the raw readings would have said.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> ratio = lk.measurement.compare_readings(str(path), draws=500).ratios[0]
    >>> bool(ratio.ratio[0] < ratio.ratio[1] < ratio.ratio[2])
    True

    Source: JCGM 100:2008 and JCGM 101:2008.
    """

    lamp: str
    old: str
    new: str
    ratio: NDArray[np.float64]
    naive: float
    intensity_old: NDArray[np.float64]
    intensity_new: NDArray[np.float64]
    fieller: NDArray[np.float64]
    budget: Budget
    unbounded: bool
    uncorrected: NDArray[np.float64]
    mismatch: NDArray[np.float64]
    draws: NDArray[np.float64]
    colour_response: ColourResponse | None
    old_draws: NDArray[np.float64]

    @property
    def answer(self) -> LightAnswer:
        """Whether the new source gives less or more light; as much where the ratio is one within a twentieth."""
        if abs(np.log(max(float(self.ratio[1]), 1e-9))) < shortfall.EVEN:
            return LightAnswer.AS_MUCH
        return LightAnswer.LESS if self.ratio[1] < 1 else LightAnswer.MORE

    @property
    def chance(self) -> float:
        """Chance that the answer holds; of as much light the greater one of less and more [1]."""
        less = float(np.mean(self.draws < 1.0))
        return {LightAnswer.LESS: less, LightAnswer.MORE: 1.0 - less}.get(self.answer, max(less, 1.0 - less))

    @property
    def light(self) -> Statement:
        """The answer with its chance, in a few words."""
        chance = None if self.answer is LightAnswer.AS_MUCH else self.chance
        return say("fair_ratio.light", answer=named(self.answer), chance=chance)

    @property
    def sentence(self) -> Statement:
        """The answer, the ratio with its interval, or why it has no upper limit."""
        low, middle, high = (float(limit) for limit in self.ratio)
        if self.unbounded:
            return say("fair_ratio.no_upper_limit", lamp=self.lamp, old=self.old, new=self.new, low=low)
        return say(
            "fair_ratio.ratio",
            lamp=self.lamp,
            old=self.old,
            new=self.new,
            light=self.light,
            low=low,
            middle=middle,
            high=high,
            naive=self.naive,
        )


@dataclass(frozen=True, eq=False)
class Comparison:
    """All fair ratios that a log allows.

    Parameters
    ----------
    ratios : tuple of FairRatio
        One for each lamp and new source.
    old_lamps : tuple of OldLamp
        Which source was taken as the old one in each lamp, and why.
    remarks : tuple of Statement
        What was mended, assumed, or cannot be said.
    seed : int [1]
        The seed.

    Examples
    --------
    Which source of the library van was taken as the old one, and why.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> found = lk.measurement.compare_readings(str(path), draws=500)
    >>> found.old_lamps[0].source, found.old_lamps[0].ground.value
    ('filament', 'named')
    """

    ratios: tuple[FairRatio, ...]
    old_lamps: tuple[OldLamp, ...]
    remarks: tuple[Statement, ...]
    seed: int

    def table(self) -> "pd.DataFrame":
        """List the ratios."""
        import pandas as pd

        return pd.DataFrame(
            {
                "lamp": r.lamp,
                "old": r.old,
                "new": r.new,
                "old_cd": r.intensity_old[1],
                "new_cd": r.intensity_new[1],
                "ratio": r.ratio[1],
                "ratio_low": r.ratio[0],
                "ratio_high": r.ratio[2],
                "naive_ratio": r.naive,
            }
            for r in self.ratios
        )

    def __repr__(self) -> str:
        return "\n".join(str(said) for said in (*(r.sentence for r in self.ratios), *self.remarks))

    def _repr_html_(self) -> str:
        shown = self.table().rename(columns=_HEADINGS)
        for name in ("old_cd", "new_cd"):
            shown[_HEADINGS[name]] = [f"{value:.2g}" if value < 10 else f"{value:.0f}" for value in self.table()[name]]
        # What the table says already is not said again; a ratio without an upper limit says what to do.
        return show.written(shown, [*(r.sentence for r in self.ratios if r.unbounded), *self.remarks])


_HEADINGS = {
    "old_cd": "old [cd]",
    "new_cd": "new [cd]",
    "ratio": "fair ratio [1]",
    "ratio_low": "at least [1]",
    "ratio_high": "at most [1]",
    "naive_ratio": "raw readings divided [1]",
}


def compare_readings(
    log: IlluminanceLog | str,
    *,
    old: str | None = None,
    light: Mapping[tuple[str, str], ArrayLike] | None = None,
    meter: Meter | None = None,
    leds: Collection[str] = (),
    feeds: Mapping[str, str] = {},
    running_voltage: float | None = None,
    face_diameter: float | None = None,
    afternoon: Iterable[Belief] = AFTERNOON,
    draws: int = 4000,
    seed: int = 1,
) -> Comparison:
    """Compare the sources in each lamp fairly: net of background, at one distance, for the eye, with an interval.

    Parameters
    ----------
    log : IlluminanceLog or str
        The log, or the path of one.
    old : str, optional
        Name of the old source; when left out the one whose name has the word old, filament or bulb or the designation
        of a filament lamp, or else the first of each lamp.
    light : mapping of (lamp, source) to array_like, shape (471,) or (draws, 471), optional [W/nm]
        The light that reaches the meter, after the lens, typical or draw by draw (see `light_at_meter`), on the grid or
        on every fifth wavelength of it. Without it the meter's colour response is taken as `generic_mismatch` has it.
    meter : Meter, optional
        The meter; as the log tells, or else a phone of unknown responsivity, when left out.
    leds : collection of str
        Sources that are known to be no filament lamps, whatever their names have in them, as in 'white P21W'.
    feeds : mapping of str to str, optional
        Of sources by their name in the log what limits their current, 'regulated' or 'resistor', as far as it is known.
    running_voltage : float, optional [V]
        To which voltage the light is brought where each reading tells its own; 13.5 V in a vehicle of 12 V.
    face_diameter : float, optional [m]
        Diameter of the lit face, for the near-field correction; what is believed of signal lamps when left out.
    afternoon : iterable of Belief
        What is believed of distance, aim, repeatability and background.
    draws : int [1]
        How many possible garages.
    seed : int [1]
        The seed.

    Returns
    -------
    Comparison
        The ratios.

    Raises
    ------
    InputError
        The log cannot be used, or holds nothing to compare.

    Examples
    --------
    The invented readings of the library van: the same seed gives the same numbers.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> once, again = (lk.measurement.compare_readings(str(path), draws=500, seed=7).ratios[0] for _ in range(2))
    >>> once.old, once.new
    ('filament', 'red LED A')
    >>> bool((once.ratio == again.ratio).all())
    True

    Source: JCGM 101:2008; inverse square and cosine laws of CIE S 017:2020; mismatch correction of ISO/CIE 19476.
    """
    log = load_log(log) if isinstance(log, str) else log
    sensor = meters.meter_of(log.facts) if meter is None else meter
    groups = _by_place_and_source(log)
    pairs, old_lamps, remarks = old_lamp.pairs(log, groups, old, leds)
    # What was only asked for as the old lamp may be anything.
    known_old = [one for one in old_lamps if one.ground is not OldLampGround.ASKED_FOR]
    exponents = {one.source: measurement_model.FILAMENT_EXPONENT for one in known_old}
    exponents |= dict.fromkeys(leds, measurement_model.LED_EXPONENT)
    exponents |= {name: _FEEDS[feed] for name, feed in feeds.items() if feed in _FEEDS}
    model = measurement_model.measurement(
        groups,
        {b.name: b for b in afternoon},
        sensor,
        face_diameter,
        one_range=log.facts.one_range,
        exponents=exponents,
        running_voltage=running_voltage,
    )
    shared = measurement_model.draw(model, (), draws, seed)
    corrections, leak = colour_response.corrections(groups, light, sensor, shared)
    results = tuple(_fair_ratio(model, *pair, corrections, leak, seed, draws) for pair in pairs)
    compared = {(lamp, source) for lamp, *both in pairs for source in both}
    for group in groups:
        if group not in compared:
            shown = np.maximum(
                measurement_model.intensity(model, group, measurement_model.draw(model, (group,), draws, seed)), 0
            )
            candela = sampling.interval_by_order(shown * _correction(model, group, corrections, seed, draws))
            remarks.append(say("fair_ratio.alone", lamp=group[0], source=group[1], candela=candela))
    if corrections is None:
        low, high = colour_response.generic_mismatch(sensor).value(budget.K_95 * np.array([-1.0, 1.0])) - 1.0
        remarks.append(say("fair_ratio.light_not_given", low=float(-low), high=float(high)))
    elif results:
        worst = max(results, key=lambda r: float(np.std(np.log(r.mismatch))))
        assert worst.colour_response is not None, "the light was given"
        said = worst.colour_response.advice
        of_worst = say("fair_ratio.at_worst", lamp=worst.lamp, new=worst.new, advice=said)
        remarks.append(said if len(results) == 1 else of_worst)
    supply = {"noted": [r.supply for r in log.readings], "running": model.running_voltage}
    unsaid = say("fair_ratio.supply_not_noted")
    remarks.append(say("fair_ratio.supply_noted", **supply) if model.supply_noted else unsaid)
    if log.facts.kind is None and meter is None:
        remarks.append(say("fair_ratio.meter_not_told"))
    remarks += [measurement_model.meter_distance(model), *old_lamp.tell(old_lamps)]
    steps = procedure.next_steps(model, results, log.facts if meter is None else None)
    return Comparison(results, tuple(old_lamps), (*steps, *log.remarks, *remarks), seed)


def read_intensities(
    log: IlluminanceLog,
    light: Mapping[tuple[str, str], ArrayLike],
    *,
    filaments: Iterable[str],
    running_voltage: float | None = None,
    afternoon: Iterable[Belief] = AFTERNOON,
    draws: int = 4000,
    seed: int = 1,
) -> dict[tuple[str, str], NDArray[np.float64]]:
    """Give the candela towards the meter of each source in each lamp, draw by draw; one meter's errors are shared.

    Source: JCGM 101:2008; inverse square and cosine laws of CIE S 017:2020.
    """
    groups, sensor = _by_place_and_source(log), meters.meter_of(log.facts)
    model = measurement_model.measurement(
        groups,
        {b.name: b for b in afternoon},
        sensor,
        None,
        one_range=log.facts.one_range,
        exponents=dict.fromkeys(filaments, measurement_model.FILAMENT_EXPONENT),
        running_voltage=running_voltage,
    )
    corrections, _ = colour_response.corrections(groups, light, sensor, measurement_model.draw(model, (), draws, seed))
    assert corrections is not None, "the light was given"
    shown = {
        group: measurement_model.intensity(model, group, measurement_model.draw(model, (group,), draws, seed))
        for group in groups
    }
    return {group: np.maximum(found, 0.0) * corrections[group] for group, found in shown.items()}


def _correction(
    model: Measurement,
    group: tuple[str, str],
    corrections: Mapping[tuple[str, str], NDArray[np.float64]] | None,
    seed: int,
    draws: int,
) -> NDArray[np.float64]:
    """Give what the meter's colour response asks of one light source, draw by draw [1]."""
    if corrections is not None:
        return corrections[group]
    belief = colour_response.generic_mismatch(model.meter)
    return belief.value(sampling.standard_normal(seed, ", ".join(group), belief.name, draws))


_FEEDS = {"regulated": measurement_model.REGULATED_EXPONENT, "resistor": measurement_model.RESISTOR_EXPONENT}


def _by_place_and_source(log: IlluminanceLog) -> dict[tuple[str, str], list[Reading]]:
    groups: dict[tuple[str, str], list[Reading]] = {}
    for reading in log.readings:
        groups.setdefault((reading.place, reading.source), []).append(reading)
    for (lamp, source), group in groups.items():
        if len(group) > MOST_REPEATS:
            raise InputError(
                f"'{lamp}' was read {len(group)} times with '{source}'",
                file=log.file,
                line=group[MOST_REPEATS].line,
                expected=f"at most {MOST_REPEATS} readings of one light source in one lamp",
                remedy="keep some of them, spread over the afternoon",
            )
    return groups


def _fair_ratio(
    model: Measurement,
    lamp: str,
    old: str,
    new: str,
    corrections: Mapping[tuple[str, str], NDArray[np.float64]] | None,
    leak: Mapping[tuple[str, str], float],
    seed: int,
    draws: int,
) -> FairRatio:
    first, second = (lamp, old), (lamp, new)
    # One pair at a time: the draws of a long log would not find room together.
    values = measurement_model.draw(model, (first, second), draws, seed)
    below, above = (measurement_model.intensity(model, group, values) for group in (first, second))
    if corrections is None:
        belief = colour_response.generic_mismatch(model.meter)
        z = sampling.standard_normal(seed, f"{lamp}, {new}", belief.name, draws)
        correction, correction_old = belief.value(z), np.ones(draws)
        response = None
    else:
        correction, correction_old = corrections[second] / corrections[first], corrections[first]
        response = colour_response.judge(np.log(correction), leak_share=leak[first] - leak[second])
    uncorrected = np.where(below > 0, np.maximum(above, 0.0) / np.where(below > 0, below, 1.0), np.inf)
    ratio = uncorrected * correction
    limits = sampling.interval_by_order(ratio)
    table, interval = _cross_checks(model, first, second, correction)
    shown_old, shown_new = (float(np.mean([r.illuminance for r in model.groups[g]])) for g in (first, second))
    old_draws = np.maximum(below, 0.0) * correction_old
    unbounded = not np.isfinite(limits[2]) or not np.isfinite(interval[2])
    if unbounded:
        limits = np.array([limits[0], limits[1], np.inf])
    return FairRatio(
        lamp=lamp,
        old=old,
        new=new,
        ratio=limits,
        naive=shown_new / shown_old,
        intensity_old=sampling.interval_by_order(old_draws),
        intensity_new=sampling.interval_by_order(np.maximum(above, 0.0) * correction_old * correction),
        fieller=interval,
        budget=table,
        unbounded=unbounded,
        uncorrected=sampling.interval_by_order(uncorrected),
        mismatch=correction,
        draws=ratio,
        colour_response=response,
        old_draws=old_draws,
    )


def _cross_checks(
    model: Measurement, first: tuple[str, str], second: tuple[str, str], correction: NDArray[np.float64]
) -> tuple[Budget, NDArray[np.float64]]:
    # As the interval of the draws has it: a leak makes the far end long, and a plain deviation too wide.
    low, centre, high = (float(limit) for limit in sampling.interval_by_order(correction))
    spread = centre * float(np.log(high / low)) / (2.0 * budget.K_95)
    listed = [(owner, b) for owner, known in measurement_model.beliefs(model, (first, second)).items() for b in known]
    inputs = [(owner, b) for owner, b in listed if not b.name.startswith(("responsivity", "near-infrared", "far-red"))]
    beliefs = [*inputs, (f"{second[0]}, {second[1]}", Belief("spectral mismatch", centre, spread, "1", "the draws"))]
    freedom = [measurement_model.freedoms(model).get(b.name, np.inf) for _, b in beliefs]

    def intensities(x: NDArray[np.float64]) -> NDArray[np.float64]:
        values = {(owner, b.name): x[..., i] for i, (owner, b) in enumerate(beliefs)}
        old, new = (measurement_model.intensity(model, group, values) for group in (first, second))
        return np.stack([new * x[..., -1], old], axis=-1)

    def ratio(x: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.divide(*np.moveaxis(intensities(x), -1, 0))

    typical = np.array([b.typical for _, b in beliefs])
    # The gain drops out of the ratio, but Fieller's limits would take it for a doubt about the old lamp.
    u = np.array([0.0 if b.name == "calibration" else _standard(b) for _, b in beliefs])
    table = budget.propagate(
        ratio, typical, u, names=[f"{b.name} ({owner})" for owner, b in beliefs], degrees_of_freedom=freedom
    )
    covariance = budget.propagate_covariance(intensities, typical, u)
    top, bottom = intensities(typical)
    return table, budget.fieller(top, bottom, covariance[0, 0], covariance[1, 1], covariance[0, 1])


def _standard(belief: Belief) -> float:
    scale = {"uniform": 1.0 / np.sqrt(3.0), "lognormal": belief.typical, "normal": 1.0, "fixed": 0.0}
    return float(belief.spread * scale[belief.shape])
