"""One published number, how a value stands to it, and the limits of flashing and of ratios."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.rules import rule_sets
from lampkit.statements import Statement, say


@dataclass(frozen=True)
class Limit:
    """One published number that a lamp is held against, with the place where it is printed and how it is known."""

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
    def citation(self) -> Statement:
        """Tell where the number stands and how far to trust it."""
        if self.known == "read":
            return say("limit.printed", source=self.source, edition=self.edition, known=self.known)
        return say("limit.recalled", source=self.source, edition=self.edition, known=self.known)

    @property
    def words(self) -> Statement:
        """Name the limit, as in 'published minimum of 60 cd (reference axis)'."""
        plain = self.quantity in ("minimum", "maximum", "group total", "field minimum")
        unit = _unit(self)
        if np.isfinite(self.low) and np.isfinite(self.high):
            size = say("limit.span", low=self.low, high=self.high, unit=unit)
        elif plain:
            size = say("limit.size", size=self.low if np.isfinite(self.low) else self.high, unit=unit)
        elif np.isfinite(self.low):
            size = say("limit.at_least", low=self.low, unit=unit)
        else:
            size = say("limit.at_most", high=self.high, unit=unit)
        return say("limit.plain" if plain else "limit.of_quantity", quantity=self.quantity, size=size, where=self.where)


def _unit(limit: Limit) -> str:
    return "" if limit.unit == "1" else f" {limit.unit}"


class LimitVerdict(Enum):
    """How a value, or an interval of it, stands to a published limit."""

    INSIDE = "inside"
    PAST = "past"
    NOT_SETTLED = "not_settled"
    NO_NUMBER = "no_number"


@dataclass(frozen=True)
class LimitComparison:
    """A value, or an interval of it, held against one published limit."""

    limit: Limit
    verdict: LimitVerdict
    margin: float
    statement: Statement


def number(value: float, instead: float) -> float:
    """Give a number from a table, or another where the cell is empty."""
    return instead if np.isnan(value) else float(value)


def from_row(row: Mapping[str, Any], where: str) -> Limit:
    """Make a limit of one row of a table under data/rules."""
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


def compare_with_limit(limit: Limit, value: ArrayLike) -> LimitComparison:
    """Tell whether a value, or an interval of it, is inside a published limit, past it, or not settled."""
    values = np.asarray(value, dtype=float)
    if values.shape not in ((), (3,)) or not np.all(np.isfinite(values)) or np.any(np.diff(values.ravel()) < 0):
        raise InputError(
            f"a comparison takes one number or an interval, not an array of shape {values.shape}",
            expected="a number, or lower limit, median and upper limit in rising order",
        )
    if not (np.isfinite(limit.low) or np.isfinite(limit.high)):
        told = say("limit.no_number", quantity=limit.quantity, where=limit.where, citation=limit.citation)
        return LimitComparison(limit, LimitVerdict.NO_NUMBER, float("nan"), told)
    unit = _unit(limit)
    ends = [float(v) for v in np.atleast_1d(values)]
    if values.ndim == 0:
        shown = say("limit.value", value=ends[0], unit=unit)
    else:
        shown = say("limit.interval", value=ends[1], low=ends[0], high=ends[2], unit=unit)
    margins = np.minimum(values - limit.low, limit.high - values)
    worst, best = float(margins.min()), float(margins.max())
    words, cited = limit.words, limit.citation
    if worst >= 0:
        told = say("limit.inside", value=shown, limit=words, margin=worst, unit=unit, citation=cited)
        return LimitComparison(limit, LimitVerdict.INSIDE, worst, told)
    if values.ndim == 0 or (best < 0 and (ends[-1] < limit.low or ends[0] > limit.high)):
        told = say("limit.past", value=shown, limit=words, margin=-best, unit=unit, citation=cited)
        return LimitComparison(limit, LimitVerdict.PAST, -best, told)
    told = say("limit.not_settled", value=shown, limit=words, citation=cited)
    return LimitComparison(limit, LimitVerdict.NOT_SETTLED, float("nan"), told)


def flash_limits(rules: str = rule_sets.USUAL) -> tuple[Limit, ...]:
    """List the published limits of flashing: rate, start, on-time, voltage drop, and what tells of a dead lamp.

    Parameters
    ----------
    rules : str
        One of `rule_sets.of_the_road`.

    Returns
    -------
    tuple of Limit
        The limits; conflicting ones stand side by side. A rule without a number has infinite limits.

    Raises
    ------
    InputError
        There are no flash limits under those rules.

    Examples
    --------
    >>> import lampkit as lk
    >>> [(limit.low, limit.high) for limit in lk.rules.flash_limits("UN") if limit.quantity == "flash rate"]
    [(60.0, 120.0)]

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


def further_limits(rules: str, quantity: str) -> tuple[Limit, ...]:
    """List the published limits of one kind that belong to no single flash, ratio or intensity.

    Parameters
    ----------
    rules : str
        The name of a rule set.
    quantity : str
        What is limited, as in 'plate evenness' or 'measuring distance'.

    Returns
    -------
    tuple of Limit
        The limits, in the order of the table.

    Raises
    ------
    InputError
        There are no such rules, or they hold no limit of that kind.

    Examples
    --------
    The brightest stations of a number plate may be 20 times as bright as the darkest (FMVSS 108, S7.7.13.3).

    >>> import lampkit as lk
    >>> [limit.high for limit in lk.rules.further_limits("US", "plate evenness")]
    [20.0]

    Source: the rules that each row of data/rules/further_limits.csv names.
    """
    held_to = rule_sets.rule_set(rules)
    rows = [row for row in tables.load("rules", "further_limits").rows() if row["rules"] == held_to.intensities]
    found = tuple(from_row(row, "where") for row in rows if row["quantity"] == quantity)
    if not found:
        known = dict.fromkeys(row["quantity"] for row in rows)
        raise InputError(
            f"the rules '{rules}' hold no '{quantity}' here", key="quantity", expected=nearest(quantity, known)
        )
    return found


def ratio_limits(pair: str = "stop to tail", rules: str = rule_sets.USUAL) -> tuple[Limit, ...]:
    """List how many times brighter one function must be than another that shares its lens.

    Parameters
    ----------
    pair : str
        'stop to tail', or 'turn to position' and 'turn to tail' (US).
    rules : str
        One of `rule_sets.of_the_road`.

    Returns
    -------
    tuple of Limit
        The limit near the axis, and that elsewhere where there is one.

    Raises
    ------
    InputError
        The rules hold no such ratio.

    Examples
    --------
    A stop lamp must be five times as bright as the tail lamp beside it (UN R148, 4.8.11).

    >>> import lampkit as lk
    >>> [limit.low for limit in lk.rules.ratio_limits("stop to tail", "UN")]
    [5.0]

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
        'stop to tail', or 'turn to position' and 'turn to tail' (US).
    rules : str
        One of `rule_sets.of_the_road`.

    Returns
    -------
    ndarray, shape (...) [1]
        The ratio; zero where the rules print none.

    Raises
    ------
    InputError
        The rules hold no such ratio, or the angles are not pairs.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.rules.required_ratio([[0, 0], [20, 0]], "stop to tail", "US")
    array([5., 3.])

    Source: the rules that each row of data/rules/further_limits.csv names.
    """
    found = ratio_limits(pair, rules)
    direction = np.asarray(angles, dtype=float)
    if direction.ndim == 0 or direction.shape[-1] != 2:
        raise InputError(
            f"an array of shape {direction.shape} holds no directions", expected="H and V on the last axis"
        )
    h, v = direction[..., 0], direction[..., 1]
    nowhere = np.zeros(h.shape, dtype=bool)
    levels: dict[str, NDArray[np.bool_]] = {"near the axis": nowhere, "elsewhere": nowhere}
    for row in tables.load("rules", "ratio_directions").rows():
        if row["rules"] == found[0].rules and row["pair"] in ("", pair):
            across = (h >= number(row["h_from_deg"], -np.inf)) & (h <= number(row["h_to_deg"], np.inf))
            upright = (v >= number(row["v_from_deg"], -np.inf)) & (v <= number(row["v_to_deg"], np.inf))
            levels[row["level"]] = levels[row["level"]] | across & upright
    elsewhere = np.where(levels["elsewhere"], found[-1].low, 0.0)
    return np.where(levels["near the axis"], found[0].low, elsewhere)
