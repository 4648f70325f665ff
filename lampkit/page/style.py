"""One house style for every chart: legible on a phone, printed in grey, and by those who tell few colours apart."""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from io import StringIO
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.conversion.assessment import Assessment, Result
from lampkit.light import colorimetry, photometry
from lampkit.show import ROOM
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.path import Path

INK, MUTED, FAINT, PAPER = "#1b1f24", "#5b6470", "#d5dade", "#fefefe"
"""Text and the filament, axes and notes, grid and light before the lens, background."""

LOOKS = (
    ("#0072b2", "s", "//"),
    ("#d55e00", "^", "\\\\"),
    ("#009e73", "D", "xx"),
    ("#cc79a7", "v", "++"),
    ("#e69f00", "P", "||"),
    ("#56b4e9", "X", "--"),
)
"""Colour, marker and hatch of each candidate in turn; the tags 1, 2, 3 tell them apart without these.
Source: Okabe and Ito, Color Universal Design, 2008 (colours from memory)."""

STYLE: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 10.0,
    "text.color": INK,
    "hatch.linewidth": 0.7,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "path.simplify_threshold": 0.4,
    "svg.fonttype": "none",
    # What people call their things is text, whatever signs they use.
    "text.parse_math": False,
}

NARROW, MARGIN = 3.9, 0.12
"""Width of every chart, and what stays free beside them, in inches: on a phone of 390 px letters of 10 pt
are then 12 px high and nothing is wider than the screen. Source: own measurement."""

LETTERS = 40
"""Letters of 10 pt that fit into a line of a chart [1]. Source: own measurement."""

VISIBLE = (400.0, 760.0)
"""Wavelengths shown [nm]. Source: CIE 018:2019, beyond them
V(lambda) is below 0.0005."""

DRAWN = slice(40, 401, 3)
"""Every third nanometre of the part shown: finer than a line is wide. Source: own judgement."""

COLOUR_NAMES = {
    425.0: say("page.chart.wavelength.violet"),
    466.0: say("page.chart.wavelength.blue"),
    522.0: say("page.chart.wavelength.green"),
    590.0: say("page.chart.wavelength.amber"),
    640.0: say("page.chart.wavelength.red"),
}
"""Where the name of each colour stands on the wavelength axis [nm]. Source: common practice, no source."""


@contextmanager
def house_style() -> Iterator[None]:
    """Let everything drawn within have the house style, and leave the settings of the session alone."""
    from matplotlib import rc_context

    with rc_context(STYLE):  # type: ignore[arg-type]
        yield


def new_figure(height: float) -> "Figure":
    """Start a chart, of the width of the house unless told otherwise."""
    from matplotlib.figure import Figure

    return Figure(figsize=(NARROW, round(height, 2)))


def write(figure: "Figure", x: float, y: float, text: object, **how: Any) -> None:
    """Write a text whose upper left corner is given by inches from the lower left corner of the chart."""
    whole, tall = figure.get_size_inches()
    figure.text(x / whole, y / tall, str(text), **{"va": "top", "color": INK, **how})


def path_of(parts: Sequence[NDArray[np.float64]]) -> "Path":
    """Join lines or outlines, (n, 2) in inches from the lower left corner, to one path in hundredths of a point."""
    from matplotlib.path import Path

    codes = np.full(sum(map(len, parts)), Path.LINETO)
    codes[np.cumsum([0, *map(len, parts[:-1])])] = Path.MOVETO
    return Path(np.round(72.0 * np.concatenate(parts), 2) / 72.0, codes)


def trace(figure: "Figure", *parts: NDArray[np.float64], **how: Any) -> None:
    """Draw lines or outlines, in inches, as one piece: a picture takes its time by the piece, Axes that of sixty."""
    from matplotlib.patches import PathPatch

    look = {"facecolor": "none", "edgecolor": INK, "linewidth": 1.1, "capstyle": "butt", **how}
    if parts:
        figure.add_artist(PathPatch(path_of(parts), transform=figure.dpi_scale_trans, **look))


def box(left: float, bottom: float, right: float, top: float) -> NDArray[np.float64]:
    """Give the outline of a box, in inches."""
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top], [left, bottom]])


def round_numbers(low: float, high: float, number: int) -> list[float]:
    """Choose a few round numbers for a scale, none at its very end."""
    from matplotlib.ticker import MaxNLocator

    told = MaxNLocator(number, steps=[1, 2, 5, 10]).tick_values(low, high)
    return [float(one) for one in told if low <= one <= high - 0.03 * (high - low)]


def numbered(
    figure: "Figure", y: float, reach: tuple[float, float], numbers: Sequence[tuple[float, str]], words: object
) -> None:
    """Write numbers under an axis, each at its place in inches, and what they are."""
    marks = (np.array([[x, y], [x, y - 0.05]]) for x, _ in numbers)
    trace(figure, np.array([[reach[0], y], [reach[1], y]]), *marks, edgecolor=MUTED, linewidth=0.8)
    for x, number in numbers:
        write(figure, x, y - 0.07, number, ha="center")
    write(figure, reach[1], y - 0.26, words, ha="right")


def paint(
    figure: "Figure",
    colours: NDArray[np.float64],
    corners: tuple[float, float, float, float],
    within: "Path",
    strength: float,
) -> None:
    """Fill outlines with an array of colours that reaches from left to right and from bottom to top, in inches."""
    from matplotlib.image import AxesImage

    # An image asks what holds it for a frame only; the figure has one too.
    filled = AxesImage(figure, extent=corners, origin="lower", interpolation="none", alpha=strength)  # type: ignore[arg-type]
    filled.set_data(np.round(255.0 * colours).astype(np.uint8))
    filled.set_transform(figure.dpi_scale_trans)
    filled.set_clip_path(within, figure.dpi_scale_trans)
    filled.set_zorder(0.2)
    figure.add_artist(filled)


def marked(figure: "Figure", x: float, y: float, result: Result, tag: str, size: float = 8.0) -> None:
    """Mark a light source, by inches, with the form of its tag and its colour behind the lens."""
    from matplotlib.lines import Line2D

    figure.add_artist(Line2D([x], [y], linestyle="none", marker=look_of(tag)[1], markersize=size, markeredgecolor=INK,
                             color=css(result.chromaticity), transform=figure.dpi_scale_trans, zorder=5))  # fmt: skip


def tagged(assessment: Assessment) -> tuple[tuple[str, Result], ...]:
    """Pair the filament and each candidate with the tag that stands for it in every chart and table."""
    return (("F", assessment.old), *((str(i), r) for i, r in enumerate(assessment.results, start=1)))


def called(source: LightSource) -> str:
    """Name a light source for a person: the designation of a filament lamp alone says little."""
    plain = source.kind is SourceKind.FILAMENT and "filament" not in source.name.lower()
    return str(say("page.filament", name=source.name)) if plain else source.name


def look_of(tag: str) -> tuple[str, str, str]:
    """Give the colour, marker and hatch that a tag has in every chart.

    Source: as for LOOKS.
    """
    return (INK, "o", "") if tag == "F" else LOOKS[(int(tag) - 1) % len(LOOKS)]


def wrapped(text: object, width: int) -> str:
    """Break a text into lines between words, but never between a number and its unit."""
    return "\n".join(numbers.wrap(text, width))


@cache
def wavelength_colours() -> NDArray[np.float64]:
    """Give the screen colour of each wavelength that is drawn; the eye fades out at both ends, and so do they.

    Source: CIE 018:2019 for the locus; IEC 61966-2-1:1999 for the screen.
    """
    brightness = np.clip(photometry.luminous_efficiency()[DRAWN] / 0.02, 0.0, 1.0) ** 0.5
    return colorimetry.srgb(colorimetry.spectrum_locus()[DRAWN]) * brightness[:, np.newaxis]


def letters_on(wavelength: float) -> str:
    """Choose the colour of letters on the strip of wavelengths: black on its bright part."""
    return "black" if 500.0 < wavelength < 620.0 else "white"


def css(chromaticity: NDArray[np.float64]) -> str:
    """Give the screen colour nearest to a chromaticity, as a style sheet and a chart take it.

    Source: IEC 61966-2-1:1999.
    """
    red, green, blue = np.round(255 * np.clip(colorimetry.srgb(chromaticity), 0, 1)).astype(int).tolist()
    return f"#{red:02x}{green:02x}{blue:02x}"


def anchor(name: str) -> str:
    """Give the place of a lamp's page for links."""
    return re.sub(r"[^a-z0-9]+", "-", f"lamp {name}".lower()).strip("-")


def svg(figure: "Figure", description: object) -> str:
    """Write a chart as an SVG element for a page, with its description for those who do not see it."""
    from html import escape

    from matplotlib import rc_context

    told = str(description)
    with rc_context({**STYLE, "svg.hashsalt": told}):  # type: ignore[dict-item]
        stream = StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    whole = stream.getvalue()
    # Groups are numbered alike in every chart; on one page a name must stand once.
    text = re.sub(r'<g id="[^"]*"', "<g", whole[whole.index("<svg") :])
    text = re.sub(r'(<image\b[^>]*?) id="[^"]*"', r"\1", text)
    text = re.sub(r"\n +", "\n", text).replace(" \nL ", "L").replace(" \nz", "z")
    # A hundredth of a point is finer than any screen; the numbers that are read stand outside the tags.
    parts = re.split(r"(>[^<\n]+</text>)", text)
    parts[::2] = re.sub(r"(?<=\.\d\d)\d+", "", "\0".join(parts[::2])).split("\0")
    text = _named_by_content("".join(parts))
    # The letters are as wide as those the chart was laid out with, or narrower.
    text = text.replace("'DejaVu Sans'", "'DejaVu Sans', Verdana, sans-serif")
    for name, colour in (("ink", INK), ("muted", MUTED), ("faint", FAINT), ("paper", PAPER)):
        text = text.replace(colour, f"var(--{name}, {colour})")
    return text.replace("<svg ", f'<svg role="img" aria-label="{escape(told)}" ', 1)


def _named_by_content(text: str) -> str:
    """Name clips, hatches and markers by the chart and their order in it.

    The names that the drawing library makes hang on how numpy prints, which other libraries change as they load.
    """
    mark = "\N{REPLACEMENT CHARACTER}"
    for place, name in enumerate(re.findall(' id="([^"]+)"', text)):
        text = text.replace(f'"{name}"', f'"{mark}{place}"').replace(f"#{name}", f"#{mark}{place}")
    return text.replace(mark, f"c{sha256(text.encode()).hexdigest()[:10]}-")


def within(figure: "Figure") -> str:
    """Put a chart into the page of a notebook, in its colours, no wider than there is room.

    Source: the names of the colours are those of JupyterLab's themes.
    """
    page = (
        "--ink:var(--jp-content-font-color1,#1b1f24);--muted:var(--jp-content-font-color2,#5b6470);"
        "--faint:var(--jp-border-color2,#d5dade);--paper:var(--jp-layout-color0,#fefefe);"
        f"max-width:{7.1 * figure.get_figwidth():.1f}em"
    )
    return f'<div class="lampkit-chart" style="{page}">{svg(figure, figure.get_label())}</div>'


def shown(figure: "Figure", description: object) -> "Figure":
    """Let a notebook show a chart as SVG in the colours of its page, with its description for those who do not see it.

    Source: the kit's own convention; the names of the colours are those of JupyterLab's themes.
    """
    least = f"min-width:{96 * figure.get_figwidth():.0f}px"
    # On a phone a notebook leaves less than that: the letters stay legible, and the chart is moved sideways.
    around = f'<style>{ROOM}</style><div class="lampkit-shown" tabindex="0" style="overflow-x:auto">'
    figure.set_label(str(description))
    # A notebook asks the object itself how to show it.
    figure._repr_html_ = lambda: f'{around}<div style="{least}">{within(figure)}</div></div>'  # type: ignore[method-assign]
    return figure


NOTEBOOK_INK = "var(--jp-content-font-color1, currentColor)"
"""Colour of the letters of the page around a drawing. Source: the names of the colours are those of JupyterLab's
themes."""


@dataclass(frozen=True)
class Drawing:
    """A drawing in HTML and SVG for any page, with what it shows in words and what is to be said under it."""

    html: str
    words: Statement
    note: Statement | None = None

    def __str__(self) -> str:
        return str(self.words)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        from html import escape

        note = "" if self.note is None else f'<p style="margin:4px 0;max-width:46em">{escape(str(self.note))}</p>'
        look = f"color:{NOTEBOOK_INK};line-height:1.35"
        return f'<style>{ROOM}</style><div class="lampkit-shown" style="{look}">{self.html}{note}</div>'


def drawing_svg(
    size: tuple[float, float], words: object, parts: Iterable[str], *, letters: float = 12.0, most: float = 0.0
) -> str:
    """Put parts into an SVG drawing of a size, with its words, in the ink and letters of the page around it."""
    from html import escape

    widest = f";max-width:{most:g}px" if most else ""
    return (
        f'<svg class="lampkit-drawing" role="img" aria-label="{escape(str(words))}" viewBox="0 0 {size[0]:g} '
        f'{size[1]:g}" width="100%" style="display:block{widest}" font-family="inherit" font-size="{letters:g}" '
        f'fill="currentColor">{"".join(parts)}</svg>'
    )


def lettered(x: float, y: float, said: object, anchor: str = "start", how: str = "") -> str:
    """Write words into a drawing, their line at a place."""
    from html import escape

    side = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{x:.4g}" y="{y:.4g}"{side}{how}>{escape(str(said))}</text>'


BOLD = ' font-weight="bold"'
"""How heavy letters of a drawing are written."""
