"""One published number, the sentence that holds a value against it, and the limits of flashing and of ratios."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.rules import rule_sets


@dataclass(frozen=True)
class Limit:
    """One published number that a lamp is held against, with the place where it is printed and how it is known.

    Parameters
    ----------
    quantity : str
        What is limited, as in 'minimum', 'maximum', 'flash rate'.
    low, high : float [1]
        The limits in `unit`; minus or plus infinity where there is none.
    unit : str
        The unit: 'cd', 'cd/m2', 'lx', '1', '1/min', 's', 'V' or 'm'.
    where : str
        The direction or the condition for which it is printed.
    rules : str
        The set of rules.
    edition : str
        The edition or the years.
    source : str
        Key of the bibliography, with table or clause.
    known : str
        How the value is known.
    note : str
        What the reader must know besides, or empty.
    v_from, v_to : float [deg]
        Elevations from which (included) and up to which (excluded) it holds, upwards positive.

    Source: the rules that each row of data/rules names.
    """

    quantity: str
    low: float
    high: float
    unit: str
    where: str
    rules: str
    edition: str
    source: str
    known: str
    note: str = ""
    v_from: float = -np.inf
    v_to: float = np.inf

    @property
    def citation(self) -> str:
        """Word where the number stands and how far to trust it."""
        doubt = "" if self.known == "published" else ", check before you rely on it"
        return f"{self.source}; {self.edition}; {self.known}{doubt}"

    @property
    def words(self) -> str:
        """Word the limit, as in 'published minimum of 60 cd (reference axis)'."""
        plain = self.quantity in ("minimum", "maximum", "group total", "field minimum")
        name = f"published {self.quantity}" if plain else f"published limit for the {self.quantity}"
        if np.isfinite(self.low) and np.isfinite(self.high):
            size = f"of {self.low:g} to {self.high:g}"
        elif plain:
            size = f"of {self.low if np.isfinite(self.low) else self.high:g}"
        else:
            size = f"of at least {self.low:g}" if np.isfinite(self.low) else f"of at most {self.high:g}"
        unit = "" if self.unit == "1" else f" {self.unit}"
        return f"{name} {size}{unit} ({self.where})"


def number(value: float, instead: float) -> float:
    """Give a number from a table, or another where the cell is empty."""
    return instead if np.isnan(value) else float(value)


def from_row(row: Mapping[str, Any], where: str) -> Limit:
    """Make a limit of one row of a table under data/rules.

    Source: the rules that the row names.
    """
    return Limit(
        quantity=row["quantity"],
        low=number(row["low"], -np.inf),
        high=number(row["high"], np.inf),
        unit=row["unit"],
        where=row[where],
        rules=row["rules"],
        edition=row["edition"],
        source=f"{row['source']}, {row['clause']}",
        known=row["known"],
        note=row["note"],
    )


def compare_with_limit(limit: Limit, value: ArrayLike) -> str:
    """Say whether a value, or an interval of it, is inside a published limit, past it, or not settled.

    Source: the kit's own wording.
    """
    numbers = np.asarray(value, dtype=float)
    if numbers.shape not in ((), (3,)) or not np.all(np.isfinite(numbers)) or np.any(np.diff(numbers.ravel()) < 0):
        raise InputError(
            f"a comparison takes one number or an interval, not an array of shape {numbers.shape}",
            expected="a number, or lower limit, median and upper limit in rising order",
        )
    unit = "" if limit.unit == "1" else f" {limit.unit}"
    margin = np.minimum(numbers - limit.low, limit.high - numbers)
    worst, best = float(margin.min()), float(margin.max())
    if numbers.ndim == 0:
        told = f"{numbers:.3g}{unit}"
    else:
        told = f"{numbers[1]:.3g}{unit} ({numbers[0]:.3g} to {numbers[2]:.3g})"
    if not (np.isfinite(limit.low) or np.isfinite(limit.high)):
        return f"{limit.quantity}: {limit.where} [{limit.citation}]"
    if worst >= 0:
        return f"{told} is inside the {limit.words} by {_size(worst)}{unit} [{limit.citation}]"
    if numbers.ndim == 0 or (best < 0 and (numbers[2] < limit.low or numbers[0] > limit.high)):
        return f"{told} is past the {limit.words} by {_size(-best)}{unit} [{limit.citation}]"
    return f"{told} lies across the {limit.words}: not settled [{limit.citation}]"


def _size(number: float) -> str:
    return f"{number:.3g}" if number < 1000 else f"{number:.0f}"


def flash_limits(rules: str = rule_sets.USUAL) -> tuple[Limit, ...]:
    """List the published limits of flashing: rate, start, on-time, voltage drop, and what tells of a dead lamp.

    Parameters
    ----------
    rules : str
        'UN', 'UN older', 'US' or 'SAE J578' (as 'US').

    Returns
    -------
    tuple of Limit
        The limits; conflicting ones stand side by side. A rule without a number has infinite limits.

    Raises
    ------
    InputError
        There are no flash limits under those rules.

    Source: the rules that each row of data/rules/flash_limits.csv names.
    """
    held_to = rule_sets.rule_set(rules)
    rows = tables.load("rules", "flash_limits").rows()
    found = tuple(from_row(row, "condition") for row in rows if row["rules"] == held_to.flash)
    if not found:
        known = [one.name for one in rule_sets.rule_sets().values() if one.flash]
        raise InputError(
            f"there are no flash limits for the rules '{rules}'", key="rules", expected=nearest(rules, known)
        )
    return found


def ratio_limits(pair: str = "stop to tail", rules: str = rule_sets.USUAL) -> tuple[Limit, ...]:
    """List how many times brighter one function must be than another that shares its lens.

    Parameters
    ----------
    pair : str
        'stop to tail', or 'turn to position' (US).
    rules : str
        'UN', 'UN older' (as 'UN'), 'US' or 'SAE J578' (as 'US').

    Returns
    -------
    tuple of Limit
        The limit near the axis, and that elsewhere where there is one.

    Raises
    ------
    InputError
        The rules hold no such ratio.

    Source: the rules that each row of data/rules/further_limits.csv names.
    """
    rows = [row for row in tables.load("rules", "further_limits").rows() if row["quantity"].endswith("ratio")]
    held_to = rule_sets.rule_set(rules)
    found = tuple(
        from_row(row, "where") for row in rows if row["rules"] == held_to.ratios and row["quantity"] == f"{pair} ratio"
    )
    if not found:
        known = [f"{row['quantity'].removesuffix(' ratio')} under {row['rules']}" for row in rows]
        raise InputError(
            f"the kit holds no ratio '{pair}' under the rules '{rules}'", key="pair", expected=nearest(pair, known)
        )
    return found


def required_ratio(angles: ArrayLike, pair: str = "stop to tail", rules: str = rule_sets.USUAL) -> NDArray[np.float64]:
    """Give the smallest ratio of two functions behind one lens that the rules print for each direction.

    Parameters
    ----------
    angles : array_like, shape (..., 2) [deg]
        H (right positive) and V (up positive).
    pair : str
        'stop to tail', or 'turn to position' (US).
    rules : str
        'UN', 'UN older' (as 'UN'), 'US' or 'SAE J578' (as 'US').

    Returns
    -------
    ndarray, shape (...) [1]
        The ratio; zero where the rules print none.

    Raises
    ------
    InputError
        The rules hold no such ratio, or the angles are not pairs.

    Source: the rules that each row of data/rules/further_limits.csv names.
    """
    found = ratio_limits(pair, rules)
    direction = np.asarray(angles, dtype=float)
    if direction.ndim == 0 or direction.shape[-1] != 2:
        raise InputError(
            f"an array of shape {direction.shape} holds no directions", expected="H and V on the last axis"
        )
    h, v = direction[..., 0, np.newaxis], direction[..., 1, np.newaxis]
    boxes = tables.load("rules", "ratio_directions")
    of_these = boxes["rules"] == found[0].rules
    across = (h >= boxes["h_from_deg"][of_these]) & (h <= boxes["h_to_deg"][of_these])
    upright = (v >= boxes["v_from_deg"][of_these]) & (v <= boxes["v_to_deg"][of_these])
    elsewhere = found[1].low if len(found) > 1 else 0.0
    return np.where((across & upright).any(axis=-1), found[0].low, elsewhere)
