"""Polarity, charging and the cross-reference: the order of work, the spark, the charge-warning lamp, the bases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference import filaments

from lampkit import tables
from lampkit.circuits import charging, earth, loads
from lampkit.errors import InputError
from lampkit.sources import filament_lamps
from lampkit.statements import Statement

CHARGE = loads.filament_load(2.2, 12.0, name="charge-warning lamp")
LED = loads.led_load(0.24, 12.0, string_voltage=2.0, name="LED")


@pytest.mark.parametrize(
    ("name", "bound"),
    [("alternator", "YES"), ("radio", "YES"), ("starter motor", "NO"), ("wiper and blower motor", "SOURCES_DIFFER")],
)
def test_parts(name: str, bound: str) -> None:
    assert earth.part(name).polarity_bound is earth.PolarityBound[bound]


def test_coil_leads_change_with_the_earth() -> None:
    assert earth.coil_leads("negative")[1:] == ("-", "+")
    assert earth.coil_leads(earth.Earth.POSITIVE)[1:] == ("+", "-")
    assert str(earth.coil_leads("positive").said)


@given(st.floats(11.0, 14.0), st.floats(1.0, 8.0), st.floats(1.0, 4.0))
def test_excitation_balances_its_loop(battery: float, rotor: float, watts: float) -> None:
    lamp = loads.filament_load(watts, 12.0)
    current = float(charging.excitation_current([lamp], battery, rotor_resistance=rotor))
    across = 12.0 * (current / lamp.current) ** (1 / 0.55)
    assert rotor * current + across == pytest.approx(battery - 1.0, abs=1e-5)


def test_resistor_beside_the_led_restores_the_excitation() -> None:
    wanted = float(charging.excitation_current([CHARGE]))
    alone = float(charging.excitation_current([LED]))
    assert alone < 0.025 < 0.15 < wanted
    ohms = float(charging.parallel_resistor(wanted, alone))
    together = float(charging.excitation_current([LED, loads.resistor_load(ohms)]))
    assert together == pytest.approx(wanted, rel=0.02)


def test_charge_lamp_of_alternator_and_dynamo() -> None:
    swap = charging.charge_lamp_swap("alternator", CHARGE, LED)
    assert swap.verdict is charging.ChargeLampVerdict.MAY_NOT_CHARGE
    assert swap.current_after < 0.15 < swap.current_before
    assert swap.power == pytest.approx(12.4**2 / swap.resistance)
    bright = loads.led_load(3.0, 12.0, string_voltage=2.0)
    assert charging.charge_lamp_swap("alternator", CHARGE, bright).verdict is charging.ChargeLampVerdict.ENOUGH
    assert charging.charge_lamp_swap("dynamo", CHARGE, LED).verdict is charging.ChargeLampVerdict.KEEP_FOR_DYNAMO
    assert charging.charge_lamp_swap("dynamo", CHARGE, CHARGE).verdict is charging.ChargeLampVerdict.FILAMENT
    for charger in ("alternator", "dynamo"):
        for new in (LED, bright, CHARGE):
            found = charging.charge_lamp_swap(charger, CHARGE, new)
            assert found.said.key == f"charge_lamp.{found.verdict.value}" and str(found.said).endswith(".")


def test_every_lamp_of_the_table_has_a_base_and_a_shopping_list() -> None:
    for row in tables.load("lamps", "ratings").rows():
        says = filament_lamps.led_must_be(row)
        assert says[0].values["base"] == row["base"] and str(says[0]).startswith(f"Base {row['base']}:")
        assert "led_must_be.size" in [said.key for said in says]
    unknown = [said.key for said in filament_lamps.led_must_be(filament_lamps.rating("12V 2.2W"))]
    assert unknown[0] == "led_must_be.base_unknown" and not any("shell" in key for key in unknown)


def keys(says: tuple[Statement, ...]) -> list[str]:
    return [said.key for said in says]


def test_positive_earth_stands_on_the_shopping_list() -> None:
    p21w = filament_lamps.rating("P21W")
    assert "led_must_be.shell_positive" in keys(filament_lamps.led_must_be(p21w, earth="positive"))
    assert "led_must_be.either_way" in keys(filament_lamps.led_must_be(filament_lamps.rating("W5W")))


def test_double_lamp_asks_for_two_contacts_in_step() -> None:
    held = filament_lamps.base("P21/5W")
    assert held is not None and held.contacts == "double" and filament_lamps.base("12V 2.2W") is None
    assert "led_must_be.two_functions" in keys(filament_lamps.led_must_be(filament_lamps.rating("P21/5W", "major")))
    assert "led_must_be.two_functions" not in keys(filament_lamps.led_must_be(filament_lamps.rating("P21W")))


def test_near_equivalents_exist_and_share_their_base() -> None:
    assert "1156" in filament_lamps.near_equivalents("P21W")
    assert filament_lamps.near_equivalents("1156") == "P21W" and filament_lamps.near_equivalents("1129", 6.0)
    assert filament_lamps.base("1156") == filament_lamps.base("P21W")
    assert filament_lamps.base("1157") == filament_lamps.base("P21/5W")


def test_table_lists_every_filament_once() -> None:
    table = filament_lamps.filament_lamp_table()
    assert len(table) == len(tables.load("lamps", "ratings"))
    assert not table.duplicated(["designation", "filament", "class_V"]).any()
    assert table["base_description"].all()


def test_flux_at_its_own_voltage_is_the_rating() -> None:
    np.testing.assert_allclose(filaments.flux_at("P21W", 13.5), [460, 460])


BAD = {
    "part": lambda: earth.part("alternater"),
    "earth": lambda: earth.coil_leads("neutral"),  # type: ignore[arg-type]
    "charger": lambda: charging.charge_lamp_swap("magneto", CHARGE, LED),  # type: ignore[arg-type]
    "wanted_current": lambda: charging.parallel_resistor(0.01, 0.02),
    "battery_voltage": lambda: charging.excitation_current([CHARGE], 0.5),
    "designation": lambda: filament_lamps.base("P21X"),
    "rated_voltage": lambda: filament_lamps.rating("1157", "major", 24.0),
}


@pytest.mark.parametrize("key", BAD)
def test_the_unknown_is_refused_by_its_key(key: str) -> None:
    with pytest.raises(InputError, match=key):
        BAD[key]()


# --- what to do with each part ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "bound"),
    [
        ("IGNITION_COIL", "YES"),
        ("AMMETER", "YES"),
        ("RADIO", "YES"),
        ("CURRENT_SENSING_TACHOMETER", "YES"),
        ("FUEL_PUMP_WITH_DIODE", "YES"),
        ("FUEL_PUMP_WITH_A_CAPACITOR", "NO"),
        ("PERMANENT_MAGNET_MOTOR", "YES"),
        ("WIPER_AND_BLOWER_MOTOR", "SOURCES_DIFFER"),
        ("HEATER_MOTOR", "SOURCES_DIFFER"),
        ("HORN", "NO"),
        ("ACCESSORY_SOCKET", "YES"),
        ("CLOCK", "SOURCES_DIFFER"),
        ("TRAILER_SOCKET", "YES"),
    ],
)
def test_what_to_do_with_each_part_is_told(part: str, bound: str) -> None:
    """The list of those who work on such vehicles: common practice, no source."""
    (found,) = [one for one in earth.parts() if one.id is earth.PolarPart[part]]
    assert found.polarity_bound is earth.PolarityBound[bound]
    assert found.what_to_do.key == f"PolarPart.{part}" and len(str(found.what_to_do)) > 5


def test_every_part_of_the_table_is_named_once() -> None:
    assert sorted(one.id.name for one in earth.parts()) == sorted(one.name for one in earth.PolarPart)
