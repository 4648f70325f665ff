"""The charge-warning lamp as a function: kept, whatever it is called, and what an LED would need is computed."""

from pathlib import Path

import pytest
from vehicle_text import lamp, loaded, source

from lampkit.plan import plan
from lampkit.plan.suitability import Family

FILE = (
    """
[vehicle]
name = "invented car"
supply_voltage_V = 12
generator = "{generator}"
"""
    + source("red small", colour="red", claimed_lumens_lm=30, power_W=0.2, base="BA9s", price=2)
    + lamp("{name}", "{function}", "red", "12V 2.2W BA9s", ["red small"], road_rule=False)
)


@pytest.mark.parametrize("generator", ["alternator", "field earthed inside", "unknown"])
@pytest.mark.parametrize(
    ("name", "function"),
    [("Red lamp", "charge warning"), ("Alternator warning lamp", "tell-tale"), ("Ignition light", "tell-tale")],
)
def test_it_stays_and_nobody_is_sent_to_buy_one(tmp_path: Path, generator: str, name: str, function: str) -> None:
    text = FILE.format(generator=generator, name=name, function=function)
    made = plan.make(loaded(tmp_path, text), draws=200)
    assert made.fitted(name) is None and made.choice.cost == 0
    assert Family.CHARGING in made.choice.refused[name]["red small"]
    assert name not in made.choice.look_for
    (note,) = [said for said in made.choice.notes if said.key == "notes.charging"]
    kept = "charge_lamp.keep_for_dynamo" if "field" in generator else "charge_lamp.may_not_charge"
    assert note.values["words"].key == kept


def test_the_resistor_is_that_of_the_worked_case() -> None:
    """12.4 V less 1 V over 0.17 A less 0.015 A, less 4 ohm of the field: 69.5 ohm by hand."""
    from lampkit.circuits.charging import parallel_resistor

    assert f"{float(parallel_resistor(0.17, 0.015)):.1f}" == f"{(12.4 - 1.0) / (0.17 - 0.015) - 4.0:.1f}" == "69.5"
