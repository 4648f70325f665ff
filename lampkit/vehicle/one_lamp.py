"""One lamp told in a few words, without a file: its lens, its filament lamp and the light sources on offer."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import COLOURS
from lampkit.rules import functions, rule_sets
from lampkit.sources import filament_lamps, leds, markings
from lampkit.statements import Statement, say
from lampkit.vehicle import schema, vehicle_parts
from lampkit.vehicle.lamps import NO_COLOUR
from lampkit.vehicle.vehicle import RUNNING_VOLTAGE, Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Offer

QUANTITY = re.compile(r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(lumens?|lm|kelvin|k|watts?|w|nm)(?![\w])", re.IGNORECASE)
VOLTS = re.compile(
    r"(?<![\w.,])(\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to|/)\s*(\d+(?:[.,]\d+)?))?\s*(?:volts?|v)(?![\w])", re.IGNORECASE
)
PRICE = re.compile(r"\bprice\s+(\d+(?:[.,]\d+)?)", re.IGNORECASE)

UNITS = {"l": "claimed_lumens_lm", "k": "cct_K", "w": "power_W", "n": "peak_nm"}
"""By the first letter of a unit the key of the vehicle file that it fills."""

WHITES = {
    "warm white": (2900.0, 250.0),
    "cool white": (6000.0, 600.0),
    "cold white": (6000.0, 600.0),
    "white": (4500.0, 1200.0),
}
"""Colour temperature of a white that is told by a word, and its standard uncertainty [K]. Source: an assumption: what
shops call so; a white of which nothing is told may be any."""

PHRASES: dict[str, tuple[str, Any]] = {
    "either way round": ("either_polarity", True),
    "either way": ("either_polarity", True),
    "one way round": ("either_polarity", False),
    "one way": ("either_polarity", False),
    "all-round": ("layout", "all-round"),
    "forward": ("layout", "forward"),
    "regulated": ("feed", "regulated"),
    "resistor": ("feed", "resistor"),
}
"""What may be said of a light source besides, each with its key of the vehicle file."""

UNDERSTOOD = (
    "a colour ({colours}, white, warm white, cool white), then as far as known '400 lm', '3.5 W', '6000 K', '625 nm', "
    "'24 V', 'price 6.50', a base as in 'BA15s', {phrases}"
)

BRIGHT = 15.0
"""Watts from which a filament lamp is that of a signal which is seen by day [W]. Source: common practice, no source."""

USUAL = {
    "red": ("stop", "tail"),
    "amber": ("rear turn", "side repeater"),
    "clear": ("reversing", "front position"),
    "green": ("tell-tale", "tell-tale"),
    "blue": ("tell-tale", "tell-tale"),
}
"""By the colour of the lens what a lamp usually is, with a bright filament lamp and with a dim one. Source: common
practice, no source."""


FESTOON = "SV8.5"
"""Base of the small lamps that light number plates more often than they are parking lamps. Source: common practice."""


@dataclass(frozen=True, eq=False)
class OneLamp:
    """A vehicle of one lamp, made of what was told, and what was taken for granted."""

    vehicle: Vehicle
    assumed: tuple[Statement, ...]

    @property
    def lamp(self) -> Lamp:
        """The lamp."""
        return self.vehicle.lamps[0]


def offer_in_words(text: str) -> dict[str, Any]:
    """Read a light source on offer out of a few words, as the keys of a vehicle file."""
    said: dict[str, Any] = {"name": " ".join(text.split())[:80]}
    rest = f" {said['name']} "
    if not rest.strip():
        raise InputError("nothing is told of the light source", key="--led", expected=_understood())

    def take(key: str, value: Any) -> str:
        if key in said:
            raise InputError(f"'{text}' tells the same thing twice ({key})", key="--led", expected="each thing once")
        said[key] = value
        return " "

    rest = PRICE.sub(lambda m: take("price", _number(m.group(1))), rest)
    rest = VOLTS.sub(lambda m: take("voltage_V", _number(m[1]) if m[2] is None else [*map(_number, m.groups())]), rest)
    rest = QUANTITY.sub(lambda m: take(UNITS[m.group(2)[0].lower()], _number(m.group(1))), rest)
    for phrase, (key, value) in PHRASES.items():
        rest, there = _without(phrase, rest)
        if there:
            take(key, value)
    white = None
    # The longest name first: 'phosphor amber' is no 'amber'.
    for colour in sorted([*leds.colours(), *WHITES], key=len, reverse=True):
        rest, there = _without(colour, rest)
        if there and colour in WHITES:
            white = WHITES[colour]
        elif there:
            take("colour", colour)
    bases = {name.casefold(): name for name in tables.load("lamps", "bases")["base"]}
    for told, remedy in schema.TELLS_NO_LUMENS.items():
        found = re.search(rf"\d[\d.,]*\s*({told.replace(' ', '|')})(?![\w-])", rest, re.IGNORECASE)
        if found:
            raise InputError(f"'{found.group()}' of '{text[:80]}' is no light", key="--led", remedy=remedy)
    for word in re.split(r"[\s,;]+", rest):
        if word.casefold() in bases:
            take("base", bases[word.casefold()])
        elif word and word.casefold() not in ("led", "and", "with", "at"):
            unit = re.fullmatch(r"\d+(?:[.,]\d+)?", word)
            what = f"'{word}' of '{text}' has no unit" if unit else f"'{word[:40]}' of '{text[:80]}' is not understood"
            raise InputError(what, key="--led", expected=_understood())
    if white is not None and "cct_K" not in said:
        said["cct_K"], said["cct_uncertainty_K"] = white
    if not {"colour", "cct_K", "peak_nm"} & set(said):
        raise InputError(f"'{text[:80]}' tells no colour", key="--led", expected=_understood())
    return said


def _without(phrase: str, text: str) -> tuple[str, bool]:
    """Take a phrase out of a text, and tell whether it stood there."""
    left, times = re.subn(rf"(?<![\w-]){phrase}(?![\w-])", " ", text, flags=re.IGNORECASE)
    return left, bool(times)


def _number(word: str) -> float:
    return float(word.replace(",", "."))


def _understood() -> str:
    return UNDERSTOOD.format(colours=", ".join(leds.colours()), phrases=", ".join(f"'{one}'" for one in PHRASES))


def one_lamp(
    lens: str,
    designation: str | None,
    offers: Sequence[str],
    *,
    function: str | None = None,
    rules: str = rule_sets.USUAL,
    year: int | None = None,
    volts: float | None = None,
    watts: float | None = None,
    material: str | None = None,
) -> OneLamp:
    """Make a vehicle of one lamp out of what was told of it.

    Source: USUAL for the function, RUNNING_VOLTAGE for the volts, where neither is told.
    """
    if lens not in COLOURS:
        raise InputError(
            f"the lens colour '{lens}' is unknown", key="LENS", expected=nearest(lens, COLOURS), remedy=NO_COLOUR
        )
    if (designation is None) == (watts is None):
        what = "neither the old lamp nor its watts are told" if watts is None else "the old lamp is told twice"
        raise InputError(what, key="LAMP", expected="its designation as in 'P21W', or --volts and --watts")
    held_to = rule_sets.in_force(rule_sets.rule_set(rules).name, year)
    if designation is not None:
        designation = markings.with_volts(designation, 12.0 if volts is None else _volts(None, volts)[0])
    supply, running = _volts(designation, volts)
    named = designation or f"{supply:g}V {watts:g}W"
    try:
        rows = filament_lamps.ratings_of(named, supply) or filament_lamps.ratings_of(named)
    except InputError as error:
        raise vehicle_parts.about("LAMP", error) from None
    assumed = [say("one_lamp.volts", volts=running)] if volts is None or volts in RUNNING_VOLTAGE else []
    # Behind a clear lens a coloured bulb says what the lamp is.
    shows = USUAL.get(rows[0]["colour"], USUAL["clear"]) if lens == "clear" else USUAL[lens]
    dim = float(rows[0]["rated_W"]) < BRIGHT
    festoon = dim and lens == "clear" and rows[0]["base"] == FESTOON
    does = functions.function(function or ("number plate" if festoon else shows[dim]))
    if function is None:
        assumed.insert(0, say("one_lamp.function", function=does.name, lens=lens))
    part = None
    if len(rows) > 1:
        part = "minor" if does.name in ("tail", "front position") else "major"
        assumed.append(say("one_lamp.part", part=part, name=named))
    if material is None:
        assumed.append(say("one_lamp.material"))
    made = [_offer(words, supply, running) for words in offers]
    names = [offer.name for offer in made]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"'{twice}' stands there twice", key="--led", expected="each light source once")
    try:
        filament = filament_lamps.filament(named, running, part=part, rated_voltage=supply)
    except InputError as error:
        raise vehicle_parts.about("--volts" if volts is not None else "LAMP", error) from None
    try:
        made_of = coloured_lens.load(lens, material=material or "plastic")
    except InputError as error:
        raise vehicle_parts.about("--lens-material", error) from None
    lamp = Lamp(
        name=does.name,
        function=does.name,
        lens=made_of,
        filament=filament,
        candidates=tuple(made),
        road_rule=does.road,
    )
    vehicle = Vehicle(
        name=str(say("one_lamp.title", function=does.name, lens=lens, lamp=named)),
        supply_voltage=supply,
        running_voltage=running,
        lamps=(lamp,),
        offers=tuple(made),
        circuits=(),
        parts=(),
        file=Path("vehicle.toml"),
        year=year,
        rules=held_to.name,
        earth_told=False,
    )
    return OneLamp(vehicle, tuple(assumed))


def _offer(words: str, supply: float, running: float) -> Offer:
    try:
        offer = vehicle_parts.offer(offer_in_words(words), Path(), running)
    except InputError as error:
        raise vehicle_parts.about("--led", error) from None
    if not offer.made_for(supply):
        what, remedy = f"'{words[:80]}' is not made for {supply:g} V", "leave it out, or say the vehicle's --volts"
        raise InputError(what, key="--led", remedy=remedy)
    return offer


def _volts(designation: str | None, volts: float | None) -> tuple[float, float]:
    """Give the supply and the volts that the lamp gets: those told, or those for which the lamp is made."""
    if volts is None:
        stamped = markings.read_marking(designation) if designation else None
        known = {} if designation is None or stamped else {row["class_V"] for row in _rows(designation)}
        supply = stamped.supply if stamped else None
        supply = supply or (12.0 if not known or 12.0 in known else min(known))
        return supply, RUNNING_VOLTAGE[supply]
    if volts in RUNNING_VOLTAGE:
        return volts, RUNNING_VOLTAGE[volts]
    low, high = markings.SPAN
    supply = next((v for v in RUNNING_VOLTAGE if low * v <= volts <= high * v), None)
    if supply is None:
        raise InputError(
            f"{volts:g} V is none of the usual supplies", key="--volts", expected="6, 12 or 24, or as read"
        )
    return supply, volts


def _rows(designation: str) -> list[dict[str, Any]]:
    try:
        return filament_lamps.ratings_of(designation)
    except InputError as error:
        raise vehicle_parts.about("LAMP", error) from None
