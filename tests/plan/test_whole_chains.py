"""A small vehicle from its file to the answer, against the same chains worked with numpy and printed tables alone."""

import pytest
from reference import whole_chains
from vehicle_text import BOTH, circuit, lamp, loaded, source, table

import lampkit as lk
from lampkit.plan import parts_to_fit
from lampkit.plan.plan import Plan
from lampkit.statements import Statement

EDGE, WIDTH = 596.4, 8.33
"""The red signal lens of a published table, fitted: facts of standards on road-traffic signal lenses [nm]."""

OHM_PER_METRE = 19.5e-3
"""Copper of 1 mm2 at 20 degrees, the most that IEC 60228 allows of class 5 [ohm/m]."""

CONTACTS_AND_EARTH = 0.1
"""What the kit assumes beside the wire [ohm]."""

REAR = {"sides": BOTH, "position": "rear"}
WIRE = {"wire_length_m": 6, "wire_area_mm2": 1}
VEHICLE = (
    """
[vehicle]
name = "Whole chain"
supply_voltage_V = 12
earth = "negative"
battery_Ah = 44
rules = "UN"
year = 1980
invented = true
"""
    + source(
        "white cluster",
        spectrum="led.csv",
        outside="zero",
        claimed_lumens_lm=400,
        true_over_claimed=[0.99, 1.01],
        hot_over_cold=[0.99, 1.01],
        power_W=4,
        feed="regulated",
        base="BA15s",
    )
    + table("lens", name="rear lens", colour="red", edge_nm=EDGE, width_nm=WIDTH, edge_uncertainty_nm=0.1)
    + circuit("stop", **WIRE)
    + circuit("turn", flasher="thermal series", flasher_rated_load_W=42, **WIRE)
    + circuit("side", **WIRE)
    + lamp("Stop", "stop", "rear lens", "P21W", ["white cluster"], **REAR, blackened=0, circuit="stop")
    + lamp("Rear turn", "rear turn", "amber", "P21W", [], **REAR, circuit="turn")
    + lamp("Front turn", "front turn", "amber", "P21W", [], sides=BOTH, position="front", circuit="turn")
    + lamp("Tail", "tail", "red", "R5W", [], **REAR, circuit="side")
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("chain")
    rows = zip(*whole_chains.column("leds/cie_led_illuminants", "LED-B5"), strict=True)
    text = "wavelength_nm,relative_power\n" + "\n".join(f"{nm:g},{power:g}" for nm, power in rows)
    (folder / "led.csv").write_text(text, encoding="utf-8")
    return lk.plan.make(loaded(folder, VEHICLE), draws=1000)


def test_k_of_a_cool_white_behind_red_is_the_published_one(made: Plan) -> None:
    """0.5404 for LED-B5 against 2800 K, computed from a read table; against 2700 K to 2900 K 0.526 to 0.554."""
    by_hand = [
        whole_chains.lens_passes(whole_chains.cie_led("LED-B5"), EDGE, WIDTH)
        / whole_chains.lens_passes(whole_chains.planck(t), EDGE, WIDTH)
        for t in (2700.0, 2800.0, 2900.0)
    ]
    assert by_hand[1] == pytest.approx(0.5404, abs=0.001)
    (result,) = made.assessments[0].results
    assert by_hand[0] < result.k[1] < by_hand[2]


def test_light_over_the_filament_from_lumens_lens_and_wire(made: Plan) -> None:
    """460 lm of a P21W at 13.5 V, UN R37, by the power 3.4 at the volts left; the LED keeps its 400 lm."""
    ohms = 6 * OHM_PER_METRE + CONTACTS_AND_EARTH
    volts, amperes = whole_chains.lamp_in_loop(13.5, ohms, 2, 25.0, 13.5)
    assert made.circuits[0].change.voltage[0] == pytest.approx(volts, abs=0.01)
    assert made.circuits[0].change.current[0] == pytest.approx(amperes, abs=0.01)
    k = whole_chains.lens_passes(whole_chains.cie_led("LED-B5"), EDGE, WIDTH) / whole_chains.lens_passes(
        whole_chains.planck(2800.0), EDGE, WIDTH
    )
    by_hand = 400.0 * k / (460.0 * (volts / 13.5) ** 3.4)
    (result,) = made.assessments[0].results
    assert result.ratio[1] == pytest.approx(by_hand, rel=0.04), "the colour temperature of a P21W is known to 100 K"


def test_rate_of_a_thermal_flasher_with_its_two_lamps(made: Plan) -> None:
    """Thresholds 0.6 and 0.4 and 0.87 s, chosen to give the required rate; 3.6 A from the pair that it is made for."""
    ohms = 6 * OHM_PER_METRE + CONTACTS_AND_EARTH  # the flasher is in series with all of it
    _, amperes = whole_chains.lamp_in_loop(13.5, ohms, 2, 25.0, 13.5)
    by_hand = whole_chains.bimetal_rate(amperes, 3.6, 0.6, 0.4, 0.87)
    said = next(one for one in made.circuits[1].words if one.key == "circuit_report.with_filaments")
    state = said.values["state"]
    assert isinstance(state, Statement)
    assert state.values["rate"] == pytest.approx(by_hand, abs=1.0)
    assert all(one.key != "circuit_report.with_chosen" for one in made.circuits[1].words), "nothing is changed on it"


def test_a_steady_flash_counts_as_the_sum_over_flash_after_flash(made: Plan) -> None:
    """90 a minute, half lit: 1 / 3 s of 2 / 3 s."""
    (timing,) = {one.led_flash_share for name, one in made.timings.items() if "turn" in name}
    assert timing == pytest.approx(whole_chains.repeated_allard(1 / 3, 2 / 3), rel=0.005), (
        "the kit looks back some seconds"
    )


def test_hours_that_a_parked_vehicle_stands(made: Plan) -> None:
    """Two R5W of 5 W at 13.5 V take 0.69 A at 12 V, by the power 0.55; half of 44 Ah."""
    by_hand = 2 * 5.0 / 13.5 * (12.0 / 13.5) ** 0.55
    fitted = made.vehicle.offers[0]
    chosen = {lamp.name: fitted if lamp.name.startswith("Tail") else None for lamp in made.vehicle.lamps}
    said = parts_to_fit.savings(made.vehicle, chosen, made.work.circuits[0], made.work.circuits[-1])
    (saved,) = (one.values for one in said if one.key == "savings.standing")
    assert saved["current"][0] == pytest.approx(by_hand, rel=0.005)
    assert saved["hours"][0] == pytest.approx(0.5 * 44.0 / by_hand, rel=0.005)
    assert saved["current"][1] == pytest.approx(2 * 4.0 / 13.5, rel=0.005), "a regulated LED holds its current"
