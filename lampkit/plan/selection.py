"""The choice for a whole vehicle as decisions: what may be combined, what is asked of it, and the best of it."""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit.circuits.flashers import Flasher, FlasherKind
from lampkit.circuits.loads import load_current, resistor_load
from lampkit.errors import InputError
from lampkit.plan import circuit_needs, socket_voltages, suitability
from lampkit.plan.circuit_needs import SIDES
from lampkit.plan.suitability import Family, Refusals, left_and_right
from lampkit.rules import functions
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

LIGHT_CAP = 2.0
"""Times the filament's light beyond which more counts for nothing [1]. Source: own judgement: the signal is then plain,
and more of it begins to dazzle."""

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


def problem(
    vehicle: Vehicle,
    refused: Sequence[Sequence[Refusals]],
    ratios: Sequence[Sequence[float]],
    too_near: Callable[[int, int, int | None, int | None], bool],
    budget: float | None,
) -> Problem:
    """Put down everything that is open on a vehicle, and what ties it together."""
    lamps, found = vehicle.lamps, Problem()
    found.candidates = _open_candidates(found, vehicle)
    found.keep = tuple(found.decision() for _ in lamps)
    for of_lamp, stays in zip(found.candidates, found.keep, strict=True):
        found.tie(None, [(place, 1.0) for place in (*of_lamp, stays)], 1.0, 1.0)
    _tie_levels(found, lamps)
    if vehicle.asked.alike:
        for group in left_and_right(lamps):
            _tie_alike(found, Family.ALIKE, lamps, group)
    for group in sharing.one_source(lamps):
        _tie_alike(found, None, lamps, group)
    _tie_stop_and_tail(found, vehicle, too_near)
    for circuit in vehicle.circuits:
        counted = sharing.once_each([lamp for lamp in lamps if lamp.circuit is circuit])
        on_it = [i for i, lamp in enumerate(lamps) if lamp in counted]
        if on_it:
            _tie_circuit(_Circuit(found, vehicle, circuit, on_it))
    if budget is not None:
        found.tie(Family.BUDGET, [(i, p) for i, p in enumerate(found.prices) if p], high=budget + 1e-6)
    beside_stop = {pair.dim for pair in sharing.outshining(lamps, vehicle.held_to.name)}
    for i, (places, against, times) in enumerate(zip(found.candidates, refused, ratios, strict=True)):
        found.families.update(zip(places, map(frozenset, against), strict=True))
        # More light of a tail lamp makes its stop lamp harder to tell, and more of a tell-tale dazzles: no virtue.
        plain = i in beside_stop or functions.function(lamps[i].function).tell_tale
        for place, ratio in zip(places, times, strict=True):
            found.lights[place] = np.log2(np.clip(ratio, 1e-6, 1.0 if plain else LIGHT_CAP))
    return found


def _open_candidates(found: Problem, vehicle: Vehicle) -> list[tuple[int, ...]]:
    along = sharing.comes_along(vehicle.lamps)
    instead = dearest(vehicle.offers)
    candidates = []
    for i, lamp in enumerate(vehicle.lamps):
        places = []
        for offer in lamp.candidates:
            # The second level of an article, and its second function, come with the first; what is fitted is there.
            there = i in along or offer is lamp.fitted
            price = 0.0 if there else suitability.article_price(offer, vehicle.offers)
            places.append(found.bought(offer.dim_level_of or offer.name, lamp.quantity, price, instead))
        candidates.append(tuple(places))
    return candidates


def dearest(offers: Sequence[Offer] | Sequence[CircuitPart]) -> float:
    """Give what stands for a price that is not known: the dearest on offer, so that it never wins by being untold."""
    return max((one.price for one in offers if one.price is not None), default=0.0)


def _tie_stop_and_tail(
    found: Problem, vehicle: Vehicle, too_near: Callable[[int, int, int | None, int | None], bool]
) -> None:
    for a, b, _ in sharing.outshining(vehicle.lamps, vehicle.held_to.name):
        for c, first in [*enumerate(found.candidates[a]), (None, found.keep[a])]:
            for d, second in [*enumerate(found.candidates[b]), (None, found.keep[b])]:
                if too_near(a, b, c, d):
                    found.tie(Family.STOP_OVER_TAIL, [(first, 1.0), (second, 1.0)], high=1.0)


def _tie_levels(found: Problem, lamps: Sequence[Lamp]) -> None:
    for major, minor in sharing.holders(lamps):
        names = {offer.name: p for offer, p in zip(lamps[major].candidates, found.candidates[major], strict=True)}
        dims: dict[str, list[int]] = {name: [] for name in names}
        for offer, place in zip(lamps[minor].candidates, found.candidates[minor], strict=True):
            if offer.dim_level_of in dims:
                dims[offer.dim_level_of].append(place)
            else:
                found.tie(None, [(place, 1.0)], high=0.0)
        for name, place in names.items():
            found.tie(None, [(place, 1.0), *((dim, -1.0) for dim in dims[name])], 0.0, 0.0)


def _tie_alike(found: Problem, family: Family | None, lamps: Sequence[Lamp], group: Sequence[int]) -> None:
    """Give lamps the same light source, by its name."""
    named = [{o.name: p for o, p in zip(lamps[i].candidates, found.candidates[i], strict=True)} for i in group]
    for one, other in pairwise(named):
        for name in {**one, **other}:
            both = [(one[name], 1.0)] if name in one else []
            both += [(other[name], -1.0)] if name in other else []
            found.tie(family, both, 0.0, 0.0)


@dataclass
class Side:
    """What flashes together on one circuit, all lamps of it where nothing flashes, with the decisions that load it."""

    name: str
    members: tuple[int, ...]
    ballasts: list[tuple[int, CircuitPart]] = field(default_factory=list)

    def draws(self, at: float) -> list[tuple[int, float]]:
        """Give what each ballast resistor across its lamps draws at a voltage."""
        return [(place, float(load_current(resistor_load(p.resistance or np.inf), at))) for place, p in self.ballasts]


@dataclass
class _Circuit:
    """One circuit of a vehicle while its ties are written down."""

    found: Problem
    vehicle: Vehicle
    circuit: Circuit
    on_it: Sequence[int]

    def sides(self) -> list[Side]:
        """Split the circuit into what flashes together."""
        here = [self.vehicle.lamps[i] for i in self.on_it]
        of_side = {side: circuit_needs.lamps_of_side(here, side) for side in SIDES}
        return [
            Side(side, tuple(i for i in self.on_it if self.vehicle.lamps[i] in lamps))
            for side, lamps in of_side.items()
        ]

    def currents(
        self, places: Iterable[int], at: float, cold: bool = False, unknown_as_filament: bool = False
    ) -> list[tuple[int, float]]:
        """Give what each decision on some lamps would draw at a voltage."""
        found = []
        for i in places:
            lamp = self.vehicle.lamps[i]
            options = [*zip(self.found.candidates[i], lamp.candidates, strict=True), (self.found.keep[i], None)]
            stands_for = circuit_needs.current_of(lamp, None, at) / lamp.quantity if unknown_as_filament else 0.0
            found += [
                (place, circuit_needs.current_of(lamp, offer, at, cold=cold, unknown=stands_for))
                for place, offer in options
            ]
        return found

    def fitted(self, side: str, part: CircuitPart, upper: float = 1.0) -> int:
        """Open the decision whether, or how many times, a part is fitted."""
        key = self.circuit.name, side, part
        if key not in self.found.parts:
            instead = dearest(self.vehicle.parts)
            self.found.parts[key] = self.found.bought(part.name, 1, part.price, instead, upper)
        return self.found.parts[key]


def _tie_circuit(circuit: _Circuit) -> None:
    """Tie the lamps of one circuit to its flasher, its tell-tale, its switch and its fuse."""
    sides = circuit.sides()
    lamps = circuit.vehicle.lamps
    unit = circuit_needs.fitted_flasher(
        circuit.circuit, [lamps[i] for i in circuit.on_it], circuit.vehicle.supply_voltage
    )
    if unit is not None and unit.kind is not FlasherKind.LOAD_INDEPENDENT and any(side.members for side in sides):
        flashers = _open_cures(circuit, sides)
        for side in sides:
            if side.members:
                _tie_flasher(circuit, side, unit, flashers)
    tell_tales = [i for i in circuit.on_it if functions.function(lamps[i].function).tell_tale]
    if circuit.circuit.tell_tale == "single between sides":
        _tie_tell_tale(circuit, sides, tell_tales)
    _tie_current(circuit, sides)


def _open_cures(circuit: _Circuit, sides: Sequence[Side]) -> list[int]:
    """Open the decisions on ballast resistors, side by side, and on another flasher, which are returned."""
    vehicle, flashers = circuit.vehicle, []
    for part in vehicle.parts:
        if part.kind == "load-independent flasher":
            flashers.append(circuit.fitted("", part))
        elif part.kind == "ballast resistor" and fits(part, vehicle.running_voltage):
            for side in sides:
                if side.members:
                    most = float(sum(vehicle.lamps[i].quantity for i in side.members))
                    side.ballasts.append((circuit.fitted(side.name, part, most), part))
    if flashers:
        circuit.found.tie(None, [(place, 1.0) for place in flashers], high=1.0)
    return flashers


def _tie_flasher(circuit: _Circuit, side: Side, unit: Flasher, flashers: Sequence[int]) -> None:
    """Give the flasher the current that it needs from one side, or another flasher in its place."""
    found, lamps = circuit.found, circuit.vehicle.lamps
    members = [lamps[i] for i in side.members]
    need = socket_voltages.need_of_flasher(circuit.vehicle, circuit.circuit, unit, members)
    load = [*circuit.currents(side.members, need.voltage, cold=need.cold), *side.draws(need.voltage)]
    cured = [(place, need.current) for place in flashers]
    found.tie(Family.FLASHER, [*load, *cured], low=need.current * (1 - 1e-9) - 1e-9)
    if np.isfinite(need.most):
        load = [*circuit.currents(side.members, need.voltage_at_most), *side.draws(need.voltage_at_most)]
        # Every lamp and every ballast at once: a bound that a flasher which ignores the load may reach.
        heaviest = sum(weight * found.upper[place] for place, weight in load)
        excused = [(place, -heaviest) for place in flashers]
        found.tie(Family.FLASHER, [*load, *excused], high=need.most * (1 + 1e-9) + 1e-9)
    if side.ballasts:
        # A ballast lies across a lamp that was converted.
        room = [(circuit.found.keep[i], float(lamps[i].quantity)) for i in side.members]
        across = [(place, 1.0) for place, _ in side.ballasts]
        found.tie(None, [*across, *room], high=float(sum(weight for _, weight in room)))


def _tie_current(circuit: _Circuit, sides: Sequence[Side]) -> None:
    """Keep what flows together below what switch and fuse may carry."""
    most, _ = circuit_needs.limit_of_current(circuit.circuit)
    if not np.isfinite(most):
        return
    lamps, voltage = circuit.vehicle.lamps, circuit.vehicle.running_voltage
    flashes = bool(circuit.circuit.flasher) and any(side.members for side in sides)
    turning = {i for side in sides for i in side.members}
    steady = [i for i in circuit.on_it if i not in turning] if flashes else []
    for side in sides if flashes else [Side("", tuple(circuit.on_it))]:
        together = [*side.members, *steady]
        before = sum(circuit_needs.current_of(lamps[i], None, voltage) for i in together)
        load = [*circuit.currents(together, voltage, unknown_as_filament=True), *side.draws(voltage)]
        # Filament lamps that load it beyond that are how it was built: only nothing may be added.
        circuit.found.tie(Family.CIRCUIT_CURRENT, load, high=max(most, before) + 1e-9)


def fits(part: CircuitPart, voltage: float) -> bool:
    """Tell whether a ballast resistor bears its own heat when the signal stays lit."""
    return bool(part.resistance and part.power and voltage**2 / part.resistance <= part.power)


def _tie_tell_tale(circuit: _Circuit, sides: Sequence[Side], tell_tales: Sequence[int]) -> None:
    """Let filaments and ballasts of the far side be the tell-tale's earth: no LED may light there, nor it be dim."""
    found, vehicle = circuit.found, circuit.vehicle
    lamps, voltage = vehicle.lamps, vehicle.running_voltage
    diodes = [circuit.fitted("", part) for part in vehicle.parts if part.kind == "pair of diodes"]
    for i in tell_tales:
        for place, offer in zip(circuit.found.candidates[i], lamps[i].candidates, strict=True):
            if offer.either_polarity is False:
                # It lights for one of the two directions only.
                found.tie(Family.TELL_TALE, [(place, 1.0), *((d, -1.0) for d in diodes)], high=0.0)
    for side in sides:
        at = circuit_needs.lit_from([lamps[i] for i in side.members])
        if at is None:
            continue
        # Up to the voltage at which the first LED would begin to light, or the tell-tale itself would be dim.
        at = min(at, circuit_needs.TELL_TALE_LOSS * voltage)
        earth = [(circuit.found.keep[i], circuit_needs.current_of(lamps[i], None, at)) for i in side.members]
        earth += side.draws(at)
        through = [(p, -amperes) for p, amperes in circuit.currents(tell_tales, voltage - at, unknown_as_filament=True)]
        fixed = 0.0
        if not tell_tales:
            watts = circuit.circuit.tell_tale_power or circuit_needs.TELL_TALE_POWER
            fixed = watts / voltage * ((voltage - at) / voltage) ** 0.55
        worst = fixed + sum(abs(weight) for _, weight in through)
        for i in side.members:
            leds = [(led, -worst) for led in circuit.found.candidates[i]]
            cured = [(d, worst) for d in diodes]
            found.tie(Family.TELL_TALE, [*earth, *through, *cured, *leds], low=fixed - worst)


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
