"""The CIE 1931 chart close up: colours behind the lens against a published limit whose boundaries keep their names."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.conversion.assessment import Assessment
from lampkit.light import colorimetry
from lampkit.page.style import (
    FAINT,
    LETTERS,
    MARGIN,
    MUTED,
    NARROW,
    PAPER,
    box,
    called,
    house_style,
    marked,
    new_figure,
    paint,
    path_of,
    round_numbers,
    shown,
    tagged,
    trace,
    wrapped,
    write,
)
from lampkit.rules import colours
from lampkit.statements import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure


LEFT, WIDE, LABELS, LETTER, LINE = 0.5, NARROW - 0.5 - MARGIN, 1.32, 0.078, 0.165
"""Where the close-up begins, its width, what of it is left to the names of light sources, the width of a letter and the
height of a line, in inches. Source: own measurement with the letters of the house."""

MOST = 12.0
"""Trouble above which a wavelength is not named: what it would cover says more [1]. Source: own judgement."""

DOT = np.array([0.008, 0.0])
"""The line that makes a dot, in inches: some screens drop a line of no length."""

WHOLE = (-0.03, -0.02, 0.77, 0.86)
"""What the small picture of the whole chart shows: left, bottom, right and top [1]."""


class Field(NamedTuple):
    """A part of a figure that shows a part of the colour chart: its corners in inches, and those in x and y."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    first: NDArray[np.float64]
    last: NDArray[np.float64]

    def place(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the place of chromaticities on the figure, in inches."""
        return np.asarray(self.low + (xy - self.first) / (self.last - self.first) * (self.high - self.low))


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
    >>> chart.texts[0].get_text()
    'Colour against UN red'
    """
    everyone = tagged(assessment)
    region = assessment.colour_limit
    outline = None if region is None else colours.polygon(region)
    clouds = [_some(r.draws["x"], r.draws["y"], assessment.garage.weights) for _, r in everyone]
    points = np.array([r.chromaticity for _, r in everyone])
    names = [wrapped(f"{tag} {called(r.source)}", int(LABELS / LETTER)) for tag, r in everyone]
    lines = sum(1 + name.count("\n") for name in names)
    title = wrapped(say("page.chart.colour.title", limit="" if region is None else region.name), LETTERS - 4)
    top = 0.46 + 0.18 * title.count("\n")
    tall = max(2.45, 0.2 + LINE * lines + 0.06 * len(names))
    limits = _close_up(np.concatenate([points, *clouds, *([outline] if outline is not None else [])]), tall)
    # A picture of the whole chart says something where the close-up is a small part of it.
    whole = limits[3] - limits[1] < 0.4
    below = 1.44 if whole else 0.72
    height = top + tall + below
    field = Field(np.array([LEFT, height - top - tall]), np.array([LEFT + WIDE, height - top]), limits[:2], limits[2:])
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.08, title, fontsize=11.5, fontweight="bold")
        _draw_diagram(figure, field, outline)
        _scales(figure, field)
        _dots(figure, field.place(np.concatenate(clouds)))
        places = field.place(points)
        for (tag, result), (x, y) in zip(everyone, places, strict=True):
            marked(figure, x, y, result, tag, 8.5)
        room = _Room(field, outline, places)
        _name_sources(room, figure, names, places)
        if region is not None and outline is not None:
            for boundary in region.boundaries:
                _name_boundary(room, figure, boundary, outline)
        _name_wavelengths(room, figure)
        room.lay_paper(figure)
        if whole:
            _whole_diagram(figure, field, outline)
        note = say("page.chart.colour.note", limit=region is not None, whole=whole)
        write(figure, 1.3 if whole else MARGIN, below - 0.32, wrapped(note, 30 if whole else LETTERS + 5), color=MUTED)
    told = []
    for _, r in everyone:
        x, y = (float(v) for v in r.chromaticity)
        verdict = None if r.colour is None else r.colour.statement
        told.append(say("page.chart.colour.of", name=called(r.source), x=x, y=y, verdict=verdict))
    limit = "" if region is None else region.name
    return shown(figure, say("page.chart.colour.described", lamp=assessment.name, limit=limit, told=told))


def _some(
    x: NDArray[np.float64], y: NDArray[np.float64], weights: NDArray[np.float64], count: int = 60
) -> NDArray[np.float64]:
    """Pick the draws to show, evenly through their weights."""
    cumulative = np.cumsum(weights)
    chosen = np.searchsorted(cumulative, (np.arange(count) + 0.5) / count * cumulative[-1])
    chosen = np.minimum(chosen, len(x) - 1)
    return np.stack([x[chosen], y[chosen]], axis=-1)


def _close_up(points: NDArray[np.float64], tall: float) -> NDArray[np.float64]:
    """Frame all points with one scale for x and y, so that distances on the chart are margins.

    They stand in the left part; the names of the light sources stand at the right.
    """
    aspect = (WIDE - LABELS) / tall
    low, high = points.min(axis=0), points.max(axis=0)
    # The names of boundaries, wide and low, find room beside them.
    middle, half = (low + high) / 2, np.maximum([0.75, 0.75] * (high - low), 0.018)
    half = np.maximum(half, [half[1] * aspect, half[0] / aspect])
    # The frame stays about the diagram where it can.
    middle = np.where(half < 0.45, np.clip(middle, half - 0.08, 0.9 - half), [0.36, 0.42])
    first, last = middle - half, middle + half
    last[0] = first[0] + (last[0] - first[0]) * WIDE / (WIDE - LABELS)
    return np.concatenate([first, last])


def _draw_diagram(figure: "Figure", field: Field, outline: NDArray[np.float64] | None) -> None:
    """Draw the part of the colour chart that lies in a field, filled with its own colours, and the limit in it."""
    from matplotlib.transforms import Bbox, TransformedBbox

    locus = colorimetry.spectrum_locus()
    colours_there, corners = _colours_of(field, 40)
    paint(figure, colours_there, corners, path_of([field.place(locus)]), 0.25)
    frame = TransformedBbox(Bbox([field.low, field.high]), figure.dpi_scale_trans)
    trace(figure, field.place(locus), edgecolor=MUTED, linewidth=1.2, clip_box=frame)
    trace(figure, field.place(locus[[0, -1]]), edgecolor=MUTED, linewidth=1.2, linestyle=(0, (3, 2)), clip_box=frame)
    if outline is not None:
        paint(figure, colours_there, corners, path_of([field.place(outline)]), 0.9)
        trace(figure, field.place(outline), linewidth=1.5, clip_box=frame, label="limit")


def _colours_of(field: Field, across: int) -> tuple[NDArray[np.float64], tuple[float, float, float, float]]:
    """Give what of a field the diagram covers, as near as a screen comes, and the corners of it in inches.

    Source: IEC 61966-2-1:1999.
    """
    locus = colorimetry.spectrum_locus()
    low, high = np.maximum(field.first, locus.min(axis=0)), np.minimum(field.last, locus.max(axis=0))
    count = np.maximum(2, np.ceil(across * (high - low) / (high - low).max())).astype(int)
    x, y = (a + (b - a) * (np.arange(n) + 0.5) / n for a, b, n in zip(low, high, count, strict=True))
    colours_there = colorimetry.screen_code(colorimetry.screen_light(np.stack(np.meshgrid(x, y), axis=-1)))
    (left, bottom), (right, top) = field.place(low), field.place(high)
    return colours_there, (float(left), float(right), float(bottom), float(top))


def _scales(figure: "Figure", field: Field) -> None:
    """Draw the scales of x and y, with a grid that runs through the field."""
    (left, bottom), (right, top) = field.low, field.high
    grid = []
    for along in (0, 1):
        told = round_numbers(field.first[along], field.last[along], 4 - along)
        digits = 2 if len(told) < 2 or told[1] - told[0] > 0.0099 else 3
        for value in told:
            at = float(field.place(np.full(2, value))[along])
            grid.append(np.array([[at, bottom - 0.05], [at, top]] if along == 0 else [[left - 0.05, at], [right, at]]))
            if along == 0:
                if at < right - 0.3:
                    write(figure, at, bottom - 0.07, f"{value:.{digits}f}", ha="center")
            elif at < top - 0.08:
                write(figure, left - 0.06, at, f"{value:.{digits}f}", ha="right", va="center")
    trace(figure, *grid, edgecolor=FAINT, linewidth=0.8, zorder=0.3)
    trace(figure, np.array([[left, top], [left, bottom], [right, bottom]]), edgecolor=MUTED, linewidth=0.8)
    write(figure, right, bottom - 0.07, "x", ha="right")
    write(figure, left - 0.06, top + 0.02, "y", ha="right", va="bottom")


def _dots(figure: "Figure", cloud: NDArray[np.float64]) -> None:
    """Draw clouds as one path of dots: a hundredth of the size of as many markers."""
    dots = np.stack([cloud, cloud + DOT], axis=1)
    trace(figure, *dots, linewidth=2.6, capstyle="round", alpha=0.35, zorder=3)


class _Room:
    """Where text may still stand in a field; all in inches on the figure."""

    def __init__(self, field: Field, outline: NDArray[np.float64] | None, points: NDArray[np.float64]) -> None:
        self.field = field
        locus = colorimetry.spectrum_locus()
        lines = [_along(field.place(line)) for line in (locus, locus[[0, -1]], outline) if line is not None]
        every = np.concatenate(lines)
        near = np.all((every > field.low - 0.1) & (every < field.high + 0.1), axis=-1)
        self.lines = every[near]
        self.low, self.high = list(points - 0.07), list(points + 0.07)
        self.written: list[NDArray[np.float64]] = []

    def costs(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.float64]:
        """Tell how much trouble a text would be in each of many frames, (n, 2): outside, over others, over lines."""
        outside = np.maximum(0, self.field.low - low).sum(axis=-1) + np.maximum(0, high - self.field.high).sum(axis=-1)
        shared = np.minimum(high[:, np.newaxis], self.high) - np.maximum(low[:, np.newaxis], self.low)
        overlap = np.maximum(0, shared).prod(axis=-1).sum(axis=-1)
        inside = (self.lines > low[:, np.newaxis] - 0.014) & (self.lines < high[:, np.newaxis] + 0.014)
        return np.asarray(14400 * outside + 7800 * overlap + 6 * np.count_nonzero(inside.all(axis=-1), axis=-1))

    def take(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> None:
        """Keep a frame for a text."""
        self.low.append(low)
        self.high.append(high)
        self.written.append(box(*low, *high))

    def crossed(self, starts: NDArray[np.float64], ends: NDArray[np.float64]) -> NDArray[np.float64]:
        """Tell how much trouble lines would be, (n, 2) to (n, 2), that run over what was written."""
        shares = np.array([0.25, 0.5, 0.75, 1.0])[:, np.newaxis, np.newaxis]
        steps = (starts + shares * (ends - starts))[..., np.newaxis, :]
        return np.asarray(
            20.0 * np.count_nonzero(((steps > self.low) & (steps < self.high)).all(axis=-1), axis=(0, -1))
        )

    def write(self, figure: "Figure", text: str, middle: NDArray[np.float64], **how: Any) -> None:
        """Write a text about a spot."""
        half = 0.5 * _size(text)
        self.take(middle - half, middle + half)
        write(
            figure,
            middle[0],
            middle[1],
            text,
            **{"ha": "center", "va": "center", "linespacing": 1.1, "zorder": 7, **how},
        )

    def lay_paper(self, figure: "Figure") -> None:
        """Lay paper behind all that was written, for letters over colours."""
        trace(figure, *self.written, facecolor=PAPER, edgecolor="none", alpha=0.75, zorder=6)


def _size(text: str) -> NDArray[np.float64]:
    """Estimate the size of a text in inches."""
    rows = text.split("\n")
    return np.array([LETTER * max(map(len, rows)) + 0.04, LINE * len(rows)])


def _along(line: NDArray[np.float64], step: float = 0.04) -> NDArray[np.float64]:
    """Walk along a line in small steps."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.arange(0.0, length[-1], step)
    return np.stack([np.interp(at, length, line[:, axis]) for axis in (0, 1)], axis=-1)


def _name_sources(room: _Room, figure: "Figure", names: Sequence[str], places: NDArray[np.float64]) -> None:
    """Write the names of the light sources at the right, from the highest down, each with a line to its point."""
    order = np.argsort(-places[:, 1], kind="stable")
    left, gap = float(room.field.high[0]) - LABELS, 0.06
    tall = np.array([_size(names[i])[1] for i in order])
    # Each stands as high as its point where there is room for all above and below it.
    top = float(room.field.high[1]) - 0.04
    lowest = float(room.field.low[1]) + 0.04 + np.cumsum((tall + gap)[::-1])[::-1] - gap
    leaders = []
    for i, high, least in zip(order, tall, lowest, strict=True):
        top = float(np.clip(places[i, 1] + 0.5 * high, least, top))
        middle = top - 0.5 * high
        room.take(np.array([left, top - high]), np.array([left + _size(names[i])[0], top]))
        write(figure, left + 0.02, middle, names[i], va="center", linespacing=1.1, zorder=7)
        leaders.append(np.array([places[i], [left - 0.02, middle]]))
        top -= high + gap
    trace(figure, *leaders, edgecolor=MUTED, linewidth=0.8, zorder=2)
    room.lines = np.concatenate([room.lines, *map(_along, leaders)])


def _name_wavelengths(room: _Room, figure: "Figure") -> None:
    """Write the wavelength at some points of the spectrum locus, where nothing else stands."""
    locus, field = colorimetry.spectrum_locus(), room.field
    nm = np.array([*range(420, 500, 10), *range(500, 641, 5), 660, 700])
    points = locus[nm - 360]
    seen = np.all((points > field.first) & (points < field.last), axis=-1)
    nm, points = nm[seen], points[seen]
    away = points - [0.33, 0.33]
    spots = field.place(points) + away / np.hypot(*away.T)[:, np.newaxis] * [0.36, 0.15]
    half = 0.5 * _size("000 nm")
    dots = []
    for i in np.flatnonzero(room.costs(spots - half, spots + half) <= MOST):
        if room.costs(spots[[i]] - half, spots[[i]] + half)[0] <= MOST:
            room.write(figure, f"{nm[i]} nm", spots[i], color=MUTED)
            dots.append(field.place(points[[i, i]]) + np.array([[0.0, 0.0], DOT]))
    if dots:
        trace(figure, *dots, edgecolor=MUTED, linewidth=2.6, capstyle="round")


def _name_boundary(room: _Room, figure: "Figure", boundary: colours.Boundary, outline: NDArray[np.float64]) -> None:
    """Write the name of a boundary beside it, or farther out with a line to it."""
    starts, ends = outline[:-1], outline[1:]
    name = boundary.name.removeprefix("limit ")
    half = 0.5 * _size(name)
    spots, edges, dislike = [], [], []
    shares, gaps, slides = np.meshgrid([0.5, 0.3, 0.7, 0.0, 1.0], [0.05, 0.14, 0.26, 0.45, 0.8], [-0.4, 0.0, 0.4])
    for normal, offset in zip(boundary.normals, boundary.offsets, strict=True):
        on = (abs(starts @ normal - offset) < 1e-6) & (abs(ends @ normal - offset) < 1e-6)
        aside = np.array([-normal[1], normal[0]])
        for a, b in zip(starts[on], ends[on], strict=True):
            edge = room.field.place(a + shares[..., np.newaxis] * (b - a))
            away = gaps[..., np.newaxis] * (normal + slides[..., np.newaxis] * aside)
            spots.append(edge + away + np.sign(np.round(normal, 1)) * half)
            edges.append(edge)
            dislike.append(20 * abs(shares - 0.5) + 72 * gaps + 5 * abs(slides))
    if not spots:
        return
    edge, trouble = np.concatenate(edges).reshape(-1, 2), np.concatenate(dislike).ravel()
    middle = np.clip(np.concatenate(spots).reshape(-1, 2), room.field.low + half, room.field.high - half)
    nearest = np.clip(edge, middle - half, middle + half)
    chosen = int(np.argmin(trouble + room.costs(middle - half, middle + half) + room.crossed(nearest, edge)))
    room.write(figure, name, middle[chosen])
    line = np.array([nearest[chosen], edge[chosen]])
    if np.hypot(*(line[1] - line[0])) > 0.2:
        trace(figure, line, edgecolor=MUTED, linewidth=0.8, zorder=6.5)
        room.lines = np.concatenate([room.lines, _along(line)])


def _whole_diagram(figure: "Figure", close: Field, outline: NDArray[np.float64] | None) -> None:
    """Draw the whole chart small, with a frame about what is shown above."""
    low, high = np.array([MARGIN, 0.08]), np.array([MARGIN + 0.95, 0.08 + 0.95 * 0.88 / 0.8])
    field = Field(low, high, np.array(WHOLE[:2]), np.array(WHOLE[2:]))
    locus = field.place(colorimetry.spectrum_locus()[::4])
    colours_there, corners = _colours_of(field, 28)
    paint(figure, colours_there, corners, path_of([locus]), 0.8)
    trace(figure, np.concatenate([locus, locus[:1]]), edgecolor=MUTED, linewidth=1.0)
    if outline is not None:
        trace(figure, field.place(outline), linewidth=0.8)
    # A close-up that is wider than this picture ends with it.
    (left, bottom), (right, top) = np.maximum(field.place(close.first), low), np.minimum(field.place(close.last), high)
    trace(figure, box(left, bottom, right, top), linewidth=1.2)
