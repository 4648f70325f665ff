"""LEDs you can hold: coloured and white ones, with what is believed of each."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.grid import CurveModel, Numbers, Values
from lampkit.sources import heat
from lampkit.sources.led_spectra import (
    band_curves,
    band_numbers,
    coolness,
    red_phosphor_peak,
    usual_duv,
    white_curves,
    white_numbers,
    white_shape,
)
from lampkit.sources.light_source import LightSource, SourceKind, build, claim_belief, positive
from lampkit.uncertainty.sampling import Belief

LOWEST_CCT, HIGHEST_CCT = 2200.0, 8000.0
"""Correlated colour temperatures for which a white LED is given [K]. Source: the range of the fitted illuminants,
2733 K to 6598 K, widened to the classes of retail lamps."""


CLASSES = (2200.0, 2500.0, 2700.0, 3000.0, 3500.0, 4000.0, 4500.0, 5000.0, 5700.0, 6500.0)
"""Names of the classes of white LEDs [K]. Source: ANSI C78.377 (from memory)."""

BESIDE = 0.055
"""How far a number on a box can lie from the next class, as a logarithm: half way from one to the other [1].
Source: the classes above 4500 K."""


def beside_the_classes(cct: float) -> float:
    """Give how far a number on a box lies from the class whose dies it stands for, as a logarithm.

    Source: dies are made in the classes of ANSI C78.377 (from memory); 6000 K is none, so 5700 K or 6500 K is inside.
    """
    return float(min(np.abs(np.log(cct / np.array(CLASSES))).min(), BESIDE))


def white_led(
    cct: float,
    duv: float | None = None,
    *,
    cct_uncertainty: float | None = None,
    duv_uncertainty: float | None = None,
    luminous_flux: float,
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
    base: str | None = None,
    hot_over_cold: tuple[float, float] | None = None,
    beam_ratio: tuple[float, float] | None = None,
) -> LightSource:
    """Give a phosphor-white LED by its correlated colour temperature.

    Parameters
    ----------
    cct : float [K]
        Correlated colour temperature, 2200 K to 8000 K.
    duv : float [1]
        Distance from the Planckian locus, -0.01 to 0.01; positive on the green side. When left out, that of the classes
        of ANSI C78.377 with a spread between makes.
    cct_uncertainty : float [K]
        Standard uncertainty of `cct`; 3 % of it when left out, the width of a class, and up to 6 % for a number
        between two classes, as 6000 K is.
    duv_uncertainty : float [1]
        Standard uncertainty of `duv`; 0.0015 for one that is given when left out, an assumption.
    luminous_flux : float [lm]
        The claim on the box.
    electrical_power : float [W]
        The claim on the box.
    name : str
        How to call it.
    layout : str
        'all-round' or 'forward'.
    voltage : float [V]
        What flux and power refer to.
    true_over_claimed : tuple of float [1]
        Low and high end, in 95 of 100 cases, of true over claimed lumens.
    base : str
        The base that it stands on, as in 'BA15s'; it tells how warm the watts make it.
    hot_over_cold : tuple of float [1]
        Low and high end, in 95 of 100 cases, of its light when warm from steady burning over that when cold.
    beam_ratio : tuple of float [1]
        The same of candela towards the road for each lumen, over that of the filament; by `layout` when left out.

    Returns
    -------
    LightSource
        The LED, with the spread between makes as beliefs.

    Raises
    ------
    InputError
        A number is missing, not positive, or outside its range.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.sources.white_led(6000, luminous_flux=420)
    white LED 6000 K: white LED, 420 lm

    Source: shape fitted to the CIE illuminants LED-B1 to LED-B5; Duv by Ohno 2014 and ANSI C78.377 (from memory); the
    red phosphor of cool whites and the spread are assumptions, held against white LED spectra of other origin.
    """
    kelvin = positive(cct, "cct", "kelvin")
    if not LOWEST_CCT <= kelvin <= HIGHEST_CCT:
        raise InputError(f"a white LED of {kelvin:g} K is not modelled", key="cct", expected="2200 K to 8000 K")
    try:
        offset = float(usual_duv(kelvin)) if duv is None else float(duv)
    except (TypeError, ValueError):
        offset = np.nan
    if not abs(offset) <= 0.01:
        raise InputError(f"a Duv of {duv} is not modelled", key="duv", expected="-0.01 to 0.01")
    shape = white_shape()
    rise = heat.steady_rise(electrical_power, base)
    red_peak, red_spread = (float(v) for v in red_phosphor_peak(kelvin))
    assumed = "an assumption, held against white LED spectra of other origin"
    widths = "full widths of garnets 100 nm to 125 nm, of nitrides 75 nm to 95 nm (from memory): 12 % each way in 95 %"
    beside = 0.0 if cct_uncertainty is not None else beside_the_classes(kelvin)
    # A box that names no class is not held to the Duv of one either: half as much again where it is fully beside them.
    own_spread = (0.003 + 0.0015 * float(coolness(kelvin))) * (1.0 + 0.5 * beside / BESIDE) if duv is None else 0.0015
    beliefs = (
        Belief(
            "correlated colour temperature",
            kelvin,
            float(np.hypot(0.03, beside))
            if cct_uncertainty is None
            else positive(cct_uncertainty, "cct_uncertainty", "kelvin") / kelvin,
            "K",
            "a class of ANSI C78.377 reaches about 5 % each way (from memory), evenly filled: 5 % over the root of 3; "
            "a number that is no class is off by as much more as it lies from the nearest"
            if cct_uncertainty is None
            else "given by the user",
            "lognormal",
            low=1800.0,
            high=10000.0,
        ),
        Belief(
            "Duv",
            offset,
            own_spread if duv_uncertainty is None else positive(duv_uncertainty, "duv_uncertainty", "a number"),
            "1",
            "the line of ANSI C78.377 with half the width of its classes (from memory), half as much again for cool "
            "whites, which were measured at +0.001 to +0.010, and again for a number that is no class (an assumption)"
            if duv is None
            else "given by the user; its spread between makes is an assumption",
            low=-0.02,
            high=0.02,
        ),
        Belief(
            "pump peak",
            *shape["pump peak"],
            "nm",
            "common pump peaks are 445 nm to 455 nm (from memory)",
            low=435.0,
            high=470.0,
        ),
        Belief("green phosphor peak", *shape["green phosphor peak"], "nm", assumed, low=520.0, high=570.0),
        Belief("red phosphor peak", red_peak, red_spread, "nm", assumed, low=575.0, high=665.0),
        Belief("phosphor width factor", 1.0, 0.06, "1", widths, "lognormal"),
        claim_belief(true_over_claimed),
        heat.beliefs(heat.white(), rise, hot_over_cold)[0],
    )
    return build(
        name or f"white LED {kelvin:g} K",
        SourceKind.WHITE_LED,
        luminous_flux,
        _WHITE,
        beliefs,
        base=base,
        steady_rise=rise,
        beam=beam_ratio,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
    )


_WHITE = CurveModel(
    lambda values: white_numbers(
        values["correlated colour temperature"],
        values["Duv"],
        values["pump peak"],
        values["green phosphor peak"],
        values["red phosphor peak"],
        values["phosphor width factor"],
    ),
    white_curves,
)


@cache
def families() -> Mapping[str, Mapping[str, Any]]:
    """List the families of coloured LED by their colour, each a row of data/leds/coloured.csv."""
    return MappingProxyType({row["colour"]: row for row in tables.load("leds", "coloured").rows()})


def colours() -> tuple[str, ...]:
    """List the colours of LED that the kit knows."""
    return tuple(families())


def coloured_led(
    colour: str | None = None,
    *,
    peak: float | None = None,
    peak_uncertainty: float | None = None,
    fwhm: float | None = None,
    drift: tuple[float, float] | None = None,
    luminous_flux: float,
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
    base: str | None = None,
    hot_over_cold: tuple[float, float] | None = None,
    beam_ratio: tuple[float, float] | None = None,
) -> LightSource:
    """Give a single-colour LED by its colour, or by its peak and full width.

    Parameters
    ----------
    colour : str
        One of `leds.colours`, as in 'red' or 'phosphor amber'.
    peak : float [nm]
        Wavelength of the maximum, 400 nm to 720 nm; that of the colour when left out.
    peak_uncertainty : float [nm]
        Standard uncertainty of `peak`; 2.5 for one that is given when left out, an assumption.
    fwhm : float [nm]
        Full width at half maximum; that of the colour, or of the colour nearest to the peak, when left out. It is
        shared between the two sides as in that colour.
    drift : tuple of float [nm]
        Low and high end, in 95 of 100 cases, of how far its peak moves when warm from steady burning.
    luminous_flux : float [lm]
        The claim on the box.
    electrical_power : float [W]
        The claim on the box.
    name : str
        How to call it.
    layout : str
        'all-round' or 'forward'.
    voltage : float [V]
        What flux and power refer to.
    true_over_claimed : tuple of float [1]
        Low and high end, in 95 of 100 cases, of true over claimed lumens.
    base : str
        The base that it stands on, as in 'BA15s'; it tells how warm the watts make it.
    hot_over_cold : tuple of float [1]
        Low and high end, in 95 of 100 cases, of its light when warm from steady burning over that when cold.
    beam_ratio : tuple of float [1]
        The same of candela towards the road for each lumen, over that of the filament; by `layout` when left out.

    Returns
    -------
    LightSource
        The LED, with the spread between makes as beliefs.

    Raises
    ------
    InputError
        Neither colour nor peak is given, the colour is unknown, or a number is outside its range.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.sources.coloured_led("red", luminous_flux=110)
    red LED: coloured LED, 110 lm

    Source: shape of Y. Ohno, Opt. Eng. 44 (2005) 111302, with a width on each side; presets from own statistics of 42
    measured dies of an open data set.
    """
    presets = families()
    if colour is None and peak is None:
        raise InputError("a coloured LED needs its colour or its peak", expected=nearest("", presets))
    if colour is not None and colour not in presets:
        raise InputError(f"the LED colour '{colour}' is unknown", key="colour", expected=nearest(str(colour), presets))
    at = None if peak is None else positive(peak, "peak", "nanometres")
    if at is not None and not 400.0 <= at <= 720.0:
        raise InputError(f"a peak of {at:g} nm is not a signal colour", key="peak", expected="400 nm to 720 nm")
    if colour is None:
        narrow = [c for c in presets if presets[c]["phosphor"] != "yes"]
        family = min(narrow, key=lambda c: abs(presets[c]["peak_nm"] - float(at or 0.0)))
    else:
        family = colour
    preset = presets[family]
    short, long = preset["short_half_width_nm"], preset["long_half_width_nm"]
    if fwhm is not None:
        width = positive(fwhm, "fwhm", "nanometres")
        if not 3.0 <= width <= 150.0:
            raise InputError(f"a full width of {width:g} nm is not an LED", key="fwhm", expected="3 nm to 150 nm")
        short, long = short * width / (short + long), long * width / (short + long)
    ground = f"{preset['source']} ({preset['known']})"
    rise = heat.steady_rise(electrical_power, base)
    peak_spread = preset["peak_spread_nm"] if at is None else 2.5
    if peak_uncertainty is not None:
        peak_spread = positive(peak_uncertainty, "peak_uncertainty", "nanometres")
    beliefs = (
        Belief(
            "peak wavelength",
            preset["peak_nm"] if at is None else at,
            peak_spread,
            "nm",
            ground if at is None else "given by the user; its spread between makes, unless given, is an assumption",
            low=380.0,
            high=780.0,
        ),
        Belief("width factor", 1.0, preset["width_spread_ln"], "1", ground, "lognormal"),
        claim_belief(true_over_claimed),
        *heat.beliefs(preset, rise, hot_over_cold, drift),
    )

    label = f"{colour} LED" if at is None else f"LED {at:g} nm"
    return build(
        name or label,
        SourceKind.COLOURED_LED,
        luminous_flux,
        _band_model(float(short), float(long)),
        beliefs,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
        base=base,
        steady_rise=rise,
        beam=beam_ratio,
        notes=(f"shape of the family '{family}': {ground}",),
    )


@cache
def _band_model(short: float, long: float) -> CurveModel:
    """Make the model of a band by its half-widths: equal LEDs share one, so that they are known to be equal."""

    def numbers(values: Values) -> Numbers:
        factor = np.asarray(values["width factor"])
        return band_numbers(values["peak wavelength"] + values[heat.DRIFT], short * factor, long * factor)

    return CurveModel(numbers, band_curves)
