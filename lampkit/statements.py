"""What a result says: a key and the values that fill it; the words stand in `words/`, one file a language."""

import os
import tomllib
from collections.abc import Iterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lampkit import numbers, written_files
from lampkit.errors import InputError, nearest

if TYPE_CHECKING:
    from jinja2 import Environment, Template

WORDS = Path(__file__).resolve().parent / "words"

LARGEST_FILE = 2_000_000
"""Largest file of words that is read [byte]; the English one takes about 200 kB."""


@dataclass(frozen=True)
class Statement:
    """One thing that is said: its key in the words, and the values that fill it."""

    key: str
    values: Mapping[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        return (SPOKEN.get() or chosen()).text(self)


def say(key: str, /, **values: Any) -> Statement:
    """Make a statement; a value may itself be a statement, or a list of them."""
    return Statement(key, values)


def named(member: Enum) -> Statement:
    """Name a member of an enumeration: its words stand under the name of the enumeration."""
    return Statement(f"{type(member).__name__}.{member.name}")


@dataclass(frozen=True, eq=False)
class Words:
    """The words of one language; each is compiled when it is first said."""

    sources: Mapping[str, str]
    surroundings: "Environment"
    language: str = "en"
    lacking: tuple[str, ...] = ()
    """What the file does not say yet: it is said in English."""
    compiled: "dict[str, Template]" = field(default_factory=dict)

    def text(self, said: Statement) -> str:
        """Write a statement, and every statement inside it, in these words."""
        if said.key not in self.sources:
            raise InputError(f"there are no words for '{said.key}'", expected=nearest(said.key, self.sources))
        plain = self.sources[said.key]
        if "{" not in plain and "\n" not in plain:
            return plain  # most keys have no value to fill in, and making a template takes a millisecond
        if said.key not in self.compiled:
            into = words("en").surroundings if said.key in self.lacking else self.surroundings
            self.compiled[said.key] = into.from_string(self.sources[said.key])
        before = SPOKEN.set(self)  # statements inside a list, which a filter writes, must speak the same language
        try:
            return self.compiled[said.key].render(said.values)
        finally:
            SPOKEN.reset(before)


SPOKEN: ContextVar[Words | None] = ContextVar("SPOKEN", default=None)
"""The words in which a statement inside another one is written."""


_CHOSEN: list[Words] = []


def use(language: str | Path) -> Words:
    """Choose the language in which everything is said from now on: 'de' for words/de.toml, or a file of your own.

    What a file does not say is said in English; `lacking` lists it.
    """
    named = Path(language)
    made = translated(named) if named.suffix == ".toml" else words(str(language))
    _CHOSEN[:] = [made]
    return made


def chosen() -> Words:
    """Give the words in use: those that `use` chose, or the environment variable LAMPKIT_LANGUAGE, or English."""
    return _CHOSEN[0] if _CHOSEN else use(os.environ.get("LAMPKIT_LANGUAGE") or "en")


@cache
def words(language: str = "en") -> Words:
    """Read the words of a language that ships with the kit."""
    known = sorted(path.stem for path in WORDS.glob("*.toml"))
    if language not in known:
        told = nearest(language, known)
        raise InputError(f"there are no words for the language '{language}'", expected=f"{told}, or a file of words")
    file = WORDS / f"{language}.toml"
    return read_words(file) if language == "en" else translated(file)


def read_words(file: Path) -> Words:
    """Read words from a file: each key a template."""
    return Words(_told(file), surroundings())


def _told(file: Path) -> dict[str, str]:
    remedy = "keep the words as plain text, with the encoding UTF-8"
    expected = "a file of words, as words/en.toml"
    raw = written_files.raw_of(file, largest=LARGEST_FILE, for_one="language", expected=expected)
    try:
        return dict(_entries(tomllib.loads(written_files.text_of(file, raw, remedy=remedy)[0])))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"this is not TOML ({error})", file=file, remedy="mend it as words/en.toml has it") from None


def translated(file: Path) -> Words:
    """Read a language beside English: every key must be one of English, and what it lacks is said in English."""
    sources, english = _told(file), words("en")
    phrases = {key: value for key, value in sources.items() if key in numbers.PHRASES_BY_KEY}
    for key in [key for key in sources if key not in english.sources and key not in phrases]:
        known = [*english.sources, *numbers.PHRASES_BY_KEY]
        raise InputError(f"nothing is said by '{key}'", file=file, expected=nearest(key, known))
    own = {key: value for key, value in sources.items() if key not in phrases}
    _refuse_unknown_values(file, own, english.sources)
    lacking = tuple(key for key in english.sources if key not in own)
    return Words({**english.sources, **own}, surroundings(phrases), file.stem, lacking)


def _refuse_unknown_values(file: Path, sources: Mapping[str, str], english: Mapping[str, str]) -> None:
    """Refuse a template that cannot be read, or that asks for a value which the statement does not have."""
    from jinja2 import TemplateError, meta

    reader = surroundings()
    for key, source in sources.items():
        there = meta.find_undeclared_variables(reader.parse(english[key]))
        try:
            asked = meta.find_undeclared_variables(reader.parse(source))
            reader.from_string(source)
        except TemplateError as error:
            raise InputError(f"'{key}' cannot be read ({error.message})", file=file, key=key) from None
        for name in asked - there:
            raise InputError(f"'{key}' has no value '{name}'", file=file, key=key, expected=nearest(name, there))


def _entries(tree: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, str]]:
    for name, value in tree.items():
        key = f"{above}.{name}" if above else name
        if isinstance(value, str):
            yield key, value
        else:
            yield from _entries(value, key)


def surroundings(phrases: Mapping[str, str] | None = None) -> "Environment":
    """Make the surroundings in which words are written: the filters of `numbers`, and nothing may be missing."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters.update(numbers.spoken(phrases) if phrases else numbers.FILTERS)
    return environment


def as_data(value: Any) -> Any:
    """Give a statement, or anything that holds some, as plain data: key, values and text."""
    if isinstance(value, Statement):
        return {"key": value.key, "values": as_data(value.values), "text": str(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Mapping):
        return {str(key): as_data(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [as_data(inner) for inner in value]
    if hasattr(value, "tolist"):
        return as_data(value.tolist())
    if isinstance(value, float):
        return float(f"{value:.6g}") if value - value == 0 else None  # what JSON cannot hold becomes null
    return value
