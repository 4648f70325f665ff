"""Small pictures of light in, filter and light out, quick enough to be drawn anew while a slider moves.

They are plain SVG in the colours of the page that holds them, so they suit a light and a dark page alike.
"""

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import grid
from lampkit.lenses.coloured_lens import Lens
from lampkit.light import colorimetry, photometry
from lampkit.page.small_charts import INK
from lampkit.page.style import COLOUR_NAMES, DRAWN, LOOKS, VISIBLE, called, percent
from lampkit.sources.light_source import LightSource, SourceKind

WIDE, LEFT, RIGHT, ROW, HEAD = 260.0, 30.0, 6.0, 76.0, 19.0
"""Size of a picture, its margins, the height of one of its three rows and of a heading, in units of the picture [1]."""

HATCHES = {
    "//": "M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2",
    "\\\\": "M-1,5 l2,2 M0,0 l6,6 M5,-1 l2,2",
    "xx": "M0,6 l6,-6 M0,0 l6,6",
    "": "",
}
"""Patterns that tell light sources apart without colour, as paths in a square of six. Source: as for LOOKS."""


class PictureRow(NamedTuple):
    """One of the three rows of a picture."""

    heading: str
    value: str
    curve: NDArray[np.float64]
    most: float
    filled: str


def through_lens(
    sources: Sequence[LightSource], lens: Lens, names: Sequence[str] | None = None, *, percentages: bool = True
) -> str:
    """Draw light in, lens and light out for each of a few light sources, side by side and to one scale.

    Source: CIE S 017:2020 for luminous flux; the kit's own drawing.
    """
    eye = photometry.K_M * photometry.luminous_efficiency()
    before = [eye * source.spectrum for source in sources]
    most = 1.06 * max(float(curve.max()) for curve in before)
    pictures, number = [], 0
    for source, curve, name in zip(sources, before, names or [called(s) for s in sources], strict=True):
        number += source.kind is not SourceKind.FILAMENT
        tag = "F" if source.kind is SourceKind.FILAMENT else str(number)
        share = float(photometry.luminous_transmittance(lens.transmittance, source.spectrum))
        rows = (
            PictureRow("light in [lm/nm]", f"{source.luminous_flux:.0f} lm", curve, most, "plain"),
            PictureRow("share passed by the lens [1]", lens.colour, lens.transmittance, 1.0, "line"),
            PictureRow(
                "light out [lm/nm]",
                f"{share * source.luminous_flux:.3g} lm{f', {percent(share)}' if percentages else ''}",
                curve * lens.transmittance,
                most,
                "source",
            ),
        )
        title = f"{tag}  {name}"
        words = (
            f"{name}: {source.luminous_flux:.0f} lm in, {f'{percent(share)} passes' if percentages else 'through'} "
            f"the {lens.colour} lens, {share * source.luminous_flux:.3g} lm out."
        )
        pictures.append(_picture(title, words, rows, tag))
    return _beside(pictures)


def for_the_eye(sources: Sequence[LightSource]) -> str:
    """Draw radiation, what the eye makes of each wavelength, and the light that comes of it, side by side.

    Source: CIE 018:2019 for the weights.
    """
    eye = photometry.luminous_efficiency()
    pictures, number = [], 0
    most = 1.06 * max(float((photometry.K_M * eye * s.spectrum).max()) for s in sources)
    for source in sources:
        number += source.kind is not SourceKind.FILAMENT
        tag = "F" if source.kind is SourceKind.FILAMENT else str(number)
        # The shape is what counts here, so each has its own scale; the light below is to one scale for all.
        own = 1060.0 * float(source.spectrum[DRAWN].max())
        watts = float(np.trapezoid(source.spectrum[40:401], grid.WAVELENGTHS[40:401]))
        rows = (
            PictureRow("radiation [mW/nm]", f"{watts:.2g} W, 400-760 nm", 1000.0 * source.spectrum, own, "plain"),
            PictureRow("weight by the eye [1]", "V(λ)", eye, 1.0, "line"),
            PictureRow(
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
    columns = "repeat(auto-fit,minmax(min(205px,100%),1fr))"
    most = 340 * len(pictures)
    return (
        f'<div style="display:grid;grid-template-columns:{columns};gap:4px 12px;max-width:{most}px;color:{INK}">'
        f"{boxes}</div>"
    )


def _picture(title: str, words: str, rows: Sequence[PictureRow], tag: str) -> str:
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


def _row(row: PictureRow, top: float, colour: str, tag: str) -> str:
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
