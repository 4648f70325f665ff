"""A lens narrowed by what was measured of it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid
from lampkit.errors import InputError
from lampkit.grid import CurveModel, Values
from lampkit.lenses import coloured_lens
from lampkit.light import colorimetry, illuminants, photometry
from lampkit.uncertainty import posterior


def from_measured(
    colour: str,
    *,
    luminous_transmittance: float | None = None,
    chromaticity: ArrayLike | None = None,
    spectrum: ArrayLike | None = None,
    relative_uncertainty: float = 0.03,
    chromaticity_uncertainty: float = 0.003,
    material: str = "plastic",
    name: str | None = None,
) -> coloured_lens.Lens:
    """Give a lens narrowed by what was measured of it: luminous transmittance, chromaticity, or both.

    The measured values are weighed against what is believed of any lens of that colour and material. The result keeps
    the spread in every direction that they cannot see, and its notes say in words which that is.

    Parameters
    ----------
    colour : str
        One of COLOURS.
    luminous_transmittance : float, optional [1]
        The share of the light of `spectrum` that the lens lets through.
    chromaticity : array_like, shape (2,), optional [1]
        CIE 1931 x, y of that light behind the lens.
    spectrum : array_like, shape (471,), optional [W/nm]
        Spectrum of the light used, on any scale; CIE illuminant A when left out.
    relative_uncertainty : float [1]
        Standard uncertainty of the luminous transmittance, relative to it.
    chromaticity_uncertainty : float [1]
        Standard uncertainty of x and of y.
    material : {'plastic', 'old glass', 'unknown'}
        The material.
    name : str, optional
        Name.

    Returns
    -------
    Lens
        The lens. Its beliefs stand on directions in which several parameters move together, the best seen first.

    Raises
    ------
    InputError
        Nothing was measured, a value is impossible, or no lens of that colour comes near the values.

    Examples
    --------
    A piece of red lens that was measured to pass 24 % of illuminant A.

    >>> import lampkit as lk
    >>> lens = lk.lenses.from_measured("red", luminous_transmittance=0.24)
    >>> float(lk.light.luminous_transmittance(lens.transmittance, lk.light.illuminant("A")).round(2))
    0.24

    Source: least squares with prior knowledge, JCGM 101:2008 and its linearisation; illuminant A: CIE 015:2018.
    """
    base = coloured_lens.load(colour, material=material)
    light = illuminants.illuminant("A") if spectrum is None else grid.on_grid(spectrum)
    measured: list[float] = []
    uncertainty: list[float] = []
    if luminous_transmittance is not None:
        if not 0.0 < luminous_transmittance <= 1.0:
            raise InputError(
                f"a luminous transmittance of {luminous_transmittance:g} is not possible",
                key="luminous_transmittance",
                expected="above 0, at most 1; a percentage divided by 100",
            )
        measured.append(float(np.log(luminous_transmittance)))
        uncertainty.append(relative_uncertainty)
    if chromaticity is not None:
        xy = np.asarray(chromaticity, dtype=float)
        if xy.shape != (2,) or not np.all((xy > 0) & (xy < 1)) or xy.sum() > 1.0:
            raise InputError(
                "the chromaticity is no pair x, y", key="chromaticity", expected="for example (0.68, 0.32)"
            )
        measured += xy.tolist()
        uncertainty += [chromaticity_uncertainty] * 2
    if not measured:
        raise InputError(
            "nothing measured was given",
            expected="luminous_transmittance=, chromaticity= or both",
            remedy="else use load",
        )

    def predict(values: Values) -> NDArray[np.float64]:
        tau = base.model(values)
        share = np.log(photometry.luminous_transmittance(tau, light))[..., np.newaxis]
        seen = colorimetry.chromaticity(tau * light)
        return np.concatenate(
            ([share] if luminous_transmittance is not None else []) + ([seen] if chromaticity is not None else []), -1
        )

    found = posterior.narrow(predict, base.beliefs, measured, uncertainty)

    model = CurveModel(lambda values: base.model.numbers(found.parameters(values)), base.model.curves)
    return coloured_lens.of_model(
        name or f"measured {base.name}", colour, model, found.beliefs, material, [*base.notes, *found.notes]
    )
