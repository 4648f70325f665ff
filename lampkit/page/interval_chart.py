"""Chart of intervals of ratios, row by row: the looks tell them apart by form, not by colour alone."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit.page.style import FAINT, INK, LOOKS, MUTED, PAPER, WIDTH, axes_at, house_style, new_figure, wrapped, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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
    title: str,
    rows: Sequence[tuple[str, str, Sequence[Mark]]],
    label: str,
    legend: Mapping[str, str],
    *,
    rule_above_last: bool = False,
) -> "Figure":
    """Draw rows of intervals under their headings on one logarithmic scale, with a line at one."""
    # Heading and value share a line; bold letters are a fifth wider.
    headings = [wrapped(heading, max(16, int(57 - 1.2 * len(value)))) for heading, value, _ in rows]
    heads = [0.3 + 0.16 * heading.count("\n") for heading in headings]
    steps = [head + 0.18 * len(marks) - 0.02 for head, (_, _, marks) in zip(heads, rows, strict=True)]
    title = wrapped(title, 44)
    top, bottom = 0.42 + 0.18 * title.count("\n"), 0.86
    height = top + sum(steps) + bottom
    ends = np.concatenate([limits for _, _, marks in rows for _, limits in marks])
    ends = ends[np.isfinite(ends) & (ends > 0)]
    low = max(min(0.5, float(ends.min(initial=0.5))) / 1.2, SHOWN[0])
    high = min(max(2.0, float(ends.max(initial=2.0))) * 1.2, SHOWN[1])
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, title, fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, WIDTH - 0.28, sum(steps))
        axes.set_xscale("log")
        axes.set_xlim(low, high)
        axes.set_ylim(sum(steps), 0)
        below = 0.0
        for i, ((_, value, marks), heading, head, step) in enumerate(zip(rows, headings, heads, steps, strict=True)):
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
        axes.set_xlabel(label)
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


def _legend(figure: "Figure", entries: Mapping[str, str], y: float) -> None:
    from matplotlib.lines import Line2D

    handles = []
    for kind, words in entries.items():
        look = {**MARKS[kind], "linestyle": "-" if MARKS[kind]["linewidth"] else "none"}
        handles.append(Line2D([], [], **look, markersize=6.5, markeredgecolor=look["color"], label=words))
    figure.legend(
        handles=handles,
        loc="center left",
        bbox_to_anchor=(0.04 / WIDTH, y / figure.get_size_inches()[1]),
        ncols=len(handles),
        frameon=False,
        fontsize=10,
    )
