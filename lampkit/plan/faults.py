"""Faults of a vehicle: what its file tells of the circuit in which a symptom is seen."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lampkit.circuits import fault_finding, flashers, wiring
from lampkit.circuits.fault_finding import FaultCause, Measurement, Scene, Suspect, Symptom, TellingReading
from lampkit.circuits.flashers import FlasherKind
from lampkit.circuits.fuses import BLOWING_OVER_CONTINUOUS
from lampkit.circuits.loads import Load, led_load
from lampkit.circuits.network import JointVoltages, joint_voltages
from lampkit.circuits.tasks import Caution
from lampkit.errors import InputError, nearest
from lampkit.plan import socket_voltages
from lampkit.rules import functions
from lampkit.sources import filament_lamps
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, MeterReading, Offer

RESTING_SHARE = 1.05
"""Voltage of a rested battery over the nominal supply [1]. Source: common practice, no source: 12.6 V."""


@dataclass(frozen=True)
class FoundFault:
    """What may be behind a symptom, ranked, what tells the first two apart, and what was taken to be fitted.

    `sound` is what a meter reads along the circuit where all is sound; None where no circuit is told. `cautions` are
    those of the work that the search asks for; `volts_at_lamp` is what the file says that a meter read
    there [V], and `light_then` the light that a sound lamp gives at them where they and the symptom do not go
    together [1].
    """

    symptom: Symptom
    lamp: str
    suspects: tuple[Suspect, ...]
    telling: TellingReading | None
    assumed: str | None = None
    sound: JointVoltages | None = None
    cautions: tuple[Caution, ...] = (Caution.EARTH_FIRST,)
    volts_at_lamp: float | None = None
    light_then: float | None = None

    @property
    def measured_said(self) -> Statement | None:
        """What was read there and counts in the ranking, and whether it goes with what is seen; None for no reading."""
        if self.volts_at_lamp is None:
            return None
        what = named(Measurement.VOLTS_AT_LAMP)
        return say("suspect.measured", measurement=what, volts=self.volts_at_lamp, light=self.light_then)

    @property
    def sound_said(self) -> Statement | None:
        """What a meter reads along the circuit where all is sound, in a sentence; None where no circuit is told."""
        if self.sound is None:
            return None
        behind_switch, at_contact = self.sound.feed
        return say(
            "suspect.sound",
            behind_switch=behind_switch,
            at_contact=at_contact,
            shell=self.sound.shell,
            current=self.sound.current,
        )


def find_fault(symptom: Symptom | str, vehicle: Vehicle | None = None, lamp: str | None = None) -> FoundFault:
    """Rank what may be behind a symptom in a vehicle, or where none is told in any of 12 V with an LED.

    Parameters
    ----------
    symptom : Symptom or str
        What is seen, as in 'stays dark'.
    vehicle : Vehicle, optional
        The vehicle; volts that its file tells of the holder count in the ranking.
    lamp : str, optional
        Which of its lamps; the first that the symptom may be seen of when left out.

    Returns
    -------
    FoundFault
        The causes, the most likely first, and the reading that tells the first two apart.

    Raises
    ------
    InputError
        There is no such symptom, or no such lamp.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> lk.plan.find_fault("glows when off", van).suspects[0].cause.value
    'leakage'

    Source: data/circuit/symptoms.csv for the weights, an assumption; Kirchhoff's laws for what a circuit can do.
    """
    seen_as, volts = fault_finding.known_symptom(symptom), None
    if vehicle is None:
        scene, name, assumed, sound = Scene(12.0 * RESTING_SHARE, led_load(2.0, 13.5)), "", None, None
        if seen_as in OF_FLASHING:
            unit = flashers.flasher(UNTOLD, supply_voltage=12.0)
            needs = float(flashers.least_current(unit, scene.supply_voltage))
            scene = replace(scene, flasher="unknown", flasher_needs=needs)
    else:
        if seen_as is Symptom.CHARGE_LAMP_STAYS_ON and (vehicle.without_battery or vehicle.towed):
            what = f"nothing charges a battery on this vehicle, and '{seen_as.value}' is seen where something does"
            raise InputError(what, key="symptom", expected="a battery in the file")
        seen = _lamp_of(vehicle, seen_as, lamp)
        scene, name = scene_of(vehicle, seen, seen_as), seen.name
        offer = fitted_now(vehicle, seen)
        assumed = offer.name if offer is not None and seen.fitted is None else None
        sound = sound_readings(vehicle, seen, scene) if seen_as in OF_VOLTS else None
        if seen_as in fault_finding.OF_LIGHT and (there := _read_at(vehicle, seen)) is not None:
            volts, scene = there.socket_voltage, replace(scene, supply_voltage=there.supply or scene.supply_voltage)
        if seen_as is Symptom.CHARGE_LAMP_STAYS_ON and not socket_voltages.excites(seen):
            name, assumed = "", None  # the file tells of no such lamp
    ranked = fault_finding.suspects(seen_as, scene, volts)
    telling = None
    if len(ranked) > 1:
        told: tuple[Measurement, ...] = () if volts is None else (Measurement.VOLTS_AT_LAMP,)
        if vehicle is not None and vehicle.without_battery:
            told += (Measurement.SEEN_WITH_ENGINE_OFF,)  # with the engine off nothing is lit
        telling = fault_finding.telling_reading(ranked[0], ranked[1], scene.supply_voltage, known=told)
    cautions = cautions_of(ranked, telling)
    if vehicle is not None and vehicle.without_battery:
        cautions = tuple(one for one in cautions if one not in OF_BATTERY)
    # No single fault leaves such volts at a lamp that looks so.
    odd = volts is not None and all(one.explains <= fault_finding.MISREAD for one in ranked)
    light = fault_finding.light_left(scene, volts) if volts is not None and odd else None
    return FoundFault(seen_as, name, ranked, telling, assumed, sound, cautions, volts, light)


def _read_at(vehicle: Vehicle, lamp: Lamp) -> MeterReading | None:
    """Find the last reading of volts at the holder of a lamp."""
    read = [one for one in vehicle.meter_readings if one.lamp == lamp.name and one.socket_voltage is not None]
    return read[-1] if read else None


def sound_readings(vehicle: Vehicle, lamp: Lamp, scene: Scene) -> JointVoltages | None:
    """Give what a meter reads along the circuit of a lamp where all is sound: behind switch and fuse, behind the wire.

    Source: `network.joint_voltages`; what the file does not tell of the wiring is assumed to be sound.
    """
    if lamp.circuit is None:
        return None
    feed = socket_voltages.sound_feed(vehicle, lamp.circuit)
    pieces = [feed.contact_resistance, float(wiring.wire_resistance(feed.wire))]
    return joint_voltages(scene.supply_voltage, pieces, feed.earth_resistance, [scene.lamp, *scene.others])


OF_FLASHING = (
    Symptom.FLASHES_FAST,
    Symptom.FLASHES_SLOWLY,
    Symptom.DOES_NOT_FLASH,
    Symptom.TELL_TALE_LIGHTS_BOTH_SIDES,
)
"""What is seen of turn lamps only."""

UNTOLD = FlasherKind.ELECTRONIC
"""Kind that stands for a flasher of which nobody knows it: what flashes has one. Source: own judgement; it asks for its
load as the others do, and tells of a missing one by its rate."""


def _lamp_of(vehicle: Vehicle, symptom: Symptom, name: str | None) -> Lamp:
    if name is not None:
        for one in vehicle.lamps:
            if one.name == name:
                return one
        raise InputError(
            f"the vehicle has no lamp '{name}'", key="lamp", expected=nearest(name, [one.name for one in vehicle.lamps])
        )
    lamps = list(vehicle.lamps)
    if symptom in OF_FLASHING:
        lamps = [one for one in lamps if functions.function(one.function).flashes]
        if not lamps:
            what = f"no lamp of the vehicle flashes, and '{symptom.value}' is seen of turn lamps"
            raise InputError(what, key="symptom", expected="a turn lamp in the file")
    if symptom is Symptom.CHARGE_LAMP_STAYS_ON:
        lamps = [one for one in lamps if socket_voltages.excites(one)] or lamps
    if symptom in (Symptom.BRIGHT_AND_DIM_EXCHANGED, Symptom.TAIL_AND_TURN_INFLUENCE):
        lamps = [one for one in lamps if one.holder is not None] or lamps
    changed = [one for one in lamps if one.fitted is not None]
    read = [one for one in lamps if _read_at(vehicle, one) is not None]
    return (read or changed or lamps)[0]


def fitted_now(vehicle: Vehicle, lamp: Lamp) -> Offer | None:
    """Give what is fitted now; where the file says it of no lamp, the first on offer: faults come after a change."""
    if any(one.fitted is not None for one in vehicle.lamps) or socket_voltages.excites(lamp):
        return lamp.fitted
    return next(iter(lamp.candidates), None)


def load_now(vehicle: Vehicle, lamp: Lamp) -> Load:
    """Describe what is in a lamp now."""
    return socket_voltages.load_of(lamp, fitted_now(vehicle, lamp))


CAUTIONS: Mapping[FaultCause, tuple[Caution, ...]] = {
    FaultCause.SHORT_CIRCUIT: (Caution.FUSE_SIZE, Caution.NO_FUSE),
    FaultCause.FUSE_TOO_SMALL: (Caution.FUSE_SIZE, Caution.GLASS_FUSE, Caution.SPARE_FILAMENTS),
    FaultCause.TOO_LITTLE_LOAD: (Caution.HAZARDS, Caution.OUTAGE),
    FaultCause.TOO_MUCH_LOAD: (Caution.HAZARDS,),
    FaultCause.REVERSED: (Caution.MEASURE_HOLDER,),
    FaultCause.EXCHANGED_CONTACTS: (Caution.HOLDER_CONTACTS,),
    FaultCause.BRIDGED_CONTACTS: (Caution.HOLDER_CONTACTS,),
    FaultCause.NO_EXCITATION: (Caution.CHARGE_LAMP, Caution.CHARGING_OPEN),
    FaultCause.NO_OUTPUT: (Caution.CHARGING_OPEN,),
    FaultCause.FIELD_REVERSED: (Caution.DYNAMO_TOUCH, Caution.BATTERY_GAS),
}
"""What is dangerous about each cause and its cure."""


OF_BATTERY = (Caution.EARTH_FIRST, Caution.BATTERY_GAS, Caution.CHARGE_LAMP, Caution.CHARGING_OPEN)
"""Cautions that say nothing where there is no battery."""


def cautions_of(suspects: Sequence[Suspect], telling: TellingReading | None) -> tuple[Caution, ...]:
    """List the cautions that belong to some suspects and to the reading that tells them apart, each once."""
    found = [Caution.EARTH_FIRST]
    if telling is not None and telling.measurement in (Measurement.LIT_ON_BENCH, Measurement.LIT_REVERSED):
        found += [Caution.INRUSH_LIMIT, Caution.HOT_LAMP]
    for suspect in suspects:
        found += CAUTIONS.get(suspect.cause, ())
    return tuple(dict.fromkeys(found))


BETWEEN = "single between sides"
"""How the vehicle file calls one tell-tale between both sides."""

OF_VOLTS = (
    Symptom.STAYS_DARK,
    Symptom.DARK_UNTIL_ALL_CHANGED,
    Symptom.BENCH_ONLY,
    Symptom.DIM,
    Symptom.FLICKERS,
    Symptom.TAIL_AND_TURN_INFLUENCE,
    Symptom.FLASHES_SLOWLY,
)
"""What is followed with a voltmeter, joint by joint."""


def scene_of(vehicle: Vehicle, lamp: Lamp, symptom: Symptom) -> Scene:
    """Tell what the file knows of the circuit of a lamp, as it is fitted now."""
    wired, offer = lamp.circuit, fitted_now(vehicle, lamp)
    here = [one for one in vehicle.lamps if wired is not None and one.circuit is wired]
    side = socket_voltages.side_of(lamp)
    flashing = [one for one in here if functions.function(one.function).flashes]
    mates, far = [one for one in here if one is not lamp], list[Lamp]()
    needs, kind = 0.0, None if wired is None else wired.flasher
    if kind is None and functions.function(lamp.function).flashes:
        kind = "unknown"
    if kind is not None and side is not None:
        mates = [one for one in flashing if one is not lamp and socket_voltages.side_of(one) in (side, None)]
        far = [one for one in flashing if socket_voltages.side_of(one) not in (side, None)]
        timed = replace(wired or Circuit(""), flasher=UNTOLD.value if kind == "unknown" else kind)
        unit = socket_voltages.fitted_flasher(timed, here or [lamp], vehicle.supply_voltage)
        if unit is not None:
            on_side = socket_voltages.lamps_of_side(here or [lamp], side)
            needs = socket_voltages.need_of_flasher(vehicle, wired or timed, unit, on_side).current if on_side else 0.0
    between = functions.function(lamp.function).tell_tale and wired is not None and wired.tell_tale == BETWEEN
    if between:  # it finds its earth through the lamps of the side that is dark
        mates = [one for one in flashing if socket_voltages.side_of(one) == socket_voltages.SIDES[0]] or flashing
    # The other filament of its holder is switched by itself, whatever fuse feeds it.
    mates = [one for one in mates if lamp.holder is None or one.holder != lamp.holder]
    fuse = None if wired is None else wired.fuse
    if fuse is not None and wired is not None and wired.fuse_mark == "glass, blowing current":
        fuse /= BLOWING_OVER_CONTINUOUS
    rating = lamp.filament.rating
    base = None if rating is None else filament_lamps.base(rating["designation"])
    # Where all were to be changed first, those of which nothing else is told still have their filaments.
    mixed = symptom is Symptom.DARK_UNTIL_ALL_CHANGED

    def as_seen(one: Lamp) -> Load:
        return socket_voltages.load_of(one, one.fitted) if mixed else load_now(vehicle, one)

    charging = next((one for one in vehicle.lamps if socket_voltages.excites(one)), None)
    return Scene(
        supply_voltage=vehicle.supply_voltage * RESTING_SHARE,
        lamp=load_now(vehicle, lamp),
        others=tuple(mate for one in mates for mate in [as_seen(one)] * one.quantity),
        sharing=tuple(
            load_now(vehicle, one)
            for one in vehicle.lamps
            if lamp.holder is not None and one.holder == lamp.holder and one is not lamp
        ),
        far=tuple(load_now(vehicle, one) for one in far for _ in range(one.quantity)),
        old=socket_voltages.load_of(lamp, None),
        polarity_told=None if offer is None else offer.either_polarity,
        positive_earth=vehicle.earth == "positive",
        ways_in=2 if base is not None and base.ways_in == "two" else 1,
        double_holder=lamp.holder is not None,
        flasher=kind,
        flasher_needs=needs,
        single_tell_tale=None if wired is None or wired.tell_tale is None else wired.tell_tale == BETWEEN,
        no_earth_of_its_own=between,
        fuse=fuse,
        dynamo=None if vehicle.generator in ("unknown", "magneto") else vehicle.generator != "alternator",
        earth_changed=vehicle.earth_changes,
        charge_lamp=None if charging is None else load_now(vehicle, charging),
    )
