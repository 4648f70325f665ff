"""Decisions, what ties them together, and the best way to take them, group by group."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError
from lampkit.plan.suitability import Family
from lampkit.vehicle.vehicle_parts import CircuitPart

PART_TRIFLE = 1e-6
"""What a part counts besides its price, so that none is taken for nothing [currency]. Source: own choice."""

EQUAL = 1e-7
"""Difference below which two sums are the same [1]. Source: own choice, far below a cent and far above rounding."""

FEW = 4096
"""Combinations up to which all are tried [1]. Source: own choice: that takes as long as to set up anything better."""


class Requirement(NamedTuple):
    """A weighted sum of decisions between two limits, and why; no family where it is how the vehicle is."""

    family: Family | None
    weights: Mapping[int, float]
    low: float = -np.inf
    high: float = np.inf


@dataclass
class Problem:
    """Every decision that is open on a vehicle, and what ties them together.

    A decision is a number: for each lamp its candidates and its filament, and the parts; `upper` is how many times it
    may be taken, `prices` what it costs, `assumed` what stands for a price that nobody told.
    """

    candidates: list[tuple[int, ...]] = field(default_factory=list)
    keep: tuple[int, ...] = ()
    parts: dict[tuple[str, str, CircuitPart], int] = field(default_factory=dict)
    families: dict[int, frozenset[Family]] = field(default_factory=dict)
    upper: list[float] = field(default_factory=list)
    prices: list[float] = field(default_factory=list)
    assumed: list[float] = field(default_factory=list)
    unpriced: dict[int, str] = field(default_factory=dict)
    lights: list[float] = field(default_factory=list)
    rows: list[Requirement] = field(default_factory=list)
    settled: dict[Hashable, list[float] | None] = field(default_factory=dict)

    def decision(self, price: float = 0.0, upper: float = 1.0, assumed: float = 0.0) -> int:
        """Open a decision."""
        self.upper.append(upper)
        self.prices.append(price)
        self.assumed.append(assumed)
        self.lights.append(0.0)
        return len(self.upper) - 1

    def bought(self, name: str, number: int, price: float | None, instead: float, upper: float = 1.0) -> int:
        """Open the decision on what is bought; a price that is not known counts in the choice, and in no total."""
        if price is not None:
            return self.decision(number * price, upper)
        place = self.decision(0.0, upper, number * instead)
        self.unpriced[place] = name
        return place

    def tie(
        self, family: Family | None, weights: Iterable[tuple[int, float]], low: float = -np.inf, high: float = np.inf
    ) -> None:
        """Tie decisions together: their weighted sum must lie between two limits."""
        total: dict[int, float] = {}
        for place, weight in weights:
            total[place] = total.get(place, 0.0) + weight
        self.rows.append(Requirement(family, total, low, high))


@dataclass(frozen=True)
class Solution:
    """One way to fit out the vehicle."""

    picks: tuple[int | None, ...]
    parts: Mapping[tuple[str, str, CircuitPart], int]
    cost: float
    light: float
    unpriced: frozenset[str] = frozenset()

    @property
    def kept(self) -> int:
        """Count the lamps of which the filament stays."""
        return self.picks.count(None)


def solve(
    found: Problem,
    aim: str,
    *,
    without: frozenset[Family] = frozenset(),
    never: Iterable[int] = (),
    other_than: Solution | None = None,
) -> Solution | None:
    """Find the best way to fit out the vehicle: fewest filaments left, then the aim, then the other aim.

    Without requirements of some families, without some decisions, or as near to the best of the same kind as another
    solution can come that differs in a lamp at least and keeps no more filaments.

    Source: scipy.optimize.milp, for each group of decisions that nothing ties to the others, and for all together only
    where the best of each costs more than may be spent.
    """
    upper = np.array(found.upper)
    upper[[*never, *(place for place, families in found.families.items() if families - without)]] = 0.0
    asked = [
        row._replace(weights={place: weight for place, weight in row.weights.items() if weight and upper[place]})
        for row in found.rows
        if row.family not in without
    ]
    if not all(row.weights or (row.low <= EQUAL and row.high >= -EQUAL) for row in asked):
        return None
    asked = [row for row in asked if row.weights]
    cost = np.array(found.prices) + np.array(found.assumed)
    cost[list(found.parts.values())] += PART_TRIFLE
    aims = [cost, -np.array(found.lights)]
    goals = np.zeros((3, len(upper)))
    goals[0, list(found.keep)] = 1.0
    goals[1:] = aims if aim == "least cost" else aims[::-1]
    taken = None
    if other_than is not None:
        pairs = zip(other_than.picks, found.candidates, found.keep, strict=True)
        taken = frozenset(keep if pick is None else places[pick] for pick, places, keep in pairs)
    groups = _groups(upper, [row for row in asked if row.family is not Family.BUDGET])
    values = _by_groups(found, goals, upper, groups, taken)
    spent = [row for row in asked if row.family is Family.BUDGET]
    if values is not None and any(sum(w * values[one] for one, w in row.weights.items()) > row.high for row in spent):
        every = _Group(tuple(np.flatnonzero(upper).tolist()), tuple(asked))
        values = _best_of(found, goals, upper, every if taken is None else _apart(every, goals, taken))
    if values is None:
        return None
    answer = np.array([values.get(place, 0.0) for place in range(len(upper))])
    picks = tuple(
        next((c for c, place in enumerate(places) if answer[place] > 0.5), None) for places in found.candidates
    )
    return Solution(
        picks,
        {key: round(answer[place]) for key, place in found.parts.items() if answer[place] > 0.5},
        float(np.array(found.prices) @ answer),
        float(np.array(found.lights) @ answer),
        frozenset(name for place, name in found.unpriced.items() if answer[place] > 0.5),
    )


class _Group(NamedTuple):
    """Decisions that nothing ties to the others, and what ties them to each other."""

    places: tuple[int, ...]
    rows: tuple[Requirement, ...]


def _groups(upper: NDArray[np.float64], rows: Sequence[Requirement]) -> list[_Group]:
    """Sort the decisions that can be taken, and the requirements, by what is tied together."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ties = [(place, len(upper) + line) for line, row in enumerate(rows) for place in row.weights]
    size = len(upper) + len(rows)
    graph = coo_array((np.ones(len(ties)), np.array(ties, dtype=int).reshape(-1, 2).T), (size, size))
    group_of = connected_components(graph, directed=False)[1]
    groups: dict[int, tuple[list[int], list[Requirement]]] = {}
    for place in np.flatnonzero(upper).tolist():
        groups.setdefault(group_of[place], ([], []))[0].append(place)
    for row, group in zip(rows, group_of[len(upper) :], strict=True):
        groups[group][1].append(row)
    return [_Group(tuple(places), tuple(tied)) for places, tied in groups.values()]


def _by_groups(
    found: Problem,
    goals: NDArray[np.float64],
    upper: NDArray[np.float64],
    groups: Sequence[_Group],
    taken: frozenset[int] | None,
) -> dict[int, float] | None:
    """Find the best of each group; where that is what is taken already, the one that changes for the least."""
    best, changes = dict[int, float](), list[tuple[list[float], dict[int, float]]]()
    for group in groups:
        values = _best_of(found, goals, upper, group)
        if values is None:
            return None
        best.update(values)
    if taken is None or any(best.get(place, 0.0) < 0.5 for place in taken):
        return best
    for group in groups:
        if taken & set(group.places):
            other = _best_of(found, goals, upper, _apart(group, goals, taken))
            if other is not None:
                worse = sum(goals[:, place] * (value - best[place]) for place, value in other.items())
                changes.append((np.round(worse / EQUAL).tolist(), other))
    return best | min(changes, key=lambda change: change[0])[1] if changes else None


def _apart(group: _Group, goals: NDArray[np.float64], taken: frozenset[int]) -> _Group:
    """Ask that a group differs in a lamp from what is taken, and keeps no more filaments."""
    here = [place for place in group.places if place in taken]
    keeps = {place: goals[0, place] for place in group.places if goals[0, place]}
    other = Requirement(None, dict.fromkeys(here, 1.0), high=len(here) - 1.0)
    return _Group(group.places, (*group.rows, other, Requirement(None, keeps, high=sum(goals[0, here]))))


def _best_of(
    found: Problem, goals: NDArray[np.float64], upper: NDArray[np.float64], group: _Group
) -> dict[int, float] | None:
    """Settle one group: the first goal before the second, the second before the third; None where nothing will do."""
    here, most = goals[:, group.places], upper[list(group.places)]
    number = {place: i for i, place in enumerate(group.places)}
    rows = tuple(row._replace(weights={number[one]: w for one, w in row.weights.items()}) for row in group.rows)
    # Groups that are alike, as those of equal circuits are, are settled once.
    key = here.tobytes(), most.tobytes(), tuple((*row.weights.items(), row.low, row.high) for row in rows)
    if key not in found.settled:
        found.settled[key] = _settled(here, most, rows)
    values = found.settled[key]
    return None if values is None else dict(zip(group.places, values, strict=True))


def _settled(goals: NDArray[np.float64], upper: NDArray[np.float64], rows: Sequence[Requirement]) -> list[float] | None:
    from scipy.sparse import csr_array, vstack

    lines = [line for line, row in enumerate(rows) for _ in row.weights]
    weights = [weight for row in rows for weight in row.weights.items()]
    matrix = csr_array(([w for _, w in weights], (lines, [place for place, _ in weights])), (len(rows), len(upper)))
    low, high = np.array([(row.low, row.high) for row in rows]).reshape(-1, 2).T
    if np.sum(np.log2(upper + 1)) <= np.log2(FEW):
        tried = upper[:, None] - np.indices((upper + 1).astype(int).tolist()).reshape(len(upper), -1)
        sums = matrix @ tried
        tried = tried[:, np.all((sums >= low[:, None] - EQUAL) & (sums <= high[:, None] + EQUAL), axis=0)]
        first = np.lexsort(np.round(goals @ tried / EQUAL)[::-1])[:1]
        return tried[:, first[0]].tolist() if len(first) else None
    from scipy.optimize import Bounds, LinearConstraint, milp

    answer = np.zeros(len(upper))
    for goal in goals:
        done = milp(
            goal,
            integrality=np.ones(len(upper), dtype=int),
            bounds=Bounds(0.0, upper),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": 0.0},
        )
        if done.status == 2:
            return None
        if done.x is None:
            raise InputError("the choice of parts was not settled", remedy="fewer candidates for each lamp")
        answer = np.round(done.x)
        matrix = vstack([matrix, goal[None]], format="csr")
        low, high = np.append(low, -np.inf), np.append(high, goal @ answer + EQUAL)
    return [float(value) for value in answer]
