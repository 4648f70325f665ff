"""What is worked out for the whole van: candela, timing and circuits, against laws and published values."""

import dataclasses

import numpy as np
import pytest
from scipy.special import digamma
from worked_out import VAN

import lampkit as lk
from lampkit.statements import Statement


@pytest.fixture(scope="module")
def van() -> "lk.vehicle.Vehicle":
    return lk.vehicle.load(VAN)


def lamp(van: "lk.vehicle.Vehicle", name: str) -> "lk.vehicle.Lamp":
    return next(found for found in van.lamps if found.name == name)


def assessment(van: "lk.vehicle.Vehicle", which: "lk.vehicle.Lamp") -> "lk.conversion.Assessment":
    return lk.conversion.assess(
        which.filament, [o.source for o in which.candidates], which.lens, function=which.function, name=which.name
    )


def test_intensity_is_the_reading_times_ratio_times_beam(van: "lk.vehicle.Vehicle") -> None:
    stop = lamp(van, "Stop lamp left")
    assert stop.intensity is not None
    job = assessment(van, stop)
    found = lk.plan.predict_intensity(stop, job, "UN")
    assert found is not None
    assert found.measured
    assert found.filament[1] == pytest.approx(stop.intensity, rel=0.02)
    for result, draws in zip(job.results, found.draws, strict=True):
        spread = np.std(np.log(draws)) ** 2
        believed = lk.measurement.shortfall.beam_belief(result.source.layout)
        beam = believed.spread
        # The three factors are independent, so their variances add in the logarithm.
        expected = lk.plan.suitability.READING_SPREAD**2 + beam**2 + np.std(np.log(result.draws["ratio"])) ** 2
        assert spread == pytest.approx(expected, rel=0.1)
        assert np.median(draws) == pytest.approx(stop.intensity * result.ratio[1] * believed.typical, rel=0.1)


def test_without_a_reading_the_belief_is_said_to_be_an_assumption(van: "lk.vehicle.Vehicle") -> None:
    turn = lamp(van, "Rear turn left")
    found = lk.plan.predict_intensity(turn, assessment(van, turn), "UN")
    assert found is not None
    assert found.basis.key == "basis.assumed" and not found.measured
    assert found.filament[0] < found.requirement.minimum.low * 1.1


def test_no_limits_for_a_tell_tale(van: "lk.vehicle.Vehicle") -> None:
    tell_tale = lamp(van, "Main beam tell-tale")
    job = lk.conversion.assess(tell_tale.filament, [o.source for o in tell_tale.candidates], tell_tale.lens)
    assert lk.plan.predict_intensity(tell_tale, job, "UN") is None


def test_every_intensity_sentence_says_how_the_limit_is_known(van: "lk.vehicle.Vehicle") -> None:
    stop = lamp(van, "Stop lamp left")
    found = lk.plan.predict_intensity(stop, assessment(van, stop), "UN")
    assert found is not None
    assert found.limits
    for limit in (one for members in found.limits for one in members):
        assert limit.known == "published" or "check before you rely on it" in str(limit.citation)


def test_stop_filament_rises_as_published(van: "lk.vehicle.Vehicle") -> None:
    """UMTRI-93-37: about a quarter of a second to 90 %; the LED is 166 ms sooner to react to."""
    found = lk.plan.assess_timing(lamp(van, "Stop lamp left"))
    assert found is not None
    assert found.rise[0] < 0.25 < found.rise[2]
    assert found.gained[0] == pytest.approx(0.166, rel=0.1)
    assert found.distance[1, 0] == pytest.approx(found.gained[0] * 25.0, rel=1e-6), "90 km/h is 25 m/s"


def test_effective_intensity_of_a_train_that_goes_on(van: "lk.vehicle.Vehicle") -> None:
    lamp = next(one for one in van.lamps if one.function == "rear turn")
    found = lk.plan.assess_timing(lamp)
    assert found is not None
    # Square flashes of 1/3 s every 2/3 s since ever, memory a/(a + t)^2 with a = 0.2 s: the sum over all flashes of
    # a/(a + k T) - a/(a + k T + T/2) is a/T (psi(a/T + 1/2) - psi(a/T)), worked out by hand.
    share, period = 0.2, 2.0 / 3.0
    train = share / period * (digamma(share / period + 0.5) - digamma(share / period))
    assert train == pytest.approx(0.761, abs=0.001)
    assert found.led_flash_share == pytest.approx(train, abs=0.004)
    assert 1.15 < found.led_flash_share / found.flash_share < 1.35, "recomputed elsewhere: 1.17 to 1.30"
    assert "at the limit of sight" in str(found.statement)


def test_a_flash_of_a_square_wave_is_worth_more_than_a_filament_s(van: "lk.vehicle.Vehicle") -> None:
    found = lk.plan.assess_timing(lamp(van, "Rear turn left"))
    assert found is not None
    # One square flash of a third of a second: t/(a + t) with a = 0.2 s; a train of them adds what the eye remembers.
    assert found.led_flash_share >= 1 / 3 / (0.2 + 1 / 3) - 1e-3
    assert found.flash_share < found.led_flash_share


def test_a_tail_lamp_has_no_timing(van: "lk.vehicle.Vehicle") -> None:
    assert lk.plan.assess_timing(lamp(van, "Tail lamp left")) is None


def test_circuits_fall_and_the_thermal_flasher_stops(van: "lk.vehicle.Vehicle") -> None:
    chosen = {found.name: found.candidates[0] for found in van.lamps}
    reports = {r.circuit.name: r for r in lk.plan.circuit_reports.report(van, chosen)}
    for found in reports.values():
        assert found.change is not None
        assert found.change.current[1] < found.change.current[0]
    turn = reports["turn"]
    assert any("does not flash" in str(words) for words in turn.words)
    assert any("load-independent" in str(cure) for cure in turn.cures)
    assert any("diode" in str(cure) for cure in turn.cures)


def test_nothing_changes_when_every_filament_stays(van: "lk.vehicle.Vehicle") -> None:
    for found in lk.plan.circuit_reports.report(van, {}):
        assert found.change is not None
        assert found.change.current[0] == found.change.current[1]
        assert not found.cures


def test_filaments_and_leds_on_one_circuit_are_told_of(van: "lk.vehicle.Vehicle") -> None:
    stop = lamp(van, "Stop lamp left")
    for chosen, told in (({stop.name: stop.candidates[0]}, True), ({}, False)):
        found = next(r for r in lk.plan.circuit_reports.report(van, chosen) if r.circuit.name == "stop")
        assert any("share this circuit" in str(words) for words in found.words) == told
    # A tenth less voltage leaves a filament 0.9^3.4 of its light.
    mixed = next(
        r for r in lk.plan.circuit_reports.report(van, {stop.name: stop.candidates[0]}) if r.circuit.name == "stop"
    )
    (said,) = (words for words in mixed.words if isinstance(words, Statement) and words.key == "circuit.mixed")
    assert said.values["filament_light"] == pytest.approx(0.9**3.4)


def test_the_cure_is_not_asked_for_twice(van: "lk.vehicle.Vehicle") -> None:
    chosen = {found.name: found.candidates[0] for found in van.lamps}
    parts = tuple((part, 1) for part in van.parts)
    turn = next(r for r in lk.plan.circuit_reports.report(van, chosen, parts) if r.circuit.name == "turn")
    assert not turn.cures
    assert any("load-independent flasher flashes" in str(words) for words in turn.words)


def test_the_wire_is_that_of_the_rating_at_whatever_voltage(van: "lk.vehicle.Vehicle") -> None:
    """Own calculation with another program, straight wire: 269 ms at 12.0 V against 237 ms at 13.5 V, no lens."""
    stop = dataclasses.replace(lamp(van, "Stop lamp left"), lens=lk.lenses.load("clear"))
    rise = []
    for volts in (12.0, 13.5):
        found = lk.plan.assess_timing(dataclasses.replace(stop, filament=lk.sources.filament("P21W", volts)))
        assert found is not None
        rise.append(found.rise[1])
    assert rise[0] / rise[1] == pytest.approx(269.2 / 237.2, rel=0.02)
    # Red light comes a little sooner than white.
    red = lk.plan.assess_timing(
        dataclasses.replace(stop, filament=lk.sources.filament("P21W", 13.5), lens=lk.lenses.load("red"))
    )
    assert red is not None
    assert 0.9 * rise[1] < red.rise[1] < rise[1]


def test_a_hot_direct_amber_meets_a_phosphor_amber_honestly(van: "lk.vehicle.Vehicle") -> None:
    """Of 640 lm each on 9.5 W the direct one loses more light and drifts past the limit: the phosphor one is taken."""
    made = lk.plan.make(van, draws=400)
    for name in ("Rear turn left", "Front turn left"):
        fitted = made.fitted(name)
        assert fitted is not None and fitted.name == "phosphor amber LED A"
        results = {r.source.name: r for r in made.assessments[[one.name for one in van.lamps].index(name)].results}
        direct, phosphor = results["amber LED A"], results["phosphor amber LED A"]
        assert direct.source.luminous_flux == phosphor.source.luminous_flux
        assert direct.ratio[1] < 0.8 * phosphor.ratio[1] and direct.share_inside < 0.7 < phosphor.share_inside
        # A red margin is what it loses: the drift is towards red.
        cold = lk.light.chromaticity(direct.source.spectrum)
        assert (
            lk.light.dominant_wavelength(direct.chromaticity).wavelength > lk.light.dominant_wavelength(cold).wavelength
        )
