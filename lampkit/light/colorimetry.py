"""From a spectrum to colour: tristimulus values, chromaticity, CCT, dominant wavelength, screen colour."""

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError

SECOND_RADIATION_CONSTANT = 1.438776877e-2
"""Second radiation constant c2 = h c / k [m K]. Source: CODATA 2018, exact in the SI of 2019."""

EQUAL_ENERGY_WHITE: NDArray[np.float64] = np.array([1.0 / 3.0, 1.0 / 3.0])
"""Chromaticity of the equal-energy illuminant E [1]. Source: CIE 015:2018, 4.1.6 (clause from memory)."""
EQUAL_ENERGY_WHITE.setflags(write=False)


class CctDuv(NamedTuple):
    """Correlated colour temperature and distance from the Planckian locus.

    Source: Ohno 2014, doi 10.1080/15502724.2014.839020.
    """

    cct: NDArray[np.float64]
    duv: NDArray[np.float64]


class DominantWavelength(NamedTuple):
    """Dominant wavelength and excitation purity.

    Source: CIE 015:2018, 9.4 and 9.5 (clause from memory).
    """

    wavelength: NDArray[np.float64]
    purity: NDArray[np.float64]


_SOURCES = 64  # sources at a time in a table of all pairs


@cache
def colour_matching_functions() -> NDArray[np.float64]:
    """Give the CIE 1931 2-degree colour-matching functions on the grid.

    Returns
    -------
    ndarray, shape (471, 3) [1]
        x-bar, y-bar and z-bar, read-only.

    Examples
    --------
    The middle one is the luminous efficiency function, 1 at 555 nm.

    >>> import lampkit as lk
    >>> bars = lk.light.colour_matching_functions()
    >>> round(float(bars[lk.grid.WAVELENGTHS == 555, 1][0]), 3)
    1.0

    Source: CIE 018:2019, table at 1 nm.
    """
    table = tables.load("observers", "cie_1931_2_degree")
    bars = np.stack([table["x_bar"], table["y_bar"], table["z_bar"]])
    values = np.ascontiguousarray(grid.resample(table["wavelength_nm"], bars).T)
    values.setflags(write=False)
    return values


@cache
def spectrum_locus() -> NDArray[np.float64]:
    """Give the chromaticity of each single wavelength of the grid.

    Source: CIE 018:2019, colour-matching functions at 1 nm.
    """
    bars = colour_matching_functions()
    locus = bars[:, :2] / bars.sum(axis=1, keepdims=True)
    locus.setflags(write=False)
    return locus


def tristimulus(spectrum: ArrayLike) -> NDArray[np.float64]:
    """Integrate a spectrum to CIE 1931 tristimulus values.

    Source: CIE 015:2018, 7.1.
    """
    return grid.on_grid(spectrum) @ observer()


def observer(part: slice = grid.WHOLE) -> NDArray[np.float64]:
    """Give the weights with which spectra on a part of the grid add up to tristimulus values.

    Source: CIE 015:2018, 7.1; a sum over every fourth wavelength counts each of them four times, and the first and the
    last one of a part count besides what the eye sees beyond them.
    """
    return _observer(part.start, part.stop, part.step)


@cache
def _observer(start: int | None, stop: int | None, step: int | None) -> NDArray[np.float64]:
    part, bars = slice(start, stop, step), colour_matching_functions()
    weights = np.asarray(bars[part] * grid.weights(part)[:, np.newaxis])
    if start is not None and stop is not None:
        # From half a step to what two sums of trapezia differ by and all that lies beyond.
        weights[0] += 0.5 * (bars[start] - weights[0]) + bars[:start].sum(axis=0)
        weights[-1] += 0.5 * (bars[stop - 1] - weights[-1]) + bars[stop:].sum(axis=0)
    weights.setflags(write=False)
    return weights


def through_lenses(spectra: ArrayLike, transmittances: ArrayLike) -> NDArray[np.float64]:
    """Give the tristimulus values of every source behind every lens, as one matrix product.

    Parameters
    ----------
    spectra : array_like, shape (m, 471) [W/nm]
        Spectral distributions of m sources.
    transmittances : array_like, shape (n, 471) [1]
        Spectral transmittances of n lenses.

    Returns
    -------
    ndarray, shape (m, n, 3) [W]
        X, Y and Z of each pair; Y times 683.002 lm/W is its luminous flux. Beyond them the memory holds one block.

    Raises
    ------
    InputError
        An array is no table on the grid.

    Examples
    --------
    A row for each light, a column for each lens: behind a red lens the light of a filament is red.

    >>> import lampkit as lk
    >>> lights = [lk.light.illuminant("A"), lk.light.illuminant("LED-B5")]
    >>> lenses = [lk.lenses.load(colour).transmittance for colour in ("red", "clear", "blue")]
    >>> xyz = lk.light.through_lenses(lights, lenses)
    >>> xyz.shape, (xyz[0, 0] / xyz[0, 0].sum()).round(2)
    ((2, 3, 3), array([0.68, 0.32, 0.  ]))

    Source: CIE 015:2018, 7.1.
    """
    light, through = grid.on_grid(spectra), grid.on_grid(transmittances)
    if light.ndim != 2 or through.ndim != 2:
        raise InputError("these are no tables of spectra", expected="one row for each source, one for each lens")
    found = np.empty((len(light), len(through), 3))
    for start in range(0, len(light), _SOURCES):
        block = light[start : start + _SOURCES]
        weighted = block[:, np.newaxis, :] * observer().T
        product = weighted.reshape(-1, light.shape[-1]) @ through.T
        found[start : start + _SOURCES] = np.moveaxis(product.reshape(len(block), 3, -1), 1, 2)
    return found


def chromaticity(spectrum: ArrayLike) -> NDArray[np.float64]:
    """Give the CIE 1931 chromaticity of a spectrum.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        Spectral distribution on the grid; its scale cancels.

    Returns
    -------
    ndarray, shape (..., 2) [1]
        x and y.

    Raises
    ------
    InputError
        The spectrum is not on the grid, or it is dark.

    Examples
    --------
    Illuminant A lies at 0.4476, 0.4074 (CIE 015:2018).

    >>> import lampkit as lk
    >>> lk.light.chromaticity(lk.light.illuminant("A")).round(4)
    array([0.4476, 0.4074])

    Source: CIE 015:2018, 7.3 (clause from memory).
    """
    return chromaticity_of(tristimulus(spectrum))


def chromaticity_of(xyz: ArrayLike) -> NDArray[np.float64]:
    """Give the chromaticity of tristimulus values.

    Source: CIE 015:2018, 7.3 (clause from memory).
    """
    values = np.asarray(xyz, dtype=float)
    # A row for each of the three: sweeps along many draws are ten times faster than sums of three numbers each.
    x, y, z = np.moveaxis(values, -1, 0)
    total = x + y + z
    if np.any(~(total > 0)):
        raise InputError("a colour without light has no chromaticity", expected="tristimulus values above zero")
    xy = np.empty((2, *total.shape))
    np.divide(x, total, out=xy[0, ...])
    np.divide(y, total, out=xy[1, ...])
    return grid.last(xy)


def uv_1960(xy: ArrayLike) -> NDArray[np.float64]:
    """Convert chromaticity x, y to CIE 1960 u, v.

    Source: CIE 015:2018, 9.2, for correlated colour temperature (clause from memory).
    """
    x, y = np.moveaxis(np.asarray(xy, dtype=float), -1, 0)
    return grid.last(np.stack([4.0 * x, 6.0 * y]) / (-2.0 * x + 12.0 * y + 3.0))


def xy_from_uv_1960(uv: ArrayLike) -> NDArray[np.float64]:
    """Convert CIE 1960 u, v to chromaticity x, y.

    Source: the inverse of CIE 015:2018, 9.2.
    """
    u, v = np.moveaxis(np.asarray(uv, dtype=float), -1, 0)
    return grid.last(np.stack([3.0 * u, 2.0 * v]) / (2.0 * u - 8.0 * v + 4.0))


def planckian_uv(temperature: ArrayLike) -> NDArray[np.float64]:
    """Give the CIE 1960 u, v of a blackbody.

    Source: Planck's law with c2 of CODATA 2018, integrated with CIE 018:2019.
    """
    t = np.asarray(temperature, dtype=float)[..., np.newaxis]
    wavelength = grid.WAVELENGTHS * 1e-9
    # Scaled by the value at 560 nm: a cool blackbody would underflow.
    exponent = SECOND_RADIATION_CONSTANT / wavelength / t
    reference = SECOND_RADIATION_CONSTANT / 560e-9 / t
    spectrum = (560e-9 / wavelength) ** 5 * np.exp(reference - exponent) / -np.expm1(-exponent)
    return uv_1960(chromaticity(spectrum))


@cache
def _planckian_table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    temperature = np.geomspace(1000.0, 40000.0, 1500)
    return temperature, planckian_uv(temperature)


def cct_duv(xy: ArrayLike) -> CctDuv:
    """Give the correlated colour temperature and Duv of a chromaticity.

    A table of the Planckian locus in steps of 0.25 % is searched for its nearest point; the answer is refined with
    the triangle of its neighbours near the locus and with the parabola through them away from it.

    Parameters
    ----------
    xy : array_like, shape (..., 2) [1]
        Chromaticity.

    Returns
    -------
    CctDuv
        Correlated colour temperature [K] and Duv [1]; both nan where Duv would be beyond 0.05, where the CIE gives
        correlated colour temperature no meaning, or the temperature outside 1000 K to 40000 K.

    Examples
    --------
    Illuminant A has 2856 K and lies on the Planckian locus (CIE 015:2018).

    >>> import lampkit as lk
    >>> cct, duv = lk.light.cct_duv(lk.light.chromaticity(lk.light.illuminant("A")))
    >>> round(float(cct)), round(abs(float(duv)), 4)
    (2856, 0.0)

    Source: Ohno 2014, doi 10.1080/15502724.2014.839020; CIE 015:2018, 9.2 for the limit of 0.05.
    """
    uv = uv_1960(xy)
    temperature, locus = _planckian_table()
    flat = uv.reshape(-1, 2)
    # |p - q|^2 = |p|^2 - 2 p.q + |q|^2; the first term does not move the minimum.
    nearest = np.argmin((locus**2).sum(axis=1) - 2.0 * flat @ locus.T, axis=1).reshape(uv.shape[:-1])
    outside = (nearest == 0) | (nearest == temperature.size - 1)
    i = np.clip(nearest, 1, temperature.size - 2)
    before, at, after = (np.linalg.norm(uv - locus[j], axis=-1) for j in (i - 1, i, i + 1))
    t0, t1, t2 = temperature[i - 1], temperature[i], temperature[i + 1]

    chord_vector = locus[i + 1] - locus[i - 1]
    chord = np.linalg.norm(chord_vector, axis=-1)
    along = (before**2 - after**2 + chord**2) / (2.0 * chord)
    foot = locus[i - 1] + chord_vector * (along / chord)[..., np.newaxis]
    sign = np.where(uv[..., 1] >= foot[..., 1], 1.0, -1.0)
    cct_triangle = t0 + (t2 - t0) * along / chord
    duv_triangle = sign * np.sqrt(np.maximum(before**2 - along**2, 0.0))

    denominator = (t2 - t1) * (t0 - t2) * (t1 - t0)
    a = (t0 * (after - at) + t1 * (before - after) + t2 * (at - before)) / denominator
    b = -(t0**2 * (after - at) + t1**2 * (before - after) + t2**2 * (at - before)) / denominator
    c = -(before * (t2 - t1) * t1 * t2 + at * (t0 - t2) * t0 * t2 + after * (t1 - t0) * t0 * t1) / denominator
    with np.errstate(divide="ignore", invalid="ignore"):
        cct_parabola = -b / (2.0 * a)
        duv_parabola = sign * (a * cct_parabola**2 + b * cct_parabola + c)

    near = np.abs(duv_triangle) < 0.002
    cct = np.where(near, cct_triangle, cct_parabola)
    duv = np.where(near, duv_triangle, duv_parabola)
    meaningless = outside | (np.abs(duv) > 0.05)
    return CctDuv(np.where(meaningless, np.nan, cct), np.where(meaningless, np.nan, duv))


def chromaticity_from_cct(cct: ArrayLike, duv: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Give the chromaticity that has a correlated colour temperature and Duv.

    Parameters
    ----------
    cct : array_like, shape (...) [K]
        Correlated colour temperature.
    duv : array_like, shape (...) [1]
        Distance from the Planckian locus in CIE 1960 u, v; positive on the green side.

    Returns
    -------
    ndarray, shape (..., 2) [1]
        x and y.

    Raises
    ------
    InputError
        A temperature is outside 1000 K to 40000 K, or Duv beyond 0.05.

    Examples
    --------
    A blackbody of 2856 K lies where illuminant A does.

    >>> import lampkit as lk
    >>> lk.light.chromaticity_from_cct(2856).round(3)
    array([0.448, 0.407])

    Source: Ohno 2014, doi 10.1080/15502724.2014.839020.
    """
    t, d = np.broadcast_arrays(np.asarray(cct, dtype=float), np.asarray(duv, dtype=float))
    if np.any(~((t >= 1000.0) & (t <= 40000.0))):
        raise InputError("a correlated colour temperature is out of range", key="cct", expected="1000 K to 40000 K")
    if np.any(~(np.abs(d) <= 0.05)):
        raise InputError("Duv is out of range", key="duv", expected="-0.05 to 0.05")
    # A cubic through four neighbours is exact to 1e-9 and a hundred times faster than integrating each blackbody anew.
    temperature, pieces = _planckian_table()[0], _planckian_pieces()
    place = np.log(t / temperature[0]) / np.log(temperature[1] / temperature[0])
    first = np.clip(place.astype(int), 1, temperature.size - 3)
    f = place - first
    third, second, slope, value = np.take(pieces, first - 1, axis=-1)
    u, v = ((third * f + second) * f + slope) * f + value
    along_u, along_v = (3.0 * third * f + 2.0 * second) * f + slope
    # Across the locus, towards greater v.
    across = np.copysign(d / np.sqrt(along_u * along_u + along_v * along_v), -along_u * d)
    return xy_from_uv_1960(grid.last(np.stack([u + across * along_v, v - across * along_u])))


@cache
def _planckian_pieces() -> NDArray[np.float64]:
    """Give the cubic through each four neighbours of the locus: the highest power first, then u and v."""
    locus = _planckian_table()[1].T
    before, at, after, beyond = (locus[:, i : locus.shape[1] - 3 + i] for i in range(4))
    second, third = (before - 2.0 * at + after) / 2.0, (3.0 * (at - after) + beyond - before) / 6.0
    return np.stack([third, second, after - before / 3.0 - at / 2.0 - beyond / 6.0, at])


def dominant_wavelength(xy: ArrayLike, white: ArrayLike = (1.0 / 3.0, 1.0 / 3.0)) -> DominantWavelength:
    """Give the dominant wavelength and excitation purity of a chromaticity.

    Parameters
    ----------
    xy : array_like, shape (..., 2) [1]
        Chromaticity.
    white : array_like, shape (2,) [1]
        Chromaticity of the white; the equal-energy white for light sources.

    Returns
    -------
    DominantWavelength
        Wavelength [nm] and excitation purity [1]. A purple has the negative of its complementary wavelength, and its
        purity is against the line of purples. White itself has nan and zero.

    Examples
    --------
    A single wavelength is its own dominant wavelength, of purity one.

    >>> import lampkit as lk
    >>> wavelength, purity = lk.light.dominant_wavelength([0.7006, 0.2993])
    >>> round(float(wavelength)), round(float(purity), 2)
    (625, 1.0)

    Source: CIE 015:2018, 9.4 and 9.5 (clause from memory); for light sources against equal energy, CIE 127:2007.
    """
    pair = np.asarray(xy, dtype=float)
    centre = np.asarray(white, dtype=float)
    ray = pair - centre
    length = np.linalg.norm(ray, axis=-1)
    # Beyond 380-700 nm the locus turns back on itself within rounding.
    first, last = int(380 - grid.WAVELENGTHS[0]), int(700 - grid.WAVELENGTHS[0])
    edge = spectrum_locus()[first : last + 1] - centre
    start, along = edge[:-1], np.diff(edge, axis=0)
    towards, t_towards = _crossing(ray, start, along)
    opposite, _ = _crossing(-ray, start, along)
    start_purple = edge[-1]
    _, t_purple = _crossing(ray, start_purple[np.newaxis], (edge[0] - edge[-1])[np.newaxis])
    base = grid.WAVELENGTHS[first]
    is_spectral = np.isfinite(towards)
    wavelength = np.where(is_spectral, base + towards, -(base + opposite))
    with np.errstate(divide="ignore", invalid="ignore"):
        purity = 1.0 / np.where(is_spectral, t_towards, t_purple)
    at_white = length < 1e-12
    return DominantWavelength(np.where(at_white, np.nan, wavelength), np.where(at_white, 0.0, purity))


def _crossing(
    ray: NDArray[np.float64], start: NDArray[np.float64], along: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Find where rays from the origin cross a chain of segments: place along the chain, and times the ray's length."""
    cross = ray[..., np.newaxis, 0] * along[:, 1] - ray[..., np.newaxis, 1] * along[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (start[:, 0] * ray[..., np.newaxis, 1] - start[:, 1] * ray[..., np.newaxis, 0]) / cross
        t = (start[:, 0] * along[:, 1] - start[:, 1] * along[:, 0]) / cross
    hit = (s >= 0.0) & (s <= 1.0) & (t > 0.0)
    index = np.argmax(hit, axis=-1)[..., np.newaxis]
    found = np.take_along_axis(hit, index, -1)[..., 0]
    place = index[..., 0] + np.take_along_axis(s, index, -1)[..., 0]
    times = np.take_along_axis(t, index, -1)[..., 0]
    return np.where(found, place, np.nan), np.where(found, times, np.nan)


SCREEN = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
"""From tristimulus values to the three lights of a screen [1]. Source: IEC 61966-2-1:1999."""

SCREEN_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Share of each of the three lights of a screen in the luminance of its white [1]. Source: IEC 61966-2-1:1999."""


def screen_light(xy: ArrayLike) -> NDArray[np.float64]:
    """Give the three lights of a screen, the strongest one as 1, for the colour nearest to a chromaticity.

    A colour outside what a screen can show is mixed with just enough white; where red leads, white would turn orange
    to red and red to pink, and what the screen lacks is left out.

    Source: IEC 61966-2-1:1999 for the matrix; an assumption for colours outside.
    """
    linear = _on_screen_lights(xy)
    lowest = np.minimum(linear.min(axis=-1, keepdims=True), 0.0)
    red_leads = linear[..., :1] >= linear.max(axis=-1, keepdims=True)
    linear = np.where(red_leads, np.maximum(linear, 0.0), (linear - lowest) / (1.0 - lowest))
    return np.asarray(linear / linear.max(axis=-1, keepdims=True))


def outside_screen(xy: ArrayLike) -> NDArray[np.bool_]:
    """Tell whether a chromaticity lies outside what a screen can show by more than a fiftieth of its strongest light.

    Source: IEC 61966-2-1:1999; how much is told is an assumption.
    """
    linear = _on_screen_lights(xy)
    return np.asarray(linear.min(axis=-1) < -0.02 * linear.max(axis=-1))


def _on_screen_lights(xy: ArrayLike) -> NDArray[np.float64]:
    pair = np.asarray(xy, dtype=float)
    x, y = pair[..., 0], np.maximum(pair[..., 1], 1e-6)
    return np.asarray(np.stack([x / y, np.ones_like(y), (1.0 - x - y) / y], axis=-1) @ SCREEN.T)


def screen_code(light: ArrayLike) -> NDArray[np.float64]:
    """Give what a screen must be told, 0 to 1, for lights of 0 to 1; beyond them it shows none and all.

    Source: IEC 61966-2-1:1999, transfer function.
    """
    linear = np.clip(np.asarray(light, dtype=float), 0.0, 1.0)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)


def srgb(xy: ArrayLike, brightness: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Give a screen colour for a chromaticity, as bright as the screen can show it, for a swatch.

    Source: IEC 61966-2-1:1999, matrix and transfer function.
    """
    return screen_code(screen_light(xy) * np.asarray(brightness, dtype=float)[..., np.newaxis])
