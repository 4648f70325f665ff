"""Meter readings in a vehicle file: whose they are, what is refused, and what the report says of them."""

from pathlib import Path

import pytest
from vehicle_text import BOTH, circuit, lamp, loaded, source

from lampkit.circuits.meter_readings import CurrentSuspect, JudgedCurrent, JudgedVoltage, VoltageSuspect
from lampkit.errors import InputError
from lampkit.plan import circuit_reports, faults
from lampkit.vehicle import vehicle

VAN = (
    """
[vehicle]
name = "van"
supply_voltage_V = 12

"""
    + source("LED", colour="red", claimed_lumens_lm=120, power_W=2.0)
    + circuit("tail", wire_length_m=5, wire_area_mm2=1.0)
    + circuit("stop")
    + lamp(
        "Stop",
        "stop",
        "red",
        "P21/5W",
        ["LED"],
        sides=BOTH,
        position="rear",
        filament_part="major",
        holder="rear",
        circuit="stop",
    )
    + lamp(
        "Tail",
        "tail",
        "red",
        "P21/5W",
        ["LED"],
        sides=BOTH,
        position="rear",
        filament_part="minor",
        holder="rear",
        circuit="tail",
    )
)


def written(folder: Path, readings: str) -> Path:
    (folder / "vehicle.toml").write_text(VAN + readings, encoding="utf-8")
    return folder


def reading(**given: object) -> str:
    return "\n[[meter_reading]]\n" + "".join(f"{key} = {value!r}\n".replace("'", '"') for key, value in given.items())


def test_readings_are_held_against_the_lamps_as_they_are_fitted(tmp_path: Path) -> None:
    """Two dim filaments of 6 W draw 0.83 A at 12 V; one bright one of 25 W beside them 1.74 A more."""
    text = reading(circuit="tail", supply_V=12.0, current_A=2.55)
    text += reading(circuit="tail", supply_V=12.6, lamp="Tail left", socket_V=9.0)
    text += reading(circuit="tail", supply_V=12.0, lit=["Tail left"], current_A=0.41)
    van = vehicle.load(written(tmp_path, text))
    (tail,) = [one for one in van.circuits if one.name == "tail"]
    lamps = [lamp for lamp in van.lamps if lamp.circuit is tail]
    (amperes,), (volts,), (one,) = (circuit_reports.judged(van, tail, held, lamps) for held in van.meter_readings)
    assert isinstance(amperes, JudgedCurrent) and isinstance(volts, JudgedVoltage) and isinstance(one, JudgedCurrent)
    assert amperes.expected[1] == pytest.approx(0.83, abs=0.01) and amperes.lamps == 2
    assert amperes.suspects[0].suspect is CurrentSuspect.BRIGHT_BESIDE and amperes.suspects[0].size == 1
    assert volts.suspects[0] is VoltageSuspect.BAD_EARTH
    assert one.lamps == 1 and not one.suspects
    (report,) = [found for found in circuit_reports.report(van, {}) if found.circuit is tail]
    told = [said for said in report.words if said.key == "meter_reading.told"]
    assert [said.values["words"].key for said in told] == [
        "measured_current.differs",
        "measured_voltage.differs",
        "measured_current.agrees",
    ]
    assert str(told[1]).startswith("Tail left: Read 9.0 V") and str(told[2]).startswith("With Tail left lit.")


def test_a_minus_before_what_was_read_does_not_count(tmp_path: Path) -> None:
    """From contact to shell a meter shows a minus where the earth is positive."""
    held = [reading(circuit="tail", current_A=sign * 0.83, lamp="Tail left", socket_V=sign * 11.0) for sign in (1, -1)]
    vans = [vehicle.load(written(tmp_path, text)) for text in held]
    assert vans[0].meter_readings == vans[1].meter_readings


def test_a_voltage_stated_for_a_holder_is_held_against_sound_wiring(tmp_path: Path) -> None:
    """Two dim filaments of 6 W at 13.5 V draw 0.89 A; wire, contacts and earth take 0.2 V, and 1.5 V is rust."""
    for stated, suspected in ((13.3, False), (11.8, True)):
        text = VAN.replace('circuit = "tail"', f'circuit = "tail"\nsocket_voltage_V = {stated}')
        van = loaded(tmp_path, text)
        (tail,) = [one for one in van.circuits if one.name == "tail"]
        told = circuit_reports.measured(van, tail, [lamp for lamp in van.lamps if lamp.circuit is tail])
        assert bool(told) is suspected
        for one in told:
            assert one.values["words"].key == "measured_voltage.differs"
            assert "13.3 V are expected" in str(one) and "earth post" in str(one)
        found = faults.find_fault("dim after the change", van, "Tail left")
        assert found.sound is not None and float(found.sound.shell) < 0.1, "sound is sound, whatever was read"


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"circuit": "tai", "current_A": 1.0}, "there is no circuit 'tai'.*'tail'"),
        ({"circuit": "tail", "current_A": 1.0, "lit": ["Stop left"]}, "no lamp 'Stop left' on the circuit 'tail'"),
        ({"circuit": "tail", "socket_V": 11.0}, "'socket_V' stands there without 'lamp'"),
        ({"circuit": "tail", "socket_V": 11.0, "lamp": "Tail"}, "no lamp 'Tail' on the circuit.*'Tail left'"),
        ({"circuit": "tail", "socket_V": 1.0, "lamp": "Tail left", "lit": ["Tail right"]}, "a lamp that was dark"),
        ({"circuit": "tail", "current_A": -850.0}, "-850 A is below -200"),
        ({"circuit": "tail", "supply_V": 12.0}, "neither amperes nor volts were read.*current_A"),
    ],
)
def test_a_reading_that_cannot_be_used_is_refused_by_its_line(
    tmp_path: Path, given: dict[str, object], message: str
) -> None:
    with pytest.raises(InputError, match=message) as refused:
        vehicle.load(written(tmp_path, reading(**given)))
    assert "line " in str(refused.value)
