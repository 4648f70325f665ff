"""The standard illuminants of the CIE that matter for lamps."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, tables
from lampkit.errors import InputError, nearest


@cache
def illuminant(name: str) -> NDArray[np.float64]:
    """Give a CIE illuminant by its name.

    Parameters
    ----------
    name : str
        'A', 'E', or an LED illuminant: 'LED-B1' to 'LED-B5', 'LED-BH1', 'LED-RGB1', 'LED-V1', 'LED-V2'.

    Returns
    -------
    ndarray, shape (471,) [1]
        The relative spectrum, read-only; illuminant A is 100 at 560 nm. The LED illuminants are tabulated from 380 nm
        to 780 nm at 5 nm; between, a cubic spline; beyond, zero.

    Raises
    ------
    InputError
        The illuminant is unknown.

    Examples
    --------
    Illuminant A is 100 at 560 nm by definition.

    >>> import lampkit as lk
    >>> lk.light.illuminant("A")[lk.grid.WAVELENGTHS == 560].round(1)
    array([100.])

    Source: CIE 015:2018; illuminant A by its formula with c2 = 1.435e-2 m K and 2848 K.
    """
    if name == "A":
        metres = np.append(grid.WAVELENGTHS, 560.0) * 1e-9
        shape = 1.0 / (metres**5 * np.expm1(1.435e-2 / (metres * 2848.0)))
        values = 100.0 * shape[:-1] / shape[-1]
    elif name == "E":
        values = np.full(grid.WAVELENGTHS.size, 100.0)
    else:
        from scipy.interpolate import CubicSpline

        table = tables.load("leds", "cie_led_illuminants")
        led = [column for column in table.columns if column != "wavelength_nm"]
        if name not in led:
            raise InputError(f"the illuminant '{name}' is unknown", expected=nearest(str(name), ["A", "E", *led]))
        x = table["wavelength_nm"]
        inside = (x[0] <= grid.WAVELENGTHS) & (x[-1] >= grid.WAVELENGTHS)
        values = np.where(inside, np.maximum(CubicSpline(x, table[name])(grid.WAVELENGTHS), 0.0), 0.0)
    values.setflags(write=False)
    return values
