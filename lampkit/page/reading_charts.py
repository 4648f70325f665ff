"""Charts of readings: the fair ratio beside the naive one, what is to blame, what was learnt of a lens."""

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import grid, numbers
from lampkit.conversion import Assessment
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import transmittances
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.lens_identification import Knowledge
from lampkit.measurement.shortfall import FACTORS, Blame
from lampkit.page import reading_findings
from lampkit.page.light_charts import across, draw_lens, row_words, wavelength_strip
from lampkit.page.style import (
    DRAWN,
    FAINT,
    LOOKS,
    MARGIN,
    MUTED,
    NARROW,
    PAPER,
    box,
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
from lampkit.plan.agreement import Confrontation
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling
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

LETTERS, TITLE, COLUMN, LINE = 43, 36, 0.84, 0.18
"""Letters that fit across a chart of rows, and in its bold heading [1]; in inches the width of the names of its marks
and the height of a line. Source: own measurement with the letters of the house."""


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
    heading_of_all = wrapped(title, TITLE)
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
    return shown(figure, say("page.chart.fair.described", pairs=pairs))


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
    factors = [
        say("page.chart.split.factor", name=name, after=after, before=before)
        for name, before, after in zip(FACTORS, blame.before, blame.after, strict=True)
    ]
    return shown(figure, say("page.chart.split.described", product=blame.product, factors=factors))


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
    return shown(figure, say("page.chart.beside.described", pairs=pairs))


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
    named = [
        say("page.chart.causes.cause", name=cause, uncertainty=100 * relative, share=part)
        for cause, relative, part in found
    ]
    return shown(figure, say("page.chart.causes.described", causes=named, together=100 * together))


def _few_causes(table: Budget) -> list[tuple[object, float, float]]:
    found = reading_findings.causes(table)
    few: list[tuple[object, float, float]] = [(c.name, c.uncertainty, c.share) for c in found[:CAUSES_SHOWN]]
    if rest := found[CAUSES_SHOWN:]:
        root = float(np.sqrt(sum(c.uncertainty**2 for c in rest)))
        few.append((say("page.chart.causes.smaller", number=len(rest)), root, sum(c.share for c in rest)))
    return few


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
    title = wrapped(say("page.chart.lens.title", lens=knowledge.lens.name), TITLE)
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
    owner = knowledge.lens.name
    if not main:
        return shown(figure, say("page.chart.lens.described", lens=owner))
    first = sampling.interval(knowledge.before.values[owner, name])
    then = sampling.interval(knowledge.garage.values[owner, name], knowledge.garage.weights)
    values = {"lens": owner, "quantity": name, "unit": unit, "before": first, "after": then}
    return shown(figure, say("page.chart.lens.described_with", **values))


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
    told = [
        say("page.chart.lens.light_of", name=called(then.source), before=first.ratio, after=then.ratio)
        for first, then in zip(before.results, after.results, strict=True)
    ]
    return shown(figure, say("page.chart.lens.light_described", told=told))


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
