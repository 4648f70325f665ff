"""Charts of readings: the fair ratio beside the naive one, what is to blame, what makes it uncertain."""

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import numbers
from lampkit.errors import InputError
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.shortfall import FACTORS, Blame
from lampkit.page import reading_findings
from lampkit.page.style import (
    FAINT,
    LOOKS,
    MARGIN,
    MUTED,
    NARROW,
    PAPER,
    box,
    house_style,
    new_figure,
    numbered,
    round_numbers,
    shown,
    trace,
    wrapped,
    write,
)
from lampkit.plan.agreement import Confrontation
from lampkit.statements import Statement, say
from lampkit.uncertainty.budget import Budget

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FACTOR_WORDS = {
    "lens": say("page.chart.split.lens"),
    "lumens": say("page.chart.split.lumens"),
    "beam": say("page.chart.split.beam"),
}
"""What each factor of the split is, in few words."""

CAUSES_SHOWN = 6
"""How many causes of uncertainty are drawn one by one [1]. Source: own judgement."""

Mark = tuple[str, NDArray[np.float64]]
"""How a quantity is drawn, by its name in MARKS, and its lower limit, middle and upper limit [1]."""

MARKS: dict[str, dict[str, Any]] = {
    "strong": {"color": LOOKS[0][0], "marker": "o", "markerfacecolor": LOOKS[0][0], "linewidth": 3.2},
    "faint": {"color": MUTED, "marker": "s", "markerfacecolor": PAPER, "linewidth": 1.4},
    "naive": {"color": LOOKS[1][0], "marker": "D", "markerfacecolor": PAPER, "linewidth": 0.0},
}
"""Looks of an interval: filled dot and thick bar, open square and thin bar, open diamond. They differ in form, not in
colour alone. Source: own judgement."""

SHOWN = (0.001, 1000.0)
"""The widest scale [1]; what lies beyond is shown by an arrow. Source: own judgement."""

LETTERS, COLUMN, LINE = 43, 0.84, 0.18
"""Letters that fit across a chart of rows [1], and in inches the width of the names of its marks and the height of a
line. Source: own measurement with the letters of the house."""


def interval_chart(
    title: object,
    rows: Sequence[tuple[object, object, Sequence[Mark]]],
    label: object,
    names: Mapping[str, object],
    *,
    rule_above_last: bool = False,
) -> "Figure":
    """Draw rows of named intervals under their headings on one logarithmic scale, with a line at one."""
    # Bold letters are a fifth wider; a value that has no room behind its heading stands in the next line.
    headings = [wrapped(heading, LETTERS).splitlines() for heading, _, _ in rows]
    for lines, (_, value, _) in zip(headings, rows, strict=True):
        if len(lines[-1]) + 1.2 * len(str(value)) > LETTERS + 3:
            lines.append("")
    steps = [LINE * (len(lines) + len(marks)) + 0.1 for lines, (_, _, marks) in zip(headings, rows, strict=True)]
    heading_of_all = wrapped(title, 36)
    above = 0.42 + 0.2 * heading_of_all.count("\n")
    height = round(above + sum(steps) + 0.52, 2)
    ends = np.concatenate([limits for _, _, marks in rows for _, limits in marks])
    ends = ends[np.isfinite(ends) & (ends > 0)]
    low = max(min(0.5, float(ends.min(initial=0.5))) / 1.2, SHOWN[0])
    high = min(max(2.0, float(ends.max(initial=2.0))) * 1.2, SHOWN[1])
    left, right = MARGIN, NARROW - MARGIN

    def along(ratio: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(COLUMN + (right - COLUMN) * np.log(np.divide(ratio, low)) / np.log(high / low))

    one, y = float(along(1.0)), height - above
    zones: list[NDArray[np.float64]] = []
    rules: list[NDArray[np.float64]] = []
    placed: dict[str, list[tuple[float, NDArray[np.float64]]]] = {}
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.1, heading_of_all, fontsize=11.5, fontweight="bold")
        for (_, value, marks), lines, step in zip(rows, headings, steps, strict=True):
            for i, text in enumerate(lines):
                if text:
                    write(figure, left, y - 0.04 - LINE * i, text)
            write(figure, right, y - 0.04 - LINE * (len(lines) - 1), value, ha="right", weight="bold")
            first = y - LINE * (len(lines) + 0.5) - 0.02
            for j, (kind, limits) in enumerate(marks):
                placed.setdefault(kind, []).append((first - LINE * j, limits))
                write(figure, left, first - LINE * j, names[kind], va="center")
            y -= step
            zones.append(box(COLUMN, y + 0.05, one, first + 0.5 * LINE))
            rules.append(np.array([[left, y], [right, y]]))
        trace(figure, *zones, facecolor=FAINT, edgecolor="none", alpha=0.35, zorder=0.4)
        trace(figure, *(zone[1:3] for zone in zones), linewidth=1.4, zorder=0.6)
        trace(figure, *rules[:-1], edgecolor=FAINT, linewidth=0.8, zorder=0.5)
        if rule_above_last:
            trace(figure, rules[-2], edgecolor=MUTED, linewidth=1.4, zorder=0.5)
        for kind, where in placed.items():
            _intervals(figure, kind, where, along, (low, high))
        numbered(figure, y, (COLUMN, right), [(float(along(t)), f"{t:g}") for t in _ticks(low, high)], label)
    return figure


def _ticks(low: float, high: float) -> list[float]:
    """Choose ones, twos and fives, or fewer where the scale is long."""
    every = [m * 10.0**k for k in range(-3, 4) for m in (1, 2, 5)]
    # A label at the very end would leave the page.
    ticks = [t for t in every if 0.015 < np.log(t / low) / np.log(high / low) < 0.985]
    if len(ticks) > 8:
        ticks = [t for t in ticks if t in (0.5, 2.0) or abs(np.log10(t) % 1.0) < 1e-9]
    return ticks if len(ticks) <= 8 else [t for t in ticks if t not in (0.5, 2.0)]


def _intervals(
    figure: "Figure",
    kind: str,
    where: Sequence[tuple[float, NDArray[np.float64]]],
    along: Callable[[ArrayLike], NDArray[np.float64]],
    scale: tuple[float, float],
) -> None:
    """Draw all intervals of one kind: bars with their ends, or arrows beyond the scale, and the middles."""
    look, colour = MARKS[kind], MARKS[kind]["color"]
    if look["linewidth"]:
        bars = [(y, limits, along(np.clip(limits[[0, 2]], *scale))) for y, limits in where]
        trace(figure, *(np.array([[x[0], y], [x[1], y]]) for y, _, x in bars), edgecolor=colour,
              linewidth=look["linewidth"], label=kind, zorder=2)  # fmt: skip
        for end, beyond, arrow in ((0, -1.0, "<"), (1, 1.0, ">")):
            for gone, marker in ((False, "|"), (True, arrow)):
                at = [(float(x[end]), y) for y, v, x in bars if (beyond * (v[2 * end] - scale[end]) > 0) == gone]
                _markers(figure, at, marker, markersize=8, color=colour)
    middles = [(float(along(limits[1])), y) for y, limits in where if scale[0] <= limits[1] <= scale[1]]
    _markers(figure, middles, look["marker"], markersize=7.0, markerfacecolor=look["markerfacecolor"],
             markeredgecolor=colour, markeredgewidth=1.3)  # fmt: skip


def _markers(figure: "Figure", at: Sequence[tuple[float, float]], marker: str, **how: Any) -> None:
    from matplotlib.lines import Line2D

    if at:
        x, y = zip(*at, strict=True)
        held = {"linestyle": "none", "marker": marker, "transform": figure.dpi_scale_trans, "zorder": 2.5}
        figure.add_artist(Line2D(x, y, **{**held, **how}))


def fair_ratios(comparison: Comparison) -> "Figure":
    """Draw each fair ratio with its 95 % interval, and beside it what dividing the raw readings would have said."""
    rows = [
        (
            say("page.chart.fair.row", lamp=r.lamp, new=r.new, old=r.old),
            reading_findings.ratio_words(r.ratio),
            [("strong", r.ratio), ("naive", np.full(3, r.naive))],
        )
        for r in comparison.ratios
    ]
    figure = interval_chart(
        say("page.chart.fair.title"),
        rows,
        say("page.chart.fair.axis"),
        {"strong": say("page.chart.fair.strong"), "naive": say("page.chart.fair.naive")},
    )
    return shown(figure, describe_fair_ratios(comparison))


def describe_fair_ratios(comparison: Comparison) -> Statement:
    """Say in words what `fair_ratios` shows."""
    pairs = [
        say(
            "page.chart.fair.pair",
            lamp=r.lamp,
            new=r.new,
            old=r.old,
            ratio=reading_findings.ratio_words(r.ratio),
            naive=r.naive,
        )
        for r in comparison.ratios
    ]
    return say("page.chart.fair.described", pairs=pairs)


def split(blame: Blame, *, title: object = "") -> "Figure":
    """Draw how a measured ratio splits into lens, lumens and beam, before and after the reading."""
    rows: list[tuple[object, object, list[Mark]]] = [
        (FACTOR_WORDS[name], numbers.interval(after), [("strong", after), ("faint", before)])
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    rows.append((say("page.chart.split.together"), numbers.interval(blame.product), [("strong", blame.product)]))
    figure = interval_chart(
        title or say("page.readings.blame"),
        rows,
        say("page.chart.split.axis"),
        {"strong": say("page.chart.split.strong"), "faint": say("page.chart.split.faint")},
        rule_above_last=True,
    )
    return shown(figure, describe_split(blame))


def describe_split(blame: Blame) -> Statement:
    """Say in words what `split` shows."""
    factors = [
        say("page.chart.split.factor", name=name, after=after, before=before)
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    return say("page.chart.split.described", product=blame.product, factors=factors)


def measured_against_predicted(confrontation: Confrontation) -> "Figure":
    """Draw each measured ratio beside its prediction."""
    if not confrontation.findings:
        raise InputError("no lamp was read with two light sources", expected="a measured ratio to draw")
    rows = []
    for f in confrontation.findings:
        row = say("page.chart.beside.row", lamp=f.ratio.lamp, new=f.ratio.new)
        rows.append((row, f.ratio.light, [("strong", f.ratio.ratio), ("faint", f.predicted)]))
    figure = interval_chart(
        say("page.chart.beside.title"),
        rows,
        say("page.chart.beside.axis"),
        {"strong": say("page.chart.beside.strong"), "faint": say("page.chart.beside.faint")},
    )
    return shown(figure, describe_measured_against_predicted(confrontation))


def describe_measured_against_predicted(confrontation: Confrontation) -> Statement:
    """Say in words what `measured_against_predicted` shows."""
    pairs = [
        say(
            "page.chart.beside.pair",
            lamp=f.ratio.lamp,
            new=f.ratio.new,
            old=f.ratio.old,
            ratio=reading_findings.ratio_words(f.ratio.ratio),
            predicted=f.predicted,
            light=f.ratio.light,
        )
        for f in confrontation.findings
    ]
    return say("page.chart.beside.described", pairs=pairs)


def contributions_chart(table: Budget) -> "Figure":
    """Draw what contributes to the uncertainty of a ratio, the greatest first.

    Parameters
    ----------
    table : Budget
        The budget of the ratio.

    Returns
    -------
    Figure
        A bar for each cause: its standard uncertainty in percent of the ratio.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> ratio = lk.measurement.compare_readings(log, draws=200).ratios[0]
    >>> lk.page.contributions_chart(ratio.budget).texts[0].get_text()
    'What makes the ratio uncertain'

    Source: JCGM 100:2008, 5.1: standard uncertainties add in squares, not as lengths.
    """
    found = _few_causes(table)
    together = reading_findings.whole_uncertainty(table)
    rows = [*found, (say("page.cause.together"), together, 1.0)]
    step, above, last = 0.42, 0.42, len(found)
    height = round(above + step * len(rows) + 1.0, 2)
    longest = 108 * max(together, 1e-6)
    left, right = MARGIN, NARROW - MARGIN
    bars = []
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.1, say("page.chart.causes.title"), fontsize=11.5, fontweight="bold")
        for i, (cause, relative, part) in enumerate(rows):
            y = height - above - step * i
            if i == last:
                value = say("page.chart.causes.whole", uncertainty=100 * relative)
            else:
                value = say("page.chart.causes.part", uncertainty=100 * relative, share=part)
            write(figure, left, y - 0.03, cause)
            write(figure, right, y - 0.03, value, ha="right", weight="bold")
            bars.append(box(left, y - 0.37, left + (right - left) * 100 * relative / longest, y - 0.24))
        look = {"facecolor": PAPER, "edgecolor": LOOKS[0][0], "hatch": LOOKS[0][2]}
        trace(figure, *bars[:-1], **look, linewidth=1.2, label="cause")
        trace(figure, bars[-1], facecolor=FAINT, linewidth=1.2, label="together")
        ticks = round_numbers(0, longest, 6)
        at = [(left + (right - left) * t / longest, f"{t:g}") for t in ticks]
        numbered(figure, y - step, (left, right), at, say("page.chart.causes.axis"))
        write(figure, left, y - step - 0.48, wrapped(say("page.chart.causes.note"), LETTERS - 3), color=MUTED)
    return shown(figure, describe_contributions(table))


def describe_contributions(table: Budget) -> Statement:
    """Say in words what `contributions_chart` shows."""
    named = [
        say("page.chart.causes.cause", name=cause, uncertainty=100 * relative, share=part)
        for cause, relative, part in _few_causes(table)
    ]
    together = 100 * reading_findings.whole_uncertainty(table)
    return say("page.chart.causes.described", causes=named, together=together)


def _few_causes(table: Budget) -> list[tuple[object, float, float]]:
    found = reading_findings.causes(table)
    few: list[tuple[object, float, float]] = [(c.name, c.uncertainty, c.share) for c in found[:CAUSES_SHOWN]]
    if rest := found[CAUSES_SHOWN:]:
        root = float(np.sqrt(sum(c.uncertainty**2 for c in rest)))
        few.append((say("page.chart.causes.smaller", number=len(rest)), root, sum(c.share for c in rest)))
    return few
