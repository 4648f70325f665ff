"""Circuits: the solver against Kirchhoff, wires, fuses, verdicts, and impossible circuits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampkit import tables
from lampkit.circuits import circuit_change, loads, network, tasks, wiring
from lampkit.circuits.circuit_change import LampMix, SwitchOverload
from lampkit.circuits.network import LeakVerdict
from lampkit.errors import InputError

P21 = loads.filament_load(25, 13.5, name="21 W lamp")
R5 = loads.filament_load(5, 13.5, name="5 W lamp")
LED = loads.led_load(1.2, 13.5, name="LED")
REGULATED = loads.led_load(1.2, 13.5, feed="regulated", name="regulated LED")
BRIDGE = loads.led_load(1.2, 13.5, bridge=True, name="bridge LED")
WIRE = wiring.Wire("1.0 mm2", 6.0)

any_load = st.sampled_from([P21, R5, LED, REGULATED, BRIDGE, loads.resistor_load(6.0)])


@given(
    st.lists(any_load, min_size=1, max_size=6), st.floats(8.0, 16.0), st.floats(0.0, 2.0)
)  # every mix of lamps on one wire
def test_lamp_voltage_obeys_kirchhoff(lamps: list[loads.Load], supply: float, ohms: float) -> None:
    v = network.lamp_voltage(supply, ohms, lamps)
    assert v + ohms * loads.total_current(lamps, v) == pytest.approx(supply, rel=1e-9)


@settings(max_examples=40)
@given(st.lists(any_load, min_size=1, max_size=3), st.lists(any_load, min_size=1, max_size=3), st.floats(8.0, 16.0))
def test_series_obeys_kirchhoff(first: list[loads.Load], second: list[loads.Load], supply: float) -> None:
    chain = network.series_current(supply, [first, second], 0.5)
    assert np.all(chain.voltages >= 0)
    assert loads.total_current(first, chain.voltages[0]) == pytest.approx(float(chain.current), abs=1e-6)
    assert chain.voltages.sum() + 0.5 * chain.current == pytest.approx(supply, abs=1e-6)


@given(any_load, st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_current_never_falls_with_voltage(lamp: loads.Load, a: float, b: float) -> None:
    low, high = loads.load_current(lamp, sorted([a, b]))
    assert low <= high + 1e-12


def test_scalar_gives_a_0d_array_and_axes_broadcast() -> None:
    assert loads.load_current(P21, 12.0).shape == ()
    assert network.lamp_voltage(12.0, 0.1, [P21]).shape == ()
    assert network.lamp_voltage(np.array([12.0, 13.5])[:, None], np.array([0.0, 0.1, 0.2]), [P21]).shape == (2, 3)
    assert network.series_current([12.0, 13.5], [[R5], [LED]]).voltages.shape == (2, 2)


def test_reversed_led_blocks_and_a_bridge_does_not() -> None:
    assert loads.load_current(LED, -13.5) == 0
    assert loads.load_current(BRIDGE, -13.5) == pytest.approx(-float(loads.load_current(BRIDGE, 13.5)))
    assert loads.load_current(R5, -13.5) == pytest.approx(-5 / 13.5)


def test_regulated_led_holds_from_9_to_16_volts() -> None:
    held = loads.load_current(REGULATED, [9.0, 12.0, 16.0])
    np.testing.assert_allclose(held, REGULATED.current, rtol=1e-12)
    assert loads.load_current(REGULATED, 8.0) < REGULATED.current


def test_long_white_string_sags_more_than_a_filament() -> None:
    string = loads.led_load(3, 13.5, string_voltage=9.3, bridge=True)
    assert loads.relative_light(string, 12.0) < loads.relative_light(P21, 12.0)


@pytest.mark.parametrize("system", [6.0, 12.0, 24.0])
def test_the_same_watts_at_another_system(system: float) -> None:
    size = system / 12.0
    lamp = loads.filament_load(25, 13.5 * size)
    v = network.lamp_voltage(12.0 * size, 0.2 * size**2, [lamp])
    assert v / size == pytest.approx(float(network.lamp_voltage(12.0, 0.2, [P21])))


def test_hot_copper() -> None:
    # 100 K warmer copper has 39.3 % more resistance (IACS).
    cold, hot = (float(wiring.wire_resistance(wiring.Wire("2.5 mm2", 3.0, celsius=c))) for c in (20, 120))
    assert hot / cold == pytest.approx(1.393)


@pytest.mark.parametrize("spelling", ["1.0 mm2", "1 mm2", "1.0mm²", "1,0 mm2"])
def test_spellings_of_a_size(spelling: str) -> None:
    assert wiring.resistance_per_length(spelling) == 19.5


@pytest.mark.parametrize(("gauge", "area"), [(20, 0.518), (18, 0.823), (16, 1.309), (14, 2.081), (12, 3.309)])
def test_awg_areas_of_the_printed_table(gauge: int, area: float) -> None:
    assert 0.25 * np.pi * wiring.awg_diameter(gauge) ** 2 == pytest.approx(area, abs=0.001)


def test_thinner_wire_has_more_resistance_in_every_table() -> None:
    table = tables.load("circuit", "conductors")
    for standard in set(table["standard"]):
        rows = (table["standard"] == standard) & np.isfinite(table["resistance_mohm_per_m"])
        by_area = table["resistance_mohm_per_m"][rows][np.argsort(table["area_mm2"][rows])]
        assert np.all(np.diff(by_area) < 0)


def test_before_and_after() -> None:
    side = circuit_change.LampCircuit("side lamps", 12.0, WIRE, contact_resistance=0.1, earth_resistance=0.1, fuse=5.0)
    change = circuit_change.before_and_after(side, [R5] * 4, [LED] * 3 + [R5])
    ohms = 6 * 0.0195 + 0.2
    np.testing.assert_allclose(change.drop, ohms * change.current)
    assert change.current[1] < change.current[0]
    assert change.light[1, 3] > change.light[0, 3], "the filament that stays gets brighter"
    # Cold filaments have a fourteenth of their resistance, in series with the wire: 12 V over both.
    warm = change.current[0] / (12.0 - ohms * change.current[0])
    assert change.inrush[0, 1] == pytest.approx(12.0 / (ohms + 1.0 / (14.0 * warm)))
    assert change.inrush[0, 0] < change.inrush[0, 1] < 12.0 / ohms
    assert change.said[0].key == "circuit.load"
    assert change.said[0].values["share"] == pytest.approx(change.current[1] / change.current[0])


@pytest.mark.parametrize(
    ("old", "new", "rating", "when"),
    [
        (P21, LED, 2.0, SwitchOverload.BEFORE),
        (LED, P21, 2.0, SwitchOverload.AFTER),
        (P21, P21, 2.0, SwitchOverload.BEFORE_AND_AFTER),
        (P21, LED, 20.0, SwitchOverload.NEVER),
        (P21, LED, None, SwitchOverload.NEVER),
    ],
)
def test_an_overloaded_switch_and_a_faulty_drop_are_told(
    old: loads.Load, new: loads.Load, rating: float | None, when: SwitchOverload
) -> None:
    stop = circuit_change.LampCircuit("stop", 12.0, WIRE, earth_resistance=0.6, switch_rating=rating)
    change = circuit_change.before_and_after(stop, [old] * 2, [new] * 2)
    keys = {said.key for said in change.said}
    assert change.switch is when
    assert ("circuit.switch" in keys) == (when is not SwitchOverload.NEVER)
    assert ("circuit.faulty_drop" in keys) == bool(change.drop[0] > 1.0)
    assert all(str(said) for said in change.said)


def test_lamps_that_share_a_circuit() -> None:
    both = circuit_change.mixed_circuit([P21, LED], 12.0)
    assert both.mix is LampMix.BOTH and both.filament_light == pytest.approx(0.9**3.4)
    assert circuit_change.mixed_circuit([P21], 12.0).mix is LampMix.FILAMENTS
    assert circuit_change.mixed_circuit([LED], 12.0).said.key == "circuit.of_one_kind"


def test_leak_lights_an_led_and_not_a_filament() -> None:
    assert network.leak(12.0, 5000, LED).verdict is LeakVerdict.RESISTOR_CURES
    assert network.leak(12.0, 5000, R5).verdict is LeakVerdict.STAYS_DARK
    assert network.leak(12.0, 500, LED).verdict is LeakVerdict.RESISTOR_TOO_LARGE
    assert {network.leak(12.0, ohms, LED).said.key for ohms in (5000, 500)} == {
        "leak.resistor_cures",
        "leak.resistor_too_large",
    }


def test_every_caution_has_id_place_source_and_a_known_way_of_knowing() -> None:
    table = tables.load("circuit", "cautions")
    assert len(set(table["id"])) == len(table) and set(table["id"]) == {one.value for one in tasks.Caution}
    assert all(table["source"])
    for where in set(table["where"]):
        assert tasks.cautions(where)
    for row in tables.load("circuit", "polarity").rows():
        assert row["source"] and row["known"]
        assert not row["caution"] or row["caution"] in table["id"]


BAD = {
    "supply_voltage": lambda: circuit_change.LampCircuit("x", 0.0, WIRE),
    "supply": lambda: network.lamp_voltage(np.nan, 0.1, [P21]),
    "earth_resistance": lambda: circuit_change.LampCircuit("x", 12.0, WIRE, earth_resistance=-0.1),
    "fuse": lambda: circuit_change.LampCircuit("x", 12.0, WIRE, fuse=0.0),
    "switch_rating": lambda: circuit_change.LampCircuit("x", 12.0, WIRE, switch_rating=-5.0),
    "length": lambda: wiring.Wire("1.0 mm2", 0.0),
    "celsius": lambda: wiring.Wire("1.0 mm2", 1.0, celsius=900.0),
    "size": lambda: wiring.Wire("300 mm2", 1.0),
    "standard": lambda: wiring.Wire("1.0 mm2", 1.0, standard="IEC 60227"),
    "kind": lambda: loads.Load("x", "halogen", 1.0, 12.0),  # type: ignore[arg-type]
    "threshold_voltage": lambda: loads.led_load(1, 6.75, string_voltage=9.3),
    "feed": lambda: loads.led_load(1, 13.5, feed="magic"),  # type: ignore[arg-type]
    "power": lambda: loads.filament_load("strong", 13.5),  # type: ignore[arg-type]
    "resistance": lambda: loads.resistor_load(0.0),
    "loads": lambda: network.lamp_voltage(12.0, 0.1, []),
    "groups": lambda: network.series_current(12.0, [[P21], []]),
    "new": lambda: circuit_change.before_and_after(circuit_change.LampCircuit("x", 12.0, WIRE), [P21], []),
    "old": lambda: circuit_change.before_and_after(circuit_change.LampCircuit("x", 24.0, WIRE), [P21], [P21]),
    "where": lambda: tasks.cautions("balast"),
}


def test_a_wire_between_the_sizes_of_the_tables_is_read_between_them() -> None:
    """Resistance times area is 19.5, 19.95 and 19.95 mohm mm2/m at 1, 1.5 and 2.5 mm2 (IEC 60228, class 5)."""
    assert wiring.resistance_per_length("1.5 mm2") == 13.3
    assert 19.9 / 2.0 < wiring.resistance_per_length("2 mm2") < 20.0 / 2.0
    assert wiring.resistance_per_length("50 mm2") == pytest.approx(4.95 * 4 / 50)
    # On the safe side: a wire that no table rates carries no more than the next smaller one that is rated.
    assert np.all(wiring.current_ratings("50 mm2") >= wiring.current_ratings("4 mm2")[0])
    assert wiring.current_ratings("50 mm2")[1] < 60.0


@pytest.mark.parametrize("key", BAD)
def test_the_impossible_is_refused_by_its_key(key: str) -> None:
    with pytest.raises(InputError, match=key):
        BAD[key]()


def test_the_default_string_is_two_dice_of_3_25_volts() -> None:
    """6.5 V of 13.5 V; a silicon bridge takes two diodes of 0.7 V more; at 6.75 V half as much."""
    assert loads.led_load(1.0, 13.5).threshold_voltage == pytest.approx(6.5)
    assert loads.led_load(1.0, 13.5, bridge=True).threshold_voltage == pytest.approx(7.9)
    assert loads.led_load(1.0, 6.75).threshold_voltage == pytest.approx(3.25)


@pytest.mark.parametrize(("supply", "taken"), [(4.9, False), (5.0, True), (13.0, True), (13.2, False)])
def test_a_lamp_is_taken_from_half_its_voltage_to_1_3_times_it(supply: float, taken: bool) -> None:
    lamp, wired = loads.filament_load(10.0, 10.0), circuit_change.LampCircuit("x", supply, WIRE)
    if taken:
        assert circuit_change.before_and_after(wired, [lamp], [lamp]).current[0] > 0.0
    else:
        with pytest.raises(InputError, match="rated at 10 V"):
            circuit_change.before_and_after(wired, [lamp], [lamp])


def test_a_regulated_led_falls_on_a_straight_line_below_nine_volts() -> None:
    """From 6.5 V to 9.0 V: half way, at 7.75 V, half of the current; of a resistor-fed one from 6.5 V to 13.5 V."""
    assert float(loads.load_current(REGULATED, 7.75)) == pytest.approx(REGULATED.current / 2.0)
    assert float(loads.load_current(LED, 10.0)) == pytest.approx(LED.current / 2.0)
    assert float(loads.load_current(LED, 20.5)) == pytest.approx(2.0 * LED.current)


def test_the_light_of_a_resistor_is_nil_and_nothing_lit_draws_nothing() -> None:
    np.testing.assert_array_equal(loads.relative_light(loads.resistor_load(6.0), [6.0, 12.0]), [0.0, 0.0])
    np.testing.assert_array_equal(loads.total_current([], [6.0, 12.0]), [0.0, 0.0])


@pytest.mark.parametrize(
    ("gauge", "taken"), [("AWG 3", False), ("AWG 4", True), ("awg 36", True), ("AWG36", True), ("AWG 37", False)]
)
def test_gauges_from_4_to_36_are_taken(gauge: str, taken: bool) -> None:
    if taken:
        assert wiring.resistance_per_length(gauge) > 0.0
    else:
        with pytest.raises(InputError, match="size"):
            wiring.resistance_per_length(gauge)


def test_gauges_by_the_printed_table() -> None:
    """AWG 18 has 20.95 mohm/m, AWG 4 0.815 mohm/m, 36 is 0.127 mm and 0000 (-3) is 11.684 mm (ASTM B258)."""
    assert float(wiring.resistance_per_length("AWG 18")) == pytest.approx(20.95, rel=2e-3)
    assert float(wiring.resistance_per_length("AWG 4")) == pytest.approx(0.815, rel=2e-3)
    assert wiring.awg_diameter([36, -3]) == pytest.approx([0.127, 11.684], abs=1e-3)
    # What two tables print of AWG 18: 16 A for chassis wiring, 2.3 A for transmission; spelling does not matter.
    np.testing.assert_allclose(wiring.current_ratings("awg18"), [2.3, 16.0])


@pytest.mark.parametrize(("celsius", "taken"), [(-61.0, False), (-60.0, True), (200.0, True), (201.0, False)])
def test_copper_is_taken_from_60_below_to_200_degrees(celsius: float, taken: bool) -> None:
    if taken:
        assert wiring.Wire("1.0 mm2", 1.0, celsius=celsius).celsius == celsius
    else:
        with pytest.raises(InputError, match="celsius"):
            wiring.Wire("1.0 mm2", 1.0, celsius=celsius)


@pytest.mark.parametrize(
    ("size", "taken"), [("0.19 mm2", False), ("0.2 mm2", True), ("50 mm2", True), ("51 mm2", False)]
)
def test_sections_from_0_2_to_50_mm2_are_taken(size: str, taken: bool) -> None:
    if taken:
        assert wiring.resistance_per_length(size) > 0.0
    else:
        with pytest.raises(InputError, match="size"):
            wiring.resistance_per_length(size)


def test_a_section_that_no_table_rates_bears_what_the_next_smaller_one_does() -> None:
    """1.2 mm2 as 1.0 mm2: 8.75 A to 16.5 A. Of 0.5 mm2 (5 A to 11 A), the smallest, 0.25 mm2 bears half."""
    np.testing.assert_allclose(wiring.current_ratings("1.2 mm2"), [8.75, 16.5])
    np.testing.assert_allclose(wiring.current_ratings("0.25 mm2"), [2.5, 5.5])


def test_solid_copper() -> None:
    # Solid copper of 1 mm2: 17.241 mohm/m at 20 degrees C (IACS).
    assert float(wiring.solid_resistance_per_length(1.0)) == pytest.approx(17.241)


def test_a_switch_may_carry_just_its_rating_and_a_volt_may_just_be_lost() -> None:
    """Resistors of 6 ohm draw 2 A at 12 V without resistance in the way."""
    bare = circuit_change.LampCircuit("x", 12.0, wiring.Wire("50 mm2", 1e-6), switch_rating=2.0)
    amperes = circuit_change.before_and_after(bare, [loads.resistor_load(6.0)], [loads.resistor_load(6.0)])
    assert float(amperes.current[0]) == pytest.approx(2.0) and amperes.switch is SwitchOverload.NEVER
    lamp = [loads.filament_load(24.0, 12.0)]
    for volts, told in ((0.9, False), (1.1, True)):
        # 2 A at 12 V behind volts / 2 A.
        circuit = circuit_change.LampCircuit("x", 12.0 + volts, wiring.Wire("50 mm2", 1e-6), earth_resistance=volts / 2)
        keys = {said.key for said in circuit_change.before_and_after(circuit, lamp, lamp).said}
        assert ("circuit.faulty_drop" in keys) is told and "circuit.drop" in keys
    small = circuit_change.LampCircuit("x", 12.04, wiring.Wire("50 mm2", 1e-6), earth_resistance=0.02)
    assert "circuit.drop" not in {said.key for said in circuit_change.before_and_after(small, lamp, lamp).said}


def test_light_lost_and_rush_by_hand() -> None:
    """2 A at 12 V behind 0.5 ohm at 13 V: (12/13)^3.4 of the light is left. Cold at a tenth: 13 V over 0.5 + 0.6 ohm,
    at a fourteenth 13 V over 0.5 + 0.4286 ohm."""
    lamp, resistor = loads.filament_load(24.0, 12.0), loads.resistor_load(1200.0)
    circuit = circuit_change.LampCircuit("x", 13.0, wiring.Wire("50 mm2", 1e-6), earth_resistance=0.5)
    change = circuit_change.before_and_after(circuit, [lamp], [resistor])
    assert float(change.light_lost[0, 0]) == pytest.approx(1.0 - (12.0 / 13.0) ** 3.4, rel=1e-3)
    np.testing.assert_allclose(change.inrush[0], [13.0 / 1.1, 13.0 / (0.5 + 6.0 / 14.0)], rtol=1e-3)
    # The fuse melts by the square of the 2 A that the old lamp draws at 12 V, in a second's worth of its rush.
    assert change.fuse_state.pulse == pytest.approx(4.0, rel=1e-3)
    # What is no filament has no rush.
    np.testing.assert_allclose(change.inrush[1], float(change.current[1]), rtol=1e-9)


def test_a_mixed_circuit_by_hand() -> None:
    """At 13.5 V 25 W draw 1.852 A and 1.2 W 0.089 A; at 12.15 V an LED that begins at 6.5 V
    keeps 5.65 / 7 of its light."""
    both = circuit_change.mixed_circuit([P21, LED, LED], 13.5)
    assert both.filament_current == pytest.approx(25 / 13.5) and both.led_current == pytest.approx(2 * 1.2 / 13.5)
    assert both.led_light == pytest.approx(5.65 / 7.0) and both.led_name == "LED"
    leds = circuit_change.mixed_circuit([LED], 13.5)
    assert leds.mix is LampMix.LEDS and leds.filament_current == 0.0 and np.isnan(leds.filament_light)
    assert both.said.key == "circuit.mixed"


@pytest.mark.parametrize("gauge", [-4.0, 61.0])
def test_a_gauge_that_nobody_draws_is_refused(gauge: float) -> None:
    """The sizes of ASTM B258 run from 0000, that is -3, to 56; up to 60 are taken."""
    assert wiring.awg_diameter(60.0) < wiring.awg_diameter(-3.0)
    with pytest.raises(InputError, match="gauge"):
        wiring.awg_diameter(gauge)


def test_cold_filaments_beside_an_led_that_holds_its_current() -> None:
    """12.3 V behind 0.1 ohm: 3 A leave 12 V. The LED keeps its 1 A down to 8 V, so 12.3 V - 0.1 V lie over 0.1 ohm and
    the cold filament of 6 / 10 or 6 / 14 ohm, which get 10.5 V and 9.9 V."""
    lamp, led = loads.filament_load(24.0, 12.0), loads.led_load(12.0, 12.0, feed="regulated")
    circuit = circuit_change.LampCircuit("x", 12.3, wiring.Wire("50 mm2", 1e-6), earth_resistance=0.1)
    change = circuit_change.before_and_after(circuit, [lamp, led], [led, led])
    by_hand = [1.0 + 12.2 / (0.1 + 6.0 / 10.0), 1.0 + 12.2 / (0.1 + 6.0 / 14.0)]
    np.testing.assert_allclose(change.inrush[0], by_hand, rtol=1e-4)


def test_what_is_lit_beside_is_counted_for_the_fuse_before_and_after() -> None:
    """At 12 V 2 A before and 1 A after, beside 3 A before and 0.5 A after; a resistor gives no light and loses none."""
    before, after, beside, less = (loads.resistor_load(ohms) for ohms in (6.0, 12.0, 4.0, 24.0))
    circuit = circuit_change.LampCircuit("x", 12.0, wiring.Wire("50 mm2", 1e-6))
    change = circuit_change.before_and_after(circuit, [before], [after], also_lit=([beside], [less]))
    assert change.fuse_state.filaments == pytest.approx(5.0) and change.fuse_state.now == pytest.approx(1.5)
    np.testing.assert_array_equal(change.light_lost, 0.0)


def test_loads_of_other_ratings_by_ohms_law() -> None:
    """A resistor told as 2 A at 12 V draws 1 A at 6 V; a die from 0.5 V to 2 V a fifth of its current at 0.8 V."""
    told = loads.Load("ballast", loads.LoadKind.RESISTOR, 2.0, 12.0)
    assert float(loads.load_current(told, 6.0)) == pytest.approx(1.0)
    die = loads.Load("die", loads.LoadKind.RESISTOR_FED_LED, 0.1, 2.0, 0.5, either_way=False)
    assert float(loads.load_current(die, 0.8)) == pytest.approx(0.02)
    assert float(loads.load_current(die, -0.8)) == 0.0


def test_the_drop_told_is_that_of_the_old_lamps_beside_that_of_the_new() -> None:
    """2 A of filament at 12 V behind 0.55 ohm lose 1.1 V; 0.01 A through 1310 ohm lose 5 mV."""
    circuit = circuit_change.LampCircuit("x", 13.1, wiring.Wire("50 mm2", 1e-6), earth_resistance=0.55)
    old, new = loads.filament_load(24.0, 12.0), loads.resistor_load(1310.0)
    said = {one.key: one.values for one in circuit_change.before_and_after(circuit, [old], [new]).said}
    told = said["circuit.drop"]
    found = [told[name] for name in ("voltage", "dimmed", "drop_before", "drop_after")]
    assert found == pytest.approx([12.0, 1.0 - (12.0 / 13.1) ** 3.4, 1.1, 0.0055], rel=2e-3)
    assert "circuit.faulty_drop" in said
