"""Other shapes of an absorption edge, and laws of clear and coloured glass that the kit does not compute with."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit import grid

PHOTON_ENERGY = 1239.841984
"""Photon energy times wavelength, h c / e [eV nm]. Source: the exact constants of the SI, 2019."""

GAP_CHANGE = -4.2e-4
"""Change of the band gap of cadmium sulphide and selenide with temperature [eV/K]. Source: from memory."""


def energy_edge(wavelength_edge: float, energy: float) -> np.ndarray:
    """Edge whose absorption falls exponentially with photon energy. Source: F. Urbach, Phys. Rev. 92 (1953) 1324."""
    exponent = np.minimum((PHOTON_ENERGY / grid.WAVELENGTHS - PHOTON_ENERGY / wavelength_edge) / energy, 50.0)
    return np.exp(-np.log(2.0) * np.exp(exponent))


def logistic_edge(wavelength_edge: float, width: float) -> np.ndarray:
    """Symmetric edge without physical ground: it lets through too much on its short-wave side."""
    return 0.5 * (1.0 + np.tanh((grid.WAVELENGTHS - wavelength_edge) / (2.0 * width)))


def shift_per_kelvin(wavelength_edge: ArrayLike) -> np.ndarray:
    """How far the edge of a glass coloured by cadmium moves for each kelvin. Source: photon energy h c / wavelength."""
    return -(np.asarray(wavelength_edge, dtype=float) ** 2) * GAP_CHANGE / PHOTON_ENERGY


def internal_transmittance(absorption: float, thickness: float) -> float:
    """Transmittance between the surfaces of a sheet. Source: Bouguer-Lambert-Beer law."""
    return float(np.exp(-absorption * thickness))
