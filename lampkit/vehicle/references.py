"""What the sections of a vehicle file say of each other: names that are taken, holders that are shared, dim levels."""

from collections.abc import Iterator, Mapping, Sequence

from lampkit.errors import Fault, nearest
from lampkit.lenses.coloured_lens import COLOURS, SUBSTANCE
from lampkit.rules import functions
from lampkit.vehicle.schema import Entry

Held = Mapping[str, Sequence[Entry]]
"""The entries of each section."""

RESERVED = ("meter", "afternoon")
"""Names that belong to other things that are drawn."""


def faults_of_names(held: Held) -> Iterator[tuple[Entry, Fault]]:
    """List every name that something else has, with the section that has to take another."""
    for section in ("light_source", "lens", "circuit", "part", "lamp"):
        yield from _twins(held[section])
    yield from _shared_names(held)


def names(entries: Sequence[Entry]) -> list[str]:
    """List the names of a section."""
    return [entry.values["name"] for entry in entries if "name" in entry.values]


def _twins(entries: Sequence[Entry]) -> Iterator[tuple[Entry, Fault]]:
    first: dict[str, Entry] = {}
    for entry in entries:
        name = entry.values.get("name")
        if name is None:
            continue
        twin = first.setdefault(name.casefold(), entry)
        if twin is not entry:
            line = twin.lines.get("name", twin.lines[""])
            what = f"the name '{name}' stands there twice, first on line {line}"
            yield entry, Fault(what, key="name", expected=f"a name of its own for each [[{entry.section}]]")


def _shared_names(held: Held) -> Iterator[tuple[Entry, Fault]]:
    """Draws are told apart by the names of their owners, so no two owners may share one."""
    designations = {entry.values["filament"].casefold() for entry in held["lamp"] if "filament" in entry.values}
    filaments = {f"{designation}{part}" for designation in designations for part in ("", " major", " minor")}
    plain = {*COLOURS, *(f"{colour} {material}" for colour in COLOURS for material in SUBSTANCE)}
    lens_names = {name.casefold() for name in names(held["lens"])}
    for entry in (*held["light_source"], *held["lens"]):
        name = entry.values.get("name", "")
        word = name.casefold()
        what = ""
        if word in RESERVED or word in filaments:
            what = f"'{name}' already names something else"
        elif entry.section == "lens" and word in plain:
            what = f"'{name}' already means a lens of which only the colour is known"
        elif entry.section == "light_source" and word in lens_names:
            what = f"'{name}' also names a lens"
        if what:
            yield entry, Fault(what, key="name", expected="another name")


def faults_of_dim_levels(entries: Sequence[Entry], every_name_known: bool) -> Iterator[Fault]:
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


OF_THE_SOURCE = ("lens", "lens_material", "candidates", "quantity", "fitted", "position")
"""The keys that cannot differ between the functions of one filament."""

OF_THE_LENS = ("lens", "lens_material")
"""Those that may differ where it burns steadily: a tail lamp lights a number plate, a side lamp shows red behind."""


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


def faults_of_meter_readings(held: Held) -> Iterator[Fault]:
    """List the readings of a circuit that is not there, or of lamps that are not on it."""
    circuits = names(held["circuit"])
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
