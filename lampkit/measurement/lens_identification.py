"""Know your lens: what a few readings tell about the lens, the light sources and the meter, and what to read next."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers, show
from lampkit.errors import InputError, nearest
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import measurement_model, meters
from lampkit.measurement.illuminance_log import IlluminanceLog, Reading
from lampkit.measurement.measurement_model import (
    AFTERNOON,
    OPTICS,
    PATTERNED,
    PLAIN,
    SUPPLY,
    Group,
    left_out,
    predicted,
)
from lampkit.measurement.meters import Meter
from lampkit.measurement.shortfall import beam_of
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, named, say
from lampkit.uncertainty import posterior, sampling
from lampkit.uncertainty.sampling import Belief, Draws

if TYPE_CHECKING:
    import pandas as pd

LEARNT = 0.8
"""Share of the believed spread above which a quantity counts as not learnt [1]. Source: own judgement."""

MISFIT_CHANCE = 1e-3
"""Chance with which a faultless log is said not to fit together [1]. Source: own judgement."""

FEW = 200.0
"""Effective number of garages below which the ends of an interval are not settled [1]. Source: with 200 draws the
share beyond the end of a 95 % interval, 0.025, is known to 0.011 (binomial)."""


class Learnt(Enum):
    """Whether the readings taught something of a quantity."""

    YES = "yes"
    NO = "no"


@dataclass(frozen=True, eq=False)
class Knowledge:
    """What the readings taught."""

    lens: Lens
    sources: tuple[LightSource, ...]
    meter: Meter
    garage: Draws
    before: Draws
    effective: float
    misfit: float
    readings: int
    strained: tuple[str, str]
    remarks: tuple[Statement, ...]

    def table(self) -> "pd.DataFrame":
        """List every quantity, before and after the readings: lens, lumens and beam of the sources, lamps, meter."""
        import pandas as pd

        first = [self.lens.name, *(source.name for source in self.sources)]
        owners = dict.fromkeys([*first, *(o for o, _ in self.garage.beliefs if o != meters.OWNER), meters.OWNER])
        rows = []
        for owner, (of, name) in ((o, key) for o in owners for key in self.garage.beliefs if key[0] == o):
            belief = self.garage.beliefs[of, name]
            if belief.spread == 0 or belief.shape == "fixed":
                continue
            left = spread_left(self, owner, name)
            rows.append(
                {
                    "of": owner,
                    "quantity": f"{name} [{belief.unit}]",
                    "before": numbers.interval(sampling.interval(self.before.values[owner, name])),
                    "after": numbers.interval(sampling.interval(self.garage.values[owner, name], self.garage.weights)),
                    "spread left": f"{numbers.fixed(100 * min(left, 1.0))} %",
                    "learnt": str(named(Learnt.YES if left < LEARNT else Learnt.NO)),
                }
            )
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        return "\n".join([self.table().to_string(index=False), *map(str, self.remarks)])

    def _repr_html_(self) -> str:
        found = self.table()
        lens = found["of"] == self.lens.name
        rest = show.written(found[~lens])
        return (
            f"{show.written(found[lens].drop(columns='of'), self.remarks)}"
            f"<details><summary>{say('lens_identification.the_rest')}</summary>{rest}</details>"
        )


def believed_lens(
    lens: Lens,
    sources: Sequence[LightSource] = (),
    *,
    meter: Meter | None = None,
    draws: int = 4000,
    seed: int = 1,
) -> Knowledge:
    """Give what is believed before anything was read, to ask which reading to begin with.

    Parameters
    ----------
    lens : Lens
        What is believed of the lens.
    sources : sequence of LightSource
        Light sources, if any.
    meter : Meter, optional
        The meter; a phone of unknown responsivity when left out.
    draws : int [1]
        How many possible garages.
    seed : int [1]
        The seed.

    Returns
    -------
    Knowledge
        Garages of equal weight.

    Raises
    ------
    InputError
        The number of draws is below one.

    Examples
    --------
    Nothing was read yet.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> known = lk.measurement.believed_lens(lens, draws=300)
    >>> known.remarks[0].key
    'lens_identification.nothing_read'

    Source: JCGM 101:2008.
    """
    sensor = meters.phone() if meter is None else meter
    held = {lens.name: lens.beliefs, meters.OWNER: sensor.beliefs, **{s.name: s.beliefs for s in sources}}
    before = sampling.draw(held, draws, seed)
    remark = say("lens_identification.nothing_read")
    return Knowledge(lens, tuple(sources), sensor, before, before, float(draws), 0.0, 0, ("", ""), (remark,))


def learn_lens(
    log: IlluminanceLog,
    lens: Lens,
    sources: Mapping[str, LightSource] | Sequence[LightSource],
    *,
    meter: Meter | None = None,
    pattern: Belief = PATTERNED,
    face_diameter: float | None = None,
    afternoon: Iterable[Belief] = AFTERNOON,
    draws: int = 4000,
    seed: int = 1,
) -> Knowledge:
    """Weigh garages by readings of a few light sources, with the lens fitted and removed.

    Readings of one source with the lens and without it tell its transmittance for that source, whatever its lumens,
    once the beam is the same; the pattern of a lens changes every source's beam by nearly one factor, which a second
    source tells. All lamps of the log are taken to have the same lens. Readings through the lens alone tell less: there
    the claimed lumens and the beam stand in between, and are themselves corrected.

    Parameters
    ----------
    log : IlluminanceLog
        The readings.
    lens : Lens
        What is believed of the lens.
    sources : mapping of str to LightSource, or sequence of LightSource
        The light sources by the name that the log gives them; of a sequence, each by its own name.
    meter : Meter, optional
        The meter; as the log tells, or else a phone of unknown responsivity, when left out.
    pattern : Belief
        What the lens does to the beam besides colouring it: PATTERNED for a lens that was taken off its lamp, PLAIN
        for a flat lens, or a piece of it that was held before the meter.
    face_diameter : float, optional [m]
        Diameter of the lit face, for the near-field correction.
    afternoon : iterable of Belief
        What is believed of distance, aim, repeatability and background.
    draws : int [1]
        How many possible garages.
    seed : int [1]
        The seed.

    Returns
    -------
    Knowledge
        The weighted garages.

    Raises
    ------
    InputError
        A source of the log is unknown, two things share a name, the readings come from several meters, or a net
        reading cannot be told from the background.

    Examples
    --------
    An empty log teaches nothing.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> from pathlib import Path
    >>> empty = lk.measurement.IlluminanceLog(Path("none.csv"), (), ())
    >>> known = lk.measurement.learn_lens(empty, lens, [], draws=300)
    >>> known.readings, known.remarks[0].key
    (0, 'lens_identification.nothing_read')

    Source: JCGM 101:2008; Tierney and Kadane 1986, doi 10.1080/01621459.1986.10478240.
    """
    named = dict(sources) if isinstance(sources, Mapping) else {s.name: s for s in sources}
    sensor = meters.meter_of(log.facts) if meter is None else meter
    groups: dict[Group, list[Reading]] = {}
    for reading in log.readings:
        if reading.source not in named:
            raise InputError(
                f"the light source '{reading.source}' is not described",
                file=log.file,
                line=reading.line,
                expected=nearest(reading.source, named),
            )
        groups.setdefault((reading.lamp, reading.source, reading.lens_fitted), []).append(reading)
    used = tuple({id(named[s]): named[s] for _, s, _ in groups}.values())
    _refuse_confusion(log, lens, used)
    if not groups:
        return believed_lens(lens, meter=sensor, draws=draws, seed=seed)
    of_kind = {SourceKind.FILAMENT: measurement_model.FILAMENT_EXPONENT}
    exponents = {key: of_kind.get(source.kind, measurement_model.LED_EXPONENT) for key, source in named.items()}
    observed, covariance = _observed(groups, sensor, face_diameter, afternoon, draws, seed, exponents, log)
    covariance += np.diag([left_out(named[s], lens, pattern) ** 2 * fitted for _, s, fitted in groups])
    beliefs = _beliefs(groups, lens, named, sensor, pattern)
    if any(named[s].kind is SourceKind.FILAMENT for _, s, _ in groups):
        beliefs["afternoon"] = [_supply(groups, named)]

    part = measurement_model.part_for(list(groups), lens, named, sensor)

    def predict(values: posterior.Values) -> NDArray[np.float64]:
        return predicted(list(groups), lens, named, sensor, values, part)

    found = posterior.update(beliefs, predict, observed, covariance, draws=draws, seed=seed)
    knowledge = Knowledge(
        lens=lens,
        sources=used,
        meter=sensor,
        garage=found.garage,
        before=sampling.draw(beliefs, draws, seed),
        effective=found.effective,
        misfit=found.misfit,
        readings=len(groups),
        strained=found.strained,
        remarks=(),
    )
    return replace(knowledge, remarks=(*log.remarks, *_remarks(knowledge, groups)))


def _refuse_confusion(log: IlluminanceLog, lens: Lens, used: Sequence[LightSource]) -> None:
    names = [lens.name, meters.OWNER, *(source.name for source in used)]
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise InputError(f"'{twice[0]}' names two things", file=log.file, expected="one name for each source and lens")
    first = {reading.meter: reading for reading in reversed(log.readings)}
    if len(first) > 1:
        second = max(first.values(), key=lambda reading: reading.line)
        raise InputError(
            f"the readings come from {len(first)} meters",
            file=log.file,
            line=second.line,
            key="meter",
            remedy="give each meter a log of its own",
        )


def _beliefs(
    groups: Mapping[Group, list[Reading]],
    lens: Lens,
    named: Mapping[str, LightSource],
    sensor: Meter,
    pattern: Belief,
) -> dict[str, list[Belief]]:
    found: dict[str, list[Belief]] = {lens.name: list(lens.beliefs), meters.OWNER: list(sensor.beliefs)}
    for lamp, key, _ in groups:
        source = named[key]
        found[source.name] = list(source.beliefs)
        # Of a lamp that was never read without its lens the pattern is part of the optics.
        bare = any(lamp == other and not fitted for other, _, fitted in groups)
        found[f"lamp {lamp}"] = [OPTICS, replace(pattern, name=PLAIN.name)] if bare else [OPTICS]
        if source.kind is not SourceKind.FILAMENT:
            found[f"{source.name} in {lamp}"] = [beam_of(source)]
    return found


def _supply(groups: Mapping[Group, list[Reading]], named: Mapping[str, LightSource]) -> Belief:
    """Give the voltage of the filament's readings over that of its light source; assumed where it was not noted."""
    filaments = [key for key in groups if named[key[1]].kind is SourceKind.FILAMENT]
    told = [
        reading.supply / voltage
        for key in filaments
        for reading in groups[key]
        if reading.supply is not None and (voltage := named[key[1]].voltage) is not None
    ]
    if not told:
        return SUPPLY
    return replace(SUPPLY, typical=float(np.mean(told)), spread=0.0, source="noted with the readings", shape="fixed")


def _observed(
    groups: Mapping[Group, list[Reading]],
    sensor: Meter,
    face_diameter: float | None,
    afternoon: Iterable[Belief],
    draws: int,
    seed: int,
    exponents: Mapping[str, Belief],
    log: IlluminanceLog,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Logarithm of the intensity that each group shows, and its covariance: shared backgrounds and offsets included."""
    keyed = {(lamp, f"{source}{'' if fitted else ', bare'}"): r for (lamp, source, fitted), r in groups.items()}
    model = measurement_model.measurement(
        keyed,
        {b.name: b for b in afternoon},
        sensor,
        face_diameter,
        one_range=log.facts.one_range,
        exponents={f"{name}{state}": belief for name, belief in exponents.items() for state in ("", ", bare")},
    )
    values = measurement_model.draw(model, model.groups, max(draws, 2000), seed)
    shown = np.stack([measurement_model.intensity(model, key, values) for key in keyed], axis=1)
    for (lamp, source), column in zip(keyed, shown.T, strict=True):
        if np.mean(column <= 0) > 0.001:
            raise InputError(
                f"{lamp}: the light of {source} cannot be told from the background",
                remedy="read again in a darker room or nearer",
            )
    logs = np.log(np.maximum(shown, 1e-9))
    return logs.mean(axis=0), np.atleast_2d(np.cov(logs, rowvar=False)) + 1e-8 * np.eye(len(keyed))


def spread_left(knowledge: Knowledge, owner: str, name: str) -> float:
    """Give the share of the believed spread of a quantity that the readings leave."""
    known = knowledge.garage.beliefs
    if (owner, name) not in known:
        has = nearest(name, [n for o, n in known if o == owner])
        raise InputError(f"'{owner}' has no quantity '{name}'", expected=has)
    scale = np.log if known[owner, name].shape == "lognormal" else np.asarray
    before, after = scale(knowledge.before.values[owner, name]), scale(knowledge.garage.values[owner, name])
    if np.ptp(before) == 0:
        return 1.0
    mean = np.average(after, weights=knowledge.garage.weights)
    variance = np.average((after - mean) ** 2, weights=knowledge.garage.weights)
    return float(np.sqrt(variance) / before.std())


def _remarks(knowledge: Knowledge, groups: Mapping[Group, list[Reading]]) -> list[Statement]:
    from scipy.special import chdtri

    said, lens = [], knowledge.lens
    both = {(lamp, s) for lamp, s, fitted in groups if fitted} & {(lamp, s) for lamp, s, fitted in groups if not fitted}
    if not both:
        said.append(say("lens_identification.never_both"))
    if lens.colour == "clear":
        said.append(say("lens_identification.clear"))
    spread = [b.name for b in lens.beliefs if b.spread and b.shape != "fixed"]
    # The shift with temperature is no question to readings at one temperature.
    blind = [n for n in spread if n != "edge shift" and spread_left(knowledge, lens.name, n) >= LEARNT]
    if blind:
        said.append(say("lens_identification.not_learnt", quantities=blind))
    if knowledge.misfit > chdtri(knowledge.readings, MISFIT_CHANCE):
        owner, name = knowledge.strained
        given = {"misfit": knowledge.misfit, "readings": knowledge.readings, "owner": owner, "quantity": name}
        said.append(say("lens_identification.misfit", **given))
    if knowledge.effective < FEW:
        said.append(say("lens_identification.few_garages"))
    return said


PROBE_ERROR = 0.03
"""Standard relative uncertainty of one lux ratio, with lens over without, on which probes are ranked [1].
Source: an assumption: two readings of 1.5 % to 2 % each."""


def next_reading(knowledge: Knowledge, probes: Sequence[LightSource], *, error: float = PROBE_ERROR) -> "pd.DataFrame":
    """Rank light sources by how much one more pair of readings, lens fitted and removed, would tell of a lens's colour.

    What dims all light alike, the plateau, cancels in K and does not count where there is anything else to learn.

    Parameters
    ----------
    knowledge : Knowledge
        What is known so far; of `believed_lens`, what is believed.
    probes : sequence of LightSource
        Light sources at hand.
    error : float [1]
        Standard relative uncertainty of the lux ratio.

    Returns
    -------
    DataFrame
        The probes, the most telling first: expected information in bits, and the share of the spread of the lens's
        edge (or dye) that it would leave.

    Raises
    ------
    InputError
        No probe is given, the error is not positive, or nothing about the lens is uncertain.

    Examples
    --------
    An LED near the edge of a lens tells more of it than the filament lamp.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> known = lk.measurement.believed_lens(lens, draws=300)
    >>> amber = lk.sources.coloured_led("amber", luminous_flux=80, name="amber LED")
    >>> lk.measurement.next_reading(known, [lk.sources.filament("P21W"), amber])["probe"][0]
    'amber LED'

    Source: Lindley 1956, doi 10.1214/aoms/1177728069, expected information; for nearly normal draws half the logarithm
    of the variance of what would be read over that at a known lens.
    """
    import pandas as pd

    shown = pd.DataFrame(ranked(knowledge, probes, error=error))
    return shown.sort_values("information [bit]", ascending=False, ignore_index=True)


def ranked(
    knowledge: Knowledge, probes: Sequence[LightSource], *, error: float = PROBE_ERROR
) -> list[dict[str, str | float]]:
    """Tell of each light source what `next_reading` does, in the order given."""
    if not probes:
        raise InputError("there is no light source to probe with", key="probes")
    if not error > 0:
        raise InputError(f"an error of {error:g} cannot be", key="error", expected="a share above 0, such as 0.03")
    lens, garage, weights = knowledge.lens, knowledge.garage, knowledge.garage.weights
    features = _features(garage.of(lens.name), weights)
    main = features[:, 0]  # the edge, or the strength of the dye
    named = {probe.name: probe for probe in probes}
    missing = {name: [b for b in probe.beliefs if (name, b.name) not in garage.values] for name, probe in named.items()}
    fresh = sampling.draw(missing, len(garage), garage.seed).values
    # The next reading is taken in the lamp that was read: its pattern, as far as it is not known, hides the lens.
    lamp = next((owner for owner, name in garage.values if name == PLAIN.name), "lamp that was not read")
    groups = [(lamp.removeprefix("lamp "), name, fitted) for name in named for fitted in (True, False)]
    shown = predicted(groups, lens, named, knowledge.meter, {**garage.values, **fresh})
    rows: list[dict[str, str | float]] = []
    for probe, reading in zip(probes, (shown[:, 0::2] - shown[:, 1::2]).T, strict=True):
        reading = reading - np.average(reading, weights=weights)
        total = float(weights @ reading**2) + error**2
        root = np.sqrt(weights)[:, np.newaxis]
        fit, *_ = np.linalg.lstsq(features * root, reading * root[:, 0], rcond=None)
        rest = float(weights @ (reading - features @ fit) ** 2) + error**2
        explained = float(weights @ (reading * main)) ** 2 / (total * float(weights @ main**2))
        rows.append(
            {
                "probe": probe.name,
                "information [bit]": round(0.5 * np.log2(total / rest), 2),
                f"spread left of {lens.beliefs[0].name} [%]": round(100 * np.sqrt(max(1.0 - explained, 0.0))),
            }
        )
    return rows


def _features(values: Mapping[str, NDArray[np.float64]], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """The lens's quantities and their products, centred: what a reading could tell of them to second order."""
    uncertain = {name: v for name, v in values.items() if np.ptp(v) > 0}
    coloured = {name: v for name, v in uncertain.items() if name != "plateau"} or uncertain
    if not coloured:
        raise InputError("nothing about this lens is uncertain", expected="a lens with a spread in its beliefs")
    raw = np.stack(list(coloured.values()), axis=1)
    raw = raw - np.average(raw, axis=0, weights=weights)
    raw = raw / np.sqrt(np.average(raw**2, axis=0, weights=weights))
    squares = np.prod([raw[:, i] for i in np.triu_indices(raw.shape[1])], axis=0)
    return np.hstack([raw, squares - np.average(squares, axis=0, weights=weights)])
