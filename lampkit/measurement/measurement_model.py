"""The measurement as a function of everything that may be off, and what a meter should show of a lens on and off."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.lenses.coloured_lens import Lens, transmittances
from lampkit.light import colorimetry, photometry
from lampkit.measurement import lamp_face, meters
from lampkit.measurement.illuminance_log import Reading
from lampkit.measurement.meters import Meter
from lampkit.measurement.old_lamp import is_old_lamp
from lampkit.sources.filament_lamps import COLOUR_TEMPERATURE_EXPONENT, FILAMENT_TEMPERATURE
from lampkit.sources.light_source import BEAM_RATIO, LightSource, SourceKind, relative_spectra, true_flux
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief

AFTERNOON = (
    Belief("distance offset", 0.0, 0.005, "m", "an assumption: where face and sensor really are"),
    Belief("position", 0.0, 0.004, "m", "an assumption: putting the meter back, and the light's centre moving"),
    Belief("aim", 1.0, 0.02, "1", "an assumption: the meter off the beam's axis", "lognormal"),
    Belief("tilt error", 0.0, 4.0, "deg", "an assumption"),
    Belief("beam exponent", 4.0, 0.6, "1", "an assumption: signal lamps halve at 20 to 40 deg", "lognormal"),
    Belief("face diameter", 0.09, 0.25, "m", "an assumption: signal lamps of cars and vans", "lognormal"),
    Belief("repeatability", 0.01, 0.0, "1", "an assumption, with the weight of four readings", "fixed"),
    Belief("background step", 0.05, 0.0, "1", "an assumption, with the weight of three backgrounds", "fixed"),
    Belief("supply drift", 0.0, 0.12, "V", "an assumption: a resting battery of 12 V between two lamps, not noted"),
    Belief("supply reading", 0.0, 0.03, "V", "a last digit of 0.1 V: 0.1 V/sqrt(12), JCGM 100:2008, 4.3.7"),
    Belief("range step", 0.0, 0.01, "1", "an assumption: what an autoranging meter is off from range to range"),
)
"""What is believed of the afternoon in the garage."""


FILAMENT_EXPONENT = Belief(
    "voltage exponent", 3.4, 0.1, "1", "flux of gas-filled lamps by voltage, 3.4 to 3.5 (Fink and Beaty 1978)"
)
"""How the light of a filament lamp goes with the voltage, as a power."""

LED_EXPONENT = Belief(
    "voltage exponent", 1.1, 0.9, "1", "an assumption: 0 for a regulated LED, 1.4 to 3.5 behind a resistor", low=-0.2
)
"""The same for a new light source of which it is not known what limits its current."""

REGULATED_EXPONENT = Belief("voltage exponent", 0.0, 0.05, "1", "a regulator keeps the current", low=-0.2, high=0.4)
"""The same for a regulated one."""

RESISTOR_EXPONENT = Belief(
    "voltage exponent",
    2.2,
    0.24,
    "1",
    "diode equation, a resistor taking the rest, 12 V to 13.5 V: 1.4 for two red dies in a row (2.0 V each), 1.9 for "
    "three red or two white (3.0 V), 3.3 for three white; how many there are, an assumption",
    "lognormal",
)
"""The same behind a resistor: the more of the voltage the dies take, the steeper."""

SUPPLY = Belief(
    "supply over running voltage",
    0.955,
    0.055,
    "1",
    "an assumption: not noted, from a resting battery, 0.9, to one that is charged, 1.0",
    "uniform",
)
"""The voltage at which a filament was read over the one that its light source refers to: it tells how red it burnt."""

_BATTERY, _CLASSES = 12.5, ((9.0, 6.75), (18.0, 13.5), (np.inf, 28.0))
"""Battery for which the drift of the supply is given, an assumption; running voltage by the one below which a reading
was taken in such a vehicle [V]. Source: the test voltages of the UN lamp regulations."""

_PRIOR_REPEATS, _PRIOR_STEPS = 4.0, 3.0
"""Readings, and pairs of backgrounds, for which what is assumed of them counts [1]. Source: an assumption."""

_REFERENCE = 100.0
"""Illuminance at which a meter that is not linear reads right [lx]. Source: own judgement; it cancels in a ratio."""

Values = Mapping[tuple[str, str], NDArray[np.float64]]
"""What is off, by owner and name."""


@dataclass(frozen=True, eq=False)
class Measurement:
    """An afternoon of readings together with everything that may be off in them.

    Source: JCGM 100:2008, 4.2.4, pooled estimates.
    """

    groups: Mapping[tuple[str, str], list[Reading]]
    believed: Mapping[str, Belief]
    meter: Meter
    faces: Mapping[str, Belief]
    repeatability: float
    repeatability_freedom: float
    background_step: float
    background_freedom: float
    one_range: bool | None = None
    exponents: Mapping[str, Belief] = field(default_factory=dict)
    running_voltage: float | None = None

    @cached_property
    def supply_noted(self) -> bool:
        """Whether every reading tells its voltage; a part alone would set one lamp against the other."""
        return all(r.supply is not None for group in self.groups.values() for r in group)


def measurement(
    groups: Mapping[tuple[str, str], list[Reading]],
    believed: Mapping[str, Belief],
    meter: Meter,
    face_diameter: float | None,
    *,
    one_range: bool | None = None,
    exponents: Mapping[str, Belief] = {},
    running_voltage: float | None = None,
) -> Measurement:
    """Learn from the readings themselves how well they repeat and how much the background moves.

    Source: JCGM 100:2008, 4.2.4, pooled estimates; rounding is taken off.
    """
    prior = believed["repeatability"].typical
    squares, freedom = _PRIOR_REPEATS * prior**2, _PRIOR_REPEATS
    for group in groups.values():
        for distance in {r.distance for r in group}:
            net = np.array([r.net for r in group if r.distance == distance])
            if net.size > 1:
                rounding = np.mean([r.resolution**2 / 12.0 for r in group]) / net.mean() ** 2
                squares += max(float(net.var(ddof=1) / net.mean() ** 2 - rounding), 0.0) * (net.size - 1)
                freedom += net.size - 1
    steps, step_freedom = _PRIOR_STEPS * believed["background step"].typical ** 2, _PRIOR_STEPS
    readings = [r for group in groups.values() for r in group]
    brackets = {tuple(d.line for d in r.dark): r.dark for r in readings if len(r.dark) == 2}
    for first, last in brackets.values():
        level = 0.5 * (first.illuminance + last.illuminance)
        if level > 0:
            rounding = (first.resolution**2 + last.resolution**2) / 12.0
            steps += max((last.illuminance - first.illuminance) ** 2 - rounding, 0.0) / level**2
            step_freedom += 1.0
    noted, usual = [r.supply for r in readings if r.supply is not None], (LED_EXPONENT, FILAMENT_EXPONENT)
    if noted and running_voltage is None:
        running_voltage = next(running for limit, running in _CLASSES if np.median(noted) < limit)
    written = {r.lamp: r.face for r in readings if r.face is not None}
    faces = {
        where: believed["face diameter"] if size is None else Belief("face diameter", size, 0.0, "m", "given", "fixed")
        for (where, _), group in groups.items()
        for size in (face_diameter or written.get(group[0].lamp),)
    }
    return Measurement(
        groups=groups,
        believed=believed,
        meter=meter,
        faces=faces,
        repeatability=float(np.sqrt(squares / freedom)),
        repeatability_freedom=freedom,
        background_step=float(np.sqrt(steps / step_freedom)),
        background_freedom=step_freedom,
        one_range=one_range,
        exponents={source: exponents.get(source) or usual[is_old_lamp(source)] for _, source in groups},
        running_voltage=running_voltage,
    )


def _belief(model: Measurement, name: str) -> Belief:
    """What is believed of the afternoon, or the usual where a user told only of other things."""
    return model.believed.get(name) or next(b for b in AFTERNOON if b.name == name)


def beliefs(model: Measurement, groups: Iterable[tuple[str, str]]) -> dict[str, list[Belief]]:
    """List what is believed of everything that may be off in some groups of readings.

    Source: JCGM 101:2008, 6.4.
    """
    found: dict[str, list[Belief]] = {
        meters.OWNER: list(model.meter.beliefs),
        "afternoon": [model.believed["distance offset"]],
    }
    for lamp, source in groups:
        names = ("position", "aim", "tilt error", "beam exponent")
        found[f"{lamp}, {source}"] = [model.believed[name] for name in names]
        found[f"{lamp}, {source}"].append(_belief(model, "supply reading" if model.supply_noted else "supply drift"))
        if model.one_range is not True:
            found[f"{lamp}, {source}"].append(_belief(model, "range step"))
        found[f"light of {source}"] = [model.exponents[source]]
        found[f"face of {lamp}"] = [model.faces[lamp]]
        for r in model.groups[lamp, source]:
            found[_shown(lamp, source, r)] = [
                Belief("last digit", 0.0, 0.5 * r.resolution, "lx", "the digits of the log", "uniform")
            ]
            found[f"line {r.line}"] = [
                Belief("repeatability", 0.0, model.repeatability, "1", "the repeats of the log, and an assumption"),
                Belief("background drift", 0.0, _drift(model, r), "lx", "the backgrounds, and an assumption"),
            ]
            for d in r.dark:
                found[f"background, line {d.line}"] = [
                    Belief("last digit", 0.0, 0.5 * d.resolution, "lx", "the digits of the log", "uniform")
                ]
            found[_bracket(r)] = [Belief("shared drift", 0.0, 1.0, "1", "a random walk")]
    return found


def draw(model: Measurement, groups: Iterable[tuple[str, str]], draws: int, seed: int) -> Values:
    """Draw possible afternoons: what is off in some groups of readings, and what is off in all.

    Source: JCGM 101:2008, 6.4.9: what rests on few repeats is widened as Student's distribution does.
    """
    from scipy.special import gammaincinv, ndtr

    values = sampling.draw(beliefs(model, groups), draws, seed).values
    scales = {}
    for name, freedom in freedoms(model).items():
        z = ndtr(sampling.standard_normal(seed, "afternoon", f"scale of {name}", draws))
        scales[name] = np.sqrt(0.5 * freedom / gammaincinv(0.5 * freedom, z))
    return {
        (owner, name): v * scales[name] if owner.startswith("line ") and name in scales else v
        for (owner, name), v in values.items()
    }


def freedoms(model: Measurement) -> dict[str, float]:
    """Give the degrees of freedom of what was estimated from repeats.

    Source: JCGM 100:2008, G.4.
    """
    return {"repeatability": model.repeatability_freedom, "background drift": model.background_freedom}


def intensity(model: Measurement, group: tuple[str, str], values: Values) -> NDArray[np.float64]:
    """Give the luminous intensity towards the meter before mismatch correction, averaged over the repeats.

    Source: inverse square and cosine laws of CIE S 017:2020; near field of a round face.
    """
    owner = f"{group[0]}, {group[1]}"
    gamma, gain = (values[meters.OWNER, name] for name in ("linearity exponent", "calibration"))
    typical = model.believed["beam exponent"].typical
    total: NDArray[np.float64] | float = 0.0
    for r in model.groups[group]:
        line = f"line {r.line}"
        background = sum(
            w * (d.illuminance + values[f"background, line {d.line}", "last digit"])
            for w, d in zip(r.dark_weights, r.dark, strict=True)
        )
        # two readings between the same backgrounds share half of the variance of what happened in between
        drift = values[line, "background drift"] + _drift(model, r) * values[_bracket(r), "shared drift"]
        background = np.maximum(background + drift * np.sqrt(0.5), 0.0)
        lit = r.illuminance + values[_shown(*group, r), "last digit"] + r.net * values[line, "repeatability"]
        net = _linear(lit, gamma) - _linear(background, gamma)
        distance = r.distance + values["afternoon", "distance offset"] + values[owner, "position"]
        distance = np.maximum(distance, 0.2 * r.distance)
        angle = np.clip(r.tilt + values[owner, "tilt error"], -85.0, 85.0)
        response = meters.directional_response(angle, values[meters.OWNER, "directional exponent"])
        near: NDArray[np.float64] | float = 1.0
        if not lamp_face.far_enough(r.distance, model.faces[group[0]].typical, typical):
            face = values[f"face of {group[0]}", "face diameter"]
            near = lamp_face.near_field_factor(distance, face, values[owner, "beam exponent"])
        shown = net * distance**2 * gain * values[owner, "aim"] / (response * near)
        total = total + shown * _supply_factor(model, group, r, values)
    steps = 1.0 if model.one_range is True else 1.0 + values[owner, "range step"]
    return np.asarray(total * steps / len(model.groups[group]))


def _supply_factor(
    model: Measurement, group: tuple[str, str], r: Reading, values: Values
) -> NDArray[np.float64] | float:
    """From the light at the voltage of a reading to that at the running voltage; or how far the voltage moved."""
    exponent = values[f"light of {group[1]}", "voltage exponent"]
    owner = f"{group[0]}, {group[1]}"
    if model.supply_noted and r.supply is not None and model.running_voltage is not None:
        return np.asarray((model.running_voltage / (r.supply + values[owner, "supply reading"])) ** exponent)
    return np.asarray((1.0 + values[owner, "supply drift"] / _BATTERY) ** exponent)


def meter_distance(model: Measurement) -> Statement:
    """Say whether the meter stood far enough for the inverse square law, by which rule, and what was taken of the face.

    Source: EN 13032-1:2004 and CIE S 025:2015 (from memory) for the rule.
    """
    every = ((r.distance, model.faces[where]) for (where, _), group in model.groups.items() for r in group)
    nearest, face = min(every, key=lambda one: one[0] / one[1].typical)
    far = bool(lamp_face.far_enough(nearest, face.typical, model.believed["beam exponent"].typical))
    taken = say("meter_distance.face", diameter=face.typical, given=face.shape == "fixed")
    return say("meter_distance.far" if far else "meter_distance.near", face=taken, rule=say("meter_distance.rule"))


def _bracket(r: Reading) -> str:
    return "background between lines " + " and ".join(str(d.line) for d in r.dark)


def _shown(lamp: str, source: str, r: Reading) -> str:
    # A display that shows the same number again rounded it the same way: repeats do not average that away.
    return f"{r.illuminance:g} lx of {lamp}, {source}"


def _drift(model: Measurement, r: Reading) -> float:
    # a random walk pinned at both backgrounds; with one background only, free from there on
    part = np.sqrt(r.position * (1.0 - r.position)) if len(r.dark) == 2 else 1.0
    return float(part * model.background_step * r.background)


def _linear(reading: ArrayLike, exponent: NDArray[np.float64]) -> NDArray[np.float64]:
    shown = np.maximum(np.asarray(reading, dtype=float), 1e-9)
    return np.asarray(shown * (shown / _REFERENCE) ** -exponent)


OPTICS = Belief(
    "intensity by flux",
    0.3,
    1.2,
    "cd/lm",
    "an assumption: from a bare light source, 1/(4 pi), to a deep reflector, several",
    "lognormal",
)
"""What is believed of a lamp's reflector and lens pattern before its light was read."""

PLAIN = Belief("pattern of the lens", 1.0, 0.0, "1", "a plain lens, or a piece of it held before the meter", "fixed")
"""A lens that colours the light but does not bend it: with the lens fitted or removed the beam is the same."""

PATTERNED = Belief(
    "pattern of the lens",
    1.0,
    0.5,
    "1",
    "an assumption: prisms and pillows send light elsewhere, for every light source alike",
    "lognormal",
)
"""A lens with prisms or pillows: taken off the lamp it leaves another beam, by one unknown factor for every source."""

UNEVEN_PATTERN = 0.03
"""Standard relative deviation of that factor from one light source to the next in the same lamp [1].
Source: an assumption: a filament and an LED do not stand at quite the same place."""

EDGE_SHAPE = 0.02
"""Standard relative error of a coloured LED's transmittance because no lens has quite the edge of the model [1].
Source: own fits of the exponential edge to the standard signal lenses: 1 % to 2 % for a narrow LED on the edge, 0.4 %
and less for white light (computed independently)."""

BLOCK = 1024
"""Garages whose spectra are worked on at a time [1]. Source: own timing; about a megabyte stays in the cache."""

Group = tuple[str, str, bool]

Drawn = dict[str, NDArray[np.float64]]


def predicted(
    groups: Sequence[Group],
    lens: Lens,
    sources: Mapping[str, LightSource],
    meter: Meter,
    values: Mapping[tuple[str, str], NDArray[np.float64]],
    part: slice | None = None,
) -> NDArray[np.float64]:
    """Predict the logarithm of the intensity that the meter shows for each group of readings.

    Source: CIE S 017:2020 for flux and transmittance; ISO/CIE 19476 for what the meter makes of it.
    """
    part = part_for(groups, lens, sources, meter) if part is None else part
    size = max(np.size(v) for v in values.values())
    if size <= BLOCK:
        return _predicted(groups, lens, sources, meter, values, part)
    # Row blocks keep the spectra in the processor's cache and in memory that is used again.
    rows = [slice(start, start + BLOCK) for start in range(0, size, BLOCK)]
    return np.vstack(
        [_predicted(groups, lens, sources, meter, {key: v[row] for key, v in values.items()}, part) for row in rows]
    )


def part_for(groups: Sequence[Group], lens: Lens, sources: Mapping[str, LightSource], meter: Meter) -> slice:
    """Choose the wavelengths that are enough for the typical light before and behind the lens, and for the meter."""
    bare = np.array([sources[key].spectrum for key in dict.fromkeys(source for _, source, _ in groups)])
    return smooth_part(bare, bare * lens.transmittance, meter)


SMOOTH = 2e-3
"""Share of all by which what a meter shows of a sum over every fifth wavelength may miss that over all [1]. Source: an
assumption, a tenth of the hundredths that two readings of one lamp differ by."""


def smooth_part(before: NDArray[np.float64], behind: NDArray[np.float64], meter: Meter) -> slice:
    """Choose every fifth wavelength where lights like these, before and behind a lens, add up to the same as at all.

    The sums have to be the same whichever wavelength they begin with: an edge of another draw stands elsewhere between
    two of them. A light of narrow lines, or one read from a file in steps, is added up in full.
    Source: SMOOTH of what eye and meter make of each.
    """
    bare, seen = np.atleast_2d(before), np.atleast_2d(behind)
    meter_curve = meter.model({b.name: np.asarray(b.typical) for b in meter.beliefs})
    x, y, z = colorimetry.observer().T
    curves = np.array([bare * y, seen * x, seen * y, seen * z, bare * meter_curve, seen * meter_curve])
    whole = curves.sum(axis=-1)
    colour = whole[1:4].sum(axis=0)
    bound = SMOOTH * np.array([whole[0], colour, whole[2], colour, *whole[4:]])
    step = grid.FIFTHS.step
    sums = (step * curves[..., i::step].sum(axis=-1) for i in range(step))
    same = np.all(bound > 0) and all(np.all(np.abs(one - whole) <= bound) for one in sums)
    return grid.FIFTHS if same else grid.WHOLE


def _predicted(
    groups: Sequence[Group],
    lens: Lens,
    sources: Mapping[str, LightSource],
    meter: Meter,
    values: Mapping[tuple[str, str], NDArray[np.float64]],
    part: slice,
) -> NDArray[np.float64]:
    def of(owner: str) -> dict[str, NDArray[np.float64]]:
        return {name: v for (who, name), v in values.items() if who == owner}

    through = transmittances(lens, of(lens.name), part=part)
    own = of(meters.OWNER)
    curves, leak = meter.model(own, part), own["near-infrared leak"]
    calibrated = meters.signal(curves, meter.calibration[part], leak=leak, part=part) / (
        photometry.luminous_flux(meter.calibration) / photometry.K_M
    )
    shown: dict[tuple[str, bool], NDArray[np.float64]] = {}
    for key in dict.fromkeys(source for _, source, _ in groups):
        drawn = _as_red_as_read(sources[key], of(sources[key].name), values)
        spectra = relative_spectra(sources[key], drawn, part=part)
        flux = true_flux(sources[key], drawn)
        for fitted in {f for _, s, f in groups if s == key}:
            light = through * spectra if fitted else spectra
            seen = photometry.K_M * meters.signal(curves, light, leak=leak, part=part) / calibrated
            shown[key, fitted] = np.log(flux * seen)
    columns = []
    for lamp, key, fitted in groups:
        column = shown[key, fitted]
        factors = [(f"lamp {lamp}", OPTICS.name), (f"{sources[key].name} in {lamp}", BEAM_RATIO)]
        if fitted:
            factors.append((f"lamp {lamp}", PLAIN.name))
        for owner, name in factors:
            if (owner, name) in values:
                column = column + np.log(values[owner, name])
        columns.append(column)
    return np.stack(columns, axis=1)


def _as_red_as_read(source: LightSource, drawn: Drawn, values: Values) -> Drawn:
    """Cool a filament to the voltage at which it was read, where that is drawn.

    Source: the colour temperature goes with the voltage by its exponent, Fink and Beaty 1978.
    """
    supply = values.get(("afternoon", SUPPLY.name))
    if supply is None or source.kind is not SourceKind.FILAMENT:
        return drawn
    return {**drawn, FILAMENT_TEMPERATURE: drawn[FILAMENT_TEMPERATURE] * supply ** drawn[COLOUR_TEMPERATURE_EXPONENT]}


def left_out(source: LightSource, lens: Lens, pattern: Belief) -> float:
    """Give how far a reading through the lens may be from any prediction, because the model leaves something out.

    Source: EDGE_SHAPE for a coloured LED behind a coloured lens, UNEVEN_PATTERN for a lens that bends light.
    """
    shape = EDGE_SHAPE if source.kind is SourceKind.COLOURED_LED and lens.colour != "clear" else 0.0
    return float(np.hypot(shape, UNEVEN_PATTERN if pattern.spread > 0 else 0.0))
