"""Know your lens: what a few readings tell about the lens, the light sources and the meter."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit import meters, mismatch, photometry, posterior, uncertainty
from lampkit.errors import InputError, nearest
from lampkit.illuminance_log import IlluminanceLog, Reading
from lampkit.lenses import Lens, transmittances
from lampkit.measurement_model import AFTERNOON, MeasurementModel
from lampkit.meters import Meter
from lampkit.shortfall import beam_belief
from lampkit.sources import LightSource, relative_spectra
from lampkit.uncertainty import Belief, Draws

if TYPE_CHECKING:
    import pandas as pd

OPTICS = Belief(
    "intensity by flux",
    0.3,
    1.2,
    "cd/lm",
    "an assumption: from a bare light source, 1/(4 pi), to a deep reflector, several",
    "lognormal",
)
"""What is believed of a lamp's reflector and lens pattern before its light was read."""

LEARNT = 0.8
"""Share of the believed spread above which a quantity counts as not learnt [1]. Source: the kit's own convention."""

PROBE_ERROR = 0.03
"""Standard relative uncertainty of one lux ratio, with lens over without, on which probes are ranked [1].
Source: an assumption: two readings of 1.5 % to 2 % each."""

_BLOCK = 256

Group = tuple[str, str, bool]


@dataclass(frozen=True, eq=False)
class Knowledge:
    """What the readings taught.

    Parameters
    ----------
    lens : Lens
        The lens, as it was believed to be before.
    sources : tuple of LightSource
        The light sources that were read.
    meter : Meter
        The meter.
    garage : Draws
        Garages weighted by the readings; give them to conversion.assess to let every prediction profit.
    before : Draws
        The garages as drawn before.
    effective : float [1]
        Effective number of weighted garages.
    misfit : float [1]
        Weighted squared misfit of the best garage, about `readings` or below when the model suits them.
    readings : int [1]
        How many groups of readings were used, repeats taken together.
    remarks : tuple of str
        What to know, in sentences.

    Source: the kit's own convention.
    """

    lens: Lens
    sources: tuple[LightSource, ...]
    meter: Meter
    garage: Draws
    before: Draws
    effective: float
    misfit: float
    readings: int
    remarks: tuple[str, ...]

    def table(self) -> "pd.DataFrame":
        """List every quantity of the lens and the meter, before and after the readings.

        Returns
        -------
        DataFrame
            One row a quantity: before, after, and how much of the spread is left.

        Source: the kit's own convention.
        """
        import pandas as pd

        rows = []
        for owner in (self.lens.name, meters.OWNER):
            for name, after in self.garage.of(owner).items():
                belief = self.garage.beliefs[owner, name]
                left = spread_left(self, owner, name)
                if belief.spread == 0 or belief.shape == "fixed":
                    continue
                rows.append(
                    {
                        "of": owner,
                        "quantity": f"{name} [{belief.unit}]",
                        "before": _words(uncertainty.interval(self.before.values[owner, name])),
                        "after": _words(uncertainty.interval(after, self.garage.weights)),
                        "spread left": f"{100 * left:.0f} %",
                        "learnt": "yes" if left < LEARNT else "no: as believed before",
                    }
                )
        return pd.DataFrame(rows)

    def _repr_html_(self) -> str:
        remarks = "".join(f"<li>{r}</li>" for r in self.remarks)
        return f"{self.table().to_html(index=False, border=0)}<ul>{remarks}</ul>"


def _words(limits: NDArray[np.float64]) -> str:
    return f"{limits[1]:.4g} ({limits[0]:.4g} to {limits[2]:.4g})"


def learn(
    log: IlluminanceLog,
    lens: Lens,
    sources: Mapping[str, LightSource] | Sequence[LightSource],
    *,
    meter: Meter | None = None,
    face_diameter: float | None = None,
    afternoon: Iterable[Belief] = AFTERNOON,
    draws: int = 4000,
    seed: int = 1,
) -> Knowledge:
    """Weigh garages by readings of a few light sources, with the lens fitted and removed.

    Readings of one source with the lens and without it tell its transmittance for that source, whatever its lumens.
    Readings through the lens alone tell less: there the claimed lumens and the beam stand in between, and are
    themselves corrected.

    Parameters
    ----------
    log : IlluminanceLog
        The readings.
    lens : Lens
        What is believed of the lens.
    sources : mapping of str to LightSource, or sequence of LightSource
        The light sources by the name that the log gives them; of a sequence, each by its own name.
    meter : Meter, optional
        The meter; a phone of unknown responsivity when left out.
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
        A source of the log is unknown, or a net reading cannot be told from the background.

    Source: JCGM 101:2008; Tierney and Kadane 1986, doi 10.1080/01621459.1986.10478240.
    """
    named = dict(sources) if isinstance(sources, Mapping) else {s.name: s for s in sources}
    sensor = meters.phone() if meter is None else meter
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
    observed, covariance = _observed(groups, sensor, face_diameter, afternoon, draws, seed)
    beliefs = _beliefs(groups, lens, named, sensor)

    def predict(values: posterior.Values) -> NDArray[np.float64]:
        return predicted(list(groups), lens, named, sensor, values)

    found = posterior.update(beliefs, predict, observed, covariance, draws=draws, seed=seed)
    used = tuple({id(named[s]): named[s] for _, s, _ in groups}.values())
    knowledge = Knowledge(
        lens=lens,
        sources=used,
        meter=sensor,
        garage=found.garage,
        before=uncertainty.draw(beliefs, draws, seed),
        effective=found.effective,
        misfit=found.misfit,
        readings=len(groups),
        remarks=(),
    )
    return Knowledge(**{**knowledge.__dict__, "remarks": (*log.remarks, *_remarks(knowledge, groups))})


def _beliefs(
    groups: Mapping[Group, list[Reading]], lens: Lens, named: Mapping[str, LightSource], sensor: Meter
) -> dict[str, list[Belief]]:
    found: dict[str, list[Belief]] = {lens.name: list(lens.beliefs), meters.OWNER: list(sensor.beliefs)}
    for lamp, key, _ in groups:
        source = named[key]
        found[source.name] = list(source.beliefs)
        found[f"lamp {lamp}"] = [OPTICS]
        if source.kind != "filament":
            found[f"{source.name} in {lamp}"] = [beam_belief(source.layout)]
    return found


def _observed(
    groups: Mapping[Group, list[Reading]],
    sensor: Meter,
    face_diameter: float | None,
    afternoon: Iterable[Belief],
    draws: int,
    seed: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Logarithm of the intensity that each group shows, and its covariance: shared backgrounds and offsets included."""
    keyed = {(lamp, f"{source}{'' if fitted else ', bare'}"): r for (lamp, source, fitted), r in groups.items()}
    model = MeasurementModel(keyed, {b.name: b for b in afternoon}, sensor, face_diameter)
    drawn = uncertainty.draw(model.beliefs(), max(draws, 2000), seed)
    values = model.with_unknown_scales(dict(drawn.values), seed, len(drawn))
    shown = np.stack([model.intensity(key, values) for key in keyed], axis=1)
    for (lamp, source), column in zip(keyed, shown.T, strict=True):
        if np.mean(column <= 0) > 0.001:
            raise InputError(
                f"{lamp}: the light of {source} cannot be told from the background",
                remedy="read again in a darker room or nearer",
            )
    logs = np.log(np.maximum(shown, 1e-9))
    return logs.mean(axis=0), np.atleast_2d(np.cov(logs, rowvar=False)) + 1e-8 * np.eye(len(keyed))


def predicted(
    groups: Sequence[Group],
    lens: Lens,
    sources: Mapping[str, LightSource],
    meter: Meter,
    values: Mapping[tuple[str, str], NDArray[np.float64]],
) -> NDArray[np.float64]:
    """Predict the logarithm of the intensity that the meter shows for each group of readings.

    Parameters
    ----------
    groups : sequence of (lamp, source, lens fitted)
        What is read.
    lens : Lens
        The lens.
    sources : mapping of str to LightSource
        The light sources by the name used in `groups`.
    meter : Meter
        The meter.
    values : mapping of (owner, name) to ndarray, shape (n,) [1]
        Values of every quantity. A lamp or a beam that is not among them is taken as one.

    Returns
    -------
    ndarray, shape (n, j) [1]
        Natural logarithm of the intensity in cd.

    Source: CIE S 017:2020 for flux and transmittance; ISO/CIE 19476 for what the meter makes of it.
    """

    size = max(np.size(v) for v in values.values())
    if size > _BLOCK:
        # Row blocks keep the spectra in the processor's cache and in memory that is used again.
        parts = [slice(start, start + _BLOCK) for start in range(0, size, _BLOCK)]
        return np.vstack(
            [predicted(groups, lens, sources, meter, {key: v[part] for key, v in values.items()}) for part in parts]
        )

    def of(owner: str) -> dict[str, NDArray[np.float64]]:
        return {name: v for (who, name), v in values.items() if who == owner}

    through = transmittances(lens, of(lens.name))
    own = of(meters.OWNER)
    curves, leak = meter.model(own), own["near-infrared leak"]
    calibrated = mismatch.signal(curves, meter.calibration, leak=leak) / (
        photometry.luminous_flux(meter.calibration) / photometry.K_M
    )
    shown: dict[tuple[str, bool], NDArray[np.float64]] = {}
    for key in dict.fromkeys(source for _, source, _ in groups):
        drawn = of(sources[key].name)
        spectra = relative_spectra(sources[key], drawn)
        flux = sources[key].luminous_flux * drawn["true over claimed lumens"]
        for fitted in {f for _, s, f in groups if s == key}:
            light = through * spectra if fitted else spectra
            seen = photometry.K_M * mismatch.signal(curves, light, leak=leak) / calibrated
            shown[key, fitted] = np.log(flux * seen)
    columns = []
    for lamp, key, fitted in groups:
        column = shown[key, fitted]
        for owner, name in ((f"lamp {lamp}", OPTICS.name), (f"{sources[key].name} in {lamp}", beam_belief(None).name)):
            if (owner, name) in values:
                column = column + np.log(values[owner, name])
        columns.append(column)
    return np.stack(columns, axis=1)


def spread_left(knowledge: Knowledge, owner: str, name: str) -> float:
    """Give the share of the believed spread of a quantity that the readings leave.

    Parameters
    ----------
    knowledge : Knowledge
        What the readings taught.
    owner : str
        The lens, a light source, the meter.
    name : str
        The quantity.

    Returns
    -------
    float
        Standard deviation after over before [1], on the scale on which the belief is normal.

    Raises
    ------
    InputError
        There is no such quantity.

    Source: the kit's own convention.
    """
    known = knowledge.garage.beliefs
    if (owner, name) not in known:
        raise InputError(
            f"'{owner}' has no quantity '{name}'", expected=nearest(name, [n for o, n in known if o == owner])
        )
    scale = np.log if known[owner, name].shape == "lognormal" else np.asarray
    before, after = scale(knowledge.before.values[owner, name]), scale(knowledge.garage.values[owner, name])
    if np.ptp(before) == 0:
        return 1.0
    mean = np.average(after, weights=knowledge.garage.weights)
    variance = np.average((after - mean) ** 2, weights=knowledge.garage.weights)
    return float(np.sqrt(variance) / before.std())


def k(knowledge: Knowledge, new: LightSource, old: LightSource) -> NDArray[np.float64]:
    """Give K, the luminous transmittance for a new source over that for the old, through the lens as now known.

    Parameters
    ----------
    knowledge : Knowledge
        What the readings taught.
    new, old : LightSource
        The sources; they need not have been read.

    Returns
    -------
    ndarray, shape (3,) [1]
        Lower limit, median and upper limit of 95 %.

    Source: CIE S 017:2020 for luminous transmittance.
    """
    garage = knowledge.garage
    through = transmittances(knowledge.lens, garage.of(knowledge.lens.name))
    tau = []
    for source in (new, old):
        held = {name: v for (who, name), v in garage.values.items() if who == source.name}
        drawn = held or uncertainty.draw({source.name: source.beliefs}, len(garage), garage.seed).of(source.name)
        tau.append(photometry.luminous_transmittance(through, relative_spectra(source, drawn)))
    return uncertainty.interval(tau[0] / tau[1], garage.weights)


def next_reading(knowledge: Knowledge, probes: Sequence[LightSource], *, error: float = PROBE_ERROR) -> "pd.DataFrame":
    """Rank light sources by how much one more pair of readings, lens fitted and removed, would tell about the lens.

    Parameters
    ----------
    knowledge : Knowledge
        What is known so far; with an empty log, what is believed.
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
        No probe is given, or the error is not positive.

    Source: Lindley 1956, doi 10.1214/aoms/1177728069, expected information; for nearly normal draws half the logarithm
    of the variance of what would be read over that at a known lens.
    """
    import pandas as pd

    if not probes:
        raise InputError("there is no light source to probe with", key="probes")
    if not error > 0:
        raise InputError(
            f"an error of {error:g} is not possible", key="error", expected="a share above 0, such as 0.03"
        )
    lens, garage = knowledge.lens, knowledge.garage
    weights = garage.weights
    features = _features(garage.of(lens.name), weights)
    main = features[:, 0]
    named = {probe.name: probe for probe in probes}
    missing = {name: [b for b in probe.beliefs if (name, b.name) not in garage.values] for name, probe in named.items()}
    fresh = uncertainty.draw(missing, len(garage), garage.seed).values
    groups = [("probe", name, fitted) for name in named for fitted in (True, False)]
    shown = predicted(groups, lens, named, knowledge.meter, {**garage.values, **fresh})
    rows = []
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
    return pd.DataFrame(rows).sort_values("information [bit]", ascending=False, ignore_index=True)


def _features(values: Mapping[str, NDArray[np.float64]], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """The lens's quantities and their products, centred: what a reading could tell of them to second order."""
    raw = np.stack([v for v in values.values() if np.ptp(v) > 0], axis=1)
    raw = raw - np.average(raw, axis=0, weights=weights)
    raw = raw / np.sqrt(np.average(raw**2, axis=0, weights=weights))
    i, j = np.triu_indices(raw.shape[1])
    squares = raw[:, i] * raw[:, j]
    return np.hstack([raw, squares - np.average(squares, axis=0, weights=weights)])


def _remarks(knowledge: Knowledge, groups: Mapping[Group, list[Reading]]) -> list[str]:
    said = []
    both = {(lamp, s) for lamp, s, fitted in groups if fitted} & {(lamp, s) for lamp, s, fitted in groups if not fitted}
    if not both:
        said.append(
            "No light source was read both with the lens and without it, so claimed lumens and beam stand between the "
            "readings and the lens: it is learnt little."
        )
    for belief in knowledge.lens.beliefs:
        if belief.spread and spread_left(knowledge, knowledge.lens.name, belief.name) >= LEARNT:
            said.append(
                f"The {belief.name} is not learnt: these readings do not see it, and it stays as believed before."
            )
    if knowledge.misfit > knowledge.readings + 3.0 * np.sqrt(2.0 * knowledge.readings):
        said.append(
            f"The readings do not fit together (misfit {knowledge.misfit:.0f} for {knowledge.readings}): look for a "
            "slip, a wrong source name or a moved meter before you trust this."
        )
    if knowledge.effective < 0.05 * len(knowledge.garage):
        said.append("Few garages explain the readings: ask for more draws before you rely on the last digit.")
    return said
