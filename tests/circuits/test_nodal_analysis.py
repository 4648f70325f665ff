"""Circuits worked by hand and read at every joint, and each fault by Kirchhoff, with a solver of another kind."""

import pytest
from reference.made_up_vehicles import law_of
from reference.nodal_analysis import Circuit, Solved, filament, resistor

from lampkit import circuits
from lampkit.circuits import fault_finding, loads, network, tell_tale
from lampkit.circuits.fault_finding import FaultCause, Measurement, Scene
from lampkit.circuits.loads import Load, LoadKind

P21, R5 = loads.filament_load(25, 13.5), loads.filament_load(5, 13.5)
LED = loads.led_load(2, 13.5, string_voltage=6.5)
EITHER = loads.led_load(2, 13.5, string_voltage=6.5, bridge=True)


# --- the solver itself, by hand -----------------------------------------------------------------------------------


def test_two_resistors_share_the_volts() -> None:
    divider = Circuit({"battery": 12.0})
    divider.join("upper", "battery", "middle", resistor(1.0))
    divider.join("lower", "middle", "earth", resistor(3.0))
    found = divider.solve()
    assert found.volts("middle") == pytest.approx(9.0) and found.amperes("upper") == pytest.approx(3.0)


def test_a_bridge_of_five_resistors() -> None:
    """10 V, 1 and 3 ohm beside 2 and 4 ohm, 5 ohm across: by hand 150 = 23 a - 3 b and 100 = 19 b - 4 a."""
    bridge = Circuit({"battery": 10.0})
    for name, a, b, ohms in (
        ("1", "battery", "a", 1.0),
        ("2", "battery", "b", 2.0),
        ("3", "a", "earth", 3.0),
        ("4", "b", "earth", 4.0),
        ("5", "a", "b", 5.0),
    ):
        bridge.join(name, a, b, resistor(ohms))
    found = bridge.solve()
    assert found.volts("a") == pytest.approx(126 / 17, abs=1e-6)
    assert found.volts("b") == pytest.approx(116 / 17, abs=1e-6)


# --- worked by hand, a meter at every joint -----------------------------------------------------------------------


def stop_circuit() -> Solved:
    """Two 24 W lamps of 12 V that draw 2 A each: by hand 4 A through every joint where the lamps have just 12 V."""
    worked = Circuit({"battery": 12.8})
    for name, a, b, ohms in (
        ("fuse", "battery", "behind fuse", 0.020),
        ("switch", "behind fuse", "behind switch", 0.030),
        ("wire", "behind switch", "contact", 0.100),
        ("earth", "shell", "earth", 0.050),
    ):
        worked.join(name, a, b, resistor(ohms))
    for lamp in ("left", "right"):
        worked.join(lamp, "contact", "shell", filament(24.0, 12.0))
    return worked.solve()


@pytest.mark.parametrize(
    ("joint", "printed"),
    [("behind fuse", "12.72"), ("behind switch", "12.60"), ("contact", "12.20"), ("shell", "0.20")],
)
def test_worked_stop_circuit_at_every_joint(joint: str, printed: str) -> None:
    """4 A: 0.08 V in the fuse, 0.12 V in the switch, 0.40 V in the wire, 0.20 V in the earth; 12.00 V are left."""
    assert f"{stop_circuit().volts(joint):.2f}" == printed
    read = circuits.network.joint_voltages(12.8, [0.020, 0.030, 0.100], 0.050, [loads.filament_load(24, 12)] * 2)
    by_joint = dict(zip(("behind fuse", "behind switch", "contact"), read.feed, strict=True)) | {"shell": read.shell}
    assert f"{float(by_joint[joint]):.2f}" == printed
    assert f"{float(read.current):.2f}" == "4.00" and f"{float(read.lamp):.2f}" == "12.00"


def test_worked_mixed_circuit_with_rust_in_the_earth() -> None:
    """12.4 V, rust of 2 ohm, a lamp of 0.6 A at 10 V and an LED that takes 0.2 A at 10 V: 0.8 A x 2 ohm = 1.6 V, and
    0.8 V in the wire of 1 ohm: 10.0 V are left."""
    lamp = loads.filament_load(6.0, 10.0)
    diode = loads.led_load(2.0, 10.0, string_voltage=6.0)
    read = circuits.network.joint_voltages(12.4, [1.0], 2.0, [lamp, diode])
    assert [f"{float(v):.1f}" for v in (read.feed[0], read.lamp, read.shell, read.current)] == [
        "11.6",
        "10.0",
        "1.6",
        "0.8",
    ]


@pytest.mark.parametrize(
    ("supply", "feed", "earth", "lamps", "printed"),
    [
        # 6 V: 3 A and 2 A at 6.0 V; 0.06 ohm of feed takes 0.30 V, 0.04 ohm of earth 0.20 V.
        (6.5, [0.02, 0.04], 0.04, [(18.0, 6.0), (12.0, 6.0)], ["6.40", "6.20", "6.00", "0.20", "5.00"]),
        # 24 V trailer on a long wire: four of 1 A at 24.0 V behind 0.60 ohm, 2.40 V.
        (26.8, [0.05, 0.60], 0.05, [(24.0, 24.0)] * 4, ["26.60", "24.20", "24.00", "0.20", "4.00"]),
        # Stop and tail on one rusty earth: 2 A and 0.5 A at 12.0 V, 0.36 ohm, 0.90 V.
        (12.9, [0.0, 0.0], 0.36, [(24.0, 12.0), (6.0, 12.0)], ["12.90", "12.90", "12.00", "0.90", "2.50"]),
    ],
)
def test_worked_circuits_at_every_joint(
    supply: float, feed: list[float], earth: float, lamps: list[tuple[float, float]], printed: list[str]
) -> None:
    """By hand, at the volts at which the lamps are rated; the meter's other lead lies on the earth post."""
    read = circuits.network.joint_voltages(supply, feed, earth, [loads.filament_load(*lamp) for lamp in lamps])
    found = [*read.feed, read.lamp, read.shell, read.current]
    assert [f"{float(value):.2f}" for value in found] == printed


def test_worked_back_feed_through_a_filament_like_its_own() -> None:
    """An earth is lost, and 12.0 V fall to two like lamps of 0.50 A in series: 6.00 V each, 0.50 A x 0.5^0.55 = 0.34 A,
    and 0.5^3.4 = 9 % of the light."""
    lamp = loads.filament_load(6.0, 12.0)
    chain = network.series_current(12.0, [[lamp], [lamp]])
    assert f"{float(chain.current):.2f}" == "0.34"
    assert [f"{float(volts):.2f}" for volts in chain.voltages] == ["6.00", "6.00"]
    assert f"{float(loads.relative_light(lamp, chain.voltages[0])):.2f}" == "0.09"


def test_worked_wetting_film() -> None:
    """A film of 400 ohm before an LED of 20 mA at 12 V that begins at 8 V: its slope is 200 ohm, so 12 V leave
    (12 - 8) / (400 + 200) = 6.67 mA and 8 V + 1.33 V = 9.33 V, a third of its light."""
    diode = loads.led_load(0.24, 12.0, string_voltage=8.0)
    left = float(network.lamp_voltage(12.0, 400.0, [diode]))
    assert f"{left:.2f}" == "9.33" and f"{1000 * float(loads.load_current(diode, left)):.2f}" == "6.67"
    assert f"{float(loads.relative_light(diode, left)):.2f}" == "0.33"


def test_worked_leak_with_and_without_a_resistor_across_the_lamp() -> None:
    """12 V through 5 kohm: at most 2.4 mA; 1 kohm across leaves 12 x 1/6 = 2.0 V, below 6.5 V: dark."""
    worked = Circuit({"battery": 12.0})
    worked.join("leak", "battery", "contact", resistor(5000.0))
    worked.join("lamp", "contact", "earth", law_of(LED))
    glow = worked.solve()
    assert glow.amperes("lamp") == pytest.approx((12.0 - 6.5) / 5000.0, rel=0.01)
    worked.join("shunt", "contact", "earth", resistor(1000.0))
    dark = worked.solve()
    assert f"{dark.volts('contact'):.2f}" == "2.00" and dark.amperes("lamp") == 0.0
    assert float(network.shunted_voltage(12.0, 5000.0, 1000.0)) == pytest.approx(dark.volts("contact"), abs=1e-3)


# --- what the kit computes, by the other way ----------------------------------------------------------------------


@pytest.mark.parametrize("lamps", [[P21], [P21, P21, R5], [P21, LED], [LED, LED], [R5, EITHER]])
@pytest.mark.parametrize("ohms", [0.05, 0.5, 3.0])
def test_volts_behind_one_wire(lamps: list[Load], ohms: float) -> None:
    worked = Circuit({"battery": 12.6})
    worked.join("wire", "battery", "contact", resistor(ohms))
    for number, lamp in enumerate(lamps):
        worked.join(str(number), "contact", "earth", law_of(lamp))
    found = worked.solve()
    assert float(network.lamp_voltage(12.6, ohms, lamps)) == pytest.approx(found.volts("contact"), abs=1e-4)


@pytest.mark.parametrize(
    ("first", "second"), [([P21], [R5]), ([R5], [P21, P21]), ([LED], [P21]), ([P21], [LED, LED]), ([EITHER], [R5])]
)
def test_lamps_that_return_through_lamps(first: list[Load], second: list[Load]) -> None:
    worked = Circuit({"battery": 12.6})
    for which, (group, a, b) in enumerate(((first, "battery", "shell"), (second, "shell", "earth"))):
        for number, lamp in enumerate(group):
            worked.join(f"{which}.{number}", a, b, law_of(lamp))
    found = worked.solve()
    chain = network.series_current(12.6, [first, second])
    assert float(chain.voltages[0]) == pytest.approx(found.volts("battery", "shell"), abs=2e-3)
    total = sum(found.amperes(f"0.{number}") for number in range(len(first)))
    assert float(chain.current) == pytest.approx(total, abs=2e-4)


def test_a_tell_tale_between_both_sides() -> None:
    near = loads.filament_load(2.2, 12.0)
    worked = Circuit({"near": 12.6})
    worked.join("tell-tale", "near", "far", law_of(near))
    for side in ("front", "rear"):
        worked.join(side, "far", "earth", law_of(LED))
    found = worked.solve()
    fed = tell_tale.feedback(12.6, near, [LED, LED])
    assert float(fed.far_voltage) == pytest.approx(found.volts("far"), abs=1e-3)
    assert found.amperes("rear") > 0.01  # the far LEDs are lit


def test_a_stop_lamp_dims_the_tail_lamp_on_one_tired_earth() -> None:
    shares = []
    for stop_on in (False, True):
        worked = Circuit({"battery": 12.8})
        worked.join("tail", "battery", "shell", law_of(R5))
        if stop_on:
            worked.join("stop", "battery", "shell", law_of(P21))
        worked.join("rust", "shell", "earth", resistor(0.5))
        shares.append((worked.solve().volts("battery", "shell") / 13.5) ** 3.4)
    assert float(network.shared_earth(12.8, 0.5, R5, [P21])) == pytest.approx(shares[1] / shares[0], abs=1e-3)


METER = resistor(10e6)
"""What a meter draws from what it reads."""


def faulty(cause: FaultCause, s: Scene, ohms: float, meter: tuple[str, str]) -> Solved:
    """The scene with its fault as a net: the lamps of the circuit, and those of another feed on the same shell."""
    net = Circuit({"battery": s.supply_voltage})
    net.join("feed", "battery", "feed", resistor(1e12 if cause is FaultCause.NO_SUPPLY else 1e-4))
    net.join("contact", "feed", "contact", resistor(ohms if cause is FaultCause.POOR_CONTACT else 1e-4))
    series = cause is FaultCause.SERIES_WITH_LAMPS
    tired = cause is FaultCause.TIRED_EARTH
    broken = 1e12 if cause is FaultCause.LOST_EARTH or series else ohms if tired else 1e-4
    net.join("earth", "shell", "earth", resistor(broken))
    lamp = law_of(s.lamp)
    net.join("lamp", "contact", "shell", (lambda volts: -lamp(-volts)) if cause is FaultCause.REVERSED else lamp)
    for number, other in enumerate(s.others):
        a, b = ("shell", "earth") if series else ("feed", "shell" if tired else "earth")
        net.join(f"other {number}", a, b, law_of(other))
    for number, other in enumerate(() if series else s.sharing):
        # Its own feed is off, and lies at earth through its many lamps elsewhere.
        net.join(f"sharing {number}", "shell", "earth", law_of(other))
    net.join("meter", *meter, METER)
    return net.solve()


FAULTS = (
    FaultCause.LOST_EARTH,
    FaultCause.TIRED_EARTH,
    FaultCause.POOR_CONTACT,
    FaultCause.NO_SUPPLY,
    FaultCause.REVERSED,
    FaultCause.SERIES_WITH_LAMPS,
)
SCENES = (
    Scene(12.6, loads.led_load(2, 13.5, feed="regulated"), (P21, P21)),
    Scene(12.6, LED, (P21, P21)),
    Scene(12.6, LED, (P21,), sharing=(R5,)),
    Scene(12.6, EITHER, (LED, LED, LED)),
    Scene(12.6, P21, (P21,), sharing=(R5,)),
    Scene(12.6, R5, (LED,), sharing=(P21,)),
    Scene(6.3, loads.led_load(1.5, 6.75, string_voltage=3.2), (loads.filament_load(5, 6.75),)),
)
CASES = [
    (cause, number, dark)
    for cause in FAULTS
    for number, scene in enumerate(SCENES)
    for dark in (False, True)
    if not (cause is FaultCause.REVERSED and scene.lamp.either_way)
    # Two strings of LED that together begin above the supply: nothing flows, and what floats is at no voltage.
    and not (cause is FaultCause.SERIES_WITH_LAMPS and all(one.is_led for one in (scene.lamp, *scene.others)))
]


@pytest.mark.parametrize(("cause", "number", "dark"), CASES)
def test_what_each_fault_reads_is_kirchhoff(cause: FaultCause, number: int, dark: bool) -> None:
    """The size of the fault is the kit's; what it then does to volts and amperes is not."""
    scene = SCENES[number]
    told = fault_finding.readings(cause, scene, dark=dark)
    ohms = 1.0
    if cause is FaultCause.TIRED_EARTH:
        shell = told[Measurement.VOLTS_OF_EARTH]
        ohms = shell / (told[Measurement.AMPERES] - float(loads.total_current(scene.sharing, shell)))
    elif cause is FaultCause.POOR_CONTACT:
        lost = scene.supply_voltage - told[Measurement.VOLTS_AT_LAMP]
        ohms = lost / (told[Measurement.AMPERES] - float(loads.total_current(scene.others, scene.supply_voltage)))
    at_lamp = faulty(cause, scene, ohms, ("contact", "shell"))
    if cause is not FaultCause.REVERSED:
        assert told[Measurement.VOLTS_AT_LAMP] == pytest.approx(at_lamp.volts("contact", "shell"), abs=0.03)
        at_shell = faulty(cause, scene, ohms, ("shell", "earth"))
        assert told[Measurement.VOLTS_OF_EARTH] == pytest.approx(at_shell.volts("shell"), abs=0.03)
    assert told[Measurement.AMPERES] == pytest.approx(at_lamp.amperes("feed"), abs=5e-3)


def test_without_resistance_all_of_the_supply_is_left() -> None:
    assert float(network.lamp_voltage(12.6, 0.0, [P21])) == 12.6
    read = circuits.network.joint_voltages(12.6, [0.0], 0.0, [P21])
    assert float(read.lamp) == 12.6 and float(read.shell) == 0.0


def test_strings_that_together_begin_above_the_supply_share_it_and_draw_nothing() -> None:
    """Two of 6.5 V on 12 V: 13 V would be needed, so nothing flows, and like leaks leave 6 V to each."""
    chain = network.series_current(12.0, [[LED], [LED]])
    assert float(chain.current) == pytest.approx(0.0, abs=1e-9)
    assert [float(volts) for volts in chain.voltages] == pytest.approx([6.0, 6.0])


def test_a_regulator_that_holds_the_current_takes_what_the_others_leave() -> None:
    """0.2 A held from 9 V of 13.5 V; a lamp that draws 2 A at 12 V needs 12 V x 0.1^(1/0.55) = 0.18 V for it."""
    held = loads.led_load(2.7, 13.5, feed="regulated", string_voltage=6.5)
    chain = network.series_current(12.6, [[held], [loads.filament_load(24.0, 12.0)]])
    assert float(chain.current) == pytest.approx(0.2)
    assert f"{float(chain.voltages[1]):.2f}" == "0.18" and f"{float(chain.voltages[0]):.2f}" == "12.42"


def test_unlike_leds_side_by_side_before_a_lamp() -> None:
    """One begins at 6 V and one at 8 V, 0.02 A and 0.04 A for each volt: at 9 V 0.06 A + 0.04 A, a resistor of 30 ohm
    takes 3 V of 12 V."""
    first = loads.Load("a", LoadKind.RESISTOR_FED_LED, 0.12, 12.0, 6.0)
    second = loads.Load("b", LoadKind.RESISTOR_FED_LED, 0.16, 12.0, 8.0)
    chain = network.series_current(12.0, [[first, second], [loads.resistor_load(30.0)]])
    assert float(chain.current) == pytest.approx(0.1, abs=1e-6)
    assert [float(volts) for volts in chain.voltages] == pytest.approx([9.0, 3.0], abs=1e-5)
    # 1 V over the first: 0.02 A, and 250 ohm take 5 V of 12 V.
    alone = network.series_current(12.0, [[first, second], [loads.resistor_load(250.0)]])
    assert float(alone.current) == pytest.approx(0.02, abs=1e-6)
    assert [float(volts) for volts in alone.voltages] == pytest.approx([7.0, 5.0], abs=1e-5)
    # Above its rating a resistor-fed LED goes on: at 14 V 0.16 A + 0.24 A, and 2.5 ohm take 1 V of 15 V.
    above = network.series_current(15.0, [[first, second], [loads.resistor_load(2.5)]])
    assert float(above.current) == pytest.approx(0.4, abs=1e-6)
    assert [float(volts) for volts in above.voltages] == pytest.approx([14.0, 1.0], abs=1e-5)


def test_resistance_in_the_chain_is_counted_once() -> None:
    """Two resistors of 2 and 3 ohm behind 1 ohm at 12 V: 2 A, 4 V and 6 V."""
    chain = network.series_current(12.0, [[loads.resistor_load(2.0)], [loads.resistor_load(3.0)]], 1.0)
    assert float(chain.current) == pytest.approx(2.0)
    assert [float(volts) for volts in chain.voltages] == pytest.approx([4.0, 6.0])


def test_a_resistor_beside_an_led_keeps_it_dark() -> None:
    """1 ohm across an LED behind 23 ohm at 12 V: 0.5 A, and 0.5 V are far below its 6.5 V."""
    chain = network.series_current(12.0, [[loads.resistor_load(1.0), LED], [loads.resistor_load(23.0)]])
    assert float(chain.current) == pytest.approx(0.5)
    assert [float(volts) for volts in chain.voltages] == pytest.approx([0.5, 11.5])
