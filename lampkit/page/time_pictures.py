"""Time drawn as it is seen: a flash as lit faces and strips of light, and the way gained by a quicker stop lamp."""

from collections.abc import Sequence
from hashlib import sha256
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError
from lampkit.light import colorimetry
from lampkit.page.lamp_faces import NIGHT, css_of
from lampkit.page.style import BOLD, Drawing, called, drawing_svg, lettered
from lampkit.plan import timing
from lampkit.plan.timing import SPEEDS, LampTiming
from lampkit.sources import heat, light_source
from lampkit.sources.light_source import LightSource
from lampkit.statements import say
from lampkit.vehicle.vehicle import Lamp

WIDE, LEFT, STRIP, STEP, SIZE = 342.0, 48.0, 28.0, 54.0, 13.5
"""Width of a picture, where its strips begin, their height, how far they are apart, and the height of its letters, in
units of the picture: in a notebook on a phone, which leaves 305 px, they are 12 px high [1].
Source: own measurement."""

MOST = 400.0
"""Width up to which a picture grows [px]. Source: own judgement."""

FLASHES, COLUMNS = 2, 100
"""Flashes shown on paper, and columns of light in a strip: finer than the eye tells at arm's length [1].
Source: own judgement."""

MOVING = 5.0
"""For how long a flash moves by itself [s]. Source: Web Content Accessibility Guidelines 2.2, 2.2.2 (from memory)."""

BLINKS = 3.0
"""Flashes a second at most that may be shown [1].
Source: Web Content Accessibility Guidelines 2.2, 2.3.1 (from memory)."""

CAR, LANE = 4.2, 3.0
"""Length of the car that follows, and width of the lane [m]. Source: an assumption."""


class Strip(NamedTuple):
    """One light source in time: its tag and name, its chromaticity behind the lens, its light over that at rest."""

    tag: str
    name: str
    chromaticity: NDArray[np.float64]
    light: NDArray[np.float64]


def flash_picture(
    lamp: Lamp, led: LightSource | None = None, *, rate: float = 90.0, duty: float = 0.5, moving: bool = True
) -> Drawing:
    """Draw a flash: the light of a lamp's filament in time beside that of an LED, in the colours behind the lens.

    Each is drawn against its own steady light, so that the pictures differ in time alone. The faces flash at the stated
    rate for five seconds, and again while the pointer is on them; not where the reader asks for less motion.

    Parameters
    ----------
    lamp : Lamp
        The lamp.
    led : LightSource, optional
        The LED beside it; without it the first that is on offer for the lamp.
    rate : float [1/min]
        Flashes a minute.
    duty : float [1]
        Share of the time for which a flash has current.
    moving : bool
        Whether the faces flash; on paper they do not.

    Returns
    -------
    Drawing
        The picture; a notebook shows it by itself.

    Raises
    ------
    InputError
        The lamp has no rated filament or no LED is known, or the rate or the duty cannot be shown.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> turn = next(lamp for lamp in van.lamps if lamp.function == "rear turn")
    >>> "prefers-reduced-motion" in lk.page.flash_picture(turn).html
    True

    Source: the hot-wire model of `sources.hot_wire`; the kit's own drawing.
    """
    if not 0 < rate <= 60.0 * BLINKS:
        raise InputError(
            f"{rate:g} flashes a minute cannot be shown", key="rate", expected=f"above 0 to {60 * BLINKS:g}"
        )
    if not 0 < duty < 1:
        raise InputError(f"{duty:g} is no share of a flash", key="duty", expected="between 0 and 1")
    if led is None and not lamp.candidates:
        raise InputError("no LED is known for it", key=lamp.name, remedy="name one: led=...")
    beside = lamp.candidates[0].source if led is None else led
    period = 60.0 / rate
    phase, light = timing.flash_of(lamp, rate=rate, duty=duty)
    time = period * (np.arange(COLUMNS) + 0.5) / COLUMNS
    warm = np.interp(time, phase, light)
    strips = (
        Strip("F", called(lamp.filament), _behind(lamp, lamp.filament), warm),
        Strip("1", beside.name, _behind(lamp, beside), (time < duty * period).astype(float)),
    )
    peak = float(light.max())
    words = say("page.flash.described", lamp=lamp.name, rate=rate, peak=peak, names=[s.name for s in strips])
    tall = 34 + STEP * len(strips) + 38
    parts = [_current(period, duty)]
    name = f"face-{_key(strips, period)}" if moving else ""
    for place, strip in enumerate(strips):
        parts.append(_strip(strip, 34 + STEP * place, name))
    parts.append(_seconds(period, 34 + STEP * len(strips)))
    parts.append(_motion(strips, period, name) if moving else "")
    return Drawing(
        drawing_svg((WIDE, tall), words, parts, letters=SIZE, most=MOST), words, say("page.flash.note", moving=moving)
    )


def _behind(lamp: Lamp, source: LightSource) -> NDArray[np.float64]:
    warm = light_source.warm_spectrum(source, duty=heat.FLASHING)
    return colorimetry.chromaticity(warm * lamp.lens.transmittance)


def _across(share: float) -> float:
    return LEFT + (WIDE - LEFT - 12) * share


def _shades(strip: Strip) -> list[str]:
    """Colours of a strip: the screen gives light as the lamp does, against its own steady light."""
    full = colorimetry.screen_light(strip.chromaticity)
    ground = np.array(NIGHT)
    return [css_of(ground + full * min(float(one), 1.0)) for one in strip.light]


def _strip(strip: Strip, top: float, name: str) -> str:
    """Draw one light source: its face, then its light in time as a strip with the curve of its light on it."""
    shades, base = _shades(strip), top + 16 + STRIP
    wide = (WIDE - LEFT - 12) / (FLASHES * COLUMNS)
    changes = [place for place in range(1, COLUMNS) if shades[place] != shades[place - 1]]
    columns = []
    for flash in range(FLASHES):
        for start, end in pairwise((0, *changes, COLUMNS)):
            x, along = LEFT + wide * (flash * COLUMNS + start), wide * (end - start) + 0.3
            columns.append(f'<path stroke="{shades[start]}" d="M{x:.2f},{base - STRIP / 2:g}h{along:.2f}"/>')
    points = []
    for flash in range(FLASHES):
        for place, value in enumerate(strip.light[::2]):
            x = _across((flash + (2 * place + 0.5) / COLUMNS) / FLASHES)
            points.append(f"{x:.1f},{base - 2 - (STRIP - 4) * min(float(value), 1.0):.1f}")
    line = " ".join(points)
    moves = f' class="{name}-{strip.tag}"' if name else ""
    return (
        f"{lettered(LEFT, top + 11, f'{strip.tag}  {strip.name}', how=BOLD)}"
        f'<rect y="{top + 3:g}" width="42" height="42" rx="5" fill="{css_of(np.array(NIGHT))}"/>'
        f'<circle cx="21" cy="{top + 24:g}" r="17" fill="#23282e" stroke="#9aa3ab"/>'
        f'<circle{moves} cx="21" cy="{top + 24:g}" r="13.5" fill="{shades[COLUMNS // 3]}"/>'
        f'<g shape-rendering="crispEdges" stroke-width="{STRIP:g}">{"".join(columns)}</g>'
        f'<polyline points="{line}" fill="none" stroke="#000" stroke-width="3.2"/>'
        f'<polyline points="{line}" fill="none" stroke="#fff" stroke-width="1.4"/>'
    )


def _current(period: float, duty: float) -> str:
    """Draw when the flasher gives current."""
    bars = "".join(
        f'<path d="M{_across(flash / FLASHES):.1f},24H{_across((flash + duty) / FLASHES):.1f}" stroke="currentColor" '
        'stroke-width="3"/>'
        for flash in range(FLASHES)
    )
    return lettered(LEFT, 15, say("page.flash.current", time=duty * period)) + bars


def _seconds(period: float, top: float) -> str:
    """Mark tenths of a second, as many as have room."""
    most = 10 * FLASHES * period
    step = next(step for step in (2, 5, 10, 20, 50, 100, 10**6) if most / step <= 9)
    marks = []
    for tenth in range(0, int(most) + 1, step):
        x = _across(tenth / most)
        marks.append(f'<path d="M{x:.1f},{top:g}v5" stroke="currentColor"/>')
        marks.append(lettered(x, top + 17, f"{0.1 * tenth:.1f}", "middle"))
    return "".join(marks) + lettered(WIDE - 2, top + 34, say("page.flash.time"), "end")


def _key(strips: Sequence[Strip], period: float) -> str:
    """Name a motion by what moves: a page may hold several."""
    moved = [(strip.tag, strip.chromaticity.tolist(), strip.light.tolist()) for strip in strips]
    return sha256(repr((period, moved)).encode()).hexdigest()[:8]


def _motion(strips: Sequence[Strip], period: float, name: str) -> str:
    """Let the faces flash for a few seconds, and again under the pointer; not where less motion is asked for."""
    rules = []
    for strip in strips:
        shades = _shades(strip)
        stops = [
            f"{100 * place / COLUMNS:.1f}%{{fill:{shades[place]}}}"
            for place in range(COLUMNS)
            if place in (0, COLUMNS - 1) or shades[place] != shades[place - 1] or shades[place] != shades[place + 1]
        ]
        rules.append(
            f"@keyframes {name}-{strip.tag}{{{''.join(stops)}100%{{fill:{shades[0]}}}}}"
            f"@media screen and (prefers-reduced-motion:no-preference){{"
            f".{name}-{strip.tag}{{animation:{name}-{strip.tag} {period:.3f}s linear {int(MOVING / period)}}}"
            f"svg:hover>.{name}-{strip.tag}{{animation-iteration-count:infinite}}}}"
        )
    return f"<style>{''.join(rules)}</style>"


def road_picture(found: LampTiming) -> Drawing:
    """Draw the way by which a driver behind stops sooner for an LED than for a filament, to scale, at 50 km/h.

    Parameters
    ----------
    found : LampTiming
        The timing of a stop lamp.

    Returns
    -------
    Drawing
        A road seen from above; a notebook shows it by itself.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> print(lk.page.road_picture(lk.plan.assess_timing(van.lamps[0])).words)
    At 50 km/h the driver behind brakes 2.3 m to 4.1 m sooner for the LED, as 13.9 m pass in a second.

    Source: as for `visibility.reaction_time_gained`; the kit's own drawing.
    """
    low, middle, high = (float(way) for way in found.distance[0])
    speed = SPEEDS[0]
    words = say("page.road.described", speed=speed, per_second=speed / 3.6, low=low, high=high)
    stands = CAR + high + 0.8  # where the van stands, in metres from the left
    unit = WIDE / (stands + 4.0)
    top, below = 44.0, 44.0 + LANE * unit
    centre = 0.5 * (top + below)
    led, filament = CAR * unit, (CAR + middle) * unit

    def box(start: float, end: float, half: float, look: str) -> str:
        """Draw what lies along the middle of the lane, from metre to metre and as wide as said."""
        return (
            f'<rect x="{start * unit:.1f}" y="{centre - half * unit:.1f}" width="{(end - start) * unit:.1f}" '
            f'height="{2 * half * unit:.1f}" {look}/>'
        )

    parts = [
        lettered(2, 14, say("page.road.title", speed=speed, low=low, high=high), how=BOLD),
        lettered(led, 36, say("page.road.led"), "end"),
        lettered(filament, 36, say("page.road.filament")),
        f'<rect y="{top:g}" width="{WIDE:g}" height="{LANE * unit:.1f}" fill="#59616b"/>',
        f'<path d="M0,{top + 4:g}H{WIDE:g}M0,{below - 4:.1f}H{WIDE:g}" stroke="#fff" stroke-width="2.5" '
        f'stroke-dasharray="{unit:.2f} {unit:.2f}"/>',
        box(CAR + low, CAR + high, 0.95, 'fill="#ffd27f" fill-opacity="0.6"'),
        box(middle, CAR + middle, 0.85, 'rx="8" fill="none" stroke="#fff" stroke-width="1.6" stroke-dasharray="5 3"'),
        box(0, CAR, 0.85, 'rx="8" fill="#dfe4e8" stroke="#1b1f24" stroke-width="1.4"'),
        box(CAR - 1.5, CAR - 0.9, 0.7, 'rx="3" fill="#59616b"'),
        box(stands, stands + 6.0, 0.95, 'rx="4" fill="#aeb9a5" stroke="#1b1f24" stroke-width="1.4"'),
        f'<path d="M{led:.1f},{top - 4:g}V{below:.1f}M{filament:.1f},{top - 4:g}V{below:.1f}" stroke="#fff"/>',
        # what is gained, between both fronts
        f'<path d="M{led:.1f},{centre:.1f}H{filament:.1f}" stroke="#fff" stroke-width="2.4"/>'
        f'<path d="M{led:.1f},{centre:.1f}l8,-5v10zM{filament:.1f},{centre:.1f}l-8,-5v10z" fill="#fff"/>',
        lettered(
            0.5 * (led + filament), centre - 9, say("page.road.gain", middle=middle), "middle",
            BOLD + ' fill="#fff" stroke="#59616b" stroke-width="4" stroke-linejoin="round" paint-order="stroke"',
        ),
    ]  # fmt: skip
    for side in (centre - 0.6 * unit, centre + 0.6 * unit):
        parts.append(
            f'<rect x="{stands * unit - 3:.1f}" y="{side - 7:.1f}" width="7" height="14" rx="2" fill="#e00000" '
            'stroke="#fff" stroke-width="0.8"/>'
        )
    last = int(high + 0.8)
    for metre in range(last + 1):
        at = (CAR + metre) * unit
        parts.append(f'<path d="M{at:.1f},{below:.1f}v6" stroke="currentColor"/>')
        parts.append(lettered(at, below + 18, say("page.road.metre", metre=metre, last=metre == last), "middle"))
    html = drawing_svg((WIDE, below + 24), words, parts, letters=SIZE, most=MOST)
    return Drawing(html, words, say("page.road.note", length=CAR))
