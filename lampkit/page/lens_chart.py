"""Chart of what readings taught about a lens: its transmittance and its edge, before and after."""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, numbers
from lampkit.conversion import Assessment
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import transmittances
from lampkit.measurement.lens_identification import Knowledge
from lampkit.page.reading_charts import Mark, interval_chart
from lampkit.page.style import (
    DRAWN,
    FAINT,
    LOOKS,
    MUTED,
    NARROW,
    VISIBLE,
    axes_at,
    called,
    house_style,
    new_figure,
    shown,
    spectral_colours,
    wrapped,
    write,
)
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


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

    Examples
    --------
    >>> import lampkit as lk
    >>> known = lk.measurement.lens_identification.believed_lens(lk.lenses.load("red"), draws=200)
    >>> lk.page.lens_knowledge(known).axes[-1].get_xlabel()
    'edge wavelength [nm]'
    """
    before, after = _bands(knowledge)
    main = _main_quantity(knowledge)
    tall, low, bottom = 1.5, 1.0, 0.5
    title = wrapped(say("page.chart.lens.title", lens=knowledge.lens.name), 36)
    top = 0.62 + 0.18 * title.count("\n")
    height = top + tall + (0.98 + low + bottom if main else 0.56 + 0.3)
    left, width = 0.56, NARROW - 0.56 - 0.14
    nm = grid.WAVELENGTHS[DRAWN]
    with house_style():
        figure = new_figure(height, NARROW)
        write(figure, 0.1, height - 0.1, title, fontsize=11.5, fontweight="bold")
        write(figure, left, height - top + 0.24, say("page.chart.lens.passed"))
        y = height - top - tall
        axes = axes_at(figure, left, y, width, tall)
        _band(axes, nm, before, strong=False)
        _band(axes, nm, after, strong=True)
        axes.set_xlim(*VISIBLE)
        axes.set_xticks(np.arange(400, 751, 100), labels=[])
        axes.set_ylim(0, 1)
        axes.set_yticks([0, 0.5, 1])
        axes.grid()
        spectral_colours(axes_at(figure, left, y - 0.2, width, 0.16))
        if main:
            name, unit = main
            write(figure, left, y - 0.74, say("page.chart.lens.density", quantity=name, unit=_per(unit)))
            axes = axes_at(figure, left, bottom, width, low)
            _densities(axes, knowledge, name)
            axes.set_xlabel(f"{name} [{unit}]")
    return shown(figure, describe_lens_knowledge(knowledge))


def describe_lens_knowledge(knowledge: Knowledge) -> Statement:
    """Say in words what `lens_knowledge` shows."""
    main = _main_quantity(knowledge)
    if main is None:
        return say("page.chart.lens.described", lens=knowledge.lens.name)
    name, unit = main
    owner = knowledge.lens.name
    first = sampling.interval(knowledge.before.values[owner, name])
    then = sampling.interval(knowledge.garage.values[owner, name], knowledge.garage.weights)
    values = {"lens": knowledge.lens.name, "quantity": name, "unit": unit, "before": first, "after": then}
    return say("page.chart.lens.described_with", **values)


def light_before_and_after(before: Assessment, after: Assessment) -> "Figure":
    """Draw the light of each candidate twice in one chart: as believed before the readings of a lens, and with them.

    Parameters
    ----------
    before : Assessment
        The lamp as believed.
    after : Assessment
        The same lamp and candidates with what the readings taught.

    Returns
    -------
    Figure
        For each candidate two intervals of 95 % on one scale.

    Raises
    ------
    InputError
        The two do not hold the same candidates.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), draws=100)
    >>> lk.page.light_before_and_after(job, job).axes[0].get_xscale()
    'log'
    """
    names = [[r.source.name for r in one.results] for one in (before, after)]
    if names[0] != names[1] or not names[0]:
        raise InputError("the two do not hold the same light sources", key="after", expected=", ".join(names[0]))
    rows: list[tuple[object, object, list[Mark]]] = [
        (called(then.source), numbers.interval(then.ratio), [("strong", then.ratio), ("faint", first.ratio)])
        for first, then in zip(before.results, after.results, strict=True)
    ]
    figure = interval_chart(
        say("page.chart.lens.light_title"),
        rows,
        say("page.chart.light.axis"),
        {"strong": say("page.chart.split.strong"), "faint": say("page.chart.split.faint")},
    )
    return shown(figure, describe_light_before_and_after(before, after))


def describe_light_before_and_after(before: Assessment, after: Assessment) -> Statement:
    """Say in words what `light_before_and_after` shows."""
    told = [
        say("page.chart.lens.light_of", name=called(then.source), before=first.ratio, after=then.ratio)
        for first, then in zip(before.results, after.results, strict=True)
    ]
    return say("page.chart.lens.light_described", told=told)


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
        found.append(sampling.interval(curves[:, DRAWN].T, weights).T)
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


def smoothed(draws: NDArray[np.float64], weights: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the density of weighted draws, each spread to a Gaussian of the usual width.

    Source: Scott, Multivariate Density Estimation, 1992, rule for the width (from memory).
    """
    middle = weights @ draws
    concentration = float(weights @ weights)
    width = concentration**0.2 * np.sqrt(weights @ (draws - middle) ** 2 / (1.0 - concentration))
    away = (at[:, np.newaxis] - draws) / width
    return np.asarray(np.exp(-0.5 * away**2) @ weights / (width * np.sqrt(2.0 * np.pi)))


def _densities(axes: "Axes", knowledge: Knowledge, name: str) -> None:
    from matplotlib.colors import to_rgba
    from matplotlib.ticker import MaxNLocator

    owner = knowledge.lens.name
    prior, posterior = knowledge.before.values[owner, name], knowledge.garage.values[owner, name]
    both = np.concatenate([prior, posterior])
    edge = 0.06 * float(np.ptp(both))
    x = np.linspace(float(both.min()) - edge, float(both.max()) + edge, 240)
    first = smoothed(prior, np.full(prior.size, 1.0 / prior.size), x)
    then = smoothed(posterior, knowledge.garage.weights, x)
    colour, hatch = LOOKS[0][0], LOOKS[0][2]
    axes.fill_between(x, first, facecolor=FAINT, edgecolor=MUTED, linewidth=0.9)
    axes.fill_between(x, then, facecolor=to_rgba(colour, 0.3), linewidth=0)
    axes.fill_between(x, then, facecolor="none", edgecolor=colour, hatch=hatch, linewidth=1.4)
    axes.set_xlim(x[0], x[-1])
    axes.set_ylim(0, 1.08 * max(first.max(), then.max()))
    _name_densities(axes, x, first, then)
    for axis, (low, high), number in ((axes.xaxis, (x[0], x[-1]), 5), (axes.yaxis, axes.get_ylim(), 2)):
        axis.set_ticks([t for t in MaxNLocator(number).tick_values(low, high) if low <= t <= high])


def _name_densities(
    axes: "Axes", x: NDArray[np.float64], first: NDArray[np.float64], then: NDArray[np.float64]
) -> None:
    """Write at each density whether it is that before the readings or that after them."""
    low, high = float(x[0]), float(x[-1])
    right = float(x[int(np.argmax(then))]) < 0.5 * (low + high)
    side, edge = ("right", high) if right else ("left", low)
    line = {"arrowstyle": "-", "color": MUTED, "linewidth": 0.8, "shrinkA": 1, "shrinkB": 0}
    how: dict[str, Any] = {"ha": side, "va": "center", "arrowprops": line}
    top = axes.get_ylim()[1]
    for curve, words, up in ((then, "after", 0.86), (first, "before", 0.6)):
        peak = float(x[int(np.argmax(curve))])
        beyond = x > peak if right else x < peak
        level = np.abs(curve - 0.5 * float(curve.max()))
        at = int(np.argmin(np.where(beyond, level, np.inf)))
        text = say("page.chart.lens.after") if words == "after" else say("page.chart.lens.before")
        axes.annotate(str(text), (float(x[at]), float(curve[at])), xytext=(edge, up * top), **how)
