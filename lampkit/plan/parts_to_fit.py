"""The parts that go with a change of lamps, told so that they can be fitted: which way round, where, how large."""

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

from lampkit.circuits import network, tell_tale
from lampkit.circuits.charging import GeneratorKind
from lampkit.circuits.earth import Earth
from lampkit.circuits.fault_finding import LEAK
from lampkit.circuits.flashers import FlasherKind, ShuntRerating, rerate_shunt
from lampkit.circuits.tell_tale import FeedDiode
from lampkit.plan import circuit_needs
from lampkit.plan.circuit_needs import SIDES, TELL_TALE_POWER
from lampkit.plan.savings import DYNAMOS
from lampkit.plan.stages import CircuitNow, PartFitted
from lampkit.rules import functions
from lampkit.sources import filament_lamps
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

SEMAPHORES = ("semaphore", "semaphores", "semaphore arm", "semaphore arms")
TRAILERS = ("trailer", "trailer socket", "trailer sockets")
"""What `also_feeds` may say of arms and sockets."""

SEMAPHORE_POWER = 36.0
"""What the coil of a raised semaphore arm takes [W]. Source: common practice, no source: 3 A at 12 V."""

MAKERS_RANGE = 9.0 / 12.0, 32.0 / 12.0
"""Range of supply, over the nominal one, that an LED for a vehicle with a dynamo should state [1]. Source: 9 V to 32 V
for 12 V, common practice, no source; for 6 V and 24 V in proportion, an assumption."""

TRANSIENT = 24.0 / 12.0, 30.0 / 12.0
"""Spikes of a dynamo with a loose battery lead, over the nominal supply [1]. Source: common practice, no source."""

BLEED_RESISTANCES = (1000.0, 470.0, 220.0, 100.0)
"""Bleed resistors in the order in which they are tried [ohm]. Source: preferred numbers, IEC 60063; 1 kilohm is usual,
common practice, no source."""

RESISTOR_POWERS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
"""Resistors that are sold [W]. Source: common practice, no source."""

COOL_SHARE = 2.0
"""Rated power of a resistor over its heat, so that it stays cool [1]. Source: common practice, no source."""


class FlasherTerminal(Enum):
    """A terminal of a flasher."""

    SUPPLY = "supply"
    LAMPS = "lamps"
    TELL_TALE = "tell_tale"
    EARTH = "earth"


class TellTaleDiodes(NamedTuple):
    """The two diodes of a single tell-tale, and what a filament tell-tale keeps of its light behind one [1]."""

    circuit: str
    earth: Earth
    diode: FeedDiode
    left: float

    @property
    def said(self) -> Statement:
        """Which diodes, which way round."""
        return say(
            "to_fit.diodes",
            circuit=self.circuit,
            earth=named(self.earth),
            band=named(self.diode.band),
            left=self.left,
            drop=self.diode.drop,
            rating=self.diode.rating,
            reverse=self.diode.reverse,
        )


class InsulatedHolder(NamedTuple):
    """The holder of a single tell-tale, which had no earth of its own."""

    circuit: str

    @property
    def said(self) -> Statement:
        """What wire it needs."""
        return say("to_fit.insulated_holder", circuit=self.circuit)


class NewFlasher(NamedTuple):
    """A load-independent flasher in place of the old one: terminals, and what it switches, one side and both [A]."""

    circuit: str
    earth: Earth
    old: tuple[FlasherTerminal, ...]
    new: tuple[FlasherTerminal, ...]
    side: float
    hazards: float

    @property
    def said(self) -> Statement:
        """How it is connected."""
        return say(
            "to_fit.flasher",
            circuit=self.circuit,
            earth=named(self.earth),
            old=[named(one) for one in self.old],
            new=[named(one) for one in self.new],
            side=self.side,
            hazards=self.hazards,
        )


class BallastPlace(NamedTuple):
    """Ballast resistors: how many a side, their resistance [ohm] and their rated power [W]."""

    name: str
    number: int
    resistance: float
    power: float | None

    @property
    def said(self) -> Statement:
        """Between what they lie."""
        return say("to_fit.ballast", **self._asdict())


class BleedResistor(NamedTuple):
    """A resistor across an LED that glows when it is off [ohm, W], and what a leak then leaves at the LED [V]."""

    lamp: str
    resistance: float
    heat: float
    power: float
    voltage: float
    begins: float

    @property
    def said(self) -> Statement:
        """Which resistor, and what it does."""
        return say("to_fit.bleed", **self._asdict())


class WatchedLamps(NamedTuple):
    """The shunt of an electronic flasher, re-rated so that a dead LED still shows."""

    circuit: str
    shunt: ShuntRerating

    @property
    def said(self) -> Statement:
        """By how much, or that it cannot be."""
        return say("to_fit.shunt", circuit=self.circuit, tells=self.shunt.tells, **self.shunt._asdict())


class HazardDiodes(NamedTuple):
    """Diodes by which hazard flashers reach both sides, with the filaments as spares and as chosen."""

    circuit: str
    earth: Earth
    filaments: FeedDiode
    chosen: FeedDiode
    both: float

    @property
    def said(self) -> Statement:
        """Which diodes, which way round."""
        return say(
            "to_fit.hazards",
            circuit=self.circuit,
            earth=named(self.earth),
            band=named(self.filaments.band),
            current=self.filaments.current,
            heat=self.filaments.heat,
            chosen=self.chosen.current,
            rating=self.filaments.rating,
            reverse=self.filaments.reverse,
            both=self.both,
        )


class SemaphoreArms(NamedTuple):
    """Semaphore arms on a circuit: what a raised one takes [A], and the diode across its coil."""

    circuit: str
    earth: Earth
    diode: FeedDiode

    @property
    def said(self) -> Statement:
        """What they need."""
        return say(
            "to_fit.semaphore",
            circuit=self.circuit,
            earth=named(self.earth),
            band=named(self.diode.band),
            current=self.diode.current,
            rating=self.diode.rating,
            reverse=self.diode.reverse,
        )


class TrailerSocket(NamedTuple):
    """A trailer on a circuit: the lamp that it adds to each side, and what both sides draw with it [A]."""

    circuit: str
    adds: float
    side: float
    both: float
    flasher: bool

    @property
    def said(self) -> Statement:
        """What it adds."""
        return say("to_fit.trailer", **self._asdict())


class SupplyRange(NamedTuple):
    """The supply that an LED must stand beside a dynamo [V]."""

    low: float
    high: float
    spikes: tuple[float, float]
    known: bool

    @property
    def said(self) -> Statement:
        """Which range to look for on the box."""
        return say("to_fit.supply_range", **self._asdict())


class PulsedTail(NamedTuple):
    """Dim levels that may be made of pulses."""

    sources: tuple[str, ...]

    @property
    def said(self) -> Statement:
        """What that does to cameras and meters."""
        return say("to_fit.pulsed", sources=self.sources)


PartNote = (
    TellTaleDiodes
    | InsulatedHolder
    | NewFlasher
    | BallastPlace
    | BleedResistor
    | WatchedLamps
    | HazardDiodes
    | SemaphoreArms
    | TrailerSocket
    | SupplyRange
    | PulsedTail
)


def parts_to_fit(
    vehicle: Vehicle,
    circuits: Sequence[CircuitNow],
    before: Sequence[CircuitNow],
    parts: Sequence[tuple[CircuitPart, int]] = (),
) -> tuple[PartNote, ...]:
    """Tell of each part that applies to a vehicle how it is fitted; `circuits` are as chosen, `before` as filaments.

    Source: each note names that of its numbers.
    """
    earth, found = Earth(vehicle.earth_after), list[PartNote]()
    for now, old in zip(circuits, before, strict=True):
        found += _of_circuit(vehicle, now, old, earth)
    found += _ballasts(parts)
    converted = [(lamp, offer) for lamp in vehicle.lamps if (offer := _fitted(circuits, lamp)) is not None]
    if converted:
        found += _bleed(vehicle, converted)
        kind = GeneratorKind(vehicle.generator)
        if kind in DYNAMOS or kind is GeneratorKind.UNKNOWN:
            volts = vehicle.supply_voltage
            spikes = TRANSIENT[0] * volts, TRANSIENT[1] * volts
            low, high = (share * volts for share in MAKERS_RANGE)
            found.append(SupplyRange(low, high, spikes, kind is not GeneratorKind.UNKNOWN))
        dim = tuple(dict.fromkeys(offer.name for _, offer in converted if offer.dim_level_of is not None))
        if dim:
            found.append(PulsedTail(dim))
    return tuple(found)


def _fitted(circuits: Sequence[CircuitNow], lamp: Lamp) -> Offer | None:
    return circuits[0].state.fitted[lamp.name] if circuits else None


def _of_circuit(vehicle: Vehicle, now: CircuitNow, old: CircuitNow, earth: Earth) -> list[PartNote]:
    found, wired, name = list[PartNote](), now.circuit, now.circuit.name
    sides = [side for side in now.sides if side.side is not None]
    filaments = [side for side in old.sides if side.side is not None]
    if sides and filaments:
        turn = wired.flasher is not None
        heaviest = max(side.current for side in filaments)
        both = sum(side.current for side in filaments)
        if PartFitted.DIODES in now.state.parts and wired.tell_tale == "single between sides":
            amperes = (wired.tell_tale_power or TELL_TALE_POWER) / vehicle.running_voltage
            left = float(tell_tale.light_behind_diode(vehicle.running_voltage))
            found.append(TellTaleDiodes(name, earth, tell_tale.feed_diode(earth, amperes, duty=0.5), left))
            found.append(InsulatedHolder(name))
        if PartFitted.FLASHER in now.state.parts and turn:
            found.append(_new_flasher(wired, earth, heaviest, both))
        if wired.flasher == FlasherKind.ELECTRONIC.value:
            found += _watched(vehicle, now)
        if len(sides) == len(SIDES):
            chosen = max(side.current for side in sides)
            diodes = [tell_tale.feed_diode(earth, amperes, duty=0.5) for amperes in (heaviest, chosen)]
            found.append(HazardDiodes(name, earth, diodes[0], diodes[1], both))
    feeds = [one.casefold() for one in wired.also_feeds or ()]
    if any(one in SEMAPHORES for one in feeds):
        coil = tell_tale.across_coil(earth, SEMAPHORE_POWER / vehicle.supply_voltage)
        found.append(SemaphoreArms(name, earth, coil))
    if any(one in TRAILERS for one in feeds):
        lamp = filament_lamps.filament("P21W", vehicle.running_voltage, rated_voltage=vehicle.supply_voltage)
        adds = (lamp.electrical_power or 0.0) / vehicle.running_voltage
        most = max((side.current for side in now.sides), default=0.0)
        whole = sum(side.current for side in now.sides)
        found.append(TrailerSocket(name, adds, most + adds, whole + 2.0 * adds, wired.flasher is not None))
    return found


def _new_flasher(wired: Circuit, earth: Earth, side: float, both: float) -> NewFlasher:
    old = [FlasherTerminal.SUPPLY, FlasherTerminal.LAMPS]
    if wired.tell_tale == "from the flasher":
        old.append(FlasherTerminal.TELL_TALE)
    return NewFlasher(wired.name, earth, tuple(old), (*old, FlasherTerminal.EARTH), side, both)


def _watched(vehicle: Vehicle, now: CircuitNow) -> list[PartNote]:
    """Re-rate the shunt for the heavier side, where its main turn lamps are LEDs by now."""
    lamps = [
        lamp for lamp in vehicle.lamps if lamp.circuit is now.circuit and functions.function(lamp.function).flashes
    ]
    main = [lamp for lamp in lamps if functions.function(lamp.function).name in ("front turn", "rear turn")]
    sides = [circuit_needs.lamps_of_side(lamps, side) for side in SIDES]
    for members in sides:
        drawn = {lamp.name: circuit_needs.load_of(lamp, now.state.fitted[lamp.name]) for lamp in members}
        every = [drawn[lamp.name] for lamp in members for _ in range(lamp.quantity)]
        watched = [drawn[lamp.name] for lamp in members if lamp in main]
        unit = circuit_needs.fitted_flasher(now.circuit, lamps, vehicle.supply_voltage)
        if unit is not None and any(load.is_led for load in watched):
            return [WatchedLamps(now.circuit.name, rerate_shunt(unit, every, watched, vehicle.running_voltage))]
    return []


def _ballasts(parts: Sequence[tuple[CircuitPart, int]]) -> list[PartNote]:
    return [
        BallastPlace(part.name, number, part.resistance, part.power)
        for part, number in parts
        if number > 0 and part.kind == PartFitted.BALLAST.value and part.resistance
    ]


def _bleed(vehicle: Vehicle, converted: Sequence[tuple[Lamp, Offer]]) -> list[PartNote]:
    """Choose the resistor for the LED that begins to glow at the lowest voltage."""
    known = [(lamp, circuit_needs.load_of(lamp, offer)) for lamp, offer in converted]
    leds = [(lamp, load) for lamp, load in known if load.is_led]
    if not leds:
        return []
    lamp, load = min(leds, key=lambda pair: pair[1].threshold_voltage)
    begins, volts = max(load.threshold_voltage, network.DARK_VOLTAGE), vehicle.running_voltage
    for ohms in BLEED_RESISTANCES:
        left = float(network.shunted_voltage(volts, LEAK, ohms))
        heat = volts**2 / ohms
        if left < begins:
            power = next(watts for watts in RESISTOR_POWERS if watts >= COOL_SHARE * heat)
            return [BleedResistor(lamp.name, ohms, heat, power, left, begins)]
    return []
