"""What a meter should show of light sources with the lens fitted and removed: the forward half of knowing a lens."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from lampkit import meters, mismatch, photometry
from lampkit.lenses import Lens, transmittances
from lampkit.meters import Meter
from lampkit.shortfall import beam_belief
from lampkit.sources import LightSource, relative_spectra
from lampkit.uncertainty import Belief

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

BLOCK = 256
"""Garages whose spectra are worked on at a time [1]. Source: own timing; about a megabyte stays in the cache."""

Group = tuple[str, str, bool]


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
        Values of every quantity. A lamp, pattern or beam that is not among them is one.

    Returns
    -------
    ndarray, shape (n, j) [1]
        Natural logarithm of the intensity in cd.

    Source: CIE S 017:2020 for flux and transmittance; ISO/CIE 19476 for what the meter makes of it.
    """

    size = max(np.size(v) for v in values.values())
    if size > BLOCK:
        # Row blocks keep the spectra in the processor's cache and in memory that is used again.
        parts = [slice(start, start + BLOCK) for start in range(0, size, BLOCK)]
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
        factors = [(f"lamp {lamp}", OPTICS.name), (f"{sources[key].name} in {lamp}", beam_belief(None).name)]
        if fitted:
            factors.append((f"lamp {lamp}", PLAIN.name))
        for owner, name in factors:
            if (owner, name) in values:
                column = column + np.log(values[owner, name])
        columns.append(column)
    return np.stack(columns, axis=1)


def left_out(source: LightSource, lens: Lens, pattern: Belief) -> float:
    """Give how far a reading through the lens may be from any prediction, because the model leaves something out.

    Parameters
    ----------
    source : LightSource
        The light source.
    lens : Lens
        The lens.
    pattern : Belief
        PLAIN, PATTERNED or another belief.

    Returns
    -------
    float [1]
        Relative standard deviation.

    Source: EDGE_SHAPE for a coloured LED behind a coloured lens, UNEVEN_PATTERN for a lens that bends light.
    """
    shape = EDGE_SHAPE if source.kind == "coloured LED" and lens.colour != "clear" else 0.0
    return float(np.hypot(shape, UNEVEN_PATTERN if pattern.spread > 0 else 0.0))
