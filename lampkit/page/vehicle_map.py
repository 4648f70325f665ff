"""A map of a vehicle from above: where each lamp sits, by its number, its name and what goes in."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING

from lampkit.light import colorimetry
from lampkit.page.findings import AlikeFindings
from lampkit.page.style import FAINT, INK, MUTED, axes_at, called, house_style, shown
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE = 4.0
"""Width of the map in inches: on a phone, and in half of a sheet, its letters stay nearly whole [1].
Source: own judgement."""

BODY = 0.95, 1.95
"""Left and right flank of the vehicle in inches from the left. Source: own judgement."""

DISC, ROW, LINE = 0.13, 0.2, 0.165
"""Radius of a lamp, what parts two lamps beside their words, and the height of a line, in inches."""

LETTERS = 22
"""Letters that fit beside a lamp [1]. Source: own measurement with the letters of the house."""


PLACES = ("front", "dashboard", "side", "rear")
"""Where along the vehicle a lamp may sit, from the front; what is not told comes last."""


@dataclass(frozen=True, eq=False)
class Spot:
    """Lamps that are alike at one place: on which sides, and what is written beside them."""

    group: AlikeFindings
    sides: frozenset[str]
    words: tuple[str, ...]

    @property
    def height(self) -> float:
        """How much room it takes, in inches."""
        return LINE * len(self.words) + ROW


def place_of(group: AlikeFindings) -> int:
    """Tell where along the vehicle lamps sit, by their place in `PLACES`."""
    first = (group.first.lamp.position or "").partition(" ")[0]
    return PLACES.index(first) if first in PLACES else len(PLACES)


def _spots(groups: Sequence[AlikeFindings]) -> dict[int, list[Spot]]:
    found: dict[int, list[Spot]] = {}
    for group in groups:
        fitted = group.first.fitted
        goes_in = say("page.map.stays") if fitted is None else called(fitted.source)
        name = say("page.fit.numbered", number=group.number, name=group.name)
        words = (*wrap(str(name), LETTERS), *wrap(str(goes_in), LETTERS))
        sides = frozenset(member.lamp.side or "" for member in group.members)
        found.setdefault(place_of(group), []).append(Spot(group, sides, words))
    return dict(sorted(found.items()))


def vehicle_map(groups: Sequence[AlikeFindings]) -> "Figure":
    """Draw a vehicle from above with each lamp at its place, in the colour that it shows."""
    from matplotlib.figure import Figure
    from matplotlib.patches import FancyBboxPatch

    spots = _spots(groups)
    tall = sum(spot.height for row in spots.values() for spot in row) + 0.3 * len(spots) + 0.7
    with house_style():
        figure = Figure(figsize=(WIDE, tall))
        axes = axes_at(figure, 0.0, 0.0, WIDE, tall)
        axes.set_axis_off()
        axes.set_xlim(0.0, WIDE)
        axes.set_ylim(0.0, tall)
        left, right = BODY
        body = FancyBboxPatch(
            (left, 0.3), right - left, tall - 0.6, boxstyle="round,pad=0,rounding_size=0.25",
            facecolor="none", edgecolor=MUTED, linewidth=1.4,
        )  # fmt: skip
        axes.add_patch(body)
        middle = 0.5 * (left + right)
        axes.text(middle, tall - 0.1, str(say("page.map.front")), ha="center", va="center", fontsize=10, color=INK)
        axes.text(middle, 0.1, str(say("page.map.rear")), ha="center", va="center", fontsize=10, color=INK)
        y = tall - 0.5
        for row in spots.values():
            for spot in row:
                _draw(axes, spot, y - 0.5 * spot.height)
                y -= spot.height
            y -= 0.3
    return shown(figure, describe_map(groups))


def _draw(axes: "Axes", spot: Spot, y: float) -> None:
    from matplotlib.patches import Circle

    left, right = BODY
    at = {"left": left, "right": right, "": 0.5 * (left + right)}
    first = spot.group.first
    result = first.fitted or spot.group.assessment.old
    colour = tuple(float(v) for v in colorimetry.srgb(result.chromaticity).clip(0.0, 1.0))
    dark = 0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2] < 0.5
    furthest = max(at[side] for side in spot.sides)
    axes.plot([furthest, right + 0.3], [y, y], color=FAINT, linewidth=1.0, zorder=1)
    for side in sorted(spot.sides):
        axes.add_patch(Circle((at[side], y), DISC, facecolor=colour, edgecolor=INK, linewidth=1.0, zorder=3))
        axes.text(
            at[side], y - 0.005, str(spot.group.number), ha="center", va="center", fontsize=10, fontweight="bold",
            color="white" if dark else "black", zorder=4,
        )  # fmt: skip
    axes.text(right + 0.35, y, "\n".join(spot.words), ha="left", va="center", fontsize=10, linespacing=1.1, color=INK)


def describe_map(groups: Sequence[AlikeFindings]) -> Statement:
    """Say in words what `vehicle_map` shows."""
    return say("page.map.described", lamps=list(_places(groups)))


def _places(groups: Sequence[AlikeFindings]) -> Iterable[Statement]:
    for group in groups:
        places = [member.lamp.position or "" for member in group.members]
        goes_in = say("page.map.stays") if group.first.fitted is None else called(group.first.fitted.source)
        known = [place for place in places if place]
        yield say("page.map.lamp", number=group.number, name=group.name, places=known, goes_in=goes_in)
