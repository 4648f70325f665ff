"""The lamp functions by the trade's terms: lens colours, flashing, and what else the kit has to know of each."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from lampkit import tables
from lampkit.errors import InputError, nearest


@dataclass(frozen=True)
class LampFunction:
    """What a lamp does on a vehicle."""

    name: str
    also_called: tuple[str, ...]
    lenses: tuple[str, ...]
    flashes: bool
    brakes: bool
    seen: bool
    spacing: bool
    road: bool
    tell_tale: bool
    keep: bool
    outshines: str
    ratio: str
    words: tuple[str, ...]
    categories: Mapping[str, str]
    source: str
    known: str


@cache
def functions() -> Mapping[str, LampFunction]:
    """List the lamp functions that the kit knows, by name."""
    usual: dict[str, dict[str, str]] = {}
    for row in tables.load("rules", "usual_categories").rows():
        usual.setdefault(row["function"], {})[row["rules"]] = row["category"]
    found = {}
    for row in tables.load("rules", "functions").rows():
        for key in ("also_called", "lenses", "words"):
            row[key] = tables.split_cell(row[key])
        for key in ("flashes", "brakes", "seen", "spacing", "road", "tell_tale", "keep"):
            row[key] = row[key] == "yes"
        found[row["name"]] = LampFunction(categories=MappingProxyType(usual.get(row["name"], {})), **row)
    return MappingProxyType(found)


def names() -> tuple[str, ...]:
    """List the lamp functions by name."""
    return tuple(functions())


@cache
def aliases() -> Mapping[str, str]:
    """List the other terms that are understood, each with the name that it stands for."""
    return MappingProxyType({other: one.name for one in functions().values() for other in one.also_called})


def function(name: str) -> LampFunction:
    """Look up a lamp function by its name, or by another term that is understood.

    Parameters
    ----------
    name : str
        A term of the trade, as in 'stop' or 'brake'.

    Returns
    -------
    LampFunction
        The function.

    Raises
    ------
    InputError
        There is no such function.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.rules.function("backup").name
    'reversing'
    """
    known = functions()
    if (wanted := str(name)) not in known and (wanted := term(wanted)) not in known:
        expected = nearest(wanted, [*known, *aliases()])
        remedy = None if expected.startswith("did you mean") else "take what comes nearest, and tell the rest in a note"
        raise InputError(f"the lamp function '{name}' is unknown", key="function", expected=expected, remedy=remedy)
    return known[wanted]


def term(word: str) -> str:
    """Give the name that a term stands for, in capitals or not, with 'lamp', 'light' or 'signal' behind it or not."""
    named = _named()
    asked = " ".join(str(word).casefold().replace("_", " ").split())
    bare = re.sub(r"\s+(lamp|light|signal)s?$", "", asked)
    return named.get(asked) or named.get(bare) or named.get(f"{bare} lamp") or word


@cache
def _named() -> Mapping[str, str]:
    return {other.casefold(): name for other, name in (*aliases().items(), *((one, one) for one in functions()))}


def suggested_by(lamp: str) -> LampFunction | None:
    """Guess the function of a lamp from what somebody called it; the phrase of most words counts first."""
    called = lamp.casefold()
    phrases = [(word, one) for one in functions().values() for word in one.words if word in called]
    return max(phrases, key=lambda found: len(found[0].split()), default=("", None))[1]
