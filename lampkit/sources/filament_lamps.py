"""Filament lamps you can hold: rating, base, near equivalents, and the light source that each of them is."""

import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.grid import CurveModel, Numbers, Values
from lampkit.light import edges
from lampkit.sources import incandescence, markings
from lampkit.sources.light_source import BLACKENING, TRUE_OVER_CLAIMED, LightSource, SourceKind, build, positive
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief

FILAMENT_TEMPERATURE, COLOUR_TEMPERATURE_EXPONENT = "filament temperature", "colour temperature exponent"
"""Names of the beliefs about how hot a filament is, and about the power of the voltage with which that goes."""


def rating(designation: str, part: str | None = None, rated_voltage: float | None = None) -> dict[str, Any]:
    """Look up the rating of one filament, or work it out from the volts and watts of a lamp that no table lists.

    Parameters
    ----------
    designation : str
        For example 'P21W', 'P21/5W' or '1157'; or volts and watts as they are stamped on the lamp, with lumens and
        base where known, as in '12V 2.2W' or '6V 3W 25lm BA9s'.
    part : str
        'major' or 'minor' for a lamp of two filaments.
    rated_voltage : float [V]
        6, 12 or 24; 12 when left out, or the only one that the lamp is made for.

    Returns
    -------
    dict of str
        The row of data/lamps/ratings.csv, or one like it.

    Raises
    ------
    InputError
        The lamp, its voltage class or its filament is unknown.

    Examples
    --------
    A stop lamp of 12 V is rated at 13.5 V (UN R37, from memory).

    >>> import lampkit as lk
    >>> row = lk.sources.rating("P21W", rated_voltage=12)
    >>> row["test_V"], row["flux_lm"]
    (13.5, 460.0)

    Of a lamp of 2.2 W nothing else is known: its lumens follow from the watts, within a wide tolerance.

    >>> row = lk.sources.rating("12V 2.2W")
    >>> row["test_V"], row["flux_how"]
    (13.5, 'from the watts, by the ratings of 131 listed filaments')

    Source: UN R37 and SAE J573, each row with its own source; `markings` for what is stamped.
    """
    named = ratings_of(designation)
    classes = sorted({row["class_V"] for row in named})
    if rated_voltage is None:
        asked = 12.0 if 12.0 in classes else classes[0]
    else:
        asked = positive(rated_voltage, "rated_voltage", "6, 12 or 24 volts")
    at_voltage = [row for row in named if row["class_V"] == asked]
    if not at_voltage:
        raise InputError(
            f"{designation} has no rating for {asked:g} V",
            key="rated_voltage",
            expected=f"a lamp for it, not for {' or '.join(f'{v:g}' for v in classes)} V",
            remedy="lamps in series share the volts, which is not reckoned here: leave them out",
        )
    parts = [row["filament"] for row in at_voltage]
    if part is None and len(parts) == 1:
        return at_voltage[0]
    if part not in parts:
        problem = f"{designation} has two filaments" if part is None else f"{designation} has no filament '{part}'"
        raise InputError(problem, key="part", expected=" or ".join(f"'{p}'" for p in parts))
    return at_voltage[parts.index(part)]


BLACKENED = (0.10, 0.25)
"""Share of its light that an old lamp loses to the tungsten on its bulb, low and high [1]. Source: an assumption."""


def filament_beliefs(row: dict[str, Any], ratio: float) -> tuple[Belief, ...]:
    """Give what is believed of a filament lamp: its temperature, how voltage moves it, and its true flux.

    Source: W. E. Forsythe and A. G. Worthing 1925 for the efficacy; gas loss 20 % (40 W) to 6 % (1000 W) of mains lamps
    in the IES Lighting Handbook 1947 (read in a secondary text), for small lamps an assumption.
    """
    if row["filament"] == "minor":
        # The thin wire of a double filament burns in the gas of the thick one, which costs it more.
        loss, loss_range = 0.20, 0.12
    else:
        loss, loss_range = (0.12, 0.08) if row["power_W"] >= 9.0 else (0.06, 0.06)
    temperature = float(incandescence.temperature_from_efficacy(row["white_flux_lm"] / row["power_W"], loss))
    flux_sd = row["flux_tolerance_percent"] / 200.0
    efficacy_sd = np.sqrt(flux_sd**2 + (row["power_tolerance_percent"] / 200.0) ** 2 + loss_range**2 / 3.0)
    nearby = incandescence.tungsten_efficacy([temperature * 0.97, temperature * 1.03])
    steepness = float(np.log(nearby[1] / nearby[0]) / np.log(1.03 / 0.97))
    low, _, high = incandescence.exponent("flux")
    flux_sd = float(np.hypot(flux_sd, (high - low) / 2.0 * np.log(ratio)))
    return (
        Belief(
            FILAMENT_TEMPERATURE,
            temperature,
            float(temperature * efficacy_sd / steepness),
            "K",
            f"rated lumens over watts and the efficacy of tungsten (Forsythe and Worthing 1925); {100 * loss:.0f} % of "
            f"the power lost to gas and supports, an assumption with +-{100 * loss_range:.0f} %",
            low=1700.0,
            high=3200.0,
        ),
        Belief(
            COLOUR_TEMPERATURE_EXPONENT,
            0.385,
            0.0 if ratio == 1.0 else 0.035,
            "1",
            "0.42 in Fink and Beaty 1978 (read in a secondary text), 0.35 to 0.40 from an own radiation model",
            "fixed" if ratio == 1.0 else "uniform",
        ),
        Belief(
            TRUE_OVER_CLAIMED,
            1.0,
            flux_sd,
            "1",
            f"tolerance of the rating {_tolerance(row)} taken as two standard deviations "
            f"({row['system']}, {row['known'] if row['tolerance_how'] == 'sheet' else row['tolerance_how']})",
            "lognormal" if row["system"] == "as marked" else "normal",  # what is that wide would reach below nothing
            low=0.4,
        ),
    )


class Base(NamedTuple):
    """The base of a lamp and its holder.

    Source: data/lamps/bases.csv.
    """

    base: str
    description: str
    contacts: str
    ways_in: str
    other_pole: str
    shape: str
    width_mm: float
    pins: str
    source: str
    known: str


def designations() -> tuple[str, ...]:
    """List the filament lamps whose ratings are known.

    Returns
    -------
    tuple of str
        Their designations, as the table has them.

    Examples
    --------
    >>> import lampkit as lk
    >>> "P21W" in lk.sources.designations()
    True

    Source: data/lamps/ratings.csv.
    """
    return tuple(dict.fromkeys(tables.load("lamps", "ratings")["designation"]))


@cache
def base(designation: str) -> Base | None:
    """Look up the base of a filament lamp; None where it is not told.

    Source: data/lamps/ratings.csv and data/lamps/bases.csv.
    """
    name = next(row["base"] for row in ratings_of(designation))
    if not name:
        return None
    if name not in bases():
        raise InputError(f"nothing is known of the base '{name}' of {designation}", key="base")
    return bases()[name]


@cache
def bases() -> Mapping[str, Base]:
    """List the bases that are known, by name.

    Source: data/lamps/bases.csv.
    """
    return MappingProxyType({row["base"]: Base(**row) for row in tables.load("lamps", "bases").rows()})


def ratings_of(designation: str, rated_voltage: float | None = None) -> list[dict[str, Any]]:
    """List the ratings of a lamp by its designation or by what is stamped on it: one a filament and voltage class.

    Source: data/lamps/ratings.csv; `markings` for what is stamped.
    """
    wanted = str(designation).strip().upper().replace(" ", "")
    rows = [row for row in tables.load("lamps", "ratings").rows() if row["designation"].upper() == wanted]
    if rows:
        return [row for row in rows if rated_voltage in (None, row["class_V"])]
    marking = markings.read_marking(markings.marking_of_number(str(designation)) or str(designation))
    if marking is None:
        remedy = "or write its volts and watts, as in '12V 2.2W'"
        if re.search(r"\d\s*c\.?p\b", str(designation), re.IGNORECASE):
            remedy = "write its volts, watts and lumens, 12.6 lm for each candle power, as in '6V 17W 264lm' for 21 cp"
        expected = nearest(str(designation), designations())
        raise InputError(
            f"there is no filament lamp '{designation}'", key="designation", expected=expected, remedy=remedy
        )
    return markings.rating_of_marking(marking)


def near_equivalents(designation: str, rated_voltage: float = 12.0) -> str:
    """Name the lamps of the other system that come nearest.

    Source: trade cross-reference lists, from memory.
    """
    name = ratings_of(designation)[0]["designation"]
    table = tables.load("lamps", "interchange")
    row = (table["designation"] == name) & (table["class_V"] == rated_voltage)
    return str(table["near_equivalent"][row][0]) if np.any(row) else ""


def led_must_be(
    rating: Mapping[str, Any], *, earth: Literal["negative", "positive"] | None = "negative"
) -> tuple[Statement, ...]:
    """Say what an LED lamp must be to go in place of a filament lamp.

    Parameters
    ----------
    rating : mapping
        The rating of the filament lamp, from `rating` or from `LightSource.rating`.
    earth : {'negative', 'positive'} or None
        The earth of the vehicle; None where there is no battery with a pole to lie on it.

    Returns
    -------
    tuple of Statement
        What stands on the shopping list.

    Raises
    ------
    InputError
        The lamp or the earth is unknown.

    Examples
    --------
    >>> import lampkit as lk
    >>> print(lk.sources.led_must_be(lk.sources.rating("P21W"))[0])
    Base BA15s: bayonet, 15 mm, two pins level; single contact; the other pole is the metal shell.

    Source: data/lamps/bases.csv; common practice, no source, for the rest.
    """
    if earth not in ("negative", "positive", None):
        raise InputError(f"the earth '{earth}' is unknown", key="earth", expected="'negative' or 'positive'")
    socket = base(rating["designation"])
    says = [
        say("led_must_be.base_unknown")
        if socket is None
        else say(
            "led_must_be.base",
            base=socket.base,
            description=socket.description,
            contacts=socket.contacts,
            other_pole=socket.other_pole,
        ),
        say("led_must_be.voltage", volts=rating["class_V"]),
    ]
    if rating["filament"] != "single":
        says.append(say("led_must_be.two_functions"))
    elif socket is not None and socket.contacts == "double":
        says.append(say("led_must_be.two_contacts"))
    if socket is not None and earth is not None:
        says.append(_polarity(socket, earth))
    says.append(say("led_must_be.size"))
    colour = str(rating["colour"])
    if colour != "white":
        says.append(say("led_must_be.colour", colour=colour))
    return tuple(says)


def _polarity(socket: Base, earth: str) -> Statement:
    positive_earth = earth == "positive"
    if socket.ways_in == "two":
        return say("led_must_be.either_way_positive_earth" if positive_earth else "led_must_be.either_way")
    return say("led_must_be.shell_positive" if positive_earth else "led_must_be.shell_negative")


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
    blackened: tuple[float, float] | None = BLACKENED,
) -> LightSource:
    """Give a filament lamp by its category, its trade number or its volts and watts, at a voltage at the lamp.

    The temperature follows from the rated lumens and watts, less what is lost to gas and supports, through the
    published efficacy of tungsten; nothing else calibrates it, as no measured colour temperature of a vehicle signal
    lamp was found. The voltage moves flux and power by their published exponents.

    Parameters
    ----------
    designation : str
        For example 'P21W', 'P21/5W' or '1157'; or volts and watts as they are stamped on the lamp, with lumens and
        base where known, as in '12V 2.2W' or '6V 3W 25lm BA9s'.
    voltage : float [V]
        Voltage at the lamp; the test voltage of its rating when left out.
    part : str
        'major' or 'minor' for a lamp of two filaments.
    rated_voltage : float [V]
        6, 12 or 24; 12 when left out, or the only one that the lamp is made for.
    name : str
        How to call it.
    blackened : tuple of float [1]
        Low and high end, in 95 of 100 cases, of the share of its light that the tungsten on the bulb of an old lamp
        takes, as an assumption of 10 % to 25 %; None for a new lamp. Halogen lamps keep their bulbs clean.

    Returns
    -------
    LightSource
        The lamp, with its flux, power and spectrum at that voltage.

    Raises
    ------
    InputError
        The lamp, its voltage class or its filament is unknown, or the voltage is far from the rated one.

    Examples
    --------
    A lamp of 21 W gives 460 lm at its test voltage (UN R37, from memory), and less below it.

    >>> import lampkit as lk
    >>> [round(lk.sources.filament("P21W", voltage=v).luminous_flux) for v in (13.5, 12.0)]
    [460, 308]

    A lamp that no table lists, by what is stamped on it.

    >>> lk.sources.filament("12V 2.2W BA9s").rating["base"]
    'BA9s'

    Source: ratings of UN R37 and of SAE J573, each row of data/lamps/ratings.csv with its own source; W. E. Forsythe
    and A. G. Worthing 1925 for the efficacy; Fink and Beaty 1978 for the voltage exponents.
    """
    row = rating(designation, part, rated_voltage)
    volts = row["test_V"] if voltage is None else positive(voltage, "voltage", "volts")
    ratio = volts / row["test_V"]
    flux = float(row["flux_lm"] * incandescence.voltage_law(ratio, "flux"))
    power = float(row["power_W"] * incandescence.voltage_law(ratio, "power"))
    coating = COATINGS.get(row["colour"])
    beliefs = (*filament_beliefs(row, ratio), *_blackening(row["designation"], blackened))
    if coating is not None:
        ground = f"an assumption: middle of the edges that give {row['colour']} within the UN limits with illuminant A"
        beliefs = (*beliefs, Belief("coating edge wavelength", coating[0], 4.0, "nm", ground))

    def numbers(values: Values) -> Numbers:
        hot = np.asarray(values[FILAMENT_TEMPERATURE], dtype=float)
        if ratio != 1.0:
            hot = incandescence.temperature_at_voltage(
                hot, ratio, values.get(COLOUR_TEMPERATURE_EXPONENT, np.asarray(0.385))
            )
        return (hot,) if coating is None else (hot, np.asarray(values["coating edge wavelength"]))

    def curves(hot: NDArray[np.float64], *edge: NDArray[np.float64], part: slice) -> NDArray[np.float64]:
        spectrum = incandescence.tungsten(hot, part=part)
        if coating is not None:
            spectrum = spectrum * edges.absorption_edge(edge[0], coating[1], COATING_PLATEAU, part=part)
        return spectrum

    label = row["designation"] if row["filament"] == "single" else f"{row['designation']} {row['filament']}"
    notes = [
        f"{row['flux_lm']:g} lm {_tolerance(row)} and {row['power_W']:g} W at {row['test_V']:g} V: "
        f"{row['source']} ({row['known']})",
        f"{flux / power:.3g} lm for each electrical watt at {volts:g} V, all wavelengths and losses counted",
        f"watts: {row['power_how']}; lumens: {row['flux_how']}; their tolerance: {row['tolerance_how']}",
    ]
    return build(
        name or label,
        SourceKind.FILAMENT,
        flux,
        CurveModel(numbers, curves),
        beliefs,
        electrical_power=power,
        voltage=volts,
        rating=MappingProxyType(row),
        layout="all-round",
        notes=tuple(notes),
    )


def _tolerance(row: Mapping[str, Any]) -> str:
    """Write how far the lumens of a rating may be off; what follows from the watts is off by a factor."""
    part = row["flux_tolerance_percent"]
    return f"within a factor of {np.exp(part / 100.0):.2g}" if row["system"] == "as marked" else f"+-{part:g} %"


def _blackening(designation: str, blackened: tuple[float, float] | None) -> tuple[Belief, ...]:
    # UN R37 names halogen lamps with an H, and the halogen carries the tungsten back to the filament.
    assumed = tuple(blackened or ()) == BLACKENED
    if blackened is None or (assumed and designation.upper().startswith("H")):
        return ()
    try:
        low, high = (1.0 - float(v) for v in reversed(blackened))
    except (TypeError, ValueError):
        low, high = np.nan, np.nan
    if not 0.1 <= low <= high <= 1.0:
        wanted = "two shares, low and high, as in (0.10, 0.25), none beyond 0.9"
        raise InputError(f"{blackened!r} is no range", key="blackened", expected=wanted)
    left = sampling.of_range(BLACKENING, (low, high), "1", (0.1, 1.0), key="blackened", what="of light left")
    ground = "an assumption" if assumed else "given by the user"
    lost = f"{100 - 100 * high:.0f} % to {100 - 100 * low:.0f} % of an old lamp's light stays in its bulb"
    return (replace(left, source=f"{ground}: {lost}", high=1.0),)
