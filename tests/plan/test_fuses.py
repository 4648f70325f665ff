"""Fuses as the vehicle file tells them: what is missing is unknown, hazards light both sides, others hang on them."""

from pathlib import Path

import pytest
from vehicle_text import BOTH, circuit, lamp, loaded, source

from lampkit import tables
from lampkit.circuits.fuses import FuseMark, FuseState, FuseVerdict
from lampkit.plan import circuit_reports
from lampkit.vehicle import vehicle

FILE = (
    """
[vehicle]
name = "invented car"
supply_voltage_V = 12
"""
    + source("amber LED", colour="amber", claimed_lumens_lm=300, power_W=3)
    + circuit("turn", "{circuit}")
    + lamp("Rear turn", "rear turn", "amber", "P21W", ["amber LED"], sides=BOTH, position="rear", circuit="turn")
    + lamp("Front turn", "front turn", "amber", "P21W", ["amber LED"], sides=BOTH, position="front", circuit="turn")
)


def state(folder: Path, circuit: str) -> FuseState:
    (report,) = circuit_reports.report(loaded(folder, FILE.format(circuit=circuit)), {})
    assert report.change is not None
    return report.change.fuse_state


WIRE = "wire_area_mm2 = 1.0\nwire_length_m = 5\n"


@pytest.mark.parametrize(
    ("circuit", "verdict"),
    [
        ("", FuseVerdict.NOT_TOLD),
        (WIRE, FuseVerdict.NOT_TOLD),
        (WIRE + 'fuse_mark = "none"', FuseVerdict.NONE_FITTED),
        (WIRE + 'fuse_A = 35\nfuse_mark = "blade"', FuseVerdict.DOES_NOT_PROTECT),
        (WIRE + 'fuse_A = 30\nfuse_mark = "glass, blowing current"', FuseVerdict.LEAVE),
        (WIRE + 'fuse_A = 30\nfuse_mark = "glass, continuous current"', FuseVerdict.DOES_NOT_PROTECT),
        (WIRE + "fuse_A = 30", FuseVerdict.ASK_HOW_MARKED),
        ('fuse_A = 35\nfuse_mark = "blade"', FuseVerdict.LEAVE),  # the section of the wire is not told
    ],
)
def test_what_the_file_tells_and_what_it_leaves_out(tmp_path: Path, circuit: str, verdict: FuseVerdict) -> None:
    assert state(tmp_path, circuit).verdict is verdict


def test_hazard_flashers_light_both_sides_through_one_fuse(tmp_path: Path) -> None:
    """Four lamps of 25 W at 13.5 V draw 7.4 A, less what the wire takes; one side 3.7 A."""
    alone, hazards = state(tmp_path, WIRE), state(tmp_path, WIRE + 'flasher = "thermal series"')
    assert alone.filaments == pytest.approx(hazards.filaments, rel=0.03)
    assert 6.5 < hazards.filaments < 7.5
    assert hazards.least >= 1.25 * hazards.filaments
    van = vehicle.load(tables.folder() / "library_van")
    (turn,) = [one for one in circuit_reports.report(van, {}) if one.circuit.name == "turn"]
    tell_tale = 4.0 / 13.5  # it lights with them, through the same fuse
    lit = 2 * float(turn.change.current[0]) + tell_tale
    assert turn.change.fuse_state.filaments == pytest.approx(lit, rel=0.02)


def test_brakes_and_hazard_flashers_on_one_fuse_are_lit_together() -> None:
    """Six lamps of 25 W at 13.5 V, two of them brakes, take 11.1 A, less what the way there leaves."""
    saloon = vehicle.load(tables.folder() / "starters" / "small-saloon")
    (both,) = [one for one in circuit_reports.report(saloon, {}) if one.circuit.name == "stop and turn"]
    assert both.change.fuse_state.filaments == pytest.approx(6 * 25.0 / 13.5, rel=0.06)
    assert both.change.fuse_state.least >= 1.25 * both.change.fuse_state.filaments


def test_what_else_hangs_on_it_is_asked_and_counts(tmp_path: Path) -> None:
    unknown, told = state(tmp_path, WIRE), state(tmp_path, WIRE + 'also_feeds = ["horn", "wiper"]')
    alone = state(tmp_path, WIRE + 'fuse_mark = "none"\nalso_feeds = []')
    assert unknown.others is not None and unknown.others.key == "fuse.others_unknown"
    for words in ("horn", "wiper", "gauges", "heater"):
        assert words in str(unknown.others)
    assert told.others is not None and "horn and wiper" in str(told.others)
    assert alone.others is None and alone.mark is FuseMark.NONE and alone.judged.values["alone"]
    assert not told.judged.values.get("alone")
