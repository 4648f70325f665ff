"""A vehicle as its restorer wrote it down: lamps, lenses, light sources on offer and circuits, read and checked."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from html import escape
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from lampkit import show
from lampkit.errors import Fault, InputError, nearest, refuse
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import COLOURS, Lens
from lampkit.rules import colours
from lampkit.sources import filament_lamps
from lampkit.sources.light_source import LightSource
from lampkit.vehicle import file, references, schema, vehicle_parts
from lampkit.vehicle.file import WrittenVehicle
from lampkit.vehicle.schema import Entry
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Given, Offer

if TYPE_CHECKING:
    import pandas as pd

RUNNING_VOLTAGE = {6.0: 6.75, 12.0: 13.5, 24.0: 28.0}
"""Voltage at the lamps with the engine running, by nominal supply [V]. Source: the test voltages of the UN lamp
regulations, at which the fluxes of filament lamps are rated."""

RUNNING_SHARES = 0.9, 1.3
"""Running voltage over nominal supply beyond which one of the two is a slip [1]. Source: own judgement; charging
systems stay within 0.95 and 1.25."""

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
        The double-filament lamp holder that it shares with another lamp.
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
    note : str
        Anything worth keeping.
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
    note: str = ""


@dataclass(frozen=True, eq=False)
class Vehicle:
    """A vehicle: its supply, its lamps, its circuits and what is on offer for it.

    Parameters
    ----------
    name : str
        The vehicle.
    supply_voltage : float [V]
        Nominal supply.
    running_voltage : float [V]
        Voltage at the lamps with the engine running.
    lamps : tuple of Lamp
        The lamps, in the order of the file.
    offers : tuple of Offer
        The light sources on offer.
    circuits : tuple of Circuit
        The circuits.
    parts : tuple of Part
        The other parts on offer.
    file : Path
        The file.
    year : int or None [1]
        Year of first use.
    earth : str
        'negative' or 'positive'.
    rules : str
        Whose published limits the lamps are held against.
    currency : str
        Currency of the prices.
    budget : float or None [currency]
        The most that everything may cost.
    note : str
        Anything worth keeping.
    """

    name: str
    supply_voltage: float
    running_voltage: float
    lamps: tuple[Lamp, ...]
    offers: tuple[Offer, ...]
    circuits: tuple[Circuit, ...]
    parts: tuple[CircuitPart, ...]
    file: Path
    year: int | None = None
    earth: str = "negative"
    rules: str = "UN"
    currency: str = ""
    budget: float | None = None
    note: str = ""

    def table(self) -> "pd.DataFrame":
        """List the lamps."""
        import pandas as pd

        return pd.DataFrame(
            {
                "lamp": lamp.name,
                "function": lamp.function,
                "lens": lamp.lens.name,
                "filament": lamp.filament.name,
                "candidates": ", ".join(offer.name for offer in lamp.candidates),
            }
            for lamp in self.lamps
        )

    def __repr__(self) -> str:
        return (
            f"{self.name}: {len(self.lamps)} lamps, {self.supply_voltage:g} V, {self.earth} earth, "
            f"{len(self.offers)} light sources on offer"
        )

    def _repr_html_(self) -> str:
        return f"<b>{escape(repr(self))}</b>{show.written(self.table())}"


def load(place: str | Path) -> Vehicle:
    """Read a vehicle from its folder.

    Parameters
    ----------
    place : str or Path
        The folder that holds vehicle.toml, or that file. references/vehicle_file.md explains every key.

    Returns
    -------
    Vehicle
        The vehicle.

    Raises
    ------
    InputError
        Something in it cannot be used: all faults at once, each one sentence with the file, the line and the key.

    Examples
    --------
    >>> from lampkit import tables
    >>> van = load(tables.folder() / "library_van")
    >>> van
    Library van: 17 lamps, 12 V, positive earth, 18 light sources on offer
    >>> van.lamps[0].name, van.lamps[0].function, van.lamps[0].side
    ('Stop lamp left', 'stop', 'left')
    """
    return _made(file.read(place))


def _made(written: WrittenVehicle) -> Vehicle:
    held, faults = schema.check(written)
    held["lamp"] = tuple(lamp for entry in held["lamp"] for lamp in _one_a_side(entry, faults))
    names = {section: references.names(entries) for section, entries in held.items()}
    in_doubt = {section for section, entries in held.items() if any("name" in entry.unusable for entry in entries)}
    for entry, fault in references.faults_of_names(held):
        faults.append(entry.placed(fault))
        in_doubt.add(entry.section)
    faults += references.faults_of_dim_levels(held["light_source"], "light_source" not in in_doubt)
    (head,), folder = held["vehicle"], written.file.parent
    supply = head.values.get("supply_voltage_V")
    shelf = _Shelf(
        names={section: None if section in in_doubt else known for section, known in names.items()},
        supply=supply,
        running=None if supply is None else _tried(faults, head, _running_voltage, "running_voltage_V"),
        rules=_tried(faults, head, _rules, "rules"),
    )
    for entry in held["light_source"]:
        shelf.offers[entry.values.get("name", "")] = _tried(faults, entry, lambda given: _offer(given, folder, shelf))
    for entry in held["lens"]:
        made = _tried(faults, entry, lambda given: vehicle_parts.lens(given, folder))
        shelf.own_lenses[entry.values.get("name", "")] = made
    for entry in held["circuit"]:
        shelf.circuits[entry.values.get("name", "")] = _tried(faults, entry, vehicle_parts.circuit)
    parts = [_tried(faults, entry, vehicle_parts.part) for entry in held["part"]]
    filaments = _there(_tried(faults, entry, partial(_filament, shelf=shelf), *FILAMENT) for entry in held["lamp"])
    for entry in held["lamp"]:
        for check, keys in LAMP_CHECKS.items():
            _tried(faults, entry, partial(check, shelf=shelf), *keys)
    if not any(entry.unusable & HOLDING for entry in held["lamp"]) and len(filaments) == len(held["lamp"]):
        faults += references.faults_of_holders(held["lamp"])
    refuse(faults)
    given = head.values
    assert shelf.supply is not None and shelf.running is not None and shelf.rules is not None
    return Vehicle(
        name=given["name"],
        supply_voltage=shelf.supply,
        running_voltage=shelf.running,
        lamps=tuple(_lamp(entry.values, shelf) for entry in held["lamp"]),
        offers=_there(shelf.offers.values()),
        circuits=_there(shelf.circuits.values()),
        parts=_there(parts),
        file=written.file,
        year=given.get("year"),
        earth=given.get("earth", "negative"),
        rules=shelf.rules,
        currency=given.get("currency", ""),
        budget=given.get("budget"),
        note=given.get("note", ""),
    )


def _tried(faults: list[Fault], entry: Entry, make: Callable[[Given], T], *keys: str) -> T | None:
    """Make something of a section where all that it takes (or these keys) can be used, and note what is refused."""
    if entry.unusable & set(keys) if keys else entry.unusable:
        return None
    try:
        return make(entry.values)
    except InputError as error:
        faults.extend(entry.placed(fault) for fault in error.faults)
        return None


def _there(made: Iterable[T | None]) -> tuple[T, ...]:
    return tuple(one for one in made if one is not None)


def _one_a_side(entry: Entry, faults: list[Fault]) -> Iterator[Entry]:
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
        own = given.get(side, {})
        shared = {key: value for key, value in given.items() if key not in ("sides", "left", "right")}
        turned: list[str] = [key for key in ("name", "holder") if key in shared]
        turned += ["position"] if position in ("front", "side", "rear") else []
        values = MappingProxyType({**shared, **{key: f"{shared[key]} {side}" for key in turned}, "side": side, **own})
        lines = {**entry.lines, **dict.fromkeys(own, entry.lines.get(side, entry.lines[""]))}
        yield replace(entry, values=values, lines=MappingProxyType(lines))


def side_of(position: str) -> str | None:
    """Tell the side of a position."""
    word = position.rsplit(" ", 1)[-1]
    return word if word in ("left", "right") else None


@dataclass(frozen=True)
class _Shelf:
    """What the lamps of one file are made from; filament lamps and plain lenses are made once and shared."""

    names: Mapping[str, list[str] | None]
    supply: float | None
    running: float | None
    rules: str | None
    offers: dict[str, Offer | None] = field(default_factory=dict)
    own_lenses: dict[str, Lens | None] = field(default_factory=dict)
    circuits: dict[str, Circuit | None] = field(default_factory=dict)
    plain_lenses: dict[tuple[str, str], Lens] = field(default_factory=dict)
    filaments: dict[tuple[str, str | None], LightSource] = field(default_factory=dict)


def _running_voltage(given: Given) -> float:
    supply = float(given["supply_voltage_V"])
    running = float(given.get("running_voltage_V", RUNNING_VOLTAGE[supply]))
    low, high = (share * supply for share in RUNNING_SHARES)
    if not low <= running <= high:
        what = f"{running:g} V does not go with a supply of {supply:g} V"
        raise InputError(what, key="running_voltage_V", expected=f"{low:g} V to {high:g} V")
    return running


def _rules(given: Given) -> str:
    rules = str(given.get("rules", "UN"))
    try:
        colours.required_colour("stop", rules)
    except InputError as error:
        raise vehicle_parts.about("rules", error) from None
    return rules


def _offer(given: Given, folder: Path, shelf: _Shelf) -> Offer | None:
    if shelf.supply is None or shelf.running is None:
        return None
    return vehicle_parts.offer(given, folder, shelf.supply, shelf.running)


# --- one lamp -----------------------------------------------------------------------------------------------------


def _lamp(given: Given, shelf: _Shelf) -> Lamp:
    gap, circuit, position = given.get("headlamp_spacing_mm"), given.get("circuit"), given.get("position")
    function, filament, lens = _function(given, shelf), _filament(given, shelf), _lens(given, shelf)
    assert function is not None and filament is not None and lens is not None
    return Lamp(
        name=given["name"],
        function=function,
        lens=lens,
        filament=filament,
        candidates=_there(shelf.offers[name] for name in given["candidates"]),
        position=position,
        side=given.get("side", side_of(position or "")),
        holder=given.get("holder"),
        quantity=int(given.get("quantity", 1)),
        road_rule=given.get("road_rule", True),
        circuit=None if circuit is None else shelf.circuits[circuit],
        intensity=given.get("intensity_cd"),
        compartments=int(given.get("compartments", 1)),
        spacing=None if gap is None else gap / 1000.0,
        note=given.get("note", ""),
    )


def _function(given: Given, shelf: _Shelf) -> str | None:
    asked, road_rule = given["function"], given.get("road_rule", True)
    if shelf.rules is None and road_rule:
        return None
    function = ""
    # A lamp that no rule covers still does one of the jobs that some rule names.
    for held_against in (str(shelf.rules),) if road_rule else ("UN", "US", "UN older"):
        try:
            function = function or colours.required_colour(asked, held_against).function
        except InputError as error:
            refused = error
    if not function:
        raise vehicle_parts.about("function", refused)
    if function == "tell-tale" and road_rule:
        key = "road_rule" if "road_rule" in given else "function"
        raise InputError("no road rule of this kit covers a tell-tale", key=key, expected="road_rule = false")
    return function


def _spacing(given: Given, shelf: _Shelf) -> None:
    if "headlamp_spacing_mm" in given and _function(given, shelf) not in ("front turn", None):
        what = "only a front turn lamp has limits that depend on it"
        raise InputError(what, key="headlamp_spacing_mm", remedy="leave it out")


def _filament(given: Given, shelf: _Shelf) -> LightSource | None:
    designation, part = given["filament"], given.get("filament_part")
    if shelf.supply is None or shelf.running is None:
        return None
    if (designation, part) not in shelf.filaments:
        try:
            made = filament_lamps.filament(designation, shelf.running, part=part, rated_voltage=shelf.supply)
        except InputError as error:
            key = "filament_part" if error.key == "part" and part is not None else "filament"
            raise vehicle_parts.about(key, error) from None
        shelf.filaments[designation, part] = made
    return shelf.filaments[designation, part]


def _lens(given: Given, shelf: _Shelf) -> Lens | None:
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
        raise InputError(f"there is no lens '{name}'", key="lens", expected=wanted)
    material = given.get("lens_material", "plastic")
    if (name, material) not in shelf.plain_lenses:
        shelf.plain_lenses[name, material] = coloured_lens.load(name, material=material)
    return shelf.plain_lenses[name, material]


def _candidates(given: Given, shelf: _Shelf) -> None:
    known = shelf.names["light_source"]
    for name in given["candidates"]:
        if known is not None and name not in known:
            what = f"there is no light source '{name[:40]}' on offer"
            raise InputError(what, key="candidates", expected=_one_of(name, known, "light_source"))


def _circuit(given: Given, shelf: _Shelf) -> None:
    name, known = given.get("circuit"), shelf.names["circuit"]
    if name is not None and known is not None and name not in known:
        raise InputError(f"there is no circuit '{name}'", key="circuit", expected=_one_of(name, known, "circuit"))


def _one_of(word: str, known: list[str], section: str) -> str:
    return nearest(word, known) if known else f"a [[{section}]] of that name"


FILAMENT = ("filament", "filament_part")
"""The keys of the filament lamp."""

HOLDING = {*FILAMENT, "holder", "sides"}
"""The keys that say who shares a holder."""

LAMP_CHECKS: dict[Callable[..., object], tuple[str, ...]] = {
    _function: ("function", "road_rule"),
    _spacing: ("function", "road_rule", "headlamp_spacing_mm"),
    _lens: ("lens", "lens_material"),
    _candidates: ("candidates",),
    _circuit: ("circuit",),
}
"""What is asked of every lamp, each with the keys that it takes: one that cannot be used leaves the others standing."""
