"""The test points of a lamp function: in which directions the rules look, and how much light they ask for there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lampkit import tables


@dataclass(frozen=True, eq=False)
class Distribution:
    """The test points of a lamp function with the minimum at each.

    Parameters
    ----------
    name : str
        Which printed pattern it is.
    angles : ndarray, shape (n, 2) [deg]
        H (right positive) and V (up positive) of each point.
    minimum : ndarray, shape (n,) [cd]
        The minimum at each point.
    group : ndarray, shape (n,) [1]
        Number of the group whose total counts; zero where each point counts alone.
    single_point_share : float [1]
        Down to which share of its minimum a single point may fall, as long as the total of its group is met.
    source : str
        Key of the bibliography, with table or clause.
    known : str
        How the values are known.

    Source: the rules that each row of data/signals/light_distribution.csv names.
    """

    name: str
    angles: NDArray[np.float64]
    minimum: NDArray[np.float64]
    group: NDArray[np.int64]
    single_point_share: float
    source: str
    known: str


def distribution(function: str, rules: str, category: str, colour: str, axis_minimum: float) -> Distribution | None:
    """Give the test points of a lamp function, scaled to its minimum on the axis.

    Parameters
    ----------
    function : str
        The lamp function.
    rules : str
        'UN' or 'US'; others have no test points here.
    category : str
        The UN category, or empty.
    colour : str
        The colour of the light.
    axis_minimum : float [cd]
        The minimum on the axis.

    Returns
    -------
    Distribution or None
        The test points; None where the kit holds only the axis.

    Source: the rules that each row of data/signals/light_distribution.csv names.
    """
    if rules == "UN":
        name = "UN high-mounted stop" if category in ("S3", "S4") else "UN standard"
        if category not in ("S1", "S2", "S3", "S4", "A", "R1", "R2", "1", "1a", "1b", "2a", "2b"):
            return None
    else:
        shown = {("rear turn", "red"): ("stop", "red"), ("front position", "amber"): ("front position", "white")}
        name = " ".join([rules, *shown.get((function, colour), (function, colour))])
    rows = [row for row in tables.load("signals", "light_distribution").rows() if row["grid"] == name]
    if not rows:
        return None
    angles = np.array([[row["h_deg"], row["v_deg"]] for row in rows])
    share = np.array([row["percent"] / 100.0 for row in rows])
    printed = np.array([row["minimum_cd"] for row in rows])
    known = rows[0]["known"]
    if rules == "UN":
        minimum, single = share * axis_minimum, 1.0
    else:
        at_axis = printed[(angles == 0).all(axis=1)][0]
        minimum = printed * (axis_minimum / at_axis)
        if axis_minimum != at_axis:
            known = f"{known}; scaled with the minimum on the axis, the printed values were not seen"
        single = next(
            row["low"]
            for row in tables.load("signals", "further_limits").rows()
            if row["quantity"] == "single point share"
        )
    group = np.nan_to_num(np.array([row["group"] for row in rows])).astype(np.int64)
    return Distribution(name, angles, minimum, group, single, f"{rows[0]['source']}, {rows[0]['clause']}", known)
