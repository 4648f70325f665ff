"""From a spectrum to light: luminous flux, transmittance, efficacy, intensity and illuminance."""

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, within
from lampkit.light import colorimetry

K_M = 683.002
"""Maximum luminous efficacy for photopic vision [lm/W]. Source: CIE 018:2019, from 683 lm/W at 540 THz."""

K_M_SCOTOPIC = 1700.06
"""Maximum luminous efficacy for scotopic vision [lm/W]. Source: CIE 018:2019, from 683 lm/W at 540 THz."""

Observer = Literal["photopic", "scotopic"]


@cache
def luminous_efficiency(observer: Observer = "photopic") -> NDArray[np.float64]:
    """Give the spectral luminous efficiency V of the photopic or V' of the scotopic observer on the grid.

    Parameters
    ----------
    observer : {'photopic', 'scotopic'}
        CIE 1924 V(lambda), or CIE 1951 V'(lambda), which is printed for 380 nm to 780 nm and is zero beyond.

    Returns
    -------
    ndarray, shape (471,) [1]
        The efficiency, read-only.

    Raises
    ------
    InputError
        The observer is unknown.

    Examples
    --------
    It is one at 555 nm (CIE 018:2019).

    >>> import lampkit as lk
    >>> v = lk.light.luminous_efficiency()
    >>> int(lk.grid.WAVELENGTHS[v.argmax()]), float(v.max())
    (555, 1.0)

    Source: CIE 018:2019, tables at 1 nm.
    """
    if observer not in ("photopic", "scotopic"):
        raise InputError(f"the observer '{observer}' is unknown", expected="'photopic' or 'scotopic'")
    table = tables.load("observers", observer)
    values = grid.resample(table["wavelength_nm"], table["efficiency"], outside="zero")
    values.setflags(write=False)
    return values


def luminous_flux(spectrum: ArrayLike, observer: Observer = "photopic") -> NDArray[np.float64]:
    """Integrate a spectral power distribution to luminous flux.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        Spectral radiant flux on the grid.
    observer : {'photopic', 'scotopic'}
        The observer.

    Returns
    -------
    ndarray, shape (...) [lm]
        The luminous flux.

    Raises
    ------
    InputError
        The spectrum is not on the grid, or the observer is unknown.

    Examples
    --------
    A watt at 555 nm is 683 lm (CIE 018:2019).

    >>> import lampkit as lk
    >>> one_watt = (lk.grid.WAVELENGTHS == 555).astype(float)
    >>> round(float(lk.light.luminous_flux(one_watt)))
    683

    Source: CIE 018:2019.
    """
    maximum = K_M if observer == "photopic" else K_M_SCOTOPIC
    return np.asarray(maximum * (grid.on_grid(spectrum) @ (luminous_efficiency(observer) * grid.WEIGHTS)))


def luminous_transmittance(transmittance: ArrayLike, spectrum: ArrayLike) -> NDArray[np.float64]:
    """Give the share of a source's light that a filter lets through.

    Parameters
    ----------
    transmittance : array_like, shape (..., 471) [1]
        Spectral transmittance on the grid.
    spectrum : array_like, shape (..., 471) [W/nm]
        Spectral distribution of the source; its scale cancels. The leading axes broadcast.

    Returns
    -------
    ndarray, shape (...) [1]
        The luminous transmittance, zero to one.

    Raises
    ------
    InputError
        An array is not on the grid, or the source gives no light.

    Examples
    --------
    A red lens passes less of the light of a white LED than of that of a filament.

    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red").transmittance
    >>> lights = [lk.light.illuminant("A"), lk.light.illuminant("LED-B5")]
    >>> lk.light.luminous_transmittance(lens, lights).round(2)
    array([0.23, 0.12])

    Source: CIE S 017:2020, 17-24-063 (number from memory).
    """
    weighted = grid.on_grid(spectrum) * (luminous_efficiency() * grid.WEIGHTS)
    total = weighted.sum(axis=-1)
    if np.any(total <= 0):
        raise InputError("a source gives no visible light", expected="a spectrum with power between 360 and 830 nm")
    return np.asarray(np.einsum("...i,...i->...", grid.on_grid(transmittance), weighted) / total)


def transmittance_table(transmittance: ArrayLike, spectrum: ArrayLike) -> NDArray[np.float64]:
    """Give the luminous transmittance of every filter for every source, as one matrix product.

    Parameters
    ----------
    transmittance : array_like, shape (m, 471) [1]
        Spectral transmittances of m filters.
    spectrum : array_like, shape (n, 471) [W/nm]
        Spectral distributions of n sources; their scale cancels.

    Returns
    -------
    ndarray, shape (m, n) [1]
        The luminous transmittances.

    Raises
    ------
    InputError
        An array is not on the grid, or a source gives no light.

    Examples
    --------
    A row for each lens, a column for each light.

    >>> import lampkit as lk
    >>> filters = [lk.lenses.load(colour).transmittance for colour in ("red", "amber")]
    >>> lights = [lk.light.illuminant(name) for name in ("A", "LED-B3", "LED-B5")]
    >>> lk.light.transmittance_table(filters, lights).round(2)
    array([[0.23, 0.17, 0.12],
           [0.61, 0.57, 0.52]])

    Source: CIE S 017:2020, 17-24-063 (number from memory).
    """
    weighted = grid.on_grid(spectrum) * (luminous_efficiency() * grid.WEIGHTS)
    total = weighted.sum(axis=-1)
    if np.any(total <= 0):
        raise InputError("a source gives no visible light", expected="a spectrum with power between 360 and 830 nm")
    return np.asarray(grid.on_grid(transmittance) @ (weighted / total[..., np.newaxis]).T)


def efficacy_of_radiation(spectrum: ArrayLike, *, band: tuple[float, float] = (360.0, 830.0)) -> NDArray[np.float64]:
    """Give the luminous flux per watt radiated within a stated band.

    Parameters
    ----------
    spectrum : array_like, shape (..., 471) [W/nm]
        Spectral distribution; its scale cancels.
    band : tuple of float [nm]
        The limits of the band, both included, between which the watts are counted. Always say it beside the result:
        for a filament most of the power lies outside 360 nm to 830 nm.

    Returns
    -------
    ndarray, shape (...) [lm/W]
        The luminous efficacy of radiation in that band.

    Raises
    ------
    InputError
        The spectrum is not on the grid, the band leaves the grid, or there is no power in the band.

    Examples
    --------
    Equal energy from 380 nm to 780 nm: 683 lm/W times 106.86 nm over 401 nm.

    >>> import lampkit as lk
    >>> round(float(lk.light.efficacy_of_radiation(lk.light.illuminant("E"), band=(380, 780))))
    182

    Source: CIE S 017:2020, 17-21-090 (number from memory).
    """
    low, high = band
    if not grid.WAVELENGTHS[0] <= low < high <= grid.WAVELENGTHS[-1]:
        raise InputError(f"the band {low:g}-{high:g} nm leaves the grid", expected="limits within 360 nm to 830 nm")
    array = grid.on_grid(spectrum)
    inside = (low <= grid.WAVELENGTHS) & (high >= grid.WAVELENGTHS)
    power = (array * inside) @ grid.WEIGHTS
    if np.any(power <= 0):
        raise InputError("a spectrum has no power in the band", expected="positive power")
    return np.asarray(K_M * ((array * inside) @ (luminous_efficiency() * grid.WEIGHTS)) / power)


def to_flux(spectrum: ArrayLike, luminous_flux: ArrayLike, *, part: slice = grid.WHOLE) -> NDArray[np.float64]:
    """Scale spectra so that each carries the given luminous flux.

    Source: CIE 018:2019.
    """
    target = np.asarray(luminous_flux, dtype=float)
    if not np.all(np.isfinite(target)) or np.any(target < 0):
        raise InputError("a luminous flux is negative or not a number", expected="lumens, zero or more")
    array = grid.on_grid(spectrum, part)
    weighted = K_M * (array @ colorimetry.observer(part)[:, 1])
    if np.any(weighted <= 0):
        raise InputError("a source gives no visible light", expected="a spectrum with power between 360 and 830 nm")
    return np.asarray(array * (target / weighted)[..., np.newaxis])


def illuminance(intensity: ArrayLike, distance: ArrayLike, tilt: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Give the illuminance from a small source by the inverse square and cosine laws.

    Parameters
    ----------
    intensity : array_like, shape (...) [cd]
        Luminous intensity towards the meter.
    distance : array_like, shape (...) [m]
        Distance from source to meter.
    tilt : array_like, shape (...) [deg]
        Angle between the meter's normal and the line to the source.

    Returns
    -------
    ndarray, shape (...) [lx]
        The illuminance on the meter.

    Raises
    ------
    InputError
        A distance is not positive.

    Examples
    --------
    A candela makes a lux at one metre, and a quarter of it at two.

    >>> import lampkit as lk
    >>> lk.light.illuminance(1, [1, 2])
    array([1.  , 0.25])

    Source: CIE S 017:2020, inverse square law and cosine law.
    """
    d = np.asarray(distance, dtype=float)
    if not np.all((d >= 1e-6) & (d <= 1e9)):
        raise InputError("a distance is not positive", key="distance", expected="metres above zero, to 1e9 m")
    i = np.asarray(intensity, dtype=float)
    if not np.all(np.abs(i) <= 1e15):
        raise InputError("an intensity is not a number", key="intensity", expected="candela")
    turned = within(tilt, -90.0, 90.0, key="tilt", unit="deg")
    return np.asarray(i * np.cos(np.radians(turned)) / d**2)


def luminous_intensity(illuminance: ArrayLike, distance: ArrayLike, tilt: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Give the luminous intensity of a small source from the illuminance that it makes.

    Parameters
    ----------
    illuminance : array_like, shape (...) [lx]
        Illuminance on the meter, background taken off.
    distance : array_like, shape (...) [m]
        Distance from source to meter.
    tilt : array_like, shape (...) [deg]
        Angle between the meter's normal and the line to the source.

    Returns
    -------
    ndarray, shape (...) [cd]
        The luminous intensity towards the meter.

    Raises
    ------
    InputError
        A distance is not positive.

    Examples
    --------
    A meter at 3 m shows 6.7 lx: the lamp gives 60 cd.

    >>> import lampkit as lk
    >>> round(float(lk.light.luminous_intensity(6.7, 3)))
    60

    Source: CIE S 017:2020, inverse square law and cosine law.
    """
    d = np.asarray(distance, dtype=float)
    if np.any(~(d > 0)):
        raise InputError("a distance is not positive", key="distance", expected="metres above zero")
    return np.asarray(np.asarray(illuminance, dtype=float) * d**2 / np.cos(np.radians(tilt)))


def cone_intensity(flux: ArrayLike, half_angle: ArrayLike) -> NDArray[np.float64]:
    """Give the luminous intensity of light that goes evenly into a cone.

    Parameters
    ----------
    flux : array_like, shape (...) [lm]
        Luminous flux of the whole cone.
    half_angle : array_like, shape (...) [deg]
        Angle between the axis and the rim, above 0 up to 180.

    Returns
    -------
    ndarray, shape (...) [cd]
        The intensity, the same everywhere in the cone.

    Raises
    ------
    InputError
        The half angle is not above 0 and up to 180 degrees.

    Examples
    --------
    Within 60 degrees of the axis lie pi steradians.

    >>> import lampkit as lk
    >>> round(float(lk.light.cone_intensity(100, 60)), 2)
    31.83

    Source: CIE S 017:2020, flux over solid angle; the solid angle of a cone is 2 pi (1 - cos a).
    """
    angle = np.asarray(half_angle, dtype=float)
    light = within(flux, 0.0, 1e15, key="flux", unit="lm")
    # A narrower cone is a laser's, and its solid angle is lost in rounding.
    if not np.all((angle > 1e-4) & (angle <= 180)):
        raise InputError("this is no cone", key="half_angle", expected="degrees above 0, up to 180")
    return np.asarray(light / (2.0 * np.pi * (1.0 - np.cos(np.radians(angle)))))
