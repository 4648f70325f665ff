"""Spectra of LEDs: one narrow band, or a blue pump and two phosphors that give a chromaticity."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from lampkit import grid, tables
from lampkit.errors import InputError, within
from lampkit.grid import Floats, Numbers
from lampkit.light import colorimetry

OHNO_HALF_WIDTH = 0.460911560
"""Half width at half maximum over the width parameter w of Ohno's shape [1]; the full width is 0.921823 w, not w.
Source: Y. Ohno, Opt. Eng. 44 (2005) 111302, solved for half maximum."""


OHNO_AREA, PUMP_AREA = 0.5 * np.pi**0.5 * (1.0 + 2.0 / 5.0**0.5) / 3.0, 0.9027452929509336
"""Area of one side of Ohno's shape, (g + 2 g^5) / 3 of a Gaussian, and of exp(-x^1.5), each over its scale [1]. Source:
the integrals; the second is the gamma function of 5/3."""


def narrow_band(
    peak: ArrayLike, short_half_width: ArrayLike, long_half_width: ArrayLike, *, part: slice = grid.WHOLE
) -> Floats:
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
    return band_curves(*band_numbers(peak, short_half_width, long_half_width), part=part)


def band_numbers(peak: ArrayLike, short_half_width: ArrayLike, long_half_width: ArrayLike) -> Numbers:
    """Check peaks and half-widths, and give what `band_curves` takes.

    Source: as for narrow_band.
    """
    given = (np.asarray(v, dtype=float) for v in (peak, short_half_width, long_half_width))
    p, short, long = np.broadcast_arrays(*given)
    if not np.all((p >= grid.WAVELENGTHS[0]) & (p <= grid.WAVELENGTHS[-1])):
        raise InputError("a peak is not on the grid", key="peak", expected="360 nm to 830 nm")
    if not np.all((short >= 0.01) & (long >= 0.01) & np.isfinite(short) & np.isfinite(long)):
        raise InputError("a half-width is not positive", key="half_width", expected="0.01 nm or more")
    below, beyond = OHNO_HALF_WIDTH / short, OHNO_HALF_WIDTH / long
    return p, below, beyond, *_sides(p, below, beyond)


def band_curves(peak: Floats, short: Floats, long: Floats, below: Floats, beyond: Floats, *, part: slice) -> Floats:
    """Give bands of Ohno's shape from what `band_numbers` gives.

    Source: as for narrow_band.
    """
    kind = grid.precision(part)
    whole, away = np.zeros((grid.WAVELENGTHS[part].size, peak.size), kind), NOTHING[kind] ** 0.5
    ends = _ends(peak)
    lit = _rows(part, ends, away / short.min(initial=np.inf), away / long.min(initial=np.inf))
    g = _over_widths(part, lit, ends, below, beyond, whole[lit])
    g *= g
    np.minimum(g, NOTHING[kind], out=g)  # the fourth power of less would leave the range of fast arithmetic
    np.exp(np.negative(g, out=g), out=g)
    fourth = g * g
    fourth *= fourth
    fourth *= 2.0 / 3.0
    fourth += 1.0 / 3.0
    g *= fourth
    _keep_power(g, part, lit, ends, peak.ravel(), short.ravel(), long.ravel(), OHNO_AREA)
    return grid.last(whole.reshape(-1, *peak.shape))


NOTHING: dict[type, float] = {np.float64: 21.0, np.float32: 14.0}
"""Exponent beyond which a band is taken as nothing: a billionth of its peak, in single precision a millionth [1]."""


Widths = Floats | float


def _ends(peak: Floats) -> tuple[float, float]:
    """Give the lowest and the highest of some peaks."""
    return float(peak.min(initial=grid.WAVELENGTHS[-1])), float(peak.max(initial=0.0))


def _rows(part: slice, ends: tuple[float, float], short: float, long: float) -> slice:
    """Give the wavelengths of a part from so far below the lowest of some peaks to so far above the highest."""
    nanometres = grid.WAVELENGTHS[part]
    return slice(int(np.searchsorted(nanometres, ends[0] - short)), int(np.searchsorted(nanometres, ends[1] + long)))


def _sides(peak: Floats, short: Widths, long: Widths, of: np.ufunc = np.positive) -> Numbers:
    """Give the lines of how far wavelengths lie from peaks, times a factor below each and another beyond it."""
    at = of(peak)
    return grid.line(np.negative(short), at * short, of), grid.line(long, -at * long, of)


def _over_widths(
    part: slice,
    lit: slice,
    ends: tuple[float, float],
    below: Floats,
    beyond: Floats,
    out: Floats,
    of: np.ufunc = np.positive,
) -> Floats:
    """Fill in what `_sides` tells at some rows of a part, for peaks between two ends."""
    rows = _rows(part, ends, 0.0, 0.0)
    first, last = max(rows.start, lit.start), max(rows.stop, lit.start)
    # Below all peaks one line will do, beyond all of them the other; between them that which is above zero.
    grid.straight(below, part, slice(lit.start, last), of, out[: last - lit.start])
    grid.straight(beyond, part, slice(last, lit.stop), of, out[last - lit.start :])
    between = out[first - lit.start : last - lit.start]
    np.maximum(between, grid.straight(beyond, part, slice(first, last), of), out=between)
    return out


def _keep_power(
    band: Floats,
    part: slice,
    lit: slice,
    ends: tuple[float, float],
    peak: Floats,
    short: Widths,
    long: Widths,
    area: float,
) -> None:
    """Lay what a sum over grid.SEEN misses of the power of bands where it misses it: at their peaks.

    Such a sum is next to exact for what is smooth, and a band of two widths has a corner at its peak. Given are the
    factors on each side, as for `_sides`, and the area of one side for a factor of one.
    Source: Euler-Maclaurin formula.
    """
    if band.dtype == np.float64 or len(band) < 2:
        return
    nanometres, step = grid.WAVELENGTHS[part][lit], part.step
    place = (peak - nanometres[0]) / step
    missed = (area / step) * (1.0 / short + 1.0 / long) - band.sum(axis=0)
    if ends[0] - 3.0 / np.min(short) <= nanometres[0] or ends[1] + 3.0 / np.min(long) >= nanometres[-1]:
        # A band that goes on beyond the wavelengths is left as it is: a thousandth lies beyond three of these lengths.
        inside = (peak - 3.0 / short > nanometres[0]) & (peak + 3.0 / long < nanometres[-1])
        place, missed = np.where(inside, place, 0.0), inside * missed
    below, flat = place.astype(np.intp), band.reshape(-1)
    above = missed * (place - below)
    below *= place.size
    below += np.arange(place.size)
    flat[below] += missed - above
    flat[below + place.size] += above


WARM_END, COOL_END = 3500.0, 5000.0
"""Correlated colour temperatures between which the red phosphor of a white LED gives way to one yellow one [K].
Source: an assumption: warm whites hold a nitride beside a garnet, cool ones a garnet alone or a little nitride beside
it (common practice)."""


def usual_duv(cct: ArrayLike) -> Floats:
    """Give the Duv on which the classes of white LEDs are centred.

    Source: ANSI C78.377, 57700/T^2 - 44.6/T + 0.00854 (from memory); below 2700 K held at its value there, where the
    classes of the standard end.
    """
    kelvin = np.maximum(np.asarray(cct, dtype=float), 2700.0)
    return np.asarray(57700.0 / kelvin**2 - 44.6 / kelvin + 0.00854)


def coolness(cct: ArrayLike) -> Floats:
    """Give zero for a warm white, one for a cool one, in between linear in the reciprocal of the colour temperature.

    Source: WARM_END and COOL_END.
    """
    kelvin = np.asarray(cct, dtype=float)
    return np.asarray(np.clip((1.0 / kelvin - 1.0 / WARM_END) / (1.0 / COOL_END - 1.0 / WARM_END), 0.0, 1.0))


def red_phosphor_peak(cct: ArrayLike) -> tuple[Floats, Floats]:
    """Give the peak of a white LED's longest band, and its spread between makes.

    Source: data/leds/white_shape.csv.
    """
    warm, cool = (np.array(white_shape()[f"red phosphor peak, {which}"]) for which in ("warm", "cool"))
    share = coolness(cct)[..., np.newaxis]
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
) -> Floats:
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
    cct, shape = within(cct, 1000.0, 40000.0, key="cct", unit="K"), white_shape()
    numbers = white_numbers(
        cct,
        usual_duv(cct) if duv is None else duv,
        shape["pump peak"][0] if pump_peak is None else pump_peak,
        shape["green phosphor peak"][0] if green_peak is None else green_peak,
        red_phosphor_peak(cct)[0] if red_peak is None else red_peak,
        width_factor,
    )
    return white_curves(*numbers, part=part)


def white_numbers(
    cct: ArrayLike, duv: ArrayLike, pump: ArrayLike, green: ArrayLike, red: ArrayLike, factor: ArrayLike
) -> Numbers:
    """Give X and Z for a Y of one; of pump, green and red phosphor the peak and what `_sides` gives.

    Source: as for phosphor_white.
    """
    x, y = np.moveaxis(colorimetry.chromaticity_from_cct(cct, duv), -1, 0)
    given = (np.asarray(one, dtype=float) for one in (pump, green, red, factor))
    x, y, at, middle, far, factor = np.broadcast_arrays(x, y, *given)
    found = [x / y, (1.0 - x - y) / y, at, *_sides(at, *_pump_factors())]
    for which, peak in (("green", middle), ("red", far)):
        scale = np.log(2.0) ** 0.5 * peak / factor
        short, long = (white_shape()[f"{which} phosphor {side} half-width"][0] for side in ("short", "long"))
        found += [peak, *_sides(peak, scale / short, scale / long, np.log)]
    return tuple(found)


def white_curves(x: Floats, z: Floats, *bands: Floats, part: slice) -> Floats:
    """Give the spectra of white LEDs from what `white_numbers` gives.

    Source: as for phosphor_white.
    """
    observer = colorimetry.observer(part).T.astype(grid.precision(part))
    lit, pump = _pump(part, *bands[:3])
    phosphors = _phosphors(part, bands[3:6], bands[6:9])
    seen = np.concatenate([(observer[:, lit] @ pump)[np.newaxis], observer @ phosphors])
    powers = _powers(x.ravel().astype(pump.dtype, copy=False), z.ravel().astype(pump.dtype, copy=False), seen)
    phosphors *= powers[1:, np.newaxis]
    spectrum = phosphors[0]
    spectrum += phosphors[1]
    pump *= powers[0]
    spectrum[lit] += pump
    if powers.min(initial=0.0) < 0.0:
        np.maximum(spectrum, 0.0, out=spectrum)
    return grid.last(spectrum.reshape(-1, *x.shape))


def _powers(x: Floats, z: Floats, bands: Floats) -> Floats:
    """Give the powers with which three bands, each a row of X, Y and Z, add up to X and Z for a Y of one."""
    # They are at right angles to what each band has too much of X, and of Z, for its Y.
    too_red, too_blue = bands[:, 0] - x * bands[:, 1], bands[:, 2] - z * bands[:, 1]
    turned, back = [1, 2, 0], [2, 0, 1]
    powers = too_red[turned] * too_blue[back] - too_red[back] * too_blue[turned]
    return np.asarray(powers / (powers * bands[:, 1]).sum(axis=0))


@cache
def _pump_factors() -> tuple[float, float]:
    """Give what the distance from the peak of the blue pump is multiplied by on each side."""
    # The exponent 1.5 lies between the straight flanks of an exponential, 1, and a Gaussian, 2; it was fitted.
    scale = np.log(2.0) ** (2.0 / 3.0)
    return scale / white_shape()["pump short half-width"][0], scale / white_shape()["pump long half-width"][0]


def _pump(part: slice, peak: Floats, below: Floats, beyond: Floats) -> tuple[slice, Floats]:
    """Give the wavelengths at which the blue pump gives light, and its band there, one at its peak."""
    kind, factors = grid.precision(part), _pump_factors()
    ends, away = _ends(peak), NOTHING[kind] ** (2.0 / 3.0)
    lit = _rows(part, ends, *(away / factor for factor in factors))
    band = np.empty((lit.stop - lit.start, peak.size), kind)
    _over_widths(part, lit, ends, below, beyond, band)
    band *= np.sqrt(band)
    np.exp(np.negative(band, out=band), out=band)
    _keep_power(band, part, lit, ends, peak.ravel(), *factors, PUMP_AREA)
    return lit, band


def _phosphors(part: slice, *bands: tuple[Floats, ...]) -> Floats:
    """Give the bands of the green and the red phosphor, Gaussian in the logarithm of wavelength, one at their peaks."""
    every = slice(0, grid.WAVELENGTHS[part].size)
    found = np.empty((2, every.stop, bands[0][0].size), grid.precision(part))
    for (peak, below, beyond), out in zip(bands, found, strict=True):
        _over_widths(part, every, _ends(peak), below, beyond, out, np.log)
    found *= found
    return np.exp(np.negative(found, out=found), out=found)
