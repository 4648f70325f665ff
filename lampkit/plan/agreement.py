"""The readings of a vehicle beside the prediction: do they agree, what is to blame, and what is known by them."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lampkit import conversion
from lampkit.conversion.assessment import Assessment, Ground, Result
from lampkit.errors import Fault, each_once, nearest, refuse
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import colour_response, fair_ratio, illuminance_log, lens_identification, meters, shortfall
from lampkit.measurement.fair_ratio import Comparison, FairRatio
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.lens_identification import Knowledge
from lampkit.measurement.log_file import usual_spelling
from lampkit.measurement.old_lamp import is_old_lamp
from lampkit.measurement.shortfall import Agreement, Blame
from lampkit.plan import socket_voltages
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Draws
from lampkit.vehicle.vehicle import Lamp, Vehicle

FILE = "readings.csv"
"""The name of the log in a vehicle's folder."""

TWIN_RATIO_SPREAD = 0.15
"""Standard deviation of the logarithm of a ratio that was read in the lamp of the other side [1].
Source: an assumption: two light sources of one make, and a second reflector of the same age."""


@dataclass(frozen=True, eq=False)
class Finding:
    """One measured ratio beside its prediction.

    Source: ISO/IEC 17043 for E_n (from memory).
    """

    ratio: FairRatio
    predicted: NDArray[np.float64]
    agreement: Agreement
    blame: Blame


@dataclass(frozen=True, eq=False)
class LensKnowledge:
    """What readings with a lens fitted and removed taught about it."""

    lamp: str
    lens: Lens
    knowledge: Knowledge
    garage: Draws
    assessment: Assessment
    light_shares: Mapping[str, Mapping[str, NDArray[np.float64]]]
    rests_on: tuple[object, ...]
    done: dict[tuple[object, ...], tuple[Assessment, Mapping[str, NDArray[np.float64]], Assessment]]
    """By kind of lamp what was assessed again, from what and with which shares of light."""

    def again(self, before: Assessment) -> Assessment:
        """Assess a lamp that has this lens again, with what is now known of lens and light sources."""
        kind = before.function, before.old.source.name, *(result.source.name for result in before.results)
        shares = self.light_shares[before.name]
        if kind in self.done:
            known, with_shares, assessed = self.done[kind]
            same = all(np.array_equal(share, with_shares.get(name, 0.0)) for name, share in shares.items())
            if known.old is before.old and known.results is before.results and same:
                return replace(assessed, name=before.name)
        assessed = self._again(before)
        self.done[kind] = before, shares, assessed
        return assessed

    def _again(self, before: Assessment) -> Assessment:
        return conversion.assess(
            before.old.source,
            [result.source for result in before.results],
            before.lens,
            function=before.function,
            rules=before.rules,
            garage=self.garage,
            name=before.name,
            light_shares=self.light_shares[before.name],
        )


@dataclass(frozen=True, eq=False)
class Confrontation:
    """All readings of a vehicle's folder beside the prediction."""

    comparison: Comparison | None
    findings: tuple[Finding, ...]
    lenses: tuple[LensKnowledge, ...]
    remarks: tuple[Statement | str, ...]
    old_alone: Mapping[str, NDArray[np.float64]] = field(default_factory=dict)
    """By lamp the candela of a filament that was read and nothing else in its lamp, draw by draw."""
    rests_on: tuple[object, ...] = ()
    """What the comparison rests on; no lumens that anybody claims are among it."""


def confront_readings(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    *,
    log: IlluminanceLog | None = None,
    seed: int = 1,
    before: Confrontation | None = None,
) -> Confrontation | None:
    """Hold the log of a vehicle's folder against what was predicted from the same draws.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    assessments : sequence of Assessment
        One for each lamp.
    log : IlluminanceLog, optional
        Readings of this vehicle that were kept elsewhere; those of its folder when left out.
    seed : int [1]
        The seed.
    before : Confrontation, optional
        What came of it earlier; where it rests on the same it is taken over.

    Returns
    -------
    Confrontation or None
        What came of it; None when no log is given and the folder holds none.

    Raises
    ------
    InputError
        The log cannot be used, or it names a lamp or a light source that the vehicle file does not know.

    Examples
    --------
    The invented readings in the van's folder, beside the prediction.

    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> found = lk.plan.confront_readings(van, made.assessments)
    >>> [finding.ratio.lamp for finding in found.findings][:2]
    ['Stop lamp left', 'Stop lamp left']

    Source: JCGM 101:2008; Bayes' rule by weights for the split.
    """
    if log is None:
        path = vehicle.file.parent / FILE
        if not path.is_file():
            return None
        log = illuminance_log.load_log(path)
    by_lamp = {assessment.name: assessment for assessment in assessments}
    offered = {offer.name: offer.source for offer in vehicle.offers}
    lamps = {r.lamp: usual_spelling(r.lamp, by_lamp) for r in log.readings}
    sources = {r.source: usual_spelling(r.source, offered) for r in log.readings}
    pairs = [(one, usual) for one, usual in (*lamps.items(), *sources.items()) if one != usual]
    told = [say("illuminance_log.one_spelling", text=one, read=usual) for one, usual in pairs]
    renamed = tuple(replace(r, lamp=lamps[r.lamp], source=sources[r.source]) for r in log.readings)
    log = replace(log, readings=renamed, remarks=(*log.remarks, *told))
    found: dict[tuple[str, str], tuple[Assessment, Result]] = {}
    probes: set[tuple[str, str]] = set()
    faults: list[Fault] = []
    for reading in log.readings:
        where: dict[str, Any] = {"file": log.file, "line": reading.line}
        if reading.lamp not in by_lamp:
            what = f"the vehicle has no lamp '{reading.lamp}'"
            faults.append(Fault(what, **where, key="lamp", expected=nearest(reading.lamp, by_lamp)))
            continue
        key = (reading.lamp, reading.source)
        result = _result(by_lamp[reading.lamp], reading.source, offered)
        if result is not None:
            found[key] = by_lamp[reading.lamp], result
        elif reading.source in offered:
            probes.add(key)
        else:
            what = f"'{reading.source}' is neither the filament nor a light source on offer"
            faults.append(Fault(what, **where, key="source", expected=nearest(reading.source, ["filament", *offered])))
    refuse(each_once(faults))
    fitted = tuple(r for r in log.readings if r.lens_fitted and (r.lamp, r.source) in found)
    findings: tuple[Finding, ...] = ()
    comparison, draws = None, len(assessments[0].garage)
    feeds = {offer.name: offer.feed for offer in vehicle.offers if offer.feed is not None}
    lit = tuple(_rests_on(found[r.lamp, r.source][1].source) for r in fitted)
    lenses_of = {lamp.name: lamp.lens for lamp in vehicle.lamps}
    behind = tuple(lenses_of[r.lamp] for r in fitted)
    rests_on = fitted, log.facts, log.remarks, lit, behind, feeds, vehicle.running_voltage, draws, seed
    known = before if before is not None and before.rests_on == rests_on else None
    if known is not None:
        comparison = known.comparison
    elif fitted:
        light = _light(replace(log, readings=fitted), vehicle, found, draws, seed)
        comparison = fair_ratio.compare_readings(
            replace(log, readings=fitted),
            light=light,
            leds=offered,
            feeds=feeds,
            running_voltage=vehicle.running_voltage,
            draws=draws,
            seed=seed,
        )
    if comparison is not None:
        findings = tuple(_finding(ratio, *found[ratio.lamp, ratio.new], seed) for ratio in comparison.ratios)
    compared = set() if comparison is None else {ratio.lamp for ratio in comparison.ratios}
    alone = tuple(r for r in fitted if r.lamp not in compared and found[r.lamp, r.source][1] is by_lamp[r.lamp].old)
    old_alone: dict[str, NDArray[np.float64]] = {} if known is None else {**known.old_alone}
    if alone and known is None:
        only = replace(log, readings=alone)
        read = fair_ratio.read_intensities(
            only,
            _light(only, vehicle, found, draws, seed),
            filaments={r.source for r in alone},
            running_voltage=vehicle.running_voltage,
            draws=draws,
            seed=seed,
        )
        old_alone = {lamp: candela for (lamp, _), candela in read.items()}
    lenses = _lenses(log, vehicle, by_lamp, offered, draws, seed, () if before is None else before.lenses)
    remarks: list[str | Statement] = [*(log.remarks if comparison is None else comparison.remarks)]
    remarks += [say("readings.probe", lamp=lamp, source=source) for lamp, source in sorted(probes)]
    said = tuple({str(remark): remark for remark in remarks}.values())
    return Confrontation(comparison, findings, lenses, said, old_alone, rests_on)


def _rests_on(source: LightSource) -> tuple[object, ...]:
    """List what the light of a source that reaches a meter rests on, as far as its colour goes."""
    return source.name, source.kind, source.model, source.beliefs


def _light(
    log: IlluminanceLog,
    vehicle: Vehicle,
    found: Mapping[tuple[str, str], tuple[Assessment, Result]],
    draws: int,
    seed: int,
) -> dict[tuple[str, str], NDArray[np.float64]]:
    """Give the light at the meter garage by garage: the lens and the sources that the prediction saw."""
    lenses, meter = {lamp.name: lamp.lens for lamp in vehicle.lamps}, meters.meter_of(log.facts)
    light: dict[tuple[str, str], NDArray[np.float64]] = {}
    known: dict[tuple[int, int], NDArray[np.float64]] = {}  # left and right are often alike
    for reading in log.readings:
        pair = reading.lamp, reading.source
        source, lens = found[pair][1].source, lenses[reading.lamp]
        alike = id(source), id(lens)
        if alike not in known:
            known[alike] = colour_response.light_through(source, lens, meter, draws=draws, seed=seed)
        light[pair] = known[alike]
    return light


def _lenses(
    log: IlluminanceLog,
    vehicle: Vehicle,
    by_lamp: Mapping[str, Assessment],
    offered: Mapping[str, LightSource],
    draws: int,
    seed: int,
    before: Sequence[LensKnowledge],
) -> tuple[LensKnowledge, ...]:
    """Learn each lens that was read both fitted and removed, and assess its lamp again with what was learnt."""
    known = []
    for lamp in vehicle.lamps:
        mine = tuple(r for r in log.readings if r.lamp == lamp.name)
        if {r.lens_fitted for r in mine} != {True, False}:
            continue
        named = {r.source: offered.get(r.source, lamp.filament) for r in mine}
        rests_on = mine, log.facts, log.remarks, lamp.lens, named, draws, seed
        same = next((one for one in before if one.lamp == lamp.name and one.rests_on == rests_on), None)
        shares = {
            one.name: socket_voltages.light_shares(one, socket_voltages.at_socket(vehicle, one), draws, seed)
            for one in vehicle.lamps
            if one.lens is lamp.lens
        }
        predicted = by_lamp[lamp.name]
        if same is None:
            only = replace(log, readings=mine)
            learnt = lens_identification.learn_lens(only, lamp.lens, named, draws=draws, seed=seed)
            garage = sampling.resampled(learnt.garage)
            fresh = LensKnowledge(lamp.name, lamp.lens, learnt, garage, predicted, shares, rests_on, {})
        else:
            fresh = replace(same, light_shares=shares)
        known.append(replace(fresh, assessment=fresh.again(predicted)))
    return tuple(known)


def _result(assessment: Assessment, source: str, offered: Collection[str]) -> Result | None:
    # A light source on offer may be named after the lamp that it replaces, as in "white P21W" or "green bulb".
    if source == assessment.old.source.name or (is_old_lamp(source) and source not in offered):
        return assessment.old
    return next((r for r in assessment.results if r.source.name == source), None)


def _finding(ratio: FairRatio, assessment: Assessment, result: Result, seed: int) -> Finding:
    garage = assessment.garage
    owner = f"{result.source.name} in {assessment.name}"
    belief = shortfall.beam_of(result.source)
    beam = belief.value(sampling.standard_normal(seed, owner, belief.name, len(garage)))
    # What flashes in use burns steadily, and so gets warmer, while it is read.
    predicted = sampling.interval(result.draws["ratio"] * result.draws["read over used"] * beam, garage.weights)
    agreement = shortfall.agreement(ratio.ratio, predicted)
    old = assessment.old.draws["flux"] / assessment.old.draws["transmittance"]
    new = result.draws["flux"] / result.draws["transmittance"] * result.draws["read over used"]
    split = shortfall.blame(
        ratio.draws,
        result.draws["k"],
        new / old,
        beam,
        claimed=None if result.source.kind is SourceKind.FILAMENT else result.source.luminous_flux,
        seed=seed,
        owner=owner,
    )
    return Finding(ratio, predicted, agreement, split)


# --- what was read in place of what was assumed ---------------------------------------------------------------------


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
