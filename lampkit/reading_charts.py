"""Charts of readings: the fair ratio beside the naive one, what is to blame, what is uncertain, what was learnt."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, uncertainty
from lampkit.budget import Budget
from lampkit.chart_style import (
    DRAWN,
    FAINT,
    INK,
    LOOKS,
    MUTED,
    PAPER,
    VISIBLE,
    WIDTH,
    axes_at,
    house_style,
    new_figure,
    shown,
    spectral_colours,
    wrapped,
    write,
)
from lampkit.conversion import figure as digits
from lampkit.conversion import with_interval
from lampkit.errors import InputError
from lampkit.garage_readings import Confrontation
from lampkit.identify import Knowledge
from lampkit.lenses import transmittances
from lampkit.readings import Comparison, FairRatio
from lampkit.shortfall import FACTORS, Blame

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

FACTOR_WORDS = {
    "lens": "lens: light it passes, new over old",
    "lumens": "lumens: of the new lamp over the old",
    "beam": "beam: share sent to the meter, new over old",
}
"""What each factor of the split is, in few words. Source: the kit's own wording."""

CAUSES_SHOWN = 6
"""How many causes of uncertainty are drawn one by one [1]. Source: own judgement."""


def ratio_words(ratio: NDArray[np.float64]) -> str:
    """Write a ratio with its interval, and say so where it has no upper limit.

    Parameters
    ----------
    ratio : ndarray, shape (3,) [1]
        Lower limit, median and upper limit.

    Returns
    -------
    str
        For example '0.78 (0.70 to 1.00)' or 'at least 0.42, no upper limit'.

    Source: JCGM 100:2008, 7.2.6.
    """
    return with_interval(ratio) if np.isfinite(ratio[2]) else f"at least {digits(float(ratio[0]))}, no upper limit"


def causes(table: Budget) -> tuple[tuple[str, float, float], ...]:
    """Take the inputs of a budget together by what they are, the greatest contribution first.

    Parameters
    ----------
    table : Budget
        The budget of a ratio, whose inputs are named 'cause (of what)'.

    Returns
    -------
    tuple of (str, float, float)
        The cause, its standard uncertainty relative to the ratio, and its share of the variance.

    Source: JCGM 100:2008, 5.1.2: the contributions of independent inputs add in squares.
    """
    squares: dict[str, float] = {}
    for name, part in zip(table.names, table.contributions, strict=True):
        cause = name.partition(" (")[0]
        squares[cause] = squares.get(cause, 0.0) + float(part) ** 2
    total = sum(squares.values()) or 1.0
    scale = abs(table.value) or 1.0
    ordered = sorted(squares.items(), key=lambda item: -item[1])
    return tuple((cause, float(np.sqrt(square)) / scale, square / total) for cause, square in ordered)


def fair_ratios(comparison: Comparison) -> "Figure":
    """Draw each fair ratio with its 95 % interval, and beside it what dividing the raw readings would have said.

    Parameters
    ----------
    comparison : Comparison
        The ratios.

    Returns
    -------
    Figure
        A row for each ratio, on a logarithmic scale with a line at equal light.

    Source: the kit's own convention.
    """
    rows = [
        (
            f"{r.lamp}: {r.new} against {r.old}",
            ratio_words(r.ratio),
            [("strong", r.ratio), ("naive", np.full(3, r.naive))],
        )
        for r in comparison.ratios
    ]
    figure = _ladder(
        "How much light, compared fairly",
        rows,
        "light of the new lamp over that of the old [1]",
        {"strong": "fair ratio, 95 % interval", "naive": "raw readings divided"},
    )
    return shown(figure, describe_fair_ratios(comparison))


def describe_fair_ratios(comparison: Comparison) -> str:
    """Say in words what `fair_ratios` shows.

    Parameters
    ----------
    comparison : Comparison
        The ratios.

    Returns
    -------
    str
        A sentence for those who do not see the picture.

    Source: the kit's own convention.
    """
    parts = [f"{_pair(r)} {ratio_words(r.ratio)}, raw readings divided {digits(r.naive)}" for r in comparison.ratios]
    return f"Light of the new lamp over that of the old, with 95 % intervals: {'; '.join(parts)}."


def _pair(ratio: FairRatio) -> str:
    return f"{ratio.lamp}, {ratio.new} against {ratio.old}:"


def split(blame: Blame, *, title: str = "What is to blame") -> "Figure":
    """Draw how a measured ratio splits into lens, lumens and beam, before and after the reading.

    Parameters
    ----------
    blame : Blame
        The split.
    title : str
        What stands above: the lamp and the light source.

    Returns
    -------
    Figure
        A row for each factor and one for their product, on a logarithmic scale: lengths add up.

    Source: the kit's own convention.
    """
    rows: list[tuple[str, str, list[Mark]]] = [
        (FACTOR_WORDS[name], with_interval(after), [("strong", after), ("faint", before)])
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    rows.append(("lens × lumens × beam: all together", with_interval(blame.product), [("strong", blame.product)]))
    figure = _ladder(
        title,
        rows,
        "factor, new lamp over old [1]",
        {"strong": "with the reading, 95 %", "faint": "believed before"},
        rule_above_last=True,
    )
    return shown(figure, describe_split(blame))


def describe_split(blame: Blame) -> str:
    """Say in words what `split` shows.

    Parameters
    ----------
    blame : Blame
        The split.

    Returns
    -------
    str
        A sentence for those who do not see the picture.

    Source: the kit's own convention.
    """
    parts = [
        f"{name} {with_interval(after)}, believed before {with_interval(before)}"
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    return f"The ratio {with_interval(blame.product)} split into three factors: {'; '.join(parts)}."


def measured_against_predicted(confrontation: Confrontation) -> "Figure":
    """Draw each measured ratio beside its prediction.

    Parameters
    ----------
    confrontation : Confrontation
        The readings of a vehicle's folder beside the prediction.

    Returns
    -------
    Figure
        A row for each measured ratio, with the verdict and E_n, on a logarithmic scale.

    Raises
    ------
    InputError
        No ratio was measured.

    Source: the kit's own convention.
    """
    if not confrontation.findings:
        raise InputError("no lamp was read with two light sources", expected="a measured ratio to draw")
    rows = [
        (
            f"{f.ratio.lamp}: {f.ratio.new}",
            f"{verdict(f.sentence)}{_e_n(f.normalised_error)}",
            [("strong", f.ratio.ratio), ("faint", f.predicted)],
        )
        for f in confrontation.findings
    ]
    figure = _ladder(
        "Measured beside predicted",
        rows,
        "light of the new lamp over the filament's [1]",
        {"strong": "measured, 95 %", "faint": "predicted, 95 %"},
    )
    return shown(figure, describe_measured_against_predicted(confrontation))


def describe_measured_against_predicted(confrontation: Confrontation) -> str:
    """Say in words what `measured_against_predicted` shows.

    Parameters
    ----------
    confrontation : Confrontation
        The readings beside the prediction.

    Returns
    -------
    str
        A sentence for those who do not see the picture.

    Source: the kit's own convention.
    """
    parts = [
        f"{_pair(f.ratio)} measured {ratio_words(f.ratio.ratio)}, predicted {with_interval(f.predicted)}, "
        f"{verdict(f.sentence)}"
        for f in confrontation.findings
    ]
    return f"Measured ratios of light beside the predicted ones, with 95 % intervals: {'; '.join(parts)}."


def verdict(sentence: str) -> str:
    """Take the verdict from the front of a sentence of `shortfall.agreement`.

    Parameters
    ----------
    sentence : str
        The sentence.

    Returns
    -------
    str
        'agrees', 'differs' or 'inconclusive'.

    Source: the kit's own wording.
    """
    return sentence.partition(":")[0]


def _e_n(number: float) -> str:
    return f", E_n {round(number, 2) + 0.0:.2f}" if np.isfinite(number) else ""


def contributions(table: Budget) -> "Figure":
    """Draw what contributes to the uncertainty of a ratio, the greatest first.

    Parameters
    ----------
    table : Budget
        The budget of the ratio.

    Returns
    -------
    Figure
        A bar for each cause: its standard uncertainty in percent of the ratio.

    Source: JCGM 100:2008, 5.1: standard uncertainties add in squares, not as lengths.
    """
    found = _few_causes(table)
    together = abs(table.standard_uncertainty / (table.value or 1.0))
    row, top, bottom = 0.42, 0.42, 0.86
    height = top + row * (len(found) + 1) + bottom
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, "What makes the ratio uncertain", fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, WIDTH - 0.28, row * (len(found) + 1))
        for i, (cause, relative, part) in enumerate([*found, ("all together", together, 1.0)]):
            last = i == len(found)
            face, hatch = (FAINT, "") if last else (PAPER, LOOKS[0][2])
            edge = INK if last else LOOKS[0][0]
            axes.barh(i + 0.72, 100 * relative, height=0.3, facecolor=face, edgecolor=edge, hatch=hatch, linewidth=1.2)
            value = f"{digits(100 * relative)} %" if last else f"{digits(100 * relative)} % ({_share(part)})"
            for x, text, side, weight in ((0.004, cause, "left", "normal"), (0.996, value, "right", "bold")):
                axes.text(x, i + 0.08, text, transform=axes.get_yaxis_transform(), ha=side, va="top", fontsize=9.5,
                          weight=weight, bbox=_BACKING)  # fmt: skip
        axes.set_ylim(len(found) + 1, 0)
        axes.set_xlim(0, 108 * max(together, 1e-6))
        axes.set_yticks([])
        axes.grid(axis="x")
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("standard uncertainty, in percent of the ratio [%]")
        write(figure, 0.14, 0.3, "in brackets: share of the variance; causes add in squares", fontsize=8.5, color=MUTED)
    return shown(figure, describe_contributions(table))


def describe_contributions(table: Budget) -> str:
    """Say in words what `contributions` shows.

    Parameters
    ----------
    table : Budget
        The budget of the ratio.

    Returns
    -------
    str
        A sentence for those who do not see the picture.

    Source: the kit's own convention.
    """
    parts = [f"{cause} {digits(100 * relative)} % ({_share(part)})" for cause, relative, part in _few_causes(table)]
    together = 100 * abs(table.standard_uncertainty / (table.value or 1.0))
    return (
        f"Standard uncertainty of the ratio by cause, with the share of the variance in brackets: {', '.join(parts)}; "
        f"all together {digits(together)} %."
    )


def _few_causes(table: Budget) -> list[tuple[str, float, float]]:
    found = list(causes(table))
    first, rest = found[:CAUSES_SHOWN], found[CAUSES_SHOWN:]
    if rest:
        root = float(np.sqrt(sum(relative**2 for _, relative, _ in rest)))
        first.append((f"{len(rest)} smaller causes", root, sum(part for _, _, part in rest)))
    return first


def _share(part: float) -> str:
    return f"{100 * part:.0f} %" if part >= 0.01 else "below 1 %"


def lens_knowledge(knowledge: Knowledge) -> "Figure":
    """Draw what was known of a lens before the readings and after: its transmittance, and where its edge lies.

    Parameters
    ----------
    knowledge : Knowledge
        What the readings taught.

    Returns
    -------
    Figure
        Bands of 95 % of the transmittance over wavelength; below, the probability density of the edge wavelength, or
        of the first uncertain quantity of a lens without an edge.

    Source: the kit's own convention.
    """
    before, after = _bands(knowledge)
    main = _main_quantity(knowledge)
    tall, low, bottom = 1.7, 1.1, 0.72
    title = wrapped(f"What the readings taught about {knowledge.lens.name}", 44)
    top = 0.62 + 0.18 * title.count("\n")
    height = top + tall + (0.98 + low + bottom if main else 0.56 + 0.3)
    left, width = 0.68, WIDTH - 0.68 - 0.14
    nm = grid.WAVELENGTHS[DRAWN]
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, title, fontsize=11.5, fontweight="bold")
        write(figure, left, height - top + 0.24, "share of light passed [1]", fontsize=9.5)
        y = height - top - tall
        axes = axes_at(figure, left, y, width, tall)
        _band(axes, nm, before[:, DRAWN], strong=False)
        _band(axes, nm, after[:, DRAWN], strong=True)
        axes.set_xlim(*VISIBLE)
        axes.set_xticks(np.arange(400, 751, 50), labels=[])
        axes.set_ylim(0, 1)
        axes.grid()
        spectral_colours(axes_at(figure, left, y - 0.2, width, 0.16))
        if main:
            name, unit = main
            write(figure, left, y - 0.74, f"{name}: probability density [{_per(unit)}]", fontsize=9.5)
            axes = axes_at(figure, left, bottom, width, low)
            _densities(axes, knowledge, name)
            axes.set_xlabel(f"{name} [{unit}]")
        _legend(figure, {"after": "after, 95 % band" if not main else "after", "before": "before"}, 0.14)
    return shown(figure, describe_lens_knowledge(knowledge))


def describe_lens_knowledge(knowledge: Knowledge) -> str:
    """Say in words what `lens_knowledge` shows.

    Parameters
    ----------
    knowledge : Knowledge
        What the readings taught.

    Returns
    -------
    str
        A sentence for those who do not see the picture.

    Source: the kit's own convention.
    """
    main = _main_quantity(knowledge)
    subject = f"Transmittance of {knowledge.lens.name} over wavelength, before and after the readings"
    if main is None:
        return f"{subject}."
    name, unit = main
    owner = knowledge.lens.name
    first = uncertainty.interval(knowledge.before.values[owner, name])
    then = uncertainty.interval(knowledge.garage.values[owner, name], knowledge.garage.weights)
    return f"{subject}. The {name}, before: {with_interval(first)} {unit}; after: {with_interval(then)} {unit}."


def _main_quantity(knowledge: Knowledge) -> tuple[str, str] | None:
    """The edge wavelength where the lens has one, or else its first uncertain quantity: name and unit."""
    uncertain = [b for b in knowledge.lens.beliefs if b.spread > 0 and b.shape != "fixed"]
    edges = [b for b in uncertain if b.name.endswith("edge wavelength")]
    return ((edges or uncertain)[0].name, (edges or uncertain)[0].unit) if uncertain else None


def _per(unit: str) -> str:
    return "1" if unit == "1" else f"1/{unit}" if "/" not in unit else f"1/({unit})"


def _bands(knowledge: Knowledge) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lens = knowledge.lens
    found = []
    for garage, weights in ((knowledge.before, None), (knowledge.garage, knowledge.garage.weights)):
        curves = np.broadcast_to(transmittances(lens, garage.of(lens.name)), (len(garage), grid.WAVELENGTHS.size))
        found.append(uncertainty.interval(curves.T, weights).T)
    return found[0], found[1]


def _band(axes: "Axes", nm: NDArray[np.float64], limits: NDArray[np.float64], *, strong: bool) -> None:
    from matplotlib.colors import to_rgba

    colour, hatch = LOOKS[0][0], LOOKS[0][2]
    if not strong:
        axes.fill_between(nm, limits[0], limits[2], facecolor=FAINT, edgecolor=MUTED, linewidth=0.9)
        axes.plot(nm, limits[1], color=MUTED, linewidth=1.2, linestyle=(0, (4, 1.5)))
        return
    axes.fill_between(nm, limits[0], limits[2], facecolor=to_rgba(colour, 0.3), linewidth=0)
    # On its own: with a transparent filling, the hatch would be lost in the SVG.
    axes.fill_between(nm, limits[0], limits[2], facecolor="none", edgecolor=colour, hatch=hatch, linewidth=1.0)
    axes.plot(nm, limits[1], color=colour, linewidth=1.8)


def _densities(axes: "Axes", knowledge: Knowledge, name: str) -> None:
    from matplotlib.colors import to_rgba
    from scipy.stats import gaussian_kde

    owner = knowledge.lens.name
    prior, posterior = knowledge.before.values[owner, name], knowledge.garage.values[owner, name]
    low, high = np.quantile(prior, [0.002, 0.998])
    x = np.linspace(min(low, float(posterior.min())), max(high, float(posterior.max())), 240)
    first = gaussian_kde(prior)(x)
    then = gaussian_kde(posterior, weights=knowledge.garage.weights)(x)
    colour, hatch = LOOKS[0][0], LOOKS[0][2]
    axes.fill_between(x, first, facecolor=FAINT, edgecolor=MUTED, linewidth=0.9)
    axes.fill_between(x, then, facecolor=to_rgba(colour, 0.3), linewidth=0)
    axes.fill_between(x, then, facecolor="none", edgecolor=colour, hatch=hatch, linewidth=1.4)
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(0, 1.08 * max(first.max(), then.max()))
    axes.locator_params(axis="y", nbins=4)
    axes.locator_params(axis="x", nbins=6)


_BACKING = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.85}


def _ladder(
    title: str,
    rows: Sequence[tuple[str, str, Sequence[Mark]]],
    label: str,
    legend: dict[str, str],
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
    low, high = min(0.5, float(ends.min(initial=0.5))) / 1.2, max(2.0, float(ends.max(initial=2.0))) * 1.2
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, title, fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, WIDTH - 0.28, sum(steps))
        axes.set_xscale("log")
        axes.set_xlim(low, high)
        axes.set_ylim(sum(steps), 0)
        axes.axvspan(low, 1.0, color=FAINT, alpha=0.35, linewidth=0)
        axes.axvline(1.0, color=INK, linewidth=1.4)
        below = 0.0
        for i, ((_, value, marks), heading, head, step) in enumerate(zip(rows, headings, heads, steps, strict=True)):
            heavy = rule_above_last and i == len(rows) - 2
            axes.axhline(below + step, color=MUTED if heavy else FAINT, linewidth=1.4 if heavy else 0.8)
            for j, (kind, limits) in enumerate(marks):
                _interval(axes, limits, below + head + 0.18 * j, kind, low, high)
            for x, text, side, weight in ((0.004, heading, "left", "normal"), (0.996, value, "right", "bold")):
                axes.text(x, below + 0.04, text, transform=axes.get_yaxis_transform(), ha=side, va="top", fontsize=9.5,
                          weight=weight, bbox=_BACKING)  # fmt: skip
            below += step
        ticks = [t for t in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100) if low <= t <= high]
        if len(ticks) > 8:
            ticks = [t for t in ticks if t in (0.01, 0.1, 0.5, 1, 2, 10, 100)]
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
        ends = [max(start, low), min(end, high)]
        axes.plot(ends, [y, y], color=look["color"], linewidth=look["linewidth"], solid_capstyle="butt")
        for reached, at, beyond in ((start >= low, ends[0], "<"), (end <= high, ends[1], ">")):
            axes.plot(at, y, linestyle="none", marker="|" if reached else beyond, markersize=8, color=look["color"],
                      clip_on=False)  # fmt: skip
    if low <= middle <= high:
        axes.plot(middle, y, **{**look, "linewidth": 0.0}, markersize=7.0, markeredgecolor=look["color"],
                  markeredgewidth=1.3)  # fmt: skip


def _legend(figure: "Figure", entries: dict[str, str], y: float) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = []
    for kind, words in entries.items():
        if kind in MARKS:
            look = {**MARKS[kind], "linestyle": "-" if MARKS[kind]["linewidth"] else "none"}
            handles.append(Line2D([], [], **look, markersize=6.5, markeredgecolor=look["color"], label=words))
        elif kind == "before":
            handles.append(Patch(facecolor=FAINT, edgecolor=MUTED, linewidth=0.9, label=words))
        else:
            handles.append(Patch(facecolor=PAPER, edgecolor=LOOKS[0][0], hatch=LOOKS[0][2], linewidth=1.2, label=words))
    figure.legend(
        handles=handles,
        loc="center left",
        bbox_to_anchor=(0.04 / WIDTH, y / figure.get_size_inches()[1]),
        ncols=len(handles),
        frameon=False,
        fontsize=9.0,
    )
