"""Which published intensities hold for a lamp, and how sure one lamp outshines another when readings weighted both."""

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lampkit import conversion
from lampkit.lenses import coloured_lens
from lampkit.plan import intensity, suitability
from lampkit.plan.suitability import Family
from lampkit.sources import filament_lamps, leds
from lampkit.statements import say
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


def test_both_ends_of_a_published_range_are_inside_it() -> None:
    """Stop lamp of one level, UN R148 (from memory): 60 cd at least and 260 cd at most."""
    required = suitability.limits_of_intensity(lamp("stop", "red"), "UN")
    assert required is not None
    found = [suitability.past_limits(required, candela) for candela in (59.9, 60.0, 260.0, 260.1)]
    assert [one is None for one in found] == [False, True, True, False]


def test_the_nearest_candidate_is_fit_to_be_fitted_then_sure_then_of_the_colour_then_bright() -> None:
    said = say("refused.charging")
    candidates = [  # what speaks against it; chance, share of lenses inside, ratio
        ({Family.CLAIM: said}, 0.99, 0.99, 5.0),
        ({Family.LIGHT: said}, 0.50, 0.99, 0.7),
        ({Family.COLOUR: said}, 0.80, 0.20, 2.0),
        ({Family.LIGHT: said}, 0.80, 0.99, 1.0),
        ({Family.LIGHT: said}, 0.80, np.nan, 1.1),
        ({Family.HOLDER: said}, 0.99, 0.99, 1.0),
    ]
    results = [SimpleNamespace(chance=c, share_inside=s, ratio=[0.0, r, 9.0]) for _, c, s, r in candidates]
    found = suitability.by_nearness(SimpleNamespace(results=results), [one[0] for one in candidates], 0.9)  # type: ignore[arg-type]
    assert found == [4, 3, 2, 1, 0, 5]


def test_left_and_right_are_told_by_place_and_where_two_share_a_corner_by_name() -> None:
    def pairs(*told: tuple[str, str]) -> tuple[tuple[int, ...], ...]:
        lamps = [replace(lamp("tail", "red"), name=name, position=place) for name, place in told]
        return suitability.left_and_right(lamps)

    rear = ("rear left", "rear right")
    assert pairs(("one", rear[0]), ("other", rear[1])) == ((0, 1),)
    both = [(f"{level} {place.split()[1]}", place) for place in rear for level in ("upper", "lower")]
    assert pairs(*both) == ((0, 2), (1, 3))
    assert pairs(("one", rear[0]), ("other", rear[0])) == () == pairs(("one", rear[0]))


def test_a_refusal_goes_from_a_stop_lamp_to_its_tail_lamp_and_on_to_the_other_side() -> None:
    """Only the stop lamp of the left holder refuses the article: its dim level goes, and with it that on the right."""
    dim = Offer(replace(WHITE, name="white dim"), dim_level_of="white")
    lamps = []
    for side in ("left", "right"):
        for function, part in (("stop", "major"), ("tail", "minor")):
            one = lamp(function, "red")
            lamps.append(
                replace(
                    one,
                    name=f"{function} {side}",
                    position=f"rear {side}",
                    holder=f"rear {side}",
                    filament=filament_lamps.filament("P21/5W", 13.5, part=part),
                    candidates=one.candidates if function == "stop" else (dim,),
                )
            )
    asked = SimpleNamespace(alike=True)
    refused = [[{Family.CLAIM: say("refused.charging")}], [{}], [{}], [{}]]
    found = suitability.derived(SimpleNamespace(lamps=lamps, asked=asked), refused)  # type: ignore[arg-type]
    assert [list(one[0]) for one in found] == [[Family.CLAIM], [Family.HOLDER], [Family.ALIKE], [Family.HOLDER]]
    asked.alike = False
    found = suitability.derived(SimpleNamespace(lamps=lamps, asked=asked), refused)  # type: ignore[arg-type]
    assert [list(one[0]) for one in found] == [[Family.CLAIM], [Family.HOLDER], [], []]


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
    stop, tail = (suitability.candela(v, job, [np.full(2000, 20.0)]) for v, job in zip(lamps, jobs, strict=True))
    assert suitability.chance_over_tail(*jobs, None, 0, 5.0, (stop, tail)) == pytest.approx(0.5, abs=0.04)
    assert suitability.chance_over_tail(*jobs, None, None, 5.0, (stop, tail)) == 1.0
