"""Which source of a log is the lamp that the vehicle came with."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from lampkit.sources import filament_lamps
from lampkit.statements import Statement, say

FILAMENT_WORDS = ("filament", "bulb")
"""What a filament lamp may be called in a log, beside its designation. Source: common practice, no source."""

LED_WORDS = ("led", "leds")
"""What tells that a lamp of a known designation, or a bulb, is none with a filament. Source: common practice, no
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


def designation_in(source: str) -> str | None:
    """Find the designation of a filament lamp among the words of a name.

    Source: data/lamps/ratings.csv.
    """
    known = {name.casefold(): name for name in filament_lamps.designations()}
    return next((known[word] for word in words_of(source) if word in known), None)


def is_old_lamp(source: str) -> bool:
    """Tell whether the name of a source is that of the lamp that the vehicle came with: old, or with a filament."""
    words = set(words_of(source))
    if "old" in words:
        return True
    return words.isdisjoint(LED_WORDS) and (not words.isdisjoint(FILAMENT_WORDS) or designation_in(source) is not None)


def find_old_lamp(lamp: str, sources: Sequence[str], asked_for: str | None = None) -> OldLamp | None:
    """Find the old one among the sources that were read in a lamp; None where the one asked for was not read in it."""
    if asked_for is not None:
        return OldLamp(lamp, asked_for, OldLampGround.ASKED_FOR) if asked_for in sources else None
    named = [source for source in sources if is_old_lamp(source)]
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
