"""How dye, base, surfaces, leak, thickness, fading and warmth make up the spectral transmittance of a lens."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from lampkit import grid, tables
from lampkit.errors import InputError, nearest, within
from lampkit.grid import CurveModel, Floats, Numbers, Values
from lampkit.light import edges

SODIUM_D = 589.3
"""Wavelength at which an index is quoted when no other is named [nm]. Source: mean of the sodium D lines."""


@cache
def _dispersion() -> dict[str, dict[str, float | str]]:
    return {row["substance"]: row for row in tables.load("lenses", "refractive_index").rows()}


def refractive_index(substance: str, wavelength: ArrayLike = grid.WAVELENGTHS) -> Floats:
    """Give the refractive index of a clear lens material.

    Below and above the range in which its formula was measured the formula is carried on; the index is smooth there.

    Parameters
    ----------
    substance : str
        'acrylic' (PMMA), 'polycarbonate' or 'soda-lime glass'.
    wavelength : array_like, shape (...) [nm]
        Wavelengths, 300 nm to 2000 nm; the grid when left out.

    Returns
    -------
    ndarray, shape (...) [1]
        The index.

    Raises
    ------
    InputError
        The material is unknown, or a wavelength is outside 300 nm to 2000 nm.

    Examples
    --------
    Acrylic has 1.49 in yellow light.

    >>> import lampkit as lk
    >>> round(float(lk.lenses.refractive_index("acrylic", 589.3)), 2)
    1.49

    Source: Sultanova, Kasarova and Nikolov, Acta Phys. Pol. A 116 (2009) 585; Rubin, Sol. Energy Mater. 12 (1985) 275.
    """
    if substance not in _dispersion():
        raise InputError(f"the lens material '{substance}' is unknown", expected=nearest(substance, _dispersion()))
    nanometres = np.asarray(wavelength, dtype=float)
    if not np.all((nanometres >= 300.0) & (nanometres <= 2000.0)):
        raise InputError("a wavelength is outside 300 nm to 2000 nm", key="wavelength", expected="nanometres")
    row = _dispersion()[substance]
    a, b, c = float(row["a"]), float(row["b"]), float(row["c"])
    squared = (nanometres * 1e-3) ** 2
    if row["form"] == "sellmeier":
        return np.asarray(np.sqrt(1.0 + a * squared / (squared - b)))
    return np.asarray(a + b * squared + c / squared)


def surface_reflectance(index: ArrayLike) -> Floats:
    """Give the share of light that one surface in air throws back at normal incidence.

    Source: Fresnel's equations at normal incidence.
    """
    n = np.asarray(index, dtype=float)
    if not np.all((n >= 1.0) & np.isfinite(n)):
        raise InputError("a refractive index is below one", key="index", expected="1.49 for acrylic, 1.52 for glass")
    return np.asarray(((n - 1.0) / (n + 1.0)) ** 2)


def slab_transmittance(index: ArrayLike, internal_transmittance: ArrayLike = 1.0) -> Floats:
    """Give the transmittance of a plane sheet in air, light reflected to and fro inside it included.

    Without absorption it is 2 n / (n^2 + 1).

    Parameters
    ----------
    index : array_like, shape (...) [1]
        Refractive index.
    internal_transmittance : array_like, shape (...) [1]
        Transmittance from the inside of the first surface to the inside of the second.

    Returns
    -------
    ndarray, shape (...) [1]
        The transmittance T = (1 - R)^2 t / (1 - R^2 t^2).

    Raises
    ------
    InputError
        An index is below one, or an internal transmittance is outside zero to one.

    Examples
    --------
    A clear sheet of index 1.5 passes 2 n / (n^2 + 1), 92 %.

    >>> import lampkit as lk
    >>> round(float(lk.lenses.slab_transmittance(1.5)), 3)
    0.923

    Source: geometric series of Fresnel reflections in a plane-parallel plate, incoherent, at normal incidence.
    """
    r = surface_reflectance(within(index, 0.1, 10.0, key="index", unit=""))
    t = np.asarray(internal_transmittance, dtype=float)
    if not np.all((t >= 0.0) & (t <= 1.0)):
        raise InputError(
            "an internal transmittance is outside 0 to 1", key="internal_transmittance", expected="0 to 1, not percent"
        )
    return np.asarray((1.0 - r) ** 2 * t / (1.0 - (r * t) ** 2))


CONDITIONS = {"thickness ratio": 1.0, "dye left": 1.0, "temperature": 25.0}
"""Conditions that every lens model answers to, with the values at which a lens is described: thickness over the first
thickness [1], share of the dye that fading has left [1], temperature [degC]."""


def condition(values: Values, name: str) -> Floats:
    """Give one of the CONDITIONS out of the values, or what holds when it is not among them."""
    value = np.asarray(values.get(name, CONDITIONS[name]), dtype=float)
    if name != "temperature" and not np.all((value > 0) & np.isfinite(value)):
        raise InputError("a ratio is not positive", key=name, expected="a ratio above zero, 1 for as it was")
    return value


def _plateau(values: Values, loss_free: float) -> Floats:
    # Only the absorption of the base scales with thickness; the surfaces do not.
    top = np.asarray(values["plateau"], dtype=float)
    if not np.all((top >= 0) & (top <= 1)):
        raise InputError("a plateau is outside 0 to 1", key="plateau", expected="a transmittance, not a percentage")
    base = np.minimum(top / loss_free, 1.0)
    return np.asarray(top * base ** (condition(values, "thickness ratio") - 1.0))


def _leak(values: Values) -> Floats:
    leak = np.asarray(values.get("leak", 0.0), dtype=float)
    if not np.all((leak >= 0) & (leak <= 1)):
        raise InputError("a leak is outside 0 to 1", key="leak", expected="a share of the light, as 0.002")
    return leak


def edge_model(loss_free: float) -> CurveModel:
    """Make the model of a red or amber lens: an absorption edge, a base, two surfaces and a leak.

    Source: Bouguer-Lambert-Beer law; the leak is light that passes beside the dye.
    """

    def numbers(values: Values) -> Numbers:
        warmer = condition(values, "temperature") - CONDITIONS["temperature"]
        strength = condition(values, "thickness ratio") * condition(values, "dye left")
        width, leak = np.asarray(values["edge width"], dtype=float), _leak(values)
        edge = np.asarray(values["edge wavelength"], dtype=float) + values.get("edge shift", np.zeros(())) * warmer
        # leak + (1 - leak) tau, without another pass over the spectra.
        top = _plateau(values, loss_free) * (1.0 - leak)
        return edges.edge_numbers(edges.edge_at_strength(edge, width, strength), width, top, leak)

    return CurveModel(numbers, edges.edge_curves)


def band_model(loss_free: float, centre: ArrayLike, width: ArrayLike, absorbance: ArrayLike) -> CurveModel:
    """Make the model of a green or blue lens: absorption bands, a base, two surfaces and a leak.

    Source: Bouguer-Lambert-Beer law; the leak is light that passes beside the dye.
    """
    bands = tuple(zip(*(np.asarray(v, dtype=float).tolist() for v in (centre, width, absorbance)), strict=True))

    def numbers(values: Values) -> Numbers:
        strength = np.asarray(values["dye strength"], dtype=float)
        if not np.all(strength > 0):
            raise InputError("a dye strength is not positive", key="dye strength", expected="a ratio above zero")
        strength = strength * condition(values, "thickness ratio") * condition(values, "dye left")
        leak = _leak(values)
        top, shift = _plateau(values, loss_free) * (1.0 - leak), np.asarray(values["band shift"], dtype=float)
        # (middle / wavelength - 1) middle / wide, squared
        middles = [(at + shift, wide) for at, wide, _ in bands]
        each = (grid.line(middle**2 / wide, -middle / wide, np.reciprocal) for middle, wide in middles)
        strength, top, leak, _ = np.broadcast_arrays(strength, top, leak, shift)
        return -np.log(10.0) * strength, top, leak, *each

    def curves(strength: Floats, top: Floats, leak: Floats, *lines: Floats, part: slice) -> Floats:
        tau = np.zeros((len(grid.WAVELENGTHS[part]), strength.size), grid.precision(part))
        for line, (_, _, height) in zip(lines, bands, strict=True):
            band = grid.straight(line, part, of=np.reciprocal)
            band *= band
            band *= -0.5
            np.exp(band, out=band)
            band *= height
            tau += band
        tau *= strength.ravel().astype(tau.dtype, copy=False)
        np.exp(tau, out=tau)
        tau *= top.ravel().astype(tau.dtype, copy=False)
        tau += leak.ravel().astype(tau.dtype, copy=False)
        return grid.last(tau.reshape(-1, *strength.shape))

    return CurveModel(numbers, curves)


def flat_model(loss_free: float) -> CurveModel:
    """Make the model of a clear or neutral lens; it asks for 'plateau' [1].

    Source: Bouguer-Lambert-Beer law; the leak is light that passes beside the dye.
    """

    def curves(top: Floats, part: slice) -> Floats:
        tau = np.empty((grid.WAVELENGTHS[part].size, *top.shape), grid.precision(part))
        tau[...] = top
        return grid.last(tau)

    return CurveModel(lambda values: (_plateau(values, loss_free),), curves)


def curve_model(loss_free: float, curve: ArrayLike) -> CurveModel:
    """Make the model of a measured transmittance; it asks for 'reading scale' [1], true over measured transmittance.

    Source: Bouguer-Lambert-Beer law.
    """
    tau = grid.on_grid(curve)
    if not np.all((tau >= 0) & (tau <= 1)):
        raise InputError("a transmittance is outside 0 to 1", expected="0 to 1, not percent")
    highest = float(tau.max())
    if highest <= 0:
        raise InputError("the curve lets no light through", expected="a transmittance above zero somewhere")

    def numbers(values: Values) -> Numbers:
        ratio, dye = condition(values, "thickness ratio"), condition(values, "dye left")
        base = min(highest / loss_free, 1.0) ** (ratio - 1.0)
        scale = np.asarray(values["reading scale"], dtype=float)
        if not np.all(scale > 0):
            raise InputError("a reading scale is not positive", key="reading scale", expected="a ratio above zero")
        return scale * base, ratio * dye

    def curves(scale: Floats, strength: Floats, part: slice) -> Floats:
        # An unchanged lens gives back the measured numbers to the last digit.
        curve = tau[part]
        changed = curve if np.all(strength == 1.0) else highest * (curve / highest) ** strength[..., np.newaxis]
        return np.asarray(np.minimum(scale[..., np.newaxis] * changed, 1.0))

    return CurveModel(numbers, curves)
