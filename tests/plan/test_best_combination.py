"""The best of all combinations: held against writing down every one, by trying and by a solver."""

import itertools

import numpy as np
import pytest

from lampkit.plan import best_combination
from lampkit.plan.best_combination import Options, Tie

Problem = tuple[list[Options], list[Tie], list[list[float]], Tie | None]


def invented(seed: int) -> Problem:
    """A few places with a few decisions, tied here and there; sums are often equal, so that the later aims decide."""
    rng = np.random.default_rng(seed)
    numbers = itertools.count()
    places: list[Options] = [tuple((next(numbers), 1) for _ in range(rng.integers(1, 4))) for _ in range(4)]
    for _ in range(2):
        i = next(numbers)
        places.append(tuple((i, n) for n in range(rng.integers(2, 4))))
    size = next(numbers)
    ties = []
    for _ in range(rng.integers(0, 5)):
        members = rng.choice(size, rng.integers(2, 4), replace=False)
        low, high = sorted(rng.integers(-2, 4, 2))
        ties.append(Tie(tuple((int(i), float(rng.integers(-1, 3))) for i in members), float(low), float(high)))
    aims = [[float(x) for x in rng.integers(0, 3, size)] for _ in range(3)]
    budget = Tie(tuple(enumerate(aims[1])), -np.inf, float(rng.integers(2, 8))) if seed % 3 == 0 else None
    return places, ties, aims, budget


def written_down(problem: Problem, other_than: list[int]) -> list[tuple[float, ...]]:
    """The sums of every combination that keeps all ties."""
    places, ties, aims, budget = problem
    found = []
    for picks in itertools.product(*places):
        number = {i: n for i, n in picks if n}
        held = (t.low <= sum(w * number.get(i, 0) for i, w in t.weights) <= t.high for t in [*ties, budget] if t)
        if all(held) and not (other_than and all(i in number for i in other_than)):
            found.append(tuple(sum(aim[i] * n for i, n in number.items()) for aim in aims))
    return found


@pytest.mark.parametrize("most", [0, 2000], ids=["by a solver", "by trying"])
@pytest.mark.parametrize("seed", range(60))
def test_the_best_is_the_least_of_all(seed: int, most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(best_combination, "MOST_BEGUN", most)
    best_combination._searched.cache_clear()
    problem = invented(seed)
    places, ties, aims, budget = problem
    other_than: list[int] = []
    for _ in range(2):  # the best, and then the best that differs from it at one of the first four places
        every = written_down(problem, other_than)
        found = best_combination.best(places, ties, aims, budget=budget, other_than=other_than)
        if found is None:
            assert not every
            break
        assert [sum(aim[i] * n for i, n in found.items()) for aim in aims] == pytest.approx(min(every))
        assert not other_than or not all(i in found for i in other_than)
        other_than = [i for options in places[:4] for i, _ in options if i in found]


def test_what_nothing_ties_together_is_settled_apart() -> None:
    many = [tuple((3 * k + n, 1) for n in range(3)) for k in range(60)]
    aims = [[float((7 * i) % 5) for i in range(180)]]
    found = best_combination.best(many, [], aims)
    assert found is not None
    assert sum(aims[0][i] for i in found) == sum(min(aims[0][i] for i, _ in options) for options in many)
