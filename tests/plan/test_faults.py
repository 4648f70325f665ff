"""A symptom seen on a vehicle of which only the file is known."""

from dataclasses import replace
from pathlib import Path

import pytest
from reference.made_up_vehicles import SIZES, MadeUp
from vehicle_text import BOTH, circuit, lamp, loaded, source

from lampkit import cli, tables
from lampkit.circuits import fault_finding
from lampkit.circuits.fault_finding import FaultCause, Measurement, Symptom, readings
from lampkit.circuits.tasks import Caution
from lampkit.errors import InputError
from lampkit.plan import faults
from lampkit.vehicle import vehicle

FILE = (
    """
[vehicle]
name = "invented car"
supply_voltage_V = 12
earth = "positive"
generator = "field earthed inside"
"""
    + source("amber LED", colour="amber", claimed_lumens_lm=150, power_W=2)
    + circuit("turn", flasher="thermal series", tell_tale="single between sides")
    + lamp("Rear turn", "rear turn", "amber", "P21W", ["amber LED"], sides=BOTH, circuit="turn", fitted="amber LED")
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "vehicle.toml").write_text(FILE, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("symptom", "cause"),
    [
        ("stays dark", FaultCause.REVERSED),
        ("does not flash", FaultCause.TOO_LITTLE_LOAD),
        ("tell-tale lights both sides", FaultCause.TELL_TALE_FEEDS_BACK),
        ("dim after the change", FaultCause.WEAK_SOURCE),
    ],
)
def test_what_the_file_makes_likely(folder: Path, symptom: str, cause: FaultCause) -> None:
    found = faults.find_fault(symptom, vehicle.load(folder))
    assert cause in [one.cause for one in found.suspects[:2]]
    assert found.lamp == "Rear turn left"


def test_every_symptom_has_an_answer_with_and_without_a_vehicle() -> None:
    van = vehicle.load(tables.folder() / "library_van")
    for symptom in Symptom:
        for known in (None, van):
            assert faults.find_fault(symptom, known).suspects or symptom.name == "BRIGHT_AND_DIM_EXCHANGED"


def test_command(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["faults", str(folder), "stays dark", "--lamp", "Rear turn right"]) == 0
    shown = capsys.readouterr().out
    assert "Rear turn right" in shown and "\n1. " in shown and "\n2. " in shown
    assert cli.main(["faults", "glows when off"]) == 0
    assert "leak" in capsys.readouterr().out.casefold()
    assert cli.main(["faults", "smells"]) == 2
    assert "symptom" in capsys.readouterr().err


def test_volts_that_the_file_tells_count_and_are_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Eleven volts at a dark LED on positive earth: it is not the feed; none at all: it is not the way round."""
    for volts, first in ((12.3, FaultCause.REVERSED), (0.0, FaultCause.LOST_EARTH)):
        said = f'[[meter_reading]]\ncircuit = "turn"\nsupply_V = 12.4\nlamp = "Rear turn right"\nsocket_V = {volts}\n'
        found = faults.find_fault("stays dark", loaded(folder, FILE + said))
        assert (found.lamp, found.suspects[0].cause) == ("Rear turn right", first)
        assert found.suspects[0].chance > faults.find_fault("stays dark").suspects[0].chance
        assert cli.main(["faults", str(folder), "stays dark"]) == 0
        assert f"lamp in and switched on: {volts:.1f} V" in " ".join(capsys.readouterr().out.split())
        assert not faults.find_fault("stays dark", vehicle.load(folder), "Rear turn left").volts_at_lamp


def test_unknown_names_are_refused(folder: Path) -> None:
    with pytest.raises(InputError, match="Rear turn"):
        faults.find_fault("stays dark", vehicle.load(folder), "Rear tun left")
    (folder / "vehicle.toml").write_text(FILE.replace('fitted = "amber LED"', 'fitted = "ambre LED"'), encoding="utf-8")
    with pytest.raises(InputError, match="fitted"):
        vehicle.load(folder)
    with pytest.raises(InputError, match="no lamp of the vehicle flashes"):
        faults.find_fault("flashes fast", vehicle.load(Path(__file__).parents[1] / "vehicles" / "bread_moped"))


def test_each_symptom_brings_the_cautions_of_its_work() -> None:
    """A fuse is never made larger, an alternator never opened, a holder measured before a base goes in."""
    wanted = {
        "fuse blows": {Caution.FUSE_SIZE, Caution.NO_FUSE},
        "does not flash": {Caution.HAZARDS, Caution.OUTAGE},
        "charge lamp stays on": {Caution.CHARGE_LAMP, Caution.CHARGING_OPEN, Caution.DYNAMO_TOUCH, Caution.BATTERY_GAS},
        "stays dark": {Caution.MEASURE_HOLDER},
    }
    unknown = {one: set(faults.find_fault(one).cautions) for one in wanted}
    van = vehicle.load(tables.folder() / "library_van")
    assert faults.find_fault("flashes fast").suspects[0].cause is FaultCause.TOO_LITTLE_LOAD, (
        "what flashes has a flasher"
    )
    unknown["does not flash"] = set(faults.find_fault("does not flash", van).cautions)
    for symptom, cautions in wanted.items():
        assert cautions | {Caution.EARTH_FIRST} <= unknown[symptom], symptom
    assert Caution.HOLDER_CONTACTS in faults.find_fault("bright and dim exchanged", van).cautions
    fast = faults.find_fault("flashes fast", van)
    assert {Caution.INRUSH_LIMIT, Caution.HOT_LAMP} <= set(fast.cautions) or fast.telling is None


def test_what_was_changed_first_is_the_lamp_that_is_seen() -> None:
    """Dark until all are changed: the mates still have their filaments, and what they draw lifts the earth."""
    van = vehicle.load(tables.folder() / "library_van")
    found = faults.find_fault("dark until all are changed", van, "Rear turn left")
    assert FaultCause.TIRED_EARTH in [one.cause for one in found.suspects[:2]]
    assert found.sound is not None and float(found.sound.current) > 1.0
    assert float(found.sound.feed[0]) > float(found.sound.feed[1]) > float(found.sound.shell)


def test_a_charge_lamp_that_the_file_does_not_tell_is_no_other_lamp() -> None:
    found = faults.find_fault("charge lamp stays on", vehicle.load(tables.folder() / "library_van"))
    assert found.lamp == "" and found.assumed is None and found.sound is None
    moped = replace(vehicle.load(Path(__file__).parents[1] / "vehicles" / "bread_moped"), battery_capacity=0.0)
    with pytest.raises(InputError, match="nothing charges a battery"):
        faults.find_fault("charge lamp stays on", moped)
    told = faults.find_fault("flickers", moped).telling
    assert told is not None and told.measurement is not Measurement.SEEN_WITH_ENGINE_OFF


def test_a_tell_tale_between_both_sides_finds_no_earth_through_leds() -> None:
    """It lies in series with the lamps of the dark side: two strings of LED together begin above the supply."""
    van = vehicle.load(tables.folder() / "library_van")
    found = faults.find_fault("stays dark", van, "Turn tell-tale")
    assert FaultCause.SERIES_WITH_LAMPS in [one.cause for one in found.suspects[:2]]
    assert "earth of its own" in str(next(one for one in found.suspects if one.cause.name == "SERIES_WITH_LAMPS").said)


INVENTED = sorted(Path(__file__).parents[1].joinpath("vehicles").glob("*/vehicle.toml"))
VEHICLES = [tables.folder() / "library_van" / "vehicle.toml", *INVENTED]


@pytest.mark.parametrize("place", VEHICLES, ids=lambda place: place.parent.name)
def test_no_cause_is_put_last_that_does_what_is_seen_in_the_net_of_a_whole_vehicle(place: Path) -> None:
    """Each lamp of each invented vehicle is wired as a net, a fault put in, and the lamp looked at."""
    van, tried = vehicle.load(place), 0
    for one in {one.filament.name: one for one in van.lamps}.values():
        for symptom in (Symptom.STAYS_DARK, Symptom.DIM, Symptom.BENCH_ONLY):
            scene = faults.scene_of(van, one, symptom)
            ranked = {found.cause: found.chance for found in fault_finding.suspects(symptom, scene)}
            for cause in ranked.keys() & {FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH, FaultCause.NO_SUPPLY}:
                sizes = SIZES.get(cause, (0.0,))
                if any(MadeUp(scene, cause, ohms).shows(symptom.value) for ohms in sizes):
                    told = readings(cause, scene, dark=symptom in fault_finding.OF_DARKNESS)
                    volts = told[fault_finding.Measurement.VOLTS_AT_LAMP]
                    assert fault_finding.does_it(cause, symptom, scene, volts), f"{one.name}, {symptom}: {cause.value}"
                    tried += 1
    assert tried > 3
