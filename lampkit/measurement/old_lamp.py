"""Which source of a log is the lamp that the vehicle came with."""

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache

from lampkit import tables
from lampkit.sources import filament_lamps
from lampkit.statements import Statement, say

MARK = re.compile(r"(?<![\w.,])\d+(?:[.,]\d+)?\s*V\s*\d+(?:[.,]\d+)?(?:/\d+(?:[.,]\d+)?)?\s*W\b", re.IGNORECASE)
"""Volts and watts as they are stamped on a filament lamp, as in '12V 2.2W'; an LED may be named so too, with a colour
or with what it is, so nothing but BESIDE_A_MARK and a base may stand beside it."""

BESIDE_A_MARK = ("old", "lamp", "filament", "bulb", "the", "original")
"""What may be said of a filament lamp beside what is stamped on it. Source: common practice, no source."""

FILAMENT_WORDS = ("filament", "bulb")
"""What a filament lamp may be called in a log, beside its designation. Source: common practice, no source."""

LED_WORDS = ("led", "leds")
"""What tells that a lamp of a known designation, or a bulb, is none with a filament. Source: common practice, no
source."""


FILTER_WORDS = ("gel", "filter", "foil")
"""What tells that a lamp was read through something: what is seen then is another light. Source: common practice, no
source."""


class OldLampGround(Enum):
    """Why a source was taken as the old lamp."""

    ASKED_FOR = "asked_for"
    NAMED = "named"
    READ_FIRST = "read_first"


@dataclass(frozen=True)
class OldLamp:
    """The source that was taken as the old one in a lamp, and why."""

    lamp: str
    source: str
    ground: OldLampGround


def words_of(source: str) -> tuple[str, ...]:
    """Take the name of a source apart into whole words; a designation such as P21/5W or W2.3W is one of them."""
    return tuple(word.strip(".") for word in re.findall(r"[\w/.]+", source.casefold()))


@cache
def _bases() -> frozenset[str]:
    return frozenset(name.casefold() for name in tables.load("lamps", "bases")["base"])


def designation_in(source: str) -> str | None:
    """Find the designation of a filament lamp among the words of a name, or the volts and watts stamped on it."""
    stamped = MARK.search(source)
    if stamped is not None and set(words_of(MARK.sub(" ", source))) <= {*BESIDE_A_MARK, *_bases()}:
        return stamped.group()
    known = {name.casefold(): name for name in filament_lamps.designations()}
    return next((known[word] for word in words_of(source) if word in known), None)


def is_old_lamp(source: str) -> bool:
    """Tell whether the name of a source is that of the lamp that the vehicle came with: old, or with a filament."""
    words = set(words_of(source))
    if not words.isdisjoint(FILTER_WORDS):
        return False
    if "old" in words:
        return True
    return words.isdisjoint(LED_WORDS) and (not words.isdisjoint(FILAMENT_WORDS) or designation_in(source) is not None)


def find_old_lamp(
    lamp: str, sources: Sequence[str], asked_for: str | None = None, leds: Collection[str] = ()
) -> OldLamp | None:
    """Find the old one among the sources that were read in a lamp; None where the one asked for was not read in it.

    `leds` are known to be none, whatever their names have in them.
    """
    if asked_for is not None:
        return OldLamp(lamp, asked_for, OldLampGround.ASKED_FOR) if asked_for in sources else None
    able = [source for source in sources if is_old_lamp(source) and source not in leds]
    # A new filament lamp, or another one, is mostly named by more words than the one that was there.
    named = sorted(able, key=lambda name: ("old" not in words_of(name), len(words_of(name))))
    return OldLamp(lamp, (named or sources)[0], OldLampGround.NAMED if named else OldLampGround.READ_FIRST)


def tell(old_lamps: Iterable[OldLamp]) -> list[Statement]:
    """Say which sources were taken as the old ones, and in which lamps where that is not the same everywhere."""
    lamps: dict[tuple[str, OldLampGround], list[str]] = {}
    for one in old_lamps:
        lamps.setdefault((one.source, one.ground), []).append(one.lamp)
    said = []
    for (source, ground), read in lamps.items():
        where = read if len(lamps) > 1 else []
        if ground is OldLampGround.ASKED_FOR:
            said.append(say("old_lamp.asked_for", source=source, lamps=where))
        elif ground is OldLampGround.NAMED:
            said.append(say("old_lamp.named", source=source, lamps=where))
        else:
            said += [say("old_lamp.read_first", source=source, lamp=lamp) for lamp in read]
    return said
