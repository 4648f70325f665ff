"""Whole chains worked a second time with numpy and printed tables alone: light behind a lens, a wire, two rhythms."""

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

TABLES = Path(__file__).parents[2] / "data"
SECOND_RADIATION = 1.4388e-2
"""Second radiation constant [m K]."""


def column(table: str, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Read one column of a table of data, with its wavelengths."""
    with (TABLES / f"{table}.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return np.array([float(row["wavelength_nm"]) for row in rows]), np.array([float(row[name]) for row in rows])


NM = np.arange(380.0, 781.0)
PHOTOPIC = np.interp(NM, *column("observers/photopic", "efficiency"))


def planck(temperature: float) -> NDArray[np.float64]:
    """Give the spectrum of a black body on any scale."""
    metres = NM * 1e-9
    return np.asarray(metres**-5 / np.expm1(SECOND_RADIATION / (metres * temperature)))


def cie_led(name: str) -> NDArray[np.float64]:
    """Give one of the LED illuminants of CIE 015:2018 on any scale."""
    return np.interp(NM, *column("leds/cie_led_illuminants", name))


def lens_passes(spectrum: NDArray[np.float64], edge: float, width: float) -> float:
    """Give what a lens with an edge passes of the light of a spectrum, its plateau taken as one."""
    passed = np.exp(-np.log(2.0) * np.exp(-(NM - edge) / width))
    return float(np.sum(spectrum * PHOTOPIC * passed) / np.sum(spectrum * PHOTOPIC))


def lamp_in_loop(supply: float, ohms: float, number: int, watts: float, rated: float) -> tuple[float, float]:
    """Give volts at the lamps and amperes of filament lamps side by side behind a resistance: I as V^0.55.

    Source: Fink and Beaty for the exponent; halving of the interval.
    """
    low, high = 0.0, supply
    for _ in range(60):
        volts = 0.5 * (low + high)
        amperes = number * watts / rated * (volts / rated) ** 0.55
        low, high = (low, volts) if volts > supply - ohms * amperes else (volts, high)
    return volts, amperes


def bimetal_rate(current: float, rated: float, trip: float, reset: float, constant: float) -> float:
    """Give the flashes in a minute of a bimetal strip in series with its lamps.

    Source: a body that heats with the square of the current and cools by itself, from one threshold to the other.
    """
    heat = (current / rated) ** 2
    return 60.0 / (constant * (np.log((heat - reset) / (heat - trip)) + np.log(trip / reset)))


def repeated_allard(on: float, period: float, constant: float = 0.2) -> float:
    """Give the effective over the steady intensity of square flashes that repeat: a / (a + t)^2 over all.

    Source: the modified Allard method, Ohno and Couzin 2002, summed over flash after flash.
    """
    k = np.arange(100_000)
    return float(np.sum(constant / (constant + k * period) - constant / (constant + k * period + on)))
