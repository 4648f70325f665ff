"""The lamps of the vehicle file: where they sit, written once for both sides, asked for what they mean, and made."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache, partial
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from lampkit import tables
from lampkit.errors import Fault, InputError, nearest
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import COLOURS, Lens
from lampkit.numbers import listed
from lampkit.rules import colours, functions
from lampkit.rules.functions import LampFunction
from lampkit.sources import filament_lamps, markings
from lampkit.sources.light_source import LightSource
from lampkit.vehicle import vehicle_parts
from lampkit.vehicle.schema import Entry
from lampkit.vehicle.vehicle_parts import Circuit, Given, Offer

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Lamp:
    """A lamp of the vehicle: its function, its lens, the filament it came with and what is on offer for it.

    Parameters
    ----------
    name : str
        The lamp, as in 'Stop lamp left'.
    function : str
        The trade's term, as in 'stop'.
    lens : Lens
        Its lens; lamps that name the same lens hold the same object.
    filament : LightSource
        The filament lamp at the running voltage.
    candidates : tuple of Offer
        The light sources on offer for it.
    position : str or None
        Where it sits, as in 'rear left'.
    side : str or None
        'left' or 'right', where it has a side.
    holder : str or None
        The lamp holder that it shares with another lamp: two filaments in it, or one for several functions.
    quantity : int [1]
        How many light sources it takes.
    road_rule : bool
        Whether a road rule sets limits for it; a tell-tale has none.
    circuit : Circuit or None
        What feeds it.
    intensity : float or None [cd]
        Intensity on the axis with the filament, as measured.
    compartments : int [1]
        How many lighted compartments it has.
    spacing : float or None [m]
        From the lit edge of a front turn lamp to that of the headlamp; nearer, the rules ask for more light.
    lit_area : float or None [mm2]
        The area of the lens that glows with what is to be fitted.
    socket_voltage, socket_voltage_idle : float or None [V]
        Voltage at its holder with the filament lit, the engine running and idling, as measured.
    fitted : Offer or None
        What is fitted now in place of the filament; None where the filament is.
    note : str
        Anything worth keeping.
    material_told : bool
        Whether the file says what its lens is made of; plastic is an assumption else.

    Examples
    --------
    >>> from lampkit import tables, vehicle
    >>> lamp = vehicle.load(tables.folder() / "library_van").lamps[1]
    >>> lamp.name, lamp.position, lamp.side, lamp.filament.name
    ('Stop lamp right', 'rear right', 'right', 'P21/5W major')
    """

    name: str
    function: str
    lens: Lens
    filament: LightSource
    candidates: tuple[Offer, ...]
    position: str | None = None
    side: str | None = None
    holder: str | None = None
    quantity: int = 1
    road_rule: bool = True
    circuit: Circuit | None = None
    intensity: float | None = None
    compartments: int = 1
    spacing: float | None = None
    lit_area: float | None = None
    fitted: Offer | None = None
    note: str = ""
    socket_voltage: float | None = None
    socket_voltage_idle: float | None = None
    material_told: bool = True


@dataclass(frozen=True)
class Shelf:
    """What the lamps of one file are made from; what is equal is made once, and once for all files."""

    names: Mapping[str, list[str] | None]
    supply: float | None
    running: float | None
    rules: str | None
    offers: dict[str, Offer | None] = field(default_factory=dict)
    own_lenses: dict[str, Lens | None] = field(default_factory=dict)
    circuits: dict[str, Circuit | None] = field(default_factory=dict)


def one_a_side(entry: Entry, faults: list[Fault]) -> Iterator[Entry]:
    """Write a lamp that stands there for both sides as two, each with its own name, holder and position."""
    given, position = entry.values, entry.values.get("position", "")
    if "sides" not in given:
        if position == "side" and "sides" not in entry.unusable:
            wanted = "'side left' or 'side right', or sides = [\"left\", \"right\"]"
            faults.append(entry.placed(Fault("a lamp at the side is left or right", key="position", expected=wanted)))
        yield entry
        return
    if side_of(position):
        what = f"'{position}' is one side, and the lamp is on both"
        faults.append(entry.placed(Fault(what, key="position", expected=f"'{position.rsplit(' ', 1)[0]}'")))
    for side in given["sides"]:
        values = MappingProxyType({**of_side(given, side), "side": side})
        lines = {**entry.lines, **dict.fromkeys(given.get(side, {}), entry.lines.get(side, entry.lines[""]))}
        yield replace(entry, values=values, lines=MappingProxyType(lines))


def of_side(told: Mapping[str, Any], side: str) -> dict[str, Any]:
    """Give what is told of one side of a lamp that stands there for both, with its own name, holder and position."""
    shared = {key: value for key, value in told.items() if key not in ("sides", "left", "right")}
    where = ("position",) if shared.get("position") in ("front", "side", "rear") else ()
    turned = [key for key in ("name", "holder", *where) if key in shared]
    return {**shared, **{key: f"{shared[key]} {side}" for key in turned}, **told.get(side, {})}


def side_of(position: str) -> str | None:
    """Tell the side of a position."""
    word = position.rsplit(" ", 1)[-1]
    return word if word in ("left", "right") else None


def lamp(given: Given, shelf: Shelf) -> Lamp:
    """Make a lamp that was asked for everything."""
    gap, circuit, position = given.get("headlamp_spacing_mm"), given.get("circuit"), given.get("position")
    function, filament, lens = _function(given, shelf), filament_of(given, shelf), _lens(given, shelf)
    assert filament is not None and lens is not None
    named = [given["fitted"]] if "fitted" in given else []
    return Lamp(
        name=given["name"],
        function=function.name,
        lens=lens,
        filament=filament,
        # What is fitted may stay: it is on offer, whether it is named there or not.
        candidates=there(shelf.offers[name] for name in dict.fromkeys([*given["candidates"], *named])),
        position=position,
        side=given.get("side", side_of(position or "")),
        holder=given.get("holder"),
        quantity=int(given.get("quantity", 1)),
        road_rule=given.get("road_rule", function.road),
        circuit=None if circuit is None else shelf.circuits[circuit],
        intensity=given.get("intensity_cd"),
        compartments=int(given.get("compartments", 1)),
        spacing=None if gap is None else gap / 1000.0,
        lit_area=given.get("lit_area_mm2"),
        fitted=shelf.offers[given["fitted"]] if "fitted" in given else None,
        note=given.get("note", ""),
        socket_voltage=given.get("socket_voltage_V"),
        socket_voltage_idle=given.get("socket_voltage_idle_V"),
        material_told="lens_material" in given or given["lens"] in shelf.own_lenses,
    )


def _function(given: Given, shelf: Shelf) -> LampFunction:
    try:
        does = functions.function(given["function"])
        if given.get("road_rule", does.road) and does.road and shelf.rules is not None:
            colours.required_colour(does.name, shelf.rules)
    except InputError as error:
        raise vehicle_parts.about("function", error) from None
    if given.get("road_rule") and not does.road:
        what = f"no road rule of this kit covers a {does.name}"
        raise InputError(what, key="road_rule", expected="road_rule = false, or nothing")
    return does


def _spacing(given: Given, shelf: Shelf) -> None:
    if "headlamp_spacing_mm" in given and not functions.function(given["function"]).spacing:
        some = listed((one.name for one in functions.functions().values() if one.spacing), "or")
        what = f"only a {some} lamp has limits that depend on it"
        raise InputError(what, key="headlamp_spacing_mm", remedy="leave it out")


SOCKET_SHARE = 0.6
"""Voltage at a holder over that at the battery below which no lamp is lit to speak of [1]. Source: own judgement."""


def _socket(given: Given, shelf: Shelf) -> None:
    for key in ("socket_voltage_V", "socket_voltage_idle_V"):
        if key in given and shelf.running is not None:
            low, high = SOCKET_SHARE * shelf.running, shelf.running
            if not low <= given[key] <= high:
                what = f"{given[key]:g} V at the holder does not go with {high:g} V at the battery"
                expected = f"{low:.3g} V to {high:g} V, or another running_voltage_V"
                raise InputError(what, key=key, expected=expected)


def filament_of(given: Given, shelf: Shelf) -> LightSource | None:
    """Make the filament lamp at the running voltage."""
    designation, part, lost = given["filament"], given.get("filament_part"), _lost(given)
    if shelf.supply is None or shelf.running is None:
        return None
    try:
        return _filament(markings.with_volts(designation, shelf.supply), shelf.running, part, shelf.supply, lost)
    except InputError as error:
        key = "filament_part" if error.key == "part" and part is not None else "filament"
        raise vehicle_parts.about(key, error) from None


@lru_cache(maxsize=256)
def _filament(
    designation: str, running: float, part: str | None, supply: float, lost: tuple[float, float]
) -> LightSource:
    return filament_lamps.filament(designation, running, part=part, rated_voltage=supply, blackened=lost)


@lru_cache(maxsize=64)
def _plain_lens(colour: str, material: str) -> Lens:
    return coloured_lens.load(colour, material=material)


def _lost(given: Given) -> tuple[float, float]:
    """Give the share of the old lamp's light that its bulb keeps: as the user knows it, or as assumed."""
    told = given.get("blackened", filament_lamps.BLACKENED)
    return (float(told), float(told)) if isinstance(told, int | float) else (float(told[0]), float(told[1]))


NO_COLOUR = "smoke dims old and new alike, so name the colour without it; yellow comes nearest to amber"
"""What to do with a lens of none of the colours."""


def _lens(given: Given, shelf: Shelf) -> Lens | None:
    name = given["lens"]
    if name in shelf.own_lenses:
        if "lens_material" in given:
            what = f"the material of '{name}' belongs into its [[lens]]"
            raise InputError(what, key="lens_material", expected="it there")
        return shelf.own_lenses[name]
    if name not in COLOURS:
        if shelf.names["lens"] is None:
            return None
        wanted = nearest(name, [*shelf.names["lens"], *COLOURS])
        raise InputError(f"there is no lens '{name}'", key="lens", expected=wanted, remedy=NO_COLOUR)
    return _plain_lens(name, given.get("lens_material", "plastic"))


def _there(given: Given, shelf: Shelf, key: str, section: str, what: str) -> None:
    """Refuse a name that a section does not hold, where all of its names are known."""
    known = shelf.names[section]
    named = given.get(key, ())
    for name in (named,) if isinstance(named, str) else named:
        if known is not None and name not in known:
            expected = nearest(name, known) if known else f"a [[{section}]] of that name"
            raise InputError(f"there is no {what.format(name[:40])}", key=key, expected=expected)


FILAMENT = ("filament", "filament_part", "blackened")
"""The keys of the filament lamp."""

OF_THE_SOURCE = ("lens", "lens_material", "candidates", "quantity", "fitted", "position")
"""The keys that cannot differ between the functions of one filament."""

OF_THE_LENS = ("lens", "lens_material")
"""Those that may differ where it burns steadily: a tail lamp lights a number plate, a side lamp shows red behind."""

HOLDING = {*FILAMENT, *OF_THE_SOURCE, "function", "holder", "sides", "left", "right"}
"""The keys that say who shares a holder, and what of it."""

CHECKS: dict[Callable[..., object], tuple[str, ...]] = {
    _function: ("function", "road_rule"),
    _spacing: ("function", "headlamp_spacing_mm"),
    _lens: ("lens", "lens_material"),
    partial(_there, key="candidates", section="light_source", what="light source '{}' on offer"): ("candidates",),
    partial(_there, key="fitted", section="light_source", what="light source '{}'"): ("fitted",),
    partial(_there, key="circuit", section="circuit", what="circuit '{}'"): ("circuit",),
    _socket: ("socket_voltage_V", "socket_voltage_idle_V"),
}
"""What is asked of every lamp, each with the keys that it takes: one that cannot be used leaves the others standing."""


def faults_of_holders(entries: Sequence[Entry]) -> Iterator[Fault]:
    """List the holders that do not hold one lamp, and the functions of one filament that contradict each other."""
    sharing: dict[str, list[Entry]] = {}
    for entry in entries:
        if "holder" in entry.values:
            sharing.setdefault(entry.values["holder"], []).append(entry)
    for holder, lamps in sharing.items():
        parts = [lamp.values.get("filament_part") for lamp in lamps]
        designations = {lamp.values["filament"] for lamp in lamps}
        if len(lamps) == 1 or len(designations) != 1:
            fault = Fault(
                f"'{holder}' does not hold the filaments of one lamp",
                key="holder",
                expected="lamps with the same filament: its major and its minor part, or several functions of one part",
            )
            yield lamps[-1].placed(fault)
            continue
        for part in dict.fromkeys(parts):
            yield from _faults_of_one_filament([lamp for lamp in lamps if lamp.values.get("filament_part") == part])


def _faults_of_one_filament(lamps: Sequence[Entry]) -> Iterator[Fault]:
    first, *others = lamps
    for other in others:
        name, both = first.values.get("name", ""), (first.values, other.values)
        if both[0].get("function") == both[1].get("function"):
            what = f"'{name}' has the same function and is the same filament"
            yield other.placed(Fault(what, key="function", expected="another function, or another holder"))
        steady = not any(_signals(told) for told in both)
        for key in OF_THE_SOURCE:
            if steady and key in OF_THE_LENS:
                continue
            if both[0].get(key) != both[1].get(key):
                what = f"it is one filament with '{name}', and of that this key says otherwise"
                yield other.placed(Fault(what, key=key, expected=f"what stands at '{name}'"))


def _signals(told: Mapping[str, object]) -> bool:
    does = functions.functions().get(functions.term(str(told.get("function"))))
    return does is not None and (does.flashes or does.brakes)


def there(made: Iterable[T | None]) -> tuple[T, ...]:
    """Keep what could be made."""
    return tuple(one for one in made if one is not None)


class Place(NamedTuple):
    """A place of a lamp on an outline, as seen from behind; one on both sides stands for its left."""

    outline: str
    view: str
    row: int
    column: int
    names: tuple[str, ...]
    functions: tuple[str, ...]
    lens: str
    both: bool
    position: str
    often: tuple[str, ...]


@cache
def places() -> tuple[Place, ...]:
    """List the places of every outline."""
    return tuple(
        Place(
            outline=row["outline"],
            view=row["view"],
            row=int(row["row"]),
            column=int(row["column"]),
            names=tables.split_cell(row["name"]),
            functions=tables.split_cell(row["functions"]),
            lens=row["lens"],
            both=row["sides"] == "yes",
            position=row["position"],
            often=tables.split_cell(row["often"]),
        )
        for row in tables.load("places", "lamps").rows()
    )


def outlines() -> tuple[str, ...]:
    """List the outlines."""
    return tuple(dict.fromkeys(place.outline for place in places()))


def lamps_of(
    told: Mapping[str, Any], names: tuple[str, ...], does: tuple[str, ...], *, supply: float
) -> list[dict[str, Any]]:
    """Write one lamp of the file for each function; two functions take the two filaments of one lamp in one holder."""
    filaments = filament_lamps.ratings_of(str(told["filament"]), supply)
    double = len(filaments) > 1
    if len(does) > 1 and not double:
        raise InputError(
            f"{told['filament']} has one filament, and {' and '.join(does)} take two",
            key="filament",
            expected="a lamp with two filaments, as in P21/5W or 12V 21/5W",
            remedy="or choose one function only",
        )
    if len(does) == 1 and double and "filament_part" not in told:
        raise InputError(
            f"{told['filament']} has two filaments, and this is one function",
            key="filament",
            expected="what the second filament is for, or a lamp with one filament",
        )
    found = []
    for name, function, part in zip(names, does, ("major", "minor"), strict=False):
        values = {**told, "name": name, "function": function}
        if len(does) > 1:
            values |= {"filament_part": part, "holder": f"{names[0]} holder"}
        if not functions.function(function).road:
            values["road_rule"] = False
        found.append(values)
    return found


def fits(lamp: Mapping[str, Any], offer: Mapping[str, Any], lens: str) -> bool:
    """Tell whether a light source may be offered to a lamp: base, filaments and colour; what is not known may be."""
    part, dim = lamp.get("filament_part"), "dim_level_of" in offer
    if dim != (part == "minor"):
        return False
    try:
        holder = filament_lamps.base(str(lamp.get("filament", "")))
    except InputError:
        holder = None
    if holder is not None and "base" in offer and str(offer["base"]).casefold() != holder.base.casefold():
        return False
    colour = str(offer.get("colour", ""))
    if not colour:
        return True
    try:
        shown = functions.function(str(lamp.get("function"))).lenses
    except InputError:
        shown = ()
    wanted = [one for one in shown if one != "clear"] if lens == "clear" else [lens]
    return (lens == "clear" and not shown) or any(re.search(rf"\b{re.escape(one)}\b", colour) for one in wanted)
