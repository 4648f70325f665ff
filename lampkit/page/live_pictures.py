"""Small pictures, quick enough to be drawn anew while a slider moves: light through a lens, a time course.

They are plain SVG in the colours of the page that holds them, so they suit a light and a dark page alike.
"""

import secrets
from collections.abc import Sequence
from functools import cache
from html import escape
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, numbers
from lampkit.lenses.coloured_lens import Lens
from lampkit.light import colorimetry, photometry
from lampkit.page.style import (
    BOLD,
    COLOUR_NAMES,
    DRAWN,
    LOOKS,
    NOTEBOOK_INK,
    VISIBLE,
    called,
    css,
    drawing_svg,
    lettered,
)
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say

WIDE, LEFT, RIGHT, ROW, HEAD, LINE = 156.0, 24.0, 4.0, 60.0, 20.0, 16.0
"""Size of a picture, its margins, the height of one of its three rows, of a heading and of a line, in units of the
picture: two beside each other on a phone have letters of 11 px [1]. Source: own measurement."""

NAMED = {466.0: "end", 522.0: "start", 640.0: "start"}
"""Wavelengths whose colours are named in so small a picture, and where their names have room [nm]."""

HATCHES = {
    "//": "M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2",
    "\\\\": "M-1,5 l2,2 M0,0 l6,6 M5,-1 l2,2",
    "xx": "M0,6 l6,-6 M0,0 l6,6",
    "": "",
}
"""Patterns that tell light sources apart without colour, as paths in a square of six. Source: as for LOOKS."""


class PictureRow(NamedTuple):
    """One of the three rows of a picture."""

    heading: Statement
    value: object
    curve: NDArray[np.float64]
    most: float
    filled: str


def through_lens(sources: Sequence[LightSource], lens: Lens, names: Sequence[str] | None = None) -> str:
    """Draw light in, lens and light out for each of a few light sources, side by side and to one scale.

    Source: CIE S 017:2020 for luminous flux; the kit's own drawing.
    """
    eye = photometry.K_M * photometry.luminous_efficiency()
    before = [eye * source.spectrum for source in sources]
    most = 1.06 * max(float(curve.max()) for curve in before)
    called_so = [*(names or [called(source) for source in sources])]
    filaments = [source.kind is SourceKind.FILAMENT for source in sources]
    tags = ["F" if old else str(filaments[:i].count(False) + 1) for i, old in enumerate(filaments)]
    titles = [numbers.wrap(f"{tag}  {name}", 17) for tag, name in zip(tags, called_so, strict=True)]
    lines, pictures = max(map(len, titles)), []
    for source, curve, name, tag, title in zip(sources, before, called_so, tags, titles, strict=True):
        share = float(photometry.luminous_transmittance(lens.transmittance, source.spectrum))
        flux = source.luminous_flux
        rows = (
            PictureRow(say("page.live.light_in"), say("page.live.flux", flux=flux), curve, most, "plain"),
            PictureRow(say("page.live.lens"), say("page.live.share", share=share), lens.transmittance, 1.0, "line"),
            PictureRow(
                say("page.live.light_out"),
                say("page.live.flux_out", flux=share * flux),
                curve * lens.transmittance,
                most,
                "source",
            ),
        )
        values = {"name": name, "flux": flux, "colour": lens.colour, "out": share * flux}
        words = say("page.live.described", share=share, **values)
        pictures.append(_picture([""] * (lines - len(title)) + title, words, rows, tag))
    return _beside(pictures)


def swatch(xy: NDArray[np.float64]) -> str:
    """Give a patch of the screen colour nearest to a chromaticity.

    Source: IEC 61966-2-1:1999.
    """
    return (
        f'<span role="img" aria-label="{escape(str(say("page.live.patch")))}" '
        'style="display:inline-block;width:2.2em;height:1.1em;'
        "vertical-align:-0.2em;border:1px solid currentColor;border-radius:3px;"
        f'background:{css(xy)}"></span>'
    )


def _beside(pictures: Sequence[str]) -> str:
    boxes = "".join(f"<div>{p}</div>" for p in pictures)
    columns = "repeat(auto-fit,minmax(min(140px,100%),1fr))"
    most = 252 * len(pictures)
    return (
        f'<div class="lampkit-spectra" style="display:grid;grid-template-columns:{columns};gap:4px 12px;'
        f'max-width:{most}px;color:{NOTEBOOK_INK}">{boxes}</div>'
    )


def _picture(title: Sequence[str], words: Statement, rows: Sequence[PictureRow], tag: str) -> str:
    hatch = "" if tag == "F" else LOOKS[(int(tag) - 1) % 3][2]
    # A notebook holds many pictures and does not draw those out of sight: each needs a hatching of its own.
    hatching = f"lampkit-hatch-{tag}-{secrets.token_hex(6)}"
    top = 4.0 + LINE * len(title)
    height = top + len(rows) * (ROW + HEAD) + 36
    parts = [
        f'<svg role="img" aria-label="{escape(str(words))}" viewBox="0 0 {WIDE:g} {height:g}" width="100%" '
        f'style="display:block;max-width:240px" font-family="inherit" font-size="12" fill="currentColor">',
        f'<pattern id="{hatching}" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<path d="{HATCHES[hatch]}" stroke="currentColor" stroke-opacity="0.7" stroke-width="0.9" fill="none"/>'
        "</pattern>",
        _by_wavelength(f"{hatching}-light"),
        *(lettered(0, 13 + LINE * i, words, how=BOLD) for i, words in enumerate(title)),
    ]
    for row in rows:
        parts.append(_row(row, top, hatching))
        top += HEAD + ROW
    return "".join([*parts, *_wavelengths(top, f"{hatching}-light"), "</svg>"])


def _row(row: PictureRow, top: float, hatching: str) -> str:
    base = top + HEAD + ROW - 4
    high = ROW - 4
    scale = high / row.most
    tick = _tick(row.most)
    level = base - scale * tick
    outline = _path(row.curve, base, scale)
    closed = f"{outline}L{WIDE - RIGHT:g},{base:g}L{LEFT:g},{base:g}Z"
    drawn = {
        "plain": f'<path d="{closed}" fill="url(#{hatching}-light)" fill-opacity="0.4" stroke="none"/>'
        f'<path d="{outline}" fill="none" stroke="currentColor" stroke-opacity="0.75"/>',
        "line": f'<path d="{outline}" fill="none" stroke="currentColor" stroke-width="1.5" stroke-dasharray="5 2"/>',
        "source": f'<path d="{closed}" fill="url(#{hatching}-light)" stroke="none"/>'
        f'<path d="{closed}" fill="url(#{hatching})" stroke="none"/>'
        f'<path d="{outline}" fill="none" stroke="currentColor" stroke-width="1.4"/>',
    }[row.filled]
    heading, value = escape(str(row.heading)), escape(str(row.value))
    return (
        f'<text y="{top + 12:g}" fill-opacity="0.85">{heading}</text>'
        f'<text x="{WIDE - RIGHT:g}" y="{top + 12:g}" text-anchor="end" font-weight="bold">{value}</text>'
        f'<path d="M{LEFT:g},{level:.1f}H{WIDE - RIGHT:g}" stroke="currentColor" stroke-opacity="0.2"/>'
        f'<text x="{LEFT - 4:g}" y="{level + 4:.1f}" text-anchor="end">{tick:g}</text>'
        f'<path d="M{LEFT:g},{base:g}H{WIDE - RIGHT:g}" stroke="currentColor" stroke-opacity="0.6"/>{drawn}'
    )


def _by_wavelength(name: str) -> str:
    """Give the colours along the wavelength axis as a filling."""
    return (
        f'<linearGradient id="{name}" gradientUnits="userSpaceOnUse" x1="{LEFT:g}" x2="{WIDE - RIGHT:g}">'
        f"{_stops()}</linearGradient>"
    )


@cache
def _stops() -> str:
    low, high = VISIBLE
    nm = np.arange(low, high + 1.0, 12.0)
    locus = colorimetry.spectrum_locus()[np.round(nm - grid.WAVELENGTHS[0]).astype(int)]
    return "".join(
        f'<stop offset="{(at - low) / (high - low):.3f}" stop-color="{css(xy)}"/>'
        for at, xy in zip(nm.tolist(), locus, strict=True)
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


def _wavelengths(top: float, light: str) -> list[str]:
    """Draw the axis of all three rows: its colours, a few of their names, and wavelengths."""
    parts = [f'<rect x="{LEFT:g}" y="{top:g}" width="{WIDE - LEFT - RIGHT:g}" height="5" fill="url(#{light})"/>']
    for wavelength, side in NAMED.items():
        x = float(_across(wavelength)) + (4.0 if side == "end" else -4.0)
        parts.append(lettered(x, top + 17, COLOUR_NAMES[wavelength], side))
    parts.append(lettered(LEFT, top + 32, "nm"))
    return parts + [lettered(float(_across(nm)), top + 32, f"{nm:g}", "middle") for nm in (500.0, 600.0, 700.0)]


def time_course(time: NDArray[np.float64], light: NDArray[np.float64], name: str) -> str:
    """Draw how the light of a filament comes up after the switch closes, beside an LED that is there at once.

    Source: the kit's own drawing.
    """
    wide, tall, left, right, bottom = 350.0, 190.0, 34.0, 18.0, 150.0
    span = float(time[-1])
    across = left + (wide - left - right) * time / span
    up = bottom - 115.0 * np.minimum(light, 1.2)
    curve = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in zip(across.tolist(), up.tolist(), strict=True))
    reached = bool((light >= 0.9).any())
    ninety = float(time[int(np.argmax(light >= 0.9))]) if reached else span
    at = left + (wide - left - right) * ninety / span
    # Below the curve where it rises early, above it where it rises late.
    beside, line = (at + 5, bottom - 24) if at < 0.55 * wide else (left + 6, bottom - 98)
    colour = f"color-mix(in srgb, {LOOKS[0][0]} 78%, currentColor)"
    parts = [
        lettered(left + (wide - left - right) * t / span, bottom + 15, f"{1000 * t:.0f}", "middle")
        for t in np.linspace(0.0, span, 6).tolist()
    ]
    for v in (0.0, 0.5, 1.0):
        y = bottom - 115 * v
        parts.append(f'<path d="M{left:g},{y:g}H{wide - right:g}" stroke="currentColor" stroke-opacity="0.2"/>')
        parts.append(lettered(left - 5, y + 4, f"{v:g}", "end"))
    parts += [
        f'<path d="M{left:g},{bottom:g}V{bottom - 115:g}H{wide - right:g}" fill="none" stroke="{colour}" '
        'stroke-width="2" stroke-dasharray="6 3"/>',
        f'<path d="{curve}" fill="none" stroke="currentColor" stroke-width="2"/>',
        f'<path d="M{at:.1f},{bottom:g}V{bottom - 103.5:.1f}" stroke="currentColor" stroke-dasharray="2 3"/>',
        lettered(beside, line, name),
        lettered(beside, line + 16, say("page.live.ninety", time=ninety, reached=reached)),
        lettered(left + 6, bottom - 121, say("page.live.led")),
        lettered(wide - right, tall - 8, say("page.live.time"), "end"),
        lettered(2, 12, say("page.live.relative")),
    ]
    words = say("page.live.rise", name=name, ninety=say("page.live.ninety", time=ninety, reached=reached))
    drawn = drawing_svg((wide, tall), words, parts, letters=13.8, most=400)
    return f'<div style="color:{NOTEBOOK_INK}">{drawn}</div>'
