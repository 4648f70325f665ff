"""Light sources you can hold: a filament lamp by its designation, white and coloured LEDs, a measured spectrum."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import curves, edges, grid, lamp_ratings, led_spectra, tables
from lampkit import filament as wire
from lampkit.errors import InputError, nearest
from lampkit.filament import planck as planck
from lampkit.filament import tungsten as tungsten
from lampkit.illuminants import illuminant as illuminant
from lampkit.light_source import LightSource, Values, build, claim_belief, positive
from lampkit.light_source import relative_spectra as relative_spectra
from lampkit.uncertainty import Belief

COATINGS: Mapping[str, tuple[float, float]] = {"amber": (548.0, 11.5), "red": (598.0, 8.0)}
"""Edge and width of the coating of coloured filament lamps [nm]. Source: an assumption, the middle of the edges that
give UN amber and red with illuminant A; common practice, no source."""

COATING_PLATEAU = 0.95
"""Transmittance of such a coating far above its edge [1]. Source: an assumption."""


def filament(
    designation: str,
    voltage: float | None = None,
    *,
    part: str | None = None,
    rated_voltage: float | None = None,
    name: str | None = None,
) -> LightSource:
    """Give a filament lamp by its category or trade number, at a voltage at the lamp.

    The temperature follows from the rated lumens and watts, less what is lost to gas and supports, through the
    published efficacy of tungsten; nothing else calibrates it, as no measured colour temperature of a vehicle signal
    lamp was found. The voltage moves flux and power by their published exponents.

    Parameters
    ----------
    designation : str
        For example 'P21W', 'P21/5W' or '1157'.
    voltage : float [V]
        Voltage at the lamp; the test voltage of its rating when left out.
    part : str
        'major' or 'minor' for a lamp of two filaments.
    rated_voltage : float [V]
        6, 12 or 24; 12 when left out, or the only one that the lamp is made for.
    name : str
        How to call it.

    Returns
    -------
    LightSource
        The lamp, with its flux, power and spectrum at that voltage.

    Raises
    ------
    InputError
        The lamp, its voltage class or its filament is unknown, or the voltage is far from the rated one.

    Source: ratings of UN R37 and of SAE J573, each row of data/lamps/ratings.csv with its own source; W. E. Forsythe
    and A. G. Worthing 1925 for the efficacy; Fink and Beaty 1978 for the voltage exponents.
    """
    row = lamp_ratings.rating(designation, part, rated_voltage)
    volts = row["test_V"] if voltage is None else positive(voltage, "voltage", "volts")
    ratio = volts / row["test_V"]
    flux = float(row["flux_lm"] * wire.voltage_law(ratio, "flux"))
    power = float(row["power_W"] * wire.voltage_law(ratio, "power"))
    coating = COATINGS.get(row["colour"])
    beliefs = (*lamp_ratings.filament_beliefs(row, ratio), *_coating_beliefs(row["colour"], coating))

    def model(values: Values) -> NDArray[np.float64]:
        n = values.get("colour temperature exponent", np.asarray(0.385))
        hot = wire.temperature_at_voltage(values["filament temperature"], ratio, n)
        spectrum = tungsten(hot)
        if coating is not None:
            edge = values["coating edge wavelength"]
            spectrum = spectrum * edges.absorption_edge(edge, coating[1], COATING_PLATEAU)
        return spectrum

    label = row["designation"] if row["filament"] == "single" else f"{row['designation']} {row['filament']}"
    notes = [
        f"{row['flux_lm']:g} lm +-{row['flux_tolerance_percent']:g} % and {row['power_W']:g} W at {row['test_V']:g} V: "
        f"{row['source']} ({row['known']})",
        f"{flux / power:.3g} lm for each electrical watt at {volts:g} V, all wavelengths and losses counted",
        f"watts: {row['power_how']}; lumens: {row['flux_how']}; their tolerance: {row['tolerance_how']}",
    ]
    return build(
        name or label,
        "filament",
        flux,
        model,
        beliefs,
        electrical_power=power,
        voltage=volts,
        designation=row["designation"],
        filament_part=row["filament"],
        layout="all-round",
        notes=tuple(notes),
    )


def _coating_beliefs(colour: str, coating: tuple[float, float] | None) -> tuple[Belief, ...]:
    if coating is None:
        return ()
    return (
        Belief(
            "coating edge wavelength",
            coating[0],
            4.0,
            "nm",
            f"an assumption: middle of the edges that give {colour} within the UN limits with illuminant A",
        ),
    )


def white_led(
    cct: float,
    duv: float = 0.0,
    *,
    luminous_flux: float,
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
) -> LightSource:
    """Give a phosphor-white LED by its correlated colour temperature.

    Parameters
    ----------
    cct : float [K]
        Correlated colour temperature, 2200 K to 8000 K.
    duv : float [1]
        Distance from the Planckian locus, -0.01 to 0.01; positive on the green side.
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

    Returns
    -------
    LightSource
        The LED, with the spread between makes as beliefs.

    Raises
    ------
    InputError
        A number is missing, not positive, or outside its range.

    Source: shape fitted to the CIE illuminants LED-B1 to LED-B5; Duv by Ohno 2014; the spread is an assumption, held
    against white LED spectra of other origin.
    """
    kelvin = positive(cct, "cct", "kelvin")
    if not led_spectra.LOWEST_CCT <= kelvin <= led_spectra.HIGHEST_CCT:
        raise InputError(f"a white LED of {kelvin:g} K is not modelled", key="cct", expected="2200 K to 8000 K")
    try:
        offset = float(duv)
    except (TypeError, ValueError):
        offset = np.nan
    if not abs(offset) <= 0.01:
        raise InputError(f"a Duv of {duv} is not modelled", key="duv", expected="-0.01 to 0.01")
    shape = led_spectra.white_shape()
    assumed = "an assumption, held against white LED spectra of other origin"
    beliefs = (
        Belief(
            "correlated colour temperature",
            kelvin,
            0.04,
            "K",
            "an assumption: half the width of the classes of ANSI C78.377 (from memory)",
            "lognormal",
            low=1800.0,
            high=10000.0,
        ),
        Belief(
            "Duv",
            offset,
            0.003,
            "1",
            "half the width of the classes of ANSI C78.377 (from memory)",
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
        Belief("red phosphor peak", *shape["red phosphor peak"], "nm", assumed, low=575.0, high=665.0),
        Belief("phosphor width factor", 1.0, 0.1, "1", assumed, "lognormal"),
        claim_belief(true_over_claimed),
    )
    return build(
        name or f"white LED {kelvin:g} K",
        "white LED",
        luminous_flux,
        _white_model,
        beliefs,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
    )


def _white_model(values: Values) -> NDArray[np.float64]:
    return led_spectra.phosphor_white(
        values["correlated colour temperature"],
        values["Duv"],
        pump_peak=values["pump peak"],
        green_peak=values["green phosphor peak"],
        red_peak=values["red phosphor peak"],
        width_factor=values["phosphor width factor"],
    )


def coloured_led(
    colour: str | None = None,
    *,
    peak: float | None = None,
    fwhm: float | None = None,
    luminous_flux: float,
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
) -> LightSource:
    """Give a single-colour LED by its colour, or by its peak and full width.

    Parameters
    ----------
    colour : str
        'deep red', 'red', 'red-orange', 'amber', 'phosphor amber', 'green' or 'blue'.
    peak : float [nm]
        Wavelength of the maximum, 400 nm to 720 nm; that of the colour when left out.
    fwhm : float [nm]
        Full width at half maximum; that of the colour, or of the colour nearest to the peak, when left out. It is
        shared between the two sides as in that colour.
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

    Returns
    -------
    LightSource
        The LED, with the spread between makes as beliefs.

    Raises
    ------
    InputError
        Neither colour nor peak is given, the colour is unknown, or a number is outside its range.

    Source: shape of Y. Ohno, Opt. Eng. 44 (2005) 111302, with a width on each side; presets from own statistics of 42
    measured dies of an open data set.
    """
    presets = {row["colour"]: row for row in tables.load("leds", "coloured").rows()}
    if colour is None and peak is None:
        raise InputError("a coloured LED needs its colour or its peak", expected=nearest("", presets))
    if colour is not None and colour not in presets:
        raise InputError(f"the LED colour '{colour}' is unknown", key="colour", expected=nearest(str(colour), presets))
    at = None if peak is None else positive(peak, "peak", "nanometres")
    if at is not None and not 400.0 <= at <= 720.0:
        raise InputError(f"a peak of {at:g} nm is not a signal colour", key="peak", expected="400 nm to 720 nm")
    if colour is None:
        narrow = [c for c in presets if not c.startswith("phosphor")]
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
    beliefs = (
        Belief(
            "peak wavelength",
            preset["peak_nm"] if at is None else at,
            preset["peak_spread_nm"] if at is None else 2.5,
            "nm",
            ground if at is None else "given by the user; +-5 nm with temperature and make, an assumption",
            low=380.0,
            high=780.0,
        ),
        Belief("width factor", 1.0, preset["width_spread_ln"], "1", ground, "lognormal"),
        claim_belief(true_over_claimed),
    )

    def model(values: Values) -> NDArray[np.float64]:
        factor = values["width factor"]
        return led_spectra.narrow_band(values["peak wavelength"], short * factor, long * factor)

    label = f"{colour} LED" if at is None else f"LED {at:g} nm"
    return build(
        name or label,
        "coloured LED",
        luminous_flux,
        model,
        beliefs,
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
        notes=(f"shape of the family '{family}': {ground}",),
    )


def measured(
    spectrum: str | Path | tuple[ArrayLike, ArrayLike] | ArrayLike,
    *,
    luminous_flux: float,
    outside: grid.Outside = "error",
    electrical_power: float | None = None,
    name: str | None = None,
    layout: str | None = None,
    voltage: float | None = None,
    true_over_claimed: tuple[float, float] | None = None,
) -> LightSource:
    """Give a light source by its measured or tabulated spectrum.

    Parameters
    ----------
    spectrum : str, Path, pair of array_like, or array_like, shape (471,) [1]
        A CSV or IES TM-27-14 file, a pair of wavelengths in nm and values, or values on the grid; any scale.
    luminous_flux : float [lm]
        The claim on the box.
    outside : {'error', 'zero', 'hold'}
        What to do on the part of 360 nm to 830 nm that the table does not cover.
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

    Returns
    -------
    LightSource
        The light source; its spectrum is taken as known.

    Raises
    ------
    InputError
        The file or the table cannot be used, or a number is not positive.

    Source: the kit's own convention for CSV; ANSI/IES TM-27-14 for XML.
    """
    label = "measured spectrum"
    if isinstance(spectrum, str | Path):
        values = curves.read_curve(spectrum, what="spectrum", outside=outside)
        label = Path(spectrum).stem
    elif isinstance(spectrum, tuple) and len(spectrum) == 2:
        values = grid.resample(spectrum[0], spectrum[1], outside=outside)
    else:
        values = grid.on_grid(spectrum)
    if values.ndim != 1 or not np.all(np.isfinite(values)) or np.any(values < 0):
        raise InputError("a measured spectrum has values that are not a number or below zero", key=name or label)

    def model(drawn: Values) -> NDArray[np.float64]:
        shape = np.broadcast_shapes(*(np.shape(v) for v in drawn.values()))
        return np.broadcast_to(values, (*shape, values.size))

    return build(
        name or label,
        "measured spectrum",
        luminous_flux,
        model,
        (claim_belief(true_over_claimed),),
        electrical_power=electrical_power,
        voltage=voltage,
        layout=layout,
    )
