"""Chart of the current in every circuit, with the old lamps and with the new ones."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from lampkit.errors import InputError
from lampkit.page.style import FAINT, INK, LOOKS, MUTED, PAPER, WIDTH, axes_at, house_style, new_figure, shown, write
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def currents(circuits: Sequence[CircuitReport]) -> "Figure":
    """Draw the current of each circuit before and after."""
    rows = [(c.circuit.name, c.change.current) for c in circuits if c.change is not None]
    if not rows:
        raise InputError("no circuit was worked out", key="circuits", expected="lamps with watts on a circuit")
    step, top, bottom = 0.62, 0.42, 0.6
    height = top + step * len(rows) + bottom
    most = max(float(current.max()) for _, current in rows)
    colour, _, hatch = LOOKS[0]
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, say("page.chart.current.title"), fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.14, bottom, WIDTH - 0.28, step * len(rows))
        axes.set_xlim(0, 1.5 * most)
        axes.set_ylim(step * len(rows), 0)
        for i, (name, current) in enumerate(rows):
            y = step * i
            axes.axhline(y + step, color=FAINT, linewidth=0.8)
            axes.text(0.012, y + 0.04, name, transform=axes.get_yaxis_transform(), va="top", fontsize=10.0)
            looks: tuple[dict[str, Any], ...] = (
                {"facecolor": FAINT, "edgecolor": MUTED},
                {"facecolor": PAPER, "edgecolor": colour, "hatch": hatch},
            )
            states = (say("page.chart.current.before"), say("page.chart.current.after"))
            for j, (value, look) in enumerate(zip(current, looks, strict=True)):
                middle = y + 0.31 + 0.17 * j
                axes.barh(middle, value, height=0.14, linewidth=1.2, **look)
                axes.text(
                    value + 0.012 * most,
                    middle,
                    str(say("page.chart.current.value", current=float(value), state=states[j])),
                    va="center",
                    fontsize=10.0,
                    color=INK,
                )
        axes.set_yticks([])
        axes.spines["left"].set_color(MUTED)
        axes.set_xlabel(str(say("page.chart.current.axis")))
    return shown(figure, describe_currents(circuits))


def describe_currents(circuits: Sequence[CircuitReport]) -> Statement:
    """Say in words what `currents` shows."""
    told = [
        say("page.chart.current.circuit", name=c.circuit.name, before=c.change.current[0], after=c.change.current[1])
        for c in circuits
        if c.change is not None
    ]
    return say("page.chart.current.described", circuits=told)
