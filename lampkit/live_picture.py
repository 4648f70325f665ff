"""Small pictures of light in, filter and light out, quick enough to be drawn anew while a slider moves.

They are plain SVG in the colours of the page that holds them, so they suit a light and a dark page alike.
"""

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import colorimetry, grid, photometry
from lampkit.chart_style import COLOUR_NAMES, DRAWN, LOOKS, VISIBLE, called, percent
from lampkit.lenses import Lens
from lampkit.light_source import LightSource

WIDE, LEFT, RIGHT, ROW, HEAD = 260.0, 30.0, 6.0, 76.0, 19.0
"""Size of a picture, its margins, the height of one of its three rows and of a heading, in units of the picture [1]."""

HATCHES = {
    "//": "M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2",
    "\\\\": "M-1,5 l2,2 M0,0 l6,6 M5,-1 l2,2",
    "xx": "M0,6 l6,-6 M0,0 l6,6",
    "": "",
}
"""Patterns that tell light sources apart without colour, as paths in a square of six. Source: as for LOOKS."""


class Row(NamedTuple):
    """One of the three rows of a picture.

    Parameters
    ----------
    heading : str
        What is drawn, with its unit.
    value : str
        The number that sums it up.
    curve : ndarray, shape (471,) [1]
        What is drawn, in the unit of the heading.
    most : float [1]
        Upper end of the scale.
    filled : str
        'source' for light in its own pattern, 'plain' for grey, 'line' for a dashed line.

    Source: the kit's own convention.
    """

    heading: str
    value: str
    curve: NDArray[np.float64]
    most: float
    filled: str


def through_lens(sources: Sequence[LightSource], lens: Lens, names: Sequence[str] | None = None) -> str:
    """Draw light in, lens and light out for each of a few light sources, side by side and to one scale.

    Parameters
    ----------
    sources : sequence of LightSource
        The light sources; the first is marked F when it is a filament lamp, the others 1, 2 and so on.
    lens : Lens
        The lens.
    names : sequence of str, optional
        Headings; the names of the light sources when left out.

    Returns
    -------
    str
        An HTML element with one SVG picture a light source. Equal areas are equal light to the eye.

    Source: CIE S 017:2020 for luminous flux; the kit's own drawing.
    """
    eye = photometry.K_M * photometry.efficiency()
    before = [eye * source.spectrum for source in sources]
    most = 1.06 * max(float(curve.max()) for curve in before)
    pictures, number = [], 0
    for source, curve, name in zip(sources, before, names or [called(s) for s in sources], strict=True):
        number += source.kind != "filament"
        tag = "F" if source.kind == "filament" else str(number)
        share = float(photometry.luminous_transmittance(lens.transmittance, source.spectrum))
        rows = (
            Row("light in [lm/nm]", f"{source.luminous_flux:.0f} lm", curve, most, "plain"),
            Row("share passed by the lens [1]", lens.colour, lens.transmittance, 1.0, "line"),
            Row(
                "light out [lm/nm]",
                f"{share * source.luminous_flux:.3g} lm, {percent(share)}",
                curve * lens.transmittance,
                most,
                "source",
            ),
        )
        title = f"{tag}  {name}"
        words = (
            f"{name}: {source.luminous_flux:.0f} lm in, {percent(share)} passes the {lens.colour} lens, "
            f"{share * source.luminous_flux:.3g} lm out."
        )
        pictures.append(_picture(title, words, rows, tag))
    return _beside(pictures)


def for_the_eye(sources: Sequence[LightSource]) -> str:
    """Draw radiation, what the eye makes of each wavelength, and the light that comes of it, side by side.

    Parameters
    ----------
    sources : sequence of LightSource
        The light sources.

    Returns
    -------
    str
        An HTML element with one SVG picture a light source; the last row shows the light, whose area is the lumens.

    Source: CIE 018:2019 for the weights.
    """
    eye = photometry.efficiency()
    pictures, number = [], 0
    most = 1.06 * max(float((photometry.K_M * eye * s.spectrum).max()) for s in sources)
    for source in sources:
        number += source.kind != "filament"
        tag = "F" if source.kind == "filament" else str(number)
        # The shape is what counts here, so each has its own scale; the light below is to one scale for all.
        own = 1060.0 * float(source.spectrum[DRAWN].max())
        watts = float(np.trapezoid(source.spectrum[40:401], grid.WAVELENGTHS[40:401]))
        rows = (
            Row("radiation [mW/nm]", f"{watts:.2g} W, 400-760 nm", 1000.0 * source.spectrum, own, "plain"),
            Row("weight by the eye [1]", "V(λ)", eye, 1.0, "line"),
            Row(
                "light [lm/nm]",
                f"{source.luminous_flux:.0f} lm",
                photometry.K_M * eye * source.spectrum,
                most,
                "source",
            ),
        )
        words = f"{called(source)}: the eye turns its radiation into {source.luminous_flux:.0f} lm."
        pictures.append(_picture(f"{tag}  {called(source)}", words, rows, tag))
    return _beside(pictures)


def swatch(xy: NDArray[np.float64]) -> str:
    """Give a patch of the screen colour nearest to a chromaticity.

    Parameters
    ----------
    xy : ndarray, shape (2,) [1]
        The chromaticity.

    Returns
    -------
    str
        An HTML element; an illustration, not a measurement.

    Source: IEC 61966-2-1:1999.
    """
    red, green, blue = np.round(255 * colorimetry.srgb(xy)).astype(int)
    return (
        f'<span role="img" aria-label="patch of this colour" style="display:inline-block;width:2.2em;height:1.1em;'
        f"vertical-align:-0.2em;border:1px solid currentColor;border-radius:3px;"
        f'background:rgb({red},{green},{blue})"></span>'
    )


def _beside(pictures: Sequence[str]) -> str:
    boxes = "".join(f"<div>{p}</div>" for p in pictures)
    columns = "repeat(auto-fill,minmax(min(225px,100%),1fr))"
    most = 340 * len(pictures)
    return (
        f'<div style="display:grid;grid-template-columns:{columns};gap:4px 12px;max-width:{most}px;color:{INK}">'
        f"{boxes}</div>"
    )


INK = "var(--jp-content-font-color1, currentColor)"
"""Colour of the letters of the page around the picture."""


def _picture(title: str, words: str, rows: Sequence[Row], tag: str) -> str:
    house, _, hatch = ("currentColor", "o", "") if tag == "F" else LOOKS[(int(tag) - 1) % 3]
    # A little of the page's ink keeps the house colours clear of a light and of a dark page.
    colour = f"color-mix(in srgb, {house} 78%, currentColor)" if hatch else house
    height = 20 + len(rows) * (ROW + HEAD) + 28
    parts = [
        f'<svg role="img" aria-label="{escape(words)}" viewBox="0 0 {WIDE:g} {height:g}" width="100%" '
        f'style="display:block" font-family="inherit" font-size="11" fill="currentColor">',
        f'<pattern id="lampkit-hatch-{tag}" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<path d="{HATCHES[hatch]}" stroke="{colour}" stroke-width="0.9" fill="none"/></pattern>',
        f'<text x="2" y="13" font-weight="bold" font-size="12">{escape(_short(title))}</text>',
    ]
    top = 20.0
    for row in rows:
        parts.append(_row(row, top, colour, tag))
        top += HEAD + ROW
    parts.append(_wavelengths(top))
    return "".join(parts) + "</svg>"


def _short(title: str) -> str:
    return title if len(title) <= 36 else title[:35].rstrip() + "…"


def _row(row: Row, top: float, colour: str, tag: str) -> str:
    base = top + HEAD + ROW - 4
    high = ROW - 4
    scale = high / row.most
    tick = _tick(row.most)
    level = base - scale * tick
    outline = _path(row.curve, base, scale)
    closed = f"{outline}L{WIDE - RIGHT:g},{base:g}L{LEFT:g},{base:g}Z"
    drawn = {
        "plain": f'<path d="{closed}" fill="currentColor" fill-opacity="0.16" stroke="none"/>'
        f'<path d="{outline}" fill="none" stroke="currentColor" stroke-opacity="0.75"/>',
        "line": f'<path d="{outline}" fill="none" stroke="currentColor" stroke-width="1.5" stroke-dasharray="5 2"/>',
        "source": f'<path d="{closed}" fill="{colour}" fill-opacity="0.4" stroke="none"/>'
        f'<path d="{closed}" fill="url(#lampkit-hatch-{tag})" stroke="none"/>'
        f'<path d="{outline}" fill="none" stroke="{colour}" stroke-width="1.6"/>',
    }[row.filled]
    return (
        f'<text x="{LEFT:g}" y="{top + 12:g}" fill-opacity="0.85">{escape(row.heading)}</text>'
        f'<text x="{WIDE - RIGHT:g}" y="{top + 12:g}" text-anchor="end" font-weight="bold">{escape(row.value)}</text>'
        f'<path d="M{LEFT:g},{level:.1f}H{WIDE - RIGHT:g}" stroke="currentColor" stroke-opacity="0.2"/>'
        f'<text x="{LEFT - 4:g}" y="{level + 4:.1f}" text-anchor="end" font-size="10">{tick:g}</text>'
        f'<path d="M{LEFT:g},{base:g}H{WIDE - RIGHT:g}" stroke="currentColor" stroke-opacity="0.6"/>{drawn}'
    )


def _tick(most: float) -> float:
    """The largest of 1, 2 and 5 times a power of ten that the scale still holds."""
    power = 10.0 ** np.floor(np.log10(most))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= most))


def _across(wavelength: NDArray[np.float64] | float) -> NDArray[np.float64]:
    low, high = VISIBLE
    return np.asarray(LEFT + (WIDE - LEFT - RIGHT) * (np.asarray(wavelength) - low) / (high - low))


def _path(curve: NDArray[np.float64], base: float, scale: float) -> str:
    across = _across(grid.WAVELENGTHS[DRAWN])
    points = zip(across.tolist(), (base - scale * curve[DRAWN]).tolist(), strict=True)
    return "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _wavelengths(top: float) -> str:
    parts = []
    for wavelength, name in COLOUR_NAMES.items():
        if name in ("violet", "yellow"):  # no room in so small a picture
            continue
        red, green, blue = np.round(255 * colorimetry.srgb(colorimetry.spectrum_locus()[int(wavelength) - 360]))
        at = float(_across(wavelength))
        parts.append(
            f'<rect x="{at - 4:.1f}" y="{top:g}" width="8" height="5" fill="rgb({red:.0f},{green:.0f},{blue:.0f})" '
            'stroke="currentColor" stroke-width="0.4"/>'
            f'<text x="{at:.1f}" y="{top + 14:g}" text-anchor="middle" font-size="9.5">{name}</text>'
        )
    for wavelength in (400, 500, 600, 700):
        parts.append(
            f'<text x="{float(_across(float(wavelength))):.1f}" y="{top + 25:g}" text-anchor="middle" '
            f'font-size="10">{wavelength}</text>'
        )
    parts.append(f'<text x="{WIDE - RIGHT:g}" y="{top + 25:g}" text-anchor="end" font-size="10">nm</text>')
    return "".join(parts)


class Bar(NamedTuple):
    """One interval of a picture.

    Parameters
    ----------
    label : str
        What it is.
    limits : ndarray, shape (3,) [1]
        Lower limit, median and upper limit; the upper one may be infinite.
    mark : float or None [1]
        A value to set beside it, drawn as a cross.

    Source: the kit's own convention.
    """

    label: str
    limits: NDArray[np.float64]
    mark: float | None = None


def intervals(bars: Sequence[Bar], axis: str, note: str) -> str:
    """Draw intervals under each other on a logarithmic scale with a line at one.

    Parameters
    ----------
    bars : sequence of Bar
        The intervals.
    axis : str
        What is drawn, with its unit.
    note : str
        What the marks mean.

    Returns
    -------
    str
        An HTML element with the SVG picture.

    Source: the kit's own drawing.
    """
    wide, left, right, step = 460.0, 8.0, 8.0, 38.0
    values = [v for b in bars for v in (*b.limits, b.mark or 1.0) if 0 < v < np.inf]
    low, high = min([0.5, *values]) / 1.2, max([2.0, *values]) * 1.2

    def across(value: float) -> float:
        share = np.log(np.clip(value, low, high) / low) / np.log(high / low)
        return float(left + (wide - left - right) * share)

    height = step * len(bars) + 48
    words = "; ".join(f"{b.label} {_numbers(b)}" for b in bars)
    one, bottom = across(1.0), step * len(bars) + 4
    parts = [
        f'<svg role="img" aria-label="{escape(words)}" viewBox="0 0 {wide:g} {height:g}" width="100%" '
        'style="display:block;max-width:560px" font-family="inherit" font-size="12" fill="currentColor">',
        f'<rect x="{left:g}" y="0" width="{one - left:.1f}" height="{bottom:g}" fill-opacity="0.08"/>',
        f'<path d="M{one:.1f},0V{bottom:g}" stroke="currentColor" stroke-width="1.4"/>',
    ]
    colour = f"color-mix(in srgb, {LOOKS[0][0]} 78%, currentColor)"
    for i, bar in enumerate(bars):
        y = i * step + 27
        ends = [across(float(v)) for v in bar.limits]
        unbounded = not np.isfinite(bar.limits[2])
        cap = f"M{ends[2] - 6:.1f},{y - 4}l6,4l-6,4" if unbounded else f"M{ends[2]:.1f},{y - 5}v10"
        parts.append(
            f'<text x="{left + 4:g}" y="{y - 11:g}">{escape(bar.label)}</text>'
            f'<text x="{wide - right:g}" y="{y - 11:g}" text-anchor="end" font-weight="bold">{_numbers(bar)}</text>'
            f'<path d="M{ends[0]:.1f},{y}H{ends[2]:.1f}" stroke="{colour}" stroke-width="3"/>'
            f'<path d="M{ends[0]:.1f},{y - 5}v10{cap}" stroke="{colour}" stroke-width="1.6" fill="none"/>'
            f'<circle cx="{ends[1]:.1f}" cy="{y}" r="4.5" fill="{colour}"/>'
        )
        if bar.mark is not None:
            at = across(bar.mark)
            parts.append(f'<path d="M{at - 4:.1f},{y - 4}l8,8m-8,0l8,-8" stroke="currentColor" stroke-width="1.8"/>')
    for tick in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50):
        if low <= tick <= high:
            parts.append(f'<text x="{across(tick):.1f}" y="{bottom + 14:g}" text-anchor="middle">{tick:g}</text>')
    parts.append(
        f'<text x="{left:g}" y="{bottom + 29:g}">{escape(axis)}</text>'
        f'<text x="{left:g}" y="{bottom + 42:g}" font-size="10.5" fill-opacity="0.8">{escape(note)}</text></svg>'
    )
    return f'<div style="color:{INK}">{"".join(parts)}</div>'


def _numbers(bar: Bar) -> str:
    low, middle, high = bar.limits
    if not np.isfinite(high):
        return f"at least {low:.2f}"
    return f"{middle:.2f} ({low:.2f} to {high:.2f})"


def time_course(time: NDArray[np.float64], light: NDArray[np.float64], name: str) -> str:
    """Draw how the light of a filament comes up after the switch closes, beside an LED that is there at once.

    Parameters
    ----------
    time : ndarray, shape (n,) [s]
        Instants from switching on.
    light : ndarray, shape (n,) [1]
        Light of the filament over its settled light.
    name : str
        The filament lamp.

    Returns
    -------
    str
        An HTML element with the SVG picture.

    Source: the kit's own drawing.
    """
    wide, tall, left, bottom = 460.0, 190.0, 40.0, 150.0
    span = float(time[-1])
    across = left + (wide - left - 8.0) * time / span
    up = bottom - 115.0 * np.minimum(light, 1.2)
    curve = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in zip(across.tolist(), up.tolist(), strict=True))
    ninety = float(time[int(np.argmax(light >= 0.9))])
    at = left + (wide - left - 8.0) * ninety / span
    colour = f"color-mix(in srgb, {LOOKS[0][0]} 78%, currentColor)"
    words = f"{name}: 90 % of its light after {1000 * ninety:.0f} ms; an LED gives all of it in less than 5 ms."
    ticks = "".join(
        f'<text x="{left + (wide - left - 8.0) * t / span:.1f}" y="{bottom + 15:g}" text-anchor="middle">'
        f"{1000 * t:.0f}</text>"
        for t in np.linspace(0.0, span, 6)
    )
    levels = "".join(
        f'<path d="M{left:g},{bottom - 115 * v:g}H{wide - 8:g}" stroke="currentColor" stroke-opacity="0.2"/>'
        f'<text x="{left - 5:g}" y="{bottom - 115 * v + 4:g}" text-anchor="end">{v:g}</text>'
        for v in (0.0, 0.5, 0.9, 1.0)
        if v != 0.9
    )
    return (
        f'<div style="color:{INK}"><svg role="img" aria-label="{escape(words)}" viewBox="0 0 {wide:g} {tall:g}" '
        'width="100%" style="display:block;max-width:560px" font-family="inherit" font-size="11.5" '
        f'fill="currentColor">{levels}{ticks}'
        f'<path d="M{left:g},{bottom:g}V{bottom - 115:g}H{wide - 8:g}" fill="none" stroke="{colour}" stroke-width="2" '
        'stroke-dasharray="6 3"/>'
        f'<path d="{curve}" fill="none" stroke="currentColor" stroke-width="2"/>'
        f'<path d="M{at:.1f},{bottom:g}V{bottom - 103.5:.1f}" stroke="currentColor" stroke-dasharray="2 3"/>'
        f'<text x="{at + 5:.1f}" y="{bottom - 8:g}">90 % after {1000 * ninety:.0f} ms</text>'
        f'<text x="{left + 6:g}" y="{bottom - 121:g}">dashed: LED   line: {escape(name)}</text>'
        f'<text x="{wide - 8:g}" y="{tall - 8:g}" text-anchor="end">time after switching on [ms]</text>'
        f'<text x="2" y="12">light [1]</text></svg></div>'
    )
