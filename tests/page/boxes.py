"""Where the words of an SVG drawing stand: in the letters of the house, the widest in which a page may be shown."""

import re
from functools import cache
from itertools import combinations
from xml.etree import ElementTree

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

PHONE = 342.0
"""Width that a page of 390 px leaves for a picture [px]."""

Box = tuple[float, float, float, float, str]


@cache
def width(words: str, heavy: bool) -> float:
    """Width of words over the height of their letters."""
    font = FontProperties(family="DejaVu Sans", weight="bold" if heavy else "normal", size=100)
    return float(TextToPath().get_text_width_height_descent(words, font, ismath=False)[0]) / 100.0


def of(svg: ElementTree.Element) -> list[Box]:
    """Left, top, right and bottom of each text of a drawing, in its units."""
    usual = float(svg.get("font-size", "12"))
    found = []
    for text in svg.iter():
        words = "".join(text.itertext())
        if not text.tag.endswith("text") or not words.strip():
            continue
        size = float(text.get("font-size", usual))
        wide = size * width(words, text.get("font-weight") == "bold")
        left = float(text.get("x", "0")) - wide * {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor", ""), 0.0)
        base = float(text.get("y", "0"))
        found.append((left, base - 0.74 * size, left + wide, base + 0.2 * size, words))
    return found


def drawings(html: str) -> list[ElementTree.Element]:
    """Take the drawings out of a piece of a page."""
    return [ElementTree.fromstring(one) for one in re.findall(r"<svg.*?</svg>", html, re.S)]


def smallest(svg: ElementTree.Element, wide: float = PHONE) -> float:
    """Height of the smallest letters of a drawing that is shown as wide as said [px]."""
    sizes = [float(one.get("font-size", svg.get("font-size", "12"))) for one in svg.iter() if one.tag.endswith("text")]
    return min(sizes) * wide / float(svg.get("viewBox", "").split()[2])


def check(svg: ElementTree.Element) -> None:
    """Hold that no word leaves the drawing or meets another one."""
    _, _, wide, tall = (float(one) for one in svg.get("viewBox", "").split())
    found = of(svg)
    for left, top, right, bottom, words in found:
        assert left >= -0.5 and right <= wide + 0.5 and top >= -0.5 and bottom <= tall + 0.5, (words, left, right, wide)
    for one, other in combinations(found, 2):
        across = min(one[2], other[2]) - max(one[0], other[0])
        down = min(one[3], other[3]) - max(one[1], other[1])
        assert across <= 0.5 or down <= 0.5, (one, other)
