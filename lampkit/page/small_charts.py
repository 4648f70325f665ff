"""Intervals, a course in time and a plain table, as HTML and SVG in the colours of the page that holds them."""

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.page.style import LOOKS

if TYPE_CHECKING:
    import pandas as pd

INK = "var(--jp-content-font-color1, currentColor)"
"""Colour of the letters of the page around the picture."""


def plain_table(table: "pd.DataFrame") -> str:
    """Write a table as HTML that looks the same on every page: words to the left, numbers to the right."""
    cell = "padding:2px 10px 2px 0;border-bottom:1px solid rgba(128,128,128,.35)"
    sides = ["right" if kind in "fiu" else "left" for kind in (dtype.kind for dtype in table.dtypes)]
    head = "".join(
        f'<th scope="col" style="{cell};text-align:{side}">{escape(str(name))}</th>'
        for name, side in zip(table.columns, sides, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(
            f'<td style="{cell};text-align:{side}">{escape(_word(value))}</td>'
            for value, side in zip(row, sides, strict=True)
        )
        + "</tr>"
        for row in table.itertuples(index=False)
    )
    return f'<table style="border-collapse:collapse;color:{INK}"><tr>{head}</tr>{body}</table>'


def _word(value: object) -> str:
    if isinstance(value, float | np.floating):
        return "" if np.isnan(value) else f"{value:.2f}"
    return str(value)


class Bar(NamedTuple):
    """One interval of a picture."""

    label: str
    limits: NDArray[np.float64]
    mark: float | None = None


def intervals(bars: Sequence[Bar], axis: str, note: str) -> str:
    """Draw intervals under each other on a logarithmic scale with a line at one.

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

    Source: the kit's own drawing.
    """
    wide, tall, left, right, bottom = 460.0, 190.0, 40.0, 18.0, 150.0
    span = float(time[-1])
    across = left + (wide - left - right) * time / span
    up = bottom - 115.0 * np.minimum(light, 1.2)
    curve = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in zip(across.tolist(), up.tolist(), strict=True))
    ninety = float(time[int(np.argmax(light >= 0.9))])
    at = left + (wide - left - right) * ninety / span
    colour = f"color-mix(in srgb, {LOOKS[0][0]} 78%, currentColor)"
    words = f"{name}: 90 % of its light after {1000 * ninety:.0f} ms; an LED gives all of it in less than 5 ms."
    ticks = "".join(
        f'<text x="{left + (wide - left - right) * t / span:.1f}" y="{bottom + 15:g}" text-anchor="middle">'
        f"{1000 * t:.0f}</text>"
        for t in np.linspace(0.0, span, 6)
    )
    levels = "".join(
        f'<path d="M{left:g},{bottom - 115 * v:g}H{wide - right:g}" stroke="currentColor" stroke-opacity="0.2"/>'
        f'<text x="{left - 5:g}" y="{bottom - 115 * v + 4:g}" text-anchor="end">{v:g}</text>'
        for v in (0.0, 0.5, 0.9, 1.0)
        if v != 0.9
    )
    return (
        f'<div style="color:{INK}"><svg role="img" aria-label="{escape(words)}" viewBox="0 0 {wide:g} {tall:g}" '
        'width="100%" style="display:block;max-width:560px" font-family="inherit" font-size="11.5" '
        f'fill="currentColor">{levels}{ticks}'
        f'<path d="M{left:g},{bottom:g}V{bottom - 115:g}H{wide - right:g}" fill="none" stroke="{colour}" '
        'stroke-width="2" stroke-dasharray="6 3"/>'
        f'<path d="{curve}" fill="none" stroke="currentColor" stroke-width="2"/>'
        f'<path d="M{at:.1f},{bottom:g}V{bottom - 103.5:.1f}" stroke="currentColor" stroke-dasharray="2 3"/>'
        f'<text x="{at + 5:.1f}" y="{bottom - 8:g}">90 % after {1000 * ninety:.0f} ms</text>'
        f'<text x="{left + 6:g}" y="{bottom - 121:g}">dashed: LED; full line: {escape(name)}</text>'
        f'<text x="{wide - right:g}" y="{tall - 8:g}" text-anchor="end">time after switching on [ms]</text>'
        f'<text x="2" y="12">light [1]</text></svg></div>'
    )
