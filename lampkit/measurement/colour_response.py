"""A meter's colour response: what it makes of each light, how much of a ratio that is, and how far to trust it then."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.errors import InputError, nearest, within
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import Lens, transmittances
from lampkit.light import photometry
from lampkit.light.illuminants import illuminant
from lampkit.measurement import measurement_model, meters
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.measurement_model import Values
from lampkit.measurement.meters import Meter
from lampkit.sources import led_spectra
from lampkit.sources.incandescence import tungsten
from lampkit.sources.light_source import LightSource, relative_spectra
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief


def mismatch_correction(
    responsivity: ArrayLike,
    spectrum: ArrayLike,
    *,
    leak: ArrayLike = 0.0,
    calibration: ArrayLike | None = None,
    part: slice = grid.WHOLE,
) -> NDArray[np.float64]:
    """Give the spectral mismatch correction factor: true illuminance over the illuminance read.

    Parameters
    ----------
    responsivity : array_like, shape (..., 471) [1]
        Relative responsivities.
    spectrum : array_like, shape (..., 471) [W/nm]
        Light at the meter, after the lens; its scale cancels. The leading axes broadcast.
    leak : array_like, shape (...) [1]
        Responsivity from the end of the grid to 1000 nm.
    calibration : array_like, shape (471,), optional [W/nm]
        Relative spectrum on which the meter reads right; illuminant A when left out.
    part : slice
        Of which wavelengths responsivity and spectrum hold values, as in `lampkit.grid.FIFTHS`; every one when left
        out.

    Returns
    -------
    ndarray, shape (...) [1]
        The factor F*; the meter's error is 1/F* - 1.

    Raises
    ------
    InputError
        An array is not on the grid, or the meter sees nothing of the light.

    Examples
    --------
    A photopic meter reads every light right.

    >>> import lampkit as lk
    >>> red = lk.sources.coloured_led("red", luminous_flux=100).spectrum
    >>> round(float(lk.measurement.mismatch_correction(lk.light.luminous_efficiency(), red)), 9)
    1.0

    Source: ISO/CIE 19476 and CIE S 017:2020, 17-25-115 (form from memory).
    """
    lit = illuminant("A") if calibration is None else grid.on_grid(calibration)
    light = grid.on_grid(spectrum, part)
    seen = meters.signal(responsivity, light, leak=leak, part=part)
    seen_calibration = meters.signal(responsivity, lit[part], leak=leak, part=part)
    if np.any(seen <= 0) or np.any(seen_calibration <= 0):
        raise InputError("the meter sees nothing of the light", expected="a spectrum within the meter's range")
    v = photometry.luminous_efficiency() * grid.WEIGHTS
    return np.asarray((part.step or 1) * (light @ v[part]) * seen_calibration / (seen * (lit @ v)))


def mismatch_index(responsivity: ArrayLike, *, leak: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Give the general V(lambda) mismatch index f1' of a responsivity.

    Parameters
    ----------
    responsivity : array_like, shape (..., 471) [1]
        Relative responsivities.
    leak : array_like, shape (...) [1]
        Responsivity from the end of the grid to 1000 nm.

    Returns
    -------
    ndarray, shape (...) [1]
        The index; 0.03 is 3 %. It is meant for white light: a coloured LED can be read much worse than it says.

    Raises
    ------
    InputError
        The responsivity is not on the grid.

    Examples
    --------
    A photopic meter has none.

    >>> import lampkit as lk
    >>> abs(float(lk.measurement.mismatch_index(lk.light.luminous_efficiency()))) < 1e-9
    True

    Source: ISO/CIE 19476:2014.
    """
    leak = within(leak, 0.0, 1e3, key="leak", unit="")
    s, v, lit = grid.on_grid(responsivity), photometry.luminous_efficiency(), illuminant("A")
    scale = (lit @ (v * grid.WEIGHTS)) / meters.signal(s, lit, leak=leak)
    outside = leak * scale * meters.BEYOND.size
    return np.asarray((np.abs(s * scale[..., np.newaxis] - v) @ grid.WEIGHTS + outside) / (v @ grid.WEIGHTS))


class Trust(Enum):
    """How far a ratio may be trusted, as the meter's colour response goes."""

    MATTERS_LITTLE = "matters_little"
    MAY_HAVE_SHIFTED = "may_have_shifted"
    NOT_AS_READ = "not_as_read"


LITTLE_SHIFT, MUCH_SHIFT, MUCH_LEAK = 0.08, 0.25, 0.05
"""Half-width of the interval of the mismatch correction, in its logarithm, up to which it matters little, and up to
which it can be lived with; share of a leak from which it is told of [1]. Source: an assumption."""


@dataclass(frozen=True)
class ColourResponse:
    """How much of a ratio the meter's colour response may have made up."""

    trust: Trust
    shift: float
    leak_share: float

    @property
    def advice(self) -> Statement:
        """How far to trust the ratio, and what to do."""
        leak = say("meter.leak", share=self.leak_share) if self.leak_share > MUCH_LEAK else ""
        if self.trust is Trust.MATTERS_LITTLE:
            return say("meter.matters_little", shift=self.shift, leak=leak)
        if self.trust is Trust.MAY_HAVE_SHIFTED:
            return say("meter.may_have_shifted", shift=self.shift, leak=leak)
        return say("meter.not_as_read", shift=self.shift, leak=leak)


def judge(log_mismatch: ArrayLike, *, leak_share: float = 0.0) -> ColourResponse:
    """Judge how much of a ratio the meter's colour response may have made up.

    Source: common practice, no source; the limits of 8 % and 25 % are an assumption.
    """
    low, high = np.quantile(np.asarray(log_mismatch, dtype=float), [0.025, 0.975])
    half = float(0.5 * (high - low))
    trust = Trust.NOT_AS_READ if half > MUCH_SHIFT else Trust.MAY_HAVE_SHIFTED
    return ColourResponse(Trust.MATTERS_LITTLE if half <= LITTLE_SHIFT else trust, float(np.expm1(half)), leak_share)


@lru_cache(maxsize=32)
def generic_mismatch(meter: Meter) -> Belief:
    """Give what is believed of a meter's colour response when the light of the lamps is not given.

    Source: own calculation: LED over filament behind the typical red and amber lens, red LEDs from 620 nm to 640 nm,
    amber and cool white ones, with what is believed of the meter.
    """
    values = sampling.draw({meters.OWNER: meter.beliefs}, 400, 1).of(meters.OWNER)
    curves, leak = meter.model(values), values["near-infrared leak"]
    white = led_spectra.phosphor_white(6000.0)
    lights = {
        "red": [led_spectra.narrow_band([620.0, 629.0, 640.0], 10.3, 6.6), white[np.newaxis]],
        "amber": [led_spectra.narrow_band([591.0, 595.0], 8.9, 7.1), white[np.newaxis]],
    }
    logs = []
    for colour, groups in lights.items():
        lens = coloured_lens.load(colour).transmittance
        filament = mismatch_correction(curves, lens * tungsten(2800.0), leak=leak, calibration=meter.calibration)
        for spectrum in np.concatenate(groups):
            new = mismatch_correction(curves, lens * spectrum, leak=leak, calibration=meter.calibration)
            logs.append(np.log(new / filament))
    pooled = np.concatenate(logs)
    return Belief(
        "spectral mismatch",
        float(np.exp(np.median(pooled))),
        float(np.std(pooled)),
        "1",
        f"own calculation: LED over filament behind the same red or amber lens, read with a {meter.name}",
        "lognormal",
    )


def light_through(
    source: LightSource, lens: Lens | None, meter: Meter, *, draws: int, seed: int
) -> NDArray[np.float64]:
    """Give the light of one source behind a lens, or without one, in each possible garage: what a meter sees of it.

    Source: JCGM 101:2008.
    """
    typical = source.spectrum if lens is None else source.spectrum * lens.transmittance
    part = measurement_model.smooth_part(source.spectrum, typical, meter)
    values = sampling.draw({source.name: source.beliefs}, draws, seed).of(source.name)
    spectra = relative_spectra(source, values, part=part)
    if lens is not None:
        through = sampling.draw({lens.name: lens.beliefs}, draws, seed).of(lens.name)
        spectra = spectra * transmittances(lens, through, part=part)
    return spectra


def light_at_meter(
    log: IlluminanceLog,
    sources: Mapping[str, LightSource],
    lenses: Mapping[str, Lens | None],
    *,
    meter: Meter | None = None,
    draws: int = 4000,
    seed: int = 1,
) -> dict[tuple[str, str], NDArray[np.float64]]:
    """Give the light that reaches the meter in each possible garage, from what is believed of sources and lenses.

    Light that is smooth stands on every fifth wavelength of the grid.
    Source: JCGM 101:2008.
    """
    found, sensor = {}, meters.meter_of(log.facts) if meter is None else meter
    for where, lamp, name in dict.fromkeys((r.place, r.lamp, r.source) for r in log.readings):
        if name not in sources:
            raise InputError(f"the source '{name}' is not known", file=log.file, expected=nearest(name, sources))
        if lamp not in lenses:
            raise InputError(f"the lens of '{lamp}' is not known", file=log.file, expected=nearest(lamp, lenses))
        source, lens = sources[name], lenses[lamp] if where == lamp else None
        found[where, name] = light_through(source, lens, sensor, draws=draws, seed=seed)
    return found


def corrections(
    groups: Collection[tuple[str, str]],
    light: Mapping[tuple[str, str], ArrayLike] | None,
    sensor: Meter,
    values: Values,
) -> tuple[dict[tuple[str, str], NDArray[np.float64]] | None, dict[tuple[str, str], float]]:
    """Give for each light its mismatch correction in each garage, and what the leak alone adds to what is shown of it.

    Source: ISO/CIE 19476, as `mismatch_correction` has it; without the light there is nothing to correct.
    """
    if light is None:
        return None, {}
    missing = [key for key in groups if key not in light]
    if missing:
        raise InputError(f"the light of '{missing[0][1]}' in '{missing[0][0]}' is missing", key="light")
    own = {name: v for (owner, name), v in values.items() if owner == meters.OWNER}
    leak = own["near-infrared leak"]
    # what the leak alone does: a photopic sensor with a leak at the upper end of what is believed
    high = float(np.quantile(leak, 0.975))
    curves: dict[int | None, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    seen: dict[int, tuple[NDArray[np.float64], float]] = {}
    for lit in (light[key] for key in groups):
        if id(lit) in seen:
            continue  # lamps that are alike share their light
        part = grid.part_of(np.asarray(lit))
        if part.step not in curves:
            curves[part.step] = sensor.model(own, part), meters.responsivity(leak=high, part=part)
        (curve, leaking), calibration = curves[part.step], sensor.calibration
        found = mismatch_correction(curve, lit, leak=leak, calibration=calibration, part=part)
        leaks = mismatch_correction(leaking, lit, leak=high, calibration=calibration, part=part)
        seen[id(lit)] = found, float(np.mean(1.0 / leaks - 1.0))
    return {key: seen[id(light[key])][0] for key in groups}, {key: seen[id(light[key])][1] for key in groups}
