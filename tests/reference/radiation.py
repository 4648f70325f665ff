"""Radiation laws that the kit is held against and does not compute with."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit import tables
from lampkit.light import photometry
from lampkit.sources import incandescence

STEFAN_BOLTZMANN_CONSTANT = 5.670374419e-8
"""Stefan-Boltzmann constant [W/(m2 K4)]. Source: CODATA 2018, exact in the SI of 2019."""


def blackbody_efficacy(temperature: ArrayLike) -> np.ndarray:
    """Luminous efficacy of blackbody radiation, all wavelengths counted. Source: Planck, Stefan and Boltzmann."""
    t = np.asarray(temperature, dtype=float)
    return photometry.luminous_flux(incandescence.planck(t)) / (STEFAN_BOLTZMANN_CONSTANT * t**4)


def radiated_efficacy(temperature: ArrayLike) -> np.ndarray:
    """Luminous efficacy of bare tungsten from its emissivity and its measured radiated power.

    Source: De Vos 1954; the mean over all directions is 1.044 times the normal luminance (A. G. Worthing, read in a
    secondary text); radiated power of H. A. Jones and I. Langmuir, Gen. Electr. Rev. 30 (1927) 310 (from memory).
    """
    t, table = np.asarray(temperature, dtype=float), tables.load("filament", "efficacy")
    radiated = np.exp(np.interp(np.log(t), np.log(table["temperature_K"]), np.log(table["radiated_W_per_cm2"])))
    return 1.044 * photometry.luminous_flux(incandescence.tungsten(t)) / (radiated * 1e4)
