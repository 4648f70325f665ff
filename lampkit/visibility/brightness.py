"""How bright a saturated colour looks against its luminance: a range over named models, never one number."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError

MODELS: Mapping[str, str] = MappingProxyType(
    {
        "Ware and Cowan": "Ware and Cowan 1983, polynomial in x, y (read in a secondary text)",
        "Nakano": "Nakano, polynomial in x, y at the root of CIE 200:2011 (from memory, low confidence)",
        "Nayatani, variable achromatic": "Nayatani, Color Res. Appl. 22 (1997) 385, luminous colours; the white is set",
        "Nayatani, variable chromatic": "Nayatani, Color Res. Appl. 22 (1997) 385, luminous colours; the colour is set",
    }
)
"""The models and where each comes from. They conflict by more than a factor of two for red."""

ADAPTING_LUMINANCE = 63.66
"""Adapting luminance at which Nayatani's factor for level is one [cd/m2]. Source: Nayatani 1997."""

WHITE = (0.3127, 0.3290)
"""Chromaticity x, y of the white that colours are matched with, D65 [1]. Source: CIE 015:2018 (from memory)."""


def brightness_to_luminance(
    chromaticity: ArrayLike, *, adapting_luminance: ArrayLike = ADAPTING_LUMINANCE
) -> dict[str, NDArray[np.float64]]:
    """Give the luminance of a white that looks as bright as a colour, over the luminance of the colour, by each model.

    Signal limits are candela and stay photopic: none of this counts for them. The models were made for patches seen
    against a background, not for points of light at night.

    Parameters
    ----------
    chromaticity : array_like, shape (..., 2) [1]
        CIE 1931 x, y of the light after its lens.
    adapting_luminance : array_like, shape (...) [cd/m2]
        Luminance to which the eye is adapted; only Nayatani's models ask for it.

    Returns
    -------
    dict of str to ndarray, shape (...) [1]
        The ratio by each of MODELS.

    Raises
    ------
    InputError
        A chromaticity lies outside the diagram or an adapting luminance is not positive.

    Examples
    --------
    The models conflict on red.

    >>> import lampkit as lk
    >>> ratios = lk.visibility.brightness_to_luminance([0.70, 0.30])
    >>> for model, ratio in ratios.items():
    ...     print(f"{model}: {ratio:.1f}")
    Ware and Cowan: 1.5
    Nakano: 1.8
    Nayatani, variable achromatic: 2.4
    Nayatani, variable chromatic: 3.9

    Source: as named in MODELS.
    """
    xy = np.asarray(chromaticity, dtype=float)
    if xy.ndim == 0 or xy.shape[-1] != 2:
        raise InputError(
            f"an array of shape {xy.shape} holds no chromaticities", key="chromaticity", expected="x, y last"
        )
    x, y = xy[..., 0], xy[..., 1]
    if not np.all((x > 0) & (y > 0) & (x + y <= 1.0 + 1e-9)):
        raise InputError(
            "a chromaticity lies outside the diagram",
            key="chromaticity",
            expected="x and y above zero, together no more than one",
        )
    adapting = np.asarray(adapting_luminance, dtype=float)
    if not np.all(np.isfinite(adapting) & (adapting > 0)):
        raise InputError("an adapting luminance is not positive", key="adapting_luminance", expected="cd/m2 above zero")
    ware_cowan = 0.256 - 0.184 * y - 2.527 * x * y + 4.656 * x**3 * y + 4.657 * x * y**4
    root = -0.0054 - 0.21 * x + 0.77 * y + 1.44 * x**2 - 2.97 * x * y + 1.59 * y**2 - 2.11 * (1.0 - x - y) * y**2
    if not np.all(root > 0):
        raise InputError(
            "Nakano's polynomial has no value at a chromaticity",
            key="chromaticity",
            expected="a colour that a light can have, within the spectrum locus",
        )
    shape = np.broadcast_shapes(x.shape, adapting.shape)
    found = (
        10.0**ware_cowan,
        np.sqrt(root) / y,
        _nayatani(x, y, adapting, -0.1340),
        _nayatani(x, y, adapting, -0.8660),
    )
    return {name: np.array(np.broadcast_to(ratio, shape)) for name, ratio in zip(MODELS, found, strict=True)}


def brightness_range(
    chromaticity: ArrayLike, *, adapting_luminance: ArrayLike = ADAPTING_LUMINANCE
) -> NDArray[np.float64]:
    """Give the lowest and the highest brightness-to-luminance ratio over the models."""
    found = np.stack(list(brightness_to_luminance(chromaticity, adapting_luminance=adapting_luminance).values()), -1)
    return np.stack([found.min(axis=-1), found.max(axis=-1)], axis=-1)


def _nayatani(
    x: NDArray[np.float64], y: NDArray[np.float64], adapting: NDArray[np.float64], weight: float
) -> NDArray[np.float64]:
    """Nayatani's ratio for luminous colours, from the hue angle and saturation in u', v'."""
    u, v = 4.0 * x / (-2.0 * x + 12.0 * y + 3.0), 9.0 * y / (-2.0 * x + 12.0 * y + 3.0)
    below = -2.0 * WHITE[0] + 12.0 * WHITE[1] + 3.0
    du, dv = u - 4.0 * WHITE[0] / below, v - 9.0 * WHITE[1] / below
    hue = np.arctan2(dv, du)
    q = (
        -0.01585
        - 0.03017 * np.cos(hue)
        - 0.04556 * np.cos(2.0 * hue)
        - 0.02667 * np.cos(3.0 * hue)
        - 0.00295 * np.cos(4.0 * hue)
        + 0.14592 * np.sin(hue)
        + 0.05084 * np.sin(2.0 * hue)
        - 0.01900 * np.sin(3.0 * hue)
        - 0.00764 * np.sin(4.0 * hue)
    )
    power = adapting**0.4495
    level = 0.2717 * (6.469 + 6.362 * power) / (6.469 + power)
    object_colour = 1.0 + (weight * q + 0.0872 * level) * 13.0 * np.hypot(du, dv)
    return np.asarray(0.4462 * (object_colour + 0.3086) ** 3)


def looks_brighter(luminance_ratio: ArrayLike) -> NDArray[np.float64]:
    """Give how many times as bright a lit face looks, from how many times the luminance it has.

    Source: Stevens, Science 133 (1961) 80, power law with the exponent of a third for a lit face seen in the dark
    (from memory); that it holds for a lamp on the road is an assumption.
    """
    return np.asarray(np.cbrt(np.asarray(luminance_ratio, dtype=float)))
