"""The one error that is meant for the person at the bench."""

import difflib
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.numbers import listed

E = TypeVar("E", bound=Enum)

SHOWN = 20
"""How many faults of one input, or known names, are written out; the rest are counted [1]."""

LONGEST = 500
"""Letters that tell what is wrong [1]."""


@dataclass(frozen=True)
class Fault:
    """One thing that cannot be used, told as one sentence on one line."""

    what: str
    file: str | Path | None = None
    line: int | None = None
    key: str | None = None
    expected: str | None = None
    remedy: str | None = None

    def __str__(self) -> str:
        line = "" if self.line is None else f"line {self.line}"
        place = ", ".join(part for part in (str(self.file or ""), line, self.key or "") if part)
        what = in_short(self.what)
        sentence = f"{place}: {what}" if place else what
        if self.expected:
            sentence += f"; {'' if self.expected.startswith('did you mean') else 'expected '}{self.expected}"
        if self.remedy:
            sentence += f"; {self.remedy}"
        return harmless(sentence + ".")


class InputError(ValueError):
    """Something the user gave cannot be used, told as one sentence a fault that says where, what and what to do.

    Parameters
    ----------
    what : str
        What is wrong, in plain words, without a full stop.
    file : str or Path, optional
        The file in which it stands.
    line : int, optional [1]
        The line of that file, counted from one.
    key : str, optional
        The key, column or argument that holds the value.
    expected : str, optional
        What would have been right.
    remedy : str, optional
        What to do about it, when that does not follow from what was expected.
    further : sequence of Fault
        What else is wrong with the same input; the attribute `faults` holds the first one and these.

    Examples
    --------
    >>> print(InputError("13 V is not among them", file="vehicle.toml", line=3, expected="6 or 12 or 24 V"))
    vehicle.toml, line 3: 13 V is not among them; expected 6 or 12 or 24 V.
    """

    def __init__(
        self,
        what: str,
        *,
        file: str | Path | None = None,
        line: int | None = None,
        key: str | None = None,
        expected: str | None = None,
        remedy: str | None = None,
        further: Sequence[Fault] = (),
    ) -> None:
        self.what, self.file, self.line, self.key = what, file, line, key
        self.expected, self.remedy = expected, remedy
        self.faults = (Fault(what, file, line, key, expected, remedy), *further)
        told = [str(fault) for fault in self.faults[:SHOWN]]
        if len(self.faults) > SHOWN:
            told.append(f"and {len(self.faults) - SHOWN} more.")
        super().__init__("\n".join(told))


EXTRAS = {"ipywidgets": "lab", "IPython": "lab", "jupyterlab": "lab", "colour": "spectra"}
"""Libraries that not everybody needs, each with the extra of the kit that brings it."""


def missing_library(error: ModuleNotFoundError) -> InputError:
    """Word that a library is not installed, and which words install it."""
    name = (error.name or "").partition(".")[0]
    extra = f"[{EXTRAS[name]}]" if name in EXTRAS else ""
    what = f"the library {name} is needed for this and is not installed"
    return InputError(what, remedy=f"install it with: pip install 'lampkit{extra}'")


def within(value: ArrayLike, low: float, high: float, *, key: str, unit: str) -> NDArray[np.float64]:
    """Pass numbers that lie within bounds, both included, and refuse anything else in plain words."""
    array = np.asarray(value, dtype=float)
    good = (array >= low) & (array <= high)
    if not good.all():
        wrong = np.atleast_1d(array)[~np.atleast_1d(good)][0]
        raise InputError(f"{wrong:g} cannot be", key=key, expected=f"{low:g} to {high:g}{unit and f' {unit}'}")
    return array


def member(kind: type[E], value: E | str, what: str, key: str) -> E:
    """Look up a member of an enumeration by its value, and refuse what is none of them in plain words."""
    try:
        return kind(value)
    except ValueError:
        known = [str(one.value) for one in kind]
        raise InputError(f"the {what} '{value}' is unknown", key=key, expected=nearest(str(value), known)) from None


def refuse(faults: Iterable[Fault]) -> None:
    """Raise one error that tells all faults, each once, in the order of their lines; nothing when there are none."""
    told = sorted(dict.fromkeys(faults), key=lambda fault: (str(fault.file or ""), fault.line or 0))
    if told:
        first, *further = told
        raise InputError(
            first.what,
            file=first.file,
            line=first.line,
            key=first.key,
            expected=first.expected,
            remedy=first.remedy,
            further=further,
        )


MOST_ALIKE = 3
"""Faults of one kind that are told each by itself; of more the first stands for all [1]. Source: own judgement."""


def each_once(faults: Iterable[Fault]) -> list[Fault]:
    """Tell a fault that stands on several lines once, with all of its lines; and one of a kind where there are many."""
    told = list(faults)
    many = Counter((fault.key, fault.expected, fault.remedy) for fault in told)
    told.sort(key=lambda fault: fault.line or 0)
    alike: dict[Fault, list[int]] = {}
    first_of: dict[tuple[str | None, ...], Fault] = {}
    for fault in told:
        kind = (fault.key, fault.expected, fault.remedy)
        shown = first_of.setdefault(kind, fault) if many[kind] > MOST_ALIKE else fault
        alike.setdefault(replace(shown, line=None), []).append(fault.line or 0)
    found = []
    for fault, lines in alike.items():
        first, *others = sorted(set(lines))
        also = f", and so on {named_lines(others)}" if others else ""
        found.append(replace(fault, what=fault.what + also, line=first or None))
    return found


def named_lines(numbers: Sequence[int]) -> str:
    """Name lines of a file."""
    return f"line{'s' if len(numbers) > 1 else ''} {listed(numbers, 'and')}"


def in_short(what: str) -> str:
    """Cut words that are so long that nobody reads them."""
    what = re.sub(r"\S{81,}", lambda found: f"{found.group()[:60]} ...", what)
    return what if len(what) <= LONGEST else f"{what[:LONGEST]} ..."


def harmless(text: str) -> str:
    """Write out what would steer a terminal, break a line or not be seen, as in \\u001b."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else letter.encode("unicode_escape").decode() for letter in text)


def unseen(text: str) -> str:
    """Say which letter of a text cannot be seen or printed, and where it stands; nothing when all can."""
    if text.isprintable():
        return ""
    place, letter = next((i, letter) for i, letter in enumerate(text, start=1) if not letter.isprintable())
    name = unicodedata.name(letter, "a line break" if letter in "\r\n" else "a control character")
    return f"character {place} of the text cannot be seen or printed (U+{ord(letter):04X}, {name})"


def nearest(word: str, known: Iterable[str]) -> str:
    """Words an 'expected' clause for a name that is not known: the nearest known names, or the first ones of all."""
    names = list(dict.fromkeys(known))
    by_lower = {name.lower(): name for name in names}
    close = [by_lower[c] for c in difflib.get_close_matches(str(word)[:80].lower(), list(by_lower), n=3, cutoff=0.51)]
    if close and len(names) > 8:
        return "did you mean " + " or ".join(f"'{in_short(name)}'" for name in close)
    told: list[str] = []
    for name in names[:SHOWN]:
        told.append(f"'{in_short(name)}'")
        if sum(map(len, told)) > LONGEST - 100:
            break
    more = len(names) - len(told)
    return f"one of {', '.join(told)}" + (f" and {more} more" if more else "")
