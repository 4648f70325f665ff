"""Lux meters and phones: the responsivities they may have, what they make of light, infrared, slanting light."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, member, nearest
from lampkit.light import photometry
from lampkit.light.colorimetry import SECOND_RADIATION_CONSTANT
from lampkit.light.illuminants import illuminant
from lampkit.uncertainty.sampling import Belief

LEAK_BAND = (700.0, 1000.0)
"""Where the modelled near-infrared leak of a sensor lies [nm]. Source: an assumption."""

CUT_WIDTH = 10.0
"""How far a filter against infrared takes to close, as the scale of a logistic [nm]. Source: an assumption."""

_REACH = 60
"""Shift of a responsivity that is still taken [nm]. Source: own judgement."""

_BLOCK = 128  # curves at a time: what is being worked on then stays in the processor's cache
_LEAK_BY_STEP = {
    part.step: np.where(grid.WAVELENGTHS[part] == LEAK_BAND[0], 0.5 * (1.0 + 1.0 / (part.step or 1)), 1.0)
    * (grid.WAVELENGTHS[part] >= LEAK_BAND[0])
    for part in (grid.WHOLE, grid.FIFTHS)
}
"""By the step of the grid the leak at each wavelength over its whole height [1]; where it begins, a point that stands
for five nanometres has it over three of them."""

_SHELF = 1.0 / (1.0 + np.exp((620.0 - grid.WAVELENGTHS) / 8.0)) / (1.0 + np.exp((grid.WAVELENGTHS - 760.0) / 8.0))
"""Where the modelled far-red shelf of a sensor lies, from about 620 nm to 760 nm [1]. Source: an assumption."""


def responsivity(
    shift: ArrayLike = 0.0,
    tilt: ArrayLike = 0.0,
    breadth: ArrayLike = 1.0,
    leak: ArrayLike = 0.0,
    shelf: ArrayLike = 0.0,
    cut: ArrayLike = np.inf,
    *,
    part: slice = grid.WHOLE,
) -> NDArray[np.float64]:
    """Give relative responsivities of the family that starts from V(lambda).

    Source: own model; a Gaussian keeps its form when its breadth changes so.
    """
    given = (shift, tilt, breadth, leak, shelf, cut)
    d, t, b, r, f, c = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in given))
    if np.any(~(np.abs(d) < _REACH)) or np.any(~(b > 0)):
        raise InputError("a responsivity cannot be so far off", expected="a shift below 60 nm and a breadth above 0")
    wavelengths = grid.WAVELENGTHS[part]
    curves = np.empty((d.size, wavelengths.size))
    flat = [v.ravel() for v in (d, t, b, r, f, c)]
    for start in range(0, d.size, _BLOCK):
        _fill(curves[start : start + _BLOCK], part, *(v[start : start + _BLOCK] for v in flat))
    return curves.reshape(*d.shape, wavelengths.size)


def _fill(
    curve: NDArray[np.float64],
    part: slice,
    shift: NDArray[np.float64],
    tilt: NDArray[np.float64],
    breadth: NDArray[np.float64],
    leak: NDArray[np.float64],
    shelf: NDArray[np.float64],
    cut: NDArray[np.float64],
) -> None:
    # V is shifted by interpolating its logarithm: a shift by whole nanometres is then exact, and so is every zero tilt.
    whole = np.floor(shift).astype(int)
    windows = sliding_window_view(_log_v(), grid.WAVELENGTHS.size)[:, part]
    wavelengths, rest = grid.WAVELENGTHS[part], (shift - whole)[:, np.newaxis]
    np.multiply(windows[_REACH - whole], 1.0 - rest, out=curve)
    curve += windows[_REACH - whole - 1] * rest
    curve *= breadth[:, np.newaxis] ** -2.0
    curve += tilt[:, np.newaxis] * ((wavelengths - 560.0) / 100.0)
    np.exp(curve, out=curve)
    near = cut < 900.0
    if np.any(near):
        # The filter against infrared lies on the chip, before what leaks round it.
        away = np.clip((wavelengths - cut[near, np.newaxis]) / CUT_WIDTH, -50.0, 50.0)
        curve[near] /= 1.0 + np.exp(away)
    curve += leak[:, np.newaxis] * _LEAK_BY_STEP[part.step]
    if np.any(shelf > 0):
        curve += shelf[:, np.newaxis] * _SHELF[part]


@cache
def _log_v() -> NDArray[np.float64]:
    x = np.arange(grid.WAVELENGTHS[0] - _REACH, grid.WAVELENGTHS[-1] + _REACH + 0.5)
    log_v = np.log(photometry.luminous_efficiency())
    # beyond its table V goes on falling as it does over its last ten nanometres
    inside = np.clip(x, grid.WAVELENGTHS[0], grid.WAVELENGTHS[-1])
    slope = np.where(x < inside, (log_v[10] - log_v[0]) / 10.0, (log_v[-1] - log_v[-11]) / 10.0)
    values = np.interp(inside, grid.WAVELENGTHS, log_v) + slope * (x - inside)
    values.setflags(write=False)
    return values


BEYOND = np.arange(831.0, LEAK_BAND[1] + 0.5)
"""Wavelengths past the grid on which a sensor may still see [nm]."""


def _planck(wavelength: NDArray[np.float64], temperature: NDArray[np.float64]) -> NDArray[np.float64]:
    x = SECOND_RADIATION_CONSTANT / (wavelength * 1e-9 * temperature[..., np.newaxis])
    return np.asarray((wavelength / 560.0) ** -5.0 / np.expm1(x))


@cache
def _continuation() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    temperature = np.geomspace(12000.0, 400.0, 400)  # the slope rises along it, as interpolation needs
    ends = _planck(np.array([770.0, 830.0]), temperature)
    beyond = _planck(BEYOND, temperature).sum(axis=-1) / ends[:, 1]
    return np.log(ends[:, 1] / ends[:, 0]), beyond


def infrared_beyond_grid(spectrum: ArrayLike, *, part: slice = grid.WHOLE) -> NDArray[np.float64]:
    """Estimate the radiation between the end of the grid and 1000 nm, going on as a hot body would."""
    values = grid.on_grid(spectrum, part)
    last, before = values[..., -1], values[..., int(np.searchsorted(grid.WAVELENGTHS[part], 770.0))]
    slopes, beyond = _continuation()
    lit = (last > 0) & (before > 0)
    slope = np.log(np.where(lit, last, 1.0) / np.where(lit, before, 1.0))
    return np.asarray(np.where(lit, last * np.interp(slope, slopes, beyond), 0.0))


def signal(
    responsivity: ArrayLike, spectrum: ArrayLike, *, leak: ArrayLike = 0.0, part: slice = grid.WHOLE
) -> NDArray[np.float64]:
    """Give what a sensor makes of light, before it is calibrated in lux."""
    s, light = grid.on_grid(responsivity, part), grid.on_grid(spectrum, part)
    weights = grid.weights(part)
    if s.ndim == 1:
        on_grid = np.einsum("...i,...i->...", s * weights, light)
    elif light.ndim == 1:
        on_grid = np.asarray(s @ (light * weights))
    else:
        on_grid = np.einsum("...i,...i,i->...", s, light, weights, optimize=["einsum_path", (0, 1), (0, 1)])
    return np.asarray(on_grid + np.asarray(leak, dtype=float) * infrared_beyond_grid(light, part=part))


OWNER = "meter"
"""Whose quantities the responsivity and calibration are, when garages are drawn."""


@dataclass(frozen=True, eq=False)
class Meter:
    """A lux meter: what is known of its responsivity, and what it was calibrated on.

    Parameters
    ----------
    name : str
        The meter.
    model : callable
        Takes named parameters, each of shape (...), and gives relative responsivities of shape (..., 471).
    beliefs : tuple of Belief
        What is believed of the parameters, the near-infrared leak, slanting light, linearity and calibration.
    calibration : ndarray, shape (471,) [W/nm]
        Relative spectrum on which the meter reads right.

    Examples
    --------
    What is believed of a phone begins with a shift of its responsivity.

    >>> import lampkit as lk
    >>> lk.measurement.phone().beliefs[0].name
    'responsivity shift'
    """

    name: str
    model: Callable[..., NDArray[np.float64]]
    beliefs: tuple[Belief, ...]
    calibration: NDArray[np.float64]


class Infrared(Enum):
    """What the meter showed when an infrared remote control was pointed at it in the dark."""

    NONE = "none"
    SOME = "some"
    NOT_TRIED = "not_tried"


_LEAKS = {Infrared.NONE: (3e-5, 1.0), Infrared.SOME: (3e-3, 0.8), Infrared.NOT_TRIED: (5e-4, 1.5)}
"""Leak from the end of the visible to 1000 nm over the peak, median and spread of the logarithm [1]. Source: an
assumption; a display of 0.1 lx under a remote control some centimetres away shows a leak from about one in ten
thousand."""

TYPICAL_INDEX = 10.3
"""Median general mismatch index f1' of hand-held lux meters of untold class [%]: 9 of 22 are then within 9 %.
Source: Tabaka and Wtorkiewicz, Energies 2022, 15, 5847. A secondary text gives 2.4 % for 120 meters, of what make it
does not tell; a meter so good has a class that its manual states."""

_INDEX_OF_CLASS, _INDEX_OF_SPREADS = 0.55, 2.4
"""Median f1' of the meters of a class over the limit of the class [1], an assumption, and of the spreads below [%]."""


def phone(name: str = "phone", *, infrared: Infrared | str = Infrared.NOT_TRIED) -> Meter:
    """Give a phone whose sensor is not known: photopic, shifted, broad, leaning to red, cut in the red, or leaking.

    Parameters
    ----------
    name : str
        What to call it.
    infrared : {'none', 'some', 'not_tried'}
        What it showed of an infrared remote control in the dark.

    Returns
    -------
    Meter
        Calibrated on tungsten light; the responsivity is a belief.

    Raises
    ------
    InputError
        What it showed of infrared is none of the three.

    Examples
    --------
    Its spectrum is not known.

    >>> import lampkit as lk
    >>> lk.measurement.phone("my phone").name
    'my phone'

    Source: an assumption, so wide that most draws fail the 9 % of class C as the three phones measured by Tabaka and
    Wtorkiewicz (Energies 2022, 15, 5847) did; the infrared leak reaches 1 % in one draw of forty, as a data sheet of a
    light sensor states a rejection above 99 % (read in a secondary text); the filter against infrared closes from
    640 nm to 720 nm, an assumption; linear to R^2 above 0.99, and as a camera 27 % off on average, after
    Salmeron-Campillo and others (Appl. Sci. 2021, 11, 7566), less with its light sensor, an assumption.
    """
    leak = _LEAKS[member(Infrared, infrared, "answer", "infrared")]
    beliefs = _spread(5.0, 0.25, 0.12, leak=leak, shelf=(1e-3, 1.5), cut=(680.0, 20.0))
    return Meter(name, _model, beliefs + _handling(0.01, 0.25), illuminant("A"))


def lux_meter(
    name: str = "lux meter", *, meter_class: str | None = None, infrared: Infrared | str = Infrared.NOT_TRIED
) -> Meter:
    """Give a hand-held lux meter with a filter that follows V(lambda) to some percent.

    Parameters
    ----------
    name : str
        What to call it.
    meter_class : {'L', 'A', 'B', 'C'}, optional
        Its class, as its manual states; a common hand-held meter when left out.
    infrared : {'none', 'some', 'not_tried'}
        What it showed of an infrared remote control in the dark.

    Returns
    -------
    Meter
        Calibrated on tungsten light; the responsivity is a belief of smaller spread.

    Raises
    ------
    InputError
        The class is unknown, or what it showed of infrared is none of the three.

    Examples
    --------
    Its colour response is known better than that of a phone.

    >>> import lampkit as lk
    >>> meters = lk.measurement.lux_meter(), lk.measurement.phone()
    >>> meters[0].beliefs[0].spread < meters[1].beliefs[0].spread
    True

    Source: TYPICAL_INDEX for the class that is not told; the classes of DIN 5032-7:1985 (f1' 1.5 %, 3 %, 6 % and 9 %,
    total error 3 %, 5 %, 10 % and 20 %), of which a meter uses about half, an assumption; untold, the total error of C.
    """
    index = TYPICAL_INDEX if meter_class is None else _INDEX_OF_CLASS * class_limit(meter_class)
    part, total = index / _INDEX_OF_SPREADS, class_limit(meter_class or "C", "total")
    seen = member(Infrared, infrared, "answer", "infrared")
    leak = (2e-5, 1.2) if seen is Infrared.NOT_TRIED else tuple(np.multiply(_LEAKS[seen], (0.3, 1.0)))
    beliefs = _spread(1.0 * part, 0.036 * part, 0.018 * part, leak=leak, shelf=(3e-4 * part, 1.3), cut=None)
    return Meter(name, _model, beliefs + _handling(0.004, 0.005 * total), illuminant("A"))


class MeterKind(Enum):
    """What a person reads lux with."""

    PHONE = "phone"
    LUX_METER = "lux meter"


@dataclass(frozen=True)
class MeterFacts:
    """What the user tells of a meter; None for what was not told.

    `one_range` tells whether all was read in one range; False where the meter chose its range by itself.
    """

    kind: MeterKind | None = None
    meter_class: str | None = None
    infrared: Infrared = Infrared.NOT_TRIED
    one_range: bool | None = None


NOTHING_TOLD = MeterFacts()
"""A meter of which nothing is told."""


def meter_of(facts: MeterFacts) -> Meter:
    """Give the meter that the user tells of; a phone where nothing is told, as that is the wider of the two."""
    if facts.kind is MeterKind.LUX_METER:
        return lux_meter(meter_class=facts.meter_class, infrared=facts.infrared)
    return phone(infrared=facts.infrared)


def class_limit(meter_class: str, index: str = "f1'") -> float:
    """Give the limit of an index that a class sets, in per cent.

    Source: DIN 5032-7:1985, as data/meters/class_limits.csv has it.
    """
    rows = tables.load("meters", "class_limits").rows()
    of_din = [row for row in rows if (row["index"], row["standard"]) == (index, "DIN 5032-7:1985")]
    limits = {row["class"]: float(row["limit_percent"]) for row in of_din}
    wanted = str(meter_class).upper()
    if wanted not in limits:
        raise InputError(f"the class '{meter_class}' is unknown", key="meter_class", expected=nearest(wanted, limits))
    return limits[wanted]


def measured_meter(name: str, responsivity: ArrayLike) -> Meter:
    """Give a meter whose spectral responsivity was measured.

    Parameters
    ----------
    name : str
        What to call the meter.
    responsivity : array_like, shape (471,) [1]
        Relative responsivity, as `lampkit.light.read_curve` reads it from a file.

    Returns
    -------
    Meter
        Calibrated on tungsten light, with no leak beyond the grid.

    Raises
    ------
    InputError
        This is not a responsivity.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.measurement.measured_meter("bench meter", lk.light.luminous_efficiency()).name
    'bench meter'
    """
    curve = grid.on_grid(responsivity)
    if curve.ndim != 1 or not np.all(np.isfinite(curve)) or np.any(curve < 0) or not np.any(curve > 0):
        raise InputError("this is not a responsivity", key=name, expected="471 numbers, none negative, not all zero")
    curve = curve / curve.max()
    no_leak = Belief("near-infrared leak", 0.0, 0.0, "1", "the curve ends with the grid", "fixed")

    def model(values: Mapping[str, NDArray[np.float64]], part: slice = grid.WHOLE) -> NDArray[np.float64]:
        shape = np.shape(next(iter(values.values()))) if values else ()
        return np.broadcast_to(curve[part], (*shape, curve[part].size))

    return Meter(name, model, (no_leak, *_handling(0.004, 0.05)), illuminant("A"))


def _spread(
    shift: float,
    tilt: float,
    breadth: float,
    leak: tuple[float, ...],
    shelf: tuple[float, float],
    cut: tuple[float, float] | None,
) -> tuple[Belief, ...]:
    ground = "an assumption"
    closing = (
        Belief("infrared cut", 900.0, 0.0, "nm", "a lux meter needs none: its filter follows V(lambda)", "fixed")
        if cut is None
        else Belief("infrared cut", *cut, "nm", ground, low=630.0, high=800.0)
    )
    return (
        Belief("responsivity shift", 0.0, shift, "nm", ground, low=-40.0, high=40.0),
        Belief("responsivity tilt", 0.0, tilt, "1/(100 nm)", ground),
        Belief("responsivity breadth", 1.0, breadth, "1", ground, "lognormal", low=0.5, high=2.5),
        Belief("far-red shelf", *shelf, "1", ground, "lognormal", low=0.0, high=0.2),
        Belief("near-infrared leak", leak[0], leak[1], "1", ground, "lognormal", low=0.0, high=0.2),
        closing,
    )


def _handling(linearity: float, gain: float) -> tuple[Belief, ...]:
    return (
        Belief("directional exponent", 1.2, 0.15, "1", "an assumption", "lognormal"),
        Belief("linearity exponent", 0.0, linearity, "1", "an assumption"),
        Belief("calibration", 1.0, gain, "1", "an assumption", "lognormal"),
    )


def _model(values: Mapping[str, NDArray[np.float64]], part: slice = grid.WHOLE) -> NDArray[np.float64]:
    return responsivity(
        values["responsivity shift"],
        values["responsivity tilt"],
        values["responsivity breadth"],
        values["near-infrared leak"],
        values["far-red shelf"],
        values["infrared cut"],
        part=part,
    )


def directional_response(angle: ArrayLike, exponent: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Give the response of a sensor to slanting light, as a power of the cosine.

    Source: own model; cosine law of CIE S 017:2020.
    """
    slant = np.asarray(angle, dtype=float)
    if np.any(~(np.abs(slant) < 90.0)):
        raise InputError("the meter faces away from the light", key="angle", expected="degrees below 90")
    return np.asarray(np.cos(np.radians(slant)) ** np.asarray(exponent, dtype=float))
