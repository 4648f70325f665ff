"""The choice for a whole vehicle as a mixed-integer programme: what may be combined, and the best of it."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from lampkit.circuits.loads import load_current, resistor_load
from lampkit.errors import InputError
from lampkit.plan import circuit_needs, suitability
from lampkit.plan.alike import left_and_right
from lampkit.plan.circuit_needs import SIDES
from lampkit.plan.suitability import Refusals
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart

LIGHT_CAP = 2.0
"""Times the filament's light beyond which more counts for nothing [1]. Source: own judgement: the signal is then plain,
and more of it begins to dazzle."""

PART_TRIFLE = 1e-6
"""What a part counts besides its price, so that none is taken for nothing [currency]. Source: own choice."""


@dataclass(frozen=True)
class Constraint:
    """One requirement: a weighted sum of decisions between two limits."""

    family: str
    weights: Mapping[int, float]
    low: float
    high: float


@dataclass(frozen=True)
class Problem:
    """Every decision that is open on a vehicle, and what ties them together."""

    candidates: tuple[tuple[int, ...], ...]
    keep: tuple[int, ...]
    parts: Mapping[tuple[str, str, CircuitPart], int]
    families: Mapping[int, frozenset[str]]
    upper: tuple[float, ...]
    prices: tuple[float, ...]
    lights: tuple[float, ...]
    rows: tuple[Constraint, ...]


@dataclass(frozen=True)
class Solution:
    """One way to fit out the vehicle."""

    picks: tuple[int | None, ...]
    parts: Mapping[tuple[str, str, CircuitPart], int]
    cost: float
    light: float

    @property
    def kept(self) -> int:
        """Count the lamps of which the filament stays.

        Source: definition.
        """
        return self.picks.count(None)


@dataclass
class _Draft:
    """A problem while it is put together."""

    upper: list[float] = field(default_factory=list)
    prices: list[float] = field(default_factory=list)
    rows: list[Constraint] = field(default_factory=list)

    def decision(self, price: float = 0.0, upper: float = 1.0) -> int:
        self.upper.append(upper)
        self.prices.append(price)
        return len(self.upper) - 1

    def tie(
        self, family: str, weights: Iterable[tuple[int, float]], low: float = -np.inf, high: float = np.inf
    ) -> None:
        total: dict[int, float] = {}
        for place, weight in weights:
            total[place] = total.get(place, 0.0) + weight
        self.rows.append(Constraint(family, total, low, high))


def problem(
    vehicle: Vehicle,
    refused: Sequence[Sequence[Refusals]],
    ratios: Sequence[Sequence[float]],
    too_near: Callable[[int, int, int | None, int | None], bool],
    budget: float | None,
) -> Problem:
    """Put down everything that is open on a vehicle, and what ties it together.

    Source: own formulation.
    """
    lamps, draft = vehicle.lamps, _Draft()
    in_holder = {minor for _, minor in suitability.holders(lamps)}
    candidates: list[tuple[int, ...]] = []
    for i, lamp in enumerate(lamps):
        places = []
        for offer in lamp.candidates:
            # The second level of an article comes with the first.
            price = 0.0 if i in in_holder else suitability.article_price(offer, vehicle.offers) or 0.0
            places.append(draft.decision(lamp.quantity * price))
        candidates.append(tuple(places))
    keep = tuple(draft.decision() for _ in lamps)
    for places_of, stays in zip(candidates, keep, strict=True):
        draft.tie("", [(p, 1.0) for p in (*places_of, stays)], 1.0, 1.0)
    _tie_levels(draft, lamps, candidates)
    _tie_sides(draft, lamps, candidates)
    for a, b in suitability.stop_and_tail(lamps):
        for c, first in [*enumerate(candidates[a]), (None, keep[a])]:
            for d, second in [*enumerate(candidates[b]), (None, keep[b])]:
                if too_near(a, b, c, d):
                    draft.tie("stop over tail", [(first, 1.0), (second, 1.0)], high=1.0)
    parts: dict[tuple[str, str, CircuitPart], int] = {}
    for circuit in vehicle.circuits:
        on_it = [i for i, lamp in enumerate(lamps) if lamp.circuit is circuit]
        if on_it:
            _tie_circuit(draft, vehicle, circuit, on_it, candidates, keep, parts)
    if budget is not None:
        draft.tie("budget", [(i, p) for i, p in enumerate(draft.prices) if p], high=budget + 1e-6)
    lights = np.zeros(len(draft.upper))
    for places_of, of_lamp in zip(candidates, ratios, strict=True):
        for place, ratio in zip(places_of, of_lamp, strict=True):
            lights[place] = np.log2(np.clip(ratio, 1e-6, LIGHT_CAP))
    return Problem(
        candidates=tuple(candidates),
        keep=keep,
        parts=parts,
        families={
            place: frozenset(against)
            for places_of, of_lamp in zip(candidates, refused, strict=True)
            for place, against in zip(places_of, of_lamp, strict=True)
        },
        upper=tuple(draft.upper),
        prices=tuple(draft.prices),
        lights=tuple(lights),
        rows=tuple(draft.rows),
    )


def _tie_levels(draft: _Draft, lamps: Sequence[Lamp], candidates: Sequence[Sequence[int]]) -> None:
    for major, minor in suitability.holders(lamps):
        names = {offer.name: p for offer, p in zip(lamps[major].candidates, candidates[major], strict=True)}
        dims: dict[str, list[int]] = {name: [] for name in names}
        for offer, place in zip(lamps[minor].candidates, candidates[minor], strict=True):
            if offer.dim_level_of in dims:
                dims[offer.dim_level_of].append(place)
            else:
                draft.tie("", [(place, 1.0)], high=0.0)
        for name, place in names.items():
            draft.tie("", [(place, 1.0), *((dim, -1.0) for dim in dims[name])], 0.0, 0.0)


def _tie_sides(draft: _Draft, lamps: Sequence[Lamp], candidates: Sequence[Sequence[int]]) -> None:
    for group in left_and_right(lamps):
        named = [{offer.name: p for offer, p in zip(lamps[i].candidates, candidates[i], strict=True)} for i in group]
        for one, other in pairwise(named):
            for name in {**one, **other}:
                both = [(one[name], 1.0)] if name in one else []
                both += [(other[name], -1.0)] if name in other else []
                draft.tie("alike", both, 0.0, 0.0)


def _tie_circuit(
    draft: _Draft,
    vehicle: Vehicle,
    circuit: Circuit,
    on_it: Sequence[int],
    candidates: Sequence[Sequence[int]],
    keep: Sequence[int],
    parts: dict[tuple[str, str, CircuitPart], int],
) -> None:
    """Tie the lamps of one circuit to its flasher, its tell-tale, its switch and its fuse."""
    lamps, voltage = vehicle.lamps, vehicle.running_voltage
    here = [lamps[i] for i in on_it]
    unit = circuit_needs.fitted_flasher(circuit, here, vehicle.supply_voltage)
    flashers: list[int] = []
    ballasts: dict[str, list[tuple[int, CircuitPart]]] = {side: [] for side in SIDES}

    def sum_of(
        places: Iterable[int], at: float, cold: bool = False, unknown_as_filament: bool = False
    ) -> list[tuple[int, float]]:
        found = []
        for i in places:
            options = [*zip(candidates[i], lamps[i].candidates, strict=True), (keep[i], None)]
            stands_for = (
                circuit_needs.current_of(lamps[i], None, at) / lamps[i].quantity if unknown_as_filament else 0.0
            )
            found += [
                (p, circuit_needs.current_of(lamps[i], offer, at, cold=cold, unknown=stands_for))
                for p, offer in options
            ]
        return found

    def drawn(part: CircuitPart, at: float) -> float:
        return float(load_current(resistor_load(part.resistance or np.inf), at))

    sides = {side: [i for i in on_it if lamps[i] in circuit_needs.lamps_of_side(here, side)] for side in SIDES}
    flashing = unit is not None and unit.kind != "load-independent" and any(sides.values())
    if flashing:
        for part in vehicle.parts:
            if part.kind == "load-independent flasher":
                flashers.append(parts.setdefault((circuit.name, "", part), draft.decision(part.price)))
            elif part.kind == "ballast resistor" and fits(part, voltage):
                for side, members in sides.items():
                    if members:
                        most = float(sum(lamps[i].quantity for i in members))
                        place = parts.setdefault((circuit.name, side, part), draft.decision(part.price, most))
                        ballasts[side].append((place, part))
        if flashers:
            draft.tie("", [(p, 1.0) for p in flashers], high=1.0)
    for side, members in sides.items():
        if not members or not flashing or unit is None:
            continue
        need = circuit_needs.need_of_flasher(unit, [lamps[i] for i in members], voltage)
        load = sum_of(members, need.voltage, cold=need.cold)
        load += [(p, drawn(part, need.voltage)) for p, part in ballasts[side]]
        cured = [(p, need.current) for p in flashers]
        draft.tie("flasher", [*load, *cured], low=need.current * (1 - 1e-9) - 1e-9)
        if np.isfinite(need.most):
            # Every lamp and every ballast at once: a bound that a flasher which ignores the load may reach.
            heaviest = sum(weight * draft.upper[p] for p, weight in load)
            draft.tie("flasher", [*load, *((p, -heaviest) for p in flashers)], high=need.most * (1 + 1e-9) + 1e-9)
        # A ballast lies across a lamp that was converted.
        room = [(keep[i], float(lamps[i].quantity)) for i in members]
        if ballasts[side]:
            draft.tie(
                "", [*((p, 1.0) for p, _ in ballasts[side]), *room], high=float(sum(weight for _, weight in room))
            )
    tell_tales = [i for i in on_it if lamps[i].function == "tell-tale"]
    if circuit.tell_tale == "single between sides":
        diodes = [
            parts.setdefault((circuit.name, "", part), draft.decision(part.price))
            for part in vehicle.parts
            if part.kind == "pair of diodes"
        ]
        _tie_tell_tale(draft, vehicle, circuit, sides, tell_tales, candidates, keep, diodes, ballasts, sum_of, drawn)
    most, _ = circuit_needs.limit_of_current(circuit)
    if np.isfinite(most):
        together = [[*members, *tell_tales] for members in sides.values()] if circuit.flasher else [list(on_it)]
        for group, side in zip(together, SIDES, strict=False):
            before = sum(circuit_needs.current_of(lamps[i], None, voltage) for i in group)
            load = sum_of(group, voltage, unknown_as_filament=True)
            if circuit.flasher:
                load += [(p, drawn(part, voltage)) for p, part in ballasts[side]]
            # Filament lamps that load it beyond that are how it was built: only nothing may be added.
            draft.tie("circuit current", load, high=max(most, before) + 1e-9)


def fits(part: CircuitPart, voltage: float) -> bool:
    """Tell whether a ballast resistor bears its own heat when the signal stays lit.

    Source: P = V2/R.
    """
    return bool(part.resistance and part.power and voltage**2 / part.resistance <= part.power)


def _tie_tell_tale(
    draft: _Draft,
    vehicle: Vehicle,
    circuit: Circuit,
    sides: Mapping[str, Sequence[int]],
    tell_tales: Sequence[int],
    candidates: Sequence[Sequence[int]],
    keep: Sequence[int],
    diodes: Sequence[int],
    ballasts: Mapping[str, Sequence[tuple[int, CircuitPart]]],
    sum_of: Callable[..., list[tuple[int, float]]],
    drawn: Callable[[CircuitPart, float], float],
) -> None:
    """Let filaments and ballasts of the far side be the tell-tale's earth: no LED may light there, nor it be dim."""
    lamps, voltage = vehicle.lamps, vehicle.running_voltage
    for i in tell_tales:
        for place, offer in zip(candidates[i], lamps[i].candidates, strict=True):
            if not offer.either_polarity:
                # It lights for one of the two directions only.
                draft.tie("tell-tale", [(place, 1.0), *((d, -1.0) for d in diodes)], high=0.0)
    for side, members in sides.items():
        at = circuit_needs.lit_from([lamps[i] for i in members])
        if at is None:
            continue
        # Up to the voltage at which the first LED would begin to light, or the tell-tale itself would be dim.
        at = min(at, circuit_needs.TELL_TALE_LOSS * voltage)
        earth = [(keep[i], circuit_needs.current_of(lamps[i], None, at)) for i in members]
        earth += [(p, drawn(part, at)) for p, part in ballasts[side]]
        through = [(p, -current) for p, current in sum_of(tell_tales, voltage - at, unknown_as_filament=True)]
        fixed = 0.0
        if not tell_tales:
            watts = circuit.tell_tale_power or circuit_needs.TELL_TALE_POWER
            fixed = watts / voltage * ((voltage - at) / voltage) ** 0.55
        worst = fixed + sum(abs(weight) for _, weight in through)
        for i in members:
            for led in candidates[i]:
                cured = [(d, worst) for d in diodes]
                draft.tie("tell-tale", [*earth, *through, *cured, (led, -worst)], low=fixed - worst)


def solve(
    found: Problem,
    aim: str,
    *,
    without: frozenset[str] = frozenset(),
    extra: Sequence[Constraint] = (),
) -> Solution | None:
    """Find the best way to fit out the vehicle: fewest filaments left, then the aim, then the other aim.

    Source: scipy.optimize.milp; one aim after the other, each held while the next is sought.
    """
    size = len(found.upper)
    kept = np.zeros(size)
    kept[list(found.keep)] = 1.0
    cost = np.array(found.prices)
    cost[list(found.parts.values())] += PART_TRIFLE
    light = -np.array(found.lights)
    aims = [kept, cost, light] if aim == "least cost" else [kept, light, cost]
    upper = np.array(found.upper)
    for place, families in found.families.items():
        if families - without:
            upper[place] = 0.0
    rows = [*(row for row in found.rows if not row.family or row.family not in without), *extra]
    matrix = np.zeros((len(rows), size))
    for line, row in zip(matrix, rows, strict=True):
        line[list(row.weights)] = list(row.weights.values())
    low, high = np.array([row.low for row in rows]), np.array([row.high for row in rows])
    answer: NDArray[np.float64] | None = None
    for objective in aims:
        answer = _best(objective, matrix, low, high, upper)
        if answer is None:
            return None
        matrix = np.vstack([matrix, objective])
        low, high = np.append(low, -np.inf), np.append(high, objective @ answer + 1e-7)
    assert answer is not None
    picks = tuple(
        next((c for c, place in enumerate(places) if answer[place] > 0.5), None) for places in found.candidates
    )
    parts = {key: round(answer[place]) for key, place in found.parts.items() if answer[place] > 0.5}
    return Solution(picks, parts, float(np.array(found.prices) @ answer), float(np.array(found.lights) @ answer))


def _best(
    objective: NDArray[np.float64],
    matrix: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    upper: NDArray[np.float64],
) -> NDArray[np.float64] | None:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    done = milp(
        objective,
        integrality=np.ones(len(objective), dtype=int),
        bounds=Bounds(0.0, upper),
        constraints=LinearConstraint(csr_array(matrix), low, high),
        options={"mip_rel_gap": 0.0},
    )
    if done.status == 2:
        return None
    if done.x is None:
        raise InputError("the choice of parts was not settled", remedy="fewer candidates for each lamp")
    return np.round(done.x)


def another(found: Problem, taken: Solution) -> Constraint:
    """Ask for something else than one solution: a lamp at least must differ.

    Source: definition.
    """
    places = [found.keep[i] if pick is None else found.candidates[i][pick] for i, pick in enumerate(taken.picks)]
    return Constraint("", dict.fromkeys(places, 1.0), -np.inf, len(places) - 1.0)


def converted(found: Problem, lamp: int) -> Problem:
    """Ask that the filament of one lamp goes.

    Source: definition.
    """
    return replace(found, rows=(*found.rows, Constraint("", {found.keep[lamp]: 1.0}, -np.inf, 0.0)))
