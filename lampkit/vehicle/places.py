"""Where lamps sit on a vehicle, and what is usual there: function, lens colour, both sides, filament."""

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from lampkit import tables
from lampkit.errors import InputError
from lampkit.rules.rule_sets import listed
from lampkit.sources import filament_lamps


class Place(NamedTuple):
    """A place of a lamp on an outline, as seen from behind; one on both sides stands for its left.

    Source: data/places/lamps.csv.
    """

    outline: str
    view: str
    row: int
    column: int
    names: tuple[str, ...]
    functions: tuple[str, ...]
    lens: str
    both: bool
    position: str
    often: tuple[str, ...]


@cache
def places() -> tuple[Place, ...]:
    """List the places of every outline."""
    return tuple(
        Place(
            outline=row["outline"],
            view=row["view"],
            row=int(row["row"]),
            column=int(row["column"]),
            names=listed(row["name"]),
            functions=listed(row["functions"]),
            lens=row["lens"],
            both=row["sides"] == "yes",
            position=row["position"],
            often=listed(row["often"]),
        )
        for row in tables.load("places", "lamps").rows()
    )


def outlines() -> tuple[str, ...]:
    """List the outlines."""
    return tuple(dict.fromkeys(place.outline for place in places()))


def lamps_of(
    told: Mapping[str, Any], names: tuple[str, ...], does: tuple[str, ...], *, supply: float
) -> list[dict[str, Any]]:
    """Write one lamp of the file for each function; two functions take the two filaments of one lamp in one holder."""
    filaments = filament_lamps.ratings_of(str(told["filament"]), supply)
    double = len(filaments) > 1
    if len(does) > 1 and not double:
        raise InputError(
            f"{told['filament']} has one filament, and {' and '.join(does)} take two",
            key="filament",
            expected="a lamp with two filaments, as in P21/5W or 12V 21/5W",
            remedy="or choose one function only",
        )
    if len(does) == 1 and double and "filament_part" not in told:
        raise InputError(
            f"{told['filament']} has two filaments, and this is one function",
            key="filament",
            expected="what the second filament is for, or a lamp with one filament",
        )
    found = []
    for name, function, part in zip(names, does, ("major", "minor"), strict=False):
        values = {**told, "name": name, "function": function}
        if len(does) > 1:
            values |= {"filament_part": part, "holder": f"{names[0]} holder"}
        found.append(values)
    return found
