"""The circuits of a vehicle in each state of the work: as found, with filaments and LEDs mixed, and as chosen."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from lampkit.circuits import flashers, loads, tell_tale
from lampkit.circuits.circuit_change import LampMix
from lampkit.circuits.earth import Earth
from lampkit.circuits.flashers import Flasher, FlasherKind, FlasherState
from lampkit.circuits.loads import Load, LoadKind, filament_load, resistor_load
from lampkit.circuits.network import lamp_voltage
from lampkit.circuits.tell_tale import TellTaleState
from lampkit.plan import socket_voltages
from lampkit.plan.socket_voltages import SIDES, TELL_TALE_POWER
from lampkit.rules import functions
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer


class Stage(Enum):
    """How far the work is."""

    AS_FOUND = "as_found"
    EARTH_CHANGED = "earth_changed"
    PARTS_FITTED = "parts_fitted"
    ON_THE_WAY = "on_the_way"
    AS_CHOSEN = "as_chosen"


class PartFitted(Enum):
    """A part that lets a circuit work with LEDs, by the kind that the vehicle file uses."""

    FLASHER = "load-independent flasher"
    DIODES = "pair of diodes"
    BALLAST = "ballast resistor"


class Lights(Enum):
    """Whether a light source lights the way round that its holder and the earth give it."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True, eq=False)
class Fittings:
    """One state of the work: the earth, what is in every lamp, and which parts are fitted by then.

    `fitted` holds None where the filament lamp is; `changed` names the lamps changed since the state before.
    """

    stage: Stage
    earth: Earth
    fitted: Mapping[str, Offer | None]
    parts: frozenset[PartFitted]
    changed: tuple[str, ...] = ()


@dataclass(frozen=True)
class LampNow:
    """The light sources of a lamp, alike: what they draw together at their voltage while it is lit [A, V]."""

    lamp: str
    source: str
    quantity: int
    kind: LoadKind
    side: str | None
    tell_tale: bool
    either_way: bool | None
    lights: Lights
    current: float
    voltage: float


@dataclass(frozen=True, eq=False)
class SideNow:
    """What is lit together in one state: of a turn circuit the lamps of one side, else all of the circuit.

    `drop` is what is lost on the way to the lamps [V]; `ballast` the resistors beside them [ohm].
    """

    side: str | None
    lamps: tuple[LampNow, ...]
    ballast: tuple[float, ...]
    mix: LampMix | None
    current: float
    voltage: float
    drop: float
    flasher: FlasherState | None
    tell_tale: TellTaleState | None

    @property
    def members(self) -> tuple[str, ...]:
        """Name the lamps on the feed of this side, without its tell-tales."""
        return tuple(one.lamp for one in self.lamps if self.side is None or not one.tell_tale)

    @property
    def dark(self) -> tuple[str, ...]:
        """Name the lamps that stay dark the way round that they are."""
        return tuple(one.lamp for one in self.lamps if one.lights is Lights.NO)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Name the lamps of which nobody knows whether they light the way round that they are."""
        return tuple(one.lamp for one in self.lamps if one.lights is Lights.UNKNOWN)


@dataclass(frozen=True, eq=False)
class CircuitNow:
    """A circuit in one state of the work."""

    circuit: Circuit
    state: Fittings
    sides: tuple[SideNow, ...]


def lights(offer: Offer | None, earth: Earth) -> Lights:
    """Tell whether a light source lights in a holder whose shell is earth.

    Source: a filament lights either way; an LED that lights one way round only is nearly always made for negative
    earth, common practice, no source.
    """
    if offer is None or offer.either_polarity or earth is Earth.NEGATIVE:
        return Lights.YES
    return Lights.UNKNOWN if offer.either_polarity is None else Lights.NO


# --- which states, in which order -----------------------------------------------------------------------------------


def states(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: Sequence[tuple[CircuitPart, int]] = ()
) -> tuple[Fittings, ...]:
    """List the states of the work in the advised order, one lamp at a time.

    The earth is changed with filament lamps in the place of what lights one way round only; then flasher and diodes
    are fitted, which work with filaments too; then the lamps are changed, first where a mistake does least harm.

    Source: common practice, no source.
    """
    now, after = Earth(vehicle.earth), Earth(vehicle.earth_after)
    fitted: dict[str, Offer | None] = {lamp.name: lamp.fitted for lamp in vehicle.lamps}
    found = [Fittings(Stage.AS_FOUND, now, dict(fitted), frozenset())]
    if now is not after:
        bound = [name for name, offer in fitted.items() if offer is not None and not offer.either_polarity]
        fitted.update(dict.fromkeys(bound))
        found.append(Fittings(Stage.EARTH_CHANGED, after, dict(fitted), frozenset(), tuple(bound)))
    last = as_chosen(vehicle, chosen, parts)
    there = last.parts - {PartFitted.BALLAST}
    if there:
        found.append(Fittings(Stage.PARTS_FITTED, after, dict(fitted), there))
    groups = [
        group
        for group in _in_order(vehicle.lamps)
        if any(chosen.get(one.name) is not fitted[one.name] for one in group)
    ]
    for number, group in enumerate(groups, start=1):
        names = tuple(lamp.name for lamp in group)
        fitted.update({name: chosen.get(name) for name in names})
        stage = Stage.AS_CHOSEN if number == len(groups) else Stage.ON_THE_WAY
        found.append(Fittings(stage, after, dict(fitted), last.parts, names))
    return tuple(found) if found[-1].stage is Stage.AS_CHOSEN else (*found, last)


def with_filaments(vehicle: Vehicle) -> Fittings:
    """Give the state that every comparison begins from: a filament lamp in each holder, and no further part."""
    bare: dict[str, Offer | None] = {lamp.name: None for lamp in vehicle.lamps}
    return Fittings(Stage.AS_FOUND, Earth(vehicle.earth_after), bare, frozenset())


def as_chosen(
    vehicle: Vehicle, chosen: Mapping[str, Offer | None], parts: Sequence[tuple[CircuitPart, int]] = ()
) -> Fittings:
    """Give the state that the work ends with."""
    fitted = {lamp.name: chosen.get(lamp.name) for lamp in vehicle.lamps}
    kinds = frozenset(PartFitted(part.kind) for part, number in parts if number > 0)
    return Fittings(Stage.AS_CHOSEN, Earth(vehicle.earth_after), fitted, kinds)


def _in_order(lamps: Sequence[Lamp]) -> list[list[Lamp]]:
    """Put what is one article together, pairs next to each other, and what matters least for safety first."""
    groups: dict[str, list[Lamp]] = {}
    for lamp in lamps:
        groups.setdefault(lamp.holder or lamp.name, []).append(lamp)
    first_of = {lamp.function: i for i, lamp in reversed(list(enumerate(lamps)))}

    def harm(lamp: Lamp) -> int:
        does = functions.function(lamp.function)
        return 2 if does.brakes else 1 if does.flashes else 0

    def key(group: list[Lamp]) -> tuple[int, int, int]:
        return max(map(harm, group)), min(first_of[lamp.function] for lamp in group), lamps.index(group[0])

    return sorted(groups.values(), key=key)


# --- the circuits in one state --------------------------------------------------------------------------------------


def circuits_in(
    vehicle: Vehicle, state: Fittings, parts: Sequence[tuple[CircuitPart, int]] = ()
) -> tuple[CircuitNow, ...]:
    """Work out every circuit in one state of the work.

    Source: Kirchhoff's laws; the laws of `loads`, the model of each flasher, `tell_tale_state`.
    """
    return circuits_along(vehicle, (state,), parts)[0]


def circuits_along(
    vehicle: Vehicle, states: Sequence[Fittings], parts: Sequence[tuple[CircuitPart, int]] = ()
) -> tuple[tuple[CircuitNow, ...], ...]:
    """Work out every circuit in each of some states; what a step leaves as it was is worked out once."""
    lamps = {id(wired): _lamps_on(vehicle, wired) for wired in vehicle.circuits}
    flashing = {key: any(functions.function(one.function).flashes for one in on) for key, on in lamps.items()}
    known: dict[tuple[object, ...], CircuitNow] = {}
    found = []
    for state in states:
        now = []
        for wired in vehicle.circuits:
            if not lamps[id(wired)]:
                continue
            fitted = tuple(id(state.fitted[lamp.name]) for lamp in lamps[id(wired)])
            # Flasher, diodes and ballast belong to circuits that flash.
            same = id(wired), state.earth, state.parts if flashing[id(wired)] else None, fitted
            if same not in known:
                known[same] = _circuit(vehicle, wired, lamps[id(wired)], state, parts)
            now.append(replace(known[same], state=state))
        found.append(tuple(now))
    return tuple(found)


def _lamps_on(vehicle: Vehicle, wired: Circuit) -> list[Lamp]:
    return sharing.once_each([lamp for lamp in vehicle.lamps if lamp.circuit is wired])


def _circuit(
    vehicle: Vehicle, wired: Circuit, lamps: list[Lamp], state: Fittings, parts: Sequence[tuple[CircuitPart, int]]
) -> CircuitNow:
    drawn = {lamp.name: socket_voltages.load_of(lamp, state.fitted[lamp.name]) for lamp in lamps}
    lit = _lit_together(lamps)
    sides = tuple(_side(vehicle, wired, lamps, drawn, state, parts, side, members) for side, members in lit)
    return CircuitNow(wired, state, sides)


def _lit_together(lamps: Sequence[Lamp]) -> list[tuple[str | None, list[Lamp]]]:
    """Sort the lamps of a circuit by what is lit at one time: each side that flashes, and what burns steadily."""
    does = {lamp.name: functions.function(lamp.function) for lamp in lamps}
    found: list[tuple[str | None, list[Lamp]]] = [(side, socket_voltages.lamps_of_side(lamps, side)) for side in SIDES]
    if not any(members for _, members in found):
        return [(None, list(lamps))]
    found.append((None, [one for one in lamps if not does[one.name].flashes and not does[one.name].tell_tale]))
    return [(side, members) for side, members in found if members]


def _source(lamp: Lamp, state: Fittings) -> str:
    offer = state.fitted[lamp.name]
    return lamp.filament.name if offer is None else offer.name


def _side(
    vehicle: Vehicle,
    wired: Circuit,
    lamps: Sequence[Lamp],
    drawn: Mapping[str, Load],
    state: Fittings,
    parts: Sequence[tuple[CircuitPart, int]],
    side: str | None,
    members: Sequence[Lamp],
) -> SideNow:
    lit = [lamp for lamp in members if lights(state.fitted[lamp.name], state.earth) is not Lights.NO]
    burning = [drawn[lamp.name] for lamp in lit for _ in range(lamp.quantity)]
    ballast = _ballast(members, state, parts) if side is not None else ()
    together = [*burning, *(resistor_load(ohms) for ohms in ballast)]
    feed = socket_voltages.feed_of(vehicle, wired)
    ohms, supply = socket_voltages.resistance_of(feed), feed.supply_voltage
    volts = float(lamp_voltage(supply, ohms, together)) if together else supply
    now = [_lamp(lamp, drawn[lamp.name], state, volts) for lamp in members]
    now += [_lamp(lamp, drawn[lamp.name], state, volts) for lamp in _tell_tales(lamps, side)]
    unit = flasher_in(vehicle, wired, state) if side is not None and together else None
    flasher = None if unit is None else flashers.flasher_state(unit, together, supply, resistance=ohms)
    return SideNow(
        side=side,
        lamps=tuple(now),
        ballast=ballast,
        mix=_mix(burning),
        current=float(loads.total_current(together, volts)),
        voltage=volts,
        drop=supply - volts,
        flasher=flasher,
        tell_tale=_tell_tale(vehicle, wired, lamps, drawn, state, parts, side),
    )


def _lamp(lamp: Lamp, load: Load, state: Fittings, volts: float) -> LampNow:
    offer = state.fitted[lamp.name]
    shines = lights(offer, state.earth)
    return LampNow(
        lamp=lamp.name,
        source=_source(lamp, state),
        quantity=lamp.quantity,
        kind=load.kind,
        side=socket_voltages.side_of(lamp),
        tell_tale=functions.function(lamp.function).tell_tale,
        either_way=True if offer is None else offer.either_polarity,
        lights=shines,
        current=0.0 if shines is Lights.NO else lamp.quantity * float(loads.load_current(load, volts)),
        voltage=volts,
    )


def _tell_tales(lamps: Sequence[Lamp], side: str | None) -> list[Lamp]:
    """Pick the tell-tales that are lit with a side; without sides they are among the lamps already."""
    if side is None:
        return []
    own = [lamp for lamp in lamps if functions.function(lamp.function).tell_tale]
    return [lamp for lamp in own if socket_voltages.side_of(lamp) in (side, None)]


def _mix(burning: Sequence[Load]) -> LampMix | None:
    kinds = {load.is_led for load in burning}
    if not kinds:
        return None
    return LampMix.BOTH if len(kinds) > 1 else LampMix.LEDS if True in kinds else LampMix.FILAMENTS


def _ballast(members: Sequence[Lamp], state: Fittings, parts: Sequence[tuple[CircuitPart, int]]) -> tuple[float, ...]:
    """Count the resistors that are beside the lamps by now: one comes with each lamp that becomes an LED."""
    if PartFitted.BALLAST not in state.parts:
        return ()
    a_side = [
        float(part.resistance or 0.0)
        for part, number in parts
        if part.kind == PartFitted.BALLAST.value and part.resistance
        for _ in range(number // len(SIDES))
    ]
    changed = sum(lamp.quantity for lamp in members if state.fitted[lamp.name] is not None)
    return tuple(a_side[:changed])


def flasher_in(vehicle: Vehicle, wired: Circuit, state: Fittings) -> Flasher | None:
    """Give the flasher of a circuit in one state of the work; None where there is none."""
    if PartFitted.FLASHER in state.parts:
        return flashers.flasher(FlasherKind.LOAD_INDEPENDENT, supply_voltage=vehicle.supply_voltage)
    return socket_voltages.fitted_flasher(wired, _lamps_on(vehicle, wired), vehicle.supply_voltage)


def _tell_tale(
    vehicle: Vehicle,
    wired: Circuit,
    lamps: Sequence[Lamp],
    drawn: Mapping[str, Load],
    state: Fittings,
    parts: Sequence[tuple[CircuitPart, int]],
    side: str | None,
) -> TellTaleState | None:
    """Judge a single tell-tale between the sides while this side flashes; None where diodes feed it, or it is none."""
    if side is None or wired.tell_tale != "single between sides" or PartFitted.DIODES in state.parts:
        return None
    far = socket_voltages.lamps_of_side(lamps, next(other for other in SIDES if other != side))
    if not far:
        return None
    dark = [drawn[lamp.name] for lamp in far for _ in range(lamp.quantity)]
    dark += [resistor_load(ohms) for ohms in _ballast(far, state, parts)]
    own = _tell_tales(lamps, side)
    watts = wired.tell_tale_power or TELL_TALE_POWER
    lamp = drawn[own[0].name] if own else filament_load(watts, vehicle.running_voltage, name="tell-tale")
    return tell_tale.tell_tale_state(vehicle.running_voltage, lamp, dark)
