"""The test points of a lamp function, with the minimum at each and the totals of their groups."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lampkit import tables
from lampkit.rules import limits


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
            ends = [_nearest(grid, offset, on_line & (sign * offset[:, along] > 0)) for sign in (-1, 1)]
            if None not in ends:
                found.append(min(float(grid.minimum[end]) for end in ends if end is not None))
        return min(found, default=0.0)
    if grid.between == "around":
        quarters = [(h * offset[:, 0] >= 0) & (v * offset[:, 1] >= 0) for h in (-1, 1) for v in (-1, 1)]
        corners = [_nearest(grid, offset, quarter) for quarter in quarters]
        if None not in corners:
            return min(float(grid.minimum[corner]) for corner in corners if corner is not None)
    return 0.0


def _nearest(grid: Distribution, offset: NDArray[np.float64], among: NDArray[np.bool_]) -> int | None:
    if not np.any(among):
        return None
    return int(np.where(among, np.hypot(offset[:, 0], offset[:, 1]), np.inf).argmin())
