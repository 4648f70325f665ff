"""A vehicle file while it is being written: changed key by key, whole or faulty, saved with the old one kept beside."""

import codecs
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from lampkit import written_files
from lampkit.errors import Fault, InputError
from lampkit.vehicle import file, lamps, schema, vehicle
from lampkit.vehicle.vehicle import Vehicle

KEPT = "vehicle.before.toml"
"""Where the old file is kept until the next save."""

REMEDY = "choose another place"

SIDES = ("left", "right")

NAMED_BY = {
    "light_source": (("lamp", "candidates"), ("lamp", "fitted"), ("light_source", "dim_level_of")),
    "lens": (("lamp", "lens"),),
    "circuit": (("lamp", "circuit"), ("meter_reading", "circuit")),
    "lamp": (("meter_reading", "lit"), ("meter_reading", "lamp")),
}
"""The keys that name something of a section."""


class Change(NamedTuple):
    """One key of one section that shall have a value, or none.

    Parameters
    ----------
    section : str
        The section, as in 'lamp'.
    number : int [1]
        Which of them, counted from zero.
    key : str
        The key.
    value : object
        What it shall say, or None where it shall go.

    Examples
    --------
    >>> Change("vehicle", 0, "year", 1964).key
    'year'
    """

    section: str
    number: int
    key: str
    value: Any


class Assumption(NamedTuple):
    """A key that is not told: what it is, and what is assumed in its place."""

    key: str
    title: str
    assumed: str


class Draft:
    """A vehicle file that is being written; nothing is on disk before it is saved.

    Parameters
    ----------
    place : str or Path
        The folder of the vehicle, or its vehicle.toml; a folder that is not there yet is made by the first save.

    Raises
    ------
    InputError
        What stands there is no TOML, or cannot be read. A file with other faults is opened, and `faults` tells them.

    Examples
    --------
    >>> import tempfile
    >>> draft = Draft(tempfile.mkdtemp())
    >>> draft.put(Change("vehicle", 0, "name", "My van"), Change("vehicle", 0, "supply_voltage_V", 12))
    >>> _ = draft.add_offer({"name": "red LED", "colour": "red", "claimed_lumens_lm": 120})
    >>> _ = draft.add_lamp({"name": "Stop lamp", "function": "stop", "lens": "red", "filament": "P21W"})
    >>> draft.faults(), draft.made().lamps[0].candidates[0].name
    ((), 'red LED')
    """

    def __init__(self, place: str | Path) -> None:
        path = Path(place)
        new = not path.exists() and path.suffix != ".toml" and path.parent.is_dir()
        self.file = path / file.NAME if new else file.target(path)
        self.text = ""
        self._raw: bytes | None = None
        self._earlier: list[str] = []
        self._judged: tuple[str, tuple[Fault, ...]] | None = None
        self.read()

    def read(self) -> None:
        """Read the file anew; what was changed and not saved is lost."""
        self._raw = self._on_disk()
        self._earlier.clear()
        self.text = "" if self._raw is None else file.text_of(self.file)
        if self.text.strip():
            file.parsed(self.file, self.text)

    @property
    def kept(self) -> Path:
        """The place of the old file."""
        return self.file.with_name(KEPT)

    @property
    def changed(self) -> bool:
        """Whether it differs from what is on disk."""
        return self._bytes() != (self._raw or b"")

    # --- what it says ---------------------------------------------------------------------------------------------

    def entries(self, section: str) -> list[dict[str, Any]]:
        """List what stands in a section, one entry after the other; it is read only."""
        held = _parsed(self.text).get(section, [])
        listed = held if isinstance(held, list) else [held]
        return [entry for entry in listed if isinstance(entry, dict)]

    def names(self, section: str) -> list[str]:
        """List the names in a section; what has none is called by its number."""
        return [str(entry.get("name", number + 1)) for number, entry in enumerate(self.entries(section))]

    def lamps(self) -> list[str]:
        """List the names of the lamps, each side of a lamp that stands for both by its own."""
        both = zip(self.names("lamp"), self.entries("lamp"), strict=True)
        return [f"{name} {side}".rstrip() for name, lamp in both for side in (SIDES if "sides" in lamp else ("",))]

    def faults(self) -> tuple[Fault, ...]:
        """Tell everything that keeps the file from being used."""
        if self._judged is None or self._judged[0] != self.text:
            try:
                self.made()
            except InputError as error:
                self._judged = self.text, error.faults
            else:
                self._judged = self.text, ()
        return self._judged[1]

    def faults_of(self, section: str, number: int) -> tuple[Fault, ...]:
        """Tell what is wrong with one entry, without the place, which is known."""
        if not self.faults():
            return ()
        lines = file.lines_of_keys(self.text)
        if (section, number) not in lines:
            return ()
        first = lines[section, number][""]
        last = min((held[""] for held in lines.values() if held.get("", 0) > first), default=10**9)
        found = (fault for fault in self.faults() if fault.line is not None and first <= fault.line < last)
        return tuple(replace(fault, file=None, line=None) for fault in found)

    def made(self) -> Vehicle:
        """Make the vehicle that it describes; everything that is wrong with it is told."""
        return vehicle.made(file.parsed(self.file, self.text))

    def not_told(self, section: str, number: int) -> list[Assumption]:
        """List what one entry leaves out, with what is assumed in its place."""
        entries = self.entries(section)
        told = entries[number] if number < len(entries) else {}
        found = []
        for key, held in schema.sections()[section]["properties"].items():
            default = held.get("default", held.get("x-default"))
            if key in told or isinstance(default, bool) or default in (None, "-", "none", "nothing"):
                continue
            found.append(Assumption(key, held["title"].replace("`", ""), str(default).replace("`", "")))
        return found

    def bearing_on(self, lamp: str) -> str:
        """Gather everything on which the light of a lamp hangs; while it stays the same, so does its assessment."""
        lamps = self.entries("lamp")
        mine = next(one for one in lamps if lamp in (one["name"], *(f"{one['name']} {side}" for side in SIDES)))
        wired = [one for one in lamps if "circuit" in one and one["circuit"] == mine.get("circuit")]
        kept = {key: value for key, value in mine.items() if key not in ("name", "note")}
        section = {
            "light_source": mine.get("candidates", ()), "lens": (mine["lens"],), "circuit": (mine.get("circuit"),)
        }  # fmt: skip
        found = {
            name: [one for one in self.entries(name) if one.get("name") in wanted] for name, wanted in section.items()
        }
        return repr(
            (lamp.rsplit(" ", 1)[-1], kept, wired, found, self.entries("vehicle"), self.entries("meter_reading"))
        )

    # --- changes --------------------------------------------------------------------------------------------------

    def put(self, *changes: Change) -> None:
        """Give keys new values, or take them out where the value is None; all other lines stay as they are."""
        before, wanted = self._plain(), self._plain()
        for section, number, key, value in changes:
            _set(wanted, section, number, key, value)
        self._become(wanted, lambda: _written(self.text, before, changes), lambda: self._by_document(changes))

    def add(self, section: str, values: Mapping[str, Any]) -> int:
        """Add an entry behind the last of its section, and give its number."""
        told = {key: values[key] for key in schema.sections()[section]["properties"] if values.get(key) is not None}
        wanted, number = self._plain(), len(self.entries(section))
        if section == "vehicle":
            wanted[section] = told
        else:
            wanted.setdefault(section, []).append(told)
        self._become(
            wanted, lambda: _with_block(self.text, section, told), lambda: self._by_document((), add=(section, told))
        )
        return number

    def remove(self, section: str, number: int) -> None:
        """Take an entry out, and its name from where it is named."""
        name = self.entries(section)[number].get("name")
        uses = [*self._uses(section, name, None)] if name else []
        if uses:
            self.put(*uses)
        wanted = self._plain()
        del wanted[section][number]
        if not wanted[section]:
            del wanted[section]
        self._become(
            wanted,
            lambda: _without_block(self.text, section, number),
            lambda: self._by_document((), remove=(section, number)),
        )

    def rename(self, section: str, number: int, name: str) -> None:
        """Give an entry another name, also where it is named."""
        old = self.entries(section)[number].get("name")
        uses = [*self._uses(section, old, name)] if old else []
        self.put(Change(section, number, "name", name), *uses)

    def tell_apart(self, number: int) -> list[str]:
        """Write a lamp that stands there for both sides as two, and give their names; what each says stays the same."""
        lamp, earlier = self.entries("lamp")[number], len(self._earlier)
        if "sides" not in lamp:
            raise InputError("this lamp does not stand for both sides", key="sides", expected="a lamp with both sides")
        one, other = (lamps.of_side(lamp, side) for side in SIDES)
        try:
            self.put(*(Change("lamp", number, k, one.get(k)) for k in (*lamp, *one) if one.get(k) != lamp.get(k)))
            self.add("lamp", other)
        finally:
            if len(self._earlier) > earlier + 1:  # it is taken back as one change
                del self._earlier[earlier + 1 :]
        return [one["name"], other["name"]]

    def add_lamp(self, values: Mapping[str, Any]) -> int:
        """Add a lamp, with every light source on offer that fits it where the values name none."""
        fitting = [offer["name"] for offer in self.entries("light_source") if "name" in offer]
        offers = {offer.get("name"): offer for offer in self.entries("light_source")}
        fitting = [name for name in fitting if lamps.fits(values, offers[name], self._lens_colour(values))]
        return self.add("lamp", {"candidates": fitting, **values})

    def add_offer(self, values: Mapping[str, Any], dim_lumens: float | None = None) -> int:
        """Add a light source, with its dim level where it has one, and offer it to every lamp that it fits."""
        number = self.add("light_source", values)
        added = [self.entries("light_source")[number]]
        if dim_lumens is not None:
            name = f"{values['name']} dim"
            own = {key: value for key, value in values.items() if key not in ("power_W", "price", "note")}
            bright = {"name": name, "dim_level_of": values["name"], "claimed_lumens_lm": dim_lumens}
            dim = self.add("light_source", {**own, **bright})
            added.append(self.entries("light_source")[dim])
        self.put(*self._offered(added))
        return number

    def undo(self) -> bool:
        """Take the last change back; nothing where there is none."""
        if not self._earlier:
            return False
        self.text = self._earlier.pop()
        return True

    def _offered(self, offers: Sequence[Mapping[str, Any]]) -> Iterator[Change]:
        """Offer light sources to the lamps that they fit; those with a dim level only where there are two filaments."""
        for number, lamp in enumerate(self.entries("lamp")):
            has = lamp.get("candidates", [])
            new = [o["name"] for o in offers if lamps.fits(lamp, o, self._lens_colour(lamp)) and o["name"] not in has]
            if new and isinstance(has, list):
                yield Change("lamp", number, "candidates", [*has, *new])

    def _lens_colour(self, lamp: Mapping[str, Any]) -> str:
        named = {lens.get("name"): lens.get("colour") for lens in self.entries("lens")}
        return str(named.get(lamp.get("lens")) or lamp.get("lens"))

    def _uses(self, section: str, name: str, other: str | None) -> Iterator[Change]:
        """Word another name, or none, wherever a name is used."""
        both = {name: other, **{f"{name} {side}": other and f"{other} {side}" for side in SIDES}}
        changed = both if section == "lamp" else {name: other}
        for where, key in NAMED_BY.get(section, ()):
            for number, entry in enumerate(self.entries(where)):
                value = entry.get(key)
                if isinstance(value, list) and not changed.keys().isdisjoint(value):
                    left = [changed.get(one, one) for one in value]
                    yield Change(where, number, key, [one for one in left if one is not None])
                elif isinstance(value, str) and value in changed:
                    yield Change(where, number, key, changed[value])

    def _become(self, wanted: dict[str, Any], *ways: Any) -> None:
        """Take the first way of writing that means what is wanted, and nothing else."""
        if _same(self._plain(), wanted):
            return
        for way in ways:
            try:
                text = way()
                if _same(tomllib.loads(text), wanted):
                    self._earlier.append(self.text)
                    self.text = text
                    return
            except Exception:
                continue  # a file may be laid out in any way; the next way of writing is tried
        what, remedy = "this file is laid out in a way that is not changed here", "change it in a text editor"
        raise InputError(what, file=self.file, remedy=remedy)

    def _by_document(
        self,
        changes: Sequence[Change],
        add: tuple[str, dict[str, Any]] | None = None,
        remove: tuple[str, int] | None = None,
    ) -> str:
        """Change it as a document that keeps comments and order, however it is laid out."""
        import tomlkit

        document = tomlkit.parse(self.text)
        for section, number, key, value in changes:
            _set(document, section, number, key, value)
        if add is not None:
            document.setdefault(add[0], tomlkit.aot()).append(add[1])
        if remove is not None:
            del document[remove[0]][remove[1]]
            if not document[remove[0]]:
                del document[remove[0]]
        return tomlkit.dumps(document)

    def _plain(self) -> dict[str, Any]:
        return tomllib.loads(self.text)

    # --- on disk --------------------------------------------------------------------------------------------------

    def save(self) -> bool:
        """Write it, whole or not at all, with the old file beside it; tell whether there was something to write."""
        if not self.changed:
            return False
        if self._on_disk() != self._raw:
            raise InputError(
                "the file was changed by something else since it was opened",
                file=self.file,
                remedy="open it again; what was changed here is lost then",
            )
        if not self.file.parent.exists():
            try:
                self.file.parent.mkdir()
            except OSError as error:
                what = f"the folder cannot be made ({error.strerror})"
                raise InputError(what, file=self.file.parent, remedy=REMEDY) from None
        if self._raw is not None:
            written_files.replace(self.kept, self._raw, what="the copy of the vehicle file", remedy=REMEDY)
        raw = self._bytes()
        written_files.replace(self.file, raw, what="the vehicle file", remedy=REMEDY)
        self._raw = raw
        return True

    def restore(self) -> None:
        """Put the old file back in its place; the one that stood there is kept beside in its turn."""
        if not self.kept.is_file():
            raise InputError("no older file is kept here", file=self.kept, expected="a file that was saved once before")
        old = self.kept.read_bytes()
        now = self._on_disk()
        written_files.replace(self.file, old, what="the vehicle file", remedy=REMEDY)
        if now is not None:
            written_files.replace(self.kept, now, what="the copy of the vehicle file", remedy=REMEDY)
        self.read()

    def _on_disk(self) -> bytes | None:
        return self.file.read_bytes() if self.file.is_file() else None

    def _bytes(self) -> bytes:
        marked = self._raw is not None and self._raw.startswith(codecs.BOM_UTF8)
        return (codecs.BOM_UTF8 if marked else b"") + self.text.encode("utf-8")


@lru_cache(maxsize=8)
def _parsed(text: str) -> Mapping[str, Any]:
    return MappingProxyType(tomllib.loads(text))


# --- a text with one thing changed ------------------------------------------------------------------------------------


def _set(held: Any, section: str, number: int, key: str, value: Any) -> None:
    _set_key(held.setdefault(section, {}) if section == "vehicle" else held[section][number], key, value)


def _set_key(table: Any, key: str, value: Any) -> None:
    if value is None:
        table.pop(key, None)
    elif isinstance(value, list) and isinstance(table.get(key), list) and value[: len(table[key])] == table[key]:
        for one in value[len(table[key]) :]:  # a list that only grows keeps its layout
            table[key].append(one)
    elif isinstance(value, dict) and isinstance(table.get(key), dict):
        for one in table[key].keys() - value.keys():
            del table[key][one]
        for one in value:
            table[key][one] = deepcopy(value[one])
    else:
        table[key] = deepcopy(value)


def _same(one: Any, other: Any) -> bool:
    """Tell whether two documents say the same, down to whether a number is whole."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return type(one) is type(other) and (one == other or one != one)


def _written(text: str, before: Mapping[str, Any], changes: Sequence[Change]) -> str:
    """Write keys, each in its own lines."""
    for change in changes:
        held = before.get(change.section, {})
        there = change.key in (held if change.section == "vehicle" else held[change.number])
        if there and change.value is not None:
            text = _with_value(text, change)
        elif there:
            text = _without_key(text, change)
        elif change.value is not None:
            text = _with_key(text, change)
    return text


def _with_value(text: str, change: Change) -> str:
    """Write the lines of one key with another value; they are a document of their own, which keeps their comments."""
    import tomlkit

    lines = text.split("\n")
    first = file.lines_of_keys(text)[change.section, change.number][change.key]
    last = file.last_line(lines, first)
    own = tomlkit.parse("\n".join([*lines[first - 1 : last], ""]))
    _set_key(own, change.key, change.value)
    return "\n".join([*lines[: first - 1], tomlkit.dumps(own).removesuffix("\n"), *lines[last:]])


def _line(key: str, value: Any) -> str:
    import tomlkit

    if isinstance(value, dict):
        held = tomlkit.inline_table()
        held.update(value)
        return f"{key} = {held.as_string()}"
    return f"{key} = {tomlkit.item(value).as_string()}"


def _with_key(text: str, change: Change) -> str:
    lines, keys = text.split("\n"), file.lines_of_keys(text)
    if (change.section, change.number) not in keys:
        return _with_block(text, change.section, {change.key: change.value})
    last = max(file.last_line(lines, n) for n in keys[change.section, change.number].values())
    return _put_in(lines, last, [_line(change.key, change.value)])


def _without_key(text: str, change: Change) -> str:
    lines = text.split("\n")
    first = file.lines_of_keys(text)[change.section, change.number][change.key]
    return "\n".join(lines[: first - 1] + lines[file.last_line(lines, first) :])


def _end_of(text: str, section: str, number: int) -> int:
    """Find the last line of an entry and of the tables inside it."""
    lines, keys = text.split("\n"), file.lines_of_keys(text)
    first = keys[section, number][""]
    following = sorted((held[""], name) for (name, _), held in keys.items() if held.get("", 0) > first)
    outside = next((line for line, name in following if not name.startswith(f"{section}.")), len(lines) + 1)
    begun = [n for held in keys.values() for n in held.values() if first <= n < outside]
    return max(file.last_line(lines, n) for n in begun)


def _with_block(text: str, section: str, values: Mapping[str, Any]) -> str:
    """Write an entry behind the last one of its section, or else of the sections that usually stand before it."""
    block = [schema.heading(section), *(_line(key, value) for key, value in values.items())]
    order = [*schema.completed()["properties"]]
    there = [key for key in file.lines_of_keys(text) if key[0] in order[: order.index(section) + 1]]
    if not there:
        after = text.rstrip()
        return "\n".join([*([after, ""] if after else []), *block, ""])
    last = max(there, key=lambda key: (order.index(key[0]), key[1]))
    return _put_in(text.split("\n"), _end_of(text, *last), ["", *block])


def _without_block(text: str, section: str, number: int) -> str:
    lines = text.split("\n")
    first, last = file.lines_of_keys(text)[section, number][""], _end_of(text, section, number)
    if last < len(lines) and not lines[last].strip() and (first < 2 or not lines[first - 2].strip()):
        last += 1
    return "\n".join(lines[: first - 1] + lines[last:])


def _put_in(lines: list[str], after: int, new: Sequence[str]) -> str:
    """Put lines behind a line, with the line ends that stand there."""
    end = "\r" if lines[after - 1].endswith("\r") else ""
    behind = lines[after:] or [""]
    return "\n".join([*lines[:after], *(f"{line}{end}" for line in new), *behind])
