"""The CIE 1931 chart close up: colours behind the lens against a published limit whose boundaries keep their names."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit.conversion.assessment import Assessment
from lampkit.light import colorimetry
from lampkit.page.style import (
    INK,
    MUTED,
    PAPER,
    WIDTH,
    axes_at,
    called,
    colour_behind_lens,
    house_style,
    look_of,
    new_figure,
    shown,
    tagged,
    wrapped,
    write,
)
from lampkit.rules import colours
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


BEHIND = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.75}
"""What keeps letters legible over colours, as matplotlib writes it. Source: own judgement."""


def chromaticity_chart(assessment: Assessment) -> "Figure":
    """Draw the colours behind the lens on the CIE 1931 chart, near the published limit, whose boundaries are named.

    Parameters
    ----------
    assessment : Assessment
        The lamp.

    Returns
    -------
    Figure
        The chart close up, with a cloud of what the spread of lenses and emitters makes of each source, and a small
        one of the whole diagram.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    >>> chart = lk.page.chromaticity_chart(job)
    >>> chart.axes[0].get_xlabel(), chart.axes[0].get_ylabel()
    ('x', 'y')
    """
    from matplotlib.lines import Line2D

    everyone = tagged(assessment)
    region = assessment.colour_limit
    outline = None if region is None else colours.polygon(region)
    clouds = [_some(r.draws["x"], r.draws["y"], assessment.garage.weights) for _, r in everyone]
    points = np.array([r.chromaticity for _, r in everyone])
    left, width, tall = 0.78, WIDTH - 0.78 - 0.2, 2.6
    limits = _close_up(np.concatenate([points, *clouds, *([outline] if outline is not None else [])]), width / tall)

    names = [wrapped(f"{called(r.source)}", 27) for _, r in everyone]
    lines = sum(1.15 + n.count("\n") for n in names)
    below = max(1.68, 0.2 + 0.175 * lines)
    limit = "" if region is None else region.name
    title = wrapped(say("page.chart.colour.title", lamp=assessment.name, limit=limit), 46)
    top = 0.34 + 0.18 * title.count("\n")
    height = top + tall + 0.55 + below
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.08, title, fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, left, height - top - tall, width, tall)
        _draw_diagram(axes, outline, limits)
        axes.set_xlabel("x")
        axes.set_ylabel("y")
        axes.grid()
        axes.locator_params(nbins=5)
        for (tag, result), cloud, point in zip(everyone, clouds, points, strict=True):
            _dots(axes, cloud, INK)
            marker = look_of(tag)[1]
            axes.plot(*point, marker=marker, markersize=12, color=PAPER, zorder=4)
            axes.plot(*point, marker=marker, markersize=8.5, color=colour_behind_lens(result),
                      markeredgecolor=INK, zorder=5)  # fmt: skip
        _write_names(axes, [tag for tag, _ in everyone], points, region, outline)

        small = axes_at(figure, 0.1, 0.08, 1.5, 1.62)
        _whole_diagram(small, outline, limits, points)
        y = below - 0.08
        for (tag, result), name in zip(everyone, names, strict=True):
            key = Line2D([1.82 / WIDTH], [(y - 0.09) / height], linestyle="none", marker=look_of(tag)[1], markersize=8,
                         color=colour_behind_lens(result), markeredgecolor=INK)  # fmt: skip
            figure.add_artist(key)
            write(figure, 1.98, y - 0.01, tag, fontweight="bold", fontsize=10)
            write(figure, 2.2, y - 0.01, name, fontsize=10, linespacing=1.1)
            y -= 0.175 * (1.15 + name.count("\n"))
        figure.set_size_inches(WIDTH, height)
    return shown(figure, describe_chromaticity(assessment))


def _some(
    x: NDArray[np.float64], y: NDArray[np.float64], weights: NDArray[np.float64], count: int = 90
) -> NDArray[np.float64]:
    """Pick the draws to show, evenly through their weights."""
    cumulative = np.cumsum(weights)
    chosen = np.searchsorted(cumulative, (np.arange(count) + 0.5) / count * cumulative[-1])
    chosen = np.minimum(chosen, len(x) - 1)
    return np.stack([x[chosen], y[chosen]], axis=-1)


def _close_up(points: NDArray[np.float64], aspect: float) -> tuple[float, float, float, float]:
    """Frame all points with one scale for x and y, so that distances on the chart are margins."""
    low, high = points.min(axis=0), points.max(axis=0)
    # The names of boundaries, wide and low, find room beside them.
    middle, half = (low + high) / 2, np.maximum([1.1, 0.7] * (high - low), 0.018)
    half = np.maximum(half, [half[1] * aspect, half[0] / aspect])
    # The frame stays about the diagram where it can.
    middle = np.where(half < 0.45, np.clip(middle, half - 0.08, 0.9 - half), [0.36, 0.42])
    return (*(middle - half), *(middle + half))


def _draw_diagram(axes: "Axes", outline: NDArray[np.float64] | None, limits: tuple[float, float, float, float]) -> None:
    locus = colorimetry.spectrum_locus()
    axes.set_xlim(limits[0], limits[2])
    axes.set_ylim(limits[1], limits[3])
    _fill_with_colours(axes, locus, limits, 0.25)
    axes.plot(*locus.T, color=MUTED, linewidth=1.2)
    axes.plot(*locus[[0, -1]].T, color=MUTED, linewidth=1.2, linestyle=(0, (3, 2)))
    if outline is not None:
        _fill_with_colours(axes, outline, limits, 0.9)
        axes.plot(*outline.T, color=INK, linewidth=1.5)


def _fill_with_colours(
    axes: "Axes",
    outline: NDArray[np.float64],
    limits: tuple[float, float, float, float],
    strength: float,
    across: int = 40,
) -> None:
    """Fill a region of the chart with its own colours, as near as a screen comes.

    Source: IEC 61966-2-1:1999.
    """
    from matplotlib.patches import Polygon

    low = np.maximum(limits[:2], outline.min(axis=0))
    high = np.minimum(limits[2:], outline.max(axis=0))
    if np.any(high <= low):
        return
    count = np.maximum(2, np.ceil(across * (high - low) / (high - low).max())).astype(int)
    x, y = (a + (b - a) * (np.arange(n) + 0.5) / n for a, b, n in zip(low, high, count, strict=True))
    xy = np.stack(np.meshgrid(x, y), axis=-1)
    colours_of = colorimetry.screen_code(colorimetry.screen_light(xy))
    filled = axes.imshow(colours_of, extent=(low[0], high[0], low[1], high[1]), origin="lower", aspect="auto",
                         interpolation="none", alpha=strength, zorder=0.4)  # fmt: skip
    filled.set_clip_path(Polygon(outline, transform=axes.transData))
    axes.set_xlim(limits[0], limits[2])
    axes.set_ylim(limits[1], limits[3])


def _dots(axes: "Axes", cloud: NDArray[np.float64], colour: str) -> None:
    """Draw a cloud as one path of dots: a hundredth of the size of as many markers."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    # Some screens drop a line of no length.
    ends = np.repeat(cloud, 2, axis=0) + np.tile([[0.0, 0.0], [0.002 * np.ptp(axes.get_xlim()), 0.0]], (len(cloud), 1))
    path = Path(ends, np.tile([Path.MOVETO, Path.LINETO], len(cloud)))
    path.should_simplify = False
    axes.add_patch(PathPatch(path, facecolor="none", edgecolor=colour, linewidth=2.6, capstyle="round", alpha=0.35,
                             zorder=3))  # fmt: skip


class _Room:
    """Where text may still stand on a chart; all in points from the lower left corner of the axes."""

    def __init__(self, axes: "Axes", lines: Sequence[NDArray[np.float64]], points: NDArray[np.float64]) -> None:
        self.axes = axes
        box = axes.get_window_extent()
        self.scale = 72 / axes.figure.dpi
        self.origin = np.array([box.x0, box.y0])
        self.size = np.array([box.width, box.height]) * self.scale
        steps = [self.place(_along(line)) for line in lines]
        self.lines = np.concatenate(steps)
        markers = self.place(points)
        self.boxes = [(p - 5, p + 5) for p in markers]

    def place(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((self.axes.transData.transform(xy) - self.origin) * self.scale)

    def costs(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.float64]:
        """Tell how much trouble a text would be in each of many frames, (..., 2): outside, over others, over lines."""
        outside = np.maximum(0, -low).sum(axis=-1) + np.maximum(0, high - self.size).sum(axis=-1)
        overlap = np.zeros(len(low))
        for b, h in self.boxes:
            overlap += np.maximum(0, np.minimum(high, h) - np.maximum(low, b)).prod(axis=-1)
        x, y = self.lines.T
        (left, below), (right, above) = (low - 1).T[..., np.newaxis], (high + 1).T[..., np.newaxis]
        crossed = np.count_nonzero((x > left) & (x < right) & (y > below) & (y < above), axis=-1)
        return np.asarray(20 * outside + 1.5 * overlap + 6 * crossed)

    def write(
        self,
        text: str,
        spots: Sequence[NDArray[np.float64]],
        preference: Sequence[float],
        *,
        anchor: NDArray[np.float64] | None = None,
        most: float = np.inf,
        **how: Any,
    ) -> None:
        """Write a text at the spot of least trouble; nowhere when each is more trouble than it is worth."""
        rows = text.split("\n")
        # A single letter needs air about it, or it is read together with the next.
        half = how["fontsize"] * np.array([max(0.29 * max(map(len, rows)), 0.55), 0.58 * len(rows)])
        if not spots:
            return
        middles = np.stack(spots)
        costs = self.costs(middles - half, middles + half) + preference
        if costs.min() > most:
            return
        best = spots[int(np.argmin(costs))]
        self.boxes.append((best - half, best + half))
        if anchor is not None:
            how["arrowprops"] = {"arrowstyle": "-", "color": MUTED, "linewidth": 0.8, "shrinkA": 5, "shrinkB": 3}
        # Where there is no line to draw, the offset is from the corner of the axes.
        at, frame = ((anchor[0], anchor[1]), "data") if anchor is not None else ((0.0, 0.0), "axes fraction")
        x, y = best - (self.place(anchor) if anchor is not None else 0.0)
        self.axes.annotate(text, at, xycoords=frame, xytext=(x, y), textcoords="offset points", ha="center",
                           va="center", linespacing=1.0, zorder=7, **how)  # fmt: skip


def _along(line: NDArray[np.float64], step: float = 0.002) -> NDArray[np.float64]:
    """Walk along a line in small steps."""
    lengths = np.hypot(*np.diff(line, axis=0).T)
    parts = [
        a + (b - a) * np.linspace(0, 1, int(np.ceil(d / step)) + 1)[:, np.newaxis]
        for a, b, d in zip(line[:-1], line[1:], lengths, strict=True)
    ]
    return np.concatenate(parts)


def _write_names(
    axes: "Axes",
    tags: Sequence[str],
    points: NDArray[np.float64],
    region: colours.ColourRegion | None,
    outline: NDArray[np.float64] | None,
) -> None:
    """Name boundaries, points and wavelengths on the chart, each where nothing else stands."""
    locus = colorimetry.spectrum_locus()
    lines = [locus, locus[[0, -1]]] if outline is None else [locus, locus[[0, -1]], outline]
    room = _Room(axes, lines, points)
    if region is not None and outline is not None:
        for boundary in region.boundaries:
            _name_boundary(room, boundary, outline)
    angles = np.arange(0, 2 * np.pi, np.pi / 8)
    rays = np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    for tag, point in zip(tags, points, strict=True):
        radii = (16.0, 24.0, 34.0, 46.0)
        spots = [room.place(point) + radius * ray for radius in radii for ray in rays]
        preference = [radius for radius in radii for _ in rays]
        room.write(tag, spots, preference, anchor=point, fontsize=10.5, fontweight="bold", bbox=BEHIND)
    for wavelength in (*range(420, 500, 10), *range(500, 641, 5), 660, 700):
        point = locus[wavelength - 360]
        place = room.place(point)
        if np.any(place < 0) or np.any(place > room.size):
            continue
        away = (point - [0.33, 0.33]) / np.hypot(*(point - [0.33, 0.33]))
        before = len(room.boxes)
        room.write(f"{wavelength} nm", [place + away * [24, 9]], [0.0], most=25.0, fontsize=10, color=MUTED)
        if len(room.boxes) > before:
            axes.plot(*point, marker="o", markersize=2.5, color=MUTED)


def _name_boundary(room: _Room, boundary: colours.Boundary, outline: NDArray[np.float64]) -> None:
    starts, ends = outline[:-1], outline[1:]
    spots, preference = [], []
    name = boundary.name.replace("limit ", "limit\n")
    half = 10.0 * np.array([0.29 * max(map(len, name.split("\n"))), 1.16])
    for normal, offset in zip(boundary.normals, boundary.offsets, strict=True):
        on = (abs(starts @ normal - offset) < 1e-6) & (abs(ends @ normal - offset) < 1e-6)
        for a, b in zip(starts[on], ends[on], strict=True):
            for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.0, 1.0, -0.3, 1.3, -0.7, 1.7):
                here = room.place(a + share * (b - a))
                for gap in (5.0, 12.0):
                    spots.append(here + normal * gap + np.sign(np.round(normal, 1)) * half)
                    preference.append(20 * abs(share - 0.5) + gap)
    room.write(name, spots, preference, fontsize=10, bbox=BEHIND)


def _whole_diagram(
    axes: "Axes",
    outline: NDArray[np.float64] | None,
    limits: tuple[float, float, float, float],
    points: NDArray[np.float64],
) -> None:
    from matplotlib.patches import Rectangle

    locus = colorimetry.spectrum_locus()
    axes.set_xlim(-0.16, 0.86)
    axes.set_ylim(-0.08, 0.94)
    axes.set_aspect("equal")
    axes.axis("off")
    _fill_with_colours(axes, locus, (-0.16, -0.08, 0.86, 0.94), 0.8, across=28)
    axes.set_aspect("equal")
    axes.plot(*np.concatenate([locus, locus[:1]]).T, color=MUTED, linewidth=1.0)
    # A close-up that is wider than this picture ends with it.
    low, high = np.maximum(limits[:2], [-0.15, -0.07]), np.minimum(limits[2:], [0.85, 0.93])
    label = np.array([0.09, 0.05])
    for wavelength in (460, 490, 520, 560, 600):
        point = locus[wavelength - 360]
        away = (point - [0.33, 0.33]) / np.hypot(*(point - [0.33, 0.33]))
        written = point + 0.113 * away  # twelve points, in a picture an inch and a half wide
        if np.all(written > low - label) and np.all(written < high + label):
            continue  # the frame of the close-up would cross it
        axes.annotate(f"{wavelength}", point, xytext=12 * away, textcoords="offset points", fontsize=10, color=MUTED,
                      ha="center", va="center")  # fmt: skip
    if outline is not None:
        axes.plot(*outline.T, color=INK, linewidth=0.8)
    axes.plot(*points.T, linestyle="none", marker=".", markersize=3, color=INK)
    size = high - low
    axes.add_patch(Rectangle((low[0], low[1]), *size, facecolor="none", edgecolor=INK, linewidth=1.2))
    axes.text(0.35, 0.3, "above", fontsize=10, ha="center", va="center") if size[0] < 0.2 else None


def describe_chromaticity(assessment: Assessment) -> Statement:
    """Say in words what `chromaticity_chart` shows."""
    parts = []
    for _, r in tagged(assessment):
        x, y = (float(v) for v in r.chromaticity)
        parts.append(
            say(
                "page.chart.colour.of",
                name=called(r.source),
                x=x,
                y=y,
                verdict=None if r.colour is None else r.colour.statement,
            )
        )
    region = assessment.colour_limit
    limit = "" if region is None else region.name
    return say("page.chart.colour.described", lamp=assessment.name, limit=limit, told=parts)
