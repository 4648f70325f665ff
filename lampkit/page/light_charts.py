"""Charts of what a lens does to light: spectra before and after it, and the light against the filament's."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, numbers
from lampkit.conversion.assessment import Assessment, Result
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens
from lampkit.light import photometry
from lampkit.page.style import (
    DRAWN,
    FAINT,
    INK,
    LOOKS,
    MUTED,
    VISIBLE,
    WIDTH,
    axes_at,
    called,
    colour_behind_lens,
    fill_by_wavelength,
    house_style,
    look_of,
    new_figure,
    shown,
    spectral_colours,
    tagged,
    wrapped,
    write,
)
from lampkit.sources.light_source import LightSource
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def _light_for_the_eye(spectrum: NDArray[np.float64], luminous_flux: float) -> NDArray[np.float64]:
    """Weight by what the eye makes of each wavelength: the area under the curve is the light."""
    return np.asarray(photometry.K_M * photometry.luminous_efficiency() * spectrum / luminous_flux)


def through_lens_chart(assessment: Assessment) -> "Figure":
    """Draw the light of the filament and of every candidate before and after the lens, each from one lumen.

    Parameters
    ----------
    assessment : Assessment
        The lamp.

    Returns
    -------
    Figure
        One panel a light source, all to one scale: equal areas are equal light to the eye.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    >>> chart = lk.page.through_lens_chart(job)
    >>> len(chart.axes)  # the lens, the filament, the LED, and the strip of colours
    4
    """
    everyone = tagged(assessment)
    row, head, gap, bottom = 0.4, 0.23, 0.05, 0.98
    subject = wrapped(say("page.chart.lens_light.title", lamp=assessment.name), 44)
    top = 0.4 + 0.18 * subject.count("\n")
    names = {tag: wrapped(f"{tag}  {called(r.source)}", 38) for tag, r in everyone}
    heads = [head + 0.16 * names[tag].count("\n") for tag, _ in everyone]
    height = top + head + row + sum(heads) + (row + gap) * len(everyone) + bottom
    left, width = 0.62, WIDTH - 0.62 - 0.14
    nm = grid.WAVELENGTHS[DRAWN]
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, subject, fontsize=11.5, fontweight="bold")
        y = height - top - head - row
        axes = axes_at(figure, left, y, width, row)
        lens_name = assessment.lens.name
        lens_name = lens_name if len(lens_name) <= 30 else lens_name[:29].rstrip() + "…"
        _row_title(
            figure,
            left,
            y + row,
            width,
            say("page.chart.lens_light.lens", lens=lens_name),
            say("page.chart.lens_light.passed"),
        )
        axes.plot(nm, assessment.lens.transmittance[DRAWN], color=INK, linestyle=(0, (4, 1.5)))
        axes.set_ylim(0, 1)
        axes.set_yticks([0, 0.5, 1])
        _blank_wavelengths(axes)

        # One lumen each as it burns: heat has taken its light and moved its peak on both sides of the lens.
        lumens = [float(photometry.luminous_flux(r.spectrum_before)) for _, r in everyone]
        before = [_light_for_the_eye(r.spectrum_before, lm) for (_, r), lm in zip(everyone, lumens, strict=True)]
        most = 1.08 * max(float(curve.max()) for curve in before)
        for (tag, result), lm, curve, above in zip(everyone, lumens, before, heads, strict=True):
            y -= gap + above + row
            axes = axes_at(figure, left, y, width, row)
            after = _light_for_the_eye(result.spectrum_through, lm)
            _before_after(axes, nm, curve[DRAWN], after[DRAWN], look_of(tag)[2])
            axes.set_ylim(0, most)
            axes.locator_params(axis="y", nbins=3)
            if result is assessment.old:
                _name_before_and_after(axes, curve[DRAWN], after[DRAWN], most)
            passed = say("page.chart.lens_light.passes", share=float(result.luminous_transmittance[1]))
            _row_title(figure, left, y + row, width, names[tag], passed, bold=True)
            _blank_wavelengths(axes)
        spectral_colours(axes_at(figure, left, y - 0.2, width, 0.16))
        write(figure, 0.1, 0.26, say("page.chart.lens_light.axis"), fontsize=10,
              color=MUTED)  # fmt: skip
    return shown(figure, describe_through_lens(assessment))


def _before_after(
    axes: "Axes", nm: NDArray[np.float64], before: NDArray[np.float64], after: NDArray[np.float64], hatch: str
) -> None:
    """Draw light before and after, filled with the colours of its wavelengths; the hatch names the light source."""
    fill_by_wavelength(axes, nm, before, 0.28)
    fill_by_wavelength(axes, nm, after, 0.95)
    axes.fill_between(nm, before, facecolor="none", edgecolor=MUTED, linewidth=0.9)
    axes.fill_between(nm, after, facecolor="none", edgecolor=INK, hatch=hatch, linewidth=1.1)
    axes.set_aspect("auto")


def _row_title(
    figure: "Figure", left: float, y: float, width: float, name: object, value: object, bold: bool = False
) -> None:
    weight = "bold" if bold else "normal"
    write(figure, left, y + 0.05, name, va="bottom")
    write(figure, left + width, y + 0.05, value, va="bottom", ha="right", fontweight=weight)


def _blank_wavelengths(axes: "Axes") -> None:
    axes.set_xlim(*VISIBLE)
    # Lines where ticks would stand: ticks without letters take a third of the time of the whole chart.
    axes.set_xticks([])
    axes.vlines(np.arange(400, 751, 50), 0, 1, transform=axes.get_xaxis_transform(), color=FAINT, linewidth=0.8,
                zorder=0.5)  # fmt: skip


def _name_before_and_after(axes: "Axes", before: NDArray[np.float64], after: NDArray[np.float64], most: float) -> None:
    """Write at the first spectrum which outline is before the lens and which after it."""
    nm = grid.WAVELENGTHS[DRAWN]
    lost = int(np.argmax(before - after))
    line = {"arrowstyle": "-", "color": MUTED, "linewidth": 0.8, "shrinkA": 1, "shrinkB": 0}
    how: dict[str, Any] = {"fontsize": 10, "va": "center", "arrowprops": line}
    kept = int(np.argmax(after))
    # Each stands on the side where its outline is; the filament gives the eye little at either end.
    left, right = (before, after) if nm[lost] <= nm[kept] else (after, before)
    words = (say("page.chart.lens_light.before"), say("page.chart.lens_light.after"))
    first, second = words if left is before else words[::-1]
    at = [lost, kept] if left is before else [kept, lost]
    axes.annotate(str(first), (nm[at[0]], left[at[0]]), xytext=(404, 0.72 * most), ha="left", **how)
    axes.annotate(str(second), (nm[at[1]], right[at[1]]), xytext=(756, 0.72 * most), ha="right", **how)


def describe_through_lens(assessment: Assessment) -> Statement:
    """Say in words what `through_lens` shows."""
    passed = [
        say("page.chart.lens_light.share", share=float(r.luminous_transmittance[1]), name=called(r.source))
        for _, r in tagged(assessment)
    ]
    return say("page.chart.lens_light.described", lamp=assessment.name, passed=passed)


def ratio_chart(
    assessments: Assessment | Sequence[Assessment], *, suggested: Mapping[str, Result | None] | None = None
) -> "Figure":
    """Draw the light against the filament's, with 95 % intervals, on a logarithmic scale.

    Parameters
    ----------
    assessments : Assessment or sequence of Assessment
        One lamp, with a row for each candidate; or many lamps, with a row for each lamp.
    suggested : mapping of str to Result, optional
        For many lamps, the candidate to show with its interval, by the name of the lamp; the others are shown as
        small marks. Where a lamp has none, its filament stays and only small marks are
        shown.

    Returns
    -------
    Figure
        The chart, with a line at the filament's light.

    Raises
    ------
    InputError
        There is no candidate to draw.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    >>> lk.page.ratio_chart(job).axes[0].get_xscale()
    'log'
    """
    one = isinstance(assessments, Assessment)
    listed = [assessments] if isinstance(assessments, Assessment) else list(assessments)
    if not any(a.results for a in listed):
        raise InputError("there is no candidate to compare with the filament", key="assessments")
    rows: list[tuple[str, str, Result | None, list[float]]] = []  # tag, heading, the one with an interval, the others
    if one:
        rows = [(tag, f"{tag}  {called(r.source)}", r, []) for tag, r in tagged(listed[0])[1:]]
        title = wrapped(say("page.chart.light.title", lamp=listed[0].name), 44)
    else:
        for a in listed:
            chosen = (suggested or {}).get(a.name)
            others = [float(r.ratio[1]) for r in a.results if r is not chosen]
            rows.append(("", a.name, chosen, others))
        title = str(say("page.chart.light.title_of_all"))
    values = [float(v) for _, _, r, others in rows for v in [*others, *(r.ratio if r is not None else [])] if v > 0]
    low, high = min([0.5, *values]) / 1.15, max([2.0, *values]) * 1.15

    headings = [wrapped(heading, 31) for _, heading, _, _ in rows]
    steps = [0.46 + 0.15 * heading.count("\n") for heading in headings]
    top, bottom = 0.42 + 0.18 * title.count("\n"), 0.98 if one else 1.16
    height = top + sum(steps) + bottom
    left, width = 0.14, WIDTH - 0.28
    with house_style():
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, title, fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, left, bottom, width, sum(steps))
        axes.set_xscale("log")
        axes.set_xlim(low, high)
        axes.set_ylim(sum(steps), 0)
        below = 0.0
        for (tag, _, result, others), heading, step in zip(rows, headings, steps, strict=True):
            below += step
            here = below - 0.13
            # The name of the lamp keeps its line to itself.
            axes.fill_between([low, 1.0], below - 0.24, below, color=FAINT, alpha=0.35, linewidth=0)
            axes.plot([1.0, 1.0], [below - 0.24, below], color=INK, linewidth=1.4, solid_capstyle="butt")
            axes.axhline(below, color=FAINT, linewidth=0.8)
            axes.plot(others, [here] * len(others), linestyle="none", marker="|", markersize=9, color=MUTED)
            value = str(say("page.chart.light.stays" if others else "page.chart.light.nothing"))
            if result is not None:
                colour, marker = colour_behind_lens(result), look_of(tag)[1] if one else "o"
                ends = [here, here]
                axes.plot(result.ratio[[0, 2]], ends, color=INK, linewidth=4.6, solid_capstyle="butt")
                axes.plot(result.ratio[[0, 2]], ends, color=colour, linewidth=3.0, solid_capstyle="butt")
                axes.plot(result.ratio[[0, 2]], ends, color=INK, linestyle="none", marker="|", markersize=9)
                axes.plot(result.ratio[1], here, marker=marker, markersize=8, color=colour, markeredgecolor=INK)
                value = numbers.interval(result.ratio)
            for x, text, side, weight in ((0.004, heading, "left", "normal"), (0.996, value, "right", "bold")):
                place = axes.get_yaxis_transform()
                axes.text(x, below - step + 0.03, text, transform=place, ha=side, va="top", fontsize=10, weight=weight)
        ticks = [t for t in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100) if low <= t <= high]
        if len(ticks) > 8:
            ticks = [t for t in ticks if t in (0.01, 0.1, 0.5, 1, 2, 10, 100)]
        axes.set_xticks(ticks, labels=[f"{t:g}" for t in ticks])
        axes.minorticks_off()
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.set_xlabel(str(say("page.chart.light.axis")))
        note = say("page.chart.light.note" if one else "page.chart.light.note_of_all")
        write(figure, left, bottom - 0.52, note, fontsize=10, color=MUTED, linespacing=1.15)
    return shown(figure, describe_ratio(assessments, suggested=suggested))


def describe_ratio(
    assessments: Assessment | Sequence[Assessment], *, suggested: Mapping[str, Result | None] | None = None
) -> Statement:
    """Say in words what `ratio_chart` shows."""
    if isinstance(assessments, Assessment):
        told = [say("page.chart.light.of", name=called(r.source), ratio=r.ratio) for r in assessments.results]
        return say("page.chart.light.described", lamp=assessments.name, told=told)
    told = []
    for a in assessments:
        chosen = (suggested or {}).get(a.name)
        if chosen is None:
            told.append(say("page.chart.light.of_filament", name=a.name))
        else:
            told.append(say("page.chart.light.of", name=a.name, ratio=chosen.ratio))
    return say("page.chart.light.described_of_all", told=told)


def emission_lens_light(source: LightSource, lens: Lens) -> "Figure":
    """Draw a light source, a lens and the light that comes out, one under the other, for teaching."""
    share = float(photometry.luminous_transmittance(lens.transmittance, source.spectrum))
    nm, light = grid.WAVELENGTHS[DRAWN], 1000.0 * source.spectrum[DRAWN]
    eye = photometry.luminous_efficiency()[DRAWN]
    passed = lens.transmittance[DRAWN]
    row, head, top, bottom = 1.0, 0.28, 0.36, 0.98
    height = top + 3 * (row + head) + bottom
    left, width = 0.68, WIDTH - 0.68 - 0.14
    title = wrapped(say("page.chart.emission.title", name=called(source), colour=lens.colour), 44)
    panels = (
        (say("page.chart.emission.light_in"), say("page.chart.emission.flux", flux=source.luminous_flux), light),
        (say("page.chart.emission.lens"), lens.name, passed),
        (
            say("page.chart.emission.light_out"),
            say("page.chart.emission.flux_out", flux=share * source.luminous_flux, share=share),
            light * passed,
        ),
    )
    with house_style():
        height += 0.18 * title.count("\n")
        figure = new_figure(height)
        write(figure, 0.1, height - 0.1, title, fontsize=11.5, fontweight="bold")
        y = height - top - 0.18 * title.count("\n")
        for i, (heading, value, curve) in enumerate(panels):
            y -= head + row
            axes = axes_at(figure, left, y, width, row)
            _row_title(figure, left, y + row, width, heading, value, bold=i != 1)
            if i == 1:
                axes.plot(nm, curve, color=INK, linestyle=(0, (4, 1.5)))
                axes.set_ylim(0, 1)
            else:
                _before_after(axes, nm, curve, curve * eye, LOOKS[0][2])
                axes.set_ylim(0, 1.08 * float(light.max()))
            axes.locator_params(axis="y", nbins=4)
            _blank_wavelengths(axes)
        spectral_colours(axes_at(figure, left, y - 0.2, width, 0.16))
        write(figure, left, 0.22, say("page.chart.emission.note"), fontsize=10, color=MUTED)
    return shown(figure, describe_emission_lens_light(source, lens))


def describe_emission_lens_light(source: LightSource, lens: Lens) -> Statement:
    """Say in words what `emission_lens_light` shows."""
    share = float(photometry.luminous_transmittance(lens.transmittance, source.spectrum))
    values = {"name": called(source), "lens": lens.name, "flux": source.luminous_flux, "share": share}
    return say("page.chart.emission.described", **values)
