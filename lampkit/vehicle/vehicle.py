"""A vehicle as its restorer wrote it down: lamps, lenses, light sources on offer and circuits, read and checked."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from lampkit import show
from lampkit.errors import InputError, nearest
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import Lens
from lampkit.rules import colours, functions, rule_sets
from lampkit.sources import filament_lamps
from lampkit.sources.light_source import LightSource
from lampkit.vehicle import vehicle_file, vehicle_parts
from lampkit.vehicle.vehicle_file import COLOURS, MATERIALS, Entry
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

if TYPE_CHECKING:
    import pandas as pd

RUNNING_VOLTAGE = {6.0: 6.75, 12.0: 13.5, 24.0: 28.0}
"""Voltage at the lamps with the engine running, by nominal supply [V]. Source: the test voltages of the UN lamp
regulations, at which the fluxes of filament lamps are rated."""

RUNNING_SHARES = 0.9, 1.3
"""Running voltage over nominal supply beyond which one of the two is a slip [1]. Source: own judgement; charging
systems stay within 0.95 and 1.25."""

RESERVED = ("meter", "afternoon")
"""Names that belong to other things that are drawn."""


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
    rules: str = rule_sets.USUAL
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
        Anything in it cannot be used: one sentence with the file, the line and the key.
    """
    held = vehicle_file.read(place)
    for section in ("light_source", "lens", "circuit", "part", "lamp"):
        _refuse_twins(held[section])
    head = held["vehicle"][0]
    supply = float(head.values["supply_voltage_V"])
    running = _running_voltage(head, supply)
    rules = _rules(head)
    offers = {entry.values["name"]: vehicle_parts.offer(entry, supply, running) for entry in held["light_source"]}
    own_lenses = {entry.values["name"]: vehicle_parts.lens(entry) for entry in held["lens"]}
    circuits = {entry.values["name"]: vehicle_parts.circuit(entry) for entry in held["circuit"]}
    _refuse_shared_names(held)
    _check_dim_levels(held["light_source"], offers)
    shelf = _Shelf(supply, running, rules, offers, own_lenses, circuits)
    lamps = tuple(_lamp(entry, shelf) for entry in held["lamp"])
    _check_holders(held["lamp"])
    given = head.values
    return Vehicle(
        name=given["name"],
        supply_voltage=supply,
        running_voltage=running,
        lamps=lamps,
        offers=tuple(offers.values()),
        circuits=tuple(circuits.values()),
        parts=tuple(vehicle_parts.part(entry) for entry in held["part"]),
        file=head.file,
        year=given.get("year"),
        earth=given.get("earth", "negative"),
        rules=rules,
        currency=given.get("currency", ""),
        budget=given.get("budget"),
        note=given.get("note", ""),
    )


@dataclass(frozen=True)
class _Shelf:
    """What the lamps of one file are made from; filament lamps and plain lenses are made once and shared."""

    supply: float
    running: float
    rules: str
    offers: Mapping[str, Offer]
    own_lenses: Mapping[str, Lens]
    circuits: Mapping[str, Circuit]
    plain_lenses: dict[tuple[str, str], Lens] = field(default_factory=dict)
    filaments: dict[tuple[str, str | None], LightSource] = field(default_factory=dict)


def _refuse_twins(entries: tuple[Entry, ...]) -> None:
    first: dict[str, Entry] = {}
    for entry in entries:
        name = entry.values["name"]
        twin = first.setdefault(name.casefold(), entry)
        if twin is not entry:
            raise entry.refusal(
                "name",
                f"the name '{name}' stands there twice, first on line {twin.lines.get('name', twin.lines[''])}",
                expected=f"a name of its own for each [[{entry.section}]]",
            )


def _running_voltage(head: Entry, supply: float) -> float:
    running = float(head.values.get("running_voltage_V", RUNNING_VOLTAGE[supply]))
    low, high = (share * supply for share in RUNNING_SHARES)
    if not low <= running <= high:
        raise head.refusal(
            "running_voltage_V",
            f"{running:g} V does not go with a supply of {supply:g} V",
            expected=f"{low:g} V to {high:g} V",
        )
    return running


def _rules(head: Entry) -> str:
    rules = str(head.values.get("rules", rule_sets.USUAL))
    try:
        held_to = rule_sets.rule_set(rules)
    except InputError as error:
        raise vehicle_parts.told(head, "rules", error) from None
    if not held_to.functions:
        raise head.refusal(
            "rules",
            f"the rules '{rules}' do not say what a lamp of a road vehicle shows",
            expected=nearest(rules, rule_sets.of_the_road()),
        )
    return held_to.name


def _refuse_shared_names(held: Mapping[str, tuple[Entry, ...]]) -> None:
    """Draws are told apart by the names of their owners, so no two owners may share one."""
    designations = {entry.values["filament"].casefold() for entry in held["lamp"]}
    filaments = {f"{designation}{part}" for designation in designations for part in ("", " major", " minor")}
    plain = {*COLOURS, *(f"{colour} {material}" for colour in COLOURS for material in MATERIALS)}
    lens_names = {entry.values["name"].casefold() for entry in held["lens"]}
    for entry in (*held["light_source"], *held["lens"]):
        name = entry.values["name"]
        word = name.casefold()
        if word in RESERVED or word in filaments:
            raise entry.refusal("name", f"'{name}' already names something else", expected="another name")
        if entry.section == "lens" and word in plain:
            raise entry.refusal(
                "name", f"'{name}' already means a lens of which only the colour is known", expected="another name"
            )
        if entry.section == "light_source" and word in lens_names:
            raise entry.refusal("name", f"'{name}' also names a lens", expected="another name")


def _check_dim_levels(entries: tuple[Entry, ...], offers: Mapping[str, Offer]) -> None:
    for entry in entries:
        bright = entry.values.get("dim_level_of")
        if bright is None:
            continue
        if bright not in offers or bright == entry.values["name"]:
            known = [name for name in offers if name != entry.values["name"]]
            raise entry.refusal(
                "dim_level_of", f"there is no other light source '{bright}'", expected=nearest(bright, known)
            )
        if offers[bright].source.luminous_flux <= entry.values["claimed_lumens_lm"]:
            raise entry.refusal(
                "claimed_lumens_lm", f"the dim level is no dimmer than '{bright}'", expected="fewer lumens"
            )


def _lamp(entry: Entry, shelf: _Shelf) -> Lamp:
    given = entry.values
    road_rule = bool(given.get("road_rule", True))
    circuit = given.get("circuit")
    if circuit is not None and circuit not in shelf.circuits:
        raise entry.refusal(
            "circuit", f"there is no circuit '{circuit}'", expected=_one_of(circuit, shelf.circuits, "circuit")
        )
    function = _function(entry, shelf.rules, road_rule)
    filament = _filament(entry, shelf)
    gap = given.get("headlamp_spacing_mm")
    if gap is not None and not functions.function(function).spacing:
        some = " or ".join(one.name for one in functions.functions().values() if one.spacing)
        raise entry.refusal(
            "headlamp_spacing_mm", f"only a {some} lamp has limits that depend on it", remedy="leave it out"
        )
    return Lamp(
        name=given["name"],
        function=function,
        lens=_lens(entry, shelf),
        filament=filament,
        candidates=tuple(_candidate(entry, name, shelf) for name in given["candidates"]),
        position=given.get("position"),
        holder=given.get("holder"),
        quantity=given.get("quantity", 1),
        road_rule=road_rule,
        circuit=None if circuit is None else shelf.circuits[circuit],
        intensity=given.get("intensity_cd"),
        compartments=given.get("compartments", 1),
        spacing=None if gap is None else gap / 1000.0,
        note=given.get("note", ""),
    )


def _one_of(word: str, known: Mapping[str, object], section: str) -> str:
    return nearest(word, known) if known else f"a [[{section}]] of that name"


def _function(entry: Entry, rules: str, road_rule: bool) -> str:
    try:
        does = functions.function(entry.values["function"])
        if road_rule and does.road:
            colours.required_colour(does.name, rules)
    except InputError as error:
        raise vehicle_parts.told(entry, "function", error) from None
    if road_rule and not does.road:
        key = "road_rule" if "road_rule" in entry.values else "function"
        raise entry.refusal(key, f"no road rule of this kit covers a {does.name}", expected="road_rule = false")
    return does.name


def _filament(entry: Entry, shelf: _Shelf) -> LightSource:
    designation, part = entry.values["filament"], entry.values.get("filament_part")
    if (designation, part) not in shelf.filaments:
        try:
            made = filament_lamps.filament(designation, shelf.running, part=part, rated_voltage=shelf.supply)
        except InputError as error:
            key = "filament_part" if error.key == "part" and part is not None else "filament"
            raise vehicle_parts.told(entry, key, error) from None
        shelf.filaments[designation, part] = made
    return shelf.filaments[designation, part]


def _lens(entry: Entry, shelf: _Shelf) -> Lens:
    name = entry.values["lens"]
    if name in shelf.own_lenses:
        if "lens_material" in entry.values:
            raise entry.refusal(
                "lens_material", f"the material of '{name}' belongs into its [[lens]]", expected="it there"
            )
        return shelf.own_lenses[name]
    if name not in COLOURS:
        raise entry.refusal("lens", f"there is no lens '{name}'", expected=nearest(name, [*shelf.own_lenses, *COLOURS]))
    material = entry.values.get("lens_material", "plastic")
    if (name, material) not in shelf.plain_lenses:
        shelf.plain_lenses[name, material] = coloured_lens.load(name, material=material)
    return shelf.plain_lenses[name, material]


def _candidate(entry: Entry, name: str, shelf: _Shelf) -> Offer:
    if name not in shelf.offers:
        raise entry.refusal(
            "candidates",
            f"there is no light source '{name[:40]}' on offer",
            expected=_one_of(name, shelf.offers, "light_source"),
        )
    return shelf.offers[name]


def _check_holders(entries: tuple[Entry, ...]) -> None:
    sharing: dict[str, list[Entry]] = {}
    for entry in entries:
        if "holder" in entry.values:
            sharing.setdefault(entry.values["holder"], []).append(entry)
    for holder, lamps in sharing.items():
        parts = sorted(str(lamp.values.get("filament_part")) for lamp in lamps)
        designations = {lamp.values["filament"] for lamp in lamps}
        if parts != ["major", "minor"] or len(designations) != 1:
            raise lamps[-1].refusal(
                "holder",
                f"'{holder}' does not hold the two filaments of one lamp",
                expected="two lamps with the same filament, one its major and one its minor part",
            )
