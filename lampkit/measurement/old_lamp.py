"""Which source of a log is the lamp that the vehicle came with, and which are compared with it."""

import difflib
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache

import numpy as np

from lampkit import numbers, tables
from lampkit.errors import InputError, nearest
from lampkit.measurement.illuminance_log import IlluminanceLog, Reading
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


MOST_NAMED = 4
"""Lamps that are named where none can be compared [1]. Source: own judgement."""

SCATTERED = 0.3
"""Spread of repeats over their mean above which it is told what may make it [1]. Source: own judgement: a phone that is
put back repeats to some per cent."""


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


def pairs(
    log: IlluminanceLog, groups: Mapping[tuple[str, str], list[Reading]], old: str | None, leds: Collection[str]
) -> tuple[list[tuple[str, str, str]], list[OldLamp], list[Statement]]:
    """Pair the old light source of each lamp with every other one that was read in it, and say what was noticed."""
    by_lamp: dict[str, list[str]] = {}
    for lamp, source in groups:
        by_lamp.setdefault(lamp, []).append(source)
    names = list(dict.fromkeys(source for _, source in groups))
    if old is not None and old not in names:
        raise InputError(f"no reading has the source '{old}'", file=log.file, key="old", expected=nearest(old, names))
    found_pairs: list[tuple[str, str, str]] = []
    taken: list[OldLamp] = []
    remarks: list[Statement] = []
    for lamp, found in by_lamp.items():
        first = find_old_lamp(lamp, found, old, leds)
        others = [source for source in found if first is not None and source != first.source]
        if first is None or not others:
            close = difflib.get_close_matches(lamp, [name for name in by_lamp if name != lamp], n=1, cutoff=0.8)
            meant = sorted(r.line for name in close for source in by_lamp[name] for r in groups[name, source])
            told = {"lines": meant, "meant": close[0] if close else None}
            remarks.append(say("fair_ratio.nothing_to_compare", lamp=lamp, sources=found, **told))
            continue
        taken.append(first)
        found_pairs += [(lamp, first.source, second) for second in others]
    if not found_pairs and any(map(is_old_lamp, by_lamp)) and not any(map(is_old_lamp, names)):
        read = [f"'{lamp}' with {numbers.listed(found, 'and')} only" for lamp, found in by_lamp.items()][:MOST_NAMED]
        raise InputError(
            f"no lamp was read with two sources: {numbers.listed(read, 'and')}",
            file=log.file,
            expected="the old and a new source in one",
            remedy="the columns lamp and source may be swapped",
        )
    compared = dict.fromkeys((lamp, source) for lamp, first, second in found_pairs for source in (first, second))
    once = [lamp for lamp, source in compared if len(groups[lamp, source]) == 1]
    if once:
        remarks.append(say("fair_ratio.read_once", lamps=once))
    for lamp, source in compared:
        alike: dict[tuple[float, float | None], list[float]] = {}
        for r in groups[lamp, source]:
            alike.setdefault((r.distance, r.supply), []).append(r.net)
        spread = max((max(nets) - min(nets)) / float(np.mean(nets)) for nets in alike.values())
        if spread > SCATTERED:
            remarks.append(say("fair_ratio.scattered", lamp=lamp, source=source, spread=spread))
    return found_pairs, taken, remarks


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
