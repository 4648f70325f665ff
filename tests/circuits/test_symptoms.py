"""From symptom to cause on made-up vehicles of which the cause is known, read with a circuit solver of their own."""

from collections.abc import Callable

import pytest
from scipy.optimize import brentq

from lampkit import tables
from lampkit.circuits import symptoms
from lampkit.circuits.loads import Load, LoadKind, filament_load, led_load
from lampkit.circuits.symptoms import FaultCause, Measurement, Scene, Symptom
from lampkit.errors import InputError

P21, R5, R5_6V = filament_load(25, 13.5), filament_load(5, 13.5), filament_load(5, 6.75)
LED, TAIL, EITHER = led_load(2, 13.5), led_load(0.5, 13.5), led_load(2, 13.5, bridge=True)
LED_6V = led_load(1.5, 6.75)


def drawn(load: Load, volts: float) -> float:
    """The laws of loads a second time, in plain numbers."""
    if load.kind is LoadKind.FILAMENT:
        return load.current * (max(volts, 0.0) / load.voltage) ** 0.55
    return load.current * max(volts - load.threshold_voltage, 0.0) / (load.voltage - load.threshold_voltage)


def drop(volts: float, through: Callable[[float], float], beyond: Callable[[float], float]) -> float:
    """Voltage across the first of two things in series, where both carry the same current."""
    return float(brentq(lambda v: through(v) - beyond(volts - v), 0.0, volts))


def read(cause: FaultCause, s: Scene, measurement: Measurement) -> float:
    """What a meter shows in a vehicle with one fault, of another size than the kit assumes."""
    m, supply = Measurement, s.supply_voltage
    lit = [s.lamp, *s.others]
    sound = {
        m.VOLTS_AT_LAMP: supply,
        m.AMPERES: sum(drawn(one, supply) for one in lit),
        m.LIT_ON_BENCH: 1.0,
        m.LIT_REVERSED: float(s.lamp.either_way),
        m.GENERATOR_VOLTS: 1.1 * supply,
    }
    if cause is FaultCause.REVERSED:
        # On the bench its earth pole lies as in the vehicle: dark; exchanged: lit; an old filament lights in its place.
        sound |= {m.LIT_ON_BENCH: 0.0, m.LIT_REVERSED: 1.0, m.OLD_LAMP_CURES: 1.0}
        sound[m.AMPERES] -= drawn(s.lamp, supply)
    elif cause is FaultCause.LAMP_DEAD:
        sound |= {m.LIT_ON_BENCH: 0.0, m.LIT_REVERSED: 0.0, m.OLD_LAMP_CURES: 1.0}
        sound[m.AMPERES] -= drawn(s.lamp, supply)
    elif cause in (FaultCause.LOST_EARTH, FaultCause.SERIES_WITH_FILAMENT):
        own = 0.0
        if s.others:
            own = drop(supply, lambda v: drawn(s.lamp, v), lambda v: sum(drawn(one, v) for one in s.others))
        sound |= {m.VOLTS_AT_LAMP: own, m.VOLTS_OF_EARTH: supply - own, m.AMPERES: drawn(s.lamp, own)}
        sound[m.EARTH_WIRE_CURES if cause is FaultCause.LOST_EARTH else m.OLD_LAMP_CURES] = 1.0
    elif cause is FaultCause.TIRED_EARTH:
        own = drop(supply, lambda v: sum(drawn(one, v) for one in lit), lambda v: v / 2.0)
        sound |= {m.VOLTS_AT_LAMP: own, m.VOLTS_OF_EARTH: supply - own, m.EARTH_WIRE_CURES: 1.0}
        sound[m.AMPERES] = (supply - own) / 2.0
    elif cause is FaultCause.NO_SUPPLY:
        sound |= {m.VOLTS_AT_LAMP: 0.0, m.AMPERES: 0.0}
    elif cause is FaultCause.POOR_CONTACT:
        film = 0.7 * supply / s.lamp.current
        own = drop(supply, lambda v: drawn(s.lamp, v), lambda v: v / film)
        # The film gives way to the current of a filament.
        sound |= {m.VOLTS_AT_LAMP: own, m.OLD_LAMP_CURES: float(s.lamp.is_led)}
        sound[m.AMPERES] += drawn(s.lamp, own) - drawn(s.lamp, supply)
    elif cause is FaultCause.LEAKAGE:
        own = drop(supply, lambda v: drawn(s.lamp, v) + 1e-12 * v, lambda v: v / 3000.0)
        sound |= {m.VOLTS_WHEN_OFF: own, m.OLD_LAMP_CURES: 1.0}
    elif cause is FaultCause.TELL_TALE_FEEDS_BACK:
        tell_tale = filament_load(2.2, 12.0)
        own = drop(supply, lambda v: sum(drawn(one, v) for one in s.far), lambda v: drawn(tell_tale, v))
        sound |= {m.VOLTS_WHEN_OFF: own, m.OLD_LAMP_CURES: 1.0}
    elif cause is FaultCause.BRIDGED_CONTACTS:
        sound |= {m.VOLTS_OTHER_CONTACT: supply, m.OLD_LAMP_CURES: 1.0}
    elif cause in (FaultCause.TOO_LITTLE_LOAD, FaultCause.WEAK_SOURCE):
        sound |= {m.OLD_LAMP_CURES: 1.0}
    elif cause is FaultCause.FLASHER_LACKS_EARTH:
        sound |= {m.EARTH_WIRE_CURES: 1.0}
    elif cause is FaultCause.SHORT_CIRCUIT:
        sound |= {m.VOLTS_AT_LAMP: 0.0, m.AMPERES: 100.0}
    elif cause is FaultCause.NO_EXCITATION:
        sound |= {m.GENERATOR_VOLTS: supply, m.OLD_LAMP_CURES: 1.0}
    elif cause is FaultCause.FIELD_REVERSED:
        sound |= {m.GENERATOR_VOLTS: -0.8}  # remanence alone, against the battery
    elif cause is FaultCause.TOO_MUCH_LOAD:
        sound |= {m.AMPERES: sum(drawn(one, supply) for one in lit)}
    return sound.get(measurement, 0.0)


THERMAL, HOT, TIMER, MADE = "thermal series", "hot wire", "load-independent", "electronic"

VEHICLES: list[tuple[str, Scene, FaultCause]] = [
    ("stays dark", Scene(12.6, LED, polarity_told=False, positive_earth=True), FaultCause.REVERSED),
    ("stays dark", Scene(12.6, LED, positive_earth=True), FaultCause.REVERSED),
    ("stays dark", Scene(12.6, TAIL, ways_in=2), FaultCause.REVERSED),
    ("stays dark", Scene(12.6, EITHER, polarity_told=True), FaultCause.LOST_EARTH),
    ("stays dark", Scene(12.6, EITHER, (P21,), polarity_told=True), FaultCause.LOST_EARTH),
    ("stays dark", Scene(12.6, P21), FaultCause.NO_SUPPLY),
    ("stays dark", Scene(12.6, led_load(0.4, 13.5, bridge=True), polarity_told=True), FaultCause.POOR_CONTACT),
    ("dark until all are changed", Scene(12.6, LED, (P21,)), FaultCause.SERIES_WITH_FILAMENT),
    ("dark until all are changed", Scene(6.3, LED_6V, (R5_6V, R5_6V)), FaultCause.SERIES_WITH_FILAMENT),
    ("dark until all are changed", Scene(12.6, LED, (P21, R5)), FaultCause.LOST_EARTH),
    ("glows when off", Scene(12.6, TAIL), FaultCause.LEAKAGE),
    ("glows when off", Scene(12.6, LED, far=(LED, LED), single_tell_tale=True), FaultCause.TELL_TALE_FEEDS_BACK),
    ("glows when off", Scene(12.6, LED, double_holder=True), FaultCause.BRIDGED_CONTACTS),
    ("flashes fast", Scene(12.6, LED, (LED,), flasher=MADE, flasher_needs=2.7), FaultCause.TOO_LITTLE_LOAD),
    ("flashes fast", Scene(12.6, P21, (P21, P21), flasher=THERMAL, flasher_needs=2.8), FaultCause.TOO_MUCH_LOAD),
    ("flashes slowly", Scene(12.6, P21, (P21,), flasher=THERMAL, flasher_needs=2.8), FaultCause.TIRED_EARTH),
    ("flashes slowly", Scene(12.6, LED, (P21,), flasher=THERMAL, flasher_needs=2.8), FaultCause.TOO_LITTLE_LOAD),
    ("does not flash", Scene(12.6, LED, (LED,), flasher=HOT, flasher_needs=1.2), FaultCause.TOO_LITTLE_LOAD),
    ("does not flash", Scene(12.6, LED, (LED,), flasher=TIMER), FaultCause.FLASHER_LACKS_EARTH),
    ("does not flash", Scene(12.6, P21, (P21,), flasher=TIMER), FaultCause.FLASHER_LACKS_EARTH),
    ("tell-tale lights both sides", Scene(12.6, LED, far=(LED, LED)), FaultCause.TELL_TALE_FEEDS_BACK),
    (
        "tell-tale lights both sides",
        Scene(12.6, LED, far=(LED,), single_tell_tale=True),
        FaultCause.TELL_TALE_FEEDS_BACK,
    ),
    ("tail and turn influence each other", Scene(12.6, P21, (R5,)), FaultCause.LOST_EARTH),
    ("tail and turn influence each other", Scene(12.6, R5, (P21,)), FaultCause.TIRED_EARTH),
    ("tail and turn influence each other", Scene(12.6, LED, (TAIL,), double_holder=True), FaultCause.LOST_EARTH),
    ("dim after the change", Scene(12.6, LED), FaultCause.WEAK_SOURCE),
    ("dim after the change", Scene(12.6, LED, (P21, P21)), FaultCause.TIRED_EARTH),
    ("dim after the change", Scene(6.3, P21, (P21,)), FaultCause.TIRED_EARTH),
    ("bright and dim exchanged", Scene(12.6, LED, double_holder=True), FaultCause.EXCHANGED_CONTACTS),
    ("bright and dim exchanged", Scene(12.6, TAIL, double_holder=True), FaultCause.BRIDGED_CONTACTS),
    ("works on the bench only", Scene(12.6, EITHER, (R5,), polarity_told=True), FaultCause.LOST_EARTH),
    ("works on the bench only", Scene(12.6, LED, positive_earth=True), FaultCause.REVERSED),
    ("fuse blows", Scene(12.6, LED, fuse=5.0), FaultCause.SHORT_CIRCUIT),
    ("fuse blows", Scene(12.6, P21, (P21,), fuse=3.0), FaultCause.FUSE_TOO_SMALL),
    ("charge lamp stays on", Scene(12.4, P21, charge_lamp=TAIL), FaultCause.NO_EXCITATION),
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
    shown = read(cause, scene, told.measurement)
    to_true, to_other = (abs(min(one.expected[told.measurement], 100.0) - shown) for one in (true, other))
    assert to_true < to_other, f"{told.measurement.value} shows {shown:g}"
    if told.measurement in symptoms.YES_OR_NO:
        assert to_true == 0


@pytest.mark.parametrize("scene", [Scene(12.6, LED, (P21,)), Scene(12.6, P21, (R5, R5)), Scene(6.3, LED_6V, (R5_6V,))])
def test_lost_earth_is_kirchhoff(scene: Scene) -> None:
    expected = symptoms.readings(FaultCause.LOST_EARTH, scene)
    for measurement in (Measurement.VOLTS_AT_LAMP, Measurement.VOLTS_OF_EARTH, Measurement.AMPERES):
        assert expected[measurement] == pytest.approx(read(FaultCause.LOST_EARTH, scene, measurement), abs=2e-3)


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
