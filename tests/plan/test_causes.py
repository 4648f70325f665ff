"""The variance of a ratio by cause, against what is known of it, and what to measure first."""

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from worked_out import SMALL, plan_of

import lampkit as lk
from lampkit.cli import main
from lampkit.errors import InputError
from lampkit.plan import causes
from lampkit.plan.causes import Measure, SpreadCause


def assessed(**claim: tuple[float, float]) -> lk.conversion.Assessment:
    red = lk.sources.coloured_led("red", luminous_flux=200.0, name="LED", **claim)  # type: ignore[arg-type]
    old = lk.sources.filament("P21W")
    return lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=400)


def test_the_causes_make_up_the_whole() -> None:
    job = assessed()
    found = causes.variance_by_cause(job, job.results[0], draws=4000)
    assert sum(found.shares.values()) == pytest.approx(1.0)
    # Causes that multiply up and are independent add as variances of the logarithm, but for how lens and emitter meet.
    drawn = float(
        np.std(
            np.log(
                lk.conversion.assess(job.old.source, [job.results[0].source], job.lens, function="stop", draws=4000)
                .results[0]
                .draws["ratio"]
            )
        )
    )
    assert found.spread == pytest.approx(drawn, rel=0.05)


def test_a_known_claim_has_no_share_and_a_wild_one_has_most() -> None:
    sure, wild = assessed(true_over_claimed=(0.99, 1.01)), assessed(true_over_claimed=(0.2, 2.0))
    shares = [causes.variance_by_cause(job, job.results[0]).shares[SpreadCause.CLAIM] for job in (sure, wild)]
    assert shares[0] < 0.01 and shares[1] > 0.7
    # ln(2.0 / 0.2) / 3.92 is the standard deviation of that claim alone.
    spread = causes.variance_by_cause(wild, wild.results[0], draws=4000)
    assert np.sqrt(spread.shares[SpreadCause.CLAIM]) * spread.spread == pytest.approx(np.log(10.0) / 3.92, rel=0.06)


def test_the_measurement_that_would_do_most() -> None:
    job = assessed()
    found = causes.variance_by_cause(job, job.results[0])
    assert found.best is Measure.READ_BOTH and found.left < found.spread
    assert found.sentence.key == "causes.ratio"
    with pytest.raises(InputError, match="itself"):
        causes.variance_by_cause(job, job.old)


def test_the_causes_of_a_vehicle_are_printed_and_are_data(capsys: pytest.CaptureFixture[str]) -> None:
    """Each kind of lamp once, what is fitted or the best on offer; the shares make one; the page asks for it only."""
    made = plan_of()
    found = causes.causes_of_plan(made)
    assert [one.lamp for one in found] == [group.name for group in made.alike]
    for one, group in zip(found, made.alike, strict=True):
        fitted = made.fitted(group.lamps[0].name)
        assert fitted is None or one.source == fitted.name
        assert sum(one.shares.values()) == pytest.approx(1.0)
        assert one.left < one.spread
    small = plan_of(SMALL)
    found = causes.causes_of_plan(small)
    held = json.loads((Path(__file__).parents[2] / "references" / "report.schema.json").read_text(encoding="utf-8"))
    shown = lk.page.plan_as_dict(small, causes=found)
    jsonschema.validate(shown, held)
    assert [one["lamp"] for one in shown["causes"]] == [one.lamp for one in found]
    largest = shown["causes"][0]["shares"][0]["share_of_variance_1"]
    assert largest == pytest.approx(max(found[0].shares.values()), rel=1e-5)
    assert lk.page.plan_as_dict(small)["causes"] == []
    assert main(["report", str(SMALL), "--draws", "100", "--json", "--causes"]) == 0
    asked = json.loads(capsys.readouterr().out)
    assert len(asked["causes"]) == len(found)
