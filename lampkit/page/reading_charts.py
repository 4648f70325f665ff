"""Charts of readings: the fair ratio beside the naive one, what is to blame, what is uncertain, what was learnt."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.errors import InputError
from lampkit.measurement.fair_ratio import Comparison, FairRatio
from lampkit.measurement.shortfall import FACTORS, Blame
from lampkit.page.interval_chart import BACKING, Mark, interval_chart
from lampkit.page.style import FAINT, INK, LOOKS, MUTED, PAPER, WIDTH, axes_at, house_style, new_figure, shown, write
from lampkit.plan.agreement import Confrontation
from lampkit.statements import named
from lampkit.uncertainty.budget import Budget

if TYPE_CHECKING:
    from matplotlib.figure import Figure


FACTOR_WORDS = {
    "lens": "lens: light it passes, new over old",
    "lumens": "lumens: of the new lamp over the old",
    "beam": "beam: share sent to the meter, new over old",
}
"""What each factor of the split is, in few words. Source: the kit's own wording."""

CAUSES_SHOWN = 6
"""How many causes of uncertainty are drawn one by one [1]. Source: own judgement."""


def ratio_words(ratio: NDArray[np.float64], without: str = "no upper limit") -> str:
    """Write a ratio with its interval, and say so where it is without an upper limit.

    Source: JCGM 100:2008, 7.2.6.
    """
    return (
        numbers.interval(ratio) if np.isfinite(ratio[2]) else f"at least {numbers.figure(float(ratio[0]))}, {without}"
    )


def causes(table: Budget) -> tuple[tuple[str, float, float], ...]:
    """Take the inputs of a budget together by what they are, the greatest contribution first.

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
    """Draw each fair ratio with its 95 % interval, and beside it what dividing the raw readings would have said."""
    rows = [
        (
            f"{r.lamp}: {r.new} against {r.old}",
            ratio_words(r.ratio),
            [("strong", r.ratio), ("naive", np.full(3, r.naive))],
        )
        for r in comparison.ratios
    ]
    figure = interval_chart(
        "How much light, compared fairly",
        rows,
        "light of the new lamp over that of the old [1]",
        {"strong": "fair ratio, 95 % interval", "naive": "raw readings divided"},
    )
    return shown(figure, describe_fair_ratios(comparison))


def describe_fair_ratios(comparison: Comparison) -> str:
    """Say in words what `fair_ratios` shows."""
    parts = [
        f"{_pair(r)} {ratio_words(r.ratio)}, raw readings divided {numbers.figure(r.naive)}" for r in comparison.ratios
    ]
    return f"Light of the new lamp over that of the old, with 95 % intervals: {'; '.join(parts)}."


def _pair(ratio: FairRatio) -> str:
    return f"{ratio.lamp}, {ratio.new} against {ratio.old}:"


def split(blame: Blame, *, title: str = "What is to blame") -> "Figure":
    """Draw how a measured ratio splits into lens, lumens and beam, before and after the reading."""
    rows: list[tuple[str, str, list[Mark]]] = [
        (FACTOR_WORDS[name], numbers.interval(after), [("strong", after), ("faint", before)])
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    rows.append(("lens × lumens × beam: all together", numbers.interval(blame.product), [("strong", blame.product)]))
    figure = interval_chart(
        title,
        rows,
        "factor, new lamp over old [1]",
        {"strong": "with the reading, 95 %", "faint": "believed before"},
        rule_above_last=True,
    )
    return shown(figure, describe_split(blame))


def describe_split(blame: Blame) -> str:
    """Say in words what `split` shows."""
    parts = [
        f"{name} {numbers.interval(after)}, believed before {numbers.interval(before)}"
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    return f"The ratio {numbers.interval(blame.product)} split into three factors: {'; '.join(parts)}."


def measured_against_predicted(confrontation: Confrontation) -> "Figure":
    """Draw each measured ratio beside its prediction."""
    if not confrontation.findings:
        raise InputError("no lamp was read with two light sources", expected="a measured ratio to draw")
    rows = [
        (
            f"{f.ratio.lamp}: {f.ratio.new}",
            f"{named(f.agreement.verdict)}{_e_n(f.agreement.normalised_error)}",
            [("strong", f.ratio.ratio), ("faint", f.predicted)],
        )
        for f in confrontation.findings
    ]
    figure = interval_chart(
        "Measured beside predicted",
        rows,
        "light of the new lamp over the filament's [1]",
        {"strong": "measured, 95 %", "faint": "predicted, 95 %"},
    )
    return shown(figure, describe_measured_against_predicted(confrontation))


def describe_measured_against_predicted(confrontation: Confrontation) -> str:
    """Say in words what `measured_against_predicted` shows."""
    parts = [
        f"{_pair(f.ratio)} measured {ratio_words(f.ratio.ratio)}, predicted {numbers.interval(f.predicted)}, "
        f"{named(f.agreement.verdict)}"
        for f in confrontation.findings
    ]
    return f"Measured ratios of light beside the predicted ones, with 95 % intervals: {'; '.join(parts)}."


def _e_n(number: float) -> str:
    return f", E_n {round(number, 2) + 0.0:.2f}" if np.isfinite(number) else ""


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
            value = (
                f"{numbers.figure(100 * relative)} %"
                if last
                else f"{numbers.figure(100 * relative)} % ({numbers.share(part)})"
            )
            for x, text, side, weight in ((0.004, cause, "left", "normal"), (0.996, value, "right", "bold")):
                axes.text(x, i + 0.08, text, transform=axes.get_yaxis_transform(), ha=side, va="top", fontsize=9.5,
                          weight=weight, bbox=BACKING)  # fmt: skip
        axes.set_ylim(len(found) + 1, 0)
        longest = 108 * max(together, 1e-6)
        axes.set_xlim(0, longest)
        axes.set_xticks([t for t in axes.get_xticks() if 0 <= t <= longest])
        axes.set_yticks([])
        axes.grid(axis="x")
        axes.spines["left"].set_visible(False)
        axes.set_xlabel("standard uncertainty, in percent of the ratio [%]")
        write(figure, 0.14, 0.3, "in brackets: share of the variance; causes add in squares", fontsize=8.5, color=MUTED)
    return shown(figure, describe_contributions(table))


def describe_contributions(table: Budget) -> str:
    """Say in words what `contributions` shows."""
    parts = [
        f"{cause} {numbers.figure(100 * relative)} % ({numbers.share(part)})"
        for cause, relative, part in _few_causes(table)
    ]
    together = 100 * abs(table.standard_uncertainty / (table.value or 1.0))
    return (
        f"Standard uncertainty of the ratio by cause, with the share of the variance in brackets: {', '.join(parts)}; "
        f"all together {numbers.figure(together)} %."
    )


def _few_causes(table: Budget) -> list[tuple[str, float, float]]:
    found = list(causes(table))
    first, rest = found[:CAUSES_SHOWN], found[CAUSES_SHOWN:]
    if rest:
        root = float(np.sqrt(sum(relative**2 for _, relative, _ in rest)))
        first.append((f"{len(rest)} smaller causes", root, sum(part for _, _, part in rest)))
    return first
