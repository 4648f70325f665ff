"""What a vehicle file tells: light sources with their price, lenses, circuits, and the parts that cure them."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from lampkit.errors import Fault, InputError, nearest
from lampkit.lenses import changed_lens, coloured_lens
from lampkit.lenses.coloured_lens import Lens
from lampkit.sources import leds, light_source, markings
from lampkit.sources.light_source import LightSource
from lampkit.uncertainty import sampling
from lampkit.vehicle import schema

T = TypeVar("T")


@dataclass(frozen=True)
class Asked:
    """What the owner asks of the choice: how sure of the light and of the colour, what for, and whether sides match.

    A stop lamp is to outshine its tail lamp as often as the rules say where `stop_over_tail` is None.
    """

    assurance: float = 0.90
    colour_share: float = 0.90
    stop_over_tail: float | None = None
    aim: str = "least cost"
    alike: bool = True


@dataclass(frozen=True)
class Circuit:
    """A circuit of the vehicle: what feeds its lamps."""

    name: str
    fuse: float | None = None
    wire_length: float | None = None
    wire_area: float | None = None
    switch_rating: float | None = None
    flasher: str | None = None
    flasher_rated_load: float | None = None
    tell_tale: str | None = None
    tell_tale_power: float | None = None
    fuse_mark: str = "unknown"
    also_feeds: tuple[str, ...] | None = None
    trailer_power: float | None = None
    note: str = ""


@dataclass(frozen=True)
class CircuitPart:
    """A part that can be bought to cure a circuit."""

    name: str
    kind: str
    price: float | None = None
    resistance: float | None = None
    power: float | None = None
    note: str = ""


@dataclass(frozen=True)
class MeterReading:
    """Amperes or volts as read in a circuit, with the lamps that were lit: None where the file does not say."""

    circuit: str
    lit: tuple[str, ...] | None = None
    supply: float | None = None
    current: float | None = None
    lamp: str | None = None
    socket_voltage: float | None = None
    note: str = ""


EDGE_UNCERTAINTY = 2.0
"""Standard uncertainty of an edge that the file states without one [nm]. Source: an assumption."""

WIDTH_UNCERTAINTY = 0.1
"""Standard uncertainty of the logarithm of a width that the file states [1]. Source: an assumption."""


GOES_WITH = {
    "duv": "white",
    "cct_uncertainty_K": "white",
    "duv_uncertainty": "white",
    "fwhm_nm": "coloured",
    "peak_uncertainty_nm": "coloured",
    "drift_nm": "coloured",
    "outside": "measured",
}
"""Keys that belong to one kind of light source."""


@dataclass(frozen=True, eq=False)
class Offer:
    """A light source that can be bought, with its price and its fittings.

    Parameters
    ----------
    source : LightSource
        The light source as claimed.
    price : float or None [currency]
        Price of one, in the currency of the vehicle file.
    base : str or None
        Its base, as in 'BA15s'.
    feed : str or None
        'regulated' or 'resistor'; None where nobody knows.
    either_polarity : bool or None
        Whether it lights either way round; None where nobody knows.
    dim_level_of : str or None
        The light source of which this is the dim level: both are one article, bought once.
    note : str
        Anything worth keeping.
    supply : tuple of float or None [V]
        The lowest and the highest supply that it is made for; None for that of the vehicle.

    Examples
    --------
    >>> Offer(leds.coloured_led("red", luminous_flux=120.0, name="red LED A"), price=6.50).name
    'red LED A'
    """

    source: LightSource
    price: float | None = None
    base: str | None = None
    feed: str | None = None
    either_polarity: bool | None = None
    dim_level_of: str | None = None
    note: str = ""
    supply: tuple[float, float] | None = None

    @property
    def name(self) -> str:
        """Name the light source."""
        return self.source.name

    def made_for(self, supply_voltage: float) -> bool:
        """Tell whether it is made for a supply; what is rated at 12.8 V or 13.5 V is made for 12 V."""
        low, high = self.supply or (supply_voltage, supply_voltage)
        if low == high:
            below, above = markings.SPAN
            return below * supply_voltage <= low <= above * supply_voltage
        return low <= supply_voltage <= high


Given = Mapping[str, Any]
"""What one section says, each key checked by itself."""


def of_section(kind: type[T], given: Given, **renamed: str) -> T:
    """Make what a section tells of: a key without its unit is a field, unless it is renamed."""
    named = {renamed.get(key) or schema.stem(key): value for key, value in given.items()}
    return kind(**{key: tuple(value) if isinstance(value, list) else value for key, value in named.items()})


def asked(given: Given) -> Asked:
    """Read what is asked out of the section of the vehicle; what is not told is asked as usual."""
    fields = {"left_and_right_alike": "alike", **{field: field for field in Asked.__dataclass_fields__}}
    return Asked(**{field: given[key] for key, field in fields.items() if key in given})


def circuit(given: Given) -> Circuit:
    """Make a circuit out of its section."""
    if given.get("fuse_mark") == "none" and "fuse_A" in given:
        raise InputError("a fuse that is not there has no amperes", key="fuse_mark", expected="it without fuse_A")
    known = {key: value for key, value in given.items() if value != "unknown"}
    return of_section(Circuit, known, tell_tale_W="tell_tale_power", trailer_W="trailer_power")


def meter_reading(given: Given) -> MeterReading:
    """Make a reading of a meter out of its section."""
    # With positive earth, or the leads exchanged, a meter shows a minus.
    unsigned = {key: abs(given[key]) for key in ("current_A", "socket_V") if key in given}
    return of_section(MeterReading, {**given, **unsigned}, socket_V="socket_voltage")


def faults_of_meter_readings(held: schema.Held) -> Iterator[Fault]:
    """List the readings of a circuit that is not there, or of lamps that are not on it."""
    circuits = schema.names_in(held["circuit"])
    if any("name" in entry.unusable for entry in (*held["circuit"], *held["lamp"])):
        return
    for entry in held["meter_reading"]:
        if not {"current_A", "socket_V"} & {*entry.values, *entry.unusable}:
            what = "neither amperes nor volts were read"
            yield entry.placed(Fault(what, key="circuit", expected="current_A, or lamp with socket_V"))
        wired = entry.values.get("circuit")
        if wired is None:
            continue
        if wired not in circuits:
            wanted = nearest(wired, circuits) if circuits else "a [[circuit]] of that name"
            yield entry.placed(Fault(f"there is no circuit '{wired}'", key="circuit", expected=wanted))
            continue
        there = [lamp.values["name"] for lamp in held["lamp"] if lamp.values.get("circuit") == wired]
        if not there:
            yield entry.placed(Fault(f"no lamp is on the circuit '{wired}'", key="circuit", expected="one with lamps"))
            continue
        for key in ("lit", "lamp"):
            given = entry.values.get(key, ())
            for name in (given,) if isinstance(given, str) else given:
                if name not in there:
                    what = f"there is no lamp '{name[:40]}' on the circuit '{wired}'"
                    yield entry.placed(Fault(what, key=key, expected=nearest(name, there)))
        if "lit" in entry.values and entry.values.get("lamp", entry.values["lit"][0]) not in entry.values["lit"]:
            what = "the volts were read at a lamp that was dark"
            yield entry.placed(Fault(what, key="lamp", expected="one of those that were lit"))


def faults_of_dim_levels(entries: Sequence[schema.Entry], every_name_known: bool) -> Iterator[Fault]:
    """List the dim levels of nothing, and those that are no dimmer."""
    known = [entry.values for entry in entries if "name" in entry.values]
    claims = {given["name"]: given.get("claimed_lumens_lm") for given in known}
    for entry in entries:
        bright, own = entry.values.get("dim_level_of"), entry.values.get("name")
        if bright is None:
            continue
        if bright not in claims and not every_name_known:
            continue
        if bright not in claims or bright == own:
            wanted = nearest(bright, [name for name in claims if name != own])
            what = f"there is no other light source '{bright}'"
            yield entry.placed(Fault(what, key="dim_level_of", expected=wanted))
            continue
        dim, most = entry.values.get("claimed_lumens_lm"), claims[bright]
        if dim is not None and most is not None and most <= dim:
            what = f"the dim level is no dimmer than '{bright}'"
            yield entry.placed(Fault(what, key="claimed_lumens_lm", expected=f"fewer lumens than {most:g}"))


def part(given: Given) -> CircuitPart:
    """Make a part on offer out of its section."""
    return of_section(CircuitPart, given)


def about(key: str, error: InputError) -> InputError:
    """Word an error that arose while one key was put to use as one of that key; that of another file stays."""
    if error.file is not None:
        return error
    return InputError(error.what, key=key, expected=error.expected, remedy=error.remedy)


def offer(given: Given, folder: Path, running_voltage: float) -> Offer:
    """Make a light source on offer out of its section."""
    kinds = {"cct_K": "white", "colour": "coloured", "peak_nm": "coloured", "spectrum": "measured"}
    there = {kind: key for key, kind in reversed(kinds.items()) if key in given}
    if len(there) != 1:
        found = " and ".join(there.values())
        raise InputError(
            f"{found} contradict each other" if there else "nothing says what its light is",
            key=next(iter(there.values()), None),
            expected="one of cct_K for white, colour or peak_nm for coloured, spectrum for a measured one",
        )
    kind, main = next(iter(there.items()))
    for key, needed in GOES_WITH.items():
        if key in given and kind != needed:
            only = f"{key} with a {needed} light source only"
            raise InputError(f"{key} does not go with {main}", key=key, expected=only)
    try:
        of_light = {key: value for key, value in given.items() if key not in APART_FROM_LIGHT}
        source = once(_sold, of_light, folder, kind, running_voltage)
    except InputError as error:
        raise about(main, error) from None
    return Offer(
        source=source,
        price=given.get("price"),
        base=given.get("base"),
        feed=given.get("feed"),
        either_polarity=given.get("either_polarity"),
        dim_level_of=given.get("dim_level_of"),
        note=given.get("note", ""),
        supply=_supply(given.get("voltage_V")),
    )


APART_FROM_LIGHT = ("price", "note", "feed", "either_polarity")
"""Keys of a light source on which its light does not hang."""


def once(make: Callable[..., T], given: Given, folder: Path, *more: str | float) -> T:
    """Make the same thing for the same section and file: a plan knows again what it worked out for it."""
    try:
        beside_it = [(folder / str(given[key])).stat() for key in ("curve", "spectrum") if key in given]
    except (OSError, ValueError):
        return make(given, folder, *more)  # which tells what is wrong with the file
    files = tuple((one.st_mtime_ns, one.st_size) for one in beside_it)
    made: T = _made_once(make, json.dumps(dict(given)), files, folder, *more)
    return made


@lru_cache(maxsize=512)
def _made_once(make: Callable[..., T], section: str, files: tuple[object, ...], folder: Path, *more: str | float) -> T:
    return make(json.loads(section), folder, *more)


def _sold(given: Given, folder: Path, kind: str, voltage: float) -> LightSource:
    source = _source(given, folder, kind, voltage)
    if "claimed_lumens_lm" not in given:
        source = light_source.unclaimed(source, dim="dim_level_of" in given)
    return light_source.level_of(source, given["dim_level_of"]) if "dim_level_of" in given else source


def _source(given: Given, folder: Path, kind: str, voltage: float) -> LightSource:

    def known(key: str) -> tuple[float, float] | None:
        return (given[key][0], given[key][1]) if key in given else None

    common: dict[str, Any] = {
        "luminous_flux": given.get("claimed_lumens_lm", 1.0),
        "electrical_power": given.get("power_W"),
        "voltage": voltage,
        "name": given["name"],
        "layout": given.get("layout"),
        "true_over_claimed": known("true_over_claimed"),
        "base": given.get("base"),
        "hot_over_cold": known("hot_over_cold"),
        "beam_ratio": known("beam_ratio"),
    }
    if kind == "white":
        common |= {"cct_uncertainty": given.get("cct_uncertainty_K"), "duv_uncertainty": given.get("duv_uncertainty")}
        return leds.white_led(given["cct_K"], given.get("duv"), **common)
    if kind == "measured":
        path = beside(folder, given["spectrum"])
        return light_source.measured_source(path, outside=given.get("outside", "error"), **common)
    numbers = {"peak": "peak_nm", "peak_uncertainty": "peak_uncertainty_nm", "fwhm": "fwhm_nm"}
    common |= {name: given.get(key) for name, key in numbers.items()}
    return leds.coloured_led(given.get("colour"), drift=known("drift_nm"), **common)


def beside(folder: Path, name: str) -> Path:
    """Find a file that the vehicle file names; nothing outside of its folder is opened, by no path and no link."""
    path = folder / name
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
        there = inside and path.is_file()
    except (OSError, RuntimeError):  # a name that no file can have, or links in a circle
        inside, there = True, False
    if not inside:
        raise InputError(
            f"'{name}' leads out of the folder of the vehicle",
            expected="the name of a file beside vehicle.toml",
            remedy="copy it there",
        )
    if not there:
        raise InputError(f"there is no file '{name}' in the folder", expected="a CSV file beside it")
    return path


def _supply(rated: float | list[float] | None) -> tuple[float, float] | None:
    if rated is None:
        return None
    return (rated[0], rated[1]) if isinstance(rated, list) else (rated, rated)


def lens(given: Given, folder: Path) -> Lens:
    """Make a lens out of its section."""
    ways = {
        "curve": ("curve",),
        "edge": ("edge_nm", "width_nm", "edge_uncertainty_nm"),
        "light and colour": ("luminous_transmittance", "x", "y"),
    }
    there = {way: next(key for key in keys if key in given) for way, keys in ways.items() if set(keys) & set(given)}
    if len(there) > 1:
        raise InputError(
            f"{' and '.join(there.values())} describe the lens in two ways",
            key=list(there.values())[1],
            expected="a curve, or an edge, or its transmittance and colour under illuminant A",
        )
    key = next(iter(there.values()), "colour")
    try:
        made = _lens(given, folder, next(iter(there), ""))
        if "thickness_ratio" in given:
            key = "thickness_ratio"
            made = changed_lens.thicker(made, float(given[key]))
        if "dye_left" in given:
            key = "dye_left"
            made = changed_lens.faded(made, float(given[key]))
    except InputError as error:
        raise about(key, error) from None
    return replace(made, notes=(*made.notes, given["note"])) if given.get("note") else made


def _lens(given: Given, folder: Path, way: str) -> Lens:
    name, colour, material = given["name"], given["colour"], given.get("material", "plastic")
    if way == "curve":
        path, outside = beside(folder, given["curve"]), given.get("outside", "error")
        return coloured_lens.read(path, colour=colour, outside=outside, material=material, name=name)
    if way == "light and colour":
        if ("x" in given) != ("y" in given):
            missing, other = ("y", "x") if "x" in given else ("x", "y")
            raise InputError(f"{other} stands there without {missing}", expected="both, or neither")
        return changed_lens.from_measured(
            colour,
            luminous_transmittance=given.get("luminous_transmittance"),
            chromaticity=(given["x"], given["y"]) if "x" in given else None,
            material=material,
            name=name,
        )
    preset = coloured_lens.load(colour, material=material, name=name)
    if way != "edge":
        return preset
    if colour not in ("red", "amber"):
        raise InputError(f"a {colour} lens has no edge", expected="an edge for a red or an amber lens")
    if "edge_nm" not in given:
        raise InputError("the key 'edge_nm' is missing", expected="it beside width_nm and edge_uncertainty_nm")
    said = "as stated in the vehicle file"
    spread = float(given.get("edge_uncertainty_nm", EDGE_UNCERTAINTY))
    beliefs = sampling.set_belief(
        preset.beliefs, "edge wavelength", typical=float(given["edge_nm"]), spread=spread, source=said
    )
    if "width_nm" in given:
        beliefs = sampling.set_belief(
            beliefs, "edge width", typical=float(given["width_nm"]), spread=WIDTH_UNCERTAINTY, source=said
        )
    return coloured_lens.of_model(name, colour, preset.model, beliefs, material, ["edge as stated in the vehicle file"])
