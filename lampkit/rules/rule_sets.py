"""The published rule sets by name, and where each takes its colours, intensities, flash limits and ratios from."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.statements import Statement, say

USUAL = "UN"
"""The rule set taken where none is named; a row of data/rules/rule_sets.csv."""


@dataclass(frozen=True)
class RuleSet:
    """A set of published rules, with the rows of the other tables that hold for it."""

    name: str
    means: str
    also_called: tuple[str, ...]
    family: str
    from_year: int | None
    to_year: int | None
    binds: bool
    colours: str
    stand_in: str
    functions: tuple[str, ...]
    intensities: str
    period: str
    sections: bool
    spacing: bool
    wide_from: float | None
    flash: str
    ratios: str
    edition: str
    note: str
    source: str
    known: str

    @property
    def years(self) -> Statement:
        """Say from when to when it held."""
        return say("rule_set.years", first=self.from_year, last=self.to_year)

    @property
    def told(self) -> Statement:
        """Say what it is, when it held, and what the reader must know besides."""
        return say("rule_set.told", means=self.means, years=self.years, note=self.note, known=self.known)


@cache
def rule_sets() -> Mapping[str, RuleSet]:
    """List the published rule sets that the kit knows, by name."""
    found = {}
    for row in tables.load("rules", "rule_sets").rows():
        for key in ("also_called", "functions"):
            row[key] = tables.split_cell(row[key])
        for key in ("sections", "spacing", "binds"):
            row[key] = row[key] == "yes"
        for key in ("from_year", "to_year"):
            row[key] = None if np.isnan(row[key]) else int(row[key])
        wide = row.pop("wide_from_m")
        row["wide_from"] = None if np.isnan(wide) else float(wide)
        found[row["name"]] = RuleSet(**row)
    return MappingProxyType(found)


@cache
def aliases() -> Mapping[str, str]:
    """List the other names that are understood, each with the name that it stands for."""
    return MappingProxyType({other: one.name for one in rule_sets().values() for other in one.also_called})


def of_the_road() -> tuple[str, ...]:
    """List the rule sets that say what a lamp of a road vehicle shows."""
    return tuple(one.name for one in rule_sets().values() if one.functions)


def rule_set(name: str) -> RuleSet:
    """Look up a rule set by its name, or by another name that is understood.

    Parameters
    ----------
    name : str
        The name, as in 'UN' or 'FMVSS 108'.

    Returns
    -------
    RuleSet
        The rule set.

    Raises
    ------
    InputError
        There are no such rules.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.rules.rule_set("FMVSS 108").name
    'US'
    """
    known = rule_sets()
    if name in known:
        return known[name]
    wanted = str(name).casefold()
    for one in known.values():
        if wanted in (word.casefold() for word in (one.name, *one.also_called)):
            return one
    raise InputError(f"the rules '{name}' are unknown", key="rules", expected=nearest(str(name), [*known, *aliases()]))


def in_force(rules: str, year: int | None) -> RuleSet:
    """Pick the rule set that held in a year, of the family that a name heads.

    Parameters
    ----------
    rules : str
        The name of a rule set; one that heads no family, such as 'UN older', holds as it is named.
    year : int or None [1]
        The year of the vehicle; None where it is not known.

    Returns
    -------
    RuleSet
        The rule set of the year, which may be one that bound no maker.

    Raises
    ------
    InputError
        There are no such rules.

    Examples
    --------
    >>> import lampkit as lk
    >>> [lk.rules.in_force("UN", year).name for year in (1959, 1978, 2005, 2020)]
    ['UN before 1973', 'UN 1973', 'UN 1990', 'UN']
    >>> lk.rules.in_force("US", 1959).binds, lk.rules.in_force("US", 1978).binds
    (False, True)

    Source: the years that each row of data/rules/rule_sets.csv names.
    """
    named = rule_set(rules)
    if year is None or named.family != named.name:
        return named
    for one in rule_sets().values():
        if one.family == named.family and (one.from_year or year) <= year <= (one.to_year or year):
            return one
    return named
