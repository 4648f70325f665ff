"""What was read replaces what was assumed: in its lamp, in its twin, and in every lamp of a lens that was learnt."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from vehicle_text import loaded
from worked_out import VAN, VEHICLES, plan_of

import lampkit as lk
from lampkit.conversion.assessment import Ground
from lampkit.conversion.suggestion import Verdict
from lampkit.notebook import vehicle_panel
from lampkit.plan.plan import Plan, assess_lamps
from lampkit.statements import Statement
from lampkit.uncertainty import sampling

CART = VEHICLES / "puppet_cart"
"""Three lamps, of which two were read, and a lens that is learnt: planned ten times as fast as the van."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_of(VAN, 1000)


@pytest.fixture(scope="module")
def unread(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The same van without its log."""
    folder = shutil.copytree(VAN, tmp_path_factory.mktemp("unread") / "van")
    (folder / "readings.csv").unlink()
    return lk.plan.make(lk.vehicle.load(folder), draws=1000)


def result(made: Plan, lamp: str, source: str) -> lk.conversion.Result:
    found = next(a for a in made.assessments if a.name == lamp)
    return next(r for r in found.results if r.source.name == source)


def test_a_ratio_that_was_read_stands_wherever_its_lamp_does(plan: Plan) -> None:
    assert plan.readings is not None
    for finding in plan.readings.findings:
        now = result(plan, finding.ratio.lamp, finding.ratio.new)
        assert now.ground is Ground.READ
        # What flashes is cooler in use than when it was read burning steadily, so that it gives more, never less.
        flashes = finding.ratio.lamp.startswith(("Rear turn", "Front turn"))
        steady = sampling.interval(np.clip(finding.ratio.draws, 1e-3, 1e3))
        if flashes:
            assert steady[1] < now.ratio[1] < 1.4 * steady[1]
        else:
            assert now.ratio == pytest.approx(steady, rel=0.01)
        assert now.k == pytest.approx(finding.blame.after[0], rel=0.01), "K is the lens's part of the split"


def test_its_twin_gets_it_with_the_spread_between_twins(plan: Plan) -> None:
    left, right = (result(plan, f"Stop lamp {side}", "red LED A") for side in ("left", "right"))
    assert right.ground is Ground.READ_ON_TWIN
    assert right.ratio[1] == pytest.approx(left.ratio[1], rel=0.05)
    width = [float(np.log(r.ratio[2] / r.ratio[0])) for r in (left, right)]
    assert width[1] == pytest.approx(np.hypot(width[0], 3.92 * 0.15), rel=0.15)


def test_candela_come_from_the_log_and_no_longer_from_an_assumption(plan: Plan, unread: Plan) -> None:
    # By hand: 101.6 lx net at 1 m with an inverse square law are 102 cd, and 105 for the rear.
    front, rear = plan.intensities["Front turn left"], plan.intensities["Rear turn left"]
    assert front.measured and front.basis.key == "basis.log"
    assert front.filament[1] == pytest.approx(101.4, rel=0.06)
    assert rear.filament[1] == pytest.approx(104.9, rel=0.06)
    before = unread.intensities["Front turn left"]
    assert not before.measured and before.basis.key == "basis.assumed"
    assert np.log(front.filament[2] / front.filament[0]) < 0.75 * np.log(before.filament[2] / before.filament[0])
    # With the light source that was read, candela are old candela times the ratio that was read.
    read = result(plan, "Front turn left", "amber LED A").ratio[1]
    assert front.intervals[0][1] == pytest.approx(front.filament[1] * read, rel=0.03)
    twin = plan.intensities["Front turn right"]
    assert twin.twin == "Front turn left" and twin.basis.key == "basis.log_of_twin"
    assert twin.filament[0] < front.filament[0] < front.filament[2] < twin.filament[2]


@pytest.mark.parametrize("others", [False, True])
def test_a_filament_that_was_read_alone_tells_its_candela(others: bool, plan: Plan, tmp_path: Path) -> None:
    """Who has read only the old lamp, as the sheet asks for, finds that again, whatever else was read."""
    folder = shutil.copytree(VAN, tmp_path / "van")
    heading, *lines = (VAN / "readings.csv").read_text(encoding="utf-8").splitlines()
    kept = [
        line
        for line in lines
        if (others or line.startswith("Front turn left")) and not line.startswith("Front turn left,amber")
    ]
    (folder / "readings.csv").write_text("\n".join([heading, *kept]) + "\n", encoding="utf-8")
    alone = lk.plan.make(lk.vehicle.load(folder), draws=1000)
    front, twin = (alone.intensities[f"Front turn {side}"] for side in ("left", "right"))
    assert front.measured and front.basis.key == "basis.log" and twin.basis.key == "basis.log_of_twin"
    assert front.filament[1] == pytest.approx(101.4, rel=0.06)  # as above, by hand
    assert front.filament == pytest.approx(plan.intensities["Front turn left"].filament, rel=0.05)
    # Its LED was not read, and is predicted as before.
    assert result(alone, "Front turn left", "amber LED A").ground is Ground.PREDICTED
    shown = lk.page.report_text(alone, full=True)
    told = "Front turn left. Yardstick: 175 to 700† cd on the axis; today 175 to 1000. The old gives 100"
    assert told in " ".join(shown.split())


def test_a_lens_that_was_learnt_is_known_in_every_lamp_that_has_it(plan: Plan, unread: Plan) -> None:
    assert plan.readings is not None
    (known,) = plan.readings.lenses
    same = [lamp.name for lamp in plan.vehicle.lamps if lamp.lens is known.lens]
    assert {"Stop lamp left", "Stop lamp right", "Tail lamp left", "Tail lamp right"} <= set(same)
    for lamp, source in (("Stop lamp right", "red LED B"), ("Tail lamp left", "red LED B dim")):
        before, after = (np.log(result(made, lamp, source).k) for made in (unread, plan))
        assert after[2] - after[0] < 0.95 * (before[2] - before[0]), f"{lamp}: less is left open of the lens"
    # What the page of the readings says of the lens is what the lamp's own page says.
    for shown in known.assessment.results:
        assert np.array_equal(shown.ratio, result(plan, known.lamp, shown.source.name).ratio)


def test_a_lamp_that_was_measured_is_not_to_be_measured(plan: Plan) -> None:
    measured = {finding.ratio.lamp for finding in plan.readings.findings} if plan.readings else set()
    for lamp, assessment in zip(plan.vehicle.lamps, plan.assessments, strict=True):
        for found in assessment.results:
            said = lk.conversion.suggestion.suggest_fitting(assessment, found)
            if found.ground is Ground.READ:
                assert lamp.name in measured
                assert not (said.statement.key == "suggestion.fit_then_check" and said.statement.values["measure"])
                assert said.verdict is not Verdict.FIT_THEN_MEASURE or said.statement.values["look"]


def test_file_and_log_that_differ_are_told(plan: Plan, tmp_path: Path) -> None:
    def told(made: Plan) -> list[Statement]:
        assert made.readings is not None
        return [r for r in made.readings.remarks if isinstance(r, Statement) and r.key == "readings.file_and_log"]

    (remark,) = told(plan)
    assert remark.values["lamp"] == "Stop lamp left" and remark.values["file"] == 62 and remark.values["agree"]
    folder = shutil.copytree(VAN, tmp_path / "van")
    text = (folder / "vehicle.toml").read_text(encoding="utf-8")
    van = loaded(folder, text.replace("intensity_cd = 62", "intensity_cd = 162"))
    (other,) = told(lk.plan.make(van, draws=200))
    assert not other.values["agree"] and "disagree" in str(other)


def test_readings_alone_say_what_the_report_says(plan: Plan) -> None:
    van = lk.vehicle.load(VAN)
    named = {r.lamp for r in lk.measurement.load_log(VAN / "readings.csv").readings}
    lamps = tuple(lamp for lamp in van.lamps if lamp.name in named)
    some = assess_lamps(van, lamps=lamps, draws=1000)
    _, alone = lk.plan.plan.with_readings(van, some)
    assert alone is not None and plan.readings is not None
    for a, b in zip(alone.findings, plan.readings.findings, strict=True):
        assert np.array_equal(a.ratio.ratio, b.ratio.ratio) and np.array_equal(a.predicted, b.predicted)
    assert [str(r) for r in alone.remarks] == [str(r) for r in plan.readings.remarks]


def test_resampling_keeps_what_the_weights_say() -> None:
    belief = lk.uncertainty.Belief("x", 0.0, 1.0, "1", "an assumption")
    garage = lk.uncertainty.draw({"a": [belief]}, 4000, 1)
    x = garage.values["a", "x"]
    weighted = sampling.Draws(garage.values, np.exp(-0.5 * (x - 1.0) ** 2), garage.beliefs, 1)
    # A normal belief about 0 and a normal reading of 1, both of width 1, leave 0.5 with a width of 0.71.
    even = sampling.resampled(weighted)
    assert np.mean(even.values["a", "x"]) == pytest.approx(0.5, abs=0.03)
    assert np.std(even.values["a", "x"]) == pytest.approx(np.sqrt(0.5), abs=0.03)
    assert np.ptp(even.weights) == 0


@pytest.mark.parametrize(("place", "offer"), [(VAN, "red LED A"), (CART, "puppet red"), (CART, "puppet orange")])
def test_a_plan_made_after_another_is_the_plan_made_anew(place: Path, offer: str) -> None:
    before = plan_of(place, 300)
    van = before.vehicle
    old = next(one for one in van.offers if one.name == offer)
    held = vehicle_panel.with_offer(van, offer, 1.2 * old.source.luminous_flux, 3.0)
    after = lk.plan.make(held, draws=300, before=before)
    anew = lk.plan.make(held, draws=300)
    assert after.readings is not None and anew.readings is not None and before.readings is not None
    # A comparison of readings rests on no claim; what is learnt of a lens does where that light source was read. The
    # orange one is behind that lens and was not read: it is assessed again with the lens as it was learnt.
    assert after.readings.comparison is before.readings.comparison
    taken_over = after.readings.lenses[0].knowledge is before.readings.lenses[0].knowledge
    assert taken_over is (offer == "puppet orange")
    for one, other in zip(after.assessments, anew.assessments, strict=True):
        for a, b in zip(one.results, other.results, strict=True):
            assert a.draws.keys() == b.draws.keys() and a.lumens_to_buy == b.lumens_to_buy
            for name, drawn in a.draws.items():
                np.testing.assert_array_equal(drawn, b.draws[name])
    for found, straight in zip(after.readings.findings, anew.readings.findings, strict=True):
        np.testing.assert_array_equal(found.predicted, straight.predicted)
        assert str(found.blame.sentence) == str(straight.blame.sentence)
    assert lk.page.plan_as_dict(after) == lk.page.plan_as_dict(anew)


def test_a_vehicle_that_is_read_again_takes_over_what_rests_on_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "cart"
    shutil.copytree(CART, folder)
    before = lk.plan.make(lk.vehicle.load(folder), draws=300)
    path = folder / "vehicle.toml"
    text = path.read_text(encoding="utf-8")
    name = 'name = "puppet amber"\n'
    assert name in text and "price" not in text
    path.write_text(text.replace(name, f"{name}price = 7.50\n"), encoding="utf-8")
    held = lk.vehicle.load(folder)
    after, anew = lk.plan.make(held, draws=300, before=before), lk.plan.make(held, draws=300)
    assert after.readings is not None and before.readings is not None
    assert after.readings.comparison is before.readings.comparison and after.timings is before.timings
    assert after.readings.lenses[0].knowledge is before.readings.lenses[0].knowledge
    assert lk.page.plan_as_dict(after) == lk.page.plan_as_dict(anew) != lk.page.plan_as_dict(before)


def test_a_curve_that_was_measured_again_makes_another_lens(tmp_path: Path) -> None:
    folder = tmp_path / "van"
    shutil.copytree(VAN, folder)
    rows = [f"{nm},{0.8 if nm > 600 else 0.001}" for nm in range(380, 781, 10)]
    (folder / "curve.csv").write_text("\n".join(["wavelength_nm,transmittance", *rows]), encoding="utf-8")
    with (folder / "vehicle.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[lens]]\nname = "read"\ncolour = "red"\ncurve = "curve.csv"\noutside = "hold"\n')
        file.write('[[lamp]]\nname = "Spare"\nfunction = "tail"\nlens = "read"\nfilament = "R5W"\ncandidates = []\n')
    first, second = (lk.vehicle.load(folder).lamps[-1].lens for _ in range(2))
    assert first is second
    (folder / "curve.csv").write_text("\n".join(["wavelength_nm,transmittance", *rows, "790,0.7"]), encoding="utf-8")
    third = lk.vehicle.load(folder).lamps[-1].lens
    assert third is not first and third.transmittance[-1] == pytest.approx(0.7)


def test_nothing_is_taken_over_from_other_draws_readings_or_functions(tmp_path: Path) -> None:
    folder = shutil.copytree(CART, tmp_path / "cart")
    cart = lk.vehicle.load(folder)
    before = lk.plan.make(cart, draws=300)
    other_seed = lk.plan.make(cart, draws=300, seed=2, before=before)
    assert lk.page.plan_as_dict(other_seed) == lk.page.plan_as_dict(lk.plan.make(cart, draws=300, seed=2))
    for name, old, new in (("readings.csv", "on,17.6", "on,19.6"), ("vehicle.toml", '"side marker"', '"front turn"')):
        text = (folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1
        (folder / name).write_text(text.replace(old, new), encoding="utf-8")
    cart = lk.vehicle.load(folder)
    other, anew = lk.plan.make(cart, draws=300, before=before), lk.plan.make(cart, draws=300)
    assert lk.page.plan_as_dict(other) == lk.page.plan_as_dict(anew) != lk.page.plan_as_dict(before)


@pytest.mark.parametrize("name", ["red P21/5W", "red bulb", "old red cluster"])
def test_a_light_source_on_offer_is_no_filament_whatever_it_is_called(name: str, plan: Plan, tmp_path: Path) -> None:
    """What sellers call an LED names the lamp that it replaces; the readings are those of the van."""
    folder = shutil.copytree(VAN, tmp_path / "van")
    for file in ("vehicle.toml", "readings.csv"):
        text = (folder / file).read_text(encoding="utf-8")
        (folder / file).write_text(text.replace("red LED A", name), encoding="utf-8")
    vehicle = lk.vehicle.load(folder)
    named = {finding.ratio.lamp for finding in plan.readings.findings} if plan.readings else set()
    some = assess_lamps(vehicle, lamps=tuple(lamp for lamp in vehicle.lamps if lamp.name in named), draws=1000)
    _, found = lk.plan.plan.with_readings(vehicle, some)
    assert found is not None and plan.readings is not None
    one, known = found.findings[0], plan.readings.findings[0]
    assert (one.ratio.old, one.ratio.new) == ("filament", name)
    assert one.predicted == pytest.approx(known.predicted, rel=0.15), "other names draw other numbers"
    assert one.blame.before[0][1] == pytest.approx(known.blame.before[0][1], rel=0.05)
    assert one.blame.before[0][1] > 2, "a red lens passes several times as much of a red LED as of a filament"
