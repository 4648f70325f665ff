"""A vehicle as its restorer wrote it down: lamps, lenses, light sources on offer and circuits, read and checked."""

import codecs
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from lampkit import show, written_files
from lampkit.errors import Fault, InputError, nearest, refuse
from lampkit.rules import rule_sets
from lampkit.vehicle import file, lamps, schema, sharing, vehicle_parts
from lampkit.vehicle.file import WrittenVehicle
from lampkit.vehicle.lamps import Lamp as Lamp
from lampkit.vehicle.schema import Entry, Held
from lampkit.vehicle.vehicle_parts import Asked, Circuit, CircuitPart, Given, MeterReading, Offer

if TYPE_CHECKING:
    import pandas as pd

RUNNING_VOLTAGE = {6.0: 6.75, 12.0: 13.5, 24.0: 28.0}
"""Voltage at the battery with the engine running, by nominal supply [V]. Source: the test voltages of the UN lamp
regulations, at which the fluxes of filament lamps are rated; that a regulator keeps it there is an assumption."""

IDLE_ALTERNATOR, IDLE_DYNAMO, OFF_SHARE = 1.1, 1.02, 1.025
"""Voltage at the battery over the nominal supply with the lamps lit: idling with an alternator, idling with a dynamo,
which then charges nothing, and with the engine off [1]. Source: an assumption, 13.2 V, 12.2 V and 12.3 V of 12 V."""

RESTING_SHARES = 0.8, 1.3
"""The same beyond which one of the two is a slip [1]. Source: own judgement."""

RUNNING_SHARES = 0.9, 1.3
"""Running voltage over nominal supply beyond which one of the two is a slip [1]. Source: own judgement; charging
systems stay within 0.95 and 1.25."""

T = TypeVar("T")


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
        Voltage at the battery with the engine running.
    lamps : tuple of Lamp
        The lamps, in the order of the file.
    offers : tuple of Offer
        The light sources on offer.
    circuits : tuple of Circuit
        The circuits.
    parts : tuple of CircuitPart
        The other parts on offer.
    file : Path
        The file.
    year : int or None [1]
        Year of first use.
    earth : str
        'negative' or 'positive'.
    earth_after : str
        The earth when the work is done, 'negative' or 'positive'; that of today where the file states none.
    meter_readings : tuple of MeterReading
        Amperes and volts as read in the circuits.
    generator : str
        What charges the battery, or 'unknown'.
    battery_capacity : float or None [A h]
        Charge of the battery; 0 where there is none.
    idle_current : float or None [A]
        What the generator gives at idle.
    rules : str
        Whose published limits the lamps are held against.
    width : float or None [m]
        Its width over all.
    currency : str
        Currency of the prices.
    budget : float or None [currency]
        The most that everything may cost.
    note : str
        Anything worth keeping.
    invented : bool
        Whether the vehicle and its data are made up.
    idle_voltage, off_voltage : float or None [V]
        Voltage at the battery with the engine idling and off; None where the file states none.
    earth_told : bool
        Whether the file says which pole lies on the body; where it does not, the negative one is taken.
    asked : Asked
        What the owner asks of the choice of parts.
    towed : bool
        Whether another vehicle tows it and feeds its lamps.

    Examples
    --------
    >>> from lampkit import tables
    >>> van = load(tables.folder() / "library_van")
    >>> van.earth, van.running_voltage, [circuit.name for circuit in van.circuits][:2]
    ('positive', 13.5, ['stop', 'side and tail'])
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
    earth_after: str = "negative"
    meter_readings: tuple[MeterReading, ...] = ()
    generator: str = "unknown"
    battery_capacity: float | None = None
    idle_current: float | None = None
    rules: str = rule_sets.USUAL
    width: float | None = None
    currency: str = ""
    budget: float | None = None
    note: str = ""
    invented: bool = False
    idle_voltage: float | None = None
    off_voltage: float | None = None
    earth_told: bool = True
    asked: Asked = field(default_factory=Asked)
    towed: bool = False

    @property
    def supplies(self) -> tuple[float, float, float]:
        """Give the voltage at the battery with the engine running, idling and off, as told or else as assumed."""
        share = IDLE_ALTERNATOR if self.generator == "alternator" else IDLE_DYNAMO
        idle = share * self.supply_voltage if self.idle_voltage is None else self.idle_voltage
        off = OFF_SHARE * self.supply_voltage if self.off_voltage is None else self.off_voltage
        return self.running_voltage, min(idle, self.running_voltage), min(off, self.running_voltage)

    @property
    def without_battery(self) -> bool:
        """Tell whether the file says that there is no battery; of most nobody says."""
        return self.battery_capacity == 0

    @property
    def earth_changes(self) -> bool:
        """Tell whether the polarity of its earth is to be changed."""
        return self.earth != self.earth_after

    def has_already(self, lamp: Lamp, offer: Offer) -> bool:
        """Tell whether a light source is in its lamp already, and lit there with the earth that stays."""
        return offer is lamp.fitted and not self.earth_changes

    @property
    def held_to(self) -> rule_sets.RuleSet:
        """Give the rule set of its family that held in its year; the named one where no year is known."""
        return rule_sets.in_force(self.rules, self.year)

    @property
    def wide(self) -> bool:
        """Tell whether it is as wide as the rules in force mean where they hold other numbers for a wide vehicle."""
        least = self.held_to.wide_from
        return least is not None and self.width is not None and self.width >= least

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
    return made(file.read(place))


def asking(
    vehicle: Vehicle,
    *,
    assurance: float | None = None,
    colour_share: float | None = None,
    stop_over_tail: float | None = None,
    aim: str | None = None,
    alike: bool | None = None,
    budget: float | None = None,
) -> Vehicle:
    """Give the same vehicle with other wishes of its owner; what is left out stays as it was.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    assurance : float, optional [1]
        How sure at least the filament's light shall be, 0.5 to 0.99.
    colour_share : float, optional [1]
        For which share of lenses and emitters the colour shall lie inside its limit, 0.5 to 0.99.
    stop_over_tail : float, optional [1]
        How many times the tail lamp's light the stop lamp shall give.
    aim : {'least cost', 'most light'}, optional
        What is sought among all that will do.
    alike : bool, optional
        Whether left and right shall get the same light source.
    budget : float, optional [currency]
        The most that everything may cost.

    Returns
    -------
    Vehicle
        The vehicle, for `lampkit.plan.make`.

    Raises
    ------
    InputError
        A wish is out of range.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> lk.vehicle.asking(van, assurance=0.8, aim="most light").asked.assurance
    0.8
    """
    told = {
        "assurance": assurance,
        "colour_share": colour_share,
        "stop_over_tail": stop_over_tail,
        "aim": aim,
        "left_and_right_alike": alike,
        "budget": budget,
    }
    wished = {key: value for key, value in told.items() if value is not None}
    found = {key: schema.fault_of("vehicle", key, value) for key, value in wished.items()}
    refuse(replace(fault, key=key) for key, fault in found.items() if fault is not None)
    names = {"left_and_right_alike": "alike"}
    changed = {names.get(key, key): value for key, value in wished.items() if key != "budget"}
    asked = replace(vehicle.asked, **changed)  # type: ignore[arg-type]
    return replace(vehicle, asked=asked, budget=vehicle.budget if budget is None else budget)


def write(place: str | Path, document: Mapping[str, Any]) -> Vehicle:
    """Write a vehicle file, whole or not at all; one that could not be read again is refused and nothing is touched.

    Parameters
    ----------
    place : str or Path
        The folder of the vehicle, or its vehicle.toml.
    document : mapping of str
        What the file shall hold. A document that `document` read and that was changed keeps its comments, its order
        and its layout: what was not changed stays as it was, byte for byte.

    Returns
    -------
    Vehicle
        The vehicle as it now stands in the file.

    Raises
    ------
    InputError
        Something in the document cannot be used, or the file cannot be written.

    Examples
    --------
    >>> import shutil, tempfile
    >>> from lampkit import tables
    >>> folder = shutil.copytree(tables.folder() / "library_van", tempfile.mkdtemp(), dirs_exist_ok=True)
    >>> held = file.document(folder)
    >>> held["vehicle"]["budget"] = 150
    >>> write(folder, held).budget
    150
    """
    import tomlkit

    target = file.target(place)
    text = tomlkit.dumps(document)
    written = made(file.parsed(target, text))
    marked = target.exists() and target.read_bytes().startswith(codecs.BOM_UTF8)
    raw = (codecs.BOM_UTF8 if marked else b"") + text.encode("utf-8")
    written_files.replace(target, raw, what="the vehicle file", remedy="choose another place")
    return written


def made(written: WrittenVehicle) -> Vehicle:
    """Make a vehicle out of its file; everything that is wrong with it is told at once."""
    held, faults = schema.check(written)
    held["lamp"] = tuple(one for entry in held["lamp"] for one in lamps.one_a_side(entry, faults))
    shelf, parts = _shelf(held, faults)
    wired = held["lamp"]
    filaments = [_tried(faults, entry, partial(lamps.filament_of, shelf=shelf), *lamps.FILAMENT) for entry in wired]
    for entry in wired:
        for check, keys in lamps.CHECKS.items():
            _tried(faults, entry, partial(check, shelf=shelf), *keys)
    if None not in filaments and not any(entry.unusable & lamps.HOLDING for entry in wired):
        faults += lamps.faults_of_holders(wired)
    faults += vehicle_parts.faults_of_meter_readings(held)
    refuse(faults)
    # From here on all is known to be good.
    given = held["vehicle"][0].values
    told = given.get("earth", "unknown") != "unknown"
    earth = given["earth"] if told else "negative"
    assert shelf.supply is not None and shelf.running is not None and shelf.rules is not None
    return Vehicle(
        name=given["name"],
        supply_voltage=shelf.supply,
        running_voltage=shelf.running,
        lamps=sharing.with_shared_readings([lamps.lamp(entry.values, shelf) for entry in wired]),
        offers=lamps.there(shelf.offers.values()),
        circuits=lamps.there(shelf.circuits.values()),
        parts=lamps.there(parts),
        file=written.file,
        year=given.get("year"),
        earth=earth,
        earth_after=given.get("earth_after", earth),
        earth_told=told,
        asked=vehicle_parts.asked(given),
        meter_readings=tuple(vehicle_parts.meter_reading(entry.values) for entry in held["meter_reading"]),
        generator=given.get("generator", "unknown"),
        battery_capacity=given.get("battery_Ah"),
        idle_current=given.get("idle_current_A"),
        rules=shelf.rules,
        width=given.get("width_m"),
        currency=given.get("currency", ""),
        budget=given.get("budget"),
        note=given.get("note", ""),
        invented=given.get("invented", False),
        idle_voltage=given.get("idle_voltage_V"),
        off_voltage=given.get("off_voltage_V"),
        towed=given.get("towed", False),
    )


def _shelf(held: Held, faults: list[Fault]) -> tuple[lamps.Shelf, list[CircuitPart | None]]:
    """Make what lamps are made from, and the parts on offer; what is refused is noted and is None."""
    names: dict[str, list[str] | None] = {section: schema.names_in(entries) for section, entries in held.items()}
    # Who means a name that is to be changed is no fault of its own.
    names.update({entry.section: None for entries in held.values() for entry in entries if "name" in entry.unusable})
    for entry, fault in schema.faults_of_names(held):
        faults.append(entry.placed(fault))
        names[entry.section] = None
    faults += vehicle_parts.faults_of_dim_levels(held["light_source"], names["light_source"] is not None)
    head, folder = held["vehicle"][0], held["vehicle"][0].file.parent
    shelf = lamps.Shelf(
        names=names,
        supply=_tried(faults, head, lambda given: float(given["supply_voltage_V"]), "supply_voltage_V"),
        running=_tried(faults, head, _running_voltage, "supply_voltage_V", "running_voltage_V"),
        rules=_tried(faults, head, _rules, "rules"),
    )
    for key in ("idle_voltage_V", "off_voltage_V"):
        _tried(faults, head, partial(_check_resting, key), "supply_voltage_V", "running_voltage_V", key)
    _tried(faults, head, _check_poles, "battery_Ah", "earth", "earth_after")
    for entry in held["light_source"]:
        shelf.offers[entry.values.get("name", "")] = _tried(faults, entry, lambda given: _offer(given, folder, shelf))
    for entry in held["lens"]:
        lens = _tried(faults, entry, lambda given: vehicle_parts.once(vehicle_parts.lens, given, folder))
        shelf.own_lenses[entry.values.get("name", "")] = lens
    for entry in held["circuit"]:
        shelf.circuits[entry.values.get("name", "")] = _tried(faults, entry, vehicle_parts.circuit)
    return shelf, [_tried(faults, entry, vehicle_parts.part) for entry in held["part"]]


def _check_poles(given: Given) -> None:
    """Refuse a change of the earth of a vehicle whose battery has no poles, for it has none."""
    if given.get("battery_Ah") == 0 and given.get("earth_after", given.get("earth")) != given.get("earth"):
        raise InputError(
            "without a battery no pole lies on the body",
            key="earth_after",
            expected="no change of the earth where battery_Ah is 0",
            remedy="take earth_after away, or write the charge of the battery",
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


def _running_voltage(given: Given) -> float:
    supply = float(given["supply_voltage_V"])
    running = float(given.get("running_voltage_V", RUNNING_VOLTAGE[supply]))
    low, high = (share * supply for share in RUNNING_SHARES)
    if not low <= running <= high:
        what = f"{running:g} V does not go with a supply of {supply:g} V"
        raise InputError(what, key="running_voltage_V", expected=f"{low:g} V to {high:g} V")
    return running


def _check_resting(key: str, given: Given) -> None:
    if key in given:
        low, high = (share * float(given["supply_voltage_V"]) for share in RESTING_SHARES)
        high = min(high, _running_voltage(given))
        if not low <= given[key] <= high:
            what = f"{given[key]:g} V cannot be where the engine running gives {_running_voltage(given):g} V"
            raise InputError(what, key=key, expected=f"{low:g} V to {high:g} V")


def _rules(given: Given) -> str:
    road, named = rule_sets.of_the_road(), str(given.get("rules", rule_sets.USUAL))
    try:
        held_to = rule_sets.rule_set(named)
    except InputError as error:
        remedy = "for a country that is not among them take 'UN', and ask there what held"
        raise InputError(error.what, key="rules", expected=nearest(named, road), remedy=remedy) from None
    if not held_to.functions:
        what = f"the rules '{held_to.name}' do not say what a lamp of a road vehicle shows"
        raise InputError(what, key="rules", expected=nearest(held_to.name, road))
    return held_to.name


def _offer(given: Given, folder: Path, shelf: lamps.Shelf) -> Offer | None:
    if shelf.supply is None or shelf.running is None:
        return None
    return vehicle_parts.offer(given, folder, shelf.running)
