"""The only writers of numbers for people: figures, intervals, shares, chances, amounts of money and lists."""

import re
import textwrap
from collections.abc import Callable, Iterable, Mapping
from contextvars import ContextVar

import numpy as np
from numpy.typing import ArrayLike

PHRASES = {
    "point": ".",
    "to": "to",
    "and": "and",
    "unbounded": "unbounded",
    "below": "below 1 %",
    "above": "above 99 %",
    "in": "in",
}
"""The words that stand between numbers, in English; a file of words gives its own under [numbers]."""

_PHRASES: ContextVar[Mapping[str, str]] = ContextVar("_PHRASES", default=PHRASES)


def _said(name: str) -> str:
    return _PHRASES.get()[name]


PHRASES_BY_KEY = {f"numbers.{name}": phrase for name, phrase in PHRASES.items()}
"""The same by the keys of a file of words."""


def spoken(phrases: Mapping[str, str]) -> dict[str, Callable[..., str]]:
    """Give the filters as another language writes them: its words between numbers, and its decimal point."""
    held = {name: phrases.get(key, PHRASES[name]) for name, key in zip(PHRASES, PHRASES_BY_KEY, strict=True)}

    def in_these(written: Callable[..., str]) -> Callable[..., str]:
        def one(*given: object, **options: object) -> str:
            before = _PHRASES.set(held)
            try:
                text = written(*given, **options)
            finally:
                _PHRASES.reset(before)
            of_numbers = written not in (listed, capital)
            return text.replace(".", held["point"]) if of_numbers else text

        return one

    return {name: in_these(written) for name, written in FILTERS.items()}


BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|°C|deg|(?:kil)?ohm|[mk]?Ω|km/h|lm/W|[mµ]?A|Ah|m?V|k?W|[ckm]?m[²2]?|nm|m?s|h|Hz|K|lm|lx|cd)"
    r"(?![\w/]))"
)
"""The space between a number and its unit: a line never breaks there. Source: SI Brochure 9, 5.4.3, from memory."""


def printed(unit: str) -> str:
    """Write a unit as it is printed: mm² for the mm2 of a key."""
    return unit.replace("m2", "m²")


def together(text: object) -> str:
    """Hold each number and its unit together with a no-break space."""
    return BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", str(text))


def wrap(text: object, width: int, first: str = "", then: str = "", *, words_whole: bool = False) -> list[str]:
    """Break a text into lines between words, and within one too long for a line where that is let."""
    lines = textwrap.wrap(
        together(text),
        width,
        initial_indent=first,
        subsequent_indent=then,
        break_on_hyphens=False,
        break_long_words=not words_whole,
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def figure(value: float, digits: int = 2) -> str:
    """Write a number to the digits that are known, without an exponent."""
    if not np.isfinite(value):
        return _said("unbounded") if np.isinf(value) else ""
    if value == 0:
        return "0"
    decimals = digits - 1 - int(np.floor(np.log10(abs(value))))
    rounded = round(float(value), decimals)
    # 9.96 becomes 10, not 10.0.
    decimals = digits - 1 - int(np.floor(np.log10(abs(rounded))))
    return f"{rounded:.{max(decimals, 0)}f}"


def rounded_up(value: float) -> str:
    """Write what is needed at least, two digits, rounded to the safe side."""
    if not np.isfinite(value):
        return figure(value)
    step = 10.0 ** (np.floor(np.log10(value)) - 1)
    return figure(float(np.ceil(value / step - 1e-9) * step))


def fixed(value: float, decimals: int = 0) -> str:
    """Write a number with a stated number of decimals, and never as minus zero."""
    return f"{round(float(value), decimals) + 0.0:.{decimals}f}"


def general(value: float, digits: int = 6) -> str:
    """Write a number as it was given, without trailing zeros."""
    return f"{value:.{digits}g}"


def interval(limits: ArrayLike) -> str:
    """Write an interval with its middle, all to the same last digit."""
    low, middle, high = np.asarray(limits, dtype=float)
    width = max(high - low, 1e-9)
    decimals = max(0, 1 - int(np.floor(np.log10(width)))) if np.isfinite(width) else 2
    # Two digits of the middle are known at most, however narrow the interval.
    decimals = min(decimals, max(2, 1 - int(np.floor(np.log10(max(abs(middle), 1e-9))))))
    return f"{middle:.{decimals}f} ({low:.{decimals}f} {_said('to')} {high:.{decimals}f})"


def figures(limits: ArrayLike) -> str:
    """Write a wide interval with its middle, each number to its own two digits."""
    low, middle, high = (figure(float(value)) for value in np.asarray(limits, dtype=float))
    return f"{middle} ({low} {_said('to')} {high})"


def share(part: float) -> str:
    """Write a part of a whole in per cent; little is one wording everywhere."""
    if part < 0.01:
        return _said("below")
    return _said("above") if 0.99 < part < 1 else f"{100 * part:.0f} %"


def percent(part: float) -> str:
    """Write a share in per cent, to two digits."""
    return f"{100 * part:.1f} %" if part < 0.0995 else f"{100 * part:.0f} %"


def chance(probability: float) -> str:
    """Write a chance in per cent, without claiming that anything is certain."""
    return _said("above") if probability > 0.99 else share(probability)


def odds(probability: float) -> str:
    """Write a chance as so many in ten, or in a hundred where ten are too few."""
    if 0.05 <= probability <= 0.95:
        return f"{10 * probability:.0f} {_said('in')} 10"
    return f"{min(max(100 * probability, 1), 99):.0f} {_said('in')} 100"


def money(amount: float, currency: str = "") -> str:
    """Write an amount with its currency."""
    return f"{currency} {amount:.2f}".strip()


def listed(names: Iterable[object], joint: str = "") -> str:
    """Write names one after the other, each once."""
    words = list(dict.fromkeys(str(name) for name in names))
    return f" {joint or _said('and')} ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def capital(words: object) -> str:
    """Begin a sentence with its first letter."""
    text = str(words)
    return text[:1].upper() + text[1:]


FILTERS = {
    written.__name__: written
    for written in (
        figure,
        rounded_up,
        fixed,
        general,
        interval,
        figures,
        share,
        percent,
        chance,
        money,
        odds,
        listed,
        capital,
        printed,
    )
}
"""By the name that a template calls it."""
