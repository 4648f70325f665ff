"""What is believed, drawn from a seed; coverage intervals of what follows from it; a card that shows it."""

import math
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from html import escape
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError, nearest

Shape = Literal["normal", "lognormal", "uniform", "fixed"]


@dataclass(frozen=True)
class Belief:
    """What is believed about one quantity before it is measured: typical value, spread, and on what ground.

    Parameters
    ----------
    name : str
        The quantity, as in 'edge wavelength'.
    typical : float [1]
        The median, in `unit`.
    spread : float [1]
        In `unit`: the standard deviation of a normal shape, the half-width of a uniform one; for a lognormal shape
        the standard deviation of the natural logarithm.
    unit : str
        The unit, '1' for a plain number.
    source : str
        Where it comes from, or the words 'an assumption'.
    shape : {'normal', 'lognormal', 'uniform', 'fixed'}
        The shape of the distribution.
    low, high : float [1]
        Limits, in `unit`; the part of the distribution beyond each is spread over the half between it and the median.
    stream : str, optional
        Whose draws it shares: two levels of one article have one emitter. Its owner's when left out.

    Examples
    --------
    One standard deviation below, at and above the typical value.

    >>> import lampkit as lk
    >>> edge = lk.uncertainty.Belief("edge wavelength", 600, 5, "nm", "an assumption")
    >>> edge.value([-1, 0, 1])
    array([595., 600., 605.])

    Source: JCGM 101:2008, 6.4, the choice of a distribution.
    """

    name: str
    typical: float
    spread: float
    unit: str
    source: str
    shape: Shape = "normal"
    low: float = -np.inf
    high: float = np.inf
    stream: str | None = None

    def __post_init__(self) -> None:
        if self.shape not in ("normal", "lognormal", "uniform", "fixed"):
            raise InputError(
                f"the shape '{self.shape}' is unknown",
                key=self.name,
                expected="'normal', 'lognormal', 'uniform' or 'fixed'",
            )
        if not (math.isfinite(self.typical) and math.isfinite(self.spread) and self.spread >= 0):
            raise InputError("a belief needs a finite typical value and a spread of zero or more", key=self.name)
        if self.shape == "lognormal" and self.typical <= 0:
            raise InputError(f"a lognormal belief cannot have the median {self.typical:g}", key=self.name)
        if not self.source:
            raise InputError("a belief needs its source, or the words 'an assumption'", key=self.name)
        if not self.low <= self.typical <= self.high:
            raise InputError(
                f"the typical value {self.typical:g} is outside {self.low:g} to {self.high:g} {self.unit}",
                key=self.name,
            )

    def value(self, standard: ArrayLike) -> NDArray[np.float64]:
        """Turn standard normal numbers into values of the quantity.

        Source: JCGM 101:2008, C.2: inverse of the distribution function.
        """
        z = np.asarray(standard, dtype=float)
        if self.shape == "fixed" or self.spread == 0:
            return np.full(z.shape, self.typical)
        if self.shape == "uniform":
            from scipy.special import ndtr

            return np.clip(self.typical + self.spread * (2.0 * ndtr(z) - 1.0), self.low, self.high)
        if self.shape == "normal":
            return self.typical + self.spread * self._cut(z, self.low - self.typical, self.high - self.typical)
        low, high = (math.log(limit / self.typical) if limit > 0.0 else -math.inf for limit in (self.low, self.high))
        return self.typical * np.exp(self.spread * self._cut(z, low, high))

    def _cut(self, z: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
        """Squeeze each half of the distribution between the median and its limit, so that nothing piles up there."""
        low, high = low / self.spread, high / self.spread
        below, above = 0.5 * math.erfc(-low / math.sqrt(2.0)), 0.5 * math.erfc(high / math.sqrt(2.0))
        if below < 1e-9 and above < 1e-9:
            return z
        if z.size >= MANY:
            return _from_table(_cut_table(below, above, low, high), z)
        return _squeezed(z, below, above, low, high)


MANY = 1000
"""Draws from which a cut distribution is read off its table [1]. Source: own measurement: it takes half the time."""

STRETCH = 16384
"""Draws that are worked on at a time [1]. Source: own timing."""

TABLE_END, TABLE_ROWS = 8.0, 8193
"""Standard deviations to which a table of a cut distribution reaches each way, and its rows, 512 for each of them [1].
Source: own comparison with the distribution itself: less than a millionth of a standard deviation, held by a test."""


def _squeezed(z: NDArray[np.float64], below: float, above: float, low: float, high: float) -> NDArray[np.float64]:
    """Squeeze each half of a normal distribution, with what lies beyond its own limit, the same way from the median."""
    from scipy.special import ndtr, ndtri

    beyond = np.where(z < 0, below, above)
    away = -ndtri(beyond + (1.0 - 2.0 * beyond) * ndtr(-np.abs(z)))
    return np.clip(np.copysign(away, z), low, high)


@lru_cache(maxsize=256)
def _cut_table(below: float, above: float, low: float, high: float) -> NDArray[np.float64]:
    """Give a cut distribution at even steps, and how much it grows in each: two rows."""
    cut = _squeezed(np.linspace(-TABLE_END, TABLE_END, TABLE_ROWS), below, above, low, high)
    return np.stack([cut, np.diff(cut, append=cut[-1])])


def _from_table(table: NDArray[np.float64], z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Interpolate many draws in an even table from -TABLE_END to TABLE_END, and go on along its last rows."""
    place = (z + TABLE_END) * ((TABLE_ROWS - 1) / (2.0 * TABLE_END))
    below = np.clip(place, 0, TABLE_ROWS - 2).astype(np.intp)
    place -= below
    place *= table[1][below]
    place += table[0][below]
    return place


@dataclass(frozen=True, eq=False)
class Draws:
    """Many possible garages: for each named quantity one value a garage, and a weight for each garage.

    Source: JCGM 101:2008.
    """

    values: Mapping[tuple[str, str], NDArray[np.float64]]
    weights: NDArray[np.float64]
    beliefs: Mapping[tuple[str, str], Belief]
    seed: int

    def __len__(self) -> int:
        return len(self.weights)

    def of(self, owner: str) -> dict[str, NDArray[np.float64]]:
        """Give the quantities of one owner."""
        found = {name: v for (who, name), v in self.values.items() if who == owner}
        if not found:
            raise InputError(f"nothing was drawn for '{owner}'", expected=nearest(owner, {w for w, _ in self.values}))
        return found


def of_range(
    name: str,
    limits: Sequence[float],
    unit: str,
    bounds: tuple[float, float],
    *,
    key: str,
    what: str,
    shape: Shape = "lognormal",
) -> Belief:
    """Give a belief by the low and high end between which the user holds 95 of 100 cases to lie; equal ends fix it.

    Source: JCGM 101:2008, 6.4.
    """
    try:
        low, high = (float(v) for v in limits)
    except (TypeError, ValueError):
        low, high = np.nan, np.nan
    if not bounds[0] <= low <= high <= bounds[1]:
        raise InputError(f"{limits!r} is no range", key=key, expected=f"two numbers, low and high, {what}")
    log = shape == "lognormal"
    middle = float(np.sqrt(low * high)) if log else 0.5 * (low + high)
    spread = (float(np.log(high / low)) if log else high - low) / (2.0 * 1.959964)
    ground = f"given by the user: 95 % between {low:g} and {high:g}"
    return Belief(name, middle, spread, unit, ground, "fixed" if low == high else shape)


def standard_normal(seed: int, owner: str, name: str, draws: int) -> NDArray[np.float64]:
    """Draw standard normal numbers that depend on the seed and the names only.

    One stream for each quantity: adding a candidate does not change what is drawn for the lens, and every part of
    the kit that draws the same quantity with the same seed sees the same garages.

    Parameters
    ----------
    seed : int [1]
        The seed.
    owner : str
        Whose quantity it is.
    name : str
        The quantity.
    draws : int [1]
        How many.

    Returns
    -------
    ndarray, shape (draws,) [1]
        The numbers.

    Examples
    --------
    The same names and the same seed give the same numbers.

    >>> import lampkit as lk
    >>> a, b = (lk.uncertainty.standard_normal(1, "lens", "edge wavelength", 5) for _ in range(2))
    >>> bool((a == b).all())
    True

    Source: JCGM 101:2008, C.4; the generator is numpy's PCG64.
    """
    key = zlib.crc32(f"{owner}\x1f{name}".encode())
    return np.random.default_rng([seed, key]).standard_normal(draws)


def draw(beliefs: Mapping[str, Iterable[Belief]], draws: int, seed: int) -> Draws:
    """Draw possible garages from what is believed of each owner.

    Parameters
    ----------
    beliefs : mapping of str to iterable of Belief
        For each owner its beliefs.
    draws : int [1]
        How many garages.
    seed : int [1]
        The seed.

    Returns
    -------
    Draws
        The garages, all of one weight.

    Raises
    ------
    InputError
        The number of draws is below one.

    Examples
    --------
    The draws have the spread that was believed.

    >>> import lampkit as lk
    >>> edge = lk.uncertainty.Belief("edge wavelength", 600, 5, "nm", "an assumption")
    >>> garages = lk.uncertainty.draw({"lens": [edge]}, draws=10000, seed=1)
    >>> round(float(garages.values["lens", "edge wavelength"].std()))
    5

    Source: JCGM 101:2008, 7.
    """
    if draws < 1:
        raise InputError(f"{draws} draws were asked for", key="draws", expected="a whole number of one or more")
    known = {(owner, belief.name): belief for owner, listed in beliefs.items() for belief in listed}
    return Draws(
        values={
            (owner, name): (_kept if draws <= STRETCH else _of_belief)(belief, belief.stream or owner, seed, draws)
            for (owner, name), belief in known.items()
        },
        weights=np.full(draws, 1.0 / draws),
        beliefs=known,
        seed=seed,
    )


def _of_belief(belief: Belief, owner: str, seed: int, draws: int) -> NDArray[np.float64]:
    """Turn standard normal numbers into values in their own place, as many at a time as stay in the cache."""
    standard = standard_normal(seed, owner, belief.name, draws)
    for start in range(0, standard.size, STRETCH):
        some = slice(start, start + STRETCH)
        standard[some] = belief.value(standard[some])
    return standard


@lru_cache(maxsize=512)
def _kept(belief: Belief, owner: str, seed: int, draws: int) -> NDArray[np.float64]:
    """Keep what was drawn: the lamps of a vehicle share light sources and lenses, and so do its answers."""
    values = _of_belief(belief, owner, seed, draws)
    values.setflags(write=False)
    return values


def set_belief(beliefs: Iterable[Belief], name: str, **changes: object) -> tuple[Belief, ...]:
    """Return the beliefs with one of them changed.

    Parameters
    ----------
    beliefs : iterable of Belief
        The beliefs.
    name : str
        The one to change.
    **changes
        Fields of Belief, for example typical=0.9, source='measured'.

    Returns
    -------
    tuple of Belief
        The beliefs, in the same order.

    Raises
    ------
    InputError
        There is no belief of that name.

    Examples
    --------
    >>> import lampkit as lk
    >>> lens = lk.lenses.load("red")
    >>> known = lk.uncertainty.set_belief(lens.beliefs, "edge wavelength", typical=604.0, source="measured")
    >>> [b.typical for b in known if b.name == "edge wavelength"]
    [604.0]
    """
    listed = tuple(beliefs)
    if name not in {belief.name for belief in listed}:
        raise InputError(f"there is no belief named '{name}'", expected=nearest(name, [b.name for b in listed]))
    return tuple(replace(b, **changes) if b.name == name else b for b in listed)  # type: ignore[arg-type]


def quantile(values: ArrayLike, probability: ArrayLike, weights: ArrayLike | None = None) -> NDArray[np.float64]:
    """Give weighted quantiles over the last axis.

    Source: JCGM 101:2008, 7.7; between draws the distribution function is linear.
    """
    v = np.asarray(values, dtype=float)
    p = np.asarray(probability, dtype=float)
    if weights is None:
        result = np.quantile(v, np.atleast_1d(p), axis=-1)
        result = np.moveaxis(result, 0, -1)
    elif _alike(weights):
        alike = quantiles([*v.reshape(-1, v.shape[-1])], np.atleast_1d(p), np.asarray(weights))
        result = alike.reshape(*v.shape[:-1], -1)
    else:
        w = np.broadcast_to(np.asarray(weights, dtype=float), v.shape)
        order = np.argsort(v, axis=-1)
        sorted_v = np.take_along_axis(v, order, -1)
        cumulative = np.cumsum(np.take_along_axis(w, order, -1), axis=-1)
        middle = (cumulative - 0.5 * np.take_along_axis(w, order, -1)) / cumulative[..., -1:]
        flat_m, flat_v = middle.reshape(-1, v.shape[-1]), sorted_v.reshape(-1, v.shape[-1])
        rows = [np.interp(np.atleast_1d(p), m, x) for m, x in zip(flat_m, flat_v, strict=True)]
        result = np.array(rows).reshape(*v.shape[:-1], -1)
    return np.asarray(result[..., 0] if p.ndim == 0 else result)


def quantiles(rows: Sequence[NDArray[np.float64]], probability: ArrayLike, weights: ArrayLike) -> NDArray[np.float64]:
    """Give the same quantiles of several quantities of the same garages, each sorted once: a row for each.

    Source: as for `quantile`.
    """
    p = np.asarray(probability, dtype=float)
    if not _alike(weights):
        return np.array([quantile(row, p, weights) for row in rows])
    # Each draw stands for the middle of its share; those of one weight need no running sum.
    found, ordered = np.empty((len(rows), p.size)), np.empty(np.shape(weights))
    place = np.clip(p * ordered.size - 0.5, 0.0, ordered.size - 1.0)
    below = place.astype(int)
    above, share_above = np.minimum(below + 1, ordered.size - 1), place - below
    for row, result in zip(rows, found, strict=True):
        ordered[:] = row  # new memory for each would cost as much as its sorting
        ordered.sort()
        low, high = ordered[below], ordered[above]
        with np.errstate(invalid="ignore"):  # between draws that are infinite
            result[:] = np.where(share_above > 0.0, low * (1.0 - share_above) + high * share_above, low)
    return found


def _alike(weights: ArrayLike) -> bool:
    return np.ndim(weights) == 1 and np.ptp(weights) == 0.0


COVERAGE = 0.95
"""Probability with which an interval holds what it is about [1]. Source: JCGM 101:2008, the usual one."""


def interval(values: ArrayLike, weights: ArrayLike | None = None, *, coverage: float = COVERAGE) -> NDArray[np.float64]:
    """Give the median and the probabilistically symmetric coverage interval of draws.

    Parameters
    ----------
    values : array_like, shape (..., n) [1]
        Draws.
    weights : array_like, shape (n,) [1]
        Weights of the draws; all equal when left out.
    coverage : float [1]
        The coverage probability.

    Returns
    -------
    ndarray, shape (..., 3) [1]
        Lower limit, median, upper limit, in the unit of the values.

    Raises
    ------
    InputError
        The coverage is not between zero and one.

    Examples
    --------
    Of the numbers from 0 to 100, 95 % lie between 2.5 and 97.5.

    >>> import lampkit as lk
    >>> lk.uncertainty.interval(range(101))
    array([ 2.5, 50. , 97.5])

    Source: JCGM 101:2008, 7.7.
    """
    if not 0.0 < coverage < 1.0:
        raise InputError(f"a coverage of {coverage:g} makes no interval", expected="a number between 0 and 1")
    tail = (1.0 - coverage) / 2.0
    return quantile(values, [tail, 0.5, 1.0 - tail], weights)


def interval_by_order(draws: ArrayLike) -> NDArray[np.float64]:
    """Give the interval of draws by their order alone, so that infinite ones stay infinite and never become nan.

    Source: JCGM 101:2008, 7.7.
    """
    return np.asarray(np.quantile(np.asarray(draws, dtype=float), [0.025, 0.5, 0.975], method="inverted_cdf"))


def share(condition: ArrayLike, weights: ArrayLike | None = None) -> NDArray[np.float64]:
    """Give the share of draws for which a condition holds.

    Source: JCGM 101:2008, 7.
    """
    held = np.asarray(condition)
    if weights is None:
        return np.asarray(held.mean(axis=-1))
    w = np.asarray(weights, dtype=float)
    # In stretches: as many numbers as there are draws, in new memory, cost thirty times as much as their sum.
    parts = (slice(start, start + STRETCH) for start in range(0, w.size, STRETCH))
    total = sum(held[..., part] @ w[part] for part in parts)
    return np.asarray(np.minimum(total / w.sum(), 1.0))  # two ways of adding up differ in the last bit


def card(heading: str, curve: NDArray[np.float64], beliefs: tuple[Belief, ...], notes: tuple[str, ...]) -> str:
    """Write what is believed of a thing as a piece of a page: a small curve, the beliefs and the notes."""
    points = "L".join(f"{i / 2:g},{44 - 40 * v:.1f}" for i, v in enumerate(curve[40:401:2].tolist(), start=0))
    rows = "".join(
        f"<tr><td>{escape(b.name)} [{escape(b.unit)}]</td><td>{b.typical:.4g}</td><td>{_spread(b)}</td>"
        f"<td>{escape(b.source)}</td></tr>"
        for b in beliefs
    )
    listed = "".join(f"<li>{escape(note)}</li>" for note in notes)
    return (
        f"<div><b>{escape(heading)}</b><br>"
        '<svg role="img" aria-label="curve from 400 nm to 760 nm" viewBox="-14 0 124 58" width="230" '
        'font-size="8" fill="currentColor" font-family="inherit">'
        f'<path d="M{points}" fill="none" stroke="currentColor" stroke-width="1.2"/>'
        '<path d="M0,44.5H90" stroke="currentColor" stroke-opacity="0.5"/>'
        '<text x="0" y="55" text-anchor="middle">400</text><text x="90" y="55" text-anchor="middle">760 nm</text></svg>'
        f"<table><tr><th>believed</th><th>typical</th><th>95 % between</th><th>on what ground</th></tr>{rows}</table>"
        f"<ul>{listed}</ul></div>"
    )


def _spread(belief: Belief) -> str:
    if belief.shape == "fixed" or belief.spread == 0:
        return ""
    low, high = belief.value(np.array([-1.959964, 1.959964]))
    return f"{low:.4g} to {high:.4g}"


def resampled(garage: Draws) -> Draws:
    """Draw as many garages of equal weight from weighted ones, each as often as its weight says.

    Source: systematic resampling, Kitagawa 1996, doi 10.1080/10618600.1996.10474692.
    """
    n = len(garage)
    ends = np.cumsum(garage.weights) / garage.weights.sum()
    places = np.minimum(np.searchsorted(ends, (np.arange(n) + 0.5) / n), n - 1)
    # In their own order neighbours would be alike; other quantities are drawn beside them, place by place.
    places = np.random.default_rng([garage.seed, n]).permutation(places)
    values = {key: v[places] if np.ndim(v) else v for key, v in garage.values.items()}
    return Draws(values, np.full(n, 1.0 / n), garage.beliefs, garage.seed)


def completed(garage: Draws, beliefs: Mapping[str, Sequence[Belief]]) -> Draws:
    """Draw beside the garages what they do not hold yet."""
    missing = {owner: [b for b in listed if (owner, b.name) not in garage.values] for owner, listed in beliefs.items()}
    fresh = draw(missing, len(garage), garage.seed)
    return Draws(
        values={**garage.values, **fresh.values},
        weights=garage.weights,
        beliefs={**garage.beliefs, **fresh.beliefs},
        seed=garage.seed,
    )
