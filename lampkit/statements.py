"""What a result says: a key and the values that fill it; the words stand in `words/`, one file a language."""

import tomllib
from collections.abc import Iterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lampkit import numbers
from lampkit.errors import InputError, nearest

if TYPE_CHECKING:
    from jinja2 import Environment, Template

WORDS = Path(__file__).resolve().parent / "words"


@dataclass(frozen=True)
class Statement:
    """One thing that is said: its key in the words, and the values that fill it."""

    key: str
    values: Mapping[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        return (SPOKEN.get() or words()).text(self)


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
    compiled: "dict[str, Template]" = field(default_factory=dict)

    def text(self, said: Statement) -> str:
        """Write a statement, and every statement inside it, in these words."""
        if said.key not in self.sources:
            raise InputError(f"there are no words for '{said.key}'", expected=nearest(said.key, self.sources))
        if said.key not in self.compiled:
            self.compiled[said.key] = self.surroundings.from_string(self.sources[said.key])
        before = SPOKEN.set(self)  # statements inside a list, which a filter writes, must speak the same language
        try:
            return self.compiled[said.key].render(said.values)
        finally:
            SPOKEN.reset(before)


SPOKEN: ContextVar[Words | None] = ContextVar("SPOKEN", default=None)
"""The words in which a statement inside another one is written."""


@cache
def words(language: str = "en") -> Words:
    """Read the words of a language that ships with the kit."""
    return read_words(WORDS / f"{language}.toml")


def read_words(file: Path) -> Words:
    """Read words from a file: each key a template."""
    with file.open("rb") as stream:
        return Words(dict(_entries(tomllib.load(stream))), surroundings())


def _entries(tree: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, str]]:
    for name, value in tree.items():
        key = f"{above}.{name}" if above else name
        if isinstance(value, str):
            yield key, value
        else:
            yield from _entries(value, key)


def surroundings() -> "Environment":
    """Make the surroundings in which words are written: the filters of `numbers`, and nothing may be missing."""
    from jinja2 import Environment, StrictUndefined

    environment = Environment(undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters.update(numbers.FILTERS)
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
