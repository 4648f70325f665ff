"""The test points of a lamp function, and readings in several directions held against them."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit import tables
from lampkit.errors import InputError
from lampkit.rules import limits
from lampkit.rules.limits import LimitComparison, LimitVerdict
from lampkit.statements import Statement, named, say

if TYPE_CHECKING:
    from lampkit.rules.intensity_limits import Requirement

ANGLE_TOLERANCE = 0.5
"""How near a reading must lie to a test point to count as taken there [deg]."""


@dataclass(frozen=True, eq=False)
class Distribution:
    """The test points of a lamp function with the minimum at each."""

    name: str
    angles: NDArray[np.float64]
    minimum: NDArray[np.float64]
    group: NDArray[np.int64]
    group_totals: NDArray[np.float64]
    single_point_share: float
    between: str
    source: str
    known: str


@dataclass(frozen=True)
class GroupTotal:
    """The total of one group of test points against the published one."""

    group: int
    points: int
    read: int
    total: float
    needed: float
    verdict: LimitVerdict


@dataclass(frozen=True, eq=False)
class GridComparison:
    """Readings in several directions, held against the test points of a requirement.

    Source: UN R148, 4.8.3.1; FMVSS 108, the tables with groups.
    """

    angles: NDArray[np.float64]
    intensities: NDArray[np.float64]
    minimum: NDArray[np.float64]
    margins: NDArray[np.float64]
    unread: NDArray[np.float64]
    groups: tuple[GroupTotal, ...]
    brightest: tuple[tuple[int, LimitComparison], ...]
    statements: tuple[Statement, ...]


def distribution(
    function: str,
    rules: str,
    category: str,
    colour: str,
    axis_minimum: float,
    compartments: int = 1,
    *,
    wide: bool = False,
) -> Distribution | None:
    """Give the test points of a lamp function, scaled to its minimum on the axis."""
    asked = {"rules": rules, "function": function, "category": category, "colour": colour}
    widths = ("wide", "") if wide else ("",)
    patterns = [
        row
        for row in tables.load("rules", "grids").rows()
        if limits.number(row["compartments"], compartments) == compartments
        and all(row[key] in ("", word) for key, word in asked.items())
        and row["width"] in widths
    ]
    if not patterns:
        return None
    pattern = min(patterns, key=lambda row: widths.index(row["width"]))
    rows = [row for row in tables.load("rules", "light_distribution").rows() if row["grid"] == pattern["grid"]]
    angles = np.array([[row["h_deg"], row["v_deg"]] for row in rows])
    printed = np.array([row["minimum_cd"] for row in rows])
    factor = 1.0
    if np.all(np.isnan(printed)):
        minimum = np.array([row["percent"] / 100.0 for row in rows]) * axis_minimum
    else:
        factor = axis_minimum / float(printed[(angles == 0).all(axis=1)][0])
        minimum = printed * factor
    quantity = "group total of a wide vehicle" if pattern["width"] else "group total"
    totals = {
        row["where"]: row["value"]
        for row in tables.load("rules", "intensity_limits").rows()
        if row["quantity"] in ("group total", quantity)
        and (row["rules"], row["function"], row["compartments"]) == (rules, function, compartments)
        and colour in tables.split_cell(row["colour"])
    }
    group = np.nan_to_num(np.array([row["group"] for row in rows])).astype(np.int64)
    every = [totals[f"group {number}"] for number in range(1, int(group.max()) + 1)]
    return Distribution(
        name=pattern["grid"],
        angles=angles,
        minimum=minimum,
        group=group,
        group_totals=np.array(every) * factor,
        single_point_share=limits.number(pattern["single_point_share"], 1.0),
        between=pattern["between"],
        source=f"{rows[0]['source']}, {rows[0]['clause']}",
        known=rows[0]["known"],
    )


def minimum_between(grid: Distribution, at: NDArray[np.float64], tolerance: float) -> float:
    """Give the least that a direction between the test points may show [cd]; zero where the rules ask for none.

    On a line: the lower minimum of the two nearest points on it. Around: the lowest minimum of the nearest point in
    each of the four quarters; outside of the points nothing is asked.

    Source: FMVSS 108, footnotes of tables VI to XIV; UN R148, annex 3, 1.2 (both read in a secondary text).
    """
    offset = grid.angles - at
    if grid.between == "line":
        found = []
        for along, across in ((0, 1), (1, 0)):
            on_line = np.abs(offset[:, across]) <= tolerance
            ends = [_nearest(offset, on_line & (sign * offset[:, along] > 0)) for sign in (-1, 1)]
            if None not in ends:
                found.append(min(float(grid.minimum[end]) for end in ends if end is not None))
        return min(found, default=0.0)
    if grid.between == "around":
        quarters = [(h * offset[:, 0] >= 0) & (v * offset[:, 1] >= 0) for h in (-1, 1) for v in (-1, 1)]
        corners = [_nearest(offset, quarter) for quarter in quarters]
        if None not in corners:
            return min(float(grid.minimum[corner]) for corner in corners if corner is not None)
    return 0.0


def _nearest(offset: NDArray[np.float64], among: NDArray[np.bool_]) -> int | None:
    if not np.any(among):
        return None
    return int(np.where(among, np.hypot(offset[:, 0], offset[:, 1]), np.inf).argmin())


def candela(values: ArrayLike) -> NDArray[np.float64]:
    """Pass intensities that are numbers, zero or more; refuse others."""
    array = np.asarray(values, dtype=float)
    if not np.all(np.isfinite(array)) or np.any(array < 0):
        raise InputError("an intensity is negative or not a number", expected="candela, zero or more")
    return array


def against_grid(requirement: "Requirement", angles: ArrayLike, intensities: ArrayLike) -> GridComparison:
    """Hold readings in several directions against the test points, by the rule of the regulation.

    UN: on the axis at least the minimum, elsewhere at least its percentage, nowhere above the maximum; between the
    points at least the lowest minimum of those around. FMVSS 108: each group at least its published total; a single
    point of a turn or stop lamp at least 60 % of its own minimum, one of a tail, parking or reversing lamp anything as
    long as the total is met, one of a side marker all of it; between two points on a horizontal or vertical line at
    least the lower of their minima.

    Parameters
    ----------
    requirement : Requirement
        The requirement.
    angles : array_like, shape (n, 2) [deg]
        H (right positive) and V (up positive) of each reading.
    intensities : array_like, shape (n,) [cd]
        The readings.

    Returns
    -------
    GridComparison
        Margins, totals and statements. They compare numbers; they approve nothing.

    Raises
    ------
    InputError
        The kit holds no test points for the function, the shapes differ, a direction was read twice, or an
        intensity is negative.

    Examples
    --------
    >>> import lampkit as lk
    >>> stop = lk.rules.requirement("stop")
    >>> read = lk.rules.against_grid(stop, [[0, 0], [5, 0]], [70.0, 50.0])
    >>> print(read.statements[1])
    H 5, V 0: 50 cd is past the published minimum of 54 cd by 4 cd

    Source: UN R148, 4.8.3.1; FMVSS 108, footnotes of tables VI to XV (both read in a secondary text).
    """
    grid = requirement.distribution
    if grid is None:
        raise InputError(
            f"the kit holds no test points for '{requirement.function}' under the rules '{requirement.rules}'",
            remedy="hold the reading on the axis against it with compare_on_axis",
        )
    read, values = np.asarray(angles, dtype=float), candela(intensities)
    if read.ndim != 2 or read.shape[-1] != 2 or values.shape != read.shape[:1] or not np.all(np.isfinite(read)):
        raise InputError(
            f"directions of shape {read.shape} stand beside intensities of shape {values.shape}",
            expected="(n, 2) degrees and (n,) candela",
        )
    off = np.abs(read[:, np.newaxis] - grid.angles).max(axis=-1)
    near: NDArray[np.bool_] = np.asarray(off <= ANGLE_TOLERANCE)
    if np.any(near.sum(axis=0) > 1):
        twice = grid.angles[near.sum(axis=0) > 1][0]
        raise InputError(f"H {twice[0]:g}, V {twice[1]:g} was read twice", expected="one reading a direction")
    taken: NDArray[np.bool_] = np.asarray(near.any(axis=0))
    at_point: NDArray[np.bool_] = np.asarray(near.any(axis=1))
    field = max((limit.low for limit in requirement.field_minimum), default=0.0)
    beside = [
        0.0 if found else minimum_between(grid, at, ANGLE_TOLERANCE) for at, found in zip(read, at_point, strict=True)
    ]
    minimum = np.where(at_point, near @ grid.minimum, beside)
    single = np.where(at_point, minimum * grid.single_point_share, np.maximum(minimum, field))
    margins = values - single
    between = ~at_point & (minimum > field)

    groups = tuple(_group_total(grid, int(k), taken, near, values) for k in np.unique(grid.group[grid.group > 0]))
    brightest = []
    for limit in requirement.maxima:
        holds = (read[:, 1] >= limit.v_from) & (read[:, 1] < limit.v_to)
        if np.any(holds):
            place = int(np.flatnonzero(holds)[values[holds].argmax()])
            brightest.append((place, limits.compare_with_limit(limit, values[place])))
    return GridComparison(
        angles=read,
        intensities=values,
        minimum=minimum,
        margins=margins,
        unread=grid.angles[~taken],
        groups=groups,
        brightest=tuple(brightest),
        statements=(
            say(
                "test_points.read",
                read=int(taken.sum()),
                points=len(taken),
                source=grid.source,
                known=grid.known,
            ),
            *_points_past(grid, read, values, single, at_point, between),
            *(_group_statement(total) for total in groups),
            *(
                say("test_points.brightest", h=float(read[k, 0]), v=float(read[k, 1]), held=held.statement)
                for k, held in brightest
            ),
        ),
    )


def _group_total(
    grid: Distribution,
    group: int,
    taken: NDArray[np.bool_],
    near: NDArray[np.bool_],
    values: NDArray[np.float64],
) -> GroupTotal:
    members = grid.group == group
    total, needed = float(values[near[:, members].any(axis=1)].sum()), float(grid.group_totals[group - 1])
    verdict = LimitVerdict.NOT_SETTLED
    if np.all(taken[members]):
        verdict = LimitVerdict.INSIDE if total >= needed else LimitVerdict.PAST
    return GroupTotal(group, int(members.sum()), int(taken[members].sum()), total, needed, verdict)


def _group_statement(found: GroupTotal) -> Statement:
    if found.verdict is LimitVerdict.NOT_SETTLED:
        return say("test_points.group_open", group=found.group, read=found.read, points=found.points)
    return say(
        "test_points.group",
        group=found.group,
        points=found.points,
        total=found.total,
        verdict=named(found.verdict),
        needed=found.needed,
        difference=abs(found.total - found.needed),
    )


def _points_past(
    grid: Distribution,
    read: NDArray[np.float64],
    values: NDArray[np.float64],
    needed: NDArray[np.float64],
    at_point: NDArray[np.bool_],
    between: NDArray[np.bool_],
) -> list[Statement]:
    past = np.flatnonzero(values < needed)
    if len(past) == 0:
        return [say("test_points.none_past")]
    at_a_point = say("test_points.minimum") if grid.single_point_share == 1.0 else say("test_points.least")
    return [
        say(
            "test_points.past",
            h=float(read[k, 0]),
            v=float(read[k, 1]),
            intensity=float(values[k]),
            what=at_a_point if at_point[k] else say("test_points.between" if between[k] else "test_points.field"),
            needed=float(needed[k]),
            lacking=float(needed[k] - values[k]),
        )
        for k in past
    ]
