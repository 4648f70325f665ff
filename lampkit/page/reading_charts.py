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
    PAPER,
    WIDTH,
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

BACKING = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
"""What keeps letters legible over lines, as matplotlib writes it. Source: own judgement."""


def interval_chart(
    title: object,
    rows: Sequence[tuple[object, object, Sequence[Mark]]],
    label: object,
    legend: Mapping[str, object],
    *,
    rule_above_last: bool = False,
) -> "Figure":
    """Draw rows of intervals under their headings on one logarithmic scale, with a line at one."""
    # Heading and value share a line; bold letters are a fifth wider.
    values = [str(value) for _, value, _ in rows]
    headings = [wrapped(row[0], max(16, int(57 - 1.2 * len(v)))) for row, v in zip(rows, values, strict=True)]
    heads = [0.3 + 0.16 * heading.count("\n") for heading in headings]
    steps = [head + 0.18 * len(marks) - 0.02 for head, (_, _, marks) in zip(heads, rows, strict=True)]
    heading_of_all = wrapped(title, 44)
    top, bottom = 0.42 + 0.18 * heading_of_all.count("\n"), 0.86
    height = top + sum(steps) + bottom
    ends = np.concatenate([limits for _, _, marks in rows for _, limits in marks])
    ends = ends[np.isfinite(ends) & (ends > 0)]
    low = max(min(0.5, float(ends.min(initial=0.5))) / 1.2, SHOWN[0])
    high = min(max(2.0, float(ends.max(initial=2.0))) * 1.2, SHOWN[1])
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, heading_of_all, fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, WIDTH - 0.28, sum(steps))
        axes.set_xscale("log")
        axes.set_xlim(low, high)
        axes.set_ylim(sum(steps), 0)
        below = 0.0
        for i, ((_, _, marks), value, heading, head, step) in enumerate(
            zip(rows, values, headings, heads, steps, strict=True)
        ):
            heavy = rule_above_last and i == len(rows) - 2
            # The heading keeps its line to itself.
            zone = [below + head - 0.11, below + step]
            axes.fill_between([low, 1.0], zone[0], zone[1], color=FAINT, alpha=0.35, linewidth=0)
            axes.plot([1.0, 1.0], zone, color=INK, linewidth=1.4, solid_capstyle="butt")
            axes.axhline(below + step, color=MUTED if heavy else FAINT, linewidth=1.4 if heavy else 0.8)
            for j, (kind, limits) in enumerate(marks):
                _interval(axes, limits, below + head + 0.18 * j, kind, low, high)
            for x, text, side, weight in ((0.004, heading, "left", "normal"), (0.996, value, "right", "bold")):
                axes.text(x, below + 0.04, text, transform=axes.get_yaxis_transform(), ha=side, va="top", fontsize=10,
                          weight=weight, bbox=BACKING)  # fmt: skip
            below += step
        every = [m * 10.0**k for k in range(-3, 4) for m in (1, 2, 5)]
        # A label at the very end would leave the page.
        ticks = [t for t in every if 0.015 < np.log(t / low) / np.log(high / low) < 0.985]
        if len(ticks) > 8:
            ticks = [t for t in ticks if t in (0.5, 2.0) or abs(np.log10(t) % 1.0) < 1e-9]
        if len(ticks) > 8:
            ticks = [t for t in ticks if t not in (0.5, 2.0)]
        axes.set_xticks(ticks, labels=[f"{t:g}" for t in ticks])
        axes.minorticks_off()
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.set_xlabel(str(label))
        _legend(figure, legend, 0.2)
    return figure


def _interval(axes: "Axes", limits: NDArray[np.float64], y: float, kind: str, low: float, high: float) -> None:
    look = MARKS[kind]
    start, middle, end = (float(v) for v in limits)
    if look["linewidth"]:
        ends = [float(np.clip(v, low, high)) for v in (start, end)]
        axes.plot(ends, [y, y], color=look["color"], linewidth=look["linewidth"], solid_capstyle="butt")
        for reached, at, beyond in ((start >= low, ends[0], "<"), (end <= high, ends[1], ">")):
            axes.plot(at, y, linestyle="none", marker="|" if reached else beyond, markersize=8, color=look["color"],
                      clip_on=False)  # fmt: skip
    if low <= middle <= high:
        axes.plot(middle, y, **{**look, "linewidth": 0.0}, markersize=7.0, markeredgecolor=look["color"],
                  markeredgewidth=1.3)  # fmt: skip


def _legend(figure: "Figure", entries: Mapping[str, object], y: float) -> None:
    from matplotlib.lines import Line2D

    handles = []
    for kind, words in entries.items():
        look = {**MARKS[kind], "linestyle": "-" if MARKS[kind]["linewidth"] else "none"}
        handles.append(Line2D([], [], **look, markersize=6.5, markeredgecolor=look["color"], label=str(words)))
    figure.legend(
        handles=handles,
        loc="center left",
        bbox_to_anchor=(0.04 / WIDTH, y / figure.get_size_inches()[1]),
        ncols=len(handles),
        frameon=False,
        fontsize=10,
    )


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
    row, top, bottom = 0.42, 0.42, 0.86
    height = top + row * (len(found) + 1) + bottom
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, say("page.chart.causes.title"), fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, WIDTH - 0.28, row * (len(found) + 1))
        for i, (cause, relative, part) in enumerate([*found, (say("page.cause.together"), together, 1.0)]):
            last = i == len(found)
            face, hatch = (FAINT, "") if last else (PAPER, LOOKS[0][2])
            edge = INK if last else LOOKS[0][0]
            axes.barh(i + 0.72, 100 * relative, height=0.3, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=1.2)
            if last:
                value = say("page.chart.causes.whole", uncertainty=100 * relative)
            else:
                value = say("page.chart.causes.part", uncertainty=100 * relative, share=part)
            for x, text, side, weight in ((0.004, cause, "left", "normal"), (0.996, value, "right", "bold")):
                axes.text(x, i + 0.08, str(text), transform=axes.get_yaxis_transform(), ha=side, va="top", fontsize=9.5,
                          weight=weight, bbox=BACKING)  # fmt: skip
        axes.set_ylim(len(found) + 1, 0)
        longest = 108 * max(together, 1e-6)
        axes.set_xlim(0, longest)
        axes.set_xticks([t for t in axes.get_xticks() if 0 <= t <= longest])
        axes.set_yticks([])
        axes.grid(axis="x")
        axes.spines["left"].set_visible(False)
        axes.set_xlabel(str(say("page.chart.causes.axis")))
        write(figure, 0.14, 0.3, say("page.chart.causes.note"), fontsize=8.5, color=MUTED)
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
