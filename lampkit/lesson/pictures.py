"""Pictures of a lesson as plain SVG and tables, in the colours of the page that holds them.

Letters are 28 units high in a picture 800 units wide: as a slide it is 800 px wide, and on a phone they are 12 px high.
Letters, places and numbers carry the meaning; colour only helps. No picture has a name inside it that another one could
have.
"""

from collections.abc import Callable, Mapping, Sequence
from html import escape
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, numbers
from lampkit.lesson import quantities
from lampkit.light import colorimetry, photometry
from lampkit.page.style import BOLD, lettered
from lampkit.statements import Statement, say

WIDE, LETTERS = 800.0, 28.1
"""Width of a picture and height of its letters [1]."""

LAMPS = ("filament", "white 6000", "red")
"""The three lamps of the lesson, in the words of `quantities`."""

BAND_COLOURS = ("#2f6fdb", "#3fae49", "#e8c400", "#f08a00", "#d62a1e")
"""Blue, green, yellow, orange, red, for the coins; their place tells the band without it. Source: own judgement."""


def named_lamp(words: str) -> Statement:
    """Name a lamp of a picture, its letter first."""
    kind, _, number = words.rpartition(" ")
    if kind == "white":
        return say("lesson.white_lamp", cool=float(number) >= 5000, kelvin=float(number))
    return say("lesson.filament_lamp") if words == quantities.FILAMENT else say("lesson.red_lamp")


def letter(words: str) -> str:
    """Give the letter that stands for a lamp in every picture."""
    return {"filament": "F", "white 6000": "1", "red": "2", "white 2700": "3", "white 4000": "4"}.get(words, "")


def _picture(height: float, description: object, parts: Sequence[str]) -> str:
    return (
        f'<svg class="lampkit-picture" role="img" aria-label="{escape(str(description))}" '
        f'viewBox="0 0 {WIDE:g} {height:g}" width="100%" font-family="inherit" font-size="{LETTERS:g}" '
        f'fill="currentColor">{"".join(parts)}</svg>'
    )


def _bar(x: float, y: float, wide: float, high: float, how: str = 'fill-opacity="0.55" stroke="currentColor"') -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" {how}/>'


RIM = 'fill="none" stroke="currentColor" stroke-width="1.5"'
"""How a bar looks of which only the rim is drawn."""


RING = '<circle cx="{:.1f}" cy="{:.1f}" r="10" fill="none" stroke="currentColor" stroke-width="3"/>'
"""An open mark, to tell from a full one without colour."""


def _line(path: str, how: str = 'stroke-width="1.5"') -> str:
    return f'<path d="{path}" fill="none" stroke="currentColor" {how}/>'


def _screen(nanometres: NDArray[np.float64]) -> list[str]:
    """Give the colour of each wavelength on a screen, fading out where the eye does."""
    at = np.rint(nanometres).astype(int) - int(grid.WAVELENGTHS[0])
    inside = np.clip(at, 0, grid.WAVELENGTHS.size - 1)
    bright = np.clip(photometry.luminous_efficiency()[inside] / 0.02, 0.0, 1.0) ** 0.5
    shown = colorimetry.srgb(colorimetry.spectrum_locus()[inside]) * bright[:, np.newaxis]
    return ["#" + "".join(f"{round(255 * float(v)):02x}" for v in row) for row in shown]


def _filled(
    nanometres: NDArray[np.float64],
    curve: NDArray[np.float64],
    across: Callable[[float], float],
    base: float,
    scale: float,
) -> str:
    """Fill a curve with its own colours, in strips, and draw its outline in ink."""
    strips = []
    for i, colour in enumerate(_screen(0.5 * (nanometres[1:] + nanometres[:-1]))):
        x, right = across(float(nanometres[i])), across(float(nanometres[i + 1]))
        y, after = base - scale * curve[i], base - scale * curve[i + 1]
        if max(base - y, base - after) > 0.3:
            strips.append(
                f'<path d="M{x:.1f},{base:.1f}V{y:.1f}L{right + 0.4:.1f},{after:.1f}V{base:.1f}Z" fill="{colour}"/>'
            )
    points = "L".join(f"{across(float(n)):.1f},{base - scale * c:.1f}" for n, c in zip(nanometres, curve, strict=True))
    return "".join(strips) + _line(f"M{points}", 'stroke-width="2"')


def _wavelengths(across: Callable[[float], float], base: float, ticks: Sequence[float]) -> list[str]:
    parts = [_line(f"M{across(ticks[0]):.1f},{base:g}H{WIDE - 10:g}")]
    for tick in ticks:
        parts += [_line(f"M{across(tick):.1f},{base:g}v7"), lettered(across(tick), base + 31, f"{tick:g}", "middle")]
    return parts


# ---------------------------------------------------------------------------------------------------- guess and see


def faces() -> str:
    """Draw the three lamps bare, and the lens beside them."""
    glow = {"filament": "#ffd9a0", "white 6000": "#f2f6ff", "red": "#ff3b2f"}
    parts = []
    for i, name in enumerate(LAMPS):
        x = 105.0 + 205.0 * i
        rays = "".join(
            f"M{x + 84 * np.cos(a):.1f},{110 + 84 * np.sin(a):.1f}L{x + 98 * np.cos(a):.1f},{110 + 98 * np.sin(a):.1f}"
            for a in np.linspace(0, 2 * np.pi, 16, endpoint=False)
        )
        parts.append(f'<circle cx="{x:g}" cy="110" r="74" fill="{glow[name]}" stroke="currentColor" stroke-width="3"/>')
        parts.append(_line(rays, 'stroke-width="3"'))
        parts.append(
            f'<text x="{x:g}" y="126" text-anchor="middle" font-size="46" font-weight="bold" fill="#111">'
            f"{letter(name)}</text>"
        )
        parts.append(lettered(x, 242, say("lesson.short_name", lamp=letter(name)), "middle"))
        parts.append(lettered(x, 274, say("lesson.lumens", lumens=quantities.OLD_LUMENS), "middle", how=BOLD))
    slats = "".join(f"M{665 + 17 * i:g},36v148" for i in range(1, 7))
    how = 'rx="26" fill="#d62a1e" stroke="currentColor" stroke-width="3"'
    parts.append(_bar(655, 30, 130, 160, how))
    parts.append(f'<path d="{slats}" stroke="#fff" stroke-opacity="0.45" stroke-width="3"/>')
    parts.append(lettered(720, 242, say("lesson.the_lens"), "middle"))
    return _picture(290, say("lesson.faces_described", lumens=quantities.OLD_LUMENS), parts)


def spectra() -> str:
    """Draw what each lamp radiates for 460 lm, filled with its own colours, on one scale; the red LED at a tenth."""
    nanometres = np.arange(400.0, 761.0, 4.0)
    at = np.rint(nanometres).astype(int) - int(grid.WAVELENGTHS[0])
    shares = {name: 0.1 if name == "red" else 1.0 for name in LAMPS}
    curves = {name: 1000.0 * shares[name] * quantities.lamp(name).spectrum[at] for name in LAMPS}
    most = 1.05 * max(float(curve.max()) for curve in curves.values())
    high, left = 108.0, 64.0

    def across(nm: float) -> float:
        return left + (WIDE - 10 - left) * (nm - 400.0) / 360.0

    parts, base = [], 0.0
    for name in LAMPS:
        base += 34 + high
        scale = high / most
        words = say("lesson.at_a_tenth") if name == "red" else ""
        parts.append(lettered(left, base - high - 8, f"{named_lamp(name)}{words}", how=BOLD))
        parts.append(_filled(nanometres, curves[name], across, base, scale))
        parts.append(_line(f"M{left:g},{base - 10 * scale:.1f}H{WIDE - 10:g}", 'stroke-opacity="0.35"'))
        parts.append(lettered(left - 8, base - 10 * scale + 8, 10, "end"))
        parts.append(_line(f"M{left:g},{base:g}H{WIDE - 10:g}"))
    parts += _wavelengths(across, base, range(400, 761, 50))
    parts.append(lettered(left, base + 60, say("lesson.spectra_axis")))
    return _picture(base + 70, say("lesson.spectra_described"), parts)


# ---------------------------------------------------------------------------------------------------------- the eye


def exchange() -> str:
    """Draw the lumens that the eye counts for a watt of each wavelength, with four wavelengths told."""
    nanometres = np.arange(400.0, 721.0, 4.0)
    curve = np.array([quantities.lumens_per_watt(nm) for nm in nanometres])
    left, base, scale = 64.0, 372.0, 340.0 / 700.0

    def across(nm: float) -> float:
        return left + (WIDE - 30 - left) * (nm - 400.0) / 560.0

    parts = []
    for level in range(100, 701, 100):
        parts.append(_line(f"M{left:g},{base - scale * level:.1f}H{WIDE - 10:g}", 'stroke-opacity="0.25"'))
        if level % 200 == 0:
            parts.append(lettered(left - 8, base - scale * level + 8, level, "end"))
    parts.append(_filled(nanometres, curve, across, base, scale))
    # Lines over the filling, so that any wavelength can be read off.
    upright = "".join(f"M{across(nm):.1f},{base:g}V{base - 340:g}" for nm in range(450, 951, 50))
    parts.append(_line(upright, 'stroke-opacity="0.25"'))
    for nm, x, side, above in (
        (450.0, left + 4, "start", 150.0),
        (555.0, across(555.0) + 12, "start", 6.0),
        (630.0, across(630.0) + 14, "start", 4.0),
        (940.0, WIDE - 10, "end", 16.0),
    ):
        value = quantities.lumens_per_watt(nm)
        y = base - scale * value
        parts.append(f'<circle cx="{across(nm):.1f}" cy="{y:.1f}" r="8" stroke="var(--paper,#fff)" stroke-width="2"/>')
        if nm == 450.0:  # beside the curve there is room for a short line only
            parts.append(lettered(x, y - above, say("lesson.nanometres", nanometres=nm), side, how=BOLD))
            parts.append(lettered(x, y - above + 32, say("lesson.lumens", lumens=value), side, how=BOLD))
            parts.append(_line(f"M{across(nm):.1f},{y - 12:.1f}v-98", 'stroke-width="2"'))
        else:
            parts.append(lettered(x, y - above, say("lesson.rate", nanometres=nm, lumens=value), side, how=BOLD))
    parts += _wavelengths(across, base, range(400, 951, 100))
    parts.append(lettered(left, base + 60, say("lesson.exchange_axis")))
    return _picture(
        base + 70,
        say("lesson.exchange_described", rates=[quantities.lumens_per_watt(w) for w in (450, 555, 630)]),
        parts,
    )


def _piles(
    left: float, base: float, whole: NDArray[np.int64], kept: NDArray[np.int64] | None = None, rows: int = 12
) -> list[str]:
    """Pile coins up, five beside each other, by band; of those that a lens takes only the rim is left."""
    parts = []
    for i, (count, colour) in enumerate(zip(whole.tolist(), BAND_COLOURS, strict=True)):
        x = left + 76.0 * i
        solid = count if kept is None else int(kept[i])
        for coin in range(count):
            cx, cy = x + 10 + 14 * (coin % 5), base - 9 - 14 * (coin // 5)
            look = f'fill="{colour}"' if coin < solid else 'fill="none" stroke-opacity="0.55"'
            parts.append(f'<circle cx="{cx:.0f}" cy="{cy:.0f}" r="6" {look} stroke="currentColor" stroke-width="1"/>')
        told = f"{count}" if kept is None else f"{solid}/{count}"
        top = base - 14 * (-(-count // 5)) - 8
        parts.append(lettered(x + 38, top, told, "middle", BOLD if kept is None else ""))
        if i:
            parts.append(_line(f"M{x:.0f},{base:g}v7"))
            last = i == len(quantities.EDGES)
            parts.append(lettered(x - 31, base + 31, f"{quantities.EDGES[i - 1]:.0f}{' nm' if last else ''}"))
    parts.append(_line(f"M{left:g},{base:g}h376"))
    return parts


def coins() -> str:
    """Draw how a hundred coins of watts of cool white turn into a hundred coins of lumens."""
    watts = quantities.coins(quantities.watts_of("white 6000"))
    lumens = quantities.coins(quantities.lumens_of("white 6000"))
    base = 262.0
    parts = [lettered(10, 28, named_lamp("white 6000"), how=BOLD), *_piles(6, base, watts), *_piles(418, base, lumens)]
    parts.append(lettered(194, base + 64, say("lesson.coins_of_watts"), "middle"))
    parts.append(lettered(597, base + 64, say("lesson.coins_of_lumens"), "middle"))
    return _picture(base + 76, say("lesson.coins_described", watts=watts.tolist(), lumens=lumens.tolist()), parts)


# --------------------------------------------------------------------------------------------------------- the lens


def band_table() -> str:
    """Write the table to work with a pencil: what the lens passes, the lumens of each lamp, and empty products."""
    lamps = ("filament", "white 6000", "white 2700")
    passed = np.rint(100 * quantities.passed("red")).astype(int)
    shares = {name: quantities.coins(quantities.lumens_of(name)) for name in lamps}
    limits = [*quantities.EDGES]
    names = [
        say("lesson.band_below", nanometres=limits[0]),
        *(say("lesson.band_between", low=a, high=b) for a, b in pairwise(limits)),
        say("lesson.band_above", nanometres=limits[-1]),
    ]
    head = "".join(f'<th scope="colgroup" colspan="2">{escape(str(named_lamp(name)))}</th>' for name in lamps)
    under = "".join(
        f'<th scope="col">{escape(str(say("lesson.lumens_of_100")))}</th>'
        f'<th scope="col">{escape(str(say("lesson.product")))}</th>'
        for _ in lamps
    )
    rows = []
    for i, name in enumerate(names):
        cells = "".join(
            # What the white LED has below 500 nm is a question of its own, and the lens lets nothing of it through.
            f'<td>{"" if i == 0 and lamp.startswith("white") else shares[lamp][i]}</td><td class="blank"></td>'
            for lamp in lamps
        )
        rows.append(f'<tr><th scope="row">{escape(str(name))}</th><td>{passed[i]} %</td>{cells}</tr>')
    total = f"<td></td>{'<td></td><td class=blank></td>' * len(lamps)}"
    rows.append(f'<tr><th scope="row">{escape(str(say("lesson.together")))}</th>{total}</tr>')
    return (
        f'<table class="lampkit-bands"><thead><tr><th scope="col" rowspan="2">{escape(str(say("lesson.band")))}</th>'
        f'<th scope="col" rowspan="2">{escape(str(say("lesson.lens_passes")))}</th>{head}</tr><tr>{under}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def fall() -> str:
    """Draw what the lens leaves of a hundred coins of lumens, of the filament and of cool white."""
    base, parts, told = 262.0, [], []
    for left, name in ((6.0, "filament"), (418.0, "white 6000")):
        whole = quantities.coins(quantities.lumens_of(name))
        kept = quantities.coins_left(whole, quantities.passed("red"), round(100 * quantities.passes("red", name)))
        parts += [lettered(max(2, left - 16), 28, named_lamp(name), how=BOLD), *_piles(left, base, whole, kept)]
        share = 100 * quantities.passes("red", name)
        told.append(share)
        parts.append(lettered(left + 188, base + 64, say("lesson.left_over", coins=share), "middle", how=BOLD))
    return _picture(base + 76, say("lesson.fall_described", shares=told), parts)


def faces_out(guess: str = "") -> str:
    """Draw the lamps behind the lens, each face as bright as it is beside the brightest, and the guess beside them."""
    lamps = ("filament", "white 6000", "white 2700", "red")
    out = {name: quantities.lumens_out("red", name) for name in lamps}
    most = max(out.values())
    marked = {"the filament": "filament", "the cool white LED": "white 6000", "the red LED": "red"}.get(guess, "")
    parts, step = [_bar(4, 4, 128, 440, 'rx="10" fill="#000"')], 110.0
    scale = 600.0 / quantities.OLD_LUMENS
    for i, name in enumerate(lamps):
        y = 58 + step * i
        # Linear light on the screen, so that a face with half the lumens gives half the light.
        red = round(255 * (out[name] / most) ** (1 / 2.2))
        parts.append(f'<circle cx="68" cy="{y:g}" r="42" fill="rgb({red},0,0)"/>')
        parts.append(
            f'<text x="68" y="{y + 9:g}" text-anchor="middle" font-weight="bold" fill="#fff">{letter(name)}</text>'
        )
        words = say(
            "lesson.out_of", lamp=named_lamp(name), lumens=out[name], share=100 * quantities.passes("red", name)
        )
        parts.append(lettered(150, y - 18, words, how=BOLD))
        parts.append(_bar(150, y - 6, 600, 26, RIM))
        parts.append(_bar(150, y - 6, scale * out[name], 26, 'fill="#d62a1e" stroke="currentColor" stroke-width="1.5"'))
        if name == marked:
            parts.append(lettered(750, y + 44, say("lesson.your_guess"), "end", how=BOLD))
            parts.append(f'<path d="M756,{y + 7:g}l30,-16v32z"/>')
    if guess and not marked:
        parts.append(lettered(796, 470, say("lesson.your_guess_was", guess=guess), "end", how=BOLD))
    return _picture(480, say("lesson.faces_out_described", lumens=[out[name] for name in lamps]), parts)


# -------------------------------------------------------------------------------------------------- K, and elsewhere


def balance() -> str:
    """Draw the filament's lumens on one side, and on the other the lumens of LED that give as much behind the lens."""
    lamps = ("white 6000", "white 4000", "white 2700", "red")
    middle, scale, parts = 300.0, 240.0 / 810.0, []
    parts.append(lettered(middle - 10, 28, say("lesson.filament_lamp"), "end", how=BOLD))
    parts.append(lettered(middle + 10, 28, say("lesson.as_bright"), how=BOLD))
    for i, name in enumerate(lamps):
        y, needed = 46 + 86.0 * i, quantities.lumens_needed("red", name)
        old = quantities.OLD_LUMENS
        parts.append(_bar(middle - scale * old, y, scale * old, 34, 'fill-opacity="0.2" stroke="currentColor"'))
        parts.append(lettered(middle - scale * old - 8, y + 26, f"{old:.0f}", "end"))
        parts.append(_bar(middle, y, scale * needed, 34))
        words = say("lesson.needed", lumens=needed, k=quantities.k("red", name))
        parts.append(lettered(middle + scale * needed + 10, y + 26, words, how=BOLD))
        parts.append(lettered(middle + 10, y + 62, named_lamp(name)))
    parts.append(_line(f"M{middle:g},38V{46 + 86 * len(lamps) - 20:g}", 'stroke-width="3"'))
    told = [quantities.lumens_needed("red", name) for name in lamps]
    return _picture(46 + 86 * len(lamps), say("lesson.balance_described", lumens=told), parts)


def elsewhere() -> str:
    """Draw K of cool and of warm white behind five lenses, and the line at which a lumen is worth a lumen."""
    lenses = ("red", "amber", "clear", "green", "blue")
    left, right, top = 130.0, 770.0, 84.0

    def across(k: float) -> float:
        return left + (right - left) * (k - 0.4) / 1.0

    parts = [
        _bar(2, 8, 20, 20, ''), lettered(30, 27, say("lesson.white_lamp", cool=True, kelvin=6000)),
        RING.format(411, 18),
        lettered(426, 27, say("lesson.white_lamp", cool=False, kelvin=2700)),
    ]  # fmt: skip
    foot = top + 62.0 * len(lenses) - 20
    parts.append(_line(f"M{across(1.0):.1f},{top - 36:g}V{foot:g}", 'stroke-width="3"'))
    told = []
    for i, colour in enumerate(lenses):
        y = top + 62.0 * i
        cool, warm = (quantities.k(colour, name) for name in ("white 6000", "white 2700"))
        told.append(cool)
        parts.append(lettered(left - 14, y + 8, say("lesson.lens_colour", colour=colour), "end", how=BOLD))
        parts.append(_line(f"M{left:g},{y:g}H{right:g}", 'stroke-opacity="0.3"'))
        parts.append(RING.format(across(warm), y))
        parts.append(_bar(across(cool) - 10, y - 10, 20, 20, ""))
        beyond = "start" if cool >= warm else "end"
        parts.append(lettered(across(cool) + (16 if cool >= warm else -16), y - 12, f"{cool:.2f}", beyond, how=BOLD))
    for tick in (0.4, 0.6, 0.8, 1.0, 1.2, 1.4):
        parts.append(lettered(across(tick), foot + 26, f"{tick:.1f}", "middle"))
    parts.append(lettered(10, foot + 56, say("lesson.k_axis")))
    return _picture(foot + 66, say("lesson.elsewhere_described", cool=told), parts)


# ------------------------------------------------------------------------------------------------- after the lesson


def heat() -> str:
    """Draw the visible watts that each lamp sends to the lens for equal light out of it, and what the lens stops."""
    parts, scale, told = [], 540.0 / 2.8, []
    for i, name in enumerate(LAMPS):
        y = 40 + 106.0 * i
        lumens = quantities.lumens_needed("red", name)
        watts, stopped = quantities.visible_watts(name, lumens), quantities.stopped_watts("red", name, lumens)
        told.append(stopped)
        parts.append(lettered(10, y, named_lamp(name), how=BOLD))
        parts.append(_bar(10, y + 10, scale * stopped, 36, 'fill-opacity="0.6" stroke="currentColor"'))
        parts.append(_bar(10 + scale * stopped, y + 10, scale * (watts - stopped), 36, RIM))
        parts.append(lettered(20 + scale * watts, y + 37, say("lesson.watts_stopped", watts=watts, stopped=stopped)))
    parts.append(lettered(10, 346, say("lesson.heat_axis", lumens=quantities.lumens_out("red", quantities.FILAMENT))))
    return _picture(358, say("lesson.heat_described", stopped=told), parts)


def box() -> str:
    """Draw the light against the filament's with 95 % intervals, once with true boxes and once with doubted ones."""
    third = quantities.OLD_LUMENS / 3
    rows = [
        (name, lumens, doubt, quantities.assessed("red", name, lumens, doubt))
        for doubt in ("true", "doubted")
        for name, lumens in (("red", third), ("white 6000", quantities.OLD_LUMENS))
    ]
    left, right = 34.0, 770.0

    def across(ratio: float) -> float:
        return left + (right - left) * float(np.log(ratio / 0.25) / np.log(2.0 / 0.25))

    parts, told = [], []
    foot = 92.0 * len(rows) + 8
    parts.append(_line(f"M{across(1.0):.1f},40V{foot:g}", 'stroke-width="3"'))
    for i, (name, lumens, doubt, limits) in enumerate(rows):
        y = 64 + 92.0 * i
        words = say("lesson.box_row", lamp=letter(name), lumens=lumens, trusted=doubt == "true")
        parts.append(_bar(left - 4, y - 60, 744, 32, 'fill="var(--paper,#fff)" fill-opacity="0.85"'))
        parts.append(lettered(left, y - 34, words))
        parts.append(lettered(right, y - 34, numbers.interval(limits), "end", how=BOLD))
        low, middle, high = (across(float(v)) for v in limits)
        parts.append(
            _line(f"M{low:.1f},{y - 8:g}v16M{high:.1f},{y - 8:g}v16M{low:.1f},{y:g}H{high:.1f}", 'stroke-width="4"')
        )
        parts.append(f'<circle cx="{middle:.1f}" cy="{y:g}" r="9"/>')
        told.append(numbers.interval(limits))
    for tick in (0.25, 0.5, 1.0, 2.0):
        parts.append(lettered(across(tick), foot + 26, f"{tick:g}", "middle"))
    parts.append(lettered(left - 8, foot + 56, say("lesson.box_axis")))
    return _picture(foot + 66, say("lesson.box_described", ratios=told), parts)


# ------------------------------------------------------------------------------------------------ a fair comparison


def law(background: float = 6.1 / 3.0, true: float = 0.5) -> str:
    """Draw two readings as background and the lamp's own light, and what dividing them says."""
    raw = quantities.raw_ratio(true, background)
    scale = 520.0 / 4.2
    parts = []
    for y, name, own in ((40.0, say("lesson.old_lamp"), 1.0), (140.0, say("lesson.new_lamp"), true)):
        whole, lit = scale * background, scale * own
        parts.append(lettered(10, y, name, how=BOLD))
        parts.append(_bar(10, y + 10, whole, 40, 'fill="none" stroke="currentColor" stroke-dasharray="5 4"'))
        parts.append(_bar(10 + whole, y + 10, lit, 40, 'fill-opacity="0.5" stroke="currentColor"'))
        parts.append(lettered(22 + whole + lit, y + 39, say("lesson.reading_parts", background=background, own=own)))
    parts.append(lettered(10, 244, say("lesson.law_says", raw=raw, own=true), how=BOLD))
    parts.append(lettered(10, 280, say("lesson.law_note")))
    return _picture(292, say("lesson.law_says", raw=raw, own=true), parts)


PICTURES: Mapping[str, Callable[[], str]] = MappingProxyType(
    {
        drawn.__name__: drawn
        for drawn in (
            faces, spectra, exchange, coins, band_table, fall, faces_out, balance, elsewhere, heat, box, law,
        )
    }
)  # fmt: skip
"""By the name that a lesson gives."""
