"""What the published rules ask of the light of a lamp function: minima, maxima and test points."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.rules import colours, functions, light_distribution, limits, rule_sets
from lampkit.rules.light_distribution import Distribution, distribution
from lampkit.rules.limits import Limit, LimitComparison
from lampkit.statements import Statement, say


@dataclass(frozen=True, eq=False)
class Requirement:
    """What the published rules ask of the light of one lamp function."""

    function: str
    rules: str
    category: str
    colour: str
    compartments: int
    limits: tuple[Limit, ...]
    field_minimum: tuple[Limit, ...]
    further: tuple[Limit, ...]
    distribution: Distribution | None
    notes: tuple[Statement, ...]

    @property
    def on_axis(self) -> tuple[Limit, ...]:
        """Pick the limits that hold on the axis."""
        return tuple(limit for limit in self.limits if limit.v_from <= 0 < limit.v_to)

    @property
    def minimum(self) -> Limit:
        """Pick the first minimum on the axis: that of the present edition where there is one."""
        return next(limit for limit in self.limits if limit.quantity == "minimum")

    @property
    def maxima(self) -> tuple[Limit, ...]:
        """Pick the maxima of all editions."""
        return tuple(limit for limit in self.limits if limit.quantity == "maximum")


def _intensity_limit(row: Mapping[str, Any]) -> Limit:
    is_maximum = row["quantity"].startswith("maximum") or row["quantity"].endswith("maximum")
    return Limit(
        quantity=row["quantity"],
        low=-np.inf if is_maximum else row["value"],
        high=row["value"] if is_maximum else np.inf,
        unit=row["unit"],
        where=row["where"],
        rules=row["rules"],
        edition=row["edition"],
        source=f"{row['source']}, {row['clause']}",
        known=row["known"],
        note=row["note"],
        v_from=limits.number(row["v_from_deg"], -np.inf),
        v_to=limits.number(row["v_to_deg"], np.inf),
    )


def requirement(
    function: str,
    rules: str = rule_sets.USUAL,
    *,
    category: str | None = None,
    colour: str | None = None,
    compartments: int = 1,
    spacing: float | None = None,
    fog_spacing: float | None = None,
    edition: str | None = None,
    wide: bool = False,
) -> Requirement:
    """Collect what the published rules ask of the light of a lamp function.

    Parameters
    ----------
    function : str
        A term of the trade, as in 'stop'.
    rules : str
        One of `rule_sets.of_the_road`.
    category : str, optional
        The category, as in 'S2' or '1a'; the usual one of a steady lamp when left out.
    colour : str, optional
        The colour of the lamp, where the numbers depend on it; the usual one of the function when left out.
    compartments : int [1]
        Number of lighted sections, where `RuleSet.sections` says that they count.
    spacing : float, optional [m]
        To the lit edge of the low-beam headlamp, from the lit edge of the lamp (UN) or from the centroid of its lens
        area (US); sets the category, or a factor on the minima.
    fog_spacing : float, optional [m]
        The same to a fog or auxiliary low-beam lamp (US); the larger factor of the two holds.
    edition : str, optional
        'present', 'older' or 'later'; when left out that of `RuleSet.period`, or else all editions side by side.
    wide : bool
        Whether the vehicle is as wide as `RuleSet.wide_from`; other points, totals and lit areas may then hold.

    Returns
    -------
    Requirement
        The limits, each with its table, its edition and how it is known.

    Raises
    ------
    InputError
        The function, the rules, the category, the colour, the edition, the number of sections or the spacing is
        not one that the tables hold.

    Examples
    --------
    A stop lamp of one light source must keep 60 cd on its axis (UN R148, table 7).

    >>> import lampkit as lk
    >>> stop = lk.rules.requirement("brake")
    >>> print(stop.minimum.words)
    published minimum of 60 cd (reference axis)
    >>> lk.rules.requirement("front turn", spacing=0.02).category
    '1b'

    Source: the rules that each row of data/rules/intensity_limits.csv names.
    """
    held_to = rule_sets.rule_set(rules)
    held_under = held_to.intensities
    by_rules = [row for row in tables.load("rules", "intensity_limits").rows() if row["rules"] == held_under]
    if not by_rules:
        known = [one.name for one in rule_sets.rule_sets().values() if one.intensities]
        raise InputError(
            f"there are no intensity limits for the rules '{rules}'", key="rules", expected=nearest(rules, known)
        )
    wanted = functions.term(function)
    chosen = _pick(by_rules, "function", wanted, f"under the rules '{rules}' the kit holds no intensities for")
    told = functions.function(wanted)

    notes: list[Statement] = []
    factor, category = _spacing(told, held_to, "spacing", spacing, category, notes)
    if fog_spacing is not None:
        factor = max(factor, _spacing(told, held_to, "fog_spacing", fog_spacing, category, notes)[0])
    if category is None:
        category = told.categories.get(held_under, "")
    chosen = _pick(chosen, "category", category, f"the function '{wanted}' has no")
    if compartments != 1 and not held_to.sections:
        raise InputError(
            f"the tables of the rules '{rules}' do not count lighted sections", key="compartments", expected="1"
        )
    listed = list(dict.fromkeys(c for row in chosen for c in tables.split_cell(row["colour"])))
    if colour is None:
        usual = colours.required_colour(wanted, held_to.name).colours
        colour = next((c for c in usual if c in listed), listed[0])
    elif (colour := colours.standard_colour(colour)) not in listed:
        raise InputError(
            f"the function '{wanted}' has no limits for {colour} light", key="colour", expected=nearest(colour, listed)
        )
    chosen = [row for row in chosen if colour in tables.split_cell(row["colour"])]
    of_axis = [row for row in chosen if row["quantity"] in ("minimum", "maximum")]
    beside = [row for row in chosen if row["quantity"] not in ("minimum", "maximum", "group total")]
    chosen = [row for row in of_axis if row["compartments"] == compartments]
    if not of_axis:
        raise InputError(f"the rules '{rules}' state no candela for the function '{wanted}'", key="function")
    if not chosen:
        counts = sorted({int(row["compartments"]) for row in of_axis})
        raise InputError(
            f"the function '{wanted}' has no limits for {compartments} lighted sections",
            key="compartments",
            expected=" or ".join(map(str, counts)),
        )
    beside = _of_width(beside, wide)
    of_period = edition or held_to.period or None
    chosen = _of_edition(chosen, of_period, notes)
    if of_period is not None:
        beside = [row for row in beside if row["period"] in (of_period, "any")]

    found = [_intensity_limit(row) for row in chosen]
    if factor != 1.0:
        found = [replace(v, low=v.low * factor) if v.quantity == "minimum" else v for v in found]
    on_axis = next(limit.low for limit in found if limit.quantity == "minimum")
    elsewhere = [
        limits.from_row(row, "where")
        for row in tables.load("rules", "further_limits").rows()
        if row["rules"] == held_under and not row["quantity"].startswith("spacing")
        if row["applies_to"] and row["applies_to"] in (category, wanted)
    ]
    if not any(limit.quantity == "maximum" for limit in found):
        notes.append(say("rule_note.no_maximum"))
    notes.extend(
        say("rule_note.printed", words=row["note"])
        for row in tables.load("rules", "notes").rows()
        if row["rules"] == held_under and wanted in (tables.split_cell(row["functions"]) or (wanted,))
    )
    notes.extend(say("rule_note.printed", words=words) for words in dict.fromkeys(v.note for v in found) if words)
    return Requirement(
        function=wanted,
        rules=held_to.name,
        category=category,
        colour=colour,
        compartments=compartments,
        limits=tuple(found),
        field_minimum=tuple(limit for limit in elsewhere if limit.quantity == "field minimum"),
        further=(
            *(_intensity_limit(row) for row in beside),
            *(limit for limit in elsewhere if limit.quantity != "field minimum"),
        ),
        distribution=distribution(wanted, held_under, category, colour, on_axis, compartments, wide=wide),
        notes=tuple(notes),
    )


WIDE = " of a wide vehicle"
"""How the quantity of a row ends that holds for a wide vehicle, in place of the row without these words."""


def _of_width(rows: list[dict[str, Any]], wide: bool) -> list[dict[str, Any]]:
    """Leave the rows that hold for a vehicle of its width."""
    if not wide:
        return [row for row in rows if not row["quantity"].endswith(WIDE)]
    instead = {row["quantity"].removesuffix(WIDE) for row in rows if row["quantity"].endswith(WIDE)}
    return [row for row in rows if row["quantity"] not in instead]


def _pick(rows: list[dict[str, Any]], key: str, wanted: str, complaint: str) -> list[dict[str, Any]]:
    found = [row for row in rows if row[key] == wanted]
    if not found:
        held = dict.fromkeys(row[key] or "none" for row in rows)
        raise InputError(f"{complaint} {key} '{wanted}'", key=key, expected=nearest(wanted, held))
    return found


EDITIONS = {"older": ("older",), "present": ("present",), "later": ("later", "present")}
"""The editions that can be asked for, each with the periods whose rows hold for it, the first that has one."""


def _of_edition(rows: list[dict[str, Any]], edition: str | None, notes: list[Statement]) -> list[dict[str, Any]]:
    if edition is None:
        return rows
    if edition not in EDITIONS:
        raise InputError(
            f"the edition '{edition}' is unknown", key="edition", expected=" or ".join(map(repr, EDITIONS))
        )
    found: list[dict[str, Any]] = []
    for quantity in ("minimum", "maximum"):
        of_quantity = [row for row in rows if row["quantity"] == quantity]
        by_period = ([row for row in of_quantity if row["period"] == period] for period in EDITIONS[edition])
        held = next((held for held in by_period if held), []) + [row for row in of_quantity if row["period"] == "any"]
        if of_quantity and not held:
            held = [row for row in of_quantity if row["period"] == "present"] or of_quantity
            notes.append(say("rule_note.edition", edition=edition, quantity=quantity))
        found += held
    return found


SPACINGS = {
    "spacing": ("spacing factor", "spacing category"),
    "fog_spacing": ("spacing factor to a fog lamp",),
}
"""The rows of data/rules/further_limits.csv that belong to a gap to the low beam, and to a fog lamp."""


def _spacing(
    told: functions.LampFunction,
    held_to: rule_sets.RuleSet,
    key: str,
    spacing: float | None,
    category: str | None,
    notes: list[Statement],
) -> tuple[float, str | None]:
    """Find by what factor, or under which category, the minima hold at a gap to a lamp in front."""
    classes = [
        row
        for row in tables.load("rules", "further_limits").rows()
        if row["quantity"] in SPACINGS[key] and row["rules"] == held_to.intensities
    ]
    by_category = any(row["quantity"] == "spacing category" for row in classes)
    counts = told.spacing and held_to.spacing and bool(classes)
    if spacing is None:
        if counts and not (by_category and category is not None):
            notes.append(say("rule_note.spacing"))
        return 1.0, category
    if not counts:
        some = " or ".join(one.name for one in functions.functions().values() if one.spacing)
        raise InputError(f"only a {some} lamp has limits that depend on the spacing", key=key, expected="none")
    if not np.isfinite(spacing) or spacing < 0:
        raise InputError(f"a spacing of {spacing:g} m is impossible", key=key, expected="metres, zero or more")
    for row in classes:
        upper = limits.number(row["high"], np.inf)
        if spacing < upper or (spacing == upper and row["high_included"] == "yes"):
            if not by_category:
                printed = {key: row[key] for key in ("source", "clause", "known")}
                notes.append(say("rule_note.factor", factor=row["applies_to"], spacing=spacing, **printed))
                return float(row["applies_to"]), category
            if category not in (None, row["applies_to"]):
                raise InputError(
                    f"a spacing of {spacing:g} m belongs to category {row['applies_to']}, not {category}",
                    key="category",
                    remedy="give one of the two",
                )
            return 1.0, str(row["applies_to"])
    return 1.0, category


def compare_on_axis(requirement: Requirement, intensity: ArrayLike) -> tuple[LimitComparison, ...]:
    """Hold an intensity on the axis against every limit of a requirement that holds there.

    Parameters
    ----------
    requirement : Requirement
        The requirement.
    intensity : array_like, shape () or (3,) [cd]
        The intensity, or lower limit, median and upper limit of its interval.

    Returns
    -------
    tuple of LimitComparison
        One for each limit, in their order.

    Raises
    ------
    InputError
        An intensity is negative or not a number, or the interval does not rise.

    Examples
    --------
    >>> import lampkit as lk
    >>> stop = lk.rules.requirement("stop", edition="present")
    >>> [held.verdict.name for held in lk.rules.compare_on_axis(stop, 300.0)]
    ['INSIDE', 'PAST']
    """
    values = light_distribution.candela(intensity)
    return tuple(limits.compare_with_limit(limit, values) for limit in requirement.on_axis)
