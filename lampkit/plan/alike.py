"""Which lamps are alike: the same in everything that is worked out, or left and right of each other."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from lampkit.conversion import Assessment
from lampkit.plan.circuit_needs import side_of
from lampkit.vehicle.vehicle import Lamp
from lampkit.vehicle.vehicle_parts import Offer


@dataclass(frozen=True, eq=False)
class AlikeLamps:
    """Lamps of one kind that get the same light source, such as left and right: told once.

    Parameters
    ----------
    name : str
        All of them in one breath, as in 'Stop lamp left and right'.
    lamps : tuple of Lamp
        The lamps.
    joint : Lamp
        The first of them, with the positions, holders and notes of all.
    assessment : Assessment
        Their assessment under the joint name.
    """

    name: str
    lamps: tuple[Lamp, ...]
    joint: Lamp
    assessment: Assessment


def sort_of(lamp: Lamp) -> Hashable:
    """Give what two lamps must share to be worked out as one: filament, lens, candidates and function."""
    return lamp.function, lamp.road_rule, id(lamp.lens), id(lamp.filament), tuple(id(o) for o in lamp.candidates)


def alike_lamps(
    lamps: Sequence[Lamp], assessments: Sequence[Assessment], chosen: Mapping[str, Offer | None]
) -> tuple[AlikeLamps, ...]:
    """Put the lamps together that are alike in number too, and in what is fitted."""
    groups: dict[Hashable, list[tuple[Lamp, Assessment]]] = {}
    for lamp, assessment in zip(lamps, assessments, strict=True):
        offer = chosen.get(lamp.name)
        key = sort_of(lamp), lamp.quantity, None if offer is None else offer.name
        groups.setdefault(key, []).append((lamp, assessment))
    found = []
    for group in groups.values():
        members, name = tuple(lamp for lamp, _ in group), joint_name([lamp.name for lamp, _ in group])
        found.append(AlikeLamps(name, members, _joint(members), replace(group[0][1], name=name)))
    return tuple(found)


def _joint(lamps: Sequence[Lamp]) -> Lamp:
    def each(words: Iterable[str | None], between: str) -> str:
        return between.join(dict.fromkeys(word for word in words if word))

    return replace(
        lamps[0],
        position=each((lamp.position for lamp in lamps), ", ") or None,
        holder=each((lamp.holder for lamp in lamps), "' and '") or None,
        note=each((lamp.note for lamp in lamps), " "),
    )


def joint_name(names: Sequence[str]) -> str:
    """Name lamps that are alike in one breath: 'Stop lamp left and right'."""
    words = [name.split() for name in names]
    shared = 0
    while shared < min(map(len, words)) - 1 and len({w[shared] for w in words}) == 1:
        shared += 1
    if len(names) == 1 or not shared:
        return ", ".join(names)
    return f"{' '.join(words[0][:shared])} {' and '.join(' '.join(w[shared:]) for w in words)}"


def left_and_right(lamps: Sequence[Lamp]) -> tuple[tuple[int, ...], ...]:
    """Find the lamps of one function that are left and right of each other and are to look alike."""
    groups: dict[tuple[str, ...], list[int]] = {}
    for i, lamp in enumerate(lamps):
        if side_of(lamp) is not None:
            place = _sideless(lamp.position) if lamp.position else _sideless(lamp.name)
            groups.setdefault((lamp.function, place), []).append(i)
    found: list[tuple[int, ...]] = []
    for members in groups.values():
        sides = [side_of(lamps[i]) for i in members]
        if sides.count("left") > 1 or sides.count("right") > 1:
            # Two lamps of one function at one corner: their names tell which belongs to which.
            by_name: dict[str, list[int]] = {}
            for i in members:
                by_name.setdefault(_sideless(lamps[i].name), []).append(i)
            found += [tuple(group) for group in by_name.values() if len(group) > 1]
        elif len(members) > 1:
            found.append(tuple(members))
    return tuple(found)


def _sideless(words: str) -> str:
    return " ".join(word for word in words.casefold().split() if word not in ("left", "right"))
