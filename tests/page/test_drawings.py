"""Every drawing in plain SVG: no word leaves it or meets another, letters are legible on a phone, two are the same."""

from collections.abc import Callable

import numpy as np
import pytest
from page import boxes
from worked_out import EVERY, plan_of

import lampkit as lk
from lampkit.lesson import pictures
from lampkit.page import circuit_pictures, findings, lamp_faces, live_pictures, readings, time_pictures
from lampkit.page.findings import Findings
from lampkit.vehicle.vehicle import Vehicle

FACES = 165.0
"""Width of a lit face, two beside each other on a phone [px]."""


def hold(drawn: Callable[[], str], wide: float = boxes.PHONE, smallest: float = 12.0) -> None:
    """Hold a drawing: the same twice, described, its words apart and legible at a width."""
    html = drawn()
    assert html == drawn()
    found = boxes.drawings(html)
    assert found
    for svg in found:
        assert svg.get("role") == "img" and svg.get("aria-label")
        boxes.check(svg)
        assert boxes.smallest(svg, wide) >= smallest


@pytest.fixture(scope="module", params=EVERY, ids=lambda folder: folder.name)
def held(request: pytest.FixtureRequest) -> Findings:
    return findings.findings_of(plan_of(request.param))


@pytest.fixture(scope="module")
def van() -> Vehicle:
    return plan_of().vehicle


def test_map_faces_and_road_of_every_vehicle(held: Findings) -> None:
    hold(lambda: lamp_faces.vehicle_map(held.groups).html)
    numbers = {words for *_, words in boxes.of(boxes.drawings(lamp_faces.vehicle_map(held.groups).html)[0])}
    assert {str(group.number) for group in held.groups} <= numbers
    for group in held.groups:
        for low in (True, False):
            hold(
                lambda group=group, low=low: lamp_faces.lit_faces(group.assessment, low=low).html,
                FACES if low else lamp_faces.WIDE,
            )
    for timing in held.plan.timings.values():
        if np.isnan(timing.flash_share):
            hold(lambda timing=timing: time_pictures.road_picture(timing).html)


def test_the_dim_and_the_bright_half_ring_are_named(van: Vehicle) -> None:
    old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=100)
    plain, ringed = (
        [words for *_, words in boxes.of(svg)] for svg in boxes.drawings(lamp_faces.lit_faces(job, low=True).html)
    )
    assert plain == ["by night", "by day"]
    assert ringed == ["by night", "dim", "bright", "by day", "dim", "bright"]


@pytest.mark.parametrize("rate", [20.0, 45.0, 60.0, 90.0, 120.0, 180.0])
def test_flash_at_any_rate(van: Vehicle, rate: float) -> None:
    turn = next(lamp for lamp in van.lamps if lamp.function == "rear turn")
    hold(lambda: time_pictures.flash_picture(turn, rate=rate).html)


@pytest.mark.parametrize("distance", [0.5, 10.0, 300.0])
def test_the_bench(distance: float) -> None:
    plan = lk.measurement.plan_measurement(intensity=distance, background=2, resolution=0.1)
    hold(lambda: readings.card_bench(plan).html)


def test_the_loop(van: Vehicle) -> None:
    plan = plan_of()
    change = next(report.change for report in plan.circuits if report.change is not None)
    circuit = lk.plan.socket_voltages.feed_of(van, plan.circuits[0].circuit)
    for place in (0, 1):
        hold(lambda place=place: circuit_pictures.loop_picture(circuit, change, place).html)


@pytest.mark.parametrize(("duration", "words"), [(0.2, "below 90 % still after 200 ms"), (1.0, "90 % after")])
def test_a_rise_is_told_as_far_as_it_went(duration: float, words: str) -> None:
    wire = lk.sources.hot_wire_of_rating(voltage=13.5, power=25, temperature=2800)
    found = lk.sources.switch_on(wire, duration=duration)
    hold(lambda: live_pictures.time_course(found.time, found.light / found.settled_light, "P21W"))
    assert words in live_pictures.time_course(found.time, found.light / found.settled_light, "P21W")


@pytest.mark.parametrize("name", [name for name in pictures.PICTURES if name != "band_table"])
def test_pictures_of_the_lesson(name: str) -> None:
    hold(pictures.PICTURES[name])


def test_light_through_a_lens() -> None:
    """Small, as it is drawn anew at each step of a slider: its words are apart, and legible beside the sliders."""
    sources = [
        lk.sources.filament("P21W"),
        lk.sources.coloured_led("amber", luminous_flux=1200, name="cluster, all round"),
    ]
    for svg in boxes.drawings(live_pictures.through_lens(sources, lk.lenses.load("amber"))):
        boxes.check(svg)
        assert boxes.smallest(svg, 280.0) >= 12.0


def test_boxes_tell_words_that_meet() -> None:
    near = '<svg viewBox="0 0 99 40"><text x="0" y="12">one</text><text x="{}" y="12">two</text></svg>'
    boxes.check(*boxes.drawings(near.format(40)))
    for x in (10, 90):
        with pytest.raises(AssertionError):
            boxes.check(*boxes.drawings(near.format(x)))
