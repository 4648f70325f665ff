"""Charts of readings: the fair ratio beside the naive one, what is to blame, what makes it uncertain."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.errors import InputError
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.shortfall import FACTORS, Blame
from lampkit.page import reading_findings
from lampkit.page.style import (
    FAINT,
    INK,
    LOOKS,
    MUTED,
    NARROW,
    PAPER,
    axes_at,
    house_style,
    new_figure,
    shown,
    wrapped,
    write,
)
from lampkit.plan.agreement import Confrontation
from lampkit.statements import Statement, say
from lampkit.uncertainty.budget import Budget

if TYPE_CHECKING:
    from matplotlib.axes import Axes
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
    from matplotlib.collections import LineCollection, PolyCollection

    # Bold letters are a fifth wider; a value that has no room behind its heading stands in the next line.
    headings = [wrapped(heading, LETTERS).splitlines() for heading, _, _ in rows]
    for lines, (_, value, _) in zip(headings, rows, strict=True):
        if len(lines[-1]) + 1.2 * len(str(value)) > LETTERS + 3:
            lines.append("")
    steps = [LINE * (len(lines) + len(marks)) + 0.1 for lines, (_, _, marks) in zip(headings, rows, strict=True)]
    starts = np.concatenate([[0.0], np.cumsum(steps)])
    heading_of_all = wrapped(title, 36)
    top, bottom, whole = 0.42 + 0.2 * heading_of_all.count("\n"), 0.52, float(starts[-1])
    ends = np.concatenate([limits for _, _, marks in rows for _, limits in marks])
    ends = ends[np.isfinite(ends) & (ends > 0)]
    low = max(min(0.5, float(ends.min(initial=0.5))) / 1.2, SHOWN[0])
    high = min(max(2.0, float(ends.max(initial=2.0))) * 1.2, SHOWN[1])
    with house_style():
        figure = new_figure(top + whole + bottom, NARROW)
        write(figure, 0.1, top + whole + bottom - 0.1, heading_of_all, fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, COLUMN, bottom, NARROW - COLUMN - 0.12, whole)
        axes.set_xscale("log")
        axes.set_xlim(low, high)
        axes.set_ylim(whole, 0)
        _ticks(axes, low, high)
        placed: dict[str, list[tuple[float, NDArray[np.float64]]]] = {}
        zones = []
        page = axes.transData.inverted().transform
        left, right = (float(page(figure.dpi * np.array([x, 1.0]))[0]) for x in (0.1, NARROW - 0.1))
        for (_, value, marks), lines, start, step in zip(rows, headings, starts[:-1].tolist(), steps, strict=True):
            first = start + LINE * (len(lines) + 0.5) + 0.02
            zones.append((first - 0.5 * LINE, start + step - 0.05))
            for i, text in enumerate(lines):
                if text:
                    axes.text(left, start + 0.04 + LINE * i, text, va="top")
            value_at = start + 0.04 + LINE * (len(lines) - 1)
            axes.text(right, value_at, str(value), ha="right", va="top", weight="bold")
            for j, (kind, limits) in enumerate(marks):
                placed.setdefault(kind, []).append((first + LINE * j, limits))
                axes.text(left, first + LINE * j, str(names[kind]), va="center", color=MARKS[kind]["color"])
        below = [[(low, a), (1.0, a), (1.0, b), (low, b)] for a, b in zones]
        axes.add_collection(PolyCollection(below, facecolor=FAINT, alpha=0.35, zorder=0.5), autolim=False)
        ones = [[(1.0, a), (1.0, b)] for a, b in zones]
        axes.add_collection(LineCollection(ones, colors=INK, linewidths=1.4, zorder=1.5), autolim=False)
        rules = [[(left, y), (right, y)] for y in starts[1:-1]]
        inks = [MUTED if rule_above_last and rule is rules[-1] else FAINT for rule in rules]
        axes.add_collection(LineCollection(rules, colors=inks, linewidths=1.0, clip_on=False), autolim=False)
        for kind, where in placed.items():
            _intervals(axes, kind, where, low, high)
        axes.yaxis.set_visible(False)
        axes.spines["left"].set_visible(False)
        axes.set_xlabel(str(label), loc="right")
    return figure


def _ticks(axes: "Axes", low: float, high: float) -> None:
    """Mark ones, twos and fives, or fewer where the scale is long."""
    from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator

    every = [m * 10.0**k for k in range(-3, 4) for m in (1, 2, 5)]
    # A label at the very end would leave the page.
    ticks = [t for t in every if 0.015 < np.log(t / low) / np.log(high / low) < 0.985]
    if len(ticks) > 8:
        ticks = [t for t in ticks if t in (0.5, 2.0) or abs(np.log10(t) % 1.0) < 1e-9]
    if len(ticks) > 8:
        ticks = [t for t in ticks if t not in (0.5, 2.0)]
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter(FixedFormatter([f"{t:g}" for t in ticks]))
    axes.xaxis.set_minor_locator(NullLocator())


def _intervals(
    axes: "Axes", kind: str, where: Sequence[tuple[float, NDArray[np.float64]]], low: float, high: float
) -> None:
    """Draw all intervals of one kind: bars with their ends, or arrows beyond the scale, and the middles."""
    from matplotlib.collections import LineCollection

    look = MARKS[kind]
    if look["linewidth"]:
        shown = [(y, np.clip(limits[[0, 2]], low, high), limits) for y, limits in where]
        bars = [[(x[0], y), (x[1], y)] for y, x, _ in shown]
        axes.add_collection(
            LineCollection(bars, colors=look["color"], linewidths=look["linewidth"], zorder=2), autolim=False
        )
        reached = [(x[0], y) for y, x, limits in shown if limits[0] >= low]
        reached += [(x[1], y) for y, x, limits in shown if limits[2] <= high]
        _markers(axes, reached, "|", markersize=8, color=look["color"])
        _markers(axes, [(low, y) for y, _, limits in shown if limits[0] < low], "<", markersize=8, color=look["color"])
        _markers(
            axes, [(high, y) for y, _, limits in shown if limits[2] > high], ">", markersize=8, color=look["color"]
        )
    middles = [(float(limits[1]), y) for y, limits in where if low <= limits[1] <= high]
    _markers(axes, middles, look["marker"], markersize=7.0, markerfacecolor=look["markerfacecolor"],
             markeredgecolor=look["color"], markeredgewidth=1.3)  # fmt: skip


def _markers(axes: "Axes", at: Sequence[tuple[float, float]], marker: str, **how: Any) -> None:
    from matplotlib.lines import Line2D

    if at:
        x, y = zip(*at, strict=True)
        axes.add_line(Line2D(x, y, linestyle="none", marker=marker, clip_on=False, zorder=2.5, **how))


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
    >>> lk.page.contributions_chart(ratio.budget).axes[0].get_xlabel()
    'standard uncertainty, in percent of the ratio [%]'

    Source: JCGM 100:2008, 5.1: standard uncertainties add in squares, not as lengths.
    """
    found = _few_causes(table)
    together = reading_findings.whole_uncertainty(table)
    row, top, bottom = 0.42, 0.42, 1.0
    rows = [*found, (say("page.cause.together"), together, 1.0)]
    height = top + row * len(rows) + bottom
    with house_style():
        figure = new_figure(height, NARROW)
        write(figure, 0.1, height - 0.1, say("page.chart.causes.title"), fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, NARROW - 0.28, row * len(rows))
        for i, (cause, relative, part) in enumerate(rows):
            last = i == len(found)
            face, hatch = (FAINT, "") if last else (PAPER, LOOKS[0][2])
            edge = INK if last else LOOKS[0][0]
            axes.barh(i + 0.72, 100 * relative, height=0.3, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=1.2)
            if last:
                value = say("page.chart.causes.whole", uncertainty=100 * relative)
            else:
                value = say("page.chart.causes.part", uncertainty=100 * relative, share=part)
            for x, text, side, weight in ((0.004, cause, "left", "normal"), (0.996, value, "right", "bold")):
                axes.text(
                    x, i + 0.08, str(text), transform=axes.get_yaxis_transform(), ha=side, va="top", weight=weight
                )
        axes.set_ylim(len(found) + 1, 0)
        longest = 108 * max(together, 1e-6)
        axes.set_xlim(0, longest)
        axes.set_xticks([t for t in axes.get_xticks() if 0 <= t <= longest])
        axes.yaxis.set_visible(False)
        axes.grid(axis="x")
        axes.spines["left"].set_visible(False)
        axes.set_xlabel(str(say("page.chart.causes.axis")))
        write(figure, 0.14, 0.44, wrapped(say("page.chart.causes.note"), 40), color=MUTED)
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
