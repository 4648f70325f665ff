"""Filament lamps by what one knows of them, and which of them goes in place of another."""

from collections.abc import Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from lampkit import tables
from lampkit.errors import InputError
from lampkit.sources import filament_lamps, incandescence, markings
from lampkit.statements import Statement, say

POWER_FITS = (3 / 4, 4 / 3)
"""Watts of a replacement over those of the lamp, least and greatest [1]. Source: own judgement: wire, switch and lens
then carry at most a third more; trade lists, from memory, go as far."""


class ListedLamp(NamedTuple):
    """A filament lamp that the kit knows: its ratings, one a filament, and its trade number where it has one."""

    ratings: tuple[Mapping[str, Any], ...]
    number: str = ""

    @property
    def designation(self) -> str:
        """The designation, or what is stamped on it."""
        return str(self.ratings[0]["designation"])

    @property
    def supply(self) -> float:
        """The nominal supply that it is made for [V]."""
        return float(self.ratings[0]["class_V"])

    @property
    def base(self) -> str:
        """The base; '' where it is not told."""
        return str(self.ratings[0]["base"])

    @property
    def said(self) -> Statement:
        """Base, volts, watts, lumens and where they come from, in a sentence."""
        first = self.ratings[0]
        return say(
            "lamp_list.lamp",
            name=self.designation,
            number=self.number,
            supply=self.supply,
            base=self.base,
            colour=first["colour"],
            flashes=first["flashes"] == "yes",
            filaments=[
                say(
                    "lamp_list.filament",
                    part=row["filament"],
                    power=row["power_W"],
                    flux=row["flux_lm"],
                    limits=flux_limits(row),
                    estimated=row["system"] == "as marked",
                    volts=row["test_V"],
                )
                for row in self.ratings
            ],
            system=first["system"],
            source=first["source"],
            known=first["known"],
        )


class Replacement(NamedTuple):
    """A lamp that goes in place of another: its watts and its light over those of the other, at one voltage [1].

    The light is rough where the lumens of either follow from its watts.
    """

    designation: str
    power: tuple[float, ...]
    light: tuple[float, ...]
    rough: bool

    @property
    def said(self) -> Statement:
        """What it is, and on what ground it fits, in a clause."""
        return say("lamp_list.replacement", **self._asdict())


def flux_limits(rating: Mapping[str, Any]) -> tuple[float, float, float]:
    """Give the lumens of a lamp with the interval of its tolerance, as a factor where they follow from the watts.

    Source: the tolerance of the row.
    """
    flux, part = float(rating["flux_lm"]), rating["flux_tolerance_percent"] / 100.0
    if rating["system"] == "as marked":
        return flux * float(np.exp(-part)), flux, flux * float(np.exp(part))
    return flux * (1.0 - part), flux, flux * (1.0 + part)


def listed_lamps(words: Sequence[str] = ()) -> tuple[ListedLamp, ...]:
    """List the filament lamps that the kit knows, by designation, base, volts, watts or system.

    Parameters
    ----------
    words : sequence of str
        What every lamp of the list shall answer to, as in ('BA9s', '12V'); volts and watts together make a lamp of
        their own, listed or not, as in ('12V', '2.2W', 'E10').

    Returns
    -------
    tuple of ListedLamp
        The lamps, as the tables have them.

    Raises
    ------
    InputError
        No lamp answers to these words.

    Examples
    --------
    Small lamps of 6 V with a screw base.

    >>> import lampkit as lk
    >>> [lamp.designation for lamp in lk.sources.listed_lamps(("E10", "6V"))]
    ['40', '46', '50', '6V 1.8W E10', '6V 3W E10']

    Source: data/lamps/ratings.csv and markings.csv, each row with its own source.
    """
    told = markings.read_marking(" ".join(words))
    if told is not None:
        return (ListedLamp(_frozen(markings.rating_of_marking(told))),)
    found = tuple(lamp for lamp in _all_lamps() if all(_answers(lamp, word.casefold()) for word in words))
    if not found:
        raise InputError(
            f"no filament lamp answers to '{' '.join(words)}'",
            expected="designations, bases, volts or watts, as in P21W, BA9s, 12V or 5W",
            remedy="volts and watts together stand for a lamp that is not listed, as in 12V 2.2W",
        )
    return found


def _frozen(rows: Sequence[Mapping[str, Any]]) -> tuple[Mapping[str, Any], ...]:
    return tuple(MappingProxyType(dict(row)) for row in rows)


@cache
def _all_lamps() -> tuple[ListedLamp, ...]:
    held: dict[tuple[str, float], list[dict[str, Any]]] = {}
    for row in tables.load("lamps", "ratings").rows():
        held.setdefault((row["designation"], row["class_V"]), []).append(row)
    lamps = [ListedLamp(_frozen(rows)) for rows in held.values()]
    for row in tables.load("lamps", "markings").rows():
        marking = markings.read_marking(row["marking"])
        assert marking is not None, "a mark in the table that cannot be read"
        own = [
            {**rated, "source": row["source"], "known": row["known"]} for rated in markings.rating_of_marking(marking)
        ]
        lamps.append(ListedLamp(_frozen(own), row["trade_number"]))
    return tuple(lamps)


def _answers(lamp: ListedLamp, word: str) -> bool:
    """Tell whether a lamp answers to one word: whole names and numbers, or a part of the words of its system."""
    first = lamp.ratings[0]
    watts = "/".join(f"{row['rated_W']:g}" for row in lamp.ratings)
    names = {lamp.designation, lamp.number, lamp.base, f"{lamp.supply:g}V", f"{watts}W", first["colour"]}
    if word in {str(name).casefold() for name in names}:
        return True
    return len(word) > 1 and word in str(first["system"]).casefold().split()


def replacements(designation: str, rated_voltage: float | None = None) -> tuple[Replacement, ...]:
    """List the lamps that go in place of a filament lamp: the same base, supply, colour and filaments, like watts.

    Parameters
    ----------
    designation : str
        The lamp, or what is stamped on it, as in 'T4W' or '12V 2W BA9s'.
    rated_voltage : float [V]
        6, 12 or 24; 12 when left out, or the only one that the lamp is made for.

    Returns
    -------
    tuple of Replacement
        The lamps, the one of the most equal light first; none where the base is not told.

    Raises
    ------
    InputError
        The lamp is unknown.

    Examples
    --------
    A lamp of 5 W with a glass wedge.

    >>> import lampkit as lk
    >>> [one.designation for one in lk.sources.replacements("W5W")]
    ['501', '168']

    Source: data/lamps/ratings.csv and markings.csv; the voltage laws of data/filament/voltage_exponents.csv bring both
    to one voltage; how near the watts must be is own judgement.
    """
    row = filament_lamps.rating(designation, part=_first_part(designation), rated_voltage=rated_voltage)
    own = _by_parts(filament_lamps.ratings_of(designation, row["class_V"]))
    found = []
    for lamp in _all_lamps():
        rows = _by_parts(lamp.ratings)
        same = lamp.supply == row["class_V"] and lamp.base == row["base"] != "" and rows.keys() == own.keys()
        shown = ("colour", "flashes")
        if not same or lamp.designation == row["designation"] or any(lamp.ratings[0][k] != row[k] for k in shown):
            continue
        power = tuple(_over(rows[part], own[part], "power_W", "power") for part in own)
        light = tuple(_over(rows[part], own[part], "flux_lm", "flux") for part in own)
        if all(POWER_FITS[0] <= ratio <= POWER_FITS[1] for ratio in power):
            rough = "as marked" in (lamp.ratings[0]["system"], row["system"])
            found.append(Replacement(lamp.designation, power, light, rough))
    return tuple(sorted(found, key=lambda one: max(abs(np.log(one.light)))))


def _first_part(designation: str) -> str | None:
    parts = [row["filament"] for row in filament_lamps.ratings_of(designation)]
    return "major" if "major" in parts else None


def _by_parts(rows: Sequence[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    return {row["filament"]: row for row in rows}


def _over(one: Mapping[str, Any], other: Mapping[str, Any], column: str, quantity: str) -> float:
    """One lamp over another in watts or lumens, the one brought to the voltage at which the other is rated."""
    moved = one[column] * float(incandescence.voltage_law(other["test_V"] / one["test_V"], quantity))
    return float(moved / other[column])
