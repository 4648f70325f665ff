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
    box,
    called,
    css,
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
    height = 0.34 + sum(heads) + (ROW + 0.04) * len(heads) + 0.98
    curves = [_before_and_after(result) for _, result in everyone]
    most = _round_up(max(float(before.max()) for before, _ in curves))
    x = across(grid.WAVELENGTHS[DRAWN])
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.08, title, fontsize=11.5, fontweight="bold")
        top = first = height - 0.34 - heads[0]
        floor = top - ROW
        row_words(figure, top, lens, say("page.chart.lens_light.passed"))
        draw_lens(figure, x, floor, assessment.lens.transmittance[DRAWN])
        outlines: tuple[list[NDArray[np.float64]], list[NDArray[np.float64]]] = ([], [])
        for (tag, result), pair, name, head in zip(everyone, curves, names, heads[1:], strict=True):
            top = floor - 0.04 - head
            floor = top - ROW
            before, after = (floor + ROW * curve / most for curve in pair)
            for listed, y in zip(outlines, (before, after), strict=True):
                listed.append(np.stack([[x[0], *x, x[-1]], [floor, *y, floor]], axis=-1))
            trace(figure, outlines[1][-1], hatch=look_of(tag)[2], label=f"after {tag}")
            share = say("page.chart.lens_light.passes", share=float(result.luminous_transmittance[1]))
            row_words(figure, top, name, share, weight="bold")
            if result is assessment.old:
                _name_before_and_after(figure, x, before, after, floor)
        trace(figure, *outlines[0], edgecolor=MUTED, linewidth=0.9, label="before")
        strip = wavelength_strip(figure, floor - 0.06, first)
        # One array of colours fills all of them: light before the lens fainter than light after it.
        corners = (x[0], x[-1], strip[0, 1], first)
        paint(figure, wavelength_colours()[np.newaxis], corners, path_of(outlines[0]), 0.28)
        paint(figure, wavelength_colours()[np.newaxis], corners, path_of([*outlines[1], strip]), 0.95)
        write(figure, MARGIN, floor - 0.53, say("page.chart.lens_light.scale", most=most), color=MUTED)
    passed = [
        say("page.chart.lens_light.share", share=float(r.luminous_transmittance[1]), name=called(r.source))
        for _, r in tagged(assessment)
    ]
    return shown(figure, say("page.chart.lens_light.described", lamp=assessment.name, passed=passed))


def across(nm: ArrayLike) -> NDArray[np.float64]:
    """Give the place of wavelengths from the left, in inches."""
    left, right = MARGIN + 0.08, NARROW - MARGIN
    return np.asarray(left + (right - left) * (np.asarray(nm) - VISIBLE[0]) / (VISIBLE[1] - VISIBLE[0]))


def _before_and_after(result: Result) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the light before and after the lens, of one lumen before it, as the eye has it [lm/nm].

    As it burns: heat has taken its light and moved its peak on both sides of the lens.
    """
    for_the_eye = photometry.K_M * photometry.luminous_efficiency() / photometry.luminous_flux(result.spectrum_before)
    return (for_the_eye * result.spectrum_before)[DRAWN], (for_the_eye * result.spectrum_through)[DRAWN]


def _round_up(value: float) -> float:
    """Give the next number with one digit above a value."""
    unit = 10.0 ** np.floor(np.log10(max(value, 1e-9)))
    return float(unit * np.ceil(value / unit))


def row_words(figure: "Figure", y: float, name: object, value: object, **how: Any) -> None:
    """Write over a row what it shows and, at its end, the answer."""
    write(figure, MARGIN, y + 0.05, name, va="bottom", linespacing=1.1)
    write(figure, NARROW - MARGIN, y + 0.05, value, va="bottom", ha="right", linespacing=1.1, **how)


def draw_lens(
    figure: "Figure", x: NDArray[np.float64], floor: float, passed: NDArray[np.float64], tall: float = ROW
) -> None:
    """Draw what a lens passes between two lines, none and all, and name the one that is far from the curve."""
    trace(figure, np.stack([x, floor + tall * passed], axis=-1), linestyle=(0, (4, 1.5)), linewidth=1.6)
    rules = (np.array([[x[0], y], [x[-1], y]]) for y in (floor, floor + tall))
    trace(figure, *rules, edgecolor=FAINT, linewidth=0.8, zorder=0.1)
    left, clear = passed[0] <= passed[-1], min(passed[0], passed[-1]) > 0.5
    words = say("page.chart.lens_light.none" if clear else "page.chart.lens_light.all")
    at, y = (x[0] + 0.03 if left else x[-1] - 0.03), (floor + 0.02 if clear else floor + tall - 0.02)
    write(figure, at, y, words, ha="left" if left else "right", va="bottom" if clear else "top", color=MUTED)


def wavelength_strip(figure: "Figure", top: float, highest: float) -> NDArray[np.float64]:
    """Write the names of colours and the wavelengths under all rows, with lines up to the highest; give the strip."""
    bottom = top - 0.18
    for wavelength, colour in COLOUR_NAMES.items():
        write(
            figure,
            float(across(wavelength)),
            top - 0.095,
            colour,
            ha="center",
            va="center",
            color=letters_on(wavelength),
        )
    told = np.arange(400.0, 751.0, 50.0)
    for nm, number in zip(told[::2], ("400", "500", "600", say("page.chart.wavelength.last", nm=700)), strict=True):
        write(figure, float(across(nm)), bottom - 0.06, number, ha="center")
    lines = (np.array([[x, bottom - 0.05], [x, highest]]) for x in across(told))
    trace(figure, *lines, edgecolor=FAINT, linewidth=0.8, zorder=0.1)
    return box(float(across(VISIBLE[0])), bottom, float(across(VISIBLE[1])), top)


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
    names = [wrapped(row.name, round(48 - 1.2 * len(answer))) for row, answer in zip(rows, answers, strict=True)]
    steps = [HEAD + BAR + LINE * name.count("\n") for name in names]
    above = 0.54 + 0.18 * title.count("\n")
    height = above + sum(steps) + 0.5
    one, y = float(along(1.0)), height - above
    pieces: dict[str, list[NDArray[np.float64]]] = {"zone": [], "rule": [], "filament": [], "others": [], "ends": []}
    rooms: list[_Room] = []
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.08, title, fontsize=11.5, fontweight="bold")
        # What lies to either side of the line at one is said there, once.
        write(figure, one - 0.06, y + 0.17, say("page.chart.light.less"), ha="right", color=MUTED)
        write(figure, one + 0.06, y + 0.17, say("page.chart.light.more"), color=MUTED)
        for row, name, answer, step in zip(rows, names, answers, steps, strict=True):
            write(figure, left, y - 0.03, name, linespacing=1.1)
            write(figure, right, y - 0.03, answer, ha="right", linespacing=1.1, fontweight="bold")
            y -= step
            here = y + 0.5 * BAR
            # The name keeps its line to itself.
            pieces["zone"].append(box(left, y, one, y + BAR))
            pieces["filament"].append(np.array([[one, y], [one, y + BAR]]))
            pieces["rule"].append(np.array([[left, y], [right, y]]))
            others = [float(v) for v in along([v for v in row.others if v > 0])]
            pieces["others"] += [_tick(v, here) for v in others]
            interval: list[float] = []
            if row.result is not None:
                low, middle, high = interval = [float(v) for v in along(np.maximum(row.result.ratio, ends[0]))]
                pieces["ends"] += [_tick(v, here) for v in (low, high)]
                trace(figure, box(low, here - 0.028, high, here + 0.028), facecolor=css(row.result.chromaticity),
                      label="interval", zorder=3)  # fmt: skip
                marked(figure, middle, here, row.result, row.tag)
            rooms.append(_Room(here, others, interval))
        trace(figure, *pieces["zone"], facecolor=FAINT, edgecolor="none", alpha=0.35, zorder=0.4)
        trace(figure, *pieces["rule"], edgecolor=FAINT, linewidth=0.8, zorder=0.5)
        trace(figure, *pieces["filament"], linewidth=1.4, label="filament")
        trace(figure, *pieces["others"], *pieces["ends"], linewidth=1.2, zorder=3)
        if not _name_beside(figure, rooms, [room.interval for room in rooms], say("page.chart.light.interval"), one):
            # Every row is full; over them there is room at the farther side of the line at one.
            end, side = (left, "left") if one > 0.5 * NARROW else (right, "right")
            write(figure, end, height - above + 0.17, say("page.chart.light.bar"), ha=side, color=MUTED)
        _name_beside(figure, rooms, [room.others for room in rooms], say("page.chart.light.others"), one)
        _numbers(figure, y, along, ends)
    if isinstance(assessments, Assessment):
        told = [say("page.chart.light.of", name=called(r.source), ratio=r.ratio) for r in assessments.results]
        return shown(figure, say("page.chart.light.described", lamp=assessments.name, told=told))
    chosen = {a.name: (suggested or {}).get(a.name) for a in assessments}
    told = [
        say("page.chart.light.of_filament", name=name)
        if result is None
        else say("page.chart.light.of", name=name, ratio=result.ratio)
        for name, result in chosen.items()
    ]
    return shown(figure, say("page.chart.light.described_of_all", told=told))


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


def _tick(x: float, y: float) -> NDArray[np.float64]:
    return np.array([[x, y - 0.065], [x, y + 0.065]])


def _name_beside(
    figure: "Figure", rooms: Sequence[_Room], meant: Sequence[Sequence[float]], words: Statement, one: float
) -> bool:
    """Write once, beside the first that has room for it, what a bar is, or what a small mark is; tell whether."""
    wide = 0.082 * len(str(words)) + 0.12
    for room, marks in zip(rooms, meant, strict=True):
        low, _, high = room.interval or (np.inf, 0.0, -np.inf)
        for mark in sorted(marks):
            for side, step in (("left", 1.0), ("right", -1.0)):
                # A bar that ends just beyond the line at one is named across it.
                start = one if 0.0 < step * (one - mark) < 0.3 else mark
                inside = low < start + 0.01 * step < high
                taken = [*room.others, *room.interval, one, MARGIN, NARROW - MARGIN]
                free = min((step * (x - start) for x in taken if step * (x - start) > 0.0), default=0.0)
                if free >= wide and not inside:
                    write(figure, start + 0.07 * step, room.y - 0.005, words, va="center", ha=side, color=MUTED)
                    return True
    return not any(meant)


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
