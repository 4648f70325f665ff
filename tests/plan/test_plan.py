"""The plan for the library van: everything hangs together, and what the readings taught is used."""

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest
from worked_out import VAN

import lampkit as lk
from lampkit.errors import InputError
from lampkit.plan import socket_voltages
from lampkit.plan.plan import assess_lamps


@pytest.fixture(scope="module")
def plan() -> "lk.plan.Plan":
    return lk.plan.make(lk.vehicle.load(VAN), draws=2000, seed=1)


def test_one_assessment_for_each_lamp(plan: "lk.plan.Plan") -> None:
    assert [a.name for a in plan.assessments] == [lamp.name for lamp in plan.vehicle.lamps]
    assert len(plan.table()) == len(plan.vehicle.lamps)


def test_lamps_that_are_alike_share_their_numbers(plan: "lk.plan.Plan") -> None:
    left, right = (next(a for a in plan.assessments if a.name == f"Stop lamp {side}") for side in ("left", "right"))
    assert left.results[1].ratio is right.results[1].ratio, "neither was read with red LED B"


def test_alone_a_lamp_gets_the_same_numbers_as_in_the_vehicle(plan: "lk.plan.Plan") -> None:
    pairs = zip(plan.vehicle.lamps, plan.assessments, strict=True)
    lamp, assessment = next((v, a) for v, a in pairs if v.function == "reversing")  # one that nobody read
    at = plan.sockets[lamp.name]
    alone = lk.conversion.assess(
        socket_voltages.filament_at(lamp.filament, round(float(at.before[0]), 3)),
        [o.source for o in lamp.candidates],
        lamp.lens,
        function=lamp.function,
        rules=plan.vehicle.rules,
        draws=2000,
        seed=1,
        light_shares=socket_voltages.light_shares(lamp, at, 2000, 1),
    )
    assert alone.results[0].draws["ratio"].tobytes() == assessment.results[0].draws["ratio"].tobytes()


def test_tell_tales_are_held_against_no_road_rule(plan: "lk.plan.Plan") -> None:
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        if not lamp.road_rule:
            assert assessment.colour_limit is None
            assert lamp.name not in plan.intensities


def test_circuits_are_those_of_what_is_chosen(plan: "lk.plan.Plan") -> None:
    stop = next(c for c in plan.circuits if c.circuit.name == "stop")
    assert stop.change is not None
    chosen = plan.choice.chosen["Stop lamp left"]
    assert chosen is not None
    assert chosen.source.electrical_power is not None
    assert stop.change.current[1] == pytest.approx(
        2 * chosen.source.electrical_power / plan.vehicle.running_voltage, rel=0.15
    )


def test_every_kept_lamp_has_its_reason(plan: "lk.plan.Plan") -> None:
    for lamp in plan.vehicle.lamps:
        assert (plan.choice.chosen[lamp.name] is None) == (lamp.name in plan.choice.kept)


def test_readings_stand_beside_the_prediction(plan: "lk.plan.Plan") -> None:
    assert plan.readings is not None
    assert plan.readings.findings
    for finding in plan.readings.findings:
        assert str(finding.agreement.sentence).startswith(finding.agreement.verdict.value)


def test_what_readings_taught_of_a_lens_narrows_its_prediction(plan: "lk.plan.Plan") -> None:
    assert plan.readings is not None
    (known,) = plan.readings.lenses
    before = next(a for a in assess_lamps(plan.vehicle, draws=2000) if a.name == known.lamp)
    white = [r.source.name for r in before.results].index("white LED A")
    assert np.ptp(known.assessment.results[white].ratio) < 0.8 * np.ptp(before.results[white].ratio)


def test_without_a_log_there_is_no_comparison(plan: "lk.plan.Plan", tmp_path: Path) -> None:
    bare = shutil.copytree(VAN, tmp_path / "van")
    (bare / "readings.csv").unlink()
    vehicle = lk.vehicle.load(bare)
    assert lk.plan.confront_readings(vehicle, plan.assessments) is None


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("Stop lamp left,filament,", "Stop lamp lift,filament,", "the vehicle has no lamp 'Stop lamp lift'"),
        ("Stop lamp left,red LED A,", "Stop lamp left,red LED Z,", "'red LED Z' is neither"),
    ],
)
def test_a_log_for_another_vehicle_is_refused_with_its_line(
    plan: "lk.plan.Plan", tmp_path: Path, old: str, new: str, told: str
) -> None:
    copy = shutil.copytree(VAN, tmp_path / "van")
    log = copy / "readings.csv"
    text = log.read_text(encoding="utf-8")
    line = text[: text.index(f"{old}on")].count("\n") + 1
    log.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=told) as refused:
        lk.plan.confront_readings(lk.vehicle.load(copy), plan.assessments)
    assert refused.value.line == line


def test_same_seed_same_plan(plan: "lk.plan.Plan") -> None:
    again = lk.plan.make(lk.vehicle.load(VAN), draws=2000, seed=1)
    assert repr(again) == repr(plan)
    for a, b in zip(plan.assessments, again.assessments, strict=True):
        assert a.old.draws["flux"].tobytes() == b.old.draws["flux"].tobytes()


def test_a_plan_is_not_changed_by_looking_at_it(plan: "lk.plan.Plan") -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        plan.seed = 2  # type: ignore[misc]


def test_the_meter_is_corrected_garage_by_garage(plan: "lk.plan.Plan") -> None:
    """What the meter makes of the light depends on the lens and the source of that garage, not on typical ones."""
    assert plan.readings is not None
    finding = next(f for f in plan.readings.findings if f.ratio.new == "white LED A")
    lamp = next(v for v in plan.vehicle.lamps if v.name == finding.ratio.lamp)
    new = next(o.source for o in lamp.candidates if o.name == "white LED A")
    old = next(a for a in plan.assessments if a.name == lamp.name).old.source
    meter = lk.measurement.phone()
    held = {lamp.lens.name: lamp.lens.beliefs, lk.measurement.meters.OWNER: meter.beliefs}
    garage = lk.uncertainty.draw({**held, new.name: new.beliefs, old.name: old.beliefs}, 2000, 1)
    own = garage.of(lk.measurement.meters.OWNER)
    corrections = [
        lk.measurement.mismatch_correction(
            meter.model(own),
            lk.lenses.transmittances(lamp.lens, garage.of(lamp.lens.name))
            * lk.sources.light_source.relative_spectra(source, garage.of(source.name)),
            leak=own["near-infrared leak"],
            calibration=meter.calibration,
        )
        for source in (new, old)
    ]
    # The plan adds up every fifth wavelength.
    np.testing.assert_allclose(finding.ratio.mismatch, corrections[0] / corrections[1], rtol=5e-4)
