"""Charging: the charge-warning lamp that excites an alternator, and what an LED does in its place."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampkit.circuits import charging, loads
from lampkit.errors import InputError

CHARGE = loads.filament_load(2.2, 12.0, name="charge-warning lamp")
LED = loads.led_load(0.24, 12.0, string_voltage=2.0, name="LED")


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


BAD = {
    "charger": lambda: charging.charge_lamp_swap("magneto", CHARGE, LED),  # type: ignore[arg-type]
    "wanted_current": lambda: charging.parallel_resistor(0.01, 0.02),
    "battery_voltage": lambda: charging.excitation_current([CHARGE], 0.5),
}


@pytest.mark.parametrize("key", BAD)
def test_the_impossible_is_refused_by_its_key(key: str) -> None:
    with pytest.raises(InputError, match=key):
        BAD[key]()
