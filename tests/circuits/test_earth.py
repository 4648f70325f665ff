"""Polarity and the cross-reference: what hangs on the earth, the coil, and the bases of the lamps that were there."""

import numpy as np
import pytest
from reference import filaments

from lampkit import tables
from lampkit.circuits import earth
from lampkit.errors import InputError
from lampkit.sources import filament_lamps
from lampkit.statements import Statement


@pytest.mark.parametrize(
    ("name", "bound"),
    [("alternator", "YES"), ("radio", "YES"), ("starter motor", "NO"), ("wiper and blower motor", "SOURCES_DIFFER")],
)
def test_parts(name: str, bound: str) -> None:
    (found,) = [one for one in earth.parts() if one.part == name]
    assert found.polarity_bound is earth.PolarityBound[bound]


def test_coil_leads_change_with_the_earth() -> None:
    assert earth.coil_leads("negative")[1:] == ("-", "+")
    assert earth.coil_leads(earth.Earth.POSITIVE)[1:] == ("+", "-")
    assert str(earth.coil_leads("positive").said)


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


def test_flux_at_its_own_voltage_is_the_rating() -> None:
    np.testing.assert_allclose(filaments.flux_at("P21W", 13.5), [460, 460])


BAD = {
    "earth": lambda: earth.coil_leads("neutral"),  # type: ignore[arg-type]
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
