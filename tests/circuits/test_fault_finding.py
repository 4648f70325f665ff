"""From symptom to cause on made-up vehicles of which the cause is known, read with a circuit solver of their own."""

from dataclasses import replace

import pytest
from reference.made_up_vehicles import BEYOND_NETS, NETTED, MadeUp, law_of, made_up

from lampkit import tables
from lampkit.circuits import fault_finding
from lampkit.circuits.fault_finding import CHANGES, Cure, FaultCause, Measurement, Scene, Symptom
from lampkit.circuits.loads import Load, filament_load, led_load
from lampkit.errors import InputError

P21, R5, R5_6V = filament_load(25, 13.5), filament_load(5, 13.5), filament_load(5, 6.75)
P21_6V = filament_load(26, 6.75)
LED, TAIL, EITHER = led_load(2, 13.5), led_load(0.5, 13.5), led_load(2, 13.5, bridge=True)
LED_6V = led_load(1.5, 6.75)


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
        m.SEEN_WITH_ENGINE_OFF: 1.0,
    }
    # What no net of lamps shows: flashers, fuses, generators, leads that were exchanged.
    told = {
        FaultCause.TOO_LITTLE_LOAD: {m.OLD_LAMP_CURES: 1.0},
        FaultCause.WEAK_SOURCE: {m.OLD_LAMP_CURES: 1.0},
        FaultCause.FLASHER_LACKS_EARTH: {m.EARTH_WIRE_CURES: 1.0},
        FaultCause.SHORT_CIRCUIT: {m.VOLTS_AT_LAMP: 0.0, m.AMPERES: 100.0, m.TEST_LAMP_FOR_FUSE: 1.0},
        FaultCause.NO_EXCITATION: {m.GENERATOR_VOLTS: supply, m.OLD_LAMP_CURES: 1.0},
        FaultCause.NO_OUTPUT: {m.GENERATOR_VOLTS: 0.4 if s.dynamo else supply - 0.1},
        FaultCause.PULSING_SUPPLY: {m.SEEN_WITH_ENGINE_OFF: 0.0, m.OLD_LAMP_CURES: 1.0},  # no generator turns
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
    if measurement is m.SEEN_WITH_ENGINE_OFF:
        return 1.0
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
    ("flickers", Scene(6.3, LED_6V, dynamo=True), FaultCause.PULSING_SUPPLY),
    ("flickers", Scene(12.6, LED, (P21, P21)), FaultCause.PULSING_SUPPLY),
    ("flickers", Scene(12.6, P21, (P21,)), FaultCause.TIRED_EARTH),
    ("flickers", Scene(12.6, TAIL, dynamo=False), FaultCause.POOR_CONTACT),
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
    ranked = fault_finding.suspects(symptom, scene)
    place = [one.cause for one in ranked].index(cause)
    assert place < 2
    assert sum(one.chance for one in ranked) == pytest.approx(1.0)
    if len(ranked) == 1:
        return
    true, other = ranked[place], ranked[1 - place]
    told = fault_finding.telling_reading(ranked[0], ranked[1], scene.supply_voltage)
    assert told is not None and str(told.said).endswith(".")
    shown = read(symptom, cause, scene, told.measurement)
    to_true, to_other = (abs(min(one.expected[told.measurement], 100.0) - shown) for one in (true, other))
    assert to_true < to_other, f"{told.measurement.value} shows {shown:g}"
    if told.measurement in fault_finding.YES_OR_NO:
        assert to_true == 0


@pytest.mark.parametrize(
    ("symptom", "scene", "cause"),
    [one for one in VEHICLES if one[2] in NETTED and Symptom(one[0]) in fault_finding.OF_LIGHT],
)
def test_what_was_read_in_the_net_never_speaks_against_the_true_cause(
    symptom: str, scene: Scene, cause: FaultCause
) -> None:
    shown = read(symptom, cause, scene, Measurement.VOLTS_AT_LAMP)
    before = {one.cause: one.chance for one in fault_finding.suspects(symptom, scene)}
    after = {one.cause: one.chance for one in fault_finding.suspects(symptom, scene, shown)}
    assert after[cause] > 0.8 * before[cause]
    assert list(after).index(cause) <= list(before).index(cause)
    assert sum(after.values()) == pytest.approx(1.0)
    assert any(one.explains > fault_finding.MISREAD for one in fault_finding.suspects(symptom, scene, shown))


@pytest.mark.parametrize(("lamp", "light"), [(P21, (9.8 / 12.6) ** 3.4), (LED, (9.8 - 6.5) / (12.6 - 6.5))])
def test_volts_at_which_a_lamp_glows_do_not_go_with_a_dark_one(lamp: Load, light: float) -> None:
    """V^3.4 and Ohm's law make it glow, and no single fault leaves 9.8 V at a lamp that passes nothing."""
    scene = Scene(12.6, lamp)
    assert all(one.explains <= fault_finding.MISREAD for one in fault_finding.suspects("stays dark", scene, 9.8))
    assert fault_finding.light_left(scene, 9.8) == pytest.approx(light, rel=0.01)
    assert any(
        one.explains > fault_finding.MISREAD for one in fault_finding.suspects("dim after the change", scene, 9.8)
    )


def test_what_was_read_is_not_asked_for_again() -> None:
    """Sound volts at a dark LED: not the feed, not the earth; the bench tells which of the rest."""
    ranked = fault_finding.suspects("stays dark", Scene(12.6, LED, ways_in=2), 12.5)
    assert ranked[0].cause is FaultCause.REVERSED and ranked[1].cause is FaultCause.LAMP_DEAD
    assert sum(one.chance for one in ranked[:2]) > 0.9
    unfed = fault_finding.suspects("stays dark", Scene(12.6, LED, ways_in=2), 0.0)
    assert {one.cause for one in unfed[:2]} == {FaultCause.LOST_EARTH, FaultCause.NO_SUPPLY}
    told = fault_finding.telling_reading(unfed[0], unfed[1], 12.6, known=[Measurement.VOLTS_AT_LAMP])
    assert told is not None and told.measurement is not Measurement.VOLTS_AT_LAMP


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
    assert {FaultCause(one) for one in rows["cause"]} == set(FaultCause) == set(CHANGES)


def test_what_cannot_be_is_left_out() -> None:
    causes = {one.cause for one in fault_finding.suspects("stays dark", Scene(12.6, P21, positive_earth=True))}
    assert FaultCause.REVERSED not in causes
    glow = {one.cause for one in fault_finding.suspects("glows when off", Scene(12.6, TAIL, single_tell_tale=False))}
    assert glow == {FaultCause.LEAKAGE}


def test_an_unknown_symptom_is_refused_with_all_that_are_known() -> None:
    """What is seen has many names, and the nearest in letters may be the farthest in meaning."""
    for word in ("smells", "hyper flash"):
        with pytest.raises(InputError, match="symptom") as told:
            fault_finding.suspects(word, Scene(12.6, LED))
        assert all(f"'{one.value}'" in str(told.value) for one in Symptom)
    assert fault_finding.known_symptom("Flashes Fast") is Symptom.FLASHES_FAST


def test_every_cause_has_its_cure_and_no_ammeter_goes_into_a_short_circuit() -> None:
    assert {one.name for one in Cure} == {one.name for one in FaultCause}
    ranked = fault_finding.suspects("fuse blows", Scene(12.6, LED, fuse=5.0))
    told = fault_finding.telling_reading(ranked[0], ranked[1], 12.6)
    assert told is not None and told.measurement is Measurement.TEST_LAMP_FOR_FUSE
