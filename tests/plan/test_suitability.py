"""Which published intensities hold for a lamp, and how sure one lamp outshines another when readings weighted both."""

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lampkit import conversion
from lampkit.lenses import coloured_lens
from lampkit.plan import choice, intensity, suitability
from lampkit.sources import filament_lamps, leds
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Draws
from lampkit.vehicle.vehicle import Lamp
from lampkit.vehicle.vehicle_parts import Offer

WHITE = leds.white_led(6000, luminous_flux=420, name="white", layout="forward")


def lamp(function: str, lens: str, compartments: int = 1) -> Lamp:
    return Lamp(
        name=f"{function} lamp",
        function=function,
        lens=coloured_lens.load(lens),
        filament=filament_lamps.filament("P21W", 13.5),
        candidates=(Offer(WHITE, price=1.0),),
        compartments=compartments,
    )


@pytest.mark.parametrize(
    ("function", "lens", "rules", "compartments", "low"),
    [
        ("stop", "red", "UN", 1, 60.0),
        # UN tables do not count lighted sections: the limit stays.
        ("stop", "red", "UN", 2, 60.0),
        ("stop", "red", "US", 2, 95.0),
        ("stop", "red", "SAE J578", 3, 110.0),
        # the American table of parking lamps knows no sections
        ("front position", "clear", "US", 2, 4.0),
        ("rear turn", "amber", "US", 2, 150.0),
        ("rear turn", "red", "US", 2, 95.0),
    ],
)
def test_the_limits_that_hold_for_a_lamp_of_several_sections(
    function: str, lens: str, rules: str, compartments: int, low: float
) -> None:
    """UN R148 and FMVSS 108, tables VII, IX and XIV (from memory): the minimum on the axis in cd."""
    one = lamp(function, lens, compartments)
    required = suitability.limits_of_intensity(one, rules)
    assert required is not None
    assert required.minimum.low == low
    job = conversion.assess(one.filament, [WHITE], one.lens, draws=200)
    predicted = intensity.predict_intensity(one, job, rules)
    assert predicted is not None
    assert predicted.requirement.minimum.low == low


@pytest.mark.parametrize(
    ("rules", "spacing", "low"),
    [("UN", None, 175.0), ("UN", 0.02, 400.0), ("UN", 0.03, 250.0), ("US", 0.05, 500.0), ("US", 0.12, 200.0)],
)
def test_a_front_turn_lamp_near_the_headlamp_is_asked_for_more(rules: str, spacing: float | None, low: float) -> None:
    """UN R148, categories 1, 1a and 1b; FMVSS 108, tables VI-a and VI-b (from memory)."""
    required = suitability.limits_of_intensity(replace(lamp("front turn", "amber"), spacing=spacing), rules)
    assert required is not None
    assert required.minimum.low == low


@pytest.mark.parametrize(("function", "rules"), [("number plate", "UN"), ("number plate", "US")])
def test_limits_that_are_no_intensity_are_left_out(function: str, rules: str) -> None:
    assert suitability.limits_of_intensity(lamp(function, "clear"), rules) is None


def weighted(job: conversion.Assessment, weights: Sequence[float]) -> conversion.Assessment:
    held = np.asarray(weights) / np.sum(weights)
    return replace(job, garage=replace(job.garage, weights=held))


def test_a_beam_that_readings_taught_takes_the_place_of_the_belief() -> None:
    one = lamp("stop", "red")
    job = conversion.assess(one.filament, [WHITE], one.lens, draws=400, name=one.name)
    before = intensity.predict_intensity(one, job, "UN")
    taught = Draws(
        values={**job.garage.values, (f"white in {one.name}", "beam ratio"): np.full(400, 2.0)},
        weights=job.garage.weights,
        beliefs=job.garage.beliefs,
        seed=job.garage.seed,
    )
    after = intensity.predict_intensity(one, replace(job, garage=taught), "UN")
    assert before is not None
    assert after is not None
    own = sampling.standard_normal(job.garage.seed, f"lamp {one.name}", "intensity with the filament", 400)
    filament = np.sqrt(60.0 * 260.0) * np.exp(np.log(260.0 / 60.0) / 3.92 * own)
    np.testing.assert_allclose(after.draws[0], filament * job.results[0].draws["ratio"] * 2.0, rtol=1e-12)
    assert not np.allclose(before.draws[0], after.draws[0])


def test_weights_of_both_lamps_count_in_the_chance_over_the_tail_lamp() -> None:
    one = lamp("stop", "red")
    job = conversion.assess(one.filament, [WHITE], one.lens, draws=4, name=one.name)
    bright, dim = np.array([10.0, 10.0, 1.0, 1.0]), np.array([1.0, 5.0, 1.0, 5.0])
    stop, tail = weighted(job, [3, 3, 1, 1]), weighted(job, [1, 4, 1, 4])
    values = ({0: bright}, {0: dim})
    # Only the first garage has five times: 3 x 1 of 3 x 1 + 3 x 4 + 1 x 1 + 1 x 4.
    assert suitability.chance_over_tail(stop, tail, 0, 0, 5.0, values) == pytest.approx(3 / 20)
    # Two lamps of one garage are weighted once.
    assert suitability.chance_over_tail(stop, stop, 0, 0, 5.0, values) == pytest.approx(3 / 8)


def test_a_filament_that_stays_is_no_surer_than_its_reading() -> None:
    """A stop lamp read as 100 cd against a tail lamp of 20 cd for sure: five times is as likely as not."""
    lamps = [replace(lamp("stop", "red"), intensity=100.0), replace(lamp("tail", "red"), intensity=15.0)]
    jobs = [conversion.assess(v.filament, [WHITE], v.lens, draws=2000, name=v.name) for v in lamps]
    read = {v.name: [np.full(2000, 20.0)] for v in lamps}
    both = SimpleNamespace(lamps=lamps)
    wishes = SimpleNamespace(stop_over_tail=5.0)
    chances = choice._Chances(both, jobs, read, wishes, ())  # type: ignore[arg-type]
    assert chances.of(0, 1, None, 0) == pytest.approx(0.5, abs=0.04)
    assert chances.of(0, 1, None, None) == 1.0
