"""What is stamped on a filament lamp: its volts and watts, and what follows from them where no table lists it."""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.sources import incandescence

TEST_VOLTAGE: Mapping[float, float] = {6.0: 6.75, 12.0: 13.5, 24.0: 28.0}
"""Voltage at which lamps of a nominal voltage are rated [V]. Source: UN R37, from memory."""

SPAN = (0.85, 1.4)
"""Design voltage of a lamp over the nominal supply that it is made for, least and greatest [1]. Source: trade-number
tables from memory: 6.2 V to 7.5 V for 6 V, 12.8 V to 14.4 V for 12 V, 28 V for 24 V."""

POWER_TOLERANCE = 10.0
"""Tolerance of the watts of small lamps [%]. Source: UN R37, R5W, from memory."""

FLUX_TOLERANCE = 20.0
"""Tolerance of lumens that are told [%]. Source: UN R37, R5W, from memory."""

QUANTITY = re.compile(
    r"(?<![a-z0-9./])(\d+(?:[.,]\d+)?)(?:\s*/\s*(\d+(?:[.,]\d+)?))?\s*(ma|lm|[vwa])(?![a-z0-9])", re.IGNORECASE
)


class Marking(NamedTuple):
    """What is known of a filament lamp without a designation: volts, watts of each filament, lumens, base.

    Lumens are empty and the base is '' where they are not told.
    """

    voltage: float
    powers: tuple[float, ...]
    fluxes: tuple[float, ...] = ()
    base: str = ""

    @property
    def name(self) -> str:
        """Write it in one way, however it was typed."""
        told = [f"{self.voltage:g}V", f"{'/'.join(f'{power:.3g}' for power in self.powers)}W"]
        if self.fluxes:
            told.append(f"{'/'.join(f'{flux:g}' for flux in self.fluxes)}lm")
        return " ".join([*told, self.base]).strip()

    @property
    def supply(self) -> float | None:
        """The nominal supply that it is made for; None where there is none."""
        low, high = SPAN
        return next((v for v in TEST_VOLTAGE if low * v <= self.voltage <= high * v), None)


def read_marking(text: str) -> Marking | None:
    """Read what is stamped on a lamp; None where the text tells no volts with their unit, as a designation does not.

    Source: the base by data/lamps/bases.csv.
    """
    found: dict[str, tuple[float, ...]] = {}
    text = re.sub(r"(?<=\d[vV])(?=\d)", " ", text)
    for one, other, unit in QUANTITY.findall(text):
        numbers = tuple(float(number.replace(",", ".")) for number in (one, other) if number)
        scale = 1e-3 if unit.lower() == "ma" else 1.0
        key = unit.lower()[-1] if unit.lower() != "lm" else "lm"
        if key in found:
            raise InputError(f"'{text}' tells {_UNITS[key]} twice", key="marking", expected=EXAMPLE)
        found[key] = tuple(scale * number for number in numbers)
    if "v" not in found or not {"w", "a"} & set(found):
        return None
    if "w" in found and "a" in found:
        raise InputError(f"'{text}' tells watts and amperes", key="marking", expected="one of them")
    volts = found["v"][0]
    powers = found["w"] if "w" in found else tuple(amperes * volts for amperes in found["a"])
    fluxes = found.get("lm", ())
    if len(found["v"]) > 1 or not all(0 < number < 1e4 for number in (volts, *powers, *fluxes)):
        raise InputError(f"'{text}' is no lamp", key="marking", expected=EXAMPLE)
    if fluxes and len(fluxes) != len(powers):
        raise InputError(f"'{text}' has not as many lumens as watts", key="marking", expected="one for each filament")
    marking = Marking(volts, powers, fluxes, _base(QUANTITY.sub(" ", text), text))
    if marking.supply is None:
        wanted = "volts for a supply of 6 V, 12 V or 24 V"
        raise InputError(f"a lamp for {volts:g} V is for none of the usual supplies", key="marking", expected=wanted)
    return marking


def with_volts(text: str, supply: float) -> str:
    """Put the volts of the supply before watts that are told alone, as in '21W'; a designation stays as it is."""
    told = {unit.lower() for _, _, unit in QUANTITY.findall(text)}
    return f"{supply:g}V {text}" if told & {"w", "a", "ma"} and "v" not in told else text


EXAMPLE = "volts and watts, and lumens and base where known, as in '12V 2.2W' or '12V 2W 18lm BA9s'"

_UNITS = {"v": "volts", "w": "watts", "a": "amperes", "lm": "lumens"}


def _base(rest: str, text: str) -> str:
    words = [word for word in re.split(r"[\s,;]+", rest) if word]
    known = {name.casefold(): name for name in tables.load("lamps", "bases")["base"]}
    whole = known.get(" ".join(words).casefold())  # one base is named by two words
    if whole is not None or not words:
        return whole or ""
    for word in words:
        if word.casefold() not in known:
            wanted = nearest(word, list(known.values()))
            raise InputError(f"'{word}' of '{text}' is no base that is known", key="marking", expected=wanted)
    if len(words) > 1:
        raise InputError(f"'{text}' names more than one base", key="marking", expected=EXAMPLE)
    return known[words[0].casefold()]


class PowerOfMark(NamedTuple):
    """The voltage at which a lamp is rated [V], its watts there, and their tolerance [%]."""

    voltage: float
    power: float
    tolerance: float
    how: str


def power_of_mark(volts: float, watts: float) -> PowerOfMark:
    """Tell what the watts of a mark mean.

    A nominal voltage says little: 5 W are taken at 13.5 V by one lamp marked 12 V and at 12 V by another. Both stay
    within the tolerance. Any other voltage is the one at which the watts hold.

    Source: UN R37, from memory: 21 W lamps of 12 V take 25 W at 13.5 V, 5 W lamps 5 W; the power law of
    data/filament/voltage_exponents.csv.
    """
    if volts not in TEST_VOLTAGE:
        return PowerOfMark(volts, watts, POWER_TOLERANCE, "as marked")
    rated_at = TEST_VOLTAGE[volts]
    more = float(incandescence.voltage_law(rated_at / volts, "power"))
    how = f"as marked; they may hold at {volts:g} V or at {rated_at:g} V, and the tolerance spans both"
    return PowerOfMark(rated_at, watts * more**0.5, 100.0 * (more**0.5 - 1.0) + POWER_TOLERANCE, how)


class FluxOfPower(NamedTuple):
    """Lumens that a filament lamp of some watts gives [lm], and how far, as a logarithm, lamps lie from that [1]."""

    flux: float
    spread: float
    lamps: int


WIDER = 1.5
"""How much farther from the line than the listed lamps a lamp may lie that no table lists [1]. Source: an assumption:
it may be made for a much longer or shorter life."""


def flux_of_power(watts: float, *, minor: bool = False) -> FluxOfPower:
    """Estimate the lumens of a filament lamp from its watts, as the listed lamps have them.

    Source: a straight line through the logarithms of the ratings of data/lamps/ratings.csv, those of thin wires beside
    thick ones lower by one step; the spread is the standard deviation of the ratings from it, widened.
    """
    coefficients, spread, lamps = _line()
    return FluxOfPower(float(np.exp(coefficients @ [1.0, np.log(watts), float(minor)])), WIDER * spread, lamps)


@cache
def _line() -> tuple[NDArray[np.float64], float, int]:
    ratings = tables.load("lamps", "ratings")
    # A halogen lamp is hotter than its watts tell.
    plain = np.array([not name.startswith("H") for name in ratings["designation"]])
    power, minor = np.log(ratings["power_W"][plain]), ratings["filament"][plain] == "minor"
    known = np.column_stack([np.ones_like(power), power, minor.astype(float)])
    flux = np.log(ratings["white_flux_lm"][plain])
    coefficients = np.linalg.lstsq(known, flux, rcond=None)[0]
    spread = float(np.sqrt(np.sum((flux - known @ coefficients) ** 2) / (len(flux) - 3)))
    return coefficients, spread, len(flux)


PARTS = ("major", "minor")
"""The two filaments of one lamp, in the order in which their watts are stamped."""


def rating_of_marking(marking: Marking) -> list[dict[str, Any]]:
    """Give a row as data/lamps/ratings.csv has it for each filament of a lamp that is known by its mark.

    Source: `power_of_mark`; the lumens are those told, or by `flux_of_power`.
    """
    listed = _category(marking)
    if listed:
        return listed
    rows = []
    for number, watts in enumerate(marking.powers):
        part = "single" if len(marking.powers) == 1 else PARTS[number]
        mark = power_of_mark(marking.voltage, watts)
        estimate = flux_of_power(mark.power, minor=part == "minor")
        if marking.fluxes:
            flux, tolerance, how, ground = marking.fluxes[number], FLUX_TOLERANCE, "as told", "an assumption"
        else:
            spread = float(np.hypot(estimate.spread, mark.tolerance / 200.0))
            flux, tolerance = float(f"{estimate.flux:.3g}"), float(f"{200.0 * spread:.3g}")
            how = f"from the watts, by the ratings of {estimate.lamps} listed filaments"
            ground = "how far the listed lamps lie from that"
        rows.append(
            {
                "designation": marking.name,
                "filament": part,
                "class_V": marking.supply,
                "rated_W": watts,
                "test_V": mark.voltage,
                "power_W": float(f"{mark.power:.3g}"),
                "power_tolerance_percent": float(f"{mark.tolerance:.3g}"),
                "power_how": mark.how,
                "flux_lm": flux,
                "flux_tolerance_percent": tolerance,
                "flux_how": how,
                "tolerance_how": ground,
                "white_flux_lm": flux,
                "colour": "white",
                "flashes": "no",
                "base": marking.base,
                "life_h": np.nan,
                "system": "as marked",
                "source": "what is stamped on it",
                "known": "told by the user",
            }
        )
    return rows


def _category(marking: Marking) -> list[dict[str, Any]]:
    """Find the category of the same volts, watts and base: what is stamped on its lamps is just that."""
    rows = [
        row
        for row in tables.load("lamps", "ratings").rows()
        if row["system"] == "UN R37"
        and row["colour"] == "white"
        and (row["class_V"], row["base"]) == (marking.voltage, marking.base)
        and not marking.fluxes
    ]
    for name in dict.fromkeys(row["designation"] for row in rows):
        own = [row for row in rows if row["designation"] == name]
        if tuple(row["rated_W"] for row in own) == marking.powers:
            source = f"its volts, watts and base are those of {name}: {{}}"
            return [{**row, "designation": marking.name, "source": source.format(row["source"])} for row in own]
    return []


def marking_of_number(designation: str) -> str | None:
    """Find the mark of a small lamp by its trade number, or by the mark itself; None where it is not listed.

    Source: data/lamps/markings.csv.
    """
    wanted = designation.strip().casefold().replace(" ", "")
    for row in tables.load("lamps", "markings").rows():
        if wanted in (row["trade_number"], row["marking"].casefold().replace(" ", "")):
            return str(row["marking"])
    return None
