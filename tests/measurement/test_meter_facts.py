"""What a log tells of its meter and its supply, and what that changes: against laws and against what was stated."""

import numpy as np
import pytest

import lampkit as lk
from lampkit.errors import InputError
from lampkit.measurement import colour_response, fair_ratio, measurement_model, meters
from lampkit.measurement.colour_response import mismatch_correction, mismatch_index
from lampkit.measurement.meters import Infrared, MeterKind
from lampkit.uncertainty import sampling

RED = lk.lenses.load("red").transmittance
LED, FILAMENT = lk.sources.coloured_led("red", luminous_flux=1.0).spectrum, lk.sources.filament("P21W").spectrum


def log(old: str = "", new: str = "", heading: str = "", lux: tuple[float, float] = (40.1, 30.3)) -> str:
    return "\n".join(
        [
            f"lamp,source,illuminance_lx,dark_lx,distance_m{heading}",
            f"Stop,filament,{lux[0]},0.1,1.00{old}",
            f"Stop,LED,{lux[1]},0.1,1.00{new}",
        ]
    )


def mismatch(meter: meters.Meter) -> np.ndarray:
    values = sampling.draw({meters.OWNER: meter.beliefs}, 4000, 1).of(meters.OWNER)
    curves, leak = meter.model(values), values["near-infrared leak"]
    new, old = (mismatch_correction(curves, RED * s, leak=leak) for s in (LED, FILAMENT))
    return np.asarray(new / old)


def width(meter: meters.Meter) -> float:
    low, _, high = sampling.interval(mismatch(meter))
    return float(high - low)


def test_a_log_tells_of_its_meter_on_any_line() -> None:
    told = lk.measurement.read_log(
        log(
            heading=",meter_kind,meter_class,infrared,meter_range,supply_V",
            old=",lux meter,B,none,one,13.5",
            new=",,,,,",
        )
    )
    assert told.facts == meters.MeterFacts(MeterKind.LUX_METER, "B", Infrared.NONE, True)
    assert [r.supply for r in told.readings] == [13.5, None]
    assert lk.measurement.read_log(log()).facts == meters.MeterFacts()


@pytest.mark.parametrize(
    ("heading", "old", "new", "message"),
    [
        (",meter_kind", ",phone", ",lux meter", "log of its own"),
        (",meter_kind", ",camera", ",", "phone or lux meter"),
        (",meter_class", ",B", ",", "belongs to a lux meter"),
        (",infrared", ",perhaps", ",", "none or some or not tried"),
        (",meter_range", ",two", ",", "one or auto"),
        (",supply_V", ",230", ",12", "3 V to 60 V"),
    ],
)
def test_bad_facts_are_told(heading: str, old: str, new: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        lk.measurement.read_log(log(old, new, heading))


def test_what_is_told_narrows() -> None:
    unknown, none, some = (meters.phone(infrared=i) for i in ("not_tried", "none", "some"))
    assert width(none) < 0.75 * width(unknown) < width(some)
    by_class = [width(meters.lux_meter(meter_class=one)) for one in "LABC"]
    assert sorted(by_class) == by_class and by_class[-1] < width(meters.lux_meter()) < width(none)


@pytest.mark.parametrize("meter_class", ["A", "B", "C"])
def test_most_meters_of_a_class_keep_its_limit(meter_class: str) -> None:
    lux = meters.lux_meter(meter_class=meter_class)
    values = sampling.draw({meters.OWNER: lux.beliefs}, 4000, 1).of(meters.OWNER)
    index = mismatch_index(lux.model(values), leak=values["near-infrared leak"])
    assert 0.85 < np.mean(100.0 * index <= meters.class_limit(meter_class)) <= 1.0


def test_a_phone_errs_both_ways_in_the_red() -> None:
    low, _, high = sampling.interval(mismatch(meters.phone()))
    assert low < 0.95 and high > 1.15
    # An infrared cut near 650 nm alone makes an LED look 7 % to 13 % brighter than a filament behind red.
    cut = meters.responsivity(cut=650.0)
    reads = mismatch_correction(cut, RED * FILAMENT) / mismatch_correction(cut, RED * LED)
    assert 1.07 <= reads <= 1.13


def test_a_noted_supply_brings_the_light_to_the_running_voltage() -> None:
    """Engine off, 12.3 V: a filament gives (12.3/13.5)^3.4 of its light, a regulated LED all of it: 37 % too kind."""
    said = lk.measurement.read_log(log(",12.3", ",12.3", ",supply_V"))
    plain = lk.measurement.compare_readings(lk.measurement.read_log(log()), feeds={"LED": "regulated"}).ratios[0]
    noted = lk.measurement.compare_readings(said, feeds={"LED": "regulated"}).ratios[0]
    assert plain.ratio[1] / noted.ratio[1] == pytest.approx((13.5 / 12.3) ** 3.4, rel=0.02)
    at_reading = lk.measurement.compare_readings(said, feeds={"LED": "regulated"}, running_voltage=12.3).ratios[0]
    assert at_reading.ratio[1] == pytest.approx(plain.ratio[1], rel=0.02)


def test_a_supply_that_was_not_noted_belongs_to_the_interval() -> None:
    facts = ",lux meter,none,one"
    heading = ",meter_kind,infrared,meter_range"
    light = {("Stop", "filament"): RED * FILAMENT, ("Stop", "LED"): RED * LED}
    unnoted = lk.measurement.read_log(log(facts, facts, heading))
    noted = lk.measurement.read_log(log(facts + ",13.5", facts + ",13.5", heading + ",supply_V"))
    found = [
        fair_ratio.compare_readings(given, light=light, feeds={"LED": "regulated"}, face_diameter=0.05).ratios[0].ratio
        for given in (noted, unnoted)
    ]
    widths = [np.log(r[2] / r[0]) for r in found]
    drift = measurement_model.AFTERNOON[-3].spread / 12.5 * 3.4
    assert widths[1] ** 2 - widths[0] ** 2 == pytest.approx((2 * 1.96 * drift) ** 2, rel=0.25)


def test_without_the_light_the_mismatch_depends_on_the_meter() -> None:
    wide, narrow = (
        colour_response.generic_mismatch(meters.phone()),
        colour_response.generic_mismatch(meters.lux_meter(meter_class="B")),
    )
    assert narrow.spread < 0.25 * wide.spread
    found = [
        lk.measurement.compare_readings(lk.measurement.read_log(log(f",{kind}", ",,", ",meter_kind,meter_class")))
        .ratios[0]
        .ratio
        for kind in ("phone,", "lux meter,B")
    ]
    assert np.log(found[1][2] / found[1][0]) < 0.8 * np.log(found[0][2] / found[0][0])


def test_one_range_is_surer_than_ranges_that_the_meter_chose() -> None:
    afternoon = [b for b in measurement_model.AFTERNOON if b.name != "range step"]
    wide = sampling.set_belief(measurement_model.AFTERNOON, "range step", spread=0.1)
    assert len(afternoon) == len(wide) - 1
    found = [
        lk.measurement.compare_readings(lk.measurement.read_log(log(f",{word}", ",", ",meter_range")), afternoon=wide)
        .ratios[0]
        .ratio
        for word in ("one", "auto")
    ]
    assert np.log(found[0][2] / found[0][0]) < np.log(found[1][2] / found[1][0])
