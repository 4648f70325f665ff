"""Other shapes of an absorption edge, which the kit does not compute with."""

import numpy as np

from lampkit import grid

PHOTON_ENERGY = 1239.841984
"""Photon energy times wavelength, h c / e [eV nm]. Source: the exact constants of the SI, 2019."""


def energy_edge(wavelength_edge: float, energy: float) -> np.ndarray:
    """Edge whose absorption falls exponentially with photon energy. Source: F. Urbach, Phys. Rev. 92 (1953) 1324."""
    exponent = np.minimum((PHOTON_ENERGY / grid.WAVELENGTHS - PHOTON_ENERGY / wavelength_edge) / energy, 50.0)
    return np.exp(-np.log(2.0) * np.exp(exponent))


def logistic_edge(wavelength_edge: float, width: float) -> np.ndarray:
    """Symmetric edge without physical ground: it lets through too much on its short-wave side."""
    return 0.5 * (1.0 + np.tanh((grid.WAVELENGTHS - wavelength_edge) / (2.0 * width)))
