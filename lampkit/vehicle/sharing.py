"""Which lamps share a holder or a filament in it, and which must outshine one beside them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from lampkit.errors import InputError
from lampkit.rules import functions, limits
from lampkit.rules.limits import Limit
from lampkit.vehicle.lamps import Lamp


class Outshining(NamedTuple):
    """Two lamps by their places of which the first must outshine the second, and the published number near the axis."""

    bright: int
    dim: int
    limit: Limit | None


def filament_in(lamp: Lamp) -> str:
    """Tell which filament of its lamp serves a function: 'major', 'minor', or nothing where there is but one."""
    named = "" if lamp.filament.rating is None else str(lamp.filament.rating["filament"])
    return named if named in ("major", "minor") else ""


def holders(lamps: Sequence[Lamp]) -> tuple[tuple[int, int], ...]:
    """Find the pairs of functions that a holder serves with its two filaments, the bright one first."""
    found = []
    for members in _by_holder(lamps):
        parts = {part: [i for i in members if filament_in(lamps[i]) == part] for part in ("major", "minor")}
        found += [(bright, dim) for bright in parts["major"] for dim in parts["minor"]]
    return tuple(found)


def one_source(lamps: Sequence[Lamp]) -> tuple[tuple[int, ...], ...]:
    """Find the functions that one filament serves, such as stop and rear turn: each group in the order of the file."""
    found = []
    for members in _by_holder(lamps):
        for part in ("major", "minor", ""):
            group = tuple(i for i in members if filament_in(lamps[i]) == part)
            if len(group) > 1:
                found.append(group)
    return tuple(found)


def through_two_lenses(lamps: Sequence[Lamp]) -> frozenset[int]:
    """Find the lamps whose filament shines through a lens of another colour too, as a tail lamp on a number plate."""
    groups = (group for group in one_source(lamps) if len({lamps[i].lens.colour for i in group}) > 1)
    return frozenset(i for group in groups for i in group)


def _by_holder(lamps: Sequence[Lamp]) -> list[list[int]]:
    shared: dict[str, list[int]] = {}
    for i, lamp in enumerate(lamps):
        if lamp.holder is not None:
            shared.setdefault(lamp.holder, []).append(i)
    return list(shared.values())


def comes_along(lamps: Sequence[Lamp]) -> frozenset[int]:
    """Find the lamps whose light source is bought with that of another: a second level, or a second function."""
    return frozenset({dim for _, dim in holders(lamps)} | {i for group in one_source(lamps) for i in group[1:]})


def once_each(lamps: Sequence[Lamp]) -> list[Lamp]:
    """Count a light source of several functions once; of two on one circuit the one that flashes stands for it."""
    left_out = set[int]()
    for group in one_source(lamps):
        stands = next((i for i in group if functions.function(lamps[i].function).flashes), group[0])
        left_out.update(i for i in group if i != stands)
    return [lamp for i, lamp in enumerate(lamps) if i not in left_out]


def with_shared_readings(lamps: Sequence[Lamp]) -> tuple[Lamp, ...]:
    """Let what was read of a light source in one function stand for its other functions: it is the same light."""
    found, apart = list(lamps), through_two_lenses(lamps)
    for group in (one for one in one_source(lamps) if not apart & set(one)):
        read = next((lamps[i].intensity for i in group if lamps[i].intensity is not None), None)
        for i in group:
            if found[i].intensity is None:
                found[i] = replace(found[i], intensity=read)
    return tuple(found)


def outshining(lamps: Sequence[Lamp], rules: str) -> tuple[Outshining, ...]:
    """Find the lamps that must outshine one in the same holder, and stop lamps that must outshine a tail lamp near by.

    Source: `limits.ratio_limits`; a stop lamp must be told from its tail lamp under any rules.
    """
    pairs = [(a, b) for a, b in holders(lamps) if _outshines(lamps[a], lamps[b])]
    taken = {i for pair in pairs for i in pair}
    pairs += [
        (a, b)
        for a, bright in enumerate(lamps)
        for b, dim in enumerate(lamps)
        if _outshines(bright, dim)
        and functions.function(bright.function).brakes
        and not {a, b} & taken
        and bright.position is not None
        and bright.position == dim.position
    ]
    found = []
    for a, b in pairs:
        told = functions.function(lamps[a].function)
        limit = ratio_limit(lamps[a], rules)
        if limit is not None or told.brakes:
            found.append(Outshining(a, b, limit))
    return tuple(found)


def ratio_limit(bright: Lamp, rules: str) -> Limit | None:
    """Give how many times brighter than the lamp beside it a lamp must be near the axis; None where no rule says so."""
    try:
        return limits.ratio_limits(functions.function(bright.function).ratio, rules)[0]
    except InputError:
        return None


def _outshines(bright: Lamp, dim: Lamp) -> bool:
    return functions.function(bright.function).outshines == dim.function
