"""Damage to a text that people wrote: hostile values in the place of good ones, and what befalls files on their way."""

import re
from collections.abc import Callable

from hypothesis import strategies as st

NUMBERS = (  # noqa: SIM905
    "0 -0.0 -1 1e308 -1e308 1e-320 1e400 1e-400 nan inf -inf 1e200 99999999999999999999 0x1f 0b1 1_000 1,5 1.000,5 "
    "13,5 +5 5. .5 1e5 -273.15 4.000000000000000000000000001 ١٢ ４２ 4² 5lx 20.45 25:00 8:45PM OL >1999"
).split()
LONG = ("1" * 400, "1" * 5000, "0." + "1" * 400, "0x" + "F" * 4000, "x" * 2000, "é" * 300)
TEXTS = (
    "''", '""', "[]", "{}", "true", "false", "null", "[1, 2]", "[[1]]", "{a = 1}",
    '"a\\u001b[31mb"', '"a\\nb"', '"a\\u0000b"',
    '"\u202eabc"', '"\u200b"', '"a\u0301"', '"<script>alert(1)</script>"', '"{{ 7 * 7 }}"', '"%s %d {0}"', '"../../x"',
    '"/etc/passwd"', '"/dev/zero"', '"~/x"', '"=1+1"', '"$5 or $6"', '"$x_{$"', "1964-01-01", "07:32:00", "\"&amp;'\"",
    "'''", "LED", "filament", "red", "on", "off", "-", "?", "#", ";", "|", "lamp", "None",
)  # fmt: skip
HOSTILE = (*NUMBERS, *LONG, *TEXTS)


def _lines(text: str, change: Callable[[list[str], int, int], None], where: int, other: int) -> str:
    lines = text.split("\n")
    change(lines, where % len(lines), other % len(lines))
    return "\n".join(lines)


def _drop(lines: list[str], i: int, j: int) -> None:
    del lines[i]


def _twice(lines: list[str], i: int, j: int) -> None:
    lines.insert(j, lines[i])


def _swap(lines: list[str], i: int, j: int) -> None:
    lines[i], lines[j] = lines[j], lines[i]


def _cut(lines: list[str], i: int, j: int) -> None:
    lines[i] = lines[i][: j % (len(lines[i]) + 1)]


def _glue(lines: list[str], i: int, j: int) -> None:
    lines[i] = lines[i] + lines[j]


LINE_DAMAGE = (_drop, _twice, _swap, _cut, _glue)


@st.composite
def damaged(draw: st.DrawFn, text: str, value: str) -> bytes:
    """Damage a text in one to three places; `value` is the pattern of a value that may be replaced."""
    for _ in range(draw(st.integers(1, 3))):
        places = [found.span() for found in re.finditer(value, text)]
        if places and draw(st.integers(0, 3)):
            start, end = places[draw(st.integers(0, len(places) - 1))]
            text = text[:start] + draw(st.sampled_from(HOSTILE)) + text[end:]
        else:
            change = draw(st.sampled_from(LINE_DAMAGE))
            text = _lines(text, change, draw(st.integers(0, 10_000)), draw(st.integers(0, 10_000)))
    kind = draw(st.integers(0, 15))
    raw = text.encode("utf-16" if kind == 15 else "utf-8", errors="surrogatepass")
    if kind == 14:
        raw = text.encode("cp1252", errors="replace")
    if kind in (13, 15) and raw:
        raw = raw[: draw(st.integers(0, len(raw)))]
    if kind == 12 and raw:
        i = draw(st.integers(0, len(raw) - 1))
        raw = raw[:i] + draw(st.binary(min_size=1, max_size=4)) + raw[i + 1 :]
    if kind == 11:
        raw = raw.replace(b"\n", b"\r")
    return raw
