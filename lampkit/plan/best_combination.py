"""The best of all combinations of decisions: one aim after the other; what nothing ties together is settled apart."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError

Options = tuple[tuple[int, int], ...]
"""What may be decided at one place: one of several decisions, each with a 1, or one decision taken 0, 1, 2... times."""

EQUAL = 1e-7
"""Difference below which two sums are the same [1]. Source: own choice, far below a cent and far above rounding."""

MOST_BEGUN = 2000
"""Combinations begun in one group before a solver takes over [1]. Source: own measurement: loading it takes as long."""


class Tie(NamedTuple):
    """One requirement: a weighted sum of decisions between two limits."""

    weights: tuple[tuple[int, float], ...]
    low: float
    high: float

    def holds(self, answer: Mapping[int, int]) -> bool:
        """Tell whether an answer keeps it."""
        return self.low - EQUAL <= sum(w * answer.get(i, 0) for i, w in self.weights) <= self.high + EQUAL


class _Group(NamedTuple):
    """Places that ties bind together, what each decision there adds to each aim, and these ties."""

    places: tuple[Options, ...]
    adds: tuple[tuple[tuple[float, ...], ...], ...]
    ties: tuple[Tie, ...]


class _TooMany(Exception):
    """Trying every combination would take long."""


def best(
    places: Sequence[Options],
    ties: Sequence[Tie],
    aims: Sequence[Sequence[float]],
    *,
    budget: Tie | None = None,
    other_than: Sequence[int] = (),
) -> dict[int, int] | None:
    """Decide at each place so that the sum of the first aim is least, then of the next; None where nothing will do.

    A budget binds everything together, as `other_than` does, of whose decisions one at least must differ: the best
    without a budget is mostly within it, and what differs at least loss differs in one group only.
    """
    try:
        answer = _apart(_groups(places, ties, aims), other_than)
        if answer is None or budget is None or budget.holds(answer):
            return answer
    except _TooMany:
        pass
    over_all = [*([_differing(other_than)] if other_than else []), *([budget] if budget else [])]
    return _solved(places, [*ties, *over_all], aims)


def _differing(decisions: Sequence[int]) -> Tie:
    return Tie(tuple((i, 1.0) for i in decisions), -np.inf, len(decisions) - 1.0)


def _groups(places: Sequence[Options], ties: Sequence[Tie], aims: Sequence[Sequence[float]]) -> list[_Group]:
    """Split places into groups that no tie binds together; a tie that nothing left can break is no tie."""
    place_of = {i: place for place, options in enumerate(places) for i, _ in options}
    binding: list[tuple[list[int], Tie]] = []
    for tie in ties:
        weights = {i: w for i, w in tie.weights if i in place_of}
        bound = [*dict.fromkeys(place_of[i] for i in weights)]
        sums = [[number * weights.get(i, 0.0) for i, number in places[place]] for place in bound]
        if sum(map(min, sums)) < tie.low - EQUAL or sum(map(max, sums)) > tie.high + EQUAL:
            binding.append((bound, Tie(tuple(weights.items()), tie.low, tie.high)))
    # Places that a tie of few binds follow each other, so that it is broken soon or never.
    binding.sort(key=lambda one: len(one[0]))
    group_of = {place: [place] for place in range(len(places))}
    for bound, _ in binding:
        for place in bound[1:]:
            first, second = group_of[bound[0]], group_of[place]
            if first is not second:
                first += second
                group_of.update(dict.fromkeys(second, first))
    return [
        _Group(
            tuple(places[place] for place in group),
            tuple(tuple(tuple(number * aim[i] for aim in aims) for i, number in places[place]) for place in group),
            tuple(tie for bound, tie in binding if (bound[0] if bound else 0) in group),
        )
        for group in {id(group): group for group in group_of.values()}.values()
    ]


def _apart(groups: Sequence[_Group], other_than: Sequence[int]) -> dict[int, int] | None:
    """Settle each group by itself; what must differ differs in the group that loses least by it."""
    found = [_searched(group) for group in groups]
    first = [one for one in found if one is not None]
    if len(first) < len(groups):
        return None
    if other_than:
        instead: tuple[NDArray[np.float64], int, _Settled] | None = None
        for place, group in enumerate(groups):
            here = [i for options in group.places for i, _ in options if i in other_than]
            other = _searched(group._replace(ties=(*group.ties, _differing(here)))) if here else None
            if other is not None:
                loss = other.sums - first[place].sums
                if instead is None or _less(loss, instead[0]):
                    instead = loss, place, other
        if instead is None:
            return None
        first[instead[1]] = instead[2]
    return {i: number for one in first for i, number in one.decided if number}


class _Settled(NamedTuple):
    """What is decided in one group, and what that adds up to."""

    sums: NDArray[np.float64]
    decided: tuple[tuple[int, int], ...]


def _less(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Tell whether sums are less than others, the first that is not the same deciding."""
    return next((bool(a < b) for a, b in zip(one, other, strict=True) if abs(a - b) > EQUAL), False)


@lru_cache(maxsize=512)
def _searched(group: _Group) -> _Settled | None:
    """Go through the combinations of a group that may still be best; among equals the first on the list wins."""
    weights = [dict(tie.weights) for tie in group.ties]
    loads = [
        np.array([[number * of.get(i, 0.0) for of in weights] for i, number in options]).reshape(
            len(options), len(weights)
        )
        for options in group.places
    ]
    adds = [np.array(one) for one in group.adds]
    if not all(map(len, adds)):
        return None
    low = np.array([tie.low for tie in group.ties]) - EQUAL
    high = np.array([tie.high for tie in group.ties]) + EQUAL
    # From each place on: the least and the most that the rest may add.
    depth = len(adds)
    least, most = [np.zeros(len(weights))] * (depth + 1), [np.zeros(len(weights))] * (depth + 1)
    rest = [np.zeros(adds[0].shape[1])] * (depth + 1)
    for at in reversed(range(depth)):
        least[at], most[at] = least[at + 1] + loads[at].min(axis=0), most[at + 1] + loads[at].max(axis=0)
        rest[at] = rest[at + 1] + adds[at].min(axis=0)
    settled: _Settled | None = None
    begun = 0
    open_: list[tuple[tuple[int, ...], NDArray[np.float64], NDArray[np.float64]]] = [((), least[-1], rest[-1])]
    while open_:
        picks, load, sums = open_.pop()
        at = len(picks)
        if settled is not None and not _less(sums + rest[at], settled.sums):
            continue
        if at == depth:
            settled = _Settled(sums, tuple(group.places[place][pick] for place, pick in enumerate(picks)))
            continue
        begun += 1
        if begun > MOST_BEGUN:
            raise _TooMany
        loaded, added = load + loads[at], sums + adds[at]
        able = np.all((loaded + most[at + 1] >= low) & (loaded + least[at + 1] <= high), axis=1)
        # The most promising is taken up first.
        open_ += [((*picks, int(i)), loaded[i], added[i]) for i in np.lexsort(added.T[::-1])[::-1] if able[i]]
    return settled


def _solved(places: Sequence[Options], ties: Sequence[Tie], aims: Sequence[Sequence[float]]) -> dict[int, int] | None:
    """Find the best by a solver: one aim after the other, each held while the next is sought.

    Source: scipy.optimize.milp.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    size = len(aims[0])
    upper = np.zeros(size)
    for i, number in chain(*places):
        upper[i] = max(upper[i], number)
    one_of = [
        Tie(tuple((i, 1.0) for i, _ in options), 1.0, 1.0) for options in places if all(n == 1 for _, n in options)
    ]
    ties = [*ties, *one_of]
    matrix = np.zeros((len(ties), size))
    for line, tie in zip(matrix, ties, strict=True):
        for i, weight in tie.weights:
            line[i] = weight
    low, high = np.array([tie.low for tie in ties]), np.array([tie.high for tie in ties])
    answer = np.zeros(size)
    for aim in aims:
        done = milp(
            aim,
            integrality=np.ones(size, dtype=int),
            bounds=Bounds(0.0, upper),
            constraints=LinearConstraint(csr_array(matrix), low, high),
            options={"mip_rel_gap": 0.0},
        )
        if done.status == 2:
            return None
        if done.x is None:
            raise InputError("the choice of parts was not settled", remedy="fewer candidates for each lamp")
        answer = np.round(done.x)
        matrix, low, high = np.vstack([matrix, aim]), np.append(low, -np.inf), np.append(high, aim @ answer + EQUAL)
    return {int(i): int(answer[i]) for i in np.flatnonzero(answer)}
