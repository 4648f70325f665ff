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
    asked = [row for row in found.rows if row.family not in without]
    joined = _join(upper, set(found.keep), [row for row in asked if row.family is not Family.BUDGET])
    if joined is None:
        return None
    cost = np.array(found.prices) + np.array(found.assumed)
    cost[list(found.parts.values())] += PART_TRIFLE
    aims = [cost, -np.array(found.lights)]
    goals = np.zeros((3, len(upper)))
    goals[0, list(found.keep)] = 1.0
    goals[1:] = aims if aim == "least cost" else aims[::-1]
    taken = None
    if other_than is not None:
        pairs = zip(other_than.picks, found.candidates, found.keep, strict=True)
        taken = frozenset(joined.stands[keep if pick is None else places[pick]] for pick, places, keep in pairs)
    goals = np.stack([np.bincount(joined.stands, goal, len(upper)) for goal in goals])
    values = _by_groups(found, goals, joined, taken)
    spent = [row._replace(weights=joined.weights(row)) for row in asked if row.family is Family.BUDGET]
    if values is not None and any(sum(w * values[one] for one, w in row.weights.items()) > row.high for row in spent):
        every = _Group(tuple(joined.upper), (*joined.rows, *spent))
        values = _best_of(found, goals, joined.upper, every if taken is None else _apart(every, goals, taken))
    if values is None:
        return None
    answer = np.array([values.get(one, 0.0) for one in joined.stands])
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


class _Joined(NamedTuple):
    """For each decision the one that stands for it, how often those may be taken, and what ties them to each other."""

    stands: Sequence[int]
    upper: Mapping[int, float]
    rows: Sequence[Requirement]

    def weights(self, row: Requirement) -> dict[int, float]:
        """Sum the weights of a requirement by what stands for its decisions, without those that cannot be taken."""
        total: dict[int, float] = {}
        for place, weight in row.weights.items():
            if (one := self.stands[place]) in self.upper:
                total[one] = total.get(one, 0.0) + weight
        return {one: weight for one, weight in sorted(total.items()) if weight}


def _join(upper: NDArray[np.float64], keep: set[int], rows: Sequence[Requirement]) -> _Joined | None:
    """Let one decision stand for all that must equal it, and drop what cannot be and what always holds.

    None where nothing will do.
    """
    stands = list(range(len(upper)))

    def first(place: int) -> int:
        while stands[place] != place:
            place = stands[place]
        return place

    left = list[Requirement]()
    for row in rows:
        if (row.low, row.high) == (0.0, 0.0) and sorted(row.weights.values()) == [-1.0, 1.0]:
            one, other = sorted(map(first, row.weights))
            stands[other] = one
        else:
            left.append(row)
    stands = [first(place) for place in stands]
    most: dict[int, float] = {}
    for one, bound in zip(stands, upper.tolist(), strict=True):
        most[one] = min(most.get(one, np.inf), bound)
    shut = {one for one, bound in most.items() if bound == 0.0}
    while True:
        most = {one: bound for one, bound in most.items() if one not in shut}
        joined = _Joined(stands, most, ())
        left = [row._replace(weights=joined.weights(row)) for row in left]
        nothing = (row.weights for row in left if row.high == 0.0 and min(row.weights.values(), default=0.0) > 0.0)
        shut = {one for weights in nothing for one in weights}
        twins, keeps = dict[int, int](), dict[frozenset[int], int]()
        for row in left:
            for own in keep & row.weights.keys() if _is_choice(row) else ():
                # Lamps with the same candidates keep their filaments together.
                if (other := keeps.setdefault(frozenset(row.weights) - {own}, own)) != own:
                    twins[own] = other
        if not shut and not twins:
            break
        stands = [twins.get(one, one) for one in stands]
        shut |= twins.keys()
    choice_of = {one: number for number, row in enumerate(left) if _is_choice(row) for one in row.weights}
    kept = {}
    for row in left:
        low, high = _reach(row.weights, most, {} if _is_choice(row) else choice_of)
        if low > row.high + EQUAL or high < row.low - EQUAL:
            return None
        if low < row.low or high > row.high:
            kept[tuple(row.weights.items()), row.low, row.high] = row._replace(family=None)
    return _Joined(stands, most, [*kept.values()])


def _is_choice(row: Requirement) -> bool:
    return (row.low, row.high) == (1.0, 1.0) and set(row.weights.values()) <= {1.0}


def _reach(
    weights: Mapping[int, float], upper: Mapping[int, float], choice_of: Mapping[int, int]
) -> tuple[float, float]:
    """Give the least and the most that a weighted sum may come to, one decision of each choice being taken at most."""
    spans: dict[int, tuple[float, float]] = {}
    for place, weight in weights.items():
        choice = choice_of.get(place, -1 - place)
        low, high = spans.get(choice, (0.0, 0.0))
        spans[choice] = min(low, weight * upper[place]), max(high, weight * upper[place])
    return sum(low for low, _ in spans.values()), sum(high for _, high in spans.values())


def _groups(joined: _Joined) -> list[_Group]:
    """Sort decisions and requirements by what is tied together."""
    leads = {place: place for place in joined.upper}

    def lead(place: int) -> int:
        while leads[place] != place:
            place = leads[place]
        return place

    for row in joined.rows:
        one, *others = sorted({lead(place) for place in row.weights})
        leads.update(dict.fromkeys(others, one))
    places: dict[int, list[int]] = {}
    rows: dict[int, list[Requirement]] = {}
    for place in leads:
        places.setdefault(lead(place), []).append(place)
    for row in joined.rows:
        rows.setdefault(lead(next(iter(row.weights))), []).append(row)
    return [_Group(tuple(sorted(held)), tuple(rows.get(one, ()))) for one, held in places.items()]


def _by_groups(
    found: Problem, goals: NDArray[np.float64], joined: _Joined, taken: frozenset[int] | None
) -> dict[int, float] | None:
    """Find the best of each group; where that is what is taken already, the one that changes for the least."""
    best, changes = dict[int, float](), list[tuple[list[float], dict[int, float]]]()
    for group in _groups(joined):
        values = _best_of(found, goals, joined.upper, group)
        if values is None:
            return None
        best.update(values)
    if taken is None or any(best.get(place, 0.0) < 0.5 for place in taken):
        return best
    for group in _groups(joined):
        if taken & set(group.places):
            other = _best_of(found, goals, joined.upper, _apart(group, goals, taken))
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
    found: Problem, goals: NDArray[np.float64], upper: Mapping[int, float], group: _Group
) -> dict[int, float] | None:
    """Settle one group: the first goal before the second, the second before the third; None where nothing will do."""
    here, most = goals[:, group.places], [upper[place] for place in group.places]
    number = {place: i for i, place in enumerate(group.places)}
    rows = tuple(row._replace(weights={number[one]: w for one, w in row.weights.items()}) for row in group.rows)
    # Groups that are alike, as those of equal circuits are, are settled once.
    key = here.tobytes(), tuple(most), tuple((*row.weights.items(), row.low, row.high) for row in rows)
    if key not in found.settled:
        found.settled[key] = _settled(here, np.array(most), rows)
    values = found.settled[key]
    return None if values is None else dict(zip(group.places, values, strict=True))


def _settled(goals: NDArray[np.float64], upper: NDArray[np.float64], rows: Sequence[Requirement]) -> list[float] | None:
    if not rows:
        return [0.0] * len(upper)  # nothing asks for it
    if len(rows) == 1 and _is_choice(rows[0]) and len(rows[0].weights) == len(upper):
        best = min(range(len(upper)), key=lambda i: np.round(goals[:, i] / EQUAL).tolist())
        return [float(i == best) for i in range(len(upper))]
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    matrix = np.zeros((len(rows), len(upper)))
    for line, row in zip(matrix, rows, strict=True):
        line[list(row.weights)] = list(row.weights.values())
    low, high = np.array([row.low for row in rows]), np.array([row.high for row in rows])
    answer = np.zeros(len(upper))
    for goal in goals:
        done = milp(
            goal,
            integrality=np.ones(len(upper), dtype=int),
            bounds=Bounds(0.0, upper),
            constraints=LinearConstraint(csr_array(matrix), low, high),
            options={"mip_rel_gap": 0.0},
        )
        if done.status == 2:
            return None
        if done.x is None:
            raise InputError("the choice of parts was not settled", remedy="fewer candidates for each lamp")
        answer = np.round(done.x)
        matrix = np.vstack([matrix, goal])
        low, high = np.append(low, -np.inf), np.append(high, goal @ answer + EQUAL)
    return [float(value) for value in answer]
