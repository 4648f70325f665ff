"""Chart of what readings taught about a lens: its transmittance and its edge, before and after."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, numbers
from lampkit.conversion import Assessment
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import transmittances
from lampkit.measurement.lens_identification import Knowledge
from lampkit.page.light_charts import across, draw_lens, row_words, wavelength_strip
from lampkit.page.reading_charts import Mark, interval_chart
from lampkit.page.style import (
    DRAWN,
    FAINT,
    LETTERS,
    LOOKS,
    MARGIN,
    MUTED,
    NARROW,
    called,
    house_style,
    new_figure,
    numbered,
    paint,
    path_of,
    round_numbers,
    shown,
    trace,
    wavelength_colours,
    wrapped,
    write,
)
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling

if TYPE_CHECKING:
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
    >>> lk.page.lens_knowledge(known).texts[-3].get_text()
    'edge wavelength [nm]'
    """
    bands = _bands(knowledge)
    main = _main_quantity(knowledge)
    tall, low = 1.2, 1.0
    title = wrapped(say("page.chart.lens.title", lens=knowledge.lens.name), LETTERS - 4)
    top = 0.62 + 0.2 * title.count("\n")
    height = round(top + tall + 0.56 + (low + 0.86 if main else 0.0), 2)
    x = across(grid.WAVELENGTHS[DRAWN])
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.1, title, fontsize=11.5, fontweight="bold")
        floor = height - top - tall
        row_words(figure, floor + tall, say("page.chart.lens.passed"), "")
        draw_lens(figure, x, floor, bands[0][1], tall)
        for limits, strong in zip(bands, (False, True), strict=True):
            _filled(figure, x, floor + tall * limits[0], floor + tall * limits[2], strong=strong)
        trace(
            figure, np.stack([x, floor + tall * bands[1][1]], axis=-1), edgecolor=LOOKS[0][0], linewidth=1.8, zorder=3
        )
        strip = wavelength_strip(figure, floor - 0.06, floor + tall)
        corners = (x[0], x[-1], strip[0, 1], floor)
        paint(figure, wavelength_colours()[np.newaxis], corners, path_of([strip]), 0.95)
        if main:
            name, unit = main
            floor = 0.5
            row_words(figure, floor + low, say("page.chart.lens.density", quantity=name), "")
            _densities(figure, knowledge, name, (floor, low), say("page.chart.lens.of", quantity=name, unit=unit))
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
    >>> lk.page.light_before_and_after(job, job).texts[1].get_text()
    'red LED'
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


def _bands(knowledge: Knowledge) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lens = knowledge.lens
    found = []
    for garage, weights in ((knowledge.before, None), (knowledge.garage, knowledge.garage.weights)):
        curves = np.broadcast_to(transmittances(lens, garage.of(lens.name)), (len(garage), grid.WAVELENGTHS.size))
        found.append(sampling.interval(curves[:, DRAWN].T, weights).T)
    return found[0], found[1]


def _filled(
    figure: "Figure", x: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64], *, strong: bool
) -> None:
    """Fill what lies between two curves: grey for what was known before, hatched in blue for what is known now."""
    from matplotlib.colors import to_rgba

    outline = np.concatenate([np.stack([x, high], axis=-1), np.stack([x, low], axis=-1)[::-1]])
    if not strong:
        trace(figure, outline, facecolor=FAINT, edgecolor=MUTED, linewidth=0.9, label="before")
        return
    colour, hatch = LOOKS[0][0], LOOKS[0][2]
    trace(figure, outline, facecolor=to_rgba(colour, 0.3), edgecolor="none", zorder=2)
    # On its own: with a transparent filling, the hatch would be lost in the SVG.
    trace(figure, outline, edgecolor=colour, hatch=hatch, label="after", zorder=2)


def smoothed(draws: NDArray[np.float64], weights: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the density of weighted draws, each spread to a Gaussian of the usual width.

    Source: Scott, Multivariate Density Estimation, 1992, rule for the width (from memory).
    """
    middle = weights @ draws
    concentration = float(weights @ weights)
    width = concentration**0.2 * np.sqrt(weights @ (draws - middle) ** 2 / (1.0 - concentration))
    away = (at[:, np.newaxis] - draws) / width
    return np.asarray(np.exp(-0.5 * away**2) @ weights / (width * np.sqrt(2.0 * np.pi)))


def _densities(figure: "Figure", knowledge: Knowledge, name: str, room: tuple[float, float], words: Statement) -> None:
    """Draw how probable each value of a quantity was and is, from a height on and as high as said, in inches."""
    owner, weights = knowledge.lens.name, knowledge.garage.weights
    prior, posterior = knowledge.before.values[owner, name], knowledge.garage.values[owner, name]
    both = np.concatenate([prior, posterior])
    edge = 0.06 * float(np.ptp(both))
    low, high = float(both.min()) - edge, float(both.max()) + edge
    at = np.linspace(low, high, 240)
    curves = [smoothed(prior, np.full(prior.size, 1.0 / prior.size), at), smoothed(posterior, weights, at)]
    left, right = MARGIN + 0.08, NARROW - MARGIN
    floor, tall = room
    unit = tall / (1.06 * max(float(curve.max()) for curve in curves))

    def along(value: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(left + (right - left) * (np.asarray(value) - low) / (high - low))

    x = along(at)
    for curve, strong in zip(curves, (False, True), strict=True):
        _filled(figure, x, np.full(x.size, floor), floor + unit * curve, strong=strong)
    ticks = round_numbers(low, high, 5)
    numbered(figure, floor, (left, right), [(float(along(t)), f"{t:.6g}") for t in ticks], words)
    # Each curve is named beside its flank, on the side where the later one leaves room.
    on_right = float(x[int(np.argmax(curves[1]))]) < 0.5 * (left + right)
    side, end, step = ("right", right, -1.0) if on_right else ("left", left, 1.0)
    for curve, told, up in ((curves[1], "after", 0.94), (curves[0], "before", 0.74)):
        peak = int(np.argmax(curve))
        flank = slice(peak, None) if on_right else slice(0, peak + 1)
        place = int(np.argmin(np.abs(curve[flank] - 0.5 * float(curve.max())))) + (peak if on_right else 0)
        text = say("page.chart.lens.after") if told == "after" else say("page.chart.lens.before")
        level = floor + up * tall
        write(figure, end, level, text, va="center", ha=side)
        beside = end + step * (0.082 * len(str(text)) + 0.04)
        # A flank beneath the words is reached straight down.
        under = step * (x[place] - beside) < 0.05
        start = [x[place], level - 0.1] if under else [beside, level - 0.03]
        line = np.array([start, [x[place], floor + unit * curve[place]]])
        trace(figure, line, edgecolor=MUTED, linewidth=0.8, zorder=3)
