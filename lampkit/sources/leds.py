"""LEDs you can hold: coloured ones with one narrow band, white ones with a blue pump and two phosphors."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, nearest, within
from lampkit.light import colorimetry
from lampkit.light.illuminants import illuminant as illuminant
from lampkit.sources import heat
from lampkit.sources.incandescence import planck as planck
from lampkit.sources.incandescence import tungsten as tungsten
from lampkit.sources.light_source import LightSource, SourceKind, Values, build, claim_belief, positive
from lampkit.sources.light_source import relative_spectra as relative_spectra
from lampkit.uncertainty.sampling import Belief

OHNO_HALF_WIDTH = 0.460911560
"""Half width at half maximum over the width parameter w of Ohno's shape [1]; the full width is 0.921823 w, not w.
Source: Y. Ohno, Opt. Eng. 44 (2005) 111302, solved for half maximum."""

LOWEST_CCT, HIGHEST_CCT = 2200.0, 8000.0
"""Correlated colour temperatures for which a white LED is given [K]. Source: the range of the fitted illuminants,
2733 K to 6598 K, widened to the classes of retail lamps."""


def narrow_band(
    peak: ArrayLike, short_half_width: ArrayLike, long_half_width: ArrayLike, *, part: slice = grid.WHOLE
) -> NDArray[np.float64]:
    """Give the spectrum of a single-colour LED from its peak and the half-width on each side.

    Parameters
    ----------
    peak : array_like, shape (...) [nm]
        Wavelength of the maximum.
    short_half_width : array_like, shape (...) [nm]
        Half width at half maximum on the side of shorter wavelengths.
    long_half_width : array_like, shape (...) [nm]
        The same on the side of longer wavelengths.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The spectrum, one at its maximum. The three arguments broadcast.

    Raises
    ------
    InputError
        A peak is not on the grid, or a half-width is not positive.

    Examples
    --------
    At each half-width the light is half of that at the peak.

    >>> import lampkit as lk
    >>> shape = lk.sources.narrow_band(630, 12, 8)
    >>> shape[[630 - 12 - 360, 630 - 360, 630 + 8 - 360]].round(2)
    array([0.5, 1. , 0.5])

    Source: Y. Ohno, Opt. Eng. 44 (2005) 111302, with a width of its own on each side.
    """
    given = (np.asarray(v, dtype=float) for v in (peak, short_half_width, long_half_width))
    p, short, long = np.broadcast_arrays(*given)
    if not np.all((p >= grid.WAVELENGTHS[0]) & (p <= grid.WAVELENGTHS[-1])):
        raise InputError("a peak is not on the grid", key="peak", expected="360 nm to 830 nm")
    if not np.all((short >= 0.01) & (long >= 0.01) & np.isfinite(short) & np.isfinite(long)):
        raise InputError("a half-width is not positive", key="half_width", expected="0.01 nm or more")
    nanometres, reach = grid.WAVELENGTHS[part], NOTHING**0.5 / OHNO_HALF_WIDTH
    lit = _rows(nanometres, np.min(p - reach * short, initial=np.inf), np.max(p + reach * long, initial=0.0))
    kind = grid.precision(part)
    g = _over_widths(nanometres[lit], p, OHNO_HALF_WIDTH / short, OHNO_HALF_WIDTH / long, kind)
    g *= g
    np.minimum(g, NOTHING, out=g)  # the fourth power of less would leave the range of fast arithmetic
    np.exp(np.negative(g, out=g), out=g)
    fourth = g * g
    fourth *= fourth
    fourth *= 2.0 / 3.0
    fourth += 1.0 / 3.0
    whole = np.empty((len(nanometres), *p.shape), kind)
    whole[: lit.start], whole[lit.stop :] = 0.0, 0.0
    np.multiply(g, fourth, out=whole[lit])
    return grid.last(whole)


NOTHING = 21.0
"""Exponent beyond which a band is taken as nothing: exp(-21), a billionth of its peak [1]."""


def _rows(nanometres: NDArray[np.float64], low: float, high: float) -> slice:
    """Give the wavelengths from one to another."""
    return slice(*np.searchsorted(nanometres, [low, high]).tolist())


Widths = NDArray[np.float64] | float


def _over_widths(
    wavelengths: NDArray[np.float64], peak: NDArray[np.float64], short: Widths, long: Widths, kind: grid.Kind
) -> NDArray[np.float64]:
    """Give how far wavelengths lie from a peak, in units of one over a factor below it and over another above it."""
    away = grid.straight(wavelengths, long, -peak * long, kind)
    # The one of the two lines that is above zero; beyond the last peak it is the same for all.
    below = away[: np.searchsorted(wavelengths, np.max(peak, initial=0.0))]
    np.maximum(below, grid.straight(wavelengths[: len(below)], np.negative(short), peak * short, kind), out=below)
    return away


WARM_END, COOL_END = 3500.0, 5000.0
"""Correlated colour temperatures between which the red phosphor of a white LED gives way to one yellow one [K].
Source: an assumption: warm whites hold a nitride beside a garnet, cool ones a garnet alone or a little nitride beside
it (common practice)."""


CLASSES = (2200.0, 2500.0, 2700.0, 3000.0, 3500.0, 4000.0, 4500.0, 5000.0, 5700.0, 6500.0)
"""Names of the classes of white LEDs [K]. Source: ANSI C78.377 (from memory)."""

BESIDE = 0.055
"""How far a number on a box can lie from the next class, as a logarithm: half way from one to the other [1].
Source: the classes above 4500 K."""


def beside_the_classes(cct: float) -> float:
    """Give how far a number on a box lies from the class whose dies it stands for, as a logarithm.

    Source: dies are made in the classes of ANSI C78.377 (from memory); 6000 K is none, so 5700 K or 6500 K is inside.
    """
    return float(min(np.abs(np.log(cct / np.array(CLASSES))).min(), BESIDE))


def usual_duv(cct: ArrayLike) -> NDArray[np.float64]:
    """Give the Duv on which the classes of white LEDs are centred.

    Source: ANSI C78.377, 57700/T^2 - 44.6/T + 0.00854 (from memory); below 2700 K held at its value there, where the
    classes of the standard end.
    """
    kelvin = np.maximum(np.asarray(cct, dtype=float), 2700.0)
    return np.asarray(57700.0 / kelvin**2 - 44.6 / kelvin + 0.00854)


def _coolness(cct: ArrayLike) -> NDArray[np.float64]:
    """Zero for a warm white, one for a cool one, in between linear in the reciprocal of the colour temperature."""
    kelvin = np.asarray(cct, dtype=float)
    return np.asarray(np.clip((1.0 / kelvin - 1.0 / WARM_END) / (1.0 / COOL_END - 1.0 / WARM_END), 0.0, 1.0))


def red_phosphor_peak(cct: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the peak of a white LED's longest band, and its spread between makes.

    Source: data/leds/white_shape.csv.
    """
    warm, cool = (np.array(white_shape()[f"red phosphor peak, {which}"]) for which in ("warm", "cool"))
    share = _coolness(cct)[..., np.newaxis]
    found = (1.0 - share) * warm + share * cool
    return found[..., 0], found[..., 1]


@cache
def white_shape() -> dict[str, tuple[float, float]]:
    """Give the shape of the white LED, each parameter with the spread between makes.

    Source: data/leds/white_shape.csv: own fit to the CIE illuminants LED-B1 to LED-B5.
    """
    return {row["parameter"]: (row["value_nm"], row["spread_nm"]) for row in tables.load("leds", "white_shape").rows()}


def phosphor_white(
    cct: ArrayLike,
    duv: ArrayLike | None = None,
    *,
    pump_peak: ArrayLike | None = None,
    green_peak: ArrayLike | None = None,
    red_peak: ArrayLike | None = None,
    width_factor: ArrayLike = 1.0,
    part: slice = grid.WHOLE,
) -> NDArray[np.float64]:
    """Give the spectrum of a phosphor-white LED that has a correlated colour temperature and Duv.

    A blue pump, a green and a red phosphor keep their shapes; their powers follow from the chromaticity, in which they
    are linear, so the chromaticity comes back exactly. Where that would need a negative power the spectrum is cut off
    at zero.

    Parameters
    ----------
    cct : array_like, shape (...) [K]
        Correlated colour temperature.
    duv : array_like, shape (...) [1]
        Distance from the Planckian locus in CIE 1960 u, v; positive on the green side. That of the classes of ANSI
        C78.377 when left out.
    pump_peak : array_like, shape (...) [nm]
        Peak of the blue pump; typical when left out, as the next two.
    green_peak : array_like, shape (...) [nm]
        Peak of the green phosphor.
    red_peak : array_like, shape (...) [nm]
        Peak of the red phosphor; in cool whites, which hold one yellow phosphor, it stands for the long-wave side
        of that one.
    width_factor : array_like, shape (...) [1]
        Factor on the widths of the phosphors.
    part : slice
        Which wavelengths of the grid; every one when left out.

    Returns
    -------
    ndarray, shape (..., 471) [1]
        The relative spectrum. The arguments broadcast.

    Raises
    ------
    InputError
        The correlated colour temperature is outside 1000 K to 40000 K, or Duv beyond 0.05.

    Examples
    --------
    The spectrum has the colour temperature that was asked for.

    >>> import lampkit as lk
    >>> cct, _ = lk.light.cct_duv(lk.light.chromaticity(lk.sources.phosphor_white(4000)))
    >>> round(float(cct))
    4000

    Source: shape fitted to the CIE illuminants LED-B1 to LED-B5 of CIE 015:2018; the red phosphor of cool whites is an
    assumption; Duv by Ohno 2014, its usual value by ANSI C78.377 (from memory).
    """
    cct = within(cct, 1000.0, 40000.0, key="cct", unit="K")
    xy = colorimetry.chromaticity_from_cct(cct, usual_duv(cct) if duv is None else duv)
    usual = {name: value for name, (value, _) in white_shape().items()}
    x, y, at, middle, far, factor = np.broadcast_arrays(
        xy[..., 0],
        xy[..., 1],
        usual["pump peak"] if pump_peak is None else np.asarray(pump_peak, dtype=float),
        usual["green phosphor peak"] if green_peak is None else np.asarray(green_peak, dtype=float),
        red_phosphor_peak(cct)[0] if red_peak is None else np.asarray(red_peak, dtype=float),
        np.asarray(width_factor, dtype=float),
    )
    kind = grid.precision(part)
    nanometres, observer = grid.WAVELENGTHS[part], colorimetry.observer(part).astype(kind)
    lit, pump = _pump(nanometres, at, usual, kind)
    green = _phosphor(nanometres, middle, usual, "green", factor, kind)
    red = _phosphor(nanometres, far, usual, "red", factor, kind)
    bands = ((observer[lit], pump), (observer, green), (observer, red))
    sums = [seen.T @ band.reshape(len(band), -1) for seen, band in bands]
    target = np.stack([x / y, np.ones(x.shape), (1.0 - x - y) / y]).reshape(3, -1)
    powers = _powers(target, np.stack(sums, dtype=float)).reshape(3, *x.shape)
    for band, power in zip((pump, green, red), powers, strict=True):
        band *= power.astype(kind)
    green += red
    green[lit] += pump
    if np.any(powers < 0.0):
        np.maximum(green, 0.0, out=green)
    return grid.last(green)


def _powers(target: NDArray[np.float64], bands: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the powers with which three bands add up to tristimulus values, by Cramer's rule for all draws at once.

    The first axis of the bands, and of the result, is the band; the next one, and the first of the target, X, Y and Z.
    """

    def cross(p: NDArray[np.float64], q: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        return p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]

    a, b, c = bands
    spanned = cross(b, c), cross(c, a), cross(a, b)
    whole = sum(p * q for p, q in zip(a, spanned[0], strict=True))
    return np.array([sum(p * q for p, q in zip(target, pair, strict=True)) / whole for pair in spanned])


def _pump(
    nanometres: NDArray[np.float64], peak: NDArray[np.float64], usual: Mapping[str, float], kind: grid.Kind
) -> tuple[slice, NDArray[np.float64]]:
    """Give the wavelengths at which the blue pump gives light, and its band there, one at its peak."""
    # The exponent 1.5 lies between the straight flanks of an exponential, 1, and a Gaussian, 2; it was fitted.
    scale = np.log(2.0) ** (2.0 / 3.0)
    short, long = scale / usual["pump short half-width"], scale / usual["pump long half-width"]
    reach = NOTHING ** (2.0 / 3.0)
    lit = _rows(nanometres, np.min(peak, initial=np.inf) - reach / short, np.max(peak, initial=0.0) + reach / long)
    band = _over_widths(nanometres[lit], peak, short, long, kind)
    band *= np.sqrt(band)
    return lit, np.exp(np.negative(band, out=band), out=band)


def _phosphor(
    nanometres: NDArray[np.float64],
    peak: NDArray[np.float64],
    usual: Mapping[str, float],
    which: str,
    factor: NDArray[np.float64],
    kind: grid.Kind,
) -> NDArray[np.float64]:
    """Give the band of a phosphor, Gaussian in the logarithm of wavelength, one at its peak."""
    scale = np.sqrt(np.log(2.0)) * peak / factor
    short, long = (usual[f"{which} phosphor {side} half-width"] for side in ("short", "long"))
    band = _over_widths(np.log(nanometres), np.log(peak), scale / short, scale / long, kind)
    band *= band
    return np.exp(np.negative(band, out=band), out=band)


def white_led(
    cct: float,
    duv: float | None = None,
    *,
    cct_uncertainty: float | None = None,
    duv_uncertainty: float | None = None,
    luminous_flux: float,
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
    base: str | None = None,
    hot_over_cold: tuple[float, float] | None = None,
    beam_ratio: tuple[float, float] | None = None,
) -> LightSource:
    """Give a phosphor-white LED by its correlated colour temperature.

    Parameters
    ----------
    cct : float [K]
        Correlated colour temperature, 2200 K to 8000 K.
    duv : float [1]
        Distance from the Planckian locus, -0.01 to 0.01; positive on the green side. When left out, that of the classes
        of ANSI C78.377 with a spread between makes.
    cct_uncertainty : float [K]
        Standard uncertainty of `cct`; 3 % of it when left out, the width of a class, and up to 6 % for a number
        between two classes, as 6000 K is.
    duv_uncertainty : float [1]
        Standard uncertainty of `duv`; 0.0015 for one that is given when left out, an assumption.
    luminous_flux : float [lm]
        The claim on the box.
    electrical_power : float [W]
        The claim on the box.
    name : str
        How to call it.
    layout : str
        'all-round' or 'forward'.
    voltage : float [V]
        What flux and power refer to.
    true_over_claimed : tuple of float [1]
        Low and high end, in 95 of 100 cases, of true over claimed lumens.
    base : str
        The base that it stands on, as in 'BA15s'; it tells how warm the watts make it.
    hot_over_cold : tuple of float [1]
        Low and high end, in 95 of 100 cases, of its light when warm from steady burning over that when cold.
    beam_ratio : tuple of float [1]
        The same of candela towards the road for each lumen, over that of the filament; by `layout` when left out.

    Returns
    -------
    LightSource
        The LED, with the spread between makes as beliefs.

    Raises
    ------
    InputError
        A number is missing, not positive, or outside its range.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.sources.white_led(6000, luminous_flux=420)
    white LED 6000 K: white LED, 420 lm

    Source: shape fitted to the CIE illuminants LED-B1 to LED-B5; Duv by Ohno 2014 and ANSI C78.377 (from memory); the
    red phosphor of cool whites and the spread are assumptions, held against white LED spectra of other origin.
    """
    kelvin = positive(cct, "cct", "kelvin")
    if not LOWEST_CCT <= kelvin <= HIGHEST_CCT:
        raise InputError(f"a white LED of {kelvin:g} K is not modelled", key="cct", expected="2200 K to 8000 K")
    try:
        offset = float(usual_duv(kelvin)) if duv is None else float(duv)
    except (TypeError, ValueError):
        offset = np.nan
    if not abs(offset) <= 0.01:
        raise InputError(f"a Duv of {duv} is not modelled", key="duv", expected="-0.01 to 0.01")
    shape = white_shape()
    rise = heat.steady_rise(electrical_power, base)
    red_peak, red_spread = (float(v) for v in red_phosphor_peak(kelvin))
    assumed = "an assumption, held against white LED spectra of other origin"
    widths = "full widths of garnets 100 nm to 125 nm, of nitrides 75 nm to 95 nm (from memory): 12 % each way in 95 %"
    beside = 0.0 if cct_uncertainty is not None else beside_the_classes(kelvin)
    # A box that names no class is not held to the Duv of one either: half as much again where it is fully beside them.
    own_spread = (0.003 + 0.0015 * float(_coolness(kelvin))) * (1.0 + 0.5 * beside / BESIDE) if duv is None else 0.0015
    beliefs = (
        Belief(
            "correlated colour temperature",
            kelvin,
            float(np.hypot(0.03, beside))
            if cct_uncertainty is None
            else positive(cct_uncertainty, "cct_uncertainty", "kelvin") / kelvin,
            "K",
            "a class of ANSI C78.377 reaches about 5 % each way (from memory), evenly filled: 5 % over the root of 3; "
            "a number that is no class is off by as much more as it lies from the nearest"
            if cct_uncertainty is None
            else "given by the user",
            "lognormal",
            low=1800.0,
            high=10000.0,
        ),
        Belief(
            "Duv",
            offset,
            own_spread if duv_uncertainty is None else positive(duv_uncertainty, "duv_uncertainty", "a number"),
            "1",
            "the line of ANSI C78.377 with half the width of its classes (from memory), half as much again for cool "
            "whites, which were measured at +0.001 to +0.010, and again for a number that is no class (an assumption)"
            if duv is None
            else "given by the user; its spread between makes is an assumption",
            low=-0.02,
            high=0.02,
        ),
        Belief(
            "pump peak",
            *shape["pump peak"],
            "nm",
            "common pump peaks are 445 nm to 455 nm (from memory)",
            low=435.0,
            high=470.0,
        ),
        Belief("green phosphor peak", *shape["green phosphor peak"], "nm", assumed, low=520.0, high=570.0),
        Belief("red phosphor peak", red_peak, red_spread, "nm", assumed, low=575.0, high=665.0),
        Belief("phosphor width factor", 1.0, 0.06, "1", widths, "lognormal"),
        claim_belief(true_over_claimed),
        heat.beliefs(heat.white(), rise, hot_over_cold)[0],
    )
    return build(
        name or f"white LED {kelvin:g} K",
        SourceKind.WHITE_LED,
        luminous_flux,
        _white_model,
        beliefs,
        base=base,
        steady_rise=rise,
        beam=beam_ratio,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
    )


def _white_model(values: Values, part: slice = grid.WHOLE) -> NDArray[np.float64]:
    return phosphor_white(
        values["correlated colour temperature"],
        values["Duv"],
        pump_peak=values["pump peak"],
        green_peak=values["green phosphor peak"],
        red_peak=values["red phosphor peak"],
        width_factor=values["phosphor width factor"],
        part=part,
    )


@cache
def families() -> Mapping[str, Mapping[str, Any]]:
    """List the families of coloured LED by their colour, each a row of data/leds/coloured.csv."""
    return MappingProxyType({row["colour"]: row for row in tables.load("leds", "coloured").rows()})


def colours() -> tuple[str, ...]:
    """List the colours of LED that the kit knows."""
    return tuple(families())


def coloured_led(
    colour: str | None = None,
    *,
    peak: float | None = None,
    peak_uncertainty: float | None = None,
    fwhm: float | None = None,
    drift: tuple[float, float] | None = None,
    luminous_flux: float,
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
    base: str | None = None,
    hot_over_cold: tuple[float, float] | None = None,
    beam_ratio: tuple[float, float] | None = None,
) -> LightSource:
    """Give a single-colour LED by its colour, or by its peak and full width.

    Parameters
    ----------
    colour : str
        One of `leds.colours`, as in 'red' or 'phosphor amber'.
    peak : float [nm]
        Wavelength of the maximum, 400 nm to 720 nm; that of the colour when left out.
    peak_uncertainty : float [nm]
        Standard uncertainty of `peak`; 2.5 for one that is given when left out, an assumption.
    fwhm : float [nm]
        Full width at half maximum; that of the colour, or of the colour nearest to the peak, when left out. It is
        shared between the two sides as in that colour.
    drift : tuple of float [nm]
        Low and high end, in 95 of 100 cases, of how far its peak moves when warm from steady burning.
    luminous_flux : float [lm]
        The claim on the box.
    electrical_power : float [W]
        The claim on the box.
    name : str
        How to call it.
    layout : str
        'all-round' or 'forward'.
    voltage : float [V]
        What flux and power refer to.
    true_over_claimed : tuple of float [1]
        Low and high end, in 95 of 100 cases, of true over claimed lumens.
    base : str
        The base that it stands on, as in 'BA15s'; it tells how warm the watts make it.
    hot_over_cold : tuple of float [1]
        Low and high end, in 95 of 100 cases, of its light when warm from steady burning over that when cold.
    beam_ratio : tuple of float [1]
        The same of candela towards the road for each lumen, over that of the filament; by `layout` when left out.

    Returns
    -------
    LightSource
        The LED, with the spread between makes as beliefs.

    Raises
    ------
    InputError
        Neither colour nor peak is given, the colour is unknown, or a number is outside its range.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.sources.coloured_led("red", luminous_flux=110)
    red LED: coloured LED, 110 lm

    Source: shape of Y. Ohno, Opt. Eng. 44 (2005) 111302, with a width on each side; presets from own statistics of 42
    measured dies of an open data set.
    """
    presets = families()
    if colour is None and peak is None:
        raise InputError("a coloured LED needs its colour or its peak", expected=nearest("", presets))
    if colour is not None and colour not in presets:
        raise InputError(f"the LED colour '{colour}' is unknown", key="colour", expected=nearest(str(colour), presets))
    at = None if peak is None else positive(peak, "peak", "nanometres")
    if at is not None and not 400.0 <= at <= 720.0:
        raise InputError(f"a peak of {at:g} nm is not a signal colour", key="peak", expected="400 nm to 720 nm")
    if colour is None:
        narrow = [c for c in presets if presets[c]["phosphor"] != "yes"]
        family = min(narrow, key=lambda c: abs(presets[c]["peak_nm"] - float(at or 0.0)))
    else:
        family = colour
    preset = presets[family]
    short, long = preset["short_half_width_nm"], preset["long_half_width_nm"]
    if fwhm is not None:
        width = positive(fwhm, "fwhm", "nanometres")
        if not 3.0 <= width <= 150.0:
            raise InputError(f"a full width of {width:g} nm is not an LED", key="fwhm", expected="3 nm to 150 nm")
        short, long = short * width / (short + long), long * width / (short + long)
    ground = f"{preset['source']} ({preset['known']})"
    rise = heat.steady_rise(electrical_power, base)
    peak_spread = preset["peak_spread_nm"] if at is None else 2.5
    if peak_uncertainty is not None:
        peak_spread = positive(peak_uncertainty, "peak_uncertainty", "nanometres")
    beliefs = (
        Belief(
            "peak wavelength",
            preset["peak_nm"] if at is None else at,
            peak_spread,
            "nm",
            ground if at is None else "given by the user; its spread between makes, unless given, is an assumption",
            low=380.0,
            high=780.0,
        ),
        Belief("width factor", 1.0, preset["width_spread_ln"], "1", ground, "lognormal"),
        claim_belief(true_over_claimed),
        *heat.beliefs(preset, rise, hot_over_cold, drift),
    )

    def model(values: Values, part: slice = grid.WHOLE) -> NDArray[np.float64]:
        factor = values["width factor"]
        return narrow_band(values["peak wavelength"] + values[heat.DRIFT], short * factor, long * factor, part=part)

    label = f"{colour} LED" if at is None else f"LED {at:g} nm"
    return build(
        name or label,
        SourceKind.COLOURED_LED,
        luminous_flux,
        model,
        beliefs,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
        base=base,
        steady_rise=rise,
        beam=beam_ratio,
        notes=(f"shape of the family '{family}': {ground}",),
    )
