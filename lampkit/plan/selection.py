"""The choice for a whole vehicle as decisions: what may be combined, and what is asked of it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from lampkit.circuits.flashers import Flasher, FlasherKind
from lampkit.circuits.loads import load_current, resistor_load
from lampkit.plan import socket_voltages, suitability
from lampkit.plan.decisions import Problem
from lampkit.plan.socket_voltages import SIDES
from lampkit.plan.suitability import Family, Refusals, left_and_right
from lampkit.rules import functions
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

LIGHT_CAP = 2.0
"""Times the filament's light beyond which more counts for nothing [1]. Source: own judgement: the signal is then plain,
and more of it begins to dazzle."""


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
        of_side = {side: socket_voltages.lamps_of_side(here, side) for side in SIDES}
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
            stands_for = socket_voltages.current_of(lamp, None, at) / lamp.quantity if unknown_as_filament else 0.0
            found += [
                (place, socket_voltages.current_of(lamp, offer, at, cold=cold, unknown=stands_for))
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
    unit = socket_voltages.fitted_flasher(
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
    most, _ = socket_voltages.limit_of_current(circuit.circuit)
    if not np.isfinite(most):
        return
    lamps, voltage = circuit.vehicle.lamps, circuit.vehicle.running_voltage
    flashes = bool(circuit.circuit.flasher) and any(side.members for side in sides)
    turning = {i for side in sides for i in side.members}
    steady = [i for i in circuit.on_it if i not in turning] if flashes else []
    for side in sides if flashes else [Side("", tuple(circuit.on_it))]:
        together = [*side.members, *steady]
        before = sum(socket_voltages.current_of(lamps[i], None, voltage) for i in together)
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
        at = socket_voltages.lit_from([lamps[i] for i in side.members])
        if at is None:
            continue
        # Up to the voltage at which the first LED would begin to light, or the tell-tale itself would be dim.
        at = min(at, socket_voltages.TELL_TALE_LOSS * voltage)
        earth = [(circuit.found.keep[i], socket_voltages.current_of(lamps[i], None, at)) for i in side.members]
        earth += side.draws(at)
        through = [(p, -amperes) for p, amperes in circuit.currents(tell_tales, voltage - at, unknown_as_filament=True)]
        fixed = 0.0
        if not tell_tales:
            watts = circuit.circuit.tell_tale_power or socket_voltages.TELL_TALE_POWER
            fixed = watts / voltage * ((voltage - at) / voltage) ** 0.55
        worst = fixed + sum(abs(weight) for _, weight in through)
        for i in side.members:
            leds = [(led, -worst) for led in circuit.found.candidates[i]]
            cured = [(d, worst) for d in diodes]
            found.tie(Family.TELL_TALE, [*earth, *through, *cured, *leds], low=fixed - worst)
