"""Lamps drawn as lamps: lit faces, each in its colour behind the lens and as bright as it will be; a map."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.conversion.assessment import Assessment, Result
from lampkit.light import colorimetry
from lampkit.page.lamp_findings import AlikeFindings
from lampkit.page.style import BOLD, Drawing, called, css, drawing_svg, lettered, tagged
from lampkit.statements import Statement, say
from lampkit.visibility import brightness

FILAMENT_LEVEL = 0.5
"""Light of the face with the filament on the screen, over the most that the screen gives of its colour [1]: there is
room for what is brighter, and the same filament looks the same in every picture. Source: an assumption."""

SCATTERED = 0.12
"""Light of the halo at the rim of a face by night, over that of the face [1]. Source: an assumption."""

NIGHT, DAY = (0.008, 0.010, 0.014), (0.50, 0.57, 0.62)
"""Lights of the screen behind a face by night and by day, over its white [1]. Source: an assumption."""

FACE, RING, BEZEL, HALO = 31.0, 39.0, 45.0, 66.0
"""Radii of the lit face, of the half-rings, of the bezel and of the halo, in units of the drawing [1]."""

WIDE, NIGHT_TALL, DAY_TALL, SQUARE = 160.0, 132.0, 112.0, 108.0
"""Width of the drawing of one lamp, heights of its night and of its day, and the width of either where they stand
beside each other, in units of the drawing [1]."""


class Face(NamedTuple):
    """One lit face: what lights it, its chromaticity x, y behind the lens, and its light against the filament's."""

    name: str
    chromaticity: NDArray[np.float64]
    ratio: NDArray[np.float64] | None
    title: str = ""


def lit_faces(assessment: Assessment, results: Sequence[Result] | None = None, *, low: bool = False) -> Drawing:
    """Draw the lit face of a lamp with its filament and with light sources on offer, by night and by day.

    A face has the colour that is seen behind the lens, and its light on the screen is to the filament's as it is on the
    road, up to what a screen can give. The left half-ring has the light at the dim end of the 95 % interval, the right
    one at the bright end.

    Parameters
    ----------
    assessment : Assessment
        The lamp.
    results : sequence of Result, optional
        Which of its candidates to draw; all of them without it.
    low : bool
        Whether day stands beside night and not below it.

    Returns
    -------
    Drawing
        The faces, one a light source; a notebook shows it by itself.

    Examples
    --------
    >>> import lampkit as lk
    >>> old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    >>> job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    >>> lk.page.lit_faces(job).html.count("<svg")
    2

    Source: IEC 61966-2-1:1999 for the screen; Stevens 1961 for how bright it looks (from memory).
    """
    shown = assessment.results if results is None else results
    faces = [
        Face(called(r.source), r.chromaticity, None if r is assessment.old else r.ratio, tag)
        for tag, r in tagged(assessment)
        if r is assessment.old or any(r is one for one in shown)
    ]
    return side_by_side(faces, assessment.name, low=low)


def faces_in_row(assessment: Assessment, names: Sequence[str]) -> Drawing:
    """Draw the filament and every candidate under names of one's own, each with its day beside its night.

    Source: as for `lit_faces`.
    """
    faces = [
        Face(name, r.chromaticity, None if r is assessment.old else r.ratio, tag)
        for (tag, r), name in zip(tagged(assessment), names, strict=True)
    ]
    return side_by_side(faces, assessment.name, low=True)


def side_by_side(faces: Sequence[Face], lamp: str, *, low: bool = False) -> Drawing:
    """Draw lit faces side by side, the one with the filament first; low, each with its day beside its night.

    Source: the kit's own drawing; IEC 61966-2-1:1999 for the screen.
    """
    lights = _lights(faces)
    columns = "repeat(auto-fit,minmax(min(150px,100%),1fr))" if low else "repeat(auto-fit,minmax(130px,1fr))"
    cells = "".join(
        f'<div style="line-height:1.3">{_lamp(face, light, low=low)}'
        f"<div><b>{escape(f'{face.title}  {face.name}'.strip())}</b></div>"
        f"<div>{escape(str(_beneath(face, low=low)))}</div></div>"
        for face, light in zip(faces, lights, strict=True)
    )
    most = f"max-width:{(260 if low else 182) * len(faces)}px"
    html = f'<div class="lampkit-faces" style="display:grid;grid-template-columns:{columns};gap:8px 12px;{most}">'
    told = [say("page.face.of", name=face.name, told=_told(face)) for face in faces]
    return Drawing(f"{html}{cells}</div>", say("page.face.described", lamp=lamp, told=told), _note(faces, lights))


def small_faces(old: Result, new: Result | None) -> Drawing:
    """Draw two lit faces by night in the height of two lines: with the filament, and with what is fitted.

    Source: as for `lit_faces`.
    """
    faces = [Face(called(old.source), old.chromaticity, None)]
    faces += [] if new is None else [Face(called(new.source), new.chromaticity, new.ratio)]
    told = [say("page.face.of", name=face.name, told=_told(face)) for face in faces]
    words = say("page.face.small", told=told)
    wide = 30 * len(faces) + 8 * (len(faces) - 1)
    parts = [
        f'<svg class="faces" role="img" aria-label="{escape(str(words))}" viewBox="0 0 {wide} 30" width="{wide}" '
        f'height="30"><rect width="{wide}" height="30" rx="4" fill="{css_of(np.array(NIGHT))}"/>'
    ]
    for place, light in enumerate(_lights(faces)):
        x = 15 + 38 * place
        parts += _halo(x, 15, 9.5, 15, light[1])
        parts.append(f'<circle cx="{x}" cy="15" r="8.4" fill="{css_of(light[1])}"/>')
        parts += _half_rings(x, 15, 11.2, 2.6, light) if place else []
    if new is not None:
        parts.append('<path d="M30.5,15h6m-2.5,-2.5l2.5,2.5l-2.5,2.5" fill="none" stroke="#c9d0d6"/>')
    return Drawing("".join(parts) + "</svg>", words)


def _lights(faces: Sequence[Face]) -> NDArray[np.float64]:
    """Lights of the screen at the dim end, in the middle and at the bright end of each face; beyond 1 it shows all."""
    linear = colorimetry.screen_light(np.array([face.chromaticity for face in faces]))
    luminance = linear @ colorimetry.SCREEN_LUMINANCE
    ratios = np.array([np.ones(3) if face.ratio is None else face.ratio for face in faces])
    level = FILAMENT_LEVEL * luminance[0] * ratios / luminance[:, np.newaxis]
    return np.asarray(level[..., np.newaxis] * linear[:, np.newaxis, :])


def css_of(light: NDArray[np.float64]) -> str:
    """Write lights of the screen as a colour for a style sheet."""
    red, green, blue = np.round(255 * colorimetry.screen_code(light)).astype(int).tolist()
    return f"#{red:02x}{green:02x}{blue:02x}"


def _told(face: Face) -> Statement:
    if face.ratio is None:
        return say("page.face.filament")
    looks = float(brightness.looks_brighter(face.ratio[1]))
    return say("page.face.light", ratio=face.ratio, looks=looks)


def _beneath(face: Face, *, low: bool) -> object:
    """Say what stands beneath a face: on a lamp's page its table gives the light."""
    if not low:
        return _told(face)
    return "" if face.ratio is None else say("page.face.looks", looks=float(brightness.looks_brighter(face.ratio[1])))


def _note(faces: Sequence[Face], lights: NDArray[np.float64]) -> Statement:
    outside = [f.name for f in faces if bool(colorimetry.outside_screen(f.chromaticity))]
    beyond = [f.name for f, light in zip(faces, lights, strict=True) if float(light[2].max()) > 1.0]
    values = {"most": 1.0 / FILAMENT_LEVEL, "rings": any(f.ratio is not None for f in faces)}
    return say("page.face.note", outside=outside, beyond=beyond, **values)


def _lamp(face: Face, light: NDArray[np.float64], *, low: bool) -> str:
    """Draw one lamp by night and by day, above each other with the ends of the interval, or low beside each other."""
    words = say("page.face.of", name=face.name, told=_told(face))
    if low:
        y, tall = SQUARE / 2 + 16.0, SQUARE + 36.0
        size, places = (2 * SQUARE, tall), ((SQUARE / 2, y), (1.5 * SQUARE, y))
        ground = f'x="{SQUARE:g}" width="{SQUARE:g}" height="{tall:g}"'
        titles = ((5.0, 16.0), (SQUARE + 5, 16.0))
    else:
        size = (WIDE, NIGHT_TALL + DAY_TALL)
        places = ((WIDE / 2, NIGHT_TALL / 2 + 3), (WIDE / 2, NIGHT_TALL + DAY_TALL / 2 + 5))
        ground = f'y="{NIGHT_TALL:g}" width="{WIDE:g}" height="{DAY_TALL:g}"'
        titles = ((7.0, 15.0), (7.0, NIGHT_TALL + 15))
    (x, y), inks = places[0], ("#e9ecef", "#1b1f24")
    parts = [
        f'<svg role="img" aria-label="{escape(str(words))}" viewBox="0 0 {size[0]:g} {size[1]:g}" width="100%" '
        f'style="display:block;border-radius:6px" font-family="inherit" font-size="{16.5 if low else 12}">'
        f'<rect width="{size[0]:g}" height="{size[1]:g}" fill="{css_of(np.array(NIGHT))}"/>',
        *_halo(x, y, BEZEL, SQUARE / 2 if low else HALO, light[1]),
        f'<rect {ground} fill="{css_of(np.array(DAY))}"/>',
    ]
    for (x, y), ink, (left, top), name in zip(
        places, inks, titles, (say("page.face.night"), say("page.face.day")), strict=True
    ):
        parts.append(f'<text x="{left:g}" y="{top:g}" fill="{ink}">{escape(str(name))}</text>')
        parts += _lens(x, y, light[1])
        if face.ratio is not None:
            parts += _half_rings(x, y, RING, 6.0, light)
            parts += _named_ends(x, y, ink) if low else _ends(y, face.ratio, ink)
    return "".join(parts) + "</svg>"


def _halo(x: float, y: float, rim: float, end: float, light: NDArray[np.float64]) -> list[str]:
    """Draw the light scattered around a face by night, as rings that fade towards the rim of the halo."""
    parts = []
    for share in np.linspace(0.0, 1.0, 9)[:-1]:
        near = float(share) ** 2
        behind = np.array(NIGHT) + SCATTERED * near * np.minimum(light, 1.0)
        parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="{end - (end - rim) * share:.1f}" fill="{css_of(behind)}"/>')
    return parts


def _lens(x: float, y: float, light: NDArray[np.float64]) -> list[str]:
    """Draw a round lamp: bezel, lit face, and the flutes of its lens."""
    flutes = []
    for off in (-20.0, -10.0, 0.0, 10.0, 20.0):
        half = float(np.sqrt(FACE**2 - off**2))
        flutes.append(f"M{x + off:g},{y - half:.1f}v{2 * half:.1f}")
    return [
        f'<circle cx="{x:g}" cy="{y:g}" r="{BEZEL:g}" fill="#23282e" stroke="#9aa3ab" stroke-width="2.4"/>'
        f'<circle cx="{x:g}" cy="{y:g}" r="{FACE:g}" fill="{css_of(light)}"/>'
        f'<path d="{"".join(flutes)}" fill="none" stroke="#000" stroke-opacity="0.16" stroke-width="1.4"/>'
    ]


def _half_rings(x: float, y: float, radius: float, wide: float, light: NDArray[np.float64]) -> list[str]:
    """Draw the dim end of the interval as the left half of a ring, the bright end as its right half."""
    parts = []
    for end, way in ((0, 0), (2, 1)):
        shift = 0.06 * radius * (1 if way else -1)
        parts.append(
            f'<path d="M{x + shift:.1f},{y - radius:.1f}a{radius:g},{radius:g} 0 0 {way} 0,{2 * radius:g}" '
            f'fill="none" stroke="{css_of(light[end])}" stroke-width="{wide:g}"/>'
        )
    return parts


def _named_ends(x: float, y: float, ink: str) -> list[str]:
    """Write beneath a face which half-ring is the dim end and which the bright one."""
    return [
        lettered(x - 4, y + BEZEL + 20, say("page.face.dim"), "end", f' fill="{ink}"'),
        lettered(x + 2, y + BEZEL + 20, say("page.face.bright"), how=f' fill="{ink}"'),
    ]


def _ends(y: float, ratio: NDArray[np.float64], ink: str) -> list[str]:
    """Write the ends of the interval beside the half-rings that show them."""
    sides = ((WIDE / 2 - BEZEL - 4, "end", ratio[0]), (WIDE / 2 + BEZEL + 4, "start", ratio[2]))
    return [
        f'<text x="{x:g}" y="{y + 4:g}" text-anchor="{anchor}" fill="{ink}">'
        f"{escape(str(say('page.face.end', ratio=float(value))))}</text>"
        for x, anchor, value in sides
    ]


# --- where they sit -------------------------------------------------------------------------------------------------

MAP, SIZE, FLANKS = 384.0, 13.5, (20.0, 112.0)
"""Width of the map, height of its letters and where the flanks of the vehicle are, in units of the map: on a phone, and
in half of a sheet, the letters stay legible [1]. Source: own judgement."""

DISC, ROOM, LINE, BESIDE = 13.0, 19.0, 16.0, 33
"""Radius of a lamp, what parts two lamps beside their words, and the height of a line, in units of the map; letters
that fit beside a lamp [1]. Source: own measurement with the letters of the house."""

PLACES = ("front", "dashboard", "side", "rear")
"""Where along the vehicle a lamp may sit, from the front; what is not told comes last."""


@dataclass(frozen=True, eq=False)
class Spot:
    """Lamps that are alike at one place: on which sides, and what is written beside them."""

    group: AlikeFindings
    sides: frozenset[str]
    words: tuple[str, ...]

    @property
    def height(self) -> float:
        """How much room it takes, in units of the map."""
        return LINE * len(self.words) + ROOM


def place_of(group: AlikeFindings) -> int:
    """Tell where along the vehicle lamps sit, by their place in `PLACES`."""
    first = (group.first.lamp.position or "").partition(" ")[0]
    return PLACES.index(first) if first in PLACES else len(PLACES)


def _spots(groups: Sequence[AlikeFindings]) -> dict[int, list[Spot]]:
    found: dict[int, list[Spot]] = {}
    for group in groups:
        goes_in = _goes_in(group)
        name = say("page.fit.numbered", number=group.number, name=group.name)
        words = (*numbers.wrap(name, BESIDE), *numbers.wrap(goes_in, BESIDE))
        sides = frozenset(member.lamp.side or "" for member in group.members)
        found.setdefault(place_of(group), []).append(Spot(group, sides, words))
    return dict(sorted(found.items()))


def vehicle_map(groups: Sequence[AlikeFindings]) -> Drawing:
    """Draw a vehicle from above with each lamp at its place, in the colour that it shows.

    Source: IEC 61966-2-1:1999 for the screen; the kit's own drawing.
    """
    spots = _spots(groups)
    tall = sum(spot.height for row in spots.values() for spot in row) + 28.0 * len(spots) + 58.0
    left, right = FLANKS
    middle = 0.5 * (left + right)
    parts = [
        lettered(middle, 14.0, say("page.map.front"), "middle"),
        lettered(middle, tall - 5.0, say("page.map.rear"), "middle"),
        f'<rect x="{left:g}" y="22" width="{right - left:g}" height="{tall - 44:g}" rx="24" fill="none" '
        'stroke="currentColor" stroke-opacity="0.65" stroke-width="1.9"/>',
    ]
    y = 46.0
    for row in spots.values():
        for spot in row:
            parts += _spot(spot, y + 0.5 * spot.height)
            y += spot.height
        y += 28.0
    words = say("page.map.described", lamps=list(_places(groups)))
    return Drawing(drawing_svg((MAP, tall), words, parts, letters=SIZE), words)


def _spot(spot: Spot, y: float) -> list[str]:
    """Draw the lamps of one place, and their words beside them."""
    left, right = FLANKS
    at = {"left": left, "right": right, "": 0.5 * (left + right)}
    first = spot.group.first
    result = first.fitted or spot.group.assessment.old
    colour = colorimetry.srgb(result.chromaticity).clip(0.0, 1.0)
    face, dark = css(result.chromaticity), float(colour @ (0.299, 0.587, 0.114)) < 0.5
    parts = [f'<path d="M{max(at[side] for side in spot.sides):g},{y:g}H{right + 24:g}" stroke="currentColor" '
             'stroke-opacity="0.4"/>']  # fmt: skip
    for side in sorted(spot.sides):
        parts.append(f'<circle cx="{at[side]:g}" cy="{y:g}" r="{DISC:g}" fill="{face}" stroke="currentColor"/>')
        ink = f'{BOLD} fill="{"#fff" if dark else "#000"}"'
        parts.append(lettered(at[side], y + 4.8, spot.group.number, "middle", ink))
    first_line = y + 4.8 - 0.5 * LINE * (len(spot.words) - 1)
    parts += [lettered(right + 30, first_line + LINE * i, words) for i, words in enumerate(spot.words)]
    return parts


def _places(groups: Sequence[AlikeFindings]) -> Iterable[Statement]:
    for group in groups:
        places = [member.lamp.position or "" for member in group.members]
        known = [place for place in places if place]
        yield say("page.map.lamp", number=group.number, name=group.name, places=known, goes_in=_goes_in(group))


def _goes_in(group: AlikeFindings) -> object:
    if group.first.fitted is not None:
        return called(group.first.fitted.source)
    return say("page.map.stays", back=group.first.lamp.fitted is not None)
