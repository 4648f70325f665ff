"""From symptom to cause on made-up vehicles of which the cause is known, read with a circuit solver of their own."""

from dataclasses import dataclass, replace

import pytest
from reference.nodal_analysis import Circuit, Law, Solved, filament, led, resistor

from lampkit import tables
from lampkit.circuits import symptoms
from lampkit.circuits.loads import Load, LoadKind, filament_load, led_load
from lampkit.circuits.symptoms import FaultCause, Measurement, Scene, Symptom
from lampkit.errors import InputError

Meter = tuple[str, str] | None

P21, R5, R5_6V = filament_load(25, 13.5), filament_load(5, 13.5), filament_load(5, 6.75)
P21_6V = filament_load(26, 6.75)
LED, TAIL, EITHER = led_load(2, 13.5), led_load(0.5, 13.5), led_load(2, 13.5, bridge=True)
LED_6V = led_load(1.5, 6.75)


def law_of(load: Load) -> Law:
    watts = load.current * load.voltage
    if load.kind is LoadKind.FILAMENT:
        return filament(watts, load.voltage)
    return led(watts, load.voltage, load.threshold_voltage, bridge=load.either_way)


def light_of(load: Load, volts: float) -> float:
    """Share of its light: V^3.4 for a filament, the share of the current for an LED."""
    if load.kind is LoadKind.FILAMENT:
        return float((abs(volts) / load.voltage) ** 3.4)
    return abs(law_of(load)(volts)) / load.current


SIZES = {
    FaultCause.TIRED_EARTH: (0.2, 0.5, 2.0, 5.0, 9.0, 20.0, 40.0),
    FaultCause.POOR_CONTACT: (30.0, 300.0, 3000.0, 30000.0),
    FaultCause.LEAKAGE: (3000.0,),
}
"""Ohms of the fault in the made-up vehicles: the least that does what is seen."""


@dataclass
class MadeUp:
    """A vehicle as a net of wires, with one fault in it."""

    scene: Scene
    cause: FaultCause
    ohms: float = 0.0

    def net(self, *, on: bool = True, old: bool = False, earth_wire: bool = False, meter: Meter = None) -> Solved:
        """Wire it up: battery, feed, contact, lamp, shell, earth; what else is on circuit and shell, and far away."""
        s, cause = self.scene, self.cause
        lamp = (s.old or filament_load(5 * s.supply_voltage / 12, 1.07 * s.supply_voltage)) if old else s.lamp
        net = Circuit({"battery": s.supply_voltage})
        net.join("feed", "battery", "feed", resistor(1e12 if cause is FaultCause.NO_SUPPLY or not on else 0.02))
        # The film gives way to the current of a filament.
        film = self.ohms if cause is FaultCause.POOR_CONTACT and not (old or not s.lamp.is_led) else 0.01
        net.join("contact", "feed", "contact", resistor(film))
        series, tired = cause is FaultCause.SERIES_WITH_LAMPS, cause is FaultCause.TIRED_EARTH
        floats = series or cause is FaultCause.LOST_EARTH
        net.join("earth", "shell", "earth", resistor(1e12 if floats else self.ohms if tired else 0.02))
        if earth_wire:
            net.join("earth wire", "shell", "earth", resistor(0.02))
        law = law_of(lamp)
        turned = cause is FaultCause.REVERSED and not old
        dead = cause is FaultCause.LAMP_DEAD and not old
        if not dead:
            net.join("lamp", "contact", "shell", (lambda volts: -law(-volts)) if turned else law)
        for number, other in enumerate(s.others):
            a, b = ("shell", "earth") if series else ("feed", "shell" if tired else "earth")
            net.join(f"other {number}", a, b, law_of(other))
        for number, other in enumerate(() if series else s.sharing):
            # Its own feed is off, and lies at earth through its twin on the other side.
            net.join(f"sharing {number}", "shell", f"twin {number}", law_of(other))
            net.join(f"twin {number}", f"twin {number}", "earth", resistor(0.5))
        if cause is FaultCause.LEAKAGE:
            net.join("leak", "battery", "contact", resistor(self.ohms))
        if cause is FaultCause.TELL_TALE_FEEDS_BACK:
            net.join("tell-tale", "battery", "far", filament(2.2 * s.supply_voltage / 12, s.supply_voltage))
            for number, other in enumerate(s.far):
                there = filament_load(25, 1.07 * s.supply_voltage) if old else other
                net.join(f"far {number}", "far", "earth", law_of(there))
        if cause is FaultCause.BRIDGED_CONTACTS:
            net.join("other function", "battery" if not on else "other", "other", resistor(0.02))
            net.join("pad", "other", "contact", resistor(1e9 if old else 0.05))
        if meter is not None:
            net.join("meter", *meter, resistor(10e6))
        return net.solve()

    def light(self, **how: bool) -> float:
        lamp = self.scene.lamp
        if how.get("old"):
            volts = self.scene.supply_voltage
            lamp = self.scene.old or filament_load(5 * volts / 12, 1.07 * volts)
        if self.cause is FaultCause.LAMP_DEAD and not how.get("old"):
            return 0.0
        found = self.net(**how, meter=("contact", "shell"))
        volts = found.volts("contact", "shell")
        turned = self.cause is FaultCause.REVERSED and not how.get("old")
        return (
            light_of(lamp, -volts)
            if turned and not lamp.either_way and volts < 0
            else (0.0 if turned and not lamp.either_way else light_of(lamp, volts))
        )

    def shows(self, symptom: str, **how: bool) -> bool:
        """Look whether the fault does what is seen."""
        sound = light_of(self.scene.lamp, self.scene.supply_voltage)
        if symptom in ("stays dark", "dark until all are changed", "works on the bench only"):
            return self.light(**how) <= 0.05 * sound
        if symptom == "dim after the change":
            return 0.05 * sound < self.light(**how) <= 0.8 * sound
        if symptom == "glows when off" and self.cause is not FaultCause.TELL_TALE_FEEDS_BACK:
            return self.light(on=False, **how) > 0.003
        if symptom in ("tell-tale lights both sides", "glows when off"):
            there = filament_load(25, 1.07 * self.scene.supply_voltage) if how.get("old") else self.scene.far[0]
            found = self.net(**how)
            return "far" in found.nodes and light_of(there, found.volts("far")) > 0.003
        # Tail and turn: the one on the same shell lights with it, or it loses light when the other joins.
        found, sharing = self.net(**how), self.scene.sharing
        if any(light_of(one, found.volts("shell", f"twin {n}")) > 0.003 for n, one in enumerate(sharing)):
            return True
        alone, joined = replace(self.scene, sharing=()), replace(self.scene, others=sharing, sharing=())
        before = MadeUp(alone, self.cause, self.ohms).light(**how)
        return before > 0.003 and MadeUp(joined, self.cause, self.ohms).light(**how) / before < 0.9


BEYOND_NETS = ("flashes fast", "flashes slowly", "does not flash", "bright and dim exchanged")
"""What no net of lamps shows."""


NETTED = (
    FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT, FaultCause.NO_SUPPLY, FaultCause.REVERSED,
    FaultCause.LAMP_DEAD, FaultCause.LEAKAGE, FaultCause.TELL_TALE_FEEDS_BACK, FaultCause.BRIDGED_CONTACTS,
    FaultCause.SERIES_WITH_LAMPS,
)  # fmt: skip


def made_up(symptom: str, scene: Scene, cause: FaultCause) -> MadeUp:
    """Build the vehicle with the least fault of its kind that does what is seen."""
    if symptom in BEYOND_NETS:
        return MadeUp(scene, cause, 2.0)
    tried = [MadeUp(scene, cause, ohms) for ohms in SIZES.get(cause, (0.0,))]
    done = [one for one in tried if one.shows(symptom)]
    assert done, f"{cause.value} does not do it: {symptom}"
    return done[0]


def read(symptom: str, cause: FaultCause, s: Scene, measurement: Measurement) -> float:
    """What a meter, a bench or a trial shows in the vehicle with the fault."""
    m, supply = Measurement, s.supply_voltage
    if cause in NETTED and measurement is not m.GENERATOR_VOLTS:
        return read_in_net(made_up(symptom, s, cause), symptom, measurement)
    sound = {
        m.VOLTS_AT_LAMP: supply,
        m.AMPERES: sum(law_of(one)(supply) for one in (s.lamp, *s.others)),
        m.LIT_ON_BENCH: 1.0,
        m.LIT_REVERSED: float(s.lamp.either_way),
        m.GENERATOR_VOLTS: 1.1 * supply,
    }
    # What no net of lamps shows: flashers, fuses, generators, leads that were exchanged.
    told = {
        FaultCause.TOO_LITTLE_LOAD: {m.OLD_LAMP_CURES: 1.0},
        FaultCause.WEAK_SOURCE: {m.OLD_LAMP_CURES: 1.0},
        FaultCause.FLASHER_LACKS_EARTH: {m.EARTH_WIRE_CURES: 1.0},
        FaultCause.SHORT_CIRCUIT: {m.VOLTS_AT_LAMP: 0.0, m.AMPERES: 100.0, m.TEST_LAMP_FOR_FUSE: 1.0},
        FaultCause.NO_EXCITATION: {m.GENERATOR_VOLTS: supply, m.OLD_LAMP_CURES: 1.0},
        FaultCause.NO_OUTPUT: {m.GENERATOR_VOLTS: 0.4 if s.dynamo else supply - 0.1},
        FaultCause.FIELD_REVERSED: {m.GENERATOR_VOLTS: -0.8},  # remanence alone, against the battery
    }
    return {**sound, **told.get(cause, {})}.get(measurement, 0.0)


def read_in_net(vehicle: MadeUp, symptom: str, measurement: Measurement) -> float:
    """Read the net, or try the trial in it."""
    m, s = Measurement, vehicle.scene
    if symptom in BEYOND_NETS and measurement in (m.OLD_LAMP_CURES, m.EARTH_WIRE_CURES):
        earths = vehicle.cause in (FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH)
        return float(earths is (measurement is m.EARTH_WIRE_CURES))
    if measurement is m.VOLTS_OF_EARTH_BY_OTHER:
        # The lamp with the symptom is off, and the other one of its shell is on.
        turned = replace(s, lamp=s.sharing[0], sharing=(s.lamp,), others=())
        return MadeUp(turned, vehicle.cause, vehicle.ohms).net(meter=("shell", "earth")).volts("shell")
    if measurement is m.OLD_LAMP_CURES:
        return float(not vehicle.shows(symptom, old=True))
    if measurement is m.EARTH_WIRE_CURES:
        return float(not vehicle.shows(symptom, earth_wire=True))
    if measurement in (m.LIT_ON_BENCH, m.LIT_REVERSED):
        # On the bench its earth pole lies as in the vehicle; exchanged, the other way.
        if vehicle.cause is FaultCause.LAMP_DEAD:
            return 0.0
        forward = (vehicle.cause is FaultCause.REVERSED) is (measurement is m.LIT_REVERSED)
        return float(s.lamp.either_way or forward)
    if measurement is m.AMPERES:
        return vehicle.net().amperes("feed")
    if measurement is m.VOLTS_OTHER_CONTACT:
        return vehicle.net().volts("other") if vehicle.cause is FaultCause.BRIDGED_CONTACTS else 0.0
    if measurement is m.VOLTS_WHEN_OFF:
        where = ("far", "earth") if vehicle.cause is FaultCause.TELL_TALE_FEEDS_BACK else ("contact", "shell")
        return vehicle.net(on=False, meter=where).volts(*where)
    where = ("contact", "shell") if measurement is m.VOLTS_AT_LAMP else ("shell", "earth")
    return vehicle.net(meter=where).volts(*where)


THERMAL, HOT, TIMER, MADE = "thermal series", "hot wire", "load-independent", "electronic"

P24, LED_24V, TAIL_24V = filament_load(28, 28.0), led_load(3, 28.0), led_load(0.7, 28.0)
SMALL_6V = filament_load(3, 6.75)
SCHOTTKY = led_load(1.2, 6.75, string_voltage=4.5)

VEHICLES: list[tuple[str, Scene, FaultCause]] = [
    # A saloon, a tourer on positive earth, a lamp that goes in two ways, one nobody knows.
    ("stays dark", Scene(12.6, LED, polarity_told=False, positive_earth=True), FaultCause.REVERSED),
    ("stays dark", Scene(12.6, LED, positive_earth=True), FaultCause.REVERSED),
    ("stays dark", Scene(12.6, TAIL, ways_in=2), FaultCause.REVERSED),
    ("stays dark", Scene(25.2, LED_24V, (P24,), polarity_told=False, ways_in=2), FaultCause.REVERSED),
    ("stays dark", Scene(12.6, EITHER, polarity_told=True), FaultCause.LOST_EARTH),
    ("stays dark", Scene(12.6, EITHER, (P21,), polarity_told=True, double_holder=True), FaultCause.LOST_EARTH),
    ("stays dark", Scene(12.6, P21), FaultCause.NO_SUPPLY),
    ("stays dark", Scene(6.3, SMALL_6V), FaultCause.NO_SUPPLY),
    ("stays dark", Scene(12.6, led_load(0.4, 13.5, bridge=True), polarity_told=True), FaultCause.POOR_CONTACT),
    ("stays dark", Scene(25.2, TAIL_24V, (TAIL_24V,), polarity_told=True), FaultCause.POOR_CONTACT),
    # Lamps changed one by one: what the filaments draw through one rusty earth leaves the LED below its voltage.
    ("dark until all are changed", Scene(12.6, LED, (P21, P21)), FaultCause.TIRED_EARTH),
    ("dark until all are changed", Scene(6.3, LED_6V, (R5_6V, R5_6V)), FaultCause.TIRED_EARTH),
    ("dark until all are changed", Scene(12.6, LED, (P21, R5, R5, R5), polarity_told=True), FaultCause.TIRED_EARTH),
    ("dark until all are changed", Scene(12.6, EITHER, (P21,), polarity_told=True), FaultCause.TIRED_EARTH),
    # A filament that finds its earth through LEDs, as a marker between turn and park.
    ("dark until all are changed", Scene(12.6, R5, (LED,)), FaultCause.SERIES_WITH_LAMPS),
    ("glows when off", Scene(12.6, TAIL), FaultCause.LEAKAGE),
    ("glows when off", Scene(25.2, TAIL_24V, (TAIL_24V,), single_tell_tale=False), FaultCause.LEAKAGE),
    ("glows when off", Scene(6.3, SCHOTTKY, single_tell_tale=False), FaultCause.LEAKAGE),
    ("glows when off", Scene(12.6, LED, far=(LED, LED), single_tell_tale=True), FaultCause.TELL_TALE_FEEDS_BACK),
    ("glows when off", Scene(12.6, LED, double_holder=True), FaultCause.BRIDGED_CONTACTS),
    ("flashes fast", Scene(12.6, LED, (LED,), flasher=MADE, flasher_needs=2.7), FaultCause.TOO_LITTLE_LOAD),
    ("flashes fast", Scene(12.6, P21, (P21, P21), flasher=THERMAL, flasher_needs=2.8), FaultCause.TOO_MUCH_LOAD),
    ("flashes slowly", Scene(12.6, P21, (P21,), flasher=THERMAL, flasher_needs=2.8), FaultCause.TIRED_EARTH),
    ("flashes slowly", Scene(12.6, LED, (P21,), flasher=THERMAL, flasher_needs=2.8), FaultCause.TOO_LITTLE_LOAD),
    ("does not flash", Scene(12.6, LED, (LED,), flasher=HOT, flasher_needs=1.2), FaultCause.TOO_LITTLE_LOAD),
    ("does not flash", Scene(6.3, LED_6V, (LED_6V,), flasher=THERMAL, flasher_needs=5.5), FaultCause.TOO_LITTLE_LOAD),
    ("does not flash", Scene(12.6, LED, (LED,), flasher=TIMER), FaultCause.FLASHER_LACKS_EARTH),
    ("does not flash", Scene(12.6, P21, (P21,), flasher=TIMER), FaultCause.FLASHER_LACKS_EARTH),
    ("tell-tale lights both sides", Scene(12.6, LED, far=(LED, LED)), FaultCause.TELL_TALE_FEEDS_BACK),
    (
        "tell-tale lights both sides",
        Scene(12.6, LED, far=(LED,), single_tell_tale=True),
        FaultCause.TELL_TALE_FEEDS_BACK,
    ),
    # Tail and turn in one holder, or on one bracket.
    ("tail and turn influence each other", Scene(12.6, P21, sharing=(R5,)), FaultCause.LOST_EARTH),
    ("tail and turn influence each other", Scene(12.6, R5, (R5,), sharing=(P21,)), FaultCause.TIRED_EARTH),
    ("tail and turn influence each other", Scene(12.6, P21, (P21,), sharing=(R5,)), FaultCause.TIRED_EARTH),
    ("tail and turn influence each other", Scene(6.3, P21_6V, sharing=(R5_6V,)), FaultCause.LOST_EARTH),
    ("dim after the change", Scene(12.6, LED), FaultCause.WEAK_SOURCE),
    ("dim after the change", Scene(12.6, LED, (P21, P21)), FaultCause.TIRED_EARTH),
    ("dim after the change", Scene(6.3, P21_6V, (P21_6V,)), FaultCause.TIRED_EARTH),
    ("bright and dim exchanged", Scene(12.6, LED, double_holder=True), FaultCause.EXCHANGED_CONTACTS),
    ("bright and dim exchanged", Scene(12.6, TAIL, double_holder=True), FaultCause.BRIDGED_CONTACTS),
    ("works on the bench only", Scene(12.6, EITHER, (R5,), polarity_told=True), FaultCause.LOST_EARTH),
    ("works on the bench only", Scene(25.2, LED_24V, polarity_told=True), FaultCause.POOR_CONTACT),
    ("works on the bench only", Scene(12.6, P21, double_holder=True), FaultCause.LOST_EARTH),
    ("fuse blows", Scene(12.6, LED, fuse=5.0), FaultCause.SHORT_CIRCUIT),
    ("fuse blows", Scene(12.6, P21, (P21,), fuse=3.0), FaultCause.FUSE_TOO_SMALL),
    ("charge lamp stays on", Scene(12.4, P21, charge_lamp=TAIL), FaultCause.NO_EXCITATION),
    ("charge lamp stays on", Scene(12.4, P21, dynamo=True), FaultCause.NO_OUTPUT),
    ("charge lamp stays on", Scene(6.2, P21_6V, dynamo=True), FaultCause.NO_OUTPUT),
    ("charge lamp stays on", Scene(12.4, P21, dynamo=True, earth_changed=True), FaultCause.FIELD_REVERSED),
]


@pytest.mark.parametrize(("symptom", "scene", "cause"), VEHICLES)
def test_the_true_cause_stands_first_or_second_and_a_reading_separates_it(
    symptom: str, scene: Scene, cause: FaultCause
) -> None:
    ranked = symptoms.suspects(symptom, scene)
    place = [one.cause for one in ranked].index(cause)
    assert place < 2
    assert sum(one.chance for one in ranked) == pytest.approx(1.0)
    if len(ranked) == 1:
        return
    true, other = ranked[place], ranked[1 - place]
    told = symptoms.telling_reading(ranked[0], ranked[1], scene.supply_voltage)
    assert told is not None and str(told.said).endswith(".")
    shown = read(symptom, cause, scene, told.measurement)
    to_true, to_other = (abs(min(one.expected[told.measurement], 100.0) - shown) for one in (true, other))
    assert to_true < to_other, f"{told.measurement.value} shows {shown:g}"
    if told.measurement in symptoms.YES_OR_NO:
        assert to_true == 0


@pytest.mark.parametrize(
    ("symptom", "scene", "cause"), [one for one in VEHICLES if one[2] in NETTED and one[0] not in BEYOND_NETS]
)
def test_the_fault_does_what_is_seen_and_its_cure_undoes_it(symptom: str, scene: Scene, cause: FaultCause) -> None:
    """A made-up vehicle counts only where Kirchhoff's laws make the symptom out of the fault."""
    vehicle = made_up(symptom, scene, cause)
    assert vehicle.shows(symptom)
    assert not MadeUp(scene, FaultCause.WEAK_SOURCE).shows(symptom), "the sound vehicle shows it too"
    if symptom == "dark until all are changed":
        changed = replace(scene, lamp=LED if not scene.lamp.is_led else scene.lamp, others=(scene.lamp,))
        assert cause is FaultCause.SERIES_WITH_LAMPS or not MadeUp(changed, cause, vehicle.ohms).shows(symptom)


def test_every_symptom_was_tried_and_has_causes() -> None:
    assert {Symptom(symptom) for symptom, _, _ in VEHICLES} == set(Symptom)
    rows = tables.load("circuit", "symptoms")
    assert {Symptom(one) for one in rows["symptom"]} == set(Symptom)
    assert {FaultCause(one) for one in rows["cause"]} == set(FaultCause) == set(symptoms.CHANGES)


def test_what_cannot_be_is_left_out() -> None:
    causes = {one.cause for one in symptoms.suspects("stays dark", Scene(12.6, P21, positive_earth=True))}
    assert FaultCause.REVERSED not in causes
    glow = {one.cause for one in symptoms.suspects("glows when off", Scene(12.6, TAIL, single_tell_tale=False))}
    assert glow == {FaultCause.LEAKAGE}


def test_an_unknown_symptom_is_refused() -> None:
    with pytest.raises(InputError, match="symptom"):
        symptoms.suspects("smells", Scene(12.6, LED))


def test_every_cause_has_its_cure_and_no_ammeter_goes_into_a_short_circuit() -> None:
    assert {one.name for one in symptoms.Cure} == {one.name for one in FaultCause}
    ranked = symptoms.suspects("fuse blows", Scene(12.6, LED, fuse=5.0))
    told = symptoms.telling_reading(ranked[0], ranked[1], 12.6)
    assert told is not None and told.measurement is Measurement.TEST_LAMP_FOR_FUSE
