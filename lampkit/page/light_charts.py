"""Charts of what a lens does to light: spectra before and after it, and the light against the filament's."""

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, numbers
from lampkit.conversion.assessment import Assessment, Result
from lampkit.errors import InputError
from lampkit.light import photometry
from lampkit.page.style import (
    COLOUR_NAMES,
    DRAWN,
    FAINT,
    LETTERS,
    MARGIN,
    MUTED,
    NARROW,
    VISIBLE,
    called,
    colour_behind_lens,
    house_style,
    letters_on,
    look_of,
    marked,
    new_figure,
    paint,
    path_of,
    shown,
    tagged,
    trace,
    wavelength_colours,
    wrapped,
    write,
)
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LINE, HEAD, ROW, BAR = 0.165, 0.24, 0.4, 0.2
"""Heights of a line of letters, of the first line over a row, of the row under a spectrum, and of that of an
interval, in inches."""

STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Where a scale of ratios may have a number [1]."""


def _light_for_the_eye(spectrum: NDArray[np.float64], luminous_flux: float) -> NDArray[np.float64]:
    """Weight by what the eye makes of each wavelength: the area under the curve is the light."""
    return np.asarray(photometry.K_M * photometry.luminous_efficiency() * spectrum / luminous_flux)


def through_lens_chart(assessment: Assessment) -> "Figure":
    """Draw the light of the filament and of every candidate before and after the lens, each from one lumen.

    Parameters
    ----------
    assessment : Assessment
        The lamp.

    Returns
    -------
    Figure
        One row a light source, all to one scale: equal areas are equal light to the eye.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    >>> chart = lk.page.through_lens_chart(job)
    >>> [words.get_text() for words in chart.texts if words.get_text().endswith("% passes")]
    ['23 % passes', '80 % passes']
    """
    everyone = tagged(assessment)
    title = wrapped(say("page.chart.lens_light.title"), LETTERS)
    lens = wrapped(say("page.chart.lens_light.lens", lens=assessment.lens.name), 28)
    names = [wrapped(f"{tag}  {called(r.source)}", 31) for tag, r in everyone]
    heads = [HEAD + LINE * words.count("\n") for words in (lens, *names)]
    below = 0.98
    height = 0.34 + sum(heads) + (ROW + 0.04) * len(heads) + below
    left, right = MARGIN + 0.08, NARROW - MARGIN
    nm = grid.WAVELENGTHS[DRAWN]
    x = left + (right - left) * (nm - VISIBLE[0]) / (VISIBLE[1] - VISIBLE[0])
    # One lumen each as it burns: heat has taken its light and moved its peak on both sides of the lens.
    lumens = [float(photometry.luminous_flux(r.spectrum_before)) for _, r in everyone]
    curves = [
        [_light_for_the_eye(spectrum, lm)[DRAWN] for spectrum in (r.spectrum_before, r.spectrum_through)]
        for (_, r), lm in zip(everyone, lumens, strict=True)
    ]
    most = _round_up(max(float(before.max()) for before, _ in curves))
    with house_style():
        figure = new_figure(height, NARROW)
        write(figure, MARGIN, height - 0.08, title, fontsize=11.5, fontweight="bold")
        top = height - 0.34 - heads[0]
        floor = top - ROW
        passed = floor + ROW * assessment.lens.transmittance[DRAWN]
        # The lens's own row has lines at nothing and at all of the light.
        rules = [np.array([[left, y], [right, y]]) for y in (floor, top)]
        _row_words(figure, top, lens, say("page.chart.lens_light.passed"))
        trace(figure, np.stack([x, passed], axis=-1), linestyle=(0, (4, 1.5)), linewidth=1.6)
        _name_limit(figure, (left, right), (floor, top), passed)
        outlines: tuple[list[NDArray[np.float64]], list[NDArray[np.float64]]] = ([], [])
        for (tag, result), pair, name, head in zip(everyone, curves, names, heads[1:], strict=True):
            top = floor - 0.04 - head
            floor = top - ROW
            for listed, curve in zip(outlines, pair, strict=True):
                shape = np.stack([x, floor + ROW * curve / most], axis=-1)
                listed.append(np.concatenate([[[x[0], floor]], shape, [[x[-1], floor]]]))
            trace(figure, outlines[1][-1], hatch=look_of(tag)[2], label=f"after {tag}")
            share = say("page.chart.lens_light.passes", share=float(result.luminous_transmittance[1]))
            _row_words(figure, top, name, share, weight="bold")
            if result is assessment.old:
                _name_before_and_after(figure, x, outlines[0][-1][1:-1, 1], outlines[1][-1][1:-1, 1], floor)
        trace(figure, *outlines[0], edgecolor=MUTED, linewidth=0.9, label="before")
        at = left + (right - left) * (np.arange(400.0, 751.0, 50.0) - VISIBLE[0]) / (VISIBLE[1] - VISIBLE[0])
        strip = (left, floor - 0.24, right, floor - 0.06)
        trace(figure, *(np.array([[one, strip[1] - 0.05], [one, height - 0.34 - heads[0]]]) for one in at), *rules,
              edgecolor=FAINT, linewidth=0.8, zorder=0.1)  # fmt: skip
        frame = np.array([[strip[0], strip[1]], [strip[2], strip[1]], [strip[2], strip[3]], [strip[0], strip[3]]])
        corners = (left, right, strip[1], height - 0.34)
        colours = wavelength_colours()[np.newaxis]
        paint(figure, colours, corners, path_of(outlines[0]), 0.28)
        paint(figure, colours, corners, path_of([*outlines[1], frame]), 0.95)
        middle = 0.5 * (strip[1] + strip[3]) - 0.005
        for wavelength, colour in COLOUR_NAMES.items():
            write(figure, float(np.interp(wavelength, nm, x)), middle, colour, ha="center", va="center",
                  color=letters_on(wavelength))  # fmt: skip
        for one, number in zip(at[::2], ("400", "500", "600", say("page.chart.wavelength.last", nm=700)), strict=True):
            write(figure, one, strip[1] - 0.06, number, ha="center")
        write(figure, MARGIN, strip[1] - 0.29, say("page.chart.lens_light.scale", most=most), color=MUTED)
    return shown(figure, describe_through_lens(assessment))


def _round_up(value: float) -> float:
    """Give the next number with one digit above a value."""
    unit = 10.0 ** np.floor(np.log10(max(value, 1e-9)))
    return float(unit * np.ceil(value / unit))


def _row_words(figure: "Figure", y: float, name: object, value: object, **how: Any) -> None:
    """Write over a row what it shows and, at its end, the answer."""
    write(figure, MARGIN, y + 0.05, name, va="bottom", linespacing=1.1)
    write(figure, NARROW - MARGIN, y + 0.05, value, va="bottom", ha="right", **how)


def _name_limit(
    figure: "Figure", ends: tuple[float, float], limits: tuple[float, float], passed: NDArray[np.float64]
) -> None:
    """Write what one of the two lines about the curve of a lens stands for, where the curve is far from it."""
    side = int(passed[0] > passed[-1])
    clear = bool(passed[-side] > 0.5 * sum(limits))
    how: dict[str, Any] = {"ha": ("left", "right")[side], "va": ("top", "bottom")[clear], "color": MUTED}
    words = say("page.chart.lens_light.none" if clear else "page.chart.lens_light.all")
    write(figure, ends[side] + (0.03, -0.03)[side], limits[0] + 0.02 if clear else limits[1] - 0.02, words, **how)


def _name_before_and_after(
    figure: "Figure", x: NDArray[np.float64], before: NDArray[np.float64], after: NDArray[np.float64], floor: float
) -> None:
    """Write at the first spectrum which outline is before the lens and which after it."""
    lost, kept = int(np.argmax(before - after)), int(np.argmax(after))
    # Each stands on the side where its outline is; the filament gives the eye little at either end.
    words = [(say("page.chart.lens_light.before"), lost, before), (say("page.chart.lens_light.after"), kept, after)]
    level = floor + 0.7 * ROW
    for (text, at, curve), side, end, step in zip(
        words if lost <= kept else words[::-1], ("left", "right"), (x[0] + 0.04, x[-1] - 0.04), (1.0, -1.0), strict=True
    ):
        write(figure, end, level, text, va="center", ha=side)
        beside = end + step * (0.082 * len(str(text)) + 0.06)
        trace(figure, np.array([[beside, level], [x[at], curve[at]]]), edgecolor=MUTED, linewidth=0.8)


def describe_through_lens(assessment: Assessment) -> Statement:
    """Say in words what `through_lens` shows."""
    passed = [
        say("page.chart.lens_light.share", share=float(r.luminous_transmittance[1]), name=called(r.source))
        for _, r in tagged(assessment)
    ]
    return say("page.chart.lens_light.described", lamp=assessment.name, passed=passed)


def ratio_chart(
    assessments: Assessment | Sequence[Assessment], *, suggested: Mapping[str, Result | None] | None = None
) -> "Figure":
    """Draw the light against the filament's, with 95 % intervals, on a logarithmic scale.

    Parameters
    ----------
    assessments : Assessment or sequence of Assessment
        One lamp, with a row for each candidate; or many lamps, with a row for each lamp.
    suggested : mapping of str to Result, optional
        For many lamps, the candidate to show with its interval, by the name of the lamp; the others are shown as
        small marks. Where a lamp has none, its filament stays and only small marks are
        shown.

    Returns
    -------
    Figure
        The chart, with a line at the filament's light; equal distances are equal ratios.

    Raises
    ------
    InputError
        There is no candidate to draw.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    >>> lk.page.ratio_chart(job).texts[0].get_text()
    "Light against the filament's"
    """
    rows = _rows(assessments, suggested or {})
    if not any(row.result is not None or row.others for row in rows):
        raise InputError("there is no candidate to compare with the filament", key="assessments")
    values = [
        float(v) for row in rows for v in [*row.others, *([] if row.result is None else row.result.ratio)] if v > 0
    ]
    ends = (min([0.5, *values]) / 1.15, max([2.0, *values]) * 1.15)
    left, right = MARGIN, NARROW - MARGIN

    def along(ratio: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(left + (right - left) * np.log(np.divide(ratio, ends[0])) / np.log(ends[1] / ends[0]))

    of_all = not isinstance(assessments, Assessment)
    title = wrapped(say("page.chart.light.title_of_all" if of_all else "page.chart.light.title"), LETTERS - 4)
    answers = [_answer(row) for row in rows]
    names = [wrapped(row.name, round(47 - 1.2 * len(answer))) for row, answer in zip(rows, answers, strict=True)]
    steps = [HEAD + BAR + LINE * name.count("\n") for name in names]
    above = 0.54 + 0.18 * title.count("\n")
    height = above + sum(steps) + 0.5
    one, y = float(along(1.0)), height - above
    pieces: dict[str, list[NDArray[np.float64]]] = {"zone": [], "rule": [], "filament": [], "others": [], "ends": []}
    rooms: list[_Room] = []
    with house_style():
        figure = new_figure(height, NARROW)
        write(figure, MARGIN, height - 0.08, title, fontsize=11.5, fontweight="bold")
        # What lies to either side of the line at one is said there, once.
        write(figure, one - 0.06, y + 0.17, say("page.chart.light.less"), ha="right", color=MUTED)
        write(figure, one + 0.06, y + 0.17, say("page.chart.light.more"), color=MUTED)
        for row, name, answer, step in zip(rows, names, answers, steps, strict=True):
            write(figure, left, y - 0.03, name, linespacing=1.1)
            write(figure, right, y - 0.03, answer, ha="right", fontweight="bold")
            y -= step
            here = y + 0.5 * BAR
            # The name keeps its line to itself.
            pieces["zone"].append(_box(left, y, one, y + BAR))
            pieces["filament"].append(np.array([[one, y], [one, y + BAR]]))
            pieces["rule"].append(np.array([[left, y], [right, y]]))
            others = [float(v) for v in along([v for v in row.others if v > 0])]
            pieces["others"] += [_tick(v, here) for v in others]
            interval: list[float] = []
            if row.result is not None:
                low, middle, high = interval = [float(v) for v in along(np.maximum(row.result.ratio, ends[0]))]
                pieces["ends"] += [_tick(v, here) for v in (low, high)]
                trace(figure, _box(low, here - 0.028, high, here + 0.028), facecolor=colour_behind_lens(row.result),
                      label="interval", zorder=3)  # fmt: skip
                marked(figure, middle, here, row.result, row.tag)
            rooms.append(_Room(here, others, interval))
        trace(figure, *pieces["zone"], facecolor=FAINT, edgecolor="none", alpha=0.35, zorder=0.4)
        trace(figure, *pieces["rule"], edgecolor=FAINT, linewidth=0.8, zorder=0.5)
        trace(figure, *pieces["filament"], linewidth=1.4, label="filament")
        trace(figure, *pieces["others"], *pieces["ends"], linewidth=1.2, zorder=3)
        _name_beside(figure, rooms, [room.interval for room in rooms], say("page.chart.light.interval"), one)
        _name_beside(figure, rooms, [room.others for room in rooms], say("page.chart.light.others"), one)
        _numbers(figure, y, along, ends)
    return shown(figure, describe_ratio(assessments, suggested=suggested))


class _Row(NamedTuple):
    """A row of a chart of ratios: its tag and name, what has an interval, and the ratios of the others."""

    tag: str
    name: str
    result: Result | None
    others: Sequence[float]


class _Room(NamedTuple):
    """What is drawn in a row, from the left in inches: its height, the others on offer, the interval."""

    y: float
    others: Sequence[float]
    interval: Sequence[float]


def _rows(assessments: Assessment | Sequence[Assessment], suggested: Mapping[str, Result | None]) -> list[_Row]:
    if isinstance(assessments, Assessment):
        return [_Row(tag, f"{tag}  {called(r.source)}", r, []) for tag, r in tagged(assessments)[1:]]
    chosen = [suggested.get(a.name) for a in assessments]
    return [
        _Row("F", a.name, shown_one, [float(r.ratio[1]) for r in a.results if r is not shown_one])
        for a, shown_one in zip(assessments, chosen, strict=True)
    ]


def _answer(row: _Row) -> str:
    """Say at the end of a row what comes of it."""
    if row.result is not None:
        return numbers.interval(row.result.ratio)
    return str(say("page.chart.light.stays" if row.others else "page.chart.light.nothing"))


def _box(left: float, bottom: float, right: float, top: float) -> NDArray[np.float64]:
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top], [left, bottom]])


def _tick(x: float, y: float) -> NDArray[np.float64]:
    return np.array([[x, y - 0.065], [x, y + 0.065]])


def _name_beside(
    figure: "Figure", rooms: Sequence[_Room], meant: Sequence[Sequence[float]], words: Statement, one: float
) -> None:
    """Write once, beside the first that has room for it, what a bar is, or what a small mark is."""
    wide = 0.082 * len(str(words)) + 0.12
    for room, ends in zip(rooms, meant, strict=True):
        every = sorted([*room.others, *room.interval])
        for end, side, step in ((max(every, default=0.0), "left", 1.0), (min(every, default=0.0), "right", -1.0)):
            beyond = end + step * wide
            free = MARGIN < beyond < NARROW - MARGIN and not min(end, beyond) < one < max(end, beyond)
            if end in ends and free:
                write(figure, end + 0.07 * step, room.y - 0.005, words, va="center", ha=side, color=MUTED)
                return


def _numbers(
    figure: "Figure", y: float, along: Callable[[ArrayLike], NDArray[np.float64]], ends: tuple[float, float]
) -> None:
    """Write the numbers of the scale under the rows, and what they are."""
    told = [v for v in STEPS if ends[0] <= v <= ends[1]]
    if len(told) > 8:
        told = [v for v in told if v in (0.01, 0.1, 0.5, 1.0, 2.0, 10.0, 100.0)]
    at = along(told)
    axis = np.array([[MARGIN, y], [NARROW - MARGIN, y]])
    trace(figure, axis, *(np.array([[x, y], [x, y - 0.05]]) for x in at), edgecolor=MUTED, linewidth=0.8)
    for x, value in zip(at, told, strict=True):
        write(figure, x, y - 0.07, f"{value:g}", ha="center")
    write(figure, 0.5 * NARROW, y - 0.26, say("page.chart.light.axis"), ha="center")


def describe_ratio(
    assessments: Assessment | Sequence[Assessment], *, suggested: Mapping[str, Result | None] | None = None
) -> Statement:
    """Say in words what `ratio_chart` shows."""
    if isinstance(assessments, Assessment):
        told = [say("page.chart.light.of", name=called(r.source), ratio=r.ratio) for r in assessments.results]
        return say("page.chart.light.described", lamp=assessments.name, told=told)
    told = []
    for a in assessments:
        chosen = (suggested or {}).get(a.name)
        if chosen is None:
            told.append(say("page.chart.light.of_filament", name=a.name))
        else:
            told.append(say("page.chart.light.of", name=a.name, ratio=chosen.ratio))
    return say("page.chart.light.described_of_all", told=told)
