"""Flashers, ballast resistors and the tell-tale: limits, sizes, verdicts, and the closed form against the steps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference import thermal_flasher

from lampkit import tables
from lampkit.circuits import flasher_cures, flashers, loads, tell_tale
from lampkit.circuits.flashers import FlasherBehaviour, FlasherKind, FlashPace
from lampkit.circuits.tell_tale import TellTaleVerdict
from lampkit.errors import InputError

P21 = loads.filament_load(25, 13.5, name="21 W lamp")
LED = loads.led_load(2, 13.5, name="LED")
THERMAL, HOT_WIRE, ELECTRONIC, TIMER = (flashers.flasher(k) for k in tables.load("circuit", "flashers")["kind"])


@given(st.floats(0.0, 2.0), st.floats(0.3, 0.8), st.floats(0.1, 0.9))
def test_thermal_series_flasher_locks_on_exactly_below_its_least_load(ratio: float, trip: float, share: float) -> None:
    rhythm = flashers.thermal_series_flash(ratio, trip=trip, reset=trip * share)
    locked = ratio**2 <= trip
    assert (rhythm.rate == 0) == locked
    assert np.isinf(rhythm.on) == locked
    assert 0 < rhythm.duty <= 1
    assert (rhythm.duty == 1) == locked


@given(st.floats(0.0, 2.0), st.floats(0.3, 0.8), st.floats(0.1, 0.9))
def test_hot_wire_is_the_mirror_of_thermal_series(ratio: float, trip: float, share: float) -> None:
    series = flashers.thermal_series_flash(ratio, trip=trip, reset=trip * share)
    wire = flashers.hot_wire_flash(ratio, trip=trip, reset=trip * share)
    np.testing.assert_allclose([wire.off, wire.on, wire.start], [series.on, series.off, series.start])
    np.testing.assert_allclose(wire.duty, 1 - series.duty, atol=1e-12)


def test_levels_that_mirror_each_other_give_half_duty_at_the_rated_load() -> None:
    trip = np.array([0.55, 0.6, 0.7])
    duty = [flashers.thermal_series_flash(1.0, trip=t, reset=1 - t).duty for t in trip]
    np.testing.assert_allclose(duty, 0.5)


def test_more_load_flashes_faster() -> None:
    assert np.all(np.diff(flashers.thermal_series_flash(np.linspace(0.8, 1.5, 30)).rate) > 0)


def test_steps_tend_to_the_closed_form_as_the_strip_slows() -> None:
    ratio = 2 * float(loads.load_current(P21, 12.8)) / 3.6
    closed = flashers.thermal_series_flash(ratio, time_constant=1.0)
    taus = np.array([4.0, 8.0])
    on = []
    for tau in taus:
        slow = thermal_flasher.warming_flash(
            P21, 2, 12.8, strip_time_constant=tau, duration=4.5 * tau, heater_resistance=1e-6
        )
        assert slow.off == pytest.approx(tau * float(closed.off), abs=2e-3)
        on.append(float(slow.on) / tau)
    # One inrush brings the heat of about half a second of settled current, whatever the strip: its share dwindles.
    missing = (float(closed.on) - np.array(on)) * taus
    assert on[0] < on[1] < closed.on
    assert np.all((missing > 0.2) & (missing < 1.0))


def test_single_lamp_never_trips_even_with_its_inrush() -> None:
    assert thermal_flasher.warming_flash(P21, 1, [11.0, 12.8, 15.0]).rate == pytest.approx([0, 0, 0])


@pytest.mark.parametrize("system", [6.0, 12.0, 24.0])
@pytest.mark.parametrize("kind", ["thermal series", "hot wire", "electronic", "load-independent"])
def test_every_flasher_works_with_the_lamps_it_is_made_for(kind: str, system: float) -> None:
    lamp = loads.filament_load(25, 13.5 * system / 12)
    rhythm = flashers.flash(flashers.flasher(kind, supply_voltage=system), [lamp] * 2, 12.8 * system / 12)
    assert 80 <= rhythm.rate <= 95
    assert rhythm.start <= 1.5, "UN R48, 6.5.9, read in a secondary text: the first dark within 1.5 s"


def test_shapes_broadcast_over_the_supply() -> None:
    for unit in (THERMAL, HOT_WIRE, ELECTRONIC, TIMER):
        rhythm = flashers.flash(unit, [P21] * 2, np.array([11.0, 12.8, 15.0]))
        assert all(field.shape == (3,) for field in rhythm)
        assert all(field.shape == () for field in flashers.flash(unit, [P21] * 2, 12.8))


def test_threshold_tracks_the_supply_so_two_filaments_are_never_taken_for_one() -> None:
    supply = np.linspace(9.0, 16.0, 15)
    np.testing.assert_allclose(flashers.flash(ELECTRONIC, [P21] * 2, supply).rate, ELECTRONIC.rate)
    np.testing.assert_allclose(flashers.flash(ELECTRONIC, [P21], supply).rate, 2.2 * ELECTRONIC.rate)


@pytest.mark.parametrize(
    ("unit", "lamps", "behaviour", "pace", "said"),
    [
        (THERMAL, [P21, P21], FlasherBehaviour.FLASHES, FlashPace.WITHIN, "flashes"),
        (THERMAL, [LED, LED], FlasherBehaviour.STAYS_LIT, FlashPace.SLOWER, "stays_lit"),
        (THERMAL, [P21] * 4, FlasherBehaviour.FLASHES, FlashPace.FASTER, "flashes"),
        (HOT_WIRE, [LED, LED], FlasherBehaviour.NEVER_CLOSES, FlashPace.SLOWER, "never_closes"),
        (HOT_WIRE, [P21], FlasherBehaviour.FLASHES, FlashPace.WITHIN, "hot_wire_flashes"),
        (ELECTRONIC, [P21, LED], FlasherBehaviour.REPORTS_A_FAILED_LAMP, FlashPace.FASTER, "reports_a_failed_lamp"),
        (ELECTRONIC, [P21, P21], FlasherBehaviour.FLASHES, FlashPace.WITHIN, "flashes"),
        (TIMER, [LED, LED], FlasherBehaviour.FLASHES, FlashPace.WITHIN, "flashes_whatever_the_load"),
    ],
)
def test_state(
    unit: flashers.Flasher, lamps: list[loads.Load], behaviour: FlasherBehaviour, pace: FlashPace, said: str
) -> None:
    state = flashers.flasher_state(unit, lamps, 12.8)
    assert (state.kind, state.behaviour, state.pace) == (unit.kind, behaviour, pace)
    assert state.rate == float(flashers.flash(unit, lamps, 12.8).rate)
    if behaviour in (FlasherBehaviour.STAYS_LIT, FlasherBehaviour.NEVER_CLOSES):
        assert state.rate == 0 and state.current < state.least_current
    assert (state.glow > 0) == (behaviour is FlasherBehaviour.NEVER_CLOSES)
    assert state.said.key == f"flasher.{said}" and not str(state).endswith(".")
    if "limits" in state.said.values:
        assert (state.said.values["limits"] == "") == (pace is FlashPace.WITHIN)


def test_states_look_alike_when_nobody_sees_a_difference() -> None:
    def state(unit: flashers.Flasher, lamps: list[loads.Load]) -> flashers.FlasherState:
        return flashers.flasher_state(unit, lamps, 12.8)

    assert flashers.looks_alike(state(ELECTRONIC, [P21] * 2), state(ELECTRONIC, [P21, P21, LED]))
    assert flashers.looks_alike(state(THERMAL, [LED]), state(THERMAL, [LED]))
    assert not flashers.looks_alike(state(THERMAL, [LED]), state(THERMAL, [LED, LED])), "neither works"
    assert not flashers.looks_alike(state(THERMAL, [P21] * 2), state(THERMAL, [P21] * 3))
    assert not flashers.looks_alike(state(THERMAL, [P21] * 2), state(THERMAL, [P21, LED]))


def test_a_shunt_for_two_regulated_leds_by_hand() -> None:
    """Two of 2 W at 13.5 V: 0.2963 A, one left 0.1481 A, half-way 0.2095 A. Before: 2.7 (13.5/12)^0.55 = 2.881 A."""
    leds = [loads.led_load(2, 13.5, feed="regulated")] * 2
    found = flasher_cures.rerate_shunt(flashers.flasher("electronic"), leds, leds, 13.5)
    assert found.sound == pytest.approx(0.29630, abs=1e-5) and found.failed == pytest.approx(0.14815, abs=1e-5)
    assert found.threshold_after == pytest.approx(0.20951, abs=1e-5)
    assert found.threshold_before == pytest.approx(2.8808, abs=1e-3)
    assert found.factor == pytest.approx(13.75, abs=0.01) and found.tells


@pytest.mark.parametrize(("number", "tells"), [(2, True), (3, True), (4, False)])
def test_resistor_fed_leds_blur_the_threshold(number: int, tells: bool) -> None:
    """0.14815 (V - 6.5)/7 A each: 0.11958 A at 12.15 V, 0.17672 A at 14.85 V."""
    leds = [loads.led_load(2, 13.5)] * number
    found = flasher_cures.rerate_shunt(flashers.flasher("electronic"), leds, leds, 13.5)
    assert found.sound == pytest.approx(number * 0.119577, abs=1e-5)
    assert found.failed == pytest.approx((number - 1) * 0.176720, abs=1e-5)
    assert found.tells is tells


def test_a_shunt_for_filaments_by_hand() -> None:
    """25 W at 13.5 V: 1.8519 A; the 0.55th power of 0.9 and of 1.1. The weakest one is hardest to miss."""
    full = 25 / 13.5
    found = flasher_cures.rerate_shunt(ELECTRONIC, [P21] * 2, [P21] * 2, 13.5)
    assert found.sound == pytest.approx(2 * full * 0.9**0.55) and found.failed == pytest.approx(full * 1.1**0.55)
    assert found.factor == pytest.approx(found.threshold_before / found.threshold_after)
    mixed = flasher_cures.rerate_shunt(ELECTRONIC, [P21, P21, LED], [P21, LED], 13.5)
    assert mixed.failed == pytest.approx(2 * full * 1.1**0.55) and not mixed.tells
    alone = flasher_cures.rerate_shunt(ELECTRONIC, [P21], [P21], 13.5)
    assert alone.failed == 0.0 and alone.threshold_after == pytest.approx(0.5 * full * 0.9**0.55)


def test_better_cure_comes_first_and_the_second_tells_its_heat() -> None:
    first, second = flasher_cures.cures([P21] * 2, [LED] * 2, 14.4)
    assert (first.key, second.key) == ("cure.load_independent_flasher", "cure.ballast_resistors")
    assert second.values["power"] == pytest.approx(14.4**2 / 6.0)
    assert second.values["too_hot"] and second.values["case"] > flasher_cures.CASE_LIMIT
    assert [cure.key for cure in flasher_cures.cures([P21], [P21], 14.4)] == ["cure.not_needed"]
    assert all(str(cure).endswith(".") for cure in (first, second))


@given(st.floats(0.1, 60.0), st.floats(0.05, 1.0))
def test_case_gives_off_what_it_takes(power: float, emissivity: float) -> None:
    rise = float(flasher_cures.case_rise(power, emissivity=emissivity).loose)
    length, width, height = (s / 1000 for s in flasher_cures.CASE_SIZE)
    area = 2 * (length * width + length * height + width * height)
    given_off = area * (
        1.3 * 1.32 * rise**1.25 / width**0.25 + emissivity * 5.670374419e-8 * ((298.15 + rise) ** 4 - 298.15**4)
    )
    assert given_off == pytest.approx(power, rel=1e-6)


def test_ballast_keeps_its_watts_on_six_volts() -> None:
    six = flasher_cures.ballast(loads.filament_load(25, 6.75), loads.led_load(2, 6.75), 6.75)
    twelve = flasher_cures.ballast(P21, LED, 13.5)
    assert six.resistance == pytest.approx(1.5)
    assert six.power == pytest.approx(twelve.power)


@pytest.mark.parametrize("watts", [1.2, 2.0, 3.0, 4.0])
def test_telltale_feeds_back_through_leds_and_not_through_filaments(watts: float) -> None:
    tell = loads.filament_load(watts, 12.0, name="tell-tale")
    back, works = (tell_tale.tell_tale_state(12.8, tell, [lamp] * 2) for lamp in (LED, P21))
    assert back.verdict is TellTaleVerdict.FEEDS_BACK and back.cure is not None
    assert back.far_share > tell_tale.VISIBLE_SHARE
    assert works.verdict is TellTaleVerdict.WORKS and works.cure is None
    assert str(back).startswith(str(back.said)) and str(back).endswith(str(back.cure))


def test_far_leds_that_do_not_conduct_yet_take_no_share() -> None:
    """3 V is below the 6.5 V at which the LEDs begin, and nothing is divided by their current of nil."""
    with np.errstate(all="raise"):
        dark = tell_tale.tell_tale_state(3.0, loads.filament_load(2.0, 12.0), [LED] * 2)
    assert dark.far_share == 0.0 and dark.verdict is TellTaleVerdict.WORKS


def test_led_telltale_works_one_way_only() -> None:
    tell = loads.led_load(0.3, 12.0, name="tell-tale")
    assert tell_tale.tell_tale_state(12.8, tell, [LED] * 2).verdict is TellTaleVerdict.ONE_WAY_ONLY


def test_a_hot_wire_heats_through_the_wiring_too() -> None:
    """12.8 V over 20 ohm of wire, 4 ohm of rust and two cold lamps side by side, 7.29 ohm / 14.3 / 2: 0.527 A."""
    dark = flashers.heater_path(HOT_WIRE, [P21] * 2, 12.8, resistance=4.0)
    assert float(dark.current) == pytest.approx(12.8 / (24.0 + 7.29 / 14.3 / 2.0), rel=1e-4)
    sound, tired = (flashers.flash(HOT_WIRE, [P21] * 2, 12.8, resistance=ohms) for ohms in (0.0, 4.0))
    assert tired.off > sound.off and tired.rate < sound.rate, "it heats more slowly"


BAD = {
    "kind": lambda: flashers.flasher("thermal"),
    "kind of a hand-made unit": lambda: flashers.Flasher("bimetal", 3.6, 12.8),
    "supply_voltage": lambda: flashers.flasher("hot wire", supply_voltage=48.0),
    "pairs": lambda: flashers.flasher("hot wire", pairs=0.0),
    "trip": lambda: flashers.thermal_series_flash(1.0, trip=0.4, reset=0.6),
    "time_constant": lambda: flashers.Flasher(
        FlasherKind.HOT_WIRE, 3.6, 12.8, heater_resistance=20, trip=0.6, reset=0.4
    ),
    "heater": lambda: flashers.heater_path(THERMAL, [P21], 12.8),
    "load_ratio": lambda: flashers.thermal_series_flash(np.nan),
    "duty": lambda: flasher_cures.dissipation(6.0, 12.0, duty=1.5),
    "new": lambda: flasher_cures.cures([P21], [], 14.4),
    "groups": lambda: tell_tale.feedback(12.0, P21, []),
    "diode": lambda: tell_tale.light_behind_diode(0.5),
    "loads": lambda: flashers.flash(THERMAL, [], 12.8),
    "shunt": lambda: flasher_cures.rerate_shunt(HOT_WIRE, [P21], [P21], 13.5),
    "watched": lambda: flasher_cures.rerate_shunt(ELECTRONIC, [P21], [], 13.5),
}


@pytest.mark.parametrize("key", BAD)
def test_the_impossible_is_refused(key: str) -> None:
    with pytest.raises(InputError, match={"heater": "hot wire", "kind of a hand-made unit": "kind"}.get(key, key)):
        BAD[key]()
