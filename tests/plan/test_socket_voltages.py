"""What a socket gets, and what that does to the light: against Kirchhoff's and the filament's laws, worked by hand."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import vehicle_text
from vehicle_text import BOTH, circuit, lamp, source

import lampkit as lk
from lampkit.errors import InputError
from lampkit.plan import circuit_reports, socket_voltages
from lampkit.plan.plan import Plan, assess_lamps
from lampkit.plan.socket_voltages import EngineState
from lampkit.vehicle.vehicle import Vehicle

RUNNING, IDLING, OFF = EngineState

MOTORCYCLE = (
    """
[vehicle]
name = "Motorcycle"
supply_voltage_V = 6
generator = "field earthed inside"
"""
    + source("regulated LED", colour="red", claimed_lumens_lm=150, power_W=2, feed="regulated", price=5)
    + source(
        "bridge LED", colour="red", claimed_lumens_lm=150, power_W=2, feed="resistor", either_polarity=True, price=5
    )
    + circuit("rear", wire_area_mm2=1.0, wire_length_m=8)
    + lamp("Stop lamp", "stop", "red", "P21/5W", ["regulated LED", "bridge LED"], filament_part="major", circuit="rear")
)


def loaded(folder: Path, *changes: tuple[str, str]) -> Vehicle:
    text = MOTORCYCLE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "vehicle.toml").write_text(text, encoding="utf-8")
    return lk.vehicle.load(folder)


@pytest.fixture(scope="module")
def van() -> Vehicle:
    return lk.vehicle.load(lk.tables.folder() / "library_van")


@pytest.fixture(scope="module")
def plan(van: Vehicle) -> Plan:
    return lk.plan.make(van, draws=500)


def test_the_same_volts_stand_at_the_lamp_and_at_its_circuit(van: Vehicle, plan: Plan) -> None:
    reports = {one.circuit.name: one.change for one in plan.circuits}
    for one in van.lamps:
        change = reports.get(one.circuit.name) if one.circuit else None
        assert change is not None
        assert plan.sockets[one.name].before[RUNNING] == pytest.approx(change.voltage[0], abs=1e-6), one.name


def test_kirchhoff_by_hand(tmp_path: Path) -> None:
    # 8 m of flexible copper of 1 mm2 have 8 x 0.0195 ohm (IEC 60228, class 5, 20 degC); contacts and earth 0.1 ohm.
    vehicle = loaded(tmp_path)
    at = socket_voltages.at_socket(vehicle, vehicle.lamps[0])
    row = lk.sources.rating("P21/5W", "major", rated_voltage=6)
    volts, ohms = 6.75, 0.156 + 0.1
    for _ in range(50):
        amperes = row["power_W"] / row["test_V"] * (volts / row["test_V"]) ** 0.55
        volts = 6.75 - ohms * amperes
    assert at.before[RUNNING] == pytest.approx(volts, abs=0.03)
    assert at.before[IDLING] < at.before[RUNNING] and at.supplies[IDLING] == pytest.approx(6.12)
    assert at.after["regulated LED"][RUNNING] > at.before[RUNNING] + 0.4


def test_a_measured_voltage_wins_and_tells_the_resistance(tmp_path: Path) -> None:
    told = ('circuit = "rear"', 'circuit = "rear"\nsocket_voltage_V = 5.4\nsocket_voltage_idle_V = 5.0')
    vehicle = loaded(tmp_path, told)
    lamp = vehicle.lamps[0]
    at = socket_voltages.at_socket(vehicle, lamp)
    assert at.measured and at.before[[RUNNING, IDLING]] == pytest.approx([5.4, 5.0])
    (report,) = circuit_reports.report(vehicle, {})
    assert report.change is not None and report.change.voltage[0] == pytest.approx(5.4, abs=1e-6)
    # The resistance that leaves 5.4 V of 6.75 V takes less from an LED, in proportion to its current.
    led = 2.0 / 6.75
    amperes = (6.75 - 5.4) / (report.change.drop[0] / report.change.current[0])
    assert at.after["regulated LED"][RUNNING] == pytest.approx(6.75 - led * (6.75 - 5.4) / amperes, abs=0.01)
    assert at.spread[RUNNING] < socket_voltages.at_socket(vehicle, replace(lamp, socket_voltage=None)).spread[RUNNING]


def test_the_filament_dims_by_its_law_and_a_regulated_led_does_not(tmp_path: Path) -> None:
    vehicle = loaded(tmp_path, ('circuit = "rear"', 'circuit = "rear"\nsocket_voltage_V = 5.53'))
    lamp = vehicle.lamps[0]
    (assessment,) = assess_lamps(vehicle, draws=2000)
    at = socket_voltages.at_socket(vehicle, lamp)
    alone = lk.conversion.assess(
        lamp.filament, [o.source for o in lamp.candidates], lamp.lens, function="stop", draws=2000, name=lamp.name
    )
    here, full = assessment.results[0], alone.results[0]
    # (5.53 / 6.75)^3.4 = 0.51: through the red lens a little less is lost, as a cooler filament is redder.
    assert here.ratio[1] / full.ratio[1] == pytest.approx(1 / 0.51, rel=0.1)
    regulated, bridge = socket_voltages.at_other_voltages(lamp, assessment, at)
    assert regulated.sound_wiring == pytest.approx(full.ratio, rel=0.06), "sound wiring is what was said without a loss"
    law = (at.before[RUNNING] / at.before[IDLING]) ** 3.4
    assert regulated.idling[1] / here.ratio[1] == pytest.approx(law, rel=0.08)
    # Behind a bridge, 1.4 V, and a string of 6.5 / 13.5 of 6.75 V, 6.05 V leave about two thirds of the LED.
    less = bridge.idling[1] / bridge.sound_wiring[1] * regulated.sound_wiring[1] / regulated.idling[1]
    assert less == pytest.approx((6.05 - 4.65) / (6.75 - 4.65), abs=0.03)


def test_the_stop_lamp_of_the_van_as_it_is_and_with_sound_wiring(van: Vehicle, plan: Plan) -> None:
    at = plan.sockets["Stop lamp left"]
    # Worked by hand: two filaments at 12.69 V of 13.5 V give 0.81 of their light.
    assert (at.before[RUNNING] / 13.5) ** 3.4 == pytest.approx(0.81, abs=0.005)
    told = {one.light_source: one for one in plan.at_other_voltages["Stop lamp left"]}
    for result in plan.assessments[0].results:
        ratio, other = result.ratio[1], told[result.source.name]
        assert other.sound_wiring[1] < ratio < other.idling[1]
        assert np.all(np.diff(other.idling) > 0) and np.all(np.diff(other.sound_wiring) > 0)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            ('circuit = "rear"', 'circuit = "rear"\nsocket_voltage_V = 7.2'),
            "7.2 V at the holder does not go with 6.75 V",
        ),
        (("supply_voltage_V = 6\n", "supply_voltage_V = 6\nidle_voltage_V = 7\n"), "7 V cannot be where the engine"),
        (("supply_voltage_V = 6\n", "supply_voltage_V = 6\nidling_voltage_V = 6\n"), "idle_voltage_V"),
    ],
)
def test_voltages_that_cannot_be_are_refused_in_one_sentence(
    tmp_path: Path, change: tuple[str, str], said: str
) -> None:
    with pytest.raises(InputError) as told:
        loaded(tmp_path, change)
    assert said in str(told.value) and "\n" not in str(told.value)


def test_a_file_that_tells_the_running_voltage_alone_is_still_read(tmp_path: Path) -> None:
    vehicle = loaded(tmp_path, ("supply_voltage_V = 6\n", "supply_voltage_V = 6\nrunning_voltage_V = 6.9\n"))
    assert vehicle.supplies == pytest.approx((6.9, 6.12, 6.15))
    alternator = loaded(tmp_path, ('"field earthed inside"', '"alternator"'))
    assert alternator.supplies == pytest.approx((6.75, 6.6, 6.15))


SHARED = (
    """
[vehicle]
name = "Saloon"
supply_voltage_V = 12
running_voltage_V = 13.5
rules = "US"

"""
    + source("red", colour="red", claimed_lumens_lm=200, power_W=3, base="BA15s")
    + circuit("stop and turn", wire_length_m=6, wire_area_mm2=1)
)
FUNCTION = """
""" + lamp("{function}", "{function}", "red", "1156", ["red"], circuit="stop and turn")
TURN = lamp("{name}", "rear turn", "red", "1156", ["red"], circuit="stop and turn")


def test_each_filament_of_a_circuit_counts_once_and_on_its_own_side(tmp_path: Path) -> None:
    """Kirchhoff: the wire of a shared filament loses what that of one lamp loses."""
    found = []
    for functions in (("stop",), ("stop", "rear turn")):
        lamps = "".join(FUNCTION.format(function=one) for one in functions)
        if len(functions) == 2:
            lamps = lamps.replace("circuit =", 'holder = "rear"\ncircuit =')
        (tmp_path / "vehicle.toml").write_text(SHARED + lamps, encoding="utf-8")
        saloon = lk.vehicle.load(tmp_path)
        found += [socket_voltages.at_socket(saloon, lamp).before.tolist() for lamp in saloon.lamps]
    assert found[1] == pytest.approx(found[0]) and found[2] == pytest.approx(found[0])
    assert found[0][0] < 13.2
    # A lamp more on the left takes light from the left alone, and leaves the right as it was.
    pair, third = "".join(TURN.format(name=f"Rear {side}") for side in BOTH), TURN.format(name="Repeater left")
    even, odd = (assess_lamps(vehicle_text.loaded(tmp_path, SHARED + one), draws=20) for one in (pair, pair + third))
    ratio = [[one.results[0].draws["ratio"] for one in found] for found in (even, odd)]
    assert np.array_equal(ratio[0][0], ratio[0][1]) and np.array_equal(ratio[0][1], ratio[1][1])
    assert np.all(ratio[1][0] > ratio[1][1]) and np.array_equal(ratio[1][0], ratio[1][2])
